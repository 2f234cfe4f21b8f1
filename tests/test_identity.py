"""A graded form is never overwritten, and never taken for that of another piece."""

import dataclasses
import json
import os
import re
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest

import chipsim as cs
from chipsim.learning.sheets import grading_pages

BIT = cs.VBit(60, 12.7, 2, 0.2)
MACHINE = cs.Machine(300, 3000, plunge_feed=400)
WOOD = cs.wood("sugar maple", moisture=8)
BOARD = cs.Board(WOOD, cs.straight_grain(20))
ASK = {
    "bit": BIT, "machine": MACHINE, "feed": [1300], "spindle_speed": 17_000, "board": BOARD, "sectors": 8,
    "straight_pair": False, "stair": False, "name": "lid", "seed": 3,
}  # fmt: skip
PIECE = cs.coupon(**ASK)


def curved(x, y):
    return 20.0 + 0.1 * x, 0.0 * x


OTHERS = {
    "feed": {"feed": [1310]},
    "two feeds": {"feed": [1300, 1800]},
    "speed": {"spindle_speed": 17_500},
    "seed": {"seed": 4},
    "name": {"name": "lid 2"},
    "depth": {"depth": 2.4},
    "sectors": {"sectors": 9},
    "spin": {"spin": "ccw"},
    "margin": {"margin": 9.0},
    "stair": {"stair": True},
    "comb": {"comb": [30]},
    "angle": {"bit": cs.VBit(60.1, 12.7, 2, 0.2)},
    "tip": {"bit": cs.VBit(60, 12.7, 2, 0.21)},
    "flutes": {"bit": cs.VBit(60, 12.7, 3, 0.2)},
    "dull edge": {"bit": cs.VBit(60, 12.7, 2, 0.2, edge_radius=0.009)},
    "rake": {"bit": cs.VBit(60, 12.7, 2, 0.2, rake=9)},
    "runout": {"bit": cs.VBit(60, 12.7, 2, 0.2, runout=0.01)},
    "machine": {"machine": cs.Machine(310, 3000, plunge_feed=400)},
    "species": {"board": cs.Board(cs.wood("black cherry", moisture=8), cs.straight_grain(20))},
    "moisture": {"board": cs.Board(cs.wood("sugar maple", moisture=9), cs.straight_grain(20))},
    "grain": {"board": cs.Board(WOOD, cs.straight_grain(21))},
    "dive": {"board": cs.Board(WOOD, cs.straight_grain(20, 3))},
    "curved grain": {"board": cs.Board(WOOD, cs.grain_field(curved))},
}


def graded(coupon):
    """Its form as it comes back: every box filled in."""
    rows = [line.split(",") for line in cs.write_grade_form(coupon, layout="list").splitlines()]
    at = rows[0].index("grade")
    return "\n".join([",".join(rows[0]), *(",".join([*r[:at], "2", "f", *r[at + 2 :]]) for r in rows[1:])]) + "\n"


# --- the letters ------------------------------------------------------------------------------------------------------


def test_the_identity_is_eight_letters_that_nothing_takes_for_a_number_a_date_or_a_word():
    assert re.fullmatch("[BCDFGHJKLMNPRSTVWXYZ]{8}", PIECE.identity)


def test_whatever_makes_another_piece_makes_another_identity():
    found = {name: cs.coupon(**ASK | change).identity for name, change in OTHERS.items()} | {"": PIECE.identity}
    assert len(set(found.values())) == len(found), found


def test_the_same_piece_has_the_same_identity_however_it_is_said():
    same = [
        {"feed": 1300.0, "spindle_speed": [17_000]},
        {"name": " lid "},
        {"bit": dataclasses.replace(BIT, max_spindle_speed=24_000)},  # no part of the wood that is cut
        {"bit": cs.ProfileBit([0, 6.25 / np.tan(np.radians(30))], [0.1, 6.35], 2)},
        {"board": cs.Board(WOOD, cs.straight_grain(200))},  # a fibre is an axis
        {"board": dataclasses.replace(BOARD, extent=(0, 0, 300, 200))},
        {"board": cs.Board(WOOD, cs.grain_field(lambda x, y: 20.0 + 0 * x))},
        {"machine": cs.Machine(300 * (1 + 1e-15), 3000, plunge_feed=400)},
    ]
    for change in same:
        assert cs.coupon(**ASK | change).identity == PIECE.identity, change


