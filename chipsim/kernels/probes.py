"""Strikes at the lips: when an edge crosses the probe through a lip point, and what it takes away."""

from __future__ import annotations

import math

import numpy as np

from .axis import (
    DS,
    DT,
    FULL,
    PI,
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
    level_on,
    locate,
    state,
    travel_time,
    walk,
    way_near,
)
from .columns import ASIDE, CURL, FIRST, PER_FLUTE, TURNS
from .compiled import njit
from .grooves import cell_of, groove_gap
from .outline import edge_of, flute_law, flute_rise, profile_radius, profile_slope, steepest

__all__ = []


# columns of what is worked out once of each piece of a motion, see `probe_pieces`
COSINE, SINE, REACH, RADIUS, GROWTH, FASTEST, GROWING, DRIFT, TURN = range(9)

# columns of the strikes, and of the passes, that are kept of a lip
CHIP, DEPTH, SPEED, TIME, FEED, STROKE = range(6)
BEFORE, LEFT, PASS_FEED, WIDTH, PASS_STROKE = range(5)

MOST = 20000
"""Strikes of one stroke at one lip that are kept account of."""

TOUCHING = 1e-12
"""A tip this near to the face is at it: a flat one that goes along there cuts nothing. [mm]"""

ALIKE = 1e-9
"""A strike that reaches less than this beyond the surface does not cut: rounding. [mm]"""


