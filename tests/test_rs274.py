"""Reading RS-274/NGC: the published language, rule by rule.

Source of every expectation, unless said otherwise: T. R. Kramer, F. M. Proctor, E. R. Messina, "The NIST
RS274NGC Interpreter - Version 3", NISTIR 6556, 2000. 'Read in' means that the report's text (as transcribed
in a public repository) was read; section numbers are the report's. 'From memory' marks what its text does
not state. The programs are our own unless a section is named as their origin.
"""

from __future__ import annotations

import math
import sys
import warnings
from typing import Any

import numpy as np
import pytest
from hypothesis import assume, example, given, settings
from hypothesis import strategies as st

from chipsim import rs274
from chipsim.errors import DomainError
from chipsim.rs274 import Move, RS274Error, RS274Warning, read_moves

# What ordinary programs are warned of has its tests in test_rs274_ordinary.py.
pytestmark = [
    pytest.mark.filterwarnings(f"ignore:line .*{words}:chipsim.rs274.RS274Warning")
    for words in ("NO UNITS ARE SAID", "block_delete is off", "later lines is not read", "goes to a place only")
]

fuzz = settings(derandomize=True, deadline=None, max_examples=300)


def read(*lines: str, **options: Any) -> list[Move]:
    """Moves of a program given without its end."""
    return read_moves("\n".join([*lines, "M2"]), **options)


def value(text: str, *before: str) -> float:
    """Where X goes when it is given that value."""
    return read(*before, "G0 X" + text)[-1].end[0]


def fails(match: str, *lines: str) -> None:
    with pytest.raises(RS274Error, match=match):
        read(*lines)


# --- sixteen programs: modal state, formats, arcs (3.3, 3.5.1-3.5.7, 3.5.17, read in) --------------------

ERROR = "error"
# number, program, ends of the moves [mm] or (ERROR, message), feeds [mm/min] or None,
# arcs {move: (centre, radius, sweep, length)}
PROGRAMS: list[tuple[int, str, Any, Any, dict[int, Any]]] = [
    (
        1,
        "G21 G90 G17 G94\nS15000 M3 F3000\nG0 X0 Y0 Z5\nG1 Z-3\nX40\nY12.5\nG0 Z5\nM2\nX99\n",
        [(0, 0, 5), (0, 0, -3), (40, 0, -3), (40, 12.5, -3), (40, 12.5, 5)],
        [None, 3000, 3000, 3000, None],
        {},
    ),
    (
        2,
        "g 21 g90 f 1 200\ng 0 1 x +1 0 . 5 y-0002\ng01x.5y+.25z-0.\nm02\n",
        [(10.5, -2, 0), (0.5, 0.25, 0)],
        [1200, 1200],
        {},
    ),
    (
        3,
        "G21 G91 F600\nG1 X10 Y5\nX10 Z-1\nG90 X0\nM30\n",
        [(10, 5, 0), (20, 5, -1), (0, 5, -1)],
        [600, 600, 600],
        {},
    ),
    (
        4,
        "G20 G90 F40\nG1 X1 Y-0.5\nX1.25 Z-.125\nM2\n",
        [(25.4, -12.7, 0), (31.75, -12.7, -3.175)],
        [1016.0, 1016.0],
        {},
    ),
    (
        5,
        "G21 G90 F1000\nG1 X50.8\nG20 F20\nG91 G1 X1\nG21 F500 G90 X0\nM2\n",
        [(50.8, 0, 0), (76.2, 0, 0), (0, 0, 0)],
        [1000.0, 508.0, 500.0],
        {},
    ),
    (
        6,
        "G21 G90 F1000\nG1 X0 Y10\nG2 X10 Y0 I0 J-10\nM2\n",
        [(0, 10, 0), (10, 0, 0)],
        [1000, 1000],
        {2: ((0, 0, 0), 10, -90, 5 * math.pi)},
    ),
    (
        7,
        "G21 G91 F1000\nG3 X-20 I-10\nG90 G3 X0 Y0 I10 J0\nM2\n",
        [(-20, 0, 0), (0, 0, 0)],
        [1000, 1000],
        {1: ((-10, 0, 0), 10, 180, 10 * math.pi), 2: ((-10, 0, 0), 10, 180, 10 * math.pi)},
    ),
    (
        8,
        "G21 G90 F1000\nG1 X5 Y5\nG2 X5 I3 J4\nM2\n",
        [(5, 5, 0), (5, 5, 0)],
        [1000, 1000],
        {2: ((8, 9, 0), 5, -360, 10 * math.pi)},
    ),
    (
        9,
        "G21 G90 F1000\nG2 I3 J4\nM2\n",
        (ERROR, r"line 2: 'G2 I3 J4': both X and Y are missing .*3\.5\.3\.2"),
        None,
        {},
    ),
    (
        10,
        "G21 G90 F1000\nG1 X3 Y4\nG2 X4 Y-3 R5\nM2\n",
        [(3, 4, 0), (4, -3, 0)],
        [1000, 1000],
        {2: ((0, 0, 0), 5, -90, 2.5 * math.pi)},
    ),
    (
        11,
        "G21 G90 F1000\nG1 X3 Y4\nG3 X4 Y-3 R-5\nM2\n",
        [(3, 4, 0), (4, -3, 0)],
        [1000, 1000],
        {2: ((0, 0, 0), 5, 270, 7.5 * math.pi)},
    ),
    (12, "G21 G90 F1000\nG1 X3 Y4\nG2 X3 Y4 R5\nM2\n", (ERROR, r"line 3: .*end point.*3\.5\.3\.1"), None, {}),
    (13, "G21 G90 F1000\nG2 X10 Y0 R4.9\nM2\n", (ERROR, r"line 2: .*R is too small.*interpreter message"), None, {}),
    (
        14,
        "G21 G90 F1000\nG1 X10\nG3 X0 Y10.0019 I-10 J0\nM2\n",
        [(10, 0, 0), (0, 10.0019, 0)],
        [1000, 1000],
        {2: ((0, 0, 0), 10, 90, 10.00095 * math.pi / 2)},  # the length of a turn whose radius grows evenly
    ),
    (15, "G21 G90 F1000\nG1 X10\nG3 X0 Y10.0021 I-10 J0\nM2\n", (ERROR, r"line 3: .*0\.002 mm.*3\.5\.3\.2"), None, {}),
    (16, "G20 G90 F10\nG1 X1\nG3 X0 Y1.00021 I-1 J0\nM2\n", (ERROR, r"line 3: .*0\.0002 inch.*3\.5\.3\.2"), None, {}),
]


