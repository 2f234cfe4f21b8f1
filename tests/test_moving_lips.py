"""Lips where nothing is steady: the quick solve beside bounds and bisection, and the lists, cells and fans about it."""

from dataclasses import replace

import numpy as np
import pytest

import chipsim as cs
from chipsim.chips import edges, motions, strikes
from chipsim.kernels import axis, grooves, outline, probes

HISTORY = probes.lip_history


def swelling(length=9.0, step=0.3, low=0.2, high=2.0, wiggle=0.4):
    """A stroke in chords whose depth swells and falls again."""
    s = step * np.arange(round(length / step) + 1)
    heading = wiggle * np.sin(s / 3.0)
    xy = np.vstack([[0, 0], np.cumsum(np.column_stack([np.cos(heading), np.sin(heading)])[1:] * step, axis=0)])
    return cs.polyline(xy, low + (high - low) * np.sin(np.pi * s / s[-1]) ** 2)


def random_cut(rng, sheared=False):
    """Anything a stroke may be: chords, ramps, arcs, corners, plunges, any bit, speed and feed."""
    rho = float(rng.choice([0.0, 0.0, 0.01, 0.03]))
    bit = cs.VBit(
        float(rng.choice([40, 60, 90, 120])),
        12.7,
        int(rng.integers(1, 5)),
        runout=rho,
        runout_azimuth=rng.uniform(0, 360),
    )
    if sheared:
        each = rng.uniform(-30, 30, bit.flutes)
        bit = replace(bit, tip_width=0.2, shear=float(each[0]) if rng.random() < 0.5 else each.tolist())
    kind = rng.integers(5)
    if kind == 0:
        path = swelling(rng.uniform(2, 5), rng.choice([0.05, 0.3, 1.0]), rng.uniform(0, 0.6), rng.uniform(0.7, 2.2))
    elif kind == 1:
        path = cs.polyline(np.cumsum(rng.uniform(-3, 3, (4, 2)), axis=0), rng.uniform(0.0, 2.0, 4))
    elif kind == 2:
        turns = np.cumsum(rng.uniform(1, 3, (3, 2)), axis=0)
        path = cs.Path(turns, rng.uniform(0.2, 2, 3), sweep=rng.uniform(-300, 300, 2))
    elif kind == 3:
        path = cs.Path([(0, 0), (0, 0), (4, 1), (4, 1)], [0.0, 1.5, 0.8, 0.0], dwell=[0, 0.01, 0, 0.005])
    else:
        path = cs.line((0, 0), (5, 1), tuple(rng.uniform(0.05, 2, 2)))
    machine = cs.Machine(float(rng.uniform(100, 1500)), 4000) if rng.random() < 0.6 else None
    spin = str(rng.choice(["cw", "ccw"]))
    feed = float(rng.uniform(600, 5000))
    return cs.Cut(
        bit, path, float(rng.uniform(9000, 24_000)), feed, machine=machine, spin=spin, phase=rng.uniform(0, 360)
    )


def on_road(monkeypatch, road, ask):
    with monkeypatch.context() as patch:
        patch.setattr(probes, "lip_history", lambda *arguments: HISTORY(*arguments[:-1], road))
        return ask()


def compare(fast, slow, counts=True):
    if counts:
        np.testing.assert_array_equal(fast.counts, slow.counts)
    for field in ("chips", "depths", "times", "stock", "pass_left", "pass_before"):
        np.testing.assert_allclose(getattr(fast, field), getattr(slow, field), atol=1e-11, rtol=0, err_msg=field)
    np.testing.assert_allclose(fast.cutting_speeds, slow.cutting_speeds, atol=1e-9, rtol=0)
    np.testing.assert_array_equal(fast.strokes, slow.strokes)


@pytest.mark.parametrize("sheared", [False, True])
@pytest.mark.parametrize("seed", range(12))
def test_random_strokes_on_both_roads(seed, sheared, monkeypatch):
    """The slow road is the oracle's, see tests/test_histories.py. Odd bundles: a strike on its edge tests rounding."""
    rng = np.random.default_rng(1700 + seed)
    for _ in range(6):
        cut = random_cut(rng, sheared)
        ask = {"pitch": 0.31, "bundle": 0.1873}
        compare(*(on_road(monkeypatch, road, lambda: cs.lip_strikes(cut, **ask)) for road in (1, 0)))  # noqa: B023


