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
from test_oracle_space import pieces

import chipsim as cs
from chipsim.chips import strikes as front
from chipsim.chips.blocks import Run
from chipsim.chips.lips import Lips
from chipsim.chips.motions import PieceIndex, as_groove, groove_of
from chipsim.reference.oracle_space import Arc, Line, Motion, probe_strikes

TOLERANCE = 1e-9  # mm
V60 = cs.VBit(60, 12.7, 2)
STROKE = cs.Cut(
    cs.VBit(60, 12.7, 2, runout=0.01, runout_azimuth=20), cs.line((0, 0), (10, 0), 1.2), 15_000, 3000, phase=30
)  # fmt: skip


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
        # the law itself is held to closed forms in tests/test_sheared_edges.py
        azimuth=getattr(cut.bit, "azimuth", None) if cut.edges else None,
        set_back=getattr(cut.bit, "set_back", ()),
        raised=getattr(cut.bit, "raised", ()),
    )


@dataclass
class History:
    """What the oracle's crossings come to at a lip: strikes in the bundle, and passes, in order of time."""

    strikes: list[tuple[float, float, float, float, int]]  # chip, depth, speed, time, stroke
    passes: list[tuple[int, float, float]]  # stroke, before, left
    doubtful: bool


def true_history(
    motions: list[Motion], made_by: int, point: Any, outward: float, half_width: float, bundle: float
) -> History:
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
        if y < least or (y < 0 and arm.real < 0 and k != made_by) or motion.depth(t) < 1e-12:
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
    last = np.cumsum([len(cut.earlier_passes()) + 1 for cut in cuts]) - 1
    starts = np.cumsum([0.0, *(m.duration for m in motions)])
    rows = np.argwhere(found.exists)
    compared = doubtful = shared = 0
    for i, side in rows[rng.permutation(len(rows))[:most]]:
        outward = float(found.lips.outward[i, side])
        true = true_history(
            motions, last[found.groove[i]], found.lip_xy[i, side], outward, float(found.lips.half_width[i]), bundle
        )
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
        across = cs.line(np.array([at, 0]) - way, np.array([at, 0]) + way, float(np.exp(rng.uniform(-4.0, 0.0))))
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


def random_histories(seconds: float, seed: int) -> tuple[int, int, int]:
    """Random carvings for so many seconds of processor time; what `compare` counts."""
    cs.lip_strikes(STROKE)  # compiled before the clock starts
    end, total = time.process_time() + seconds, np.zeros(3, dtype=int)
    while time.process_time() < end:
        rng = np.random.default_rng(seed)
        bundle = float(rng.choice([0.03, 0.2, 0.6]))
        total += compare(random_carving(rng), bundle, float(rng.uniform(0.11, 0.3)), rng, 12)
        seed += 1
    return int(total[0]), int(total[1]), int(total[2])


def test_random_histories_are_the_oracles() -> None:
    compared, doubtful, shared = random_histories(14.0, 0)
    assert compared > 20
    assert shared > 3
    assert doubtful < 0.1 * compared + 5


# --- motions in space: plunges, dwells, retracts, helices; the kernels' own tables -----------------------------------


def run_of(number: int, start: float, here: Any) -> Any:
    """A motion in space as the kernels see it, all of its pieces in one cell."""
    motion, cut = here.cut.motion.copy(), here.cut
    grid = PieceIndex(
        (-500.0, -500.0, 1000.0, 1.0, 1.0, np.array([0])), np.array([0, len(motion)]), np.arange(len(motion))
    )
    groove = as_groove(cut, motion, 50.0, grid)
    return Run(number, start, groove)


def lip_at(points: Any, outward: Any, half_width: float) -> Lips:
    """Lip points without a path: left lips of rows of their own."""
    n = len(points)
    xy, out = np.full((n, 2, 2), np.nan), np.full((n, 2), np.nan)
    xy[:, 0], out[:, 0] = points, outward
    exists = np.column_stack([np.ones(n, dtype=bool), np.zeros(n, dtype=bool)])
    none = np.zeros(n)
    return Lips(
        none, np.full(n, "run"), np.zeros((n, 2)), none, np.full(n, half_width), none, xy, out, 1.0 * exists, exists
    )  # fmt: skip


def histories_at(scenes: list[Any], points: Any, outward: Any, half_width: float, bundle: float) -> Any:
    starts = np.cumsum([0.0, *(s.seconds for s in scenes)])
    runs = [run_of(k, float(starts[k]), here) for k, here in enumerate(scenes)]
    return front._history(lip_at(points, outward, half_width), runs, 0, len(runs) - 1, bundle)


