"""What a risk map looks like before there is ink: lips, grooves and stretches of one step, as arrays."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from .._shared.arrays import FloatArray
from ..damage.maps import RiskMap
from ..damage.scale import CLASSES, closed_values, touching

__all__ = [
    "Cells",
    "Lines",
    "cells_of",
    "chain",
    "groove_shapes",
    "grooves_of",
    "lines_of",
    "steps_of",
    "strips",
    "thinned",
    "unit_vectors",
]

NOT_KNOWN = len(CLASSES)
"""Step of a lip of which the risk is not known."""


@dataclass(frozen=True, eq=False)
class Cells:
    """The pieces of lip of a whole map: left lips groove by groove, then right lips.

    Attributes
    ----------
    row, side : (m,) row of the map, 0 left or 1 right.
    lip, axis : (m, 3, 2) each one's piece of lip and of centre line as (before, at, after). [mm]
    joined : (m,) whether a piece goes on where the one before it in this list ends.
    """

    row: np.ndarray
    side: np.ndarray
    lip: FloatArray
    axis: FloatArray
    joined: np.ndarray

    @property
    def outward(self) -> FloatArray:
        """(m, 3, 2) unit vectors from the centre line to the lip."""
        arms = (self.lip - self.axis).reshape(-1, 2)
        return unit_vectors(arms).reshape(self.lip.shape)


@dataclass(frozen=True, eq=False)
class Lines:
    """Polylines in one array.

    Attributes
    ----------
    points : (p, 2) of all lines, one after the other. [mm]
    outward : (p, 2) unit vectors away from the groove.
    begin : (n,) index of each line's first point.
    first : (n,) index of the cell at which each line begins.
    """

    points: FloatArray
    outward: FloatArray
    begin: np.ndarray
    first: np.ndarray

    def split(self, values: FloatArray) -> list[FloatArray]:
        """An array of all points as one for each line."""
        return np.split(values, self.begin[1:])


def grooves_of(risk: RiskMap) -> list[tuple[np.ndarray, bool]]:
    """Rows of every groove of the map, and whether it is closed."""
    if not len(risk):
        return []
    ends = np.flatnonzero(np.diff(risk.groove)) + 1
    return [(rows, bool(risk.setup["closed"][risk.groove[rows[0]]])) for rows in np.split(np.arange(len(risk)), ends)]


def cells_of(risk: RiskMap) -> Cells:
    """Lay out the pieces of lip of a map; neighbours that touch share their end points."""
    sides = [(k, *_cells(risk, k, rows, closed)) for k in range(2) for rows, closed in grooves_of(risk)]
    return Cells(
        np.concatenate([rows for _, rows, *_ in sides]),
        np.concatenate([np.full(len(rows), k) for k, rows, *_ in sides]),
        *(np.concatenate([side[i] for side in sides]) for i in (2, 3, 4)),
    )


def _cells(
    risk: RiskMap, k: int, groove: np.ndarray, closed: bool
) -> tuple[np.ndarray, FloatArray, FloatArray, np.ndarray]:
    """Rows of a groove with a lip on one side, their pieces of lip and axis, and whether each goes on from the last."""
    shown = risk.exists[groove, k]
    rows = groove[shown]
    at, centre, length = risk.lip_xy[rows, k], risk.xy[rows], risk.lip_length[rows, k]
    lip, axis = np.repeat(at[:, None], 3, axis=1), np.repeat(centre[:, None], 3, axis=1)
    heading = np.radians(risk.heading[rows, k])
    fan = (risk.kind[rows] != "run")[:, None]
    arm = at - centre
    for end, sign in ((0, -0.5), (2, 0.5)):
        # a free end: straight on along a run, about the vertex in a fan
        step = sign * length[:, None] * np.column_stack([np.cos(heading), np.sin(heading)])
        angle = (sign if k else -sign) * length / risk.half_width[rows]
        c, s = np.cos(angle), np.sin(angle)
        turned = np.column_stack([c * arm[:, 0] - s * arm[:, 1], s * arm[:, 0] + c * arm[:, 1]])
        lip[:, end] = np.where(fan, centre + turned, at + step)
        axis[:, end] = np.where(fan, centre, centre + step)
    joined = np.zeros(len(rows), dtype=bool)
    if len(rows) < 2:
        return rows, lip, axis, joined
    i = np.arange(len(rows) if closed and len(rows) > 2 else len(rows) - 1)
    j = (i + 1) % len(rows)
    # what was cut away between two rows parts them; the inner side of a corner was never there and does not
    gone = np.cumsum(~shown & (risk.kind[groove] != "corner"))
    between = gone[shown][j] - gone[shown][i] + np.where(j < i, gone[-1], 0)
    chord = at[j] - at[i]
    round_it = np.append(i, j[-1:])
    touch = (between == 0) & touching(risk.kind[rows][round_it], length[round_it], np.hypot(*chord.T))
    i, j, chord = i[touch], j[touch], chord[touch]
    # neighbours meet halfway along the arc that joins them: halfway along the chord and out by the sagitta
    turn = (heading[j] - heading[i] + np.pi) % (2 * np.pi) - np.pi
    bulge = np.where(np.abs(turn) < 1.0, np.tan(turn / 4) / 2, 0.0)[:, None]
    halfway = (at[i] + at[j]) / 2 + bulge * np.column_stack([chord[:, 1], -chord[:, 0]])
    for line, middle in ((lip, halfway), (axis, (centre[i] + centre[j]) / 2)):
        # a fan knows its ends exactly
        line[i, 2] = line[j, 0] = np.where(fan[i], line[i, 2], np.where(fan[j], line[j, 0], middle))
    joined[j[j > i]] = True
    return rows, lip, axis, joined


def strips(cells: Cells, share: float) -> FloatArray:
    """Corners (m, 6, 2) of the strips from the lip inwards over a share of the way to the centre line. [mm]"""
    return np.concatenate([cells.lip, (cells.lip + share * (cells.axis - cells.lip))[:, ::-1]], axis=1)


def steps_of(risk: RiskMap, values: FloatArray, cells: Cells, reach: float) -> np.ndarray:
    """Step of the scale, (m,), of every cell; `NOT_KNOWN` where the risk is not.

    Values near a bound go to and fro between two steps along the scallops. They are closed first, over `reach` along
    the lip [mm]: dips shorter than that are filled, and no peak is lost, as it would be from a mean.
    """
    value = closed_values(values[cells.row, cells.side], cells.joined, risk.lip_length[cells.row, cells.side], reach)
    step = np.searchsorted(list(CLASSES.values()), np.nan_to_num(value), side="right")
    return np.where(np.isfinite(value), step, NOT_KNOWN)


def lines_of(cells: Cells, look: np.ndarray, shown: np.ndarray, tolerance: float) -> Lines:
    """Join neighbouring cells of one look to polylines, with no more points than the tolerance asks for. [mm]

    A closed groove's line begins where its rows begin.
    """
    index = np.flatnonzero(shown)
    if not index.size:
        nothing = np.zeros((0, 2))
        return Lines(nothing, nothing, np.zeros(0, int), np.zeros(0, int))
    follows = cells.joined[index] & (np.append(-2, index[:-1]) == index - 1)
    follows &= np.append(False, look[index[1:]] == look[index[:-1]])
    last = np.append(~follows[1:], True)
    # before and at of every cell, and after of the last of a line
    keep = np.column_stack([np.ones((len(index), 2), bool), last])
    begins = np.zeros((len(index), 3), bool)
    begins[:, 0] = ~follows
    points, outward, begins = cells.lip[index][keep], cells.outward[index][keep], begins[keep]
    some = thinned(points, begins, tolerance)
    begin = np.flatnonzero(begins[some])
    return Lines(points[some], outward[some], begin, index[~follows])


def thinned(points: FloatArray, begins: np.ndarray, tolerance: float) -> np.ndarray:
    """Indices of the points of polylines that are needed to follow them to about a tolerance; ends always are.

    A chord c of a curve that turns by t within it leaves it by c t / 8, so that sqrt(turn x length / 8 / tolerance)
    counts the points that are needed.
    """
    if len(points) < 3:
        return np.arange(len(points))
    ends = begins | np.append(begins[1:], True)
    step = np.diff(points, axis=0)
    length = np.hypot(*step.T)
    # the turn is that from the last step of any length
    moved = np.append(True, length > 1e-9)
    kept = np.flatnonzero(moved | ends)
    step = np.diff(points[kept], axis=0)
    length = np.hypot(*step.T)
    cross = step[:-1, 0] * step[1:, 1] - step[:-1, 1] * step[1:, 0]
    turn = np.abs(np.arctan2(cross, (step[:-1] * step[1:]).sum(axis=1)))
    measure = np.sqrt(turn * (length[:-1] + length[1:]) / (16 * tolerance))
    count = np.floor(np.cumsum(np.concatenate([[0.0], measure, [0.0]])))
    needed = np.append(True, np.diff(count) > 0) | ends[kept]
    return np.asarray(kept[needed])


def chain(risk: RiskMap, groove: np.ndarray, closed: bool) -> np.ndarray:
    """Rows along a groove's toolpath without repeated points, at least two, the first again if closed."""
    rows = groove[np.append(True, np.hypot(*np.diff(risk.xy[groove], axis=0).T) > 1e-9)]
    return np.append(rows, rows[0]) if closed or len(rows) == 1 else rows


