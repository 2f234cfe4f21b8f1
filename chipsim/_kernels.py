"""Every compiled kernel, numbers only. One file on purpose: numba's disk cache goes stale across files.

Conventions. Radians, mm, s, mm/s, rad/s. A job is the tuple ``(sense, omega, flutes, runout, runout_azimuth,
phase)`` with sense +1 for a counter-clockwise spindle and -1 for a clockwise one; flute j points at work azimuth

    phase + sense (omega t - b_j(r)),     R_j exp(i b_j) = r exp(2 pi i j / flutes) + runout exp(i runout_azimuth)

A motion is an array with one row a piece and the columns T0..B below: at tau after its beginning T0 the axis has gone
V tau + A tau^2 / 2 along a line or arc in the face, and the tip stands at depth D + W tau + B tau^2 / 2, negative above
the face. So plunges and retracts (V = A = 0), dwells (W = B = 0 as well), ramps, helices and whatever a machine makes
of them are one thing. Neither the speed nor the rate of descent changes its sign within a piece; where the axis stands
still in the face the heading is the last one. M is the slope dd/ds, 0 on vertical pieces, for what is asked by arc
length. Seen from a tool position C, looking along
the unit vector u, an earlier axis position C' has the coordinates a = (C' - C).u ahead and b across, b positive on
the side towards which the tooth turns; psi is the angle of the earlier edge from u in the sense of rotation. The
segment axis - edge of that tooth meets the line of sight at distance q = a - b cot(psi), at p = -b / sin(psi) from
its own axis; the edge itself meets it where R sin(psi) + b = 0, at q = a + R cos(psi).

Kernels return status codes; the fronts in `kinematics` speak.
"""

import math

import numpy as np

from ._compiled import njit

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
def profile_radius(heights, radii, h):
    """r(h) of a polyline outline; 0 below the tip, constant above the last knot."""
    n = heights.shape[0]
    if h < 0.0:
        return 0.0
    if h >= heights[n - 1]:
        return radii[n - 1]
    lo, hi = 0, n - 1
    while hi - lo > 1:
        mid = (lo + hi) // 2
        if heights[mid] <= h:
            lo = mid
        else:
            hi = mid
    return radii[lo] + (radii[hi] - radii[lo]) * (h - heights[lo]) / (heights[hi] - heights[lo])


@njit(cache=True)
def disc_radius(heights, radii, h):
    """Radius of what a bit clears at height h above its tip: as `profile_radius`, but a tip flat just touching is 0."""
    return profile_radius(heights, radii, h - 1e-12)


@njit(cache=True)
def profile_slope(heights, radii, h):
    """dr/dh of the outline just below h: tan of the flank's lean."""
    n = heights.shape[0]
    k = 1
    while k < n and heights[k] < h - 1e-12:
        k += 1
    if k == n:
        return 0.0
    return (radii[k] - radii[k - 1]) / (heights[k] - heights[k - 1])


@njit(cache=True)
def edge(job, flute, r):
    """Radius of a flute about the spindle axis, and its angle beyond 2 pi j / flutes, with exact runout."""
    rho = job[3]
    if rho == 0.0:
        return r, 0.0
    lag = job[4] - FULL * flute / job[2]
    x = r + rho * math.cos(lag)
    y = rho * math.sin(lag)
    return math.hypot(x, y), math.atan2(y, x)


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
        ch, sh = math.cos(motion[k, H]), math.sin(motion[k, H])
        along, across = dx * ch + dy * sh, -dx * sh + dy * ch
        kappa = motion[k, K]
        first, half, period = 0.0, -1.0, 0.0
        still = length == 0.0
        if still:
            half = 0.0 if math.hypot(dx, dy) <= reach else -1.0
        elif abs(kappa) * length < 1e-9:
            square = reach * reach - across * across
            if square >= 0.0:
                first, half = along, math.sqrt(square)
        else:
            rad = 1.0 / abs(kappa)
            lean = across if kappa > 0.0 else -across
            dist = math.hypot(along, rad - lean)
            # chord form of the law of cosines: no cancellation on flat arcs
            square = (reach - dist + rad) * (reach + dist - rad)
            if square >= 0.0:
                period = FULL * rad
                first = rad * math.atan2(along, rad - lean)
                if dist == 0.0 or square >= 4.0 * dist * rad:
                    half = 0.5 * period
                else:
                    half = 2.0 * rad * math.asin(math.sqrt(square / (4.0 * dist * rad)))
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
def add_interval(cover, n, low, high):
    """Insert [low, high] into n sorted disjoint intervals; returns their new number, -1 if full."""
    if high <= low:
        return n
    i = 0
    while i < n and cover[i, 1] < low:
        i += 1
    j = i
    while j < n and cover[j, 0] <= high:
        low, high = min(low, cover[j, 0]), max(high, cover[j, 1])
        j += 1
    if j == i:
        if n == cover.shape[0]:
            return -1
        for m in range(n, i, -1):
            cover[m, 0], cover[m, 1] = cover[m - 1, 0], cover[m - 1, 1]
        n += 1
    elif j > i + 1:
        shift = j - i - 1
        for m in range(j, n):
            cover[m - shift, 0], cover[m - shift, 1] = cover[m, 0], cover[m, 1]
        n -= shift
    cover[i, 0], cover[i, 1] = low, high
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
    radius, extra = edge(job, flute, profile_radius(heights, radii, view[4] + depth))
    psi = job[1] * dt + lag - extra + view[5]
    rate = job[0] * speed * (view[2] * math.sin(heading) - view[3] * math.cos(heading))
    return a, b, radius, psi, rate


@njit(cache=True)
def edge_rates(motion, job, heights, radii, k, tau, flute, radius, view):
    """Rates of R and psi: on a ramp the slice grows, and with it the angle changes by which runout shifts the edge."""
    if (motion[k, W] == 0.0 and motion[k, B] == 0.0) or radius == 0.0:
        return 0.0, job[1]
    depth = depth_on(motion, k, tau)
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
    n = 0
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
                    _, extra = edge(job, i, r)
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
    wanders = job[3] > 0.0 and (k0 != k1 or not level_on(motion, k0))
    wanders = wanders or (job[3] > 0.0 and (psi0 < m * PI - 1e-9 or psi1 > (m + 1) * PI + 1e-9))
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
        if view[4] + depth_on(motion, k, x + (tc - motion[k, T0])) < 0.0:
            continue
        if abs(b) <= 1e-12 * (1.0 + abs(a)) and abs(math.sin(psi)) < 1e-12 * (1.0 + abs(psi)):
            tip = a + r * math.cos(psi)
            n = add_interval(cover, n, max(min(a, tip), 0.0), max(a, tip))
    small = min(r0, r1)
    for k in range(k0, k1 + 1):
        shift = tc - motion[k, T0]
        low, high = max(begin, -shift), min(end, motion[k, DT] - shift)
        # on a ramp a tooth clears nothing of the slice while its tip is above it
        rise = -view[4] - motion[k, D]
        last_rise = -view[4] - depth_on(motion, k, motion[k, DT])
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
def steady_thickness(motion, job, k, tau, heading, cx, cy, phi, flute, r, base):
    """Radial thickness in steady level cutting on one line or arc: only the last turn's passes matter.

    In the slice of radius r, on the ray to the edge in the slice of radius `base`; both are the same but for the search
    along a flank's normal. Returns -1 where a pass has no root on the ray; the caller then takes the general road.
    """
    sense, omega, flutes = job[0], job[1], int(job[2])
    radius, own = edge(job, flute, base)
    radius += r - base
    azimuth = heading + sense * (phi - 0.5 * PI)
    ux, uy = math.cos(azimuth), math.sin(azimuth)
    most = -1e300
    for m in range(1, flutes + 1):
        i = (flute - m) % flutes
        ri, extra = edge(job, i, r)
        lag = FULL * m / flutes - extra + own
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
def steady_table(job, heights, radii, speed, curvature, phis, levels, radial, chip, speed_out):
    """What each flute meets in steady level cutting, (flutes, angles, heights): the same at every turn.

    Fills radial and normal thickness and the edge's speed [m/s]; NaN where `pass_lanes` or this does not hold. Returns
    the largest angle by which runout moves an edge. The iteration along the normal is that of `tooth_pass_table`.
    """
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
            at = radii[radii.shape[0] - 1]
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
    older = begin
    while motion[older, T0] > since:
        if older == 0 or not joined(motion, older) or abs(motion[k, K]) * reach > 0.5:
            return np.inf
        older -= 1
        if abs(motion[older, K]) * reach > 0.5:
            return np.inf
    return motion[begin, T0]


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
def sweep_rows(motion, job, begin, end, out):
    """Rows of the tooth-pass table: (flute, from, to, turn, when it would have begun).

    A row is one sweep of one flute from -90 to 270 deg.

    Where the heading jumps back against the rotation a new row opens. Returns their number; only counts when the
    table is full.
    """
    n = 0
    flutes = int(job[2])
    for j in range(flutes):
        base = 0.5 * PI - FULL * j / flutes
        turn, phi, opened = 0, -1e300, False
        for k in range(motion.shape[0]):
            low = max(motion[k, T0], begin)
            high = min(motion[k, T0] + motion[k, DT], end)
            if high <= low:
                continue
            now = rotation(motion, job, k, low - motion[k, T0]) + base
            here = math.floor(now / FULL)
            if opened and (now < phi - 1e-7 or (here != turn and now > phi + 1e-7)):
                if n < out.shape[0]:
                    out[n, 2] = low
                n += 1
                opened = False
            if not opened:
                turn, opened = here, True
                if n < out.shape[0]:
                    out[n, 0], out[n, 1], out[n, 3] = j, low, turn
                    out[n, 4] = low - (now - FULL * turn) / job[1]
            phi = rotation(motion, job, k, high - motion[k, T0]) + base
            while phi >= FULL * (turn + 1):
                at = motion[k, T0] + rotation_time(motion, job, k, FULL * (turn + 1) - base)
                at = min(max(at, low), high)
                if n < out.shape[0]:
                    out[n, 2] = at
                n += 1
                turn += 1
                if n < out.shape[0]:
                    out[n, 0], out[n, 1], out[n, 3] = j, at, turn
                    out[n, 4] = at
        if opened:
            if n < out.shape[0]:
                out[n, 2] = end
            n += 1
    return n


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
def thickness_at(motion, job, heights, radii, prior, windows, count, steady, k, tau, phi, flute, h, up, cover):
    """Radial thickness of a flute when its edge at height h stands at rotation phi, near time tau of piece k.

    In the slice at height `up` instead, if that is not h: at the same instant, on a parallel ray that ends as much
    farther out as the outline is wider there. (With runout the edge at that height is not quite on it.)
    """
    base = profile_radius(heights, radii, h)
    radius, own = edge(job, flute, base)
    if own != 0.0:
        # with runout the edge at this height crosses the angle a little before or after the nominal direction
        k, tau = turned_by(motion, job, k, tau, own)
        if k < 0:
            return np.nan, np.nan
    x, y, heading, depth, speed = state(motion, k, tau)
    swing = job[1] * radius
    r = profile_radius(heights, radii, up)
    radius += r - base
    fall = motion[k, W] + motion[k, B] * tau
    edge_speed = math.sqrt(swing * swing + speed * speed + 2.0 * swing * speed * math.cos(phi) + fall * fall)
    if steady:
        thick = steady_thickness(motion, job, k, tau, heading, x, y, phi, flute, r, base)
        if thick > 0.0 and prior[0].shape[0] > 0:
            # what the tool's own teeth have left is the end of the ray; of it earlier motions may have taken a part
            azimuth = heading + job[0] * (phi - 0.5 * PI)
            ux, uy = math.cos(azimuth), math.sin(azimuth)
            begin = radius - thick
            n = cover_by_teeth(prior, x + begin * ux, y + begin * uy, azimuth, up - depth, thick, cover, 0)
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


