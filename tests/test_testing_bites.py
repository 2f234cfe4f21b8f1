"""The kit bites: subjects broken on purpose with the exact checks each must fail, and good ones that must fail none.

Source of the lists: each subject breaks one law by construction, and the checks named are those whose docstring that
law contradicts.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from typing import Any

import numpy as np
import pytest
from hypothesis import strategies as st

import chipsim as cs
from chipsim.chips import lips
from chipsim.kernels import probes
from chipsim.scene.cutters import width_at
from chipsim.testing import Generator, PropertyError, check, strategies
from chipsim.testing.strategies import SlowTurn


def failures(subject: Any, examples: int | None = None) -> set[str]:
    """Names of the checks that a subject fails."""
    return {r.check for r in check(subject, on_fail="collect", examples=examples) if r.status == "failed"}


# --- cutter profiles --------------------------------------------------------------------------------------------------


class Cone:
    """A good one, in its barest form: only a profile."""

    max_depth = 6.0

    def radius(self, height: Any) -> np.ndarray:
        return 0.1 + 0.5 * np.asarray(height, dtype=float)


class Bulge(Cone):
    """Falls in the last 0.2 % of its height only."""

    def radius(self, height: Any) -> np.ndarray:
        h = np.asarray(height, dtype=float)
        return np.where(h > 5.99, 0.2, super().radius(h))


class Negative(Cone):
    def radius(self, height: Any) -> np.ndarray:
        return super().radius(height) - 0.2


class Jump(Cone):
    """Rises by half a millimetre at once."""

    def radius(self, height: Any) -> np.ndarray:
        h = np.asarray(height, dtype=float)
        return super().radius(h) + np.where(h > 2.0, 0.5, 0.0)


class Scalar(Cone):
    """Takes one number only."""

    def radius(self, height: Any) -> Any:
        return 0.1 + 0.5 * float(height)


class Writes(Cone):
    """Works in the caller's array."""

    def radius(self, height: Any) -> np.ndarray:
        h = np.asarray(height, dtype=float)
        h *= 0.5
        h += 0.1
        return h


class Moody(Cone):
    """Remembers how often it was asked."""

    def __init__(self) -> None:
        self.asked = 0

    def radius(self, height: Any) -> np.ndarray:
        self.asked += 1
        return super().radius(height) + 1e-6 * self.asked


class Dice(Cone):
    """Draws from the global random state, to no purpose."""

    def radius(self, height: Any) -> np.ndarray:
        np.random.random()  # noqa: NPY002
        return super().radius(height)


@dataclass(frozen=True)
class Edges:
    """What a `Cutter` has besides its outline."""

    diameter: float = 12.7
    flutes: int = 2
    rake: float = 10.0
    clearance: float = 15.0
    edge_radius: float = 0.008
    runout: float = 0.0
    runout_azimuth: float = 0.0
    cutting_length: float | None = 6.0
    max_spindle_speed: float | None = None


@dataclass(frozen=True)
class Ogee(Edges):
    """A good one: an S-shaped outline, smooth, with no knots."""

    def radius(self, height: Any) -> np.ndarray:
        t = np.clip(np.asarray(height, dtype=float) / 6.0, 0, 1)
        return 0.2 + 6.15 * t * t * (3 - 2 * t)


@dataclass(frozen=True)
class LyingKnots(Edges):
    """Its outline has a shelf, its knots say a straight cone: a `Cut` refuses it."""

    def radius(self, height: Any) -> np.ndarray:
        h = np.asarray(height, dtype=float)
        return np.minimum(0.2 + h + np.where(h > 2.0, 0.3, 0.0), 6.35)

    def knots(self) -> tuple[np.ndarray, np.ndarray]:
        return np.array([0.0, 6.15]), np.array([0.2, 6.35])


@dataclass(frozen=True)
class TooWide(Edges):
    """Says 12.7 mm and cuts wider."""

    def radius(self, height: Any) -> np.ndarray:
        return 0.2 + 1.2 * np.asarray(height, dtype=float)


@dataclass(frozen=True)
class FullAngle(Edges):
    """The full angle where the half belongs."""

    included_angle: float = 60.0
    tip_width: float = 0.0

    def radius(self, height: Any) -> np.ndarray:
        h = np.asarray(height, dtype=float)
        return np.minimum(h * np.tan(np.radians(self.included_angle)), self.diameter / 2)


