"""Curves laid out in pairs of arcs that meet with a common tangent, within a tolerance."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from .._shared.arrays import FloatArray
from ..errors import DomainError

__all__ = ["Curve", "arcs_through", "lay_out"]

_STEEPEST = 2.6
"""Arcs of a fit turn by less than this: a chord near zero says little about a circle. [rad]"""

Curve = Callable[[FloatArray], FloatArray]
"""Of parameters (k,): (k, 2)."""


def lay_out(
    points: Curve,
    tangents: Curve,
    t: FloatArray,
    tolerance: float,
    *,
    closed: bool = False,
    samples: int = 7,
    rounds: int = 15,
    corners: bool = False,
    name: str = "function",
) -> tuple[FloatArray, FloatArray]:
    """Vertices (2 k + 1, 2) [mm] and sweeps (2 k,) [rad] of k pairs of tangent arcs along a curve.

    Parameters
    ----------
    points, tangents
        Of parameters (k,): the curve's points (k, 2) [mm], and its directions, of length 1.
    t
        Parameters to begin with; each span between two is halved until it fits.
    tolerance
        Largest distance of the curve from the arcs. [mm]
    closed
        True when both ends are one point with one tangent.
    samples
        Points of each span at which the distance is looked at.
    rounds
        Most rounds of halving.
    corners
        True lets a span that is smaller than half the tolerance be a line, whatever the tangents there: a curve that
        turns on the spot has an end.
    name
        Of the argument, for the message.

    Raises
    ------
    DomainError
        If it does not fit after that many rounds.
    """
    for _ in range(rounds):
        xy, heading = points(t), tangents(t)
        if closed:
            xy[-1], heading[-1] = xy[0], heading[0]
        joints = _joints(xy[:-1], heading[:-1], xy[1:], heading[1:])
        sweeps = np.column_stack([_turn(heading[:-1], joints - xy[:-1]), -_turn(heading[1:], xy[1:] - joints)])
        inside = np.stack([points(t[:-1] + u * np.diff(t)) for u in np.arange(1, samples + 1) / (samples + 1)])
        with np.errstate(divide="ignore", invalid="ignore"):
            miss = _misfit(inside, xy, joints, sweeps)
        miss[(xy[:-1] == xy[1:]).all(axis=1)] = np.inf  # back where it was: a loop, or the whole of a closed curve
        if corners:
            miss[(np.abs(sweeps) > _STEEPEST).any(axis=1)] = np.inf
            small = np.hypot(*np.moveaxis(inside - xy[:-1], 2, 0)).max(axis=0) <= tolerance / 2
            small &= np.hypot(*(xy[1:] - xy[:-1]).T) <= tolerance / 2
            small &= ~(miss <= tolerance)
            joints[small], sweeps[small], miss[small] = ((xy[:-1] + xy[1:]) / 2)[small], 0.0, 0.0
        poor = ~(miss <= tolerance)
        if not poor.any():
            break
        t = np.sort(np.concatenate([t, ((t[:-1] + t[1:]) / 2)[poor]]))
    else:
        raise DomainError(
            f"{name} is not smooth enough: misses the tolerance of {tolerance:g} mm by {np.nanmax(miss):.3g} mm"
        )
    return _chained(xy, joints, sweeps)


def arcs_through(xy: FloatArray, *, closed: bool) -> tuple[FloatArray, FloatArray]:
    """Vertices [mm] and sweeps [rad] of pairs of tangent arcs through all points (n, 2), n >= 3; a circle stays one.

    The tangent at a point is that of the circle through it and its two neighbours, at an open end through the two
    next. A pair of arcs joins each point to the next.
    """
    ring = np.vstack([xy[-1], xy, xy[0]]) if closed else xy
    before, after = ring[1:-1] - ring[:-2], ring[2:] - ring[1:-1]
    # of the circle through three points the tangent at the middle one bends away from either chord by the inscribed
    # angle over the other: as complex numbers, the product of both chords over the chord across
    a, b = before[:, 0] + 1j * before[:, 1], after[:, 0] + 1j * after[:, 1]
    middle = a * b * np.conj(a + b)
    back = np.abs(middle) == 0  # the next but one point is this one again: square to both chords
    middle[back] = 1j * a[back]
    if closed:
        direction = middle
        xy = np.vstack([xy, xy[:1]])
        direction = np.append(direction, direction[0])
    else:
        # a chord halves the turn between the tangents at its ends
        first, last = a[0] ** 2 * np.conj(middle[0]), b[-1] ** 2 * np.conj(middle[-1])
        direction = np.concatenate([[first], middle, [last]])
    direction = direction / np.abs(direction)
    heading = np.column_stack([direction.real, direction.imag])
    joints = _joints(xy[:-1], heading[:-1], xy[1:], heading[1:])
    sweeps = np.column_stack([_turn(heading[:-1], joints - xy[:-1]), -_turn(heading[1:], xy[1:] - joints)])
    return _chained(xy, joints, sweeps)


def _chained(xy: FloatArray, joints: FloatArray, sweeps: FloatArray) -> tuple[FloatArray, FloatArray]:
    vertices = np.empty((2 * len(joints) + 1, 2))
    vertices[0::2], vertices[1::2] = xy, joints
    return vertices, sweeps.reshape(-1)


def _joints(p0: FloatArray, t0: FloatArray, p1: FloatArray, t1: FloatArray) -> FloatArray:
    """Joint of the biarc with equal tangent lengths (Bolton 1975, from memory): |v - d(t0 + t1)| = 2 d."""
    v = p1 - p0
    vt = np.sum(v * (t0 + t1), axis=1)
    c = 2 * (1 - np.sum(t0 * t1, axis=1))
    vv = np.sum(v * v, axis=1)
    # d solves c d^2 + 2 (v.t) d - v.v = 0; this form of the root has no cancellation for parallel tangents
    below = vt + np.sqrt(vt**2 + c * vv)
    d = np.divide(vv, below, out=np.zeros_like(vv), where=below > 0)
    return np.asarray((p0 + p1 + d[:, None] * (t0 - t1)) / 2)


def _turn(tangent: FloatArray, chord: FloatArray) -> FloatArray:
    """Sweep of the arc that leaves along `tangent` and spans `chord`: twice the angle between them. [rad]"""
    cross = tangent[:, 0] * chord[:, 1] - tangent[:, 1] * chord[:, 0]
    return np.asarray(2 * np.arctan2(cross, np.sum(tangent * chord, axis=1)))


def _misfit(inside: FloatArray, xy: FloatArray, joints: FloatArray, sweeps: FloatArray) -> FloatArray:
    """Largest distance of points (samples, spans, 2) of the curve from the two arcs of each span, (spans,). [mm]"""
    worst = np.zeros(len(joints))
    ends = np.stack([xy[:-1], joints, xy[1:]])
    for p in inside:
        # never farther than the nearest of the three vertices
        best = np.hypot(*np.moveaxis(p - ends, 2, 0)).min(axis=0)
        for half in range(2):
            a, b = ends[half], ends[half + 1]
            chord, mid = b - a, (a + b) / 2
            span = np.hypot(chord[:, 0], chord[:, 1])
            normal = np.column_stack([-chord[:, 1], chord[:, 0]]) / span[:, None]
            x = np.sum((p - mid) * chord, axis=1) / span
            y = np.sum((p - mid) * normal, axis=1)
            # Circle through both ends: y cos - k (x^2 + y^2 - span^2 / 4) is d - k d^2 at the distance d from it
            k = np.sin(sweeps[:, half] / 2) / span
            bow = y * np.cos(sweeps[:, half] / 2) - k * (x**2 + y**2 - span**2 / 4)
            away = np.abs(2 * bow / (1 + np.sqrt(np.maximum(1 - 4 * k * bow, 0.0))))
            within = np.abs(x) <= span / 2 * 1.001
            best = np.where(within, np.fmin(best, away), best)
        worst = np.maximum(worst, best)
    return worst