@njit(cache=True, nogil=True)
def tooth_pass_table(
    motion, job, heights, radii, prior, rows, phis, levels, biggest, time, state_out, radial, chip, speed_out, road
):
    """Fill the tooth-pass table: rows x angles x heights; see `kinematics.tooth_passes`. Returns a status.

    Status 0: well; 1: too many windows; 2: too many intervals. `road` 2 takes steady stretches from `steady_table`,
    1 from `steady_thickness` cell by cell, 0 goes the general way everywhere.
    """
    flutes = int(job[2])
    lasting = np.empty((3, flutes if road == 2 else 0, phis.shape[0], levels.shape[0]))
    known_speed, known_curvature, widest = -1.0, 0.0, 0.0
    time[:], state_out[:], radial[:], chip[:], speed_out[:] = np.nan, np.nan, np.nan, np.nan, np.nan
    windows = np.empty((4096, 2))
    cover = np.empty((1024, 2))
    omega = job[1]
    nobody = np.empty(0, np.int64)
    groups = prior[1].shape[0] - 1
    widest_before = np.zeros(groups)
    for g in range(groups):
        before = prior[0][prior[1][g] : prior[1][g + 1]]
        outline, width = prior[2][prior[4][g] : prior[4][g + 1]], prior[3][prior[4][g] : prior[4][g + 1]]
        for k in range(before.shape[0]):
            deepest = max(before[k, D], depth_on(before, k, before[k, DT]))
            widest_before[g] = max(widest_before[g], profile_radius(outline, width, deepest) + prior[5][g, 3])
    for row in range(rows.shape[0]):
        flute = int(rows[row, 0])
        begin, end, turn = rows[row, 1], rows[row, 2], rows[row, 3]
        k0 = locate(motion, begin)
        x, y, _, _, v = state(motion, k0, begin - motion[k0, T0])
        way = 0.0
        for k in range(k0, motion.shape[0]):
            if motion[k, T0] >= end:
                break
            way += max(motion[k, V], motion[k, V] + motion[k, A] * motion[k, DT]) * (
                min(end, motion[k, T0] + motion[k, DT]) - max(begin, motion[k, T0])
            )
        slack = way + 0.02 * FULL / omega * v
        count = near_windows(motion, nobody, -1, x, y, 2.0 * biggest + slack, end + FULL / omega, windows)
        if count < 0:
            return 1
        for g in range(groups):
            before, held = prior[0][prior[1][g] : prior[1][g + 1]], prior[7][g]
            found = near_windows(before, nobody, -1, x, y, biggest + slack + widest_before[g], 1e300, prior[6][held:])
            if found < 0:
                return 1
            prior[7][g + 1] = held + found
        latest, since = -1, np.inf
        for col in range(phis.shape[0]):
            target = phis[col] + FULL * turn
            # `rotation` runs in [-90, 270) within a row: phis are folded there by the front
            k, tau = crossing(motion, job, flute, begin, end, target)
            if k < 0:
                continue
            t = motion[k, T0] + tau
            time[row, col] = t
            cx, cy, heading, depth, speed = state(motion, k, tau)
            state_out[row, col, 0], state_out[row, col, 1] = cx, cy
            state_out[row, col, 2], state_out[row, col, 3] = heading, depth
            state_out[row, col, 4], state_out[row, col, 5] = speed, motion[k, W] + motion[k, B] * tau
            if k != latest:
                latest, since = k, np.inf
                if road > 0 and count == 1:
                    since = steady_from(motion, k, windows[0, 0], biggest)
            steady_path = t - since > 1.5 * FULL / omega
            rev = speed * FULL / omega
            from_table = False
            if steady_path and road == 2 and prior[0].shape[0] == 0:
                if speed != known_speed or motion[k, K] != known_curvature:
                    known_speed, known_curvature = speed, motion[k, K]
                    widest = steady_table(
                        job, heights, radii, speed, known_curvature, phis, levels, lasting[0], lasting[1], lasting[2]
                    )
                # every height's edge, moved by the runout, crosses on this very piece
                from_table = tau + widest / (omega - job[0] * known_curvature * speed) <= motion[k, DT]
            for level in range(levels.shape[0]):
                h = levels[level]
                if h > depth + 1e-9:
                    continue
                if from_table:
                    thick = lasting[0, flute, col, level]
                    if not math.isnan(thick):
                        radial[row, col, level] = thick
                        chip[row, col, level] = lasting[1, flute, col, level]
                        speed_out[row, col, level] = lasting[2, flute, col, level]
                        continue
                r = profile_radius(heights, radii, h)
                steady = steady_path and steady_enough(job, motion[k, K], rev, r)
                thick, edge_speed = thickness_at(
                    motion, job, heights, radii, prior, windows, count, steady, k, tau, phis[col], flute, h, h, cover
                )
                if thick < 0.0:
                    return 2
                radial[row, col, level] = thick
                speed_out[row, col, level] = edge_speed * 1e-3
                if math.isnan(thick):
                    continue
                lean = math.atan(profile_slope(heights, radii, h))
                ca, sa = math.cos(lean), math.sin(lean)
                if r < rev * (1.0 / job[2] + 1.0 / PI) + 2.0 * job[3]:
                    # the tip zone, r < f_z + 2 e: readings of thickness part and the normal may meet several surfaces
                    chip[row, col, level] = ca * thick
                    continue
                # along the flank's normal: n = cos a (h_r at h + n sin a), plus what the outline bends away
                n = ca * thick
                settled, last_miss = False, np.inf
                for _ in range(60):
                    up = h + n * sa
                    other, _ = thickness_at(
                        motion,
                        job,
                        heights,
                        radii,
                        prior,
                        windows,
                        count,
                        steady,
                        k,
                        tau,
                        phis[col],
                        flute,
                        h,
                        up,
                        cover,
                    )
                    if other < 0.0:
                        return 2
                    bend = r + n * sa * math.tan(lean) - profile_radius(heights, radii, up)
                    miss = max(ca * (other + bend), 0.0) - n
                    n += miss
                    # the general road knows a thickness to some 1e-10 at worst: the search may end in that noise
                    settled = math.isnan(n) or abs(miss) <= 1e-14 * (1.0 + r) or last_miss <= abs(miss) < 1e-8
                    last_miss = abs(miss)
                    if settled:
                        break
                if not settled:
                    # where the tip has only just come by, the thickness jumps on the way along the normal: from the
                    # whole radius, in slices that nothing has entered, to a chip. The normal meets the axis at r / ca.
                    low, high = 0.0, (r + job[3]) / ca
                    for _ in range(100):
                        n = 0.5 * (low + high)
                        up = h + n * sa
                        other, _ = thickness_at(
                            motion,
                            job,
                            heights,
                            radii,
                            prior,
                            windows,
                            count,
                            steady,
                            k,
                            tau,
                            phis[col],
                            flute,
                            h,
                            up,
                            cover,
                        )
                        if other < 0.0:
                            return 2
                        bend = r + n * sa * math.tan(lean) - profile_radius(heights, radii, up)
                        if ca * (other + bend) > n:
                            low = n
                        else:
                            high = n
                        if high - low <= 1e-15 * (1.0 + r):
                            break
                chip[row, col, level] = n
    return 0


@njit(cache=True)
def cell_of(grid, x, y):
    """Find the place of the cell that holds (x, y) in the list of cells that hold pieces, -1 if it is not there.

    grid = (x0, y0, size, columns, rows, cells), cells numbered along the rows, ascending.
    """
    i, j = math.floor((x - grid[0]) / grid[2]), math.floor((y - grid[1]) / grid[2])
    if i < 0 or j < 0 or i >= grid[3] or j >= grid[4]:
        return -1
    wanted, cells = int(i + grid[3] * j), grid[5]
    low, high = 0, cells.shape[0]
    while low < high:
        middle = (low + high) // 2
        if cells[middle] < wanted:
            low = middle + 1
        else:
            high = middle
    return low if low < cells.shape[0] and cells[low] == wanted else -1


@njit(cache=True)
def clearance_to(motion, heights, radii, k, x, y, lift):
    """Least distance of (x, y) beyond the groove's edge along piece k, negative inside, and where along the piece.

    In the slice at height `lift` above the face (0: the face itself); 1e300 if the tip stays above it. Derived for
    ramps: where the radius runs straight at the rate m along the piece, the distance beyond the edge is least where
    the distance from the axis grows at that rate, on a line and on an arc a place in closed form.
    """
    length = motion[k, DS]
    dx, dy = x - motion[k, X], y - motion[k, Y]
    ch, sh = math.cos(motion[k, H]), math.sin(motion[k, H])
    along, across = dx * ch + dy * sh, -dx * sh + dy * ch
    kappa, rise = motion[k, K], motion[k, M]
    bent = abs(kappa) * length >= 1e-9
    near = along
    if bent:
        rad = 1.0 / abs(kappa)
        lean = across if kappa > 0.0 else -across
        near = rad * math.atan2(along, rad - lean)
        if near < 0.5 * (length - FULL * rad):
            near += FULL * rad
    near = min(max(near, 0.0), length)
    level = motion[k, D] + lift
    if length == 0.0:
        level = max(level, depth_on(motion, k, motion[k, DT]) + lift)
    if rise == 0.0:
        best, where = 1e300, 0.0
        if level < 0.0:
            return best, where
        for at in range(3):
            ds = near if at == 0 else (0.0 if at == 1 else length)
            px, py = point_at(motion, k, ds)
            apart = math.hypot(x - px, y - py)
            if apart < best:
                best, where = apart, ds
        return best - disc_radius(heights, radii, level), where
    best, where = 1e300, near
    last = heights.shape[0] - 1
    px, py = point_at(motion, k, near)
    nearest = min(math.hypot(x - px, y - py), math.hypot(dx, dy))
    px, py = point_at(motion, k, length)
    nearest = min(nearest, math.hypot(x - px, y - py))
    rad, dist, own = 0.0, 0.0, along
    if bent:
        rad = 1.0 / abs(kappa)
        lean = across if kappa > 0.0 else -across
        dist, own = math.hypot(along, rad - lean), rad * math.atan2(along, rad - lean)
    for j in range(last + 1):
        if nearest - radii[min(j + 1, last)] >= best:
            continue
        a = (heights[j] - level) / rise
        b = (heights[j + 1] - level) / rise if j < last else a + math.copysign(1e300, rise)
        lo, hi = max(min(a, b), 0.0), min(max(a, b), length)
        if hi < lo:
            continue
        rate = rise * (radii[j + 1] - radii[j]) / (heights[j + 1] - heights[j]) if j < last else 0.0
        leave, turn = abs(rate) < 1.0, 0.0
        if leave and bent:
            square = (1.0 - rate * rate) * (dist * dist - rate * rate * rad * rad)
            leave = square >= 0.0 and dist > 0.0
            if leave:
                turn = rad * math.acos(min((rate * rate * rad + math.sqrt(square)) / dist, 1.0))
        elif leave:
            turn = abs(rate * across) / math.sqrt(1.0 - rate * rate)
        # both ends, and the places between where it is least: on an arc the next turn of the circle has another
        for at in range(5 if bent else 3):
            ds = lo if at == 0 else hi
            if at >= 2:
                ds = own + math.copysign(turn, rate) + FULL * rad * (0.0 if at == 2 else (1.0 if at == 3 else -1.0))
                if not leave or not lo < ds < hi:
                    continue
            px, py = point_at(motion, k, ds)
            value = math.hypot(x - px, y - py) - (radii[j] + rate * (ds - a))
            if value < best:
                best, where = value, ds
    return best, where


