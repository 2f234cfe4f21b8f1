"""Cost of a sheared bit: maps and tooth passes of one, over those of the straight bit it is otherwise.

    python benchmarks/shear.py [size] [--json FILE] [--runs N]

At size 10 (the default) some two metres of level spiral and of a wave that sinks and rises, and tables of passes. The
straight bit, in the same run on the same path, is the baseline. Seconds are the process's own.
"""

import time
import timeit
from collections.abc import Callable
from dataclasses import replace

import numpy as np
from figures import Figures, run

import chipsim as cs

BIT = cs.VBit(60, 12.7, 2, 0.2)
BITS = {
    "straight": BIT,
    "runout": replace(BIT, runout=0.01),
    "shear 15": replace(BIT, shear=15),
    "shear 15 and -15": replace(BIT, shear=(15, -15)),
}
BOARD = cs.Board(cs.wood("sugar maple"), cs.straight_grain(20))


def wave(turns: float) -> cs.Path:
    """A spiral in chords whose depth swings."""
    at = np.linspace(0, 2 * np.pi * turns, int(60 * turns) + 2)
    r = 8 + 1.2 * at
    return cs.polyline(np.column_stack([r * np.cos(at), r * np.sin(at)]), 1.6 + 0.4 * np.sin(3 * at))


def main(size: int = 10, figures: Figures | None = None) -> dict[tuple[str, str, str], float]:
    """Print the table; return seconds over those of the straight bit by path, what is worked out, and bit."""
    paths = {"level spiral": cs.spiral(5, 5 + 2.5 * size, 3.0, 2.0), "wave": wave(0.3 * size)}
    ratios: dict[tuple[str, str, str], float] = {}
    print("| path | what | bit | seconds | over the straight bit's |")
    print("|---|---|---|---|---|")
    for path_name, path in paths.items():
        base: dict[str, float] = {}
        for bit_name, bit in BITS.items():
            cut = cs.Cut(bit, path, 18_000, 2400)
            for what, job in jobs(cut).items():
                job()
                best = min(timeit.repeat(job, timer=time.process_time, number=1, repeat=3))
                base.setdefault(what, best)
                ratios[path_name, what, bit_name] = best / base[what]
                print(f"| {path_name} | {what} | {bit_name} | {best:.3f} | {best / base[what]:.2f} |")
                if figures is not None:
                    figures[f"{what}, {path_name}, {bit_name}"] = (best / base[what], "-")
    return ratios


def jobs(cut: cs.Cut) -> dict[str, Callable[[], object]]:
    """What is timed of a cut."""
    return {
        "map": lambda: cs.risk_map(cut, BOARD, pitch=0.25),
        "passes": lambda: cs.tooth_passes(
            cut, start=4.0, stop=8.0, angles=np.arange(0.0, 181.0, 20.0), heights=[0.3, 0.8, 1.1]
        ),
    }


if __name__ == "__main__":
    run(main, size=10)
