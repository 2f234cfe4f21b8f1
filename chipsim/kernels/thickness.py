"""Chip thickness on a ray: what no earlier sweep has removed of it, by the general way and by the steady one."""

from __future__ import annotations

import math

import numpy as np

from .axis import (
    DS,
    DT,
    FULL,
    PI,
    S0,
    T0,
    A,
    B,
    D,
    H,
    K,
    V,
    W,
    X,
    Y,
    depth_on,
    descent_time,
    joined,
    level_on,
    locate,
    state,
    travel_time,
    turned_by,
    way_near,
)
from .columns import TURNS
from .compiled import njit
from .grooves import clear_of_groove
from .intervals import add_interval
from .outline import (
    edge,
    edge_growth,
    edge_of,
    flute_rise,
    knot_radius,
    own_radius,
    own_slope,
    profile_radius,
    profile_slope,
)

__all__ = []


@njit(cache=True)
def near_windows(motion, candidates, count, x, y, reach, until, out):
    """Time windows before `until` during which the axis is within `reach` of (x, y), in order of time.

    Fills out (capacity, 2) and returns their number, -1 if they do not fit. Windows that touch across a joint
    are merged. `candidates[:count]` are the pieces to look at, ascending; count < 0 means all.
    """
    n = 0
    total = motion.shape[0] if count < 0 else count
    for c in range(total):
        k = c if count < 0 else candidates[c]
        if motion[k, T0] >= until:
            break
        length = motion[k, DS]
        dx, dy = x - motion[k, X], y - motion[k, Y]
        # no point of the piece is farther from its start than its length
        if dx * dx + dy * dy > (reach + length) * (reach + length) * 1.000001:
            continue
        ch, sh = math.cos(motion[k, H]), math.sin(motion[k, H])
        along, across = dx * ch + dy * sh, -dx * sh + dy * ch
        still = length == 0.0
        first, half, period = way_near(along, across, motion[k, K], length, reach)
        if half < 0.0:
            continue
        for turn in range(-1, 2):
            if period == 0.0 and turn != 0:
                continue
            low = max(first - half + turn * period, 0.0)
            high = min(first + half + turn * period, length)
            if high <= low and not still:
                continue
            begin = motion[k, T0] if low == 0.0 else motion[k, T0] + travel_time(motion, k, low)
            end = motion[k, T0] + (motion[k, DT] if high == length else travel_time(motion, k, high))
            if high == length and k + 1 < motion.shape[0]:
                end = motion[k + 1, T0]
            begin, end = begin, min(end, until)
            if end <= begin:
                continue
            if n > 0 and begin <= out[n - 1, 1]:
                out[n - 1, 1] = max(end, out[n - 1, 1])
            elif n == out.shape[0]:
                return -1
            else:
                out[n, 0], out[n, 1] = begin, end
                n += 1
    return n


@njit(cache=True)
def sight(motion, job, heights, radii, k, tau, dt, flute, lag, view):
    """One earlier tooth seen along a ray: a, b, R, psi and the rates of b; see the module's head.

    view = (cx, cy, ux, uy, slice height above the face's zero, own angle beyond the nominal).
    """
    x, y, heading, depth, speed = state(motion, k, tau)
    rx, ry = x - view[0], y - view[1]
    a = rx * view[2] + ry * view[3]
    b = job[0] * (view[2] * ry - view[3] * rx)
    up = view[4] + depth
    radius, extra = edge_of(job, heights, radii, flute, up, profile_radius(heights, radii, up))
    psi = job[1] * dt + lag - extra + view[5]
    rate = job[0] * speed * (view[2] * math.sin(heading) - view[3] * math.cos(heading))
    return a, b, radius, psi, rate


@njit(cache=True)
def edge_rates(motion, job, heights, radii, k, tau, flute, radius, view):
    """Rates of R and psi: on a ramp the slice grows, and with it the angle changes by which runout shifts the edge."""
    if (motion[k, W] == 0.0 and motion[k, B] == 0.0) or radius == 0.0:
        return 0.0, job[1]
    depth = depth_on(motion, k, tau)
    if radii.ndim == 2:
        out, aside = edge_growth(job, heights, radii, flute, view[4] + depth)
        fall = motion[k, W] + motion[k, B] * tau
        return out * fall, job[1] - aside * fall
    growth = profile_slope(heights, radii, view[4] + depth) * (motion[k, W] + motion[k, B] * tau)
    _, extra = edge(job, flute, profile_radius(heights, radii, view[4] + depth))
    return growth * math.cos(extra), job[1] + growth * math.sin(extra) / radius


@njit(cache=True)
def edge_on_ray(motion, job, heights, radii, k, shift, flute, lag, view, low, high, sign):
    """Time dt in [low, high] at which the edge lies on the ray's line, given a change of sign there.

    Newton steps kept inside a shrinking bracket, bisection where they leave it or do not halve. `sign` is that of
    R sin(psi) + b at `high`.
    """
    x, before = 0.5 * (low + high), high - low
    for _ in range(100):
        _, b, radius, psi, rate = sight(motion, job, heights, radii, k, x + shift, x, flute, lag, view)
        f = radius * math.sin(psi) + b
        if f * sign >= 0.0:
            high = x
        else:
            low = x
        growth, swing = edge_rates(motion, job, heights, radii, k, x + shift, flute, radius, view)
        slope = radius * math.cos(psi) * swing + growth * math.sin(psi) + rate
        step = x - f / slope if slope != 0.0 else low
        change = abs(step - x)
        if change * job[1] < 1e-15 + 4e-16 * abs(x) * job[1] or high - low <= 0.0:
            return min(max(step, low), high)
        if not low <= step <= high or change > 0.5 * before:
            step = 0.5 * (low + high)
            change = 0.5 * (high - low)
        x, before = step, change
    return x


@njit(cache=True)
def axis_on_ray(motion, job, heights, radii, k, shift, flute, lag, view, low, high, sign):
    """Time dt in [low, high] at which the earlier axis crosses the ray's line; `sign` is that of b at `high`."""
    for _ in range(80):
        x = 0.5 * (low + high)
        _, b, _, _, _ = sight(motion, job, heights, radii, k, x + shift, x, flute, lag, view)
        if b * sign >= 0.0:
            high = x
        else:
            low = x
    return 0.5 * (low + high)


