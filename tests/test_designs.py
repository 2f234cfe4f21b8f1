"""Designs read as paths, against ways of evaluating them that share no code with the readers."""

import json

import mpmath
import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from matplotlib.bezier import BezierSegment
from matplotlib.path import Path as Outline
from matplotlib.textpath import TextPath
from matplotlib.transforms import Affine2D
from scipy.spatial import cKDTree

import chipsim as cs
from chipsim.designs.pathdata import figures_of
from chipsim.scene.biarcs import arcs_through

TOLERANCE = 0.01
PLACES = st.floats(-60, 60).map(lambda v: round(v, 3))
POINTS = st.tuples(PLACES, PLACES)


def to_pieces(points, path):
    """Distances of points (n, 2) from a path, by the geometry of its lines and arcs, written here once more."""
    xy = np.vstack([path.xy, path.xy[:1]]) if path.closed else path.xy
    best = np.full(len(points), np.inf)
    for a, b, sweep in zip(xy[:-1], xy[1:], np.radians(path.sweep), strict=True):
        best = np.minimum(best, np.minimum(np.hypot(*(points - a).T), np.hypot(*(points - b).T)))
        chord = b - a
        if abs(sweep) < 1e-9:
            share = np.clip((points - a) @ chord / (chord @ chord), 0, 1)
            best = np.minimum(best, np.hypot(*(points - a - share[:, None] * chord).T))
            continue
        centre = (a + b) / 2 + np.array([-chord[1], chord[0]]) / (2 * np.tan(sweep / 2))
        from_a, out = a - centre, points - centre
        angle = np.arctan2(from_a[0] * out[:, 1] - from_a[1] * out[:, 0], out @ from_a) * np.sign(sweep)
        within = angle % (2 * np.pi) <= abs(sweep)
        best = np.where(within, np.minimum(best, np.abs(np.hypot(*out.T) - np.hypot(*from_a))), best)
    return best


def to_line(points, line):
    """Distances of points (n, 2) from the chords of a dense line (m, 2), those beside its eight nearest vertices."""
    line = line[np.append(True, np.hypot(*np.diff(line, axis=0).T) > 1e-9)]
    nearest = cKDTree(line).query(points, k=min(8, len(line)))[1]
    best = np.full(len(points), np.inf)
    for first in np.concatenate([nearest - 1, nearest], axis=1).T:
        k = np.clip(first, 0, len(line) - 2)
        chord = line[k + 1] - line[k]
        share = np.clip(np.sum((points - line[k]) * chord, axis=1) / np.sum(chord**2, axis=1), 0, 1)
        best = np.minimum(best, np.hypot(*(points - line[k] - share[:, None] * chord).T))
    return best


def apart(path, curve):
    """Largest distance between a path and a curve given by dense points, either way."""
    s = np.union1d(np.linspace(0, path.length, 4000), np.clip(path.joints, 0, path.length))
    return max(to_pieces(curve, path).max(), to_line(path.position(s), curve).max())


def evaluated(outline, count=400):
    """Points of every figure of a matplotlib path, by matplotlib's own evaluation of its curves."""
    figures = []
    for segment, code in outline.iter_bezier():
        if code == Outline.MOVETO:
            figures.append([segment.control_points[0]])
        else:
            figures[-1].extend(segment(np.linspace(0, 1, count)))
    moved = [np.array(f) for f in figures if len(f) > 1]
    return [f for f in moved if np.ptp(f, axis=0).any()]


# --- accuracy ---------------------------------------------------------------------------------------------------------


@settings(max_examples=60, deadline=None, derandomize=True)
@given(control=st.lists(POINTS, min_size=3, max_size=4))
def test_curves_stay_within_the_tolerance_of_matplotlibs_own_evaluation(control):
    control = np.array(control)
    if np.ptp(control, axis=0).max() < 0.1:
        return
    kind = Outline.CURVE3 if len(control) == 3 else Outline.CURVE4
    outline = Outline(control, [Outline.MOVETO] + [kind] * (len(control) - 1))
    for tolerance in (0.01, 0.2):
        (path,) = cs.paths_from(outline, 1.0, tolerance=tolerance)
        curve = BezierSegment(control)(np.linspace(0, 1, 4001))
        assert apart(path, curve) <= tolerance + 2e-5


