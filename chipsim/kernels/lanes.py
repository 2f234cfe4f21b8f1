"""Thickness of many cells side by side, whatever the motion: lanes for vector registers, with guards that say no."""

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
    M,
    V,
    W,
    X,
    Y,
    crossing,
    depth_on,
    locate,
    point_at,
    state,
    travel_time,
    turned_by,
    walk,
)
from .compiled import njit
from .grooves import clear_of_groove
from .outline import edge, profile_radius, profile_slope
from .thickness import near_windows, steady_from, steady_table

__all__ = []


@njit(cache=True)
def widest_grooves(prior):
    """Radius of each earlier groove where it is widest, runout included."""
    widest = np.zeros(prior[1].shape[0] - 1)
    for g in range(widest.shape[0]):
        before = prior[0][prior[1][g] : prior[1][g + 1]]
        outline, width = prior[2][prior[4][g] : prior[4][g + 1]], prior[3][prior[4][g] : prior[4][g + 1]]
        for k in range(before.shape[0]):
            deepest = max(before[k, D], depth_on(before, k, before[k, DT]))
            widest[g] = max(widest[g], profile_radius(outline, width, deepest) + prior[5][g, 3])
    return widest


@njit(cache=True)
def row_windows(motion, job, prior, widest, begin, end, biggest, windows):
    """Time windows in which the axis, and those of earlier motions, are near a row; their numbers, -1 if too many."""
    nobody = np.empty(0, np.int64)
    k0 = locate(motion, begin)
    x, y, _, _, v = state(motion, k0, begin - motion[k0, T0])
    way = 0.0
    for k in range(k0, motion.shape[0]):
        if motion[k, T0] >= end:
            break
        way += max(motion[k, V], motion[k, V] + motion[k, A] * motion[k, DT]) * (
            min(end, motion[k, T0] + motion[k, DT]) - max(begin, motion[k, T0])
        )
    slack = way + 0.02 * FULL / job[1] * v
    count = near_windows(motion, nobody, -1, x, y, 2.0 * biggest + slack, end + FULL / job[1], windows)
    met = 0
    for g in range(widest.shape[0]):
        before, held = prior[0][prior[1][g] : prior[1][g + 1]], prior[7][g]
        found = near_windows(before, nobody, -1, x, y, biggest + slack + widest[g], 1e300, prior[6][held:])
        if found < 0:
            return count, -1
        prior[7][g + 1] = held + found
        met += found
    return count, met


WIDE = 64  # rays solved side by side

B0, A0, AL, AC, VE, EA, KA, R0, GW, GB, Y0, OWN, RO, CA, KK, QQ, TQ, NN, TN = (WIDE * i for i in range(19))

FIELDS = 19

DEPTH_R, WR, BR = 7, 8, 9  # of a reference: after A0..KA


