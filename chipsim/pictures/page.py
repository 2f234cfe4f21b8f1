"""The page that every picture is drawn on: its axes, colours, captions, legends."""

from __future__ import annotations

import io
import os
import re
from collections.abc import Callable, Mapping, Sequence
from contextlib import AbstractContextManager
from functools import lru_cache
from typing import TYPE_CHECKING, Any, NamedTuple

import numpy as np

from .._shared.arrays import FloatArray, instance, number
from .._shared.files import checked_path, whole_file
from ..choosing.summaries import Summary
from ..damage.maps import CLASSES, RiskMap
from ..errors import DomainError
from ..units import inch, length_text

if TYPE_CHECKING:
    from matplotlib.artist import Artist
    from matplotlib.axes import Axes
    from matplotlib.collections import PolyCollection
    from matplotlib.colors import Colormap
    from matplotlib.offsetbox import DrawingArea, OffsetBox
    from matplotlib.transforms import Transform


__all__ = ["save_figure"]


HATCHES: Mapping[int, str] = {
    1: "/" * 6,
    2: "\\" * 6,
    3: "|" * 8,
    4: "x" * 5,
    5: "-" * 8,
    6: "*" * 3,
    -1: "+" * 4,
    -2: "." * 4,
}
"""Hatch of every doubt, by its code; -1: the risk is not known, -2: outside of what test pieces have shown."""

INK, SOFT, BODY, PAPER, WOOD = "#1a1a1a", "#666666", "#e6e6e6", "#ffffff", "#ead9bd"

BOARD, FIBRE, BOARD_EDGE = "#f7efe0", "#dcc7a0", "#b79a6b"  # the face of the board
HOLLOW, AXIS = "#d2bd97", "#93794f"  # a groove, and the way of the tool in it
UMBER, FIBRE_INK, FAINT = "#8a4b16", "#7a5c28", "#5d5a55"  # second accent; words about fibres; small print

HEAD, SUB, KEY, FOOT = 12.5, 9.0, 8.5, 8.0  # sizes of type of a picture's title, what is below it, key and foot [pt]

_BETWEEN = 13.0  # between two items of a key [pt]

TITLE, TEXT, SMALL = 9.0, 7.5, 7.0  # sizes of type [pt]

LINE = 1.3  # height of a line of text, in sizes of type

COLUMN, BAR = 1.85, 1.6  # width of the column beside the map; height of the colour bar in it [in]

DASH: Any = (0, (4, 1.6))

AIR: dict[str, Any] = {"colors": SOFT, "linewidths": 0.8, "linestyles": [(0, (0.1, 3.5))], "capstyle": "round"}

RING: dict[str, Any] = {"marker": "o", "markersize": 7, "markerfacecolor": "none", "markeredgecolor": SOFT}

DOT: dict[str, Any] = {"markerfacecolor": PAPER, "markeredgecolor": INK, "markeredgewidth": 0.7}

NOTE: dict[str, Any] = {"fontsize": SMALL, "color": INK}

LOOKS = {-1: "not known: this risk is not modelled", -2: "not learned: no test piece has shown such a lip"}


def new_axes(size: Sequence[float] | FloatArray, below: float, beside: float = 0.25, least: float = 0.0) -> Axes:
    """Axes of exactly this size in a new pyplot figure, at least `least` high, with room below and beside. [in]"""
    import matplotlib.pyplot as plt

    width, height = (float(a) for a in size)
    left, top = 0.6, 0.42
    whole = left + width + beside, max(top + height + 0.55 + below, least)
    figure = plt.figure(figsize=whole)
    return figure.add_axes((left / whole[0], 1 - (top + height) / whole[1], width / whole[0], height / whole[1]))


def new_page(
    size: Sequence[float] | FloatArray,
    above: float,
    below: float,
    beside: float = 0.2,
    *,
    left: float = 0.2,
    projection: str | None = None,
) -> Axes:
    """Axes of exactly this size in a new pyplot figure, with room above, below and on either side. [in]"""
    import matplotlib.pyplot as plt

    width, height = (float(a) for a in size)
    whole = left + width + beside, above + height + below
    figure = plt.figure(figsize=whole)
    place = (left / whole[0], below / whole[1], width / whole[0], height / whole[1])
    return figure.add_axes(place, projection=projection)


