"""Closed forms, each with its source: what the fast kernels and the models are held against.

The brute-force oracle (`chipsim.oracle`) is offered here too. Nothing here is fast and nothing here knows the
compiled kernels: that independence is the point.

Nomenclature (words outside, letters inside the formulas)

=====  ====================================================================================
phi    `angle`: rotation angle [deg] from the conventional wall, in the sense of rotation:
       0 conventional wall, 90 dead ahead, 180 climb wall
r      `radius`: radius of the horizontal slice of the cutter about its own axis [mm]
f_z    `feed_per_tooth` [mm]; f = z f_z per revolution; e = f/(2 pi), the axis advance per radian
z      `flutes`; flute j+1 follows flute j
rho    `runout` [mm], lambda `runout_azimuth` [deg]: offset of the cutter axis from the spindle
       axis, its direction measured in the cutter against the sense of rotation from flute 0
kappa  `curvature` of the path [1/mm], positive when its centre lies on the conventional side
a      half of `included_angle` [deg]
h_r    radial chip thickness [mm]; h_n = chip thickness normal to the flank [mm]
=====  ====================================================================================

Conventional is the wall where the tooth moves with the feed: left of travel for a clockwise spindle.
Sources marked 'from memory' were not at hand when the formula was written down; every formula was
checked against an independent computation. Every function raises `DomainError` for an argument out
of the stated range.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Callable
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike
from scipy.integrate import quad
from scipy.optimize import brentq
from scipy.special import ellipe, ellipeinc, k0, k0e

from .._shared.arrays import FloatArray, array, choice, integer, number
from .oracle import Groove, LipCrossings, crossing_time, edge_position, lip_strikes_slow, uncut_intervals, uncut_length

__all__ = [
    "FeedMark",
    "FibreAngles",
    "Groove",
    "GrooveSection",
    "LipCrossings",
    "ToolAngles",
    "band_source_coefficients",
    "centripetal_speed",
    "chip_area",
    "circular_path_thickness",
    "crossing_time",
    "degenerate_radius",
    "edge_position",
    "end_caps_volume",
    "engagement_angle",
    "engin_altintas_thickness",
    "feed_factor",
    "feed_mark",
    "feed_mark_from_curvature",
    "feed_mark_martellotti",
    "friction_circle_speed",
    "groove_section",
    "heel_rub_radius",
    "height_of_radius",
    "horizontal_clearance",
    "iso_tool_angles",
    "kline_devor_thickness",
    "lag_constant_helix",
    "lag_constant_lead",
    "lag_offset_edge",
    "largest_resultant_angle",
    "lip_strikes_slow",
    "mean_thickness",
    "normal_thickness",
    "orthogonal_angles",
    "peak_speed",
    "resultant_angle",
    "runout_radii",
    "runout_radii_first_order",
    "short_flute_limit",
    "short_flute_share",
    "side_milling_maximum",
    "steady_thickness",
    "struck_beam_stress",
    "thickness_first_order",
    "thickness_second_order",
    "tooth_path_length",
    "travel_time",
    "trochoid_length",
    "uncut_intervals",
    "uncut_length",
    "wall_curvature_radius",
    "wall_fibre_angles",
]

WALLS = ("conventional", "climb")
SPINS = ("cw", "ccw")
TURN = 2 * math.pi
QUAD = {"epsabs": 1e-11, "epsrel": 1e-11, "limit": 200}


def _positive(unit: str, **values: float) -> None:
    for name, value in values.items():
        number(name, value, low=0.0, open_low=True, unit=unit)


def _half_angle(included_angle: float) -> float:
    """Half of an included angle in (0, 180) [deg], in radians."""
    return (
        math.radians(
            number("included_angle", included_angle, low=0, high=180, open_low=True, open_high=True, unit="deg")
        )
        / 2
    )


# ----------------------------------------------------------------------------------------------
# Runout
# ----------------------------------------------------------------------------------------------


def runout_radii(radius: float, flutes: int, runout: float, runout_azimuth: float) -> tuple[FloatArray, FloatArray]:
    """Exact distance of each edge from the rotation axis (z,) [mm] and its body angle (z,) [deg].

    R_j exp(i b_j) = r exp(2 pi i j/z) + rho exp(i lambda); `radius` > 0, `runout` >= 0 [mm], `runout_azimuth` [deg].
    """
    _positive("mm", radius=radius)
    number("runout", runout, low=0, unit="mm")
    nominal = TURN * np.arange(integer("flutes", flutes, low=1, high=64)) / flutes
    offset = radius + runout * np.exp(1j * (math.radians(runout_azimuth) - nominal))
    return np.abs(offset), np.degrees(nominal + np.angle(offset))


def runout_radii_first_order(radius: float, flutes: int, runout: float, runout_azimuth: float) -> FloatArray:
    """First-order edge radii R_j = r + rho cos(lambda - 2 pi j/z) (z,) [mm]; good to rho^2/(2 r).

    Source: W. A. Kline, R. E. DeVor, Int. J. Mach. Tool Des. Res. 23 (1983) 123 (from memory).
    """
    _positive("mm", radius=radius)
    nominal = TURN * np.arange(integer("flutes", flutes, low=1, high=64)) / flutes
    return np.asarray(radius + runout * np.cos(math.radians(runout_azimuth) - nominal))


def kline_devor_thickness(radii: ArrayLike, feed_per_tooth: float) -> FloatArray:
    """Chip thickness dead ahead of each flute (z,) [mm], from all earlier teeth of one turn.

    h_j = max(0, min over m = 1..z of m f_z + R_j - R_(j-m)); `radii` (z,) >= 0 and f_z > 0 [mm]. First order: runout
    also shifts the pitch between edges, by up to 2 rho/r, which is worth up to 2 e rho/r of thickness.

    Source: W. A. Kline, R. E. DeVor, Int. J. Mach. Tool Des. Res. 23 (1983) 123 (from memory).
    """
    _positive("mm", feed_per_tooth=feed_per_tooth)
    edges = array("radii", radii, ndim=1, low=0, unit="mm")
    chips = [m * feed_per_tooth + edges - np.roll(edges, m) for m in range(1, edges.size + 1)]
    return np.asarray(np.maximum(0, np.min(chips, axis=0)))


def short_flute_share(runout: float, feed_per_tooth: float, runout_azimuth: float = 0.0) -> float:
    """Share of the chip volume that the shorter of two flutes takes, first order [-]; 0 once it idles.

    [2 cos p - x (pi - 2 p)]/4 with x = `2 rho |cos lambda|/f_z`, p = asin x. Derived; rho >= 0, f_z > 0 [mm].
    """
    _positive("mm", feed_per_tooth=feed_per_tooth)
    number("runout", runout, low=0, unit="mm")
    x = min(1.0, 2 * runout * abs(math.cos(math.radians(runout_azimuth))) / feed_per_tooth)
    p = math.asin(x)
    return (2 * math.cos(p) - x * (math.pi - 2 * p)) / 4


def short_flute_limit(feed_per_tooth: float, radius: float = math.inf, runout_azimuth: float = 0.0) -> float:
    """Runout [mm] at which the shorter of two flutes takes its last chip.

    `(f_z/2)/(1 - (e/r)^2/2)/|cos lambda|`, e = f_z/pi: second order in e/r (the last chip is on the climb side), first
    order in rho/r; with an infinite radius the classical f_z/2. Derived; radius > 2 e [mm].
    """
    _positive("mm", feed_per_tooth=feed_per_tooth)
    lean = feed_per_tooth / math.pi / radius
    number("feed_per_tooth / (pi radius)", lean, low=0, high=0.5)
    return feed_per_tooth / 2 / (1 - lean**2 / 2) / abs(math.cos(math.radians(runout_azimuth)))


# ----------------------------------------------------------------------------------------------
# Chip thickness in steady cutting, and what it adds up to
# ----------------------------------------------------------------------------------------------


class _Steady(NamedTuple):
    """Steady cutting along a line or an arc: everything one flute's thickness depends on."""

    advance: float  # e [mm/rad]
    curvature: float  # kappa [1/mm]
    radii: tuple[float, ...]  # R_j [mm]
    bodies: tuple[float, ...]  # b_j [rad]

    def crossings(self, phi: float, reach: float, turn: float) -> list[tuple[float, float]]:
        """(q, delta) of each crossing of the ray with one old curve: distance [mm], and angle short of `turn` [rad].

        F(delta) = R_i sin(delta) + S cos(phi) - V sin(phi) = 0, q = R_i cos(delta) + S sin(phi) + V cos(phi), with
        S = sin(kappa x)/kappa, V = (1 - cos(kappa x))/kappa, x = e (delta - Delta). A pass may not reach the ray.
        """
        cos, sin, kappa = math.cos(phi), math.sin(phi), self.curvature

        def way(delta: float) -> tuple[float, float]:
            x = self.advance * (delta - turn)
            if kappa == 0:
                return x, 0.0
            return math.sin(kappa * x) / kappa, 2 * math.sin(kappa * x / 2) ** 2 / kappa

        def miss(delta: float) -> float:
            s, v = way(delta)
            return reach * math.sin(delta) + s * cos - v * sin

        grid = np.linspace(-math.pi, min(math.pi, turn), 65)  # one turn of the old tooth, all of it in the past
        found = []
        for low, high in itertools.pairwise(map(float, grid)):
            if (miss(low) > 0) != (miss(high) > 0):
                delta = float(brentq(miss, low, high, xtol=1e-15, rtol=1e-14))
                s, v = way(delta)
                found.append((reach * math.cos(delta) + s * sin + v * cos, delta))
        return found

    def old_curves(self, phi: float, flute: int) -> list[tuple[float, float]]:
        """(q, delta) of every crossing of the ray with the passes m = 1..z; m = z is the tooth itself one turn ago."""
        found = []
        for m in range(1, len(self.radii) + 1):
            old = (flute - m) % len(self.radii)
            turn = self.bodies[flute] - self.bodies[old] + (TURN if old >= flute else 0.0)
            found += self.crossings(phi, self.radii[old], turn)
        return found

    def clearance(self, phi: float, flute: int) -> float:
        """R_j - max q [mm]: how far the edge is outside the outermost old curve; negative in air."""
        return self.radii[flute] - max((q for q, _ in self.old_curves(phi, flute)), default=0.0)

    def thickness(self, phi: float, flute: int) -> float:
        return min(max(self.clearance(phi, flute), 0.0), self.radii[flute])