@njit(cache=True, error_model="numpy", fastmath={"contract"})
def root_lanes(box, count):
    """Where earlier edges met rays, and the flank's normals through the rays' ends, up to WIDE of them side by side.

    Lane by lane, T the angle by which the spindle turned since the reference time of the pass and p = T + own:

        F = (R0 + GW T + GB T^2 + KK n) sin p - Y0 cos p + b(T),     q = a(T) + (R0 + ...) cos p + Y0 sin p

    R0 and Y0 are the edge's place beside and across the flute's nominal direction (Y0 is runout alone, so that runout
    costs no root and no angle); a and b are the axis, on a line or arc of curvature KA (positive towards the rotation)
    with the advance VE T + EA T^2. F(T, 0) = 0 gives q, and with N = n - CA (RO + KK n - q) the pair F = N = 0 the
    distance n along the normal. Out: q, its T, n, its T; 1e300 where a guard says no.

    Written for registers as `pass_lanes` is. The start is right to some 1e-3; there a and b are expanded to third
    order, one step of fourth order and a Newton step follow, then three Newton steps for the pair; the last steps'
    sizes prove the errors. What the expansion leaves out is below 1e-13 for steps below 0.03.
    """
    for i in range(count):
        b0, a0, al, ac = box[B0 + i], box[A0 + i], box[AL + i], box[AC + i]
        ve, ea, ka = box[VE + i], box[EA + i], box[KA + i]
        r0, gw, gb, y0, own = box[R0 + i], box[GW + i], box[GB + i], box[Y0 + i], box[OWN + i]
        ro, ca, kk = box[RO + i], box[CA + i], box[KK + i]
        slope = r0 + ve * ac
        inverse = 1.0 / slope
        u = (y0 - b0 + own * (ve - ea * own) * ac) * inverse
        w, ratio = u * u, r0 * inverse
        p = u + u * w * ratio * (1.0 / 6.0 + w * (ratio * (1.0 / 12.0) - 1.0 / 120.0))
        w = p * p
        sp = 1.0 / 6227020800.0 + w * (-1.0 / 1307674368000.0)
        sp = 1.0 / 120.0 + w * (-1.0 / 5040.0 + w * (1.0 / 362880.0 + w * (-1.0 / 39916800.0 + w * sp)))
        sp = p * (1.0 + w * (-1.0 / 6.0 + w * sp))
        cp = 1.0 / 479001600.0 + w * (-1.0 / 87178291200.0 + w * (1.0 / 20922789888000.0))
        cp = 1.0 / 24.0 + w * (-1.0 / 720.0 + w * (1.0 / 40320.0 + w * (-1.0 / 3628800.0 + w * cp)))
        cp = 1.0 + w * (-0.5 + w * cp)
        t = p - own
        x = t * (ve + ea * t)
        y = ka * x
        w = y * y
        along = 1.0 / 362880.0 + w * (-1.0 / 39916800.0 + w * (1.0 / 6227020800.0))
        along = 1.0 + w * (-1.0 / 6.0 + w * (1.0 / 120.0 + w * (-1.0 / 5040.0 + w * along)))
        aside = 1.0 / 3628800.0 + w * (-1.0 / 479001600.0 + w * (1.0 / 87178291200.0))
        aside = y * (0.5 + w * (-1.0 / 24.0 + w * (1.0 / 720.0 + w * (-1.0 / 40320.0 + w * aside))))
        cy, sy = 1.0 - y * aside, y * along
        along, aside = x * along, x * aside
        b1, a1 = b0 + along * ac + aside * al, a0 + along * al - aside * ac
        l1, c1 = al * cy - ac * sy, ac * cy + al * sy
        x1, x2 = ve + 2.0 * ea * t, 2.0 * ea
        bend = x1 * x1 * ka
        bt, at = x1 * c1, x1 * l1
        bt2, at2 = 0.5 * (x2 * c1 + bend * l1), 0.5 * (x2 * l1 - bend * c1)
        twist, coil = 0.5 * x1 * x2 * ka, (1.0 / 6.0) * bend * x1 * ka
        bt3, at3 = twist * l1 - coil * c1, -twist * c1 - coil * l1
        r1, rt = r0 + t * (gw + gb * t), gw + 2.0 * gb * t
        f = r1 * sp - y0 * cp + b1
        inverse = 1.0 / (r1 * cp + y0 * sp + rt * sp + bt)
        step = -f * inverse
        s2 = (0.5 * (y0 * cp - r1 * sp) + rt * cp + gb * sp + bt2) * inverse
        s3 = (bt3 - (1.0 / 6.0) * (r1 * cp + y0 * sp) - 0.5 * rt * sp) * inverse
        d = step * (1.0 - step * (s2 - step * (2.0 * s2 * s2 - s3)))
        w = d * d
        sd, vd = d * (1.0 + w * (-1.0 / 6.0 + w * (1.0 / 120.0))), w * (0.5 + w * (-1.0 / 24.0 + w * (1.0 / 720.0)))
        sn, cn = sp + (cp * sd - sp * vd), cp - (sp * sd + cp * vd)
        r2, rd = r1 + d * (rt + gb * d), rt + 2.0 * gb * d
        f = r2 * sn - y0 * cn + b1 + d * (bt + d * (bt2 + d * bt3))
        edge_on, edge_off = r2 * cn + y0 * sn, y0 * cn - r2 * sn
        bd, ad = bt + d * (2.0 * bt2 + 3.0 * d * bt3), at + d * (2.0 * at2 + 3.0 * d * at3)
        inverse = 1.0 / (edge_on + rd * sn + bd)
        last = -f * inverse
        q = a1 + d * (at + d * (at2 + d * at3)) + edge_on + last * (ad + rd * cn + edge_off)
        good = (abs(p) < 0.85) & (abs(d) < 0.03) & (abs(last) < 1e-8) & (abs(y) < 0.6)
        d += last
        box[QQ + i] = q if good else 1e300
        box[TQ + i] = t + d
        # along the normal: how q changes with n, to first order, for the start
        thick = ro - q
        qn = cn - sn * (ad + rd * cn + edge_off) * inverse
        n = ca * thick / (1.0 - kk * ca * (1.0 - qn))
        n = n if n > 0.0 else 0.0
        d -= sn * inverse * kk * n
        # first
        w = d * d
        sd, vd = d * (1.0 + w * (-1.0 / 6.0 + w * (1.0 / 120.0))), w * (0.5 + w * (-1.0 / 24.0 + w * (1.0 / 720.0)))
        sn, cn = sp + (cp * sd - sp * vd), cp - (sp * sd + cp * vd)
        r2, rd = r1 + d * (rt + gb * d) + kk * n, rt + 2.0 * gb * d
        edge_on, edge_off = r2 * cn + y0 * sn, y0 * cn - r2 * sn
        f = r2 * sn - y0 * cn + b1 + d * (bt + d * (bt2 + d * bt3))
        g = n - ca * (ro + kk * n - (a1 + d * (at + d * (at2 + d * at3)) + edge_on))
        bd, ad = bt + d * (2.0 * bt2 + 3.0 * d * bt3), at + d * (2.0 * at2 + 3.0 * d * at3)
        fd, fn = edge_on + rd * sn + bd, kk * sn
        gd, gn = ca * (ad + rd * cn + edge_off), 1.0 - ca * kk * (1.0 - cn)
        inverse = 1.0 / (fd * gn - fn * gd)
        d, n = d - (f * gn - fn * g) * inverse, n - (fd * g - gd * f) * inverse
        # second
        w = d * d
        sd, vd = d * (1.0 + w * (-1.0 / 6.0 + w * (1.0 / 120.0))), w * (0.5 + w * (-1.0 / 24.0 + w * (1.0 / 720.0)))
        sn, cn = sp + (cp * sd - sp * vd), cp - (sp * sd + cp * vd)
        r2, rd = r1 + d * (rt + gb * d) + kk * n, rt + 2.0 * gb * d
        edge_on, edge_off = r2 * cn + y0 * sn, y0 * cn - r2 * sn
        f = r2 * sn - y0 * cn + b1 + d * (bt + d * (bt2 + d * bt3))
        g = n - ca * (ro + kk * n - (a1 + d * (at + d * (at2 + d * at3)) + edge_on))
        bd, ad = bt + d * (2.0 * bt2 + 3.0 * d * bt3), at + d * (2.0 * at2 + 3.0 * d * at3)
        fd, fn = edge_on + rd * sn + bd, kk * sn
        gd, gn = ca * (ad + rd * cn + edge_off), 1.0 - ca * kk * (1.0 - cn)
        inverse = 1.0 / (fd * gn - fn * gd)
        d, n = d - (f * gn - fn * g) * inverse, n - (fd * g - gd * f) * inverse
        # third
        w = d * d
        sd, vd = d * (1.0 + w * (-1.0 / 6.0 + w * (1.0 / 120.0))), w * (0.5 + w * (-1.0 / 24.0 + w * (1.0 / 720.0)))
        sn, cn = sp + (cp * sd - sp * vd), cp - (sp * sd + cp * vd)
        r2, rd = r1 + d * (rt + gb * d) + kk * n, rt + 2.0 * gb * d
        edge_on, edge_off = r2 * cn + y0 * sn, y0 * cn - r2 * sn
        f = r2 * sn - y0 * cn + b1 + d * (bt + d * (bt2 + d * bt3))
        g = n - ca * (ro + kk * n - (a1 + d * (at + d * (at2 + d * at3)) + edge_on))
        bd, ad = bt + d * (2.0 * bt2 + 3.0 * d * bt3), at + d * (2.0 * at2 + 3.0 * d * at3)
        fd, fn = edge_on + rd * sn + bd, kk * sn
        gd, gn = ca * (ad + rd * cn + edge_off), 1.0 - ca * kk * (1.0 - cn)
        inverse = 1.0 / (fd * gn - fn * gd)
        last, drift = (f * gn - fn * g) * inverse, (fd * g - gd * f) * inverse
        d -= last
        n -= drift
        fine = good & (abs(last) < 1e-8) & (abs(drift) < 1e-8) & (abs(d) < 0.03) & (abs(p + d) < 0.85)
        flat = good & (thick <= 0.0)
        n = n if fine else 1e300
        box[NN + i] = 0.0 if flat else n
        box[TN + i] = box[TQ + i] if flat else t + d


