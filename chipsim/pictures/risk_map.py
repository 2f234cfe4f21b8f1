"""The risk map over the groove."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

import numpy as np

from .._shared.arrays import FloatArray
from ..damage.maps import CLASSES, DOUBTS, Place, RiskMap
from ..damage.rose import Rose
from ..errors import DomainError
from ..limits.lands import Land
from ..scene.cuts import AirMove
from ..units import inch, length_text

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.collections import PolyCollection
    from matplotlib.offsetbox import OffsetBox
    from matplotlib.path import Path as Outline
from .page import (
    AIR,
    BAR,
    BODY,
    COLUMN,
    DOT,
    HATCHES,
    INK,
    LOOKS,
    PAPER,
    PRIOR,
    RING,
    SOFT,
    annotate,
    axes_width,
    caption_of,
    check_axes,
    common_azimuth,
    draw_colour_bar,
    draw_footer,
    draw_scale_bar,
    dress,
    fine_hatch,
    fold,
    footer_height,
    grain_label,
    hang,
    lip_kinds,
    new_axes,
    risk_colours,
    stack_rows,
    trace,
)

__all__ = ["draw_risk_map"]


_BAND = 0.6
"""Share of the half-width that the coloured band along a lip covers, so that left and right stay apart. [-]"""


def draw_risk_map(
    risk: RiskMap,
    ax: Axes | None = None,
    *,
    risk_name: str = "damage",
    air_moves: Sequence[AirMove] = (),
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
    air_moves
        Moves between the cuts, as `carving.air_moves`: those over the face as thin grey dots, whatever their kind,
        plunges as small grey circles. They do not widen the page.
    colour_bar, key, caption
        Whether to add the colour bar; the key to grain, spin, feed and lips, and the scale bar; the settings and what
        the hatches mean. Colour bar and key stand to the right of the axes, the caption below.
    lands
        Thin lands to outline, numbered in the order given, as their table numbers them.

    Returns
    -------
    PolyCollection
        The bands: those of the left lips, then those of the right, each in the map's order. Its array is the risk, the
        second vertex of a band the lip point of its row. [-, mm]

    Raises
    ------
    DomainError
        If `risk` is not a RiskMap, the name of the risk is unknown, or `lands` or `air_moves` hold anything else.

    Examples
    --------
    >>> import chipsim as cs
    >>> cut = cs.Cut(cs.VBit(60, 12.7, 2), cs.ring(5, 1.5), 18_000, 1500)
    >>> board = cs.Board(cs.wood("black cherry"), cs.straight_grain(azimuth=0))
    >>> bands = cs.draw_risk_map(cs.risk_map(cut, board, pitch=1.0))
    >>> cs.save_figure(bands.figure, "map.png")
    """
    from matplotlib.collections import LineCollection, PolyCollection
    from matplotlib.colors import Normalize
    from matplotlib.patches import PathPatch

    if not isinstance(risk, RiskMap):
        raise DomainError(f"risk must be a RiskMap, as from risk_map, got {type(risk).__name__}")
    for name, things, kind in (("lands", lands, Land), ("air_moves", air_moves, AirMove)):
        if not isinstance(things, Sequence) or not all(isinstance(thing, kind) for thing in things):
            raise DomainError(f"{name} must be a sequence of {kind.__name__}, got {things!r:.80}")
    values = risk.values(risk_name)
    # end grain says itself why nothing is known
    looks = np.where(risk.exists & ~np.isfinite(values) & (risk.doubt != 6), -1, risk.doubt)
    if risk.band is not None and risk.setup.get("learned"):
        looks = np.where((looks == 0) & risk.band.not_learned, -2, looks)
    low, high, span = map_limits(risk, strip=key)
    scale_words = ""
    check_axes(ax)
    if ax is None:
        scale = _page_scale(high - low)
        size = np.maximum(scale * (high - low) / inch, [3.2, 1.0])
        low, high = (low + high - size * inch / scale) / 2, (low + high + size * inch / scale) / 2
        ax = new_axes(
            size,
            footer_height(_notes(risk, risk_name, looks, 72 * size[0], lands)) if caption else 0.1,
            COLUMN if colour_bar or key else 0.25,
            (0.7 + BAR if colour_bar else 0.4) + (_key_height(risk, air_moves) if key else 0.0),
        )
        scale_words = f", drawn {scale:g}:1" if scale >= 1 else ""
    elif ax.has_data():
        x, y = ax.get_xlim(), ax.get_ylim()
        low, high = np.minimum(low, [x[0], y[0]]), np.maximum(high, [x[1], y[1]])

    grooves = _grooves(risk)
    sides = [(k, *_cells(risk, k, rows, closed)) for k in range(2) for rows, closed in grooves]
    lip, centre = (np.concatenate([side[i] for side in sides]) for i in (2, 3))
    shown, look = (np.concatenate([a[rows, k] for k, rows, _, _ in sides]) for a in (values, looks))
    ax.add_patch(PathPatch(_body(risk, grooves), facecolor=BODY, edgecolor="none", zorder=1, gid="groove"))
    bands = PolyCollection(list(_strips(lip, centre, _BAND)), zorder=2, gid="bands", label=risk_name)
    bands.set(array=np.ma.masked_invalid(shown), cmap=risk_colours(), norm=Normalize(0.0, 1.0))
    # a hair of their own colour closes the seams that viewers leave between neighbours
    bands.set(edgecolor="face", linewidth=0.2)
    ax.add_collection(bands, autolim=False)
    with fine_hatch():
        for code in np.unique(look[look != 0]):
            hatched = PolyCollection(
                list(_strips(lip[look == code], centre[look == code], 1.0)), facecolors="none", edgecolors=INK
            )
            hatched.set(linewidth=0.0, hatch=HATCHES.get(int(code), "ooo"), zorder=2.5, gid=f"doubt {code}")
            ax.add_collection(hatched, autolim=False)
    outline = LineCollection(list(lip), colors=INK, linewidths=0.5, capstyle="round", zorder=3, gid="lips")
    ax.add_collection(outline, autolim=False)
    paths = [risk.xy[_chain(risk, rows, closed)] for rows, closed in grooves]
    for path in paths:
        trace(ax, path, color=SOFT, linewidth=0.4, zorder=2.2, gid="toolpath")
    _travel(ax, air_moves)
    _feed_arrows(ax, paths, span)
    if risk_name == "damage":
        _number_places(ax, risk, span)
    starts = np.array([path[0] for path in paths])
    trace(ax, starts, marker="o", markersize=4, linestyle="", zorder=4.5, gid="start", **DOT)
    if common_azimuth(risk.fibre_azimuth) is None:
        _grain_ticks(ax, risk, span, low, high)
    _land_outlines(ax, lands)

    ax.set_xlim(low[0], high[0])
    ax.set_ylim(low[1], high[1])
    dress(ax, "x [mm]", "y [mm]", f"{risk_name.capitalize()} at the lips")
    frame = {"boxstyle": "square,pad=0.25", "facecolor": PAPER, "edgecolor": INK, "linewidth": 0.6}
    stamp = "FROM TEST PIECES" if risk.setup.get("learned") else "PRIOR ONLY"
    annotate(ax, stamp, (1, 1), (-1, 6), xycoords="axes fraction", ha="right", va="bottom", bbox=frame)
    if colour_bar:
        draw_colour_bar(ax, bands, risk_name)
    if key:
        draw_key(ax, risk, air_moves, -(BAR + 0.32) * 72 if colour_bar else 0.0)
        draw_scale_bar(ax, low, high, span, scale_words)
    if caption:
        draw_footer(ax, _notes(risk, risk_name, looks, axes_width(ax), lands))
    return bands


