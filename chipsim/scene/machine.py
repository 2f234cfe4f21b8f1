r"""The machine: how fast the tool really goes along a path, and what a router's dial means.

A programmed feed is a wish. Between corners the axes need room to gather speed, on tight arcs they cannot hold it, and
a descending tool is held to the plunge feed. The profile below is the fastest motion within those limits, worked out
along the tip's way in space: a plunge, a ramp, a helix and a level stroke are one motion.

Acceleration is limited as a box: the tangential part by `a` and the centripetal part by `a`, each for itself, as
controllers do. The friction circle, sqrt(tangential^2 + centripetal^2) <= a, is not used: no common controller plans by
it, and with the box every limit is constant along a piece, so that the optimal motion is made of stretches of constant
acceleration and can be written down exactly, without a grid (forward and backward pass; textbook kinematics, from
memory).
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from .._shared.arrays import SLOWEST_PLUNGE, FloatArray, array, bare, choice, frozen, integer, number
from .._shared.arrays import feed as feed_of
from .._shared.tables import Columns, Result
from ..errors import DomainError
from ..units import feed_text, length_text
from .paths import Path

__all__ = ["Dial", "Machine", "SpeedProfile", "Stretch", "corners_text", "speed_profile"]

_STRAIGHT = 1e-6
"""Joints that turn by less are tangent: rounding of coordinates, no corner. [rad]"""

_NEIGHBOURS = 4
"""The circle inscribed in a corner ends before this many joints on either side: it spans 7 at most."""

_BACK = math.pi - 1e-9
"""Joints that turn by more reverse the tool: no rule takes it through one at speed. [rad]"""

_GENTLE = math.radians(30.0)
"""A joint that turns by more is a corner, whatever is beside it: a curve laid out in fewer than twelve chords to the
whole turn looks like a polygon, and is meant as one. [rad]"""

_LONGEST_CHORD = 2.0
"""A side longer than so many times the shorter of its neighbours is a line between two curves, no chord of one. [-]"""

_ROUNDED = 0.0025
"""Joints closer to a straight line than this are one line with it: coordinates are rounded to 0.001 mm. [mm]"""

_VERTEX_GAP = 0.05
"""Default of `Machine.vertex_gap`. The eye parts two lines that are one minute of arc from each other, 0.07 mm at the
250 mm from which a carver looks at a lip (optics of the eye, from memory): a path that strays by less looks sharp. [mm]
"""


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

    Examples
    --------
    >>> import chipsim as cs
    >>> dial = cs.Dial(positions=[1, 3, 5], speeds=[9_700, 15_350, 21_150])  # your own readings
    >>> float(dial.speed(2))
    12525.0
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

    def speed_range(self, position: float) -> tuple[float, float]:
        """Lowest and highest spindle speed to reckon with at a dial position [-], from the uncertainty. [rpm]"""
        v = self.speed(position)
        return v * (1 - self.uncertainty), v * (1 + self.uncertainty)


def _list(values: FloatArray) -> str:
    return ", ".join(f"{v:g}" for v in values)


def _speeds(name: str, values: object, unit_rpm: float, unit: str) -> FloatArray:
    """Readings that mean 1000 to 100 000 rpm, in rpm or in Hz of the teeth (1 Hz = `unit_rpm` rpm)."""
    low, high = 1000 / unit_rpm, 100_000 / unit_rpm
    out = array(name, values, ndim=1, unit=unit)  # type: ignore[arg-type]
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
        Largest speed of the tool along its path in space, in [100, 60000]. [mm/min]
    corners
        What the machine does at corners: 'circle', 'halt' or 'free', see Notes.
    vertex_gap
        Gap between a corner's vertex and the circle inscribed in the corner, in (0, 1]. The default is what nobody
        sees at the lip: the eye parts lines 0.07 mm from each other at 250 mm (one minute of arc, from memory). [mm]
    plunge_feed
        Largest downward speed, in [80, 60000]. [mm/min]
    rapid_feed
        Speed of moves in air, in [100, 60000]; None: `max_feed`. [mm/min]
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
    A joint is a place where the direction of the tool in space, slope included, turns by more than 1e-6 rad.

    - 'circle': a joint is taken at the speed sqrt(a R) of a circle R that touches both sides and misses the vertex by
      `vertex_gap`. The path itself is not changed; the circle only sets the speed::

            |
            T - - C        V: vertex; theta: angle between the sides, 180 is straight on
            |   / |        C: centre, on the bisector, R / sin(theta / 2) from V
            | /   |        T: where the circle touches, R / tan(theta / 2) from V
            V-----T----    the circle passes V at R / sin(theta / 2) - R

      R / sin(theta / 2) - R = gap gives R = gap sin(theta / 2) / (1 - sin(theta / 2)). The circle must fit: T not
      beyond half-way to the next joint, else R = that half x tan(theta / 2). Joints close together may share a
      circle: it then turns by all that the path turns from the first of them to the last, and T lies half as far from
      the middle one as the next joint beyond. The largest circle over 1, 3, 5 or 7 joints with the one in question in
      the middle counts. A stray short chord so does not stop the tool. Where 2, 3, 4, 6 or 8 sides before a joint and
      as many behind it are straight to 0.0025 mm, as rounded coordinates leave them, the circle inscribed in these two
      lines counts if it is larger.
    - 'halt': the tool comes to rest at every corner.
    - 'free': corners do not slow the tool.

    Where the tool turns right back, as from a plunge into a retract, it comes to rest under any of them, and so it
    does where it dwells.

    A curve laid out in chords is no row of corners, under any of the three. Which is which: a joint that turns by more
    than 30 degrees is a corner, for a curve in fewer than twelve chords to the turn looks like a polygon. So is one
    where the path `vertex_gap` before and `vertex_gap` behind turns by more than 30 degrees, however many short chords
    cut the corner off. Of the others, 'halt' also stops where the circle that fits would miss the vertex by more than
    `vertex_gap`: two long sides meet there. Everything else bends like the curve it stands for, and is held to
    sqrt(a R) of the circle that fits: 'halt' and 'circle' with `vertex_gap`, 'free' whatever the gap. A straight
    side between two joints of 30 degrees or less, not longer than twice the shorter of its neighbours, is such a chord
    and is held to the faster of both ends' circles that fit, as the arc would be.

    Examples
    --------
    >>> import chipsim as cs
    >>> machine = cs.Machine(acceleration=300, max_feed=3000, travel=(600, 400, 90))
    >>> machine.corners, machine.plunge_feed
    ('circle', 300.0)
    """

    acceleration: float
    max_feed: float
    corners: str = field(default="circle", kw_only=True)
    vertex_gap: float = field(default=_VERTEX_GAP, kw_only=True)
    plunge_feed: float = field(default=300.0, kw_only=True)
    rapid_feed: float | None = field(default=None, kw_only=True)
    travel: tuple[float, float, float] | None = field(default=None, kw_only=True)
    dial: Dial | None = field(default=None, kw_only=True)
    stiffness: float | None = field(default=None, kw_only=True)
    spindle_power: float | None = field(default=None, kw_only=True)

    def __post_init__(self) -> None:
        checked: dict[str, Any] = {
            "acceleration": number("acceleration", self.acceleration, low=10, high=50_000, unit="mm/s^2"),
            "max_feed": feed_of("max_feed", self.max_feed),
            "corners": choice("corners", self.corners, ("circle", "halt", "free")),
            "vertex_gap": number("vertex_gap", self.vertex_gap, low=0, high=1, open_low=True, unit="mm"),
            "plunge_feed": feed_of("plunge_feed", self.plunge_feed, low=SLOWEST_PLUNGE),
        }
        if self.rapid_feed is not None:
            checked["rapid_feed"] = feed_of("rapid_feed", self.rapid_feed)
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
        if turn > _BACK:
            return 0.0
        if turn <= _STRAIGHT or self.corners == "free":
            return math.inf
        if self.corners == "halt":
            return 0.0
        room = min(1e12, self.vertex_gap / math.tan(turn / 4))
        return 60 * math.sqrt(self.acceleration * room * math.tan((math.pi - turn) / 2))

    @property
    def rapid_speed(self) -> float:
        """Speed of moves in air: `rapid_feed`, else `max_feed`. [mm/min]"""
        return self.max_feed if self.rapid_feed is None else self.rapid_feed

    @property
    def corner_words(self) -> str:
        """What is assumed of corners, as one sentence for reports."""
        if self.corners == "halt":
            said = "The machine is assumed to come to rest at every corner"
        elif self.corners == "free":
            said = "The machine is assumed not to slow at corners"
        else:
            gap = length_text(self.vertex_gap, 2 if self.vertex_gap >= 0.01 else 4)
            usual = ", the default" if self.vertex_gap == _VERTEX_GAP else ""
            said = (
                f"At a corner the machine is assumed to slow to what {self.acceleration:g} mm/s^2 allow on the "
                f"inscribed circle that misses the vertex by {gap}{usual}"
            )
        return f"{said}. A curve in short chords counts as a curve."