@pytest.mark.parametrize(("number", "program", "ends", "feeds", "arcs"), PROGRAMS, ids=[str(p[0]) for p in PROGRAMS])
def test_sixteen_programs(number: int, program: str, ends: Any, feeds: Any, arcs: dict[int, Any]) -> None:
    if ends[0] == ERROR:
        with pytest.raises(RS274Error, match=ends[1]):
            read_moves(program)
        return
    moves = read_moves(program)
    assert np.allclose([move.end for move in moves], ends, rtol=0, atol=1e-9)
    assert [move.start for move in moves] == [(0, 0, 0), *(move.end for move in moves[:-1])]
    assert [move.feed for move in moves] == pytest.approx(feeds, abs=1e-9)
    assert [i for i, move in enumerate(moves, 1) if move.kind == "arc"] == list(arcs)
    for i, (centre, radius, sweep, length) in arcs.items():
        arc = moves[i - 1]
        assert arc.centre == pytest.approx(centre, abs=1e-9)
        assert math.dist(arc.start, arc.centre or ()) == pytest.approx(radius, abs=1e-9)
        assert arc.sweep == pytest.approx(sweep, abs=1e-9)
        assert arc.length == pytest.approx(length, abs=1e-7)


def test_program_one_in_full() -> None:
    moves = read_moves(PROGRAMS[0][1])
    assert [move.kind for move in moves] == ["rapid", "line", "line", "line", "rapid"]
    assert [move.line for move in moves] == [3, 4, 5, 6, 7]
    assert {(move.spindle_speed, move.spin, move.plane) for move in moves} == {(15000.0, "cw", "xy")}
    assert {(move.centre, move.sweep, move.seconds) for move in moves} == {(None, None, None)}


# --- the report's own examples (read in) -----------------------------------------------------------------


def test_session_of_table_10() -> None:
    """Table 10: G1 X3 Y1 F20, then a helix to (0, 1, 0.5) whose centre is printed as (1.5000, 7.8476), rotation -1."""
    _, helix = read("g1 x3 y1 f20.0", "g2 x[6-[4*3/2]] r 7.01 z0.5")
    assert helix.end == (0.0, 1.0, 0.5)
    assert helix.centre == pytest.approx((1.5, 7.8476, 0.0), abs=5e-5)
    assert helix.sweep == pytest.approx(-2 * math.degrees(math.asin(1.5 / 7.01)), abs=1e-9)
    fails(r"line 1: 'g1 x asim\[0.5\]'", "g1 x asim[0.5]")


def test_arc_examples_of_3_5_3() -> None:
    """3.5.3.2: from (7, 7, 7), G2 X10 Y16 I3 J4 Z9 has its centre at (10, 11) and radius 5; 3.5.3.1: radius 20."""
    arc = read("G21 F100 G0 X7 Y7 Z7", "G17 G2 x 10 y 16 i 3 j 4 z 9")[1]
    assert arc.centre == pytest.approx((10.0, 11.0, 7.0))
    assert arc.end == (10.0, 16.0, 9.0)
    assert arc.sweep == pytest.approx(-90.0 - math.degrees(math.atan2(4, 3)))
    arc = read("G21 F100", "G17 G2 x 10 y 15 r 20 z 5")[0]
    assert arc.centre is not None
    assert math.hypot(arc.centre[0], arc.centre[1]) == pytest.approx(20.0)
    assert math.hypot(arc.centre[0] - 10, arc.centre[1] - 15) == pytest.approx(20.0)
    assert arc.sweep is not None
    assert -180.0 < arc.sweep < 0.0


# Lines of the expression test program of C.2 and the values its comments give, to the digits given there.
EXPRESSIONS = [
    ("[1 + 2]", 3, 0),
    ("[1 - 2]", -1, 0),
    ("[1 --3]", 4, 0),
    ("[2/5]", 0.40, 0),
    ("[3.0 * 5]", 15, 0),
    ("[0 OR 0]", 0, 0),
    ("[0 OR 1]", 1, 0),
    ("[2 or 2]", 1, 0),
    ("[0 AND 0]", 0, 0),
    ("[0 AND 1]", 0, 0),
    ("[2 and 2]", 1, 0),
    ("[0 XOR 0]", 0, 0),
    ("[0 XOR 1]", 1, 0),
    ("[2 xor 2]", 0, 0),
    ("[15 MOD 4.0]", 3, 0),
    ("[1 + 2 * 3 - 4 / 5]", 6.2, 1e-12),
    ("sin[30]", 0.5, 1e-12),
    ("cos[0.0]", 1.0, 0),
    ("tan[60.0]", 1.7321, 5e-5),
    ("sqrt[3]", 1.7321, 5e-5),
    ("atan[1.7321]/[1.0]", 60.0, 0.05),
    ("asin[1.0]", 90.0, 1e-12),
    ("acos[0.707107]", 45.0, 5e-5),
    ("abs[20.0]", 20, 0),
    ("abs[-1.23]", 1.23, 0),
    ("round[-0.499]", 0, 0),
    ("round[-0.5001]", -1, 0),
    ("round[2.444]", 2, 0),
    ("round[9.975]", 10, 0),
    ("fix[-0.499]", -1, 0),
    ("fix[2.444]", 2, 0),
    ("fix[9.975]", 9, 0),
    ("fup[-0.5001]", 0, 0),
    ("fup[2.444]", 3, 0),
    ("fup[9.975]", 10, 0),
    ("exp[2.3026]", 10, 5e-4),
    ("ln[10.0]", 2.3026, 5e-5),
    ("[2 ** 3.0]", 8, 0),
    ("sqrt[3**2 + 4**2]", 5, 0),
]
# 3.3.2.3-3.3.2.4, read in: the examples of the text, the three groups, from left to right, FIX and FUP.
EXPRESSIONS += [
    ("[2.0 / 3 * 1.5 - 5.5 / 11.0]", 0.5, 1e-12),
    ("[2 ** 3 ** 2]", 64, 0),
    ("[2 * 3 ** 2]", 18, 0),
    ("[7 - 2 - 1]", 4, 0),
    ("[24 / 4 / 2]", 3, 0),
    ("[1 + 1 AND 0]", 0, 0),  # + and AND are of one group, so the left one comes first
    ("[0 AND 1 + 1]", 1, 0),
    ("[1 - 7 MOD 4]", -2, 0),
    ("[0.5 or 0]", 1, 0),  # logical operations take any real number
    ("[7.5 MOD 2]", 1.5, 0),
    ("FIX[2.8]", 2, 0),
    ("FIX[-2.8]", -3, 0),
    ("FUP[2.8]", 3, 0),
    ("FUP[-2.8]", -2, 0),
    ("ATAN[2]/[1+3]", math.degrees(math.atan(0.5)), 1e-12),
    ("ATAN[1]/[-1]", 135, 1e-12),
    ("[ 1 + acos[0] - [4 ** [4.0/2]]]", 75, 1e-12),
    ("[-7 MOD 4]", 1, 0),  # from memory: the remainder is never negative
    ("ROUND[2.5]", 3, 0),  # from memory: a half goes away from zero
    ("ROUND[-2.5]", -3, 0),
    ("S I N [ 3 0 ]", 0.5, 1e-12),  # 3.3: blanks mean nothing
    ("[[[[[[[[1]]]]]]]]", 1, 0),
]


