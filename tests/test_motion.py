"""The tool's motion in space: vertical pieces, dwells, feeds per piece; one motion however the path is cut up."""

import math

import motions
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from test_machine import brute_time, machines

import chipsim as cs
from chipsim.scene.machine import Machine
from chipsim.testing.strategies import paths, reals, steadily

BIT = cs.VBit(60, 12.7, 2)
HELIX = cs.Path([[1.5, 0], [-1.5, 0]] * 2 + [[1.5, 0]], np.linspace(0, 2, 5), sweep=[-180] * 4)
STAY = cs.Path(
    [[0, 0], [0, 0], [10, 0], [10, 0], [10, 0], [20, 5], [20, 5]],
    [0, 1, 1, 0.5, 2, 2, 0],
    dwell=[0, 0.1, 0, 0.2, 0, 0, 0.3],
)
"""Plunge, dwell, line, retract half-way, dwell, plunge, line, retract, dwell."""


def cut(path, feed=1500, **more):
    return cs.Cut(BIT, path, 18000, feed, **more)


def at_times(one, times):
    """(x, y, depth, face speed, descent, station) of a cut's motion at times, from its rows."""
    m = one.motion
    k = np.clip(np.searchsorted(m[:, 0], times, side="right") - 1, 0, len(m) - 1)
    tau = np.minimum(times - m[k, 0], m[k, 10])
    ds = tau * (m[k, 2] + m[k, 3] * tau / 2)
    half = m[k, 7] * ds / 2
    chord, along = ds * np.sinc(half / np.pi), m[k, 6] + half
    return np.column_stack(
        [
            m[k, 4] + chord * np.cos(along),
            m[k, 5] + chord * np.sin(along),
            m[k, 8] + tau * (m[k, 12] + m[k, 13] * tau / 2),
            m[k, 2] + m[k, 3] * tau,
            m[k, 12] + m[k, 13] * tau,
            m[k, 1] + ds,
        ]
    )


def speed_in_space(one):
    m = one.motion
    ends = [np.hypot(m[:, 2] + m[:, 3] * t, m[:, 12] + m[:, 13] * t) for t in (0.0, m[:, 10])]
    return np.maximum(*ends)


# ----------------------------------------------------------------------------------------------
# Numbers
# ----------------------------------------------------------------------------------------------


def test_a_feed_along_the_path_in_space_is_shared_between_the_face_and_the_descent():
    # F cos b, F sin b, L / F; worked out apart from the library
    ramp = cut(cs.line((0, 0), (3, 0), (0, 2.5)), 2500, feed_along="space")
    assert ramp.duration == pytest.approx(0.0937229961108799, rel=1e-14)
    assert ramp.motion[0, 2] == pytest.approx(32.009219983224, rel=1e-13)
    assert ramp.motion[0, 12] == pytest.approx(26.67434998602, rel=1e-13)
    round_about = cut(HELIX, feed_along="space")
    assert round_about.duration == pytest.approx(0.758214490433114, rel=1e-14)
    assert round_about.motion[:, 2] == pytest.approx(24.8604532877911, rel=1e-13)
    assert round_about.feed_per_tooth == pytest.approx(0.0414340888129851, rel=1e-13)


@pytest.mark.parametrize(("depth", "seconds"), [(2.5, 0.283333333333333), (0.2, 0.0516397779494322)])
def test_a_plunge_runs_from_rest_to_rest_at_the_plunge_feed(depth, seconds):
    machine = Machine(300, 6000, plunge_feed=600)
    assert cut(cs.dot((0, 0), depth), machine=machine).duration == pytest.approx(seconds, rel=1e-12)


def test_a_helix_is_held_by_the_pull_in_the_face():
    fast = cut(HELIX, 60_000, feed_along="space", machine=Machine(300, 60_000, plunge_feed=60_000))
    assert speed_in_space(fast).max() == pytest.approx(21.332277402615, rel=1e-12)


def test_a_ramp_is_held_by_the_plunge_feed():
    path = cs.line((0, 0), (30, 0), (0, 25))
    held = cut(path, 2500, feed_along="space", machine=Machine(3000, 60_000, plunge_feed=900))
    assert speed_in_space(held).max() == pytest.approx(23.43074902772, rel=1e-12)