@njit(cache=True)
def probe_pieces(motion, job, heights, radii, pieces):
    """Fill what is asked of each piece at every lip, a row a piece; return the stroke's largest drift a radian.

    Cosine and sine of the heading where it starts; how far its edges reach from the axis; the radius at its start and
    the growth of it a mm of depth, NaN where the outline bends on the way or the tip is not below the face. Then what
    holds from half a turn before the piece to half a turn behind it: the largest speed of the axis, rate at which the
    radius grows or falls, with what the edge goes aside as it sinks, and sum of both; how far the heading turns from
    where the piece starts.
    [-, -, mm, mm, -, mm/s, mm/s, mm/s, rad]
    """
    omega, rho = job[1], job[3]
    top_speed = sinking = 0.0
    own = np.empty((motion.shape[0], 2))
    _, steep = steepest(heights, radii, 0.0, 1e300)
    for k in range(motion.shape[0]):
        fast, falls = max(motion[k, V], motion[k, V] + motion[k, A] * motion[k, DT]), fall_rate(motion, k)
        top_speed, sinking = max(top_speed, fast), max(sinking, falls)
        pieces[k, COSINE], pieces[k, SINE] = math.cos(motion[k, H]), math.sin(motion[k, H])
        one, two = motion[k, D], depth_on(motion, k, motion[k, DT])
        low, high = max(min(one, two), 0.0), max(one, two, 0.0)
        pieces[k, REACH] = profile_radius(heights, radii, high) + rho
        pieces[k, RADIUS] = profile_radius(heights, radii, max(one, 0.0))
        gentle = most = 0.0
        if falls > 0.0:
            gentle, most = steepest(heights, radii, low, high)
        straight = most - gentle <= 1e-12 and min(one, two) > 1e-6
        pieces[k, GROWTH] = most if straight else math.nan
        if radii.ndim == 2:
            most += radii[0, ASIDE]  # the edge also goes aside as its flute turns in the bit
        own[k, 0], own[k, 1] = fast, most * falls
        pieces[k, FASTEST:] = 0.0
    half, total = PI / omega, motion.shape[0]
    for k in range(total):
        low, high = k, k
        while low > 0 and motion[low, T0] > motion[k, T0] - half:
            low -= 1
        while high + 1 < total and motion[high + 1, T0] < motion[k, T0] + motion[k, DT] + half:
            high += 1
        for i in range(low, high + 1):
            pieces[k, FASTEST] = max(pieces[k, FASTEST], own[i, 0])
            pieces[k, GROWING] = max(pieces[k, GROWING], own[i, 1])
            pieces[k, DRIFT] = max(pieces[k, DRIFT], own[i, 0] + own[i, 1])
            turn = abs(motion[i, H] - motion[k, H]) + abs(motion[i, K]) * motion[i, DS]
            pieces[k, TURN] = max(pieces[k, TURN], turn)
    if radii.ndim == 2:
        steep += radii[0, ASIDE]
    return (top_speed + steep * sinking) / omega


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
    exists,
    own,
    bundle,
    pieces,
    most_drift,
    farthest,
    stroke,
    start,
    surface,
    finished,
    counts,
    strikes,
    pass_counts,
    passes,
    place,
    road,
):
    """What one stroke does to every lip point, whoever made the lip; to be called for the strokes in order of time.

    The probe lies in the face, from the lip point inwards to the axis. `surface` is how far from the lip the wood on it
    begins, `finished` the nearest that any strike came; both are carried on from stroke to stroke, and so are the lists
    of strikes (rows, 2, k, 6) and of passes (rows, 2, p, 5), with their lengths. Every crossing of a tooth's edge with
    the probe within reach is found (one Newton solve a turn, where `probe_crossing` says that there are no two) and put
    in order of time. It cuts where it reaches beyond the surface. Kept are the cutting strikes within `bundle` of what
    is finished so far: the surface only falls, so that what a later stroke puts out of the bundle is the beginning of
    the list. A stroke is listed as a pass where it cuts. `own` says that the stroke made the lip, which spares asking
    how near it comes; teeth farther than `farthest` inwards of the lip are not looked for. `start` is the time at
    which the stroke began, `pieces` and `most_drift` are from `probe_pieces`. Returns a status: 0 well, 1 too many
    windows or crossings, 2 too little room for strikes, 3 for passes; of these two nothing is spoilt: given more room
    it goes on at the lip whose number stands in `place` (1,), 0 for the first. `road` 1 takes `steady_crossing` and
    `moving_crossing` where they hold, 0 does without them.
    """
    windows = np.empty((256, 2))
    when, left, fast = np.empty(MOST), np.empty(MOST), np.empty(MOST)
    hits, ends = np.empty((64, 3)), np.empty((64, 2))
    omega, flutes, rho = job[1], int(job[2]), job[3]
    rims = np.empty((flutes, 2))
    lags = np.empty((flutes, 2))
    for j in range(flutes):
        lag = job[4] - FULL * j / flutes
        lags[j, 0], lags[j, 1] = rho * math.cos(lag), rho * math.sin(lag)
    last = motion.shape[0] - 1
    end_of_time = motion[last, T0] + motion[last, DT]
    # the surface before may be another flute's, of any other if they stand unevenly
    margin = FULL * most_drift / flutes if rho == 0.0 and flutes_alike(radii, flutes) else FULL * most_drift + 2.0 * rho
    for number in range(place[0], 2 * lip.shape[0]):
        row, side = number // 2, number % 2
        if not exists[row, side]:
            continue
        x, y = lip[row, side, 0], lip[row, side, 1]
        cell = cell_of(grid, x, y)
        if cell < 0:
            continue
        begin, stop = first[cell], first[cell + 1]
        before = surface[row, side]
        limit = min(before, farthest)
        outlook = min(bundle + margin, limit)
        if not own:
            # no edge comes nearer to the lip than the nominal groove, but for the runout
            gap = groove_gap(motion, heights, radii, members, begin, stop, x, y, 0.0) - rho - ALIKE
            if gap > limit:
                continue
            # its surface lies about so much farther in
            outlook = min(outlook + max(gap, 0.0), limit)
        nearest = finished[row, side]
        n = 0
        while True:
            # Along a lip the last surface before the bundle is reached lies at most a turn's advance further in.
            # Where the first strike that counts has no such forerunner (starts, corners), or where the surface
            # stays so far from the lip that its bundle is not seen whole, look again, to the surface before.
            n = stroke_crossings(
                motion,
                job,
                heights,
                radii,
                members[begin:stop],
                own,
                x,
                y,
                azimuth[row, side],
                outlook,
                pieces,
                most_drift,
                end_of_time,
                windows,
                when,
                left,
                fast,
                hits,
                ends,
                rims,
                lags,
                road,
            )
            if n < 0:
                return 1
            nearest = finished[row, side]
            for i in range(n):
                nearest = min(nearest, left[i])
            level, known, lonely = before, outlook >= limit, False
            for i in range(n):
                if left[i] >= level - ALIKE:
                    continue
                lonely = lonely or (not known and left[i] < nearest + bundle)
                level, known = left[i], True
            if outlook >= limit or not (lonely or level + bundle > outlook):
                break
            outlook = limit
        if n == 0:
            continue
        # room for all there will be, before anything is changed
        count, out = counts[row, side], 0
        while out < count and strikes[row, side, out, DEPTH] >= nearest + bundle:
            out += 1
        level, final, more = before, -1, 0
        for i in range(n):
            if left[i] < level - ALIKE:
                more += left[i] < nearest + bundle
                level, final = left[i], i
        at = pass_counts[row, side]
        if count - out + more > strikes.shape[2] or (final >= 0 and at == passes.shape[2]):
            place[0] = number
            return 2 if count - out + more > strikes.shape[2] else 3
        finished[row, side] = nearest
        # what the stroke puts out of the bundle
        if out > 0:
            for i in range(out, count):
                strikes[row, side, i - out] = strikes[row, side, i]
            count -= out
        level = before
        for i in range(n):
            if left[i] >= level - ALIKE:
                continue
            if left[i] < nearest + bundle:
                k = locate(motion, when[i])
                speed = motion[k, V] + motion[k, A] * (when[i] - motion[k, T0])
                strikes[row, side, count, CHIP] = level - left[i]
                strikes[row, side, count, DEPTH] = left[i]
                strikes[row, side, count, SPEED] = fast[i] * 1e-3
                strikes[row, side, count, TIME] = start + when[i]
                strikes[row, side, count, FEED] = FULL * speed / (omega * flutes)
                strikes[row, side, count, STROKE] = stroke
                count += 1
            level = left[i]
        counts[row, side] = count
        if final < 0:
            continue
        surface[row, side] = level
        k = locate(motion, when[final])
        tau = when[final] - motion[k, T0]
        passes[row, side, at, BEFORE], passes[row, side, at, LEFT] = before, level
        passes[row, side, at, PASS_FEED] = FULL * (motion[k, V] + motion[k, A] * tau) / (omega * flutes)
        passes[row, side, at, WIDTH] = profile_radius(heights, radii, max(depth_on(motion, k, tau), 0.0))
        passes[row, side, at, PASS_STROKE] = stroke
        pass_counts[row, side] = at + 1
    return 0


