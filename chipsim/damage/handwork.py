"""What damage costs by hand: how much lip is expected in each grade, and the minutes that mending it takes.

The grade of a place is not its risk: a grader gives it, on wood that differs from place to place. `lengths_of` counts
how many millimetres of lip are expected in every combination of grades of fuzz, tear-out and scorch; what is done about
them, and how long it takes, is the carver's `HandWork`. The lengths do not depend on the minutes, so that other minutes
cost no new run of the model.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, fields
from types import MappingProxyType
from typing import NamedTuple

import numpy as np

from .._shared.arrays import FloatArray, array, choice, frozen, instance, number
from .._shared.ordinal import spread_scale
from .._shared.tables import Columns, Result, columns_of
from ..errors import DomainError
from ..kernels.grades import grade_lengths
from .orders import of_hundred, wilson
from .priors import BOARD, CONVENTION, CUT_SPREAD, FLOOR, LOCAL, RING, Draws, Grader, latent, normal_at

__all__ = [
    "ASSUMED",
    "CAUSES",
    "HandWork",
    "Minutes",
    "MinutesRow",
    "board_minutes",
    "checked_handwork",
    "lengths_of",
    "lengths_of_ways",
    "middle_draws",
    "minutes_of",
    "share_from",
]

CAUSES = ("fuzz", "tear-out", "scorch")
"""Kinds of damage in the order of every table of lengths, as a carver reads them."""

STEPS = ("clean", "brush", "light sanding", "heavy sanding", "re-cut")
"""Cures of the grades 0 to 4."""

_SCORCH_NOISE = 0.5
"""Noise with which a carver calls a place scorched, on the scale of grades: assumed, not measured. [latent]"""

_SOFTENED = 2
"""Grade from which a place takes more than a brush, so that tools and abrasive are fetched."""

_MARKED = 1
"""Grade of scorch from which the scraper is fetched: a brush takes no brown off."""

ASSUMED = "These minutes are assumed until you have timed your own."
"""What is said of a `HandWork` that nobody has changed."""


@dataclass(frozen=True, kw_only=True)
class HandWork:
    """Minutes of hand work that damage costs; every default is assumed, to be replaced by your own times.

    The grades are those of the grading form: 0 clean, 1 brush, 2 light sanding, 3 heavy sanding, 4 re-cut or fill. What
    one place needs is done together, so that the dearest of its three kinds decides.

    Parameters
    ----------
    fuzz, tear, scorch
        Five numbers, never falling: what 100 mm of lip of each grade takes. [min]
    setup
        Three numbers: to fetch brush and abrasive, filler and knife, scraper. [min]
    setup_length
        Length of lip from which they are fetched in about two cases of three. [mm]
    spoilt
        What a spoilt piece costs: another board, and all work on it once more. Nobody mends for longer. [min]
    spoilt_length
        Length of lip beyond repair with which about two pieces of three are given up. [mm]
    beyond_repair
        Three numbers in [0, 1]: the share of lip of grade 4 that no work can save, of fuzz, tear-out and scorch. [-]

    Raises
    ------
    DomainError
        If a number is negative, or minutes fall from one grade to the next.

    Notes
    -----
    Expected minutes of one possible board, over lips of length l with grades G::

        by hand  = sum of l / 100 mm x E[max of the three] + sum over kinds of setup (1 - exp(-L / setup_length))
        spoilt   = 1 - exp(-N / spoilt_length),   the chance that the piece is given up
        minutes  = (1 - spoilt) min(by hand, spoilt piece) + spoilt x spoilt piece

    L is the lip that needs more than a brush, and N the lip beyond repair. The sizes were held against common practice
    (no source): cleaning a plate takes 20 to 60 minutes, scorched corners 10 to 30 minutes a letter, a torn plate
    another three to five hours.

    Examples
    --------
    >>> import chipsim as cs
    >>> quick = cs.HandWork(fuzz=(0, 0.2, 0.5, 1.5, 4), spoilt=60)
    >>> quick.fuzz[1], quick.tear[1]
    (0.2, 0.5)
    """

    fuzz: tuple[float, ...] = (0.0, 0.3, 1.2, 4.0, 10.0)
    tear: tuple[float, ...] = (0.0, 0.5, 2.0, 6.0, 15.0)
    scorch: tuple[float, ...] = (0.0, 0.5, 2.5, 8.0, 20.0)
    setup: tuple[float, ...] = (2.0, 4.0, 5.0)
    setup_length: float = 10.0
    spoilt: float = 120.0
    spoilt_length: float = 400.0
    beyond_repair: tuple[float, ...] = (1 / 3, 1.0, 1 / 3)

    def __post_init__(self) -> None:
        for name, size in {"fuzz": 5, "tear": 5, "scorch": 5, "setup": 3, "beyond_repair": 3}.items():
            shares = name == "beyond_repair"
            values = array(name, getattr(self, name), low=0, high=1 if shares else 1e5, unit="-" if shares else "min")
            if values.shape != (size,):
                raise DomainError(f"{name} must be {size} numbers, got {np.size(values)} of them: {values.tolist()}")
            if size == 5 and (np.diff(values) < 0).any():
                raise DomainError(
                    f"{name} must not fall from one grade to the next, got {values.tolist()} min for 100 mm of the "
                    f"grades 0 to 4"
                )
            object.__setattr__(self, name, tuple(values.tolist()))
        for name in ("setup_length", "spoilt", "spoilt_length"):
            unit = "min" if name == "spoilt" else "mm"
            value = number(name, getattr(self, name), low=0, high=1e6, open_low=name != "spoilt", unit=unit)
            object.__setattr__(self, name, value)

    def scaled(self, cause: str, factor: float) -> HandWork:
        """The same with the minutes of one kind of damage, its set-up included, times a factor.

        Parameters
        ----------
        cause
            'fuzz', 'tear-out', 'scorch' or 'spoilt piece'.
        factor
            At least 0. [-]

        Raises
        ------
        DomainError
            If the cause is another, or minutes become too many.
        """
        choice("cause", cause, (*CAUSES, "spoilt piece"))
        times = number("factor", factor, low=0, high=1e6)
        held = {f.name: getattr(self, f.name) for f in fields(self)}
        if cause == "spoilt piece":
            return HandWork(**held | {"spoilt": self.spoilt * times})
        k = CAUSES.index(cause)
        name = ("fuzz", "tear", "scorch")[k]
        setup = tuple(v * times if i == k else v for i, v in enumerate(self.setup))
        return HandWork(**held | {name: tuple(v * times for v in held[name]), "setup": setup})

    @property
    def words(self) -> str:
        """What it says, in sentences for the foot of a report."""
        each = [
            f"{cause} {', '.join(f'{v:g}' for v in row[1:])}"
            for cause, row in zip(CAUSES, (self.fuzz, self.tear, self.scorch), strict=True)
        ]
        text = (
            f"Hand work is reckoned in minutes for 100 mm of lip, to brush, to sand lightly, to sand heavily and to "
            f"re-cut: {'; '.join(each)}. A spoilt piece counts {self.spoilt:g} min."
        )
        return f"{text} {ASSUMED}" if self == HandWork() else text

    def _prices(self) -> FloatArray:
        """(5, 5, 5) what 100 mm of lip of every combination of grades takes. [min]"""
        f, t, s = np.ix_(self.fuzz, self.tear, self.scorch)
        return np.asarray(np.maximum(np.maximum(f, t), s))

    def _dearest(self) -> np.ndarray:
        """(5, 5, 5) which kind decides, the first of equal ones."""
        return np.asarray(np.argmax(np.broadcast_arrays(*np.ix_(self.fuzz, self.tear, self.scorch)), axis=0))

    def _lost(self) -> FloatArray:
        """(5, 5, 5) share of lip that is beyond repair. [-]"""
        worst = [np.array([0.0, 0.0, 0.0, 0.0, share]) for share in self.beyond_repair]
        f, t, s = np.ix_(*worst)
        return np.asarray(np.maximum(np.maximum(f, t), s))


class MinutesRow(NamedTuple):
    """One cause of hand work, 'set-up' and 'spoilt piece' among them, and the minutes expected of it. [min]"""

    cause: str
    minutes: float


@dataclass(frozen=True, eq=False)
class Minutes(Result):
    """Minutes of hand work, made by `RiskMap.hand_minutes`; `float` of it is what is expected. Print it for a report.

    It iterates over causes of work, as `MinutesRow`; they add up to what is expected.

    Attributes
    ----------
    work : (boards,) minutes on each possible board if the piece is kept, at most a spoilt piece's. [min]
    spoilt : (boards,) chance on each that the piece is given up. [-]
    causes : minutes expected of fuzz, tear-out, scorch, set-up and spoilt pieces. [min]
    lip : length of lip. [mm]
    lengths : (3, 5) of it expected in each grade of fuzz, tear-out and scorch. [mm]
    cures : (5,) of it expected to be clean, and to want a brush, light sanding, heavy sanding, re-cutting. [mm]
    handwork : at which minutes.
    """

    work: FloatArray
    spoilt: FloatArray
    causes: Mapping[str, float]
    lip: float
    lengths: FloatArray
    cures: FloatArray
    handwork: HandWork

    def __post_init__(self) -> None:
        for name in ("work", "spoilt", "lengths", "cures"):
            frozen(getattr(self, name))

    def __float__(self) -> float:
        return self.expected

    def __len__(self) -> int:
        return len(self.causes)

    def __iter__(self) -> Iterator[MinutesRow]:
        return (MinutesRow(cause, minutes) for cause, minutes in self.causes.items())

    def __repr__(self) -> str:
        return f"<Minutes {self.expected:.1f} by hand, {self.low:.1f} to {self.high:.1f} on 8 boards in 10>"

    def _columns(self) -> Columns:
        return columns_of([*self], {"cause": "cause", "minutes expected [min]": "minutes"})

    @property
    def boards(self) -> FloatArray:
        """(boards,) minutes on each possible board, spoilt pieces counted by their chance. [min]"""
        return np.asarray((1 - self.spoilt) * self.work + self.spoilt * self.handwork.spoilt)

    @property
    def expected(self) -> float:
        """Mean over the possible boards. [min]"""
        return float(self.boards.mean())

    @property
    def low(self) -> float:
        """What a tenth of the boards stay below. [min]"""
        return self._quantile(0.1)

    @property
    def high(self) -> float:
        """What a tenth of the boards exceed. [min]"""
        return self._quantile(0.9)

    @property
    def chance_spoilt(self) -> float:
        """Chance that the piece is given up. [-]"""
        return float(self.spoilt.mean())

    def _quantile(self, share: float, machine: FloatArray | float = 0.0) -> float:
        """By the boards' own spread: what is spoilt is spoilt, and no part of every board. [min]"""
        more = np.broadcast_to(machine, self.work.shape)
        size = np.append(self.work + more, self.handwork.spoilt + more)
        weight = np.append(1 - self.spoilt, self.spoilt)
        order = np.argsort(size, kind="stable")
        place = int(np.searchsorted(np.cumsum(weight[order]), share * weight.sum() * (1 - 1e-12)))
        return float(size[order][min(place, len(size) - 1)])

    def chance_above(self, minutes: float) -> float:
        """Chance that more than so many minutes of hand work are needed, a spoilt piece included. [-]"""
        return self._above(number("minutes", minutes, low=0, high=1e7, unit="min"))

    def chance_range(self, minutes: float) -> tuple[float, float]:
        """Low and high of 9 in 10 of that chance: so many boards do not tell it better (Wilson 1927). [-]"""
        return wilson(self.chance_above(minutes), len(self.work))

    def _above(self, bound: float, machine: FloatArray | float = 0.0) -> float:
        """Chance of more than a bound with the machine's minutes on each board. [-]"""
        kept, given_up = self.work + machine > bound, self.handwork.spoilt + np.asarray(machine) > bound
        return float((np.where(kept, 1.0 - self.spoilt, 0.0) + self.spoilt * given_up).mean())

    def __str__(self) -> str:
        most = max(self.causes, key=lambda c: self.causes[c])
        parts = ", ".join(f"{cause} {minutes:.1f}" for cause, minutes in self.causes.items() if minutes >= 0.05)
        chance = self.chance_spoilt
        lines = [
            f"Hand work of {self.expected:.1f} min is expected; on 8 boards in 10 it takes {self.low:.1f} to "
            f"{self.high:.1f} min."
        ]
        if parts:
            lines.append(f"Most of it comes from {_of(most)}: {parts} min.")
        if chance >= 0.005:
            lines.append(f"The piece is spoilt on {of_hundred(chance, len(self.work))}.")
        return "\n".join([*lines, self.handwork.words])


