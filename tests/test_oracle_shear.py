"""The oracle with sheared edges, whose azimuth depends on height: check numbers, closed forms, symmetries."""

import csv
import math
import re
from functools import cache
from pathlib import Path

import numpy as np
import pytest

from chipsim.errors import DomainError
from chipsim.reference.oracle_space import (
    Arc,
    Line,
    Motion,
    crossing_near,
    normal_thickness,
    probe_strikes,
    radial_thickness,
    removed_stretches,
)

NUMBERS = Path(__file__).with_name("shear_numbers.csv")
TAN30 = math.tan(math.radians(30))
DEPTH = 3.0
EXACT = {"abs": 1e-12, "rel": 0}


@cache
def numbers():
    with NUMBERS.open(encoding="utf-8") as file:
        return list(csv.DictReader(line for line in file if not line.startswith("#")))


def rows(pattern):
    return [row for row in numbers() if re.fullmatch(pattern, row["id"])]


def number_of(name):
    return float(next(row["value"] for row in numbers() if row["id"] == name))


def cone(tip=0.1, included=60.0):
    slope = math.tan(math.radians(included / 2))
    return lambda h: tip + slope * np.asarray(h)


def loxodrome(*shears, tip=0.1, zero=DEPTH, included=60.0):
    """Azimuths [deg] of edges of constant shear on a cone, 0 at the height `zero`: one law, or one for each flute."""
    r, a = cone(tip, included), math.radians(included / 2)

    def law(h):
        turn = np.degrees(np.log(r(h) / r(zero))) / math.sin(a)
        each = np.stack([math.tan(math.radians(s)) * turn for s in shears])
        return each[0] if len(shears) == 1 else each

    return law


def lead(*rates):
    """Azimuths [deg] that grow at so many radians a millimetre."""

    def law(h):
        each = np.stack([np.degrees(rate * np.asarray(h)) for rate in rates])
        return each[0] if len(rates) == 1 else each

    return law


def slot(azimuth=None, phase=12.0, **more):
    return Motion(
        (-6.0, 0.0, 3.0), [Line((6.0, 0.0, 3.0), 6000.0)], cone(), 15000.0, phase=phase, azimuth=azimuth, **more
    )


@pytest.mark.parametrize("row", rows("C[123].") + rows("E3a"), ids=lambda row: row["id"])
def test_a_sheared_edge_in_a_level_slot_is_the_check_number(row):
    z, azimuth = (float(x) for x in re.search(r"slice (\S+), azimuth (\S+?)(?:,|$)", row["inputs"]).groups())
    motion = slot(loxodrome(15.0))
    time = crossing_near(motion, 0, azimuth, 0.06, z)
    if row["quantity"] == "crossing_time":
        found = time
    elif row["quantity"] == "radial_thickness":
        found = radial_thickness([motion], 0, 0, time, z)
    else:
        found = normal_thickness([motion], 0, 0, time, z, half_angle=30.0)
    assert found == pytest.approx(float(row["value"]), **EXACT)


@pytest.mark.parametrize("row", rows("C4.*"), ids=lambda row: row["id"])
def test_flutes_of_opposite_shear_share_the_chip_by_their_pitch(row):
    z = float(re.search(r"slice (\S+),", row["inputs"]).group(1))
    flute = int(row["id"][-1])
    motion = slot(loxodrome(12.0, -12.0))
    time = crossing_near(motion, flute, 10.0, 0.06, z)
    assert radial_thickness([motion], 0, flute, time, z) == pytest.approx(float(row["value"]), **EXACT)


@pytest.mark.parametrize(
    ("name", "feed", "speed", "rate"), [("C5a", 3000.0, 6000.0, 0.5), ("C5c", 600.0, 18000.0, 0.3)]
)
def test_a_plunge_turns_the_flute_by_its_lead(name, feed, speed, rate):
    motion = Motion((0.0, 0.0, -1.0), [Line((0.0, 0.0, 6.0), feed)], cone(0.0), speed, azimuth=lead(rate))
    time = crossing_near(motion, 0, 77.0, 0.8 * motion.duration, -0.5)
    w, omega = feed / 60, speed * math.pi / 30
    closed = TAN30 * w * math.pi / (omega - rate * w)
    assert number_of(name) == pytest.approx(closed, rel=1e-12)
    assert radial_thickness([motion], 0, 0, time, -0.5) == pytest.approx(closed, **EXACT)


