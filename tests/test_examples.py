"""Every example runs and leaves what it promises."""

import csv
import importlib.util
import inspect
from pathlib import Path

import numpy as np
import pytest

EXAMPLES = Path(__file__).parent.parent / "examples"


def load(name):
    spec = importlib.util.spec_from_file_location(name, EXAMPLES / f"{name}.py")
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


def test_bench_plaque(tmp_path, capsys):
    maps = load("bench_plaque").main(tmp_path)
    assert set(maps) == {"border", "rosette"}
    for name in ("plaque_border.png", "plaque_border.svg", "plaque_rosette.png", "plaque_rose.png", "plaque_chips.png"):
        assert (tmp_path / name).stat().st_size > 10_000
    with open(tmp_path / "plaque_rosette.csv", newline="", encoding="utf-8") as handle:
        rows = list(csv.DictReader(handle))
    assert len(rows) == 2 * len(maps["rosette"])
    printed = capsys.readouterr().out
    assert "The worst stretches, those first that cost most" in printed
    report = (tmp_path / "report.txt").read_text(encoding="utf-8")
    assert printed.startswith(report)
    assert "would it help to turn the whole design?" in report
    for file in tmp_path.iterdir():  # nothing is left of which it is not said what it is
        assert file.stem in printed, file


def test_three_bits(capsys):
    mean = load("three_bits").main()
    assert mean["120 deg, 2 flutes, dull"] == max(mean.values())
    assert "mm of lip by class" in capsys.readouterr().out


def test_house_board(tmp_path, capsys):
    carving, risk = load("house_board").main(tmp_path)
    assert len((EXAMPLES / "house_board.nc").read_text(encoding="utf-8").splitlines()) <= 120
    assert len(carving) == 10  # border, O, A and K and E of two cuts each, N, swash
    # border and O come back to where they began; their plunge is a piece of the path, which so is not closed in space
    assert [bool((cut.path.xy[0] == cut.path.xy[-1]).all()) for cut in carving] == [True, True, *[False] * 8]
    assert [float(cut.path.depth[0]) for cut in carving] == [0.0] * 10
    assert set(risk.groove) == set(range(10))
    for name in ("house_board.png", "house_board.svg", "house_board.csv"):
        assert (tmp_path / name).stat().st_size > 10_000
    printed = capsys.readouterr().out
    assert "house_board: 10 cuts, 1220 mm of groove" in printed
    assert "10 grooves, together" in printed


def test_choose_for_the_board(tmp_path, capsys):
    """At a reduced size; a limit on speed must keep the fastest positions out (the bits' own marks)."""
    ask = {"feeds": [600, 1800], "draws": 16, "pitch": 2.0, "workers": 1}
    comparison, layout, choice = load("choose_for_the_board").main(tmp_path, **ask)
    assert [o.name for o in comparison.options] == ["60 deg", "90 deg", "120 deg"]
    widths = {round(2 * float(o.risk.half_width.max()), 6) for o in comparison.options}
    assert len(widths) == 1
    assert len(layout) == 36  # lettering is not offered mirrored
    assert choice.pick is not None
    assert choice.pick.setting.spindle_speed * 1.1 <= choice.pick.setting.bit.max_spindle_speed
    for name in ("choose_bits.png", "choose_layout.png", "choose_window.png", "choose_front.png"):
        assert (tmp_path / name).stat().st_size > 10_000
    for name, count in (("choose_bits.csv", 3), ("choose_layout.csv", 36), ("choose_settings.csv", len(choice.sweep))):
        with open(tmp_path / name, newline="", encoding="utf-8") as handle:
            assert len(list(csv.DictReader(handle))) == count
    printed = capsys.readouterr().out
    for words in (
        "the fewest minutes in all",
        "ways to lay the design",
        "PICK",
        "NEXT",
        "Process window",
        "In short: set",
    ):
        assert words in printed


