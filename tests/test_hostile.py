"""Hostile input: every public name with wild but typed values, several arguments spoilt at once.

What may come out: a result, the library's own error, or an error that the docstring names; in bounded time, without a
warning that the docstring does not name; and NaN only where a docstring says so (`DOCUMENTED`). One argument at a time
is `test_bad_input.py`'s matter.
`CHIPSIM_HOSTILE=10 pytest tests/test_hostile.py` tries ten times as many cases.
"""

from __future__ import annotations

import dataclasses
import inspect
import os
import tempfile
import time
import warnings
from collections.abc import Callable, Mapping
from decimal import Decimal
from fractions import Fraction
from functools import cache
from typing import Any

import matplotlib.pyplot as plt
import numpy as np
import pytest
from hypothesis import HealthCheck, Phase, given, settings
from hypothesis import strategies as st
from matplotlib.figure import Figure
from matplotlib.path import Path as MatplotlibPath
from names import NAMES

import chipsim as cs
from chipsim.choosing.summaries import Summary
from chipsim.damage.literature import Statement, statements
from chipsim.damage.rose import Rose
from chipsim.damage.tearout import chip_type
from chipsim.learning.book import job_piece
from chipsim.learning.grading import Grade
from chipsim.learning.wear import edge_metres
from chipsim.limits.checks import Limit, Limits, all_clear, limits_table
from chipsim.limits.lands import lands_table
from chipsim.rs274 import RS274Warning
from chipsim.scene.cuts import reached_feed
from chipsim.scene.grain import edge_angle, fibre_axis, grain_words
from chipsim.scene.machine import speed_profile
from chipsim.testing import strategies as kit

TIMES = int(os.environ.get("CHIPSIM_HOSTILE", "1"))
SLOWEST = 30.0  # s of processor time for one call; for what never returns see `faulthandler_timeout` in pyproject.toml
NAN, INF = float("nan"), float("inf")

# --- wild values ------------------------------------------------------------------------------------------------------

WILD = [NAN, INF, -INF, -0.0, 0.0, 5e-324, -5e-324, 1e-300, 1e-9, -1.0, 1.0, 1e9, 1e300, 1.7976931348623157e308, -1e308]
WILD += [2**63, -(2**63), 10**400, True, False, np.float32(0.1), np.float64(NAN), np.int64(3), np.uint8(200)]
WILD += [np.array(1.5), np.array([1.5]), np.ma.masked, 1 + 0j, np.complex128(1 + 2j), Decimal("1e-400"), Fraction(1, 3)]
WILD += [np.timedelta64(3, "s"), np.datetime64("2020-01-01"), np.bool_(True), "1", b"1", None]
ARRAYS = [
    [], (), np.zeros((0, 2)), np.zeros((2, 0)), [[]], [NAN], [1.0, NAN], [INF, -INF], [0.0], [-0.0, 5e-324],
        [1e308] * 3,
    [[0, 0], [0, 0]], [[0, 0], [1e308, 1e308]], [[0, 0], [5e-324, 0]], [[1, 2, 3]], [[1], [2, 3]],
        np.zeros((2, 2, 2)),
    np.array([1, 2], dtype=object), np.array([1.0, None], dtype=object), np.array(["1", "2"]), np.array([1 + 1j, 2]),
    np.ma.array([1.0, 2.0], mask=[True, False]), np.array([True, False]), np.array([1, 2], dtype=np.float16),
    np.array([1, 2], dtype="M8[D]"), np.arange(20.0)[::-3], np.broadcast_to(1.0, (3,)), range(3), {1.0, 2.0},
        {"a": 1.0},
    "12", b"12", [10**400], np.array([2**63], dtype=np.uint64), np.array([(1, 2)], dtype="i4,i4"), memoryview(b"ab"),
]  # fmt: skip
WORDS = ["", " ", "CW", "fuzz\x00", "Left", "зуб", "a" * 5000, b"cw", None, 3, NAN, ("cw",), ["cw"]]
THINGS = [None, 0, NAN, "word", object(), int, [], {}, np.zeros(3), lambda *a, **k: None]


def number(*inside: Any, low: float | None = None, high: float | None = None) -> st.SearchStrategy[Any]:
    """Floats of every kind; `inside` are ends and other places within the range where trouble may live."""
    some = [st.sampled_from([*WILD, *inside]), st.floats()]
    if low is not None and high is not None:
        some += [st.floats(low, high)] * 2
    if inside:
        some.append(st.sampled_from(inside))
    return st.one_of(some)


def numbers(*inside: Any) -> st.SearchStrategy[Any]:
    """Arrays and what is taken for one."""
    rows = st.lists(st.floats(), max_size=4)
    return st.one_of(
        [st.sampled_from([*ARRAYS, *WILD]), rows, rows.map(np.array), *([st.sampled_from(inside)] * 2 * bool(inside))]
    )


def words(*legal: str) -> st.SearchStrategy[Any]:
    return st.one_of(st.sampled_from([*WORDS, *legal]), st.text(max_size=8))


def thing(*good: Any) -> st.SearchStrategy[Any]:
    """Something else altogether, or an odd one of the right kind."""
    odd = st.one_of(*(g if isinstance(g, st.SearchStrategy) else st.just(g) for g in good)) if good else st.nothing()
    return st.one_of(st.sampled_from(THINGS), odd, odd, odd)


def flag() -> st.SearchStrategy[Any]:
    return st.sampled_from([True, False, 0, 1, None, "yes", np.bool_(True), NAN])


def spread(low: float, high: float) -> st.SearchStrategy[float]:
    """Legal values over a whole range, ends and magnitudes alike."""
    return st.one_of(
        st.sampled_from([low, high]),
        st.floats(np.log(low), np.log(high)).map(lambda x: float(np.clip(np.exp(x), low, high))),
    )


# --- odd things of the right kind -------------------------------------------------------------------------------------

BIT = cs.VBit(60, 12.7, 2)
WOOD = cs.wood("sugar maple")
BOARD = cs.Board(WOOD, cs.straight_grain(0))
LINE = cs.line((0, 0), (3, 0), 2.0)
MACHINE = cs.Machine(300, 5000)
DIALLED = cs.Machine(300, 5000, dial=cs.Dial([1, 2], [9150, 17_900]))
CUT = cs.Cut(BIT, LINE, 18000, 1500)


@st.composite
def odd_bits(draw: Any) -> Any:
    rake = draw(st.sampled_from([-45, 0, 10, 60]))
    edges: dict[str, Any] = {
        "flutes": draw(st.integers(1, 12)),
        "rake": rake,
        # a wedge of 15 deg at least is left between them
        "clearance": draw(st.sampled_from([c for c in (5e-324, 1e-9, 15, 60) if rake + c <= 75])),
        "edge_radius": draw(st.sampled_from([1e-6, 0.008, 0.5])),
        "runout": draw(st.sampled_from([0, 0, 5e-324, 0.02, 1.0])),
        "runout_azimuth": draw(st.sampled_from([0, -360, 37])),
        "max_spindle_speed": draw(st.sampled_from([None, None, 200_000])),
    }
    if draw(st.booleans()):
        diameter = draw(spread(1, 150))
        angle = draw(st.one_of(st.sampled_from([5, 60, 90, 180 - 1e-6]), st.floats(5, 179)))
        return cs.VBit(angle, diameter, tip_width=draw(st.sampled_from([0, 0.2, 0.999999])) * diameter, **edges)
    outline = draw(st.sampled_from([
        ([0, 1], [0, 1]), ([0, 1e-9, 1], [0, 1, 1]), ([0, 300], [75, 75]), ([0, 5], [5e-324, 6]),
            ([0, 1, 2, 3], [0, 0, 0, 2]),
        ([0, 2, 2.00000001, 5], [1, 1, 4, 4]),
    ]))  # fmt: skip
    return cs.ProfileBit(*outline, **edges)


def odd_paths(short: bool = True) -> st.SearchStrategy[Any]:
    """Paths that a drawing may hold: no length to speak of, back along itself, no depth, straight down."""
    some = [
        cs.line((0, 0), (1e-9, 0), 1.0),
        cs.line((0, 0), (1e-6, 0), (0.0, 5.0)),
        cs.line((0, 0), (2, 0), 0.0),
        cs.line((0, 0), (2, 0), (0.0, 3.0)),
        cs.line((99_990, 99_990), (99_993, 99_991), 1.0),
        cs.line((0, 0), (3, 0), 200.0),
        cs.line((0, 0), (3, 0), 5e-324),
        cs.polyline([(0, 0), (2, 0), (0, 0)], 1.0),
        cs.polyline([(0, 0), (2, 0), (0, 1e-9)], 1.0),
        cs.polyline([(0, 0), (2, 0)], 1.0, closed=True),
        cs.polyline([(0, 0), (3, 0), (1.5, 1e-7)], 1.0, closed=True),
        cs.polyline([(0, 0), (2, 2), (2, 0), (0, 2)], [0.1, 2, 0.1, 2], closed=True),
        cs.ring(1e-3, 1.0),
        cs.ring(2.0, 1.0),
        cs.arc((0, 0), 1.0, 0, 359.999, 1.0),
        cs.arc((0, 0), 1.0, 0, -360, (0.0, 2.0)),
        cs.Path([(0, 0), (1, 0), (2, 0)], 1.0, sweep=[1e-300, -300.0]),
        cs.Path([(0, 0), (1, 0), (1, 1e-5)], 1.0, sweep=[359.9, 0.0]),
        cs.spiral(0, 2, 0.5, 1.0),
    ]
    if not short:
        some += [cs.ring(1e5, 1.0), cs.line((-1e5, 0), (1e5, 0), 1.0)]
    return st.one_of(st.sampled_from(some), st.sampled_from(some), kit.paths(pieces=2))


def odd_machines() -> st.SearchStrategy[Any]:
    some = [cs.Machine(10, 100, plunge_feed=80), cs.Machine(50_000, 60_000, corners="free", plunge_feed=60_000)]
    some += [cs.Machine(300, 5000, corners="halt"), cs.Machine(300, 5000, vertex_gap=5e-324), DIALLED]
    some += [cs.Machine(300, 5000, travel=(5e-324,) * 3, stiffness=0.1, spindle_power=20)]
    return st.sampled_from(some)


