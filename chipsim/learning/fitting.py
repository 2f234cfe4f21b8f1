"""Learning from test pieces: from grades to the coefficients of the model, and how well they are then known.

The grades of fuzz and of tear are ordinal responses to the model's own prediction for each sector (`sectors`), on a
latent scale (`priors.latent`), with cut points and noise of the grader, an effect of each ring and a slow one of the
wood along each lip; the flag of scorch is a yes or no to its own prediction. Everything has a prior; the most probable
values and Laplace's normal approximation about them are reported. The same machinery fits two models that know nothing
of cutting, a free curve of directions (`harmonic`) and 'same everywhere'; if they predict rings they have not seen
better, the report says so.
"""

from __future__ import annotations

import json
import os
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import closing, nullcontext, suppress
from dataclasses import dataclass, fields, replace
from functools import cached_property
from pathlib import Path
from typing import Any, NamedTuple

import numpy as np

from .._shared.arrays import FloatArray, frozen, instance, integer
from .._shared.arrays import seed as checked_seed
from .._shared.files import whole_file
from .._shared.logs import logger
from .._shared.ordinal import Mode, interval_terms, least, mode_of, probabilities, spread_scale
from .._shared.running import progress_bar
from .._shared.tables import Columns, Result
from .._shared.words import plain
from ..chips.strikes import LipStrikes
from ..choosing.boards import TOLERANCE, lengths_on, possible_boards
from ..damage.bands import LearnedRange, angle_bin, bit_key
from ..damage.handwork import HandWork, checked_handwork, minutes_of
from ..damage.models import RiskModel, layer_of
from ..damage.priors import (
    BOARD,
    CUT_BEND,
    KIN,
    LOCAL,
    NOISE_SLOPE,
    POOR,
    RING,
    SPECIES,
    Coefficients,
    Draws,
    Grader,
    draws_at,
    grader_cuts,
    latent,
    literature_draws,
    noise_at,
)
from ..errors import DomainError
from ..scene.cuts import Carving, Cut
from ..scene.grain import Board
from ..scene.species import Wood
from ..units import feed_text, folded, table_text
from .grading import Agreement, Grade, Grades, graded_lines, weighted_kappa
from .sectors import RingSectors
from .testpiece import Coupon, Ring, RingSetting, piece_content, piece_from

__all__ = ["CrossValidation", "FittedModel", "Outlook", "SettingOutlook", "fit"]


RESPONSES = ("fuzz", "tear")
"""What is graded; the flag of scorch is the third response."""

_SCORCH = (2, 1.0)  # number of that response; noise of the flag, whose cut point is a risk of one half [latent]

_LEARNED = 0.8  # of the prior's spread: what is left above this counts as not learned

_TOGETHER = 0.7  # correlation of two coefficients from which only their combination is known

_STEP = 0.1  # of the coordinates, for slopes: wide, since a torn depth has kinks, and tiny against a prior's spread

_ROUNDS = 25  # of straightening the model

_CANDIDATES, _KEPT = 512, 256  # draws that the flags are asked about, and those that are kept of them

_CLOSE = 0.99  # of the way to the middle at which kept draws are drawn again

_GUESSED = 0.5  # spread of the logarithm of what is guessed of the spread between boards

_STRAIGHTENED = 2  # times, where only the evidence is asked for

_FREE = 6  # of them in which the noise is chosen anew

_NOISE_RANGE = (-4.0, 4.0)  # in which its coordinate is sought

_NOISE_STEP = 0.25  # for the curvature in it

_SETTLED = 1e-3  # gain of the log posterior below which the mode is found [nat]

_LOG = logger("learning")

_OUTLOOK = 400  # draws for the odds of settings and directions

_TRIED = 128  # possible boards on which the minutes of settings are reckoned

_METRE = 2000.0  # of lip, a metre of groove, whose minutes rank settings [mm]

_ASSUMED_MINUTES = HandWork()

_BETTER = 2.0  # nats, and standard errors over the rings, by which a free curve must win to be believed

_FORMAT = 4

_LONGEST = 100_000_000  # of a saved fit, hundreds of pieces [bytes]

_FARTHEST = 50.0  # coordinates from the median that any grades lead to, in standard deviations

_SPEED = 0.7  # by how much the wood may leave the law of speed at one speed: an assumption [latent]

_ODDS = 10.0  # by which the grades must be likelier without the law of speed before it is said to be broken

_DRIFT, _GRADE = 0.4, 0.6  # spread of drift between readings, an assumption [grades]; mean step of a grade [latent]

_ACCUSED = 0.05  # share of steady hands that may be said to drift

_MID = 1.2815515655446004  # 80 % of a normal lie within so many standard deviations


class _Data(NamedTuple):
    """Grades as intervals on cells; one entry a response of one reading."""

    response: np.ndarray  # 0 fuzz, 1 tear, 2 scorch, whose grades are 0 and 1
    cell: np.ndarray
    low: np.ndarray  # grade at least
    high: np.ndarray  # grade at most
    weight: FloatArray  # readings of one place share its wood: together they count once
    drift: FloatArray | float = 0.0  # by how much the latent was read too high, against first readings

    def take(self, keep: np.ndarray) -> _Data:
        drift = self.drift if isinstance(self.drift, float) else self.drift[keep]
        return _Data(self.response[keep], self.cell[keep], self.low[keep], self.high[keep], self.weight[keep], drift)


def _limits(grade: int, kind: str) -> tuple[tuple[int, int], tuple[int, int]]:
    """What a grade and its letter say of fuzz and of tear: (least, most) of each."""
    # the lesser of the two may be a faint one, but two that are equal would be written b
    other = (0, min(1, max(0, grade - 1)))
    if kind == "f" or grade == 0:
        return (grade, grade), other
    if kind == "t":
        return other, (grade, grade)
    both = (min(2, grade), grade)  # the worse of the two has the grade, the other is to be seen as well
    return both, both


def _observations(pieces: Sequence[RingSectors], grades: Sequence[Grades], known: FloatArray) -> _Data:
    rows: list[tuple[int, int, int, int, float, float]] = []
    offset = 0
    for strikes, form in zip(pieces, grades, strict=True):
        index = {r.code: int(strikes.first[i]) for i, r in enumerate(strikes.coupon.graded())}
        used = form.used()
        drift = Drift.of([form]).latent
        count: dict[tuple[str, int, str], int] = {}
        for row in used:
            count[row[:3]] = count.get(row[:3], 0) + 1
        for row in used:
            cell = offset + index[row.ring] + (row.sector - 1) * 2 + (row.lip in ("in", "right"))
            assert row.grade is not None
            scorched = int("s" in row.flags)
            for k, (low, high) in enumerate((*_limits(row.grade, row.kind), (scorched, scorched))):
                if known[k, cell]:
                    late = drift if row.reading == 2 and k < len(RESPONSES) else 0.0
                    rows.append((k, cell, low, high, 1.0 / count[row[:3]], late))
        offset += len(strikes)
    rows.sort()
    columns = np.array(rows, dtype=float).reshape(-1, 6).T
    response, cell, low, high = (c.astype(int) for c in columns[:4])
    return _Data(response, cell, low, high, columns[4], columns[5])


class Drift(NamedTuple):
    """By how many grades second readings are worse than first ones, in the mean, and its standard error.

    A hand that has become stricter, or eyes that have become tired, between the first and the second reading. `chance`
    is that of a step at least as large from a hand that is steady: if it is, each pair is as likely the other way
    round (Fisher's test by exchange of signs, from memory), whatever the grades and however few the pairs.
    """

    grades: float
    error: float
    pairs: int
    chance: float = 1.0

    @classmethod
    def of(cls, forms: Sequence[Grades]) -> Drift:
        """Drift of some forms' readings; nothing where no place was read twice."""
        apart = np.array([b - a for g in forms for a, b in _pairs(g)], dtype=float)
        if len(apart) < 2:
            return cls(0.0, float("inf"), len(apart))
        # a quarter of a grade is the least that grades can lie apart by chance
        error = float(max(apart.std(ddof=1), 0.25) / np.sqrt(len(apart)))
        return cls(float(apart.mean()), error, len(apart), exchange_chance(apart.astype(int)))

    @property
    def latent(self) -> float:
        """What is taken off the latent of second readings, drawn towards none by what is not known of it."""
        if not np.isfinite(self.error):
            return 0.0
        known = self.grades * _DRIFT**2 / (_DRIFT**2 + self.error**2)
        # readings that lie further apart contradict one another, and that is for the noise
        return float(_GRADE * np.clip(known, -2 * _DRIFT, 2 * _DRIFT))

    @property
    def clear(self) -> bool:
        """Whether it is told from none: of steady hands no more than one in twenty is accused."""
        return self.chance <= _ACCUSED


def exchange_chance(apart: np.ndarray) -> float:
    """Chance that whole numbers (n,), each with a sign thrown for it, sum up to as much as they do, either way.

    Examples
    --------
    >>> import numpy as np
    >>> from chipsim.learning.fitting import exchange_chance
    >>> exchange_chance(np.array([1, 1, 1, 1, 0]))  # all four one way: 2 of 16
    0.125
    """
    size = np.abs(np.asarray(apart, dtype=int))
    total = int(size.sum())
    sums = np.zeros(2 * total + 1)
    sums[total] = 1.0
    for step in size[size > 0].tolist():
        sums = (np.roll(sums, step) + np.roll(sums, -step)) / 2
    reach = np.abs(np.arange(-total, total + 1))
    return float(min(1.0, sums[reach >= abs(int(np.sum(apart)))].sum()))


@dataclass(frozen=True)
class _Family:
    """A way to predict latents (3, cells) from standard normal coordinates (m,)."""

    size: int
    latents: Callable[[FloatArray], FloatArray]
    slopes: Callable[[FloatArray], FloatArray]  # (3, cells, m)
    side_by_side: Callable[[FloatArray], FloatArray] | None = None  # (n, m) -> (3, cells, n)

    def many(self, z: FloatArray) -> FloatArray:
        """Latents (3, cells, n) at many coordinates (n, m)."""
        return (
            np.stack([self.latents(row) for row in z], axis=-1) if self.side_by_side is None else self.side_by_side(z)
        )

    @classmethod
    def linear(cls, design: FloatArray, base: FloatArray | None = None, at: FloatArray | None = None) -> _Family:
        """Latents base + design @ (z - at), the design (3, cells, m)."""
        base = np.zeros(design.shape[:2]) if base is None else base
        at = np.zeros(design.shape[2]) if at is None else at
        return cls(design.shape[2], lambda z: base + design @ (z - at), lambda z: design)


def _mechanistic(pieces: Sequence[RingSectors], coefficients: Coefficients) -> _Family:
    names = coefficients.names

    def latents(z: FloatArray) -> FloatArray:
        model = coefficients.model(z)
        found = np.concatenate([p.risks(model) for p in pieces], axis=1)
        return np.asarray(np.where(np.isfinite(found), latent(np.nan_to_num(found)), 0.0))

    def many(z: FloatArray) -> FloatArray:
        # side by side: the strikes are looked at once
        found = np.concatenate([p.risk_sets(coefficients.models(z)) for p in pieces], axis=1)
        return np.asarray(np.where(np.isfinite(found), latent(np.nan_to_num(found)), 0.0))

    def slopes(z: FloatArray) -> FloatArray:
        steps = _STEP * np.eye(len(names))
        all_ = many(np.concatenate([z + steps, z - steps]))
        return np.asarray((all_[..., : len(names)] - all_[..., len(names) :]) / (2 * _STEP))

    return _Family(len(names), latents, slopes, many)


