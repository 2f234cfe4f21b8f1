"""What a test piece has taught."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from ..errors import DomainError
from ..learning.fitting import FittedModel

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.collections import LineCollection
from .page import DOT, INK, SMALL, SOFT, TEXT, TITLE, annotate, check_axes, trace

__all__ = ["draw_fit"]


def draw_fit(fitted: FittedModel, ax: Axes | None = None) -> LineCollection:
    """Draw what was believed of every coefficient before and after the grades: median and 8 in 10.

    Parameters
    ----------
    fitted
        As from `fit`.
    ax
        Axes to draw in; None: a new figure.

    Returns
    -------
    LineCollection
        The bars of after, top to bottom in the order of `FittedModel.ranges`. [spreads of the prior]

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
    if ax is None:
        import matplotlib.pyplot as plt

        ax = plt.subplots(figsize=(6.4, 0.9 + 0.24 * len(ranges)), layout="constrained")[1]
    middle, deviation = fitted.parameters[: len(ranges)], np.sqrt(np.diag(fitted.covariance))[: len(ranges)]
    y = -np.arange(len(ranges), dtype=float)
    reach = 1.2815515655446004  # 8 in 10 of a normal
    unlearned = set(fitted.unlearned())
    before = LineCollection(
        [np.array([[-reach, v + 0.16], [reach, v + 0.16]]) for v in y], colors="0.75", linewidths=3.0, gid="before"
    )
    after = LineCollection(
        [
            np.array([[m - reach * d, v - 0.12], [m + reach * d, v - 0.12]])
            for m, d, v in zip(middle, deviation, y, strict=True)
        ],
        colors=[SOFT if name in unlearned else INK for name in ranges],
        linewidths=[1.2 if name in unlearned else 3.0 for name in ranges],
        gid="after",
    )
    for bars in (before, after):
        ax.add_collection(bars, autolim=False)
    trace(ax, np.column_stack([np.zeros(len(y)), y + 0.16]), linestyle="", marker="|", markersize=6, color=SOFT)
    trace(ax, np.column_stack([middle, y - 0.12]), linestyle="", marker="o", markersize=3.5, zorder=4, **DOT)
    for (name, (old, new)), v in zip(ranges.items(), y, strict=True):
        unit = fitted.prior.__dataclass_fields__[name].metadata["unit"]
        words = f"{old[1]:.3g}, now {new[1]:.3g} {unit.replace('-', '')}" if name not in unlearned else "not learned"
        annotate(ax, words, (1.0, v), (6, 0), xycoords=("axes fraction", "data"), va="center")
    ax.set(xlim=(-3.2, 3.2), ylim=(y[-1] - 0.7, 0.7), yticks=y, yticklabels=list(ranges))
    ax.set_xlabel("in spreads of the prior (light: before, dark: after, thin: not learned)", fontsize=TEXT)
    ax.set_title("What the test pieces taught", loc="left", fontsize=TITLE, color=INK, pad=6)
    ax.tick_params(labelsize=SMALL, color=SOFT, width=0.5, length=2.5)
    for spine in ax.spines.values():
        spine.set(color=SOFT, linewidth=0.5)
    return after