def corners_text(machines: Iterable[Machine | None]) -> str:
    """What is assumed of the corners of these machines: each sentence once; '' where there is no machine."""
    return " ".join(dict.fromkeys(m.corner_words for m in machines if m is not None))


class Stretch(NamedTuple):
    """One stretch of a `SpeedProfile`: where, how fast and when it begins; acceleration. [mm, mm/s, s, mm/s^2]"""

    station: float
    speed: float
    time: float
    acceleration: float


@dataclass(frozen=True, eq=False)
class SpeedProfile(Result):
    """Speed of the tool along a path, made by `speed_profile`: m stretches of constant acceleration.

    Every joint of the path is among the stations, to the last bit; the others are where the acceleration changes
    within a piece. Speeds and accelerations are those in the plane of the board's face. A vertical piece and a dwell
    are stretches too: the station stands on them, and the speed in the face is 0. Where the slope changes, and without
    a machine where the feed does, the speed in the face jumps: what is said of a station is what holds from it on.

    Print it for a summary. It iterates over its stretches, as `Stretch`, and so does its table.

    Parameters
    ----------
    station
        (m + 1,) arc lengths at which the stretches start and the last one ends, from 0, increasing where the tool
        moves in the face. [mm]
    speed
        (m + 1,) speed with which each stretch starts and the last one ends. [mm/s]
    time
        (m + 1,) time there, from 0. [s]
    acceleration
        (m,) acceleration on each stretch. [mm/s^2]
    arrival
        (m,) speed with which each stretch ends. [mm/s]
    typed
        (m,) speed in the face that is programmed for each stretch. [mm/s]
    """

    station: FloatArray
    speed: FloatArray
    time: FloatArray
    acceleration: FloatArray
    arrival: FloatArray
    typed: FloatArray

    def __post_init__(self) -> None:
        for name in ("station", "speed", "time", "acceleration", "arrival", "typed"):
            frozen(getattr(self, name))
        moving = np.flatnonzero(np.diff(self.station) > 0)
        object.__setattr__(self, "_last", int(moving[-1]) if moving.size else 0)

    def __len__(self) -> int:
        return len(self.acceleration)

    def __iter__(self) -> Iterator[Stretch]:
        starts = (self.station[:-1], self.speed[:-1], self.time[:-1], self.acceleration)
        return map(Stretch, *(values.tolist() for values in starts))

    def _columns(self) -> Columns:
        return {
            "station [mm]": self.station[:-1],
            "speed [mm/s]": self.speed[:-1],
            "time [s]": self.time[:-1],
            "acceleration [mm/s^2]": self.acceleration,
        }

    def __str__(self) -> str:
        length, fastest = float(self.station[-1]), 60 * float(self.speed.max())
        level = float(np.diff(self.station)[self.acceleration == 0].sum())
        mean = 60 * length / self.duration if self.duration > 0 else math.nan
        return (
            f"Speed along {length_text(length, 1)} in {self.duration:.2f} s, {len(self)} stretches\n"
            f"  fastest {feed_text(fastest)}, mean {feed_text(mean)}\n"
            f"  at a steady feed on {length_text(level, 1)}, gaining or losing on the rest"
        )

    def __repr__(self) -> str:
        return (
            f"<SpeedProfile {self.station[-1]:.1f} mm in {self.duration:.2f} s, "
            f"fastest {60 * self.speed.max():.0f} mm/min, {len(self.acceleration)} stretches>"
        )

    @property
    def duration(self) -> float:
        """Time from the start to the end, dwells included. [s]"""
        return float(self.time[-1])

    @property
    def pieces(self) -> FloatArray:
        """(m, 4) one row a stretch: time, station, speed, acceleration at its start. [s, mm, mm/s, mm/s^2]"""
        return np.column_stack([self.time[:-1], self.station[:-1], self.speed[:-1], self.acceleration])

    def _locate(self, station: ArrayLike) -> tuple[FloatArray, np.ndarray, FloatArray]:
        """Stations within the path, the stretch of each, and the speed there."""
        end = float(self.station[-1])
        s = np.clip(array("station", station, low=-1e-9, high=end + 1e-9, unit="mm"), 0.0, end)
        # of the stretches that begin at one station the last moves on; at the end it is the last that moved
        last: int = self._last  # type: ignore[attr-defined]
        k = np.clip(np.searchsorted(self.station, s, side="right") - 1, 0, last)
        # v^2 is linear in s; weighted from both ends so that nothing cancels where the tool comes to rest
        s0, s1 = self.station[k], self.station[k + 1]
        span = s1 - s0
        square = (self.speed[k] ** 2 * (s1 - s) + self.arrival[k] ** 2 * (s - s0)) / np.where(span > 0, span, 1.0)
        return s, k, np.sqrt(square)

    def speed_at(self, station: ArrayLike) -> FloatArray:
        """Speed at an arc length [mm], same shape; DomainError off the path. [mm/s]"""
        return np.asarray(self._locate(station)[2])

    def typed_at(self, station: ArrayLike) -> FloatArray:
        """Speed in the face that is programmed at an arc length [mm], same shape; DomainError off the path. [mm/s]"""
        return np.asarray(self.typed[self._locate(station)[1]])

    def time_at(self, station: ArrayLike) -> FloatArray:
        """Time at which the tool passes an arc length [mm], same shape; DomainError off the path. [s]

        Where it stands or goes straight up or down: when it goes on; at the end: when it arrives.
        """
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

    def share_below(self, fraction: float, feed: float | None = None) -> float:
        """Share of the path's length where the speed is below a fraction of the programmed feed; 0 without length. [-]

        `fraction` in (0, 1] [-]; `feed`, in [100, 60000], None: what is programmed for each stretch. [mm/min]
        """
        part = number("fraction", fraction, low=0, high=1, open_low=True)
        limit = part * (self.typed if feed is None else np.full(len(self.typed), feed_of("feed", feed) / 60))
        squares = np.sort(np.column_stack([self.speed[:-1], self.arrival]) ** 2, axis=1)
        rise = squares[:, 1] - squares[:, 0]
        level = rise == 0
        slower = squares[:, 0] < limit**2 * (1 - 1e-12)
        share = np.where(level, slower, (limit**2 - squares[:, 0]) / np.where(level, 1.0, rise))
        whole = float(self.station[-1])
        return float(np.clip(share, 0, 1) @ np.diff(self.station) / whole) if whole > 0 else 0.0


