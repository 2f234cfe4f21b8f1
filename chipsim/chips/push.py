"""Which way the tooth of every strike pushes the fibres of a lip: up out of the board's face, or down into it."""

from __future__ import annotations

import numpy as np

from .._shared.arrays import FloatArray, frozen, instance
from ..scene.cuts import Carving, Cut, as_carving
from ..scene.oblique import push_at_lip
from .strikes import LipStrikes
from .teeth import shear_at

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
        depth, shear = shear_at(cut, time, strikes.lip_xy[row, side], strikes.lips.outward[row, side])
        lean = np.degrees(np.arctan(cut.flank_slope(depth)))
        out[at] = push_at_lip(cut.bit.rake, lean, shear=shear, friction=friction).up
    return frozen(out)  # type: ignore[no-any-return]
