"""Limits against numbers worked out by hand, times against the textbook, the width card; and failing closed."""

import dataclasses
import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

import chipsim as cs
from chipsim.limits.checks import Limit, all_clear, check_limits, limits_table
from chipsim.limits.time import TimeEstimate, time_estimate
from chipsim.limits.width import width_card
from chipsim.scene.cuts import AirMove, Carving, Pass
from chipsim.scene.machine import Dial, Machine
from chipsim.testing.strategies import bits, paths, profile_bits, reals, steadily

BIT = cs.VBit(60, 12.7, 2, 0.2, cutting_length=12, max_spindle_speed=24_000)
DIAL = Dial((1, 2.5, 6), (9_700, 17_350, 27_150), uncertainty=0.1)
MACHINE = Machine(500, 5000, plunge_feed=300, travel=(300, 200, 60), dial=DIAL)
RING = cs.Cut(BIT, cs.ring(20, 2.5), 18_000, 1500)
KNOWN = {"stick_out": 20, "plunge_feed": 200, "safe_height": 5}


def rows(*args, **options):
    """Rows by name; a name that comes twice, known and unknown, is an error here."""
    found = check_limits(*args, **options)
    assert len({row.name for row in found}) == len(found)
    return {row.name: row for row in found}


def pair(carving, name, machine=None, **options):
    return [row for row in check_limits(carving, machine, **options) if row.name == name]


# ----------------------------------------------------------------------------------------------
# The sheet
# ----------------------------------------------------------------------------------------------


def test_all_known_and_kept_is_all_clear():
    found = check_limits(RING, MACHINE, **KNOWN)
    assert all_clear(found), limits_table(found)
    assert {row.name for row in found} == {
        "marked maximum speed",
        "groove width",
        "cutting length",
        "stick-out",
        "tip feed",
        "feed",
        "plunge feed",
        "feed not reached",
        "travel x",
        "travel y",
        "travel z",
    }
    for row in found:
        assert row.margin == row.limit - row.value


def test_of_many_grooves_the_worst_is_kept_and_named():
    deep = replace(RING, path=cs.ring(8, 11.9))
    found = rows(Carving((RING, deep, RING)), MACHINE, **KNOWN)
    assert found["cutting length"].value == pytest.approx(11.9 + 0.15)  # flatness 0.1, zero 0.05 (defaults)
    assert found["cutting length"].status == "violated"
    assert found["cutting length"].sentence.startswith("Groove 2: ")
    assert not all_clear(found.values())


def test_unknown_stands_beside_the_worst_of_the_known():
    unmarked = replace(RING, bit=replace(BIT, max_spindle_speed=None))
    known, unknown = pair(Carving((unmarked, RING, unmarked)), "marked maximum speed")
    assert (known.status, unknown.status) == ("ok", "unknown")
    assert math.isnan(unknown.margin)
    assert unknown.sentence.startswith("Groove 1 and 1 more: ")


def test_the_table_puts_the_worst_first_and_speaks_both_systems():
    text = limits_table(check_limits(replace(RING, feed=6000), replace(MACHINE, travel=None), **KNOWN))
    first, _, head, *lines = text.splitlines()
    assert first == "Do not start: 2 of 11 limits are exceeded. 3 cannot be checked."
    assert head.split()[:3] == ["limit", "this", "job"]
    assert lines[0].startswith("feed ")
    assert lines[0].endswith("exceeded")
    assert "6000 mm/min (236 in/min)" in lines[0]
    assert "-1000 mm/min (-39 in/min)" in lines[0]
    assert "2.65 mm (0.104 in)" in text
    assert "19800 rpm" in text  # the high end of the dial
    assert "\nTravel x: " in text
    assert "\nGroove width: " not in text  # plainly kept
    assert "no certificate" in lines[-1]
    assert max(map(len, text.splitlines())) <= 120
    assert limits_table(check_limits(RING, MACHINE, **KNOWN)).startswith("All 11 limits are kept.")
    assert limits_table([]).startswith("Do not start yet: nothing was checked.")


def test_nothing_checked_is_not_clear():
    assert not all_clear([])


def test_a_limit_that_says_more_than_its_margin_is_refused():
    for margin in (-1.0, math.nan):
        for status in ("ok", "near"):
            with pytest.raises(cs.DomainError, match=r"status must be 'violated' or 'unknown'.*\[0, inf\]"):
                Limit("x", 1.0, 1.0, "mm", margin, status, "")
    with pytest.raises(cs.DomainError, match="status must be one of 'violated', 'unknown', 'near', 'ok'"):
        Limit("x", 1.0, 2.0, "mm", 1.0, "fine", "")
    with pytest.raises(dataclasses.FrozenInstanceError):
        Limit("x", 1.0, 2.0, "mm", 1.0, "ok", "").status = "near"


def test_near_is_a_share_of_the_limit():
    # 18 000 of 24 000 rpm leaves a quarter (derived)
    assert rows(RING)["marked maximum speed"].status == "ok"
    assert rows(RING, near=0.26)["marked maximum speed"].status == "near"
    assert "\nMarked maximum speed: " in limits_table(check_limits(RING, near=0.26))
    assert rows(RING, near=0.24)["marked maximum speed"].status == "ok"


# ----------------------------------------------------------------------------------------------
# Each limit, by hand
# ----------------------------------------------------------------------------------------------


def test_marked_speed_is_held_against_the_high_end_of_the_dial():
    # 22 000 rpm +- 10 %: 24 200 rpm (derived)
    fast = replace(RING, spindle_speed=22_000)
    assert rows(fast)["marked maximum speed"].value == 22_000
    row = rows(fast, MACHINE)["marked maximum speed"]
    assert row.value == pytest.approx(24_200)
    assert (row.margin, row.status) == (pytest.approx(-200), "violated")
    assert row.value == pytest.approx(DIAL.speed_range(DIAL.position(22_000))[1])


def test_a_speed_outside_the_dials_readings_is_unknown_unless_plainly_too_fast():
    dial = Dial((1, 3), (8_150, 15_900))
    row = rows(RING, replace(MACHINE, dial=dial))["marked maximum speed"]
    assert row.status == "unknown"
    assert "outside the dial's readings" in row.sentence
    fast = replace(RING, spindle_speed=23_000)
    assert rows(fast, replace(MACHINE, dial=dial))["marked maximum speed"].status == "violated"