def _of(cause: str) -> str:
    return {"spoilt piece": "pieces that are spoilt", "set-up": "fetching tools"}.get(cause, cause)


def lengths_of(known: Draws, risks: Sequence[FloatArray], length: FloatArray, *, taught: bool = False) -> FloatArray:
    """Length of lip expected in every combination of grades, (draws, 5, 5, 5), that adds up to the lip's own. [mm]

    Parameters
    ----------
    known
        Graders, and shifts of the latent for job and board.
    risks
        Fuzz, tear and scorch, (n, 2, draws) each; NaN where not known, which counts as clean.
    length
        (n, 2) of lip, 0 where there is none. [mm]
    taught
        Whether fuzz and tear stand on the usual scale already, as those of a fitted map do.
    """
    table = np.zeros((len(known.shifts), 5, 5, 5))
    _grade(known, risks, length, taught, table)
    return table


def lengths_of_ways(
    known: Draws, risks: Sequence[FloatArray], length: FloatArray, *, taught: bool = False
) -> FloatArray:
    """`lengths_of` of risks, (n, 2, ways) each, every way on every draw: (ways, draws, 5, 5, 5).

    The graders have one noise, as those of `middle_draws`. [mm]
    """
    ways, draws = risks[0].shape[-1], len(known.shifts)
    table = np.zeros((ways * draws, 5, 5, 5))
    _grade(known, risks, length, taught, table)
    return table.reshape(ways, draws, 5, 5, 5)


