"""Programs as carvings: which moves cut, where ramps cross the face, feeds in the face; and programs written.

Expected values are worked out by hand beside each check (plane geometry, right triangles 3-4-5), unless a source is
named. NISTIR 6556: Kramer, Proctor & Messina, "The NIST RS274NGC Interpreter - Version 3", 2000. Programs are our own.
"""

from __future__ import annotations

import contextlib
import inspect
import math
import os
import re
import sys
import time
import warnings
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from hypothesis import example, given
from hypothesis import strategies as st

import chipsim as cs
import chipsim.rs274.interpreter
import chipsim.rs274.reader
import chipsim.rs274.writer
from chipsim import rs274
from chipsim.rs274 import RS274Error, RS274Warning, read_rs274, write_rs274
from chipsim.testing.strategies import paths, reals, spins, steadily

# What ordinary programs are warned of has its tests in test_rs274_ordinary.py.
pytestmark = [
    pytest.mark.filterwarnings(f"ignore:line .*{words}:chipsim.rs274.RS274Warning")
    for words in ("NO UNITS ARE SAID", "block_delete is off", "ends with the tip in the wood")
]

BIT = cs.VBit(90, 12.7, 2, max_spindle_speed=24_000, cutting_length=8.0)
LONG = cs.VBit(90, 12.7, 2)  # nothing marked on it
HEAD = ["G21 G90 G17 G94 S18000 M3", "G0 Z5"]  # lines 1 and 2
DOWN = [*HEAD, "G1 Z-2 F300"]  # and 3: in wood at (0, 0)
EXAMPLE = Path(__file__).parent.parent / "examples" / "house_board.nc"


def read(*lines: str, bit: cs.VBit = BIT, **options: Any) -> cs.Carving:
    """Carving of a program given without its end."""
    return read_rs274("\n".join([*lines, "M2"]), bit, **options)


def fails(match: str, *lines: str, **options: Any) -> None:
    with pytest.raises(RS274Error, match=match):
        read(*lines, **options)


def kinds(carving: cs.Carving) -> list[tuple[str, int]]:
    return [(t.kind, t.before) for t in carving.air_moves]


def ends(cut: cs.Cut) -> tuple[tuple[float, float, float], tuple[float, float, float]]:
    """First and last place of the tip, z above the face."""
    path, last = cut.path, 0 if cut.path.closed else -1
    return tuple((*map(float, path.xy[k]), float(-path.depth[k])) for k in (0, last))  # type: ignore[return-value]


def bare(path: cs.Path) -> cs.Path:
    """The path without the plunge it begins with; closed if its last point is then its first."""
    if path.closed or path.pieces[0, 4] > 0:
        return path
    xy, depth, sweep = path.xy[1:], path.depth[1:], path.sweep[1:]
    joined = math.dist(xy[0], xy[-1]) <= 1e-6 and abs(depth[0] - depth[-1]) <= 1e-6
    if joined and len(sweep) >= 2 and (len(sweep) > 2 or sweep.any()):
        return cs.Path(xy[:-1], depth[:-1], sweep=sweep, closed=True)
    return cs.Path(xy, depth, sweep=sweep)


def is_a_chain(carving: cs.Carving, tolerance: float = 1e-5) -> None:
    """Every cut and every travel move begins where the one before it ended."""
    place, travel = None, list(carving.air_moves)
    for number in range(len(carving) + 1):
        steps = []
        while travel and travel[0].before == number:
            step = travel.pop(0)
            steps.append((step.start, step.end))
        if number < len(carving):
            steps.append(ends(carving.cuts[number]))
        for start, end in steps:
            assert place is None or math.dist(place, start) <= tolerance, (number, place, start)
            place = end
    assert not travel  # in order, and none after more cuts than there are


# --- cuts and travel -------------------------------------------------------------------------------------


def test_a_groove_and_what_lies_around_it() -> None:
    carving = read(*HEAD, "G0 X10 Y5", "G1 Z-3 F300", "X50 F1500", "Y30", "Z1", "G0 Z5", "G4 P1.5", "G0 X0 Y0")
    (cut,) = carving
    np.testing.assert_array_equal(cut.path.xy, [[10, 5], [10, 5], [50, 5], [50, 30], [50, 30]])
    assert cut.path.depth.tolist() == [0, 3, 3, 3, 0]
    assert (cut.spindle_speed, cut.spin, cut.bit, cut.path.closed) == (18_000, "cw", BIT, False)
    assert (cut.feed, cut.feed_along) == ((300, 1500, 1500, 1500), "space")
    assert kinds(carving) == [
        ("rapid", 0), ("rapid", 0), ("plunge", 0), ("retract", 1), ("rapid", 1), ("dwell", 1), ("rapid", 1)
    ]  # fmt: skip
    plunge, retract, dwell = carving.air_moves[2], carving.air_moves[3], carving.air_moves[5]
    assert (plunge.start, plunge.end, plunge.feed) == ((10, 5, 5), (10, 5, 0), 300)
    assert (retract.start, retract.end, retract.feed) == ((50, 30, 0), (50, 30, 1), 1500)
    assert (dwell.start, dwell.end, dwell.feed, dwell.seconds) == ((50, 30, 5), (50, 30, 5), None, 1.5)
    assert carving.air_moves[0].feed is None
    is_a_chain(carving)


def test_what_ends_a_cut() -> None:
    """A new speed, a new sense, a rapid and a stop; no plunge, lift, dwell or feed in the wood."""
    carving = read(
        *DOWN, "X10 F1000", "Z-3 F300", "X20 F1000", "Z-2.5", "X30", "G4 P1", "X40", "S12000", "X50", "M4", "X60",
        "F900", "X70", "(a comment)", "G17 M8", "X80", "G91 X10", "G90 X100", "G0 X100", "G1 X110",
    )  # fmt: skip
    whole, slower, other = carving
    assert whole.path.depth.tolist() == [0, 2, 2, 3, 3, 2.5, 2.5, 2.5]
    assert whole.path.dwell.tolist() == [0, 0, 0, 0, 0, 0, 1, 0]
    assert whole.feed == (300, 1000, 300, 1000, 1000, 1000, 1000)
    assert [(c.path.length, float(c.path.depth[0])) for c in carving] == [(40, 0), (10, 2.5), (60, 2.5)]
    assert [(c.spindle_speed, c.spin) for c in carving] == [(18_000, "cw"), (12_000, "cw"), (12_000, "ccw")]
    assert (slower.feed, other.feed[:3]) == (1000, (1000, 900, 900))
    assert kinds(carving)[1:] == [("plunge", 0)]
    is_a_chain(carving)


