"""The oracle: which wood a tooth meets, by brute force, dense sampling and bisection only.

Slow, obviously right, and unacquainted with the compiled kernels: that independence is the point.

In a horizontal slice a tooth removes, at every instant, the whole segment from the rotation axis to its edge. All
questions are asked of one straight line (a ray from the axis, or a probe through a lip point), in whose frame points
are complex numbers: real part along the line, imaginary part across it. The segment of a tooth meets the line when
axis and edge lie on two sides of it, so the times at which it begins or ceases to do so are zeros of two bounded
smooth functions. Nothing is assumed about the path but that it is continuous: corners, starts, ramps, crossings and
the core near the tip are all legal.

Time runs from 0, where the path is entered in uncut wood. Work angle of flute j at time t:

    theta_j(t) = phase + s (omega t - b_j),   s = -1 for a clockwise spindle, +1 for a counter-clockwise one
    R_j exp(i b_j) = r exp(2 pi i j/z) + rho exp(i lambda)   about the rotation axis, r the cutter's radius
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from functools import partial
from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from .._shared.arrays import FloatArray, array, choice, integer, number

__all__ = [
    "Groove",
    "LipCrossings",
    "Position",
    "Profile",
    "crossing_time",
    "edge_position",
    "lip_strikes_slow",
    "uncut_intervals",
    "uncut_length",
]

Position = Callable[[FloatArray], tuple[ArrayLike, ArrayLike]]
"""Axis position (x, y) [mm] for an array of times [s]."""
Profile = Callable[[FloatArray], ArrayLike]
"""Depth [mm] for an array of times [s], or radius [mm] for an array of heights [mm]."""
ComplexArray = NDArray[np.complex128]

SPINS = ("cw", "ccw")
TURN = 2 * math.pi

SAMPLES_PER_TURN = 72
"""First look at every tooth [1/turn]; what hides between two looks is found by searching for extrema."""
TOUCHING = 1e-11
"""Across-distance below which a point counts as lying on the line [mm]."""


class Groove(NamedTuple):
    """A groove that is there already: all that a turning bit, seen as discs of its own radius, passes over."""

    position: Position
    depth: Profile
    radius: Profile
    duration: float
    """Time at which the path ends [s]; it begins at 0."""


class _Motion(NamedTuple):
    """A tooth's motion in the frame of one straight line: complex, along the line + i across it.

    `time` = `since` + x, where x [s] is what the searches vary; the spindle angle is counted from `since`, so
    that a job of minutes loses no digits. `turned` is the azimuth against the line, at x = 0, of a tooth
    whose body angle is 0 [rad].
    """

    position: Position
    depth: Profile
    radius: Profile
    omega: float  # signed, counter-clockwise positive [rad/s]
    flutes: int
    runout: complex
    lag: Profile | None
    origin: complex
    direction: complex
    since: float
    turned: float
    height: float  # of the slice above the tip when the depth is `depth_there`
    depth_there: float

    def body(self, radius: FloatArray, flute: int, height: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Exact distance from the rotation axis [mm] and body angle [rad] of a flute, runout and its lag included."""
        nominal = TURN * flute / self.flutes
        own = radius
        if self.lag is not None:
            law = np.asarray(self.lag(height), dtype=np.float64)
            own = radius * np.exp(1j * np.radians(law[flute] if law.ndim > np.ndim(height) else law))
        offset = own + self.runout * np.exp(-1j * nominal)
        return np.asarray(np.abs(offset)), np.asarray(nominal + np.angle(offset))

    def axis(self, x: FloatArray) -> ComplexArray:
        """Rotation axis in the frame of the line [mm]."""
        time = np.maximum(self.since + x, 0.0)
        px, py = self.position(time)
        out: ComplexArray = np.empty(x.shape, dtype=np.complex128)
        out.real, out.imag = px, py
        return (out - self.origin) * self.direction.conjugate()

    def level(self, x: FloatArray) -> FloatArray:
        """Height of the slice above the tip [mm]; negative: the tooth is too shallow to reach the slice."""
        now = np.asarray(self.depth(np.maximum(self.since + x, 0.0)), dtype=np.float64)
        return np.array(np.broadcast_to(self.height + (now - self.depth_there), x.shape))

    def edge(self, x: FloatArray, flute: int) -> ComplexArray:
        """Edge point of a flute in the frame of the line [mm]."""
        r = np.broadcast_to(np.asarray(self.radius(np.maximum(self.level(x), 0.0)), dtype=np.float64), x.shape)
        reach, body = self.body(r, flute, np.maximum(self.level(x), 0.0))
        turn = self.turned + self.omega * x - math.copysign(1, self.omega) * body
        return np.asarray(self.axis(x) + reach * np.exp(1j * turn))


