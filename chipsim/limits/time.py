"""How long a carving takes."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import NamedTuple

import numpy as np

from .._shared.arrays import FloatArray
from .._shared.tables import Columns, Result, columns_of
from ..errors import DomainError
from ..scene.cuts import AirMove, Carving, Cut
from ..scene.machine import Machine, corners_text
from ..units import folded
from .job import job_of, owner_of

__all__ = ["TimeEstimate", "TimeRow", "time_estimate"]


_KINDS = ("cutting", "air", "plunge", "dwell", "total")


class TimeRow(NamedTuple):
    """What one kind of motion of a `TimeEstimate` takes, 'total' among them. [s]"""

    name: str
    low: float
    likely: float
    high: float


@dataclass(frozen=True)
class TimeEstimate(Result):
    """How long a carving runs, made by `time_estimate`; each a triple (low, likely, high). Prints in minutes.

    It iterates over its kinds of motion and their total, as `TimeRow`.

    Parameters
    ----------
    cutting
        Along the grooves, earlier passes included. [s]
    air
        Rapids, moves at feed above the face, and straight up, out of the wood or in it. [s]
    plunge
        Straight down in the wood, and moves down into it. [s]
    dwell
        Pauses the plan asks for, in the wood or out of it. [s]
    notes
        What is assumed of corners, and what is not counted.
    """

    cutting: tuple[float, float, float]
    air: tuple[float, float, float]
    plunge: tuple[float, float, float]
    dwell: tuple[float, float, float]
    notes: tuple[str, ...] = ()

    @property
    def total(self) -> tuple[float, float, float]:
        """Sum of all four. [s]"""
        low, likely, high = (sum(t) for t in zip(self.cutting, self.air, self.plunge, self.dwell, strict=True))
        return low, likely, high

    def __len__(self) -> int:
        return len(_KINDS)

    def __iter__(self) -> Iterator[TimeRow]:
        return (TimeRow(name, *getattr(self, name)) for name in _KINDS)

    def __repr__(self) -> str:
        low, likely, high = (t / 60 for t in self.total)
        return f"<TimeEstimate {likely:.2f} min, {low:.2f} to {high:.2f}>"

    def _columns(self) -> Columns:
        return columns_of([*self], {"motion": "name", "low [s]": "low", "likely [s]": "likely", "high [s]": "high"})

    def __str__(self) -> str:
        # of what takes seconds a tenth of a minute says nothing
        unit, size, digits = ("s", 1.0, 0) if self.total[2] < 60 else ("min", 60.0, 1)
        low, likely, high = (f"{t / size:.{digits}f}" for t in self.total)
        out = [
            f"The machine takes about {likely} {unit}, {low} at best and {high} at worst.",
            "",
            f"{'minutes':<8}{'low':>9}{'likely':>9}{'high':>9}",
        ]
        for name in _KINDS:
            out.append(f"{name:<8}" + "".join(f"{t / 60:>9.2f}" for t in getattr(self, name)))
        return "\n".join([*out, *(line for note in self.notes for line in folded(note))])


def time_estimate(carving: Carving | Cut, machine: Machine | None = None) -> TimeEstimate:
    """Time a carving takes on a machine, as a band, since machines differ in what they do at corners.

    Parameters
    ----------
    carving
        A `Carving`, or a single `Cut`; earlier passes count.
    machine
        Machine for every cut; None: each cut's own.

    Returns
    -------
    TimeEstimate
        *likely*: each cut from rest to rest by its speed profile; each other move from rest to rest at its feed or
        the rapid feed, a plunge held to the plunge feed (textbook kinematics, from memory). *low*: acceleration
        without limit. *high*: half the acceleration, but not below the 10 mm/s^2 a `Machine` may have, and a stop
        at every corner. A run timed on one's own machine tells where in the band it lies.

    Raises
    ------
    DomainError
        If an argument is of the wrong kind, or a cut has no machine.

    Examples
    --------
    >>> import chipsim as cs
    >>> cut = cs.Cut(cs.VBit(60, 12.7, 2), cs.ring(20, 2.5), 18_000, 1500, machine=cs.Machine(300, 3000))
    >>> low, likely, high = cs.time_estimate(cut).total
    >>> f"{likely:.2f} s, at least {low:.2f} s, at most {high:.2f} s"
    '5.11 s, at least 5.03 s, at most 5.19 s'
    """
    job = job_of(carving, machine)
    for k, cut in enumerate(job, 1):
        if cut.machine is None:
            raise DomainError(f"machine must be a Machine, got None, and cut {k} has none of its own")
    cutting, air, plunge, dwell = (np.zeros(3) for _ in range(4))
    for cut in job:
        for c in [*cut.earlier_passes(), cut]:
            own = _machine(c)
            runs = [_unhindered(c, own), c.seconds_by_piece, replace(c, machine=_slow(own)).seconds_by_piece]
            upright, drop = c.path.pieces[:, 4] == 0, c.path.drop
            for total, part in ((cutting, ~upright), (plunge, upright & (drop > 0)), (air, upright & (drop < 0))):
                total += [float(run[part].sum()) for run in runs]
            dwell += float(c.path.dwell.sum())
    for move in job.air_moves:
        own = _machine(job.cuts[owner_of(job, move)])
        if move.kind == "dwell":
            dwell += move.seconds
        elif move.kind == "plunge":
            plunge += _move_times(move, own)
        else:
            air += _move_times(move, own)
    notes = [corners_text(c.machine for c in job)]
    if not any(move.kind != "dwell" for move in job.air_moves):
        notes.append("Moves between the grooves and plunges are not planned and not counted.")
    elif any(cut.passes for cut in job):
        notes.append("Moves between the passes of a groove are not planned and not counted.")
    return TimeEstimate(_triple(cutting), _triple(air), _triple(plunge), _triple(dwell), tuple(notes))


def _triple(values: FloatArray) -> tuple[float, float, float]:
    low, likely, high = map(float, values)
    return low, likely, high


def _machine(cut: Cut) -> Machine:
    assert cut.machine is not None  # time_estimate has made sure
    return cut.machine


def _slow(machine: Machine) -> Machine:
    return replace(machine, corners="halt", acceleration=max(machine.acceleration / 2, 10.0))


def _unhindered(cut: Cut, machine: Machine) -> FloatArray:
    """Time on each piece of a path where only the feeds limit: typed, largest in space, downward. [s]"""
    way, drop = cut.path.space_length, cut.path.drop
    cap = np.minimum(cut.feeds, machine.max_feed)
    down = drop > 0
    cap[down] = np.minimum(cap[down], machine.plunge_feed * way[down] / drop[down])
    return np.asarray(60 * way / cap)


def _move_times(move: AirMove, machine: Machine) -> list[float]:
    """Low, likely, high time of a move from rest to rest. [s]"""
    length, drop = math.dist(move.start, move.end), move.start[2] - move.end[2]
    feed = machine.rapid_speed if move.feed is None else min(move.feed, machine.max_feed)
    if move.kind == "plunge" and drop > 0:
        feed = min(feed, machine.plunge_feed * length / drop)
    v = feed / 60
    out = [length / v]
    for a in (machine.acceleration, _slow(machine).acceleration):
        out.append(length / v + v / a if v * v <= a * length else 2 * math.sqrt(length / a))
    return out
