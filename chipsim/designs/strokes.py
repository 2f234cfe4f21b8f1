"""Lines, Bézier curves and arcs of ellipses, and how they become the lines and circular arcs of a path."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Any

import numpy as np
from numpy.typing import ArrayLike

from .._shared.arrays import FloatArray
from ..errors import DomainError
from ..scene.biarcs import Curve, arcs_through, lay_out
from ..scene.paths import DepthFunction, Path

__all__ = ["Bezier", "EllipticArc", "Figure", "Laid", "chained", "moved_by", "path_of", "sweep_limit"]

_SAMPLES = 15
"""Points of a span at which the distance of a curve from its arcs is looked at; `curve` of a user's own takes 7."""

_ROUNDS = 40
"""Most times that a span is halved: 14 are enough for all but the neighbourhood of a cusp."""

_FIT = 0.9
"""Share of the tolerance that is used between the points that are looked at. [-]"""

_PART = 120.0
"""Circular arcs are laid out in parts that turn by no more. [deg]"""

Laid = tuple[FloatArray, FloatArray]
"""Vertices (m, 2) after the first [mm], and the sweeps (m,) of the pieces that end there [deg]."""


@dataclass(frozen=True, eq=False)
class Bezier:
    """A line or a Bézier curve, by its 2, 3 or 4 control points (k, 2)."""

    control: FloatArray

    def moved(self, matrix: FloatArray) -> Bezier:
        """Under an affine map, (3, 3)."""
        return Bezier(moved_by(matrix, self.control))

    @property
    def start(self) -> FloatArray:
        """First point, (2,)."""
        return np.asarray(self.control[0])

    @property
    def end(self) -> FloatArray:
        """Last point, (2,)."""
        return np.asarray(self.control[-1])

    def laid_out(self, tolerance: float) -> Laid:
        """Tangent arcs within the tolerance; lines if it is straight, there and back if it doubles back on itself."""
        c = self.control
        if len(c) == 2:
            return c[1:], np.zeros(1)
        out = c - c[0]
        far = out[int(np.argmax(np.hypot(*out.T)))]
        reach = float(np.hypot(*far))
        if reach == 0:
            return np.empty((0, 2)), np.empty(0)
        along = far / reach
        if np.abs(out[:, 0] * along[1] - out[:, 1] * along[0]).max() <= tolerance / 10:
            way = _polynomial(out @ along)
            turns = _roots(np.polyder(way))
            at = np.append(turns, 1.0)
            return np.vstack([_points(c, turns), c[-1]]), np.zeros(len(at))
        parts = [part._smooth(tolerance) for part in self._parted(reach)]
        return np.vstack([p for p, _ in parts]), np.concatenate([s for _, s in parts])

    def _parted(self, reach: float) -> list[Bezier]:
        """Parts that do not stop between their ends: a cubic may have a cusp."""
        x, y = (np.polyder(_polynomial(v)) for v in self.control.T)
        slow = np.polyadd(np.polymul(x, np.polyder(x)), np.polymul(y, np.polyder(y)))
        at = _roots(slow)
        speed = np.hypot(np.polyval(x, at), np.polyval(y, at))
        parts, rest, low = [], self.control, 0.0
        for t in at[np.asarray(speed <= 1e-7 * reach)]:
            first, rest = _divided(rest, (t - low) / (1 - low))
            parts.append(Bezier(first))
            low = t
        return [*parts, Bezier(rest)]

    def _smooth(self, tolerance: float) -> Laid:
        c = self.control
        size = np.hypot(*(c - c[0]).T).max()

        def limit(order: FloatArray) -> FloatArray:
            # where the curve stands still for a moment it leaves towards the first control point that is elsewhere
            away = order - order[0]
            return np.asarray(away[int(np.argmax(np.hypot(*away.T) > 1e-6 * size))])

        first, last = limit(c), -limit(c[::-1])
        slopes = np.diff(c, axis=0) * (len(c) - 1)

        def tangents(t: FloatArray) -> FloatArray:
            v = _points(slopes, t)
            v[t <= 0.0], v[t >= 1.0] = first, last
            return np.asarray(v / np.maximum(np.hypot(*v.T), 1e-300)[:, None])

        return _fitted(lambda t: _points(c, t), tangents, 2, tolerance)


