"""Motions in space for tests: pieces as a table for the kernels, and the same as plain functions for the oracle.

A motion is written ``x y d ; piece ; piece ...``: ``L x y d F`` a line in space to there at F mm/min along it,
``A cx cy sweep d F`` an arc about (cx, cy) by so many degrees down to d, ``W s`` a dwell. d is the depth of the tip,
negative above the face. With an acceleration [mm/s^2] every piece runs from rest to rest.
"""

from dataclasses import dataclass

import numpy as np

import chipsim as cs
from chipsim._shared.arrays import frozen
from chipsim.reference import oracle


@dataclass
class Piece:
    start: tuple
    end: tuple
    flat: float
    length: float
    seconds: float
    centre: complex | None
    sweep: float
    phases: list  # (duration, speed at its beginning, acceleration), along the path in space


def phases_of(length, feed, acceleration):
    if acceleration is None:
        return [(length / feed, feed, 0.0)]
    a = acceleration
    peak = min(feed, np.sqrt(a * length))
    ramp = peak / a
    cruise = max((length - peak * ramp) / peak, 0.0)
    return [(ramp, 0.0, a), *([(cruise, peak, 0.0)] if cruise > 1e-12 else []), (ramp, peak, -a)]


def pieces_of(text, acceleration=None):
    first, *rest = [part.split() for part in text.split(";")]
    here = tuple(float(w) for w in first)
    found = []
    for kind, *words in rest:
        numbers = [float(w) for w in words]
        if kind == "W":
            found.append(Piece(here, here, 0.0, 0.0, numbers[0], None, 0.0, [(numbers[0], 0.0, 0.0)]))
            continue
        if kind == "L":
            there, centre, sweep = tuple(numbers[:3]), None, 0.0
            flat = float(np.hypot(there[0] - here[0], there[1] - here[1]))
        else:
            centre, sweep = complex(*numbers[:2]), np.radians(numbers[2])
            at = centre + (complex(*here[:2]) - centre) * np.exp(1j * sweep)
            there = (at.real, at.imag, numbers[3])
            flat = abs(complex(*here[:2]) - centre) * abs(sweep)
        length = float(np.hypot(flat, there[2] - here[2]))
        if length == 0.0:
            continue
        runs = phases_of(length, numbers[-1] / 60, acceleration)
        found.append(Piece(here, there, flat, length, sum(p[0] for p in runs), centre, sweep, runs))
        here = there
    return found


def table(pieces):
    """The kernels' motion: (m, 14), see the head of `_kernels`."""
    headings = []
    for p in pieces:
        if p.flat == 0.0:
            headings.append(None)
        elif p.centre is None:
            headings.append(np.arctan2(p.end[1] - p.start[1], p.end[0] - p.start[0]))
        else:
            headings.append(np.angle(complex(*p.start[:2]) - p.centre) + np.copysign(np.pi / 2, p.sweep))
    # where the axis stands the last heading stays; before the first move that one's holds
    last = next((h for h in headings if h is not None), 0.0)
    rows, time, station = [], 0.0, 0.0
    for p, h in zip(pieces, headings, strict=True):
        h = last if h is None else last + (h - last + np.pi) % (2 * np.pi) - np.pi
        share = p.flat / p.length if p.length else 0.0
        fall = (p.end[2] - p.start[2]) / p.length if p.length else 0.0
        bend = 0.0 if p.centre is None or not p.flat else p.sweep / p.flat
        done = 0.0
        for dt, v, a in p.phases:
            along = done * share
            if p.centre is None:
                f = done / p.length if p.length else 0.0
                xy = complex(*p.start[:2]) * (1 - f) + complex(*p.end[:2]) * f
            else:
                xy = p.centre + (complex(*p.start[:2]) - p.centre) * np.exp(1j * bend * along)
            way = dt * (v + 0.5 * a * dt)
            slope = fall / share if share else 0.0
            place = [xy.real, xy.imag, h + bend * along, bend, p.start[2] + fall * done, slope]
            rows.append([time, station + along, v * share, a * share, *place, dt, way * share, v * fall, a * fall])
            time, done = time + dt, done + way
        station += p.flat
        last = h + bend * p.flat
    return np.array(rows)


def functions(pieces):
    """Position (x, y) and depth for an array of times, straight from the pieces."""
    starts = np.cumsum([0.0] + [p.seconds for p in pieces])

    def share(t):
        t = np.clip(np.asarray(t, dtype=float), 0.0, starts[-1])
        k = np.clip(np.searchsorted(starts, t, side="right") - 1, 0, len(pieces) - 1)
        f = np.zeros(t.shape)
        for i, p in enumerate(pieces):
            if p.length == 0.0:
                continue
            tau, done, gone = t - starts[i], 0.0, np.zeros(t.shape)
            for dt, v, a in p.phases:
                x = np.clip(tau, 0.0, dt)
                gone, tau = gone + x * (v + 0.5 * a * x), tau - dt
                done += dt * (v + 0.5 * a * dt)
            f = np.where(k == i, gone / p.length, f)
        return k, f

    def position(t):
        k, f = share(t)
        xy = np.zeros(k.shape, dtype=complex)
        for i, p in enumerate(pieces):
            a, b = complex(*p.start[:2]), complex(*p.end[:2])
            at = a + (b - a) * f if p.centre is None else p.centre + (a - p.centre) * np.exp(1j * p.sweep * f)
            xy = np.where(k == i, at, xy)
        return xy.real, xy.imag

    def depth(t):
        k, f = share(t)
        d0, d1 = (np.array([getattr(p, end)[2] for p in pieces]) for end in ("start", "end"))
        return d0[k] + (d1[k] - d0[k]) * f

    return position, depth