def given_lists() -> dict[str, list[dict[str, str]]]:
    """The strike lists of the check numbers by name, their depths and chips."""
    with Path(__file__).with_name("space_numbers.csv").open(encoding="utf-8") as file:
        rows = list(csv.DictReader(line for line in file if not line.startswith("#")))
    out: dict[str, list[dict[str, str]]] = {}
    for row in rows:
        if row["quantity"] in ("strike_depth", "strike_chip"):
            out.setdefault(row["id"].rpartition("k")[0], []).append(row)
    return out


LISTS = given_lists()


@pytest.mark.parametrize("name", LISTS)
def test_a_list_of_strikes_is_the_check_list(name: str) -> None:
    """Ramps, dots, plunges and lines, strokes over each other: worked out by two roads that share no code with ours."""
    row = LISTS[name][0]
    bit = cs.VBit(
        float(row["included_deg"]), 12.7, int(row["flutes"]), 2 * float(row["tip_radius"]),
        runout=float(row["runout"]), runout_azimuth=float(row["runout_azimuth_deg"]),
    )  # fmt: skip
    texts = [row["earlier"].split("@")] if row["earlier"] else []
    texts.append([row["path"], row["phase_deg"]])
    limit = float(row["acceleration"]) if row["acceleration"] else None
    scenes = [
        scene(text, bit, float(row["rpm"]), spin=row["spin"], phase=float(phase), acceleration=limit)
        for text, phase in texts
    ]
    deepest = max(float(np.max(s.depth(np.linspace(0, s.seconds, 50)))) for s in scenes)
    depth = 0.41667 * 2.5 / 3 if name == "T1" else deepest
    half = float(np.interp(depth, *scenes[0].cut.knots if name == "T1" else scenes[-1].cut.knots))
    point = [float(row["lip_x"]), float(row["lip_y"])]
    found = histories_at(scenes, [point], [float(row["outward_deg"])], half, 0.2)
    depths = [r for r in LISTS[name] if r["quantity"] == "strike_depth"]
    assert found.counts[0, 0] == len(depths)
    np.testing.assert_allclose(
        found.depths[0, 0, : len(depths)], [float(r["value"]) for r in depths], rtol=0, atol=1e-12
    )
    for r in LISTS[name]:
        if r["quantity"] == "strike_chip":
            assert found.chips[0, 0, int(r["index"])] == pytest.approx(float(r["value"]), abs=1e-12)
    starts = np.cumsum([0.0, *(s.seconds for s in scenes)])
    own = found.times[0, 0, : len(depths)] - starts[found.strokes[0, 0, : len(depths)]]
    np.testing.assert_allclose(own, [float(r["time_near"]) for r in depths], rtol=1e-11)


def random_text(rng: np.random.Generator) -> str:
    """A plunge or a ramp from above the face, lines, arcs and helices, a dwell, a retract."""
    x, y, d = (float(v) for v in rng.uniform(-0.6, 0.6, 3))
    deep = float(rng.uniform(0.5, 1.4))
    parts = [f"{x} {y} {d}", f"L {x} {y} {deep} {rng.uniform(300, 2500)}"]
    if rng.random() < 0.3:
        parts[1] = f"L {x + rng.uniform(-1, 1)} {y} {deep} {rng.uniform(800, 2500)}"
    for _ in range(int(rng.integers(0, 3))):
        kind = rng.integers(3)
        if kind == 0:
            to = rng.uniform(-1.2, 1.2, 2)
            parts.append(f"L {to[0]} {to[1]} {deep} {rng.uniform(800, 3500)}")
        elif kind == 1:
            at = rng.uniform(-1, 1, 2)
            deep = float(rng.uniform(0.4, 1.5))
            parts.append(f"A {at[0]} {at[1]} {rng.uniform(-300, 300)} {deep} {rng.uniform(800, 3500)}")
        else:
            to = rng.uniform(-1.2, 1.2, 2)
            deep = float(rng.uniform(0.2, 1.5))
            parts.append(f"L {to[0]} {to[1]} {deep} {rng.uniform(800, 3500)}")
        if rng.random() < 0.3:
            parts.append(f"W {rng.uniform(0, 0.03)}")
    if rng.random() < 0.5:
        last = parts[-1].split()
        where = next((p.split()[1:3] for p in reversed(parts) if p[0] == "L"), None)
        if last[0] == "L" and where is not None:
            parts.append(f"L {where[0]} {where[1]} -0.2 {rng.uniform(300, 2500)}")
    return " ; ".join(parts)