@njit(cache=True)
def reference(motion, courses, job, k, tr, cx, cy, ux, uy, ref):
    """Fill A0..KA, depth, rates of descent of piece k about the time tr, seen along a ray; see `root_lanes`.

    `courses` are cosine and sine of the pieces' headings at their beginnings, and their ends. The time tr may lie
    outside the piece.
    """
    omega = job[1]
    tau = tr - motion[k, T0]
    speed = motion[k, V] + motion[k, A] * tau
    if motion[k, K] == 0.0:
        way = tau * (motion[k, V] + 0.5 * motion[k, A] * tau)
        ch, sh = courses[k, 0], courses[k, 1]
        x, y = motion[k, X] + way * ch, motion[k, Y] + way * sh
    else:
        x, y, heading, _, _ = state(motion, k, tau)
        ch, sh = math.cos(heading), math.sin(heading)
    rx, ry = x - cx, y - cy
    ref[0] = job[0] * (ux * ry - uy * rx)
    ref[1] = rx * ux + ry * uy
    ref[2] = ch * ux + sh * uy
    ref[3] = job[0] * (ux * sh - uy * ch)
    ref[4] = speed / omega
    ref[5] = 0.5 * motion[k, A] / (omega * omega)
    ref[6] = job[0] * motion[k, K]
    ref[DEPTH_R] = depth_on(motion, k, tau)
    ref[WR] = (motion[k, W] + motion[k, B] * tau) / omega
    ref[BR] = 0.5 * motion[k, B] / (omega * omega)


@njit(cache=True)
def discs_miss(motion, courses, heights, radii, k, until, px, py, ux, uy, extent, lift, rho, back):
    """Whether no disc of piece k, before the time `until`, holds a point of the stretch from P along u, `extent` long.

    The disc at a time is as wide as anything a tooth can reach in the slice then, runout included. On a line with the
    radius straight along it, the square of the distance from P less that of the radius is convex: its least is known.
    Where P lies behind a disc's centre the stretch may run into it: its length is added to the radius (from an axis
    behind, P is the stretch's nearest point). Arcs are cut into parts, each its chord and what it strays from it,
    kappa l^2 / 8, longer the farther they lie `back`.
    """
    tau = min(until - motion[k, T0], motion[k, DT])
    if tau <= 0.0:
        return True
    ha, hb = lift + motion[k, D], lift + depth_on(motion, k, tau)
    if ha < 0.0 and hb < 0.0:
        return True
    far = tau * (motion[k, V] + 0.5 * motion[k, A] * tau)
    # only while the tip is below the slice; the depth runs straight along the way
    since = 0.0
    if ha < 0.0:
        since, ha = far * ha / (ha - hb), 0.0
    elif hb < 0.0:
        far, hb = far * ha / (ha - hb), 0.0
    ra, rb = profile_radius(heights, radii, ha) + rho, profile_radius(heights, radii, hb) + rho
    if ra != rb and not one_flank(heights, min(ha, hb), max(ha, hb)):
        ra = rb = max(ra, rb)
    kappa = motion[k, K]
    if kappa == 0.0:
        ch, sh = courses[k, 0], courses[k, 1]
        dx, dy = px - motion[k, X] - since * ch, py - motion[k, Y] - since * sh
        return line_misses(dx, dy, ch, sh, far - since, ra, rb, ux, uy, extent)
    x1, y1 = point_at(motion, k, far)
    s1 = far
    # From a point the distance to a circle's points, back along it, rises up to 180 deg and falls after that: while P
    # and the stretch's end are less than 90 deg ahead, of 270 deg of the arc an end is nearest; none is wider than the
    # latest.
    if rb >= ra and arc_behind(motion[k, H] + kappa * far, kappa, px - x1, py - y1, extent * ux, extent * uy):
        s1 = max(far - 1.5 * PI / abs(kappa), since)
        x0, y0 = point_at(motion, k, s1)
        for end in range(2):
            dx, dy = (px - x1, py - y1) if end == 0 else (px - x0, py - y0)
            at = min(max(-(dx * ux + dy * uy), 0.0), extent)
            dx, dy = dx + at * ux, dy + at * uy
            if dx * dx + dy * dy <= rb * rb:
                return False
        if s1 <= since:
            return True
        back += far - s1
        x1, y1 = x0, y0
    # parts from the late end backwards
    while s1 > since:
        part = min(0.4 * back + 1e-3, 0.5 / abs(kappa), s1 - since)
        s0 = s1 - part if s1 - part > since + 1e-9 else since
        part = s1 - s0
        x0, y0 = point_at(motion, k, s0)
        chord = math.hypot(x1 - x0, y1 - y0)
        if chord <= 0.0:
            return False
        stray = 0.125 * abs(kappa) * part * part
        slope = (rb - ra) / (far - since)
        r0, r1 = ra + slope * (s0 - since) + stray, ra + slope * (s1 - since) + stray
        if not line_misses(px - x0, py - y0, (x1 - x0) / chord, (y1 - y0) / chord, chord, r0, r1, ux, uy, extent):
            return False
        x1, y1, s1 = x0, y0, s0
        back += part
    return True


@njit(cache=True)
def arc_behind(heading, kappa, dx, dy, ex, ey):
    """Whether a point at (dx, dy), and one (ex, ey) farther, are 0 to 90 deg ahead on an arc, about its centre."""
    ch, sh, turn = math.cos(heading), math.sin(heading), 1.0 if kappa > 0.0 else -1.0
    along, inwards = dx * ch + dy * sh, turn * (dy * ch - dx * sh)
    along_end, inwards_end = along + ex * ch + ey * sh, inwards + turn * (ey * ch - ex * sh)
    rad = 1.0 / abs(kappa)
    return along >= 0.0 and along_end >= 0.0 and inwards <= rad and inwards_end <= rad


@njit(cache=True)
def one_flank(heights, low, high):
    """Whether the outline runs straight between two heights."""
    n = heights.shape[0]
    if low >= heights[n - 1]:
        return True
    k = 1
    while k < n and heights[k] < low:
        k += 1
    if k < n and heights[k] == low and k + 1 < n:
        k += 1
    return k < n and high <= heights[k]


@njit(cache=True)
def line_misses(dx, dy, ch, sh, far, ra, rb, ux, uy, extent):
    """`discs_miss` for one straight stretch of the axis, P at (dx, dy) from its beginning, radii ra to rb."""
    ahead = dx * ux + dy * uy
    if min(ahead, ahead - far * (ch * ux + sh * uy)) < 0.0:
        ra += extent
        rb += extent
    g = (rb - ra) / far if far > 0.0 else 0.0
    if abs(g) > 0.9 or far <= 0.0:
        ra = max(ra, rb)
        g = 0.0
    along, across = dx * ch + dy * sh, dy * ch - dx * sh
    s = min(max((along + g * ra) / (1.0 - g * g), 0.0), far)
    r = ra + g * s
    return (s - along) * (s - along) + across * across > r * r


