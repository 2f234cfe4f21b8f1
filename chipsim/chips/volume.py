"""Volume of the wood that grooves remove."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from .._shared.arrays import integer
from ..scene.cuts import Carving, Cut, as_carving
from .blocks import lip_blocks

__all__ = ["groove_volume"]


def groove_volume(carving: Carving | Cut, *, pitch: float = 0.05, slices: int = 16) -> float:
    """Volume of wood removed, grooves that cross counted once, scallops and runout neglected. [mm^3]

    Horizontal slices by Gauss-Legendre quadrature over the depth; the area of each follows from its own lips by the
    divergence theorem, A = 1/2 sum of (lip point . outward normal) lip length, over the lips that survive.

    Parameters
    ----------
    carving
        A `Carving`, or a single `Cut`; earlier passes lie within the last one and add nothing.
    pitch
        Spacing of the stations, finer than that of a map because a sum over chords stands for the area. [mm]
    slices
        Number of slices.

    Examples
    --------
    >>> import chipsim as cs
    >>> cut = cs.Cut(cs.VBit(90, 12.7, 2), cs.line((0, 0), (50, 0), 2), 18_000, 1500)
    >>> f"{cs.groove_volume(cut):.0f} mm^3"
    '208 mm^3'
    """
    job = as_carving(carving)
    count = integer("slices", slices, low=1, high=1000)
    deepest = max(float(c.path.depth.max()) for c in job)
    nodes, weights = np.polynomial.legendre.leggauss(count)
    total = 0.0
    for z, weight in zip((nodes + 1) / 2 * deepest, weights / 2 * deepest, strict=True):
        level = [replace(c.raised(float(z)), machine=None) for c in job if c.path.depth.max() > z]
        for block in lip_blocks(Carving(tuple(level)), pitch=pitch):
            lips = block.lips()
            a = np.radians(lips.outward)
            reach = lips.lip_xy[..., 0] * np.cos(a) + lips.lip_xy[..., 1] * np.sin(a)
            total += weight * float(np.nansum(reach * lips.lip_length)) / 2
    return total