@pytest.mark.parametrize(("text", "expected", "tolerance"), EXPRESSIONS)
def test_expressions(text: str, expected: float, tolerance: float) -> None:
    assert value(text) == pytest.approx(expected, rel=0, abs=tolerance)


def test_long_expression_of_c_2() -> None:
    """C.2, line n0460, worked out here by hand in Python's own operations."""
    under = math.degrees(math.atan2(math.floor(4.4) * 2.1 * math.sqrt(16.8), -18))
    expected = 2 + math.degrees(math.asin(1 / 2.1 + -0.345)) / under**2
    line = "[2 + asin[1/2.1+-0.345] / [atan[fix[4.4] * 2.1 * sqrt[16.8]] /[-18]]**2]"
    assert value(line) == pytest.approx(expected, rel=1e-12)


def test_parameters() -> None:
    """3.3.2.2, 3.3.3, 3.3.5, D.8.4 and lines n0410-n0450 of C.2."""
    assert value("#1", "#1=2.0") == 2.0
    assert value("#2", "#1=2", "##1 = 0.375") == 0.375  # the index is itself a parameter
    assert value("##2", "#2=7 #7=1.5") == 1.5
    assert value("[#1+2]", "#1=5") == 7.0  # '#' binds first
    assert value("#[1+2]", "#3=9") == 9.0
    assert read("#3=15", "#3=6 G0 x#3", "x#3")[0].end[0] == 15.0  # a setting waits for the end of the reading
    assert read("#3=15", "#3=6 G0 x#3", "x#3")[1].end[0] == 6.0
    assert value("#3", "#3=15 #3=6") == 6.0  # the last one wins
    assert value("#4", "#3=1", "#3=2 #4=#3") == 1.0
    assert value("#5399", "#5399=4 #1.00005=2") == 4.0  # 3.3.2.1: within 0.0001 of an integer
    fails("lie in", "G0 X#0")
    fails("lie in", "#5400=1")
    fails("0.0001", "#1.0002=1")
    fails("'='", "#1 G0 X1")
    fails("expected", "#1=")


def test_g92_example_of_3_5_18() -> None:
    """At X4, 'G92 X7' moves the origin by -3 and 'G92 X9' to -5; points stay where they are."""
    moves = read("G21 G0 X4", "G92 X7", "X7", "X8", "G92 X9", "X9 Y1")
    assert [move.end for move in moves] == [(4, 0, 0), (4, 0, 0), (5, 0, 0), (5, 1, 0)]


# --- lines, words, comments, file form (3.1, 3.3, read in) -----------------------------------------------


def test_blanks_case_and_numbers() -> None:
    assert read("g0x +0. 12 34y 7")[0].end == (0.1234, 7.0, 0.0)  # the example of 3.3
    assert read("G0\tX1.\tY+.5 Z-007.250")[0].end == (1.0, 0.5, -7.25)  # 3.3.2.1
    assert read("", " \t", "G0 X1", "")[0].line == 3
    for number in ("1e3", "1.2.3", "--1", "+", ".", "1,5", "0x1", "\N{FULLWIDTH DIGIT ONE}", "1_0", ""):
        fails("line 1: ", f"G0 X{number}")


def test_a_sign_belongs_to_a_number_only() -> None:
    """E.2: real_value = real_number | expression | parameter_value | unary_combo, a sign in the first only."""
    for text in ("-#3", "-[2]", "-SIN[30]", "+#3", "[-[2]]", "[2--#3]"):
        fails("was expected", "#3=1", f"G0 X{text}")


@pytest.mark.parametrize(
    "text",
    [
        "[1",
        "1]",
        "[]",
        "[1+]",
        "[*1]",
        "[1[2]]",
        "[1+2]]",
        "[(a)1]",
        "SIN30",
        "ATAN[1]",
        "ATAN[1]/2",
        "[1]/[2]",
        "ASIM[1]",
    ],
)
def test_malformed_expressions(text: str) -> None:
    fails("line 1: ", f"G0 X{text}")


@pytest.mark.parametrize(
    "text",
    [
        "[1/0]",
        "[1 MOD 0]",
        "LN[0]",
        "SQRT[-1]",
        "ASIN[2]",
        "ACOS[-1.1]",
        "EXP[1000]",
        "[-8**[1/3]]",
        "[0**-1]",
        "[10**400]",
    ],
)
def test_values_that_do_not_exist(text: str) -> None:
    """3.3.2: a real value must come out as a number; overflow and not-a-number never reach a move."""
    fails(r"no finite value.*3\.3\.2", f"G0 X{text}")


def test_numbers_too_large_for_a_move() -> None:
    fails("range of numbers", "G20", "G0 X[10**308]")
    fails("range of numbers", "G91 G0 X[10**308]", "X[10**308]")
    fails("range of numbers", "F1 G1 X[10**300]", "G3 X0 R[10**301]")
    fails("range of numbers", "G93 G1 X[10**300] F[10**300]")
    fails("0.0001", "G[10**308]")
    assert read("G0 X" + "9" * 240)[0].end[0] == pytest.approx(1e240)


def test_deep_brackets() -> None:
    """3.3.2.3 sets no depth. It may not run into Python's own limit."""
    assert value("[" * 120 + "1" + "]" * 120) == 1.0
    assert value("SIN[" * 50 + "0" + "]" * 50) == 0.0
    assert value("#" * 240 + "1", "#1=1") == 1.0
    assert value("[" * 60 + "2" + "-1]" * 60) == -58.0
    with pytest.warns(RS274Warning, match="256 characters"):
        assert value("[" * 5000 + "1" + "]" * 5000) == 1.0
    fails("was expected", "G0 X" + "[" * 250)
    fails("was expected", "G0 X" + "#" * 250)


def test_line_numbers() -> None:
    """3.3.1: N, one to five digits, no sign, at the beginning; repeats and gaps are fine. Others: with a note."""
    moves = read("N0 G0 X1", "n99999X2", "N 1 2 X3", "N12 X4", "/N7 X5", "N8")
    assert [move.end[0] for move in moves] == [1, 2, 3, 4, 5]
    for line in (
        "N G0 X1",
        "N-1 G0 X1",
        "N+1 G0 X1",
        "N1 N2",
        "G0 N1 X1 N2",
        "N1/ G0 X1",
        "N1.5 G0 X1",
        "G0 N1.5 X1",
    ):
        fails("line 1: ", line)
    fails("once on a line", "N-1 G0 X1")


