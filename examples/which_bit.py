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


FARTHEST = 8.0  # minutes more than the drawer's best that are drawn; what lies beyond is written


def draw(found: dict[tuple[str, str], Any]) -> Figure:
    """For each carving and wood a row a bit: minutes more or less than the drawer's best, all on the same draws."""
    figure, axes = plt.subplots(3, 2, figsize=(13, 11.5))
    figure.subplots_adjust(left=0.2, right=0.94, bottom=0.07, top=0.87, wspace=0.95, hspace=0.42)
    for ax, ((name, wood), choice) in zip(axes.flat, found.items(), strict=True):
        rows = [choice.best, *sorted((b for b in choice if b.bought), key=lambda b: b.minutes)]
        rows = list({row.name: row for row in rows}.values())
        ax.axvline(0, color="0.6", lw=1)
        for y, row in enumerate(rows):
            ground, (low, middle, high) = not row.bought, (-v for v in reversed(row.saves))
            if middle > FARTHEST:
                ax.text(FARTHEST, y, f"{middle:+.0f} min  \u2192", ha="right", va="center", fontsize=10)
            else:
                ends = np.clip([low, high], -FARTHEST, FARTHEST)
                ax.plot(ends, [y, y], color="0.35", lw=5 if ground else 2.5, solid_capstyle="butt", alpha=0.5)
                ax.plot(middle, y, "D" if ground else "o", color="black", ms=9 if ground else 7)
            ax.text(1.02, y, f"{row.minutes:.0f} min", transform=ax.get_yaxis_transform(), va="center", fontsize=10)
        words = [f"best grind: {grind_words(choice.best.bit)}" if not rows[0].bought else rows[0].name]
        ax.set_yticks(range(len(rows)), words + [row.name for row in rows[1:]], fontsize=10)
        ax.set_ylim(len(rows) - 0.5, -0.7)
        ax.set_xlim(-FARTHEST / 2, FARTHEST)
        ax.set_title(f"{verdict(choice)}\n\n", fontsize=11, loc="left", fontweight="bold")
        said = f"{name}, {wood}\n{piece_words(choice)}"
        ax.text(0, 1.03, said, transform=ax.transAxes, fontsize=9, color="0.25")
        ax.grid(axis="x", color="0.9")
        for side in ("top", "right", "left"):
            ax.spines[side].set_visible(False)
        ax.tick_params(axis="y", length=0)
    for ax in axes[-1]:
        ax.set_xlabel("minutes of hand work more than the drawer's best;\nat the right, in all", fontsize=10)
    figure.suptitle(
        f"{answer(found)}\n"
        "Mark: middle draw; bar: 8 in 10. Held: the width of the grooves, so that depths differ; the flat of the tip; "
        f"{SPEED} rpm; {FEED} mm/min.\nGrain along x. Minutes are assumed, and the model is not fitted.",
        fontsize=11,
        x=0.01,
        ha="left",
    )
    return figure


def answer(found: dict[tuple[str, str], Any]) -> str:
    """What the six panels come to."""
    sure = [choice.saves[1] for choice in found.values() if choice.known]
    if not sure:
        return "Of no carving here is it known that a bit ground to order beats the drawer."
    gains = f"{min(sure):.1f}" if max(sure) - min(sure) < 0.05 else f"{min(sure):.1f} to {max(sure):.1f}"
    said = f"A bit ground to order is known to beat the drawer in {len(sure)} of {len(found)} carvings, by {gains} min"
    dull = [-b.saves[1] for choice in found.values() for b in choice if b.bought and "dull" in b.name]
    if dull and min(dull) > max(sure):
        return f"{said}; a dull bit loses more, {min(dull):.0f} min and more."
    return f"{said}."


def grind_words(bit: cs.VBit) -> str:
    """What to tell the grinder, in two lines."""
    shear = f", shear {np.atleast_1d(bit.shear)[0]:+.0f}" if bit.shear else ""
    flutes = f"{bit.flutes} flute{'s' if bit.flutes > 1 else ''}"
    return f"{bit.included_angle:.0f} deg, {flutes},\nrake {bit.rake:.0f}, clearance {bit.clearance:.0f}{shear}"


def piece_words(choice: Any) -> str:
    """Whether a test piece would decide, in a few words."""
    if choice.piece is None:
        return ""
    worth = f"knowing all is worth {choice.piece.perfect[0]:.1f} min"
    if choice.piece.verdict == "cut":
        return f"A test piece would decide ({worth})."
    said = "no test piece pays" if choice.piece.verdict == "stop" else "whether a test piece pays is not known"
    return f"{said[0].upper()}{said[1:]}: {worth}."


def verdict(choice: Any) -> str:
    """The answer in a line."""
    if choice.bought is not None and choice.best.name == choice.bought.name:
        return "Nothing better was found than what is in the drawer."
    low, middle, high = (round(v, 1) + 0.0 for v in choice.saves)
    if choice.known:
        return f"Grinding saves {middle:.1f} min (8 in 10: {low:.1f} to {high:.1f})."
    if high <= 0:
        return "Keep the drawer: what was ground saves nothing."
    if max(abs(low), abs(high)) < choice.worth:
        return f"No meaningful difference: {low:+.1f} to {high:+.1f} min."
    return f"Not known: grinding may save {low:.1f} to {high:.1f} min."


if __name__ == "__main__":
    main(Path(sys.argv[1] if len(sys.argv) > 1 else "."), *(int(word) for word in sys.argv[2:3]))