@pytest.mark.parametrize(
    ("diameter", "limit"), [(3.175, 22_000), (25, 22_000), (25.4, 18_000), (50, 18_000), (50.8, math.nan)]
)
def test_unmarked_bits_are_unknown_and_get_advice_by_diameter(diameter, limit):
    # low end of general tables: common practice, no source
    bit = cs.VBit(90, diameter, 2, cutting_length=40)
    found = rows(cs.Cut(bit, cs.ring(20, 1), 20_000, 1500), MACHINE, **KNOWN)
    assert found["marked maximum speed"].status == "unknown"
    assert "ask the maker" in found["marked maximum speed"].sentence
    advice = found["speed by diameter (advice)"]
    assert advice.limit == pytest.approx(limit, nan_ok=True)
    assert advice.value == pytest.approx(22_000)
    assert advice.status == ("unknown" if math.isnan(limit) else "near" if limit == 22_000 else "violated")
    assert not all_clear(found.values())


def test_groove_width_is_that_of_the_cone_carried_on():
    # 90 deg: width 2 z + tip; 6.35 mm wide at 3.175 deep (derived)
    bit = cs.VBit(90, 6.35, cutting_length=20)
    for depth, status in ((2.0, "ok"), (3.0, "near"), (3.1, "violated")):
        row = rows(cs.Cut(bit, cs.ring(20, depth), 18_000, 1500))["groove width"]
        assert row.value == pytest.approx(2 * (depth + 0.15))
        assert row.limit == 6.35
        assert row.status == status


def test_groove_width_of_other_outlines():
    upright = cs.ProfileBit([0, 1, 4], [1, 3, 3])  # a wall that stands upright on purpose: no more than the diameter
    row = rows(cs.Cut(upright, cs.ring(20, 6), 18_000, 1500))["groove width"]
    assert (row.value, row.limit, row.status) == (6.0, 6.0, "near")
    short = cs.ProfileBit([0, 1, 2], [0, 1, 3])  # slope 2 at the top, 3 mm deep: 2 (3 + 2) mm (derived)
    row = rows(cs.Cut(short, cs.ring(20, 3), 18_000, 1500), flatness=0, zero=0)["groove width"]
    assert row.value == pytest.approx(10)
    assert row.status == "violated"


@dataclasses.dataclass(frozen=True)
class Ball:
    """Round-nosed, by the protocol alone."""

    diameter: float = 6.0
    flutes: int = 2
    rake: float = 10.0
    clearance: float = 15.0
    edge_radius: float = 0.008
    runout: float = 0.0
    runout_azimuth: float = 0.0
    cutting_length: float | None = None
    max_spindle_speed: float | None = None

    def radius(self, height):
        h = np.minimum(np.asarray(height, dtype=float), 3.0)
        return np.sqrt(h * (6.0 - h))


def test_any_cutter_can_be_checked():
    found = rows(cs.Cut(Ball(), cs.ring(20, 1), 18_000, 1500))
    # circle of radius 3, 1.15 mm deep: 2 sqrt(1.15 (6 - 1.15)) (derived)
    assert found["groove width"].value == pytest.approx(2 * math.sqrt(1.15 * 4.85), rel=1e-9)
    assert found["cutting length"].status == "unknown"
    blunt = rows(cs.Cut(replace(Ball(), clearance=0.0), cs.ring(20, 1), 18_000, 1500))
    assert (blunt["tip feed"].value, blunt["tip feed"].status) == (100.0, "violated")  # no clearance rubs everywhere


def test_cutting_length_and_stick_out_meet_the_depth_with_its_errors():
    found = rows(RING, MACHINE, flatness=0.4, zero=0.1, **(KNOWN | {"stick_out": 2.9}))
    assert found["cutting length"].value == pytest.approx(3.0)
    assert found["cutting length"].margin == pytest.approx(9.0)
    assert found["stick-out"].margin == pytest.approx(-0.1)
    assert found["stick-out"].status == "violated"
    assert "stick-out" not in rows(RING, MACHINE)


@pytest.mark.parametrize(("included", "rubs"), [(60, 0.284594120129), (90, 0.139102747181), (120, 0.062453211312)])
def test_tip_feed_of_a_sharp_bit_is_the_height_at_which_the_heel_stops_rubbing(included, rubs):
    # f = 0.4 mm a revolution, clearance 20 deg: h* = f / (2 pi sin c_h tan a), tan c_h = tan 20 / cos a (derived)
    bit = cs.VBit(included, 12.7, 2, clearance=20)
    row = rows(cs.Cut(bit, cs.line((0, 0), (30, 0), 1.0), 10_000, 4000))["tip feed"]
    assert row.value == pytest.approx(100 * rubs, rel=1e-9)
    assert "a sharp tip" in row.sentence
    assert f"{rubs:.2f} mm" in row.sentence
    if included == 60:
        assert "up to 0.11 mm (0.004 in) above it the edge is pushed" in row.sentence  # f / (2 pi tan a) = 0.1103


def test_tip_feed_of_a_flat_tip_and_of_mean_depth():
    # the tip's radius is taken off the heel's: (0.164310491866 - 0.1) / tan 30 over a mean depth of 2 (derived); the
    # ramp's descent of 0.4 * 2 / 30 mm a revolution makes the heel rub higher: f_z sin 30 / (2 pi tan 20) on the radius
    bit = cs.VBit(60, 12.7, 2, 0.2, clearance=20)
    row = rows(cs.Cut(bit, cs.line((0, 0), (30, 0), [1.0, 3.0]), 10_000, 4000))["tip feed"]
    sinking = 0.4 * 2 / 30 / (2 * math.pi) * 0.5 / 0.363970234266
    assert row.value == pytest.approx(100 * (0.164310491866 + sinking - 0.1) * math.sqrt(3) / 2, rel=1e-9)
    assert "a tip 0.20 mm (0.008 in) wide" in row.sentence
    wide = cs.Cut(cs.VBit(60, 12.7, 2, 0.4, clearance=20), cs.line((0, 0), (30, 0), 1.0), 10_000, 4000)
    assert rows(wide)["tip feed"].value == 0
    timid = cs.Cut(cs.VBit(60, 12.7, clearance=20), cs.line((0, 0), (30, 0), 0.1), 10_000, 4000)
    assert rows(timid)["tip feed"].value == 100


def test_a_bit_too_thin_for_its_advance_rubs_over_the_whole_depth():
    # 4 mm a revolution: e = 0.64 mm is more than the bit's radius (derived); above its outline's top it is no thicker
    thin = cs.ProfileBit([0, 1], [0.5, 0.6])
    row = rows(cs.Cut(thin, cs.line((0, 0), (30, 0), 3.0), 1000, 4000))["tip feed"]
    assert row.value == 100


def test_tip_feed_takes_the_low_end_of_the_dial():
    low = replace(RING, spindle_speed=18_000 * 0.9, bit=replace(BIT, tip_width=0))
    banded = rows(replace(RING, bit=replace(BIT, tip_width=0)), MACHINE)["tip feed"]
    assert banded.value == pytest.approx(rows(low)["tip feed"].value, rel=1e-12)