CUSPS = {
    "cusp": [(0, 0), (40, 40), (0, 40), (40, 0)],
    "nearly a cusp": [(0, 0), (40, 40), (0.01, 40), (40, 0)],
    "loop": [(0, 0), (60, 40), (-20, 40), (40, 0)],
    "back to the start": [(0, 0), (60, 40), (-60, 40), (0, 0)],
    "handles on their ends": [(0, 0), (0, 0), (40, 30), (40, 30)],
    "one handle on its end": [(0, 0), (0, 0), (40, 30), (60, 0)],
    "straight": [(0, 0), (10, 10), (20, 20), (30, 30)],
    "straight, there and back": [(0, 0), (60, 60), (-30, -30), (30, 30)],
    "straight, out and home": [(0, 0), (60, 0), (60, 0), (0, 0)],
    "hairpin": [(0, 0), (100, 0), (100, 0.05), (0, 0.05)],
    "tiny": [(0, 0), (0.03, 0.03), (0.06, 0.03), (0.09, 0)],
    "huge": [(0, 0), (9e4, 9e4), (-9e4, 9e4), (9e4, 0)],
}


@pytest.mark.parametrize("name", CUSPS)
def test_curves_that_stop_turn_back_or_close(name):
    control = np.array(CUSPS[name], dtype=float)
    outline = Outline(control, [1, 4, 4, 4])
    (path,) = cs.paths_from(outline, 1.0)
    curve = BezierSegment(control)(np.linspace(0, 1, 40_001))
    assert apart(path, curve) <= TOLERANCE + (2e-5 if name != "huge" else 2.0)
    if name.startswith("straight"):
        assert not path.sweep.any()


def test_tangents_run_on_from_arc_to_arc():
    (path,) = cs.paths_from("M 0 0 C 20 30 60 -30 80 10", 1.0)
    ends = path.joints[1:-1]
    before, after = path.heading(ends - 1e-9), path.heading(ends)
    assert np.abs((before - after + 180) % 360 - 180).max() < 1e-4
    assert path.heading(0.0) == pytest.approx(np.degrees(np.arctan2(30, 20)))


def test_circular_arcs_are_exact_and_ellipses_have_the_length_of_the_elliptic_integral():
    (ring,) = cs.paths_from("M 10 0 A 10 10 0 0 1 -10 0 A 10 10 0 0 1 10 0 Z", 1.0)
    assert ring.length == pytest.approx(20 * np.pi, rel=1e-14)
    (oval,) = cs.paths_from("M 30 0 A 30 10 0 0 1 -30 0 A 30 10 0 0 1 30 0 Z", 1.0, tolerance=1e-4)
    exact = 4 * 30 * mpmath.ellipe(1 - mpmath.mpf(10) ** 2 / 30**2)
    assert oval.length == pytest.approx(float(exact), rel=1e-6)
    assert oval.closed


def test_a_word_is_matplotlibs_own_outline():
    word = TextPath((5, 3), "Sage & 8ø", size=30)
    paths = cs.paths_from(word, 1.5)
    figures = evaluated(word)
    assert len(paths) == len(figures) == 15
    assert all(path.closed for path in paths)
    for path, figure in zip(paths, figures, strict=True):
        assert apart(path, figure) <= TOLERANCE + 2e-5
    bounds = np.vstack([p.xy for p in paths])
    np.testing.assert_allclose([bounds.min(axis=0), bounds.max(axis=0)], word.get_extents().get_points(), atol=0.02)


@pytest.mark.parametrize("outline", [Outline.unit_circle(), Outline.unit_regular_star(5), Outline.wedge(20, 200)])
def test_other_outlines_of_matplotlib(outline):
    grown = outline.transformed(Affine2D().scale(30, 20).rotate(0.3))
    paths = cs.paths_from(grown, 1.0)
    for path, figure in zip(paths, evaluated(grown), strict=True):
        assert path.closed
        assert apart(path, figure) <= TOLERANCE + 2e-5


def test_an_outline_goes_on_from_where_its_last_figure_began():
    outline = Outline([(1, 0), (9, 0), (9, 9), (4, 4), (5, 5)], [1, 2, 2, 79, 2])
    closed, stroke = cs.paths_from(outline, 1.0)
    assert closed.xy.tolist() == [[1, 0], [9, 0], [9, 9]]
    assert stroke.xy.tolist() == [[1, 0], [5, 5]]


