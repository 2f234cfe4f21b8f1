"""Print the table of speeds: ratios against a vectorised-NumPy baseline in the same run, never absolute promises.

    python benchmarks/table.py [size] [--json FILE] [--runs N]

Size 1 is a smoke test; 20 (the default) gives steady figures on a quiet machine. One evaluation is one radial
thickness (tooth pass, angle, height) with both earlier passes of a two-flute cutter on an arc.
"""

import os
import platform
import subprocess
import sys
import tempfile
import time
import timeit
from collections.abc import Callable
from functools import partial
from typing import Any

import numba
import numpy as np
from figures import Figures, processor, run

import chipsim as cs
from chipsim._shared.arrays import FloatArray
from chipsim.kernels import thickness


def numpy_thickness(
    radius: FloatArray, phi: FloatArray, feed_per_rev: float, curvature: float, flutes: int = 2, steps: int = 4
) -> FloatArray:
    """Steady thickness on an arc, vectorised: Newton on R sin(psi) + S cos(phi) - V sin(phi) = 0 for each pass."""
    e = feed_per_rev / (2 * np.pi)
    best = np.full(np.broadcast_shapes(radius.shape, phi.shape), -np.inf)
    sine, cosine = np.sin(phi), np.cos(phi)
    for m in range(1, flutes + 1):
        gap = 2 * np.pi * m / flutes
        psi = e * gap * cosine / (radius + e * cosine)
        for _ in range(steps):
            x = e * (psi - gap)
            s, v = np.sin(curvature * x) / curvature, (1 - np.cos(curvature * x)) / curvature
            f = radius * np.sin(psi) + s * cosine - v * sine
            slope = radius * np.cos(psi) + e * (np.cos(curvature * x) * cosine - np.sin(curvature * x) * sine)
            psi = psi - f / slope
        x = e * (psi - gap)
        s, v = np.sin(curvature * x) / curvature, (1 - np.cos(curvature * x)) / curvature
        best = np.maximum(best, radius * np.cos(psi) + s * sine + v * cosine)
    clipped: FloatArray = np.clip(radius - best, 0, radius)
    return clipped


def best_of(function: Callable[[], object], repeat: int) -> float:
    """Shortest of several runs [s]."""
    return min(timeit.repeat(function, number=1, repeat=repeat))


def lanes(size: int) -> tuple[float, float]:
    """Rate of the bare kernel on 512 rays of an arc, with both earlier passes, and its miss from the baseline [mm]."""
    phi, radius = np.linspace(0.3, np.pi - 0.3, 512), np.linspace(1.2, 3.0, 512)
    sine, cosine = np.sin(phi), np.cos(phi)
    own, around, shift, thick = (np.empty(512) for _ in range(4))
    job = (-1.0, 15_000 * 2 * np.pi / 60, 2.0, 0.0, 0.0, 0.0)

    def solve() -> None:
        for _ in range(200 * size):
            thickness.steady_lanes(job, 100.0, 1 / 12, 0, sine, cosine, radius, radius, own, around, shift, thick)

    solve()
    rate = 512 * 200 * size / best_of(solve, 5)
    return rate, float(np.abs(thick - numpy_thickness(radius, phi, 0.4, 1 / 12)).max())


FIRST_MAP = """
import chipsim as cs
cut = cs.Cut(cs.VBit(90, 12.7, 2), cs.ring(20, 2.0), 16_000, 2000)
cs.risk_map(cut, cs.Board(cs.wood("sugar maple"), cs.straight_grain(30)))
"""


def process(code: str, cache: str, repeat: int) -> float:
    """Shortest time of a whole Python process with numba's cache in a folder of its own [s]."""
    env = os.environ | {"NUMBA_CACHE_DIR": cache, "CHIPSIM_QUIET": "1"}

    def once() -> float:
        begin = time.perf_counter()
        subprocess.run([sys.executable, "-c", code], env=env, check=True)
        return time.perf_counter() - begin

    return min(once() for _ in range(repeat))


def start() -> tuple[float, float, float]:
    """Seconds of importing, beyond an empty process; of a first map with nothing compiled, and with everything."""
    with tempfile.TemporaryDirectory() as cache:
        bare, loaded = (process(code, cache, 7) for code in ("pass", "import chipsim"))
        cold, warm = process(FIRST_MAP, cache, 1), process(FIRST_MAP, cache, 3)
    return loaded - bare, cold, warm


