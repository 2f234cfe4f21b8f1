r"""Where the two lips of a groove lie: stations along the path, lip points, directions and lengths.

::

        left lip        outward normal of the lip, azimuth `outward`
    ------^----------
          |     path -->        clockwise spindle: left = entry (conventional), right = exit (climb)
    ------v----------
        right lip

Where the depth varies the lip is not parallel to the path: with m = dr/dh dz/ds its outward normal leans back by
asin m, and a length ds of path carries (sqrt(1 - m^2) -+ curvature r) ds of lip (left -, right +).
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from .._shared.arrays import FloatArray, number
from ..errors import DomainError
from ..scene.cuts import Cut

__all__ = ["LipPlan", "Lips", "bent_at_knees", "lay_out_lips"]

_TINY = 1e-9
_MOST_STATIONS = 50_000_000


@dataclass(frozen=True, eq=False)
class Lips:
    """Lip points of a cut, one row a station and side (left, right) on axis 1; see `lay_out_lips`.

    Attributes
    ----------
    station : (n,) arc length of the station. [mm]
    kind : (n,) 'run', 'corner', 'start', 'end' or 'dot': along the path, turning about a vertex, round the start or end
        of a stroke, all round a place where the tool only goes down (and up): its lip is a circle, held by the left
        side alone.
    xy : (n, 2) axis of the tool. [mm]
    depth, half_width : (n,) of the groove at the station. [mm]
    flank_lean : (n,) lean of the wall from the vertical just below the face, a. [deg]
    lip_xy : (n, 2, 2) lip points. [mm]
    outward : (n, 2) azimuth of the lip's normal, from the groove into the remaining wood, in [-180, 180). [deg]
    lip_length : (n, 2) length of lip each stands for. [mm]
    exists : (n, 2) False where that side has no lip: inside a corner or a curve tighter than the half-width,
        where there is no groove yet, or (after `surviving`) where another part of the groove removes it.
    """

    station: FloatArray
    kind: np.ndarray
    xy: FloatArray
    depth: FloatArray
    half_width: FloatArray
    flank_lean: FloatArray
    lip_xy: FloatArray
    outward: FloatArray
    lip_length: FloatArray
    exists: np.ndarray

    def __len__(self) -> int:
        return len(self.station)

    @property
    def heading(self) -> FloatArray:
        """(n, 2) direction of travel along each lip: the outward normal turned by -90 (left) or +90. [deg]"""
        return np.asarray((self.outward + [-90.0, 90.0] + 180.0) % 360.0 - 180.0)


def lay_out_lips(cut: Cut, pitch: float) -> Lips:
    """Divide the path into equal cells of about `pitch` and place both lips at their midpoints.

    Corners and open ends add rows at the station of their vertex, turning about it on the side (or sides) where the
    lip goes round; the other side does not exist there. Where the path goes straight down or up they turn about its
    deepest place: a stroke that is plunged into has its half circle, a place where the tool goes deeper than on either
    side, and so a path of one place, a full one. A descent of the flank's own slope or more (m = tan(lean) dd/ds >= 1)
    has a lip only at its deeper end.

    Parameters
    ----------
    cut
        The cut.
    pitch
        Wanted length of a cell, in [0.001, 1000]. [mm]

    Raises
    ------
    DomainError
        If the pitch is out of range or gives more than fifty million stations.
    """
    plan = LipPlan(cut, pitch)
    return plan.lips(0, plan.cells)


class LipPlan:
    """Where the lips of a cut will lie, known before they are laid out: to lay them out in parts.

    Parameters
    ----------
    cut, pitch
        As of `lay_out_lips`.

    Attributes
    ----------
    cut : the cut, with a vertex wherever its lips bend.
    cells : number of equal cells of the path; one, without a row, if it does not move in the face.
    rows : number of rows of all lips.
    """

    def __init__(self, cut: Cut, pitch: float) -> None:
        self.cut = bent_at_knees(cut)
        self._step = number("pitch", pitch, low=0.001, high=1000, unit="mm")
        self.cells = max(1, round(self.cut.path.length / self._step))
        if self.cells > _MOST_STATIONS:
            raise DomainError(
                f"pitch must give at most {_MOST_STATIONS} stations, got {self.cells} from {self._step:g} mm"
            )
        moves = self.cut.path.length > 0
        closed = self.cut.path.closed and moves
        fans = [*_corners(self.cut, self._step), *([] if closed else _ends(self.cut, self._step))]
        # a fan belongs to the cell that begins at its station, the last ones to the last cell
        fans.sort(key=lambda fan: fan.station)
        self._fans = fans
        self._fan_stations = np.array([fan.station for fan in fans])
        self.rows = (self.cells if moves else 0) + sum(fan.rows for fan in fans)

    def lips(self, first: int, stop: int) -> Lips:
        """Lips of the cells from `first` up to, not including, `stop`, and of the corners and ends among them."""
        cut, path = self.cut, self.cut.path
        edges = path.length * np.arange(first, stop + 1) / self.cells
        station = (edges[:-1] + edges[1:])[: None if path.length > 0 else 0] / 2
        xy, depth = path.position(station), path.depth_at(station)
        heading, slope = np.radians(path.heading(station)), _slope_at(path, station)
        runs = _rows(cut, station, "run", xy, depth)
        m = cut.flank_slope(depth) * slope
        lean = np.arcsin(np.clip(m, -1, 1))
        runs["outward"] = np.column_stack([heading + np.pi / 2 + lean, heading - np.pi / 2 - lean])
        root, bow = np.sqrt(np.clip(1 - m * m, 0, None)), path.curvature(station) * runs["half_width"]
        shown = np.column_stack([root - bow, root + bow]) > _TINY
        runs["exists"] = shown & (np.abs(m) < 1)[:, None] & (runs["half_width"] > _TINY)[:, None]
        runs["lip_length"] = _cell_lengths(cut, edges)[: len(station)]
        low = np.searchsorted(self._fan_stations, edges[0]) if first > 0 else 0
        high = np.searchsorted(self._fan_stations, edges[-1]) if stop < self.cells else len(self._fans)
        parts = [runs, *(fan.lay_out(cut) for fan in self._fans[int(low) : int(high)])]
        order = np.concatenate([np.full(len(p["station"]), p["rank"]) for p in parts])
        rows = {key: np.concatenate([p[key] for p in parts]) for key in runs if key != "rank"}
        index = np.lexsort((np.arange(len(order)), order, rows["station"]))
        rows = {key: value[index] for key, value in rows.items()}
        out = rows["outward"]
        normal = np.stack([np.cos(out), np.sin(out)], axis=-1)
        lip_xy = rows["xy"][:, None, :] + rows["half_width"][:, None, None] * normal
        absent = ~rows["exists"]
        lip_xy[absent], out[absent] = np.nan, np.nan
        rows["lip_length"][absent] = 0.0
        rows["outward"] = (np.degrees(out) + 180) % 360 - 180
        return Lips(lip_xy=lip_xy, **rows)


def bent_at_knees(cut: Cut) -> Cut:
    """The same cut with a vertex wherever a ramp brings the face to a bend of the outline: the lip bends there."""
    heights, radii = cut.knots
    lean = np.arctan(np.append(np.diff(radii) / np.diff(heights), 0.0))
    # a curve sampled finely has knots by the thousand and no bend worth a vertex: 0.01 rad is half a degree
    knees = heights[1:][np.abs(np.diff(lean)) > 0.01]
    depth, slope, length = cut.path.pieces[:, 5], cut.path.pieces[:, 6], cut.path.pieces[:, 4]
    if not slope.any():
        return cut
    inside = []
    for d, m, span in zip(depth, slope, length, strict=True):
        at = np.sort((knees - d) / m) if m else np.empty(0)
        inside.append(at[(at > 1e-9 * span) & (at < (1 - 1e-9) * span)])
    return replace(cut.split(inside), passes=None) if any(map(len, inside)) else cut


def _rows(cut: Cut, station: FloatArray, kind: str, xy: FloatArray, depth: FloatArray) -> dict[str, np.ndarray]:
    return {
        "station": station,
        "kind": np.full(len(station), kind, dtype="<U6"),
        "xy": xy,
        "depth": depth,
        "half_width": cut.half_width(depth),
        "flank_lean": np.degrees(np.arctan(cut.flank_slope(depth))),
        "rank": {"start": 0, "run": 1, "corner": 1, "dot": 1, "end": 2}[kind],  # type: ignore[dict-item]
    }


def _slope_at(path: object, station: FloatArray) -> FloatArray:
    pieces, joints = path.pieces, path.joints  # type: ignore[attr-defined]
    k = np.clip(np.searchsorted(joints, station, side="right") - 1, 0, len(pieces) - 1)
    return np.asarray(pieces[k, 6])


def _cell_lengths(cut: Cut, edges: FloatArray) -> FloatArray:
    """Length of either lip carried by each cell, (cells, 2): exact on level lines and arcs and on straight ramps."""
    path = cut.path
    inside = path.joints[np.searchsorted(path.joints, edges[0]) : np.searchsorted(path.joints, edges[-1], "right")]
    bounds = np.unique(np.concatenate([edges, inside]))
    bounds = bounds[np.concatenate([[True], np.diff(bounds) > 1e-12])]
    mid, ds = (bounds[:-1] + bounds[1:]) / 2, np.diff(bounds)
    depth = path.depth_at(mid)
    m = np.clip(cut.flank_slope(depth) * _slope_at(path, mid), -1, 1)
    root, bow = np.sqrt(1 - m * m), path.curvature(mid) * cut.half_width(depth)
    lengths = np.zeros((len(edges) - 1, 2))
    cell = np.clip(np.searchsorted(edges, mid) - 1, 0, len(edges) - 2)
    for side, sign in ((0, -1.0), (1, 1.0)):
        np.add.at(lengths[:, side], cell, np.clip(root + sign * bow, 0, None) * ds)
    return lengths


@dataclass(frozen=True)
class _Fan:
    """Rows that turn about one vertex: left from begin[0] clockwise by amount[0], right the other way. [rad]"""

    station: float
    kind: str
    xy: FloatArray
    depth: float
    begin: FloatArray
    amount: FloatArray
    width: float
    rows: int

    def lay_out(self, cut: Cut) -> dict[str, np.ndarray]:
        n = self.rows
        rows = _rows(cut, np.full(n, self.station), self.kind, np.tile(self.xy, (n, 1)), np.full(n, self.depth))
        part = (np.arange(n) + 0.5)[:, None] / n
        rows["outward"] = self.begin + np.array([-1.0, 1.0]) * self.amount * part
        rows["exists"] = np.tile(self.amount > 0, (n, 1))
        rows["lip_length"] = np.tile(self.width * self.amount / n, (n, 1))
        return rows


def _fan(
    cut: Cut,
    pitch: float,
    station: float,
    kind: str,
    xy: FloatArray,
    depth: float,
    begin: FloatArray,
    amount: FloatArray,
) -> list[_Fan]:
    """One fan, or none if it has no length."""
    width = float(cut.half_width(np.asarray(depth)))
    amount = np.where(amount * width > 1e-7, amount, 0.0)
    if not amount.any():
        return []
    n = max(1, int(np.ceil(width * amount.max() / pitch)))
    return [_Fan(station, kind, xy, depth, begin, amount, width, n)]


def _leans(cut: Cut) -> tuple[FloatArray, FloatArray, FloatArray, FloatArray]:
    """Headings and backward leans of the lip normal at the start and the end of every piece. [rad]"""
    _, _, heading, curvature, length, depth, slope = cut.path.pieces.T
    # the flank's slope just inside either end of the piece
    inside = 1e-9 * length * slope
    m0 = cut.flank_slope(depth + inside) * slope
    m1 = cut.flank_slope(depth + slope * length - inside) * slope
    return heading, heading + curvature * length, np.arcsin(np.clip(m0, -1, 1)), np.arcsin(np.clip(m1, -1, 1))


def _corners(cut: Cut, pitch: float) -> list[_Fan]:
    """Where the path turns, and where between two strokes the tool goes straight down or up."""
    path, pieces = cut.path, cut.path.pieces
    first, last, lean0, lean1 = _leans(cut)
    moving = np.flatnonzero(pieces[:, 4] > 0)
    before, after = moving if path.closed else moving[:-1], np.roll(moving, -1) if path.closed else moving[1:]
    turn = (first[after] - last[before] + np.pi) % (2 * np.pi) - np.pi
    amount = np.column_stack([-turn, turn]) + (lean1[before] - lean0[after])[:, None]
    n = len(path.xy)
    upright = (after - before - 1) % len(pieces) > 0
    rows: list[_Fan] = []
    for k in np.flatnonzero((amount > 1e-6).any(axis=1) | upright):
        i, j = before[k], after[k]
        station = float(path.joints[i + 1])
        if upright[k]:
            chain = path.depth[(i + 1 + np.arange((j - i - 1) % len(pieces) + 1)) % n]
            deepest, left, met = float(chain.max()), float(chain[0]), float(chain[-1])
            if deepest > max(left, met) + _TINY:
                rows += _dot(cut, pitch, station, path.xy[j], deepest, float(last[i]))
                continue
            if abs(left - met) > _TINY:  # the wider of the two grooves ends here
                rows += _start_fan(cut, pitch, j, station) if met > left else _end_fan(cut, pitch, i, station)
                continue
        begin = np.array([last[i] + np.pi / 2 + lean1[i], last[i] - np.pi / 2 - lean1[i]])
        deeper = max(float(pieces[j, 6]), -float(pieces[i, 6]))
        rows += _fan(
            cut,
            pitch,
            station,
            "corner",
            pieces[j, :2].copy(),
            _just_inside(float(pieces[j, 5]), deeper),
            begin,
            np.clip(amount[k], 0, None),
        )
    return rows


def _just_inside(depth: float, slope: float) -> float:
    """Depth of an end, or where a ramp leaves the face just below it: there a flat tip already cuts its full width."""
    return 1e-9 if depth == 0 and slope > 0 else depth


def _ends(cut: Cut, pitch: float) -> list[_Fan]:
    """Round the ends of an open path, deepest places of plunges there; all of a path that only goes down and up."""
    path = cut.path
    moving = np.flatnonzero(path.pieces[:, 4] > 0)
    if not moving.size:
        return _dot(cut, pitch, 0.0, path.xy[0], float(path.depth.max()), 0.0)
    first, last = int(moving[0]), int(moving[-1])
    rows = []
    for piece, chain, fan, station in (
        (first, path.depth[first::-1], _start_fan, 0.0),
        (last, path.depth[last + 1 :], _end_fan, path.length),
    ):
        if chain.max() > chain[0] + _TINY:
            vertex = 0 if fan is _start_fan else -1
            rows += _dot(cut, pitch, station, path.xy[vertex], float(chain.max()), float(path.pieces[piece, 2]))
        else:
            rows += fan(cut, pitch, piece, station)
    return rows


def _dot(cut: Cut, pitch: float, station: float, xy: FloatArray, depth: float, heading: float) -> list[_Fan]:
    """The circle round a place where the tool goes straight down and up: from behind it ahead, half on either side."""
    around, amount = np.full(2, heading + np.pi), np.full(2, np.pi)
    return _fan(cut, pitch, station, "dot", xy, depth, around, amount)


def _start_fan(cut: Cut, pitch: float, piece: int, station: float) -> list[_Fan]:
    """Round the start of a piece, behind it."""
    x, y, heading, _, _, depth, slope = cut.path.pieces[piece]
    lean = _leans(cut)[2][piece]
    begin, amount = np.full(2, heading + np.pi), np.full(2, np.pi / 2 - lean)
    return _fan(cut, pitch, station, "start", np.array([x, y]), _just_inside(float(depth), float(slope)), begin, amount)


def _end_fan(cut: Cut, pitch: float, piece: int, station: float) -> list[_Fan]:
    """Round the end of a piece, ahead of it."""
    path, vertex = cut.path, (piece + 1) % len(cut.path.xy)
    _, last, _, leans = _leans(cut)
    heading, lean = last[piece], leans[piece]
    begin = np.array([heading + np.pi / 2 + lean, heading - np.pi / 2 - lean])
    depth = _just_inside(float(path.depth[vertex]), -float(path.pieces[piece, 6]))
    return _fan(cut, pitch, station, "end", path.xy[vertex], depth, begin, np.full(2, np.pi / 2 + lean))
