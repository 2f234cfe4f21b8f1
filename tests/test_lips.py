"""The two lips of a groove against shapely, which knows nothing of the library.

Check: the lips' outline is the boundary of everything the tip's axis carries a disc of the groove's half-width over:
on a level path the buffer of the centre line, on a ramp the union of discs that grow or shrink. Source: shapely's
buffer and union; section and volume by Pappus-Guldin. Curves are broken into chords within 2e-6 mm for it.
"""

from __future__ import annotations

import itertools
from functools import reduce
from typing import Any

import numpy as np
import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st

import chipsim as cs
from chipsim.chips.lips import Lips, lay_out_lips
from chipsim.testing.strategies import CHERRY, bits, paths, profile_bits, reals, steadily

BIT = cs.VBit(90, 12.7)
SHARP, BLUNT = cs.VBit(60, 12.7), cs.VBit(120, 25.4, tip_width=0.4)
CHORD = 2e-6  # mm, largest distance of a chord from its arc


# --- the outline by shapely -------------------------------------------------------------------------------------------


def laid_out(cut: cs.Cut, pitch: float) -> Lips:
    """The lips that survive, by the public road."""
    return cs.lip_strikes(cut, pitch=pitch, bundle=1e-6).lips


def centre_line(path: cs.Path) -> np.ndarray:
    """Vertices of the path, arcs broken into chords."""
    stations = [0.0]
    for a, b, (*_, kappa, _, _, _) in zip(path.joints[:-1], path.joints[1:], path.pieces, strict=True):
        parts = 1 if kappa == 0 else int(np.ceil((b - a) * np.sqrt(abs(kappa) / (8 * CHORD))))
        stations += list(a + (b - a) * np.arange(1, parts + 1) / parts)
    return path.position(np.array(stations))


SHIFT = 5e-4
"""Where two outlines graze each other shapely's chords move their crossing by sqrt(2 r chord) and more. [mm]"""


def outline(cut: cs.Cut) -> Any:
    """The part of the face that the groove takes away."""
    path, depths = cut.path, cut.path.depth
    if np.ptp(depths) == 0:
        width = float(cut.half_width(depths[:1])[0])
        segments = max(32, int(np.ceil(np.pi / 4 * np.sqrt(width / (2 * CHORD)))))
        return shapely.LineString(centre_line(path)).buffer(width, quad_segs=segments)
    # growing discs: each short stretch is the convex hull of the discs at its ends
    parts = [max(2, int(np.ceil(length / 0.05))) for length in np.diff(path.joints)]
    stations = np.concatenate(
        [np.linspace(a, b, n + 1) for a, b, n in zip(path.joints, path.joints[1:], parts, strict=False)]
    )
    knots = cut.knots[0]  # where the outline bends is the end of a stretch too
    extra = []
    for a, b, (*_, d, m) in zip(path.joints[:-1], path.joints[1:], path.pieces, strict=True):
        if m != 0:
            at = a + (knots - d) / m
            extra += list(at[(at > a) & (at < b)])
    stations = np.unique(np.concatenate([stations, extra]))
    xy, width = (
        path.position(stations),
        cut.half_width(np.maximum(path.depth_at(stations), 1e-9)),
    )  # just below the face
    around = 2 * np.pi * np.arange(720) / 720
    rim = np.column_stack([np.cos(around), np.sin(around)])
    discs = xy[:, None, :] + width[:, None, None] * rim
    hulls = shapely.convex_hull(shapely.multipoints(np.concatenate([discs[:-1], discs[1:]], axis=1)))
    return shapely.union_all(hulls[shapely.area(hulls) > 0])


