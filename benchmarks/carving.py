"""Speed where carvings are: ramps, chords, arcs, changing feed, runout, corners; ratios to level lines in the same run.

    python benchmarks/carving.py [size] [--json FILE] [--runs N]

Size 1 is a smoke test; 10 (the default) takes the best of several runs over 30 mm of path. The table of tooth passes
has 20 angles and 4 heights: level cells are copies of one solution, so that the ratio falls as the table grows.
"""

import time
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


def main(size: int = 10, figures: Figures | None = None) -> None:
    """Print the table."""
    print(f"{'tooth passes, 20 angles x 4 heights':40s} cells a second    of a level line")
    level = 0.0
    for name, cut, start, stop in cuts():
        found = rate(cut, start, stop if size > 1 else min(start + 1.0, stop), 1 if size == 1 else 5)
        level = level or found
        print(f"{name:40s} {found:14,.0f} {found / level:18.3f}")
        if figures is not None:
            figures[f"tooth passes, {name}"] = (found / level, "-")


if __name__ == "__main__":
    run(main, size=10)
