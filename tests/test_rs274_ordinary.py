"""Programs as they come: what does not matter to the groove is read with a note, what could move it is refused.

Sections are those of NISTIR 6556: Kramer, Proctor & Messina, "The NIST RS274NGC Interpreter - Version 3", 2000. What is
in no published language is common practice, no source. Expected values are worked out by hand beside each check.
"""

from __future__ import annotations

import contextlib
import math
import re
import warnings
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from hypothesis import example, given
from hypothesis import strategies as st

import chipsim as cs
from chipsim.rs274 import Move, RS274Error, RS274Warning, interpreter, read_moves, read_rs274, reader
from chipsim.rs274.interpreter import interpret
from chipsim.testing.strategies import reals, steadily

BIT = cs.VBit(90, 12.7, 2, max_spindle_speed=24_000, cutting_length=8.0)
FINE = cs.VBit(60, 12.7, 1)
HEAD = ["G21 G90 G17 G94", "S17000 M3", "G0 Z5", "G0 X3 Y4"]  # lines 1 to 4
GROOVE = ["G1 Z-2 F300", "X40 F1400", "Y30", "G0 Z5"]  # 5 to 8
WHOLE = [*HEAD, *GROOVE, "M2"]


def noted(*lines: str, bit: Any = BIT, **options: Any) -> tuple[cs.Carving, tuple[str, ...]]:
    """Carving and notes of a program; every note has been warned of as well."""
    with warnings.catch_warnings(record=True) as caught:
        warnings.simplefilter("always")
        carving = read_rs274("\n".join(lines) + "\n", bit, **options)
    assert tuple(str(w.message) for w in caught) == carving.notes
    assert all(w.category is RS274Warning and w.filename == __file__ for w in caught)
    return carving, carving.notes


def moves_of(*lines: str, **options: Any) -> list[Move]:
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", RS274Warning)
        return read_moves("\n".join(lines) + "\n", **options)


def fails(match: str, *lines: str, bit: Any = BIT, **options: Any) -> None:
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", RS274Warning)
        with pytest.raises(RS274Error, match=match):
            read_rs274("\n".join(lines) + "\n", bit, **options)


def same(one: cs.Carving, two: cs.Carving) -> bool:
    """Whether the same grooves are cut; a rapid more or less does not matter to them."""
    return len(one) == len(two) and all(
        np.array_equal(a.path.xy, b.path.xy)
        and np.array_equal(a.path.depth, b.path.depth)
        and np.array_equal(a.path.sweep, b.path.sweep)
        and (a.feed, a.spindle_speed, a.spin, a.bit) == (b.feed, b.spindle_speed, b.spin, b.bit)
        for a, b in zip(one, two, strict=True)
    )


def put(at: int, *rows: str, into: list[str] = WHOLE) -> list[str]:
    """Program with rows put before the line with that number."""
    return [*into[: at - 1], *rows, *into[at - 1 :]]


def swapped(at: int, row: str, into: list[str] = WHOLE) -> list[str]:
    return [*into[: at - 1], row, *into[at:]]


PLAIN = read_rs274("\n".join(WHOLE), BIT)


def test_a_program_without_oddities_has_no_notes() -> None:
    assert noted(*WHOLE)[1] == ()
    assert PLAIN.notes == ()


# --- read with a note ------------------------------------------------------------------------------------

ODD = [
    ("G43", swapped(3, "G43 H3 G0 Z5"), r"^line 3: G43 takes the length .* tip .*3\.5\.11"),
    ("G43 before z", put(3, "G43 H0"), r"^line 3: G43 takes the length"),
    ("G49 at the end", put(9, "G43 H3", "G0 Z40", "G49"), r"^line 11: G49 gives up the length"),
    ("G28 of all axes", put(9, "G28"), r"^line 9: G28 goes to a place only the machine knows.*3\.5\.8"),
    ("G28 by increments", put(9, "G91 G28 Z0", "G28 X0 Y0", "G90"), r"^line 9, line 10: G28 goes to a place"),
    ("G30", put(9, "G30 Z40"), r"^line 9: G30 goes to a place .* lie above the board.*3\.5\.8"),
    ("G53", put(9, "G53 G0 Z0", "G53 X0 Y0"), r"^line 9, line 10: G53 goes to a place .*3\.5\.12"),
    ("G28 at the start", put(3, "G0 Z30", "G28"), r"^line 4: G28 goes to a place"),
    ("G64 P", swapped(1, "G21 G90 G17 G94 G64 P0.03"), r"^line 1: G64 with P .* common practice|Common practice"),
    ("G91.1", put(2, "G91.1"), r"^line 2: G91\.1 .* from the start of the arc"),
    ("G90.1", put(2, "G90.1"), r"^line 2: G90\.1 .* from the zero of the program"),
    ("O number", put(1, "O0042 (border)"), r"^line 1: An O with a number names the program"),
    ("O number after percent", ["%", "O42", *WHOLE, "%"], r"^line 2: An O with a number"),
    ("O number behind N", put(1, "N5 O42"), r"^line 1: An O with a number"),
    ("number after percent", put(1, "%1000"), r"^line 1: What follows the percent sign is taken as the name"),
    ("name after percent", ["% OAK SIGN", *WHOLE, "%"], r"^line 1: What follows the percent sign"),
    ("N in the middle", swapped(6, "X40 N60 F1400"), r"^line 6: The line number .* 3\.3\.1|changes no motion"),
    ("N at the end", swapped(6, "X40 F1400 N60"), r"^line 6: The line number"),
    ("N of many digits", swapped(6, "N0001234567 X40 F1400"), r"^line 6: The line number has more than five"),
    ("N behind a comment", swapped(6, "(on) N60 X40 F1400"), r"^line 6: The line number"),
    ("a G code twice", swapped(6, "G1 G90 G1 G90 X40 F1400"), r"^line 6: A code stands on this line more than once"),
    ("an M code twice", swapped(2, "M3 S17000 M03"), r"^line 2: A code stands on this line more than once"),
    ("M7 M8", put(5, "M7 M8"), r"^line 5: M7 and M8 stand on one line"),
    ("a long line", swapped(6, "X40" + " " * 400 + "F1400"), r"^line 6: The line has more than the 256"),
    ("a long comment", put(5, "(" + "all round " * 60 + ")"), r"^line 5: The line has more than the 256"),
    ("text after a comment", put(5, "(tool 1) V, sharpened"), r"^line 5: The text after a comment holds no code"),
    ("text after code", swapped(6, "X40 F1400 (on) to the corner"), r"^line 6: The text after a comment"),
    ("text with a number", put(5, "(tool 1) V-groove bit 60 deg"), r"^line 5: The text after a comment"),
    ("text between comments", put(5, "(one) and (two)"), r"^line 5: The text after a comment"),
    ("text beyond ASCII", put(5, "(Stufe) für die Rille"), r"^line 5: The text after a comment"),
    ("block delete", swapped(6, "/X40 F1400"), r"^line 6: A line that begins with '/' is carried out"),
    ("more after the end", [*WHOLE, "G0 X99", "M2"], r"^line 9: The program ends here"),
]  # fmt: skip