def compare(cut: cs.Cut, pitch: float, shape: Any = None) -> tuple[float, float, float]:
    """Length of the lips, that of shapely's outline, and the largest distance of a lip point from the latter.

    `shape`: the outline, if it is known already.

    On level paths that distance is measured from the centre line, not from the buffer, whose hollows shapely smooths
    by up to a hundredth of the half-width.
    """
    lips, shape = laid_out(cut, pitch), outline(cut) if shape is None else shape
    points = shapely.points(lips.lip_xy[lips.exists])
    if np.ptp(cut.path.depth) == 0:
        line, width = shapely.LineString(centre_line(cut.path)), cut.half_width(cut.path.depth[:1])
        far = np.abs(shapely.distance(line, points) - width)
    else:
        far = shapely.distance(shape.boundary, points)
    return float(lips.lip_length.sum()), float(shape.length), float(far.max(initial=0.0))


def cut_of(path: cs.Path, bit: Any = BIT) -> cs.Cut:
    return cs.Cut(bit, path, 18_000, 1500)


# --- level paths ------------------------------------------------------------------------------------------------------

EXACT = {  # nothing is cut away in the middle of a cell: the outline is exact at any pitch
    "line": cs.line((0, 0), (10, 3), 2),
    "short line": cs.line((0, 0), (0.01, 0), 2),
    "ring": cs.ring(20, 2.5),
    "ring tighter than the half-width": cs.ring(2, 2.5),
    "ring of exactly the half-width": cs.ring(2.5, 2.5),
    "arc": cs.arc((3, 1), 8, 20, -140, 1.5),
    "arc all the way round": cs.arc((0, 0), 10, 0, 360, 1),
    "tight arc": cs.arc((0, 0), 1.0, 0, 100, 1.5),
    "oval": cs.oval(50, 30, 2),
    "right corner on a station": cs.polyline([(0, 0), (10, 0), (10, 10)], 1),
    "square": cs.polyline([(0, 0), (10, 0), (10, 10), (0, 10)], 1, closed=True),
    "square smaller than the groove": cs.polyline([(0, 0), (1, 0), (1, 1), (0, 1)], 1, closed=True),
    "crossing": cs.polyline([(0, 0), (10, 0), (10, 10), (5, 10), (5, -10)], 1),
    "deeper than the cone": cs.line((0, 0), (20, 0), 9),
    "flat tip at no depth": cs.Path([(0, 0), (3, 0)], 0.0),
}
ROUGH = {  # lips end inside a cell: within a couple of pitches per such place, which is the number stated
    "obtuse corner": (cs.polyline([(0, 0), (10, 0), (16, 5)], 1), 2),
    "acute corner": (cs.polyline([(0, 0), (10, 0), (1, 3)], 1), 2),
    "zigzag": (cs.polyline([(0, 0), (7, 0), (1, 3.1), (9, 4.7), (2, 9)], 0.6), 8),
    "triangle": (cs.polyline([(0, 0), (9, 1), (3, 8)], 0.7, closed=True), 6),
    "triangle, the other way": (cs.polyline([(3, 8), (9, 1), (0, 0)], 0.7, closed=True), 6),
    "bow tie": (cs.polyline([(0, 0), (9, 6), (9, 0), (0, 6.3)], 0.7, closed=True), 12),
    "fillet tighter than the half-width": (cs.Path([(0, 0), (10, 0), (10.5, 0.5), (10.5, 10)], 2, sweep=[0, 90, 0]), 4),
    "figure of eight": (
        cs.Path([(0, 0), (5, 5), (0, 0.1), (-5, -5)], 1, sweep=[180, 180, -180, -180], closed=True),
        16,
    ),
    "spiral": (cs.spiral(1, 12, 3, 1), 8),
    "spiral that eats its own walls": (cs.spiral(0, 6, 4, 1), 8),
    "rosette": (cs.rosette(20, 6, 6, 1.5), 24),
    "rosette that meets in the middle": (cs.rosette(20, 2, 9, 2.5), 36),
    "parallel strokes just apart": (cs.polyline([(0, 0), (12, 0), (12, 2.05), (0, 2.05)], 1), 6),
    "parallel strokes just touching": (cs.polyline([(0, 0), (12, 0), (12, 1.9), (0, 1.9)], 1), 6),
}