def test_a_file_with_one_dot_is_a_carving_with_one_cut() -> None:
    carving = read(*HEAD, "G0 X3 Y4", "G1 Z-1.5 F200", "G4 P0.25", "G0 Z5")
    (dot,) = carving
    assert dot.path == cs.dot((3, 4), 1.5, dwell=0.25)
    assert dot.feed == (200,)
    assert dot.duration == pytest.approx(1.5 / 200 * 60 + 0.25)
    is_a_chain(carving)
    # lifted at feed: its way up in the wood is the cut's, what is above is travel
    (lifted,) = read(*HEAD, "G0 X3 Y4", "G1 Z-1.5 F200", "G4 P0.25", "Z1 F600")
    assert lifted.path == cs.Path([[3, 4]] * 3, [0, 1.5, 0], dwell=[0, 0.25, 0])
    assert lifted.feed == (200, 600)
    # a plunge may be slow: what it does is worked out, not believed
    assert read(*HEAD, "G1 Z-1 F20").cuts[0].feed == (20,)


def test_short_moves_of_differing_slope_and_feed_are_one_cut() -> None:
    rows = [f"X{0.05 * k:.3f} Z{-1.5 - 0.5 * math.sin(k / 30):.4f} F{1500 - 10 * (k % 2)}" for k in range(1, 400)]
    (cut,) = read(*HEAD, "G1 Z-1.5 F300", *rows)
    assert len(cut.path.drop) == 400
    assert set(cut.feed[1:]) == {1500, 1490}
    assert cut.path.length == pytest.approx(0.05 * 399)


def test_moves_in_air_cut_nothing() -> None:
    carving = read(*HEAD, "G1 X10 F2000", "Z0", "X20", "Z-1 F200", "X30", "Z0", "X40", "G2 X40 I5", "G1 Z1")
    assert [t.kind for t in carving.air_moves[1:5]] == ["air"] * 4  # on the face is not below it
    circle = carving.air_moves[5:-1]  # the plunge begins and the lift ends on the face
    assert carving.air_moves[-1] == cs.AirMove("air", (40, 0, 0), (40, 0, 1), 200, 0.0, 1)
    assert {t.kind for t in circle} == {"air"}
    length = sum(math.dist(t.start, t.end) for t in circle)
    assert 0.985 * 10 * math.pi < length < 10 * math.pi  # chords of 30 degrees: sin(15)/15 = 0.9886
    is_a_chain(carving)


def test_rounding_of_increments_is_no_wood() -> None:
    """0.3 - 0.1 - 0.1 - 0.1 is -5.6e-17 in doubles, on the face all the same."""
    carving = read("G21 G91 S18000 M3 F500", "G0 Z0.3", *["G1 Z-0.1"] * 3, "X10", "Z-1", "X5")
    assert [c.path.length for c in carving] == [5]
    assert kinds(carving) == [("rapid", 0)] + 4 * [("air", 0)]


def test_face_elsewhere() -> None:
    """Zero on the table, board 18 mm thick; where the tool stands before the first z is not known."""
    carving = read("G21 G90 S18000 M3", "G0 X10", "G0 X20 Z25", "G1 Z16 F300", "X60 F1500", "X70 Z19", face=18)
    (cut,) = carving
    np.testing.assert_allclose(cut.path.depth, [0, 2, 2, 0])
    np.testing.assert_allclose(cut.path.xy, [[20, 0], [20, 0], [60, 0], [60 + 10 * 2 / 3, 0]], atol=1e-12)
    assert carving.air_moves[2].end == (20, 0, 0)
    fails("line 4: 'G0 X30': a rapid through wood", "G21 S18000 M3 F300", "G0 Z25", "G1 Z16", "G0 X30", face=18)
    fails("cuts nothing: no move at feed below z = 18", "G21 S18000 M3 F300", "G0 Z25", "G1 X5", face=18)


def test_inches() -> None:
    (cut,) = read("G20 G90 S18000 M3", "G0 Z0.2", "G1 Z-0.125 F12", "X2 F60")
    np.testing.assert_allclose(cut.path.xy, [[0, 0], [0, 0], [50.8, 0]])
    np.testing.assert_allclose(cut.path.depth, [0, 3.175, 3.175])
    assert cut.feed == pytest.approx((304.8, 1524))


# --- the face cuts ramps in two --------------------------------------------------------------------------


def test_a_ramp_is_parted_at_the_face() -> None:
    """From z = 1 to -3 over 40 mm: a quarter of it, 10 mm, is air; and the same way up again."""
    carving = read(*HEAD, "G0 Z1", "G1 X40 Z-3 F1000", "X80 Z1")
    down, up = ends(carving.cuts[0]), carving.air_moves[-1]
    assert len(carving) == 1  # equal slopes, equal feeds in the face
    np.testing.assert_allclose(carving.cuts[0].path.xy, [[10, 0], [40, 0], [70, 0]], atol=1e-12)
    np.testing.assert_array_equal(carving.cuts[0].path.depth, [0, 3, 0])
    assert down[0] == (10, 0, 0)
    assert (up.kind, up.end, up.before) == ("air", (80, 0, 1), 1)
    assert up.start == pytest.approx((70, 0, 0))
    assert up.start[2] == 0.0
    assert carving.air_moves[2] == cs.AirMove("air", (0, 0, 1), (10, 0, 0), 1000, 0.0, 0)
    is_a_chain(carving)


@pytest.mark.parametrize(("code", "side"), [("G2", -1), ("G3", 1)])
def test_a_helix_is_parted_at_the_face(code: str, side: int) -> None:
    """Half a turn of radius 10 from z = 1 to -3 about (10, 0): at a quarter of it, 45 degrees, it meets the face."""
    carving = read(*HEAD, "G0 Z1", f"{code} X20 Y0 Z-3 I10 F1000")
    (cut,) = carving
    edge = (10 - 10 * math.sqrt(0.5), -side * 10 * math.sqrt(0.5))
    np.testing.assert_allclose(cut.path.xy, [edge, [20, 0]], atol=1e-12)
    np.testing.assert_allclose(cut.path.sweep, [side * 135], atol=1e-12)
    np.testing.assert_array_equal(cut.path.depth, [0, 3])
    assert cut.path.length == pytest.approx(10 * math.pi * 0.75)
    np.testing.assert_allclose(cut.path.position(cut.path.length / 3), [10, -side * 10], atol=1e-9)  # at the bottom
    assert {t.kind for t in carving.air_moves[2:]} == {"air"}
    is_a_chain(carving)


