"""The risk map over the board."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING, Any

import numpy as np

from .._shared.arrays import FloatArray, choice
from ..damage.maps import Place, RiskMap
from ..damage.rose import Rose
from ..damage.scale import CLASSES, DOUBTS, PRIOR, RISK_WORDS, SIDES
from ..damage.words import numbered
from ..errors import DomainError
from ..limits.lands import Land
from ..scene.cuts import AirMove
from ..units import inch

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.collections import Collection, LineCollection, PolyCollection
    from matplotlib.colors import Colormap, Normalize
    from matplotlib.offsetbox import OffsetBox
from .page import (
    AIR,
    AXIS,
    BOARD,
    BOARD_EDGE,
    FIBRE,
    FIBRE_INK,
    HOLLOW,
    INK,
    KEY,
    PAPER,
    RING,
    SOFT,
    STEPS,
    SUB,
    UMBER,
    Foot,
    Item,
    annotate,
    axes_width,
    caption_of,
    check_axes,
    common_azimuth,
    dash_of,
    draw_arrow,
    draw_foot,
    draw_head,
    foot_height,
    head_height,
    head_lines,
    new_page,
    risk_colours,
    step_colours,
    step_sign,
    swatch,
    text_width,
    trace,
)
from .tags import Ground, place_tags
from .traces import (
    NOT_KNOWN,
    Cells,
    cells_of,
    chain,
    groove_shapes,
    grooves_of,
    lines_of,
    steps_of,
    strips,
    thinned,
    unit_vectors,
)

__all__ = ["draw_risk_map"]


FORMS = ("steps", "colours")

_BAND = 0.6
"""Share of the half-width that the coloured band along a lip covers, so that left and right stay apart. [-]"""

_MARGIN = 0.07
"""Of the board round the design, in spans of the design. [-]"""

_STRIP = 30.0
"""Height of the strip of board with scale bar and fibres' arrow. [pt]"""

_CLOSED = 3.0
"""Dips of damage shorter than this on the page are filled. [pt]"""

_FINE = 0.03
"""How far a drawn curve may leave the true one. [pt]"""

_GAP = 0.45
"""Between a lip and the line of its damage. [pt]"""


