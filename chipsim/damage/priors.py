"""What is believed before wood has spoken: priors of the model's coefficients, of the grader and of boards.

Every prior is a standard normal in coordinates of its own, so that fits and draws need no scales. A coefficient runs
over its published prior range on a logit scale, of its logarithm where the range is positive; its median is the value
of the model one starts from, and it never leaves the range.
"""

from __future__ import annotations

import zlib
from copy import copy
from dataclasses import dataclass, field, fields, replace
from typing import NamedTuple

import numpy as np
from scipy.special import expit, logit, ndtri

from .._shared.arrays import FloatArray, array, number
from .._shared.ordinal import probabilities, spread_scale
from ..errors import DomainError
from ..kernels import risks
from ..scene.cutters import Cutter
from .ensemble import BESIDE, STRUCTURE, chosen, ensemble, lifted, models_at
from .models import SHARES, RiskModel

__all__ = [
    "BOARD",
    "CONVENTION",
    "CUT_SPREAD",
    "EDGE",
    "FLOOR",
    "KIN",
    "LOCAL",
    "POOR",
    "RING",
    "SPECIES",
    "Coefficients",
    "Draws",
    "Grader",
    "as_graded",
    "edge_factors",
    "fibre_turns",
    "latent",
    "literature_draws",
    "normal_at",
    "prior_draws",
    "risk_at",
]

RING = 0.3
"""BandCollector of what makes one ring, or one job, worse or better than the model says, all along it. [latent]"""

BOARD = 0.4
"""Spread between boards of one kind beyond what the coefficients say: a guess, to be replaced once many are read."""

SPECIES = 0.5
"""Spread between woods beyond what the coefficients say, all boards of one wood alike: a guess as well. [latent]"""

KIN = (0.85, 0.5)
"""Share of a coefficient's variance that two boards of one wood have in common, and two of different woods: guesses.
What one board teaches of another is that share of it; the rest is as it was before any grade."""

LOCAL = (0.3, 0.34, 0.25)
"""Spread of the wood along one lip of a ring: its mean, and its first and second harmonic. These are of a wood effect
of 0.6 whose correlation halves in 30 degrees; what is finer belongs to the grader's noise. [latent]"""

EDGE = 2.5
"""The radius of an edge that nobody measured is known within this factor either way: 3 to 20 um, from memory. [-]"""

POOR = 3
"""Grade from which a place is counted as poor: it takes work that softens the lip."""

_SPREAD = 1.2  # of the logit of the place within the prior range: four in five within its middle 65 %
_EDGE = 0.05  # a value keeps this share of its range to the nearer end, else the range is widened
FLOOR = 0.01  # added to a risk on either side before the logit, so that none is certain
CONVENTION = (0.10, 0.25, 0.37, 0.50)
"""Risks from which the grades 1 to 4 are given: where the steps of the scale end."""

CUT_SPREAD = 0.7  # of the first cut point
_STEP, _NOISE = 0.35, (0.55, 0.35)  # spreads: log of steps; median and log spread of noise


def latent(risk: FloatArray) -> FloatArray:
    """Risk in [0, 1] on the scale of grades, a logit whose ends are held back; same shape. [-]"""
    return np.asarray(np.log((risk + FLOOR) / (1.0 - risk + FLOOR)))


def risk_at(eta: FloatArray) -> FloatArray:
    """Risk whose `latent` this is, held within [0, 1]; same shape."""
    share = expit(eta)
    return np.asarray(np.clip(share * (1.0 + 2 * FLOOR) - FLOOR, 0.0, 1.0))