@njit(cache=True)
def point_at(motion, k, ds):
    """Point of piece k at arc length ds."""
    half = 0.5 * motion[k, K] * ds
    sinc = 1.0 - half * half / 6.0 if abs(half) < 1e-4 else math.sin(half) / half
    return (
        motion[k, X] + ds * sinc * math.cos(motion[k, H] + half),
        motion[k, Y] + ds * sinc * math.sin(motion[k, H] + half),
    )


@njit(cache=True, nogil=True)
def surviving_lips(motion, heights, radii, grid, first, members, lip, station, total, exists, margin):
    """Clear `exists` where any part of the path cuts deeper than `margin` beyond the lip point.

    For the path's own lips (`station` not empty, `total` its length, negative if closed) also where an earlier part
    runs along the very same lip: the wood was gone, and a lip counts once.
    """
    length = abs(total)
    for row in range(lip.shape[0]):
        for side in range(2):
            if not exists[row, side]:
                continue
            x, y = lip[row, side, 0], lip[row, side, 1]
            cell = cell_of(grid, x, y)
            if cell < 0:
                continue
            for c in range(first[cell], first[cell + 1]):
                k = members[c]
                gap, ds = clearance_to(motion, heights, radii, k, x, y, 0.0)
                if gap < -margin:
                    exists[row, side] = False
                    break
                if gap < margin and station.shape[0] > 0:
                    behind = station[row] - (motion[k, S0] + ds)
                    if behind > 0.05 and not (total < 0.0 and behind > length - 0.05):
                        exists[row, side] = False
                        break


@njit(cache=True)
def groove_gap(motion, heights, radii, pieces, begin, end, x, y, lift):
    """Signed distance-like measure of (x, y) from a groove: negative inside. `pieces[begin:end]` are looked at."""
    least = 1e300
    for c in range(begin, end):
        k = pieces[c]
        # no point of the piece is farther from its start than its length
        apart = math.hypot(x - motion[k, X], y - motion[k, Y]) - motion[k, DS]
        if apart > radii[radii.shape[0] - 1]:
            least = min(least, apart - radii[radii.shape[0] - 1])
            continue
        gap, _ = clearance_to(motion, heights, radii, k, x, y, lift)
        least = min(least, gap)
        if least < 0.0:
            break
    return least


@njit(cache=True)
def hull_chord(ax, ay, ra, bx, by, rb):
    """Stretch of the x axis inside the hull of two discs, low > high if none."""
    low, high = 1e300, -1e300
    if abs(ay) < ra:
        half = math.sqrt((ra - ay) * (ra + ay))
        low, high = ax - half, ax + half
    if abs(by) < rb:
        half = math.sqrt((rb - by) * (rb + by))
        low, high = min(low, bx - half), max(high, bx + half)
    dx, dy = bx - ax, by - ay
    length = math.hypot(dx, dy)
    if length > abs(rb - ra):
        ex, ey, rate = dx / length, dy / length, (rb - ra) / length
        root = math.sqrt(1.0 - rate * rate)
        for side in range(2):
            # the two tangents that touch both discs from outside
            turn = root if side == 0 else -root
            nx, ny = -rate * ex - turn * ey, -rate * ey + turn * ex
            y0, y1 = ay + ra * ny, by + rb * ny
            if (y0 < 0.0) != (y1 < 0.0):
                x0, x1 = ax + ra * nx, bx + rb * nx
                at = x0 + (x1 - x0) * (y0 / (y0 - y1))
                low, high = min(low, at), max(high, at)
    return low, high


@njit(cache=True)
def cover_by_piece(motion, heights, radii, k, x, y, ux, uy, lift, reach, cover, n):
    """Add the stretches of a ray, from 0 to `reach`, that lie inside what piece k takes away; see `clearance_to`.

    Closed forms, so that no groove is too narrow: a straight piece takes away the hulls of pairs of discs, one for each
    knot of the outline that it passes; an arc on the level what its two walls and its two ends bound. On the ramp of an
    arc the ray is walked in strides of the distance to the wall, in which no wall can lie, or 1e-7 mm.
    """
    length, rise, level = motion[k, DS], motion[k, M], motion[k, D] + lift
    last = heights.shape[0] - 1
    dx, dy = motion[k, X] - x, motion[k, Y] - y
    ax, ay = dx * ux + dy * uy, -dx * uy + dy * ux
    wide = radii[last] + length
    if abs(ay) > wide or ax < -wide or ax > reach + wide:
        return n
    ex, ey = point_at(motion, k, length)
    bx, by = (ex - x) * ux + (ey - y) * uy, -(ex - x) * uy + (ey - y) * ux
    bent = abs(motion[k, K]) * length >= 1e-9
    if not bent:
        if rise == 0.0:
            r = disc_radius(heights, radii, level)
            low, high = hull_chord(ax, ay, r, bx, by, r)
            return add_interval(cover, n, max(low, 0.0), min(high, reach))
        for j in range(last + 1):
            a = (heights[j] - level) / rise
            b = (heights[j + 1] - level) / rise if j < last else a + math.copysign(1e300, rise)
            lo, hi = max(min(a, b), 0.0), min(max(a, b), length)
            if hi < lo:
                continue
            rate = rise * (radii[j + 1] - radii[j]) / (heights[j + 1] - heights[j]) if j < last else 0.0
            s, e = lo / length, hi / length
            low, high = hull_chord(
                ax + s * (bx - ax),
                ay + s * (by - ay),
                radii[j] + rate * (lo - a),
                ax + e * (bx - ax),
                ay + e * (by - ay),
                radii[j] + rate * (hi - a),
            )
            n = add_interval(cover, n, max(low, 0.0), min(high, reach))
            if n < 0:
                return n
        return n
    if rise == 0.0:
        r = disc_radius(heights, radii, level)
        if r <= 0.0:
            return n
        rad = 1.0 / abs(motion[k, K])
        left = math.copysign(rad, motion[k, K])
        ox, oy = dx - left * math.sin(motion[k, H]), dy + left * math.cos(motion[k, H])
        ox, oy = ox * ux + oy * uy, -ox * uy + oy * ux
        walls = np.empty(10)
        walls[0], walls[1] = 0.0, reach
        count = 2
        for wall in range(4):
            px, py, size = (ox, oy, rad + r) if wall == 0 else (ox, oy, abs(rad - r))
            if wall >= 2:
                px, py, size = (ax, ay, r) if wall == 2 else (bx, by, r)
            if abs(py) < size:
                half = math.sqrt((size - py) * (size + py))
                for side in range(2):
                    at = px - half if side == 0 else px + half
                    if 0.0 < at < reach:
                        walls[count] = at
                        count += 1
        walls[:count].sort()
        for i in range(count - 1):
            middle = 0.5 * (walls[i] + walls[i + 1])
            gap, _ = clearance_to(motion, heights, radii, k, x + middle * ux, y + middle * uy, lift)
            if gap < 0.0:
                n = add_interval(cover, n, walls[i], walls[i + 1])
                if n < 0:
                    return n
        return n
    gap, _ = clearance_to(motion, heights, radii, k, x, y, lift)
    within, low, q = gap < 0.0, 0.0, 0.0
    while q < reach and gap < 1e299:
        ahead = min(q + max(abs(gap), 1e-7), reach)
        gap, _ = clearance_to(motion, heights, radii, k, x + ahead * ux, y + ahead * uy, lift)
        if (gap < 0.0) != within:
            a, b = q, ahead
            while b - a > 1e-13:
                middle = 0.5 * (a + b)
                other, _ = clearance_to(motion, heights, radii, k, x + middle * ux, y + middle * uy, lift)
                if (other < 0.0) == within:
                    a = middle
                else:
                    b = middle
            if within:
                n = add_interval(cover, n, low, b)
                if n < 0:
                    return n
            low, within = b, not within
        q = ahead
    if within:
        n = add_interval(cover, n, low, reach)
    return n


@njit(cache=True, nogil=True)
def earlier_surface(motion, heights, radii, grid, first, members, lip, azimuth, reach, exists, surface):
    """Lower `surface` to where an earlier groove, at its nominal width, begins on the probe inwards from each lip.

    A lip within 1e-6 mm of the earlier groove's edge has no wood left: `exists` is cleared.
    """
    cover = np.empty((64, 2))
    for row in range(lip.shape[0]):
        for side in range(2):
            if not exists[row, side]:
                continue
            x, y = lip[row, side, 0], lip[row, side, 1]
            ux, uy = math.cos(azimuth[row, side]), math.sin(azimuth[row, side])
            cell = cell_of(grid, x, y)
            if cell < 0:
                continue
            a, b = first[cell], first[cell + 1]
            if groove_gap(motion, heights, radii, members, a, b, x, y, 0.0) < 1e-6:
                exists[row, side] = False
                continue
            limit = min(reach, surface[row, side])
            for c in range(a, b):
                n = cover_by_piece(motion, heights, radii, members[c], x, y, -ux, -uy, 0.0, limit, cover, 0)
                if n != 0:
                    limit = cover[0, 0]
                    surface[row, side] = limit