def test_tip_feed_where_the_path_stays_on_the_face():
    row = rows(replace(RING, path=cs.ring(20, 0.0)))["tip feed"]
    assert row.status == "unknown"


def test_feed_of_a_ramp_is_that_in_space_and_its_descent_that_of_the_plunge():
    # slope 3 in 4: 4000 mm/min in the face are 5000 in space and 3000 down (derived)
    ramp = cs.line((0, 0), (4, 0), [0.0, 3.0])
    found = rows(replace(RING, path=ramp, feed=4000), MACHINE)
    assert found["feed"].value == pytest.approx(5000)
    assert found["ramps"].value == pytest.approx(3000)
    assert found["ramps"].status == "violated"
    assert found["plunge feed"].value == 0
    up = rows(replace(RING, path=ramp.reversed(), feed=4000), MACHINE)
    assert up["feed"].value == pytest.approx(5000)
    assert "ramps" not in up


def test_feed_of_an_earlier_pass_counts():
    cut = replace(RING, passes=[Pass(0.3, feed=5500)])
    assert rows(cut, MACHINE)["feed"].value == pytest.approx(5500)


def test_every_pass_counts():
    """Rough and faster, then a slow skim: tip and depth of each, by hand."""
    cut = replace(RING, path=cs.ring(3, 2.5), passes=[Pass(0.3, feed=4500), 1.2])
    found = rows(cut, MACHINE, pass_depth=1.25)
    # 1.3, then 0.9, then 0.3
    assert found["depth per pass"].value == pytest.approx(1.3)
    assert found["depth per pass"].status == "violated"
    assert "pass 1 of 3" in found["depth per pass"].sentence
    assert rows(cut, MACHINE, pass_depth=1.5)["depth per pass"].status == "ok"
    assert "depth per pass" not in rows(cut, MACHINE)
    # of a pass 2.2 deep with 4500 mm/min more rubs than of the last with 1500, 2.5 deep
    rough = replace(RING, path=cs.ring(3, 2.2), feed=4500)
    assert found["tip feed"].value == pytest.approx(rows(rough, MACHINE)["tip feed"].value, rel=1e-12)
    assert found["tip feed"].value > rows(replace(cut, passes=None), MACHINE)["tip feed"].value
    assert found["cutting length"].value == pytest.approx(2.65)


def test_the_last_pass_is_entered_from_the_one_before():
    """Where the groove goes on from the last one, its passes still have to be entered, each from above."""
    first = replace(RING, path=cs.line((0, 0), (10, 0), [0, 2]))
    second = replace(RING, path=cs.line((10, 0), (20, 0), 2.0))
    assert rows(Carving((first, second)), MACHINE)["plunge feed"].value == 0
    rough = replace(second, passes=[Pass(0.5, reversed=True)])
    job = Carving((first, rough))
    assert [row.status for row in pair(job, "plunge feed", MACHINE)] == ["ok", "unknown"]
    one = Carving((first, rough), (plunge(-1.5, before=1),))
    assert [row.status for row in pair(one, "plunge feed", MACHINE)] == ["ok", "unknown"]
    two = Carving((first, rough), (plunge(-1.5, before=1), plunge(-2, before=1)))
    assert [row.status for row in pair(two, "plunge feed", MACHINE)] == ["ok"]


def test_of_what_is_unknown_the_most_demanding_is_told():
    shallow = replace(RING, bit=replace(BIT, cutting_length=None), path=cs.ring(9, 1))
    deep = replace(shallow, path=cs.ring(20, 3))
    (row,) = pair(Carving((shallow, deep)), "cutting length", MACHINE)
    assert row.value == pytest.approx(3.15)
    assert row.sentence.startswith("Groove 2 and 1 more: ")


def test_an_arc_and_its_chords_are_one_to_the_limits():
    """A radius is no limit of its own: what it does to the feed is worked out, and 'feed not reached' tells it."""
    arc = replace(RING, path=cs.ring(0.5, 1), feed=1500)
    angle = np.radians(30.0 * np.arange(12))
    chords = replace(arc, path=cs.Path(0.5 * np.column_stack([np.cos(angle), np.sin(angle)]), 1.0, closed=True))
    one, two = (rows(cut, Machine(300, 6000)) for cut in (arc, chords))
    assert {n: r.status for n, r in one.items()} == {n: r.status for n, r in two.items()}
    assert one["feed not reached"].value == pytest.approx(100)  # 60 sqrt(300 x 0.5) = 735 mm/min (derived)
    assert "radius needed" not in one


def test_share_of_the_length_that_does_not_reach_the_feed():
    # rest to rest over L: v < x v0 on 2 (x v0)^2 / (2 a) of it (derived): 50 mm/s, 500 mm/s^2, 20 mm
    cut = replace(RING, path=cs.line((0, 0), (20, 0), 1), feed=3000)
    row = rows(cut, MACHINE)["feed not reached"]
    assert row.value == pytest.approx(100 * (0.95 * 50) ** 2 / 500 / 20, rel=1e-9)
    assert "below 70 % on 12 %" in row.sentence  # (0.7 x 50)^2 / 500 / 20 = 0.1225
    assert "lower the spindle speed rather than raise the feed" in row.sentence
    assert row.ok
    assert rows(cut, MACHINE, slow_share=0.2)["feed not reached"].status == "violated"
    # two grooves weigh by their length; a groove of 1 mm reaches sqrt(500) mm/s at most, less than half of the feed
    both = rows(Carving((cut, replace(cut, path=cs.line((0, 0), (1, 0), 1)))), MACHINE)["feed not reached"]
    assert both.value == pytest.approx((row.value * 20 + 100) / 21, rel=1e-9)
    assert "nowhere reached in 1 of 2 grooves" in both.sentence


def plunge(z=-2.5, feed=200.0, x=0.0, **other):
    return AirMove("plunge", (0, 0, 5), (x, 0, z), feed, **other)


@pytest.mark.parametrize(
    ("move", "value", "status"),
    [
        (plunge(), 200, "ok"),
        (plunge(feed=500.0), 500, "violated"),
        (plunge(feed=500.0, x=10.0), 300, "near"),  # 7.5 down, 10 along, 12.5 in space (derived)
        (plunge(feed=None), 5000, "violated"),  # a rapid into the wood
        (AirMove("rapid", (0, 0, 5), (0, 0, -1)), 5000, "violated"),
        (AirMove("air", (0, 0, 5), (0, 0, -1), 400.0), 400, "violated"),
    ],
)
def test_plunges(move, value, status):
    row = rows(Carving((RING,), (move,)), MACHINE)["plunge feed"]
    assert row.value == pytest.approx(value)
    assert row.status == status


