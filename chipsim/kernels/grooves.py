"""Nominal grooves: how far a point lies beyond their edges, and which lips they remove."""

from __future__ import annotations

import math

import numpy as np

from .axis import DS, DT, FULL, S0, D, H, K, M, X, Y, depth_on, locate, point_at
from .compiled import njit
from .outline import disc_radius, knot_radius

__all__ = []


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
def box_of_axis(motion, step, box):
    """Fill the corners (2, 2) of a box round samples of the axis, no more than `step` apart."""
    box[0], box[1] = np.inf, -np.inf
    for k in range(motion.shape[0]):
        parts = max(math.ceil(motion[k, DS] / step), 1)
        for i in range(parts + 1):
            x, y = point_at(motion, k, motion[k, DS] * i / parts)
            box[0, 0], box[0, 1] = min(box[0, 0], x), min(box[0, 1], y)
            box[1, 0], box[1, 1] = max(box[1, 0], x), max(box[1, 1], y)


@njit(cache=True)
def cells_near(motion, step, spread, place, pairs):
    """Fill cell * pieces + piece for cells within `spread` of samples of each piece; return how many there are.

    place = (x0, y0, size, columns); a pair may come more than once. Where `pairs` is too short they are only counted.
    """
    n, total, columns = 0, motion.shape[0], int(place[3])
    for k in range(total):
        parts = max(math.ceil(motion[k, DS] / step), 1)
        was_i, was_j, was_k, was_l = 1, 1, 0, 0
        for part in range(parts + 1):
            x, y = point_at(motion, k, motion[k, DS] * part / parts)
            i, j = math.floor((x - spread - place[0]) / place[2]), math.floor((y - spread - place[1]) / place[2])
            i_to, j_to = math.floor((x + spread - place[0]) / place[2]), math.floor((y + spread - place[1]) / place[2])
            for row in range(j, j_to + 1):
                for column in range(i, i_to + 1):
                    # the sample before has told
                    if was_i <= column <= was_k and was_j <= row <= was_l:
                        continue
                    if n < pairs.shape[0]:
                        pairs[n] = (column + columns * row) * total + k
                    n += 1
            was_i, was_j, was_k, was_l = i, j, i_to, j_to
    return n


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
        if nearest - knot_radius(radii, min(j + 1, last)) >= best:
            continue
        a = (heights[j] - level) / rise
        b = (heights[j + 1] - level) / rise if j < last else a + math.copysign(1e300, rise)
        lo, hi = max(min(a, b), 0.0), min(max(a, b), length)
        if hi < lo:
            continue
        rate, width = 0.0, knot_radius(radii, j)
        if j < last:
            rate = rise * (knot_radius(radii, j + 1) - width) / (heights[j + 1] - heights[j])
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
            value = math.hypot(x - px, y - py) - (width + rate * (ds - a))
            if value < best:
                best, where = value, ds
    return best, where


@njit(cache=True, nogil=True)
def surviving_lips(motion, heights, radii, wide, grid, first, members, lip, station, total, exists, margin):
    """Clear `exists` where any part of the path cuts deeper than `margin` beyond the lip point.

    `wide` (pieces,) is the largest half-width of each piece, or more.

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
                # no point of the piece is farther from its start than its length: most are ruled out by that alone
                dx, dy = x - motion[k, X], y - motion[k, Y]
                far = motion[k, DS] + wide[k] + margin
                if dx * dx + dy * dy > far * far * 1.000001:
                    continue
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
        widest = knot_radius(radii, radii.shape[0] - 1)
        if apart > widest:
            least = min(least, apart - widest)
            continue
        gap, _ = clearance_to(motion, heights, radii, k, x, y, lift)
        least = min(least, gap)
        if least < 0.0:
            break
    return least


@njit(cache=True, nogil=True)
def opened_lips(motion, heights, radii, grid, first, members, lip, exists):
    """Clear `exists` where a lip lies within 1e-6 mm of an earlier groove's edge: it is that groove's lip."""
    for row in range(lip.shape[0]):
        for side in range(2):
            if not exists[row, side]:
                continue
            x, y = lip[row, side, 0], lip[row, side, 1]
            cell = cell_of(grid, x, y)
            if cell < 0:
                continue
            if groove_gap(motion, heights, radii, members, first[cell], first[cell + 1], x, y, 0.0) < 1e-6:
                exists[row, side] = False


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
