"""The grading sheet of a test piece: pages to print at 1:1, with the rings, boxes to write in, the scale and cautions.

The sheet never says which setting made which ring. Bytes are the same for the same piece: no date, no version.
"""

from __future__ import annotations

import io
import os
from textwrap import fill
from typing import TYPE_CHECKING, Any, NamedTuple

import numpy as np

from .._shared.arrays import choice, instance
from .._shared.files import checked_path, whole_file
from ..errors import DomainError
from .grading import FLAGS, KINDS, SCALE, graded_lines, second_places
from .testpiece import STAIR, Coupon, Extra, Ring, ring_edges

if TYPE_CHECKING:
    from matplotlib.artist import Artist
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

__all__ = ["PAPERS", "grading_pages", "write_grading_sheet"]

PAPERS = {"A4": (210.0, 297.0), "Letter": (215.9, 279.4)}
"""Width and height of the papers. [mm]"""

_EDGE = 12.0  # free of print all round [mm]
_HEAD = 14.0  # height of the heading [mm]
_LEGEND = 119.0  # height of scale, rules and cautions [mm]
_FOOT = 8.0  # height of the key under boxes [mm]
_LINE = 7.2  # height of a line of boxes [mm]
_MOST = 18  # boxes in one line of the paper; a line of the form with more is folded
_NAMES = 20.0  # width of the column that says ring and lip [mm]
_REST = 14.0  # width of the box at the end of a line [mm]
_INK, _SOFT, _PAPER, _WASH, _GREY = "#1a1a1a", "#777777", "#ffffff", "#e9e9e9", "#bbbbbb"
_FIBRE, _HOLLOW = "#dcc7a0", "#eadfc8"
_TEXT, _SMALL = 7.5, 6.0  # [pt]

_CAUTIONS = (
    "Pull the plug before you touch bit, collet or dust. Hold an off-cut as firmly as good stock: clamps outside the "
    "swept area, no loose scrap.",
    "Wear eye and ear protection, extract the dust: that of hardwoods is a carcinogen. Run the program in air first. "
    "Stay with the machine; keep a fire watch after scorching.",
    "The bit's marking and the manuals of router and machine come before anything printed here. Edges of a test piece "
    "splinter: brush along the groove, not across.",
)

_RULES = (
    "Pencil the letters on the wood now, from the map at 1:1: a ring's inside it, a stroke's at its dot, and an arrow "
    "up the page.",
    "Light from the side, 10x loupe. Clean by one stroke of a dry soft brush along the groove, nothing else.",
    "One box is one lip over one sector. Sectors count counter-clockwise, 1 begins at the right. The lip 'out' is the "
    "outer edge of the ring, 'in' the inner one. A straight stroke counts from its dot; 'left' and 'right' are as "
    "seen from there along the stroke.",
    "Grade the worst millimetre, not the average. Write grade and letter into the box: 2f, 3t, 0. A flag goes behind "
    "them: 2f s, 0 s.",
    "You may write only what is not clean, and tick 'rest clean' at the end of the line. A box that you cannot judge "
    "gets a dash. Hatched boxes hold the join of the cut: leave them.",
    "Take a whole ring at a time, turning the piece, and do not look up at which setting a ring was cut.",
    "The second reading has a page of its own. Take it an hour later, without looking at the first.",
    "When both are done, type the boxes into the form's file, which has the same lines. What a rule measured goes into "
    "'note'.",
)

_EXAMPLE = (
    "For example 2f: fringe to 0.3 mm that stands proud. 3t s: nicks, and scorched. Then the tick: all empty boxes of "
    "the line are clean."
)

_CONTROLS = {
    "grain mark": "the L says how the piece lies, its long arm along x",
}
"""What to do with what is not graded."""


