"""What every lip has seen: the strikes on its last bundle of wood."""

from __future__ import annotations

from collections import deque
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import Future, ThreadPoolExecutor
from dataclasses import dataclass, replace
from functools import lru_cache, partial
from typing import Any, TypeVar, overload

import numpy as np

from .._shared.arrays import FloatArray, frozen, instance, integer, number
from ..errors import ConvergenceError
from ..kernels import axis, grooves, probes
from ..scene.cuts import Carving, Cut
from .index import PieceIndex, index_pieces, widest_radius
from .lips import LipPlan, Lips, bent_at_knees
from .neighbours import Neighbours
from .passes import outline_of, spindle_of

__all__ = ["LipStrikes", "carving_blocks", "count_rows", "lip_strikes", "strike_blocks"]


T = TypeVar("T")

_REMOVED = 1e-9
"""A lip point is gone when another part of the groove reaches more than this beyond it. [mm]"""

_BLOCK = 2048
"""Rows worked on at a time: few enough for the processor's own memory, enough to make the calls' cost small."""

_KEPT = 512
"""Grooves kept ready for their neighbours; another one is made again when it is met again."""

_STOCK = 1.5
"""How far inwards from a lip earlier grooves are looked for. [mm]"""


def _survivors(groove: _Groove, lips: Lips, *, own: bool) -> Lips:
    """Lips with `exists` cleared where a groove, their own or another, earlier or later, cuts the lip away."""
    exists = lips.exists.copy()
    path = groove.cut.path
    grooves.surviving_lips(
        groove.motion,
        groove.knots,
        groove.radii,
        groove.grid.frame,
        groove.grid.first,
        groove.grid.members,
        lips.lip_xy.copy(),
        lips.station.copy() if own else np.empty(0),
        -path.length if path.closed else path.length,
        exists,
        _REMOVED,
    )
    return _without(lips, exists)


def _without(lips: Lips, exists: np.ndarray) -> Lips:
    """Lips with those that no longer exist blanked."""
    gone = ~exists
    lip_xy, outward, length = lips.lip_xy.copy(), lips.outward.copy(), lips.lip_length.copy()
    lip_xy[gone], outward[gone], length[gone] = np.nan, np.nan, 0.0
    return replace(lips, exists=exists, lip_xy=lip_xy, outward=outward, lip_length=length)


@dataclass(frozen=True, eq=False)
class LipStrikes:
    """Strikes on the last wood at every lip point; axis 1 is (left, right), axis 2 the strikes in order of time.

    Attributes
    ----------
    lips : Lips, where the lip points are (also reachable here: station, xy, lip_xy, lip_length, exists).
    bundle : thickness of the layer at the finished lip whose strikes are kept. [mm]
    counts : (n, 2) number of strikes.
    chips : (n, 2, k) wood each takes along the probe, NaN beyond the count; a first strike in uncut wood reaches from
        the tool's axis. [mm]
    depths : (n, 2, k) wood left between the strike and the nominal lip; below 0 where runout cuts beyond it. [mm]
    cutting_speeds : (n, 2, k) speed of the edge in the work at the strike. [m/s]
    stock : (n, 2) wood the cut finds on the probe: up to an earlier groove, or to its own axis; looked for up to
        1.5 mm. [mm]
    """

    lips: Lips
    bundle: float
    counts: np.ndarray
    chips: FloatArray
    depths: FloatArray
    cutting_speeds: FloatArray
    stock: FloatArray

    def __len__(self) -> int:
        return len(self.lips)

    @property
    def station(self) -> FloatArray:
        """(n,) arc lengths. [mm]"""
        return self.lips.station

    @property
    def xy(self) -> FloatArray:
        """(n, 2) tool axis. [mm]"""
        return self.lips.xy

    @property
    def lip_xy(self) -> FloatArray:
        """(n, 2, 2) lip points. [mm]"""
        return self.lips.lip_xy

    @property
    def lip_length(self) -> FloatArray:
        """(n, 2) length of lip each stands for. [mm]"""
        return self.lips.lip_length

    @property
    def exists(self) -> np.ndarray:
        """(n, 2) whether there is a lip."""
        return self.lips.exists