def _steady(
    radius: float, feed_per_tooth: float, flutes: int, curvature: float, runout: float, runout_azimuth: float
) -> _Steady:
    _positive("mm", radius=radius, feed_per_tooth=feed_per_tooth)
    number("curvature", curvature, low=-1 / radius, high=1 / radius, unit="1/mm", open_low=True, open_high=True)
    radii, bodies = runout_radii(radius, flutes, runout, runout_azimuth)
    return _Steady(
        feed_per_tooth * flutes / TURN, curvature, tuple(map(float, radii)), tuple(map(float, np.radians(bodies)))
    )


def steady_thickness(
    angle: float,
    radius: float,
    feed_per_tooth: float,
    flutes: int,
    *,
    curvature: float = 0.0,
    flute: int = 0,
    runout: float = 0.0,
    runout_azimuth: float = 0.0,
) -> float:
    """Exact radial chip thickness h_r [mm] in a steady slot along a straight line or a circular arc.

    h_r = clip(R_j - max over the passes m = 1..z of q, 0, R_j), q from F(delta) = 0 (derived; see the source).

    Parameters
    ----------
    angle : float
        phi [deg]; any, air is 0.
    radius, feed_per_tooth : float
        r and f_z [mm], > 0. Valid for r >= f_z (1 + z/pi); below that the very notion of thickness splits.
    flutes, flute : int
        Number of flutes; the one that cuts.
    curvature : float
        kappa [1/mm], `|kappa| r` < 1.
    runout, runout_azimuth : float
        rho [mm], lambda [deg], exact.
    """
    steady = _steady(radius, feed_per_tooth, flutes, curvature, runout, runout_azimuth)
    number("angle", angle, unit="deg")
    return steady.thickness(math.radians(angle), integer("flute", flute, low=0, high=flutes - 1))


