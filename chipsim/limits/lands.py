"""Thin lands: wood between grooves that may break away."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from scipy.sparse import coo_array
from scipy.sparse.csgraph import connected_components
from scipy.spatial import cKDTree

from .._shared.arrays import FloatArray, frozen, number
from .._shared.tables import Columns, Kept, Rows
from ..errors import DomainError
from ..scene.cuts import Carving, Cut
from ..scene.grain import Board
from ..units import folded, length_text, table_text
from .forces import CuttingForceModel
from .lip_points import LipPoints, checked_arguments, inside_groove, lip_points, place_text, rounded, xy_text

__all__ = ["Land", "Lands", "lands_table", "thin_lands"]


_FACING = 0.5  # cosine between a lip's normal and the way to the lip that faces it: wedges up to 60 degrees

_LAYER = 0.2  # layer at the lip whose chip breaks the land; as in `lip_strikes` [mm]

_PAIRS = 4_000_000  # pairs of lip points looked at together: some hundred megabytes


@dataclass(frozen=True, eq=False)
class Land(Kept):
    """A thin land between two lips, made by `thin_lands`.

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


@dataclass(frozen=True, eq=False, repr=False)
class Lands(Rows[Land]):
    """Thin lands, the weakest first, made by `thin_lands`: a sequence of `Land`. Print it for the table.

    Its table numbers lands and grooves from 1; report and map call the lands a, b, c.
    """

    rows: tuple[Land, ...] = ()

    def __repr__(self) -> str:
        breaks = sum(land.verdict == "breaks" for land in self.rows)
        return f"<Lands: {len(self)} thin, of which {breaks} break{'s' if breaks == 1 else ''}>"

    def __str__(self) -> str:
        return lands_table(self.rows)

    def _columns(self) -> Columns:
        rows = self.rows
        points = ("start", "stop", "narrowest", "weakest")
        return {
            "land": list(range(1, len(rows) + 1)),
            "verdict": [r.verdict for r in rows],
            "wedge": [r.wedge for r in rows],
            "width [mm]": [r.width for r in rows],
            "length [mm]": [r.length for r in rows],
            **{f"{n}_{x} [mm]": [getattr(r, n)[k] for r in rows] for n in points for k, x in enumerate("xy")},
            "angle [deg]": [r.angle for r in rows],
            "fibre_length [mm]": [r.fibre_length for r in rows],
            "index low [-]": [r.index / r.band for r in rows],
            "index likely [-]": [r.index for r in rows],
            "index high [-]": [r.index * r.band for r in rows],
            "groove": [r.grooves[0] + 1 for r in rows],
            "other groove": [r.grooves[1] + 1 for r in rows],
            "closed": [r.closed for r in rows],
        }