def test_feed_in_the_face_and_in_space_are_one_motion_where_they_mean_the_same():
    path = cs.line((0, 0), (3, 0), (0, 2.5))
    space = cut(path, 2500, feed_along="space")
    face = cut(path, float(space.face_feeds[0]))
    np.testing.assert_allclose(face.motion, space.motion, rtol=1e-14, atol=1e-14)
    assert face.feeds == pytest.approx([2500], rel=1e-14)


WRITTEN = {
    "plunge, dwell, line, lift": (
        "0 0 0 ; L 0 0 1.5 600 ; W 0.05 ; L 8 0 1.5 3000 ; L 8 0 0 900",
        cs.Path([[0, 0], [0, 0], [8, 0], [8, 0]], [0, 1.5, 1.5, 0], dwell=[0, 0.05, 0, 0]),
        [600, 3000, 900],
    ),
    "helix down and on": (
        "1.5 0 0.5 ; A 0 0 -180 1 1500 ; A 0 0 -180 1.5 1200 ; L 1.5 4 1.5 1200 ; W 0.1",
        cs.Path(
            [[1.5, 0], [-1.5, 0], [1.5, 0], [1.5, 4]], [0.5, 1, 1.5, 1.5], sweep=[-180, -180, 0], dwell=[0, 0, 0, 0.1]
        ),
        [1500, 1200, 1200],
    ),
    "dot and lift": ("2 -1 0 ; L 2 -1 2 300 ; L 2 -1 0 800", cs.Path([[2, -1]] * 3, [0, 2, 0]), [300, 800]),
}


@pytest.mark.parametrize("name", WRITTEN)
def test_the_motion_is_that_of_pieces_laid_out_one_by_one(name):
    text, path, feeds = WRITTEN[name]
    rows = motions.table(motions.pieces_of(text))
    found = cut(path, feeds, feed_along="space").motion.copy()
    turns = 2 * np.pi * np.round((rows[0, 6] - found[0, 6]) / (2 * np.pi))
    found[:, 6] += turns
    np.testing.assert_allclose(found, rows, rtol=1e-12, atol=1e-12)
    # from rest to rest, each piece for itself: a dwell at every vertex stops the tool
    waits = cs.Path(path.xy, path.depth, sweep=path.sweep, dwell=np.maximum(path.dwell, [0, *[1e-9] * len(path.drop)]))
    stops = cut(waits, feeds, feed_along="space", machine=Machine(3000, 60_000, plunge_feed=60_000))
    rows = motions.table(motions.pieces_of(text, 3000))
    assert stops.duration == pytest.approx(rows[-1, 0] + rows[-1, 10], rel=1e-7)


# ----------------------------------------------------------------------------------------------
# What a stay in the wood is made of
# ----------------------------------------------------------------------------------------------


def test_the_rows_of_a_stay_follow_each_other():
    for machine in (None, Machine(500, 3000)):
        one = cut(STAY, machine=machine)
        m = one.motion
        np.testing.assert_allclose(m[1:, 0], (m[:, 0] + m[:, 10])[:-1], rtol=0, atol=1e-12)
        end = at_times(one, m[1:, 0] - 1e-13)
        np.testing.assert_allclose(end[:, :3], m[1:, [4, 5, 8]], rtol=0, atol=1e-10)
        np.testing.assert_allclose(end[:, 5], m[1:, 1], rtol=0, atol=1e-10)
        stands = (m[:, 2] == 0) & (m[:, 3] == 0) & (m[:, 12] == 0) & (m[:, 13] == 0)
        assert m[stands, 10] == pytest.approx([0.1, 0.2, 0.3])
        upright = (m[:, 11] == 0) & ~stands
        assert not m[upright][:, [2, 3, 7, 9]].any()
        # the heading stays while the axis does; before the first move it is that of the move
        assert m[m[:, 4] == 0][:, 6] == pytest.approx(0)
        assert m[-1, 6] == pytest.approx(math.atan2(5, 10))
        assert one.duration == pytest.approx(m[-1, 0] + m[-1, 10])


