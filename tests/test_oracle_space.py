"""The oracle in space against check numbers, closed forms, symmetries and the older oracle of one motion."""

import csv
import math
from dataclasses import replace
from functools import cache
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from chipsim.errors import DomainError
from chipsim.reference import oracle
from chipsim.reference.oracle_space import (
    Arc,
    Dwell,
    Line,
    Motion,
    crossing_near,
    normal_thickness,
    probe_strikes,
    radial_thickness,
    removed_area,
    removed_stretches,
    removed_volume,
    rest_to_rest,
    uncut_stretches,
)

TOLERANCE = 1e-12  # mm
NUMBERS = Path(__file__).with_name("space_numbers.csv")


def v_bit(included, tip=0.0):
    """Radius at a height above the tip of a V with a flat of radius `tip`."""
    slope = math.tan(math.radians(included / 2))
    return lambda height: tip + slope * np.asarray(height)


def pieces(text):
    """Start and pieces of a motion written as 'x y d ; L x y d F ; A cx cy sweep d F ; W s'."""
    start, *rest = (part.split() for part in text.split(";"))
    out = []
    for kind, *words in rest:
        a = [float(word) for word in words]
        out.append(
            Line((a[0], a[1], a[2]), a[3]) if kind == "L" else Arc((a[0], a[1]), *a[2:]) if kind == "A" else Dwell(a[0])
        )
    return tuple(float(word) for word in start), out


def move(text, included=60.0, tip=0.0, spindle_speed=18000.0, **more):
    start, rest = pieces(text)
    return Motion(start, rest, v_bit(included, tip), spindle_speed, **more)


def motion_of(row, text, phase):
    out = move(
        text,
        float(row["included_deg"]),
        float(row["tip_radius"]),
        float(row["rpm"]),
        flutes=int(row["flutes"]),
        phase=float(phase),
        spin=row["spin"],
        runout=float(row["runout"]),
        runout_azimuth=float(row["runout_azimuth_deg"]),
    )
    return rest_to_rest(out, float(row["acceleration"])) if row["acceleration"] else out


def board_of(row):
    now = motion_of(row, row["path"], row["phase_deg"])
    return [motion_of(row, *row["earlier"].split("@")), now] if row["earlier"] else [now]


@cache
def numbers():
    with NUMBERS.open(encoding="utf-8") as file:
        return list(csv.DictReader(line for line in file if not line.startswith("#")))


def number_of(name):
    return float(next(row["value"] for row in numbers() if row["id"] == name))


def of(*quantities):
    return [row for row in numbers() if row["quantity"] in quantities]


def lists():
    """The strike lists of the table: name, its rows of depths, its rows of chips, how many strikes."""
    out = {}
    for row in of("strike_depth", "strike_chip", "strike_count"):
        name = row["id"].removesuffix("n") if row["quantity"] == "strike_count" else row["id"].rpartition("k")[0]
        out.setdefault(name, {"strike_depth": [], "strike_chip": [], "strike_count": []})[row["quantity"]].append(row)
    return out


def half_width(motions, row):
    """The nominal half-width at the lip: the bit's radius at the depth that the lip was laid out for."""
    along = 0.41667 if row["id"].startswith("T1k") else None
    if along is not None:  # the lip of the ramp: its station and its depth are named with the number
        return float(motions[0].radius(along * 2.5 / 3))
    deepest = max(float(m.depth(np.linspace(0, m.duration, 50)).max()) for m in motions)
    return float(motions[-1].radius(deepest))


# --- check numbers ----------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("row", of("radial_thickness"), ids=lambda row: row["id"])
def test_radial_thickness_is_the_check_number(row):
    board, z, flute = board_of(row), float(row["slice_z"]), int(row["flute"])
    last = len(board) - 1
    time = crossing_near(board[-1], flute, float(row["azimuth_deg"]), float(row["time_near"]), z)
    assert radial_thickness(board, last, flute, time, z) == pytest.approx(float(row["value"]), abs=TOLERANCE)


@pytest.mark.parametrize("row", of("chip_thickness"), ids=lambda row: row["id"])
def test_thickness_along_the_normal_is_the_check_number(row):
    board, z, flute = board_of(row), float(row["slice_z"]), int(row["flute"])
    time = crossing_near(board[-1], flute, float(row["azimuth_deg"]), float(row["time_near"]), z)
    got = normal_thickness(board, 0, flute, time, z, half_angle=float(row["included_deg"]) / 2)
    assert got == pytest.approx(float(row["value"]), abs=TOLERANCE)


@pytest.mark.parametrize("name", lists())
def test_a_list_of_strikes_is_the_check_list(name):
    rows = lists()[name]
    depths = rows["strike_depth"]
    board = board_of(depths[0])
    lip = float(depths[0]["lip_x"]), float(depths[0]["lip_y"])
    got = probe_strikes(board, lip, float(depths[0]["outward_deg"]), half_width(board, depths[0]))
    last = got.in_bundle
    assert last.sum() == int(float(rows["strike_count"][0]["value"])) == len(depths)
    np.testing.assert_allclose(got.depth[last], [float(r["value"]) for r in depths], rtol=0, atol=TOLERANCE)
    chips = {int(r["index"]): float(r["value"]) for r in rows["strike_chip"]}
    np.testing.assert_allclose(got.chip[last][list(chips)], list(chips.values()), rtol=0, atol=TOLERANCE)
    assert got.flute[last].tolist() == [int(r["flute"]) for r in depths]
    # a strike of the earlier motion is told by the time of the later one being smaller
    np.testing.assert_allclose(got.time[last], [float(r["time_near"]) for r in depths], rtol=1e-11)
    assert (np.diff(got.motion) >= 0).all()


def test_the_second_pass_shares_the_bundle_with_the_first():
    row = next(r for r in numbers() if r["id"] == "T12ak0y")
    board = board_of(row)
    got = probe_strikes(board, (float(row["lip_x"]), float(row["lip_y"])), -90.0, half_width(board, row))
    assert got.motion[got.in_bundle].tolist() == [0] * 7 + [1] * 5