def _harmonic(cells: _Cells) -> _Family:
    """The free curve: even harmonics of direction, lip kind, dive, feed and speed, each with a prior; see trade."""
    b, x, k = np.radians(cells.heading), cells.feed, cells.kind
    terms = [
        (2.0, np.ones(len(b))),
        *((1.0, f(m * b)) for m in (2, 4) for f in (np.cos, np.sin)),
        (0.5, k),
        *((0.5, k * f(b)) for f in (np.cos, np.sin)),
        (1.0, x),
        (0.5, x**2),
        (0.5, x * np.sin(2 * b)),
        (1.0, cells.speed),
    ]
    one = np.stack([s * t for s, t in terms], axis=-1)
    return _Family.linear(_twice(one))


def _same(cells: _Cells) -> _Family:
    return _Family.linear(_twice(np.full((len(cells.heading), 1), 2.0)))


def _twice(one: FloatArray) -> FloatArray:
    """Design (3, cells, 2 m) that gives fuzz and tear each its own coefficients of (cells, m), and scorch none."""
    n, m = one.shape
    both = np.zeros((3, n, 2 * m))
    both[0, :, :m] = both[1, :, m:] = one
    return both


class _Cells(NamedTuple):
    """Of every cell of all pieces: number of its ring over all, heading to the grain, and the curves' variables."""

    ring: np.ndarray
    lip: np.ndarray
    azimuth: FloatArray  # of the sector's middle [rad]
    heading: FloatArray  # [deg]
    kind: FloatArray  # +1 entry, -1 exit
    feed: FloatArray  # log of feed per tooth, about its mean
    speed: FloatArray  # log of spindle speed, about its mean
    setting: np.ndarray
    board: np.ndarray
    species: np.ndarray
    settings: tuple[RingSetting, ...]
    at_speed: np.ndarray  # number of its spindle speed among those that were cut


def _cells(pieces: Sequence[RingSectors]) -> _Cells:
    rings = [(c, r) for p in pieces for c in [p.coupon] for r in c.graded()]
    settings = tuple(sorted({r.setting for _, r in rings}))
    woods = _woods(rings)
    boards = [_wood_key(w) for w in woods]
    kinds = sorted({w.name for w in woods})
    first = np.cumsum([0, *(len(p.coupon.graded()) for p in pieces)])
    ring = np.concatenate([p.ring + a for p, a in zip(pieces, first, strict=False)])
    lip = np.concatenate([p.lip for p in pieces])
    # the outer lip is on the right of a counter-clockwise ring; the entry lip on the left for a clockwise spindle
    inner_left = np.array([isinstance(r, Ring) and r.sense == "ccw" for _, r in rings])[ring]
    left = inner_left == (lip == 1)
    entry = left == np.array([r.cut.spin == "cw" for _, r in rings])[ring]
    feed, speed = (np.log(np.array(v))[ring] for v in _per_ring(rings))
    return _Cells(
        ring,
        lip,
        np.concatenate([p.azimuth for p in pieces]),
        np.concatenate([p.heading for p in pieces]),
        np.where(entry, 1.0, -1.0),
        feed - feed.mean(),
        speed - speed.mean(),
        np.array([settings.index(r.setting) for _, r in rings])[ring],
        np.array([boards.index(_wood_key(c.board.wood)) for c, _ in rings])[ring],
        np.array([kinds.index(c.board.wood.name) for c, _ in rings])[ring],
        settings,
        np.unique(np.array(_per_ring(rings)[1]), return_inverse=True)[1].reshape(-1)[ring],
    )


def _woods(rings: Sequence[tuple[Coupon, Any]]) -> list[Wood]:
    """Woods of the boards, each once; two pieces of the same wood, moisture and density are of one board."""
    woods = {_wood_key(c.board.wood): c.board.wood for c, _ in rings}
    return [woods[key] for key in sorted(woods)]


def _wood_key(wood: Wood) -> tuple[str, float, float]:
    return wood.name, float(wood.moisture), float(wood.density)


def _per_ring(rings: Sequence[tuple[Coupon, Any]]) -> tuple[list[float], list[float]]:
    return [r.cut.feed_per_tooth for _, r in rings], [r.cut.spindle_speed for _, r in rings]


def _effects(cells: _Cells, spread: float = BOARD) -> FloatArray:
    """Design (cells, u) of the effects of ring and wood, for one response, columns scaled to unit priors.

    Boards, of this spread, lie within species and species within woods; of a single one the effect is in the
    coefficients.
    """
    columns = []
    columns += [_SPEED * (cells.at_speed == i) for i in range(_speeds(cells))]
    columns += [SPECIES * (cells.species == i) for i in range(_several(cells.species))]
    columns += [spread * (cells.board == i) for i in range(_several(cells.board))]
    around = np.isfinite(cells.azimuth)
    azimuth = np.where(around, cells.azimuth, 0.0)
    # a stroke has no directions: all its wood is in the mean
    level = np.where(around, LOCAL[0], float(np.sqrt(sum(v * v for v in LOCAL))))
    for i in range(cells.ring.max(initial=-1) + 1):
        here = cells.ring == i
        columns.append(RING * here)
        for lip in (0, 1):
            own = here & (cells.lip == lip)
            columns.append(level * own)
            if not around[own].any():
                continue
            for m, size in enumerate(LOCAL[1:], 1):
                columns += [size * own * np.cos(m * azimuth), size * own * np.sin(m * azimuth)]
    return np.stack([np.asarray(c, dtype=float) for c in columns], axis=-1)


def _several(numbers: np.ndarray) -> int:
    """How many columns of the effects are those of what these numbers count: none if there is only one of it."""
    count = int(numbers.max(initial=0)) + 1
    return count if count > 1 else 0


def _speeds(cells: _Cells) -> int:
    """How many columns of the effects are those of speeds, the first ones: a single speed has none."""
    return _several(cells.at_speed)


@dataclass(frozen=True)
class _Problem:
    """Parameters: the family's coordinates, cut points of fuzz and tear (4 + 4), noise (1), effects on either."""

    family: _Family
    data: _Data
    effects: FloatArray
    noise: float | None = None  # its coordinate, if it is held: the parameter then does nothing

    @property
    def size(self) -> int:
        return int(self.family.size + 9 + 2 * self.effects.shape[1])

    def _at(self, p: FloatArray) -> tuple[FloatArray, list[FloatArray], list[FloatArray], float]:
        m, u = self.family.size, self.effects.shape[1]
        eta = self.family.latents(p[:m]).copy()
        for k in range(2):
            eta[k] += self.effects @ p[m + 9 + k * u : m + 9 + (k + 1) * u]
        found = [grader_cuts(p[m + 4 * k : m + 4 * k + 4]) for k in range(2)]
        noise = noise_at(p[m + 8] if self.noise is None else self.noise)
        return eta, [f[0] for f in found], [f[1] for f in found], noise

    def _bounds(self, p: FloatArray) -> tuple[FloatArray, FloatArray, list[FloatArray], FloatArray]:
        eta, cuts, slopes, reading = self._at(p)
        d = self.data
        # cut points with the two ends at infinity, one row a response
        flag = [-np.inf, 0.0, np.inf, np.inf, np.inf, np.inf]
        ends = np.array([*([-np.inf, *c, np.inf] for c in cuts), flag])
        here = eta[d.response, d.cell] + d.drift
        noise = np.where(d.response == _SCORCH[0], _SCORCH[1], reading)
        return (ends[d.response, d.high + 1] - here) / noise, (ends[d.response, d.low] - here) / noise, slopes, noise

    def value(self, p: FloatArray) -> float:
        upper, lower, _, _ = self._bounds(p)
        return float(self.data.weight @ interval_terms(upper, lower).loss + p @ p / 2)

    def terms(self, p: FloatArray) -> tuple[float, FloatArray, FloatArray]:
        d, m, u = self.data, self.family.size, self.effects.shape[1]
        upper, lower, cut_slopes, noise = self._bounds(p)
        t = interval_terms(upper, lower)
        latent_slope = np.zeros((len(d.cell), self.size))
        latent_slope[:, :m] = self.family.slopes(p[:m])[d.response, d.cell]
        for k in range(2):
            mine = d.response == k
            latent_slope[mine, m + 9 + k * u : m + 9 + (k + 1) * u] = self.effects[d.cell[mine]]
        w, noise_at_ = d.weight[:, None], m + 8
        gradient, bend = p.copy(), np.eye(self.size)
        sides = []
        for bound, index, first in ((upper, d.high, t.upper), (lower, d.low - 1, t.lower)):
            finite = np.isfinite(bound)
            slope = np.where(finite[:, None], -latent_slope / noise[:, None], 0.0)
            pull = np.where(finite, d.weight * first, 0.0)
            for k in range(2):
                mine = (d.response == k) & finite
                here = slice(m + 4 * k, m + 4 * k + 4)
                slope[mine, here] += cut_slopes[k][index[mine]] / noise[mine, None]
                # the steps between cut points are exponentials of their coordinates
                steps = CUT_BEND * ((pull[mine] / noise[mine]) @ cut_slopes[k][index[mine]])
                bend[np.arange(here.start + 1, here.stop), np.arange(here.start + 1, here.stop)] += steps[1:]
            if self.noise is None:
                # every bound of a grade is divided by the noise, an exponential as well
                read = finite & (d.response != _SCORCH[0])
                cross = -NOISE_SLOPE * (pull[read] @ slope[read])
                bend[noise_at_] += cross
                bend[:, noise_at_] += cross
                bend[noise_at_, noise_at_] += NOISE_SLOPE**2 * float(pull[read] @ bound[read])
                slope[read, noise_at_] -= NOISE_SLOPE * bound[read]
            gradient += slope.T @ pull
            sides.append(slope)
        a, b = sides
        cross = a.T @ (w * t.upper_lower[:, None] * b)
        curvature = a.T @ (w * t.upper_upper[:, None] * a) + b.T @ (w * t.lower_lower[:, None] * b) + cross + cross.T
        # exact but for the bend of the family's own latents
        return float(d.weight @ t.loss + p @ p / 2), gradient, curvature + bend

    def held(self, noise: float) -> _Problem:
        """The same with the noise held at a coordinate."""
        return replace(self, noise=noise)

    def solve(self, start: FloatArray | None = None) -> Mode:
        """The mode; for a family that is straight. What is held stays as it is."""
        return mode_of(self.terms, self.value, np.zeros(self.size) if start is None else start)

    def noise_mode(self, start: FloatArray) -> float:
        """Most probable noise once all else is integrated out; for a family that is straight.

        Jointly with the effects of the wood the noise would be driven to nothing: every grade can be explained by wood.
        """
        return least(lambda h: self._marginal(h, start)[0], *_NOISE_RANGE)

    def _marginal(self, noise: float, start: FloatArray) -> tuple[float, Mode]:
        """Minus the log posterior of a noise coordinate by Laplace, and the mode of all else there."""
        mode = self.held(noise).solve(start)
        return mode.loss + noise**2 / 2 + float(np.linalg.slogdet(mode.curvature)[1]) / 2, mode

    def solve_whole(self, start: FloatArray | None = None) -> Mode:
        """The mode with the noise's uncertainty and its pull on all else; for a family that is straight."""
        begin = np.zeros(self.size) if start is None else start
        noise = self.noise_mode(begin)
        k = self.family.size + 8
        (below, low), (here, mode), (above, high) = (
            self._marginal(noise + step, begin) for step in (-_NOISE_STEP, 0.0, _NOISE_STEP)
        )
        variance = min(_NOISE_STEP**2 / max(above + below - 2 * here, 1e-9), 1.0)
        pull = (high.parameters - low.parameters) / (2 * _NOISE_STEP)
        pull[k] = 1.0
        rest = np.linalg.inv(mode.curvature)
        rest[k, k] = 0.0
        p = mode.parameters.copy()
        p[k] = noise
        return Mode(p, np.asarray(np.linalg.inv(rest + variance * np.outer(pull, pull)), dtype=float), mode.loss)

    def solve_bent(self, told: Callable[[int], object]) -> tuple[Mode, _Problem, float]:
        """The mode, the problem straight about it, and what it still gained at last: Gauss and Newton.

        `told` is called with the number of rounds that are done, or need not be.

        Each round is solved to its end. The noise, chosen anew in the first rounds, is held in later ones, so that
        every round must gain.
        """
        p, k = np.zeros(self.size), self.family.size + 8
        gain = 0.0
        for i in range(_ROUNDS):
            straight = self.linearised(p)
            before = p[k]
            if i < _FREE:
                p[k] = straight.noise_mode(p)
            aim, gain = straight.held(p[k]).solve(p).parameters, 0.0
            aim[k] = p[k]
            best = self.value(p)
            for share in (1.0, 0.5, 0.25, 0.1, 0.03):
                tried = p + share * (aim - p)
                loss = self.value(tried)
                if loss < best:
                    p, gain = tried, best - loss
                    break
            told(1)
            if gain < _SETTLED and abs(p[k] - before) < 0.02:
                told(_ROUNDS - 1 - i)
                break
        straight = self.linearised(p)
        return straight.solve_whole(p), straight, gain

    def linearised(self, p: FloatArray) -> _Problem:
        """The same with latents straight about some parameters, so that a solution costs no model."""
        z = p[: self.family.size]
        family = _Family.linear(self.family.slopes(z), self.family.latents(z), z)
        return replace(self, family=family)

    def chances(self, mode: Mode, data: _Data) -> FloatArray:
        """Chances (n, 5) of all grades for some places, from what a mode knows and does not."""
        m, u = self.family.size, self.effects.shape[1]
        eta, cuts, _, noise = self._at(mode.parameters)
        design = np.zeros((len(data.cell), self.size))
        design[:, :m] = self.family.slopes(mode.parameters[:m])[data.response, data.cell]
        for k in range(2):
            mine = data.response == k
            design[mine, m + 9 + k * u : m + 9 + (k + 1) * u] = self.effects[data.cell[mine]]
        variance = np.sum(design * np.linalg.solve(mode.curvature, design.T).T, axis=1)
        out = np.empty((len(data.cell), 5))
        for k in range(2):
            mine = data.response == k
            out[mine] = probabilities(
                eta[k][data.cell[mine]], cuts[k], spread_scale(noise, variance[mine]) if mine.any() else 1.0
            )
        return out


