"""Options side by side: the same job with each, and what each leaves to do."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np

from .._shared.arrays import FloatArray, choice
from ..choosing.comparing import Comparison, Option
from ..choosing.summaries import RISKS
from ..damage.scale import CLASSES, PRIOR, REWORK
from ..errors import DomainError

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.collections import LineCollection, PolyCollection
from .page import (
    INK,
    KEY,
    STEPS,
    SUB,
    Foot,
    Item,
    annotate,
    axes_width,
    draw_foot,
    draw_head,
    draw_scale_bar,
    foot_height,
    head_height,
    head_lines,
    page_inks,
    step_colours,
    step_sign,
    text_width,
    wrapped,
)
from .risk_map import draw_fibres_arrow, draw_risk_map, map_limits

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
    corners = [map_limits(option.risk, strip=False)[:2] for option in comparison.options]
    size = np.max([high - low for low, high in corners], axis=0)
    shared, own = _set_ups([option.risk.setup["caption"] for option in comparison.options])
    there = [any(o.summary.lengths[name][step] >= 0.05 for o in comparison.options) for step in CLASSES]
    items = [Item(step_sign(i), step) for i, step in enumerate(CLASSES) if there[i]]
    if any((o.risk.doubt[o.risk.exists] != 0).any() for o in comparison.options):
        items.append(Item(step_sign(2, broken=True), "broken: the number leaves something out"))
    setup, rates = comparison.options[0].risk.setup, comparison.options[0].hand.handwork
    wood = f"{setup['wood']}, {setup['moisture']:g} % moisture; grain {setup['grain']}."
    feet = [Foot(f"{wood[:1].upper()}{wood[1:]}" + (f" {shared}." if shared else ""))]
    feet.append(Foot(f"{rates.words} {setup.get('learned') or PRIOR}", accent=True))
    new = axes is None
    if axes is None:
        answer, lines = _answer(comparison, name)
        axes, head_at = _own_axes(comparison, size, own, (answer if title is None else title, lines), (items, feet))
    if not isinstance(axes, Sequence | np.ndarray) or len(axes) != count or any(ax is None for ax in axes):
        raise DomainError(f"axes must be as many as options, {count}, got {axes!r:.80}")
    most = max([_rework(option, name) for option in comparison.options] + [1e-9])
    artists = []
    for k, (ax, option, (low, high)) in enumerate(zip(axes, comparison.options, corners, strict=True)):
        lines_drawn = draw_risk_map(option.risk, ax, risk_name=name, key=False, caption=False)
        low, high = (low + high - size) / 2, (low + high + size) / 2
        ax.set_xlim(low[0], high[0])
        ax.set_ylim(low[1], high[1])
        point = float(high[0] - low[0]) / axes_width(ax)
        _tell(ax, option, name, most, own[k])
        if k == count - 1:
            draw_scale_bar(ax, low, high, float(max(size)) / 1.3, "")
            draw_fibres_arrow(ax, option.risk, point, low, high)
            if not new:
                draw_foot(ax, items, feet)
        artists.append(lines_drawn)
    if new:
        head, foot = head_at
        points = 72 * (_WIDE - 2 * _SIDE)
        draw_head(axes[0], *head, lift=foot[0], apart=True)
        draw_foot(axes[foot[1]], items, feet, up=-8.0, width=points)
    return artists


_WIDE, _SIDE, _GAP = 7.0, 0.2, 0.22
"""Of a new figure: its width, free at either side, between neighbours. [in]"""

_ABOVE = 31.0
"""Room above a map for name, result and bar; lines of the set-up come on top. [pt]"""


def _own_axes(
    comparison: Comparison,
    size: FloatArray,
    own: Sequence[str],
    answer: tuple[str, list[str]],
    foot: tuple[list[Item], list[Foot]],
) -> tuple[list[Axes], tuple[tuple[str, str], tuple[float, int]]]:
    """Axes of one scale in a new figure, broad designs below one another.

    With them the head and how high it is lifted [pt], and the number of the axes that the foot hangs from.
    """
    import matplotlib.pyplot as plt

    count = len(comparison)
    broad = bool(size[0] > 1.4 * size[1])
    across = 1 if broad else min(count, 3 if count != 4 else 2)
    down = -(-count // across)
    wide = (_WIDE - 2 * _SIDE - (across - 1) * _GAP) / across
    tall = min(wide * float(size[1] / size[0]), 4.0)
    points = 72 * (_WIDE - 2 * _SIDE)
    told = max((_set_up_lines(words, 72 * wide) for words in own), default=0)
    room = (_ABOVE + (0 if broad else 12) + 1.25 * (KEY - 1) * told) / 72
    head = head_lines(*answer, points)
    above, below = head_height(*head), foot_height(*foot, points)
    whole = above + down * (room + tall) + (down - 1) * 0.12 + below
    figure = plt.figure(figsize=(_WIDE, whole))
    axes = []
    for k in range(count):
        row, column = divmod(k, across)
        left = _SIDE + column * (wide + _GAP)
        top = whole - above - (row + 1) * room - row * (tall + 0.12)
        axes.append(figure.add_axes((left / _WIDE, (top - tall) / whole, wide / _WIDE, tall / whole)))
    return axes, (head, (72 * room, (down - 1) * across))


def _set_up_lines(words: str, width: float) -> int:
    return 1 + wrapped(words, width, KEY - 1).count("\n") if words else 0


def _set_ups(captions: Sequence[str]) -> tuple[str, list[str]]:
    """What all captions have in common, and what each has of its own."""
    parts = [caption.split(", ") for caption in captions]
    shared = [part for part in parts[0] if len(parts) > 1 and all(part in other for other in parts)]
    own = [", ".join(part for part in each if part not in shared) for each in parts]
    return (f"All with {', '.join(shared)}" if shared else ""), own


def _rework(option: Option, name: str) -> float:
    """Length of lip that needs sanding or re-cutting, 0 if not known. [mm]"""
    return float(sum(option.summary.lengths[name][step] for step in REWORK))


def _answer(comparison: Comparison, name: str) -> tuple[str, list[str]]:
    """Title and the lines below it: the fewest minutes, if all options have any."""
    known = [o for o in comparison.options if np.isfinite(o.summary.mean[name])]
    if not known:
        return "Nothing is known of these lips", []
    if len(known) < 2:
        return "", []
    order = sorted(known, key=lambda o: _rework(o, name))
    least, most = _rework(order[0], name), _rework(order[-1], name)
    told = f"{order[0].name} leaves {least:.0f} mm of lip to sand or re-cut, {order[-1].name} {most:.0f} mm."
    if most - least <= max(1.0, _ALIKE * most):
        told = "All options leave alike much to sand or re-cut."
    best = comparison.best()
    if best is None or name != "damage":
        return told.rstrip("."), []
    machine = all(np.isfinite(o.time[1]) for o in known)
    minutes = {o.name: o.minutes if machine else o.hand.expected for o in known}
    what = "min in all" if machine else "min by hand"
    others = [o for o in known if o is not best]
    next_best = min(others, key=lambda o: minutes[o.name])
    tied = [o.name for o in others if minutes[o.name] - minutes[best.name] <= _ALIKE * minutes[best.name]]
    first = f"{best.name}: {minutes[best.name]:.0f} {what}"
    if tied:
        alike = " and ".join([", ".join(tied[:-1]), tied[-1]] if len(tied) > 1 else tied)
        return f"{first}; {alike} {'is' if len(tied) == 1 else 'are'} much alike", [told]
    return f"{first}, {minutes[next_best.name] - minutes[best.name]:.0f} less than {next_best.name}", [told]


def _tell(ax: Axes, option: Option, name: str, most: float, own: str) -> None:
    """Above the map: its name, what is left to do and minutes, what is its own of the set-up, and a bar."""
    from matplotlib.patches import Rectangle

    ink, soft, _ = page_inks(ax)
    wide = axes_width(ax)
    if np.isfinite(option.summary.mean[name]):
        left = f"{_rework(option, name):.0f} mm to sand or re-cut, {option.hand.expected:.1f} min by hand"
        whole = f"{left}, {option.minutes:.1f} min in all"
        if np.isfinite(option.time[1]) and text_width(whole, SUB) < wide:
            left = whole
    else:
        left = f"mean {name} not known"
    caption = wrapped(own, wide, KEY - 1) if own else ""
    high = 1.25 * (KEY - 1) * (1 + caption.count("\n")) if own else 0.0
    beside = text_width(option.name, SUB + 1, bold=True) + text_width(left, SUB) + 12 < wide
    ax.set_title(option.name, loc="left", fontsize=SUB + 1, fontweight="bold", color=ink,
                 pad=13 + high + (0 if beside else 12))  # fmt: skip
    where = (1, "right") if beside else (0, "left")
    annotate(ax, left, (where[0], 1), (0, 13 + high), xycoords="axes fraction", ha=where[1], fontsize=SUB, color=ink)
    if caption:
        annotate(ax, caption, (0, 1), (0, 11), xycoords="axes fraction", fontsize=KEY - 1, color=soft, linespacing=1.2)
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
