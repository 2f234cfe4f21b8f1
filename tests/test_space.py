"""The tool's motion in space: plunges, dwells, retracts, ramps, helices and stops, and cuts over earlier cuts.

`space_thickness.csv` has numbers that were worked out by two roads which share no code with the library, to 1e-14 mm.
"""

import csv
import pathlib

import numpy as np
import pytest
from motions import crossing, scene, thickness, uncut_after

import chipsim as cs
from chipsim.kernels import axis
from chipsim.reference import oracle
from chipsim.scene.cutters import heel_rub_radius

with (pathlib.Path(__file__).parent / "space_thickness.csv").open() as file:
    GIVEN = list(csv.DictReader(file))


def given_scene(row, path, phase):
    bit = cs.VBit(
        float(row["included_deg"]),
        12.7,
        int(row["flutes"]),
        2 * float(row["tip_radius"]),
        runout=float(row["runout"]),
        runout_azimuth=float(row["runout_azimuth_deg"]),
    )
    limit = float(row["acceleration"]) if row["acceleration"] else None
    return scene(path, bit, float(row["rpm"]), spin=row["spin"], phase=phase, acceleration=limit)


@pytest.mark.parametrize("row", GIVEN, ids=lambda row: row["id"])
def test_thickness_of_motions_in_space(row):
    here = given_scene(row, row["path"], float(row["phase_deg"]))
    more = {}
    if row["earlier"]:
        path, phase = row["earlier"].split("@")
        more["before"] = [given_scene(row, path, float(phase)).cut]
    near, value = float(row["time_near"]), float(row["value"])
    place = int(row["flute"]), float(row["azimuth_deg"]), float(row["slice_z"])
    radial, normal, _ = thickness(here, *place, near, **more)
    found = normal if row["quantity"] == "chip_thickness" else radial
    assert found == pytest.approx(value, abs=1e-12)


V60 = cs.VBit(60, 12.7, 2)
ALIKE = {
    "ramp, helix and a stop": ("0 0 0 ; L 1.2 0.3 0.7 900 ; A 1.2 1.8 300 1.6 1500 ; W 0.006 ; L 2 3 1.6 1200", None),
    "plunge, line, retract": ("0 0 -0.3 ; L 0 0 1.5 800 ; L 2 0.5 1.5 2400 ; W 0.004 ; L 2 0.5 0.4 700", None),
    "chords that swell, from rest to rest": (
        "0 0 0.9 ; L 0.3 0.02 1 1500 ; L 0.55 0.08 1.1 1500 ; L 0.9 0.2 1.05 1500 ; L 1.2 0.4 0.9 1500",
        700.0,
    ),
}


@pytest.mark.parametrize("runout", [0.0, 0.02])
@pytest.mark.parametrize("name", ALIKE)
def test_random_cells_against_the_oracle(name, runout):
    """Anywhere in time, all round, down to the tip, uncut wood at the start."""
    text, limit = ALIKE[name]
    bit = cs.VBit(75, 12.7, 3, 0.1, runout=runout, runout_azimuth=33)
    here = scene(text, bit, 15000, spin="ccw", phase=21.7, acceleration=limit)
    rng = np.random.default_rng(5)
    seen = 0
    while seen < 8:
        near, flute, azimuth = float(rng.uniform(0, here.seconds)), int(rng.integers(3)), float(rng.uniform(-180, 180))
        z = -float(rng.uniform(0, max(float(here.depth(near)), 0.0)))
        t = crossing(here, flute, azimuth, z, near)
        height = z + float(here.depth(t))
        if not 0 < t < here.seconds or height < 1e-3:
            continue
        found, _, _ = thickness(here, flute, azimuth, z, near)
        if np.isnan(found):
            continue
        assert found == pytest.approx(oracle.uncut_length(t, azimuth, height, flute, **here.oracle), abs=1e-9)
        seen += 1


def test_a_dot_is_cut_to_its_cone():
    """What all teeth take of a slice of a plunge and a dwell: 1/2 R^2 round, telescoping."""
    here = scene("0 0 -0.2 ; L 0 0 1 1200 ; W 0.006", V60, 12000, phase=10)
    azimuths = np.arange(3.3, 363, 24.0)
    found = cs.tooth_passes(here.cut, times=(0, here.seconds), angles=90 - azimuths, heights=[0.4])
    assert np.isfinite(found.time).sum() > 200
    # at a fixed height above the tip every chip of the steady plunge is tan a F / (n z)
    steady = (found.time > 0.03) & (found.time < 0.0595)
    np.testing.assert_allclose(found.radial_thickness[steady], np.tan(np.pi / 6) * 1200 / 24000, atol=1e-13)
    after = found.time > 0.06 + 60 / 12000 / 2
    assert after.any()
    assert (found.radial_thickness[after] == 0).all()


def test_rows_run_on_where_the_axis_stands():
    """A plunge, a line, a dwell in its middle and a retract: one row a flute and turn, none opened by a stop."""
    here = scene("0 0 0 ; L 0 0 1 600 ; L 2 1 1 2400 ; W 0.02 ; L 4 2 1 2400 ; L 4 2 0.2 600", V60, 15000, phase=5)
    found = cs.tooth_passes(here.cut, angles=[20.0, 90.0, 160.0], heights=[0.1])
    turns = here.seconds * 250
    assert abs(len(found) - 2 * turns) <= 3
    for flute in (0, 1):
        at = found.time[found.flute == flute]
        np.testing.assert_allclose(np.diff(at[np.isfinite(at).all(axis=1)], axis=0), 1 / 250, atol=1e-12)


