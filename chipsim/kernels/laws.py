"""Laws that the kernels and their NumPy fronts share: plain functions of numbers, or of arrays of them.

`tearout`, `heat` and `models` call them as they stand, on arrays; `risks` compiles them. Each law stands here once.
"""

from __future__ import annotations

import math
from typing import Any, TypeAlias

import numpy as np

__all__ = []

Numbers: TypeAlias = Any  # one number inside a kernel, an array of them outside


def crack_of_arm(unit: Numbers, arm: Numbers) -> Numbers:
    """Length of a crack driven by a unit push under an arm of some thickness: it goes with thickness^(3/4)."""
    root = np.sqrt(arm)
    return unit * root * np.sqrt(root)


def crack_of_push(crack: Numbers, push: Numbers) -> Numbers:
    """Length of the crack of a unit push, driven by another push: it goes with the root."""
    return crack * np.sqrt(push)


def opening(into: Numbers, along: Numbers, push_cos: Numbers, push_sin: Numbers) -> Numbers:
    """Part of a unit push that opens a crack along a fibre of components (along, into); below 0 it closes it.

    The push comes along (push_cos, -push_sin); see `tearout`.
    """
    return push_sin + (push_cos * along - push_sin * into) * into


def sliding(rest: Numbers, running: Numbers, speed: Numbers) -> Numbers:
    """Coefficient of friction at a speed >= 0 [m/s], straight from the one at rest to that from 4 m/s on."""
    return rest + (running - rest) * np.minimum(speed * 0.25, 1.0)


def repeated(count: Numbers) -> Numbers:
    """Sum of i^(-1/2), i = 1 to count: exact at 0 and 1, within 0.7 % beyond; what so many passes leave, over one's."""
    return 2.0 * np.sqrt(count + 0.5625) - 1.5


def turned_layer(share: Numbers) -> Numbers:
    """Angle by which a tooth has yet to turn to be at the lip, mean over a layer of a share of the half-width. [rad]

    Strikes stand evenly along the path and count for less the farther they stand from the lip: 3/8 of the angle at
    which the tooth comes into a thin layer.
    """
    return 0.375 * np.arccos(np.maximum(1.0 - share, 0.0))


def flash(unit: Numbers, speed: Numbers) -> Numbers:
    """Rise under a passing land at a speed, from that at 1 m/s: it goes with the root."""
    return unit * np.sqrt(speed)


def front(unit: Numbers, speed: Numbers) -> Numbers:
    """Steady rise ahead of a surface that recedes at a speed, from that at 1 mm/s."""
    return unit / speed


BURN = math.log(9.0) / 27.5  # scorch runs from 0.1 at 225 C to 0.9 at 280 C where wood chars at 252.5


def charring(temperature: Numbers, even: Numbers = 252.5) -> Numbers:
    """Log odds of scorch at a temperature, where those at another are even. [C]"""
    return (temperature - even) * BURN