def test_areas_of_a_dot_with_and_without_a_dwell():
    straight = move("0 0 -1 ; L 0 0 2 1800 ; L 0 0 -1 1800", phase=40.0)
    resting = move("0 0 -1 ; L 0 0 2 1800 ; W 0.01 ; L 0 0 -1 1800", phase=40.0)
    # The outline of a dot without a dwell has kinks where a tooth stood at the reversal, and halfway between two.
    stop = 40.0 - 18000 * 6 * 0.1
    breaks = (stop % 45.0) + np.arange(0.0, 361.0, 45.0)
    got = removed_area([straight], 0.0, (0.0, 0.0), 1.3, breaks=breaks)
    assert got == pytest.approx(number_of("V1"), abs=1e-11)
    assert removed_area([resting], 0.0, (0.0, 0.0), 1.3, breaks=[0.0, 180.0, 360.0]) == pytest.approx(
        number_of("V1d"), abs=1e-11
    )


def test_a_dot_with_a_dwell_is_a_cone():
    dot = move("0 0 -1 ; L 0 0 2 1800 ; W 0.01 ; L 0 0 -1 1800", phase=40.0)
    volume = removed_volume([dot], [-2.0, 0.0], (0.0, 0.0), 1.3, breaks=[0.0, 180.0, 360.0])
    assert volume == pytest.approx(number_of("V2d"), abs=1e-11)


@pytest.mark.parametrize(("name", "m"), [("V3b", 0.5), ("V3e", 1.5)])
def test_a_descent_widens_a_slice_at_the_rate_of_the_budget(name, m):
    """From the point on, all descents are alike: the area grows with the square of the way, so its rate is 2 A/s."""
    way = 1.0 / m
    ramp = Motion(
        (0.0, 0.0, 0.0), [Line((way, 0.0, 1.0), 1200.0), Dwell(0.003)], v_bit(90.0), 24000.0, flutes=4, phase=7.0
    )
    tangent = 90.0 + math.degrees(math.asin(min(m, 1.0)))  # where the circle leaves the straight edge of the wedge
    breaks = np.unique([-tangent, tangent, 180.0, 360.0 - tangent])
    area = removed_area([ramp], 0.0, (way, 0.0), 3.1, breaks=breaks, order=9)
    assert 2 * area / way == pytest.approx(number_of(name), rel=2e-4)


def test_a_descent_takes_volume_at_the_rate_of_the_budget():
    """A ramp from the face on: the volume grows with the cube of the way, so its rate is 3 V/t."""
    slope, depth, tip_lean = math.tan(math.radians(20)), 2.0, math.tan(math.radians(30))
    way = depth / slope
    ramp = Motion((0.0, 0.0, 0.0), [Line((way, 0.0, depth), 1500.0), Dwell(0.003)], v_bit(60.0), 24000.0, flutes=4)
    tangent = 90.0 + math.degrees(math.asin(tip_lean * slope))
    breaks = [-tangent, tangent, 180.0, 360.0 - tangent]
    volume = removed_volume([ramp], [-depth, 0.0], (way, 0.0), way + 2.0, breaks=breaks, order=9, slices=2)
    took = math.hypot(way, depth) / 25.0
    assert 3 * volume / took == pytest.approx(number_of("V4a"), rel=5e-4)


def test_times_and_speeds_are_those_of_the_path_in_space():
    ramp = move("0 0 0 ; L 3 0 2.5 2500")
    assert ramp.duration == pytest.approx(number_of("K1"), abs=1e-14)
    face, _, descent = ramp.velocity(0.05)
    assert face == pytest.approx(number_of("K1v"), abs=1e-11)
    assert descent == pytest.approx(number_of("K1d"), abs=1e-11)
    helix = move("1.5 0 0 ; A 0 0 720 2 1500")
    assert helix.duration == pytest.approx(number_of("K2"), abs=1e-14)
    vx, vy, _ = helix.velocity(0.3)
    assert math.hypot(vx, vy) == pytest.approx(number_of("K2v"), abs=1e-11)
    assert math.hypot(vx, vy) * helix.turn / 2 == pytest.approx(number_of("K2f"), abs=1e-13)
    assert rest_to_rest(move("0 0 0 ; L 0 0 2.5 600"), 300.0).duration == pytest.approx(number_of("K3"), abs=1e-14)
    assert rest_to_rest(move("0 0 0 ; L 0 0 0.2 600"), 300.0).duration == pytest.approx(number_of("K3b"), abs=1e-14)


# --- closed forms -----------------------------------------------------------------------------------------------------

SCENES = settings(max_examples=12, deadline=None, derandomize=True)
odd_angles = st.integers(0, 359).map(lambda k: k + 0.37)


@SCENES
@given(
    st.integers(1, 4),
    st.sampled_from([60.0, 90.0, 120.0]),
    st.integers(2, 9),
    odd_angles,
    st.sampled_from(["cw", "ccw"]),
)
def test_a_steady_plunge_is_even_all_round(flutes, included, feed, azimuth, spin):
    plunge = move(f"0.3 -0.2 -0.5 ; L 0.3 -0.2 2 {feed}00", included, flutes=flutes, spin=spin, phase=10.0)
    time = crossing_near(plunge, flutes - 1, azimuth, 0.9 * plunge.duration, -0.4)
    expected = math.tan(math.radians(included / 2)) * feed * 100 / (18000 * flutes)
    assert radial_thickness([plunge], 0, flutes - 1, time, -0.4) == pytest.approx(expected, abs=TOLERANCE)
    along = normal_thickness([plunge], 0, flutes - 1, time, -0.4, half_angle=included / 2)
    assert along == pytest.approx(math.cos(math.radians(included / 2)) * expected, abs=TOLERANCE)


@SCENES
@given(st.integers(2, 4), st.integers(1, 30), odd_angles)
def test_runout_in_a_plunge_shares_the_wood_by_the_rule_of_the_flutes(flutes, microns, towards):
    """h_j = max(0, min over m of m D tan a + R_j - R_(j-m)), to the shift of the crossing times by the body angle."""
    runout = microns / 1000
    plunge = move("0 0 -0.5 ; L 0 0 3 600", flutes=flutes, phase=10.0, runout=runout, runout_azimuth=towards)
    share = math.tan(math.radians(30)) * 600 / (18000 * flutes)
    got, expected = [], []
    for j in range(flutes):
        time = crossing_near(plunge, j, 37.0, 0.289, -0.7)
        lags = [runout * math.cos(math.radians(towards - 360 * (j - m) / flutes)) for m in range(flutes + 1)]
        expected.append(max(0.0, min(m * share + lags[0] - lags[m] for m in range(1, flutes + 1))))
        got.append(radial_thickness([plunge], 0, j, time, -0.7))
    np.testing.assert_allclose(got, expected, atol=2.0 * runout**2 + share * runout)
    assert sum(got) == pytest.approx(share * flutes, abs=flutes * (2 * runout**2 + share * runout))