def meeting(r, side, pitch):
    """Angle behind a wall at which two sweeps a pitch apart meet: side psi + r sin psi = pitch / 2."""
    low, high = 0.0, math.pi / 2
    for _ in range(100):
        psi = (low + high) / 2
        low, high = (psi, high) if side * psi + r * math.sin(psi) < pitch / 2 else (low, psi)
    return psi


def cusps(r, e, pitch):
    """Twice what stands between two sweeps a pitch apart, at both walls: the law of the budget in a level slot."""
    total = 0.0
    for side in (e, -e):
        psi = meeting(r, side, pitch)
        total += 2 * (r * side * (psi - math.sin(psi)) + r * r * (math.sin(psi) - psi / 2 - math.sin(2 * psi) / 4))
    return total


@pytest.mark.parametrize(("name", "shears"), [("C6a", (0.0,)), ("C6b", (15.0,)), ("C6c", (12.0, -12.0))])
def test_the_chips_of_a_turn_are_what_the_feed_uncovers(name, shears):
    r, f = 0.1 + 2.2 * TAN30, 0.4
    e = f / (2 * math.pi)
    lags = np.radians(np.broadcast_to(loxodrome(*shears)(np.array(2.2)), 2))
    pitches = [(2 * math.pi / 2 + lags[j] - lags[1 - j]) % (2 * math.pi) for j in range(2)]
    closed = 2 * r * f - sum(cusps(r, e, e * pitch) for pitch in pitches)
    assert number_of(name) == pytest.approx(closed, rel=1e-10)
    # and by the oracle, ray by ray, the ray's own advance counted: from where a sweep leaves the one before to where
    # it meets it again
    motion = slot(loxodrome(*shears))
    total = 0.0
    nodes, weights = np.polynomial.legendre.leggauss(16)
    for flute in range(2):
        low, high = -meeting(r, e, e * pitches[flute]), math.pi + meeting(r, -e, e * pitches[flute])
        for node, weight in zip(nodes, weights, strict=True):
            phi = (low + high) / 2 + node * (high - low) / 2
            time = crossing_near(motion, flute, 90.0 - math.degrees(phi), 0.06, -0.8)
            h = radial_thickness([motion], 0, flute, time, -0.8)
            total += weight * (high - low) / 2 * (r * h - h * h / 2 + e * math.cos(phi) * h)
    assert total == pytest.approx(closed, rel=1e-9)


RAMP = "3254.2706982944396"


@pytest.mark.parametrize(("name", "azimuth"), [("E1a", None), ("E1b", lead(0.4))])
def test_strikes_on_the_lip_of_a_ramp(name, azimuth):
    motion = Motion(
        (0.0, 0.0, 0.0), [Line((3.0, 0.0, 2.5), float(RAMP))], cone(), 12000.0, phase=123.0, azimuth=azimuth
    )
    half = 0.1 + 1.25 * TAN30
    seen = probe_strikes([motion], (1.104665255345, -0.720334186541), -118.7589180040, half)
    expected = {int(row["id"].partition("k")[2]): row for row in rows(name + r"k\d")}
    depths = seen.depth[seen.cuts]
    last = depths[-len(expected) :]
    for k, row in expected.items():
        assert last[k] == pytest.approx(float(row["value"]), abs=2e-11)  # the lip point has twelve digits
        assert seen.flute[seen.cuts][-len(expected) :][k] == int(row["inputs"][-1])
        time = float(row["note"].removeprefix("t "))
        assert seen.time[seen.cuts][-len(expected) :][k] == pytest.approx(time, abs=1e-12)


@pytest.mark.parametrize("row", rows("E2.*"), ids=lambda row: row["id"])
def test_the_long_flute_at_the_lip_is_the_short_one_near_the_tip(row):
    height, flute = re.search(r"height (\S+), flute (\d)", row["inputs"]).groups()
    motion = slot(loxodrome(15.0), runout=0.03, runout_azimuth=40.0)
    found = abs(motion.reach(np.array([float(height)]), np.array([int(flute)]))[0])
    assert found == pytest.approx(float(row["value"]), rel=1e-14)


