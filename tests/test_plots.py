"""Pictures, tested by reading the artists: where they lie, what they hold, what they say.

"Definition" marks what the docstring of the function promises; other sources are named beside the check. No picture
is compared with a stored one.
"""

from __future__ import annotations

import io
import itertools
import re
import subprocess
import sys
from dataclasses import replace

import matplotlib.pyplot as plt
import numpy as np
import pytest
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.collections import LineCollection, PathCollection, PolyCollection
from matplotlib.colors import to_rgba
from matplotlib.figure import Figure
from matplotlib.text import Text
from shapely import LineString, Point, Polygon
from shapely.ops import unary_union

from chipsim.chips.passes import tooth_passes
from chipsim.damage.mapping import risk_map
from chipsim.damage.maps import CLASSES, DOUBTS
from chipsim.damage.rose import risk_rose
from chipsim.damage.scale import closed_values
from chipsim.errors import DomainError
from chipsim.limits.lands import thin_lands
from chipsim.pictures.artists import fibre_lines
from chipsim.pictures.chips import animate_tooth_passes, draw_tooth_passes
from chipsim.pictures.page import HOLLOW, STEPS, step_colours
from chipsim.pictures.risk_map import draw_risk_map
from chipsim.pictures.rose import draw_rose
from chipsim.pictures.setup import draw_profile
from chipsim.scene.cuts import AirMove, Carving, Cut
from chipsim.scene.cutters import ProfileBit, VBit
from chipsim.scene.grain import Board, grain_field, straight_grain
from chipsim.scene.machine import Machine
from chipsim.scene.paths import line, polyline, ring
from chipsim.scene.species import wood

CHERRY = wood("black cherry", 8)
BIT = VBit(60, 12.7, 2, 0.2)
BAND = 0.6  # definition: share of the half-width that a band covers


def a_map(path, azimuth=0.0, *, pitch=0.25, grain=None, **cut):
    cut = {"bit": BIT, "spindle_speed": 18_000, "feed": 1500, **cut}
    return risk_map(Cut(path=path, **cut), Board(CHERRY, grain or straight_grain(azimuth)), pitch=pitch)


MAPS = {
    "line": lambda: a_map(line((0, 0), (20, 0), 2.0), 30),
    "ring": lambda: a_map(ring(20, 2.5), 30, pitch=0.5),
    "corner": lambda: a_map(polyline([(0, 0), (12, 0), (12, 9), (3, 6)], 2.0), 30),
    "closed": lambda: a_map(polyline([(0, 0), (14, 0), (5, 10)], 2.0, closed=True), 120, spin="ccw"),
    "crossing": lambda: a_map(polyline([(0, 0), (15, 10), (15, 0), (0, 10)], 1.5), 45),
    "ramp": lambda: a_map(line((0, 0), (25, 4), (0.0, 4.0)), 75, spindle_speed=12_000, feed=2500),
    "bending": lambda: a_map(ring(15, 2), grain=grain_field(lambda x, y: 10 + 3 * x, "bending"), pitch=0.5),
    "hairpin": lambda: a_map(
        polyline([(0, 0), (20, 0), (20, 4), (0, 4)], 2), grain=grain_field(lambda x, y: 40 - 2 * x, "bending")
    ),
    "deep": lambda: a_map(line((0, 0), (0, 20), (1.0, 5.0)), 20, bit=VBit(90, 6.35)),
}
_made: dict = {}


def the_map(name):
    if name not in _made:
        _made[name] = MAPS[name]()
    return _made[name]


def axes(**kwargs):
    return Figure(figsize=(7, 7)).add_subplot(**kwargs)


def by_gid(ax, gid):
    return [a for a in ax.findobj(lambda a: a.get_gid() == gid)]


def words(artist):
    """All text of an artist and its children, white space made one blank."""
    return " ".join(" ".join(t.get_text() for t in artist.findobj(Text)).split())


def bands_of(risk, ax=None, **kwargs):
    """The map in colours: a band for every piece of lip."""
    return draw_risk_map(risk, ax or axes(), form="colours", colour_bar=False, **kwargs)


def corners(bands):
    """(cells, 6, 2) corners of the bands: lip before, at, after; inner after, at, before."""
    return np.array([p.vertices[:6] for p in bands.get_paths()])


@pytest.fixture(autouse=True)
def _no_figures_left():
    plt.switch_backend("Agg")
    yield
    plt.close("all")


# -------------------------------------------------------------------------------------- where the bands lie


@pytest.mark.parametrize("name", MAPS)
def test_every_lip_has_one_band_and_lies_on_it(name):
    # definition: the band's outer edge is the lip; where there is no lip there is no band; left first, then right
    risk = the_map(name)
    bands = bands_of(risk)
    cells = corners(bands)
    at = np.concatenate([risk.lip_xy[risk.exists[:, k], k] for k in range(2)])
    value = np.concatenate([risk.damage[risk.exists[:, k], k] for k in range(2)])
    axis = np.concatenate([risk.xy[risk.exists[:, k]] for k in range(2)])
    assert isinstance(bands, PolyCollection)
    assert len(cells) == risk.exists.sum()
    assert np.array_equal(cells[:, 1], at)
    assert np.array_equal(bands.get_array(), value)
    np.testing.assert_allclose(cells[:, 4], at + BAND * (axis - at), atol=1e-12)


def test_bands_of_a_straight_groove():
    # closed form: a level V-groove of depth d has lips at +-(tip / 2 + d tan 30 deg), and square ends to each cell
    risk = the_map("line")
    w = 0.1 + 2.0 * np.tan(np.radians(30))
    run = risk.kind == "run"
    cells = corners(bands_of(risk))
    for k, sign in ((0, 1.0), (1, -1.0)):
        side = cells[k * len(risk) : (k + 1) * len(risk)][run]
        np.testing.assert_allclose(side[:, :3, 1], sign * w, atol=1e-9)
        np.testing.assert_allclose(side[:, 3:, 1], sign * (1 - BAND) * w, atol=1e-9)
        edges = 20 * np.arange(run.sum() + 1) / run.sum()
        np.testing.assert_allclose(side[:, 0, 0], edges[:-1], atol=1e-9)
        np.testing.assert_allclose(side[:, 2, 0], edges[1:], atol=1e-9)


def test_bands_of_a_ring_close_and_follow_the_circles():
    # closed form: lips are circles of radius R - w (left of a counter-clockwise path) and R + w
    risk = the_map("ring")
    w = 0.1 + 2.5 * np.tan(np.radians(30))
    cells = corners(bands_of(risk))
    n = len(risk)
    for part, radius in ((cells[:n], 20 - w), (cells[n:], 20 + w)):
        np.testing.assert_allclose(np.hypot(*part[:, :3].T), radius, atol=1e-9)
        assert np.array_equal(part[:, 2], np.roll(part[:, 0], -1, axis=0))
        assert np.array_equal(part[:, 3], np.roll(part[:, 5], -1, axis=0))
    # neighbours neither gap nor overlap: the areas add up to that of their union (shapely)
    shapes = [Polygon(c) for c in cells]
    assert unary_union(shapes).area == pytest.approx(sum(s.area for s in shapes), rel=1e-9)
    inner, outer = (20 - w, 20 - (1 - BAND) * w), (20 + (1 - BAND) * w, 20 + w)
    exact = np.pi * sum(b * b - a * a for a, b in (inner, outer))
    assert sum(s.area for s in shapes) == pytest.approx(exact, rel=2e-4)


