"""How much lip falls into each grade of each kind of damage, for many readings side by side."""

from __future__ import annotations

import math

import numpy as np

from .compiled import njit
from .risks import powers

__all__ = []

KINDS, GRADES = 3, 5

LIPS = 256
"""Lips worked on side by side: what is held of them fits into the processor's nearest memories."""


@njit(cache=True, nogil=True, error_model="numpy", fastmath={"contract"})
def grade_lengths(fuzz, tear, scorch, length, cuts, scales, shifts, floor, table):
    """Add to `table` (sets, 5, 5, 5) the length of lip expected in each grade of fuzz, tear-out and scorch.

    Risks are (rows, 2, ways), `length` (rows, 2); each way is read by sets / ways readers, one after the other. `cuts`
    (3, 4, sets) are the latents from which grades 1 to 4 are given, `scales` (3, sets) the noise of the grade, alike
    for all readers of a way, `shifts` (3, sets) what is added to the latent. A risk that is NaN is of grade 0. Grades
    of the three kinds are independent, given the set.

    The chance of a grade or a worse one, 1 / (1 + exp((cut - shift - ln odds) / scale)), is e / (e + c) with e the odds
    to the power 1 / scale, which all cuts and readers of a way share; and the sum over the lips of the products of
    three chances is a product of matrices.
    """
    ways, sets = fuzz.shape[2], shifts.shape[1]
    readers = sets // ways
    rows, sides, size = np.empty(LIPS, dtype=np.int64), np.empty(LIPS, dtype=np.int64), np.zeros(LIPS)
    odds, spare, worth = np.ones(LIPS), np.empty(LIPS), np.zeros((KINDS, LIPS))
    worse = np.zeros((KINDS, GRADES + 1, LIPS))
    both, third = np.empty((GRADES * GRADES, LIPS)), np.empty((LIPS, GRADES))
    edges, last = np.empty(GRADES - 1), np.empty((KINDS, GRADES - 1))
    count, total = 0, 2 * length.shape[0]
    for lip in range(total):
        if length[lip // 2, lip % 2] > 0.0:
            rows[count], sides[count], size[count] = lip // 2, lip % 2, length[lip // 2, lip % 2]
            count += 1
        if count < LIPS and not (lip == total - 1 and count > 0):
            continue
        size[count:] = 0.0
        for way in range(ways):
            for kind in range(KINDS):
                risks = fuzz
                if kind == 1:
                    risks = tear
                if kind == 2:
                    risks = scorch
                for i in range(count):
                    risk = risks[rows[i], sides[i], way]
                    odds[i] = (risk + floor) / (1.0 - risk + floor)
                powers(odds, LIPS, 1.0 / scales[kind, way * readers], worth[kind], spare)
                for i in range(count):
                    # what is not known is of the first grade
                    if not odds[i] >= 0.0:
                        odds[i] = 1.0
                        worth[kind, i] = 0.0
                worse[kind, 0] = 1.0
                last[kind] = -1.0
            for s in range(way * readers, (way + 1) * readers):
                for kind in range(KINDS):
                    same = True
                    for g in range(GRADES - 1):
                        x = (cuts[kind, g, s] - shifts[kind, s]) / scales[kind, s]
                        edges[g] = math.exp(min(max(x, -300.0), 300.0))
                        same = same and edges[g] == last[kind, g]
                    if same:
                        continue  # of the reader before
                    last[kind] = edges
                    for g in range(GRADES - 1):
                        beyond(worth[kind], edges[g], worse[kind, g + 1])
                    if kind == 2:
                        for i in range(LIPS):
                            for g in range(GRADES):
                                third[i, g] = worse[2, g, i] - worse[2, g + 1, i]
                for a in range(GRADES):
                    for b in range(GRADES):
                        in_both(size, worse[0, a], worse[0, a + 1], worse[1, b], worse[1, b + 1], both[a * GRADES + b])
                found = np.dot(both, third)
                for a in range(GRADES):
                    for b in range(GRADES):
                        for c in range(GRADES):
                            table[s, a, b, c] += found[a * GRADES + b, c]
        count = 0


@njit(cache=True, error_model="numpy", fastmath={"contract"})
def beyond(worth, edge, out):
    """Chance of a grade or a worse one."""
    for i in range(LIPS):
        out[i] = worth[i] / (worth[i] + edge)


@njit(cache=True, error_model="numpy", fastmath={"contract"})
def in_both(size, one, worse, two, worse_two, out):
    """Length in one grade of either of two kinds, from the chances of the grade or a worse one and of a worse one."""
    for i in range(LIPS):
        out[i] = size[i] * (one[i] - worse[i]) * (two[i] - worse_two[i])