def draw_risk_map(
    risk: RiskMap,
    ax: Axes | None = None,
    *,
    risk_name: str = "damage",
    form: str = "steps",
    cmap: Colormap | None = None,
    norm: Normalize | None = None,
    title: str | None = None,
    note: str = "",
    air_moves: Sequence[AirMove] = (),
    lands: Sequence[Land] = (),
    colour_bar: bool = True,
    key: bool = True,
    caption: bool = True,
    rulers: bool = False,
    rasterized: bool = False,
) -> LineCollection | PolyCollection:
    """Draw the grooves on their board and, beside them, how the lips come out.

    The board shows its fibres, a groove is a plain hollow at its true width, and damage is a line beside the groove on
    the face, darker and wider the worse it is, in the five steps of the scale. What is clean has no line. Where the
    numbers leave something out the line is broken, and the lip itself where it is clean. Numbers mark the worst
    stretches in the order of the report; those that mirror each other share a number.

    Parameters
    ----------
    risk
        The map, as from `risk_map`.
    ax
        Axes to draw in; None: a new figure, drawn to a round scale and to be printed at its own size.
    risk_name
        'damage', 'fuzz', 'tear' or 'scorch'.
    form
        'steps' for lines beside the grooves; 'colours' for a continuous band of colour inside each lip, as wide as
        0.6 of the half-width, with a colour bar, for those who want the values.
    cmap
        Colours of values from 0 to 1; None: the library's own, the same on every board.
    norm
        How values become colours in the form 'colours'; None: from 0 to 1 on every map, so that maps compare.
    title
        Over the picture; None: the answer in a few words; '': none.
    note
        A sentence of your own below the title, such as what was tried and helps.
    air_moves
        Moves between the cuts, as `carving.air_moves`: those over the face as thin dots, whatever their kind, plunges
        as small circles. They do not widen the page.
    lands
        Thin lands, marked by letters in the order given, as their table lists them.
    colour_bar, key, caption
        Whether to add a colour bar (form 'colours'); the key, numbers, scale bar and fibres' arrow; and title, set-up
        and what the map rests on.
    rulers
        Whether to write x and y along the edges of the board. [mm]
    rasterized
        Whether lips, lines and bands are pixels in a vector file; words and arrows stay lines.

    Returns
    -------
    LineCollection or PolyCollection
        The lines beside the lips: its array holds each line's worst value, and its colours are those of the steps. Or
        the bands: left lips, then right ones, each in the map's order; the array is the risk, the second vertex of a
        band the lip point of its row. Either goes into `figure.colorbar`, for one map or several. [-, mm]

    Raises
    ------
    DomainError
        If `risk` is not a RiskMap, a name is unknown, or `lands` or `air_moves` hold anything else.

    Examples
    --------
    >>> import chipsim as cs
    >>> cut = cs.Cut(cs.VBit(60, 12.7, 2), cs.ring(5, 1.5), 18_000, 1500)
    >>> board = cs.Board(cs.wood("black cherry"), cs.straight_grain(azimuth=0))
    >>> lines = cs.draw_risk_map(cs.risk_map(cut, board, pitch=1.0))
    >>> cs.save_figure(lines.figure, "map.png")
    """
    if not isinstance(risk, RiskMap):
        raise DomainError(f"risk must be a RiskMap, as from risk_map, got {type(risk).__name__}")
    for name, things, kind in (("lands", lands, Land), ("air_moves", air_moves, AirMove)):
        if not isinstance(things, Sequence) or not all(isinstance(thing, kind) for thing in things):
            raise DomainError(f"{name} must be a sequence of {kind.__name__}, got {things!r:.80}")
    for name, text in (("title", title), ("note", note)):
        if not isinstance(text, str) and not (name == "title" and text is None):
            raise DomainError(f"{name} must be a text, got {text!r:.80}")
    values = risk.values(risk_name)
    choice("form", form, FORMS)
    check_axes(ax)
    page = _Page(risk, risk_name, form, title, note, air_moves, lands, key, caption)
    if ax is None:
        ax, low, high = _own_figure(page, colour_bar and form == "colours")
    else:
        low, high, _ = map_limits(risk, strip=key)
        if ax.has_data() or any(a.get_gid() == "groove" for a in ax.get_children()):
            x, y = ax.get_xlim(), ax.get_ylim()
            low, high = np.minimum(low, [x[0], y[0]]), np.maximum(high, [x[1], y[1]])
    ax.set_xlim(low[0], high[0])
    ax.set_ylim(low[1], high[1])
    ax.set_aspect("equal", adjustable="box", anchor="N")
    point = float(high[0] - low[0]) / axes_width(ax)  # [mm/pt]
    cells = cells_of(risk)
    _draw_board(ax, risk, point, low, high, rulers)
    _draw_grooves(ax, risk, point, rasterized)
    if form == "steps":
        artist: LineCollection | PolyCollection = _draw_steps(ax, risk, values, cells, point, cmap, rasterized)
    else:
        artist = _draw_bands(ax, values, cells, cmap, norm, risk_name, rasterized)
    _draw_lips(ax, risk, cells, point, rasterized)
    _draw_air_moves(ax, air_moves)
    _draw_land_shapes(ax, lands)
    _draw_way(ax, risk, point)
    ground = _ground(risk, cells, point, low, high, key)
    if key:
        _draw_strip(ax, risk, point, low, high)
        _draw_tags(ax, risk, page.places, lands, ground, point, low)
    width = axes_width(ax)
    if caption:
        draw_head(ax, *head_lines(*page.head(), width))
    elif title:
        draw_head(ax, *head_lines(title, [note], width))
    draw_foot(ax, page.items(artist) if key else [], page.feet() if caption else [], up=-36.0 if rulers else -8.0)
    if form == "colours" and colour_bar:
        _draw_bar(ax, artist, risk_name)
    return artist