@pytest.mark.parametrize(("lines", "match"), [row[1:] for row in ODD], ids=[row[0] for row in ODD])
def test_what_does_not_matter_is_read_with_a_note(lines: list[str], match: str) -> None:
    carving, notes = noted(*lines)
    assert same(carving, PLAIN)
    assert any(re.search(match, note) for note in notes), notes
    assert all(re.match(r"line [0-9]", note) for note in notes)


@pytest.mark.parametrize(
    "lines",
    [
        swapped(1, "G21 G90 G17 G94 G40 G49 G54 G80 G61 G98"),
        put(2, "G40", "G49", "G80", "G94", "G17", "G64", "G54"),
        swapped(6, "x40\tf1400"),
        swapped(6, "  g01 X 40. f1400 "),
        put(5, "", " \t", "()"),
        put(5, "(Längsnut: ½ tief)"),
        [*WHOLE, "", "(printed twice)", "; by hand", "%"],
        swapped(9, "M30 (end)"),
        ["%", *WHOLE, "%"],
        ["% ", "(a)", *WHOLE, "%"],
        put(9, "G92 X0 Y0 Z0", "G92.1"),
    ],
    ids=str,
)
def test_what_the_language_has_is_read_without_a_note(lines: list[str]) -> None:
    carving, notes = noted(*lines)
    assert same(carving, PLAIN)
    assert notes == ()


@pytest.mark.parametrize(
    ("match", "lines"),
    [
        ("line 9: 'M98 P1': M98 calls or ends a subprogram", put(9, "M98 P1")),
        ("line 9: 'M99': M99 calls or ends a subprogram", put(9, "M99")),
        ("line 9: 'G65 P1': G65 calls or ends a subprogram", put(9, "G65 P1")),
        ("line 9: 'O100 SUB': .*subprogram: not supported", put(9, "O100 SUB")),
        ("line 9: 'O100': .*subprogram: not supported", put(9, "O100")),
        ("line 1: 'O100 CALL': .*subprogram", put(1, "O100 CALL")),
        ("line 2: 'O2': .*subprogram", ["O1", "O2", *WHOLE]),
        ("line 5: '#<deep>=2': a parameter with a name", put(5, "#<deep>=2")),
        ("line 6: 'X#<_far> F1400': a parameter with a name", swapped(6, "X#<_far> F1400")),
        ("line 5: .*not a code", put(5, "G5 X1 Y1")),
        ("line 1: '%G0 X5': what follows the percent sign may be code", put(1, "%G0 X5")),
        ("line 1: '% X5': what follows the percent sign may be code", put(1, "% X5")),
        ("line 1: '%#1=2': what follows", put(1, "%#1=2")),
        ("line 5: '%2000': .*first line only", put(5, "%2000")),
        ("line 2: '% again': .*first line only", ["(a)", "% again", *WHOLE]),
        ("line 6: .*once on a line", swapped(6, "N60 X40 N70 F1400")),
        ("line 6: .*twice", swapped(6, "X40 X40 F1400")),
        ("line 6: .*same modal group", swapped(6, "G1 G0 X40 F1400")),
        ("line 1: .*same modal group", swapped(1, "G21 G20 G90")),
        ("line 5: .*same modal group", put(5, "M7 M9")),
        ("line 5: 'E1': ", put(5, "E1")),
        ("line 5: .*not supported", put(5, "G55")),
        ("line 6: ", swapped(6, "X40 F1400 (on) GO X9")),
        ("line 6: ", swapped(6, "X40 F1400 (on) then X 50")),
        ("line 6: ", swapped(6, "X40 F1400 (on) GOX5")),
        ("line 6: ", swapped(6, "X40 F1400 (on) go to X [5]")),
        ("line 6: ", swapped(6, "X40 F1400 (on) Y")),
        ("line 6: ", swapped(6, "X40 F1400 to the corner")),  # no comment before it
        ("line 6: .*does not have", swapped(6, "X40 F1400 é")),
        ("line 5: .*H", put(5, "G43")),
        ("line 5: .*3.5.11", put(5, "G43 H-1")),
        ("line 5: .*0.0001", put(5, "G43 H1.5")),
        ("line 5: .*H has no meaning", put(5, "G49 H1")),
        ("line 5: .*P belongs to G4 or to G64", put(5, "G4 G64 P1")),
        ("line 6: .*P has no meaning", put(6, "X3 P1")),
        ("line 5: 'G53 G2 X1 I1': G53 needs G0 or G1", put(5, "G53 G2 X1 I1")),
        ("line 5: 'G53': G53 needs at least one", put(5, "G53")),
        ("line 5: 'G28 G1 Z5': G28 and G1 both", put(5, "G28 G1 Z5")),
        ("line 5: 'G2 X9 Y4 I3 F900': with G90.1", [*HEAD[:3], "G0 X3 Y4 G90.1", "G2 X9 Y4 I3 F900", "M2"]),
    ],
)  # fmt: skip
def test_what_could_hide_motion_is_refused(match: str, lines: list[str]) -> None:
    fails(match, *lines)