def test_why_not_flat_out(tmp_path, capsys):
    values = load("why_not_flat_out").main(tmp_path)
    damage = values["damage"]
    assert (tmp_path / "why_not_flat_out.png").stat().st_size > 50_000
    # neither as fast as it spins and as slow as it goes, nor flat out, nor any edge of the plane is best
    assert damage[1:-1, 1:-1].min() < min(damage[0].min(), damage[-1].min(), damage[:, 0].min(), damage[:, -1].min())
    assert damage[0, -1] > 0.9
    assert values["scorch"][0, -1] > 0.9
    assert damage[-1, -1] > 0.25 > damage.min()
    assert values["tear"][-1, -1] > values["fuzz"][-1, -1]
    assert "least damage" in capsys.readouterr().out


def test_learn_from_a_test_piece(tmp_path, capsys):
    """At a reduced size: one week and few boards."""
    fitted, before, after = load("learn_from_a_test_piece").main(tmp_path, weeks=1, draws=64)
    assert fitted.count > 60
    assert len(fitted.pieces) == 2  # the finished job teaches as well
    assert before.band.status == "prior only"
    assert "Learned from" in after.band.status
    for name in ("grading_sheet_1.pdf", "learned.png", "fitted.json"):
        assert (tmp_path / name).stat().st_size > 10_000
    identity = fitted.grades[0].identity  # by which form and programs are known again
    assert {p.name for p in tmp_path.glob("*.nc")} == {f"{identity}_mark_{mark}.nc" for mark in (1, 5)}
    for program in tmp_path.glob("*.nc"):
        assert program.read_text(encoding="ascii").startswith(f"(Carving: piece 1, identity {identity}, at ")
    book = load("learn_from_a_test_piece").cs.ShopBook(tmp_path / "book_1")
    assert [r.kind for r in book.records()][-4:] == ["piece", "grades", "job", "grades"]
    printed = capsys.readouterr().out
    for words in (
        "Before any test piece",
        "Week 1:",
        "Week 1 taught",
        "Knowing all there is",
        "are still starting guesses",
        "Truth, hidden",
        "need heavy sanding or re-cutting",
    ):
        assert words in printed


def test_prove_your_own(capsys):
    failure, count = load("prove_your_own").main(examples=2)
    assert failure.check == "radius_never_falls_with_height"
    assert count > 50
    printed = capsys.readouterr().out
    assert "FirstDraft breaks radius_never_falls_with_height" in printed
    assert "counterexample, to be copied:" in printed


def test_five_designs(tmp_path, capsys):
    """Each is read, cut and mapped in under ten lines; its picture and the drawing of one map are there."""
    examples = load("five_designs")
    examples.main(tmp_path)
    for name in ("word", "ornament", "plate_with_a_hole", "swelling_line", "border"):
        assert (tmp_path / f"{name}.png").stat().st_size > 10_000
    assert [len(design()) for design in examples.DESIGNS] == [5, 13, 2, 1, 1]
    for design in examples.DESIGNS:
        assert len(inspect.getsource(design).splitlines()) + 4 < 10  # four more make a carving and a map of it
    assert 'data-damage="' in (tmp_path / "ornament_map.svg").read_text(encoding="utf-8")
    assert "ornament: 13 paths, 630 mm" in capsys.readouterr().out
    swelling = examples.a_swelling_line()[0]
    assert swelling.sweep.all()
    assert swelling.depth.max() == 2.0
    ring = examples.an_ornament()[0]
    assert ring.name == "ring"
    assert ring.length == pytest.approx(70 * np.pi, rel=1e-9)


def test_none_is_forgotten():
    assert {p.stem for p in EXAMPLES.glob("*.py")} == {
        "bench_plaque",
        "choose_for_the_board",
        "five_designs",
        "house_board",
        "learn_from_a_test_piece",
        "prove_your_own",
        "three_bits",
        "which_bit",
        "why_not_flat_out",
    }


@pytest.mark.parametrize("path", sorted(EXAMPLES.glob("*.py")), ids=lambda p: p.stem)
def test_examples_only_draw_when_run(path):
    assert 'if __name__ == "__main__":' in path.read_text(encoding="utf-8")


def test_which_bit(tmp_path, capsys):
    """At a reduced size: every carving in every wood has its answer, and a picture of them all."""
    found = load("which_bit").main(tmp_path, draws=4, looks=8, pitch=6.0)
    assert len(found) == 3 * 2
    assert all(choice.bought is not None for choice in found.values())
    assert (tmp_path / "which_bit.png").stat().st_size > 10_000
    assert "Grooves have the same width" in capsys.readouterr().out