def lip_strikes(cut: Cut, *, pitch: float = 0.25, bundle: float = 0.2, threads: int = 1) -> LipStrikes:
    """Gather, for each lip point, the strikes on the last `bundle` of wood.

    A probe line lies in the face through the lip point, square to the lip, from the groove outwards. Each tooth edge
    crosses it somewhere; what is left uncut falls with the strikes, y1 > y2 > ..., and the differences are the chips.
    Only strikes that remove wood count; the layer is measured from the finished lip.

    Parameters
    ----------
    cut
        The cut.
    pitch
        Spacing of the stations along the path. [mm]
    bundle
        Thickness of the layer, in (0, 10]. [mm]
    threads
        Blocks of rows worked on side by side; the result is the same to the last bit.

    Raises
    ------
    DomainError
        If an argument is out of range.
    ConvergenceError
        If a lip point is crossed more than 20 000 times (a feed per tooth far below a micrometre).
    """
    blocks = list(strike_blocks(cut, pitch=pitch, bundle=bundle, threads=threads))
    if len(blocks) == 1:
        return blocks[0]
    width = max(b.chips.shape[2] for b in blocks)

    def join(name: str) -> FloatArray:
        return np.concatenate(
            [
                np.pad(getattr(b, name), ((0, 0), (0, 0), (0, width - b.chips.shape[2])), constant_values=np.nan)
                for b in blocks
            ]
        )

    lips = Lips(**{f: np.concatenate([getattr(b.lips, f) for b in blocks]) for f in Lips.__dataclass_fields__})
    counts = np.concatenate([b.counts for b in blocks])
    stock = np.concatenate([b.stock for b in blocks])
    return LipStrikes(lips, blocks[0].bundle, counts, join("chips"), join("depths"), join("cutting_speeds"), stock)


@dataclass(frozen=True)
class _Groove:
    """A cut as the kernels see it: motion, job, outline and the index of its pieces."""

    cut: Cut
    motion: FloatArray
    job: tuple[float, float, float, float, float, float]
    knots: FloatArray
    radii: FloatArray
    biggest: float
    grid: PieceIndex


def _outlook(cut: Cut, bundle: float) -> float:
    """How far inwards from a lip a strike can matter: the bundle and one turn's advance. [mm]"""
    return float(bundle + cut.motion[:, axis.V].max() * 60.0 / cut.spindle_speed + 2 * cut.bit.runout)


def _groove(cut: Cut, outlook: float) -> _Groove:
    # pieces on which the half-width runs straight: the search for what is cut away then has one least a piece
    cut = bent_at_knees(cut)
    biggest = widest_radius(cut)
    reach = biggest + max(outlook, biggest)
    return _Groove(cut, cut.motion.copy(), spindle_of(cut), *outline_of(cut), biggest, index_pieces(cut, reach))


def strike_blocks(
    cut: Cut, *, pitch: float, bundle: float, block: int = _BLOCK, threads: int = 1
) -> Iterator[LipStrikes]:
    """Yield `lip_strikes` in blocks of about `block` rows, so that memory does not grow with the path's strikes."""
    layer = number("bundle", bundle, low=0, high=10, open_low=True, unit="mm")
    outlook = _outlook(instance("cut", cut, Cut, "a Cut"), layer)
    workers = integer("threads", threads, low=1, high=1024)
    before = [_groove(c, max(outlook, _STOCK)) for c in cut.earlier_passes()]
    tasks = _blocks(_groove(cut, outlook), lambda start, stop: ([], before), pitch, layer, outlook, block)
    yield from _in_order(tasks, workers)


@overload
def carving_blocks(
    carving: Carving, *, pitch: float, bundle: float, block: int = ..., threads: int = ...
) -> Iterator[tuple[int, LipStrikes]]: ...


@overload
def carving_blocks(
    carving: Carving,
    *,
    pitch: float,
    bundle: float,
    block: int = ...,
    threads: int = ...,
    each: Callable[[int, LipStrikes], T],
) -> Iterator[tuple[int, T]]: ...


def carving_blocks(
    carving: Carving,
    *,
    pitch: float,
    bundle: float,
    block: int = _BLOCK,
    threads: int = 1,
    each: Callable[[int, LipStrikes], Any] | None = None,
) -> Iterator[tuple[int, Any]]:
    """Yield (index of the cut from 0, its lip strikes) for a whole carving, in blocks of about `block` rows.

    A lip that any other cut removes does not exist. A later cut meets only what the earlier ones left: their nominal
    grooves, scallops neglected. Only stretches whose boxes overlap look at one another (`_near`).

    On several `threads` whole blocks are worked on side by side, a few ahead of the one that is yielded; the blocks,
    their order and every bit in them are those of one thread. `each(index of the cut, strikes)` is called on the
    block's own thread, and what it returns is yielded in the strikes' place.
    """
    layer = number("bundle", bundle, low=0, high=10, open_low=True, unit="mm")
    workers = integer("threads", threads, low=1, high=1024)
    yield from _in_order(_carving_tasks(carving, pitch, layer, block, each), workers)