@pytest.mark.parametrize("pitch", [0.5, 0.1])
@pytest.mark.parametrize("name", EXACT)
def test_outline_of_level_paths(name: str, pitch: float) -> None:
    cut = cut_of(EXACT[name], cs.VBit(60, 12.7, tip_width=0.5) if "tip" in name else BIT)
    found, expected, far = compare(cut, pitch)
    # where lips end inside a cell a row stands for all of it; shapely leaves a speck of a hole in the tight ring
    assert found == pytest.approx(expected, abs=0.25 * pitch + 5e-3 if "tight" in name else 2e-4)
    assert far < CHORD + 2e-6


@pytest.mark.parametrize("name", ROUGH)
def test_outline_where_lips_end_within_cells(name: str) -> None:
    path, ends = ROUGH[name]
    cut = cut_of(path)
    shape = outline(cut)
    for pitch in (0.2, 0.04):
        found, expected, far = compare(cut, pitch, shape)
        assert abs(found - expected) < pitch * ends + 1e-3, pitch
        assert far < CHORD + 2e-6


@steadily(40)
@given(path=paths(level=True, pieces=4), bit=bits(runout=False), pitch=st.sampled_from([0.05, 0.2]))
def test_outline_of_any_level_path(path: cs.Path, bit: cs.VBit, pitch: float) -> None:
    """Every piece may end a few stretches of lip within a cell."""
    cut = cut_of(path, bit)
    found, expected, far = compare(cut, pitch)
    assert far < CHORD + 2e-6
    assert abs(found - expected) < 2.5 * pitch * (len(path.pieces) + 2) + 1e-3


# --- ramps ------------------------------------------------------------------------------------------------------------

RAMPS = {
    "down": (cs.line((0, 0), (10, 0), (0.5, 3)), BIT, 0),
    "up": (cs.line((0, 0), (10, 0), (3, 0.5)), BIT, 0),
    "from the face": (cs.line((0, 0), (10, 0), (0, 3)), BIT, 0),
    "from the face, flat tip": (cs.line((0, 0), (10, 0), (0, 3)), BLUNT, 0),
    "slope of the lip 0.95": (cs.line((0, 0), (4, 0), (0, 3.8)), BIT, 0),
    "slope of the lip exactly 1": (cs.line((0, 0), (4, 0), (0, 4)), BIT, 0),
    "steeper than its own flank": (cs.line((0, 0), (3, 0), (0.2, 4.1)), BIT, 0),
    "much steeper": (cs.line((0, 0), (0.5, 0), (0.2, 4.1)), BIT, 0),
    "much steeper, up": (cs.line((0, 0), (0.5, 0), (4.1, 0.2)), BIT, 0),
    "down and up": (cs.polyline([(0, 0), (10, 0), (20, 0)], [0, 3, 0]), BIT, 0),
    "down and up, steeply": (cs.polyline([(0, 0), (2, 0), (4, 0)], [0.3, 3, 0.1]), BIT, 2),
    "up and down": (cs.polyline([(0, 0), (10, 0), (20, 0)], [3, 0.5, 3]), BIT, 4),
    "leaves in the corner": (cs.polyline([(0, 0), (10, 0), (10, 10)], [0, 3, 0]), BIT, 4),
    "arc": (cs.arc((0, 0), 10, 0, 120, (0, 3)), BIT, 0),
    "arc, sharp bit": (cs.arc((0, 0), 6, 0, -200, (4, 1)), SHARP, 0),
    "tight arc": (cs.arc((0, 0), 2, 0, 200, (1, 3)), BIT, 6),
    "spiral": (cs.spiral(4, 16, 2, (0.5, 2.5)), BIT, 4),
    "loop with a corner at its start": (
        cs.Path([(0, 0), (10, 0), (10, 10), (0, 10)], [1, 2, 1, 2], closed=True),
        BIT,
        8,
    ),
}
BENDS = {  # the outline of the bit bends on the way: the lip has a corner there
    "beyond the cone": (cs.line((0, 0), (20, 0), (2, 9)), BIT, 0),
    "back into the cone": (cs.line((0, 0), (20, 0), (9, 2)), BIT, 0),
    "past a shoulder": (cs.line((0, 0), (10, 0), (0, 4)), cs.ProfileBit([0, 1, 2, 4], [0.2, 1.5, 1.6, 4]), 4),
    "up past a shoulder": (cs.line((0, 0), (10, 0), (4, 0)), cs.ProfileBit([0, 1, 2, 4], [0.2, 1.5, 1.6, 4]), 4),
    "on an arc": (cs.arc((0, 0), 12, 0, 150, (0.5, 4)), cs.ProfileBit([0, 1.5, 4], [0.1, 2, 2.4]), 4),
}