@dataclass(frozen=True)
class Coefficients:
    """The coefficients of a `RiskModel` as standard normal coordinates about it; `bundle` belongs to the strikes.

    What is drawn `BESIDE` them has no coordinate either: a piece cut with straight bits tells nothing of it.

    Any other dataclass does as well: its coefficients are the fields with a 'prior' (low, high) in their metadata.
    """

    centre: RiskModel
    names: tuple[str, ...] = field(init=False)

    def __post_init__(self) -> None:
        ranges = {f.name: f.metadata["prior"] for f in fields(self.centre) if f.init and "prior" in f.metadata}
        apart = ("bundle", *BESIDE) if isinstance(self.centre, RiskModel) else ("bundle",)
        names = (name for name, (low, high) in ranges.items() if name not in apart and low < high)
        object.__setattr__(self, "names", tuple(names))

    def _range(self, name: str) -> tuple[bool, float, float, float]:
        """Whether on a logarithmic scale, the range's ends on that scale, and the logit of the centre's place."""
        low, high = self.centre.__dataclass_fields__[name].metadata["prior"]
        value = getattr(self.centre, name)
        log = low > 0 and value > 0
        a, b, c = (float(np.log(v)) if log else float(v) for v in (low, high, value))
        span = b - a
        # a centre at or beyond an end widens the range, so that its median can be the centre
        a, b = min(a, c - _EDGE * span), max(b, c + _EDGE * span)
        if not log and low >= 0:
            a = max(a, 0.0) if c > 0 else 0.0
        most = 1 - 1e-9
        if name in SHARES and b > (0.0 if log else 1.0):
            # no more than the whole: a centre there is the end of its range, and its median then a little below it
            b, most = 0.0 if log else 1.0, 1 / (1 + _EDGE)
        return log, a, b, float(logit(np.clip((c - a) / (b - a), 1e-9, most)))

    def value(self, name: str, z: FloatArray | float) -> FloatArray:
        """Value of a coefficient at its coordinate, same shape; at 0 the centre's own, to the last bit."""
        log, a, b, t = self._range(name)
        at = a + (b - a) * expit(t + _SPREAD * np.asarray(z, dtype=float))
        found = np.exp(at) if log else at
        return np.asarray(np.where(np.asarray(z) == 0, getattr(self.centre, name), found))

    def coordinate(self, name: str, value: FloatArray | float) -> FloatArray:
        """Coordinate of a value of a coefficient, same shape: the inverse of `value`, held within 6 spreads."""
        log, a, b, t = self._range(name)
        raw = np.asarray(value, dtype=float)
        share = ((np.log(np.maximum(raw, 1e-300)) if log else raw) - a) / (b - a)
        return np.asarray(np.clip((logit(np.clip(share, 1e-12, 1 - 1e-12)) - t) / _SPREAD, -6.0, 6.0))

    def model(self, z: FloatArray) -> RiskModel:
        """Model at coordinates (len(names),)."""
        return self.models(z[None])[0]

    def models(self, z: FloatArray) -> tuple[RiskModel, ...]:
        """Models at coordinates (count, len(names))."""
        columns = {name: self.value(name, z[:, k]).tolist() for k, name in enumerate(self.names)}
        rows = [{name: c[row] for name, c in columns.items()} for row in range(len(z))]
        if type(self.centre) is not RiskModel:
            return tuple(replace(self.centre, **row) for row in rows)
        # no coordinate leads out of its range: they need not be checked one by one, which takes longer than a small map
        found = tuple(copy(self.centre) for _ in rows)
        for model, row in zip(found, rows, strict=True):
            vars(model).update(row)
        return found