def test_the_last_bits_of_another_computer_do_not_matter():
    """Everything that is worked out may differ by some ten units of the last place."""
    rng = np.random.default_rng(5)

    def shaken(ring):
        path = ring.cut.path
        xy, deep, sweep = (v * (1 + 1e-15 * rng.uniform(-1, 1, v.shape)) for v in (path.xy, path.depth, path.sweep))
        cut = dataclasses.replace(ring.cut, path=cs.Path(xy, deep, sweep=sweep))
        return dataclasses.replace(ring, cut=cut, radius=ring.radius * (1 + 1e-15))

    wood = dataclasses.replace(WOOD, notes=("another note",))
    other = dataclasses.replace(PIECE, rings=tuple(map(shaken, PIECE.rings)), board=cs.Board(wood, BOARD.grain))
    assert other.identity == PIECE.identity


def test_the_identity_is_the_same_in_every_process():
    script = f"import sys; sys.path.insert(0, {str(Path(__file__).parent)!r})\n" + (
        "import test_identity\nprint(test_identity.PIECE.identity)"
    )
    for seed in ("1", "2"):
        env = os.environ | {"PYTHONHASHSEED": seed}
        done = subprocess.run([sys.executable, "-c", script], env=env, capture_output=True, text=True, check=True)
        assert done.stdout.strip() == PIECE.identity


def test_the_identity_stands_still_from_version_to_version():
    """Forms lie in drawers for years: whoever changes what goes into it sees it here."""
    assert PIECE.identity == "GCCMZGDK"


# --- where they stand -------------------------------------------------------------------------------------------------


def test_sheet_form_program_and_table_carry_the_identity(tmp_path):
    assert PIECE.identity in str(PIECE)
    for page in grading_pages(PIECE):
        assert any(PIECE.identity in t.get_text() for t in page.axes[0].texts)
    cs.write_grading_sheet(PIECE, tmp_path / "sheet.pdf")
    assert PIECE.identity.encode() in (tmp_path / "sheet.pdf").read_bytes()  # its title
    for carving in (PIECE.carving, PIECE.at_speed(17_000)):
        head = cs.write_rs274(carving).split("G21")[0]
        assert any(PIECE.identity in line and line.startswith("(") for line in head.splitlines())
    rows = cs.write_grade_form(PIECE).splitlines()
    assert rows[0].split(",")[1] == "identity"
    assert {row.split(",")[1] for row in rows[1:]} == {PIECE.identity}


# --- forms of other pieces --------------------------------------------------------------------------------------------


@pytest.mark.parametrize("other", [n for n in OTHERS if n not in ("name", "sectors", "two feeds")])
def test_a_form_graded_for_another_piece_is_refused(other):
    piece = cs.coupon(**ASK | OTHERS[other])
    with pytest.raises(
        cs.DomainError, match=rf"identity {PIECE.identity} of 'lid', got {piece.identity}: .*another piece"
    ):
        cs.read_grades(graded(piece), PIECE)
    grades = cs.read_grades(graded(piece), piece)
    assert grades.identity == piece.identity
    with pytest.raises(cs.DomainError, match=rf"identity {PIECE.identity}, got grades with {piece.identity}"):
        cs.fit(PIECE, grades)


