"""Where each flute's edge stands: its azimuth against height, and what is ground uneven.

The azimuth of an edge is its lag: the angle by which it stands behind the flute's nominal direction, counted against
the sense of rotation like the flutes and the runout's direction. Where the lag grows upwards the lower end of the edge
leads, and the chip is lifted out of the groove. With r the radius and a the flank's lean at the height h, the shear
angle sigma in the flank's plane is tan sigma = r (dlag/dh) cos a (derived). An edge of constant shear is the spiral
that meets all generators of the cone at one angle: lag = tan sigma / sin a ln r + constant (derived; the taper zone of
Engin and Altintas 2001, from memory).
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np

from .._shared.arrays import FloatArray, array, number
from ..errors import DomainError

__all__ = [
    "STRAIGHT_BELOW",
    "EdgeLaw",
    "Edges",
    "constant_shear",
    "flute_numbers",
    "has_laws",
    "interpolated",
    "shear_of",
]

STRAIGHT_BELOW = 0.1
"""Radius below which an edge of constant shear runs straight on: a spiral that meets all generators at one angle never
reaches the point, and no wheel grinds it there (common practice, no source). [mm]"""

_SHARP = 2e-10
"""How far a law given as a function may stray from its table, as a place of the edge. [mm]"""

_MOST_KNOTS = 20_000


@dataclass(frozen=True, eq=False)
class EdgeLaw:
    """Lag of one edge on an outline: from each knot on, lag + per_height x + per_log ln(r / r at the knot).

    Attributes
    ----------
    heights, radii : (k,) knots of the outline, those of the law among them. [mm]
    lag, per_height, per_log : (k,) see above. [rad, rad/mm, rad]
    """

    heights: FloatArray
    radii: FloatArray
    lag: FloatArray
    per_height: FloatArray
    per_log: FloatArray

    def __call__(self, height: FloatArray) -> FloatArray:
        """Lag at heights above the tip, same shape. [rad]"""
        h = np.maximum(np.asarray(height, dtype=float), 0.0)
        k = np.clip(np.searchsorted(self.heights, h, side="right") - 1, 0, None)
        r = np.interp(h, self.heights, self.radii)
        logs = np.log(np.where(self.per_log[k] != 0, r / np.where(self.radii[k] > 0, self.radii[k], 1.0), 1.0))
        return np.asarray(self.lag[k] + self.per_height[k] * (h - self.heights[k]) + self.per_log[k] * logs)


class Edges(NamedTuple):
    """Where the edges of a bit stand whose flutes are not all alike and in axial planes."""

    laws: Sequence[EdgeLaw]
    """One for each flute, on the same knots."""
    set_back: Sequence[float]
    """How far each stays within the outline, or none. [mm]"""
    raised: Sequence[float]
    """How far each tip stands above the bit's, or none. [mm]"""


def flute_numbers(name: str, value: object, flutes: int, *, low: float, high: float, unit: str) -> tuple[float, ...]:
    """One number for all flutes, or one for each, as a tuple; () where all are 0."""
    if isinstance(value, (str, bytes)) or not (
        isinstance(value, Sequence) or (isinstance(value, np.ndarray) and value.ndim)
    ):
        each = [number(name, value, low=low, high=high, unit=unit)] * flutes
    else:
        if len(value) not in (0, flutes):
            raise DomainError(f"{name} must have one number for each of the {flutes} flutes, got {len(value)}")
        each = [number(f"{name}[{k}]", v, low=low, high=high, unit=unit) for k, v in enumerate(value)]
    return tuple(each) if any(each) else ()


