"""Pictures that help to choose: the process window, hand work against machine."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace
from functools import partial
from typing import TYPE_CHECKING, Any

import numpy as np

from .._shared.arrays import FloatArray, choice
from ..choosing.boards import TOLERANCE
from ..choosing.recommending import UNJUDGED, Costed, Recommendation
from ..choosing.summaries import RISKS
from ..choosing.sweeps import Cell, Sweep
from ..choosing.variants import dial_text
from ..damage.scale import CLASSES, PRIOR, RISK_WORDS
from ..errors import DomainError
from ..scene.machine import Machine
from ..units import ipm

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.collections import PathCollection, QuadMesh
    from matplotlib.offsetbox import OffsetBox
from .page import (
    BODY,
    DASH,
    HEAD,
    HOLLOW,
    INK,
    KEY,
    PAPER,
    SOFT,
    SUB,
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
    risk_colours,
    step_colours,
    swatch,
    text_width,
    wrapped,
)

__all__ = ["draw_front", "draw_process_window"]

_METRE = 200.0
"""Minutes in all for a metre of groove that are drawn darkest. [min]"""

_CELL = (0.98, 0.62)
"""Width and height of a setting in a new figure. [in]"""

_REASONS = {
    "feed not reached": "the machine does not reach this feed",
    "marked maximum speed": "faster than the bit's marked maximum",
    "tip feed": "too fast for the tip",
    "plunge feed": "the plunge is too fast",
    "cutting length": "deeper than this bit cuts",
    "groove width": "wider than this bit cuts",
    "time": "takes longer than you allow",
}
"""Why a setting is out, in a carver's words, by the name of the limit."""


def draw_process_window(
    thing: Sweep | Recommendation,
    ax: Axes | None = None,
    *,
    cell: Cell | None = None,
    risk_name: str | None = None,
    title: str | None = None,
) -> QuadMesh:
    """Draw the minutes in all, or the mean of a risk, over spindle speed and feed, the choice framed.

    Settings that do not keep a limit are left blank in a broken frame that says why.

    Parameters
    ----------
    thing
        A `Sweep` over speeds and feeds, or a `Recommendation`.
    ax
        Axes to draw in; None: a new figure.
    cell
        Its bit, passes and rotation are shown, and it is framed. None: the pick, or the cell of a sweep that has the
        least damage among those that keep all limits (or among all, if none does).
    risk_name
        'minutes', 'fuzz', 'tear', 'scorch' or 'damage'; minutes are those of a Recommendation. None: minutes if it is
        one that recommends something, else damage.
    title
        Over the picture; None: the answer in a few words; '': none.

    Returns
    -------
    QuadMesh
        A row for every feed, a column for every speed, both rising; its array is the mean risk [-] or the minutes
        expected in all [min], masked where they are not known. Its colours are the same on every board: of minutes
        those for a metre of groove, of a risk those from 0 to 1, lighter values spread apart by a square root.

    Raises
    ------
    DomainError
        If `thing` is neither, or has no cells with a speed and a feed.

    Examples
    --------
    >>> import chipsim as cs
    >>> cut = cs.Cut(cs.VBit(60, 12.7, 2), cs.ring(5, 1.5), 18_000, 1500)
    >>> board = cs.Board(cs.wood("black cherry"), cs.straight_grain(azimuth=0))
    >>> tried = cs.sweep(cut, board, spindle_speed=[12_000, 18_000], feed=[900, 1800], pitch=1.0, workers=1)
    >>> mesh = cs.draw_process_window(tried)
    >>> cs.save_figure(mesh.figure, "window.png")
    """
    from matplotlib.colors import PowerNorm

    if not isinstance(thing, Sweep | Recommendation):
        raise DomainError(f"thing must be a Sweep or a Recommendation, got {type(thing).__name__}")
    reckoned = {id(row.cell): row for row in thing.rows} if isinstance(thing, Recommendation) else {}
    name = choice("risk_name", risk_name or ("minutes" if reckoned else "damage"), ("minutes", *RISKS))
    if name == "minutes" and not reckoned:
        raise DomainError("risk_name must be a risk unless thing is a Recommendation that recommends something")
    if cell is not None and not isinstance(cell, Cell):
        raise DomainError(f"cell must be a Cell of the sweep or None, got {type(cell).__name__}")
    check_axes(ax)
    window = _Window(thing, cell, name)
    answer, lines = window.words()
    answer = answer if title is None else title
    items, feet = window.items(), window.feet()
    columns, rows = len(window.speeds), len(window.feeds)
    if ax is None:
        size = (max(_CELL[0] * columns, 3.4), max(_CELL[1] * rows, 1.2))
        points = 72 * (size[0] + 0.85)
        above, below = head_height(*head_lines(answer, lines, points)), foot_height(items, feet, points) + 0.7
        ax = new_page(size, above, below, 0.2, left=1.05)
    colours = risk_colours()
    most = _METRE * cells_length(thing) / 1000 if name == "minutes" else 1.0
    norm = PowerNorm(0.5, 0.0, max(most, 1e-6), clip=True)
    mesh = ax.pcolormesh(
        np.arange(columns + 1), np.arange(rows + 1), np.ma.masked_invalid(window.value), cmap=colours, norm=norm,
        edgecolor=PAPER, linewidth=4.0, zorder=1,
    )  # fmt: skip
    ax.set_xlim(-0.03, columns + 0.03)
    ax.set_ylim(-0.03, rows + 0.03)
    ax.apply_aspect()
    point = (columns + 0.06) / axes_width(ax)  # of a column, a point of the page
    for (i, j), c in window.spot.items():
        if (i, j) not in window.out and np.isfinite(window.value[j, i]):
            _say(ax, window, i, j, c, 0.94 / point, float(norm(window.value[j, i])))
    _frames(ax, window, 1 / point)
    _pick(ax, window)
    ink, soft, _ = page_inks(ax)
    marks = [_speed_words(v, window.machine) for v in window.speeds]
    ax.set_xticks(np.arange(columns) + 0.5, marks, fontsize=KEY, color=ink)
    feeds = [f"{f:.0f}\n{f / ipm:.0f} in" for f in window.feeds]
    ax.set_yticks(np.arange(rows) + 0.5, feeds, fontsize=KEY, color=ink)
    ax.set_xlabel("spindle speed [rpm]", fontsize=KEY, color=soft)
    ax.set_ylabel("feed [mm/min, in/min]", fontsize=KEY, color=soft)
    ax.tick_params(length=0)
    for spine in ax.spines.values():
        spine.set_visible(False)
    width = max(axes_width(ax) + 60.0, 240.0)
    head = head_lines(answer, lines, width)
    draw_head(ax, *head, right=-60.0)
    draw_foot(ax, items, feet, up=-48.0, width=width, right=-60.0)
    return mesh