@njit(cache=True)
def clear_of_groove(motion, heights, radii, windows, first, last, x, y, ux, uy, lift, radius, margin):
    """Whether the whole of a ray stays farther than `margin` from a groove of nominal width; then no tooth reached it.

    No point is nearer to the wall than `groove_gap` says: the ray is walked in strides of that length. Only pieces
    under way in the `windows` are looked at.
    """
    pieces = np.arange(motion.shape[0])
    q = 0.0
    for _ in range(200):
        gap = 1e300
        for w in range(first, last):
            begin, end = locate(motion, windows[w, 0]), locate(motion, windows[w, 1]) + 1
            gap = min(gap, groove_gap(motion, heights, radii, pieces, begin, end, x + q * ux, y + q * uy, lift))
        if gap <= margin + 1e-9:
            return False
        if q >= radius:
            return True
        q = min(q + gap - margin, radius)
    return False


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
            r = profile_radius(outline, width, max(lift + depth_on(motion, k, tc - motion[k, T0]), 0.0))
            # angle of flute 0's nominal direction from the ray at tc, in the sense of that motion's rotation
            own = (omega * tc + job[0] * (job[5] - azimuth)) % FULL
            view = (x, y, ux, uy, lift, own)
            for i in range(flutes):
                lag = -FULL * i / flutes
                _, extra = edge(job, i, r)
                offset = lag - extra + own
                m = math.floor(offset / PI)
                while True:
                    begin, end = (m * PI - offset) / omega, ((m + 1) * PI - offset) / omega
                    if end <= lo:
                        break
                    begin, end = max(begin, lo), min(end, 0.0)
                    if end > begin:
                        n = cover_half_turn(
                            motion, job, outline, width, tc, i, lag, view, m, begin, end, radius, 1, cover, n
                        )
                        if n < 0 or (n == 1 and cover[0, 0] <= 0.0 and cover[0, 1] >= radius):
                            return n
                    m -= 1
    return n


@njit(cache=True, nogil=True)
def lip_history(
    motion,
    job,
    heights,
    radii,
    grid,
    first,
    members,
    lip,
    azimuth,
    half_width,
    exists,
    surface_left,
    bundle,
    biggest,
    chips,
    depths,
    speeds,
    counts,
    road,
):
    """Strikes on the last `bundle` of wood at each lip point, gathered along the probe through it.

    The probe lies in the face, from the lip point inwards to the axis. Every crossing of a tooth's edge with it within
    reach is found (one Newton solve a turn, where `one_crossing` says that there are no two), put in order of time, and
    counts if it removes wood and reaches within `bundle` of the finished lip. Returns a status: 0 well, 1 too many
    windows or crossings, 2 the tables are too narrow (`counts` is then right). `road` 1 takes `steady_crossing` where
    it holds, 0 does without it.
    """
    windows = np.empty((256, 2))
    when = np.empty(20000)
    left = np.empty(20000)
    fast = np.empty(20000)
    hits, ends = np.empty((64, 3)), np.empty((64, 2))
    sense, omega, flutes = job[0], job[1], int(job[2])
    rims = np.empty((flutes, 2))
    e, r, way, at_way, from_, to, ahead, aside, a0, b0 = 0.0, 0.0, 0.0, 0.0, 1.0, -1.0, 0.0, 0.0, 0.0, 0.0
    bow, clear = 0.0, 1e300
    width = chips.shape[2]
    narrow = False
    last = motion.shape[0] - 1
    end_of_time = motion[last, T0] + motion[last, DT]
    top_speed = 0.0
    for k in range(motion.shape[0]):
        top_speed = max(top_speed, motion[k, V], motion[k, V] + motion[k, A] * motion[k, DT])
    margin = top_speed * FULL / omega + 2.0 * job[3]
    most_drift = top_speed / omega * (1.0 + steepest(heights, radii, 0.0, 1e300)[1] * np.max(np.abs(motion[:, M])))
    for row in range(lip.shape[0]):
        for side in range(2):
            counts[row, side] = 0
            if not exists[row, side]:
                continue
            x, y = lip[row, side, 0], lip[row, side, 1]
            ux, uy = math.cos(azimuth[row, side]), math.sin(azimuth[row, side])
            inner = half_width[row]
            cell = cell_of(grid, x, y)
            if cell < 0:
                continue
            total = first[cell + 1] - first[cell]
            found = 0
            for look in range(2):
                # Along a lip the last surface before the bundle is reached lies at most a turn's advance further in.
                # Where the first strike that counts has no such forerunner (starts, corners) look again, to the axis.
                outlook = min(bundle + margin, inner) if look == 0 else inner
                count = near_windows(
                    motion,
                    members[first[cell] : first[cell + 1]],
                    total,
                    x,
                    y,
                    biggest + outlook,
                    end_of_time,
                    windows,
                )
                if count < 0:
                    return 1
                n = 0
                least, least_at = 1e300, 0.0
                k = locate(motion, windows[0, 0]) if count > 0 else 0
                at = -1
                for w in range(count):
                    begin, end = windows[w, 0], windows[w, 1]
                    base = (omega * begin + sense * (job[5] - azimuth[row, side])) % FULL
                    m_low = math.floor((base - PI) / FULL)
                    m_high = math.ceil((base + omega * (end - begin) + PI) / FULL)
                    for m in range(m_low, m_high + 1):
                        for j in range(flutes):
                            # nominal alignment of flute j with the outward probe, relative to `begin`
                            aligned = (FULL * m + FULL * j / flutes - base) / omega
                            if aligned < -0.5 * FULL / omega or aligned > end - begin + 0.5 * FULL / omega:
                                continue
                            k = walk(motion, k, begin + aligned)
                            seen = -1
                            since = begin + aligned - motion[k, T0]
                            # no matter what stays farther from the lip than an earlier tooth came
                            shadow = min(least, outlook) if begin + aligned - PI / omega > least_at else outlook
                            if (
                                road > 0
                                and motion[k, A] == 0.0
                                and motion[k, W] == 0.0
                                and motion[k, B] == 0.0
                                and since > PI / omega
                                and since < motion[k, DT] - PI / omega
                            ):
                                if at != k:
                                    at, e, bow = k, motion[k, V] / omega, abs(motion[k, K])
                                    r = profile_radius(heights, radii, motion[k, D])
                                    for i in range(flutes):
                                        rims[i, 0], rims[i, 1] = edge(job, i, r)
                                    from_, to = 1.0, -1.0
                                    clear = max(4.0 * e, 3.0 * job[3]) if r - job[3] > 6.1 * e else 1e300
                                way = motion[k, V] * since
                                if not from_ <= way <= to:
                                    # one point of the axis serves all teeth that are near it
                                    px, py, heading, _, _ = state(motion, k, since)
                                    spread = 0.3 / bow if bow != 0.0 else 1e300
                                    at_way, from_, to = way, way - spread, way + spread
                                    ch, sh = math.cos(heading), math.sin(heading)
                                    ahead, aside = ux * ch + uy * sh, ux * sh - uy * ch
                                    a0 = (px - x) * ux + (py - y) * uy
                                    b0 = ux * (py - y) - uy * (px - x)
                                beyond = way - at_way
                                # share of the axis' advance that can go along the probe, in a turn
                                share = abs(ahead) + bow * (abs(beyond) + PI * e)
                                nearest = a0 + beyond * ahead + 0.5 * bow * beyond * beyond + PI * e * share
                                if -nearest - shadow > clear:
                                    ok, psi, depth_left, edge_speed = steady_crossing(
                                        e,
                                        motion[k, K],
                                        omega,
                                        sense,
                                        rims[j, 0],
                                        rims[j, 1],
                                        beyond,
                                        ahead,
                                        aside,
                                        a0,
                                        b0,
                                        share,
                                        shadow,
                                    )
                                    if ok:
                                        if depth_left > outlook:
                                            continue
                                        seen, hits[0, 0] = 1, aligned + (psi + rims[j, 1]) / omega
                                        hits[0, 1], hits[0, 2] = depth_left, edge_speed
                            if seen < 0:
                                seen = probe_crossing(
                                    motion,
                                    job,
                                    heights,
                                    radii,
                                    begin,
                                    end_of_time,
                                    aligned,
                                    j,
                                    x,
                                    y,
                                    ux,
                                    uy,
                                    k,
                                    most_drift,
                                    shadow,
                                    hits,
                                )
                            if seen < 0:
                                seen = probe_crossings(
                                    motion,
                                    job,
                                    heights,
                                    radii,
                                    begin,
                                    end,
                                    aligned,
                                    j,
                                    x,
                                    y,
                                    ux,
                                    uy,
                                    k,
                                    shadow,
                                    ends,
                                    hits,
                                )
                            if seen < 0:
                                return 1
                            for h in range(seen):
                                dt, depth_left = hits[h, 0], hits[h, 1]
                                if dt < 0.0 or begin + dt >= end or depth_left > outlook:
                                    continue
                                # farther out than its own teeth reach cuts another groove, which the lip survived
                                if depth_left < -(job[3] + 1e-6):
                                    continue
                                if n == when.shape[0]:
                                    return 1
                                t = begin + dt
                                if depth_left < least:
                                    least, least_at = depth_left, t
                                i = n
                                while i > 0 and when[i - 1] > t:
                                    when[i], left[i], fast[i] = when[i - 1], left[i - 1], fast[i - 1]
                                    i -= 1
                                when[i], left[i], fast[i] = t, depth_left, hits[h, 2]
                                n += 1
                finished = 1e300
                for i in range(n):
                    finished = min(finished, left[i])
                surface = min(inner, surface_left[row, side])
                met = surface_left[row, side] <= outlook
                found = 0
                lonely = False
                for i in range(n):
                    if left[i] >= surface - 1e-9:
                        continue
                    if left[i] < finished + bundle:
                        if found == 0 and not met:
                            lonely = True
                        if found < width:
                            chips[row, side, found] = surface - left[i]
                            depths[row, side, found] = left[i]
                            speeds[row, side, found] = fast[i] * 1e-3
                        else:
                            narrow = True
                        found += 1
                    surface = left[i]
                    met = True
                # or where the finished surface stays so far from the lip that its bundle is not seen whole
                if not (lonely or finished + bundle > outlook) or outlook >= inner:
                    break
            counts[row, side] = found
    most = min(max(np.max(counts), 1), width) if lip.shape[0] > 0 else 0
    for row in range(lip.shape[0]):
        for side in range(2):
            for i in range(counts[row, side], most):
                chips[row, side, i], depths[row, side, i], speeds[row, side, i] = np.nan, np.nan, np.nan
    return 2 if narrow else 0


