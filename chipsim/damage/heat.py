r"""How hot a rubbed lip gets: friction, the flash under a passing edge, and the warmth that repeated passes leave.

The land behind the edge, of length b, is pressed on the wall with pressure p and slides at v: heat q = mu p v per
area. Under it the wood's surface is hottest at the trailing end,

    flash = 2 q sqrt(kappa b / v) / (k sqrt(pi))         Jaeger 1942, high Peclet number; goes with sqrt(v b)

Each pass leaves the energy q b / v = mu p b per area, which sinks in: after a time t the surface is still
mu p b / sqrt(pi k rho c t) warmer (instantaneous plane source on a half-space; Carslaw & Jaeger, from memory). N
passes, tau apart, leave the sum of i^(-1/2) times the warmth of one, about 2 sqrt(N + 9/16) - 3/2 of it.
Under a front that is ground away at the speed w (a plunge) the same energy, arriving every tau, warms what lies ahead
to a steady mu p b / (tau rho c w).
Only part of the heat enters the wood, which conducts badly; the tool takes the rest (Igaz et al. 2019).
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from .._shared.arrays import FloatArray
from ..kernels import laws
from ..scene.species import Wood

__all__ = ["ALONG_GRAIN", "flash_rise", "front_rise", "lasting_rise", "sliding_friction"]

ALONG_GRAIN = 1.8
"""Conductivity along the grain over that across it, 1.5 to 2.8 (Wood Handbook, chapter 4, from memory). [-]"""

_AIR_DRY, _WET = 12.0, 28.0  # % moisture


def sliding_friction(speed: ArrayLike, moisture: float) -> FloatArray:
    """Friction of wood on unpolished steel, same shape as `speed` [m/s]. [-]

    Air-dry 0.65 at rest falling to 0.4 at 4 m/s, wet 0.7 falling to 0.15 (McKenzie & Karpovich 1968, abstract);
    between, and beyond, taken as straight in speed up to 4 m/s and straight in moisture from 12 to 28 %.
    """
    wet = float(np.clip((moisture - _AIR_DRY) / (_WET - _AIR_DRY), 0.0, 1.0))
    rest, run = 0.65 + 0.05 * wet, 0.4 - 0.25 * wet
    return np.asarray(laws.sliding(rest, run, np.abs(np.asarray(speed, dtype=float))))


def flash_rise(
    pressure: ArrayLike, speed: ArrayLike, land: ArrayLike, wood: Wood, *, friction: ArrayLike
) -> FloatArray:
    """Highest rise of the wood's surface under a passing land, all heat into the wood. [K]

    Parameters
    ----------
    pressure, speed, land
        Of the land on the wood, its sliding, its length; broadcast. [MPa, m/s, mm]
    wood
        Gives conductivity, density and heat capacity.
    friction
        Coefficient. [-]
    """
    p, v, b = (np.asarray(a, dtype=float) for a in (pressure, speed, land))
    # q sqrt(kappa b / v) = mu p sqrt(kappa b v)
    diffusivity = wood.conductivity / (wood.density * wood.heat_capacity)
    one = 2 * np.asarray(friction) * p * 1e6 * np.sqrt(diffusivity * b * 1e-3) / (wood.conductivity * np.sqrt(np.pi))
    return np.asarray(laws.flash(one, v))


def lasting_rise(
    pressure: ArrayLike, land: ArrayLike, count: ArrayLike, interval: ArrayLike, wood: Wood, *, friction: ArrayLike
) -> FloatArray:
    """Warmth that `count` passes, `interval` [s] apart, have left at the surface, all heat into the wood. [K]

    Parameters as in `flash_rise`; `count` need not be whole.
    """
    p, b, n, tau = (np.asarray(a, dtype=float) for a in (pressure, land, count, interval))
    effusivity = np.sqrt(wood.conductivity * wood.density * wood.heat_capacity)
    one = np.asarray(friction) * p * 1e6 * b * 1e-3 / (np.sqrt(np.pi * tau) * effusivity)
    return np.asarray(one * laws.repeated(n))


def front_rise(
    pressure: ArrayLike, land: ArrayLike, interval: ArrayLike, advance: ArrayLike, wood: Wood, *, friction: ArrayLike
) -> FloatArray:
    """Steady rise ahead of a surface rubbed every `interval` [s] that recedes at `advance` [mm/s]. [K]

    Parameters as in `flash_rise`. All heat goes into the wood, and none is lost: what a slab of speed w carries off.
    """
    p, b, tau, w = (np.asarray(a, dtype=float) for a in (pressure, land, interval, advance))
    # W/m^2 over J/(m^3 K) m/s
    one = np.asarray(friction) * p * 1e6 * b / (tau * wood.density * wood.heat_capacity)
    return np.asarray(laws.front(one, w))