@SCENES
@given(st.integers(1, 3), st.integers(1, 39), st.sampled_from([1, 2]))
def test_after_a_stop_the_chip_falls_to_nothing_within_a_pitch(flutes, fortieth, pitch):
    plunge = move("0 0 -0.5 ; L 0 0 2 600 ; W 0.05", flutes=flutes, phase=10.0)
    w, period = 10.0, plunge.turn / flutes
    s = fortieth / 40 * period + (pitch - 1) * period
    # the flute that is at some azimuth s seconds after the stop
    azimuth = float(np.degrees(np.angle(plunge.edge(0.25 + s, 0, 0.0))))
    time = crossing_near(plunge, 0, azimuth, 0.25 + s, 0.0)
    expected = max(0.0, math.tan(math.radians(30)) * w * (period - s))
    assert radial_thickness([plunge], 0, 0, time, 0.0) == pytest.approx(expected, abs=TOLERANCE)


@pytest.mark.parametrize("text", ["0 0 -0.5 ; L 0 0 2 600 ; W 0.05", "0 0 1.2 ; L 3 1 1.7 1500 ; W 0.05"])
def test_a_turn_after_any_stop_nothing_is_cut(text):
    stop = move(text, flutes=3, phase=10.0, runout=0.006, runout_azimuth=100.0)
    end = stop.kinks[-2]
    within = [radial_thickness([stop], 0, j, end + x * stop.turn) for x in (0.03, 0.13, 0.29) for j in range(3)]
    after = [radial_thickness([stop], 0, j, end + x * stop.turn) for x in (1.03, 1.4, 2.2) for j in range(3)]
    assert max(within) > 1e-4
    assert max(after) < TOLERANCE


@SCENES
@given(st.integers(1, 3), odd_angles, st.sampled_from(["cw", "ccw"]))
def test_a_dot_without_a_dwell_stays_short_by_the_nearest_passage(flutes, azimuth, spin):
    dot = move("0 0 -1 ; L 0 0 2 1800 ; L 0 0 -1 1800", flutes=flutes, phase=40.0, spin=spin)
    (_, got), *more = removed_stretches([dot], (0.0, 0.0), azimuth, 0.0, 2.0)
    assert not more
    sense, pitch = (1 if spin == "ccw" else -1), 360.0 / flutes
    at_reversal = 40.0 + sense * 18000 * 6 * 0.1
    nearest = abs(math.remainder(azimuth - at_reversal, pitch)) / (18000 * 6)
    assert got == pytest.approx(math.tan(math.radians(30)) * (2.0 - 30.0 * nearest), abs=TOLERANCE)


@pytest.mark.parametrize("depth", [0.35, 1.3])
def test_area_of_a_slice_that_a_retract_leaves_short(depth):
    """pi tan^2 a (D^2 - D delta + delta^2/3), D >= delta; else pi tan^2 a D^3/(3 delta); delta = f_z/2."""
    dot = move("0 0 -1 ; L 0 0 2 9000 ; L 0 0 -1 9000", flutes=1, phase=40.0)
    delta, slope = 9000 / 18000 / 2, math.tan(math.radians(30))
    stop = (40.0 - 18000 * 6 * 0.02) % 360.0
    breaks = stop + np.arange(0.0, 361.0, 30.0)
    for d in (depth, 0.15):
        whole = slope**2 * math.pi * (d**2 - d * delta + delta**2 / 3 if d >= delta else d**3 / (3 * delta))
        if d < delta:  # the outline ends where no tooth passed below the slice
            half = 180.0 * d / delta
            breaks = np.r_[np.linspace(stop - half, stop + half, 9), stop + 360.0 - half]
        assert removed_area([dot], d - 2.0, (0.0, 0.0), 1.3, breaks=breaks) == pytest.approx(whole, abs=1e-10)


def test_chips_of_a_plunge_sum_to_the_area_of_the_slice():
    """Half of (R^2 - q^2) over all sweeps: what the teeth cut is what is gone."""
    dot = move("0 0 -0.21 ; L 0 0 0.3 1800 ; W 0.004", 90.0, 0.05, flutes=2, phase=40.0)
    z = -0.1
    enters, steps, total = 0.31 / 30.0, 24, 0.0
    for azimuth in (np.arange(steps) + 0.5) * 360.0 / steps:
        for j in range(2):
            # flute j is there when -(azimuth - phase) = 6 n t - 180 j
            first = ((40.0 - azimuth + 180.0 * j) / (6 * 18000)) % dot.turn
            for time in np.arange(first, dot.duration, dot.turn):
                if time > enters:
                    for low, high in uncut_stretches([dot], 0, j, time, z):
                        total += (high**2 - low**2) / 2 * math.radians(360 / steps)
    radius = 0.05 + 0.2
    assert total == pytest.approx(math.pi * radius**2, rel=1e-12)


@pytest.mark.parametrize("above", [0.002, 0.009, 0.016])
def test_a_tip_that_has_just_arrived_has_its_normal_end_where_the_thickness_jumps(above):
    """Below D cos^2 a above the tip the normal ends where no tooth has been: h_n = (D - h)/sin a there."""
    plunge = move("0 0 -0.5 ; L 0 0 3 900", 90.0, 0.1, flutes=2, spin="ccw", phase=10.0)
    per_tooth, a = 0.025, math.radians(45)
    time = crossing_near(plunge, 0, 20.0, 0.06)
    z = above - float(plunge.depth(time))
    got = normal_thickness([plunge], 0, 0, time, z, half_angle=45.0)
    jump = above < per_tooth * math.cos(a) ** 2
    expected = (per_tooth - above) / math.sin(a) if jump else per_tooth * math.sin(a)
    assert got == pytest.approx(expected, abs=1e-11)
    assert radial_thickness([plunge], 0, 0, time, z) == pytest.approx(0.1 + above, abs=TOLERANCE)


# --- symmetries -------------------------------------------------------------------------------------------------------


def shifted(motion, turn=0.0, move=0j):
    """The whole motion turned by `turn` degrees about the origin, then moved."""
    around = complex(math.cos(math.radians(turn)), math.sin(math.radians(turn)))

    def place(x, y):
        at = complex(x, y) * around + move
        return at.real, at.imag

    parts = []
    for p in motion.pieces:
        if isinstance(p, Line):
            p = Line((*place(*p.end[:2]), p.end[2]), p.feed)
        elif isinstance(p, Arc):
            p = p._replace(centre=place(*p.centre))
        parts.append(p)
    start = (*place(*motion.start[:2]), motion.start[2])
    return replace(motion, start=start, pieces=parts, phase=motion.phase + turn)