class _Page:
    """What stands round a map in words: its head, its key, its foot."""

    def __init__(
        self,
        risk: RiskMap,
        risk_name: str,
        form: str,
        title: str | None,
        note: str,
        air_moves: Sequence[AirMove],
        lands: Sequence[Land],
        key: bool,
        caption: bool,
    ) -> None:
        self.risk, self.risk_name, self.form = risk, risk_name, form
        self.title, self.note, self.air_moves, self.lands = title, note, air_moves, lands
        self.key, self.caption = key, caption
        self.scale = ""
        self.places = risk.worst_places(risk=risk_name) if key else []

    def head(self) -> tuple[str, list[str]]:
        """Title, and the lines below it."""
        answer, how_much = self.risk.answer(self.risk_name)
        lines = [how_much]
        if self.risk.band is not None:
            lines.append(self.risk.band.expected())
        return (answer if self.title is None else self.title), [*lines, self.note]

    def items(self, artist: Collection | None = None) -> list[Item]:
        """Signs that are in the picture, and no others."""
        risk = self.risk
        out: list[Item] = []
        lengths = risk.lengths_by_class(self.risk_name)
        for step, name in enumerate(CLASSES):
            if lengths[name] >= 0.05:
                words = f"{name} {_mm(lengths[name])}"
                out.append(Item(step_sign(step) if self.form == "steps" else _patch_sign(step), words))
        if lengths["not known"] >= 0.05:
            out.append(Item(_not_known_sign, f"not known {_mm(lengths['not known'])}"))
        for code, words in doubts_of(risk):
            length = float(risk.lip_length[risk.exists & (_looks(risk) == code)].sum())
            if length >= 0.05:
                broken = step_sign(2, broken=True) if self.form == "steps" else step_sign(0, broken=True)
                out.append(Item(broken, f"broken: {words} ({_mm(length)})", alone=True))
        spins = sorted(set(risk.setup["spins"]))
        turning = " and ".join("clockwise" if s == "cw" else "counter-clockwise" for s in spins)
        out.append(Item(_way_sign, f"way of the cut; the spindle turns {turning}"))
        out.append(Item(_start_sign, "start"))
        places = self.places
        if places:
            last = places[-1].rank
            causes = list(dict.fromkeys(RISK_WORDS[risk.leading(*_spot(p))] for p in places))
            which = f"1 to {last}: the worst stretches" if last > 1 else "1: the worst stretch"
            both = "all " if len(causes) == 1 and len(places) > 1 else ""
            cause = f", {both}{' and '.join(causes)}" if self.risk_name == "damage" else ""
            few = "; of more than four alike two are numbered" if len(numbered(places)) < len(places) else ""
            out.append(Item(_nothing, which + cause + few))
        if self.lands:
            last_letter = _letter(min(len(self.lands), 26) - 1)
            which = f"a to {last_letter}: thin lands" if len(self.lands) > 1 else "a: a thin land"
            out.append(Item(_land_sign, which))
        if any(m.start[:2] != m.end[:2] for m in self.air_moves):
            out.append(Item(_air_sign, "moves in air"))
        if any(m.kind == "plunge" for m in self.air_moves):
            out.append(Item(_plunge_sign, "plunge"))
        return out

    def feet(self) -> list[Foot]:
        """Set-up, and what the map rests on."""
        lines = [Foot(" ".join(f"{line}." for line in caption_of(self.risk.setup)) + self.scale)]
        band = self.risk.band
        rests = knowledge_lines(self.risk) if band is None else band.rests()
        return [*lines, *(Foot(line, accent=True) for line in rests)]


def _own_figure(page: _Page, bar: bool) -> tuple[Axes, FloatArray, FloatArray]:
    """Axes in a new figure, the design at a round scale if it fits, and the corners of the board. [mm]"""
    risk = page.risk
    low, high, _ = map_limits(risk, strip=False)
    wide, tall = float(high[0] - low[0]), float(high[1] - low[1])
    room = 168.0 if wide > 1.5 * tall else 150.0  # [mm] of paper
    fits = next((s for s in (20.0, 10.0, 5.0, 4.0, 3.0, 2.0, 1.5, 1.0) if s * wide <= room and s * tall <= 170.0), 0.0)
    scale = fits or min(room / wide, 200.0 / tall)
    if fits:
        page.scale = f" Drawn {scale:g}:1."
    # short titles on narrow boards: at least 110 mm of board
    spare = max(110.0 / scale - wide, 0.0) / 2
    low, high = low - np.array([spare, 0.0]), high + np.array([spare, 0.0])
    if page.key:
        margin = 0.5 * _MARGIN * max(wide, tall) / (1 + 2 * _MARGIN)
        low = low - np.array([0.0, max(_STRIP / 72 * inch / scale - margin, 0.0)])
    size = (high - low) * scale / inch
    points = 72 * float(size[0])
    above = head_height(*head_lines(*page.head(), points)) if page.caption else 0.3
    below = foot_height(page.items() if page.key else [], page.feet() if page.caption else [], points)
    return new_page(size, above, below, 0.95 if bar else 0.2), low, high


def _mm(length: float) -> str:
    return f"{length:.0f} mm" if length >= 9.5 else f"{length:.1f} mm"


# ---------------------------------------------------------------------------------------------------- the board


