"""Tooth passes: the chips themselves."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from .._shared.arrays import FloatArray, integer
from ..chips.passes import ToothPasses
from ..errors import DomainError
from ..units import thou

if TYPE_CHECKING:
    from matplotlib.animation import FuncAnimation
    from matplotlib.artist import Artist
    from matplotlib.axes import Axes
    from matplotlib.collections import PolyCollection
from .page import (
    BOARD,
    BOARD_EDGE,
    HOLLOW,
    INK,
    KEY,
    PAPER,
    UMBER,
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
    text_width,
    trace,
)
from .traces import unit_vectors

__all__ = ["animate_tooth_passes", "draw_tooth_passes"]

_RESEAT = "Seat the bit anew in a clean collet and measure its runout again."
"""What helps flutes that share the work unevenly: common practice, no source."""

_THIN = 0.1
"""A flute whose thickest chip is less than this share of the thickest does nearly nothing. [-]"""


def draw_tooth_passes(
    passes: ToothPasses,
    ax: Axes | None = None,
    *,
    height: int = -1,
    last: int = 8,
    title: str | None = None,
) -> PolyCollection:
    """Draw the paths of the edge in the last few passes, and the chips between them, in the plane of one height.

    A chip reaches from the edge inwards by its radial thickness; wood that a ray meets in several pieces (after a
    corner) is drawn as one. In a new figure the last turn's chips stand beside it, unrolled from the left lip over
    straight ahead to the right lip.

    Parameters
    ----------
    passes
        From `tooth_passes`; angles every few degrees make smooth arcs.
    ax
        Axes to draw in, without the chips unrolled; None: a new figure.
    height
        Index into `passes.heights`; default the uppermost.
    last
        How many passes, counted from the end, 1 to 1000.
    title
        Over the picture; None: the answer in a few words; '': none.

    Returns
    -------
    PolyCollection
        The chips, a polygon for every unbroken stretch of a pass that cuts anything.

    Raises
    ------
    DomainError
        If `passes` is not a ToothPasses or a number is out of range.

    Examples
    --------
    >>> import chipsim as cs
    >>> cut = cs.Cut(cs.VBit(60, 12.7, 2), cs.line((0, 0), (20, 0), 2.5), 18_000, 1500)
    >>> passes = cs.tooth_passes(cut, start=10, stop=10.3, angles=range(0, 181, 10), heights=[1.5])
    >>> chips = cs.draw_tooth_passes(passes)
    >>> cs.save_figure(chips.figure, "chips.png")
    """
    look = _Look(passes, height, last)
    check_axes(ax)
    answer, lines = look.words()
    answer = answer if title is None else title
    feet = [Foot(f"{passes.caption}.")]
    beside: Axes | None = None
    if ax is None:
        size = 3.1 * (look.high - look.low) / float((look.high - look.low).max())
        size = np.maximum(size, [1.8, 1.4])
        middle, half = (look.low + look.high) / 2, (look.high - look.low) / 2
        half = half * size / (2 * half) / (size / (2 * half)).min() if (half > 0).all() else half
        look.low, look.high = middle - half, middle + half
        wide = 3.3
        points = 72 * (float(size[0]) + 0.75 + wide)
        above = head_height(*head_lines(answer, lines, points))
        below = foot_height(look.items(), feet, points) + 0.35
        ax = new_page(size, above, below, 0.75 + wide + 0.55, left=0.2)
        box = ax.get_position()
        inch = box.width / float(size[0])  # as a share of the width of this page
        beside = ax.figure.add_axes((box.x1 + 0.75 * inch, box.y0, wide * inch, box.height))
    else:
        points = axes_width(ax)
    artist = _draw_plan(ax, look)
    if beside is not None:
        _draw_unrolled(beside, look)
        ax.set_anchor("NW")
    draw_head(ax, *head_lines(answer, lines, points))
    draw_foot(ax, look.items(), feet, up=-34.0, width=points)
    return artist


def animate_tooth_passes(
    passes: ToothPasses, ax: Axes | None = None, *, height: int = -1, last: int = 8, frames: int = 60
) -> FuncAnimation:
    """Move the teeth of the last few passes through the wood, in slow motion; matplotlib's own writers save it.

    Parameters
    ----------
    passes
        From `tooth_passes`; angles every few degrees make smooth arcs.
    ax
        Axes to draw in; None: a new figure.
    height
        Index into `passes.heights`; default the uppermost.
    last
        How many passes, counted from the end, 1 to 1000.
    frames
        How many pictures, 2 to 2000.

    Returns
    -------
    FuncAnimation
        Keep it as long as it is shown; ``.save("chips.gif", writer="pillow")`` writes a file.

    Raises
    ------
    DomainError
        If `passes` is not a ToothPasses, a number is out of range, or there is no wood at that height.

    Examples
    --------
    >>> import chipsim as cs
    >>> cut = cs.Cut(cs.VBit(60, 12.7, 2), cs.line((0, 0), (20, 0), 2.5), 18_000, 1500)
    >>> passes = cs.tooth_passes(cut, start=10, stop=10.3, angles=range(0, 181, 10), heights=[1.5])
    >>> moving = cs.animate_tooth_passes(passes, last=2, frames=3)
    >>> moving.save("chips.gif", writer="pillow")
    """
    from matplotlib.animation import FuncAnimation

    look = _Look(passes, height, last)
    count = integer("frames", frames, low=2, high=2000)
    known = np.isfinite(look.time) & np.isfinite(look.edge).all(axis=-1)
    if not known.any():
        raise DomainError(f"height must be one where there is wood, got {height}, {look.above:g} mm above the tip")
    chips = draw_tooth_passes(passes, ax, height=height, last=last)
    page: Any = chips.axes
    (arcs,) = [c for c in page.collections if c.get_gid() == "edges"]
    begin, end = float(look.time[known].min()), float(look.time[known].max())
    (tooth,) = page.plot([], [], linestyle="", marker="o", markersize=5, markerfacecolor=PAPER, markeredgecolor=INK,
                         zorder=6, gid="tooth")  # fmt: skip

    def show(frame: int) -> list[Artist]:
        now = begin + (end - begin) * frame / (count - 1)
        shapes, paths, teeth, tones = [], [], [], []
        for p in range(len(look.rows)):
            done = np.flatnonzero(known[p] & (look.time[p] <= now))
            if not done.size:
                continue
            paths.append(look.edge[p, done])
            if (look.thickness[p, done] > 0).any():
                shapes.append(np.vstack([look.edge[p, done], look.inner[p, done][::-1]]))
                tones.append(look.tones[int(look.flute[p])])
            if done.size < known[p].sum():
                latest = done[np.argmax(look.time[p, done])]
                teeth.append(look.edge[p, latest])
        chips.set_verts(shapes)
        chips.set_facecolor(tones or "none")
        arcs.set_segments(paths)
        tooth.set_data(*np.array(teeth).reshape(-1, 2).T)
        return [chips, arcs, tooth]

    return FuncAnimation(page.figure, show, frames=count, interval=60, blit=False, repeat=True)


class _Look:
    """Passes in the plane of one height, as arrays: edges, chips, which flute does what."""

    def __init__(self, passes: ToothPasses, height: int, last: int) -> None:
        if not isinstance(passes, ToothPasses):
            raise DomainError(f"passes must be a ToothPasses, as from tooth_passes, got {type(passes).__name__}")
        h = integer("height", height, low=-len(passes.heights), high=len(passes.heights) - 1)
        self.passes = passes
        self.above = float(passes.heights[h])
        self.rows = np.arange(len(passes))[-integer("last", last, low=1, high=1000) :]
        order = np.argsort(passes.angles, kind="stable")
        self.angles = passes.angles[order]
        self.axis, self.time = passes.axis_xy[self.rows][:, order], passes.time[self.rows][:, order]
        self.thickness = passes.radial_thickness[self.rows][:, order, h]
        self.flute = passes.flute[self.rows]
        turn = np.radians(passes.azimuth[self.rows][:, order])
        ray = np.stack([np.cos(turn), np.sin(turn)], axis=-1)
        self.edge = self.axis + passes.edge_radius_about_axis[self.rows, h][:, None, None] * ray
        self.radius = passes.edge_radius_about_axis[self.rows, h]
        self.edge[~np.isfinite(self.thickness)] = np.nan
        self.inner = self.edge - self.thickness[..., None] * ray
        self.known = np.isfinite(self.edge).all(axis=-1)
        flutes = np.unique(self.flute).tolist()
        ramp = step_colours()
        # the thickest chips darkest, told apart in grey
        shades = [ramp[4], ramp[1], ramp[3], ramp[2]]
        self.most = {f: 1000 * float(np.nanmax(self.thickness[self.flute == f], initial=0.0)) for f in flutes}
        ranked = sorted(flutes, key=lambda f: -self.most[f])
        self.tones = {f: shades[k % 4] for k, f in enumerate(ranked)}
        points = np.concatenate([self.axis, self.edge]).reshape(-1, 2)
        points = points[np.isfinite(points).all(axis=1)] if np.isfinite(points).any() else np.zeros((1, 2))
        low, high = points.min(axis=0), points.max(axis=0)
        margin = max(0.24 * float((high - low).max()), 1e-3)
        self.low, self.high = low - margin, high + margin

    def words(self) -> tuple[str, list[str]]:
        """Title, and the line below it."""
        some, every = len(self.rows), len(self.passes)
        where = f"last {some} of {every} passes" if some < every else f"{every} passes"
        where = f"The {where} of the teeth, seen {self.above:.2f} mm above the tip"
        top = max(self.most.values(), default=0.0)
        if not self.known.any():
            return "There is no wood at this height", [f"{where}, where there is no wood."]
        if top <= 0:
            return "No chip: the teeth find nothing left", [f"{where}."]
        chips = ", ".join(f"flute\N{NO-BREAK SPACE}{_name(f)} up to {_microns(most)} ({most / 1000 / thou:.1f} thou)"
                          for f, most in self.most.items())  # fmt: skip
        said = f"{where}. Chips: {chips}."
        uneven = [said, _RESEAT] if "runout" in self.passes.caption else [said]
        idle = [f for f, most in self.most.items() if most < _THIN * top]
        if idle and len(idle) < len(self.most):
            busy = [f for f in self.most if f not in idle]
            one = "One flute does" if len(busy) == 1 else f"{len(busy)} flutes do"
            rest = "the other hardly cuts" if len(idle) == 1 else "the others hardly cut"
            return f"{one} the work, {rest}", uneven
        if len(self.most) > 1 and max(self.most.values()) > 1.5 * min(self.most.values()):
            return "The flutes share the work unevenly", uneven
        one = "Every flute takes" if len(self.most) > 1 else "The flute takes"
        return f"{one} chips up to {_microns(top)} ({top / 1000 / thou:.1f} thou)", [said]

    def items(self) -> list[Item]:
        """A sign for every flute."""
        top = max(self.most.values(), default=0.0)
        seen = [f for f, most in self.most.items() if most >= _THIN * top]
        items = [Item(_tone_sign(self.tones[f]), f"chip of flute {_name(f)}, true to scale") for f in seen]
        thin = [f for f, most in self.most.items() if f not in seen and most > 0]
        return items + [Item(_tone_sign(self.tones[f]), f"flute {_name(f)}: too thin to be seen here") for f in thin]

    def fullest(self, flute: int) -> int:
        """The last pass of a flute that is not cut short by the ends of the table."""
        rows = np.flatnonzero(self.flute == flute)
        known = self.known[rows].sum(axis=1)
        return int(rows[np.flatnonzero(known == known.max())[-1]])

    def floor(self) -> list[FloatArray]:
        """What is cut away: discs about the axis, and the groove behind the first of them."""
        middle = int(np.argmin(np.abs(self.angles - 90.0)))
        track, radius = self.axis[:, middle], self.radius
        some = np.isfinite(track).all(axis=1) & np.isfinite(radius) & self.known.any(axis=1)
        track, radius = track[some], radius[some]
        turn = 2 * np.pi * np.arange(90) / 90
        circle = np.column_stack([np.cos(turn), np.sin(turn)])
        out = [at + r * circle for at, r in zip(track, radius, strict=True)]
        if len(track) > 1 and np.hypot(*(track[-1] - track[0])) > 1e-9:
            way = unit_vectors((track[-1] - track[0])[None])[0]
            across = radius[0] * np.array([-way[1], way[0]])
            back = track[0] - 6 * radius[0] * way
            out.append(np.array([track[0] + across, back + across, back - across, track[0] - across]))
        return out

    def stretches(self) -> list[tuple[int, np.ndarray]]:
        """Unbroken stretches of every pass: number of the pass among those drawn, and its angles."""
        out = []
        for p in range(len(self.rows)):
            known = self.known[p]
            breaks = np.flatnonzero((np.diff(self.angles) > 90.0) | (known[1:] != known[:-1])) + 1
            out += [(p, part) for part in np.split(np.arange(len(self.angles)), breaks) if part.size and known[part[0]]]
        return out


def _name(flute: int) -> str:
    """Flutes are A, B, C ... in pictures."""
    return "ABCDEFGHIJKLMNOPQRSTUVWXYZ"[flute % 26]


def _microns(thickness: float) -> str:
    """A thickness as it is told everywhere in a picture. [um]"""
    return f"{thickness:.0f} µm" if thickness >= 9.95 else f"{thickness:.1f} µm"


def _tone_sign(tone: Any) -> Any:
    return lambda: swatch(tone)


def _draw_plan(ax: Axes, look: _Look) -> PolyCollection:
    """The teeth's way through the wood, seen from above."""
    from matplotlib.collections import LineCollection, PolyCollection

    stretches = look.stretches()
    arcs = [look.edge[p, part] for p, part in stretches]
    cutting = [(p, part) for p, part in stretches if (look.thickness[p, part] > 0).any()]
    chips = [np.vstack([look.edge[p, part], look.inner[p, part][::-1]]) for p, part in cutting]
    tones = [look.tones[int(look.flute[p])] for p, _ in cutting]
    ax.set_facecolor(BOARD)
    for spine in ax.spines.values():
        spine.set(color=BOARD_EDGE, linewidth=0.9)
    # what is cut away already lies behind the last edges
    hollow = PolyCollection(look.floor(), facecolors=HOLLOW, edgecolors="none", zorder=0.5, gid="groove")
    ax.add_collection(hollow, autolim=False)
    artist = PolyCollection(chips, facecolors=tones, edgecolors="none", zorder=1, gid="chips")
    ax.add_collection(artist, autolim=False)
    ax.add_collection(LineCollection(arcs, colors=INK, linewidths=0.6, zorder=2, gid="edges"), autolim=False)
    middle = int(np.argmin(np.abs(look.angles - 90.0)))
    track = look.axis[:, middle][np.isfinite(look.axis[:, middle]).all(axis=1)]
    trace(ax, track, linestyle="", marker="+", color=INK, markersize=4, markeredgewidth=0.6, gid="spindle axis")
    patch: dict[str, Any] = {"boxstyle": "square,pad=0.1", "facecolor": HOLLOW, "edgecolor": "none"}
    if len(track) > 1:
        # behind the marks of the axis, which would hide it
        way = unit_vectors((track[-1] - track[0])[None])[0]
        up = np.array([-way[1], way[0]]) * (1.0 if way[0] >= 0 else -1.0)
        shape = {"arrowstyle": "-|>", "color": INK, "linewidth": 1.0, "shrinkA": 0, "shrinkB": 5}
        annotate(ax, "", tuple(track[0]), tuple(-29 * way), arrowprops=shape, zorder=3)
        annotate(ax, "feed", tuple(track[0]), tuple(-17 * way + (6 + 6 * abs(up[0])) * up), ha="center",
                 va="bottom" if abs(up[1]) > 0.5 else "center", fontsize=KEY, bbox=patch)  # fmt: skip
    _side_words(ax, look)
    for points, when in zip(look.edge[::-1], look.time[::-1], strict=True):
        known = np.isfinite(points).all(axis=1) & np.isfinite(when)
        if known.sum() > 2:
            # a head on the last arc, the way the edge goes
            way = points[known][np.argsort(when[known], kind="stable")]
            head: dict[str, Any] = {"arrowstyle": "-|>", "facecolor": PAPER, "edgecolor": INK, "linewidth": 0.6}
            head |= {"mutation_scale": 12, "shrinkA": 0, "shrinkB": 0}  # pale, to be seen on dark chips
            ax.annotate("", tuple(way[len(way) // 3 + 1]), tuple(way[len(way) // 3]), arrowprops=head, zorder=4)
            break
    ax.set_xlim(look.low[0], look.high[0])
    ax.set_ylim(look.low[1], look.high[1])
    ax.set_aspect("equal", adjustable="box")
    ax.xaxis.set_visible(False)
    ax.yaxis.set_visible(False)
    _draw_scale(ax, look)
    return artist


def _draw_scale(ax: Axes, look: _Look) -> None:
    """A bar of a round length at the lower left. [mm]"""
    wide = float(look.high[0] - look.low[0])
    power = 10.0 ** np.floor(np.log10(0.3 * wide))
    size = power * max(m for m in (1, 2, 5) if m * power <= 0.3 * wide)
    words = (text_width(f"{size:g} mm", KEY) + 7) / axes_width(ax) * wide
    tall = float(look.high[1] - look.low[1])
    left, right = look.low[0] + 0.05 * wide, look.high[0] - 0.05 * wide - size - words
    low, high = look.low[1] + 0.06 * wide, look.low[1] + tall - 0.06 * wide
    # in the corner that is the farthest from the teeth's way
    there = np.concatenate([look.edge.reshape(-1, 2), look.axis.reshape(-1, 2)])
    there = there[np.isfinite(there).all(axis=1)]
    corners = [(x, y) for y in (low, high) for x in (left, right)]
    free = [
        min((np.hypot(*(there - (x + f * (size + words), y)).T).min() for f in (0.0, 0.5, 1.0)), default=0.0)
        if len(there)
        else 0.0
        for x, y in corners
    ]
    x, y = corners[int(np.argmax(free))]
    tick = 0.012 * wide
    bar = [[x, y + tick], [x, y - tick], [x, y], [x + size, y], [x + size, y - tick], [x + size, y + tick]]
    trace(ax, np.array(bar), color=INK, linewidth=1.1, solid_joinstyle="miter", zorder=5, gid="scale bar")
    annotate(ax, f"{size:g} mm", (x + size, y), (5, 0), va="center_baseline", fontsize=KEY, zorder=5)


def _side_words(ax: Axes, look: _Look) -> None:
    """'left lip', 'ahead' and 'right lip' where the table has them, each of the last pass that reaches it."""
    for want, words in ((0.0, "left lip"), (90.0, "ahead"), (180.0, "right lip")):
        found = np.argwhere((np.abs(look.angles - want) < 1e-6) & look.known)
        if not len(found):
            continue
        p, k = found[-1]
        a, b = look.axis[p, k], look.edge[p, k]
        trace(ax, np.array([a, b]), color=INK, linewidth=0.4, linestyle=(0, (5, 3)), zorder=1.5, gid="angle tick")
        out = unit_vectors((b - a)[None])[0]
        side = "center" if abs(out[0]) < 0.5 else "left" if out[0] > 0 else "right"
        high = "center" if abs(out[1]) < 0.5 else "bottom" if out[1] > 0 else "top"
        patch: dict[str, Any] = {"boxstyle": "square,pad=0.1", "facecolor": BOARD, "edgecolor": "none"}
        annotate(ax, words, tuple(b), tuple(4 * out), ha=side, va=high, fontsize=KEY, bbox=patch, zorder=3)


def _draw_unrolled(ax: Axes, look: _Look) -> None:
    """Thickness of each flute's last chip over its sweep, in um and thou."""
    from matplotlib.patheffects import withStroke

    ink, soft, _ = page_inks(ax)
    top = max([1.0, *look.most.values()])
    for flute in sorted(look.most, key=lambda f: -look.most[f]):
        p = look.fullest(flute)
        thick = 1000 * look.thickness[p]
        if look.most[flute] < _THIN * top:
            # too thin to be seen as an area
            peak = int(np.nanargmax(thick))
            casing = [withStroke(linewidth=3.2, foreground=PAPER)]  # seen on any tone, in grey too
            ax.plot(look.angles, thick, color=UMBER, linewidth=1.6, zorder=4, path_effects=casing)
            ax.annotate(f"flute {_name(flute)}, up to {_microns(look.most[flute])}", (look.angles[peak], thick[peak]),
                        (100.0, 1.12 * top), fontsize=KEY, color=UMBER, ha="left",
                        arrowprops={"arrowstyle": "-", "color": UMBER, "linewidth": 0.9, "path_effects": casing}
                        )  # fmt: skip
            continue
        ax.fill_between(look.angles, 0.0, thick, facecolor=look.tones[flute], edgecolor=INK, linewidth=0.6)
    ax.set_xlim(float(look.angles.min()), float(look.angles.max()))
    ax.set_ylim(0.0, 1.25 * top)
    words = [(0.0, "left lip"), (90.0, "ahead"), (180.0, "right lip")]
    there = [(a, w) for a, w in words if look.angles.min() <= a <= look.angles.max()]
    ax.set_xticks([a for a, _ in there], [w for _, w in there], fontsize=KEY)
    ax.tick_params(labelsize=KEY - 1, width=0.5, length=2.5, colors=soft)
    ax.set_ylabel("thickness of one chip [µm]", fontsize=KEY, color=ink)
    ax.spines[["top", "right"]].set_visible(False)
    right = ax.secondary_yaxis("right", functions=(_to_thou, _from_thou))
    right.set_ylabel("[thou]", fontsize=KEY, color=ink)
    right.tick_params(labelsize=KEY - 1, width=0.5, length=2.5, colors=soft)


def _to_thou(thickness: Any) -> Any:
    return np.asarray(thickness) / 1000 / thou


def _from_thou(thickness: Any) -> Any:
    return np.asarray(thickness) * 1000 * thou