def mirrored(motion):
    """The motion seen in a mirror along the x axis: the spin turns round, and the phase changes its sign."""
    parts = []
    for p in motion.pieces:
        if isinstance(p, Line):
            p = Line((p.end[0], -p.end[1], p.end[2]), p.feed)
        elif isinstance(p, Arc):
            p = p._replace(centre=(p.centre[0], -p.centre[1]), sweep=-p.sweep)
        parts.append(p)
    start = (motion.start[0], -motion.start[1], motion.start[2])
    spin = "ccw" if motion.spin == "cw" else "cw"
    return replace(motion, start=start, pieces=parts, phase=-motion.phase, spin=spin)


def cut_at(motion, shares):
    """A stroke of one line as several motions, one after the other, the spindle turning on."""
    (line,) = motion.pieces
    a, b = np.array(motion.start), np.array(line.end)
    sense = 1 if motion.spin == "ccw" else -1
    out = []
    for low, high in zip([0.0, *shares], [*shares, 1.0], strict=True):
        start, end = a + (b - a) * low, a + (b - a) * high
        phase = motion.phase + sense * 6 * motion.spindle_speed * motion.duration * low
        out.append(replace(motion, start=tuple(start), pieces=[Line(tuple(end), line.feed)], phase=phase))
    return out


def random_motion(rng, start=None, runout=True):
    """Plunges, ramps, level lines, helices, dwells and retracts, above and below the face, all within a few mm."""
    x, y, d = start or (*rng.uniform(-0.5, 0.5, 2), rng.choice([-0.2, 0.0, 0.45]))
    first, parts = (float(x), float(y), float(d)), []
    for kind in rng.choice(["plunge", "line", "level", "arc", "dwell"], rng.integers(1, 5)):
        below, feed = float(rng.uniform(0.2, 1.4)), float(rng.choice([900.0, 1490.0, 2400.0]))
        along, aside = rng.uniform(-1.4, 1.4, 2)
        if kind == "plunge":
            d = below
            parts.append(Line((x, y, d), feed))
        elif kind in ("line", "level"):
            x, y, d = x + along, y + aside, below if kind == "line" else d
            parts.append(Line((x, y, d), feed))
        elif kind == "arc":
            centre, sweep = (x + along, y + aside), float(rng.uniform(-250, 250))
            arm = (complex(x, y) - complex(*centre)) * np.exp(1j * math.radians(sweep))
            x, y, d = centre[0] + arm.real, centre[1] + arm.imag, below
            parts.append(Arc(centre, sweep, d, feed))
        else:
            parts.append(Dwell(float(rng.uniform(0.001, 0.006))))
    return Motion(
        first,
        parts,
        v_bit(float(rng.choice([60.0, 90.0])), float(rng.choice([0.0, 0.05]))),
        float(rng.choice([9000.0, 18000.0])),
        flutes=int(rng.integers(1, 4)),
        phase=float(rng.uniform(0, 360)),
        spin=str(rng.choice(["cw", "ccw"])),
        runout=float(rng.choice([0.0, 0.008])) if runout else 0.0,
        runout_azimuth=float(rng.uniform(0, 360)),
    )


def random_tooth(rng, motion, z=None):
    """A flute, a time and a slice in which the tip then stands below it; None if it never does."""
    times = rng.uniform(0, motion.duration, 20)
    depth = motion.depth(times)
    below = np.flatnonzero(depth > 0.1)
    if not below.size:
        return None
    k = below[0]
    return int(rng.integers(motion.flutes)), float(times[k]), -float(rng.uniform(0, 0.9)) * float(depth[k])


def old_arguments(motion):
    names = ("radius", "spindle_speed", "flutes", "phase", "spin", "runout", "runout_azimuth")
    return {"position": motion.position, "depth": motion.depth} | {name: getattr(motion, name) for name in names}


SEEDS = st.integers(0, 10**6)


@SCENES
@given(SEEDS)
def test_one_motion_is_what_the_older_oracle_says(seed):
    rng = np.random.default_rng(seed)
    motion = random_motion(rng)
    tooth = random_tooth(rng, motion)
    if tooth is None:
        return
    j, t, z = tooth
    there = motion.edge(t, j, z) - complex(*motion.position(t))
    height = z + float(motion.depth(t))
    old = oracle.uncut_intervals(t, float(np.degrees(np.angle(there))), height, j, **old_arguments(motion))
    new = uncut_stretches([motion], 0, j, t, z)
    assert np.sum(new[:, 1] - new[:, 0]) == pytest.approx(np.sum(old[:, 1] - old[:, 0]), abs=1e-10)
    outward = float(rng.uniform(0, 360))
    lip = motion.edge(t, j, 0.0) if motion.depth(t) > 0 else 0j
    got = probe_strikes([motion], (lip.real, lip.imag), outward, 0.4, beyond=0.2)
    had = oracle.lip_strikes_slow(
        (lip.real, lip.imag), outward + 180.0, stop=motion.duration, low=-0.2, high=0.4, **old_arguments(motion)
    )
    np.testing.assert_allclose(got.depth, had.depth, rtol=0, atol=1e-9)
    assert got.flute.tolist() == had.flute.tolist()


@SCENES
@given(SEEDS, st.integers(0, 359), st.integers(-9, 9))
def test_a_rigid_motion_of_the_whole_board_changes_nothing(seed, turn, by):
    rng = np.random.default_rng(seed)
    board = [random_motion(rng), random_motion(rng)]
    there = [shifted(m, turn, complex(by, 1.3)) for m in board]
    tooth = random_tooth(rng, board[1])
    if tooth is None:
        return
    j, t, z = tooth
    a, b = radial_thickness(board, 1, j, t, z), radial_thickness(there, 1, j, t, z)
    assert a == pytest.approx(b, abs=1e-10)


@SCENES
@given(SEEDS)
def test_a_mirror_turns_the_spin_round_and_changes_nothing(seed):
    rng = np.random.default_rng(seed)
    board = [random_motion(rng), random_motion(rng)]
    there = [mirrored(m) for m in board]
    tooth = random_tooth(rng, board[1])
    if tooth is None:
        return
    j, t, z = tooth
    # the runout's direction is counted against the rotation, so it is the same number in the mirror
    assert radial_thickness(board, 1, j, t, z) == pytest.approx(radial_thickness(there, 1, j, t, z), abs=1e-10)
    a = probe_strikes(board, (0.2, 0.5), 70.0, 0.5)
    b = probe_strikes(there, (0.2, -0.5), -70.0, 0.5)
    np.testing.assert_allclose(a.depth, b.depth, atol=1e-10)
    np.testing.assert_allclose(a.speed, b.speed, rtol=1e-9)
    assert a.cuts.tolist() == b.cuts.tolist()