@st.composite
def odd_cuts(draw: Any) -> Any:
    """Legal set-ups at the ends of what is allowed; a bit too short for its path is drawn again."""
    path = draw(odd_paths())
    deepest = float(path.depth.max())
    passes = draw(st.sampled_from([None, None, 0.3, 1e-9]))
    try:
        return cs.Cut(
            draw(odd_bits()),
            path,
            draw(st.sampled_from([1000, 18_000, 100_000])),
            draw(st.sampled_from([300, 1500, 60_000])),
            spin=draw(st.sampled_from(["cw", "ccw"])),
            phase=draw(st.sampled_from([0, 90, 1e6])),
            machine=draw(st.one_of(st.none(), odd_machines())),
            passes=[passes * deepest] if passes and 0 < passes * deepest < 50 else None,
        )
    except cs.DomainError:
        return dataclasses.replace(CUT, path=draw(kit.paths(pieces=1)))


def odd_boards() -> st.SearchStrategy[Any]:
    fields = [
        cs.straight_grain(0, 90), cs.straight_grain(1e6, -90), cs.straight_grain(33, 5e-324),
        cs.grain_field(lambda x, y: 1e300 * x), cs.grain_field(lambda x, y: np.full(np.shape(x), NAN)),
        cs.grain_field(lambda x, y: (x, y)), cs.grain_field(lambda x, y: np.asarray(x, dtype=complex)),
        cs.grain_field(lambda x, y: None), cs.grain_field(lambda x, y: 30.0),
            cs.grain_field(lambda x, y: np.ravel(x)[1:]),
    ]  # fmt: skip
    extents = [None, None, (0, 0, 1e-9, 1e-9), (-1e5, -1e5, 1e5, 1e5), (50, 50, 60, 60)]
    woods = [WOOD, cs.wood("black cherry", 4), cs.wood("yellow-poplar", 30), THIN, HARD]
    return st.builds(lambda w, g, e: cs.Board(w, g, extent=e), *map(st.sampled_from, (woods, fields, extents)))


THIN = cs.Wood("thin", density=300, bending_strength=30, elastic_modulus=5000, compression_perpendicular=1)
HARD = cs.Wood(
    "hard", density=1200, bending_strength=200, elastic_modulus=25_000, compression_perpendicular=40, hardwood=False,
    fracture_toughness=0.5, shear_parallel=20, side_hardness=15_000, tension_perpendicular=5,
)  # fmt: skip


class Mute:
    """A model that has what is asked for and says rubbish."""

    def __init__(self, answer: Any, bundle: Any = 0.2) -> None:
        self.answer, self.bundle = answer, bundle

    def lip_risks(self, strikes: Any, fibres: Any, cut: Any, wood: Any) -> Any:
        return self.answer

    def __repr__(self) -> str:
        return f"Mute({self.answer!r}, {self.bundle!r})"


def odd_models() -> st.SearchStrategy[Any]:
    some = [
        cs.RiskModel(scatter=0, drag=0, support_fall=1e-300), cs.RiskModel(exponent=1e4), cs.RiskModel(bundle=1e-9),
        cs.RiskModel(reference_support=1e-6), cs.RiskModel(bending_stress=1e4, friction=1e4, scatter=1e4),
        cs.RiskModel(heat_share=1, contact=1e4, land=1e4), cs.RiskModel(catch_depth=1e-300, blunting=0,
            bite_floor=1e-300),
        cs.RiskModel(tear_scale=1e-300), cs.RiskModel(tear_scale=1e4, weak_planes=1),
        Mute({}), Mute({"fuzz": np.zeros(3)}), Mute({}, NAN), Mute({}, "thick"), Mute({}, -1),
    ]  # fmt: skip
    return st.sampled_from(some)


@st.composite
def odd_jobs(draw: Any) -> Any:
    """A cut, or a carving whose cuts lie where they will: on each other, within each other, far apart."""
    one = draw(odd_cuts())
    if draw(st.booleans()):
        return one
    at = draw(st.sampled_from([(0, 0), (0, 1e-9), (0.5, 0), (1e4, 0)]))
    try:
        two = dataclasses.replace(one, path=one.path.shifted(*at))
    except cs.DomainError:  # too far, or so short that its ends become one
        two = one
    z = draw(st.sampled_from([-1.0, 0.0, 5.0, 1e6]))
    travel = (cs.AirMove("rapid", (0, 0, z), (1e6, -1e6, z)), cs.AirMove("dwell", (0, 0, z), (0, 0, z), seconds=1e300))
    return cs.Carving((one, two), draw(st.sampled_from([(), travel])))


# --- made once --------------------------------------------------------------------------------------------------------


@cache
def made() -> dict[str, Any]:
    """One of each thing that only the library makes, small."""
    risk = cs.risk_map(CUT, BOARD, pitch=1.0)
    piece = cs.coupon(BIT, BOARD, 16_000, [1400], machine=MACHINE, sectors=8, straight_pair=False, stair=False)
    grades = cs.invented_grades(piece, seed=4)
    fitted = cs.fit(piece, grades)
    banded = cs.risk_map(CUT, BOARD, pitch=1.0, draws=3)
    lands = cs.thin_lands(cs.Carving((CUT, dataclasses.replace(CUT, path=LINE.shifted(0, 3)))), BOARD, pitch=0.5)
    unknown = ["marked maximum speed", "plunge feed", "travel x", "travel y", "travel z", "cutting length"]
    found = cs.recommend(CUT, BOARD, DIALLED, BIT, feeds=[900], draws=2, workers=1, pitch=1.0, waive=unknown)
    assert found.rows  # so that a cell is among them
    return {
        "risk": risk, "banded": banded, "coupon": piece, "grades": grades, "fitted": fitted, "lands": lands,
        "recommendation": found, "sweep": found.sweep, "cell": found.rows[0].cell,
        "layout": cs.best_layout(CUT, BOARD, step=90, pitch=1.0, draws=2),
            "minutes": risk.hand_minutes(), "comparison": cs.compare({"a": CUT}, BOARD, pitch=1.0, draws=2),
        "passes": cs.tooth_passes(CUT, start=1.0, stop=1.2, angles=[30.0, 90.0], heights=[1.0], board=BOARD),
        "strikes": cs.lip_strikes(CUT, pitch=1.0), "rose": cs.risk_rose(CUT, BOARD, headings=[0.0, 30.0]),
        "limits": cs.check_limits(CUT, MACHINE), "card": cs.width_card(BIT, [1.0]), "profile": reached_feed(CUT),
    }  # fmt: skip


def of(name: str, method: str) -> Callable[..., Any]:
    """A method of one of those."""
    return lambda **given: getattr(made()[name], method)(**given)


class Later:
    """One of those as an argument, made when it is needed."""

    def __init__(self, name: str) -> None:
        self.name = name

    def __repr__(self) -> str:
        return f"Later({self.name!r})"


@dataclasses.dataclass(frozen=True)
class Call:
    """A call that is in order, and what may stand in the place of each argument."""

    function: Callable[..., Any]
    good: Mapping[str, Any]
    wild: Mapping[str, st.SearchStrategy[Any]]
    examples: int = 25
    also: tuple[type[Exception], ...] = ()  # errors that its docstring names besides the library's own


def plain(function: Callable[..., Any], /, **arguments: Any) -> Call:
    """Arguments as pairs (good value, strategy)."""
    options = {k: arguments.pop(k) for k in ("examples", "also") if k in arguments}
    good = {k: v[0] for k, v in arguments.items() if v[0] is not SKIP}
    return Call(function, good, {k: v[1] for k, v in arguments.items()}, **options)


SKIP = object()
"""Not among the good arguments: the default stands."""


@dataclasses.dataclass
class Own:
    """A user's cutter."""

    outline: Any
    diameter: Any
    flutes: Any
    rake: Any
    clearance: Any
    edge_radius: Any
    runout: Any
    runout_azimuth: Any
    cutting_length: Any
    max_spindle_speed: Any
    set_back: Any
    raised: Any

    def radius(self, height: Any) -> Any:
        return self.outline(np.asarray(height, dtype=float))


def drawn(function: Callable[..., Any]) -> Callable[..., Any]:
    """A picture is only whole when it has been rendered."""

    def draw(**given: Any) -> None:
        made = function(**given)
        if hasattr(made, "new_frame_seq"):  # matplotlib warns of an animation that is never shown
            made._draw_was_started = True
        for number_ in plt.get_fignums():
            plt.figure(number_).canvas.draw()

    return draw


PROGRAM = "G21 G90 S18000 M3\nG0 Z5\nG1 Z-2 F300\nX10 F1500\nG0 Z5\nM2\n"
PROGRAMS = [
    PROGRAM, "", "\n", "%\n%", "\x00\n", "G1 X1e400\n", "G1 X999999999999\n", "S18000 M3\nG1 Z-1 F0\nX1\n", "(open\n",
    PROGRAM.replace("X10", "X[1/0]"), PROGRAM.replace("X10", "X#1"), PROGRAM.replace("X10", "G2 X0 Y0 I0 J0"),
    PROGRAM.replace("X10", "G2 X1e-9 I5"), PROGRAM.replace("X10", "G5 X1"), PROGRAM.replace("F1500", "F1e308"),
    PROGRAM.replace("Z-2", "Z-1e308"), PROGRAM.replace("G90", "G91"), PROGRAM.replace("S18000", "S-1"),
        "G" * 9999 + "\n",
    PROGRAM.replace("X10", "X[[[[[[[[1]]]]]]]]"), PROGRAM.replace("X10", "X" + "[" * 3000 + "\n"), "O1 CALL [1]\n",
    PROGRAM.replace("G90", ""), PROGRAM.replace("G21", ""), PROGRAM.replace("G0 Z5", "G28\nT2 M6\nG43 H2\nG0 X0 Y0 Z5"),
    PROGRAM.replace("X10", "X10\nM0\nG53 Z0\nG91"), PROGRAM + PROGRAM.replace("S18000", "T3 M6 S18000"),
    "%1\n" + PROGRAM, "O1\n" + PROGRAM.replace("X10", "X10 N1 (a) b 3 c"), PROGRAM.replace("X10", "G90.1 G2 X5 I2 J0"),
    PROGRAM.replace("X10", "G2 X10.01 I5"), PROGRAM.replace("X10", "G2 X10 R4.99"),
    PROGRAM.replace("\n", "\r"), PROGRAM.lower(), PROGRAM * 30, "no such file", "a" * 5000, "\ud800\n", "\u0130X1\n",
]  # fmt: skip


