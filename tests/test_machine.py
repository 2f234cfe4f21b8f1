"""Speed profiles against textbook numbers, a brute-force grid and what must hold of any motion; dials; bad input."""

import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

import chipsim as cs
from chipsim.scene.machine import Dial, Machine, SpeedProfile, speed_profile
from chipsim.testing.strategies import paths, reals, steadily

# ----------------------------------------------------------------------------------------------
# Numbers of the textbook
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
def test_line_from_rest_to_rest(distance, speed, a, seconds):
    profile = speed_profile(cs.line((0, 0), (distance, 0), 1), 60 * speed, Machine(a, 60_000))
    assert profile.duration == pytest.approx(seconds, rel=1e-9)


@pytest.fixture
def hook():
    """Line 20, quarter arc of radius 2, line 10, all tangent (textbook example, from memory)."""
    path = cs.Path([[0, 0], [20, 0], [22, 2], [22, 12]], 1.0, sweep=[0, 90, 0])
    return path, speed_profile(path, 6000, Machine(500, 6000))


def test_line_arc_line(hook):
    # textbook kinematics, from memory; a brute-force grid of 1e-5 mm gives 0.6795026
    path, profile = hook
    at = profile.time_at(path.joints)
    assert np.diff(at) == pytest.approx([0.346754446797, 0.099345882658, 0.23340238628], rel=1e-9)
    assert profile.duration == pytest.approx(0.679502715735, rel=1e-9)
    # speeds: 100 typed; sqrt(a R) on the arc; the peak of the last line
    assert profile.speed_at([10.5, 21.0, 23.0]) == pytest.approx([100.0, 31.6227766017, 31.6227766017], rel=1e-9)
    assert profile.speed[profile.station > 23.2].max() == pytest.approx(74.161985, rel=1e-7)


def test_peak_between_two_speeds():
    # textbook kinematics, from memory: v0 = 20, v1 = 60, a = 500, D = 10 peaks at 83.666 and takes 0.17466 s.
    # Arcs of radius v^2 / a hold those speeds on either side of the line.
    small, large = 20**2 / 500, 60**2 / 500
    start, end = np.array([0.0, -2 * small]), np.array([10.0, 2 * large])
    path = cs.Path([start, [0, 0], [10, 0], end], 1.0, sweep=[-180, 0, 180])
    path = path if abs(path.heading(np.pi * small + 1)) < 1e-9 else path.mirrored()
    profile = speed_profile(path, 60_000, Machine(500, 60_000, corners="free"))
    a, b = path.joints[1:3]
    assert b - a == pytest.approx(10)
    inside = (profile.station > a + 1e-9) & (profile.station < b - 1e-9)
    assert profile.speed_at([a, b]) == pytest.approx([20, 60], rel=1e-9)
    assert profile.speed[inside] == pytest.approx([83.6660026534], rel=1e-9)
    assert np.diff(profile.time_at([a, b])) == pytest.approx(0.174664010614, rel=1e-9)


# ----------------------------------------------------------------------------------------------
# Derived by hand
# ----------------------------------------------------------------------------------------------


def test_a_tight_arc_caps_the_feed_whatever_is_typed():
    # sqrt(300 mm/s^2 x 1 mm) = 17.32 mm/s = 1039 mm/min (derived)
    path = cs.arc((0, 0), 1, 0, 350, 1)
    for typed in (1500, 6000):
        profile = speed_profile(path, typed, Machine(300, 60_000))
        assert 60 * profile.speed.max() == pytest.approx(1039.2304845413264, rel=1e-12)
    assert 60 * speed_profile(path, 900, Machine(300, 60_000)).speed.max() == pytest.approx(900)


@pytest.mark.parametrize(
    ("a", "to_2000", "to_3000"), [(150, 3.7, 8.3), (300, 1.9, 4.2), (500, 1.1, 2.5), (1000, 0.6, 1.3)]
)
def test_run_up_lengths(a, to_2000, to_3000):
    # v^2 / (2 a), to the printed tenth (derived)
    for feed, length in ((2000, to_2000), (3000, to_3000)):
        profile = speed_profile(cs.line((0, 0), (50, 0), 1), feed, Machine(a, 8000))
        assert profile.station[1] == pytest.approx(length, abs=0.05 + 1e-9)
        assert profile.station[1] == pytest.approx((feed / 60) ** 2 / (2 * a), rel=1e-12)


def test_right_angle_under_the_three_rules():
    # The circle touching both sides of a right angle and passing 0.01 mm from the vertex: R (sqrt 2 - 1) = 0.01
    path = cs.polyline([[0, 0], [30, 0], [30, 30]], 1)
    at = {
        rule: float(speed_profile(path, 3000, Machine(500, 6000, corners=rule, vertex_gap=0.01)).speed_at(30))
        for rule in ("halt", "circle", "free")
    }
    assert at["halt"] == 0
    assert at["free"] == pytest.approx(50, rel=1e-12)
    assert at["circle"] == pytest.approx(math.sqrt(500 * 0.01 / (math.sqrt(2) - 1)), rel=1e-12)


@pytest.mark.parametrize("angle", [20, 60, 90, 135, 170])
def test_the_corner_circle_touches_both_sides_and_misses_the_vertex_by_the_gap(angle):
    machine = Machine(400, 6000, vertex_gap=0.03)
    radius = (machine.corner_feed(angle) / 60) ** 2 / 400
    half = math.radians(angle) / 2
    centre = np.array([1.0, 0.0]) * radius / math.sin(half)  # vertex at 0, bisector along x
    side = np.array([math.cos(half), math.sin(half)])
    assert abs(centre[0] * side[1] - centre[1] * side[0]) == pytest.approx(radius, rel=1e-12)
    assert np.hypot(*centre) - radius == pytest.approx(0.03, rel=1e-9)


