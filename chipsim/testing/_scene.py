"""What the properties of cuts share: the same job moved, mirrored or scaled, and two answers compared."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from numpy.typing import ArrayLike

from .._shared.arrays import FloatArray
from ..chips.passes import ToothPasses, tooth_passes
from ..chips.strikes import LipStrikes
from ..damage.mapping import risk_map
from ..damage.maps import RiskMap
from ..damage.models import LipModel
from ..scene.cuts import PLUNGE_FEED, Cut
from ..scene.grain import Board, Grain, grain_field
from ..scene.paths import Path, line
from ._core import close, holds

__all__ = [
    "ANGLES",
    "GRAZING",
    "OTHER",
    "ScaledBit",
    "away_from_rounding",
    "axis",
    "coarse_map",
    "coarse_pitch",
    "feed_times",
    "feeds_fit",
    "goes_upright",
    "mirrored",
    "moved",
    "off_kinks",
    "on_a_line",
    "own_crossing",
    "plunge_feed_of",
    "same_map",
    "same_sweeps",
    "scaled",
    "slow",
    "sweeps",
    "turn_matrix",
]

GRAZING = 1e-6
"""A ray that grazes an earlier sweep feels rounding, and the kernels' own slack of 1e-12 mm, as their root. [mm]"""

ANGLES = np.array([-33.1, 3.9, 31.7, 90.0, 148.1, 174.7, 214.9])
"""Rotation angles [deg] over the whole sweep, off the kinks, dead ahead among them."""

OTHER = {"cw": "ccw", "ccw": "cw"}


def off_kinks(cut: Cut) -> Cut:
    """The cut with its spindle turned by an odd angle: a tooth exactly behind or on the probe at time 0 is rounding."""
    return replace(cut, phase=cut.phase + 7.1377)


def sweeps(cut: Cut, revolutions: float = 2.3, factor: float = 1.0, **more: Any) -> ToothPasses:
    """The first revolutions of a cut, at two heights and all round; `factor` is that of a bigger job."""
    stop = min(cut.path.length, revolutions * cut.feed_per_rev)
    top = float(cut.path.depth_at(np.linspace(0, stop, 5)).max()) / factor
    up = np.array([0.5517, 0.9531]) * top * factor
    ask: dict[str, Any] = {"stop": stop, "angles": ANGLES, "heights": up} | more
    return tooth_passes(cut, **ask)


def same_sweeps(a: ToothPasses, b: ToothPasses, *, length: float = 1.0, time: float = 1.0) -> None:
    """Raise `Miss` unless b is a with every length and time multiplied by these."""
    holds(a.flute.shape == b.flute.shape, "number of sweeps", len(b), len(a))
    holds(a.flute == b.flute, "order of the flutes", b.flute, a.flute)
    close("time", b.time, a.time * time, 1e-11, "s")
    for name in ("radial_thickness", "edge_radius_about_axis"):
        close(name, getattr(b, name), getattr(a, name) * length, GRAZING * max(length, 1.0), "mm")


def axis(angle: ArrayLike) -> FloatArray:
    """An angle modulo 180 as a point: +90 and -90 are the same fibre angle, 0 and 180 too."""
    twice = 2 * np.radians(np.asarray(angle, dtype=float))
    return np.stack([np.cos(twice), np.sin(twice)], axis=-1)


def coarse_map(cut: Any, board: Board, model: LipModel | None = None) -> RiskMap:
    """Map with few stations, see `coarse_pitch`."""
    return risk_map(cut, board, model=model, pitch=coarse_pitch(cut))


def coarse_pitch(cut: Any) -> float:
    """Pitch that lays 16 cells along a path, or 32 if it is long.

    A power of two, so that no cell's middle falls on a
    joint at a third, a quarter or a tenth of the way, where rounding would choose between two headings. [mm]
    """
    longest = cut.path.length if isinstance(cut, Cut) else max(c.path.length for c in cut)
    return float(longest / (16 if longest < 10 else 32))


