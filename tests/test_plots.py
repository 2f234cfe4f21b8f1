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
from matplotlib.patches import FancyArrowPatch, Rectangle
from matplotlib.quiver import Quiver
from matplotlib.text import Text
from shapely import LineString, Point, Polygon
from shapely.ops import unary_union

from chipsim.chips.passes import tooth_passes
from chipsim.damage.mapping import risk_map
from chipsim.damage.maps import CLASSES, DOUBTS
from chipsim.damage.rose import risk_rose
from chipsim.errors import DomainError
from chipsim.limits.lands import thin_lands
from chipsim.pictures import risk_map as plots
from chipsim.pictures.chips import draw_tooth_passes
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
    bands = draw_risk_map(risk, axes())
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
    cells = corners(draw_risk_map(risk, axes()))
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
    cells = corners(draw_risk_map(risk, axes()))
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
    bands = draw_risk_map(risk, axes())
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
    cells = corners(draw_risk_map(risk, axes()))
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
    cells = corners(draw_risk_map(risk, axes()))
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
    r, g, b, _ = groove.get_facecolor()
    assert r == g == b


def test_coarse_maps_and_grooves_without_lips_draw():
    # definition; nothing here may divide by zero (warnings are errors)
    for risk in (
        a_map(line((0, 0), (5, 0), 1.0), pitch=50),
        a_map(ring(3, 1.0), pitch=50),
        a_map(line((0, 0), (5, 0), 0.0), bit=VBit(60, 12.7)),
    ):
        bands = draw_risk_map(risk, axes())
        assert len(bands.get_paths()) == risk.exists.sum()
        bands.figure.savefig(io.BytesIO(), format="png")


# ------------------------------------------------------------------------------------------------ colour, hatch


def lightness(rgba):
    """CIE 1976 L* of sRGB colours (IEC 61966-2-1)."""
    c = np.asarray(rgba)[..., :3]
    linear = np.where(c <= 0.04045, c / 12.92, ((c + 0.055) / 1.055) ** 2.4)
    y = linear @ [0.2126, 0.7152, 0.0722]
    return np.where(y > (6 / 29) ** 3, 116 * np.cbrt(y) - 16, y * (29 / 3) ** 3)


def test_colours_survive_grey_print():
    bands = draw_risk_map(the_map("ring"), axes())
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
def test_hatch_where_and_only_where_there_is_doubt(name):
    # definition: a hatch of its own for every reason, from the lip to the centre line, its words in the caption
    risk = the_map(name)
    ax = axes()
    draw_risk_map(risk, ax)
    said = words(ax)
    swatches = [r for r in ax.findobj(Rectangle) if r.get_hatch()]
    codes = {int(c) for c in risk.doubt[risk.exists]} - {0}
    assert len(swatches) == len(codes)
    for code, reason in DOUBTS.items():
        if code == 0:
            continue
        hatched = by_gid(ax, f"doubt {code}")
        assert len(hatched) == (code in codes)
        assert (reason in said) == (code in codes)
        for h in hatched:
            assert h.get_hatch() in {s.get_hatch() for s in swatches}
            assert len(h.get_paths()) == (risk.exists & (risk.doubt == code)).sum()
            cells = corners(h)
            known = {tuple(p) for p in risk.lip_xy[risk.exists & (risk.doubt == code)]}
            assert {tuple(p) for p in cells[:, 1]} == known
            ends = {tuple(np.round(p, 9)) for p in risk.xy}
            assert {tuple(np.round(p, 9)) for p in cells[:, 4]} <= ends
    assert ("ring", set()) != (name, codes) or not swatches


def test_doubts_occur_in_these_maps_and_each_has_its_hatch():
    seen = {int(c) for name in MAPS for c in np.unique(the_map(name).doubt)}
    assert seen >= {0, 1, 2, 3, 4}
    used = [plots.HATCHES[c] for c in (*(c for c in DOUBTS if c), -1)]
    assert len(set(used)) == len(used)


