"""The kernels as plain Python and as machine code: the same file runs in both modes.

CI runs it once more with NUMBA_DISABLE_JIT=1; there an index out of bounds raises, which compiled code does not.
"""

from dataclasses import replace

import numpy as np
import pytest
from slow_model import slow_risks

import chipsim as cs
from chipsim import reference
from chipsim.damage.bands import damage_of
from chipsim.damage.models import lip_risk_sets
from chipsim.damage.priors import as_graded, prior_draws
from chipsim.kernels import grooves, intervals, outline, risks
from chipsim.reference import oracle
from chipsim.scene.grain import fibre_axis
from chipsim.testing._scene import own_crossing, slow

# lanes work out what their guards then throw away, as numpy does: a division by nothing there is no fault
pytestmark = pytest.mark.filterwarnings("ignore:(divide by zero|invalid value) encountered:RuntimeWarning")

CORNER = cs.polyline([(0, 0), (3, 0), (3, 3)], 1.5)
SCENES = {
    "corner": cs.Cut(cs.VBit(90, 6, 2, runout=0.02), CORNER, 12000, 4000),
    "ring": cs.Cut(cs.VBit(60, 6, 3), cs.ring(2, 1.5), 12000, 4000, spin="ccw"),
    "ramp": cs.Cut(cs.VBit(90, 6, 1, 0.2), cs.line((0, 0), (5, 0), (0, 1.5)), 12000, 2000),
    "profile": cs.Cut(cs.ProfileBit([0, 1, 2], [0.1, 1.2, 1.5]), cs.line((0, 0), (4, 0), 1.8), 12000, 2000),
    "passes": cs.Cut(cs.VBit(90, 6, 2), CORNER, 12000, 4000, passes=[0.4]),
}


@pytest.mark.parametrize("name", SCENES)
def test_table_and_lips(name):
    cut = SCENES[name]
    top = float(cut.path.depth.max())
    passes = cs.tooth_passes(cut, start=1.8, stop=2.6, angles=[-40, 0, 45, 90, 170, 250], heights=[0, 0.05, top])
    known = np.isfinite(passes.radial_thickness)
    assert known.any()
    ask = {"start": 1.8, "stop": 2.2, "angles": [-40, 45, 90], "heights": [0.05, top]}
    less, more = (cs.tooth_passes(cut, **ask, before=b).radial_thickness for b in (list(SCENES.values()), ()))
    assert (less <= more + 1e-12)[np.isfinite(more)].all()
    limit = np.broadcast_to(passes.edge_radius_about_axis[:, None, :], known.shape)
    assert (passes.radial_thickness[known] >= 0).all()
    assert (passes.radial_thickness[known] <= limit[known] + 1e-12).all()
    risk = cs.risk_map(cut, cs.Board(cs.wood("sugar maple"), cs.straight_grain(30)), pitch=0.7)
    assert np.isfinite(risk.fuzz[risk.exists]).all()
    assert (risk.strikes[risk.exists] > 0).all()


def test_steady_thickness_is_the_closed_form():
    """Thickness on a line: f_z = 0.2 mm, two flutes, r = 3 mm (derived; oracle)."""
    cut = cs.Cut(cs.VBit(90, 12.7, 2), cs.line((0, 0), (8, 0), 3.0), 15000, 6000)
    passes = cs.tooth_passes(cut, start=6, stop=6.4, angles=[30, 60, 90, 120, 150], heights=[3.0])
    expected = [0.103019405765, 0.173018577691, 0.2, 0.176766003203, 0.107066847525]
    row = passes.radial_thickness[np.isfinite(passes.time).all(axis=1)][0, :, 0]
    np.testing.assert_allclose(row, expected, rtol=1e-9)
    assert reference.thickness_first_order(30, 0.2) == pytest.approx(0.1)


