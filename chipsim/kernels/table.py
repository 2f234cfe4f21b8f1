"""The tooth-pass table: which sweeps there are, when they cross an angle, what they find there."""

from __future__ import annotations

import math

import numpy as np

from .axis import DT, FULL, PI, T0, B, K, W, crossing, locate, rotation, rotation_time, state, turned_by
from .compiled import njit
from .lanes import row_windows, table_lanes, widest_grooves
from .outline import edge_of, own_radius, own_slope, profile_radius
from .thickness import steady_enough, steady_from, steady_own, steady_table, thickness_at

__all__ = []


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
def edge_times(motion, job, heights, radii, rows, levels, time, out):
    """When the edge at each height crosses what a flute's nominal direction crosses at `time`: (rows, angles, heights).

    NaN where a corner or an end of the motion lies in between.
    """
    for row in range(time.shape[0]):
        flute = int(rows[row, 0])
        for level in range(levels.shape[0]):
            h = levels[level]
            _, own = edge_of(job, heights, radii, flute, h, profile_radius(heights, radii, h))
            for col in range(time.shape[1]):
                t = time[row, col]
                out[row, col, level] = np.nan
                if math.isnan(t):
                    continue
                k = locate(motion, t)
                k, tau = turned_by(motion, job, k, t - motion[k, T0], own)
                if k >= 0:
                    out[row, col, level] = motion[k, T0] + tau


@njit(cache=True, nogil=True)
def tooth_pass_table(
    motion, job, heights, radii, prior, rows, phis, levels, biggest, time, state_out, radial, chip, speed_out, road
):
    """Fill the tooth-pass table: rows x angles x heights; see `kinematics.tooth_passes`. Returns a status.

    Status 0: well; 1: too many windows; 2: too many intervals. `road` 3 works out what it can many cells at a time, see
    `table_lanes`; 2 takes steady stretches from `steady_table`, 1 from `steady_thickness` cell by cell, 0 goes the
    general way everywhere.
    """
    flutes = int(job[2])
    swing = 0.0
    if radii.ndim == 2:
        # lanes know nothing of flutes whose azimuth depends on height
        road = min(road, 2)
        for level in range(levels.shape[0]):
            for j in range(flutes):
                _, extra = edge_of(job, heights, radii, j, levels[level], profile_radius(heights, radii, levels[level]))
                swing = max(swing, abs(extra))
    aside = swing / job[1]
    lasting = np.empty((3, flutes if road == 2 else 0, phis.shape[0], levels.shape[0]))
    known_speed, known_curvature, widest = -1.0, 0.0, 0.0
    time[:], state_out[:], radial[:], chip[:], speed_out[:] = np.nan, np.nan, np.nan, np.nan, np.nan
    windows = np.empty((4096, 2))
    cover = np.empty((1024, 2))
    omega = job[1]
    left = np.ones(radial.shape, np.int8)
    widest_before = widest_grooves(prior)
    if radii.ndim == 1 and road == 3:
        left[:] = 0
        status = table_lanes(
            motion,
            job,
            heights,
            radii,
            prior,
            widest_before,
            rows,
            phis,
            levels,
            biggest,
            time,
            state_out,
            radial,
            chip,
            speed_out,
            left,
        )
        if status > 0:
            return status
    for row in range(rows.shape[0]):
        if not np.any(left[row]):
            continue
        flute = int(rows[row, 0])
        begin, end, turn = rows[row, 1], rows[row, 2], rows[row, 3]
        count, met = row_windows(
            motion, job, prior, widest_before, max(begin - aside, 0.0), end + aside, biggest, windows
        )
        if count < 0 or met < 0:
            return 1
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
            steady_path = t - since > 1.5 * FULL / omega + aside
            rev = speed * FULL / omega
            from_table = False
            if steady_path and road == 2 and prior[0].shape[0] == 0:
                if speed != known_speed or motion[k, K] != known_curvature:
                    known_speed, known_curvature = speed, motion[k, K]
                    widest = steady_table(
                        job, heights, radii, speed, known_curvature, phis, levels, lasting[0], lasting[1], lasting[2]
                    )
                # every height's edge, moved by the runout, crosses on this very piece
                turning = widest / (omega - job[0] * known_curvature * speed)
                from_table = tau + turning <= motion[k, DT]
                if radii.ndim == 2:
                    from_table = from_table and tau >= turning
            for level in range(levels.shape[0]):
                h = levels[level]
                if (radii.ndim == 1 and h > depth + 1e-9) or left[row, col, level] == 0:
                    continue
                if from_table:
                    thick = lasting[0, flute, col, level]
                    if not math.isnan(thick):
                        radial[row, col, level] = thick
                        chip[row, col, level] = lasting[1, flute, col, level]
                        speed_out[row, col, level] = lasting[2, flute, col, level]
                        continue
                r = own_radius(heights, radii, flute, h)
                if radii.ndim == 1:
                    steady = steady_path and steady_enough(job, motion[k, K], rev, r)
                else:
                    steady = steady_path and steady_own(job, heights, radii, motion[k, K], rev, h)
                thick, edge_speed = thickness_at(
                    motion, job, heights, radii, prior, windows, count, steady, k, tau, phis[col], flute, h, h, cover
                )
                if thick < 0.0:
                    return 2
                radial[row, col, level] = thick
                speed_out[row, col, level] = edge_speed * 1e-3
                if math.isnan(thick):
                    continue
                lean = math.atan(own_slope(heights, radii, flute, h))
                ca, sa = math.cos(lean), math.sin(lean)
                if r < rev * (1.0 / job[2] + 1.0 / PI) + 2.0 * job[3]:
                    # the tip zone, r < f_z + 2 e: readings of thickness part and the normal may meet several surfaces
                    chip[row, col, level] = ca * thick
                    continue
                # along the flank's normal: n = cos a (h_r at h + n sin a), plus what the outline bends away
                n = ca * thick
                settled, last_miss, last_n = False, np.inf, -1.0
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
                    bend = r + n * sa * math.tan(lean) - own_radius(heights, radii, flute, up)
                    miss = max(ca * (other + bend), 0.0) - n
                    # the step that a straight line through this miss and the last one says, if that is a sane one
                    gain = miss / (last_miss - miss) if last_n >= 0.0 and last_miss != miss else -1.0
                    step = gain * (n - last_n) if abs(gain) < 1.0 else miss
                    last_n = n
                    n = max(n + step, 0.0)
                    # the general road knows a thickness to some 1e-10 at worst: the search may end in that noise
                    settled = math.isnan(n) or abs(miss) <= 1e-14 * (1.0 + r) or abs(last_miss) <= abs(miss) < 1e-8
                    last_miss = miss
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
                        bend = r + n * sa * math.tan(lean) - own_radius(heights, radii, flute, up)
                        if ca * (other + bend) > n:
                            low = n
                        else:
                            high = n
                        if high - low <= 1e-15 * (1.0 + r):
                            break
                chip[row, col, level] = n
    return 0
