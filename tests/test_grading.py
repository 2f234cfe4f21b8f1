"""The form, its reader and the sheet: nothing is lost, nothing is guessed, nothing gives the setting away."""

import re
import zlib
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from strategies import steadily

import chipsim as cs
from chipsim.learning.grading import FLAGS, SCALE, Grade, weighted_kappa
from chipsim.learning.sheets import PAPERS, grading_pages

BIT = cs.VBit(60, 12.7, 2, 0.2)
MACHINE = cs.Machine(300, 3000, plunge_feed=400)
BOARD = cs.Board(cs.wood("sugar maple", moisture=8), cs.straight_grain(20))
COUPON = cs.coupon(BIT, BOARD, 18_000, [1000, 2000], machine=MACHINE, name="off-cut 7", straight_pair=False)
STROKED = cs.coupon(BIT, BOARD, 18_000, [1000], machine=MACHINE, name="off-cut 8", stair=False)
CODES = sorted(r.code for r in COUPON.rings)


def filled(change=lambda i, row: row, sep=","):
    """The form with every line changed: a list of cells in, a list out."""
    lines = cs.write_grade_form(COUPON, layout="list").splitlines()
    rows = [change(i, line.split(",")) for i, line in enumerate(lines[1:], 2)]
    return "\n".join([lines[0].replace(",", sep), *(sep.join(r) for r in rows)]) + "\n"


def put(row, grade="", kind="", flags=None, note=""):
    return [*row[:6], grade, kind, row[8] if flags is None else flags, note]


def test_the_empty_form():
    grades = cs.read_grades(cs.write_grade_form(COUPON, layout="list"), COUPON)
    first = [g for g in grades if g.reading == 1]
    assert len(first) == 4 * 12 * 2
    assert not grades.used()
    assert {(g.ring, g.sector) for g in first if "p" in g.flags} == {
        (r.code, s) for r in COUPON.rings for s in r.marked
    }
    second = [g for g in grades if g.reading == 2]
    assert len(second) == 24
    assert not any((g.ring, g.sector) in {(r.code, s) for r in COUPON.rings for s in r.marked} for g in second)
    assert "1000" not in cs.write_grade_form(COUPON, layout="list")
    assert len(cs.read_grades(cs.write_grade_form(COUPON, again=0, layout="list"), COUPON)) == 96


# --- the grid ---------------------------------------------------------------------------------------------------------


def grid(coupon, change):
    """The grid form with every line changed: columns by name in, columns by name out."""
    lines = [line.split(",") for line in cs.write_grade_form(coupon).splitlines()]
    rows = [change(i, dict(zip(lines[0], line, strict=True))) for i, line in enumerate(lines[1:], 2)]
    return "\n".join([",".join(lines[0]), *(",".join(row.values()) for row in rows)]) + "\n"


def test_the_grid_is_a_line_for_each_ring_and_lip_and_says_what_the_list_says():
    text = cs.write_grade_form(STROKED)
    lines = text.splitlines()
    first = [line for line in lines if line.split(",")[4] == "1"]
    assert len(first) == 2 * len(STROKED.rings) + 2 * 2
    assert lines[0] == "piece,identity,ring,lip,reading,1,2,3,4,5,6,7,8,9,10,11,12,rest,note"
    by_grid, by_list = (
        cs.read_grades(cs.write_grade_form(STROKED, layout=shape), STROKED) for shape in ("grid", "list")
    )
    assert by_grid == by_list
    assert sum(row.reading == 2 for row in by_grid) == 24
    assert {row.lip for row in by_grid if row.ring.startswith("S")} == {"left", "right"}
    assert "1000" not in text
    with pytest.raises(cs.DomainError, match="layout"):
        cs.write_grade_form(STROKED, layout="table")


SPELLINGS = {
    "2f": (2, "f", ""), "F2": (2, "f", ""), "2 f": (2, "f", ""), "2F": (2, "f", ""), "2 fuzz": (2, "f", ""),
    "3t": (3, "t", ""), "torn 3": (3, "t", ""), "3ts": (3, "t", "s"), "3t s": (3, "t", "s"), "s3t": (3, "t", "s"),
    "2b": (2, "b", ""), "2ft": (2, "b", ""), "2 both": (2, "b", ""), "0": (0, "", ""), "O": (0, "", ""),
    "clean": (0, "", ""), "brush f": (1, "f", ""), "light sanding f": (2, "f", ""), "re-cut t": (4, "t", ""),
    "0s": (0, "", "s"), "0 scorched": (0, "", "s"), "1f.sc": (1, "f", "cs"), "-": (None, "", ""), "k": (None, "", "k"),
}  # fmt: skip