class Run(NamedTuple):
    """Motion of the tip along its way in space: m stretches of constant acceleration, a dwell being one of them.

    Attributes
    ----------
    piece : (m,) piece of the path; of a dwell the piece ahead, at the end of the path their number.
    stands : (m,) True on a dwell.
    begun, length : (m,) way along the piece to where the stretch starts, and of the stretch itself. [mm]
    first, last : (m,) speed at its ends. [mm/s]
    acceleration : (m,). [mm/s^2]
    seconds : (m,) how long it takes. [s]
    """

    piece: np.ndarray
    stands: np.ndarray
    begun: FloatArray
    length: FloatArray
    first: FloatArray
    last: FloatArray
    acceleration: FloatArray
    seconds: FloatArray


def speed_profile(path: Path, feed: float | Sequence[float], machine: Machine) -> SpeedProfile:
    """Fastest motion along a path, from rest to rest, within the machine's limits; exact on lines, arcs and helices.

    It is worked out along the tip's way in space. On each piece the speed in the face is capped by the programmed feed,
    and on an arc by sqrt(a R); the speed in space by `max_feed`, its descent by `plunge_feed`. The acceleration along
    the way is at most a. At corners, slopes and vertical pieces included, the machine does as its `corners` say; where
    pieces are tangent only the lower cap of the two counts. The tool rests where it dwells. A closed path starts and
    ends at rest as well: the tool has to come from somewhere.

    Parameters
    ----------
    path
        What the tip's axis follows.
    feed
        Typed feed, in the plane of the face, in [100, 60000], or one for each piece. A vertical piece goes up at the
        feed and down at the plunge feed; of one for each piece its own counts. [mm/min]
    machine
        Limits, and what it does at corners.

    Returns
    -------
    SpeedProfile
        With at most three stretches a piece, and one a dwell; its time is linear in the number of pieces.

    Raises
    ------
    DomainError
        If an argument is of the wrong kind or the feed out of range.

    Notes
    -----
    Forward and backward pass over the joints, v1^2 <= v0^2 + 2 a L, then on each piece a trapezoid, or the triangle
    with peak sqrt((v0^2 + v1^2) / 2 + a L) if that is below the cap. Textbook kinematics, from memory.

    Examples
    --------
    >>> import chipsim as cs
    >>> from chipsim.scene.machine import speed_profile
    >>> profile = speed_profile(cs.line((0, 0), (50, 0), 2), feed=3000, machine=cs.Machine(300, 3000))
    >>> f"{profile.duration:.3f} s"
    '1.167 s'
    """
    if not isinstance(path, Path):
        raise DomainError(f"path must be a Path, got {type(path).__name__}")
    if not isinstance(machine, Machine):
        raise DomainError(f"machine must be a Machine, got {type(machine).__name__}")
    typed = checked_feeds(path, feed)
    feeds = feeds_in_space(path, typed, "face", machine.plunge_feed)
    return profile_of(path, feeds, run_along(path, feeds, machine))