def cells_length(thing: Sweep | Recommendation) -> float:
    """Length of groove of the carving that settings were tried on. [mm]"""
    sweep = thing if isinstance(thing, Sweep) else thing.sweep
    return float(sweep.job_carving.length)


def _job(sweep: Sweep) -> str:
    name, wood = sweep.job_carving.name, sweep.job_board.wood.name
    return f"For {name} in {wood}" if name else f"{wood[:1].upper()}{wood[1:]}"


def _speed_words(speed: float, machine: Machine | None) -> str:
    dial = dial_text(speed, machine).removeprefix(" (dial ").removesuffix(")")
    return (f"dial {dial}\n" if dial else "") + f"{speed:.0f}"


class _Window:
    """Settings of one bit over speed and feed, what each comes to and why some are out."""

    def __init__(self, thing: Sweep | Recommendation, cell: Cell | None, name: str) -> None:
        self.thing, self.name = thing, name
        self.cells = thing if isinstance(thing, Sweep) else thing.sweep
        self.machine = thing.machine
        self.waived = (*thing.waived, *UNJUDGED) if isinstance(thing, Recommendation) else ()
        self.time_limit = thing.time_limit if isinstance(thing, Recommendation) else None
        self.rows = {id(row.cell): row for row in thing.rows} if isinstance(thing, Recommendation) else {}
        self.choice = thing.pick if isinstance(thing, Recommendation) else None
        self.framed = cell or self.choice or self.cells.chosen()
        plane = self.cells.plane(self.framed)
        self.speeds = sorted({float(c.setting.spindle_speed or 0) for c in plane})
        self.feeds = sorted({float(c.setting.feed or 0) for c in plane})
        self.spot = {self.at(c): c for c in plane}
        self.value = np.full((len(self.feeds), len(self.speeds)), np.nan)
        self.out: dict[tuple[int, int], str] = {}
        for (i, j), c in self.spot.items():
            if name == "minutes":
                self.value[j, i] = self.rows[id(c)].expected if id(c) in self.rows else np.nan
            else:
                self.value[j, i] = np.nan if c.summary is None else c.summary.mean[name]
            if reason := self.reason(c):
                self.out[i, j] = reason

    def at(self, cell: Cell) -> tuple[int, int]:
        """Column and row of a setting."""
        setting = cell.setting
        return self.speeds.index(float(setting.spindle_speed or 0)), self.feeds.index(float(setting.feed or 0))

    def reason(self, cell: Cell) -> str:
        """Why a setting is out; '' if it is not."""
        if cell.error and "marked maximum" not in cell.error:
            return "out: cannot be cut"
        if cell.error:
            return f"out: {self.too_fast(cell)}"
        kept = cell.against(self.waived)
        broken = [row.name for row in kept if row.status == "violated"]
        if broken and broken[0] == "marked maximum speed":
            return f"out: {self.too_fast(cell)}"
        if broken:
            return f"out: {_REASONS.get(broken[0], broken[0] + ' exceeded')}"
        if self.time_limit is not None and not cell.time[2] <= self.time_limit:
            return f"out: {_REASONS['time']}"
        if kept:
            return f"not checked: {kept[0].name}"
        return ""

    def too_fast(self, cell: Cell) -> str:
        """That a bit turns faster than it may, and how fast it may."""
        bits = [cut.bit for cut in self.cells.job_carving] if cell.setting.bit is None else [cell.setting.bit]
        marks = [bit.max_spindle_speed for bit in bits if bit.max_spindle_speed is not None]
        return _REASONS["marked maximum speed"] + (f" of {min(marks):.0f} rpm" if marks else "")

    def tied(self) -> list[tuple[int, int]]:
        """Settings of this window that are as good as the pick."""
        if not isinstance(self.thing, Recommendation) or self.framed is not self.choice:
            return []
        every = {id(c): spot for spot, c in self.spot.items()}
        return [every[id(c)] for c in self.thing.tied if id(c) in every and c is not self.framed]

    def words(self) -> tuple[str, list[str]]:
        """Title and the lines below it."""
        s = self.framed.setting
        kind = replace(s, spindle_speed=None, feed=None).words()
        where = f"{_speed_words(float(s.spindle_speed or 0), self.machine).splitlines()[0]}"
        where = where if where.startswith("dial") else f"{where} rpm"
        spot = f"{where[:1].upper()}{where[1:]} and {s.feed:.0f} mm/min"
        mine = self.rows.get(id(self.framed))
        shown = "" if kind == "as planned" else f", with {kind}"
        if self.name == "minutes":
            lines = [f"Expected minutes of machine and hand together{shown}."]
            if self.framed is self.choice and mine is not None:
                return f"{spot}: {mine.expected:.0f} min in all, the fewest", lines
            return f"{spot}: {mine.expected:.0f} min in all" if mine is not None else f"{spot} is out", lines
        what = "damage" if self.name == "damage" else RISK_WORDS[self.name]
        lines = [f"Mean {what} over the lips, from 0 (clean) to 1{shown}."]
        if (self.at(self.framed)) in self.out:
            return "No setting keeps every limit" if len(self.out) == len(self.spot) else f"{spot} is out", lines
        value = self.value[self.at(self.framed)[::-1]]
        free = [self.value[j, i] for i, j in self.spot if (i, j) not in self.out]
        least = bool(np.isfinite(value) and value <= np.nanmin(free))
        return f"{spot} {'leave least' if least else 'leave'} {what}" + ("" if least else f" {value:.3f}"), lines

    def items(self) -> list[Item]:
        """Signs that are in the picture."""
        first = "the pick" if self.framed is self.choice else "the setting chosen"
        out = [Item(partial(_frame_sign, 2.4), first)]
        if self.tied():
            out.append(Item(partial(_frame_sign, 1.1), f"as good: at most {TOLERANCE:.0%} more minutes in all"))
        if self.name == "minutes":
            most = _METRE * cells_length(self.thing) / 1000
            marks = _ramp_marks(most)
            sign = partial(_ramp_sign, [f"{m:g}" for m in marks], [(m / most) ** 0.5 for m in marks])
            words = f"minutes in all; darkest at {_METRE:g} min for a metre of groove, on every board"
            out.append(Item(sign, words, alone=True))
        else:
            bounds = [min(b, 1.0) for b in CLASSES.values()][:-1]
            sign = partial(_ramp_sign, [f"{b:.2g}" for b in bounds], [b**0.5 for b in bounds])
            out.append(Item(sign, "mean over the lips; the same colours on every board", alone=True))
        return out

    def feet(self) -> list[Foot]:
        """What it rests on."""
        board = self.cells.job_board
        wood = f"{_job(self.cells)}; grain {board.grain.label}."
        rests = str(self.cells.learned or PRIOR)
        if self.name == "minutes" and isinstance(self.thing, Recommendation):
            boards = (
                f"over {self.thing.boards} possible boards" if self.thing.boards else "at the middle of the guesses"
            )
            wood = f"{wood} Minutes are expected {boards}."
            rests = f"{self.thing.handwork.words} {rests}"
        if len(self.spot) < len(self.speeds) * len(self.feeds):
            wood = f"{wood} Where a place is blank, that setting was not tried."
        return [Foot(wood), Foot(rests, accent=True)]