# --- path data --------------------------------------------------------------------------------------------------------

SAME = {
    "relative": ("m 5 5 10 0 0 10 z l -3 -3", "M 5 5 L 15 5 L 15 15 Z M 5 5 L 2 2"),
    "numbers that touch": ("M0 0L1.5.5-2-3e0.5.5", "M 0 0 L 1.5 0.5 L -2 -3 L 0.5 0.5"),
    "flags that touch": ("M0 0a1 1 0 00 1 1", "M 0 0 A 1 1 0 0 0 1 1"),
    "flags and all that touch": ("M0 0a25,25-30 0110-5", "M 0 0 A 25 25 -30 0 1 10 -5"),
    "level and upright": ("M1 2H5V9h-2v-3", "M1 2L5 2L5 9L3 9L3 6"),
    "smooth cubic": ("M0 0C1 5 5 5 6 0S 9 -3 12 0s 4 4 5 0", "M0 0C1 5 5 5 6 0C7 -5 9 -3 12 0C15 3 16 4 17 0"),
    "smooth cubic after a line": ("M0 0L5 0S 9 9 12 0", "M0 0L5 0C5 0 9 9 12 0"),
    "smooth quadratic": ("M0 0Q3 6 6 0T12 0t6 0", "M0 0Q3 6 6 0Q9 -6 12 0Q15 6 18 0"),
    "smooth quadratic after a cubic": ("M0 0C1 5 5 5 6 0T12 3", "M0 0C1 5 5 5 6 0Q6 0 12 3"),
    "arcs without a radius": ("M0 0A0 5 0 0 1 9 9", "M0 0L9 9"),
    "radii with a sign": ("M0 0A-5 -5 0 0 1 9 0", "M0 0A5 5 0 0 1 9 0"),
    "radii that do not reach": ("M0 0A1 1 0 0 1 20 0", "M0 0A10 10 0 0 1 20 0"),
    "an arc to where it is": ("M0 0L5 5A3 3 0 1 1 5 5L9 0", "M0 0L5 5L9 0"),
    "commas and line ends": ("M0,0\n\tL 5 ,5,9 , 0\r\n", "M0 0L5 5L9 0"),
    "on after a close": ("M1 1H5V5ZL-4-4", "M1 1H5V5Z M1 1L-4-4"),
    "a lonely move": ("M5 5M0 0L9 9M3 3", "M0 0L9 9"),
    "points for numbers": ("M 0. .0 L 5.e0 5", "M0 0L5 5"),
    "repeated command": ("M0 0 C 0 5 5 5 5 0 5 -5 9 -5 9 0", "M0 0 C 0 5 5 5 5 0 C 5 -5 9 -5 9 0"),
}


@pytest.mark.parametrize("name", SAME)
def test_two_ways_to_write_one_thing(name):
    one, two = (cs.paths_from(data, 1.0) for data in SAME[name])
    assert len(one) == len(two)
    for a, b in zip(one, two, strict=True):
        np.testing.assert_allclose(a.xy, b.xy, atol=1e-12)
        np.testing.assert_allclose(a.sweep, b.sweep, atol=1e-12)
        assert a.closed == b.closed


@pytest.mark.parametrize(
    ("large", "positive", "middle"), [(0, 1, (3, -1)), (0, 0, (3, 1)), (1, 1, (3, -9)), (1, 0, (3, 9))]
)
def test_flags_of_arcs_by_hand(large, positive, middle):
    """Radius 5 over a chord of 6: the centres lie 4 beside it; positive is from x to y."""
    (path,) = cs.paths_from(f"M0 0A5 5 0 {large}{positive}6 0", 1.0)
    turn = 2 * np.arcsin(0.6)
    assert path.length == pytest.approx(5 * (2 * np.pi - turn if large else turn), rel=1e-12)
    assert path.position(path.length / 2) == pytest.approx(middle, abs=1e-12)
    assert np.sign(path.sweep).tolist() == [1 if positive else -1] * len(path.sweep)


