"""What a fibre-failure model makes of the strikes, many lips side by side."""

from __future__ import annotations

import math
from typing import Any, NamedTuple

import numpy as np

from . import laws
from .compiled import njit

__all__ = []


# A stage is handed its arrays in tuples and makes none: counting references to each, every time, cost half as much as
# the work itself.
_stage = njit(cache=True, nogil=True, error_model="numpy", fastmath={"contract"}, _nrt=False)
_law = njit(cache=True, error_model="numpy", _nrt=False)


@_stage
def exp_minus(x, n, out):
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

    The exponent apart, by the series of the inverse hyperbolic tangent on [1 / sqrt 2, sqrt 2]; right to 1e-14.
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
        p = 1.0 / 7.0 + t * (1.0 / 9.0 + t * (1.0 / 11.0 + t * (1.0 / 13.0 + t * (1.0 / 15.0 + t * (1.0 / 17.0)))))
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


@_law
def half_powers(x, n, twice, out):
    """x**(twice / 2) of the first n numbers x >= 0, twice < 16: products and a root, for vector registers."""
    for i in range(n):
        square = x[i] * x[i]
        y = square if twice & 4 else 1.0
        y = y * (square * square) if twice & 8 else y
        y = y * x[i] if twice & 2 else y
        out[i] = y * math.sqrt(x[i]) if twice & 1 else y


@njit(cache=True, _nrt=False)
def near_layer(job, lean_cos):
    """Layer along the face whose strikes tear: not the record's own, which is that of whichever model asks for most."""
    return min(job.bundle, job.near * min(3.0, SQUARE / lean_cos)) + 1e-12


@njit(cache=True, _nrt=False)
def teeth_of_a_pass(chips, depths, lanes, lane, rank, count, made, width, before, wall, feed, job, took, stand):
    """Every tooth of a pass on its way to one lip: radial chip `took`, distance `stand` inside the lip. [mm]

    The pass finds `before` of wood on the probe; its groove, of half-width `width`, ends at `wall` inside the lip.
    First come the strikes of the record in the job's `near` layer that are this pass's, then, from the steady arc,
    those between that layer and where the tooth enters the wood: eight if it `made` the lip, else those at the job's
    rotations. A strike that runout carries beyond the nominal lip stands at the lip: what it took is groove, not tear.
    Returns how many teeth, and the thickness of the chip.
    """
    layer = near_layer(job, lanes.lean_cos[lane])
    at_entry = min(max(1.0 - min(before - wall, width) / width, 0.0), 1.0)
    arm = feed * math.sqrt(1.0 - at_entry * at_entry)
    teeth = 0
    for i in range(count):
        if lanes.rank[i, lane] == rank and depths[i] <= layer:
            inside = min(max(1.0 - (depths[i] - wall) / width, 0.0), 1.0)
            took[teeth] = min(chips[i] * inside, feed * job.flutes)
            stand[teeth] = max(depths[i], 0.0)
            arm = max(arm, took[teeth])
            teeth += 1
    near = min(max(1.0 - max(layer - wall, 0.0) / width, 0.0), 1.0)
    if at_entry < near:
        begin, end = math.acos(near), math.acos(at_entry)
        for m in range(8 if made else job.sines.shape[0]):
            phi = begin + (end - begin) * ((m + 1) / 8.0)
            sine, cosine = (math.sin(phi), math.cos(phi)) if made else (job.sines[m], job.cosines[m])
            if made or at_entry < cosine < near:
                took[teeth], stand[teeth] = slot_chip(feed, width, sine, cosine), wall + width * (1.0 - cosine)
                teeth += 1
        if not made:
            took[teeth] = slot_chip(feed, width, math.sqrt(1.0 - at_entry * at_entry), at_entry)
            stand[teeth] = wall + width * (1.0 - at_entry)
            teeth += 1
    return teeth, arm


@njit(cache=True, _nrt=False)
def slot_chip(feed, width, sine, cosine):
    """Radial chip at a rotation from the wall, to second order: f sin + (f cos)^2 / (2 width), at most f. [mm]

    The old surface is the circle one feed per tooth behind; by the second term teeth still bite as they reach the lip.
    """
    flat = feed * cosine
    return min(feed * sine + flat * flat / (2.0 * width), feed)


# columns of the coefficients of `lip_risk_sets`
BITE, IMPACT, GATE, LAYER, POWER, REDRAWN, FRAILTY, TEXTURE, DRAG, FALL, FRICTION, RUB = range(12)

BLUNT, CRACK, PUSH_C, PUSH_S, OPENED, TURN, CLEAR, PLANES, TEAR, AT_REST, RUNNING, FLASH = range(12, 24)

LASTING, FRONT, SHARE, INTERVAL, ROOM, SINK, CHAR, ALONG, LIFT, CROWD, LOOSE = range(24, 35)