@njit(cache=True)
def meeting(motion, job, heights, radii, k, shift, flute, lag, view, x):
    """Distance q along the ray at which the earlier segment meets it at time x."""
    a, b, radius, psi, _ = sight(motion, job, heights, radii, k, x + shift, x, flute, lag, view)
    s, c = math.sin(psi), math.cos(psi)
    if abs(s) < 1e-9:
        return a + radius * c
    return a - b * c / s


@njit(cache=True)
def reach_of(motion, job, heights, radii, k, shift, flute, lag, view, sign, x):
    """Return sign (R sin(psi) + b): positive where the edge has passed beyond the ray's line."""
    _, b, radius, psi, _ = sight(motion, job, heights, radii, k, x + shift, x, flute, lag, view)
    return sign * (radius * math.sin(psi) + b)


@njit(cache=True)
def backward_here(motion, job, heights, radii, k, shift, flute, lag, view, x):
    """Zero where the point of the earlier segment on the ray stands still across the segment: q turns round there."""
    _, b, radius, psi, rate = sight(motion, job, heights, radii, k, x + shift, x, flute, lag, view)
    _, _, heading, _, speed = state(motion, k, x + shift)
    ahead = speed * (view[2] * math.cos(heading) + view[3] * math.sin(heading))
    _, swing = edge_rates(motion, job, heights, radii, k, x + shift, flute, radius, view)
    # speed of the axis along (-sin psi, cos psi), times sin psi, against p psi' sin psi = -b psi'
    return (rate * math.cos(psi) - ahead * math.sin(psi)) * math.sin(psi) - b * swing


@njit(cache=True)
def cover_stretch(motion, job, heights, radii, k, shift, flute, lag, view, sign, low, high, folded, cover, n):
    """Add what one flute swept of the ray during [low, high], a stretch of one piece and one half turn.

    In a half turn sin(psi) keeps its `sign`; the segment meets the ray while sign b <= 0 and
    sign (R sin(psi) + b) >= 0, and then q runs monotonically unless the tooth moves backwards (`folded`).
    """
    f0 = reach_of(motion, job, heights, radii, k, shift, flute, lag, view, sign, low)
    f1 = reach_of(motion, job, heights, radii, k, shift, flute, lag, view, sign, high)
    begin, end = low, high
    if f0 < 0.0 or f1 < 0.0:
        top = 0.5 * (low + high)
        if f0 < 0.0 and f1 < 0.0:
            # the summit of R |sin(psi)| + sign b, concave: golden section until it is above water
            lo, hi = low, high
            ratio = 0.6180339887498949
            x1, x2 = hi - ratio * (hi - lo), lo + ratio * (hi - lo)
            y1 = reach_of(motion, job, heights, radii, k, shift, flute, lag, view, sign, x1)
            y2 = reach_of(motion, job, heights, radii, k, shift, flute, lag, view, sign, x2)
            above = False
            for _ in range(60):
                if y1 >= 0.0:
                    top, above = x1, True
                    break
                if y2 >= 0.0:
                    top, above = x2, True
                    break
                if y1 < y2:
                    lo, x1, y1 = x1, x2, y2
                    x2 = lo + ratio * (hi - lo)
                    y2 = reach_of(motion, job, heights, radii, k, shift, flute, lag, view, sign, x2)
                else:
                    hi, x2, y2 = x2, x1, y1
                    x1 = hi - ratio * (hi - lo)
                    y1 = reach_of(motion, job, heights, radii, k, shift, flute, lag, view, sign, x1)
            if not above:
                return n
        elif f0 < 0.0:
            top = high
        else:
            top = low
        if f0 < 0.0:
            begin = edge_on_ray(motion, job, heights, radii, k, shift, flute, lag, view, low, top, sign)
        if f1 < 0.0:
            end = edge_on_ray(motion, job, heights, radii, k, shift, flute, lag, view, top, high, -sign)
    a0, b0, r0, psi0, _ = sight(motion, job, heights, radii, k, begin + shift, begin, flute, lag, view)
    a1, b1, r1, psi1, _ = sight(motion, job, heights, radii, k, end + shift, end, flute, lag, view)
    # dead ahead on a line b is 0 but for rounding: either half turn may then claim the pass, and both is harmless
    side0, side1 = sign * b0 - 1e-12, sign * b1 - 1e-12
    if side0 > 0.0 and side1 > 0.0:
        return n
    if begin > low:
        q0 = a0 + r0 * math.cos(psi0)
    else:
        q0 = meeting(motion, job, heights, radii, k, shift, flute, lag, view, begin)
    if end < high:
        q1 = a1 + r1 * math.cos(psi1)
    else:
        q1 = meeting(motion, job, heights, radii, k, shift, flute, lag, view, end)
    if side0 > 0.0 or side1 > 0.0:
        # the end at which b is beyond doubt tells which way it crosses
        toward = -sign if side0 > 0.0 else sign
        cross = axis_on_ray(motion, job, heights, radii, k, shift, flute, lag, view, begin, end, toward)
        qa, _, _, _, _ = sight(motion, job, heights, radii, k, cross + shift, cross, flute, lag, view)
        if side0 > 0.0:
            begin, q0 = cross, qa
        else:
            end, q1 = cross, qa
    least, most = min(q0, q1), max(q0, q1)
    if folded and end > begin:
        # near the tip the sweep may double back inside; the stretches are short, one turning point at the most
        g0 = backward_here(motion, job, heights, radii, k, shift, flute, lag, view, begin)
        g1 = backward_here(motion, job, heights, radii, k, shift, flute, lag, view, end)
        if g0 * g1 < 0.0:
            lo, hi = begin, end
            for _ in range(60):
                mid = 0.5 * (lo + hi)
                if backward_here(motion, job, heights, radii, k, shift, flute, lag, view, mid) * g0 > 0.0:
                    lo = mid
                else:
                    hi = mid
            q = meeting(motion, job, heights, radii, k, shift, flute, lag, view, 0.5 * (lo + hi))
            least, most = min(least, q), max(most, q)
    return add_interval(cover, n, max(least, 0.0), most)