def test_corner_feed_at_the_ends():
    assert Machine(500, 6000).corner_feed(0) == pytest.approx(0, abs=1e-9)
    assert Machine(500, 6000).corner_feed(180) == math.inf
    assert Machine(500, 6000, corners="halt").corner_feed(179) == 0
    assert Machine(500, 6000, corners="free").corner_feed(1) == math.inf
    # to turn right back is to stop, whatever the rule
    assert Machine(500, 6000, corners="free").corner_feed(0) == 0


@pytest.mark.parametrize("chords", [100, 400, 1600])
def test_a_circle_in_short_chords_is_taken_like_its_inscribed_circle(chords):
    # Derived: radius cos(pi / n); the vertex is nearly reached, so the gap alone would allow far more.
    at = 2 * np.pi * np.arange(3 * chords + 1) / chords
    path = cs.polyline(np.column_stack([np.cos(at), np.sin(at)]), 1)
    profile = speed_profile(path, 6000, Machine(300, 6000))
    at_corner = profile.speed_at(path.joints[chords : 2 * chords])
    assert at_corner == pytest.approx(math.sqrt(300 * math.cos(math.pi / chords)), rel=1e-6)


RINGS = [
    (radius, chord)
    for radius in (0.5, 1, 3, 12, 40)
    for chord in (0.05, 0.1, 0.25, 0.5, 1)
    # below twelve chords to the turn it is a polygon; beyond the gap 'halt' stops at its corners (sagitta)
    if chord <= 0.5 * radius and chord**2 / (8 * radius) < 0.049
]


@pytest.mark.parametrize("corners", ["circle", "halt", "free"])
@pytest.mark.parametrize(("radius", "chord"), RINGS)
def test_a_ring_in_chords_takes_as_long_as_the_ring_whatever_the_corners(radius, chord, corners):
    """The path of chords is followed like the circle it stands for: time and speed of the true arc, but for the chord.

    Inscribed circle and length are both shorter by cos(pi / n) or less than the circle through the vertices.
    """
    machine = Machine(300, 6000, corners=corners)
    count = math.ceil(2 * math.pi * radius / chord)
    at = 2 * np.pi * np.arange(2 * count + 1) / count
    path = cs.polyline(radius * np.column_stack([np.cos(at), np.sin(at)]), 1)
    true = speed_profile(cs.Path([[radius, 0], [-radius, 0]] * 2 + [[radius, 0]], 1, sweep=[180] * 4), 5000, machine)
    profile = speed_profile(path, 5000, machine)
    short = 1 - math.cos(math.pi / count)
    assert profile.duration == pytest.approx(true.duration, rel=2 * short + 0.25 / count)
    middle = np.linspace(0.3, 0.7, 2001)
    speed, held = profile.speed_at(middle * path.length), true.speed_at(middle * true.station[-1])
    assert speed == pytest.approx(held, rel=short + 1e-6)
    assert (speed**2 <= 300 * radius * (1 + 1e-9)).all()  # the centripetal limit of the curve the chords stand for


@pytest.mark.parametrize("corners", ["circle", "halt", "free"])
@pytest.mark.parametrize("chord", [0.05, 0.2, 1.0])
def test_a_line_that_bends_into_chords_is_followed_like_a_line_into_an_arc(chord, corners):
    """A quarter turn of 8 mm in chords between two lines: no stop where it begins, and no slow line beside it."""
    machine = Machine(300, 3000, corners=corners)
    count = math.ceil(4 * math.pi / chord)
    at = np.pi / 2 * np.arange(count + 1) / count
    arc = [0, 8] + 8 * np.column_stack([np.sin(at), -np.cos(at)])
    path = cs.polyline(np.vstack([[-30, 0], arc, [8, 38]]), 1)
    true = speed_profile(cs.Path([[-30, 0], [0, 0], [8, 8], [8, 38]], 1, sweep=[0, 90, 0]), 3000, machine)
    profile = speed_profile(path, 3000, machine)
    assert profile.duration == pytest.approx(true.duration, rel=0.01)
    assert float(profile.speed_at(15)) == pytest.approx(float(true.speed_at(15)), rel=0.02)
    assert profile.speed_at(np.linspace(30, 30 + 4 * np.pi, 50)).min() > 0.95 * math.sqrt(300 * 8)


@pytest.mark.parametrize("corners", ["circle", "halt", "free"])
@pytest.mark.parametrize("chord", [0.05, 0.1, 0.25])
@pytest.mark.parametrize("radius", [3, 10, 40])
def test_a_ring_in_chords_with_rounded_coordinates_is_a_ring(radius, chord, corners):
    """Programs round to 0.001 mm: chords of 0.05 mm turn by a degree too much here and too little there."""
    machine = Machine(300, 6000, corners=corners)
    count = math.ceil(2 * math.pi * radius / chord)
    at = 2 * np.pi * np.arange(count + 1) / count
    path = cs.polyline(np.round(radius * np.column_stack([np.cos(at), np.sin(at)]), 3), 1)
    profile, true = speed_profile(path, 3000, machine), speed_profile(cs.ring(radius, 1), 3000, machine)
    inner = profile.speed_at(np.linspace(0.2, 0.8, 4001) * path.length)
    assert profile.duration == pytest.approx(true.duration, rel=0.1)
    assert inner.min() > (0.6 if chord == 0.05 else 0.8) * true.speed.max()
    assert inner.max() < 1.1 * true.speed.max()