def checked_feeds(path: Path, feed: object) -> float | tuple[float, ...]:
    """Return a feed as a float, or as a tuple of one for each piece where they differ, or raise DomainError. [mm/min]

    Of a path with vertical pieces a tuple stays one: one number for all leaves a plunge to the plunge feed.
    """
    given = bare("feed", feed, "mm/min")
    if not isinstance(given, (list, tuple, np.ndarray)) or (isinstance(given, np.ndarray) and given.ndim == 0):
        return feed_of("feed", given)
    upright = path.pieces[:, 4] == 0
    values = array("feed", given, ndim=1, unit="mm/min")
    if values.shape != upright.shape:
        raise DomainError(f"feed must be a number or have shape ({len(upright)},), one a piece, got {values.shape}")
    wrong = (values < np.where(upright, 1.0, 100.0)) | (values > 60_000)
    if wrong.any():
        k = int(np.argmax(wrong))
        feed_of(f"feed[{k}]", float(values[k]), low=1.0 if upright[k] else 100.0)
    if upright.any() or np.ptp(values) > 0:
        return tuple(values.tolist())
    return float(values[0])


def feeds_in_space(path: Path, feed: float | tuple[float, ...], along: str, plunge_feed: float) -> FloatArray:
    """Typed speed of the tip on each piece along its way in space, (pieces,), from checked feeds. [mm/min]"""
    out = np.array(np.broadcast_to(feed, len(path.drop)), dtype=np.float64)
    slope, upright = path.pieces[:, 6], path.pieces[:, 4] == 0
    if along == "face":
        out *= np.hypot(1.0, slope)
    if not isinstance(feed, tuple):
        out[upright & (path.drop > 0)] = plunge_feed
    return out