@dataclass(frozen=True, eq=False)
class EllipticArc:
    """Part of an ellipse: centre + axes @ (cos a, sin a), a from `start` on over `turn` [rad]; axes (2, 2)."""

    centre: FloatArray
    axes: FloatArray
    begin: float
    turn: float
    start: FloatArray
    end: FloatArray

    @classmethod
    def of(cls, centre: ArrayLike, axes: ArrayLike, begin: float, turn: float) -> EllipticArc:
        """The arc by its shape alone; a whole turn ends where it starts."""
        c, m = np.asarray(centre, dtype=float), np.asarray(axes, dtype=float)
        first, last = (c + m @ [np.cos(a), np.sin(a)] for a in (begin, begin + turn))
        return cls(c, m, begin, turn, first, first if abs(turn) == 2 * np.pi else last)

    def moved(self, matrix: FloatArray) -> EllipticArc:
        """Under an affine map, (3, 3): skew and uneven scale make an ellipse of a circle."""
        centre, start, end = moved_by(matrix, np.array([self.centre, self.start, self.end]))
        return EllipticArc(centre, matrix[:2, :2] @ self.axes, self.begin, self.turn, start, end)

    def _at(self, t: FloatArray) -> FloatArray:
        a = self.begin + self.turn * t
        return np.asarray(self.centre + np.column_stack([np.cos(a), np.sin(a)]) @ self.axes.T)

    def laid_out(self, tolerance: float) -> Laid:
        """Exact arcs of a circle, tangent ones of another ellipse, lines of one without width."""
        along, (long, short), _ = np.linalg.svd(self.axes)
        if long - short <= 1e-9 * long:
            sense = float(np.sign(np.linalg.det(self.axes)))
            parts = max(1, int(np.ceil(abs(np.degrees(self.turn)) / _PART - 1e-9)))
            xy = self._at(np.arange(1, parts + 1) / parts)
            xy[-1] = self.end
            return xy, np.full(parts, sense * np.degrees(self.turn) / parts)
        if short <= tolerance / 10:
            # there and back along the long axis: the ends of it that the arc goes through
            peak = np.arctan2(*(along[:, 0] @ self.axes)[::-1])
            k = (peak + np.pi * np.arange(-20, 21) - self.begin) / self.turn
            turns = np.sort(k[(k > 1e-12) & (k < 1 - 1e-12)])
            return np.vstack([self._at(turns), self.end]), np.zeros(len(turns) + 1)

        def tangents(t: FloatArray) -> FloatArray:
            a = self.begin + self.turn * t
            v = np.sign(self.turn) * np.column_stack([-np.sin(a), np.cos(a)]) @ self.axes.T
            return np.asarray(v / np.hypot(*v.T)[:, None])

        xy, sweeps = _fitted(self._at, tangents, int(np.ceil(abs(self.turn) / (np.pi / 4) - 1e-9)), tolerance)
        xy[-1] = self.end
        return xy, sweeps


Stroke = Bezier | EllipticArc


@dataclass(frozen=True, eq=False)
class Figure:
    """Strokes each of which starts where the one before ends; `closed`: the last end is joined to the first start."""

    strokes: tuple[Stroke, ...]
    closed: bool = False

    def moved(self, matrix: FloatArray) -> Figure:
        """Under an affine map, (3, 3)."""
        return Figure(tuple(s.moved(matrix) for s in self.strokes), self.closed)

    def laid_out(self, tolerance: float) -> Laid:
        """Vertices (m + 1, 2) [mm], the first one too, and sweeps (m,) [deg]."""
        parts = [s.laid_out(tolerance) for s in self.strokes]
        xy = np.vstack([self.strokes[0].start, *(p for p, _ in parts)])
        return xy, np.concatenate([np.empty(0), *(s for _, s in parts)])


def chained(points: FloatArray, *, closed: bool = False) -> Figure:
    """Lines through points (n, 2)."""
    return Figure(tuple(Bezier(np.array(pair)) for pair in pairwise(points)), closed)


