"""One history for every lip: whatever struck its last wood, of all passes and cuts, in order of time.

The judge is `oracle_space.probe_strikes`, which samples and bisects and has not met the kernels: it says which edge
crosses the probe when and where. What that comes to at a lip is worked out here, in plain Python.
"""

from __future__ import annotations

import csv
import math
import time
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from motions import scene

import chipsim as cs
from chipsim.chips import strikes as front
from chipsim.chips.index import PieceIndex
from chipsim.chips.lips import Lips
from chipsim.chips.passes import outline_of, spindle_of
from chipsim.reference.oracle_space import Arc, Line, Motion, probe_strikes

TOLERANCE = 1e-9  # mm
V60 = cs.VBit(60, 12.7, 2)


def motion_of(cut: cs.Cut) -> Motion:
    """A cut without passes as the oracle takes it: pieces from the path's vertices, feeds along them in space."""
    path, pieces = cut.path, []
    xy = np.vstack([path.xy, path.xy[:1]]) if path.closed else path.xy
    depth = np.append(path.depth, path.depth[0]) if path.closed else path.depth
    for k, sweep in enumerate(path.sweep):
        chord = complex(*(xy[k + 1] - xy[k]))
        turn = math.radians(sweep)
        flat = abs(chord) if sweep == 0 else abs(chord) / (2 * math.sin(abs(turn) / 2)) * abs(turn)
        feed = cut.feed * math.hypot(1.0, (depth[k + 1] - depth[k]) / flat)
        if sweep == 0:
            pieces.append(Line((float(xy[k + 1, 0]), float(xy[k + 1, 1]), float(depth[k + 1])), feed))
        else:
            centre = complex(*xy[k]) + chord / 2 * (1 + 1j / math.tan(turn / 2))
            pieces.append(Arc((centre.real, centre.imag), float(sweep), float(depth[k + 1]), feed))
    knots = cut.knots
    return Motion(
        (float(xy[0, 0]), float(xy[0, 1]), float(depth[0])),
        pieces,
        lambda h: np.interp(h, *knots),
        cut.spindle_speed,
        flutes=cut.bit.flutes,
        phase=cut.phase,
        spin=cut.spin,
        runout=cut.bit.runout,
        runout_azimuth=cut.bit.runout_azimuth,
    )


@dataclass
class History:
    """What the oracle's crossings come to at a lip: strikes in the bundle, and passes, in order of time."""

    strikes: list[tuple[float, float, float, float, int]]  # chip, depth, speed, time, stroke
    passes: list[tuple[int, float, float]]  # stroke, before, left
    doubtful: bool


def true_history(motions: list[Motion], point: Any, outward: float, half_width: float, bundle: float) -> History:
    seen = probe_strikes(motions, (float(point[0]), float(point[1])), outward, half_width, bundle=bundle, beyond=0.3)
    along = complex(math.cos(math.radians(outward)), math.sin(math.radians(outward)))
    found = []
    doubtful = False
    for k, j, t, y, speed in zip(seen.motion, seen.flute, seen.time, seen.depth, seen.speed, strict=True):
        motion, now = motions[k], np.array([t])
        least = -(motion.runout + 1e-6)
        arm = complex((motion.edge(now, int(j), 0.0) - motion._place(now)[0])[0]) / along
        doubtful |= abs(y - least) < 1e-8 or abs(y - half_width) < 1e-8
        doubtful |= bool(t < 1e-9 or t > motion.duration - 1e-9)
        # beyond what its own teeth reach, or at the back of the land: another groove, which the lip has survived
        # (a tip that goes along in the face cuts nothing)
        if y < least or (y < 0 and arm.real < 0) or motion.depth(t) < 1e-12:
            continue
        found.append((float(y), float(speed), float(t), int(k)))
    finished = min([y for y, *_ in found], default=math.inf)
    surface, kept, passes = half_width, [], []
    for k in range(len(motions)):
        before = surface
        for y, speed, t, stroke in found:
            if stroke != k:
                continue
            doubtful |= abs(y - surface) < 1e-8 and abs(y - surface) > 1e-13
            if y >= surface - 1e-9:
                continue
            doubtful |= abs(y - finished - bundle) < 1e-8
            if y < finished + bundle:
                kept.append((surface - y, y, speed, t, k))
            surface = y
        if surface < before:
            passes.append((k, before, surface))
    return History(kept, passes, doubtful)


