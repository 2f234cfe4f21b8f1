"""The oracle in space: which wood a tooth meets on a board that several motions cut, one after the other.

Brute force like `oracle`, and just as unacquainted with the compiled kernels. A motion is a list of lines, arcs and
dwells in space. In the slice of the board at height z (0 at the face, negative below it) a tooth stands at height
z + d above the tip when the tip is at depth d, and is in the slice only while that is not negative. There it removes,
at every instant, the whole segment from the rotation axis to its edge.

All questions are asked of one straight line in one slice, in whose frame points are complex numbers: real part along
the line, imaginary part across it. Three functions of time say when a segment begins or ceases to meet the line: the
across-distances of edge and axis, and the height above the tip. Their zeros are found so that none can hide:

* Time is divided at every joint of the pieces and every knot of the speed law, so that within a gap the axis moves
  smoothly and the depth rises or falls, but not both.
* Within a gap of length g the across-distance of an edge strays from its chord by no more than
  g^2/8 (acceleration of the axis + omega^2 (r + rho)) + 2 |r(end) - r(start)|, because the radius does not fall with
  height. A gap with one sign whose ends are farther from zero than that has no zero; a gap with two signs whose ends
  differ by eight times as much has one zero. Any other gap is halved, down to 1e-7 rad of rotation.
  Where the flute's azimuth changes with height, the edge also moves aside: by no more than the radius times the way
  that the azimuth goes between the two heights, which is added.
* Between two zeros the segment meets the line at a place that moves to and fro only where it meets it within about
  v/omega of the axis; elsewhere the ends of the stretch are the places at the zeros.

Zeros are bracketed to the rounding of the time. Lengths are good to about 1e-13 mm where the sweeps cross the line
steeply, and to 1e-12 mm elsewhere, in jobs of some seconds.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from itertools import pairwise
from typing import NamedTuple, TypeAlias

import numpy as np
from numpy.typing import ArrayLike, NDArray

from .._shared.arrays import FloatArray, array, choice, integer, number
from ..errors import DomainError
from .oracle import SPINS, TURN, ComplexArray, Profile, left_over, meeting_distance, smallest

__all__ = [
    "Arc",
    "Dwell",
    "Line",
    "Motion",
    "ProbeStrikes",
    "crossing_near",
    "normal_thickness",
    "probe_strikes",
    "radial_thickness",
    "removed_area",
    "removed_stretches",
    "removed_volume",
    "rest_to_rest",
    "uncut_stretches",
]

IntArray: TypeAlias = NDArray[np.int64]
BoolArray: TypeAlias = NDArray[np.bool_]

LOOKS_PER_TURN = 48
"""First look at every tooth [1/turn]; the bounds above decide where a closer look is needed."""
FINEST = 1e-7
"""Rotation below which a gap is not halved any more [rad]."""
FLAT = 1e-14
"""A function that strays less than this from its chord is a straight line [mm]."""
TOUCHING = 1e-12
"""How far above the slice a tip still counts as in it [mm]."""


class Line(NamedTuple):
    """A straight move in space; without a way in the face it is a plunge or a retract."""

    end: tuple[float, float, float]
    """x, y and depth of the tip below the face [mm]."""
    feed: float
    """Along the line in space [mm/min]."""


class Arc(NamedTuple):
    """An arc in the face whose depth changes in proportion to the sweep: a helix."""

    centre: tuple[float, float]
    """[mm]"""
    sweep: float
    """Counter-clockwise positive [deg]."""
    depth: float
    """At the end, of the tip below the face [mm]."""
    feed: float
    """Along the helix in space [mm/min]."""


class Dwell(NamedTuple):
    """A standstill; the spindle turns on."""

    seconds: float
    """[s]"""


Piece: TypeAlias = Line | Arc | Dwell


class _Layout(NamedTuple):
    """The pieces that take time or way, as columns."""

    from_time: FloatArray  # [s], without a speed law
    to_time: FloatArray
    from_length: FloatArray  # along the path in space [mm]
    length: FloatArray
    origin: ComplexArray  # where a line starts, the centre of an arc [mm]
    vector: ComplexArray  # the way of a line, centre to start of an arc [mm]
    sweep: FloatArray  # [rad], 0 for a line
    depth: FloatArray
    descent: FloatArray
    speed: FloatArray  # [mm/s], without a speed law
    in_the_face: FloatArray  # way in the face [mm]


@dataclass(frozen=True)
class Motion:
    """The motion of one bit in space at one spindle speed, from the first piece to the last.

    The axis starts at `start` at time 0. The speed along the path is the feed of each piece, or what `speeds` says.

    Parameters
    ----------
    start : (x, y, d)
        Axis and depth of the tip below the face, negative above it [mm].
    pieces : sequence of Line, Arc and Dwell
        In order of time.
    radius : callable
        Radius of the cutter about its own axis [mm] for an array of heights >= 0 above the tip [mm]. It must not fall.
    spindle_speed : float
        [rpm]
    flutes : int
        Number of flutes, 1 to 64. Flute j stands at 360 j / z degrees against the sense of rotation.
    phase : float
        Azimuth of flute 0's nominal direction at time 0 [deg].
    spin : {'cw', 'ccw'}
        Sense of rotation seen from above.
    runout, runout_azimuth : float
        Offset of the cutter axis [mm] and its direction in the cutter [deg], counted like the flutes.
    azimuth : callable, optional
        Angle of the edges behind their nominal directions [deg], against the rotation, for an array of heights above
        the tip [mm]: of the heights' shape, or (flutes, ...) if each flute has a law of its own.
    set_back, raised : sequence of float, optional
        How far each flute's edge stays within the bit's radius, and how far its tip stands above the bit's [mm], >= 0.
    speeds : (k, 2) array, optional
        Knots of time [s] and speed along the path in space [mm/s]; the speed is linear between them. Feeds are then
        ignored, and a standstill is a stretch of speed 0 at a joint, so there must be no Dwell. The law must begin at
        time 0 and cover the length of the path to 1e-9 mm.

    Raises
    ------
    DomainError
        A number out of range, an arc about its own start, or a speed law that does not cover the path.
    """

    start: tuple[float, float, float]
    pieces: Sequence[Piece]
    radius: Profile
    spindle_speed: float
    flutes: int = 2
    phase: float = 0.0
    spin: str = "cw"
    runout: float = 0.0
    runout_azimuth: float = 0.0
    speeds: ArrayLike | None = None
    azimuth: Profile | None = None
    set_back: Sequence[float] = ()
    raised: Sequence[float] = ()

    def __post_init__(self) -> None:
        number("spindle_speed", self.spindle_speed, low=0, open_low=True, unit="rpm")
        integer("flutes", self.flutes, low=1, high=64)
        number("phase", self.phase, unit="deg")
        number("runout", self.runout, low=0, unit="mm")
        number("runout_azimuth", self.runout_azimuth, unit="deg")
        choice("spin", self.spin, SPINS)
        for name in ("set_back", "raised"):
            short = getattr(self, name)
            if len(short) not in (0, self.flutes):
                raise DomainError(f"{name} must have one number for each of {self.flutes} flutes, got {len(short)}")
            for k, value in enumerate(short):
                number(f"{name}[{k}]", value, low=0, unit="mm")
        _ = self._layout, self._law

    @property
    def omega(self) -> float:
        """Rate of rotation, counter-clockwise positive [rad/s]."""
        return (1 if self.spin == "ccw" else -1) * self.spindle_speed * TURN / 60

    @property
    def turn(self) -> float:
        """Time of one turn of the spindle [s]."""
        return 60.0 / self.spindle_speed

    @property
    def length(self) -> float:
        """Length of the path in space [mm]."""
        return float(self._layout.length.sum())

    @property
    def duration(self) -> float:
        """Time from the first piece to the last [s]."""
        return self._end

    @cached_property
    def _end(self) -> float:
        return float(self._law[-1, 0] if self._law is not None else self._layout.to_time.max(initial=0.0))

    @cached_property
    def _layout(self) -> _Layout:
        x, y, d = (number(f"start[{k}]", v, unit="mm") for k, v in enumerate(self.start))
        at, time, way, rows = complex(x, y), 0.0, 0.0, []
        for k, piece in enumerate(self.pieces):
            if isinstance(piece, Dwell):
                seconds = number(f"pieces[{k}].seconds", piece.seconds, low=0, unit="s")
                if self.speeds is not None:
                    raise DomainError(
                        f"pieces[{k}] is a Dwell, got beside speeds; a standstill must then be a stretch of speed 0"
                    )
                rows.append((time, time + seconds, way, 0.0, at, 0j, 0.0, d, 0.0, 0.0, 0.0))
                time += seconds
                continue
            speed = number(f"pieces[{k}].feed", piece.feed, low=0, open_low=True, unit="mm/min") / 60
            if isinstance(piece, Line):
                x, y, below = (number(f"pieces[{k}].end[{i}]", v, unit="mm") for i, v in enumerate(piece.end))
                origin, vector, sweep, end = at, complex(x, y) - at, 0.0, complex(x, y)
                flat = abs(vector)
            else:
                origin = complex(
                    *(number(f"pieces[{k}].centre[{i}]", v, unit="mm") for i, v in enumerate(piece.centre))
                )
                sweep = math.radians(number(f"pieces[{k}].sweep", piece.sweep, unit="deg"))
                below = number(f"pieces[{k}].depth", piece.depth, unit="mm")
                vector = at - origin
                number(f"radius of pieces[{k}]", abs(vector), low=0, open_low=True, unit="mm")
                end = origin + vector * complex(math.cos(sweep), math.sin(sweep))
                flat = abs(vector * sweep)
            length = math.hypot(flat, below - d)
            if length > 0:
                rows.append(
                    (time, time + length / speed, way, length, origin, vector, sweep, d, below - d, speed, flat)
                )
            at, d, time, way = end, below, time + length / speed, way + length
        if not rows:
            rows.append((0.0, 0.0, 0.0, 0.0, at, 0j, 0.0, d, 0.0, 0.0, 0.0))
        return _Layout(*(np.array(column) for column in zip(*rows, strict=True)))

    @cached_property
    def _law(self) -> FloatArray | None:
        """Knots (k, 3) of time, speed and length along the path, or None where every piece has its own feed."""
        if self.speeds is None:
            return None
        knots = array("speeds", self.speeds, ndim=2, low=0)
        if knots.shape[1] != 2 or len(knots) < 2 or knots[0, 0] != 0 or (np.diff(knots[:, 0]) <= 0).any():
            raise DomainError("speeds must be knots (k, 2) of time and speed, times rising from 0, k >= 2")
        steps = np.diff(knots[:, 0]) * (knots[1:, 1] + knots[:-1, 1]) / 2
        way = np.r_[0.0, np.cumsum(steps)]
        number("length under speeds minus length of the path", way[-1] - self.length, low=-1e-9, high=1e-9, unit="mm")
        return np.column_stack([knots, way])

    @cached_property
    def kinks(self) -> FloatArray:
        """Times (k,) [s] where the motion is not smooth: ends of pieces, knots of the speed law; from 0 to the end."""
        lay = self._layout
        if self._law is None:
            return np.unique(np.r_[0.0, lay.from_time, lay.to_time])
        time = self._law[:, 0]
        joints = lay.from_length[1:]
        low, high = np.zeros(joints.shape), np.full(joints.shape, time[-1])
        for _ in range(64):
            middle = (low + high) / 2
            before = self.travelled(middle) < joints
            low, high = np.where(before, middle, low), np.where(before, high, middle)
        return np.unique(np.r_[time, high])

    @cached_property
    def _curvature(self) -> FloatArray:
        """Curvature of each piece of the layout in the face [1/mm]."""
        lay = self._layout
        out = np.zeros(lay.sweep.shape)
        np.divide(1.0, np.abs(lay.vector), out=out, where=lay.sweep != 0)
        return out

    def curvature(self, t: FloatArray) -> FloatArray:
        """Curvature of the path in the face [1/mm] at times `t` (...) [s] between kinks."""
        return self._curvature[self._share(np.minimum(np.maximum(t, 0.0), self._end))[0]]

    def restless(self, before: FloatArray, after: FloatArray) -> FloatArray:
        """A bound of the acceleration of the axis in the face [mm/s^2] between two times with no kink between them."""
        lay, middle = self._layout, (before + after) / 2
        k = self._share(np.minimum(np.maximum(middle, 0.0), self._end))[0]
        if self._law is None:
            return np.asarray(lay.speed[k] ** 2 * self._curvature[k])
        at, speed, _ = self._law.T
        n = np.minimum(np.maximum(np.searchsorted(at, middle, side="right") - 1, 0), at.size - 2)
        flat = np.divide(lay.in_the_face[k], lay.length[k], out=np.zeros(k.shape), where=lay.length[k] > 0)
        along = np.abs((speed[n + 1] - speed[n]) / (at[n + 1] - at[n]))
        return np.asarray(along * flat + np.maximum(speed[n], speed[n + 1]) ** 2 * self._curvature[k])

    def travelled(self, t: ArrayLike) -> FloatArray:
        """Length along the path in space [mm] at times `t` (...) [s]."""
        time = np.minimum(np.maximum(np.asarray(t, dtype=np.float64), 0.0), self._end)
        if self._law is None:
            lay = self._layout
            k = np.maximum(np.searchsorted(lay.from_time, time, side="right") - 1, 0)
            return np.asarray(lay.from_length[k] + np.minimum(lay.speed[k] * (time - lay.from_time[k]), lay.length[k]))
        at, speed, way = self._law.T
        k = np.minimum(np.maximum(np.searchsorted(at, time, side="right") - 1, 0), at.size - 2)
        x, step = time - at[k], at[k + 1] - at[k]
        return np.asarray(way[k] + x * (speed[k] + (speed[k + 1] - speed[k]) * x / (2 * step)))

    def _share(self, time: FloatArray) -> tuple[IntArray, FloatArray]:
        """Which piece of the layout, and how much of it is done."""
        lay = self._layout
        if self._law is None:
            way, start, span = time, lay.from_time, self._span
        else:
            way, start, span = self.travelled(time), lay.from_length, self._span
        k = np.maximum(np.searchsorted(start, way, side="right") - 1, 0)
        return k, np.minimum(np.maximum((way - start[k]) / span[k], 0.0), 1.0)

    @cached_property
    def _span(self) -> FloatArray:
        """What a piece takes, of time or of length under a speed law; endless where nothing ever gets done."""
        span = self._layout.to_time - self._layout.from_time if self._law is None else self._layout.length
        return np.where(span > 0, span, np.inf)

    def _place(self, t: FloatArray) -> tuple[ComplexArray, FloatArray]:
        """Axis as complex numbers and depth of the tip [mm]."""
        lay = self._layout
        k, done = self._share(np.minimum(np.maximum(t, 0.0), self._end))
        if self._curvature.any():
            sweep = lay.sweep[k]
            axis = lay.origin[k] + lay.vector[k] * np.where(sweep != 0, np.exp(1j * sweep * done), done)
        else:
            axis = lay.origin[k] + lay.vector[k] * done
        return axis, lay.depth[k] + lay.descent[k] * done

    def position(self, t: ArrayLike) -> tuple[FloatArray, FloatArray]:
        """Axis x and y [mm] at times `t` (...) [s]."""
        axis = self._place(np.asarray(t, dtype=np.float64))[0]
        return np.asarray(axis.real), np.asarray(axis.imag)

    def depth(self, t: ArrayLike) -> FloatArray:
        """Depth of the tip below the face [mm] at times `t` (...) [s]; negative above the face."""
        return self._place(np.asarray(t, dtype=np.float64))[1]

    def speed(self, t: ArrayLike) -> FloatArray:
        """Speed along the path in space [mm/s] at times `t` (...) [s]; at a joint, of what comes after it."""
        time = np.minimum(np.maximum(np.asarray(t, dtype=np.float64), 0.0), self._end)
        if self._law is not None:
            return np.interp(time, self._law[:, 0], self._law[:, 1])
        return np.asarray(self._layout.speed[self._share(time)[0]])

    def velocity(self, t: ArrayLike) -> FloatArray:
        """Velocity (..., 3) of the axis in x and y and of the descent, down positive [mm/s], at times `t` (...) [s]."""
        time = np.minimum(np.maximum(np.asarray(t, dtype=np.float64), 0.0), self._end)
        lay = self._layout
        k, done = self._share(time)
        rate = np.divide(self.speed(time), lay.length[k], out=np.zeros(time.shape), where=lay.length[k] > 0)
        sweep = lay.sweep[k]
        way = lay.vector[k] * np.where(sweep != 0, 1j * sweep * np.exp(1j * sweep * done), 1.0) * rate
        return np.stack([way.real, way.imag, lay.descent[k] * rate], axis=-1)

    def heading(self, t: ArrayLike) -> FloatArray:
        """Azimuth of the way in the face [deg] at times `t` (...) [s].

        Where the axis does not move in the face it is the last heading, the next one if there was none yet, and 0 in a
        motion that never moves in the face. So the angle heading + 90 - azimuth of a tooth runs on without a jump.
        """
        time = np.minimum(np.maximum(np.asarray(t, dtype=np.float64), 0.0), self._end)
        lay = self._layout
        k, done = self._share(time)
        moves = np.flatnonzero(lay.in_the_face > 1e-9)  # an arc ends to rounding: a retract there has no way of its own
        if not moves.size:
            return np.zeros(time.shape)
        last = moves[np.clip(np.searchsorted(moves, k, side="right") - 1, 0, None)]
        done = np.where(last == k, done, np.where(last < k, 1.0, 0.0))
        sweep = lay.sweep[last]
        way = lay.vector[last] * np.where(sweep != 0, 1j * np.sign(sweep) * np.exp(1j * sweep * done), 1.0)
        return np.asarray(np.degrees(np.angle(way)))

    def height_of_tip(self, flute: ArrayLike) -> FloatArray:
        """How far the tips of flutes (...) stand above the bit's [mm]."""
        if not self.raised:
            return np.zeros(np.shape(flute))
        return np.asarray(np.asarray(self.raised, dtype=np.float64)[np.asarray(flute)])

    def own_radius(self, height: FloatArray, flute: ArrayLike) -> FloatArray:
        """Radius of the flutes' edges about the cutter's own axis [mm] at heights >= 0 above the bit's tip [mm]."""
        own = height - self.height_of_tip(flute)
        radius = np.asarray(self.radius(np.maximum(own, 0.0)), dtype=np.float64)
        if self.set_back:
            radius = np.maximum(radius - np.asarray(self.set_back, dtype=np.float64)[np.asarray(flute)], 0.0)
        return np.where(own >= -TOUCHING, radius, 0.0)

    def lag(self, height: FloatArray, flute: ArrayLike) -> FloatArray:
        """Angle by which the flutes' edges stay behind their nominal directions [rad] at heights >= 0 [mm]."""
        if self.azimuth is None:
            return np.zeros(np.broadcast_shapes(np.shape(height), np.shape(flute)))
        shape = np.broadcast_shapes(np.shape(height), np.shape(flute))
        which = np.broadcast_to(np.asarray(flute), shape)
        own = np.maximum(np.broadcast_to(height, shape) - self.height_of_tip(which), 0.0)
        law = np.asarray(self.azimuth(own), dtype=np.float64)
        if law.ndim > own.ndim:
            law = np.take_along_axis(law, which[None], axis=0)[0]
        return np.radians(law)

    def reach(self, height: FloatArray, flute: ArrayLike) -> ComplexArray:
        """Rotation axis to edge [mm] in a frame that turns with the spindle; angle 0 is where `phase` points."""
        sense = math.copysign(1.0, self.omega)
        behind = TURN * np.asarray(flute) / self.flutes + self.lag(height, flute)
        offset = self.runout * np.exp(-1j * sense * math.radians(self.runout_azimuth))
        return np.asarray(self.own_radius(height, flute) * np.exp(-1j * sense * behind) + offset)

    @cached_property
    def _turning(self) -> tuple[FloatArray, FloatArray]:
        """Heights (k,) [mm] and the way (k,) that the edge with the liveliest law has turned up to there [rad]."""
        deepest = float(np.max(self.depth(self.kinks)))
        heights = np.linspace(
            0.0, max(deepest, 0.0) + 2 * float(np.max(self.radius(np.array([max(deepest, 0.0)])))), 20001
        )
        laws = np.stack([self.lag(heights, np.full(heights.shape, j)) for j in range(self.flutes)])
        return heights, np.r_[0.0, np.cumsum(np.abs(np.diff(laws, axis=1)).max(axis=0))]

    def edge(self, t: ArrayLike, flute: ArrayLike, z: float) -> ComplexArray:
        """Edge point x + iy [mm] in the slice `z` [mm] at times `t` (...) [s]; only while the tip is in the slice."""
        time = np.asarray(t, dtype=np.float64)
        axis, depth = self._place(time)
        turned = np.exp(1j * (math.radians(self.phase) + self.omega * time))
        return np.asarray(axis + turned * self.reach(np.maximum(z + depth, 0.0), flute))