def test_one_number_plunges_at_the_plunge_feed_and_lifts_at_the_feed():
    assert cut(STAY).feeds == pytest.approx([300, 1500, 1500, 300, 1500, 1500])
    assert cut(STAY, plunge_feed=700).feeds == pytest.approx([700, 1500, 1500, 700, 1500, 1500])
    assert cut(STAY, machine=Machine(500, 3000, plunge_feed=450)).feeds[0] == 450
    own = cut(STAY, [200, 1500, 900, 250, 1400, 800])
    assert own.feeds == pytest.approx([200, 1500, 900, 250, 1400, 800])
    assert own.feed == (200, 1500, 900, 250, 1400, 800)
    assert own.largest_feed == 1500
    assert own.feed_per_tooth == pytest.approx(1500 / 36000)
    assert "1400 to 1500 mm/min (55 to 59 in/min)" in repr(own)
    assert "1400 to 1500 mm/min (55 to 59 in/min), 0.039 to 0.042 mm (1.5 to 1.6 thou) per tooth" in own.caption()
    assert hash(own) == hash(cut(STAY, (200, 1500, 900, 250, 1400, 800)))
    assert own != cut(STAY)


def test_feeds_that_do_not_differ_are_one_feed():
    path = cs.polyline([[0, 0], [5, 0], [5, 5]], 1)
    assert cut(path, [1500, 1500]) == cut(path)
    # with a plunge among the pieces the number for each says more
    assert cut(STAY, [1500] * 6).feeds[0] == 1500


def test_without_a_machine_a_feed_changes_at_once():
    path = cs.polyline([[0, 0], [5, 0], [10, 0]], 1)
    profile = cut(path, [1500, 600]).speed_profile
    assert profile.speed_at([0, 4.999, 5, 10]) == pytest.approx([25, 25, 10, 10])
    assert profile.typed_at([0, 4.999, 5, 10]) == pytest.approx([25, 25, 10, 10])
    assert profile.duration == pytest.approx(5 / 25 + 5 / 10)
    assert profile.share_below(0.99) == 0
    assert profile.share_below(0.99, 1500) == pytest.approx(0.5)


def test_stations_stand_while_the_tool_does():
    for machine in (None, Machine(500, 3000)):
        one = cut(STAY, machine=machine)
        profile = one.speed_profile
        assert set(STAY.joints) <= set(profile.station)
        assert (np.diff(profile.station) >= 0).all()
        assert (np.diff(profile.time) > 0).all()
        # it goes on when all that is to be done there is done, and arrives before the last lift
        assert profile.station_at(profile.time_at(0) - 0.05) == 0
        assert profile.time_at(0) >= 0.1 + 1 / 5 - 1e-12
        assert profile.station_at(profile.time_at(10) - 0.1) == pytest.approx(10)
        assert profile.time_at(STAY.length) < profile.duration - 0.3
        assert profile.station_at(profile.duration) == pytest.approx(STAY.length)
        assert np.isfinite(profile.speed_at(np.linspace(0, STAY.length, 50))).all()
    dot = cut(cs.dot((1, 2), 1.5, dwell=0.1)).speed_profile
    assert (dot.duration, dot.share_below(0.9)) == (pytest.approx(0.4), 0.0)
    assert dot.time_at(0) == 0
    assert dot.speed_at(0) == 0


def test_corners_between_tangents_in_space():
    machine = Machine(500, 6000, plunge_feed=6000)
    # a plunge into a level line is a right angle, as one in the face
    rises = cs.Path([[0, 0], [0, 0], [10, 0]], [0, 10, 10])
    rows = cut(rises, [3000, 3000], machine=machine).motion
    corner = int(np.argmax(rows[:, 8] >= 10 - 1e-12))
    assert 60 * rows[corner, 2] == pytest.approx(machine.corner_feed(90), rel=1e-12)
    # a reversal is a stop under every rule, a dwell as well
    for rule in ("circle", "halt", "free"):
        rule_machine = Machine(500, 6000, corners=rule, plunge_feed=6000)
        down_up = cut(cs.Path([[0, 0]] * 3, [0, 3, 0]), [900, 900], machine=rule_machine)
        assert down_up.duration == pytest.approx(2 * cut(cs.dot((0, 0), 3), [900], machine=rule_machine).duration)
        straight = cs.Path([[0, 0], [5, 0], [10, 0]], 1, dwell=[0, 0.25, 0])
        halves = 2 * cut(cs.line((0, 0), (5, 0), 1), machine=rule_machine).duration
        assert cut(straight, machine=rule_machine).duration == pytest.approx(halves + 0.25)


