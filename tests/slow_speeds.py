"""The circles inscribed in the joints of a path by numpy, all joints and sides in arrays: the slow way."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from chipsim._shared.arrays import FloatArray
from chipsim.scene.machine import _NEIGHBOURS, _ROUNDED, _STRAIGHT, _angles


def slow_radii(station, swept, turn, points, arcs, gaps):
    """Radii (gaps, n) as `speeds.joint_radii` fills them."""
    plain = _plain_radii(points, arcs, gaps)
    return np.stack([np.maximum(_radii(station, swept, turn, g), p) for g, p in zip(gaps, plain, strict=True)])


def _radii(station: FloatArray, swept: FloatArray, turn: FloatArray, gap: float) -> FloatArray:
    """Radius of the largest circle inscribed in each joint that misses the vertex by no more than the gap. [mm]

    `station` (n,): joints along the path in space, increasing [mm]; `turn` (n,): how far each turns, in (0, pi];
    `swept` (n,): all turning of the path before it, arcs included [rad]; `gap`: may be infinite [mm].
    """
    n, pad = len(station), _NEIGHBOURS
    beside = np.concatenate([np.full(pad, -np.inf), station, np.full(pad, np.inf)])
    before, after = np.pad(swept, pad, mode="edge"), np.pad(swept + turn, pad, mode="edge")
    radius = np.zeros(n)
    for k in range(1, pad + 1):
        room = np.minimum(station - beside[pad - k : n + pad - k], beside[pad + k : n + pad + k] - station) / 2
        room = np.minimum(room, 1e12)  # finite: a joint that turns right back has no circle, however long its sides
        # The joints from k - 1 before to k - 1 after share the circle
        total = turn if k == 1 else after[pad + k - 1 : n + pad + k - 1] - before[pad - k + 1 : n + pad - k + 1]
        total = np.clip(total, _STRAIGHT, np.pi)
        # gap / tan(total / 4) is R tan(total / 2) of the circle that misses the vertex by the gap
        radius = np.maximum(radius, np.minimum(room, gap / np.tan(total / 4)) * np.tan((np.pi - total) / 2))
    return radius


def _plain_radii(points: FloatArray, arcs: FloatArray, gaps: Sequence[float]) -> list[FloatArray]:
    """As `_radii` for each of some gaps, where 2 to 8 sides before a joint and behind it are one line each, or 0.

    But for rounding. `points` (n, 3): where the joints are [mm]; `arcs` (n,): turning of the arcs before them [rad].
    """
    n = len(points)
    radii, columns = [np.zeros(n) for _ in gaps], np.ascontiguousarray(points.T)
    for k in (2, 3, 4, 6, 8):
        # joints k to n - k have enough beside them; of a curve few are left after a look at the middles
        at = np.flatnonzero(arcs[2 * k :] - arcs[: max(n - 2 * k, 0)] < _STRAIGHT)
        inside = np.delete(np.arange(1, 2 * k), k - 1)
        for which in (inside[np.abs(inside % k - k / 2) < 1], inside) if k > 3 else (inside,):
            at = at[_close_to_chords(columns, at, k, which)]
        if not at.size:
            continue
        sides = [points[at + start + k] - points[at + start] for start in (0, k)]
        first, second = (np.maximum(np.linalg.norm(side, axis=1), 1e-300) for side in sides)
        turn = np.clip(_angles(sides[0] / first[:, None], sides[1] / second[:, None]), _STRAIGHT, np.pi)
        for radius, gap in zip(radii, gaps, strict=True):
            found = np.minimum(np.minimum(first, second) / 2, gap / np.tan(turn / 4)) * np.tan((np.pi - turn) / 2)
            radius[at + k] = np.maximum(radius[at + k], found)
    return radii


def _close_to_chords(columns: FloatArray, at: NDArray[np.intp], k: int, which: NDArray[np.intp]) -> NDArray[np.bool_]:
    """Whether joints at + which, of the k sides on from each of `at` or of the k behind these, lie on their chord."""
    fits = np.ones(len(at), dtype=bool)
    base = k * (which > k)
    for low in range(0, len(at), 4096):
        start = at[low : low + 4096, None] + base
        from_here = columns[:, start]
        u, v, w = columns[:, start + k] - from_here
        a, b, c = columns[:, start - base + which] - from_here
        size = np.maximum(np.sqrt(u * u + v * v + w * w), 1e-300)
        u, v, w = u / size, v / size, w / size
        f, g, h = v * c - w * b, w * a - u * c, u * b - v * a
        fits[low : low + 4096] = (np.sqrt(f * f + g * g + h * h) <= _ROUNDED).all(axis=1)
    return fits
