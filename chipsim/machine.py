r"""The machine: how fast the tool really goes along a path, and what a router's dial means.

A typed feed is a wish. Between corners the axes need room to gather speed, on tight arcs they cannot hold it, and a
descending tool is held to the plunge feed. The profile below is the fastest motion within those limits.

Acceleration is limited as a box: the tangential part by `a` and the centripetal part by `a`, each for itself, as
controllers do. The friction circle, sqrt(tangential^2 + centripetal^2) <= a, is not used: no common controller plans by
it, and with the box every limit is constant along a piece, so that the optimal motion is made of stretches of constant
acceleration and can be written down exactly, without a grid (forward and backward pass; textbook kinematics, from
memory).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Any

import numpy as np
from numpy.typing import ArrayLike

from ._arrays import FloatArray, array, choice, frozen, integer, number
from .errors import DomainError
from .paths import Path
from .units import ipm

__all__ = ["Dial", "Machine", "SpeedProfile", "speed_profile"]

_STRAIGHT = 1e-6
"""Joints that turn by less are tangent: rounding of coordinates, no corner. [rad]"""

_NEIGHBOURS = 4
"""The circle of a rounded corner ends before this many corners on either side: it spans 7 at most."""


def _feed(name: str, value: object, low: float = 50.0) -> float:
    hint = ""
    if isinstance(value, (int, float)) and 0 < value < low:
        hint = f"were inches per minute meant? {value:g} in/min = {value * ipm:g} mm/min"
    return number(name, value, low=low, high=60_000, unit="mm/min", hint=hint)


@dataclass(frozen=True)
class Dial:
    """A router's speed dial, from the user's own readings; straight lines between them, nothing beyond them.

    No router's table comes with the library: dials of one make differ, and speed sags under load, so readings taken
    while cutting are worth more than readings in air.

    Parameters
    ----------
    positions
        (k,) marks on the dial, k >= 2, strictly increasing. [-]
    speeds
        (k,) spindle speeds read there, strictly rising or strictly falling, in [1000, 100000]. [rpm]
    uncertainty
        Relative uncertainty of a speed, in [0, 0.5]; the default is the trade's +-10 % (from memory). [-]

    Raises
    ------
    DomainError
        If a value is out of range or out of order, or the lengths differ.
    """

    positions: Sequence[float]
    speeds: Sequence[float]
    uncertainty: float = field(default=0.1, kw_only=True)

    def __post_init__(self) -> None:
        put = object.__setattr__
        marks = array("positions", self.positions, ndim=1, low=-1e6, high=1e6)
        rpm = _speeds("speeds", self.speeds, 1.0, "rpm")
        if len(marks) < 2 or marks.shape != rpm.shape:
            raise DomainError(
                f"positions and speeds must be of one length, at least 2 readings, got {len(marks)} and {len(rpm)}"
            )
        if (np.diff(marks) <= 0).any():
            raise DomainError(f"positions must be strictly increasing, got {_list(marks)}")
        steps = np.diff(rpm)
        if not ((steps > 0).all() or (steps < 0).all()):
            raise DomainError(f"speeds must rise, or fall, strictly from reading to reading, got {_list(rpm)} rpm")
        # Tuples, not arrays: a dial, and the machine that has it, can then be compared and hashed.
        put(self, "positions", tuple(marks.tolist()))
        put(self, "speeds", tuple(rpm.tolist()))
        put(self, "uncertainty", number("uncertainty", self.uncertainty, low=0, high=0.5))

    @classmethod
    def from_tones(cls, positions: ArrayLike, tones: ArrayLike, flutes: int, *, uncertainty: float = 0.1) -> Dial:
        """Dial from the tooth-pass tones heard at its positions: speed = 60 tone / flutes.

        Parameters
        ----------
        positions
            (k,) marks on the dial, strictly increasing. [-]
        tones
            (k,) lowest tone of the teeth. With much runout only one flute of several may cut: the tone is then that
            of one flute. [Hz]
        flutes
            Number of flutes of the bit that was heard, 1 to 12.
        uncertainty
            Relative uncertainty of a tone, in [0, 0.5]; less than the default if it was read off a spectrum. [-]

        Raises
        ------
        DomainError
            As for the class; a tone must mean a speed in [1000, 100000] rpm.
        """
        z = integer("flutes", flutes, low=1, high=12)
        rpm = 60.0 / z * _speeds("tones", tones, 60.0 / z, "Hz")
        return cls(positions, rpm, uncertainty=uncertainty)  # type: ignore[arg-type]

    def speed(self, position: float) -> float:
        """Spindle speed at a dial position [-]; DomainError outside the readings. [rpm]"""
        hint = "a dial is not extrapolated: take a reading there"
        p = number("position", position, low=self.positions[0], high=self.positions[-1], hint=hint)
        return float(np.interp(p, self.positions, self.speeds))

    def position(self, speed: float) -> float:
        """Dial position for a spindle speed [rpm]; DomainError outside the readings. [-]"""
        hint = "a dial is not extrapolated: take a reading there"
        v = number("speed", speed, low=min(self.speeds), high=max(self.speeds), unit="rpm", hint=hint)
        way = 1 if self.speeds[0] < self.speeds[-1] else -1
        return float(np.interp(v, self.speeds[::way], self.positions[::way]))

    def band(self, position: float) -> tuple[float, float]:
        """Lowest and highest spindle speed to reckon with at a dial position [-], from the uncertainty. [rpm]"""
        v = self.speed(position)
        return v * (1 - self.uncertainty), v * (1 + self.uncertainty)


def _list(values: FloatArray) -> str:
    return ", ".join(f"{v:g}" for v in values)


def _speeds(name: str, values: object, unit_rpm: float, unit: str) -> FloatArray:
    """Readings that mean 1000 to 100 000 rpm, in rpm or in Hz of the teeth (1 Hz = `unit_rpm` rpm)."""
    low, high = 1000 / unit_rpm, 100_000 / unit_rpm
    out = array(name, values, ndim=1)  # type: ignore[arg-type]
    wrong = (out < low) | (out > high)
    if wrong.any():
        hint = "; were thousands of rpm meant?" if unit == "rpm" and 0 < out[wrong][0] <= 100 else ""
        raise DomainError(f"{name} must lie in [{low:g}, {high:g}] {unit}, got {out[wrong][0]:g}{hint}")
    return out


@dataclass(frozen=True)
class Machine:
    r"""What moves the router: acceleration, feeds, and what it does at corners.

    Parameters
    ----------
    acceleration
        Largest acceleration `a`, the same in every direction, tangential and centripetal each for itself;
        in [10, 50000]. [mm/s^2]
    max_feed
        Largest speed of the tool along its path in space, in [50, 60000]. [mm/min]
    corner_rule
        'rounded', 'stop' or 'none', see Notes.
    corner_tolerance
        How far from the corner's vertex a 'rounded' corner may pass, in (0, 1]. [mm]
    plunge_feed
        Largest downward speed, in [20, 60000]. [mm/min]
    rapid_feed
        Speed of moves in air, in [50, 60000]; None: `max_feed`. [mm/min]
    travel
        Travel in x, y, z, each in (0, 20000]; None: unknown. [mm]
    dial
        `Dial` of the router; None: unknown.
    stiffness
        Side stiffness at the bit's tip, in [0.1, 1e5]; None: unknown. [N/mm]
    spindle_power
        What the spindle can deliver, not what it draws, in [20, 1e5]; None: unknown. [W]

    Raises
    ------
    DomainError
        If a value is out of range or of the wrong kind.

    Notes
    -----
    A corner is a joint where the direction of the tool in space, slope included, turns by more than 1e-6 rad.

    - 'stop': the tool comes to rest at every corner.
    - 'none': corners do not slow the tool.
    - 'rounded': the corner is taken at the speed sqrt(a R) of a circle R that touches both sides and misses the
      vertex by `corner_tolerance`. The path itself is not changed; the circle only sets the speed::

            |
            T - - C        V: vertex; theta: angle between the sides, 180 is straight on
            |   / |        C: centre, on the bisector, R / sin(theta / 2) from V
            | /   |        T: where the circle touches, R / tan(theta / 2) from V
            V-----T----    the circle passes V at R / sin(theta / 2) - R

      R / sin(theta / 2) - R = tolerance gives R = tolerance sin(theta / 2) / (1 - sin(theta / 2)). The circle must fit:
      T not beyond half-way to the next corner, else R = that half x tan(theta / 2). So a curve laid out in short
      chords is taken as fast as the circle inscribed in them, not faster, whatever the tolerance. Corners close
      together may share a circle: it then turns by all that the path turns from the first of them to the last, and T
      lies half as far from the middle one as the next corner beyond. The largest circle over 1, 3, 5 or 7 corners
      with the one in question in the middle counts. A stray short chord so does not stop the tool.
    """

    acceleration: float
    max_feed: float
    corner_rule: str = field(default="rounded", kw_only=True)
    corner_tolerance: float = field(default=0.01, kw_only=True)
    plunge_feed: float = field(default=300.0, kw_only=True)
    rapid_feed: float | None = field(default=None, kw_only=True)
    travel: tuple[float, float, float] | None = field(default=None, kw_only=True)
    dial: Dial | None = field(default=None, kw_only=True)
    stiffness: float | None = field(default=None, kw_only=True)
    spindle_power: float | None = field(default=None, kw_only=True)

    def __post_init__(self) -> None:
        checked: dict[str, Any] = {
            "acceleration": number("acceleration", self.acceleration, low=10, high=50_000, unit="mm/s^2"),
            "max_feed": _feed("max_feed", self.max_feed),
            "corner_rule": choice("corner_rule", self.corner_rule, ("rounded", "stop", "none")),
            "corner_tolerance": number(
                "corner_tolerance", self.corner_tolerance, low=0, high=1, open_low=True, unit="mm"
            ),
            "plunge_feed": _feed("plunge_feed", self.plunge_feed, low=20),
        }
        if self.rapid_feed is not None:
            checked["rapid_feed"] = _feed("rapid_feed", self.rapid_feed)
        if self.travel is not None:
            room = array("travel", self.travel, ndim=1, high=20_000, unit="mm")
            if room.shape != (3,) or (room <= 0).any():
                raise DomainError(f"travel must be three lengths x, y, z in (0, 20000] mm, got {_list(room)}")
            checked["travel"] = tuple(room.tolist())
        if self.dial is not None and not isinstance(self.dial, Dial):
            raise DomainError(f"dial must be a Dial or None, got {type(self.dial).__name__}")
        if self.stiffness is not None:
            checked["stiffness"] = number("stiffness", self.stiffness, low=0.1, high=1e5, unit="N/mm")
        if self.spindle_power is not None:
            small = isinstance(self.spindle_power, (int, float)) and 0 < self.spindle_power < 20
            hint = "watts are meant: 0.8 kW are 800" if small else ""
            power = number("spindle_power", self.spindle_power, low=20, high=1e5, unit="W", hint=hint)
            checked["spindle_power"] = power
        for name, value in checked.items():
            object.__setattr__(self, name, value)

    def corner_feed(self, angle: float) -> float:
        """Feed through a corner with long sides at this angle between them, in [0, 180]; inf: not slowed. [mm/min]

        `angle` is 180 straight on, 90 at a right angle, 0 where the path turns back on itself. [deg]
        """
        turn = math.pi - math.radians(number("angle", angle, low=0, high=180, unit="deg"))
        limit = _corner_speeds(np.array([0.0]), np.array([0.0]), np.array([turn]), self)
        return 60 * float(limit[0])


def _corner_speeds(station: FloatArray, swept: FloatArray, turn: FloatArray, machine: Machine) -> FloatArray:
    """Speed at which each corner may be taken. [mm/s]

    `station` (n,): corners along the path in space, increasing [mm]; `turn` (n,): how far each turns, in (0, pi];
    `swept` (n,): all turning of the path before it, arcs included [rad].
    """
    if machine.corner_rule == "none":
        return np.full(len(turn), np.inf)
    bends = turn > _STRAIGHT
    if machine.corner_rule == "stop":
        return np.where(bends, 0.0, np.inf)
    n = len(station)
    pad = _NEIGHBOURS
    beside = np.concatenate([np.full(pad, -np.inf), station, np.full(pad, np.inf)])
    before, after = np.pad(swept, pad, mode="edge"), np.pad(swept + turn, pad, mode="edge")
    radius = np.zeros(n)
    for k in range(1, pad + 1):
        room = np.minimum(station - beside[pad - k : n + pad - k], beside[pad + k : n + pad + k] - station) / 2
        # The corners from k - 1 before to k - 1 after share the circle
        total = turn if k == 1 else after[pad + k - 1 : n + pad + k - 1] - before[pad - k + 1 : n + pad - k + 1]
        total = np.clip(total, _STRAIGHT, np.pi)
        # tolerance / tan(total / 4) is R tan(total / 2) of the circle that misses the vertex by the tolerance
        radius = np.maximum(
            radius, np.minimum(room, machine.corner_tolerance / np.tan(total / 4)) * np.tan((np.pi - total) / 2)
        )
    return np.where(bends, np.sqrt(machine.acceleration * radius), np.inf)


@dataclass(frozen=True, eq=False)
class SpeedProfile:
    """Speed of the tool along a path, made by `speed_profile`: m stretches of constant acceleration.

    Every joint of the path is among the stations, to the last bit; the others are where the acceleration changes
    within a piece. Speeds and accelerations are those in the plane of the board's face, like a `Cut`'s feed.

    Parameters
    ----------
    station
        (m + 1,) arc lengths at which the stretches start and the last one ends, strictly increasing from 0. [mm]
    speed
        (m + 1,) speed there. [mm/s]
    time
        (m + 1,) time there, from 0. [s]
    acceleration
        (m,) acceleration on each stretch. [mm/s^2]
    """

    station: FloatArray
    speed: FloatArray
    time: FloatArray
    acceleration: FloatArray

    def __post_init__(self) -> None:
        for name in ("station", "speed", "time", "acceleration"):
            frozen(getattr(self, name))

    def __repr__(self) -> str:
        return (
            f"<SpeedProfile {self.station[-1]:.1f} mm in {self.duration:.2f} s, "
            f"fastest {60 * self.speed.max():.0f} mm/min, {len(self.acceleration)} stretches>"
        )

    @property
    def duration(self) -> float:
        """Time from rest at the start to rest at the end. [s]"""
        return float(self.time[-1])

    @property
    def pieces(self) -> FloatArray:
        """(m, 4) one row a stretch: time, station, speed, acceleration at its start. [s, mm, mm/s, mm/s^2]"""
        return np.column_stack([self.time[:-1], self.station[:-1], self.speed[:-1], self.acceleration])

    def _locate(self, station: ArrayLike) -> tuple[FloatArray, np.ndarray, FloatArray]:
        """Stations within the path, the stretch of each, and the speed there."""
        end = float(self.station[-1])
        s = np.clip(array("station", station, low=-1e-9, high=end + 1e-9, unit="mm"), 0.0, end)
        k = np.clip(np.searchsorted(self.station, s, side="right") - 1, 0, len(self.acceleration) - 1)
        # v^2 is linear in s; weighted from both ends so that nothing cancels where the tool comes to rest
        s0, s1 = self.station[k], self.station[k + 1]
        square = (self.speed[k] ** 2 * (s1 - s) + self.speed[k + 1] ** 2 * (s - s0)) / (s1 - s0)
        return s, k, np.sqrt(square)

    def speed_at(self, station: ArrayLike) -> FloatArray:
        """Speed at an arc length [mm], same shape; DomainError off the path. [mm/s]"""
        return np.asarray(self._locate(station)[2])

    def time_at(self, station: ArrayLike) -> FloatArray:
        """Time at which the tool passes an arc length [mm], same shape; DomainError off the path. [s]"""
        s, k, v = self._locate(station)
        both = self.speed[k] + v
        return np.asarray(self.time[k] + 2 * (s - self.station[k]) / np.where(both > 0, both, 1.0))

    def station_at(self, time: ArrayLike) -> FloatArray:
        """Arc length at a time in [0, duration] [s], same shape; DomainError outside. [mm]"""
        t = np.clip(array("time", time, low=-1e-9, high=self.duration + 1e-9, unit="s"), 0.0, self.duration)
        k = np.clip(np.searchsorted(self.time, t, side="right") - 1, 0, len(self.acceleration) - 1)
        dt = t - self.time[k]
        along = self.station[k] + dt * (self.speed[k] + self.acceleration[k] * dt / 2)
        return np.asarray(np.clip(along, self.station[k], self.station[k + 1]))

    def share_below(self, fraction: float, feed: float) -> float:
        """Share of the path's length on which the speed is below a fraction of a typed feed. [-]

        `fraction` in (0, 1] [-]; `feed` in [50, 60000] [mm/min].
        """
        limit = number("fraction", fraction, low=0, high=1, open_low=True) * _feed("feed", feed) / 60
        squares = np.sort(np.column_stack([self.speed[:-1], self.speed[1:]]) ** 2, axis=1)
        rise = squares[:, 1] - squares[:, 0]
        level = rise == 0
        slower = squares[:, 0] < limit**2 * (1 - 1e-12)
        part = np.where(level, slower, (limit**2 - squares[:, 0]) / np.where(level, 1.0, rise))
        return float(np.clip(part, 0, 1) @ np.diff(self.station) / self.station[-1])


def speed_profile(path: Path, feed: float, machine: Machine) -> SpeedProfile:
    """Fastest motion along a path, from rest to rest, within the machine's limits; exact on lines and arcs.

    On each piece the speed in the plane of the face is capped by the typed feed; by `max_feed` divided by
    sqrt(1 + slope^2), since the tool moves that much faster in space; by `plunge_feed` divided by the slope where the
    tool descends; and on an arc by sqrt(a R). The acceleration along the path in space is at most a. At corners the
    machine's corner rule holds, for the faster of the two sides; where pieces are tangent nothing but the lower cap of
    the two. A closed path starts and ends at rest as well: the tool has to come from somewhere.

    Parameters
    ----------
    path
        What the tip's axis follows.
    feed
        Typed feed, in the plane of the face, in [50, 60000]. [mm/min]
    machine
        Limits and corner rule.

    Returns
    -------
    SpeedProfile
        With at most three stretches a piece; its time is linear in the number of pieces.

    Raises
    ------
    DomainError
        If an argument is of the wrong kind or the feed out of range.

    Notes
    -----
    Forward and backward pass over the joints, v1^2 <= v0^2 + 2 a L, then on each piece a trapezoid, or the triangle
    with peak sqrt((v0^2 + v1^2) / 2 + a L) if that is below the cap. Textbook kinematics, from memory.
    """
    if not isinstance(path, Path):
        raise DomainError(f"path must be a Path, got {type(path).__name__}")
    if not isinstance(machine, Machine):
        raise DomainError(f"machine must be a Machine, got {type(machine).__name__}")
    _, _, heading, curvature, length, _, slope = path.pieces.T
    stretch = np.hypot(1.0, slope)
    a = machine.acceleration / stretch
    cap = np.minimum(_feed("feed", feed) / 60, machine.max_feed / 60 / stretch)
    down, bent = slope > 0, curvature != 0
    cap[down] = np.minimum(cap[down], machine.plunge_feed / 60 / slope[down])
    cap[bent] = np.minimum(cap[bent], np.sqrt(machine.acceleration / np.abs(curvature[bent])))

    square = np.concatenate([[0.0], np.minimum(cap[:-1], cap[1:]), [0.0]])
    square[1:-1] = np.minimum(square[1:-1], _joint_caps(heading, curvature, length, slope, stretch, machine))
    square **= 2
    gain = (2 * a * length).tolist()
    w = square.tolist()
    for k, g in enumerate(gain):
        w[k + 1] = min(w[k + 1], w[k] + g)
    for k in range(len(gain) - 1, -1, -1):
        w[k] = min(w[k], w[k + 1] + gain[k])

    # Up, level, down on each piece; a part without length falls out
    ends = np.array(w)
    first, last = ends[:-1], ends[1:]
    peak = np.minimum(cap**2, (first + last) / 2 + a * length)
    peak = np.maximum(peak, np.maximum(first, last))
    rise, fall = (peak - first) / (2 * a), (peak - last) / (2 * a)
    part = np.column_stack([rise, length - rise - fall, fall])
    joint = path.joints
    station = np.column_stack([joint[:-1], joint[:-1] + rise, joint[1:] - fall, joint[1:]])
    v = np.sqrt(np.column_stack([first, peak, peak, last]))
    rounding = 1e-13 * length + 1e-15 * peak / a
    keep = (part > rounding[:, None]) & (np.diff(station, axis=1) > 0)
    # What is left of a piece starts at its joint, to the last bit
    row, begin = np.arange(len(a)), np.argmax(keep, axis=1)
    station[row, begin], v[row, begin] = joint[:-1], np.sqrt(first)
    took = 2 * part[keep] / (v[:, :-1] + v[:, 1:])[keep]
    return SpeedProfile(
        np.append(station[:, :-1][keep], joint[-1]),
        np.append(v[:, :-1][keep], v[-1, -1]),
        np.concatenate([[0.0], np.cumsum(took)]),
        (a[:, None] * [1.0, 0.0, -1.0])[keep],
    )


def _joint_caps(
    heading: FloatArray,
    curvature: FloatArray,
    length: FloatArray,
    slope: FloatArray,
    stretch: FloatArray,
    machine: Machine,
) -> FloatArray:
    """Speed in the plane allowed by the corner rule at each of the joints between pieces, inf where tangent. [mm/s]"""

    def tangent(azimuth: FloatArray) -> FloatArray:
        return np.column_stack([np.cos(azimuth), np.sin(azimuth), -slope]) / stretch[:, None]

    arrive, leave = tangent(heading + curvature * length)[:-1], tangent(heading)[1:]
    # Half-angle form: exact for the smallest turns, where the cosine says nothing
    turn = 2 * np.arctan2(np.linalg.norm(leave - arrive, axis=1), np.linalg.norm(leave + arrive, axis=1))
    caps = np.full(len(turn), np.inf)
    at = np.flatnonzero(turn > _STRAIGHT)
    if at.size:
        # Turning up to each joint: of the arcs, and of the corners before it
        swept = np.cumsum(np.abs(curvature) * length)[:-1] + np.cumsum(turn) - turn
        along = np.cumsum(length * stretch)[:-1]
        caps[at] = _corner_speeds(along[at], swept[at], turn[at], machine)
        caps /= np.maximum(stretch[:-1], stretch[1:])
    return caps