@njit(cache=True)
def farthest(motion, job, heights, radii, tc, early, late, view):
    """Upper bound on how far along a ray any tooth reached between two times (relative to tc)."""
    k0, k1 = locate(motion, tc + early), locate(motion, tc + late)
    x0, y0, _, _, _ = state(motion, k0, early + (tc - motion[k0, T0]))
    x1, y1, _, _, _ = state(motion, k1, late + (tc - motion[k1, T0]))
    a0 = (x0 - view[0]) * view[2] + (y0 - view[1]) * view[3]
    a1 = (x1 - view[0]) * view[2] + (y1 - view[1]) * view[3]
    way = 0.0
    deepest = -1e300
    for k in range(k0, k1 + 1):
        s = max(early + (tc - motion[k, T0]), 0.0)
        e = min(late + (tc - motion[k, T0]), motion[k, DT])
        way += (e - s) * (motion[k, V] + 0.5 * motion[k, A] * (e + s))
        deepest = max(deepest, motion[k, D], depth_on(motion, k, motion[k, DT]))
    # between its ends the axis strays at most half the way beyond them
    return max(a0, a1) + 0.5 * way + profile_radius(heights, radii, view[4] + deepest) + job[3]


@njit(cache=True)
def uncut_length(
    motion, job, heights, radii, prior, windows, count, tc, k, heading, cx, cy, depth, phi, flute, h, radius, own, cover
):
    """Total length of a ray from the axis, `radius` long, that no earlier sweep has removed in the slice at height h.

    The ray leaves the axis at time tc at rotation phi from the conventional wall, where the flute's edge stands, `own`
    beyond its nominal direction. `windows[:count]` are the times at which the axis was near enough to matter. A
    tooth's own last quarter turn does not count.
    `prior` are the earlier motions, met by their own teeth; see `cover_by_teeth`.
    Returns -1 if the intervals do not fit.
    """
    sense, omega, flutes = job[0], job[1], int(job[2])
    r = profile_radius(heights, radii, h)
    if radius <= 0.0:
        return 0.0
    azimuth = heading + sense * (phi - 0.5 * PI)
    ux, uy = math.cos(azimuth), math.sin(azimuth)
    view = (cx, cy, ux, uy, h - depth, own)
    n = np.int64(0)  # a literal would have all that is called with it compiled twice
    speed = motion[k, V] + motion[k, A] * max(tc - motion[k, T0], 0.0)
    swing = max(speed, motion[k, V]) / omega
    # Second look: within about e = feed / 2 pi of its axis a tooth moves backwards, and what it sweeps there doubles
    # back. Only the last turn's passes can matter, and only where nobody else has cleared the core.
    for look in range(2):
        if look == 1:
            core = min(radius, 4.0 * swing)
            if core <= 0.0 or (n > 0 and cover[0, 0] <= 0.0 and cover[0, 1] >= core):
                break
        for w in range(count - 1, -1, -1):
            lo = windows[w, 0] - tc
            hi = min(windows[w, 1] - tc, 0.0)
            if look == 1:
                lo = max(lo, -FULL / omega)
            if hi <= lo:
                continue
            back = 0
            busy = True
            while busy:
                # older turns by the dozen: none of them reaches farther along the ray than is cleared already
                if back % 24 == 0 and back > 0 and n > 0 and cover[0, 0] <= 0.0:
                    late = max(hi - (back - 1) * PI / omega, lo)
                    early = max(hi - (back + 25) * PI / omega, lo)
                    far = farthest(motion, job, heights, radii, tc, early, late, view)
                    if cover[0, 1] >= min(far, radius):
                        if early <= lo:
                            break
                        back += 24
                        continue
                busy = False
                for i in range(flutes):
                    last = min(hi, -0.5 * PI / omega) if i == flute else hi
                    # psi = omega dt + lag - (exact runout angles); the half turns of one flute
                    lag = FULL * (flute - i) / flutes
                    _, extra = edge_of(job, heights, radii, i, h, r)
                    offset = lag - extra + own
                    m = math.floor((omega * last + offset) / PI) - back
                    begin, end = (m * PI - offset) / omega, ((m + 1) * PI - offset) / omega
                    if end <= lo:
                        continue
                    busy = True
                    begin, end = max(begin, lo), min(end, last)
                    if end <= begin:
                        continue
                    n = cover_half_turn(
                        motion, job, heights, radii, tc, i, lag, view, m, begin, end, radius, look, cover, n
                    )
                    if n < 0:
                        return -1.0
                    if n == 1 and cover[0, 0] <= 0.0 and cover[0, 1] >= radius:
                        return 0.0
                back += 1
    n = cover_by_teeth(prior, cx, cy, azimuth, h - depth, radius, cover, n)
    if n < 0:
        return -1.0
    covered = 0.0
    for i in range(n):
        low, high = max(cover[i, 0], 0.0), min(cover[i, 1], radius)
        if high > low:
            covered += high - low
    return max(radius - covered, 0.0)


