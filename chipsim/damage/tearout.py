r"""How far a crack runs ahead of the edge, and what kind of chip that makes.

Against the grain a tooth pushes the fibres it meets out of the wall, and a crack may run ahead of the edge along them,
below the finished lip. Opening an arm of thickness t by d drives it to

    l = (3 E d^2 t^3 / (8 G))^(1/4)            Benbow & Roesler 1957, double cantilever (from memory); G = K_Ic^2 / E'

Let v be the direction of cutting along the lip, n the normal of the wall that is left, into the wood, and g the
fibre. The rake face pushes along u = cos delta v - sin delta n, delta = rake - psi, tan psi = friction: below the
rake at which the normal force changes sign it presses the fibres down, above it lifts them. A push moves the fibre
across itself by u - (u . g) g; the part of that which leads away from the remaining wood, and so opens a crack
instead of closing it, is its projection on -n,

    d = p opening,   opening = max(0, sin delta + (u . g)(g . n))   where (g . v)(g . n) > 0.

For a level fibre and n in the face, theta its angle to v, that is max(0, sin(theta + delta)) cos(theta) for theta > 0.
The crack runs along the fibre, so it reaches l sin(theta) beyond where the edge stands. With delta = 0 the reach goes
as (sin^3 theta cos theta)^(1/2), nothing at 0 and 90 degrees and most at exactly 60.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from .._shared.arrays import FloatArray, array, instance, number
from ..errors import DomainError
from ..kernels import laws
from ..scene.species import Wood

__all__ = ["CHIP_TYPES", "chip_type", "crack_energy", "crack_length", "crack_opening", "longest_arm"]

CHIP_TYPES = ("split", "shear", "crush")
"""Franz's types I, II, III: a crack runs ahead, the chip shears off, the wood is crushed ahead of the edge."""

_TYPICAL = (0.065, 0.07)
"""E_T/E_L and G_LT/E_L of a middling hardwood, where a wood has none of its own (Table 5-1, from memory)."""

_POISSON = 0.4
"""nu_LT of a middling hardwood (from memory); it moves the energy by 2 %."""

_AHEAD = 0.2
"""Reach ahead of the edge that is seen as a split: Matsuda et al. 2018, J Wood Sci (abstract). [mm]"""


def crack_energy(wood: Wood) -> float:
    """Energy to open a crack along the grain, G = K_Ic^2 / E'. [N/mm = 1000 J/m^2]

    E' of a crack along L in the TL plane: Sih, Paris & Irwin 1965, Int. J. Fracture 1:189 (from memory),
    1/E' = sqrt(1/(2 E_L E_T)) sqrt(sqrt(E_L/E_T) + E_L/(2 G_LT) - nu_LT). NaN without a fracture toughness.
    """
    stiffness = wood.elastic_modulus_true
    across, shear = (
        own if np.isfinite(own) else typical
        for own, typical in zip((wood.elastic_ratios.tangential, wood.elastic_ratios.shear_lt), _TYPICAL, strict=True)
    )
    compliance = np.sqrt((np.sqrt(1 / across) + 0.5 / shear - _POISSON) / (2 * across)) / stiffness
    return float(wood.fracture_toughness**2 * 1000.0 * compliance)


def crack_length(push: ArrayLike, arm: ArrayLike, wood: Wood) -> FloatArray:
    """Length to which a crack along the grain is driven by opening an arm by `push`, (3 E d^2 t^3 / (8 G))^(1/4). [mm]

    Parameters
    ----------
    push, arm
        Opening d and thickness t of the arm, broadcast against each other. [mm]
    wood
        Gives E and G.
    """
    d, t = np.asarray(push, dtype=float), np.asarray(arm, dtype=float)
    unit = (0.375 * wood.elastic_modulus_true / crack_energy(wood)) ** 0.25
    return np.asarray(laws.crack_of_push(laws.crack_of_arm(unit, t), d))


