"""Tooth passes and lip strikes against the brute-force oracle, which never met the kernels."""

from dataclasses import replace

import numpy as np
import pytest
from motions import uncut_after

import chipsim as cs
from chipsim.reference import oracle

TOLERANCE = 1e-9  # mm


def slow(cut):
    """The oracle's view of a cut: plain functions of time, from the path's own geometry."""
    path, profile = cut.path, cut.speed_profile

    def station(t):
        return profile.station_at(np.clip(t, 0.0, profile.duration))

    def position(t):
        xy = path.position(station(t))
        return xy[..., 0], xy[..., 1]

    bit = cut.bit
    return {
        "position": position,
        "depth": lambda t: path.depth_at(station(t)),
        "radius": bit.radius,
        "spindle_speed": cut.spindle_speed,
        "flutes": bit.flutes,
        "phase": cut.phase,
        "spin": cut.spin,
        "runout": bit.runout,
        "runout_azimuth": bit.runout_azimuth,
    }


def own_crossing(cut, t, angle, height, flute):
    """Time and azimuth at which the edge at this height crosses the angle: the nominal time, moved by the runout."""
    bit = cut.bit
    sense = -1.0 if cut.spin == "cw" else 1.0
    lag = 2 * np.pi * flute / bit.flutes
    r = float(bit.radius(height))
    body = np.angle(r * np.exp(1j * lag) + bit.runout * np.exp(1j * np.radians(bit.runout_azimuth)))
    omega = cut.spindle_speed * 2 * np.pi / 60
    for _ in range(20):
        heading = float(np.radians(cut.path.heading(cut.speed_profile.station_at(min(t, cut.duration)))))
        azimuth = heading + np.pi / 2 - np.radians(angle)
        now = np.radians(cut.phase) + sense * (omega * t - body)
        miss = (azimuth - now + np.pi) % (2 * np.pi) - np.pi
        t += sense * miss / omega
    return t, np.degrees(azimuth)


def compare(cut, passes, picks, tolerance=TOLERANCE, before=()):
    """Worst difference of radial thickness from the oracle over a choice of cells."""
    job, worst = slow(cut), 0.0
    earlier = [(slow(c), c.duration) for c in (*before, *cut.earlier_passes())]
    for p, a, h in picks:
        value = passes.radial_thickness[p, a, h]
        if np.isnan(value):
            continue
        t, azimuth = own_crossing(cut, passes.time[p, a], passes.angles[a], passes.heights[h], passes.flute[p])
        ask = (t, azimuth, float(passes.heights[h]), int(passes.flute[p]), job)
        exact = uncut_after(*ask, earlier) if earlier else oracle.uncut_length(*ask[:4], **job)
        miss = abs(value - exact)
        assert miss < tolerance, (
            f"pass {p}, angle {passes.angles[a]:g}, height {passes.heights[h]:g}: {value:.12f}, oracle {exact:.12f}"
        )
        worst = max(worst, miss)
    return worst


def some(passes, count, seed):
    """Cells of the table in a fixed random order."""
    rng = np.random.default_rng(seed)
    known = np.argwhere(np.isfinite(passes.radial_thickness))
    return known[rng.permutation(len(known))[:count]]


V60, V90 = (lambda **k: cs.VBit(60, 12.7, 2, 0.2, **k)), (lambda **k: cs.VBit(90, 12.7, 2, **k))
CORNER = cs.polyline([(0, 0), (12, 0), (12, 12)], 2.0)
ACUTE = cs.polyline([(0, 0), (10, 0), (1, 4)], 2.0)
EIGHT = cs.polyline([(0, 0), (14, 0), (7, 9), (7, -7)], 1.6)
LINE_ARC = cs.Path([[0, 0], [8, 0], [14, 6], [14, 14]], 2.0, sweep=[0, 90, 0])
RAMP = cs.line((0, 0), (16, 0), (0.4, 3.6))
TURNING_RAMP = cs.Path([[0, 0], [8, 0], [14, 6]], [0.5, 2.0, 3.0], sweep=[0, 90])

