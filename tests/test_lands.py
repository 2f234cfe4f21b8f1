"""Lands and breakouts against scenes laid out by hand; moved, reordered and resampled they stay the same."""

import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

import chipsim as cs
from chipsim.limits.breakouts import breakouts
from chipsim.limits.lands import Land, lands_table, thin_lands
from chipsim.testing.strategies import azimuths, phases, reals, steadily, turns

BIT = cs.VBit(90, 12.7, 2)  # as wide on either side as deep
CHERRY = cs.wood("black cherry")
ACROSS = cs.Board(CHERRY, cs.straight_grain(90))
HALF = 2.0


def cut(path, **change):
    return cs.Cut(BIT, path, 18_000, 1500, **change)


def line(start, end, **change):
    return cut(cs.line(start, end, HALF), **change)


def job(*cuts):
    return cs.Carving(cuts)


TWO_LINES = job(line((0, 0), (20, 0)), line((0, 5), (20, 5)))  # 1 mm between their lips
TWO_RINGS = job(cut(cs.ring(10, HALF)), cut(cs.ring(8, HALF, centre=(23, 0))))  # 23 - 12 - 10 = 1 mm
CROSS = job(line((-10, 0), (10, 0)), line((0, -10), (0, 10)))


def force(board, heading):
    """F / b at a lip by hand: A + B h with a chip 0.2 mm short of the lip, fibres flat in the face. [N/mm]"""
    phi = math.acos(1 - 0.2 / HALF)
    chip = 1500 / 18_000 / 2 * math.sin(phi) * math.cos(math.pi / 4)
    turn = math.radians(board.grain.at((0, 0))[0] - heading)
    edge = math.sin(turn) * math.sin(math.pi / 4)
    return float(cs.CuttingForceModel().force_per_length(chip, 0.008, board.wood, motion=math.cos(turn), edge=edge))


# --- lands by hand (derived) ------------------------------------------------------------------------------------------


@pytest.mark.parametrize("pitch", [0.3, 0.5, 0.77])
def test_two_parallel_lines(pitch):
    (land,) = thin_lands(TWO_LINES, ACROSS, pitch=pitch)
    assert land.width == pytest.approx(1, abs=1e-9)
    assert land.narrowest == pytest.approx((10, 2.5), abs=pitch)
    assert land.narrowest[1] == pytest.approx(2.5, abs=1e-9)
    assert (land.grooves, land.closed, land.wedge) == ((0, 1), False, False)
    # with the round ends, up to where one is 2 mm from the other: 4 sin^2 t + (5 - 2 cos t)^2 = (2 + 2)^2
    end = HALF * math.acos((4 + 25 - 16) / 20)
    assert land.length == pytest.approx(20 + 2 * end, abs=2.5 * pitch)
    assert sorted([land.start[0], land.stop[0]]) == pytest.approx([-HALF * math.sin(end / HALF), 20 + 1.5], abs=0.6)


def test_fibres_across_hold_by_the_width_alone():
    (land,) = thin_lands(TWO_LINES, ACROSS)
    assert land.angle == pytest.approx(90, abs=1)
    assert land.fibre_length == pytest.approx(1, rel=1e-3)
    # at the weakest place of straight lips: the round ends differ a little in direction
    straight = force(ACROSS, 0) / (CHERRY.shear_parallel * 1.0)
    assert land.index == pytest.approx(straight, rel=0.05)
    assert land.index >= straight * (1 - 1e-9)


@pytest.mark.parametrize("azimuth", [30.0, 150.0])
def test_fibres_aslant_are_longer(azimuth):
    # a ring about a ring: all of the land is of one width; its weakest place is where fibres go straight across
    board = cs.Board(CHERRY, cs.straight_grain(azimuth))
    (land,) = thin_lands(job(cut(cs.ring(10, HALF)), cut(cs.ring(15, HALF))), board)
    assert land.closed
    assert land.start == land.stop
    assert land.width == pytest.approx(1, abs=1e-9)
    assert land.length == pytest.approx(2 * math.pi * 12.5, rel=1e-9)
    assert land.angle > 85
    x, y = land.weakest
    assert math.hypot(x, y) == pytest.approx(12.5)
    assert abs(math.sin(math.atan2(y, x) - math.radians(azimuth))) < math.sin(math.radians(5))


def test_fibres_along_are_as_long_as_the_land():
    lines = job(line((0, 0), (20, 0)), line((-9, 5), (29, 5)))
    (land,) = thin_lands(lines, cs.Board(CHERRY, cs.straight_grain(0)), width=1.0001)
    assert land.angle == pytest.approx(0, abs=1)
    assert land.fibre_length == pytest.approx(land.length)
    assert land.length == pytest.approx(20, abs=0.6)
    slant = cs.Board(CHERRY, cs.straight_grain(30))
    (land,) = thin_lands(lines, slant, width=1.0001)
    assert land.angle == pytest.approx(30, abs=1)
    assert land.fibre_length == pytest.approx(2, rel=0.02)  # 1 / sin 30
    assert land.index == pytest.approx(force(slant, 0) / (CHERRY.shear_parallel * 2), rel=0.02)