@steadily(25)
@given(paths(pieces=4), st.sampled_from([600, 3000]), machines())
def test_a_stay_against_brute_force(path, feed, machine):
    """Between dwells, plunge, path and lift each run from rest to rest."""
    if path.closed:
        path = cs.Path(path.xy, path.depth, sweep=path.sweep[:-1])
    xy = np.vstack([path.xy[:1], path.xy, path.xy[-1:]])
    depth = np.concatenate([[0], path.depth, [0]])
    dwell = np.zeros(len(xy))
    dwell[[1, -2]] = 0.125, 0.25
    stay = cs.Path(xy, depth, sweep=[0, *path.sweep, 0], dwell=dwell)
    slow, *_ = brute_time(path, feed, machine)

    def rest_to_rest(length, typed):
        v, a = typed / 60, machine.acceleration
        return length / v + v / a if v * v <= a * length else 2 * math.sqrt(length / a)

    both = rest_to_rest(depth[1], min(machine.plunge_feed, machine.max_feed))
    both += rest_to_rest(depth[-2], min(feed, machine.max_feed))
    found = cut(stay, feed, machine=machine).duration
    assert found == pytest.approx(slow + both + 0.375, rel=5e-4)


# ----------------------------------------------------------------------------------------------
# What changes nothing
# ----------------------------------------------------------------------------------------------


@st.composite
def stays(draw):
    """Paths with plunges, lifts and dwells at their vertices, and a feed for each piece."""
    base = draw(paths(pieces=3, closed=False))
    xy, depth, sweep, dwell = [], [], [], []
    for k, (p, d) in enumerate(zip(base.xy, base.depth, strict=True)):
        chain = [d]
        if draw(st.booleans()):
            chain = [draw(st.sampled_from([0.0, 0.2 * d, d + 0.6])), *chain]
        if draw(st.booleans()):
            chain = [*chain, draw(st.sampled_from([0.0, 0.3 * d, d + 0.4]))]
        for each in chain:
            xy.append(p)
            depth.append(each)
            dwell.append(draw(st.sampled_from([0.0, 0.0, 0.05])))
        sweep += [0.0] * (len(chain) - 1) + ([base.sweep[k]] if k < len(base.sweep) else [])
    path = cs.Path(xy, depth, sweep=sweep, dwell=dwell)
    return path, [draw(st.sampled_from([300.0, 900.0, 2400.0])) for _ in path.drop]


any_machine = st.one_of(st.none(), machines())


@steadily(60)
@given(stays(), any_machine, st.sampled_from(["face", "space"]), reals(0.003, 2.0))
def test_a_path_cut_into_pieces_is_one_motion(stay, machine, along, pitch):
    path, feeds = stay
    whole = cut(path, feeds, machine=machine, feed_along=along)
    extent = np.where(path.pieces[:, 4] > 0, path.pieces[:, 4], np.abs(path.drop))
    inside = [s * np.arange(1, n) / n for s, n in zip(extent, np.ceil(extent / pitch).astype(int), strict=True)]
    parts = whole.split(inside)
    assert len(parts.path.drop) == sum(map(len, inside)) + len(feeds)
    assert parts.duration == pytest.approx(whole.duration, rel=1e-12)
    times = np.linspace(0, whole.duration, 301)[:-1]
    # off the instants at which a speed jumps
    times = times[np.abs(times[:, None] - whole.motion[:, 0]).min(axis=1) > 1e-9]
    np.testing.assert_allclose(
        at_times(parts, times)[:, [0, 1, 2, 5]], at_times(whole, times)[:, [0, 1, 2, 5]], atol=1e-12
    )
    np.testing.assert_allclose(at_times(parts, times)[:, 3:5], at_times(whole, times)[:, 3:5], atol=1e-9)


@steadily(40)
@given(stays(), any_machine)
def test_time_turned_round_is_the_path_reversed(stay, machine):
    path, feeds = stay
    if machine is not None:
        machine = Machine(machine.acceleration, machine.max_feed, corners=machine.corners, plunge_feed=60_000)
    there = cut(path, feeds, machine=machine)
    back = cut(path.reversed(), feeds[::-1], machine=machine)
    assert back.duration == pytest.approx(there.duration, rel=1e-12)
    times = np.linspace(0, there.duration, 101)[1:-1]
    mirror = at_times(back, there.duration - times)[:, :3]
    np.testing.assert_allclose(mirror, at_times(there, times)[:, :3], atol=1e-9)


