"""The lips of a carving laid out in blocks, each with the strokes that come near it."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from functools import lru_cache
from threading import Lock
from typing import NamedTuple

import numpy as np

from .._shared.arrays import number
from ..kernels import grooves, probes
from ..scene.cuts import Carving, Stroke
from .lips import LipPlan, Lips
from .motions import Groove, groove_of, outlook_of
from .neighbours import Neighbours

__all__ = ["BLOCK", "LipBlock", "LipPlans", "Run", "lip_blocks"]


_REMOVED = 1e-9
"""A lip point is gone when another part of the groove reaches more than this beyond it. [mm]"""

BLOCK = 2048
"""Rows worked on at a time: few enough for the processor's own memory, enough to make the calls' cost small."""

_KEPT = 512
"""Grooves kept ready for their neighbours; another one is made again when it is met again."""

_KEPT_VERTICES = 20_000
"""Plans of the lips are kept from the count to the layout for so many vertices."""

_STOCK = 1.5
"""How far inwards from a lip strokes of a narrower groove are looked for. [mm]"""


def _clear(groove: Groove, lips: Lips, exists: np.ndarray, *, own: bool) -> None:
    """Clear `exists` where a groove, their own or another, earlier or later, cuts the lip away."""
    path = groove.cut.path
    grooves.surviving_lips(
        groove.motion,
        groove.knots,
        groove.radii,
        groove.pieces[:, probes.REACH].copy(),
        groove.grid.frame,
        groove.grid.first,
        groove.grid.members,
        lips.lip_xy,
        lips.station if own else np.empty(0),
        -path.length if path.closed else path.length,
        exists,
        _REMOVED,
    )


def _without(lips: Lips, exists: np.ndarray) -> Lips:
    """Lips with those that no longer exist blanked."""
    gone = ~exists
    lip_xy, outward, length = lips.lip_xy.copy(), lips.outward.copy(), lips.lip_length.copy()
    lip_xy[gone], outward[gone], length[gone] = np.nan, np.nan, 0.0
    return replace(lips, exists=exists, lip_xy=lip_xy, outward=outward, lip_length=length)


class Run(NamedTuple):
    """A stroke that may have come near some lips, with its number and when it began."""

    number: int
    start: float
    groove: Groove


class Strokes:
    """Strokes of a carving, made ready for the kernels where lips ask for them, and kept for their neighbours."""

    def __init__(self, strokes: Sequence[Stroke], outlook: float) -> None:
        self._strokes, self._outlook = strokes, outlook
        self._groove, self._lock = lru_cache(maxsize=_KEPT)(self._made), Lock()

    def run(self, k: int) -> Run:
        """One of them, by its number."""
        with self._lock:  # blocks on several threads ask for the same ones
            return Run(k, self._strokes[k].start, self._groove(k))

    def _made(self, k: int) -> Groove:
        return groove_of(self._strokes[k].cut, self._outlook)


class LipPlans:
    """Plans of the lips of every cut of a carving, to count their rows before they are laid out.

    `folded` is as of `LipPlan`.

    Attributes
    ----------
    rows : how many rows `carving_blocks` will yield in all.
    """

    def __init__(self, carving: Carving, pitch: float, folded: float = 0.0) -> None:
        self._cuts, self._pitch, self._folded = carving.cuts, pitch, folded
        self._kept: dict[int, LipPlan] = {}
        self.rows = vertices = 0
        for i, cut in enumerate(carving):
            plan = LipPlan(cut, pitch, folded)
            self.rows += plan.rows
            vertices += len(cut.path.xy)
            if vertices <= _KEPT_VERTICES:
                self._kept[i] = plan

    def __iter__(self) -> Iterator[LipPlan]:
        """The plans in order, kept or made again: all those of a long carving would fill the memory."""
        for i, cut in enumerate(self._cuts):
            yield self._kept.pop(i) if i in self._kept else LipPlan(cut, self._pitch, self._folded)


class LipBlock(NamedTuple):
    """Some cells of a cut of a carving, and all strokes that came near: what is known before a strike is gathered.

    Attributes
    ----------
    cut : index of the cut in the carving, from 0.
    made_by : number of the stroke that makes the lips.
    near : numbers of all strokes near by, in order of time.
    strokes : of the carving.
    others : numbers of the last strokes of other cuts, which remove lips.
    plan, cells : of the lips; the first of the cells that are looked at, and the one behind the last.
    layer : thickness of the wood at the finished lip whose strikes are kept. [mm]
    """

    cut: int
    made_by: int
    near: Sequence[int]
    strokes: Strokes
    others: set[int]
    plan: LipPlan
    cells: tuple[int, int]
    layer: float

    def runs(self) -> list[Run]:
        """All strokes near by."""
        return [self.strokes.run(k) for k in self.near]

    def lips(self, runs: Sequence[Run] | None = None) -> Lips:
        """Lips that no other part of the carving removes, and that no earlier cut has made already; see `runs`."""
        runs = self.runs() if runs is None else runs
        part = self.plan.lips(*self.cells)
        exists = part.exists.copy()
        for run in sorted(runs, key=lambda run: run.number != self.made_by):
            if run.number == self.made_by or run.number in self.others:
                _clear(run.groove, part, exists, own=run.number == self.made_by)
        for run in runs:
            if run.number in self.others and run.number < self.made_by:
                g = run.groove
                grooves.opened_lips(
                    g.motion, g.knots, g.radii, g.grid.frame, g.grid.first, g.grid.members, part.lip_xy, exists
                )
        return part if np.array_equal(exists, part.exists) else _without(part, exists)


def lip_blocks(
    carving: Carving,
    *,
    pitch: float,
    bundle: float = _REMOVED,
    block: int = BLOCK,
    plans: LipPlans | None = None,
) -> Iterator[LipBlock]:
    """Lay out the lips of a carving in blocks of about `block` rows, each with the strokes that come near.

    A lip that any other cut removes does not exist; where two cuts run along the very same lip it is the earlier one's.
    Every lip has the strikes of all strokes. Only stretches whose boxes overlap look at one another (`Neighbours`).
    Where only lips are asked for, no bundle need be said. `plans` are those of the same carving and pitch, if they have
    been made.
    """
    layer = number("bundle", bundle, low=0, high=10, open_low=True, unit="mm")
    plans, strokes = plans or LipPlans(carving, pitch), carving.strokes()
    outlook = max(outlook_of(stroke.cut, layer) for stroke in strokes)
    if len(strokes) > 1:
        outlook = max(outlook, _STOCK)
    near = Neighbours(carving) if len(carving) > 1 else None
    own: list[list[int]] = [[] for _ in carving]
    for k, stroke in enumerate(strokes):
        own[stroke.groove].append(k)
    ready = Strokes(strokes, outlook)
    for i, plan in enumerate(plans):
        # corners and ends have rows of their own: of short chords as many as the cells
        step = max(1, block * plan.cells // max(plan.rows, 1))
        for low in range(0, plan.cells, step):
            high = min(low + step, plan.cells)
            stretch = (plan.cut.path.length * k / plan.cells for k in (low, high))
            around = [] if near is None else near.along(i, *stretch)
            met = [k for j in sorted([i, *around]) for k in own[j]]
            yield LipBlock(i, own[i][-1], met, ready, {own[j][-1] for j in around}, plan, (low, high), layer)