def compare(
    cuts: list[cs.Cut], bundle: float, pitch: float, rng: np.random.Generator, most: int
) -> tuple[int, int, int]:
    """Check some lips of a carving: numbers of lips compared, of doubtful ones, and of those of several strokes."""
    carving = cs.Carving(tuple(cuts))
    found = cs.lip_strikes(carving, pitch=pitch, bundle=bundle)
    strokes = [one for cut in cuts for one in (*cut.earlier_passes(), cut)]
    motions = [motion_of(one) for one in strokes]
    starts = np.cumsum([0.0, *(m.duration for m in motions)])
    rows = np.argwhere(found.exists)
    compared = doubtful = shared = 0
    for i, side in rows[rng.permutation(len(rows))[:most]]:
        outward = float(found.lips.outward[i, side])
        true = true_history(motions, found.lip_xy[i, side], outward, float(found.lips.half_width[i]), bundle)
        if true.doubtful:
            doubtful += 1
            continue
        count, passes = int(found.counts[i, side]), int(found.pass_counts[i, side])
        said = f"{carving.cuts}, row {i}, side {side}, bundle {bundle}: {found.depths[i, side, :count]} for {true}"
        assert count == len(true.strikes), said
        for k, (chip, depth, speed, at, stroke) in enumerate(true.strikes):
            assert found.chips[i, side, k] == pytest.approx(chip, abs=TOLERANCE), said
            assert found.depths[i, side, k] == pytest.approx(depth, abs=TOLERANCE), said
            assert found.cutting_speeds[i, side, k] == pytest.approx(speed, rel=1e-7), said
            assert found.strokes[i, side, k] == stroke, said
            assert found.times[i, side, k] == pytest.approx(starts[stroke] + at, abs=1e-10), said
        assert found.pass_strokes[i, side, :passes].tolist() == [k for k, *_ in true.passes], said
        for k, (stroke, before, left) in enumerate(true.passes):
            assert found.pass_before[i, side, k] == pytest.approx(before, abs=TOLERANCE), said
            assert found.pass_left[i, side, k] == pytest.approx(left, abs=TOLERANCE), said
            assert found.pass_feeds[i, side, k] == pytest.approx(strokes[stroke].feed_per_tooth, rel=1e-12), said
        compared += 1
        shared += len({stroke for *_, stroke in true.strikes}) > 1
    return compared, doubtful, shared


def random_bit(rng: np.random.Generator) -> cs.VBit:
    runout = float(rng.choice([0.0, rng.uniform(0.001, 0.03)]))
    tip = float(rng.choice([0.0, rng.uniform(0.05, 0.4)]))
    return cs.VBit(
        float(rng.choice([60, 75, 90])), 12.7, int(rng.integers(1, 4)), tip, runout=runout,
        runout_azimuth=float(rng.uniform(0, 360)),
    )  # fmt: skip