@njit(cache=True)
def cover_half_turn(motion, job, heights, radii, tc, flute, lag, view, m, begin, end, radius, look, cover, n):
    """Add what one flute swept of the ray during its m-th half turn, [begin, end] relative to tc."""
    k0, k1 = locate(motion, tc + begin), locate(motion, tc + end)
    a0, b0, r0, psi0, _ = sight(motion, job, heights, radii, k0, begin + (tc - motion[k0, T0]), begin, flute, lag, view)
    a1, b1, r1, psi1, _ = sight(motion, job, heights, radii, k1, end + (tc - motion[k1, T0]), end, flute, lag, view)
    # bounds on where the axis can be in between: it moves at most `way`
    way = 0.0
    deepest = -1e300
    for k in range(k0, k1 + 1):
        s = max(begin + (tc - motion[k, T0]), 0.0)
        e = min(end + (tc - motion[k, T0]), motion[k, DT])
        way += (e - s) * (motion[k, V] + 0.5 * motion[k, A] * (e + s))
        deepest = max(deepest, motion[k, D], depth_on(motion, k, motion[k, DT]))
    big = profile_radius(heights, radii, view[4] + deepest) + job[3]
    side = max(min(abs(b0), abs(b1)) - way, 0.0)
    if side > big:
        return n
    sign = 1.0 if m % 2 == 0 else -1.0
    # with runout psi depends on the slice's radius: where that is not today's, the half turn is not quite this one
    turns = job[3] > 0.0 or radii.ndim == 2
    wanders = turns and (k0 != k1 or not level_on(motion, k0))
    wanders = wanders or (turns and (psi0 < m * PI - 1e-9 or psi1 > (m + 1) * PI + 1e-9))
    if not wanders and min(sign * b0, sign * b1) > way + 1e-12:
        return n
    far = max(a0, a1) + way + math.sqrt(big * big - side * side)
    if far <= 0.0 or min(a0, a1) - way - big > radius:
        return n
    if n > 0 and cover[0, 0] <= 0.0 and cover[0, 1] >= min(far, radius):
        return n
    # a tooth and its axis both exactly on the ray: the whole segment lies on it at once
    for at in range(2):
        a, b, r, psi = (a0, b0, r0, psi0) if at == 0 else (a1, b1, r1, psi1)
        k, x = (k0, begin) if at == 0 else (k1, end)
        if view[4] + depth_on(motion, k, x + (tc - motion[k, T0])) < flute_rise(radii, flute):
            continue
        if abs(b) <= 1e-12 * (1.0 + abs(a)) and abs(math.sin(psi)) < 1e-12 * (1.0 + abs(psi)):
            tip = a + r * math.cos(psi)
            n = add_interval(cover, n, max(min(a, tip), 0.0), max(a, tip))
    small = min(r0, r1)
    for k in range(k0, k1 + 1):
        shift = tc - motion[k, T0]
        low, high = max(begin, -shift), min(end, motion[k, DT] - shift)
        # on a ramp a tooth clears nothing of the slice while its tip is above it
        rise = flute_rise(radii, flute) - view[4] - motion[k, D]
        last_rise = flute_rise(radii, flute) - view[4] - depth_on(motion, k, motion[k, DT])
        if rise > 0.0 and last_rise > 0.0:
            continue
        if rise > 0.0:
            low = max(low, descent_time(motion, k, rise) - shift + 1e-13)
        elif last_rise > 0.0:
            high = min(high, descent_time(motion, k, rise) - shift - 1e-13)
        if high <= low:
            continue
        fast = max(motion[k, V], motion[k, V] + motion[k, A] * motion[k, DT])
        folded = look == 1 or small < 10.0 * fast / job[1] + job[3]
        # stretches short enough for one turning point; none where the tooth never moves backwards
        halvings = 0 if not folded else (5 if small < 3.0 * fast / job[1] + job[3] else 3)
        while low < high:
            stop = high
            if wanders:
                stop, half = half_turn_end(motion, job, heights, radii, k, shift, flute, lag, view, low, high)
                sign = 1.0 if half % 2 == 0 else -1.0
            n = cover_by_halves(
                motion,
                job,
                heights,
                radii,
                k,
                shift,
                flute,
                lag,
                view,
                sign,
                low,
                stop,
                halvings,
                fast,
                radius,
                cover,
                n,
            )
            if n >= 0 and stop < high:
                a, b, r, psi, _ = sight(motion, job, heights, radii, k, stop + shift, stop, flute, lag, view)
                if abs(b) <= 1e-12 * (1.0 + abs(a)):
                    tip = a + r * math.cos(psi)
                    n = add_interval(cover, n, max(min(a, tip), 0.0), max(a, tip))
            if n < 0:
                return n
            low = stop
    return n


@njit(cache=True)
def half_turn_end(motion, job, heights, radii, k, shift, flute, lag, view, low, high):
    """First time in (low, high] at which psi is not in the half turn that it is in at `low`, and this one's number."""
    first, stop, x = 0, high, low
    for turn in range(80):
        _, _, _, psi, _ = sight(motion, job, heights, radii, k, x + shift, x, flute, lag, view)
        half = math.floor(psi / PI)
        if turn == 0:
            first, x = half, high
            continue
        if half != first:
            stop = x
        elif x == high:
            break
        else:
            low = x
        x = 0.5 * (low + stop)
        if x <= low or x >= stop:
            break
    return stop, first