def _say(ax: Axes, window: _Window, i: int, j: int, cell: Cell, wide: float, tone: float) -> None:
    """What a setting comes to, in its box: the answer large, what else is known of it small."""
    colour = INK if tone < 0.52 else PAPER
    value = window.value[j, i]
    large = f"{value:.0f} min" if window.name == "minutes" and value >= 9.95 else f"{value:.1f} min"
    large = large if window.name == "minutes" else f"{value:.3f}"
    row = window.rows.get(id(cell))
    small = ""
    if window.name == "minutes" and row is not None:
        small = f"{row.machine:.1f} machine"
    elif np.isfinite(cell.time[1]):
        small = f"{cell.time[1] / 60:.1f} min"
    size = min(HEAD - 2.0, (HEAD - 2.0) * 0.9 * wide / text_width(large, HEAD - 2.0, bold=True))
    fits = bool(small) and text_width(small, KEY) <= 0.95 * wide
    look: dict[str, Any] = {"ha": "center", "color": colour, "zorder": 3, "xycoords": "data"}
    annotate(ax, large, (i + 0.5, j + 0.5), (0, 1.5 if fits else 0), va="bottom" if fits else "center_baseline",
             fontsize=size, fontweight="bold", **look)  # fmt: skip
    if fits:
        annotate(ax, small, (i + 0.5, j + 0.5), (0, -2.5), va="top", fontsize=KEY, **look)