def test_plunges_that_are_not_planned_are_unknown():
    up = AirMove("retract", (20, 0, -2.5), (20, 0, 5), before=1)
    over = AirMove("rapid", (20, 0, 5), (20, 0, 2), before=1)  # downwards, but in air
    assert rows(RING, MACHINE)["plunge feed"].status == "unknown"
    assert rows(Carving((RING,), (up, over)), MACHINE)["plunge feed"].status == "unknown"
    other = replace(RING, path=cs.ring(9, 2))
    known, unknown = pair(Carving((RING, other), (plunge(),)), "plunge feed", MACHINE)
    assert (known.status, unknown.status) == ("ok", "unknown")
    assert unknown.sentence.startswith("Groove 2: ")
    last = Carving((RING, other), (plunge(before=1),))
    assert pair(last, "plunge feed", MACHINE)[1].sentence.startswith("Groove 1: ")
    after = Carving((RING, other), (plunge(before=0), plunge(before=2)))  # behind the last cut: counts with it
    assert len(pair(after, "plunge feed", MACHINE)) == 1
    # the earlier pass has to be entered as well
    passes = replace(RING, passes=[0.3])
    assert len(pair(Carving((passes,), (plunge(),)), "plunge feed", MACHINE)) == 2
    assert len(pair(Carving((passes,), (plunge(-2.2), plunge())), "plunge feed", MACHINE)) == 1
    # typed by hand
    assert rows(RING, MACHINE, plunge_feed=301)["plunge feed"].status == "violated"
    assert rows(RING, MACHINE, plunge_feed=250)["plunge feed"].status == "ok"


def test_a_groove_that_goes_on_where_the_last_one_ended_needs_no_plunge():
    first = replace(RING, path=cs.line((0, 0), (10, 0), [0, 2]))
    second = replace(RING, path=cs.line((10, 0), (20, 0), 2.0))
    assert rows(Carving((first, second)), MACHINE)["plunge feed"].value == 0
    lower = replace(second, path=cs.line((10, 0), (20, 0), 2.1))
    known, unknown = pair(Carving((first, lower)), "plunge feed", MACHINE)
    assert (known.value, unknown.status) == (0, "unknown")
    again = replace(RING, path=cs.line((20, 0), (30, 0), 2.5))  # where the ring's path ends, at its start
    assert "and" not in pair(Carving((RING, again)), "plunge feed", MACHINE)[-1].sentence.split(":")[0]


def test_travel_is_the_grooves_extent_with_their_width():
    # ring of radius 20, 2.5 deep at 60 deg, tip 0.2: 40 + 2 (0.1 + 2.5 tan 30) across (derived)
    found = rows(RING, MACHINE, safe_height=6)
    across = 40 + 0.2 + 5 * math.tan(math.radians(30))
    assert found["travel x"].value == pytest.approx(across, rel=1e-12)
    assert found["travel y"].value == pytest.approx(across, rel=1e-12)
    assert found["travel z"].value == pytest.approx(8.5)
    assert found["travel x"].margin == pytest.approx(300 - across)
    far = Carving((RING, replace(RING, path=RING.path.shifted(0, 160))))
    assert rows(far, MACHINE)["travel y"].status == "violated"
    moves = Carving((RING,), (AirMove("rapid", (0, 0, 30), (20, 0, 12)),))
    assert rows(moves, MACHINE)["travel z"].value == pytest.approx(32.5)
    assert rows(RING, MACHINE)["travel z"].status == "unknown"
    assert rows(RING, replace(MACHINE, travel=(300, 200, 2)))["travel z"].status == "violated"


@steadily(60)
@given(paths(level=True, pieces=4), st.sampled_from([0.0, 37.0]))
def test_extent_against_points_along_the_path(path, turn):
    path = path.rotated(turn)
    cut = cs.Cut(BIT, path, 18_000, 1500)
    s = np.linspace(0, path.length, 20_001)
    half = float(BIT.half_width(path.depth[0]))
    dense = np.ptp(path.position(np.concatenate([s, path.joints])), axis=0) + 2 * half
    found = rows(cut, MACHINE)
    for name, size in zip(("travel x", "travel y"), dense, strict=True):
        assert found[name].value == pytest.approx(size, abs=1e-5)  # sagitta of a step of the sampling
        assert found[name].value >= size - 1e-9


@steadily(40)
@given(paths(level=False, pieces=4))
def test_extent_of_ramps_is_never_less_than_the_groove(path):
    cut = cs.Cut(BIT, path, 18_000, 1500)
    s = np.concatenate([np.linspace(0, path.length, 2001), path.joints])
    half = np.asarray(BIT.half_width(path.depth_at(s)))[:, None]
    size = (path.position(s) + half).max(axis=0) - (path.position(s) - half).min(axis=0)
    found = rows(cut, MACHINE)
    for name, low in zip(("travel x", "travel y"), size, strict=True):
        assert low - 1e-9 <= found[name].value <= low + 2 * float(BIT.half_width(path.depth.max()))


def test_machines_of_the_cuts_and_the_machine_given():
    mixed = Carving((replace(RING, machine=MACHINE), RING))
    assert [row.status for row in pair(mixed, "feed")] == ["ok", "unknown"]
    assert [row.status for row in pair(mixed, "feed not reached")] == ["ok", "unknown"]
    assert [row.status for row in pair(mixed, "travel x")] == ["ok", "unknown"]
    given_one = pair(mixed, "feed", replace(MACHINE, max_feed=1000))
    assert [row.status for row in given_one] == ["violated"]  # it counts for all


# ----------------------------------------------------------------------------------------------
# Forces
# ----------------------------------------------------------------------------------------------

BOARD = cs.Board(cs.wood("black cherry", 8), cs.straight_grain(0))
STRONG = replace(MACHINE, stiffness=400.0, spindle_power=500.0)
FORCES = ("spindle power", "side deflection", "tip stress")


def test_forces_are_checked_where_the_board_is_known():
    assert not set(FORCES) & set(rows(RING, STRONG, **KNOWN))
    found = rows(RING, STRONG, board=BOARD, **KNOWN)
    assert all_clear(found.values())
    likely = cs.cutting_forces(replace(RING, machine=STRONG), BOARD)
    # nothing is forbidden on a guess alone: the low end of the model's band, a factor of three, counts
    assert found["spindle power"].value == pytest.approx(likely.power / 3)
    assert found["side deflection"].value == pytest.approx(math.hypot(likely.along, likely.across) / 400 / 3)
    assert found["tip stress"].value == pytest.approx(likely.tip_stress / 3)
    assert [found[name].limit for name in FORCES] == [500, 0.1, 2000]  # carbide for wood: from memory
    assert [found[name].unit for name in FORCES] == ["W", "mm", "MPa"]
    sure = rows(RING, STRONG, board=BOARD, force_model=cs.CuttingForceModel(band=1), **KNOWN)
    assert sure["spindle power"].value == pytest.approx(likely.power)


