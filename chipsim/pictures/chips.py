"""Tooth passes: the chips themselves."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from .._shared.arrays import FloatArray, integer
from ..chips.passes import ToothPasses
from ..errors import DomainError

if TYPE_CHECKING:
    from matplotlib.artist import Artist
    from matplotlib.axes import Axes
    from matplotlib.collections import PolyCollection
from .page import (
    INK,
    SOFT,
    annotate,
    axes_width,
    check_axes,
    draw_arrow,
    dress,
    fold,
    footer_height,
    legend_below,
    new_axes,
    risk_colours,
    trace,
)
from .traces import unit_vectors as data_per_point

__all__ = ["draw_tooth_passes"]


def draw_tooth_passes(
    passes: ToothPasses, ax: Axes | None = None, *, height: int = -1, last: int = 8
) -> PolyCollection:
    """Draw the paths of the edge in the last few passes, and the chips between them, in the plane of one height.

    A chip reaches from the edge inwards by its radial thickness; wood that a ray meets in several pieces (after a
    corner) is drawn as one.

    Parameters
    ----------
    passes
        From `tooth_passes`; angles every few degrees make smooth arcs.
    ax
        Axes to draw in; None: a new figure.
    height
        Index into `passes.heights`; default the uppermost.
    last
        How many passes, counted from the end, 1 to 1000.

    Returns
    -------
    PolyCollection
        The chips, a polygon for every unbroken stretch of a pass that cuts anything.

    Raises
    ------
    DomainError
        If `passes` is not a ToothPasses or a number is out of range.

    Examples
    --------
    >>> import chipsim as cs
    >>> cut = cs.Cut(cs.VBit(60, 12.7, 2), cs.line((0, 0), (20, 0), 2.5), 18_000, 1500)
    >>> passes = cs.tooth_passes(cut, start=10, stop=10.3, angles=range(0, 181, 10), heights=[1.5])
    >>> chips = cs.draw_tooth_passes(passes)
    >>> cs.save_figure(chips.figure, "chips.png")
    """
    from matplotlib.collections import LineCollection, PolyCollection
    from matplotlib.lines import Line2D
    from matplotlib.patches import Patch

    if not isinstance(passes, ToothPasses):
        raise DomainError(f"passes must be a ToothPasses, as from tooth_passes, got {type(passes).__name__}")
    h = integer("height", height, low=-len(passes.heights), high=len(passes.heights) - 1)
    rows = np.arange(len(passes))[-integer("last", last, low=1, high=1000) :]
    order = np.argsort(passes.angles, kind="stable")
    angles, axis, time = passes.angles[order], passes.axis_xy[rows][:, order], passes.time[rows][:, order]
    thickness = passes.radial_thickness[rows][:, order, h]
    turn = np.radians(passes.azimuth[rows][:, order])
    ray = np.stack([np.cos(turn), np.sin(turn)], axis=-1)
    edge = axis + passes.edge_radius_about_axis[rows, h][:, None, None] * ray
    edge[~np.isfinite(thickness)] = np.nan
    inner = edge - thickness[..., None] * ray

    arcs, chips, teeth = [], [], []
    for p, row in enumerate(rows):
        known = np.isfinite(edge[p]).all(axis=1)
        breaks = np.flatnonzero((np.diff(angles) > 90.0) | (known[1:] != known[:-1])) + 1
        for part in np.split(np.arange(len(angles)), breaks):
            if known[part[0]]:
                arcs.append(edge[p, part])
                if (thickness[p, part] > 0).any():
                    chips.append(np.vstack([edge[p, part], inner[p, part][::-1]]))
                    teeth.append(int(passes.flute[row]))

    points = np.concatenate([axis, edge]).reshape(-1, 2)
    points = points[np.isfinite(points).all(axis=1)] if np.isfinite(points).any() else np.zeros((1, 2))
    low, high = points.min(axis=0), points.max(axis=0)
    margin = max(0.1 * float((high - low).max()), 1e-3)
    low, high = low - margin, high + margin
    empty = "" if arcs else ", where there is no wood"
    lines = [f"last {len(rows)} of {len(passes)} passes, {passes.heights[h]:.2f} mm above the tip{empty}"]
    lines.append(passes.caption)
    flutes = np.unique(passes.flute[rows]).tolist()
    check_axes(ax)
    if ax is None:
        scale = 4.6 / float((high - low).max())
        wide = np.array([max(0.0, 2.8 / scale - (high - low)[0]) / 2, 0.0])
        low, high = low - wide, high + wide
        size = scale * (high - low)
        ax = new_axes(size, footer_height([(0, fold(lines, 72 * size[0]))]) + 0.17 * (len(flutes) + 1))
    tones = {flute: risk_colours()(0.08 + 0.34 * i / max(len(flutes) - 1, 1)) for i, flute in enumerate(flutes)}
    artist = PolyCollection(chips, facecolors=[tones[flute] for flute in teeth], edgecolors="none", zorder=1)
    artist.set(gid="chips")
    ax.add_collection(artist, autolim=False)
    ax.add_collection(LineCollection(arcs, colors=INK, linewidths=0.6, zorder=2, gid="edges"), autolim=False)
    middle = int(np.argmin(np.abs(angles - 90.0)))
    track = axis[:, middle][np.isfinite(axis[:, middle]).all(axis=1)]
    trace(ax, track, linestyle="", marker="+", color=INK, markersize=4, markeredgewidth=0.6, gid="spindle axis")
    if len(track) > 1:
        draw_arrow(ax, track[0], track[-1], "-|>", zorder=3)
    _angle_ticks(ax, axis, edge, angles)
    for points, when in zip(edge[::-1], time[::-1], strict=True):
        known = np.isfinite(points).all(axis=1) & np.isfinite(when)
        if known.sum() > 2:
            # a head on the last arc, the way the edge goes
            way = points[known][np.argsort(when[known], kind="stable")]
            draw_arrow(ax, way[len(way) // 3], way[len(way) // 3 + 1], "-|>", zorder=4)
            break
    ax.set_xlim(low[0], high[0])
    ax.set_ylim(low[1], high[1])
    dress(ax, "x [mm]", "y [mm]", "Tooth passes and their chips")
    # with runout one flute may do most of the other's work, so that its chip is too thin to be seen
    most = {flute: 1000 * np.nanmax(thickness[passes.flute[rows] == flute], initial=0.0) for flute in flutes}
    words_of = {flute: f"chip of flute {flute}, to {most[flute]:.3g} um" for flute in flutes}
    handles: list[Artist] = [Patch(facecolor=tones[flute], label=words_of[flute]) for flute in flutes]
    words = f"spindle axis when the edge is at {angles[middle]:g} deg"
    handles.append(Line2D([], [], linestyle="", marker="+", markersize=4, color=INK, label=words))
    legend_below(ax, handles, lines, axes_width(ax), -32)
    return artist


def _angle_ticks(ax: Axes, axis: FloatArray, edge: FloatArray, angles: FloatArray) -> None:
    """Rays at 0, 90 and 180 degrees, where the table has them, each of the last pass that reaches it."""
    for want in (0.0, 90.0, 180.0):
        found = np.argwhere((np.abs(angles - want) < 1e-6) & np.isfinite(edge).all(axis=2))
        if not len(found):
            continue
        p, k = found[-1]
        a, b = axis[p, k], edge[p, k]
        trace(ax, np.array([a, b]), color=SOFT, linewidth=0.5, linestyle=(0, (5, 3)), zorder=1.5, gid="angle tick")
        shift = 10 * data_per_point((b - a)[None])[0]
        annotate(ax, f"{want:.0f}°", (b[0], b[1]), (shift[0], shift[1]), ha="center", va="center")