def count_rows(carving: Carving, *, pitch: float) -> int:
    """Return how many rows `carving_blocks` will yield in all."""
    return sum(LipPlan(cut, pitch).rows for cut in carving)


def _in_order(tasks: Iterator[Callable[[], T]], threads: int) -> Iterator[T]:
    """Results of the tasks in their order, worked out on so many threads, a few ahead of the one that is taken."""
    if threads == 1:
        for task in tasks:
            yield task()
        return
    waiting: deque[Future[T]] = deque()
    with ThreadPoolExecutor(threads) as pool:
        try:
            for task in tasks:
                waiting.append(pool.submit(task))
                if len(waiting) > 2 * threads:
                    yield waiting.popleft().result()
            while waiting:
                yield waiting.popleft().result()
        finally:
            for rest in waiting:
                rest.cancel()


def _carving_tasks(
    carving: Carving, pitch: float, layer: float, block: int, each: Callable[[int, LipStrikes], Any] | None
) -> Iterator[Callable[[], tuple[int, Any]]]:
    """One task a block of the carving."""
    outlook = max(_outlook(c, layer) for c in carving)
    near = Neighbours(carving)

    @lru_cache(maxsize=_KEPT)
    def groove(j: int) -> _Groove:
        return _groove(carving.cuts[j], max(outlook, _STOCK))

    def numbered(i: int, strikes: Callable[[], LipStrikes]) -> tuple[int, Any]:
        return i, strikes() if each is None else each(i, strikes())

    for i, cut in enumerate(carving):
        passes = [_groove(c, max(outlook, _STOCK)) for c in cut.earlier_passes()]

        def beside(start: float, stop: float, i: int = i, passes: list[_Groove] = passes) -> _Beside:
            around = near.along(i, start, stop)
            return [groove(j) for j in around], [groove(j) for j in around if j < i] + passes

        for task in _blocks(groove(i), beside, pitch, layer, outlook, block):
            yield partial(numbered, i, task)


_Beside = tuple[list[_Groove], list[_Groove]]
"""Grooves that remove lips of a stretch, and those that leave it less wood."""


def _blocks(
    own: _Groove,
    beside: Callable[[float, float], _Beside],
    pitch: float,
    layer: float,
    outlook: float,
    block: int,
) -> Iterator[Callable[[], LipStrikes]]:
    """One task a block of the lips of one cut; `beside` gives the grooves that come near between two arc lengths."""
    plan = LipPlan(own.cut, pitch)
    for low in range(0, plan.cells, block):
        high = min(low + block, plan.cells)
        others, earlier = beside(*(own.cut.path.length * k / plan.cells for k in (low, high)))
        yield partial(_strikes, own, others, earlier, plan, (low, high), layer, outlook)


def _strikes(
    own: _Groove,
    others: Sequence[_Groove],
    earlier: Sequence[_Groove],
    plan: LipPlan,
    cells: tuple[int, int],
    layer: float,
    outlook: float,
) -> LipStrikes:
    """Strikes on the lips of some cells of one cut."""
    part = plan.lips(*cells)
    for groove in (own, *others):
        part = _survivors(groove, part, own=groove is own)
    surface = np.full((len(part), 2), np.inf)
    outward = np.radians(part.outward)
    if earlier:
        exists = part.exists.copy()
        for other in earlier:
            grooves.earlier_surface(
                other.motion,
                other.knots,
                other.radii,
                other.grid.frame,
                other.grid.first,
                other.grid.members,
                part.lip_xy.copy(),
                outward,
                max(outlook, _STOCK),
                exists,
                surface,
            )
        part = _without(part, exists)
    width = 64
    while True:
        chips, depths, speeds = (np.empty((len(part), 2, width)) for _ in range(3))
        counts = np.zeros((len(part), 2), dtype=np.int64)
        status = probes.lip_history(
            own.motion,
            own.job,
            own.knots,
            own.radii,
            own.grid.frame,
            own.grid.first,
            own.grid.members,
            part.lip_xy.copy(),
            outward,
            part.half_width.copy(),
            part.exists,
            surface,
            layer,
            own.biggest,
            chips,
            depths,
            speeds,
            counts,
            1,
        )
        if status != 2:
            break
        width = int(counts.max()) + 8
    if status == 1:
        raise ConvergenceError("a lip point is crossed too often to keep account of; raise the feed")
    used = max(int(counts.max(initial=0)), 1)
    return LipStrikes(
        part,
        layer,
        frozen(counts),
        frozen(chips[:, :, :used].copy()),
        frozen(depths[:, :, :used].copy()),
        frozen(speeds[:, :, :used].copy()),
        frozen(np.where(part.exists, np.minimum(surface, part.half_width[:, None]), np.nan)),
    )
