"""Pictures: the risk map over the groove, the rose, tooth passes, a bit's outline, and those that help to choose.

Every picture is ``draw_x(thing, ax=None) -> artist``; `save_figure` puts it into a file. What they work out is the
layout of the page; all numbers come from the object drawn. Matplotlib is imported inside the functions, pyplot only
when no axes are given. Colours run from light (low) to dark (high risk), so that a grey print reads the same.
"""

from __future__ import annotations

import io
import os
import re
import textwrap
from collections.abc import Mapping, Sequence
from contextlib import AbstractContextManager
from itertools import pairwise
from typing import TYPE_CHECKING, Any

import numpy as np

from ._arrays import FloatArray, choice, instance, integer, number
from ._files import checked_path, whole_file
from .choosing import Recommendation
from .comparing import Comparison
from .cuts import Cut, Travel
from .cutters import Cutter, as_cutter, cone_angle, profile_knots, runout_text
from .errors import DomainError
from .fitting import FittedModel
from .kinematics import ToothPasses
from .lands import Land
from .layout import Layout
from .records import RISKS, Summary
from .risk import CLASSES, DOUBTS, Place, RiskMap, Rose
from .sweeps import Cell, Sweep
from .units import feed_text, inch, ipm, length_text
from .variants import dial_text, passes_text

if TYPE_CHECKING:
    from matplotlib.artist import Artist
    from matplotlib.axes import Axes
    from matplotlib.collections import Collection, LineCollection, PathCollection, PolyCollection, QuadMesh
    from matplotlib.colors import Colormap
    from matplotlib.figure import Figure
    from matplotlib.lines import Line2D
    from matplotlib.offsetbox import OffsetBox
    from matplotlib.path import Path as Outline
    from matplotlib.transforms import Transform

__all__ = [
    "draw_comparison",
    "draw_fit",
    "draw_front",
    "draw_layout",
    "draw_process_window",
    "draw_profile",
    "draw_reached_feed",
    "draw_risk_map",
    "draw_rose",
    "draw_tooth_passes",
    "save_figure",
]

_BAND = 0.6
"""Share of the half-width that the coloured band along a lip covers, so that left and right stay apart. [-]"""