DRAWING = """<svg xmlns="http://www.w3.org/2000/svg" width="40mm" height="30mm" viewBox="0 0 40 30" stroke="red">
<g transform="rotate(30 20 15) scale(.5)"><circle id="eye" cx="20" cy="15" r="6"/><path d="M2 28C10 20 30 20 38 28
a9 5 30 01-9 9z"/></g><polyline points="1,2 3,4 5,1"/><use href="#eye" x="5"/><style>.a{display:none}</style></svg>"""
DEPTHS = [lambda s: 1 + 0 * s, lambda x, y: 1 + 0 * x, lambda: 1, lambda s: s, lambda s: NAN, lambda s: None, abs]
DESIGNS = [
    {"type": "LineString", "coordinates": [(0, 0), (5, NAN)]}, {"type": "Polygon", "coordinates": [[(0, 0)]]},
    {"type": "LineString", "coordinates": 3}, {"type": "Feature", "geometry": {}}, {"type": None}, {}, [[]],
    {"type": "GeometryCollection", "geometries": [{"type": "LineString", "coordinates": [(0, 0), (5, 1e308)]}]},
    MatplotlibPath([(0, 0), (5, 5), (3, 3)], [1, 3, 3]), MatplotlibPath([(0, 0), (5, 5)], [1, 4]), ["M0 0H9", None],
]  # fmt: skip


def read_drawing(**given: Any) -> Any:
    """Read a drawing as a user does: what was left out is warned of, as its docstring says."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", cs.DesignWarning)
        return cs.read_svg(**given)


def read_program(**given: Any) -> cs.Carving:
    """Read a program as a user does: the warning of what was assumed is in its docstring, and reading goes on."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", RS274Warning)
        return cs.read_rs274(**given)


FORMS = [
    "",
    "\n",
    "ring,sector\n",
    "\x00\n",
    "a" * 5000,
    "no such file",
    "ring,sector,lip,reading,grade,kind,flags,note\n",
]


@st.composite
def spoilt(draw: Any, text: Callable[[], str], odd: list[str]) -> Any:
    """A text with a stretch of it gone, doubled or overwritten."""
    whole = text()
    if not draw(st.booleans()):
        return draw(st.one_of(st.sampled_from([*odd, *THINGS]), st.text()))
    a, b = sorted((draw(st.integers(0, len(whole))), draw(st.integers(0, len(whole)))))
    middle = draw(st.one_of(st.just(""), st.text(max_size=5), st.sampled_from(["-", "1e999", "\n", ",", "nan"])))
    return whole[:a] + middle + draw(st.sampled_from([whole[b:], whole[a:], whole[a + 1 :]]))


def form() -> str:
    return str(made()["grades"].to_csv())


EDGES = {
    "flutes": (2, number(12, 13, 0, 1.5)),
    "rake": (10, number(-45, 60, 61)),
    "clearance": (15, number(60, 5e-324)),
    "edge_radius": (0.008, number(0.5, 1e-6, 9e-7, 8)),
    "runout": (0.01, number(1, 5e-324)),
    "runout_azimuth": (3, number(360, -360)),
    "cutting_length": (20, number(300, 5e-324)),
    "max_spindle_speed": (24_000, number(1000, 200_000, 16.0)),
    "edge_measured": (SKIP, st.sampled_from([True, False, None])),
    "shear": (0.0, st.one_of(number(60, -60, 5e-324), numbers([10.0, -10.0], [1.0, 2.0, 3.0]))),
    "set_back": ((), numbers([0.0, 0.02], [0.1, 0.1], [0.0, 5.0])),
    "raised": ((), numbers([0.0, 0.02], [5e-324, 0.0])),
    "secondary_clearance": (SKIP, number(15, 75, 20)),
    "facet": (0.5, number(20, 5e-324)),
    "land": (0.0, number(3, 5e-324)),
    "chip_room": (SKIP, number(0.02, 0.95)),
}
DEPTH = (1.0, st.one_of(number(0, 200, 201), numbers([1, 2], [[1, 2]], [0.0, -0.0])))
FLAT = (1.0, number(0, 200, 201))
POINT = ((0, 0), numbers((1e5, -1e5), (1e5, 1e6), (0, 0, 0), np.array([[0, 0]])))
SIZE = (3.0, number(5e-324, 1e-9, 1e5, 1e6))
ANGLE = (30.0, number(-1e6, 1e6, 180, 360, -360))
TOLERANCE = (0.01, number(1e-7, 1, 1e-8))
STATION = (1.0, st.one_of(number(3.0, 3.0 + 1e-9, 3.1, -1e-9), numbers([0.0, 3.0], [[1.0], [2.0]], np.zeros((2, 0)))))
PITCH = (1.0, number(0.1, 1000, 1001, 0.0009))
FEED = (1500, number(100, 99, 60_000, 60_001))
SPEED = (18_000, number(1000, 100_000, 18.0))
CUTS, JOBS, BITS, BOARDS = (
    (CUT, thing(odd_cuts())),
    (CUT, thing(odd_jobs())),
    (BIT, thing(odd_bits())),
    (BOARD, thing(odd_boards())),
)
MODELS, MACHINES, PATHS = (SKIP, thing(odd_models())), (MACHINE, thing(odd_machines())), (LINE, thing(odd_paths()))
FORCE_MODELS = (SKIP, thing(st.sampled_from([
    cs.CuttingForceModel(pressure=1e-9, friction=0), cs.CuttingForceModel(band=1.0),
])))  # fmt: skip
PASSES = (
    SKIP,
    thing(*((p,) for p in (0.2, 1e-9, 50, NAN, -1, 2.0, "a", True, cs.Pass(0.5, True, 60_000))), 0.2, [0.1] * 40),
)
WOODS = (WOOD, thing(THIN, HARD, cs.wood("yellow-poplar", 30)))
HANDWORK = (SKIP, thing(None, cs.HandWork(spoilt=30), 3, "quick"))
RISK = ("fuzz", words("tear", "scorch", "damage"))
COUNT = (3, number(0, 10_000, 10_001))
SEED = (1, number(0, 2**31, 2**62, -1))
THREADS = (SKIP, number(1, 2, 3, 0, 1025))
KEEP = (SKIP, words("width", "depth"))
SPREADING = st.one_of(numbers([900], [100.0], [60_000, 900]), st.sampled_from([900, (), {}, iter([900]), None, "900"]))
CHECKS = (
    SKIP,
    st.sampled_from([None, {}, {"flatness": NAN}, {"no such": 1}, {"near": 0.2}, [1], {1: 2}, {"board": 3}]),
)
COUPONS = (Later("coupon"), thing(Later("coupon"), Later("grades")))
FOLDER = tempfile.TemporaryDirectory()
PDF = (
    os.path.join(FOLDER.name, "x.pdf"),
    thing(os.path.join(FOLDER.name, "x.pdf"), "/no/such/x.pdf", os.devnull, "", "a\0.pdf", FOLDER.name),
)
A_FIGURE = Figure((1.0, 1.0))
AXES = (SKIP, st.sampled_from(["none", "flat", "polar", "3d", "closed", "word"]).map(lambda kind: Axis(kind)))


@dataclasses.dataclass(frozen=True)
class Axis:
    """Axes to draw on, of a kind."""

    kind: str

    def make(self) -> Any:
        if self.kind in ("none", "word"):
            return None if self.kind == "none" else self.kind
        axes = plt.figure().add_subplot(projection=self.kind if self.kind in ("polar", "3d") else None)
        if self.kind == "closed":
            plt.close(axes.figure)
        return axes


def coefficients(kind: type) -> dict[str, Any]:
    return {f.name: (f.default, number(0, 1e-300, 1e4, 1)) for f in dataclasses.fields(kind)}


def shapes(*args: Any) -> st.SearchStrategy[Any]:
    """Functions of arrays, odd ones."""
    return st.sampled_from(
        [
            None,
            3,
            "f",
            lambda *a: None,
            lambda *a: a[0] * NAN,
            lambda *a: 3.0,
            lambda *a: "x",
            lambda *a: np.zeros((len(a[0]), 2)),
            *args,
        ]
    )


OUTLINES = st.sampled_from(
    [
        lambda h: h * NAN,
        lambda h: 3.0,
        lambda h: "x",
        lambda h: -h,
        np.sqrt,
        lambda h: h[:-1],
        lambda h: h + 1j,
        lambda h: None,
    ]
)
CURVES = [
    lambda t: np.column_stack([t, t * t]), lambda t: np.column_stack([t, np.abs(t - 0.5)]),
        lambda t: np.column_stack([t, t * 0]) * 1e-12,
    lambda t: np.column_stack([np.floor(3 * t), t]), lambda t: np.column_stack([t, np.sin(1e4 * t)]),
        lambda t: [t, t],
    lambda t: np.column_stack([np.sqrt(np.abs(t)), t]), lambda t: np.column_stack([t, t]) + 1j,
]  # fmt: skip
FIELDS = [lambda x, y: (x, y), lambda x, y: (x, y, x), lambda x, y: x[:1], lambda x, y: np.asarray(x, str)]
VECTOR = numbers(
    (1, 0, 0), (5e-324, 0, 0), (1e308, 1e308, 1e308), (0, 0, 0), np.zeros((0, 3)), np.ones((2, 1, 3)), [[1, 2]]
)
GRADE_ROW = st.tuples(*(st.sampled_from(x) for x in (
    ["A1", "", 3, None], [1, 8, 0, -1, 10**9, "1"], ["in", "out", "left", None], [1, 2, 3, "1"],
    [None, 0, 4, 5, NAN, "2"], ["", "f", "t", "b", "x", None], ["", "s", "sk", "zz", 3], ["", "note\n,", None],
)))  # fmt: skip
ROWS = st.one_of(st.lists(GRADE_ROW, max_size=3), thing((), (Grade("A1", 1, "in", 1, 0),), (1,), ("ab",), ((),)))
LIMIT = Limit("tip", 1.0, 2.0, "mm", 1.0, "ok", "says so")
LIMITS = ((LIMIT,), thing((), (LIMIT,) * 3, [LIMIT, 3], "ab", iter([LIMIT]), Later("limits")))
SETTINGS = [
    (), [{}], [{"feed": 900}] * 2, [{"feed": NAN}], [{"no such": 1}], [3], "ab", {"feed": 900},
        [cs.Setting(rotation=1e6)],
    [{"passes": (5.0,)}], [{"spindle_speed": 10**400}], iter([{"feed": 900}]), [{"bit": None, "name": "x" * 999}],
]  # fmt: skip
OPTIONS = [
    {},
    [],
    [CUT],
    {"a": CUT, "b": CUT},
    {"": CUT},
    {3: CUT},
    [CUT, None],
    (CUT,) * 3,
    "ab",
    {"a": 3},
    cs.Carving((CUT,)),
    iter([CUT]),
]