def test_a_form_without_identity_is_asked_for_it():
    rows = [line.split(",") for line in graded(PIECE).splitlines()]
    old = "\n".join(",".join([r[0], *r[2:]]) for r in rows) + "\n"
    with pytest.raises(
        cs.DomainError, match=rf"missing: identity\. .* give every row {PIECE.identity} in a column identity"
    ):
        cs.read_grades(old, PIECE)
    blank = "\n".join([",".join(rows[0]), *(",".join([r[0], "", *r[2:]]) for r in rows[1:])])
    with pytest.raises(cs.DomainError, match=rf"from row 2 on, must carry the identity {PIECE.identity} .*got none"):
        cs.read_grades(blank, PIECE)
    with pytest.raises(cs.DomainError, match=r"got grades with none.*identity=coupon\.identity"):
        cs.fit(PIECE, cs.Grades("lid", cs.read_grades(graded(PIECE), PIECE).rows))


def test_one_row_of_another_piece_is_named():
    rows = graded(PIECE).splitlines()
    other = graded(cs.coupon(**ASK | OTHERS["feed"])).splitlines()[5].split(",")[1]
    rows[5] = rows[5].replace(PIECE.identity, other)
    with pytest.raises(
        cs.DomainError, match=rf"1 fault.*\n  row 6, column identity: must be '{PIECE.identity}', got '{other}'"
    ):
        cs.read_grades("\n".join(rows), PIECE)


def test_small_letters_and_spaces_of_a_typist_do_not_matter():
    text = graded(PIECE).replace(PIECE.identity, f" {PIECE.identity[:4].lower()} {PIECE.identity[4:]}")
    assert cs.read_grades(text, PIECE) == cs.read_grades(graded(PIECE), PIECE)


def test_a_saved_fit_remembers_of_which_piece_its_grades_are(tmp_path):
    cs.fit(PIECE, cs.Grades("lid", (), PIECE.identity)).save(tmp_path / "fit.json")
    assert json.loads((tmp_path / "fit.json").read_text())["grades"][0]["identity"] == PIECE.identity
    assert cs.FittedModel.load(tmp_path / "fit.json").grades[0].identity == PIECE.identity


# --- forms that hold grades -------------------------------------------------------------------------------------------


def with_cell(column, value):
    rows = [line.split(",") for line in cs.write_grade_form(PIECE, layout="list").splitlines()]
    rows[7][rows[0].index(column)] = value
    return "\n".join(map(",".join, rows)) + "\n"


WRITTEN = {
    "one grade": with_cell("grade", "0"),
    "one letter": with_cell("kind", "t"),
    "one flag": with_cell("flags", "k"),
    "one note": with_cell("note", "by the pith"),
    "of another piece": graded(cs.coupon(**ASK | OTHERS["feed"])),
    "semicolons, as a spreadsheet saves it": graded(PIECE).replace(",", ";").replace("\n", "\r\n"),
    "spoilt": graded(PIECE).replace("2,f", '2,f"', 1),
    "a quotation mark left open": graded(PIECE) + '"',
    "a value beside the columns": cs.write_grade_form(PIECE).rstrip("\n") + ",2f\n",
    "columns of another version": graded(PIECE).replace("identity", "mark", 1),
    "no form": "rake the leaves\n",
    "not even text": "\x00\xff\xfe",
}


@pytest.mark.parametrize("name", WRITTEN)
def test_a_form_that_holds_grades_is_never_overwritten(tmp_path, name):
    path = tmp_path / "grades.csv"
    path.write_bytes(WRITTEN[name].encode("latin-1"))
    with pytest.raises(cs.DomainError, match=r"^path must name a new file or an empty form, got '.*not overwritten"):
        cs.write_grade_form(PIECE, path)
    assert path.read_bytes() == WRITTEN[name].encode("latin-1")
    assert [p.name for p in tmp_path.iterdir()] == ["grades.csv"]


def test_an_empty_form_of_any_piece_is_replaced(tmp_path):
    path = tmp_path / "grades.csv"
    for content in (cs.write_grade_form(cs.coupon(**ASK | OTHERS["feed"])), cs.write_grade_form(PIECE, again=0), ""):
        path.write_text(content, encoding="utf-8")
        assert cs.write_grade_form(PIECE, path) == path.read_text(encoding="utf-8")
        assert cs.read_grades(path, PIECE).identity == PIECE.identity
