"""Wear of an edge: how far it has run in wood, and how round it has become.

An edge that recedes by w is rounded to the radius rho of the circle that touches both its faces and ends where the
edge now does. Of a wedge of angle b the circle's centre lies rho / sin(b / 2) from where the sharp edge was, so that
w = rho (1 / sin(b / 2) - 1).

A bit is changed when the next job on the old edge adds more handwork than a job costs on average over the best life of
a new one, its price and change included: the rule for replacing whatever gets dearer with use (from memory).
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from typing import Any, NamedTuple

import numpy as np

from .._shared.arrays import FloatArray
from ..damage.handwork import HandWork
from ..damage.mapping import risk_map
from ..damage.models import LipModel
from ..scene.cuts import Carving, Cut, as_carving
from ..scene.cutters import Cutter
from ..scene.grain import Board

__all__ = ["EdgeChange", "Wear", "best_life", "change_of", "edge_metres", "rounding", "wear_of"]

RECESSION = (20.0, 80.0)
"""What an edge recedes on a kilometre in wood, ends of the middle half of what is believed: from 54 um on 270 m planed
oak with high-speed steel (BioResources 14(4) 9271), its edge path reckoned for a cutter of 125 mm, which is assumed.
Carbide wears less; the spread is wide for that. [um/km]"""

_SPREAD = 1.0
"""Standard deviation of the logarithm of the rate. [-]"""

_LOUPE = 0.35
"""Standard deviation of the logarithm of a radius that is read through a loupe: assumed. [-]"""

_STATIONS = 400

_RADII, _ROUNDEST = 5, 0.2  # of edges that are tried, and the largest [mm]

_LIPS = 160  # stations of a job that is asked what wear does to it


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


class EdgeChange(NamedTuple):
    """When it pays to change a bit: for slow, middle and fast wear, each as likely as 8 in 10 have it.

    `jobs` that are still to be cut with the old edge, infinite if more than were looked at; `added` minutes of handwork
    that its wear adds to the next job; `life` of a new edge in jobs; `average` minutes that a job then costs in wear
    and in changes. [min]
    """

    bit: str
    cost: float
    jobs: tuple[float, float, float]
    added: tuple[float, float, float]
    life: tuple[float, float, float]
    average: tuple[float, float, float]

    @property
    def now(self) -> bool:
        """Whether the bit is to be changed before the next job, at the middle rate of wear."""
        return self.jobs[1] == 0

    def __str__(self) -> str:
        late, middle, soon = (f"{v:.0f}" if np.isfinite(v) else "more than were looked at" for v in self.jobs)
        due = "Change it now" if self.now else f"It pays to change it after {middle} more such jobs"
        return (
            f"Bit {self.bit!r}: its wear adds {self.added[1]:.1f} min of handwork to the next job (8 in 10: "
            f"{min(self.added):.1f} to {max(self.added):.1f}), and a new edge costs {self.cost:g} min. {due} (with "
            f"fast wear after {soon}, with slow wear after {late}). Of a new edge a job then costs "
            f"{self.average[1]:.1f} min in wear and changes."
        )


def best_life(cost: float, added: Sequence[float]) -> tuple[int, float]:
    """Number of jobs after which an edge is changed, and minutes that a job then costs on average.

    Parameters
    ----------
    cost
        Of an edge. [min]
    added
        Minutes that wear adds to the first job, the second and so on. [min]

    Examples
    --------
    >>> from chipsim.learning.wear import best_life
    >>> best_life(50, [0, 1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 11, 12])  # ten jobs: the square root of 2 x 50 / 1
    (10, 9.5)
    """
    count = np.arange(1, len(added) + 1)
    average = (cost + np.cumsum(added)) / count
    best = int(np.argmin(average))
    return best + 1, float(average[best])


def change_of(
    wear: Wear,
    fresh: float,
    carving: Carving | Cut,
    board: Board,
    cost: float,
    jobs: int,
    model: LipModel | None = None,
    handwork: HandWork | None = None,
    draws: int = 64,
    seed: int = 0,
) -> EdgeChange:
    """When it pays to change a bit whose next jobs are all like one; `fresh` is the radius of a new edge. [mm]

    Minutes by hand are worked out for five radii and straight between them in the radius' logarithm.
    """
    work = as_carving(carving)
    run = edge_metres(work)
    rates = [wear.rate[k] * 1e-6 for k in (0, 1, 2)]
    # what a metre adds to the radius, from the radius that the wear has given
    gained = [(r - fresh) / max(wear.edge * rate, 1e-300) for r, rate in zip(wear.radius, rates, strict=True)]
    unit = max(gained[1], 1e-12) if wear.edge > 0 else rounding(1.0, work.cuts[0].bit)
    most = min(max(fresh + unit * rates[2] * (wear.edge + jobs * run), 1.2 * fresh), _ROUNDEST)
    radii = np.geomspace(fresh, most, _RADII)
    minutes = np.array([_by_hand(work, board, float(r), model, handwork, draws, seed) for r in radii])

    def extra(way: FloatArray, rate: float) -> FloatArray:
        radius = np.minimum(fresh + unit * rate * way, most)
        return np.asarray(np.interp(np.log(radius), np.log(radii), minutes) - minutes[0])

    return _changed(wear, cost, jobs, run, rates, extra)


def _changed(
    wear: Wear,
    cost: float,
    jobs: int,
    run: float,
    rates: Sequence[float],
    extra: Callable[[FloatArray, float], FloatArray],
) -> EdgeChange:
    way = np.arange(jobs, dtype=np.float64) * run
    rows = []
    for rate in rates:
        life, average = best_life(cost, extra(way, rate).tolist())
        ahead = extra(way + wear.edge, rate)
        due = np.flatnonzero(ahead >= average)
        rows.append((float(due[0]) if len(due) else np.inf, float(ahead[0]), float(life), average))
    late, added, life_, mean = ((c[0], c[1], c[2]) for c in zip(*rows, strict=True))
    return EdgeChange(wear.bit, cost, late, added, life_, mean)


def _by_hand(
    carving: Carving,
    board: Board,
    radius: float,
    model: LipModel | None,
    handwork: HandWork | None,
    draws: int,
    seed: int,
) -> float:
    """Minutes by hand of a carving cut with edges of one radius that is known. [min]"""
    changed: Any = [replace(c, bit=replace(c.bit, edge_radius=radius, edge_measured=True)) for c in carving]  # type: ignore[type-var]
    worn = replace(carving, cuts=tuple(changed))
    found = risk_map(worn, board, model=model, draws=draws, seed=seed, pitch=max(carving.length / _LIPS, 0.25))
    return float(found.hand_minutes(handwork))


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