def random_carving(rng: np.random.Generator) -> list[cs.Cut]:
    """Two or three strokes that cross, overlap, retrace, run beside each other, join, or are passes of one cut."""
    bit, deep = random_bit(rng), float(rng.uniform(0.5, 1.1))
    ask = {"spin": str(rng.choice(["cw", "ccw"])), "phase": float(rng.uniform(0, 360))}
    speed, feed = float(rng.uniform(9000, 18_000)), float(rng.uniform(1000, 4500))
    length = float(rng.uniform(3, 5))
    kind = int(rng.integers(8))
    sweep = float(rng.choice([0.0, rng.uniform(-150, 150)]))
    ramp = float(rng.uniform(0.3, 1.1)) if rng.random() < 0.3 else deep
    path = cs.Path([(0, 0), (length, 0)], [deep, ramp], sweep=[sweep])
    own = cs.Cut(bit, path, speed, feed, **ask)
    again = {"phase": float(rng.uniform(0, 360)), "feed": float(rng.uniform(1000, 4500))}
    if kind == 0:  # the same once more, the other way or with the other spin
        back = path.reversed() if rng.random() < 0.5 else path
        return [own, replace(own, path=back, spin=str(rng.choice(["cw", "ccw"])), **again)]
    if kind == 1:  # overlapping in line
        line = replace(own, path=cs.line((0, 0), (length, 0), deep))
        return [line, replace(line, path=cs.line((0.6 * length, 0), (1.6 * length, 0), deep), **again)]
    if kind == 2:  # beside it, a little farther or nearer at the lip
        slope = math.tan(math.radians(bit.included_angle / 2))
        aside, out = float(rng.uniform(-0.3, 0.3)), float(rng.uniform(-0.02, 0.1))
        line = replace(own, path=cs.line((0, 0), (length, 0), deep))
        lower = deep + (abs(aside) + out) / slope
        return [line, replace(line, path=cs.line((length, aside), (0, aside), lower), **again)]
    if kind == 3:  # crossing, before and after, with another bit
        turn, at = math.radians(float(rng.uniform(15, 165))), float(rng.uniform(0.2, 0.8)) * length
        way = 2.2 * np.array([math.cos(turn), math.sin(turn)])
        across = cs.line(np.array([at, 0]) - way, np.array([at, 0]) + way, float(rng.uniform(0.2, 1.0)))
        other = cs.Cut(random_bit(rng), across, float(rng.uniform(9000, 18_000)), again["feed"], **ask)
        third = replace(own, path=path.shifted(0.0, float(rng.uniform(0.5, 2.5))), **again)
        return [[own, other], [other, own], [own, other, third]][int(rng.integers(3))]
    if kind == 4:  # a stroke cut in two, phase carried on or not
        half = cs.line((0, 0), (length, 0), deep), cs.line((length, 0), (2 * length, 0), deep)
        one = replace(own, path=half[0])
        turned = 360 * speed / 60 * one.duration * (-1 if own.spin == "cw" else 1)
        phase = (own.phase + turned) % 360 if rng.random() < 0.5 else again["phase"]
        return [one, replace(one, path=half[1], phase=phase)]
    if kind == 5:  # in line but turned a little, as an outline of chords cut one by one
        turn = math.radians(float(rng.uniform(-40, 40)))
        end = (length + length * math.cos(turn), length * math.sin(turn))
        line = replace(own, path=cs.line((0, 0), (length, 0), deep))
        return [line, replace(line, path=cs.line((length, 0), end, (deep, ramp)), **again)]
    leaves = sorted(float(x) for x in rng.uniform(0.01, 0.45, int(rng.integers(1, 3))))
    passes = [
        cs.Pass(x, bool(rng.random() < 0.5), None if rng.random() < 0.5 else float(rng.uniform(1000, 4500)))
        for x in leaves
    ]
    return [replace(own, passes=passes)]


def test_random_histories_are_the_oracles() -> None:
    """As many carvings as 20 seconds of processor time allow; `CHIPSIM_HISTORIES` seconds where it is set."""
    import os

    seconds = float(os.environ.get("CHIPSIM_HISTORIES", "20"))
    seed, end = int(os.environ.get("CHIPSIM_HISTORIES_SEED", "0")), time.process_time() + seconds
    total = np.zeros(3, dtype=int)
    while time.process_time() < end:
        rng = np.random.default_rng(seed)
        bundle = float(rng.choice([0.03, 0.2, 0.6]))
        total += compare(random_carving(rng), bundle, float(rng.uniform(0.11, 0.3)), rng, 12)
        seed += 1
    compared, doubtful, shared = total
    print(f"{seed} carvings, {compared} lips compared, {doubtful} doubtful, {shared} with strikes of several strokes")
    assert compared > 20
    assert shared > 3
    assert doubtful < 0.1 * compared + 5
