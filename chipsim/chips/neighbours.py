"""Which stretches of a carving's cuts come near which other cuts, found without looking at all pairs.

Every cut is divided into stretches of some groove widths, each with a box round its groove. Boxes are hashed into
square cells of their own size, a power of two, so that each lies in four cells at most of its own size and of every
larger one: work and memory go with the number of stretches, the sizes that occur and the pairs that do meet.
"""

from __future__ import annotations

import numpy as np

from .._shared.arrays import FloatArray
from ..scene.cuts import Carving, Cut
from ..scene.cutters import width_at

__all__ = ["Neighbours", "cut_box", "meeting_boxes"]

_MARGIN = 1.0
"""Of a box beyond its groove: what neighbours leave of the wood matters a little beyond what they remove. [mm]"""

_WIDTHS = 16.0
"""Length of a stretch in half-widths of the groove: short beside a letter, long beside the cost of a box."""


class Neighbours:
    """Cuts that come near each stretch of each cut of a carving."""

    def __init__(self, carving: Carving) -> None:
        boxes = [_stretches(cut) for cut in carving]
        count = np.array([len(edges) - 1 for edges, _, _ in boxes])
        cut = np.repeat(np.arange(len(boxes)), count)
        one, two = meeting_boxes(np.concatenate([b[1] for b in boxes]), np.concatenate([b[2] for b in boxes]))
        apart = cut[one] != cut[two]
        one, two = one[apart], two[apart]
        # both ways round; one entry for each stretch and each cut it meets
        pairs = np.unique(np.column_stack([np.append(one, two), cut[np.append(two, one)]]), axis=0)
        self._edges = [edges for edges, _, _ in boxes]
        self._begin = np.cumsum([0, *count])
        self._stretch, self._other = pairs.T

    def along(self, i: int, start: float, stop: float) -> list[int]:
        """Numbers of the cuts that come near cut `i` between two arc lengths [mm], in order."""
        edges = self._edges[i]
        low = max(int(np.searchsorted(edges, start - 1e-6)) - 1, 0)
        high = min(int(np.searchsorted(edges, stop + 1e-6, side="right")), len(edges) - 1)
        a, b = np.searchsorted(self._stretch, [self._begin[i] + low, self._begin[i] + high])
        return [int(j) for j in np.unique(self._other[a:b])]


def _stretches(cut: Cut) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Arc lengths (k + 1,) that part a cut into stretches, and corners (k, 2) of the boxes round them. [mm]"""
    path = cut.path
    radius = float(width_at(cut.knots, path.depth.max())) + cut.bit.runout + _MARGIN
    parts = max(1, int(np.ceil(path.length / (_WIDTHS * radius))))
    edges = path.length * np.arange(parts + 1) / parts
    if path.length == 0.0:
        # a dot: one place
        return np.zeros(2), path.xy[:1] - radius, path.xy[:1] + radius
    at = np.unique(np.concatenate([edges, path.joints]))
    xy = path.position(np.clip(at, 0.0, path.length))
    # an arc stays within half its length of its ends; at an edge both stretches hold the point
    bow = np.where(path.curvature((at[1:] + at[:-1]) / 2) == 0, 0.0, np.diff(at) / 2)[:, None] + radius
    low, high = np.minimum(xy[1:], xy[:-1]) - bow, np.maximum(xy[1:], xy[:-1]) + bow
    first = np.searchsorted(at, edges[:-1])
    return edges, np.minimum.reduceat(low, first, axis=0), np.maximum.reduceat(high, first, axis=0)


def cut_box(cut: Cut) -> tuple[FloatArray, FloatArray]:
    """Corners of a box round the groove of a whole cut. [mm]"""
    _, low, high = _stretches(cut)
    return low.min(axis=0), high.max(axis=0)


def meeting_boxes(low: FloatArray, high: FloatArray) -> tuple[np.ndarray, np.ndarray]:
    """Numbers of all pairs of boxes, corners (n, 2), that touch or overlap; each pair once."""
    level = np.ceil(np.log2(np.maximum((high - low).max(axis=1), 1e-3))).astype(int)
    found = [np.empty((0, 2), dtype=np.int64)]
    for size in np.unique(level):
        # every pair is found at the level of its larger box
        members, smaller = np.flatnonzero(level == size), np.flatnonzero(level <= size)
        ours, keys = _cells(low[members], high[members], 2.0**size)
        theirs, wanted = _cells(low[smaller], high[smaller], 2.0**size)
        _, place = np.unique(np.concatenate([keys, wanted]), axis=0, return_inverse=True)
        mine, his = np.split(place.reshape(-1), [len(keys)])
        order = np.argsort(mine, kind="stable")
        ours, mine = members[ours[order]], mine[order]
        begin, end = np.searchsorted(mine, his), np.searchsorted(mine, his, side="right")
        times = end - begin
        a = np.repeat(smaller[theirs], times)
        b = ours[np.repeat(begin - np.cumsum(times) + times, times) + np.arange(times.sum())]
        meets = ((low[a] <= high[b]) & (low[b] <= high[a])).all(axis=1) & ((level[a] < size) | (a < b))
        found.append(np.unique(np.column_stack([a[meets], b[meets]]), axis=0))
    pairs = np.concatenate(found)
    return pairs[:, 0], pairs[:, 1]


def _cells(low: FloatArray, high: FloatArray, size: float) -> tuple[np.ndarray, np.ndarray]:
    """Number of the box and cell (column, row) for every cell a box of at most that size touches."""
    at, to = np.floor(low / size).astype(np.int64), np.floor(high / size).astype(np.int64)
    which, cells = [], []
    for i in (0, 1):
        for j in (0, 1):
            inside = np.flatnonzero((at[:, 0] + i <= to[:, 0]) & (at[:, 1] + j <= to[:, 1]))
            which.append(inside)
            cells.append(at[inside] + [i, j])
    return np.concatenate(which), np.concatenate(cells)
