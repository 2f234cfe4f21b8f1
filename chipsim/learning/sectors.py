"""What a model says of every box of a test piece's form, from strikes that are gathered once.

A box is one lip over one sector of a ring, or over one stretch of a straight stroke.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from .._shared.arrays import FloatArray
from ..chips.strikes import LipStrikes, carving_blocks
from ..damage.models import LipModel, RiskModel, lip_fibres, lip_frame, lip_risk_sets
from ..scene.cuts import Carving, Cut
from ..scene.grain import fibre_angle
from .testpiece import Coupon, Ring, sector_of

__all__ = ["RingSectors"]

_WINDOWS = 3  # a box is looked at in so many parts
_STATIONS = 4  # to a part: enough to even out the scallops
_WORST = 8.0  # power of the mean over the parts: a grade is that of the worst millimetre


class _Part(NamedTuple):
    """Strikes of one ring or stroke, with the window that each lip point falls in, -1 for none."""

    strikes: LipStrikes
    fibres: FloatArray
    cut: Cut
    window: np.ndarray
    angle: FloatArray


class RingSectors:
    """Strikes of all that is graded on a coupon, by cell: ((ring or stroke, sector or stretch, lip)).

    Attributes
    ----------
    coupon : the test piece.
    bundle : thickness of the layer whose strikes were gathered. [mm]
    ring, sector, lip : (cells,) of each cell: place in `coupon.graded()`, number of the sector or stretch, 0 or 1;
        lip 0 is the outer one of a ring, the left one of a stroke.
    azimuth : (cells,) of the sector's middle as seen from the ring's centre; NaN on a stroke. [rad]
    heading : (cells,) of travel at the sector's middle, against the fibres there. [deg]
    first : (n + 1,) first cell of each ring and stroke, and their number.
    """

    def __init__(self, coupon: Coupon, bundle: float) -> None:
        self.coupon, self.bundle = coupon, bundle
        things = coupon.graded()
        counts = np.array([coupon.sectors if isinstance(t, Ring) else t.parts for t in things])
        self.first = np.concatenate([[0], np.cumsum(2 * counts)])
        self.ring = np.repeat(np.arange(len(things)), 2 * counts)
        place = np.arange(self.first[-1]) - self.first[self.ring]
        self.sector, self.lip = place // 2 + 1, place % 2
        # what is graded does not meet; other controls are not read by the fit, and what they cut is far enough
        parts = [(coupon.sectors, 2 * np.pi * r.radius) for r in coupon.rings[:1]]
        parts += [(s.parts, s.cut.path.length) for s in coupon.strokes]
        pitch = min(length / (k * _WINDOWS * _STATIONS) for k, length in parts)
        self._parts: list[_Part] = []
        blocks = carving_blocks(Carving(tuple(t.cut for t in things)), pitch=pitch, bundle=bundle)
        for i, strikes in blocks:
            keep = np.flatnonzero(strikes.exists.any(axis=1))
            if keep.size:
                self._parts.append(self._part(i, strikes.part(keep)))
        azimuth, heading = [], []
        for thing, k in zip(things, counts.tolist(), strict=True):
            if isinstance(thing, Ring):
                middle = np.radians((np.arange(k) + 0.5) * 360.0 / k)
                at = np.array(thing.centre) + thing.radius * np.column_stack([np.cos(middle), np.sin(middle)])
                travel = np.degrees(middle) + (90.0 if thing.sense == "ccw" else -90.0)
                azimuth.append(middle)
            else:
                station = (np.arange(k) + 0.5) / k * thing.cut.path.length
                at, travel = thing.cut.path.position(station), thing.cut.path.heading(station)
                azimuth.append(np.full(k, np.nan))
            heading.append(travel - coupon.board.grain.at(at)[0])
        self.azimuth = np.repeat(np.concatenate(azimuth), 2)
        self.heading = np.repeat(np.concatenate(heading) % 360.0, 2)

    def __len__(self) -> int:
        return len(self.ring)

    def _part(self, i: int, strikes: LipStrikes) -> _Part:
        coupon, thing = self.coupon, self.coupon.graded()[i]
        lips = strikes.lips
        _, _, fibres = lip_fibres(lips, coupon.board)
        if isinstance(thing, Ring):
            # inward of a counter-clockwise ring is to the left
            lip = np.array([1, 0] if thing.sense == "ccw" else [0, 1])
            fine = coupon.sectors * _WINDOWS
            number = sector_of(np.where(lips.exists[..., None], lips.lip_xy, 0.0), thing.centre, fine) - 1
        else:
            lip = np.array([0, 1])
            fine = thing.parts * _WINDOWS
            along = strikes.station / thing.cut.path.length * fine
            number = np.clip(along.astype(int), 0, fine - 1)[:, None]
        cell = self.first[i] + number // _WINDOWS * 2 + lip
        v, n, _ = lip_frame(lips, thing.cut.spin)
        window = np.where(lips.exists, cell * _WINDOWS + number % _WINDOWS, -1)
        return _Part(strikes, fibres, thing.cut, window, fibre_angle(v, n, fibres))

    def risks(self, model: LipModel) -> FloatArray:
        """Fuzz, tear, scorch (3, cells): the worst part of every box, softly; NaN where not modelled or no lip."""
        found = [
            model.lip_risks(part.strikes, part.fibres, part.cut, self.coupon.board.cut_wood) for part in self._parts
        ]
        return self._gathered([{k: v[..., None] for k, v in f.items()} for f in found], 1)[..., 0]

    def risk_sets(self, models: tuple[RiskModel, ...]) -> FloatArray:
        """The same for many models side by side, (3, cells, models)."""
        found = [
            lip_risk_sets(models, part.strikes, part.fibres[None], part.cut, self.coupon.board.cut_wood)
            for part in self._parts
        ]
        return self._gathered(found, len(models))

    def _gathered(self, found: list[dict[str, FloatArray]], count: int) -> FloatArray:
        """Worst parts (3, cells, count) of risks (n, 2, count) of every part."""
        size = len(self) * _WINDOWS
        total, lips = np.zeros((3, size, count)), np.zeros(size)
        for part, risks in zip(self._parts, found, strict=True):
            here = part.window >= 0
            window = part.window[here]
            lips += np.bincount(window, minlength=size)
            for k, name in enumerate(("fuzz", "tear", "scorch")):
                if name not in risks:
                    total[k] = np.nan
                    continue
                values = risks[name].reshape(*here.shape, count)[here]
                for j in range(count):
                    total[k, :, j] += np.bincount(window, weights=values[:, j], minlength=size)
        with np.errstate(invalid="ignore", divide="ignore"):
            mean = (total / lips[:, None]).reshape(3, len(self), _WINDOWS, count)
            there = lips.reshape(len(self), _WINDOWS, 1) > 0
            power = np.where(there, mean, 0.0) ** _WORST
            return np.asarray((power.sum(axis=2) / there.sum(axis=1)) ** (1 / _WORST))

    def angles(self, cells: np.ndarray) -> FloatArray:
        """Fibre angles of all lip points of some cells, flat. [deg]"""
        wanted = np.zeros(len(self) + 1, dtype=bool)  # the last entry is for windows of no cell
        wanted[cells] = True
        none = len(self) * _WINDOWS
        found = [p.angle[wanted[np.where(p.window < 0, none, p.window) // _WINDOWS]] for p in self._parts]
        return np.concatenate(found) if found else np.empty(0)