def _frames(ax: Axes, window: _Window, wide: float) -> None:
    """Broken frames round settings that are out, one for neighbours with one reason, which it says."""
    from matplotlib.patches import Rectangle

    _, soft, accent = page_inks(ax)
    left = dict(window.out)
    columns, rows = len(window.speeds), len(window.feeds)
    while left:
        (i, j), why = min(left.items(), key=lambda item: (item[0][1], item[0][0]))
        # the larger of the two rectangles that grow along the row first, or along the column first
        grown = []
        for along_row in (True, False):
            size = [1, 1]
            for axis in (0, 1) if along_row else (1, 0):
                while (i + size[0] + (axis == 0) <= columns) and (j + size[1] + (axis == 1) <= rows):
                    wider = [size[0] + (axis == 0), size[1] + (axis == 1)]
                    block = [(i + u, j + v) for u in range(wider[0]) for v in range(wider[1])]
                    if any(left.get(spot) != why for spot in block):
                        break
                    size = wider
            grown.append(tuple(size))
        across, up = max(grown, key=lambda s: s[0] * s[1])
        for u in range(across):
            for v in range(up):
                del left[i + u, j + v]
        box = Rectangle((i + 0.02, j + 0.03), across - 0.04, up - 0.06, facecolor=PAPER, edgecolor=soft, linewidth=0.8,
                        linestyle=DASH, zorder=2, gid="out")  # fmt: skip
        ax.add_artist(box)
        room = wide * across - 6
        fits = [z for z in (KEY, KEY - 1, KEY - 2) if max(text_width(word, z) for word in why.split()) <= room]
        type_size = [*fits, KEY - 3][0]
        annotate(ax, wrapped(why, room, type_size), (i + across / 2, j + up / 2), (0, 0), ha="center", va="center",
                 fontsize=type_size, color=accent, linespacing=1.15, zorder=3)  # fmt: skip


def _pick(ax: Axes, window: _Window) -> None:
    """A frame round the choice, and broken ones round what is as good."""
    from matplotlib.patches import Rectangle

    for spot in window.tied():
        ax.add_artist(Rectangle((spot[0] + 0.02, spot[1] + 0.03), 0.96, 0.94, facecolor="none", edgecolor=INK,
                                linewidth=1.1, zorder=4, gid="as good"))  # fmt: skip
    frame = Rectangle(window.at(window.framed), 1, 1, facecolor="none", edgecolor=page_inks(ax)[0], linewidth=2.6,
                      zorder=5, gid="pick", clip_on=False)  # fmt: skip
    ax.add_artist(frame)
    frame.set_clip_on(False)