def check_axes(ax: object) -> None:
    """Raise DomainError unless it is None or one can draw in x and y there."""
    from matplotlib.axes import Axes

    if ax is not None and (not isinstance(ax, Axes) or ax.name in ("polar", "3d")):
        raise DomainError(f"ax must be axes with x and y, as from plt.subplots(), got {type(ax).__name__}")


def axes_width(ax: Axes) -> float:
    """Width of the axes on the page. [pt]"""
    ax.apply_aspect()
    return float(72 * ax.get_position().width * ax.figure.bbox.width / ax.figure.dpi)


def shifted_by_points(ax: Axes, right: float, up: float) -> Transform:
    """The axes' own fractions, shifted by points of the page."""
    from matplotlib.transforms import ScaledTranslation

    return ax.transAxes + ScaledTranslation(right / 72, up / 72, ax.figure.dpi_scale_trans)


def dress(ax: Axes, x: str, y: str, title: str) -> None:
    ax.set_aspect("equal", adjustable="box")
    ax.set_xlabel(x, fontsize=TEXT)
    ax.set_ylabel(y, fontsize=TEXT)
    ax.set_title(title, loc="left", fontsize=TITLE, color=INK, pad=6)
    ax.tick_params(labelsize=SMALL, color=SOFT, width=0.5, length=2.5)
    for spine in ax.spines.values():
        spine.set(color=SOFT, linewidth=0.5)


def trace(ax: Axes, points: FloatArray, **style: Any) -> None:
    """A line through (n, 2) points that leaves the limits of the axes alone."""
    ax.plot(*np.asarray(points).T, scalex=False, scaley=False, **style)


def annotate(ax: Axes, text: str, at: tuple[Any, Any], shift: tuple[float, float], **style: Any) -> None:
    """Small text at a point, shifted by (right, up) [pt]."""
    ax.annotate(text, at, shift, textcoords="offset points", annotation_clip=False, **{**NOTE, **style})


def draw_arrow(
    ax: Axes,
    tail: Sequence[float] | FloatArray,
    head: Sequence[float] | FloatArray,
    style: str,
    *,
    zorder: float,
    gid: str | None = None,
    **line: Any,
) -> None:
    shape = {"arrowstyle": style, "shrinkA": 0, "shrinkB": 0, "color": INK, "linewidth": 0.6, **line}
    ax.annotate("", (head[0], head[1]), (tail[0], tail[1]), arrowprops=shape, zorder=zorder, gid=gid)


def fine_hatch() -> AbstractContextManager[None]:
    from matplotlib import rc_context

    return rc_context({"hatch.linewidth": 0.5})


def fold(lines: Sequence[str], width: float) -> str:
    """Lines of small text folded to a width [pt], after a comma or semicolon where possible."""
    from matplotlib.font_manager import FontProperties
    from matplotlib.textpath import text_to_path

    font = FontProperties(size=SMALL)

    def fits(text: str) -> bool:
        return text_to_path.get_text_width_height_descent(text, font, False)[0] <= width

    folded = []
    for line in lines:
        parts = re.split(r"(?<=[,;]) ", line)
        first, *rest = [word for part in parts for word in ([part] if fits(part) else part.split(" "))]
        for piece in rest:
            if fits(f"{first} {piece}"):
                first = f"{first} {piece}"
            else:
                folded.append(first)
                first = piece
        folded.append(first)
    return "\n".join(folded)


def footer_height(notes: Sequence[tuple[int, str]]) -> float:
    """Height of what stands below the axes. [in]"""
    return sum(LINE * SMALL * (1 + text.count("\n")) + 5 for _, text in notes) / 72


def hang(ax: Axes, box: OffsetBox, at: tuple[float, float], shift: tuple[float, float]) -> None:
    """Hang a box by its upper left corner at a point of the axes [-], shifted by (right, up) [pt]."""
    from .artists import Hung

    where: Any = {"bbox_to_anchor": at, "bbox_transform": shifted_by_points(ax, *shift)}
    anchored = Hung("upper left", child=box, pad=0, borderpad=0, frameon=False, **where)
    anchored.set_clip_on(False)
    ax.add_artist(anchored)


