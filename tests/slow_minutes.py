"""Minutes by hand from their definition, place by place and grade by grade, with the library's numbers alone."""

from __future__ import annotations

import math
from itertools import product

import numpy as np

BORDERS = (0.10, 0.25, 0.37, 0.50)
"""Risks from which the usual grader gives the grades 1 to 4: the house's one scale of damage."""
LOCAL = (0.3, 0.34, 0.25)
"""Spread of the wood along a lip, as `priors` has it."""
SCORCH_NOISE = 0.5


def latent(risk):
    return math.log((risk + 0.01) / (1 - risk + 0.01))


def chances(risk, cuts, scale, shift=0.0):
    """Chances of the grades 0 to 4 of one place."""
    if math.isnan(risk):
        return [1.0, 0.0, 0.0, 0.0, 0.0]
    above = [1.0, *(1 / (1 + math.exp(-(latent(risk) + shift - c) / scale)) for c in cuts), 0.0]
    return [above[g] - above[g + 1] for g in range(5)]


def usual_cuts():
    return [latent(b) for b in BORDERS]


def place(fuzz, tear, scorch, grader, shift):
    """Chances of the grades of fuzz, tear-out and scorch at one place, as one grader on one board gives them."""
    scale = math.sqrt(grader.noise**2 + 3 * sum(v * v for v in LOCAL) / math.pi**2)
    return (
        chances(fuzz, grader.fuzz, scale, shift),
        chances(tear, grader.tear, scale, shift),
        chances(scorch, usual_cuts(), SCORCH_NOISE),
    )


def minutes(risk, grader, shift, rates):
    """Minutes by hand of a risk map on one board."""
    hand, lost, softened = 0.0, 0.0, [0.0, 0.0, 0.0]
    prices = (rates.fuzz, rates.tear, rates.scorch)
    for i, k in zip(*np.nonzero(risk.exists), strict=True):
        length = float(risk.lip_length[i, k])
        each = place(*(float(getattr(risk, n)[i, k]) for n in ("fuzz", "tear", "scorch")), grader, shift)
        for grades in product(range(5), repeat=3):
            chance = math.prod(p[g] for p, g in zip(each, grades, strict=True))
            hand += length / 100 * chance * max(price[g] for price, g in zip(prices, grades, strict=True))
            beyond = [share * (g == 4) for share, g in zip(rates.beyond_repair, grades, strict=True)]
            lost += length * chance * max(beyond)
        for kind, first in enumerate((2, 2, 1)):
            softened[kind] += length * sum(each[kind][first:])
    for setup, length in zip(rates.setup, softened, strict=True):
        hand += setup * (1 - math.exp(-length / rates.setup_length))
    spoilt = 1 - math.exp(-lost / rates.spoilt_length)
    return (1 - spoilt) * min(hand, rates.spoilt) + spoilt * rates.spoilt