def test_letters() -> None:
    """Table 3 and E.3: E, O, U, V, W are not letters of the language; nor is anything else."""
    for line in (
        "E1",
        "G0 O100",
        "U1",
        "V1",
        "W1",
        "$H",
        "G0 X1 *71",
        "X1 Y",
        "G",
        "5",
        "=1",
        "]",
        "\x00",
        "\x1a",
        "\N{LATIN SMALL LETTER DOTLESS I}1",
    ):
        fails("line 1: ", line)
    fails("table 3", "E1")
    fails("does not have", "G0 X1 \N{LATIN SMALL LETTER LONG S}9")  # whose capital is our S
    fails("line 1: ", "G0 X1\vY1")  # only blank and tab are white space (E.2)


def test_comments() -> None:
    """3.3.4 and E.2: closed on the line, not nested, printable; a message is a comment."""
    moves = read(
        "(start) G0 (go) X1 (;not one; of ours)",
        "(MSG, hello)(m s g , x)",
        "()Y2",
        "(G0 X9 \N{GREEK SMALL LETTER ALPHA}\t)",
    )
    assert [move.end for move in moves] == [(1, 0, 0), (1, 2, 0)]
    fails("not closed", "G0 X1 (open")
    fails("not closed", "G0 X1 (one (two) three)")
    fails("line 1: .*'\\)", "G0 X1 ) Y1")
    fails("printable", "(bell \a)")
    fails("a comment", "G0 X(in the word)1")  # a comment is a segment of its own (E.2)
    fails("line 1: ", "G0 X1(between)2")


def test_256_characters() -> None:
    """3.3: at most 256 characters on a line; more with a note."""
    assert read("G0 X1".ljust(256))[0].end[0] == 1.0
    for line in ("G0 X1".ljust(257), "G0 X1 (" + "a" * 300 + ")"):
        with pytest.warns(RS274Warning, match=r"^line 1: .*256 characters.*3\.3"):
            assert read(line)[0].end[0] == 1.0


@pytest.mark.parametrize("end", ["\n", "\r\n", "\r"])
def test_line_ends(end: str) -> None:
    """3.3: carriage return or line feed or both."""
    moves = read_moves(end.join(["G0 X1", "", "X2", "M2"]))
    assert [(move.end[0], move.line) for move in moves] == [(1, 1), (2, 3)]


def test_item_order() -> None:
    """3.3.6: words, settings and comments may stand in any order."""
    items = ["g40", "g1", "#3=15", "(foo)", "#4=-7.0", "x2 f100"]
    first = read(" ".join(items))
    assert read(" ".join(items[::-1])) == first
    assert read(" ".join(items[3:] + items[:3])) == first


def test_item_repeats() -> None:
    """3.3.5: one G word per modal group, four M words, one of each other letter."""
    assert read("G21 G90 G17 G94 G40 G49 G54 G64 G98 G1 X1 F1")[0].end[0] == 1.0
    assert read("M0 M3 M7 M48 G0 X1")[0].spin == "cw"
    for line in (
        "G0 G1 X1",
        "G90 G91",
        "G17 G18",
        "G20 G21",
        "G93 G94",
        "M3 M5",
        "M7 M9",
        "M7 M8 M9",
        "M2 M30",
        "G4 G92.1 P1",
    ):
        fails("same modal group", line)
    fails("four", "M0 M6 M3 M7 M48")
    for line in ("G0 X1 X2", "F1 F2", "S1 S1"):
        fails("twice", line)


def test_codes() -> None:
    """Tables 5 and 7; 3.3.2.1: a G code must be within 0.0001 of a tenth, an M code of an integer."""
    assert read("G[2-2] X1", "G#1 X2".replace("#1", "00.00001"))[1].kind == "rapid"
    for line in ("G5", "G22", "G60", "G92.4", "G100", "G-1", "G0.05", "M10", "M98", "M-1", "M1.5"):
        fails("line 1: ", line)


def test_extra_words() -> None:
    """App. A: extra words are errors; which letter goes with which code is in the prototypes of 3.5."""
    for line in ("G1 F1 X1 I2", "G0 X1 R2", "G0 X1 P1", "D1", "H1", "L2", "Q1", "G4 P1 R1", "I1 J1"):
        fails("no meaning", line)


def test_percent_form() -> None:
    """3.1 and A.1: a pair of percent lines, or M2 or M30; the rest of the file is not read."""
    assert [move.end[0] for move in read_moves("\n % \nG0 X1\n\t%\nrubbish (")] == [1]
    assert [move.end[0] for move in read_moves("G0 X1\nM2\nrubbish (")] == [1]
    assert [move.end[0] for move in read_moves("G0 X1 M30\nX2")] == [1]  # the stop comes last on its line: 3.8
    assert [move.end[0] for move in read_moves("%\nG0 X1\nM2\n%\n")] == [1]
    assert read_moves("%\n%") == []
    for text in ("%", "%\nG0 X1\n", "%\nG0 X1\nM2\n"):
        with pytest.raises(RS274Error, match=r"line 1: '%'.*3\.1"):
            read_moves(text)
    for text in ("G0 X1\n%\n", "(name)\n%\nM2\n%"):
        with pytest.raises(RS274Error, match=r"line 2: '%'.*3\.1"):
            read_moves(text)
    fails("line 1: ", "%[1000]", "G0 X1")


def test_block_delete() -> None:
    """2.2.2: with the switch off, which is the default, a line with '/' is carried out; it is read either way."""
    lines = ["G0 X1", "/X2", " / N5 Y1", "#1=5", "/#1=6", "X#1"]
    assert [move.end for move in read(*lines)] == [(1, 0, 0), (2, 0, 0), (2, 1, 0), (6, 1, 0)]
    assert [move.end for move in read(*lines, block_delete=True)] == [(1, 0, 0), (5, 0, 0)]
    assert [move.end[0] for move in read("G0 X1", "/M2", "X2", block_delete=True)] == [1, 2]
    with pytest.raises(RS274Error, match="line 1: "):
        read("/X", block_delete=True)
    fails("line 1: ", "//G0 X1")
    fails("line 1: ", "G0 X1 /")


def test_relaxations_are_reported() -> None:
    """Outside the language, read all the same, and said with the line number."""
    with pytest.warns(RS274Warning, match=r"^line 2, line 4: .*';'.*3\.3\.4"):
        moves = read("G0 X1", "X2 ; (to the right", "(a;b) X3", "; X9", "X4")
    assert [move.end[0] for move in moves] == [1, 2, 3, 4]
    with pytest.warns(RS274Warning, match=r"^line 3: .*ends here.*3\.1"):
        assert [move.end[0] for move in read_moves("G0 X1\nX2\n")] == [1, 2]
    with pytest.warns(RS274Warning, match="^line 1: .*ends here"):
        assert read_moves("") == []
    with pytest.warns(RS274Warning, match=r"^line 1, .*line 20 and 10 more: "):
        read(*[";"] * 30)
    with pytest.warns(RS274Warning, match=r"^line 1: parameter 7 .*3\.2\.1"):  # table 2: all values 0.0
        assert value("[#7+#7]") == 0.0


