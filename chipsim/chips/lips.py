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
from ..scene.cutters import slope_at, width_at

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
    folded
        A joint whose arc of lip is shorter than this share of the pitch has no rows: its cell has its length. 0: every
        joint that turns has its own. [-]

    Attributes
    ----------
    cut : the cut, with a vertex wherever its lips bend.
    cells : number of equal cells of the path; one, without a row, if it does not move in the face.
    rows : number of rows of all lips.
    """

    def __init__(self, cut: Cut, pitch: float, folded: float = 0.0) -> None:
        self.cut = bent_at_knees(cut)
        self._step = number("pitch", pitch, low=0.001, high=1000, unit="mm")
        self.cells = max(1, round(self.cut.path.length / self._step))
        if self.cells > _MOST_STATIONS:
            raise DomainError(
                f"pitch must give at most {_MOST_STATIONS} stations, got {self.cells} from {self._step:g} mm"
            )
        moves = self.cut.path.length > 0
        # a fan belongs to the cell that begins at its station, the last ones to the last cell
        self._fans, self._bows = _without_small(_fans(self.cut, self._step), folded * self._step if moves else 0.0)
        self.rows = (self.cells if moves else 0) + int(self._fans.rows.sum())

    def lips(self, first: int, stop: int) -> Lips:
        """Lips of the cells from `first` up to, not including, `stop`, and of the corners and ends among them."""
        cut, path = self.cut, self.cut.path
        edges = path.length * np.arange(first, stop + 1) / self.cells
        station = (edges[:-1] + edges[1:])[: None if path.length > 0 else 0] / 2
        k, ds = path._piece_at(station)
        xy, (_, _, heading, curvature, _, depth, slope) = path._point_on(k, ds), path.pieces[k].T
        depth = depth + slope * ds
        heading = np.radians((np.degrees(heading + curvature * ds) + 180) % 360 - 180)
        steep, half_width = slope_at(cut.knots, depth), width_at(cut.knots, depth)
        m = steep * slope
        lean = np.arcsin(np.clip(m, -1, 1))
        root, bow = np.sqrt(np.clip(1 - m * m, 0, None)), curvature * half_width
        shown = np.column_stack([root - bow, root + bow]) > _TINY
        low = np.searchsorted(self._fans.station, edges[0]) if first > 0 else 0
        high = np.searchsorted(self._fans.station, edges[-1]) if stop < self.cells else len(self._fans.station)
        # one entry a row: which fan it is of, and which of the fan's rows it is
        fans = self._fans
        fan = np.repeat(np.arange(low, high), fans.rows[low:high])
        count = fans.rows[fan]
        place = np.arange(len(fan)) - np.repeat(
            np.cumsum(fans.rows[low:high]) - fans.rows[low:high], fans.rows[low:high]
        )
        part = ((place + 0.5) / count)[:, None]
        wide, turn = fans.width[fan], fans.amount[fan]
        kind = np.concatenate([np.full(len(station), _KINDS.index("run")), fans.kind[fan]])
        station = np.concatenate([station, fans.station[fan]])
        index = np.lexsort((np.arange(len(kind)), _RANKS[kind], station))
        rows = {
            "station": station,
            "kind": np.array(_KINDS, dtype="<U6")[kind],
            "xy": np.concatenate([xy, fans.xy[fan]]),
            "depth": np.concatenate([depth, fans.depth[fan]]),
            "half_width": np.concatenate([half_width, wide]),
            "flank_lean": np.degrees(np.arctan(np.concatenate([steep, slope_at(cut.knots, fans.depth)[fan]]))),
            "outward": np.concatenate(
                [
                    np.column_stack([heading + np.pi / 2 + lean, heading - np.pi / 2 - lean]),
                    fans.begin[fan] + np.array([-1.0, 1.0]) * turn * part,
                ]
            ),
            "exists": np.concatenate(
                [shown & (np.abs(m) < 1)[:, None] & (half_width > _TINY)[:, None], fans.amount[fan] > 0]
            ),
            "lip_length": np.concatenate([self._lengths(edges)[: len(xy)], wide[:, None] * turn / count[:, None]]),
        }
        rows = {key: value[index] for key, value in rows.items()}
        out = rows["outward"]
        normal = np.stack([np.cos(out), np.sin(out)], axis=-1)
        lip_xy = rows["xy"][:, None, :] + rows["half_width"][:, None, None] * normal
        absent = ~rows["exists"]
        lip_xy[absent], out[absent] = np.nan, np.nan
        rows["lip_length"][absent] = 0.0
        rows["outward"] = (np.degrees(out) + 180) % 360 - 180
        return Lips(lip_xy=lip_xy, **rows)

    def _lengths(self, edges: FloatArray) -> FloatArray:
        """Length of either lip carried by each cell, (cells, 2), that of folded joints with it. [mm]"""
        out, bows = _cell_lengths(self.cut, edges), self._bows
        low, high = np.searchsorted(bows.station, (edges[0], edges[-1]))
        if high > low:
            cell = np.clip(np.searchsorted(edges, bows.station[low:high], side="right") - 1, 0, len(out) - 1)
            for side in range(2):
                arc = bows.amount[low:high, side] * bows.width[low:high]
                out[:, side] += np.bincount(cell, arc, len(out))
        return out


def bent_at_knees(cut: Cut) -> Cut:
    """The same cut with a vertex wherever a ramp brings the face to a bend of the outline: the lip bends there."""
    heights, radii = cut.knots
    lean = np.arctan(np.append(np.diff(radii) / np.diff(heights), 0.0))
    # a curve sampled finely has knots by the thousand and no bend worth a vertex: 0.01 rad is half a degree
    knees = heights[1:][np.abs(np.diff(lean)) > 0.01]
    deep, path = cut.path.depth, cut.path
    knees = knees[(knees > deep.min()) & (knees < deep.max())]
    if not knees.size:
        return cut
    depth, slope, length = path.pieces[:, 5], path.pieces[:, 6], path.pieces[:, 4]
    sloping = np.flatnonzero(slope)
    at = np.sort((knees - depth[sloping, None]) / slope[sloping, None], axis=1)
    span = length[sloping, None]
    inside = (at > 1e-9 * span) & (at < (1 - 1e-9) * span)
    piece = np.repeat(sloping, inside.sum(axis=1))
    return replace(cut._split_at(piece, at[inside]), passes=None) if piece.size else cut


def _cell_lengths(cut: Cut, edges: FloatArray) -> FloatArray:
    """Length of either lip carried by each cell, (cells, 2): exact on level lines and arcs and on straight ramps."""
    path = cut.path
    inside = path.joints[np.searchsorted(path.joints, edges[0]) : np.searchsorted(path.joints, edges[-1], "right")]
    bounds = np.unique(np.concatenate([edges, inside]))
    bounds = bounds[np.concatenate([[True], np.diff(bounds) > 1e-12])]
    mid, span = (bounds[:-1] + bounds[1:]) / 2, np.diff(bounds)
    k, ds = path._piece_at(mid)
    _, _, _, curvature, _, depth, slope = path.pieces[k].T
    depth = depth + slope * ds
    m = np.clip(slope_at(cut.knots, depth) * slope, -1, 1)
    root, bow = np.sqrt(1 - m * m), curvature * width_at(cut.knots, depth)
    cell, cells = np.clip(np.searchsorted(edges, mid) - 1, 0, len(edges) - 2), len(edges) - 1
    each = (np.bincount(cell, np.maximum(root + sign * bow, 0) * span, cells) for sign in (-1.0, 1.0))
    return np.column_stack(list(each))


_KINDS = ("start", "run", "corner", "dot", "end")

_RANKS = np.array([0, 1, 1, 1, 2])
"""Order of what has one station: the start before all, the end behind all."""


@dataclass(frozen=True)
class _Fans:
    """Rows that turn about vertices, an entry a vertex: left from begin[0] clockwise by amount[0], right the other way.

    kind and rows (f,), kind counted in `_KINDS`; station, depth, width (f,), xy (f, 2) [mm]; begin, amount (f, 2) [rad]
    """

    station: FloatArray
    kind: np.ndarray
    xy: FloatArray
    depth: FloatArray
    begin: FloatArray
    amount: FloatArray
    width: FloatArray
    rows: np.ndarray


class _Bends:
    """Headings and backward leans of the lip normal at the start and the end of every piece, and what turns there."""

    def __init__(self, cut: Cut) -> None:
        self.path, self.pieces = cut.path, cut.path.pieces
        self.xy, self.n = self.pieces[:, :2], len(cut.path.xy)
        _, _, heading, curvature, length, self.depth, self.slope = self.pieces.T
        # the flank's slope just inside either end of the piece
        inside = 1e-9 * length * self.slope
        m0 = slope_at(cut.knots, self.depth + inside) * self.slope
        m1 = slope_at(cut.knots, self.depth + self.slope * length - inside) * self.slope
        self.first, self.last = heading, heading + curvature * length
        self.lean0, self.lean1 = np.arcsin(np.clip(m0, -1, 1)), np.arcsin(np.clip(m1, -1, 1))
        self.moving = np.flatnonzero(length > 0)

    def starts(self, piece: np.ndarray) -> tuple[FloatArray, ...]:
        """Places, depths, begins and amounts round the starts of pieces, behind them."""
        begin = np.column_stack([self.first[piece] + np.pi] * 2)
        amount = np.column_stack([np.pi / 2 - self.lean0[piece]] * 2)
        return self.xy[piece], _just_inside(self.depth[piece], self.slope[piece]), begin, amount

    def ends(self, piece: np.ndarray) -> tuple[FloatArray, ...]:
        """The same round the ends of pieces, ahead of them."""
        vertex = (piece + 1) % self.n
        amount = np.column_stack([np.pi / 2 + self.lean1[piece]] * 2)
        depth = _just_inside(self.path.depth[vertex], -self.slope[piece])
        return self.path.xy[vertex], depth, self.arrival(piece), amount

    def dots(self, vertex: np.ndarray, depth: FloatArray, heading: FloatArray) -> tuple[FloatArray, ...]:
        """The circles round places where the tool goes straight down and up: from behind it ahead, half on either side.

        `heading` is that of the piece beside it. [rad]
        """
        begin = np.column_stack([heading + np.pi] * 2)
        return self.path.xy[vertex], depth, begin, np.full((len(vertex), 2), np.pi)

    def arrival(self, piece: np.ndarray) -> FloatArray:
        """Outward normals of both lips at the ends of pieces, (k, 2). [rad]"""
        last, lean = self.last[piece], self.lean1[piece]
        return np.column_stack([last + np.pi / 2 + lean, last - np.pi / 2 - lean])


def _fans(cut: Cut, pitch: float) -> _Fans:
    """All that turns: at corners, between strokes where the tool goes straight down or up, round ends of open paths."""
    bends, path = _Bends(cut), cut.path
    closed = path.closed and path.length > 0
    found = [*_corners(bends), *([] if closed else _ends(bends))]
    order, station, kind, xy, depth, begin, amount = (np.concatenate(column) for column in zip(*found, strict=True))
    width = width_at(cut.knots, depth)
    amount = np.where(amount * width[:, None] > 1e-7, amount, 0.0)
    most = amount.max(axis=1)
    rows = np.maximum(1, np.ceil(width * most / pitch)).astype(np.int64)
    keep = np.flatnonzero(most > 0)
    keep = keep[np.lexsort((order[keep], station[keep]))]
    return _Fans(*(column[keep] for column in (station, kind, xy, depth, begin, amount, width, rows)))


def _without_small(fans: _Fans, least: float) -> tuple[_Fans, _Fans]:
    """Fans but for those of joints whose arc is shorter than `least` [mm], and these."""
    small = (fans.kind == _KINDS.index("corner")) & (fans.amount.max(axis=1) * fans.width < least)
    parts = ([getattr(fans, f)[which] for f in _Fans.__dataclass_fields__] for which in (~small, small))
    kept, bows = (_Fans(*part) for part in parts)
    return kept, bows


_Found = tuple[np.ndarray, ...]
"""Order among those of one station, station, kind, place, depth, begin and amount of some fans."""


def _found(order: np.ndarray, station: FloatArray, kind: str, what: tuple[FloatArray, ...]) -> _Found:
    return order, station, np.full(len(order), _KINDS.index(kind)), *what


def _corners(bends: _Bends) -> list[_Found]:
    """Where the path turns, and where between two strokes the tool goes straight down or up."""
    path, pieces, moving, n = bends.path, len(bends.pieces), bends.moving, bends.n
    before, after = moving if path.closed else moving[:-1], np.roll(moving, -1) if path.closed else moving[1:]
    turn = (bends.first[after] - bends.last[before] + np.pi) % (2 * np.pi) - np.pi
    amount = np.column_stack([-turn, turn]) + (bends.lean1[before] - bends.lean0[after])[:, None]
    station, between = path.joints[before + 1], (after - before - 1) % pieces
    plain = (amount > 1e-6).any(axis=1) & (between == 0)
    found = []
    upright = np.flatnonzero(between)
    if upright.size:
        # vertices of each chain of vertical pieces: its first, how many, and the deepest
        i, j, along = before[upright], after[upright], between[upright]
        low = (i + 1) % n
        deep = np.append(np.tile(path.depth, 2), 0.0)
        deepest = np.maximum.reduceat(deep, np.column_stack([low, low + along + 1]).reshape(-1))[::2]
        left, met = path.depth[low], path.depth[(low + along) % n]
        dot = deepest > np.maximum(left, met) + _TINY
        # the wider of the two grooves ends here
        steps = ~dot & (np.abs(left - met) > _TINY)
        for kind, which, what in (
            ("dot", dot, bends.dots(j[dot], deepest[dot], bends.last[i[dot]])),
            ("start", steps & (met > left), bends.starts(j[steps & (met > left)])),
            ("end", steps & (met <= left), bends.ends(i[steps & (met <= left)])),
        ):
            found.append(_found(upright[which], station[upright[which]], kind, what))
        plain[upright] = ~dot & ~steps
    k = np.flatnonzero(plain)
    i, j = before[k], after[k]
    depth = _just_inside(bends.depth[j], np.maximum(bends.slope[j], -bends.slope[i]))
    what = (bends.xy[j], depth, bends.arrival(i), np.clip(amount[k], 0, None))
    return [*found, _found(k, station[k], "corner", what)]


def _just_inside(depth: FloatArray, slope: FloatArray) -> FloatArray:
    """Depth of an end, or where a ramp leaves the face just below it: there a flat tip already cuts its full width."""
    return np.where((depth == 0) & (slope > 0), 1e-9, depth)


def _ends(bends: _Bends) -> list[_Found]:
    """Round the ends of an open path, deepest places of plunges there; all of a path that only goes down and up."""
    path, moving = bends.path, bends.moving
    if not moving.size:
        deepest = np.array([path.depth.max()])
        return [_found(np.zeros(1), np.zeros(1), "dot", bends.dots(np.zeros(1, int), deepest, np.zeros(1)))]
    first, last, found = int(moving[0]), int(moving[-1]), []
    for kind, piece, vertex, chain, station in (
        ("start", first, 0, path.depth[first::-1], 0.0),
        ("end", last, len(path.xy) - 1, path.depth[last + 1 :], path.length),
    ):
        at, where = np.array([len(moving)]), np.array([station])
        if chain.max() > chain[0] + _TINY:
            what = bends.dots(np.array([vertex]), np.array([chain.max()]), bends.first[[piece]])
            found.append(_found(at, where, "dot", what))
        else:
            round_it = bends.starts if kind == "start" else bends.ends
            found.append(_found(at, where, kind, round_it(np.array([piece]))))
    return found