def test_a_risk_that_is_not_known_is_blank_and_says_so():
    # definition; never painted as safe
    ax = axes()
    known = the_map("ring")
    bands = draw_risk_map(replace(known, tear=np.full_like(known.tear, np.nan)), ax, risk_name="tear")
    assert np.ma.getmaskarray(bands.get_array()).all()
    blank = bands.cmap(np.ma.masked_all(1))[0]
    assert lightness(blank) > 99
    (hatched,) = by_gid(ax, "doubt -1")
    assert len(hatched.get_paths()) == the_map("ring").exists.sum()
    assert "not known: this risk is not modelled" in words(ax)
    assert "tear [-]" in words(ax)


# ------------------------------------------------------------------------------------------- what stands round it


@pytest.mark.parametrize("name", MAPS)
def test_map_says_what_a_carver_asks(name):
    # common practice, no source: axes in mm, settings, classes in words, scale bar in both units, prior stamp
    risk = the_map(name)
    ax = axes()
    draw_risk_map(risk, ax)
    said = words(ax)
    assert (ax.get_xlabel(), ax.get_ylabel(), ax.get_aspect()) == ("x [mm]", "y [mm]", 1.0)
    for phrase in (
        risk.setup["caption"],
        "black cherry, 8 % moisture",
        f"grain {risk.setup['grain']}",
        "PRIOR ONLY",
        "no test piece has been read",
        "damage [-]",
        f"spindle {risk.setup['spin']}",
        f"left lip: {risk.lip_kind('left')}",
        f"right lip: {risk.lip_kind('right')}",
        "start of the cut",
        *CLASSES,
        *(f"{k} {v:.1f}" for k, v in risk.lengths_by_class().items() if k in CLASSES),
    ):
        assert phrase in said, phrase
    (bar,) = by_gid(ax, "scale bar")
    size = np.ptp(bar.get_xdata())
    number, inches = re.search(r"([\d.]+) mm \(([\d.]+) in\)$", next(
        t.get_text() for t in ax.texts if " in)" in t.get_text()
    )).groups()  # fmt: skip
    assert float(number) == pytest.approx(size, rel=1e-12)
    assert float(inches) == pytest.approx(size / 25.4, rel=2e-3)  # 1 in = 25.4 mm exactly; printed to three figures
    low, high = np.array([ax.get_xlim(), ax.get_ylim()]).T
    reach = risk.half_width[:, None]
    assert ((risk.xy - reach > low) & (risk.xy + reach < high)).all()
    assert max(bar.get_ydata()) < (risk.xy - reach)[:, 1].min()


def test_colour_bar_is_marked_with_the_classes():
    ax = axes()
    draw_risk_map(the_map("ring"), ax)
    (bar,) = ax.child_axes
    bounds = [0.0, *(min(b, 1.0) for b in CLASSES.values())]
    np.testing.assert_allclose(bar.get_yticks(), bounds)
    assert bar.get_ylim() == (0.0, 1.0)
    for word, low, high in zip(CLASSES, bounds[:-1], bounds[1:], strict=True):
        (label,) = [t for t in bar.texts if t.get_text() == word]
        assert low < label.xy[1] < high


def test_grain_arrow():
    # definition: a double-headed arrow along a common azimuth (grain is an axis)
    ax = axes()
    draw_risk_map(the_map("corner"), ax)
    (arrow,) = by_gid(ax, "grain")
    assert isinstance(arrow, FancyArrowPatch)
    (x0, y0), (x1, y1) = arrow._posA_posB
    assert np.degrees(np.arctan2(y1 - y0, x1 - x0)) % 180 == pytest.approx(30, abs=1e-9)
    assert arrow.get_arrowstyle().arrow == "<|-|>"


@pytest.mark.parametrize("name", ["bending", "hairpin"])
def test_grain_that_turns_is_ticked_beside_the_groove(name):
    # definition: along the map's own fibres, clear of every part of the groove
    risk, ax = the_map(name), axes()
    draw_risk_map(risk, ax)
    one, other = (a for a in by_gid(ax, "grain") if isinstance(a, Quiver))
    assert not [a for a in by_gid(ax, "grain") if isinstance(a, FancyArrowPatch)]
    assert 8 <= len(one.U) <= 40
    np.testing.assert_allclose([one.U, one.V], [-other.U, -other.V])
    assert np.array_equal(one.XY, other.XY)
    for (x, y), u, v in zip(one.XY, one.U, one.V, strict=True):
        clear = np.hypot(*(risk.xy - [x, y]).T) - risk.half_width
        assert clear.min() > 0.5
        near = np.argmin(np.where(risk.exists, np.hypot(*np.moveaxis(risk.lip_xy - [x, y], -1, 0)), np.inf))
        azimuth = np.radians(risk.fibre_azimuth.ravel()[near])
        assert abs(u * np.sin(azimuth) - v * np.cos(azimuth)) < 0.03  # its own lip point or one beside it