def _frame_sign(width: float) -> OffsetBox:
    from matplotlib.patches import Rectangle

    area = swatch("none")
    area.add_artist(Rectangle((1, 1), 22, 9, facecolor="none", edgecolor=INK, linewidth=width))
    return area


def _ramp_marks(most: float) -> list[float]:
    """Round minutes of this job, up to the darkest, far enough apart on the ramp. [min]"""
    marks: list[float] = []
    power = math.floor(math.log10(most)) if most > 0 else 0
    for value in (m * 10.0**k for k in (power, power - 1, power - 2) for m in (5, 2, 1)):
        place = (value / most) ** 0.5 if most > 0 else 0.0
        if 0.1 < place <= 1.0 and (not marks or (marks[0] / most) ** 0.5 - place > 0.14):
            marks.insert(0, value)
    return marks


def _ramp_sign(words: Sequence[str], places: Sequence[float]) -> OffsetBox:
    """The ramp with marks where it means what."""
    from matplotlib.offsetbox import DrawingArea
    from matplotlib.patches import Rectangle
    from matplotlib.text import Text

    wide = 110.0
    area = DrawingArea(wide + 8, 20)
    ramp = risk_colours()
    for k in range(44):
        area.add_artist(
            Rectangle((k * wide / 44, 11), wide / 44 + 0.3, 8, facecolor=ramp((k + 0.5) / 44), edgecolor="none")
        )
    for said, place in zip(words, places, strict=True):
        area.add_artist(Rectangle((place * wide - 0.3, 8.5), 0.6, 3, facecolor=INK, edgecolor="none"))
        area.add_artist(Text(place * wide, 0, said, ha="center", va="bottom", fontsize=KEY - 1, color=INK))
    return area