def same_map(
    a: RiskMap, b: RiskMap, *, swap: bool = False, tolerance: float = 1e-8, strikes: bool = True, risks: bool = True
) -> None:
    """Raise `Miss` unless every scalar of two maps agrees, the sides swapped if asked."""
    side = slice(None, None, -1) if swap else slice(None)
    holds(len(a) == len(b), "number of rows", len(b), len(a))
    holds(a.exists == b.exists[:, side], "lips that exist", b.exists[:, side].sum(), a.exists.sum())
    names = ["lip_length", "edge_angle"]
    if strikes:
        names += ["cutting_speed", "largest_chip"]
    if risks:
        names += ["fuzz", "tear", "scorch"]
    for name in names:
        close(name, getattr(b, name)[:, side], getattr(a, name), tolerance * (1 if name != "edge_angle" else 100))
    close("axis of fibre_angle", axis(b.fibre_angle[:, side]), axis(a.fibre_angle), tolerance)
    if strikes:
        close("strikes", b.strikes[:, side], a.strikes, 0)


def away_from_rounding(strikes: LipStrikes) -> FloatArray:
    """Rows whose number of strikes does not hang on rounding: not round the start, and not where the layer is all.

    Round the start a tooth may stand on the probe at time 0; where the bundle reaches the axis, a tooth just on it.
    """
    lips = strikes.lips
    return np.asarray((lips.kind != "start") & (lips.half_width > 1.5 * strikes.bundle))


def turn_matrix(degrees: float) -> FloatArray:
    """Matrix by which rows of points are turned counter-clockwise: points @ matrix."""
    a = np.radians(degrees)
    return np.array([[np.cos(a), np.sin(a)], [-np.sin(a), np.cos(a)]])


def moved(grain: Grain, degrees: float, dx: float, dy: float) -> Grain:
    """The field turned about the origin and then shifted."""
    turned = grain.turned(degrees)
    return grain_field(lambda x, y: turned.at(np.stack([x - dx, y - dy], axis=-1)))


def mirrored(grain: Grain) -> Grain:
    """The field reflected in the x axis."""

    def function(x: FloatArray, y: FloatArray) -> tuple[FloatArray, FloatArray]:
        azimuth, dive = grain.at(np.stack([x, -y], axis=-1))
        return -azimuth, dive

    return grain_field(function)


def on_a_line(cut: Cut, *, runout: bool = True, turns: float = 12.0) -> Cut:
    """The same set-up on a straight level path, as deep as its deepest point and long enough to be steady."""
    depth = float(cut.path.depth.max())
    width = float(cut.half_width(np.asarray(depth)))
    heading = np.radians(float(cut.path.heading(0.0)))
    feed = cut.largest_feed or max(cut.typed_feeds)
    size = turns * feed / cut.spindle_speed + 2 * width + 2.0
    end = size * np.array([np.cos(heading), np.sin(heading)])
    bit = cut.bit if runout or cut.bit.runout == 0 else ScaledBit(cut.bit, 1.0, runout=0.0)
    return replace(cut, bit=bit, path=line((0.0, 0.0), end, depth), feed=feed, machine=None, passes=None)


@dataclass(frozen=True)
class ScaledBit:
    """A bit of any kind with all its lengths multiplied, and another runout if given: similarity for any outline."""

    bit: Any
    factor: float
    runout: float = -1.0

    def __post_init__(self) -> None:
        if self.runout < 0:
            object.__setattr__(self, "runout", self.bit.runout * self.factor)
        if hasattr(self.bit, "knots"):
            object.__setattr__(self, "knots", self._knots)
        if hasattr(self.bit, "azimuth"):
            object.__setattr__(self, "azimuth", self._azimuth)
        for name in ("set_back", "raised"):
            short = getattr(self.bit, name, ())
            object.__setattr__(self, name, tuple(value * self.factor for value in short))

    @property
    def diameter(self) -> float:
        """Diameter. [mm]"""
        return float(self.bit.diameter * self.factor)

    @property
    def edge_radius(self) -> float:
        """Edge radius. [mm]"""
        return float(self.bit.edge_radius * self.factor)

    @property
    def cutting_length(self) -> float | None:
        """Cutting length. [mm]"""
        length = self.bit.cutting_length
        return None if length is None else length * self.factor

    def __getattr__(self, name: str) -> Any:
        own = ("bit", "knots", "azimuth", "set_back", "raised", "included_angle", "half_angle")
        if name.startswith("_") or name in own:
            raise AttributeError(name)
        return getattr(self.bit, name)

    def _knots(self) -> tuple[FloatArray, FloatArray]:
        heights, radii = self.bit.knots()
        return np.asarray(heights) * self.factor, np.asarray(radii) * self.factor

    def _azimuth(self, height: ArrayLike) -> FloatArray:
        return np.asarray(self.bit.azimuth(np.asarray(height, dtype=float) / self.factor))

    def radius(self, height: ArrayLike) -> FloatArray:
        """Radius at a height, same shape. [mm]"""
        return np.asarray(self.bit.radius(np.asarray(height, dtype=float) / self.factor)) * self.factor