@njit(cache=True)
def flutes_alike(radii, flutes):
    """Whether all flutes of a bit have one law."""
    if radii.ndim == 1:
        return True
    for i in range(radii.shape[0]):
        for c in range(FIRST + PER_FLUTE, FIRST + PER_FLUTE * flutes):
            if radii[i, c] != radii[i, c - PER_FLUTE]:
                return False
    return True


@njit(cache=True, nogil=True)
def unpacked(table, counts, columns):
    """Columns (c, rows, 2, used) of a table of lists (rows, 2, k, c), NaN beyond the lists' lengths."""
    for row in range(table.shape[0]):
        for side in range(2):
            count = counts[row, side]
            for i in range(columns.shape[3]):
                for c in range(columns.shape[0]):
                    columns[c, row, side, i] = table[row, side, i, c] if i < count else np.nan


@njit(cache=True)
def fall_rate(motion, k):
    """Fastest rate at which the tip goes up or down on piece k; a piece does not turn back. [mm/s]"""
    return max(abs(motion[k, W]), abs(motion[k, W] + motion[k, B] * motion[k, DT]))


@njit(cache=True)
def stroke_crossings(
    motion,
    job,
    heights,
    radii,
    candidates,
    own,
    x,
    y,
    azimuth,
    outlook,
    pieces,
    most_drift,
    end_of_time,
    windows,
    when,
    left,
    fast,
    hits,
    ends,
    rims,
    lags,
    road,
):
    """Crossings of a stroke's edges with the probe through (x, y), within `outlook` of the lip, in order of time.

    Fills when, left and fast, and returns their number, -1 if there is no room. Left out are those that come after one
    that came nearer to the lip.
    """
    sense, omega, flutes = job[0], job[1], int(job[2])
    ux, uy = math.cos(azimuth), math.sin(azimuth)
    e, r, way, at_way, from_, to, ahead, aside, a0, b0 = 0.0, 0.0, 0.0, 0.0, 1.0, -1.0, 0.0, 0.0, 0.0, 0.0
    bow, clear = 0.0, 1e300
    half, turn = PI / omega, FULL / omega
    count = probe_windows(motion, pieces, candidates, x, y, outlook, end_of_time, windows)
    if count < 0:
        return -1
    n = 0
    least, least_at = 1e300, 0.0
    k = locate(motion, windows[0, 0]) if count > 0 else 0
    at = -1
    twists = np.zeros(flutes if radii.ndim == 2 else 0)
    twist = 0.0
    for w in range(count):
        begin, end = windows[w, 0], windows[w, 1]
        base = (omega * begin + sense * (job[5] - azimuth)) % FULL
        m_low = math.floor((base - PI) / FULL)
        if radii.ndim == 2:
            # alignments are those of the edges in the face: lags there at one time of the window, for all of it
            k = walk(motion, k, 0.5 * (begin + end))
            face = max(depth_on(motion, k, 0.5 * (begin + end) - motion[k, T0]), 0.0)
            for j in range(flutes):
                _, twists[j], _, _ = flute_law(heights, radii, j, face)
            at = -1
            m_low -= 1
        m_high = math.ceil((base + omega * (end - begin) + PI) / FULL)
        for m in range(m_low, m_high + 1):
            for j in range(flutes):
                # nominal alignment of flute j with the outward probe, relative to `begin`
                aligned = (FULL * m + FULL * j / flutes - base) / omega
                if radii.ndim == 2:
                    twist = twists[j]
                    aligned = (FULL * m + FULL * j / flutes + twist % FULL - base) / omega
                if aligned < -half or aligned > end - begin + half:
                    continue
                k = walk(motion, k, begin + aligned)
                since = begin + aligned - motion[k, T0]
                level = level_on(motion, k)
                inside = since > half and since < motion[k, DT] - half
                # in the air; or at a stand, where the second turn finds what the first has left
                shallow = motion[k, D] - flute_rise(radii, j) < TOUCHING
                if level and inside and (shallow or (is_still(motion, k) and since > turn + half)):
                    continue
                seen = -1
                # no matter what stays farther from the lip than an earlier tooth came
                shadow = min(least, outlook) if begin + aligned - half > least_at else outlook
                if road > 0 and level and inside and motion[k, A] == 0.0:
                    if at != k:
                        at, e, bow = k, motion[k, V] / omega, abs(motion[k, K])
                        r = profile_radius(heights, radii, motion[k, D])
                        for i in range(flutes):
                            rims[i, 0], rims[i, 1] = edge_of(job, heights, radii, i, motion[k, D], r)
                            if radii.ndim == 2:
                                rims[i, 1] -= twists[i]
                        from_, to = 1.0, -1.0
                        clear = max(4.0 * e, 3.0 * job[3]) if r - job[3] > 6.1 * e else 1e300
                        if radii.ndim == 2:
                            for i in range(flutes):
                                own, _, _, _ = flute_law(heights, radii, i, motion[k, D])
                                if own - job[3] <= 6.1 * e or abs(rims[i, 1]) > 0.5:
                                    clear = 1e300
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
                if seen < 0 and road > 0:
                    lag_c, lag_s = lags[j, 0], lags[j, 1]
                    if radii.ndim == 2 and job[3] > 0.0:
                        # as seen from the flute's direction in the face
                        ct, st = math.cos(twist), math.sin(twist)
                        lag_c, lag_s = lag_c * ct + lag_s * st, lag_s * ct - lag_c * st
                    seen, turned, depth_left, edge_speed = moving_crossing(
                        motion,
                        heights,
                        radii,
                        j,
                        twist,
                        pieces,
                        sense,
                        omega,
                        job[3],
                        lag_c,
                        lag_s,
                        begin + aligned,
                        end_of_time,
                        x,
                        y,
                        ux,
                        uy,
                        k,
                        shadow,
                    )
                    if seen == 0:
                        continue
                    hits[0, 0], hits[0, 1], hits[0, 2] = aligned + turned / omega, depth_left, edge_speed
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
                        twist,
                    )
                if seen < 0:
                    seen = probe_crossings(
                        motion,
                        job,
                        heights,
                        radii,
                        pieces,
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
                        own,
                        ends,
                        hits,
                        twist,
                    )
                if seen < 0:
                    return -1
                for h in range(seen):
                    dt, depth_left = hits[h, 0], hits[h, 1]
                    if dt < 0.0 or begin + dt >= end or depth_left > outlook:
                        continue
                    # farther out than its own teeth reach cuts another groove, which the lip survived
                    if depth_left < -(job[3] + 1e-6):
                        continue
                    t = begin + dt
                    if depth_left >= least and t > least_at:
                        continue
                    if n == when.shape[0]:
                        return -1
                    if depth_left < least:
                        least, least_at = depth_left, t
                    i = n
                    while i > 0 and when[i - 1] > t:
                        when[i], left[i], fast[i] = when[i - 1], left[i - 1], fast[i - 1]
                        i -= 1
                    when[i], left[i], fast[i] = t, depth_left, hits[h, 2]
                    n += 1
    return n