def rest_to_rest(motion: Motion, acceleration: float) -> Motion:
    """The same path by a machine that starts and ends every piece at rest.

    The speed along the path in space rises at `acceleration` [mm/s^2] to the feed of the piece, or as far as it gets,
    and falls at the same rate; a dwell becomes a stretch of speed 0. (Elementary: trapezoid or triangle.)

    Raises
    ------
    DomainError
        An acceleration that is not positive.
    """
    a = number("acceleration", acceleration, low=0, open_low=True, unit="mm/s^2")
    lay = motion._layout
    knots = [(0.0, 0.0)]
    for length, speed, wait in zip(lay.length, lay.speed, lay.to_time - lay.from_time, strict=True):
        t = knots[-1][0]
        if length == 0:
            knots += [(t + wait, 0.0)] if wait > 0 else []
            continue
        top = min(speed, math.sqrt(a * length))
        ramp, flat = top / a, length / top - top / a
        knots.append((t + ramp, top))
        if flat > 1e-15:
            knots.append((t + ramp + flat, top))
        knots.append((knots[-1][0] + ramp, 0.0))
    pieces = [p for p in motion.pieces if not isinstance(p, Dwell)]
    return replace(motion, pieces=pieces, speeds=knots)


# --- one line in one slice --------------------------------------------------------------------------------------------


