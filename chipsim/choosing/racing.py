"""Which setting takes the fewest minutes in all, found on boards that all settings share, most on the best of them.

Sequential halving: every setting is tried on a few boards, the worse half is dropped, the rest is tried on twice as
many, and so on. Means of settings that were tried on different numbers of boards are never compared; differences on
the boards they share are.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field

import numpy as np

from .._shared.arrays import FloatArray
from ..damage.handwork import HandWork, board_minutes

__all__ = ["Race", "planned", "race"]

FIRST = 16
"""Boards on which every setting is tried are a share of one in so many, and no fewer than so many."""

SHARE = 0.16
"""Share of what it would cost to try all settings on all boards that the race may cost; what is left of a fifth is for
the worth of knowing more."""

SMALL = 4096
"""Settings times boards up to which that share is not looked at: it takes seconds."""

SURE = 1.64
"""Standard errors to which a difference is told: one side of 9 in 10."""

Tables = Callable[[Sequence[tuple[int, int, int]]], Sequence[FloatArray]]
"""Lengths by grade of several settings, each as (its number, from which board, up to which)."""


@dataclass(eq=False)
class Race:
    """What is known of settings after a race, and may be added to.

    Attributes
    ----------
    machine : (settings,) minutes of machine expected. [min]
    handwork : at which minutes.
    tables : function that tries settings on boards.
    lengths : for each setting (boards tried, 5, 5, 5) length of lip by grade. [mm]
    evaluations : boards on which settings were tried, all settings together.
    first : boards on which every setting was tried.
    exact : the boards are nodes of a rule and no draws: what they say has no error.
    off : for each setting by how much the machine is off that on each board, (boards,) or 0. [min]
    """

    machine: FloatArray
    handwork: HandWork
    tables: Tables
    lengths: list[FloatArray] = field(default_factory=list)
    evaluations: int = 0
    first: int = 0
    exact: bool = False
    off: list[FloatArray | float] = field(default_factory=list)
    _minutes: list[FloatArray] = field(default_factory=list)

    def __post_init__(self) -> None:
        self.lengths = [np.zeros((0, 5, 5, 5)) for _ in self.machine]
        self.off = self.off or [0.0 for _ in self.machine]
        self._minutes = [np.zeros(0) for _ in self.machine]

    def add(self, machine: float, off: FloatArray | float = 0.0) -> int:
        """Take in one more setting, and return its number. [min]"""
        self.machine = np.append(self.machine, machine)
        self.off.append(off)
        self.lengths.append(np.zeros((0, 5, 5, 5)))
        self._minutes.append(np.zeros(0))
        return len(self.machine) - 1

    def extend(self, settings: Sequence[int], boards: int) -> None:
        """Try settings on the first so many boards, as far as they have not been."""
        wanted = [(k, len(self.lengths[k]), boards) for k in settings if len(self.lengths[k]) < boards]
        for (k, low, high), found in zip(wanted, self.tables(wanted), strict=True):
            self.lengths[k] = np.concatenate([self.lengths[k], found])
            self._minutes[k] = self.at(k, boards, self.handwork)
            self.evaluations += high - low

    def machine_on(self, setting: int, boards: int) -> FloatArray:
        """Minutes of machine on the first so many boards, (boards,). [min]"""
        off = np.broadcast_to(self.off[setting], (boards,)) if np.ndim(self.off[setting]) == 0 else self.off[setting]
        return np.asarray(self.machine[setting] + np.asarray(off)[:boards])

    def at(self, setting: int, boards: int, handwork: HandWork) -> FloatArray:
        """Minutes in all on the first so many boards at other minutes by hand, (boards,). [min]"""
        return self.machine_on(setting, boards) + board_minutes(self.lengths[setting][:boards], handwork)

    def minutes(self, setting: int) -> FloatArray:
        """(boards tried,) minutes of machine and hand. [min]"""
        return self._minutes[setting]

    def difference(self, setting: int, other: int) -> tuple[float, float]:
        """Mean of one setting's minutes over another's on the boards both were tried on, and its standard error.

        The error is that of independent boards; evenly spread ones have a smaller one. [min]
        """
        n = min(len(self._minutes[setting]), len(self._minutes[other]))
        apart = self._minutes[setting][:n] - self._minutes[other][:n]
        if n < 2 or setting == other or self.exact:
            return float(apart.mean()), 0.0
        return float(apart.mean()), float(apart.std(ddof=1) / np.sqrt(n))

    @property
    def leader(self) -> int:
        """Setting with the fewest minutes of those that were tried on most boards; of equal ones the fastest."""
        most = max(len(m) for m in self._minutes)
        return min(
            (k for k, m in enumerate(self._minutes) if len(m) == most),
            key=lambda k: (round(float(self._minutes[k].mean()), 9), self.machine[k], k),
        )

    def expected(self, setting: int) -> float:
        """Minutes expected: the leader's, and the difference on the boards both were tried on. [min]"""
        lead = self.leader
        return float(self._minutes[lead].mean()) + self.difference(setting, lead)[0]

    def tied(self, tolerance: float) -> tuple[int, ...]:
        """Settings shown to be no worse than the leader by more than a share of its minutes, the leader first.

        Only those that stayed in the race until its end, or nearly: rare boards on which all burns rule what a setting
        takes on average, and few boards do not show how rare they are.
        """
        lead = self.leader
        most, seen = tolerance * float(self._minutes[lead].mean()), len(self._minutes[lead])
        found = [
            k
            for k, held in enumerate(self._minutes)
            if k != lead and 2 * len(held) >= seen and self._within(k, lead, most)
        ]
        return (lead, *sorted(found, key=lambda k: (self.expected(k), k)))

    def _within(self, setting: int, other: int, most: float) -> bool:
        mean, error = self.difference(setting, other)
        return mean + SURE * error <= most