# --- places only the machine knows -----------------------------------------------------------------------


def test_the_way_by_a_programmed_point_is_kept() -> None:
    """3.5.8: G28 with words goes by way of that point, in G90 and G91; G53 names no point of the program."""
    moves = moves_of("G21 G0 Z5", "G28 X7", "G0 X1 Y1 Z9", "G91 G28 Z3", "G90 G0 X0 Y0 Z9", "G0 G30 Z50", "M2")
    assert [m.end for m in moves] == [(0, 0, 5), (7, 0, 5), (1, 1, 9), (1, 1, 12), (0, 0, 9), (0, 0, 50)]
    assert {m.kind for m in moves} == {"rapid"}
    moves = moves_of("G20 G92 X1", "G0 X2 Y0 Z5", "G28 X3", "M2")
    assert moves[-1].end == pytest.approx((50.8, 0, 127))  # 2 inches from where the program began
    assert [m.end for m in moves_of("G21 G0 Z5", "G53 G0 X7 Y7", "G0 X1 Y2", "M2")] == [(0, 0, 5), (1, 2, 5)]


@pytest.mark.parametrize(
    ("match", "rows"),
    [
        ("line 6: 'G28': G28 with the tip in the wood: a rapid through wood", ["G1 Z-1 F300", "G28"]),
        ("line 6: 'G53 G0 Z0': G53 with the tip in the wood", ["G1 Z-1 F300", "G53 G0 Z0"]),
        ("line 6: 'G91 G30 Z0': G30 with the tip in the wood", ["G1 Z-1 F300", "G91 G30 Z0", "G90"]),
        ("line 5: 'G28 X9 Z-1': a rapid through wood", ["G28 X9 Z-1"]),
        ("line 6: 'G1 X9 Z-1 F300': .*begins at a place that is not known: G28 on line 5", ["G28", "G1 X9 Z-1 F300"]),
        ("line 6: 'G1 Z-1 F300': .*not known: G28 on line 5 ends where", ["G28", "G1 Z-1 F300"]),
        ("line 7: 'G1 Z-1 F300': .*not known: G28 on line 5", ["G28 Z5", "G0 X9 Z5", "G1 Z-1 F300"]),  # where is y?
        ("line 6: 'G91 G0 X5': X is a step from an unknown place: G53", ["G53 X0", "G91 G0 X5"]),
        ("line 6: 'G91 G28 X5': X is a step from an unknown place", ["G28", "G91 G28 X5"]),
        ("line 6: 'G92 X0': G92 X at a place only the machine knows", ["G53 X0", "G92 X0"]),
        ("line 6: 'G2 X9 I3 F900': .*not known: G53 on line 5", ["G53 Z0", "G2 X9 I3 F900"]),
        ("line 6: 'G0 X9 Y9 Z-1': a rapid to below the face from a place", ["G28", "G0 X9 Y9 Z-1"]),
        ("line 6: 'G0 Z-1': a rapid to below the face from a place", ["G53 X0", "G0 Z-1"]),
        ("line 6: 'G0 Z-1': a rapid to below the face from a place", ["G28", "G0 Z-1"]),
        ("line 7: 'G43 H2': G43 H2 with the tip in the wood", ["G1 Z-1 F300", "X9", "G43 H2"]),
        ("line 6: 'G1 X9 F900': .*not known: G43 H2 on line 5 counts z anew", ["G43 H2", "G1 X9 F900"]),
        ("line 9: 'G1 Z-1': .*length offset 2, and on line 5 with 0",
         ["G1 Z-1 F300", "X9", "G0 Z5", "G43 H2 Z5", "G1 Z-1", "X30"]),
        ("line 9: 'G1 Z-1': .*length offset 0, and on line 6 with 2",
         ["G43 H2 Z5", "G1 Z-1 F300", "G0 Z5", "G49 Z5", "G1 Z-1"]),
    ],
)  # fmt: skip
def test_motion_that_only_the_machine_knows_is_refused(match: str, rows: list[str]) -> None:
    fails(match, *HEAD, *rows, "G0 X40 Y4 Z5", "G1 Z-1 F300", "X50", "M2")


def test_after_home_a_plunge_straight_down_is_known() -> None:
    """x and y are given in G90 and the tool goes straight down to a z that is given: nothing is guessed."""
    carving, notes = noted(*HEAD[:3], "G28", "G0 X3 Y4", *GROOVE, "M2")
    assert same(carving, PLAIN)
    assert len(notes) == 1
    carving, _ = noted(*HEAD[:3], "G28", "G43 H4", "G0 X3 Y4", *GROOVE, "M2")
    assert same(carving, PLAIN)
    again = [*GROOVE, "G53 G0 Z0", "G0 X3 Y50", *GROOVE, "M2"]
    assert [c.path.xy[0].tolist() for c in noted(*HEAD, *again)[0]] == [[3, 4], [3, 50]]


def test_travel_stays_connected_over_a_home() -> None:
    carving, _ = noted(*HEAD, "G28 Z20", "G0 X3 Y4", *GROOVE, "M2")
    before = [t for t in carving.air_moves if t.before == 0]
    assert [t.start for t in before[1:]] == [t.end for t in before[:-1]]
    assert max(t.end[2] for t in before) == 20