STROKE = {"included": 60.0, "spindle_speed": 15000.0, "phase": 30.0, "runout": 0.01, "runout_azimuth": 20.0}


HALF = math.tan(math.radians(30)) * 1.2


def lip_of(motions, **more):
    return probe_strikes(motions, (5.2, HALF), 90.0, HALF, **more)


def same_list(a, b, tolerance=TOLERANCE):
    np.testing.assert_allclose(a.depth[a.cuts], b.depth[b.cuts], rtol=0, atol=tolerance)
    np.testing.assert_allclose(a.chip[a.cuts], b.chip[b.cuts], rtol=0, atol=tolerance)
    np.testing.assert_allclose(a.speed[a.cuts], b.speed[b.cuts], rtol=max(1e-9, tolerance))
    assert a.flute[a.cuts].tolist() == b.flute[b.cuts].tolist()


def test_a_stroke_cut_in_two_is_the_same_list():
    whole = move("0 0 1.2 ; L 10 0 1.2 3000", **STROKE)
    parts = cut_at(whole, [0.5037])
    assert parts[1].phase % 360 == pytest.approx(323.4)
    got = lip_of(parts)
    same_list(lip_of([whole]), got)
    assert set(got.motion[got.in_bundle]) == {0, 1}


def test_a_stroke_cut_in_a_thousand_is_the_same_list():
    whole = move("4 0 1.2 ; L 6.5 0 1.2 3000", **STROKE)
    start, (line,) = whole.start, whole.pieces
    ends = np.linspace(start[0], line.end[0], 1001)[1:]
    chords = replace(whole, pieces=[Line((x, 0.0, 1.2), line.feed) for x in ends])
    same_list(lip_of([whole]), lip_of([chords]))
    time = crossing_near(whole, 1, 63.0, 0.03)
    assert radial_thickness([chords], 0, 1, time) == pytest.approx(radial_thickness([whole], 0, 1, time), abs=TOLERANCE)


def test_a_change_of_feed_that_is_undone_changes_only_its_own_strikes():
    whole = move("0 0 1.2 ; L 4.5 0 1.2 3000 ; L 4.50001 0 1.2 3000 ; L 10 0 1.2 3000", **STROKE)
    slower = move("0 0 1.2 ; L 4.5 0 1.2 3000 ; L 4.50001 0 1.2 2990 ; L 10 0 1.2 3000", **STROKE)
    same_list(lip_of([whole]), lip_of([slower]), 1e-6)


@SCENES
@given(SEEDS)
def test_starting_the_clock_earlier_with_the_phase_turned_back_changes_nothing(seed):
    rng = np.random.default_rng(seed)
    board = [random_motion(rng), random_motion(rng)]
    wait = float(rng.uniform(0, 0.01))
    sense = 1 if board[1].spin == "ccw" else -1
    later = replace(
        board[1],
        start=(*board[1].start[:2], -5.0),
        pieces=[Dwell(wait), Line(board[1].start, 60 * (5 + board[1].start[2]) / 0.002), *board[1].pieces],
        phase=board[1].phase - sense * 6 * board[1].spindle_speed * (wait + 0.002),
    )
    # it comes down in no more than air: the first motion is gone from the board, and the start is above the face
    if board[1].start[2] > 0:
        return
    a, b = probe_strikes(board, (0.2, 0.5), 70.0, 0.5), probe_strikes([board[0], later], (0.2, 0.5), 70.0, 0.5)
    np.testing.assert_allclose(a.depth, b.depth, atol=1e-9)
    np.testing.assert_allclose(a.time[a.motion == 1] + wait + 0.002, b.time[b.motion == 1], atol=1e-12)


@pytest.mark.parametrize(
    "later", ["0 0 0.9 ; L 10 0 0.9 3000", "6 0 -1 ; L 6 0 1 600 ; L 6 0 -1 600", "0 3 1 ; L 9 3 1 3000"]
)
def test_a_later_pass_that_does_not_reach_the_surface_changes_nothing(later):
    first = move("0 0 1.2 ; L 10 0 1.2 3000", **STROKE)
    second = move(later, **STROKE | {"phase": 77.0, "runout": 0.0})
    alone, both = lip_of([first]), lip_of([first, second])
    same_list(alone, both, 0.0)
    assert both.finished == alone.finished
    assert not both.cuts[both.motion == 1].any()
    assert (both.removed[both.motion == 1] < TOLERANCE).all()


def test_an_earlier_shallow_pass_changes_only_the_first_chip():
    deep = move("0 0 1.2 ; L 10 0 1.2 3000", **STROKE)
    shallow = move("0 0 0.7 ; L 10 0 0.7 3000", **STROKE | {"phase": 77.0})
    alone, both = lip_of([deep]), lip_of([shallow, deep])
    mine = both.motion == 1
    n = int(both.cuts[mine].sum())
    np.testing.assert_allclose(both.depth[mine][both.cuts[mine]], alone.depth[alone.cuts][-n:], atol=TOLERANCE)
    np.testing.assert_allclose(both.chip[mine][both.cuts[mine]][1:], alone.chip[alone.cuts][-n:][1:], atol=TOLERANCE)


def test_order_of_time_counts_where_strikes_meet():
    row = next(r for r in numbers() if r["id"] == "T12ak0y")
    a, b = board_of(row)
    lip, half = (float(row["lip_x"]), float(row["lip_y"])), half_width([a, b], row)
    there, back = probe_strikes([a, b], lip, -90.0, half), probe_strikes([b, a], lip, -90.0, half)
    assert there.finished == pytest.approx(back.finished, abs=TOLERANCE)
    assert not back.cuts[back.motion == 1].any()
    assert there.cuts[there.motion == 1].any()


@SCENES
@given(SEEDS)
def test_chips_of_the_probe_sum_to_what_is_gone(seed):
    """By the surface: its retreat. By intervals: the length that the union of all sweeps has removed."""
    rng = np.random.default_rng(seed)
    board = [random_motion(rng, runout=False) for _ in range(3)]
    got = probe_strikes(board, (0.2, 0.5), 70.0, 0.5, beyond=0.3)
    assert got.chip.sum() == pytest.approx(0.5 - got.finished, abs=1e-12)
    gone = removed_stretches(board, (0.2, 0.5), 250.0, -0.3, 0.5)
    assert got.removed.sum() <= np.sum(gone[:, 1] - gone[:, 0]) + 1e-10