@pytest.mark.parametrize("name", RAMPS)
def test_outline_of_ramps(name: str) -> None:
    path, bit, ends = RAMPS[name]
    cut = cut_of(path, bit)
    shape = outline(cut)
    for pitch in (0.25, 0.05):
        found, expected, far = compare(cut, pitch, shape)
        assert abs(found - expected) < pitch * ends + 2e-3, pitch
        assert far < SHIFT


@pytest.mark.parametrize("name", BENDS)
def test_outline_of_ramps_past_a_bend_of_the_bit(name: str) -> None:
    path, bit, ends = BENDS[name]
    cut = cut_of(path, bit)
    shape = outline(cut)
    for pitch in (0.25, 0.05):
        found, expected, far = compare(cut, pitch, shape)
        assert abs(found - expected) < pitch * (ends + 4) + 2e-3, pitch
        assert far < SHIFT


@steadily(12)
@given(path=paths(level=False, pieces=3, lengths=(1.0, 4.0)), bit=st.sampled_from([BIT, SHARP, BLUNT]))
def test_outline_of_any_ramp(path: cs.Path, bit: cs.VBit) -> None:
    pitch = 0.1
    found, expected, far = compare(cut_of(path, bit), pitch)
    assert far < 2e-3  # arcs with growing discs: shapely's hulls are chords
    assert abs(found - expected) < 3 * pitch * (len(path.pieces) + 2) + 5e-3


# --- no part of a path without a lip of its own, none twice -----------------------------------------------------------

TWICE = {
    "there and back": cs.polyline([(0, 0), (10, 0), (0, 0)], 1),
    "there and half back": cs.polyline([(0, 0), (10, 0), (5, 0)], 1),
    "a closed stroke": cs.polyline([(0, 0), (10, 0)], 1, closed=True),
    "the same ring twice": cs.Path(
        np.tile([(6.0, 0.0), (-6.0, 0.0)], (2, 1)) + np.repeat([0.0, 1e-8], 2)[:, None], 1, sweep=[180] * 4, closed=True
    ),
}


@pytest.mark.parametrize("name", TWICE)
def test_a_stroke_cut_twice_has_its_lips_once(name: str) -> None:
    found, expected, _ = compare(cut_of(TWICE[name]), 0.1)
    assert abs(found - expected) < 0.5


@steadily(30)
@given(path=paths(pieces=4), bit=st.one_of(bits(), profile_bits()), pitch=st.sampled_from([0.07, 0.3, 50.0]))
def test_what_a_row_promises(path: cs.Path, bit: Any, pitch: float) -> None:
    """Shapes, order, NaN exactly where there is no lip, points where they belong."""
    cut = cut_of(path, bit)
    lips = laid_out(cut, pitch)
    run = lips.kind == "run"
    cells = max(1, round(path.length / pitch))
    np.testing.assert_allclose(lips.station[run], path.length * (np.arange(cells) + 0.5) / cells, atol=1e-9)
    assert (np.diff(lips.station) >= 0).all()
    assert set(lips.kind) <= {"run", "corner"} | (set() if path.closed else {"start", "end"})
    for name in ("lip_xy", "outward"):
        known = np.isfinite(getattr(lips, name)).reshape(len(lips), 2, -1).all(axis=-1)
        assert (known == lips.exists).all(), name
    assert (lips.lip_length[~lips.exists] == 0).all()
    assert (lips.lip_length >= 0).all()
    assert np.isfinite(lips.lip_length).all()
    off = np.hypot(*(lips.lip_xy - lips.xy[:, None, :])[lips.exists].T)
    width = np.broadcast_to(lips.half_width[:, None], lips.exists.shape)[lips.exists]
    np.testing.assert_allclose(off, width, atol=1e-9)
    np.testing.assert_allclose(
        lips.half_width, cut.half_width(path.depth_at(np.clip(lips.station, 0, path.length))), atol=1e-6
    )
    out = np.radians(lips.outward)
    np.testing.assert_allclose(
        (lips.lip_xy - lips.xy[:, None, :])[lips.exists],
        (lips.half_width[:, None, None] * np.stack([np.cos(out), np.sin(out)], -1))[lips.exists],
        atol=1e-9,
    )