def write_grading_sheet(coupon: Coupon, path: str | os.PathLike[str], *, paper: str = "A4") -> None:
    """Write the sheet as PDF, to be printed at 100 % ("actual size").

    Parameters
    ----------
    coupon
        The test piece.
    path
        File to write; its name ends in .pdf.
    paper
        'A4' or 'Letter'.

    Raises
    ------
    DomainError
        If the paper is unknown, the file's name ends in something else or its folder does not exist.
    OSError
        If the file cannot be written.

    Examples
    --------
    >>> import chipsim as cs
    >>> board = cs.Board(cs.wood("black cherry"), cs.straight_grain(azimuth=0))
    >>> piece = cs.coupon(cs.VBit(90, 10, 2), board, 18_000, 1200, machine=cs.Machine(800, 5000), sectors=8)
    >>> cs.write_grading_sheet(piece, "sheet.pdf", paper="Letter")
    """
    from matplotlib import rc_context
    from matplotlib.backends.backend_pdf import PdfPages

    instance("coupon", coupon, Coupon, "a Coupon, as from coupon()")
    checked_path(path, suffix=".pdf")
    out = io.BytesIO()
    about: dict[str, Any] = {
        "Title": f"Grading sheet: {coupon.name}, identity {coupon.identity}",
        "Creator": "chipsim",
        "Producer": "chipsim",
        "CreationDate": None,
        "ModDate": None,
    }
    # type 42 keeps the text searchable
    with rc_context({"pdf.fonttype": 42}), PdfPages(out, metadata=about) as pages:
        for figure in grading_pages(coupon, paper=paper):
            pages.savefig(figure)
    with whole_file(path, "wb") as handle:
        handle.write(out.getvalue())


def grading_pages(coupon: Coupon, *, paper: str = "A4") -> list[Figure]:
    """Pages of the sheet as figures of the paper's size.

    The piece at 1:1 with the scale beside it and the boxes of the first reading below, on one page where they have
    room; the boxes of the second reading, rules and cautions.
    """
    if not isinstance(coupon, Coupon):
        raise DomainError(f"coupon must be a Coupon, as from coupon(), got {type(coupon).__name__}")
    size = PAPERS[choice("paper", paper, tuple(PAPERS))]
    height = _height_of_boxes(coupon, size)
    maps, ground = _maps(coupon, size, aside=height > 0)
    if height:
        boxes, free = _boxes(coupon, size, 1, on=(maps[0], ground - 6.0, height))
        _scale_beside(maps[0][1], coupon, size)
    else:
        boxes, free = _boxes(coupon, size, 1)
    second, low_second = _boxes(coupon, size, 2)
    # the scale stands where there is room for it
    places = (
        (maps[-1], _EDGE + 14.0, ground),
        (boxes[0], _EDGE + _FOOT, free),
        (second[-1], _EDGE + _FOOT, low_second),
    )
    boxes = [*second] if height else [*boxes, *second]
    for page, low, high in places[2 if height else 0 :]:
        if high - 6.0 - low >= _LEGEND:
            _legend(page[1], coupon, size, high - 6.0)
            pages = [*maps, *boxes]
            break
    else:
        last = _page(size)
        _legend(last[1], coupon, size, size[1] - _EDGE - _HEAD)
        pages = [*maps, *boxes, last]
    for i, (_, ax) in enumerate(pages, 1):
        words = f"{coupon.name}    identity {coupon.identity}    page {i} of {len(pages)}    {coupon.board.wood.name}"
        # a long name is set smaller, so that it ends before the line for the date
        small = min(9.0, 9.0 * 52 / len(words))
        # a name may hold a dollar sign: nothing here is a formula
        ax.text(_EDGE, size[1] - _EDGE, words, fontsize=small, va="top", color=_INK, parse_math=False)
        for word, left, right in (("date", 74.0, 46.0), ("graded by", 42.0, 0.0)):
            y = size[1] - _EDGE - 3.0
            ax.text(size[0] - _EDGE - left, y, word, fontsize=_TEXT, va="bottom", color=_SOFT)
            ends = [size[0] - _EDGE - left + (8.0 if word == "date" else 13.5), size[0] - _EDGE - right]
            ax.plot(ends, [y, y], color=_SOFT, linewidth=0.4)
    return [figure for figure, _ in pages]


def _page(size: tuple[float, float]) -> tuple[Figure, Axes]:
    """A page whose data are its millimetres from the lower left corner."""
    from matplotlib.figure import Figure

    figure = Figure(figsize=(size[0] / 25.4, size[1] / 25.4))
    ax = figure.add_axes((0, 0, 1, 1))
    ax.set(xlim=(0, size[0]), ylim=(0, size[1]))
    ax.axis("off")
    return figure, ax


