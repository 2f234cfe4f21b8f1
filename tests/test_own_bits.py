"""A user's own bit is believed only where it is one: knots that are the outline, radii rising within the diameter."""

import math
from dataclasses import dataclass, field
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

import chipsim as cs
from chipsim.testing import check

LINE = cs.line((0, 0), (12, 0), 1.5)


@dataclass(frozen=True)
class Own:
    """A cone of 90 degrees, 12 mm across, that says what it is told to say."""

    said: Any = field(default_factory=lambda: ([0.0, 6.0], [0.0, 6.0]))
    outline: Any = None
    diameter: float = 12.0
    flutes: int = 2
    rake: float = 10.0
    clearance: float = 15.0
    edge_radius: float = 0.008
    runout: float = 0.0
    runout_azimuth: float = 0.0
    cutting_length: float | None = None
    max_spindle_speed: float | None = None

    def radius(self, height: Any) -> Any:
        if self.outline is not None:
            return self.outline(np.asarray(height, dtype=float))
        return np.minimum(np.asarray(height, dtype=float), 6.0)

    def knots(self) -> Any:
        return self.said


@dataclass(frozen=True)
class Plain:
    """The same without knots: the radius alone says what it cuts."""

    outline: Any
    diameter: float = 12.0
    flutes: int = 2
    rake: float = 10.0
    clearance: float = 15.0
    edge_radius: float = 0.008
    runout: float = 0.0
    runout_azimuth: float = 0.0
    cutting_length: float | None = None
    max_spindle_speed: float | None = None

    def radius(self, height: Any) -> Any:
        return self.outline(np.asarray(height, dtype=float))


def test_knots_that_are_the_outline_cut_as_wide_as_it():
    cut = cs.Cut(Own(), LINE, 12_000, 2500)
    assert float(cut.half_width(1.5)) == pytest.approx(1.5, rel=1e-12)


BAD_KNOTS = {
    "reversed": (([6.0, 0.0], [6.0, 0.0]), r"knots\(\) heights must start at 0 mm, the tip, got 6 mm"),
    "unordered": (
        ([0.0, 4.0, 2.0, 6.0], [0.0, 4.0, 4.0, 6.0]),
        r"heights must rise from the tip.*got 4 mm then 2 mm at index 2",
    ),
    "starting above 0": (([1.0, 6.0], [1.0, 6.0]), "heights must start at 0 mm, the tip, got 1 mm"),
    "starting below 0": (([-1.0, 6.0], [0.0, 6.0]), "heights must start at 0 mm, the tip, got -1 mm"),
    "a single one": (([0.0], [6.0]), "at least 2 heights and as many radii, got 1 and 1"),
    "none": (([], []), "at least 2 heights and as many radii, got 0 and 0"),
    "more radii than heights": (([0.0, 6.0], [0.0, 3.0, 6.0]), "got 2 and 3"),
    "another outline than the radius": (
        ([0.0, 6.0], [1.0, 6.0]),
        "must be the outline that bit.radius gives, got 1 mm and 0 mm at a height of 0 mm",
    ),
    "another outline between": (([0.0, 3.0, 4.0, 6.0], [0.0, 3.0, 3.0, 6.0]), "be the outline that bit.radius gives"),
    "an outline that ends too low": (([0.0, 3.0], [0.0, 3.0]), "must be the outline that bit.radius gives"),
    "diameters for radii": (
        ([0.0, 6.0], [0.0, 12.0]),
        r"must not exceed bit.diameter / 2 = 6 mm, got 12 mm; was a dia",
    ),
    "falling": (([0.0, 3.0, 6.0], [0.0, 6.0, 5.0]), "must not fall with height, got 6 mm at 3 mm and 5 mm at 6 mm"),
    "a shoulder at one height": (
        ([0.0, 3.0, 3.0, 6.0], [0.0, 3.0, 4.0, 6.0]),
        "got 3 mm then 3 mm at index 2; a shoulder is given as a step of 0.001 mm in height",
    ),
    "not finite": (([0.0, 6.0], [0.0, math.nan]), r"knots\(\) radii must be finite"),
    "words": ((["a", "b"], [0.0, 6.0]), r"knots\(\) heights must be an array of numbers"),
    "one list": ([0.0, 6.0, 7.0], r"knots\(\) must return two arrays, heights and radii, got list"),
    "a number": (3.0, r"knots\(\) must return two arrays, heights and radii, got float"),
}


@pytest.mark.parametrize("name", BAD_KNOTS)
def test_knots_that_are_no_outline_are_refused_by_name(name):
    said, message = BAD_KNOTS[name]
    with pytest.raises(cs.DomainError, match=message):
        cs.Cut(Own(said), LINE, 12_000, 2500)
    # wherever a bit goes in
    plain = cs.Cut(cs.VBit(90, 12, 2), LINE, 12_000, 2500)
    for use in (
        lambda: cs.with_bit(plain, Own(said)),
        lambda: cs.width_card(Own(said), 1.0),
        lambda: cs.draw_profile(Own(said)),
    ):
        with pytest.raises(cs.DomainError, match=message):
            use()


