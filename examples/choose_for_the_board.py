"""Which bit, dial, feed and layout for the house board of house_board.nc? An answer before the oak is cut.

    python examples/choose_for_the_board.py [folder]

leaves in the folder (default: out) the comparison of three bits at equal width of groove, the layout on the grain and
every setting that was tried as CSV, and four pictures; prints the same and the choice. Takes well under a minute on two
cores. An invented scenario: bits, machine and the readings of the dial are nobody's in particular.
"""

import sys
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import chipsim as cs
from chipsim.choosing.comparing import Comparison
from chipsim.choosing.layout import Layout
from chipsim.choosing.recommending import Recommendation

FILE = Path(__file__).with_name("house_board.nc")
BITS = {
    "60 deg": cs.VBit(60, 12.7, 2, 0.2, cutting_length=11, runout=0.02, max_spindle_speed=24_000),
    "90 deg": cs.VBit(90, 12.7, 2, 0.1, cutting_length=6, runout=0.02, max_spindle_speed=24_000),
    "120 deg": cs.VBit(120, 19.05, 2, 0.1, cutting_length=5, runout=0.02, max_spindle_speed=18_000),
}
DIAL = cs.Dial([1, 2, 3, 4, 5, 6], [9_700, 12_350, 15_200, 17_900, 21_450, 24_300])
MACHINE = cs.Machine(acceleration=300, max_feed=3000, plunge_feed=400, travel=(600, 400, 90), dial=DIAL)
BOARD = cs.Board(cs.wood("white oak", moisture=9), cs.straight_grain(azimuth=3))
FEEDS = [600, 1200, 1800, 2400]  # mm/min


def main(
    folder: str | Path = "out",
    feeds: Sequence[float] = FEEDS,
    draws: int = 100,
    pitch: float = 1.0,
    workers: int | None = None,
) -> tuple[Comparison, Layout, Recommendation]:
    """Compare, lay out, choose; write tables and pictures, print the reports; returns the three."""
    from matplotlib.figure import Figure

    out = Path(folder)
    out.mkdir(parents=True, exist_ok=True)
    carving = cs.read_rs274(FILE, BITS["90 deg"], machine=MACHINE)

    comparison = cs.compare({name: cs.with_bit(carving, bit) for name, bit in BITS.items()}, BOARD, pitch=pitch)
    layout = cs.best_layout(carving, BOARD, mirrored=True, pitch=pitch)
    # the plan has no plunges between the passes: they would be typed at the plan's own feed
    ask: dict[str, Any] = {"feeds": feeds, "passes": [(), 0.2], "checks": {"plunge_feed": 300}}
    choice = cs.recommend(carving, BOARD, MACHINE, BITS, **ask, draws=draws, pitch=pitch, workers=workers)
    for answer in (comparison, layout, choice, choice.process_window()):
        print(f"{answer}\n")
    comparison.to_csv(out / "choose_bits.csv")
    layout.to_csv(out / "choose_layout.csv")
    choice.sweep.to_csv(out / "choose_settings.csv")

    figure = Figure(figsize=(9, 11.5), layout="constrained")
    cs.draw_comparison(comparison, figure.subplots(3, 1))
    cs.save_figure(figure, out / "choose_bits.png")
    figure = Figure(figsize=(5.6, 4.8), layout="constrained")
    cs.draw_layout(layout, figure.add_subplot(projection="polar"))
    cs.save_figure(figure, out / "choose_layout.png")
    figure = Figure(figsize=(7.5, 3.9), layout="constrained")
    cs.draw_process_window(choice, figure.add_subplot())
    cs.save_figure(figure, out / "choose_window.png")
    figure = Figure(figsize=(6.4, 5.2), layout="constrained")
    cs.draw_front(choice, figure.add_subplot())
    cs.save_figure(figure, out / "choose_front.png")
    return comparison, layout, choice


if __name__ == "__main__":
    main(sys.argv[1] if len(sys.argv) > 1 else "out")