def test_no_warning_without_cause() -> None:
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        read("G21 (a;b)", "#1=1", "G0 X#1")


# --- modes, units, feed (3.4-3.8, read in) ---------------------------------------------------------------


def test_state_at_the_start() -> None:
    """3.6.1: what a program end leaves behind is G1, G90, G94, G17, spindle off; millimetres as in table 10."""
    move = read("F100 X1")[0]
    assert move == Move("line", (0, 0, 0), (1, 0, 0), None, None, "xy", 100.0, None, 0.0, "off", 1)


def test_axis_words_are_needed() -> None:
    fails(r"3\.5\.1\)", "G0")
    fails(r"3\.5\.2\)", "F1 G1")
    fails(r"3\.5\.18\)", "G92")
    fails(r"3\.5\.15\)", "G80 X1")
    fails(r"3\.5\.15\)", "G80", "X1")
    assert read("G80", "G92 X5", "G0 X6")[0].end[0] == 1.0  # a group 0 code that uses axis words is allowed


def test_group_0_and_group_1() -> None:
    """3.4: both using axis words is an error; a motion merely in force is suspended for the line."""
    fails(r"3\.4\)", "G0 G92 X1")
    assert [move.end[0] for move in read("G0 X1", "G92 X0", "X1")] == [1, 2]
    assert [move.kind for move in read("F1 G1 G4 P0.5 X1", "G92.1 X2")] == ["dwell", "line", "line"]
    assert read("G0 X1", "G92 X0", "G92.1 X5")[1].end[0] == 5.0  # table 8: offsets, 19, before motion, 20


def test_order_of_execution() -> None:
    """3.8, table 8: feed, speed, spindle, dwell, plane, units, distance mode act before the motion of their line."""
    dwell, arc = read("G2 Z2 X2 K2 F10 S9000 M4 G20 G91 G18 G4 P3 G94")
    assert (dwell.kind, dwell.seconds, dwell.end, dwell.feed) == ("dwell", 3.0, (0, 0, 0), None)
    assert (dwell.spin, dwell.spindle_speed) == ("ccw", 9000.0)
    assert (arc.plane, arc.feed, arc.spin) == ("zx", 254.0, "ccw")
    assert arc.end == pytest.approx((50.8, 0, 50.8))
    assert arc.centre == pytest.approx((0, 0, 50.8))
    assert arc.sweep == pytest.approx(-90.0)  # from -Z to +X about the centre, about +Y
    assert read("M6 T1 M3 S100 G0 X1")[0].spin == "cw"  # tool change, 6, before spindle, 7
    assert [move.end[0] for move in read("G91 G0 X1", "G92 X0 G80", "G90 G0 X5")] == [1, 6]


def test_feed_per_minute() -> None:
    """3.7.1 and 2.1.2.5: length units per minute along the path; 4.3.5.1: not negative."""
    fails("no F has been given", "G1 X1")
    fails("must not be negative", "F-1")
    fails("from memory", "F0 G1 X1")  # zero feed: a message of the interpreter, from memory
    assert [move.feed for move in read("F100", "G1 X1", "X2 F200", "G0 X3 F300", "G1 X4")] == [100, 200, None, 300]


def test_a_unit_change_needs_a_new_feed() -> None:
    """4.3.3.3: the feed number is not converted; 2.1.2.10: the position is."""
    fails("4.3.3.3", "G21 F1000 G1 X1", "G20", "X1")
    fails("4.3.3.3", "F1000", "G20 G1 X1")
    assert read("G21 F1000 G1 X1", "G20 G0 X1", "G21 G1 F5 X1")[2].feed == 5.0
    assert read("G21 F1000 G1 X1", "G21 X2")[1].feed == 1000.0  # no change, nothing lost
    assert read("G20 F10 G1 X1", "G91 X1")[1].feed == 254.0


def test_inverse_time() -> None:
    """3.5.19: the move takes 1/F minutes; each line needs its own F; rapids do not."""
    line, arc, rapid, still = read("G93 G1 X3 Y4 F2", "G3 X3 I-10 F.5", "G0 X0 Y0", "G1 X0 F1")
    assert line.feed == pytest.approx(10.0)  # 5 mm in half a minute
    assert arc.feed == pytest.approx(10 * math.pi)  # a circle of 20 pi mm in two minutes
    assert rapid.feed is None
    assert still.feed == 0.0  # a move of no length in one minute
    assert read("G20 G93 G1 X1 F2")[0].feed == pytest.approx(50.8)
    helix = read("G93 G2 X0 Y0 Z[6*3.14159265358979] I4 F1")[0]
    assert helix.feed == pytest.approx(10 * math.pi)  # 8 pi round, 6 pi up
    fails(r"own F.*3\.5\.19", "G93 G1 X1 F1", "X2")
    fails(r"own F.*3\.5\.19", "G93 F1", "G1 X2")  # an F on a line without motion is ignored
    fails("from memory", "G93 G1 X1 F0")
    fails("feed mode has changed", "F100", "G93 G1 X1 F1", "G94 X2")
    fails("feed mode has changed", "G93 G1 X1 F7", "G94 X2")
    assert read("G93 G1 X1 F7", "G94 F60 X2")[1].feed == 60.0


def test_spindle() -> None:
    """3.6.2, 3.6.3, 3.7.2: S alone does not start it, M3 and M4 need no S, M6 stops it, S is never negative."""
    lines = ["G0 X1", "S9000 X2", "M3 X3", "S12000 X4", "M5 X5", "M4 X6", "M6 X7", "M3 S0 X8"]
    moves = read(*lines)
    assert [move.spin for move in moves] == ["off", "off", "cw", "cw", "off", "ccw", "off", "cw"]
    assert [move.spindle_speed for move in moves] == [0, 9000, 9000, 12000, 12000, 12000, 12000, 0]
    fails(r"3\.7\.2", "S-1")
    fails(r"3\.7\.3", "T-1")
    fails("0.0001", "T1.5")


def test_dwell() -> None:
    """3.5.4: G4 P seconds, not negative; P is required (3.5)."""
    dwell = read("G0 X1", "G4 P2.5")[1]
    assert (dwell.kind, dwell.start, dwell.end, dwell.seconds, dwell.length) == ("dwell", (1, 0, 0), (1, 0, 0), 2.5, 0)
    assert read("G20 G4 P1")[0].seconds == 1.0  # seconds know no inches
    fails(r"3\.5\.4", "G4 P-1")
    fails(r"3\.5\.4", "G4")