@njit(cache=True, error_model="numpy")
def steady_crossing(e, curvature, omega, sense, radius, extra, way, ahead, aside, a0, b0, share, shadow):
    """`probe_crossing` on a level line or arc at constant speed: two evaluations and no library call.

    The axis stood at a0 along the probe and b0 to its left with cosine and sine `ahead`, `aside` of its heading to
    the probe; the nominal alignment is `way` farther along the path, the tooth's edge crosses at psi, e (psi + extra)
    beyond that. Returns solved, psi, depth still uncut, edge speed [mm/s]. Unsolved where a guard of the series says
    so. Depth 1e300 where the tooth cannot come nearer to the lip than `shadow`: |psi| <= 90 deg, so that the axis is
    at most a quarter turn's advance from where it is at alignment, `share` of it along the probe.
    """
    x = way + e * extra
    y = curvature * x
    w = y * y
    s = x * (1.0 + w * (-1.0 / 6.0 + w * (1.0 / 120.0 + w * (-1.0 / 5040.0 + w * (1.0 / 362880.0)))))
    v = x * y * (0.5 + w * (-1.0 / 24.0 + w * (1.0 / 720.0 + w * (-1.0 / 40320.0 + w * (1.0 / 3628800.0)))))
    a = a0 + s * ahead - v * aside
    b = sense * (b0 + s * aside + v * ahead)
    far = 0.5 * PI * e
    off = max(abs(b) - far, 0.0)
    if off >= radius or -(a + share * far + math.sqrt(radius * radius - off * off)) > shadow:
        return True, 0.0, 1e300, 0.0
    slope = e * sense * aside
    if not abs(b) < 0.7 * (radius + slope):
        return False, 0.0, 0.0, 0.0
    inverse = 1.0 / (radius + slope)
    u = -b * inverse
    w, ratio = u * u, radius * inverse
    psi = u + u * w * ratio * (1.0 / 6.0 + w * (ratio * (1.0 / 12.0) - 1.0 / 120.0))
    last = 1.0
    depth, speed = 0.0, 0.0
    for step in range(3):
        w = psi * psi
        sp = -1.0 / 39916800.0 + w * (1.0 / 6227020800.0 + w * (-1.0 / 1307674368000.0 + w * (1.0 / 355687428096000.0)))
        sp = 1.0 / 120.0 + w * (-1.0 / 5040.0 + w * (1.0 / 362880.0 + w * sp))
        sp = psi * (1.0 + w * (-1.0 / 6.0 + w * sp))
        cp = 1.0 / 479001600.0 + w * (-1.0 / 87178291200.0 + w * (1.0 / 20922789888000.0))
        cp = 1.0 / 24.0 + w * (-1.0 / 720.0 + w * (1.0 / 40320.0 + w * (-1.0 / 3628800.0 + w * cp)))
        cp = 1.0 + w * (-0.5 + w * cp)
        x = way + e * (extra + psi)
        y = curvature * x
        w = y * y
        s = 1.0 / 362880.0 + w * (-1.0 / 39916800.0 + w * (1.0 / 6227020800.0))
        s = x * (1.0 + w * (-1.0 / 6.0 + w * (1.0 / 120.0 + w * (-1.0 / 5040.0 + w * s))))
        v = 1.0 / 3628800.0 + w * (-1.0 / 479001600.0 + w * (1.0 / 87178291200.0))
        v = y * (0.5 + w * (-1.0 / 24.0 + w * (1.0 / 720.0 + w * (-1.0 / 40320.0 + w * v))))
        cy, sy = 1.0 - y * v, curvature * s
        v = x * v
        along, across = cy * ahead - sy * aside, sense * (cy * aside + sy * ahead)
        a = a0 + s * ahead - v * aside
        b = sense * (b0 + s * aside + v * ahead)
        rs, rc = radius * sp, radius * cp
        inverse = 1.0 / (rc + e * across)
        last = -(rs + b) * inverse
        if step > 0 and abs(last) < 1e-8:
            # to first order in the step that remains
            depth = -(a + rc + last * (e * along - rs))
            swing, go = radius * omega, e * omega
            with_feed = across * cp - along * sp - last * (across * sp + along * cp)
            speed = math.sqrt(swing * swing + go * go + 2.0 * swing * go * with_feed)
            break
        bent = 0.5 * (sense * e * e * curvature * along - rs) * inverse
        psi += last * (1.0 - last * bent)
    good = abs(last) < 1e-8 and abs(psi) < 0.85 and abs(y) < 0.6
    return good, psi + last, depth, speed


@njit(cache=True)
def steepest(heights, radii, low, high):
    """Least and largest dr/dh of the outline between two heights."""
    n = heights.shape[0]
    least, most = 1e300, 0.0
    first, stop = 0, n - 1
    while stop - first > 1:
        middle = (first + stop) // 2
        if heights[middle] <= low - 1e-12:
            first = middle
        else:
            stop = middle
    for j in range(first, n):
        if heights[j] > high + 1e-12:
            break
        rate = (radii[j + 1] - radii[j]) / (heights[j + 1] - heights[j]) if j < n - 1 else 0.0
        if j < n - 1 and heights[j + 1] < low - 1e-12:
            continue
        least, most = min(least, rate), max(most, rate)
    return min(least, most), most


@njit(cache=True)
def drifts(motion, heights, radii, k, omega, begin, end, ux, uy):
    """How far the axis goes along (ux, uy) at most from the middle between two times, and the largest drift.

    The drift is the axis' advance a radian plus the growth of the slice a radian. `k` is a piece near by.
    """
    k = walk(motion, k, begin)
    way = drift = 0.0
    while True:
        low, high = max(begin - motion[k, T0], 0.0), max(min(end - motion[k, T0], motion[k, DT]), 0.0)
        fast = max(motion[k, V], motion[k, V] + motion[k, A] * motion[k, DT]) / omega
        one, two = low * (motion[k, V] + 0.5 * motion[k, A] * low), high * (motion[k, V] + 0.5 * motion[k, A] * high)
        heading = motion[k, H] + 0.5 * motion[k, K] * (one + two)
        share = abs(ux * math.cos(heading) + uy * math.sin(heading)) + 0.5 * abs(motion[k, K]) * (two - one)
        grow = 0.0
        if motion[k, M] != 0.0:
            one, two = motion[k, D] + motion[k, M] * one, motion[k, D] + motion[k, M] * two
            _, most = steepest(heights, radii, min(one, two), max(one, two))
            grow = most * abs(motion[k, M])
        way = max(way, 0.5 * omega * (end - begin) * fast * min(share, 1.0))
        drift = max(drift, fast * (1.0 + grow))
        k += 1
        if k >= motion.shape[0] or motion[k, T0] >= end:
            return way, drift


@njit(cache=True)
def edge_in_frame(motion, job, heights, radii, k, tau, phi, lag, x, y, ux, uy):
    """Edge in the frame of a probe: R sin(psi) + b, its growth a radian, wood left; velocity; depth of the tip.

    `phi` is the angle since the nominal alignment, of which psi differs by what runout adds.
    """
    sense, omega, rho = job[0], job[1], job[3]
    px, py, heading, depth, speed = state(motion, k, tau)
    depth = max(depth, 0.0)  # a ramp ends in the face but for rounding
    r = profile_radius(heights, radii, depth)
    s, c = math.sin(phi), math.cos(phi)
    up, out = r * s, r * c
    if rho > 0.0:
        up, out = up + rho * math.sin(phi - lag), out + rho * math.cos(phi - lag)
    rx, ry = px - x, py - y
    ch, sh = speed * math.cos(heading), speed * math.sin(heading)
    grow = 0.0
    if motion[k, M] != 0.0:
        grow = profile_slope(heights, radii, depth) * motion[k, M] * speed
    f = up + sense * (ux * ry - uy * rx)
    slope = out + (grow * s + sense * (ux * sh - uy * ch)) / omega
    return f, slope, -(rx * ux + ry * uy + out), up, out, depth, speed, ch, sh


@njit(cache=True)
def probe_crossings(motion, job, heights, radii, begin, end, aligned, flute, x, y, ux, uy, k, outlook, ends, hits):
    """All crossings of an edge with the probe within `outlook` of the lip, in the turn about its alignment.

    Fills (time after `begin`, depth still uncut, edge speed) and returns their number, however many the turn holds.
    Piece by piece of the motion, the time is halved until bounds on the first two derivatives say that the edge is
    away from the probe or moves across it in one direction only; then a change of sign is one crossing, and none is
    none. Between two such stretches no crossing can hide but a pair less than 1e-8 rad apart.
    """
    sense, omega, rho = job[0], job[1], job[3]
    lag = job[4] - flute * FULL / job[2]
    least = -(rho + 1e-6)
    low, high = max(begin + aligned - PI / omega, begin), min(begin + aligned + PI / omega, end)
    found = 0
    k = walk(motion, k, low)
    last = motion.shape[0] - 1
    while low < high:
        stop = motion[k + 1, T0] if k < last else motion[k, T0] + motion[k, DT]
        stop = min(stop, high)
        shift = motion[k, T0] - (begin + aligned)
        before, until = low - motion[k, T0], stop - motion[k, T0]
        if until > before:
            rise, bend = motion[k, M], abs(motion[k, A]) / (omega * omega)
            e = max(motion[k, V], motion[k, V] + motion[k, A] * motion[k, DT]) / omega
            f0, _, _, _, _, d0, _, _, _ = edge_in_frame(
                motion, job, heights, radii, k, before, omega * (before + shift), lag, x, y, ux, uy
            )
            ends[0, 0], held = until, 1
            ends[0, 1], _, _, _, _, d1, _, _, _ = edge_in_frame(
                motion, job, heights, radii, k, until, omega * (until + shift), lag, x, y, ux, uy
            )
            gentle, steep = (0.0, 0.0) if rise == 0.0 else steepest(heights, radii, min(d0, d1), max(d0, d1))
            big = profile_radius(heights, radii, max(d0, d1)) + rho
            grow, unsure = abs(rise) * steep * e, abs(rise) * (steep - gentle) * e
            most = big + grow + e
            curl = big + 2.0 * grow + abs(rise) * steep * bend + bend + e * e * abs(motion[k, K])
            while held > 0:
                after, f1 = ends[held - 1, 0], ends[held - 1, 1]
                middle, half = 0.5 * (before + after), 0.5 * omega * (after - before)
                f, slope, left, _, _, _, _, _, _ = edge_in_frame(
                    motion, job, heights, radii, k, middle, omega * (middle + shift), lag, x, y, ux, uy
                )
                away = abs(f) > most * half + 1e-12
                away = away or left - most * half > outlook + 1e-9 or left + most * half < least - 1e-9
                away = away or abs(f) > half * (abs(slope) + 0.5 * curl * half + unsure) + 1e-12
                if not away:
                    if abs(slope) <= curl * half + unsure and half > 1e-8:
                        if held == ends.shape[0]:
                            return -1
                        ends[held, 0], ends[held, 1] = middle, f
                        held += 1
                        continue
                    if (f0 < 0.0) != (f1 < 0.0):
                        if found == hits.shape[0]:
                            return -1
                        a, b, rising = before, after, f0 < 0.0
                        tau, past = middle, after - before
                        for _ in range(100):
                            f, slope, left, up, out, _, speed, vx, vy = edge_in_frame(
                                motion, job, heights, radii, k, tau, omega * (tau + shift), lag, x, y, ux, uy
                            )
                            if (f < 0.0) == rising:
                                a = tau
                            else:
                                b = tau
                            new = tau - f / (slope * omega) if slope != 0.0 else a
                            change = abs(new - tau)
                            if change * omega < 1e-15 or b - a <= 0.0:
                                break
                            if not a <= new <= b or change > 0.5 * past:
                                new = 0.5 * (a + b)
                                change = 0.5 * (b - a)
                                if new <= a or new >= b:
                                    break
                            tau, past = new, change
                        # velocity of the edge: along its circle, plus the feed, plus the way down
                        vx += omega * (-sense * uy * out - ux * up)
                        vy += omega * (sense * ux * out - uy * up)
                        fall = rise * speed
                        hits[found, 0], hits[found, 1] = tau + shift + aligned, left
                        hits[found, 2] = math.sqrt(vx * vx + vy * vy + fall * fall)
                        found += 1
                before, f0 = after, f1
                held -= 1
        low = stop
        if k == last:
            break
        k += 1
    return found