def stack_rows(rows: Sequence[tuple[OffsetBox | None, str]]) -> OffsetBox:
    """Rows of a symbol and its words, one below the other."""
    from matplotlib.offsetbox import HPacker, TextArea, VPacker

    packed: list[Artist] = []
    for symbol, words in rows:
        text = TextArea(words, textprops={**NOTE, "linespacing": LINE})
        packed.append(text if symbol is None else HPacker(children=[symbol, text], align="center", pad=0, sep=6))
    return VPacker(children=packed, align="left", pad=0, sep=5)


def draw_footer(ax: Axes, notes: Sequence[tuple[int, str]]) -> None:
    """Text below the axes, each piece with the hatch it explains (0: none)."""
    from matplotlib.offsetbox import DrawingArea
    from matplotlib.patches import Rectangle

    rows: list[tuple[OffsetBox | None, str]] = []
    with fine_hatch():
        for look, words in notes:
            swatch = DrawingArea(22, 9) if look else None
            if swatch is not None:
                box = Rectangle(
                    (0, 0), 22, 9, facecolor=BODY, edgecolor=INK, linewidth=0.5, hatch=HATCHES.get(look, "ooo")
                )
                swatch.add_artist(box)
            rows.append((swatch, words))
    hang(ax, stack_rows(rows), (0, 0), (0, -32))


def legend_below(ax: Axes, handles: Sequence[Artist], lines: Sequence[str], width: float, up: float) -> None:
    """Caption and legend in one, below the axes, folded to a width [pt]."""
    place: Any = {"bbox_to_anchor": (0.0, 0.0), "bbox_transform": shifted_by_points(ax, 0, up), "loc": "upper left"}
    plain: Any = {"frameon": False, "borderaxespad": 0, "borderpad": 0, "alignment": "left", "labelcolor": INK}
    title: dict[str, Any] = {"title": fold(lines, width), "title_fontsize": SMALL}
    legend = ax.legend(handles=list(handles), fontsize=SMALL, **place, **plain, **title)
    legend.get_title().set(color=INK, linespacing=LINE)


_RAMP = ("f2edd7", "d3d9d8", "b4c3d4", "99adcd", "7f95c2", "687eb3", "5467a3", "425090", "323b7c", "252466", "1a0e50")
"""Pale wood to deep blue in equal steps as seen (OKLab), also without red or green: the ramp of every risk."""


def risk_colours() -> Colormap:
    """Light (0) to dark (1), perceptually uniform, no green in it; what is not known stays blank."""
    from matplotlib.colors import LinearSegmentedColormap

    ramp = LinearSegmentedColormap.from_list("risk", [f"#{stop}" for stop in _RAMP], N=256)
    return ramp.with_extremes(bad=PAPER)


STEPS: Mapping[str, tuple[float, float]] = {
    "clean": (0.0, 0.0),
    "brush": (0.34, 1.5),
    "light sanding": (0.54, 2.6),
    "heavy sanding": (0.75, 3.7),
    "re-cut": (0.97, 5.0),
}
"""Of every step of the scale its place on the ramp and the width of its line; clean takes no ink. [-, pt]"""


def step_colours(cmap: Colormap | None = None) -> list[tuple[float, float, float, float]]:
    """Colour of every step of the scale, clean first, from a ramp."""
    ramp = cmap if cmap is not None else risk_colours()
    return [tuple(float(v) for v in ramp(place)) for place, _ in STEPS.values()]  # type: ignore[misc]


def page_inks(ax: Axes) -> tuple[str, str, str]:
    """Ink, soft ink and accent for what stands beside the axes, by how dark the page is."""
    from matplotlib.colors import to_rgba

    red, green, blue, solid = to_rgba(ax.figure.get_facecolor())
    dark = 0.2126 * red + 0.7152 * green + 0.0722 * blue < 0.4 and solid > 0.5
    return ("#f1eee6", "#c9c5bc", "#e3a15f") if dark else (INK, FAINT, UMBER)


@lru_cache(maxsize=4096)
def text_width(text: str, size: float, bold: bool = False) -> float:
    """Width of a line of text. [pt]"""
    from matplotlib.font_manager import FontProperties
    from matplotlib.textpath import text_to_path

    font = FontProperties(size=size, weight="bold" if bold else "normal")
    return float(text_to_path.get_text_width_height_descent(text, font, False)[0])


_WITH_UNIT = re.compile(r"(?<=\d) (?=(?:µm|mm|thou|min|rpm|deg|%)(?!\w))")


