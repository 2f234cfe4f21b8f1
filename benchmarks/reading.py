"""Lines a second of a toolpath file: 10 000 and 100 000 lines should cost ten times, not a hundred.

    python benchmarks/reading.py [size] [--json FILE] [--runs N]

At size 10 (the default) the programs have 10 000 and 100 000 lines of letters, each a rapid, a plunge, lines, arcs, a
ramp and a retract. The baseline, in the same run on the same text, splits every line at blanks and makes a float of
every word: less than any reader must do. Seconds are the process's own, whoever else is at work.
"""

import time
import timeit
from functools import partial

from figures import Figures, run

import chipsim as cs

BIT = cs.VBit(90, 12.7, 2)
WAVE = ["G3 X{b} I3 J0", "G1 Y{v}", "G2 X{c} I3 J0", "G1 Y{y}"]
BACK = ["G2 X{b} I-3 J0", "G1 Y{v}", "G3 X{a} I-3 J0"]
LETTER = ["(next)", "G0 X{a} Y{y}", "G1 Z-2 F300", "Y{v} F1500", "Y{y}", *WAVE, *BACK, "G1 X{c} Z-1.5", "X{a}", "G0 Z5"]


def program(lines: int) -> str:
    """Text of about so many lines, on a grid of letters."""
    rows = ["G21 G90 G17 G94", "G0 Z5", "S16000 M3", "G4 P3"]
    for k in range(max(1, (lines - 5) // len(LETTER))):
        x, y = 20.0 * (k % 100), 20.0 * (k // 100 % 100)
        rows += [row.format(a=x, b=x + 6, c=x + 12, y=y, v=y + 8) for row in LETTER]
    return "\n".join([*rows, "M2"]) + "\n"


def split_and_float(text: str) -> float:
    """Sum of every number: what a program costs to look at."""
    total = 0.0
    for line in text.splitlines():
        for word in line.split():
            if word[0] != "(":
                total += float(word[1:])
    return total


Row = tuple[int, float, float, float]


def main(size: int = 10, figures: Figures | None = None) -> tuple[list[Row], float]:
    """Print the table; return the rows (lines, seconds of baseline, moves, carving) and the growth of the last."""
    rows: list[Row] = []
    for lines in (1000 * size, 10_000 * size):
        text = program(lines)
        count = text.count("\n")
        jobs = (partial(split_and_float, text), partial(cs.rs274.read_moves, text), partial(cs.read_rs274, text, BIT))
        plain, moves, carving = (min(timeit.repeat(j, timer=time.process_time, number=1, repeat=3)) for j in jobs)
        rows.append((count, plain, moves, carving))
    print("| lines | split and float [1000/s] | read_moves [1000/s], ratio | read_rs274 [1000/s], ratio | seconds |")
    print("|---|---|---|---|---|")
    for count, plain, moves, carving in rows:
        rates = " | ".join(f"{count / t / 1000:.0f}, {plain / t:.3f}" for t in (moves, carving))
        print(f"| {count} | {count / plain / 1000:.0f} | {rates} | {carving:.2f} |")
        if figures is not None:
            by = {"split and float": plain, "read_moves": moves, "read_rs274": carving}
            figures |= {f"{what}, {count} lines": (count / seconds, "lines/s") for what, seconds in by.items()}
    growth = rows[1][3] / rows[0][3] * rows[0][0] / rows[1][0]
    print(f"ten times the lines: {growth:.2f} times the time a line")
    return rows, growth


if __name__ == "__main__":
    run(main, size=10)