@pytest.mark.parametrize("chords", [1, 2, 3, 6])
def test_halt_stops_at_a_corner_however_it_is_cut_off(chords):
    """A right angle rounded off over 0.02 mm is a corner to the eye; a bend of 10 degrees between long sides is one."""
    machine = Machine(300, 6000, corners="halt")
    turn = np.radians(90) * np.arange(chords + 1) / chords
    steps = np.column_stack([np.cos(turn), np.sin(turn)]) * np.array([20, *[0.02 / chords] * (chords - 1), 20])[:, None]
    path = cs.polyline(np.vstack([[0, 0], np.cumsum(steps, axis=0)]), 1)
    assert speed_profile(path, 3000, machine).speed_at(path.joints[1:-1]).max() == 0
    bend = cs.polyline([[0, 0], [20, 0], [40, 20 * math.tan(math.radians(10))]], 1)
    assert speed_profile(bend, 3000, machine).speed_at(20) == 0


def test_the_default_gap_is_below_what_the_eye_parts():
    """One minute of arc at 250 mm (optics of the eye, from memory) is 0.073 mm; the words of a report say the gap."""
    machine = Machine(300, 3000)
    assert machine.corners == "circle"
    assert 0.02 < machine.vertex_gap < 250 * math.radians(1 / 60)
    assert machine.corner_words == (
        "At a corner the machine is assumed to slow to what 300 mm/s^2 allow on the inscribed circle that misses the "
        "vertex by 0.05 mm (0.002 in), the default. A curve in short chords counts as a curve."
    )
    assert "come to rest at every corner." in replace(machine, corners="halt").corner_words
    assert "not to slow at corners." in replace(machine, corners="free").corner_words


def test_a_stray_short_chord_does_not_stop_the_tool():
    # A jog of 0.0005 mm in a straight line turns by 37 degrees there and back, 74 in all (3-4-5 triangle): one circle
    # round both misses the vertex by the gap; a circle in between would have a radius of 0.00075 mm.
    path = cs.polyline([[0, 0], [20, 0], [20.0004, 0.0003], [40, 0.0003]], 1)
    profile = speed_profile(path, 6000, Machine(300, 6000, vertex_gap=0.01))
    both = 2 * math.atan2(3, 4)
    shared = 0.01 * math.cos(both / 2) / (1 - math.cos(both / 2))
    assert float(profile.speed_at(20)) == pytest.approx(math.sqrt(300 * shared), rel=1e-4)


def test_fillets_of_a_sharp_zigzag_share_its_sides():
    # Right angles 0.02 mm apart: T at half of a side, R = 0.01 mm tan 45 (derived); the gap would allow more
    steps = np.array([[0.02, 0.0], [0.0, 0.02]] * 50)
    path = cs.polyline(np.vstack([[0, 0], np.cumsum(steps, axis=0)]), 1)
    profile = speed_profile(path, 6000, Machine(300, 6000))
    assert profile.speed_at(path.joints[40:60]) == pytest.approx(math.sqrt(300 * 0.01), rel=1e-9)


def test_fillets_are_measured_in_space():
    # The same going down 1 in 1: sides longer by sqrt 2, directions 60 degrees apart, R = 0.01 sqrt 2 / tan 30; in the
    # plane the tool is slower than in space by sqrt 2 (derived)
    steps = np.array([[0.02, 0.0], [0.0, 0.02]] * 50)
    path = cs.polyline(np.vstack([[0, 0], np.cumsum(steps, axis=0)]), 0.02 * np.arange(101))
    profile = speed_profile(path, 6000, Machine(300, 6000, plunge_feed=6000))
    radius = 0.01 * math.sqrt(2) / math.tan(math.radians(30))
    assert profile.speed_at(path.joints[40:60]) == pytest.approx(math.sqrt(300 * radius / 2), rel=1e-9)


def test_one_circle_round_a_knot_of_four_corners():
    # Four corners of 5 degrees 0.001 mm apart are one of 20 (derived)
    at = np.radians(5 * np.arange(5))
    lengths = np.array([20, 0.001, 0.001, 0.001, 20])
    xy = np.cumsum(lengths[:, None] * np.column_stack([np.cos(at), np.sin(at)]), axis=0)
    path = cs.polyline(np.vstack([[0, 0], xy]), 1)
    turn = math.radians(20)
    radius = 0.01 * math.cos(turn / 2) / (1 - math.cos(turn / 2))
    profile = speed_profile(path, 6000, Machine(300, 6000, vertex_gap=0.01))
    assert profile.speed_at(path.joints[1:5]) == pytest.approx(math.sqrt(300 * radius), rel=1e-9)


def test_a_shared_circle_turns_with_the_arc_between_its_corners():
    # 50 degrees, an arc of 0.004 mm that turns by 40, 50 again: 140 in all (derived); the arc alone would allow 0.0057
    radius, turn = 0.004 / math.radians(40), math.radians(140)
    chord = 2 * radius * math.sin(math.radians(20))
    a, b = np.radians([70, 140])
    joint = np.array([20 + chord * math.cos(a), chord * math.sin(a)])
    path = cs.Path([[0, 0], [20, 0], joint, joint + 20 * np.array([math.cos(b), math.sin(b)])], 1, sweep=[0, 40, 0])
    shared = 0.01 * math.cos(turn / 2) / (1 - math.cos(turn / 2))
    profile = speed_profile(path, 6000, Machine(300, 6000, vertex_gap=0.01))
    assert profile.speed_at(path.joints[1:3]) == pytest.approx(math.sqrt(300 * shared), rel=1e-9)