def test_a_full_turn_is_parted_at_the_face() -> None:
    """One turn about (10, 0) from z = 1 to -7: an eighth is air, the other 315 degrees become four equal arcs."""
    (cut,) = read(*HEAD, "G0 Z1", "G3 X0 Y0 Z-7 I10 F1000")
    at = np.radians(180 + 45 + 315 / 4 * np.arange(5))
    np.testing.assert_allclose(cut.path.xy, 10 * np.column_stack([1 + np.cos(at), np.sin(at)]), atol=1e-9)
    np.testing.assert_allclose(cut.path.sweep, 315 / 4)
    np.testing.assert_allclose(cut.path.depth, [0, 1.75, 3.5, 5.25, 7], atol=1e-12)


def test_a_ramp_from_the_face_itself() -> None:
    (cut,) = read(*HEAD, "G1 Z0 F300", "X10 Z-2 F1000")
    np.testing.assert_array_equal(cut.path.depth, [0, 2])
    np.testing.assert_array_equal(cut.path.xy, [[0, 0], [10, 0]])


def test_a_ramp_that_goes_almost_straight_down_is_a_plunge() -> None:
    """It leaves 0.75 nm of groove; a level step of 0.5 nm is no move at all."""
    carving = read(*HEAD, "G0 Z1", "G1 X0.0000015 Z-1 F300", "X10", "Z-1.5", "G91 G1 X0.0000005", "G90 G1 X20")
    assert [t.kind for t in carving.air_moves] == ["rapid", "rapid", "air"]
    (cut,) = carving
    assert cut.path.depth.tolist() == [0, 1, 1, 1.5, 1.5]
    assert np.flatnonzero(cut.path.pieces[:, 4] == 0).tolist() == [0, 2]
    assert cut.path.length == pytest.approx(20, abs=3e-6)
    is_a_chain(carving)


# --- feeds -----------------------------------------------------------------------------------------------


def test_feed_is_that_in_space() -> None:
    """NISTIR 6556: F is the speed along the path in space. 4 mm along, 3 mm down: F 1000 gives 800 in the face."""
    (cut,) = read(*HEAD, "G1 Z0 F300", "X4 Z-3 F1000", "X20", "X24 Z0")
    assert (cut.feed, cut.path.length) == (1000, 24)
    np.testing.assert_allclose(cut.face_feeds, [800, 1000, 800])
    assert cut.duration == pytest.approx((5 + 16 + 5) / 1000 * 60)


def test_feed_on_a_helix() -> None:
    """Along the helix: half a turn of 10 pi mm, 6 mm deeper."""
    (cut,) = read(*DOWN, "G3 X-20 Z-8 I-10 F1500")
    assert cut.face_feeds[1:] == pytest.approx([1500 * 10 * math.pi / math.hypot(10 * math.pi, 6)], rel=1e-9)


def test_feed_in_inverse_time() -> None:
    """G93 F20: the 5 mm of the ramp take 1/20 min, 100 mm/min in space, 80 in the face."""
    (cut,) = read(*HEAD, "G1 Z0 F300", "G93 G1 X4 Z-3 F20")
    assert cut.feed == pytest.approx(100)
    assert cut.face_feeds == pytest.approx([80])


# --- lines and arcs stay what they are -------------------------------------------------------------------


def test_a_full_circle_is_four_quarters() -> None:
    (cut,) = read(*DOWN, "G2 X0 I5 F1000")
    np.testing.assert_allclose(bare(cut.path).xy, [[0, 0], [5, 5], [10, 0], [5, -5]], atol=1e-12)
    np.testing.assert_allclose(bare(cut.path).sweep, -90)
    assert bare(cut.path).closed
    assert cut.path.length == pytest.approx(10 * math.pi)
    (same,) = read(*DOWN, "G3 X0 I5 F1000")
    np.testing.assert_allclose(bare(same.path).sweep, 90)


@pytest.mark.parametrize(
    ("row", "sweeps", "length"),
    [
        ("G2 X10 Y10 J10 F900", [-270], 15 * math.pi),
        ("G3 X10 Y10 I10 J0 F900", [270], 15 * math.pi),
        ("G3 X10 Y10 J10 F900", [90], 5 * math.pi),
        ("G3 X10 Y10 R10 F900", [90], 5 * math.pi),
        ("G3 X10 Y10 R-10 F900", [270], 15 * math.pi),
        ("G2 X5 Y8.660254038 I10 F900", [-60], 10 * math.pi / 3),
        ("G3 X5 Y8.660254038 I10 F900", [75] * 4, 10 * math.pi * 5 / 3),
    ],
)
def test_arcs_stay_arcs(row: str, sweeps: list[float], length: float) -> None:
    """From (0, 0); the last two end 60 degrees on along the circle of radius 10 about (10, 0), or 300 the other way."""
    (cut,) = read(*DOWN, row)
    np.testing.assert_allclose(bare(cut.path).sweep, sweeps, atol=1e-7)
    assert cut.path.length == pytest.approx(length)


def test_a_helix_downwards_is_one_path() -> None:
    """Two full turns and a level one: depth linear along each, open since it ends deeper than it began."""
    turns = ["G3 X0 Z-3 I-10 F1000", "X0 Z-4 I-10", "X0 I-10"]
    (cut,) = read(*DOWN, *turns)
    assert len(cut.path.sweep) == 13
    assert not cut.path.closed
    np.testing.assert_allclose(cut.path.depth, [0, 2, 2.25, 2.5, 2.75, 3, 3.25, 3.5, 3.75, 4, 4, 4, 4, 4], atol=1e-12)


def test_a_mismatch_of_radii_within_the_rule() -> None:
    """0.0019 mm is legal (3.5.3.2): a full turn may end beside its start; the path stays near the circle."""
    with pytest.warns(RS274Warning, match="^line 4: .*read as a full circle"):
        (cut,) = read(*DOWN, "G3 X0.0019 I10 F1000")
    centre = np.array([10.0, 0.0])
    radii = np.hypot(*(cut.path.position(np.linspace(0, cut.path.length, 200)) - centre).T)
    assert (np.abs(radii - 10) < 0.0025).all()
    assert np.hypot(*(cut.path.xy[3] - centre)) == pytest.approx(10 - 0.0019 / 2, abs=1e-9)  # half-way round
    assert not cut.path.closed
    assert cut.path.length == pytest.approx(20 * math.pi, rel=1e-3)