def _grade(known: Draws, risks: Sequence[FloatArray], length: FloatArray, taught: bool, table: FloatArray) -> None:
    """Add to a table (sets, 5, 5, 5), the draws once or, beside as many ways as there are, over and over."""
    draws = len(known.shifts)
    usual = latent(np.array(CONVENTION))
    cuts = np.empty((3, 4, draws))
    cuts[2] = usual[:, None]
    cuts[:2] = (
        usual[:, None]
        if taught
        else np.array([[g.fuzz for g in known.graders], [g.tear for g in known.graders]]).transpose(0, 2, 1)
    )
    local = sum(v * v for v in LOCAL)
    scales = np.empty((3, draws))
    scales[:2] = spread_scale(np.array([g.noise for g in known.graders]), local)
    scales[2] = _SCORCH_NOISE
    shifts = np.zeros((3, draws))
    shifts[:2] = known.shifts
    grade_lengths(
        *(np.ascontiguousarray(a, dtype=float) for a in (*risks, np.where(length > 0, length, 0.0))),
        *(np.tile(a, len(table) // draws) for a in (cuts, scales, shifts)),
        FLOOR,
        table,
    )


_SHIFTS = 9


def middle_draws(taught: bool) -> Draws:
    """What is not known of reader, job and board about the usual grader: nine equally likely draws, without models.

    They have the spread of the priors of job, board and first cut point. Of a board that test pieces have taught only
    the job's own is left.
    """
    spread = RING if taught else float(np.sqrt(RING**2 + BOARD**2 + CUT_SPREAD**2))
    at = normal_at((np.arange(_SHIFTS) + 0.5) / _SHIFTS)
    usual = Grader.at(np.zeros(9))
    return Draws((), (usual,) * _SHIFTS, spread * at / at.std(), np.zeros((_SHIFTS, 0)), ())


def checked_handwork(handwork: HandWork | None) -> HandWork:
    """What was given, or the assumed minutes for None; DomainError for anything else."""
    return HandWork() if handwork is None else instance("handwork", handwork, HandWork, "a HandWork or None")


def minutes_of(table: FloatArray, handwork: HandWork | None = None) -> Minutes:
    """Minutes of hand work from lengths by grade, (boards, 5, 5, 5) [mm], of equally likely boards."""
    rates = checked_handwork(handwork)
    count = len(table)
    flat = np.asarray(table, dtype=float).reshape(count, 125)
    prices, dearest = rates._prices().reshape(-1) / 100.0, rates._dearest().reshape(-1)
    mended = np.stack([flat @ (prices * (dearest == k)) for k in range(3)])
    fetched = np.stack([rates.setup[k] * -np.expm1(-_softened(flat, k) / rates.setup_length) for k in range(3)])
    hand = mended.sum(axis=0) + fetched.sum(axis=0)
    spoilt = -np.expm1(-(flat @ rates._lost().reshape(-1)) / rates.spoilt_length)
    work = np.minimum(hand, rates.spoilt)
    share = (1 - spoilt) * np.divide(work, hand, out=np.ones(count), where=hand > 0) / count
    causes = {cause: float(mended[k] @ share) for k, cause in enumerate(CAUSES)}
    causes |= {"set-up": float(fetched.sum(axis=0) @ share), "spoilt piece": float(spoilt.mean()) * rates.spoilt}
    mean = flat.mean(axis=0).reshape(5, 5, 5)
    lengths = np.stack([mean.sum(axis=(1, 2)), mean.sum(axis=(0, 2)), mean.sum(axis=(0, 1))])
    worst = np.indices((5, 5, 5)).max(axis=0)
    cures = np.array([mean[worst == g].sum() for g in range(5)])
    return Minutes(work, spoilt, MappingProxyType(causes), float(mean.sum()), lengths, cures, rates)


def board_minutes(table: FloatArray, handwork: HandWork) -> FloatArray:
    """Minutes of hand work on each board, (boards,), spoilt pieces counted by their chance. [min]"""
    return minutes_of(table, handwork).boards


def _softened(flat: FloatArray, kind: int) -> FloatArray:
    """Length of lip (boards,) for which the tools of one kind of damage are fetched. [mm]"""
    grades = np.arange(5) >= (_MARKED if kind == CAUSES.index("scorch") else _SOFTENED)
    shape = [1, 1, 1]
    shape[kind] = 5
    return np.asarray(flat @ np.broadcast_to(grades.reshape(shape), (5, 5, 5)).reshape(-1).astype(float))


def share_from(table: FloatArray, grade: int) -> FloatArray:
    """Share of the lip of a grade or worse, (boards, 3), by kind of damage. [-]"""
    whole = table.reshape(len(table), -1).sum(axis=1)
    parts: Sequence[FloatArray] = [
        table[:, grade:].sum(axis=(1, 2, 3)),
        table[:, :, grade:].sum(axis=(1, 2, 3)),
        table[:, :, :, grade:].sum(axis=(1, 2, 3)),
    ]
    return np.stack(parts, axis=1) / np.where(whole > 0, whole, 1.0)[:, None]
