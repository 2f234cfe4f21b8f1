"""The rose: one set-up in every direction."""

from __future__ import annotations

from itertools import pairwise
from typing import TYPE_CHECKING, Any

import numpy as np

from .._shared.arrays import FloatArray
from ..damage.maps import RiskMap
from ..damage.rose import Rose
from ..damage.scale import CLASSES, REWORK, RISK_WORDS
from ..errors import DomainError

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.collections import Collection
from .page import (
    AXIS,
    BOARD,
    BOARD_EDGE,
    DASH,
    FIBRE,
    FIBRE_INK,
    INK,
    KEY,
    STEPS,
    Foot,
    Item,
    annotate,
    axes_width,
    caption_of,
    common_azimuth,
    draw_foot,
    draw_head,
    foot_height,
    head_height,
    head_lines,
    lip_kinds,
    new_page,
    page_inks,
    risk_colours,
    step_colours,
    step_sign,
    swatch,
)
from .risk_map import knowledge_lines

__all__ = ["draw_rose"]

_ALIKE = 0.05
"""Lips that differ by less than this everywhere are drawn as one. [-]"""

_HUB = 0.06  # in the middle, so that nothing is squeezed together there, in radii
_LIFT = 36.0  # room for the degrees round the disc [pt]


def draw_rose(
    thing: Rose | RiskMap, ax: Axes | None = None, *, risk_name: str = "damage", title: str | None = None
) -> Collection:
    """Draw how a straight groove comes out by the way it runs: 0 to the right, counter-clockwise, on its board.

    The petals reach as far as the risk; they and the rim are in the steps of the scale.

    Parameters
    ----------
    thing
        A `Rose`, or a `RiskMap` (a point for every piece of lip, against the lip's own direction).
    ax
        Polar axes; None: a new figure.
    risk_name
        'damage', 'fuzz', 'tear' or 'scorch'.
    title
        Over the picture; None: the answer in a few words; '': none.

    Returns
    -------
    LineCollection or PathCollection
        For a Rose two lines, the left lip solid, the right one dashed where they differ; for a map points, left (dots)
        and right (open diamonds) in turn. The radius ends at the end of the step that the highest value is in.

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
    from matplotlib.projections.polar import PolarAxes

    if not isinstance(thing, Rose | RiskMap):
        raise DomainError(f"thing must be a Rose or a RiskMap, got {type(thing).__name__}")
    value = np.where(thing.exists, thing.values(risk_name), np.nan)
    if ax is not None and not isinstance(ax, PolarAxes):
        raise DomainError(f"ax must be polar, as from subplot_kw={{'projection': 'polar'}}, got {type(ax).__name__}")
    answer, lines, items = _words(thing, value, risk_name)
    answer = answer if title is None else title
    bounds = [min(b, 1.0) for b in CLASSES.values()]
    top = next(b for b in bounds if np.max(value, initial=0.0, where=np.isfinite(value)) <= b)
    feet = [Foot(_scale_words(bounds, top, RISK_WORDS[risk_name]))]
    feet.append(Foot(" ".join(f"{line}." for line in caption_of(thing.setup))))
    feet += [Foot(line, accent=True) for line in knowledge_lines(thing)]
    if ax is None:
        size = 4.6
        width = 72 * size
        above = head_height(*head_lines(answer, lines, width)) + _LIFT / 72
        below = foot_height(items, feet, width) + _LIFT / 72
        ax = new_page((size, size), above, below, 0.6, left=0.6, projection="polar")
    disc: Any = ax
    disc.set_theta_zero_location("E")
    disc.set_theta_direction(1)
    disc.set_rlim(0.0, top)
    disc.set_rorigin(-_HUB * top)
    _disc(ax, thing, top)
    artist = _petals(ax, thing, value, risk_name) if isinstance(thing, Rose) else _points(ax, thing, value)
    if isinstance(thing, Rose):
        _rim(ax, thing.heading, value, top)
    width = max(axes_width(ax), 300.0)
    draw_head(ax, *head_lines(answer, lines, width), lift=_LIFT)
    draw_foot(ax, items, feet, up=-_LIFT - 6)
    return artist


def _scale_words(bounds: list[float], top: float, word: str) -> str:
    """What the distance from the middle and the dashed rings mean."""
    said = f"The farther out, the worse: {word} from 0 at the middle to {top:.2g} at the rim, a number without a unit."
    begin = [f"{step} ({low:.2g})" for step, low in zip([*CLASSES][1:], bounds, strict=False) if low < top]
    if not begin:
        return said
    steps = " and ".join([", ".join(begin[:-1]), begin[-1]]) if len(begin) > 1 else begin[0]
    return f"{said} The dashed ring{'s stand' if len(begin) > 1 else ' stands'} where {steps} begin" + (
        "." if len(begin) > 1 else "s."
    )


def _words(thing: Rose | RiskMap, value: FloatArray, risk_name: str) -> tuple[str, list[str], list[Item]]:
    """Title, lines below it and key."""
    word = RISK_WORDS[risk_name]
    if isinstance(thing, RiskMap):
        items = [Item(_dot_sign(k), name) for k, name in enumerate(_lip_words(thing))]
        return f"{word.capitalize()} of every piece of lip by the way it runs", [], items
    worst = np.nanmax(np.where(np.isfinite(value), value, -1.0), axis=1)
    order = np.argsort(thing.heading, kind="stable")
    heading, worst = thing.heading[order], worst[order]
    whole = _whole_turn(heading)
    half = len(heading) // 2
    fro = whole and len(heading) % 2 == 0 and bool(np.abs(worst[:half] - worst[half:]).max(initial=0.0) < _ALIKE)
    fro = fro and abs(heading[half] - heading[0] - 180.0) < 1e-6
    step = np.where(worst < 0, -1, np.searchsorted(list(CLASSES.values()), worst, side="right"))
    shown = slice(None, half) if fro else slice(None)
    items = []
    for k in reversed(range(len(CLASSES))):
        spans = _spans(heading[shown], step[shown] == k, whole and not fro)
        if spans:
            items.append(Item(step_sign(k), f"{list(CLASSES)[k]} at {spans}", alone=True))
    hard = _spans(heading[shown], step[shown] >= len(CLASSES) - len(REWORK), whole and not fro)
    alike = (
        bool(np.nanmax(np.abs(value[:, 0] - value[:, 1]), initial=0.0) < _ALIKE) if np.isfinite(value).any() else True
    )
    lines = [f"How a straight groove comes out by the way it runs{'' if risk_name == 'damage' else f', by {word}'}."]
    if fro:
        lines[0] += " To and fro are alike."
    if alike:
        lines[0] += " Both lips are alike."
    else:
        items += [Item(_line_sign(k), name) for k, name in enumerate(_lip_words(thing))]
    if not np.isfinite(value).any():
        return f"{word.capitalize()} is not known", [], []
    if not hard:
        return "No direction needs sanding", lines, items
    if (step[shown] >= len(CLASSES) - len(REWORK)).all():
        return "Every direction needs sanding", lines, items
    return f"Keep long strokes off {hard}", lines, items


def _lip_words(thing: Rose | RiskMap) -> list[str]:
    return [f"{side} lip ({kind})" for side, kind in zip(("left", "right"), lip_kinds(thing.setup), strict=True)]


def _whole_turn(heading: FloatArray) -> bool:
    """Whether rising headings go round in one turn."""
    if len(heading) < 3:
        return False
    step = float(np.diff(heading).max())
    return bool((heading[0] + 360.0 - heading[-1]) <= 1.5 * step)


def _spans(heading: FloatArray, there: np.ndarray, closed: bool) -> str:
    """Stretches of rising headings, as '30° to 66° and 111° to 129°'."""
    if not there.any():
        return ""
    if there.all():
        return "every direction"
    first = int(np.argmin(there)) if closed else 0
    order = np.roll(np.arange(len(there)), -first)
    marked = np.concatenate([[False], there[order], [False]])
    ends = np.flatnonzero(marked[1:] != marked[:-1]).reshape(-1, 2)
    parts = []
    for a, b in ends:
        low, high = heading[order[a]], heading[order[b - 1]]
        parts.append(f"{low:.0f}°" if low == high else f"{low:.0f}° to {high:.0f}°")
    return (", ".join(parts[:-1]) + " and " if len(parts) > 1 else "") + parts[-1]


def _disc(ax: Any, thing: Rose | RiskMap, top: float) -> None:
    """The face of the board with its fibres, and where the steps end."""
    from matplotlib.patches import FancyArrowPatch

    from .artists import Fibres

    _, soft, _ = page_inks(ax)
    ax.set_facecolor(BOARD)
    ax.spines["polar"].set(color=BOARD_EDGE, linewidth=0.9)
    grain = thing.grain_azimuth if isinstance(thing, Rose) else common_azimuth(thing.fibre_azimuth)
    if grain is not None and np.isfinite(grain):
        fibres = Fibres(float(grain), colors=FIBRE, capstyle="round", zorder=0.1, gid="fibres")
        ax.add_collection(fibres, autolim=False)
        half = 22 / axes_width(ax) * np.array([np.cos(np.radians(grain)), np.sin(np.radians(grain))])
        middle = np.array([0.5, 0.11])
        arrow = FancyArrowPatch(tuple(middle - half), tuple(middle + half), arrowstyle="<|-|>", mutation_scale=9,
                                color=FIBRE_INK, linewidth=1.2, transform=ax.transAxes, gid="grain")  # fmt: skip
        arrow.shrinkA = arrow.shrinkB = 0
        arrow.set_zorder(2)
        ax.add_artist(arrow)
        patch: dict[str, Any] = {"boxstyle": "square,pad=0.12", "facecolor": BOARD, "edgecolor": "none"}
        up = 6 + 22 * abs(np.sin(np.radians(grain)))
        annotate(ax, "fibres", tuple(middle), (0, up), xycoords="axes fraction", ha="center", fontsize=KEY,
                 color=FIBRE_INK, bbox=patch, zorder=2)  # fmt: skip
    rings = [min(b, 1.0) for b in CLASSES.values() if min(b, 1.0) < top]
    ax.set_rgrids(rings or [top], [""] * len(rings or [top]))
    turns = np.arange(0, 360, 30)
    labels = [f"{t}°{_against_grain(float(t), grain)}" for t in turns]
    ax.set_thetagrids(turns, labels, fontsize=KEY, color=soft)
    ax.tick_params(axis="x", pad=9)  # clear of the rim
    ax.xaxis.grid(visible=False)
    ax.yaxis.grid(color=AXIS, linewidth=0.6, linestyle=(0, (4, 2.5)))
    ax.set_axisbelow(True)


def _against_grain(heading: float, grain: float | None) -> str:
    """' along' or ' across' for a heading that is, on a board whose fibres are straight. [deg]"""
    if grain is None or not np.isfinite(grain):
        return ""
    off = abs((heading - grain + 90.0) % 180.0 - 90.0)
    return "\nalong" if off < 7.5 else "\nacross" if off > 82.5 else ""


def _petals(ax: Any, rose: Rose, value: FloatArray, risk_name: str) -> Collection:
    """Wedges in the colour of their step for the worse lip, and a line for each lip."""
    from matplotlib.collections import LineCollection, PolyCollection

    angle = np.radians(rose.heading)
    order = np.argsort(angle, kind="stable")
    step = np.diff(angle[order]).max(initial=0.0)
    if len(order) > 2 and (angle[order[0]] - angle[order[-1]]) % (2 * np.pi) <= 1.5 * step:
        order = np.append(order, order[0])  # the last heading is a step short of the first: close the ring
    worse = np.nanmax(np.where(np.isfinite(value), value, 0.0), axis=1)
    wedges, colours = [], []
    ramp = step_colours()
    for i, j in pairwise(order):
        a, b = angle[i], angle[j] if angle[j] > angle[i] else angle[j] + 2 * np.pi
        middle, half = (a + b) / 2, (worse[i] + worse[j]) / 2
        for corners, peak in (
            ([(a, 0), (a, worse[i]), (middle, half), (middle, 0)], worse[i]),
            ([(middle, 0), (middle, half), (b, worse[j]), (b, 0)], worse[j]),
        ):
            k = int(np.searchsorted(list(CLASSES.values()), peak, side="right"))
            wedges.append(np.array(corners))
            colours.append(ramp[min(k, len(ramp) - 1)])
    petals = PolyCollection(wedges, facecolors=colours, edgecolors="face", linewidths=0.2, zorder=2.5, gid="petals")
    ax.add_collection(petals, autolim=False)
    lines = [np.column_stack([angle, value[:, k]])[order] for k in range(2)]
    differ = np.nanmax(np.abs(value[:, 0] - value[:, 1]), initial=0.0) >= _ALIKE if np.isfinite(value).any() else False
    artist = LineCollection(lines, zorder=3, gid="rose", label=risk_name)
    artist.set(color=[INK, INK if differ else "none"], linestyle=["solid", DASH], linewidth=[0.9, 1.2])
    ax.add_collection(artist, autolim=False)
    return artist


def _points(ax: Any, risk: RiskMap, value: FloatArray) -> Collection:
    """A point for every piece of lip."""
    from matplotlib.collections import PathCollection
    from matplotlib.markers import MarkerStyle
    from matplotlib.transforms import IdentityTransform

    dark = risk_colours()(0.95)
    shapes = [MarkerStyle(m).get_path().transformed(MarkerStyle(m).get_transform()) for m in ("o", "D")]
    spots = np.column_stack([np.radians(risk.heading).ravel(), value.ravel()])
    # two shapes, sizes and fills taken in turn, as the rows run left, right, left, right
    artist = PathCollection(shapes, sizes=[4.0, 16.0], offsets=spots, offset_transform=ax.transData, gid="rose")
    artist.set(facecolor=[dark, "none"], edgecolor=dark, linewidth=0.4, zorder=3)
    artist.set_transform(IdentityTransform())
    ax.add_collection(artist, autolim=False)
    return artist


def _rim(ax: Any, heading: FloatArray, value: FloatArray, top: float) -> None:
    """The worse lip's step round the disc, in the widths of the scale."""
    from matplotlib.collections import LineCollection

    order = np.argsort(heading, kind="stable")
    angle, worse = np.radians(heading[order]), np.nanmax(np.where(np.isfinite(value), value, -1.0), axis=1)[order]
    step = np.searchsorted(list(CLASSES.values()), worse, side="right")
    if len(angle) < 3:
        return
    gap = np.diff(angle).max()
    arcs, colours, widths = [], [], []
    cuts = np.flatnonzero(np.diff(step) | (np.diff(angle) > 1.5 * gap)) + 1
    for part in np.split(np.arange(len(angle)), cuts):
        k = int(step[part[0]])
        if worse[part[0]] < 0 or k == 0:
            continue
        width = 1.6 * list(STEPS.values())[k][1]
        along = np.linspace(angle[part[0]] - gap / 2, angle[part[-1]] + gap / 2, 2 + 2 * len(part))
        # half of the line's width beyond the rim
        out = top * (1.0 + 1.12 * (width / 2 + 0.5) / (axes_width(ax) / 2))
        arcs.append(np.column_stack([along, np.full(len(along), out)]))
        colours.append(step_colours()[k])
        widths.append(width)
    rim = LineCollection(arcs, colors=colours, linewidths=widths, capstyle="butt", zorder=3, gid="rim")
    ax.add_collection(rim, autolim=False)
    rim.set_clip_on(False)


def _dot_sign(k: int) -> Any:
    def sign() -> Any:
        from matplotlib.lines import Line2D

        area = swatch()
        marks: dict[str, Any] = {"marker": "o", "markersize": 2} if k == 0 else {"marker": "D", "markersize": 4}
        area.add_artist(Line2D([12], [5.5], color=risk_colours()(0.95), markeredgewidth=0.5,
                               markerfacecolor=risk_colours()(0.95) if k == 0 else "none", **marks))  # fmt: skip
        return area

    return sign


def _line_sign(k: int) -> Any:
    def sign() -> Any:
        from matplotlib.lines import Line2D

        area = swatch()
        dash: Any = DASH if k else "solid"
        area.add_artist(Line2D([0, 24], [5.5, 5.5], color=INK, linewidth=1.2 if k else 0.9, linestyle=dash))
        return area

    return sign
