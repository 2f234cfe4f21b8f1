"""Why neither 'as fast as it spins, as slow as it goes' nor flat out: the plane of spindle speed and feed for one ring.

    python examples/why_not_flat_out.py [folder]

leaves in the folder (default: out) four maps of the plane, damage and the three risks it is made of, and prints a
small table. A used bit in cherry, an invented scenario; a mean over a ring counts every direction to the grain.
"""

import sys
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

import chipsim as cs
from chipsim.damage.maps import CLASSES, RISKS

if TYPE_CHECKING:
    from matplotlib.figure import Figure

BIT = cs.VBit(included_angle=90, diameter=12.7, flutes=2, tip_width=0.1, edge_radius=0.016)
BOARD = cs.Board(cs.wood("black cherry", moisture=8), cs.straight_grain(azimuth=0))
RING = cs.ring(radius=20, depth=2.5)
SPEEDS = np.linspace(8_000, 24_000, 9)  # rpm
FEEDS = np.geomspace(250, 10_000, 11)  # mm/min
USABLE = CLASSES["clean"], CLASSES["brush"], CLASSES["heavy sanding"]


def plane() -> dict[str, np.ndarray]:
    """Mean damage and risks of the ring by feed (rows) and speed (columns)."""
    names = ("damage", *RISKS)
    values = {name: np.empty((len(FEEDS), len(SPEEDS))) for name in names}
    for j, speed in enumerate(SPEEDS):
        for i, feed in enumerate(FEEDS):
            risk = cs.risk_map(cs.Cut(BIT, RING, speed, feed), BOARD, pitch=0.77)
            for name in names:
                values[name][i, j] = risk.mean(name)
    return values


def corners(damage: np.ndarray) -> list[tuple[str, int, int]]:
    """Places of the plane worth a name: (label, row, column)."""
    row, column = np.unravel_index(damage.argmin(), damage.shape)
    return [("fast spin, slow feed", 0, -1), ("flat out", -1, -1), ("least damage", int(row), int(column))]


def draw(values: dict[str, np.ndarray], figure: "Figure") -> None:
    """Four maps of the plane on one scale, darker is worse; lines where a class ends."""
    from matplotlib import colormaps
    from matplotlib.colors import ListedColormap

    ramp = ListedColormap(colormaps["magma"](np.arange(255, 12, -1)))
    axes = figure.subplots(2, 2, sharex=True, sharey=True)
    places = corners(values["damage"])
    for ax, (name, value) in zip(axes.flat, values.items(), strict=True):
        mesh = ax.pcolormesh(SPEEDS, FEEDS, value, cmap=ramp, vmin=0, vmax=1, shading="gouraud", rasterized=True)
        # a light line on dark ground, a dark one on light: each is drawn in both, the light one wider
        for colour, width in (("white", 2.6), ("black", 1.1)):
            heavy = [2.0 * width if name == "damage" and u == CLASSES["brush"] else width for u in USABLE]
            lines = ax.contour(SPEEDS, FEEDS, value, levels=USABLE, colors=colour, linewidths=heavy)
        for text in ax.clabel(lines, fmt="%.2f", fontsize=8):
            text.set_bbox({"boxstyle": "square,pad=0.1", "facecolor": "white", "edgecolor": "none"})
        for label, i, j in places:
            ax.plot(SPEEDS[j], FEEDS[i], "o", color="white", markeredgecolor="black", markersize=6, clip_on=False)
            if name == "damage":
                right, top = j == -1, i == -1
                shift = (-8 if right else 0, (-8 if top else 8) if right else 9)
                sides = {"va": "top" if top else "bottom", "ha": "right" if right else "center"}
                where = {"xytext": shift, "textcoords": "offset points"}
                note = ax.annotate(f"{label}: {value[i, j]:.2f}", (SPEEDS[j], FEEDS[i]), **where, **sides, fontsize=8)
                note.set_bbox({"boxstyle": "square,pad=0.25", "facecolor": "white", "edgecolor": "black", "lw": 0.6})
        ax.set_yscale("log")
        ax.set_yticks([250, 500, 1000, 2000, 4000, 10_000], ["250", "500", "1000", "2000", "4000", "10000"])
        ax.set_yticks([], minor=True)
        ax.set_xticks(SPEEDS[::2], [f"{s:.0f}" for s in SPEEDS[::2]])
        means = "mean damage, of all three" if name == "damage" else f"mean {name}"
        ax.set_title(means, fontsize=10)
    for ax in axes[-1]:
        ax.set_xlabel("spindle speed [rpm]")
    for ax in axes[:, 0]:
        ax.set_ylabel("feed [mm/min]")
    for ax in axes[:, 1]:
        inches = ax.secondary_yaxis("right", functions=(lambda f: f / cs.ipm, lambda f: f * cs.ipm))
        inches.set_yticks([10, 20, 40, 80, 160, 320], ["10", "20", "40", "80", "160", "320"])
        inches.set_yticks([], minor=True)
        inches.set_ylabel("feed [in/min]")
    figure.colorbar(mesh, ax=axes, label="risk, 0 to 1", shrink=0.7)
    wood = BOARD.wood
    figure.suptitle(
        f"Ring 40 mm across, {RING.depth[0]:g} mm deep, 90 deg V-bit, 2 flutes, edge worn to "
        f"{1000 * BIT.edge_radius:g} um; {wood.name}, {wood.moisture:g} %\n"
        f"usable: between the heavy lines, mean damage below {CLASSES['brush']:g} (a brush is enough); prior only",
        fontsize=10,
    )


def main(folder: str | Path = "out") -> dict[str, np.ndarray]:
    """Compute the plane, draw it, print the table; returns the values by name."""
    from matplotlib.figure import Figure

    out = Path(folder)
    out.mkdir(parents=True, exist_ok=True)
    values = plane()
    figure = Figure(figsize=(9.6, 8), layout="constrained")
    draw(values, figure)
    cs.save_figure(figure, out / "why_not_flat_out.png")

    print(f"Mean damage of the ring, {BOARD.wood.name}; * usable, below {CLASSES['brush']:g}; then what leads")
    print("mm/min (in/min)" + "".join(f"{s:>8.0f}" for s in SPEEDS) + "  rpm")
    for i in range(len(FEEDS) - 1, -1, -1):
        cells = []
        for j in range(len(SPEEDS)):
            worst = max(RISKS, key=lambda name: values[name][i, j])
            mark = "*" if values["damage"][i, j] < CLASSES["brush"] else " "
            cells.append(f"  {values['damage'][i, j]:.2f}{mark}{worst[0]}")
        print(f"{FEEDS[i]:6.0f} ({FEEDS[i] / cs.ipm:5.1f})  " + "".join(cells))
    print("f fuzz, t tear, s scorch")
    for label, i, j in corners(values["damage"]):
        each = ", ".join(f"{name} {values[name][i, j]:.2f}" for name in values)
        print(f"{label}: {SPEEDS[j]:.0f} rpm, {FEEDS[i]:.0f} mm/min: {each}")
    return values


if __name__ == "__main__":
    main(*sys.argv[1:2])
