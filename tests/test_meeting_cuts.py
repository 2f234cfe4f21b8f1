"""A groove made in several goes is the groove made in one: no false damage where strokes meet, in the maps.

Against the same groove of one piece: mean damage within 0.02, spoilt lip within a millimetre.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

import chipsim as cs

V60 = cs.VBit(60, 12.7, 2)
BOARD = cs.Board(cs.wood("sugar maple"), cs.straight_grain(30))


def told(found: cs.RiskMap, away: float = 0.0) -> tuple[float, float, float]:
    """Mean and worst damage and millimetres of spoilt lip, on lips along the paths more than `away` from x = 0."""
    here = found.exists & (found.kind == "run")[:, None] & (np.abs(found.lip_xy[..., 0]) > away)
    length, damage = found.lip_length[here], found.damage[here]
    return float(np.average(damage, weights=length)), float(damage.max()), float(length[damage > 0.5].sum())


def carried_on(cut: cs.Cut, path: cs.Path, before: float) -> cs.Cut:
    """The cut along another path, its spindle having turned for so long. [s]"""
    turned = cut.spindle_speed * 6 * before * (-1 if cut.spin == "cw" else 1)
    return replace(cut, path=path, phase=(cut.phase + turned) % 360)


def test_two_cuts_that_meet_in_line_leave_no_false_damage_at_the_joint() -> None:
    """Each enters with a phase of its own; half a millimetre beside the joint used to look damaged."""
    whole = cs.Cut(V60, cs.line((0, 0), (20, 0), 1.5), 15_000, 3000, phase=30)
    first = replace(whole, path=cs.line((0, 0), (10, 0), 1.5))
    second = replace(whole, path=cs.line((10, 0), (20, 0), 1.5), phase=201)
    one = cs.risk_map(whole, BOARD, pitch=0.05)
    two = cs.risk_map(cs.Carving((first, second)), BOARD, pitch=0.05)
    near = [m.damage[m.exists & (m.kind == "run")[:, None] & (np.abs(m.lip_xy[..., 0] - 10) < 1.5)] for m in (one, two)]
    assert len(near[0]) == len(near[1])
    assert near[1].max() <= near[0].max() + 0.01
    assert near[1].mean() == pytest.approx(near[0].mean(), abs=0.02)


def test_a_ring_in_chords_of_swelling_depth_is_the_ring_of_one_path() -> None:
    """A cut for each chord, as programs of many short moves have it: 1.0 to 2.0 mm deep and back."""
    turn = np.linspace(0, 2 * np.pi, 97)
    xy = 6 * np.column_stack([np.cos(turn), np.sin(turn)])
    depth = 1.5 - 0.5 * np.cos(2 * turn)
    whole = cs.Cut(V60, cs.Path(xy, depth), 16_000, 2400, phase=12)
    cuts, clock = [], 0.0
    for k in range(len(turn) - 1):
        cuts.append(carried_on(whole, cs.Path(xy[k : k + 2], depth[k : k + 2]), clock))
        clock += cuts[-1].duration
    job, pitch = cs.Carving(tuple(cuts)), float(np.hypot(*(xy[1] - xy[0]))) / 2
    # the same stations: at every lip the same strikes, whichever cut made them
    one, many = (cs.lip_strikes(c, pitch=pitch) for c in (whole, job))
    place = {tuple(np.round(p, 6)): i for i, p in enumerate(one.lips.xy) if one.lips.kind[i] == "run"}
    compared = shared = 0
    for i in np.flatnonzero(many.lips.kind == "run"):
        k = place[tuple(np.round(many.lips.xy[i], 6))]
        for side in (0, 1):
            if one.exists[k, side] and many.exists[i, side]:
                n = one.counts[k, side]
                assert many.counts[i, side] == n
                np.testing.assert_allclose(many.depths[i, side, :n], one.depths[k, side, :n], rtol=0, atol=1e-9)
                np.testing.assert_allclose(many.chips[i, side, :n], one.chips[k, side, :n], rtol=0, atol=1e-9)
                np.testing.assert_allclose(many.times[i, side, :n], one.times[k, side, :n], rtol=0, atol=1e-9)
                compared, shared = compared + 1, shared + (many.pass_counts[i, side] > 1)
    assert compared > 300
    assert shared > 150
    whole_map, chords = (cs.risk_map(c, BOARD, pitch=pitch) for c in (whole, job))
    (mean, _, spoilt), (other, _, more) = told(whole_map), told(chords)
    assert other < mean + 0.02
    assert more < spoilt + 1.0


def test_a_feed_that_changes_by_turns_does_not_spoil_a_line() -> None:
    """Forty cuts of half a millimetre in line, at 1500 and 1490 mm/min."""
    whole = cs.Cut(V60, cs.line((0, 0), (20, 0), 1.2), 15_000, 1500, phase=5)
    cuts, clock = [], 0.0
    for k in range(40):
        one = carried_on(whole, cs.line((0.5 * k, 0), (0.5 * k + 0.5, 0), 1.2), clock)
        cuts.append(replace(one, feed=1500 if k % 2 else 1490))
        clock += cuts[-1].duration
    one, many = (cs.risk_map(job, BOARD, pitch=0.1) for job in (whole, cs.Carving(tuple(cuts))))
    (mean, _, spoilt), (other, _, more) = told(one), told(many)
    assert other == pytest.approx(mean, abs=0.02)
    assert more == pytest.approx(spoilt, abs=1.0)


@pytest.mark.parametrize("angle", [30.0, 60.0, 90.0])
def test_an_upright_wall_in_two_passes_is_the_wall_of_one(angle: float) -> None:
    """The second pass takes nothing at the face: what the first severed there is severed."""
    board = cs.Board(cs.wood("sugar maple"), cs.straight_grain(angle))
    cut = cs.Cut(cs.ProfileBit([0, 3], [1.5, 1.5], flutes=2), cs.line((1, 0), (13, 0), 2.0), 15_000, 3000)
    one, two = (cs.risk_map(c, board, pitch=0.2) for c in (cut, replace(cut, passes=[1.0])))
    assert told(two)[0] == pytest.approx(told(one)[0], abs=0.02)
    assert told(two)[2] == pytest.approx(told(one)[2], abs=1.0)


def test_a_skim_thinner_than_a_chip_tends_to_no_skim() -> None:
    """The thinner the skim, the more of the last wood's strikes are the rough pass's: in the limit all of them."""
    cut = cs.Cut(V60, cs.line((1, 0), (13, 0), 3.0), 15_000, 3000, phase=3)
    without = told(cs.risk_map(cut, BOARD, pitch=0.2))[0]
    apart = [
        abs(told(cs.risk_map(replace(cut, passes=[leave]), BOARD, pitch=0.2))[0] - without)
        for leave in (0.1, 0.03, 0.01, 0.003)
    ]
    assert apart == sorted(apart, reverse=True)
    assert apart[-1] < 0.005
