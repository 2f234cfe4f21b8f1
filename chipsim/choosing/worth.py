"""What it is worth to know more before choosing, in minutes.

The worth of knowing x is what choosing by it saves on average, max over rules c(x) of E[T_b - T_c(x)], with T the
minutes a setting takes and b the one chosen without x (expected value of partial perfect information). The rule is a
regression of the settings' differences on x (Strong, Oakley & Brennan 2014, from memory), made on four fifths of the
possible boards and paid for on the fifth that it has not seen: an honest mean, too low if at all, with a plain standard
error. What is best on average is found by few settings; what is best on some boards must be among those looked at, so
that they are chosen for that (`portfolio`).
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np

from .._shared.arrays import FloatArray

__all__ = ["Worth", "perfect", "portfolio", "worth_of"]

_FOLDS = 5
_KNOTS = (0.2, 0.4, 0.6, 0.8)
_RIDGE = 1.0
"""Penalty on standardised features, in boards. [-]"""


class Worth(NamedTuple):
    """What knowing something is worth: minutes saved on average, and the standard error.

    `advice` is how to come to know it, `cost` the minutes which that takes, assumed as those of a `PieceCost` are.
    """

    name: str
    minutes: float
    error: float
    advice: str
    cost: float = 0.0

    @property
    def pays(self) -> bool:
        """Whether it saves more on one job than it takes; see `pays_for`."""
        return self.pays_for(1)

    def pays_for(self, jobs: int) -> bool:
        """Whether it saves more on so many jobs than it takes; what is below two standard errors saves nothing."""
        return self.minutes > 2 * self.error and jobs * self.minutes > max(self.cost, 0.1)

    @property
    def jobs(self) -> int | None:
        """From how many jobs on it pays; None if it saves nothing that can be told from nothing."""
        if not self.minutes > 2 * self.error:
            return None
        return int(max(self.cost, 0.1) // self.minutes) + 1


def portfolio(minutes: FloatArray, first: int, size: int) -> tuple[int, ...]:
    """Settings of (boards, settings) of which the best on each board takes least on average, chosen one by one.

    The first is given. Ends early when no other setting is the best anywhere.
    """
    chosen = [first]
    best = minutes[:, first]
    while len(chosen) < min(size, minutes.shape[1]):
        mean = np.minimum(best[:, None], minutes).mean(axis=0)
        more = int(np.argmin(mean))
        if mean[more] >= best.mean() - 1e-12:
            break
        chosen.append(more)
        best = np.minimum(best, minutes[:, more])
    return tuple(chosen)


def perfect(minutes: FloatArray) -> tuple[float, float]:
    """What knowing everything would save with these settings, (boards, settings), and its standard error. [min]

    The one chosen without it is the best on four fifths of the boards, paid for on the other.
    """
    saved = np.empty(len(minutes))
    for held, rest in _folds(len(minutes)):
        base = int(np.argmin(minutes[rest].mean(axis=0)))
        saved[held] = minutes[held, base] - minutes[held].min(axis=1)
    return _mean(saved)


def worth_of(minutes: FloatArray, known: FloatArray) -> tuple[float, float]:
    """What knowing some numbers of a board is worth, and its standard error. [min]

    Parameters
    ----------
    minutes
        (boards, settings) taken in all. [min]
    known
        (boards, k) what would be known.
    """
    features = _features(known)
    saved = np.zeros(len(minutes))
    if features.shape[1] and minutes.shape[1] > 1:
        for held, rest in _folds(len(minutes)):
            base = int(np.argmin(minutes[rest].mean(axis=0)))
            apart = minutes[rest] - minutes[rest, base][:, None]
            guess = _ridge(features[rest], apart, features[held])
            guess[:, base] = 0.0
            chosen = np.argmin(guess, axis=1)
            saved[held] = minutes[held, base] - minutes[held, chosen]
    return _mean(saved)


def _folds(count: int) -> Sequence[tuple[np.ndarray, np.ndarray]]:
    """Held-out boards and the rest; every fifth, since their order is one of even spacing."""
    place = np.arange(count) * 7 % _FOLDS if count % _FOLDS else np.arange(count) % _FOLDS
    return [(np.flatnonzero(place == k), np.flatnonzero(place != k)) for k in range(min(_FOLDS, count))]


def _mean(saved: FloatArray) -> tuple[float, float]:
    n = len(saved)
    return float(saved.mean()), float(saved.std(ddof=1) / np.sqrt(n)) if n > 1 else float("nan")


def _features(known: FloatArray) -> FloatArray:
    """Standardised numbers, bent at their quintiles, and their products in pairs if there are few of them."""
    columns = []
    kept = []
    for x in known.T:
        if np.ptp(x) <= 0:
            continue
        z = (x - x.mean()) / x.std()
        kept.append(z)
        columns.append(z)
        if len(np.unique(z)) > 2:
            columns += [np.maximum(z - q, 0.0) for q in np.unique(np.quantile(z, _KNOTS))]
    if 1 < len(kept) <= 4:
        columns += [a * b for i, a in enumerate(kept) for b in kept[:i]]
    if not columns:
        return np.zeros((len(known), 0))
    found = np.stack(columns, axis=1)
    size = found.std(axis=0)
    return np.asarray((found[:, size > 0] - found[:, size > 0].mean(axis=0)) / size[size > 0])


def _ridge(features: FloatArray, outcome: FloatArray, at: FloatArray) -> FloatArray:
    """Values (m, settings) that a straight rule with a small penalty, but none on its mean, takes at other features."""
    middle, mean = features.mean(axis=0), outcome.mean(axis=0)
    x = features - middle
    slope = np.linalg.solve(x.T @ x + _RIDGE * np.eye(x.shape[1]), x.T @ (outcome - mean))
    return np.asarray(mean + (at - middle) @ slope)