def _motion(
    position: Position,
    depth: Profile,
    radius: Profile,
    spindle_speed: float,
    flutes: int,
    spin: str,
    runout: float,
    runout_azimuth: float,
    lag: Profile | None = None,
) -> _Motion:
    """Check the job's numbers and put them in a frame at rest (origin 0, direction +x, time 0)."""
    number("spindle_speed", spindle_speed, low=0, open_low=True, unit="rpm")
    number("runout", runout, low=0, unit="mm")
    number("runout_azimuth", runout_azimuth, unit="deg")
    omega = (1 if choice("spin", spin, SPINS) == "ccw" else -1) * spindle_speed * TURN / 60
    offset = runout * complex(np.exp(1j * math.radians(runout_azimuth)))
    return _Motion(
        position,
        depth,
        radius,
        omega,
        integer("flutes", flutes, low=1, high=64),
        offset,
        lag,
        0j,
        1 + 0j,
        0.0,
        0.0,
        0.0,
        0.0,
    )


def _times(factor: float | FloatArray, value: Callable[[FloatArray], FloatArray], x: FloatArray) -> FloatArray:
    return factor * value(x)


def smallest(
    value: Callable[[FloatArray], FloatArray], left: FloatArray, right: FloatArray, steps: int = 72
) -> FloatArray:
    """Where each of many functions, one per element and unimodal between left and right, is smallest."""
    shrink = (math.sqrt(5) - 1) / 2
    left, right = left.copy(), right.copy()
    inner_left, inner_right = right - shrink * (right - left), left + shrink * (right - left)
    value_left, value_right = value(inner_left), value(inner_right)
    for _ in range(steps):  # 0.618**72 = 1e-15 of the bracket
        lower = value_left < value_right
        left, right = np.where(lower, left, inner_left), np.where(lower, inner_right, right)
        fresh = np.where(lower, right - shrink * (right - left), left + shrink * (right - left))
        value_fresh = value(fresh)
        inner_left, inner_right = np.where(lower, fresh, inner_right), np.where(lower, inner_left, fresh)
        value_left, value_right = np.where(lower, value_fresh, value_right), np.where(lower, value_left, value_fresh)
    return (left + right) / 2


