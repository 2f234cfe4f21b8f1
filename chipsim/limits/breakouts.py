"""Breakouts: corners where a lip runs out of the wood."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from scipy.spatial import cKDTree

from .._shared.arrays import FloatArray, number
from .._shared.tables import Columns, Rows
from ..scene.cuts import Carving, Cut
from ..scene.grain import Board, fibre_axis
from ..units import folded, length_text, table_text
from .lip_points import (
    ALONG,
    EDGES,
    SIDES,
    EdgeCurve,
    LipPoints,
    checked_arguments,
    inside_groove,
    lip_points,
    place_text,
    rounded,
    xy_text,
)

__all__ = ["Breakout", "Breakouts", "breakouts"]


@dataclass(frozen=True)
class Breakout:
    """A place where a lip ends in a corner of wood, made by `breakouts`.

    Attributes
    ----------
    xy : the corner. [mm]
    groove, side, station : the lip that ends there: index of its cut, from 0, 'left' or 'right', arc length. [mm]
    into : what it runs into, 'groove 2' (counted from 1), 'its own path' or 'the left edge of the board'
        ('right', 'front', 'back' likewise).
    angle : of the wood's corner in the face, seen between the two edges, in (0, 180). [deg]
    exits : whether the teeth at this lip move out of the wood there, into a void that is there when they pass: the
        fibres have nothing behind them. False too where the other groove comes later.
    fibre_length : of the fibres cut off at both ends that stand `reach` behind the corner; inf where the fibres are
        held at one end. [mm]
    """

    xy: tuple[float, float]
    groove: int
    side: str
    station: float
    into: str
    angle: float
    exits: bool
    fibre_length: float

    def __repr__(self) -> str:
        return f"<Breakout of groove {self.groove + 1}, {self.side} lip, into {self.into[:40]}>"

    def __str__(self) -> str:
        held = (
            f"short fibres, {length_text(self.fibre_length)}"
            if math.isfinite(self.fibre_length)
            else "fibres held at one end"
        )
        out = "teeth move out of the wood" if self.exits else "teeth do not move out of the wood"
        return (
            f"groove {self.groove + 1}, {self.side} lip at ({place_text(self.xy)}) mm into {self.into}: "
            f"corner of {self.angle:.0f} deg, {held}, {out}"
        )


@dataclass(frozen=True, repr=False)
class Breakouts(Rows[Breakout]):
    """Corners where a lip runs out of the wood, made by `breakouts`: a sequence of `Breakout`. Print it for the table.

    Its table counts grooves from 1.
    """

    rows: tuple[Breakout, ...] = ()

    def __repr__(self) -> str:
        return f"<Breakouts: {len(self)} corners, at {sum(b.exits for b in self.rows)} the teeth move out of the wood>"

    def __str__(self) -> str:
        if not self.rows:
            return "No lip runs out of the wood."
        many = sum(b.exits for b in self.rows)
        count = f"{len(self.rows)} corner{'s' if len(self.rows) > 1 else ''} where a lip runs out of the wood"
        answer = f"At {many or 'none'} of {count} the teeth move out of the wood."
        if len(self.rows) == 1:
            do = "do" if many else "do not"
            answer = f"There is one corner where a lip runs out of the wood; the teeth {do} move out."
        cells: list[tuple[str, ...]] = [("", "lip ends at x, y", "groove", "lip", "into", "corner", "short fibres")]
        for b in self.rows:
            short = length_text(b.fibre_length) if math.isfinite(b.fibre_length) else "none"
            out = "teeth move out" if b.exits else ""
            corner = f"{b.angle:.0f} deg"
            cells.append((out, place_text(b.xy), str(b.groove + 1), b.side, b.into, corner, short))
        note = "Where teeth move out of the wood its fibres have nothing behind them. Short ones are cut at both ends."
        return "\n".join([*folded(answer), "", table_text(cells), *folded(note)])

    def _columns(self) -> Columns:
        rows = self.rows
        return {
            "x [mm]": [b.xy[0] for b in rows],
            "y [mm]": [b.xy[1] for b in rows],
            "groove": [b.groove + 1 for b in rows],
            "side": [b.side for b in rows],
            "station [mm]": [b.station for b in rows],
            "into": [b.into for b in rows],
            "angle [deg]": [b.angle for b in rows],
            "exits": [b.exits for b in rows],
            "fibre_length [mm]": [b.fibre_length for b in rows],
        }


def breakouts(
    carving: Carving | Cut, board: Board, *, pitch: float = 0.25, reach: float = 0.5, blunt: float = 150.0
) -> Breakouts:
    """Corners of wood where a lip runs into another groove, another part of its path, or out of the board.

    Parameters
    ----------
    carving
        A `Carving`, or a single `Cut`.
    board
        Wood and grain. Where its extent is not known nothing is said about its edges.
    pitch
        Spacing of the lip points; corners do not depend on it, but what is smaller may be missed. [mm]
    reach
        How far behind the corner the fibres stand whose length is given, in (0, 50]. [mm]
    blunt
        Corners of this angle or more are none, in (0, 180]. [deg]

    Returns
    -------
    Breakouts
        A sequence of `Breakout`, which prints as a table: one a lip that ends, so two at a corner between two grooves;
        those where the teeth move out of the wood first, then by the length of the fibres.

    Raises
    ------
    DomainError
        If an argument is of the wrong kind or out of range.

    Notes
    -----
    The wood's corner is what lies beyond both edges, pi - psi, with psi between their normals. A fibre a distance m =
    reach sin(angle / 2) from either edge is cut off at both ends if it runs against the normals with opposite signs;
    its length is then `m / |g.n1| + m / |g.n2|`, as it runs in the face.

    Examples
    --------
    >>> import chipsim as cs
    >>> bit, board = cs.VBit(90, 12.7, 2), cs.Board(cs.wood("black cherry"), cs.straight_grain(azimuth=20))
    >>> strokes = [cs.line((0, 0), (30, 0), 2), cs.line((15, -15), (15, 15), 2)]
    >>> cross = cs.Carving(tuple(cs.Cut(bit, path, 18_000, 1500) for path in strokes))
    >>> corners = cs.breakouts(cross, board)  # four corners of wood, in each of which two lips end
    >>> len(corners), f"{corners[0].angle:.1f} deg"
    (8, '90.0 deg')
    """
    job, board, step = checked_arguments(carving, board, pitch)
    back = number("reach", reach, low=0, high=50, unit="mm", open_low=True)
    most = number("blunt", blunt, low=0, high=180, unit="deg", open_low=True)
    points = lip_points(job, step)
    if not len(points):
        return Breakouts()
    found = [*_corners(points, job, board), *_edge_corners(points, board)]
    out = []
    for i, way, s, xy, normal, into, void in found:
        curve, cut = points.curve(i), job.cuts[points.groove[i]]
        own = curve.out(s)
        cross = abs(float(own[0] * normal[1] - own[1] * normal[0]))
        angle = 180.0 - math.degrees(math.atan2(cross, float(own @ normal)))
        if angle >= most:
            continue
        side = int(points.side[i])
        forwards = (side == 0) == (cut.spin == "cw")  # of the teeth at this lip, along the path
        fibre = fibre_axis(board.grain.at(xy)[0])[:2]
        share = [float(fibre @ n) for n in (own, normal)]
        m = back * math.sin(math.radians(angle / 2))
        short = share[0] * share[1] < 0 and min(map(abs, share)) > ALONG
        out.append(
            Breakout(
                xy=xy_text(xy),
                groove=int(points.groove[i]),
                side=SIDES[side],
                station=float(points.station[i]),
                into=into,
                angle=angle,
                exits=bool(void and forwards == (way > 0)),
                fibre_length=m / abs(share[0]) + m / abs(share[1]) if short else math.inf,
            )
        )
    out.sort(key=lambda b: (not b.exits, rounded(b.fibre_length), *map(rounded, b.xy), b.side, rounded(b.station)))
    return Breakouts(tuple(out))


_Corner = tuple[int, float, float, FloatArray, FloatArray, str, bool]
"""Row of the lip, +1 if it ends ahead or -1 behind, arc length from its point to the corner, the corner, the normal of
what it runs into there, its name, and whether it is there when the teeth pass."""


def _corners(points: LipPoints, job: Carving, board: Board) -> list[_Corner]:
    """Where lips run into other lips."""
    tree = cKDTree(points.xy)
    largest = float(points.length.max())
    inside = inside_groove(points.xy, board.extent)
    out: list[_Corner] = []
    for i, end in zip(*np.nonzero(points.ends & inside[:, None]), strict=True):
        way = 1.0 if end else -1.0
        one, size = points.curve(i), float(points.length[i])
        best: tuple[float, int, float] | None = None
        for j in tree.query_ball_point(points.xy[i], 1.6 * size + 1.1 * largest):
            if j == i or way * float(one.ahead @ points.normal[j]) >= -1e-6:
                continue  # not into that groove
            hit = _meet(one, points.curve(j))
            if hit is None or abs(hit[1]) > 1.1 * points.length[j]:
                continue
            far = way * hit[0]
            if -0.1 * size <= far <= 1.6 * size and (best is None or far < best[0] - 1e-9):
                best = (far, int(j), hit[1])
        if best is None:
            continue
        far, j, t = best
        xy = points.curve(j).point(t)
        if not inside_groove(xy[None], board.extent)[0]:
            continue
        mine, other = int(points.groove[i]), int(points.groove[j])
        into = "its own path" if mine == other else f"groove {other + 1}"
        void = other < mine or (mine == other and points.station[j] < points.station[i])
        out.append((int(i), way, way * far, xy, points.curve(j).out(t), into, bool(void)))
    return out


def _edge_corners(points: LipPoints, board: Board) -> list[_Corner]:
    """Where lips leave the board."""
    if board.extent is None:
        return []
    x0, y0, x1, y1 = board.extent
    sides = [
        EdgeCurve(np.array(at), np.array(normal), np.array([-normal[1], normal[0]]), 0.0)
        for at, normal in (
            ((x0, y0), (1.0, 0.0)),
            ((x1, y0), (-1.0, 0.0)),
            ((x0, y0), (0.0, 1.0)),
            ((x0, y1), (0.0, -1.0)),
        )
    ]
    inside = inside_groove(points.xy, board.extent)
    out: list[_Corner] = []
    linked = np.flatnonzero(points.follows >= 0)
    for i, j in zip(linked, points.follows[linked], strict=True):
        if inside[i] == inside[j]:
            continue
        row, way = (int(i), 1.0) if inside[i] else (int(j), -1.0)
        one = points.curve(row)
        best: _Corner | None = None
        for side, name in zip(sides, EDGES, strict=True):
            hit = _meet(one, side)
            if hit is None or way * float(one.ahead @ side.normal) >= 0:
                continue
            xy = side.point(hit[1])
            on_board = inside_groove(xy[None], (x0 - 1e-9, y0 - 1e-9, x1 + 1e-9, y1 + 1e-9))[0]
            if on_board and (best is None or way * hit[0] < way * best[2]):
                best = (row, way, hit[0], xy, side.normal, f"the {name} edge of the board", True)
        if best is not None:
            out.append(best)
    return out


def _meet(one: EdgeCurve, two: EdgeCurve) -> tuple[float, float] | None:
    """Arc lengths on both at which two arcs cross near their points, by Newton's method; None if they do not."""
    s = t = 0.0
    for _ in range(30):
        u, v, off = one.along(s), two.along(t), two.point(t) - one.point(s)
        det = float(u[1] * v[0] - u[0] * v[1])
        if abs(det) < 1e-6:
            return None
        ds, dt = float(off[1] * v[0] - off[0] * v[1]) / det, float(u[0] * off[1] - u[1] * off[0]) / det
        s, t = s + ds, t + dt
        if not abs(s) + abs(t) < 1e6:
            return None
        if abs(ds) + abs(dt) < 1e-11 * (1 + abs(s) + abs(t)):
            return s, t
    return None