def test_a_groove_across_opens_the_probe_further_in_and_leaves_the_wood_outside():
    """The surface does not know of it; the intervals do, and add up to all that is gone."""
    along = move("0 0 1.2 ; L 10 0 1.2 3000", **STROKE)
    across = move("5.2 0.45 0.3 ; L 9 0.45 0.3 2000", **STROKE | {"phase": 11.0})
    for board in ([across, along], [along, across]):
        got = lip_of(board)
        gone = removed_stretches(board, (5.2, HALF), 270.0, -1.0, HALF)
        assert got.removed.sum() == pytest.approx(np.sum(gone[:, 1] - gone[:, 0]), abs=1e-10)
    first = lip_of([across, along])
    opened = first.depth[first.motion == 0]
    inner = (first.motion == 1) & (first.depth > opened.min()) & ~first.cuts
    assert first.removed[inner].sum() > 0.05  # wood between the two grooves, which the surface takes to be gone


def test_in_the_core_the_interval_rule_and_the_surface_part_even_along_one_groove():
    """The edge dips across the probe and back near the tip: what lies further in is taken by the next tooth."""
    row = next(r for r in numbers() if r["id"] == "T1k0y")
    board = board_of(row)
    got = probe_strikes(
        board, (float(row["lip_x"]), float(row["lip_y"])), float(row["outward_deg"]), half_width(board, row)
    )
    assert got.flute[:2].tolist() == [1, 1]
    assert got.chip[0] > 0.13
    assert got.removed[0] < TOLERANCE
    assert got.removed.sum() == pytest.approx(got.chip.sum(), abs=TOLERANCE)


def test_a_helix_tends_to_its_unrolled_ramp():
    """Length in space and feed the same; what is left of the curvature falls with the radius."""
    ramp = move("0 0 0.3 ; L 4 0 1.2 2400", flutes=2, phase=33.0)
    misses = []
    for radius in (20.0, 200.0, 2000.0):
        sweep = math.degrees(4.0 / radius)
        start = (radius * math.sin(-4.0 / radius), radius - radius * math.cos(4.0 / radius), 0.3)
        helix = Motion(start, [Arc((0.0, radius), sweep, 1.2, 2400.0)], v_bit(60.0), 18000.0, flutes=2, phase=33.0)
        assert helix.duration == pytest.approx(ramp.duration, rel=1e-12)
        # the helix ends where and as the ramp does: the same tooth, seen from its own heading
        t = crossing_near(ramp, 0, 20.0, 0.97 * ramp.duration, -0.4)
        turn = float(helix.heading(t))
        bent = radial_thickness([replace(helix, phase=33.0 + turn)], 0, 0, t, -0.4)
        misses.append(abs(bent - radial_thickness([ramp], 0, 0, t, -0.4)))
    assert misses[0] > 1e-5
    assert misses[1] < misses[0] / 8
    assert misses[2] < misses[1] / 8


def test_a_ramp_that_is_all_but_upright_is_a_plunge():
    plunge = move("0 0 0 ; L 0 0 3 2000", 90.0, spindle_speed=12000.0, phase=20.0)
    leaning = move("0 0 0 ; L 1e-7 0 3 2000", 90.0, spindle_speed=12000.0, phase=20.0)
    t = crossing_near(plunge, 0, 60.0, 0.063, -0.75)
    a, b = radial_thickness([plunge], 0, 0, t, -0.75), radial_thickness([leaning], 0, 0, t, -0.75)
    assert a == pytest.approx(b, abs=1e-8)


@SCENES
@given(SEEDS)
def test_a_dwell_of_no_time_and_a_joint_of_no_kind_change_nothing(seed):
    rng = np.random.default_rng(seed)
    motion = random_motion(rng)
    parts = []
    for p in motion.pieces:
        parts += [Dwell(0.0), p]
    tooth = random_tooth(rng, motion)
    if tooth is None:
        return
    j, t, z = tooth
    divided = replace(motion, pieces=parts)
    assert radial_thickness([divided], 0, j, t, z) == radial_thickness([motion], 0, j, t, z)


def test_a_dwell_beyond_a_turn_and_the_retract_after_it_take_nothing():
    short = move("0 0 -1 ; L 1 0 1.4 1800 ; W 0.004 ; L 1 0 -1 1800", runout=0.01)
    long = move("0 0 -1 ; L 1 0 1.4 1800 ; W 0.011 ; L 1 0 -1 1800", runout=0.01)
    for azimuth in (3.7, 95.0, 201.0):
        a, b = (removed_stretches([m], (1.0, 0.0), azimuth, 0.0, 2.0) for m in (short, long))
        np.testing.assert_allclose(a, b, atol=TOLERANCE)


def test_a_motion_of_another_bit_counts_with_its_own_outline_speed_and_spin():
    first = move("0 0 0.5 ; L 4 0 0.5 1200", 120.0, 0.1, 9000.0, flutes=3, spin="ccw", phase=5.0)
    second = move("0 0 1.2 ; L 4 0 1.2 1200", 60.0, phase=9.0)
    # half-width of the first 0.1 + 0.5 tan 60 = 0.966 exceeds 1.2 tan 30 = 0.693: the second meets no wood at the face
    t = crossing_near(second, 0, 90.0, 0.1)
    assert radial_thickness([first, second], 1, 0, t) == 0
    # 0.6 down it does
    t = crossing_near(second, 0, 20.0, 0.1, -0.6)
    assert radial_thickness([first, second], 1, 0, t, -0.6) == radial_thickness([second], 0, 0, t, -0.6) > 0.01
    # what comes later does not count
    t = crossing_near(first, 0, 20.0, 0.1)
    assert radial_thickness([first, second], 0, 0, t) == radial_thickness([first], 0, 0, t) > 0.01


# --- motion -----------------------------------------------------------------------------------------------------------


def test_the_heading_runs_on_where_the_axis_stands():
    motion = move("0 0 -1 ; L 0 0 1 600 ; W 0.01 ; A 0 2 90 1 1200 ; L 2 2 -1 600")
    stops = motion.kinks
    assert motion.heading(stops[0]) == motion.heading((stops[1] + stops[2]) / 2) == 0.0  # the next
    assert motion.heading((stops[2] + stops[3]) / 2) == pytest.approx(45.0)
    assert motion.heading([stops[3] + 0.01, stops[4]]) == pytest.approx([90.0, 90.0])  # the last
    assert move("0 0 -1 ; L 0 0 1 600 ; W 0.01").heading(0.05) == 0.0


