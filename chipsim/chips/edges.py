"""What the kernels are told of a bit: its spindle, and its edges as an outline or, where flutes differ, a table."""

from __future__ import annotations

import numpy as np

from .._shared.arrays import FloatArray
from ..kernels import columns
from ..scene.cuts import Cut
from ..scene.edges import Edges

__all__ = ["edges_of", "outline_of", "spindle_of", "widened"]


def outline_of(cut: Cut) -> tuple[FloatArray, FloatArray]:
    """Heights and radii of a bit's outline, each (k,). [mm]"""
    # The kernels are compiled for writable arrays; the cut's own are read-only.
    heights, radii = cut.knots
    return heights.copy(), radii.copy()


def edges_of(cut: Cut) -> tuple[FloatArray, FloatArray]:
    """What the kernels ask of a bit's flutes: heights (k,) and radii (k,), or its table (k, m). [mm, rad]"""
    return outline_of(cut) if cut.edges is None else _table(cut.edges)


def widened(edges: tuple[FloatArray, FloatArray], flutes: int) -> tuple[FloatArray, FloatArray]:
    """The same as a table of a bit with at least so many flutes."""
    heights, radii = edges
    table = radii[:, None] if radii.ndim == 1 else radii
    width = columns.FIRST + columns.PER_FLUTE * flutes
    return heights, np.pad(table, ((0, 0), (0, width - table.shape[1])))


def _table(edges: Edges) -> tuple[FloatArray, FloatArray]:
    """Heights (k,) and the table (k, m) that `kernels.outline` describes."""
    laws, set_back, raised = edges
    heights, radii = laws[0].heights, laws[0].radii
    table = np.zeros((len(heights), columns.FIRST + columns.PER_FLUTE * len(laws)))
    table[:, columns.RADIUS] = radii
    above = np.r_[radii[1:], radii[-1]]
    slope = np.r_[np.diff(radii) / np.diff(heights), 0.0]
    bounds = np.zeros(3)
    for j, law in enumerate(laws):
        at = columns.FIRST + columns.PER_FLUTE * j
        table[:, at + columns.LAG], table[:, at + columns.PER_HEIGHT] = law.lag, law.per_height
        table[:, at + columns.PER_LOG] = law.per_log
        table[:, at + columns.BACK] = set_back[j] if len(set_back) else 0.0
        table[:, at + columns.RAISED] = raised[j] if len(raised) else 0.0
        straight, spiral = np.abs(law.per_height), np.abs(law.per_log)
        near = np.where(spiral > 0, slope / np.where(radii > 0, radii, 1.0), 0.0)
        turns = straight + spiral * near
        aside = straight * above + spiral * slope
        curl = spiral * slope * near + 2 * slope * turns + aside * turns
        bounds = np.maximum(bounds, [turns.max(), aside.max(), curl.max()])
    table[:, columns.TURNS : columns.FIRST] = bounds
    return heights.copy(), table


def spindle_of(cut: Cut) -> tuple[float, float, float, float, float, float]:
    """Sense and speed of the spindle, flutes, runout and its azimuth, phase. [rad/s, mm, rad]"""
    bit = cut.bit
    return (
        -1.0 if cut.spin == "cw" else 1.0,
        cut.spindle_speed * 2 * np.pi / 60,
        float(bit.flutes),
        float(bit.runout),
        float(np.radians(bit.runout_azimuth)),
        float(np.radians(cut.phase)),
    )