# A bit that no `Cut` takes fails every property of the cuts made with it
NO_CUT = {
    "a_constant_azimuth_is_a_phase",
    "a_bigger_job_makes_bigger_chips",
    "a_cut_has_the_outlines_width",
    "a_table_of_the_outline_cuts_the_same_chips",
    "chips_follow_the_sine_to_second_order",
    "chips_lie_between_nothing_and_the_radius",
    "chips_of_a_turn_fill_the_slot",
    "earlier_passes_leave_the_groove",
    "groove_volume_is_the_section_swept",
    "kernels_agree_with_the_oracle",
    "mirror_with_spin_leaves_every_chip",
    "rigid_motion_leaves_every_chip",
    "speed_and_feed_together_leave_every_chip",
    "teeth_of_a_turn_share_the_feed",
}

CUTTERS = [
    (Cone(), set()),
    (Ogee(), set()),
    (cs.VBit(60, 12.7, 2, 0.2, runout=0.02), set()),
    (cs.ProfileBit([0, 1, 1.2, 2.5], [0.1, 1.2, 3.0, 3.0], 3), set()),
    (Bulge(), {"radius_never_falls_with_height", "radius_has_no_jumps"}),
    (Negative(), {"radius_is_finite_and_not_negative"}),
    (Jump(), {"radius_has_no_jumps"}),
    (
        Scalar(),
        {
            "radius_is_finite_and_not_negative",
            "radius_never_falls_with_height",
            "radius_has_no_jumps",
            "radius_of_a_batch_is_that_of_each",
            "radius_is_pure",
            "a_copy_is_the_same_outline",
        },
    ),
    (Moody(), {"radius_is_pure", "a_copy_is_the_same_outline", "radius_of_a_batch_is_that_of_each"}),
    (Dice(), {"radius_is_pure"}),
    (LyingKnots(), {"radius_has_no_jumps", "knots_are_the_outline"} | NO_CUT),
    (
        TooWide(),
        {
            "radius_stays_within_the_diameter",
            # a `Cut` as deep as that refuses it
            "a_cut_has_the_outlines_width",
            "a_table_of_the_outline_cuts_the_same_chips",
        },
    ),
    (FullAngle(), {"width_law_of_a_cone"}),
]


@pytest.mark.parametrize(("cutter", "expected"), CUTTERS, ids=lambda v: type(v).__name__)
def test_cutters(cutter: Any, expected: set[str]) -> None:
    assert failures(cutter) == expected


def test_a_cutter_that_writes_into_its_argument() -> None:
    """Which of the other checks meet the spoilt array hangs on their order of asking: purity must be among them."""
    found = failures(Writes())
    assert "radius_is_pure" in found
    assert failures(Writes()) == found


# --- paths and their generators ---------------------------------------------------------------------------------------


def wave(length: float, height: float, centre: tuple[float, float] = (0.0, 0.0)) -> cs.Path:
    """A good one: one period of a cosine wave from `centre` on."""
    x, y = centre
    return cs.curve(
        lambda t: np.column_stack([x + length * t, y + height * (1 - np.cos(2 * np.pi * t))]), 1.5, tolerance=0.02
    )


def not_rigid(length: float, height: float, centre: tuple[float, float] = (0.0, 0.0)) -> cs.Path:
    """The wave grows with its distance from the origin: moving its centre changes its shape."""
    return wave(length, height + 0.01 * abs(centre[0]), centre)


CALLS: list[int] = []


def restless(length: float, height: float) -> cs.Path:
    """Makes another path at every call."""
    CALLS.append(1)
    return wave(length + 1e-6 * len(CALLS), height)


def chords(length: float, height: float, steps: int) -> cs.Path:
    """A good one, in straight pieces."""
    t = np.linspace(0, 1, steps + 1)
    return cs.polyline(np.column_stack([length * t, height * np.sin(2 * np.pi * t)]), 1.5)


def inches(length: float) -> cs.Path:
    """Has an inch where a millimetre belongs: it does not grow with its length."""
    return cs.polyline([(0, 0), (length, 0), (length, 25.4)], length / 10)


LENGTH, HEIGHT = strategies.lengths(4, 12), strategies.lengths(0.2, 1.0)
CENTRE = st.tuples(strategies.lengths(-30, 30), strategies.lengths(-30, 30))
GENERATORS = [
    (Generator(wave, {"length": LENGTH, "height": HEIGHT, "centre": CENTRE}), set()),
    (Generator(chords, {"length": LENGTH, "height": HEIGHT, "steps": st.integers(3, 9)}), set()),
    (Generator(not_rigid, {"length": LENGTH, "height": HEIGHT, "centre": CENTRE}), {"the_path_moves_with_its_point"}),
    (Generator(restless, {"length": LENGTH, "height": HEIGHT}), {"the_same_arguments_make_the_same"}),
    (Generator(inches, {"length": LENGTH}, lengths=("length",)), {"the_path_grows_with_its_lengths"}),
]