def test_ramp_is_held_to_the_plunge_feed_going_down_only():
    # 1 in 2: 300 mm/min down is 600 in the plane (derived); up, only typed and maximum feed count
    down, machine = cs.line((0, 0), (40, 0), (0, 20)), Machine(500, 6000)
    assert 60 * speed_profile(down, 3000, machine).speed.max() == pytest.approx(600, rel=1e-12)
    assert 60 * speed_profile(down.reversed(), 3000, machine).speed.max() == pytest.approx(3000, rel=1e-12)
    free = replace(machine, plunge_feed=6000)
    profile = speed_profile(down, 3000, free)
    assert 60 * profile.speed.max() == pytest.approx(3000, rel=1e-12)
    # the axes gather speed along the slope: a / sqrt(1 + 1/4) in the plane
    assert profile.acceleration[0] == pytest.approx(500 / math.sqrt(1.25), rel=1e-12)


def test_maximum_feed_counts_in_space():
    # 3-4-5 slope: 4000 mm/min in space are 3200 in the plane (derived)
    path = cs.line((40, 0), (0, 0), (30, 0))
    assert 60 * speed_profile(path, 6000, Machine(500, 4000)).speed.max() == pytest.approx(3200, rel=1e-12)


def test_a_change_of_slope_is_a_corner():
    # Down and up again at 1 in 1: a right angle in a vertical plane, taken like one in the face (derived)
    machine = Machine(500, 6000, plunge_feed=6000, vertex_gap=0.01)
    path = cs.polyline([[0, 0], [20, 0], [40, 0]], [0, 20, 0])
    flat = math.sqrt(500 * 0.01 / (math.sqrt(2) - 1))
    assert float(speed_profile(path, 3000, machine).speed_at(20)) == pytest.approx(flat / math.sqrt(2), rel=1e-12)
    assert speed_profile(path, 3000, replace(machine, corners="halt")).speed_at(20) == 0


def test_tangent_joints_do_not_slow_even_under_halt():
    ring = cs.ring(20, 2)
    profile = speed_profile(ring, 1500, Machine(500, 6000, corners="halt"))
    assert profile.speed_at(ring.joints[1:-1]) == pytest.approx(25, rel=1e-12)
    assert profile.speed[0] == profile.speed[-1] == 0  # closed, yet at rest where it starts


def test_share_below():
    # Trapezoid to 50 mm/s at 500 mm/s^2: v < 0.7 x 50 within 0.49 x 2.5 mm of both ends of 20 mm (derived)
    profile = speed_profile(cs.line((0, 0), (20, 0), 1), 3000, Machine(500, 6000))
    assert profile.share_below(0.7, 3000) == pytest.approx(2 * 0.49 * 2.5 / 20, rel=1e-9)
    assert profile.share_below(1.0, 3000) == pytest.approx(2 * 2.5 / 20, rel=1e-9)
    assert profile.share_below(1.0, 3001) == 1
    assert speed_profile(cs.ring(5, 1), 6000, Machine(500, 6000)).share_below(0.49, 6000) < 0.2
    # sqrt(500 x 5) = 50 mm/s is below 0.51 of 100 all the way round
    assert speed_profile(cs.ring(5, 1), 6000, Machine(500, 6000)).share_below(0.51, 6000) == 1


# ----------------------------------------------------------------------------------------------
# Brute force: a fine grid, geometry measured on positions alone
# ----------------------------------------------------------------------------------------------


def point(path, s):
    return np.append(path.position(s), -path.depth_at(s))


def circumradius(p, q, r):
    a, b, c = np.hypot(*(q - r)), np.hypot(*(p - r)), np.hypot(*(p - q))
    area = abs((q[0] - p[0]) * (r[1] - p[1]) - (q[1] - p[1]) * (r[0] - p[0])) / 2
    return a * b * c / (4 * area) if area > 1e-11 else math.inf