@pytest.mark.parametrize(("share", "status"), [(0.3, "violated"), (0.5, "near"), (2.0, "near"), (3.5, "ok")])
def test_what_may_or_may_not_be_too_much_is_near(share, status):
    """By the limit over the likely power: below a third of it surely too weak, above three times surely enough."""
    model = cs.CuttingForceModel(pressure=400.0)
    likely = cs.cutting_forces(replace(RING, machine=STRONG), BOARD, model=model)
    weak = replace(STRONG, spindle_power=share * likely.power)
    row = rows(RING, weak, board=BOARD, force_model=model, near=0.0, **KNOWN)["spindle power"]
    assert row.status == status
    assert "3 times more or less" in row.sentence


def test_what_is_not_known_of_the_forces_is_not_ok():
    sharp = replace(RING, bit=replace(BIT, tip_width=0))
    found = rows(sharp, MACHINE, board=BOARD, **KNOWN)
    assert [found[name].status for name in FORCES] == ["unknown"] * 3
    assert "read its plate" in found["spindle power"].sentence
    assert found["spindle power"].value == pytest.approx(cs.cutting_forces(sharp, BOARD).power / 3, rel=0.05)
    assert "stiffness is not known" in found["side deflection"].sentence
    assert "infinite stress" in found["tip stress"].sentence
    assert [rows(RING, board=BOARD)[name].status for name in FORCES[:2]] == ["unknown"] * 2  # no machine


def test_forces_too_large_are_violations():
    deep = cs.Cut(cs.VBit(30, 12.7, 1, 0.05), cs.line((0, 0), (50, 0), 12), 10_000, 5000)
    weak = replace(MACHINE, stiffness=5.0, spindle_power=20.0, dial=None)  # a third of what is likely is too much
    found = rows(deep, weak, board=BOARD, tip_strength=300, deflection=0.05)
    assert [found[name].status for name in FORCES] == ["violated"] * 3
    assert "Carbide" in found["tip stress"].sentence
    text = limits_table(found.values())
    assert " W " in text
    assert "MPa" in text


def test_the_worst_pass_counts():
    # one pass leaves little for the last: the first is the hard one
    passes = replace(RING, passes=[0.1])
    alone = rows(RING, STRONG, board=BOARD, **KNOWN)["spindle power"].value
    first = rows(passes, STRONG, board=BOARD, **KNOWN)["spindle power"].value
    last = cs.cutting_forces(replace(passes, machine=STRONG), BOARD).power / 3
    assert last < first < alone


@pytest.mark.parametrize("power", [0.8, 0, -1, math.nan, "500", 2e5])
def test_spindle_power_is_in_watts(power):
    with pytest.raises(cs.DomainError, match=r"spindle_power must .*\[20, 100000\] W"):
        replace(MACHINE, spindle_power=power)


# ----------------------------------------------------------------------------------------------
# What must hold of any plan
# ----------------------------------------------------------------------------------------------


@st.composite
def plans(draw, lacking=False):
    """A plan of one to three grooves with all that can be known, or a part of it."""

    def maybe(value):
        return None if lacking and draw(st.booleans()) else value

    bit = replace(
        draw(bits(runout=False)),
        cutting_length=maybe(draw(st.sampled_from([4.0, 12.0]))),
        max_spindle_speed=maybe(draw(st.sampled_from([18_000.0, 26_000.0]))),
    )
    machine = Machine(
        draw(st.sampled_from([20.0, 300.0, 1000.0])),
        draw(st.sampled_from([1500.0, 5000.0])),
        corners=draw(st.sampled_from(["circle", "halt", "free"])),
        plunge_feed=draw(st.sampled_from([200.0, 600.0])),
        travel=maybe((draw(reals(3, 40)), 30.0, draw(reals(3, 40)))),
        dial=draw(st.sampled_from([None, DIAL, Dial((1, 2), (8_150, 15_900))])),
    )
    cuts = [
        cs.Cut(
            bit,
            draw(paths()),
            draw(st.sampled_from([12_000, 18_000])),
            draw(st.sampled_from([600, 1500, 4000])),
            passes=draw(st.sampled_from([None, [0.1], [Pass(0.2, True, 900)]])),
        )
        for _ in range(draw(st.integers(1, 3)))
    ]
    options = {"plunge_feed": maybe(250.0), "safe_height": maybe(5.0), "stick_out": maybe(15.0)}
    moves = []
    for k in range(len(cuts) + 1):
        moves.append(AirMove("rapid", (0, 0, 5), (draw(reals(-20, 20)), 3, 5), before=k))
        moves.append(AirMove("plunge", (0, 0, 5), (0, 0, -1), draw(st.sampled_from([100.0, 900.0])), before=k))
        moves.append(AirMove("retract", (0, 0, -1), (0, 0, 5), draw(st.sampled_from([None, 800.0])), before=k))
        moves.append(AirMove("dwell", (0, 0, 5), (0, 0, 5), seconds=draw(reals(0, 2)), before=k))
    travel = () if lacking and draw(st.booleans()) else tuple(moves)
    return Carving(tuple(cuts), travel), maybe(machine), options


@steadily(60)
@given(plans(lacking=True))
def test_what_is_not_known_is_never_ok(plan):
    carving, machine, options = plan
    found = check_limits(carving, machine, **options)
    unknown = {row.name for row in found if row.status == "unknown"}
    bit = carving.cuts[0].bit
    failed = {row.name for row in found if row.status == "violated"}
    if bit.max_spindle_speed is None:
        assert "marked maximum speed" in unknown
    if bit.cutting_length is None:
        assert "cutting length" in unknown
    if machine is None:
        assert {"feed", "feed not reached", "travel x", "travel y", "travel z"} <= unknown
    elif machine.travel is None:
        assert {"travel x", "travel y", "travel z"} <= unknown
    if not carving.air_moves:
        if options["safe_height"] is None:
            assert "travel z" in unknown | failed
        if options["plunge_feed"] is None or machine is None:
            assert "plunge feed" in unknown
    for row in found:
        assert row.sentence.endswith(".")
        assert row.ok == (row.margin >= 0 and row.status != "unknown")
        if math.isnan(row.value) or math.isnan(row.limit):
            assert row.status == "unknown"
            assert math.isnan(row.margin)
    assert all_clear(found) == (not unknown and not failed)
    assert "nan" not in limits_table(found)


