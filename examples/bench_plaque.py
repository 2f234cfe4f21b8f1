"""The main job: a bench plaque in cherry, an eight-petal rosette in an oval border, mapped before good stock is cut.

    python examples/bench_plaque.py [folder]

leaves in the folder (default: out) report.txt, which it also prints, the risk maps as PNG and SVG, the rose of the
set-up, the chips of a few tooth passes, and one CSV a groove. An invented scenario.
"""

import sys
from pathlib import Path
from textwrap import fill

import chipsim as cs

BIT = cs.VBit(included_angle=60, diameter=12.7, flutes=2, tip_width=0.2, runout=0.02, max_spindle_speed=24_000)
BOARD = cs.Board(cs.wood("black cherry", moisture=8), cs.straight_grain(azimuth=0))
SPEED, FEED = 18_000, 1500  # rpm, mm/min


def grooves() -> dict[str, cs.Cut]:
    """The two cuts of the plaque, border first."""
    border = cs.oval(width=150, height=95, depth=2.0)
    rosette = cs.rosette(outer=34, inner=14, petals=8, depth=2.6)
    return {"border": cs.Cut(BIT, border, SPEED, FEED), "rosette": cs.Cut(BIT, rosette, SPEED, FEED)}


def main(folder: str | Path = "out") -> dict[str, cs.RiskMap]:
    """Map both grooves, write pictures and tables, print the report; returns the maps by name."""
    import matplotlib.pyplot as plt

    out = Path(folder)
    out.mkdir(parents=True, exist_ok=True)
    cuts = grooves()
    maps = {name: cs.risk_map(cut, BOARD) for name, cut in cuts.items()}
    report = []
    for name, risk in maps.items():
        report.append(f"== {name} ==\n{risk}\n")
        risk.to_csv(out / f"plaque_{name}.csv")
        drawn = cs.draw_risk_map(risk)
        cs.save_figure(drawn, out / f"plaque_{name}.png")
        cs.save_figure(drawn, out / f"plaque_{name}.svg")

    rosette = maps["rosette"]
    place = rosette.worst_places(1)[0]
    report.append("== why is the rosette so bad there? ==\n" + rosette.why(place) + "\n")
    layout = cs.best_layout(cs.Carving(tuple(cuts.values())), BOARD, pitch=1.0)
    report.append("== would it help to turn the whole design? ==\n" + fill(layout.verdict, 120) + "\n")
    (out / "report.txt").write_text("\n".join(report), encoding="utf-8")
    print("\n".join(report))

    cs.save_figure(cs.draw_rose(cs.risk_rose(cuts["rosette"], BOARD)), out / "plaque_rose.png")

    cut = cuts["border"]
    passes = cs.tooth_passes(cut, start=20, stop=20.25, angles=range(-20, 201, 2), heights=[2.0])
    cs.save_figure(cs.draw_tooth_passes(passes), out / "plaque_chips.png")
    plt.close("all")
    print(
        f"In {out} are report.txt, which is what stands above; plaque_border and plaque_rosette, the maps, as .png\n"
        "and .svg; plaque_rose.png, the rosette's set-up in every direction; plaque_chips.png, what a few teeth take;\n"
        "and plaque_border.csv and plaque_rosette.csv, a row for every place on a lip, for scripts and tables."
    )
    return maps


if __name__ == "__main__":
    main(*sys.argv[1:2])