@njit(cache=True)
def probe_crossing(
    motion, job, heights, radii, begin, end_of_time, aligned, flute, x, y, ux, uy, k, most, outlook, hits
):
    """When the edge of a flute, in the plane of the face, crosses the probe near its alignment with it.

    Fills (time after `begin`, depth still uncut, edge speed) and returns 1, 0 where there is no crossing within
    `outlook` of the lip, -1 where a turn may hold several: see `probe_crossings`. Solves R sin(psi) + b = 0 for psi in
    [-90, 90] deg by Newton steps; if these leave the range or do not halve, by bisection. The unknown is the angle
    `turned` since the nominal alignment, psi + what runout adds, which changes on a ramp. `k` is a piece near by,
    `most` the largest drift there is, see `drifts`.

    Why there is one crossing at the most (derived). Let the axis stay g + outlook inwards of the lip all the turn: then
    R cos(psi) >= g at every crossing that is wanted. Between two of them, an angle D apart, b and R change by D drift
    at the most, so that |sin(D / 2)| <= D drift / |2 Re z| and |cos(D / 2)| >= (2 g - D drift) / |2 Re z|, with z the
    edge seen from its axis, turned halfway. With g > (1 + pi / 2) drift no D up to 180 deg does that. Beyond, D is
    below 240 deg, since 3 rho < g keeps psi within 30 deg of the nominal angle, and g > 4 drift excludes the rest. By
    the same bounds R sin(psi) + b then changes its sign just once between -90 and 90 deg.
    """
    sense, omega = job[0], job[1]
    low, high = -0.5 * PI, 0.5 * PI
    turned, before = 0.0, PI
    for step in range(100):
        t = min(max(begin + aligned + turned / omega, 0.0), end_of_time)
        k = walk(motion, k, t)
        px, py, heading, depth, speed = state(motion, k, t - motion[k, T0])
        # a tip above the face has no edge in it; a ramp ends in the face but for rounding
        radius, extra = edge(job, flute, profile_radius(heights, radii, max(depth, 0.0)))
        rx, ry = px - x, py - y
        a = rx * ux + ry * uy
        b = sense * (ux * ry - uy * rx)
        if step == 0:
            # most teeth do not come near enough at any time of the turn
            reach, off = radius + 2.0 * job[3] + PI * most, max(abs(b) - PI * most, 0.0)
            if off >= reach or -(a + PI * most + math.sqrt(reach * reach - off * off)) > outlook:
                return 0
            turn = PI / omega
            way, drift = drifts(motion, heights, radii, k, omega, t - turn, t + turn, ux, uy)
            if -a - way - outlook <= max(4.0 * drift, 3.0 * job[3]):
                return -1
            ratio = -b / radius if radius > 0.0 else 2.0
            turned = math.asin(min(max(ratio, -0.999), 0.999)) + extra
            if job[3] > 0.0:
                low, high = low + extra - 1.0, high + extra + 1.0
            continue
        psi = turned - extra
        if abs(psi) > 0.5 * PI:
            low, high = (low, turned) if psi > 0.0 else (turned, high)
            turned, before = 0.5 * (low + high), high - low
            continue
        f = radius * math.sin(psi) + b
        slope = radius * math.cos(psi) + sense * speed * (ux * math.sin(heading) - uy * math.cos(heading)) / omega
        sinking = motion[k, W] + motion[k, B] * (t - motion[k, T0])
        if sinking != 0.0 and radius > 0.0:
            growth = profile_slope(heights, radii, depth) * sinking / omega
            slope += growth * math.sin(psi + extra)
        if f >= 0.0:
            high = turned
        else:
            low = turned
        new = turned - f / slope if slope > 0.0 else high + 1.0
        change = abs(new - turned)
        # at a glancing angle the last digits never settle: then it is the miss that counts
        done = change < 1e-14 or high - low < 1e-15 or (step > 20 and abs(f) <= 1e-13 * (1.0 + radius))
        if not done and (not low <= new <= high or change > 0.5 * before):
            new = 0.5 * (low + high)
            change = 0.5 * (high - low)
        turned, before = new, change
        if done:
            if abs(f) > 1e-9 * (1.0 + radius) or depth < -1e-9:
                return 0
            psi = turned - extra
            swing = radius * omega
            # velocity of the edge: along its circle, plus the feed, plus the way down
            direction = math.atan2(uy, ux) + sense * (psi + 0.5 * PI)
            vx = swing * math.cos(direction) + speed * math.cos(heading)
            vy = swing * math.sin(direction) + speed * math.sin(heading)
            fall = motion[k, W] + motion[k, B] * (t - motion[k, T0])
            hits[0, 0], hits[0, 1] = aligned + turned / omega, -(a + radius * math.cos(psi))
            hits[0, 2] = math.sqrt(vx * vx + vy * vy + fall * fall)
            return 1
    return 0


@njit(cache=True, error_model="numpy", fastmath={"contract"})
def falling(x, n, out):
    """exp(-x) of the first n numbers x >= 0, for vector registers; right to 1e-13, beyond 50 it is exp(-50).

    The 256th power of exp(-x / 256), which a short series gives: no branch, no call, no change of number format.
    """
    # `out` may be `x`
    for i in range(n):
        f = (x[i] if x[i] < 50.0 else 50.0) * (-1.0 / 256.0)
        p = 1.0 / 5040.0 + f * (1.0 / 40320.0 + f * (1.0 / 362880.0 + f * (1.0 / 3628800.0)))
        p = 0.5 + f * (1.0 / 6.0 + f * (1.0 / 24.0 + f * (1.0 / 120.0 + f * (1.0 / 720.0 + f * p))))
        p = 1.0 + f * (1.0 + f * p)
        p = p * p
        p = p * p
        p = p * p
        p = p * p
        p = p * p
        p = p * p
        p = p * p
        out[i] = p * p


@njit(cache=True, error_model="numpy", fastmath={"contract"})
def logarithms(x, n, out, spare):
    """log2 of the first n numbers 0 <= x < 1e150, n a multiple of 16 or slow; below 1e-60 x counts as 1e-60.

    The exponent apart, by the series of the inverse hyperbolic tangent on [1 / sqrt 2, sqrt 2]; right to 1e-12.
    """
    bits = spare.view(np.int64)
    for i in range(n):
        spare[i] = x[i] if x[i] > 1e-60 else 1e-60
    for i in range(n):
        # 0x3fe6a09e667f3bcd is 1 / sqrt 2: what lies above it, in steps of one exponent, is the exponent wanted
        shift = (bits[i] - 0x3FE6A09E667F3BCD) >> 52
        out[i] = shift
        bits[i] -= shift << 52
    for i in range(n):
        s = (spare[i] - 1.0) / (spare[i] + 1.0)
        t = s * s
        p = 1.0 / 7.0 + t * (1.0 / 9.0 + t * (1.0 / 11.0 + t * (1.0 / 13.0)))
        p = 1.0 / 5.0 + t * p
        out[i] += 2.8853900817779268 * (s * (1.0 + t * (1.0 / 3.0 + t * p)))


@njit(cache=True, error_model="numpy", fastmath={"contract"})
def powers(x, n, power, out, spare):
    """x**power of the first n numbers 0 <= x < 1e150, for vector registers; right to 1e-12 times the power.

    2**y by Taylor's series about a whole y. Below 1e-60 x counts as 1e-60, beyond 2**1000 the result as 2**1000.
    """
    logarithms(x, n, out, spare)
    bits, parts = spare.view(np.int64), out.view(np.int64)
    for i in range(n):
        y = power * out[i]
        y = y if y > -1000.0 else -1000.0
        y = y if y < 1000.0 else 1000.0
        whole = math.floor(y + 0.5)
        f = (y - whole) * 0.6931471805599453
        q = 1.0 / 40320.0 + f * (1.0 / 362880.0 + f * (1.0 / 3628800.0))
        q = 1.0 / 24.0 + f * (1.0 / 120.0 + f * (1.0 / 720.0 + f * (1.0 / 5040.0 + f * q)))
        q = 0.5 + f * (1.0 / 6.0 + f * q)
        spare[i] = 1.0 + f * (1.0 + f * q)
        out[i] = whole
    for i in range(n):
        parts[i] = bits[i] + (np.int64(out[i]) << 52)


@njit(cache=True, error_model="numpy")
def half_powers(x, n, twice, out):
    """x**(twice / 2) of the first n numbers x >= 0, twice < 16: products and a root, for vector registers."""
    for i in range(n):
        square = x[i] * x[i]
        y = square if twice & 4 else 1.0
        y = y * (square * square) if twice & 8 else y
        y = y * x[i] if twice & 2 else y
        out[i] = y * math.sqrt(x[i]) if twice & 1 else y


@njit(cache=True)
def teeth_to_the_lip(
    chips, depths, count, width, stock, feed, rough, bundle, flutes, sines, cosines, took, stand, arms
):
    """Every tooth on its way to one lip: radial chip `took` and distance `stand` inside the lip. [mm]

    First the `count` strikes of the record, then eight between its layer and where the tooth enters the wood, from the
    steady arc; then those of the deepest earlier pass, if it left stock there (`rough`, its feed a tooth, above 0), at
    rotations from the wall of given sines and cosines. Returns how many are the cut's own and how many in all; `arms`
    holds the thickness of either chip. A strike that runout carries beyond the nominal lip stands at the lip: what it
    took is groove, not tear.
    """
    depth = min(stock, width)
    at_entry = min(max(1.0 - depth / width, 0.0), 1.0)
    entry = math.acos(at_entry)
    arms[0] = feed * math.sqrt(1.0 - at_entry * at_entry)
    for i in range(count):
        inside = min(max(1.0 - depths[i] / width, 0.0), 1.0)
        took[i] = min(chips[i] * inside, feed * flutes)
        stand[i] = max(depths[i], 0.0)
        arms[0] = max(arms[0], took[i])
    teeth = count
    near = math.acos(min(max(1.0 - bundle / width, 0.0), 1.0))
    if entry > near:
        for m in range(1, 9):
            phi = near + (entry - near) * (m / 8.0)
            c = math.cos(phi)
            took[teeth] = slot_chip(feed, width, math.sin(phi), c)
            stand[teeth] = width * (1.0 - c)
            teeth += 1
    own = teeth
    arms[1] = 0.0
    if rough > 0.0 and stock < width:
        arms[1] = rough
        # that pass stood in a groove narrower by the stock it left
        narrow = width - depth
        for m in range(sines.shape[0]):
            took[teeth] = slot_chip(rough, narrow, sines[m], cosines[m])
            stand[teeth] = stock + narrow * (1.0 - cosines[m])
            teeth += 1
    return own, teeth