class _Sight(NamedTuple):
    """A motion in the frame of one straight line in one slice; time = since + x.

    The spindle angle is counted from `since`, so that a job of minutes loses no digits against its own past. `turned`
    is the angle of the spindle's frame against the line at x = 0 [rad].
    """

    motion: Motion
    origin: complex
    direction: complex
    z: float
    since: float
    turned: float

    def look(self, x: FloatArray, flute: IntArray) -> tuple[ComplexArray, ComplexArray]:
        """Axis and edge in the frame of the line [mm]."""
        axis, depth = self.motion._place(self.since + x)
        axis = (axis - self.origin) * self.direction.conjugate()
        reach = self.motion.reach(np.maximum(self.z + depth, 0.0), flute)
        return axis, axis + np.exp(1j * (self.turned + self.motion.omega * x)) * reach

    def edge_across(self, x: FloatArray, flute: IntArray) -> FloatArray:
        return np.asarray(self.look(x, flute)[1].imag)

    def axis_across(self, x: FloatArray, flute: IntArray) -> FloatArray:
        return np.asarray(((self.motion._place(self.since + x)[0] - self.origin) * self.direction.conjugate()).imag)

    def level(self, x: FloatArray, flute: IntArray) -> FloatArray:
        """Height of the slice above the tip, and the least bit more: a tip that just touches the slice is in it."""
        return self.z + self.motion._place(self.since + x)[1] + TOUCHING - self.motion.height_of_tip(flute)

    def radius(self, x: FloatArray) -> FloatArray:
        depth = self.motion._place(self.since + x)[1]
        return np.asarray(self.motion.radius(np.maximum(self.z + depth, 0.0)), dtype=np.float64)

    def grown(self, a: FloatArray, b: FloatArray) -> FloatArray:
        """How far an edge moves against its flute's direction between two times in a gap: outwards, and aside [mm]."""
        low, high = (np.maximum(self.z + self.motion._place(self.since + x)[1], 0.0) for x in (a, b))
        flutes = np.arange(self.motion.flutes) if self.motion.raised else np.array([0])
        out = np.max([np.abs(self.motion.own_radius(high, j) - self.motion.own_radius(low, j)) for j in flutes], axis=0)
        if self.motion.azimuth is None:
            return np.asarray(out)
        heights, way = self.motion._turning
        # tips that stand above the bit's meet their own law later: then the way from one end of the law to the other
        reach = float(np.max(self.motion.raised)) if self.motion.raised else 0.0
        first, last = np.minimum(low, high) - reach, np.maximum(low, high)
        turned = np.where(low == high, 0.0, np.interp(last, heights, way) - np.interp(first, heights, way))
        return np.asarray(out + 1.1 * turned * np.maximum(self.radius(a), self.radius(b)))


