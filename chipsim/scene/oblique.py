"""Angles on a sheared edge: inclination, rake and clearance as the wood meets them, and which way the face pushes.

At an edge: u outward, t along the rotation, g = sin a u + cos a z up the flank's generator, n = cos a u - sin a z into
the wood, a the flank's lean from the vertical. The edge e = cos s g - sin s t is inclined by the shear s; m = cos s t +
sin s g is square to it in the flank. With v the edge's velocity in the work (all derived for this project):

* working inclination: sin i = -(v.e) / |v|, the shear itself at a level wall;
* the surface that is cut leans by eta from the flank, tan eta = (v.n) / (v.m): working rake and clearance normal to the
  edge are rake + eta and clearance - eta;
* in the plane of v and n: tan(velocity rake) = tan(normal rake) / cos i, tan(velocity clearance) = tan(normal
  clearance) cos i (ISO 3002-1, from memory; re-checked by intersecting planes);
* with the chip flowing at the inclination, sin(effective rake) = sin^2 i + cos^2 i sin(normal rake) (Merchant 1944,
  Stabler 1951, Shaw, Cook and Smith 1952, from memory). That chips flow so is a first approximation: in metal the rake
  normal to the edge governs, and the chip's flow is not proportional to the inclination (abstract of 'Oblique machining
  with a single cutting edge', Brown and Armarego 1964 by memory). For wood Jin and Cai 1997 fitted both angles
  (abstract). No model of this library uses the effective rake unless it is asked to;
* the rounding is a cylinder about the edge: cut by the plane of v and n its front has the radius r cos i, and where it
  rides on the wall r / cos^2 i. Sharper by shear holds for the front alone.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike

from .._shared.arrays import FloatArray, array

__all__ = ["Push", "WorkingAngles", "lip_edge", "neutral_shear", "push_at_lip", "working_angles"]


class WorkingAngles(NamedTuple):
    """What an edge is to the wood it moves through, arrays of the arguments' common shape."""

    inclination: FloatArray
    """Of the edge to the plane square to its motion, 0 for a straight edge at a level wall. [deg]"""
    turn: FloatArray
    """By which feed and descent turn rake and clearance, normal to the edge. [deg]"""
    rake: FloatArray
    """Normal to the edge, at work. [deg]"""
    clearance: FloatArray
    """Normal to the edge, at work; below 0 the heel rubs. [deg]"""
    velocity_rake: FloatArray
    """In the plane of the motion. [deg]"""
    velocity_clearance: FloatArray
    """In the plane of the motion. [deg]"""
    effective_rake: FloatArray
    """Along the chip's way, if the chip flows at the inclination. [deg]"""
    front_radius: FloatArray
    """Of the rounding in the plane of the motion, at its front. [mm]"""
    wall_radius: FloatArray
    """Of the rounding in the plane of the motion, where it rides on the wall. [mm]"""


class Push(NamedTuple):
    """Direction in which the face of a flute pushes the wood at the lip: of a unit push without friction."""

    up: FloatArray
    """Out of the board's face: above 0 it lifts the fibres of the lip, below 0 it presses them down. [-]"""
    out: FloatArray
    """Into the remaining wood; below 0 it pulls towards the groove. [-]"""
    along: FloatArray
    """Along the rotation. [-]"""


def working_angles(
    rake: ArrayLike,
    clearance: ArrayLike,
    half_angle: ArrayLike,
    *,
    shear: ArrayLike = 0.0,
    edge_radius: ArrayLike = 0.008,
    radius: ArrayLike = 1.0,
    feed_per_rev: ArrayLike = 0.0,
    descent_per_rev: ArrayLike = 0.0,
    rotation: ArrayLike = 0.0,
) -> WorkingAngles:
    """Work out rake, clearance, inclination and edge radius of an edge as it moves through the wood.

    Parameters
    ----------
    rake, clearance
        Normal to the edge. [deg]
    half_angle
        Lean of the flank from the vertical, in [0, 90]. [deg]
    shear
        Of the edge in the flank's plane, in (-90, 90); above 0 the lower end leads and the chip is lifted. [deg]
    edge_radius
        Rounding of the edge. [mm]
    radius
        Of the edge about the spindle axis. [mm]
    feed_per_rev, descent_per_rev
        Way of the axis in the face, and downwards, in one turn. [mm]
    rotation
        Where the edge stands: 0 at the wall where it enters moving with the feed (left for cw), 90 ahead. [deg]

    Returns
    -------
    WorkingAngles
        Arrays of the arguments' common shape.

    Raises
    ------
    DomainError
        If an argument is out of range.

    Examples
    --------
    >>> import chipsim as cs
    >>> at_work = cs.working_angles(10, 15, 30, shear=20)
    >>> f"velocity rake {float(at_work.velocity_rake):.2f}, effective rake {float(at_work.effective_rake):.2f} deg"
    'velocity rake 10.63, effective rake 15.68 deg'
    """
    g_n = array("rake", rake, low=-89, high=89, unit="deg")
    c_n = array("clearance", clearance, low=-89, high=89, unit="deg")
    a = np.radians(array("half_angle", half_angle, low=0, high=90, unit="deg"))
    s = np.radians(array("shear", shear, low=-89, high=89, unit="deg"))
    blunt = array("edge_radius", edge_radius, low=0, high=1, unit="mm")
    r = array("radius", radius, low=1e-6, high=1000, unit="mm")
    e, p = (
        array(name, value, unit="mm") / (2 * np.pi)
        for name, value in (("feed_per_rev", feed_per_rev), ("descent_per_rev", descent_per_rev))
    )
    phi = np.radians(array("rotation", rotation, low=-1e6, high=1e6, unit="deg"))
    # velocity a radian of rotation, along t, u and z
    along, outward, upward = r + e * np.cos(phi), e * np.sin(phi), -p
    up_flank = np.sin(a) * outward + np.cos(a) * upward
    into = np.cos(a) * outward - np.sin(a) * upward
    on_edge, square = np.cos(s) * up_flank - np.sin(s) * along, np.cos(s) * along + np.sin(s) * up_flank
    i = np.arcsin(-on_edge / np.sqrt(along**2 + outward**2 + upward**2))
    turn = np.arctan2(into, square)
    rake_n, clear_n = np.radians(g_n) + turn, np.radians(c_n) - turn
    answers = (
        np.degrees(i),
        np.degrees(turn),
        np.degrees(rake_n),
        np.degrees(clear_n),
        np.degrees(np.arctan(np.tan(rake_n) / np.cos(i))),
        np.degrees(np.arctan(np.tan(clear_n) * np.cos(i))),
        np.degrees(np.arcsin(np.sin(i) ** 2 + np.cos(i) ** 2 * np.sin(rake_n))),
        blunt * np.cos(i),
        blunt / np.cos(i) ** 2,
    )
    return WorkingAngles(*(np.array(x) for x in np.broadcast_arrays(*answers)))