COEFFICIENTS = 35

SQUARE = math.sqrt(0.5)  # chips and layers are those of a bit of 90 degrees, whose walls have this cosine of the lean

LANES = 64  # lips worked on side by side


class Strikes(NamedTuple):
    """Strikes of many stations, (rows, 2, k): wood each takes and leaves, speed, feed, stroke, time, lift.

    `counts` are (rows, 2).
    """

    chips: Any
    depths: Any
    speeds: Any
    feeds: Any
    strokes: Any
    times: Any
    lifts: Any
    counts: Any


class Passes(NamedTuple):
    """Passes of many stations, (rows, 2, p), in order of time; counts (rows, 2). See `LipStrikes`."""

    strokes: Any
    before: Any
    left: Any
    feeds: Any
    widths: Any
    counts: Any


class Lips(NamedTuple):
    """Lips of many stations, (rows,), with the stroke that made them and the feed a tooth of their cut.

    `outward` and `exists` are (rows, 2).
    """

    width: Any
    lean_cos: Any
    lean_sin: Any
    outward: Any
    exists: Any
    starts: Any
    made_by: Any
    feed: Any


class Job(NamedTuple):
    """What all lips share.

    The record's layer along the face; the layer whose strikes tear, on the scale of a 90 degree bit; flutes; sense of
    rotation (-1 clockwise); rotations of an earlier pass's teeth.
    """

    bundle: float
    near: float
    flutes: float
    turn: float
    sines: Any
    cosines: Any


class Directions(NamedTuple):
    """Where fibres are looked at, and how what they give makes a set.

    In each of the first `counts` (c,) turns about the vertical, `cosines` and `sines` (c, turns); what they give,
    weighted by the first `nodes` (c,) of `weights` (c, nodes), makes a set. `places` (t, nodes) says which turn each
    node is: where t is more than 1, a set is one of these rows, of one set of coefficients and one of fibres.
    """

    counts: Any
    cosines: Any
    sines: Any
    nodes: Any
    places: Any
    weights: Any


class Results(NamedTuple):
    """Risks (rows, 2, sets), NaN where no lip.

    `more` is (rows, 2, sets, 5): support and hazard of the mean fibre, rubs, depth torn, temperature; or has no rows.
    """

    fuzz: Any
    tear: Any
    scorch: Any
    more: Any


class Lanes(NamedTuple):
    """Lips worked on side by side, (LANES,), the lip last: their rows, passes, teeth, strikes and walls.

    Of the passes, (p, LANES): the thickness of their chips, the thickest first, with their teeth in the slots of the
    first axis of `took` and `stand`, `teeth` (p,) at most; the last strike, in order of time, and which of
    them is the `maker` of the lip. `rank` says of each strike which pass, in order of time, it belongs to, -1 where
    there is none. `chip` is normal to the wall, `depth` along the probe; `width` is the groove's half-width. `lift` is
    by how much more than a straight edge a strike lifts the fibres, `most_lift` the largest of the near layer.
    """

    rows: Any
    took: Any
    stand: Any
    arms: Any
    chip: Any
    depth: Any
    width: Any
    speed: Any
    rank: Any
    time: Any
    last: Any
    maker: Any
    out_x: Any
    out_y: Any
    lean_cos: Any
    lean_sin: Any
    teeth: Any
    lift: Any
    most_lift: Any


class Loads(NamedTuple):
    """What one set of coefficients makes of the strikes of the lanes, whatever their fibres."""

    bites: Any
    impacts: Any
    rubbing: Any
    weights: Any
    whole: Any
    rubs: Any
    heats: Any
    cracks: Any
    splits: Any


class Fibres(NamedTuple):
    """The fibres of the lanes: as they lie, as one turn about the vertical shows them, and what comes of each turn.

    `turn_cos`, `turn_sin` turn the cut from the lip to where the strikes are; `crack_cos`, `crack_sin` are of the lean
    of the wall as a crack sees it.
    """

    ahead: Any
    aside: Any
    up: Any
    turn_cos: Any
    turn_sin: Any
    crack_cos: Any
    crack_sin: Any
    support: Any
    slide: Any
    sine: Any
    crossing: Any
    pull: Any
    hazard: Any
    deep: Any
    stood: Any
    lost: Any


class Spare(NamedTuple):
    """Room to work in: four of a number a strike and lane, six of a number a lane."""

    loads: Any
    lifted: Any
    digits: Any
    a: Any
    b: Any
    c: Any
    d: Any
    e: Any


crack_of_arm, crack_of_push, opening = _stage(laws.crack_of_arm), _stage(laws.crack_of_push), _stage(laws.opening)
sliding, repeated, flash, front = _law(laws.sliding), _law(laws.repeated), _law(laws.flash), _law(laws.front)
charring, turned_layer = _law(laws.charring), _law(laws.turned_layer)