def _zeros(value: Callable[[FloatArray], FloatArray], nodes: FloatArray, near: NDArray[np.bool_]) -> FloatArray:
    """Every zero of a continuous function in the `near` gaps between the nodes, by bisection.

    Two zeros inside one gap show as a small extremum of the samples, which is searched for and looked at.
    """
    wanted = np.r_[False, near] | np.r_[near, False]
    y = np.full(nodes.shape, np.nan)  # not a number compares as false: far nodes take no part
    y[wanted] = value(nodes[wanted])
    flipped = (y[:-1] >= 0) != (y[1:] >= 0)
    flips = np.flatnonzero(near & flipped)
    brackets = [(nodes[flips], nodes[flips + 1])]

    size, step = np.abs(y), np.abs(np.diff(y))
    before, after = np.r_[np.inf, size[:-1]], np.r_[size[1:], np.inf]
    small = (size <= before) & (size <= after) & (size <= np.r_[0.0, step] + np.r_[step, 0.0])
    k = np.flatnonzero(small & ~np.r_[False, flipped] & ~np.r_[flipped, False])
    if k.size:
        sign = np.where(y[k] >= 0, 1.0, -1.0)
        left, right = nodes[np.maximum(k - 1, 0)], nodes[np.minimum(k + 1, y.size - 1)]
        bottom = smallest(partial(_times, sign, value), left, right)
        hidden = sign * value(bottom) < 0
        brackets += [(left[hidden], bottom[hidden]), (bottom[hidden], right[hidden])]

    left, right = (np.concatenate(ends) for ends in zip(*brackets, strict=True))
    start = value(left) >= 0
    for _ in range(64):
        middle = (left + right) / 2
        same = (value(middle) >= 0) == start
        left, right = np.where(same, middle, left), np.where(same, right, middle)
    return (left + right) / 2


def _edge_across(motion: _Motion, flute: int, x: FloatArray) -> FloatArray:
    return motion.edge(x, flute).imag


def _nodes(first: float, last: float, omega: float) -> FloatArray:
    """Lay out the times of the first look, evenly spaced."""
    return np.linspace(first, last, max(2, math.ceil((last - first) * abs(omega) / TURN * SAMPLES_PER_TURN) + 1))


def meeting_distance(axis: ComplexArray, edge: ComplexArray) -> FloatArray:
    """Where the segment axis -> edge, its ends on two sides of the line, meets the line [mm]."""
    across = axis.imag - edge.imag
    share = np.divide(axis.imag, across, out=np.zeros(across.shape), where=across != 0)
    return np.asarray(axis.real + np.clip(share, 0, 1) * (edge.real - axis.real))


def _swept(motion: _Motion, flute: int, first: float, last: float, length: float) -> FloatArray:
    """Stretches (k, 2) of the line from 0 to `length` that one flute sweeps while x runs from `first` to `last`."""
    nodes = _nodes(first, last, motion.omega)
    axis = motion.axis(nodes)
    radius = np.broadcast_to(
        np.asarray(motion.radius(np.maximum(motion.level(nodes), 0.0)), dtype=np.float64), nodes.shape
    )
    reach = motion.body(radius, flute, np.maximum(motion.level(nodes), 0.0))[0]
    away = np.abs(axis - np.clip(axis.real, 0, length)) - reach
    slack = np.abs(np.diff(axis)) + np.abs(np.diff(reach))
    near = np.minimum(away[:-1], away[1:]) <= 2 * slack
    if not near.any():
        return np.empty((0, 2))

    def within(x: FloatArray) -> FloatArray:
        return motion.level(x) + 1e-12  # a tip that just touches the slice cuts it

    turning = np.concatenate(
        [
            _zeros(partial(_edge_across, motion, flute), nodes, near),
            _zeros(lambda x: motion.axis(x).imag, nodes, near),
            _zeros(within, nodes, near),
        ]
    )
    knots = np.unique(np.concatenate([nodes, turning]))
    left, right = knots[:-1], knots[1:]
    middle = (left + right) / 2
    keep = near[np.clip(np.searchsorted(nodes, middle) - 1, 0, near.size - 1)]
    left, right, middle = left[keep], right[keep], middle[keep]
    keep = (motion.axis(middle).imag * motion.edge(middle, flute).imag <= 0) & (within(middle) >= 0)
    left, right = left[keep], right[keep]

    def place(x: FloatArray) -> FloatArray:
        return meeting_distance(motion.axis(x), motion.edge(x, flute))

    # Between two knots the segment meets the line all the time, so what it sweeps is one stretch: from the
    # smallest to the largest meeting place. Ends that lie on the line count themselves.
    share = (1 - np.cos(np.linspace(0, math.pi, 9))) / 2
    looks = left[:, None] + (right - left)[:, None] * share
    seen = place(looks.ravel()).reshape(looks.shape)
    stretches = np.stack([seen.min(axis=1, initial=np.inf), seen.max(axis=1, initial=-np.inf)], axis=1)
    rows = np.arange(left.size)
    for side, sign, best in ((0, 1.0, seen.argmin), (1, -1.0, seen.argmax)):
        if not left.size:
            break
        k = best(axis=1)
        low, high = looks[rows, np.maximum(k - 1, 0)], looks[rows, np.minimum(k + 1, share.size - 1)]
        inner = smallest(partial(_times, sign, place), low, high)
        stretches[:, side] = sign * np.minimum(sign * stretches[:, side], sign * place(inner))
    for end in (left, right):
        for point in (motion.axis(end), motion.edge(end, flute)):
            on = np.abs(point.imag) <= TOUCHING
            stretches[on, 0] = np.minimum(stretches[on, 0], point.real[on])
            stretches[on, 1] = np.maximum(stretches[on, 1], point.real[on])

    # A segment that lies along the line at one instant (an old tooth that pointed the same way) sweeps all of itself.
    axis, edge = motion.axis(turning), motion.edge(turning, flute)
    along = (np.abs(axis.imag) <= TOUCHING) & (np.abs(edge.imag) <= TOUCHING) & (within(turning) >= 0)
    ends = np.stack([axis.real[along], edge.real[along]], axis=1)
    return np.asarray(np.clip(np.concatenate([stretches, np.sort(ends, axis=1)]), 0, length))