def feed_times(cut: Cut, factor: float) -> float | tuple[float, ...]:
    """Every feed of a cut multiplied."""
    return tuple(f * factor for f in cut.feed) if isinstance(cut.feed, tuple) else cut.feed * factor


def feeds_fit(cut: Cut, factor: float) -> bool:
    """Whether every feed of a cut, multiplied, is one that a cut may have."""
    return min(cut.typed_feeds) * factor >= 100 and max(cut.typed_feeds) * factor <= 60_000


def plunge_feed_of(cut: Cut) -> float:
    """Feed at which a cut without a machine goes straight down. [mm/min]"""
    return PLUNGE_FEED if cut.plunge_feed is None else cut.plunge_feed


def goes_upright(path: Path) -> bool:
    """Whether the tool goes straight down or up somewhere, or stands: then a station is no measure of time."""
    return bool((path.pieces[:, 4] == 0).any() or path.dwell.any())


def scaled(cut: Cut, factor: float) -> Cut:
    """Every length of the job multiplied, times kept; without machine and earlier passes."""
    path: Path = cut.path.scaled(factor)
    faster: dict[str, Any] = {"feed": feed_times(cut, factor), "machine": None, "passes": None}
    faster["plunge_feed"] = plunge_feed_of(cut) * factor
    return replace(cut, bit=ScaledBit(cut.bit, factor), path=path, **faster)


def slow(cut: Cut) -> dict[str, Any]:
    """The oracle's view of a cut: plain functions of time, from the path's own geometry."""
    path, profile = cut.path, cut.speed_profile

    def station(t: FloatArray) -> FloatArray:
        return profile.station_at(np.clip(t, 0.0, profile.duration))

    def position(t: FloatArray) -> tuple[FloatArray, FloatArray]:
        xy = path.position(station(t))
        return xy[..., 0], xy[..., 1]

    knots = cut.knots
    depth: Callable[[FloatArray], FloatArray] = lambda t: path.depth_at(station(t))  # noqa: E731
    bit = cut.bit
    return {
        "position": position,
        "depth": depth,
        "radius": lambda h: np.interp(h, *knots),
        "spindle_speed": cut.spindle_speed,
        "flutes": bit.flutes,
        "phase": cut.phase,
        "spin": cut.spin,
        "runout": bit.runout,
        "runout_azimuth": bit.runout_azimuth,
        "lag": getattr(bit, "azimuth", None) if cut.edges else None,
    }


def own_crossing(cut: Cut, t: float, angle: float, height: float, flute: int) -> tuple[float, float]:
    """Time and azimuth at which the edge at this height crosses the angle: the nominal time, moved by the runout."""
    bit = cut.bit
    sense = -1.0 if cut.spin == "cw" else 1.0
    lag = 2 * np.pi * flute / bit.flutes
    r = float(np.interp(height, *cut.knots))
    own = np.asarray(bit.azimuth(np.asarray(height))) if cut.edges and hasattr(bit, "azimuth") else np.zeros(())
    turned = lag + float(np.radians(own[flute] if own.ndim else own))
    body = np.angle(r * np.exp(1j * turned) + bit.runout * np.exp(1j * np.radians(bit.runout_azimuth)))
    omega = cut.spindle_speed * 2 * np.pi / 60
    azimuth = 0.0
    for _ in range(20):
        heading = float(np.radians(cut.path.heading(cut.speed_profile.station_at(min(t, cut.duration)))))
        azimuth = heading + np.pi / 2 - np.radians(angle)
        now = np.radians(cut.phase) + sense * (omega * t - body)
        miss = (azimuth - now + np.pi) % (2 * np.pi) - np.pi
        t += sense * miss / omega
    return t, float(np.degrees(azimuth))
