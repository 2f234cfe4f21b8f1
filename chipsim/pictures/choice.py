"""Pictures that help to choose: the process window, the layout, hand work against machine."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

import numpy as np

from .._shared.arrays import choice
from ..choosing.layout import Layout, LayoutRow
from ..choosing.recommending import UNJUDGED, Recommendation
from ..choosing.summaries import RISKS
from ..choosing.sweeps import Cell, Sweep
from ..choosing.variants import dial_text, passes_text
from ..damage.maps import PRIOR
from ..errors import DomainError
from ..units import ipm

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.collections import LineCollection, PathCollection, QuadMesh
from .page import (
    BODY,
    DASH,
    DOT,
    INK,
    NOTE,
    PAPER,
    SMALL,
    SOFT,
    TEXT,
    TITLE,
    annotate,
    axes_width,
    caption_of,
    check_axes,
    comes_to_text,
    fine_hatch,
    fold,
    legend_below,
    risk_colours,
    shifted_by_points,
)

__all__ = ["draw_front", "draw_layout", "draw_process_window"]


def draw_process_window(
    thing: Sweep | Recommendation, ax: Axes | None = None, *, cell: Cell | None = None, risk_name: str | None = None
) -> QuadMesh:
    """Draw the minutes in all, or the mean of a risk, over spindle speed and feed, the choice framed.

    Settings that do not keep a limit are hatched.

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

    Returns
    -------
    QuadMesh
        A row for every feed, a column for every speed, both rising; its array is the mean risk [-] or the minutes
        expected in all [min], masked where they are not known.

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
    from matplotlib.colors import ListedColormap, Normalize
    from matplotlib.patches import Patch, Rectangle

    if not isinstance(thing, Sweep | Recommendation):
        raise DomainError(f"thing must be a Sweep or a Recommendation, got {type(thing).__name__}")
    reckoned = {id(row.cell): row.expected for row in thing.rows} if isinstance(thing, Recommendation) else {}
    name = choice("risk_name", risk_name or ("minutes" if reckoned else "damage"), ("minutes", *RISKS))
    if name == "minutes" and not reckoned:
        raise DomainError("risk_name must be a risk unless thing is a Recommendation that recommends something")
    cells, machine = (thing, thing.machine) if isinstance(thing, Sweep) else (thing.sweep, thing.machine)
    waived = (*thing.waived, *UNJUDGED) if isinstance(thing, Recommendation) else ()
    if cell is not None and not isinstance(cell, Cell):
        raise DomainError(f"cell must be a Cell of the sweep or None, got {type(cell).__name__}")
    pick = thing.pick if isinstance(thing, Recommendation) else None
    framed = cell or pick or cells.chosen()
    plane = cells.plane(framed)
    speeds = sorted({float(c.setting.spindle_speed or 0) for c in plane})
    feeds = sorted({float(c.setting.feed or 0) for c in plane})
    spot = {(speeds.index(c.setting.spindle_speed), feeds.index(c.setting.feed)): c for c in plane}  # type: ignore[arg-type]
    value = np.full((len(feeds), len(speeds)), np.nan)
    for (i, j), c in spot.items():
        if name == "minutes":
            value[j, i] = reckoned.get(id(c), np.nan)
        else:
            value[j, i] = np.nan if c.summary is None else c.summary.mean[name]
    top = float(np.nanmax(value)) if np.isfinite(value).any() else 1.0
    check_axes(ax)
    if ax is None:
        import matplotlib.pyplot as plt

        size = max(4.6, 0.8 * len(speeds) + 2.2), max(3.4, 0.42 * len(feeds) + 2.4)
        ax = plt.subplots(figsize=size, layout="constrained")[1]
    # the lighter part of the ramp: ink must be seen on it
    colours = ListedColormap(risk_colours()(np.linspace(0.0, 0.6, 200))).with_extremes(bad=PAPER)
    mesh = ax.pcolormesh(
        np.arange(len(speeds) + 1), np.arange(len(feeds) + 1), np.ma.masked_invalid(value), cmap=colours,
        norm=Normalize(0.0, max(top, 1e-3)), edgecolor=PAPER, linewidth=0.8, zorder=1,
    )  # fmt: skip
    looks = {
        "violated": ("/" * 4, "a limit violated"),
        "unknown": ("." * 3, "a limit not known"),
        "failed": ("x" * 4, "cannot be cut"),
    }
    used: dict[str, Patch] = {}
    with fine_hatch():
        for (i, j), c in spot.items():
            status = _status(c, waived)
            if status != "ok":
                hatch, words = looks[status]
                ax.add_patch(
                    Rectangle((i, j), 1, 1, facecolor="none", edgecolor=INK, linewidth=0, hatch=hatch, zorder=2)
                )
                used[status] = Patch(facecolor=BODY, edgecolor=INK, linewidth=0.5, hatch=hatch, label=words)
            if np.isfinite(value[j, i]):
                box = {"boxstyle": "round,pad=0.15", "facecolor": PAPER, "edgecolor": "none", "alpha": 0.85}
                said = f"{value[j, i]:.1f}" if name == "minutes" else f"{value[j, i]:.3f}"
                ax.text(i + 0.5, j + 0.5, said, ha="center", va="center", fontsize=SMALL, color=INK,
                        zorder=3, bbox=box)  # fmt: skip
    at = (speeds.index(framed.setting.spindle_speed), feeds.index(framed.setting.feed))  # type: ignore[arg-type]
    frame = Rectangle(at, 1, 1, facecolor="none", edgecolor=INK, linewidth=2.4, zorder=4, gid="pick")
    ax.add_patch(frame)
    words = "the pick" if framed is pick else "the cell chosen"
    handles = [Patch(facecolor="none", edgecolor=INK, linewidth=2.0, label=words), *used.values()]
    marks = [f"{v:.0f}" + dial_text(v, machine).replace(" (", "\n").removesuffix(")") for v in speeds]
    ax.set_xticks(np.arange(len(speeds)) + 0.5, marks, fontsize=SMALL)
    ax.set_yticks(np.arange(len(feeds)) + 0.5, [f"{f:.0f}" for f in feeds], fontsize=SMALL)
    ax.set_xlabel("spindle speed [rpm]" + (", dial position" if machine and machine.dial else ""), fontsize=TEXT)
    ax.set_ylabel("feed [mm/min]", fontsize=TEXT)
    ax.tick_params(length=0)
    inches = ax.secondary_yaxis("right")
    inches.set_yticks(np.arange(len(feeds)) + 0.5, [f"{f / ipm:.0f}" for f in feeds], fontsize=SMALL)
    inches.set_ylabel("feed [in/min]", fontsize=TEXT)
    inches.tick_params(length=0)
    s = framed.setting
    what = [s.name, "" if s.passes is None else passes_text(s.passes), f"turned {s.rotation:g} deg" * bool(s.rotation)]
    board = cells.job_board
    shown = "Minutes of machine and hand" if name == "minutes" else f"Mean {name} [-]"
    title = f"{shown}: {', '.join(w for w in what if w) or 'as planned'}"
    text = f"{title}\n{board.wood.name}, grain {board.grain.label}\n{cells.learned or PRIOR}"
    ax.set_title(text, loc="left", fontsize=TEXT, color=INK)
    bar = ax.figure.colorbar(mesh, ax=ax, pad=0.02, fraction=0.05)
    bar.ax.tick_params(labelsize=SMALL)
    bar.set_label("minutes in all [min]" if name == "minutes" else f"mean {name} [-]", fontsize=SMALL)
    place: Any = {"loc": "upper left", "bbox_to_anchor": (0.0, 0.0), "bbox_transform": shifted_by_points(ax, 0, -40)}
    ax.legend(handles=handles, fontsize=SMALL, frameon=False, ncols=4, borderaxespad=0, labelcolor=INK, **place)
    return mesh


