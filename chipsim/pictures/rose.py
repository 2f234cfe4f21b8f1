"""The rose: one set-up in every direction."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from .._shared.arrays import FloatArray
from ..damage.maps import CLASSES, RiskMap
from ..damage.rose import Rose
from ..errors import DomainError

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.collections import Collection
from .page import (
    DASH,
    INK,
    NOTE,
    SOFT,
    TITLE,
    caption_of,
    common_azimuth,
    draw_arrow,
    legend_below,
    lip_kinds,
    risk_colours,
)
from .risk_map import knowledge_lines

__all__ = ["draw_rose"]


def draw_rose(thing: Rose | RiskMap, ax: Axes | None = None, *, risk_name: str = "damage") -> Collection:
    """Draw a risk against the direction of travel, 0 to the right, counter-clockwise, with the grain as an axis.

    Parameters
    ----------
    thing
        A `Rose` (lines), or a `RiskMap` (a point for every piece of lip, against the lip's own direction).
    ax
        Polar axes; None: a new figure.
    risk_name
        'damage', 'fuzz', 'tear' or 'scorch'.

    Returns
    -------
    LineCollection or PathCollection
        For a Rose two lines, the left lip solid, the right one dashed; for a map points, left (dots) and right (open
        diamonds) in turn. The radius ends at the end of the class that the highest value is in.

    Raises
    ------
    DomainError
        If `thing` is neither, the axes are not polar or the name of the risk is unknown.

    Examples
    --------
    >>> import chipsim as cs
    >>> cut = cs.Cut(cs.VBit(60, 12.7, 2), cs.ring(5, 1.5), 18_000, 1500)
    >>> board = cs.Board(cs.wood("black cherry"), cs.straight_grain(azimuth=0))
    >>> lines = cs.draw_rose(cs.risk_rose(cut, board))
    >>> cs.save_figure(lines.figure, "rose.png")
    """
    from matplotlib.collections import LineCollection, PathCollection
    from matplotlib.lines import Line2D
    from matplotlib.markers import MarkerStyle
    from matplotlib.projections.polar import PolarAxes
    from matplotlib.transforms import IdentityTransform

    if not isinstance(thing, Rose | RiskMap):
        raise DomainError(f"thing must be a Rose or a RiskMap, got {type(thing).__name__}")
    if ax is None:
        import matplotlib.pyplot as plt

        ax = plt.subplots(figsize=(4.6, 5.2), layout="constrained", subplot_kw={"projection": "polar"})[1]
    if not isinstance(ax, PolarAxes):
        raise DomainError(f"ax must be polar, as from subplot_kw={{'projection': 'polar'}}, got {type(ax).__name__}")
    dark, light = risk_colours()(0.95), risk_colours()(0.5)
    names = [f"{side} lip ({kind})" for side, kind in zip(("left", "right"), lip_kinds(thing.setup), strict=True)]
    angle, value = np.radians(thing.heading), np.where(thing.exists, thing.values(risk_name), np.nan)
    artist: Collection
    style: dict[str, Any]
    if isinstance(thing, Rose):
        grain: float | None = thing.grain_azimuth
        order = np.argsort(angle, kind="stable")
        step = np.diff(angle[order]).max(initial=0.0)
        if len(order) > 2 and (angle[order[0]] - angle[order[-1]]) % (2 * np.pi) <= 1.5 * step:
            order = np.append(order, order[0])  # the last heading is a step short of the first: close the ring
        artist = LineCollection([np.column_stack([angle, value[:, k]])[order] for k in range(2)], zorder=3, gid="rose")
        artist.set(color=[dark, light], linestyle=["solid", DASH], linewidth=1.6)
        looks = [{"color": dark}, {"color": light, "linestyle": DASH}]
        handles = [Line2D([], [], linewidth=1.6, label=n, **style) for n, style in zip(names, looks, strict=True)]
    else:
        grain = common_azimuth(thing.fibre_azimuth)
        shapes = [MarkerStyle(m).get_path().transformed(MarkerStyle(m).get_transform()) for m in ("o", "D")]
        spots = np.column_stack([angle.ravel(), value.ravel()])
        # two shapes, sizes and fills taken in turn, as the rows run left, right, left, right
        artist = PathCollection(shapes, sizes=[4.0, 16.0], offsets=spots, offset_transform=ax.transData, gid="rose")
        artist.set(facecolor=[dark, "none"], edgecolor=dark, linewidth=0.4, zorder=3)
        artist.set_transform(IdentityTransform())
        style = {"color": dark, "linestyle": "", "markeredgewidth": 0.6}
        looks = [{"marker": "o", "markersize": 2}, {"marker": "D", "markersize": 4, "markerfacecolor": "none"}]
        handles = [Line2D([], [], label=n, **style, **look) for n, look in zip(names, looks, strict=True)]
    ax.add_collection(artist, autolim=False)
    bounds = [min(b, 1.0) for b in CLASSES.values()]
    top = next(b for b in bounds if np.max(value, initial=0.0, where=np.isfinite(value)) <= b)
    ax.set_theta_zero_location("E")
    ax.set_theta_direction(1)
    ax.set_rlim(0.0, top)
    rings = [b for b in bounds if b <= top]
    words = [f"{b:.2f}" if b > 0.15 * top else "" for b in rings]
    ax.set_rgrids(rings, words, angle=_quiet_angle(thing.heading, value), **NOTE)
    ax.set_thetagrids(np.arange(0, 360, 30), **NOTE)
    ax.grid(color="0.75", linewidth=0.4)
    ax.spines["polar"].set(color=SOFT, linewidth=0.6)
    if grain is not None and np.isfinite(grain):
        for turn in (0.0, 180.0):
            draw_arrow(ax, (0, 0), (np.radians(grain + turn), top), "-|>", zorder=2, color=SOFT, linewidth=0.9)
        handles.append(Line2D([], [], color=SOFT, linewidth=0.9, label=f"grain, azimuth {grain:g} deg"))
    ax.set_title(
        f"{risk_name.capitalize()} [-] against direction of travel [deg]",
        loc="left",
        fontsize=TITLE,
        color=INK,
        pad=16,
    )
    legend_below(ax, handles, [*caption_of(thing.setup), *knowledge_lines(thing)], 290, -24)
    return artist


def _quiet_angle(heading: FloatArray, value: FloatArray) -> float:
    """Azimuth between two spokes where least is drawn, for the labels of the rings. [deg]"""
    angle = np.broadcast_to(heading.reshape(len(heading), -1), value.shape)
    spots = np.arange(15.0, 360.0, 30.0)
    near = [(np.cos(np.radians(angle - spot)) > 0.966) & (value > 0) for spot in spots]
    return float(spots[int(np.argmin([np.max(value, initial=0.0, where=close) for close in near]))])