def push_at_lip(rake: ArrayLike, half_angle: ArrayLike, *, shear: ArrayLike = 0.0, friction: ArrayLike = 0.0) -> Push:
    """Which way the face of a flute pushes the wood at the lip: up out of the face, outwards, along the rotation.

    It is the same for either spin, left and right lip: the shear is counted against the rotation. A positive rake lifts
    by sin(rake) sin(a) even without shear; pressing begins beyond `neutral_shear`. With friction the chip drags the
    face's push with it as it flows, taken to flow at the shear. The rounding and the clearance face push the wall along
    its normal and so always press the lip: that is not counted here. What lifting and pressing do to wood at the lips
    of a V-groove has been measured by nobody that was found.

    Parameters
    ----------
    rake
        Normal to the edge. [deg]
    half_angle
        Lean of the flank from the vertical, in [0, 90]. [deg]
    shear
        In the flank's plane; above 0 lifts the chip. [deg]
    friction
        Coefficient between chip and face, in [0, 2]. [-]

    Returns
    -------
    Push
        Arrays of the arguments' common shape, per unit of the force normal to the face.

    Examples
    --------
    >>> import chipsim as cs
    >>> [round(float(cs.push_at_lip(10, 30, shear=s).up), 3) for s in (-15, 0, 15)]
    [-0.134, 0.087, 0.308]
    """
    g = np.radians(array("rake", rake, low=-89, high=89, unit="deg"))
    a = np.radians(array("half_angle", half_angle, low=0, high=90, unit="deg"))
    s = np.radians(array("shear", shear, low=-89, high=89, unit="deg"))
    mu = array("friction", friction, low=0, high=2)
    # along the generator, along the rotation, along the flank's normal out of the wood
    up_flank = np.cos(g) * np.sin(s) - mu * (np.cos(s) * -np.sin(g) * np.sin(s) + np.sin(s) * np.cos(s))
    ahead = np.cos(g) * np.cos(s) - mu * (-np.cos(s) * np.sin(g) * np.cos(s) - np.sin(s) * np.sin(s))
    away = np.sin(g) - mu * np.cos(s) * np.cos(g)
    up = up_flank * np.cos(a) + away * np.sin(a)
    out = up_flank * np.sin(a) - away * np.cos(a)
    return Push(*(np.array(x) for x in np.broadcast_arrays(up, out, ahead)))


def neutral_shear(rake: ArrayLike, half_angle: ArrayLike) -> FloatArray:
    """Shear at which the face neither lifts nor presses the lip: sin s = -tan rake tan a, without friction. [deg]

    NaN where no shear is enough. Below it, which for a positive rake is a shear that presses, the fibres are pressed.

    Examples
    --------
    >>> from chipsim.scene.oblique import neutral_shear
    >>> float(neutral_shear(10, 30).round(2)), float(neutral_shear(10, 45).round(2))
    (-5.84, -10.16)
    """
    g = np.radians(array("rake", rake, low=-89, high=89, unit="deg"))
    a = np.radians(array("half_angle", half_angle, low=0, high=90, unit="deg"))
    sine = -np.tan(g) * np.tan(a)
    return np.asarray(np.degrees(np.arcsin(np.where(np.abs(sine) <= 1, sine, np.nan))))


def lip_edge(forward: FloatArray, outward: FloatArray, lean: FloatArray, shear: FloatArray) -> FloatArray:
    """Unit direction of the edge as it leaves a wall, upwards, (..., 3), in the work.

    Parameters
    ----------
    forward, outward
        Directions of the rotation and of the lip's normal in the face, (..., 3).
    lean
        Of the flank from the vertical, (...). [rad]
    shear
        Of the edge, (...). [deg]
    """
    s = np.radians(np.asarray(shear))[..., None]
    a = np.asarray(lean)[..., None]
    up = np.zeros(3)
    up[2] = 1.0
    return np.asarray(np.cos(s) * (np.sin(a) * outward + np.cos(a) * up) - np.sin(s) * forward)