SCENES = {
    "line": cs.Cut(V90(), cs.line((0, 0), (30, 0), 3.0), 15000, 6000),
    "line, ccw, four flutes": cs.Cut(
        cs.VBit(60, 12.7, 4), cs.line((0, 0), (20, 8), 4.0), 12000, 5000, spin="ccw", phase=33
    ),
    "ring": cs.Cut(V60(), cs.ring(8, 2.5), 15000, 4000),
    "ring, ccw": cs.Cut(V60(), cs.ring(8, 2.5), 15000, 4000, spin="ccw"),
    "tight ring": cs.Cut(V90(), cs.ring(1.4, 2.0), 15000, 2400),
    "runout": cs.Cut(V90(runout=0.05, runout_azimuth=20), cs.line((0, 0), (30, 0), 3.0), 15000, 6000),
    "runout beyond half the feed": cs.Cut(
        cs.VBit(90, 12.7, 3, runout=0.12, runout_azimuth=200), cs.ring(9, 3.0), 12000, 6000, spin="ccw", phase=-71
    ),
    "corner": cs.Cut(V90(), CORNER, 15000, 6000),
    "corner, runout, ccw": cs.Cut(V90(runout=0.04, runout_azimuth=-50), CORNER, 12000, 4000, spin="ccw"),
    "acute corner": cs.Cut(V60(), ACUTE, 15000, 5000, phase=12),
    "crossing": cs.Cut(V90(), EIGHT, 15000, 6000),
    "line, arc, line": cs.Cut(V90(runout=0.02), LINE_ARC, 15000, 6000, phase=100),
    "ramp": cs.Cut(V60(), RAMP, 15000, 5000),
    "ramp up, runout": cs.Cut(V90(runout=0.03, runout_azimuth=70), RAMP.reversed(), 12000, 5000, spin="ccw"),
    "corner, machine": cs.Cut(V90(runout=0.02), CORNER, 15000, 6000, machine=cs.Machine(800, 8000)),
    "stop at corners, ccw": cs.Cut(
        V60(), ACUTE, 12000, 3000, spin="ccw", machine=cs.Machine(300, 5000, corners="halt")
    ),
    "line, arc, line, machine": cs.Cut(V90(), LINE_ARC, 15000, 6000, machine=cs.Machine(400, 8000)),
    "turning ramp": cs.Cut(cs.VBit(60, 12.7, 3), TURNING_RAMP, 12000, 4000),
}
ALL_ROUND = np.r_[np.arange(-83.0, 270.0, 23.0), -1.0, 181.0, 90.0]


@pytest.mark.parametrize("name", SCENES)
def test_thickness_is_the_oracles(name):
    """Anywhere on the path, start and corners included, above the tip zone (r >= f_z + 2 e, kinematics of the slot)."""
    cut = SCENES[name]
    least = cut.feed_per_tooth * (1 + cut.bit.flutes / np.pi) + 2 * cut.bit.runout
    low = max((1.05 * least - cut.bit.tip_width / 2) / np.tan(np.radians(cut.bit.half_angle)), 0.0)
    top = float(cut.path.depth.max())
    passes = cs.tooth_passes(cut, angles=ALL_ROUND, heights=np.linspace(min(low, top * 0.9), top, 4))
    compare(cut, passes, some(passes, 10, seed=len(name)))


@pytest.mark.parametrize("name", ["corner", "corner, runout, ccw", "acute corner", "crossing"])
def test_thickness_around_the_corner(name):
    """The passes on either side of the first corner, where the look-back is longest."""
    cut = SCENES[name]
    at = float(cut.path.joints[1])
    top = float(cut.path.depth.max())
    passes = cs.tooth_passes(cut, start=at - 1.0, stop=at + 4.0, angles=ALL_ROUND, heights=[0.6 * top, top])
    compare(cut, passes, some(passes, 12, seed=5))


