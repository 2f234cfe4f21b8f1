"""The kit itself: all that the library makes goes through it; how it is asked; what it says; the same each time.

Properties and their tolerances: each check's docstring. The relations are those of plane geometry, kinematics and
plain bookkeeping; which check stands for which is listed below.
"""

from __future__ import annotations

import ast
import inspect
import subprocess
import sys
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

import chipsim as cs
from chipsim.testing import (
    Check,
    Generator,
    PropertyError,
    check,
    check_all,
    checks_for,
    parametrize_with_checks,
    strategies,
)
from chipsim.testing._code import as_code
from chipsim.testing.strategies import cuts, depths, lengths, paths, reals, steadily

# --- what the library makes, through the kit --------------------------------------------------------------------------

POINT = st.tuples(lengths(-30, 30), lengths(-30, 30))
WIDE, DEEP = lengths(3, 12), depths(0.4, 2.0)


def _oval(width: float, slim: float, depth: float, centre: tuple[float, float]) -> cs.Path:
    return cs.oval(width, slim * width, depth, centre=centre)


def _spiral(inner: float, wider: float, turns: float, depth: float, start: float) -> cs.Path:
    return cs.spiral(inner, inner + wider, turns, depth, start=start)


def _rosette(outer: float, share: float, petals: int, depth: float) -> cs.Path:
    return cs.rosette(outer, share * outer, petals, depth, tolerance=0.01)


def _ellipse(width: float, slim: float, depth: float) -> cs.Path:
    return cs.ellipse(width, slim * width, depth, tolerance=0.01)


def _curve(radius: float, depth: float) -> cs.Path:
    return cs.curve(
        lambda t: np.column_stack([radius * np.cos(t), radius * np.sin(2 * t)]), depth, stop=1.9, tolerance=0.01
    )


def _line(x: float, y: float, depth: float, end_depth: float) -> cs.Path:
    return cs.line((0.1, 0.2), (x, y), (depth, end_depth))


def _polyline(side: float, bend: float, depth: float) -> cs.Path:
    return cs.polyline([(0, 0), (side, 0.3), (side * 1.1, side * bend)], depth)


GENERATORS = [
    Generator(_line, {"x": WIDE, "y": lengths(-5, 5), "depth": DEEP, "end_depth": DEEP}),
    Generator(_polyline, {"side": WIDE, "bend": reals(0.3, 1), "depth": DEEP}),
    Generator(
        cs.arc,
        {"centre": POINT, "radius": lengths(3, 9), "start": reals(-180, 180), "sweep": reals(20, 300), "depth": DEEP},
        lengths=("centre", "radius", "depth"),
    ),
    Generator(
        cs.ring,
        {"radius": lengths(3, 9), "depth": DEEP, "centre": POINT},
        lengths=("radius", "depth", "centre"),
    ),
    Generator(_oval, {"width": lengths(6, 16), "slim": reals(0.4, 0.95), "depth": DEEP, "centre": POINT}),
    Generator(
        _spiral,
        {
            "inner": lengths(2, 5),
            "wider": lengths(3, 8),
            "turns": reals(0.6, 1.8),
            "depth": DEEP,
            "start": reals(-90, 90),
        },
        turns="start",
    ),
    Generator(
        _rosette, {"outer": lengths(8, 14), "share": reals(0.5, 0.9), "petals": st.integers(3, 6), "depth": DEEP}
    ),
    Generator(_ellipse, {"width": lengths(8, 16), "slim": reals(0.5, 0.95), "depth": DEEP}),
    Generator(_curve, {"radius": lengths(4, 9), "depth": DEEP}),
]
SUBJECTS = [
    cs.VBit(60, 12.7, 2, 0.2),
    cs.VBit(90, 6.35, 1, runout=0.03, runout_azimuth=40),
    cs.VBit(120, 25.4, 3, 1.0, cutting_length=6.0),
    cs.ProfileBit([0, 0.6, 2.0, 2.4], [0.2, 1.2, 1.6, 3.0], 2),
    cs.straight_grain(33.3, -8.0),
    cs.grain_field(strategies.SlowTurn(12.0, 1.5, -0.8, 5.0)),
    cs.RiskModel(),
    cs.RiskModel(scatter=0, bundle=0.1),
    cs.RiskModel(turn=0),
    cs.Machine(400, 6000, corners="free"),
]