WRONG = {
    "5 5": "character 1", "L 5 5": "a move, M or m, is expected first", "M 5": "a number is expected",
    "M 0 0 L 5 5 ,": "after the comma", "M 0 0 , L 5 5": "after the comma", "M 0 0 L , 5 5": "a number is expected",
    "M 0 0 L 5 5 K": "a command is expected", "M 0 0 A 5 5 0 2 1 9 9": "a flag, 0 or 1",
    "M 0 0 A 5 5 0 0.5 1 9 9": "a flag, 0 or 1", "M 0 0 L 1e999 0": "a number up to 1e+09",
    "M 0 0 L nan 0": "a number is expected", "M 0 0 C 1 1 2 2 3": "a number is expected",
    "M 0 0 L 5 5 Z 3 3": "a command is expected", "M 0 0 L 5,,5": "a number is expected",
    "M 0 0 L 5 5 \u00a0 L 6 6": "a command is expected", "M 0 0 L 2e5 0": "within 100000 mm",
    "": "a line that goes somewhere", "M 5 5 Z": "a line that goes somewhere", "M 3 3 L 3 3": "goes somewhere",
    "M 0 0 L 0x10 5": "a number is expected", "M 0 0 L ٣ 5": "a number is expected",
}  # fmt: skip


@pytest.mark.parametrize("data", WRONG)
def test_path_data_that_breaks_the_grammar_is_refused_with_its_place(data):
    with pytest.raises(cs.DomainError, match=WRONG[data].replace("+", r"\+")):
        cs.paths_from(data, 1.0)


NUMBER = st.floats(-50, 50).map(lambda v: round(v, 2))
SETS = {"L": 2, "H": 1, "V": 1, "C": 6, "S": 4, "Q": 4, "T": 2}


@st.composite
def path_data(draw):
    out = [f"M {draw(NUMBER)} {draw(NUMBER)}"]
    for _ in range(draw(st.integers(1, 6))):
        kind = draw(st.sampled_from([*SETS, "A", "A", "Z"]))
        letter = draw(st.sampled_from([kind, kind.lower()]))
        if kind == "Z":
            out.append(letter)
        elif kind == "A":
            flags = f"{draw(st.integers(0, 1))} {draw(st.integers(0, 1))}"
            radii = f"{abs(draw(NUMBER)) + 1} {abs(draw(NUMBER)) + 1}"
            out.append(f"{letter} {radii} {draw(NUMBER)} {flags} {draw(NUMBER)} {draw(NUMBER)}")
        else:
            out.append(letter + " " + " ".join(str(draw(NUMBER)) for _ in range(SETS[kind])))
    return " ".join(out)


@settings(max_examples=25, deadline=None, derandomize=True)
@given(data=path_data())
def test_path_data_against_a_library_for_it(data):
    """svg.path, a general library of its own; its figures point by point."""
    reference = pytest.importorskip("svg.path")
    segments = [s for s in reference.parse_path(data) if type(s).__name__ != "Move" and s.length(error=1e-3) > 1e-6]
    strokes = [stroke for figure in figures_of(data) for stroke in figure.strokes]
    assert len(strokes) == len(segments)
    for stroke, segment in zip(strokes, segments, strict=True):
        xy, sweeps = stroke.laid_out(0.01)
        flat = np.array([(p.real, p.imag) for p in map(segment.point, np.linspace(0, 1, 400))])
        vertices = np.vstack([stroke.start, xy])
        moved = np.append(True, np.hypot(*np.diff(vertices, axis=0).T) > 1e-9)
        if moved.sum() > 1:
            path = cs.Path(vertices[moved], 1.0, sweep=sweeps[moved[1:]])
            assert apart(path, flat) <= 0.01 + 2e-3


# --- points and geometries --------------------------------------------------------------------------------------------


def test_a_polygon_with_a_hole_and_its_collections():
    plate = shapely.Polygon([(0, 0), (40, 0), (40, 30), (0, 30)], [[(10, 10), (20, 10), (15, 20)]])
    shell, hole = cs.paths_from(plate, 2.0)
    assert shell.closed
    assert hole.closed
    assert (shell.length, hole.length) == pytest.approx((plate.exterior.length, plate.interiors[0].length))
    parts = shapely.GeometryCollection([plate, shapely.MultiLineString([[(0, 0), (5, 5)], [(1, 0), (2, 9), (3, 0)]])])
    assert len(cs.paths_from(parts, 1.0)) == 4
    feature = {"type": "Feature", "geometry": json.loads(shapely.to_geojson(parts)), "properties": None}
    again = cs.paths_from(
        {"type": "FeatureCollection", "features": [feature, {"type": "Feature", "geometry": None}]}, 1.0
    )
    assert again == cs.paths_from(parts, 1.0)