@pytest.mark.parametrize("pitch", [0.3, 0.5, 0.77])
def test_two_rings_side_by_side(pitch):
    (land,) = thin_lands(TWO_RINGS, ACROSS, pitch=pitch)
    assert land.width == pytest.approx(1, abs=1e-9)  # whatever the pitch
    assert land.narrowest == pytest.approx((12.5, 0), abs=1e-4)
    assert sorted([land.start[1], land.stop[1]])[0] == pytest.approx(-sorted([land.start[1], land.stop[1]])[1], abs=1)


def test_two_ends_head_on_leave_one_land():
    (land,) = thin_lands(job(line((0, 0), (10, 0)), line((15, 0), (25, 0))), ACROSS)
    assert land.width == pytest.approx(1, abs=1e-9)
    assert land.narrowest == pytest.approx((12.5, 0), abs=1e-4)


def test_parts_of_one_path():
    bend = cs.polyline([(0, 0), (20, 0), (20, 4.8), (0, 4.8)], HALF)
    (land,) = thin_lands(cut(bend), ACROSS)
    assert land.width == pytest.approx(0.8)
    assert land.grooves == (0, 0)
    # the inner lips: 20 mm of path less the half-width at the corner, and half the round end
    assert land.length == pytest.approx(20 - HALF, abs=2)


def test_a_square_crossing_leaves_no_land_and_a_narrow_one_wedges():
    assert list(thin_lands(CROSS, ACROSS)) == []
    narrow = job(line((-20, 0), (20, 0)), line((-20, -10), (20, 10)))  # atan 1/2: 26.6 deg, twice
    found = thin_lands(narrow, ACROSS, width=1.0)
    assert len(found) == 2
    assert all(land.wedge for land in found)
    # walls under 26.6 deg are 1 mm apart over 1 / tan of it, less the tip that is lost
    assert [land.length for land in found] == pytest.approx([1 / math.tan(math.atan(0.5))] * 2, abs=0.7)
    assert "wedge" in lands_table(found)


def test_only_lips_that_survive_count():
    # a third groove takes the land away
    assert list(thin_lands(job(*TWO_LINES, line((-5, 2.5), (25, 2.5))), ACROSS, width=0.9)) == []
    assert len(thin_lands(TWO_LINES, ACROSS, width=1.01)) == 1
    assert list(thin_lands(TWO_LINES, ACROSS, width=0.99)) == []


def test_what_lies_beyond_the_board_is_no_land():
    (land,) = thin_lands(TWO_LINES, replace(ACROSS, extent=(5, -10, 15, 10)))
    assert land.length == pytest.approx(10, abs=0.5)
    assert list(thin_lands(TWO_LINES, replace(ACROSS, extent=(0, 2.5, 20, 10)))) == []


def test_the_band_decides_the_words():
    (land,) = thin_lands(TWO_LINES, ACROSS)
    words = {0.32: "holds", 0.34: "may break", 2.9: "may break", 3.1: "breaks", math.nan: "not known"}  # a band of 3
    assert {x: replace(land, index=x).verdict for x in words} == words
    bare = replace(CHERRY, shear_parallel=math.nan)
    (unknown,) = thin_lands(TWO_LINES, replace(ACROSS, wood=bare))
    assert unknown.verdict == "not known"
    assert "not known" in lands_table([unknown])
    thinner = job(line((0, 0), (20, 0)), line((0, 4.2), (20, 4.2)))
    (weaker,) = thin_lands(thinner, ACROSS)
    assert weaker.index > 4 * land.index


def test_the_weakest_comes_first_and_the_table_numbers_them():
    three = job(*TWO_LINES, line((0, 9.3), (20, 9.3)))
    found = thin_lands(three, ACROSS)
    assert [land.width for land in found] == pytest.approx([0.3, 1.0])
    assert found[0].index > found[1].index
    answer, _, _, *text = lands_table(found).splitlines()
    assert answer.startswith("2 lands are thin: ")
    assert text[0].startswith("a ")  # as on the map
    assert "0.30 mm (0.012 in)" in text[0]
    assert text[1].startswith("b ")
    assert lands_table([]) == "No land is thin."
    with pytest.raises(cs.DomainError, match="lands must be Land objects"):
        lands_table([1])


# --- breakouts by hand (derived) --------------------------------------------------------------------------------------


def keyed(found):
    return {(*(round(x, 6) + 0.0 for x in b.xy), b.groove): b for b in found}