@parametrize_with_checks(SUBJECTS)
def test_the_librarys_own(subject: Any, check: Check) -> None:
    check(subject, examples=min(check.examples, 6))


@parametrize_with_checks(GENERATORS)
def test_the_librarys_generators(subject: Any, check: Check) -> None:
    check(subject, examples=min(check.examples, 3))


def test_a_level_carving_is_read_back_cut_by_cut() -> None:
    """Only level carvings keep their number of cuts in a program: the ones above all have a ramp among them."""
    bit = cs.VBit(90, 6.35, 2, 0.2)
    paths = (cs.polyline([(0, 0), (5, 0), (5, 4)], 1.2), cs.ring(4, 1.0), cs.arc((20, 0), 5, 10, -200, 0.8))
    cuts = [cs.Cut(bit, path, 12_000 + 1000 * k, 1500 + 300 * k) for k, path in enumerate(paths)]
    for carving in (cs.Carving(tuple(cuts)), cs.Carving((cuts[2], cuts[0]))):
        check(carving, only="a_program_reads_back_as_the_carving")


# --- what is held to what ---------------------------------------------------------------------------------------------

LAWS = {
    "rigid motion": [
        "rigid_motion_leaves_every_chip", "rigid_motion_leaves_the_map", "direction_enters_through_the_grain_only",
    ],
    "the fibre is an axis": [
        "the_fibre_is_an_axis", "a_fibre_of_the_field_has_no_head", "the_model_knows_no_head_of_a_fibre",
    ],
    "half a turn": ["half_a_turn_is_the_opposite_dive", "the_rose_has_a_period_of_half_a_turn"],
    "feed reversal": ["reversing_the_feed_swaps_entry_and_exit_only", "reversing_twice_is_nothing"],
    "mirror": [
        "mirror_with_spin_leaves_every_chip", "mirror_with_spin_swaps_the_lips",
        "mirror_alone_turns_with_into_against",
    ],
    "two lips of a straight groove": ["two_lips_of_a_line_agree_on_flat_grain"],
    "units": ["inches_in_are_millimetres_in"],
    "similarity": [
        "a_bigger_job_makes_bigger_chips", "a_bigger_job_strikes_as_often", "a_bigger_machine_takes_the_same_time",
    ],
    "speed with feed": ["speed_and_feed_together_leave_every_chip"],
    "chip budget": ["teeth_of_a_turn_share_the_feed", "chips_of_a_turn_fill_the_slot"],
    "earlier passes": ["earlier_passes_leave_the_groove"],
    "width and outline": [
        "width_law_of_a_cone", "lips_lie_at_the_edge_of_the_groove", "a_table_of_the_outline_cuts_the_same_chips",
    ],
    "bounds and the sine law": ["chips_lie_between_nothing_and_the_radius", "chips_follow_the_sine_to_second_order"],
    "strikes against feed": ["faster_feeds_strike_less_often"],
    "sampling": ["more_vertices_leave_every_chip", "more_vertices_leave_the_map", "length_is_the_sum_of_chords"],
    "starts and joins": [
        "a_loop_is_the_same_wherever_it_starts", "two_stretches_make_the_whole", "cuts_far_apart_add_up",
        "joining_saves_time",
    ],
    "machine": [
        "motion_keeps_every_limit", "a_better_machine_is_no_slower", "strong_axes_take_length_over_feed",
        "there_and_back_take_as_long",
    ],
    "classes and bounds of risk": [
        "every_lip_is_in_one_class", "risks_lie_between_nothing_and_one", "end_grain_has_no_direction",
    ],
    "purity": [
        "the_same_question_has_the_same_answer", "one_number_is_an_array_of_one", "radius_is_pure",
        "the_model_is_pure",
    ],
}  # fmt: skip
BEYOND = [
    "groove_volume_is_the_section_swept", "a_cut_twice_is_cut_once", "grooves_that_cross_count_once",
    "kernels_agree_with_the_oracle", "lips_agree_with_the_oracle",
    "a_saved_map_loads_as_it_was", "a_saved_map_of_the_carving_loads_as_it_was", "a_program_reads_back_as_the_carving",
]  # fmt: skip