@pytest.mark.parametrize(("z", "depth"), [((1, 2, 1.5), (1, 2, 1.5)), ((-1, -2, 0), (1, 2, 0))])
def test_the_third_number_is_a_depth_or_a_z_below_the_face(z, depth):
    for line in (
        np.column_stack([[0, 9, 20], [0, 0, 5], z]),
        shapely.LineString([(0, 0, z[0]), (9, 0, z[1]), (20, 5, z[2])]),
    ):
        (path,) = cs.paths_from(line)
        assert path.depth.tolist() == list(depth)


def test_points_go_straight_down_and_repeated_ones_go():
    (path,) = cs.paths_from([(0, 0, 1), (5, 0, 1), (5, 0, 1), (5, 0, 2), (9, 0, 2), (9, 0, 2)])
    assert path == cs.Path([(0, 0), (5, 0), (5, 0), (9, 0)], [1, 1, 2, 2])
    (ring,) = cs.paths_from([(0, 0), (9, 0), (9, 9), (9, 9.0000001), (0, 0)], 1.0)
    assert ring == cs.polyline([(0, 0), (9, 0), (9, 9)], 1.0, closed=True)
    (each,) = cs.paths_from([(0, 0), (9, 0), (9, 9)], [1, 2, 1.5])
    assert each.depth.tolist() == [1, 2, 1.5]
    (open_,) = cs.paths_from([(0, 0, 1), (9, 0, 1), (0, 9, 1), (0, 0, 2)])
    assert not open_.closed


def test_a_list_of_things_and_a_path_itself():
    own = cs.ring(5, 1.0)
    got = cs.paths_from([own, "M0 0H9", [(0, 0), (3, 3)], shapely.LineString([(0, 0), (1, 1)])], 1.0)
    assert [p.length for p in got] == pytest.approx([10 * np.pi, 9, 18**0.5, 2**0.5])
    assert cs.paths_from(own) == [own]
    ragged = {
        "type": "Polygon",
        "coordinates": [[(0, 0), (9, 0), (9, 9), (0, 0)], [(1, 1), (3, 1), (2, 2), (1, 2), (1, 1)]],
    }
    assert [len(p.xy) for p in cs.paths_from(ragged, 1.0)] == [3, 4]
    assert [len(p.xy) for p in cs.paths_from(ragged["coordinates"], 1.0)] == [3, 4]
    assert len(cs.paths_from(np.array([[[0, 0], [5, 5]]] * 3), 1.0)) == 3


REFUSED = {
    "none": None, "number": 3, "text": b"M 0 0 L 5 5", "one point": [(0, 0)], "four columns": np.zeros((5, 4)),
    "nan": [(0, 0), (np.nan, 1)], "far": [(0, 0), (1e9, 1)], "empty": [], "point": shapely.Point(0, 0),
    "points": shapely.MultiPoint([(0, 0), (1, 1)]), "no line": shapely.Polygon(), "no type": {"coordinates": []},
    "no coordinates": {"type": "LineString"}, "no list": {"type": "LineString", "coordinates": 3},
    "words": ["a", "b"], "no geometry": {"type": "Feature"},
    "both signs": [(0, 0, 1), (5, 0, -1)], "no depth": [(0, 0), (5, 0)],
    "itself": (lambda d: d.update(geometries=[d]) or d)({"type": "GeometryCollection"}),
}  # fmt: skip


@pytest.mark.parametrize("name", REFUSED)
def test_what_is_no_design_is_refused_by_name(name):
    depth = None if name in ("both signs", "no depth") else 1.0
    with pytest.raises(cs.DomainError, match=r"^(thing|depth)"):
        cs.paths_from(REFUSED[name], depth)


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"depth": None}, "depth must be given for curves"), ({"depth": [1, 2]}, "depth must be one number or"),
        ({"depth": -1}, "depth must"), ({"depth": lambda a, b, c: a}, "which asks for 3"),
        ({"depth": lambda s: s[:-1]}, "depth must return one number a point"), ({"tolerance": 0}, "tolerance must lie"),
        ({"depth": lambda s: np.where(s < 5, 1.0, 2.0)}, "depth is not smooth enough"),
        ({"smooth": 120}, "smooth must be"), ({"smooth": "yes"}, "smooth must be"), ({"depth": lambda s: -s}, "depth"),
    ],
)  # fmt: skip
def test_wrong_arguments(change, words):
    with pytest.raises(cs.DomainError, match=words):
        cs.paths_from("M0 0H9", **{"depth": 1.0, **change})


