"""Time and memory of a map as the carving grows: ten times the groove should cost ten times, not a hundred.

    python benchmarks/scale.py [size] [--json FILE] [--runs N]

At size 50 (the default) the carvings are 5, 50 and 500 m long: rows of 100 mm strokes with a cross stroke each, 2 mm
deep, and one groove of 5, 50 and 500 m in a single cut, back and forth. Memory is numpy's and Python's own peak beyond
what the finished map holds (tracemalloc).
"""

import time
import tracemalloc

import numpy as np
from figures import Figures, run

import chipsim as cs

BIT = cs.VBit(90, 12.7, 2)
BOARD = cs.Board(cs.wood("sugar maple"), cs.straight_grain(30))
PITCH = 0.5


def carving(metres: float) -> cs.Carving:
    """Pairs of crossing strokes on a grid, about so many metres in all."""
    cuts = []
    for k in range(max(1, round(metres * 1000 / 130))):
        x, y = 140.0 * (k % 12), 36.0 * (k // 12)
        cuts.append(cs.Cut(BIT, cs.line((x, y), (x + 100, y + 3), 2.0), 16_000, 2000))
        cuts.append(cs.Cut(BIT, cs.line((x + 50, y - 15), (x + 52, y + 15), 2.0), 16_000, 2000))
    return cs.Carving(tuple(cuts))


def meander(metres: float) -> cs.Carving:
    """One groove of so many metres in a single cut: rows of 1 m, 20 mm apart."""
    count = max(1, round(metres))
    y = 20.0 * np.arange(count).repeat(2)
    x = np.tile([0.0, 1000.0, 1000.0, 0.0], count)[: 2 * count] * min(metres, 1.0)
    return cs.Carving((cs.Cut(BIT, cs.polyline(np.column_stack([x, y]), 2.0), 16_000, 2000),))


def measure(job: cs.Carving) -> tuple[float, int, int, int]:
    """Seconds, peak bytes beyond the map's own arrays, bytes of the map, lip points."""
    cs.risk_map(
        cs.Carving(job.cuts[:1]) if len(job) > 1 else cs.Cut(BIT, cs.line((0, 0), (9, 0), 2.0), 16_000, 2000), BOARD
    )
    begin = time.perf_counter()
    risk = cs.risk_map(job, BOARD, pitch=PITCH)
    seconds = time.perf_counter() - begin
    del risk
    tracemalloc.start()
    risk = cs.risk_map(job, BOARD, pitch=PITCH)
    _, peak = tracemalloc.get_traced_memory()
    tracemalloc.stop()
    held = sum(v.nbytes for v in vars(risk).values() if isinstance(v, np.ndarray))
    return seconds, peak - held, held, 2 * len(risk)


def main(size: float = 50, figures: Figures | None = None) -> list[float]:
    """Print the table and return the worst ratios (time, extra memory) of a carving to one a tenth as long."""
    worst = [0.0, 0.0]
    print("| groove | length [m] | lip points | time [s] | extra peak [MB] | map [MB] |\n|---|---|---|---|---|---|")
    for what, make in (("many strokes", carving), ("one cut", meander)):
        last = None
        for metres in (0.1 * size, size, 10.0 * size):
            seconds, extra, held, points = measure(make(metres))
            print(f"| {what} | {metres:g} | {points} | {seconds:.2f} | {extra / 1e6:.1f} | {held / 1e6:.1f} |")
            if figures is not None:
                figures |= {f"{what}, {metres:g} m": (seconds, "s"), f"{what}, {metres:g} m, extra": (extra, "bytes")}
            if last:
                worst = [max(worst[0], seconds / last[0]), max(worst[1], extra / last[1])]
            last = seconds, extra
    print(f"ten times the groove: {worst[0]:.1f} times the time, {worst[1]:.1f} times the extra memory at most")
    return worst


if __name__ == "__main__":
    run(main, size=50.0)
