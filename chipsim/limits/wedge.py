"""What the wedge of an edge can bear, and whether the gullets hold the chips: two limits of how a bit may be ground."""

from __future__ import annotations

import math

import numpy as np

from .._shared.arrays import number, trapezoid
from ..scene.cuts import Cut
from ..scene.cutters import Cutter
from ..scene.species import Wood
from .forces import CuttingForceModel

__all__ = ["LEAST_WEDGE", "LOOSE", "ROOM", "chip_share", "edge_stress", "wedge_of"]

LEAST_WEDGE = 50.0
"""Wedge below which carbide chips in solid wood; 55 to 60 and more are usual (from memory, little trusted). [deg]"""

LOOSE = 4.0
"""Room that loose chips take over the wood they were, 3 to 6 (common practice, no source). [-]"""

ABOVE = 1.0
"""How far above the face chips stand in a gullet before they leave it (assumed). [mm]"""

ROOM = 0.4
"""Share of a bit's turning body that is free for chips where nobody says (assumed: core two thirds as wide). [-]"""


def wedge_of(bit: Cutter) -> float:
    """Angle of the carbide between rake face and clearance face, normal to the edge. [deg]"""
    return 90.0 - bit.rake - bit.clearance


def edge_stress(bit: Cutter, chip: float, wood: Wood, model: CuttingForceModel | None = None) -> float:
    """Bending stress in the wedge of an edge that takes a chip across the fibre's end, the dearest direction. [MPa]

    The wedge is a cantilever that grows from nothing: loaded evenly over the chip's thickness h by the force F a length
    of edge (`CuttingForceModel`, its likely value), its section a way h from the edge is 2 h tan(b / 2) thick and
    bears 6 (F h / 2) / (2 h tan(b / 2))^2 = 3 F / (4 h tan^2(b / 2)) (derived; a beam, and the load square to it: to a
    factor of two on top of the force's). A rounding or a land longer than the chip is thick carries the load over its
    own length.

    Parameters
    ----------
    bit
        Its rake, clearance, edge radius and land.
    chip
        Thickness, normal to the edge. [mm]
    wood
        The species.
    model
        Default `CuttingForceModel()`.

    Examples
    --------
    >>> import chipsim as cs
    >>> from chipsim.limits.wedge import edge_stress
    >>> maple = cs.wood("sugar maple")
    >>> keen, stout = cs.VBit(60, 12.7, 2, rake=30, clearance=20), cs.VBit(60, 12.7, 2)
    >>> edge_stress(keen, 0.05, maple) > 2 * edge_stress(stout, 0.05, maple)
    True
    """
    own = model or CuttingForceModel()
    thick = number("chip", chip, low=0, high=100, unit="mm")
    force = float(own.force_per_length(thick, bit.edge_radius, wood, motion=0.0, edge=0.0))
    reach = max(thick, bit.edge_radius, getattr(bit, "land", 0.0))
    return 0.75 * force / (reach * math.tan(math.radians(wedge_of(bit)) / 2) ** 2)


def chip_share(cut: Cut, room: float | None = None) -> float:
    """Share of a flute's gullet that its loose chips fill, in the deepest groove of a cut. [-]

    A flute takes the feed per tooth times the groove's section; it has its share of the turning body's free room up to
    a little above the face (`ABOVE`), and cannot empty it before it comes round behind the bit.

    Parameters
    ----------
    cut
        Of its passes the deepest layer counts.
    room
        Share of the body that is free for chips; None: the bit's `chip_room`, or `ROOM`. [-]
    """
    said = getattr(cut.bit, "chip_room", None) if room is None else number("room", room, low=0.02, high=0.95)
    depths = [float(p.path.depth.max()) for p in cut.earlier_passes()] + [float(cut.path.depth.max())]
    worst, before = 0.0, 0.0
    for depth in depths:
        h = np.linspace(0.0, depth, 513)
        r = np.interp(h, *cut.knots)
        was = np.interp(np.maximum(h - (depth - before), 0.0), *cut.knots) * (h > depth - before)
        up = np.linspace(0.0, depth + ABOVE, 513)
        section, body = trapezoid(2 * (r - was), h), trapezoid(np.pi * np.interp(up, *cut.knots) ** 2, up)
        free = (ROOM if said is None else said) * body / cut.bit.flutes
        worst = max(worst, LOOSE * cut.feed_per_tooth * section / free)
        before = depth
    return worst