def _draw_board(ax: Axes, risk: RiskMap, point: float, low: FloatArray, high: FloatArray, rulers: bool) -> None:
    """The face of the board with its fibres."""
    from .artists import Fibres

    ax.set_facecolor(BOARD)
    for spine in ax.spines.values():
        spine.set(color=BOARD_EDGE, linewidth=0.9)
    if rulers:
        ax.tick_params(labelsize=KEY - 1, color=SOFT, width=0.5, length=2.5)
        ax.set_xlabel("x [mm]", fontsize=KEY)
        ax.set_ylabel("y [mm]", fontsize=KEY)
    else:
        ax.xaxis.set_visible(False)
        ax.yaxis.set_visible(False)
    for old in [a for a in ax.get_children() if a.get_gid() == "fibres"]:
        old.remove()  # of a map that was drawn here before: one board has one look
    azimuth = common_azimuth(risk.fibre_azimuth)
    style: dict[str, Any] = {"colors": FIBRE, "capstyle": "round", "zorder": 0.1, "gid": "fibres"}
    if azimuth is not None:
        ax.add_collection(Fibres(azimuth, **style), autolim=False)
    elif risk.exists.any():
        from matplotlib.collections import LineCollection

        lines = bending_fibres(risk, low, high, point)
        ax.add_collection(LineCollection(lines, linewidths=0.7, **style), autolim=False)


def bending_fibres(risk: RiskMap, low: FloatArray, high: FloatArray, point: float) -> list[FloatArray]:
    """Strokes of fibres that turn over the board, as the lips near by know them. [mm]

    Between the lips the axis is a mean of theirs, weighted by the fourth power of nearness, on a grid of the page.
    """
    rows, sides = np.nonzero(risk.exists & np.isfinite(risk.fibre_azimuth))
    some = np.unique(np.linspace(0, len(rows) - 1, min(len(rows), 400)).astype(int))
    rows, sides = rows[some], sides[some]
    at = risk.lip_xy[rows, sides]
    axis = np.exp(2j * np.radians(risk.fibre_azimuth[rows, sides]))
    count = 40
    grid = [np.linspace(low[k], high[k], count) for k in range(2)]
    x, y = np.meshgrid(*grid, indexing="ij")
    apart = (x[..., None] - at[:, 0]) ** 2 + (y[..., None] - at[:, 1]) ** 2 + (2 * point) ** 2
    field = (axis / apart**2).sum(axis=-1)
    dice = np.random.default_rng(7)
    step, across = 5.0 * point, 6.0 * point
    seeds = [np.arange(low[k], high[k], s) for k, s in ((0, 60.0 * point), (1, across))]
    spot = np.stack(np.meshgrid(*seeds, indexing="ij"), axis=-1).reshape(-1, 2)
    spot = spot + dice.uniform(-0.5, 0.5, spot.shape) * [60.0 * point, 0.4 * across]
    ways = np.ones(len(spot), dtype=complex)
    trail = [spot]
    for _ in range(11):
        cell = np.clip(((spot - low) / (high - low) * (count - 1)).round(), 0, count - 1).astype(int)
        turn = np.exp(1j * np.angle(field[cell[:, 0], cell[:, 1]]) / 2)
        turn = np.where((turn * np.conj(ways)).real < 0, -turn, turn)
        ways = turn
        spot = spot + step * np.column_stack([turn.real, turn.imag])
        trail.append(spot)
    lines = np.stack(trail, axis=1)
    inside = ((lines >= low) & (lines <= high)).all(axis=(1, 2))
    return list(lines[inside])


def map_limits(risk: RiskMap, strip: bool) -> tuple[FloatArray, FloatArray, float]:
    """Lower left and upper right corner of the board round the design, and the span of the design. [mm]"""
    low = (risk.xy - risk.half_width[:, None]).min(axis=0)
    high = (risk.xy + risk.half_width[:, None]).max(axis=0)
    span = float((high - low).max())
    low, high = low - _MARGIN * span, high + _MARGIN * span
    if strip:
        low[1] -= 0.09 * span  # room for the scale bar
    width, height = high - low
    short = np.maximum([0.5 * height - width, 0.3 * width - height], 0.0) / 2
    return low - short, high + short, span


def _draw_strip(ax: Axes, risk: RiskMap, point: float, low: FloatArray, high: FloatArray) -> None:
    """Scale bar at the lower left of the board, the fibres' arrow at its lower right."""
    width = float(high[0] - low[0])
    room = 0.3 * width
    power = 10.0 ** np.floor(np.log10(room))
    size = power * max(m for m in (1, 2, 5) if m * power <= room)
    x, y, tick = low[0] + 9 * point, low[1] + 13 * point, 4 * point
    bar = [[x, y + tick], [x, y - tick], [x, y], [x + size, y], [x + size, y - tick], [x + size, y + tick]]
    patch: dict[str, Any] = {"boxstyle": "square,pad=0.15", "facecolor": BOARD, "edgecolor": "none"}
    trace(ax, np.array(bar), color=INK, linewidth=1.1, solid_joinstyle="miter", zorder=5, gid="scale bar")
    # a layout may yet make these axes smaller
    room = width / point * (0.7 if ax.figure.get_layout_engine() is not None else 1.0)
    words = f"{size:g} mm ({size / inch:.3g} in)" if room > 290 else f"{size:g} mm"
    annotate(ax, words, (x + size, y), (5, 0), va="center_baseline", fontsize=KEY, bbox=patch, zorder=4.9)
    draw_fibres_arrow(ax, risk, point, low, high)


