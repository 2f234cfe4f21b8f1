"""Artists that know the page: lines beside a lip, fibres of a board. This module loads matplotlib: import it late."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np
from matplotlib.artist import allow_rasterization
from matplotlib.axes import Axes
from matplotlib.backend_bases import RendererBase
from matplotlib.collections import LineCollection
from matplotlib.offsetbox import AnchoredOffsetbox
from matplotlib.transforms import Bbox, IdentityTransform

from .._shared.arrays import FloatArray

__all__ = ["Beside", "Fibres", "Hung", "fibre_lines"]

APART = 4.5
"""Distance between neighbouring fibres. [pt]"""

FIBRE_WIDTHS = (0.45, 0.7, 0.95)
"""Widths of fibres' lines. [pt]"""

_SHARES = (0.45, 0.80, 1.0)  # how many of them, cumulated
_LEAST, _MOST = 50.0, 170.0  # length of one stroke of a fibre [pt]
_GAP = (3.0, 16.0)  # between two strokes of one fibre [pt]


class Beside(LineCollection):
    """Lines that run beside given ones, so many points of the page away from them, whatever the scale.

    Parameters
    ----------
    lines
        Points of each line. [mm]
    outward
        Unit vectors of the same points, the way to shift them.
    shifts
        Of each line. [pt]
    style
        As of a LineCollection.
    """

    def __init__(
        self, lines: Sequence[FloatArray], outward: Sequence[FloatArray], shifts: Sequence[float], **style: Any
    ) -> None:
        super().__init__(list(lines), **style)
        self._lines, self._outward, self._shifts = list(lines), list(outward), list(shifts)

    @allow_rasterization  # type: ignore[untyped-decorator]
    def draw(self, renderer: RendererBase) -> None:
        """Shift the lines by what a point is on this page, and draw them."""
        if self.get_visible() and isinstance(self.axes, Axes) and self.figure is not None:
            per_point = data_per_point(self.axes)
            shifted = [
                line + out * (shift * per_point)
                for line, out, shift in zip(self._lines, self._outward, self._shifts, strict=True)
            ]
            self.set_segments(shifted)
        super().draw(renderer)
        self.stale = False


class Hung(AnchoredOffsetbox):
    """A box below axes of equal scales, which ask a layout for room below their place, not below what they fill of it.

    A layout asks before it knows how much of their place such axes will fill. They stand at its top, so that what hangs
    from their foot needs most room when they fill all of it.
    """

    def get_tightbbox(self, renderer: RendererBase | None = None) -> Bbox | None:
        """Where the box would be if the axes filled their place."""
        box = super().get_tightbbox(renderer)
        if box is None or not isinstance(self.axes, Axes):
            return box
        place, filled = (self.axes.get_position(original=o) for o in (True, False))
        down = (filled.y0 - place.y0) * self.axes.figure.bbox.height
        return Bbox.from_extents(box.x0, box.y0 - down, box.x1, box.y1)


def data_per_point(ax: Axes) -> float:
    """How much of the data a point of the page is, along x. [mm/pt]"""
    (x0, _), (x1, _) = ax.transData.transform([[0.0, 0.0], [1.0, 0.0]])
    return float(ax.figure.dpi / 72 / max(abs(x1 - x0), 1e-12))


class Fibres(LineCollection):
    """The straight fibres of a board: fine broken lines over the whole of the axes, always so far apart on the page.

    Parameters
    ----------
    azimuth
        Which way they run. [deg]
    style
        As of a LineCollection.
    """

    def __init__(self, azimuth: float, **style: Any) -> None:
        super().__init__([], **style)
        self._azimuth = azimuth
        self.set_transform(IdentityTransform())

    @allow_rasterization  # type: ignore[untyped-decorator]
    def draw(self, renderer: RendererBase) -> None:
        """Lay the lines out over the axes, and draw them."""
        if self.get_visible() and isinstance(self.axes, Axes) and self.figure is not None:
            pixels = self.axes.figure.dpi / 72
            box = self.axes.bbox
            lines, widths = fibre_lines(self._azimuth, (box.width / pixels, box.height / pixels))
            self.set_segments([line * pixels + [box.x0, box.y0] for line in lines])
            self.set_linewidth(widths.tolist())
        super().draw(renderer)
        self.stale = False

    def get_tightbbox(self, renderer: RendererBase | None = None) -> Bbox | None:
        """The fibres end with the board, which asks for room of its own."""
        return None


def fibre_lines(azimuth: float, size: tuple[float, float]) -> tuple[list[FloatArray], FloatArray]:
    """Strokes of fibres over a page of a size, and their widths; the same each time. [pt]"""
    dice = np.random.default_rng(7)
    turn = np.radians(azimuth)
    along, across = np.array([np.cos(turn), np.sin(turn)]), np.array([-np.sin(turn), np.cos(turn)])
    middle, reach = np.array(size) / 2, float(np.hypot(*size)) / 2
    strokes = []
    for v in np.arange(-reach, reach, APART):
        v = v + dice.uniform(-0.25, 0.25) * APART
        u = -reach - dice.uniform(0.0, _MOST)
        while u < reach:
            length = dice.uniform(_LEAST, _MOST)
            strokes.append((u, u + length, v))
            u += length + dice.uniform(*_GAP)
    begin, end, v_ = np.array(strokes).T
    width = np.array(FIBRE_WIDTHS)[np.searchsorted(_SHARES, dice.uniform(0.0, 1.0, len(begin)), side="right")]
    # only what lies on the page: a vector file would hold the rest as well
    low, high = begin.copy(), end.copy()
    for axis in range(2):
        start = middle[axis] + v_ * across[axis]
        if abs(along[axis]) < 1e-9:
            high = np.where((start < 0) | (start > size[axis]), low, high)
            continue
        one, other = (0.0 - start) / along[axis], (size[axis] - start) / along[axis]
        low, high = np.maximum(low, np.minimum(one, other)), np.minimum(high, np.maximum(one, other))
    shown = high - low > 0.5
    ends = [middle + np.outer(t, along) + np.outer(v_, across) for t in (low, high)]
    return list(np.stack(ends, axis=1)[shown]), width[shown]
