"""How long a map takes to be drawn and saved, and how large its files are: 1.5 m and 100 m of swelling strokes.

    python benchmarks/drawing.py [size] [--json FILE] [--runs N]

Size 1 draws the short job only; 10 (the default) both. The strokes are laid out in chords of 0.3 mm, as programs have
them; the map itself is not timed.
"""

import tempfile
import time
from pathlib import Path

import numpy as np
from figures import Figures, run
from matplotlib import pyplot

import chipsim as cs

BIT = cs.VBit(60, 12.7, 2, 0.2)
BOARD = cs.Board(cs.wood("black cherry"), cs.straight_grain(azimuth=10))
STROKE, CHORD = 75.0, 0.3  # length of one stroke and of its chords [mm]


def job(metres: float) -> cs.Carving:
    """So many metres of groove, in strokes that swell and bend, side by side in rows. [m]"""
    count = round(1000 * metres / STROKE)
    across = max(2, int(np.sqrt(count / 4)))
    along = np.linspace(0.0, STROKE, round(STROKE / CHORD))
    cuts = []
    for k in range(count):
        bend = 3.0 * np.sin(2 * np.pi * along / STROKE + k)
        points = np.column_stack([along, bend]) + np.array([(k % across) * 1.1 * STROKE, (k // across) * 9.0])
        depth = 1.2 + 0.6 * np.sin(np.pi * along / STROKE)
        cuts.append(cs.Cut(BIT, cs.polyline(points, depth), 18_000, 1500))
    return cs.Carving(tuple(cuts))


def seconds(risk: cs.RiskMap, kind: str, folder: Path) -> tuple[float, float]:
    """Time to draw a map and save it, and the size of the file. [s, MB]"""
    begin = time.process_time()
    lines = cs.draw_risk_map(risk)
    file = folder / f"map.{kind}"
    cs.save_figure(lines, file)
    spent = time.process_time() - begin
    pyplot.close(lines.figure)  # type: ignore[arg-type]
    return spent, file.stat().st_size / 1e6


def main(size: int = 10, figures: Figures | None = None) -> None:
    """Print the table."""
    pyplot.switch_backend("Agg")
    print(f"{'drawn and saved':24s} {'lip points':>12s} {'png [s]':>9s} {'svg [s]':>9s} {'svg [MB]':>9s}")
    with tempfile.TemporaryDirectory() as folder:
        for metres in (1.5, 100.0)[: 1 if size < 10 else 2]:
            risk = cs.risk_map(job(metres), BOARD, pitch=0.25)
            seconds(risk, "png", Path(folder))  # fonts and modules are loaded once
            png, _ = seconds(risk, "png", Path(folder))
            svg, large = seconds(risk, "svg", Path(folder))
            print(f"{metres:6.1f} m of groove {2 * len(risk):19,d} {png:9.2f} {svg:9.2f} {large:9.2f}")
            if figures is not None:
                figures |= {f"png of {metres:g} m": (png, "s"), f"svg of {metres:g} m": (svg, "s")}
                figures[f"svg of {metres:g} m, size"] = (large, "MB")


if __name__ == "__main__":
    run(main, size=10)
