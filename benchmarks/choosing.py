"""What a choice costs, and whether it is right.

    python benchmarks/choosing.py [size] [--json FILE] [--runs N]
    python benchmarks/choosing.py decide [word] [seeds] [boards]

At size 10 (the default) the sweep has 200 cells on 1 m of groove. Figures are ratios within one run: what two workers
gain, how many maps the 36 rotations of a layout cost, and what asking cuts of one bit and speed together saves. On a
busy machine the first says little; the processor time of two workers over that of one says what the second could gain
at most.

With 'decide' it holds the pick of every job, or of those whose name holds a word, against the least of all settings
that keep the limits, worked out for each of them on fresh boards (1024 unless said otherwise) that no race has seen: by
how much it is dearer, over 20 seeds, in how many of them it is the same or tied, and the share of the full work it
took.
"""

import os
import sys
import tempfile
import time
from collections.abc import Callable
from functools import cache, partial
from typing import Any, TypeVar

import numpy as np
from figures import Figures, run

import chipsim as cs
from chipsim.choosing.boards import lengths_on, possible_boards
from chipsim.choosing.recommending import Recommendation
from chipsim.choosing.sweeps import Cell
from chipsim.damage.handwork import board_minutes
from chipsim.damage.models import LipModel, checked_model

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
    bare, _, _ = seconds(lambda: cs.best_layout(job, BOARD, draws=0))
    turned, layout, _ = seconds(lambda: cs.best_layout(job, BOARD))
    print(f"two workers: {times[0] / times[1]:.2f} times as fast, to the last bit the same")
    share = worked[1] / worked[0]
    print(f"processor time of two workers: {share:.2f} times that of one, so at most {2 / share:.2f} times as fast")
    print(
        f"layout of {len(layout)} rotations: {bare / one:.1f} maps, {turned / one:.1f} with its odds; "
        f"a map each would be {len(layout)}"
    )
    if figures is not None:
        figures |= {"sweep, one worker": (times[0], "s"), "sweep, two workers": (times[1], "s"), "map": (one, "s")}
        figures |= {"layout": (turned, "s"), "layout, in maps": (turned / one, "-")}
        figures["layout without odds, in maps"] = (bare / one, "-")
    return times[0] / times[1], turned / one, len(layout) * one / turned


# --- is it right? -----------------------------------------------------------------------------------

DIAL = cs.Dial([1, 2, 3, 4, 5], [9_700, 12_350, 15_200, 17_900, 21_450])
SHOP = cs.Machine(300, 3000, plunge_feed=400, travel=(600, 400, 90), dial=DIAL)
SIXTY = cs.VBit(60, 12.7, 2, 0.2, cutting_length=11, max_spindle_speed=24_000)
FEEDS = (600, 1200, 1800, 2400, 3000)
WOODS = ("sugar maple", "black cherry", "white oak")


def letters() -> cs.Carving:
    """Three letters of straight strokes that taper at their ends, 25 mm high."""
    strokes = [
        [(0, 0), (8, 25), (16, 0)], [(4, 10), (12, 10)], [(24, 0), (24, 25)], [(24, 25), (36, 12), (24, 0)],
        [(44, 0), (44, 25), (58, 25)], [(44, 13), (54, 13)],
    ]  # fmt: skip
    cuts = [
        cs.Cut(SIXTY, cs.polyline(xy, [1.0, *[2.0] * (len(xy) - 2), 1.0] if len(xy) > 2 else [1.2, 1.8]), 16_000, 1500)
        for xy in strokes
    ]
    return cs.Carving(tuple(cuts), name="letters")


def shapes() -> dict[str, cs.Carving]:
    """A ring, a border and lettering."""
    ring = cs.Carving((cs.Cut(SIXTY, cs.ring(9, 2.0), 16_000, 1500),), name="ring")
    border = cs.Carving((cs.Cut(SIXTY, cs.oval(100, 60, 1.2), 16_000, 1500),), name="border")
    return {"ring": ring, "border": border, "letters": letters()}


@cache
def taught(wood: str) -> cs.FittedModel:
    """What a small test piece of a wood, graded by an invented grader, has taught."""
    piece = cs.coupon(SIXTY, grain(wood), 17_900, [600, 1500, 2900], machine=SHOP, sectors=12)
    return cs.fit(piece, cs.invented_grades(piece, cs.RiskModel(), seed=4))