def brute_corners(path, machine):
    """Speed in space allowed at each joint between pieces and on each piece, by loops over the definition."""
    joints, tiny = path.joints, 1e-8
    turns, along, bends, before = [], [0.0], [0.0], None
    for j, s in enumerate(joints[:-1]):
        length = joints[j + 1] - s
        ends = [point(path, s), point(path, s + tiny), point(path, s + length - tiny), point(path, s + length)]
        first, last = ends[1] - ends[0], ends[3] - ends[2]
        run = np.hypot(length, ends[3][2] - ends[0][2])
        along.append(along[-1] + run)
        if before is not None:
            u = before / np.linalg.norm(before)
            v = first / np.linalg.norm(first)
            turns.append(math.atan2(np.linalg.norm(np.cross(u, v)), float(u @ v)))
        middle = [path.position(s + length * f) for f in (0.1, 0.5, 0.9)]
        bends.append(bends[-1] + length / circumradius(*middle))
        before = last
    caps = [math.inf] * len(turns)
    joints_ = [j for j, t in enumerate(turns) if t > 1e-6]

    def circle(c, gap):
        best = 0.0
        for k in (1, 2, 3, 4):
            shared = joints_[max(0, c - k + 1) : c + k]
            total = sum(turns[i] for i in shared) + bends[shared[-1] + 1] - bends[shared[0] + 1]
            if total >= math.pi:
                continue
            half = (math.pi - total) / 2
            radius = gap * math.sin(half) / (1 - math.sin(half)) if gap < math.inf else math.inf
            for other in (c - k, c + k):
                if 0 <= other < len(joints_):
                    room = abs(along[joints_[other] + 1] - along[joints_[c] + 1]) / 2
                    radius = min(radius, room * math.tan(half))
            best = max(best, radius)
        spots = [point(path, joints[j + 1]) for j in joints_]
        for k in (2, 3, 4, 6, 8):
            if not (k <= c < len(joints_) - k) or bends[joints_[c + k] + 1] - bends[joints_[c - k] + 1] > 1e-6:
                continue
            lines = [(spots[c - k], spots[c]), (spots[c], spots[c + k])]
            off = 0.0
            for (a, b), inside in zip(lines, (spots[c - k + 1 : c], spots[c + 1 : c + k]), strict=True):
                off = max([off, *(np.linalg.norm(np.cross(b - a, q - a)) / np.linalg.norm(b - a) for q in inside)])
            if off <= 0.0025:
                u, v = (b - a for a, b in lines)
                half = (math.pi - math.atan2(np.linalg.norm(np.cross(u, v)), float(u @ v))) / 2
                radius = min(np.linalg.norm(u), np.linalg.norm(v)) / 2 * math.tan(half)
                most = gap * math.sin(half) / (1 - math.sin(half)) if gap < math.inf else math.inf
                best = max(best, min(radius, most))
        return best

    def gap_side(c, k):
        return along[joints_[c + k] + 1] - along[joints_[c + k - 1] + 1] if 0 < c + k < len(joints_) else math.inf

    def is_corner(c):
        j = joints_[c]
        if math.degrees(turns[j]) > 30:
            return True
        gap = machine.vertex_gap
        at = [point(path, np.interp(along[j + 1] + off, along, joints)) for off in (-gap, 0, gap)]
        u, v = at[1] - at[0], at[2] - at[1]
        return math.degrees(math.atan2(np.linalg.norm(np.cross(u, v)), float(u @ v))) > 30 + 1e-6

    for c, j in enumerate(joints_):
        corner, radius = is_corner(c), circle(c, math.inf if machine.corners == "free" else machine.vertex_gap)
        if machine.corners == "halt":
            # the circle that touches half-way to the nearer neighbour passes the vertex farther than the gap
            half = min(gap_side(c, 0), gap_side(c, 1)) / 2
            if corner or half * math.tan(turns[j] / 4) > machine.vertex_gap:
                radius = 0.0
        elif machine.corners == "free" and corner:
            radius = math.inf
        caps[j] = math.sqrt(machine.acceleration * radius)
    sides = [math.inf] * len(bends)
    for c in range(1, len(joints_)):
        left, right = joints_[c - 1], joints_[c]
        if max(turns[left], turns[right]) > math.radians(30):
            continue
        if gap_side(c, 0) <= 2 * min(gap_side(c, -1), gap_side(c, 1)):
            for i in range(left + 1, right + 1):
                if bends[i + 1] - bends[i] < 1e-6:
                    sides[i] = math.sqrt(machine.acceleration * max(circle(c - 1, math.inf), circle(c, math.inf)))
    return caps, sides


def brute_time(path, feed, machine, step=2e-3):
    """Time of the forward and backward pass over a fine grid along the way in space; stations, speed in the face."""
    corners, sides = brute_corners(path, machine)
    grid, limit, gaps, flat = [0.0], [0.0], [], []
    for j in range(len(path.joints) - 1):
        s0, s1 = path.joints[j], path.joints[j + 1]
        slope = float(path.depth_at(s1) - path.depth_at(s0)) / (s1 - s0)
        stretch = math.hypot(1, slope)
        radius = circumradius(*(path.position(s0 + (s1 - s0) * f) for f in (0.1, 0.5, 0.9)))
        cap = min(feed / 60 * stretch, machine.max_feed / 60, math.sqrt(machine.acceleration * radius) * stretch)
        if slope > 0:
            cap = min(cap, machine.plunge_feed / 60 / slope * stretch)
        cap = min(cap, sides[j])
        # ten steps at least for a ramp from rest to the cap, within reason
        count = math.ceil((s1 - s0) * stretch / min(step, max(cap**2 / machine.acceleration / 20, step / 20)))
        limit[-1] = min(limit[-1], cap, math.inf if j == 0 else corners[j - 1])
        grid += list(np.linspace(s0, s1, count + 1)[1:])
        limit += [cap] * count
        gaps += [(s1 - s0) * stretch / count] * count
        flat += [1 / stretch] * count
    limit[-1] = 0.0
    v = limit[:]
    for i in range(1, len(v)):
        v[i] = min(v[i], math.sqrt(v[i - 1] ** 2 + 2 * machine.acceleration * gaps[i - 1]))
    for i in range(len(v) - 2, -1, -1):
        v[i] = min(v[i], math.sqrt(v[i + 1] ** 2 + 2 * machine.acceleration * gaps[i]))
    time = float(np.sum(2 * np.array(gaps) / (np.array(v[:-1]) + np.array(v[1:]))))
    return time, np.array(grid), np.array(v) * np.array([*flat, flat[-1]])


@st.composite
def machines(draw, *, rules=("circle", "halt", "free")):
    return Machine(
        draw(st.sampled_from([150, 500, 2000])),
        draw(st.sampled_from([1500, 8000])),
        corners=draw(st.sampled_from(rules)),
        vertex_gap=draw(st.sampled_from([0.003, 0.01, 0.1])),
        plunge_feed=draw(st.sampled_from([300, 2000])),
    )


feeds = st.sampled_from([300, 1000, 3000, 6000])


