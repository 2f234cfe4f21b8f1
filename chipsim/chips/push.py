"""Which way the tooth of every strike pushes the fibres of a lip: up out of the board's face, or down into it."""

from __future__ import annotations

import numpy as np

from .._shared.arrays import FloatArray, frozen, instance
from ..kernels import axis, outline
from ..scene.cuts import Carving, Cut, as_carving
from ..scene.cutters import lip_shear
from ..scene.oblique import push_at_lip
from .edges import edges_of
from .passes import spindle_of
from .strikes import LipStrikes

__all__ = ["lip_push"]


def lip_push(strikes: LipStrikes, carving: Carving | Cut, *, friction: float = 0.0) -> FloatArray:
    """Say of every strike how much its tooth lifts the fibres of the lip: geometry alone, see `push_at_lip`.

    A unit push of the tooth's face, without friction unless it is given, has this share up out of the board's face. It
    depends on rake, shear and the flank's lean alone, and so is the same at every lip for a bit whose flutes are alike.

    Parameters
    ----------
    strikes
        Of the carving, from `lip_strikes`.
    carving
        The `Carving` or single `Cut` whose lips they are.
    friction
        Coefficient between chip and face, in [0, 2]. [-]

    Returns
    -------
    (n, 2, k) array, NaN beyond the counts
        Above 0 the fibres are lifted, below 0 they are pressed down. [-]

    Examples
    --------
    >>> import chipsim as cs
    >>> cut = cs.Cut(cs.VBit(60, 12.7, 2, 0.2, shear=-15), cs.ring(5, 1.5), 18_000, 1500)
    >>> push = cs.lip_push(cs.lip_strikes(cut, pitch=2.0), cut)
    >>> f"{push[0, 0, 0]:.3f}: below 0, it presses"
    '-0.134: below 0, it presses'
    """
    instance("strikes", strikes, LipStrikes, "LipStrikes")
    out = np.full(strikes.times.shape, np.nan)
    known = np.arange(strikes.chips.shape[2]) < strikes.counts[..., None]
    for number, stroke in enumerate(as_carving(carving).strokes()):
        row, side, place = np.nonzero(known & (strikes.strokes == number))
        at = row, side, place
        if not row.size:
            continue
        cut = stroke.cut
        time = strikes.times[at] - stroke.start
        motion = cut.motion
        k = np.clip(np.searchsorted(motion[:, axis.T0], time, side="right") - 1, 0, len(motion) - 1)
        since = time - motion[k, axis.T0]
        depth = np.maximum(motion[k, axis.D] + since * (motion[k, axis.W] + 0.5 * since * motion[k, axis.B]), 0.0)
        shear = lip_shear(cut.bit, depth)
        mine = shear[0]
        if np.ptp(shear, axis=0).max(initial=0.0) > 0:
            mine = shear[_flutes(cut, strikes, at, time, depth), np.arange(time.size)]
        lean = np.degrees(np.arctan(cut.flank_slope(depth)))
        out[at] = push_at_lip(cut.bit.rake, lean, shear=mine, friction=friction).up
    return frozen(out)  # type: ignore[no-any-return]


def _flutes(
    cut: Cut, strikes: LipStrikes, at: tuple[np.ndarray, ...], time: FloatArray, depth: FloatArray
) -> np.ndarray:
    """Which flute's edge stands on the probe of a lip at the time of each strike."""
    job, (heights, table) = spindle_of(cut), edges_of(cut)
    rims = np.empty((cut.bit.flutes, depth.size, 2))
    outline.rim_table(job, heights, table, depth, rims)
    behind = 2 * np.pi * np.arange(cut.bit.flutes)[:, None] / cut.bit.flutes + rims[..., 1]
    azimuth = job[5] + job[0] * (job[1] * time - behind)
    row, side = at[0], at[1]
    outward = np.radians(strikes.lips.outward[row, side])
    motion = cut.motion
    places = np.array(
        [axis.state(motion, axis.locate(motion, t), t - motion[axis.locate(motion, t), 0])[:2] for t in time]
    )
    gap = strikes.lip_xy[row, side] - places
    across = gap[:, 1] * np.cos(outward) - gap[:, 0] * np.sin(outward)
    # the probe passes the axis on one side, at a distance that the right edge alone meets while it points outwards
    miss = np.abs(rims[..., 0] * np.sin(azimuth - outward) - across)
    return np.asarray(np.argmin(miss + 1e3 * (np.cos(azimuth - outward) < 0), axis=0))
