"""The bit's outline as a polyline, and where a flute's edge stands about the spindle axis.

`radii` is (n,), the radius at each knot, of a bit whose flutes are all alike and lie in axial planes; or a table (n, m)
of one whose flutes stand at an azimuth that depends on height, or are uneven. Its first column is the radius, three
more hold bounds (in the first row), and of each flute five follow, good from their knot to the next: with x the height
above the knot and r the radius there and r_k at the knot,

    lag = LAG + PER_HEIGHT x + PER_LOG ln(r / r_k)      counted against the rotation [rad]

and how far the edge stays within the outline (BACK) and its tip stands above the bit's (RAISED). What a kernel does for
a table is left out, when it is compiled, where the radii are alone: `radii.ndim` is known then.
"""

from __future__ import annotations

import math

from .axis import FULL
from .columns import BACK, FIRST, LAG, PER_FLUTE, PER_HEIGHT, PER_LOG, RAISED
from .compiled import njit

__all__ = []


@njit(cache=True)
def knot_radius(radii, k):
    """Radius at a knot."""
    if radii.ndim == 1:
        return radii[k]
    return radii[k, 0]


@njit(cache=True)
def profile_radius(heights, radii, h):
    """r(h) of a polyline outline; 0 below the tip, constant above the last knot."""
    n = heights.shape[0]
    if h < 0.0:
        return 0.0
    if h >= heights[n - 1]:
        return knot_radius(radii, n - 1)
    lo, hi = 0, n - 1
    while hi - lo > 1:
        mid = (lo + hi) // 2
        if heights[mid] <= h:
            lo = mid
        else:
            hi = mid
    low, high = knot_radius(radii, lo), knot_radius(radii, hi)
    return low + (high - low) * (h - heights[lo]) / (heights[hi] - heights[lo])


@njit(cache=True)
def disc_radius(heights, radii, h):
    """Radius of what a bit clears at height h above its tip: as `profile_radius`, but a tip flat just touching is 0."""
    return profile_radius(heights, radii, h - 1e-12)


@njit(cache=True)
def profile_slope(heights, radii, h):
    """dr/dh of the outline just below h: tan of the flank's lean."""
    n = heights.shape[0]
    k, stop = 1, n
    while k < stop:
        middle = (k + stop) // 2
        if heights[middle] < h - 1e-12:
            k = middle + 1
        else:
            stop = middle
    if k == n:
        return 0.0
    return (knot_radius(radii, k) - knot_radius(radii, k - 1)) / (heights[k] - heights[k - 1])


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
def flute_rise(radii, flute):
    """How far a flute's tip stands above the bit's."""
    if radii.ndim == 1:
        return 0.0
    return radii[0, FIRST + PER_FLUTE * flute + RAISED]


@njit(cache=True)
def flute_law(heights, radii, flute, h):
    """Radius and lag of a flute's edge about the cutter's own axis, and how both change with height just below h."""
    if radii.ndim == 1:
        return profile_radius(heights, radii, h), 0.0, profile_slope(heights, radii, h), 0.0
    at = FIRST + PER_FLUTE * flute
    own = h - radii[0, at + RAISED]
    lo, hi = 0, heights.shape[0]
    while hi - lo > 1:
        mid = (lo + hi) // 2
        if heights[mid] <= own:
            lo = mid
        else:
            hi = mid
    r, slope = profile_radius(heights, radii, own), profile_slope(heights, radii, own)
    x = max(own - heights[lo], 0.0)
    lag, turns = radii[lo, at + LAG] + radii[lo, at + PER_HEIGHT] * x, radii[lo, at + PER_HEIGHT]
    if radii[lo, at + PER_LOG] != 0.0 and own > 0.0:
        lag += radii[lo, at + PER_LOG] * math.log(r / radii[lo, 0])
        turns += radii[lo, at + PER_LOG] * slope / r
    r -= radii[0, at + BACK]
    if r <= 0.0:
        r, slope = 0.0, 0.0
    return r, lag, slope, turns


@njit(cache=True)
def own_radius(heights, radii, flute, h):
    """Radius of a flute's edge about the cutter's own axis."""
    if radii.ndim == 1:
        return profile_radius(heights, radii, h)
    r, _, _, _ = flute_law(heights, radii, flute, h)
    return r


@njit(cache=True)
def own_slope(heights, radii, flute, h):
    """dr/dh of a flute's edge just below h."""
    return profile_slope(heights, radii, h - flute_rise(radii, flute))


@njit(cache=True)
def edge_of(job, heights, radii, flute, h, r):
    """`edge` of a flute at the height h, where the bit's radius is r; its angle runs on beyond a half turn."""
    if radii.ndim == 1:
        return edge(job, flute, r)
    own, lag, _, _ = flute_law(heights, radii, flute, h)
    rho = job[3]
    if rho == 0.0:
        return own, lag
    aside = job[4] - FULL * flute / job[2] - lag
    x, y = own + rho * math.cos(aside), rho * math.sin(aside)
    return math.hypot(x, y), lag + math.atan2(y, x)


@njit(cache=True)
def edge_growth(job, heights, radii, flute, h):
    """How radius and angle of `edge_of` change with height just below h, where the flute's azimuth depends on it."""
    r, lag, slope, turns = flute_law(heights, radii, flute, h)
    aside = job[4] - FULL * flute / job[2] - lag
    # in the frame of the edge's own direction: z = r + rho e^(i aside), dz/dh = slope + i r turns
    x, y = r + job[3] * math.cos(aside), job[3] * math.sin(aside)
    square = x * x + y * y
    if square == 0.0:
        return 0.0, 0.0
    return (x * slope + y * r * turns) / math.sqrt(square), (x * r * turns - y * slope) / square


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
        rate = 0.0
        if j < n - 1:
            rate = (knot_radius(radii, j + 1) - knot_radius(radii, j)) / (heights[j + 1] - heights[j])
        if j < n - 1 and heights[j + 1] < low - 1e-12:
            continue
        least, most = min(least, rate), max(most, rate)
    return min(least, most), most


@njit(cache=True)
def rim_table(job, heights, radii, levels, out):
    """Radius about the spindle axis and angle of every flute's edge at some heights, (flutes, heights, 2)."""
    for j in range(out.shape[0]):
        for i in range(levels.shape[0]):
            r = profile_radius(heights, radii, levels[i])
            out[j, i, 0], out[j, i, 1] = edge_of(job, heights, radii, j, levels[i], r)
