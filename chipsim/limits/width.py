"""The width card: what an error of depth, tip or angle does to the width of a groove."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike

from .._shared.arrays import FloatArray, array, frozen, number
from .._shared.tables import Columns, Result, rows_of
from ..errors import DomainError
from ..scene.cutters import Cutter, as_cutter, cone_angle
from ..units import folded, length_text

__all__ = ["WidthCard", "WidthRow", "width_card"]


class WidthRow(NamedTuple):
    """One depth of a `WidthCard`, named and in units as there."""

    depth: float
    width: float
    flatness: float
    zero_error: float
    tip_error: float
    angle_error: float
    worst: float
    rss: float
    sanded: float
    full: bool
    may_vanish: bool


@dataclass(frozen=True, eq=False)
class WidthCard(Result):
    """Width of a groove against its depth, with what may be wrong with it; made by `width_card`. Prints as a table.

    It iterates over its depths, as `WidthRow`.

    Attributes
    ----------
    depth, width : (n,) depth as planned, and the width it should give at the face. [mm]
    flatness, zero_error, tip_error, angle_error : (n,) error of the width, either way, from each cause alone. [mm]
    worst : (n,) all causes at their worst together. [mm]
    rss : (n,) root of the sum of squares: what to expect if the causes have nothing to do with one another. [mm]
    sanded : (n,) width after sanding the face. [mm]
    full : (n,) True where the bit's full diameter is reached and the walls stand upright.
    may_vanish : (n,) True where the depth's error can be as large as the depth.
    title : the bit and the errors that went in.
    """

    depth: FloatArray
    width: FloatArray
    flatness: FloatArray
    zero_error: FloatArray
    tip_error: FloatArray
    angle_error: FloatArray
    worst: FloatArray
    rss: FloatArray
    sanded: FloatArray
    full: np.ndarray
    may_vanish: np.ndarray
    title: str

    def __post_init__(self) -> None:
        for name, value in vars(self).items():
            if name != "title":
                frozen(value)

    def __len__(self) -> int:
        return len(self.depth)

    def __iter__(self) -> Iterator[WidthRow]:
        return rows_of(WidthRow, self, WidthRow._fields)

    def __repr__(self) -> str:
        return f"<WidthCard of {len(self)} depths to {self.depth.max():g} mm>"

    def _columns(self) -> Columns:
        return {f"{n} [mm]" if n not in ("full", "may_vanish") else n: getattr(self, n) for n in WidthRow._fields}

    @property
    def narrowing(self) -> FloatArray:
        """(n,) How much sanding the face narrows the groove. [mm]"""
        return np.asarray(self.width - self.sanded)

    def __str__(self) -> str:
        heads = ("depth", "width", "worst +-", "expected +-", "after sanding")
        out = [*folded(self.title), "", "".join(f"{head:>22}" for head in heads)]
        for k in range(len(self.depth)):
            row = (self.depth[k], self.width[k], self.worst[k], self.rss[k], self.sanded[k])
            mark = ("  *" if self.full[k] else "") + ("  ?" if self.may_vanish[k] else "")
            out.append("".join(f"{length_text(float(x)):>22}" for x in row) + mark)
        if self.full.any():
            out.append("* the bit's full diameter: deeper is not wider, the walls stand upright")
        if self.may_vanish.any():
            out.append("? flatness and zero together are as large as the depth: the groove may vanish")
        return "\n".join(out)


def width_card(
    bit: Cutter,
    depths: ArrayLike,
    *,
    flatness: float = 0.1,
    zero_error: float = 0.05,
    tip_error: float = 0.0,
    angle_error: float = 0.0,
    sanding: float = 0.0,
) -> WidthCard:
    """Width of the groove at each depth, and how exact it will be.

    An error of the depth counts with its worse side: for a cone exactly 2 tan a dz, a half the included angle; for any
    other outline by differences of its radius.

    Parameters
    ----------
    bit
        Any `Cutter`.
    depths
        A depth or (n,) depths, in (0, 200]. [mm]
    flatness
        How far the face lies off the zero plane, either way, in [0, 5]. [mm]
    zero_error
        Error of the zero, either way, in [0, 5]. [mm]
    tip_error
        Error of the tip's width, either way, in [0, 5]; it goes into the groove's width one to one. [mm]
    angle_error
        Error of the *included* angle, either way, in [0, 10]; half of it, da, is that of a wall and widens the groove
        by 2 z sec^2(a) da, to first order. Must be 0 for a bit that is no cone. [deg]
    sanding
        Wood sanded off the face afterwards, in [0, 5]; narrows a cone's groove by 2 tan a x removal. [mm]

    Returns
    -------
    WidthCard

    Raises
    ------
    DomainError
        If an argument is of the wrong kind or out of range.

    Examples
    --------
    >>> import chipsim as cs
    >>> card = cs.width_card(cs.VBit(90, 12.7, 2), [1.0, 2.0], flatness=0.1, zero_error=0.05)
    >>> card.width.round(3).tolist(), card.rss.round(3).tolist()
    ([2.0, 4.0], [0.224, 0.224])
    """
    as_cutter(bit)
    z = np.atleast_1d(array("depths", depths, low=0, high=200, unit="mm"))
    if z.ndim != 1 or z.size == 0 or (z <= 0).any():
        raise DomainError(f"depths must be a depth or a list of depths in (0, 200] mm, got {_first(z)}")
    flat = number("flatness", flatness, low=0, high=5, unit="mm")
    off = number("zero_error", zero_error, low=0, high=5, unit="mm")
    blunt = number("tip_error", tip_error, low=0, high=5, unit="mm")
    skew = number("angle_error", angle_error, low=0, high=10, unit="deg")
    removal = number("sanding", sanding, low=0, high=5, unit="mm")
    included = cone_angle(bit)
    half = None if included is None else included / 2
    if skew > 0 and half is None:
        raise DomainError(f"angle_error must be 0 deg for a bit without an included angle, got {skew:g}")

    def width(height: FloatArray) -> FloatArray:
        return 2 * np.asarray(bit.radius(np.maximum(height, 0.0)))

    w = width(z)

    def by_depth(dz: float) -> FloatArray:
        return np.maximum(width(z + dz) - w, w - width(z - dz))

    full = w >= bit.diameter * (1 - 1e-12)
    by_tip = np.where(full, 0.0, blunt)
    by_angle = np.zeros(z.size)
    if half is not None:
        by_angle = np.where(full, 0.0, 2 * z / math.cos(math.radians(half)) ** 2 * math.radians(skew / 2))
    shape = (
        f"{2 * half:g} deg bit, {2 * math.tan(math.radians(half)):.2f} mm of width a mm of depth"
        if half
        else "profile bit"
    )
    title = (
        f"{shape}, {length_text(bit.diameter)}; errors: flatness {length_text(flat)}, zero "
        f"{length_text(off)}, tip {length_text(blunt)}, included angle {skew:g} deg; sanding {length_text(removal)}"
    )
    return WidthCard(
        depth=z,
        width=w,
        flatness=by_depth(flat),
        zero_error=by_depth(off),
        tip_error=by_tip,
        angle_error=by_angle,
        # the depth's errors add up before they meet the outline, so that this holds for curved ones too
        worst=by_depth(flat + off) + by_tip + by_angle,
        rss=np.sqrt(by_depth(math.hypot(flat, off)) ** 2 + by_tip**2 + by_angle**2),
        sanded=np.where(z > removal, width(z - removal), 0.0),
        full=full,
        may_vanish=z <= flat + off,
        title=title,
    )


def _first(d: FloatArray) -> str:
    wrong = d[~(d > 0)]
    return f"{wrong.flat[0]:g}" if wrong.size else f"shape {d.shape}"