Across = Callable[[FloatArray, IntArray], FloatArray]
Stray = Callable[[FloatArray, FloatArray], FloatArray]


class _Gaps(NamedTuple):
    """Stretches of time in which a flute may come near the line."""

    left: FloatArray
    right: FloatArray
    flute: IntArray


def _near(sight: _Sight, low: float, high: float, windows: Sequence[tuple[int, float, float]]) -> _Gaps:
    """Divide the windows (flute, first x, last x) at every kink and finely; keep what may reach the line."""
    motion = sight.motion
    kinks = motion.kinks - sight.since
    out = []
    for flute, first, last in windows:
        if not first < last:
            continue
        count = max(1, math.ceil((last - first) / motion.turn))
        coarse = np.unique(np.r_[np.linspace(first, last, count + 1), kinks[(kinks > first) & (kinks < last)]])
        axis, depth = motion._place(sight.since + coarse)
        axis = (axis - sight.origin) * sight.direction.conjugate()
        away = np.abs(axis - np.clip(axis.real, low, high))
        radius = np.asarray(motion.radius(np.maximum(sight.z + depth, 0.0)), dtype=np.float64)
        moved = np.diff(motion.travelled(sight.since + coarse))
        near = np.minimum(away[:-1], away[1:]) - moved <= np.maximum(radius[:-1], radius[1:]) + motion.runout
        near &= np.maximum(depth[:-1], depth[1:]) + sight.z + TOUCHING >= 0
        left, right = coarse[:-1][near], coarse[1:][near]
        parts = np.maximum(1, np.ceil((right - left) / motion.turn * LOOKS_PER_TURN)).astype(np.int64)
        owner = np.repeat(np.arange(left.size), parts)
        nth = np.arange(parts.sum()) - np.repeat(np.cumsum(parts) - parts, parts)
        step = ((right - left) / parts)[owner]
        from_x = left[owner] + step * nth
        # a gap ends where the next begins, to the last digit
        to_x = np.where(nth + 1 == parts[owner], right[owner], left[owner] + step * (nth + 1))
        out.append((from_x, to_x, np.full(from_x.size, flute, dtype=np.int64)))
    if not out:
        return _Gaps(np.empty(0), np.empty(0), np.empty(0, dtype=np.int64))
    return _Gaps(*(np.concatenate(column) for column in zip(*out, strict=True)))