def thin_lands(
    carving: Carving | Cut,
    board: Board,
    *,
    width: float = 2.0,
    pitch: float = 0.5,
    model: CuttingForceModel | None = None,
) -> Lands:
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
        Spacing of the lip points, twice that of a map, since the work grows with its square; widths do not depend on
        it, ends and lengths do. [mm]
    model
        Forces; default `CuttingForceModel()`.

    Returns
    -------
    Lands
        A sequence of `Land`, which prints as a table: a stretch a land. Two lips that run together under 60 degrees or
        less leave a wedge.

    Raises
    ------
    DomainError
        If an argument is of the wrong kind or out of range.

    Notes
    -----
    Index = (A + B h) / (shear strength x fibre length), per length of lip; h is the chip a tooth takes that is 0.2 mm
    short of the lip, f_z sin(phi) cos a with 1 - cos(phi) = 0.2 / half-width, at the reached feed. The larger of both
    lips counts. Left out: that fibres may dive out of the land, and that a thin fin may be bent over sideways.

    Examples
    --------
    >>> import chipsim as cs
    >>> board = cs.Board(cs.wood("black cherry"), cs.straight_grain(azimuth=20))
    >>> rows = [cs.line((0, y), (30, y), 2.0) for y in (0.0, 5.0)]
    >>> pair = cs.Carving(tuple(cs.Cut(cs.VBit(90, 12.7, 2), path, 18_000, 1500) for path in rows))
    >>> [(round(land.width, 3), land.grooves) for land in cs.thin_lands(pair, board)]
    [(1.0, (0, 1))]
    """
    job, board, step = checked_arguments(carving, board, pitch)
    widest = number("width", width, low=0, high=100, unit="mm", open_low=True)
    if model is not None and not isinstance(model, CuttingForceModel):
        raise DomainError(f"model must be a CuttingForceModel or None, got {type(model).__name__}")
    chosen = CuttingForceModel() if model is None else model
    points = lip_points(job, step)
    thin, partner, gap, way = _partners(points, inside_groove(points.xy, board.extent), widest)
    if not thin.size:
        return Lands()
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
                narrowest=xy_text(spot),
                width=size,
                length=length,
                weakest=xy_text(middle[rows[weak]]),
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
    out.sort(key=lambda land: (-rounded(land.index), rounded(land.width), *map(rounded, land.narrowest)))
    return Lands(tuple(out))


def _partners(
    points: LipPoints, inside: np.ndarray, width: float
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
    points: LipPoints, rows: np.ndarray, tree: Any, reach: float, inside: np.ndarray, width: float
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


def _lip_forces(
    points: LipPoints, thin: np.ndarray, job: Carving, board: Board, model: CuttingForceModel
) -> FloatArray:
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
        advance = 60.0 * cut.speed_profile.speed_at(points.station[thin][own]) / (cut.spindle_speed * cut.bit.flutes)
        chip = advance * sine[own] * np.cos(lean[own])
        force[own] = model.force_per_length(
            chip, cut.bit.edge_radius, board.wood, motion=_cosine(motion[own]), edge=_cosine(edge[own])
        )
    return force


def _cosine(x: FloatArray) -> FloatArray:
    return np.clip(x, -1.0, 1.0)


def _stretches(points: LipPoints, thin: np.ndarray, partner: np.ndarray) -> list[np.ndarray]:
    """Rows of `thin` of every land: linked along the lips, round ends of paths, and across the land."""
    n = len(points)
    is_thin = np.zeros(n, bool)
    is_thin[thin] = True
    along = np.column_stack([thin, points.follows[thin]])
    links = np.concatenate([along[along[:, 1] >= 0], points.turns])
    links = np.concatenate([links[is_thin[links].all(axis=1)], np.column_stack([thin, partner])])
    ends = links.astype(np.int32)  # scipy 1.11.0 finds no components by wider numbers
    graph = coo_array((np.ones(len(ends)), (ends[:, 0], ends[:, 1])), shape=(n, n))
    label = connected_components(graph, directed=False)[1][thin]
    order = np.argsort(label, kind="stable")
    return np.split(order, np.flatnonzero(np.diff(label[order])) + 1)


def _most_typical(value: FloatArray, xy: FloatArray) -> int:
    """Row of the largest value; of equal ones the most central."""
    best = np.flatnonzero(value >= value.max() - 1e-6 * abs(value.max()))
    away = np.round(np.hypot(*(xy[best] - xy[best].mean(axis=0)).T), 6)
    return int(best[np.lexsort((np.round(xy[best, 1], 6), np.round(xy[best, 0], 6), away))[0]])


def _refined(points: LipPoints, p: int, q: int) -> tuple[float, FloatArray]:
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
    points: LipPoints, thin: np.ndarray, partner: np.ndarray, gap: FloatArray, way: FloatArray
) -> tuple[FloatArray, tuple[float, float], tuple[float, float], bool, tuple[int, int]]:
    """Both lips of a land along its longer lip, the ends of the stretch, whether it is closed, and its grooves."""
    lip = points.groove[thin] * 2 + points.side[thin]

    def rank(one: int) -> tuple[float, ...]:
        own = thin[lip == one]
        x, y = points.xy[own].mean(axis=0)
        return -rounded(float(points.length[own].sum())), rounded(float(x)), rounded(float(y))

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
    ends = xy_text(middle[first] - half[first]), xy_text(middle[last] + half[last])
    return np.concatenate(parts), *ends, not heads, (low, high)


def lands_table(lands: Iterable[Land]) -> str:
    """Lands as a table for a report, in the order given and numbered as on the map; index low, likely and high.

    Raises
    ------
    DomainError
        If something else than lands is given.

    Examples
    --------
    >>> import chipsim as cs
    >>> from chipsim.limits.lands import lands_table
    >>> board = cs.Board(cs.wood("black cherry"), cs.straight_grain(azimuth=20))
    >>> rows = [cs.line((0, y), (30, y), 2.0) for y in (0.0, 5.0)]
    >>> pair = cs.Carving(tuple(cs.Cut(cs.VBit(90, 12.7, 2), path, 18_000, 1500) for path in rows))
    >>> print(lands_table(cs.thin_lands(pair, board))[:27])
    One land is thin: it holds.
    """
    rows = list(lands) if isinstance(lands, Iterable) else [lands]
    for land in rows:
        if not isinstance(land, Land):
            raise DomainError(f"lands must be Land objects, as from thin_lands, got {type(land).__name__}")
    if not rows:
        return "No land is thin."
    cells: list[tuple[str, ...]] = [
        ("land", "", "narrowest", "at x, y", "length", "fibres", "fibre length", "weakest at x, y", "index")
    ]
    for k, r in enumerate(rows):
        index = [r.index / r.band, r.index, r.index * r.band]
        cells.append(
            (
                "abcdefghijklmnopqrstuvwxyz"[k] if k < 26 else str(k + 1),
                r.verdict + (", wedge" if r.wedge else ""),
                length_text(r.width),
                place_text(r.narrowest),
                length_text(r.length, 1),
                f"{r.angle:.0f} deg",
                length_text(r.fibre_length),
                place_text(r.weakest),
                " ".join(f"{x:.2g}" for x in index) if math.isfinite(r.index) else "not known",
            )
        )
    note = (
        "A land is the wood left standing between two grooves; a wedge runs to a point. The letters are those of the "
        "map. The index is the force on a lip over the strength that holds it, low, likely and high: above 1 the land "
        "breaks. It is an estimate."
    )
    return "\n".join([*folded(_answer(rows)), "", table_text(cells), *folded(note)])


def _answer(lands: Sequence[Land]) -> str:
    """How many lands break, may break, hold."""
    said = {"breaks": "break", "may break": "may break", "holds": "hold"}
    count = {words: sum(land.verdict == name for land in lands) for name, words in said.items()}
    count["are of a strength that is not known"] = len(lands) - sum(count.values())
    parts = [f"{n} {words}" for words, n in count.items() if n]
    if len(lands) == 1:
        verdict = lands[0].verdict
        return f"One land is thin: it {verdict}." if verdict in said else "One land is thin: its strength is not known."
    listed = f"{', '.join(parts[:-1])} and {parts[-1]}" if len(parts) > 1 else parts[0]
    return f"{len(lands)} lands are thin: {listed}."