HARDER = ["max_feed", "plunge_feed", "travel", "acceleration", "dial", "cutting_length", "max_spindle_speed"]
HARDER += ["flatness", "zero", "stick_out", "rub_share", "slow_share", "near", "feed"]
RANK = {"ok": 0, "near": 1, "unknown": 2, "violated": 2}


def tightened(what, plan):
    carving, machine, options = plan
    bit = carving.cuts[0].bit
    if what == "travel":
        return carving, replace(machine, travel=tuple(0.8 * x for x in machine.travel)), options
    if what == "dial":
        dial = None if machine.dial is None else replace(machine.dial, uncertainty=0.2)
        return carving, replace(machine, dial=dial), options
    if what in ("max_feed", "plunge_feed", "acceleration"):
        return carving, replace(machine, **{what: 0.6 * getattr(machine, what)}), options
    if what == "cutting_length":
        change = {"bit": replace(bit, cutting_length=max(0.8 * bit.cutting_length, 3.0))}
    elif what == "max_spindle_speed":
        change = {"bit": replace(bit, max_spindle_speed=18_000.0)}
    elif what == "feed":
        cuts = tuple(replace(c, feed=1.3 * c.feed) for c in carving)
        return replace(carving, cuts=cuts), machine, options
    else:
        factor = {"flatness": 3, "zero": 3, "near": 2}.get(what, 0.5)
        base = {"flatness": 0.1, "zero": 0.05, "near": 0.1, "rub_share": 0.1, "slow_share": 0.5} | options
        return carving, machine, options | {what: factor * base[what]}
    return replace(carving, cuts=tuple(replace(c, **change) for c in carving)), machine, options


@steadily(80)
@given(plans(), st.sampled_from(HARDER))
def test_tightening_never_improves(plan, what):
    before = {(r.name, r.status == "unknown"): r for r in check_limits(plan[0], plan[1], **plan[2])}
    carving, machine, options = tightened(what, plan)
    after = {(r.name, r.status == "unknown"): r for r in check_limits(carving, machine, **options)}
    worst_before, worst_after = ({}, {})
    for table, worst in ((before, worst_before), (after, worst_after)):
        for (name, _), row in table.items():
            worst[name] = max(worst.get(name, 0), RANK[row.status])
    for name, rank in worst_before.items():
        assert worst_after[name] >= rank, name
    for key in before.keys() & after.keys():
        old, new = before[key].margin, after[key].margin
        # the worst row is chosen by its share of its limit, here the same for all grooves
        if not math.isnan(old):
            assert new <= old + 1e-9, key


@steadily(40)
@given(plans())
def test_deeper_never_improves_width_length_and_travel(plan):
    carving, machine, options = plan
    lower = replace(carving, cuts=tuple(replace(c, path=replace(c.path, depth=c.path.depth + 0.3)) for c in carving))
    before, after = ({r.name: r for r in check_limits(c, machine, **options)} for c in (carving, lower))
    for name in ("groove width", "cutting length", "stick-out", "travel x", "travel y", "travel z"):
        assert after[name].margin <= before[name].margin + 1e-9


# ----------------------------------------------------------------------------------------------
# Time
# ----------------------------------------------------------------------------------------------

# Rest to rest: distance [mm], cap [mm/s], acceleration [mm/s^2], time [s] (textbook kinematics, from memory)
REST_TO_REST = [
    (100, 100, 500, 1.2),
    (100, 100, 50, 2.82842712475),
    (10, 100, 500, 0.282842712475),
    (5, 100, 1000, 0.141421356237),
    (5, 100, 2500, 0.09),
]


@pytest.mark.parametrize(("distance", "speed", "a", "seconds"), REST_TO_REST)
def test_moves_in_air_and_lines_take_the_textbooks_time(distance, speed, a, seconds):
    machine = Machine(a, 60 * speed)
    cut = cs.Cut(BIT, cs.line((0, 0), (distance, 0), 1), 18_000, 60 * speed)
    moves = (
        AirMove("rapid", (0, 0, 5), (0, distance, 5)),
        AirMove("air", (0, 0, 5), (0, 0.6 * distance, 5 + 0.8 * distance), 60 * speed),
    )
    took = time_estimate(Carving((cut,), moves), machine)
    assert took.cutting[1] == pytest.approx(seconds, rel=1e-9)
    assert took.air[1] == pytest.approx(2 * seconds, rel=1e-9)
    assert took.cutting[0] == pytest.approx(distance / speed, rel=1e-12)
    assert took.air[0] == pytest.approx(2 * distance / speed, rel=1e-12)
    assert took.plunge == took.dwell == (0, 0, 0)


def test_high_is_half_the_acceleration_and_a_stop_at_every_corner():
    # two sides of 30 mm at 50 mm/s: with 250 mm/s^2 and a stop each takes 30 / 50 + 50 / 250 (derived)
    cut = replace(RING, path=cs.polyline([[0, 0], [30, 0], [30, 30]], 1), feed=3000)
    took = time_estimate(cut, Machine(500, 5000, corners="free"))
    assert took.cutting[0] == pytest.approx(1.2, rel=1e-12)
    assert took.cutting[1] == pytest.approx(60 / 50 + 50 / 500, rel=1e-12)
    assert took.cutting[2] == pytest.approx(2 * (0.6 + 0.2), rel=1e-12)


def test_rapids_plunges_and_dwells():
    machine = Machine(400, 3000, rapid_feed=6000, plunge_feed=240)
    moves = (
        AirMove("rapid", (0, 0, 0), (100, 0, 0)),  # 100 / 100 + 100 / 400
        AirMove("plunge", (0, 0, 2), (0, 0, -2), 1000.0),  # held to 4 mm/s: 4 / 4 + 4 / 400
        AirMove("plunge", (0, 0, 2), (3, 0, -2), 1000.0),  # 5 mm in space at 5 mm/s: 1 + 5 / 400
        AirMove("dwell", (0, 0, 2), (0, 0, 2), seconds=1.5),
        AirMove("retract", (0, 0, -2), (0, 0, -2)),  # no length, no time
        AirMove("air", (0, 0, 2), (50, 0, 2), 60_000.0),  # held to the largest feed: 50 / 50 + 50 / 400
    )
    took = time_estimate(Carving((RING,), moves), machine)  # all derived
    assert took.air[1] == pytest.approx(1.25 + 1.125, rel=1e-12)
    assert took.plunge[1] == pytest.approx(1.01 + 1.0125, rel=1e-12)
    assert took.plunge[0] == pytest.approx(2, rel=1e-12)
    assert took.dwell == (1.5, 1.5, 1.5)
    assert took.total == pytest.approx(
        [sum(t) for t in zip(took.cutting, took.air, took.plunge, took.dwell, strict=True)]
    )
    assert len(took.notes) == 1  # what is assumed of corners
    assert "the machine is assumed to slow" in took.notes[0]


