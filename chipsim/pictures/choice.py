"""Pictures that help to choose: the process window, the layout, damage against time."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

import numpy as np

from .._shared.arrays import choice
from ..choosing.layout import Layout
from ..choosing.recommending import Recommendation
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
    caption_of,
    check_axes,
    comes_to_text,
    fine_hatch,
    legend_below,
    risk_colours,
    shifted_by_points,
)

__all__ = ["draw_front", "draw_layout", "draw_process_window"]


def draw_process_window(
    thing: Sweep | Recommendation, ax: Axes | None = None, *, cell: Cell | None = None, risk_name: str = "damage"
) -> QuadMesh:
    """Draw the mean of a risk over spindle speed and feed, hatched where a limit is not kept, the choice framed.

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
        'fuzz', 'tear', 'scorch' or 'damage'.

    Returns
    -------
    QuadMesh
        A row for every feed, a column for every speed, both rising; its array is the mean risk, masked where it is
        not known. [-]

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
    name = choice("risk_name", risk_name, RISKS)
    cells, machine = (thing, thing.machine) if isinstance(thing, Sweep) else (thing.sweep, thing.machine)
    waived = thing.waived if isinstance(thing, Recommendation) else ()
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
                ax.text(i + 0.5, j + 0.5, f"{value[j, i]:.3f}", ha="center", va="center", fontsize=SMALL, color=INK,
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
    title = f"Mean {name} [-]: {', '.join(w for w in what if w) or 'as planned'}"
    text = f"{title}\n{board.wood.name}, grain {board.grain.label}\n{cells.learned or PRIOR}"
    ax.set_title(text, loc="left", fontsize=TEXT, color=INK)
    bar = ax.figure.colorbar(mesh, ax=ax, pad=0.02, fraction=0.05)
    bar.ax.tick_params(labelsize=SMALL)
    bar.set_label(f"mean {name} [-]", fontsize=SMALL)
    place: Any = {"loc": "upper left", "bbox_to_anchor": (0.0, 0.0), "bbox_transform": shifted_by_points(ax, 0, -40)}
    ax.legend(handles=handles, fontsize=SMALL, frameon=False, ncols=4, borderaxespad=0, labelcolor=INK, **place)
    return mesh


def _status(cell: Cell, waived: Sequence[str]) -> str:
    if cell.error or cell.clear(waived):
        return "failed" if cell.error else "ok"
    return "violated" if any(row.status == "violated" for row in cell.against(waived)) else "unknown"


def draw_layout(layout: Layout, ax: Axes | None = None, *, risk_name: str = "damage") -> LineCollection:
    """Draw the mean of a risk against the rotation of the design, with the design as drawn and the best three marked.

    Parameters
    ----------
    layout
        From `best_layout`.
    ax
        Polar axes; None: a new figure.
    risk_name
        'fuzz', 'tear', 'scorch' or 'damage'; the best three are those of damage.

    Returns
    -------
    LineCollection
        A line for the artwork, and a dashed one for the mirrored artwork if that was tried: (angle [rad], risk [-]).

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
    name = choice("risk_name", risk_name, RISKS)
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
            points = [(np.radians(row.rotation), row.summary.mean[name]) for row in rows]
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
    marks: list[tuple[Any, str]] = [(layout.as_drawn, "as drawn")]
    marks += [(row, str(k)) for k, row in enumerate(layout.ranked(), 1) if row is not layout.as_drawn]
    for k, (row, words) in enumerate(marks):
        spot = (np.radians(row.rotation), row.summary.mean[name])
        ax.plot(*spot, marker="o", markersize=5, zorder=4, clip_on=False, linestyle="", gid="mark", **DOT)
        # to either side in turn, so that neighbours can be read
        annotate(ax, words, spot, (7, 3) if k % 2 == 0 else (-7, 3), ha="left" if k % 2 == 0 else "right", zorder=5)
    for k, row in enumerate(layout.ranked(), 1):
        words = f"{k}: {row.words()}, {comes_to_text(row.summary, name)}"
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
    title = f"Mean {name} [-] against rotation of the design [deg]"
    annotate(ax, title, (np.pi / 2, top), (0, 26), ha="center", fontsize=TITLE)
    drawn = layout.as_drawn.summary
    told = f"as drawn: {comes_to_text(drawn, name)}"
    legend_below(
        ax,
        handles,
        [*caption_of(layout.setup), told, str(layout.setup.get("learned") or PRIOR)],
        330,
        24 if half else -24,
    )
    return artist


def draw_front(recommendation: Recommendation, ax: Axes | None = None) -> PathCollection:
    """Draw damage against time: settings that keep the limits, those that do not, and the front with the pick.

    Parameters
    ----------
    recommendation
        From `recommend`.
    ax
        Axes to draw in; None: a new figure.

    Returns
    -------
    PathCollection
        The front, from the pick on: (likely time [min], mean damage [-]).

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
    ...     cut, board, machine, bit, speeds=[12_000, 18_000], feeds=[900, 1800], checks=checks, draws=0, workers=1
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

        ax = plt.subplots(figsize=(6.4, 4.6 + 0.17 * min(len(r.front), 6)), layout="constrained")[1]
    known = [c for c in r.sweep if np.isfinite(c.damage) and np.isfinite(c.time[1])]
    groups = {
        "keeps the limits": [c for c in known if r.allowed(c) and c not in r.front],
        "does not": [c for c in known if not r.allowed(c)],
    }
    for (words, group), marker in zip(groups.items(), ("o", "x"), strict=True):
        xy = np.array([(c.time[1] / 60, c.damage) for c in group]).reshape(-1, 2)
        ax.plot(*xy.T, linestyle="", marker=marker, markersize=4, color=SOFT, markerfacecolor=BODY,
                markeredgewidth=0.7, label=words, zorder=2)  # fmt: skip
    front = np.array([(c.time[1] / 60, c.damage) for c in r.front]).reshape(-1, 2)
    ax.plot(*front.T, color=INK, linewidth=0.8, drawstyle="steps-pre", zorder=2.5)
    colours = [risk_colours()(0.95)] + [risk_colours()(0.5)] * max(len(front) - 1, 0)
    artist = ax.scatter(
        front[:, 0], front[:, 1], s=36, c=colours[: len(front)], edgecolors=INK, linewidths=0.7, zorder=3
    )
    artist.set_gid("front")
    handles, labels = ax.get_legend_handles_labels()
    for k, cell in enumerate(r.front):
        annotate(ax, "pick" if k == 0 else str(k + 1), (cell.time[1] / 60, cell.damage), (5, 5), zorder=4)
        if k < 6:
            handles.append(
                Line2D([], [], linestyle="", marker="o", markersize=6, color=colours[k], markeredgecolor=INK)
            )
            labels.append(f"{'pick' if k == 0 else k + 1}: {cell.setting.words(r.machine)}")
    if r.time_limit is not None:
        handles.append(ax.axvline(r.time_limit / 60, color=INK, linewidth=0.8, linestyle=DASH))
        labels.append("limit on the time (its high end must keep it)")
    ax.set_ylim(bottom=0.0)
    ax.set_xlim(left=0.0)
    ax.set_xlabel("likely time [min]", fontsize=TEXT)
    ax.set_ylabel("mean damage over the lips [-]", fontsize=TEXT)
    ax.tick_params(labelsize=SMALL)
    board = r.sweep.job_board
    ax.set_title(
        f"Damage against time: {r.sweep.job_carving.name}\n{board.wood.name}, grain {board.grain.label}\n"
        f"{r.sweep.learned or PRIOR}",
        loc="left", fontsize=TEXT, color=INK,
    )  # fmt: skip
    place: Any = {"loc": "upper left", "bbox_to_anchor": (0.0, 0.0), "bbox_transform": shifted_by_points(ax, 0, -34)}
    ax.legend(handles, labels, fontsize=SMALL, frameon=False, borderaxespad=0, labelcolor=INK, **place)
    return artist
