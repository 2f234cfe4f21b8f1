"""How to lay a design on the grain: as drawn, turned, and what every turn leaves to do."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from .._shared.arrays import FloatArray, choice
from ..choosing.layout import Layout, LayoutRow
from ..choosing.summaries import RISKS
from ..damage.maps import RiskMap
from ..damage.scale import CLASSES, PRIOR, REWORK, RISK_WORDS
from ..errors import DomainError

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.collections import LineCollection
    from matplotlib.offsetbox import OffsetBox
from .page import (
    BOARD,
    DASH,
    DOT,
    INK,
    KEY,
    SOFT,
    SUB,
    UMBER,
    Foot,
    Item,
    annotate,
    axes_width,
    caption_of,
    check_axes,
    draw_foot,
    draw_head,
    foot_height,
    head_height,
    head_lines,
    page_inks,
    step_colours,
    step_sign,
    swatch,
)
from .risk_map import draw_fibres_arrow, draw_risk_map

__all__ = ["draw_layout"]

_WIDE = 7.0
"""Width of a new figure. [in]"""

_SIDE, _BETWEEN, _LEFT, _STRIP = 0.2, 0.2, 0.75, 1.25
"""Of a new figure: free at either side, between the two boards, left of the curve; height of the curve. [in]"""

_ENOUGH = 0.03
"""A turn will do that takes no more than this share longer than the best and keeps half of what it saves. [-]"""

_LOOKS: dict[bool, Any] = {False: "solid", True: DASH}
_NAMES = {False: "the design turned", True: "the design mirrored and turned"}


def draw_layout(
    layout: Layout, ax: Axes | None = None, *, risk_name: str = "minutes", title: str | None = None
) -> LineCollection:
    """Draw the design on its board as drawn and as it lies best, and what every turn of it comes to.

    The line is that of a middling board, all that is reckoned for every turn. Dots are ways that were tried on possible
    boards, at the minutes that are expected over those.

    Parameters
    ----------
    layout
        From `best_layout`.
    ax
        Axes to draw in, only the curve without the boards; None: a new figure.
    risk_name
        Of the curve: 'minutes', 'fuzz', 'tear', 'scorch' or 'damage', at the coefficients as they are. The answer is
        that of the minutes.
    title
        Over the picture; None: the answer in a few words; '': none.

    Returns
    -------
    LineCollection
        The curve of the design, and a broken one of the mirrored design if that was tried: (turn [deg], minutes [min]
        or risk [-]). A turn is the shortest one, counter-clockwise above 0.

    Raises
    ------
    DomainError
        If `layout` is not a Layout, the name unknown or the axes have no x and y.

    Examples
    --------
    >>> import chipsim as cs
    >>> cut = cs.Cut(cs.VBit(60, 12.7, 2), cs.oval(20, 8, 1.5), 18_000, 1500)
    >>> board = cs.Board(cs.wood("black cherry"), cs.straight_grain(azimuth=0))
    >>> curve = cs.draw_layout(cs.best_layout(cut, board, step=30, pitch=1.0))
    >>> cs.save_figure(curve.figure, "layout.png")
    """
    if not isinstance(layout, Layout):
        raise DomainError(f"layout must be a Layout, as from best_layout, got {type(layout).__name__}")
    name = choice("risk_name", risk_name, ("minutes", *RISKS))
    check_axes(ax)
    answer, lines = _words(layout)
    answer = answer if title is None else title
    feet = [Foot(" ".join(f"{line}." for line in caption_of(layout.setup))), Foot(_others(layout))]
    feet.append(Foot(f"{layout.hand[0].handwork.words} {layout.setup.get('learned') or PRIOR}", accent=True))
    feet = [foot for foot in feet if foot.words]
    items = _items(layout, name, boards=ax is None)
    if ax is not None:
        artist = _draw_curve(ax, layout, name)
        width = max(axes_width(ax), 300.0)
        draw_head(ax, *head_lines(answer, lines, width))
        draw_foot(ax, items, feet, up=-34.0, width=width)
        return artist
    import matplotlib.pyplot as plt

    points = 72 * (_WIDE - 2 * _SIDE)
    head = head_lines(answer, lines, points)
    above, below = head_height(*head), foot_height(items, feet, points) + 0.5
    half = _half_extents(layout.maps, layout.centre)
    count = len(layout.maps)
    wide = (_WIDE - 2 * _SIDE - _BETWEEN * (count - 1)) / max(count, 1)
    tall = min(wide * float(half[1] / half[0]), 3.6) if count else 0.0
    gap = 0.62 if count else 0.0
    whole = above + tall + gap + _STRIP + below
    figure = plt.figure(figsize=(_WIDE, whole))
    first: Any = None
    for k, (risk, row) in enumerate(zip(layout.maps, _shown(layout), strict=True)):
        left = _SIDE + k * (wide + _BETWEEN)
        board = figure.add_axes((left / _WIDE, 1 - (above + tall) / whole, wide / _WIDE, tall / whole))
        _draw_board(board, layout, risk, row, half, (wide, tall))
        first = first or board
    curve = figure.add_axes((_LEFT / _WIDE, below / whole, (_WIDE - _LEFT - _SIDE) / _WIDE, _STRIP / whole))
    artist = _draw_curve(curve, layout, name)
    draw_head(first or curve, *head)
    draw_foot(curve, items, feet, up=-34.0, width=points, right=-72 * (_LEFT - _SIDE))
    return artist


# ------------------------------------------------------------------------------------------------------- words


def turn_text(degrees: float) -> str:
    """A turn with its sense: '30° clockwise'."""
    return f"{abs(degrees):g}° {'clockwise' if degrees < 0 else 'counter-clockwise'}"


def _shown(layout: Layout) -> list[LayoutRow]:
    best = layout.best()
    return [layout.as_drawn] if best is None or best is layout.as_drawn else [layout.as_drawn, best]


def _expected(layout: Layout, row: LayoutRow) -> float:
    """Minutes by hand over possible boards of a way that was tried on them. [min]"""
    return next(hand.expected for tried, hand in zip(layout.tried, layout.hand, strict=True) if tried is row)


def _rework(row: LayoutRow) -> float:
    """Lip to sand or re-cut. [mm]"""
    return float(sum(row.summary.lengths["damage"][step] for step in REWORK))


def _words(layout: Layout) -> tuple[str, list[str]]:
    """Title and the lines below it."""
    best = layout.best()
    if best is None:
        return "Nothing is known of these lips", ["No way to lay the design can be preferred."]
    drawn = _expected(layout, layout.as_drawn)
    if best is layout.as_drawn:
        title = "Leave the design as it is drawn"
        lines = [f"{drawn:.1f} min of hand work are expected."]
        others = sorted((_expected(layout, row), k) for k, row in enumerate(layout.tried) if row is not best)
        if others and others[0][0] >= drawn:
            lines[0] += f" The next best way, {_way(layout, layout.tried[others[0][1]])}, takes {others[0][0]:.1f} min."
        elif others:
            way = _way(layout, layout.tried[others[0][1]])
            lines[0] += f" That {way} it takes {others[0][0]:.1f} min is no more than chance explains."
        return title, lines
    turn, now = layout.turn(best), _expected(layout, best)
    mirror = "Mirror the design and turn it" if best.mirrored else "Turn the design"
    title = f"{mirror} {turn_text(turn)}" if turn else "Mirror the design"
    # as a reader would take the two figures below it from one another
    title += f": {round(drawn, 1) - round(now, 1):.1f} min less by hand"
    lines = [f"{now:.1f} min of hand work are expected instead of {drawn:.1f}. {_will_do(layout, best)}"]
    return title, [*lines, "The board stays as it is, and the machine takes as long either way."]


def _will_do(layout: Layout, best: LayoutRow) -> str:
    """Which turns next to the best take about as few minutes."""
    near = sorted((row for row in layout.rows if row.mirrored == best.mirrored), key=lambda row: row.rotation)
    if len(near) < 3:
        return ""
    at = near.index(best)
    most = best.minutes * (1 + _ENOUGH)
    if best.minutes < layout.as_drawn.minutes:
        most = min(most, (best.minutes + layout.as_drawn.minutes) / 2)
    most += 1e-9
    ends = [at, at]
    for side, step in ((0, -1), (1, 1)):
        while abs(ends[side] - at) < len(near) - 1 and near[(ends[side] + step) % len(near)].minutes <= most:
            ends[side] += step
    low, high = (layout.turn(near[end % len(near)]) for end in ends)
    if low == high:
        by = float(near[1].rotation - near[0].rotation)
        return f"Mind the angle: {by:g}° more or less takes longer."
    if (low < 0) == (high < 0):
        small, large = sorted((abs(low), abs(high)))
        return f"Anything from {small:g}° to {large:g}° will do."
    return f"Anything from {turn_text(low)} to {turn_text(high)} will do."


def _others(layout: Layout) -> str:
    """What the other ways that were tried take."""
    shown = _shown(layout)
    if layout.best() is None:
        return "Damage of these lips is not known: mean damage not known."
    rest = sorted((row for row in layout.tried if row not in shown), key=lambda row: _expected(layout, row))
    told = [f"{_way(layout, row)} {_expected(layout, row):.1f} min" for row in rest if np.isfinite(row.damage)]
    unknown = max(row.summary.lengths["damage"]["not known"] for row in layout.rows)
    parts = [f"Also tried: {', '.join(told)}."] if told else []
    if unknown > 0:
        parts.append(f"Of up to {unknown:.0f} mm of lip the damage is not known; it counts no minutes.")
    return " ".join(parts)


def _way(layout: Layout, row: LayoutRow) -> str:
    if row is layout.as_drawn:
        return "as drawn"
    turn = layout.turn(row)
    words = f"turned {turn_text(turn)}" if turn else ""
    return ", ".join(part for part in ("mirrored" if row.mirrored else "", words) if part)


def _over_boards(layout: Layout, name: str) -> bool:
    """Whether the dots are expected over possible boards, and so need not lie on the line."""
    return name == "minutes" and layout.draws > 0


def _items(layout: Layout, name: str, *, boards: bool) -> list[Item]:
    items = []
    if boards:
        there = [any(risk.lengths_by_class("damage")[step] >= 0.05 for risk in layout.maps) for step in CLASSES]
        items = [Item(step_sign(i), step) for i, step in enumerate(CLASSES) if there[i]]
        if any((risk.doubt[risk.exists] != 0).any() for risk in layout.maps):
            items.append(Item(step_sign(2, broken=True), "broken: the number leaves something out"))
    if any(row.mirrored for row in layout.rows):
        items += [Item(_curve_sign(mirrored, name, layout), words) for mirrored, words in _NAMES.items()]
    if _over_boards(layout, name):
        items.append(Item(_dot_sign, f"dot: what is expected over {layout.draws} possible boards"))
        shape = "line: only the shape, on a middling board"
        items.append(Item(_curve_sign(False, name, layout), shape))
    return items


def _curve_look(layout: Layout, name: str) -> dict[str, Any]:
    """Thin and grey where the dots tell the minutes."""
    return (
        {"color": SOFT, "linewidth": 0.9}
        if _over_boards(layout, name)
        else {"color": step_colours()[3], "linewidth": 1.6}
    )


def _curve_sign(mirrored: bool, name: str, layout: Layout) -> Any:
    def sign() -> OffsetBox:
        from matplotlib.lines import Line2D

        area = swatch("none")
        area.add_artist(Line2D([0, 24], [5.5, 5.5], linestyle=_LOOKS[mirrored], **_curve_look(layout, name)))
        return area

    return sign


def _dot_sign() -> OffsetBox:
    from matplotlib.lines import Line2D

    area = swatch("none")
    area.add_artist(Line2D([12], [5.5], linestyle="", marker="o", markersize=5, **DOT))
    return area


# --------------------------------------------------------------------------------------------------------- ink


def _half_extents(maps: tuple[RiskMap, ...], centre: tuple[float, float]) -> FloatArray:
    """Half width and height of boards on which every map finds room about the centre. [mm]"""
    reach = np.zeros(2)
    for risk in maps:
        if len(risk):
            reach = np.maximum(reach, (np.abs(risk.xy - centre) + risk.half_width[:, None]).max(axis=0))
    reach = reach + np.array([0.1, 0.2]) * max(float(reach.max()), 1e-3)  # words and arrow above and below
    return np.maximum(reach, 0.45 * float(reach.max()))


def _draw_board(
    ax: Axes, layout: Layout, risk: RiskMap, row: LayoutRow, half: FloatArray, size: tuple[float, float]
) -> None:
    """The design on its board as it lies in one way, with what it leaves to do."""
    # the same scale for both, the board as wide as its place
    half = half * max(half[0] / size[0], half[1] / size[1]) / (half / np.array(size))
    middle = np.array(layout.centre)
    draw_risk_map(risk, ax, key=False, caption=False)
    low, high = middle - half, middle + half
    ax.set_xlim(low[0], high[0])
    ax.set_ylim(low[1], high[1])
    point = float(high[0] - low[0]) / (72 * size[0])
    draw_fibres_arrow(ax, risk, point, low, high)
    patch: dict[str, Any] = {"boxstyle": "square,pad=0.15", "facecolor": BOARD, "edgecolor": "none"}
    words = _way(layout, row)
    annotate(ax, words, (0, 1), (5, -5), xycoords="axes fraction", va="top", fontsize=SUB, fontweight="bold",
             color=INK, bbox=patch, zorder=9)  # fmt: skip
    told = f"{_expected(layout, row):.1f} min by hand, {_rework(row):.0f} mm to sand or re-cut"
    annotate(ax, told, (0, 0), (0, -5), xycoords="axes fraction", va="top", fontsize=SUB, color=page_inks(ax)[0])
    if row is not layout.as_drawn and layout.turn(row):
        _draw_turn(ax, layout.turn(row))


def _draw_turn(ax: Axes, degrees: float) -> None:
    """A small clock at the upper right whose hand has been turned as the design."""
    from matplotlib.offsetbox import AnchoredOffsetbox, DrawingArea
    from matplotlib.patches import Arc, Circle, FancyArrowPatch

    area = DrawingArea(46, 46)
    middle, reach = np.array([23.0, 23.0]), 18.0
    turn = np.radians(degrees)
    area.add_artist(Circle((23, 23), reach + 4, facecolor=BOARD, edgecolor="none"))
    area.add_artist(FancyArrowPatch(tuple(middle), (23 + reach, 23), arrowstyle="-", linestyle=(0, (2, 1.5)),
                                    color=UMBER, linewidth=0.9, shrinkA=0, shrinkB=0))  # fmt: skip
    tip = middle + reach * np.array([np.cos(turn), np.sin(turn)])
    area.add_artist(FancyArrowPatch(tuple(middle), tuple(tip), arrowstyle="-|>", mutation_scale=8, color=UMBER,
                                    linewidth=1.6, shrinkA=0, shrinkB=0))  # fmt: skip
    ends = sorted((0.0, degrees))
    area.add_artist(Arc((23, 23), 1.2 * reach, 1.2 * reach, theta1=ends[0], theta2=ends[1], color=UMBER,
                        linewidth=1.0))  # fmt: skip
    box = AnchoredOffsetbox("upper right", child=area, pad=0.0, borderpad=0.2, frameon=False)
    box.set_zorder(9)
    box.set_gid("turn")
    ax.add_artist(box)


def _draw_curve(ax: Axes, layout: Layout, name: str) -> LineCollection:
    """What every turn comes to, the design as drawn and the best marked."""
    from matplotlib.collections import LineCollection

    ink, soft, accent = page_inks(ax)
    end = 90.0 if layout.half_turn else 180.0
    step = layout.rows[1].rotation if len(layout.rows) > 1 else 180.0
    curves, looks = [], []
    for mirrored, look in _LOOKS.items():
        rows = [row for row in layout.rows if row.mirrored == mirrored]
        if not rows:
            continue
        points = sorted((layout.turn(row), row.value(name)) for row in rows)
        if layout.half_turn or layout.span == 360:  # once round: the end is the beginning
            points.insert(0, (points[-1][0] - 2 * end, points[-1][1])) if points[0][0] > -end else None
        curves.append(np.array(points))
        looks.append(look)
    artist = LineCollection(curves, zorder=3, gid="layout")
    artist.set(linestyle=looks, **_curve_look(layout, name))
    ax.add_collection(artist, autolim=False)
    expected = _over_boards(layout, name)
    shown = _shown(layout)
    spots = [(row, _expected(layout, row) if expected else row.value(name)) for row in layout.tried]
    spots = [(row, y) for row, y in spots if np.isfinite(y) and np.isfinite(row.damage)]
    values = np.concatenate([*(line[:, 1] for line in curves), [y for _, y in spots]])
    top = (1.45 if expected else 1.3) * float(np.max(values, initial=0.0, where=np.isfinite(values))) or 1.0
    if not expected:
        first = curves[0]
        known = np.isfinite(first[:, 1])
        ax.fill_between(first[known, 0], 0.0, first[known, 1], facecolor=step_colours()[1], alpha=0.45,
                        edgecolor="none", zorder=1)  # fmt: skip
    low = min(float(line[0, 0]) for line in curves)
    high = max(float(line[-1, 0]) for line in curves)
    ax.set_xlim(min(low, high - step / 2), max(high, low + step / 2))
    ax.set_ylim(0.0, top)
    inked = [layout.turn(row) for row, _ in spots if row in shown]
    wide = float(np.ptp(ax.get_xlim())) / axes_width(ax)  # of a point of the page [deg]
    for row, y in spots:
        x, main, mine = layout.turn(row), row in shown, row is not layout.as_drawn
        colour = soft if not main else accent if mine else ink
        if main:
            ax.plot([x, x], [0.0, y], color=colour, linewidth=1.6 if mine else 0.9, zorder=4, clip_on=False, gid="mark")
        ax.plot([x], [y], linestyle="", marker="o", markersize=5 if main or expected else 3.6, zorder=5, clip_on=False,
                gid="mark" if main else "tried", **DOT)  # fmt: skip
        peaks = [float(np.interp(x, line[:, 0], line[:, 1])) for line in curves]
        peak = float(np.nanmax([*peaks, y]))
        name_of = ("least expected" if mine else "as drawn") if main else ""
        words = "\n".join(part for part in (name_of, f"{y:.1f} min" if expected else "") if part)
        share = (x - ax.get_xlim()[0]) / max(float(np.ptp(ax.get_xlim())), 1e-9)
        side = "left" if share < 0.1 else "right" if share > 0.9 else "center"
        # out of the way of the two that are named
        under = not main and (y < peak or any(abs(x - other) < 45 * wide for other in inked))
        at, up, hang_from = (y, -7, "top") if under else (peak, 7, "bottom")
        patch: dict[str, Any] = {"boxstyle": "square,pad=0.1", "facecolor": ax.get_facecolor(), "edgecolor": "none"}
        look = {"fontsize": KEY, "fontweight": "bold"} if main else {"fontsize": KEY - 0.5}
        annotate(ax, words, (x, at), (0, up), ha=side, va=hang_from, color=colour, linespacing=1.1, bbox=patch,
                 zorder=6, gid="told", **look)  # fmt: skip
    apart = 30 if end > 90 else 15
    ticks = np.arange(-180, 181, apart)
    ticks = ticks[(ticks >= ax.get_xlim()[0]) & (ticks <= ax.get_xlim()[1])]
    ax.set_xticks(ticks, [f"{abs(t)}°" for t in ticks])
    middling = "minutes by hand" if expected else "minutes by hand,\na middling board"
    what = middling if name == "minutes" else f"mean {RISK_WORDS[name]} [-]"
    ax.set_ylabel(what, fontsize=KEY, color=ink)
    ax.tick_params(labelsize=KEY - 0.5, colors=soft, width=0.5, length=2.5)
    ways = ["\N{LEFTWARDS ARROW} turned clockwise", "turned counter-clockwise \N{RIGHTWARDS ARROW}"]
    for x, words, side in zip((0, 1), ways, ("left", "right"), strict=True):
        if (x == 0 and ax.get_xlim()[0] < 0) or (x == 1 and ax.get_xlim()[1] > 0):
            annotate(ax, words, (x, 0), (0, -27), xycoords="axes fraction", ha=side, fontsize=KEY, color=soft)
    for edge in ("top", "right"):
        ax.spines[edge].set_visible(False)
    return artist
