"""Five designs in open forms, each read, cut and mapped in a few lines: `python examples/five_designs.py out`."""

import sys
from pathlib import Path

import matplotlib.pyplot as plt
from matplotlib.textpath import TextPath

import chipsim as cs

BIT = cs.VBit(included_angle=60, diameter=12.7, flutes=2, tip_width=0.2)
BOARD = cs.Board(cs.wood("black cherry", moisture=8), grain=cs.straight_grain(azimuth=0))
ORNAMENT = Path(__file__).with_name("ornament.svg")


def a_word() -> list[cs.Path]:
    """The outlines of letters, from a font that matplotlib brings along."""
    return cs.paths_from(TextPath((0, 0), "OAK", size=30), depth=1.2)


def an_ornament() -> list[cs.Path]:
    """A drawing in SVG, with a depth for each of its parts."""
    depths = {"ring": 2.0, "edge": 1.5, "vein": 0.6, "buds": 1.0}
    return [*cs.read_svg(ORNAMENT, depth=depths)]


def a_plate_with_a_hole() -> list[cs.Path]:
    """A polygon, as geometry libraries hand it on through `__geo_interface__`."""
    shell, hole = [(0, 0), (60, 0), (60, 40), (0, 40), (0, 0)], [(20, 12), (30, 30), (40, 12), (20, 12)]
    return cs.paths_from({"type": "Polygon", "coordinates": [shell, hole]}, depth=1.5)


def a_swelling_line() -> list[cs.Path]:
    """Points with a depth each, as a table has them."""
    return cs.paths_from([(0, 0, 0.2), (20, 8, 1.5), (40, 0, 2.0), (60, 8, 1.5), (80, 0, 0.2)], smooth=60)


def a_border() -> list[cs.Path]:
    """SVG path data, its depth a function of the place."""
    return cs.paths_from("M0 10 H60 A10 10 0 0 1 60 30 H0 A10 10 0 0 1 0 10 Z", depth=lambda x, y: 1 + x / 100)


DESIGNS = (a_word, an_ornament, a_plate_with_a_hole, a_swelling_line, a_border)


def main(folder: Path) -> None:
    """Map every design and leave a picture, and the ornament's map as a drawing whose elements carry their values."""
    folder.mkdir(parents=True, exist_ok=True)
    for design in DESIGNS:
        paths = design()
        carving = cs.Carving(tuple(cs.Cut(BIT, path, spindle_speed=18_000, feed=1500) for path in paths))
        risk = cs.risk_map(carving, BOARD, pitch=0.5)
        name = design.__name__.removeprefix("a_").removeprefix("an_")
        drawn = cs.draw_risk_map(risk)
        cs.save_figure(drawn, folder / f"{name}.png")
        plt.close("all")
        if design is an_ornament:
            risk.to_svg(folder / "ornament_map.svg")
        length = sum(path.length for path in paths)
        print(f"{name}: {len(paths)} paths, {length:.0f} mm, mean damage {risk.mean('damage'):.2f}")


if __name__ == "__main__":
    main(Path(sys.argv[1] if len(sys.argv) > 1 else "out"))