CALLS: dict[str, dict[str, Call]] = {
    "Board": {
        "": plain(cs.Board, wood=WOODS, grain=(BOARD.grain, thing(BOARD.grain)),
            extent=(SKIP, numbers((0, 0, 1, 1), (0, 0, 0, 0)))),
        "fibres": plain(BOARD.fibres, xy=([(0, 0)], numbers((0, 0), np.zeros((2, 3, 2)), [[1e308, 0]]))),
    },
    "Carving": {
        "": plain(
            cs.Carving, cuts=((CUT,), thing((), [CUT], (CUT, 3), (CUT,) * 3)), air_moves=((), thing((), (3,))),
                name=("a", words()), notes=(SKIP, thing((), "a", ("a",), (3,), [NAN]))
        ),
        "rotated": plain(cs.Carving((CUT,)).rotated, degrees=ANGLE),
        "shifted": plain(cs.Carving((CUT,)).shifted, dx=(1.0, number(1e5, 1e6)), dy=(1.0, number(1e5))),
    },
    "ChipsimError": {"": plain(cs.ChipsimError)},
    "ConvergenceError": {"": plain(cs.ConvergenceError)},
    "DesignWarning": {"": plain(cs.DesignWarning)},
    "Drawing": {},
    "DomainError": {"": plain(cs.DomainError)},
    "Cut": {
        "": plain(
            cs.Cut, bit=BITS, path=PATHS, spindle_speed=SPEED, feed=FEED, spin=(SKIP, words("cw", "ccw")),
            phase=(SKIP, ANGLE[1]), machine=(SKIP, MACHINES[1]), passes=PASSES,
            feed_along=(SKIP, words("face", "space")), plunge_feed=(SKIP, number(80, 60_000, 5e-324)), examples=60,
        ),
        "raised": plain(CUT.raised, by=(0.5, number(2, 200))),
        "split": plain(CUT.split, inside=([np.array([1.0])] * len(CUT.path.drop),
            st.just([np.array([0.5, 1.0])] * len(CUT.path.drop)))),
        "half_width": plain(CUT.half_width, depth=(np.array(1.0), st.just(np.array([0.0, -0.0, 1e300])))),
    },
    "Cutter": {"": plain(lambda **k: cs.Cut(Own(**k), LINE, 18_000, 1500), outline=(lambda h: 0.5 * h, OUTLINES),
        diameter=(6, number(1, 150)), **{k: v for k, v in EDGES.items() if k in Own.__annotations__})},
    "CuttingForceModel": {
        "": plain(cs.CuttingForceModel, **coefficients(cs.CuttingForceModel), examples=60),
        "species_factor": plain(cs.CuttingForceModel().species_factor, wood=WOODS),
        "direction_factor": plain(
            cs.CuttingForceModel().direction_factor, motion=(0.5, st.one_of(number(1, -1), numbers())),
                edge=(0.5, st.one_of(number(1), numbers()))
        ),
        "force_per_length": plain(
            cs.CuttingForceModel().force_per_length, chip=(0.1, st.one_of(number(100), numbers())),
                edge_radius=(0.01, number(0.5)),
            wood=WOODS, motion=(0.5, numbers(0.1)), edge=(0.5, numbers(0.1)),
        ),
        "normal_share": plain(cs.CuttingForceModel().normal_share, rake=(10.0, number(-45, 60))),
    },
    "Dial": {
        "": plain(cs.Dial, positions=([1, 2], numbers([1, 1], [1e6, 1], [1, 1 + 1e-16])),
            speeds=([9e3, 2e4], numbers([1000, 1e5], [9, 20])), uncertainty=(0.1, number(0.5))),
        "from_tones": plain(cs.Dial.from_tones, positions=([1, 2], numbers()), tones=([310, 590], numbers()),
            flutes=(2, number(12, 0))),
        "speed": plain(DIALLED.dial.speed, position=(1.5, number(1, 2))),
        "position": plain(DIALLED.dial.position, speed=(9150, number(17.9e3))),
        "speed_range": plain(DIALLED.dial.speed_range, position=(1.5, number(1, 2))),
    },
    "Grade": {"": plain(Grade, ring=("A1", words()), sector=(1, number()), lip=("in", words()),
        reading=(1, number()), grade=(1, number()))},
    "Grades": {
        "": plain(cs.Grades, piece=("a", words()), rows=((), ROWS), examples=80),
    },
    "Grain": {
        "": plain(lambda function, label: cs.Grain(function, label).at([[0.0, 1.0]]),
            function=(FIELDS[0], shapes(*FIELDS)), label=("a", words())),
        "at": plain(BOARD.grain.at, xy=([(0, 0)], numbers((0, 0), np.zeros((2, 3, 2))))),
        "turned": plain(BOARD.grain.turned, degrees=ANGLE),
        "turned_about": plain(BOARD.grain.turned_about, centre=POINT, degrees=ANGLE, label=("a", words())),
    },
    "Machine": {
        "": plain(
            cs.Machine, acceleration=(300, number(10, 50_000)), max_feed=(5000, number(100, 60_000)),
                corners=(SKIP, words("circle", "halt", "free")),
            vertex_gap=(0.01, number(5e-324, 1)), plunge_feed=(300, number(80, 60_000)),
                rapid_feed=(SKIP, number(100)),
            travel=(SKIP, numbers((1, 1, 1), (20_000,) * 3, (0, 1, 1), (1, 1))), dial=(SKIP, thing(DIALLED.dial)),
                stiffness=(SKIP, number(0.1, 1e5)),
            spindle_power=(SKIP, number(20, 1e5)), examples=60,
        ),
        "corner_feed": plain(MACHINE.corner_feed, angle=(90.0, number(0, 180, 5e-324))),
    },
    "Pass": {"": plain(cs.Pass, leave=(0.1, number(50, 5e-324)), reversed=(SKIP, flag()), feed=(SKIP, FEED[1]))},
    "Path": {
        "": plain(cs.Path, xy=([(0, 0), (1, 0)], numbers([(0, 0), (5e-324, 0)], [(-1e5, 0), (1e5, 0)],
            [(0, 0), (1, 0), (0, 0)])), depth=DEPTH, sweep=(SKIP, numbers([0.0], [359.999], [5e-324], [360])),
                closed=(SKIP, flag()), dwell=(SKIP, numbers([0.0, 0.5], [3600, 0], [-1, 0], [0.0])), examples=60),
        "position": plain(LINE.position, station=STATION),
        "heading": plain(LINE.heading, station=STATION),
        "curvature": plain(LINE.curvature, station=STATION),
        "depth_at": plain(LINE.depth_at, station=STATION),
        "rotated": plain(LINE.rotated, degrees=ANGLE),
        "shifted": plain(LINE.shifted, dx=(1.0, number(1e5)), dy=(1.0, number(1e5))),
        "scaled": plain(LINE.scaled, factor=(2.0, number(1e6, 5e-324, 1e-300, 3e4))),
        "refined": plain(LINE.refined, pitch=(2.0, number(0.01, 1e300))),
        "raised": plain(LINE.raised, by=(0.5, number(2, 200))),
        "raised_parts": plain(LINE.raised_parts, by=(0.5, number(2, 200))),
        "split": plain(LINE.split, stations=(1.0, st.one_of(number(2.5), numbers([1.0, 2.0], [1.0, 1.0 + 1e-9])))),
        "started_at": plain(cs.ring(3, 1.0).started_at, station=(1.0, number(18.8, 5e-324))),
        "with_depth": plain(LINE.with_depth, depth=(1.0, st.one_of(DEPTH[1], shapes(*DEPTHS))), tolerance=TOLERANCE),
        "split_parts": plain(LINE.split_parts, inside=([np.array([1.0])], st.just([np.array([1.0, 2.0])]))),
    },
    "ProfileBit": {
        "": plain(cs.ProfileBit, heights=([0, 1, 2], numbers([0, 5e-324, 1], [0, 1, 300], [0, 1, 1])),
            radii=([0, 1, 2], numbers([0, 0, 75], [1, 1, 1], [0, 5e-324, 1])),
                azimuths=(SKIP, numbers([0, 1, 2], [[0, 1, 2], [0, 0, 0]])), **EDGES, examples=60),
        "azimuth": plain(cs.ProfileBit([0, 1], [0, 2], azimuths=[0, 9]).azimuth,
            height=(1.0, st.one_of(number(1e300), numbers()))),
        "worn": plain(cs.ProfileBit([0, 1], [0, 2]).worn, metres=(100.0, number(1e6, 5e-324)), wood=(WOOD, thing(WOOD)),
            rate=(SKIP, number(1000))),
        "radius": plain(cs.ProfileBit([0, 1], [0, 2]).radius, height=(1.0, st.one_of(number(1e300), numbers()))),
        "half_width": plain(cs.ProfileBit([0, 1], [0, 2]).half_width,
            depth=(1.0, st.one_of(number(1e300), numbers()))),
    },
    "HandWork": {
        "": plain(cs.HandWork, fuzz=((0, 1, 2, 3, 4), numbers((0, 0, 0, 0, 1e5), (4, 3, 2, 1, 0))),
            setup=((1, 2, 3), numbers((0, 0, 1e5))), spoilt=(60.0, number(0, 1e6)),
            spoilt_length=(SKIP, number(5e-324, 1e6)), setup_length=(SKIP, number(1e6)),
            beyond_repair=((0, 1, 0), numbers((1, 1, 2)))),
        "scaled": plain(cs.HandWork().scaled, cause=("fuzz", words("spoilt piece")), factor=(2.0, number(0, 1e3))),
    },
    "Minutes": {
        name: plain(of("minutes", name), minutes=(10.0, number(0, 1e7))) for name in ("chance_above", "chance_range")
    },
    "Grader": {
        "": plain(cs.Grader, fuzz=((-1, 0, 1, 2), numbers((-100, 0, 1, 100), (0, 0, 0, 0))),
            tear=((-1, 0, 1, 2), numbers((0, 5e-324, 1e-300, 1))), noise=(1.0, number(5e-324, 100))),
    },
    "RiskModel": {
        "": plain(cs.RiskModel, **coefficients(cs.RiskModel), examples=60),
        "critical_speed": plain(cs.RiskModel().critical_speed, wood=WOODS),
        "rake_factor": plain(cs.RiskModel().rake_factor, rake=(10.0, number(-45, 60))),
        "disturbed_depth": plain(cs.RiskModel().disturbed_depth, edge_radius=(0.02, number(1e-6, 0.5))),
        "support": plain(cs.RiskModel().support, angle=(10.0, st.one_of(number(90, 180, 360), numbers()))),
    },
    "Setting": {
        "": plain(cs.Setting, spindle_speed=(SKIP, SPEED[1]), feed=(SKIP, FEED[1]), bit=(SKIP, BITS[1]),
            passes=PASSES, rotation=(SKIP, ANGLE[1]), name=(SKIP, words())),
        "applied": plain(lambda keep, carving, **k: cs.Setting(**k).applied(carving, keep),
            keep=("width", words("depth")), carving=(cs.Carving((CUT,)), thing(cs.Carving((CUT,)), CUT)),
                bit=(SKIP, BITS[1]), feed=(SKIP, FEED[1])),
    },
    "AirMove": {"": plain(cs.AirMove, kind=("rapid", words("dwell")),
        start=((0, 0, 0), numbers((0, 0, 0), (NAN, 0, 0), (0, 0))), end=((0, 0, 1), numbers((1e6, 0, 0))),
            feed=(SKIP, number(5e-324)), seconds=(SKIP, number()), before=(SKIP, number())),
        "least_seconds": plain(cs.AirMove("rapid", (0, 0, 5), (9, 0, 5)).least_seconds,
            machine=(None, st.sampled_from([None, MACHINE])))},
    "VBit": {
        "": plain(cs.VBit, included_angle=(60, number(5, 1e-6, 5e-324, 180 - 1e-13, 180)),
            diameter=(12.7, number(1, 150, 0.5)), tip_width=(0.2, number(12.699999999, 12.7)),
                tip_radius=(0.0, number(0.5, 7.3, 7.4)), **EDGES, examples=80),
        "azimuth": plain(cs.VBit(60, 12.7, 2, shear=15).azimuth, height=(1.0, st.one_of(number(1e300), numbers()))),
        "worn": plain(BIT.worn, metres=(100.0, number(1e6, 5e-324)), wood=(WOOD, thing(WOOD)),
            rate=(SKIP, number(1000))),
        "radius": plain(BIT.radius, height=(1.0, st.one_of(number(1e300), numbers()))),
        "half_width": plain(BIT.half_width, depth=(1.0, st.one_of(number(1e300), numbers()))),
        "depth_for_width": plain(BIT.depth_for_width, width=(1.0, number(12.7))),
    },
    "Wood": {
        "": plain(
            cs.Wood, name=("a", words()), moisture=(SKIP, number(4, 30)), density=(500, number(80, 1400)),
                specific_gravity=(SKIP, number(0.05, 1.3)), bending_strength=(80, number(5, 300)),
            elastic_modulus=(1e4, number(1000, 40_000)), compression_perpendicular=(5, number(0.1, 100)),
                side_hardness=(SKIP, number()), fracture_toughness=(SKIP, number()),
            shear_parallel=(SKIP, number()), conductivity=(SKIP, number()), heat_capacity=(SKIP, number()),
                hardwood=(SKIP, flag()), source=(SKIP, words()), grade=(SKIP, words("own")),
                    notes=(SKIP, thing(("a",), (1,), "ab")), elastic_ratios=(SKIP, thing(WOOD.elastic_ratios)),
                        examples=80,
        ),
    },
    "all_clear": {"": plain(all_clear, limits=LIMITS)},
    "limits_table": {"": plain(limits_table, limits=LIMITS)},
    "arc": {"": plain(cs.arc, centre=POINT, radius=SIZE, start=ANGLE, sweep=(90, number(360, -360, 5e-324, 1e-9)),
        depth=DEPTH)},
    "ask_literature": {"": plain(cs.ask_literature, model=MODELS, examples=3)},
    "model_draws": {"": plain(cs.model_draws, n=(2, number(1, 10_000, 10_001)), seed=SEED)},
    "best_layout": {"": plain(cs.best_layout, carving=JOBS, board=BOARDS,
        step=(90.0, st.sampled_from([45, 180, 181, 0.05, NAN, "5", True, None])),
        span=(180, number(360, 90)), mirrored=(SKIP, flag()), model=MODELS, pitch=(1.0, number(1000, NAN)),
            handwork=HANDWORK, draws=(0, number(0, 2, -1)), seed=SEED, examples=12)},
    "breakouts": {"": plain(cs.breakouts, carving=JOBS, board=(cs.Board(WOOD, cs.straight_grain(0),
        extent=(-1, -1, 4, 1)), BOARDS[1]), pitch=PITCH, reach=(0.5, number(50, 5e-324)),
            blunt=(150.0, number(180, 5e-324)))},
    "best_bit": {"": plain(cs.best_bit, carving=(CUT, thing(CUT, cs.Carving((CUT,)))), board=BOARDS, machine=MACHINES,
        catalogue=((), thing([BIT], {"a": BIT}, [3], "ab")), vary=({"rake": (5, 15)}, thing({}, {"rake": (9, 3)},
            {"colour": (1, 2)}, {"flutes": (1, 13)}, {"shear": (-60, 60)}, [3])), keep=KEEP,
        hold=(SKIP, words("feed", "removal")), model=MODELS, draws=(2, number(2, 3, 1)), seed=SEED,
        looks=(8, number(8, 9, 7)), pitch=(2.0, number(100, NAN)), examples=8)},
    "check_limits": {
        "": plain(
            cs.check_limits, carving=JOBS, machine=MACHINES, flatness=(0.1, number(5)), zero=(0.05, number(5)),
                stick_out=(SKIP, number(300)), pass_depth=(SKIP, number(200)),
            plunge_feed=(SKIP, number(80, 60_000)), safe_height=(SKIP, number(1000)), rub_share=(0.1, number(1)),
                slow_share=(0.5, number(1)), near=(0.1, number(1)), board=(SKIP, BOARDS[1]),
            force_model=FORCE_MODELS, deflection=(0.1, number(10)), tip_strength=(2000.0, number(10, 1e4)),
                examples=60,
        ),
    },
    "chip_type": {"": plain(chip_type, chip_thickness=(0.1, st.one_of(number(0), numbers())),
        fibre_angle=(30.0, st.one_of(number(180), numbers())), wood=WOODS, rake=(10.0, number(-30, 60)),
            edge_radius=(SKIP, number(1)), friction=(SKIP, number(5)), examples=60)},
    "compare": {"": plain(cs.compare, options=({"a": CUT}, st.one_of(st.sampled_from(OPTIONS),
        thing(odd_jobs().map(lambda j: [j])))), board=BOARDS, model=MODELS, pitch=(1.0, number(1000, NAN)),
            handwork=HANDWORK, draws=(0, number(0, 2, -1)), seed=SEED, examples=12)},
    "coupon": {
        "": plain(
            cs.coupon, bit=BITS, machine=(cs.Machine(400, 4000, plunge_feed=500), MACHINES[1]),
                feed=([1400], numbers([100], [60_000], [900, 900, 1800])), spindle_speed=(16_000, numbers(1000, [1e5])),
                    board=BOARDS, depth=(2.5, number(0.2, 50)),
            sectors=(8, number(36)), size=(SKIP, numbers((300, 200), (10, 10), (5000, 5000))),
                margin=(8.0, number(200)), straight_pair=(SKIP, flag()), comb=(SKIP, numbers((0,), (360,))),
                    stair=(SKIP, flag()),
            spin=(SKIP, words("cw", "ccw")), name=(SKIP, words("a,b", "a\nb")), seed=SEED, examples=30,
        ),
    },
    "curve": {"": plain(cs.curve, function=(CURVES[0], shapes(*CURVES)), depth=DEPTH, start=(0.0, number(1, 1e6)),
        stop=(1.0, number(5e-324, -1)), closed=(SKIP, flag()), tolerance=TOLERANCE, pieces=(3, number(1, 100_000)),
            examples=50)},
    "cutting_forces": {"": plain(cs.cutting_forces, cut=CUTS, board=BOARDS, model=FORCE_MODELS,
        stiffness=(50.0, number(0.1, 1e5)), station=(SKIP, number(3.0)), examples=40)},
    "animate_tooth_passes": {"": plain(drawn(cs.animate_tooth_passes), passes=(Later("passes"),
        thing(Later("passes"))), ax=AXES, height=(SKIP, number(0, -1)), last=(SKIP, number(1, 1000)),
            frames=(SKIP, number(2, 2001)), examples=4)},
    "draw_comparison": {"": plain(drawn(cs.draw_comparison), comparison=(Later("comparison"),
        thing(Later("comparison"))), axes=(SKIP, thing([], (None,))), risk_name=(SKIP, RISK[1]), examples=6)},
    "draw_fit": {"": plain(drawn(cs.draw_fit), fitted=(Later("fitted"), thing(Later("fitted"))), ax=AXES,
        examples=6)},
    "draw_front": {"": plain(drawn(cs.draw_front), recommendation=(Later("recommendation"),
        thing(Later("recommendation"))), ax=AXES, examples=6)},
    "draw_layout": {"": plain(drawn(cs.draw_layout), layout=(Later("layout"), thing(Later("layout"))), ax=AXES,
        risk_name=(SKIP, RISK[1]), examples=6)},
    "draw_process_window": {"": plain(drawn(cs.draw_process_window),
        thing=(Later("recommendation"), thing(Later("sweep"))), ax=AXES, cell=(SKIP, thing(Later("cell"))),
            risk_name=(SKIP, RISK[1]), examples=6)},
    "draw_profile": {"": plain(drawn(cs.draw_profile), bit=BITS, ax=AXES, depth=(SKIP, number(300, 5e-324)),
        examples=10)},
    "draw_reached_feed": {"": plain(drawn(cs.draw_reached_feed), cut=CUTS, ax=AXES, examples=10)},
    "draw_risk_map": {
        "": plain(
            drawn(cs.draw_risk_map), risk=(Later("risk"), thing(Later("risk"), Later("banded"))), ax=AXES,
                risk_name=(SKIP, RISK[1]), air_moves=(SKIP, thing((), (3,),
                    (cs.AirMove("rapid", (0, 0, 0), (1e6, 0, 0)),))),
            colour_bar=(SKIP, flag()), key=(SKIP, flag()), caption=(SKIP, flag()),
                form=(SKIP, words("steps", "colours")), title=(SKIP, words("", "$x")), note=(SKIP, words("", "a")),
                rulers=(SKIP, flag()), rasterized=(SKIP, flag()), lands=(SKIP, thing((), (3,), Later("lands"))),
            examples=8,
        ),
    },
    "draw_rose": {"": plain(drawn(cs.draw_rose), thing=(Later("rose"), thing(Later("rose"), Later("risk"))),
        ax=AXES, risk_name=(SKIP, RISK[1]), examples=8)},
    "draw_tooth_passes": {"": plain(drawn(cs.draw_tooth_passes), passes=(Later("passes"), thing(Later("passes"))),
        ax=AXES, height=(SKIP, number(0, -1)), last=(SKIP, number(1, 1000)), examples=8)},
    "edge_angle": {"": plain(edge_angle, edge=((1, 0, 0), VECTOR), fibre=((1, 1, 0), VECTOR))},
    "ellipse": {"": plain(cs.ellipse, width=(5.0, SIZE[1]), height=SIZE, depth=FLAT, tolerance=TOLERANCE)},
    "fibre_angle": {"": plain(cs.fibre_angle, cutting_direction=((1, 0, 0), VECTOR),
        wall_normal=((0, 1, 0), VECTOR), fibre=((1, 1, 0), VECTOR))},
    "fibre_axis": {"": plain(fibre_axis, azimuth=(0.0, st.one_of(number(1e308), numbers())),
        dive=(0.0, st.one_of(number(90), numbers())))},
    "fit": {"": plain(cs.fit, coupon=(Later("coupon"), thing(Later("coupon"), [], [3])),
        grades=(Later("grades"), thing(Later("grades"), [], cs.Grades("x", ()))),
            model=(SKIP, thing(cs.RiskModel(scatter=0), cs.RiskModel(exponent=1e4), cs.RiskModel(heat_share=0))),
                handwork=HANDWORK, progress=(SKIP, st.sampled_from([False, 0, None])), examples=2)},
    "grain_field": {"": plain(lambda function, label: cs.grain_field(function, label).at([[0.0, 1.0], [2.0, 3.0]]),
        function=(FIELDS[0], shapes(*FIELDS)), label=("a", words()))},
    "grain_words": {"": plain(grain_words, angle=ANGLE, slack=(SKIP, number(0, 90)))},
    "groove_volume": {"": plain(cs.groove_volume, carving=JOBS, pitch=(1.0, number(0.2, 1000)),
        slices=(2, number(1, 3)), examples=15)},
    "inch": {}, "ipm": {}, "thou": {},
    "invented_grades": {"": plain(cs.invented_grades, coupon=COUPONS,
        model=(SKIP, thing(cs.RiskModel(scatter=0), cs.RiskModel(exponent=1e4))),
            grader=(SKIP, thing(cs.Grader((-1, 0, 1, 2), (-1, 0, 1, 2), 100))),
                latents=(SKIP, numbers(np.zeros((2, 64)), np.full((2, 32), NAN))), again=(SKIP, number(0, 1)),
                    seed=SEED, examples=10)},
    "lands_table": {"": plain(lands_table, lands=((), thing((), Later("lands"), [3], "ab")))},
    "line": {"": plain(cs.line, start=POINT, end=((1, 0), numbers((0, 0), (5e-324, 0), (1e5, 0))), depth=DEPTH)},
    "lip_push": {"": plain(cs.lip_push, strikes=(Later("strikes"), thing(Later("strikes"))), carving=(CUT, thing(CUT)),
        friction=(0.0, number(2)), examples=10)},
    "push_at_lip": {"": plain(cs.push_at_lip, rake=(10.0, st.one_of(number(89, -89), numbers())),
        half_angle=(30.0, number(90)), shear=(0.0, number(89, -89)), friction=(0.0, number(2)))},
    "working_angles": {"": plain(cs.working_angles, rake=(10.0, number(89, -89)), clearance=(15.0, number(89)),
        half_angle=(30.0, number(90)), shear=(0.0, number(89)), edge_radius=(0.008, number(1)),
        radius=(1.0, number(1e-6, 1000)), feed_per_rev=(0.0, number(0.1)), descent_per_rev=(0.0, number(0.1)),
        rotation=(0.0, number(1e6)))},
    "lip_strikes": {"": plain(cs.lip_strikes, carving=JOBS, pitch=PITCH, bundle=(0.2, number(10, 1e-9)),
        threads=THREADS, examples=40)},
    "oval": {"": plain(cs.oval, width=(5.0, SIZE[1]), height=SIZE, depth=FLAT, centre=POINT)},
    "polyline": {"": plain(cs.polyline, points=([(0, 0), (1, 0)],
        numbers([(0, 0), (5e-324, 0)], [(-1e5, 0), (1e5, 0)])), depth=DEPTH, closed=(SKIP, flag()))},
    "reached_feed": {"": plain(reached_feed, cut=CUTS)},
    "next_coupon": {"": plain(cs.next_coupon, carving=JOBS, board=BOARDS, machine=(cs.Machine(400, 4000), MACHINES[1]),
        bits=BITS, model=(SKIP, thing(Later("fitted"), "x")), handwork=(SKIP, thing(3, "x")),
            repeats=(1, number(10**4)), costs=(SKIP, thing(3)), speeds=([16_000], numbers(1000, [1e5])),
                feeds=([1400], numbers([100], [60_000])), draws=(64, number(1, 63)), seed=SEED,
                    name=(SKIP, words("a,b", "a\nb")), examples=6)},
    **{name: {} for name in ("BookRecord", "FinishedJob", "NextPiece", "PieceCost", "Wear")},
    "edge_metres": {"": plain(edge_metres, carving=JOBS, examples=20)},
    "job_piece": {"": plain(job_piece, carving=JOBS, board=BOARDS, name=("a", words("a,b", "a\nb")), examples=20)},
    "ShopBook": {"": plain(cs.ShopBook, folder=(FOLDER.name, thing("", "a\0", "/no/such/x", os.devnull)))},
    "read_grades": {"": plain(cs.read_grades, path_or_text=(form, spoilt(form, FORMS)), coupon=COUPONS, examples=60)},
    "read_rs274": {
        "": plain(
            read_program, path_or_text=(PROGRAM, spoilt(lambda: PROGRAM, PROGRAMS)),
                bit=(BITS[0], st.one_of(BITS[1], thing({0: BITS[0]}, {0: BITS[0], 3: None}, {3: NAN}, {NAN: 3}, {}))),
                tool=(SKIP, number(0, 3)), arc_tolerance=(SKIP, number(0, 0.5)),
                name=(SKIP, words()), block_delete=(SKIP, flag()), face=(SKIP, number(1e4, -1.0)),
            spindle_speed=(SKIP, SPEED[1]), machine=(SKIP, MACHINES[1]),
                examples=100,
        ),
    },
    "recommend": {
        "": plain(
            cs.recommend, carving=JOBS, board=BOARDS, machine=(DIALLED, MACHINES[1]), bits=BITS,
                time_limit=(SKIP, number(5e-324, 1e7)), positions=(SKIP,
                    st.sampled_from([[1.0], [NAN], [3], [], "ab", 1.0, None])),
            feeds=([900], SPREADING), passes=(SKIP, st.sampled_from([[()], [(0.2,)], [(9.0,)], [], "ab", [NAN]])),
                rotations=(SKIP, st.sampled_from([[0], [NAN], [], [1e6], "a"])),
                    waive=(SKIP, thing(["tip"], "tip", [3])), handwork=HANDWORK,
                given=(SKIP, thing(["dial"], "dial", ["rake"], [3])), refine=(SKIP, flag()),
                repeats=(1, number(10**4)),
            checks=CHECKS, keep=KEEP, draws=(0, number(0, 2, -1)), seed=SEED, model=MODELS,
                pitch=(1.0, number(1000, NAN)), workers=(1, number(0, NAN, 1)),
                    progress=(SKIP, st.sampled_from([False, 0, None])), examples=15,
        ),
    },
    "reference": {}, "rs274": {},
    "dot": {"": plain(cs.dot, centre=POINT, depth=(1.0, number(5e-324, 1e-9, 200, 201)), dwell=(SKIP, number(3600)))},
    "paths_from": {
        "": plain(cs.paths_from, thing=("M0 0L5 5", st.one_of(numbers([(0, 0), (5, 1)], [(0, 0, 1), (5, 1, -1)]),
            thing(*DESIGNS), st.text(alphabet="MmLlHhVvCcSsQqTtAaZz019.-+eE, "))),
                depth=(1.0, st.one_of(DEPTH[1], shapes(*DEPTHS))), tolerance=(0.01, number(1e-4, 10, 1e-5)),
                smooth=(SKIP, st.one_of(flag(), number(90))),
                    examples=60),
    },
    "read_svg": {
        "": plain(read_drawing, file=(DRAWING, spoilt(lambda: DRAWING, [""])), depth=(1.0, st.one_of(FLAT[1],
            shapes(*DEPTHS), thing({"red": 1}, {"eye": NAN}))), tolerance=(0.01, number(1e-4, 10)),
                smooth=(SKIP, st.one_of(flag(), number(90))), also=(OSError,), examples=60),
    },
    "ring": {"": plain(cs.ring, radius=SIZE, depth=FLAT, centre=POINT)},
    "risk_map": {
        "": plain(cs.risk_map, carving=JOBS, board=BOARDS, model=MODELS, pitch=PITCH,
            draws=(SKIP, number(0, 2, 10_001)), seed=SEED, threads=THREADS,
                progress=(SKIP, st.sampled_from([False, 0, None])), examples=60),
    },
    "risk_rose": {"": plain(cs.risk_rose, cut=CUTS, board=BOARDS, headings=([0.0, 30.0], numbers([1e6], [[0.0]])),
        model=MODELS, draws=(2, number(0, 3)), seed=SEED, examples=15)},
    "rosette": {"": plain(cs.rosette, outer=(5.0, SIZE[1]), inner=SIZE, petals=(3, number(2, 60)), depth=FLAT,
        tolerance=TOLERANCE)},
    "speed_profile": {"": plain(speed_profile, path=(LINE, thing(odd_paths(short=False))), feed=FEED,
        machine=MACHINES, examples=40)},
    "spiral": {"": plain(cs.spiral, inner=(1.0, number(0, 5e-324, 3.999999)), outer=(4.0, SIZE[1]),
        turns=(1.0, number(5e-324, 1e-9, 50)), depth=DEPTH, start=(SKIP, ANGLE[1]), tolerance=TOLERANCE)},
    "straight_grain": {"": plain(cs.straight_grain, azimuth=ANGLE, dive=(0.0, number(90, -90, 91)))},
    "sweep": {
        "": plain(
            cs.sweep, carving=JOBS, board=BOARDS, bit=(SKIP, st.one_of(BITS[1],
                st.sampled_from([[], {}, {"a": BIT}, [BIT, 3]]))), spindle_speed=(SKIP, SPREADING),
                    feed=(900, SPREADING), passes=(SKIP, st.sampled_from([[0.2], [(0.1, 9.0)], [], "ab", NAN, 0.3])),
            rotation=(SKIP, st.one_of(ANGLE[1], st.sampled_from([[0, 30], [], "a"]))), keep=KEEP, model=MODELS,
                pitch=(1.0, number(1000, NAN)), checks=CHECKS, executor=(SKIP, thing()),
                    workers=(1, number(1, 0, NAN)), progress=(SKIP, st.sampled_from([False, 0])), examples=20,
        ),
        "listed": plain(cs.sweep, carving=JOBS, board=BOARDS, settings=([{"feed": 900}], st.sampled_from(SETTINGS)),
            workers=(1, st.just(1)), pitch=(1.0, st.just(1.0)), examples=15),
    },
    "thin_lands": {"": plain(cs.thin_lands, carving=(cs.Carving((CUT,
        dataclasses.replace(CUT, path=LINE.shifted(0, 3)))), JOBS[1]), board=BOARDS,
            width=(2.0, number(100, 5e-324)), pitch=PITCH, model=FORCE_MODELS, examples=30)},
    "time_estimate": {"": plain(cs.time_estimate, carving=JOBS, machine=MACHINES)},
    "tooth_passes": {
        "": plain(
            cs.tooth_passes, cut=CUTS, start=(0.0, number(0, 3, 2.999)), stop=(0.02, number(0.02, 3.0)),
                angles=([30.0, 90.0], numbers([0.0, 180.0], [1e6], [90.0] * 2, np.zeros((1, 2)))),
                    heights=([1.0], numbers([0.0], [5e-324, 2.0], [300.0], [2.0, 1.0])),
            board=(SKIP, BOARDS[1]), before=(SKIP, thing((), (CUT,), [3], "ab")), examples=40,
        ),
    },
    "width_card": {"": plain(cs.width_card, bit=BITS, depths=([1.0, 2.0],
        st.one_of(number(200, 5e-324), numbers([200.0], [[1.0]]))), flatness=(0.1, number(5)),
            zero_error=(0.05, number(5)), tip_error=(0.0, number(5)), angle_error=(0.0, number(10)),
            sanding=(0.0, number(5)))},
    "with_bit": {"": plain(cs.with_bit, carving=JOBS, bit=BITS, keep=KEEP, examples=40)},
    "wood": {"": plain(cs.wood, name=("black cherry", words("Black  Cherry", "maple", "oak")),
        moisture=(8, number(4, 30)))},
    "woods": {"": plain(cs.woods)},
    "write_grade_form": {"": plain(cs.write_grade_form, coupon=COUPONS, again=(SKIP, number(0, 1)), seed=SEED,
        layout=("grid", words("list")))},
    "save_figure": {"": plain(cs.save_figure, figure=(A_FIGURE, thing(A_FIGURE)), path=PDF,
        dpi=(SKIP, number(20, 2000)), examples=6, also=(OSError,))},
    "write_grading_sheet": {"": plain(cs.write_grading_sheet, coupon=COUPONS, path=PDF,
            paper=(SKIP, words("A4", "Letter")), examples=4, also=(OSError,))},
    "write_rs274": {"": plain(cs.write_rs274, carving=JOBS, safe_height=(5.0, number(0.5, 200)),
        plunge_feed=(300.0, number(80, 60_000)), decimals=(4, number(3, 9)), examples=40)},
    # made by the library: what they say when asked
    "Band": {}, "Breakout": {}, "Land": {}, "Limit": {"": plain(Limit, name=("a", words()),
        value=(1.0, number()), limit=(1.0, number()), unit=("mm", words()), margin=(0.0, number()),
            status=("ok", words("unknown", "violated")), sentence=("b", words()))},
    "Cell": {"against": plain(of("cell", "against"), waived=((), thing(("tip",))))},
    "Comparison": {"best": plain(of("comparison", "best"), risk=RISK),
        "ranked": plain(of("comparison", "ranked"), count=COUNT, risk=RISK)},
    "Limits": {"": plain(Limits, rows=LIMITS)}, "Lands": {}, "Breakouts": {},
    "Coupon": {
        "ring": plain(of("coupon", "ring"), code=("V", words("E"))),
        "at_speed": plain(of("coupon", "at_speed"), spindle_speed=(16_000, number(16_000.0))),
        "load": plain(cs.Coupon.load, path=(SKIP, st.sampled_from([os.devnull, "/no/such", __file__, b"x", 3.5, None])),
                      also=(OSError, TypeError)),
    },
    "Answers": {},
    "Statement": {"": plain(Statement, key=("a", words()), source=("b", words()), how=("read", words()),
        conditions=("c", words()), finding=("d", words()), asked=("e", words()), transfers=(3, number(1)),
            reliability=(0.9, number(0.5)), weight=(1.0, number(0.5)), bound=("< 1", words("> 0", "20 to 30"))),
        "met": plain(statements()[0].met, measure=(np.array(0.5), st.just(np.array([0.5, NAN]))))},
    "BitChoice": {},
    "Forces": {}, "LayoutRow": {}, "LipStrikes": {}, "BoardOdds": {}, "Costed": {}, "Odds": {}, "Option": {},
    "TimeEstimate": {},
        "ToothPasses": {}, "WidthCard": {},
    "FittedModel": {
        "draw": plain(of("fitted", "draw"), count=(2, number(1, 3, 0, 10**6)), seed=SEED),
        "posterior": plain(of("fitted", "posterior"), draws=(2, number(1, 3, 0)), chains=(2, number(1, 3, 0)),
            seed=SEED),
        "draws": plain(of("fitted", "draws"), count=(2, number(1, 3, 0)), seed=SEED, board=(SKIP, BOARDS[1])),
        "load": plain(cs.FittedModel.load, path=(SKIP, st.sampled_from([os.devnull, "/no/such", __file__, b"x", 3.5,
            None])), also=(OSError, TypeError)),
    },
    "Layout": {"best": plain(of("layout", "best"), risk=RISK),
        "ranked": plain(of("layout", "ranked"), count=COUNT, risk=RISK, apart=(15.0, number(180)))},
    "Recommendation": {"best": plain(of("recommendation", "best"), risk=RISK),
        "allowed": plain(of("recommendation", "allowed"),
        cell=(Later("cell"), st.just(Later("cell")))),
        "row": plain(of("recommendation", "row"), cell=(Later("cell"), st.just(Later("cell"))))},
    "RiskMap": {
        "values": plain(of("risk", "values"), risk=RISK),
        "mean": plain(of("risk", "mean"), risk=RISK),
        "lengths_by_class": plain(of("risk", "lengths_by_class"), risk=RISK),
        "lip_kind": plain(of("risk", "lip_kind"), side=("left", words("right")), groove=(0, number(0, 1))),
        "why": plain(of("risk", "why"), station=(1.0, number(0, 3)), side=("left", words("right")),
            groove=(0, number(0, 1))),
        "worst_places": plain(of("risk", "worst_places"), count=COUNT, risk=RISK),
        "load": plain(cs.RiskMap.load, path=(SKIP, st.sampled_from([os.devnull, "/no/such", __file__, b"x", 3.5,
            None])), also=(OSError, TypeError)),
    },
    "Rose": {"values": plain(of("rose", "values"), risk=RISK), "best": plain(of("rose", "best"), risk=RISK),
        "ranked": plain(of("rose", "ranked"), count=COUNT, risk=RISK)},
    "SpeedProfile": {
        "speed_at": plain(of("profile", "speed_at"), station=STATION),
        "typed_at": plain(of("profile", "typed_at"), station=STATION),
        "time_at": plain(of("profile", "time_at"), station=STATION),
        "station_at": plain(of("profile", "station_at"), time=(0.01, st.one_of(number(0.12), numbers([0.0])))),
        "share_below": plain(of("profile", "share_below"), fraction=(0.5, number(1, 5e-324)), feed=FEED),
    },
    "Summary": {"poor": plain(lambda risk: made()["cell"].summary.poor(risk), risk=RISK),
        "of": plain(Summary.of, risk=(Later("risk"), st.just(Later("risk"))))},
    "Sweep": {
        "best": plain(of("sweep", "best"), risk=RISK),
        "ranked": plain(of("sweep", "ranked"), count=COUNT, risk=RISK),
        "carving": plain(of("sweep", "carving"), cell=(Later("cell"), st.just(Later("cell")))),
        "feed_per_tooth": plain(of("sweep", "feed_per_tooth"), cell=(Later("cell"), st.just(Later("cell")))),
        "process_window": plain(of("sweep", "process_window"), cell=(SKIP, st.just(Later("cell"))),
            waived=(SKIP, thing(("tip",), "tip", [3])), time_limit=(SKIP, number(5e-324, 1e7))),
        "board": plain(of("sweep", "board"), cell=(Later("cell"), st.just(Later("cell")))),
    },
}  # fmt: skip
CASES = [
    pytest.param(name, key, id=name + (f".{key}" if key else "")) for name, calls in CALLS.items() for key in calls
]


