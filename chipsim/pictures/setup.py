"""The set-up: a bit's outline in its groove, the feed that a machine reaches."""

from __future__ import annotations

from itertools import pairwise
from typing import TYPE_CHECKING, Any

import numpy as np

from .._shared.arrays import number
from ..errors import DomainError
from ..scene.cuts import Cut
from ..scene.cutters import Cutter, as_cutter, cone_angle, profile_knots, runout_text
from ..units import feeds_text, length_text

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.collections import LineCollection
    from matplotlib.lines import Line2D
from .page import (
    BOARD,
    BODY,
    DASH,
    HOLLOW,
    INK,
    KEY,
    SOFT,
    UMBER,
    WOOD,
    annotate,
    axes_width,
    check_axes,
    draw_arrow,
    draw_footer,
    draw_head,
    dress,
    fold,
    footer_height,
    head_height,
    head_lines,
    new_axes,
    new_page,
    page_inks,
    shifted_by_points,
    trace,
)

__all__ = ["draw_profile", "draw_reached_feed"]


def draw_profile(bit: Cutter, ax: Axes | None = None, *, depth: float | None = None) -> LineCollection:
    """Draw the outline of a bit's edges on both sides of its axis, the tip at height 0.

    Parameters
    ----------
    bit
        `VBit`, `ProfileBit` or any `Cutter`.
    ax
        Axes to draw in; None: a new figure.
    depth
        Depth of cut, above 0: adds the board in section, the groove's width and its depth. [mm]

    Returns
    -------
    LineCollection
        The outline from the axis upwards, right half and left half. [mm]

    Raises
    ------
    DomainError
        If `bit` is not a Cutter or the depth is out of range.

    Examples
    --------
    >>> import chipsim as cs
    >>> outline = cs.draw_profile(cs.VBit(60, 12.7, 2), depth=2.5)
    >>> cs.save_figure(outline.figure, "bit.png")
    """
    from matplotlib.collections import LineCollection
    from matplotlib.patches import Polygon

    as_cutter(bit)
    deep = 0.0 if depth is None else number("depth", depth, low=0, high=300, unit="mm", open_low=True)
    edge_length = bit.cutting_length or 0.0
    heights, radii = profile_knots(bit, max(deep, edge_length) or bit.diameter)
    top = max(float(heights[-1]), deep, edge_length) + 0.12 * bit.diameter
    shoulder = [float(bit.radius(np.asarray(top))), top]
    half = np.vstack([[0.0, 0.0], np.column_stack([radii, heights]), shoulder])
    angle = cone_angle(bit)
    shape = "Profile bit" if angle is None else f"V-bit, included angle {angle:g} deg"
    lines = [
        f"{bit.flutes} flute{'s' if bit.flutes > 1 else ''}, rake {bit.rake:g} deg, clearance {bit.clearance:g} deg, "
        f"edge radius {1000 * bit.edge_radius:.3g} um, {runout_text([bit])}"
    ]
    if bit.max_spindle_speed is not None:
        lines.append(f"marked maximum {bit.max_spindle_speed:g} rpm")
    reach, bottom = 0.65 * bit.diameter, -(0.3 if deep else 0.1) * bit.diameter
    check_axes(ax)
    if ax is None:
        scale = min(4.0 / (2 * reach), 4.6 / (top - bottom))
        reach = max(reach, 1.6 / scale)
        width = 2 * reach * scale
        ax = new_axes((width, (top - bottom) * scale), footer_height([(0, fold(lines, 72 * width))]))
    artist = LineCollection([half, half * [-1, 1]], colors=INK, linewidths=1.3, zorder=3, gid="outline")
    ax.add_collection(artist, autolim=False)
    solid = np.vstack([half, (half * [-1, 1])[::-1]])
    ax.add_patch(Polygon(solid, closed=True, facecolor=BODY, edgecolor="none", zorder=2, gid="bit"))
    chain = {"color": SOFT, "linewidth": 0.5, "zorder": 3.5}
    trace(ax, np.array([[0.0, 2 * bottom], [0.0, top]]), linestyle=(0, (10, 2, 2, 2)), gid="axis", **chain)
    if edge_length:
        level = np.array([[-2 * reach, edge_length], [2 * reach, edge_length]])
        trace(ax, level, linestyle=(0, (6, 3)), gid="cutting length", **chain)
        annotate(ax, f"cutting length {edge_length:g} mm", (0.0, edge_length), (4, 3), zorder=6)
    if deep:
        _groove(ax, float(bit.radius(np.asarray(deep))), deep, reach, 0.1 * bit.diameter)
    ax.set_xlim(-reach, reach)
    ax.set_ylim(bottom, top)
    dress(ax, "radius [mm]", "height above the tip [mm]", f"{shape}, {length_text(bit.diameter)}")
    draw_footer(ax, [(0, fold(lines, axes_width(ax)))])
    return artist