def test_a_cross_has_four_corners_and_eight_ends():
    board = cs.Board(CHERRY, cs.straight_grain(45))
    found = keyed(breakouts(CROSS, board))
    corners = [(x, y) for x in (-2.0, 2.0) for y in (-2.0, 2.0)]
    assert sorted(found) == sorted((*c, g) for c in corners for g in (0, 1))
    for (x, y, groove), b in found.items():
        assert b.angle == pytest.approx(90)
        assert b.into == f"groove {2 - groove}"
        # in two corners fibres at 45 deg are cut off at both ends, twice the reach long: a right angle's chord
        assert b.fibre_length == (pytest.approx(1.0) if x * y < 0 else math.inf)
    # clockwise teeth move forwards at the left lip (x = -2) and backwards at the right one (x = 2) of the second
    # groove, going up; the first groove was cut in whole wood
    assert {key for key, b in found.items() if b.exits} == {(-2.0, -2.0, 1), (2.0, 2.0, 1)}
    assert {b.side for b in found.values() if b.exits} == {"left", "right"}
    other = job(*(replace(c, spin="ccw") for c in CROSS))
    assert {key for key, b in keyed(breakouts(other, board)).items() if b.exits} == {(-2.0, 2.0, 1), (2.0, -2.0, 1)}


def test_the_order_of_the_grooves_decides_only_who_breaks_out():
    board = cs.Board(CHERRY, cs.straight_grain(20))
    one, two = (breakouts(c, board) for c in (CROSS, job(*CROSS.cuts[::-1])))
    np.testing.assert_allclose(sorted(b.xy for b in one), sorted(b.xy for b in two), atol=1e-12)
    assert {b.groove for b in one if b.exits} == {b.groove for b in two if b.exits} == {1}


def test_a_line_that_leaves_the_board():
    board = cs.Board(CHERRY, cs.straight_grain(30), extent=(-5, -20, 8, 20))
    through = line((-10, 0), (10, 0))
    assert list(breakouts(through, replace(board, extent=None))) == []  # not known: nothing is claimed
    found = {b.xy: b for b in breakouts(through, board)}
    np.testing.assert_allclose(sorted(found), [(-5, -2), (-5, 2), (8, -2), (8, 2)], atol=1e-12)
    by_place = {(round(x), round(y)): b for (x, y), b in found.items()}
    # clockwise: the left lip's teeth move forwards, out at the far edge; the right lip's backwards, out at the near
    assert {place for place, b in by_place.items() if b.exits} == {(8, 2), (-5, -2)}
    assert by_place[8, 2].into == "the right edge of the board"
    assert by_place[-5, 2].into == "the left edge of the board"
    m = 0.5 * math.sin(math.pi / 4)
    short = m / math.cos(math.radians(30)) + m / math.sin(math.radians(30))
    assert by_place[8, 2].fibre_length == pytest.approx(short)
    assert by_place[8, -2].fibre_length == math.inf
    assert "teeth move out of the wood" in str(by_place[8, 2])
    assert "held at one end" in str(by_place[8, -2])


def test_an_arc_leaves_the_board_where_its_lips_do():
    board = replace(ACROSS, extent=(-30, -30, 5, 30))
    found = breakouts(cut(cs.ring(10, HALF)), board, pitch=0.4)
    assert sorted({round(b.xy[1], 9) for b in found}) == pytest.approx(
        sorted(s * math.sqrt(r * r - 25) for r in (8, 12) for s in (-1, 1))
    )
    for b in found:
        r = math.hypot(*b.xy)
        lean = math.degrees(math.asin(5 / r))  # between the lip's normal and the board's edge
        assert b.angle == pytest.approx(90 + lean if r < 10 else 90 - lean)


def test_corners_of_a_frame_are_inside_of_it():
    frame = cut(cs.polyline([(0, 0), (15, 0), (15, 15), (0, 15)], HALF, closed=True))
    found = breakouts(frame, cs.Board(CHERRY, cs.straight_grain(10)))
    assert sorted({(round(b.xy[0], 9), round(b.xy[1], 9)) for b in found}) == [(2, 2), (2, 13), (13, 2), (13, 13)]
    assert {b.side for b in found} == {"left"}
    assert {b.into for b in found} == {"its own path"}
    # forwards to the end of a side the wood is whole, but for the last, which runs into the first
    assert [tuple(np.round(b.xy, 9)) for b in found if b.exits] == [(2, 2)]
    assert list(breakouts(frame, ACROSS, blunt=89)) == []


def test_a_groove_that_stops_in_another():
    tee = job(line((-10, 0), (10, 0)), line((0, 0), (0, 10)))
    found = keyed(breakouts(tee, ACROSS))
    assert sorted(found) == [(-2, 2, 0), (-2, 2, 1), (2, 2, 0), (2, 2, 1)]
    assert {key for key, b in found.items() if b.exits} == {(2, 2, 1)}  # the right lip, backwards