@pytest.mark.parametrize("name", ["line", "ring", "corner", "runout"])
def test_thickness_near_the_tip(name):
    """Below r = e the trochoid has no loops and sweeps double back; the definition still holds, to 1e-9 mm."""
    cut = SCENES[name]
    r = np.array([0.3, 0.8, 1.3, 2.2, 3.5]) * cut.feed_per_rev / (2 * np.pi) + cut.bit.runout
    heights = (r - cut.bit.tip_width / 2) / np.tan(np.radians(cut.bit.half_angle))
    passes = cs.tooth_passes(cut, start=5, stop=6, angles=ALL_ROUND[::2], heights=heights[heights >= 0])
    compare(cut, passes, some(passes, 15, seed=3))


def test_first_turn_is_in_uncut_wood():
    """The first tooth to look anywhere finds the whole ray uncut."""
    cut = SCENES["line"]
    passes = cs.tooth_passes(cut, start=0, stop=0.05, angles=np.arange(-80, 270, 10.0), heights=[2.0])
    first = passes.time <= 0.5 * 60 / cut.spindle_speed - 1e-9
    assert np.allclose(passes.radial_thickness[..., 0][first], 2.0, atol=1e-12)


def test_steady_road_and_general_road_agree(monkeypatch):
    """The short cut for steady cutting is only a short cut: the general road gives the same to 1e-12 mm."""
    cut = SCENES["runout beyond half the feed"]
    ask = {"start": 20.0, "stop": 22.0, "angles": np.arange(-85, 270, 7.5), "heights": [1.2, 2.0, 3.0]}
    quick = cs.tooth_passes(cut, **ask)
    split = cs.Cut(cut.bit, cut.path.refined(0.3), cut.spindle_speed, cut.feed, spin=cut.spin, phase=cut.phase)
    general = cs.tooth_passes(split, **ask)
    np.testing.assert_allclose(general.radial_thickness, quick.radial_thickness, atol=1e-12)
    np.testing.assert_allclose(general.chip_thickness, quick.chip_thickness, atol=1e-12)


def test_rows_are_sweeps_in_order_of_time():
    cut = SCENES["line"]
    passes = cs.tooth_passes(cut, start=10, stop=12, angles=[30, 90, 150], heights=[3.0])
    ahead = passes.time[:, 1]
    ahead = ahead[np.isfinite(ahead)]
    np.testing.assert_allclose(np.diff(ahead), 60 / 15000 / 2, rtol=1e-9)
    assert (np.diff(passes.flute[:4]) % 2 == 1).all()
    span = np.diff(passes.time, axis=1)
    np.testing.assert_allclose(span[np.isfinite(span)], 60 / 15000 / 6, rtol=1e-9)


def test_a_corner_against_the_rotation_opens_a_row():
    """A clockwise tool that turns right meets some angles twice within a turn; one that turns left skips some."""
    turn_time = 60 / 12000
    for turn, angle, rows in ((-90, 45.0, 6), (90, 135.0, 5)):
        away = np.array([np.cos(np.radians(turn)), np.sin(np.radians(turn))])
        path = cs.polyline([(0, 0), (10, 0), np.array([10, 0]) + 10 * away], 2.0)
        cut = cs.Cut(cs.VBit(90, 12.7, 1), path, 12000, 3000)
        # the flute points straight ahead when the axis is at the corner, after forty turns
        passes = cs.tooth_passes(cut, start=9.5, stop=10.5, angles=np.arange(-85.0, 270.0, 10.0), heights=[2.0])
        assert len(passes) == rows
        when = passes.time[:, np.argmin(abs(passes.angles - angle))]
        around = np.diff(when[np.isfinite(when)])
        # an angle 45 deg before and after the corner is met again after 1/4 of a turn, or only after 7/4
        assert around.min() == pytest.approx(turn_time * (0.25 if turn < 0 else 1.0), rel=1e-9)
        assert around.max() == pytest.approx(turn_time * (1.0 if turn < 0 else 1.75), rel=1e-9)


