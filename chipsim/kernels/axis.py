"""Where the axis is at a time, and when it is where: pieces of constant acceleration on lines and arcs."""

from __future__ import annotations

import math

from .compiled import njit

__all__ = []


# columns of a motion
T0, S0, V, A, X, Y, H, K, D, M, DT, DS, W, B = range(14)

FULL = 2.0 * math.pi

PI = math.pi


@njit(cache=True)
def locate(motion, t):
    """Index of the piece that is under way at time t (the later one at a joint)."""
    lo, hi = 0, motion.shape[0]
    while hi - lo > 1:
        mid = (lo + hi) // 2
        if motion[mid, T0] <= t:
            lo = mid
        else:
            hi = mid
    return lo


@njit(cache=True)
def walk(motion, k, t):
    """Same as `locate`, from a piece k near by."""
    while k + 1 < motion.shape[0] and motion[k + 1, T0] <= t:
        k += 1
    while k > 0 and motion[k, T0] > t:
        k -= 1
    return k


@njit(cache=True)
def state(motion, k, tau):
    """Axis x, y, heading, depth and speed at time tau after the start of piece k."""
    ds = tau * (motion[k, V] + 0.5 * motion[k, A] * tau)
    half = 0.5 * motion[k, K] * ds
    if abs(half) < 1e-4:
        sinc = 1.0 - half * half / 6.0
    else:
        sinc = math.sin(half) / half
    along = motion[k, H] + half
    x = motion[k, X] + ds * sinc * math.cos(along)
    y = motion[k, Y] + ds * sinc * math.sin(along)
    return x, y, along + half, depth_on(motion, k, tau), motion[k, V] + motion[k, A] * tau


@njit(cache=True)
def places(motion, times, out):
    """Axis x, y and depth at many times, into `out` (n, 3)."""
    for i in range(times.shape[0]):
        k = locate(motion, times[i])
        x, y, _, depth, _ = state(motion, k, times[i] - motion[k, T0])
        out[i, 0], out[i, 1], out[i, 2] = x, y, depth


@njit(cache=True)
def depth_on(motion, k, tau):
    """Depth of the tip at time tau after the start of piece k."""
    return motion[k, D] + tau * (motion[k, W] + 0.5 * motion[k, B] * tau)


@njit(cache=True)
def level_on(motion, k):
    """Whether the tip keeps its depth on piece k."""
    return motion[k, W] == 0.0 and motion[k, B] == 0.0


@njit(cache=True)
def descent_time(motion, k, fall):
    """Time at which the tip has gone `fall` deeper (negative: higher) since the start of piece k; 0 if it never does.

    Of the two roots of the quadratic the one before the rate of descent would change its sign, without cancellation.
    """
    w = motion[k, W]
    root = math.sqrt(max(w * w + 2.0 * motion[k, B] * fall, 0.0))
    sum_ = w + root if w > 0.0 or (w == 0.0 and fall > 0.0) else w - root
    return max(2.0 * fall / sum_, 0.0) if sum_ != 0.0 else 0.0


@njit(cache=True)
def travel_time(motion, k, ds):
    """Time to cover ds from the start of piece k."""
    v, a = motion[k, V], motion[k, A]
    root = math.sqrt(max(v * v + 2.0 * a * ds, 0.0))
    if v + root <= 0.0:
        return 0.0
    return 2.0 * ds / (v + root)


@njit(cache=True)
def joined(motion, k):
    """Whether piece k goes on from the one before, level and without a bend."""
    turn = motion[k, H] - motion[k - 1, H] - motion[k - 1, K] * motion[k - 1, DS]
    turn -= FULL * math.floor(turn / FULL + 0.5)
    return (
        abs(turn) < 1e-12
        and level_on(motion, k)
        and level_on(motion, k - 1)
        and abs(motion[k, D] - motion[k - 1, D]) < 1e-12
    )


@njit(cache=True)
def rotation(motion, job, k, tau):
    """Continuous part of the rotation from the conventional wall: phi of flute j is this - 2 pi j / flutes - extra."""
    ds = tau * (motion[k, V] + 0.5 * motion[k, A] * tau)
    return job[1] * (motion[k, T0] + tau) + 0.5 * PI - job[0] * (motion[k, H] + motion[k, K] * ds - job[5])