@steadily(60)
@given(paths(pieces=6), feeds, machines())
def test_against_brute_force(path, feed, machine):
    profile = speed_profile(path, feed, machine)
    slow, grid, v = brute_time(path, feed, machine)
    # The grid's motion is one of those allowed: never faster, and slower only by the tips of its triangles
    assert profile.duration <= slow * (1 + 1e-6)
    assert profile.duration == pytest.approx(slow, rel=5e-4)
    assert profile.speed_at(grid) == pytest.approx(v, rel=1e-3, abs=0.02 * math.sqrt(machine.acceleration / 500) + 0.05)


@steadily(15)
@given(st.lists(st.tuples(reals(0.02, 0.4), reals(-40, 40)), min_size=5, max_size=40), machines(rules=("circle",)))
def test_short_chords_against_brute_force(chords, machine):
    lengths, turns = np.array(chords).T
    at = np.cumsum(np.radians(turns))
    xy = np.cumsum(lengths[:, None] * np.column_stack([np.cos(at), np.sin(at)]), axis=0)
    path = cs.polyline(np.vstack([[0, 0], xy]), 1)
    slow, *_ = brute_time(path, 3000, machine, step=5e-4)
    assert speed_profile(path, 3000, machine).duration == pytest.approx(slow, rel=3e-4)


# ----------------------------------------------------------------------------------------------
# What must hold of any motion (textbook kinematics)
# ----------------------------------------------------------------------------------------------


@steadily(150)
@given(paths(pieces=5), feeds, machines())
def test_within_every_limit(path, feed, machine):
    profile = speed_profile(path, feed, machine)
    v, t, s, a = profile.speed, profile.time, profile.station, profile.acceleration
    tol = 1 + 1e-9
    assert (v >= 0).all()
    assert (v <= feed / 60 * tol).all()
    assert v[0] == v[-1] == 0
    assert (np.abs(a) <= machine.acceleration * tol).all()
    middle = (s[:-1] + s[1:]) / 2
    kappa = np.abs(path.curvature(middle))
    slope = (path.depth_at(s[1:]) - path.depth_at(s[:-1])) / np.diff(s)
    for speed in (v[:-1], profile.arrival):
        assert (speed**2 * kappa <= machine.acceleration * tol).all()
        assert (speed * np.hypot(1, slope) <= machine.max_feed / 60 * (1 + 1e-6)).all()
        assert (speed * slope <= machine.plunge_feed / 60 * (1 + 1e-6)).all()
    # stretches are what they say: v1 = v0 + a t, mean speed times time is the way
    dt = np.diff(t)
    assert (dt > 0).all()
    assert profile.arrival == pytest.approx(v[:-1] + a * dt, rel=1e-9, abs=1e-9)
    assert np.diff(s) == pytest.approx((v[:-1] + profile.arrival) / 2 * dt, rel=1e-7, abs=1e-12)
    # the speed in space runs on, also where the slope changes
    space = np.append(v[:-1] * np.hypot(1, slope), 0.0)
    assert profile.arrival * np.hypot(1, slope) == pytest.approx(space[1:], rel=1e-6, abs=1e-9)
    assert profile.duration >= path.length / (feed / 60) * (1 - 1e-12)
    # joints are among the stations to the last bit
    assert np.isin(path.joints, s).all()
    assert len(a) <= 3 * len(path.pieces)


@steadily(60)
@given(paths(pieces=5), feeds, machines())
def test_time_falls_with_acceleration_feed_and_gap(path, feed, machine):
    base = speed_profile(path, feed, machine).duration * (1 + 1e-12)
    assert speed_profile(path, feed * 1.5, machine).duration <= base
    for better in (
        {"acceleration": machine.acceleration * 1.7},
        {"max_feed": machine.max_feed * 1.3},
        {"plunge_feed": machine.plunge_feed * 1.3},
        {"corners": "free"},
        # otherwise the gap says what is a corner and what a curve in chords
        {"vertex_gap": machine.vertex_gap * (2 if machine.corners == "circle" else 1)},
    ):
        assert speed_profile(path, feed, replace(machine, **better)).duration <= base
    assert speed_profile(path, feed, replace(machine, corners="halt")).duration >= base * (1 - 1e-9)


@steadily(60)
@given(paths(pieces=4, level=True, lengths=(2.0, 6.0)), feeds)
def test_without_corners_and_with_strong_axes_the_time_tends_to_length_over_feed(path, feed):
    # What is left is one ramp up and one down: exactly v / a, once all arcs allow the feed
    speed = feed / 60
    assume((np.abs(path.pieces[:, 3]) * speed**2 < 12_500).all() and path.length > speed**2 / 12_500)
    for a in (12_500, 50_000):
        profile = speed_profile(path, feed, Machine(a, 8000, corners="free"))
        assert profile.duration - path.length / speed == pytest.approx(speed / a, rel=1e-6)


@steadily(60)
@given(paths(pieces=5), feeds, machines())
def test_reversed_path_takes_the_same_time(path, feed, machine):
    # but for the plunge feed, which knows up from down
    even = replace(machine, plunge_feed=60_000)
    there, back = speed_profile(path, feed, even), speed_profile(path.reversed(), feed, even)
    assert back.duration == pytest.approx(there.duration, rel=1e-9)
    s = np.linspace(0, path.length, 50)
    assert back.speed_at(path.length - s) == pytest.approx(there.speed_at(s), rel=1e-6, abs=1e-5)


@steadily(40)
@given(paths(pieces=4), feeds, machines(), reals(0.05, 0.8))
def test_vertices_along_a_side_change_nothing(path, feed, machine, pitch):
    fine = speed_profile(path.refined(pitch), feed, machine)
    assert fine.duration == pytest.approx(speed_profile(path, feed, machine).duration, rel=1e-9)


