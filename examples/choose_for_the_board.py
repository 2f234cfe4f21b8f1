"""Which bit, dial, feed and layout for the house board of house_board.nc? An answer before the oak is cut.

    python examples/choose_for_the_board.py [folder]

compares three bits at equal width of groove, lays the design on the grain with the best of them, and chooses what to
set, all by the minutes that machine and hand will take; after each report stands what is done because of it, and at the
end what to set, what to expect and what to do first. Leaves tables and four pictures in the folder (default: out).
Takes about two minutes on two cores. An invented scenario: bits, machine and the readings of the dial are nobody's in
particular.
"""

import sys
from collections.abc import Sequence
from pathlib import Path
from textwrap import fill
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


WORK = cs.HandWork(spoilt=180)
"""A torn plate costs three hours; the other minutes are the library's own and assumed. Put in your own times."""


def main(
    folder: str | Path = "out",
    feeds: Sequence[float] = FEEDS,
    draws: int = 512,
    pitch: float = 1.0,
    workers: int | None = None,
) -> tuple[Comparison, Layout, Recommendation]:
    """Compare, lay out, choose; write tables and pictures, print the reports; returns the three."""
    out = Path(folder)
    out.mkdir(parents=True, exist_ok=True)
    carving = cs.read_rs274(FILE, BITS["90 deg"], machine=MACHINE)
    tried = min(draws, 128)

    print("1. Which bit, at the speed and feed of the plan?")
    bits = {name: cs.with_bit(carving, bit) for name, bit in BITS.items()}
    comparison = cs.compare(bits, BOARD, handwork=WORK, draws=tried, pitch=pitch)
    print(f"{comparison}\n")
    best = comparison.best()
    assert best is not None
    print(f"So the design is laid out with the {best.name} bit.\n")

    print("2. How should the design lie on the grain?")
    layout = cs.best_layout(bits[best.name], BOARD, handwork=WORK, draws=tried, pitch=pitch)
    print(f"{layout}\n")
    laid = layout.best()
    print(f"So it is carved {'as drawn' if laid is None else laid.words()}, whichever bit it will be.\n")

    print("3. What should be set, with any of the bits?")
    turned = 0.0 if laid is None else laid.rotation
    # the plan has no plunges between the passes: they would be typed at the plan's own feed
    ask: dict[str, Any] = {"feeds": feeds, "passes": [(), 0.2], "checks": {"plunge_feed": 300}, "rotations": [turned]}
    choice = cs.recommend(
        carving, BOARD, MACHINE, BITS, handwork=WORK, **ask, draws=draws, pitch=pitch, workers=workers
    )
    print(f"{choice}\n")
    print(f"{choice.process_window()}\n")

    if choice.pick is not None:
        row = choice.row(choice.pick)
        planned, twice = comparison["90 deg"].minutes, 2 * row.expected
        low, high = (100 * chance for chance in row.chance_range(twice))
        told = [
            f"In short: set {choice.pick.setting.words(MACHINE)}.",
            f"Expect {row.expected:.0f} minutes in all, against {planned:.0f} as planned with the 90 degree bit; more "
            f"than {twice:.0f} on {100 * row.chance_above(twice):.0f} boards of 100 ({low:.0f} to {high:.0f}).",
            f"Before the oak is cut: {choice.advice[:1].lower()}{choice.advice[1:]}",
        ]
        print("\n".join(fill(line, 118, subsequent_indent="  ") for line in told))
    comparison.to_csv(out / "choose_bits.csv")
    layout.to_csv(out / "choose_layout.csv")
    choice.sweep.to_csv(out / "choose_settings.csv")
    choice.to_csv(out / "choose_minutes.csv")

    cs.save_figure(cs.draw_comparison(comparison)[0], out / "choose_bits.png")
    cs.save_figure(cs.draw_layout(layout), out / "choose_layout.png")
    cs.save_figure(cs.draw_process_window(choice), out / "choose_window.png")
    cs.save_figure(cs.draw_front(choice), out / "choose_front.png")
    return comparison, layout, choice


if __name__ == "__main__":
    main(sys.argv[1] if len(sys.argv) > 1 else "out")
