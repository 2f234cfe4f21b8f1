"""The order of time on a board, and what limits and times make of a stay that goes straight down and stands."""

from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest

import chipsim as cs
from chipsim.limits.job import entries_of, extent_of
from chipsim.scene.cuts import AirMove
from chipsim.scene.machine import Machine

BIT = cs.VBit(60, 12.7, 2, max_spindle_speed=24_000)
MACHINE = Machine(400, 3000, rapid_feed=6000, plunge_feed=240)
DOT = cs.Cut(BIT, cs.dot((1, 2), 1.5, dwell=0.25), 18000, 1500)
STAY = cs.Cut(BIT, cs.Path([[0, 0], [0, 0], [10, 0], [10, 0]], [0, 1, 1, 0], dwell=[0, 0.1, 0, 0.2]), 18000, 1500)


def test_strokes_are_in_order_of_time_earlier_passes_before_the_last():
    line = cs.Cut(BIT, cs.line((0, 0), (10, 0), 2), 18000, 1500, passes=[cs.Pass(0.5), cs.Pass(1.2, feed=3000)])
    moves = (
        AirMove("rapid", (0, 0, 5), (0, 0, 1)),
        AirMove("plunge", (0, 0, 1), (0, 0, -2), 300.0),
        AirMove("dwell", (0, 0, 5), (0, 0, 5), seconds=2.0, before=1),
        AirMove("air", (0, 0, 5), (30, 0, 5), 1800.0, before=1),
        AirMove("rapid", (0, 0, 5), (30, 0, 5), before=2),
    )
    job = cs.Carving((line, STAY), moves)
    found = job.strokes()
    assert [(s.groove, s.is_final) for s in found] == [(0, False), (0, False), (0, True), (1, True)]
    assert [s.cut.path.depth.max() for s in found] == pytest.approx([0.8, 1.5, 2, 1])
    assert all(s.cut.passes == () for s in found)
    # 3 mm at 5 mm/s; each pass from its own feed; dwell and 30 mm at 30 mm/s; rapids take nothing without a machine
    assert [s.start for s in found] == pytest.approx([0.6, 0.8, 1.2, 1.6 + 2 + 1])
    driven = cs.Carving(tuple(replace(c, machine=MACHINE) for c in job), moves).strokes()
    assert driven[0].start == pytest.approx(4 / 100 + 0.6)
    for one, two in pairwise(driven):
        assert two.start >= one.start + one.cut.duration - 1e-12
    # a move behind the last cut shifts nothing, and a carving of one cut starts at once
    assert cs.Carving((STAY,)).strokes() == ((STAY, 0.0, 0, True),)


def test_a_stay_is_timed_by_what_it_does():
    took = cs.time_estimate(replace(STAY, machine=MACHINE))
    # from rest to rest: 1 mm down at 4 mm/s, 10 mm at 25 mm/s (corners of 90 degrees), 1 mm up
    whole = replace(STAY, machine=MACHINE).duration
    assert took.total[1] == pytest.approx(whole, rel=1e-12)
    assert took.dwell == pytest.approx((0.3, 0.3, 0.3))
    assert took.plunge[0] == pytest.approx(1 / 4)
    assert took.plunge[1] == pytest.approx(1 / 4 + 4 / 400)
    assert took.cutting[0] == pytest.approx(10 / 25)
    assert took.air[0] == pytest.approx(1 / 25)
    dot = cs.time_estimate(DOT, MACHINE)
    assert dot.cutting == (0, 0, 0)
    assert dot.plunge[1] == pytest.approx(1.5 / 4 + 4 / 400)


def test_limits_know_the_plunges_in_a_cut():
    for cut in (STAY, DOT):
        rows = {row.name: row for row in cs.check_limits(cut, MACHINE, plunge_feed=200, stick_out=20, safe_height=5)}
        assert rows["plunge feed"].value == 240
        assert all(np.isfinite(r.value) for r in rows.values() if r.status != "unknown")
    fast = cs.check_limits(replace(DOT, plunge_feed=600), MACHINE)
    (row,) = [r for r in fast if r.name == "plunge feed"]
    assert (row.value, row.status) == (600, "violated")
    (row,) = [r for r in cs.check_limits(replace(STAY, feed=[900, 1500, 1500])) if r.name == "plunge feed"]
    assert (row.value, row.status) == (900, "unknown")
    # with a slow descent the heel of a dot rubs on a share of its depth
    (tip,) = [r for r in cs.check_limits(DOT, MACHINE) if r.name == "tip feed"]
    assert 0 < tip.value < 5
    assert "straight down per revolution" in tip.sentence


