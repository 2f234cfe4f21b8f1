r"""Thin lands of wood left between grooves, and the places where a lip runs out of the wood.

::

      groove |  land  | groove        Each lip point looks along its outward normal for a lip that faces it, within a
             |<------>|               wedge of 60 degrees. Lips are taken as circles of their own curvature about their
        lip  |  width |  lip          points, so that widths are exact between lines and arcs, whatever the pitch.

A land holds by its fibres: pushed along them with F = A + B h (`forces`), a millimetre of lip is held by the shear
strength along the grain times the length of the fibres across the land. Their ratio is the index, to a factor.
Only lips that survive the whole carving count, so that the order of the grooves does not matter.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Any

import numpy as np
from scipy.sparse import coo_array
from scipy.sparse.csgraph import connected_components
from scipy.spatial import cKDTree

from ._arrays import FloatArray, frozen, number
from .cuts import Carving, Cut, as_carving
from .errors import DomainError
from .forces import CuttingForceModel
from .grain import Board, fibre_axis
from .kinematics import carving_blocks
from .lips import Lips, bent_at_knees, lay_out_lips
from .units import length_text, table_text

__all__ = ["Breakout", "Land", "breakouts", "lands_table", "thin_lands"]

_SIDES = ("left", "right")
_FACING = 0.5  # cosine between a lip's normal and the way to the lip that faces it: wedges up to 60 degrees
_LAYER = 0.2  # layer at the lip whose chip breaks the land; as in `lip_strikes` [mm]
_ALONG = math.sin(math.radians(1.0))  # fibres within a degree of an edge count as held
_PAIRS = 4_000_000  # pairs of lip points looked at together: some hundred megabytes
_EDGES = ("left", "right", "front", "back")


@dataclass(frozen=True, eq=False)
class Land:
    """A thin land between two lips, made by `thin_lands`; print a list of them with `lands_table`.

    Attributes
    ----------
    start, stop : (x, y) ends of the thin stretch, midway between the lips; the same for a ring. [mm]
    narrowest : (x, y) where it is narrowest. [mm]
    width : there. [mm]
    length : of the stretch. [mm]
    weakest : (x, y) where the index is largest. [mm]
    angle : between the fibres, seen in the face, and the land there, 0 along it to 90 across. [deg]
    fibre_length : of the fibres across it there, width / sin(angle), at most the land's length. [mm]
    index : force on a lip over the strength that holds it, there; nan if the shear strength is not known. [-]
    band : the index may be so many times less or more. [-]
    grooves : indices of the cuts on its two sides, from 0, smaller first; equal for two parts of one path.
    lips : (m, 2, 2) points on the one lip and, opposite, on the other, along the land; nan rows part stretches. [mm]
    closed : whether it runs round without an end.
    wedge : whether its lips run together at an angle. The tip then crumbles whatever the index says: width, index and
        the rest are those one lip point short of it, and so depend on the pitch.
    """

    start: tuple[float, float]
    stop: tuple[float, float]
    narrowest: tuple[float, float]
    width: float
    length: float
    weakest: tuple[float, float]
    angle: float
    fibre_length: float
    index: float
    band: float
    grooves: tuple[int, int]
    lips: FloatArray
    closed: bool
    wedge: bool

    def __post_init__(self) -> None:
        frozen(self.lips)

    def __repr__(self) -> str:
        return f"<Land {self.width:.2f} mm wide, {self.length:.1f} mm long, {self.verdict}>"

    @property
    def verdict(self) -> str:
        """'holds' if it does with the whole band, 'breaks' likewise, 'may break' between, 'not known'."""
        if math.isnan(self.index):
            return "not known"
        if self.index * self.band < 1:
            return "holds"
        return "breaks" if self.index / self.band > 1 else "may break"


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

    def __str__(self) -> str:
        held = (
            f"short fibres, {length_text(self.fibre_length)}"
            if math.isfinite(self.fibre_length)
            else "fibres held at one end"
        )
        out = "teeth move out of the wood" if self.exits else "teeth do not move out of the wood"
        return (
            f"groove {self.groove + 1}, {self.side} lip at ({_place(self.xy)}) mm into {self.into}: "
            f"corner of {self.angle:.0f} deg, {held}, {out}"
        )


@dataclass(frozen=True)
class _Points:
    """Surviving lip points, one a row, in order along every lip.

    `bend` is the lip's curvature, > 0 where the remaining wood lies outside of the curve; `follows` the row that
    continues the lip along the path, -1 where none does; `ends` (n, 2) whether the lip is cut away right behind or
    right ahead; `turns` (m, 2) pairs of rows that meet going round the end of a path.
    """

    groove: np.ndarray
    side: np.ndarray
    station: FloatArray
    xy: FloatArray
    normal: FloatArray
    length: FloatArray
    bend: FloatArray
    half_width: FloatArray
    lean: FloatArray
    follows: np.ndarray
    ends: np.ndarray
    turns: np.ndarray

    def __len__(self) -> int:
        return len(self.groove)

    @cached_property
    def ahead(self) -> FloatArray:
        """(n, 2) along the lip with the path: the outward normal turned by -90 deg (left) or 90 deg (right)."""
        sign = np.where(self.side == 0, 1.0, -1.0)[:, None]
        return np.asarray(sign * np.column_stack([self.normal[:, 1], -self.normal[:, 0]]))

    def curve(self, i: int) -> _Curve:
        """The lip about a point, as an arc."""
        return _Curve(self.xy[i], self.normal[i], self.ahead[i], float(self.bend[i]))


@dataclass(frozen=True)
class _Curve:
    """An arc through a point, with its normal out of the groove, its direction and its bend away from the normal."""

    at: FloatArray
    normal: FloatArray
    ahead: FloatArray
    bend: float

    def point(self, s: float) -> FloatArray:
        """Point at an arc length from `at`. [mm]"""
        x = self.bend * s
        chord = s * np.sinc(x / (2 * np.pi))
        return np.asarray(self.at + chord * (self.ahead * math.cos(x / 2) - self.normal * math.sin(x / 2)))

    def out(self, s: float) -> FloatArray:
        """Normal there. [-]"""
        x = self.bend * s
        return np.asarray(self.normal * math.cos(x) + self.ahead * math.sin(x))

    def along(self, s: float) -> FloatArray:
        """Direction there. [-]"""
        x = self.bend * s
        return np.asarray(self.ahead * math.cos(x) - self.normal * math.sin(x))

    def foot(self, p: FloatArray) -> float:
        """Arc length at which the curve comes nearest to a point. [mm]"""
        d = p - self.at
        u, s = float(d @ self.normal), float(d @ self.ahead)
        return math.atan2(self.bend * s, 1 + self.bend * u) / self.bend if abs(self.bend) > 1e-12 else s


def _arguments(carving: object, board: object, pitch: object) -> tuple[Carving, Board, float]:
    job = as_carving(carving)
    if not isinstance(board, Board):
        raise DomainError(f"board must be a Board, got {type(board).__name__}")
    return job, board, number("pitch", pitch, low=0.001, high=1000, unit="mm")


def _points(carving: Carving, pitch: float) -> _Points:
    """Gather the lips of the whole carving that survive it."""
    blocks: dict[int, list[Lips]] = {}
    for i, strikes in carving_blocks(carving, pitch=pitch, bundle=1e-9):
        blocks.setdefault(i, []).append(strikes.lips)
    parts: list[dict[str, np.ndarray]] = []
    turns: list[tuple[int, int]] = []
    count = 0
    for i, cut in enumerate(carving):
        lips = Lips(**{f: np.concatenate([getattr(b, f) for b in blocks[i]]) for f in Lips.__dataclass_fields__})
        laid = lay_out_lips(cut, pitch).exists
        curvature = np.asarray(bent_at_knees(cut).path.curvature(lips.station))
        first: list[tuple[int, int]] = []
        for side in range(2):
            rows = np.flatnonzero(laid[:, side])
            alive, n = lips.exists[rows, side], len(rows)
            number_of = np.where(alive, count + np.cumsum(alive) - 1, -1)
            # neighbours along the lip as it was laid out; -1 beyond an open end, -2 where it has been cut away
            known = np.where(alive, number_of, -2)
            ahead, behind = np.roll(known, -1), np.roll(known, 1)
            if n and not cut.path.closed:
                ahead[-1] = behind[0] = -1
                first.append((number_of[0], number_of[-1]))
            turn = np.radians(lips.outward[rows, side])
            half = lips.half_width[rows]
            kappa = (1.0 if side else -1.0) * curvature[rows]
            with np.errstate(divide="ignore"):
                bend = np.where(lips.kind[rows] == "run", kappa / (1 + kappa * half), 1 / half)
            part = {
                "groove": np.full(n, i),
                "side": np.full(n, side),
                "station": lips.station[rows],
                "xy": lips.lip_xy[rows, side],
                "normal": np.column_stack([np.cos(turn), np.sin(turn)]),
                "length": lips.lip_length[rows, side],
                "bend": bend,
                "half_width": half,
                "lean": np.radians(lips.flank_lean[rows]),
                "follows": np.maximum(ahead, -1),
                "ends": np.column_stack([behind == -2, ahead == -2]),
            }
            parts.append({name: value[alive] for name, value in part.items()})
            count += int(alive.sum())
        if len(first) == 2:
            turns += [(a, b) for a, b in zip(*first, strict=True) if a >= 0 and b >= 0]
    joined = {name: np.concatenate([p[name] for p in parts]) for name in parts[0]}
    return _Points(**joined, turns=np.array(turns, dtype=int).reshape(-1, 2))


def _inside(xy: FloatArray, extent: tuple[float, float, float, float] | None) -> np.ndarray:
    """Whether points lie on the board; all do where it is not known how far it reaches."""
    if extent is None:
        return np.ones(len(xy), bool)
    return np.asarray(((xy >= extent[:2]) & (xy <= extent[2:])).all(axis=1))


# --- lands ------------------------------------------------------------------------------------------------------------


def thin_lands(
    carving: Carving | Cut,
    board: Board,
    *,
    width: float = 2.0,
    pitch: float = 0.5,
    model: CuttingForceModel | None = None,
) -> list[Land]:
    """Thin lands of wood left between grooves, or between parts of one path, the weakest first.

    Parameters
    ----------
    carving
        A `Carving`, or a single `Cut`.
    board
        Wood and grain; where the board's extent is known, what lies beyond it is no land.
    width
        Widest land that counts, in (0, 100]. [mm]
    pitch
        Spacing of the lip points; widths do not depend on it, ends and lengths do. [mm]
    model
        Forces; default `CuttingForceModel()`.

    Returns
    -------
    list of Land
        A stretch a land. Two lips that run together under 60 degrees or less leave a wedge.

    Raises
    ------
    DomainError
        If an argument is of the wrong kind or out of range.

    Notes
    -----
    Index = (A + B h) / (shear strength x fibre length), per length of lip; h is the chip a tooth takes that is 0.2 mm
    short of the lip, f_z sin(phi) cos a with 1 - cos(phi) = 0.2 / half-width, at the reached feed. The larger of both
    lips counts. Left out: that fibres may dive out of the land, and that a thin fin may be bent over sideways.
    """
    job, board, step = _arguments(carving, board, pitch)
    widest = number("width", width, low=0, high=100, unit="mm", open_low=True)
    if model is not None and not isinstance(model, CuttingForceModel):
        raise DomainError(f"model must be a CuttingForceModel or None, got {type(model).__name__}")
    chosen = CuttingForceModel() if model is None else model
    points = _points(job, step)
    thin, partner, gap, way = _partners(points, _inside(points.xy, board.extent), widest)
    if not thin.size:
        return []
    middle = points.xy[thin] - way * gap[:, None] / 2
    azimuth = np.radians(board.grain.at(middle)[0])
    sine = np.abs(np.cos(azimuth) * way[:, 0] + np.sin(azimuth) * way[:, 1])
    force = _lip_forces(points, thin, job, board, chosen)
    out = []
    for rows in _stretches(points, thin, partner):
        length = float(points.length[thin[rows]].sum()) / 2
        with np.errstate(divide="ignore"):
            fibre = np.minimum(gap[rows] / sine[rows], length)
        index = force[rows] / (board.wood.shear_parallel * fibre)
        narrow = _most_typical(-gap[rows], middle[rows])
        weak = narrow if np.isnan(index).any() else _most_typical(index, middle[rows])
        p, q = int(thin[rows[narrow]]), int(partner[rows[narrow]])
        # a lip is cut away right there, and not by a groove square to both
        wedge = bool(points.ends[[p, q]].any() and points.normal[p] @ points.normal[q] > -0.99)
        # the narrowest place of a wedge is its tip, which is gone before anything else
        size, spot = (float(gap[rows[narrow]]), middle[rows[narrow]]) if wedge else _refined(points, p, q)
        lips, start, stop, closed, grooves = _outline(points, thin[rows], partner[rows], gap[rows], way[rows])
        out.append(
            Land(
                start=start,
                stop=stop,
                narrowest=_xy(spot),
                width=size,
                length=length,
                weakest=_xy(middle[rows[weak]]),
                angle=math.degrees(math.asin(min(1.0, float(sine[rows[weak]])))),
                fibre_length=float(fibre[weak]),
                index=float(index[weak]),
                band=chosen.band,
                grooves=grooves,
                lips=lips,
                closed=closed,
                wedge=wedge,
            )
        )
    # in the order of weakness; equal ones by place, so that the order of the grooves does not matter
    return sorted(out, key=lambda land: (-_rounded(land.index), _rounded(land.width), *map(_rounded, land.narrowest)))


def _rounded(x: float) -> float:
    return 0.0 if math.isnan(x) else float(f"{x:.6g}")


def _xy(point: FloatArray) -> tuple[float, float]:
    x, y = (float(a) for a in point)
    return x, y


def _partners(
    points: _Points, inside: np.ndarray, width: float
) -> tuple[np.ndarray, np.ndarray, FloatArray, FloatArray]:
    """Points that face another lip within `width`: their rows (m,), the other's, the gap [mm], the way back (m, 2)."""
    n = len(points)
    none = np.empty(0, dtype=int)
    if n < 2:
        return none, none, np.empty(0), np.empty((0, 2))
    tree, reach = cKDTree(points.xy), width + float(points.length.max())
    # in blocks of so many pairs that they fit into memory, whatever the width
    pairs = np.cumsum(tree.query_ball_point(points.xy, reach, return_length=True))
    blocks = np.split(np.arange(n), np.flatnonzero(np.diff(pairs // _PAIRS)) + 1)
    found = [_faced(points, rows, tree, reach, inside, width) for rows in blocks]
    p, q, gap, way = (np.concatenate(values) for values in zip(*found, strict=True))
    return p, q, gap, way


def _faced(
    points: _Points, rows: np.ndarray, tree: Any, reach: float, inside: np.ndarray, width: float
) -> tuple[np.ndarray, np.ndarray, FloatArray, FloatArray]:
    """What `_partners` gives, for some of the points."""
    near = cKDTree(points.xy[rows]).sparse_distance_matrix(tree, reach, output_type="ndarray")
    p, q = rows[near["i"]], near["j"]
    keep = inside[p] & inside[q]
    p, q = p[keep], q[keep]
    d, normal, ahead, k = points.xy[p] - points.xy[q], points.normal[q], points.ahead[q], points.bend[q]
    u, s = np.sum(d * normal, axis=1), np.sum(d * ahead, axis=1)
    root = np.hypot(1 + k * u, k * s)
    gap = (2 * u + k * (u * u + s * s)) / (1 + root)
    with np.errstate(divide="ignore", invalid="ignore"):
        way = (normal * (1 + k * u)[:, None] + ahead * (k * s)[:, None]) / root[:, None]
        foot = np.sum((d - way * gap[:, None]) * ahead, axis=1)
        good = (1 + k * u > 0) & (gap > 1e-9) & (gap <= width * (1 + 1e-9))
        good &= (np.abs(foot) <= 0.6 * points.length[q]) & (np.sum(way * points.normal[p], axis=1) <= -_FACING)
    p, q, gap, way, foot = p[good], q[good], gap[good], way[good], np.abs(foot[good])
    # of each point the nearest; of two cells that share a foot the one whose middle is nearer
    order = np.lexsort((foot, np.round(gap, 9), p))
    p, q, gap, way = p[order], q[order], gap[order], way[order]
    best = np.append(True, np.diff(p) != 0)[: len(p)]
    return p[best], q[best], gap[best], way[best]


def _lip_forces(points: _Points, thin: np.ndarray, job: Carving, board: Board, model: CuttingForceModel) -> FloatArray:
    """Force per length of lip, of the last chips that reach it. [N/mm]"""
    fibre = board.fibres(points.xy[thin])
    ahead, normal, lean = points.ahead[thin], points.normal[thin], points.lean[thin]
    motion = np.sum(fibre[:, :2] * ahead, axis=1)
    edge = np.sum(fibre[:, :2] * normal, axis=1) * np.sin(lean) + fibre[:, 2] * np.cos(lean)
    half = points.half_width[thin]
    sine = np.sqrt(1 - (1 - np.minimum(_LAYER / half, 1.0)) ** 2)
    force = np.empty(len(thin))
    for i in np.unique(points.groove[thin]):
        cut, own = job.cuts[i], points.groove[thin] == i
        advance = 60.0 * cut.profile.speed_at(points.station[thin][own]) / (cut.spindle_speed * cut.bit.flutes)
        chip = advance * sine[own] * np.cos(lean[own])
        force[own] = model.force_per_length(
            chip, cut.bit.edge_radius, board.wood, motion=_cosine(motion[own]), edge=_cosine(edge[own])
        )
    return force


def _cosine(x: FloatArray) -> FloatArray:
    return np.clip(x, -1.0, 1.0)


def _stretches(points: _Points, thin: np.ndarray, partner: np.ndarray) -> list[np.ndarray]:
    """Rows of `thin` of every land: linked along the lips, round ends of paths, and across the land."""
    n = len(points)
    is_thin = np.zeros(n, bool)
    is_thin[thin] = True
    along = np.column_stack([thin, points.follows[thin]])
    links = np.concatenate([along[along[:, 1] >= 0], points.turns])
    links = np.concatenate([links[is_thin[links].all(axis=1)], np.column_stack([thin, partner])])
    graph = coo_array((np.ones(len(links)), (links[:, 0], links[:, 1])), shape=(n, n))
    label = connected_components(graph, directed=False)[1][thin]
    order = np.argsort(label, kind="stable")
    return np.split(order, np.flatnonzero(np.diff(label[order])) + 1)


def _most_typical(value: FloatArray, xy: FloatArray) -> int:
    """Row of the largest value; of equal ones the most central."""
    best = np.flatnonzero(value >= value.max() - 1e-6 * abs(value.max()))
    away = np.round(np.hypot(*(xy[best] - xy[best].mean(axis=0)).T), 6)
    return int(best[np.lexsort((np.round(xy[best, 1], 6), np.round(xy[best, 0], 6), away))[0]])


def _refined(points: _Points, p: int, q: int) -> tuple[float, FloatArray]:
    """Narrowest gap between two lips near two facing points, and the point midway. [mm]"""
    one, two = points.curve(p), points.curve(q)
    most = 0.6 * float(points.length[p]), 0.6 * float(points.length[q])
    s = 0.0
    for _ in range(200):
        t = float(np.clip(two.foot(one.point(s)), -most[1], most[1]))
        s = float(np.clip(one.foot(two.point(t)), -most[0], most[0]))
    a, b = one.point(s), two.point(t)
    return float(np.hypot(*(a - b))), (a + b) / 2


def _outline(
    points: _Points, thin: np.ndarray, partner: np.ndarray, gap: FloatArray, way: FloatArray
) -> tuple[FloatArray, tuple[float, float], tuple[float, float], bool, tuple[int, int]]:
    """Both lips of a land along its longer lip, the ends of the stretch, whether it is closed, and its grooves."""
    lip = points.groove[thin] * 2 + points.side[thin]

    def rank(one: int) -> tuple[float, ...]:
        own = thin[lip == one]
        x, y = points.xy[own].mean(axis=0)
        return -_rounded(float(points.length[own].sum())), _rounded(float(x)), _rounded(float(y))

    rows = np.flatnonzero(lip == min(np.unique(lip).tolist(), key=rank))
    place = {int(i): int(r) for i, r in zip(thin[rows], rows, strict=True)}
    after = {r: place.get(int(points.follows[i]), -1) for i, r in place.items()}
    heads = [r for r in place.values() if r not in set(after.values())]
    chains = []
    for r in heads or [int(rows[0])]:
        chain = [r]
        while after[chain[-1]] >= 0 and after[chain[-1]] != r:
            chain.append(after[chain[-1]])
        chains.append(chain)
    pair = np.stack([points.xy[thin], points.xy[thin] - way * gap[:, None]], axis=1)
    blank = np.full((1, 2, 2), np.nan)
    parts = [piece for chain in chains for piece in (pair[chain], blank)][:-1]
    half = points.ahead[thin] * points.length[thin, None] / 2 if heads else np.zeros((len(thin), 2))
    middle = pair.mean(axis=1)
    first, last = chains[0][0], chains[-1][-1] if heads else chains[0][0]
    others, times = np.unique(points.groove[partner[rows]], return_counts=True)
    low, high = sorted((int(points.groove[thin[rows[0]]]), int(others[np.argmax(times)])))
    ends = _xy(middle[first] - half[first]), _xy(middle[last] + half[last])
    return np.concatenate(parts), *ends, not heads, (low, high)


def lands_table(lands: Iterable[Land]) -> str:
    """Lands as a table for a report, in the order given and numbered as on the map; index low, likely and high.

    Raises
    ------
    DomainError
        If something else than lands is given.
    """
    rows = list(lands) if isinstance(lands, Iterable) else [lands]
    for land in rows:
        if not isinstance(land, Land):
            raise DomainError(f"lands must be Land objects, as from thin_lands, got {type(land).__name__}")
    if not rows:
        return "No thin lands."
    cells: list[tuple[str, ...]] = [
        ("land", "", "narrowest", "at x, y", "length", "fibres", "fibre length", "weakest at x, y", "index")
    ]
    for k, r in enumerate(rows):
        index = [r.index / r.band, r.index, r.index * r.band]
        cells.append(
            (
                str(k + 1),
                r.verdict + (", wedge" if r.wedge else ""),
                length_text(r.width),
                _place(r.narrowest),
                length_text(r.length, 1),
                f"{r.angle:.0f} deg",
                length_text(r.fibre_length),
                _place(r.weakest),
                " ".join(f"{x:.2g}" for x in index) if math.isfinite(r.index) else "not known",
            )
        )
    note = "Index: force on a lip over the strength that holds it, low, likely, high; above 1 it breaks: an estimate."
    return f"{table_text(cells)}\n{note}"


def _place(xy: Sequence[float]) -> str:
    return ", ".join(f"{round(x, 2) + 0.0:.2f}" for x in xy)  # no -0.00


# --- breakouts --------------------------------------------------------------------------------------------------------


def breakouts(
    carving: Carving | Cut, board: Board, *, pitch: float = 0.25, reach: float = 0.5, blunt: float = 150.0
) -> list[Breakout]:
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
    list of Breakout
        One a lip that ends, so two at a corner between two grooves; those where the teeth move out of the wood first,
        then by the length of the fibres.

    Raises
    ------
    DomainError
        If an argument is of the wrong kind or out of range.

    Notes
    -----
    The wood's corner is what lies beyond both edges, pi - psi, with psi between their normals. A fibre a distance m =
    reach sin(angle / 2) from either edge is cut off at both ends if it runs against the normals with opposite signs;
    its length is then m / |g.n1| + m / |g.n2|, as it runs in the face.
    """
    job, board, step = _arguments(carving, board, pitch)
    back = number("reach", reach, low=0, high=50, unit="mm", open_low=True)
    most = number("blunt", blunt, low=0, high=180, unit="deg", open_low=True)
    points = _points(job, step)
    if not len(points):
        return []
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
        short = share[0] * share[1] < 0 and min(map(abs, share)) > _ALONG
        out.append(
            Breakout(
                xy=_xy(xy),
                groove=int(points.groove[i]),
                side=_SIDES[side],
                station=float(points.station[i]),
                into=into,
                angle=angle,
                exits=bool(void and forwards == (way > 0)),
                fibre_length=m / abs(share[0]) + m / abs(share[1]) if short else math.inf,
            )
        )
    return sorted(
        out, key=lambda b: (not b.exits, _rounded(b.fibre_length), *map(_rounded, b.xy), b.side, _rounded(b.station))
    )


_Corner = tuple[int, float, float, FloatArray, FloatArray, str, bool]
"""Row of the lip, +1 if it ends ahead or -1 behind, arc length from its point to the corner, the corner, the normal of
what it runs into there, its name, and whether it is there when the teeth pass."""


def _corners(points: _Points, job: Carving, board: Board) -> list[_Corner]:
    """Where lips run into other lips."""
    tree = cKDTree(points.xy)
    largest = float(points.length.max())
    inside = _inside(points.xy, board.extent)
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
        if not _inside(xy[None], board.extent)[0]:
            continue
        mine, other = int(points.groove[i]), int(points.groove[j])
        into = "its own path" if mine == other else f"groove {other + 1}"
        void = other < mine or (mine == other and points.station[j] < points.station[i])
        out.append((int(i), way, way * far, xy, points.curve(j).out(t), into, bool(void)))
    return out


def _edge_corners(points: _Points, board: Board) -> list[_Corner]:
    """Where lips leave the board."""
    if board.extent is None:
        return []
    x0, y0, x1, y1 = board.extent
    sides = [
        _Curve(np.array(at), np.array(normal), np.array([-normal[1], normal[0]]), 0.0)
        for at, normal in (
            ((x0, y0), (1.0, 0.0)),
            ((x1, y0), (-1.0, 0.0)),
            ((x0, y0), (0.0, 1.0)),
            ((x0, y1), (0.0, -1.0)),
        )
    ]
    inside = _inside(points.xy, board.extent)
    out: list[_Corner] = []
    linked = np.flatnonzero(points.follows >= 0)
    for i, j in zip(linked, points.follows[linked], strict=True):
        if inside[i] == inside[j]:
            continue
        row, way = (int(i), 1.0) if inside[i] else (int(j), -1.0)
        one = points.curve(row)
        best: _Corner | None = None
        for side, name in zip(sides, _EDGES, strict=True):
            hit = _meet(one, side)
            if hit is None or way * float(one.ahead @ side.normal) >= 0:
                continue
            xy = side.point(hit[1])
            on_board = _inside(xy[None], (x0 - 1e-9, y0 - 1e-9, x1 + 1e-9, y1 + 1e-9))[0]
            if on_board and (best is None or way * hit[0] < way * best[2]):
                best = (row, way, hit[0], xy, side.normal, f"the {name} edge of the board", True)
        if best is not None:
            out.append(best)
    return out


def _meet(one: _Curve, two: _Curve) -> tuple[float, float] | None:
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
