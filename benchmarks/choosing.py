"""What a choice costs: a sweep on one and on two workers, and a layout against a single map.

    python benchmarks/choosing.py [size] [--json FILE] [--runs N]

At size 10 (the default) the sweep has 200 cells on 1 m of groove. Figures are ratios within one run: what two workers
gain, and how many maps the 36 rotations of a layout cost. On a busy machine the first says little; the processor time
of two workers over that of one says what the second could gain at most.
"""

import os
import time
from collections.abc import Callable
from functools import partial
from typing import TypeVar

from figures import Figures, run

import chipsim as cs

BIT = cs.VBit(90, 12.7, 2, 0.1)
MACHINE = cs.Machine(300, 3000)
BOARD = cs.Board(cs.wood("sugar maple"), cs.straight_grain(30))


def carving(metres: float) -> cs.Carving:
    """Ovals of 200 mm of groove each."""
    cuts = []
    for k in range(max(1, round(metres * 5))):
        path = cs.oval(75, 50, 2.0, centre=(90.0 * (k % 4), 65.0 * (k // 4)))
        cuts.append(cs.Cut(BIT, path, 16_000, 1500, machine=MACHINE))
    return cs.Carving(tuple(cuts))


T = TypeVar("T")


def seconds(function: Callable[[], T]) -> tuple[float, T, float]:
    """Time of one run [s], what it returned, and the processor time it took, that of its processes included [s]."""
    begin, busy = time.perf_counter(), sum(os.times()[:4])
    result = function()
    return time.perf_counter() - begin, result, sum(os.times()[:4]) - busy


def main(size: float = 10, figures: Figures | None = None) -> tuple[float, float, float]:
    """Print the figures and return the ratios (one worker to two, layout to map, brute force to layout)."""
    job = carving(0.1 * size)
    cs.best_layout(cs.Carving(job.cuts[:1]), BOARD, step=90)  # compiles
    speeds, feeds = [10_000 + 1000 * k for k in range(max(2, round(size)))], [600 + 100 * k for k in range(20)]
    times, kept, worked = [], [], []
    for workers in (1, 2):
        took, found, busy = seconds(partial(cs.sweep, job, BOARD, spindle_speed=speeds, feed=feeds, workers=workers))
        times.append(took)
        worked.append(busy)
        kept.append(repr(found.cells))
        print(f"sweep of {len(found)} cells, {job.length / 1000:.2f} m of groove, {workers} worker(s): {took:.2f} s")
    assert kept[0] == kept[1]
    one = min(seconds(lambda: cs.risk_map(job, BOARD))[0] for _ in range(3))
    turned, layout, _ = seconds(lambda: cs.best_layout(job, BOARD))
    print(f"two workers: {times[0] / times[1]:.2f} times as fast, to the last bit the same")
    share = worked[1] / worked[0]
    print(f"processor time of two workers: {share:.2f} times that of one, so at most {2 / share:.2f} times as fast")
    print(f"layout of {len(layout)} rotations: {turned / one:.1f} maps; a map each would be {len(layout)}")
    if figures is not None:
        figures |= {"sweep, one worker": (times[0], "s"), "sweep, two workers": (times[1], "s"), "map": (one, "s")}
        figures |= {"layout": (turned, "s"), "layout, in maps": (turned / one, "-")}
    return times[0] / times[1], turned / one, len(layout) * one / turned


if __name__ == "__main__":
    run(main, size=10.0)
