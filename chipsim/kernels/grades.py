"""How much lip falls into each grade of each kind of damage, for many readings side by side."""

from __future__ import annotations

import numpy as np

from .compiled import njit
from .risks import logarithms, sigmoids

__all__ = []

KINDS, GRADES = 3, 5


@njit(cache=True, nogil=True, error_model="numpy", fastmath={"contract"})
def grade_lengths(fuzz, tear, scorch, length, cuts, scales, shifts, floor, table):
    """Add to `table` (5, 5, 5, sets) the length of lip expected in each grade of fuzz, tear-out and scorch.

    Risks are (rows, 2, sets), `length` (rows, 2); `cuts` (3, 4, sets) are the latents from which grades 1 to 4 are
    given, `scales` (3, sets) the noise of the grade, `shifts` (3, sets) what is added to the latent. A risk that is NaN
    is of grade 0. Grades of the three kinds are independent, given the set.
    """
    sets = shifts.shape[1]
    room = (sets + 15) // 16 * 16
    odds, eta, spare = np.ones(room), np.empty(room), np.empty(room)
    chance = np.empty((KINDS, GRADES, sets))
    two = np.empty(sets)
    for row in range(length.shape[0]):
        for side in range(2):
            size = length[row, side]
            if not size > 0.0:
                continue
            for kind in range(KINDS):
                risk = fuzz[row, side]
                if kind == 1:
                    risk = tear[row, side]
                if kind == 2:
                    risk = scorch[row, side]
                of = chance[kind]
                if risk[0] != risk[0]:
                    # not known by one, not known by any: it is the wood's or the lip's matter
                    of[:] = 0.0
                    of[0, :] = 1.0
                    continue
                for s in range(sets):
                    odds[s] = (risk[s] + floor) / (1.0 - risk[s] + floor)
                logarithms(odds, room, eta, spare)
                of[0, :] = 1.0
                for g in range(1, GRADES):
                    for s in range(sets):
                        odds[s] = (eta[s] * 0.6931471805599453 + shifts[kind, s] - cuts[kind, g - 1, s]) / scales[
                            kind, s
                        ]
                    sigmoids(odds, sets, spare)
                    for s in range(sets):
                        of[g, s] = spare[s]
                        of[g - 1, s] -= spare[s]
            for a in range(GRADES):
                for b in range(GRADES):
                    for s in range(sets):
                        two[s] = size * chance[0, a, s] * chance[1, b, s]
                    for c in range(GRADES):
                        for s in range(sets):
                            table[a, b, c, s] += two[s] * chance[2, c, s]