def thickness_second_order(angle: float, radius: float, feed_per_tooth: float, flutes: int) -> float:
    """Radial thickness [mm] in a straight slot without runout, to second order; the error is O(f_z^3/r^2).

    h = f_z sin(phi) + f_z^2 cos^2(phi)/(2 r) - z f_z^2 sin(phi) cos(phi)/(2 pi r), phi well inside 0..180 [deg].

    Source: W. Y. Bao, I. N. Tansel, Int. J. Mach. Tools Manuf. 40 (2000) (from memory), re-derived.
    """
    _positive("mm", radius=radius, feed_per_tooth=feed_per_tooth)
    sin, cos = math.sin(math.radians(angle)), math.cos(math.radians(angle))
    return feed_per_tooth * sin + feed_per_tooth**2 * cos * (cos - flutes * sin / math.pi) / (2 * radius)


def thickness_first_order(angle: float, feed_per_tooth: float) -> float:
    """Radial thickness h = f_z sin(phi) [mm], the classical form; phi = `angle` within 0..180 [deg], r >> f_z."""
    _positive("mm", feed_per_tooth=feed_per_tooth)
    return feed_per_tooth * math.sin(math.radians(angle))


def normal_thickness(radial_thickness: Callable[[float], float], height: float, included_angle: float) -> float:
    """Exact thickness normal to the flank [mm] of a straight unsheared edge at constant depth.

    The root of h_n = cos(a) h_r(h + h_n sin(a)), where `radial_thickness` gives h_r [mm] at a height [mm]: h_r cos(a)
    is exact only where h_r does not vary with height. Derived, and proved by membership along the flank normal.
    """
    number("height", height, low=0, unit="mm")
    a = _half_angle(included_angle)
    high = math.cos(a) * radial_thickness(height)
    if high == 0:
        return 0.0

    def excess(h: float) -> float:
        return h - math.cos(a) * radial_thickness(height + h * math.sin(a))

    while excess(high) < 0:
        high *= 2
    return float(brentq(excess, 0.0, high, xtol=1e-14, rtol=1e-13))


def engin_altintas_thickness(
    angle: float, feed_per_tooth: float, included_angle: float, rise_per_tooth: float = 0.0
) -> float:
    """Thickness normal to the flank of a cone [mm], first order, with ramp.

    h = s_h sin(phi) sin(kappa_n) - s_v cos(kappa_n), kappa_n = 90 - a; `feed_per_tooth` s_h > 0 is horizontal,
    `rise_per_tooth` s_v upward [mm]. Exact dead ahead. Clipped at 0 (air).

    Source: S. Engin, Y. Altintas, Int. J. Mach. Tools Manuf. 41 (2001), part I (from memory).
    """
    _positive("mm", feed_per_tooth=feed_per_tooth)
    a = _half_angle(included_angle)
    return max(0.0, feed_per_tooth * math.sin(math.radians(angle)) * math.cos(a) - rise_per_tooth * math.sin(a))


def chip_area(
    radius: float,
    feed_per_tooth: float,
    flutes: int,
    *,
    curvature: float = 0.0,
    runout: float = 0.0,
    runout_azimuth: float = 0.0,
) -> FloatArray:
    """Area [mm^2] of the slice that each flute (z,) removes in one turn relative to the path normal.

    Integral over phi of R_j h - h^2/2 + e cos(phi) h, divided by 1 + kappa e (a turn relative to the normal takes
    2 pi/(omega (1 + kappa e))). Derived. Without runout the sum is z f_z/(1 + kappa e) (2 r - m_conventional -
    m_climb), m the mean depth of the feed marks (`feed_mark`), which tests it. Arguments: as `steady_thickness`.
    """
    steady = _steady(radius, feed_per_tooth, flutes, curvature, runout, runout_azimuth)
    grid = np.radians(np.linspace(-90, 270, 181) + 0.37)
    areas = []
    for flute, reach in enumerate(steady.radii):

        def rate(phi: float, flute: int = flute, reach: float = reach) -> float:
            h = steady.thickness(phi, flute)
            return reach * h - h * h / 2 + steady.advance * math.cos(phi) * h

        def clearance(phi: float, flute: int = flute) -> float:
            return steady.clearance(phi, flute)

        out = [clearance(phi) > 0 for phi in grid]
        ends = [float(brentq(clearance, grid[k], grid[k + 1], xtol=1e-15)) for k in np.flatnonzero(np.diff(out))]
        areas.append(sum(quad(rate, *pair, **QUAD)[0] for pair in itertools.pairwise(ends)))
    return np.array(areas) / (1 + curvature * steady.advance)


class FeedMark(NamedTuple):
    """Scallop that two successive teeth leave on a wall."""

    height: float
    """Peak above the valley [mm]."""
    mean_depth: float
    """Area left standing per length of centre line [mm], about a third of the height."""
    half_angle: float
    """Rotation of the tooth from valley to peak [deg]: chips begin and end this far outside 0..180."""