def _grooves(risk: RiskMap) -> list[tuple[np.ndarray, bool]]:
    """Rows of every groove of the map, and whether it is closed."""
    return [(np.flatnonzero(risk.groove == g), bool(risk.setup["closed"][g])) for g in np.unique(risk.groove)]


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


def data_per_point(vectors: FloatArray) -> FloatArray:
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
        step = data_per_point(np.diff(xy, axis=0))
        ahead = np.vstack([step, step[:1] if closed else step[-1:]])
        behind = np.vstack([step[-1:] if closed else step[:1], step])
        mean = data_per_point(ahead + behind)
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


def map_limits(risk: RiskMap, strip: bool) -> tuple[FloatArray, FloatArray, float]:
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
    notes = [(0, fold([*caption_of(risk.setup), total, *worst, *knowledge_lines(risk)], width))]
    for code in np.unique(looks[risk.exists & (looks != 0)]).tolist():
        words = LOOKS[code] if code < 0 else f"not to be trusted: {DOUBTS[code]}"
        notes.append((code, fold([words], width - 28)))
    if lands:
        words = ", ".join(f"{k + 1} {land.verdict}" for k, land in enumerate(lands[:12]))
        more = f", and {len(lands) - 12} more" if len(lands) > 12 else ""
        notes.append((0, fold([f"thin lands, outlined, number in a ring: {words}{more}"], width)))
    return notes