def test_intervals_merge_and_count():
    """The ray's bookkeeping against a brute set of points."""
    rng = np.random.default_rng(4)
    for _ in range(30):
        cover, n = np.empty((64, 2)), 0
        inside = np.zeros(1001, bool)
        grid = np.linspace(0, 1, 1001)
        for low, high in np.sort(rng.integers(0, 1001, (12, 2)), axis=1) / 1000:
            n = intervals.add_interval(cover, n, low, high)
            if high > low:
                inside |= (grid >= low - 1e-9) & (grid <= high + 1e-9)
        assert (np.diff(cover[:n].ravel()) > 0).all()
        kept = np.zeros_like(inside)
        for low, high in cover[:n]:
            kept |= (grid >= low - 1e-9) & (grid <= high + 1e-9)
        np.testing.assert_array_equal(kept, inside)


def test_a_full_table_of_intervals_says_so():
    cover, n = np.empty((2, 2)), 0
    for k in range(2):
        n = intervals.add_interval(cover, n, k, k + 0.5)
    assert intervals.add_interval(cover, n, 5.0, 6.0) == -1


# --- the oracle, in few cells: quick enough for plain Python, and with the runout, ramps, corners and starts ----------

V90 = cs.VBit(90, 6, 2)
RUNS_OUT = cs.VBit(90, 6, 3, runout=0.03, runout_azimuth=50)
LINE = cs.line((0, 0), (6, 0), 1.5)
AGAINST_THE_ORACLE = {
    # name: (cut, from station, to station)
    "steady line": (cs.Cut(V90, LINE, 15_000, 4000, phase=7.1), 3.0, 3.4),
    "steady arc, ccw": (
        cs.Cut(cs.VBit(60, 6, 3, 0.3), cs.ring(2.5, 1.5), 12_000, 4000, spin="ccw", phase=11),
        3.0,
        3.4,
    ),
    "runout on a line": (cs.Cut(RUNS_OUT, LINE, 12_000, 4000, phase=3.3), 3.0, 3.4),
    "start": (cs.Cut(RUNS_OUT, LINE, 12_000, 4000, spin="ccw", phase=3.3), 0.0, 0.3),
    "corner": (cs.Cut(V90, CORNER, 12_000, 5000, phase=5.1), 2.95, 3.4),
    "crossing": (cs.Cut(V90, cs.polyline([(0, 0), (5, 0), (2.5, 3), (2.5, -2)], 1.0), 12_000, 4000), 9.8, 10.2),
    "ramp": (cs.Cut(V90, cs.line((0, 0), (5, 0), (0.6, 2.1)), 12_000, 4000, phase=2.2), 2.0, 2.3),
    "speeding up": (cs.Cut(V90, LINE, 12_000, 4000, phase=1.7, machine=cs.Machine(1500, 5000)), 0.2, 0.5),
    "profile": (SCENES["profile"], 1.8, 2.1),
}
ROUND = np.array([-33.1, 3.9, 52.7, 90.0, 131.2, 176.1, 214.9])


@pytest.mark.parametrize("name", AGAINST_THE_ORACLE)
def test_a_few_cells_are_the_oracles(name):
    """Thickness anywhere on the ray's round, near the tip and at the face, to 1e-9 mm; speed by finite differences."""
    cut, start, stop = AGAINST_THE_ORACLE[name]
    deep = float(cut.path.depth_at(start))
    found = cs.tooth_passes(cut, start=start, stop=stop, angles=ROUND, heights=[0.12 * deep, 0.93 * deep])
    job, rng = slow(cut), np.random.default_rng(3)
    known = np.argwhere(np.isfinite(found.radial_thickness))
    assert len(known) > 10
    for p, a, h in known[rng.permutation(len(known))[:12]]:
        up, flute = float(found.heights[h]), int(found.flute[p])
        t, azimuth = own_crossing(cut, float(found.time[p, a]), float(found.angles[a]), up, flute)
        if not 0 < t < cut.duration:
            continue
        exact = oracle.uncut_length(t, azimuth, up, flute, **job)
        assert found.radial_thickness[p, a, h] == pytest.approx(exact, abs=1e-9)
        ends = oracle.edge_position(
            np.array([t - 1e-7, t + 1e-7]), up, flute, **{k: v for k, v in job.items() if k != "depth"}
        )
        level = np.hypot(*np.diff(ends, axis=0)[0]) / 2e-7 / 1000
        fall = np.diff(cut.path.depth_at(cut.speed_profile.station_at(np.array([t - 1e-7, t + 1e-7]))))[0] / 2e-7 / 1000
        if np.ptp(cut.path.depth) == 0:
            assert found.cutting_speed[p, a, h] == pytest.approx(np.hypot(level, fall), rel=1e-5)