def feed_mark(radius: float, feed_per_tooth: float, flutes: int, wall: str, curvature: float = 0.0) -> FeedMark:
    """Exact feed mark on one wall, without runout.

    Straight path: height r (1 - cos psi), E psi + r sin psi = f_z/2, E = +e on the conventional and -e on the climb
    wall; mean depth (2/f_z)[r E (psi - sin psi) + r^2 (sin psi - psi/2 - sin(2 psi)/4)]. On an arc the same two curves
    in polar coordinates about the centre of the arc. Derived.

    Parameters
    ----------
    radius, feed_per_tooth : float
        r and f_z [mm], > 0; r > e.
    flutes : int
        Number of flutes.
    wall : {'conventional', 'climb'}
        Which wall.
    curvature : float
        kappa [1/mm], `|kappa| r` < 1.
    """
    _positive("mm", radius=radius, feed_per_tooth=feed_per_tooth)
    number("curvature", curvature, low=-1 / radius, high=1 / radius, unit="1/mm", open_low=True, open_high=True)
    e = feed_per_tooth * integer("flutes", flutes, low=1, high=64) / TURN
    number("radius", radius, low=e, unit="mm", open_low=True)
    side = 1 if choice("wall", wall, WALLS) == "conventional" else -1
    if curvature == 0:
        psi = float(
            brentq(
                lambda p: side * e * p + radius * math.sin(p) - feed_per_tooth / 2,
                0,
                math.pi / 2,
                xtol=1e-16,
                rtol=1e-14,
            )
        )
        mean = (
            2
            / feed_per_tooth
            * (
                radius * side * e * (psi - math.sin(psi))
                + radius**2 * (math.sin(psi) - psi / 2 - math.sin(2 * psi) / 4)
            )
        )
        return FeedMark(2 * radius * math.sin(psi / 2) ** 2, mean, math.degrees(psi))

    path = 1 / abs(curvature)
    reach = -math.copysign(radius, side * curvature)  # signed: positive on the outer wall
    per_angle = side * e / (1 + curvature * e)  # advance per radian turned relative to the path normal
    spacing = feed_per_tooth / (1 + curvature * e)

    def polar(psi: float) -> tuple[float, float, float]:
        """Distance from the arc's centre, polar angle along the travel, and its derivative."""
        x, y = path + reach * math.cos(psi), radius * math.sin(psi)
        distance = math.hypot(x, y)
        slope = (x * radius * math.cos(psi) + y * reach * math.sin(psi)) / distance**2
        return distance, per_angle * psi / path + math.atan2(y, x), per_angle / path + slope

    psi = float(brentq(lambda p: polar(p)[1] - spacing / 2 / path, 0, math.pi / 2, xtol=1e-16, rtol=1e-14))
    valley = path + reach
    left = quad(lambda p: abs(valley**2 - polar(p)[0] ** 2) * polar(p)[2], 0, psi, **QUAD)[0]
    return FeedMark(abs(valley - polar(psi)[0]), left / spacing, math.degrees(psi))


def feed_mark_martellotti(radius: float, feed_per_tooth: float, flutes: int, wall: str) -> float:
    """Feed-mark height f_z^2/(8 (r +- f_z z/pi)) [mm], + conventional, - climb wall; second order, r > 2 e.

    Source: M. E. Martellotti, Trans. ASME 63 (1941) and 67 (1945) (from memory).
    """
    _positive("mm", radius=radius, feed_per_tooth=feed_per_tooth)
    side = 1 if choice("wall", wall, WALLS) == "conventional" else -1
    return feed_per_tooth**2 / (8 * (radius + side * feed_per_tooth * flutes / math.pi))


def wall_curvature_radius(radius: float, feed_per_tooth: float, flutes: int, wall: str) -> float:
    """Radius of curvature of the tooth path where it touches a wall, (r +- e)^2/r [mm]; + conventional, - climb; r > e.

    Derived; Martellotti 1941, 1945 (from memory).
    """
    _positive("mm", radius=radius, feed_per_tooth=feed_per_tooth)
    side = 1 if choice("wall", wall, WALLS) == "conventional" else -1
    return (radius + side * feed_per_tooth * flutes / TURN) ** 2 / radius


def feed_mark_from_curvature(radius: float, feed_per_tooth: float, flutes: int, wall: str) -> float:
    """Feed-mark height [mm] of two circles of the wall's curvature radius, f_z^2/8 over it; second order. Derived."""
    return feed_per_tooth**2 / (8 * wall_curvature_radius(radius, feed_per_tooth, flutes, wall))


# ----------------------------------------------------------------------------------------------
# The trochoid, side milling, chip thinning
# ----------------------------------------------------------------------------------------------


def trochoid_length(radius: float, feed_per_revolution: float) -> float:
    """Length of one full turn of the tooth path, 4 (r + e) E(m), m = 4 r e/(r + e)^2 [mm]; r > 0, f >= 0 [mm].

    m is the parameter k^2, not the modulus. Derived; the elliptic form of Martellotti 1941, 1945 (from memory).
    """
    _positive("mm", radius=radius)
    e = number("feed_per_revolution", feed_per_revolution, low=0, unit="mm") / TURN
    return float(4 * (radius + e) * ellipe(4 * radius * e / (radius + e) ** 2))


def tooth_path_length(angle: float, radius: float, feed_per_revolution: float, wall: str) -> float:
    """Length [mm] of the tooth path over a rotation `angle` [deg] in 0..180 counted from a wall.

    2 (r + E) E(phi/2 | m), m = 4 r E/(r + E)^2, E = +e from the conventional and -e from the climb wall; r > e.
    Derived; Martellotti 1941, 1945 (from memory), whose approximation is r phi + E sin(phi).
    """
    _positive("mm", radius=radius)
    e = number("feed_per_revolution", feed_per_revolution, low=0, high=radius * TURN, unit="mm", open_high=True) / TURN
    phi = math.radians(number("angle", angle, low=0, high=180, unit="deg"))
    e *= 1 if choice("wall", wall, WALLS) == "conventional" else -1
    return float(2 * (radius + e) * ellipeinc(phi / 2, 4 * radius * e / (radius + e) ** 2))


