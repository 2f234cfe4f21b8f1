"""What a model says of every sector of a test piece, from strikes that are gathered once."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from .._shared.arrays import FloatArray
from ..chips.strikes import LipStrikes, carving_blocks
from ..damage.models import LipModel, lip_fibres, lip_frame
from ..scene.cuts import Carving, Cut
from ..scene.grain import fibre_angle
from .testpiece import Coupon, sector_of

__all__ = ["RingSectors"]

_WINDOWS = 3  # a sector is looked at in so many parts
_STATIONS = 4  # to a part: enough to even out the scallops
_WORST = 8.0  # power of the mean over the parts: a grade is that of the worst millimetre


class _Part(NamedTuple):
    """One ring's strikes, with the window that each lip point falls in, -1 for none."""

    strikes: LipStrikes
    fibres: FloatArray
    cut: Cut
    window: np.ndarray
    angle: FloatArray


class RingSectors:
    """Strikes of all rings of a coupon, by cell: ((ring, sector, lip)), lip 0 out and 1 in.

    Attributes
    ----------
    coupon : the test piece.
    ring, sector, lip : (cells,) of each cell: index of the ring, number of the sector, 0 or 1.
    heading : (cells,) of travel at the sector's middle, against the fibres there. [deg]
    """

    def __init__(self, coupon: Coupon, bundle: float) -> None:
        self.coupon = coupon
        s, count = coupon.sectors, len(coupon.rings)
        cells = np.arange(count * s * 2)
        self.ring, self.sector, self.lip = cells // (2 * s), cells // 2 % s + 1, cells % 2
        # rings do not meet; controls are not read by the fit, and what they cut is far enough
        pitch = 2 * np.pi * coupon.rings[0].radius / (s * _WINDOWS * _STATIONS)
        self._parts: list[_Part] = []
        blocks = carving_blocks(Carving(tuple(r.cut for r in coupon.rings)), pitch=pitch, bundle=bundle)
        for i, strikes in blocks:
            keep = np.flatnonzero(strikes.exists.any(axis=1))
            if keep.size:
                self._parts.append(self._part(i, strikes.part(keep)))
        middle = np.radians((np.arange(s) + 0.5) * 360.0 / s)
        azimuth = np.empty((count, s))
        for i, ring in enumerate(coupon.rings):
            at = np.array(ring.centre) + ring.radius * np.column_stack([np.cos(middle), np.sin(middle)])
            azimuth[i] = coupon.board.grain.at(at)[0]
        way = np.array([90.0 if r.sense == "ccw" else -90.0 for r in coupon.rings])
        travel = np.degrees(middle)[None, :] + way[:, None]
        self.heading = np.repeat((travel - azimuth).reshape(-1) % 360.0, 2)

    def __len__(self) -> int:
        return len(self.ring)

    def _part(self, i: int, strikes: LipStrikes) -> _Part:
        coupon, ring, lips = self.coupon, self.coupon.rings[i], strikes.lips
        _, _, fibres = lip_fibres(lips, coupon.board)
        # inward of a counter-clockwise ring is to the left
        inner = np.array([1, 0] if ring.sense == "ccw" else [0, 1])
        fine = coupon.sectors * _WINDOWS
        number = sector_of(np.where(lips.exists[..., None], lips.lip_xy, 0.0), ring.centre, fine) - 1
        cell = (i * coupon.sectors + number // _WINDOWS) * 2 + inner
        v, n, _ = lip_frame(lips, ring.cut.spin)
        window = np.where(lips.exists, cell * _WINDOWS + number % _WINDOWS, -1)
        return _Part(strikes, fibres, ring.cut, window, fibre_angle(v, n, fibres))

    def risks(self, model: LipModel) -> FloatArray:
        """Fuzz, tear, scorch (3, cells): the worst part of every sector, softly; NaN where not modelled or no lip."""
        size = len(self) * _WINDOWS
        total, count = np.zeros((3, size)), np.zeros(size)
        for part in self._parts:
            found = model.lip_risks(part.strikes, part.fibres, part.cut, self.coupon.board.cut_wood)
            here = part.window >= 0
            window = part.window[here]
            count += np.bincount(window, minlength=size)
            for k, name in enumerate(("fuzz", "tear", "scorch")):
                if name in found:
                    total[k] += np.bincount(window, weights=found[name][here], minlength=size)
                else:
                    total[k] = np.nan
        with np.errstate(invalid="ignore", divide="ignore"):
            mean = (total / count).reshape(3, len(self), _WINDOWS)
            there = count.reshape(len(self), _WINDOWS) > 0
            power = np.where(there, mean, 0.0) ** _WORST
            return np.asarray((power.sum(axis=-1) / there.sum(axis=-1)) ** (1 / _WORST))

    def angles(self, cells: np.ndarray) -> FloatArray:
        """Fibre angles of all lip points of some cells, flat. [deg]"""
        wanted = np.zeros(len(self) + 1, dtype=bool)  # the last entry is for windows of no cell
        wanted[cells] = True
        none = len(self) * _WINDOWS
        found = [p.angle[wanted[np.where(p.window < 0, none, p.window) // _WINDOWS]] for p in self._parts]
        return np.concatenate(found) if found else np.empty(0)