def test_every_public_name_has_its_place() -> None:
    assert set(CALLS) == set(NAMES)


ELSEWHERE = {
    **dict.fromkeys(
        ("RiskMap.save", "FittedModel.save", "Coupon.save"),
        "write where they are told, see `tests/test_files.py`",
    ),
    **dict.fromkeys(
        (
            "ShopBook.add_bit",
            "ShopBook.add_board",
            "ShopBook.add_dial_reading",
            "ShopBook.add_edge_reading",
            "ShopBook.add_grades",
            "ShopBook.add_job",
            "ShopBook.add_machine",
            "ShopBook.add_piece",
            "ShopBook.change_of_bit",
            "PieceCost.of",
            "ShopBook.wear",
            "ShopBook.withdraw",
            "Coupon.programs_to",
        ),
        "write where they are told, see `tests/test_book.py`",
    ),
    **dict.fromkeys(
        (
            "Band.from_parts",
            "FittedModel.level_spread",
            "LayoutRow.value",
            "Layout.turn",
            "BoardOdds.of",
            "Summary.of_many",
            "Cut.flank_slope",
            "Cutter.radius",
        ),
        "between the library's own parts, which hand on what has been looked at",
    ),
    **dict.fromkeys(("LipStrikes.part", "LipStrikes.thinner"), "between the library's own parts"),
    **dict.fromkeys(("Costed.chance_above", "Costed.chance_range"), "as those of `Minutes`, by the same functions"),
    **dict.fromkeys(
        [f"{kind}.{name}" for kind in ("RiskModel", "FittedModel") for name in ("layer", "lip_risks", "turned_risks")],
        "asked by maps, with all kinds of cuts and boards, see `risk_map`",
    ),
    **dict.fromkeys(
        ("Grader.at", "Grader.chances", "Grader.on_own_scale", "Grader.poor", "Grader.shifted"),
        "asked by fits and bands",
    ),
}