CUT = cs.Cut(cs.VBit(90, 6.35, 2, 0.2), cs.polyline([(0, 0), (5, 0), (5, 4)], 1.2), 12_000, 2000)
ONE_OF_EACH = [*SUBJECTS, cs.ring(5, 1.0), CUT, cs.Carving((CUT,)), GENERATORS[3]]


def every_check() -> dict[str, Check]:
    return {c.name: c for subject in ONE_OF_EACH for c in checks_for(subject)}


def test_the_kit_holds_every_law_and_more() -> None:
    have = every_check()
    for law, names in LAWS.items():
        assert set(names) <= set(have), law
    assert set(BEYOND) <= set(have)


def test_every_property_says_what_it_is() -> None:
    """A docstring with the property; a tolerance is a number in it, or it says that there is none."""
    for name, each in every_check().items():
        assert len(each.property.split()) > 8, name
        assert each.name == name
        assert repr(each) == f"<check {name} of a {each.kind}>"


# --- how it is asked --------------------------------------------------------------------------------------------------


class Shrinking:
    """An outline that falls."""

    max_depth = 4.0

    def radius(self, height: Any) -> np.ndarray:
        return 2.0 - 0.25 * np.asarray(height, dtype=float)

    def __repr__(self) -> str:
        return "Shrinking()"


def test_a_failure_teaches() -> None:
    with pytest.raises(PropertyError) as caught:
        check(Shrinking())
    text = str(caught.value)
    assert text.startswith("Shrinking breaks radius_never_falls_with_height\n")
    for word in ("property   h1 <= h2 implies", "got        radius(4): 1 mm", "expected   radius(0", " mm or more"):
        assert word in text
    assert "tolerance  4 units of the last place" in text
    assert "    subject = Shrinking()\n    heights = np.array([0.0, 4.0])\n" in text
    assert "    check(subject, only='radius_never_falls_with_height')" in text
    assert (caught.value.check, caught.value.got[:8]) == ("radius_never_falls_with_height", "1 mm")


def test_the_same_case_is_found_every_time() -> None:
    texts = set()
    for _ in range(3):
        with pytest.raises(PropertyError) as caught:
            check_all(lambda steps: cs.line((0, 0), (1 / (steps - 7), 1), 1.0), steps=st.integers(2, 9))
        texts.add(str(caught.value))
    (text,) = texts
    assert "steps = 7" in text
    assert "got        ZeroDivisionError: division by zero\n" in text


def test_the_smallest_arguments_are_found() -> None:
    """A generator broken for turns >= 3 and pitch > 2 only is shown at turns = 3 and pitch just above 2."""

    def helix(pitch: float, turns: int) -> cs.Path:
        broken = turns >= 3 and pitch > 2
        return cs.line((0, 0), (pitch * turns, np.nan if broken else 1.0), 1.0)

    with pytest.raises(PropertyError) as caught:
        check(Generator(helix, {"pitch": lengths(0.5, 5), "turns": st.integers(1, 6)}), examples=60)
    assert "pitch = 2.001\n" in caught.value.counterexample
    assert "turns = 3\n" in caught.value.counterexample
    assert "subject = helix(pitch=pitch, turns=turns)" in caught.value.counterexample