def _travel(ax: Axes, air_moves: Sequence[AirMove]) -> None:
    """Moves over the face as runs of dots, one look for all; rings where the tool is let down."""
    from matplotlib.collections import LineCollection

    runs: list[list[tuple[float, float]]] = []
    for a, b in ((m.start[:2], m.end[:2]) for m in air_moves):
        if a == b:
            continue
        if runs and runs[-1][-1] == a:
            runs[-1].append(b)
        else:
            runs.append([a, b])
    if runs:
        dots = LineCollection(runs, zorder=1.8, gid="air moves", **AIR)
        ax.add_collection(dots, autolim=False)
    plunges = np.array([m.end[:2] for m in air_moves if m.kind == "plunge"])
    if len(plunges):
        trace(ax, plunges, linestyle="", zorder=4.4, gid="plunge", **RING)


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
            labels.append((str(rank), lip, data_per_point((lip - risk.xy[place.row])[None])[0]))
    for said, lip, out in labels:
        halo = {"boxstyle": "round,pad=0.12", "facecolor": PAPER, "edgecolor": "none", "alpha": 0.8}
        side = "center" if "," not in said else "left" if out[0] >= 0 else "right"
        style: dict[str, Any] = {"ha": side, "va": "center_baseline", "zorder": 4.2, "gid": "place", "bbox": halo}
        annotate(ax, said, tuple(lip), tuple(7 * out), fontweight="bold", **style)


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
        frame = {"boxstyle": "circle,pad=0.15", "facecolor": PAPER, "edgecolor": INK, "linewidth": 0.8}
        annotate(
            ax, str(k + 1), land.narrowest, (0, 0), ha="center", va="center", bbox=frame, zorder=6, gid="land number"
        )
    if pieces:
        outline = LineCollection(pieces, colors=INK, linewidths=1.1, zorder=3.5, gid="lands")
        ax.add_collection(outline, autolim=False)


def knowledge_lines(thing: RiskMap | Rose) -> list[str]:
    """What a map or a rose rests on, in sentences."""
    if isinstance(thing, RiskMap) and thing.band is not None:
        return str(thing.band).splitlines()
    return [str(thing.setup.get("learned") or PRIOR)]


def _feed_arrows(ax: Axes, paths: Sequence[FloatArray], span: float) -> None:
    """Heads along the toolpaths that point with the feed."""
    spots, ways = [], []
    for path in paths:
        reach = np.append(0.0, np.cumsum(np.hypot(*np.diff(path, axis=0).T)))
        count = int(np.clip(reach[-1] / (0.35 * span), 3 if len(paths) == 1 else 1, 60))
        at = np.clip(np.searchsorted(reach, reach[-1] * (np.arange(count) + 0.5) / count), 1, len(path) - 1)
        spots.append((path[at] + path[at - 1]) / 2)
        ways.append(data_per_point(path[at] - path[at - 1]))
    head: dict[str, Any] = {"width": 0.014, "headwidth": 5, "headlength": 6, "headaxislength": 5.5, "pivot": "mid"}
    arrows = _quiver(ax, np.concatenate(spots), np.concatenate(ways), 0.12, **head)
    arrows.set(color=INK, zorder=4, gid="feed")


def _quiver(ax: Axes, at: FloatArray, direction: FloatArray, length: float, **style: Any) -> Any:
    """Arrows at (n, 2) points along (n, 2) unit vectors, all of one length on the page [in]."""
    fixed: dict[str, Any] = {"angles": "xy", "units": "inches", "scale_units": "inches", "scale": 1 / length}
    return ax.quiver(*at.T, *direction.T, **fixed, **style)