@njit(cache=True, nogil=True, error_model="numpy", fastmath={"contract"})
def lip_risk_sets(strikes, passes, lips, job, directions, fibres, coefficients, results):
    """Fuzz, tear and scorch of every lip for many sets of coefficients or of fibres; `models` says what they mean.

    `fibres` are (f, rows, 2, 3), `coefficients` (c, ...): one of each for all sets, or one a set. LANES lips of one
    side are worked on side by side, for vector registers; lanes without a lip are of a lip that no tooth meets.
    """
    sets, turned = results.fuzz.shape[2], directions.places.shape[0]
    detailed = results.more.shape[0] > 0
    lanes = new_lanes(strikes, passes, job)
    loads = new_loads(strikes, lanes)
    view = new_fibres(directions)
    spare = new_spare(strikes)
    for side in range(2):
        begin = np.int64(0)  # a literal would have `next_lips` compiled twice
        while begin < lips.exists.shape[0]:
            begin, held, count, ranks = next_lips(strikes, passes, lips, results, side, begin, lanes)
            bring_strikes(strikes, passes, lips, job, side, held, count, ranks, lanes)
            bring_teeth(strikes, passes, lips, job, side, held, ranks, lanes)
            for s in range(sets // turned):
                q = s if coefficients.shape[0] > 1 else 0
                p = coefficients[q]
                if s == 0 or coefficients.shape[0] > 1:
                    load_strikes(p, lanes, count, loads, spare)
                    heat_lips(p, lips, lanes, held, count, ranks, loads, spare)
                    open_cracks(p, lanes, ranks, loads, spare)
                if s == 0 or fibres.shape[0] > 1:
                    lay_fibres(fibres[s if fibres.shape[0] > 1 else 0], job.turn, side, held, lanes, view)
                if s == 0 or coefficients.shape[0] > 1:
                    lean_fibres(p, (side == 0) == (job.turn < 0.0), lanes, view)
                view.deep[:] = 0.0
                for j in range(directions.counts[q]):
                    # each fibre turned about the vertical; (ahead, aside) is right-handed for a clockwise spindle
                    nc, ns = directions.cosines[q, j], -job.turn * directions.sines[q, j]
                    most_slide, most_pull = look_at_fibres(p, nc, ns, lanes, view)
                    sever_fibres(p, j, most_slide, held, count, detailed, loads, view, spare)
                    if detailed and j == directions.nodes[q] // 2:
                        for lane in range(held):
                            results.more[lanes.rows[lane], side, s, 0] = view.support[lane]
                            results.more[lanes.rows[lane], side, s, 1] = view.hazard[lane]
                    tear_fibres(p, j, most_pull, ranks, detailed, directions.weights[q], lanes, loads, view, spare)
                write_down(p, directions, job.turn, q, s, side, held, lanes, loads, view, spare, results)


@njit(cache=True)
def new_lanes(strikes, passes, job):
    most, ranks = strikes.chips.shape[2], passes.before.shape[2]
    teeth = (most + max(8, job.sines.shape[0] + 1) + 3) // 4 * 4
    return Lanes(
        np.empty(LANES, dtype=np.int64),
        np.empty((ranks, teeth, LANES)),
        np.empty((ranks, teeth, LANES)),
        np.empty((ranks, LANES)),
        np.empty((most, LANES)),
        np.empty((most, LANES)),
        np.empty(LANES),
        np.empty((most, LANES)),
        np.empty((most, LANES)),
        np.empty((most, LANES)),
        np.empty((ranks, LANES)),
        np.empty(LANES, dtype=np.int64),
        np.empty(LANES),
        np.empty(LANES),
        np.empty(LANES),
        np.empty(LANES),
        np.empty(ranks, dtype=np.int64),
        np.empty((most, LANES)),
        np.empty(LANES),
    )


@njit(cache=True)
def new_loads(strikes, lanes):
    most = strikes.chips.shape[2]
    return Loads(
        np.empty(most * LANES),
        np.empty(most * LANES),
        np.empty(most * LANES),
        np.empty(most * LANES),
        np.empty(LANES),
        np.empty(LANES),
        np.empty(LANES),
        np.empty(lanes.took.shape),
        np.empty(lanes.arms.shape),
    )


@njit(cache=True)
def new_fibres(directions):
    turns = directions.cosines.shape[1]
    return Fibres(
        np.empty(LANES),
        np.empty(LANES),
        np.empty(LANES),
        np.empty(LANES),
        np.empty(LANES),
        np.empty(LANES),
        np.empty(LANES),
        np.empty(LANES),
        np.empty(LANES),
        np.empty(LANES),
        np.empty(LANES),
        np.empty(LANES),
        np.empty(LANES),
        np.empty(LANES),
        np.empty((turns, LANES)),
        np.empty((turns, LANES)),
    )


@njit(cache=True)
def new_spare(strikes):
    most = strikes.chips.shape[2]
    return Spare(
        np.empty(most * LANES),
        np.empty(most * LANES),
        np.empty(most * LANES),
        np.empty(LANES),
        np.empty(LANES),
        np.empty(LANES),
        np.empty(LANES),
        np.empty(LANES),
    )


@njit(cache=True, _nrt=False)
def next_lips(strikes, passes, lips, results, side, begin, lanes):
    """Take the next lips; blank the results where there is none. Returns where to go on, how many, most of a lip."""
    held, count, ranks = 0, 0, 0
    while begin < lips.exists.shape[0] and held < LANES:
        if lips.exists[begin, side]:
            lanes.rows[held] = begin
            held += 1
            count = max(count, strikes.counts[begin, side])
            ranks = max(ranks, passes.counts[begin, side])
        else:
            for risk in (results.fuzz, results.tear, results.scorch):
                risk[begin, side, :] = np.nan
            if results.more.shape[0] > 0:
                results.more[begin, side, :, :] = np.nan
                results.more[begin, side, :, 2] = 0.0
        begin += 1
    return begin, held, count, ranks


@njit(cache=True, _nrt=False)
def bring_strikes(strikes, passes, lips, job, side, held, count, ranks, lanes):
    """Strikes and walls of the lips into their lanes, and when the passes were."""
    lanes.chip[:count], lanes.speed[:count], lanes.rank[:count], lanes.time[:count] = 0.0, 0.0, -1.0, 0.0
    lanes.depth[:count], lanes.width[:] = np.inf, 1.0
    lanes.lift[:count], lanes.most_lift[:] = 0.0, 0.0
    lanes.last[:ranks], lanes.maker[:] = np.inf, -1
    lanes.lean_cos[:], lanes.lean_sin[:], lanes.out_x[:], lanes.out_y[:] = 1.0, 0.0, 1.0, 0.0
    for lane in range(held):
        row = lanes.rows[lane]
        for k in range(passes.counts[row, side]):
            if passes.strokes[row, side, k] == lips.made_by[row]:
                lanes.maker[lane] = k
        beyond, near, most_lift = 0.0, near_layer(job, lips.lean_cos[row]), -np.inf
        for i in range(strikes.counts[row, side]):
            beyond = min(beyond, strikes.depths[row, side, i])  # of runout, which makes the groove wider
        for i in range(strikes.counts[row, side]):
            width, wall = lips.width[row], beyond
            lanes.speed[i, lane], lanes.time[i, lane] = strikes.speeds[row, side, i], strikes.times[row, side, i]
            for k in range(passes.counts[row, side]):
                if passes.strokes[row, side, k] == strikes.strokes[row, side, i]:
                    lanes.rank[i, lane] = k
                    lanes.last[k, lane] = lanes.time[i, lane]
                    if k != lanes.maker[lane]:
                        width, wall = passes.widths[row, side, k], passes.left[row, side, k]
            # successive edges cross the probe farther apart than the wood between them is thick
            inside = min(max(1.0 - (strikes.depths[row, side, i] - wall) / width, 0.0), 1.0)
            most = strikes.feeds[row, side, i] * job.flutes
            took = strikes.chips[row, side, i] * inside
            lanes.chip[i, lane] = (min(took, most) if most > 0.0 else took) * lips.lean_cos[row]
            lanes.depth[i, lane] = strikes.depths[row, side, i] - beyond
            lift = strikes.lifts[row, side, i]
            lanes.lift[i, lane] = lift
            if strikes.depths[row, side, i] <= near:
                lanes.most_lift[lane] = max(most_lift, lift)
                most_lift = lanes.most_lift[lane]
        lanes.out_x[lane], lanes.out_y[lane] = math.cos(lips.outward[row, side]), math.sin(lips.outward[row, side])
        lanes.lean_cos[lane], lanes.lean_sin[lane] = lips.lean_cos[row], lips.lean_sin[row]
        lanes.width[lane] = lips.width[row]


@njit(cache=True)
def bring_teeth(strikes, passes, lips, job, side, held, ranks, lanes):
    """Teeth of all passes of the lips into their lanes, those of the thickest chips first."""
    most, slots = passes.before.shape[2], lanes.took.shape[1]
    took, stand = np.empty((most, slots)), np.empty((most, slots))
    arms, order = np.empty(most), np.empty(most, dtype=np.int64)
    teeth = np.empty(most, dtype=np.int64)
    lanes.took[:ranks], lanes.stand[:ranks], lanes.arms[:ranks], lanes.teeth[:] = 0.0, np.inf, 0.0, 0
    for lane in range(held):
        row = lanes.rows[lane]
        count, known, depths = strikes.counts[row, side], passes.counts[row, side], strikes.depths[row, side]
        for k in range(known):
            made = k == lanes.maker[lane]
            teeth[k], arms[k] = teeth_of_a_pass(
                strikes.chips[row, side],
                depths,
                lanes,
                lane,
                k,
                count,
                made,
                lips.width[row] if made else passes.widths[row, side, k],
                passes.before[row, side, k],
                0.0 if made else passes.left[row, side, k],
                lips.feed[row] if made else passes.feeds[row, side, k],
                job,
                took[k],
                stand[k],
            )
            at = k
            while at > 0 and arms[order[at - 1]] < arms[k]:
                order[at] = order[at - 1]
                at -= 1
            order[at] = k
        for slot in range(known):
            k = order[slot]
            lanes.arms[slot, lane] = arms[k]
            lanes.teeth[slot] = max(lanes.teeth[slot], (teeth[k] + 3) // 4 * 4)
            for i in range(teeth[k]):
                lanes.took[slot, i, lane], lanes.stand[slot, i, lane] = took[k, i], stand[k, i]


@_stage
def load_strikes(p, lanes, count, loads, spare):
    """How each strike bites, hits and rubs; the hazard of fibres that keep all their support."""
    chip, depth, speed, lean_cos = lanes.chip, lanes.depth, lanes.speed, lanes.lean_cos
    bites, impacts, rubbing, weights, load = loads.bites, loads.impacts, loads.rubbing, loads.weights, spare.loads
    thin = spare.a
    for lane in range(LANES):
        steep = lean_cos[lane] / SQUARE
        thin[lane] = (steep if steep > 1.0 / 3.0 else 1.0 / 3.0) / p[LAYER]
    for i in range(count):
        for lane in range(LANES):
            impacts[i * LANES + lane] = chip[i, lane] / (SQUARE * p[GATE])
            rubbing[i * LANES + lane] = chip[i, lane] / p[RUB]
    exp_minus(impacts, count * LANES, impacts)
    exp_minus(rubbing, count * LANES, rubbing)
    for i in range(count):
        for lane in range(LANES):
            k = i * LANES + lane
            # what strikes short of the lip leaves a stub, and counts for less
            weight = 1.0 - depth[i, lane] * thin[lane]
            weight = weight if weight > 0.0 else 0.0
            weights[k] = weight
            # fibres side by side hold a thin chip one by one, a thick one all at once
            dense = p[CROWD] * chip[i, lane]
            bites[k] = p[BITE] * weight * chip[i, lane] / (SQUARE * math.sqrt(1.0 + dense * dense))
            # 1 - exp(-x), by its series where that is a small difference
            x = chip[i, lane] / (SQUARE * p[GATE])
            thinly = 1.0 - x / 6.0 * (1.0 - x / 7.0 * (1.0 - x / 8.0 * (1.0 - x / 9.0)))
            thinly = x * (1.0 - x / 2.0 * (1.0 - x / 3.0 * (1.0 - x / 4.0 * (1.0 - x / 5.0 * thinly))))
            caught = thinly if x < 0.125 else 1.0 - impacts[k]
            impacts[k] = p[IMPACT] * weight * speed[i, lane] * caught
            rubbing[k] *= weight
    if p[LIFT] > 0.0:
        # fibres that are pressed down are held; a blow asks for no holding
        for i in range(count):
            for lane in range(LANES):
                if lanes.lift[i, lane] != 0.0:
                    bites[i * LANES + lane] *= math.exp(-p[LIFT] * lanes.lift[i, lane])
    for k in range(count * LANES):
        load[k] = bites[k] + impacts[k]
    hazards(p, load, count, loads.whole, spare)


@_stage
def hazards(p, load, count, out, spare):
    """Hazards of `count` loads a lane: the sum of powers, or a norm of them where strikes share their strength."""
    raised(load, count * LANES, p[POWER] / p[REDRAWN], spare.lifted, spare.digits)
    column_sums(spare.lifted, count, out)
    if p[REDRAWN] < 1.0:
        powers(out, LANES, p[REDRAWN], spare.d, spare.digits)
        for lane in range(LANES):
            out[lane] = spare.d[lane]


@_stage
def heat_lips(p, lips, lanes, held, count, ranks, loads, spare):
    """Temperature of lips by what rubs them, the most of any pass, and how many strikes rub."""
    chip, rank, rubbing, rubs = lanes.chip, lanes.rank, loads.rubbing, loads.rubs
    totals, shares, warm, quickest, heats = spare.a, spare.b, spare.c, spare.d, loads.heats
    rubs[:], heats[:] = 0.0, p[ROOM]
    for i in range(count):
        for lane in range(LANES):
            there = 1.0 if (rank[i, lane] >= 0.0) & (loads.weights[i * LANES + lane] > 0.0) else 0.0
            rubs[lane] += there if chip[i, lane] < p[RUB] else 0.0
    for k in range(ranks):
        totals[:], shares[:], warm[:], quickest[:] = 0.0, 0.0, 0.0, 0.0
        for i in range(count):
            for lane in range(LANES):
                part = rubbing[i * LANES + lane] if rank[i, lane] == k else 0.0
                totals[lane] += part
                shares[lane] = part if part > shares[lane] else shares[lane]
                speed = lanes.speed[i, lane] if part > 0.0 else 0.0
                quickest[lane] = speed if speed > quickest[lane] else quickest[lane]
        if k > 0:
            # what earlier passes left has sunk in since
            for i in range(count):
                for lane in range(LANES):
                    part = rubbing[i * LANES + lane] if (rank[i, lane] >= 0.0) & (rank[i, lane] < k) else 0.0
                    since = lanes.last[k, lane] - lanes.time[i, lane]
                    since = since if since > p[INTERVAL] else p[INTERVAL]
                    grip = sliding(p[AT_REST], p[RUNNING], lanes.speed[i, lane])
                    warm[lane] += part * grip * math.sqrt(p[INTERVAL] / since)
        for lane in range(held):
            starts = lips.starts[lanes.rows[lane]] and lanes.maker[lane] == k
            heat = rubbed_temperature(
                p, totals[lane], shares[lane], quickest[lane], starts, lanes.lean_sin[lane], warm[lane]
            )
            heats[lane] = max(heats[lane], heat)


@_stage
def open_cracks(p, lanes, ranks, loads, spare):
    """Cracks that a unit opening drives ahead of each tooth, and the chance that its arm splits; none of no arm."""
    took, arms, cracks, splits = lanes.took, lanes.arms, loads.cracks, loads.splits
    unit, thick, lifted, opened = spare.a, spare.b, spare.c, spare.d
    opened[:] = 1.0
    if p[LIFT] > 0.0:
        for lane in range(LANES):
            opened[lane] = math.exp(p[LIFT] * lanes.most_lift[lane])
    for k in range(ranks):
        for lane in range(LANES):
            unit[lane] = crack_of_arm(p[CRACK], arms[k, lane])
        for i in range(lanes.teeth[k]):
            for lane in range(LANES):
                cracks[k, i, lane] = crack_of_push(unit[lane], (took[k, i, lane] + p[BLUNT]) * opened[lane])
        for lane in range(LANES):
            thick[lane] = arms[k, lane] / p[CLEAR]
        powers(thick, lanes.rows.shape[0], p[PLANES], lifted, spare.digits)
        exp_minus(lifted, lanes.rows.shape[0], lifted)
        for lane in range(LANES):
            splits[k, lane] = 1.0 - lifted[lane] if arms[k, lane] > 0.0 else 0.0


@_stage
def lay_fibres(fibres, turn, side, held, lanes, view):
    """Fibres in the frame of each lip: ahead along the cut, aside out of the groove, up out of the face."""
    view.ahead[:], view.aside[:], view.up[:] = 1.0, 0.0, 0.0
    for lane in range(held):
        row, ox, oy = lanes.rows[lane], lanes.out_x[lane], lanes.out_y[lane]
        gx, gy = fibres[row, side, 0], fibres[row, side, 1]
        view.ahead[lane], view.aside[lane] = turn * (gy * ox - gx * oy), gx * ox + gy * oy
        view.up[lane] = fibres[row, side, 2]


@_stage
def lean_fibres(p, enters, lanes, view):
    """How far the cut is turned in the layer, out of the wood where the tooth `enters` it, and the crack's wall."""
    for lane in range(LANES):
        steep = lanes.lean_cos[lane] / SQUARE
        layer = p[LAYER] / (steep if steep > 1.0 / 3.0 else 1.0 / 3.0)
        turned = p[TURN] * turned_layer(layer / lanes.width[lane])
        turned = turned if enters else -turned
        lean = p[OPENED] * math.acos(lanes.lean_cos[lane])
        view.turn_cos[lane], view.turn_sin[lane] = math.cos(turned), math.sin(turned)
        view.crack_cos[lane], view.crack_sin[lane] = math.cos(lean), math.sin(lean)


@_stage
def look_at_fibres(p, nc, ns, lanes, view):
    """Fibres turned by an angle of cosine nc and sine ns: how they cross the lip, slide away, are pulled out.

    Returns the most that any slides and is pulled.
    """
    ahead, aside, up, lean_cos, lean_sin = view.ahead, view.aside, view.up, lanes.lean_cos, lanes.lean_sin
    support, slides, sine, crossing, pull = view.support, view.slide, view.sine, view.crossing, view.pull
    slow, drag, grip, pc, ps = 1.0 / p[FALL], p[DRAG], p[FRICTION], p[PUSH_C], p[PUSH_S]
    for lane in range(LANES):
        straight = ahead[lane] * nc - aside[lane] * ns
        beyond = ahead[lane] * ns + aside[lane] * nc
        crossing[lane] = beyond * beyond
        along = straight * view.turn_cos[lane] - beyond * view.turn_sin[lane]
        across = beyond * view.turn_cos[lane] + straight * view.turn_sin[lane]
        into = lean_cos[lane] * across - lean_sin[lane] * up[lane]
        sine[lane] = math.sqrt(across * across + up[lane] * up[lane])
        # the fibre on the flank, an axis: into >= 0; it leans with the cut where along < 0 then
        back = along if into < 0.0 else -along
        flank = along * along + into * into
        inverse = math.sqrt(1.0 / flank) if flank > 0.0 else 0.0
        slide = (back - grip * abs(into)) * inverse
        slide = slide if back > 0.0 else 0.0
        slide = slide if slide > 0.0 else 0.0
        slides[lane] = slide * slow if into != 0.0 else 0.0
        support[lane] = drag * abs(back) * inverse
        # as an axis with along >= 0; a crack runs along it, under the wall if it leads into the wood
        into = view.crack_cos[lane] * across - view.crack_sin[lane] * up[lane]
        bent, onward = -into if along < 0.0 else into, abs(along)
        push = opening(bent, onward, pc, ps)
        push = push if push > 0.0 else 0.0
        pull[lane] = math.sqrt(push) * bent / view.crack_cos[lane] if bent > 0.0 else 0.0
    most_slide, most_pull = 0.0, 0.0
    for lane in range(LANES):
        most_slide = slides[lane] if slides[lane] > most_slide else most_slide
        most_pull = pull[lane] if pull[lane] > most_pull else most_pull
    return most_slide, most_pull


@_stage
def sever_fibres(p, j, most_slide, held, count, detailed, loads, view, spare):
    """Share of the fibres' crossing that is left standing, in turn j: fuzz."""
    bites, impacts, load, full = loads.bites, loads.impacts, spare.loads, view.ahead.shape[0]
    support, slides, sine, crossing, hazard = view.support, view.slide, view.sine, view.crossing, view.hazard
    fallen, lifted, power = spare.a, spare.b, p[POWER]
    if most_slide > 0.0:
        exp_minus(slides, full, fallen)
        for lane in range(LANES):
            part = support[lane] + (1.0 - support[lane]) * fallen[lane]
            support[lane] = part if slides[lane] > 0.0 else 1.0
        for i in range(count):
            for lane in range(LANES):
                k = i * LANES + lane
                load[k] = bites[k] * support[lane] + impacts[k]
        hazards(p, load, count, hazard, spare)
    else:
        for lane in range(LANES):
            support[lane], hazard[lane] = 1.0, loads.whole[lane]
    doubtful, severed = 0, 50.0 * 2.0**power * p[TEXTURE]
    for lane in range(held):
        doubtful += 0 if (sine[lane] >= 0.5) & (hazard[lane] >= severed) else 1
    # else less than exp(-50) is left standing on every lip, which no sum of ones can tell
    if doubtful > 0 or detailed or p[FRAILTY] > 0.0:
        raised(sine, full, power, lifted, spare.digits)
        for lane in range(LANES):
            hazard[lane] *= lifted[lane] / p[TEXTURE]
        if p[FRAILTY] > 0.0:
            for lane in range(LANES):
                lifted[lane] = 1.0 + p[FRAILTY] * hazard[lane]
            powers(lifted, full, -1.0 / p[FRAILTY], fallen, spare.digits)
        else:
            exp_minus(hazard, full, fallen)
        for lane in range(LANES):
            # of what is severed some comes loose again, from the layer that the edge has disturbed
            view.stood[j, lane] = crossing[lane] * (fallen[lane] + (1.0 - fallen[lane]) * p[LOOSE])
    else:
        for lane in range(LANES):
            view.stood[j, lane] = crossing[lane] * p[LOOSE]


@_stage
def tear_fibres(p, j, most_pull, ranks, detailed, weights, lanes, loads, view, spare):
    """Chance of a tear beyond each lip in turn j, by the farthest that any crack reaches; its depth if `detailed`."""
    lost, deep, far, calm, work = view.lost, view.deep, spare.a, spare.b, spare.c
    for lane in range(LANES):
        lost[j, lane] = 0.0
    if not most_pull > 0.0:
        return
    splits, frail, full = loads.splits, 1.0 / p[TEAR], view.ahead.shape[0]
    far[:] = 0.0
    for k in range(ranks):
        farthest_crack(loads.cracks, lanes.stand, k, lanes.teeth[k], view.pull, far)
        for lane in range(LANES):
            work[lane] = far[lane] * frail
        exp_minus(work, full, calm)
        # where a thin chip splits a thicker one does as well: so far go those from here to the next thinner
        for lane in range(LANES):
            thinner = splits[k + 1, lane] if k + 1 < ranks else 0.0
            lost[j, lane] += (splits[k, lane] - thinner) * (1.0 - calm[lane])
    if detailed:
        for lane in range(LANES):
            deep[lane] += weights[j] * far[lane]


@_stage
def write_down(p, directions, turn, q, s, side, held, lanes, loads, view, spare, results):
    """Means over the scatter into the results, of a set or of all turns that share its fibres; scorch by the fibre."""
    standing, torn, odds, burns = spare.a, spare.b, spare.c, spare.d
    known = p[CRACK] == p[CRACK]
    for t in range(directions.places.shape[0]):
        standing[:], torn[:] = 0.0, 0.0
        for j in range(directions.nodes[q]):
            share, place = directions.weights[q, j], directions.places[t, j]
            for lane in range(LANES):
                standing[lane] += share * view.stood[place, lane]
                torn[lane] += share * view.lost[place, lane]
        middle = directions.places[t, directions.nodes[q] // 2]
        nc, ns = directions.cosines[q, middle], -turn * directions.sines[q, middle]
        for lane in range(held):
            # heat runs off along fibres that lead into the wall
            across = view.ahead[lane] * ns + view.aside[lane] * nc
            into = lanes.lean_cos[lane] * across - lanes.lean_sin[lane] * view.up[lane]
            heat = p[ROOM] + (loads.heats[lane] - p[ROOM]) / math.sqrt(1.0 + p[ALONG] * into * into)
            odds[lane] = charring(heat, p[CHAR])
            if results.more.shape[0] > 0:
                results.more[lanes.rows[lane], side, s + t, 4] = heat
        sigmoids(odds, held, burns)
        for lane in range(held):
            row = lanes.rows[lane]
            results.fuzz[row, side, s + t], results.scorch[row, side, s + t] = standing[lane], burns[lane]
            results.tear[row, side, s + t] = torn[lane] if known else np.nan
    if results.more.shape[0] > 0:
        for lane in range(held):
            row = lanes.rows[lane]
            results.more[row, side, s, 2] = loads.rubs[lane]
            results.more[row, side, s, 3] = view.deep[lane] if known else np.nan


@njit(cache=True, _nrt=False)
def raised(x, n, power, out, spare):
    """x**power of the first n numbers, by products where the power is a multiple of a half below 8."""
    if 2.0 * power == math.floor(2.0 * power) and power < 8.0:
        half_powers(x, n, int(2.0 * power), out)
    else:
        powers(x, n, power, out, spare)


@njit(cache=True, _nrt=False)
def column_sums(values, count, out):
    """Sums over `count` rows of LANES numbers."""
    out[:] = 0.0
    for i in range(count):
        for lane in range(LANES):
            out[lane] += values[i * LANES + lane]


@_stage
def farthest_crack(cracks, stand, k, stop, pull, far):
    """Farthest reach beyond the lip, crack x pull - stand, of the teeth of slot k, four at a time; at least `far`."""
    for i in range(0, stop, 4):
        for j in range(LANES):
            a, b = cracks[k, i, j] * pull[j] - stand[k, i, j], cracks[k, i + 1, j] * pull[j] - stand[k, i + 1, j]
            c, d = (
                cracks[k, i + 2, j] * pull[j] - stand[k, i + 2, j],
                cracks[k, i + 3, j] * pull[j] - stand[k, i + 3, j],
            )
            a, c = a if a > b else b, c if c > d else d
            a = a if a > c else c
            far[j] = a if a > far[j] else far[j]


@_law
def rubbed_temperature(p, total, share, fastest, starts, lean_sin, warm):
    """Temperature of a lip rubbed by `total` strikes' worth, `share` of the strongest; see `heat`. [C]

    `warm` is what earlier passes left, over what one strike leaves at a friction of 1.
    """
    friction = sliding(p[AT_REST], p[RUNNING], fastest)
    lasting = p[LASTING] * friction * repeated(total)
    if warm > 0.0:
        lasting += p[LASTING] * warm
    sink = p[SINK] * lean_sin
    if starts and sink > 0.0:
        rubs = math.exp(-sink * p[INTERVAL] / p[RUB])
        share = max(share, rubs)
        lasting = max(lasting, front(rubs * p[FRONT] * friction, sink))
    return p[ROOM] + p[SHARE] * (flash(share * p[FLASH] * friction, fastest) + lasting)


@_stage
def sigmoids(x, n, out):
    """1 / (1 + exp(-x)) of the first n numbers, for vector registers; `out` is not `x`."""
    for i in range(n):
        out[i] = abs(x[i])
    exp_minus(out, n, out)
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