def test_offsets() -> None:
    """3.5.18: G92 in inches and in G91, G92.1, G92.2 and G92.3."""
    start = ["G20 G91 G0 X1 Y1 Z1", "G92 X5 Y6", "G90"]
    assert read(*start, "X5 Y6 Z2")[1].end == pytest.approx((25.4, 25.4, 50.8))
    assert read(*start, "G92.1", "X5 Y6")[1].end == pytest.approx((127.0, 152.4, 25.4))
    assert read(*start, "G92.2", "X5 Y6")[1].end == pytest.approx((127.0, 152.4, 25.4))
    assert read(*start, "G92.2", "G92.3", "X5 Y6")[1].end == pytest.approx((25.4, 25.4, 25.4))
    assert read(*start, "G92.1", "G92.3", "X5 Y6")[1].end == pytest.approx((127.0, 152.4, 25.4))
    fails("not set", "G92.3")


def test_accepted_and_without_effect() -> None:
    plain = read("F100", "G1 X1")
    for line in (
        "G40",
        "G49",
        "G54",
        "G61",
        "G61.1",
        "G64",
        "G80",
        "G98",
        "G99",
        "M0",
        "M1",
        "M7",
        "M8",
        "M9",
        "M48",
        "M60 T3",
    ):
        assert read(f"F100 {line}", "G1 X1") == plain


@pytest.mark.parametrize(
    "line",
    [
        "G10 L2 P1 X1", "G38.2 X1", "G41 D1", "G42", "G55", "G56", "G57", "G58",
        "G59", "G59.1", "G59.2", "G59.3", "G81 X1 Z-1 R1", "G82 P1", "G83 Q1", "G84", "G85", "G86", "G87", "G88", "G89",
        "G0 A1", "G0 X1 B0", "C1", "#5221=1", "G0 X#5161", "G0 X#5211",
    ],
)  # fmt: skip
def test_refused_because_only_the_machine_knows(line: str) -> None:
    """Legal codes (3.5.5, 3.5.8-3.5.13, 3.5.16, 2.1.1.2, table 2) that would change the geometry."""
    fails(r"line 2: .*not supported \(NISTIR 6556, ", "F100 G0 X1", line)


# --- arcs (3.5.3, read in) -------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("line", "match"),
    [
        ("G17 G2 Z1 I1", "both X and Y are missing from a circle in the XY plane"),
        ("G18 G2 Y1 I1", "both Z and X are missing from a circle in the ZX plane"),
        ("G19 G2 X1 J1", "both Y and Z are missing from a circle in the YZ plane"),
        ("G17 G2 Z1 R1", r"both X and Y .*3\.5\.3\.1"),
        ("G17 G2", "both X and Y"),
        ("G17 G2 X1", "both I and J"),
        ("G18 G2 X1", "both K and I"),
        ("G19 G2 Y1", "both J and K"),
        ("G17 G2 X1 I1 K1", "K has no meaning"),
        ("G18 G2 X1 I1 J1", "J has no meaning"),
        ("G19 G2 Y1 I1", "I has no meaning"),
        ("G2 X1 I.5 R.5", "R and a centre"),
        ("G2 X1 I0", "3.5.3.2"),
        ("G2 X0 I0", "lies on"),
        ("G2 X1 R0", "too small"),
        ("G2 X0 Y0 R1", r"starting point .*3\.5\.3\.1"),
    ],
)
def test_arc_errors(line: str, match: str) -> None:
    fails(f"line 2: .*{match}", "F100", line)


def test_half_circles_by_radius() -> None:
    """3.5.3.1: 180 degrees either way; ends that are halves only up to rounding are not 'too small'."""
    for x in (0.1, 0.2, 0.3, 1 / 3, 7.7):
        for code, sweep in (("G2", -180.0), ("G3", 180.0)):
            arc = read("G91 F1 G0 X0.1 Y0.7", f"{code} X{x} Y{x} R{x / math.sqrt(2):.17f}")[1]
            assert arc.sweep == pytest.approx(sweep, abs=1e-5)


def test_full_circle_in_increments() -> None:
    """3.5.3.2: end = start is a full circle, also where incremental sums return up to rounding only."""
    lines = ["G91 F1"] + ["G1 X0.1"] * 3 + ["X-0.3", "G90 G3 X0 Y0 I-1", "G91 G2 X0 J2"]
    moves = read(*lines)
    assert moves[3].end[0] != 0.0
    assert [move.sweep for move in moves[4:]] == [360.0, -360.0]
    assert read("F1 G3 X-0.0000000001 J0.01")[0].sweep == 360.0  # rounding, whichever side it falls on
    assert read("F1 G3 X+0.0000000001 J0.01")[0].sweep == 360.0


def test_a_spiral_turn_within_tolerance_is_a_full_circle() -> None:
    """3.5.3.2: the end on the same ray, 0.001 mm farther out, is still all the way round."""
    with pytest.warns(RS274Warning, match=r"^line 1: .*read as a full circle.*3\.5\.3\.2"):
        assert read("F1 G3 X-0.001 I10")[0].sweep == pytest.approx(360.0)


def test_tolerance_is_that_of_the_units_in_force() -> None:
    """3.5.3.2: 0.002 mm or 0.0002 inch, which is 0.00508 mm."""
    assert len(read("G20 F1 G0 X1", "G3 X0 Y1.00019 I-1")) == 2
    assert len(read("G21 F1 G0 X10", "G3 X0 Y10.002 I-10")) == 2  # 'more than'
    fails("0.002 mm", "G21 F1 G0 X10", "G3 X0 Y10.005 I-10")


def turned(start: Any, centre: Any, axis: int, degrees: float) -> Any:
    """Rotate about the positive coordinate axis by the right-hand rule (Rodrigues), an independent road."""
    k = np.eye(3)[axis]
    r = np.subtract(start, centre)
    t = math.radians(degrees)
    return centre + r * math.cos(t) + np.cross(k, r) * math.sin(t) + k * np.dot(k, r) * (1 - math.cos(t))


coordinates = st.floats(-50, 50).map(lambda x: round(x, 3))