@pytest.mark.parametrize("name", AGAINST_THE_ORACLE)
def test_a_few_lips_are_the_oracles(name):
    """Strikes on lips along the path, at corners and ends: as many, and the same wood left after each, to 1e-9 mm."""
    cut, bundle = AGAINST_THE_ORACLE[name][0], 0.2
    found = cs.lip_strikes(cut, pitch=0.61, bundle=bundle)
    rows, job = np.argwhere(found.exists), slow(cut)
    for i, side in rows[np.random.default_rng(5).permutation(len(rows))[:6]]:
        half = float(found.lips.half_width[i])
        seen = oracle.lip_strikes_slow(
            tuple(found.lip_xy[i, side]), float(found.lips.outward[i, side]) + 180.0, stop=cut.duration,
            low=-0.05 - cut.bit.runout, high=half, **job,
        )  # fmt: skip
        order = np.argsort(seen.time, kind="stable")
        surface, depths, chips = half, [], []
        for y in np.asarray(seen.depth)[order]:
            if y < surface - 1e-9:
                if y < seen.depth.min() + bundle:
                    depths.append(y)
                    chips.append(surface - y)
                surface = y
        count = found.counts[i, side]
        assert count == len(depths)
        np.testing.assert_allclose(found.depths[i, side, :count], depths, rtol=0, atol=1e-9)
        np.testing.assert_allclose(found.chips[i, side, :count], chips, rtol=0, atol=1e-9)
        # an edge at the lip goes at its own speed and at most the feed more or less
        own = cut.spindle_speed * 2 * np.pi / 60 * half / 1000
        slack = (cut.feed / 60 + cut.spindle_speed * 2 * np.pi / 60 * (cut.bit.runout + bundle)) / 1000
        if np.ptp(cut.path.depth) == 0:
            assert found.cutting_speeds[i, side, :count] == pytest.approx(own, abs=slack)


@pytest.mark.parametrize("name", ["steady line", "steady arc, ccw", "ramp"])
def test_normal_thickness_is_that_of_a_higher_slice(name):
    """h_n = cos a h_r(h + h_n sin a), derived; h_r from the oracle, at the height that the normal reaches."""
    cut, start, stop = AGAINST_THE_ORACLE[name]
    up, lean = 0.6 * float(cut.path.depth_at(start)), np.radians(cut.bit.half_angle)
    found = cs.tooth_passes(cut, start=start, stop=stop, angles=[52.7, 90.0, 131.2], heights=[up])
    job = slow(cut)
    for p, a in np.argwhere(np.isfinite(found.time))[:6]:
        n, flute = float(found.chip_thickness[p, a, 0]), int(found.flute[p])
        t, azimuth = own_crossing(cut, float(found.time[p, a]), float(found.angles[a]), up, flute)
        above = oracle.uncut_length(t, azimuth, up + n * np.sin(lean), flute, **job)
        assert n == pytest.approx(np.cos(lean) * above, abs=1e-9)


def test_an_earlier_pass_leaves_the_rest_of_the_ray():
    """Straight and level: the earlier groove's wall stands r(h - rise) beside the axis; from it on the ray is wood.

    By hand: chip = min(without the pass, R - r(h - rise) / |cos(angle)|), none if that is negative.
    """
    rise, up, angles = 0.4, 1.2, np.array([12.0, 31.0, 52.7, 90.0, 131.2, 163.0])
    plain = cs.Cut(V90, LINE, 12_000, 6000, phase=7.1)
    ask = {"start": 3.0, "stop": 3.6, "angles": angles, "heights": [up]}
    one, two = cs.tooth_passes(plain, **ask), cs.tooth_passes(replace(plain, passes=[rise]), **ask)
    rest = up - (up - rise) / np.abs(np.cos(np.radians(angles)))
    expected = np.clip(np.minimum(one.radial_thickness[..., 0], rest), 0, None)
    np.testing.assert_allclose(two.radial_thickness[..., 0], expected, rtol=0, atol=1e-9)
    assert (expected[np.isfinite(expected)] > 0).any()
    assert (two.radial_thickness[:, 3] == 0).all()  # straight ahead the whole ray was cleared
    lips, skim = cs.lip_strikes(plain, pitch=0.61), cs.lip_strikes(replace(plain, passes=[rise / 4]), pitch=0.61)
    run = lips.lips.kind == "run"
    # a skim finds the rough pass's wall, or a scallop of it
    scallop = plain.feed_per_tooth**2 / 8 / (1.2 - rise / 4) * 1.1
    assert (skim.stock[run] >= rise / 4 - 1e-9).all()
    assert (skim.stock[run] <= rise / 4 + scallop).all()
    own = np.where(skim.strokes == 1, skim.chips, 0.0).max(axis=-1)
    assert (own[run] <= rise / 4 + scallop).all()
    assert (lips.chips[..., 0][run] > rise / 4 + scallop).any()