def test_collecting_and_expecting() -> None:
    results = check(Shrinking(), on_fail="collect")
    assert [r.check for r in results if r.status == "failed"] == ["radius_never_falls_with_height"]
    reason = {"radius_never_falls_with_height": "a dovetail, on purpose"}
    assert {r.status for r in check(Shrinking(), expected_failures=reason)} == {"passed", "expected"}
    with pytest.raises(cs.DomainError, match=r"radius_is_pure passes, though .no idea. was given"):
        check(Shrinking(), expected_failures=reason | {"radius_is_pure": "no idea"})
    with pytest.raises(cs.DomainError, match=r"checks must be among .* got 'radius_is_round'"):
        check(Shrinking(), expected_failures={"radius_is_round": "typing error"})
    with pytest.raises(cs.DomainError, match="got 'radius_is_round'"):
        check(Shrinking(), only="radius_is_round")
    with pytest.raises(cs.DomainError, match="on_fail must be one of 'raise', 'collect'"):
        check(Shrinking(), on_fail="shrug")
    assert len(check(Shrinking(), only=["radius_is_pure", "a_copy_is_the_same_outline"])) == 2


@parametrize_with_checks(
    [Shrinking()],
    expected_failures={"radius_never_falls_with_height": "shows that foretold failures are strict xfails"},
)
def test_in_the_form_of_the_readme(subject: Any, check: Check) -> None:
    check(subject)


def test_names_of_the_tests_and_reasons() -> None:
    mark = parametrize_with_checks(
        [Shrinking(), GENERATORS[3]],
        expected_failures=lambda s: {"radius_has_no_jumps": "why not"} if isinstance(s, Shrinking) else {},
    )
    rows = mark.args[1]
    ids = [row.id for row in rows]
    assert ids[0] == "Shrinking0-radius_is_finite_and_not_negative"
    assert "ring1-the_path_moves_with_its_point" in ids
    assert len(set(ids)) == len(ids)
    (marked,) = (row for row in rows if row.marks)
    assert marked.id == "Shrinking0-radius_has_no_jumps"
    assert marked.marks[0].kwargs["strict"] is True
    with pytest.raises(cs.DomainError, match="got 'typo'"):
        parametrize_with_checks([Shrinking()], expected_failures={"typo": "x"})
    with pytest.raises(cs.DomainError, match="got 'typo'"):
        parametrize_with_checks([Shrinking()], expected_failures=lambda s: {"typo": "x"})


def test_what_can_be_checked_decides() -> None:
    bare, whole = ({c.name for c in checks_for(s)} for s in (Shrinking(), cs.VBit(60, 12.7)))
    assert bare < whole
    assert {"knots_are_the_outline", "width_law_of_a_cone", "kernels_agree_with_the_oracle"} <= whole - bare
    with pytest.raises(TypeError, match=r"nothing is known about a int. Looked for: cutter profile: a method `radius"):
        checks_for(3)
    with pytest.raises(cs.DomainError, match="function must be callable, got int"):
        Generator(3, {})  # type: ignore[arg-type]
    with pytest.raises(cs.DomainError, match="'middle' must be one of the arguments radius, depth"):
        Generator(cs.ring, {"radius": WIDE, "depth": DEEP}, moves="middle")


def test_generators_of_other_things() -> None:
    results = check_all(lambda angle: cs.VBit(angle, 12.7, 2), angle=reals(30, 120))
    assert {"the_same_arguments_make_the_same", "width_law_of_a_cone"} <= {r.check for r in results}
    with pytest.raises(PropertyError, match="kind of what the generator makes"):
        check_all(lambda n: cs.ring(5, 1) if n < 4 else cs.VBit(60, 6), n=st.integers(0, 9))


@steadily(3)
@given(size=lengths(3, 6))
def test_within_a_test_that_draws_itself(size: float) -> None:
    """Properties that draw nothing can be asked anywhere; a search within a search hypothesis refuses."""
    check(cs.ring(size, 1.0), only="joints_are_the_vertices")


def test_a_generator_that_makes_nothing() -> None:
    with pytest.raises(TypeError, match="makes nothing from its arguments: division by zero"):
        check_all(lambda n: 1 / (n * 0), n=st.integers(0, 9))