def turned(mirrored):
    s = -1.0 if mirrored else 1.0
    return Motion(
        (-4.0, -s, 2.5),
        [Line((0.0, -s, 2.5), 5000.0), Arc((0.0, 2.0 * s), 70.0 * s, 3.0, 5000.0)],
        cone(),
        12000.0,
        flutes=3,
        phase=17.0 * s,
        spin="ccw" if mirrored else "cw",
        runout=0.02,
        runout_azimuth=50.0,
        azimuth=lead(0.3, -0.2, 0.1),
    )


def test_mirrored_with_the_spin_the_shear_stays():
    """Row S1: lags are counted against the rotation, so the hand flips by itself."""
    one, other = turned(False), turned(True)
    for flute in range(3):
        for azimuth, z, near in ((20.0, -0.4, 0.03), (-50.0, -1.1, 0.055), (75.0, 0.0, 0.07), (110.0, -1.7, 0.08)):
            t, u = crossing_near(one, flute, azimuth, near, z), crossing_near(other, flute, -azimuth, near, z)
            assert t == pytest.approx(u, abs=1e-15)
            a, b = radial_thickness([one], 0, flute, t, z), radial_thickness([other], 0, flute, u, z)
            assert a == pytest.approx(b, abs=number_of("S1") + 1e-13)


def test_a_constant_lag_is_a_phase():
    """Row S2: the work angle is phase + sg (omega t - b - lag), so a clockwise bit's phase grows by the lag."""
    lagging = slot(lambda h: np.full(np.shape(h), math.degrees(0.5)))
    shifted = slot(phase=12.0 + math.degrees(0.5))
    for azimuth, z in ((10.0, 0.0), (-70.0, -1.2)):
        t, u = (crossing_near(m, 1, azimuth, 0.06, z) for m in (lagging, shifted))
        assert t == pytest.approx(u, abs=1e-15)
        a, b = (radial_thickness([m], 0, 1, t, z) for m in (lagging, shifted))
        assert a == pytest.approx(b, abs=number_of("S2") + 1e-13)


def test_lags_that_part_by_whole_turns_or_pitches_change_nothing():
    plain = slot()
    whole = slot(lambda h: np.stack([0.0 * np.asarray(h), 360.0 + 0.0 * np.asarray(h)]))
    t = crossing_near(plain, 0, 35.0, 0.06, -0.5)
    assert radial_thickness([plain], 0, 0, t, -0.5) == pytest.approx(
        radial_thickness([whole], 0, 0, t, -0.5), abs=1e-13
    )


def test_a_flute_set_back_takes_less_and_the_next_one_more():
    """Dead ahead a flute that stays s within the outline leaves s to the next: h = f_z - s and f_z + s (two flutes)."""
    motion = slot(set_back=(0.0, 0.02))
    for flute, expected in ((0, 0.2 + 0.02), (1, 0.2 - 0.02)):
        time = crossing_near(motion, flute, 0.0, 0.06, -0.5)
        assert radial_thickness([motion], 0, flute, time, -0.5) == pytest.approx(expected, **EXACT)


def test_a_flute_ground_short_is_a_flute_set_back_by_its_flank():
    """On a cone a tip that stands s higher is an edge s tan a farther in, where the outline goes on."""
    high, back = slot(raised=(0.0, 0.05)), slot(set_back=(0.0, 0.05 * TAN30))
    for flute in range(2):
        for azimuth, z in ((0.0, -0.5), (70.0, -1.6)):
            t = crossing_near(high, flute, azimuth, 0.06, z)
            a, b = (radial_thickness([m], 0, flute, t, z) for m in (high, back))
            assert a == pytest.approx(b, abs=1e-13)
    # below its tip it takes nothing, and the other one all
    time = crossing_near(high, 0, 0.0, 0.06, -2.98)
    assert removed_stretches([slot(raised=(3.1, 3.1))], (0.0, 0.0), 0.0, -1.0, 1.0, -0.5).size == 0
    assert radial_thickness([high], 0, 0, time, -2.98) == pytest.approx(
        radial_thickness([slot(raised=(0.0, 9.0))], 0, 0, time, -2.98), abs=1e-13
    )


def test_uneven_flutes_need_a_number_each():
    with pytest.raises(DomainError, match=r"set_back must have one number for each of 2 flutes, got 1"):
        slot(set_back=(0.02,))
