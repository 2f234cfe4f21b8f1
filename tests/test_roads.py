"""Every fast road against the slow one beside it, wherever it is taken: the slow ones are the oracle's, see
tests/test_kinematics.py, and here they must agree to the last few bits."""

from concurrent.futures import ThreadPoolExecutor

import numpy as np
import pytest

import chipsim as cs
from chipsim.chips import blocks, edges, passes, strikes
from chipsim.kernels import axis, probes, table, thickness
from chipsim.reference import oracle
from chipsim.testing._scene import own_crossing, slow

TIGHT = 1e-12  # mm


def bit(**more):
    return cs.VBit(90, 12.7, 2, **more)


def swelling(step, count):
    """A gentle curve in chords, its depth swinging."""
    heading = 0.17 * step * np.arange(count)
    xy = np.cumsum(np.column_stack([np.cos(heading), np.sin(heading)]) * step, axis=0)
    return cs.polyline(np.vstack([[0, 0], xy]), 1.6 + 0.2 * np.sin(step * np.arange(count + 1)))


RUNOUT = {"runout": 0.03, "runout_azimuth": 35}
SCENES = {
    "line": cs.Cut(bit(), cs.line((0, 0), (12, 5), 2.0), 15000, 6000),
    "ring of four arcs, to its end": cs.Cut(bit(), cs.ring(5, 1.8), 15000, 6000),
    "ring, ccw, runout": cs.Cut(bit(**RUNOUT), cs.ring(5, 1.8), 15000, 5000, spin="ccw", phase=40),
    "three flutes, runout beyond the feed": cs.Cut(
        cs.VBit(60, 12.7, 3, 0.2, runout=0.12), cs.ring(6, 3.0), 12000, 6000, spin="ccw"
    ),
    "tight ring": cs.Cut(bit(), cs.ring(2.1, 1.8), 15000, 3000),
    "line, arc, line": cs.Cut(
        bit(**RUNOUT), cs.Path([[0, 0], [5, 0], [9, 4], [9, 9]], 1.5, sweep=[0, 90, 0]), 15000, 6000
    ),
    "s": cs.Cut(bit(), cs.Path([[0, 0], [5, 5], [10, 10]], 1.5, sweep=[90, -90]), 15000, 6000),
    "corner": cs.Cut(bit(), cs.polyline([(0, 0), (8, 0), (8, 8)], 1.5), 15000, 6000),
    "ramp": cs.Cut(bit(), cs.line((0, 0), (6, 2), (0.9, 1.8)), 15000, 6000),
    "ramp up, runout": cs.Cut(bit(**RUNOUT), cs.line((0, 0), (6, 2), (1.8, 0.9)), 15000, 6000, spin="ccw", phase=70),
    "chords": cs.Cut(bit(), swelling(0.3, 24), 15000, 6000),
    "short chords, runout, machine": cs.Cut(
        bit(**RUNOUT), swelling(0.05, 90), 15000, 6000, machine=cs.Machine(900, 8000)
    ),
    "helix": cs.Cut(bit(), cs.Path([[0, 0], [3, 3]], [1.0, 1.9], sweep=[250]), 15000, 6000),
    "ring that meets its start before it was far": cs.Cut(bit(), cs.ring(1.6, 1.3), 15000, 3000),
    "spiral": cs.Cut(bit(), cs.spiral(3, 6, 0.7, 1.0), 15000, 6000),
    "hairpin": cs.Cut(bit(), cs.Path([[0, 0], [8, 0], [8, 2.2], [0, 2.2]], 1.5, sweep=[0, 180, 0]), 15000, 5000),
    "crossing": cs.Cut(bit(), cs.polyline([(0, 0), (9, 0), (5, 6), (5, -5)], 1.4), 15000, 6000),
    "polyline outline": cs.Cut(
        cs.ProfileBit([0, 0.8, 1.2, 2.5], [0.1, 1.0, 1.1, 2.2], flutes=2), cs.line((0, 0), (10, 0), 1.9), 15000, 5000
    ),
    "from rest to speed": cs.Cut(bit(), cs.line((0, 0), (14, 0), 1.5), 15000, 6000, machine=cs.Machine(2000, 8000)),
}  # fmt: skip
FRONT = {"tooth_pass_table": table, "lip_history": probes}
FIELDS = ("radial_thickness", "chip_thickness", "cutting_speed")