@pytest.mark.parametrize(("generator", "expected"), GENERATORS, ids=lambda v: getattr(v, "name", ""))
def test_generators(generator: Generator, expected: set[str]) -> None:
    assert failures(generator, examples=3) == expected


class Warped(cs.Path):
    """A path whose `rotated` forgets to turn one vertex."""

    def rotated(self, degrees: float) -> cs.Path:
        turned = super().rotated(degrees)
        xy = turned.xy.copy()
        xy[-1] = self.xy[-1]
        return cs.Path(xy, self.depth, sweep=self.sweep, closed=self.closed)


class Slipping(cs.Path):
    """A path that is a little faster than it says: its points lie 1 % farther along."""

    def position(self, station: Any) -> np.ndarray:
        return super().position(np.minimum(np.asarray(station, dtype=float) * 1.01, self.length))


def test_a_path_that_does_not_turn_as_one() -> None:
    found = failures(Warped(np.array([[0, 0], [4, 1], [6, -2]]), np.array(1.2)), examples=3)
    assert found == {
        "rigid_motion_moves_every_point",
        "a_machine_keeps_its_limits_on_it",
        "rigid_motion_leaves_the_map",
        "half_a_turn_is_the_opposite_dive",
    }


def test_a_path_with_a_false_arc_length() -> None:
    found = failures(Slipping(np.array([[0, 0], [4, 1], [6, -2]]), np.array(1.2)), examples=3)
    assert {
        "points_are_finite_and_no_farther_than_the_way",
        "heading_is_the_tangent",
        "joints_are_the_vertices",
    } <= found


# --- grain ------------------------------------------------------------------------------------------------------------