def test_every_method_that_asks_for_something_has_its_place() -> None:
    """All the others are asked after every call that made their object."""
    missing = []
    for name, kind in NAMES.items():
        for method in vars(kind) if isinstance(kind, type) else ():
            what = inspect.getattr_static(kind, method)
            what = what.__func__ if isinstance(what, classmethod | staticmethod) else what
            if method.startswith("_") or not inspect.isfunction(what) or method in CALLS[name]:
                continue
            if any(p.default is p.empty for p in [*inspect.signature(what).parameters.values()][1:]):
                missing.append(f"{name}.{method}")
    assert set(missing) == set(ELSEWHERE)


# --- what may come of it ----------------------------------------------------------------------------------------------

DOCUMENTED = {
    **dict.fromkeys(("Wood.*", "ElasticRatios.*"), "a property that is not known"),
    **dict.fromkeys(("Limit.*",), "not known; a row keeps what it is given"),
    **dict.fromkeys(("Cell.time", "Option.time"), "without a machine"),
    **dict.fromkeys(("Cell.strikes", "Cell.rubs"), "the cell failed"),
    **dict.fromkeys(("Cell.damage", "RiskMap.mean", "Summary.mean[*", "Summary.worst[*"), "not modelled, or no lip"),
    **dict.fromkeys(("Forces.stiffness", "Forces.deflection"), "without a stiffness"),
    **dict.fromkeys(("Forces.tip_stress", "Forces.tip_height"), "a bit without a tip width"),
    **dict.fromkeys(("Land.index", "Land.lips"), "shear strength not known; rows that part stretches"),
    **dict.fromkeys(("fibre_angle", "edge_angle", "RiskModel"), "where an input is: `RiskModel.support` of no lip"),
    "Answers.rows": "a model that does not know",
    "lip_push": "beyond the number of strikes",
    "RiskMap.damage": "all unknown",
    "Grade.*": "a row by itself keeps what it is given: `Grades` looks at it",
}
"""Places where a docstring says that NaN may stand, and for what; arrays with a rule of their own are in `RULES`."""