def test_contours_close() -> None:
    """The cut that a new speed begins, deep in the wood, closes; one that is plunged into has a start of its own."""
    square = ["X10 F1000", "Y10", "X0", "Y0"]
    there = [*DOWN, "X-5 F1000", "X0", "S17000"]

    def second(*rows: str) -> cs.Path:
        return read(*there, *rows).cuts[1].path

    path = second(*square)
    assert path.closed
    assert len(path.xy) == 4
    assert path.length == 40
    assert not second(*square, "X5").closed  # overlaps its start
    assert not second(*square[:3], "Y0.00001").closed  # 10 nm short
    assert not second(*square[:3], "Y0 Z-2.1").closed  # ends deeper
    assert not second("X10", "X0").closed  # there and back
    assert not second(*square, "G4 P1", "G0 Z5").closed  # stands where it ends
    assert not second(*square, "Z-1").closed  # lifts there
    assert second("G3 X10 R5", "G3 X0 R5").closed
    (plunged,) = read(*DOWN, *square, "G0 Z5")
    assert not plunged.path.closed
    assert bare(plunged.path) == path


# --- spindle ---------------------------------------------------------------------------------------------


def test_speed_set_by_hand() -> None:
    """A router with a dial: the program may say nothing, or something else."""
    bare = ["G21 G90", "G0 Z5", "G1 Z-2 F300", "X10 F1000"]
    fails("line 3: 'G1 Z-2 F300': the move meets wood but no M3 or M4", *bare)
    (cut,) = read(*bare, spindle_speed=16_000)
    assert (cut.spindle_speed, cut.spin) == (16_000, "cw")
    (cut,) = read("S12000 M4", *bare, spindle_speed=16_000)
    assert (cut.spindle_speed, cut.spin) == (16_000, "ccw")
    fails("line 3: .*marked maximum of 24000 rpm, got 25000", *bare, spindle_speed=25_000)


def test_machine_is_passed_on() -> None:
    machine = cs.Machine(500.0, 6000.0)
    assert read(*DOWN, "X10 F1000", machine=machine).cuts[0].machine == machine


# --- refusals --------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("match", "lines"),
    [
        ("line 4: 'G0 X10': a rapid through wood", [*DOWN, "G0 X10"]),
        ("line 5: 'G0 X10 Z5': a rapid through wood", [*DOWN, "X1 F500", "G0 X10 Z5"]),
        ("line 3: 'G0 X10 Z-1': a rapid through wood", [*HEAD, "G0 X10 Z-1"]),
        ("line 5: 'X1': a rapid through wood", [*HEAD, "G1 X5 F500", "G0 Z-1", "X1"]),
        ("line 3: .*no M3 or M4", ["G21 F500", "G0 Z5", "G1 Z-1"]),
        ("line 4: 'X10': .*no M3 or M4", ["G21 F500 S18000 M3", "G1 Z-1", "M5", "X10"]),
        ("line 3: .*no M3 or M4", ["G21 F500 S18000", "G0 Z5", "G1 X9 Z-1"]),
        ("line 2: .*no speed", ["G21 F500 M3", "G1 Z-1"]),
        ("line 5: 'X20 S25000': .*marked maximum of 24000 rpm, got 25000", [*DOWN, "X10 F500", "X20 S25000"]),
        ("line 3: 'G1 Z-1': .*marked maximum", ["G21 F500 S30000 M3", "G0 Z5", "G1 Z-1"]),
        ("line 3: 'G1 Z-8.1 F300': depth must lie .*cutting length, .*8.*got 8.1", [*HEAD, "G1 Z-8.1 F300", "X10"]),
        ("line 5: 'X20 Z-9': depth must lie", [*DOWN, "X10 F500", "X20 Z-9", "X30"]),
        ("line 4: 'X10 F30': feed must lie in .*got 30.*inches per minute", [*DOWN, "X10 F30"]),
        ("line 4: 'X10 F90000': feed must lie in", [*DOWN, "X10 F90000"]),
        ("line 3: 'G1 Z-1 F300': spindle_speed must lie in", ["G21 S900 M3", "G0 Z5", "G1 Z-1 F300", "X10 F500"]),
        ("line 4: 'G18 G2 X4 Z-2 I2 F500': an arc in the ZX plane below", [*DOWN, "G18 G2 X4 Z-2 I2 F500"]),
        ("line 3: .*an arc in the YZ plane below", [*HEAD, "G19 G3 Y10.2 J5.1 F500"]),
        ("line 3: .*an arc in the ZX plane below", [*HEAD, "G18 G3 X-10.2 I-5.1 F500"]),
        ("line 3: .*an arc in the ZX plane below", [*HEAD, "G18 G2 X10.2 I5.1 F500"]),
        ("line 3: 'G0 X200000': the move leaves the range", [*HEAD, "G0 X200000"]),
        ("line 2: 'G0 Z5': the program cuts nothing", HEAD),
        ("line 3: 'G1 Q1': .*NISTIR 6556", [*HEAD, "G1 Q1"]),
    ],
)
def test_refusals_name_line_and_rule(match: str, lines: list[str]) -> None:
    fails(match, *lines)


def test_the_move_to_blame_is_found_among_many() -> None:
    """A path deeper than 200 mm, with a bit that does not say how long it is: the 71st of 100 pieces."""
    rows = [f"X{k} Z{-2 if k < 71 else -201}" for k in range(1, 101)]
    fails("line 74: 'X71 Z-201': depth", *DOWN[:2], "G1 Z-2 F50000", *rows, bit=LONG)
    rows[70:] = ["X71 Z-3", "X72 Z-199 F50"]
    long = [f"X{1000 * k} Z{-2 - 2 * k}" for k in range(1, 121)]  # a single cut, too deep from its 100th piece on
    fails("line 103: 'X100000 Z-202': depth", *DOWN[:2], "G1 Z-2 F5000", *long[:100], bit=LONG)
    short = [f"X{500 * k} Z{-2 - 2 * k}" for k in range(1, 121)]
    for count in range(100, 121):
        fails("line 103: 'X50000 Z-202': depth", *DOWN[:2], "G1 Z-2 F5000", *short[:count], bit=LONG)
    fails("line 75: 'X72 Z-199 F50': feed must", *DOWN[:2], "G1 Z-2 F5000", *rows, bit=LONG)


def test_arcs_of_other_planes_in_air() -> None:
    """From z = 5, seen from the positive end of the third axis: G2 over the top, G3 of radius 5 down to the face."""
    tail = ["G17 G0 Z5", "G1 Z-1 F300", "X90 F1000"]
    for row in (
        "G18 G2 X-10 I-5",
        "G18 G3 X-10 I-5",
        "G19 G2 Y10 J5",
        "G19 G3 Y10 J5",
        "G18 G3 X0 I0 K3",
        "G18 G2 X0 K9",
    ):
        carving = read(*HEAD, f"{row} F500", *tail)
        assert len(carving) == 1
        assert "air" in {t.kind for t in carving.air_moves}
        is_a_chain(carving)