def _status(cell: Cell, waived: Sequence[str]) -> str:
    if cell.error or cell.clear(waived):
        return "failed" if cell.error else "ok"
    return "violated" if any(row.status == "violated" for row in cell.against(waived)) else "unknown"


def draw_layout(layout: Layout, ax: Axes | None = None, *, risk_name: str = "minutes") -> LineCollection:
    """Draw the minutes by hand, or the mean of a risk, against the rotation of the design.

    The design as drawn and the best three are marked.

    Parameters
    ----------
    layout
        From `best_layout`.
    ax
        Polar axes; None: a new figure.
    risk_name
        'minutes', 'fuzz', 'tear', 'scorch' or 'damage', at the coefficients as they are; the best three are those of
        the minutes.

    Returns
    -------
    LineCollection
        A line for the artwork, and a dashed one for the mirrored artwork if that was tried: (angle [rad], minutes [min]
        or risk [-]).

    Raises
    ------
    DomainError
        If `layout` is not a Layout, the name unknown or the axes not polar.

    Examples
    --------
    >>> import chipsim as cs
    >>> cut = cs.Cut(cs.VBit(60, 12.7, 2), cs.oval(20, 8, 1.5), 18_000, 1500)
    >>> board = cs.Board(cs.wood("black cherry"), cs.straight_grain(azimuth=0))
    >>> curve = cs.draw_layout(cs.best_layout(cut, board, step=30, pitch=1.0))
    >>> cs.save_figure(curve.figure, "layout.png")
    """
    from matplotlib.collections import LineCollection
    from matplotlib.lines import Line2D
    from matplotlib.projections.polar import PolarAxes

    if not isinstance(layout, Layout):
        raise DomainError(f"layout must be a Layout, as from best_layout, got {type(layout).__name__}")
    name = choice("risk_name", risk_name, ("minutes", *RISKS))
    if ax is None:
        import matplotlib.pyplot as plt

        ax = plt.subplots(figsize=(5.2, 4.4), layout="constrained", subplot_kw={"projection": "polar"})[1]
    if not isinstance(ax, PolarAxes):
        raise DomainError(f"ax must be polar, as from subplot_kw={{'projection': 'polar'}}, got {type(ax).__name__}")
    curves, styles, handles = [], [], []
    looks = {
        False: ("as drawn, turned", "solid", risk_colours()(0.95)),
        True: ("mirrored and turned", DASH, risk_colours()(0.5)),
    }
    for flipped, (words, dash, colour) in looks.items():
        rows = [row for row in layout.rows if row.mirrored == flipped]
        if rows:
            points = [(np.radians(row.rotation), row.value(name)) for row in rows]
            if layout.span == 360:
                points.append((2 * np.pi, points[0][1]))
            curves.append(np.array(points))
            styles.append((dash, colour))
            handles.append(Line2D([], [], color=colour, linestyle=dash, linewidth=1.6, label=words))
    artist = LineCollection(curves, linewidth=1.6, zorder=3, gid="layout")
    artist.set(color=[colour for _, colour in styles], linestyle=[dash for dash, _ in styles])
    ax.add_collection(artist, autolim=False)
    values = np.concatenate([line[:, 1] for line in curves])
    top = 1.15 * float(np.max(values, initial=0.0, where=np.isfinite(values))) or 1.0
    best = layout.ranked()
    if name == "minutes":  # in the order of what is expected over possible boards, as the report has it
        best = tuple(sorted(layout.tried, key=lambda row: round(_expected(layout, row), 9)))
    marks: list[tuple[Any, str]] = [(layout.as_drawn, "as drawn")]
    marks += [(row, str(k)) for k, row in enumerate(best, 1) if row is not layout.as_drawn]
    for k, (row, words) in enumerate(marks):
        spot = (np.radians(row.rotation), row.value(name))
        ax.plot(*spot, marker="o", markersize=5, zorder=4, clip_on=False, linestyle="", gid="mark", **DOT)
        # to either side in turn, so that neighbours can be read
        annotate(ax, words, spot, (7, 3) if k % 2 == 0 else (-7, 3), ha="left" if k % 2 == 0 else "right", zorder=5)
    for k, row in enumerate(best, 1):
        words = f"{k}: {row.words()}, {_comes_to(layout, row, name)}"
        handles.append(Line2D([], [], linestyle="", marker="o", markersize=5, label=words, **DOT))
    ax.set_theta_zero_location("E")
    ax.set_theta_direction(1)
    ax.set_thetamin(0)
    ax.set_thetamax(layout.span)
    ax.set_rlim(0.0, top)
    half = layout.span == 180
    ax.set_thetagrids(np.arange(0, layout.span + half, 30), **NOTE)
    ax.tick_params(labelsize=SMALL)
    ax.grid(color="0.75", linewidth=0.4)
    ax.spines["polar"].set(color=SOFT, linewidth=0.6)
    # above the arc itself: a half disc leaves the upper part of its axes empty
    what = "Minutes by hand on a middling board" if name == "minutes" else f"Mean {name} [-]"
    title = f"{what} against rotation of the design [deg]"
    annotate(ax, title, (np.pi / 2, top), (0, 26), ha="center", fontsize=TITLE)
    told = f"as drawn: {_comes_to(layout, layout.as_drawn, name)}"
    legend_below(
        ax,
        handles,
        [layout.verdict, *caption_of(layout.setup), told, str(layout.setup.get("learned") or PRIOR)],
        330,
        24 if half else -24,
    )
    return artist