# ------------------------------------------------------------------------------------- the piece at 1:1


def _height_of_boxes(coupon: Coupon, size: tuple[float, float]) -> float:
    """Height of a line of boxes with which the first reading fits below the piece; 0 if it does not. [mm]"""
    room = size[1] - 2 * _EDGE - _HEAD - coupon.size[1] - 6.0 - 10.0 - _RULER
    room -= (_TIGHT + 3.0) * len(_notes_to_take(coupon))
    if coupon.size[0] > size[0] - 2 * _EDGE - _ASIDE:
        return 0.0
    height = min(_LINE, room / len(_lines(coupon, 1)))
    return height if height >= _TIGHT else 0.0


_TIGHT = 5.2  # least height of a line of boxes that can be written in [mm]
_ASIDE = 56.0  # width that the scale takes beside the piece [mm]
_RULER = 14.0  # height of the bars to be checked with a rule [mm]


def _scale_beside(ax: Axes, coupon: Coupon, size: tuple[float, float]) -> None:
    """What a box gets, to the right of the piece: grades, letters, flags."""
    x, y = _EDGE + coupon.size[0] + 6.0, size[1] - _EDGE - _HEAD
    wide = int((size[0] - _EDGE - x) / 1.36)

    def say(text: str, size_: float = _TEXT, **style: Any) -> float:
        words = fill(text, wide)
        ax.text(x, y, words, fontsize=size_, va="top", color=_INK, linespacing=1.2, **style)
        return 0.44 * size_ * (1 + words.count("\n")) + 0.9

    y -= say("What a box gets", 9.0, weight="bold") + 0.5
    for k, (word, seen, _) in enumerate(SCALE):
        y -= say(f"{k}  {word}", 8.5, weight="bold") - 0.5
        y -= say(seen, 7.0) + 0.6
    y -= 1.0
    y -= say("and from 1 to 4 a letter", 8.5, weight="bold") - 0.3
    for key, words in KINDS.items():
        y -= say(f"{key}  {words}", 7.0) - 0.5
    y -= 1.5
    y -= say("and, if it is there", 8.5, weight="bold") - 0.3
    for key, words in FLAGS.items():
        y -= say(f"{key}  {words}", 7.0) - 0.5


def _maps(coupon: Coupon, size: tuple[float, float], *, aside: bool = False) -> tuple[list[tuple[Figure, Axes]], float]:
    """The piece at true size, on as many pages as it takes, and how far down the last one reaches. [mm]

    It stands in the middle, or aside at the left where something is to stand beside it.
    """
    pages, bottom = [], 0.0
    room = (size[0] - 2 * _EDGE, size[1] - 2 * _EDGE - _HEAD - 16.0)
    columns, rows = (max(1, int(np.ceil(c / r - 1e-9))) for c, r in zip(coupon.size, room, strict=True))
    for j in range(rows):
        for i in range(columns):
            figure, ax = _page(size)
            low = (i * room[0], j * room[1])
            width, height = (min(r, c - a) for r, c, a in zip(room, coupon.size, low, strict=True))
            top = size[1] - _EDGE - _HEAD
            ground = (_EDGE + (0.0 if aside else (room[0] - width) / 2), top - height)
            _piece(ax, coupon, (ground[0] - low[0], ground[1] - low[1]), (*ground, width, height))
            part = ""
            if rows * columns > 1:
                ends = "; ".join(
                    f"{n} {a:.0f} to {a + v:.0f} mm" for n, a, v in zip("xy", low, (width, height), strict=True)
                )
                part = f": part {i + 1 + j * columns} of {rows * columns}, {ends} from its lower left corner"
            ax.text(_EDGE, size[1] - _EDGE - 5, f"The piece at 1:1, as seen from above{part}", fontsize=_TEXT, va="top")
            _scale_bar(ax, size)
            pages.append((figure, ax))
            bottom = ground[1]
    return pages, bottom