def test_the_extent_of_a_stay_is_that_of_its_deepest_places():
    half = float(BIT.radius(1.5))
    np.testing.assert_allclose(extent_of(DOT), [[1 - half, 2 - half], [1 + half, 2 + half]])
    deep = cs.Cut(BIT, cs.Path([[0, 0], [5, 0], [5, 0], [5, 0]], [1, 1, 3, 0]), 18000, 1500)
    np.testing.assert_allclose(extent_of(deep)[1], [5 + float(BIT.radius(3)), float(BIT.radius(3))])
    loop = cs.Cut(BIT, cs.Path([[0, 0], [0, 0], [5, 0], [5, 5]], [0, 1, 1, 1], closed=True), 18000, 1500)
    assert extent_of(loop)[1] == pytest.approx([5 + float(BIT.radius(1))] * 2)


def test_a_stay_that_lifts_out_has_left_the_wood():
    on = cs.Cut(BIT, cs.line((10, 0), (20, 0), 1), 18000, 1500)
    level = cs.Cut(BIT, cs.line((0, 0), (10, 0), 1), 18000, 1500)
    assert not entries_of(on, level)
    assert entries_of(on, STAY)
    assert not entries_of(STAY, None)


def test_a_plunge_asks_for_the_power_of_its_removal_rate():
    """B alone: pressure times pi tan^2 a d^2 w, the cone's growth; no side force on a board that is alike all round."""
    board = cs.Board(cs.wood("sugar maple"), cs.straight_grain(90))
    found = cs.cutting_forces(DOT, board)
    slow = cs.cutting_forces(replace(DOT, plunge_feed=150), board)
    assert (found.feed, found.descent, found.depth) == (0, 300, 1.5)
    assert found.chip == pytest.approx(300 / 36_000 * np.sin(np.radians(30)))
    # torque = A part + B part in proportion to the descent
    fixed, rising = 2 * slow.torque - found.torque, found.torque - slow.torque
    assert fixed > 0
    assert rising > 0
    assert found.side < 0.05 * found.peak + 1e-9
    assert "plunging with 300 mm/min" in str(found)
    # the chip's share grows with the descent alone
    fast = cs.cutting_forces(replace(DOT, plunge_feed=450), board)
    assert fast.torque - found.torque == pytest.approx(rising, rel=1e-9)
    for cut in (DOT, STAY, replace(DOT, passes=[0.4]), replace(STAY, passes=[cs.Pass(0.3, True)], machine=MACHINE)):
        for each in (cs.cutting_forces(cut, board), cs.cutting_forces(cut, board, station=0.0)):
            for one in each.all_passes:
                assert np.isfinite([one.torque, one.power, one.side, one.peak, one.axial, one.chip]).all()
        names = {row.name for row in cs.check_limits(cut, MACHINE, board=board)}
        assert {"spindle power", "side deflection"} <= names


def test_another_bit_cuts_the_same_dots_and_strokes():
    wide = cs.VBit(90, 12.7, 2)
    for cut in (DOT, STAY, replace(STAY, feed=[200, 1500, 900])):
        other = cs.with_bit(cut, wide)
        assert other.feed == cut.feed
        np.testing.assert_allclose(other.half_width(other.path.depth), cut.half_width(cut.path.depth))
        np.testing.assert_array_equal(other.path.dwell, cut.path.dwell)
    # a ramp over a bend of the outline gets a vertex there, and every piece keeps its feed
    bend = cs.ProfileBit([0, 1, 4], [0, 0.3, 3])
    ramp = cs.Cut(bend, cs.Path([[0, 0], [0, 0], [9, 0], [18, 0]], [0, 0.5, 2, 2]), 18000, [240, 1200, 1500])
    other = cs.with_bit(ramp, wide)
    assert other.feed == (240, 1200, 1200, 1500)