@njit(cache=True)
def probe_windows(motion, pieces, candidates, x, y, outlook, until, out):
    """Time windows before `until` in which some edge may be within `outlook` of (x, y), in order of time.

    As `near_windows`, but each of the candidates, ascending, counts as far as its own edges reach, not the widest.
    """
    n = 0
    last = motion.shape[0] - 1
    for c in range(candidates.shape[0]):
        k = candidates[c]
        if motion[k, T0] >= until:
            break
        length, reach = motion[k, DS], pieces[k, REACH] + outlook + 1e-6
        dx, dy = x - motion[k, X], y - motion[k, Y]
        # no point of the piece is farther from its start than its length
        square = dx * dx + dy * dy
        if square > (reach + length) * (reach + length) * 1.000001:
            continue
        ch, sh = pieces[k, COSINE], pieces[k, SINE]
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
            end = motion[k, T0] + motion[k, DT] if high == length else motion[k, T0] + travel_time(motion, k, high)
            if high == length and k < last:
                end = motion[k + 1, T0]
            end = min(end, until)
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


@njit(cache=True, error_model="numpy")
def moving_crossing(
    motion, heights, radii, flute, twist, pieces, sense, omega, rho, lag_c, lag_s, when, until, x, y, ux, uy, k, shadow
):
    """`probe_crossing` on lines and short arcs, level or not, at any feed and over their joints: a Newton solve.

    The unknown is the angle since the nominal alignment, which is at `when`. An edge's place is written along and
    across the flute's nominal direction, R cos + rho cos(. - lag) and R sin + rho sin(. - lag), so that runout takes
    neither root nor angle; (`lag_c`, `lag_s`) are rho times cosine and sine of the lag. Returns 1, angle, wood left,
    edge speed [mm/s]; 0 where there is no crossing within `shadow` of the lip; -1 where a guard says so: that of
    `probe_crossing`, with the bounds of the pieces of this turn, or else the one below; or where the outline bends,
    the tip is near the face, the arc is long, or the edge leans more than 1.2 rad.

    Why there is one wanted crossing near the axis, too (derived). Let the axis stay so near abreast of the lip that
    |b| < sqrt(R^2 - c^2) all the turn. At a crossing the edge stands |b| across, so that it stands more than c along,
    one way or the other. Pointing away it is not wanted if the axis stays farther than the outlook less c inwards of
    the lip. Pointing towards it, F = R sin + b rises there at least as fast as c less the drift, and where an edge
    points so is one stretch of the turn: with c > drift F has one root on it at the most.

    A flute whose azimuth depends on height is aligned `twist` behind the nominal one, and stands a little beside that
    where the tip is deeper or higher. So its edge also goes aside as the bit sinks, which the drift includes; as that
    is at most 0.1 rad in half a turn, the angle D above is below 180 + 60 + 12 deg, which g > 4 drift excludes as well.
    """
    a_radian = 1.0 / omega
    half = PI * a_radian
    # bounds over half a turn before and after, which `probe_crossing` asks for
    fastest, growing = pieces[k, FASTEST], pieces[k, GROWING]
    drift = pieces[k, DRIFT] * a_radian
    along = min(abs(pieces[k, COSINE] * ux + pieces[k, SINE] * uy) + pieces[k, TURN], 1.0) * fastest
    turned, sp, cp = 0.0, 0.0, 1.0
    change = 1.0
    for step in range(9):
        t = when + turned * a_radian
        moves = 0.0 <= t <= until
        t = min(max(t, 0.0), until)
        while k + 1 < motion.shape[0] and motion[k + 1, T0] <= t:
            k += 1
        while k > 0 and motion[k, T0] > t:
            k -= 1
        tau = t - motion[k, T0]
        way = tau * (motion[k, V] + 0.5 * motion[k, A] * tau)
        fall = motion[k, W] + motion[k, B] * tau
        growth = pieces[k, GROWTH]
        radius = pieces[k, RADIUS] + growth * tau * (motion[k, W] + 0.5 * motion[k, B] * tau)
        speed, rises = motion[k, V] + motion[k, A] * tau, growth * fall
        if radii.ndim == 2:
            face = motion[k, D] + tau * (motion[k, W] + 0.5 * motion[k, B] * tau)
            if not (growth == growth and face > 1e-6 and flute_rise(radii, flute) == 0.0):
                return -1, 0.0, 0.0, 0.0
            radius, behind, lean, turns = flute_law(heights, radii, flute, face)
            behind -= twist
            if step == 0 and not (
                abs(behind) < 0.3 and radii[0, TURNS] * pieces[k, GROWING] * half <= 0.1 * radii[0, ASIDE]
            ):
                return -1, 0.0, 0.0, 0.0
            rises, swings = lean * fall, radius * turns * fall
            # along and beside the direction of alignment, where the edge would be were it not for the runout
            along_it, beside_it = radius * math.cos(behind), radius * math.sin(behind)
            if not moves:
                swings = 0.0
        if not moves:
            speed = rises = 0.0
        ahead = pieces[k, COSINE] * ux + pieces[k, SINE] * uy
        aside = pieces[k, SINE] * ux - pieces[k, COSINE] * uy
        dx, dy = motion[k, X] - x, motion[k, Y] - y
        a, b = dx * ux + dy * uy, ux * dy - uy * dx
        bent = motion[k, K] * way
        if bent == 0.0:
            a, b = a + way * ahead, b + way * aside
        else:
            if not abs(bent) < 0.6:
                return -1, 0.0, 0.0, 0.0
            w = bent * bent
            s = 1.0 / 362880.0 + w * (-1.0 / 39916800.0 + w * (1.0 / 6227020800.0))
            s = 1.0 + w * (-1.0 / 6.0 + w * (1.0 / 120.0 + w * (-1.0 / 5040.0 + w * s)))
            v = 1.0 / 3628800.0 + w * (-1.0 / 479001600.0 + w * (1.0 / 87178291200.0))
            v = bent * (0.5 + w * (-1.0 / 24.0 + w * (1.0 / 720.0 + w * (-1.0 / 40320.0 + w * v))))
            a, b = a + way * (s * ahead - v * aside), b + way * (s * aside + v * ahead)
            cy, sy = 1.0 - bent * v, bent * s
            ahead, aside = cy * ahead - sy * aside, cy * aside + sy * ahead
        b, across = sense * b, sense * aside * speed * a_radian
        if step == 0:
            # before any solving: guards, and whether the tooth comes near enough at all; at a wanted crossing the edge
            # points towards the lip, so that the axis is within a quarter turn, and what runout adds, of where it is
            aim = -a - shadow - half * along
            if not (aim > max(4.0 * drift, 3.0 * rho) and radius > 2.0 * rho):
                swell = half * growing
                # out of reach, whichever way the edge points
                most, off = radius + rho + swell, max(abs(b) - half * fastest, 0.0)
                if off >= most or -(a + half * along + math.sqrt(most * most - off * off)) > shadow:
                    return 0, 0.0, 0.0, 0.0
                # near the axis: see the docstring
                clear, small = 1.3 * drift + 2.0 * swell, radius - rho - swell
                beside = abs(b) + half * fastest
                if not (aim > -clear and small > 2.0 * clear and beside * beside < small * small - clear * clear):
                    return -1, 0.0, 0.0, 0.0
            quarter = (0.5 if rho == 0.0 else 0.7) * half
            if radii.ndim == 2:
                quarter = 0.9 * half
            most = radius + rho + quarter * growing
            off = max(abs(b) - quarter * fastest, 0.0)
            if off >= most or -(a + quarter * along + math.sqrt(most * most - off * off)) > shadow:
                return 0, 0.0, 0.0, 0.0
            up, out = -lag_s, radius + lag_c
            if radii.ndim == 2:
                up, out = -lag_s - beside_it, along_it + lag_c
            slope = out + across
            u = -(up + b) / slope
            turned = u + u * u * u * out / (6.0 * slope)
            if not abs(u) < 0.6:
                turned = math.asin(min(max(-b / radius, -0.93), 0.93))
            w = turned * turned
            if not w < 1.6:
                return -1, 0.0, 0.0, 0.0
            sp = 1.0 / 355687428096000.0 - w * (1.0 / 121645100408832000.0)
            sp = 1.0 / 6227020800.0 + w * (-1.0 / 1307674368000.0 + w * sp)
            sp = 1.0 / 362880.0 + w * (-1.0 / 39916800.0 + w * sp)
            sp = turned * (1.0 + w * (-1.0 / 6.0 + w * (1.0 / 120.0 + w * (-1.0 / 5040.0 + w * sp))))
            cp = 1.0 / 20922789888000.0 + w * (-1.0 / 6402373705728000.0 + w * (1.0 / 2432902008176640000.0))
            cp = 1.0 / 479001600.0 + w * (-1.0 / 87178291200.0 + w * cp)
            cp = 1.0 / 40320.0 + w * (-1.0 / 3628800.0 + w * cp)
            cp = 1.0 + w * (-0.5 + w * (1.0 / 24.0 + w * (-1.0 / 720.0 + w * cp)))
            continue
        # of the edge, beside and along the flute's nominal direction
        if radii.ndim == 1:
            up = (radius + lag_c) * sp - lag_s * cp
            out = (radius + lag_c) * cp + lag_s * sp
            up_rate, out_rate = rises * sp, rises * cp
        else:
            up = (along_it + lag_c) * sp - (beside_it + lag_s) * cp
            out = (along_it + lag_c) * cp + (beside_it + lag_s) * sp
            # in the edge's own direction it goes out as the slice grows, and stays behind as its azimuth does
            so, co = (along_it * sp - beside_it * cp) / radius, (along_it * cp + beside_it * sp) / radius
            up_rate, out_rate = rises * so - swings * co, rises * co + swings * so
        slope = out + a_radian * up_rate + across
        if not slope > 0.2 * radius:
            return -1, 0.0, 0.0, 0.0
        change = -(up + b) / slope
        if abs(change) < 1e-8:
            # to first order in the step that remains
            left = -(a + out) - change * (ahead * speed - omega * up + out_rate) / omega
            up, out = up + change * (out + up_rate / omega), out + change * (out_rate / omega - up)
            vx, vy = speed * ahead - omega * up, speed * aside + sense * omega * out
            found = turned + change
            if not (abs(found) < 1.2 and moves):
                return -1, 0.0, 0.0, 0.0
            return 1, found, left, math.sqrt(vx * vx + vy * vy + fall * fall)
        change *= 1.0 + 0.5 * change * up / slope
        if not abs(change) < 0.5:
            return -1, 0.0, 0.0, 0.0
        turned += change
        w = change * change
        s = change * (1.0 + w * (-1.0 / 6.0 + w * (1.0 / 120.0 + w * (-1.0 / 5040.0 + w * (1.0 / 362880.0)))))
        v = w * (0.5 + w * (-1.0 / 24.0 + w * (1.0 / 720.0 + w * (-1.0 / 40320.0 + w * (1.0 / 3628800.0)))))
        sp, cp = sp - v * sp + s * cp, cp - v * cp - s * sp
    return -1, 0.0, 0.0, 0.0


