"""What every check of a job asks of it: its extent, its plunges, who owns which groove."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from .._shared.arrays import FloatArray, instance
from ..scene.cuts import AirMove, Carving, Cut, as_carving
from ..scene.machine import Machine

__all__ = []


def job_of(carving: object, machine: object) -> Carving:
    job = as_carving(carving)
    if machine is None:
        return job
    own = instance("machine", machine, Machine, "a Machine or None")
    # a cut that has this machine keeps the speed profile it has worked out
    cuts = tuple(c if c.machine == own else replace(c, machine=own) for c in job)
    return replace(job, cuts=cuts)


def owner_of(job: Carving, move: AirMove) -> int:
    """Index of the cut a move belongs to: the one it leads to, after the last cut that one."""
    return min(max(move.before, 0), len(job) - 1)


def entries_of(cut: Cut, before: Cut | None) -> bool:
    """True if the tool must be let down into the wood: the path starts deep, and not where the last cut ended."""
    start = np.append(cut.path.xy[0], cut.path.depth[0])
    if start[2] <= 1e-9:
        return False
    if before is None:
        return True
    place = 0 if before.path.closed else -1
    last = np.append(before.path.xy[place], before.path.depth[place])
    return not bool(np.allclose(start, last, rtol=0, atol=1e-6))


def extent_of(cut: Cut) -> FloatArray:
    """(2, 2) lowest and highest x, y of the groove at the face, its width included. [mm]"""
    path = cut.path
    x, y, heading, curvature, length, depth, _ = path.pieces.T
    half = cut.half_width(np.maximum(depth, depth + path.drop))
    start, end = np.column_stack([x, y]), np.roll(path.xy, -1, axis=0)[: len(x)]
    low, high = np.minimum(start, end), np.maximum(start, end)
    bent = curvature != 0
    side, radius = np.sign(curvature[bent]), 1 / np.abs(curvature[bent])
    normal = np.column_stack([-np.sin(heading[bent]), np.cos(heading[bent])])
    centre = start[bent] + (side * radius)[:, None] * normal
    first, sweep = heading[bent] - side * np.pi / 2, np.abs(curvature * length)[bent]
    for quarter, (axis, sign) in enumerate([(0, 1), (1, 1), (0, -1), (1, -1)]):
        passes = (side * (quarter * np.pi / 2 - first)) % (2 * np.pi) <= sweep
        reach = np.where(passes, centre[:, axis] + sign * radius, start[bent, axis])
        low[bent, axis] = np.minimum(low[bent, axis], reach)
        high[bent, axis] = np.maximum(high[bent, axis], reach)
    return np.array([(low - half[:, None]).min(axis=0), (high + half[:, None]).max(axis=0)])