def _expected(layout: Layout, row: LayoutRow) -> float:
    """Minutes by hand over possible boards of a way that was tried on them. [min]"""
    return next(hand.expected for tried, hand in zip(layout.tried, layout.hand, strict=True) if tried is row)


def _comes_to(layout: Layout, row: LayoutRow, name: str) -> str:
    if name != "minutes":
        return comes_to_text(row.summary, name)
    return f"{_expected(layout, row):.1f} min by hand expected, {comes_to_text(row.summary, 'damage')}"


def draw_front(recommendation: Recommendation, ax: Axes | None = None) -> PathCollection:
    """Draw minutes by hand against minutes of machine: every setting that keeps the limits, and the pick.

    Slanting lines join settings that take equally long in all.

    Parameters
    ----------
    recommendation
        From `recommend`.
    ax
        Axes to draw in; None: a new figure.

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
    from matplotlib.lines import Line2D

    if not isinstance(recommendation, Recommendation):
        raise DomainError(
            f"recommendation must be a Recommendation, as from recommend, got {type(recommendation).__name__}"
        )
    r = recommendation
    check_axes(ax)
    if ax is None:
        import matplotlib.pyplot as plt

        ax = plt.subplots(figsize=(7.0, 5.6), layout="constrained")[1]
    spots = {id(row): (row.machine, row.expected - row.machine) for row in r.rows}
    every = np.array([*spots.values()]).reshape(-1, 2)
    front = np.array([spots[id(row)] for row in r.front]).reshape(-1, 2)
    pick = None if r.pick is None else r.row(r.pick)
    right = 1.15 * float(every[:, 0].max(initial=0.1))
    top = float(every[:, 1].max(initial=1.0))
    if pick is not None:
        top = min(top, 2.5 * (pick.expected - pick.machine) + right)
    top = 1.08 * max(top, float(front[:, 1].max(initial=0.0)), 0.1)
    low = float(every[:, 1].min()) if len(every) else 0.0
    low = 0.0 if low < 0.5 * top else max(0.0, low - 0.3 * (top - low))
    ax.set_xlim(0.0, right)
    ax.set_ylim(low, top)
    own = math.nan if pick is None else pick.expected
    for total in _round_totals(low, top + right):
        if not abs(total - own) < 0.05 * (top - low):
            _equal_totals(ax, total, right, low, top, bold=False)
    if pick is not None:
        _equal_totals(ax, own, right, low, top, bold=True)
    ax.plot(*every.T, linestyle="", marker="o", markersize=4.5, color=SOFT, markerfacecolor=PAPER, markeredgewidth=0.8,
            zorder=3, gid="settings")  # fmt: skip
    artist = ax.scatter(front[:, 0], front[:, 1], s=34, color=risk_colours()(0.7), edgecolors=INK, linewidths=0.7,
                        zorder=4)  # fmt: skip
    artist.set_gid("front")
    shown = ([pick] if pick is not None else []) + [row for row in r.front if row is not pick]
    handles = []
    for k, row in enumerate(shown[:3], 1):
        annotate(ax, str(k), spots[id(row)], (7, 4), zorder=6)
        words = f"{k}: {row.cell.setting.words(r.machine)}: {row.machine:.2f} of machine and "
        words += f"{row.expected - row.machine:.1f} by hand, {row.expected:.1f} min in all"
        handles.append(Line2D([], [], linestyle="", marker="", label="\n".join(fold([words], 470).splitlines())))
    if pick is not None:
        ax.scatter(*spots[id(pick)], s=150, facecolor="none", edgecolors=INK, linewidths=2.0, zorder=5, gid="pick")
    above = int((every[:, 1] > top).sum())
    keys = [
        Line2D([], [], linestyle="", marker="o", markersize=6, color=risk_colours()(0.7), markeredgecolor=INK,
               label="none beats it on both"),
        Line2D([], [], linestyle="", marker="o", markersize=5, color=SOFT, markerfacecolor=PAPER,
               label="keeps all limits" + (f"; {above} more lie above" if above else "")),
        Line2D([], [], linestyle="", marker="o", markersize=10, color=INK, markerfacecolor="none", markeredgewidth=2,
               label="the pick"),
    ]  # fmt: skip
    keys = [key for key, there in zip(keys, (len(front), len(every), pick is not None), strict=True) if there]
    if r.time_limit is not None and r.time_limit / 60 < right:
        keys.append(ax.axvline(r.time_limit / 60, color=INK, linewidth=0.8, linestyle=DASH, label="limit on the time"))
    ax.set_xlabel("minutes of machine", fontsize=TEXT)
    ax.set_ylabel("minutes by hand, expected", fontsize=TEXT)
    ax.tick_params(labelsize=SMALL)
    for side in ("top", "right"):
        ax.spines[side].set_visible(False)
    board = r.sweep.job_board
    head = "No setting keeps the limits"
    if pick is not None:
        head = f"{pick.cell.setting.words(r.machine)}: {pick.expected:.1f} min in all"
    told = [
        head,
        f"{r.sweep.job_carving.name}, {board.wood.name}, grain {board.grain.label}. {r.sweep.learned or PRIOR}",
    ]
    if pick is not None and r.odds is not None:
        told.insert(1, f"Against {r.odds.other.setting.words(r.machine)}: {r.odds}.")
    ax.set_title(fold(told, axes_width(ax)), loc="left", fontsize=TEXT, color=INK)
    place: Any = {"loc": "upper left", "bbox_to_anchor": (0.0, 0.0), "bbox_transform": shifted_by_points(ax, 0, -34)}
    ax.legend(handles=[*keys, *handles], fontsize=SMALL, frameon=False, borderaxespad=0, labelcolor=INK, **place)
    return artist


def _round_totals(least: float, most: float) -> list[float]:
    """Some four round totals between two. [min]"""
    step = 10.0 ** np.floor(np.log10(max((most - least) / 3, 1e-3)))
    step = next(step * k for k in (1, 2, 5, 10) if (most - least) / (step * k) <= 5)
    first = int(np.floor(least / step)) + 1
    return [float(step * k) for k in range(first, first + 6) if step * k < most]


def _equal_totals(ax: Axes, total: float, right: float, low: float, top: float, *, bold: bool) -> None:
    """A line on which machine and hand add up to a total, with its words where it leaves the picture. [min]"""
    x = np.array([max(0.0, total - top), min(right, total - low)])
    if not x[1] > x[0]:
        return
    ax.plot(x, total - x, color=INK if bold else BODY, linewidth=1.8 if bold else 0.9, zorder=2 if bold else 1,
            gid="equal totals")  # fmt: skip
    words = f"{total:.1f} min in all" if bold else f"{total:g} min in all"
    look: dict[str, Any] = {
        "fontweight": "bold" if bold else "normal",
        "fontsize": SMALL,
        "color": INK if bold else SOFT,
    }
    if x[1] >= right:
        annotate(ax, words, (right, total - right), (4, -3), ha="left", **look)
    else:
        annotate(ax, words, (x[1], low), (-3, 4), ha="right", **look)