@steadily(40)
@given(paths(pieces=4), feeds, machines(), reals(0.5, 3))
def test_similarity(path, feed, machine, factor):
    # Lengths, speeds and accelerations times the factor: the same times (dimensional analysis)
    assume(100 <= feed * factor <= 60_000)
    other = Machine(
        machine.acceleration * factor,
        machine.max_feed * factor,
        corners=machine.corners,
        vertex_gap=machine.vertex_gap * factor,
        plunge_feed=machine.plunge_feed * factor,
    )
    scaled = speed_profile(path.scaled(factor), feed * factor, other)
    assert scaled.duration == pytest.approx(speed_profile(path, feed, machine).duration, rel=1e-9)


@steadily(40)
@given(paths(pieces=4), feeds, machines(), reals(-180, 180))
def test_turning_and_mirroring_change_nothing(path, feed, machine, angle):
    base = speed_profile(path, feed, machine).duration
    assert speed_profile(path.rotated(angle), feed, machine).duration == pytest.approx(base, rel=1e-9)
    assert speed_profile(path.mirrored(), feed, machine).duration == pytest.approx(base, rel=1e-9)


@steadily(60)
@given(paths(pieces=5), feeds, machines(), st.lists(reals(0, 1), min_size=1, max_size=20))
def test_time_and_station_are_inverse(path, feed, machine, shares):
    profile = speed_profile(path, feed, machine)
    s = np.sort(np.array(shares)) * path.length
    t = profile.time_at(s)
    assert (np.diff(t) >= 0).all()
    assert profile.station_at(t) == pytest.approx(s, abs=1e-7)
    # the speed is the slope of the way over time
    t0 = (np.array(shares) * 0.99 + 0.004) * profile.duration
    h = 1e-6 * profile.duration
    rate = (profile.station_at(t0 + h) - profile.station_at(t0 - h)) / (2 * h)
    assert rate == pytest.approx(
        profile.speed_at(profile.station_at(t0)), rel=1e-3, abs=1e-3 + machine.acceleration * h
    )


@steadily(40)
@given(paths(pieces=5), feeds, machines(), reals(0.05, 1))
def test_share_below_against_counting(path, feed, machine, fraction):
    profile = speed_profile(path, feed, machine)
    s = (np.arange(20_000) + 0.5) / 20_000 * path.length
    counted = float(np.mean(profile.speed_at(s) < fraction * feed / 60 * (1 - 1e-9)))
    assert profile.share_below(fraction, feed) == pytest.approx(counted, abs=2e-3)


def test_pieces_and_ends(hook):
    path, profile = hook
    rows = profile.pieces
    assert rows.shape == (len(profile.acceleration), 4)
    for column, values in zip(rows.T, (profile.time, profile.station, profile.speed), strict=False):
        assert (column == values[:-1]).all()
    assert (rows[:, 3] == profile.acceleration).all()
    # each row leads on to the next
    dt = np.diff(profile.time)
    assert rows[:-1, 1] + dt[:-1] * (rows[:-1, 2] + rows[:-1, 3] * dt[:-1] / 2) == pytest.approx(rows[1:, 1], abs=1e-12)
    assert profile.time_at(0) == 0
    assert profile.speed_at(path.length) == 0
    assert float(profile.time_at(path.length)) == profile.duration
    assert profile.speed_at([[1.0, 2.0]]).shape == (1, 2)
    assert isinstance(profile, SpeedProfile)
    assert repr(profile) == "<SpeedProfile 33.1 mm in 0.68 s, fastest 6000 mm/min, 6 stretches>"
    with pytest.raises(ValueError, match="read-only"):
        profile.speed[0] = 1


def test_speed_near_rest_keeps_its_digits():
    # sqrt(2 a d) down to a hundred-millionth of a millimetre from either end (textbook kinematics)
    profile = speed_profile(cs.line((0, 0), (0.7, 0), 1), 6000, Machine(333, 6000))
    end = float(profile.station[-1])
    d = np.geomspace(1e-8, 1e-4, 9)
    assert profile.speed_at(d) == pytest.approx(np.sqrt(666 * d), rel=1e-12)
    assert profile.speed_at(end - d) == pytest.approx(np.sqrt(666 * (end - (end - d))), rel=1e-12)


# ----------------------------------------------------------------------------------------------
# Dial
# ----------------------------------------------------------------------------------------------


def test_dial_by_hand():
    dial = Dial([1, 2, 4], [9_700, 13_150, 22_350])
    assert dial.speed(1.5) == pytest.approx(11_425)
    assert dial.speed(3) == pytest.approx(17_750)
    assert dial.position(17_750) == pytest.approx(3)
    assert dial.speed_range(2) == pytest.approx((11_835, 14_465))


def test_dial_from_tones():
    # Two flutes sound twice a turn, at rpm z / 60 (derived): 330 Hz at 9900 rpm
    dial = Dial.from_tones([1, 4], [330, 735], 2, uncertainty=0.02)
    assert dial.speeds == pytest.approx((9_900, 22_050))
    assert dial.speed_range(1) == pytest.approx((9_702, 10_098))
    assert Dial.from_tones([1, 4], [165, 367.5], 1).speeds == pytest.approx((9_900, 22_050))


@st.composite
def dials(draw):
    count = draw(st.integers(2, 6))
    marks = np.cumsum([draw(reals(0.1, 2)) for _ in range(count)])
    rpm = 5000 + np.cumsum([draw(reals(100, 6000)) for _ in range(count)])
    return Dial(list(marks), list(rpm[:: draw(st.sampled_from([1, -1]))]), uncertainty=draw(reals(0, 0.5)))