def profile_of(path: Path, feeds: FloatArray, run: Run) -> SpeedProfile:
    """A motion along the tip's way in space as it looks in the face; `feeds` (pieces,) in space. [mm/min]"""
    piece = np.minimum(run.piece, len(path.drop) - 1)
    level = np.where(run.stands, 0.0, path.pieces[piece, 4] / path.space_length[piece])
    begin = path.joints[run.piece] + np.where(run.stands, 0.0, run.begun * level)
    return SpeedProfile(
        np.append(begin, path.length),
        np.append(run.first * level, run.last[-1] * level[-1]),
        np.concatenate([[0.0], np.cumsum(run.seconds)]),
        run.acceleration * level,
        run.last * level,
        feeds[piece] / 60 * level,
    )


def run_along(path: Path, feeds: FloatArray, machine: Machine | None) -> Run:
    """Fastest motion within the limits; without a machine the programmed feeds, which then change at once.

    `feeds` (pieces,): along the tip's way in space. [mm/min]
    """
    length = path.space_length
    if machine is None:
        v, none = feeds / 60, np.zeros(len(length))
        moves = Run(np.arange(len(length)), none > 0, none, length, v, v, none, length / v)
    else:
        moves = _fastest(path, feeds, machine)
    at = np.flatnonzero(path.dwell)
    if not at.size:
        return moves
    none = np.zeros(len(at))
    dwells = Run(at, none == 0, none, none, none, none, none, path.dwell[at])
    order = np.argsort(np.concatenate([2 * moves.piece + 1, 2 * at]), kind="stable")
    return Run(*(np.concatenate(pair)[order] for pair in zip(moves, dwells, strict=True)))