def test_normal_thickness_by_membership():
    """h_n against marching along the flank's normal through slices of the oracle (kinematics: h_n = cos a h_r(h'))."""
    cut = SCENES["ring"]
    passes = cs.tooth_passes(cut, start=20, stop=20.6, angles=[20, 75, 150], heights=[1.2])
    a = np.radians(cut.bit.half_angle)
    job = slow(cut)
    for p, i in np.argwhere(np.isfinite(passes.time))[:6]:
        n = passes.chip_thickness[p, i, 0]
        t, azimuth = own_crossing(cut, passes.time[p, i], passes.angles[i], 1.2, passes.flute[p])
        above = oracle.uncut_length(t, azimuth, 1.2 + n * np.sin(a), int(passes.flute[p]), **job)
        assert n == pytest.approx(np.cos(a) * above, abs=1e-10)


def test_cutting_speed_is_the_trochoids():
    """|v| from finite differences of the edge's path."""
    cut = SCENES["line, arc, line"]
    passes = cs.tooth_passes(cut, start=11, stop=11.5, angles=[0, 60, 180], heights=[2.0])
    job = {k: v for k, v in slow(cut).items() if k != "depth"}
    for p, i in np.argwhere(np.isfinite(passes.time))[:6]:
        t, _ = own_crossing(cut, passes.time[p, i], passes.angles[i], 2.0, passes.flute[p])
        d = 1e-7
        ends = oracle.edge_position(np.array([t - d, t + d]), 2.0, int(passes.flute[p]), **job)
        speed = np.hypot(*np.diff(ends, axis=0)[0]) / (2 * d) / 1000
        assert passes.cutting_speed[p, i, 0] == pytest.approx(speed, rel=1e-6)


def test_tip_zone_is_flagged():
    """Trochoid without loops below r = f / 2 pi; the heel rubs below f / (2 pi sin c_h) (closed forms, reference)."""
    cut = cs.Cut(cs.VBit(60, 12.7, 2, clearance=20), cs.line((0, 0), (10, 0), 2.0), 15000, 6000)
    e, tan = 0.4 / (2 * np.pi), np.tan(np.radians(30))
    passes = cs.tooth_passes(
        cut, start=5, stop=5.5, angles=[90], heights=[0.99 * e / tan, 1.01 * e / tan, 0.2845, 0.2847]
    )
    # height 0.284594120129 mm: 60 deg, f = 0.4, clearance 20 deg; derived, ISO 3002-1 tool-in-use angles (from memory)
    np.testing.assert_array_equal(passes.backward[0], [True, False, False, False])
    np.testing.assert_array_equal(passes.heel_rubs[0], [True, True, True, False])


LIP_SCENES = [
    "line",
    "ring",
    "ring, ccw",
    "runout",
    "corner",
    "acute corner",
    "crossing",
    "ramp",
    "ramp up, runout",
    "turning ramp",
    "tight ring",
    "corner, machine",
    "stop at corners, ccw",
    "line, arc, line, machine",
]


def test_no_strike_is_lost_where_runout_turns_with_the_depth():
    """On a ramp the angle by which runout shifts an edge changes while it is looked for: all strikes are found."""
    bit = cs.VBit(44.345937985002344, 12.7, 1, runout=0.06, runout_azimuth=91.71127117912988)
    xy = [(0.0, 0.0), (1.98940749, 3.43290195), (3.80553683, 7.97296286), (3.31883479, 11.31389377)]
    path = cs.Path(xy, [1.89309504, 2.28621916, 1.16831347, 2.02657236], sweep=[-50, 0, 0])
    cut = cs.Cut(bit, path, 15000, 6000, phase=217.0959832916055)
    strikes = cs.lip_strikes(cut, pitch=0.37, bundle=0.2)
    seen = oracle.lip_strikes_slow(
        tuple(strikes.lip_xy[20, 0]),
        float(strikes.lips.outward[20, 0]) + 180.0,
        stop=cut.duration,
        low=-0.1,
        high=float(strikes.lips.half_width[20]),
        **slow(cut),
    )
    assert strikes.counts[20, 0] == 2
    assert strikes.depths[20, 0, 1] == pytest.approx(min(seen.depth), abs=TOLERANCE)