# --- arcs ------------------------------------------------------------------------------------------------


def test_centres_from_the_zero_of_the_program() -> None:
    """G90.1: the same quarter about (10, 0), told both ways, also after G92 and in inches; in G91 the centre stays."""
    tell = "G2 X10 Y10 I10 J0 F900"
    assert moves_of("G21 G90.1", tell, "M2") == moves_of("G21", tell, "M2")  # from zero the two are one
    (_, arc) = moves_of("G21 G90.1 G0 X5 Y3", "G3 X13 Y3 I9 J3 F900", "M2")
    assert (arc.centre, arc.sweep) == ((9, 3, 0), 180)
    arc = moves_of("G20 G90.1 G0 X1", "G92 X4", "G91 G3 X0 Y2 I4 J1 F9", "M2")[-1]
    assert arc.centre == pytest.approx((25.4, 25.4, 0))
    assert arc.sweep == pytest.approx(180)
    back = moves_of("G21 G90.1", "G0 X5 Y3", "G91.1 G3 X13 Y3 I4 F900", "M2")[-1]
    assert back.centre == (9, 3, 0)
    turned = moves_of("G21 G18 G90.1 G0 X5 Z3", "G3 X13 Z3 I9 K3 F900", "M2")[-1]
    assert turned.centre == (9, 0, 3)


def test_a_centre_told_the_other_way_is_named() -> None:
    """I and J from zero in a program that does not say so: refused as before, and the likeliest cause is said."""
    fails(
        r"line 5: .*differ by .* mm, more than 0\.02 mm; they agree if .* G90\.1",
        *HEAD[:3], "G0 X5 Y3", "G3 X13 Y3 I9 J3 F900", "M2",
    )  # fmt: skip
    fails(r"line 5: .*more than 0\.02 mm \(NISTIR", *HEAD, "G3 X13 Y3 I2 J3 F900", "M2")


def test_rounded_arcs_keep_their_ends() -> None:
    """Radii of 10 and 10.015: inside 0.02 mm, outside the 0.002 mm of the language."""
    rows = [*HEAD[:3], "G0 X10 Y0", "G1 Z-2 F300", "G3 X0 Y10.015 I-10 J0 F900", "G0 Z5", "M2"]
    carving, notes = noted(*rows)
    (cut,) = carving
    np.testing.assert_array_equal(cut.path.xy, [[10, 0], [10, 0], [0, 10.015]])
    assert cut.path.sweep == pytest.approx([0, 90])
    assert len(notes) == 1
    assert notes[0].startswith("line 6: The radii to the start and to the end of this arc differ by more than")
    fails(r"line 6: .*differ by 0\.015 mm, more than 0\.01 mm", *rows, arc_tolerance=0.01)
    fails(r"line 6: .*more than 0\.002 mm", *rows, arc_tolerance=0)
    fails(r"line 6: .*more than 0\.02 mm", *[r.replace("10.015", "10.021") for r in rows])
    assert noted(*[r.replace("10.015", "10.021") for r in rows], arc_tolerance=0.03)[0].length > 0
    with pytest.raises(RS274Error, match=r"0\.002 mm"):
        moves_of(*rows)  # the neutral layer keeps to the language unless it is told
    assert len(moves_of(*rows, arc_tolerance=0.02)) == 5
    assert noted(*[r.replace("10.015", "10.0019") for r in rows])[1] == ()
    inches = [r.replace("G21", "G20") for r in HEAD[:3]] + ["G0 X1 Y0", "G1 Z-.1 F20", "G3 X0 Y1.0019 I-1 J0 F60", "M2"]
    assert noted(*inches)[0].length > 0  # ten times 0.0002 inch
    fails(r"line 6: .*more than 0\.002 inch", *[r.replace("1.0019", "1.0021") for r in inches])
    fails(r"line 6: .*more than 0\.02 mm", *inches, arc_tolerance=0.02)


@pytest.mark.parametrize("value", [-0.001, 0.51, math.nan, "wide", [0.02], True])
def test_arc_tolerance_out_of_range_is_refused_by_name(value: Any) -> None:
    for call in (lambda: read_rs274("\n".join(WHOLE), BIT, arc_tolerance=value),
                 lambda: read_moves("\n".join(WHOLE), arc_tolerance=value)):  # fmt: skip
        with pytest.raises(cs.DomainError, match="arc_tolerance"):
            call()


def test_half_circles_by_a_rounded_radius() -> None:
    """Half of the chord of 10.03 is 5.015: R 5.01 is short of it by 0.005 mm. R 4.9 is no rounding; R 0 is none."""
    rows = [*HEAD, "G1 Z-2 F300", "G3 X13.03 Y4 R5.01 F900", "M2"]
    carving, notes = noted(*rows)
    assert carving.cuts[0].path.sweep == pytest.approx([0, 180])
    assert carving.cuts[0].path.length == pytest.approx(5.015 * math.pi)
    assert notes[0].startswith("line 6: R is less than half the way to the end point")
    fails("line 6: .*R is too small", *[r.replace("R5.01", "R4.9") for r in rows])
    fails("line 6: .*R is too small", *[r.replace("X13.03", "X3.01").replace("R5.01", "R0") for r in rows])
    fails("line 6: .*R is too small", *rows, arc_tolerance=0)
    with pytest.raises(RS274Error, match="R is too small"):
        moves_of(*rows)