def circular_path_thickness(angle: float, radius: float, feed_per_tooth: float) -> float:
    """Radial thickness if tooth paths were circles, r + f_z sin(phi) - sqrt(r^2 - f_z^2 cos^2(phi)) [mm]; r > f_z."""
    _positive("mm", radius=radius, feed_per_tooth=feed_per_tooth)
    number("feed_per_tooth", feed_per_tooth, high=radius, unit="mm")
    phi = math.radians(number("angle", angle, unit="deg"))
    return radius + feed_per_tooth * math.sin(phi) - math.sqrt(radius**2 - (feed_per_tooth * math.cos(phi)) ** 2)


def engagement_angle(radial_width: float, diameter: float) -> float:
    """Rotation from the wall to the free surface in side milling, acos(1 - 2 a_e/D) [deg]; 0 < a_e <= D [mm]."""
    _positive("mm", diameter=diameter)
    number("radial_width", radial_width, low=0, high=diameter, open_low=True, unit="mm")
    return math.degrees(math.acos(1 - 2 * radial_width / diameter))


def side_milling_maximum(radius: float, feed_per_tooth: float, flutes: int, radial_width: float) -> tuple[float, float]:
    """Where conventional side milling makes its thickest chip: rotation from the wall [deg] and h_r there [mm].

    The previous tooth path leaves the wood at beta = acos(1 - a_e/r), seen from the present axis at phi = beta - delta:
    a little before beta, where a slot would have its chip. Derived; 0 < a_e < r, r well above f_z [mm].
    """
    steady = _steady(radius, feed_per_tooth, flutes, 0.0, 0.0, 0.0)
    number("radial_width", radial_width, low=0, high=radius, open_low=True, open_high=True, unit="mm")
    beta = math.acos(1 - radial_width / radius)

    def miss(phi: float) -> float:
        return phi + max(steady.old_curves(phi, 0))[1] - beta

    phi = float(brentq(miss, beta / 2, beta, xtol=1e-15, rtol=1e-14))
    return math.degrees(phi), steady.thickness(phi, 0)


def feed_factor(radial_width: float, diameter: float) -> float:
    """Chip-thinning feed factor D/(2 sqrt(D a_e - a_e^2)) [-] for 0 < a_e <= D/2 [mm].

    f_z over this factor is the largest thickness, 2 f_z sqrt(a_e/D - (a_e/D)^2) = f_z sin(phi at the free surface).
    No thinning in a full slot. Source: geometry; printed so in Machinery's Handbook (from memory).
    """
    _positive("mm", diameter=diameter)
    number("radial_width", radial_width, low=0, high=diameter / 2, open_low=True, unit="mm")
    return diameter / (2 * math.sqrt(radial_width * (diameter - radial_width)))


def mean_thickness(radial_width: float, diameter: float, feed_per_tooth: float) -> float:
    """First-order mean thickness over the engagement, f_z (1 - cos phi_s)/phi_s [mm]; in a full slot 2 f_z/pi.

    Source: geometry; printed so in Machinery's Handbook (from memory). 0 < a_e <= D, f_z > 0 [mm].
    """
    _positive("mm", feed_per_tooth=feed_per_tooth)
    return feed_per_tooth * 2 * radial_width / diameter / math.radians(engagement_angle(radial_width, diameter))


# ----------------------------------------------------------------------------------------------
# Tool angles
# ----------------------------------------------------------------------------------------------


class ToolAngles(NamedTuple):
    """ISO 3002-1 tool angles, all [deg]."""

    normal_rake: float
    side_rake: float
    back_rake: float
    normal_clearance: float
    side_clearance: float
    back_clearance: float
    geometric_rake: float
    normal_wedge: float


def iso_tool_angles(
    orthogonal_rake: float, orthogonal_clearance: float, inclination: float, cutting_edge_angle: float
) -> ToolAngles:
    """Turn orthogonal tool angles into normal, side (assumed working plane) and back ones, all [deg].

    tan gn = tan go cos ls, tan gf = tan go sin kr - tan ls cos kr, tan gp = tan go cos kr + tan ls sin kr, and the same
    for the clearances with cot a in place of tan g; tan^2 gg = tan^2 go + tan^2 ls; bn = 90 - an - gn.

    Source: ISO 3002-1:1982 (from memory). Rake and inclination within (-90, 90), clearance and cutting-edge angle
    within (0, 90]; a resulting clearance of 90 or more means the flank cannot clear.
    """
    go, ls = (
        math.tan(math.radians(number(name, value, low=-90, high=90, open_low=True, open_high=True, unit="deg")))
        for name, value in (("orthogonal_rake", orthogonal_rake), ("inclination", inclination))
    )
    number("orthogonal_clearance", orthogonal_clearance, low=0, high=90, open_low=True, unit="deg")
    number("cutting_edge_angle", cutting_edge_angle, low=0, high=90, open_low=True, unit="deg")
    ao = 1 / math.tan(math.radians(orthogonal_clearance))
    sin, cos = math.sin(math.radians(cutting_edge_angle)), math.cos(math.radians(cutting_edge_angle))
    straight = math.cos(math.radians(inclination))

    def rake(tangent: float) -> float:
        return math.degrees(math.atan(tangent))

    def clearance(cotangent: float) -> float:
        return math.degrees(math.atan2(1, cotangent))

    normal_rake, normal_clearance = rake(go * straight), clearance(ao * straight)
    return ToolAngles(
        normal_rake,
        rake(go * sin - ls * cos),
        rake(go * cos + ls * sin),
        normal_clearance,
        clearance(ao * sin - ls * cos),
        clearance(ao * cos + ls * sin),
        rake(math.hypot(go, ls)),
        90 - normal_clearance - normal_rake,
    )


