"""What a test piece has taught."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from .._shared.words import plain
from ..damage.maps import RiskMap
from ..damage.scale import CLASSES
from ..errors import DomainError
from ..learning.fitting import FittedModel

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.collections import LineCollection
from .page import (
    BOARD,
    DOT,
    HOLLOW,
    INK,
    KEY,
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
    new_page,
    page_inks,
    step_colours,
    step_sign,
    swatch,
    trace,
)
from .risk_map import draw_fibres_arrow, draw_risk_map, map_limits

__all__ = ["draw_fit"]

_REACH = 1.2815515655446004  # 8 in 10 of a normal
_FROM, _TO = -7.9, 7.4  # what is shown: names at the left, words at the right [spreads]


def draw_fit(
    fitted: FittedModel,
    ax: Axes | None = None,
    *,
    maps: tuple[RiskMap, RiskMap] | None = None,
    title: str | None = None,
) -> LineCollection:
    """Draw what was believed of every coefficient before and after the grades: median and 8 in 10.

    What was hardly learned is named below, without a bar. With a job's maps before and after it shows first what the
    grades have changed there.

    Parameters
    ----------
    fitted
        As from `fit`.
    ax
        Axes to draw in, without maps; None: a new figure.
    maps
        `RiskMap` of one job with the starting guesses, and with `fitted`; both with `draws`, so that their bands tell
        how sure each is.
    title
        Over the picture; None: the answer in a few words; '': none.

    Returns
    -------
    LineCollection
        The bars of after, top to bottom: what was learned most first. [spreads of the starting guess]

    Raises
    ------
    DomainError
        If `fitted` is not a FittedModel, or the maps are not two with bands, or axes are given with them.

    Examples
    --------
    >>> import chipsim as cs
    >>> board = cs.Board(cs.wood("black cherry"), cs.straight_grain(azimuth=0))
    >>> piece = cs.coupon(cs.VBit(90, 10, 2), board, 18_000, 1200, machine=cs.Machine(800, 5000), sectors=8)
    >>> bars = cs.draw_fit(cs.fit(piece, cs.invented_grades(piece, seed=3)))
    >>> cs.save_figure(bars.figure, "learned.png")
    """
    from matplotlib.collections import LineCollection

    if not isinstance(fitted, FittedModel):
        raise DomainError(f"fitted must be a FittedModel, as from fit, got {type(fitted).__name__}")
    ranges = fitted.ranges()
    check_axes(ax)
    if maps is not None:
        if ax is not None:
            raise DomainError("ax must be None where maps are given: they need a page of their own")
        if not isinstance(maps, tuple) or len(maps) != 2 or not all(isinstance(m, RiskMap) and m.band for m in maps):
            raise DomainError(f"maps must be two RiskMap made with draws, before and after, got {maps!r:.80}")
    names = list(ranges)
    middle, spread = fitted.parameters[: len(names)], np.sqrt(np.diag(fitted.covariance))[: len(names)]
    unlearned = set(fitted.unlearned())
    order = [int(k) for k in np.argsort(spread, kind="stable") if names[int(k)] not in unlearned]
    left = [plain(n) for n in names if n in unlearned]
    rest = f"Hardly learned, still the starting guess: {', '.join(left)}." if left else ""
    count = len(order)
    answer = f"The grades taught {count} of {len(names)} coefficients" if count else "The grades taught no coefficient"
    lines = ["Less than and more than the starting guess. The bars hold 8 in 10 possible boards."]
    if maps is not None:
        answer, lines = _map_words(maps)
    answer = answer if title is None else title
    dark = step_colours()[4]
    items = [
        Item(lambda: swatch(HOLLOW), "before"),
        Item(lambda: swatch(dark), "after; the dot is the median"),
    ]
    feet = [Foot(rest)] if rest else []
    feet.append(Foot(fitted.learned, accent=True) if fitted.learned else Foot("No grades were given.", accent=True))
    if maps is not None:
        feet.insert(0, Foot(" ".join(f"{line}." for line in caption_of(maps[1].setup))))
        items += _steps_of(maps)
        ax, first = _page_with_maps(maps, answer, lines, count, foot_height(items, feet, 72 * 6.6))
    elif ax is None:
        above = head_height(*head_lines(answer, lines, 72 * 6.6)) + 16 / 72
        ax = new_page((6.6, 0.2 + 0.27 * max(count, 1)), above, foot_height(items, feet, 72 * 6.6))
    points = axes_width(ax)
    ink, soft, _ = page_inks(ax)
    y = -np.arange(count, dtype=float)
    before = LineCollection([np.array([[-_REACH, v], [_REACH, v]]) for v in y], colors=HOLLOW, linewidths=8.0,
                            capstyle="butt", zorder=1, gid="before")  # fmt: skip
    ends = [(middle[k] - _REACH * spread[k], middle[k] + _REACH * spread[k]) for k in order]
    bars_after = [np.array([[a, v], [b, v]]) for (a, b), v in zip(ends, y, strict=True)]
    after = LineCollection(bars_after, colors=[dark], linewidths=3.6, capstyle="butt", zorder=2, gid="after")
    for bars in (before, after):
        ax.add_collection(bars, autolim=False)
    if count:
        trace(ax, np.column_stack([middle[order], y]), linestyle="", marker="o", markersize=5, zorder=4, **DOT)
    for k, v in zip(order, y, strict=True):
        old, new = ranges[names[k]]
        unit = fitted.prior.__dataclass_fields__[names[k]].metadata["unit"].replace("-", "")
        how = "as thought" if abs(middle[k]) < 0.5 else "more" if middle[k] > 0 else "less"
        words = f"{how}: {new[1]:.3g} {unit}".strip() + f", was {old[1]:.3g}"
        side: dict[str, Any] = {"va": "center", "fontsize": KEY, "color": ink}
        annotate(ax, words, (3.0, v), (0, 0), fontweight="bold" if how != "as thought" else "normal", **side)
        annotate(ax, plain(names[k]), (0.0, v), (0, 0), xycoords=("axes fraction", "data"), gid="coefficient", **side)
    ax.axvline(0.0, ymax=0.98, color=soft, linewidth=0.8, linestyle=(0, (3, 2)), zorder=1.5)
    ax.set(xlim=(_FROM, _TO), ylim=(-max(count, 1) + 0.3, 0.7), yticks=[])
    ax.set_facecolor("none")
    ax.set_xticks([-2.2, 0.0, 2.2], ["less", "starting guess", "more"], fontsize=KEY)
    ax.xaxis.tick_top()
    ax.tick_params(axis="x", pad=1, length=0, colors=soft)
    for spine in ax.spines.values():
        spine.set_visible(False)
    if maps is None:
        draw_head(ax, *head_lines(answer, lines, points), lift=16.0)
    else:
        draw_head(first, *head_lines(answer, lines, points))
        annotate(ax, "What the wood told", (0, 1), (0, 18), xycoords="axes fraction", fontsize=SUB + 1,
                 fontweight="bold", color=ink)  # fmt: skip
    draw_foot(ax, items, feet, up=-6.0, width=points)
    return after


_STRIP = 0.62  # below a map: its bar and the ruler of that [in]


def _map_words(maps: tuple[RiskMap, RiskMap]) -> tuple[str, list[str]]:
    """Title and the lines below it: how sure the maps are."""
    (a, _, b), (c, _, d) = (m.band.poor for m in maps if m.band is not None)
    if not np.isfinite([a, b, c, d]).all():
        return "Nothing is known of these lips", []
    answer = f"The grades: {c:.0f} to {d:.0f} mm of 100 mm to mend, no longer {a:.0f} to {b:.0f}"
    if round(c) == round(a) and round(d) == round(b):
        answer = f"The grades left it at {c:.0f} to {d:.0f} mm of 100 mm to mend"
    return answer, ["To mend is to sand heavily or to re-cut. The range holds 8 boards in 10."]


def _steps_of(maps: tuple[RiskMap, RiskMap]) -> list[Item]:
    there = [any(m.lengths_by_class("damage")[step] >= 0.05 for m in maps) for step in CLASSES]
    items = [Item(step_sign(i), step) for i, step in enumerate(CLASSES) if there[i]]
    if any((m.doubt[m.exists] != 0).any() for m in maps):
        items.append(Item(step_sign(2, broken=True), "broken: the number leaves something out"))
    return items


def _page_with_maps(
    maps: tuple[RiskMap, RiskMap], answer: str, lines: list[str], count: int, below: float
) -> tuple[Axes, Axes]:
    """A new figure with two maps and their bars; the axes for the coefficients, and those of the first map."""
    import matplotlib.pyplot as plt

    wide, side, between = 7.0, 0.2, 0.25
    low, high, _ = map_limits(maps[0], strip=False)
    across = (wide - 2 * side - between) / 2
    point = float(high[0] - low[0]) / (72 * across)
    low, high = low - np.array([0.0, 6 * point]), high + np.array([0.0, 12 * point])  # for the arrow and the name
    tall = float(np.clip(across * (high - low)[1] / (high - low)[0], 0.8, 3.8))
    above = head_height(*head_lines(answer, lines, 72 * (wide - 2 * side)))
    bars = 0.2 + 0.27 * max(count, 1)
    whole = above + tall + _STRIP + 0.55 + bars + below
    figure = plt.figure(figsize=(wide, whole))
    most = max(m.band.poor[2] for m in maps if m.band is not None)
    top = float(np.ceil(max(1.05 * most, 1.0) / 10) * 10)
    boards = []
    for k, (risk, name) in enumerate(zip(maps, ("before: the starting guess", "after the grades"), strict=True)):
        left = side + k * (across + between)
        board = figure.add_axes((left / wide, 1 - (above + tall) / whole, across / wide, tall / whole))
        draw_risk_map(risk, board, key=False, caption=False)
        board.set_xlim(low[0], high[0])
        board.set_ylim(low[1], high[1])
        draw_fibres_arrow(board, risk, point, low, high)
        patch: dict[str, Any] = {"boxstyle": "square,pad=0.15", "facecolor": BOARD, "edgecolor": "none"}
        annotate(board, name, (0, 1), (5, -5), xycoords="axes fraction", va="top", fontsize=SUB, fontweight="bold",
                 color=UMBER if k == 0 else INK, bbox=patch, zorder=9)  # fmt: skip
        strip = figure.add_axes((left / wide, 1 - (above + tall + 0.36) / whole, across / wide, 0.12 / whole))
        _draw_strip(strip, risk, top, k)
        boards.append(board)
    place = (side / wide, below / whole, (wide - 2 * side) / wide, bars / whole)
    return figure.add_axes(place), boards[0]


def _draw_strip(ax: Axes, risk: RiskMap, top: float, k: int) -> None:
    """How many mm of 100 need heavy sanding or re-cutting, as a bar from low to high."""
    soft = page_inks(ax)[1]
    assert risk.band is not None
    low, _, high = risk.band.poor
    ax.set(xlim=(0, top), ylim=(0, 1), yticks=[])
    ax.set_facecolor("none")
    ax.axhline(0.5, color=soft, linewidth=0.5, zorder=1)
    if np.isfinite([low, high]).all():
        ax.barh(0.5, high - low, 0.85, left=low, color=UMBER if k == 0 else step_colours()[3], zorder=2)
    ax.set_xticks(np.arange(0, top + 1, 10 if top <= 60 else 20))
    ax.tick_params(labelsize=KEY - 1, colors=soft, length=2.5, width=0.5, pad=1)
    for spine in ax.spines.values():
        spine.set_visible(False)
    annotate(ax, "mm of 100 mm: heavy sanding or re-cutting", (0, 1), (0, 2), xycoords="axes fraction",
             fontsize=KEY - 1, color=soft)  # fmt: skip