# --- smooth -----------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("closed", [True, False])
def test_points_of_a_circle_become_the_circle(closed):
    at = np.linspace(0, 2 * np.pi, 25) if closed else np.sort(np.append(np.linspace(0, 4, 9), 0.1))
    xy = 20 * np.column_stack([np.cos(at), np.sin(at)])
    (path,) = cs.paths_from(xy, 1.0, smooth=True)
    assert path.closed == closed
    assert path.length == pytest.approx(20 * at[-1], rel=1e-12)
    np.testing.assert_allclose(np.hypot(*path.position(np.linspace(0, path.length, 500)).T), 20, atol=1e-9)


def test_smooth_goes_through_the_points_and_keeps_corners():
    x = np.linspace(0, 60, 31)
    wave = np.column_stack([x, 6 * np.sin(x / 8)])
    corner = np.vstack([wave, [[60, -30], [0, -30], wave[0]]])
    (chords,) = cs.paths_from(corner, 1.0)
    (path,) = cs.paths_from(corner, 1.0, smooth=True)
    assert not chords.sweep.any()
    assert path.closed
    for point in corner:
        assert np.hypot(*(path.xy - point).T).min() < 1e-12
    assert (path.sweep == 0).sum() == 3
    fine = np.linspace(0, 60, 5000)
    exact = shapely.LineString(np.column_stack([fine, 6 * np.sin(fine / 8)]))
    off = [exact.distance(shapely.Point(p)) for p in path.position(np.linspace(0, 60, 300))]
    assert max(off) < 0.06
    assert max(off) < 0.4 * max(exact.distance(shapely.Point(p)) for p in chords.position(np.linspace(0, 60, 300)))


def test_smooth_keeps_depths_of_points():
    at = np.linspace(0, 3, 12)
    xyz = np.column_stack([20 * np.cos(at), 20 * np.sin(at), 1 + at / 3])
    (path,) = cs.paths_from(xyz, smooth=45)
    np.testing.assert_allclose(path.depth[::2], xyz[:, 2], atol=1e-12)
    assert (np.diff(path.depth) > 0).all()


def test_arcs_through_points_do_not_mind_motion():
    rng = np.random.default_rng(5)
    xy = np.cumsum(rng.uniform(0.5, 3, (9, 2)), axis=0)
    turn = Affine2D().rotate(0.7).translate(3, -8)
    (one, sweeps), (two, same) = arcs_through(xy, closed=False), arcs_through(turn.transform(xy), closed=False)
    np.testing.assert_allclose(turn.transform(one), two, atol=1e-10)
    np.testing.assert_allclose(sweeps, same, atol=1e-10)
    back, other = arcs_through(xy[::-1], closed=False)
    np.testing.assert_allclose(back[::-1], one, atol=1e-10)
    np.testing.assert_allclose(other[::-1], -sweeps, atol=1e-10)


# --- depths, sums and parts -------------------------------------------------------------------------------------------


def test_depths_by_a_function_of_place_or_of_distance():
    (path,) = cs.paths_from("M0 0C20 30 60 -30 80 10", lambda s: 1 + 0.5 * np.sin(s / 7), tolerance=0.005)
    s = np.linspace(0, path.length, 5000)
    assert np.abs(path.depth_at(s) - (1 + 0.5 * np.sin(s / 7))).max() < 0.006
    swelling = cs.ring(20, 1.0).with_depth(lambda x, y: 1 + x**2 / 400)
    s = np.linspace(0, swelling.length, 5000)
    assert np.abs(swelling.depth_at(s) - (1 + swelling.position(s)[:, 0] ** 2 / 400)).max() < 0.011
    assert swelling.closed
    assert swelling.length == pytest.approx(40 * np.pi, rel=1e-14)
    with pytest.raises(cs.DomainError, match="same at both ends of a closed path"):
        cs.ring(20, 1.0).with_depth(lambda s: 1 + s / 200)
    with pytest.raises(cs.DomainError, match="numbers on a path with vertical pieces"):
        cs.dot((0, 0), 1.0).with_depth(lambda s: 1 + s)