def grain(wood: str) -> cs.Board:
    """A board of a wood, its fibres nearly along x."""
    return cs.Board(cs.wood(wood), cs.straight_grain(10))


def jobs() -> dict[str, tuple[cs.Carving, cs.Board, Callable[[], LipModel | None]]]:
    """A dozen: three shapes in three woods on starting guesses, and one shape in each wood fitted."""
    found: dict[str, tuple[cs.Carving, cs.Board, Callable[[], LipModel | None]]] = {}
    for wood in WOODS:
        for name, job in shapes().items():
            found[f"{name}, {wood}"] = (job, grain(wood), lambda: None)
    for (name, job), wood in zip(shapes().items(), WOODS, strict=True):
        found[f"{name}, {wood}, fitted"] = (job, grain(wood), partial(taught, wood))
    return found


def truth(choice: Recommendation, model: LipModel | None, boards: int, seed: int = 987_654) -> list[np.ndarray]:
    """Minutes in all on fresh boards for every setting that keeps the limits, in the order of its rows. [min]"""
    fresh = possible_boards(checked_model(model), choice.sweep.job_board, DIAL.uncertainty, boards, seed)
    found = []
    for row in choice.rows:
        job, board = choice.sweep.carving(row.cell), choice.sweep.board(row.cell)
        lengths = np.concatenate(
            [
                lengths_on(job, board, checked_model(model), fresh.part(k, min(k + 256, boards)))
                for k in range(0, boards, 256)
            ]
        )
        found.append(row.machine + board_minutes(lengths, choice.handwork))
    return found


def decide(
    only: str = "", seeds: int = 20, boards: int = 1024, feeds: tuple[float, ...] = FEEDS
) -> list[tuple[float, float]]:
    """Print how dear the picks are in every job whose name holds a word.

    Returns for each the mean share of the minutes above the least, and the share of the full work it took.
    """
    dearest = []
    for name, (job, board, teach) in jobs().items():
        if only not in name:
            continue
        model = teach()
        with tempfile.TemporaryDirectory() as folder:
            ask: dict[str, Any] = {"feeds": feeds, "checks": {"plunge_feed": 300, "safe_height": 5}, "model": model}
            ask |= {"results": folder, "workers": 1, "pitch": 1.0, "refine": False}
            ask |= {"waive": ["feed not reached"]}
            choices = [cs.recommend(job, board, SHOP, SIXTY, seed=seed, **ask) for seed in range(seeds)]
        every = truth(choices[0], model, boards)
        place = {key(row.cell): k for k, row in enumerate(choices[0].rows)}
        mean = np.array([m.mean() for m in every])
        least = int(np.argmin(mean))
        picks = [place[key(c.pick)] for c in choices if c.pick is not None]
        over = mean[picks] / mean[least] - 1
        tied = {key(cell) for cell in choices[0].tied}
        held = sum(c.pick is not None and key(c.pick) in tied for c in choices)
        cost = np.mean([c.evaluations / (len(c) * c.boards) for c in choices])
        off = np.abs([c.rows[0].expected / mean[place[key(c.rows[0].cell)]] - 1 for c in choices]).max()
        error = max(np.std(every[k] - every[least]) / np.sqrt(boards) for k in set(picks)) / mean[least]
        print(
            f"{name:28} {len(mean):3d} settings, least {mean[least]:6.2f} min; picks dearer by {over.mean():6.2%} on "
            f"average, {over.max():6.2%} at most (+- {error:.2%}); {np.mean(over <= 0.03):4.0%} within 3 %; "
            f"{len(set(picks))} different, {held} of {seeds} in the first one's tied set; {cost:.1%} of full work; "
            f"minutes off by {off:.1%} at most",
            flush=True,
        )
        dearest.append((float(over.mean()), float(cost)))
    return dearest


def key(cell: Cell | None) -> tuple[object, ...]:
    """What tells settings apart."""
    assert cell is not None
    s = cell.setting
    return s.name, s.spindle_speed, s.feed, s.passes, s.rotation


if __name__ == "__main__":
    if sys.argv[1:2] == ["decide"]:
        word, seeds, boards = (*sys.argv[2:5], *("", "20", "1024")[len(sys.argv) - 2 :])
        decide(word, int(seeds), int(boards))
    else:
        run(main, size=10.0)
