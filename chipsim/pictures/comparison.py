"""Options side by side: the same job with each, and what each leaves to do."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np

from .._shared.arrays import choice
from ..choosing.comparing import Comparison, Option
from ..choosing.summaries import RISKS
from ..damage.scale import CLASSES, PRIOR, REWORK
from ..errors import DomainError
from ..units import length_text

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.collections import LineCollection, PolyCollection
from .page import (
    HEAD,
    INK,
    KEY,
    STEPS,
    SUB,
    Foot,
    Item,
    annotate,
    axes_width,
    draw_foot,
    draw_scale_bar,
    page_inks,
    step_colours,
    step_sign,
    wrapped,
)
from .risk_map import draw_risk_map, map_limits

__all__ = ["draw_comparison"]

_ALIKE = 0.05
"""Options whose lengths to rework differ by less than this share are called alike. [-]"""


def draw_comparison(
    comparison: Comparison, axes: Sequence[Axes] | None = None, *, risk_name: str = "damage", title: str | None = None
) -> list[LineCollection | PolyCollection]:
    """Draw the maps of all options (broad ones below one another), at one scale, each with what it leaves to do.

    Parameters
    ----------
    comparison
        From `compare`.
    axes
        One for each option; None: a new figure.
    risk_name
        'fuzz', 'tear', 'scorch' or 'damage'.
    title
        Over a new figure; None: the answer in a few words; '': none.

    Returns
    -------
    list of LineCollection
        The lines beside the lips of each map, as `draw_risk_map` returns them.

    Raises
    ------
    DomainError
        If `comparison` is not a Comparison, the name unknown or the number of axes wrong.

    Examples
    --------
    >>> import chipsim as cs
    >>> cut = cs.Cut(cs.VBit(60, 12.7, 2), cs.ring(5, 1.5), 18_000, 1500)
    >>> board = cs.Board(cs.wood("black cherry"), cs.straight_grain(azimuth=0))
    >>> both = cs.compare({"as planned": cut, "slower": cs.Cut(cut.bit, cut.path, 18_000, 900)}, board, pitch=1.0)
    >>> lines = cs.draw_comparison(both)
    >>> cs.save_figure(lines[0].figure, "comparison.png")
    """
    if not isinstance(comparison, Comparison):
        raise DomainError(f"comparison must be a Comparison, as from compare, got {type(comparison).__name__}")
    name = choice("risk_name", risk_name, RISKS)
    count = len(comparison)
    corners = [map_limits(option.risk, strip=True)[:2] for option in comparison.options]
    size = np.max([high - low for low, high in corners], axis=0)
    if axes is None:
        import matplotlib.pyplot as plt

        broad = bool(size[0] > 1.4 * size[1])
        down, across = (count, 1) if broad else (-(-count // 3), min(count, 3))
        width = 7.0 if broad else max(3.4 * across, 5.0)
        height = down * (width / across * float(size[1] / size[0]) + 0.75) + 1.3
        figure, grid = plt.subplots(down, across, figsize=(width, height), layout="constrained")
        answer = _answer(comparison, name) if title is None else title
        if answer:
            words = wrapped(answer, 72 * width - 20, HEAD, bold=True)
            figure.suptitle(words, x=0.012, ha="left", fontsize=HEAD, fontweight="bold")
        axes = list(np.atleast_1d(grid).ravel())
        for spare in axes[count:]:
            spare.set_axis_off()
        axes = axes[:count]
    if not isinstance(axes, Sequence | np.ndarray) or len(axes) != count or any(ax is None for ax in axes):
        raise DomainError(f"axes must be as many as options, {count}, got {axes!r:.80}")
    most = max([_rework(option, name) for option in comparison.options] + [1e-9])
    artists = []
    for k, (ax, option, (low, high)) in enumerate(zip(axes, comparison.options, corners, strict=True)):
        lines = draw_risk_map(option.risk, ax, risk_name=name, key=False, caption=False)
        low, high = (low + high - size) / 2, (low + high + size) / 2
        ax.set_xlim(low[0], high[0])
        ax.set_ylim(low[1], high[1])
        draw_scale_bar(ax, low, high, float(max(size)) / 1.3, "")
        _tell(ax, option, name, most)
        if k == count - 1:
            there = [any(o.summary.lengths[name][step] >= 0.05 for o in comparison.options) for step in CLASSES]
            items = [Item(step_sign(i), step) for i, step in enumerate(CLASSES) if there[i]]
            first = comparison.options[0].risk.setup
            wood = f"{first['wood']}, {first['moisture']:g} % moisture; grain {first['grain']}."
            rests = Foot(str(first.get("learned") or PRIOR), accent=True)
            draw_foot(ax, items, [Foot(wood[:1].upper() + wood[1:]), rests])
        artists.append(lines)
    return artists


def _rework(option: Option, name: str) -> float:
    """Length of lip that needs sanding or re-cutting, 0 if not known. [mm]"""
    return float(sum(option.summary.lengths[name][step] for step in REWORK))


def _answer(comparison: Comparison, name: str) -> str:
    known = [o for o in comparison.options if np.isfinite(o.summary.mean[name])]
    if len(known) < 2:
        return "Nothing is known of these lips" if not known else ""
    order = sorted(known, key=lambda o: _rework(o, name))
    best, worst = order[0], order[-1]
    if _rework(worst, name) - _rework(best, name) <= max(1.0, _ALIKE * _rework(worst, name)):
        return "The options leave alike much to sand or re-cut"
    least = _rework(best, name)
    alike = [o.name for o in order if _rework(o, name) - least <= max(1.0, _ALIKE * least)]
    named = best.name if len(alike) == 1 else f"{', '.join(alike[:-1])} and {alike[-1]}"
    return f"{named} leave{'s' if len(alike) == 1 else ''} least to sand or re-cut: {least:.0f} mm"


def _tell(ax: Axes, option: Option, name: str, most: float) -> None:
    """Above the map: name and set-up at the left, what is left to do and minutes at the right, a bar below them."""
    from matplotlib.patches import Rectangle

    ink, soft, _ = page_inks(ax)
    wide = axes_width(ax)
    deep = f"{length_text(float(option.risk.depth.max()))} deep"
    minutes = f", {option.hand.expected:.1f} min by hand"
    if np.isfinite(option.summary.mean[name]):
        left = f"{_rework(option, name):.0f} mm to sand or re-cut{minutes}"
    else:
        left = f"mean {name} not known"
    caption = wrapped(f"{option.risk.setup['caption']}; {deep}", wide, KEY - 1)
    ax.set_title(option.name, loc="left", fontsize=SUB + 1, fontweight="bold", color=ink,
                 pad=17 + 1.3 * (KEY - 1) * (1 + caption.count("\n")))  # fmt: skip
    shift = 15 + 1.3 * (KEY - 1) * (1 + caption.count("\n"))
    annotate(ax, left, (1, 1), (0, shift), xycoords="axes fraction", ha="right", fontsize=SUB, color=ink)
    annotate(ax, caption, (0, 1), (0, 13), xycoords="axes fraction", fontsize=KEY - 1, color=soft, linespacing=1.2)
    # a point of the page, as a share of the height of axes whose scales are equal
    point = float(np.ptp(ax.get_xlim()) / np.ptp(ax.get_ylim())) / wide
    x, per_mm = 0.0, 1.0 / most
    for step in REWORK:
        length = option.summary.lengths[name][step]
        colour = step_colours()[list(STEPS).index(step)]
        box = Rectangle((x, 1 + 2 * point), length * per_mm, 5 * point, transform=ax.transAxes, clip_on=False,
                        facecolor=colour, edgecolor=INK, linewidth=0.3, gid="to rework")  # fmt: skip
        ax.add_artist(box)
        box.set_clip_on(False)
        x += length * per_mm
