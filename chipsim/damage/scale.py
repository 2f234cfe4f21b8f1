"""One scale of damage: its five steps, what spoils a lip, and why a number may leave something out."""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType

import numpy as np

from .._shared.arrays import FloatArray
from .models import END_GRAIN

__all__ = [
    "CLASSES",
    "DOUBTS",
    "FULL_DIAMETER",
    "PRIOR",
    "RISKS",
    "RISK_WORDS",
    "SIDES",
    "class_of",
    "closed_values",
    "touching",
]


CLASSES: Mapping[str, float] = MappingProxyType(
    {"clean": 0.10, "brush": 0.25, "light sanding": 0.37, "heavy sanding": 0.50, "re-cut": 1.01}
)
"""The steps of the scale, named by the cure, and the value each ends below: a convention of this project, to be moved
by test pieces."""

REWORK = ("light sanding", "heavy sanding", "re-cut")
"""Steps that cost more than a stroke of the brush."""

PRIOR = "This is an estimate from starting guesses; no test piece has been graded yet."
"""What a result rests on as long as no test piece has taught the model."""

SIDES = ("left", "right")

RISKS = ("fuzz", "tear", "scorch")
"""What spoils a lip, in the order of every table."""

RISK_WORDS: Mapping[str, str] = MappingProxyType(
    {"fuzz": "fuzz", "tear": "tear-out", "scorch": "scorch", "damage": "damage"}
)
"""What each is called in words."""

FULL_DIAMETER = 4
"""Code of the doubt that the groove is no V any more."""

DOUBTS: Mapping[int, str] = MappingProxyType(
    {
        0: "",
        1: "the path starts or ends here, and does not say how the bit gets in and out",
        2: "a real machine slows for this corner; the programmed feed is assumed",
        3: "so near the tip the back of the tooth rubs",
        FULL_DIAMETER: "the bit is in to its full diameter",
        6: f"end grain is left out: the fibres dive by more than {END_GRAIN:g} degrees",
    }
)
"""What a number leaves out, by code, gravest first wins."""


def touching(kind: np.ndarray, length: FloatArray, apart: FloatArray) -> np.ndarray:
    """Whether neighbouring pieces of one lip, in order along it, go on from one another, (m - 1,).

    A cell that holds a vertex reaches past it on one side only, so that its neighbour may be two half cells away. The
    vertices of a curve in chords shorter than a cell have hardly any lip of their own: what lies between two of them is
    that of the cells beside them.

    Parameters
    ----------
    kind, length
        (m,) of the rows, as of a `RiskMap`, and the lip that each stands for. [mm]
    apart
        (m - 1,) from each lip point to the next. [mm]
    """
    size, cells = length, np.flatnonzero(kind == "run")
    if cells.size:
        after = np.searchsorted(cells, np.arange(len(kind)))
        beside = np.maximum(length[cells[np.maximum(after - 1, 0)]], length[cells[np.minimum(after, len(cells) - 1)]])
        size = np.where(kind == "corner", np.maximum(length, beside), length)
    return np.asarray(apart <= 1.25 * (size[1:] + size[:-1]) + 1e-9)


def closed_values(values: FloatArray, joined: np.ndarray, length: FloatArray, reach: float) -> FloatArray:
    """Fill dips of a value along a line that are shorter than `reach`, without lowering anything (a closing).

    Parameters
    ----------
    values
        (m,) along the line, NaN where not known, which stays so.
    joined
        (m,) whether a value's piece of line goes on from the one before.
    length
        (m,) of the pieces. [mm]
    reach
        Longest dip to fill. [mm]
    """
    known = np.isfinite(values)
    line = np.cumsum(~joined)
    place = np.cumsum(length) - length / 2
    raised = _windowed(np.where(known, values, -np.inf), line, place, reach, np.maximum)
    return np.where(known, _windowed(raised, line, place, reach, np.minimum), np.nan)


def _windowed(values: FloatArray, line: np.ndarray, place: FloatArray, reach: float, how: np.ufunc) -> FloatArray:
    """Greatest or least value within half a reach either way on the same line."""
    out = values.copy()
    for shift in range(1, len(values)):
        near = (line[shift:] == line[:-shift]) & (place[shift:] - place[:-shift] <= reach / 2 + 1e-9)
        if not near.any():
            break
        i = np.flatnonzero(near)
        out[i] = how(out[i], values[i + shift])
        out[i + shift] = how(out[i + shift], values[i])
    return out


def class_of(value: float) -> str:
    """Word of `CLASSES` for a risk in [0, 1]; 'not known' for NaN."""
    if not np.isfinite(value):
        return "not known"
    return next(name for name, bound in CLASSES.items() if value < bound)