@njit(cache=True)
def cover_by_halves(
    motion, job, heights, radii, k, shift, flute, lag, view, sign, low, high, halvings, fast, radius, cover, n
):
    """Call `cover_stretch` for [low, high] halved as often as said, but for what bounds rule out.

    Of most stretches it is plain that the tooth is not on the ray, or only where it is cleared already: the axis moves
    at most `fast` times the duration, the radius lies between those at the ends, and a point of the segment on the ray
    no farther than the axis or the edge.
    """
    ends = np.empty((halvings + 3, 7))  # here the left end of the stretch at hand, then right ends, the nearest last
    levels = np.empty(halvings + 3, np.int64)
    slack = 2.0 * job[3] if not level_on(motion, k) else 0.0  # with runout an edge's distance need not be monotonic
    swings = 0.0  # bound of how fast a flute turns in its bit as it goes down
    if radii.ndim == 2 and not level_on(motion, k):
        swings = radii[0, TURNS] * max(abs(motion[k, W]), abs(motion[k, W] + motion[k, B] * motion[k, DT]))
    here, held = ends[0], 0
    levels[:] = 0
    while True:
        # the left end first, then the right one, then the middle of what is too long
        x = low if held == 0 else (high if held == 1 else 0.5 * (here[0] + ends[held - 1, 0]))
        a, b, r, psi, _ = sight(motion, job, heights, radii, k, x + shift, x, flute, lag, view)
        new = ends[held]
        new[0], new[1], new[2], new[3], new[4], new[5], new[6] = x, a, b, r, psi, math.sin(psi), math.cos(psi)
        held += 1
        if held == 1:
            continue
        # stretch by stretch from the left, until one has to be halved
        while held > 1:
            there, level = ends[held - 1], levels[held - 1]
            span = there[0] - here[0]
            stray = 0.5 * fast * span * (1.0 + 1e-12) + 1e-12
            turned = abs(there[4] - here[4] - job[1] * span)  # by runout, whose angle changes with the radius
            if radii.ndim == 2:
                turned += swings * span
            most = max(here[3], there[3]) + slack
            side = 0.5 * sign * (here[2] + there[2])
            steep = 1.0 if here[6] * there[6] <= 0.0 else min(max(abs(here[5]), abs(there[5])) + turned, 1.0)
            away = side - stray > 1e-12 or most * steep + side + stray < 0.0
            if not away:
                along = 0.5 * (here[1] + there[1])
                least = along - stray + min(min(here[6], there[6]) - turned, 0.0) * most
                far = along + stray + max(max(here[6], there[6]) + turned, 0.0) * most
                least, far = max(least, 0.0), min(far, radius)
                away = far <= least
                for i in range(n):
                    away = away or (cover[i, 0] <= least and cover[i, 1] >= far)
            if not away and level < halvings:
                levels[held - 1], levels[held] = level + 1, level + 1
                break
            if not away:
                n = cover_stretch(
                    motion,
                    job,
                    heights,
                    radii,
                    k,
                    shift,
                    flute,
                    lag,
                    view,
                    sign,
                    here[0],
                    there[0],
                    halvings > 0,
                    cover,
                    n,
                )
                if n < 0:
                    return n
            here[:] = there
            held -= 1
        if held == 1:
            return n


@njit(cache=True)
def steady_thickness(motion, job, heights, radii, k, tau, heading, cx, cy, phi, flute, h, up, r, base):
    """Radial thickness in steady level cutting on one line or arc: only the last turn's passes matter.

    In the slice of radius r at the height `up`, on the ray to the edge in the slice of radius `base` at the height h;
    both are the same but for the search along a flank's normal. Returns -1 where a pass has no
    root on the ray; the caller then takes the general road.
    """
    sense, omega, flutes = job[0], job[1], int(job[2])
    radius, own = edge_of(job, heights, radii, flute, h, base)
    radius += r - base
    if radii.ndim == 2:
        radius += own_radius(heights, radii, flute, up) - own_radius(heights, radii, flute, h) - (r - base)
    azimuth = heading + sense * (phi - 0.5 * PI)
    ux, uy = math.cos(azimuth), math.sin(azimuth)
    most = -1e300
    for m in range(1, flutes + 1):
        i = (flute - m) % flutes
        ri, extra = edge_of(job, heights, radii, i, up, r)
        lag = FULL * m / flutes - extra + own
        if radii.ndim == 2 and i != flute:
            # flutes of different azimuth: whichever came last within a turn; order of time, not of number
            lag = FULL - (-lag) % FULL
        psi = 0.0
        good = False
        q = 0.0
        for step in range(12):
            x, y, head, _, speed = state(motion, k, tau + (psi - lag) / omega)
            rx, ry = x - cx, y - cy
            b = sense * (ux * ry - uy * rx)
            f = ri * math.sin(psi) + b
            if step > 0 and abs(f) < 1e-14 * (1.0 + ri):
                q = rx * ux + ry * uy + ri * math.cos(psi)
                good = True
                break
            if step == 0:
                if abs(b) >= 0.95 * ri:
                    return -1.0
                psi = -math.asin(b / ri)
            else:
                slope = ri * math.cos(psi) + sense * speed * (ux * math.sin(head) - uy * math.cos(head)) / omega
                psi -= f / slope
        if not good or math.cos(psi) <= 0.0:
            return -1.0
        most = max(most, q)
    return min(max(radius - most, 0.0), radius)