@steadily(80)
@given(dials(), reals(0, 1))
def test_dial_there_and_back(dial, share):
    p = dial.positions[0] + share * (dial.positions[-1] - dial.positions[0])
    p = min(max(p, dial.positions[0]), dial.positions[-1])
    speed = dial.speed(p)
    assert min(dial.speeds) <= speed <= max(dial.speeds)
    assert dial.position(speed) == pytest.approx(p, abs=1e-6)
    low, high = dial.speed_range(p)
    assert low <= speed <= high
    assert high - low == pytest.approx(2 * dial.uncertainty * speed)
    for mark, read in zip(dial.positions, dial.speeds, strict=True):
        assert dial.speed(mark) == pytest.approx(read, rel=1e-12)


def test_dial_and_machine_compare_and_hash():
    one, two = (Machine(300, 4000, dial=Dial(np.array([1, 2]), [9_150, 12_700]), travel=[300, 300, 60]) for _ in "ab")
    assert one == two
    assert hash(one) == hash(two)
    assert one.travel == (300.0, 300.0, 60.0)
    assert one != replace(two, acceleration=301)


@pytest.mark.parametrize("position", [0.99, 6.01])
def test_a_dial_is_not_extrapolated(position):
    with pytest.raises(cs.DomainError, match=r"position must lie in \[1, 6\].*not extrapolated"):
        Dial([1, 6], [9_700, 23_600]).speed(position)


# ----------------------------------------------------------------------------------------------
# Bad input
# ----------------------------------------------------------------------------------------------

LINE = cs.line((0, 0), (10, 0), 1)
GOOD = Machine(300, 3000)


@pytest.mark.parametrize(
    ("call", "message"),
    [
        (lambda: Machine(5, 3000), r"acceleration must lie in \[10, 50000\] mm/s\^2, got 5"),
        (lambda: Machine("300", 3000), "acceleration must be a number"),
        (lambda: Machine(300, 40), r"max_feed must lie in \[100, 60000\] mm/min, got 40; were inches per minute meant"),
        (lambda: Machine(300, 3000, plunge_feed=12), "plunge_feed .* got 12; were inches per minute meant"),
        (lambda: Machine(300, 3000, rapid_feed=math.nan), "rapid_feed must lie in"),
        (lambda: Machine(300, 3000, corners="round"), "corners must be one of 'circle', 'halt', 'free'"),
        (lambda: Machine(300, 3000, vertex_gap=0), r"vertex_gap must lie in \(0, 1\] mm, got 0"),
        (lambda: Machine(300, 3000, travel=(300, 200)), "travel must be three lengths"),
        (lambda: Machine(300, 3000, travel=(300, 200, 0)), "travel must be three lengths"),
        (lambda: Machine(300, 3000, dial={1: 9000}), "dial must be a Dial or None, got dict"),
        (lambda: Machine(300, 3000, stiffness=0), r"stiffness must lie in \[0.1, 100000\] N/mm, got 0"),
        (lambda: GOOD.corner_feed(181), r"angle must lie in \[0, 180\] deg, got 181"),
        (lambda: speed_profile([[0, 0]], 1000, GOOD), "path must be a Path, got list"),
        (lambda: speed_profile(LINE, 1000, None), "machine must be a Machine, got NoneType"),
        (lambda: speed_profile(LINE, 40, GOOD), "feed must lie in .* got 40; were inches per minute meant"),
        (lambda: speed_profile(LINE, 1000, GOOD).speed_at(10.1), r"station must be finite and lie in .* got 10.1"),
        (lambda: speed_profile(LINE, 1000, GOOD).time_at(-1), "station must be finite and lie in"),
        (lambda: speed_profile(LINE, 1000, GOOD).station_at(99), "time must be finite and lie in"),
        (lambda: speed_profile(LINE, 1000, GOOD).share_below(0, 1000), r"fraction must lie in \(0, 1\], got 0"),
        (lambda: Dial([1], [9_150]), "positions and speeds must be of one length, at least 2 readings, got 1 and 1"),
        (lambda: Dial([1, 2, 3], [9_150, 12_700]), "of one length, at least 2 readings, got 3 and 2"),
        (lambda: Dial([1, 1], [9_150, 12_700]), "positions must be strictly increasing, got 1, 1"),
        (lambda: Dial([1, 2, 3], [9_150, 12_700, 11_300]), "speeds must rise, or fall, strictly"),
        (lambda: Dial([1, 2, 3], [9_150, 9_150, 11_300]), "speeds must rise, or fall, strictly"),
        (lambda: Dial([1, 2], [9, 24]), r"speeds must lie in \[1000, 100000\] rpm, got 9; were thousands of rpm meant"),
        (lambda: Dial([1, 2], [9_150, -1]), r"speeds must lie in \[1000, 100000\] rpm, got -1$"),
        (lambda: Dial([1, 2], [9_150, math.inf]), "speeds must be finite"),
        (lambda: Dial([1, 2], [9_150, 12_700], uncertainty=10), r"uncertainty must lie in \[0, 0.5\], got 10"),
        (lambda: Dial([1, 2], [9_150, 12_700]).position(8000), r"speed must lie in \[9150, 12700\] rpm, got 8000"),
        (lambda: Dial.from_tones([1, 2], [330, 8000], 2), r"tones must lie in \[33.3333, 3333.33\] Hz, got 8000"),
        (lambda: Dial.from_tones([1, 2], [330, 735], 0), "flutes must lie in"),
    ],
)
def test_bad_input(call, message):
    with pytest.raises(cs.DomainError, match=message):
        call()