@steadily(400)
@given(
    st.tuples(reals(-80, 80), reals(-80, 80)), reals(0.3, 60), reals(0, 360),
    st.one_of(reals(3, 357), reals(-357, -3)), st.booleans(),
)  # fmt: skip
def test_arcs_rounded_by_their_writer_are_read_as_what_they_were(
    centre: tuple[float, float], radius: float, azimuth: float, sweep: float, inches: bool
) -> None:
    """Ends and centre rounded to two decimals of a millimetre or three of an inch: within 0.08 or 0.3 mm all the way.

    A unit of the last place is `h`; each of start, end and centre moves by up to 0.71 h, and the centre goes with the
    start. Away from the ends the path moves by no more than the ends and the centre together, 3 x 1.42 h; that is
    doubled for turns beyond a half, where a chord tells less of its circle.
    """
    unit, digits = (25.4, 3) if inches else (1.0, 2)
    h = unit * 10.0**-digits

    def at(share: float) -> np.ndarray:
        angle = math.radians(azimuth + sweep * share)
        return np.array(centre) + radius * np.array([math.cos(angle), math.sin(angle)])

    start, end, offset = at(0), at(1), np.array(centre) - at(0)
    if np.hypot(*(end - start)) < 20 * h:
        return
    x, y, u, v, i, j = (f"{value / unit:.{digits}f}" for value in (*start, *end, *offset))
    carving, notes = noted(
        f"{'G20' if inches else 'G21'} G90 G17", "S17000 M3", "G0 Z1", f"G0 X{x} Y{y}",
        f"G1 Z-{1 / unit:.5f} F{300 / unit:.3f}",
        f"{'G3' if sweep > 0 else 'G2'} X{u} Y{v} I{i} J{j} F{900 / unit:.3f}", "M30", arc_tolerance=0.1,
    )  # fmt: skip
    (cut,) = carving
    np.testing.assert_allclose(cut.path.position([0, cut.path.length]), [
        [float(x) * unit, float(y) * unit], [float(u) * unit, float(v) * unit]], atol=1e-9)  # fmt: skip
    shares = np.linspace(0, 1, 33)
    off = np.hypot(*(cut.path.position(shares * cut.path.length) - [at(s) for s in shares]).T)
    assert off.max() <= 8.5 * h
    assert all("radii" in note or "very near" in note or "tip in the wood" in note for note in notes)


@pytest.mark.parametrize(("inches", "least"), [(False, 0.995), (True, 0.995)])
def test_the_default_tolerance_has_room_for_what_is_commonly_rounded(inches: bool, least: float) -> None:
    """Share of 4000 arcs that are read, ends and centre rounded to two decimals of a millimetre, three of an inch."""
    unit, digits = (25.4, 3) if inches else (1.0, 2)
    rng = np.random.default_rng(7)
    rows = []
    for _ in range(4000):
        x, y = rng.uniform(-50, 50, 2)
        radius, a, b = rng.uniform(1, 40), *rng.uniform(0, 2 * math.pi, 2)
        start = np.array([x + radius * math.cos(a), y + radius * math.sin(a)])
        end = np.array([x + radius * math.cos(b), y + radius * math.sin(b)])
        words = [f"{value / unit:.{digits}f}" for value in (*start, *end, x - start[0], y - start[1])]
        rows.append("G0 X{} Y{}\nG3 X{} Y{} I{} J{} F900".format(*words))
    read = 0
    for row in rows:
        with contextlib.suppress(RS274Error):
            read += len(interpret(["G20" if inches else "G21", *row.split("\n"), "M2"], False, None).moves) == 2
    assert read / len(rows) >= least


FULL = "read as a full circle"


@pytest.mark.parametrize(
    ("rows", "line"),
    [
        (["G1 X20 F900", "G2 X20 Y4 I0 J-30", "G1 X40"], 7),  # one of a row
        (["G2 X3 Y4 I0 J-30 F900", "G1 X40"], 6),  # the first of a row
        (["G1 X20 F900", "G2 X20 Y4 I0 J-30"], 7),  # the last of a row, and smooth
        (["G3 X13 Y14 I0 J10 F900", "G3 X13 Y14 I-10 J0"], 7),
        (["G1 X20 F900", "G3 X20.001 Y4 I0 J30", "G1 X40"], None),  # 0.001 mm beside: short, as it was meant
        (["G2 X2.999 Y4 I0 J-30 F900", "G0 Z5"], 6),  # 0.001 mm behind: nearly full
        (["G2 X3 Y4 I0 J-30 F900"], None),  # alone: a ring
        (["G2 X3 Y4 I0 J-3 F900", "G1 Z-3 F300", "G2 X3 Y4 I0 J-3 F900"], None),
        (["G2 X3 Y4 Z-3 I0 J-3 F900", "G2 X3 Y4 I0 J-3"], None),  # a ramp round and round
        (["G1 X20 F900", "G2 X20 Y4 I30 J0"], None),  # a lead-in at a right angle to the ring, which ends there
    ],
)  # fmt: skip
def test_an_end_rounded_to_its_start_is_noted(rows: list[str], line: int | None) -> None:
    _, notes = noted(*HEAD, "G1 Z-2 F300", *rows, "G0 Z5", "M2")
    found = [note for note in notes if FULL in note]
    assert [note.split(":")[0] for note in found] == ([] if line is None else [f"line {line}"])


def test_the_circle_is_read_as_the_language_says() -> None:
    """3.5.3.2: a circle whose end is its start goes all the way round; so it is read, whatever was meant."""
    carving, _ = noted(*HEAD, "G1 Z-2 F300", "G1 X20 F900", "G2 X20 Y4 I0 J-30", "G1 X40", "G0 Z5", "M2")
    assert carving.length == pytest.approx(17 + 60 * math.pi + 20)