@njit(cache=True)
def is_still(motion, k):
    """Whether the axis stands on piece k."""
    return motion[k, V] == 0.0 and motion[k, A] == 0.0


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
def level_between(motion, k, begin, end):
    """Whether the tip keeps its depth on all that is under way between two times; `k` is a piece near by."""
    k = walk(motion, k, begin)
    while k < motion.shape[0] and motion[k, T0] < end:
        if not level_on(motion, k):
            return False
        k += 1
    return True


@njit(cache=True)
def drifts(motion, heights, radii, k, omega, begin, end, ux, uy):
    """How far the axis goes along (ux, uy) at most from the middle between two times, and the largest drift.

    The drift is the axis' advance a radian plus the growth of the slice a radian: that of the outline at the rate of
    descent. `k` is a piece near by.
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
        if not level_on(motion, k):
            one, two = depth_on(motion, k, low), depth_on(motion, k, high)
            if max(one, two) > 0.0:
                _, most = steepest(heights, radii, max(min(one, two), 0.0), max(one, two))
                grow = most * fall_rate(motion, k) / omega
        way = max(way, 0.5 * omega * (end - begin) * fast * min(share, 1.0))
        drift = max(drift, fast + grow)
        k += 1
        if k >= motion.shape[0] or motion[k, T0] >= end:
            return way, drift


@njit(cache=True)
def edge_in_frame(motion, job, heights, radii, pieces, k, tau, phi, lag, x, y, ux, uy, flute):
    """Edge in the frame of a probe: R sin(psi) + b, its growth a radian, wood left; velocity; depth of the tip.

    `phi` is the angle since the nominal alignment, of which psi differs by what runout and the flute's own lag add.
    """
    sense, omega, rho = job[0], job[1], job[3]
    if motion[k, K] == 0.0:
        way, speed = tau * (motion[k, V] + 0.5 * motion[k, A] * tau), motion[k, V] + motion[k, A] * tau
        ch, sh = pieces[k, COSINE], pieces[k, SINE]
        px, py, depth = motion[k, X] + way * ch, motion[k, Y] + way * sh, depth_on(motion, k, tau)
    else:
        px, py, heading, depth, speed = state(motion, k, tau)
        ch, sh = math.cos(heading), math.sin(heading)
    depth = max(depth, 0.0)  # the tip enters and leaves the face but for rounding
    if radii.ndim == 2:
        depth = max(depth, flute_rise(radii, flute))
        r, behind, slope, turns = flute_law(heights, radii, flute, depth)
        s, c = math.sin(phi - behind), math.cos(phi - behind)
    else:
        r = profile_radius(heights, radii, depth)
        s, c = math.sin(phi), math.cos(phi)
    up, out = r * s, r * c
    if rho > 0.0:
        up, out = up + rho * math.sin(phi - lag), out + rho * math.cos(phi - lag)
    rx, ry = px - x, py - y
    ch, sh = speed * ch, speed * sh
    grow = 0.0
    f = up + sense * (ux * ry - uy * rx)
    if radii.ndim == 2:
        sinking = motion[k, W] + motion[k, B] * tau
        slope = out + ((slope * s - r * turns * c) * sinking + sense * (ux * sh - uy * ch)) / omega
    else:
        if not level_on(motion, k):
            grow = profile_slope(heights, radii, depth) * (motion[k, W] + motion[k, B] * tau)
        slope = out + (grow * s + sense * (ux * sh - uy * ch)) / omega
    return f, slope, -(rx * ux + ry * uy + out), up, out, depth, speed, ch, sh


@njit(cache=True)
def probe_crossings(
    motion, job, heights, radii, pieces, begin, end, aligned, flute, x, y, ux, uy, k, outlook, own, ends, hits, twist
):
    """All crossings of an edge with the probe within `outlook` of the lip, in the turn about its alignment.

    Fills (time after `begin`, depth still uncut, edge speed) and returns their number, however many the turn holds.
    Piece by piece of the motion, the time is halved until bounds on the first two derivatives say that the edge is
    away from the probe or moves across it in one direction only; then a change of sign is one crossing, and none is
    none. Between two such stretches no crossing can hide but a pair less than 1e-8 rad apart. `aligned` is when the
    flute's direction, `twist` behind the nominal one, lies along the probe.
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
        rise = flute_rise(radii, flute)
        one, two = depth_on(motion, k, before) - rise, depth_on(motion, k, until) - rise
        if level_on(motion, k) and one < TOUCHING:
            until = before
        elif one < -TOUCHING or two < -TOUCHING:
            # while the tip is above the face no edge is in it
            face = descent_time(motion, k, rise - motion[k, D])
            if one < 0.0 and two > 0.0:
                before = min(max(before, face), until)
            elif one > 0.0 and two < 0.0:
                until = max(min(until, face), before)
            else:
                until = before
        if until > before:
            sinks = fall_rate(motion, k) / omega
            e = max(motion[k, V], motion[k, V] + motion[k, A] * motion[k, DT]) / omega
            f0, _, _, _, _, d0, _, _, _ = edge_in_frame(
                motion,
                job,
                heights,
                radii,
                pieces,
                k,
                before,
                omega * (before + shift) + twist,
                lag,
                x,
                y,
                ux,
                uy,
                flute,
            )
            ends[0, 0], held = until, 1
            ends[0, 1], _, _, _, _, d1, _, _, _ = edge_in_frame(
                motion, job, heights, radii, pieces, k, until, omega * (until + shift) + twist, lag, x, y, ux, uy, flute
            )
            gentle, steep = (0.0, 0.0) if sinks == 0.0 else steepest(heights, radii, min(d0, d1), max(d0, d1))
            big = profile_radius(heights, radii, max(d0, d1)) + rho
            grow, unsure = steep * sinks, (steep - gentle) * sinks
            most = big + grow + e
            # second derivative by the angle: of the radius, of its turning, of the axis
            curl = big + 2.0 * grow + e * e * abs(motion[k, K])
            curl += (steep * abs(motion[k, B]) + abs(motion[k, A])) / (omega * omega)
            if radii.ndim == 2:
                # the edge also goes aside as its flute turns in the bit, and at every knot at another rate
                aside = radii[0, ASIDE] * sinks
                most, unsure = most + aside, unsure + 2.0 * aside
                curl += 2.0 * aside + radii[0, CURL] * sinks * sinks
                curl += radii[0, ASIDE] * abs(motion[k, B]) / (omega * omega)
            while held > 0:
                after, f1 = ends[held - 1, 0], ends[held - 1, 1]
                middle, half = 0.5 * (before + after), 0.5 * omega * (after - before)
                f, slope, left, _, _, _, _, _, _ = edge_in_frame(
                    motion,
                    job,
                    heights,
                    radii,
                    pieces,
                    k,
                    middle,
                    omega * (middle + shift) + twist,
                    lag,
                    x,
                    y,
                    ux,
                    uy,
                    flute,
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
                            f, slope, left, up, out, _, _, vx, vy = edge_in_frame(
                                motion,
                                job,
                                heights,
                                radii,
                                pieces,
                                k,
                                tau,
                                omega * (tau + shift) + twist,
                                lag,
                                x,
                                y,
                                ux,
                                uy,
                                flute,
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
                        fall = motion[k, W] + motion[k, B] * tau
                        # another groove's edge that points inwards from beyond the lip is at the back of the land
                        if own or left >= 0.0 or out >= 0.0:
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
    motion, job, heights, radii, begin, end_of_time, aligned, flute, x, y, ux, uy, k, most, outlook, hits, twist
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
        face = max(depth, 0.0)
        radius, extra = edge_of(job, heights, radii, flute, face, profile_radius(heights, radii, face))
        if radii.ndim == 2:
            extra -= twist
        rx, ry = px - x, py - y
        a = rx * ux + ry * uy
        b = sense * (ux * ry - uy * rx)
        if step == 0:
            # most teeth do not come near enough at any time of the turn
            reach, off = radius + 2.0 * job[3] + PI * most, max(abs(b) - PI * most, 0.0)
            if off >= reach or -(a + PI * most + math.sqrt(reach * reach - off * off)) > outlook:
                return 0
            turn = PI / omega
            if radii.ndim == 2 and (abs(extra) > 0.5 or not level_between(motion, k, t - turn, t + turn)):
                return -1
            way, drift = drifts(motion, heights, radii, k, omega, t - turn, t + turn, ux, uy)
            if -a - way - outlook <= max(4.0 * drift, 3.0 * job[3]):
                return -1
            ratio = -b / radius if radius > 0.0 else 2.0
            turned = math.asin(min(max(ratio, -0.999), 0.999)) + extra
            if job[3] > 0.0 or radii.ndim == 2:
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
        if sinking != 0.0 and radius > 0.0 and depth > 0.0:
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
            if abs(f) > 1e-9 * (1.0 + radius) or depth - flute_rise(radii, flute) < (
                TOUCHING if level_on(motion, k) else -1e-9
            ):
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