def test_a_curve_takes_a_function_for_its_depth():
    path = cs.curve(lambda t: np.column_stack([60 * t, 4 * np.sin(6 * t)]), lambda s: 1 + (s / 60) ** 2)
    s = np.linspace(0, path.length, 3000)
    assert np.abs(path.depth_at(s) - 1 - (s / 60) ** 2).max() < 0.0025


def parts_of():
    return cs.Path([(0, 0), (20, 0), (20, 0), (30, 10), (40, 30)], [1, 1, 2, 2, 1.5], sweep=[40, 0, -90, 0],
                   dwell=[0, 0.1, 0.2, 0, 0.3], name="stem")  # fmt: skip


def test_parts_add_up_to_the_whole():
    whole = parts_of()
    parts = whole.split([5.0, whole.joints[1], 30.0])
    assert [len(p.xy) for p in parts] == [2, 2, 3, 3]
    assert parts[2].depth.tolist()[:2] == [1, 2]  # the plunge goes with what follows
    back = parts[0]
    for part in parts[1:]:
        back = back + part
    assert back.length == pytest.approx(whole.length, rel=1e-14)
    s = np.linspace(0, whole.length, 400)
    np.testing.assert_allclose(back.position(s), whole.position(s), atol=1e-11)
    np.testing.assert_allclose(back.depth_at(s), whole.depth_at(s), atol=1e-11)
    assert back.dwell.sum() == pytest.approx(whole.dwell.sum())
    assert back.name == "stem"
    for wrong in ([0.0], [whole.length], [9.0, 5.0], [5.0, 5.0], [[1.0], [2.0]], [np.nan]):
        with pytest.raises(cs.DomainError, match="stations must"):
            whole.split(wrong)


def test_a_sum_goes_down_where_depths_differ_and_must_meet():
    a, b = cs.line((0, 0), (9, 0), 1.0), cs.line((9, 0), (9, 9), 2.0)
    assert (a + b).drop.tolist() == [0, 1, 0]
    assert a + cs.line((9, 0), (9, 9), 1.0) == cs.polyline([(0, 0), (9, 0), (9, 9)], 1.0)
    with pytest.raises(cs.DomainError, match="paths that are added must meet"):
        a + b.shifted(0, 1)
    with pytest.raises(TypeError):
        a + 3


def test_rounds_are_opened_looped_and_started_elsewhere():
    ring = cs.ring(20, 2.0)
    opened = ring.opened()
    assert not opened.closed
    assert opened.looped() == ring
    assert (ring + cs.line((20, 0), (30, 0), 2.0)).length == pytest.approx(ring.length + 10)
    later = ring.started_at(50.0)
    assert later.closed
    s = np.linspace(0, ring.length, 500)
    np.testing.assert_allclose(later.position(s), ring.position((s + 50) % ring.length), atol=1e-11)
    assert later.started_at(ring.length - 50).length == pytest.approx(ring.length)
    with pytest.raises(cs.DomainError, match="must be closed to start elsewhere"):
        opened.started_at(3.0)
    with pytest.raises(cs.DomainError, match="must end where it starts"):
        cs.line((0, 0), (9, 0), 1.0).looped()


def test_a_name_goes_along_and_makes_no_difference():
    path = parts_of()
    for made in (path.rotated(30), path.scaled(2), path.mirrored(), path.reversed(), path.refined(1), path.raised(0.5)):
        assert made.name == "stem"
    assert path == cs.Path(path.xy, path.depth, sweep=path.sweep, dwell=path.dwell)
    assert "'stem'" in repr(path)
    with pytest.raises(cs.DomainError, match="name must be a str"):
        cs.Path(path.xy, 1.0, name=3)


def test_a_word_or_a_file_is_shown_its_own_way_in():
    with pytest.raises(cs.DomainError, match=r"begins with M, got 'OAK': .*TextPath\(\(0, 0\), 'OAK', size=25\)"):
        cs.paths_from("OAK", depth=1)
    with pytest.raises(cs.DomainError, match=r"got 'leaf\.svg': a file is read by read_svg"):
        cs.paths_from("leaf.svg", depth=1)
    with pytest.raises(cs.DomainError, match="at character"):
        cs.paths_from("M 0 0 L 5", depth=1)