@pytest.mark.parametrize("written", SPELLINGS)
def test_a_box_is_read_as_it_is_sensibly_written(written):
    box = str(next(s for s in range(1, 13) if s not in STROKED.rings[0].marked))
    code = STROKED.rings[0].code

    def put_in(i, row):
        return row | ({box: written} if (row["ring"], row["lip"], row["reading"]) == (code, "out", "1") else {})

    found = cs.read_grades(grid(STROKED, put_in), STROKED)
    (row,) = [r for r in found if r[:4] == (code, int(box), "out", 1)]
    assert row[4:7] == SPELLINGS[written]
    assert sum(r.grade is not None for r in found) == (SPELLINGS[written][0] is not None)


@pytest.mark.parametrize("written", ["2", "5f", "22f", "2x", "2f3", "s", "f", "0f", "2-3f", "!"])
def test_a_box_that_nobody_can_read_is_named(written):
    first = min(STROKED.rings, key=lambda r: r.code)
    box = str(next(s for s in range(1, 13) if s not in first.marked))
    text = grid(STROKED, lambda i, row: row | ({box: written} if i == 3 else {}))
    with pytest.raises(cs.DomainError, match=rf"1 fault.*\n  row 3, column {box}: must "):
        cs.read_grades(text, STROKED)


@pytest.mark.parametrize("tick", ["x", "X", "yes", "clean", "0"])
def test_the_rest_of_a_line_is_clean_where_somebody_says_so(tick):
    def one(i, row):
        if i != 2:
            return row
        return row | {
            "rest": tick,
            **{c: "2f" for c in ("3", "4") if row[c] == ""},
            **({"9": "-"} if not row["9"] else {}),
        }

    found = cs.read_grades(grid(STROKED, one), STROKED)
    line = [r for r in found if r[0] == min(r.code for r in STROKED.rings) and r.lip == "out" and r.reading == 1]
    ring = next(r for r in STROKED.rings if r.code == line[0].ring)
    for row in line:
        if row.sector in ring.marked:
            assert (row.grade, row.flags) == (None, "p")
        elif row.sector in (3, 4):
            assert (row.grade, row.kind) == (2, "f")
        elif row.sector == 9:
            assert row.grade is None
        else:
            assert row.grade == 0
    assert {r.grade for r in found if r not in line} == {None}  # other lines were not ticked
    with pytest.raises(cs.DomainError, match="row 2, column rest: must be empty, or x"):
        cs.read_grades(grid(STROKED, lambda i, row: row | ({"rest": "perhaps"} if i == 2 else {})), STROKED)


def test_faults_of_the_grid_are_named_by_row_and_column():
    stroke = next(
        i for i, line in enumerate(cs.write_grade_form(STROKED).splitlines(), 1) if line.split(",")[2] == "S1"
    )
    for at, column, value, words in (
        (2, "ring", "O", "must be one of"),
        (2, "lip", "left", "must be 'out' or 'in' on"),
        (stroke, "lip", "out", "must be 'left' or 'right' on S1"),
        (stroke, "7", "2f", "must be empty: S1 has 4 boxes"),
        (2, "reading", "3", "must be 1 or 2"),
        (2, "piece", "off-cut 9", "must be 'off-cut 8'"),
        (2, "identity", "BCDFGHJK", f"must be '{STROKED.identity}'"),
    ):
        text = grid(STROKED, lambda i, row, at=at, c=column, v=value: row | ({c: v} if i == at else {}))
        with pytest.raises(cs.DomainError, match=rf"1 fault.*\n  row {at}, column {column}: .*{words}"):
            cs.read_grades(text, STROKED)
    lines = cs.write_grade_form(STROKED).splitlines()
    with pytest.raises(cs.DomainError, match="is there twice as reading 1"):
        cs.read_grades("\n".join([*lines, lines[1]]), STROKED)
    with pytest.raises(cs.DomainError, match="missing: lip; unknown: side"):
        cs.read_grades("\n".join([lines[0].replace("lip", "side"), *lines[1:]]), STROKED)
    with pytest.raises(cs.DomainError, match=r"identity .* of 'off-cut 8', got HHHHHHHH"):
        cs.read_grades("\n".join(lines).replace(STROKED.identity, "HHHHHHHH"), STROKED)


def test_a_filled_grid_is_never_overwritten(tmp_path):
    path = tmp_path / "form.csv"
    cs.write_grade_form(STROKED, path)
    cs.write_grade_form(STROKED, path)  # empty: nothing is lost
    for change in ({"3": "2f"}, {"rest": "x"}, {"note": "dark"}):
        path.write_text(grid(STROKED, lambda i, row, c=change: row | (c if i == 4 else {})), encoding="utf-8")
        before = path.read_bytes()
        with pytest.raises(cs.DomainError, match="holds grades, flags or notes in 1 of"):
            cs.write_grade_form(STROKED, path)
        assert path.read_bytes() == before