@pytest.mark.parametrize("name", LIP_SCENES)
def test_lip_strikes_are_the_oracles(name):
    """Every strike at a dozen lip points: when removed wood, how much is left, from dense sampling of the edges."""
    cut, bundle = SCENES[name], 0.2
    strikes = cs.lip_strikes(cut, pitch=0.37, bundle=bundle)
    rng = np.random.default_rng(7)
    rows = np.argwhere(strikes.exists)
    job = slow(cut)
    for i, side in rows[rng.permutation(len(rows))[:12]]:
        half = float(strikes.lips.half_width[i])
        seen = oracle.lip_strikes_slow(
            tuple(strikes.lip_xy[i, side]),
            float(strikes.lips.outward[i, side]) + 180.0,
            stop=cut.duration,
            # farther out lie other grooves, which cut the land from behind and not this lip
            low=-0.05 - cut.bit.runout,
            high=half,
            **job,
        )
        left = np.asarray(seen.depth)[np.argsort(seen.time, kind="stable")]
        surface, chips, depths = half, [], []
        for y in left:
            if y < surface - 1e-9:
                if y < left.min() + bundle:
                    chips.append(surface - y)
                    depths.append(y)
                surface = y
        count = strikes.counts[i, side]
        assert count == len(chips)
        np.testing.assert_allclose(strikes.depths[i, side, :count], depths, atol=TOLERANCE)
        np.testing.assert_allclose(strikes.chips[i, side, :count], chips, atol=TOLERANCE)


STROKE = cs.Cut(V90(), cs.line((0, 0), (16, 0), 2.5), 15000, 6000, phase=17)
BEFORE = {
    "crossing, another bit": cs.Cut(V60(), cs.line((7, -6), (9, 6), 2.0), 15000, 4000),
    "parallel, overlapping, another bit": cs.Cut(V60(), cs.line((-1, 1.7), (17, 2.1), 3.1), 15000, 4000),
    "its wall along the axis": cs.Cut(V90(), cs.line((0, -1.5), (16, -1.5), 1.5), 15000, 4000),
    "an arc": cs.Cut(V90(), cs.arc((8, 3), 4.0, 150, 240, 2.2), 15000, 4000),
    "a ramp": cs.Cut(V60(), cs.line((3, -4), (12, 4), (0.0, 3.0)), 15000, 4000),
    "a steep ramp out": cs.Cut(cs.VBit(120, 12.7, 2, 0.6), cs.line((6, 1), (9, 0.5), (3.0, 0.0)), 15000, 4000),
    "an arc on a ramp": cs.Cut(V90(), cs.arc((8, 3), 4.0, 150, 240, (0.2, 3.0)), 15000, 4000),
    "a stepped outline": cs.Cut(
        cs.ProfileBit([0, 0.8, 1.0, 3], [0.5, 0.6, 2, 2.2]), cs.line((4, -5), (10, 5), (0.5, 2.4)), 15000, 4000
    ),
}