def on_road(monkeypatch, kernel, road, call):
    """What a call gives with the last argument of a kernel, its road, fixed; and how often it was called."""
    room = FRONT[kernel]
    original = getattr(room, kernel)
    with monkeypatch.context() as patch:
        patch.setattr(room, kernel, lambda *arguments: original(*arguments[:-1], road))
        return call()


@pytest.mark.parametrize("name", SCENES)
def test_tables_of_four_roads_agree(name, monkeypatch):
    """All of the path, start to end: where the heights are above the tip zone most cells are steady."""
    cut = SCENES[name]
    top = float(cut.path.depth.max())
    least = 1.5 * cut.feed_per_rev + 3 * cut.bit.runout + 0.05
    low = float(np.interp(least, cut.knots[1], cut.knots[0])) if least < cut.knots[1][-1] else 0.9 * top
    ask = {"angles": np.r_[np.arange(-86.0, 270.0, 27.0), 0.5, 90.0, 181.0], "heights": [min(low, 0.9 * top), top]}
    general, *others = (
        on_road(monkeypatch, "tooth_pass_table", road, lambda: cs.tooth_passes(cut, **ask)) for road in (0, 1, 2, 3)
    )
    for field in FIELDS:
        for other in others:
            np.testing.assert_allclose(getattr(other, field), getattr(general, field), atol=TIGHT, rtol=0)


def test_edges_that_runout_carries_past_an_end(monkeypatch):
    """Where the nominal direction crosses just before a corner or the end and the edge itself just after: NaN."""
    cut = cs.Cut(cs.VBit(90, 12.7, 2, runout=0.12, runout_azimuth=80), cs.line((0, 0), (4, 0), 1.8), 15000, 5000)
    ask = {"start": 3.3, "angles": np.arange(-89.0, 270.0, 0.6), "heights": [1.75]}
    general, table = (
        on_road(monkeypatch, "tooth_pass_table", road, lambda: cs.tooth_passes(cut, **ask)) for road in (0, 3)
    )
    assert (np.isnan(general.radial_thickness[..., 0]) & np.isfinite(general.time)).any()
    np.testing.assert_allclose(table.radial_thickness, general.radial_thickness, atol=TIGHT, rtol=0)


def test_the_table_is_what_a_steady_cut_gets(monkeypatch):
    """Without the table a call is a hundred times as dear: that it is really taken, on the second arc of a ring too."""
    cut, calls = SCENES["ring of four arcs, to its end"], []
    original = table.tooth_pass_table

    def spy(*arguments):
        status = original(*arguments)
        calls.append(arguments)
        return status

    monkeypatch.setattr(table, "tooth_pass_table", spy)
    passes = cs.tooth_passes(cut, start=8.5, stop=11.0, angles=[20.0, 90.0, 160.0], heights=[1.2, 1.8])
    (arguments,) = calls
    motion, job, knots, radii = arguments[:4]
    phis, levels = arguments[6:8]
    out = np.empty((3, 2, 3, 2))
    thickness.steady_table(job, knots, radii, motion[1, 2], motion[1, 7], phis, levels, *out)
    for k in np.flatnonzero(np.isfinite(passes.time).all(axis=1)):
        # bit for bit: one solution serves all turns
        np.testing.assert_array_equal(passes.radial_thickness[k], out[0, passes.flute[k]])
        np.testing.assert_array_equal(passes.chip_thickness[k], out[1, passes.flute[k]])


