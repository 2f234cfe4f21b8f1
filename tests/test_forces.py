"""Cutting forces: closed forms, a brute-force sum that shares no code with the module, and what must not matter."""

import math
from dataclasses import fields, replace
from types import SimpleNamespace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

import chipsim as cs
from chipsim.limits.forces import CuttingForceModel, cutting_forces
from chipsim.testing.strategies import (
    CHERRY,
    azimuths,
    bits,
    boards,
    dives,
    lines,
    paths,
    profile_bits,
    reals,
    spins,
    steadily,
    turns,
)

MODEL = CuttingForceModel()
PLAIN = CuttingForceModel(planing=1, end_grain=1, friction=0)  # no fibres, no normal force at rake 0
ONLY_B = replace(PLAIN, edge_pressure=0, toughness=0)
ONLY_A = replace(PLAIN, pressure=0)
BOARD = cs.Board(CHERRY, cs.straight_grain(0))
BIRCH = cs.Wood("birch", specific_gravity=0.6, bending_strength=110, elastic_modulus=14000, compression_perpendicular=7)
BIT = cs.VBit(60, 12.7, 2, 0.2, rake=0)
LINE = cs.line((0, 0), (20, 0), 2.5)
CUT = cs.Cut(BIT, LINE, 18_000, 1500)
POST = cs.ProfileBit([0, 10], [3, 3], 1, rake=0)  # upright wall, 3 mm radius
SLOT = cs.Cut(POST, cs.line((0, 0), (20, 0), 2.0), 18_000, 1800)  # 0.1 mm a tooth


def a_and_b(model, bit=BIT, wood=CHERRY):
    """A [N/mm] and B [MPa] of 0-90, from the class's docstring."""
    s = wood.specific_gravity / model.reference_gravity * math.exp(-model.moisture_fall * (wood.moisture - 12))
    return s * (model.edge_pressure * bit.edge_radius + model.toughness), s * model.pressure


# --- the law ----------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("motion", "edge", "force"),
    # 0.6 of 6, 7.8 and 15 N per mm of width at h = 0.1 mm, which are near Kivimaa 1950, birch (from memory)
    [(0, 1, 3.6), (1, 0, 4.68), (0, 0, 9.0)],
    ids=["0-90 veneer", "90-0 planing", "90-90 end grain"],
)
def test_the_three_cases_of_mckenzie_come_out_exactly(motion, edge, force):
    found = MODEL.force_per_length(0.1, 0.008, BIRCH, motion=motion, edge=edge)
    assert found == pytest.approx(force, rel=1e-12)
    assert found == pytest.approx(MODEL.force_per_length(0.1, 0.008, BIRCH, motion=-motion, edge=-edge))


def test_between_the_cases_the_squared_cosines_share():
    # derived: 45 deg between motion and wall normal, edge square to the fibre
    half = math.sqrt(0.5)
    assert MODEL.direction_factor(half, 0) == pytest.approx((1.3 + 2.5) / 2)
    assert MODEL.direction_factor(half, half) == pytest.approx((1.3 + 1.0) / 2)
    with pytest.raises(cs.DomainError, match="motion and edge must be cosines of one fibre"):
        MODEL.direction_factor(0.9, 0.9)


def test_as_the_chip_goes_to_nothing_the_edge_still_rubs():
    a, b = a_and_b(MODEL)
    force = MODEL.force_per_length([0.0, 0.1], 0.008, CHERRY, motion=0, edge=1)
    np.testing.assert_allclose(force, [a, a + 0.1 * b])


def test_a_duller_edge_raises_the_force_of_thin_chips():
    # edge 5 to 20 micrometres raises thin-chip force 1.5 to 2 times: from memory
    dull, sharp = (MODEL.force_per_length(0.05, r, BIRCH, motion=1, edge=0) for r in (0.020, 0.005))
    assert 1.5 <= dull / sharp <= 2.0


def test_specific_force_lies_within_the_band_of_what_is_quoted():
    # 15 to 60 N/mm^2 for solid wood at 0.05 to 0.2 mm: from memory; along the grain, within the model's factor
    for h in (0.05, 0.1, 0.2):
        ks = MODEL.force_per_length(h, 0.008, cs.wood("red maple"), motion=1, edge=0) / h
        assert 15 / MODEL.band <= ks <= 60 * MODEL.band
    assert MODEL.force_per_length(0.05, 0.008, BIRCH, motion=1, edge=0) / 0.05 > ks  # rises as the chip thins