def test_rapids_up_and_down_a_groove() -> None:
    """Straight up is how programs retract; straight down is believed, with a warning."""
    rows = [*DOWN, "X10 F500", "G0 Z5", "G0 X5", "G0 Z-2", "G1 X0", "G0 Z5"]
    with pytest.warns(RS274Warning, match="line 7: a rapid goes straight down below the face"):
        carving = read(*rows)
    assert len(carving) == 2
    assert carving.air_moves[-2].kind == "rapid"


def test_warnings_name_the_caller() -> None:
    with pytest.warns(RS274Warning, match="line 5: the program ends here without M2") as caught:
        read_rs274("\n".join([*DOWN, "X10 F500"]) + "\n", BIT)
    assert caught[0].filename == __file__
    with pytest.warns(RS274Warning, match="line 5: the program ends here without M2") as caught:
        rs274.read_moves("\n".join([*DOWN, "X10 F500"]) + "\n")
    assert caught[0].filename == __file__


# --- where programs come from ----------------------------------------------------------------------------

PROGRAM = "\n".join([*DOWN, "X10 F500", "M2"])


def test_files_and_text(tmp_path: Path) -> None:
    file = tmp_path / "plan one.nc"
    file.write_bytes(b"\xef\xbb\xbf" + PROGRAM.replace("\n", "\r\n").encode())
    expected = read_rs274(PROGRAM, BIT)
    for source in (file, str(file), "\ufeff" + PROGRAM, PROGRAM.replace("\n", "\r")):
        carving = read_rs274(source, BIT)
        assert carving.cuts == expected.cuts
        assert carving.air_moves == expected.air_moves
        assert carving.name == ("carving" if isinstance(source, str) and source != str(file) else "plan one")
    assert read_rs274(file, BIT, name="house").name == "house"


def test_files_that_cannot_be_read(tmp_path: Path) -> None:
    (tmp_path / "wide.nc").write_bytes(PROGRAM.encode("utf-16"))
    with pytest.raises(RS274Error, match=r"line 1: .*characters the language does not have"):
        read_rs274(tmp_path / "wide.nc", BIT)
    for missing in (
        tmp_path / "none.nc",
        str(tmp_path / "none.nc"),
        tmp_path,
        "G1 X10",
        "",
        "\0",
        "x" * 5000,
        "\ud800",
    ):
        with pytest.raises(RS274Error, match="path_or_text"):
            read_rs274(missing, BIT)


def test_block_delete() -> None:
    rows = [*DOWN, "X10 F500", "/Y10"]
    assert read(*rows).length == 20
    assert read(*rows, block_delete=True).length == 10


@pytest.mark.parametrize(
    ("what", "options"),
    [
        ("bit", {"bit": "90 degrees"}),
        ("name", {"name": 3}),
        ("block_delete", {"block_delete": 1}),
        ("machine", {"machine": "big"}),
        ("face", {"face": math.nan}),
        ("spindle_speed", {"spindle_speed": 18}),
        ("path_or_text", {"path_or_text": 7}),
    ],
)
def test_arguments(what: str, options: dict[str, Any]) -> None:
    with pytest.raises(cs.DomainError, match=what):
        read_rs274(**{"path_or_text": PROGRAM, "bit": BIT, **options})


# --- writing ---------------------------------------------------------------------------------------------


def flat(carving: cs.Carving) -> list[cs.Cut]:
    """Cuts as a machine makes them: earlier passes first."""
    return [c for cut in carving for c in (*cut.earlier_passes(), replace(cut, passes=None))]


def assert_same(written: cs.Carving, found: cs.Carving, decimals: int) -> None:
    """Same cuts within rounding: a vertex moves by at most a unit, so a station by at most two for each piece."""
    cuts = flat(written)
    assert len(found) == len(cuts)
    for one, two in zip(cuts, found, strict=True):
        assert two.spindle_speed == one.spindle_speed
        assert two.spin == one.spin
        path = bare(two.path) if one.path.depth[0] > 0 else two.path
        assert two.feed_along == "space"
        moving = two.path.pieces[:, 4] > 0
        # F has one decimal less than coordinates have
        assert all(np.abs(one.feeds - feed).min() <= 5.0 * 10.0**-decimals + 1e-6 for feed in two.feeds[moving])
        assert path.closed == one.path.closed
        tolerance = (4 + 4 * len(one.path.sweep)) * 10.0**-decimals
        assert path.length == pytest.approx(one.path.length, abs=tolerance)
        share = np.linspace(0, 1, 41)
        at, there = share * one.path.length, share * path.length
        np.testing.assert_allclose(path.position(there), one.path.position(at), atol=tolerance)
        steepest = float(np.abs(one.path.pieces[:, 6]).max())
        np.testing.assert_allclose(path.depth_at(there), one.path.depth_at(at), atol=tolerance * (1 + steepest), rtol=0)


@st.composite
def carvings(draw: st.DrawFn) -> cs.Carving:
    cuts = []
    for _ in range(draw(st.integers(1, 3))):
        path = draw(paths(pieces=5)).shifted(draw(reals(-80, 80)), draw(reals(-80, 80)))
        speed = round(draw(reals(1, 24)) * 1000, 6)
        feed = draw(st.one_of(st.sampled_from([100, 1500, 20_000]), reals(100, 9000)))
        passes = draw(st.sampled_from([None, None, [0.1], [0.25, cs.Pass(0.1, reversed=True, feed=900)]]))
        cuts.append(cs.Cut(LONG, path, speed, feed, spin=draw(spins), passes=passes))
    return cs.Carving(tuple(cuts))


@steadily(150)
@given(carvings(), st.integers(4, 9))
def test_round_trip(carving: cs.Carving, decimals: int) -> None:
    if max(float(cut.feeds.max()) for cut in flat(carving)) > 60_000 * (1 - 1e-3):
        # a feed in the face that a steep ramp makes one in space which nobody types
        with contextlib.suppress(cs.DomainError):
            write_rs274(carving, decimals=decimals)
        return
    text = write_rs274(carving, decimals=decimals)
    found = read_rs274(text, LONG)
    assert_same(carving, found, decimals)
    is_a_chain(found, 10.0**-decimals)
    assert_same(found, read_rs274(write_rs274(found, decimals=9), LONG), 9)
    is_plain(text)