def wrapped(text: str, width: float, size: float, bold: bool = False) -> str:
    """Text folded between words to a width [pt]; a figure keeps its unit beside it."""
    lines: list[str] = []
    for paragraph in _WITH_UNIT.sub("\N{NO-BREAK SPACE}", text).split("\n"):
        line = ""
        for word in paragraph.split(" "):
            longer = f"{line} {word}" if line else word
            if line and text_width(longer, size, bold) > width:
                lines.append(line)
                line = word
            else:
                line = longer
        lines.append(line)
    return "\n".join(lines).replace("\N{NO-BREAK SPACE}", " ")


def head_lines(title: str, lines: Sequence[str], width: float) -> tuple[str, str]:
    """Title and what stands below it, folded to a width. [pt]"""
    below = "\n".join(wrapped(line, width, SUB) for line in lines if line)
    return wrapped(title, width, HEAD, bold=True), below


def head_height(title: str, below: str) -> float:
    """Height of a head. [in]"""
    return (_rows_high(title, HEAD) + _rows_high(below, SUB) + 14) / 72


def _rows_high(text: str, size: float) -> float:
    return LINE * size * (1 + text.count("\n")) if text else 0.0


def draw_head(ax: Axes, title: str, below: str, *, lift: float = 0.0, right: float = 0.0, apart: bool = False) -> None:
    """Title above the axes by `lift` and shifted by `right` [pt], the answer, and below it how much and what to do.

    It is the axes' own title unless it is shifted, or set apart from a title that they have.
    """
    ink, soft, _ = page_inks(ax)
    pad = 7 + lift + _rows_high(below, SUB)
    if title and (right or apart):
        annotate(ax, title, (0, 1), (right, pad), xycoords="axes fraction", fontsize=HEAD, fontweight="bold", color=ink,
                 linespacing=1.15, gid="title")  # fmt: skip
    elif title:
        ax.set_title(title, loc="left", fontsize=HEAD, fontweight="bold", color=ink, pad=pad, linespacing=1.15)
    if below:
        annotate(ax, below, (0, 1), (right, 5 + lift), xycoords="axes fraction", fontsize=SUB, color=soft,
                 linespacing=1.25, gid="below the title")  # fmt: skip


def draw_foot(
    ax: Axes,
    items: Sequence[Item],
    lines: Sequence[Foot],
    *,
    up: float = -8.0,
    width: float | None = None,
    right: float = 0.0,
) -> None:
    """Key and small print below the axes, folded to their width or to another one [pt]: signs with words, then text."""
    from matplotlib.offsetbox import HPacker, TextArea, VPacker

    width = max(width or axes_width(ax), 140.0)
    ink, soft, accent = page_inks(ax)
    rows: list[Artist] = []
    for row in item_rows(items, width):
        boxes: list[Artist] = []
        for item in row:
            words = TextArea(
                wrapped(item.words, width - 30, KEY), textprops={"fontsize": KEY, "color": ink, "linespacing": 1.25}
            )
            sign = item.sign()
            boxes.append(words if sign is None else HPacker(children=[sign, words], align="center", pad=0, sep=5))
        rows.append(HPacker(children=boxes, align="center", pad=0, sep=_BETWEEN))
    for foot in lines:
        text = wrapped(foot.words, width, FOOT)
        colour = accent if foot.accent else soft
        rows.append(TextArea(text, textprops={"fontsize": FOOT, "color": colour, "linespacing": 1.25}))
    if rows:
        hang(ax, VPacker(children=rows, align="left", pad=0, sep=6), (0, 0), (right, up))


def foot_height(items: Sequence[Item], lines: Sequence[Foot], width: float) -> float:
    """Height of a foot on axes of a width [pt]. [in]"""
    wide = max(width, 140.0)
    rows = [max(_rows_high(wrapped(i.words, wide - 30, KEY), KEY) for i in row) for row in item_rows(items, wide)]
    text = [_rows_high(wrapped(f.words, wide, FOOT), FOOT) for f in lines]
    return (sum(max(h, 12.0) for h in rows) + sum(text) + 6 * (len(rows) + len(text)) + 10) / 72