def random_boards(seconds: float, seed: int) -> tuple[int, int, int]:
    """One to three motions on one board, probes anywhere, for so many seconds of processor time.

    Returns how many probes were compared, how many doubtful, and how many strikes there were.
    """
    histories_at([scene("0 0 1 ; L 1 0 1 2000", V60, 12_000)], [[0.5, 0.6]], [90.0], 0.6, 0.2)
    end = time.process_time() + seconds
    compared = doubtful = strikes = 0
    while time.process_time() < end:
        rng = np.random.default_rng([seed, 7])
        seed += 1
        spin, rpm = str(rng.choice(["cw", "ccw"])), float(rng.uniform(9000, 18_000))
        scenes, motions = [], []
        for _ in range(int(rng.integers(1, 4))):
            bit, text, phase = random_bit(rng), random_text(rng), float(rng.uniform(0, 360))
            scenes.append(scene(text, bit, rpm, spin=spin, phase=phase))
            start, rest = pieces(text)
            knots = scenes[-1].cut.knots
            motions.append(
                Motion(
                    start, rest, lambda h, knots=knots: np.interp(h, *knots), rpm, flutes=bit.flutes, phase=phase,
                    spin=spin, runout=bit.runout, runout_azimuth=bit.runout_azimuth,
                )
            )  # fmt: skip
        half, bundle = float(rng.uniform(0.3, 0.9)), float(rng.choice([0.05, 0.2, 0.5]))
        points, outward = rng.uniform(-1.5, 1.5, (6, 2)), rng.uniform(-180, 180, 6)
        found = histories_at(scenes, points, outward, half, bundle)
        for i in range(6):
            true = true_history(motions, len(motions) - 1, points[i], float(outward[i]), half, bundle)
            if true.doubtful:
                doubtful += 1
                continue
            count = int(found.counts[i, 0])
            said = f"seed {seed - 1}, lip {i}: {found.depths[i, 0, :count]} for {true}"
            assert count == len(true.strikes), said
            for k, (chip, depth, speed, _, stroke) in enumerate(true.strikes):
                assert found.depths[i, 0, k] == pytest.approx(depth, abs=TOLERANCE), said
                assert found.chips[i, 0, k] == pytest.approx(chip, abs=TOLERANCE), said
                assert found.cutting_speeds[i, 0, k] == pytest.approx(speed, rel=1e-6), said
                assert found.strokes[i, 0, k] == stroke, said
            passes = int(found.pass_counts[i, 0])
            assert found.pass_strokes[i, 0, :passes].tolist() == [k for k, *_ in true.passes], said
            compared, strikes = compared + 1, strikes + count
    return compared, doubtful, strikes


def test_random_motions_in_space_strike_as_the_oracle_says() -> None:
    compared, doubtful, strikes = random_boards(6.0, 0)
    assert compared > 20
    assert strikes > 40
    assert doubtful < 0.2 * compared + 5


def test_a_flat_tip_above_the_face_strikes_nothing() -> None:
    """It ramps in and out through the face: before and after, it goes over the probes in the air."""
    text = "0 0 -0.6 ; L 1 0 0.3 1500 ; L 2 0 0.3 2500 ; L 3 0 -0.6 1500"
    here = scene(text, cs.VBit(60, 12.7, 2, 0.8, runout=0.01), 12_000, phase=77)
    start, rest = pieces(text)
    knots = here.cut.knots
    motion = Motion(start, rest, lambda h: np.interp(h, *knots), 12_000, flutes=2, phase=77, runout=0.01)
    x = np.arange(-0.37, 3.4, 0.093)
    found = histories_at([here], np.column_stack([x, np.full(len(x), 0.45)]), np.full(len(x), 90.0), 0.45, 0.5)
    for i in range(len(x)):
        true = true_history([motion], 0, (x[i], 0.45), 90.0, 0.45, 0.5)
        if not true.doubtful:
            count = found.counts[i, 0]
            assert count == len(true.strikes), x[i]
            np.testing.assert_allclose(found.depths[i, 0, :count], [s[1] for s in true.strikes], rtol=0, atol=1e-9)
            np.testing.assert_allclose(found.times[i, 0, :count], [s[3] for s in true.strikes], rtol=0, atol=1e-10)
    assert (found.counts[:, 0] == 0).sum() > 5
    assert (found.counts[:, 0] > 3).sum() > 5