@njit(cache=True, error_model="numpy", fastmath={"contract"})
def pass_lanes(e, bow, lag, sine, cosine, radius, shift, most):
    """One earlier pass on many rays at once, in steady level cutting: raise `most` to where it met each ray.

    Lane by lane R sin(psi) + S cos(phi) - V sin(phi) = 0 is solved for psi and q = R cos(psi) + S sin(phi) +
    V cos(phi), with x = e (psi - lag - shift), S = sin(bow x) / bow, V = (1 - cos(bow x)) / bow: `e` is the advance a
    radian, `bow` the path's curvature, > 0 towards the conventional side, `lag` + `shift` the angle by which the pass
    came earlier. 1e300 where a guard says no: the caller then takes a scalar road.

    Written for vector registers: no branch, no call. The start is right to about 1e-4; one step of fourth order from
    there, with sine and cosine in full (Taylor, 1e-16 within the guards), then one Newton step after turning both by
    the small angle. The second step's size bounds the error: below 1e-8 it leaves 1e-16. Contracting a product and a
    sum into one instruction rounds once instead of twice; nothing else is relaxed.
    """
    far = -bow * e * lag
    if abs(far) < 1e-4:
        s0, v0 = -e * lag * (1.0 - far * far / 6.0), -0.5 * e * lag * far
    else:
        s0, v0 = math.sin(far) / bow, (1.0 - math.cos(far)) / bow
    c0, g0 = e * math.cos(far), e * math.sin(far)
    turn = e * bow
    for i in range(most.shape[0]):
        r, s, c = radius[i], sine[i], cosine[i]
        inverse = 1.0 / (r + c0 * c - g0 * s)
        u = (v0 * s - s0 * c) * inverse
        w, ratio = u * u, r * inverse
        psi = u + u * w * ratio * (1.0 / 6.0 + w * (ratio * (1.0 / 12.0) - 1.0 / 120.0))
        w = psi * psi
        sp = 1.0 / 6227020800.0 + w * (-1.0 / 1307674368000.0)
        sp = 1.0 / 120.0 + w * (-1.0 / 5040.0 + w * (1.0 / 362880.0 + w * (-1.0 / 39916800.0 + w * sp)))
        sp = psi * (1.0 + w * (-1.0 / 6.0 + w * sp))
        cp = 1.0 / 479001600.0 + w * (-1.0 / 87178291200.0 + w * (1.0 / 20922789888000.0))
        cp = 1.0 / 24.0 + w * (-1.0 / 720.0 + w * (1.0 / 40320.0 + w * (-1.0 / 3628800.0 + w * cp)))
        cp = 1.0 + w * (-0.5 + w * cp)
        x = e * (psi - lag - shift[i])
        y = bow * x
        w = y * y
        straight = 1.0 / 362880.0 + w * (-1.0 / 39916800.0 + w * (1.0 / 6227020800.0))
        straight = x * (1.0 + w * (-1.0 / 6.0 + w * (1.0 / 120.0 + w * (-1.0 / 5040.0 + w * straight))))
        aside = 1.0 / 3628800.0 + w * (-1.0 / 479001600.0 + w * (1.0 / 87178291200.0))
        aside = y * (0.5 + w * (-1.0 / 24.0 + w * (1.0 / 720.0 + w * (-1.0 / 40320.0 + w * aside))))
        cy, sy = 1.0 - y * aside, bow * straight
        aside = x * aside
        across, along = straight * c - aside * s, straight * s + aside * c
        go, rise = cy * c - sy * s, cy * s + sy * c
        rs, rc = r * sp, r * cp
        inverse = 1.0 / (rc + e * go)
        step = -(rs + across) * inverse
        a2 = -0.5 * (rs + e * turn * rise) * inverse
        a3 = (-1.0 / 6.0) * (rc + e * turn * turn * go) * inverse
        step = step * (1.0 - step * (a2 - step * (2.0 * a2 * a2 - a3)))
        w = step * step
        sd, vd = step * (1.0 + w * (-1.0 / 6.0 + w * (1.0 / 120.0))), w * (0.5 + w * (-1.0 / 24.0 + w * (1.0 / 720.0)))
        x = e * step
        bend = 0.5 * turn * step * x
        rs, rc = r * (sp + (cp * sd - sp * vd)), r * (cp - (sp * sd + cp * vd))
        last = -(rs + across + go * x - rise * bend) * inverse
        q = rc + along + rise * x + go * bend + last * (e * rise - rs)
        good = (abs(step) < 1e-2) & (abs(last) < 1e-8) & (abs(psi) < 0.85) & (abs(y) < 0.6)
        # what the second order of the path's bend leaves out of the last step
        good = good & (abs(turn * turn * x * step * step) < 6e-13)
        q = q if good else 1e300
        before = most[i]
        most[i] = before if before > q else q


@njit(cache=True)
def steady_lanes(job, speed, curvature, flute, sine, cosine, r, base, own, radius, shift, thick):
    """Radial thickness of a flute on many rays (sine, cosine of phi; slice radii r, base), as `steady_thickness`.

    -1 where a guard of `pass_lanes` says no. `own`, `radius`, `shift` are room to work in, as long as `thick`.
    """
    sense, omega, flutes = job[0], job[1], int(job[2])
    e, bow = speed / omega, -sense * curvature
    lanes = thick.shape[0]
    thick[:] = -1e300
    for i in range(lanes):
        own[i] = 0.0
        shift[i] = 0.0
    if job[3] == 0.0:
        for m in range(1, flutes + 1):
            pass_lanes(e, bow, FULL * m / flutes, sine, cosine, r, shift, thick)
        for i in range(lanes):
            thick[i] = -1.0 if thick[i] > 1e299 else min(max(r[i] - thick[i], 0.0), r[i])
        return
    for i in range(lanes):
        _, own[i] = edge(job, flute, base[i])
    for m in range(1, flutes + 1):
        other = (flute - m) % flutes
        for i in range(lanes):
            radius[i], extra = edge(job, other, r[i])
            shift[i] = own[i] - extra
        pass_lanes(e, bow, FULL * m / flutes, sine, cosine, radius, shift, thick)
    for i in range(lanes):
        rim, _ = edge(job, flute, base[i])
        rim += r[i] - base[i]
        thick[i] = -1.0 if thick[i] > 1e299 else min(max(rim - thick[i], 0.0), rim)


@njit(cache=True)
def steady_enough(job, curvature, rev, r):
    """Whether in steady level cutting the last turn's passes alone decide the thickness at slice radius r."""
    return abs(curvature) * (r + job[3]) < 0.9 and r - job[3] > 1.5 * rev + 2.0 * job[3]


@njit(cache=True)
def steady_own(job, heights, radii, curvature, rev, h):
    """`steady_enough` at a height where flutes stand at azimuths of their own or reach unequally far."""
    least, most = 1e300, 0.0
    for j in range(int(job[2])):
        r = own_radius(heights, radii, j, h)
        least, most = min(least, r), max(most, r)
    return abs(curvature) * (most + job[3]) < 0.9 and least - job[3] > 1.5 * rev + 2.0 * (job[3] + most - least)


