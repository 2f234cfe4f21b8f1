r"""Ordinal grades on a latent scale: likelihood, its curvature, and the most probable parameters.

Proportional odds: with cut points c_1 < ... < c_4 and noise s, P(y <= k) = F((c_{k+1} - eta) / s), F the logistic
curve. A grade may be known to lie between two only ("tear at most 1"). All parameters are standardised so that their
priors are standard normal; the mode is found with scipy.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import NamedTuple

import numpy as np
from scipy.special import expit

from ..errors import ConvergenceError
from .arrays import FloatArray

__all__ = ["Mode", "Terms", "bounded", "interval_terms", "least", "mode_of", "probabilities", "spread_scale"]

_FAR = 700.0  # stands for an infinite bound
_SETTLED = 1e-2  # slope at the mode, in units of the prior's curvature
_LEAST = 0.8  # curvature, in units of the prior's


class Terms(NamedTuple):
    """Minus the log likelihood of each grade, with its slopes and curvatures in the upper and lower bound, (n,)."""

    loss: FloatArray
    upper: FloatArray
    lower: FloatArray
    upper_upper: FloatArray
    upper_lower: FloatArray
    lower_lower: FloatArray


class Mode(NamedTuple):
    """Most probable parameters (m,), and the curvature (m, m) there, prior included."""

    parameters: FloatArray
    curvature: FloatArray
    loss: float


def interval_terms(upper: FloatArray, lower: FloatArray) -> Terms:
    """-log(F(a) - F(b)) for a > b, F logistic; infinite bounds allowed.

    F(a) - F(b) = F(a) F(-b) (1 - exp(b - a)), which loses nothing in the tails.
    """
    a, b = np.clip(upper, -_FAR, _FAR), np.clip(lower, -_FAR, _FAR)
    gap = np.maximum(a - b, 1e-9)
    fa, fb = expit(a), expit(b)
    with np.errstate(over="ignore"):
        q = 1.0 / np.expm1(np.minimum(gap, _FAR))
    r = q * (1.0 + q)
    loss = np.logaddexp(0.0, -a) + np.logaddexp(0.0, b) - np.log(-np.expm1(-gap))
    return Terms(loss, fa - 1.0 - q, fb + q, fa * (1 - fa) + r, -r, fb * (1 - fb) + r)


def probabilities(eta: FloatArray, cuts: FloatArray, scale: FloatArray | float) -> FloatArray:
    """Chances (n, 5) of the grades 0 to 4 for latents (n,), cut points (4,) and noise [latent units]."""
    inner = expit((cuts - np.asarray(eta)[:, None]) / np.broadcast_to(scale, np.shape(eta))[:, None])
    below = np.concatenate([np.zeros((len(inner), 1)), inner, np.ones((len(inner), 1))], axis=1)
    return np.asarray(np.maximum(np.diff(below, axis=1), 0.0))


def spread_scale(scale: FloatArray | float, variance: FloatArray | float) -> FloatArray:
    """Noise of a logistic curve that stands for the same noise plus a normal error of the latent.

    Variances add: that of the logistic is pi^2 s^2 / 3.
    """
    return np.sqrt(np.asarray(scale) ** 2 + 3.0 * np.asarray(variance) / np.pi**2)


def mode_of(
    terms: Callable[[FloatArray], tuple[float, FloatArray, FloatArray]],
    value: Callable[[FloatArray], float],
    start: FloatArray,
) -> Mode:
    """Minimum of a loss with curvature.

    Parameters
    ----------
    terms
        p -> loss, slope (m,), curvature (m, m).
    value
        p -> loss alone.
    start
        (m,) where to begin.

    Raises
    ------
    ConvergenceError
        If the slope does not vanish.
    """
    from scipy.optimize import minimize  # here, so that a map without draws does not load it

    at: dict[bytes, tuple[float, FloatArray, FloatArray]] = {}

    def all_of(p: FloatArray) -> tuple[float, FloatArray, FloatArray]:
        key = p.tobytes()
        if key not in at:
            at.clear()
            at[key] = terms(p)
        return at[key]

    found = minimize(
        value,
        start,
        method="trust-exact",
        jac=lambda p: all_of(p)[1],
        hess=lambda p: all_of(p)[2],
        options={"gtol": 1e-4, "maxiter": 60, "initial_trust_radius": 2.0, "max_trust_radius": 20.0},
    )
    loss, slope, curvature = all_of(np.asarray(found.x))
    if not np.abs(slope).max(initial=0.0) < _SETTLED:
        raise ConvergenceError(f"the fit does not settle: slope {np.abs(slope).max():.3g}; report this")
    return Mode(np.asarray(found.x), bounded(curvature), loss)


def least(loss: Callable[[float], float], low: float, high: float) -> float:
    """Place of the least of a smooth loss with one valley between two ends, to a hundredth."""
    from scipy.optimize import minimize_scalar

    return float(minimize_scalar(loss, bounds=(low, high), method="bounded", options={"xatol": 0.01}).x)


def bounded(curvature: FloatArray) -> FloatArray:
    """The curvature, with no direction much less certain than its prior.

    Grades do not make anything less certain than it was: what looks so is the curve's bend far from a normal one.
    """
    values, vectors = np.linalg.eigh(curvature)
    if values[0] >= _LEAST:
        return curvature
    return np.asarray((vectors * np.maximum(values, _LEAST)) @ vectors.T)
