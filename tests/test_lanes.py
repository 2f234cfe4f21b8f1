"""Many cells side by side against the slow road one by one: random motions, and every trap that was met on the way.

The slow road is the oracle's, see tests/test_kinematics.py and tests/test_space.py; here they agree to 1e-12 mm."""

import numpy as np
import pytest
from motions import scene

import chipsim as cs
from chipsim.kernels import lanes, table

TIGHT = 1e-12  # mm
TABLE = table.tooth_pass_table


def on_road(monkeypatch, road, cut, ask):
    with monkeypatch.context() as patch:
        patch.setattr(table, "tooth_pass_table", lambda *arguments: TABLE(*arguments[:-1], road))
        return cs.tooth_passes(cut, **ask)


def lanes_alone(monkeypatch, cut, ask):
    """Times, thickness and reasons for the slow road, 0 for none: of all rows, (passes, angles, heights)."""
    kept = []

    def spy(motion, job, knots, radii, prior, rows, phi, up, biggest, time, state, radial, chip, speed, road):
        for out in (time, state, radial, chip, speed):
            out[:] = np.nan
        left = np.zeros(radial.shape, np.int8)
        kept.extend([time, radial, left])
        widest = lanes.widest_grooves(prior)
        about = (motion, job, knots, radii, prior, widest, rows, phi, up, biggest)
        return lanes.table_lanes(*about, time, state, radial, chip, speed, left)

    with monkeypatch.context() as patch:
        patch.setattr(table, "tooth_pass_table", spy)
        cs.tooth_passes(cut, **ask)
    return kept


def agree(monkeypatch, cut, ask):
    """Compare both roads; returns how many cells the lanes solved, and how many there are."""
    fast, slow = (on_road(monkeypatch, road, cut, ask) for road in (3, 0))
    np.testing.assert_array_equal(fast.time, slow.time)
    for field in ("radial_thickness", "chip_thickness", "cutting_speed"):
        np.testing.assert_allclose(getattr(fast, field), getattr(slow, field), atol=TIGHT, rtol=0, err_msg=field)
    *_, left = lanes_alone(monkeypatch, cut, ask)
    known = np.isfinite(slow.radial_thickness).sum()
    return known - (left > 0).sum(), known


def random_cut(rng):
    """A cut of any kind, short."""
    z, rho = int(rng.integers(1, 5)), float(rng.choice([0, 0, 0.005, 0.02, 0.04]))
    bit = cs.VBit(
        float(rng.choice([40, 60, 90, 120])),
        12.7,
        z,
        float(rng.choice([0, 0.1, 0.3])),
        runout=rho,
        runout_azimuth=float(rng.uniform(0, 360)),
    )
    deep, turn = float(rng.uniform(0.6, 2.5)), lambda most: float(rng.uniform(-most, most))
    kind = rng.choice(["ramp", "chords", "corner", "arcs", "helix", "ring", "mixed"])
    if kind == "ramp":
        path = cs.line((0, 0), (9, 3), (deep, float(rng.uniform(0.3, 3))))
    elif kind == "chords":
        step = float(rng.choice([0.05, 0.2, 0.7]))
        heading = np.cumsum(rng.normal(0, 0.2 * np.sqrt(step) * 0.5, int(7 / step)))
        xy = np.cumsum(np.column_stack([np.cos(heading), np.sin(heading)]) * step, axis=0)
        swing = np.sin(np.arange(len(xy) + 1) * step * rng.uniform(0.3, 2))
        path = cs.polyline(np.vstack([[0, 0], xy]), deep * (1 + 0.2 * swing))
    elif kind == "corner":
        a = np.radians(rng.uniform(10, 150)) * rng.choice([-1, 1])
        depths = [deep, deep, deep * float(rng.uniform(0.5, 1.2))]
        path = cs.polyline([(0, 0), (5, 0), (5 + 4 * np.cos(a), 4 * np.sin(a))], depths)
    elif kind == "arcs":
        path = cs.Path([[0, 0], [4, 0], [8, 3]], deep, sweep=[turn(200), turn(200)])
    elif kind == "helix":
        path = cs.Path([[0, 0], [4, 0], [8, 1]], [deep * 0.5, deep * 0.8, deep], sweep=[turn(330), turn(100)])
    elif kind == "ring":
        path = cs.ring(float(rng.uniform(1, 5)), deep)
    else:
        depths = [deep, deep * 0.9, deep, deep * 0.7, deep]
        path = cs.Path([[0, 0], [3, 0], [5, 1], [5, 4], [2, 2]], depths, sweep=[0, turn(150), turn(30), 0])
    machine = cs.Machine(float(rng.uniform(200, 2000)), 8000) if rng.uniform() < 0.4 else None
    return cs.Cut(
        bit,
        path.rotated(float(rng.uniform(0, 360))),
        float(rng.choice([8000, 12000, 18000])),
        float(rng.uniform(600, 4000)),
        spin=str(rng.choice(["cw", "ccw"])),
        phase=float(rng.uniform(0, 360)),
        machine=machine,
    )