@njit(cache=True)
def rotation_time(motion, job, k, target):
    """Time after the start of piece k at which `rotation` reaches the target (may lie outside the piece)."""
    tau = 0.0
    for _ in range(30):
        speed = motion[k, V] + motion[k, A] * tau
        step = (target - rotation(motion, job, k, tau)) / (job[1] - job[0] * motion[k, K] * speed)
        tau += step
        if abs(step) * job[1] < 1e-15 * max(1.0, abs(target)):
            break
    return tau


@njit(cache=True)
def crossing(motion, job, flute, begin, end, target):
    """Piece and time at which a flute's nominal direction reaches a rotation, within [begin, end); -1 if never."""
    goal = target + FULL * flute / job[2]
    k = locate(motion, begin)
    while k < motion.shape[0] and motion[k, T0] < end:
        low = max(begin - motion[k, T0], 0.0)
        high = min(end - motion[k, T0], motion[k, DT])
        if high > low:
            p0, p1 = rotation(motion, job, k, low), rotation(motion, job, k, high)
            if p0 <= goal < p1 or abs(goal - p0) < 1e-9:
                tau = rotation_time(motion, job, k, goal)
                return k, min(max(tau, low), high)
            if p0 > goal:
                return -1, 0.0
        k += 1
    return -1, 0.0


@njit(cache=True)
def turned_by(motion, job, k, tau, angle):
    """Piece and time on it at which the rotation is `angle` more than at time tau of piece k.

    Piece -1 where a corner or an end of the motion lies in between: the rotation jumps there.
    """
    if motion[k, A] == 0.0 or motion[k, K] == 0.0:
        # the rotation runs evenly on this piece
        at = tau + angle / (job[1] - job[0] * motion[k, K] * (motion[k, V] + motion[k, A] * tau))
        if 0.0 <= at <= motion[k, DT]:
            return k, at
    goal = rotation(motion, job, k, tau) + angle
    way = 0
    for _ in range(motion.shape[0]):
        at = rotation_time(motion, job, k, goal)
        onward = 1 if at > motion[k, DT] else (-1 if at < 0.0 else 0)
        # turning back: it is on the joint, and rounding says either side
        if onward == 0 or onward == -way:
            return k, min(max(at, 0.0), motion[k, DT])
        way, other = onward, k + onward
        if other < 0 or other == motion.shape[0]:
            break
        # joint by joint: between here and there may lie whole pieces, arcs among them
        i = min(k, other)
        if abs(motion[i + 1, H] - motion[i, H] - motion[i, K] * motion[i, DS]) > 1e-9:
            break
        k = other
    return -1, 0.0


@njit(cache=True)
def way_near(along, across, kappa, length, reach):
    """Stretch of a line or arc within `reach` of a point: its middle, half of it, below 0 if none, and the way round.

    The point lies `along` ahead of the piece's start and `across` to the left of it. A piece without length is whole.
    """
    if length == 0.0:
        return 0.0, 0.0 if math.hypot(along, across) <= reach else -1.0, 0.0
    if abs(kappa) * length < 1e-9:
        square = reach * reach - across * across
        return along, math.sqrt(square) if square >= 0.0 else -1.0, 0.0
    rad = 1.0 / abs(kappa)
    lean = across if kappa > 0.0 else -across
    dist = math.hypot(along, rad - lean)
    # chord form of the law of cosines: no cancellation on flat arcs
    square = (reach - dist + rad) * (reach + dist - rad)
    if square < 0.0:
        return 0.0, -1.0, 0.0
    first, period = rad * math.atan2(along, rad - lean), FULL * rad
    if dist == 0.0 or square >= 4.0 * dist * rad:
        return first, 0.5 * period, period
    return first, 2.0 * rad * math.asin(math.sqrt(square / (4.0 * dist * rad))), period


@njit(cache=True)
def point_at(motion, k, ds):
    """Point of piece k at arc length ds."""
    half = 0.5 * motion[k, K] * ds
    sinc = 1.0 - half * half / 6.0 if abs(half) < 1e-4 else math.sin(half) / half
    return (
        motion[k, X] + ds * sinc * math.cos(motion[k, H] + half),
        motion[k, Y] + ds * sinc * math.sin(motion[k, H] + half),
    )