def _groove(ax: Axes, half_width: float, depth: float, reach: float, step: float) -> None:
    """The board in section, and the groove's width and depth as dimensions."""
    from matplotlib.patches import Rectangle

    board = Rectangle((-2 * reach, -4 * step), 4 * reach, depth + 4 * step, facecolor=WOOD, edgecolor="none", zorder=1)
    board.set_gid("board")
    ax.add_patch(board)
    thin: dict[str, Any] = {"color": INK, "linewidth": 0.4, "zorder": 4, "gid": "extension line"}
    trace(ax, np.array([[-2 * reach, depth], [2 * reach, depth]]), color=INK, linewidth=0.8, zorder=2.5, gid="face")
    x, y = 0.85 * reach, -1.3 * step
    for side in (-half_width, half_width):
        trace(ax, np.array([[side, depth], [side, y - 0.3 * step]]), **thin)
    trace(ax, np.array([[0.0, 0.0], [x + 0.3 * step, 0.0]]), **thin)
    draw_arrow(ax, (-half_width, y), (half_width, y), "<|-|>", zorder=5, mutation_scale=6)
    draw_arrow(ax, (x, 0.0), (x, depth), "<|-|>", zorder=5, mutation_scale=6)
    plate = {"boxstyle": "square,pad=0.1", "facecolor": WOOD, "edgecolor": "none"}
    below: dict[str, Any] = {"va": "top", "bbox": plate, "zorder": 6}
    annotate(ax, f"groove {length_text(2 * half_width)} wide", (0.0, y), (0, -9), ha="center", **below)
    annotate(ax, f"{length_text(depth)} deep", (x, 0.0), (6, -3), ha="right", **below)


def draw_reached_feed(cut: Cut, ax: Axes | None = None, *, title: str | None = None) -> Line2D:
    """Draw the actual feed along a cut against the programmed one, shaded where it falls short.

    Parameters
    ----------
    cut
        The cut; without a machine the actual feed is taken for the programmed one.
    ax
        Axes to draw in; None makes a figure.
    title
        Over the picture; None: the answer in a few words; '': none.

    Returns
    -------
    matplotlib.lines.Line2D
        Actual feed [mm/min] against arc length [mm]; the speed's square is linear between its stations, so that a few
        points a stretch follow it.

    Examples
    --------
    >>> import chipsim as cs
    >>> cut = cs.Cut(cs.VBit(60, 12.7, 2), cs.ring(5, 2), 18_000, 3000, machine=cs.Machine(300, 3000))
    >>> line = cs.draw_reached_feed(cut)
    >>> cs.save_figure(line.figure, "feed.png")
    """
    if not isinstance(cut, Cut):
        raise DomainError(f"cut must be a Cut, got {type(cut).__name__}")
    if not cut.path.length:
        raise DomainError("cut must move in the board's face, got one that only goes down and up")
    profile = cut.speed_profile
    ends = profile.station
    station = np.unique(np.concatenate([a + (b - a) * np.linspace(0, 1, 9) for a, b in pairwise(ends)]))
    reached = 60.0 * profile.speed_at(station)
    check_axes(ax)
    short_of = float(profile.share_below(0.95))
    answer, lines = _feed_words(cut, float(reached.max()), short_of)
    answer = answer if title is None else title
    if ax is None:
        above = head_height(*head_lines(answer, lines, 72 * 6.4))
        ax = new_page((6.4, 2.1), above, 0.85, 0.75, left=0.75)
    ink, soft, _ = page_inks(ax)
    typed = 60.0 * profile.typed_at(station)
    (artist,) = ax.plot(station, reached, color=INK, linewidth=1.2, label="actual feed", zorder=3)
    ax.plot(station, typed, color=UMBER, linewidth=0.9, linestyle=DASH, label="programmed feed", drawstyle="steps-post")
    ax.fill_between(station, 0, reached, facecolor=BOARD, edgecolor="none", zorder=0.5)
    short = reached < 0.95 * typed
    if short.any():
        ax.fill_between(station, 0, reached, where=short, facecolor=HOLLOW, edgecolor="none", zorder=1,
                        label="below 95 % of it")  # fmt: skip
    ax.set_xlim(0, cut.path.length)
    ax.set_ylim(0, 1.15 * float(typed.max()))
    teeth = cut.spindle_speed * cut.bit.flutes
    per_tooth = ax.secondary_yaxis("right", functions=(lambda f: np.divide(f, teeth), lambda f: np.multiply(f, teeth)))
    per_tooth.set_ylabel("feed per tooth [mm]", fontsize=KEY, color=ink)
    ax.set_xlabel("along the path [mm]", fontsize=KEY, color=ink)
    ax.set_ylabel("feed [mm/min]", fontsize=KEY, color=ink)
    for each in (ax, per_tooth):
        each.tick_params(labelsize=KEY - 1, colors=soft, width=0.5, length=2.5)
    ax.spines["top"].set_visible(False)
    draw_head(ax, *head_lines(answer, lines, max(axes_width(ax), 200.0)))
    place: dict[str, Any] = {"loc": "upper left", "bbox_to_anchor": (0.0, 0.0), "borderaxespad": 0, "frameon": False}
    ax.legend(fontsize=KEY, ncols=3, bbox_transform=shifted_by_points(ax, 0, -32), labelcolor=ink, **place)
    return artist


def _feed_words(cut: Cut, most: float, short: float) -> tuple[str, list[str]]:
    """Whether the machine comes up to the programmed feed, and what is assumed of its corners."""
    programmed = f"Programmed: {feeds_text(cut.typed_feeds)} over {length_text(cut.path.length, 0)}."
    if cut.machine is None:
        return "No machine was given: the programmed feed is assumed", [programmed]
    lines = [programmed, cut.machine.corner_words]
    if short < 0.005:
        return "The machine keeps the programmed feed", lines
    if short > 0.995:
        return f"The machine never comes up to the programmed feed: {most:.0f} mm/min at most", lines
    return f"On {100 * short:.0f} % of the way the machine is slower than programmed", lines