@pytest.mark.parametrize("seed", range(4))
def test_random_motions_on_both_roads(seed, monkeypatch):
    rng = np.random.default_rng([seed, 17])
    solved = known = 0
    for _ in range(8):
        cut = random_cut(rng)
        turn = 60 / cut.spindle_speed
        begin = float(rng.uniform(0, cut.duration - 1.6 * turn))
        heights = np.sort(rng.uniform(0.02, 1, 3)) * float(cut.path.depth.max())
        ask = {"times": (begin, begin + 1.5 * turn), "angles": rng.uniform(-15, 195, 5), "heights": heights}
        a, b = agree(monkeypatch, cut, ask)
        solved, known = solved + a, known + b
    assert solved > 0.5 * known


SPACE = {
    "plunge": "0 0 -0.3 ; L 0 0 2 800",
    "plunge, line": "0 0 -0.3 ; L 0 0 1.5 800 ; L 1.5 0.5 1.5 2400",
    "helix down": "0 0 0.6 ; A 0 2 -300 1.4 1800 ; A 0 2 -200 1.9 1800",
    "line, dwell, line down": "0 0 1.2 ; L 1 0.2 1.2 1800 ; W 0.01 ; L 2 0 1.7 1800",
    "line, retract, plunge, line": "0 0 1.2 ; L 1 0 1.2 1800 ; L 1 0 0.6 900 ; L 1 0 1.3 900 ; L 0.5 1.2 1.3 1800",
}


@pytest.mark.parametrize("runout", [0.0, 0.02])
@pytest.mark.parametrize("name", SPACE)
def test_motions_in_space_on_both_roads(name, runout, monkeypatch):
    bit = cs.VBit(70, 12.7, 2, 0.1, runout=runout, runout_azimuth=33)
    here = scene(SPACE[name], bit, 15000, spin="ccw", phase=21.7)
    last = here.seconds
    for begin in (0.3 * last, 0.6 * last, last - 0.007):
        ask = {"times": (begin, begin + 0.007), "angles": [5.3, 64.1, 121.7, 176.2], "heights": [0.31, 0.83]}
        agree(monkeypatch, here.cut, ask)


V60 = cs.VBit(60, 12.7, 2)


@pytest.mark.parametrize("name", ["plunge", "helix down", "ramp", "chords", "rest to rest", "runout"])
def test_lanes_solve_what_is_ordinary(name, monkeypatch):
    """Two turns after the beginning no cell of these is left to the slow road, a hundred times dearer."""
    ask = {"angles": np.linspace(4, 176, 9), "heights": [0.7, 1.1]}
    chords = cs.polyline(np.column_stack([np.arange(0, 6, 0.25), 0.05 * np.sin(np.arange(0, 6, 0.25))]), 1.5)
    cut = {
        "ramp": cs.Cut(V60, cs.line((0, 0), (6, 0), (1.2, 1.5)), 15000, 2000),
        "chords": cs.Cut(V60, chords, 15000, 2000),
        "rest to rest": cs.Cut(V60, cs.line((0, 0), (6, 0), 1.5), 15000, 2000, machine=cs.Machine(300, 3000)),
        "runout": cs.Cut(cs.VBit(60, 12.7, 2, runout=0.02), cs.line((0, 0), (6, 0), (1.2, 1.5)), 15000, 2000),
    }.get(name)
    if cut is None:
        # the helix before it comes over its own first round, the plunge once its slices are two turns old
        cut = scene(SPACE[name], V60, 15000).cut
        ask["times"] = (0.16, 0.36 if name == "helix down" else cut.duration)
    else:
        ask |= {"start": 1.0, "stop": 2.0}
    _, radial, left = lanes_alone(monkeypatch, cut, ask)
    assert np.isfinite(radial).sum() > 100
    assert not left.any()


