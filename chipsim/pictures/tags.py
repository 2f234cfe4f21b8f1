"""Where tags go: beside what they name, with a hair to it, and over nothing."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np

from .._shared.arrays import FloatArray

__all__ = ["Ground", "Tag", "place_tags"]

_CELL = 1.2  # of the raster on which is written what is taken [pt]
_DISTANCES = (13.0, 17.0, 21.0, 26.0, 32.0, 40.0, 50.0, 62.0, 78.0, 98.0, 124.0)  # from lip to a tag's middle [pt]
_TURNS = np.radians(np.arange(0.0, 360.0, 15.0))
_AIR = 1.0  # round a tag [pt]
_CROSSED = 7.0  # what a point of hair over something costs, in points of hair


class Tag(NamedTuple):
    """A tag that has found its place: middle of its box, foot of its hair, and which of those offered that is. [pt]"""

    middle: FloatArray
    foot: FloatArray
    chosen: int


class Ground:
    """What of a page is taken, on a raster.

    Parameters
    ----------
    size
        Width and height of the page. [pt]
    """

    def __init__(self, size: tuple[float, float]) -> None:
        self.size = size
        self.taken = np.zeros((int(size[1] / _CELL) + 1, int(size[0] / _CELL) + 1), dtype=bool)

    def take_discs(self, middle: FloatArray, radius: FloatArray) -> None:
        """Discs about (n, 2) points, of (n,) radii. [pt]"""
        place = np.floor(middle / _CELL).astype(int)
        cells = np.ceil(np.broadcast_to(radius, len(middle)) / _CELL).astype(int)
        every = np.unique(np.column_stack([place, cells]), axis=0)
        height, width = self.taken.shape
        for reach in np.unique(every[:, 2]):
            at = every[every[:, 2] == reach, :2]
            # a point may lie anywhere in its cell: every cell that its disc can reach
            for dy in np.arange(-reach - 1, reach + 2):
                half = int(np.sqrt(reach**2 - max(abs(dy) - 1, 0) ** 2)) + 1
                # a row of a disc at a time: ends are marked, and what lies between is filled
                y = at[:, 1] + dy
                inside = (y >= 0) & (y < height)
                line = np.zeros((height, width + 1), dtype=int)
                np.add.at(line, (y[inside], np.clip(at[inside, 0] - half, 0, width)), 1)
                np.add.at(line, (y[inside], np.clip(at[inside, 0] + half + 1, 0, width)), -1)
                self.taken |= np.cumsum(line, axis=1)[:, :-1] > 0

    def take_box(self, low: FloatArray, high: FloatArray) -> None:
        """A box from its lower left to its upper right corner. [pt]"""
        a, b = (np.maximum(np.floor(np.asarray(p) / _CELL).astype(int), 0) for p in (low, high))
        self.taken[a[1] : b[1] + 1, a[0] : b[0] + 1] = True

    def sums(self) -> np.ndarray:
        """Cells taken below and to the left of every corner of the raster."""
        return np.pad(np.cumsum(np.cumsum(self.taken, axis=0), axis=1), ((1, 0), (1, 0)))

    def is_taken(self, points: FloatArray) -> np.ndarray:
        """Whether each of (..., 2) points is taken, or lies off the page."""
        cell = np.floor(points / _CELL).astype(int)
        height, width = self.taken.shape
        on = (cell >= 0).all(axis=-1) & (cell[..., 0] < width) & (cell[..., 1] < height)
        taken = self.taken[np.clip(cell[..., 1], 0, height - 1), np.clip(cell[..., 0], 0, width - 1)]
        return np.asarray(~on | taken)


def place_tags(
    ground: Ground, feet: Sequence[FloatArray], outward: Sequence[FloatArray], sizes: Sequence[tuple[float, float]]
) -> list[Tag | None]:
    """Find a place for each tag in turn, the nearest to what it names that is free, if there is one.

    A tag lies on the page and covers nothing that is taken, nor another tag. Of the free places that is taken which
    has the shortest hair, counting more what points back over the groove and what runs across anything.

    Parameters
    ----------
    ground
        What is taken; the tags are added to it.
    feet, outward
        Of each tag (f, 2) points of what it names, one of which the hair goes to, and unit vectors away from the
        groove there. [pt, -]
    sizes
        Width and height of each tag. [pt]
    """
    found: list[Tag | None] = []
    for spots, ways_out, (wide, high) in zip(feet, outward, sizes, strict=True):
        ways = np.column_stack([np.cos(_TURNS), np.sin(_TURNS)])
        half = np.array([wide, high]) / 2 + _AIR
        # a wide tag beside its foot is further away than one above it
        reach = np.abs(ways) @ (half - np.array([8.0, 8.0])).clip(0.0)
        middle = spots[:, None, None, :] + (np.array(_DISTANCES)[:, None] + reach)[..., None] * ways
        free = (middle - half >= 0).all(-1) & (middle + half <= ground.size).all(-1)
        sums, most = ground.sums(), np.array(ground.taken.shape)[::-1]
        a = np.clip(np.floor((middle - half) / _CELL).astype(int), 0, most)
        b = np.clip(np.floor((middle + half) / _CELL).astype(int) + 1, 0, most)
        within = sums[b[..., 1], b[..., 0]] + sums[a[..., 1], a[..., 0]]
        within -= sums[a[..., 1], b[..., 0]] + sums[b[..., 1], a[..., 0]]
        free &= within == 0
        if not free.any():
            found.append(None)
            continue
        # the hair, from past the line that it points at
        along = np.linspace(0.0, 1.0, 24)[:, None, None, None]
        arm = middle - spots[:, None, None, :]
        length = np.hypot(*np.moveaxis(arm, -1, 0))
        hair = spots[:, None, None, :] + along[..., None] * arm
        crossed = (ground.is_taken(hair) & (along * length > 8.0)).mean(axis=0) * length
        lean = np.einsum("wk,fk->fw", ways, ways_out)[:, None, :]
        cost = length * (1.0 + 0.5 * (1.0 - lean)) + _CROSSED * crossed
        best = np.unravel_index(int(np.argmin(np.where(free, cost, np.inf))), free.shape)
        at = middle[best]
        ground.take_box(at - half, at + half)
        ground.take_discs(spots[best[0]] + np.linspace(0.0, 1.0, 60)[:, None] * (at - spots[best[0]]), np.ones(60))
        found.append(Tag(at, spots[best[0]], int(best[0])))
    return found