class CrossValidation(NamedTuple):
    """How well rings are predicted that were left out: mean log chance of what was read, per grade.

    `grades` counts fuzz and tear apart, where a grade says both. `harmonic` is that of the free curve, even harmonics
    of direction. `behind` is by how many nats, units of log chance, the model loses to the free curve over all grades
    (below 0: wins), `error` its standard error over the rings; `held` the share of grades inside the model's own 80 %
    bands.
    """

    grades: int
    rings: int
    model: float
    harmonic: float
    same: float
    behind: float
    error: float
    held: float

    @property
    def wrong(self) -> bool:
        """Whether the free curve is so much better that the model does not describe this wood."""
        return self.behind > _BETTER and self.behind > _BETTER * self.error

    @property
    def useful(self) -> bool:
        """Whether the model predicts unseen rings better than 'same everywhere'."""
        return self.model > self.same

    def __str__(self) -> str:
        lines = [
            f"rings left out in turn, {self.grades} readings of fuzz or tear, mean log chance of what was read (nearer "
            f"to 0 is better): model {self.model:.3f}, free curve {self.harmonic:.3f}, same everywhere {self.same:.3f}"
        ]
        if self.wrong:
            lines.append(
                f"THE MODEL DOES NOT DESCRIBE THIS WOOD: a free curve of directions predicts your own left-out rings "
                f"better by {self.behind:.1f} +- {self.error:.1f} nats; believe the grades, not the map"
            )
        elif not self.useful:
            lines.append("nothing here predicts better than taking all places as the same")
        elif self.behind > 0:
            lines.append(f"a free curve does as well or better, by {self.behind:.1f} +- {self.error:.1f} nats")
        else:
            lines.append(f"the model beats the free curve by {-self.behind:.1f} +- {self.error:.1f} nats")
        lines.append(f"your 80 % bands held {self.held:.0%} of {self.grades} readings")
        return "\n".join(lines)


class SpeedLaw(NamedTuple):
    """What the grades say of the step from the lowest to the highest spindle speed that was cut. [rpm, latent]

    `kept` is the share of the starting guess's spread that is left of that step; `beyond` by how much the wood left the
    law of speed, upwards worse, and `error` the spread of that. `against` says how much likelier the grades are without
    the law than with it, by the ratio of their evidence, as a natural logarithm: in the mean over a dial that was never
    turned from the lowest or from the highest mark, a speed that does nothing but thin the chip, and an effect of each
    speed that follows no law. `likeliest` is the one of these that foretells the grades best. [nat]

    If the law holds, the ratio is above ten on no more than one piece in ten, whatever the piece: its mean is one.
    """

    low: float
    high: float
    kept: float
    beyond: float
    error: float
    against: float = 0.0
    likeliest: str = ""

    @property
    def learned(self) -> bool:
        """Whether the grades, and not the starting guess, say what the step does."""
        return self.kept < _LEARNED

    @property
    def broken(self) -> bool:
        """Whether the grades are ten times as likely, or more, without the law."""
        return bool(self.against > np.log(_ODDS))

    @property
    def upheld(self) -> bool:
        """Whether they are ten times as likely with it."""
        return bool(self.against < -np.log(_ODDS))

    def __str__(self) -> str:
        marks = f"{self.low:.0f} to {self.high:.0f} rpm"
        if self.broken:
            return (
                f"What speed does from {marks} is not what the law of speed says: the grades are "
                f"{_times(self.against)} times as likely without it. Likeliest, {_INSTEAD[self.likeliest]}. A map "
                f"follows the law and cannot be trusted at any other speed than those that were cut."
            )
        if not self.learned:
            return (
                f"What speed does from {marks} is the starting guess speaking: the grades do not tell, nor whether the "
                f"dial was turned at all."
            )
        said = f"What speed does from {marks} was learned at these marks; between them it is reckoned, not measured."
        if self.upheld:
            return f"{said} The grades are {_times(-self.against)} times as likely with the law as without it."
        return f"{said} Whether the dial was turned, the grades do not tell."


_INSTEAD = {
    "lowest": "the dial stood at its lowest mark all the time",
    "highest": "the dial stood at its highest mark all the time",
    "chip": "speed does nothing here but make the chip thinner",
    "free": "the dial's readings are wrong, or this wood follows a law of its own",
}
"""What may be so where the law of speed does not hold, by its name in `SpeedLaw.likeliest`."""


def _times(nats: float) -> str:
    return f"{np.exp(min(nats, np.log(1000))):.0f}{' or more' if nats > np.log(1000) else ''}"


class Levels(NamedTuple):
    """What the grades of several boards say of how far each species and each board lies off the rest.

    Attributes
    ----------
    spread : between boards of one species, learned once three were read. [latent]
    mean : (2 k,) of fuzz, then of tear: each species by name, then each board, in units of `SPECIES` and `spread`.
    pull : (2 k, m) by how much each follows the fit's parameters.
    rest : (2 k, 2 k) covariance that is left when these are known.
    """

    spread: float
    mean: FloatArray
    pull: FloatArray
    rest: FloatArray


class Outlook(NamedTuple):
    """Share of lip expected poor (grade 3 or worse) in one direction: low, median, high of 8 in 10.

    The odds are those that the direction is the worst of its table.
    """

    low: float
    median: float
    high: float
    odds: float


class SettingOutlook(NamedTuple):
    """What one speed and feed does and takes on another metre of groove that goes in all directions.

    Share of lip expected poor (grade 3 or worse): low, median, high of 8 in 10; the odds that the setting has the least
    poor lip of its table, and that it takes the fewest minutes; minutes of machine for that metre, minutes in all
    expected of machine and hand, and the low and high of 8 in 10 of these. [min]
    """

    low: float
    median: float
    high: float
    cleanest: float
    odds: float
    machine: float
    minutes: float
    least: float
    most: float


class CoefficientRow(NamedTuple):
    """One coefficient of a `FittedModel`, in its unit: low, median and high of 8 in 10 before and now.

    `spread_left` is the share of the prior's spread that the grades have left.
    """

    name: str
    unit: str
    before: tuple[float, float, float]
    now: tuple[float, float, float]
    spread_left: float