@pytest.mark.parametrize("name", ["corner", "closed", "ramp"])
def test_bands_go_round_corners_and_ends(name):
    # closed form: the outline of a groove about a vertex is a circle of the half-width there; the rest of it is the
    # lips, so the lines drawn add up to the lips' length
    risk = the_map(name)
    bands = bands_of(risk)
    cells = corners(bands)
    rows = np.concatenate([np.flatnonzero(risk.exists[:, k]) for k in range(2)])
    fan = risk.kind[rows] != "run"
    assert fan.sum() > 4
    off = cells[fan][:, :3] - risk.xy[rows[fan], None]
    np.testing.assert_allclose(
        np.hypot(*np.moveaxis(off, -1, 0)), np.tile(risk.half_width[rows[fan], None], 3), atol=1e-9
    )
    drawn = np.hypot(*np.moveaxis(np.diff(cells[:, :3], axis=1), -1, 0)).sum()
    # chords fall short by (cell / half-width)^2 / 96 in a fan; near an inner corner a cell is drawn as a whole
    assert drawn == pytest.approx(risk.lip_length.sum(), rel=3e-3)
    # left and right bands stay apart, and no band leaves the groove (shapely; its circles are 64-gons a quarter)
    shapes = [Polygon(c).buffer(0) for c in cells]
    # all three begin at the origin; a ramp from the face begins with the flat of its tip
    begin = 0.1 if name == "ramp" else risk.half_width[0]
    spots = [(0.0, 0.0, begin), *zip(*risk.xy.T, risk.half_width, strict=True)]
    spots += spots[:1] if risk.setup["closed"][0] else []
    groove = unary_union(
        [unary_union([Point(x, y).buffer(r, 64) for x, y, r in pair]).convex_hull for pair in itertools.pairwise(spots)]
    )
    assert unary_union(shapes).difference(groove.buffer(2e-3)).area < 1e-9
    half = risk.exists[:, 0].sum()
    run = [s for s, f in zip(shapes, fan, strict=True) if not f]
    n = int((~fan[:half]).sum())
    assert unary_union(run[:n]).intersection(unary_union(run[n:])).area < 1e-9


def test_a_crossing_parts_the_bands():
    # definition: no band where there is no lip, and none is stretched across the gap
    risk = the_map("crossing")
    removed = ~risk.exists & (risk.kind == "run")[:, None]
    assert removed.sum() > 8
    cells = corners(bands_of(risk))
    longest = np.hypot(*np.moveaxis(np.diff(cells[:, :3], axis=1), -1, 0)).sum(axis=1)
    assert longest.max() < 2 * risk.lip_length.max()
    at = np.array([7.5, 5.0])  # where the two strokes cross
    assert np.hypot(*(cells[:, :3] - at).reshape(-1, 2).T).min() > 0.8 * risk.half_width.max()