def unit_vectors(vectors: FloatArray) -> FloatArray:
    """(n, 2) vectors at length 1, zero vectors as they are."""
    return np.asarray(vectors / np.maximum(np.hypot(*vectors.T), 1e-12)[:, None])


def groove_shapes(risk: RiskMap, tolerance: float) -> list[FloatArray]:
    """The grooves as polygons that together are their outline: (q, 4, 2) quads along them, and discs about vertices.

    All run clockwise, so that under the non-zero rule they fill as their union, without seams. There are no more
    than the tolerance asks for. [mm]
    """
    ribbons = []
    on_lips = risk.exists & (risk.kind == "run")[:, None]
    for groove, closed in grooves_of(risk):
        rows = chain(risk, groove, closed)
        xy = risk.xy[rows]
        step = unit_vectors(np.diff(xy, axis=0))
        ahead = np.vstack([step, step[:1] if closed else step[-1:]])
        behind = np.vstack([step[-1:] if closed else step[:1], step])
        mean = unit_vectors(ahead + behind)
        arm = risk.half_width[rows, None] * np.column_stack([-mean[:, 1], mean[:, 0]])
        # the lips themselves where there are any: beside a ramp they are not square to the path
        lips = on_lips[rows, :, None]
        ends = np.where(lips, risk.lip_xy[rows], xy[:, None] + np.stack([arm, -arm], axis=1))
        once = np.append(True, np.zeros(len(rows) - 1, bool))
        some = np.union1d(*(thinned(ends[:, k], once, tolerance) for k in range(2)))
        ends = ends[some]
        ribbons.append(np.stack([ends[:-1, 0], ends[1:, 0], ends[1:, 1], ends[:-1, 1]], axis=1))
    quads = np.concatenate(ribbons)
    across, down = quads[:, 0] - quads[:, 2], quads[:, 1] - quads[:, 3]
    flipped = across[:, 0] * down[:, 1] - across[:, 1] * down[:, 0] > 0
    quads[flipped] = quads[flipped, ::-1]
    return [quads, _discs(risk, tolerance)]