def _zero(value: Across, left: FloatArray, right: FloatArray, flute: IntArray, finest: float) -> FloatArray:
    """The zero in each bracket, by Ridders' rule, which halves the bracket at least, to the rounding of the time.

    Ridders, C. (1979): A new algorithm for computing a single root of a real continuous function. IEEE Trans. Circuits
    Syst. 26, 979-980.
    """
    left, right = left.copy(), right.copy()
    f_left, f_right = value(left, flute), value(right, flute)
    best = np.where(np.abs(f_left) <= np.abs(f_right), left, right)
    live = np.flatnonzero((f_left != 0) & (f_right != 0))
    for _ in range(80):
        if not live.size:
            break
        a, b, fa, fb, j = left[live], right[live], f_left[live], f_right[live], flute[live]
        middle = (a + b) / 2
        fm = value(middle, j)
        root = np.sqrt(np.maximum(fm * fm - fa * fb, 0.0))
        shift = np.divide((middle - a) * np.sign(fa - fb) * fm, root, out=np.zeros(a.shape), where=root > 0)
        x = np.minimum(np.maximum(middle + shift, a), b)
        fx = value(x, j)
        # the four points in order of time; keep the first pair of neighbours with two signs
        first, second = np.minimum(middle, x), np.maximum(middle, x)
        f_first, f_second = np.where(middle <= x, fm, fx), np.where(middle <= x, fx, fm)
        positive = fa >= 0
        in_first = (f_first >= 0) != positive
        in_second = ~in_first & ((f_second >= 0) != positive)
        left[live] = np.where(in_first, a, np.where(in_second, first, second))
        right[live] = np.where(in_first, first, np.where(in_second, second, b))
        f_left[live] = np.where(in_first, fa, np.where(in_second, f_first, f_second))
        f_right[live] = np.where(in_first, f_first, np.where(in_second, f_second, fb))
        moved = np.abs(x - best[live])
        best[live] = x
        still = moved > 4e-16 * np.maximum(np.abs(x), finest / FINEST)
        live = live[still & (fx != 0) & (right[live] - left[live] > 0)]
    return best


def _zeros(value: Across, stray: Stray, gaps: _Gaps, finest: float) -> tuple[FloatArray, IntArray]:
    """Every zero of the function in the gaps, and the gap each lies in; see the head of the module for why no more."""
    left, right, flute, gap = gaps.left, gaps.right, gaps.flute, np.arange(gaps.left.size)
    f_left = value(left, flute)
    # most gaps end where the next begins
    joined = np.r_[(right[:-1] == left[1:]) & (flute[:-1] == flute[1:]), False][: left.size]
    f_right = np.r_[f_left[1:], 0.0][: left.size]
    f_right[~joined] = value(right[~joined], flute[~joined])
    found: list[tuple[FloatArray, FloatArray, IntArray, IntArray]] = []
    while left.size:
        bound = stray(left, right)
        flips = (f_left >= 0) != (f_right >= 0)
        sure = np.where(
            flips, np.abs(f_right - f_left) > 8 * bound, np.minimum(np.abs(f_left), np.abs(f_right)) > bound
        )
        sure |= (bound <= FLAT) | (right - left <= finest)
        done = sure & flips
        found.append((left[done], right[done], flute[done], gap[done]))
        left, right, flute, gap, f_left, f_right = (a[~sure] for a in (left, right, flute, gap, f_left, f_right))
        middle = (left + right) / 2
        f_middle = value(middle, flute)
        left, right = np.r_[left, middle], np.r_[middle, right]
        f_left, f_right = np.r_[f_left, f_middle], np.r_[f_middle, f_right]
        flute, gap = np.r_[flute, flute], np.r_[gap, gap]
    a, b, j, g = (np.concatenate(column) for column in zip(*found, strict=True)) if found else (left, right, flute, gap)
    if not a.size:
        return a, g
    return _zero(value, a, b, j, finest), g


def _divided(gaps: _Gaps, x: FloatArray, gap: IntArray) -> _Gaps:
    """The gaps, divided at the times x that lie in them."""
    left, owner = np.r_[gaps.left, x], np.r_[np.arange(gaps.left.size), gap]
    order = np.lexsort((left, owner))
    left, owner = left[order], owner[order]
    ends = np.r_[owner[1:] != owner[:-1], True][: owner.size]
    right = np.where(ends, gaps.right[owner], np.r_[left[1:], 0.0][: owner.size])
    return _Gaps(left, right, gaps.flute[owner])


class _Sweeps(NamedTuple):
    """What one motion does on one line: stretches of time with a constant answer, in order of flute, then time."""

    left: FloatArray
    right: FloatArray
    flute: IntArray
    low: FloatArray  # the stretch of the line that is swept
    high: FloatArray
    meets: BoolArray  # whether anything is
    follows: BoolArray  # whether it begins where the stretch before it ends
    edge_left: BoolArray  # whether the edge is on the line at its beginning


