"""What every lip has seen: the strikes on its last bundle of wood, of whichever stroke.

A stroke is one run of a tool along a path: an earlier pass of a cut, or its last one. What makes a lip is everything
that ever struck the wood at it, so the strokes are followed one after the other in order of time, each with its own bit
and phase, and the surface of the wood on a lip's probe is carried on from stroke to stroke: a strike cuts if it reaches
beyond all that came before it. A stroke that comes no nearer to the lip than that changes nothing.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from typing import Any, NamedTuple

import numpy as np

from .._shared.arrays import FloatArray, frozen, instance, integer
from .._shared.running import in_order
from .._shared.tables import Columns, Result, rows_of
from ..errors import ConvergenceError, DomainError
from ..kernels import probes
from ..scene.cuts import Carving, Cut, as_carving
from ..units import length_text, table_text
from .blocks import BLOCK, LipBlock, LipPlans, Run, lip_blocks
from .lips import Lips
from .teeth import shear_at

__all__ = [
    "LipStrikes",
    "StrikeRow",
    "carving_blocks",
    "joined",
    "lip_strikes",
    "strike_blocks",
    "strikes_of",
]


_ROOM = (24, 8)
"""Strikes and passes of a lip for which there is room at first; doubled where one has more."""


class StrikeRow(NamedTuple):
    """One station of `LipStrikes`, named and in units as there; what is of either lip is (left, right)."""

    groove: int
    station: float
    xy: FloatArray
    lip_xy: FloatArray
    lip_length: FloatArray
    exists: np.ndarray
    counts: np.ndarray
    chips: FloatArray
    depths: FloatArray
    cutting_speeds: FloatArray
    stock: FloatArray


@dataclass(frozen=True, eq=False)
class LipStrikes(Result):
    """Strikes on the last wood at every lip point; axis 1 is (left, right), axis 2 strikes or passes in order of time.

    A stroke is a run of a tool along a path: an earlier pass of a cut, or its last. Strokes are numbered from 0 in
    order of time, those of all cuts of a carving: a cut's earlier passes, shallowest first, then its last. A stroke
    that took wood from the probe is a pass of the lip, whether or not it has strikes on the last wood.

    Print it for a summary. It iterates over its stations, as `StrikeRow`; its table has a line for each strike, grooves
    and strikes counted from 1 as in every report.

    Attributes
    ----------
    lips : Lips, where the lip points are (also reachable here: station, xy, lip_xy, lip_length, exists).
    bundle : thickness of the layer at the finished lip whose strikes are kept. [mm]
    groove : (n,) number of the cut whose lip it is, in the carving, from 0.
    made_by : (n,) number of the stroke whose groove's edge the lip is: that cut's last.
    counts : (n, 2) number of strikes, of all strokes.
    chips : (n, 2, k) wood each takes along the probe, NaN beyond the count; a first strike in uncut wood reaches from
        the tool's axis. [mm]
    depths : (n, 2, k) wood left between the strike and the nominal lip; below 0 where runout cuts beyond it. [mm]
    cutting_speeds : (n, 2, k) speed of the edge in the work at the strike. [m/s]
    stock : (n, 2) wood on the probe that the last pass of the lip's own cut finds: up to what the strokes before it
        have left, or to its own axis. [mm]
    times : (n, 2, k) when it strikes, on the clock of `Carving.strokes`. [s]
    strokes : (n, 2, k) number of the stroke, -1 beyond the count.
    feeds : (n, 2, k) way of the axis in the face from one tooth to the next, at the speed of that moment. [mm]
    lifts : (n, 2, k) what the tooth's shear adds to the share of its face's push that lifts the fibres out of the face,
        see `lip_push`: below 0 it presses them down, without shear it is 0. [-]
    pass_counts : (n, 2) number of passes.
    pass_strokes : (n, 2, p) number of the stroke, -1 beyond the count.
    pass_before : (n, 2, p) wood on the probe before it: the half-width where it was uncut. [mm]
    pass_left : (n, 2, p) what it leaves. [mm]
    pass_feeds : (n, 2, p) feed per tooth in the face as it made what it left. [mm]
    pass_widths : (n, 2, p) half-width of its groove there. [mm]
    """

    lips: Lips
    bundle: float
    counts: np.ndarray
    chips: FloatArray
    depths: FloatArray
    cutting_speeds: FloatArray
    stock: FloatArray
    groove: np.ndarray
    made_by: np.ndarray
    times: FloatArray
    strokes: np.ndarray
    feeds: FloatArray
    lifts: FloatArray
    pass_counts: np.ndarray
    pass_strokes: np.ndarray
    pass_before: FloatArray
    pass_left: FloatArray
    pass_feeds: FloatArray
    pass_widths: FloatArray

    def __len__(self) -> int:
        return len(self.lips)

    def __iter__(self) -> Iterator[StrikeRow]:
        return rows_of(StrikeRow, self, StrikeRow._fields)

    def __repr__(self) -> str:
        return f"<LipStrikes {len(self)} rows, {int(self.counts.sum())} strikes on the last {self.bundle:g} mm>"

    def _columns(self) -> Columns:
        row, side, place = np.nonzero(np.arange(self.chips.shape[2]) < self.counts[..., None])
        lip = self.lip_xy[row, side]
        return {
            "groove": self.groove[row] + 1,
            "station [mm]": self.station[row],
            "side": np.array(["left", "right"])[side],
            "lip_x [mm]": lip[:, 0],
            "lip_y [mm]": lip[:, 1],
            "strike": place + 1,
            "chip [mm]": self.chips[row, side, place],
            "depth [mm]": self.depths[row, side, place],
            "cutting_speed [m/s]": self.cutting_speeds[row, side, place],
        }

    def __str__(self) -> str:
        length = np.where(self.exists, self.lip_length, 0.0)
        rows: list[tuple[str, ...]] = [("lip", "length", "strikes, mean", "fewest", "most", "thickest chip")]
        for k, side in enumerate(("left", "right")):
            there, total = self.exists[:, k], float(length[:, k].sum())
            if not there.any():
                rows.append((side, "none", *[""] * 4))
                continue
            counts = self.counts[there, k]
            mean = float(self.counts[:, k] @ length[:, k] / total) if total > 0 else float(counts.mean())
            chips = self.chips[there, k][np.arange(self.chips.shape[2]) < counts[:, None]]
            thickest = length_text(float(chips.max()), 3) if chips.size else "no strike"
            rows.append((side, length_text(total, 1), f"{mean:.2f}", str(counts.min()), str(counts.max()), thickest))
        grooves = len(np.unique(self.groove))
        return (
            f"Strikes on the last {length_text(self.bundle)} of wood, {len(self)} stations in {grooves} "
            f"groove{'s' if grooves != 1 else ''}\n{table_text(rows)}"
        )

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

    def part(self, rows: np.ndarray) -> LipStrikes:
        """Return some rows, by their numbers or by a mask (n,); every array is a copy."""
        lips = Lips(**{name: getattr(self.lips, name)[rows] for name in Lips.__dataclass_fields__})
        return LipStrikes(lips, self.bundle, **{name: getattr(self, name)[rows].copy() for name in _ARRAYS})

    def thinner(self, bundle: float) -> LipStrikes:
        """Strikes on a thinner layer: those that reach within `bundle` of the finished lip, the last ones. [mm]

        Raises
        ------
        DomainError
            If the layer is thicker than the one kept.
        """
        if bundle == self.bundle:
            return self
        if bundle > self.bundle:
            raise DomainError(f"bundle must lie within the one recorded, (0, {self.bundle:g}] mm, got {bundle:g}")
        shape = self.chips.shape
        place = np.arange(shape[2])
        depth = np.where(place < self.counts[..., None], self.depths, np.inf)
        counts = (depth < depth.min(axis=-1, keepdims=True) + bundle).sum(axis=-1)
        take = np.minimum((self.counts - counts)[..., None] + place, shape[2] - 1)
        gone = place >= counts[..., None]
        change: dict[str, Any] = {}
        for name in ("chips", "depths", "cutting_speeds", "times", "strokes", "feeds", "lifts"):
            moved = np.take_along_axis(getattr(self, name), take, axis=2)
            moved[gone] = -1 if name == "strokes" else np.nan
            change[name] = moved
        return replace(self, bundle=bundle, counts=counts, **change)


_ARRAYS = tuple(name for name in LipStrikes.__dataclass_fields__ if name not in ("lips", "bundle"))


def joined(blocks: Sequence[LipStrikes]) -> LipStrikes:
    """Blocks as one, rows below rows, the shorter lists filled up."""
    if len(blocks) == 1:
        return blocks[0]
    rows = np.concatenate([[0], np.cumsum([len(block) for block in blocks])])

    def join(name: str) -> np.ndarray:
        parts = [getattr(block, name) for block in blocks]
        if parts[0].ndim < 3:
            return np.concatenate(parts)
        shape = rows[-1], *parts[0].shape[1:-1], max(part.shape[-1] for part in parts)
        out = np.full(shape, -1 if parts[0].dtype.kind == "i" else np.nan, parts[0].dtype)
        for low, part in zip(rows, parts, strict=False):
            out[low : low + len(part), ..., : part.shape[-1]] = part
        return frozen(out)  # type: ignore[no-any-return]

    lips = Lips(**{f: np.concatenate([getattr(b.lips, f) for b in blocks]) for f in Lips.__dataclass_fields__})
    return LipStrikes(lips, blocks[0].bundle, **{name: join(name) for name in _ARRAYS})


def lip_strikes(carving: Carving | Cut, *, pitch: float = 0.25, bundle: float = 0.2, threads: int = 1) -> LipStrikes:
    """Gather, for each lip point, the strikes on the last `bundle` of wood, of every pass and every cut.

    A probe line lies in the face through the lip point, square to the lip, from the groove outwards. Each tooth edge
    crosses it somewhere; what is left uncut falls with the strikes, y1 > y2 > ..., and the differences are the chips.
    Only strikes that remove wood count; the layer is measured from the finished lip. All strokes are followed in order
    of time: a cut's earlier passes, and in a carving whatever other cuts did there before and after.

    In a carving a lip that another cut removes does not exist, and a later cut meets only what the earlier ones left.

    Parameters
    ----------
    carving
        A `Carving`, whose lips follow cut by cut, those that another cut removes as not existing; or a single `Cut`.
    pitch
        Spacing of the stations along the path. [mm]
    bundle
        Thickness of the layer, in (0, 10]. [mm]
    threads
        Of this process, 1 to 1024: blocks of rows worked on side by side; the result is the same to the last bit.

    Returns
    -------
    LipStrikes
        Of all cuts in their order, its rows those of `risk_map`.

    Raises
    ------
    DomainError
        If an argument is out of range.
    ConvergenceError
        If a lip point is crossed more than 20 000 times (a feed per tooth far below a micrometre).

    Examples
    --------
    >>> import chipsim as cs
    >>> cut = cs.Cut(cs.VBit(60, 12.7, 2), cs.ring(5, 1.5), 18_000, 1500)
    >>> strikes = cs.lip_strikes(cut, pitch=2.0)
    >>> strikes.counts.shape, int(strikes.counts.max())
    ((16, 2), 15)
    """
    found = carving_blocks(as_carving(carving), pitch=pitch, bundle=bundle, threads=threads)
    return joined([strikes for _, strikes in found])


def strike_blocks(
    cut: Cut, *, pitch: float, bundle: float, block: int = BLOCK, threads: int = 1
) -> Iterator[LipStrikes]:
    """Yield `lip_strikes` in blocks of about `block` rows, so that memory does not grow with the path's strikes."""
    carving = Carving((instance("cut", cut, Cut, "a Cut"),))
    for _, strikes in carving_blocks(carving, pitch=pitch, bundle=bundle, block=block, threads=threads):
        yield strikes