def draw_fibres_arrow(ax: Axes, risk: RiskMap, point: float, low: FloatArray, high: FloatArray) -> None:
    """At the lower right of the board an arrow that says which way its fibres run."""
    # a layout may yet make these axes smaller
    room = float(high[0] - low[0]) / point * (0.7 if ax.figure.get_layout_engine() is not None else 1.0)
    y = low[1] + 13 * point
    patch: dict[str, Any] = {"boxstyle": "square,pad=0.15", "facecolor": BOARD, "edgecolor": "none"}
    azimuth = common_azimuth(risk.fibre_azimuth)
    small: dict[str, Any] = {"va": "center_baseline", "ha": "right", "fontsize": KEY, "color": FIBRE_INK, "bbox": patch}
    if azimuth is None:
        if risk.exists.any() and np.isfinite(risk.fibre_azimuth).any():
            annotate(ax, "the fibres turn" if room > 250 else "fibres", (high[0], y), (-8, 0), zorder=4.9, **small)
        return
    turn = np.radians(azimuth)
    half = np.array([np.cos(turn), np.sin(turn)]) * (min(18.0, 0.06 * room) * np.abs(np.cos(turn)) + 9.0) * point
    middle = np.array([high[0] - 9 * point - np.abs(half[0]), y])
    draw_arrow(ax, middle - half, middle + half, "<|-|>", zorder=5, color=FIBRE_INK, linewidth=1.2, gid="grain")
    words = "fibres run this way" if room > 300 else "fibres"
    annotate(ax, words, (middle[0] - np.abs(half[0]), y), (-6, 0), zorder=4.9, **small)


# ----------------------------------------------------------------------------------------- grooves, lips, damage


def _draw_grooves(ax: Axes, risk: RiskMap, point: float, rasterized: bool) -> None:
    from matplotlib.collections import LineCollection
    from matplotlib.patches import PathPatch
    from matplotlib.path import Path as Outline

    parts = [Outline.make_compound_path_from_polys(p) for p in groove_shapes(risk, _FINE * point) if len(p)]
    body = PathPatch(Outline.make_compound_path(*parts), facecolor=HOLLOW, edgecolor="none", zorder=2, gid="groove")
    # the limits are set by hand: add_patch would look for the extremes of every piece
    ax.add_artist(body)
    paths = [risk.xy[chain(risk, rows, closed)] for rows, closed in grooves_of(risk)]
    drawn = [p[thinned(p, np.arange(len(p)) == 0, _FINE * point)] for p in paths]
    track = LineCollection(drawn, colors=AXIS, linewidths=0.45, zorder=2.2, gid="toolpath")
    ax.add_collection(track, autolim=False)
    for artist in (body, track):
        artist.set_rasterized(rasterized)


def _looks(risk: RiskMap) -> np.ndarray:
    """(n, 2) why a lip's number leaves something out, by code; -2 where no test piece has shown such a lip."""
    looks = risk.doubt.astype(int)
    if risk.band is not None and risk.setup.get("learned"):
        looks = np.where((looks == 0) & risk.band.not_learned, -2, looks)
    return looks


def doubts_of(risk: RiskMap) -> list[tuple[int, str]]:
    """Codes of what the numbers of a map leave out, and their words."""
    looks = _looks(risk)
    codes = np.unique(looks[risk.exists & (looks != 0)]).tolist()
    return [(code, DOUBTS[code] if code > 0 else "no test piece has shown such a lip") for code in codes]


