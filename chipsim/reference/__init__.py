"""Closed forms, each with its source: what the fast kernels and the models are held against.

The brute-force oracle is offered here too. Nothing here is fast and nothing here knows the
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

from . import closed_forms
from .closed_forms import *  # noqa: F403

__all__: list[str] = []
__all__ += closed_forms.__all__