def _fastest(path: Path, feeds: FloatArray, machine: Machine) -> Run:
    """Motion along the tip's way in space under a machine's limits, without the dwells; see `speed_profile`."""
    from ..kernels import speeds  # late: a machine and a path need no compiler

    curvature, face, length, drop = path.pieces[:, 3], path.pieces[:, 4], path.space_length, path.drop
    a = machine.acceleration
    cap = np.minimum(feeds, machine.max_feed) / 60
    down, bent = drop > 0, curvature != 0
    cap[down] = np.minimum(cap[down], machine.plunge_feed / 60 * length[down] / drop[down])
    cap[bent] = np.minimum(cap[bent], np.sqrt(a / np.abs(curvature[bent])) * length[bent] / face[bent])

    at_joints, on_sides = _bend_caps(path, machine)
    cap = np.minimum(cap, on_sides)
    square = np.concatenate([[0.0], np.minimum(np.minimum(cap[:-1], cap[1:]), at_joints), [0.0]])
    square[np.flatnonzero(path.dwell)] = 0.0
    square **= 2
    speeds.hold_back(square, 2 * a * length)

    # Up, level, down on each piece; a part without length falls out
    first, last = square[:-1], square[1:]
    peak = np.minimum(cap**2, (first + last) / 2 + a * length)
    peak = np.maximum(peak, np.maximum(first, last))
    rise, fall = (peak - first) / (2 * a), (peak - last) / (2 * a)
    part = np.column_stack([rise, length - rise - fall, fall])
    joint = np.concatenate([[0.0], np.cumsum(length)])
    way = np.column_stack([joint[:-1], joint[:-1] + rise, joint[1:] - fall, joint[1:]])
    v = np.sqrt(np.column_stack([first, peak, peak, last]))
    keep = (part > (1e-13 * length + 1e-15 * peak / a)[:, None]) & (np.diff(way, axis=1) > 0)
    # What is left of a piece starts at its joint, to the last bit
    begun = np.column_stack([np.zeros(len(rise)), rise, length - fall])
    row, begin = np.arange(len(length)), np.argmax(keep, axis=1)
    begun[row, begin], v[row, begin] = 0.0, np.sqrt(first)
    return Run(
        np.broadcast_to(row[:, None], keep.shape)[keep],
        np.zeros(int(keep.sum()), dtype=bool),
        begun[keep],
        part[keep],
        v[:, :-1][keep],
        v[:, 1:][keep],
        np.broadcast_to(a * np.array([1.0, 0.0, -1.0]), keep.shape)[keep],
        2 * part[keep] / (v[:, :-1] + v[:, 1:])[keep],
    )


