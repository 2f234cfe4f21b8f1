"""Grades that an invented grader would give an invented board: to try the learning on."""

from __future__ import annotations

import numpy as np

from .._shared.arrays import FloatArray, array, number
from .._shared.arrays import seed as checked_seed
from ..damage.models import RiskModel, layer_of
from ..damage.priors import (
    LOCAL,
    RING,
    Grader,
    latent,
)
from ..errors import DomainError
from .fitting import _SCORCH
from .grading import Grade, Grades
from .sectors import RingSectors
from .testpiece import Coupon, Ring

__all__ = ["invented_grades"]


def invented_grades(
    coupon: Coupon,
    model: RiskModel | None = None,
    *,
    grader: Grader | None = None,
    latents: FloatArray | None = None,
    again: float = 0.2,
    seed: int = 0,
) -> Grades:
    """Grades that a grader would give if the wood obeyed a model: for trying things out, never for a real board.

    Each ring, and the wood along each lip, is worse or better by what the priors say.

    Parameters
    ----------
    coupon
        The test piece.
    model
        The invented truth; default `RiskModel()`.
    grader
        Default: the usual one.
    latents
        (2, cells) of fuzz and tear instead of a model's, cells by ring, sector and lip (out, in), those of strokes
        last; nothing scorches.
    again
        Share of the places that is read twice. [-]
    seed
        Whole number, >= 0.

    Examples
    --------
    >>> import chipsim as cs
    >>> board = cs.Board(cs.wood("black cherry"), cs.straight_grain(azimuth=0))
    >>> piece = cs.coupon(cs.VBit(90, 10, 2), board, 18_000, 1200, machine=cs.Machine(800, 5000), sectors=8)
    >>> grades = cs.invented_grades(piece, seed=3)
    >>> len(grades), grades.identity == piece.identity
    (58, True)
    """
    rng = np.random.default_rng(checked_seed(seed))
    share = number("again", again, low=0, high=1)
    chosen = RiskModel() if model is None else model
    for name, thing, cls in (("coupon", coupon, Coupon), ("model", chosen, RiskModel)):
        if not isinstance(thing, cls):
            raise DomainError(f"{name} must be a {cls.__name__}, got {type(thing).__name__}")
    who = Grader.at(np.zeros(9)) if grader is None else grader
    if not isinstance(who, Grader):
        raise DomainError(f"grader must be a Grader or None, got {type(who).__name__}")
    cells = RingSectors(coupon, layer_of(chosen, [t.cut for t in coupon.graded()]))
    if latents is None:
        found = cells.risks(chosen)
        whole = np.where(np.isfinite(found), latent(np.nan_to_num(found)), -20.0)
        eta, hot = whole[:2], whole[2]
    else:
        eta = array("latents", latents, nan=True)
        hot = np.full(eta.shape[-1:], -20.0)
    count = len(cells)
    if eta.shape != (2, count):
        raise DomainError(f"latents must have shape (2, {count}), got {eta.shape}")
    ring, sector, lip = cells.ring, cells.sector, cells.lip
    eta = eta + random_wood(rng, ring, lip, cells.azimuth)
    things = coupon.graded()
    marked = {(j, s) for j, r in enumerate(things) for s in r.marked}
    scorched = hot + _SCORCH[1] * rng.logistic(size=count) > 0
    rows = []
    for reading in (1, 2):
        noise = who.noise * rng.logistic(size=(2, count))
        cuts = np.array([who.fuzz, who.tear])[:, None, :]
        read = ((eta + noise)[..., None] > cuts).sum(axis=-1)
        twice = rng.random(count) < share
        for j in range(count):
            drop = (int(ring[j]), int(sector[j])) in marked
            if reading == 2 and (drop or not twice[j]):
                continue
            grade, kind = _written(int(read[0, j]), int(read[1, j]))
            flags = "p" * drop + "s" * bool(scorched[j])
            names = ("out", "in") if isinstance(things[ring[j]], Ring) else ("left", "right")
            place = (things[ring[j]].code, int(sector[j]), names[lip[j]])
            rows.append(Grade(*place, reading, grade, kind, flags))
    return Grades(coupon.name, tuple(rows), coupon.identity)


def random_wood(rng: np.random.Generator, ring: np.ndarray, lip: np.ndarray, azimuth: FloatArray) -> FloatArray:
    """Effects (2, cells) of ring and wood as the priors have them; a stroke has one of each."""
    around = np.isfinite(azimuth)
    azimuth = np.where(around, azimuth, 0.0)
    level = np.where(around, LOCAL[0], float(np.sqrt(sum(v * v for v in LOCAL))))
    out = np.zeros((2, len(ring)))
    for k in range(2):
        out[k] += RING * rng.standard_normal(ring.max() + 1)[ring]
        draws = rng.standard_normal((ring.max() + 1, 2, 1 + 2 * (len(LOCAL) - 1)))[ring, lip]
        out[k] += level * draws[:, 0]
        for m, size in enumerate(LOCAL[1:], 1):
            out[k] += (
                around * size * (draws[:, 2 * m - 1] * np.cos(m * azimuth) + draws[:, 2 * m] * np.sin(m * azimuth))
            )
    return out


def _written(fuzz: int, tear: int) -> tuple[int, str]:
    """Grade and letter that stand on the form for what is seen of both."""
    grade = max(fuzz, tear)
    if grade == 0:
        return 0, ""
    if fuzz == tear or min(fuzz, tear) >= 2:
        return grade, "b"
    return grade, "f" if fuzz > tear else "t"