def draw_front(recommendation: Recommendation, ax: Axes | None = None, *, title: str | None = None) -> PathCollection:
    """Draw minutes by hand against minutes of machine: every setting that keeps the limits, and the pick.

    Slanting lines join settings that take equally long in all.

    Parameters
    ----------
    recommendation
        From `recommend`.
    ax
        Axes to draw in; None: a new figure, with the settings to choose from beside the plot.
    title
        Over the picture; None: the answer in a few words; '': none.

    Returns
    -------
    PathCollection
        The settings that none beats on both: (minutes of machine, minutes by hand) [min].

    Raises
    ------
    DomainError
        If `recommendation` is not a Recommendation.

    Examples
    --------
    >>> import chipsim as cs
    >>> bit = cs.VBit(60, 12.7, 2, 0.1, cutting_length=11, max_spindle_speed=24_000)
    >>> cut = cs.Cut(bit, cs.ring(8, 1.5), 18_000, 1500)
    >>> board = cs.Board(cs.wood("black cherry"), cs.straight_grain(azimuth=0), extent=(-50, -50, 50, 50))
    >>> machine = cs.Machine(300, 3000, travel=(600, 400, 90))
    >>> checks = {"plunge_feed": 300, "safe_height": 5}
    >>> choice = cs.recommend(
    ...     cut, board, machine, bit, speeds=[12_000, 18_000], feeds=[900, 1800], checks=checks, draws=32, workers=1
    ... )
    >>> points = cs.draw_front(choice)
    >>> cs.save_figure(points.figure, "front.png")
    """
    if not isinstance(recommendation, Recommendation):
        raise DomainError(
            f"recommendation must be a Recommendation, as from recommend, got {type(recommendation).__name__}"
        )
    r = recommendation
    check_axes(ax)
    own = ax is None
    spots = {id(row): (row.machine, row.expected - row.machine) for row in r.rows}
    every = np.array([*spots.values()]).reshape(-1, 2)
    front = np.array([spots[id(row)] for row in r.front]).reshape(-1, 2)
    pick = None if r.pick is None else r.row(r.pick)
    shown = _choices(r, pick)
    right = 1.15 * float(every[:, 0].max(initial=0.1))
    top = float(every[:, 1].max(initial=1.0))
    if pick is not None:
        top = min(top, 2.5 * (pick.expected - pick.machine) + right)
    top = 1.08 * max(top, float(front[:, 1].max(initial=0.0)), 0.1)
    low = float(every[:, 1].min()) if len(every) else 0.0
    low = 0.0 if low < 0.5 * top else max(0.0, low - 0.3 * (top - low))
    above_top = int((every[:, 1] > top).sum())
    answer, lines = _front_words(r, pick)
    answer = answer if title is None else title
    items = _front_items(r, pick, len(front), len(every), above_top, right)
    if not own:
        items += [Item(_no_sign, f"{k}: {_front_row(r, row)}", alone=True) for k, row in enumerate(shown, 1)]
    board = r.sweep.job_board
    about = f"{_job(r.sweep)}; grain {board.grain.label}. Each dot is one setting."
    feet = [Foot(about), Foot(f"{r.handwork.words} {r.sweep.learned or PRIOR}", accent=True)]
    if ax is None:
        beside = 2.35 if shown else 0.2
        size = (6.8 - 0.75 - beside, 3.3)
        points = 72 * 6.45
        above = head_height(*head_lines(answer, lines, points))
        ax = new_page(size, above, foot_height(items, feet, points) + 0.6, beside, left=0.75)
    ink, soft, _ = page_inks(ax)
    ax.set_xlim(0.0, right)
    ax.set_ylim(low, top)
    sum_of_pick = math.nan if pick is None else pick.expected
    for total in _round_totals(low, top + right):
        if not abs(total - sum_of_pick) < 0.09 * (top - low):
            _equal_totals(ax, total, every, bold=False)
    if pick is not None:
        _equal_totals(ax, sum_of_pick, every, bold=True)
    ax.plot(*every.T, linestyle="", marker="o", markersize=4.5, color=SOFT, markerfacecolor=PAPER, markeredgewidth=0.8,
            zorder=3, gid="settings")  # fmt: skip
    artist = ax.scatter(front[:, 0], front[:, 1], s=34, color=risk_colours()(0.7), edgecolors=INK, linewidths=0.7,
                        zorder=4)  # fmt: skip
    artist.set_gid("front")
    line = [] if pick is None else [(x, sum_of_pick - x) for x in np.linspace(0.0, right, 60)]
    shifts = _free_places(ax, [spots[id(row)] for row in shown], every, np.array(line).reshape(-1, 2))
    for k, (row, shift) in enumerate(zip(shown, shifts, strict=True), 1):
        hair = {"arrowstyle": "-", "color": ink, "linewidth": 0.7, "shrinkA": 1, "shrinkB": 7 if row is pick else 3}
        annotate(ax, str(k), spots[id(row)], shift, ha="center", va="center", zorder=6, fontsize=SUB,
                 fontweight="bold", color=ink, arrowprops=hair)  # fmt: skip
    if pick is not None:
        ax.scatter(*spots[id(pick)], s=150, facecolor="none", edgecolors=ink, linewidths=2.0, zorder=5, gid="pick")
    if r.time_limit is not None and r.time_limit / 60 < right:
        ax.axvline(r.time_limit / 60, color=INK, linewidth=0.8, linestyle=DASH)
    ax.set_xlabel("minutes of machine", fontsize=KEY, color=ink)
    ax.set_ylabel("minutes by hand, expected", fontsize=KEY, color=ink)
    ax.tick_params(labelsize=KEY - 0.5, colors=soft, width=0.5, length=2.5)
    for side in ("top", "right"):
        ax.spines[side].set_visible(False)
    if own and shown:
        _draw_choices(ax, r, shown)
    width = 72 * 6.45 if own else max(axes_width(ax), 300.0)
    out = -72 * 0.55 if own else 0.0
    draw_head(ax, *head_lines(answer, lines, width), right=out)
    draw_foot(ax, items, feet, up=-36.0, width=width, right=out)
    return artist


def _free_places(
    ax: Axes, of: Sequence[tuple[float, float]], dots: FloatArray, line: FloatArray
) -> list[tuple[float, float]]:
    """Where the number of each of some dots may stand clear of all and of a line, its hair of other dots. [pt]"""
    point = ax.figure.dpi / 72
    round_dots = ax.transData.transform(dots) / point
    there = np.vstack([round_dots, ax.transData.transform(line) / point]) if len(line) else round_dots
    low, high = (ax.transAxes.transform(corner) / point for corner in ((0, 0), (1, 1)))
    out = []
    for spot in of:
        at = ax.transData.transform(spot) / point
        others = round_dots[np.hypot(*(round_dots - at).T) > 0.5]
        best, clear = np.array([18.0, 18.0]), -1.0
        for reach in (16.0, 22.0, 30.0, 40.0, 52.0):
            for turn in np.radians(np.arange(45, 405, 15)):
                place = at + reach * np.array([np.cos(turn), np.sin(turn)])
                hair = at + np.linspace(0.3, 1.0, 9)[:, None] * (place - at)
                aside = np.hypot(*(others[:, None] - hair).T).min() if len(others) else np.inf
                room = min(float(np.hypot(*(there - place).T).min()), 2.5 * float(aside))
                if room > clear + 1e-9 and (place > low + 8).all() and (place < high - 8).all():
                    best, clear = place - at, room
            if clear >= 10.0:
                break
        there = np.vstack([there, at + best])
        out.append((float(best[0]), float(best[1])))
    return out