@dataclass(frozen=True)
class Grader:
    """From which latent risk on somebody gives each grade, and how noisily.

    Attributes
    ----------
    fuzz, tear : (4,) cut points, increasing. [latent]
    noise : scale of the logistic noise of one reading. [latent]

    Examples
    --------
    >>> import chipsim as cs
    >>> import numpy as np
    >>> strict = cs.Grader(fuzz=(-3, -2, -1, 0), tear=(-3, -2, -1, 0), noise=0.5)
    >>> strict.chances("fuzz", np.array([-1.5])).round(3).tolist()  # of grades 0 to 4
    [[0.047, 0.222, 0.462, 0.222, 0.047]]
    """

    fuzz: tuple[float, ...]
    tear: tuple[float, ...]
    noise: float

    def __post_init__(self) -> None:
        for name in ("fuzz", "tear"):
            cuts = array(name, getattr(self, name), ndim=1, low=-100, high=100)
            if cuts.shape != (4,) or (np.diff(cuts) <= 0).any():
                raise DomainError(f"{name} must be four increasing cut points, got {cuts.tolist()}")
            object.__setattr__(self, name, tuple(cuts.tolist()))
        object.__setattr__(self, "noise", number("noise", self.noise, low=0, high=100, open_low=True))

    @classmethod
    def at(cls, q: FloatArray) -> Grader:
        """Grader at standard normal coordinates (9,): cut points of fuzz, of tear, noise."""
        middle, spread = _NOISE
        fuzz, tear = (tuple(grader_cuts(q[i : i + 4])[0].tolist()) for i in (0, 4))
        return cls(fuzz, tear, float(middle * np.exp(spread * q[8])))

    def chances(self, kind: str, eta: FloatArray, variance: FloatArray | float = 0.0) -> FloatArray:
        """Chances (n, 5) of the grades at latents (n,), known to a variance."""
        cuts = np.array(self.fuzz if kind == "fuzz" else self.tear)
        return probabilities(eta, cuts, spread_scale(self.noise, variance))

    def shifted(self, fuzz: float, tear: float) -> Grader:
        """The same hand before wood whose latents lie higher by so much."""
        return Grader(tuple(c - fuzz for c in self.fuzz), tuple(c - tear for c in self.tear), self.noise)

    def on_own_scale(self, kind: str, risk: FloatArray, shift: float = 0.0) -> FloatArray:
        """Risk on the scale on which this grader's grades begin where the map's classes have them; same shape.

        The latent is shifted, then stretched between the cut points so that they fall on the usual ones.
        """
        cuts, usual = np.array(self.fuzz if kind == "fuzz" else self.tear), grader_cuts(np.zeros(4))[0]
        if shift == 0 and (cuts == usual).all():
            return risk
        eta = latent(risk) + shift
        beyond = np.minimum(eta - cuts[0], 0.0) + np.maximum(eta - cuts[-1], 0.0)
        return risk_at(np.interp(eta, cuts, usual) + beyond)

    def poor(self, fuzz: FloatArray, tear: FloatArray, shift: float = 0.0) -> FloatArray:
        """Chance of a poor grade at places of these risks, same shape; a risk that is NaN adds nothing."""
        spared = np.ones(np.shape(fuzz))
        scale = spread_scale(self.noise, sum(v * v for v in LOCAL))
        for risk, cuts in ((fuzz, self.fuzz), (tear, self.tear)):
            chance = expit((latent(risk) + shift - cuts[POOR - 1]) / scale)
            spared *= 1.0 - np.where(np.isnan(chance), 0.0, chance)
        return 1.0 - spared