@pytest.mark.parametrize("name", BEFORE)
def test_what_came_before_is_met_as_its_groove(name):
    """Against the oracle, which takes the earlier groove for a crowd of discs; all round, deep and shallow."""
    before = (BEFORE[name],)
    angles, heights = ALL_ROUND, [0.7, 1.3, 2.5]
    passes = cs.tooth_passes(STROKE, start=4, stop=13, angles=angles, heights=heights, before=before)
    alone = cs.tooth_passes(STROKE, start=4, stop=13, angles=angles, heights=heights)
    np.testing.assert_array_equal(passes.time, alone.time)
    less = passes.radial_thickness < alone.radial_thickness - 1e-9
    partly = less & (passes.radial_thickness > 1e-9)
    rng = np.random.default_rng(len(name))
    for cells, count in ((less, 4), (partly, 12)):
        found = np.argwhere(cells)
        assert len(found) >= count or name == "its wall along the axis"
        compare(STROKE, passes, rng.permutation(found)[:count], before=before)
    compare(STROKE, passes, some(passes, 3, seed=3), before=before)
    assert (passes.radial_thickness <= alone.radial_thickness + 1e-9)[np.isfinite(alone.time)].all()


def test_no_scratch_is_stepped_over():
    """Long rays, as where the tool enters: thin grooves near and far, and one that the ray only just touches."""
    scratch = cs.Cut(cs.VBit(15, 12.7, 1), cs.line((0.7, -3), (0.9, 3), 1.0), 15000, 4000)
    others = [replace(scratch, path=scratch.path.shifted(x, 0)) for x in (0.5, 0.9, 1.2, 1.5)]
    before = [scratch, *others, replace(scratch, path=cs.ring(0.8, 0.6).shifted(0, 1.4))]
    ask = {"start": 0, "stop": 0.3, "angles": np.arange(0, 180, 7.3), "heights": [1.8, 2.5]}
    passes, alone = cs.tooth_passes(STROKE, **ask, before=before), cs.tooth_passes(STROKE, **ask)
    less = np.argwhere(passes.radial_thickness < alone.radial_thickness - 0.05)
    assert len(less) > 12
    compare(STROKE, passes, less[:: len(less) // 12], before=before)


def test_many_before_and_an_earlier_pass_of_its_own():
    cut = cs.Cut(V90(), CORNER, 15000, 6000, spin="ccw", passes=[0.4, 1.2])
    before = tuple(BEFORE.values())
    passes = cs.tooth_passes(cut, start=3, stop=18, angles=ALL_ROUND, heights=[0.3, 1.0, 2.0], before=before)
    known = np.argwhere(passes.radial_thickness > 1e-6)
    rng = np.random.default_rng(8)
    compare(cut, passes, known[rng.permutation(len(known))[:12]], before=before)


def test_what_lies_far_off_or_is_the_same_groove():
    far = replace(STROKE, path=STROKE.path.shifted(0, 40))
    ask = {"start": 5, "stop": 6, "angles": [10, 60, 90, 140], "heights": [0.5, 2.5]}
    alone = cs.tooth_passes(STROKE, **ask)
    with_far = cs.tooth_passes(STROKE, **ask, before=[far])
    np.testing.assert_array_equal(with_far.radial_thickness, alone.radial_thickness)
    again = cs.tooth_passes(STROKE, **ask, before=[STROKE])
    assert (again.radial_thickness[np.isfinite(alone.radial_thickness)] < 1e-9).all()
    with pytest.raises(cs.DomainError, match="before must be a sequence of Cut, got"):
        cs.tooth_passes(STROKE, **ask, before=STROKE)


def test_gathered_and_scattered_strikes_agree():
    """Depths left at a lip from the tooth-pass table: where each swept arc cuts the probe line, by interpolation."""
    cut = cs.Cut(V90(runout=0.03, runout_azimuth=40), cs.line((0, 0), (30, 0), 3.0), 15000, 6000)
    strikes = cs.lip_strikes(cut, pitch=0.5)
    angles = np.arange(-20.0, 60.0, 0.05)
    passes = cs.tooth_passes(cut, start=8, stop=18, angles=angles, heights=[3.0])
    i = int(np.flatnonzero(strikes.lips.kind == "run")[30])
    x, y = strikes.lip_xy[i, 0]
    edge = passes.axis_xy + passes.edge_radius_about_axis[:, None, :1] * np.stack(
        [np.cos(np.radians(passes.azimuth)), np.sin(np.radians(passes.azimuth))], axis=-1
    )
    left = []
    for arc in edge:
        known = np.isfinite(arc[:, 0])
        if known.sum() > 2 and arc[known, 0].min() < x < arc[known, 0].max():
            order = np.argsort(arc[known, 0])
            left.append(y - np.interp(x, arc[known, 0][order], arc[known, 1][order]))
    left = np.array(left)
    fresh = np.r_[True, left[1:] < np.minimum.accumulate(left)[:-1] - 1e-9]
    kept = left[fresh & (left < left.min() + 0.2)]
    count = strikes.counts[i, 0]
    # linear interpolation between angles 0.05 deg apart, and axis at the nominal crossing: a fraction of a micrometre
    np.testing.assert_allclose(strikes.depths[i, 0, :count], kept, atol=5e-4)


def test_blocks_change_nothing():
    from chipsim.chips.strikes import strike_blocks

    cut = SCENES["ring"]
    whole = cs.lip_strikes(cut, pitch=0.2)
    parts = list(strike_blocks(cut, pitch=0.2, bundle=0.2, block=37))
    np.testing.assert_array_equal(np.concatenate([p.counts for p in parts]), whole.counts)
    np.testing.assert_array_equal(np.concatenate([p.depths[:, :, 0] for p in parts]), whole.depths[:, :, 0])


def test_the_short_flute_stops_at_half_the_feed():
    """Beyond an eccentricity of f_z / 2 towards flute 0 the other of two flutes idles ahead (derived)."""
    for runout, works in ((0.08, True), (0.12, False)):
        cut = cs.Cut(V90(runout=runout), cs.line((0, 0), (20, 0), 3.0), 15000, 6000)
        passes = cs.tooth_passes(cut, start=12, stop=13, angles=[90], heights=[3.0])
        ahead = passes.radial_thickness[:, 0, 0]
        np.testing.assert_allclose(ahead[passes.flute == 0], min(0.2 + 2 * runout, 0.4), atol=1e-9)
        np.testing.assert_allclose(ahead[passes.flute == 1], max(0.2 - 2 * runout, 0.0), atol=1e-9)
        assert works == (ahead[passes.flute == 1] > 0).all()


def test_kline_and_devors_minimum_over_earlier_teeth():
    """Runout: z = 4, f_z = 0.1, eccentricity 0.15 toward flute 0: exact 0.24307, 0, 0, 0.15693 ahead (oracle).

    First order, Kline & DeVor 1983 (from memory): 0.25, 0, 0, 0.15; the last is decided by the tooth three before it.
    """
    cut = cs.Cut(cs.VBit(90, 12.7, 4, runout=0.15), cs.line((0, 0), (20, 0), 3.0), 15000, 6000)
    passes = cs.tooth_passes(cut, start=12, stop=13, angles=[90], heights=[3.0])
    for flute, exact, first_order in ((0, 0.24307, 0.25), (1, 0, 0), (2, 0, 0), (3, 0.15693, 0.15)):
        ahead = passes.radial_thickness[passes.flute == flute, 0, 0]
        np.testing.assert_allclose(ahead, exact, atol=2e-5)
        np.testing.assert_allclose(ahead, first_order, atol=0.008)


def test_ramp_term_dead_ahead():
    """On a ramp: h = s_h sin(kappa) - s_v cos(kappa); 15 deg down, 90 deg bit: 0.179315094434; Engin & Altintas 2001
    (from memory)."""
    slope = np.tan(np.radians(15))
    cut = cs.Cut(cs.VBit(90, 12.7, 2), cs.line((0, 0), (12, 0), (0.0, 12 * slope)), 15000, 6000)
    passes = cs.tooth_passes(cut, start=9, stop=9.6, angles=[90], heights=[1.5])
    assert passes.radial_thickness[-1, 0, 0] == pytest.approx(0.253589838, abs=1e-9)
    assert passes.chip_thickness[-1, 0, 0] == pytest.approx(0.179315094434, abs=1e-9)