def item_rows(items: Sequence[Item], width: float) -> list[list[Item]]:
    """Items of a key laid out in rows of a width. [pt]"""
    rows: list[list[Item]] = []
    used = 0.0
    for item in items:
        lines = wrapped(item.words, width - 30, KEY).split("\n")
        wide = max(text_width(line, KEY) for line in lines) + 29
        if rows and not item.alone and used + _BETWEEN + wide <= width:
            rows[-1].append(item)
            used += _BETWEEN + wide
        else:
            rows.append([item])
            used = width if item.alone else wide
    return rows


class Item(NamedTuple):
    """One sign of a key, made when it is drawn (None: only words), its words, and whether it has a row of its own."""

    sign: Callable[[], OffsetBox | None]
    words: str
    alone: bool = False


class Foot(NamedTuple):
    """One line of small print; the accent marks what a result rests on."""

    words: str
    accent: bool = False


def step_sign(step: int, *, broken: bool = False) -> Callable[[], OffsetBox]:
    """What a step of the scale looks like: its line beside a bit of the groove."""

    def sign() -> OffsetBox:
        from matplotlib.lines import Line2D
        from matplotlib.patches import Rectangle

        area = swatch()
        width = list(STEPS.values())[step][1]
        low = 3.0
        area.add_artist(Rectangle((0, 0), 24, low, facecolor=HOLLOW, edgecolor="none"))
        dash: Any = dash_of(max(width, 1.0)) if broken else "solid"
        if width:
            area.add_artist(Line2D([0, 24], [low + 0.4 + width / 2] * 2, color=step_colours()[step], linewidth=width,
                                   solid_capstyle="butt", dash_capstyle="butt", linestyle=dash))  # fmt: skip
        area.add_artist(Line2D([0, 24], [low, low], color=INK, linewidth=0.8, linestyle="solid" if width else dash))
        return area

    return sign


def swatch(colour: Any = BOARD) -> DrawingArea:
    """A bit of the board, for the sign of a key."""
    from matplotlib.offsetbox import DrawingArea
    from matplotlib.patches import Rectangle

    area = DrawingArea(24, 11)
    area.add_artist(Rectangle((0, 0), 24, 11, facecolor=colour, edgecolor="none"))
    return area


def dash_of(width: float) -> tuple[float, tuple[float, float]]:
    """Dashes of 2.2 points and gaps of 1.6, whatever the width of the line."""
    return (0.0, (2.2 / width, 1.6 / width))


def caption_of(setup: Mapping[str, Any]) -> list[str]:
    wood = str(setup["wood"])
    board = f"{wood[:1].upper()}{wood[1:]}, {setup['moisture']:g} % moisture; grain {setup['grain']}"
    return [str(setup["caption"]), board]


def lip_kinds(setup: Mapping[str, Any]) -> tuple[str, str]:
    """What the left and the right lip are to the spindle, or to either spin if the grooves differ."""
    if len(set(setup["spins"])) > 1:
        return "entry if cw, exit if ccw", "exit if cw, entry if ccw"
    kinds = ("entry, conventional", "exit, climb")
    return kinds if setup["spins"][0] == "cw" else (kinds[1], kinds[0])


def common_azimuth(azimuth: FloatArray) -> float | None:
    """The azimuth that all values share as an axis [deg]; None if they differ or there are none."""
    known = azimuth[np.isfinite(azimuth)]
    if not known.size or np.abs(np.exp(2j * np.radians(known - known[0])) - 1).max() > 1e-9:
        return None
    return float(known[0])


def draw_colour_bar(ax: Axes, bands: PolyCollection, risk_name: str) -> None:
    """Colour bar of fixed size at the upper right of the axes: numbers left, words of the classes right."""
    from matplotlib.transforms import Bbox

    bar_ax = ax.inset_axes((1.05, 0.0, 0.05, 1.0))

    def place(_axes: Any, _renderer: Any) -> Bbox:
        x, y = ax.transAxes.transform((1.0, 1.0))
        left, right, bottom, top = np.array([0.42, 0.54, -0.16 - BAR, -0.16]) * ax.figure.dpi
        box = Bbox.from_extents(x + left, y + bottom, x + right, y + top)
        return Bbox(ax.figure.transSubfigure.inverted().transform(box.get_points()))

    bar_ax.set_axes_locator(place)
    bar = ax.figure.colorbar(bands, cax=bar_ax)
    bounds = [0.0, *(min(b, 1.0) for b in CLASSES.values())]
    bar.set_ticks(bounds, labels=[f"{b:.2f}" for b in bounds])
    bar_ax.yaxis.set_ticks_position("left")
    bar_ax.tick_params(labelsize=SMALL, length=2.5, width=0.5, color=SOFT)
    bar_ax.set_title(f"{risk_name} [-]", fontsize=TEXT, color=INK, pad=7)
    for spine in bar_ax.spines.values():
        spine.set(color=SOFT, linewidth=0.5)
    for low, high, word in zip(bounds[:-1], bounds[1:], CLASSES, strict=True):
        middle = (1.0, (low + high) / 2)
        annotate(bar_ax, word, middle, (4, 0), xycoords=("axes fraction", "data"), va="center_baseline")
        bar_ax.axhline(low, color=PAPER if low > 0.4 else INK, linewidth=0.6)


