"""How many draws agree with an order: a decision that leans on one says so."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from .._shared.arrays import FloatArray

__all__ = ["WORTH", "Odds", "odds_of"]

WORTH = 0.05
"""Share of the damage below which a difference is not worth having: a convention of this project. [-]"""

_EVEN = (0.4, 0.6)
"""Odds between which there is no difference worth having: a convention of this project. [-]"""


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