def race(
    machine: FloatArray,
    handwork: HandWork,
    tables: Tables,
    boards: int,
    *,
    exact: bool = False,
    off: Sequence[FloatArray] = (),
) -> Race:
    """Run a race to the last two settings.

    Parameters
    ----------
    machine
        (settings,) minutes of machine. [min]
    handwork
        What damage costs.
    tables
        Tries settings on boards.
    boards
        How many there are; the last two settings see all of them if the race may cost that much.
    exact
        They are nodes of a rule: every setting is tried on all.
    off
        For each setting by how much the machine is off `machine` on each board, (boards,); none: nowhere. [min]
    """
    seen = boards if exact else min(boards, max(FIRST, boards // FIRST))
    held = Race(machine, handwork, tables, first=seen, exact=exact, off=list(off))
    if exact:
        held.extend(range(len(machine)), boards)
        return held
    alive = list(range(len(machine)))
    whole = len(machine) * boards
    held.extend(alive, seen)
    while seen < boards or len(alive) > 2:
        if len(alive) > 2:
            mean = [(round(float(held.minutes(k).mean()), 9), machine[k], k) for k in alive]
            alive = [k for _, _, k in sorted(mean)][: max(2, len(alive) // 2)]
        if seen == boards:
            continue
        seen = min(2 * seen, boards)
        more = sum(max(seen - len(held.lengths[k]), 0) for k in alive)
        if whole > SMALL and held.evaluations + more > SHARE * whole:
            break
        held.extend(alive, seen)
    return held


def planned(settings: int, boards: int, *, exact: bool = False) -> int:
    """On how many boards a race tries settings, all of them together."""

    def tables(wanted: Sequence[tuple[int, int, int]]) -> Sequence[FloatArray]:
        return [np.zeros((high - low, 5, 5, 5)) for _, low, high in wanted]

    return race(np.zeros(settings), HandWork(), tables, boards, exact=exact).evaluations