@settings(fuzz, max_examples=200)
@given(
    plane=st.sampled_from([("G17", "xy", 2), ("G18", "zx", 1), ("G19", "yz", 0)]),
    start=st.tuples(coordinates, coordinates, coordinates),
    radius=st.floats(0.5, 40),
    azimuth=st.floats(0, 360),
    sweep=st.floats(1, 359) | st.floats(-359, -1),
    rise=st.floats(-5, 5),
    inches=st.booleans(),
    relative=st.booleans(),
    by_radius=st.booleans(),
)
def test_arcs_are_right_handed_turns(
    plane: Any, start: Any, radius: float, azimuth: float, sweep: float, rise: float,
    inches: bool, relative: bool, by_radius: bool,
) -> None:  # fmt: skip
    """3.5.3, 2.1.2.1 and 4.3.6.1: counter-clockwise seen from the positive end of the normal = right-handed turn."""
    code, name, axis = plane
    assume(not by_radius or 5 < abs(sweep) < 175 or 185 < abs(sweep) < 355)  # 3.5.3.1: else rounding is magnified
    spoke = np.zeros(3)
    spoke[(axis + 1) % 3], spoke[(axis + 2) % 3] = radius, 0.0
    centre = start + turned(spoke, np.zeros(3), axis, azimuth)
    end = turned(start, centre, axis, sweep) + rise * np.eye(3)[axis]
    unit = 25.4 if inches else 1.0
    shown = (end - start if relative else end) / unit
    words = " ".join(f"{letter}{v:.15f}" for letter, v in zip("XYZ", shown, strict=True))
    offset = (centre - start) / unit
    if by_radius:
        words += f" R{math.copysign(radius / unit, 180 - abs(sweep)):.15f}"
    else:
        words += "".join(f" {'IJK'[k]}{offset[k]:.15f}" for k in range(3) if k != axis)
    first = " ".join(f"{letter}{v:.15f}" for letter, v in zip("XYZ", start, strict=True))
    arc = read(f"G21 {code} G0 {first}", f"{'G20' if inches else 'G21'} {'G91' if relative else 'G90'} F100",
               f"{'G3' if sweep > 0 else 'G2'} {words}")[1]  # fmt: skip
    assert arc.plane == name
    assert arc.sweep == pytest.approx(sweep, abs=1e-6)
    assert arc.centre == pytest.approx(tuple(centre), abs=1e-6)
    assert arc.end == pytest.approx(tuple(end), abs=1e-9)
    assert arc.length == pytest.approx(
        math.hypot(radius * math.radians(sweep), rise), rel=1e-6
    )  # 2.1.2.6: along the helix
    assert arc.feed == pytest.approx(100 * unit)


# --- fuzz: a program is read, or refused with the reader's own error -------------------------------------


def reads_or_refuses(text: str) -> list[Move] | None:
    """Only RS274Error may come out; what is read must hold together."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", RS274Warning)
        try:
            moves = read_moves(text)
        except RS274Error as error:
            refusal = str(error)
        else:
            refusal = ""
    if refusal:
        assert refusal.startswith("line ")
        assert "(NISTIR 6556, " in refusal
        return None
    lines = [move.line for move in moves]
    assert lines == sorted(lines)
    place = (0.0, 0.0, 0.0)
    for move in moves:
        assert move.start == place
        place = move.end
        assert all(map(math.isfinite, (*move.end, *(move.centre or ()), move.spindle_speed)))
        assert (move.feed is None) == (move.kind in ("rapid", "dwell"))
        assert (move.seconds is None) == (move.kind != "dwell")
        assert (move.centre is None) == (move.sweep is None) == (move.kind != "arc")
        if move.feed is not None:
            assert 0.0 <= move.feed < math.inf
        if move.sweep is not None:
            assert 0.0 < abs(move.sweep) <= 360.0 + 1e-9
    return moves


SPICE = "GMXYZIJKRFSPTNABCDHLQEO0123456789.+-#[]=/*%;() \t\n\rgxyzsincoatqrmdexpfulkb"


@fuzz
@given(st.text(max_size=200) | st.text(SPICE, max_size=200))
@example("\ud800")
@example("G1 X" + "[" * 10_000)
@example("(" * 300 + ")")
@example("%\r%")
@example("G0 X#[9**9**9]")
@example("G2 X1 R[10**308] F1")
@example("G3 X[10**200] I[10**200] F1")
def test_random_text(text: str) -> None:
    reads_or_refuses(text)


BASES = [program for _, program, *_ in PROGRAMS] + [
    "%\nN10 G20 G91 (note) F[2*3]\n/N20 G18 G3 X1 Z1 K.5 R-1\nG93 G19 G2 Y1 J[1/2] F#1\n#1=[SIN[30]+ATAN[1]/[2]]\n%\n",
    "G92 X1 Y2\nG92.2\nG92.3\nG4 P1.5\nM6 T1 M4 S100\nG80\nG54 G61.1 G98\n; done\n",
]


@fuzz
@given(
    st.sampled_from(BASES),
    st.lists(
        st.tuples(st.sampled_from("idrts"), st.integers(0, 300), st.integers(0, 300), st.sampled_from(SPICE)),
        max_size=8,
    ),
)
def test_mutated_programs(text: str, edits: list[tuple[str, int, int, str]]) -> None:
    for kind, i, j, c in edits:
        i, j = sorted((i % (len(text) + 1), j % (len(text) + 1)))
        if kind == "i":
            text = text[:i] + c + text[i:]
        elif kind == "d":
            text = text[:i] + text[i + 1 :]
        elif kind == "r":
            text = text[:i] + c + text[i + 1 :]
        elif kind == "t":
            text = text[:j] + text[i:j] + text[j:]  # a piece twice
        else:
            rows = text.split("\n")
            rows[i % len(rows)], rows[j % len(rows)] = rows[j % len(rows)], rows[i % len(rows)]
            text = "\n".join(rows)
    reads_or_refuses(text)


plain = (
    st.integers(-20, 20).map(str)
    | st.floats(-20, 20).map(lambda x: f"{x:.4f}")
    | st.sampled_from(["0", "-0.", ".5", "99999999"])
)
functions = st.sampled_from(["ABS", "ACOS", "COS", "EXP", "fix", "FUP", "LN", "ROUND", "SIN", "SQRT", "TAN"])
real_values = st.recursive(
    plain,
    lambda inner: st.one_of(
        st.lists(inner, min_size=1, max_size=3).flatmap(
            lambda terms: st.lists(
                st.sampled_from(["+", "-", "*", "/", "**", " MOD ", " AND ", " OR ", " XOR "]),
                min_size=len(terms) - 1, max_size=len(terms) - 1,
            ).map(lambda ops: "[" + "".join(a + b for a, b in zip(terms, [*ops, ""], strict=True)) + "]")
        ),
        st.tuples(functions, inner).map(lambda fa: f"{fa[0]}[{fa[1]}]"),
        st.tuples(inner, inner).map(lambda yx: f"ATAN[{yx[0]}]/[{yx[1]}]"),
        inner.map(lambda i: f"#[1+ABS[FIX[{i}]]]"),
    ),
    max_leaves=5,
)  # fmt: skip
codes = st.sampled_from(
    ["G17", "G18", "G19", "G20 F9", "G21 F9", "G90", "G91", "G92.1", "G4 P1", "G93", "G94 F9", "G40", "M0", "M3", "M6",
     "(c)", "#1=3", "#2=[#1/7]", "S9", "T1", "G92", "G80", "I5", "P2", "M2", "/"]
)  # fmt: skip


@st.composite
def program_lines(draw: st.DrawFn) -> str:
    """A line with a motion, mostly of the right form, and at most two other words."""
    motion = draw(st.sampled_from(["", "G0", "G1", "G2", "G3"]))
    letters = draw(st.lists(st.sampled_from("XYZ"), min_size=1, unique=True))
    if motion in ("G2", "G3"):
        letters += draw(st.sampled_from(["R", "IJ", "IK", "JK", "I", "J", "K", "RI"]))
    words = [motion, *(letter + draw(plain | real_values) for letter in letters), *draw(st.lists(codes, max_size=2))]
    return " ".join(draw(st.permutations(words)))


@fuzz
@given(st.lists(program_lines(), min_size=1, max_size=6))
@example(["#1=8 G18 X[2*#1] Z0", "G2 X0 K[-SQRT[#1]]"])
def test_programs_made_by_the_grammar(lines: list[str]) -> None:
    reads_or_refuses("\n".join(["F100", *lines, "M2"]))
    for line in lines:  # each by itself as well, since one refusal hides what follows
        reads_or_refuses(f"F100 #1=2 #2=5\n{line}\nM2")


motions = st.tuples(
    coordinates, coordinates, st.floats(-3, 5).map(lambda z: round(z, 2)), st.sampled_from(["G0", "G1", "G2", "G3"])
)


@settings(fuzz, max_examples=100)
@given(st.lists(motions, min_size=1, max_size=30), st.booleans())
def test_sound_programs_are_read(steps: list[tuple[float, float, float, str]], relative: bool) -> None:
    """A refusal must have a cause: connected rapids, lines and half circles about their chord's middle all read."""
    x = y = z = 0.0
    lines, ends = [f"G21 F100 {'G91' if relative else 'G90'}"], []
    for u, v, w, code in steps:
        to = (u - x, v - y, w - z) if relative else (u, v, w)
        arc = f" I{(u - x) / 2:.9f} J{(v - y) / 2:.9f}" if code in ("G2", "G3") else ""
        assume(not arc or math.hypot(u - x, v - y) > 0.01)
        lines.append(f"{code} X{to[0]:.9f} Y{to[1]:.9f} Z{to[2]:.9f}{arc}")
        x, y, z = u, v, w
        ends.append((u, v, w))
    moves = reads_or_refuses("\n".join([*lines, "M2"]))
    assert moves is not None
    assert np.allclose([move.end for move in moves], ends, rtol=0, atol=1e-7)
    assert [abs(move.sweep) for move in moves if move.sweep] == pytest.approx(
        [180.0] * sum(s[3] in ("G2", "G3") for s in steps)
    )