# --- properties -----------------------------------------------------------------------------------------------------


def lists_of(found: Any, i: int, side: int) -> tuple[np.ndarray, ...]:
    count = int(found.counts[i, side])
    names = ("chips", "depths", "cutting_speeds", "times")
    return tuple(getattr(found, name)[i, side, :count] for name in names)


def cut_up(cut: cs.Cut, at: list[float]) -> list[cs.Cut]:
    """A level straight stroke cut at these stations, the spindle running on."""
    parts = []
    for a, b in zip([0.0, *at], [*at, cut.path.length], strict=True):
        turned = 360 * (a * 60 / cut.feed) * cut.spindle_speed / 60 * (-1 if cut.spin == "cw" else 1)
        path = cs.line((a, 0), (b, 0), float(cut.path.depth[0]))
        parts.append(replace(cut, path=path, phase=(cut.phase + turned) % 360))
    return parts


@pytest.mark.parametrize("at", [[5.037], [2.1, 2.15, 5.037, 9.9]])
def test_a_stroke_cut_in_parts_has_the_lists_of_the_whole(at: list[float]) -> None:
    """At the same lips: those of the parts lie where their stations fall."""
    found = cs.lip_strikes(cs.Carving(tuple(cut_up(STROKE, at))), pitch=0.1)
    rows = np.flatnonzero(found.lips.kind == "run")
    run = run_of(0, 0.0, scene("0 0 1.2 ; L 10 0 1.2 3000", STROKE.bit, 15_000, phase=30))
    for side, outward in ((0, 90.0), (1, -90.0)):
        whole = front._history(
            lip_at(found.lip_xy[rows, side], np.full(len(rows), outward), float(found.lips.half_width[0])),
            [run],
            0,
            0,
            0.2,
        )
        for k, i in enumerate(rows):
            assert found.exists[i, side]
            for a, b in zip(lists_of(found, i, side), lists_of(whole, k, 0), strict=True):
                np.testing.assert_allclose(a, b, rtol=0, atol=1e-10)
    shared = [len(set(found.strokes[i, 0, : found.counts[i, 0]])) for i in rows]
    assert max(shared) > 1


def test_a_stroke_in_a_thousand_parts_has_the_lists_of_the_whole() -> None:
    parts = cut_up(replace(STROKE, path=cs.line((0, 0), (2.5, 0), 1.2)), [0.0025 * k for k in range(1, 1000)])
    runs, clock = [], 0.0
    for k, part in enumerate(parts):
        runs.append(Run(k, clock, groove_of(part, 1.5)))
        clock += part.duration
    points = np.column_stack([np.linspace(0.8, 1.7, 7), np.full(7, 1.2 * math.tan(math.radians(30)))])
    lips = lip_at(points, np.full(7, 90.0), float(points[0, 1]))
    many = front._history(lips, runs, 0, len(runs) - 1, 0.2)
    whole = cut_up(STROKE, [2.5])[0]
    one = front._history(lips, [Run(0, 0.0, groove_of(whole, 1.5))], 0, 0, 0.2)
    assert many.counts[:, 0].min() > 2
    for i in range(7):
        for a, b in zip(lists_of(many, i, 0), lists_of(one, i, 0), strict=True):
            np.testing.assert_allclose(a, b, rtol=0, atol=1e-9)


@pytest.mark.parametrize(
    "other",
    [
        replace(STROKE, path=cs.line((0, 3.1), (10, 3.1), 1.2), phase=77),  # clear of it
        replace(STROKE, path=cs.line((0, 0), (10, 0), 0.9), phase=77),  # later and shallower
        replace(STROKE, bit=cs.VBit(90, 12.7, 2), path=cs.line((3, 0.2), (6, 0.2), 0.4), phase=7),  # later, inside
    ],
)
def test_a_later_stroke_that_takes_no_wood_at_a_lip_changes_nothing(other: cs.Cut) -> None:
    alone, both = cs.lip_strikes(STROKE, pitch=0.2), cs.lip_strikes(cs.Carving((STROKE, other)), pitch=0.2)
    own = both.part(both.groove == 0)
    for name in ("counts", "stock", "pass_counts"):
        np.testing.assert_array_equal(getattr(own, name), getattr(alone, name), err_msg=name)
    for name in ("chips", "depths", "cutting_speeds", "times", "strokes", "feeds"):
        value = getattr(alone, name)
        np.testing.assert_array_equal(getattr(own, name)[:, :, : value.shape[2]], value, err_msg=name)