def is_plain(text: str) -> None:
    """What every controller takes: short ASCII lines, comments without brackets in them, numbers without exponents."""
    assert text.isascii()
    assert text.endswith("\nM5\nM2\n")
    for row in text.splitlines():
        assert len(row) <= 256
        assert re.fullmatch(
            r"\([^()\[\]{};%]*\)|[GM][0-9]+( [A-Z]-?[0-9]+(\.[0-9]+)?)*|S[0-9.]+ M[34]|(G[0-9]+ ?)+", row
        )


@pytest.mark.parametrize(
    "path",
    [
        cs.ring(20, 2.5),
        cs.oval(150, 95, 2),
        cs.rosette(34, 14, 8, 2.6),
        cs.spiral(5, 30, 4, (0.5, 3)),
        cs.arc((3, 4), 10, 20, 360, (1, 2)),
        cs.arc((0, 0), 2000, 0, 1, 1),
        cs.Path([[0, 0], [5, 0.25]], 1.0, sweep=[355.0]),
        cs.Path([[0, 0], [0.2504337, 0.1004443]], 1.0, sweep=[359.7]),
        cs.Path([[0, 0], [90, 0.25]], 1.0, sweep=[1e-3]),
        cs.polyline([(0, 0), (10, 0), (10, 10)], [0.0, 2.0, 1.0], closed=True),
    ],
    ids=[
        "ring",
        "oval",
        "rosette",
        "spiral",
        "turn",
        "flat arc",
        "nearly full",
        "fuller",
        "nearly straight",
        "ramped loop",
    ],
)
def test_round_trip_of_known_paths(path: cs.Path) -> None:
    carving = cs.Carving((cs.Cut(LONG, path, 18_000, 1500),))
    assert_same(carving, read_rs274(write_rs274(carving, decimals=7), LONG), 7)
    assert_same(carving, read_rs274(write_rs274(carving, decimals=3), LONG), 3)


def test_flat_arcs_are_written_as_lines() -> None:
    """90 mm at 0.001 degrees bow by 0.0002 mm; 1 m at 1e-9 degrees by 2e-9 mm, with a radius of 6e13 mm."""
    flat = cs.Cut(LONG, cs.Path([[0, 0], [90, 0.25]], 1.0, sweep=[1e-3]), 18_000, 1500)
    assert "G3" not in write_rs274(flat, decimals=3)
    assert "G3" in write_rs274(flat, decimals=4)
    assert "G3" not in write_rs274(replace(flat, path=cs.Path([[0, 0], [1e3, 0.25]], 1.0, sweep=[1e-9])), decimals=9)


def test_pieces_lost_in_rounding_are_left_out() -> None:
    path = cs.polyline([(0, 0), (10, 0), (10, 1e-5), (10, 9)], 1)
    code = write_rs274(cs.Cut(LONG, path, 18_000, 1500)).splitlines()
    assert code[-6:] == ["G1 Z-1 F300", "G1 X10 Y0 F1500", "G1 X10 Y9", "G0 Z5", "M5", "M2"]