def orthogonal_angles(side_rake: float, back_rake: float, cutting_edge_angle: float) -> tuple[float, float]:
    """Orthogonal rake and inclination [deg] from side and back rake: the way back of `iso_tool_angles`.

    tan go = tan gp cos kr + tan gf sin kr, tan ls = tan gp sin kr - tan gf cos kr (ISO 3002-1:1982, from memory).
    """
    gf, gp = (
        math.tan(math.radians(number(name, value, low=-90, high=90, open_low=True, open_high=True, unit="deg")))
        for name, value in (("side_rake", side_rake), ("back_rake", back_rake))
    )
    number("cutting_edge_angle", cutting_edge_angle, low=0, high=90, open_low=True, unit="deg")
    sin, cos = math.sin(math.radians(cutting_edge_angle)), math.cos(math.radians(cutting_edge_angle))
    return math.degrees(math.atan(gp * cos + gf * sin)), math.degrees(math.atan(gp * sin - gf * cos))


def resultant_angle(angle: float, speed_ratio: float) -> float:
    """Resultant cutting-speed angle eta [deg]: tool-in-use rake is rake + eta, clearance is clearance - eta.

    tan eta = sin(phi)/(v_c/v_f + cos(phi)), phi = `angle` [deg] in 0..180, `speed_ratio` v_f/v_c = e/r in [0, 1).

    Source: ISO 3002-1:1982 (from memory).
    """
    number("speed_ratio", speed_ratio, low=0, high=1, open_high=True)
    phi = math.radians(number("angle", angle, low=0, high=180, unit="deg"))
    return math.degrees(math.atan2(speed_ratio * math.sin(phi), 1 + speed_ratio * math.cos(phi)))


def largest_resultant_angle(speed_ratio: float) -> float:
    """Largest eta over a slot, asin(v_f/v_c) [deg], at cos(phi) = -v_f/v_c, just on the climb side. Derived."""
    return math.degrees(math.asin(number("speed_ratio", speed_ratio, low=0, high=1)))


def horizontal_clearance(normal_clearance: float, included_angle: float) -> float:
    """Clearance seen in the horizontal section of a cone [deg]: tan c_h = tan c_n/cos(a), c_n in (0, 90). Derived."""
    number("normal_clearance", normal_clearance, low=0, high=90, open_low=True, open_high=True, unit="deg")
    return math.degrees(math.atan(math.tan(math.radians(normal_clearance)) / math.cos(_half_angle(included_angle))))


def heel_rub_radius(
    feed_per_revolution: float, normal_clearance: float, included_angle: float, *, dead_ahead: bool = False
) -> float:
    """Radius [mm] below which the heel rubs somewhere in a slot: e/sin(c_h); `dead_ahead` only there: e/tan(c_h).

    Derived; `feed_per_revolution` > 0 [mm], `normal_clearance` in (0, 90), `included_angle` in (0, 180) [deg].
    """
    _positive("mm", feed_per_revolution=feed_per_revolution)
    clearance = math.radians(horizontal_clearance(normal_clearance, included_angle))
    return feed_per_revolution / TURN / (math.tan(clearance) if dead_ahead else math.sin(clearance))


def degenerate_radius(feed_per_revolution: float) -> float:
    """Radius e = f/(2 pi) [mm] below which the climb-side edge runs forward, heel first: no loops in the trochoid."""
    _positive("mm", feed_per_revolution=feed_per_revolution)
    return feed_per_revolution / TURN


def height_of_radius(radius: float, included_angle: float, tip_width: float = 0.0) -> float:
    """Height above the tip [mm] at which a V-bit has a radius, (r - r_tip)/tan(a), at least 0."""
    number("radius", radius, low=0, unit="mm")
    number("tip_width", tip_width, low=0, unit="mm")
    return max(0.0, (radius - tip_width / 2) / math.tan(_half_angle(included_angle)))


def lag_constant_helix(low_radius: float, high_radius: float, helix: float, included_angle: float) -> float:
    """Lag [deg] of an edge at a constant angle b to the generator of a cone: tan(b)/sin(a) ln(r2/r1).

    Diverges at a sharp tip. Derived; taper zone of Engin & Altintas 2001 (from memory). 0 < r1 <= r2 [mm], `|b|` < 90.
    """
    _positive("mm", low_radius=low_radius)
    number("high_radius", high_radius, low=low_radius, unit="mm")
    number("helix", helix, low=-90, high=90, open_low=True, open_high=True, unit="deg")
    lag = math.tan(math.radians(helix)) / math.sin(_half_angle(included_angle)) * math.log(high_radius / low_radius)
    return math.degrees(lag)


def lag_constant_lead(low_radius: float, high_radius: float, helix: float, included_angle: float) -> float:
    """Lag [deg] of an edge of constant lead, at the angle b to the generator at r2: tan(b) (h2 - h1)/(r2 cos(a)).

    Derived. 0 <= r1 <= r2, r2 > 0 [mm], `|b|` < 90 [deg].
    """
    number("low_radius", low_radius, low=0, unit="mm")
    _positive("mm", high_radius=high_radius)
    number("high_radius", high_radius, low=low_radius, unit="mm")
    number("helix", helix, low=-90, high=90, open_low=True, open_high=True, unit="deg")
    a = _half_angle(included_angle)
    rise = (high_radius - low_radius) / math.tan(a)
    return math.degrees(rise * math.tan(math.radians(helix)) / (high_radius * math.cos(a)))