def constant_shear(heights: FloatArray, radii: FloatArray, shear: float) -> EdgeLaw:
    """Law of an edge of constant shear [deg] on an outline, lag 0 at its top; see `STRAIGHT_BELOW`. [mm]"""
    start = max(float(radii[0]), STRAIGHT_BELOW)
    if radii[0] < start < radii[-1] and not (radii == start).any():
        k = int(np.searchsorted(radii, start))
        h = heights[k - 1] + (heights[k] - heights[k - 1]) * (start - radii[k - 1]) / (radii[k] - radii[k - 1])
        heights, radii = np.insert(heights, k, h), np.insert(radii, k, start)
    t = np.tan(np.radians(shear))
    rise, growth = np.diff(heights), np.diff(radii)
    turns = radii[:-1] >= start
    leans = growth > 0
    per_log = np.where(turns & leans, t * np.hypot(rise, growth) / np.where(leans, growth, 1.0), 0.0)
    per_height = np.where(turns & ~leans, t / np.where(radii[:-1] > 0, radii[:-1], 1.0), 0.0)
    ratio = np.where(turns & leans, radii[1:] / np.where(turns, radii[:-1], 1.0), 1.0)
    steps = per_log * np.log(ratio) + per_height * rise
    lag = np.r_[0.0, np.cumsum(steps)]
    # above the top of the outline the edge goes on along a cylinder
    top = t / radii[-1]
    return EdgeLaw(heights, radii, lag - lag[-1], np.r_[per_height, top], np.r_[per_log, 0.0])


def interpolated(heights: FloatArray, radii: FloatArray, lag: FloatArray) -> EdgeLaw:
    """Law that is straight between its knots, at which the outline must have knots too. [mm, mm, rad]"""
    return EdgeLaw(heights, radii, lag, np.r_[np.diff(lag) / np.diff(heights), 0.0], np.zeros(len(heights)))


def sampled(
    azimuth: Callable[[FloatArray], object], heights: FloatArray, radii: FloatArray, flutes: int
) -> list[EdgeLaw]:
    """Laws of an azimuth [deg] given as a function of height, on knots as dense as its bends want. [mm]

    Raises
    ------
    DomainError
        If the function does not return numbers of its argument's shape, or of that shape for each flute.
    """

    def laws(h: FloatArray) -> FloatArray:
        found = array("bit.azimuth(height)", azimuth(h.copy()))  # type: ignore[arg-type]
        if found.shape not in (h.shape, (flutes, *h.shape)):
            raise DomainError(
                f"bit.azimuth must return the shape of its argument, {h.shape}, or {(flutes, *h.shape)}, one row for "
                f"each flute, got {found.shape}"
            )
        return np.radians(np.broadcast_to(found, (flutes, *h.shape)))

    at = np.unique(np.r_[heights, np.linspace(0.0, heights[-1], 65)])
    known = laws(at)
    rough = np.ones(len(at) - 1, bool)
    while rough.any() and len(at) < _MOST_KNOTS:
        k = np.flatnonzero(rough)
        middle = (at[k] + at[k + 1]) / 2
        there = laws(middle)
        miss = np.abs(there - (known[:, k] + known[:, k + 1]) / 2).max(axis=0) * np.interp(middle, heights, radii)
        halves = (miss > _SHARP) & (at[k + 1] - at[k] > 1e-6)
        order = np.argsort(np.r_[at, middle[halves]], kind="stable")
        fresh = np.zeros(len(at), bool)
        fresh[k[halves]] = True
        rough = np.repeat(fresh, np.where(fresh, 2, 1))[:-1]
        at = np.r_[at, middle[halves]][order]
        known = np.concatenate([known, there[:, halves]], axis=1)[:, order]
    width = np.interp(at, heights, radii)
    return [interpolated(at, width, lag) for lag in known]


def has_laws(bit: object) -> bool:
    """Whether a bit says that its flutes are not all alike and in axial planes."""
    return hasattr(bit, "azimuth") or any(np.any(getattr(bit, name, ())) for name in ("set_back", "raised"))


def shear_of(law: EdgeLaw, height: FloatArray) -> FloatArray:
    """Shear angle of an edge in the flank's plane just below heights above the tip, same shape. [deg]"""
    h = np.asarray(height, dtype=float)
    k = np.clip(np.searchsorted(law.heights, h - 1e-12, side="left") - 1, 0, None)
    slope = np.r_[np.diff(law.radii) / np.diff(law.heights), 0.0][k]
    slope = np.where(h > law.heights[-1], 0.0, slope)
    r = np.interp(h, law.heights, law.radii)
    k = np.where(h > law.heights[-1], len(law.heights) - 1, k)
    turns = r * law.per_height[k] + law.per_log[k] * slope
    return np.asarray(np.degrees(np.arctan(turns / np.hypot(1.0, slope))))
