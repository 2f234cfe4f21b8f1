"""Time and memory of a map as the carving grows: 5 m to 50 m of groove should cost ten times, not a hundred.

    python benchmarks/scale.py [size]

At size 10 (the default) the carvings are 5 and 50 m long: rows of 100 mm strokes with a cross stroke each, 2 mm deep.
Memory is numpy's and Python's own peak beyond what the finished map holds (tracemalloc).
"""

import sys
import time
import tracemalloc

import numpy as np

import chipsim as cs

BIT = cs.VBit(90, 12.7, 2)
BOARD = cs.Board(cs.wood("sugar maple"), cs.straight_grain(30))


def carving(metres):
    """Pairs of crossing strokes on a grid, about so many metres in all."""
    cuts = []
    for k in range(max(1, round(metres * 1000 / 130))):
        x, y = 140.0 * (k % 12), 36.0 * (k // 12)
        cuts.append(cs.Cut(BIT, cs.line((x, y), (x + 100, y + 3), 2.0), 16_000, 2000))
        cuts.append(cs.Cut(BIT, cs.line((x + 50, y - 15), (x + 52, y + 15), 2.0), 16_000, 2000))
    return cs.Carving(tuple(cuts))


def measure(metres):
    """Seconds, peak bytes beyond the map's own arrays, bytes of the map, lip points."""
    job = carving(metres)
    cs.risk_map(cs.Carving(job.cuts[:2]), BOARD)
    begin = time.perf_counter()
    risk = cs.risk_map(job, BOARD, pitch=0.25)
    seconds = time.perf_counter() - begin
    del risk
    tracemalloc.start()
    risk = cs.risk_map(job, BOARD, pitch=0.25)
    _, peak = tracemalloc.get_traced_memory()
    tracemalloc.stop()
    held = sum(v.nbytes for v in vars(risk).values() if isinstance(v, np.ndarray))
    return seconds, peak - held, held, 2 * len(risk)


def main(size=10):
    """Print the table and return the ratios (time, extra memory) of the longer to the shorter carving."""
    rows = [(m, *measure(m)) for m in (0.5 * size, 5.0 * size)]
    print("| groove [m] | lip points | time [s] | extra peak [MB] | map [MB] |\n|---|---|---|---|---|")
    for metres, seconds, extra, held, points in rows:
        print(f"| {metres:g} | {points} | {seconds:.2f} | {extra / 1e6:.1f} | {held / 1e6:.1f} |")
    ratios = rows[1][1] / rows[0][1], rows[1][2] / rows[0][2]
    print(f"ten times the groove: {ratios[0]:.1f} times the time, {ratios[1]:.1f} times the extra memory")
    return ratios


if __name__ == "__main__":
    main(float(sys.argv[1]) if len(sys.argv) > 1 else 10)