def _cleared(groove: Groove, origin: complex, direction: complex, height: float, length: float) -> FloatArray:
    """Stretches (k, 2) of the line from 0 to `length` inside a groove, in the slice `height` above the face.

    While the disc meets the line, the stretch it covers moves without jumps: together they cover one stretch.
    """
    nodes = np.linspace(0.0, groove.duration, 1001)

    def level(t: FloatArray) -> FloatArray:
        return np.array(np.broadcast_to(np.asarray(groove.depth(t), dtype=np.float64) + height, t.shape))

    def half(t: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Middle of the chord that the line cuts from the disc, and r^2 - (distance)^2, its half squared."""
        x, y = groove.position(t)
        centre = (np.asarray(x) + 1j * np.asarray(y) - origin) * direction.conjugate()
        radius = np.asarray(groove.radius(np.maximum(level(t), 0.0)), dtype=np.float64)
        return centre.real, (radius - np.abs(centre.imag)) * (radius + np.abs(centre.imag))

    def end(sign: float, t: FloatArray) -> FloatArray:
        middle, square = half(t)
        return np.asarray(middle + sign * np.sqrt(np.maximum(square, 0.0)))

    every = np.ones(nodes.size - 1, dtype=bool)
    turning = [_zeros(level, nodes, every), _zeros(lambda t: half(t)[1], nodes, every)]
    knots = np.unique(np.concatenate([nodes, *turning]))
    middle = (knots[:-1] + knots[1:]) / 2
    meets = (level(middle) > 0) & (half(middle)[1] > 0)
    left, right = knots[:-1][meets], knots[1:][meets]
    if not left.size:
        return np.empty((0, 2))
    low = end(-1.0, smallest(partial(end, -1.0), left, right))
    high = end(1.0, smallest(lambda t: -end(1.0, t), left, right))
    for sign, out, best in ((-1.0, low, np.minimum), (1.0, high, np.maximum)):
        # just inside the knots: at a flat tip's first touch the radius jumps
        for at in (left + 1e-9 * (right - left), right - 1e-9 * (right - left)):
            best(out, end(sign, at), out=out)
    return np.asarray(np.clip(np.stack([low, high], axis=1), 0, length))


def left_over(stretches: FloatArray, length: float) -> FloatArray:
    """Gaps (k, 2) that a heap of stretches leaves on the line from 0 to `length`."""
    ordered = stretches[np.argsort(stretches[:, 0])] if stretches.size else stretches
    covered = np.maximum.accumulate(np.r_[0.0, ordered[:, 1]])
    starts = np.r_[ordered[:, 0], length]
    open_ = starts > covered
    return np.stack([covered[open_], starts[open_]], axis=1)


def uncut_intervals(
    t: float,
    azimuth: float,
    height: float,
    flute: int,
    *,
    position: Position,
    depth: Profile,
    radius: Profile,
    spindle_speed: float,
    flutes: int,
    phase: float = 0.0,
    spin: str = "cw",
    runout: float = 0.0,
    runout_azimuth: float = 0.0,
    lag: Profile | None = None,
    own_turn: float = 0.25,
    since: float = 0.0,
    grooves: Sequence[Groove] = (),
) -> FloatArray:
    """Wood still standing between the rotation axis and the edge of a flute, by brute force.

    In the horizontal slice that the edge point lies in, a tooth removes the whole segment from the rotation axis
    to its edge, at every instant. The parts of the present segment which no earlier segment of any flute, at any
    earlier time, has passed over are returned. Earlier times are sampled densely; crossings are bisected. No
    assumption is made about the path, so corners, starts, ramps, crossings and the core near the tip are all legal.

    Parameters
    ----------
    t : float
        Time at which the edge is at `azimuth` [s], >= 0; the path starts in uncut wood at time 0.
    azimuth : float
        Work azimuth of the edge seen from the rotation axis [deg]; must agree with `t` (see `crossing_time`).
    height : float
        Height of the edge point above the tip [mm], >= 0. The wood is taken to go up without end.
    flute : int
        Which flute cuts, 0 to `flutes` - 1.
    position, depth : callable
        Axis position (x, y) [mm] and depth of the tip below the face [mm], for an array of times [s].
    radius : callable
        Radius of the cutter about its own axis [mm] for an array of heights >= 0 above the tip [mm].
    spindle_speed : float
        [rpm]
    flutes : int
        Number of flutes.
    phase : float
        Work azimuth of body angle 0 at time 0 [deg].
    spin : {'cw', 'ccw'}
        Sense of rotation seen from above.
    runout, runout_azimuth : float
        Offset of the cutter axis [mm] and its direction in the cutter [deg], against the rotation from flute 0.
    lag : callable, optional
        Angle of the edges behind their nominal directions [deg], against the rotation, for an array of heights above
        the tip [mm]: of the heights' shape, or (flutes, ...) if each flute has a law of its own.
    own_turn : float
        Latest part of its own turn in which the cutting tooth itself does not count [turns], 1e-6 to 1. Near the
        tip a tooth folds over its own track; 1e-6 counts that too.
    since : float
        Earliest time to look at [s]. The default sees everything.
    grooves : sequence of Groove
        What was there before time 0.

    Returns
    -------
    (k, 2) array
        Uncut stretches, distances from the rotation axis in rising order [mm]. Good to about 1e-11 mm.

    Raises
    ------
    DomainError
        A number out of range, or a `t` at which the flute is not at `azimuth` (to 1e-5 degrees).
    """
    number("t", t, low=0, unit="s")
    number("height", height, low=0, unit="mm")
    number("own_turn", own_turn, low=1e-6, high=1, unit="turns")
    number("since", since, low=0, high=t, unit="s")
    rest = _motion(position, depth, radius, spindle_speed, flutes, spin, runout, runout_azimuth, lag)
    integer("flute", flute, low=0, high=flutes - 1)
    now = np.array([t])
    x, y = position(now)
    reach, body = rest.body(
        np.asarray(radius(np.array([height])), dtype=np.float64).reshape(1), flute, np.array([height])
    )
    sense = math.copysign(1, rest.omega)
    wrong = math.radians(phase - azimuth) + rest.omega * t - sense * body[0]
    # How far the stated time misses the stated azimuth; more than rounding means two different edge points were meant.
    number(
        "azimuth minus the flute's azimuth at t",
        math.degrees(math.remainder(wrong, TURN)),
        low=-1e-5,
        high=1e-5,
        unit="deg",
        hint="use crossing_time",
    )
    motion = rest._replace(
        origin=complex(np.asarray(x).item(), np.asarray(y).item()),
        direction=complex(np.exp(1j * math.radians(azimuth))),
        since=t,
        turned=sense * float(body[0]),
        height=height,
        depth_there=float(np.asarray(depth(now), dtype=np.float64).item()),
    )
    length = float(reach[0])
    stretches = [np.empty((0, 2))]
    for other in range(flutes):
        last = -own_turn * TURN / abs(motion.omega) if other == flute else 0.0
        if since - t < last:
            stretches.append(_swept(motion, other, since - t, last, length))
    for groove in grooves:
        stretches.append(_cleared(groove, motion.origin, motion.direction, height - motion.depth_there, length))
    return left_over(np.concatenate(stretches), length)


def uncut_length(
    t: float,
    azimuth: float,
    height: float,
    flute: int,
    *,
    position: Position,
    depth: Profile,
    radius: Profile,
    spindle_speed: float,
    flutes: int,
    phase: float = 0.0,
    spin: str = "cw",
    runout: float = 0.0,
    runout_azimuth: float = 0.0,
    lag: Profile | None = None,
    own_turn: float = 0.25,
    since: float = 0.0,
    grooves: Sequence[Groove] = (),
) -> float:
    """Radial chip thickness [mm] by brute force: the total length of `uncut_intervals`, which see for the arguments."""
    parts = uncut_intervals(
        t,
        azimuth,
        height,
        flute,
        position=position,
        depth=depth,
        radius=radius,
        spindle_speed=spindle_speed,
        flutes=flutes,
        phase=phase,
        spin=spin,
        runout=runout,
        runout_azimuth=runout_azimuth,
        lag=lag,
        own_turn=own_turn,
        since=since,
        grooves=grooves,
    )
    return float(np.sum(parts[:, 1] - parts[:, 0]))


def edge_position(
    t: ArrayLike,
    height: float,
    flute: int,
    *,
    position: Position,
    radius: Profile,
    spindle_speed: float,
    flutes: int,
    phase: float = 0.0,
    spin: str = "cw",
    runout: float = 0.0,
    runout_azimuth: float = 0.0,
    lag: Profile | None = None,
) -> FloatArray:
    """Work position (..., 2) [mm] of a flute's edge at times `t` (...) [s] and a height above the tip [mm].

    The other arguments are those of `uncut_intervals`.
    """
    time = array("t", t, low=0, unit="s")
    number("height", height, low=0, unit="mm")
    rest = _motion(position, np.zeros_like, radius, spindle_speed, flutes, spin, runout, runout_azimuth, lag)
    integer("flute", flute, low=0, high=flutes - 1)
    point = rest._replace(height=height, turned=math.radians(phase)).edge(time.reshape(-1), flute).reshape(time.shape)
    return np.stack([point.real, point.imag], axis=-1)


def crossing_time(
    azimuth: float,
    height: float,
    flute: int,
    nth: int = 0,
    *,
    radius: Profile,
    spindle_speed: float,
    flutes: int,
    phase: float = 0.0,
    spin: str = "cw",
    runout: float = 0.0,
    runout_azimuth: float = 0.0,
    lag: Profile | None = None,
) -> float:
    """Time [s] at which a flute's edge is at a work azimuth [deg] for the nth time (0: the first at or after time 0).

    theta_j(t) = phase + s (omega t - b_j), s = -1 for a clockwise spindle and +1 for a counter-clockwise one, b_j the
    exact body angle at that height. The other arguments are those of `uncut_intervals`.
    """
    number("azimuth", azimuth, unit="deg")
    number("height", height, low=0, unit="mm")
    rest = _motion(lambda t: (t, t), np.zeros_like, radius, spindle_speed, flutes, spin, runout, runout_azimuth, lag)
    integer("flute", flute, low=0, high=flutes - 1)
    body = rest.body(np.asarray(radius(np.array([height])), dtype=np.float64).reshape(1), flute, np.array([height]))[1]
    ahead = math.copysign(1, rest.omega) * math.radians(azimuth - phase) + float(body[0])
    return (ahead % TURN + TURN * integer("nth", nth, low=0, high=10**9)) / abs(rest.omega)


class LipCrossings(NamedTuple):
    """Edges crossing a probe line at the face, in time order; all (n,)."""

    time: FloatArray
    """[s]"""
    flute: NDArray[np.int64]
    """Which flute crosses."""
    depth: FloatArray
    """Distance of the crossing from the lip point along the probe line [mm]: the depth of wood still uncut there."""
    cuts: NDArray[np.bool_]
    """Whether the crossing lies nearer to the lip than every crossing before it: only then is wood removed."""


def lip_strikes_slow(
    point: tuple[float, float],
    inward: float,
    *,
    position: Position,
    depth: Profile,
    radius: Profile,
    spindle_speed: float,
    flutes: int,
    stop: float,
    start: float = 0.0,
    low: float = -1.0,
    high: float = 1.0,
    phase: float = 0.0,
    spin: str = "cw",
    runout: float = 0.0,
    runout_azimuth: float = 0.0,
    lag: Profile | None = None,
) -> LipCrossings:
    """History of one lip point by brute force: each time an edge crosses a probe line lying in the face.

    The probe line starts at the lip point and runs into the groove, in the slice z = 0, where a tooth at time t has
    the radius r(depth(t)). The depths of the crossings that cut fall y_1 > y_2 > ...; the differences are the chips.

    Parameters
    ----------
    point : (x, y)
        Lip point [mm].
    inward : float
        Azimuth of the probe line [deg], from the lip into the groove.
    start, stop : float
        Times to look at [s], 0 <= start < stop.
    low, high : float
        Depths on the probe line to report [mm]; negative ones lie beyond the lip point.
    position, depth, radius, spindle_speed, flutes, phase, spin, runout, runout_azimuth, lag
        As for `uncut_intervals`.

    Returns
    -------
    LipCrossings
        Every crossing with a depth in [low, high]. Good to about 1e-11 mm.
    """
    number("start", start, low=0, unit="s")
    number("stop", stop, low=start, open_low=True, unit="s")
    number("high", high, low=low, open_low=True, unit="mm")
    rest = _motion(position, depth, radius, spindle_speed, flutes, spin, runout, runout_azimuth, lag)
    motion = rest._replace(
        origin=complex(*point),
        direction=complex(np.exp(1j * math.radians(inward))),
        turned=math.radians(phase - inward),
    )
    nodes = _nodes(start, stop, motion.omega)
    found = []
    for flute in range(flutes):
        edge = motion.edge(nodes, flute)
        step = np.abs(np.diff(edge))
        away = np.abs(edge - np.clip(edge.real, low, high))
        near = np.minimum(away[:-1], away[1:]) <= 2 * step
        time = _zeros(partial(_edge_across, motion, flute), nodes, near)
        y = motion.edge(time, flute).real
        keep = (low <= y) & (y <= high) & (motion.level(time) >= 0)
        found.append(np.stack([time[keep], np.full(keep.sum(), float(flute)), y[keep]], axis=1))
    rows = np.concatenate(found)
    rows = rows[np.argsort(rows[:, 0], kind="stable")]
    y = rows[:, 2]
    best = np.minimum.accumulate(np.r_[np.inf, y])[:-1]
    return LipCrossings(rows[:, 0], rows[:, 1].astype(np.int64), y, y < best)