@pytest.mark.parametrize("share", [1 / 0.6, 14 / 45 / 0.6, 40 / 187 / 0.6, 69 / 187 / 0.6])
def test_the_band_holds_every_estimate(share):
    """Over the likely force: Kivimaa's, and a second estimate of two whole grooves (both from memory)."""
    assert 1 / MODEL.band <= share <= MODEL.band


def test_along_the_grain_the_force_is_about_that_of_particleboard():
    """Palubicki 2021 (abstract): 32.0 and 37.6 N/mm^2, mean over a tooth's chip; no number for solid wood was found.

    Chips of 0.05 to 0.2 mm, cut along the fibres in a wood as dense (0.65, from memory): within a factor of two.
    """
    for h in (0.05, 0.1, 0.2):
        ks = MODEL.force_per_length(h, 0.008, BIRCH, motion=0, edge=1) / h
        assert 32.0 / 2 < ks < 37.6 * 2


def test_the_normal_force_turns_its_sign_where_friction_says():
    # Woodson 1979 (abstract): between 20 and 30 deg of rake; atan 0.4 = 21.8 deg
    assert MODEL.normal_share(20) > 0 > MODEL.normal_share(30)
    assert MODEL.normal_share(math.degrees(math.atan(0.4))) == pytest.approx(0, abs=1e-15)
    assert PLAIN.normal_share(0) == 0


def test_force_falls_by_one_to_two_per_cent_a_per_cent_of_moisture():
    # from memory; specific gravity is that of one species
    dry, wet = (MODEL.species_factor(replace(BIRCH, moisture=m, density=math.nan)) for m in (10.0, 20.0))
    assert 0.80 <= wet / dry <= 0.90


def test_every_coefficient_says_what_it_is():
    text = MODEL.describe()
    for f in fields(MODEL):
        low, high = f.metadata["prior"]
        assert low <= getattr(MODEL, f.name) <= high
        assert f.name in text
        assert f.metadata["source"] in text
    assert "Kivimaa 1950" in text


# --- closed forms (derived) -------------------------------------------------------------------------------------------


@pytest.mark.parametrize("spin", ["cw", "ccw"])
def test_power_of_pressure_alone_is_pressure_times_removal_rate(spin):
    # derived: torque = B x removed volume a turn / 2 pi
    area = 2.5 * 0.2 + 2.5**2 * math.tan(math.radians(30))
    found = cutting_forces(replace(CUT, spin=spin), BOARD, model=ONLY_B)
    _, b = a_and_b(ONLY_B)
    assert found.power == pytest.approx(b * area * 1500 / 60 * 1e-3, rel=1e-13)
    assert found.torque == pytest.approx(b * area * CUT.feed_per_rev / (2 * math.pi) * 1e-3, rel=1e-13)


def test_the_passes_share_the_same_work():
    parts = replace(CUT, passes=[0.3, cs.Pass(1.2, reversed=True), 2.0, 0.31])
    found = cutting_forces(parts, BOARD, model=ONLY_B, station=7)
    whole = cutting_forces(CUT, BOARD, model=ONLY_B, station=7)
    assert len(found.all_passes) == 5
    assert sum(f.power for f in found.all_passes) == pytest.approx(whole.power, rel=1e-12)
    assert [f.depth for f in found.all_passes] == pytest.approx([0.5, 1.3, 2.19, 2.2, 2.5])


def test_a_pass_that_runs_back_is_met_at_the_same_place():
    ramp = replace(CUT, path=cs.line((0, 0), (20, 0), (1.0, 3.0)), passes=[cs.Pass(0.5, reversed=True), 0.2])
    found = cutting_forces(ramp, BOARD, station=5)
    assert [f.depth for f in found.all_passes] == pytest.approx([1.0, 1.3, 1.5])
    assert [f.station for f in found.all_passes] == [15, 5, 5]


def test_a_pass_that_finds_nothing_left_feels_nothing():
    found = cutting_forces(replace(CUT, passes=[0.5, 0.5]), BOARD)
    assert found.earlier[1].power == found.earlier[1].peak == 0.0
    assert found.earlier[0].power > 0


def test_a_path_at_the_face_feels_nothing():
    found = cutting_forces(replace(CUT, path=cs.line((0, 0), (5, 0), 0)), BOARD)
    assert found.peak == found.power == found.tip_stress == 0.0