@pytest.mark.parametrize("turn", [0.0, 130.0])
def test_feed_arrows_point_along_the_travel(turn):
    for path, at in ((line((0, 0), (20, 0), 2.0), turn), (line((0, 0), (20, 0), 2.0).reversed(), turn + 180)):
        ax = axes()
        draw_risk_map(a_map(path.rotated(turn), pitch=1.0), ax)
        (arrows,) = by_gid(ax, "feed")
        assert len(arrows.U) >= 3
        np.testing.assert_allclose(arrows.U, np.cos(np.radians(at)), atol=1e-9)
        np.testing.assert_allclose(arrows.V, np.sin(np.radians(at)), atol=1e-9)
    ax = axes()
    draw_risk_map(the_map("ring"), ax)  # counter-clockwise
    (arrows,) = by_gid(ax, "feed")
    assert (arrows.XY[:, 0] * arrows.V - arrows.XY[:, 1] * arrows.U > 0).all()


@pytest.mark.parametrize(("name", "sense"), [("ring", -1), ("closed", 1)])
def test_spin_arrow_turns_with_the_spindle(name, sense):
    ax = axes()
    draw_risk_map(the_map(name), ax)
    (arc,) = by_gid(ax, "spin")
    x, y = (np.asarray(v) - 15 for v in arc.get_data())
    assert (np.sign(x[:-1] * y[1:] - x[1:] * y[:-1]) == sense).all()


def test_flags_take_away_what_they_name():
    def drawn(**flags):
        ax = axes()
        draw_risk_map(the_map("corner"), ax, **flags)
        return {
            "colour_bar": bool(ax.child_axes),
            "key": bool(by_gid(ax, "scale bar") or by_gid(ax, "spin") or by_gid(ax, "grain")),
            "caption": the_map("corner").setup["caption"] in words(ax) or "not to be trusted" in words(ax),
        }

    assert drawn() == {"colour_bar": True, "key": True, "caption": True}
    for flag in ("colour_bar", "key", "caption"):
        assert drawn(**{flag: False}) == {"colour_bar": True, "key": True, "caption": True, flag: False}


def test_thin_lands_are_outlined_and_numbered():
    cuts = [Cut(VBit(90, 12.7), ring(r, 2.0), 18_000, 1500) for r in (6, 10.6, 15.9)]
    board = Board(CHERRY, straight_grain(0))
    carving = Carving((*cuts, replace(cuts[0], path=line((21, -8), (21, 8), 2.0))))
    lands = thin_lands(carving, board)
    assert sorted(land.width for land in lands) == pytest.approx([0.6, 1.1, 1.3], abs=1e-3)
    ax = axes()
    draw_risk_map(risk_map(carving, board, pitch=1.0), ax, lands=lands)
    (outline,) = (c for c in ax.collections if c.get_gid() == "lands")
    closed, open_ = [2 * sum(land.closed for land in lands), sum(not land.closed for land in lands)]
    loops = outline.get_segments()
    assert len(loops) == closed + open_
    for loop in loops:
        np.testing.assert_array_equal(loop[0], loop[-1])
    drawn = np.concatenate([np.concatenate(land.lips) for land in lands])
    np.testing.assert_array_equal(np.unique(np.concatenate(loops), axis=0), np.unique(drawn, axis=0))
    numbers = {t.get_text(): t.xy for t in ax.texts if t.get_gid() == "land number"}
    assert numbers == {str(k + 1): land.narrowest for k, land in enumerate(lands)}
    assert outline.get_colors().tolist() == [pytest.approx([26 / 255] * 3 + [1])]
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
    bands = draw_risk_map(risk, ax)
    cells = corners(bands)
    assert np.array_equal(cells[:, 1], np.concatenate([risk.lip_xy[risk.exists[:, k], k] for k in range(2)]))
    longest = np.hypot(*np.moveaxis(np.diff(cells[:, :3], axis=1), -1, 0)).sum(axis=1)
    assert longest.max() < 2 * risk.lip_length.max()
    tracks = [np.column_stack(t.get_data()) for t in by_gid(ax, "toolpath")]
    assert len(tracks) == 3
    assert max(np.hypot(*np.diff(t, axis=0).T).max() for t in tracks) < 0.3
    assert [bool(np.allclose(t[0], t[-1])) for t in tracks] == [False, True, False]
    (starts,) = by_gid(ax, "start")
    np.testing.assert_allclose(np.column_stack(starts.get_data()), [c.path.xy[0] for c in cuts], atol=0.15)
    (groove,) = by_gid(ax, "groove")
    union = unary_union([Polygon(p).buffer(0) for p in groove.get_path().to_polygons(closed_only=True)])
    assert not union.contains(Point(10, 12))  # the land inside the ring
    assert len(by_gid(ax, "spin")) == 2
    said = words(ax)
    for phrase in ("spindle cw", "spindle ccw", "left lip: entry if cw, exit if ccw", risk.setup["caption"]):
        assert phrase in said
    draw_rose(risk, axes(projection="polar"))