def by_passes(terms: list[float], ops: list[str]) -> float:
    """Work a bracket out in three passes, one per group, each from the left: 3.3.2.3 word for word."""
    groups: list[dict[str, Any]] = [
        {"**": lambda a, b: a**b},
        {"*": lambda a, b: a * b, "/": lambda a, b: a / b, "MOD": math.fmod},
        {
            "+": lambda a, b: a + b, "-": lambda a, b: a - b, "OR": lambda a, b: float(bool(a) or bool(b)),
            "XOR": lambda a, b: float(bool(a) != bool(b)), "AND": lambda a, b: float(bool(a) and bool(b)),
        },
    ]  # fmt: skip
    for group in groups:
        i = 0
        while i < len(ops):
            if ops[i] in group:
                terms[i : i + 2] = [group[ops[i]](terms[i], terms[i + 1])]
                del ops[i]
            else:
                i += 1
    return terms[0]


brackets = st.lists(
    st.tuples(st.integers(1, 9).map(float), st.sampled_from(["+", "-", "*", "/", "**", "MOD", "AND", "OR", "XOR"])),
    min_size=1, max_size=7,
)  # fmt: skip


@fuzz
@given(brackets)
def test_precedence_against_three_passes(chain: list[tuple[float, str]]) -> None:
    text = "[" + "".join(f"{v:g}{op}" for v, op in chain)[: -len(chain[-1][1])] + "]"
    try:
        expected = by_passes([v for v, _ in chain], [op for _, op in chain[:-1]])
    except (ArithmeticError, ValueError, TypeError):
        assume(False)
    assume(isinstance(expected, float) and abs(expected) < 1e12)
    assert value(text) == pytest.approx(expected, rel=1e-9, abs=1e-12)


# --- the rest --------------------------------------------------------------------------------------------


def test_errors_name_line_text_and_rule() -> None:
    with pytest.raises(RS274Error) as caught:
        read_moves("G21\n\nF100\n  G2 I3 J4 (round)  \nM2")
    expected = (
        "line 4: 'G2 I3 J4 (round)': both X and Y are missing from a circle in the XY plane (NISTIR 6556, 3.5.3.2)"
    )
    assert str(caught.value) == expected
    assert isinstance(caught.value, DomainError)
    assert caught.value.__cause__ is None
    with pytest.raises(RS274Error) as caught:
        read_moves("G0 X1 (" + "a" * 100_000)
    assert len(str(caught.value)) < 250
    for bad in (b"M2", None, 3, ["M2"]):
        with pytest.raises(DomainError, match="text must be a str"):
            read_moves(bad)  # type: ignore[arg-type]


def test_nothing_is_kept_between_programs() -> None:
    read("G20 G91 G18 F7 S9 M3", "#1=4", "G92 X1", "G0 X1")
    test_state_at_the_start()
    with pytest.warns(RS274Warning, match="parameter 1"):
        assert value("#1") == 0.0


def test_moves_are_records() -> None:
    move = read("G0 X1")[0]
    assert not hasattr(move, "__dict__")
    with pytest.raises(AttributeError):
        move.feed = 1.0  # type: ignore[misc]
    assert {"Move", "RS274Error", "RS274Warning", "read_moves"} <= set(rs274.__all__)


def long_program(lines: int) -> str:
    body = ["G1 X1 Y[2+SIN[30]] Z-.5", "G91 G2 X10 Y-10 J-10 (arc)", "G90 G0 X#1 Y0", "N7 G1 X5 F900"]
    return "\n".join(["#1=2 G21 F1000", *(body[i % 4] for i in range(lines)), "M2"])


def test_work_grows_linearly() -> None:
    """Counted in calls, not in milliseconds: twice the lines, twice the calls."""

    def calls(lines: int) -> int:
        counted = 0

        def count(*_: Any) -> None:
            nonlocal counted
            counted += 1

        text, before = long_program(lines), sys.getprofile()
        sys.setprofile(count)
        try:
            read_moves(text)
        finally:
            sys.setprofile(before)
        return counted

    few, more, most = calls(200), calls(400), calls(800)
    assert most - more == pytest.approx(2 * (more - few), rel=0.01)  # a passing clean-up of memory may be counted too


def test_twenty_thousand_lines() -> None:
    moves = read_moves(long_program(20_000))
    assert len(moves) == 20_000
    assert moves[-1].line == 20_001