def _grain_ticks(ax: Axes, risk: RiskMap, span: float, low: FloatArray, high: FloatArray) -> None:
    """Short double-headed arrows beside the groove, along the map's own fibres, well apart and clear of it."""
    lip, out = risk.lip_xy[risk.exists], (risk.lip_xy - risk.xy[:, None])[risk.exists]
    spot = lip + 0.055 * span * data_per_point(out)
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
        _quiver(ax, spot[chosen], along, 0.09, **head).set(color=SOFT, zorder=1.5, gid="grain")


def _key_height(risk: RiskMap, air_moves: Sequence[AirMove]) -> float:
    """Height of the key. [in]"""
    return (
        1.6
        + 0.25 * len(_travel_rows(air_moves))
        + 0.5 * len(set(risk.setup["spins"]))
        + footer_height([(0, grain_label(risk))])
    )


def _travel_rows(air_moves: Sequence[AirMove]) -> list[tuple[OffsetBox | None, str]]:
    """Rows of the key for what is drawn of the travel."""
    from matplotlib.collections import LineCollection
    from matplotlib.lines import Line2D
    from matplotlib.offsetbox import DrawingArea

    rows: list[tuple[OffsetBox | None, str]] = []
    if any(m.start[:2] != m.end[:2] for m in air_moves):
        air = DrawingArea(30, 10)
        air.add_artist(LineCollection([[(3, 5), (27, 5)]], **AIR))
        rows.append((air, "moves in air"))
    if any(m.kind == "plunge" for m in air_moves):
        plunge = DrawingArea(30, 10)
        plunge.add_artist(Line2D([15], [5], **RING))
        rows.append((plunge, "plunge"))
    return rows


def draw_key(ax: Axes, risk: RiskMap, air_moves: Sequence[AirMove], up: float) -> None:
    """Column of symbols at the right of the axes: grain, spin, feed, start, and which lip is which."""
    from matplotlib.lines import Line2D
    from matplotlib.offsetbox import DrawingArea
    from matplotlib.patches import FancyArrowPatch

    grain, feed, start = DrawingArea(30, 30), DrawingArea(30, 10), DrawingArea(30, 10)
    arrow: dict[str, Any] = {"shrinkA": 0, "shrinkB": 0, "color": INK}
    azimuth = common_azimuth(risk.fibre_azimuth)
    if azimuth is not None:
        x, y = 14.5 * np.cos(np.radians(azimuth)), 14.5 * np.sin(np.radians(azimuth))
        ends = (15 - x, 15 - y), (15 + x, 15 + y)
        axis = FancyArrowPatch(*ends, arrowstyle="<|-|>", mutation_scale=9, linewidth=1.2, **arrow)
        axis.set_gid("grain")
        grain.add_artist(axis)
    elif risk.exists.any():
        grain.add_artist(FancyArrowPatch((8, 15), (22, 15), arrowstyle="<|-|>", mutation_scale=6, **arrow))

    feed.add_artist(FancyArrowPatch((6, 5), (24, 5), arrowstyle="-|>", mutation_scale=8, linewidth=1.0, **arrow))
    start.add_artist(Line2D([15], [5], marker="o", markersize=4, **DOT))
    left, right = lip_kinds(risk.setup)
    rows = [
        (grain, grain_label(risk)),
        *(_spin_symbol(spin) for spin in sorted(set(risk.setup["spins"]))),
        (feed, "feed"),
        (start, "start of the cut"),
        *_travel_rows(air_moves),
        (None, f"seen along the feed,\nleft lip:\n  {left}\nright lip:\n  {right}"),
    ]
    hang(ax, stack_rows(rows), (1, 1), (12, up))


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
    area.add_artist(Line2D(*ring.T, color=INK, linewidth=1.2, gid="spin"))
    area.add_artist(Polygon(ring[-1] + np.array([6.0 * ahead, 2.8 * across, -2.8 * across]), facecolor=INK))
    area.add_artist(Line2D([15], [15], marker="o", markersize=2, color=INK))
    return area, f"spindle {spin},\n{'clockwise' if sense < 0 else 'counter-clockwise'}\nfrom above"