def test_a_circle_rounded_to_almost_nothing_is_noted() -> None:
    """The end 0.001 mm past the start: read as 0.001 mm of arc. Alone it may have been a ring; sunk, a helix."""
    _, notes = noted(*HEAD, "G1 Z-2 F300", "G2 X3.001 Y4 I0 J-30 F900", "G0 Z5", "G1 Z-1 F900", "X40", "G0 Z5", "M2")
    assert any(note.startswith("line 6: The end of this arc lies very near its start") for note in notes)
    _, notes = noted(*HEAD, "G1 Z-2 F900", "X2", "G2 X2.001 Z-2.05 I0 J-3 F60000", "G1 X40 F900", "G0 Z5", "M2")
    assert any(note.startswith("line 7: The end of this arc lies very near its start") for note in notes)


# --- units -----------------------------------------------------------------------------------------------


def test_units_that_are_not_said_are_noted_loudly() -> None:
    lines = swapped(1, "G90 G17 G94")
    carving, (note,) = noted(*lines)
    assert same(carving, PLAIN)  # millimetres
    assert note.startswith("line 3: NO UNITS ARE SAID: neither G20 (inches) nor G21 (millimetres)")
    assert "MILLIMETRES ARE ASSUMED" in note
    assert "25.4 times" in note
    for late in (put(4, "G21", into=lines), put(4, "G20 F9", "G21 F9", into=lines)):
        assert any("NO UNITS" in n for n in noted(*late)[1])
    assert noted(*swapped(1, "G90"), "G20")[1][0].startswith("line 3: NO UNITS")
    for first in ("G28 X1", "G92 X1", "G0 X1"):
        with warnings.catch_warnings(record=True) as caught:
            warnings.simplefilter("always")
            read_moves(f"{first}\nM2")
        assert str(caught[0].message).startswith("line 1: NO UNITS ARE SAID")


def test_notes_go_with_the_carving_into_the_reports_of_its_maps() -> None:
    carving, (note,) = noted(*swapped(1, "G90"))
    for job in (carving, carving.rotated(30), carving.shifted(1, 2), carving.mirrored()):
        assert job.notes == (note,)
    board = cs.Board(cs.wood("black walnut"), cs.straight_grain(20))
    report = str(cs.risk_map(carving, board, pitch=2.0))
    assert f"Program, {note}." in " ".join(report.split())
    assert "Program, " not in str(cs.risk_map(PLAIN, board, pitch=2.0))
    with pytest.raises(cs.DomainError, match="notes"):
        cs.Carving(carving.cuts, notes="a word")  # type: ignore[arg-type]
    with pytest.raises(cs.DomainError, match="notes"):
        cs.Carving(carving.cuts, notes=(3,))  # type: ignore[arg-type]


# --- tools -----------------------------------------------------------------------------------------------

POCKET = ["T1 M6", "S15000 M3", "G0 X50 Y50", "G1 Z-6 F300", "X70 F1200", "G0 Z5"]
TWO = ["G21 G90 G17 G94", "G0 Z5", *POCKET, "T2 M6", "S17000 M3", "G0 X3 Y4", *GROOVE, "M2"]


def test_a_second_tool_is_refused_unless_it_is_said_what_it_is() -> None:
    fails(
        r"line 12: 'G1 Z-2 F300': wood is met by tool 2 since line 9, and by tool 1 on line 6, but one bit is given: "
        r"say which .*\(tool=2\), or .*\(bit=\{1: ..., 2: ...\}\)",
        *TWO,
    )
    first = ["G21 G90 S15000 M3", "G0 Z5", *GROOVE, "T2 M6", "M3", *GROOVE, "M2"]  # the first has no number
    fails("line 9: .*wood is met by tool 2 since line 7, and by tool 0 on line 3", *first)
    ramp = [*TWO[:11], "G1 X40 Z-2 F600", "G0 Z5", "M2"]
    fails("line 12: .*wood is met by tool 2", *ramp)


def test_the_moves_of_one_tool_are_the_groove() -> None:
    carving, notes = noted(*TWO, tool=2)
    assert same(carving, PLAIN)
    assert notes == ("line 6: Tool 1 cuts wood here and is left out, as what it takes away is not known",)
    pocket, notes = noted(*TWO, tool=1)
    assert [(c.path.length, float(c.path.depth.max()), c.spindle_speed) for c in pocket] == [(20, 6, 15_000)]
    assert notes[0].startswith("line 12: Tool 2 cuts wood here and is left out")
    assert {t.before for t in pocket.air_moves} <= {0, 1}
    fails("the program cuts nothing by tool 3", *TWO, tool=3)
    deep = [row.replace("Z-6", "Z-30") for row in TWO]  # deeper than the V-groove's bit is long: not its matter
    assert same(noted(*deep, tool=2)[0], PLAIN)
    one = [*HEAD[:1], "T7 M6", *HEAD[1:], *GROOVE, "M2"]
    assert same(noted(*one, tool=7)[0], PLAIN)
    assert same(noted(*one)[0], PLAIN)
    fails("cuts nothing by tool 1", *one, tool=1)


def test_each_tool_may_have_its_bit() -> None:
    carving, notes = noted(*TWO, bit={1: FINE, 2: BIT})
    assert [(c.bit, c.path.length) for c in carving] == [(FINE, 20), (BIT, 63)]
    assert notes == ()
    carving, notes = noted(*TWO, bit={1: None, 2: BIT})
    assert same(carving, PLAIN)
    assert notes[0].startswith("line 6: Tool 1 cuts wood here and is left out")
    assert same(noted(*TWO, bit={1: FINE, 2: BIT}, tool=2)[0], PLAIN)
    fails(r"line 6: .*wood is met by tool 1 since line 3, but bit maps only \[2\]; None as the bit", *TWO, bit={2: BIT})
    assert same(noted(*WHOLE, bit={0: BIT})[0], PLAIN)  # a tool without a number
    fails(r"line 5: .*tool 0, but bit maps only \[1\]", *WHOLE, bit={1: BIT})
    fails("line 6: .*depth must lie within the bit's cutting length", *[r.replace("Z-6", "Z-9") for r in TWO],
          bit={1: BIT, 2: FINE})  # fmt: skip