@pytest.mark.parametrize("pitch", [0.001, 0.25, 3.0, 1000.0])
def test_extreme_pitches(pitch: float) -> None:
    """One cell or many thousand: what a level line has of lip is the same."""
    cut = cut_of(cs.line((0, 0), (3, 4), 1.5))
    assert laid_out(cut, pitch).lip_length.sum() == pytest.approx(10 + 2 * np.pi * 1.5, abs=1e-9)


def test_ramp_lips_are_shorter_than_the_path_and_lean_back() -> None:
    """Slope of the half-width m = tan(a) dz/ds: lip length sqrt(1 - m^2) ds, normal turned back by asin(m)."""
    cut = cut_of(cs.line((0, 0), (10, 0), (1, 4)), SHARP)
    m = np.tan(np.radians(30)) * 0.3
    lips = laid_out(cut, 0.5)
    run = lips.kind == "run"
    np.testing.assert_allclose(lips.lip_length[run], 0.5 * np.sqrt(1 - m * m), atol=1e-12)
    lean = np.degrees(np.arcsin(m))
    np.testing.assert_allclose(lips.outward[run], [[90 + lean, -90 - lean]] * int(run.sum()), atol=1e-9)
    np.testing.assert_allclose(lips.heading[run], [[lean, -lean]] * int(run.sum()), atol=1e-9)


# --- flags ------------------------------------------------------------------------------------------------------------


def test_inner_lip_of_a_tight_ring_is_absent() -> None:
    """A radius smaller than the half-width is legal; its inner lip is marked as not there, not as zero risk."""
    board = cs.Board(CHERRY, cs.straight_grain(10.0))
    for path, inner in ((cs.ring(2, 2.5), 0), (cs.ring(2, 2.5).mirrored(), 1)):
        risk = cs.risk_map(cut_of(path), board)
        assert not risk.exists[:, inner].any()
        assert risk.exists[:, 1 - inner].all()
        for name in ("fuzz", "fibre_angle", "lip_xy", "heading", "cutting_speed"):
            assert np.isnan(getattr(risk, name)[:, inner]).all(), name
        assert (risk.lip_length[:, inner] == 0).all()
        assert (risk.strikes[:, inner] == 0).all()
        with pytest.raises(cs.DomainError, match="side must have a lip"):
            risk.why(1.0, ("left", "right")[inner])
        assert np.isfinite(risk.mean("fuzz"))
        assert "nan" not in str(risk).lower()


def test_no_groove_no_lip() -> None:
    """A sharp bit at no depth cuts nothing; where a ramp begins the groove has no width yet."""
    board = cs.Board(CHERRY, cs.straight_grain(10.0))
    nothing = cs.risk_map(cut_of(cs.line((0, 0), (10, 0), 0)), board)
    assert not nothing.exists.any()
    assert np.isnan(nothing.mean("fuzz"))
    assert sum(nothing.lengths_by_class().values()) == 0
    assert str(nothing)
    ramp = cs.risk_map(cut_of(cs.line((0, 0), (10, 0), (0, 2))), board)
    assert np.isfinite(ramp.fuzz[ramp.exists]).all()
    assert not (ramp.kind == "start").any()


