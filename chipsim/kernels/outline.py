"""The bit's outline as a polyline, and the radius of a flute's edge about the spindle axis."""

from __future__ import annotations

import math

from .axis import FULL
from .compiled import njit

__all__ = []


@njit(cache=True)
def profile_radius(heights, radii, h):
    """r(h) of a polyline outline; 0 below the tip, constant above the last knot."""
    n = heights.shape[0]
    if h < 0.0:
        return 0.0
    if h >= heights[n - 1]:
        return radii[n - 1]
    lo, hi = 0, n - 1
    while hi - lo > 1:
        mid = (lo + hi) // 2
        if heights[mid] <= h:
            lo = mid
        else:
            hi = mid
    return radii[lo] + (radii[hi] - radii[lo]) * (h - heights[lo]) / (heights[hi] - heights[lo])


@njit(cache=True)
def disc_radius(heights, radii, h):
    """Radius of what a bit clears at height h above its tip: as `profile_radius`, but a tip flat just touching is 0."""
    return profile_radius(heights, radii, h - 1e-12)


@njit(cache=True)
def profile_slope(heights, radii, h):
    """dr/dh of the outline just below h: tan of the flank's lean."""
    n = heights.shape[0]
    k = 1
    while k < n and heights[k] < h - 1e-12:
        k += 1
    if k == n:
        return 0.0
    return (radii[k] - radii[k - 1]) / (heights[k] - heights[k - 1])


@njit(cache=True)
def edge(job, flute, r):
    """Radius of a flute about the spindle axis, and its angle beyond 2 pi j / flutes, with exact runout."""
    rho = job[3]
    if rho == 0.0:
        return r, 0.0
    lag = job[4] - FULL * flute / job[2]
    x = r + rho * math.cos(lag)
    y = rho * math.sin(lag)
    return math.hypot(x, y), math.atan2(y, x)


@njit(cache=True)
def steepest(heights, radii, low, high):
    """Least and largest dr/dh of the outline between two heights."""
    n = heights.shape[0]
    least, most = 1e300, 0.0
    first, stop = 0, n - 1
    while stop - first > 1:
        middle = (first + stop) // 2
        if heights[middle] <= low - 1e-12:
            first = middle
        else:
            stop = middle
    for j in range(first, n):
        if heights[j] > high + 1e-12:
            break
        rate = (radii[j + 1] - radii[j]) / (heights[j + 1] - heights[j]) if j < n - 1 else 0.0
        if j < n - 1 and heights[j + 1] < low - 1e-12:
            continue
        least, most = min(least, rate), max(most, rate)
    return min(least, most), most
