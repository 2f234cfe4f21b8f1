"""Three rounds of a test piece on an invented board, and the map of a rosette before and after.

    python examples/learn_from_a_test_piece.py [folder]

leaves in the folder (default: out) the program and the grading sheet of the first piece, its form filled in, the fitted
model, the maps before and after and what was learned of every coefficient; prints what each round taught. The board's
true coefficients are hidden here and drawn from the priors; a real one is graded by eye. An invented scenario.
"""

import sys
from pathlib import Path

import numpy as np

import chipsim as cs

BIT = cs.VBit(included_angle=60, diameter=12.7, flutes=2, tip_width=0.2, max_spindle_speed=24_000)
MACHINE = cs.Machine(acceleration=300, max_feed=4000, plunge_feed=400)
BOARD = cs.Board(cs.wood("sugar maple", moisture=8), cs.straight_grain(azimuth=0))
HIDDEN = cs.RiskModel(drag=0.11, support_fall=0.08, friction=0.5, bending_stress=88, tear_scale=0.32, weak_planes=0.5)
GRADER = cs.Grader(fuzz=(-2.6, -1.6, -1.0, -0.4), tear=(-2.2, -1.1, -0.6, 0.1), noise=0.5)


def main(
    folder: str | Path = "out", rounds: int = 3, sectors: int = 12, draws: int = 200
) -> tuple[cs.FittedModel, cs.RiskMap, cs.RiskMap]:
    """Cut, grade, fit and map; returns the fitted model, the map before and the map after."""
    from matplotlib.figure import Figure

    out = Path(folder)
    out.mkdir(parents=True, exist_ok=True)
    # the first round looks wide, the next ones about what was found best
    feeds = [(800, 1600, 3200), (1100, 2200), (1400, 2800)]
    job = cs.Cut(BIT, cs.rosette(30, 14, 8, 2.5), 18_000, 1600, machine=MACHINE)
    before = cs.risk_map(job, BOARD, draws=draws)
    print(f"Before any test piece:\n{before.band}\n")
    coupons, grades = [], []
    for k in range(rounds):
        coupon = cs.coupon(
            BIT, BOARD, 18_000, feeds[k], machine=MACHINE, sectors=sectors, name=f"piece {k + 1}", seed=k + 1
        )
        if k == 0:
            cs.write_rs274(coupon.carving, out / "test_piece.nc")
            cs.write_grading_sheet(coupon, out / "grading_sheet.pdf")
        coupons.append(coupon)
        grades.append(cs.invented_grades(coupon, HIDDEN, grader=GRADER, seed=k))
        # what a carver would type by hand goes through the same form and reader
        form = out / f"grades_{k + 1}.csv"
        grades[k].to_csv(form)
        grades[k] = cs.read_grades(form, coupon)
        fitted = cs.fit(coupons, grades)
        left = np.sqrt(np.diag(fitted.covariance))
        print(f"Round {k + 1}: {fitted.count} grades, {len(fitted.unlearned())} coefficients not learned, "
              f"least spread left {left.min():.0%}")  # fmt: skip
    print(f"\n{fitted}\n\nTruth, hidden from the fit, against what was found, 8 in 10:")
    for name, (_, (low, median, high)) in fitted.ranges().items():
        true = getattr(HIDDEN, name)
        if name not in fitted.unlearned():
            print(f"  {name}: {true:.3g}; found {median:.3g} ({low:.3g} to {high:.3g})")
    after = cs.risk_map(job, BOARD, model=fitted, draws=draws)
    print(f"\n{after}")
    fitted.save(out / "fitted.json")
    figure = Figure(figsize=(14, 7.5), layout="constrained")
    for ax, risk, words in zip(figure.subplots(1, 2), (before, after), ("before", "after"), strict=True):
        cs.draw_risk_map(risk, ax, key=False)
        ax.set_title(f"Damage, {words}", loc="left")
    cs.save_figure(figure, out / "before_and_after.png", dpi=110)
    figure = Figure(figsize=(7.5, 4.6), layout="constrained")
    cs.draw_fit(fitted, figure.add_subplot())
    cs.save_figure(figure, out / "learned.png", dpi=120)
    return fitted, before, after


if __name__ == "__main__":
    main(sys.argv[1] if len(sys.argv) > 1 else "out")