def test_lanes_say_no_rather_than_wrong():
    """Beyond the series' range, down to the tip and past the walls: -1, or the scalar road's value."""
    cut = cs.Cut(bit(), cs.ring(2.4, 2.0), 15000, 6000)
    motion, job = cut.motion.copy(), passes.spindle_of(cut)
    phi = np.radians(np.arange(-89.5, 269.5, 3.0))
    r = np.geomspace(0.01, 2.3, 40)
    phi, r = (a.ravel() for a in np.meshgrid(phi, r))
    room, thick = [np.empty(phi.size) for _ in range(3)], np.empty(phi.size)
    thickness.steady_lanes(job, motion[0, 2], motion[0, 7], 1, np.sin(phi), np.cos(phi), r, r, *room, thick)
    x, y, heading, _, _ = axis.state(motion, 1, 0.0)
    outline = edges.outline_of(cut)
    rays = zip(phi, np.ones(phi.size, int), r, r, r, r, strict=True)
    slow = np.array([thickness.steady_thickness(motion, job, *outline, 1, 0.0, heading, x, y, *ray) for ray in rays])
    both = (thick >= 0) & (slow >= 0)
    assert 0.3 < both.mean() < 0.99
    np.testing.assert_allclose(thick[both], slow[both], atol=TIGHT)


@pytest.mark.parametrize("name", SCENES)
def test_lip_strikes_of_two_roads_agree(name, monkeypatch):
    """The same strikes, of the same depth; a strike that a rounding puts on the layer's very edge may be in or out."""
    cut = SCENES[name]
    ask = {"pitch": 0.1, "bundle": 0.1937}
    fast, slow = (on_road(monkeypatch, "lip_history", road, lambda: cs.lip_strikes(cut, **ask)) for road in (1, 0))
    np.testing.assert_array_equal(fast.counts, slow.counts)
    for field in ("chips", "depths"):
        np.testing.assert_allclose(getattr(fast, field), getattr(slow, field), atol=TIGHT, rtol=0)
    # the speed is a smooth function of the crossing's angle, known to first order in the last step
    np.testing.assert_allclose(fast.cutting_speeds, slow.cutting_speeds, rtol=1e-11)
    assert fast.counts.sum() > 100


BOARD = cs.Board(cs.wood("sugar maple"), cs.straight_grain(30))


def test_threads_and_blocks_change_no_bit():
    """A carving of lines, corners, arcs and a ramp, in blocks on one, two and three threads."""
    cuts = (
        cs.Cut(bit(), cs.polyline([(0, 0), (30, 0), (30, 20)], 2.0), 16000, 3000),
        cs.Cut(bit(**RUNOUT), cs.ring(9, 1.5), 16000, 3000),
        cs.Cut(bit(), cs.line((-5, -8), (20, 8), (0.2, 2.0)), 16000, 3000),
    )
    job = cs.Carving(cuts)
    one, *others = (cs.risk_map(job, BOARD, pitch=0.02, threads=n) for n in (1, 2, 3))
    assert len(one) > 2 * blocks.BLOCK
    arrays = {k: v for k, v in vars(one).items() if isinstance(v, np.ndarray)}
    assert len(arrays) > 20
    for other in others:
        for name, value in arrays.items():
            np.testing.assert_array_equal(getattr(other, name), value, err_msg=name)
    a, b = (cs.lip_strikes(cuts[0], pitch=0.01, threads=n) for n in (1, 2))
    for name in ("counts", "chips", "depths", "cutting_speeds", "stock"):
        np.testing.assert_array_equal(getattr(a, name), getattr(b, name))