@njit(cache=True)
def recent_extremes(motion, since, until, out):
    """Fill out = (fastest speed, least depth, least and greatest heading of a moving axis) between two times."""
    out[0], out[1], out[2], out[3] = 0.0, 1e300, 1e300, -1e300
    k = locate(motion, until)
    while True:
        a, b = max(since - motion[k, T0], 0.0), min(until - motion[k, T0], motion[k, DT])
        va, vb = motion[k, V] + motion[k, A] * a, motion[k, V] + motion[k, A] * b
        out[0] = max(out[0], va, vb)
        out[1] = min(out[1], depth_on(motion, k, a), depth_on(motion, k, b))
        if motion[k, DS] > 0.0:
            for at in (a, b):
                heading = motion[k, H] + motion[k, K] * at * (motion[k, V] + 0.5 * motion[k, A] * at)
                out[2], out[3] = min(out[2], heading), max(out[3], heading)
        if motion[k, T0] <= since or k == 0:
            return
        k -= 1


@njit(cache=True)
def stays_behind(motion, since, tc, cx, cy, ux, uy):
    """Whether the axis never was ahead of C along u between `since` and tc: then no point ahead is nearer than C."""
    k = locate(motion, tc)
    while True:
        s = max(since - motion[k, T0], 0.0)
        ds = s * (motion[k, V] + 0.5 * motion[k, A] * s)
        x, y = point_at(motion, k, ds)
        bulge = 0.125 * abs(motion[k, K]) * motion[k, DS] * motion[k, DS]
        if (x - cx) * ux + (y - cy) * uy + bulge > 1e-12:
            return False
        if motion[k, T0] <= since or k == 0:
            return True
        k -= 1