@dataclass
class Scene:
    """A cut whose motion is the one written, and what the oracle asks for."""

    cut: cs.Cut
    position: object
    depth: object
    seconds: float
    oracle: dict


def scene(text, bit, rpm, *, spin="cw", phase=0.0, acceleration=None):
    pieces = pieces_of(text, acceleration)
    motion = table(pieces)
    deepest = max(max(p.start[2], p.end[2]) for p in pieces)
    length = max(motion[-1, 1] + motion[-1, 11], 0.01)
    cut = cs.Cut(bit, cs.line((0, 0), (length, 0), deepest), rpm, 1000, spin=spin, phase=phase)
    # the motion is worked out when first asked for, and kept
    cut.__dict__["motion"] = frozen(motion)
    position, depth = functions(pieces)
    ask = {
        "position": position,
        "depth": depth,
        "radius": lambda h: np.interp(h, *cut.knots),
        "spindle_speed": rpm,
        "flutes": bit.flutes,
        "phase": phase,
        "spin": spin,
        "runout": bit.runout,
        "runout_azimuth": bit.runout_azimuth,
    }
    return Scene(cut, position, depth, sum(p.seconds for p in pieces), ask)


def crossing(scene, flute, azimuth, z, near):
    """Time nearest to `near` at which the edge of a flute in the slice z stands at a work azimuth."""
    cut, bit, t = scene.cut, scene.cut.bit, near
    sense = -1.0 if cut.spin == "cw" else 1.0
    omega = cut.spindle_speed * 2 * np.pi / 60
    lag = 2 * np.pi * flute / bit.flutes
    for _ in range(60):
        r = float(np.interp(max(z + float(scene.depth(t)), 0.0), *cut.knots))
        body = np.angle(r * np.exp(1j * lag) + bit.runout * np.exp(1j * np.radians(bit.runout_azimuth)))
        miss = np.radians(azimuth - cut.phase) - sense * (omega * t - body)
        t += sense * ((miss + np.pi) % (2 * np.pi) - np.pi) / omega
    return t


def thickness(scene, flute, azimuth, z, near, **more):
    """Radial and normal thickness that the library finds, and the time of the crossing."""
    t = crossing(scene, flute, azimuth, z, near)
    cut, turn = scene.cut, 60.0 / scene.cut.spindle_speed
    motion = cut.motion
    k = int(np.searchsorted(motion[:, 0], t, side="right") - 1)
    tau = t - motion[k, 0]
    heading = np.degrees(motion[k, 6] + motion[k, 7] * tau * (motion[k, 2] + 0.5 * motion[k, 3] * tau))
    height = z + float(scene.depth(t))
    window = (max(t - 0.45 * turn, 0.0), min(t + 0.45 * turn, cut.duration))
    found = cs.tooth_passes(cut, times=window, angles=[heading + 90 - azimuth], heights=[height], **more)
    rows = np.flatnonzero((found.flute == flute) & np.isfinite(found.time[:, 0]))
    row = rows[np.argmin(np.abs(found.time[rows, 0] - t))]
    return float(found.radial_thickness[row, 0, 0]), float(found.chip_thickness[row, 0, 0]), t


def uncut_after(t, azimuth, height, flute, ask, earlier):
    """The oracle's uncut length on a board on which earlier motions, (what the oracle asks for, duration), went first.

    Their teeth are met one by one, scallops and all.
    """
    standing = oracle.uncut_intervals(t, azimuth, height, flute, **ask)
    x, y = ask["position"](np.array([t]))
    r = float(ask["radius"](np.array([height]))[0])
    lag = 2 * np.pi * flute / ask["flutes"]
    body = r * np.exp(1j * lag) + ask["runout"] * np.exp(1j * np.radians(ask["runout_azimuth"]))
    length = float(abs(body))
    swept = []
    for other, duration in earlier:
        rest = oracle._motion(
            *(other[name] for name in ("position", "depth", "radius", "spindle_speed", "flutes", "spin")),
            other["runout"],
            other["runout_azimuth"],
        )
        motion = rest._replace(
            origin=complex(np.asarray(x).item(), np.asarray(y).item()),
            direction=complex(np.exp(1j * np.radians(azimuth))),
            turned=np.radians(other["phase"] - azimuth),
            height=height - float(np.asarray(ask["depth"](np.array([t]))).item()),
        )
        swept += [oracle._swept(motion, i, 0.0, duration, length) for i in range(other["flutes"])]
    gone = np.concatenate([np.empty((0, 2)), *swept])
    # what the tool's own teeth have taken, as stretches
    edges = np.r_[0.0, standing.ravel(), length].reshape(-1, 2)
    left = oracle.left_over(np.concatenate([gone, edges]), length)
    return float(np.sum(left[:, 1] - left[:, 0]))