def carving_blocks(
    carving: Carving,
    *,
    pitch: float,
    bundle: float,
    block: int = BLOCK,
    threads: int = 1,
    plans: LipPlans | None = None,
) -> Iterator[tuple[int, LipStrikes]]:
    """Yield (index of the cut from 0, its lip strikes) for a whole carving, in blocks of about `block` rows.

    On several `threads` whole blocks are worked on side by side, a few ahead of the one that is yielded; the blocks,
    their order and every bit in them are those of one thread.
    """
    workers = integer("threads", threads, low=1, high=1024)
    blocks = lip_blocks(carving, pitch=pitch, bundle=bundle, block=block, plans=plans)
    yield from in_order(_numbered, blocks, workers)


def strikes_of(block: LipBlock) -> LipStrikes:
    """Gather the strikes of all strokes on the lips of a block."""
    runs = block.runs()
    return _history(block.lips(runs), runs, block.cut, block.made_by, block.layer)


def _numbered(block: LipBlock) -> tuple[int, LipStrikes]:
    return block.cut, strikes_of(block)


def _history(lips: Lips, runs: Sequence[Run], i: int, made_by: int, bundle: float) -> LipStrikes:
    """What strokes do, in order of time, to lips of cut `i` that one of them made."""
    shape = lips.exists.shape
    outward, half_width = np.radians(lips.outward), np.where(lips.exists, lips.half_width[:, None], np.nan)
    room, passes_room = _ROOM[0], min(_ROOM[1], len(runs))
    strikes, passes = np.empty((*shape, room, 6)), np.empty((*shape, passes_room, 5))
    counts, pass_counts = (np.zeros(shape, dtype=np.int64) for _ in range(2))
    surface, finished = half_width.copy(), np.full(shape, np.inf)
    lip_xy, stock = lips.lip_xy.copy(), half_width
    for k, start, groove in runs:
        if k == made_by:
            stock = surface.copy()
        place, status = np.zeros(1, dtype=np.int64), 2
        while status:
            status = probes.lip_history(
                groove.motion,
                groove.job,
                groove.edge_knots,
                groove.edges,
                groove.grid.frame,
                groove.grid.first,
                groove.grid.members,
                lip_xy,
                outward,
                lips.exists,
                k == made_by,
                bundle,
                groove.pieces,
                groove.most_drift,
                groove.farthest,
                k,
                start,
                surface,
                finished,
                counts,
                strikes,
                pass_counts,
                passes,
                place,
                1,
            )
            if status == 1:
                raise ConvergenceError("a lip point is crossed too often to keep account of; raise the feed")
            if status == 2:
                strikes = _longer(strikes)
            elif status == 3:
                passes = _longer(passes)
    kept = _columns(strikes, counts, probes.STROKE)
    listed = _columns(passes, pass_counts, probes.PASS_STROKE)
    return LipStrikes(
        lips=lips,
        bundle=bundle,
        groove=frozen(np.full(len(lips), i)),
        made_by=frozen(np.full(len(lips), made_by)),
        counts=frozen(counts),
        chips=kept[probes.CHIP],
        depths=kept[probes.DEPTH],
        cutting_speeds=kept[probes.SPEED],
        stock=frozen(stock),
        times=kept[probes.TIME],
        strokes=kept[probes.STROKE],
        feeds=kept[probes.FEED],
        lifts=frozen(_lifts(lips, runs, kept[probes.STROKE], kept[probes.TIME])),
        pass_counts=frozen(pass_counts),
        pass_strokes=listed[probes.PASS_STROKE],
        pass_before=listed[probes.BEFORE],
        pass_left=listed[probes.LEFT],
        pass_feeds=listed[probes.PASS_FEED],
        pass_widths=listed[probes.WIDTH],
    )


