"""A drawer of five bits against the best that could be ground, for three carvings in two woods; invented scenarios.

python examples/which_bit.py [folder for the picture, default the current one] [draws]
"""

import sys
from pathlib import Path
from typing import Any

import matplotlib.pyplot as plt
import numpy as np
from matplotlib.figure import Figure

import chipsim as cs

SPEED, FEED = 18_000, 1500  # rpm, mm/min
DRAWER = {
    "60 deg, 1 flute": cs.VBit(60, 12.7, 1, 0.2),
    "60 deg, 2 flutes": cs.VBit(60, 12.7, 2, 0.2),
    "90 deg, 2 flutes": cs.VBit(90, 12.7, 2, 0.2),
    "90 deg, 2 flutes, dull": cs.VBit(90, 12.7, 2, 0.2, edge_radius=0.03),
    "120 deg, 2 flutes": cs.VBit(120, 25.4, 2, 0.2),
}
WOODS = ("sugar maple", "eastern white pine")
VARY = {"included_angle": (45, 120), "flutes": (1, 2, 3), "rake": (0, 25), "clearance": (8, 20), "shear": (-20, 20)}


def carvings() -> dict[str, cs.Cut]:
    """A border, a fine rosette and an oval frame, each as the drawer's plain bit would cut it."""
    bit = DRAWER["60 deg, 2 flutes"]
    return {
        "border, 3 mm wide": cs.Cut(bit, cs.oval(80, 50, bit.depth_for_width(3.0)), SPEED, FEED),
        "rosette, 1.5 mm wide": cs.Cut(bit, cs.rosette(22, 8, 6, bit.depth_for_width(1.5)), SPEED, FEED),
        "ring, 5 mm wide": cs.Cut(bit, cs.ring(30, bit.depth_for_width(5.0)), SPEED, FEED),
    }


def main(folder: Path = Path("."), draws: int = 24, looks: int = 48, pitch: float = 2.0) -> dict[tuple[str, str], Any]:
    """Look for the best bit of every carving in every wood; returns the choices and writes which_bit.png."""
    found = {}
    for name, cut in carvings().items():
        for wood in WOODS:
            board = cs.Board(cs.wood(wood, moisture=8), cs.straight_grain(azimuth=0))
            choice = cs.best_bit(cut, board, catalogue=DRAWER, vary=VARY, draws=draws, looks=looks, pitch=pitch)
            found[name, wood] = choice
            print(f"\n{name}, in {wood}\n{choice}")
    figure = draw(found)
    cs.save_figure(figure, folder / "which_bit.png", dpi=120)
    plt.close(figure)
    return found


def draw(found: dict[tuple[str, str], Any]) -> Figure:
    """For each carving and wood a row a bit: expected minutes and where 8 of 10 draws lie; the ground one on top."""
    figure, axes = plt.subplots(3, 2, figsize=(12.5, 11), layout="constrained")
    for ax, ((name, wood), choice) in zip(axes.flat, found.items(), strict=True):
        rows = [choice.best, *sorted((b for b in choice if b.bought), key=lambda b: b.minutes)]
        rows = list({row.name: row for row in rows}.values())
        for y, row in enumerate(rows):
            ground = not row.bought
            ax.plot(
                [row.low, row.high], [y, y], color="0.35", lw=5 if ground else 2.5, solid_capstyle="butt", alpha=0.5
            )
            ax.plot(row.minutes, y, "D" if ground else "o", color="black", ms=9 if ground else 7)
        words = ["ground:\n" + grind_words(choice.best.bit) if not rows[0].bought else rows[0].name]
        ax.set_yticks(range(len(rows)), words + [row.name for row in rows[1:]], fontsize=10)
        ax.invert_yaxis()
        ax.set_title(f"{name}, {wood}\n{verdict(choice)}", fontsize=11, loc="left")
        ax.grid(axis="x", color="0.9")
        ax.set_xlim(left=0)
        for side in ("top", "right"):
            ax.spines[side].set_visible(False)
    for ax in axes[-1]:
        ax.set_xlabel("expected minutes of hand work", fontsize=10)
    figure.suptitle(
        "Would a bit ground to order be better than the drawer's? Mark: expected; bar: 8 in 10 of what is possible.\n"
        f"All grooves of a carving have the same width; {SPEED} rpm, {FEED} mm/min; grain along x. "
        "Minutes are assumed, the model is not fitted.",
        fontsize=11,
        x=0.01,
        ha="left",
    )
    return figure


def grind_words(bit: cs.VBit) -> str:
    """What to tell the grinder, in two lines."""
    shear = f", shear {np.atleast_1d(bit.shear)[0]:+.0f}" if bit.shear else ""
    flutes = f"{bit.flutes} flute{'s' if bit.flutes > 1 else ''}"
    return f"{bit.included_angle:.0f} deg, {flutes},\nrake {bit.rake:.0f}, clearance {bit.clearance:.0f}{shear}"


def verdict(choice: Any) -> str:
    """The answer in a line."""
    if choice.bought is not None and choice.best.name == choice.bought.name:
        return "Nothing better was found than what is in the drawer."
    low, middle, high = choice.saves
    if choice.known:
        return f"Grinding saves {middle:.1f} min (8 in 10: {low:.1f} to {high:.1f})."
    if max(abs(low), abs(high)) < choice.worth:
        return f"No meaningful difference: {low:+.1f} to {high:+.1f} min."
    return f"Not known: it may save {low:.1f} to {high:.1f} min."


if __name__ == "__main__":
    main(Path(sys.argv[1] if len(sys.argv) > 1 else "."), *(int(word) for word in sys.argv[2:3]))