@njit(cache=True)
def turned_table(job, heights, radii, speed, curvature, phis, levels, radial, chip, speed_out):
    """`steady_table` of flutes whose azimuth depends on height, ray by ray: it is worked out once a steady stretch."""
    omega, flutes = job[1], int(job[2])
    rev = speed * FULL / omega
    path = np.zeros((1, 14))
    path[0, V], path[0, K], path[0, DT], path[0, DS] = speed, curvature, 1e300, 1e300
    radial[:], chip[:], speed_out[:] = np.nan, np.nan, np.nan
    widest = 0.0
    for flute in range(flutes):
        for level in range(levels.shape[0]):
            h = levels[level]
            base = profile_radius(heights, radii, h)
            rim, own = edge_of(job, heights, radii, flute, h, base)
            widest = max(widest, abs(own))
            if not steady_own(job, heights, radii, curvature, rev, h):
                continue
            lean = math.atan(own_slope(heights, radii, flute, h))
            ca, sa = math.cos(lean), math.sin(lean)
            r = own_radius(heights, radii, flute, h)
            near_tip = r < rev * (1.0 / job[2] + 1.0 / PI) + 2.0 * job[3]
            swing = omega * rim
            for col in range(phis.shape[0]):
                phi = phis[col]
                thick = steady_thickness(path, job, heights, radii, 0, 0.0, 0.0, 0.0, 0.0, phi, flute, h, h, base, base)
                if thick < 0.0:
                    continue
                n = ca * thick
                settled = near_tip
                for _ in range(60):
                    if settled:
                        break
                    up = h + n * sa
                    other = steady_thickness(
                        path,
                        job,
                        heights,
                        radii,
                        0,
                        0.0,
                        0.0,
                        0.0,
                        0.0,
                        phi,
                        flute,
                        h,
                        up,
                        profile_radius(heights, radii, up),
                        base,
                    )
                    if other < 0.0:
                        break
                    bend = r + n * sa * math.tan(lean) - own_radius(heights, radii, flute, up)
                    miss = max(ca * (other + bend), 0.0) - n
                    n += miss
                    settled = abs(miss) <= 1e-14 * (1.0 + r)
                if not settled:
                    continue
                radial[flute, col, level], chip[flute, col, level] = thick, n
                speed_out[flute, col, level] = 1e-3 * math.sqrt(
                    swing * swing + speed * speed + 2.0 * swing * speed * math.cos(phi)
                )
    return widest


@njit(cache=True)
def steady_table(job, heights, radii, speed, curvature, phis, levels, radial, chip, speed_out):
    """What each flute meets in steady level cutting, (flutes, angles, heights): the same at every turn.

    Fills radial and normal thickness and the edge's speed [m/s]; NaN where `pass_lanes` or this does not hold. Returns
    the largest angle by which runout moves an edge. The iteration along the normal is that of `tooth_pass_table`.
    """
    if radii.ndim == 2:
        return turned_table(job, heights, radii, speed, curvature, phis, levels, radial, chip, speed_out)
    omega, flutes = job[1], int(job[2])
    columns, rows = phis.shape[0], levels.shape[0]
    lanes = columns * rows
    rev = speed * FULL / omega
    sine, cosine, r, up, n = np.empty(lanes), np.empty(lanes), np.empty(lanes), np.empty(lanes), np.empty(lanes)
    own, radius, shift, thick = np.empty(lanes), np.empty(lanes), np.empty(lanes), np.empty(lanes)
    slope, holds, doubtful = np.empty(rows), np.empty(rows, np.bool_), np.empty(lanes, np.bool_)
    widest = 0.0
    radial[:], chip[:], speed_out[:] = np.nan, np.nan, np.nan
    for level in range(rows):
        slope[level] = math.atan(profile_slope(heights, radii, levels[level]))
        at = profile_radius(heights, radii, levels[level])
        holds[level] = steady_enough(job, curvature, rev, at)
        if not holds[level]:
            # any radius will do: the lane's result is not used
            at = knot_radius(radii, radii.shape[0] - 1)
        for j in range(flutes):
            _, extra = edge(job, j, at)
            widest = max(widest, abs(extra))
        for col in range(columns):
            i = col * rows + level
            sine[i], cosine[i], r[i] = math.sin(phis[col]), math.cos(phis[col]), at
    for flute in range(flutes):
        steady_lanes(job, speed, curvature, flute, sine, cosine, r, r, own, radius, shift, thick)
        busy = False
        for col in range(columns):
            for level in range(rows):
                i = col * rows + level
                n[i] = np.nan
                doubtful[i] = False
                if not holds[level] or thick[i] < 0.0:
                    continue
                radial[flute, col, level] = thick[i]
                rim, _ = edge(job, flute, r[i])
                swing = omega * rim
                speed_out[flute, col, level] = 1e-3 * math.sqrt(
                    swing * swing + speed * speed + 2.0 * swing * speed * cosine[i]
                )
                n[i] = math.cos(slope[level]) * thick[i]
                doubtful[i] = r[i] >= rev * (1.0 / job[2] + 1.0 / PI) + 2.0 * job[3]
                busy = busy or doubtful[i]
        for _ in range(60):
            if not busy:
                break
            for col in range(columns):
                for level in range(rows):
                    i = col * rows + level
                    up[i] = profile_radius(heights, radii, levels[level] + n[i] * math.sin(slope[level]))
                    if math.isnan(n[i]):
                        up[i] = r[i]
            steady_lanes(job, speed, curvature, flute, sine, cosine, up, r, own, radius, shift, thick)
            busy = False
            for col in range(columns):
                for level in range(rows):
                    i = col * rows + level
                    if not doubtful[i]:
                        continue
                    if thick[i] < 0.0:
                        radial[flute, col, level], doubtful[i] = np.nan, False
                        continue
                    ca, sa = math.cos(slope[level]), math.sin(slope[level])
                    bend = r[i] + n[i] * sa * math.tan(slope[level]) - up[i]
                    miss = max(ca * (thick[i] + bend), 0.0) - n[i]
                    n[i] += miss
                    doubtful[i] = not abs(miss) <= 1e-14 * (1.0 + r[i])
                    busy = busy or doubtful[i]
        for col in range(columns):
            for level in range(rows):
                i = col * rows + level
                if doubtful[i]:
                    n[i] = math.cos(slope[level]) * radial[flute, col, level]
                chip[flute, col, level] = n[i]
    return widest