def _hand_minutes(row: Costed) -> float:
    """Minutes by hand, as printed beside those of the machine: the two add up to the printed sum. [min]"""
    return round(row.expected, 1) - round(row.machine, 1)


def _choices(r: Recommendation, pick: Costed | None) -> list[Costed]:
    """The pick, and the best of other bits and passes; or else what no other setting beats on both."""
    if pick is None:
        return []
    found = [pick]
    for rows in (r.rows, r.front):
        for row in sorted(rows, key=lambda row: row.expected):
            s = row.cell.setting
            known = [(o.cell.setting.name, o.cell.setting.passes, o.cell.setting.rotation) for o in found]
            other = (s.name, s.passes, s.rotation) not in known or rows is r.front
            if len(found) < 3 and other and row not in found:
                found.append(row)
    return found


def _front_words(r: Recommendation, pick: Costed | None) -> tuple[str, list[str]]:
    """Title and the lines below it."""
    if pick is None:
        return "No setting keeps the limits", [f"{len(r.sweep)} settings were tried."]
    s = pick.cell.setting
    speed = _speed_words(float(s.spindle_speed or 0), r.machine).splitlines()[0]
    bit = f"{s.name}, " if s.name else ""
    speed = speed if speed.startswith("dial") else f"{speed} rpm"
    title = f"{bit}{speed}, {s.feed:.0f} mm/min: {pick.expected:.1f} min in all"
    lines = [f"{pick.machine:.1f} min of machine and {_hand_minutes(pick):.1f} min by hand are expected."]
    if r.odds is not None:
        odds, other = r.odds, r.odds.other.setting.words(r.machine)
        apart = f"{abs(odds.mean):.1f} min {'less' if odds.mean >= 0 else 'more'}"
        if abs(odds.mean) <= 2 * odds.error:
            lines.append(f"As good is {other}: on average the pick takes {apart}, no more than chance explains.")
        else:
            lines.append(f"On average over possible boards that is {apart} than {other} takes.")
    return title[:1].upper() + title[1:], lines


def _front_row(r: Recommendation, row: Costed) -> str:
    return (
        f"{row.cell.setting.words(r.machine)}: {row.machine:.1f} of machine and {_hand_minutes(row):.1f} by hand, "
        f"{row.expected:.1f} min in all"
    )


def _front_items(
    r: Recommendation, pick: Costed | None, front: int, every: int, above: int, right: float
) -> list[Item]:
    out = []
    if front:
        out.append(Item(partial(_dot_sign, 6.0, risk_colours()(0.7), 0.7), "no other setting beats it on both"))
    if every:
        more = f"; {above} more lie above" if above else ""
        out.append(Item(partial(_dot_sign, 5.0, PAPER, 0.8), f"keeps all limits{more}"))
    if pick is not None:
        out.append(Item(partial(_dot_sign, 9.0, "none", 2.0), "the pick: the fewest minutes in all"))
    if r.time_limit is not None and r.time_limit / 60 < right:
        out.append(Item(_limit_sign, "limit on the time"))
    return out