def longest_arm(wood: Wood) -> float:
    """Thickness from which an arm of clear wood splits before it breaks, 6 E G / MOR^2. [mm]

    The root of the arm carries 3 E d t / (2 l^2); with l from `crack_length` that is sqrt(6 E G / t) whatever d.
    """
    return float(6 * wood.elastic_modulus_true * crack_energy(wood) / wood.bending_strength**2)


def crack_opening(angle: ArrayLike, rake: float, friction: float = 0.4) -> FloatArray:
    """Share of a push along the cut that opens a crack ahead of the edge into the remaining wood; see the module. [-]

    Parameters
    ----------
    angle
        In the face, from the direction of cutting to the fibre, positive into the remaining wood; an axis. [deg]
    rake
        Of the tooth, normal to the edge. [deg]
    friction
        Of wood on the rake face.
    """
    theta = np.radians((np.asarray(angle, dtype=float) + 90.0) % 180.0 - 90.0)
    delta = np.radians(rake) - np.arctan(friction)
    share = laws.opening(np.sin(theta), np.cos(theta), np.cos(delta), np.sin(delta))
    return np.asarray(np.where(theta > 0, np.maximum(share, 0.0), 0.0))


def chip_type(
    chip_thickness: ArrayLike,
    fibre_angle: ArrayLike,
    wood: Wood,
    *,
    rake: float,
    edge_radius: float = 0.008,
    friction: float = 0.4,
) -> np.ndarray:
    """Kind of chip: 'split', 'shear' or 'crush', Franz's types I, II, III; '' where there is no chip.

    It splits where the crack, driven with the chip itself as the arm, reaches 0.2 mm ahead of the edge (the
    published reach of the strain that marks a split); it is crushed where the chip is thinner than the edge is round,
    or a negative rake meets it; else it shears.

    Parameters
    ----------
    chip_thickness
        Uncut chip thickness normal to the flank, as from `tooth_passes`. [mm]
    fibre_angle
        As from `fibre_angle`, below 90 against the grain; broadcast against the thickness. [deg]
    wood
        With a fracture toughness, else nothing is known to split.
    rake, edge_radius, friction
        Of the tooth [deg, mm, -].

    Returns
    -------
    ndarray of str
        Of the broadcast shape.

    Examples
    --------
    >>> import chipsim as cs
    >>> from chipsim.damage.tearout import chip_type
    >>> chip_type([0.02, 0.1, 0.3], 0, cs.wood("sugar maple"), rake=30).tolist()
    ['shear', 'split', 'split']
    """
    h, theta = _pair(chip_thickness, fibre_angle)
    instance("wood", wood, Wood, "a Wood, as from wood('black cherry')")
    tilt = number("rake", rake, low=-30, high=60, unit="deg")
    blunt = number("edge_radius", edge_radius, low=0, high=1, unit="mm")
    grip = number("friction", friction, low=0, high=5)
    # along the grain too (theta = 0) a lifting rake splits: only the push across the fibre counts here
    lean = np.radians((theta + 90.0) % 180.0 - 90.0)
    delta = np.radians(tilt) - np.arctan(grip)
    lift = np.maximum(laws.opening(np.sin(lean), np.cos(lean), np.cos(delta), np.sin(delta)), 0.0)
    with np.errstate(invalid="ignore"):
        reach = crack_length(np.maximum(h, 0) * lift, np.maximum(h, 0), wood)
        kind = np.where(reach >= _AHEAD, "split", np.where((h < blunt) | (tilt < 0), "crush", "shear"))
    return np.where((h > 0) & np.isfinite(theta), kind, "")


def _pair(chip_thickness: ArrayLike, fibre_angle: ArrayLike) -> tuple[FloatArray, FloatArray]:
    """Both as floats of one shape; NaN, no crossing, is allowed."""
    h = array("chip_thickness", chip_thickness, low=-1e3, high=1e3, unit="mm", nan=True)
    theta = array("fibre_angle", fibre_angle, nan=True, unit="deg")
    try:
        h, theta = np.broadcast_arrays(h, theta)
    except ValueError:
        raise DomainError(
            f"chip_thickness and fibre_angle must have shapes that broadcast, got {h.shape} and {theta.shape}"
        ) from None
    return h, theta