# --- what must not matter ---------------------------------------------------------------------------------------------


def scene(gap, spread, ring, shift):
    return job(
        line((0, 0), (12, 0)),
        line((shift, 2 * HALF + gap), (12 + shift, 2 * HALF + gap + spread)),
        cut(cs.ring(ring, HALF, centre=(6, -2 * HALF - ring - 0.4))),
        cut(cs.arc((30, 0), 9, 200, 120, HALF)),
        line((24, -12), (33, 1)),
    )


scenes = st.builds(scene, reals(0.1, 1.5), reals(0, 0.4), reals(3, 8), reals(-3, 3).map(lambda a: a + 0.0317))


def values(lands):
    return sorted((land.width, land.length, land.index, land.angle, land.fibre_length) for land in lands)


@steadily(12)
@given(carving=scenes, azimuth=azimuths, turn=turns, dx=reals(-40, 40))
def test_moving_the_whole_job_changes_nothing(carving, azimuth, turn, dx):
    grain = cs.straight_grain(azimuth)
    one, two = (thin_lands(carving, cs.Board(CHERRY, grain)), breakouts(carving, cs.Board(CHERRY, grain)))
    moved = carving.shifted(dx, 3.1).rotated(turn)
    board = cs.Board(CHERRY, cs.straight_grain(azimuth + turn))
    np.testing.assert_allclose(values(thin_lands(moved, board)), values(one), rtol=1e-6)
    c, s = math.cos(math.radians(turn)), math.sin(math.radians(turn))
    there = [(c * (x + dx) - s * (y + 3.1), s * (x + dx) + c * (y + 3.1)) for x, y in (b.xy for b in two)]
    found = breakouts(moved, board)
    np.testing.assert_allclose(sorted(b.angle for b in found), sorted(b.angle for b in two), atol=1e-6)
    for b in found:
        assert min(math.dist(b.xy, p) for p in there) < 1e-6
    assert sum(b.exits for b in found) == sum(b.exits for b in two)


@steadily(12)
@given(carving=scenes, azimuth=azimuths, order=st.permutations(range(5)), phase=phases)
def test_the_order_of_the_grooves_does_not_matter(carving, azimuth, order, phase):
    board = cs.Board(CHERRY, cs.straight_grain(azimuth))
    one = thin_lands(carving, board)
    two = thin_lands(job(*(replace(carving.cuts[i], phase=phase) for i in order)), board)
    assert len(one) == len(two)
    for a, b in zip(one, two, strict=True):
        for name in ("start", "stop", "narrowest", "weakest", "width", "length", "angle", "fibre_length", "index"):
            assert getattr(a, name) == pytest.approx(getattr(b, name), rel=1e-9, abs=1e-9), name
        assert a.grooves == tuple(sorted(order[k] for k in b.grooves))


@steadily(10)
@given(carving=scenes, pitch=st.sampled_from([0.25, 0.4, 0.6]))
def test_widths_do_not_depend_on_the_pitch(carving, pitch):
    fine = [w.width for w in thin_lands(carving, ACROSS, pitch=0.2) if not w.wedge]
    coarse = [w.width for w in thin_lands(carving, ACROSS, pitch=pitch) if not w.wedge]
    if len(fine) == len(coarse):
        np.testing.assert_allclose(sorted(coarse), sorted(fine), atol=2e-3)
    assert min(coarse) == pytest.approx(min(fine), abs=2e-3)


def test_a_land_keeps_both_its_lips():
    (land,) = thin_lands(TWO_RINGS, ACROSS)
    assert isinstance(land, Land)
    gap = np.hypot(*(land.lips[:, 0] - land.lips[:, 1]).T)
    assert gap.min() >= land.width - 1e-9
    assert gap.max() <= 2.0
    with pytest.raises(ValueError, match="read-only"):
        land.lips[0] = 0


def test_lands_are_joined_by_numbers_that_the_oldest_scipy_takes(monkeypatch):
    """Version 1.11.0 passes over wider ones with a message to standard error, and nothing is joined."""
    from chipsim.limits import lands

    seen, original = [], lands.connected_components

    def watched(graph, **how):
        seen.append(graph.row.dtype)
        return original(graph, **how)

    monkeypatch.setattr(lands, "connected_components", watched)
    rows = [cs.Cut(cs.VBit(90, 12.7, 2), cs.line((0, y), (30, y), 2.0), 18_000, 1500) for y in (0.0, 5.0)]
    board = cs.Board(cs.wood("black cherry"), cs.straight_grain(20))
    assert len(cs.thin_lands(cs.Carving(tuple(rows)), board)) == 1
    assert seen == [np.int32]
