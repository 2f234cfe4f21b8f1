"""Relations that must hold between two runs of the library, whatever the answer of either.

Source of all of them: geometry, as derived in this project; no outside number is used. Where a relation holds only
under a condition (level, straight, flat grain, wood above the tip zone) the strategy builds inputs that meet it.
"""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from hypothesis import example, given
from hypothesis import strategies as st

import chipsim as cs
from chipsim.damage.maps import SIDES
from chipsim.scene.grain import grain_words
from chipsim.testing.strategies import (
    ANGLES,
    CHERRY,
    azimuths,
    bits,
    boards,
    cuts,
    dives,
    half_angles,
    lines,
    paths,
    phases,
    profile_bits,
    reals,
    spins,
    steadily,
    turns,
)

TOLERANCE = 1e-6  # mm; a ray that grazes an earlier sweep feels the kernels' slack of 1e-12 mm as its root


# --- helpers ----------------------------------------------------------------------------------------------------------


def sweeps(cut: cs.Cut, revolutions: float = 3.2, **more: Any) -> cs.ToothPasses:
    """The first revolutions of a cut, at three heights and all round."""
    stop = min(cut.path.length, revolutions * cut.feed_per_rev)
    top = float(cut.path.depth.min())
    return cs.tooth_passes(cut, **{"stop": stop, "angles": ANGLES, "heights": np.array([0.35, 0.7, 0.95]) * top} | more)


def tip_free(cut: cs.Cut) -> bool:
    """Whether the lowest height of `sweeps` is above the tip zone, r >= f_z + 2 e + 2 rho."""
    low = float(np.interp(0.35 * cut.path.depth.min(), *cut.knots))
    return low > cut.feed_per_tooth + cut.feed_per_rev / np.pi + 2 * cut.bit.runout


def same_sweeps(
    a: cs.ToothPasses, b: cs.ToothPasses, *, length: float = 1.0, time: float = 1.0, chips: bool = False
) -> None:
    """Assert that b is a with every length and time multiplied by these; `chips`: normal thickness as well."""
    assert (a.flute == b.flute).all()
    np.testing.assert_allclose(b.time, a.time * time, rtol=0, atol=1e-12, err_msg="time")
    for name in ("radial_thickness", "edge_radius_about_axis", *(["chip_thickness"] if chips else [])):
        # the normal thickness is a fixed point, and a loose one where the radial one varies steeply with height
        atol = 1e-5 if name == "chip_thickness" else TOLERANCE
        old, new = getattr(a, name), getattr(b, name)
        np.testing.assert_allclose(new, old * length, rtol=0, atol=atol * max(length, 1.0), err_msg=name)


def axis(angle: np.ndarray) -> np.ndarray:
    """An angle modulo 180 as a point: +90 and -90 are the same fibre angle, 0 and 180 too."""
    twice = 2 * np.radians(angle)
    return np.stack([np.cos(twice), np.sin(twice)], axis=-1)


def same_map(
    a: cs.RiskMap, b: cs.RiskMap, *, swap: bool = False, rows: Any = slice(None), tolerance: float = 1e-9
) -> None:
    """Assert that every scalar of two maps agrees, b's rows and sides taken in another order if asked."""
    side = slice(None, None, -1) if swap else slice(None)
    assert (a.exists == b.exists[rows][:, side]).all()
    for name in (
        "fuzz",
        "tear",
        "scorch",
        "damage",
        "lip_length",
        "cutting_speed",
        "edge_angle",
        "largest_chip",
        "hazard",
    ):
        old, new = getattr(a, name), getattr(b, name)[rows][:, side]
        if name == "hazard":  # runs to infinity; what it leaves unsevered does not
            old, new = np.exp(-old), np.exp(-new)
        np.testing.assert_allclose(new, old, rtol=tolerance, atol=tolerance, err_msg=name)
    np.testing.assert_allclose(axis(b.fibre_angle[rows][:, side]), axis(a.fibre_angle), atol=tolerance)
    assert (a.strikes == b.strikes[rows][:, side]).all()
    assert (a.rubs == b.rubs[rows][:, side]).all()


def moved(grain: cs.Grain, degrees: float, dx: float, dy: float) -> cs.Grain:
    """The field turned about the origin and then shifted."""
    turned = grain.turned(degrees)
    return cs.grain_field(lambda x, y: turned.at(np.stack([x - dx, y - dy], axis=-1)))