def _draw_steps(
    ax: Axes,
    risk: RiskMap,
    values: FloatArray,
    cells: Cells,
    point: float,
    cmap: Colormap | None,
    rasterized: bool,
) -> LineCollection:
    """Lines beside the lips, in the colour and width of their step, the worst on top."""
    from matplotlib.colors import BoundaryNorm, ListedColormap, to_rgba

    from .artists import Beside

    step = steps_of(risk, values, cells, _CLOSED * point)
    broken = _looks(risk)[cells.row, cells.side] != 0
    lines = lines_of(cells, 2 * step + broken, step > 0, _FINE * point)
    first = lines.first
    order = np.argsort(np.where(step[first] == NOT_KNOWN, -1, step[first]), kind="stable")
    widths = np.array([width for _, width in STEPS.values()] + [1.5])[step[first]]
    dashes: list[Any] = []
    for k in order:
        unknown = step[first[k]] == NOT_KNOWN
        dashes.append((0, (0.2, 1.6)) if unknown else dash_of(widths[k]) if broken[first[k]] else "solid")
    points, outward = lines.split(lines.points), lines.split(lines.outward)
    bounds = [0.0, *(min(b, 1.0) for b in CLASSES.values())]
    colours = step_colours(cmap)
    scale = ListedColormap(np.array([to_rgba(PAPER), *colours[1:]]), "steps").with_extremes(bad=SOFT)
    worst = np.where(np.isfinite(values[cells.row, cells.side]), values[cells.row, cells.side], np.nan)
    # a line's value is its step's own where a dip was filled
    ends = np.append(lines.first[1:], len(cells.row)) if len(first) else first
    peak = np.array([np.nanmax(np.append(worst[a:b][step[a:b] == step[a]], np.nan)) if step[a] < NOT_KNOWN else np.nan
                     for a, b in zip(first, ends, strict=True)])  # fmt: skip
    artist = Beside(
        [points[k] for k in order], [outward[k] for k in order], [widths[k] / 2 + _GAP for k in order],
        linewidths=[widths[k] for k in order], linestyles=dashes or "solid", capstyle="butt", joinstyle="round",
        zorder=1.5, gid="damage", cmap=scale, norm=BoundaryNorm(bounds, len(colours)),
    )  # fmt: skip
    artist.set_array(np.ma.masked_invalid(peak[order] if len(order) else np.zeros(0)))
    artist.set_rasterized(rasterized)
    ax.add_collection(artist, autolim=False)
    return artist


def _draw_bands(
    ax: Axes,
    values: FloatArray,
    cells: Cells,
    cmap: Colormap | None,
    norm: Normalize | None,
    risk_name: str,
    rasterized: bool,
) -> PolyCollection:
    """Bands of continuous colour inside the lips."""
    from matplotlib.collections import PolyCollection
    from matplotlib.colors import Normalize

    bands = PolyCollection(list(strips(cells, _BAND)), zorder=2.1, gid="bands", label=risk_name)
    shown = np.ma.masked_invalid(values[cells.row, cells.side])
    bands.set(array=shown, cmap=cmap if cmap is not None else risk_colours(), norm=norm or Normalize(0.0, 1.0))
    # a hair of their own colour closes the seams that viewers leave between neighbours
    bands.set(edgecolor="face", linewidth=0.2, rasterized=rasterized)
    ax.add_collection(bands, autolim=False)
    return bands


def _draw_bar(ax: Axes, bands: Collection, risk_name: str) -> None:
    """Colour bar beside the board, marked where the steps end."""
    bar = ax.figure.colorbar(bands, ax=ax, fraction=0.04, pad=0.03, shrink=0.7)
    bounds = [0.0, *(min(b, 1.0) for b in CLASSES.values())]
    if bands.norm.vmin == 0.0 and bands.norm.vmax == 1.0:
        bar.set_ticks(bounds, labels=[f"{b:.2f}" for b in bounds])
    bar.ax.tick_params(labelsize=KEY - 1)
    bar.set_label(f"{RISK_WORDS[risk_name]} [-]", fontsize=KEY)


def _draw_lips(ax: Axes, risk: RiskMap, cells: Cells, point: float, rasterized: bool) -> None:
    """The lips as thin lines, broken where a number leaves something out."""
    from matplotlib.collections import LineCollection

    broken = _looks(risk)[cells.row, cells.side] != 0
    lines = lines_of(cells, broken.astype(int), np.ones(len(broken), bool), _FINE * point)
    dashes: Any = [(0, (4.0, 2.9)) if broken[k] else "solid" for k in lines.first]
    artist = LineCollection(lines.split(lines.points) if len(lines.begin) else [], colors=INK, linewidths=0.55,
                            linestyles=dashes or "solid", capstyle="butt", zorder=3.2, gid="lips")  # fmt: skip
    artist.set_rasterized(rasterized)
    ax.add_collection(artist, autolim=False)