def test_a_change_of_feed_that_is_undone_only_shifts_the_time():
    path = cs.polyline([[0, 0], [10, 0], [11, 0], [25, 0]], 1)
    for machine in (None, Machine(500, 6000)):
        plain, changed = (cut(path, [1500, f, 1500], machine=machine) for f in (1500, 900))
        a, b = plain.speed_profile, changed.speed_profile
        before, after = np.linspace(0, 8, 20), np.linspace(14, 25, 30)
        np.testing.assert_allclose(a.time_at(before), b.time_at(before), atol=1e-13)
        shift = b.duration - a.duration
        assert shift > 0
        np.testing.assert_allclose(a.time_at(after) + shift, b.time_at(after), atol=1e-12)


# ----------------------------------------------------------------------------------------------
# Paths
# ----------------------------------------------------------------------------------------------


def test_a_dot_is_a_path_of_one_place():
    dot = cs.dot((3, -2), 1.5, dwell=0.2)
    assert (dot.length, dot.space_length.tolist(), dot.drop.tolist()) == (0.0, [1.5], [1.5])
    assert dot.joints.tolist() == [0, 0]
    assert dot.depth_at(0) == 1.5
    assert dot.position(0).tolist() == [3, -2]
    assert (dot.heading(0), dot.curvature(0)) == (0, 0)
    assert repr(dot) == "<Path 0 lines, 0 arcs, 1 vertical, 0.0 mm, depth 0 to 1.5 mm, dwells 0.2 s>"
    assert dot == cs.Path([[3, -2], [3, -2]], [0, 1.5], dwell=[0, 0.2])
    assert hash(dot) == hash(cs.dot((3, -2), 1.5, dwell=0.2))
    assert dot != cs.dot((3, -2), 1.5)
    assert len(dot.refined(0.5).drop) == 3
    assert dot.raised(1).depth.tolist() == [0, 0.5]
    assert dot.scaled(2).depth.tolist() == [0, 3]


def test_vertical_pieces_do_not_move_the_station():
    assert STAY.pieces[:, 4].tolist() == [0, 10, 0, 0, pytest.approx(125**0.5), 0]
    assert not STAY.pieces[[0, 2, 3, 5], 6].any()
    assert STAY.drop.tolist() == [1, 0, -0.5, 1.5, 0, -2]
    np.testing.assert_allclose(STAY.space_length, [1, 10, 0.5, 1.5, 125**0.5, 2])
    np.testing.assert_allclose(STAY.depth_at([0, 9.99, 10, 15, STAY.length]), [1, 1, 2, 2, 2])
    np.testing.assert_allclose(STAY.heading([0, 5, 10, STAY.length]), np.degrees([0, 0, *[math.atan2(5, 10)] * 2]))
    np.testing.assert_allclose(np.degrees(STAY.pieces[:, 2]), [0, 0, 0, 0, *[math.degrees(math.atan2(5, 10))] * 2])
    np.testing.assert_allclose(STAY.position(STAY.length), [20, 5])


@steadily(40)
@given(stays(), reals(-170, 170), reals(0.01, 0.9))
def test_every_copy_of_a_stay_is_the_same_stay(stay, angle, rise):
    path, _ = stay
    assert path.reversed().reversed() == path
    assert path.mirrored().mirrored() == path
    assert path.shifted(0, 0) == path
    assert hash(path.scaled(1)) == hash(path)
    for copy in (path.rotated(angle + 0.01), path.mirrored(), path.shifted(3, 4), path.reversed(), path.refined(0.3)):
        assert copy.length == pytest.approx(path.length, rel=1e-12)
        assert copy.space_length.sum() == pytest.approx(path.space_length.sum(), rel=1e-12)
        assert copy.dwell.sum() == path.dwell.sum()
        assert np.abs(copy.drop).sum() == pytest.approx(np.abs(path.drop).sum(), rel=1e-12)
    if path.depth.max() - rise > 1e-6:
        up = path.raised(rise)
        assert up.depth.max() == pytest.approx(path.depth.max() - rise)
        assert up.length == pytest.approx(path.length, rel=1e-12)
        assert up.dwell.sum() == pytest.approx(path.dwell.sum())
        s = np.linspace(0, path.length, 40)
        s = s[np.abs(s[:, None] - path.joints).min(axis=1) > 1e-6]
        np.testing.assert_allclose(up.depth_at(s), np.maximum(path.depth_at(s) - rise, 0), atol=1e-9)