def _lifts(lips: Lips, runs: Sequence[Run], strokes: np.ndarray, times: FloatArray) -> FloatArray:
    """What shear adds to each push of a face out of the board, (n, 2, k): cos(rake) sin(shear) cos(lean)."""
    out = np.where(strokes < 0, np.nan, 0.0)
    for stroke, start, groove in runs:
        cut = groove.cut
        if cut.edges is None:
            continue
        row, side, place = np.nonzero(strokes == stroke)
        if not row.size:
            continue
        depth, shear = shear_at(cut, times[row, side, place] - start, lips.lip_xy[row, side], lips.outward[row, side])
        lean = np.arctan(cut.flank_slope(depth))
        out[row, side, place] = np.cos(np.radians(cut.bit.rake)) * np.sin(np.radians(shear)) * np.cos(lean)
    return out


def _longer(table: FloatArray) -> FloatArray:
    """The same lists with room for twice as much."""
    return np.concatenate([table, np.empty_like(table)], axis=2)


def _columns(table: FloatArray, counts: np.ndarray, numbers: int) -> list[np.ndarray]:
    """Columns of a table as arrays of their own, NaN beyond the counts; the one of stroke numbers whole, -1 there."""
    columns = np.empty((table.shape[-1], *table.shape[:2], max(int(counts.max(initial=0)), 1)))
    probes.unpacked(table, counts, columns)
    whole = np.nan_to_num(columns[numbers], nan=-1.0).astype(np.int64)
    return [frozen(whole if c == numbers else column) for c, column in enumerate(columns)]