def _bend_caps(path: Path, machine: Machine) -> tuple[FloatArray, FloatArray]:
    """Speeds in space allowed at each joint between pieces and on each piece, inf where nothing bends. [mm/s]"""
    from ..kernels import speeds

    heading, curvature, length = path.pieces[:, 2], path.pieces[:, 3], path.pieces[:, 4]
    way = path.space_length

    def tangent(azimuth: FloatArray) -> FloatArray:
        flat = np.column_stack([np.cos(azimuth), np.sin(azimuth)]) * length[:, None]
        return np.column_stack([flat, -path.drop]) / way[:, None]

    turn = _angles(tangent(heading + curvature * length)[:-1], tangent(heading)[1:])
    at_joints, on_sides = np.full(len(turn), np.inf), np.full(len(length), np.inf)
    at = np.flatnonzero(turn > _STRAIGHT)
    if not at.size:
        return at_joints, on_sides
    # Turning up to each joint: of the arcs, and of the joints before it
    swept = (np.cumsum(np.abs(curvature) * length)[:-1] + np.cumsum(turn) - turn)[at]
    along = np.cumsum(way)[:-1][at]
    gentle = turn[at] <= _GENTLE
    points = np.column_stack([path.xy, -path.depth])[at + 1]
    arcs = np.cumsum(np.abs(curvature) * length)[:-1][at]

    gaps = np.array([math.inf, machine.vertex_gap])
    radii = np.empty((2, len(at)))
    speeds.joint_radii(along, swept, turn[at], points, arcs, gaps, _NEIGHBOURS, _STRAIGHT, _ROUNDED, radii)
    fits, held_to_gap = np.sqrt(machine.acceleration * radii)
    if machine.corners == "free":
        speed = np.where(gentle & ~_cut_off(path, at, machine.vertex_gap), fits, np.inf)
    else:
        speed = held_to_gap
        if machine.corners == "halt":
            room = np.diff(np.concatenate([[-np.inf], along, [np.inf]]))
            room = np.minimum(room[:-1], room[1:]) / 2
            curved = gentle & (room * np.tan(turn[at] / 4) <= machine.vertex_gap)
            speed[~curved | _cut_off(path, at, machine.vertex_gap)] = 0.0
    speed[turn[at] > _BACK] = 0.0
    at_joints[at] = speed

    # Vertices along a side, where nothing turns, do not part it; a line between two roundings in chords is no chord
    sides = np.concatenate([[np.inf], np.diff(along), [np.inf]])
    side = np.searchsorted(at, np.arange(len(length)))
    chord = (side > 0) & (side < len(at)) & (curvature == 0)
    left, right = side[chord] - 1, side[chord]
    beside = np.minimum(sides[left], sides[right + 1])
    curve = gentle[left] & gentle[right] & (sides[right] <= _LONGEST_CHORD * beside)
    held = np.where(curve, np.maximum(fits[left], fits[right]), np.inf)
    on_sides[chord] = held
    return at_joints, on_sides


def _angles(one: FloatArray, two: FloatArray) -> FloatArray:
    """Angles between directions, (n, 3) unit vectors each; half-angle form: exact for the smallest turns. [rad]"""
    return np.asarray(2 * np.arctan2(np.linalg.norm(two - one, axis=1), np.linalg.norm(two + one, axis=1)))


def _cut_off(path: Path, at: NDArray[np.intp], gap: float) -> NDArray[np.bool_]:
    """Whether the path turns like a corner about each of the joints `at`, seen from the gap before and behind it."""
    face, depth, drop = path.pieces[:, 4], path.pieces[:, 5], path.drop
    joint = np.concatenate([[0.0], np.cumsum(path.space_length)])

    def place(way: FloatArray) -> FloatArray:
        k = np.clip(np.searchsorted(joint, way, side="right") - 1, 0, len(drop) - 1)
        part = np.clip((way - joint[k]) / path.space_length[k], 0.0, 1.0)
        return np.column_stack([path.position(path.joints[k] + part * face[k]), -(depth[k] + part * drop[k])])

    s = joint[1:-1][at]
    before, here, behind = (place(np.clip(s + off, 0.0, joint[-1])) for off in (-gap, 0.0, gap))

    def unit(v: FloatArray) -> FloatArray:
        return np.asarray(v / np.maximum(np.linalg.norm(v, axis=1), 1e-300)[:, None])

    return _angles(unit(here - before), unit(behind - here)) > _GENTLE + 1e-9
