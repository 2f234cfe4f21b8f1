"""What a fibre-failure model makes of the strikes, many lips side by side."""

from __future__ import annotations

import math

import numpy as np

from .compiled import njit

__all__ = []


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
def as_graded_sets(fuzz, tear, scorch, length, cuts, usual, noise, shifts, floor, poor_from, damage, poor):
    """Damage of every lip as each of many graders would see it, and the length each would call poor; see `priors`.

    Risks and `damage` are (rows, 2, sets); `cuts` (2, 4, sets) are the graders' cut points of fuzz and of tear, `usual`
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