def test_low_keeps_to_the_feeds_of_ramps():
    # down 3 in 4 at 240 mm/min: 3 mm at 4 mm/s; up at 3000 mm/min in space: 5 mm at 50 mm/s (derived)
    ramp = cs.polyline([[0, 0], [4, 0], [8, 0]], [0, 3, 0])
    took = time_estimate(replace(RING, path=ramp, feed=6000), Machine(400, 3000, plunge_feed=240))
    assert took.cutting[0] == pytest.approx(0.75 + 0.1, rel=1e-12)


def test_earlier_passes_count():
    one = time_estimate(RING, MACHINE)
    two = time_estimate(replace(RING, passes=[Pass(0.3, True, 750)]), MACHINE)
    slow = time_estimate(replace(RING, feed=750), MACHINE)
    assert two.cutting == pytest.approx([a + b for a, b in zip(one.cutting, slow.cutting, strict=True)], rel=1e-12)
    assert "Moves between the grooves" in two.notes[1]
    planned = Carving((replace(RING, passes=[0.3]),), (plunge(),))
    assert "Moves between the passes" in time_estimate(planned, MACHINE).notes[1]


def test_each_cuts_own_machine_unless_one_is_given():
    slow, fast = Machine(50, 5000), Machine(2000, 5000)
    cuts = Carving((replace(RING, machine=slow), replace(RING, machine=fast)))
    own = time_estimate(cuts).cutting[1]
    assert own == pytest.approx(sum(time_estimate(RING, m).cutting[1] for m in (slow, fast)))
    assert time_estimate(cuts, fast).cutting[1] == pytest.approx(2 * time_estimate(RING, fast).cutting[1])


def test_the_estimate_prints_minutes():
    text = str(TimeEstimate((60, 90, 120), (6, 6, 6), (0, 0, 0), (0, 0, 0), ("A note.",)))
    answer, _, *lines = text.splitlines()
    assert answer == "The machine takes about 1.6 min, 1.1 at best and 2.1 at worst."
    assert lines[0].split() == ["minutes", "low", "likely", "high"]
    assert lines[1].split() == ["cutting", "1.00", "1.50", "2.00"]
    assert lines[5].split() == ["total", "1.10", "1.60", "2.10"]
    assert lines[6] == "A note."


@steadily(60)
@given(plans(), reals(1.0, 4.0))
def test_times_are_ordered_bounded_and_fall_with_acceleration(plan, factor):
    carving, machine, _ = plan
    took = time_estimate(carving, machine)
    typed = sum(60 * c.path.length / c.feed for cut in carving for c in [*cut.earlier_passes(), cut])
    assert took.cutting[0] >= typed * (1 - 1e-12)
    for part in (took.cutting, took.air, took.plunge, took.dwell, took.total):
        assert 0 <= part[0] <= part[1] <= part[2]
    faster = time_estimate(carving, replace(machine, acceleration=factor * machine.acceleration))
    for name in ("cutting", "air", "plunge", "total"):
        assert (np.array(getattr(faster, name)) <= np.array(getattr(took, name)) * (1 + 1e-9)).all()


def test_the_slowest_machine_keeps_its_band():
    took = time_estimate(replace(RING, feed=1500), Machine(10, 5000))
    assert took.cutting[0] < took.cutting[1] <= took.cutting[2]


# ----------------------------------------------------------------------------------------------
# The width card
# ----------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("included", "printed", "exact"), [(60, 1.15, 2 / math.sqrt(3)), (90, 2.0, 2.0), (120, 3.46, 2 * math.sqrt(3))]
)
def test_an_error_of_the_depth_is_two_tan_a_in_the_width(included, printed, exact):
    # 1.15, 2.0 and 3.46 mm a mm (derived, 2 tan a)
    card = width_card(cs.VBit(included, 50, tip_width=0.2), [2.0, 5.0], flatness=0.3, zero_error=0.4)
    assert exact == pytest.approx(printed, abs=0.005)
    assert card.flatness == pytest.approx([0.3 * exact] * 2, rel=1e-12)
    assert card.zero_error == pytest.approx([0.4 * exact] * 2, rel=1e-12)
    assert card.worst == pytest.approx([0.7 * exact] * 2, rel=1e-12)
    assert card.rss == pytest.approx([0.5 * exact] * 2, rel=1e-12)
    assert card.width == pytest.approx(0.2 + exact * card.depth, rel=1e-12)
    assert f"{printed:.2f} mm of width a mm of depth" in str(card)


def test_a_cup_of_three_tenths_with_a_blunt_bit():
    # 1.0 mm of width (derived; 1.039)
    assert width_card(cs.VBit(120, 40), 4, flatness=0.3, zero_error=0).worst == pytest.approx([1.0], abs=0.05)


def test_sanding_narrows():
    # 0.05 to 0.15 mm off the face: 0.06 to 0.17 mm at 60 deg (derived, 2 tan a x removal)
    bit = cs.VBit(60, 12.7)
    for removal, narrower in ((0.05, 0.06), (0.15, 0.17)):
        card = width_card(bit, [1, 3], sanding=removal)
        assert card.narrowing == pytest.approx([narrower] * 2, abs=0.005)
        assert card.narrowing == pytest.approx([2 * removal / math.sqrt(3)] * 2, rel=1e-9)
        assert card.sanded == pytest.approx(card.width - card.narrowing)
    assert width_card(bit, 0.1, sanding=0.2).sanded == [0]  # sanded away


def test_the_tips_error_goes_in_one_to_one_and_the_angles_to_first_order():
    bit = cs.VBit(60, 50, tip_width=0.4)
    card = width_card(bit, [2.0], flatness=0, zero_error=0, tip_error=0.1, angle_error=1.0)
    wider = cs.VBit(60, 50, tip_width=0.5)
    assert card.tip_error == pytest.approx(2 * (wider.radius(2.0) - bit.radius(2.0)))
    # central difference of the radius over the included angle, 1 deg each way; 2 z sec^2 a da = 0.0465
    change = float(cs.VBit(61, 50, tip_width=0.4).radius(2.0) - cs.VBit(59, 50, tip_width=0.4).radius(2.0))
    assert card.angle_error == pytest.approx([change], rel=1e-3)
    assert card.angle_error == pytest.approx([2 * 2 / 0.75 * math.pi / 360], rel=1e-12)
    assert card.worst == pytest.approx(card.tip_error + card.angle_error)
    assert card.rss == pytest.approx(np.hypot(card.tip_error, card.angle_error))