@pytest.mark.parametrize(
    ("what", "options"),
    [
        ("tool", {"tool": -1}), ("tool", {"tool": 1.5}), ("tool", {"tool": "V"}), ("tool", {"tool": True}),
        ("tool must be one of", {"tool": 2, "bit": {1: BIT}}),
        ("tool must be one of", {"tool": 2, "bit": {1: BIT, 2: None}}),
        ("bit", {"bit": {}}), ("bit", {"bit": {1: None}}), ("bit", {"bit": {1: 90}}), ("bit", {"bit": {"1": BIT}}),
        ("bit", {"bit": {True: BIT}}), ("bit", {"bit": {-1: BIT}}), ("bit", {"bit": [BIT]}), ("bit", {"bit": None}),
    ],
)  # fmt: skip
def test_tools_and_bits_are_looked_at(what: str, options: dict[str, Any]) -> None:
    with pytest.raises(cs.DomainError, match=what):
        read_rs274(**{"path_or_text": "\n".join(TWO), "bit": BIT, **options})


def test_what_changes_no_tool() -> None:
    """T alone beside M6 elsewhere selects only (3.7.3); the same tool put in again, and a tool that cuts nothing."""
    ahead = [*HEAD[:1], "T1 M6", "T2", *HEAD[1:], *GROOVE, "T2 M6", "M2"]
    carving, notes = noted(*ahead)
    assert same(carving, PLAIN)
    assert notes == ("line 3: T2 selects a tool, but wood is cut before an M6 puts it in. That is read as the work of "
                     "tool 1 (NISTIR 6556, 3.6.3)",)  # fmt: skip
    twice = [*HEAD[:1], "T1 M6", *HEAD[1:], *GROOVE, "M6 T1", "M3", *HEAD[3:], *GROOVE, "M2"]
    assert len(noted(*twice)[0]) == 2
    idle = [*HEAD[:1], "T1 M6", *HEAD[1:], *GROOVE, "T2 M6", "G0 X0", "M2"]
    assert same(noted(*idle)[0], PLAIN)


def test_a_length_offset_kept_over_a_tool_change_is_noted() -> None:
    lines = [*TWO[:3], "G43 H1", *TWO[3:]]
    found = [note for note in noted(*lines, tool=2)[1] if "was set for the tool before" in note]
    assert [note.split(":")[0] for note in found] == ["line 10"]
    own = [row.replace("S17000", "G43 H2 Z5 S17000") for row in lines]
    assert not [note for note in noted(*own, tool=2)[1] if "was set for the tool before" in note]
    assert len(noted(*own, bit={1: FINE, 2: BIT})[0]) == 2  # each tool has its own offset


def test_a_change_that_cannot_be_told_is_refused() -> None:
    again = [*HEAD, *GROOVE, "M6", "M3", "G0 X3 Y4", *GROOVE, "M2"]
    fails("line 12: .*tool 0 since line 9: a tool without a number has cut before", *again)
    fails("line 12: .*a tool without a number", *again, tool=0)
    empty = [*HEAD[:1], "T0 M6", *HEAD[1:], *GROOVE, "M2"]
    fails("line 6: .*T0 has emptied the spindle", *empty)


def test_tools_changed_by_hand_have_no_m6() -> None:
    """T1, M0, ... T2, M0, ...: two tools as well; T is taken for the change only where it is said what they are."""
    hand = [row.replace("T1 M6", "T1 M0").replace("T2 M6", "T2 M0") for row in TWO]
    fails("line 12: .*tool 2 since line 9, and by tool 1 on line 6", *hand)
    carving, notes = noted(*hand, tool=2)
    assert same(carving, PLAIN)
    assert notes[0] == "line 3, line 9: No M6 is in the program. T is taken to change the tool (NISTIR 6556, 3.6.3)"
    assert len(noted(*hand, bit={1: FINE, 2: BIT})[0]) == 2
    assert noted(*put(2, "T5"))[1] == ()


@pytest.mark.parametrize(
    ("row", "match"),
    [
        ("M0", "line 7: M0 stops the program with the tip in the wood"),
        ("M1", "line 7: M1 stops the program with the tip in the wood"),
        ("M60", "line 7: M60 stops the program with the tip in the wood"),
        ("M6 M3", "line 7: M6 changes the tool with the tip in the wood, which ends the cut"),
    ],
)
def test_a_stop_or_tool_change_in_wood_ends_the_cut(row: str, match: str) -> None:
    lines = [*HEAD[:1], "T1 M6", *HEAD[1:3], "G1 Z-2 F300", "X40 F1400", row, "X60", "G0 Z5", "M2"]
    carving, notes = noted(*lines)
    assert [c.path.length for c in carving] == [40, 20]
    assert [note for note in notes if note.startswith(match)]
    above = [*HEAD, *GROOVE, "M0", *GROOVE, "M2"]
    assert noted(*above)[1] == ()
    stopped = swapped(7, "X60 M0", into=[*lines[:6], "", *lines[7:]])
    assert [c.path.length for c in noted(*stopped)[0]] == [60]  # the stop comes last on its line (3.8): nothing after
    assert [c.path.length for c in noted(*swapped(6, "X40 F1400 M0", into=stopped))[0]] == [40, 20]


def test_a_program_that_ends_in_wood_is_noted() -> None:
    _, notes = noted(*HEAD, *GROOVE[:3], "M2")
    assert notes == ("line 7: The program ends with the tip in the wood",)