def folded(x: np.ndarray, y: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Azimuth folded into [0, 180) without turning the dive over: the fibre taken for a vector."""
    return (170.0 + 0.7 * x) % 180.0, np.full(np.shape(x), 20.0)


def averaged(x: np.ndarray, y: np.ndarray) -> np.ndarray:
    """Mixes two boards' fibres by adding unit vectors: which way the second points, as 179 or as 1 deg, matters."""
    a, b = np.radians(10.0), np.radians((170.0 + 0.7 * x) % 180.0)
    return np.degrees(np.arctan2(np.sin(a) + np.sin(b), np.cos(a) + np.cos(b)))


def neighbourly(x: np.ndarray, y: np.ndarray) -> np.ndarray:
    """Looks at the other points of the batch."""
    return 20.0 + (x - np.mean(x))


def glued(x: np.ndarray, y: np.ndarray) -> np.ndarray:
    """Two staves: jumps in truth."""
    return np.where(x > 3.0, 70.0, 10.0)


class Dizzy(cs.Grain):
    """A field whose `turned` forgets to add the turn to the azimuth."""

    def turned(self, degrees: float) -> cs.Grain:
        right = super().turned(degrees)
        return cs.grain_field(lambda x, y: (right.function(x, y)[0] - degrees, right.function(x, y)[1]))


GRAINS = [
    (cs.straight_grain(33.3, 12.0), set()),
    (cs.grain_field(SlowTurn(10.0, 1.5, -2.0, 8.0)), set()),
    (cs.grain_field(lambda x, y: (np.hypot(x, y) * 3) % 180.0), set()),
    (cs.grain_field(folded), {"fibres_turn_without_jumps_as_axes"}),
    (cs.grain_field(glued), {"fibres_turn_without_jumps_as_axes"}),
    (
        Dizzy(SlowTurn(10.0, 1.5, -2.0), "dizzy"),
        {"a_turned_board_has_the_same_fibres", "board_and_path_move_together"},
    ),
]


@pytest.mark.parametrize(("grain", "expected"), GRAINS, ids=range(len(GRAINS)))
def test_grain(grain: cs.Grain, expected: set[str]) -> None:
    assert failures(grain) == expected


def test_grain_that_looks_at_the_batch_or_cancels() -> None:
    assert "fibres_of_a_batch_are_those_of_each" in failures(cs.grain_field(neighbourly), examples=4)
    assert "fibres_turn_without_jumps_as_axes" in failures(cs.grain_field(averaged))


# --- risk models ------------------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class Model:
    """The library's own model with one thing changed."""

    base: cs.RiskModel = field(default_factory=lambda: cs.RiskModel(turn=0))

    @property
    def bundle(self) -> float:
        return self.base.bundle

    def lip_risks(self, strikes: Any, fibres: Any, cut: cs.Cut, wood: cs.Wood) -> dict[str, np.ndarray]:
        return self.changed(self.base.lip_risks(strikes, fibres, cut, wood), strikes, fibres, cut)

    def changed(self, found: dict[str, np.ndarray], strikes: Any, fibres: Any, cut: cs.Cut) -> dict[str, np.ndarray]:
        return found


class Compass(Model):
    """Lips that face north are worse: hangs on absolute azimuth."""

    def changed(self, found: Any, strikes: Any, fibres: Any, cut: cs.Cut) -> Any:
        north = 0.5 + 0.5 * np.sin(np.radians(strikes.lips.outward))
        return found | {"fuzz": 0.8 * found["fuzz"] + 0.2 * north}


class Headed(Model):
    """Takes a fibre's head for something: an arrow, not an axis."""

    def changed(self, found: Any, strikes: Any, fibres: Any, cut: cs.Cut) -> Any:
        a = np.radians(strikes.lips.outward)
        across = fibres[..., 0] * np.cos(a) + fibres[..., 1] * np.sin(a)
        return found | {"fuzz": np.clip(found["fuzz"] * (1 + 0.5 * across), 0, 1)}


class Eager(Model):
    """More strikes, more fuzz."""

    def changed(self, found: Any, strikes: Any, fibres: Any, cut: cs.Cut) -> Any:
        return found | {"fuzz": np.where(strikes.exists, 1 - np.exp(-0.05 * strikes.counts), np.nan)}


class Holes(Model):
    """NaN here and there."""

    def changed(self, found: Any, strikes: Any, fibres: Any, cut: cs.Cut) -> Any:
        return found | {"fuzz": np.where(strikes.counts > 2, found["fuzz"], np.nan)}


class Overfull(Model):
    """Beyond 1."""

    def changed(self, found: Any, strikes: Any, fibres: Any, cut: cs.Cut) -> Any:
        return found | {"fuzz": 3 * found["fuzz"] + 0.5}


class Gossip(Model):
    """A lip is judged by the mean of its neighbours."""

    def changed(self, found: Any, strikes: Any, fibres: Any, cut: cs.Cut) -> Any:
        some = found["fuzz"][strikes.exists]
        mean = some.mean() if some.size else 0.0
        return found | {"fuzz": 0.5 * found["fuzz"] + 0.5 * mean}


class Blunt(Model):
    """A round edge is taken for a keen one."""

    def lip_risks(self, strikes: Any, fibres: Any, cut: cs.Cut, wood: cs.Wood) -> dict[str, np.ndarray]:
        odd = replace(cut, bit=replace(cut.bit, edge_radius=min(0.5, 1e-4 / cut.bit.edge_radius)))
        return self.base.lip_risks(strikes, fibres, odd, wood)


class Scribbler(Model):
    """Writes into the strikes."""

    def changed(self, found: Any, strikes: Any, fibres: Any, cut: cs.Cut) -> Any:
        if strikes.cutting_speeds.flags.writeable:
            strikes.cutting_speeds[...] = 0.0
        return found


MODELS = [
    (cs.RiskModel(turn=0), set()),
    (cs.RiskModel(), set()),
    (Model(), set()),
    (
        Compass(),
        {
            "direction_enters_through_the_grain_only",
            "mirrored_jobs_have_mirrored_risks",
            # end grain is not known to the model this one is made of: there is nothing to turn
            "the_rose_has_a_period_of_half_a_turn",
        },
    ),
    (
        Headed(),
        {"the_model_knows_no_head_of_a_fibre", "the_rose_has_a_period_of_half_a_turn"},
    ),
    (Eager(), {"another_strike_never_adds_fuzz", "a_rubbed_lip_is_a_fuzzy_lip"}),
    (Holes(), {"risks_lie_between_nothing_and_one"}),
    (
        Overfull(),
        {
            "risks_lie_between_nothing_and_one",
            # no map can be drawn up of what lies beyond 1
            "direction_enters_through_the_grain_only",
            "mirrored_jobs_have_mirrored_risks",
            "a_map_of_the_model_loads_as_it_was",
        },
    ),
    (Gossip(), {"lips_are_judged_each_for_itself"}),
    (Blunt(), {"a_sharper_edge_never_adds_fuzz"}),
    (Scribbler(), {"the_model_is_pure"}),
]


@pytest.mark.parametrize(("model", "expected"), MODELS, ids=lambda v: type(v).__name__)
def test_models(model: Any, expected: set[str]) -> None:
    assert failures(model) == expected


# --- cuts, carvings, machines -----------------------------------------------------------------------------------------


def test_lips_with_a_false_width(monkeypatch: pytest.MonkeyPatch) -> None:
    """Half-widths off by a hundredth: lips beside the groove that the kernels cut."""
    monkeypatch.setattr(lips, "width_at", lambda knots, depth: 1.01 * width_at(knots, depth))
    bit = cs.VBit(90, 6.35, 2, 0.2)
    found = failures(cs.Cut(bit, cs.polyline([(0, 0), (5, 0), (5, 4)], 1.2), 12_000, 2000), examples=2)
    assert found == {
        "lips_lie_at_the_edge_of_the_groove",
        "a_cut_twice_is_cut_once",
        "groove_volume_is_the_section_swept",
    }


# --- histories --------------------------------------------------------------------------------------------------------

TWO_STROKES = cs.Carving(
    tuple(cs.Cut(cs.VBit(60, 12.7, 2), cs.line((x, 0), (x + 6, 1), 1.5), 15_000, 1500, phase=20) for x in (0, 3))
)


def forgetful(original: Any) -> Any:
    """Strokes before a lip's own leave nothing behind: what the library did before it kept one history."""

    def history(*arguments: Any) -> Any:
        return original(*arguments) if arguments[10] else 0

    return history


def greedy(original: Any) -> Any:
    """A last pass finds next to nothing of what the pass before it has left."""

    def history(*arguments: Any) -> Any:
        if arguments[10] and arguments[14] > 0:
            arguments[16][...] *= 0.02
        return original(*arguments)

    return history


def drifting(original: Any) -> Any:
    """Every stroke leaves wood by its number in micrometres short of what it took."""

    def history(*arguments: Any) -> Any:
        arguments[16][...] -= 1e-3 * arguments[14]
        return original(*arguments)

    return history


@pytest.mark.parametrize(
    ("fault", "subject", "expected"),
    [
        (forgetful, TWO_STROKES.cuts[0], "a_stroke_cut_in_parts_strikes_as_the_whole"),
        (greedy, TWO_STROKES.cuts[0], "a_pass_clear_of_a_lip_changes_nothing"),
        (drifting, TWO_STROKES, "order_counts_only_where_strikes_meet"),
    ],
)
def test_a_history_that_forgets_or_drifts(
    fault: Any, subject: Any, expected: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    check(subject, only=expected, examples=2)
    monkeypatch.setattr(probes, "lip_history", fault(probes.lip_history))
    with pytest.raises(PropertyError, match=expected):
        check(subject, only=expected)


GOOD = [
    cs.Cut(cs.VBit(90, 6.35, 2, 0.2, runout=0.02), cs.polyline([(0, 0), (5, 0), (5, 4)], 1.2), 12_000, 2000),
    cs.Cut(cs.VBit(60, 6.35, 3), cs.ring(4, 1.5), 12_000, 2000, spin="ccw", machine=cs.Machine(500, 5000)),
    cs.Cut(cs.VBit(60, 6.35, 1), cs.line((0, 0), (6, 2), (0.4, 2.0)), 12_000, 2000, passes=[0.3]),
    cs.Machine(500, 5000),
    cs.Machine(150, 1500, corners="halt", plunge_feed=1200),
]
GOOD.append(cs.Carving(tuple(replace(c, bit=GOOD[0].bit, passes=None) for c in GOOD[:3])))


@pytest.mark.parametrize("subject", GOOD, ids=lambda v: type(v).__name__)
def test_good_ones_fail_none(subject: Any) -> None:
    assert failures(subject) == set()


def test_a_failure_can_be_copied_and_run(capsys: pytest.CaptureFixture[str]) -> None:
    """The counterexample of a broken outline, pasted, breaks it again."""
    with pytest.raises(PropertyError) as caught:
        check(Jump(), only="radius_has_no_jumps")
    assert "property   The outline is continuous" in str(caught.value)
    assert caught.value.check == "radius_has_no_jumps"
    assert "0.5 mm" in caught.value.got
    steep = Generator(lambda length: Warped(np.array([[0, 0], [length, 1]]), np.array(1.0)), {"length": LENGTH})
    with pytest.raises(PropertyError) as caught:
        check(steep, only="rigid_motion_moves_every_point")
    assert "length = 4.0" in caught.value.counterexample
    bit = cs.VBit(60, 12.7, 2)
    object.__setattr__(bit, "tip_width", 1.0)
    object.__setattr__(bit, "radius", lambda h: np.asarray(h, dtype=float) * 0.0 + 7.0)
    with pytest.raises(PropertyError) as caught:
        check(bit)
    code = caught.value.counterexample
    scope: dict[str, Any] = {}
    exec("\n".join(row for row in code.splitlines() if not row.startswith("check(")), scope)
    assert isinstance(scope["subject"], cs.VBit)