def lips_only(risk: cs.RiskMap) -> list[str]:
    """NaN only where there is no lip; risks, and what they come from, also where they are not modelled."""
    free = ("fuzz", "tear", "scorch", "support", "hazard", "tear_depth", "temperature")
    per_lip = [f.name for f in dataclasses.fields(risk) if np.shape(getattr(risk, f.name))[:2] == risk.exists.shape]
    return [n for n in per_lip if n not in free and np.isnan(holed(getattr(risk, n))[risk.exists]).any()]


def holed(values: np.ndarray) -> np.ndarray:
    """Floats, one a place: NaN if any of what belongs to it is."""
    out = np.asarray(values, dtype=float) if values.dtype.kind in "fiub" else np.zeros(values.shape)
    return out.reshape(*out.shape[:2], -1).sum(axis=-1)


def struck_only(found: cs.LipStrikes) -> list[str]:
    """Values as many as the strikes that were counted, NaN beyond."""
    inside = np.arange(found.chips.shape[-1]) < found.counts[..., None]
    return [n for n in ("chips", "depths", "cutting_speeds") if np.isnan(getattr(found, n)[inside]).any()]


def crossed_only(passes: cs.ToothPasses) -> list[str]:
    """A time where there is a crossing; a thickness and a speed wherever there is a time, below the face."""
    there = np.isfinite(passes.time)
    wrong = [n for n in ("axis_xy",) if np.isnan(getattr(passes, n)[there]).any()]
    return wrong + [n for n in ("azimuth",) if np.isnan(getattr(passes, n)[there]).any()]


