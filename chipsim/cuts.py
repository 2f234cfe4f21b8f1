"""A cut: one bit along one path at one spindle speed and feed, the set-up as one frozen object."""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import cached_property

import numpy as np

from ._arrays import FloatArray, choice, frozen, number
from .cutters import Cutter, profile_knots
from .errors import DomainError
from .paths import Path
from .units import feed_text, ipm, tooth_feed_text

__all__ = ["Cut"]


@dataclass(frozen=True)
class Cut:
    """A groove about to be cut.

    The tool enters at the start of the path in uncut wood, at full depth and feed, at time 0, and follows the path in
    the board's face at the feed; a ramp's descent is added to that, so that feed per tooth is the same everywhere.

    Parameters
    ----------
    bit
        `VBit`, `ProfileBit` or any `Cutter`.
    path
        What the tip's axis follows.
    spindle_speed
        Revolutions per minute, in [1000, 100000], not above the bit's marked maximum. [rpm]
    feed
        Speed of the axis in the plane of the face, in [50, 60000]. [mm/min]
    spin
        'cw' or 'ccw' seen from above; 'cw' is the trade's right-hand bit.
    phase
        Azimuth, counter-clockwise from +x, of flute 0's nominal direction (runout ignored) at time 0. [deg]
    machine, passes
        Not modelled yet; must be None.

    Raises
    ------
    DomainError
        If a value is out of range, the speed is above the bit's marked maximum, or the path goes deeper than the
        bit's cutting length.
    """

    bit: Cutter
    path: Path
    spindle_speed: float
    feed: float
    spin: str = field(default="cw", kw_only=True)
    phase: float = field(default=0.0, kw_only=True)
    machine: None = field(default=None, kw_only=True)
    passes: None = field(default=None, kw_only=True)

    def __post_init__(self) -> None:
        put = object.__setattr__
        if not isinstance(self.bit, Cutter):
            raise DomainError(
                f"bit must be a VBit, a ProfileBit or have their attributes, got {type(self.bit).__name__}"
            )
        if not isinstance(self.path, Path):
            raise DomainError(f"path must be a Path, got {type(self.path).__name__}")
        speed = number("spindle_speed", self.spindle_speed, low=1000, high=100_000, unit="rpm")
        limit = self.bit.max_spindle_speed
        if limit is not None and speed > limit:
            raise DomainError(
                f"spindle_speed must not exceed the bit's marked maximum, in [1000, {limit:g}] rpm, got {speed:g}"
            )
        hint = ""
        if isinstance(self.feed, (int, float)) and 0 < self.feed < 50:
            hint = f"were inches per minute meant? {self.feed:g} in/min = {self.feed * ipm:g} mm/min"
        put(self, "spindle_speed", speed)
        put(self, "feed", number("feed", self.feed, low=50, high=60_000, unit="mm/min", hint=hint))
        put(self, "spin", choice("spin", self.spin, ("cw", "ccw")))
        put(self, "phase", number("phase", self.phase, low=-1e6, high=1e6, unit="deg"))
        for name in ("machine", "passes"):
            if getattr(self, name) is not None:
                raise DomainError(f"{name} must be None: not modelled in this version")
        deepest = float(self.path.depth.max())
        if self.bit.cutting_length is not None and deepest > self.bit.cutting_length + 1e-9:
            raise DomainError(
                f"depth must lie within the bit's cutting length, [0, {self.bit.cutting_length:g}] mm, got {deepest:g}"
            )
        heights, radii = profile_knots(self.bit, deepest)
        if radii.max() <= 0:
            raise DomainError("bit.radius must be positive somewhere within the depth of the path")
        put(self, "_knots", (frozen(heights), frozen(radii)))

    def __repr__(self) -> str:
        return f"<Cut {self.path!r} at {self.spindle_speed:g} rpm {self.spin}, {feed_text(self.feed)}>"

    @property
    def feed_per_rev(self) -> float:
        """Feed per revolution. [mm]"""
        return self.feed / self.spindle_speed

    @property
    def feed_per_tooth(self) -> float:
        """Feed per tooth, f / (n z). [mm]"""
        return self.feed_per_rev / self.bit.flutes

    @property
    def knots(self) -> tuple[FloatArray, FloatArray]:
        """Outline of the bit as a polyline: heights and radii, each (k,). [mm]"""
        knots: tuple[FloatArray, FloatArray] = self._knots  # type: ignore[attr-defined]
        return knots

    def half_width(self, depth: FloatArray) -> FloatArray:
        """Half the groove's width at the face, from the outline the kernels use; runout not added. [mm]"""
        heights, radii = self.knots
        return np.asarray(np.interp(depth, heights, radii))

    def flank_slope(self, depth: FloatArray) -> FloatArray:
        """Slope dr/dh of the outline just below the face: tan of the flank's lean, 0 above the outline's top. [-]"""
        heights, radii = self.knots
        slopes = np.append(np.diff(radii) / np.diff(heights), 0.0)
        return np.asarray(slopes[np.clip(np.searchsorted(heights, np.asarray(depth) - 1e-12) - 1, 0, None)])

    @cached_property
    def motion(self) -> FloatArray:
        """(m, 12) what the axis does, one row a piece: the kernels' time, station, speed, acceleration, x, y, heading,
        curvature, depth, slope, duration, length. [s, mm, mm/s, mm/s^2, mm, mm, rad, 1/mm, mm, -, s, mm]
        """  # noqa: D205
        pieces = self.path.pieces
        x, y, heading, curvature, length, depth, slope = pieces.T
        speed = self.feed / 60.0
        # Headings without jumps of a full turn, so that the tool's rotation seen from the path runs on
        turn = np.diff(heading) - curvature[:-1] * length[:-1]
        jump = (turn + np.pi) % (2 * np.pi) - np.pi
        unwrapped = heading[0] + np.concatenate([[0.0], np.cumsum(curvature[:-1] * length[:-1] + jump)])
        start = self.path.joints[:-1]
        return frozen(  # type: ignore[no-any-return]
            np.ascontiguousarray(
                np.column_stack(
                    [
                        start / speed,
                        start,
                        np.full(len(x), speed),
                        np.zeros(len(x)),
                        x,
                        y,
                        unwrapped,
                        curvature,
                        depth,
                        slope,
                        length / speed,
                        length,
                    ]
                )
            )
        )

    @property
    def duration(self) -> float:
        """Time from the start of the path to its end. [s]"""
        return float(self.motion[-1, 0] + self.motion[-1, 10])

    def settings(self) -> str:
        """One line for captions and reports: bit, speed, feed."""
        bit = self.bit
        angle = getattr(bit, "included_angle", None)
        shape = f"{angle:g} deg V-bit" if angle is not None else "profile bit"
        return (
            f"{shape}, {bit.diameter:g} mm, {bit.flutes} flute{'s' if bit.flutes > 1 else ''}, "
            f"{self.spindle_speed:.0f} rpm {self.spin}, {feed_text(self.feed)}, "
            f"{tooth_feed_text(self.feed_per_tooth)} a tooth"
        )
