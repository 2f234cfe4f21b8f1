"""What a test piece has taught."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from .._shared.words import plain
from ..errors import DomainError
from ..learning.fitting import FittedModel

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.collections import LineCollection
from .page import (
    DOT,
    HOLLOW,
    KEY,
    Foot,
    Item,
    annotate,
    axes_width,
    check_axes,
    draw_foot,
    draw_head,
    foot_height,
    head_height,
    head_lines,
    new_page,
    page_inks,
    step_colours,
    swatch,
    trace,
)

__all__ = ["draw_fit"]

_REACH = 1.2815515655446004  # 8 in 10 of a normal
_FROM, _TO = -7.9, 7.4  # what is shown: names at the left, words at the right [spreads]


def draw_fit(fitted: FittedModel, ax: Axes | None = None, *, title: str | None = None) -> LineCollection:
    """Draw what was believed of every coefficient before and after the grades: median and 8 in 10.

    What was hardly learned is named below, without a bar.

    Parameters
    ----------
    fitted
        As from `fit`.
    ax
        Axes to draw in; None: a new figure.
    title
        Over the picture; None: the answer in a few words; '': none.

    Returns
    -------
    LineCollection
        The bars of after, top to bottom: what was learned most first. [spreads of the starting guess]

    Raises
    ------
    DomainError
        If `fitted` is not a FittedModel.

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
    names = list(ranges)
    middle, spread = fitted.parameters[: len(names)], np.sqrt(np.diag(fitted.covariance))[: len(names)]
    unlearned = set(fitted.unlearned())
    order = [int(k) for k in np.argsort(spread, kind="stable") if names[int(k)] not in unlearned]
    left = [plain(n) for n in names if n in unlearned]
    rest = f"Hardly learned, still the starting guess: {', '.join(left)}." if left else ""
    count = len(order)
    answer = f"The grades taught {count} of {len(names)} coefficients" if count else "The grades taught no coefficient"
    answer = answer if title is None else title
    lines = ["Less than and more than the starting guess. The bars hold 8 in 10 possible boards."]
    dark = step_colours()[4]
    items = [
        Item(lambda: swatch(HOLLOW), "before"),
        Item(lambda: swatch(dark), "after; the dot is the median"),
    ]
    feet = [Foot(rest)] if rest else []
    feet.append(Foot(fitted.learned, accent=True) if fitted.learned else Foot("No grades were given.", accent=True))
    if ax is None:
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
    draw_head(ax, *head_lines(answer, lines, points), lift=16.0)
    draw_foot(ax, items, feet, up=-6.0, width=points)
    return after