def grader_cuts(q: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Cut points (4,) at four coordinates, and their slopes (4, 4)."""
    usual = latent(np.array(CONVENTION))
    steps = np.diff(usual) * np.exp(_STEP * q[1:])
    cuts = usual[0] + CUT_SPREAD * q[0] + np.concatenate([[0.0], np.cumsum(steps)])
    slope = np.zeros((4, 4))
    slope[:, 0] = CUT_SPREAD
    for k in range(3):
        slope[k + 1 :, k + 1] = _STEP * steps[k]
    return cuts, slope


def noise_at(q: float) -> float:
    """Noise of the reading at its coordinate."""
    return float(_NOISE[0] * np.exp(_NOISE[1] * q))


NOISE_SLOPE = _NOISE[1]
"""Slope of the logarithm of the noise in its coordinate."""

CUT_BEND = _STEP
"""Second slope of a cut point over its first, in the coordinate of a step."""


class Draws(NamedTuple):
    """Equally likely readings of what is known: models, graders, and a shift of the latent for job and board.

    `turns` (count,) are those of the fibres, for what the carver does not know of their direction; None: none. [deg]
    """

    models: tuple[RiskModel, ...]
    graders: tuple[Grader, ...]
    shifts: FloatArray
    coordinates: FloatArray
    names: tuple[str, ...]
    turns: FloatArray | None = None


def draws_at(coefficients: Coefficients, normal: FloatArray, shifts: FloatArray) -> Draws:
    """Draws at standard normal coordinates (count, len(names) + 9)."""
    m = len(coefficients.names)
    models = coefficients.models(normal[:, :m])
    if isinstance(coefficients.centre, RiskModel):
        models = lifted(models, coefficients.centre)
    return Draws(
        models,
        tuple(Grader.at(row[m:]) for row in normal),
        shifts,
        normal[:, :m],
        coefficients.names,
    )


def prior_draws(model: RiskModel, count: int, seed: int) -> Draws:
    """Draws from the priors about a model: any board, any grader."""
    rng = np.random.default_rng(seed)
    coefficients = Coefficients(model)
    normal = rng.standard_normal((count, len(coefficients.names) + 9))
    return draws_at(coefficients, normal, np.hypot(RING, BOARD) * rng.standard_normal(count))


def normal_at(points: FloatArray) -> FloatArray:
    """Standard normal numbers of which so large a share lies below; same shape."""
    return np.asarray(ndtri(points))


def literature_draws(model: RiskModel, count: int, seed: int) -> Draws:
    """Draws of what the literature leaves of the model's prior, structure included; any board, any grader.

    About another model than the default each coefficient that differs from it is spread about the model's own value as
    widely as about the default's. Taken as given is its layer, if it is another one, and what stands for another
    structure.
    """
    rng = np.random.default_rng(seed)
    known, usual = ensemble(), RiskModel()
    values = np.array(known.values[chosen(count, rng)])
    one, other = Coefficients(usual), Coefficients(model)
    for k, name in enumerate(known.names):
        own = getattr(model, name)
        if own == getattr(usual, name):
            continue
        if name not in other.names or name in STRUCTURE:
            values[:, k] = own
        else:
            values[:, k] = other.value(name, one.coordinate(name, values[:, k]))
    graders = tuple(Grader.at(row) for row in rng.standard_normal((count, 9)))
    shifts = np.hypot(RING, BOARD) * rng.standard_normal(count)
    # what a model of one's own adds is drawn from its own prior
    added = tuple(name for name in other.names if name not in known.names)
    more = [other.value(name, rng.standard_normal(count)) for name in added]
    names, values = (*known.names, *added), np.column_stack([values, *more])
    return Draws(lifted(models_at(names, values, model), model), graders, shifts, values, names)


def edge_factors(bit: Cutter, count: int, seed: int) -> FloatArray:
    """Draws (count,) of the radius of a bit's edge over what the bit says: all 1 if it was measured. [-]

    They depend on the bit and on nothing else that is drawn.
    """
    if getattr(bit, "edge_measured", True):
        return np.ones(count)
    told = f"{bit.diameter:g} {bit.flutes} {bit.rake:g} {float(bit.radius(np.array(1.0))):.6g}"
    rng = np.random.default_rng([seed, zlib.crc32(told.encode())])
    return np.asarray(np.exp(rng.triangular(-np.log(EDGE), 0.0, np.log(EDGE), count)))


def fibre_turns(degrees: float, count: int, seed: int) -> FloatArray | None:
    """Draws (count,) of how far the fibres lie off what was said of them, of this standard deviation. [deg]"""
    if not degrees:
        return None
    return np.asarray(degrees * np.random.default_rng([seed, zlib.crc32(b"grain")]).standard_normal(count))


def as_graded(
    draws: Draws, fuzz: FloatArray, tear: FloatArray, scorch: FloatArray, length: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Damage (n, 2, draws) of lips as each draw's grader sees it, and the length of lip (draws,) he would call poor.

    Parameters
    ----------
    draws
        Graders, and shifts of the latent.
    fuzz, tear, scorch
        (n, 2, draws) risks by the draws' models; NaN where not known.
    length
        (n, 2) of lip, 0 where there is none. [mm]
    """
    graders = draws.graders
    damage, poor = np.empty(fuzz.shape), np.zeros(len(graders))
    risks.as_graded_sets(
        *(np.ascontiguousarray(a, dtype=float) for a in (fuzz, tear, scorch, length)),
        np.ascontiguousarray(np.array([[r.fuzz for r in graders], [r.tear for r in graders]]).transpose(0, 2, 1)),
        grader_cuts(np.zeros(4))[0],
        spread_scale(np.array([r.noise for r in graders]), sum(v * v for v in LOCAL)),
        np.array(draws.shifts, dtype=float),
        FLOOR,
        POOR - 1,
        damage,
        poor,
    )
    return damage, poor
