"""No strike at a lip is lost where an edge near the spindle axis crosses the probe line more than once in a turn.

Near the tip an edge's trochoid is small beside the feed in a turn. There an edge may cross the probe line twice or
more in a turn, or not at all, and a ramp from the face enters the slice in mid-turn. The check is `slow_strikes`.
"""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from slow_strikes import histories

import chipsim as cs

TOLERANCE = 1e-9  # mm
FROM_THE_FACE = cs.Cut(
    cs.VBit(60, 12.7, 2, 0.2), cs.Path([(0, 0), (3, 0)], [0, 2.5]), 12_000, 2500, phase=123
)  # fmt: skip


def random_cut(rng: np.random.Generator) -> cs.Cut:
    """A cut with edges near the axis: ramps from and to the face, shallow grooves, lines, arcs and corners."""
    angle = float(rng.choice([30, 60, 90, 120]) + rng.uniform(-5, 5))
    tip = float(rng.choice([0.0, rng.uniform(0.05, 0.8)]))
    runout = float(rng.choice([0.0, rng.uniform(0.002, 0.08)]))
    bit: Any = cs.VBit(
        angle, 12.7, int(rng.integers(1, 9)), tip, runout=runout, runout_azimuth=float(rng.uniform(0, 360))
    )
    deep, shallow = float(rng.uniform(0.5, 2.5)), float(rng.uniform(0.03, 0.4))
    length = float(rng.uniform(1.0, 3.0))
    turn = float(rng.uniform(-140, 140))
    kind = rng.integers(9)
    if kind == 0:
        path = cs.Path([(0, 0), (length, 0)], [0, deep])
    elif kind == 1:
        path = cs.Path([(0, 0), (length, 0.3)], [deep, 0])
    elif kind == 2:
        path = cs.Path([(0, 0), (length, 0), (2 * length, 0.2)], [0, deep, 0])
    elif kind == 3:
        path = cs.Path([(0, 0), (length, 0)], [0, deep], sweep=[turn])
    elif kind == 4:
        path = cs.Path([(0, 0), (length, 0.5)], [deep, 0], sweep=[turn])
    elif kind == 5:
        path = cs.Path([(0, 0), (length, 0), (length, length)], [0, deep, shallow])
    elif kind == 6:
        path = cs.Path([(0, 0), (length, 0), (length, length)], shallow)
    elif kind == 7:
        path = cs.Path([(0, 0), (length, 0), (length + 1.0, 1.0)], [shallow, shallow, 0.0], sweep=[0, turn])
    else:
        path = cs.Path([(0, 0), (0.25 * length, 0), (length, 0)], [0, deep, deep])
    machine = cs.Machine(float(rng.uniform(200, 2000)), 6000) if rng.random() < 0.2 else None
    return cs.Cut(
        bit,
        path,
        float(rng.uniform(6000, 18_000)),
        float(rng.uniform(500, 5000)),
        spin=str(rng.choice(["cw", "ccw"])),
        phase=float(rng.uniform(0, 360)),
        machine=machine,
    )


def compare(cut: cs.Cut, pitch: float, bundle: float) -> tuple[int, int]:
    """Check all lips of a cut; numbers of lips compared and of those whose list hangs on a rounding."""
    strikes = cs.lip_strikes(cut, pitch=pitch, bundle=bundle)
    compared = doubtful = 0
    for (i, side), true in histories(cut, strikes, bundle).items():
        count = int(strikes.counts[i, side])
        depths, chips = strikes.depths[i, side, :count], strikes.chips[i, side, :count]
        if true.doubtful:
            doubtful += 1
            continue
        said = f"{cut!r}, {cut.path!r}, row {i}, side {side}: {depths} for {true.depths}"
        assert count == len(true.depths), said
        np.testing.assert_allclose(depths, true.depths, rtol=0, atol=TOLERANCE, err_msg=said)
        np.testing.assert_allclose(chips, true.chips, rtol=0, atol=TOLERANCE, err_msg=said)
        compared += 1
    return compared, doubtful


def test_both_crossings_of_one_sweep_are_strikes() -> None:
    """Four strikes on a ramp from the face, the first two by one flute 0.12 ms apart: in 30-digit arithmetic."""
    found = cs.lip_strikes(FROM_THE_FACE, pitch=0.17)
    row = int(np.argmin(np.abs(found.station - 5 / 12)))
    assert found.counts[row, 1] == 4
    expected = [0.165362455229767, 0.137585601887509, 0.00880102905908975, 0.00186610802027752]
    np.testing.assert_allclose(found.depths[row, 1, :4], expected, rtol=0, atol=1e-12)


def test_a_lip_that_is_never_finished_has_its_strikes() -> None:
    """Round the start of a ramp up to the face the surface stays farther from the lip than the layer and a turn."""
    path = cs.Path([(0, 0), (2, 0.5)], [1.5, 0.0], sweep=[25])
    cut = cs.Cut(cs.VBit(60, 12.7, 1), path, 17_000, 4500, spin="ccw", phase=176)
    found = cs.lip_strikes(cut, pitch=0.15, bundle=0.05)
    far = found.depths[..., 0] > 0.05 + cut.feed_per_rev
    assert far.any()
    compared, _ = compare(cut, 0.15, 0.05)
    assert compared > 20


def test_every_strike_on_a_ramp_from_the_face_is_found() -> None:
    assert sum(compare(FROM_THE_FACE, 0.013, 0.2)) > 400


@pytest.mark.parametrize("seed", range(6))
def test_no_strike_is_lost_on_random_lips_near_the_axis(seed: int) -> None:
    """Some hundred random lips each: ramps from and to the face, flat and sharp tips, runout, 1 to 8 flutes."""
    rng = np.random.default_rng(seed)
    checked = [compare(random_cut(rng), 0.12, float(rng.choice([0.05, 0.2, 1.0]))) for _ in range(14)]
    compared, doubtful = np.sum(checked, axis=0)
    assert compared > 250
    assert doubtful < 0.05 * compared