@pytest.mark.parametrize(("dive", "case"), [(0.0, "in the face"), (90.0, "upright")])
def test_upright_wall_by_hand(dive, case):
    # derived, one flute, 3 mm radius, 2 mm deep, 0.1 mm a tooth; fibres along the path: (g.v)^2 = cos^2 and
    # (g.n)^2 = sin^2 of the rotation angle; fibres upright lie along the edge: 0-90 all the way
    model = replace(MODEL, friction=0)
    a, b = a_and_b(model, POST)
    p, e = (model.planing, model.end_grain) if case == "in the face" else (1.0, 1.0)
    torque = 3 * 2 / (2 * math.pi) * (a * math.pi * (p + e) / 2 + 0.1 * b * (2 * p + 4 * e) / 3)
    found = cutting_forces(SLOT, cs.Board(CHERRY, cs.straight_grain(0, dive)), model=model)
    assert found.torque == pytest.approx(torque * 1e-3, rel=1e-12)
    assert found.axial == 0
    assert math.isfinite(found.tip_stress)  # of a blunt end


@pytest.mark.parametrize("spin", ["cw", "ccw"])
def test_a_rubbing_edge_pushes_the_tool_aside(spin):
    # derived: A alone, one flute: (1 / 2 pi) integral of A d (-v) over half a turn = A d / pi to the left for cw,
    # where the tooth ahead moves to the right; with friction tan(psi) A d / pi backwards besides
    a, _ = a_and_b(ONLY_A)
    sign = 1 if spin == "cw" else -1
    plain = cutting_forces(replace(SLOT, spin=spin), BOARD, model=ONLY_A)
    assert (plain.along, plain.across) == (pytest.approx(0, abs=1e-14), pytest.approx(sign * a * 2 / math.pi))
    rough = cutting_forces(replace(SLOT, spin=spin), BOARD, model=replace(ONLY_A, friction=0.4))
    assert rough.along == pytest.approx(-0.4 * a * 2 / math.pi)
    assert plain.peak == pytest.approx(a * 2)
    assert rough.peak == pytest.approx(a * 2 * math.hypot(1, 0.4))


def test_no_friction_and_no_rake_lift_nothing():
    assert cutting_forces(CUT, BOARD, model=PLAIN).axial == 0
    assert cutting_forces(CUT, BOARD).axial > 0
    assert cutting_forces(replace(CUT, bit=replace(BIT, rake=30)), BOARD).axial < 0


def test_stress_of_the_tip():
    # derived: 16 q / (27 pi c^3 t tan^2 a) at t / tan a above the tip; A alone, one flute: q = A / cos a
    bit = replace(BIT, flutes=1)
    found = cutting_forces(replace(CUT, bit=bit), BOARD, model=ONLY_A)
    a, tan = a_and_b(ONLY_A)[0], math.tan(math.radians(30))
    q = a / math.cos(math.radians(30))
    assert found.tip_stress == pytest.approx(16 * q / (27 * math.pi * 0.6**3 * 0.2 * tan**2), rel=1e-3)
    assert found.tip_height == pytest.approx(0.2 / tan, rel=0.02)
    half = cutting_forces(replace(CUT, bit=replace(bit, tip_width=0.1)), BOARD, model=ONLY_A)
    assert half.tip_stress / found.tip_stress == pytest.approx(2, rel=1e-3)  # no bound as the tip goes to a point
    sharp = cutting_forces(replace(CUT, bit=replace(bit, tip_width=0)), BOARD)
    assert math.isnan(sharp.tip_stress)
    assert "no tip width given" in str(sharp)


def test_deflection_needs_a_stiffness():
    assert math.isnan(cutting_forces(CUT, BOARD).deflection)
    found = cutting_forces(CUT, BOARD, stiffness=50)
    assert found.deflection == pytest.approx(math.hypot(found.along, found.across) / 50)
    own = cs.Machine(50_000, 60_000, stiffness=25.0)
    assert cutting_forces(replace(CUT, machine=own), BOARD, station=10).stiffness == 25
    assert cutting_forces(replace(CUT, machine=own), BOARD, stiffness=50).stiffness == 50


