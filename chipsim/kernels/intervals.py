"""Disjoint intervals on a ray, merged as they are added."""

from __future__ import annotations

from .compiled import njit

__all__ = []


@njit(cache=True)
def add_interval(cover, n, low, high):
    """Insert [low, high] into n sorted disjoint intervals; returns their new number, -1 if full."""
    if high <= low:
        return n
    i = 0
    while i < n and cover[i, 1] < low:
        i += 1
    j = i
    while j < n and cover[j, 0] <= high:
        low, high = min(low, cover[j, 0]), max(high, cover[j, 1])
        j += 1
    if j == i:
        if n == cover.shape[0]:
            return -1
        for m in range(n, i, -1):
            cover[m, 0], cover[m, 1] = cover[m - 1, 0], cover[m - 1, 1]
        n += 1
    elif j > i + 1:
        shift = j - i - 1
        for m in range(j, n):
            cover[m - shift, 0], cover[m - shift, 1] = cover[m, 0], cover[m, 1]
        n -= shift
    cover[i, 0], cover[i, 1] = low, high
    return n