def _piece(ax: Axes, coupon: Coupon, shift: tuple[float, float], window: tuple[float, float, float, float]) -> None:
    from matplotlib.patches import Rectangle

    frame = Rectangle(window[:2], window[2], window[3], facecolor="none", edgecolor=_SOFT, linewidth=0.6)
    ax.add_patch(frame)
    azimuth = float(coupon.board.grain.at(np.array(coupon.size) / 2)[0])
    drawn: list[Artist] = _fibres(ax, window, azimuth)
    for ring in coupon.rings:
        drawn += _ring_at_scale(ax, coupon, ring, shift)
    for extra in coupon.extras:
        drawn += _extra_at_scale(ax, coupon, extra, shift)
    # only now: axes clip to themselves whatever has no path of its own when it is added, and a rectangle gives none
    for artist in drawn:
        artist.set_clip_path(frame)
        artist.set_clip_on(True)
    _grain_arrow(ax, (ax.get_xlim()[1] - _EDGE - 6.0, ax.get_ylim()[1] - _EDGE - 9.0), azimuth)


def _fibres(ax: Axes, window: tuple[float, float, float, float], azimuth: float) -> list[Artist]:
    """Fine broken lines along the fibres, over the face of the piece, the same each time."""
    from matplotlib.collections import LineCollection

    dice = np.random.default_rng(7)
    turn = np.radians(azimuth)
    along, across = np.array([np.cos(turn), np.sin(turn)]), np.array([-np.sin(turn), np.cos(turn)])
    middle = np.array(window[:2]) + np.array(window[2:]) / 2
    reach = float(np.hypot(*window[2:])) / 2
    lines = []
    for v in np.arange(-reach, reach, 2.2):
        u = -reach - dice.uniform(0.0, 50.0)
        while u < reach:
            length = dice.uniform(15.0, 50.0)
            ends = np.array([u, u + length])[:, None] * along + (v + dice.uniform(-0.4, 0.4)) * across
            lines.append(middle + ends)
            u += length + dice.uniform(1.0, 5.0)
    strokes = LineCollection(lines, colors=_FIBRE, linewidths=0.5, zorder=0.1, gid="fibres")
    ax.add_collection(strokes, autolim=False)
    return [strokes]


def _ring_at_scale(ax: Axes, coupon: Coupon, ring: Ring, shift: tuple[float, float]) -> list[Artist]:
    from matplotlib.patches import Circle, Wedge

    x, y = ring.centre[0] + shift[0], ring.centre[1] + shift[1]
    r, w = ring.radius, coupon.width
    edges = ring_edges(coupon.sectors)
    out: list[Artist] = []
    for s in ring.marked:
        wedge = Wedge((x, y), r + w / 2, edges[s - 1], edges[s], width=w, facecolor="none", edgecolor=_SOFT)
        wedge.set(hatch="////", linewidth=0.0)
        out.append(ax.add_patch(wedge))
    hollow = Wedge((x, y), r + w / 2, 0.0, 360.0, width=w, facecolor=_HOLLOW, edgecolor="none", zorder=0.5)
    out.append(ax.add_patch(hollow))
    for radius in (r - w / 2, r + w / 2):
        out.append(ax.add_patch(Circle((x, y), radius, facecolor="none", edgecolor=_INK, linewidth=0.6)))
    for angle in np.radians(edges[:-1]):
        way = np.array([np.cos(angle), np.sin(angle)])
        ends = np.array([x, y]) + np.outer([r - w / 2 - 1.0, r + w / 2 + 1.0], way)
        out += ax.plot(*ends.T, color=_SOFT, linewidth=0.3)
    inner = r - w / 2 - 2.1
    # as many of the numbers as can be read: none is smaller than the least that anybody reads at arm's length
    step = next(k for k in (1, 2, 3, 4, 6, 9, 12, 18, 36) if k * inner * 2 * np.pi / coupon.sectors >= 3.4 or k == 36)
    for s in range(0, coupon.sectors, step):
        angle = np.radians((edges[s] + edges[s + 1]) / 2)
        spot = (x + inner * np.cos(angle), y + inner * np.sin(angle))
        out.append(ax.text(*spot, f"{s + 1}", fontsize=_SMALL, ha="center", va="center", color=_INK, gid="sector"))
    out.append(ax.text(x, y, ring.code, fontsize=12, ha="center", va="center", color=_INK, gid="ring"))
    return out