_HATCHES: Mapping[int, str] = {
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

_INK, _SOFT, _BODY, _PAPER, _WOOD = "#1a1a1a", "#666666", "#e6e6e6", "#ffffff", "#ead9bd"
_TITLE, _TEXT, _SMALL = 9.0, 7.5, 7.0  # sizes of type [pt]
_LINE = 1.3  # height of a line of text, in sizes of type
_COLUMN, _BAR = 1.85, 1.6  # width of the column beside the map; height of the colour bar in it [in]
_DASH: Any = (0, (4, 1.6))
_AIR: dict[str, Any] = {"colors": _SOFT, "linewidths": 0.8, "linestyles": [(0, (0.1, 3.5))], "capstyle": "round"}
_RING: dict[str, Any] = {"marker": "o", "markersize": 7, "markerfacecolor": "none", "markeredgecolor": _SOFT}
_DOT: dict[str, Any] = {"markerfacecolor": _PAPER, "markeredgecolor": _INK, "markeredgewidth": 0.7}
_NOTE: dict[str, Any] = {"fontsize": _SMALL, "color": _INK}
_PRIOR = "Prior only: no test piece has been read."
_LOOKS = {-1: "not known: this risk is not modelled", -2: "not learned: no test piece has shown such a lip"}


# ------------------------------------------------------------------------------------------------- the page


def _page(size: Sequence[float] | FloatArray, below: float, beside: float = 0.25, least: float = 0.0) -> Axes:
    """Axes of exactly this size in a new pyplot figure, at least `least` high, with room below and beside. [in]"""
    import matplotlib.pyplot as plt

    width, height = (float(a) for a in size)
    left, top = 0.6, 0.42
    whole = left + width + beside, max(top + height + 0.55 + below, least)
    figure = plt.figure(figsize=whole)
    return figure.add_axes((left / whole[0], 1 - (top + height) / whole[1], width / whole[0], height / whole[1]))


def _check_axes(ax: object) -> None:
    """Raise DomainError unless it is None or one can draw in x and y there."""
    from matplotlib.axes import Axes

    if ax is not None and (not isinstance(ax, Axes) or ax.name in ("polar", "3d")):
        raise DomainError(f"ax must be axes with x and y, as from plt.subplots(), got {type(ax).__name__}")


def _width(ax: Axes) -> float:
    """Width of the axes on the page. [pt]"""
    ax.apply_aspect()
    return float(72 * ax.get_position().width * ax.figure.bbox.width / ax.figure.dpi)


def _points(ax: Axes, right: float, up: float) -> Transform:
    """The axes' own fractions, shifted by points of the page."""
    from matplotlib.transforms import ScaledTranslation

    return ax.transAxes + ScaledTranslation(right / 72, up / 72, ax.figure.dpi_scale_trans)


def _dress(ax: Axes, x: str, y: str, title: str) -> None:
    ax.set_aspect("equal", adjustable="box")
    ax.set_xlabel(x, fontsize=_TEXT)
    ax.set_ylabel(y, fontsize=_TEXT)
    ax.set_title(title, loc="left", fontsize=_TITLE, color=_INK, pad=6)
    ax.tick_params(labelsize=_SMALL, color=_SOFT, width=0.5, length=2.5)
    for spine in ax.spines.values():
        spine.set(color=_SOFT, linewidth=0.5)


def _trace(ax: Axes, points: FloatArray, **style: Any) -> None:
    """A line through (n, 2) points that leaves the limits of the axes alone."""
    ax.plot(*np.asarray(points).T, scalex=False, scaley=False, **style)


def _say(ax: Axes, text: str, at: tuple[Any, Any], shift: tuple[float, float], **style: Any) -> None:
    """Small text at a point, shifted by (right, up) [pt]."""
    ax.annotate(text, at, shift, textcoords="offset points", annotation_clip=False, **{**_NOTE, **style})


def _arrow(ax: Axes, tail: Sequence[float], head: Sequence[float], style: str, *, zorder: float, **line: Any) -> None:
    shape = {"arrowstyle": style, "shrinkA": 0, "shrinkB": 0, "color": _INK, "linewidth": 0.6, **line}
    ax.annotate("", (head[0], head[1]), (tail[0], tail[1]), arrowprops=shape, zorder=zorder)


def _fine_hatch() -> AbstractContextManager[None]:
    from matplotlib import rc_context

    return rc_context({"hatch.linewidth": 0.5})


def _wrapped(lines: Sequence[str], width: float) -> str:
    """Lines of small text folded to a width [pt], after a comma or semicolon where possible."""
    from matplotlib.font_manager import FontProperties
    from matplotlib.textpath import text_to_path

    font = FontProperties(size=_SMALL)

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


def _height(notes: Sequence[tuple[int, str]]) -> float:
    """Height of what stands below the axes. [in]"""
    return sum(_LINE * _SMALL * (1 + text.count("\n")) + 5 for _, text in notes) / 72


def _pin(ax: Axes, box: OffsetBox, at: tuple[float, float], shift: tuple[float, float]) -> None:
    """Hang a box by its upper left corner at a point of the axes [-], shifted by (right, up) [pt]."""
    from matplotlib.offsetbox import AnchoredOffsetbox

    where: Any = {"bbox_to_anchor": at, "bbox_transform": _points(ax, *shift)}
    anchored = AnchoredOffsetbox("upper left", child=box, pad=0, borderpad=0, frameon=False, **where)
    anchored.set_clip_on(False)
    ax.add_artist(anchored)


def _stack(rows: Sequence[tuple[OffsetBox | None, str]]) -> OffsetBox:
    """Rows of a symbol and its words, one below the other."""
    from matplotlib.offsetbox import HPacker, TextArea, VPacker

    packed: list[Artist] = []
    for symbol, words in rows:
        text = TextArea(words, textprops={**_NOTE, "linespacing": _LINE})
        packed.append(text if symbol is None else HPacker(children=[symbol, text], align="center", pad=0, sep=6))
    return VPacker(children=packed, align="left", pad=0, sep=5)


def _footer(ax: Axes, notes: Sequence[tuple[int, str]]) -> None:
    """Text below the axes, each piece with the hatch it explains (0: none)."""
    from matplotlib.offsetbox import DrawingArea
    from matplotlib.patches import Rectangle

    rows: list[tuple[OffsetBox | None, str]] = []
    with _fine_hatch():
        for look, words in notes:
            swatch = DrawingArea(22, 9) if look else None
            if swatch is not None:
                box = Rectangle(
                    (0, 0), 22, 9, facecolor=_BODY, edgecolor=_INK, linewidth=0.5, hatch=_HATCHES.get(look, "ooo")
                )
                swatch.add_artist(box)
            rows.append((swatch, words))
    _pin(ax, _stack(rows), (0, 0), (0, -32))


def _legend(ax: Axes, handles: Sequence[Artist], lines: Sequence[str], width: float, up: float) -> None:
    """Caption and legend in one, below the axes, folded to a width [pt]."""
    place: Any = {"bbox_to_anchor": (0.0, 0.0), "bbox_transform": _points(ax, 0, up), "loc": "upper left"}
    plain: Any = {"frameon": False, "borderaxespad": 0, "borderpad": 0, "alignment": "left", "labelcolor": _INK}
    title: dict[str, Any] = {"title": _wrapped(lines, width), "title_fontsize": _SMALL}
    legend = ax.legend(handles=list(handles), fontsize=_SMALL, **place, **plain, **title)
    legend.get_title().set(color=_INK, linespacing=_LINE)


def _ramp() -> Colormap:
    """Light (0) to dark (1), perceptually uniform, no green in it; what is not known stays blank."""
    from matplotlib import colormaps
    from matplotlib.colors import ListedColormap

    return ListedColormap(colormaps["magma"](np.arange(255, 12, -1)), "risk").with_extremes(bad=_PAPER)


def _caption(settings: Mapping[str, Any]) -> list[str]:
    board = f"{settings['wood']}, {settings['moisture']:g} % moisture; grain {settings['grain']}"
    return [str(settings["setup"]), board]


def _lip_kinds(settings: Mapping[str, Any]) -> tuple[str, str]:
    """What the left and the right lip are to the spindle, or to either spin if the grooves differ."""
    if len(set(settings["spins"])) > 1:
        return "entry if cw, exit if ccw", "exit if cw, entry if ccw"
    kinds = ("entry, conventional", "exit, climb")
    return kinds if settings["spins"][0] == "cw" else (kinds[1], kinds[0])


def _common_azimuth(azimuth: FloatArray) -> float | None:
    """The azimuth that all values share as an axis [deg]; None if they differ or there are none."""
    known = azimuth[np.isfinite(azimuth)]
    if not known.size or np.abs(np.exp(2j * np.radians(known - known[0])) - 1).max() > 1e-9:
        return None
    return float(known[0])


# ----------------------------------------------------------------------------------------------- the risk map


def draw_risk_map(
    risk: RiskMap,
    ax: Axes | None = None,
    *,
    risk_name: str = "damage",
    travel: Sequence[Travel] = (),
    colour_bar: bool = True,
    key: bool = True,
    caption: bool = True,
    lands: Sequence[Land] = (),
) -> PolyCollection:
    """Draw both lips as coloured bands at true groove width over the toolpath.

    A band's outer edge is the lip itself; it reaches 0.6 of the half-width inwards. Where there is no lip there is no
    band. Colours run from 0 to 1 on every map, so that maps compare. Places not to be trusted are hatched from the
    lip to the centre line, with a hatch of its own for every reason; so is a risk that is not known.

    Parameters
    ----------
    risk
        The map, as from `risk_map`.
    ax
        Axes to draw in; None: a new figure, drawn to a round scale and to be printed at its own size.
    risk_name
        'damage', 'fuzz', 'tear' or 'scorch'.
    travel
        Moves between the cuts, as `carving.travel`: those over the face as thin grey dots, whatever their kind, plunges
        as small grey circles. They do not widen the page.
    colour_bar, key, caption
        Whether to add the colour bar; the key to grain, spin, feed and lips, and the scale bar; the settings and what
        the hatches mean. Colour bar and key stand to the right of the axes, the caption below.
    lands
        Thin lands to outline, numbered in the order given, as `lands_table` numbers them.

    Returns
    -------
    PolyCollection
        The bands: those of the left lips, then those of the right, each in the map's order. Its array is the risk, the
        second vertex of a band the lip point of its row. [-, mm]

    Raises
    ------
    DomainError
        If `risk` is not a RiskMap, the name of the risk is unknown, or `lands` or `travel` hold anything else.
    """
    from matplotlib.collections import LineCollection, PolyCollection
    from matplotlib.colors import Normalize
    from matplotlib.patches import PathPatch

    if not isinstance(risk, RiskMap):
        raise DomainError(f"risk must be a RiskMap, as from risk_map, got {type(risk).__name__}")
    for name, things, kind in (("lands", lands, Land), ("travel", travel, Travel)):
        if not isinstance(things, Sequence) or not all(isinstance(thing, kind) for thing in things):
            raise DomainError(f"{name} must be a sequence of {kind.__name__}, got {things!r:.80}")
    values = risk.values(risk_name)
    # end grain says itself why nothing is known
    looks = np.where(risk.exists & ~np.isfinite(values) & (risk.doubt != 6), -1, risk.doubt)
    if risk.band is not None and risk.settings.get("learned"):
        looks = np.where((looks == 0) & risk.band.not_learned, -2, looks)
    low, high, span = _map_limits(risk, strip=key)
    scale_words = ""
    _check_axes(ax)
    if ax is None:
        scale = _page_scale(high - low)
        size = np.maximum(scale * (high - low) / inch, [3.2, 1.0])
        low, high = (low + high - size * inch / scale) / 2, (low + high + size * inch / scale) / 2
        ax = _page(
            size,
            _height(_notes(risk, risk_name, looks, 72 * size[0], lands)) if caption else 0.1,
            _COLUMN if colour_bar or key else 0.25,
            (0.7 + _BAR if colour_bar else 0.4) + (_key_height(risk, travel) if key else 0.0),
        )
        scale_words = f", drawn {scale:g}:1" if scale >= 1 else ""
    elif ax.has_data():
        x, y = ax.get_xlim(), ax.get_ylim()
        low, high = np.minimum(low, [x[0], y[0]]), np.maximum(high, [x[1], y[1]])

    grooves = _grooves(risk)
    sides = [(k, *_cells(risk, k, rows, closed)) for k in range(2) for rows, closed in grooves]
    lip, centre = (np.concatenate([side[i] for side in sides]) for i in (2, 3))
    shown, look = (np.concatenate([a[rows, k] for k, rows, _, _ in sides]) for a in (values, looks))
    ax.add_patch(PathPatch(_body(risk, grooves), facecolor=_BODY, edgecolor="none", zorder=1, gid="groove"))
    bands = PolyCollection(list(_strips(lip, centre, _BAND)), zorder=2, gid="bands", label=risk_name)
    bands.set(array=np.ma.masked_invalid(shown), cmap=_ramp(), norm=Normalize(0.0, 1.0))
    # a hair of their own colour closes the seams that viewers leave between neighbours
    bands.set(edgecolor="face", linewidth=0.2)
    ax.add_collection(bands, autolim=False)
    with _fine_hatch():
        for code in np.unique(look[look != 0]):
            hatched = PolyCollection(
                list(_strips(lip[look == code], centre[look == code], 1.0)), facecolors="none", edgecolors=_INK
            )
            hatched.set(linewidth=0.0, hatch=_HATCHES.get(int(code), "ooo"), zorder=2.5, gid=f"doubt {code}")
            ax.add_collection(hatched, autolim=False)
    outline = LineCollection(list(lip), colors=_INK, linewidths=0.5, capstyle="round", zorder=3, gid="lips")
    ax.add_collection(outline, autolim=False)
    paths = [risk.xy[_chain(risk, rows, closed)] for rows, closed in grooves]
    for path in paths:
        _trace(ax, path, color=_SOFT, linewidth=0.4, zorder=2.2, gid="toolpath")
    _travel(ax, travel)
    _feed_arrows(ax, paths, span)
    if risk_name == "damage":
        _number_places(ax, risk, span)
    starts = np.array([path[0] for path in paths])
    _trace(ax, starts, marker="o", markersize=4, linestyle="", zorder=4.5, gid="start", **_DOT)
    if _common_azimuth(risk.fibre_azimuth) is None:
        _grain_ticks(ax, risk, span, low, high)
    _land_outlines(ax, lands)

    ax.set_xlim(low[0], high[0])
    ax.set_ylim(low[1], high[1])
    _dress(ax, "x [mm]", "y [mm]", f"{risk_name.capitalize()} at the lips")
    frame = {"boxstyle": "square,pad=0.25", "facecolor": _PAPER, "edgecolor": _INK, "linewidth": 0.6}
    stamp = "FROM TEST PIECES" if risk.settings.get("learned") else "PRIOR ONLY"
    _say(ax, stamp, (1, 1), (-1, 6), xycoords="axes fraction", ha="right", va="bottom", bbox=frame)
    if colour_bar:
        _colour_bar(ax, bands, risk_name)
    if key:
        _key(ax, risk, travel, -(_BAR + 0.32) * 72 if colour_bar else 0.0)
        _scale_bar(ax, low, high, span, scale_words)
    if caption:
        _footer(ax, _notes(risk, risk_name, looks, _width(ax), lands))
    return bands


def _grooves(risk: RiskMap) -> list[tuple[np.ndarray, bool]]:
    """Rows of every groove of the map, and whether it is closed."""
    return [(np.flatnonzero(risk.groove == g), bool(risk.settings["closed"][g])) for g in np.unique(risk.groove)]


def _cells(risk: RiskMap, k: int, groove: np.ndarray, closed: bool) -> tuple[np.ndarray, FloatArray, FloatArray]:
    """Rows of a groove with a lip on one side, and each one's piece of lip and of centre line as (before, at, after).

    Returns rows (m,), lip (m, 3, 2), centre (m, 3, 2). [mm] Neighbours that touch share their end points.
    """
    shown = risk.exists[groove, k]
    rows = groove[shown]
    at, centre, length = risk.lip_xy[rows, k], risk.xy[rows], risk.lip_length[rows, k]
    lip, axis = np.repeat(at[:, None], 3, axis=1), np.repeat(centre[:, None], 3, axis=1)
    heading = np.radians(risk.heading[rows, k])
    fan = (risk.kind[rows] != "run")[:, None]
    arm = at - centre
    for end, sign in ((0, -0.5), (2, 0.5)):
        # a free end: straight on along a run, about the vertex in a fan
        step = sign * length[:, None] * np.column_stack([np.cos(heading), np.sin(heading)])
        angle = (sign if k else -sign) * length / risk.half_width[rows]
        c, s = np.cos(angle), np.sin(angle)
        turned = np.column_stack([c * arm[:, 0] - s * arm[:, 1], s * arm[:, 0] + c * arm[:, 1]])
        lip[:, end] = np.where(fan, centre + turned, at + step)
        axis[:, end] = np.where(fan, centre, centre + step)
    if len(rows) < 2:
        return rows, lip, axis
    i = np.arange(len(rows) if closed and len(rows) > 2 else len(rows) - 1)
    j = (i + 1) % len(rows)
    # what was cut away between two rows parts them; the inner side of a corner was never there and does not
    gone = np.cumsum(~shown & (risk.kind[groove] != "corner"))
    between = gone[shown][j] - gone[shown][i] + np.where(j < i, gone[-1], 0)
    # a cell that holds a vertex reaches past it on one side only, so its neighbour may be two half cells away
    chord = at[j] - at[i]
    touch = (between == 0) & (np.hypot(*chord.T) <= 2.5 * (length[i] + length[j]) / 2 + 1e-9)
    i, j, chord = i[touch], j[touch], chord[touch]
    # neighbours meet halfway along the arc that joins them: halfway along the chord and out by the sagitta
    turn = (heading[j] - heading[i] + np.pi) % (2 * np.pi) - np.pi
    bulge = np.where(np.abs(turn) < 1.0, np.tan(turn / 4) / 2, 0.0)[:, None]
    halfway = (at[i] + at[j]) / 2 + bulge * np.column_stack([chord[:, 1], -chord[:, 0]])
    for line, middle in ((lip, halfway), (axis, (centre[i] + centre[j]) / 2)):
        # a fan knows its ends exactly
        line[i, 2] = line[j, 0] = np.where(fan[i], line[i, 2], np.where(fan[j], line[j, 0], middle))
    return rows, lip, axis


def _strips(lip: FloatArray, centre: FloatArray, share: float) -> FloatArray:
    """Corners (m, 6, 2) of the strips from the lip inwards over a share of the way to the centre line. [mm]"""
    return np.concatenate([lip, (lip + share * (centre - lip))[:, ::-1]], axis=1)


def _chain(risk: RiskMap, groove: np.ndarray, closed: bool) -> np.ndarray:
    """Rows along a groove's toolpath without repeated points, at least two, the first again if closed."""
    rows = groove[np.append(True, np.hypot(*np.diff(risk.xy[groove], axis=0).T) > 1e-9)]
    return np.append(rows, rows[0]) if closed or len(rows) == 1 else rows


def _units(vectors: FloatArray) -> FloatArray:
    """(n, 2) vectors at length 1, zero vectors as they are."""
    return np.asarray(vectors / np.maximum(np.hypot(*vectors.T), 1e-12)[:, None])


def _body(risk: RiskMap, grooves: Sequence[tuple[np.ndarray, bool]]) -> Outline:
    """All grooves as one outline: ribbons of quads and a disc at every vertex.

    All run clockwise: under the non-zero rule they fill as their union, without seams.
    """
    from matplotlib.path import Path as Outline

    ribbons = []
    for groove, closed in grooves:
        rows = _chain(risk, groove, closed)
        xy = risk.xy[rows]
        step = _units(np.diff(xy, axis=0))
        ahead = np.vstack([step, step[:1] if closed else step[-1:]])
        behind = np.vstack([step[-1:] if closed else step[:1], step])
        mean = _units(ahead + behind)
        arm = risk.half_width[rows, None] * np.column_stack([-mean[:, 1], mean[:, 0]])
        # the lips themselves where there are any: beside a ramp they are not square to the path
        lips = (risk.exists & (risk.kind == "run")[:, None])[rows, :, None]
        ends = np.where(lips, risk.lip_xy[rows], xy[:, None] + np.stack([arm, -arm], axis=1))
        ribbons.append(np.stack([ends[:-1, 0], ends[1:, 0], ends[1:, 1], ends[:-1, 1]], axis=1))
    quads = np.concatenate(ribbons)
    across, down = quads[:, 0] - quads[:, 2], quads[:, 1] - quads[:, 3]
    flipped = across[:, 0] * down[:, 1] - across[:, 1] * down[:, 0] > 0
    quads[flipped] = quads[flipped, ::-1]
    # one disc to a fan: its rows share a vertex
    fan = np.flatnonzero(risk.kind != "run")
    moved = (np.hypot(*np.diff(risk.xy[fan], axis=0).T) > 1e-9) | (np.diff(risk.groove[fan]) != 0)
    vertex = fan[np.append(True, moved)[: len(fan)]]
    turn = np.radians(np.arange(0, -360, -5))
    circle = np.column_stack([np.cos(turn), np.sin(turn)])
    discs = risk.xy[vertex, None] + risk.half_width[vertex, None, None] * circle
    parts = [Outline.make_compound_path_from_polys(polygons) for polygons in (quads, discs)]
    return Outline.make_compound_path(*parts)


def _map_limits(risk: RiskMap, strip: bool) -> tuple[FloatArray, FloatArray, float]:
    """Lower left and upper right corner of the page round the groove, and the span of the groove. [mm]"""
    low = (risk.xy - risk.half_width[:, None]).min(axis=0)
    high = (risk.xy + risk.half_width[:, None]).max(axis=0)
    span = float((high - low).max())
    low, high = low - 0.07 * span, high + 0.07 * span
    if strip:
        low[1] -= 0.09 * span  # room for the scale bar
    width, height = high - low
    short = np.maximum([0.5 * height - width, 0.3 * width - height], 0.0) / 2
    return low - short, high + short, span


def _page_scale(size: FloatArray) -> float:
    """Largest round scale at which a page of `size` [mm] fits a sheet; else 1:1, up to 600 mm."""
    fits = next((s for s in (10.0, 5.0, 3.0, 2.0) if (s * size <= [125.0, 150.0]).all()), 1.0)
    return min(fits, 600.0 / float(size.max()))


def _notes(
    risk: RiskMap, risk_name: str, looks: np.ndarray, width: float, lands: Sequence[Land] = ()
) -> list[tuple[int, str]]:
    """What stands below the map, folded to a width [pt]: code of the hatch to show before it, and text."""
    parts = [f"{name} {size:.1f}" for name, size in risk.lengths_by_class(risk_name).items() if size or name in CLASSES]
    total = f"{length_text(float(risk.lip_length.sum()), 1)} of lip: {', '.join(parts)} mm"
    leads = [f"{n} {risk.leading(*_spot(p))} {p.peak:.2f}" for n, p in enumerate(risk.worst_places(), 1)]
    worst = [f"worst places: {', '.join(leads)}"] if leads and risk_name == "damage" else []
    notes = [(0, _wrapped([*_caption(risk.settings), total, *worst, *_knowledge(risk)], width))]
    for code in np.unique(looks[risk.exists & (looks != 0)]).tolist():
        words = _LOOKS[code] if code < 0 else f"not to be trusted: {DOUBTS[code]}"
        notes.append((code, _wrapped([words], width - 28)))
    if lands:
        words = ", ".join(f"{k + 1} {land.verdict}" for k, land in enumerate(lands[:12]))
        more = f", and {len(lands) - 12} more" if len(lands) > 12 else ""
        notes.append((0, _wrapped([f"thin lands, outlined, number in a ring: {words}{more}"], width)))
    return notes


def _travel(ax: Axes, travel: Sequence[Travel]) -> None:
    """Moves over the face as runs of dots, one look for all; rings where the tool is let down."""
    from matplotlib.collections import LineCollection

    runs: list[list[tuple[float, float]]] = []
    for a, b in ((m.start[:2], m.end[:2]) for m in travel):
        if a == b:
            continue
        if runs and runs[-1][-1] == a:
            runs[-1].append(b)
        else:
            runs.append([a, b])
    if runs:
        dots = LineCollection(runs, zorder=1.8, gid="travel", **_AIR)
        ax.add_collection(dots, autolim=False)
    plunges = np.array([m.end[:2] for m in travel if m.kind == "plunge"])
    if len(plunges):
        _trace(ax, plunges, linestyle="", zorder=4.4, gid="plunge", **_RING)


def _spot(place: Place) -> tuple[int, int]:
    return place.row, ("left", "right").index(place.side)


def _number_places(ax: Axes, risk: RiskMap, span: float) -> None:
    """The numbers of the report's worst places, just outside their lips; neighbours share a label."""
    room = 0.05 * span  # a label's own width, whatever the scale
    labels: list[tuple[str, FloatArray, FloatArray]] = []
    for rank, place in enumerate(risk.worst_places(), 1):
        lip = risk.lip_xy[_spot(place)]
        close = [n for n, (_, at, _) in enumerate(labels) if np.hypot(*(at - lip)) < room]
        if close:
            said, at, out = labels[close[0]]
            labels[close[0]] = f"{said}, {rank}", at, out
        else:
            labels.append((str(rank), lip, _units((lip - risk.xy[place.row])[None])[0]))
    for said, lip, out in labels:
        halo = {"boxstyle": "round,pad=0.12", "facecolor": _PAPER, "edgecolor": "none", "alpha": 0.8}
        side = "center" if "," not in said else "left" if out[0] >= 0 else "right"
        style: dict[str, Any] = {"ha": side, "va": "center_baseline", "zorder": 4.2, "gid": "place", "bbox": halo}
        _say(ax, said, tuple(lip), tuple(7 * out), fontweight="bold", **style)


def _land_outlines(ax: Axes, lands: Sequence[Land]) -> None:
    """Thin lands: a dark line along both lips and across the ends, and the number beside the narrowest place."""
    from matplotlib.collections import LineCollection

    pieces: list[FloatArray] = []
    for k, land in enumerate(lands):
        cuts = np.flatnonzero(np.isnan(land.lips[:, 0, 0]))
        for part in np.split(land.lips, cuts):
            both = part[np.isfinite(part[:, 0, 0])]
            one, other = both[:, 0], both[:, 1]
            if land.closed:
                pieces += [np.vstack([one, one[:1]]), np.vstack([other, other[:1]])]
            else:
                pieces.append(np.vstack([one, other[::-1], one[:1]]))
        frame = {"boxstyle": "circle,pad=0.15", "facecolor": _PAPER, "edgecolor": _INK, "linewidth": 0.8}
        _say(ax, str(k + 1), land.narrowest, (0, 0), ha="center", va="center", bbox=frame, zorder=6, gid="land number")
    if pieces:
        outline = LineCollection(pieces, colors=_INK, linewidths=1.1, zorder=3.5, gid="lands")
        ax.add_collection(outline, autolim=False)


def _knowledge(thing: RiskMap | Rose) -> list[str]:
    """What a map or a rose rests on, in sentences."""
    if isinstance(thing, RiskMap) and thing.band is not None:
        return str(thing.band).splitlines()
    return [str(thing.settings.get("learned") or _PRIOR)]


def _feed_arrows(ax: Axes, paths: Sequence[FloatArray], span: float) -> None:
    """Heads along the toolpaths that point with the feed."""
    spots, ways = [], []
    for path in paths:
        reach = np.append(0.0, np.cumsum(np.hypot(*np.diff(path, axis=0).T)))
        count = int(np.clip(reach[-1] / (0.35 * span), 3 if len(paths) == 1 else 1, 60))
        at = np.clip(np.searchsorted(reach, reach[-1] * (np.arange(count) + 0.5) / count), 1, len(path) - 1)
        spots.append((path[at] + path[at - 1]) / 2)
        ways.append(_units(path[at] - path[at - 1]))
    head: dict[str, Any] = {"width": 0.014, "headwidth": 5, "headlength": 6, "headaxislength": 5.5, "pivot": "mid"}
    arrows = _quiver(ax, np.concatenate(spots), np.concatenate(ways), 0.12, **head)
    arrows.set(color=_INK, zorder=4, gid="feed")


def _quiver(ax: Axes, at: FloatArray, direction: FloatArray, length: float, **style: Any) -> Any:
    """Arrows at (n, 2) points along (n, 2) unit vectors, all of one length on the page [in]."""
    fixed: dict[str, Any] = {"angles": "xy", "units": "inches", "scale_units": "inches", "scale": 1 / length}
    return ax.quiver(*at.T, *direction.T, **fixed, **style)


def _grain_ticks(ax: Axes, risk: RiskMap, span: float, low: FloatArray, high: FloatArray) -> None:
    """Short double-headed arrows beside the groove, along the map's own fibres, well apart and clear of it."""
    lip, out = risk.lip_xy[risk.exists], (risk.lip_xy - risk.xy[:, None])[risk.exists]
    spot = lip + 0.055 * span * _units(out)
    chosen: list[int] = []
    for i in np.sort(np.unique(np.floor(spot / (span / 8)), axis=0, return_index=True)[1]):
        p = spot[i]
        clear = (np.hypot(*(risk.xy - p).T) > risk.half_width + 0.045 * span).all()
        inside = ((p > low + 0.04 * span) & (p < high - 0.04 * span)).all()
        if clear and inside and (np.hypot(*(spot[chosen] - p).T) > span / 9).all():
            chosen.append(int(i))
    azimuth = np.radians(risk.fibre_azimuth[risk.exists][chosen])
    head: dict[str, Any] = {"width": 0.008, "headwidth": 4.5, "headlength": 4.5, "headaxislength": 4}
    for sign in (1, -1):
        along = sign * np.column_stack([np.cos(azimuth), np.sin(azimuth)])
        _quiver(ax, spot[chosen], along, 0.09, **head).set(color=_SOFT, zorder=1.5, gid="grain")


def _colour_bar(ax: Axes, bands: PolyCollection, risk_name: str) -> None:
    """Colour bar of fixed size at the upper right of the axes: numbers left, words of the classes right."""
    from matplotlib.transforms import Bbox

    bar_ax = ax.inset_axes((1.05, 0.0, 0.05, 1.0))

    def place(_axes: Any, _renderer: Any) -> Bbox:
        x, y = ax.transAxes.transform((1.0, 1.0))
        left, right, bottom, top = np.array([0.42, 0.54, -0.16 - _BAR, -0.16]) * ax.figure.dpi
        box = Bbox.from_extents(x + left, y + bottom, x + right, y + top)
        return Bbox(ax.figure.transSubfigure.inverted().transform(box.get_points()))

    bar_ax.set_axes_locator(place)
    bar = ax.figure.colorbar(bands, cax=bar_ax)
    bounds = [0.0, *(min(b, 1.0) for b in CLASSES.values())]
    bar.set_ticks(bounds, labels=[f"{b:.2f}" for b in bounds])
    bar_ax.yaxis.set_ticks_position("left")
    bar_ax.tick_params(labelsize=_SMALL, length=2.5, width=0.5, color=_SOFT)
    bar_ax.set_title(f"{risk_name} [-]", fontsize=_TEXT, color=_INK, pad=7)
    for spine in bar_ax.spines.values():
        spine.set(color=_SOFT, linewidth=0.5)
    for low, high, word in zip(bounds[:-1], bounds[1:], CLASSES, strict=True):
        middle = (1.0, (low + high) / 2)
        _say(bar_ax, word, middle, (4, 0), xycoords=("axes fraction", "data"), va="center_baseline")
        bar_ax.axhline(low, color=_PAPER if low > 0.4 else _INK, linewidth=0.6)


def _grain_label(risk: RiskMap) -> str:
    return _wrapped([f"grain {risk.settings['grain']}"], 78)


def _key_height(risk: RiskMap, travel: Sequence[Travel]) -> float:
    """Height of the key. [in]"""
    return (
        1.6
        + 0.25 * len(_travel_rows(travel))
        + 0.5 * len(set(risk.settings["spins"]))
        + _height([(0, _grain_label(risk))])
    )


def _travel_rows(travel: Sequence[Travel]) -> list[tuple[OffsetBox | None, str]]:
    """Rows of the key for what is drawn of the travel."""
    from matplotlib.collections import LineCollection
    from matplotlib.lines import Line2D
    from matplotlib.offsetbox import DrawingArea

    rows: list[tuple[OffsetBox | None, str]] = []
    if any(m.start[:2] != m.end[:2] for m in travel):
        air = DrawingArea(30, 10)
        air.add_artist(LineCollection([[(3, 5), (27, 5)]], **_AIR))
        rows.append((air, "moves in air"))
    if any(m.kind == "plunge" for m in travel):
        plunge = DrawingArea(30, 10)
        plunge.add_artist(Line2D([15], [5], **_RING))
        rows.append((plunge, "plunge"))
    return rows


def _key(ax: Axes, risk: RiskMap, travel: Sequence[Travel], up: float) -> None:
    """Column of symbols at the right of the axes: grain, spin, feed, start, and which lip is which."""
    from matplotlib.lines import Line2D
    from matplotlib.offsetbox import DrawingArea
    from matplotlib.patches import FancyArrowPatch

    grain, feed, start = DrawingArea(30, 30), DrawingArea(30, 10), DrawingArea(30, 10)
    arrow: dict[str, Any] = {"shrinkA": 0, "shrinkB": 0, "color": _INK}
    azimuth = _common_azimuth(risk.fibre_azimuth)
    if azimuth is not None:
        x, y = 14.5 * np.cos(np.radians(azimuth)), 14.5 * np.sin(np.radians(azimuth))
        ends = (15 - x, 15 - y), (15 + x, 15 + y)
        axis = FancyArrowPatch(*ends, arrowstyle="<|-|>", mutation_scale=9, linewidth=1.2, **arrow)
        axis.set_gid("grain")
        grain.add_artist(axis)
    elif risk.exists.any():
        grain.add_artist(FancyArrowPatch((8, 15), (22, 15), arrowstyle="<|-|>", mutation_scale=6, **arrow))

    feed.add_artist(FancyArrowPatch((6, 5), (24, 5), arrowstyle="-|>", mutation_scale=8, linewidth=1.0, **arrow))
    start.add_artist(Line2D([15], [5], marker="o", markersize=4, **_DOT))
    left, right = _lip_kinds(risk.settings)
    rows = [
        (grain, _grain_label(risk)),
        *(_spin_symbol(spin) for spin in sorted(set(risk.settings["spins"]))),
        (feed, "feed"),
        (start, "start of the cut"),
        *_travel_rows(travel),
        (None, f"seen along the feed,\nleft lip:\n  {left}\nright lip:\n  {right}"),
    ]
    _pin(ax, _stack(rows), (1, 1), (12, up))


def _spin_symbol(spin: str) -> tuple[OffsetBox, str]:
    """An arrow about the spindle, and its words."""
    from matplotlib.lines import Line2D
    from matplotlib.offsetbox import DrawingArea
    from matplotlib.patches import Polygon

    area = DrawingArea(30, 30)
    sense = -1.0 if spin == "cw" else 1.0
    turn = np.radians(90 + sense * np.linspace(40, 330, 60))
    ring = 15 + 10.5 * np.column_stack([np.cos(turn), np.sin(turn)])
    ahead = sense * np.array([-np.sin(turn[-1]), np.cos(turn[-1])])
    across = np.array([-ahead[1], ahead[0]])
    area.add_artist(Line2D(*ring.T, color=_INK, linewidth=1.2, gid="spin"))
    area.add_artist(Polygon(ring[-1] + np.array([6.0 * ahead, 2.8 * across, -2.8 * across]), facecolor=_INK))
    area.add_artist(Line2D([15], [15], marker="o", markersize=2, color=_INK))
    return area, f"spindle {spin},\n{'clockwise' if sense < 0 else 'counter-clockwise'}\nfrom above"


def _scale_bar(ax: Axes, low: FloatArray, high: FloatArray, span: float, words: str) -> None:
    """Bar of a round length in the strip below the groove, in mm and inches."""
    width = float(high[0] - low[0])
    power = 10.0 ** np.floor(np.log10(0.3 * width))
    size = power * max(m for m in (1, 2, 5) if m * power <= 0.3 * width)
    x, y, tick = low[0] + 0.04 * width, low[1] + 0.03 * span, 0.012 * span
    bar = [[x, y + tick], [x, y - tick], [x, y], [x + size, y], [x + size, y - tick], [x + size, y + tick]]
    _trace(ax, np.array(bar), color=_INK, linewidth=1.0, solid_joinstyle="miter", zorder=5, gid="scale bar")
    _say(ax, f"{size:g} mm ({size / inch:.3g} in){words}", (x + size, y), (5, 0), va="center_baseline")


# --------------------------------------------------------------------------------------------------- the rose


def draw_rose(thing: Rose | RiskMap, ax: Axes | None = None, *, risk_name: str = "damage") -> Collection:
    """Draw a risk against the direction of travel, 0 to the right, counter-clockwise, with the grain as an axis.

    Parameters
    ----------
    thing
        A `Rose` (lines), or a `RiskMap` (a point for every piece of lip, against the lip's own direction).
    ax
        Polar axes; None: a new figure.
    risk_name
        'damage', 'fuzz', 'tear' or 'scorch'.

    Returns
    -------
    LineCollection or PathCollection
        For a Rose two lines, the left lip solid, the right one dashed; for a map points, left (dots) and right (open
        diamonds) in turn. The radius ends at the end of the class that the highest value is in.

    Raises
    ------
    DomainError
        If `thing` is neither, the axes are not polar or the name of the risk is unknown.
    """
    from matplotlib.collections import LineCollection, PathCollection
    from matplotlib.lines import Line2D
    from matplotlib.markers import MarkerStyle
    from matplotlib.projections.polar import PolarAxes
    from matplotlib.transforms import IdentityTransform

    if not isinstance(thing, Rose | RiskMap):
        raise DomainError(f"thing must be a Rose or a RiskMap, got {type(thing).__name__}")
    if ax is None:
        import matplotlib.pyplot as plt

        ax = plt.subplots(figsize=(4.6, 5.2), layout="constrained", subplot_kw={"projection": "polar"})[1]
    if not isinstance(ax, PolarAxes):
        raise DomainError(f"ax must be polar, as from subplot_kw={{'projection': 'polar'}}, got {type(ax).__name__}")
    dark, light = _ramp()(0.95), _ramp()(0.5)
    names = [f"{side} lip ({kind})" for side, kind in zip(("left", "right"), _lip_kinds(thing.settings), strict=True)]
    angle, value = np.radians(thing.heading), np.where(thing.exists, thing.values(risk_name), np.nan)
    artist: Collection
    style: dict[str, Any]
    if isinstance(thing, Rose):
        grain: float | None = thing.grain_azimuth
        order = np.argsort(angle, kind="stable")
        step = np.diff(angle[order]).max(initial=0.0)
        if len(order) > 2 and (angle[order[0]] - angle[order[-1]]) % (2 * np.pi) <= 1.5 * step:
            order = np.append(order, order[0])  # the last heading is a step short of the first: close the ring
        artist = LineCollection([np.column_stack([angle, value[:, k]])[order] for k in range(2)], zorder=3, gid="rose")
        artist.set(color=[dark, light], linestyle=["solid", _DASH], linewidth=1.6)
        looks = [{"color": dark}, {"color": light, "linestyle": _DASH}]
        handles = [Line2D([], [], linewidth=1.6, label=n, **style) for n, style in zip(names, looks, strict=True)]
    else:
        grain = _common_azimuth(thing.fibre_azimuth)
        shapes = [MarkerStyle(m).get_path().transformed(MarkerStyle(m).get_transform()) for m in ("o", "D")]
        spots = np.column_stack([angle.ravel(), value.ravel()])
        # two shapes, sizes and fills taken in turn, as the rows run left, right, left, right
        artist = PathCollection(shapes, sizes=[4.0, 16.0], offsets=spots, offset_transform=ax.transData, gid="rose")
        artist.set(facecolor=[dark, "none"], edgecolor=dark, linewidth=0.4, zorder=3)
        artist.set_transform(IdentityTransform())
        style = {"color": dark, "linestyle": "", "markeredgewidth": 0.6}
        looks = [{"marker": "o", "markersize": 2}, {"marker": "D", "markersize": 4, "markerfacecolor": "none"}]
        handles = [Line2D([], [], label=n, **style, **look) for n, look in zip(names, looks, strict=True)]
    ax.add_collection(artist, autolim=False)
    bounds = [min(b, 1.0) for b in CLASSES.values()]
    top = next(b for b in bounds if np.max(value, initial=0.0, where=np.isfinite(value)) <= b)
    ax.set_theta_zero_location("E")
    ax.set_theta_direction(1)
    ax.set_rlim(0.0, top)
    rings = [b for b in bounds if b <= top]
    words = [f"{b:.2f}" if b > 0.15 * top else "" for b in rings]
    ax.set_rgrids(rings, words, angle=_quiet_angle(thing.heading, value), **_NOTE)
    ax.set_thetagrids(np.arange(0, 360, 30), **_NOTE)
    ax.grid(color="0.75", linewidth=0.4)
    ax.spines["polar"].set(color=_SOFT, linewidth=0.6)
    if grain is not None and np.isfinite(grain):
        for turn in (0.0, 180.0):
            _arrow(ax, (0, 0), (np.radians(grain + turn), top), "-|>", zorder=2, color=_SOFT, linewidth=0.9)
        handles.append(Line2D([], [], color=_SOFT, linewidth=0.9, label=f"grain, azimuth {grain:g} deg"))
    ax.set_title(
        f"{risk_name.capitalize()} [-] against direction of travel [deg]",
        loc="left",
        fontsize=_TITLE,
        color=_INK,
        pad=16,
    )
    _legend(ax, handles, [*_caption(thing.settings), *_knowledge(thing)], 290, -24)
    return artist


def _quiet_angle(heading: FloatArray, value: FloatArray) -> float:
    """Azimuth between two spokes where least is drawn, for the labels of the rings. [deg]"""
    angle = np.broadcast_to(heading.reshape(len(heading), -1), value.shape)
    spots = np.arange(15.0, 360.0, 30.0)
    near = [(np.cos(np.radians(angle - spot)) > 0.966) & (value > 0) for spot in spots]
    return float(spots[int(np.argmin([np.max(value, initial=0.0, where=close) for close in near]))])


# ----------------------------------------------------------------------------------------------- tooth passes


def draw_tooth_passes(
    passes: ToothPasses, ax: Axes | None = None, *, height: int = -1, last: int = 8
) -> PolyCollection:
    """Draw the paths of the edge in the last few passes, and the chips between them, in the plane of one height.

    A chip reaches from the edge inwards by its radial thickness; wood that a ray meets in several pieces (after a
    corner) is drawn as one.

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

    Returns
    -------
    PolyCollection
        The chips, a polygon for every unbroken stretch of a pass that cuts anything.

    Raises
    ------
    DomainError
        If `passes` is not a ToothPasses or a number is out of range.
    """
    from matplotlib.collections import LineCollection, PolyCollection
    from matplotlib.lines import Line2D
    from matplotlib.patches import Patch

    if not isinstance(passes, ToothPasses):
        raise DomainError(f"passes must be a ToothPasses, as from tooth_passes, got {type(passes).__name__}")
    h = integer("height", height, low=-len(passes.heights), high=len(passes.heights) - 1)
    rows = np.arange(len(passes))[-integer("last", last, low=1, high=1000) :]
    order = np.argsort(passes.angles, kind="stable")
    angles, axis, time = passes.angles[order], passes.axis_xy[rows][:, order], passes.time[rows][:, order]
    thickness = passes.radial_thickness[rows][:, order, h]
    turn = np.radians(passes.azimuth[rows][:, order])
    ray = np.stack([np.cos(turn), np.sin(turn)], axis=-1)
    edge = axis + passes.edge_radius_about_axis[rows, h][:, None, None] * ray
    edge[~np.isfinite(thickness)] = np.nan
    inner = edge - thickness[..., None] * ray

    arcs, chips, teeth = [], [], []
    for p, row in enumerate(rows):
        known = np.isfinite(edge[p]).all(axis=1)
        breaks = np.flatnonzero((np.diff(angles) > 90.0) | (known[1:] != known[:-1])) + 1
        for part in np.split(np.arange(len(angles)), breaks):
            if known[part[0]]:
                arcs.append(edge[p, part])
                if (thickness[p, part] > 0).any():
                    chips.append(np.vstack([edge[p, part], inner[p, part][::-1]]))
                    teeth.append(int(passes.flute[row]))

    points = np.concatenate([axis, edge]).reshape(-1, 2)
    points = points[np.isfinite(points).all(axis=1)] if np.isfinite(points).any() else np.zeros((1, 2))
    low, high = points.min(axis=0), points.max(axis=0)
    margin = max(0.1 * float((high - low).max()), 1e-3)
    low, high = low - margin, high + margin
    empty = "" if arcs else ", where there is no wood"
    lines = [f"last {len(rows)} of {len(passes)} passes, {passes.heights[h]:.2f} mm above the tip{empty}"]
    lines.append(passes.settings)
    flutes = np.unique(passes.flute[rows]).tolist()
    _check_axes(ax)
    if ax is None:
        scale = 4.6 / float((high - low).max())
        wide = np.array([max(0.0, 2.8 / scale - (high - low)[0]) / 2, 0.0])
        low, high = low - wide, high + wide
        size = scale * (high - low)
        ax = _page(size, _height([(0, _wrapped(lines, 72 * size[0]))]) + 0.17 * (len(flutes) + 1))
    tones = {flute: _ramp()(0.08 + 0.34 * i / max(len(flutes) - 1, 1)) for i, flute in enumerate(flutes)}
    artist = PolyCollection(chips, facecolors=[tones[flute] for flute in teeth], edgecolors="none", zorder=1)
    artist.set(gid="chips")
    ax.add_collection(artist, autolim=False)
    ax.add_collection(LineCollection(arcs, colors=_INK, linewidths=0.6, zorder=2, gid="edges"), autolim=False)
    middle = int(np.argmin(np.abs(angles - 90.0)))
    track = axis[:, middle][np.isfinite(axis[:, middle]).all(axis=1)]
    _trace(ax, track, linestyle="", marker="+", color=_INK, markersize=4, markeredgewidth=0.6, gid="spindle axis")
    if len(track) > 1:
        _arrow(ax, track[0], track[-1], "-|>", zorder=3)
    _angle_ticks(ax, axis, edge, angles)
    for points, when in zip(edge[::-1], time[::-1], strict=True):
        known = np.isfinite(points).all(axis=1) & np.isfinite(when)
        if known.sum() > 2:
            # a head on the last arc, the way the edge goes
            way = points[known][np.argsort(when[known], kind="stable")]
            _arrow(ax, way[len(way) // 3], way[len(way) // 3 + 1], "-|>", zorder=4)
            break
    ax.set_xlim(low[0], high[0])
    ax.set_ylim(low[1], high[1])
    _dress(ax, "x [mm]", "y [mm]", "Tooth passes and their chips")
    # with runout one flute may do most of the other's work, so that its chip is too thin to be seen
    most = {flute: 1000 * np.nanmax(thickness[passes.flute[rows] == flute], initial=0.0) for flute in flutes}
    words_of = {flute: f"chip of flute {flute}, to {most[flute]:.3g} um" for flute in flutes}
    handles: list[Artist] = [Patch(facecolor=tones[flute], label=words_of[flute]) for flute in flutes]
    words = f"spindle axis when the edge is at {angles[middle]:g} deg"
    handles.append(Line2D([], [], linestyle="", marker="+", markersize=4, color=_INK, label=words))
    _legend(ax, handles, lines, _width(ax), -32)
    return artist


def _angle_ticks(ax: Axes, axis: FloatArray, edge: FloatArray, angles: FloatArray) -> None:
    """Rays at 0, 90 and 180 degrees, where the table has them, each of the last pass that reaches it."""
    for want in (0.0, 90.0, 180.0):
        found = np.argwhere((np.abs(angles - want) < 1e-6) & np.isfinite(edge).all(axis=2))
        if not len(found):
            continue
        p, k = found[-1]
        a, b = axis[p, k], edge[p, k]
        _trace(ax, np.array([a, b]), color=_SOFT, linewidth=0.5, linestyle=(0, (5, 3)), zorder=1.5, gid="angle tick")
        shift = 10 * _units((b - a)[None])[0]
        _say(ax, f"{want:.0f}°", (b[0], b[1]), (shift[0], shift[1]), ha="center", va="center")


# ------------------------------------------------------------------------------------------------ the profile


def draw_profile(bit: Cutter, ax: Axes | None = None, *, depth: float | None = None) -> LineCollection:
    """Draw the outline of a bit's edges on both sides of its axis, the tip at height 0.

    Parameters
    ----------
    bit
        `VBit`, `ProfileBit` or any `Cutter`.
    ax
        Axes to draw in; None: a new figure.
    depth
        Depth of cut, above 0: adds the board in section, the groove's width and its depth. [mm]

    Returns
    -------
    LineCollection
        The outline from the axis upwards, right half and left half. [mm]

    Raises
    ------
    DomainError
        If `bit` is not a Cutter or the depth is out of range.
    """
    from matplotlib.collections import LineCollection
    from matplotlib.patches import Polygon

    as_cutter(bit)
    deep = 0.0 if depth is None else number("depth", depth, low=0, high=300, unit="mm", open_low=True)
    edge_length = bit.cutting_length or 0.0
    heights, radii = profile_knots(bit, max(deep, edge_length) or bit.diameter)
    top = max(float(heights[-1]), deep, edge_length) + 0.12 * bit.diameter
    shoulder = [float(bit.radius(np.asarray(top))), top]
    half = np.vstack([[0.0, 0.0], np.column_stack([radii, heights]), shoulder])
    angle = cone_angle(bit)
    shape = "Profile bit" if angle is None else f"V-bit, included angle {angle:g} deg"
    lines = [
        f"{bit.flutes} flute{'s' if bit.flutes > 1 else ''}, rake {bit.rake:g} deg, clearance {bit.clearance:g} deg, "
        f"edge radius {1000 * bit.edge_radius:.3g} um, {runout_text([bit])}"
    ]
    if bit.max_spindle_speed is not None:
        lines.append(f"marked maximum {bit.max_spindle_speed:g} rpm")
    reach, bottom = 0.65 * bit.diameter, -(0.3 if deep else 0.1) * bit.diameter
    _check_axes(ax)
    if ax is None:
        scale = min(4.0 / (2 * reach), 4.6 / (top - bottom))
        reach = max(reach, 1.6 / scale)
        width = 2 * reach * scale
        ax = _page((width, (top - bottom) * scale), _height([(0, _wrapped(lines, 72 * width))]))
    artist = LineCollection([half, half * [-1, 1]], colors=_INK, linewidths=1.3, zorder=3, gid="outline")
    ax.add_collection(artist, autolim=False)
    solid = np.vstack([half, (half * [-1, 1])[::-1]])
    ax.add_patch(Polygon(solid, closed=True, facecolor=_BODY, edgecolor="none", zorder=2, gid="bit"))
    chain = {"color": _SOFT, "linewidth": 0.5, "zorder": 3.5}
    _trace(ax, np.array([[0.0, 2 * bottom], [0.0, top]]), linestyle=(0, (10, 2, 2, 2)), gid="axis", **chain)
    if edge_length:
        level = np.array([[-2 * reach, edge_length], [2 * reach, edge_length]])
        _trace(ax, level, linestyle=(0, (6, 3)), gid="cutting length", **chain)
        _say(ax, f"cutting length {edge_length:g} mm", (0.0, edge_length), (4, 3), zorder=6)
    if deep:
        _groove(ax, float(bit.radius(np.asarray(deep))), deep, reach, 0.1 * bit.diameter)
    ax.set_xlim(-reach, reach)
    ax.set_ylim(bottom, top)
    _dress(ax, "radius [mm]", "height above the tip [mm]", f"{shape}, {length_text(bit.diameter)}")
    _footer(ax, [(0, _wrapped(lines, _width(ax)))])
    return artist


def _groove(ax: Axes, half_width: float, depth: float, reach: float, step: float) -> None:
    """The board in section, and the groove's width and depth as dimensions."""
    from matplotlib.patches import Rectangle

    board = Rectangle((-2 * reach, -4 * step), 4 * reach, depth + 4 * step, facecolor=_WOOD, edgecolor="none", zorder=1)
    board.set_gid("board")
    ax.add_patch(board)
    thin: dict[str, Any] = {"color": _INK, "linewidth": 0.4, "zorder": 4, "gid": "extension line"}
    _trace(ax, np.array([[-2 * reach, depth], [2 * reach, depth]]), color=_INK, linewidth=0.8, zorder=2.5, gid="face")
    x, y = 0.85 * reach, -1.3 * step
    for side in (-half_width, half_width):
        _trace(ax, np.array([[side, depth], [side, y - 0.3 * step]]), **thin)
    _trace(ax, np.array([[0.0, 0.0], [x + 0.3 * step, 0.0]]), **thin)
    _arrow(ax, (-half_width, y), (half_width, y), "<|-|>", zorder=5, mutation_scale=6)
    _arrow(ax, (x, 0.0), (x, depth), "<|-|>", zorder=5, mutation_scale=6)
    plate = {"boxstyle": "square,pad=0.1", "facecolor": _WOOD, "edgecolor": "none"}
    below: dict[str, Any] = {"va": "top", "bbox": plate, "zorder": 6}
    _say(ax, f"groove {length_text(2 * half_width)} wide", (0.0, y), (0, -9), ha="center", **below)
    _say(ax, f"{length_text(depth)} deep", (x, 0.0), (6, -3), ha="right", **below)


# ------------------------------------------------------------------------------------------- the reached feed


def draw_reached_feed(cut: Cut, ax: Axes | None = None) -> Line2D:
    """Draw the feed the machine reaches along a cut against the typed one, hatched where it falls short.

    Parameters
    ----------
    cut
        The cut; without a machine the reached feed is the typed one.
    ax
        Axes to draw in; None makes a figure.

    Returns
    -------
    matplotlib.lines.Line2D
        Reached feed [mm/min] against arc length [mm]; the speed's square is linear between its stations, so that a few
        points a stretch follow it.
    """
    if not isinstance(cut, Cut):
        raise DomainError(f"cut must be a Cut, got {type(cut).__name__}")
    profile, typed = cut.profile, cut.feed
    ends = profile.station
    station = np.unique(np.concatenate([a + (b - a) * np.linspace(0, 1, 9) for a, b in pairwise(ends)]))
    reached = 60.0 * profile.speed_at(station)
    _check_axes(ax)
    if ax is None:
        import matplotlib.pyplot as plt

        _, ax = plt.subplots(figsize=(7, 2.6), layout="constrained")
    (artist,) = ax.plot(station, reached, color=_INK, linewidth=1.0, label="reached")
    ax.axhline(typed, color=_SOFT, linewidth=0.8, linestyle=_DASH, label="typed")
    short = reached < 0.95 * typed
    ax.fill_between(
        station,
        0,
        reached,
        where=short,
        facecolor=_BODY,
        edgecolor=_INK,
        linewidth=0.0,
        hatch="////",
        label="below 95 %",
    )
    ax.set_xlim(0, cut.path.length)
    ax.set_ylim(0, 1.15 * typed)
    teeth = cut.spindle_speed * cut.bit.flutes
    per_tooth = ax.secondary_yaxis("right", functions=(lambda f: np.divide(f, teeth), lambda f: np.multiply(f, teeth)))
    per_tooth.set_ylabel("per tooth [mm]", fontsize=_TEXT)
    per_tooth.tick_params(labelsize=_SMALL)
    ax.set_xlabel("along the path [mm]", fontsize=_TEXT)
    ax.set_ylabel("feed [mm/min]", fontsize=_TEXT)
    ax.tick_params(labelsize=_SMALL)
    low = 100.0 * profile.share_below(0.95, typed)
    ax.set_title(
        f"Reached feed; typed {feed_text(typed)}; below 95 % of it on {low:.0f} % of {length_text(cut.path.length, 0)}"
        + ("" if cut.machine is None else "\n" + textwrap.fill(cut.machine.corner_words, 110)),
        fontsize=_TITLE,
        loc="left",
    )
    ax.legend(fontsize=_SMALL, loc="lower center", ncols=3, frameon=False)
    return artist


# -------------------------------------------------------------------------------------------- side by side


def draw_comparison(
    comparison: Comparison, axes: Sequence[Axes] | None = None, *, risk_name: str = "damage"
) -> list[PolyCollection]:
    """Draw the maps of all options side by side (broad ones below one another), at one scale of length and colour.

    Parameters
    ----------
    comparison
        From `compare`.
    axes
        One for each option; None: a new figure.
    risk_name
        'fuzz', 'tear', 'scorch' or 'damage'.

    Returns
    -------
    list of PolyCollection
        The bands of each map, as `draw_risk_map` returns them.

    Raises
    ------
    DomainError
        If `comparison` is not a Comparison, the name unknown or the number of axes wrong.
    """
    if not isinstance(comparison, Comparison):
        raise DomainError(f"comparison must be a Comparison, as from compare, got {type(comparison).__name__}")
    name = choice("risk_name", risk_name, RISKS)
    count = len(comparison)
    corners = [_map_limits(option.risk, strip=True)[:2] for option in comparison.options]
    size = np.max([high - low for low, high in corners], axis=0)
    broad = bool(size[0] > 1.4 * size[1])
    right = 0 if broad else min(count, 3) - 1  # the axes with room at their right, for colour bar and key
    if axes is None:
        import matplotlib.pyplot as plt

        down, across = (count, 1) if broad else (-(-count // 3), min(count, 3))
        width = 7.5 if broad else 3.4 * across
        height = down * (width / across * float(size[1] / size[0]) + 0.75)
        _, grid = plt.subplots(down, across, figsize=(width + _COLUMN, height), layout="constrained")
        axes = list(np.atleast_1d(grid).ravel())
        for spare in axes[count:]:
            spare.set_axis_off()
        axes = axes[:count]
    if not isinstance(axes, Sequence | np.ndarray) or len(axes) != count or any(ax is None for ax in axes):
        raise DomainError(f"axes must be as many as options, {count}, got {axes!r:.80}")
    artists = []
    for k, (ax, option, (low, high)) in enumerate(zip(axes, comparison.options, corners, strict=True)):
        bands = draw_risk_map(option.risk, ax, risk_name=name, colour_bar=False, key=False, caption=False)
        low, high = (low + high - size) / 2, (low + high + size) / 2
        ax.set_xlim(low[0], high[0])
        ax.set_ylim(low[1], high[1])
        _scale_bar(ax, low, high, float(max(size)) / 1.3, "")
        if k == right:
            _colour_bar(ax, bands, name)
            _key(ax, option.risk, (), -(_BAR + 0.32) * 72)
        mean, poor = option.summary.mean[name], option.summary.poor(name)
        told = f"{option.name}: mean {name} {mean:.3f}, {length_text(poor, 0)} needs work or is spoilt"
        if not np.isfinite(mean):
            told = f"{option.name}: mean {name} not known"
        text = [told, str(option.risk.settings["setup"])]
        ax.set_title(_wrapped(text, _width(ax) - 60), loc="left", fontsize=_SMALL, color=_INK, pad=4)
        artists.append(bands)
    return artists


# ------------------------------------------------------------------------------------------ the process window


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
    _check_axes(ax)
    if ax is None:
        import matplotlib.pyplot as plt

        size = max(4.6, 0.8 * len(speeds) + 2.2), max(3.4, 0.42 * len(feeds) + 2.4)
        ax = plt.subplots(figsize=size, layout="constrained")[1]
    # the lighter part of the ramp: ink must be seen on it
    colours = ListedColormap(_ramp()(np.linspace(0.0, 0.6, 200))).with_extremes(bad=_PAPER)
    mesh = ax.pcolormesh(
        np.arange(len(speeds) + 1), np.arange(len(feeds) + 1), np.ma.masked_invalid(value), cmap=colours,
        norm=Normalize(0.0, max(top, 1e-3)), edgecolor=_PAPER, linewidth=0.8, zorder=1,
    )  # fmt: skip
    looks = {
        "violated": ("/" * 4, "a limit violated"),
        "unknown": ("." * 3, "a limit not known"),
        "failed": ("x" * 4, "cannot be cut"),
    }
    used: dict[str, Patch] = {}
    with _fine_hatch():
        for (i, j), c in spot.items():
            status = _status(c, waived)
            if status != "ok":
                hatch, words = looks[status]
                ax.add_patch(
                    Rectangle((i, j), 1, 1, facecolor="none", edgecolor=_INK, linewidth=0, hatch=hatch, zorder=2)
                )
                used[status] = Patch(facecolor=_BODY, edgecolor=_INK, linewidth=0.5, hatch=hatch, label=words)
            if np.isfinite(value[j, i]):
                box = {"boxstyle": "round,pad=0.15", "facecolor": _PAPER, "edgecolor": "none", "alpha": 0.85}
                ax.text(i + 0.5, j + 0.5, f"{value[j, i]:.3f}", ha="center", va="center", fontsize=_SMALL, color=_INK,
                        zorder=3, bbox=box)  # fmt: skip
    at = (speeds.index(framed.setting.spindle_speed), feeds.index(framed.setting.feed))  # type: ignore[arg-type]
    frame = Rectangle(at, 1, 1, facecolor="none", edgecolor=_INK, linewidth=2.4, zorder=4, gid="pick")
    ax.add_patch(frame)
    words = "the pick" if framed is pick else "the cell chosen"
    handles = [Patch(facecolor="none", edgecolor=_INK, linewidth=2.0, label=words), *used.values()]
    marks = [f"{v:.0f}" + dial_text(v, machine).replace(" (", "\n").removesuffix(")") for v in speeds]
    ax.set_xticks(np.arange(len(speeds)) + 0.5, marks, fontsize=_SMALL)
    ax.set_yticks(np.arange(len(feeds)) + 0.5, [f"{f:.0f}" for f in feeds], fontsize=_SMALL)
    ax.set_xlabel("spindle speed [rpm]" + (", dial position" if machine and machine.dial else ""), fontsize=_TEXT)
    ax.set_ylabel("feed [mm/min]", fontsize=_TEXT)
    ax.tick_params(length=0)
    inches = ax.secondary_yaxis("right")
    inches.set_yticks(np.arange(len(feeds)) + 0.5, [f"{f / ipm:.0f}" for f in feeds], fontsize=_SMALL)
    inches.set_ylabel("feed [in/min]", fontsize=_TEXT)
    inches.tick_params(length=0)
    s = framed.setting
    what = [s.name, "" if s.passes is None else passes_text(s.passes), f"turned {s.rotation:g} deg" * bool(s.rotation)]
    board = cells.job_board
    title = f"Mean {name} [-]: {', '.join(w for w in what if w) or 'as planned'}"
    text = f"{title}\n{board.wood.name}, grain {board.grain.label}\n{cells.learned or _PRIOR}"
    ax.set_title(text, loc="left", fontsize=_TEXT, color=_INK)
    bar = ax.figure.colorbar(mesh, ax=ax, pad=0.02, fraction=0.05)
    bar.ax.tick_params(labelsize=_SMALL)
    bar.set_label(f"mean {name} [-]", fontsize=_SMALL)
    place: Any = {"loc": "upper left", "bbox_to_anchor": (0.0, 0.0), "bbox_transform": _points(ax, 0, -40)}
    ax.legend(handles=handles, fontsize=_SMALL, frameon=False, ncols=4, borderaxespad=0, labelcolor=_INK, **place)
    return mesh


def _status(cell: Cell, waived: Sequence[str]) -> str:
    if cell.error or cell.clear(waived):
        return "failed" if cell.error else "ok"
    return "violated" if any(row.status == "violated" for row in cell.against(waived)) else "unknown"


# ------------------------------------------------------------------------------------------------- the layout


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
    looks = {False: ("as drawn, turned", "solid", _ramp()(0.95)), True: ("mirrored and turned", _DASH, _ramp()(0.5))}
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
    marks += [(row, str(k)) for k, row in enumerate(layout.best(), 1) if row is not layout.as_drawn]
    for k, (row, words) in enumerate(marks):
        spot = (np.radians(row.rotation), row.summary.mean[name])
        ax.plot(*spot, marker="o", markersize=5, zorder=4, clip_on=False, linestyle="", gid="mark", **_DOT)
        # to either side in turn, so that neighbours can be read
        _say(ax, words, spot, (7, 3) if k % 2 == 0 else (-7, 3), ha="left" if k % 2 == 0 else "right", zorder=5)
    for k, row in enumerate(layout.best(), 1):
        words = f"{k}: {row.words()}, {_comes_to(row.summary, name)}"
        handles.append(Line2D([], [], linestyle="", marker="o", markersize=5, label=words, **_DOT))
    ax.set_theta_zero_location("E")
    ax.set_theta_direction(1)
    ax.set_thetamin(0)
    ax.set_thetamax(layout.span)
    ax.set_rlim(0.0, top)
    half = layout.span == 180
    ax.set_thetagrids(np.arange(0, layout.span + half, 30), **_NOTE)
    ax.tick_params(labelsize=_SMALL)
    ax.grid(color="0.75", linewidth=0.4)
    ax.spines["polar"].set(color=_SOFT, linewidth=0.6)
    # above the arc itself: a half disc leaves the upper part of its axes empty
    title = f"Mean {name} [-] against rotation of the design [deg]"
    _say(ax, title, (np.pi / 2, top), (0, 26), ha="center", fontsize=_TITLE)
    drawn = layout.as_drawn.summary
    told = f"as drawn: {_comes_to(drawn, name)}"
    _legend(
        ax,
        handles,
        [*_caption(layout.settings), told, str(layout.settings.get("learned") or _PRIOR)],
        330,
        24 if half else -24,
    )
    return artist


def _comes_to(summary: Summary, name: str) -> str:
    """Mean of a risk, and how much lip needs work; what is not known is said, not counted as sound."""
    unknown = summary.lengths["damage"]["not known"]
    left = [f"{length_text(unknown, 0)} of lip not known"] if unknown > 0 else []
    if not np.isfinite(summary.mean[name]):
        return ", ".join([f"mean {name} not known", *left])
    poor = f"{length_text(summary.poor(), 0)} needs work or is spoilt"
    return ", ".join([f"mean {summary.mean[name]:.3f}", poor, *left])


# ------------------------------------------------------------------------------------------ damage against time


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
    """
    from matplotlib.lines import Line2D

    if not isinstance(recommendation, Recommendation):
        raise DomainError(
            f"recommendation must be a Recommendation, as from recommend, got {type(recommendation).__name__}"
        )
    r = recommendation
    _check_axes(ax)
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
        ax.plot(*xy.T, linestyle="", marker=marker, markersize=4, color=_SOFT, markerfacecolor=_BODY,
                markeredgewidth=0.7, label=words, zorder=2)  # fmt: skip
    front = np.array([(c.time[1] / 60, c.damage) for c in r.front]).reshape(-1, 2)
    ax.plot(*front.T, color=_INK, linewidth=0.8, drawstyle="steps-pre", zorder=2.5)
    colours = [_ramp()(0.95)] + [_ramp()(0.5)] * max(len(front) - 1, 0)
    artist = ax.scatter(
        front[:, 0], front[:, 1], s=36, c=colours[: len(front)], edgecolors=_INK, linewidths=0.7, zorder=3
    )
    artist.set_gid("front")
    handles, labels = ax.get_legend_handles_labels()
    for k, cell in enumerate(r.front):
        _say(ax, "pick" if k == 0 else str(k + 1), (cell.time[1] / 60, cell.damage), (5, 5), zorder=4)
        if k < 6:
            handles.append(
                Line2D([], [], linestyle="", marker="o", markersize=6, color=colours[k], markeredgecolor=_INK)
            )
            labels.append(f"{'pick' if k == 0 else k + 1}: {cell.setting.words(r.machine)}")
    if r.time_limit is not None:
        handles.append(ax.axvline(r.time_limit / 60, color=_INK, linewidth=0.8, linestyle=_DASH))
        labels.append("limit on the time (its high end must keep it)")
    ax.set_ylim(bottom=0.0)
    ax.set_xlim(left=0.0)
    ax.set_xlabel("likely time [min]", fontsize=_TEXT)
    ax.set_ylabel("mean damage over the lips [-]", fontsize=_TEXT)
    ax.tick_params(labelsize=_SMALL)
    board = r.sweep.job_board
    ax.set_title(
        f"Damage against time: {r.sweep.job_carving.name}\n{board.wood.name}, grain {board.grain.label}\n"
        f"{r.sweep.learned or _PRIOR}",
        loc="left", fontsize=_TEXT, color=_INK,
    )  # fmt: skip
    place: Any = {"loc": "upper left", "bbox_to_anchor": (0.0, 0.0), "bbox_transform": _points(ax, 0, -34)}
    ax.legend(handles, labels, fontsize=_SMALL, frameon=False, borderaxespad=0, labelcolor=_INK, **place)
    return artist


# ---------------------------------------------------------------------------------------------------- the fit


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
    """
    from matplotlib.collections import LineCollection

    if not isinstance(fitted, FittedModel):
        raise DomainError(f"fitted must be a FittedModel, as from fit, got {type(fitted).__name__}")
    ranges = fitted.ranges()
    _check_axes(ax)
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
        colors=[_SOFT if name in unlearned else _INK for name in ranges],
        linewidths=[1.2 if name in unlearned else 3.0 for name in ranges],
        gid="after",
    )
    for bars in (before, after):
        ax.add_collection(bars, autolim=False)
    _trace(ax, np.column_stack([np.zeros(len(y)), y + 0.16]), linestyle="", marker="|", markersize=6, color=_SOFT)
    _trace(ax, np.column_stack([middle, y - 0.12]), linestyle="", marker="o", markersize=3.5, zorder=4, **_DOT)
    for (name, (old, new)), v in zip(ranges.items(), y, strict=True):
        unit = fitted.prior.__dataclass_fields__[name].metadata["unit"]
        words = f"{old[1]:.3g}, now {new[1]:.3g} {unit.replace('-', '')}" if name not in unlearned else "not learned"
        _say(ax, words, (1.0, v), (6, 0), xycoords=("axes fraction", "data"), va="center")
    ax.set(xlim=(-3.2, 3.2), ylim=(y[-1] - 0.7, 0.7), yticks=y, yticklabels=list(ranges))
    ax.set_xlabel("in spreads of the prior (light: before, dark: after, thin: not learned)", fontsize=_TEXT)
    ax.set_title("What the test pieces taught", loc="left", fontsize=_TITLE, color=_INK, pad=6)
    ax.tick_params(labelsize=_SMALL, color=_SOFT, width=0.5, length=2.5)
    for spine in ax.spines.values():
        spine.set(color=_SOFT, linewidth=0.5)
    return after


def save_figure(figure: Figure, path: str | os.PathLike[str], *, dpi: float = 160.0) -> None:
    """Write a figure to a file whole or not at all; the same figure gives the same bytes, for no date is in them.

    Parameters
    ----------
    figure
        A matplotlib figure, such as ``artist.figure`` of what was drawn.
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
    """
    from matplotlib import rc_context
    from matplotlib.figure import Figure

    instance("figure", figure, Figure, "a matplotlib Figure")
    dots = number("dpi", dpi, low=20, high=2000, unit="1/in")
    kind = os.path.splitext(checked_path(path))[1].lower()
    dates: dict[str, Any] = {".png": {}, ".svg": {"Date": None}, ".pdf": {"CreationDate": None, "ModDate": None}}
    if kind not in dates:
        raise DomainError(f"path must be the path of a file whose name ends in .png, .svg or .pdf, got {path!r}")
    out = io.BytesIO()
    with rc_context({"svg.hashsalt": "chipsim"}):  # otherwise marks in the file have names by chance
        figure.savefig(out, format=kind[1:], dpi=dots, metadata=dates[kind])
    with whole_file(path, "wb") as handle:
        handle.write(out.getvalue())