def test_lips_that_the_groove_itself_removes():
    """Where a path crosses itself, and where it is run twice, a lip is cut away or counts once (plane geometry)."""
    wide = 1.0  # half of the groove, V90 to a depth of 1 mm
    cross = cs.Cut(V90, cs.polyline([(0, 0), (6, 0), (3, 4), (3, -4)], 1.0), 12_000, 3000)
    found = cs.lip_strikes(cross, pitch=0.2)
    x = found.xy[:, 0]
    first = (found.station < 6) & (found.lips.kind == "run") & (np.abs(x - 3) < wide - 0.11)
    assert first.sum() > 5
    assert not found.exists[first].any()
    there = (found.station < 6) & (found.lips.kind == "run") & (np.abs(x - 3) > wide + 0.11) & (x < 4)
    assert found.exists[there].all()
    twice = cs.Cut(V90, cs.polyline([(0, 0), (5, 0), (0, 0.0)], 1.0), 12_000, 3000)
    both = cs.lip_strikes(twice, pitch=0.2)
    run = both.lips.kind == "run"
    assert both.lip_length[run].sum() == pytest.approx(2 * 5.0, abs=1e-6)
    big = cs.Cut(V90, cs.ring(3.0, 1.0), 12_000, 3000)
    cut = cs.lip_strikes(cs.Cut(V90, cs.arc((0, 0), 3.0, 10, 340, 1.0), 12_000, 3000), pitch=0.2)
    assert cut.exists[cut.lips.kind == "run"].all()
    assert cs.groove_volume(big, pitch=0.1, slices=4) == pytest.approx(2 * np.pi * 3.0 * wide**2, rel=1e-3)


def test_powers_and_falls():
    """Series for vector registers against the C library, over the whole range they are asked for."""
    rng = np.random.default_rng(3)
    x = np.concatenate([[0.0, 1e-300, 1.0, np.sqrt(0.5), np.sqrt(2), 50.0, 60.0, 1e4], rng.uniform(0, 5, 56)])
    out, spare = np.empty(64), np.empty(64)
    risks.exp_minus(x, 64, out)
    np.testing.assert_allclose(out, np.exp(-np.minimum(x, 50)), rtol=2e-13)
    for power in (0.2, 1.0, 2.5, 3.7, 5.0, 9.3):
        risks.powers(x, 64, power, out, spare)
        np.testing.assert_allclose(out, np.maximum(np.maximum(x, 1e-60) ** power, 2.0**-1000), rtol=2e-12 * power)
    for twice in range(1, 16):
        risks.half_powers(x, 64, twice, out)
        np.testing.assert_allclose(out, x ** (twice / 2), rtol=1e-14)
    risks.logarithms(x, 64, out, spare)
    np.testing.assert_allclose(out, np.log2(np.maximum(x, 1e-60)), rtol=1e-12, atol=1e-12)
    risks.sigmoids(x - 2.5, 64, out)
    np.testing.assert_allclose(out, 1 / (1 + np.exp(2.5 - x)), rtol=1e-12)