def test_strokes_over_each_other_on_both_roads(monkeypatch):
    """Over earlier passes and across other strokes the surface is another's, and the lips are not the stroke's own."""
    bit = cs.VBit(60, 12.7, 2)
    cuts = [cs.Cut(bit, swelling(), 18_000, 2000, passes=[0.3], machine=cs.Machine(300, 2000))]
    cuts += [replace(cuts[0], path=cuts[0].path.rotated(turn).shifted(4, 0.3), passes=()) for turn in (70, 160)]
    job = cs.Carving(tuple(cuts))
    compare(*(on_road(monkeypatch, road, lambda: cs.lip_strikes(job, bundle=0.1873)) for road in (1, 0)))


def crossings_of(cut, rng, teeth, hard):
    """Answers of the quick solve for random lips and teeth, each beside every crossing of that turn."""
    motion, job = cut.motion.copy(), edges.spindle_of(cut)
    knots, radii = edges.outline_of(cut) if cut.edges is None else edges.edges_of(cut)
    pieces = np.empty((len(motion), probes.TURN + 1))
    probes.probe_pieces(motion, job, knots, radii, pieces)
    last = motion[-1, axis.T0] + motion[-1, axis.DT]
    sense, omega, rho = job[0], job[1], job[3]
    hits, ends = np.empty((64, 3)), np.empty((64, 2))
    for _ in range(teeth):
        k = int(rng.integers(len(motion)))
        tau = rng.uniform(0, motion[k, axis.DT])
        x, y, heading, depth, _ = axis.state(motion, k, tau)
        radius = float(np.interp(depth, *cut.knots))
        azimuth = heading + rng.choice([-1, 1]) * np.pi / 2 + rng.normal(0, 0.2)
        away, along = radius * rng.uniform(0.6, 1.3), radius * rng.normal(0, 0.5)
        ux, uy = np.cos(azimuth), np.sin(azimuth)
        when, flute = motion[k, axis.T0] + tau, int(rng.integers(cut.bit.flutes))
        twist = 0.0
        if cut.edges is not None:
            twist = float(outline.flute_law(knots, radii, flute, depth)[1] + rng.normal(0, 0.1))
        lag = job[4] - 2 * np.pi * flute / job[2] - twist
        shadow = min(radius, rng.uniform(0.02, 0.5))
        if hard:
            # the edge passes near the axis as it crosses the probe, and what is looked for ends about there
            away, along = radius * rng.uniform(0.8, 1.2), radius * rng.choice([-1, 1]) * rng.uniform(0.7, 1.05)
            shadow = away * rng.uniform(0.8, 1.2)
        lip = x + away * ux - along * uy, y + away * uy + along * ux
        c, s = rho * np.cos(lag), rho * np.sin(lag)
        edge = motion, knots, radii, flute, twist, pieces, sense, omega, rho, c, s
        answer = probes.moving_crossing(*edge, when, last, *lip, ux, uy, k, shadow)
        n = probes.probe_crossings(
            motion, job, knots, radii, pieces, 0.0, last, when, flute, *lip, ux, uy, k, shadow, True, ends, hits, twist
        )
        # of the whole turn; those near its ends the next turn may have as well
        inside = hits[:n, 1] <= shadow
        yield answer, hits[:n][inside] - [when, 0.0, 0.0], omega, shadow