def test_the_reached_feed_counts():
    slow = replace(CUT, machine=cs.Machine(300, 5000))
    found = cutting_forces(slow, BOARD, station=0.1)
    assert found.feed == pytest.approx(60 * math.sqrt(2 * 300 * 0.1))  # textbook: from rest
    assert found.peak < cutting_forces(CUT, BOARD, station=0.1).peak


def test_the_worst_place_of_a_ring_is_found():
    ring = replace(CUT, path=cs.ring(20, 2.5))
    worst = cutting_forces(ring, BOARD)
    every = [cutting_forces(ring, BOARD, station=s).peak for s in np.linspace(0, ring.path.length, 37)]
    assert min(every) < 0.95 * max(every)
    assert worst.peak >= 0.999 * max(every)
    deep = replace(CUT, path=cs.polyline([(0, 0), (7, 0), (20, 0)], [0.5, 2.5, 0.5]))
    assert cutting_forces(deep, BOARD).depth == 2.5


def test_the_table():
    found = cutting_forces(replace(CUT, passes=[0.3]), BOARD, stiffness=50)
    text = str(found)
    row = next(line for line in text.splitlines() if line.startswith("power"))
    low, likely, high = map(float, row.split()[1:4])
    assert (low, high) == (pytest.approx(likely / 3, abs=0.1), pytest.approx(likely * 3, abs=0.15))
    assert "2.50 mm (0.098 in) deep" in text
    assert "2.20 mm (0.087 in)" in text  # the earlier pass
    assert "3 times more or less" in " ".join(text.split())
    assert " W" in repr(found)


# --- against a brute-force sum ----------------------------------------------------------------------------------------


def brute(cut, board, model, left, station, n_angle=1200, n_height=500):
    """Mean along, across, axial [N] and torque [N mm] of one pass, added up tooth element by tooth element."""
    bit, depth = cut.bit, float(cut.path.depth_at(station))
    a, b = a_and_b(model, bit, board.wood)
    # no element lies across a corner of this outline or of the earlier one
    edges = np.concatenate([np.linspace(0, depth, n_height + 1), cut.knots[0], cut.knots[0] + (left or 0.0)])
    edges = np.unique(edges[edges <= depth])
    h, dh = (edges[1:] + edges[:-1]) / 2, np.diff(edges)
    r, step = np.interp(h, *cut.knots), 1e-7
    slope = (np.interp(h + step, *cut.knots) - np.interp(h - step, *cut.knots)) / (2 * step)
    cos_a = 1 / np.hypot(1, slope)
    heading = math.radians(float(cut.path.heading(station)))
    ahead, aside = (np.array([math.cos(x), math.sin(x), 0]) for x in (heading, heading + math.pi / 2))
    g, up = board.fibres(cut.path.position(station)), np.array([0.0, 0, 1])
    angle = ((np.arange(n_angle) + 0.5) * 2 * math.pi / n_angle)[:, None]
    out = np.sin(angle) * ahead + np.cos(angle) * aside
    v = np.cross(out, up) if cut.spin == "cw" else np.cross(up, out)
    # by angle and height: cosines of the fibre with motion, edge and wall normal
    gv, ge = (v @ g)[:, None], (out @ g)[:, None] * slope * cos_a + g[2] * cos_a
    gn = (out @ g)[:, None] * cos_a - g[2] * slope * cos_a
    main = model.planing * gv**2 + ge**2 + model.end_grain * gn**2
    down = cut.feed_per_tooth * float(cut.path.depth_at(station + 1e-4) - cut.path.depth_at(station - 1e-4)) / 2e-4
    chip = cut.feed_per_tooth * np.sin(angle) * cos_a + down * slope * cos_a
    main = np.where(chip > 0, main * (a + b * chip) * dh / cos_a, 0.0)
    if left is not None:
        main[(h > left) & (r * np.abs(np.cos(angle)) < np.interp(h - left, *cut.knots))] = 0
    normal = math.tan(math.atan(model.friction) - math.radians(bit.rake))
    side = -(main.sum(axis=1)[:, None] * v + normal * (main * cos_a).sum(axis=1)[:, None] * out)
    lift = normal * (main * slope * cos_a).sum()
    total = np.array([*(side @ np.array([ahead, aside]).T).sum(axis=0), lift, (main * r).sum()])
    return total * bit.flutes / n_angle


