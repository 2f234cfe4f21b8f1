"""Which tooth made a strike: the depth of the tip then, and the shear of the edge that stood on the lip's probe."""

from __future__ import annotations

import numpy as np

from .._shared.arrays import FloatArray
from ..kernels import axis, outline
from ..scene.cuts import Cut
from ..scene.cutters import lip_shear
from .edges import edges_of, spindle_of

__all__ = ["shear_at"]


def shear_at(cut: Cut, times: FloatArray, lip_xy: FloatArray, outward: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Depth of the tip [mm], and shear at the face [deg] of the edge that strikes, each (n,).

    Parameters
    ----------
    cut
        Whose strikes they are.
    times
        (n,) when each strikes, on the cut's own clock. [s]
    lip_xy
        (n, 2) lip points. [mm]
    outward
        (n,) azimuths of their probes, out of the groove. [deg]
    """
    places = np.empty((len(times), 3))
    axis.places(cut.motion.copy(), np.ascontiguousarray(times), places)
    depth = np.maximum(places[:, 2], 0.0)
    shear = lip_shear(cut.bit, depth)
    if not np.ptp(shear, axis=0).max(initial=0.0) > 0:
        return depth, shear[0]
    job, (heights, table) = spindle_of(cut), edges_of(cut)
    rims = np.empty((cut.bit.flutes, depth.size, 2))
    outline.rim_table(job, heights, table, depth, rims)
    behind = 2 * np.pi * np.arange(cut.bit.flutes)[:, None] / cut.bit.flutes + rims[..., 1]
    azimuth = job[5] + job[0] * (job[1] * np.asarray(times) - behind)
    away, gap = np.radians(outward), lip_xy - places[:, :2]
    across = gap[:, 1] * np.cos(away) - gap[:, 0] * np.sin(away)
    # the probe passes the axis on one side, at a distance that the right edge alone meets while it points outwards
    miss = np.abs(rims[..., 0] * np.sin(azimuth - away) - across)
    flute = np.argmin(miss + 1e3 * (np.cos(azimuth - away) < 0), axis=0)
    return depth, shear[flute, np.arange(depth.size)]