@njit(cache=True)
def slot_chip(feed, width, sine, cosine):
    """Radial chip at a rotation from the wall, to second order: f sin + (f cos)^2 / (2 width), at most f. [mm]

    The old surface is the circle one feed per tooth behind; by the second term teeth still bite as they reach the lip.
    """
    flat = feed * cosine
    return min(feed * sine + flat * flat / (2.0 * width), feed)


# columns of the coefficients of `lip_risk_sets`
BITE, IMPACT, GATE, POWER, DRAG, FALL, FRICTION, RUB, BLUNT, CRACK, PUSH_C, PUSH_S = range(12)
CLEAR, PLANES, TEAR, AT_REST, RUNNING, FLASH, LASTING, FRONT, SHARE, INTERVAL, ROOM, SINK = range(12, 24)
COEFFICIENTS = 24

LANES = 64  # lips worked on side by side

BURN = math.log(9.0) / 27.5  # scorch runs from 0.1 at 225 C to 0.9 at 280 C


@njit(cache=True, nogil=True, error_model="numpy", fastmath={"contract"})
def lip_risk_sets(
    chips,
    depths,
    speeds,
    counts,
    stock,
    exists,
    width,
    lean_cos,
    lean_sin,
    outward,
    starts,
    feed,
    rough,
    bundle,
    flutes,
    turn,
    sines,
    cosines,
    fibres,
    coefficients,
    looked,
    turn_cos,
    turn_sin,
    nodes,
    places,
    weight,
    fuzz,
    tear,
    scorch,
    more,
):
    """Fuzz, tear and scorch of every lip for many sets of coefficients or of fibres; `models` says what they mean.

    Strikes are (rows, 2, k), `fibres` (f, rows, 2, 3), `coefficients` (c, ...): one of each for all sets, or one a set.
    Fibres are looked at in each of the first `looked` (c,) turns about the vertical, `turn_cos` and `turn_sin`
    (c, turns); what they give, weighted by the first `nodes` (c,) of `weight` (c, nodes), makes a set. `places`
    (t, nodes) says which turn each node is: where t is more than 1, a set is one of these rows, of one set of
    coefficients and one of fibres. `turn` is -1 for a clockwise spindle. Results are (rows, 2, sets), NaN where no lip;
    `more` is (rows, 2, sets, 5): support and hazard of the mean fibre, rubs, depth torn, temperature; or has no rows.

    LANES lips of one side are worked on side by side, for vector registers; arrays of theirs have the lip last. Lanes
    without a lip are of a lip that no tooth meets.
    """
    sets, most, lies = fuzz.shape[2], chips.shape[2], places.shape[0]
    told = more.shape[0] > 0
    full = LANES + 0 * sets  # a number and no constant: what is called is compiled once
    teeth_most = most + 12 + sines.shape[0] + 4
    rows = np.empty(LANES, dtype=np.int64)
    took, stand = np.empty((teeth_most, LANES)), np.empty((teeth_most, LANES))
    one_took, one_stand, one_arms = np.empty(teeth_most), np.empty(teeth_most), np.empty(2)
    arms, cracks, splits = np.empty((2, LANES)), np.empty((teeth_most, LANES)), np.empty((2, LANES))
    chip, speed, there = np.empty((most, LANES)), np.empty((most, LANES)), np.empty((most, LANES))
    bites, impacts, rubbing = np.empty(most * LANES), np.empty(most * LANES), np.empty(most * LANES)
    loads, lifted, spare = np.empty(most * LANES), np.empty(most * LANES), np.empty(most * LANES)
    ahead, aside, dive, level = np.empty(LANES), np.empty(LANES), np.empty(LANES), np.empty(LANES)
    ox, oy, cl, sl, fastest = np.empty(LANES), np.empty(LANES), np.empty(LANES), np.empty(LANES), np.empty(LANES)
    support, sine, crossing, pull = np.empty(LANES), np.empty(LANES), np.empty(LANES), np.empty(LANES)
    work, fallen, hazard, whole = np.empty(LANES), np.empty(LANES), np.empty(LANES), np.empty(LANES)
    raised = np.empty(LANES)
    far, before, calm, calm_before = np.empty(LANES), np.empty(LANES), np.empty(LANES), np.empty(LANES)
    standing, torn, deep = np.empty(LANES), np.empty(LANES), np.empty(LANES)
    stood, lost = np.empty((turn_cos.shape[1], LANES)), np.empty((turn_cos.shape[1], LANES))
    heats, burns, rubs, totals, shares = (
        np.empty(LANES),
        np.empty(LANES),
        np.empty(LANES),
        np.empty(LANES),
        np.empty(LANES),
    )
    for side in range(2):
        begin = 0
        while begin < exists.shape[0]:
            # the next lips, and their teeth
            held, own_most, all_most, count = 0, 0, 0, 0
            while begin < exists.shape[0] and held < LANES:
                if exists[begin, side]:
                    rows[held] = begin
                    held += 1
                    count = max(count, counts[begin, side])
                else:
                    for s in range(sets):
                        fuzz[begin, side, s], tear[begin, side, s], scorch[begin, side, s] = np.nan, np.nan, np.nan
                        if told:
                            more[begin, side, s, :] = np.nan
                            more[begin, side, s, 2] = 0.0
                begin += 1
            chip[:count], speed[:count], there[:count], took[:], stand[:] = 0.0, 0.0, 0.0, 0.0, np.inf
            arms[:], cl[:], sl[:], ox[:], oy[:], fastest[:] = 0.0, 1.0, 0.0, 1.0, 0.0, 0.0
            own_most = (count + 8 + 3) // 4 * 4
            for lane in range(held):
                row = rows[lane]
                n = counts[row, side]
                own, teeth = teeth_to_the_lip(
                    chips[row, side],
                    depths[row, side],
                    n,
                    width[row],
                    stock[row, side],
                    feed[row],
                    rough[row],
                    bundle,
                    flutes,
                    sines,
                    cosines,
                    one_took,
                    one_stand,
                    one_arms,
                )
                for i in range(own):
                    took[i, lane], stand[i, lane] = one_took[i], one_stand[i]
                for i in range(own, teeth):
                    took[own_most + i - own, lane], stand[own_most + i - own, lane] = one_took[i], one_stand[i]
                all_most = max(all_most, teeth - own)
                arms[0, lane], arms[1, lane] = one_arms[0], one_arms[1]
                for i in range(n):
                    chip[i, lane], speed[i, lane], there[i, lane] = chips[row, side, i], speeds[row, side, i], 1.0
                    fastest[lane] = max(fastest[lane], speed[i, lane])
                ox[lane], oy[lane] = math.cos(outward[row, side]), math.sin(outward[row, side])
                cl[lane], sl[lane] = lean_cos[row], lean_sin[row]
            all_most = own_most + (all_most + 3) // 4 * 4
            for s in range(sets // lies):
                if s == 0 or coefficients.shape[0] > 1:
                    # what depends on the coefficients and not on the fibres
                    p = coefficients[s]
                    power, drag, grip, pc, ps = p[POWER], p[DRAG], p[FRICTION], p[PUSH_C], p[PUSH_S]
                    slow, frail, severed = 1.0 / p[FALL], 1.0 / p[TEAR], 50.0 * 2.0**power
                    twice = int(2.0 * power) if 2.0 * power == math.floor(2.0 * power) and power < 8.0 else 0
                    for i in range(count):
                        for lane in range(LANES):
                            impacts[i * LANES + lane] = chip[i, lane] / p[GATE]
                            rubbing[i * LANES + lane] = chip[i, lane] * cl[lane] / p[RUB]
                    falling(impacts, count * LANES, impacts)
                    falling(rubbing, count * LANES, rubbing)
                    for i in range(count):
                        for lane in range(LANES):
                            k = i * LANES + lane
                            bites[k] = p[BITE] * chip[i, lane]
                            impacts[k] = p[IMPACT] * speed[i, lane] * (1.0 - impacts[k])
                    totals[:], shares[:], rubs[:] = 0.0, 0.0, 0.0
                    for i in range(count):
                        for lane in range(LANES):
                            part = there[i, lane] * rubbing[i * LANES + lane]
                            totals[lane] += part
                            shares[lane] = part if part > shares[lane] else shares[lane]
                            rubs[lane] += there[i, lane] if chip[i, lane] * cl[lane] < p[RUB] else 0.0
                    for lane in range(held):
                        heats[lane] = rubbed_temperature(
                            p, totals[lane], shares[lane], fastest[lane], starts[rows[lane]], sl[lane]
                        )
                        work[lane] = (heats[lane] - 252.5) * BURN
                    sigmoids(work, held, burns)
                    for lane in range(LANES):
                        a, b = math.sqrt(arms[0, lane]), math.sqrt(arms[1, lane])
                        fallen[lane], raised[lane] = p[CRACK] * a * math.sqrt(a), p[CRACK] * b * math.sqrt(b)
                    for i in range(own_most):
                        for lane in range(LANES):
                            cracks[i, lane] = fallen[lane] * math.sqrt(took[i, lane] + p[BLUNT])
                    for i in range(own_most, all_most):
                        for lane in range(LANES):
                            cracks[i, lane] = raised[lane] * math.sqrt(took[i, lane] + p[BLUNT])
                    # the chance that an arm splits; none of no arm
                    for k in range(2 if all_most > own_most else 1):
                        for lane in range(LANES):
                            loads[lane] = arms[k, lane] / p[CLEAR]
                        powers(loads, full, p[PLANES], lifted, spare)
                        falling(lifted, full, lifted)
                        for lane in range(LANES):
                            splits[k, lane] = 1.0 - lifted[lane] if arms[k, lane] > 0.0 else 0.0
                    # strikes on fibres that keep all their support
                    for k in range(count * LANES):
                        loads[k] = bites[k] + impacts[k]
                    to_power(loads, count * LANES, power, twice, lifted, spare)
                    column_sums(lifted, count, whole)
                if s == 0 or fibres.shape[0] > 1:
                    f = s if fibres.shape[0] > 1 else 0
                    ahead[:], aside[:], dive[:], level[:] = 1.0, 0.0, 0.0, 1.0
                    for lane in range(held):
                        gx, gy, up = (
                            fibres[f, rows[lane], side, 0],
                            fibres[f, rows[lane], side, 1],
                            fibres[f, rows[lane], side, 2],
                        )
                        ahead[lane], aside[lane] = turn * (gy * ox[lane] - gx * oy[lane]), gx * ox[lane] + gy * oy[lane]
                        dive[lane] = sl[lane] * up
                        flat = gx * gx + gy * gy
                        level[lane] = 1.0 / flat if flat > 0.0 else 0.0
                q = s if coefficients.shape[0] > 1 else 0
                deep[:] = 0.0
                for j in range(looked[q]):
                    # each fibre turned about the vertical; (ahead, aside) is right-handed for a clockwise spindle
                    nc, ns = turn_cos[q, j], -turn * turn_sin[q, j]
                    for lane in range(LANES):
                        along = ahead[lane] * nc - aside[lane] * ns
                        across = ahead[lane] * ns + aside[lane] * nc
                        into = cl[lane] * across - dive[lane]
                        rest = 1.0 - along * along
                        sine[lane] = math.sqrt(rest if rest > 0.0 else 0.0)
                        crossing[lane] = across * across
                        # the fibre on the flank, an axis: into >= 0; it leans with the cut where along < 0 then
                        back = along if into < 0.0 else -along
                        flank = along * along + into * into
                        inverse = math.sqrt(1.0 / flank) if flank > 0.0 else 0.0
                        slide = (back - grip * abs(into)) * inverse
                        slide = slide if back > 0.0 else 0.0
                        slide = slide if slide > 0.0 else 0.0
                        work[lane] = slide * slow if into != 0.0 else 0.0
                        support[lane] = drag * abs(back) * inverse
                        # in the face, with along >= 0
                        bent, onward = -across if along < 0.0 else across, abs(along)
                        push = (bent * pc + onward * ps) * onward * level[lane]
                        push = push if push > 0.0 else 0.0
                        pull[lane] = math.sqrt(push) * bent if bent > 0.0 else 0.0
                    most_slide, most_pull = 0.0, 0.0
                    for lane in range(LANES):
                        most_slide = work[lane] if work[lane] > most_slide else most_slide
                        most_pull = pull[lane] if pull[lane] > most_pull else most_pull
                    # fuzz
                    if most_slide > 0.0:
                        falling(work, full, fallen)
                        for lane in range(LANES):
                            part = support[lane] + (1.0 - support[lane]) * fallen[lane]
                            support[lane] = part if work[lane] > 0.0 else 1.0
                        for i in range(count):
                            for lane in range(LANES):
                                k = i * LANES + lane
                                loads[k] = bites[k] * support[lane] + impacts[k]
                        to_power(loads, count * LANES, power, twice, lifted, spare)
                        column_sums(lifted, count, hazard)
                    else:
                        for lane in range(LANES):
                            support[lane], hazard[lane] = 1.0, whole[lane]
                    doubtful = 0
                    for lane in range(held):
                        doubtful += 0 if (sine[lane] >= 0.5) & (hazard[lane] >= severed) else 1
                    # else less than exp(-50) is left standing on every lip, which no sum of ones can tell
                    if doubtful > 0 or told:
                        to_power(sine, full, power, twice, raised, spare)
                        for lane in range(LANES):
                            hazard[lane] *= raised[lane]
                        falling(hazard, full, fallen)
                        for lane in range(LANES):
                            stood[j, lane] = crossing[lane] * fallen[lane]
                    else:
                        stood[j] = 0.0
                    if told and j == nodes[q] // 2:
                        for lane in range(held):
                            more[rows[lane], side, s, 0], more[rows[lane], side, s, 1] = support[lane], hazard[lane]
                    # tear-out: the farthest that any crack reaches
                    if most_pull > 0.0:
                        farthest_crack(cracks, stand, 0, own_most, pull, far)
                        for lane in range(LANES):
                            work[lane] = far[lane] * frail
                        falling(work, full, calm)
                        if all_most > own_most:
                            farthest_crack(cracks, stand, own_most, all_most, pull, before)
                            for lane in range(LANES):
                                work[lane] = before[lane] * frail
                            falling(work, full, calm_before)
                            for lane in range(LANES):
                                # where the less likely of the two arms splits, the other splits as well
                                a, b = splits[0, lane], splits[1, lane]
                                both = min(a, b) * (1.0 - min(calm[lane], calm_before[lane]))
                                one = max(a - b, 0.0) * (1.0 - calm[lane])
                                lost[j, lane] = both + one + max(b - a, 0.0) * (1.0 - calm_before[lane])
                            if told:
                                for lane in range(LANES):
                                    deep[lane] += weight[q, j] * max(far[lane], before[lane])
                        else:
                            for lane in range(LANES):
                                lost[j, lane] = splits[0, lane] * (1.0 - calm[lane])
                            if told:
                                for lane in range(LANES):
                                    deep[lane] += weight[q, j] * far[lane]
                    else:
                        lost[j] = 0.0
                known = p[CRACK] == p[CRACK]
                for t in range(lies):
                    standing[:], torn[:] = 0.0, 0.0
                    for j in range(nodes[q]):
                        share, place = weight[q, j], places[t, j]
                        for lane in range(LANES):
                            standing[lane] += share * stood[place, lane]
                            torn[lane] += share * lost[place, lane]
                    for lane in range(held):
                        row = rows[lane]
                        fuzz[row, side, s + t], scorch[row, side, s + t] = standing[lane], burns[lane]
                        tear[row, side, s + t] = torn[lane] if known else np.nan
                if told:
                    for lane in range(held):
                        row = rows[lane]
                        more[row, side, s, 2], more[row, side, s, 4] = rubs[lane], heats[lane]
                        more[row, side, s, 3] = deep[lane] if known else np.nan


@njit(cache=True)
def to_power(x, n, power, twice, out, spare):
    """x**power of the first n numbers, by products where it is `twice` / 2."""
    if twice > 0:
        half_powers(x, n, twice, out)
    else:
        powers(x, n, power, out, spare)


@njit(cache=True)
def column_sums(values, count, out):
    """Sums over `count` rows of LANES numbers."""
    out[:] = 0.0
    for i in range(count):
        for lane in range(LANES):
            out[lane] += values[i * LANES + lane]


@njit(cache=True, error_model="numpy", fastmath={"contract"})
def farthest_crack(cracks, stand, first, stop, pull, far):
    """Farthest reach beyond the lip, crack x pull - stand, of the teeth from `first` to `stop`, four at a time."""
    far[:] = 0.0
    for i in range(first, stop, 4):
        for j in range(LANES):
            a, b = cracks[i, j] * pull[j] - stand[i, j], cracks[i + 1, j] * pull[j] - stand[i + 1, j]
            c, d = cracks[i + 2, j] * pull[j] - stand[i + 2, j], cracks[i + 3, j] * pull[j] - stand[i + 3, j]
            a, c = a if a > b else b, c if c > d else d
            a = a if a > c else c
            far[j] = a if a > far[j] else far[j]


@njit(cache=True, error_model="numpy")
def rubbed_temperature(p, total, share, fastest, starts, lean_sin):
    """Temperature of a lip rubbed by `total` strikes' worth, `share` of the strongest; see `heat`. [C]"""
    friction = p[AT_REST] + (p[RUNNING] - p[AT_REST]) * min(fastest * 0.25, 1.0)
    lasting = p[LASTING] * friction * (2.0 * math.sqrt(total + 0.5625) - 1.5)
    sink = p[SINK] * lean_sin
    if starts and sink > 0.0:
        front = math.exp(-sink * p[INTERVAL] / p[RUB])
        share = max(share, front)
        lasting = max(lasting, front * p[FRONT] * friction / sink)
    return p[ROOM] + p[SHARE] * (share * p[FLASH] * friction * math.sqrt(fastest) + lasting)


@njit(cache=True, error_model="numpy", fastmath={"contract"})
def sigmoids(x, n, out):
    """1 / (1 + exp(-x)) of the first n numbers, for vector registers; `out` is not `x`."""
    for i in range(n):
        out[i] = abs(x[i])
    falling(out, n, out)
    for i in range(n):
        out[i] = (1.0 if x[i] >= 0.0 else out[i]) / (1.0 + out[i])


@njit(cache=True, nogil=True, error_model="numpy", fastmath={"contract"})
def reread_sets(fuzz, tear, scorch, length, cuts, usual, noise, shifts, floor, poor_from, damage, poor):
    """Damage of every lip as each of many readers would see it, and the length each would call poor; see `priors`.

    Risks and `damage` are (rows, 2, sets); `cuts` (2, 4, sets) are the readers' cut points of fuzz and of tear, `usual`
    (4,) those of the map's classes, `noise` the scale of what they call poor, `shifts` those of the latents. A risk
    that is NaN counts as 0; damage is NaN if all are. To `poor` (sets,) the length of lip times the chance is added.
    """
    sets = shifts.shape[0]
    room = (sets + 15) // 16 * 16
    odds, eta, spare = np.ones(room), np.empty(room), np.empty(room)
    steps, same, spared, whole = np.empty((2, 3, sets)), np.empty((2, sets)), np.empty(sets), np.empty(sets)
    for kind in range(2):
        for s in range(sets):
            alike = shifts[s] == 0.0
            for k in range(4):
                alike = alike and cuts[kind, k, s] == usual[k]
            same[kind, s] = 1.0 if alike else 0.0
            for k in range(3):
                steps[kind, k, s] = (usual[k + 1] - usual[k]) / (cuts[kind, k + 1, s] - cuts[kind, k, s])
    for row in range(length.shape[0]):
        for side in range(2):
            spared[:], whole[:] = 1.0, 1.0
            known = 0
            for kind in range(2):
                risks = fuzz[row, side] if kind == 0 else tear[row, side]
                if risks[0] != risks[0]:
                    continue  # not known by one, not known by any: it is the wood's or the lip's matter
                known += 1
                c = cuts[kind]
                for s in range(sets):
                    odds[s] = (risks[s] + floor) / (1.0 - risks[s] + floor)
                logarithms(odds, room, eta, spare)
                for s in range(sets):
                    eta[s] = eta[s] * 0.6931471805599453 + shifts[s]
                    odds[s] = (eta[s] - c[poor_from, s]) / noise[s]
                sigmoids(odds, sets, spare)
                for s in range(sets):
                    whole[s] *= 1.0 - spare[s]
                    # straight between the cut points, shifted beyond them
                    x = eta[s]
                    y = usual[0] + min(x - c[0, s], 0.0) + max(x - c[3, s], 0.0)
                    for k in range(3):
                        y += steps[kind, k, s] * (min(max(x, c[k, s]), c[k + 1, s]) - c[k, s])
                    odds[s] = y
                sigmoids(odds, sets, spare)
                for s in range(sets):
                    seen = min(max((1.0 + 2.0 * floor) * spare[s] - floor, 0.0), 1.0)
                    spared[s] *= 1.0 - (risks[s] if same[kind, s] > 0.0 else seen)
            if scorch[row, side, 0] == scorch[row, side, 0]:
                known += 1
                for s in range(sets):
                    spared[s] *= 1.0 - scorch[row, side, s]
            for s in range(sets):
                damage[row, side, s] = 1.0 - spared[s] if known > 0 else np.nan
                poor[s] += length[row, side] * (1.0 - whole[s])