def _sweeps(sight: _Sight, low: float, high: float, windows: Sequence[tuple[int, float, float]]) -> _Sweeps:
    """Everything that a motion sweeps on the line from `low` to `high` in the windows (flute, first x, last x)."""
    motion = sight.motion
    swing, since = motion.omega**2, sight.since

    def edge_stray(a: FloatArray, b: FloatArray) -> FloatArray:
        r_a, r_b = sight.radius(a), sight.radius(b)
        bend = motion.restless(since + a, since + b) + swing * (np.maximum(r_a, r_b) + motion.runout)
        return np.asarray((b - a) ** 2 / 8 * bend + 2 * sight.grown(a, b))

    def axis_stray(a: FloatArray, b: FloatArray) -> FloatArray:
        # straight pieces only go on; along an arc it is the way, not the time, that bends
        way = motion.travelled(since + b) - motion.travelled(since + a)
        return np.asarray(way**2 / 8 * motion.curvature(since + (a + b) / 2))

    def no_stray(a: FloatArray, b: FloatArray) -> FloatArray:
        return np.zeros(a.shape)  # it rises or falls, but not both: one zero at most

    finest = FINEST / abs(motion.omega)
    gaps = _near(sight, low, high, windows)
    # Only while the tip is in the slice is there an edge to speak of.
    level_x, level_gap = _zeros(sight.level, no_stray, gaps, finest)
    gaps = _divided(gaps, level_x, level_gap)
    inside = sight.level((gaps.left + gaps.right) / 2, gaps.flute) >= 0
    gaps = _Gaps(gaps.left[inside], gaps.right[inside], gaps.flute[inside])
    edge_x, edge_gap = _zeros(sight.edge_across, edge_stray, gaps, finest)
    axis_x, axis_gap = _zeros(sight.axis_across, axis_stray, gaps, finest)
    # Every gap's beginning, the zeros in it, and its end, in order.
    n = gaps.left.size
    x = np.concatenate([gaps.left, edge_x, axis_x, gaps.right])
    owner = np.concatenate([np.arange(n), edge_gap, axis_gap, np.arange(n)])
    rank = np.concatenate([np.zeros(n), np.ones(edge_x.size + axis_x.size), np.full(n, 2.0)])
    is_edge = np.zeros(x.size, dtype=bool)
    is_edge[n : n + edge_x.size] = True
    order = np.lexsort((x, rank, owner))
    x, owner, is_edge = x[order], owner[order], is_edge[order]
    inside = owner[:-1] == owner[1:]
    left, right, flute = x[:-1][inside], x[1:][inside], gaps.flute[owner[:-1][inside]]
    edge_left, edge_right = is_edge[:-1][inside], is_edge[1:][inside]

    middle = (left + right) / 2
    axis, edge = sight.look(middle, flute)
    meets = axis.imag * edge.imag <= 0
    start, stop, which = left[meets], right[meets], flute[meets]
    sides = [sight.look(x, which) for x in (start, stop)]
    places = [meeting_distance(axis, edge) for axis, edge in sides]
    least, most = np.minimum(*places), np.maximum(*places)
    for (_, edge), on in zip(sides, (edge_left[meets], edge_right[meets]), strict=True):
        # An edge on the line is itself the place, whatever rounding makes of the quotient. In a plunge, whose axis
        # stays on the line, that and the axis at the next look are the two ends of the whole segment.
        least[on] = np.minimum(least, edge.real)[on]
        most[on] = np.maximum(most, edge.real)[on]

    # The place turns back only near the axis, where an end of the stretch then lies as well; see the head of the
    # module. Three times v/omega leaves room for the body angle, which changes with the radius where there is runout.
    span = (stop - start) * abs(motion.omega)
    creep = np.divide(np.abs(sides[1][0] - sides[0][0]), span, out=np.zeros(span.shape), where=span > 0)
    core = np.minimum(*(np.abs(place - axis) for place, (axis, _) in zip(places, sides, strict=True)))
    folds = (creep > 0) & (core < 3 * creep)
    if motion.runout > 0:
        reaches = [np.abs(edge - axis) for axis, edge in sides]
        folds |= (np.abs(reaches[1] - reaches[0]) > 0) & (np.minimum(*reaches) < 5 * motion.runout)
    rows = np.flatnonzero(folds)
    if rows.size:
        share = (1 - np.cos(np.linspace(0, math.pi, 9))) / 2
        looks = start[rows, None] + (stop - start)[rows, None] * share
        seen = meeting_distance(*sight.look(looks.ravel(), np.repeat(which[rows], share.size))).reshape(looks.shape)
        each, twice, sign = np.tile(np.arange(rows.size), 2), np.tile(which[rows], 2), np.repeat([1.0, -1.0], rows.size)
        k = np.r_[seen.argmin(axis=1), seen.argmax(axis=1)]

        def place(x: FloatArray) -> FloatArray:
            return sign * meeting_distance(*sight.look(x, twice))

        # the place is level where it turns: half the digits of the time are all the digits of the place
        inner = smallest(place, looks[each, np.maximum(k - 1, 0)], looks[each, np.minimum(k + 1, 8)], steps=36)
        turned = sign * place(inner)
        least[rows] = np.minimum(least[rows], turned[: rows.size])
        most[rows] = np.maximum(most[rows], turned[rows.size :])
    lows, highs = np.full(left.size, np.inf), np.full(left.size, -np.inf)
    lows[meets], highs[meets] = least, most
    follows = np.r_[False, (left[1:] == right[:-1]) & (flute[1:] == flute[:-1])][: left.size]
    return _Sweeps(left, right, flute, lows, highs, meets, follows, edge_left)


def _at_rest(motion: Motion, origin: complex, azimuth: float, z: float) -> _Sight:
    """A motion seen from a line, its time counted from its own start; the azimuth of the line in radians."""
    direction = complex(math.cos(azimuth), math.sin(azimuth))
    return _Sight(motion, origin, direction, z, 0.0, math.radians(motion.phase) - azimuth)


def _whole(motion: Motion) -> list[tuple[int, float, float]]:
    return [(j, 0.0, motion.duration) for j in range(motion.flutes)]


def _slice(z: object) -> float:
    return number("z", z, high=0, unit="mm", hint="0 is the face, and there is no wood above it")


def removed_stretches(
    motions: Sequence[Motion], origin: tuple[float, float], azimuth: float, low: float, high: float, z: float = 0.0
) -> FloatArray:
    """What all motions together have removed of a straight line in a slice, in rising order.

    Parameters
    ----------
    motions : sequence of Motion
        In order of time.
    origin : (x, y)
        Where the line's distances are counted from [mm].
    azimuth : float
        Direction of the line [deg].
    low, high : float
        The part of the line to look at, distances from the origin [mm].
    z : float
        Height of the slice, 0 at the face and negative below it [mm].

    Returns
    -------
    (k, 2) array
        Stretches [mm], apart from each other.
    """
    z = _slice(z)
    number("high", high, low=low, open_low=True, unit="mm")
    parts = [np.empty((0, 2))]
    for motion in motions:
        sight = _at_rest(motion, complex(*origin), math.radians(azimuth), z)
        found = _sweeps(sight, low, high, _whole(motion))
        parts.append(np.stack([found.low[found.meets], found.high[found.meets]], axis=1))
    stretches = np.clip(np.concatenate(parts), low, high) - low
    gaps = left_over(stretches, high - low)
    edges = np.r_[0.0, gaps.ravel(), high - low].reshape(-1, 2)
    return np.asarray(edges[edges[:, 1] > edges[:, 0]] + low)


def crossing_near(motion: Motion, flute: int, azimuth: float, near: float, z: float = 0.0) -> float:
    """Time [s], nearest to `near` [s], at which a flute's edge in the slice `z` [mm] is at a work azimuth [deg].

    Raises
    ------
    DomainError
        The motion has no such crossing within half a turn of `near` with the tip in the slice.
    """
    z = _slice(z)
    integer("flute", flute, low=0, high=motion.flutes - 1)
    number("near", near, low=0, high=motion.duration, unit="s")
    omega, duration = motion.omega, motion.duration

    def edge(x: FloatArray, j: IntArray) -> ComplexArray:
        turned = np.exp(1j * (math.radians(motion.phase - azimuth) + omega * x))
        return np.asarray(turned * motion.reach(np.maximum(z + motion.depth(x), 0.0), j))

    def across(x: FloatArray, j: IntArray) -> FloatArray:
        return np.asarray(edge(x, j).imag)

    first, last = max(0.0, near - 0.75 * motion.turn), min(duration, near + 0.75 * motion.turn)
    kinks = motion.kinks
    nodes = np.unique(np.r_[np.linspace(first, last, 200), kinks[(kinks > first) & (kinks < last)]])
    j = np.full(nodes.size, flute, dtype=np.int64)
    f = across(nodes, j)
    k = np.flatnonzero((f[:-1] >= 0) != (f[1:] >= 0))
    times = _zero(across, nodes[k], nodes[k + 1], j[k], FINEST / abs(omega))
    times = times[(edge(times, j[k]).real > 0) & (z + motion.depth(times) >= 0)]
    if not times.size:
        raise DomainError(
            f"near must lie within half a turn of a time at which flute {flute} is at azimuth {azimuth:g} deg with the "
            f"tip below z = {z:g} mm, got {near:g} s"
        )
    return float(times[np.argmin(np.abs(times - near))])