RULES: dict[type, Callable[[Any], list[str]]] = {
    cs.RiskMap: lips_only, cs.LipStrikes: struck_only, cs.ToothPasses: crossed_only, Rose: lambda rose: [],
}  # fmt: skip


def is_documented(hole: str) -> bool:
    return any(hole == place or (place.endswith("*") and hole.startswith(place[:-1])) for place in DOCUMENTED)


def holes(thing_: Any, at: str) -> list[str]:
    """Places in a result, as type and field, that hold a NaN."""
    if isinstance(thing_, float | np.floating):
        return [at] if thing_ != thing_ else []
    if isinstance(thing_, np.ndarray):
        return [at] if thing_.dtype.kind == "f" and np.isnan(thing_).any() else []
    if type(thing_) in RULES:
        return [f"{type(thing_).__name__}.{name}" for name in RULES[type(thing_)](thing_)]
    if dataclasses.is_dataclass(thing_) and not isinstance(thing_, type):
        pairs = [(f"{type(thing_).__name__}.{f.name}", getattr(thing_, f.name)) for f in dataclasses.fields(thing_)]
    elif isinstance(thing_, tuple) and hasattr(thing_, "_fields"):
        pairs = [(f"{type(thing_).__name__}.{k}", v) for k, v in zip(thing_._fields, thing_, strict=True)]
    elif isinstance(thing_, Mapping):
        pairs = [(f"{at}[{k}]", v) for k, v in thing_.items()]
    elif isinstance(thing_, list | tuple):
        pairs = [(at, v) for v in thing_]
    else:
        return []
    return [hole for name, value in pairs for hole in holes(value, name)]


def said(thing_: Any) -> list[tuple[str, Any]]:
    """All that one of the library's objects says without being asked for anything particular."""
    kind, out = type(thing_), [("repr", repr(thing_)), ("str", str(thing_))]
    for name in dir(kind):
        what = inspect.getattr_static(kind, name)
        if name.startswith("_") or name in ("to_frame", "to_xarray") or isinstance(what, classmethod | staticmethod):
            continue
        if not inspect.isfunction(what):
            out.append((name, getattr(thing_, name)))
        elif all(p.default is not p.empty for p in [*inspect.signature(what).parameters.values()][1:]):
            out.append((name, getattr(thing_, name)()))
    return out


def settled(argument: Any) -> Any:
    if isinstance(argument, Later):
        return made()[argument.name]
    if isinstance(argument, Axis):
        return argument.make()
    return argument() if argument is form else argument


def undocumented(name: str, result: Any) -> set[str]:
    found = set(holes(result, name))
    if type(result).__module__.startswith("chipsim") and type(result) not in RULES:
        for key, value in said(result):
            if not isinstance(value, str) and not type(value).__module__.startswith("chipsim"):
                found |= set(holes(value, f"{type(result).__name__}.{key}"))
    return {hole for hole in found if not is_documented(hole)}


@pytest.mark.parametrize(("name", "key"), CASES)
def test_a_result_or_an_error_of_the_librarys_own(name: str, key: str) -> None:
    call = CALLS[name][key]
    made()

    @settings(max_examples=call.examples * TIMES if call.wild else 1, derandomize=True, deadline=None, database=None,
              suppress_health_check=list(HealthCheck), phases=[Phase.generate, Phase.shrink])  # fmt: skip
    @given(data=st.data())
    def ask(data: st.DataObject) -> None:
        spoil = sorted(data.draw(st.sets(st.sampled_from(sorted(call.wild)), max_size=3))) if call.wild else []
        given_ = dict(call.good) | {k: data.draw(call.wild[k], label=k) for k in spoil}
        begin = time.process_time()
        try:
            result = call.function(**{k: settled(v) for k, v in given_.items()})
            rest = undocumented(name, result)
            assert not rest, f"NaN in {rest}"
        except (cs.ChipsimError, *call.also):
            pass
        finally:
            plt.close("all")
        took = time.process_time() - begin
        assert took < SLOWEST, f"{took:.0f} s"

    if call.good or not call.wild:
        call.function(**{k: settled(v) for k, v in call.good.items()})
    ask()