def _discs(risk: RiskMap, tolerance: float) -> FloatArray:
    """(d, n, 2) discs about the vertices whose round shows beside the quads. [mm]"""
    fan = np.flatnonzero(risk.kind != "run")
    # one disc to a fan: its rows share a vertex
    moved = (np.hypot(*np.diff(risk.xy[fan], axis=0).T) > 1e-9) | (np.diff(risk.groove[fan]) != 0)
    new = np.append(True, moved)[: len(fan)]
    vertex = fan[new]
    if not vertex.size:
        return np.zeros((0, 3, 2))
    radius = risk.half_width[vertex]
    # the outer side of a corner that turns by t rounds by r t^2 / 8 at most: ends always show
    size = np.where(risk.kind[fan] == "corner", risk.lip_length[fan].sum(axis=1) / risk.half_width[fan], np.inf)
    turn = np.add.reduceat(size, np.flatnonzero(new))
    # a corner whose lip was removed still turns
    turn = np.where(turn > 0, turn, np.inf)
    shows = radius * np.minimum(turn, np.pi) ** 2 / 8 > tolerance
    count = int(np.clip(np.pi / np.sqrt(2 * tolerance / max(float(radius.max()), 1e-9)), 12, 72))
    around = -2 * np.pi * np.arange(count) / count
    circle = np.column_stack([np.cos(around), np.sin(around)])
    return np.asarray(risk.xy[vertex[shows], None] + radius[shows, None, None] * circle)