def _draw_choices(ax: Axes, r: Recommendation, shown: Sequence[Costed]) -> None:
    """Beside the plot the settings to choose from, each with its minutes as a bar."""
    ink, soft, _ = page_inks(ax)
    place = ax.get_position()
    figure: Any = ax.figure
    inch = place.width / axes_width(ax) * 72  # as a share of the width of this page
    beside = figure.add_axes((place.x1 + 0.3 * inch, place.y0, 1.95 * inch, place.height))
    wide, high = 1.95 * 72, axes_width(beside) and 72 * place.height * figure.get_figheight()
    beside.set_xlim(0, wide)
    beside.set_ylim(high, 0)
    beside.set_axis_off()
    style: dict[str, Any] = {"va": "top", "fontsize": KEY, "color": ink}
    count = ["One", "Two", "Three"][len(shown) - 1]
    annotate(beside, f"{count} to choose from" if len(shown) > 1 else "The pick", (0, 0), (0, 0), va="top",
             fontsize=SUB + 0.5, fontweight="bold", color=ink)  # fmt: skip
    longest = max(row.expected for row in shown)
    y = 24.0
    for k, row in enumerate(shown, 1):
        words = wrapped(row.cell.setting.words(r.machine), wide - 16, KEY)
        annotate(beside, str(k), (0, y), (0, 0), va="top", fontsize=SUB, fontweight="bold", color=ink)
        annotate(beside, words, (16, y), (0, 0), linespacing=1.2, **style)
        y += 1.25 * KEY * (1 + words.count("\n")) + 5
        per_minute = (wide - 16 - 44) / longest
        hand = row.expected - row.machine
        beside.barh(y + 4, row.machine * per_minute, 8, left=16, color=HOLLOW, edgecolor=INK, linewidth=0.3)
        beside.barh(y + 4, hand * per_minute, 8, left=16 + row.machine * per_minute, color=step_colours()[3],
                    edgecolor=INK, linewidth=0.3)  # fmt: skip
        annotate(beside, f"{row.expected:.1f} min", (16 + row.expected * per_minute + 4, y + 4), (0, 0),
                 va="center_baseline", fontsize=KEY, color=ink)  # fmt: skip
        y += 25
    for x, colour, words in ((16, HOLLOW, "machine"), (78, step_colours()[3], "by hand")):
        beside.barh(y + 4, 9, 8, left=x, color=colour, edgecolor=INK, linewidth=0.3)
        annotate(beside, words, (x + 13, y + 4), (0, 0), va="center_baseline", fontsize=KEY, color=soft)


def _dot_sign(size: float, face: Any, edge: float) -> OffsetBox:
    from matplotlib.lines import Line2D

    area = swatch("none")
    area.add_artist(Line2D([12], [5.5], linestyle="", marker="o", markersize=size, markerfacecolor=face,
                           markeredgecolor=INK if edge != 0.8 else SOFT, markeredgewidth=edge))  # fmt: skip
    return area


def _limit_sign() -> OffsetBox:
    from matplotlib.lines import Line2D

    area = swatch("none")
    area.add_artist(Line2D([12, 12], [0, 11], color=INK, linewidth=0.8, linestyle=DASH))
    return area


def _no_sign() -> OffsetBox | None:
    return None


def _round_totals(least: float, most: float) -> list[float]:
    """Some four round totals between two. [min]"""
    step = 10.0 ** np.floor(np.log10(max((most - least) / 3, 1e-3)))
    step = next(step * k for k in (1, 2, 5, 10) if (most - least) / (step * k) <= 5)
    first = int(np.floor(least / step)) + 1
    return [float(step * k) for k in range(first, first + 6) if step * k < most]


def _equal_totals(ax: Axes, total: float, every: FloatArray, *, bold: bool) -> None:
    """A line on which machine and hand add up to a total, with its words on it where no setting is near. [min]"""
    (_, right), (low, top) = ax.get_xlim(), ax.get_ylim()
    x = np.array([max(0.0, total - top), min(right, total - low)])
    if not x[1] > x[0]:
        return
    ax.plot(x, total - x, color=INK if bold else BODY, linewidth=1.8 if bold else 0.9, zorder=2 if bold else 1,
            gid="equal totals")  # fmt: skip
    words = f"{total:.1f} min in all" if bold else f"{total:g} min in all"
    patch: dict[str, Any] = {"boxstyle": "square,pad=0.05", "facecolor": ax.get_facecolor(), "edgecolor": "none"}
    look: dict[str, Any] = {
        "fontweight": "bold" if bold else "normal",
        "fontsize": KEY if bold else KEY - 0.5,
        "color": page_inks(ax)[0] if bold else SOFT,
        "bbox": patch,
        "zorder": 2.5 if bold else 1.5,
    }
    at = x[0] + np.linspace(0.12, 0.88, 39) * (x[1] - x[0])
    points = ax.transData.transform(every) if len(every) else np.full((1, 2), -1e9)
    spots = ax.transData.transform(np.column_stack([at, total - at]))
    reach = np.array([0.5 * text_width(words, KEY, bold) + 14, 9.0]) * ax.figure.dpi / 72
    near = (np.abs(spots[:, None] - points) / reach).max(axis=2).min(axis=1)
    low_left, high_right = ax.transData.transform([[0.0, low], [right, top]])
    near[((spots - reach < low_left) | (spots + reach > high_right)).any(axis=1)] = -1.0
    at = float(at[int(np.argmax(np.minimum(near, 1.2) + 1e-3 * np.arange(len(at))))])
    ax.annotate(words, (at, total - at), ha="center", va="center", rotation=math.degrees(math.atan2(-1.0, 1.0)),
                rotation_mode="anchor", transform_rotates_text=True, **look)  # fmt: skip
