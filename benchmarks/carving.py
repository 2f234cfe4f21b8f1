"""Speed where carvings are: ramps, chords, arcs, changing feed, runout, corners; ratios to level lines in the same run.

    python benchmarks/carving.py [size] [--json FILE] [--runs N]

Size 1 is a smoke test; 10 (the default) takes the best of several runs over 30 mm of path. The table of tooth passes
has 20 angles and 4 heights: level cells are copies of one solution, so that the ratio falls as the table grows.

Then maps, against a straight level groove: a job as people have it, invented for this file, of 20 strokes that swell
from 0.2 to 2 mm and fall again, 1.5 m in 4980 moves of 0.3 mm, on a machine that speeds up and slows down; a border
with corners; the strokes of 500 letters; 100 000 moves, read, written and mapped; and one groove in chords of 1, 10 and
100 m, for its time and its memory.
"""

import time
import tracemalloc
from collections.abc import Iterator

import numpy as np
from figures import Figures, run

import chipsim as cs

ANGLES, HEIGHTS = np.linspace(4, 176, 20), [0.6, 0.9, 1.3, 1.7]
BIT = cs.VBit(60, 12.7, 2)
WORN = cs.VBit(60, 12.7, 2, runout=0.02, runout_azimuth=40)
FAST = (18_000, 2000)
LIMITS = cs.Machine(300, 2000)


def swelling(step: float, length: float = 40.0) -> cs.Path:
    """A curve in chords of so many mm whose depth swings."""
    count = int(length / step)
    heading = 0.17 * step * np.arange(count)
    xy = np.cumsum(np.column_stack([np.cos(heading), np.sin(heading)]) * step, axis=0)
    return cs.polyline(np.vstack([[0, 0], xy]), 1.9 + 0.2 * np.sin(step * np.arange(count + 1)))


def corner(degrees: float) -> cs.Path:
    """Two lines of 20 mm that meet at an angle."""
    a = np.radians(degrees)
    return cs.polyline([(0, 0), (20, 0), (20 + 20 * np.cos(a), 20 * np.sin(a))], 2.0)


def cuts() -> Iterator[tuple[str, cs.Cut, float, float]]:
    """What is measured: name, cut, from where to where. [mm]"""
    level, ramp = cs.line((0, 0), (40, 3), 2.0), cs.line((0, 0), (40, 3), (1.8, 2.4))
    turns = np.array([[0.0, 0.0], [4.0, 4.0], [8.0, 8.0]])
    helix = cs.Path(turns, np.array([1.8, 2.0, 2.4]), sweep=np.array([270.0, -300.0]))
    yield "level line", cs.Cut(BIT, level, *FAST), 5, 35
    yield "ramp", cs.Cut(BIT, ramp, *FAST), 5, 35
    for step in (1.0, 0.3, 0.05):
        yield f"chords of {step:g} mm that swell", cs.Cut(BIT, swelling(step), *FAST), 5, 35
    yield "the same, 0.3 mm, machine", cs.Cut(BIT, swelling(0.3), *FAST, machine=LIMITS), 5, 35
    yield "line, from rest to rest", cs.Cut(BIT, level, *FAST, machine=cs.Machine(20, 2000)), 5, 35
    yield "arcs going down", cs.Cut(BIT, helix, *FAST), 5, 30
    yield "ramp, runout 0.02", cs.Cut(WORN, ramp, *FAST), 5, 35
    yield "chords of 0.3 mm, runout 0.02", cs.Cut(WORN, swelling(0.3), *FAST), 5, 35
    for degrees in (60, 90):
        yield f"within 3 mm of a {degrees} deg corner", cs.Cut(BIT, corner(degrees), *FAST), 17, 23
    yield "ramp from its start, 3 mm", cs.Cut(BIT, ramp, *FAST), 0, 3


def rate(cut: cs.Cut, start: float, stop: float, repeat: int) -> float:
    """Cells a second of processor time, of the whole call. [1/s]"""
    best, cells = np.inf, 0
    for _ in range(repeat + 1):
        begin = time.process_time()
        passes = cs.tooth_passes(cut, start=start, stop=stop, angles=ANGLES, heights=HEIGHTS)
        best = min(best, time.process_time() - begin)
        cells = int(np.isfinite(passes.radial_thickness).sum())
    return float(cells / best)