def test_without_hypothesis_the_hint_is_one_line() -> None:
    code = (
        "import sys; sys.modules['hypothesis'] = None\n"
        "import chipsim as cs\n"
        "from chipsim.testing import check\n"
        "check(cs.ring(5, 1), only='joints_are_the_vertices')\n"
        "try:\n    check(cs.ring(5, 1), only='heading_is_the_tangent')\n"
        "except ImportError as error:\n    assert 'chipsim[testing]' in str(error)\n"
        "else:\n    raise SystemExit(1)\n"
    )
    subprocess.run([sys.executable, "-c", code], check=True)


# --- strategies and code ----------------------------------------------------------------------------------------------


def test_strategies_take_keywords_and_say_what_they_make() -> None:
    for name in strategies.__all__:
        thing = getattr(strategies, name)
        if not inspect.isfunction(thing) or name in ("reals", "lengths", "depths", "steadily"):
            continue
        assert thing.__doc__, name
        kinds = {p.kind for p in inspect.signature(thing).parameters.values()}
        assert kinds <= {inspect.Parameter.KEYWORD_ONLY}, name


@steadily(25)
@given(data=st.data())
def test_strategies_build_what_they_say(data: st.DataObject) -> None:
    assert isinstance(data.draw(strategies.bits()), cs.VBit)
    assert data.draw(st.from_type(cs.Machine)).acceleration in (150, 500, 2000)
    loop = data.draw(strategies.loops())
    assert loop.closed
    radii = np.hypot(*loop.xy.T)
    assert radii.min() > 2
    assert radii.max() < 21
    carving = data.draw(strategies.carvings())
    assert 1 <= len(carving) <= 3
    assert len({id(c.bit) for c in carving}) == 1
    program = data.draw(strategies.programs(grooves=2))
    assert cs.read_rs274(program, cs.VBit(60, 25.4)).length > 0
    rows = data.draw(strategies.grade_tables(rings=2, sectors=4))
    assert len(rows) in (8, 16)
    assert all(r.grade is None or 0 <= r.grade <= 4 for r in rows)
    assert all((r.kind == "") == (not r.grade) for r in rows)
    heights = data.draw(strategies.heights(top=4.0))
    assert (heights[0], heights[-1]) == (0.0, 4.0)
    assert (np.diff(heights) > 0).all()
    assert data.draw(strategies.woods()).density > 0


@steadily(25)
@given(cut=strategies.cuts(passes=True, machine=strategies.machines()), board=strategies.boards())
def test_code_builds_the_same_again(cut: cs.Cut, board: cs.Board) -> None:
    scope = {"np": np, "cs": cs, "SlowTurn": strategies.SlowTurn}
    again = eval(as_code(cut), scope)
    assert again == cut
    same = eval(as_code(board), scope)
    assert same.wood == board.wood
    for old, new in zip(board.grain.at(np.ones((2, 2))), same.grain.at(np.ones((2, 2))), strict=True):
        np.testing.assert_array_equal(old, new)
    assert as_code([np.float64(1.5), (2,)]) == "[1.5, (2,)]"
    assert as_code(cs.ring) == "ring"


def test_the_kit_is_whole() -> None:
    """Each module that registers properties is loaded by `checks_for`, so that none lies forgotten."""
    import chipsim.testing._core as core

    folder = Path(core.__file__).parent
    for file in folder.glob("_*.py"):
        if "@property_of(" in file.read_text(encoding="utf-8") and file.stem != "_core":
            assert file.stem in core._MODULES
            assert ast.get_docstring(ast.parse(file.read_text(encoding="utf-8")))


UPRIGHT = ("rigid_motion_leaves_the_map", "mirror_with_spin_swaps_the_lips", "half_a_turn_is_the_opposite_dive",
           "a_bigger_job_strikes_as_often", "speed_and_feed_together_leave_every_chip", "every_lip_is_in_one_class",
           "a_saved_map_loads_as_it_was", "inches_in_are_millimetres_in")  # fmt: skip
"""Properties of a cut that must hold where it plunges, stands and lifts as well."""


@pytest.mark.parametrize("name", UPRIGHT)
def test_properties_hold_with_plunges_and_dwells(name: str) -> None:
    check(Generator(lambda cut: cut, {"cut": cuts(path=paths(vertical=True, pieces=2))}), only=name, examples=3)