@dataclass(frozen=True, eq=False)
class FittedModel(Result):
    """A `RiskModel` that test pieces have taught, and how well; made by `fit`. Print it for the verdict.

    Give it to `risk_map` as its model; with `draws` the map's band then comes from what was learned. It iterates over
    its coefficients, as `CoefficientRow`, and so does its table.

    The normal approximation against a chain on the exact posterior (one invented board, four rings, 20 000 steps,
    `benchmarks/learning.py`): of every coordinate Laplace's 80 % range held 77 to 90 % of the chain. Means parted by at
    most half a spread (heat share), spreads were 0.74 (drag) to 1.17 (friction) of Laplace's. The mean fuzz of two
    rings that were left out came to 0.130 +- 0.019 against 0.136 +- 0.016, their mean tear to 0.038 +- 0.016 against
    0.042 +- 0.018. On a small piece, of one setting, the means of what is hardly known part by up to 0.4 of a spread,
    and its mean fuzz by half of one. Where Laplace is poor: the product of heat share, contact, land and friction,
    which scorch tells, lies on a bent ridge and is known three to four times less well than the covariance says across
    it; none of the four alone is.

    Attributes
    ----------
    prior : the model one started from.
    parameters : (m,) most probable standard normal coordinates: of every coefficient but the bundle, then 9 of the
        grader.
    covariance : (m, m) of them about that, by Laplace; the identity where nothing was learned.
    grades : everything that was read, by piece.
    learned_range : of what the pieces were, or None without grades.
    agreement : of first and second readings.
    comparison : with the free curve and with 'same everywhere'; None if fewer than two rings were read.
    outlooks : `SettingOutlook` of each (spindle speed, feed): poor lip, and the minutes by which `best` ranks them.
    directions : outlook of each heading against the grain, in [0, 180), its odds to be the worst. [deg]
    notes : what else to know.
    discrepancy : by how much left-out rings lay off what was foretold of them, beyond what the model reckons with; all
        bands are widened by it. [latent]
    speed_law : what the grades say of the step between spindle speeds, or None if one speed was read.
    pieces : the test pieces, in the order of their grades, so that the next one can be added from files alone.
    handwork : what damage costs by hand in the outlooks.
    levels : how far species and boards lie off one another, or None if one board was read.
    sample : (n, m) equally likely parameters, or None where they are those of `parameters` and `covariance`: the
        latter know nothing of a burn that did not come.
    """

    prior: RiskModel
    parameters: FloatArray
    covariance: FloatArray
    grades: tuple[Grades, ...]
    learned_range: LearnedRange | None
    agreement: Agreement
    comparison: CrossValidation | None
    outlooks: Mapping[RingSetting, SettingOutlook]
    directions: Mapping[float, Outlook]
    notes: tuple[str, ...]
    discrepancy: float = 0.0
    speed_law: SpeedLaw | None = None
    pieces: tuple[Coupon, ...] = ()
    handwork: HandWork = _ASSUMED_MINUTES
    levels: Levels | None = None
    sample: FloatArray | None = None

    def __post_init__(self) -> None:
        frozen(self.parameters)
        frozen(self.covariance)
        if self.sample is not None:
            frozen(self.sample)

    @cached_property
    def coefficients(self) -> Coefficients:
        """The coordinates' meaning."""
        return Coefficients(self.prior)

    @cached_property
    def model(self) -> RiskModel:
        """The most probable model."""
        return self.coefficients.model(self.parameters[: len(self.coefficients.names)])

    @property
    def grader(self) -> Grader:
        """The most probable grader."""
        return Grader.at(self.parameters[len(self.coefficients.names) :])

    @property
    def bundle(self) -> float:
        """Layer whose strikes the model looks at. [mm]"""
        return self.prior.bundle

    def layer(self, cut: Cut) -> float:
        """Thickness of that layer along the face; see `RiskModel.layer`. [mm]"""
        return self.prior.layer(cut)

    def lip_risks(self, strikes: LipStrikes, fibres: FloatArray, cut: Cut, wood: Wood) -> dict[str, FloatArray]:
        """Risks of the most probable model; fuzz and tear are on the grader's scale, as are the map's classes then.

        See `RiskModel.lip_risks`, `Grader.on_own_scale`.
        """
        found = self.model.lip_risks(strikes, fibres, cut, wood)
        return self._read(found, wood)

    def turned_risks(
        self, strikes: LipStrikes, fibres: FloatArray, cut: Cut, wood: Wood, turns: FloatArray | None = None
    ) -> dict[str, FloatArray]:
        """Risks of the same strikes in many lies of the fibres; see `RiskModel.turned_risks`."""
        return self._read(self.model.turned_risks(strikes, fibres, cut, wood, turns), wood)

    def _read(self, found: dict[str, FloatArray], wood: Wood) -> dict[str, FloatArray]:
        level = np.zeros(2)
        if self.levels is not None:
            weights, _ = self._kin(wood)
            level = np.array([weights @ part for part in np.split(self.levels.mean, 2)])
        reader = self.grader
        return found | {
            name: reader.on_own_scale(name, found[name], float(level[k]))
            for k, name in enumerate(RESPONSES)
            if name in found
        }

    def level_spread(self, board: Board) -> float:
        """Spread of what is not known of the level of a board's grades, beside job and ring. [latent]"""
        return self._kin(board.wood)[1] if self.learned_range is not None else BOARD

    def _kin(self, wood: Wood) -> tuple[FloatArray, float]:
        """How much of each level (species by name, then boards) a wood has, and the spread of what it has not."""
        assert self.learned_range is not None
        kin, boards = self.learned_range.kinship(wood), self.learned_range.woods
        spread = BOARD if self.levels is None else self.levels.spread
        species = sorted({name for name, *_ in boards})
        mine = kin == kin.min()
        new = spread if kin.min() > 0 else 0.0
        if kin.min() == 2:
            new = float(np.hypot(new, SPECIES))
        if self.levels is None:
            return np.zeros(0), new
        weights = [SPECIES * (kin.min() < 2 and name == wood.name) for name in species] if len(species) > 1 else []
        weights += [spread * float(own) / max(mine.sum(), 1) * (kin.min() == 0) for own in mine]
        return np.array(weights, dtype=float), new

    @property
    def count(self) -> int:
        """Number of grades that were used."""
        return sum(len(g.used()) for g in self.grades)

    @property
    def learned(self) -> str:
        """A line that says from what was learned; '' while prior only."""
        if not self.count:
            return ""
        pieces = ", ".join(g.piece for g in self.grades if g.used())
        said = [f"Learned from {self.count} grades of {pieces}."]
        left, every = len(self.unlearned()), len(self.coefficients.names)
        if left:
            said.append(f"{left} of the {every} coefficients are still starting guesses.")
        if self.comparison is not None and self.comparison.wrong:
            said.append("The model does not describe this wood well: see the fit's report.")
        elif self.comparison is not None and not self.comparison.useful:
            said.append("It foretells rings it has not seen no better than taking all places as the same.")
        if self.speed_law is None:
            said.append("One spindle speed was graded: what other speeds do is still a starting guess.")
        else:
            said.append(str(self.speed_law))
        return " ".join(said)

    def draw(self, count: int, seed: int = 0) -> tuple[RiskModel, ...]:
        """Models, equally likely given the grades; the same seed gives the same.

        Parameters
        ----------
        count
            1 to 100 000.
        seed
            Whole number, >= 0.
        """
        return self.draws(count, seed).models

    def draws(self, count: int, seed: int = 0, board: Board | None = None) -> Draws:
        """Models, graders and shifts for a job, on a board that was read or on another one.

        Boards lie within species, species within woods. Of another board of a species that was read `KIN[0]` of what a
        single board taught is known, of another species `KIN[1]`; more where more of them were read. The rest of each
        coefficient's variance is as it was before any grade, and what levels of boards and species are not known are
        drawn. Without a board those that were read are meant.
        """
        n = integer("count", count, low=1, high=100_000)
        if board is not None:
            instance("board", board, Board, "a Board or None")
        if not self.count:
            # no wood has spoken: what is known is what is known of the model that one started from
            return literature_draws(self.prior, n, checked_seed(seed))
        rng = np.random.default_rng(checked_seed(seed))
        drawn = self._drawn(n, rng)
        shifts = np.hypot(RING, self.discrepancy) * rng.standard_normal(n)
        if board is None or self.learned_range is None:
            return draws_at(self.coefficients, drawn, shifts)
        # what is known of the boards that were read says so much of this one, and no more
        m = len(self.coefficients.names)
        share = np.array([1.0, *KIN])
        mine, theirs = share[self.learned_range.kinship(board.wood)].mean(), share[self.learned_range.between()].mean()
        carried = mine / theirs
        own = np.sqrt(max(0.0, 1.0 - carried**2 * theirs)) * rng.standard_normal((n, m))
        weights, new = self._kin(board.wood)
        shifts = shifts + new * rng.standard_normal(n)
        made = draws_at(self.coefficients, np.hstack([carried * drawn[:, :m] + own, drawn[:, m:]]), shifts)
        if self.levels is None or not weights.any():
            return made
        at = self.levels.mean + (drawn - self.parameters) @ self.levels.pull.T
        at = at + rng.standard_normal(at.shape) @ np.linalg.cholesky(self.levels.rest).T
        level = [part @ weights for part in np.split(at, 2, axis=1)]
        graders = tuple(g.shifted(float(f), float(t)) for g, f, t in zip(made.graders, *level, strict=True))
        return made._replace(graders=graders)

    def _drawn(self, count: int, rng: np.random.Generator) -> FloatArray:
        """Parameters (count, m) that are equally likely given the grades."""
        spread = np.linalg.cholesky(self.covariance)
        normal = rng.standard_normal((count, len(self.parameters))) @ spread.T
        if self.sample is None:
            return self.parameters + normal
        # each of the sample before any comes twice, and none twice the same: drawn towards the mean by as much as they
        # are spread (Liu & West 2001, from memory)
        size = len(self.sample)
        order = np.concatenate([rng.permutation(size) for _ in range(-(-count // size))])[:count]
        middle = self.sample.mean(axis=0)
        return np.asarray(middle + _CLOSE * (self.sample[order] - middle) + np.sqrt(1 - _CLOSE**2) * normal)

    def posterior(self, draws: int = 1000, *, chains: int = 4, seed: int = 0) -> dict[str, FloatArray]:
        """Draws of all that was learned, by name, in the form that libraries for diagnostics read.

        Parameters
        ----------
        draws
            Of each chain, 1 to 100 000.
        chains
            Parts of the draws, 1 to 100. The draws are independent of each other: chains are all alike.
        seed
            Whole number, >= 0.

        Returns
        -------
        dict
            Coefficients (chains, draws), each in its own unit, as `RiskModel` names them; the grader's cut points,
            'fuzz_cuts' and 'tear_cuts' (chains, draws, 4), and 'noise' (chains, draws), all [latent].

        Raises
        ------
        DomainError
            If a number is out of range.
        """
        n = integer("draws", draws, low=1, high=100_000)
        m = integer("chains", chains, low=1, high=100)
        drawn = self.draws(n * m, seed)

        def told(values: Sequence[object]) -> FloatArray:
            flat = np.asarray(values, dtype=float)
            return np.ascontiguousarray(flat.reshape(m, n, *flat.shape[1:]))

        out = {name: told([getattr(model, name) for model in drawn.models]) for name in drawn.names}
        for name in ("fuzz", "tear"):
            out[f"{name}_cuts"] = told([getattr(grader, name) for grader in drawn.graders])
        return out | {"noise": told([grader.noise for grader in drawn.graders])}

    def ranges(self) -> dict[str, tuple[tuple[float, float, float], tuple[float, float, float]]]:
        """Low, median and high of 8 in 10 of every coefficient, before and after."""
        out = {}
        deviation = np.sqrt(np.diag(self.covariance))
        for i, name in enumerate(self.coefficients.names):
            before, after = (
                tuple(float(self.coefficients.value(name, mid + k * _MID * size)) for k in (-1, 0, 1))
                for mid, size in ((0.0, 1.0), (self.parameters[i], deviation[i]))
            )
            out[name] = (before, after)
        return out  # type: ignore[return-value]  # triples by construction

    def unlearned(self) -> tuple[str, ...]:
        """Coefficients of which the grades say little: four fifths of the prior's spread or more are left."""
        left = np.sqrt(np.diag(self.covariance))
        return tuple(n for n, s in zip(self.coefficients.names, left, strict=False) if s >= _LEARNED)

    def tangled(self) -> tuple[tuple[str, str, float], ...]:
        """Pairs of coefficients known only together, with their correlation."""
        names = self.coefficients.names
        size = np.sqrt(np.diag(self.covariance))
        r = self.covariance / np.outer(size, size)
        pairs = [(names[i], names[j], float(r[i, j])) for i in range(len(names)) for j in range(i)]
        return tuple(sorted((p for p in pairs if abs(p[2]) >= _TOGETHER), key=lambda p: -abs(p[2])))

    def best(self) -> RingSetting | None:
        """RingSetting that is expected to take the fewest minutes of machine and hand, or None without grades."""
        return min(self.outlooks, key=lambda s: (self.outlooks[s].minutes, s)) if self.outlooks else None

    def as_good(self) -> tuple[RingSetting, ...]:
        """Settings expected to take no more than the best one by more than 3 %, the best first; () without grades."""
        by = sorted(self.outlooks, key=lambda s: (self.outlooks[s].minutes, s))
        most = (1 + TOLERANCE) * self.outlooks[by[0]].minutes if by else 0.0
        return tuple(s for s in by if self.outlooks[s].minutes <= most)

    def worst_direction(self) -> float | None:
        """Heading against the grain, in [0, 180), with the most lip expected poor, or None without grades. [deg]"""
        return max(self.directions, key=lambda d: (self.directions[d].median, -d)) if self.directions else None

    def __len__(self) -> int:
        return len(self.coefficients.names)

    def __iter__(self) -> Iterator[CoefficientRow]:
        left = np.sqrt(np.diag(self.covariance)).tolist()
        units = self.prior.__dataclass_fields__
        for (name, (before, now)), share in zip(self.ranges().items(), left, strict=False):
            yield CoefficientRow(name, units[name].metadata["unit"], before, now, share)

    def _columns(self) -> Columns:
        rows = [*self]
        columns: dict[str, list[Any]] = {"coefficient": [r.name for r in rows], "unit": [r.unit for r in rows]}
        for when in ("before", "now"):
            for k, end in enumerate(("low", "median", "high")):
                columns[f"{when} {end} [as unit]"] = [getattr(r, when)[k] for r in rows]
        return columns | {"spread_left [-]": [r.spread_left for r in rows]}

    def __repr__(self) -> str:
        return f"<FittedModel from {self.count} grades>"

    @property
    def verdict(self) -> str:
        """Whether anything was learned, whether to use it, and what it rests on: the answer of the report."""
        if not self.count:
            return "Nothing was learned, for no grades were given: these are the starting guesses."
        told = self.comparison
        if told is None:
            said = "Whether this fit foretells anything cannot be told: that takes two graded rings or more."
        elif told.wrong:
            said = (
                "Do not use this fit for a map: a free curve that knows nothing of cutting foretells your own rings "
                "better, so believe the grades."
            )
        elif not told.useful:
            said = (
                "This fit is no better than the starting guess: of rings it had not seen it foretold the grades no "
                "better than taking all places as the same would."
            )
        else:
            said = (
                "This fit is worth using: of rings it had not seen it foretold the grades better than taking all "
                "places as the same would."
            )
        known = [name for name in self.coefficients.names if name not in self.unlearned()]
        if known:
            said += f" Clearly better known than before: {', '.join(plain(name) for name in known)}."
        else:
            said += (
                " It knows how much lip suffers on this board, and hardly better than before why: no single "
                "coefficient stands out."
            )
        return f"{said} {self.learned}"

    def __str__(self) -> str:
        lines = [*folded(self.verdict)]
        if self.outlooks:
            lines += ["", *self._outlook_lines()]
        lines += [line for note in self.notes for line in folded(f"Note: {note[:1].upper()}{note[1:]}.")]
        return "\n".join([*lines, *folded("Every coefficient, and how the fit was put to the test: details().")])

    def _outlook_lines(self) -> list[str]:
        """What each setting that was cut takes, and in which direction most of the lip is expected poor."""
        table = [("speed [rpm]", "feed", "lip to mend, 8 in 10", "machine", "in all, 8 in 10", "odds of the fewest")]
        for s, o in self.outlooks.items():
            minutes = f"{o.minutes:.1f} ({o.least:.1f} to {o.most:.1f})"
            row = (f"{s.spindle_speed:.0f}", feed_text(s.feed), _share(o), f"{o.machine:.2f}", minutes)
            table.append((*row, f"{o.odds:.0%}"))
        worst = self.worst_direction()
        assert worst is not None
        d = self.directions[worst]
        return [
            *folded(
                "Lip to mend needs heavy sanding or re-cutting. Minutes are those for a metre of groove in all "
                "directions, of the machine, and of machine and hand in all:"
            ),
            *table_text(table).splitlines(),
            *folded(f"{self._ranked()}. {self.handwork.words}"),
            *folded(
                f"Worst is a cut at {worst:.0f} degrees to the grain, with {_share(d)} of its lip to mend; the odds "
                f"that no other direction is worse are {d.odds:.0%}."
            ),
        ]

    def details(self) -> str:
        """Every coefficient before and after, what is known only together, and how the fit was put to the test.

        The table has the middle of eight in ten and their ends. *Spread left* is the share of the starting guess's
        spread that the grades have left: 100 % is nothing learned. A latent is a place on the scale on which the
        grader's cut points part the grades.
        """
        rows = [("coefficient", "unit", "before: 8 in 10", "now: 8 in 10", "spread left")]
        left = np.sqrt(np.diag(self.covariance))
        for i, (name, (before, after)) in enumerate(self.ranges().items()):
            unit = self.prior.__dataclass_fields__[name].metadata["unit"]
            a, b = (f"{x[1]:.3g} ({x[0]:.3g} to {x[2]:.3g})" for x in (before, after))
            mark = ", starting guess" if left[i] >= _LEARNED else ""
            rows.append((plain(name), unit, a, b, f"{left[i]:.0%}{mark}"))
        m = len(self.coefficients.names)
        lines = [
            *table_text(rows).splitlines(),
            *folded(
                f"grader: grades of fuzz from latents {_four(self.grader.fuzz)}, of tear from "
                f"{_four(self.grader.tear)}, noise {self.grader.noise:.2f} ({left[m + 8]:.0%} of its spread left)"
            ),
            "",
            *folded(f"Not learned: {', '.join(plain(n) for n in self.unlearned()) or 'nothing'}."),
        ]
        if self.tangled():
            pairs = ", ".join(f"{plain(a)} with {plain(b)} ({r:+.2f})" for a, b, r in self.tangled())
            lines += folded(f"Known only together (correlation): {pairs}.")
        if self.comparison is not None:
            lines += ["", *(line for text in str(self.comparison).splitlines() for line in folded(text))]
        if self.count:
            lines += ["", *folded(str(self.agreement))]
        return "\n".join(lines)

    def _ranked(self) -> str:
        """Which setting takes the fewest minutes, and which are as good."""
        first, *others = self.as_good()
        text = f"Fewest minutes: {_setting_text(first)}"
        if not others:
            return f"{text}, {self.outlooks[first].minutes:.1f} min expected"
        return f"{text}; as good, to {TOLERANCE:.0%}: {', '.join(_setting_text(s) for s in others)}"

    def save(self, path: str | os.PathLike[str]) -> None:
        """Write everything as JSON, test pieces included; the same fit gives the same bytes.

        A piece whose grain is a function cannot be kept in a file and is left out: its grades are kept, and to add
        another piece it has to be given again.
        """
        content = {
            "chipsim_fitted_model": _FORMAT,
            "prior": {f.name: getattr(self.prior, f.name) for f in fields(self.prior)},
            "parameters": self.parameters.tolist(),
            "covariance": self.covariance.tolist(),
            "grades": [
                {"piece": g.piece, "identity": g.identity, "rows": [list(r) for r in g.rows]} for g in self.grades
            ],
            "seen": None
            if self.learned_range is None
            else {f.name: getattr(self.learned_range, f.name) for f in fields(LearnedRange)},
            "agreement": _plain(self.agreement),
            "comparison": None if self.comparison is None else _plain(self.comparison),
            "settings": [[list(s), list(o)] for s, o in self.outlooks.items()],
            "directions": [[d, list(o)] for d, o in self.directions.items()],
            "notes": list(self.notes),
            "discrepancy": self.discrepancy,
            "speed_law": None if self.speed_law is None else list(self.speed_law),
            "pieces": [piece_content(p) for p in self.pieces if _can_be_kept(p)],
            "handwork": {f.name: getattr(self.handwork, f.name) for f in fields(HandWork)},
            "levels": None if self.levels is None else [self.levels.spread, *(v.tolist() for v in self.levels[1:])],
            "sample": None if self.sample is None else self.sample.tolist(),
        }
        text = json.dumps(content, sort_keys=True, indent=1, allow_nan=False)
        with whole_file(path) as handle:
            handle.write(text + "\n")

    @classmethod
    def load(cls, path: str | os.PathLike[str]) -> FittedModel:
        """Read what `save` wrote.

        Raises
        ------
        DomainError
            If the file is not a fitted model of this version, or holds what no fit can give.
        OSError
            If it cannot be read.
        """
        try:
            with open(Path(path), "rb") as handle:
                content = handle.read(_LONGEST + 1)
            if len(content) > _LONGEST:
                raise ValueError(f"it is longer than {_LONGEST} bytes, which no fit is")
            c = json.loads(content.decode("utf-8"))
            if c["chipsim_fitted_model"] != _FORMAT:
                raise ValueError(f"format {c['chipsim_fitted_model']}")
            comparison = c["comparison"]
            prior, parameters = RiskModel(**c["prior"]), np.array(c["parameters"], dtype=float)
            size = len(Coefficients(prior).names) + 9
            covariance = np.array(c["covariance"], dtype=float)
            if parameters.shape != (size,) or covariance.shape != (size, size):
                raise ValueError(f"{size} parameters expected, got {parameters.shape} and {covariance.shape}")
            if not (np.abs(parameters) <= _FARTHEST).all():
                raise ValueError(f"parameters must lie in [-{_FARTHEST:g}, {_FARTHEST:g}]")
            if not np.isfinite(covariance).all() or (np.abs(covariance - covariance.T) > 1e-9).any():
                raise ValueError("covariance must be finite and symmetric")
            np.linalg.cholesky(covariance)  # of none else can models be drawn
            found = cls(
                prior,
                parameters,
                covariance,
                tuple(Grades(g["piece"], tuple(Grade(*r) for r in g["rows"]), g["identity"]) for g in c["grades"]),
                None if c["seen"] is None else LearnedRange(**{k: _tuples(v) for k, v in c["seen"].items()}),
                Agreement(*_numbers(c["agreement"])),
                None if comparison is None else CrossValidation(*_numbers(comparison)),
                {RingSetting(*s): SettingOutlook(*o) for s, o in c["settings"]},
                {d: Outlook(*o) for d, o in c["directions"]},
                tuple(c["notes"]),
                c["discrepancy"],
                None if c["speed_law"] is None else SpeedLaw(*c["speed_law"]),
                tuple(piece_from(p) for p in c["pieces"]),
                HandWork(**c["handwork"]),
                None if c["levels"] is None else Levels(float(c["levels"][0]), *map(_array, c["levels"][1:])),
                None if c["sample"] is None else _array(c["sample"]),
            )
            _check_loaded(found)
            return found
        except OSError:
            raise
        except Exception as error:  # whatever json, numpy or the parts find wrong with it
            raise DomainError(f"path must hold a saved fitted model, got {os.fspath(path)!r}: {error}") from None


def _check_loaded(fitted: FittedModel) -> None:
    """Refuse what no fit gives; ValueError or TypeError."""

    def numbers(name: str, values: Sequence[Any], low: float = -np.inf, high: float = np.inf) -> None:
        for value in values:
            if isinstance(value, bool) or not isinstance(value, (int, float)) or not low <= value <= high:
                raise ValueError(f"{name} must be numbers in [{low:g}, {high:g}], got {value!r:.60}")

    for part in (fitted.model, fitted.grader):  # made of the parameters, which they refuse if they cannot be
        assert part is not None
    numbers("agreement", fitted.agreement[:1], 0)
    numbers("agreement", [v for v in fitted.agreement[1:] if not np.isnan(v)], -1, 1)
    if fitted.comparison is not None:
        numbers("comparison", fitted.comparison[:2], 0)
        numbers("comparison", [v for v in fitted.comparison[2:] if not np.isnan(v)])
        numbers("comparison", [v for v in fitted.comparison[7:] if not np.isnan(v)], 0, 1)
    for setting, outlook in fitted.outlooks.items():
        numbers("settings", setting, 0)
        numbers("settings", outlook[:5], 0, 1)
        numbers("settings", outlook[5:], 0)
    for direction, seen_so in fitted.directions.items():
        numbers("directions", [direction], 0, 180)
        numbers("directions", seen_so, 0, 1)
    numbers("discrepancy", [fitted.discrepancy], 0, 100)
    if fitted.speed_law is not None:
        numbers("speed_law", fitted.speed_law[:3], 0)
        numbers("speed_law", fitted.speed_law[3:6])
        if fitted.speed_law.likeliest not in _INSTEAD:
            raise ValueError(f"speed_law must say one of {', '.join(_INSTEAD)}, got {fitted.speed_law.likeliest!r:.40}")
    size = len(fitted.parameters)
    if fitted.sample is not None and not (
        fitted.sample.ndim == 2 and fitted.sample.shape[1] == size and (np.abs(fitted.sample) <= _FARTHEST).all()
    ):
        raise ValueError(f"sample must be parameters in [-{_FARTHEST:g}, {_FARTHEST:g}], {size} a row")
    if fitted.levels is not None:
        spread, mean, pull, rest = fitted.levels
        numbers("levels", [spread], 0, 100)
        boards = () if fitted.learned_range is None else fitted.learned_range.woods
        k = len(boards) + (len(kinds) if len(kinds := {name for name, *_ in boards}) > 1 else 0)
        if mean.shape != (2 * k,) or pull.shape != (2 * k, size) or rest.shape != (2 * k, 2 * k):
            raise ValueError(f"levels must be those of {len(boards)} boards")
        np.linalg.cholesky(rest)
        if not (np.isfinite(mean).all() and np.isfinite(pull).all()):
            raise ValueError("levels must be finite")
    if not {p.identity for p in fitted.pieces} <= {g.identity for g in fitted.grades}:
        raise ValueError("pieces must be those of the grades")
    if not all(isinstance(note, str) for note in fitted.notes):
        raise ValueError("notes must be text")
    seen = fitted.learned_range
    if (seen is None) != (fitted.count == 0):
        raise ValueError("seen must be there if there are grades, and only then")
    if seen is not None:
        numbers("seen", seen.angles, 0, 11)
        for pair in (seen.half_width, seen.feed_per_tooth, seen.spindle_speed):
            numbers("seen", pair, 0)
            if len(pair) != 2 or pair[0] > pair[1]:
                raise ValueError(f"seen must hold a least and a largest value, got {pair!r:.60}")
        for bit in seen.bits:
            numbers("seen", bit)
        for name, *values in seen.woods:
            numbers("seen", values, 0)
            if not isinstance(name, str) or len(values) != 2:
                raise ValueError(f"seen must hold woods by name, moisture and density, got {name!r:.60}")


def _plain(values: Sequence[Any]) -> list[Any]:
    """Numbers for JSON, which has no NaN."""
    return [None if isinstance(v, float) and not np.isfinite(v) else v for v in values]


def _numbers(values: Sequence[Any]) -> list[Any]:
    return [float("nan") if v is None else v for v in values]


def _array(value: Any) -> FloatArray:
    return np.array(value, dtype=float)


def _tuples(value: Any) -> Any:
    return tuple(_tuples(v) for v in value) if isinstance(value, list) else value


def _four(cuts: Sequence[float]) -> str:
    return ", ".join(f"{c:.2f}" for c in cuts)


def _setting_text(s: RingSetting) -> str:
    return f"{s.spindle_speed:.0f} rpm, {feed_text(s.feed)}"


def _share(o: Outlook | SettingOutlook) -> str:
    return f"{o.median:.0%} ({o.low:.0%} to {o.high:.0%})"


def _can_be_kept(piece: Coupon) -> bool:
    try:
        piece_content(piece)
    except DomainError:
        return False
    return True


def fit(
    coupon: Coupon | Sequence[Coupon],
    grades: Grades | Sequence[Grades],
    model: RiskModel | FittedModel | None = None,
    *,
    handwork: HandWork | None = None,
    progress: bool = False,
) -> FittedModel:
    """Learn the coefficients from the grades of one test piece, or of several pooled.

    Parameters
    ----------
    coupon
        The test piece, or a sequence of them; names must differ.
    grades
        Its grades, as from `read_grades`, or a sequence in the same order. Rows that were not read or carry a flag k
        or p are left out; of two readings of one place each counts half.
    model
        Where to start; its coefficients are the medians of the priors. Default `RiskModel()`. A `FittedModel`, such as
        `FittedModel.load` gives: its pieces and grades are added to these and all are fitted together.
    handwork
        What damage costs by hand, by which the settings of the pieces are ranked; nothing else depends on it. None:
        that of a `FittedModel` given, or else `HandWork()`, which is assumed.
    progress
        True shows a bar that counts steps of the work, some of them longer; needs the extra 'progress'.

    Returns
    -------
    FittedModel
        Without grades that count, exactly the prior.

    Raises
    ------
    DomainError
        If an argument is of the wrong kind, or grades belong to another piece.

    Examples
    --------
    >>> import chipsim as cs
    >>> board = cs.Board(cs.wood("black cherry"), cs.straight_grain(azimuth=0))
    >>> piece = cs.coupon(cs.VBit(90, 10, 2), board, 18_000, 1200, machine=cs.Machine(800, 5000), sectors=8)
    >>> fitted = cs.fit(piece, cs.invented_grades(piece, seed=3))
    >>> fitted.count, fitted.pieces[0].identity == piece.identity
    (54, True)
    """
    start = RiskModel() if model is None else model
    own = start.handwork if isinstance(start, FittedModel) and handwork is None else checked_handwork(handwork)
    coupons = list(coupon) if isinstance(coupon, Sequence) else [coupon]
    forms = list(grades) if isinstance(grades, Sequence) else [grades]
    if isinstance(start, FittedModel):
        kept = {p.identity: p for p in start.pieces}
        if lost := [g.piece for g in start.grades if g.identity not in kept]:
            raise DomainError(f"model must hold the test pieces of its grades, got none of {', '.join(lost)}")
        new = {c.identity for c in coupons if isinstance(c, Coupon)}
        old = [g for g in start.grades if g.identity not in new]
        coupons, forms = [*(kept[g.identity] for g in old), *coupons], [*old, *forms]
        start = start.prior
    if not isinstance(start, RiskModel):
        raise DomainError(f"model must be a RiskModel, a FittedModel or None, got {type(start).__name__}")
    _check(coupons, forms)
    # test pieces to be followed, rounds, rings left out by each of three families, and what comes of it
    steps = len(coupons) + _ROUNDS + 3 * sum(len(c.graded()) for c in coupons) + 1
    size = len(Coefficients(start).names) + 9
    pooled = weighted_kappa([p for g in forms for p in _pairs(g)])
    bar = progress_bar(progress, steps, "step")
    with nullcontext() if bar is None else closing(bar):
        if any(g.used() for g in forms):
            return _fitted(coupons, forms, start, pooled, own, (lambda done: None) if bar is None else bar.update)
    nothing = (np.zeros(size), np.eye(size))
    return FittedModel(start, *nothing, tuple(forms), None, pooled, None, {}, {}, (), 0.0, None, tuple(coupons), own)


def _fitted(
    coupons: Sequence[Coupon],
    forms: Sequence[Grades],
    start: RiskModel,
    pooled: Agreement,
    handwork: HandWork,
    told: Callable[[int], object],
) -> FittedModel:
    """`fit` of grades that say something; `told` is called with the number of steps that are done."""
    coefficients = Coefficients(start)
    size = len(coefficients.names) + 9
    pieces = []
    for c in coupons:
        pieces.append(RingSectors(c, layer_of(start, [t.cut for t in c.graded()])))
        told(1)
    cells = _cells(pieces)
    family = _mechanistic(pieces, coefficients)
    known = np.isfinite(np.concatenate([p.risks(start) for p in pieces], axis=1))
    data = _observations(pieces, forms, known)
    problem = _Problem(family, data, _effects(cells))
    between = BOARD
    _LOG.info("fitting %d coefficients to the grades of %d pieces", len(coefficients.names), len(pieces))
    mode, straight, gain = problem.solve_bent(told)
    if _several(cells.board) > 2:
        between = _board_spread(straight, mode, cells)
        straight = replace(straight, effects=_effects(cells, between))
        mode = straight.solve_whole(mode.parameters)
    covariance = np.linalg.inv(mode.curvature)[:size, :size]
    comparison, discrepancy = _compare(straight, mode, cells, told)
    _LOG.info("fitted; compared with free curves: %s", "not possible" if comparison is None else "done")
    share, by_direction = _outlooks(straight, mode, cells, known, discrepancy)
    fitted = FittedModel(
        start,
        mode.parameters[:size].copy(),
        (covariance + covariance.T) / 2,
        tuple(forms),
        _seen(pieces, data, cells),
        pooled,
        comparison,
        {},
        by_direction,
        (*_notes(coupons, data, known, gain, between), *_reader_notes(forms, discrepancy)),
        discrepancy,
        _speed_law(straight, mode, cells, pieces, coefficients),
        tuple(coupons),
        handwork,
        _levels(mode, cells, straight, between),
        _without_burns(family, data, mode, size),
    )
    outlooks = _ranked_settings(fitted, share, cells.settings)
    told(1)
    return replace(fitted, outlooks=outlooks)


def _board_spread(problem: _Problem, mode: Mode, cells: _Cells) -> float:
    """Spread between boards of one species that makes the grades likeliest, against what was guessed of it. [latent]"""
    noise = float(mode.parameters[problem.family.size + 8])

    def loss(log: float) -> float:
        own = replace(problem.held(noise), effects=_effects(cells, float(BOARD * np.exp(log))))
        return log**2 / (2 * _GUESSED**2) - _evidence(own, mode.parameters)

    return float(BOARD * np.exp(least(loss, -2.0, 2.0)))


def _levels(mode: Mode, cells: _Cells, problem: _Problem, between: float) -> Levels | None:
    """What the mode knows of species and boards beside the parameters that are kept."""
    count = _several(cells.species) + _several(cells.board)
    if not count or len(np.unique(cells.board[problem.data.cell])) <= cells.board.max():
        return None  # one board; or one of several of which nothing was read
    m, u = problem.family.size + 9, problem.effects.shape[1]
    where = np.concatenate([m + k * u + _speeds(cells) + np.arange(count) for k in range(2)])
    covariance = np.linalg.inv(mode.curvature)
    pull = np.linalg.solve(covariance[:m, :m], covariance[:m, where]).T
    rest = covariance[np.ix_(where, where)] - pull @ covariance[:m, where]
    return Levels(between, mode.parameters[where].copy(), pull, (rest + rest.T) / 2 + 1e-9 * np.eye(len(where)))


def _without_burns(family: _Family, data: _Data, mode: Mode, size: int) -> FloatArray | None:
    """Equally likely parameters (n, size), where the flags of scorch say more than a normal curve can hold.

    What does not burn has a latent that is flat: about the mode no coefficient moves it, so that a piece without a
    flag would teach nothing, and draws that burn it would stay. Draws of the normal curve are weighted by how much
    likelier the flags are under their own latents than under the straight ones, and drawn anew.
    """
    flags = data.take(data.response == _SCORCH[0])
    if not len(flags.cell):
        return None
    m, p = family.size, mode.parameters[:size]
    covariance = np.linalg.inv(mode.curvature)[:size, :size]
    rng = np.random.default_rng(0)
    normal = rng.standard_normal((_CANDIDATES, size))
    drawn = p + normal @ np.linalg.cholesky((covariance + covariance.T) / 2).T
    burnt = flags.low[:, None] == 1

    def loss(eta: FloatArray) -> FloatArray:
        at = eta[flags.cell] / _SCORCH[1]
        return np.asarray(flags.weight @ np.logaddexp(0.0, np.where(burnt, -at, at)))

    here, slope = family.latents(p[:m])[2], family.slopes(p[:m])[2][flags.cell]
    chance = 1.0 / (1.0 + np.exp(-here[flags.cell]))
    away = (drawn - p)[:, :m]
    along = away @ slope.T
    straight = loss(here[:, None]) + along @ (flags.weight * (chance - burnt[:, 0]))
    straight = straight + along**2 @ (flags.weight * chance * (1 - chance)) / 2
    gain = straight - loss(family.many(drawn[:, :m])[2])
    # where the weights lie on a few draws they are only followed part of the way
    for power in (1.0, 0.7, 0.5, 0.35, 0.25, 0.15, 0.1, 0.0):
        weight = np.exp(power * (gain - gain.max()))
        weight /= weight.sum()
        worth = 1.0 / float(np.sum(weight**2))
        if worth >= _CANDIDATES / 4:
            break
    if worth > 0.98 * _CANDIDATES:
        return None
    at = (np.arange(_KEPT) + 0.5) / _KEPT
    return np.round(drawn[np.minimum(np.searchsorted(np.cumsum(weight), at), _CANDIDATES - 1)], 4)


def _speed_law(
    problem: _Problem, mode: Mode, cells: _Cells, pieces: Sequence[RingSectors], coefficients: Coefficients
) -> SpeedLaw | None:
    """The step of the fuzz and the tear from the lowest to the highest speed, their mean, before and after.

    `problem` is straight about the mode.
    """
    count = _speeds(cells)
    if not count:
        return None
    m, u = problem.family.size, problem.effects.shape[1]
    ends = [cells.at_speed == 0, cells.at_speed == count - 1]
    slopes = problem.family.slopes(mode.parameters[:m])
    row = np.zeros(problem.size)
    for k in range(2):
        row[:m] += (slopes[k][ends[1]].mean(axis=0) - slopes[k][ends[0]].mean(axis=0)) / 2
        row[[m + 9 + k * u, m + 9 + k * u + count - 1]] = -_SPEED / 2, _SPEED / 2
    covariance = np.linalg.inv(mode.curvature)
    own = row.copy()
    own[:m] = 0.0
    speed = [float(cells_speed) for cells_speed in sorted({s.spindle_speed for s in cells.settings})]
    # the noise is the grader's and is held; without the law each speed is as another one would be, or has its own say
    bare = problem.effects.copy()
    bare[:, :count] = 0.0
    held = problem.held(mode.parameters[m + 8])
    law = replace(held, effects=bare)
    without = {"free": _evidence(held, mode.parameters)}
    for name, all_at, thin in (("lowest", speed[0], False), ("highest", speed[-1], False), ("chip", speed[0], True)):
        # seldom does a machine not reach the feed that would keep the chip
        with suppress(DomainError):
            other = _mechanistic(
                [RingSectors(_at_one_speed(p.coupon, all_at, thin), p.bundle) for p in pieces], coefficients
            )
            without[name] = _evidence(replace(law, family=other), mode.parameters)
    gain = np.array(list(without.values())) - _evidence(law, mode.parameters)
    return SpeedLaw(
        speed[0],
        speed[-1],
        float(np.sqrt(row @ covariance @ row / (row @ row))),
        float(own @ mode.parameters),
        float(np.sqrt(own @ covariance @ own)),
        float(np.logaddexp.reduce(gain) - np.log(len(gain))),
        list(without)[int(gain.argmax())],
    )


def _evidence(problem: _Problem, start: FloatArray) -> float:
    """Logarithm of the chance of the grades by a family, all else integrated out by Laplace, but for a constant. [nat]

    A family that bends is straightened a few times.
    """
    p = start
    for _ in range(_STRAIGHTENED):
        mode = problem.linearised(p).solve(p)
        tried = [p + share * (mode.parameters - p) for share in (1.0, 0.5, 0.0)]
        loss, p = min(((problem.value(t), t) for t in tried), key=lambda one: one[0])
    return float(-loss - np.linalg.slogdet(mode.curvature)[1] / 2)


def _at_one_speed(piece: Coupon, speed: float, thin: bool) -> Coupon:
    """The piece as it comes out if the spindle turns at one speed all the time; if `thin`, each ring with its chip."""

    def turned(cut: Cut) -> Cut:
        share = speed / cut.spindle_speed if thin else 1.0
        feed = tuple(f * share for f in cut.feed) if isinstance(cut.feed, tuple) else cut.feed * share
        return replace(cut, spindle_speed=speed, feed=feed)

    return replace(
        piece,
        rings=tuple(replace(r, cut=turned(r.cut)) for r in piece.rings),
        extras=tuple(
            replace(e, cuts=tuple(map(turned, e.cuts)), strokes=tuple(replace(s, cut=turned(s.cut)) for s in e.strokes))
            for e in piece.extras
        ),
    )


def _reader_notes(forms: Sequence[Grades], discrepancy: float) -> list[str]:
    """What the readings say of the hand that gave them."""
    notes = []
    drift = Drift.of(forms)
    if drift.clear:
        way = "worse" if drift.grades > 0 else "better"
        notes.append(
            f"second readings are {way} than first ones by {abs(drift.grades):.1f} +- {drift.error:.1f} grades: the "
            f"hand drifted, and how far it did between the rings of one reading nobody knows"
        )
    given = [r.grade for g in forms for r in g.used()]
    unused = [k for k in (1, 2, 3) if k not in given and any(v is not None and v > k for v in given)]
    if len(given) >= 60 and unused:
        words = " and ".join(map(str, unused))
        notes.append(f"of {len(given)} grades none is {words}: grades that are not told apart teach less")
    if discrepancy > RING:
        notes.append(
            f"rings left out lay off what was foretold of them by {discrepancy:.1f} more than the model reckons with "
            f"[latent]: all bands are widened by it"
        )
    return notes


def _check(coupons: Sequence[object], forms: Sequence[object]) -> None:
    if not coupons or not all(isinstance(c, Coupon) for c in coupons):
        raise DomainError("coupon must be a Coupon or a sequence of at least one")
    if len(forms) != len(coupons) or not all(isinstance(g, Grades) for g in forms):
        raise DomainError(f"grades must be a Grades for each of the {len(coupons)} coupons, got {len(forms)}")
    names = [c.name for c in coupons if isinstance(c, Coupon)]
    if len(set(names)) < len(names):
        raise DomainError(f"coupon names must differ, got {', '.join(names)}")
    for c, g in zip(coupons, forms, strict=True):
        assert isinstance(c, Coupon)
        assert isinstance(g, Grades)
        if g.piece != c.name:
            raise DomainError(f"grades must be those of {c.name!r}, got those of {g.piece!r}")
        if g.identity != c.identity:
            raise DomainError(
                f"grades must be those of {c.name!r} with the identity {c.identity}, got grades with "
                f"{g.identity or 'none'}. Likeliest, the coupon has been laid out anew under the old name; grades made "
                f"by hand take identity=coupon.identity"
            )
        boxes = {code: parts for code, parts, _, _ in graded_lines(c)}
        for row in g.rows:
            if not 1 <= row.sector <= boxes.get(row.ring, 0):
                raise DomainError(f"grades must lie on {c.name!r}: it has no ring {row.ring} sector {row.sector}")


def _pairs(form: Grades) -> list[tuple[int, int]]:
    first = {r[:3]: r.grade for r in form.used() if r.reading == 1}
    return [
        (a, r.grade)
        for r in form.used()
        if r.reading == 2 and (a := first.get(r[:3])) is not None and r.grade is not None
    ]


def _seen(pieces: Sequence[RingSectors], data: _Data, cells: _Cells) -> LearnedRange:
    read = np.unique(data.cell)
    first = np.cumsum([0, *(len(p) for p in pieces)])
    angles: set[int] = set()
    rings = []
    for p, a in zip(pieces, first, strict=False):
        own = read[(read >= a) & (read < a + len(p))] - a
        angles |= set(angle_bin(p.angles(own)[np.isfinite(p.angles(own))]).tolist())
        rings += [(p.coupon, p.coupon.graded()[i]) for i in np.unique(p.ring[own])]
    half = [c.width / 2 for c, _ in rings]
    tooth, speed = _per_ring(rings)
    woods = {_wood_key(c.board.wood) for c, _ in rings}
    return LearnedRange(
        tuple(sorted(angles)),
        (min(half), max(half)),
        (min(tooth), max(tooth)),
        (min(speed), max(speed)),
        tuple(sorted({bit_key(r.cut) for _, r in rings})),
        tuple(sorted(woods)),
    )


def _notes(coupons: Sequence[Coupon], data: _Data, known: FloatArray, gain: float, between: float) -> tuple[str, ...]:
    notes = []
    if gain > 0.1:
        notes.append(f"the most probable values were not quite found: the last step still gained {gain:.2g} nats")
    for k, name in enumerate(RESPONSES):
        mine = (data.response == k) & (data.low == data.high)
        if not known[k].any():
            notes.append(f"{name} is not modelled for this wood: its grades were not used")
        elif mine.any() and np.ptp(data.low[mine]) == 0 and not (~mine & (data.response == k)).any():
            notes.append(f"every grade of {name} is {data.low[mine][0]}: there is little to learn from it")
    if (boards := len(_woods([(c, None) for c in coupons]))) < 3:
        notes.append("spread between boards cannot be read off fewer than three boards: it stays a guess")
    else:
        notes.append(f"from {boards} boards the spread between boards of one species is taken as {between:.2f} latent")
    if len({round(c.width, 2) for c in coupons}) == 1:
        notes.append("one width was cut: how width and depth matter is still the starting guess")
    return tuple(notes)


def _compare(
    problem: _Problem, mode: Mode, cells: _Cells, told: Callable[[int], object]
) -> tuple[CrossValidation | None, float]:
    """Leave each ring out in turn, for the model (straight about its mode) and for the two that know no cutting.

    Also by how much more the left-out lips of the rings lay off than the model reckons with. [latent]
    """
    d = problem.data.take(problem.data.response < len(RESPONSES))
    ring = cells.ring[d.cell]
    rings = np.unique(ring)
    if len(rings) < 2:
        return None, 0.0
    off: list[tuple[float, float, float]] = []
    score = np.zeros((3, len(d.cell)))
    held = np.zeros(len(d.cell))
    for f, family in enumerate((problem.family, _harmonic(cells), _same(cells))):
        whole = _Problem(family, d, problem.effects)
        start = mode.parameters if f == 0 else np.zeros(whole.size)
        # the noise is the grader's and stays when rings are left out
        noise = whole.noise_mode(start)
        for r in rings:
            out = ring == r
            rest = _Problem(family, d.take(~out), problem.effects, noise)
            chance = rest.chances(rest.solve(start), d.take(out))
            below = np.concatenate([np.zeros((len(chance), 1)), np.cumsum(chance, axis=1)], axis=1)
            row = np.arange(len(chance))
            a, b = below[row, d.low[out]], below[row, d.high[out] + 1]
            score[f, out] = np.log(np.maximum(b - a, 1e-12))
            if f == 0:
                held[out] = _within(a, b)
                off += _lips_off(rest, rest.solve(start), d.take(out), cells)
            told(1)
    weight = d.weight
    total = score @ weight
    lost = np.array([float(weight[ring == r] @ (score[1] - score[0])[ring == r]) for r in rings])
    exact = d.low == d.high
    count = float(weight.sum())
    return CrossValidation(
        round(float(weight[exact].sum())),
        len(rings),
        float(total[0]) / count,
        float(total[1]) / count,
        float(total[2]) / count,
        float(lost.sum()),
        float(np.sqrt(len(rings)) * lost.std(ddof=1)),
        float(np.sum((weight * held)[exact]) / max(float(weight[exact].sum()), 1e-12)),
    ), _discrepancy(off)


def _lips_off(rest: _Problem, mode: Mode, data: _Data, cells: _Cells) -> list[tuple[float, float, float]]:
    """Of each lip of a left-out ring, for fuzz and tear: mean grade less the foretold one, its variance, its slope.

    The slope is that of the mean grade in the latent; the variance has what is not known of coefficients, ring and
    wood, and the noise of single readings.
    """
    m, u = rest.family.size, rest.effects.shape[1]
    eta, cuts, _, noise = rest._at(mode.parameters)
    covariance = np.linalg.inv(mode.curvature)
    slopes = rest.family.slopes(mode.parameters[:m])
    found = []
    for k in range(2):
        for lip in (0, 1):
            mine = np.flatnonzero((data.response == k) & (cells.lip[data.cell] == lip) & (data.low == data.high))
            if len(mine) < 4:
                continue
            cell = data.cell[mine]
            at = (np.array(cuts[k])[None, :] - eta[k][cell][:, None]) / noise
            above = 1 / (1 + np.exp(at))  # chance of at least each grade
            grades = np.arange(1, 5)
            mean = above.sum(axis=1)
            variance = (above * (2 * grades - 1)).sum(axis=1) - mean**2
            slope = (above * (1 - above)).sum(axis=1) / noise
            row = np.zeros(rest.size)
            row[:m] = (slope[:, None] * slopes[k][cell]).mean(axis=0)
            row[m + 9 + k * u : m + 9 + (k + 1) * u] = (slope[:, None] * rest.effects[cell]).mean(axis=0)
            spread = float(row @ covariance @ row) + float(variance.mean()) / len(mine)
            found.append((float((data.low[mine] - mean).mean()), spread, float(slope.mean())))
    return found


def _discrepancy(off: Sequence[tuple[float, float, float]]) -> float:
    """Spread, beyond what was reckoned with, that makes the misses of left-out lips as large as they are. [latent]"""
    if len(off) < 4:
        return 0.0
    miss, variance, slope = np.array(off).T
    return float(np.sqrt(max(0.0, float(np.sum(miss**2 - variance))) / max(float(np.sum(slope**2)), 1e-9)))


def _within(a: FloatArray, b: FloatArray) -> FloatArray:
    """Share in the middle 80 % of a grade's stretch of the cumulative chance, from a to b; same shape.

    If grades fall as the chances say, its mean is 0.8 to the last digit, however coarse the grades are.
    """
    inside = np.clip(np.minimum(b, 0.9) - np.maximum(a, 0.1), 0.0, None)
    return np.asarray(inside / np.maximum(b - a, 1e-12))


def _outlooks(
    problem: _Problem, mode: Mode, cells: _Cells, known: FloatArray, discrepancy: float = 0.0
) -> tuple[FloatArray, dict[float, Outlook]]:
    """Share of poor lip of every setting, (1 + draws, settings), and of every direction, by the straight model.

    The first row is the most probable model. What was found at a speed beside the law of speed belongs to what is said
    of it. Bands are widened by the discrepancy of left-out rings, drawn for each setting: it does not move the most
    probable value.
    """
    m, u, speeds = problem.family.size, problem.effects.shape[1], _speeds(cells)
    rng = np.random.default_rng(0)
    some = np.concatenate([np.arange(m + 9), *(m + 9 + k * u + np.arange(speeds) for k in range(2))])
    spread = np.linalg.cholesky(np.linalg.inv(mode.curvature)[np.ix_(some, some)])
    local = float(sum(v * v for v in LOCAL) + RING**2)
    normal = np.vstack([np.zeros(len(some)), rng.standard_normal((_OUTLOOK, len(some)))])
    draws = normal @ spread.T + mode.parameters[some]
    off = discrepancy * rng.standard_normal((len(draws), 2, len(cells.settings)))
    off[0] = 0.0
    poor = np.empty((len(draws), len(cells.ring)))
    for i, p in enumerate(draws):
        grader, eta = Grader.at(p[m : m + 9]), problem.family.latents(p[:m]).copy()
        for k in range(2):
            own = p[m + 9 + k * speeds : m + 9 + (k + 1) * speeds]
            eta[k] += problem.effects[:, :speeds] @ own + off[i, k, cells.setting]
        spared = np.ones(len(cells.ring))
        for k, name in enumerate(RESPONSES):
            chance = grader.chances(name, eta[k], local)[:, POOR:].sum(axis=1)
            spared *= np.where(known[k], 1.0 - chance, 1.0)
        poor[i] = 1.0 - spared
    # a half turn changes nothing but the dive's sign: directions are told to 180 degrees
    heading = np.round(cells.heading % 180.0, 3) % 180.0
    if len(np.unique(heading)) > 36:
        heading = np.round(heading / 10.0) * 10.0 % 180.0
    kinds, which = np.unique(heading, return_inverse=True)
    share = _shares(poor, which.reshape(-1), len(kinds))
    worst = share[1:].argmax(axis=1)
    directions = {float(h): Outlook(*_band(share[:, i]), _odds(worst, i)) for i, h in enumerate(kinds)}
    around = np.isfinite(cells.azimuth)  # strokes look one way only, rings go all ways
    alone = ~np.isin(cells.setting, cells.setting[around])
    here = around | alone
    return _shares(poor[:, here], cells.setting[here], len(cells.settings)), directions


def _ranked_settings(
    fitted: FittedModel, share: FloatArray, settings: Sequence[RingSetting]
) -> dict[RingSetting, SettingOutlook]:
    """Outlook of every setting, from its share of poor lip (1 + draws, settings) and its minutes.

    The minutes are those that `recommend` would tell of the same grooves: the same boards, the same law, point by point
    of the lip and not by boxes. They follow the law of speed, as it does.
    """
    # strokes look one way only: beside rings, which go all ways, they would make their setting look better or worse
    around = {r.setting for piece in fitted.pieces for r in piece.rings}
    minutes, machine = [], []
    for setting in settings:
        table, taken, length = np.zeros((_TRIED, 5, 5, 5)), 0.0, 0.0
        for piece in fitted.pieces:
            own = [t for t in piece.graded() if t.setting == setting]
            cuts = tuple(t.cut for t in own if isinstance(t, Ring) is (setting in around))
            if not cuts:
                continue
            dials = [c.machine.dial.uncertainty for c in cuts if c.machine is not None and c.machine.dial is not None]
            boards = possible_boards(fitted, piece.board, max(dials, default=0.0), _TRIED, 0)
            table += lengths_on(Carving(cuts), piece.board, fitted, boards)
            taken += sum(run.duration for cut in cuts for run in (*cut.earlier_passes(), cut)) / 60
            length += sum(cut.path.length for cut in cuts)
        lip = table.sum(axis=(1, 2, 3), keepdims=True)
        table *= np.divide(_METRE, lip, out=np.zeros_like(lip), where=lip > 0)
        machine.append(taken * 1000 / length)
        minutes.append(machine[-1] + minutes_of(table, fitted.handwork).boards)
    cleanest, fewest = share[1:].argmin(axis=1), np.argmin(minutes, axis=0)
    return {
        s: SettingOutlook(
            *_band(share[:, j]),
            _odds(cleanest, j),
            _odds(fewest, j),
            float(machine[j]),
            float(minutes[j].mean()),
            *(float(v) for v in np.percentile(minutes[j], [10, 90])),
        )
        for j, s in enumerate(settings)
    }


def _shares(poor: FloatArray, which: np.ndarray, count: int) -> FloatArray:
    return np.stack([poor[:, which == i].mean(axis=1) for i in range(count)], axis=1)


def _band(share: FloatArray) -> tuple[float, float, float]:
    """Low, the most probable model's own, which is the first, and high of 8 in 10."""
    low, high = np.percentile(share[1:], [10, 90])
    return float(low), float(share[0]), float(high)


def _odds(winner: np.ndarray, i: int) -> float:
    return float(np.mean(winner == i))