def uncut_stretches(
    motions: Sequence[Motion], index: int, flute: int, time: float, z: float = 0.0, *, own_turn: float = 0.25
) -> FloatArray:
    """Wood still standing between the rotation axis and the edge of a flute, on a board with a history.

    Parameters
    ----------
    motions : sequence of Motion
        In order of time, each with its own bit, spindle speed and phase; motions after `index` do not count.
    index : int
        Which motion the tooth belongs to.
    flute : int
        Which flute cuts.
    time : float
        [s], from the start of that motion.
    z : float
        Height of the slice, 0 at the face and negative below it [mm].
    own_turn : float
        Latest part of its own turn in which the cutting tooth itself does not count [turns], 1e-6 to 1.

    Returns
    -------
    (k, 2) array
        Uncut stretches, distances from the rotation axis in rising order [mm].

    Raises
    ------
    DomainError
        A number out of range, or the tip above the slice at that time.
    """
    motion = motions[integer("index", index, low=0, high=len(motions) - 1)]
    integer("flute", flute, low=0, high=motion.flutes - 1)
    number("time", time, low=0, high=motion.duration, unit="s")
    number("own_turn", own_turn, low=1e-6, high=1, unit="turns")
    z = _slice(z)
    arm = _arm(motion, flute, time, z)[1]
    if arm == 0:
        return np.empty((0, 2))
    return _uncut(motions, index, flute, time, z, own_turn, math.atan2(arm.imag, arm.real), abs(arm))


def _arm(motion: Motion, flute: int, time: float, z: float) -> tuple[complex, complex]:
    """Axis [mm], and axis to edge [mm] in the spindle's frame."""
    axis, depth = motion._place(np.array([time]))
    height = float(z + depth[0])
    number("height of the slice above the tip", height, low=-TOUCHING, unit="mm", hint="the tip is above the slice")
    return complex(axis[0]), complex(motion.reach(np.array([max(height, 0.0)]), np.array([flute]))[0])


def _uncut(
    motions: Sequence[Motion],
    index: int,
    flute: int,
    time: float,
    z: float,
    own_turn: float,
    body: float,
    length: float,
) -> FloatArray:
    """What is left on a ray from the axis at an angle of the spindle's frame, in any slice, also above the face."""
    motion = motions[index]
    origin = complex(motion._place(np.array([time]))[0][0])
    azimuth = math.radians(motion.phase) + math.remainder(motion.omega * time, TURN) + body
    parts = [np.empty((0, 2))]
    for k, earlier in enumerate(motions[: index + 1]):
        sight, windows = _at_rest(earlier, origin, azimuth, z), _whole(earlier)
        if k == index:
            sight = sight._replace(since=time, turned=-body)
            own = -own_turn * motion.turn
            windows = [(j, -time, own if j == flute else 0.0) for j in range(motion.flutes)]
        found = _sweeps(sight, 0.0, length, windows)
        parts.append(np.stack([found.low[found.meets], found.high[found.meets]], axis=1))
    return left_over(np.minimum(np.maximum(np.concatenate(parts), 0.0), length), length)


def radial_thickness(
    motions: Sequence[Motion], index: int, flute: int, time: float, z: float = 0.0, *, own_turn: float = 0.25
) -> float:
    """Radial chip thickness [mm]: the total length of `uncut_stretches`, which see for the arguments."""
    parts = uncut_stretches(motions, index, flute, time, z, own_turn=own_turn)
    return float(np.sum(parts[:, 1] - parts[:, 0]))


def normal_thickness(
    motions: Sequence[Motion],
    index: int,
    flute: int,
    time: float,
    z: float = 0.0,
    *,
    half_angle: float,
    own_turn: float = 0.25,
) -> float:
    """Chip thickness along the flank's normal, by its definition: h_n(z) = cos a h_r(z + h_n sin a).

    All slices are looked at along the same ray at the same instant, and the flank goes on straight: this is the way
    from the edge along one straight normal in space. With runout the tooth's own edge stands at another azimuth in the
    slice above; that does not enter. Where the tip has only just arrived h_r jumps between two slices; h_n is then the
    place of the jump. The face does not cut it short: the wood is taken to go up without end.

    Parameters
    ----------
    motions, index, flute, time, z, own_turn
        As for `uncut_stretches`.
    half_angle : float
        Lean a of the flank from the vertical [deg], 0 to below 90.

    Returns
    -------
    float
        The least h_n [mm] at which the definition holds, or jumps past holding.
    """
    a = math.radians(number("half_angle", half_angle, low=0, high=90, open_high=True, unit="deg"))

    uncut_stretches(motions, index, flute, time, z, own_turn=own_turn)  # looks at the arguments
    arm = _arm(motions[index], flute, time, z)[1]
    body, length = math.atan2(arm.imag, arm.real), abs(arm)

    def excess(h: float) -> float:
        up = h * math.sin(a)
        parts = _uncut(motions, index, flute, time, z + up, own_turn, body, length + up * math.tan(a))
        return h - math.cos(a) * float(np.sum(parts[:, 1] - parts[:, 0]))

    low, f_low = 0.0, excess(0.0)
    if f_low >= 0 or a == 0:
        return -f_low
    step = -f_low / 6  # h_r may rise with height, so look outwards
    high, f_high = low + step, excess(low + step)
    while f_high < 0:
        low, f_low, high = high, f_high, high + step
        f_high = excess(high)
    for k in range(120):
        if high - low <= 4e-16 * high or f_high == 0:
            break
        # secants; now and then a half, for jumps and so that the bracket closes from both sides
        middle = low - f_low * (high - low) / (f_high - f_low) if k % 3 < 2 else (low + high) / 2
        if not low < middle < high:
            middle = (low + high) / 2
        f_middle = excess(middle)
        if abs(f_middle) <= 1e-15:
            return middle
        if f_middle < 0:
            low, f_low = middle, f_middle
        else:
            high, f_high = middle, f_middle
    return high


# --- lips, areas, volumes ---------------------------------------------------------------------------------------------


class ProbeStrikes(NamedTuple):
    """Every time an edge crosses a probe from a lip to the surface before, in order of time; all (n,) but the last."""

    motion: IntArray
    """Which motion strikes."""
    flute: IntArray
    """Which of its flutes."""
    time: FloatArray
    """From the start of that motion [s]."""
    depth: FloatArray
    """Distance y from the lip point, into the groove positive [mm]: the wood between strike and lip."""
    chip: FloatArray
    """Surface before the strike less y [mm]; 0 where it does not cut."""
    cuts: BoolArray
    """Whether y lies below the surface, which is the least y before it."""
    removed: FloatArray
    """Length of the probe that the sweep removes and none before it did [mm]: the rule for grooves that cross."""
    speed: FloatArray
    """Of the edge's material point in the work, plunge included [m/s]."""
    in_bundle: BoolArray
    """Cuts, and lies within the bundle of what is finished."""
    finished: float
    """The least y of all [mm]: where the lip ends up; the starting surface if nothing cuts."""


