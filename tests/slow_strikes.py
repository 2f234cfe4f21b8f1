"""Strikes on the lips by dense sampling: an independent check of thousands of lips at a time.

The edges of all flutes are sampled over the whole cut, once. For every lip the signed distances of the samples from
its probe line follow from one product. Every change of their sign is a crossing, and so may be every least distance
between two samples, which is searched for. Crossings are bisected, all together. Nothing is assumed of how often an
edge crosses a probe in a turn. The kernels are not met.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from chipsim.testing._scene import slow

SAMPLES = 360
"""Looks per turn; what hides between two looks is searched for at every least distance."""


@dataclass
class History:
    """Cutting strikes in the bundle at one lip, and whether a rounding could make another list of them."""

    depths: np.ndarray
    chips: np.ndarray
    doubtful: bool


class Edges:
    """Where the edges of a cut are."""

    def __init__(self, cut: Any) -> None:
        self.cut, self.job = cut, slow(cut)
        self.omega = (-1 if cut.spin == "cw" else 1) * cut.spindle_speed * 2 * np.pi / 60
        self.runout = cut.bit.runout * np.exp(1j * np.radians(cut.bit.runout_azimuth))

    def at(self, t: np.ndarray, flute: np.ndarray) -> np.ndarray:
        """Place of the edge of a flute in the face at each time, as complex numbers."""
        x, y = self.job["position"](t)
        r = self.job["radius"](np.maximum(self.job["depth"](t), 0.0))
        body = r * np.exp(2j * np.pi * flute / self.cut.bit.flutes) + self.runout
        if self.omega > 0:
            body = body.conjugate()  # flutes are counted against the rotation
        return x + 1j * y + body * np.exp(1j * (np.radians(self.cut.phase) + self.omega * t))


def histories(cut: Any, strikes: Any, bundle: float, samples: int = SAMPLES) -> dict[tuple[int, int], History]:
    """The history of every lip that exists, by (row, side)."""
    edges, lips = Edges(cut), strikes.lips
    rows = np.argwhere(lips.exists)
    point = lips.lip_xy[rows[:, 0], rows[:, 1]] @ [1, 1j]
    out = np.exp(1j * np.radians(lips.outward[rows[:, 0], rows[:, 1]]))
    half = lips.half_width[rows[:, 0]]
    count = int(np.ceil(cut.duration * abs(edges.omega) / (2 * np.pi) * samples)) + 2
    nodes = np.linspace(0.0, cut.duration, count)
    least = -(cut.bit.runout + 1e-6)  # farther out cuts another groove

    def seen(t: np.ndarray, flute: np.ndarray, lip: np.ndarray) -> np.ndarray:
        """Edge in the frame of the probe: real part the wood left, imaginary part the distance from the probe."""
        return -(edges.at(t, flute) - point[lip]) * out[lip].conjugate()

    brackets = []  # lip, flute, from, to
    humps = []  # lip, flute, from, to: a least distance that may hide two crossings
    for flute in range(cut.bit.flutes):
        place = edges.at(nodes, np.full(count, flute))
        slack = 2 * np.abs(np.diff(place)).max() + 1e-6
        for lip in range(len(rows)):
            z = -(place - point[lip]) * out[lip].conjugate()
            y, g = z.real, z.imag
            near = (y < half[lip] + slack) & (y > least - slack)
            between = near[:-1] & near[1:]
            for k in np.flatnonzero(between & ((g[:-1] >= 0) != (g[1:] >= 0))):
                brackets.append((lip, flute, nodes[k], nodes[k + 1]))
            a = np.abs(g)
            bend = np.abs(g[:-2] - 2 * g[1:-1] + g[2:]) + 1e-12
            same = ((g[:-2] >= 0) == (g[1:-1] >= 0)) & ((g[1:-1] >= 0) == (g[2:] >= 0))
            low = (a[1:-1] <= a[:-2]) & (a[1:-1] <= a[2:]) & (a[1:-1] <= 4 * bend) & same & near[1:-1]
            for k in np.flatnonzero(low):
                humps.append((lip, flute, nodes[k], nodes[k + 2]))
    doubtful = np.zeros(len(rows), dtype=bool)
    if humps:
        lip, flute, begin, end = (np.array(c) for c in zip(*humps, strict=True))
        sign = np.where(seen(begin, flute, lip).imag >= 0, 1.0, -1.0)
        a, b = begin.copy(), end.copy()
        for _ in range(60):
            one, two = b - 0.618034 * (b - a), a + 0.618034 * (b - a)
            first = sign * seen(one, flute, lip).imag < sign * seen(two, flute, lip).imag
            a, b = np.where(first, a, one), np.where(first, two, b)
        bottom = (a + b) / 2
        depth = sign * seen(bottom, flute, lip).imag
        doubtful[lip[np.abs(depth) < 1e-11]] = True
        for k in np.flatnonzero(depth < 0):
            brackets += [(lip[k], flute[k], begin[k], bottom[k]), (lip[k], flute[k], bottom[k], end[k])]
    found = {}
    if brackets:
        lip, flute, a, b = (np.array(c) for c in zip(*brackets, strict=True))
        start = seen(a, flute, lip).imag >= 0
        for _ in range(48):
            middle = (a + b) / 2
            same = (seen(middle, flute, lip).imag >= 0) == start
            a, b = np.where(same, middle, a), np.where(same, b, middle)
        t = (a + b) / 2
        y = seen(t, flute, lip).real
    else:
        lip, t, y = np.empty(0, int), np.empty(0), np.empty(0)
    for k, (i, side) in enumerate(rows):
        mine = lip == k
        order = np.argsort(t[mine], kind="stable")
        when, left = t[mine][order], y[mine][order]
        within = (left <= half[k]) & (left >= least)
        unsure = bool(doubtful[k]) or bool((np.abs(left - half[k]) < 1e-8).any() or (np.abs(left - least) < 1e-8).any())
        when, left = when[within], left[within]
        unsure |= bool((when < 1e-9).any() or (when > cut.duration - 1e-9).any())
        surface, finished = half[k], left.min(initial=np.inf)
        depths, chips = [], []
        for d in left:
            unsure |= abs(d - surface) < 1e-8
            if d < surface - 1e-9:
                unsure |= abs(d - finished - bundle) < 1e-8
                if d < finished + bundle:
                    depths.append(d)
                    chips.append(surface - d)
                surface = d
        found[int(i), int(side)] = History(np.array(depths), np.array(chips), unsure)
    return found