def lag_offset_edge(low_radius: float, high_radius: float, offset: float) -> float:
    """Lag [deg] of a straight edge passing the axis at a distance b: asin(b/r1) - asin(b/r2).

    It sweeps a hyperboloid, not a cone. Derived. `|b|` <= r1 <= r2, r1 > 0 [mm].
    """
    _positive("mm", low_radius=low_radius)
    number("high_radius", high_radius, low=low_radius, unit="mm")
    number("offset", offset, low=-low_radius, high=low_radius, unit="mm")
    return math.degrees(math.asin(offset / low_radius) - math.asin(offset / high_radius))


# ----------------------------------------------------------------------------------------------
# Groove geometry and travel times
# ----------------------------------------------------------------------------------------------


class GrooveSection(NamedTuple):
    """Cross-section of a V-groove."""

    area: float
    """2 r_tip d + d^2 tan(a) [mm^2]; times length the volume, along any path that keeps clear of itself (Pappus)."""
    width: float
    """At the face, 2 (r_tip + d tan(a)) [mm]."""
    flanks: float
    """Length of both flanks in the section, 2 d/cos(a) [mm]."""


def groove_section(depth: float, included_angle: float, tip_width: float = 0.0) -> GrooveSection:
    """Section of the groove of a V-bit at a depth >= 0 [mm]. Source: geometry."""
    number("depth", depth, low=0, unit="mm")
    number("tip_width", tip_width, low=0, unit="mm")
    a = _half_angle(included_angle)
    spread = depth * math.tan(a)
    return GrooveSection(depth * (tip_width + spread), tip_width + 2 * spread, 2 * depth / math.cos(a))


def end_caps_volume(depth: float, included_angle: float, tip_width: float = 0.0) -> float:
    """Volume [mm^3] of both rounded ends of a groove together: the frustum pi d/3 (r_tip^2 + r_tip R + R^2)."""
    top, tip = groove_section(depth, included_angle, tip_width).width / 2, tip_width / 2
    return math.pi * depth / 3 * (tip * tip + tip * top + top * top)


def peak_speed(distance: float, acceleration: float, start_speed: float = 0.0, end_speed: float = 0.0) -> float:
    """Speed [mm/s] reached between two speeds over a distance, sqrt((2 a D + v0^2 + v1^2)/2), without a cap.

    `distance` > 0 [mm], `acceleration` > 0 [mm/s^2]; the distance must allow the change of speed. Textbook kinematics.
    """
    _positive("mm", distance=distance)
    _positive("mm/s^2", acceleration=acceleration)
    v0 = number("start_speed", start_speed, low=0, unit="mm/s")
    v1 = number("end_speed", end_speed, low=0, unit="mm/s")
    number("distance", distance, low=abs(v1**2 - v0**2) / (2 * acceleration) * (1 - 1e-12), unit="mm")
    return math.sqrt((2 * acceleration * distance + v0**2 + v1**2) / 2)


def travel_time(
    distance: float, speed: float, acceleration: float, start_speed: float = 0.0, end_speed: float = 0.0
) -> float:
    """Shortest time [s] over a distance under a speed cap: a trapezoid, or a triangle if the cap is not reached.

    From rest to rest D/v + v/a, or 2 sqrt(D/a) when v^2/a > D. Textbook kinematics. `speed` at least both end speeds.
    """
    reached = peak_speed(distance, acceleration, start_speed, end_speed)
    number("speed", speed, low=max(start_speed, end_speed), unit="mm/s")
    _positive("mm/s", speed=speed)
    top = min(reached, speed)
    ramps = (2 * top - start_speed - end_speed) / acceleration
    rest = distance - (2 * top**2 - start_speed**2 - end_speed**2) / (2 * acceleration)
    return ramps + max(0.0, rest) / top


def centripetal_speed(path_radius: float, acceleration: float) -> float:
    """Largest steady speed on an arc, sqrt(a R) [mm/s]; R > 0 [mm], a > 0 [mm/s^2]. Textbook kinematics."""
    _positive("mm", path_radius=path_radius)
    _positive("mm/s^2", acceleration=acceleration)
    return math.sqrt(acceleration * path_radius)


def friction_circle_speed(distance: float, path_radius: float, acceleration: float, start_speed: float = 0.0) -> float:
    """Speed [mm/s] after a distance along an arc at full total acceleration `|a|`, tangential and centripetal together.

    v^2 = a R sin(2 s/R + asin(v0^2/(a R))), up to the steady limit sqrt(a R), kept from then on. Derived.
    """
    limit = centripetal_speed(path_radius, acceleration)
    number("distance", distance, low=0, unit="mm")
    number("start_speed", start_speed, low=0, high=limit, unit="mm/s")
    turn = min(math.pi / 2, 2 * distance / path_radius + math.asin((start_speed / limit) ** 2))
    return limit * math.sqrt(math.sin(turn))


# ----------------------------------------------------------------------------------------------
# Impact and heat
# ----------------------------------------------------------------------------------------------


def struck_beam_stress(speed: float, modulus: float, density: float) -> float:
    """Bending stress [MPa] where a slender rectangular beam is struck at a speed v: sqrt(3) rho c v, c = sqrt(E/rho).

    A section forced to move at v from time 0 sees the constant curvature v sqrt(rho A/(E I)), whatever the thickness.
    `speed` >= 0 [m/s], `modulus` E > 0 [MPa], `density` rho > 0 [kg/m^3]. Linear, shear and rotary inertia neglected.

    Source: F. V. Hunt, J. Acoust. Soc. Am. 32 (1960) 1123 (relation from memory), derived.
    """
    number("speed", speed, low=0, unit="m/s")
    _positive("MPa", modulus=modulus)
    _positive("kg/m^3", density=density)
    return math.sqrt(3) * speed * math.sqrt(modulus * 1e6 * density) / 1e6