def moved_by(matrix: FloatArray, points: FloatArray) -> FloatArray:
    """Points (n, 2) under an affine map, (3, 3)."""
    return np.asarray(points @ matrix[:2, :2].T + matrix[:2, 2])


# --- curves -----------------------------------------------------------------------------------------------------------


def _points(control: FloatArray, t: FloatArray) -> FloatArray:
    """Points (k, 2) of a Bézier curve, by de Casteljau's construction."""
    level = np.repeat(control[:, None], len(t), axis=1)
    while len(level) > 1:
        level = level[:-1] + (level[1:] - level[:-1]) * t[:, None]
    return np.asarray(level[0])


def _divided(control: FloatArray, t: float) -> tuple[FloatArray, FloatArray]:
    """Control points of both parts of a Bézier curve."""
    level, first, last = control, [control[0]], [control[-1]]
    while len(level) > 1:
        level = level[:-1] + (level[1:] - level[:-1]) * t
        first.append(level[0])
        last.append(level[-1])
    return np.array(first), np.array(last[::-1])


def _polynomial(c: FloatArray) -> FloatArray:
    """Coefficients, highest power first, of a Bézier curve's coordinate."""
    if len(c) == 3:
        return np.array([c[0] - 2 * c[1] + c[2], 2 * (c[1] - c[0]), c[0]])
    return np.array([c[3] - 3 * c[2] + 3 * c[1] - c[0], 3 * (c[2] - 2 * c[1] + c[0]), 3 * (c[1] - c[0]), c[0]])


def _roots(polynomial: Any) -> FloatArray:
    """Real roots between 0 and 1, each once, in order; of a double root also what rounding makes of it."""
    size = np.abs(polynomial).max(initial=0.0)
    if size == 0:
        return np.empty(0)
    with np.errstate(over="ignore", divide="ignore", invalid="ignore"):
        roots = np.roots(np.where(np.abs(polynomial) < 1e-14 * size, 0.0, polynomial))
    real = np.sort(roots.real[np.abs(roots.imag) < 1e-6])
    real = real[(real > 1e-9) & (real < 1 - 1e-9)]
    return real[np.append(True, np.diff(real) > 1e-9)] if real.size else real


def _fitted(points: Curve, tangents: Curve, spans: int, tolerance: float) -> Laid:
    xy, sweeps = lay_out(
        points,
        tangents,
        np.linspace(0.0, 1.0, spans + 1),
        _FIT * tolerance,
        samples=_SAMPLES,
        rounds=_ROUNDS,
        corners=True,
        name="a curve",
    )
    turn = np.degrees(sweeps)
    turn[np.abs(turn) < 1e-10] = 0.0
    return xy[1:], turn


# --- from figures to paths --------------------------------------------------------------------------------------------


def path_of(
    laid: Laid,
    depth: ArrayLike | DepthFunction,
    tolerance: float,
    *,
    closed: bool = False,
    each: FloatArray | None = None,
    smooth: float = 0.0,
    name: str = "",
) -> Path | None:
    """The path along vertices (m + 1, 2) and sweeps (m,) [deg], or None if it goes nowhere.

    Parameters
    ----------
    laid
        As from `Figure.laid_out`.
    depth
        Of the tip, as in `Path.with_depth`, unless `each` is given. [mm]
    tolerance
        Points nearer to each other than a tenth of it are one; so are both ends of a figure that is closed. [mm]
    closed
        Whether the last vertex is joined to the first; one that ends where it starts is closed in any case.
    each
        Depth at each vertex (m + 1,). [mm]
    smooth
        Lines that meet under less than this become arcs through the same points; 0 leaves them. [deg]
    name
        Of the path.
    """
    xy, sweeps = laid
    xyz = np.column_stack([xy, np.zeros(len(xy)) if each is None else each])
    near = tolerance / 10
    keep = [0]
    for i in range(1, len(xyz)):
        if np.abs(xyz[i] - xyz[keep[-1]]).max() > near:
            keep.append(i)
    xyz, sweeps = xyz[keep], sweeps[np.array(keep[1:], dtype=int) - 1]
    meets = len(xyz) > 2 and np.abs(xyz[-1] - xyz[0]).max() <= near
    if meets:
        xyz = xyz[:-1]
    elif closed and len(xyz) > 2:
        sweeps = np.append(sweeps, 0.0)
    shut = meets or (closed and len(xyz) > 2)
    if len(xyz) < 2:
        return None
    if smooth:
        xyz, sweeps = _smoothed(xyz, sweeps, shut, smooth)
    shape = Path(xyz[:, :2], xyz[:, 2], sweep=sweeps, closed=shut, name=name)
    return shape if each is not None else shape.with_depth(depth, tolerance=tolerance)