def _extra_at_scale(ax: Axes, coupon: Coupon, extra: Extra, shift: tuple[float, float]) -> list[Artist]:
    """Outlines of a control and its name, along its longer side, within the gap to its neighbours."""
    out: list[Artist] = []
    corners = []
    for cut in extra.cuts:
        path = cut.path
        s = np.linspace(0, path.length, 200)
        xy = path.position(s) + shift
        half = cut.half_width(path.depth_at(s))
        way = np.radians(path.heading(s))
        side = np.column_stack([-np.sin(way), np.cos(way)]) * half[:, None]
        outline = np.vstack([xy + side, (xy - side)[::-1]])
        out += ax.fill(*outline.T, facecolor=_WASH, edgecolor=_INK, linewidth=0.4)
        corners += [outline.min(axis=0), outline.max(axis=0)]
    low, high = np.min(corners, axis=0), np.max(corners, axis=0)
    style: dict[str, Any] = {"fontsize": _SMALL, "color": _INK}
    words = extra.kind
    for stroke in extra.strokes:
        words = f"{stroke.code}, counted from the dot"
        start, length = stroke.cut.path.xy[0] + shift, stroke.cut.path.length
        out += ax.plot(*start, marker="o", markersize=3.0, color=_INK)
        ahead = np.radians(float(stroke.cut.path.heading(0.0)))
        broad = float(stroke.cut.half_width(np.asarray(coupon.depth)))
        side = np.array([-np.sin(ahead), np.cos(ahead)]) * broad
        parts = next(p for code, p, _, _ in graded_lines(coupon) if code == stroke.code)
        for k in range(1, parts):
            mark = stroke.cut.path.position(k * length / parts) + shift
            out += ax.plot(*np.array([mark - side, mark + side]).T, color=_SOFT, linewidth=0.4)
    if high[0] - low[0] >= high[1] - low[1]:
        out.append(ax.text(low[0], high[1] + 0.8, words, va="bottom", **style))
    else:
        out.append(ax.text(high[0] + 0.8, low[1], words, rotation=90, va="bottom", **style))
    return out


def _grain_arrow(ax: Axes, at: tuple[float, float], azimuth: float) -> None:
    a = np.radians(azimuth)
    dx, dy = 4.5 * np.cos(a), 4.5 * np.sin(a)
    shape: dict[str, Any] = {"arrowstyle": "<|-|>", "linewidth": 1.2, "color": _INK, "shrinkA": 0, "shrinkB": 0}
    ax.annotate("", (at[0] + dx, at[1] + dy), (at[0] - dx, at[1] - dy), arrowprops=shape)
    ax.text(at[0] - 6.5, at[1], "grain", fontsize=_SMALL, ha="right", va="center")


def _scale_bar(ax: Axes, size: tuple[float, float]) -> None:
    """A bar of 100 mm and one of 4 in, to be checked with a rule."""
    x, y = _EDGE + 2.0, _EDGE + 5.0
    for length, step, words, up in ((100.0, 10.0, "100 mm", 0.0), (101.6, 25.4, "4 in", 5.0)):
        ax.plot([x, x + length], [y + up] * 2, color=_INK, linewidth=0.8, solid_capstyle="butt")
        for mark in np.arange(0.0, length + 1e-6, step):
            ax.plot([x + mark] * 2, [y + up - 1.0, y + up + 1.0], color=_INK, linewidth=0.5)
        ax.text(x + length + 2.0, y + up, words, fontsize=_SMALL, va="center")
    note = "Print at 100 % (actual size) and check these bars\nwith a rule before you lay the piece on the page."
    ax.text(size[0] - _EDGE, y + 2.5, note, fontsize=_SMALL, va="center", ha="right", color=_INK)


# ------------------------------------------------------------------------------------ boxes to write in


class _Line(NamedTuple):
    """A line of boxes on the paper: ring and lip, the number of its first box, and which boxes it has."""

    code: str
    lip: str
    numbers: range
    last: bool  # of its line of the form, where the rest may be ticked
    asked: frozenset[int]  # boxes to be filled in
    marked: frozenset[int]  # boxes with the join