def test_parts_of_a_path_hold_every_crossing_once():
    """Cut up by arc length, a dwell in its middle: the axis stands there, and belongs to one part."""
    here = scene("0 0 1 ; L 2 1 1 2400 ; W 0.02 ; L 4 2 1 2400 ; L 4 2 0.2 600", V60, 15000, phase=5)
    ask = {"angles": [33.3, 90.0], "heights": [0.5]}
    middle = float(np.hypot(2, 1))
    parts = [cs.tooth_passes(here.cut, start=a, stop=b, **ask).time for a, b in ((0, middle), (middle, None))]
    both = np.sort(np.concatenate([p[np.isfinite(p)] for p in parts]))
    whole = cs.tooth_passes(here.cut, **ask).time
    np.testing.assert_allclose(both, np.sort(whole[np.isfinite(whole)]), atol=1e-12)


def test_a_chip_just_under_the_tip_ends_where_the_slices_begin():
    """Close above the tip the point along the normal may lie in a slice that nothing has entered: a jump, no root."""
    here = scene("0 0 -0.5 ; L 0 0 2 1800", cs.VBit(90, 12.7, 1, 0.2), 12000, phase=10)
    fall = 30 / 200  # a turn
    for above in (0.1, 0.3, 0.45, 0.6, 0.9):
        found = cs.tooth_passes(here.cut, times=(0.05, 0.06), angles=[50.0], heights=[above * fall])
        # with a = 45 deg: to the flank of the turn before if it reaches so far down, else to the lowest slice that turn
        # has entered, `fall` above the tip, if the normal does not meet the axis before
        jump, axis = (1 - above) * fall / np.sin(np.pi / 4), (0.1 + above * fall) / np.cos(np.pi / 4)
        expected = min(jump, axis) if above < 0.5 else fall * np.sin(np.pi / 4)
        seen = np.isfinite(found.time[:, 0])
        assert seen.any()
        np.testing.assert_allclose(found.chip_thickness[seen], expected, atol=1e-12)


BEFORE = {
    "a plunge beside it": "1.6 0.7 -0.2 ; L 1.6 0.7 1.5 900",
    "a helix down": "1.2 0.2 0 ; A 1.2 0.8 -400 1.4 1500",
    "a stroke across": "1 -1.5 0.9 ; L 1.4 2 1.2 1800",
}


@pytest.mark.parametrize("runout", [0.0, 0.015])
@pytest.mark.parametrize("name", BEFORE)
def test_earlier_cuts_are_met_with_their_scallops(name, runout):
    bit = cs.VBit(60, 12.7, 2, 0.1, runout=runout, runout_azimuth=70)
    first = scene(BEFORE[name], cs.VBit(90, 12.7, 3, runout=runout), 12000, phase=40)
    here = scene("0 0 1.3 ; L 2.5 0.5 1.3 1800", bit, 15000, spin="ccw", phase=11)
    earlier = [(first.oracle, first.seconds)]
    rng = np.random.default_rng(7)
    partly = tried = 0
    while partly < 3 and tried < 60:
        near, flute, azimuth = float(rng.uniform(0.02, here.seconds)), int(rng.integers(2)), float(rng.uniform(-90, 90))
        z = -float(rng.uniform(0, 0.9))
        t = crossing(here, flute, azimuth, z, near)
        found, _, _ = thickness(here, flute, azimuth, z, near, before=[first.cut])
        alone, _, _ = thickness(here, flute, azimuth, z, near)
        tried += 1
        if np.isnan(found) or abs(found - alone) < 1e-9:
            continue
        partly += 1
        truth = uncut_after(t, azimuth, z + float(here.depth(t)), flute, here.oracle, earlier)
        assert found == pytest.approx(truth, abs=1e-9)
    assert partly == 3


@pytest.mark.parametrize(
    ("included", "clearance", "feed", "fall", "radius"),
    [
        (60, 15, 0.4, 0.0, 0.215382238043832),
        (60, 15, 0.0, 0.1, 0.0296987166947343),
        (90, 10, 0.1, 0.1, 0.129603139685954),
    ],
)
def test_heel_rubs_in_a_descent(included, clearance, feed, fall, radius):
    bit = cs.VBit(included, 12.7, 2, clearance=clearance)
    assert heel_rub_radius(bit, included / 2, feed, descent_per_rev=fall) == pytest.approx(radius, rel=1e-11)


def test_depth_is_met_in_time():
    """The root of the depth's quadratic, from rest, to rest, up and down."""
    motion = np.zeros((1, 14))
    for w, b in ((2.0, 0.0), (0.0, 3.0), (2.0, -0.7), (-2.0, 0.0), (0.0, -3.0), (-2.0, 0.7)):
        motion[0, [12, 13]] = w, b
        for tau in (1e-6, 0.3, 1.9):
            fall = axis.depth_on(motion, 0, tau)
            assert axis.descent_time(motion, 0, fall) == pytest.approx(tau, rel=1e-12)


def test_times_in_place_of_stations():
    here = scene("0 0 1 ; L 2 1 1 2400", V60, 15000)
    ask = {"angles": [90.0], "heights": [0.5]}
    for bad in ((0, 1, 2), "ab", 3, (0.01, 0.005), (0, 99), (-1, 0.01)):
        with pytest.raises(cs.DomainError, match="times"):
            cs.tooth_passes(here.cut, times=bad, **ask)
    with pytest.raises(cs.DomainError, match="times"):
        cs.tooth_passes(here.cut, start=0.5, times=(0, 0.01), **ask)
