"""Prove your own geometry: an ogee bit and a wave border through the check-kit, the bit broken on purpose first.

python examples/prove_your_own.py

The bit is a user's class: no base class, only `radius(height)` and the numbers of a cutter. Its first draft has a
slip of the kind that is hard to see on a drawing: the two arcs of the S do not quite meet. The border is a user's
function that returns a path; the kit varies its arguments. An invented scenario.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

import chipsim as cs
from chipsim.testing import Generator, PropertyError, check


@dataclass(frozen=True)
class Ogee:
    """An S-shaped outline: a hollow quarter circle, then a round one, each `arc` mm in radius."""

    arc: float = 3.0
    tip: float = 0.4
    flutes: int = 2
    rake: float = 10.0
    clearance: float = 15.0
    edge_radius: float = 0.008
    runout: float = 0.0
    runout_azimuth: float = 0.0
    max_spindle_speed: float = 24_000

    @property
    def diameter(self) -> float:
        """Largest cutting diameter. [mm]"""
        return 2 * (self.tip + 2 * self.arc)

    @property
    def cutting_length(self) -> float:
        """Height of the edge. [mm]"""
        return 2 * self.arc

    def radius(self, height: ArrayLike) -> np.ndarray:
        """Radius at a height above the tip, same shape. [mm]"""
        h, a = np.asarray(height, dtype=float), self.arc
        hollow = a - np.sqrt(np.clip(a**2 - np.minimum(h, a) ** 2, 0, None))
        round_ = np.sqrt(np.clip(a**2 - np.clip(2 * a - h, 0, a) ** 2, 0, None))
        outline: np.ndarray = self.tip + hollow + self.second_arc(h, round_)
        return outline

    def second_arc(self, height: np.ndarray, round_: np.ndarray) -> np.ndarray:
        """What the round arc adds: it starts where the hollow one ends."""
        return np.where(height > self.arc, round_, 0.0)


class FirstDraft(Ogee):
    """The slip: the round arc is measured from a centre 0.05 mm too far in, so that the outline steps back."""

    def second_arc(self, height: np.ndarray, round_: np.ndarray) -> np.ndarray:
        """What the round arc adds, 0.05 mm short."""
        return np.where(height > self.arc, round_ - 0.05, 0.0)


def wave_border(length: float, waves: int, height: float, depth: float) -> cs.Path:
    """A border along x: so many waves, crest to trough twice `height`, in arcs within 0.01 mm. [mm]"""
    return cs.curve(
        lambda t: np.column_stack([length * t, height * np.sin(2 * np.pi * waves * t)]),
        depth,
        tolerance=0.01,
        pieces=12 * waves,
    )


def main(examples: int | None = None) -> tuple[PropertyError, int]:
    """Check the draft, the bit and the border; returns the draft's failure and the number of properties that held."""
    try:
        check(FirstDraft())
    except PropertyError as error:
        failure = error
        print(error)
    else:
        raise SystemExit("the draft was not caught")

    passed = check(Ogee(), examples=examples)
    print(f"\nOgee: {len(passed)} properties hold")

    # hypothesis is needed from here on, and imported only here
    from hypothesis import strategies as st

    from chipsim.testing.strategies import depths, lengths

    arguments = {
        "length": lengths(10, 30),
        "waves": st.integers(1, 3),
        "height": lengths(0.2, 1.5),
        "depth": depths(0.5, 2.0),
    }
    border = Generator(wave_border, arguments)
    more = check(border, examples=examples)
    print(f"wave_border: {len(more)} properties hold")

    cut = cs.Cut(Ogee(), wave_border(60, 3, 1.5, 2.0), spindle_speed=18_000, feed=1500)
    risk = cs.risk_map(cut, cs.Board(cs.wood("black cherry", moisture=8), cs.straight_grain(azimuth=10)))
    print(f"together: {risk}".splitlines()[0])
    return failure, len(passed) + len(more)


if __name__ == "__main__":
    main()