def _draw_air_moves(ax: Axes, air_moves: Sequence[AirMove]) -> None:
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
        ax.add_collection(LineCollection(runs, zorder=1.8, gid="air moves", **AIR), autolim=False)
    plunges = np.array([m.end[:2] for m in air_moves if m.kind == "plunge"])
    if len(plunges):
        trace(ax, plunges, linestyle="", zorder=4.4, gid="plunge", **RING)


def _draw_land_shapes(ax: Axes, lands: Sequence[Land]) -> None:
    """Thin lands filled in umber, from lip to lip."""
    from matplotlib.collections import PolyCollection

    pieces: list[FloatArray] = []
    for land in lands:
        for part in np.split(land.lips, np.flatnonzero(np.isnan(land.lips[:, 0, 0]))):
            both = part[np.isfinite(part[:, 0, 0])]
            if not len(both):
                continue
            one, other = both[:, 0], both[:, 1]
            if land.closed:
                pieces.append(np.vstack([one, one[:1], other[:1], other[::-1]]))
            else:
                pieces.append(np.vstack([one, other[::-1]]))
    if pieces:
        ax.add_collection(PolyCollection(pieces, facecolors=UMBER, edgecolors=UMBER, linewidths=0.6, zorder=2.8,
                                         gid="lands"), autolim=False)  # fmt: skip


def _draw_way(ax: Axes, risk: RiskMap, point: float) -> None:
    """Heads inside the grooves that point with the feed, and a dot where each begins."""
    from matplotlib.collections import PathCollection
    from matplotlib.path import Path as Outline
    from matplotlib.transforms import IdentityTransform

    paths = [risk.xy[chain(risk, rows, closed)] for rows, closed in grooves_of(risk)]
    if not paths:
        return
    spots, ways = [], []
    longest = sorted((float(np.hypot(*np.diff(p, axis=0).T).sum()) for p in paths), reverse=True)
    least = 0.999 * longest[min(59, len(longest) - 1)]
    for path in paths:
        reach = np.append(0.0, np.cumsum(np.hypot(*np.diff(path, axis=0).T)))
        if reach[-1] < max(least, 18 * point):
            continue
        count = int(np.clip(reach[-1] / (110 * point), 1, 40))
        at = np.clip(np.searchsorted(reach, reach[-1] * (np.arange(count) + 0.5) / count), 1, len(path) - 1)
        spots.append((path[at] + path[at - 1]) / 2)
        ways.append(unit_vectors(path[at] - path[at - 1]))
    if spots:
        head = _HEAD
        turned = []
        for c, s in np.concatenate(ways):
            turned.append(Outline(head @ np.array([[c, s], [-s, c]]), closed=True))
        arrows = PathCollection(turned, sizes=[64.0], offsets=np.concatenate(spots), offset_transform=ax.transData)
        arrows.set_transform(IdentityTransform())
        arrows.set(facecolor=PAPER, edgecolor=INK, linewidth=0.55, zorder=3.5, gid="feed")
        ax.add_collection(arrows, autolim=False)
    starts = np.array([path[0] for path in paths[:200]])
    trace(ax, starts, linestyle="", zorder=3.6, gid="start", **_START)


_HEAD = np.array([[0.62, 0.0], [-0.5, 0.42], [-0.28, 0.0], [-0.5, -0.42], [0.62, 0.0]])
"""The head that shows the way of the cut, 1 long."""

_START: dict[str, Any] = {
    "marker": "o", "markersize": 3.6, "markerfacecolor": INK, "markeredgecolor": PAPER, "markeredgewidth": 0.6,
}  # fmt: skip


# ------------------------------------------------------------------------------------------------------- tags


def _ground(
    risk: RiskMap, cells: Cells, point: float, low: FloatArray, high: FloatArray, key: bool
) -> Callable[[], Ground]:
    """What of the page is taken: grooves, the lines beside them, the strip."""

    def made() -> Ground:
        size = (high - low) / point
        ground = Ground((float(size[0]), float(size[1])))
        ground.take_discs((risk.xy - low) / point, risk.half_width / point + 0.3)
        damage = np.nan_to_num(risk.damage[cells.row, cells.side])
        marked = damage >= CLASSES["clean"]
        widths = np.array([width for _, width in STEPS.values()])
        step = np.searchsorted(list(CLASSES.values()), damage[marked], side="right")
        ground.take_discs((cells.lip[marked, 1] - low) / point, widths[step] + _GAP + 0.5)
        if key:
            ground.take_box(np.zeros(2), np.array([size[0], 25.0]))
        return ground

    return made