def test_a_shoulder_as_a_steep_step_is_cut():
    def stepped(h):
        return np.interp(h, *STEP)

    STEP = ([0.0, 1.0, 1.001, 4.0], [0.0, 1.0, 3.0, 6.0])
    cut = cs.Cut(Own(STEP, stepped), LINE, 12_000, 2500)
    assert float(cut.half_width(1.5)) == pytest.approx(float(stepped(1.5)), rel=1e-12)


BAD_RADII = {
    "whole numbers": (lambda h: np.minimum(h, 6).astype(int), "must return floats, got whole numbers"),
    "falling": (lambda h: np.maximum(6.0 - h, 0.0), "must not fall with height"),
    "not a number": (lambda h: np.where(h > 1, np.nan, h), r"bit.radius\(height\) must be finite"),
    "negative": (lambda h: h - 1.0, r"bit.radius\(height\) must be finite and lie in \[0, inf\)"),
    "beyond half the diameter": (lambda h: 2 * h + 4, r"must not exceed bit.diameter / 2 = 6 mm, got"),
    "another shape": (lambda h: float(np.max(h)), "must return the shape of its argument"),
    "words": (lambda h: "wide", "must be an array of numbers"),
}


@pytest.mark.parametrize("name", BAD_RADII)
def test_a_radius_that_is_no_outline_is_refused_by_name(name):
    outline, message = BAD_RADII[name]
    for use in (
        lambda: cs.Cut(Plain(outline), LINE, 12_000, 2500),
        lambda: cs.draw_profile(Plain(outline)),
        lambda: cs.with_bit(cs.Cut(cs.VBit(90, 12, 2), LINE, 12_000, 2500), Plain(outline), keep="depth"),
    ):
        with pytest.raises(cs.DomainError, match=message):
            use()


def test_a_radius_in_whole_numbers_that_is_constant_is_a_straight_bit():
    cut = cs.Cut(Plain(lambda h: np.full(h.shape, 6)), LINE, 12_000, 2500)
    assert float(cut.half_width(1.5)) == 6.0


def test_a_subclass_of_the_cone_with_knots_of_its_own_is_not_believed_either():
    class Wide(cs.VBit):
        def knots(self):
            return np.array([0.0, 1.0]), np.array([0.0, 6.0])

    with pytest.raises(cs.DomainError, match=r"must be the outline that bit\.radius gives"):
        cs.Cut(Wide(90, 12, 2), LINE, 12_000, 2500)


@pytest.mark.parametrize(
    ("heights", "radii", "message"),
    [
        ([3, 2, 0], [0, 1, 3], "heights must start at 0"),
        ([0, 2, 2], [0, 1, 3], "increase strictly"),
        ([0, 2], [0, math.nan], "radii must be finite"),
        ([0, 2], [3, 1], "radii must not fall"),
    ],
)
def test_a_profile_is_held_to_the_same(heights, radii, message):
    with pytest.raises(cs.DomainError, match=message):
        cs.ProfileBit(heights, radii)


class Outline:
    """Nothing but a shape."""

    def radius(self, height):
        return np.minimum(0.1 + 0.5 * np.asarray(height, dtype=float), 6.35)


def test_what_a_bit_lacks_is_named():
    """By every road on which a bit comes in; the kit, which looks at outlines too, says that a cut refuses it."""
    bare = Outline()
    bare.diameter, bare.flutes = 12.7, 2
    lacking = "got Outline without rake, clearance, edge_radius, runout, runout_azimuth, cutting_length, max_"
    cut = cs.Cut(cs.VBit(60, 12.7, 2), cs.ring(8, 1.5), 18_000, 1500)
    board = cs.Board(cs.wood("black cherry"), cs.straight_grain(azimuth=0))
    machine = cs.Machine(300, 3000)
    for call in (
        lambda: cs.Cut(bare, cut.path, 18_000, 1500),
        lambda: cs.with_bit(cut, bare),
        lambda: cs.Setting(bit=bare),
        lambda: cs.coupon(bare, board, 16_000, [1400], machine=machine),
    ):
        with pytest.raises(cs.DomainError, match=lacking):
            call()
    with pytest.raises(cs.DomainError, match=r"got SimpleNamespace without radius\(height\), rake, clearance"):
        cs.with_bit(cut, SimpleNamespace(diameter=12.7, flutes=2))
    found = check(Outline(), examples=2)
    assert "It was looked at as an outline only, for a Cut refuses it: bit must be" in str(found)
    assert "without diameter, flutes, rake" in found.said
    assert check(cs.VBit(60, 12.7, 2), only="radius_never_falls_with_height", examples=1).said == ""