def test_maps_side_by_side_are_the_maps_one_by_one():
    """Four callers at once, each with its own cut, its own threads and a field of grain: no bit differs."""
    board = cs.Board(cs.wood("sugar maple"), cs.grain_field(lambda x, y: 20 + 2 * x - y))
    jobs = [
        cs.Cut(bit(), cs.polyline([(0, 0), (30, 0), (30, 20)], 2.0), 16000, 3000),
        cs.Cut(bit(**RUNOUT), cs.ring(9, 1.5), 12000, 4000, spin="ccw"),
        cs.Cut(cs.VBit(60, 12.7, 3, 0.2), cs.line((-5, -8), (20, 8), (0.2, 2.0)), 18000, 2000),
        cs.Cut(bit(), cs.spiral(3, 9, 1, 1.2), 16000, 3000, machine=cs.Machine(800, 5000), passes=[0.4]),
    ]

    def arrays(k, threads):
        found = cs.risk_map(jobs[k], board, pitch=0.01, draws=3, threads=threads)
        assert len(found) > blocks.BLOCK
        every = {f"{type(o).__name__}.{n}": v for o in (found, found.band) for n, v in vars(o).items()}
        return {n: v.tobytes() for n, v in every.items() if isinstance(v, np.ndarray)}

    alone = [arrays(k, 1) for k in range(4)]
    asked = [(k, threads) for threads in (1, 2) for k in range(4)]
    with ThreadPoolExecutor(4) as pool:
        together = list(pool.map(lambda ask: arrays(*ask), asked))
    for (k, threads), found in zip(asked, together, strict=True):
        assert found == alone[k], (k, threads)


def test_rows_are_counted_before_they_are_laid_out():
    for cut in SCENES.values():
        job = cs.Carving((cut,))
        assert blocks.LipPlans(job, 0.13).rows == sum(
            len(part) for _, part in strikes.carving_blocks(job, pitch=0.13, bundle=0.1, block=17)
        )


def test_an_error_on_a_thread_is_the_callers():
    def field(x, y):
        raise ZeroDivisionError

    with pytest.raises(ZeroDivisionError):
        cs.risk_map(SCENES["line"], cs.Board(cs.wood("sugar maple"), cs.grain_field(field)), pitch=0.002, threads=2)


@pytest.mark.parametrize("threads", [0, 1.5, "two"])
def test_bad_threads(threads):
    with pytest.raises(cs.DomainError, match="threads"):
        cs.risk_map(SCENES["line"], BOARD, threads=threads)


def test_near_the_axis_on_a_steep_ramp():
    """Where the disc of the slice grows as fast as this the sweep doubles back more than once; against the oracle."""
    bit = cs.VBit(20, 6.35, 2, rake=10, clearance=15)
    path = cs.Path([(0, 0), (0.299999978, 1.14668129e-4), (0.599999956, 2.29336258e-4)], [0.3, 0.94, 0.3])
    for turn in (0.0, 33.7):
        cut = cs.Cut(bit, path.rotated(turn), 8000, 400, phase=0.1377 + turn)
        found = cs.tooth_passes(cut, angles=[174.7], heights=[0.285])
        known = np.flatnonzero(np.isfinite(found.time[:, 0]))
        assert len(known) > 5
        for row in known[2:6]:
            time, azimuth = float(found.time[row, 0]), float(found.azimuth[row, 0])
            truth = oracle.uncut_length(time, azimuth, 0.285, int(found.flute[row]), **slow(cut))
            assert found.radial_thickness[row, 0, 0] == pytest.approx(truth, abs=1e-9)


@pytest.mark.parametrize("sweep", [0.0, -0.018])
def test_dead_ahead_on_a_ramp_with_runout(sweep):
    """The runout shifts an edge by an angle that changes with the slice's radius: half turns do not end where they
    would on the level, and what a tooth takes straight ahead it takes within a moment of such an end; the oracle's."""
    bit = cs.VBit(120, 6.35, 8, 1.0, runout=0.02, runout_azimuth=131.071)
    path = cs.Path([(0.486, 0.327), (1.076, 0.281)], [0.581, 2.999], sweep=[sweep])
    cut = cs.Cut(bit, path, 8000, 1500, phase=0.5937)
    height = 0.20335
    found = cs.tooth_passes(cut, start=0.15, angles=[90.0, 214.9], heights=[height])
    for row, col in np.ndindex(4, 2):
        row += 4
        time, azimuth = own_crossing(cut, found.time[row, col], found.angles[col], height, found.flute[row])
        truth = oracle.uncut_length(time, azimuth, height, int(found.flute[row]), **slow(cut))
        assert found.radial_thickness[row, col, 0] == pytest.approx(truth, abs=1e-9)
        assert truth < 0.5 * found.edge_radius_about_axis[row, 0]