def grain_label(risk: RiskMap) -> str:
    return fold([f"grain {risk.setup['grain']}"], 78)


def draw_scale_bar(ax: Axes, low: FloatArray, high: FloatArray, span: float, words: str) -> None:
    """Bar of a round length in the strip below the groove, in mm and inches."""
    width = float(high[0] - low[0])
    power = 10.0 ** np.floor(np.log10(0.3 * width))
    size = power * max(m for m in (1, 2, 5) if m * power <= 0.3 * width)
    x, y, tick = low[0] + 0.04 * width, low[1] + 0.03 * span, 0.012 * span
    bar = [[x, y + tick], [x, y - tick], [x, y], [x + size, y], [x + size, y - tick], [x + size, y + tick]]
    trace(ax, np.array(bar), color=INK, linewidth=1.0, solid_joinstyle="miter", zorder=5, gid="scale bar")
    annotate(ax, f"{size:g} mm ({size / inch:.3g} in){words}", (x + size, y), (5, 0), va="center_baseline")


def comes_to_text(summary: Summary, name: str) -> str:
    """Mean of a risk, and how much lip needs work; what is not known is said, not counted as sound."""
    unknown = summary.lengths["damage"]["not known"]
    left = [f"{length_text(unknown, 0)} of lip not known"] if unknown > 0 else []
    if not np.isfinite(summary.mean[name]):
        return ", ".join([f"mean {name} not known", *left])
    poor = f"{length_text(summary.poor(), 0)} need sanding or re-cutting"
    return ", ".join([f"mean {summary.mean[name]:.3f}", poor, *left])


def save_figure(figure: Artist, path: str | os.PathLike[str], *, dpi: float = 160.0) -> None:
    """Write a figure to a file whole or not at all; the same figure gives the same bytes, for no date is in them.

    Parameters
    ----------
    figure
        A matplotlib figure, or anything drawn in one, such as what `draw_risk_map` returns.
    path
        File to write; its name ends in .png, .svg or .pdf, which says of what kind it is.
    dpi
        Dots per inch of a .png, in [20, 2000]. [dots per inch]

    Raises
    ------
    DomainError
        If an argument is of the wrong kind or out of range, or the file's folder does not exist.
    OSError
        If the file cannot be written; one that was there before is as it was.

    Examples
    --------
    >>> import chipsim as cs
    >>> outline = cs.draw_profile(cs.VBit(60, 12.7, 2))
    >>> cs.save_figure(outline, "bit.svg")
    """
    from matplotlib import rc_context
    from matplotlib.artist import Artist
    from matplotlib.figure import Figure

    whole: Any = figure
    while isinstance(whole, Artist) and not isinstance(whole, Figure):
        whole = whole.figure
    instance("figure", whole, Figure, "a matplotlib Figure, or something drawn in one")
    dots = number("dpi", dpi, low=20, high=2000, unit="1/in")
    kind = os.path.splitext(checked_path(path))[1].lower()
    dates: dict[str, Any] = {".png": {}, ".svg": {"Date": None}, ".pdf": {"CreationDate": None, "ModDate": None}}
    if kind not in dates:
        raise DomainError(f"path must be the path of a file whose name ends in .png, .svg or .pdf, got {path!r}")
    out = io.BytesIO()
    with rc_context({"svg.hashsalt": "chipsim"}):  # otherwise marks in the file have names by chance
        whole.savefig(out, format=kind[1:], dpi=dots, metadata=dates[kind])
    with whole_file(path, "wb") as handle:
        handle.write(out.getvalue())