def test_order_of_time_counts_only_where_strikes_meet() -> None:
    """Two crossing strokes the one way round and the other: lips away from the crossing have the same lists."""
    one = STROKE
    two = replace(STROKE, path=cs.line((4, -4), (6.5, 4), 1.0), phase=140)
    first, second = (cs.lip_strikes(cs.Carving(cuts), pitch=0.2) for cuts in ((one, two), (two, one)))
    first, second = first.part(first.groove == 0), second.part(second.groove == 1)
    np.testing.assert_array_equal(first.exists, second.exists)
    differ = 0
    for i, side in np.argwhere(first.exists):
        a, b = first.depths[i, side, : first.counts[i, side]], second.depths[i, side, : second.counts[i, side]]
        same = len(a) == len(b) and bool(np.allclose(a, b, rtol=0, atol=1e-12))
        same = same and bool(np.allclose(lists_of(first, i, side)[0], lists_of(second, i, side)[0], rtol=0, atol=1e-12))
        differ += not same
        # the groove across is at most 0.62 mm to either side, its teeth a hundredth more; the probe leans by nothing
        if abs(first.lip_xy[i, side, 0] - (5.25 + first.lip_xy[i, side, 1] * 2.5 / 8)) > 1.0:
            assert same, (i, side)
    assert differ > 0


def test_a_skim_inherits_what_the_rough_pass_did() -> None:
    """Thinner than a chip: the last layer's strikes are those of both passes, and the skim finds what was left."""
    skim = replace(STROKE, passes=[0.02])
    found = cs.lip_strikes(skim, pitch=0.2)
    run = np.flatnonzero(found.lips.kind == "run")[5:-5]
    for i in run:
        strokes = found.strokes[i, 0, : found.counts[i, 0]]
        assert {0, 1} == set(strokes)
        assert (np.diff(strokes) >= 0).all()
        assert found.pass_counts[i, 0] == 2
    leave = 0.02 * math.tan(math.radians(30))
    np.testing.assert_allclose(found.pass_left[run, 0, 0], found.stock[run, 0])
    np.testing.assert_allclose(found.pass_before[run, 0, 1], found.stock[run, 0])
    # the rough pass's teeth leave its nominal wall, a scallop more and the runout less
    assert (np.abs(found.stock[run, 0] - leave) < 0.012).all()
    assert (found.pass_before[run, 0, 0] == found.lips.half_width[run]).all()


def test_two_cuts_that_meet_in_line_are_struck_at_the_joint_as_anywhere() -> None:
    """Whatever the phase: no lip near the joint has fewer strikes than the shortest list elsewhere, or a first chip
    that is longer."""
    one = replace(STROKE, path=cs.line((0, 0), (10, 0), 1.2))
    two = replace(STROKE, path=cs.line((10, 0), (20, 0), 1.2), phase=201)
    found = cs.lip_strikes(cs.Carving((one, two)), pitch=0.05)
    run = found.lips.kind == "run"
    x = found.lip_xy[:, 0, 0]
    near, far = run & (np.abs(x - 10) < 2), run & ((np.abs(x - 5) < 2) | (np.abs(x - 15) < 2))
    for side in (0, 1):
        assert found.exists[near, side].all()
        assert found.counts[near, side].min() >= found.counts[far, side].min()
        assert np.nanmax(found.chips[near, side, 0]) <= np.nanmax(found.chips[far, side, 0]) + 1e-9


def test_the_work_of_crossing_strokes_goes_with_their_number() -> None:
    """Four times the strokes are four times the work: each is looked for at the lips near by and at no others."""
    calls = []
    original = front.probes.lip_history

    def counted(*arguments: Any) -> Any:
        calls.append(arguments[7].shape[0])
        return original(*arguments)

    def work(count: int) -> int:
        rails = [replace(STROKE, path=cs.line((0, y), (4.0 * count, y), 1.0)) for y in (0.0, 6.0)]
        across = [replace(STROKE, path=cs.line((4 * k + 2, -2), (4 * k + 2, 8), 1.0)) for k in range(count)]
        calls.clear()
        list(front.carving_blocks(cs.Carving((*rails, *across)), pitch=0.5, bundle=0.2, block=32))
        return sum(calls)

    front.probes.lip_history = counted
    try:
        few, many = work(8), work(32)
    finally:
        front.probes.lip_history = original
    assert many < 5 * few