def test_a_closed_path_may_go_down_at_its_joint():
    path = cs.Path([[0, 0], [0, 0], [5, 0], [5, 5]], [0, 1, 1, 1], closed=True, dwell=[0, 0.1, 0, 0])
    assert path.reversed().space_length.sum() == pytest.approx(path.space_length.sum())
    assert path.reversed().reversed() == path
    up = path.raised(0.5)
    assert up.depth.max() == 0.5
    closes_upright = cs.Path([[0, 0], [5, 0], [5, 5], [0, 0]], [0, 1, 1, 1], closed=True)
    for rise in (0.5, 1 - 1e-12):
        up = closes_upright.raised(rise)
        assert up.depth.max() == pytest.approx(1 - rise)
        assert up.length == pytest.approx(closes_upright.length)
    one = cut(path)
    assert one.duration == pytest.approx(0.1 + 60 * float((path.space_length / one.feeds).sum()), rel=1e-12)


def test_earlier_passes_keep_the_feeds_and_dwells_of_their_pieces():
    one = cut(STAY, [200, 1500, 900, 250, 1400, 800], passes=[cs.Pass(0.7), cs.Pass(1.2, reversed=True)])
    rough, middle = one.earlier_passes()
    assert middle.path.depth.tolist() == pytest.approx([0, 0.3, 0.3, 0, 1.3, 1.3, 0])
    assert middle.feed == (200, 1500, 900, 250, 1400, 800)
    assert middle.path.dwell.sum() == pytest.approx(STAY.dwell.sum())
    # the first stroke lies in the face, its plunge and half-way lift fall away
    assert rough.path.depth.tolist() == pytest.approx([0, 0.8, 0.8, 0, 0])
    assert rough.feed == (800, 1400, 250, 1500)
    assert rough.path.dwell.sum() == pytest.approx(STAY.dwell.sum())


BAD = {
    "nothing": (lambda: cs.Path([[0, 0], [1, 0], [1, 0]], 1), "xy", "piece 1", "(1.0, 0.0) mm, 1 mm deep", "dwell"),
    "sweep": (lambda: cs.Path([[0, 0], [0, 0]], [0, 1], sweep=[90]), "sweep", "0 deg on a vertical piece", "got 90"),
    "negative": (lambda: cs.Path([[0, 0], [1, 0]], 1, dwell=[0, -1]), "dwell", "[0, 3600] s", "-1 at index 1"),
    "shape": (lambda: cs.Path([[0, 0], [1, 0]], 1, dwell=[0, 1, 2]), "dwell", "shape (2,)", "(3,)"),
    "milliseconds": (lambda: cs.Path([[0, 0], [1, 0]], 1, dwell=5000), "dwell", "[0, 3600] s", "5000"),
    "no depth": (lambda: cs.dot((0, 0), 0), "depth", "(0, 200] mm", "0"),
    "no dwell": (lambda: cs.dot((0, 0), 1, dwell=-0.1), "dwell", "[0, 3600] s", "-0.1"),
    "out of the wood": (lambda: cs.dot((0, 0), 1).raised(1), "by", "[0, 1) mm", "1"),
    "feeds": (lambda: cut(STAY, [1500, 900]), "feed", "shape (6,)", "(2,)"),
    "a slow piece": (lambda: cut(STAY, [300, 40, 900, 300, 900, 900]), "feed[1]", "[100, 60000]", "inches per minute"),
    "a slow plunge": (lambda: cut(STAY, [0.5, 900, 900, 300, 900, 900]), "feed[0]", "[1, 60000]", "0.5"),
    "along": (lambda: cut(STAY, feed_along="path"), "feed_along", "'face', 'space'", "'path'"),
    "plunge": (lambda: cut(STAY, plunge_feed=12), "plunge_feed", "[80, 60000]", "12"),
    "a word": (lambda: cut(STAY, ["a"] * 6), "feed", "numbers", "list"),
}


@pytest.mark.parametrize("case", BAD)
def test_what_is_no_motion_is_refused_by_name(case):
    make, *words = BAD[case]
    with pytest.raises(cs.DomainError) as error:
        make()
    for word in words:
        assert word in str(error.value)