def test_where_strokes_cross_the_lips_of_both_are_gone() -> None:
    cut = cut_of(cs.polyline([(0, 0), (10, 0), (10, 10), (5, 10), (5, -10)], 1))
    lips = laid_out(cut, 0.1)
    shape = outline(cut)
    inside = shapely.contains(shape.buffer(-1e-5), shapely.points(lips.lip_xy[lips.exists]))
    assert not inside.any()
    before = lay_out_lips(cut, 0.1)
    gone = before.exists & ~lips.exists
    assert shapely.contains(shape, shapely.points(before.lip_xy[gone])).all()


def test_class_lengths_add_up_to_the_lips() -> None:
    risk = cs.risk_map(cut_of(cs.rosette(15, 5, 5, 1.5)), cs.Board(CHERRY, cs.straight_grain(0)), pitch=0.5)
    assert sum(risk.lengths_by_class().values()) == pytest.approx(risk.lip_length[risk.exists].sum(), rel=1e-12)
    assert sum(risk.lengths_by_class("tear").values()) == pytest.approx(risk.lip_length.sum(), rel=1e-12)


# --- volume -----------------------------------------------------------------------------------------------------------


def removed(cut: cs.Cut, slices: int = 24) -> float:
    """Volume of the groove [mm^3]: Gauss-Legendre over shapely's areas of horizontal slices."""
    deepest = float(cut.path.depth[0])
    bends = np.unique(np.clip([*cut.knots[0], 0.0, deepest], 0, deepest))
    nodes, weights = np.polynomial.legendre.leggauss(slices // 2)
    line = shapely.LineString(centre_line(cut.path))
    total = 0.0
    for low, high in itertools.pairwise(bends):
        for x, w in zip(nodes, weights, strict=True):
            h = (low + high) / 2 + x * (high - low) / 2
            r = float(np.interp(h, *cut.knots))
            total += w * (high - low) / 2 * line.buffer(r, quad_segs=256).area
    return total


VOLUMES = {
    "line": cs.line((0, 0), (12, 5), 2.0),
    "arc": cs.arc((0, 0), 9, 30, 150, 2.0),
    "ring": cs.ring(7, 2.0),
    "line, arc, line": cs.Path([(0, 0), (8, 0), (14, 6), (14, 12)], 2.0, sweep=[0, 90, 0]),
    "oval": cs.oval(40, 26, 2.0),
    "beyond the cone": cs.line((0, 0), (9, 0), 8.0),
}


@pytest.mark.parametrize("name", VOLUMES)
@pytest.mark.parametrize("bit", [BIT, BLUNT, cs.ProfileBit([0, 1, 3], [0.2, 1.4, 2.0])], ids=["90", "120", "profile"])
def test_volume_is_section_times_length(name: str, bit: Any) -> None:
    """Pappus-Guldin: on a path that does not meet itself the groove is its section carried along, plus round ends."""
    cut = cut_of(VOLUMES[name], bit)
    deepest = float(cut.path.depth[0])
    h = np.unique(np.clip([*cut.knots[0], 0.0, deepest], 0, deepest))
    r = np.interp(h, *cut.knots)
    steps = list(zip(h[:-1], h[1:], r[:-1], r[1:], strict=True))
    section = reduce(lambda s, k: s + (k[1] - k[0]) * (k[2] + k[3]), steps, 0.0)
    cone = reduce(lambda s, k: s + np.pi * (k[1] - k[0]) * (k[2] ** 2 + k[2] * k[3] + k[3] ** 2) / 3, steps, 0.0)
    expected = section * cut.path.length + (0.0 if cut.path.closed else cone)
    assert removed(cut) == pytest.approx(expected, rel=2e-5)


@steadily(15)
@given(radius=reals(3, 20), depth=reals(0.3, 2.9))
def test_both_lips_of_a_ring_are_as_long_as_two_centre_lines(radius: float, depth: float) -> None:
    """Pappus for the lips: (R - w) + (R + w) = 2 R while w < R."""
    lips = laid_out(cut_of(cs.ring(radius, depth)), 0.2)
    assert lips.lip_length.sum() == pytest.approx(4 * np.pi * radius, rel=1e-9)
    inner, outer = lips.lip_length.sum(axis=0)
    assert outer - inner == pytest.approx(4 * np.pi * depth, rel=1e-9)