def test_risks_of_a_few_lips():
    """The kernel of the risks without the compiler: an index out of bounds would show; against plain NumPy."""
    cut = cs.Cut(V90, cs.polyline([(0, 0), (3, 1), (3, 4)], 1.0), 12_000, 3000, passes=[0.8])
    strikes = cs.lip_strikes(cut, pitch=0.9)
    wood, exists = cs.wood("sugar maple"), strikes.exists
    fibres = np.full((*exists.shape, 3), np.nan)
    fibres[exists] = fibre_axis(30.0, 4.0)
    models = [cs.RiskModel(), cs.RiskModel(exponent=3.3, scatter=5.0)]
    sets = lip_risk_sets(models, strikes, fibres[None], cut, wood)
    for k, model in enumerate(models):
        slow = slow_risks(model, strikes, fibres, cut, wood)
        for key, value in sets.items():
            np.testing.assert_allclose(value[..., k], slow[key], rtol=1e-11, atol=1e-13)
    told = models[0].lip_risks(strikes, fibres, cut, wood)
    for key, value in slow_risks(models[0], strikes, fibres, cut, wood).items():
        np.testing.assert_allclose(told[key], value, rtol=1e-11, atol=1e-13, err_msg=key)
    lies = np.stack([fibres, fibres[..., [1, 0, 2]]])
    turned = models[0].turned_risks(strikes, lies, cut, wood)
    for k, lie in enumerate(lies):
        alone = models[0].lip_risks(strikes, lie, cut, wood)
        for key, value in turned.items():
            np.testing.assert_allclose(value[..., k], alone[key], rtol=0, atol=1e-15)


def test_graders_side_by_side():
    """Graders side by side against `Grader`, one by one."""
    model = cs.RiskModel()
    draws = prior_draws(model, 7, 5)
    rng = np.random.default_rng(2)
    fuzz, tear, scorch = rng.uniform(0, 1, (3, 3, 2, 7))
    fuzz[0, 1], tear[0, 1], scorch[0, 1] = np.nan, np.nan, np.nan
    tear[2, 0] = np.nan
    length = np.array([[1.0, 0.0], [0.3, 0.2], [0.5, 0.7]])
    damage, poor = as_graded(draws, fuzz, tear, scorch, length)
    for k, (grader, shift) in enumerate(zip(draws.graders, draws.shifts.tolist(), strict=True)):
        f, t = (grader.on_own_scale(n, a[..., k], shift) for n, a in (("fuzz", fuzz), ("tear", tear)))
        np.testing.assert_allclose(damage[..., k], damage_of(f, t, scorch[..., k]), rtol=1e-11, atol=1e-12)
        each = np.where(length > 0, grader.poor(fuzz[..., k], tear[..., k], shift), 0.0) * length
        assert poor[k] == pytest.approx(each.sum(), rel=1e-11)


def test_radius_and_slope_at_a_knee():
    """At a knee the flank that ends there is meant; above the last one the outline is upright."""
    heights, radii = np.array([0.0, 1.0, 2.0]), np.array([0.0, 1.0, 3.0])
    at = [0.5, 1.0, 1.0 + 1e-9, 1.5, 2.0, 2.1]
    assert [outline.profile_slope(heights, radii, h) for h in at] == [1.0, 1.0, 2.0, 2.0, 2.0, 0.0]
    assert [outline.profile_radius(heights, radii, h) for h in (-0.1, 0.5, 1.0, 1.5, 2.0, 9.0)] == [0, 0.5, 1, 2, 3, 3]


def test_clearance_all_along_an_arc_of_five_sixths():
    """Points beside any part of a long arc, the far half included: against its points one by one."""
    cut = cs.Cut(V90, cs.Path([(0, 0), (4, 0)], 1.0, sweep=[300]), 12_000, 3000)
    on_it = cut.path.position(np.linspace(0, cut.path.length, 4001))
    knots, radii = (np.asarray(a, dtype=float) for a in cut.knots)
    for x, y in ((-3.0, 4.0), (2.0, 8.0), (7.0, 2.0), (5.5, -2.0), (2.0, -4.9)):
        gap, at = grooves.clearance_to(cut.motion, knots, radii, 0, x, y, 0.0)
        apart = np.hypot(*(on_it - [x, y]).T)
        assert gap == pytest.approx(apart.min() - 1.0, abs=1e-4)
        assert at == pytest.approx(np.argmin(apart) / 4000 * cut.path.length, abs=0.02)