def test_a_stroke_through_the_round_of_a_corner_parts_its_band():
    # definition, as above; here only rows of the corner itself are gone
    path = polyline([(0, 0), (10, 0), (10, 8), (18, 8), (18, -8), (2, 8)], [3.0, 3.0, 3.0, 0.6, 0.6, 0.6])
    risk = a_map(path, pitch=0.1)
    round_it = (risk.kind == "corner") & (np.hypot(*(risk.xy - [10, 0]).T) < 1e-9)
    gone = ~risk.exists[round_it, 1]
    assert gone[len(gone) // 2]
    assert not gone[[0, -1]].any()
    cells = corners(bands_of(risk))
    longest = np.hypot(*np.moveaxis(np.diff(cells[:, :3], axis=1), -1, 0)).sum(axis=1)
    assert longest.max() < 2 * risk.lip_length.max()


@pytest.mark.parametrize("name", MAPS)
def test_the_groove_is_drawn_whole_and_neutral(name):
    # definition: the groove at true width; its outline fills under the non-zero rule, every part clockwise
    risk = the_map(name)
    ax = axes()
    draw_risk_map(risk, ax)
    (groove,) = by_gid(ax, "groove")
    polygons = groove.get_path().to_polygons(closed_only=True)
    area = [np.sum(p[:-1, 0] * p[1:, 1] - p[1:, 0] * p[:-1, 1]) / 2 for p in polygons]
    assert max(area) <= 1e-12
    union = unary_union([Polygon(p).buffer(0) for p in polygons])
    lips = risk.lip_xy[risk.exists]
    off = [union.exterior.distance(Point(p)) for p in lips]
    holes = [min([h.distance(Point(p)) for h in union.interiors], default=np.inf) for p in lips]
    assert np.minimum(off, holes).max() < 0.02
    assert groove.get_facecolor() == to_rgba(HOLLOW)


def test_coarse_maps_and_grooves_without_lips_draw():
    # definition; nothing here may divide by zero (warnings are errors)
    for risk in (
        a_map(line((0, 0), (5, 0), 1.0), pitch=50),
        a_map(ring(3, 1.0), pitch=50),
        a_map(line((0, 0), (5, 0), 0.0), bit=VBit(60, 12.7)),
    ):
        bands = bands_of(risk)
        assert len(bands.get_paths()) == risk.exists.sum()
        draw_risk_map(risk, axes()).figure.savefig(io.BytesIO(), format="png")
        bands.figure.savefig(io.BytesIO(), format="png")


# ------------------------------------------------------------------------------------------------ colour, hatch


def lightness(rgba):
    """CIE 1976 L* of sRGB colours (IEC 61966-2-1)."""
    c = np.asarray(rgba)[..., :3]
    linear = np.where(c <= 0.04045, c / 12.92, ((c + 0.055) / 1.055) ** 2.4)
    y = linear @ [0.2126, 0.7152, 0.0722]
    return np.where(y > (6 / 29) ** 3, 116 * np.cbrt(y) - 16, y * (29 / 3) ** 3)


def test_colours_survive_grey_print():
    bands = bands_of(the_map("ring"))
    assert (bands.norm.vmin, bands.norm.vmax) == (0.0, 1.0)  # definition: maps compare
    colours = bands.cmap(np.linspace(0, 1, bands.cmap.N))
    steps = np.diff(lightness(colours))
    assert (steps < 0).all()  # high risk is dark
    assert steps.min() > 2.5 * steps.mean()  # perceptually uniform: no jump
    grey = colours[:, :3] @ [0.299, 0.587, 0.114]  # ITU-R BT.601 luma, what a grey printer driver makes of it
    assert (np.diff(grey) < 0).all()
    bounds = [0.0, *(min(b, 1.0) for b in CLASSES.values())]
    middles = lightness(bands.cmap((np.array(bounds[1:]) + bounds[:-1]) / 2))
    assert (-np.diff(middles) > 8).all()  # neighbouring classes are told apart by lightness alone
    r, g, b = colours[:, 0], colours[:, 1], colours[:, 2]
    assert not ((g > r + 0.05) & (g > b)).any()  # no green to confuse with the reds


@pytest.mark.parametrize("name", MAPS)
def test_lines_beside_the_lips_hold_the_steps(name):
    """Definition: what is clean has no line; a line's value is of its step, its colour and width the step's."""
    risk = the_map(name)
    ax = axes()
    lines = draw_risk_map(risk, ax)
    assert isinstance(lines, LineCollection)
    worst = np.ma.filled(lines.get_array(), np.nan)
    assert (worst >= CLASSES["clean"]).all()
    bounds = list(CLASSES.values())
    step = np.searchsorted(bounds, worst, side="right")
    assert (np.diff(step) >= 0).all()  # the worst lies on top
    np.testing.assert_array_equal(lines.get_linewidths(), [list(STEPS.values())[k][1] for k in step])
    lines.update_scalarmappable()
    drawn = {k: to_rgba(lines.to_rgba(v)) for k, v in zip(step, worst, strict=True)}
    for k, colour in drawn.items():
        np.testing.assert_allclose(colour, step_colours()[k], atol=1e-9)
    if len(worst):
        assert worst.max() == risk.damage[risk.exists].max()  # a closing loses no peak
    # every lip that is worse than clean lies on a line; closing can only add to them
    points = np.concatenate(lines._lines) if len(worst) else np.zeros((0, 2))
    spots = unary_union([LineString(line) for line in lines._lines if len(line) > 1]) if len(points) else None
    for xy in risk.lip_xy[risk.exists & (risk.damage >= CLASSES["clean"])]:
        assert spots.distance(Point(xy)) < 0.03


def test_lines_keep_their_distance_from_the_lip_on_any_page():
    """Definition: half a line and a hair outwards, in points of the page, whatever the scale of the axes."""
    risk = the_map("ring")
    for width in (3.0, 9.0):
        ax = Figure(figsize=(width, width)).add_subplot()
        lines = draw_risk_map(risk, ax)
        FigureCanvasAgg(ax.figure).draw()
        per_mm = np.hypot(*(ax.transData.transform([[0, 0], [1, 0]])[1] - ax.transData.transform([0, 0])))
        points = per_mm * 72 / ax.figure.dpi
        for drawn, wide in zip(lines.get_segments(), lines.get_linewidths(), strict=True):
            radius = np.hypot(*drawn.T)
            inner = radius < 20
            w = 0.1 + 2.5 * np.tan(np.radians(30))
            off = np.where(inner, 20 - w - radius, radius - 20 - w) * points
            np.testing.assert_allclose(off, wide / 2 + 0.45, atol=0.05)


def test_values_near_a_bound_do_not_flicker():
    """Closing: dips shorter than three points of the page are filled, longer ones stay, no value falls."""
    values = np.array([0.3, 0.24, 0.3, 0.2, 0.2, 0.2, 0.2, 0.3, np.nan, 0.3, 0.05])
    joined = np.array([False] + [True] * 10)
    closed = closed_values(values, joined, np.full(11, 1.0), 2.0)
    np.testing.assert_array_equal(closed[:8], [0.3, 0.3, 0.3, 0.2, 0.2, 0.2, 0.2, 0.3])
    assert np.isnan(closed[8])
    assert np.nanmin(closed - values) >= 0
    apart = closed_values(values, np.array([False, False] + [True] * 9), np.full(11, 1.0), 2.0)
    assert apart[1] == 0.24 + 0 * apart[1] or apart[1] == 0.3  # a dip at an end may be filled from its own side only
    rng = np.random.default_rng(1)
    for _ in range(20):
        some = rng.uniform(0, 1, 60)
        out = closed_values(some, rng.uniform(0, 1, 60) < 0.9, rng.uniform(0.1, 0.4, 60), 1.0)
        assert (out >= some).all()
        assert out.max() == some.max()


@pytest.mark.parametrize("name", MAPS)
def test_doubt_breaks_the_line_and_says_why(name):
    """Definition: lips and lines are broken where and only where a number leaves something out; the key says what."""
    risk = the_map(name)
    ax = axes()
    draw_risk_map(risk, ax)
    said = words(ax)
    codes = {int(c) for c in risk.doubt[risk.exists]} - {0}
    for code, reason in DOUBTS.items():
        if code:
            assert (f"broken: {reason}" in said) == (code in codes)
    (lips,) = by_gid(ax, "lips")
    broken = [style[1] is not None for style in lips.get_linestyles()]
    in_doubt = risk.lip_xy[risk.exists & (risk.doubt > 0)]
    sure = risk.lip_xy[risk.exists & (risk.doubt == 0)]
    for shown, points in ((True, in_doubt), (False, sure)):
        lines = [LineString(seg) for seg, b in zip(lips.get_segments(), broken, strict=True) if b == shown]
        if len(points):
            near = unary_union(lines)
            assert max(near.distance(Point(p)) for p in points) < 0.03
    assert any(broken) == bool(codes)


def test_doubts_occur_in_these_maps():
    seen = {int(c) for name in MAPS for c in np.unique(the_map(name).doubt)}
    assert seen >= {0, 1, 2, 3, 4}


def test_a_risk_that_is_not_known_is_dotted_and_says_so():
    # definition; never painted as safe
    ax = axes()
    known = the_map("ring")
    unknown = replace(known, tear=np.full_like(known.tear, np.nan))
    lines = draw_risk_map(unknown, ax, risk_name="tear")
    assert np.ma.getmaskarray(lines.get_array()).all()
    length = sum(np.hypot(*np.diff(line, axis=0).T).sum() for line in lines._lines)
    assert length == pytest.approx(known.lip_length.sum(), rel=1e-3)
    assert all(style[1] is not None for style in lines.get_linestyles())
    assert "not known 251 mm" in words(ax)
    assert "Tear-out is not known" in ax.get_title(loc="left")
    bands = bands_of(unknown, risk_name="tear")
    assert lightness(bands.cmap(np.ma.masked_all(1))[0]) > 99


# ------------------------------------------------------------------------------------------- what stands round it


@pytest.mark.parametrize("name", MAPS)
def test_map_says_what_a_carver_asks(name):
    # common practice, no source: the answer first, the set-up, steps in words, scale bar, what it rests on
    risk = the_map(name)
    ax = axes()
    draw_risk_map(risk, ax, rulers=True)
    said = words(ax)
    assert (ax.get_xlabel(), ax.get_ylabel(), ax.get_aspect()) == ("x [mm]", "y [mm]", 1.0)
    title, how_much = risk.answer()
    assert " ".join(ax.get_title(loc="left").split()) == title
    turns = "clockwise" if risk.setup["spin"] == "cw" else "counter-clockwise"
    for phrase in (
        how_much,
        risk.setup["caption"],
        "Black cherry, 8 % moisture",
        f"grain {risk.setup['grain']}",
        "no test piece has been graded",
        f"the spindle turns {turns}",
        "start",
        *(f"{k} {v:.0f} mm" if v >= 9.5 else f"{k} {v:.1f} mm" for k, v in risk.lengths_by_class().items() if v > 0.05),
    ):
        assert phrase in said, phrase
    # nothing stands in the key that is not in the picture
    for step, length in risk.lengths_by_class().items():
        assert length > 0 or f"{step} 0" not in said
    (bar,) = by_gid(ax, "scale bar")
    size = np.ptp(bar.get_xdata())
    number = re.search(r"([\d.]+) mm(?: \(([\d.]+) in\))?$", next(
        t.get_text() for t in ax.texts if re.fullmatch(r"[\d.]+ mm( \([\d.]+ in\))?", t.get_text())
    ))  # fmt: skip
    assert float(number.group(1)) == pytest.approx(size, rel=1e-12)
    if number.group(2):
        # 1 in = 25.4 mm exactly; printed to three figures
        assert float(number.group(2)) == pytest.approx(size / 25.4, rel=5e-3)
    low, high = np.array([ax.get_xlim(), ax.get_ylim()]).T
    reach = risk.half_width[:, None]
    assert ((risk.xy - reach > low) & (risk.xy + reach < high)).all()
    assert max(bar.get_ydata()) < (risk.xy - reach)[:, 1].min()


def test_the_answer_is_that_of_the_numbers():
    """Definition of the title: clean, a brush, or what it is and which way the strokes run."""
    ring = the_map("ring")

    def with_fuzz(value):
        nothing = np.zeros_like(ring.fuzz)
        return replace(ring, fuzz=np.broadcast_to(value, ring.fuzz.shape) + nothing, tear=nothing, scorch=nothing)

    assert with_fuzz(0.05).answer()[0] == "The lips come out clean"
    assert with_fuzz(0.2).answer() == ("A brush is enough", "251 of 251 mm of lip want a brush, nothing more.")
    assert with_fuzz(0.6).answer()[0] == "Fuzz nearly everywhere"
    for azimuth, words_ in ((0, "from left to right"), (45, "like this: /"), (90, "up and down"),
                            (135, "like this: \\")):  # fmt: skip
        along = np.abs((ring.heading - azimuth + 90) % 180 - 90) < 15
        assert with_fuzz(np.where(along, 0.6, 0.0)).answer()[0] == f"Fuzz where the groove runs {words_}"
    across = np.abs((ring.heading + 45) % 90 - 45) < 10
    assert with_fuzz(np.where(across, 0.6, 0.0)).answer()[0] == "Fuzz in several directions"
    tip = np.arange(len(ring.kind)) < 8
    ends = replace(with_fuzz(np.where(tip[:, None], 0.6, 0.0)), kind=np.where(tip, "end", ring.kind))
    assert ends.answer()[0] == "Fuzz at the ends of the groove"
    unknown = np.full_like(ring.fuzz, np.nan)
    assert replace(ring, fuzz=unknown, tear=unknown, scorch=unknown).answer()[0] == "Damage is not known"


def test_colour_bar_of_the_form_in_colours():
    ax = axes()
    draw_risk_map(the_map("ring"), ax, form="colours")
    (bar,) = [a for a in ax.figure.axes if a is not ax]
    bounds = [0.0, *(min(b, 1.0) for b in CLASSES.values())]
    np.testing.assert_allclose(bar.get_yticks(), bounds)
    assert bar.get_ylim() == (0.0, 1.0)
    assert bar.get_ylabel() == "damage [-]"


def test_one_colour_bar_serves_several_maps_and_other_colours_may_be_given():
    from matplotlib import colormaps
    from matplotlib.colors import Normalize

    figure = Figure(figsize=(9, 4), layout="constrained")
    both = [bands_of(the_map(n), ax) for n, ax in zip(("ring", "line"), figure.subplots(1, 2), strict=True)]
    assert both[0].norm.vmin == both[1].norm.vmin
    bar = figure.colorbar(both[0], ax=[b.axes for b in both])
    assert bar.ax in figure.axes
    lines = draw_risk_map(the_map("ring"), Figure().add_subplot(), cmap=colormaps["cividis"])
    k = int(np.searchsorted(list(CLASSES.values()), lines.get_array()[-1], side="right"))
    np.testing.assert_allclose(lines.to_rgba(lines.get_array()[-1]), colormaps["cividis"](list(STEPS.values())[k][0]))
    own = bands_of(the_map("ring"), cmap=colormaps["cividis"], norm=Normalize(0.0, 0.5))
    assert own.cmap.name == "cividis"
    assert own.norm.vmax == 0.5


@pytest.mark.parametrize("style", ["default", "dark_background"])
def test_maps_compose_under_constrained_layout(style):
    """Nothing that belongs to one map runs over the map beside it or off the sheet, on light pages and dark ones."""
    with plt.style.context(style):
        figure = plt.figure(figsize=(11, 8), layout="constrained")
        pair = figure.subplots(1, 2)
        for ax, name in zip(pair, ("ring", "corner"), strict=True):
            draw_risk_map(the_map(name), ax)
    FigureCanvasAgg(figure).draw()
    renderer = figure.canvas.get_renderer()
    one, other = (ax.get_tightbbox(renderer) for ax in pair)
    assert one.x1 <= other.x0 + 1
    for box in (one, other):
        assert box.x0 > -1
        assert box.y0 > -1
        assert box.x1 < figure.bbox.width + 1
        assert box.y1 < figure.bbox.height + 1
    for ax in pair:
        title = to_rgba(ax.title.get_color() if ax.title.get_text() else ax._left_title.get_color())
        page = to_rgba(figure.get_facecolor())
        assert abs(lightness(title) - lightness(page)) > 60


def test_grain_arrow():
    # definition: a double-headed arrow along a common azimuth (grain is an axis)
    ax = axes()
    draw_risk_map(the_map("corner"), ax)
    (note,) = by_gid(ax, "grain")
    assert note.arrow_patch.get_arrowstyle().arrow == "<|-|>"
    (x0, y0), (x1, y1) = note.xyann, note.xy
    assert np.degrees(np.arctan2(y1 - y0, x1 - x0)) % 180 == pytest.approx(30, abs=1e-9)


def test_straight_fibres_run_as_they_do_and_cover_the_board():
    """Definition: at the azimuth, so many points apart, over the whole page, nothing outside of it."""
    for azimuth in (0.0, 3.0, 90.0, 137.0):
        lines, widths = fibre_lines(azimuth, (300.0, 200.0))
        assert len(lines) == len(widths) > 60
        way = np.array([line[1] - line[0] for line in lines])
        turned = (np.degrees(np.arctan2(way[:, 1], way[:, 0])) - azimuth + 90) % 180 - 90
        assert np.abs(turned).max() < 1e-6
        ends = np.concatenate(lines)
        assert ends.min() > -1e-6
        assert (ends <= [300 + 1e-6, 200 + 1e-6]).all()
        # no bare patch: every square of 30 points is crossed
        spots = np.concatenate([line[0] + np.linspace(0, 1, 40)[:, None] * (line[1] - line[0]) for line in lines])
        squares = {tuple(c) for c in np.floor(spots / 30).astype(int)}
        assert {(i, j) for i in range(10) for j in range(6)} <= squares
    again = [fibre_lines(3.0, (99.0, 99.0))[0] for _ in range(2)]
    assert all(np.array_equal(a, b) for a, b in zip(*again, strict=True))


@pytest.mark.parametrize("name", ["bending", "hairpin"])
def test_fibres_that_turn_are_drawn_along_the_lips_own(name):
    """Definition: beside a lip a stroke runs as the fibres of that lip do; on the board, which says that they turn."""
    risk, ax = the_map(name), axes()
    draw_risk_map(risk, ax)
    (drawn,) = by_gid(ax, "fibres")
    lines = drawn.get_segments()
    assert len(lines) > 30
    rows, sides = np.nonzero(risk.exists)
    lips, azimuth = risk.lip_xy[rows, sides], np.radians(risk.fibre_azimuth[rows, sides])
    off = []
    for stroke in lines:
        middle, way = stroke[5], stroke[6] - stroke[4]
        near = np.hypot(*(lips - middle).T)
        if near.min() < 0.5:
            a = azimuth[np.argmin(near)]
            across = (way[0] * np.sin(a) - way[1] * np.cos(a)) / np.hypot(*way)
            off.append(abs(np.degrees(np.arcsin(np.clip(across, -1, 1)))))
    assert len(off) > 3
    assert max(off) < 15.0
    assert "fibres turn" in words(ax) or "fibres" in words(ax)


@pytest.mark.parametrize("turn", [0.0, 130.0])
def test_feed_heads_point_along_the_travel(turn):
    for path, at in ((line((0, 0), (20, 0), 2.0), turn), (line((0, 0), (20, 0), 2.0).reversed(), turn + 180)):
        ax = axes()
        draw_risk_map(a_map(path.rotated(turn), pitch=1.0), ax)
        (heads,) = by_gid(ax, "feed")
        assert len(heads.get_offsets()) >= 1
        for head in heads.get_paths():
            tip = head.vertices[0]
            way = np.array([np.cos(np.radians(at)), np.sin(np.radians(at))])
            np.testing.assert_allclose(tip / np.hypot(*tip), way, atol=1e-9)
    ax = axes()
    draw_risk_map(the_map("ring"), ax)  # counter-clockwise
    (heads,) = by_gid(ax, "feed")
    tips = np.array([p.vertices[0] for p in heads.get_paths()])
    spots = np.asarray(heads.get_offsets())
    assert (spots[:, 0] * tips[:, 1] - spots[:, 1] * tips[:, 0] > 0).all()


def test_flags_take_away_what_they_name():
    def drawn(**flags):
        ax = axes()
        draw_risk_map(the_map("corner"), ax, form="colours", **flags)
        return {
            "colour_bar": len(ax.figure.axes) > 1,
            "key": bool(by_gid(ax, "scale bar") or by_gid(ax, "place") or "way of the cut" in words(ax)),
            "caption": the_map("corner").setup["caption"] in words(ax) or bool(ax.get_title(loc="left")),
        }

    assert drawn() == {"colour_bar": True, "key": True, "caption": True}
    for flag in ("colour_bar", "key", "caption"):
        assert drawn(**{flag: False}) == {"colour_bar": True, "key": True, "caption": True, flag: False}
    ax = axes()
    draw_risk_map(the_map("corner"), ax, title="My sign", note="Turned by 30 degrees nothing needs sanding.")
    assert ax.get_title(loc="left") == "My sign"
    assert "Turned by 30 degrees nothing needs sanding." in words(ax)
    ax = axes()
    draw_risk_map(the_map("corner"), ax, title="")
    assert ax.get_title(loc="left") == ""


def test_lips_are_pixels_if_wanted():
    out = []
    for rasterized in (False, True):
        ax = axes()
        draw_risk_map(the_map("ring"), ax, rasterized=rasterized)
        handle = io.BytesIO()
        ax.figure.savefig(handle, format="svg")
        out.append(handle.getvalue())
    assert b"<image" not in out[0]
    assert b"<image" in out[1]
    assert b'id="damage"' in out[0]


def test_thin_lands_are_filled_and_lettered():
    cuts = [Cut(VBit(90, 12.7), ring(r, 2.0), 18_000, 1500) for r in (6, 10.6, 15.9)]
    board = Board(CHERRY, straight_grain(0))
    carving = Carving((*cuts, replace(cuts[0], path=line((21, -8), (21, 8), 2.0))))
    lands = thin_lands(carving, board)
    assert sorted(land.width for land in lands) == pytest.approx([0.6, 1.1, 1.3], abs=1e-3)
    ax = axes()
    draw_risk_map(risk_map(carving, board, pitch=1.0), ax, lands=lands)
    (filled,) = (c for c in ax.collections if c.get_gid() == "lands")
    assert len(filled.get_paths()) == len(lands)
    drawn = np.unique(np.concatenate([p.vertices for p in filled.get_paths()]), axis=0)
    given = np.unique(np.concatenate([np.concatenate(land.lips) for land in lands]), axis=0)
    np.testing.assert_allclose(drawn, given[np.isfinite(given).all(axis=1)])
    letters = {t.get_text(): t.xy for t in ax.texts if t.get_gid() == "land letter"}
    for letter, xy in letters.items():
        np.testing.assert_allclose(xy, lands["abc".index(letter)].narrowest)
    assert f"a to {'abc'[len(lands) - 1]}: thin lands" in words(ax)
    with pytest.raises(DomainError, match="lands must be a sequence of Land"):
        draw_risk_map(the_map("ring"), axes(), lands=[1])


def test_a_carving_is_drawn_groove_by_groove():
    # definition: nothing is drawn from one groove to the next, and either spin is in the key
    cuts = (
        Cut(BIT, line((0, 0), (20, 0), 2.0), 18_000, 1500),
        Cut(BIT, ring(5, 1.5).shifted(10, 12), 18_000, 1500, spin="ccw"),
        Cut(BIT, line((10, -4), (10, 4), 1.0), 12_000, 1500),
    )
    risk = risk_map(Carving(cuts), Board(CHERRY, straight_grain(30)))
    ax = axes()
    cells = corners(bands_of(risk, ax))
    assert np.array_equal(cells[:, 1], np.concatenate([risk.lip_xy[risk.exists[:, k], k] for k in range(2)]))
    longest = np.hypot(*np.moveaxis(np.diff(cells[:, :3], axis=1), -1, 0)).sum(axis=1)
    assert longest.max() < 2 * risk.lip_length.max()
    (lips,) = by_gid(ax, "lips")
    for piece in lips.get_segments():  # lips of no two grooves are joined
        along = np.concatenate([a + np.linspace(0, 1, 12)[:, None] * (b - a) for a, b in itertools.pairwise(piece)])
        near = [min(np.hypot(*(risk.lip_xy[risk.exists] - p).T)) for p in along]
        assert max(near) < 0.3
    (track,) = by_gid(ax, "toolpath")
    tracks = track.get_segments()
    assert len(tracks) == 3
    assert [bool(np.allclose(t[0], t[-1])) for t in tracks] == [False, True, False]
    (starts,) = by_gid(ax, "start")
    np.testing.assert_allclose(np.column_stack(starts.get_data()), [c.path.xy[0] for c in cuts], atol=0.15)
    (groove,) = by_gid(ax, "groove")
    union = unary_union([Polygon(p).buffer(0) for p in groove.get_path().to_polygons(closed_only=True)])
    assert not union.contains(Point(10, 12))  # the land inside the ring
    said = words(ax)
    assert "the spindle turns counter-clockwise and clockwise" in said
    assert risk.setup["caption"] in said
    draw_rose(risk, axes(projection="polar"))


def test_a_deeper_groove_from_the_end_of_another_has_its_round_start():
    # closed form: the start is a half disc of the second groove's half-width, 0.1 + 3 tan 30 deg = 1.83 mm
    cuts = [Cut(BIT, line((0, 0), (10, 0), 1.0), 18_000, 1500), Cut(BIT, line((10, 0), (10, 10), 3.0), 18_000, 1500)]
    ax = axes()
    draw_risk_map(risk_map(Carving(tuple(cuts)), Board(CHERRY, straight_grain(30))), ax)
    (groove,) = by_gid(ax, "groove")
    union = unary_union([Polygon(p).buffer(0) for p in groove.get_path().to_polygons(closed_only=True)])
    assert union.bounds[1] == pytest.approx(-(0.1 + 3 * np.tan(np.radians(30))), abs=1e-9)


def test_a_feed_that_was_worked_out_is_an_answer():
    """A machine that does not come up to the programmed feed: mapped as it goes, and nothing is broken for it."""
    slow = Machine(acceleration=200.0, max_feed=6000.0)
    risk = a_map(ring(20, 2.5), feed=4000, machine=slow)
    lips = risk.lip_length
    assert np.nanmax(risk.feed_per_tooth) < 4000 / (18_000 * 2)
    assert lips[risk.doubt > 0].sum() < 0.02 * lips.sum()


MOVES = (
    AirMove("rapid", (-50, 0, 0), (-50, 0, 5)),
    AirMove("rapid", (-50, 0, 5), (2, 3, 5)),
    AirMove("plunge", (2, 3, 5), (2, 3, -2), 300.0),
    AirMove("retract", (20, 0, -2), (20, 0, 5), before=1),
    AirMove("air", (20, 0, 5), (15, 4, 5), 900.0, before=1),
    AirMove("air", (15, 4, 5), (9, 2, 5), 900.0, before=1),
    AirMove("dwell", (9, 2, 5), (9, 2, 5), seconds=1.0, before=1),
)


def test_travel_is_grey_dots_and_rings_of_one_look():
    """Definition: runs over the face whatever the kind, a ring at every plunge; grey; the page stays as it is."""
    plain, ax = axes(), axes()
    draw_risk_map(the_map("line"), plain)
    draw_risk_map(the_map("line"), ax, air_moves=MOVES)
    (dots,) = by_gid(ax, "air moves")
    first, second = dots.get_segments()
    np.testing.assert_allclose(first, [(-50, 0), (2, 3)])
    np.testing.assert_allclose(second, [(20, 0), (15, 4), (9, 2)])
    (rings,) = by_gid(ax, "plunge")
    np.testing.assert_allclose(np.column_stack(rings.get_data()), [(2, 3)])
    colours = [*dots.get_colors(), to_rgba(rings.get_markeredgecolor())]
    assert len({tuple(c) for c in colours}) == 1
    assert len(set(colours[0][:3])) == 1  # grey
    assert rings.get_markerfacecolor() == "none"
    assert (ax.get_xlim(), ax.get_ylim()) == (plain.get_xlim(), plain.get_ylim())
    assert "moves in air" in words(ax)
    assert "plunge" in words(ax)
    assert not by_gid(plain, "air moves") + by_gid(plain, "plunge")
    assert "moves in air" not in words(plain)


def test_two_maps_share_one_axes():
    ax = axes()
    draw_risk_map(the_map("line"), ax)
    first = ax.get_xlim()
    draw_risk_map(the_map("ring"), ax, key=False, caption=False)
    assert len(by_gid(ax, "damage")) == 2
    assert len(by_gid(ax, "fibres")) == 1
    assert ax.get_xlim()[0] < first[0]
    assert ax.get_xlim()[1] >= first[1]


# --------------------------------------------------------------------------------------------------- the page


def passes_of_a_line(**kwargs):
    # feed per tooth 0.2 mm at two flutes; the cone reaches radius 3 mm at this height
    top = 3 / np.tan(np.radians(30))
    cut = Cut(VBit(60, 12.7, 2), line((0, 0), (6, 0), top), 15_000, 6000)
    return tooth_passes(cut, **{"start": 4, "angles": np.arange(0, 181, 3.0), "heights": [1.0, top], **kwargs})


PICTURES = {
    **{name: (lambda name=name, ax=None: draw_risk_map(the_map(name), ax)) for name in MAPS},
    "travel": lambda ax=None: draw_risk_map(the_map("line"), ax, air_moves=MOVES),
    "rose": lambda ax=None: draw_rose(a_rose(), ax),
    "rose of a map": lambda ax=None: draw_rose(the_map("corner"), ax),
    "passes": lambda ax=None: draw_tooth_passes(passes_of_a_line(), ax),
    "profile": lambda ax=None: draw_profile(BIT, ax, depth=2.5),
    "long bit": lambda ax=None: draw_profile(VBit(30, 6.35, cutting_length=8, max_spindle_speed=24_000), ax, depth=1),
    "shallow cut": lambda ax=None: draw_profile(VBit(120, 31.75, 3), ax, depth=0.8),
}


def a_rose(azimuth=30, **cut):
    cut = {"bit": BIT, "path": ring(20, 2.5), "spindle_speed": 18_000, "feed": 1500, **cut}
    return risk_rose(Cut(**cut), Board(CHERRY, straight_grain(azimuth)))


@pytest.mark.parametrize("name", PICTURES)
def test_axes_given_no_new_figure(name):
    ax = axes(projection="polar" if "rose" in name else None)
    artist = PICTURES[name](ax=ax)
    assert plt.get_fignums() == []
    assert artist.axes is ax
    artist = PICTURES[name]()
    assert plt.get_fignums() == [artist.figure.number]


@pytest.mark.parametrize("kind", ["png", "svg", "pdf"])
@pytest.mark.parametrize("name", ["corner", "bending", "rose", "rose of a map", "passes", "profile"])
def test_pictures_save(name, kind):
    ax = axes(projection="polar" if "rose" in name else None)
    PICTURES[name](ax=ax)
    out = io.BytesIO()
    ax.figure.savefig(out, format=kind, bbox_inches="tight")
    assert len(out.getvalue()) > 5000


@pytest.mark.parametrize("name", PICTURES)
def test_no_text_overlaps_or_leaves_the_sheet(name):
    # common practice, no source: a picture is read from paper; nothing may run over something else or off the edge
    figure = PICTURES[name]().figure
    renderer = FigureCanvasAgg(figure).get_renderer()
    figure.draw(renderer)
    boxes = []
    hidden = set()
    for ax in [a for base in figure.axes for a in (base, *base.child_axes)]:
        for axis, (low, high) in ((ax.xaxis, ax.get_xlim()), (ax.yaxis, ax.get_ylim())):
            for tick in axis.get_major_ticks():
                if ax.name != "polar" and not low - 1e-9 <= tick.get_loc() <= high + 1e-9:
                    hidden |= {tick.label1, tick.label2}
    for text in figure.findobj(Text):
        if text.get_text().strip() and text.get_visible() and text not in hidden:
            # the rings' labels sit on their spokes and the degree signs by the rim, all inside the polar axes
            # of a note the words alone: its hair may run past others
            boxes.append((text.get_text(), Text.get_window_extent(text, renderer)))
    assert len(boxes) > 8
    width, height = figure.bbox.width, figure.bbox.height
    for said, box in boxes:
        assert box.x0 > -1, said
        assert box.y0 > -1, said
        assert box.x1 < width + 1, said
        assert box.y1 < height + 1, said
    for (one, a), (other, b) in itertools.combinations(boxes, 2):
        over = min(a.x1, b.x1) - max(a.x0, b.x0), min(a.y1, b.y1) - max(a.y0, b.y0)
        # up to 1.5 px of the empty rim of a line of text may be shared
        assert min(over) < 1.5, (one, other, over)


@pytest.mark.parametrize("name", ["line", "ring", "corner"])
def test_own_figure_is_drawn_to_the_scale_it_states(name):
    ax = draw_risk_map(the_map(name)).axes
    scale = float(re.search(r"Drawn ([\d.]+):1", words(ax)).group(1))
    ax.apply_aspect()
    pixels = ax.transData.transform([[0, 0], [1, 0], [0, 1]])
    on_paper = (pixels[1:] - pixels[0]) / ax.figure.dpi * 25.4
    np.testing.assert_allclose(on_paper, scale * np.eye(2), atol=1e-6)


def test_matplotlib_is_imported_late_and_pyplot_only_for_new_figures():
    code = (
        "import sys, chipsim.pictures.setup\n"
        "assert not any(m.split('.')[0] == 'matplotlib' for m in sys.modules)\n"
        "from matplotlib.figure import Figure\n"
        "from chipsim.scene.cutters import VBit\n"
        "chipsim.pictures.setup.draw_profile(VBit(60, 12.7), Figure().add_subplot(), depth=2)\n"
        "assert 'matplotlib.pyplot' not in sys.modules\n"
    )
    subprocess.run([sys.executable, "-W", "error", "-c", code], check=True, timeout=120)


# ------------------------------------------------------------------------------------------------------ the rose


def test_rose_holds_the_numbers_of_the_rose():
    rose, ax = a_rose(), axes(projection="polar")
    artist = draw_rose(rose, ax)
    assert isinstance(artist, LineCollection)
    assert (ax.get_theta_offset(), ax.get_theta_direction()) == (0.0, 1)  # definition: east, counter-clockwise
    for k, drawn in enumerate(artist.get_segments()):
        np.testing.assert_allclose(drawn[:-1, 0], np.radians(rose.heading))
        assert np.array_equal(drawn[:-1, 1], rose.damage[:, k])
        assert np.array_equal(drawn[-1], drawn[0])  # the ring is closed
    top = ax.get_rmax()
    bounds = [0.0, *(min(b, 1.0) for b in CLASSES.values())]
    assert top == min(b for b in bounds if b >= rose.damage.max())  # definition: the end of a class
    left, right = artist.get_linestyles()
    assert left[1] is None  # solid
    assert right[1] is not None  # dashed
    # one shape where the lips differ by less than 0.05 (definition)
    apart = np.abs(rose.damage[:, 0] - rose.damage[:, 1]).max()
    said = words(ax)
    assert (artist.get_colors()[-1][3] > 0) == (apart >= 0.05) == ("Both lips are alike" not in said)
    differ = replace(rose, damage=rose.damage * [1.0, 0.5])
    other = axes(projection="polar")
    assert (draw_rose(differ, other).get_colors()[:, 3] > 0).all()
    for phrase in ("left lip (entry, conventional)", "right lip (exit, climb)"):
        assert phrase in words(other)
    assert rose.setup["caption"] in said
    (arrow,) = by_gid(ax, "grain")
    (x0, y0), (x1, y1) = arrow._posA_posB
    assert np.degrees(np.arctan2(y1 - y0, x1 - x0)) % 180 == pytest.approx(30)
    # the title names the headings that need sanding or re-cutting, and no others
    hard = rose.damage.max(axis=1) >= CLASSES["brush"]
    named = np.zeros(len(rose), bool)
    for low, high in re.findall(r"(\d+)°(?: to (\d+)°)?", ax.get_title(loc="left")):
        inside = (rose.heading.round() >= int(low)) & (rose.heading.round() <= int(high or low))
        named |= inside | (np.roll(inside, len(rose) // 2) if "To and fro are alike" in said else False)
    np.testing.assert_array_equal(named, hard)
    (petals,) = by_gid(ax, "petals")
    assert len(petals.get_paths()) == 2 * len(rose)


def test_part_of_a_rose_stays_open():
    some = risk_rose(
        Cut(BIT, ring(20, 2.5), 18_000, 1500), Board(CHERRY, straight_grain(0)), headings=[0.0, 30.0, 60.0]
    )
    for k, drawn in enumerate(draw_rose(some, axes(projection="polar")).get_segments()):
        np.testing.assert_allclose(drawn, np.column_stack([np.radians(some.heading), some.damage[:, k]]))


def test_radius_of_the_rose_fits_its_class():
    rose = a_rose()
    for peak, top in ((0.0, 0.1), (0.1, 0.1), (0.2, 0.25), (0.4, 0.5), (0.6, 1.0), (1.0, 1.0)):
        ax = axes(projection="polar")
        draw_rose(replace(rose, damage=np.full_like(rose.damage, peak)), ax)
        assert ax.get_rmax() == top


def test_rose_of_a_map_is_its_lips_against_their_heading():
    for name in ("corner", "bending"):
        risk, ax = the_map(name), axes(projection="polar")
        artist = draw_rose(risk, ax)
        assert isinstance(artist, PathCollection)
        angle, fuzz = np.ma.filled(artist.get_offsets(), np.nan).reshape(len(risk), 2, 2).transpose(2, 0, 1)
        np.testing.assert_allclose(angle[risk.exists], np.radians(risk.heading)[risk.exists])
        np.testing.assert_array_equal(fuzz, np.where(risk.exists, risk.damage, np.nan))
        assert len(artist.get_paths()) == 2  # a shape a side, in turn
        assert (artist.get_facecolor()[0, 3], artist.get_facecolor()[1, 3]) == (1.0, 0.0)
        assert bool(by_gid(ax, "grain")) == (name == "corner")  # a grain that turns has no one axis


# -------------------------------------------------------------------------------------------------- tooth passes


def test_chips_lie_between_the_paths_of_the_teeth():
    passes, ax = passes_of_a_line(), axes()
    chips = draw_tooth_passes(passes, ax, last=5)
    (edges,) = by_gid(ax, "edges")
    arcs = edges.get_segments()
    rows = np.arange(len(passes))[-5:]
    assert len(arcs) == 5
    assert len(chips.get_paths()) == 5
    tip = passes.edge_radius_about_axis[0, -1]
    assert tip == pytest.approx(3.0)
    for row, arc, chip in zip(rows, arcs, chips.get_paths(), strict=True):
        known = np.isfinite(passes.time[row])
        # definition of the record: the edge is at axis + R u(azimuth)
        turn = np.radians(passes.azimuth[row, known])
        ray = np.column_stack([np.cos(turn), np.sin(turn)])
        np.testing.assert_allclose(arc, passes.axis_xy[row, known] + tip * ray, atol=1e-12)
        outer, inner = chip.vertices[: len(arc)], chip.vertices[len(arc) : 2 * len(arc)][::-1]
        np.testing.assert_allclose(outer, arc, atol=1e-12)
        np.testing.assert_allclose(inner, arc - passes.radial_thickness[row, known, -1, None] * ray, atol=1e-12)
    # a chip is what lies between one tooth's path and the last one's (elementary; chords miss by r (3 deg)^2 / 8)
    for before, chip, arc in zip(arcs[:-1], chips.get_paths()[1:], arcs[1:], strict=True):
        inner = chip.vertices[len(arc) : 2 * len(arc)][::-1]
        near = inner[np.abs(inner[:, 1]) < 2.5]
        assert max(LineString(before).distance(Point(p)) for p in near) < 2e-3
    assert ax.get_aspect() == 1.0
    said = words(ax)
    (bar,) = by_gid(ax, "scale bar")
    assert f"{np.ptp(bar.get_xdata()):g} mm" in said
    for phrase in (passes.caption, f"last 5 of {len(passes)} passes", "left lip", "ahead", "right lip", "flute A"):
        assert phrase in said
    tones = {int(f): tuple(c) for f, c in zip(passes.flute[rows], chips.get_facecolors(), strict=True)}
    assert len(set(tones.values())) == 2
    assert abs(np.diff(lightness(list(tones.values())))[0]) > 20
    (axis,) = by_gid(ax, "spindle axis")
    middle = passes.axis_xy[rows, 30]  # angle 90
    np.testing.assert_allclose(np.column_stack(axis.get_data()), middle[np.isfinite(middle).all(axis=1)])


def test_angle_ticks_are_where_the_record_puts_them():
    # definition: 0 at the left lip, 90 straight ahead, 180 at the right lip
    ax = axes()
    draw_tooth_passes(passes_of_a_line(stop=5), ax)
    ends = [np.column_stack(t.get_data())[1] - np.column_stack(t.get_data())[0] for t in by_gid(ax, "angle tick")]
    np.testing.assert_allclose(ends, [[0, 3], [3, 0], [0, -3]], atol=1e-9)
    ax = axes()
    draw_tooth_passes(passes_of_a_line(angles=[10.0, 50.0, 100.0]), ax)
    assert by_gid(ax, "angle tick") == []


def test_own_figure_shows_the_last_chips_unrolled():
    """Definition: thickness of a chip over its sweep, 0 at the lips; by hand the thickest is the feed per tooth."""
    ax = draw_tooth_passes(passes_of_a_line()).axes
    (beside,) = [a for a in ax.figure.axes if a is not ax]
    areas = [c.get_paths()[0].vertices for c in beside.collections]
    assert max(a[:, 1].max() for a in areas) == pytest.approx(200, rel=1e-3)
    assert [t.get_text() for t in beside.get_xticklabels()] == ["left lip", "ahead", "right lip"]
    assert "Every flute takes chips up to 200 µm (7.9 thou)" in words(ax)


def test_a_flute_that_hardly_cuts_is_named():
    cut = Cut(VBit(60, 12.7, 2, runout=0.2), line((0, 0), (6, 0), 2.5), 15_000, 6000)
    ax = draw_tooth_passes(tooth_passes(cut, start=4, angles=np.arange(0, 181, 5.0), heights=[2.0])).axes
    assert "One flute does the work, the other hardly cuts" in words(ax)
    said = words(ax).replace("\n", " ")
    assert "Seat the bit anew in a clean collet" in said
    (beside,) = [a for a in ax.figure.axes if a is not ax]
    (thin,) = [t.get_text() for t in beside.texts if t.get_text().startswith("flute")]
    assert thin.replace(",", "") in said  # one figure in both places


def test_teeth_move_and_matplotlib_writes_it(tmp_path):
    """Definition: the chips grow to those of the still picture; the same teeth, in order of time."""
    passes = passes_of_a_line(stop=5)
    moving = animate_tooth_passes(passes, axes(), last=3, frames=5)
    moving.save(tmp_path / "chips.gif", writer="pillow")
    assert (tmp_path / "chips.gif").read_bytes()[:4] == b"GIF8"
    seen = []
    for frame in range(5):
        chips, _, tooth = moving._func(frame)
        seen.append(sum(Polygon(p.vertices).area for p in chips.get_paths() if len(p.vertices) > 3))
        assert len(tooth.get_xdata()) <= 3
    assert (np.diff(seen) >= -1e-9).all()
    still = draw_tooth_passes(passes, axes(), last=3)
    whole = sum(Polygon(p.vertices).area for p in still.get_paths())
    assert seen[-1] == pytest.approx(whole, rel=1e-9)
    with pytest.raises(DomainError, match="height must be one where there is wood"):
        animate_tooth_passes(tooth_passes(Cut(BIT, line((0, 0), (6, 0), 1.0), 15_000, 6000), start=4, stop=4.5,
                                          angles=[0.0, 90.0], heights=[2.0]), axes())  # fmt: skip


def test_passes_with_gaps_air_and_no_wood():
    # NaN: no crossing, or a height above the face; air is 0 and no chip
    top = 3 / np.tan(np.radians(30))
    cut = Cut(VBit(60, 12.7, 2), polyline([(0, 0), (6, 0), (6, 6)], top), 15_000, 6000)
    around = tooth_passes(cut, start=6, stop=7, angles=np.arange(-60, 241, 5.0), heights=[top, top + 1])
    ax = axes()
    artist = draw_tooth_passes(around, ax, height=0)
    for path in artist.get_paths():
        assert np.isfinite(path.vertices).all()
    ax = axes()
    assert draw_tooth_passes(around, ax).get_paths() == []
    assert "no wood" in words(ax)
    none = tooth_passes(cut, start=3, stop=3, angles=[0.0, 90.0], heights=[1.0])
    assert len(none) <= 1
    draw_tooth_passes(none, axes()).figure.savefig(io.BytesIO(), format="png")


# ------------------------------------------------------------------------------------------------------- profile


@pytest.mark.parametrize(
    "bit", [BIT, VBit(90, 20.0), ProfileBit([0, 1, 2, 6, 10], [0.5, 2, 2.5, 3, 6]), VBit(60, 12.7, cutting_length=9)]
)
def test_profile_is_the_outline_mirrored(bit):
    ax = axes()
    artist = draw_profile(bit, ax, depth=2.5)
    right, left = artist.get_segments()
    assert np.array_equal(left, right * [-1, 1])
    assert np.array_equal(right[0], [0, 0])  # the tip is at height 0 on the axis
    np.testing.assert_allclose(right[1:, 0], bit.radius(right[1:, 1]), atol=1e-12)
    heights, _ = bit.knots()
    assert set(heights) <= set(right[:, 1])  # the outline's own corners are drawn
    width = 2 * float(bit.half_width(2.5))
    said = words(ax)
    assert f"groove {width:.2f} mm ({width / 25.4:.3f} in) wide" in said
    assert "2.50 mm (0.098 in) deep" in said
    assert f"{bit.flutes} flute" in said
    assert f"edge radius {1000 * bit.edge_radius:g} um" in said
    assert ("included angle" in said) == isinstance(bit, VBit)
    assert ("cutting length" in said) == (bit.cutting_length is not None)
    assert ax.get_aspect() == 1.0
    assert "[mm]" in ax.get_xlabel()
    assert "[mm]" in ax.get_ylabel()
    (face,) = by_gid(ax, "face")
    assert set(face.get_ydata()) == {2.5}
    ends = sorted(x for mark in by_gid(ax, "extension line") for x in set(mark.get_xdata()) if abs(x) <= width)
    assert ends[0] == pytest.approx(-width / 2)
    assert width / 2 == pytest.approx(ends[-1])


def test_profile_without_a_depth_has_no_board():
    ax = axes()
    draw_profile(BIT, ax)
    assert by_gid(ax, "board") == by_gid(ax, "face") == []
    assert "wide" not in words(ax)


class Cove:
    """A bit known only by the protocol: a quarter circle of 6 mm."""

    diameter, flutes, rake, clearance, edge_radius = 12.0, 2, 10.0, 15.0, 0.008
    runout, runout_azimuth, cutting_length, max_spindle_speed = 0.0, 0.0, None, None

    def radius(self, height):
        h = np.minimum(np.asarray(height, dtype=float), 6.0)
        return np.sqrt(h * (12.0 - h))


def test_profile_of_any_cutter():
    right, _ = draw_profile(Cove(), axes(), depth=4).get_segments()
    np.testing.assert_allclose(right[1:, 0], Cove().radius(right[1:, 1]), atol=1e-12)


# ----------------------------------------------------------------------------------------------------- bad input


@pytest.mark.parametrize(
    ("call", "says"),
    [
        (lambda: draw_risk_map("map", axes()), "risk must be a RiskMap.*got str"),
        (lambda: draw_risk_map(the_map("line"), axes(), air_moves=[(0, 0)]), "air_moves must be a sequence of AirMove"),
        (lambda: draw_risk_map(the_map("line"), axes(), risk_name="rust"), "risk must be one of 'fuzz'.*'rust'"),
        (lambda: draw_risk_map(the_map("line"), axes(), form="rust"), "form must be one of 'steps'.*'rust'"),
        (lambda: draw_risk_map(the_map("line"), axes(), title=3), "title must be a text, got 3"),
        (lambda: draw_risk_map(the_map("line"), axes(), note=None), "note must be a text, got None"),
        (lambda: draw_rose([1, 2], axes(projection="polar")), "thing must be a Rose or a RiskMap, got list"),
        (lambda: draw_rose(the_map("line"), axes()), "ax must be polar.*got Axes"),
        (lambda: draw_tooth_passes(the_map("line"), axes()), "passes must be a ToothPasses.*got RiskMap"),
        (lambda: draw_tooth_passes(passes_of_a_line(), axes(), height=2), r"height must lie in \[-2, 1\], got 2"),
        (lambda: draw_tooth_passes(passes_of_a_line(), axes(), last=0), r"last must lie in \[1, 1000\], got 0"),
        (lambda: draw_profile(60.0, axes()), "bit must be a VBit.*got float"),
        (lambda: draw_profile(BIT, axes(), depth=-1), r"depth must lie in \(0, 300\] mm, got -1"),
        (lambda: draw_profile(BIT, axes(), depth=float("nan")), r"depth must lie in \(0, 300\] mm, got nan"),
    ],
)
def test_bad_input_is_named(call, says):
    with pytest.raises(DomainError, match=says):
        call()
    assert plt.get_fignums() == []