def test_a_deeper_groove_from_the_end_of_another_has_its_round_start():
    # closed form: the start is a half disc of the second groove's half-width, 0.1 + 3 tan 30 deg = 1.83 mm
    cuts = [Cut(BIT, line((0, 0), (10, 0), 1.0), 18_000, 1500), Cut(BIT, line((10, 0), (10, 10), 3.0), 18_000, 1500)]
    ax = axes()
    draw_risk_map(risk_map(Carving(tuple(cuts)), Board(CHERRY, straight_grain(30))), ax)
    (groove,) = by_gid(ax, "groove")
    union = unary_union([Polygon(p).buffer(0) for p in groove.get_path().to_polygons(closed_only=True)])
    assert union.bounds[1] == pytest.approx(-(0.1 + 3 * np.tan(np.radians(30))), abs=1e-9)


def test_slowed_feed_is_hatched():
    # common practice, no source: a map must show where the machine does not reach the typed feed
    slow = Machine(acceleration=200.0, max_feed=6000.0)
    risk = a_map(line((0, 0), (20, 0), 2.0), feed=4000, machine=slow)
    ax = axes()
    draw_risk_map(risk, ax)
    assert (risk.doubt == 5).any()
    (hatched,) = by_gid(ax, "doubt 5")
    assert len(hatched.get_paths()) == (risk.exists & (risk.doubt == 5)).sum()
    assert DOUBTS[5] in words(ax)


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
    draw_risk_map(the_map("ring"), ax, key=False, caption=False, colour_bar=False)
    assert len(by_gid(ax, "bands")) == 2
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
            boxes.append((text.get_text(), text.get_window_extent(renderer)))
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
    scale = float(re.search(r"drawn ([\d.]+):1", words(ax)).group(1))
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
    one, other = lightness(artist.get_colors())
    assert abs(one - other) > 20  # told apart in grey
    said = words(ax)
    for phrase in ("[-]", "left lip (entry, conventional)", "right lip (exit, climb)", "grain, azimuth 30 deg"):
        assert phrase in said
    assert rose.setup["caption"] in said
    heads = [t for t in ax.texts if getattr(t, "arrow_patch", None)]
    assert sorted(np.degrees(t.xy[0]) for t in heads) == pytest.approx([30, 210])
    assert {t.xy[1] for t in heads} == {top}


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
        assert ("grain, azimuth" in words(ax)) == (name == "corner")  # a grain that turns has no one axis


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
    assert (ax.get_xlabel(), ax.get_ylabel(), ax.get_aspect()) == ("x [mm]", "y [mm]", 1.0)
    said = words(ax)
    for phrase in (passes.caption, f"last 5 of {len(passes)} passes", "0°", "90°", "180°", "chip of flute 0"):
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