def test_a_speed_law_moves_the_tool_along_the_path_in_space():
    law = [(0.0, 0.0), (0.1, 20.0), (0.2, 20.0), (0.25, 0.0), (0.3, 0.0), (0.4, 10.0)]
    # 1 + 2 + 0.5 + 0 + 0.5 mm
    motion = replace(move("0 0 0 ; L 0 0 1.5 1 ; L 1.5 2 1.5 1"), speeds=law)
    assert motion.duration == 0.4
    assert motion.travelled([0.1, 0.15, 0.27, 0.4]) == pytest.approx([1.0, 2.0, 3.5, 4.0])
    assert motion.depth([0.1, 0.3]) == pytest.approx([1.0, 1.5])
    assert np.transpose(motion.position([0.05, 0.15, 0.4])) == pytest.approx(np.array([[0, 0], [0.3, 0.4], [1.5, 2.0]]))
    assert motion.speed(0.05) == pytest.approx(10.0)
    assert motion.velocity([0.05, 0.35]) == pytest.approx(np.array([[0, 0, 10.0], [3.0, 4.0, 0.0]]))
    assert motion.kinks == pytest.approx([0, 0.1, 0.125, 0.2, 0.25, 0.3, 0.4])


@SCENES
@given(SEEDS)
def test_positions_are_continuous_and_velocities_are_their_slopes(seed):
    motion = random_motion(np.random.default_rng(seed))
    motion = rest_to_rest(motion, 400.0) if seed % 2 else motion
    for t in (motion.kinks[:-1] + motion.kinks[1:]) / 2:
        step = 1e-6
        (x0, x1), (y0, y1) = motion.position([t - step, t + step])
        d0, d1 = motion.depth([t - step, t + step])
        slope = np.array([x1 - x0, y1 - y0, d1 - d0]) / (2 * step)
        np.testing.assert_allclose(motion.velocity(t), slope, atol=1e-3)
        assert np.linalg.norm(slope) == pytest.approx(float(motion.speed(t)), abs=1e-3)
    for t in motion.kinks[1:-1]:
        for x in motion.position([t * (1 - 1e-12), t * (1 + 1e-12)]):
            assert x[0] == pytest.approx(x[1], abs=1e-10)
    assert motion.travelled(motion.duration) == pytest.approx(motion.length)


@pytest.mark.parametrize(
    ("text", "more", "names"),
    [
        ("0 0 0 ; L 1 0 0 0", {}, r"pieces\[0\]\.feed"),
        ("0 0 0 ; L 1 0 nan 900", {}, r"pieces\[0\]\.end\[2\]"),
        ("0 0 0 ; A 0 0 90 0 900", {}, r"radius of pieces\[0\]"),
        ("0 0 0 ; W -1", {}, r"pieces\[0\]\.seconds"),
        ("0 0 0 ; L 1 0 0 900", {"flutes": 0}, "flutes"),
        ("0 0 0 ; L 1 0 0 900", {"spin": "left"}, "spin"),
        ("0 0 0 ; L 1 0 0 900", {"runout": -0.1}, "runout"),
        ("0 0 0 ; L 1 0 0 900", {"speeds": [(0, 1), (0.5, 1)]}, "length under speeds"),
        ("0 0 0 ; L 1 0 0 900", {"speeds": [(0.1, 1), (0.5, 1)]}, "speeds must be knots"),
        ("0 0 0 ; L 1 0 0 900 ; W 1", {"speeds": [(0, 1), (1, 1)]}, r"pieces\[1\] is a Dwell"),
    ],
)
def test_a_motion_that_cannot_be_is_refused_by_name(text, more, names):
    with pytest.raises(DomainError, match=names):
        move(text, **more)


def test_questions_that_have_no_answer_are_refused_by_name():
    motion = move("0 0 0.5 ; L 4 0 0.5 1200")
    with pytest.raises(DomainError, match="height of the slice above the tip"):
        radial_thickness([motion], 0, 0, 0.1, -0.6)
    with pytest.raises(DomainError, match="z must lie in"):
        radial_thickness([motion], 0, 0, 0.1, 0.1)
    with pytest.raises(DomainError, match="time must lie in"):
        radial_thickness([motion], 0, 0, 99.0)
    with pytest.raises(DomainError, match="near must lie within half a turn"):
        crossing_near(motion, 0, 30.0, 0.1, -0.7)


def test_a_motion_of_no_pieces_stands_still_and_cuts_nothing():
    none = move("0 0 0.5")
    assert none.duration == 0
    assert len(removed_stretches([none], (0.0, 0.0), 10.0, 0.0, 1.0)) == 0
    assert len(probe_strikes([none], (0.0, 0.2), 90.0, 0.2).depth) == 0


# --- what brute force must not miss --------------------------------------------------------------------------------


@pytest.mark.parametrize("dip", [1e-3, 1e-6, 1e-9])
@pytest.mark.parametrize("azimuth", [0.0, 137.2])
def test_an_edge_that_dips_across_the_probe_between_two_looks_strikes_twice(dip, azimuth):
    """A standing circle of radius 1, and a probe that cuts off a cap of height `dip`, or passes as far outside."""
    radius = 1.0
    still = Motion(
        (0.0, 0.0, 1.0), [Dwell(0.0099)], lambda h: np.ones(np.shape(h)), 18000.0, flutes=2, phase=azimuth + 3
    )
    along = np.exp(1j * math.radians(azimuth))
    lip = along * (-0.1 + 1j * (radius - dip))
    got = probe_strikes([still], (lip.real, lip.imag), azimuth + 180.0, 0.2)
    turns = got.time.size / 4
    assert turns == pytest.approx(0.0099 / still.turn, abs=0.5)
    half = math.sqrt(dip * (2 * radius - dip))
    np.testing.assert_allclose(np.sort(got.depth)[[0, -1]], [0.1 - half, 0.1 + half], atol=1e-15 / half)
    lip = along * (-0.1 + 1j * (radius + dip))
    assert not probe_strikes([still], (lip.real, lip.imag), azimuth + 180.0, 0.2).depth.size