def main(size: int = 20, figures: Figures | None = None) -> tuple[list[tuple[str, float, float]], float]:
    """Measure, print, and return the rows (what, rate [1/s], ratio to the baseline)."""
    cut = cs.Cut(cs.VBit(90, 12.7, 2), cs.ring(12, 3.0), 15_000, 6000)
    angles, heights = np.linspace(5, 175, 60), np.linspace(1.2, 3.0, 10)
    ask: dict[str, Any] = {"start": 8.0, "stop": 9.0 + 0.2 * size, "angles": angles, "heights": heights}
    table = cs.tooth_passes(cut, **ask)
    count = int(np.isfinite(table.radial_thickness).sum())
    ours = count / best_of(lambda: cs.tooth_passes(cut, **ask), 3)

    # kappa > 0 when the centre lies on the conventional side: the left, for a clockwise tool on a ring cut ccw
    phi, radius = np.radians(angles), np.broadcast_to(heights[:, None], (heights.size, angles.size))
    tiled = np.tile(radius, (max(1, size), 1, 1))
    baseline = tiled.size / best_of(lambda: numpy_thickness(tiled, phi, 0.4, 1 / 12), 5)
    steady = np.flatnonzero(np.isfinite(table.time).all(axis=1))[-1]
    miss = np.abs(table.radial_thickness[steady].T - numpy_thickness(radius, phi, 0.4, 1 / 12)).max()

    board = cs.Board(cs.wood("sugar maple"), cs.straight_grain(0))
    path = cs.line((0, 0), (100.0 * size, 30.0 * size), 3.0)
    job = cs.Cut(cs.VBit(90, 12.7, 2), path, 15_000, 6000)
    lips = 2 * len(cs.risk_map(job, board, pitch=0.1))
    rate = lips / best_of(lambda: cs.risk_map(job, board, pitch=0.1), 3)
    two = lips / best_of(lambda: cs.risk_map(job, board, pitch=0.1, threads=2), 3)
    part = cs.Cut(job.bit, cs.ring(8.0 * size, 3.0), 15_000, 6000)
    once = best_of(lambda: cs.risk_map(part, board, pitch=0.5), 5)
    with_draws = partial(cs.risk_map, part, board, pitch=0.5)
    fifty, drawn = (best_of(partial(with_draws, draws=n), 2) / once for n in (50, 200))
    laid = best_of(lambda: cs.best_layout(part, board, pitch=0.5, draws=0), 3) / once
    told = best_of(lambda: cs.best_layout(part, board, pitch=0.5), 3) / once
    strikes = lips / best_of(lambda: cs.lip_strikes(job, pitch=0.1), 3)
    bare, off = lanes(size)
    miss = max(miss, off)

    rows = [
        ("NumPy baseline, thickness on an arc", baseline, 1.0),
        ("exact thickness, kernel alone", bare, bare / baseline),
        ("tooth_passes, radial and normal thickness", ours, ours / baseline),
        ("lip_strikes, lip points", strikes, strikes / baseline),
        ("risk_map, lip points: fuzz, tear and scorch", rate, rate / baseline),
        ("risk_map on two threads", two, two / baseline),
    ]
    print(f"{processor()}, Python {platform.python_version()}, numpy {np.__version__}, numba {numba.__version__}")
    print(f"largest difference of tooth_passes and kernel from the baseline's formula: {miss:.1e} mm")
    print("| what | million a second | ratio to baseline |\n|---|---|---|")
    for what, value, ratio in rows:
        print(f"| {what} | {value / 1e6:.3f} | {ratio:.3f} |")
    print(f"two threads: {two / rate:.2f} times one")
    print(f"50 draws: {fifty:.1f} times one map, 200 draws: {drawn:.1f} times")
    print(f"a layout in 36 rotations: {laid:.1f} times one map, with the odds of 50 draws {told:.1f} times")
    measured: Figures = {what: (value, "1/s") for what, value, _ in rows}
    measured |= {f"{what}, to the baseline": (ratio, "-") for what, _, ratio in rows[1:]}
    measured |= {"map with 50 draws, in maps": (fifty, "-"), "map with 200 draws, in maps": (drawn, "-")}
    measured |= {"layout in 36 rotations, in maps": (laid, "-"), "layout with its odds, in maps": (told, "-")}
    if size > 1:
        loaded, cold, warm = start()
        print(f"import {1e3 * loaded:.0f} ms; a process with one map {warm:.2f} s, {cold:.1f} s with nothing compiled")
        measured |= {"import": (loaded, "s"), "first map": (warm, "s"), "first map, nothing compiled": (cold, "s")}
    if figures is not None:
        figures.update(measured)
    return rows, miss


if __name__ == "__main__":
    run(main, size=20)