@njit(cache=True, nogil=True, error_model="numpy")
def table_lanes(
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
):
    """Fill what can be filled of the tooth-pass table many cells at a time; `left` marks the rest, its numbers say why.

    Level steady stretches are copies of `steady_table`. Elsewhere the thickness of a cell is R - Q, Q the farthest that
    the flutes' last passes m = 1..z reached along its ray; see `root_lanes`. Why nothing else counts, and when:

    * One alignment a turn. Seen from the axis the direction of a point P on the ray turns by at most v / |P - C'|,
      slower than the flutes if |P - C'| > e = v / omega: passes are numbered by whole turns. The way back C - C' lies
      in the cone of the headings of late, which keeps delta from the ray's opposite: |P - C'| >= q sin(min(delta, 90
      deg)), or >= q if the axis never was ahead (`stays_behind`). Guard: that times Q > 2.5 e, e the fastest of late.
    * A pass takes all below q. R - |P - C'| at the alignment with the point at q has one zero: there its slope along q
      is -cos psi + (v + R') |sin psi| / (omega R - v) < 0 for |psi| < 0.85, and |sin psi| <= 1.25 turns' way / R.
      Guard: that way < 0.75 R, R the least of late (no tip above the slice).
    * No gap down to the axis. From the edge's crossing on the meeting point of segment and ray moves without jumps,
      forwards in time if b < 0, backwards if b > 0, by half a turn at most, until the edge leaves behind C (which is
      inside its disc, as the way is short), until now (at C), or until the axis crosses the ray's line, which is never
      ahead of C as delta > 0. So 1.75 turns of history are needed.
    * Nothing older. A removal by pass m + 1 or an older one came before the time at which that pass was aligned with
      the nearest point that matters: (m + 1) pitches ago but for the angle of that point from the ray, at most
      atan(way / q) and what runout adds. If no disc before that holds a point of the ray from Q to the edge
      (`discs_miss`), and none of the parallel stretch at the normal's end, it is over; else one more pass is solved.
      An axis that stands and never rises repeats every pass with a larger radius (`stands_here`).
    * The normal. The least n of the passes is that of the least thickness, as each cos a (R + k n - q_m(n)) - n falls
      in n: slope sin^2 a (1 - dq/dR) - 1 < 0.
    * Outline: heights at the roots, and at the normal's ends, on the one straight flank of the cell.

    With runout each height has a crossing, and so a ray, of its own. Earlier motions: what is uncut must be clear of
    their nominal grooves by the runout, or lie so deep in one that it is gone (`surely_removed`).
    """
    sense, omega, flutes = job[0], job[1], int(job[2])
    rho = job[3]
    columns, count_levels = phis.shape[0], levels.shape[0]
    courses = np.empty((motion.shape[0], 4))
    for k in range(motion.shape[0]):
        courses[k, 0], courses[k, 1] = math.cos(motion[k, H]), math.sin(motion[k, H])
        courses[k, 2], courses[k, 3] = point_at(motion, k, motion[k, DS])
    last_piece = motion.shape[0] - 1
    end_of_time = motion[last_piece, T0] + motion[last_piece, DT]
    steepest = 0.0
    for j in range(1, heights.shape[0]):
        steepest = max(steepest, (radii[j] - radii[j - 1]) / (heights[j] - heights[j - 1]))
    period, pitch = FULL / omega, FULL / omega / flutes
    lasting = np.empty((3, flutes, columns, count_levels))
    known_speed, known_curvature, widest = -1.0, 0.0, 0.0
    windows = np.empty((4096, 2))
    groups = prior[1].shape[0] - 1
    # of the levels: radius, tan, cos, sin of the lean, ends of the straight flank; of flutes and levels: rim and extra
    nominal, lean_tan, lean_cos, lean_sin = (
        np.empty(count_levels),
        np.empty(count_levels),
        np.empty(count_levels),
        np.empty(count_levels),
    )
    flank = np.empty((count_levels, 2))
    rims = np.empty((flutes, count_levels, 2))
    places = np.empty((flutes, 2))
    for j in range(flutes):
        lag = job[4] - FULL * j / flutes
        places[j, 0], places[j, 1] = rho * math.cos(lag), rho * math.sin(lag)
    for level in range(count_levels):
        h = levels[level]
        nominal[level] = profile_radius(heights, radii, h)
        lean_tan[level] = profile_slope(heights, radii, h)
        lean_cos[level] = 1.0 / math.sqrt(1.0 + lean_tan[level] ** 2)
        lean_sin[level] = lean_tan[level] * lean_cos[level]
        k = 1
        while k < heights.shape[0] and heights[k] < h - 1e-12:
            k += 1
        flank[level, 0] = heights[k - 1]
        flank[level, 1] = heights[k] if k < heights.shape[0] else 1e300
        for j in range(flutes):
            rims[j, level, 0], rims[j, level, 1] = edge(job, j, nominal[level])
    ahead = np.cos(phis)
    cells = columns * count_levels
    cell_at = np.empty((cells, 2), np.int64)
    piece = np.empty(cells, np.int64)
    # cx, cy, ux, uy, tc, lift, depth, heading
    ray = np.empty((cells, 8))
    # Q, n, passes solved, state (0 under way, 1 to the slow road), least sure distance, tilt
    most, least = np.empty(cells), np.empty(cells)
    passes, lost = np.empty(cells, np.int64), np.empty(cells, np.int64)
    tilt = np.empty(cells)
    room = 2 * cells * flutes + 256
    item_cell, item_pass, item_piece, item_hops = (
        np.empty(room, np.int64),
        np.empty(room, np.int64),
        np.empty(room, np.int64),
        np.empty(room, np.int64),
    )
    item_wants = np.empty(room, np.int64)
    box = np.empty(FIELDS * WIDE)
    box[:] = 0.0
    ref = np.empty(10)
    recent, recent_more = np.empty(4), np.empty(4)
    near_pieces = np.empty(20000, np.int64)
    at_hand = np.empty(20000, np.int64)
    for row in range(rows.shape[0]):
        flute = int(rows[row, 0])
        begin, end, turn = rows[row, 1], rows[row, 2], rows[row, 3]
        count, met = row_windows(motion, job, prior, widest_before, begin, end, biggest, windows)
        if count < 0 or met < 0:
            return 1
        past = begin - (max(1.75, 1.3 + 1.0 / flutes) + 0.1) * period
        young = past < 0.0
        if not young:
            recent_extremes(motion, past, min(end + 0.1 * period, end_of_time), recent)
        n_cells = 0
        latest, since = -1, np.inf
        turning = 0.0  # widest angle between rays and heading
        for col in range(columns):
            target = phis[col] + FULL * turn
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
                if count == 1:
                    since = steady_from(motion, k, windows[0, 0], biggest)
            from_table = False
            if t - since > 1.5 * period and groups == 0:
                if speed != known_speed or motion[k, K] != known_curvature:
                    known_speed, known_curvature = speed, motion[k, K]
                    widest = steady_table(
                        job, heights, radii, speed, known_curvature, phis, levels, lasting[0], lasting[1], lasting[2]
                    )
                from_table = tau + widest / (omega - sense * known_curvature * speed) <= motion[k, DT]
            azimuth = heading + sense * (phis[col] - 0.5 * PI)
            ux, uy = math.cos(azimuth), math.sin(azimuth)
            kc, tc, deep = k, t, depth
            for level in range(count_levels):
                h = levels[level]
                if h > deep + 1e-9:
                    continue
                if from_table:
                    thick = lasting[0, flute, col, level]
                    if not math.isnan(thick):
                        radial[row, col, level] = thick
                        chip[row, col, level] = lasting[1, flute, col, level]
                        speed_out[row, col, level] = lasting[2, flute, col, level]
                        continue
                left[row, col, level] = 1
                if young:
                    continue
                own = rims[flute, level, 1]
                if own != 0.0:
                    kc, tau_c = turned_by(motion, job, k, tau, own)
                    if kc < 0:
                        left[row, col, level] = 0
                        continue
                    tc = motion[kc, T0] + tau_c
                    cx, cy, heading, depth, speed = state(motion, kc, tau_c)
                    azimuth = heading + sense * (phis[col] - 0.5 * PI)
                    ux, uy = math.cos(azimuth), math.sin(azimuth)
                    if tc < begin - 0.1 * period or tc > end + 0.1 * period:
                        continue
                lift = h - depth
                rim = rims[flute, level, 0]
                # the tip must have been below the slice of late, and the way short beside the radius
                lowest = lift + recent[1]
                if lowest < 0.0:
                    continue
                e = recent[0] / omega
                narrow = profile_radius(heights, radii, lowest) - rho
                if e * 1.25 * FULL > 0.75 * narrow or narrow <= 3.0 * rho:
                    continue
                i = n_cells
                # no heading of late within delta of the ray's opposite
                cos_delta = 0.0
                if recent[3] >= recent[2]:
                    middle, half = 0.5 * (recent[2] + recent[3]), 0.5 * (recent[3] - recent[2])
                    off = abs(azimuth - middle)
                    off = abs(off - FULL * math.floor(off / FULL + 0.5)) + half
                    delta = PI - off
                    if delta < 0.5 * PI and not stays_behind(motion, past, tc, cx, cy, ux, uy):
                        if delta < 0.02:
                            continue
                        cos_delta = math.cos(delta)
                    turning = max(turning, abs(azimuth - heading - FULL * math.floor((azimuth - heading) / FULL + 0.5)))
                tilt[i] = cos_delta
                cell_at[i, 0], cell_at[i, 1] = col, level
                ray[i, 0], ray[i, 1], ray[i, 2], ray[i, 3] = cx, cy, ux, uy
                ray[i, 4], ray[i, 5], ray[i, 6], ray[i, 7] = tc, lift, depth, heading
                piece[i] = kc
                most[i], least[i], passes[i], lost[i] = -1e300, 1e300, 0, 0
                swing = omega * rim
                fall = motion[kc, W] + motion[kc, B] * (tc - motion[kc, T0])
                speed_out[row, col, level] = 1e-3 * math.sqrt(
                    swing * swing + speed * speed + 2.0 * swing * speed * ahead[col] + fall * fall
                )
                n_cells += 1
        if n_cells == 0:
            continue
        # passes 1..z of every cell
        head, tail = 0, 0
        for m in range(1, flutes + 1):
            column, guess_piece = -1, 0
            for i in range(n_cells):
                item_cell[tail], item_pass[tail], item_hops[tail], item_wants[tail] = i, m, 0, 3
                tr = ray[i, 4] - m * pitch
                if rho > 0.0 or cell_at[i, 0] != column:
                    column = cell_at[i, 0]
                    guess_piece = walk(motion, piece[i], tr)
                item_piece[tail] = guess_piece
                tail += 1
        for i in range(n_cells):
            passes[i] = flutes
        rounds = 0
        while True:
            # solve what is waiting
            while head < tail:
                held = min(WIDE, tail - head)
                column, known_pass, known_piece = -1, -1, -1
                for lane in range(held):
                    c, m, k = item_cell[head + lane], item_pass[head + lane], item_piece[head + lane]
                    level = cell_at[c, 1]
                    other = (flute - m) % flutes
                    own = rims[flute, level, 1]
                    tr = ray[c, 4] - m * pitch
                    base = nominal[level] + places[other, 0]
                    if rho > 0.0 or cell_at[c, 0] != column or m != known_pass or k != known_piece:
                        column, known_pass, known_piece = cell_at[c, 0], m, k
                        reference(motion, courses, job, k, tr, ray[c, 0], ray[c, 1], ray[c, 2], ray[c, 3], ref)
                    r0 = base + lean_tan[level] * (ref[DEPTH_R] - ray[c, 6])
                    if item_hops[head + lane] == 0:
                        # where the root will be, roughly: on which piece
                        at = tr + ((places[other, 1] - ref[0]) / (r0 + ref[4] * ref[3]) - own) / omega
                        if at < motion[k, T0] or at > motion[k, T0] + motion[k, DT]:
                            k = walk(motion, k, at)
                            item_piece[head + lane] = known_piece = k
                            reference(motion, courses, job, k, tr, ray[c, 0], ray[c, 1], ray[c, 2], ray[c, 3], ref)
                            r0 = base + lean_tan[level] * (ref[DEPTH_R] - ray[c, 6])
                    box[B0 + lane], box[A0 + lane], box[AL + lane], box[AC + lane] = ref[0], ref[1], ref[2], ref[3]
                    box[VE + lane], box[EA + lane], box[KA + lane] = ref[4], ref[5], ref[6]
                    box[R0 + lane], box[Y0 + lane], box[OWN + lane] = r0, places[other, 1], own
                    box[GW + lane], box[GB + lane] = lean_tan[level] * ref[WR], lean_tan[level] * ref[BR]
                    box[RO + lane], box[CA + lane] = rims[flute, level, 0], lean_cos[level]
                    box[KK + lane] = lean_tan[level] * lean_sin[level]
                root_lanes(box, (held + 7) // 8 * 8)
                first = head
                head += held
                for lane in range(held):
                    c, m, k = item_cell[first + lane], item_pass[first + lane], item_piece[first + lane]
                    if lost[c] > 0:
                        continue
                    level, wants = cell_at[c, 1], item_wants[first + lane]
                    q, n = box[QQ + lane], box[NN + lane]
                    tr = ray[c, 4] - m * pitch
                    again = -1
                    if q > 1e299:
                        lost[c] = 11
                        continue
                    if wants & 1:
                        at = tr + box[TQ + lane] / omega
                        onto = on_piece(motion, k, at)
                        if onto == 0:
                            high = ray[c, 5] + depth_on(motion, k, at - motion[k, T0])
                            if high < flank[level, 0] - 1e-12 or high > flank[level, 1] + 1e-12:
                                lost[c] = 12
                                continue
                            most[c] = max(most[c], q)
                            wants &= 2
                        else:
                            again = k + onto
                    if wants & 2:
                        if n > 1e299:
                            lost[c] = 13
                            continue
                        at = tr + box[TN + lane] / omega
                        onto = on_piece(motion, k, at)
                        if onto == 0:
                            high = ray[c, 5] + depth_on(motion, k, at - motion[k, T0]) + n * lean_sin[level]
                            if high < flank[level, 0] - 1e-12 or high > flank[level, 1] + 1e-12:
                                lost[c] = 14
                                continue
                            least[c] = min(least[c], n)
                            wants &= 1
                        elif again < 0:
                            again = k + onto
                    if wants == 0:
                        continue
                    hops = item_hops[first + lane] + 1
                    if again < 0 or again >= motion.shape[0] or hops > 12 or tail >= room:
                        lost[c] = 15
                        continue
                    item_cell[tail], item_pass[tail], item_piece[tail] = c, m, again
                    item_hops[tail], item_wants[tail] = hops, wants
                    tail += 1
            # what is older must not matter
            if rounds == 0:
                thickest, rim_most = 0.0, 0.0
                for i in range(n_cells):
                    level = cell_at[i, 1]
                    if lost[i] > 0:
                        continue
                    rim = rims[flute, level, 0]
                    rim_most = max(rim_most, rim + lean_tan[level] * lean_sin[level] * least[i])
                    thickest = max(thickest, rim - most[i], least[i] / lean_cos[level])
                n_near = pieces_that_matter(
                    motion, windows, count, begin, end, rim_most, thickest + 6.0 * rho, turning, steepest, near_pieces
                )
                if n_near < 0:
                    lost[:n_cells] = 40
            head = tail = 0
            filtered, n_hand = -1, 0
            for i in range(n_cells):
                if lost[i] > 0 or passes[i] < 0:
                    continue
                col, level = cell_at[i, 0], cell_at[i, 1]
                rim = rims[flute, level, 0]
                q, n, m = most[i], least[i], passes[i]
                e = recent[0] / omega
                if q * math.sqrt(max(1.0 - tilt[i] * tilt[i], 0.0)) <= 2.5 * e:
                    lost[i] = 16
                    continue
                settled = True
                if q < rim:
                    cx, cy, ux, uy, lift = ray[i, 0], ray[i, 1], ray[i, 2], ray[i, 3], ray[i, 5]
                    if rho > 0.0 or col != filtered:
                        # of all the column's heights at once, which mostly is enough
                        filtered = col
                        most_r, least_r, least_q, worst, fewest = 0.0, 1e300, 1e300, 0.0, m
                        for o in range(i, n_cells):
                            if cell_at[o, 0] != col or (rho > 0.0 and o > i):
                                break
                            if lost[o] > 0 or passes[o] < 0:
                                continue
                            at_rim, at_level = rims[flute, cell_at[o, 1], 0], cell_at[o, 1]
                            most_r = max(most_r, at_rim + lean_tan[at_level] * lean_sin[at_level] * least[o])
                            least_r = min(least_r, at_rim)
                            least_q = min(least_q, most[o])
                            worst = max(worst, at_rim - most[o], least[o] / lean_cos[at_level])
                            fewest = min(fewest, passes[o])
                        until = latest_older(ray[i, 4], fewest, flutes, omega, e, rho, least_r, least_q, tilt[i])
                        n_hand = pieces_beside(
                            motion,
                            courses,
                            near_pieces[:n_near],
                            until,
                            cx,
                            cy,
                            ux,
                            uy,
                            ray[i, 6],
                            most_r,
                            least_q,
                            worst,
                            steepest,
                            2.0 * rho,
                            at_hand,
                        )
                    if n_hand > 0:
                        until = latest_older(ray[i, 4], m, flutes, omega, e, rho, rim, q, tilt[i])
                    up = n * lean_sin[level]
                    q_up = rim - n * lean_cos[level]
                    rest_up = n * lean_cos[level] + up * lean_tan[level]
                    back = recent[0] * (ray[i, 4] - until)
                    for c in range(n_hand):
                        k = at_hand[c]
                        if motion[k, T0] >= until:
                            continue
                        if motion[k, DS] == 0.0 and stands_here(motion, k, piece[i], cx, cy):
                            continue
                        settled = discs_miss(
                            motion,
                            courses,
                            heights,
                            radii,
                            k,
                            until,
                            cx + q * ux,
                            cy + q * uy,
                            ux,
                            uy,
                            rim - q,
                            lift,
                            rho,
                            back,
                        ) and (
                            up == 0.0
                            or discs_miss(
                                motion,
                                courses,
                                heights,
                                radii,
                                k,
                                until,
                                cx + q_up * ux,
                                cy + q_up * uy,
                                ux,
                                uy,
                                rest_up,
                                lift + up,
                                rho,
                                back,
                            )
                        )
                        if not settled:
                            break
                if not settled and surely_removed(
                    motion,
                    omega,
                    job[2],
                    rho,
                    heights,
                    radii,
                    windows,
                    np.int64(0),
                    count,
                    until,
                    cx + q * ux,
                    cy + q * uy,
                    ux,
                    uy,
                    lift,
                    rim - q,
                    recent_more,
                ):
                    # the path came by here before
                    most[i], least[i], settled = rim, 0.0, True
                if not settled:
                    if m >= 2 * flutes + 2 or rounds > 2 * flutes + 2:
                        lost[i] = 18
                        continue
                    # solve one pass more, if the axis has been well behaved for so long
                    past_more = begin - ((m + 1.0) / flutes + 0.75) * period
                    if past_more < 0.0:
                        lost[i] = 19
                        continue
                    recent_extremes(motion, past_more, end, recent_more)
                    fine = recent_more[0] <= recent[0] * 1.0001 and ray[i, 5] + recent_more[1] >= 0.0
                    fine = fine and stays_behind(
                        motion, past_more, ray[i, 4], ray[i, 0], ray[i, 1], ray[i, 2], ray[i, 3]
                    )
                    if not fine:
                        lost[i] = 20
                        continue
                    passes[i] = m + 1
                    item_cell[tail], item_pass[tail], item_hops[tail], item_wants[tail] = i, m + 1, 0, 3
                    item_piece[tail] = walk(motion, piece[i], ray[i, 4] - (m + 1) * pitch)
                    tail += 1
                    continue
                passes[i] = -1
            rounds += 1
            if tail == 0:
                break
        for i in range(n_cells):
            col, level = cell_at[i, 0], cell_at[i, 1]
            if lost[i] > 0:
                left[row, col, level] = lost[i]
                continue
            rim, n = rims[flute, level, 0], max(least[i], 0.0)
            thick = max(rim - most[i], 0.0)
            if met > 0 and thick > 0.0:
                ux, uy, lift, up = ray[i, 2], ray[i, 3], ray[i, 5], n * lean_sin[level]
                q, q_up = most[i], rim - n * lean_cos[level]
                clear, gone = True, False
                for g in range(groups):
                    first, last = prior[7][g], prior[7][g + 1]
                    if first == last:
                        continue
                    before = prior[0][prior[1][g] : prior[1][g + 1]]
                    outline, width = prior[2][prior[4][g] : prior[4][g + 1]], prior[3][prior[4][g] : prior[4][g + 1]]
                    px, py, ex, ey = (
                        ray[i, 0] + q * ux,
                        ray[i, 1] + q * uy,
                        ray[i, 0] + q_up * ux,
                        ray[i, 1] + q_up * uy,
                    )
                    free = clear_of_groove(
                        before, outline, width, prior[6], first, last, px, py, ux, uy, lift, thick, prior[5][g, 3]
                    ) and clear_of_groove(
                        before,
                        outline,
                        width,
                        prior[6],
                        first,
                        last,
                        ex,
                        ey,
                        ux,
                        uy,
                        lift + up,
                        n * lean_cos[level] + up * lean_tan[level],
                        prior[5][g, 3],
                    )
                    clear = clear and free
                    if not free and surely_removed(
                        before,
                        prior[5][g, 1],
                        prior[5][g, 2],
                        prior[5][g, 3],
                        outline,
                        width,
                        prior[6],
                        first,
                        last,
                        1e300,
                        px,
                        py,
                        ux,
                        uy,
                        lift,
                        thick,
                        recent_more,
                    ):
                        gone = True
                        break
                if gone:
                    thick = n = 0.0
                elif not clear:
                    left[row, col, level] = 2
                    continue
            rev = state_out[row, col, 4] * FULL / omega
            if nominal[level] < rev * (1.0 / flutes + 1.0 / PI) + 2.0 * rho:
                n = lean_cos[level] * thick
            radial[row, col, level], chip[row, col, level] = thick, n
            left[row, col, level] = 0
    return 0


@njit(cache=True)
def surely_removed(
    motion, omega, flutes, rho, heights, radii, windows, first, last, latest, x, y, ux, uy, lift, extent, recent
):
    """Whether earlier teeth, up to the time `latest`, took the whole of a stretch, by a bound that needs none of them.

    While a point is farther than 2.5 e from the axis its direction turns by less than 0.4 omega, so that within
    (360 deg / flutes and what runout adds) / 0.6 omega some flute passes it; if all the while it is nearer to the axis
    than any edge, that flute takes it. Asked once a piece, where the distance is about half the radius.
    """
    half = 0.5 * extent
    mx, my = x + half * ux, y + half * uy
    last_piece = motion.shape[0] - 1
    latest = min(latest, motion[last_piece, T0] + motion[last_piece, DT])
    for w in range(first, last):
        for k in range(locate(motion, windows[w, 0]), locate(motion, windows[w, 1]) + 1):
            if motion[k, T0] >= latest:
                break
            deepest = max(motion[k, D], depth_on(motion, k, motion[k, DT]))
            r = profile_radius(heights, radii, lift + deepest) - rho
            if r <= 4.0 * rho:
                continue
            ch, sh = math.cos(motion[k, H]), math.sin(motion[k, H])
            dx, dy = mx - motion[k, X], my - motion[k, Y]
            ds, across = dx * ch + dy * sh, dy * ch - dx * sh
            if motion[k, K] != 0.0:
                rad = 1.0 / abs(motion[k, K])
                inwards = rad - math.copysign(across, across * motion[k, K])
                across, ds = math.hypot(ds, inwards) - rad, rad * math.atan2(ds, inwards)
                if ds < 0.5 * (motion[k, DS] - FULL * rad):
                    ds += FULL * rad
            ds -= math.sqrt(max(0.25 * r * r - across * across, 0.0))
            ds = min(max(ds, 0.0), motion[k, DS])
            px, py = point_at(motion, k, ds)
            apart = math.hypot(mx - px, my - py)
            if apart + half >= r:
                continue
            lap = 1.7 * (FULL / flutes + 2.5 * rho / r) / omega
            at = motion[k, T0] + (travel_time(motion, k, ds) if motion[k, DS] > 0.0 else motion[k, DT] - 0.5 * lap)
            if at < 0.5 * lap or at + 0.5 * lap > latest:
                continue
            recent_extremes(motion, at - 0.5 * lap, at + 0.5 * lap, recent)
            if lift + recent[1] < 0.0:
                continue
            stray = 0.5 * lap * recent[0]
            least = profile_radius(heights, radii, lift + recent[1]) - rho
            # what runout adds was put at 2.5 rho / r, r the greatest; it is at most 2.1 rho / r of the least
            if (
                apart + half + stray < least
                and apart - half - stray > 2.5 * recent[0] / omega
                and 2.5 * least > 2.1 * r
            ):
                return True
    return False


@njit(cache=True)
def latest_older(tc, passes, flutes, omega, e, rho, rim, q, tilt):
    """Time after which no pass older than the last `passes` can have reached a ray from q outwards; see `table_lanes`.

    Where the bound does not hold, so near the axis, it is the time of the last pass itself: nothing will be proved.
    """
    way = e * FULL * ((passes + 1.0) / flutes + 0.3)
    below = q - way * tilt
    pitch = FULL / omega / flutes
    if below <= 0.2 * q or q <= 0.0:
        return tc - passes * pitch
    # an angle is less than its tangent; runout shifts an edge by the arcsine of rho / R at most, twice
    turn = min(way / below, 0.5 * PI) + 2.2 * rho / max(rim - 2.0 * rho, 1e-9)
    return tc - (passes + 1) * pitch + turn / omega


@njit(cache=True)
def pieces_beside(motion, courses, pieces, until, cx, cy, ux, uy, depth, rim, least_q, thickest, steepest, runout, out):
    """Of some pieces those of which a disc before a time may hold a point of the outer ends of rays from C along u.

    The rays are up to `rim` long, uncut from `least_q` or farther, over `thickest` at most. With w from a disc's centre
    to C, |P - C'|^2 = q^2 + 2 q w.u + w^2 for P at q > R - H; the disc's radius is at most R + S, S by what the tip
    then was deeper and by `runout`. No disc holds P if w^2 + 2 q w.u > 2 R (H + S) + S^2. Returns their number.
    """
    n = 0
    for c in range(pieces.shape[0]):
        k = pieces[c]
        if motion[k, T0] >= until:
            continue
        tau, length = motion[k, DT], motion[k, DS]
        dx, dy, ex, ey = cx - motion[k, X], cy - motion[k, Y], cx - courses[k, 2], cy - courses[k, 3]
        if motion[k, T0] + tau > until:
            tau = until - motion[k, T0]
            length = tau * (motion[k, V] + 0.5 * motion[k, A] * tau)
            if motion[k, K] == 0.0:
                ex, ey = dx - length * courses[k, 0], dy - length * courses[k, 1]
            else:
                px, py = point_at(motion, k, length)
                ex, ey = cx - px, cy - py
        late = depth_on(motion, k, tau)
        deeper = runout + steepest * max(motion[k, D] - depth, late - depth, 0.0)
        kappa = motion[k, K]
        # of an arc on which the tip never rose one of its ends is nearest, see `discs_miss`
        if (
            kappa != 0.0
            and late >= motion[k, D]
            and abs(kappa) * length < 1.5 * PI
            and arc_behind(
                motion[k, H] + kappa * length,
                kappa,
                ex + least_q * ux,
                ey + least_q * uy,
                (rim - least_q) * ux,
                (rim - least_q) * uy,
            )
        ):
            ends, w2, ahead = dx * ux + dy * uy, ex * ex + ey * ey, ex * ux + ey * uy
            first = dx * dx + dy * dy + 2.0 * (least_q if ends >= 0.0 else rim) * ends
            if first <= 2.0 * rim * (thickest + deeper) + deeper * deeper:
                ahead = -1e300
        else:
            ch, sh = ex - dx, ey - dy
            square = ch * ch + sh * sh
            at = -(dx * ch + dy * sh) / square if square > 0.0 else 0.0
            at = min(max(at, 0.0), 1.0)
            w2 = (dx + at * ch) ** 2 + (dy + at * sh) ** 2
            ahead = min(dx * ux + dy * uy, ex * ux + ey * uy)
            if kappa != 0.0:
                bulge = 0.125 * abs(kappa) * length * length
                w2, ahead = max(math.sqrt(w2) - bulge, 0.0) ** 2, ahead - bulge
        q = least_q if ahead >= 0.0 else rim
        if w2 + 2.0 * q * ahead > 2.0 * rim * (thickest + deeper) + deeper * deeper:
            continue
        out[n] = k
        n += 1
    return n


@njit(cache=True)
def on_piece(motion, k, t):
    """0 if a time is within piece k, give or take rounding, else -1 or 1: the way to go."""
    slip = 4e-15 + 4e-16 * t
    if t < motion[k, T0] - slip:
        return -1
    return 1 if t > motion[k, T0] + motion[k, DT] + slip else 0


@njit(cache=True)
def stands_here(motion, k, now, cx, cy):
    """Whether from piece k to piece `now` the axis only stood at C and the tip never rose.

    Then a flute's later pass along the same ray reached at least as far as its pass on piece k.
    """
    if abs(motion[k, X] - cx) + abs(motion[k, Y] - cy) > 1e-12:
        return False
    for i in range(k, now + 1):
        if motion[i, DS] > 0.0 or motion[i, W] < 0.0 or motion[i, B] * motion[i, DT] + motion[i, W] < 0.0:
            return False
    return True


@njit(cache=True)
def pieces_that_matter(motion, windows, count, begin, end, rim, thickest, turning, steepest, out):
    """Pieces within the windows of which some disc, before the row begins, may matter; the latest first."""
    n = 0
    k_now = locate(motion, begin)
    heading, way, bent, slope = 1e300, 0.0, 0.0, 0.0
    for w in range(count - 1, -1, -1):
        k, first = locate(motion, min(windows[w, 1], end)), locate(motion, windows[w, 0])
        cone = w == count - 1
        while k >= first:
            safe = False
            if motion[k, T0] < end:
                if cone and motion[k, DS] > 0.0:
                    if heading > 1e299:
                        heading = motion[k, H] + motion[k, K] * motion[k, DS]
                    bent = max(
                        bent, abs(motion[k, H] - heading), abs(motion[k, H] + motion[k, K] * motion[k, DS] - heading)
                    )
                    slope = max(slope, abs(motion[k, M]) * steepest)
                    if k < k_now:
                        # cos x > 1 - x^2 / 2, sin x < x
                        c = 1.0 - 0.5 * bent * bent
                        if c > 0.05:
                            g = slope / c
                            tilt = min(max(turning + 2.0 * bent - 0.5 * PI, 0.0), 1.0)
                            s = way * c
                            safe = g < 0.9 and s * s * (1.0 - g * g) > 2.0 * rim * (thickest + s * (g + tilt))
                        way += motion[k, DS]
                    elif k == k_now:
                        tau = begin - motion[k, T0]
                        way = tau * (motion[k, V] + 0.5 * motion[k, A] * tau)
                elif motion[k, DS] == 0.0 and (motion[k, W] < 0.0 or motion[k, W] + motion[k, B] * motion[k, DT] < 0.0):
                    # before a retract the tip was deeper
                    slope = 1e9
                if not safe:
                    if n == out.shape[0]:
                        return -1
                    out[n] = k
                    n += 1
            k -= 1
    return n
