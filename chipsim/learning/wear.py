"""Wear of an edge: how far it has run in wood, and how round it has become.

An edge that recedes by w is rounded to the radius rho of the circle that touches both its faces and ends where the
edge now does. Of a wedge of angle b the circle's centre lies rho / sin(b / 2) from where the sharp edge was, so that
w = rho (1 / sin(b / 2) - 1).
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np

from .._shared.arrays import FloatArray
from ..scene.cuts import Carving, Cut, as_carving
from ..scene.cutters import Cutter

__all__ = ["Wear", "edge_metres", "rounding", "wear_of"]

RECESSION = (20.0, 80.0)
"""What an edge recedes on a kilometre in wood, ends of the middle half of what is believed: from 54 um on 270 m planed
oak with high-speed steel (BioResources 14(4) 9271), its edge path reckoned for a cutter of 125 mm, which is assumed.
Carbide wears less; the spread is wide for that. [um/km]"""

_SPREAD = 1.0
"""Standard deviation of the logarithm of the rate. [-]"""

_LOUPE = 0.35
"""Standard deviation of the logarithm of a radius that is read through a loupe: assumed. [-]"""

_STATIONS = 400


class Wear(NamedTuple):
    """How far a bit has cut and how round its edge is: low, median and high of 8 in 10.

    `groove` and `edge` in m, of the groove and of the edge in wood; `radius` in mm; `rate` in um of recession per km;
    `readings` of the loupe that were used.
    """

    bit: str
    groove: float
    edge: float
    radius: tuple[float, float, float]
    rate: tuple[float, float, float]
    readings: int

    def __str__(self) -> str:
        low, median, high = (1000 * r for r in self.radius)
        learned = f"from {self.readings} readings" if self.readings else "a starting guess; nobody has looked at it yet"
        return (
            f"Bit {self.bit!r} has cut {self.groove:.1f} m of groove, on which its edge ran {self.edge:.0f} m in wood. "
            f"The edge is rounded to about {median:.0f} um (8 in 10: {low:.0f} to {high:.0f}), {learned}."
        )


def edge_metres(carving: Carving | Cut) -> float:
    """Way that a flute's edge at the lip runs in wood as a carving is cut. [m]

    In a groove of full width each tooth is in the wood for half a turn, and a flute passes once every feed per
    revolution: pi r / (feed per tooth x flutes) for each millimetre of groove. Half the feed wears the edge twice as
    fast. A later pass, which meets less wood, is counted as a full one.

    Examples
    --------
    >>> import chipsim as cs
    >>> from chipsim.learning.wear import edge_metres
    >>> bit = cs.VBit(90, 10, 2)  # 3 mm deep and so 3 mm from axis to lip; 0.1 mm per tooth
    >>> round(edge_metres(cs.Cut(bit, cs.line((0, 0), (1000, 0), 3), 10_000, 2000)), 1)
    47.1
    """
    total = 0.0
    for cut in as_carving(carving):
        for one in (*cut.earlier_passes(), cut):
            path, length = one.path, one.path.length
            if length <= 0:
                continue
            station = (np.arange(_STATIONS) + 0.5) / _STATIONS * length
            radius = one.half_width(path.depth_at(station))
            turns = one.spindle_speed / np.maximum(60 * one.speed_profile.speed_at(station), 1e-9)  # per mm
            total += float(np.mean(np.pi * radius * turns)) * length
    return total / 1000.0


def rounding(recession: float, bit: Cutter) -> float:
    """Radius to which an edge is rounded that has receded so far, in the recession's unit."""
    wedge = np.radians(90.0 - bit.rake - bit.clearance)
    return float(recession / (1.0 / np.sin(wedge / 2) - 1.0))


def wear_of(name: str, bit: Cutter, groove: float, edge: float, readings: Sequence[tuple[float, float]] = ()) -> Wear:
    """What is known of an edge that began with the bit's own radius.

    Parameters
    ----------
    name, bit
        Of the bit, as it was when it was new.
    groove, edge
        It has cut, and its edge has run in wood. [m]
    readings
        (edge run by then [m], radius seen [mm]) of each look through a loupe.
    """
    middle = float(np.log(np.sqrt(RECESSION[0] * RECESSION[1])))
    # the posterior of one number, on a grid of the logarithm of the rate
    grid = middle + _SPREAD * np.linspace(-5.0, 5.0, 2001)
    each = rounding(1.0, bit) * np.exp(grid) * 1e-3 / 1000.0  # radius gained on a metre [mm]
    weight: FloatArray = -((grid - middle) ** 2) / (2 * _SPREAD**2)
    for run, seen in readings:
        weight = weight - (np.log(seen) - np.log(bit.edge_radius + each * run)) ** 2 / (2 * _LOUPE**2)
    chance = np.cumsum(np.exp(weight - weight.max()))
    ends = np.interp([0.1, 0.5, 0.9], chance / chance[-1], grid)
    rate = tuple(float(v) for v in np.exp(ends))
    radius = tuple(bit.edge_radius + rounding(v, bit) * 1e-6 * edge for v in rate)
    return Wear(name, groove, edge, radius, rate, len(readings))  # type: ignore[arg-type]  # three each