@njit(cache=True)
def steady_from(motion, k, since, reach):
    """Time since which the axis runs as on piece k, one line or arc at one speed and depth; infinite if that is no use.

    It is of use if nothing before it, back to the time `since` from which the axis is near, can decide a thickness:
    no corner, no ramp, and no bend so tight that an older pass, on another curve, reaches farther along a ray than the
    last turn's. Going back along the path a disc of radius R leaves a ray the sooner the farther back it stands, as
    long as the point where it leaves is ahead of its centre: sin(c s) / c > R sin(c s), c < 1 / R the largest
    curvature, c s < 90 deg the turn; with c R < 0.5 that is so on all of the way 2 R that matters.
    """
    if motion[k, A] != 0.0 or motion[k, V] == 0.0 or not level_on(motion, k):
        return np.inf
    begin = k
    while begin > 0 and motion[begin, T0] > since:
        before = begin - 1
        if (
            not joined(motion, begin)
            or motion[before, A] != 0.0
            or abs(motion[before, V] - motion[k, V]) > 1e-13 * motion[k, V]
            or abs(motion[before, K] - motion[k, K]) > 1e-13
        ):
            break
        begin = before
    if abs(motion[k, K]) * (motion[k, S0] - motion[begin, S0] + motion[k, DS]) > PI and abs(motion[k, K]) * reach > 0.5:
        # a tight ring may come round to where it began without ever having been far away
        return np.inf
    older = begin
    while motion[older, T0] > since:
        if older == 0 or not joined(motion, older) or abs(motion[k, K]) * reach > 0.5:
            return np.inf
        older -= 1
        if abs(motion[older, K]) * reach > 0.5:
            return np.inf
    return motion[begin, T0]


@njit(cache=True)
def thickness_at(motion, job, heights, radii, prior, windows, count, steady, k, tau, phi, flute, h, up, cover):
    """Radial thickness of a flute when its edge at height h stands at rotation phi, near time tau of piece k.

    In the slice at height `up` instead, if that is not h: at the same instant, on a parallel ray that ends as much
    farther out as the outline is wider there. (With runout the edge at that height is not quite on it.)
    """
    base = profile_radius(heights, radii, h)
    radius, own = edge_of(job, heights, radii, flute, h, base)
    if own != 0.0:
        # with runout the edge at this height crosses the angle a little before or after the nominal direction
        began = k
        k, tau = turned_by(motion, job, k, tau, own)
        if k < 0:
            return np.nan, np.nan
        if radii.ndim == 2:
            steady = steady and k == began
    x, y, heading, depth, speed = state(motion, k, tau)
    if radii.ndim == 2 and h > depth + 1e-9:
        return np.nan, np.nan
    swing = job[1] * radius
    r = profile_radius(heights, radii, up)
    radius += r - base
    if radii.ndim == 2:
        radius += own_radius(heights, radii, flute, up) - own_radius(heights, radii, flute, h) - (r - base)
    fall = motion[k, W] + motion[k, B] * tau
    edge_speed = math.sqrt(swing * swing + speed * speed + 2.0 * swing * speed * math.cos(phi) + fall * fall)
    if steady:
        thick = steady_thickness(motion, job, heights, radii, k, tau, heading, x, y, phi, flute, h, up, r, base)
        if thick > 0.0 and prior[0].shape[0] > 0:
            # what the tool's own teeth have left is the end of the ray; of it earlier motions may have taken a part
            azimuth = heading + job[0] * (phi - 0.5 * PI)
            ux, uy = math.cos(azimuth), math.sin(azimuth)
            begin = radius - thick
            n = cover_by_teeth(prior, x + begin * ux, y + begin * uy, azimuth, up - depth, thick, cover, np.int64(0))
            if n < 0:
                return -1.0, edge_speed
            left = thick
            for i in range(n):
                left -= max(min(cover[i, 1], thick) - max(cover[i, 0], 0.0), 0.0)
            return max(left, 0.0), edge_speed
        if thick >= 0.0:
            return thick, edge_speed
    tc = motion[k, T0] + tau
    thick = uncut_length(
        motion,
        job,
        heights,
        radii,
        prior,
        windows,
        count,
        tc,
        k,
        heading,
        x,
        y,
        depth,
        phi,
        flute,
        up,
        radius,
        own,
        cover,
    )
    return thick, edge_speed


@njit(cache=True)
def cover_by_teeth(prior, x, y, azimuth, lift, radius, cover, n):
    """Add what the teeth of earlier motions swept of a ray in the slice at `lift` above the face, scallops and all.

    prior = (motions one below the other, first row of each, heights, radii of the outlines, first knot of each, jobs,
    time windows during which each was near, first window of each); the lists of firsts end with the total. Their axes
    have nothing to do with the ray's beginning: any sweep may double back on it, which `cover_half_turn` looks for.
    """
    motions, rows, heights, radii, knots, jobs, windows, firsts = prior
    ux, uy = math.cos(azimuth), math.sin(azimuth)
    for g in range(rows.shape[0] - 1):
        first, last = firsts[g], firsts[g + 1]
        if first == last:
            continue
        motion = motions[rows[g] : rows[g + 1]]
        outline, width = heights[knots[g] : knots[g + 1]], radii[knots[g] : knots[g + 1]]
        job = (jobs[g, 0], jobs[g, 1], jobs[g, 2], jobs[g, 3], jobs[g, 4], jobs[g, 5])
        if clear_of_groove(motion, outline, width, windows, first, last, x, y, ux, uy, lift, radius, job[3]):
            continue
        omega, flutes = job[1], int(job[2])
        for w in range(first, last):
            tc = windows[w, 1]
            lo = windows[w, 0] - tc
            k = locate(motion, tc)
            up = max(lift + depth_on(motion, k, tc - motion[k, T0]), 0.0)
            r = profile_radius(outline, width, up)
            # angle of flute 0's nominal direction from the ray at tc, in the sense of that motion's rotation
            own = (omega * tc + job[0] * (job[5] - azimuth)) % FULL
            view = (x, y, ux, uy, lift, own)
            for i in range(flutes):
                lag = -FULL * i / flutes
                _, extra = edge_of(job, outline, width, i, up, r)
                offset = lag - extra + own
                m = math.floor(offset / PI)
                while True:
                    begin, end = (m * PI - offset) / omega, ((m + 1) * PI - offset) / omega
                    if end <= lo:
                        break
                    begin, end = max(begin, lo), min(end, 0.0)
                    if end > begin:
                        n = cover_half_turn(
                            motion, job, outline, width, tc, i, lag, view, m, begin, end, radius, np.int64(1), cover, n
                        )
                        if n < 0 or (n == 1 and cover[0, 0] <= 0.0 and cover[0, 1] >= radius):
                            return n
                    m -= 1
    return n