def test_full_width_and_grooves_that_may_vanish_are_marked():
    card = width_card(cs.VBit(90, 6, tip_width=0.1), [0.15, 1, 2.94, 2.95, 4], tip_error=0.1, angle_error=1)
    assert card.may_vanish.tolist() == [True, False, False, False, False]
    assert card.full.tolist() == [False, False, False, True, True]
    assert (card.worst[-1], card.width[-1], card.tip_error[-1]) == (0, 6, 0)
    assert card.flatness[3] == pytest.approx(0.2)  # the upright wall above, the cone below
    lines = str(card).partition("\n\n")[2].splitlines()
    assert lines[1].endswith("?")
    assert lines[5].endswith("*")
    assert "6.00 mm (0.236 in)" in lines[5]
    assert len(lines) == 8


@steadily(60)
@given(st.one_of(bits(), profile_bits()), reals(0.05, 6), reals(0, 1), reals(0, 1), reals(0, 1))
def test_the_card_against_differences_of_the_radius(bit, depth, flatness, zero, sanding):
    card = width_card(bit, depth, flatness=flatness, zero_error=zero, sanding=sanding)

    def width(z):
        return 2 * float(bit.radius(max(z, 0.0)))

    for error, dz in ((card.flatness, flatness), (card.zero_error, zero), (card.worst, flatness + zero)):
        assert error[0] == pytest.approx(max(width(depth + dz) - width(depth), width(depth) - width(depth - dz)))
    assert card.sanded[0] == pytest.approx(width(depth - sanding) if depth > sanding else 0)
    assert max(card.flatness[0], card.zero_error[0]) <= card.rss[0] + 1e-12
    assert card.rss[0] <= card.worst[0] + 1e-12
    if isinstance(bit, cs.VBit) and depth + flatness + zero < bit.cone_height:
        slope = 2 * math.tan(math.radians(bit.half_angle))
        assert card.worst[0] == pytest.approx(slope * (flatness + zero), abs=1e-12)


@steadily(30)
@given(bits(), st.lists(reals(0.05, 5), min_size=1, max_size=5), reals(0, 0.5))
def test_a_cone_laid_out_as_a_profile_has_the_cones_card(bit, depths, flatness):
    profile = cs.ProfileBit(*bit.knots(), bit.flutes)
    a, b = (width_card(x, depths, flatness=flatness, sanding=0.03) for x in (bit, profile))
    for name in ("width", "flatness", "zero_error", "worst", "rss", "sanded", "full"):
        np.testing.assert_allclose(getattr(a, name), getattr(b, name), atol=1e-9)


def test_cards_are_read_only():
    card = width_card(BIT, [1, 2])
    with pytest.raises(ValueError, match="read-only"):
        card.width[0] = 1
    with pytest.raises(dataclasses.FrozenInstanceError):
        card.title = ""


# ----------------------------------------------------------------------------------------------
# Bad input names argument, value and range
# ----------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("call", "message"),
    [
        (lambda: check_limits(BIT), "carving must be a Carving or a Cut, got VBit"),
        (lambda: check_limits(RING, 500), "machine must be a Machine or None, got int"),
        (lambda: check_limits(RING, flatness=-0.1), r"flatness must lie in \[0, 5\] mm, got -0.1"),
        (lambda: check_limits(RING, zero=math.nan), r"zero must lie in \[0, 5\] mm, got nan"),
        (lambda: check_limits(RING, stick_out=0), r"stick_out must lie in \(0, 300\] mm, got 0"),
        (lambda: check_limits(RING, pass_depth=0), r"pass_depth must lie in \(0, 200\] mm, got 0"),
        (lambda: check_limits(RING, plunge_feed=6), r"plunge_feed must lie in \[80, 60000\] mm/min, got 6"),
        (lambda: check_limits(RING, safe_height="5"), r"safe_height must be a number in \[0, 1000\] mm, got '5'"),
        (lambda: check_limits(RING, rub_share=0), r"rub_share must lie in \(0, 1\], got 0"),
        (lambda: check_limits(RING, slow_share=2), r"slow_share must lie in \(0, 1\], got 2"),
        (lambda: check_limits(RING, near=-1), r"near must lie in \[0, 1\], got -1"),
        (
            lambda: check_limits(Carving((RING,), (AirMove("hop", (0, 0, 0), (1, 0, 0)),))),
            "kind must be one of .*'hop'",
        ),
        (lambda: time_estimate(RING), "machine must be a Machine, got None, and cut 1 has none of its own"),
        (lambda: time_estimate(RING, "fast"), "machine must be a Machine or None, got str"),
        (lambda: time_estimate(None, MACHINE), "carving must be a Carving or a Cut, got NoneType"),
        (lambda: width_card(60, 2), "bit must be a VBit, a ProfileBit or have their attributes, got int"),
        (lambda: width_card(BIT, 0), r"depths must be .* in \(0, 200\] mm, got 0"),
        (lambda: width_card(BIT, [1, -1]), r"depths must be finite and lie in \[0, 200\] mm, got -1 at index 1"),
        (lambda: width_card(BIT, []), r"depths must be .*got shape \(0,\)"),
        (lambda: width_card(BIT, [[1.0]]), r"depths must be .*got shape \(1, 1\)"),
        (lambda: width_card(BIT, 2, flatness=6), r"flatness must lie in \[0, 5\] mm, got 6"),
        (lambda: width_card(BIT, 2, zero_error=-1), r"zero_error must lie in \[0, 5\] mm, got -1"),
        (lambda: width_card(BIT, 2, tip_error=9), r"tip_error must lie in \[0, 5\] mm, got 9"),
        (lambda: width_card(BIT, 2, angle_error=11), r"angle_error must lie in \[0, 10\] deg, got 11"),
        (lambda: width_card(BIT, 2, sanding=True), r"sanding must be a number in \[0, 5\] mm, got True"),
        (
            lambda: width_card(Ball(), 2, angle_error=1),
            "angle_error must be 0 deg for a bit without an included angle, got 1",
        ),
    ],
)
def test_bad_input(call, message):
    with pytest.raises(cs.DomainError, match=message):
        call()


def test_an_assumed_plunge_feed_is_no_limit_of_the_machine():
    def said(machine, **ask):
        return next(r.sentence for r in check_limits(replace(RING, machine=machine), **ask) if r.name == "plunge feed")

    for ask in ({}, {"plunge_feed": 200}):
        assert "assumed: give the machine's own by Machine(plunge_feed=...)" in said(cs.Machine(300, 3000), **ask)
        assert "assumed" not in said(cs.Machine(300, 3000, plunge_feed=450), **ask)