BOARD = cs.Board(cs.wood("sugar maple"), cs.straight_grain(30))


def stroke(k: int, moves: int = 249, step: float = 0.3) -> cs.Path:
    """A brush stroke in chords: it winds, swells from 0.2 to 2 mm and falls again."""
    s = step * np.arange(moves + 1)
    heading = 0.3 * np.sin(s / 12.0 + k) + 0.02 * k
    ahead = (heading[1:] + heading[:-1]) / 2
    xy = np.cumsum(np.column_stack([np.cos(ahead), np.sin(ahead)]) * step, axis=0)
    place = np.array([90.0 * (k % 4), 20.0 * (k // 4)])
    return cs.polyline(np.vstack([[0, 0], xy]) + place, 0.2 + 1.8 * np.sin(np.pi * s / s[-1]) ** 2)


def job(strokes: int, bit: cs.VBit = BIT, passes: tuple[float, ...] = ()) -> cs.Carving:
    """So many strokes, 249 moves each."""
    cuts = [cs.Cut(bit, stroke(k), *FAST, machine=LIMITS, passes=passes) for k in range(strokes)]
    return cs.Carving(tuple(cuts))


def straight(length: float = 500.0) -> cs.Carving:
    """The baseline."""
    return cs.Carving((cs.Cut(BIT, cs.line((0, 0), (length, 3), 2.0), *FAST),))


def border(sides: int) -> cs.Carving:
    """A zigzag border with a rounding now and then, closed at its ends by nothing."""
    k = np.arange(sides + 1)
    xy = np.column_stack([10.0 * k, np.where(k % 2, 8.0, 0.0)])
    sweep = np.where(k[:-1] % 5 == 4, 60.0, 0.0)
    return cs.Carving((cs.Cut(BIT, cs.Path(xy, np.full(len(xy), 1.5), sweep=sweep), *FAST, machine=LIMITS),))


def letters(count: int) -> cs.Carving:
    """Three strokes a letter, a stem, a bar across it and an arc, with a plunge at the beginning of each."""
    cuts = []
    for k in range(count):
        x, y = 12.0 * (k % 40), 16.0 * (k // 40)
        for points, depth, sweep in (
            ([(x, y), (x, y), (x, y + 9)], [0.0, 1.2, 0.8], [0.0, 0.0]),
            ([(x - 2, y + 5), (x - 2, y + 5), (x + 4, y + 5)], [0.0, 0.8, 0.8], [0.0, 0.0]),
            ([(x, y), (x, y), (x + 6, y + 2)], [0.0, 0.8, 1.2], [0.0, 100.0]),
        ):
            path = cs.Path(np.array(points), np.array(depth), sweep=np.array(sweep))
            cuts.append(cs.Cut(BIT, path, *FAST, machine=LIMITS))
    return cs.Carving(tuple(cuts))


def river(metres: float) -> cs.Carving:
    """One groove in chords of 0.3 mm, there and back in rows, its depth swinging."""
    s = 0.3 * np.arange(round(metres / 0.0003) + 1)
    along = np.abs((s / 400.0 + 0.5) % 2.0 - 1.0)
    xy = np.column_stack([400.0 * along, 15.0 * s / 400.0 + np.sin(s / 9.0)])
    return cs.Carving((cs.Cut(BIT, cs.polyline(xy, 1.2 + 0.8 * np.sin(s / 20.0)), *FAST, machine=LIMITS),))


def map_time(carving: cs.Carving, repeat: int) -> tuple[float, int]:
    """Seconds of processor time of a map, cuts as fresh as a program's, and how many lip points it has."""
    best, points = np.inf, 0
    for _ in range(repeat + 1):
        fresh = carving.shifted(0.0, 0.0)
        begin = time.process_time()
        found = cs.risk_map(fresh, BOARD)
        best = min(best, time.process_time() - begin)
        points = int(found.exists.sum())
    return best, points


def text_of(strokes: int) -> str:
    """The job as a program: a move a line."""
    rows = ["G21 G90 G17 G94", "G0 Z5", "S18000 M3"]
    for k in range(strokes):
        path = stroke(k)
        place = np.column_stack([path.xy, -path.depth])
        (x, y, z), rest = place[0], place[1:].tolist()
        rows += [f"G0 X{x:.4f} Y{y:.4f}", f"G1 Z{z:.4f} F300"]
        rows += [f"X{x:.4f} Y{y:.4f} Z{z:.4f}{'' if i else ' F2000'}" for i, (x, y, z) in enumerate(rest)]
        rows.append("G0 Z5")
    return "\n".join([*rows, "M2", ""])


def maps(size: int, figures: Figures | None) -> None:
    """Lip points a second of maps, and their ratio to the straight groove."""
    share, repeat = size / 10, 1 if size == 1 else 3
    strokes = max(2, round(20 * share))
    worn = cs.VBit(60, 12.7, 2, runout=0.02, runout_azimuth=40)
    jobs = [
        ("a straight level groove", straight(500.0 * share), repeat + 2),
        ("the job", job(strokes), repeat),
        ("the job, runout 0.02", job(strokes, worn), repeat),
        ("the job in two passes", job(strokes, passes=(0.2,)), 1),
        ("a border with corners", border(max(4, round(100 * share))), repeat),
        ("letters' strokes", letters(max(2, round(500 * share))), 1),
        (f"{249 * round(402 * share)} moves", job(round(402 * share)), 0),
    ]
    print(f"\n{'maps':40s} lip points a second  of the straight groove   seconds")
    level = 0.0
    for name, carving, times in jobs:
        seconds, points = map_time(carving, times)
        level = level or points / seconds
        ratio = points / seconds / level
        print(f"{name:40s} {points / seconds:19,.0f} {ratio:23.3f} {seconds:9.2f}")
        if figures is not None:
            figures[f"map, {name.lstrip('0123456789 ')}"] = (ratio, "-")


def reading(size: int, figures: Figures | None) -> None:
    """Moves a second, read into a carving and written again."""
    text = text_of(round(402 * size / 10))
    begin = time.process_time()
    carving = cs.read_rs274(text, BIT, machine=LIMITS)
    read = time.process_time() - begin
    cs.write_rs274(carving)
    wrote = time.process_time() - begin - read
    count = sum(len(cut.path.sweep) for cut in carving)
    print(f"\n{count} moves: read in {read:.2f} s, {count / read:,.0f} a second; written in {wrote:.2f} s")
    if figures is not None:
        figures |= {"moves read": (count / read, "1/s"), "moves written": (count / wrote, "1/s")}


def growth(size: int, figures: Figures | None) -> None:
    """Time and memory of one groove in chords, ten times as long each time; memory beyond the map and the groove."""
    print(f"\n{'one groove in chords':40s} seconds   extra peak [MB]   of which grows with the groove")
    last = 0.0
    for metres in (0.1 * size, size, 10 * size):
        seconds, points = map_time(river(metres), 0)
        carving = river(metres)
        cs.risk_map(cs.Carving((cs.Cut(BIT, cs.line((0, 0), (5, 0), 1.0), *FAST),)), BOARD)
        tracemalloc.start()
        found = cs.risk_map(carving, BOARD)
        _, peak = tracemalloc.get_traced_memory()
        tracemalloc.stop()
        extra = peak - sum(v.nbytes for v in vars(found).values() if isinstance(v, np.ndarray))
        each = extra / len(carving.cuts[0].path.sweep)
        print(
            f"{f'{metres:g} m, {points} lip points':40s} {seconds:7.2f} {extra / 1e6:17.1f} {each:15.0f} bytes a move"
        )
        if figures is not None and last:
            figures[f"time of {metres:g} m, in tenths"] = (seconds / last, "-")
        last = seconds


def main(size: int = 10, figures: Figures | None = None) -> None:
    """Print the tables."""
    print(f"{'tooth passes, 20 angles x 4 heights':40s} cells a second    of a level line")
    level = 0.0
    for name, cut, start, stop in cuts():
        found = rate(cut, start, stop if size > 1 else min(start + 1.0, stop), 1 if size == 1 else 5)
        level = level or found
        print(f"{name:40s} {found:14,.0f} {found / level:18.3f}")
        if figures is not None:
            figures[f"tooth passes, {name}"] = (found / level, "-")
    maps(size, figures)
    reading(size, figures)
    growth(size, figures)


if __name__ == "__main__":
    run(main, size=10)
