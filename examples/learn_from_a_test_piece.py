"""A month in a shop that keeps a book: pieces that are worth cutting, a job, and what both have taught.

    python examples/learn_from_a_test_piece.py [folder]

leaves in the folder (default: out) the shop's book, one program for each mark of the dial, the grading sheet and the
form of every piece, the fitted model, the map of a rosette before and after, and what was learned of every coefficient.
It prints what each week brought. The board's true coefficients are hidden here; a real one is graded by eye. An
invented scenario.
"""

import sys
from pathlib import Path

import numpy as np

import chipsim as cs

BIT = cs.VBit(included_angle=60, diameter=12.7, flutes=2, tip_width=0.2, max_spindle_speed=24_000)
BOARD = cs.Board(cs.wood("sugar maple", moisture=8), cs.straight_grain(azimuth=0))
HIDDEN = cs.RiskModel(drag=0.11, support_fall=0.08, friction=0.5, bending_stress=88, tear_scale=0.32, weak_planes=0.5)
GRADER = cs.Grader(fuzz=(-2.6, -1.6, -1.0, -0.4), tear=(-2.2, -1.1, -0.6, 0.1), noise=0.5)
READINGS = {1: 10_200, 3: 15_300, 5: 20_800}  # marks of the dial, and what a tone in the ear said they turn
FEEDS = (800, 1600, 3200)


def main(folder: str | Path = "out", weeks: int = 3, draws: int = 128) -> tuple[cs.FittedModel, cs.RiskMap, cs.RiskMap]:
    """Live the month; returns the fitted model, the map before and the map after."""
    out = Path(folder)
    out.mkdir(parents=True, exist_ok=True)
    # a book is only ever added to: each run begins one of its own
    book = cs.ShopBook(next(p for p in (out / f"book_{k}" for k in range(1, 1000)) if not p.exists()))
    book.add_board("plank 3", BOARD)
    book.add_bit("the sixty", BIT)
    book.add_machine("bench router", cs.Machine(acceleration=300, max_feed=4000, plunge_feed=400))
    for mark, speed in READINGS.items():
        book.add_dial_reading("bench router", mark, speed)
    machine = book.machines["bench router"]
    job = cs.Cut(BIT, cs.rosette(30, 14, 8, 2.5), READINGS[3], 1600, machine=machine)
    before = cs.risk_map(job, BOARD, draws=draws)
    print(f"Before any test piece:\n{before.band}\n")

    fitted: cs.FittedModel | None = None
    for week in range(1, weeks + 1):
        asked = cs.next_coupon(
            job,
            BOARD,
            machine,
            BIT,
            model=fitted,
            feeds=FEEDS,
            repeats=10,
            draws=draws,
            seed=week,
            name=f"piece {week}",
        )
        print(f"Week {week}: {asked}\n")
        if week == 1:
            # the usual piece comes first: two marks and two feeds, graded as well as looked at
            piece = cs.coupon(
                BIT, BOARD, [READINGS[1], READINGS[5]], FEEDS[::2], machine=machine, sectors=8, name="piece 1", seed=1
            )
        elif asked.coupon is not None:
            piece = asked.coupon
        else:
            continue
        book.add_piece(piece, bit="the sixty", board="plank 3")
        piece.programs_to(out)  # one for each mark: nothing moves before the dial has been turned
        cs.write_grading_sheet(piece, out / f"grading_sheet_{week}.pdf")
        cs.write_grade_form(piece, out / f"empty_form_{week}.csv")
        # what a carver would type by hand goes through the same file and reader
        form = out / f"grades_{week}.csv"
        cs.invented_grades(piece, HIDDEN, grader=GRADER, seed=week).to_csv(form)
        book.add_grades(cs.read_grades(form, piece))
        fitted = book.fit()
        left = np.sqrt(np.diag(fitted.covariance))
        print(f"Week {week} taught: {fitted.count} grades, {len(fitted.unlearned())} coefficients not learned, "
              f"least spread left {left.min():.0%}. {fitted.learned}\n")  # fmt: skip
    assert fitted is not None

    # the job is cut, and three places are marked on its printed map as the hidden wood has made them
    seen = cs.risk_map(job, BOARD, model=HIDDEN)
    marks = []
    for place in seen.worst_places(3, risk="fuzz"):
        x, y = seen.lip_xy[place.row, 0 if place.side == "left" else 1]
        marks.append((float(x), float(y), "3f" if place.peak > 0.37 else "2f"))
    book.add_job("rosette", job, BOARD, bit="the sixty", on_board="plank 3", minutes=18, marks=marks)
    fitted = book.fit()
    print(f"{book.change_of_bit('the sixty', cost=45, jobs=200, model=fitted, draws=32)}\n")
    print(f"{fitted}\n\nTruth, hidden from the fit, against what was found, 8 in 10:")
    for name, (_, (low, median, high)) in fitted.ranges().items():
        true = getattr(HIDDEN, name)
        if name not in fitted.unlearned():
            print(f"  {name}: {true:.3g}; found {median:.3g} ({low:.3g} to {high:.3g})")
    after = cs.risk_map(job, BOARD, model=fitted, draws=draws)
    print(f"\n{after}\n\n{book}")
    fitted.save(out / "fitted.json")
    cs.save_figure(cs.draw_fit(fitted, maps=(before, after)), out / "learned.png")
    return fitted, before, after


if __name__ == "__main__":
    main(sys.argv[1] if len(sys.argv) > 1 else "out")
