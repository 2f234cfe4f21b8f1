"""A house board read from its toolpath file, house_board.nc, and mapped before the oak is cut.

    python examples/house_board.py [folder]

leaves in the folder (default: out) the risk map of the whole board as PNG and SVG, one CSV for all grooves and the feed
reached along the last letter, and prints what the file holds, time, limits, the report and the thin lands. An invented
scenario.
"""

import sys
from pathlib import Path

import chipsim as cs

FILE = Path(__file__).with_name("house_board.nc")
BIT = cs.VBit(included_angle=90, diameter=12.7, flutes=2, tip_width=0.1, runout=0.02, max_spindle_speed=24_000)
MACHINE = cs.Machine(acceleration=300, max_feed=3000, plunge_feed=400)
BOARD = cs.Board(cs.wood("white oak", moisture=9), cs.straight_grain(azimuth=3))


def main(folder: str | Path = "out") -> tuple[cs.Carving, cs.RiskMap]:
    """Read the plan, map it, write pictures and the table, print the report; returns the carving and its map."""
    from matplotlib.figure import Figure

    out = Path(folder)
    out.mkdir(parents=True, exist_ok=True)
    # On the ramp of the E the same F gives 13 % less in the face; it is to stay one groove with its bar.
    carving = cs.read_rs274(FILE, BIT, machine=MACHINE)
    print(
        f"{carving.name}: {len(carving)} cuts, {carving.length:.0f} mm of groove, {len(carving.air_moves)} other moves"
    )
    for k, cut in enumerate(carving, 1):
        print(f"  groove {k}: {cut.path!r}")

    print(f"\n{cs.time_estimate(carving)}\n\n{cs.check_limits(carving, board=BOARD)}")
    risk = cs.risk_map(carving, BOARD)
    print(f"\n{risk}")
    lands = cs.thin_lands(carving, BOARD)
    print(f"\n{lands}")
    risk.to_csv(out / "house_board.csv")
    figure = Figure(figsize=(13, 6), layout="constrained")
    cs.draw_risk_map(risk, figure.add_subplot(), lands=lands, air_moves=carving.air_moves)
    cs.save_figure(figure, out / "house_board.png")
    cs.save_figure(figure, out / "house_board.svg")
    figure = Figure(figsize=(9, 3), layout="constrained")
    cs.draw_reached_feed(carving.cuts[8], figure.add_subplot())
    cs.save_figure(figure, out / "house_board_feed.png")
    return carving, risk


if __name__ == "__main__":
    main(*sys.argv[1:2])