def _draw_tags(
    ax: Axes,
    risk: RiskMap,
    places: Sequence[Place],
    lands: Sequence[Land],
    ground: Callable[[], Ground],
    point: float,
    low: FloatArray,
) -> None:
    """Numbers of the worst stretches, the first with its length, and letters of the thin lands, each with a hair."""
    words: list[str] = []
    feet: list[FloatArray] = []
    out: list[FloatArray] = []
    styles: list[dict[str, Any]] = []
    shown: set[int] = set()
    for place in numbered(places):
        rows = np.array(place.some)
        k = SIDES.index(place.side)
        words.append(f"{place.rank}" if place.rank > 1 or 1 in shown else f"1: {_mm(place.length)}")
        shown.add(place.rank)
        feet.append(risk.lip_xy[rows, k])
        out.append(unit_vectors(risk.lip_xy[rows, k] - risk.xy[rows]))
        styles.append({"color": INK, "fontweight": "bold", "gid": "place"})
    for k, land in enumerate(lands[:26]):
        words.append(_letter(k))
        feet.append(np.array([land.narrowest], dtype=float))
        out.append(np.zeros((1, 2)))
        styles.append({"color": UMBER, "fontweight": "bold", "fontstyle": "italic", "gid": "land letter"})
    if not words:
        return
    sizes = [(1.08 * text_width(w, SUB, bold=True) + 3, 11.0) for w in words]
    tags = place_tags(ground(), [(f - low) / point for f in feet], out, sizes)
    patch = {"boxstyle": "square,pad=0.12", "facecolor": BOARD, "edgecolor": "none"}
    for said, foot, way, tag, style in zip(words, feet, out, tags, styles, strict=True):
        if tag is None:
            continue
        middle = low + tag.middle * point
        begin = foot[tag.chosen] + way[tag.chosen] * point * (1.0 if style["gid"] == "place" else 0.0)
        hair: dict[str, Any] = {"arrowstyle": "-", "linewidth": 0.7, "shrinkA": 0, "shrinkB": 0}
        hair["color"] = style["color"]
        ax.annotate(said, tuple(begin), tuple(middle), ha="center", va="center", fontsize=SUB, zorder=8, bbox=patch,
                    arrowprops=hair, annotation_clip=True, **style)  # fmt: skip


def _letter(k: int) -> str:
    return "abcdefghijklmnopqrstuvwxyz"[k]


def _spot(place: Place) -> tuple[int, int]:
    return place.row, SIDES.index(place.side)


# -------------------------------------------------------------------------------------------------- signs, words


def knowledge_lines(thing: RiskMap | Rose) -> list[str]:
    """What a map or a rose rests on, in sentences."""
    if isinstance(thing, RiskMap) and thing.band is not None:
        return str(thing.band).splitlines()
    return [str(thing.setup.get("learned") or PRIOR)]


def _patch_sign(step: int) -> Callable[[], OffsetBox]:
    def sign() -> OffsetBox:
        bounds = [0.0, *(min(b, 1.0) for b in CLASSES.values())]
        return swatch(risk_colours()(sum(bounds[step : step + 2]) / 2))

    return sign


def _nothing() -> OffsetBox | None:
    return None


def _not_known_sign() -> OffsetBox:
    from matplotlib.lines import Line2D

    area = swatch()
    area.add_artist(Line2D([0, 24], [3, 3], color=INK, linewidth=0.8))
    area.add_artist(Line2D([0, 24], [4.6, 4.6], color=SOFT, linewidth=1.5, linestyle=(0, (0.2, 1.6))))
    return area


def _way_sign() -> OffsetBox:
    from matplotlib.patches import Polygon

    area = swatch(HOLLOW)
    area.add_artist(Polygon([12.0, 5.5] + 9.0 * _HEAD, facecolor=PAPER, edgecolor=INK, linewidth=0.6))
    return area


def _start_sign() -> OffsetBox:
    from matplotlib.lines import Line2D

    area = swatch(HOLLOW)
    area.add_artist(Line2D([12], [5.5], **_START))
    return area


def _land_sign() -> OffsetBox:
    from matplotlib.patches import Polygon

    area = swatch(HOLLOW)
    area.add_artist(Polygon([(1, 1.5), (23, 5.5), (1, 9.5)], facecolor=UMBER, edgecolor=UMBER, linewidth=0.6))
    return area


def _air_sign() -> OffsetBox:
    from matplotlib.collections import LineCollection

    area = swatch()
    area.add_artist(LineCollection([[(1, 5.5), (23, 5.5)]], **AIR))
    return area


def _plunge_sign() -> OffsetBox:
    from matplotlib.lines import Line2D

    area = swatch()
    area.add_artist(Line2D([12], [5.5], **RING))
    return area