def sweep_limit(smooth: object) -> float:
    """Largest turn between lines that `smooth` takes for part of a curve; 0 if it asks for none. [deg]"""
    if smooth is True:
        return 30.0
    if smooth is False:
        return 0.0
    if isinstance(smooth, (int, float, np.number)) and 0 <= float(smooth) <= 90:
        return float(smooth)
    raise DomainError(f"smooth must be True, False or an angle in [0, 90] deg, got {smooth!r:.60}")


def _smoothed(xyz: FloatArray, sweeps: FloatArray, closed: bool, limit: float) -> tuple[FloatArray, FloatArray]:
    """Arcs through the vertices of every run of lines, parted where they meet under more than the limit."""
    count = len(xyz)
    after = np.arange(1, len(sweeps) + 1) % count
    chord = xyz[after, :2] - xyz[: len(sweeps), :2]
    straight = (sweeps == 0) & (np.hypot(*chord.T) > 0)
    heading = np.arctan2(chord[:, 1], chord[:, 0])
    # joint k: between piece k and the next
    ahead = np.roll(np.arange(len(sweeps)), -1)
    turn = np.abs((heading[ahead] - heading + np.pi) % (2 * np.pi) - np.pi)
    soft = straight & straight[ahead] & (np.degrees(turn) <= limit)
    if not closed:
        soft[-1] = False
    if soft.all():
        vertices, turns = arcs_through(xyz[:, :2], closed=True)
        runs: Sequence[np.ndarray] = [np.arange(count + 1) % count]
        return _with_depths(xyz, runs, [(vertices, turns)], closed)
    # begin behind a hard joint, so that no run goes over the seam
    first = int(np.flatnonzero(~soft)[-1] + 1) % len(sweeps) if closed else 0
    order = (first + np.arange(len(sweeps))) % len(sweeps)
    cuts = np.flatnonzero(~soft[order]) + 1
    runs, laid = [], []
    for pieces in np.split(order, cuts):
        if not pieces.size:
            continue
        run = np.append(pieces, (pieces[-1] + 1) % count)
        runs.append(run)
        if len(pieces) > 1:
            laid.append(arcs_through(xyz[run, :2], closed=False))
        else:
            laid.append((xyz[run, :2], np.radians(sweeps[pieces])))
    return _with_depths(xyz, runs, laid, closed)


def _with_depths(
    xyz: FloatArray, runs: Sequence[np.ndarray], laid: Sequence[Laid], closed: bool
) -> tuple[FloatArray, FloatArray]:
    """Vertices with depths, linear along the two arcs between two points, and sweeps [deg] of all runs in a row."""
    vertices, sweeps = [], []
    for run, (xy, turns) in zip(runs, laid, strict=True):
        depth = xyz[run, 2]
        if len(xy) > len(run):
            span = np.hypot(*np.diff(xy, axis=0).T) / np.sinc(turns / (2 * np.pi))
            share = span[0::2] / (span[0::2] + span[1::2])
            middle = depth[:-1] + np.diff(depth) * share
            depth = np.insert(depth, np.arange(1, len(depth)), middle)
        vertices.append(np.column_stack([xy, depth])[:-1])
        sweeps.append(np.degrees(turns))
    whole = np.vstack(vertices)
    if not closed:
        whole = np.vstack([whole, xyz[runs[-1][-1]]])
    turn = np.concatenate(sweeps)
    turn[np.abs(turn) < 1e-9] = 0.0
    return whole, turn