cell = st.tuples(
    st.integers(0, 4),
    st.sampled_from("ftb"),
    st.sets(st.sampled_from("scwkp")),
    st.sampled_from(["", "by the pith, dark", 'a "b"']),
)


@steadily(20)
@given(cells=st.lists(st.none() | cell, min_size=96, max_size=96), order=st.randoms(use_true_random=False))
def test_written_and_read_back(cells, order):
    rows = []
    for i, content in enumerate(cells):
        ring, sector, lip = CODES[i // 24], i // 2 % 12 + 1, ("out", "in")[i % 2]
        if content is None:
            rows.append(Grade(ring, sector, lip, 1, None))
        else:
            grade, kind, flags, note = content
            rows.append(Grade(ring, sector, lip, 1, grade, kind if grade else "", "".join(sorted(flags)), note))
    one = cs.Grades("off-cut 7", tuple(rows), COUPON.identity)
    order.shuffle(rows)
    two = cs.Grades("off-cut 7", tuple(rows), COUPON.identity)
    assert one == two
    assert cs.read_grades(one.to_csv(), COUPON) == one
    assert len(one.used()) == sum(c is not None and not c[2] & {"k", "p"} for c in cells)


@pytest.mark.parametrize("sep", [",", ";", "\t"])
@pytest.mark.parametrize("end", ["\n", "\r\n", "\r"])
def test_forms_as_spreadsheets_save_them(tmp_path, sep, end):
    text = filled(lambda i, row: put(row, "2", "F", "K S" if i == 2 else ""), sep).replace("\n", end)
    path = tmp_path / "form.csv"
    path.write_bytes(b"\xef\xbb\xbf" + text.encode())
    grades = cs.read_grades(path, COUPON)
    assert {g.grade for g in grades} == {2}
    assert {g.kind for g in grades} == {"f"}
    assert grades.rows == cs.read_grades(text, COUPON).rows
    assert sum("k" in g.flags and "s" in g.flags for g in grades) == 1


def spoil(at, column, value):
    place = ["piece", "identity", "ring", "sector", "lip", "reading", "grade", "kind", "flags", "note"].index(column)

    def change(i, row):
        row = put(row, "1", "f")
        if i == at:
            row[place] = value
        return row

    return filled(change)


FAULTS = {
    "grade": [("5", "whole number from 0 to 4, got '5'"), ("-1", "got '-1'"), ("1.5", "got '1.5'"), ("x", "got 'x'")],
    "kind": [("", r"must be f .* with grade 1, got nothing"), ("q", "must be f, t or b, got 'q'")],
    "flags": [("z", "got 'z'")],
    "ring": [("O", "must be one of")],
    "sector": [("13", "from 1 to 12"), ("0", "from 1 to 12"), ("", "got ''")],
    "lip": [("left", "must be 'out' or 'in' on ., got 'left'")],
    "reading": [("3", "from 1 to 2")],
    "identity": [("BCDFGHJK", f"must be '{COUPON.identity}', got 'BCDFGHJK'"), ("", "got ''")],
    "piece": [("off-cut 8", "must be 'off-cut 7', got 'off-cut 8'")],
}


@pytest.mark.parametrize(("column", "value", "words"), [(c, v, w) for c, some in FAULTS.items() for v, w in some])
def test_a_fault_is_named_by_row_and_column(column, value, words):
    with pytest.raises(cs.DomainError, match=rf"1 fault.*\n  row 17, column {column}: .*{words}"):
        cs.read_grades(spoil(17, column, value), COUPON)


def test_all_faults_at_once():
    text = filled(lambda i, row: put(row, "9" if i < 10 else "0", "f" if i == 20 else ""))
    with pytest.raises(cs.DomainError) as error:
        cs.read_grades(text, COUPON)
    said = str(error.value)
    assert "9 fault(s)" in said
    for row in range(2, 10):
        assert f"row {row}, column grade" in said
    assert "row 20, column kind: must be empty with grade 0" in said


def test_a_place_graded_twice_and_columns_that_are_not_there():
    lines = filled(lambda i, row: put(row, "0")).splitlines()
    with pytest.raises(cs.DomainError, match=r"rows 2 and \d+: ring . sector 1 out is there twice as reading 1"):
        cs.read_grades("\n".join([*lines, lines[1]]), COUPON)
    with pytest.raises(cs.DomainError, match="missing: grade; unknown: mark"):
        cs.read_grades("\n".join([lines[0].replace("grade", "mark"), *lines[1:]]), COUPON)
    with pytest.raises(cs.DomainError, match=r"row 3, column 11: has no name in row 1, got 'x'"):
        cs.read_grades("\n".join([*lines[:2], lines[2] + ",x", *lines[3:]]), COUPON)
    with pytest.raises(cs.DomainError, match="got nothing"):
        cs.read_grades("\n\n", COUPON)
    with pytest.raises(cs.DomainError, match="path_or_text"):
        cs.read_grades("nowhere.csv", COUPON)


def test_what_would_swallow_rows_is_a_fault(tmp_path):
    """A quotation mark left open makes one cell of many rows; a blank heading hides what stands under it."""
    lines = filled(lambda i, row: put(row, "0")).splitlines()
    for tail in ('"by the pith', '"by the "pith"'):
        with pytest.raises(cs.DomainError, match=r"row 4 of path_or_text cannot be split .* quotation marks"):
            cs.read_grades("\n".join([*lines[:3], lines[3] + tail, *lines[4:]]), COUPON)
    two = [*lines[:3], lines[3] + '"by', *lines[4:9], lines[9] + 'pith"', *lines[10:]]
    with pytest.raises(cs.DomainError, match=r"row 4, column note: must be of one line"):
        cs.read_grades("\n".join(two), COUPON)
    with pytest.raises(cs.DomainError, match=r"row 3, column 11: has no name in row 1, got '4'"):
        cs.read_grades("\n".join([lines[0] + ",,", *(line + ",," for line in lines[1:2]), lines[2] + ",4,"]), COUPON)
    blank = cs.read_grades("\n".join(line + ",," for line in lines), COUPON)
    assert blank == cs.read_grades("\n".join(lines), COUPON)
    with pytest.raises(cs.DomainError, match=r"row 3 must name the columns .* more than once: grade"):
        cs.read_grades("\n".join(["", ",", lines[0] + ",grade", *lines[1:]]), COUPON)
    with pytest.raises(cs.DomainError, match=r"row 2, column grade: must be a whole number"):
        cs.read_grades("\n".join([lines[0], lines[1].replace(",0,", f",{'1' * 5000},")]), COUPON)
    big = tmp_path / "big.csv"
    big.write_text("\n".join([*lines[:3], lines[3] + "x" * 200_000]))
    with pytest.raises(cs.DomainError, match="row 4 of path_or_text"):
        cs.read_grades(big, COUPON)
    with pytest.raises(cs.DomainError, match="path_or_text"):
        cs.read_grades("no\0file", COUPON)


change = st.tuples(
    st.sampled_from(["insert", "delete", "replace", "double", "drop", "swap", "cut", "shift"]),
    st.integers(0, 10**6),
    st.sampled_from(
        [*list("\"'\n\r,;\t \0 0123456789-.eEfktbpsx"), "\n\n", '""', "\ufeff", "\u00a0", "grade", "in", "out"]
    ),
)


def mutated(text, changes):
    for kind, where, what in changes:
        at = where % (len(text) + 1)
        lines = text.split("\n")
        n = where % len(lines)
        if kind == "insert":
            text = text[:at] + what + text[at:]
        elif kind == "delete":
            text = text[:at] + text[at + 1 :]
        elif kind == "replace":
            text = text[:at] + what + text[at + 1 :]
        elif kind == "cut":
            text = text[:at]
        else:
            if kind == "double":
                lines.insert(n, lines[n])
            elif kind == "drop":
                del lines[n]
            elif kind == "swap":
                cells = lines[n].split(",")
                cells[where % len(cells)], cells[0] = cells[0], cells[where % len(cells)]
                lines[n] = ",".join(cells)
            else:
                lines[n] = "," + lines[n]
            text = "\n".join(lines)
    return text


@steadily(300)
@given(changes=st.lists(change, min_size=1, max_size=4), seed=st.integers(0, 99))
def test_a_spoilt_form_is_read_whole_or_refused(changes, seed):
    """Every line of text is a row that was read as it stands there, or the error says which row (and column) cannot be.

    What stands there is told by a reader of this test's own, a line at a time, which knows no cells of several lines.
    """
    rng = np.random.default_rng(seed)
    good = filled(lambda i, row: put(row, g := str(rng.integers(5)), "" if g == "0" else str(rng.choice(list("ftb")))))
    text = mutated(good, changes)
    if "\n" not in text and "\r" not in text:
        text += "\n"
    try:
        found = cs.read_grades(text, COUPON)
    except cs.DomainError as error:
        said = str(error)
        assert re.search(r"rows? \d+", said) or "must hold a form, got nothing" in said, said
        if "fault(s)" in said:
            named = re.findall(r"\n  rows? \d+(?:, column \w+: | and \d)", said)
            assert len(named) == min(20, int(re.search(r"has (\d+) fault", said)[1])), said
        return
    lines = [[c.strip(' \t\0\ufeff\u00a0"') for c in line.split(",")] for line in re.split(r"[\r\n]", text)]
    lines = [line for line in lines if any(line)]
    order = [lines[0].index(name) for name in ("ring", "sector", "lip", "reading", "grade", "kind")]
    there = sorted([line[k] if k < len(line) else "" for k in order] for line in lines[1:])
    assert len(found) == len(there)
    written = [
        [r.ring, str(r.sector), r.lip, str(r.reading), "" if r.grade is None else str(r.grade), r.kind] for r in found
    ]

    def plain(rows):
        return sorted(
            [v.lower().lstrip("0") if v.isdigit() and v.strip("0") else v.lower() for v in row] for row in rows
        )

    assert plain(written) == plain(there)


def test_grades_by_hand_are_checked_too():
    row = Grade("A", 1, "out", 1, 2, "f")
    for bad in (
        {"grade": 7},
        {"grade": True},
        {"kind": ""},
        {"kind": "x"},
        {"lip": "up"},
        {"reading": 0},
        {"flags": "!"},
        {"flags": None},
        {"note": "two\nlines"},
        {"note": 5},
        {"sector": 0},
        {"sector": "1"},
        {"ring": 1},
    ):
        with pytest.raises(cs.DomainError, match=next(iter(bad))):
            cs.Grades("a", (row._replace(**bad),))
    with pytest.raises(cs.DomainError, match="once"):
        cs.Grades("a", (row, row))


def kappa_by_table(pairs):
    """Cohen 1968 from the table of joint counts and its margins."""
    table = np.zeros((5, 5))
    for a, b in pairs:
        table[a, b] += 1
    table /= table.sum()
    apart = np.subtract.outer(np.arange(5), np.arange(5)) ** 2
    chance = np.outer(table.sum(1), table.sum(0))
    return 1 - (apart * table).sum() / (apart * chance).sum()


@steadily(50)
@given(st.lists(st.tuples(st.integers(0, 4), st.integers(0, 4)), min_size=2, max_size=40))
def test_kappa_against_its_table(pairs):
    found = weighted_kappa(pairs)
    assert found.exact == np.mean([a == b for a, b in pairs])
    assert found.within_one == np.mean([abs(a - b) <= 1 for a, b in pairs])
    if len({a for a, _ in pairs}) > 1 or len({b for _, b in pairs}) > 1 or pairs[0][0] != pairs[0][1]:
        assert found.kappa == pytest.approx(kappa_by_table(pairs), abs=1e-12)
    else:
        assert np.isnan(found.kappa)


def test_agreement_in_words():
    assert "not known" in str(weighted_kappa([]))
    assert "use as is" in str(weighted_kappa([(0, 0), (4, 4), (2, 2)]))
    assert "undefined" in str(weighted_kappa([(1, 1)]))
    assert "better light" in str(weighted_kappa([(0, 4), (4, 0), (1, 3)]))
    text = filled(lambda i, row: put(row, "1", "f"))
    assert cs.read_grades(text, COUPON).agreement().pairs == 24


# --- the sheet --------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("paper", PAPERS)
def test_bytes_and_paper(tmp_path, paper):
    for name in ("one.pdf", "two.pdf"):
        cs.write_grading_sheet(COUPON, tmp_path / name, paper=paper)
    content = (tmp_path / "one.pdf").read_bytes()
    assert content == (tmp_path / "two.pdf").read_bytes()
    assert b"CreationDate" not in content
    width, height = (float(v) for v in re.search(rb"/MediaBox \[ ?0 0 ([\d.]+) ([\d.]+) ?\]", content).groups())
    # ISO 216 and the inch: points are 1/72 in
    np.testing.assert_allclose([width * 25.4 / 72, height * 25.4 / 72], PAPERS[paper], atol=0.01)
    with pytest.raises(cs.DomainError, match="paper"):
        cs.write_grading_sheet(COUPON, tmp_path / "x.pdf", paper="A5")
    with pytest.raises(cs.DomainError, match="coupon"):
        grading_pages("coupon")


@pytest.mark.parametrize("paper", PAPERS)
def test_rings_and_bars_at_true_size(paper):
    from matplotlib.patches import Circle

    pages = grading_pages(COUPON, paper=paper)
    ax = pages[0].axes[0]
    # one unit of the axes is a millimetre of paper
    a, b = ax.transData.transform([(0, 0), (100, 100)])
    np.testing.assert_allclose((b - a) / pages[0].dpi * 25.4, 100, rtol=1e-12)
    radii = sorted(p.radius for p in ax.patches if isinstance(p, Circle))
    half = COUPON.width / 2
    np.testing.assert_allclose(radii, [9 - half] * 4 + [9 + half] * 4)
    centres = {p.center for p in ax.patches if isinstance(p, Circle)}
    apart = np.array(sorted(centres)) - np.array(sorted(r.centre for r in COUPON.rings))
    assert np.ptp(apart, axis=0).max() < 1e-9
    lengths = {round(float(np.ptp(line.get_xdata())), 6) for line in ax.lines}
    assert {100.0, 101.6} <= lengths


@pytest.mark.parametrize("paper", PAPERS)
@pytest.mark.parametrize("rings", [1, 3, 7])
def test_everything_is_on_the_sheet_and_the_settings_are_not(paper, rings):
    from matplotlib.colors import to_hex

    coupon = cs.coupon(BIT, BOARD, 17_123, np.arange(rings) * 137 + 1013, machine=MACHINE, size=(260, 180))
    pages = grading_pages(coupon, paper=paper)
    words: list[str] = []
    boxes: list[str] = []
    for page in pages:
        width, height = page.get_size_inches() * page.dpi
        renderer = page.canvas.get_renderer() if hasattr(page.canvas, "get_renderer") else None
        if renderer is None:
            from matplotlib.backends.backend_agg import FigureCanvasAgg

            renderer = FigureCanvasAgg(page).get_renderer()
        for text in page.axes[0].texts:
            words.append(text.get_text())
            if text.get_text() and not text.get_clip_on():
                box = text.get_window_extent(renderer)
                assert box.x0 > 0, text
                assert box.y0 > 0, text
                assert box.x1 < width, text
                assert box.y1 < height, text
        boxes += [p.get_gid() for p in page.axes[0].patches if (p.get_gid() or "").startswith("box ")]
    assert len(set(boxes)) == len(boxes)
    first = {b for b in boxes if b.endswith("reading 1")}
    strokes = {f"box S{k} {lip} {i} reading 1" for k in (1, 2) for lip in ("left", "right") for i in range(1, 5)}
    assert first == strokes | {
        f"box {r.code} {lip} {i} reading 1" for r in coupon.rings for lip in ("out", "in") for i in range(1, 13)
    }
    said = cs.read_grades(cs.write_grade_form(coupon), coupon)
    white = {
        f"box {r.ring} {r.lip} {r.sector} reading {r.reading}" for r in said if r.reading == 2 or "p" not in r.flags
    }
    drawn = {
        p.get_gid()
        for page in pages
        for p in page.axes[0].patches
        if (p.get_gid() or "").startswith("box ") and to_hex(p.get_facecolor()) == "#ffffff"
    }
    assert drawn == white  # on paper and in the file the same boxes are asked for, of the second reading too
    said = " ".join(words)
    for ring in coupon.rings:
        assert f" {ring.code} " in f" {said} "
        assert f"{ring.cut.feed:.0f}" not in said
    assert "17123" not in said
    for grade, _, cure in SCALE:
        assert grade in said
        assert cure in said
    for flag in FLAGS.values():
        assert flag in said
    for caution in ("Pull the plug", "eye and ear protection", "100 %", "grain"):
        assert caution in said


def test_ends_of_text_lines_do_not_overlap():
    """Lines that begin below one another keep their distance: none is drawn over another."""
    from matplotlib.backends.backend_agg import FigureCanvasAgg

    looked = 0
    for page in grading_pages(COUPON):
        renderer = FigureCanvasAgg(page).get_renderer()
        below: dict[float, list[tuple[float, float]]] = {}
        for text in page.axes[0].texts:
            if text.get_text() and text.get_ha() == "left":
                box = text.get_window_extent(renderer)
                below.setdefault(round(text.get_position()[0], 3), []).append((box.y0, box.y1))
        for spans in below.values():
            looked += len(spans)
            assert all(a[1] <= b[0] + 1.5 for a, b in pairwise(sorted(spans)))
    assert looked > 20


def segments(content):
    """Lengths of all single strokes of a PDF's pages, from their content streams. [pt]"""
    found = []
    for stream in re.findall(rb"stream\r?\n(.*?)\r?\nendstream", content, re.DOTALL):
        try:
            text = zlib.decompress(stream)
        except zlib.error:
            continue
        for four in re.findall(rb"([-\d.]+) ([-\d.]+) m\s+([-\d.]+) ([-\d.]+) l\s+S", text):
            x0, y0, x1, y1 = map(float, four)
            found.append((x1 - x0, y1 - y0))
    return np.array(found)


@pytest.mark.parametrize("paper", PAPERS)
def test_scale_bars_of_the_file_itself(tmp_path, paper):
    """Content of the PDF, whose unit is 1/72 in (ISO 32000): 100 mm and 4 in long; no unit of the
    reader's own scales them."""
    cs.write_grading_sheet(COUPON, tmp_path / "sheet.pdf", paper=paper)
    content = (tmp_path / "sheet.pdf").read_bytes()
    assert b"/UserUnit" not in content
    flat = segments(content)
    flat = flat[np.abs(flat[:, 1]) < 1e-6, 0]
    for length in (100.0 / 25.4 * 72, 4 * 72):
        assert np.abs(flat - length).min() < 1e-3


def ink(page):
    """Whether there is ink, (rows from below, columns), ten pixels to a millimetre of paper."""
    from matplotlib.backends.backend_agg import FigureCanvasAgg

    page.set_dpi(254)
    canvas = FigureCanvasAgg(page)
    canvas.draw()
    return (np.asarray(canvas.buffer_rgba())[::-1, :, :3] < 250).any(axis=-1)


def test_a_piece_on_several_pages_is_cut_off_at_its_frame():
    """What lies on the next page is not drawn beyond the frame, and what lies within is."""
    coupon = cs.coupon(BIT, BOARD, 18_000, [700, 1000, 1500, 2200], machine=MACHINE, size=(260, 60))
    pages = grading_pages(coupon)
    centres = np.array([r.centre for r in coupon.rings])
    assert "part 1 of 2, x 0 to 186 mm" in " ".join(t.get_text() for t in pages[0].axes[0].texts)
    for k, page in enumerate(pages[:2]):
        left, wide = 12 + (186 - (74 if k else 186)) / 2, 74 if k else 186
        found = ink(page)[2105:2700]  # from the piece's lower edge (297 - 26 - 60 mm) to its upper one
        assert not found[:, : int(10 * left) - 5].any()
        assert not found[:, int(10 * (left + wide)) + 8 :].any()
        seen = (centres[:, 0] > 186 * k) & (centres[:, 0] < 186 * (k + 1))
        assert seen.any()
        for x, y in centres[seen]:
            # the letter's own ink, in the middle of each ring
            row, column = int(10 * y), int(10 * (x - 186 * k + left))
            assert found[row - 15 : row + 15, column - 15 : column + 15].any()


@pytest.mark.parametrize("name", ["oak $7, 8$", "$\\", "a name " * 20, "ring_1^2 {x}"])
def test_names_are_printed_as_they_are(tmp_path, name):
    import dataclasses

    from matplotlib.backends.backend_agg import FigureCanvasAgg

    coupon = dataclasses.replace(COUPON, name=name.strip())
    page = grading_pages(coupon)[0]
    renderer = FigureCanvasAgg(page).get_renderer()
    head = next(t for t in page.axes[0].texts if "page 1 of" in t.get_text())
    assert head.get_text().startswith(name.strip())
    date = next(t for t in page.axes[0].texts if t.get_text() == "date")
    assert head.get_window_extent(renderer).x1 < date.get_window_extent(renderer).x0
    cs.write_grading_sheet(coupon, tmp_path / "sheet.pdf")


@pytest.mark.parametrize("sectors", [8, 12, 36])
def test_what_is_hatched_is_the_join_on_every_page(sectors):
    """On the map and in the boxes, by the angles of the wedges and the names of the boxes."""
    from matplotlib.patches import Wedge

    coupon = cs.coupon(BIT, BOARD, 18_000, [900, 1500], machine=MACHINE, sectors=sectors)
    pages = grading_pages(coupon)
    wedges = [p for p in pages[0].axes[0].patches if isinstance(p, Wedge)]
    at = {t.get_text(): t.get_position() for t in pages[0].axes[0].texts if t.get_gid() == "ring"}
    on_map = {
        (code, round(w.theta1 * sectors / 360) + 1, round(w.theta2 * sectors / 360))
        for code, place in at.items()
        for w in wedges
        if w.get_hatch() and np.hypot(*np.subtract(w.center, place)) < 1
    }
    assert on_map == {(r.code, s, s) for r in coupon.rings for s in r.marked}
    patches = [p for page in pages for p in page.axes[0].patches if (p.get_gid() or "").startswith("box ")]
    hatched = {tuple(p.get_gid().split()[1:4]) for p in patches if p.get_hatch() and p.get_gid().endswith("reading 1")}
    assert hatched == {(r.code, lip, str(s)) for r in coupon.rings for s in r.marked for lip in ("out", "in")}
    # the wood itself: the tool comes down and goes up in that sector
    for ring in coupon.rings:
        deep = int(np.argmax(ring.cut.path.depth >= coupon.depth - 1e-12))
        x, y = ring.cut.path.xy[deep] - ring.centre
        assert int(np.degrees(np.arctan2(y, x)) % 360 // (360 / sectors)) + 1 in ring.marked


@pytest.mark.parametrize("sectors", [8, 12, 24, 36])
def test_numbers_on_the_map_can_be_read_and_do_not_touch(sectors):
    from matplotlib.backends.backend_agg import FigureCanvasAgg

    page = grading_pages(cs.coupon(BIT, BOARD, 18_000, [900], machine=MACHINE, sectors=sectors))[0]
    assert min(t.get_fontsize() for t in page.axes[0].texts if t.get_text() and "identity" not in t.get_text()) >= 6
    renderer = FigureCanvasAgg(page).get_renderer()
    numbers = [t.get_window_extent(renderer) for t in page.axes[0].texts if t.get_text().isdigit()]
    assert len(numbers) >= 2 * 4
    for i, one in enumerate(numbers):
        for two in numbers[:i]:
            assert min(one.x1, two.x1) <= max(one.x0, two.x0) or min(one.y1, two.y1) <= max(one.y0, two.y0)


@pytest.mark.parametrize("paper", PAPERS)
def test_rings_in_one_order_and_every_control_named(paper):
    coupon = cs.coupon(BIT, BOARD, 18_000, [900, 1500, 2200], machine=MACHINE, comb=(30,))
    pages = grading_pages(coupon, paper=paper)
    letters = [[t.get_text() for t in p.axes[0].texts if t.get_fontsize() == 12][:6] for p in pages]
    form = [line.split(",")[2] for line in cs.write_grade_form(coupon).splitlines()[1:]]
    assert letters[1] == list(dict.fromkeys(form))[:6] == sorted(r.code for r in coupon.rings)
    words = [t.get_text() for t in pages[0].axes[0].texts]
    for kind in ("land comb", "depth stair", "grain mark"):
        assert words.count(kind) == sum(e.kind == kind for e in coupon.extras) == 1
    for stroke in coupon.strokes:
        assert words.count(f"{stroke.code}, counted from the dot") == 1
    said = " ".join(" ".join(t.get_text() for p in pages for t in p.axes[0].texts).split())
    for what in ("Pencil the letters on the wood now", "heading 30 deg: narrowest land that is whole", "rest clean",
                 "width of each step", "its long arm along x", "X0 Y0 is the lower left corner", "clamp"):  # fmt: skip
        assert what in said
    bare = cs.coupon(BIT, BOARD, 18_000, [900], machine=MACHINE, straight_pair=False, stair=False)
    said = " ".join(t.get_text() for p in grading_pages(bare) for t in p.axes[0].texts)
    assert "width of each step" not in said
    assert "narrowest" not in said


@pytest.mark.parametrize("paper", PAPERS)
@pytest.mark.parametrize("rings", [1, 2, 3, 4])
def test_the_scale_keeps_clear_of_the_bars_and_the_boxes(paper, rings):
    """Wherever the legend stands, its lowest line ends above the scale bars or within the paper's free edge."""
    from matplotlib.backends.backend_agg import FigureCanvasAgg

    coupon = cs.coupon(BIT, BOARD, 18_000, np.arange(rings) * 300 + 900, machine=MACHINE, comb=(0, 90))
    for page in grading_pages(coupon, paper=paper):
        renderer = FigureCanvasAgg(page).get_renderer()
        words = [t for t in page.axes[0].texts if t.get_text().startswith("The bit's marking")]
        bars = any(t.get_text() == "100 mm" for t in page.axes[0].texts)
        for text in words:
            assert text.get_window_extent(renderer).y0 > page.dpi / 25.4 * (12 + (12 if bars else 0))


def test_a_row_is_told_of_everything_that_is_wrong_with_it():
    """Sector, lip, grade and flags of one row, each once; a letter is not called wrong where its grade already is."""
    head, *rows = cs.write_grade_form(COUPON, layout="list").splitlines()
    names = head.split(",")
    cells = dict(zip(names, rows[1].split(","), strict=True))
    cells |= {"sector": "99", "lip": "up", "grade": "7", "kind": "f", "flags": "q"}
    with pytest.raises(cs.DomainError) as caught:
        cs.read_grades("\n".join([head, rows[0], ",".join(cells[n] for n in names), *rows[2:]]) + "\n", COUPON)
    told = [line for line in str(caught.value).splitlines() if line.startswith("  row 3, ")]
    assert [line.split("column ")[1].split(":")[0] for line in told] == ["sector", "grade", "lip", "flags"]