def mirrored(grain: cs.Grain) -> cs.Grain:
    """The field reflected in the x axis."""

    def function(x: np.ndarray, y: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        azimuth, dive = grain.at(np.stack([x, -y], axis=-1))
        return -azimuth, dive

    return cs.grain_field(function)


OTHER = {"cw": "ccw", "ccw": "cw"}
map_cuts = cuts(path=paths(pieces=2, lengths=(1.0, 4.0)))


# --- rigid motion -----------------------------------------------------------------------------------------------------


@steadily(40)
@given(cut=cuts(), turn=turns, dx=reals(-50, 50), dy=reals(-50, 50))
def test_rigid_motion_leaves_every_chip(cut: cs.Cut, turn: float, dx: float, dy: float) -> None:
    other = replace(cut, path=cut.path.rotated(turn).shifted(dx, dy), phase=cut.phase + turn)
    a, b = sweeps(cut), sweeps(other)
    same_sweeps(a, b)
    c, s = np.cos(np.radians(turn)), np.sin(np.radians(turn))
    np.testing.assert_allclose(b.axis_xy, a.axis_xy @ np.array([[c, s], [-s, c]]) + [dx, dy], atol=TOLERANCE)


@steadily(25)
@given(cut=map_cuts, board=boards(), turn=turns, dx=reals(-50, 50), dy=reals(-50, 50))
def test_rigid_motion_leaves_the_map(cut: cs.Cut, board: cs.Board, turn: float, dx: float, dy: float) -> None:
    a = cs.risk_map(cut, board, pitch=0.7)
    other = replace(cut, path=cut.path.rotated(turn).shifted(dx, dy), phase=cut.phase + turn)
    b = cs.risk_map(other, replace(board, grain=moved(board.grain, turn, dx, dy)), pitch=0.7)
    same_map(a, b)
    c, s = np.cos(np.radians(turn)), np.sin(np.radians(turn))
    np.testing.assert_allclose(b.lip_xy, a.lip_xy @ np.array([[c, s], [-s, c]]) + [dx, dy], atol=TOLERANCE)


# --- the fibre is an axis; half turn ----------------------------------------------------------------------------------


@steadily(20)
@given(cut=map_cuts, azimuth=azimuths, dive=dives)
def test_a_fibre_has_no_head(cut: cs.Cut, azimuth: float, dive: float) -> None:
    one, two = cs.straight_grain(azimuth, dive), cs.straight_grain(azimuth + 180, -dive)
    same_map(cs.risk_map(cut, cs.Board(CHERRY, one)), cs.risk_map(cut, cs.Board(CHERRY, two)), tolerance=1e-11)


@steadily(20)
@given(cut=map_cuts, azimuth=azimuths, dive=dives)
def test_half_turn_of_the_path_is_the_opposite_dive(cut: cs.Cut, azimuth: float, dive: float) -> None:
    about = replace(cut, path=cut.path.rotated(180), phase=cut.phase + 180)
    one, two = cs.straight_grain(azimuth, dive), cs.straight_grain(azimuth, -dive)
    same_map(cs.risk_map(cut, cs.Board(CHERRY, one)), cs.risk_map(about, cs.Board(CHERRY, two)))


@steadily(8)
@given(cut=cuts(path=lines()), azimuth=azimuths)
def test_the_rose_has_a_period_of_half_a_turn(cut: cs.Cut, azimuth: float) -> None:
    at = np.arange(0.0, 180.0, 20.0)
    rose = cs.risk_rose(cut, cs.Board(CHERRY, cs.straight_grain(azimuth)), headings=np.append(at, at + 180))
    for name in ("fuzz", "tear", "damage"):
        value = rose.values(name)
        np.testing.assert_allclose(value[: len(at)], value[len(at) :], atol=1e-9, err_msg=name)


# --- feed reversal ----------------------------------------------------------------------------------------------------


@steadily(30)
@given(cut=cuts(path=paths(closed=False)), board=boards())
def test_reversing_the_feed_only_swaps_entry_and_exit(cut: cs.Cut, board: cs.Board) -> None:
    """Kinematics, not risk: at each physical lip fibre angle, length and width stay; the strikes do not."""
    back = replace(cut, path=cut.path.reversed())
    a, b = cs.risk_map(cut, board, pitch=0.4), cs.risk_map(back, board, pitch=0.4)
    # Along the run, row for row; the fans at corners and ends turn the same way in both and are laid out backwards
    one, two = np.flatnonzero(a.kind == "run"), np.flatnonzero(b.kind == "run")[::-1]
    np.testing.assert_allclose(b.station[two], cut.path.length - a.station[one], atol=TOLERANCE)
    np.testing.assert_allclose(b.half_width[two], a.half_width[one], atol=TOLERANCE)
    for name in ("lip_xy", "lip_length", "edge_angle"):
        np.testing.assert_allclose(getattr(b, name)[two][:, ::-1], getattr(a, name)[one], atol=1e-8, err_msg=name)
    np.testing.assert_allclose(axis(b.fibre_angle[two][:, ::-1]), axis(a.fibre_angle[one]), atol=1e-8)
    assert b.lip_length.sum() == pytest.approx(a.lip_length.sum(), abs=1e-6)
    assert {s: a.lip_kind(s) for s in SIDES} == {s: b.lip_kind(s) for s in SIDES}  # left stays the entry side


@steadily(20)
@given(cut=cuts(path=lines(length=(4.0, 8.0)), bit=bits(runout=False)))
def test_chips_are_almost_alike_before_and_after_dead_ahead(cut: cs.Cut) -> None:
    """h(theta) = h(180 - theta) to first order: each is within (1 + z / pi) f_z^2 / (2 r) of f_z sin(theta)."""
    at = np.array([20.0, 45.0, 70.0, 85.0])
    length, top = cut.path.length, float(cut.path.depth[0])
    radius = float(cut.half_width(np.asarray(top)))
    step, z = cut.feed_per_tooth, cut.bit.flutes
    if step / radius > 0.05 or length < 3 * radius:
        cut = replace(cut, feed=max(100.0, min(0.05 * radius * cut.spindle_speed * z, cut.feed)))
        step = cut.feed_per_tooth
    start = length - 1.5 * cut.feed_per_rev
    found = cs.tooth_passes(cut, start=start, angles=np.append(at, 180 - at), heights=[top])
    h = found.radial_thickness[:, :, 0]
    bound = (1 + z / np.pi) * step**2 / (2 * radius)
    sine = step * np.sin(np.radians(np.append(at, 180 - at)))
    known = np.isfinite(h)
    assert (np.abs(h - sine)[known] <= 1.05 * bound).all()


# --- mirror -----------------------------------------------------------------------------------------------------------


@steadily(40)
@given(cut=cuts())
def test_mirror_and_reversed_spindle_leave_every_chip(cut: cs.Cut) -> None:
    image = replace(cut, path=cut.path.mirrored(), spin=OTHER[cut.spin], phase=-cut.phase)
    same_sweeps(sweeps(cut), sweeps(image, angles=180 - ANGLES))


@steadily(25)
@given(cut=map_cuts, board=boards())
def test_mirror_and_reversed_spindle_swap_the_lips(cut: cs.Cut, board: cs.Board) -> None:
    image = replace(cut, path=cut.path.mirrored(), spin=OTHER[cut.spin], phase=-cut.phase)
    a = cs.risk_map(cut, board, pitch=0.7)
    b = cs.risk_map(image, replace(board, grain=mirrored(board.grain)), pitch=0.7)
    same_map(a, b, swap=True)
    np.testing.assert_allclose(b.lip_xy[:, ::-1], a.lip_xy * [1, -1], atol=TOLERANCE)
    assert a.lip_kind("left") == b.lip_kind("right")


@steadily(25)
@given(cut=map_cuts, board=boards(dive=False))
def test_mirror_alone_turns_with_into_against(cut: cs.Cut, board: cs.Board) -> None:
    """Flat grain: theta -> 180 - theta at the lip's image, edge angle and lengths as before."""
    image = replace(cut, path=cut.path.mirrored())
    a = cs.risk_map(cut, board, pitch=0.7)
    b = cs.risk_map(image, replace(board, grain=mirrored(board.grain)), pitch=0.7)
    assert (a.exists == b.exists[:, ::-1]).all()
    np.testing.assert_allclose(axis(b.fibre_angle[:, ::-1]), axis(180 - a.fibre_angle), atol=1e-9)
    np.testing.assert_allclose(b.edge_angle[:, ::-1], a.edge_angle, atol=1e-9)
    np.testing.assert_allclose(b.lip_length[:, ::-1], a.lip_length, atol=1e-9)


@steadily(15)
@given(cut=cuts(path=lines()))
def test_a_straight_groove_is_its_own_mirror_image(cut: cs.Cut) -> None:
    """Reflected without its spindle a straight line is only turned: every chip stays at its own angle."""
    heading = float(cut.path.heading(0.0))
    image = replace(cut, path=cut.path.mirrored(), phase=cut.phase - 2 * heading)
    same_sweeps(sweeps(cut), sweeps(image))


# --- the two lips of a straight groove --------------------------------------------------------------------------------


@steadily(60)
@given(cut=cuts(path=lines()), azimuth=azimuths, dive=dives)
def test_two_lips_agree_on_flat_grain(cut: cs.Cut, azimuth: float, dive: float) -> None:
    """tan(theta) = tan(beta) cos(a), clockwise; minus that, counter-clockwise; with a dive, odd in it."""

    def angles(d: float) -> np.ndarray:
        found = cs.risk_map(cut, cs.Board(CHERRY, cs.straight_grain(azimuth, d)), pitch=cut.path.length)
        return np.asarray(found.fibre_angle[found.kind == "run"][0])

    flat, down, up = angles(0.0), angles(dive), angles(-dive)
    np.testing.assert_allclose(axis(flat[0]), axis(flat[1]), atol=1e-9)
    beta = np.radians(azimuth - float(cut.path.heading(0.0)))
    lean = np.arctan(float(cut.flank_slope(cut.path.depth[:1])[0]))
    sense = 1.0 if cut.spin == "cw" else -1.0
    expected = np.degrees(np.arctan2(sense * np.sin(beta) * np.cos(lean), np.cos(beta)))
    np.testing.assert_allclose(axis(flat[0]), axis(expected), atol=1e-9)
    against = 0 < np.degrees(beta) % 180 < 90
    assert grain_words(flat[0], slack=0.0) == ("against the grain" if against == (sense > 0) else "with the grain")
    np.testing.assert_allclose(axis(down[0]), axis(up[1]), atol=1e-9)
    np.testing.assert_allclose(axis(down[1]), axis(up[0]), atol=1e-9)


# --- units ------------------------------------------------------------------------------------------------------------


@steadily(20)
@given(
    angle=half_angles,
    flat=reals(0, 0.03),
    size=reals(-2, 2),
    depth=reals(0.03, 0.12),
    feed=st.sampled_from([20, 40, 80, 150]),
    spin=spins,
)
def test_inches_in_are_millimetres_in(
    angle: float, flat: float, size: float, depth: float, feed: int, spin: str
) -> None:
    inch, ipm, thou = cs.inch, cs.ipm, cs.thou
    corner = (0.3 + size / 10, 0.25)

    def job(unit: float, per_minute: float, mil: float) -> cs.RiskMap:
        bit = cs.VBit(2 * angle, 0.5 * unit, 2, flat * unit, runout=0.8 * mil, edge_radius=0.3 * mil)
        path = cs.polyline(np.array([(0, 0), corner, (0.1, 0.4)]) * unit, depth * unit)
        cut = cs.Cut(bit, path, 18_000, feed * per_minute, spin=spin, phase=12.3)
        return cs.risk_map(cut, cs.Board(CHERRY, cs.straight_grain(33.3)), pitch=0.03 * unit)

    same_map(job(inch, ipm, thou), job(25.4, 25.4, 0.0254), tolerance=1e-12)
    assert 1 / inch * inch == pytest.approx(1.0, rel=1e-15)
    assert inch == 1000 * thou


# --- similarity -------------------------------------------------------------------------------------------------------


def scaled(cut: cs.Cut, factor: float) -> cs.Cut:
    """Every length of the job multiplied."""
    bit = cut.bit
    assert isinstance(bit, cs.VBit)
    bigger = replace(bit, diameter=bit.diameter * factor, tip_width=bit.tip_width * factor, runout=bit.runout * factor)
    return replace(cut, bit=bigger, path=cut.path.scaled(factor), feed=cut.feed * factor)


@steadily(40)
@given(cut=cuts(), factor=reals(0.5, 3))
def test_a_bigger_job_makes_bigger_chips_at_the_same_times(cut: cs.Cut, factor: float) -> None:
    same_sweeps(sweeps(cut), sweeps(scaled(cut, factor)), length=factor)


@steadily(25)
@given(cut=map_cuts, factor=reals(0.5, 3))
def test_a_bigger_job_strikes_as_often(cut: cs.Cut, factor: float) -> None:
    pitch = cut.path.length / 8  # of two pieces of one length none has a station at their joint
    a = cs.lip_strikes(cut, pitch=pitch, bundle=0.2)
    b = cs.lip_strikes(scaled(cut, factor), pitch=pitch * factor, bundle=0.2 * factor)
    # round the start: whether a tooth that stands on the probe at time 0 has passed it is a matter of rounding
    rows = (a.lips.kind != "start") & (a.lips.half_width > 0.3)
    assert (a.counts[rows] == b.counts[rows]).all()
    for name in ("chips", "depths", "lip_length", "cutting_speeds", "lip_xy"):
        old, new = getattr(a, name)[rows], getattr(b, name)[rows]
        np.testing.assert_allclose(new, old * factor, rtol=0, atol=1e-8, err_msg=name)


# --- speed-feed group -------------------------------------------------------------------------------------------------


@steadily(30)
@given(cut=cuts(), factor=reals(0.5, 3))
def test_speed_and_feed_together_leave_every_chip(cut: cs.Cut, factor: float) -> None:
    faster = replace(cut, spindle_speed=cut.spindle_speed * factor, feed=cut.feed * factor)
    a, b = sweeps(cut), sweeps(faster)
    same_sweeps(a, b, time=1 / factor)
    np.testing.assert_allclose(b.cutting_speed, a.cutting_speed * factor, rtol=1e-9)


@steadily(20)
@given(cut=map_cuts, factor=reals(0.5, 3))
def test_speed_and_feed_together_leave_every_strike(cut: cs.Cut, factor: float) -> None:
    faster = replace(cut, spindle_speed=cut.spindle_speed * factor, feed=cut.feed * factor)
    a, b = cs.lip_strikes(cut, pitch=0.7), cs.lip_strikes(faster, pitch=0.7)
    # round the start, and where the bundle reaches to the axis, whether a tooth just on the line counts is rounding
    rows = (a.lips.kind != "start") & (a.lips.half_width > 0.3)
    assert (a.counts[rows] == b.counts[rows]).all()
    np.testing.assert_allclose(b.chips[rows], a.chips[rows], rtol=0, atol=1e-8)
    np.testing.assert_allclose(b.cutting_speeds[rows], a.cutting_speeds[rows] * factor, rtol=1e-8)


# --- chip budget ------------------------------------------------------------------------------------------------------


@steadily(40)
@given(
    flutes=st.sampled_from([1, 2, 3, 4, 8]),
    runout=reals(0, 1.2),
    toward=reals(-180, 180),
    angle=half_angles,
    heading=turns,
    spin=spins,
    phase=phases,
)
def test_dead_ahead_the_teeth_of_a_turn_share_the_feed(
    flutes: int, runout: float, toward: float, angle: float, heading: float, spin: str, phase: float
) -> None:
    """What the teeth of one turn take straight ahead adds up to the feed, cutters that run out and idle teeth included.

    The front is moved on by whoever reaches farthest, by f a turn in all (kinematics of the slot, any runout).
    """
    bit = cs.VBit(2 * angle, 12.7, flutes, 1.0, runout=runout * 0.3 / flutes, runout_azimuth=toward)
    cut = cs.Cut(bit, cs.line((0, 0), (9, 0), 2.5).rotated(heading), 10_000, 3000, spin=spin, phase=phase)
    found = cs.tooth_passes(cut, start=4.0, stop=4.0 + 2.5 * cut.feed_per_rev, angles=[90.0], heights=[1.5, 2.5])
    assert (np.diff(found.time[:, 0]) > 0).all()
    for k in range(flutes):
        turn = found.radial_thickness[k : k + flutes, 0]
        assert len(turn) == flutes
        np.testing.assert_allclose(turn.sum(axis=0), 0.3, atol=1e-9)
        share = 0.3 / flutes
        assert (turn.max(axis=0) >= share - 1e-9).all()
        assert (turn.min(axis=0) <= share + 1e-9).all()
        if runout == 0:
            np.testing.assert_allclose(turn, share, atol=1e-9)


def swept_area(cut: cs.Cut, height: float, start: float) -> float:
    """Area [mm^2] the teeth take during one turn relative to the path's normal, from the table of tooth passes.

    Exact integrand: the part of the ray beyond the old surface, [R - h, R], sweeps R h - h^2 / 2 by turning and
    e sin(angle to the feed) h by going along, per radian of work azimuth.
    """
    n = 5000
    # the rest of the turn is air in steady cutting: entry and exit lie within a few degrees of the walls
    angles = -20 + 220 * (np.arange(n) + 0.5) / n
    kappa = float(cut.path.curvature(start))
    found = cs.tooth_passes(cut, start=start, stop=start + 3 * cut.feed_per_rev, angles=angles, heights=[height])
    whole = np.flatnonzero(np.isfinite(found.time).all(axis=1))
    first = [int(whole[found.flute[whole] == j][0]) for j in range(cut.bit.flutes)]
    h, radius = found.radial_thickness[first, :, 0], found.edge_radius_about_axis[first]
    e = cut.feed_per_rev / (2 * np.pi)
    sense = 1.0 if cut.spin == "cw" else -1.0
    # seen from the conventional wall the ray stands at phi, so the edge goes with the feed by cos(phi)
    phi = np.radians(angles if cut.spin == "cw" else 180 - angles)
    # a turn of the tooth in the work is this much more or less than one relative to the path
    turn = 1 / (1 + sense * kappa * e)
    return float(((radius * h - h**2 / 2 + e * np.cos(phi) * h) * turn).sum() * np.radians(220) / n)


SLOT = [(1, 0.4, 2.398218622712), (2, 0.4, 2.399554880022), (3, 0.4, 2.399802187337), (2, 0.2, 1.199944423358)]


@pytest.mark.parametrize(("flutes", "per_turn", "area"), SLOT)
@pytest.mark.parametrize("spin", ["cw", "ccw"])
def test_volume_of_a_slot(flutes: int, per_turn: float, area: float, spin: str) -> None:
    """f (2 r - cusps) at r = 3 mm, closed form of this project checked with a brute-force reference."""
    bit = cs.VBit(90, 12.7, flutes)
    cut = cs.Cut(bit, cs.line((0, 0), (14, 0), 3.5).rotated(33.7), 15_000, per_turn * 15_000, spin=spin, phase=7.7)
    assert swept_area(cut, 3.0, 10.0) == pytest.approx(area, abs=1e-6)


@pytest.mark.parametrize(
    ("radius", "inside", "area"),
    [(10.0, True, 2.3843244391), (10.0, False, 2.4148999074), (4.0, True, 2.3616889288)],
)
def test_volume_of_a_ring_groove(radius: float, inside: bool, area: float) -> None:
    """Pappus: 2 r a unit of centre line, less the cusps; `inside`: the centre lies on the conventional side (left)."""
    path = cs.ring(radius, 3.5)
    cut = cs.Cut(cs.VBit(90, 12.7, 2), path if inside else path.mirrored(), 15_000, 6000, phase=7.7)
    assert swept_area(cut, 3.0, 10.0) == pytest.approx(area, abs=1e-6)
    other = replace(cut, path=cut.path.mirrored(), spin="ccw", phase=-7.7)
    assert swept_area(other, 3.0, 10.0) == pytest.approx(area, abs=1e-6)


@pytest.mark.parametrize(
    ("runout", "both", "second"), [(0.02, 2.414230467, 0.35079133), (0.08, 2.462265073, 0.04154494)]
)
def test_volume_with_runout(runout: float, both: float, second: float) -> None:
    """Two flutes, r = 3 mm, f = 0.4 mm, eccentric towards flute 0: area of both and share of the short one."""
    cut = cs.Cut(cs.VBit(90, 12.7, 2, runout=runout), cs.line((0, 0), (14, 0), 3.5), 15_000, 6000, phase=7.7)
    assert swept_area(cut, 3.0, 10.0) == pytest.approx(both, abs=2e-6)
    solo = replace(cut, bit=replace(cut.bit, runout_azimuth=180.0))
    assert swept_area(solo, 3.0, 10.0) == pytest.approx(both, abs=2e-6)
    found = cs.tooth_passes(cut, start=10.0, stop=11.0, angles=[90.0], heights=[3.0])
    ahead = {int(j): float(h) for j, h in zip(found.flute, found.radial_thickness[:, 0, 0], strict=True)}
    assert ahead[0] == pytest.approx(0.2 + 2 * runout, abs=1e-9)
    assert ahead[1] == pytest.approx(0.2 - 2 * runout, abs=1e-9)
    assert second < 0.5


# --- width law, outlines ----------------------------------------------------------------------------------------------


@steadily(60)
@given(bit=bits(), low=reals(0, 8), more=reals(0, 8))
def test_width_law_of_a_cone(bit: cs.VBit, low: float, more: float) -> None:
    narrow, wide = (float(bit.half_width(d)) for d in (low, low + more))
    slope = np.tan(np.radians(bit.included_angle / 2))
    assert wide >= narrow
    assert wide <= bit.diameter / 2
    assert float(bit.half_width(0.0)) == bit.tip_width / 2
    if low + more <= bit.cone_height:
        assert 2 * (wide - narrow) == pytest.approx(2 * more * slope, abs=1e-9)
        assert bit.depth_for_width(2 * wide) == pytest.approx(low + more, abs=1e-9)
    if low >= bit.cone_height:
        assert narrow == wide == bit.diameter / 2


@steadily(40)
@given(bit=profile_bits(), depth=reals(0, 6), more=reals(0, 6))
def test_width_law_of_an_outline(bit: cs.ProfileBit, depth: float, more: float) -> None:
    assert float(bit.half_width(depth + more)) >= float(bit.half_width(depth))
    assert float(bit.half_width(0.0)) == bit.radii[0]
    assert (bit.half_width(bit.heights) == bit.radii).all()


def outline_of(bit: Any, knots: int) -> cs.ProfileBit:
    """The same cone as a table, with points along it that change nothing."""
    heights = np.linspace(0.0, bit.cone_height, knots)
    radii = bit.tip_width / 2 + heights * np.tan(np.radians(bit.half_angle))
    radii[-1] = bit.diameter / 2
    return cs.ProfileBit(
        heights, np.maximum.accumulate(radii), bit.flutes, runout=bit.runout, runout_azimuth=bit.runout_azimuth
    )


@steadily(25)
@given(cut=cuts(), knots=st.integers(2, 9))
def test_the_outline_of_a_cone_is_the_cone(cut: cs.Cut, knots: int) -> None:
    table = replace(cut, bit=outline_of(cut.bit, knots))
    same_sweeps(sweeps(cut), sweeps(table))
    a, b = cs.lip_strikes(cut, pitch=0.7), cs.lip_strikes(table, pitch=0.7)
    assert (a.counts == b.counts).all()
    for name in ("chips", "lip_length", "lip_xy"):
        np.testing.assert_allclose(getattr(b, name), getattr(a, name), rtol=0, atol=1e-8, err_msg=name)


@steadily(20)
@given(cut=cuts(path=paths(level=True), bit=bits(runout=False)))
def test_only_the_slice_at_the_face_matters_to_a_lip(cut: cs.Cut) -> None:
    """A flat tip is a sharp one ground off: with the groove as wide, a level cut strikes its lips just the same."""
    bit = cut.bit
    assert isinstance(bit, cs.VBit)
    sharp = replace(bit, tip_width=0.0, included_angle=80.0)
    width = float(cut.half_width(cut.path.depth[:1])[0])
    if width >= bit.diameter / 2:
        return
    deeper = cs.Path(cut.path.xy, sharp.depth_for_width(2 * width), sweep=cut.path.sweep, closed=cut.path.closed)
    a, b = cs.lip_strikes(cut, pitch=0.7), cs.lip_strikes(replace(cut, bit=sharp, path=deeper), pitch=0.7)
    assert (a.counts == b.counts).all()
    np.testing.assert_allclose(b.chips, a.chips, rtol=0, atol=1e-8)
    np.testing.assert_allclose(b.lip_xy, a.lip_xy, rtol=0, atol=1e-9)


# --- counts against feed and edge -------------------------------------------------------------------------------------


@steadily(15)
@given(
    cut=cuts(
        path=lines(length=(5.0, 8.0)),
        bit=bits(runout=False, flutes=(1, 2, 3), half_angle=st.sampled_from([41.3, 45.0, 60.0, 72.0])),
    ),
    azimuth=azimuths,
)
def test_faster_feeds_strike_and_rub_less_often(cut: cs.Cut, azimuth: float) -> None:
    """Strikes on the last bundle and rubs among them, summed along both lips, do not rise with the feed.

    A duller edge rubs at least as often. Means over the stations: a single lip point has the luck of its scallop.
    Grooves are half a millimetre deep or more and here wider on either side than the layer in which strikes count, of
    0.4 mm: in one that is narrower the teeth that strike near the axis, where they hardly bite, count as rubs, too.
    """
    slow = replace(cut, feed=400 * cut.bit.flutes)
    board = cs.Board(CHERRY, cs.straight_grain(azimuth))
    found = []
    for factor in (1, 2, 4, 8):
        risk = cs.risk_map(replace(slow, feed=slow.feed * factor), board, pitch=0.11)
        run = risk.kind == "run"
        found.append((risk.strikes[run].sum(axis=0), risk.rubs[run].sum(axis=0)))
        assert np.isfinite(risk.fuzz[risk.exists]).all()
        assert (risk.rubs <= risk.strikes).all()
    strikes, rubs = (np.array(v) for v in zip(*found, strict=True))
    assert (np.diff(strikes, axis=0) < 0).all()
    assert (np.diff(rubs, axis=0) <= 0).all()
    dull = cs.risk_map(replace(slow, bit=replace(slow.bit, edge_radius=0.03)), board, pitch=0.11)
    assert (dull.rubs[dull.kind == "run"].sum(axis=0) >= rubs[0]).all()


# --- sampling and starting points -------------------------------------------------------------------------------------


def with_collinear(path: cs.Path, station: float) -> cs.Path:
    """The same path with one vertex more."""
    joints = path.joints
    k = int(np.clip(np.searchsorted(joints, station) - 1, 0, len(joints) - 2))
    part = (station - joints[k]) / (joints[k + 1] - joints[k])
    if not 0.01 < part < 0.99:
        return path
    sweep = np.insert(path.sweep, k, path.sweep[k] * part)
    sweep[k + 1] = path.sweep[k] * (1 - part)
    xy = np.insert(path.xy, k + 1, path.position(station), axis=0)
    return cs.Path(xy, np.insert(path.depth, k + 1, path.depth_at(station)), sweep=sweep, closed=path.closed)


@steadily(40)
@given(cut=cuts(), pitch=reals(0.05, 1), at=reals(0.02, 0.98))
def test_more_vertices_leave_every_chip(cut: cs.Cut, pitch: float, at: float) -> None:
    a = sweeps(cut)
    same_sweeps(a, sweeps(replace(cut, path=cut.path.refined(pitch))))
    same_sweeps(a, sweeps(replace(cut, path=with_collinear(cut.path, at * cut.path.length))))


@steadily(25)
@given(cut=map_cuts, board=boards(), pitch=reals(0.1, 1))
def test_more_vertices_leave_the_map(cut: cs.Cut, board: cs.Board, pitch: float) -> None:
    a = cs.risk_map(cut, board, pitch=0.7)
    same_map(a, cs.risk_map(replace(cut, path=cut.path.refined(pitch)), board, pitch=0.7), tolerance=1e-8)


@steadily(20)
@given(bit=bits(), depth=reals(0.5, 2.5), side=st.integers(4, 12), shift=st.integers(1, 3))
def test_a_loop_has_the_same_lips_wherever_it_starts(bit: cs.VBit, depth: float, side: int, shift: int) -> None:
    """Sides that are whole numbers of cells, so that the stations fall on the same places."""
    corners, depths = np.array([(0, 0), (side, 0), (side, side), (0, side)]), np.array([depth, 1.0, 1.5, 0.8])
    whole = []
    for k in (0, shift):
        path = cs.polyline(np.roll(corners, -k, axis=0), np.roll(depths, -k), closed=True)
        whole.append(cs.risk_map(cs.Cut(bit, path, 18_000, 3000), cs.Board(CHERRY, cs.straight_grain(20.1)), pitch=0.5))
    a, b = (m.lip_length.sum(axis=0) for m in whole)
    np.testing.assert_allclose(a, b, atol=1e-9)
    assert sorted(np.round(whole[0].fibre_angle[whole[0].exists], 6)) == sorted(
        np.round(whole[1].fibre_angle[whole[1].exists], 6)
    )


@steadily(30)
@given(cut=cuts(), at=reals(0.05, 0.95))
def test_two_stretches_make_the_whole(cut: cs.Cut, at: float) -> None:
    """Every crossing of [0, s] is in [0, m] or in [m, s], with the same thickness: each looks back as far as needed."""
    stop = min(cut.path.length, 4.2 * cut.feed_per_rev)
    parts = [sweeps(cut, stop=at * stop), sweeps(cut, start=at * stop, stop=stop)]
    whole = sweeps(cut, stop=stop)

    def crossings(tables: list[cs.ToothPasses]) -> np.ndarray:
        rows = [
            np.column_stack(
                [t.time[:, k], t.flute, np.full(len(t), k), t.radial_thickness[:, k], t.chip_thickness[:, k]]
            )
            for t in tables
            for k in range(len(ANGLES))
        ]
        table = np.concatenate(rows)
        table = table[np.isfinite(table[:, 0])]
        return table[np.lexsort((np.round(table[:, 0], 12), table[:, 2], table[:, 1]))]

    np.testing.assert_allclose(crossings(parts), crossings([whole]), rtol=0, atol=TOLERANCE)


@steadily(25)
@given(cut=cuts(bit=bits(flutes=(2, 3, 4))))
def test_the_numbering_of_the_flutes_is_a_name_only(cut: cs.Cut) -> None:
    """Call flute 1 flute 0: the phase moves by one pitch against the rotation, the runout stays where it is."""
    pitch = 360 / cut.bit.flutes
    sense = -1 if cut.spin == "cw" else 1
    renamed = replace(
        cut,
        bit=replace(cut.bit, runout_azimuth=(cut.bit.runout_azimuth - pitch + 180) % 360 - 180),
        phase=cut.phase - sense * pitch,
    )
    a, b = sweeps(cut), sweeps(renamed)
    order_a, order_b = np.argsort(np.nanmin(a.time, axis=1)), np.argsort(np.nanmin(b.time, axis=1))
    assert ((b.flute[order_b] + 1) % cut.bit.flutes == a.flute[order_a]).all()
    for name in ("time", "radial_thickness", "chip_thickness"):
        np.testing.assert_allclose(
            getattr(b, name)[order_b], getattr(a, name)[order_a], rtol=0, atol=TOLERANCE, err_msg=name
        )


# --- limits and flags -------------------------------------------------------------------------------------------------


@steadily(40)
@given(cut=cuts(bit=st.one_of(bits(), profile_bits())))
def test_thickness_lies_between_nothing_and_the_radius(cut: cs.Cut) -> None:
    found = sweeps(cut)
    known = np.isfinite(found.radial_thickness)
    assert (np.isfinite(found.time)[..., None] >= known).all()
    assert (np.isfinite(found.chip_thickness) == known).all()
    assert (np.isfinite(found.cutting_speed) == known).all()
    assert (found.radial_thickness[known] >= 0).all()
    assert (found.chip_thickness[known] >= 0).all()
    radius = np.broadcast_to(found.edge_radius_about_axis[:, None, :], known.shape)
    assert (found.radial_thickness[known] <= radius[known] + 1e-12).all()


@steadily(25)
@given(cut=map_cuts, small=reals(0.02, 0.2), more=reals(0.02, 0.8))
@example(cut=cs.Cut(cs.VBit(90, 12.7), cs.line((0, 0), (10, 0), 2.0), 18_000, 6000, phase=0.1377), small=0.1, more=0.5)
def test_a_thicker_bundle_only_adds_earlier_strikes(cut: cs.Cut, small: float, more: float) -> None:
    """The strikes of a thin layer are the last ones of a thicker layer at the same lip, chip for chip."""
    thin, thick = (cs.lip_strikes(cut, pitch=0.4, bundle=b) for b in (small, small + more))
    # round the start: whether a tooth that stands on the probe at time 0 has passed it is a matter of rounding
    for row, side in np.argwhere(thin.exists & (thin.lips.kind != "start")[:, None]):
        n, m = int(thin.counts[row, side]), int(thick.counts[row, side])
        assert n <= m
        np.testing.assert_allclose(
            thin.chips[row, side, :n],
            thick.chips[row, side, m - n : m],
            rtol=0,
            atol=1e-9,
            err_msg=f"row {row}, {SIDES[side]}, {thin.lips.kind[row]}",
        )


@steadily(25)
@given(cut=map_cuts)
def test_a_cut_lip_has_been_struck(cut: cs.Cut) -> None:
    """The layer is measured from the finished lip, so the strike that finished it is always in it."""
    found = cs.lip_strikes(cut, pitch=0.4)
    assert (found.counts[found.exists] > 0).all()
    assert (found.counts[~found.exists] == 0).all()


# --- direction enters through the grain only --------------------------------------------------------------------------


@pytest.mark.parametrize("spin", ["cw", "ccw"])
@pytest.mark.parametrize("beta", [30.0, 90.0, 140.0])
def test_grain_that_turns_with_the_path_leaves_no_sectors(spin: str, beta: float) -> None:
    """A ring in a board whose fibres keep their angle to it: fuzz is the same all round, but for the start.

    The feed is chosen so that every station meets its teeth alike: a whole number of passes between stations, whose
    spacing on an arc is f_z / (1 + kappa e).
    """
    radius, cells, passes = 12.0, 300, 5
    spacing = 2 * np.pi * radius / cells / passes
    flutes, sense = 2, 1.0 if spin == "cw" else -1.0
    step = spacing / (1 - sense * flutes * spacing / (2 * np.pi * radius))
    grain = cs.grain_field(lambda x, y: np.degrees(np.arctan2(y, x)) + 90 + beta)
    cut = cs.Cut(cs.VBit(90, 12.7, flutes), cs.ring(radius, 2.5), 18_000, step * 18_000 * flutes, spin=spin)
    risk = cs.risk_map(cut, cs.Board(CHERRY, grain), pitch=2 * np.pi * radius / cells)
    far = (risk.station > 4) & (risk.station < cut.path.length - 4)
    assert len(risk) == cells
    assert (np.ptp(risk.strikes[far], axis=0) == 0).all()
    assert np.ptp(risk.fuzz[far], axis=0).max() < 1e-7
    assert np.ptp(risk.fibre_angle[far], axis=0).max() < 1e-9
    # and the same board, straight, has sectors: the test can fail
    straight = cs.risk_map(cut, cs.Board(CHERRY, cs.straight_grain(0.0)), pitch=2 * np.pi * radius / cells)
    assert np.ptp(straight.fuzz[far], axis=0).max() > 0.1


# --- purity -----------------------------------------------------------------------------------------------------------


@steadily(12)
@given(cut=map_cuts, board=boards())
def test_the_same_question_has_the_same_answer(cut: cs.Cut, board: cs.Board) -> None:
    state = np.random.get_state()[1].copy()  # noqa: NPY002 - the global state is what must not be touched
    a, b = (cs.risk_map(cut, board, pitch=0.7) for _ in range(2))
    for name in ("fuzz", "fibre_angle", "strikes", "lip_xy", "lip_length", "cutting_speed", "hazard"):
        assert getattr(a, name).tobytes() == getattr(b, name).tobytes(), name
    one, two = (sweeps(cut, board=board) for _ in range(2))
    for name in ("time", "radial_thickness", "chip_thickness", "fibre_angle", "cutting_speed"):
        assert getattr(one, name).tobytes() == getattr(two, name).tobytes(), name
    assert (np.random.get_state()[1] == state).all()  # noqa: NPY002


def test_inputs_are_copied_and_answers_read_only() -> None:
    xy, depth, sweep = np.array([[0.0, 0.0], [5.0, 0.0], [5.0, 5.0]]), np.array([1.0, 2.0, 1.0]), np.array([0.0, 90.0])
    heights, radii = np.array([0.0, 2.0, 4.0]), np.array([0.1, 2.0, 3.0])
    angles, levels = np.array([30.0, 90.0]), np.array([0.3, 0.9])
    given_arrays = [xy, depth, sweep, heights, radii, angles, levels]
    before = [a.copy() for a in given_arrays]
    path, bit = cs.Path(xy, depth, sweep=sweep), cs.ProfileBit(heights, radii, 2)
    cut = cs.Cut(bit, path, 18_000, 3000)
    board = cs.Board(CHERRY, cs.straight_grain(20.0))
    table = cs.tooth_passes(cut, angles=angles, heights=levels, board=board, stop=2.0)
    risk, strikes = cs.risk_map(cut, board), cs.lip_strikes(cut, pitch=0.5)
    for old, new in zip(before, given_arrays, strict=True):
        assert (old == new).all()
    kept = path.length, risk.fuzz.copy(), table.radial_thickness.copy()
    for array in given_arrays:
        array += 1.0  # the caller may do what he likes with his own arrays afterwards
    assert path.length == kept[0]
    assert (cs.risk_map(cut, board).fuzz[risk.exists] == kept[1][risk.exists]).all()
    answers = [path.xy, path.depth, path.sweep, path.joints, bit.heights, bit.radii, cut.knots[0], cut.motion]
    answers += [table.radial_thickness, table.chip_thickness, table.time, table.flute, table.cutting_speed]
    answers += [risk.fuzz, risk.station, risk.exists, risk.lip_xy, strikes.chips, strikes.counts, strikes.depths]
    for array in answers:
        assert not array.flags.writeable
        with pytest.raises(ValueError, match="read-only"):
            array[...] = 0


@steadily(15)
@given(cut=cuts(), angle=reals(-400, 400), part=reals(0.4, 1))
def test_one_number_is_an_array_of_one(cut: cs.Cut, angle: float, part: float) -> None:
    height = part * float(cut.path.depth.min())
    one = sweeps(cut, angles=angle, heights=height)
    two = sweeps(cut, angles=[angle], heights=np.array([height]))
    many = sweeps(cut, angles=[angle, *ANGLES], heights=[height, 0.5 * height])
    assert one.radial_thickness.shape == (len(one), 1, 1)
    assert one.radial_thickness.tobytes() == two.radial_thickness.tobytes()
    times = many.time[:, 0][np.isfinite(many.time[:, 0])]
    np.testing.assert_allclose(times, one.time[:, 0][np.isfinite(one.time[:, 0])], rtol=0, atol=1e-12)
    h = many.radial_thickness[np.isfinite(many.time[:, 0]), 0, 0]
    np.testing.assert_allclose(h, one.radial_thickness[np.isfinite(one.time[:, 0]), 0, 0], rtol=0, atol=1e-12)


@steadily(20)
@given(cut=cuts(), angle=reals(-80, 260), turns_more=st.integers(-3, 3))
def test_a_full_turn_more_is_the_same_angle(cut: cs.Cut, angle: float, turns_more: int) -> None:
    a, b = sweeps(cut, angles=[angle + 0.0137]), sweeps(cut, angles=[angle + 0.0137 + 360 * turns_more])
    same_sweeps(a, b)


def test_single_precision_is_taken_as_it_is() -> None:
    angles, heights = np.array([30.0, 91.5]), np.array([0.5, 1.75])
    cut = cs.Cut(cs.VBit(90, 12.7, 2), cs.line((0, 0), (3, 0), 2.0), 18_000, 3000)
    a = cs.tooth_passes(cut, angles=angles, heights=heights)
    b = cs.tooth_passes(cut, angles=angles.astype(np.float32), heights=heights.astype(np.float32))
    assert b.radial_thickness.dtype == np.float64
    assert a.radial_thickness.tobytes() == b.radial_thickness.tobytes()


@steadily(30)
@given(seed=st.integers(0, 10_000))
def test_fibre_angle_of_a_batch_is_that_of_each(seed: int) -> None:
    v, n, g = np.random.default_rng(seed).normal(size=(3, 4, 5, 3))
    whole = cs.fibre_angle(v, n, g)
    assert whole.shape == (4, 5)
    assert ((whole >= 0) & (whole < 180)).all()
    for i in np.ndindex(4, 5):
        assert float(cs.fibre_angle(v[i], n[i], g[i])) == whole[i]
    np.testing.assert_allclose(axis(cs.fibre_angle(v, n, -g)), axis(whole), atol=1e-12)
    np.testing.assert_allclose(
        axis(cs.fibre_angle(3 * v, 2 * n, 0.1 * g)), axis(cs.fibre_angle(v * 3, n * 2, g)), atol=1e-12
    )
    np.testing.assert_allclose(axis(cs.fibre_angle(-v, n, g)), axis(180 - whole), atol=1e-12)
