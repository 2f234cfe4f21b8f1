"""How fast a machine may take the joints of a path, and what its acceleration leaves of that."""

from __future__ import annotations

import math

from .compiled import njit

__all__ = []

SIDES = (2, 3, 4, 6, 8)
"""Numbers of sides, before a joint and behind it, that are tried as one line each."""


@njit(cache=True)
def circle(room, gap, total):
    """Radius of the circle on two sides that turn by `total` and have so much room, missing the vertex by the gap."""
    # gap / tan(total / 4) is R tan(total / 2) of the circle that misses the vertex by the gap
    return min(room, gap / math.tan(total / 4.0)) * math.tan((math.pi - total) / 2.0)


@njit(cache=True)
def joint_radii(station, swept, turn, points, arcs, gaps, neighbours, straight, rounded, radii):
    """Fill the radius of the largest circle inscribed in each joint that misses the vertex by no more than each gap.

    `station` (n,): joints along the path in space, increasing [mm]; `turn` (n,): how far each turns, in (0, pi];
    `swept`, `arcs` (n,): all turning of the path before it, and that of its arcs alone [rad]; `points` (n, 3): where
    the joints are [mm]; `gaps` (g,): may be infinite [mm]; `radii` (g, n). A circle may span up to 2 `neighbours` - 1
    joints; or those between 2 to 8 sides before a joint and behind it, which are one line each but for `rounded` [mm].
    """
    n = len(station)
    for i in range(n):
        for g in range(len(gaps)):
            radii[g, i] = 0.0
        for k in range(1, neighbours + 1):
            before = station[i] - station[i - k] if i >= k else math.inf
            behind = station[i + k] - station[i] if i + k < n else math.inf
            # finite: a joint that turns right back has no circle, however long its sides
            room = min(min(before, behind) / 2.0, 1e12)
            # the joints from k - 1 before to k - 1 after share the circle
            total = turn[i]
            if k > 1:
                low, high = max(i - k + 1, 0), min(i + k - 1, n - 1)
                total = swept[high] + turn[high] - swept[low]
            total = min(max(total, straight), math.pi)
            for g in range(len(gaps)):
                radii[g, i] = max(radii[g, i], circle(room, gaps[g], total))
    for k in SIDES:
        for low in range(n - 2 * k):
            i, high = low + k, low + 2 * k
            if arcs[high] - arcs[low] >= straight:
                continue
            # of a curve few are left after a look at the middles
            if not (near_chord(points, low, i, low + k // 2, rounded)):
                continue
            if not (near_chord(points, i, high, i + k // 2, rounded)):
                continue
            fits = True
            for j in range(low + 1, i):
                fits = fits and near_chord(points, low, i, j, rounded) and near_chord(points, i, high, j + k, rounded)
                if not fits:
                    break
            if not fits:
                continue
            first, second = distance(points, low, i), distance(points, i, high)
            apart = together = 0.0
            for c in range(3):
                one = (points[i, c] - points[low, c]) / first
                two = (points[high, c] - points[i, c]) / second
                apart += (two - one) * (two - one)
                together += (two + one) * (two + one)
            total = min(max(2.0 * math.atan2(math.sqrt(apart), math.sqrt(together)), straight), math.pi)
            for g in range(len(gaps)):
                radii[g, i] = max(radii[g, i], circle(min(first, second) / 2.0, gaps[g], total))


@njit(cache=True)
def distance(points, i, j):
    """Between two points, never 0. [mm]"""
    x, y, z = points[j, 0] - points[i, 0], points[j, 1] - points[i, 1], points[j, 2] - points[i, 2]
    return max(math.sqrt(x * x + y * y + z * z), 1e-300)


@njit(cache=True)
def near_chord(points, low, high, at, rounded):
    """Whether a point lies on the line through two others, but for `rounded`. [mm]"""
    size = distance(points, low, high)
    u, v, w = (
        (points[high, 0] - points[low, 0]) / size,
        (points[high, 1] - points[low, 1]) / size,
        (points[high, 2] - points[low, 2]) / size,
    )
    a, b, c = points[at, 0] - points[low, 0], points[at, 1] - points[low, 1], points[at, 2] - points[low, 2]
    f, g, h = v * c - w * b, w * a - u * c, u * b - v * a
    return math.sqrt(f * f + g * g + h * h) <= rounded


@njit(cache=True)
def hold_back(square, gain):
    """Lower squares of the speeds at joints (n + 1,) to what gains of n pieces allow, forwards and backwards."""
    for k in range(len(gain)):
        square[k + 1] = min(square[k + 1], square[k] + gain[k])
    for k in range(len(gain) - 1, -1, -1):
        square[k] = min(square[k], square[k + 1] + gain[k])