def test_a_tool_change_stops_the_spindle() -> None:
    """3.6.3: without a new M3 the second tool would meet wood standing still."""
    lines = [*HEAD[:1], "T1 M6", *HEAD[1:3], "G1 Z-2 F300", "X40 F1400", "T2 M6", "X60", "G0 Z5", "M2"]
    fails("line 8: 'X60': .*no M3 or M4", *lines, bit={1: FINE, 2: BIT})


# --- files -----------------------------------------------------------------------------------------------


def test_comments_in_latin_1_are_read_with_a_note(tmp_path: Path) -> None:
    file = tmp_path / "sign.nc"
    lines = put(5, "(60\N{DEGREE SIGN}, Breite 8 mm \x96 f\xfcr Eiche)", into=["%", *WHOLE[:-1], "M30", "%"])
    file.write_bytes("\r\n".join(lines).encode("latin-1"))
    with pytest.warns(RS274Warning, match="^line 5: The file is not UTF-8. It is read as Latin-1, .* comments only"):
        carving = read_rs274(file, BIT)
    assert same(carving, PLAIN)
    assert len(carving.notes) == 1
    file.write_bytes("\n".join(swapped(6, "X40 \xfc F1400")).encode("latin-1"))
    with pytest.raises(RS274Error, match=r"line 6: .*characters the language does not have"):
        read_rs274(file, BIT)


def test_an_ordinary_program_with_everything_is_read() -> None:
    """What stands around the cuts in programs of many workshops, all at once."""
    lines = [
        "%", "O1001 (HOUSE SIGN)", "(T1 D=12.7 CR=0 - 90 deg) V-groove", "N0000010 G90 G94 G17 G91.1", "N20 G21",
        "N30 G53 G0 Z0", "(border)", "N40 T1 M6", "N50 S17000 M3", "N60 G54 M7 M8", "N70 G0 X3 Y4", "N80 G43 Z5 H1",
        "N90 G64 P0.05", "N100 G1 Z-2 F300", "N110 G1 G1 X40 F1400", "N120 Y30 (up) to the edge", "N130 G0 Z5",
        "N140 M9", "N150 M5", "N160 G91 G28 Z0", "N170 G90", "N180 G49", "N190 G28 G91 X0 Y0", "N200 M30", "%",
    ]  # fmt: skip
    carving, notes = noted(*lines)
    assert same(carving, PLAIN)
    assert len(notes) == 11


WORDS = st.sampled_from(
    [
        "G0", "G1", "G00", "g01", "G2", "G10", "G1.0", "G0 1", "G20", "G91", "G90", "G93", "G94", "X1", "X-2.5", "x3.",
        "Y.5", "Y+1", "Y1 2", "Z-1", "Z2", "Z-.0", "F300", "F0", "F-1", "N7", "N123456", "N1.5", "I1", "R2", "M3",
        "S9000", "(c)", ";c", "/", "#1=2", "X#1", "X[1+1]", "%", "X1e2", "T1", "G92 X0", "G28", "M2", "\u0130",
        "X" + "9" * 320, "",
    ]
)  # fmt: skip


@example(["G91", "X1 Y-1", "G0 Z1", "x2", "G90", "X1"], True)
@example(["G92 X1 Y2", "X1 Y1", "G20", "X1 F9", "G18", "Z1", "F7", "N3 X2", "G0X1", "M3 S9000", "Y1"], True)
@example(["G93", "X1", "F2 X3"], True)
@example(["G28", "X1", "Y1", "Z1", "G1 X2"], True)
@steadily(400)
@given(st.lists(st.lists(WORDS, min_size=1, max_size=5).map(" ".join), max_size=12), st.booleans())
def test_plain_moves_are_read_as_by_the_long_way(lines: list[str], begun: bool) -> None:
    """The same moves, events and notes, or the same refusal, whether or not plain lines take the short way."""
    text = [*(["G21 G1 F100 X0.5"] if begun else []), *lines]

    def read() -> str:
        try:
            reading = interpreter.interpret(text, False)
        except RS274Error as error:
            return str(error)
        return repr((reading.moves, reading.events, reading.notes))

    short = read()
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(interpreter, "_is_plain_move", lambda line, state: False)
        assert read() == short


def test_lines_that_go_on_in_a_cut_are_laid_as_by_the_long_way(monkeypatch: pytest.MonkeyPatch) -> None:
    """A program of all kinds, and one too deep, too far, with a change of speed or of sense in the wood."""
    bit = cs.VBit(90, 12.7, 2, cutting_length=5.0)
    start = "G21 G90 F900\nS12000 M3\nG0 X1 Y1 Z3\nG1 Z-1\n"
    ends = ["X2 Y3 Z-2", "X2 Y3 Z-5.1", "X2 Z-5.1\nM5\nX4",
            "X2E", "X200000", "S9000 X4", "M5\nX4", "M4 X9", "Z0", "Z1 X3", "X1 Y1.0000001",
            "G0 X4", "G0 Z4\nX5\nG1 Z-.5\nX9", "G2 X3 Y1 I1 J0", "G4 P1\nX2\nX3", "X2 Z-1e",
            "X2 Z-0.0000000001", "X1\nX1"]  # fmt: skip

    def read(end: str, dial: float | None) -> Any:
        try:
            found = cs.read_rs274(start + "X2\nX3 Y2 Z-1.5\n" + end + "\nX8\nM2", bit, spindle_speed=dial)
        except RS274Error as error:
            return str(error)
        return repr([vars(cut.path) for cut in found.cuts]), found.cuts[0].feed, found.air_moves, found.notes

    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        for end in ends:
            for dial in (None, 15_000.0):
                short = read(end, dial)
                with monkeypatch.context() as patch:
                    patch.setattr(reader.Planner, "_goes_on", lambda self, move: False)
                    assert read(end, dial) == short, end