@pytest.mark.parametrize("degrees", [100, 113, 128, 150])
def test_the_rest_of_a_ray_may_run_into_an_older_disc(degrees, monkeypatch):
    """After a sharp corner the outer ends of rays reach back into the groove, behind the point that is tested first."""
    a = np.radians(degrees)
    path = cs.polyline([(0, 0), (4, 0), (4 + 3 * np.cos(a), 3 * np.sin(a))], 1.7)
    for spin in ("cw", "ccw"):
        cut = cs.Cut(cs.VBit(90, 12.7, 1), path, 15000, 3500, spin=spin, phase=12.3)
        ask = {"start": 4.3, "stop": 5.6, "angles": [9.0, 14.2, 90.0, 161.3, 166.0, 171.7], "heights": [0.9, 1.6]}
        agree(monkeypatch, cut, ask)


@pytest.mark.parametrize("climb", [(0.6, 2.6), (2.6, 0.6)])
def test_runout_on_a_steep_ramp(climb, monkeypatch):
    """The extra angle and radius of an edge depend on the time that is solved for."""
    bit = cs.VBit(120, 12.7, 3, runout=0.05, runout_azimuth=77)
    cut = cs.Cut(bit, cs.line((0, 0), (4, 1), climb), 15000, 3500, phase=31.7)
    solved, known = agree(
        monkeypatch, cut, {"start": 2, "stop": 2.6, "angles": [7, 55.5, 131, 173], "heights": [0.9, 1.4]}
    )
    assert solved > 0.5 * known


def test_rays_that_point_back_near_the_axis(monkeypatch):
    """What comes to nearly the opposite of a heading of late is not left to a bound on the radius alone."""
    path = cs.polyline([(0, 0), (3, 0), (3.6, 0.9), (3.3, 1.9), (2.2, 2.3)], 1.5)
    cut = cs.Cut(cs.VBit(60, 12.7, 2), path, 12000, 4000, phase=12.3)
    for start in (3.1, 4.2, 5.3):
        ask = {"start": start, "stop": start + 0.5, "angles": np.arange(-88, 270, 31.0), "heights": [0.45, 0.7, 1.4]}
        agree(monkeypatch, cut, ask)


def test_a_groove_that_comes_back_to_itself(monkeypatch):
    """Windows of long ago, closed rings, and hairpins whose legs overlap."""
    ring = cs.Cut(cs.VBit(90, 12.7, 2), cs.ring(1.6, 1.3), 15000, 3000)
    hairpin = cs.Path([[0, 0], [5, 0], [5, 1.6], [0, 1.6]], [1.2, 1.4, 1.4, 1.3], sweep=[0, 180, 0])
    for cut, start in ((ring, 9.4), (cs.Cut(V60, hairpin, 15000, 3000), 9.0)):
        ask = {"start": start, "stop": start + 0.5, "angles": np.arange(3, 180, 24.0), "heights": [0.6, 1.2]}
        agree(monkeypatch, cut, ask)


@pytest.mark.parametrize("runout", [0.0, 0.02])
def test_over_earlier_grooves(runout, monkeypatch):
    """A skim over its own rough pass, and a stroke across another groove: most cells need no earlier tooth."""
    bit = cs.VBit(60, 12.7, 2, runout=runout, runout_azimuth=80)
    across = cs.Cut(cs.VBit(90, 12.7, 3), cs.line((2.2, -3), (2.6, 3), 0.9), 12000, 2500, phase=44)
    skim = cs.Cut(bit, cs.line((0, 0), (5, 0.5), (1.6, 1.8)), 15000, 2000, passes=[0.5])
    plain = cs.Cut(bit, cs.line((0, 0), (5, 0.5), (1.6, 1.8)), 15000, 2000)
    for cut, before in ((skim, []), (plain, [across])):
        ask = {"start": 1.4, "stop": 1.8, "angles": [4.0, 33.3, 90.0, 150.0, 176.0], "heights": [0.7, 1.5]}
        solved, known = agree(monkeypatch, cut, ask | {"before": before})
        assert solved > 0.4 * known