@steadily(25)
@given(
    path=lines(),
    bit=st.one_of(bits(runout=False), profile_bits()),
    board=boards(),
    spin=spins,
    left=st.one_of(st.none(), reals(0.2, 0.45)),
)
def test_the_sum_of_all_elements(path, bit, board, spin, left):
    cut = cs.Cut(bit, path, 18_000, 2400, spin=spin, passes=None if left is None else [left])
    found = cutting_forces(cut, board, station=1.0)
    # a midpoint sum: what it misses is of the order of one element of what is engaged
    mine = np.array([found.along, found.across, found.axial, 1e3 * found.torque])
    np.testing.assert_allclose(mine, brute(cut, board, MODEL, left, 1.0), rtol=0, atol=0.005 * np.abs(mine).max())


DEEP = cs.VBit(60, 12.7, 2)


@pytest.mark.parametrize("steep", [-1.5, -0.4, -0.05, 0.05, 0.3, 1.0, 1.7, 1.8, 5.0])
def test_a_ramp_takes_the_volume_that_its_descent_adds(steep):
    """B alone: d^2 tan a v (sqrt(1 - m^2) + m (pi/2 + asin m)) a second, from m = 1 on pi tan^2 a d^2 w (derived)."""
    tan, size = math.tan(math.radians(30)), 0.25
    path = cs.line((0, 0), (2 * size, 0), (2 - steep * size, 2 + steep * size))
    found = cutting_forces(cs.Cut(DEEP, path, 18_000, 1500), BOARD, model=ONLY_B, station=size)
    _, b = a_and_b(ONLY_B)
    v, m = 1500 / 60, tan * steep
    inside = min(abs(m), 1.0) * math.copysign(1, m)
    bracket = math.sqrt(1 - inside**2) + m * (math.pi / 2 + math.asin(inside))
    rate = 4 * tan * v * bracket if m > -1 else 0.0
    assert found.depth == pytest.approx(2.0)
    assert found.descent == pytest.approx(1500 * steep)
    assert found.power == pytest.approx(b * rate * 1e-3, rel=1e-9)
    assert (" down with " in str(found)) == (steep > 0)


@pytest.mark.parametrize("left", [None, 0.4])
def test_a_ramp_lies_between_a_level_stroke_and_a_plunge(left):
    """As the descent goes to nothing all is the level stroke's; as the way in the face does, the plunge's."""
    passes = None if left is None else [left]

    def forces(steep, feed, model=MODEL):
        path = cs.line((0, 0), (1e-3, 0), (2 - 5e-4 * steep, 2 + 5e-4 * steep))
        return cutting_forces(cs.Cut(DEEP, path, 18_000, feed, passes=passes), BOARD, model=model, station=5e-4)

    level = forces(0.0, 1500)
    gentle = forces(1e-7, 1500)
    for name in ("along", "across", "axial", "torque", "peak", "chip"):
        assert getattr(gentle, name) == pytest.approx(getattr(level, name), rel=1e-3, abs=1e-6), name
    if left is None:
        plunge = cutting_forces(cs.Cut(DEEP, cs.dot((0, 0), 2.0), 18_000, 1500, plunge_feed=400), BOARD)
        steeper = cutting_forces(
            cs.Cut(DEEP, cs.line((0, 0), (1e-3, 0), (1.0, 3.0)), 18_000, 400, feed_along="space"), BOARD, station=5e-4
        )
        for name in ("axial", "torque", "chip"):
            assert getattr(steeper, name) == pytest.approx(getattr(plunge, name), rel=1e-3), name
        assert steeper.side < 1e-3 * level.side
        # a ramp pushes the bit up harder than the level stroke: teeth cut behind as well
        assert forces(0.3, 1500).axial > level.axial > forces(-0.3, 1500).axial


def test_an_outline_without_corners_is_sampled():
    """A user's cone, known by its radius only, takes what the cone takes: 65 heights are enough for straight walls."""
    bit = cs.VBit(60, 12.7, 2, 0.2)
    names = ("flutes", "rake", "clearance", "edge_radius", "runout", "runout_azimuth", "diameter", "cutting_length")
    own = SimpleNamespace(radius=bit.radius, max_spindle_speed=None, **{n: getattr(bit, n) for n in names})
    path, board = cs.line((0, 0), (5, 0), 2.5), cs.Board(cs.wood("black cherry"), cs.straight_grain(30, 10))
    exact, sampled = (cutting_forces(cs.Cut(b, path, 18_000, 2400, passes=[0.4]), board) for b in (bit, own))
    for name in NUMBERS[:-1]:  # the tip's stress is asked where the outline begins
        assert getattr(sampled, name) == pytest.approx(getattr(exact, name), rel=1e-3), name