def _lines(coupon: Coupon, reading: int) -> list[_Line]:
    """Lines of boxes of a reading, in the order of the form."""
    again = set(second_places(coupon))
    out = []
    for code, parts, lips, marked in graded_lines(coupon):
        for lip in lips:
            whole = range(1, parts + 1)
            asked = [s for s in whole if s not in marked and (reading == 1 or (code, s, lip) in again)]
            if not asked:
                continue
            for first in range(1, parts + 1, _MOST):
                some = range(first, min(first + _MOST, parts + 1))
                out.append(_Line(code, lip, some, some.stop > parts, frozenset(asked), frozenset(marked)))
    return out


def _boxes(
    coupon: Coupon,
    size: tuple[float, float],
    reading: int,
    *,
    on: tuple[tuple[Figure, Axes], float, float] | None = None,
) -> tuple[list[tuple[Figure, Axes]], float]:
    """A line of boxes for each ring and lip, on as many pages as it takes, and how far down the last reaches. [mm]

    Or `on` a page from a height downwards, in lines of a height; there is room for all. [mm]
    """
    high = _LINE if on is None else on[2]
    lines = _lines(coupon, reading)
    width = (size[0] - 2 * _EDGE - _NAMES - _REST) / min(_MOST, max(len(line.numbers) for line in lines))
    fold = max(len(line.numbers) for line in lines)
    room = int((size[1] - 2 * _EDGE - _HEAD - 12.0 - _FOOT) // high) if on is None else len(lines)
    notes = _notes_to_take(coupon) if reading == 1 else []
    pages, y = [], 0.0
    for first in range(0, len(lines), room):
        figure, ax = _page(size) if on is None else on[0]
        top = size[1] - _EDGE - _HEAD if on is None else on[1] - 4.0
        said = (
            f"First reading. A line is one lip of one {_lined(coupon)}: write what is not clean, tick 'rest clean'."
            if reading == 1
            else "Second reading, an hour later and without a look at the first: only the white boxes."
        )
        ax.text(_EDGE, top + 5.0, said, fontsize=9.5, va="center", color=_INK, weight="bold")
        if reading == 1:
            ax.text(_EDGE, top + 1.2, _EXAMPLE, fontsize=7.0, va="center", color=_INK)
        y = top - 4.0
        style: dict[str, Any] = {"fontsize": _SMALL, "ha": "center", "va": "center", "color": _INK}
        for k in range(fold):
            ax.text(_EDGE + _NAMES + (k + 0.5) * width, y + 2.0, f"{k + 1}", **style)
        ax.text(size[0] - _EDGE - _REST / 2, y + 2.0, "rest clean", **style)
        before = ""
        for line in lines[first : first + room]:
            _line_of_boxes(ax, line, reading, (_EDGE, y), (width, high), size[0] - _EDGE, named=line.code != before)
            before = line.code
            y -= high
        pages.append((figure, ax))
    for words, count in notes:
        if on is None and y - high < _EDGE + _FOOT:
            pages.append(_page(size))
            y = size[1] - _EDGE - _HEAD
        _boxes_to_note(pages[-1][1], words, count, y - 2.0, size, high)
        y -= high + 2.0
    for _, ax in pages if on is None else []:
        _key(ax)
    return pages, y


def _lined(coupon: Coupon) -> str:
    """What lines of boxes are of."""
    return " or ".join(word for word, there in (("ring", coupon.rings), ("stroke", coupon.strokes)) if there)


def _key(ax: Axes) -> None:
    """What goes into a box, at the foot of the page on which it is written."""
    lines = (
        "   ".join(f"{k} {word}" for k, (word, _, _) in enumerate(SCALE)) + "   - cannot be judged",
        "   ".join(f"{k} {words}" for k, words in {**KINDS, **FLAGS}.items()),
    )
    for k, words in enumerate(lines):
        ax.text(_EDGE, _EDGE + 4.0 - 3.6 * k, words, fontsize=_SMALL, va="center", color=_INK)


def _line_of_boxes(
    ax: Axes,
    line: _Line,
    reading: int,
    at: tuple[float, float],
    each: tuple[float, float],
    right: float,
    *,
    named: bool,
) -> None:
    from matplotlib.patches import Rectangle

    x, y = at
    width, high = each
    if named:
        ax.plot([x, right], [y, y], color=_INK, linewidth=1.2)
        ax.text(x + 5.0, y - high / 2, line.code, fontsize=12, ha="center", va="center", color=_INK, weight="bold")
    ax.text(x + 14.0, y - high / 2, line.lip, fontsize=_TEXT, ha="center", va="center", color=_INK)
    for k, number in enumerate(line.numbers):
        box = Rectangle((x + _NAMES + k * width, y - high), width, high, edgecolor=_INK, linewidth=0.5)
        box.set(facecolor=_PAPER, gid=f"box {line.code} {line.lip} {number} reading {reading}")
        if number in line.marked:
            box.set(hatch="////", facecolor=_WASH)
        elif number not in line.asked:
            box.set_facecolor(_GREY)
        ax.add_patch(box)
        if line.numbers.start > 1:  # of a folded line the heads say other numbers
            spot = (x + _NAMES + k * width + 0.5, y - 0.5)
            ax.text(*spot, f"{number}", fontsize=_SMALL, ha="left", va="top", color=_SOFT)
    if line.last:
        ax.add_patch(
            Rectangle((right - _REST / 2 - 2.0, y - high / 2 - 2.0), 4.0, 4.0, facecolor=_PAPER, edgecolor=_INK)
        )


def _notes_to_take(coupon: Coupon) -> list[tuple[str, int]]:
    """What is written down of the controls that have no lips to grade: words, and how many boxes they take."""
    kinds = [e.kind for e in coupon.extras]
    out = [("depth stair: width of each step, the narrowest first [mm]", STAIR)] if "depth stair" in kinds else []
    combs = [e.note.split(",")[0] for e in coupon.extras if e.kind == "land comb"]
    return [*out, *((f"land comb, {heading}: narrowest land that is whole [mm]", 1) for heading in combs)]


def _boxes_to_note(ax: Axes, words: str, count: int, y: float, size: tuple[float, float], high: float) -> None:
    from matplotlib.patches import Rectangle

    ax.text(_EDGE, y - high / 2, words, fontsize=_TEXT, va="center", color=_INK)
    for k in range(count):
        x = size[0] - _EDGE - (count - k) * 16.0
        ax.add_patch(Rectangle((x, y - high), 16.0, high, facecolor=_PAPER, edgecolor=_INK, linewidth=0.5))


def _legend(ax: Axes, coupon: Coupon, size: tuple[float, float], top: float) -> None:
    """Scale, letters, flags, rules and cautions, from a height downwards."""
    y = top
    width = size[0] - 2 * _EDGE

    def say(text: str, x: float = 0.0, size_: float = _TEXT, **style: Any) -> None:
        ax.text(_EDGE + x, y, text, fontsize=size_, va="top", color=_INK, **style)

    say("Grade", weight="bold")
    say("what is seen", 28.0, weight="bold")
    say("cure", 122.0, weight="bold")
    y -= 4.2
    for k, (word, seen, cure) in enumerate(SCALE):
        say(f"{k}  {word}")
        say(seen, 28.0)
        say(cure, 122.0)
        y -= 4.0
    y -= 1.0
    say("Letter with every grade from 1 to 4:  " + ";  ".join(f"{k}  {words}" for k, words in KINDS.items()))
    y -= 4.2
    say("Flags go into the box, not into the grade:  " + ";  ".join(f"{k}  {words}" for k, words in FLAGS.items()))
    y -= 4.2
    say("Boxes flagged k or p are left out. A box without s counts as not scorched.")
    y -= 5.5
    there = {e.kind for e in coupon.extras}
    beside = [f"{words[0].upper()}{words[1:]}." for kind, words in _CONTROLS.items() if kind in there]
    for words in (*_RULES, *beside, *coupon.lie[:1], *coupon.lie[2:]):
        y -= _paragraph(ax, "-  " + words, y, width)
    y -= 1.5
    say("Cautions", weight="bold")
    y -= 4.2
    for words in _CAUTIONS:
        y -= _paragraph(ax, words, y, width)


def _paragraph(ax: Axes, words: str, y: float, width: float) -> float:
    """Write folded text at a height and return how much it took. [mm]"""
    text = fill(words, int(width / 1.32), subsequent_indent="   " if words.startswith("-") else "")
    ax.text(_EDGE, y, text, fontsize=7.0, va="top", color=_INK, linespacing=1.25)
    return 3.35 * (1 + text.count("\n")) + 0.7