def test_what_is_not_read_back_is_not_written(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The writer does not trust itself: a fault planted in it is found before anything is written."""
    monkeypatch.setattr(
        rs274.writer._Program, "_word", lambda self, letter, value, digits: (value, f"{letter}{value + 1:.2f}")
    )
    with pytest.raises(cs.DomainError, match="not read back"):
        write_rs274(cs.Cut(BIT, cs.line((0, 0), (9, 0), 2), 18_000, 1500), tmp_path / "a.nc")
    assert not list(tmp_path.iterdir())


def test_round_trip_of_the_example() -> None:
    carving = read_rs274(EXAMPLE, BIT)
    again = read_rs274(write_rs274(carving), BIT)
    assert again.cuts[:-1] == carving.cuts[:-1]  # all but the swash has round numbers
    assert_same(carving, again, 4)


STAYS = {
    "stay": (
        cs.Path(
            [[0, 0], [0, 0], [10, 0], [10, 0], [10, 0], [20, 5], [20, 5]],
            [0, 1, 1, 0.5, 2, 2, 0.25],
            dwell=[0, 0.125, 0, 0.2, 0, 0, 0.3],
        ),
        [200, 1500, 900, 250, 1400, 800],
    ),
    "dot": (cs.dot((3, 4), 1.5, dwell=0.1), [240]),
    "helix": (
        cs.Path([[1.5, 0], [1.5, 0], [-1.5, 0], [1.5, 0], [1.5, 4]], [0, 0.5, 1, 1.5, 1.5], sweep=[0, -180, -180, 0]),
        [300, 1500, 1200, 1200],
    ),
}


@pytest.mark.parametrize("name", STAYS)
def test_a_stay_is_read_back_with_the_same_motion(name: str) -> None:
    path, feeds = STAYS[name]
    for along in ("space", "face"):
        cut = cs.Cut(LONG, path, 18_000, feeds, feed_along=along)
        (found,) = read_rs274(write_rs274(cut, decimals=9), LONG)
        np.testing.assert_allclose(found.motion, cut.motion, rtol=1e-9, atol=1e-8)
        assert found.path == path


def test_program_of_a_skimmed_ramp() -> None:
    """To the letter: rough pass first, F in space (1000 x 5/4 on the 3-4-5 ramp), header, spindle started in air."""
    cut = cs.Cut(BIT, cs.Path([[10, 0], [50, 0], [54, 0]], [3, 3, 0]), 18_000, 1000, passes=[cs.Pass(1, feed=1200)])
    rows = write_rs274(cs.Carving((cut,), name="trial (A) [1]; é%\nnext")).splitlines()
    code = [row for row in rows if row[0] != "("]
    assert code == [
        "G21 G90 G17 G94",
        "G0 Z5",
        "G0 X10 Y0",
        "S18000 M3",
        "G4 P3",
        "G1 Z-2 F300",
        "G1 X50 Y0 F1200",
        "G1 X52.6667 Y0 Z0 F1500",
        "G1 X54 Y0 F1200",
        "G0 Z5",
        "G0 X10 Y0",
        "G1 Z-3 F300",
        "G1 X50 Y0 F1000",
        "G1 X54 Y0 Z0 F1250",
        "G0 Z5",
        "M5",
        "M2",
    ]
    header = "\n".join(rows[: rows.index(code[0])])
    for words in (
        "(Carving: trial A 1 next)", "mm/min", "z = 0", "90 degrees", "12.7 mm", "24000 rpm", "CHECK BEFORE USE",
        "in air first", "marking of the bit", "manuals", "earlier passes: 1", "z = 5 mm", "300 mm/min",
    ):  # fmt: skip
        assert words in header, words
    assert "not known here: read it on the bit" in write_rs274(replace(cut, bit=LONG))
    long = write_rs274(cs.Carving((cut,), name="so long a name that it fills lines " * 20))
    assert max(map(len, long.splitlines())) <= 102
    assert "(Bit: profile bit, diameter 8 mm" in write_rs274(replace(cut, bit=cs.ProfileBit([0, 5], [0, 4])))


def test_spindle_is_stopped_before_it_turns_the_other_way() -> None:
    one = cs.Cut(BIT, cs.line((0, 0), (9, 0), 1), 18_000, 1000)
    job = cs.Carving((one, one, replace(one, spindle_speed=9000), replace(one, spindle_speed=9000, spin="ccw")))
    text = write_rs274(job, speed_by_hand=False)
    code = [row for row in text.splitlines() if row[0] in "SM" or row[:2] == "G4"]
    assert code == ["S18000 M3", "G4 P3", "S9000 M3", "G4 P3", "M5", "G4 P3", "S9000 M4", "G4 P3", "M5", "M2"]
    assert "dial to mark" not in text


def test_a_program_waits_until_the_dial_has_been_turned() -> None:
    """RS-274/NGC 3.6.1: M0 stops the program until it is started again; the spindle stands while the dial is turned."""
    machine = cs.Machine(400, 4000, dial=cs.Dial([1, 2, 4], [9000, 12_000, 18_000]))
    one = cs.Cut(BIT, cs.line((0, 0), (9, 0), 1), 18_000, 1000, machine=machine)
    job = cs.Carving((one, replace(one, spindle_speed=10_500), replace(one, spindle_speed=20_000)))
    rows = write_rs274(job).splitlines()
    code = [row for row in rows if row[0] in "SM" or row[:2] == "G4"]
    stop = ["M5", "M0", "{} M3", "G4 P3"]
    assert code == ["S18000 M3", "G4 P3", *(w.format(s) for s in ("S10500", "S20000") for w in stop), "M5", "M2"]
    said = [row for row in rows if "BEFORE THE START" in row or "STOP" in row]
    assert [
        words in row for words, row in zip(("to mark 4,", "to mark 1.5,", "beyond the readings"), said, strict=True)
    ]
    # the tool is in the air when it stops, and what is cut does not change
    for k in (k for k, row in enumerate(rows) if row == "M0"):
        assert next(row for row in reversed(rows[:k]) if row[:2] in ("G0", "G1")).startswith("G0 ")
    by_program = cs.read_rs274(write_rs274(job, speed_by_hand=False), BIT)
    assert [c.path for c in cs.read_rs274("\n".join(rows) + "\n", BIT)] == [c.path for c in by_program]
    assert all("M0" not in row for row in write_rs274(cs.Carving((one, one))).splitlines())
    with pytest.raises(cs.DomainError, match="speed_by_hand"):
        write_rs274(one, speed_by_hand="no")  # type: ignore[arg-type]
    with pytest.raises(cs.DomainError, match="remarks"):
        write_rs274(one, remarks="a word")


def test_stretches_on_the_face_come_back_as_air() -> None:
    """A path that rises to the face, runs along it and dives again cuts two grooves."""
    path = cs.Path([[0, 0], [10, 0], [20, 0], [30, 0]], [1, 0, 0, 1])
    found = read_rs274(write_rs274(cs.Cut(LONG, path, 18_000, 1000)), LONG)
    assert [c.path.length for c in found] == [10, 10]
    assert [t.kind for t in found.air_moves if t.before == 1] == ["air"]


def test_decimals_grow_where_they_must() -> None:
    path = cs.Path([[0, 0], [10, 0], [10.00002, 0], [20, 0]], [1, 1, 1.0001, 1.0001])
    cut = cs.Cut(LONG, path, 18_000, 1000)
    assert_same(cs.Carving((cut,)), read_rs274(write_rs274(cut, decimals=5), LONG), 5)
    # with four decimals it goes straight down there
    (found,) = read_rs274(write_rs274(cut), LONG)
    assert np.flatnonzero(found.path.pieces[:, 4] == 0).tolist() == [0, 2]
    deep = replace(cut, bit=replace(LONG, cutting_length=1.23456), path=cs.line((0, 0), (9, 0), 1.23456))
    assert "Z-1.23456 " in write_rs274(deep)  # 1.2346 would be deeper than the bit allows


def test_files_are_written_whole_or_not_at_all(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    cut = cs.Cut(BIT, cs.ring(20, 2.5), 18_000, 1500)
    file = tmp_path / "ring.nc"
    text = write_rs274(cut, file)
    assert file.read_bytes().decode("ascii") == text
    file.write_text("kept", encoding="ascii")
    with pytest.raises(cs.DomainError, match="bit"):
        write_rs274(cs.Carving((cut, replace(cut, bit=LONG))), file)

    def trip(*_: object) -> None:
        raise OSError("disk full")

    monkeypatch.setattr(os, "replace", trip)
    with pytest.raises(OSError, match="disk full"):
        write_rs274(cut, str(file))
    assert [p.name for p in tmp_path.iterdir()] == ["ring.nc"]
    assert file.read_text(encoding="ascii") == "kept"


@pytest.mark.parametrize(
    ("what", "options"),
    [
        ("carving", {"carving": cs.ring(20, 2)}),
        ("safe_height", {"safe_height": 0.0}),
        ("safe_height", {"safe_height": math.nan}),
        ("plunge_feed", {"plunge_feed": 0}),
        ("decimals", {"decimals": 2}),
        ("decimals", {"decimals": 4.5}),
        ("decimals", {"decimals": 12}),
    ],
)
def test_arguments_of_the_writer(what: str, options: dict[str, Any]) -> None:
    with pytest.raises(cs.DomainError, match=what):
        write_rs274(**{"carving": cs.Cut(BIT, cs.ring(20, 2), 18_000, 1500), **options})


# --- fuzz: a carving, or the reader's own error, never anything else ------------------------------------------


def reads_or_refuses(text: str, **options: Any) -> None:
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", RS274Warning)
        try:
            carving, refusal = read_rs274(text + "\n", BIT, **options), ""
        except RS274Error as error:
            carving, refusal = None, str(error)
    if carving is None:
        assert re.match(r"line [1-9][0-9]*: ", refusal)
        return
    is_a_chain(carving, 1e-4)
    for cut in carving:
        assert cut.path.depth.max() > 0
        assert cut.spindle_speed <= 24_000
        assert cut.path.depth.max() <= 8 + 1e-9


SPICE = "GMXYZIJKRFSPTN0123456789.+-#[]=/*%;() \t\n\rgxyzsincoatqrd"
BASES = [
    EXAMPLE.read_text(encoding="utf-8") if EXAMPLE.exists() else PROGRAM,
    write_rs274(cs.Cut(BIT, cs.rosette(9, 5, 3, 1, tolerance=0.05), 18_000, 1500, passes=[0.2])),
    "\n".join([*DOWN, "X10 F500", "G91 G2 X5 Y5 Z-1 I5 (arc)", "G18 G3 X3 K2", "G93 G1 X1 Z3 F9", "G4 P1", "M4", "M2"]),
    "\n".join([*HEAD, "#1=2 G20 F40", "/G1 X[#1/3] Z-.1", "G17 G3 X#1 Z.1 R-2", "G92 X0", "G0 X1 Z-.05", "%"]),
]


@steadily(100)
@given(st.text(max_size=150) | st.text(SPICE, max_size=150))
def test_random_text(text: str) -> None:
    reads_or_refuses(text)


@steadily(400)
@given(
    st.sampled_from(BASES),
    st.lists(
        st.tuples(st.sampled_from("idrts"), st.integers(0, 3000), st.integers(0, 3000), st.sampled_from(SPICE)),
        max_size=6,
    ),
    st.sampled_from([{}, {}, {"face": -1.5}, {"face": 2, "spindle_speed": 15_000}]),
)
def test_mutated_programs(text: str, edits: list[tuple[str, int, int, str]], options: dict[str, Any]) -> None:
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
    reads_or_refuses(text, **options)


coordinate = st.one_of(
    st.integers(-4, 4).map(str), st.floats(-9, 9).map(lambda x: f"{x:.10f}"), st.sampled_from([".0000009", "-99999"])
)


@st.composite
def rows_that_move(draw: st.DrawFn) -> str:
    code = draw(st.sampled_from(["G0", "G1", "G1", "G2", "G3"]))
    letters = draw(st.lists(st.sampled_from("XYZ"), min_size=1, unique=True))
    letters += draw(st.sampled_from(["IJ", "R", "IK", "JK"])) if code in ("G2", "G3") else ""
    extra = draw(
        st.sampled_from(["", "", "", "G17", "G18", "G19", "G20 F30", "G21 F700", "G91", "G90", "S9000", "F80"])
    )
    return " ".join([code, *(letter + draw(coordinate) for letter in letters), extra])


@steadily(300)
@given(st.lists(rows_that_move(), min_size=1, max_size=12), st.sampled_from([0.0, 1.0, -0.5]))
@example(["G1 Z-1", "G3 X0 Z-1 I.0000003"], 0.0)
@example(["G1 Z-1", "G3 X.0000000011 I.5 J0"], 0.0)
@example(["G1 X99999 Z-1", "G2 X-99999 Y1 R99999999"], 0.0)
def test_programs_made_by_the_grammar(rows: list[str], face: float) -> None:
    reads_or_refuses("\n".join(["G21 F600 S18000 M3", *rows, "M2"]), face=face)
    for count in range(1, len(rows)):  # a refusal hides what follows it
        reads_or_refuses("\n".join(["G21 F600 S18000 M3", "G0 Z1", "G1 X1 Z-1", *rows[count:], "M2"]), face=face)


# --- size ------------------------------------------------------------------------------------------------


def long_program(lines: int) -> str:
    """Sixteen lines a groove: plunge, lines, arcs, a helix, retract."""
    rows = [
        "G0 X1 Y1", "G1 Z-2 F300", "G1 X20 F1500", "Y9", "G3 X15 Y14 I-5", "G1 X6", "G3 X1 Y9 R5", "G1 Y1", "G0 Z3",
        "G0 X9 Y9", "G1 Z0 F600", "G3 X12 Z-1 R3", "G2 X15 R3", "G1 X18 Z1", "G0 Z5", "(next)",
    ]  # fmt: skip
    return "\n".join([*HEAD, *(rows[k % 16] for k in range(lines)), "M2"])


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
            read_rs274(text, BIT)
        finally:
            sys.setprofile(before)
        return counted

    few, more, most = calls(320), calls(640), calls(1280)
    assert most - more == pytest.approx(2 * (more - few), rel=0.01)


def test_a_hundred_thousand_lines() -> None:
    """A generous bound, no measurement: one closed groove and a swash of three slopes in sixteen lines."""
    began = time.process_time()
    carving = read_rs274(long_program(100_000), BIT)
    assert time.process_time() - began < 30
    assert len(carving) == 2 * 100_000 // 16
    assert sum(bare(cut.path).closed for cut in carving) == 100_000 // 16


def test_an_arc_in_air_that_leaves_the_range():
    """Its ends lie at home, its middle 5 km away; once found by the grammar below."""
    with pytest.raises(RS274Error, match=r"line 3: .*leaves the range of"):
        read_rs274("G20 F30\nG0 X0\nG2 X0 I0 J-99999\nM2\n", BIT)


def test_one_path_of_fifty_thousand_pieces() -> None:
    rows = [f"X{k % 100} Y{k // 100}" for k in range(1, 50_001)]
    (cut,) = read(*DOWN[:2], "G1 Z-2 F300", "F1500", *rows)
    assert len(cut.path.sweep) == 50_001


def test_nothing_runs_what_it_reads() -> None:
    for module in (rs274.interpreter, rs274.reader, rs274.writer):
        assert not re.search(r"\b(eval|exec|compile)\(", inspect.getsource(module).replace("re.compile(", ""))


def test_public_names() -> None:
    assert cs.read_rs274 is read_rs274
    assert cs.write_rs274 is write_rs274
    assert {"read_rs274", "write_rs274", "read_moves"} <= set(rs274.__all__)


def test_a_feed_is_written_as_people_write_it() -> None:
    """A ramp's feed in space is the face's times its slope; of its decimals a program says one less than of places."""
    ramp = cs.line((0, 0), (30, 0), 0.5).with_depth(lambda s: 0.5 + s / 30)
    by_hand = 1400 * math.hypot(30, 1) / 30  # 1400.7775...
    for decimals in (3, 4, 9):
        rows = write_rs274(cs.Cut(BIT, ramp, 18_000, 1400), decimals=decimals).splitlines()
        words = [word for row in rows if not row.startswith("(") for word in row.split() if word[0] == "F"]
        assert words == ["F300", f"F{by_hand:.{decimals - 1}f}"]