@pytest.mark.parametrize(
    ("low", "runout", "feed", "hard", "shear"),
    [(d, r, 1200, False, s) for d in (0.15, 0.4, 1.5) for r in (0.0, 0.02) for s in (0.0, 20.0)]
    + [(0.15, 0.0, 2800, True, 0.0), (0.25, 0.0, 3600, True, 0.0), (0.25, 0.02, 3600, True, 0.0)]
    + [(0.25, 0.0, 3600, True, (25.0, -25.0)), (0.25, 0.02, 3600, True, -30.0)],
)
def test_what_the_quick_solve_says_is_all_there_is(low, runout, feed, hard, shear):
    """It answers one crossing, or none, or nothing at all: never one of two, near the axis least of all."""
    rng = np.random.default_rng(int(100 * low + 1000 * runout))
    tip = 0.2 if shear else 0.0
    bit = cs.VBit(90, 12.7, 2, tip, runout=runout, runout_azimuth=40, shear=shear)
    cut = cs.Cut(bit, swelling(12.0, low=low, high=1.3 * low), 18_000, feed, machine=cs.Machine(400, feed))
    told = np.zeros(3, dtype=int)
    for (status, turned, left, speed), hits, omega, shadow in crossings_of(cut, rng, 20_000 if hard else 3000, hard):
        told[status] += 1
        if status == 0 or left > shadow:
            assert status < 0 or len(hits) == 0
        elif status == 1:
            assert len(hits) == 1
            np.testing.assert_allclose(turned, omega * hits[0, 0], atol=1e-8)
            np.testing.assert_allclose((left, speed), hits[0, 1:], atol=1e-9)
    assert told[0] > 50 or hard
    assert told[1] > 50


def test_little_room_loses_nothing(monkeypatch):
    """A stroke whose lists are full goes on where it stopped: the same to the last bit from any room."""
    bit = cs.VBit(60, 12.7, 2)
    line = cs.Cut(
        bit, cs.line((0, 0), (3, 0), 0.8), 12_000, 1500, machine=cs.Machine(40, 1500), passes=[0.05, 0.1, 0.2]
    )
    job = cs.Carving((line, replace(line, path=cs.line((1.5, -2), (1.4, 2), 0.6), passes=[0.1])))
    found = []
    for room in ((1, 1), (500, 20)):
        monkeypatch.setattr(strikes, "_ROOM", room)
        found.append(cs.lip_strikes(job, pitch=0.1))
    assert found[0].counts.max() > 24
    assert found[0].pass_counts.max() > 2
    for name in strikes._ARRAYS:
        np.testing.assert_array_equal(getattr(found[0], name), getattr(found[1], name), err_msg=name)


@pytest.mark.parametrize("reach", [0.1, 0.7, 4.0])
def test_no_piece_near_by_is_missing_from_a_cell(reach):
    """Every piece within reach of a point, found by looking at all of them, is in the point's cell."""
    rng = np.random.default_rng(3)
    for path in (swelling(), cs.ring(5, 1.0), cs.spiral(0.5, 6, 2, 1.0), cs.line((0, 0), (80, 3), 1.0)):
        cut = cs.Cut(cs.VBit(60, 12.7, 2), path, 18_000, 2000, machine=cs.Machine(300, 2000))
        grid, motion = motions.index_pieces(cut, reach), cut.motion
        way = np.linspace(0, 1, 400)
        at = [path.position(np.clip(m[axis.S0] + way * m[axis.DS], 0, path.length)) for m in motion]
        low, high = path.xy.min(axis=0) - reach, path.xy.max(axis=0) + reach
        for xy in rng.uniform(low, high, (200, 2)):
            near = {k for k, points in enumerate(at) if np.hypot(*(points - xy).T).min() < reach}
            cell = grooves.cell_of(grid.frame, *xy)
            held = set(grid.members[grid.first[cell] : grid.first[cell + 1]]) if cell >= 0 else set()
            assert near <= held


def test_a_lip_far_along_a_long_piece_is_removed_there():
    """What is ruled out by the distance from a piece's start must not be where the piece ends, or is wide."""
    bit = cs.VBit(90, 12.7, 2)
    long = cs.Cut(bit, cs.line((0, 0), (60, 0), (0.2, 4.0)), 18_000, 2000)
    short = cs.Cut(bit, cs.line((58, -9), (58, 9), 1.0), 18_000, 2000)
    risk = cs.lip_strikes(cs.Carving((long, short)), pitch=0.1)
    mine = risk.groove == 1
    y = risk.lip_xy[mine][..., 1]
    reach = float(long.half_width(long.path.depth_at(58.0)))
    gone = ~risk.exists[mine]
    assert gone[np.abs(risk.xy[mine][:, 1]) < reach - 1.2].all()
    assert np.nanmin(np.abs(y)) > reach - 0.3