def probe_strikes(
    motions: Sequence[Motion],
    point: tuple[float, float],
    outward: float,
    surface: float,
    *,
    z: float = 0.0,
    bundle: float = 0.2,
    beyond: float = 1.0,
) -> ProbeStrikes:
    """History of one lip point: every strike of every motion on a probe that runs from it into the groove.

    A strike is an instant at which the edge of a flute crosses the probe with its tip in the slice. One sweep may
    cross twice; both are strikes.

    Parameters
    ----------
    motions : sequence of Motion
        All that ever cut the board, in order of time.
    point : (x, y)
        Lip point [mm].
    outward : float
        Azimuth of the lip's normal, from the groove into the remaining wood [deg].
    surface : float
        Where the probe ends: the wood's surface before the first strike, as a distance from the lip [mm]. By custom
        the nominal half-width r(d) of the groove or dot that the lip belongs to, so that the probe ends at its axis.
    z : float
        Height of the slice, 0 at the face and negative below it [mm].
    bundle : float
        Width of the last bundle [mm].
    beyond : float
        How far beyond the lip point to look [mm].

    Returns
    -------
    ProbeStrikes

    Raises
    ------
    DomainError
        A number out of range.
    """
    z = _slice(z)
    number("outward", outward, unit="deg")
    number("surface", surface, low=0, open_low=True, unit="mm")
    number("bundle", bundle, low=0, unit="mm")
    number("beyond", beyond, low=0, unit="mm")
    rows: list[tuple[int, int, float, float, float, float]] = []
    for k, motion in enumerate(motions):
        sight = _at_rest(motion, complex(*point), math.radians(outward + 180.0), z)
        found = _sweeps(sight, -beyond, surface, _whole(motion))
        # A contact: stretches that follow one another and meet the line. What it reaches inwards, at each of them.
        run = np.cumsum(~(found.follows & found.meets & np.r_[False, found.meets[:-1]]))
        inmost = np.full(run.max(initial=0) + 1, -np.inf)
        np.maximum.at(inmost, run, np.where(found.meets, found.high, -np.inf))
        # an edge on the probe ends one stretch and begins the next
        i = np.flatnonzero(found.edge_left)
        edge = sight.look(found.left[i], found.flute[i])[1]
        inside = (edge.real >= -beyond) & (edge.real <= surface)
        for n, y in zip(i[inside], edge.real[inside], strict=True):
            sides = [m for m in ((n, n - 1) if found.follows[n] else (n,)) if found.meets[m]]
            reach = max([float(inmost[run[m]]) for m in sides], default=-math.inf)
            j, x = int(found.flute[n]), float(found.left[n])
            rows.append((k, j, x, float(y), max(reach, float(y)), _pace(motion, x, j, z)))
    rows.sort(key=lambda row: (row[0], row[2]))
    table = np.array(rows, dtype=np.float64).reshape(-1, 6)
    y = table[:, 3]
    before_it = np.minimum(surface, np.minimum.accumulate(np.r_[np.inf, y])[:-1])
    cuts = y < before_it
    finished = float(min(surface, y.min(initial=np.inf)))
    gone, removed = np.empty((0, 2)), np.zeros(y.size)
    for n in range(y.size):
        low, high = y[n], min(table[n, 4], surface)
        inside = np.clip(gone, low, high) - low
        left = left_over(inside[inside[:, 1] > inside[:, 0]], high - low) if high > low else np.empty((0, 2))
        removed[n] = np.sum(left[:, 1] - left[:, 0])
        gone = np.concatenate([gone, left + low])
    return ProbeStrikes(
        table[:, 0].astype(np.int64),
        table[:, 1].astype(np.int64),
        table[:, 2],
        y,
        np.where(cuts, before_it - y, 0.0),
        cuts,
        removed,
        table[:, 5],
        cuts & (y < finished + bundle),
        finished,
    )


def _pace(motion: Motion, time: float, flute: int, z: float) -> float:
    """Speed [m/s] of the material point of an edge: what the axis does, and the rotation about it."""
    now = np.array([time])
    along = motion.velocity(now)[0]
    arm = complex((motion.edge(now, flute, z) - motion._place(now)[0])[0])
    over = complex(along[0], along[1]) + 1j * motion.omega * arm
    return math.hypot(abs(over), float(along[2])) / 1000


def removed_area(
    motions: Sequence[Motion],
    z: float,
    centre: tuple[float, float],
    reach: float,
    *,
    breaks: ArrayLike | None = None,
    order: int = 3,
) -> float:
    """Area [mm^2] that all motions together have removed of a slice, by rays from one point: half the sum of r^2.

    Any point serves, whatever the shape; the nearer its middle the better. Nothing is summed over sweeps: it is the
    union that is measured.

    Parameters
    ----------
    motions : sequence of Motion
        In order of time.
    z : float
        Height of the slice, 0 at the face and negative below it [mm].
    centre : (x, y)
        [mm]
    reach : float
        How far the rays run [mm].
    breaks : (k,) array, optional
        Azimuths between which the outline is smooth, rising over 360 degrees; every 5 degrees if not given [deg].
    order : int
        Gauss-Legendre points in each of these fans, 1 to 64.
    """
    z = _slice(z)
    number("reach", reach, low=0, open_low=True, unit="mm")
    cuts = np.arange(0.0, 361.0, 5.0) if breaks is None else array("breaks", breaks, ndim=1)
    nodes, weights = np.polynomial.legendre.leggauss(integer("order", order, low=1, high=64))
    total = 0.0
    for first, last in pairwise(cuts):
        for node, weight in zip(nodes, weights, strict=True):
            azimuth = (first + last) / 2 + node * (last - first) / 2
            parts = removed_stretches(motions, centre, float(azimuth), 0.0, reach, z)
            total += weight * math.radians(last - first) / 2 * float(np.sum(parts[:, 1] ** 2 - parts[:, 0] ** 2)) / 2
    return total


def removed_volume(
    motions: Sequence[Motion],
    heights: ArrayLike,
    centre: tuple[float, float],
    reach: float,
    *,
    breaks: ArrayLike | None = None,
    order: int = 3,
    slices: int = 3,
) -> float:
    """Volume [mm^3] removed between heights, from areas of slices at Gauss-Legendre points.

    Parameters
    ----------
    heights : (k,) array
        Rising heights z <= 0 between which the area is smooth [mm].
    slices : int
        Slices between two heights, 1 to 64.
    motions, centre, reach, breaks, order
        As for `removed_area`.
    """
    z = array("heights", heights, ndim=1, high=0, unit="mm")
    nodes, weights = np.polynomial.legendre.leggauss(integer("slices", slices, low=1, high=64))
    total = 0.0
    for low, high in pairwise(z):
        for node, weight in zip(nodes, weights, strict=True):
            at = float((low + high) / 2 + node * (high - low) / 2)
            total += weight * (high - low) / 2 * removed_area(motions, at, centre, reach, breaks=breaks, order=order)
    return float(total)