# --- what must not matter, and what must ------------------------------------------------------------------------------

cases = {"path": paths(), "bit": bits(), "azimuth": azimuths, "dive": dives, "spin": spins}
NUMBERS = ("along", "across", "peak", "axial", "torque", "power", "chip", "tip_stress")


def numbers(found):
    return [[getattr(f, name) for name in NUMBERS] for f in found.all_passes]


@steadily(30)
@given(turn=turns, **cases)
def test_turning_path_and_grain_together_changes_nothing(path, bit, azimuth, dive, spin, turn):
    cut = cs.Cut(bit, path, 18_000, 2400, spin=spin, passes=[0.1])
    one = cutting_forces(cut, cs.Board(CHERRY, cs.straight_grain(azimuth, dive)), station=path.length / 3)
    cut = replace(cut, path=path.rotated(turn))
    two = cutting_forces(cut, cs.Board(CHERRY, cs.straight_grain(azimuth + turn, dive)), station=cut.path.length / 3)
    np.testing.assert_allclose(numbers(one), numbers(two), rtol=1e-7, atol=1e-9)


@steadily(30)
@given(**cases)
def test_a_mirrored_job_with_the_other_spin_is_mirrored(path, bit, azimuth, dive, spin):
    cut = cs.Cut(bit, path, 18_000, 2400, spin=spin, passes=[0.1])
    other = replace(cut, path=path.mirrored(), spin="ccw" if spin == "cw" else "cw")
    at = path.length / 3
    one = numbers(cutting_forces(cut, cs.Board(CHERRY, cs.straight_grain(azimuth, dive)), station=at))
    two = numbers(cutting_forces(other, cs.Board(CHERRY, cs.straight_grain(-azimuth, dive)), station=at))
    flip = np.where([n == "across" for n in NUMBERS], -1, 1)
    np.testing.assert_allclose(np.array(one) * flip, two, rtol=1e-7, atol=1e-9)


@steadily(30)
@given(more=reals(1.05, 3), **cases)
def test_more_feed_a_duller_edge_and_denser_wood_take_more(path, bit, azimuth, dive, spin, more):
    board = cs.Board(CHERRY, cs.straight_grain(azimuth, dive))
    cut = cs.Cut(bit, path, 18_000, 2400, spin=spin)
    at = path.length / 3
    base = cutting_forces(cut, board, station=at)
    dense = cs.Board(cs.wood("sugar maple", 8), board.grain)
    dull = replace(bit, edge_radius=min(bit.edge_radius * more, 0.5))
    for cut_, board_ in ((replace(cut, feed=2400 * more), board), (replace(cut, bit=dull), board), (cut, dense)):
        worse = cutting_forces(cut_, board_, station=at)
        if base.torque == 0:
            continue  # where a path rises more steeply than the flank leans there is no wood
        assert worse.torque > base.torque
        assert worse.peak > base.peak * (1 - 1e-9)  # opposite teeth of a steep ramp cancel
        assert math.isnan(base.tip_stress) or worse.tip_stress > base.tip_stress * (1 - 1e-9)
    assert base.peak >= base.side * (1 - 1e-9)  # the largest of a turn, against its mean


@steadily(20)
@given(**cases)
def test_the_fibre_is_an_axis(path, bit, azimuth, dive, spin):
    cut, at = cs.Cut(bit, path, 18_000, 2400, spin=spin), path.length / 3
    one = numbers(cutting_forces(cut, cs.Board(CHERRY, cs.straight_grain(azimuth, dive)), station=at))
    two = numbers(cutting_forces(cut, cs.Board(CHERRY, cs.straight_grain(azimuth + 180, -dive)), station=at))
    np.testing.assert_allclose(one, two, rtol=1e-9, atol=1e-12)


def test_the_mean_is_that_of_a_turn_in_steps():
    from chipsim.limits.forces import _Job

    for left in (None, 0.3):
        place = _Job(CUT, cs.Board(CHERRY, cs.straight_grain(37, 20)), MODEL, left).at(5.0)
        np.testing.assert_allclose(place.turn(20_000).mean(axis=1), place.mean(), rtol=1e-4)
