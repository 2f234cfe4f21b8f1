"""How many draws agree with an order: a decision that leans on one says so."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from .._shared.arrays import FloatArray

__all__ = ["WORTH", "Odds", "odds_of", "of_hundred", "wilson"]

WORTH = 0.05
"""Share of the damage below which a difference is not worth having: a convention of this project. [-]"""

_EVEN = (0.4, 0.6)
"""Odds between which there is no difference worth having: a convention of this project. [-]"""


_NINE = 1.6448536269514722
"""Standard deviations to either side of a normal mean that hold 9 in 10."""


def wilson(share: float, count: int) -> tuple[float, float]:
    """Low and high of 9 in 10 of a chance of which so many draws have shown a share.

    Wilson's interval (E. B. Wilson 1927, J. Am. Stat. Assoc. 22:209): the chances whose own draws would show the share.

    Examples
    --------
    >>> from chipsim.damage.orders import wilson
    >>> [round(v, 3) for v in wilson(0.72, 128)]
    [0.651, 0.78]
    """
    if count < 1:
        return 0.0, 1.0
    z2 = _NINE**2 / count
    middle = (share + z2 / 2) / (1 + z2)
    half = _NINE / (1 + z2) * float(np.sqrt(share * (1 - share) / count + z2 / (4 * count)))
    return max(0.0, middle - half), min(1.0, middle + half)


def of_hundred(share: float, count: int) -> str:
    """A share of so many boards in words, with what it may be where they do not tell it to a board in a hundred."""
    low, high = (round(100 * v) for v in wilson(share, count))
    return f"{100 * share:.0f} boards of 100" + (f" ({low} to {high})" if high > low else "")


@dataclass(frozen=True, eq=False)
class Odds:
    """The pick against another choice, draw by draw.

    Attributes
    ----------
    other : the other: a `Cell`, a row of a layout or a rose, an option.
    better, worse, even : number of draws in which the pick has less damage, more, or as much to `WORTH` of it.
    """

    other: Any
    better: int
    worse: int
    even: int

    def __repr__(self) -> str:
        return f"<Odds {self.better} better, {self.worse} worse, {self.even} even>"

    @property
    def draws(self) -> int:
        """Number of draws."""
        return self.better + self.worse + self.even

    @property
    def share(self) -> float:
        """Share of the draws for the pick, even ones counted half; NaN without draws. [-]"""
        return (self.better + self.even / 2) / self.draws if self.draws else float("nan")

    @property
    def worth_having(self) -> bool:
        """Whether there is a difference worth having."""
        return not _EVEN[0] <= self.share <= _EVEN[1]

    def __str__(self) -> str:
        counts = f"better in {self.better} of {self.draws} draws, worse in {self.worse}, even in {self.even}"
        if not self.draws:
            return "odds not known: no draws"
        if not self.worth_having:
            return f"no difference worth having on what is known ({counts})"
        warn = "; over the coefficients' ranges the other does better" if self.share < _EVEN[0] else ""
        return counts + warn


def odds_of(other: Any, pick: FloatArray, rival: FloatArray) -> Odds:
    """Odds of two damages (draws,); draws in which either is not known are left out."""
    known = np.isfinite(pick) & np.isfinite(rival)
    gain, worth = (rival - pick)[known], WORTH * np.maximum(pick, rival)[known]
    better, worse = int((gain > worth).sum()), int((gain < -worth).sum())
    return Odds(other, better, worse, int(known.sum()) - better - worse)