def band_source_coefficients(peclet: float) -> tuple[float, float]:
    """Average and largest surface temperature under a moving band source, as coefficients C [-].

    theta = C q/k sqrt(kappa b/v): q heat flux, k conductivity, kappa diffusivity, v speed, b the full length of the
    band; `peclet` L = v b/(4 kappa) in [0.01, 1000]. By quadrature of the quasi-steady temperature
    theta(X) = 2 q kappa/(pi k v) int over `|X - u| < L` of `exp(-u) K0(|u|)` du, X = -L..L, u positive ahead of the
    source. Tends to 4/(3 sqrt(pi)) = 0.752 and 2/sqrt(pi) = 1.128 for large L.

    Source: J. C. Jaeger, Proc. Roy. Soc. N.S.W. 76 (1942) 203 (from memory); coefficients derived.
    """
    width = number("peclet", peclet, low=0.01, high=1000)

    def ahead(u: float) -> float:  # still to be passed over: exp(-u) K0(u)
        return float(math.exp(-u) * k0(u))

    def behind(u: float) -> float:  # already passed over: exp(u) K0(u)
        return float(k0e(u))

    def part(kernel: Callable[[float], float], reach: float) -> float:
        # K0 is logarithmic at 0: u = w^2 takes the edge off
        return float(quad(lambda w: 2 * w * kernel(w * w) if w > 0 else 0.0, 0, math.sqrt(reach), **QUAD)[0])

    def temperature(x: float) -> float:
        return part(behind, x) + part(ahead, 2 * width - x)  # x from the leading end, in units of 2 kappa/v

    scale = math.sqrt(1 / width) / math.pi
    # Swapping the order of integration leaves single integrals: each u counts (2 L - u) times.
    total = sum(
        float(
            quad(
                lambda w, kernel=kernel: 2 * w * (2 * width - w * w) * kernel(w * w) if w > 0 else 0.0,
                0,
                math.sqrt(2 * width),
                **QUAD,
            )[0]
        )
        for kernel in (ahead, behind)
    )
    # The maximum lies where exp(x) K0(x) = exp(-(2 L - x)) K0(2 L - x), near the trailing end.
    peak = float(brentq(lambda x: behind(x) - ahead(2 * width - x), 1e-12, 2 * width * (1 - 1e-15)))
    return scale * total / (2 * width), scale * temperature(peak)


# ----------------------------------------------------------------------------------------------
# Fibres at the finished wall
# ----------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class FibreAngles:
    """Angles between the wood's fibre and a finished groove wall, all [deg]."""

    to_velocity: float
    """Between the fibre and the cutting velocity, 0 to 90."""
    wall_dive: float
    """In the plane of velocity and wall normal, -90 to 90: positive against the grain, negative with it."""
    elevation: float
    """Between the fibre and the wall's tangent plane, -90 to 90; same sign as `wall_dive`."""
    to_edge: float
    """Between the fibre and the cutting edge, 0 to 90."""

    @property
    def fibre_angle(self) -> float:
        """The signed pair folded into [0, 180): below 90 against the grain, above 90 with it."""
        return self.wall_dive % 180.0


def wall_fibre_angles(
    heading: float, azimuth: float, dive: float, included_angle: float, spin: str = "cw", side: str = "left"
) -> FibreAngles:
    """Angles of a fibre at the finished wall of a level groove, in closed form.

    With beta = azimuth - heading, D = dive, c = +1 for a clockwise spindle and -1 otherwise, w = +1 on the left wall
    and -1 on the right: cutting velocity c w T, normal into the wood w cos(a) N - sin(a) z (N to the left of T), edge
    w sin(a) N + cos(a) z, fibre g = cos D cos beta T + cos D sin beta N - sin D z; an axis, so turned until g.v >= 0.

    Ties: beta = 90 leaves the sign undefined; `wall_dive` is then +90 and `elevation` is positive.

    Parameters
    ----------
    heading, azimuth : float
        Of the travel and of the fibre [deg].
    dive : float
        Of the fibre below the face along its azimuth [deg], -90 to 90.
    included_angle : float
        [deg], 0 (a slot with upright walls) to below 180.
    spin : {'cw', 'ccw'}
        Sense of rotation.
    side : {'left', 'right'}
        Wall, seen along the travel. Holds where r > e; nearer to the tip the climb wall is rubbed by the heel.

    Returns
    -------
    FibreAngles
        Derived; pure geometry. The two numbers of W. M. McKenzie (1961, as quoted in the literature) are `to_edge`
        and `to_velocity`.
    """
    number("heading", heading, unit="deg")
    number("azimuth", azimuth, unit="deg")
    down = math.radians(number("dive", dive, low=-90, high=90, unit="deg"))
    a = math.radians(number("included_angle", included_angle, low=0, high=180, open_high=True, unit="deg")) / 2
    c = 1 if choice("spin", spin, SPINS) == "cw" else -1
    w = 1 if choice("side", side, ("left", "right")) == "left" else -1
    beta = math.radians(azimuth - heading)
    along_velocity = c * w * math.cos(down) * math.cos(beta)
    into_wood = w * math.cos(down) * math.sin(beta) * math.cos(a) + math.sin(down) * math.sin(a)
    along_edge = w * math.sin(a) * math.cos(down) * math.sin(beta) - math.cos(a) * math.sin(down)
    tie = abs(along_velocity) < 1e-12
    into = abs(into_wood) if tie else math.copysign(1, along_velocity) * into_wood
    # hypot of the other two components, not acos: near 0 degrees acos loses half the digits
    return FibreAngles(
        to_velocity=math.degrees(math.atan2(math.hypot(into_wood, along_edge), abs(along_velocity))),
        wall_dive=90.0 if tie else math.degrees(math.atan2(into, abs(along_velocity))),
        elevation=math.degrees(math.asin(min(1.0, max(-1.0, into)))),
        to_edge=math.degrees(math.atan2(math.hypot(along_velocity, into_wood), abs(along_edge))),
    )