def test_the_speed_of_a_strike_is_that_of_the_edge_and_the_plunge():
    dot = move("1 2 -1 ; L 1 2 2 1800", flutes=1, phase=40.0)
    half = 2 * math.tan(math.radians(30))
    got = probe_strikes([dot], (1.0 - half, 2.0), 180.0, half)
    edge = (half - got.depth) * 18000 * 2 * math.pi / 60
    np.testing.assert_allclose(got.speed, np.hypot(edge, 30.0) / 1000, rtol=1e-12)
    stroke = move("0 0 1.2 ; L 10 2 1.2 3000", **STROKE)
    strikes = probe_strikes([stroke], (5.2, 1.6), 90.0, 0.4)
    for t, j, speed in zip(strikes.time, strikes.flute, strikes.speed, strict=True):
        before, after = stroke.edge([t - 1e-7, t + 1e-7], int(j), 0.0)
        assert abs(after - before) / 2e-7 / 1000 == pytest.approx(speed, rel=1e-6)


def test_a_job_of_minutes_keeps_its_digits():
    short = move("0 0 1.2 ; L 10 0 1.2 3000", phase=30.0)
    waited = replace(
        short,
        start=(0.0, 0.0, -1.0),
        pieces=[Dwell(100.0), Line((0.0, 0.0, 1.2), 132000.0), *short.pieces],
        phase=30.0 + 6 * 18000 * 100.001,
    )
    for azimuth in (33.0, 200.0, 271.0):
        a, b = crossing_near(short, 0, azimuth, 0.1), crossing_near(waited, 0, azimuth, 100.101)
        assert radial_thickness([waited], 0, 0, b) == pytest.approx(radial_thickness([short], 0, 0, a), abs=1e-11)
    np.testing.assert_allclose(lip_of([waited]).depth[-9:], lip_of([short]).depth[-9:], atol=1e-10)


def test_an_outline_with_knees_and_a_round_tip_is_followed():
    """Any radius that does not fall: a ball under a cone under a cylinder, in a plunge, where the last turn is all."""

    def outline(height):
        h = np.asarray(height, dtype=np.float64)
        ball = np.sqrt(np.maximum(0.25 - (0.5 - np.minimum(h, 0.5)) ** 2, 0.0))
        return np.where(h < 0.25, ball, np.minimum(np.sqrt(0.1875) + 0.4 * (h - 0.25), 0.8))

    plunge = Motion((0.0, 0.0, -0.5), [Line((0.0, 0.0, 3.0), 900.0)], outline, 18000.0, flutes=2, phase=10.0)
    for z, azimuth in [(-1.9, 20.0), (-1.6, 77.0), (-1.2, 201.0), (-0.3, 140.0)]:
        time = crossing_near(plunge, 0, azimuth, 0.165, z)
        now, before = plunge.depth([time, time - plunge.turn / 2]) + z
        expected = float(outline(now) - outline(before))
        assert radial_thickness([plunge], 0, 0, time, z) == pytest.approx(expected, abs=TOLERANCE)


def by_looking_everywhere(motion, origin, azimuth, z, looks=400_000):
    """All places where segments meet the line, at very many instants."""
    t = np.linspace(0.0, motion.duration, looks)
    u = np.exp(-1j * math.radians(azimuth))
    axis = (motion.position(t)[0] + 1j * motion.position(t)[1] - complex(*origin)) * u
    places = []
    for j in range(motion.flutes):
        edge = (motion.edge(t, j, z) - complex(*origin)) * u
        on = (axis.imag * edge.imag <= 0) & (motion.depth(t) + z >= 0)
        share = axis.imag[on] / (axis.imag[on] - edge.imag[on])
        places.append(axis.real[on] + share * (edge.real[on] - axis.real[on]))
    return np.concatenate(places)


@pytest.mark.parametrize(
    ("origin", "azimuth"),
    [((0.469, -0.075), 152.4), ((0.03, -0.071), 195.0), ((0.068, -0.006), 353.1), ((0.375, -0.045), 308.9)],
)
def test_in_the_core_the_place_turns_back_and_is_followed(origin, azimuth):
    """Within a turn, at 1 mm a turn: what is swept near the axis ends where segments envelop, not at an edge."""
    motion = Motion(
        (0.0, 0.0, 1.0),
        [Line((0.4, 0.0, 1.0), 6000.0)],
        lambda h: np.full(np.shape(h), 0.5),
        6000.0,
        flutes=1,
        phase=100.0,
    )
    got = removed_stretches([motion], origin, azimuth, -2.0, 2.0)
    seen = by_looking_everywhere(motion, origin, azimuth, 0.0)
    assert got.size
    assert got[0, 0] == pytest.approx(seen.min(), abs=1e-3)
    assert got[-1, 1] == pytest.approx(seen.max(), abs=1e-3)
    assert got[0, 0] <= seen.min() + 1e-12
    assert got[-1, 1] >= seen.max() - 1e-12


@pytest.mark.parametrize("runout", [0.0, 0.2])
def test_a_narrow_bit_at_a_coarse_feed_is_not_overlooked(runout):
    """It passes the line within a small part of a turn; with runout the edge reaches ten times its radius."""
    motion = Motion(
        (0.0, 0.0, 1.0),
        [Line((9.0, 0.0, 1.0), 9000.0)],
        lambda h: np.full(np.shape(h), 0.02),
        3000.0,
        flutes=4,
        phase=3.0,
        runout=runout,
    )
    for x in np.arange(0.31, 8.5, 0.49):
        # the axis itself crosses the line: something of it is always removed
        assert removed_stretches([motion], (x, 0.0), 90.0, -1.0, 1.0).size
    # beside a standing bit, within reach of the edge and not of the radius alone
    still = replace(motion, pieces=[Dwell(0.05)])
    assert (removed_stretches([still], (0.0, 0.1), 0.0, -1.0, 1.0).size > 0) == (runout > 0)


def test_the_bundle_is_counted_from_what_is_finished():
    """A dot that stays short of its circle: its last bundle lies beyond the nominal one."""
    row = next(r for r in numbers() if r["id"] == "T9ak0y")
    board = board_of(row)
    lip = float(row["lip_x"]), float(row["lip_y"])
    got = probe_strikes(board, lip, float(row["outward_deg"]), half_width(board, row), bundle=0.03)
    assert got.finished == pytest.approx(0.0123488807576669, abs=TOLERANCE)
    assert got.depth[got.in_bundle] == pytest.approx([0.0412163942171482, 0.0123488807576669], abs=TOLERANCE)
    air = move("0 0 -1 ; L 4 0 -1 1200")
    nothing = probe_strikes([air], (1.0, 0.5), 90.0, 0.5)
    assert (nothing.finished, nothing.depth.size) == (0.5, 0)
