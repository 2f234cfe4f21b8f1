"""Chips: what every tooth finds in its way (`tooth_passes`) and what it leaves at the lips (`lip_strikes`).

Fronts of the compiled kernels: check, call, dress, return. All of it is exact geometry of the teeth's paths in the
work: no sine law, every earlier tooth, eccentric runout, ramps, corners, starts.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import Future, ThreadPoolExecutor
from dataclasses import dataclass, replace
from functools import lru_cache, partial
from typing import Any, TypeVar, overload

import numpy as np
from numpy.typing import ArrayLike

from . import _kernels
from ._arrays import FloatArray, array, frozen, instance, integer, number
from ._near import Neighbours, cut_box
from .cuts import Carving, Cut, as_carving
from .cutters import heel_rub_radius
from .errors import ConvergenceError, DomainError
from .grain import Board, fibre_angle
from .lips import LipPlan, Lips, bent_at_knees

__all__ = [
    "LipStrikes",
    "ToothPasses",
    "carving_blocks",
    "count_rows",
    "groove_volume",
    "lip_strikes",
    "strike_blocks",
    "tooth_passes",
]

T = TypeVar("T")

_REMOVED = 1e-9
"""A lip point is gone when another part of the groove reaches more than this beyond it. [mm]"""

_BLOCK = 2048
"""Rows worked on at a time: few enough for the processor's own memory, enough to make the calls' cost small."""

_KEPT = 512
"""Grooves kept ready for their neighbours; another one is made again when it is met again."""

_STOCK = 1.5
"""How far inwards from a lip earlier grooves are looked for. [mm]"""


def _job(cut: Cut) -> tuple[float, float, float, float, float, float]:
    bit = cut.bit
    return (
        -1.0 if cut.spin == "cw" else 1.0,
        cut.spindle_speed * 2 * np.pi / 60,
        float(bit.flutes),
        float(bit.runout),
        float(np.radians(bit.runout_azimuth)),
        float(np.radians(cut.phase)),
    )


_Prior = tuple[
    FloatArray, np.ndarray, FloatArray, FloatArray, np.ndarray, FloatArray, FloatArray, np.ndarray
]  # motions, first rows, heights, radii, first knots, jobs, room for time windows, first windows


def _prior(cut: Cut, before: Sequence[Cut]) -> _Prior:
    """Motions whose teeth a cut meets, stacked for the kernels: cuts before it that come near, and its own passes."""
    low, high = cut_box(cut)
    boxes = [cut_box(c) for c in before]
    met = [c for c, (a, b) in zip(before, boxes, strict=True) if (a <= high).all() and (low <= b).all()]
    met += cut.earlier_passes()
    outlines = [c.knots for c in met]
    return (
        np.concatenate([np.empty((0, 14)), *(c.motion for c in met)]),
        np.cumsum([0, *(len(c.motion) for c in met)]),
        np.concatenate([np.empty(0), *(heights for heights, _ in outlines)]),
        np.concatenate([np.empty(0), *(radii for _, radii in outlines)]),
        np.cumsum([0, *(len(heights) for heights, _ in outlines)]),
        np.array([_job(c) for c in met]).reshape(-1, 6),
        np.empty((4096 if met else 0, 2)),
        np.zeros(len(met) + 1, dtype=np.int64),
    )


def _outline(cut: Cut) -> tuple[FloatArray, FloatArray]:
    # The kernels are compiled for writable arrays; the cut's own are read-only.
    heights, radii = cut.knots
    return heights.copy(), radii.copy()


@dataclass(frozen=True, eq=False)
class ToothPasses:
    """Every sweep of a flute past chosen rotation angles; arrays are read-only.

    Attributes
    ----------
    angles : (a,) rotation as seen along the path: 0 left lip, 90 straight ahead, 180 right lip, either spin. [deg]
    heights : (h,) above the tip. [mm]
    flute : (p,) number of the flute.
    time : (p, a) when the flute's nominal direction crosses the angle. [s]
    radial_thickness : (p, a, h) total length on the ray from the spindle axis through the edge that is not yet
        removed; 0 in air. [mm]
    chip_thickness : (p, a, h) the same along the flank's normal; the face does not cut it short. [mm]
    cutting_speed : (p, a, h) of the edge in the work. [m/s]
    fibre_angle : (p, a, h) or None without a board. [deg]
    axis_xy : (p, a, 2) tool axis at `time`. [mm]
    azimuth : (p, a) of the ray in the work, counter-clockwise from +x. [deg]
    edge_radius_about_axis : (p, h) radius of the flute's edge about the spindle axis, runout included. [mm]
    backward : (p, h) True where the edge's trochoid has no loop, r <= f / (2 pi): on the climb side it moves forward,
        pushed and not cut.
    heel_rubs : (p, h) True where the heel of the tooth touches somewhere in the slot.

    NaN: no crossing, or a height above the face.
    """

    angles: FloatArray
    heights: FloatArray
    flute: np.ndarray
    time: FloatArray
    radial_thickness: FloatArray
    chip_thickness: FloatArray
    cutting_speed: FloatArray
    fibre_angle: FloatArray | None
    axis_xy: FloatArray
    azimuth: FloatArray
    edge_radius_about_axis: FloatArray
    backward: np.ndarray
    heel_rubs: np.ndarray
    settings: str

    def __len__(self) -> int:
        return len(self.flute)

    def __repr__(self) -> str:
        return f"<ToothPasses {len(self)} passes x {len(self.angles)} angles x {len(self.heights)} heights>"


def tooth_passes(
    cut: Cut,
    *,
    start: float = 0.0,
    stop: float | None = None,
    times: tuple[float, float] | None = None,
    angles: ArrayLike,
    heights: ArrayLike,
    board: Board | None = None,
    before: Sequence[Cut] = (),
) -> ToothPasses:
    """Find every time a flute sweeps past, while the axis is between two arc lengths of the path.

    A row is one sweep of one flute, from straight behind round to straight behind; where the heading jumps back
    against the rotation (a corner) a new row opens, since the flute then meets some angles twice. Rows are in order
    of time. Thickness is measured on the ray from the spindle axis to the edge against everything that any earlier
    tooth has swept; a tooth's own last quarter turn does not count. The path is entered in uncut wood, but for what
    earlier passes and the cuts `before` have left.

    Parameters
    ----------
    cut
        The cut.
    start, stop
        Arc lengths; `stop` None is the end of the path. [mm]
    times
        Beginning and end of a time window instead of `start` and `stop`: the axis may stand while it plunges. [s]
    angles
        (a,) rotation angles, any; work azimuth = heading + 90 - angle. [deg]
    heights
        (h,) heights above the tip, >= 0. [mm]
    board
        Adds the fibre angle at every crossing.
    before
        Cuts that came before on the same board, with any bits; met as their own teeth left them, scallops and runout
        included. For cut i of a carving: ``carving.cuts[:i]``.

    Returns
    -------
    ToothPasses
        Arrays shaped (passes, angles, heights).

    Raises
    ------
    DomainError
        If an argument is out of range or the table would have more than 2e8 entries.

    Notes
    -----
    Normal thickness: h_n(h) = cos a h_r(h + h_n sin a), exact for a straight flank (derived for this project). In the
    tip zone, r < f_z (1 + z / pi) + 2 runout, where readings of thickness part, it is h_r cos a.
    With runout the edge at each height crosses at a time of its own; `time` is that of the nominal direction.
    """
    length = instance("cut", cut, Cut, "a Cut").path.length
    if board is not None:
        instance("board", board, Board, "a Board or None")
    if not isinstance(before, Sequence) or not all(isinstance(c, Cut) for c in before):
        raise DomainError(f"before must be a sequence of Cut, got {before!r:.80}")
    begin = number("start", start, low=0, high=length, unit="mm")
    end = length if stop is None else number("stop", stop, low=begin, high=length, unit="mm")
    at = np.atleast_1d(array("angles", angles, low=-1e6, high=1e6, unit="deg"))
    up = np.atleast_1d(array("heights", heights, low=0, high=300, unit="mm"))
    if at.ndim != 1 or up.ndim != 1 or not at.size or not up.size:
        raise DomainError(f"angles and heights must be one-dimensional and not empty, got {at.shape} and {up.shape}")
    motion, job, (knots, radii) = cut.motion.copy(), _job(cut), _outline(cut)
    t0, t1 = _time_at(motion, begin), _time_at(motion, end)
    if times is not None:
        if not isinstance(times, Sequence) or len(times) != 2 or start != 0.0 or stop is not None:
            raise DomainError(f"times must be a pair of times in place of start and stop, got {times!r:.80}")
        t0 = number("times", times[0], low=0, high=cut.duration, unit="s")
        t1 = number("times", times[1], low=t0, high=cut.duration, unit="s")
    turns = (t1 - t0) * job[1] / (2 * np.pi)
    size = (turns + 2) * cut.bit.flutes * at.size * up.size
    if size > 2e8:
        raise DomainError(f"stop must be nearer: the table may hold 2e8 entries, this one would have {size:.2g}")
    phi = at if cut.spin == "cw" else 180.0 - at
    phi = np.radians((phi + 90.0) % 360.0 - 90.0)
    rows = np.empty((16, 5))
    found = _kernels.sweep_rows(motion, job, t0, t1, rows)
    if found > len(rows):
        rows = np.empty((found, 5))
        _kernels.sweep_rows(motion, job, t0, t1, rows)
    rows = rows[:found]
    rows = rows[np.lexsort((rows[:, 1], rows[:, 4]))]
    shape = (len(rows), at.size, up.size)
    time, state = np.empty(shape[:2]), np.empty((*shape[:2], 6))
    radial, chip, speed = (np.empty(shape) for _ in range(3))
    biggest = float(cut.half_width(cut.path.depth.max())) + cut.bit.runout
    status = _kernels.tooth_pass_table(
        motion, job, knots, radii, _prior(cut, before), rows, phi, up, biggest, time, state, radial, chip, speed, 2
    )
    if status:
        raise ConvergenceError(
            f"too many {'near passes' if status == 1 else 'slivers'} to keep account of; report this"
        )
    keep = np.isfinite(time).any(axis=1)
    if not keep.all():
        rows, time, state, radial, chip, speed = (a[keep] for a in (rows, time, state, radial, chip, speed))
    # With runout a crossing can exist for the nominal direction and not for a height: one rule, both or none
    flute = rows[:, 0].astype(int)
    azimuth = np.degrees(state[..., 2]) + 90.0 - at
    azimuth = (azimuth + 180.0) % 360.0 - 180.0
    around = _radius_about_axis(cut, flute, up)
    swing, sink = (np.nanmax(state[..., c], axis=1) / job[1] if len(rows) else np.empty(0) for c in (4, 5))
    lean = np.degrees(np.arctan(cut.flank_slope(up)))
    nominal = np.interp(up, knots, radii)
    turn = 2 * np.pi
    rub = heel_rub_radius(cut.bit, lean, turn * swing[:, None], descent_per_rev=turn * np.maximum(sink, 0)[:, None])
    angle = None
    if board is not None:
        angle = _table_fibre_angle(cut, board, state, azimuth, around, lean, radial)
    return ToothPasses(
        angles=frozen(at),
        heights=frozen(up),
        flute=frozen(flute),
        time=frozen(time),
        radial_thickness=frozen(radial),
        chip_thickness=frozen(chip),
        cutting_speed=frozen(speed),
        fibre_angle=None if angle is None else frozen(angle),
        axis_xy=frozen(state[..., :2].copy()),
        azimuth=frozen(azimuth),
        edge_radius_about_axis=frozen(around),
        backward=frozen((nominal <= swing[:, None]) & (swing[:, None] > 0)),
        heel_rubs=frozen(nominal < rub),
        settings=cut.settings(),
    )


def _time_at(motion: FloatArray, station: float) -> float:
    """Time at which the axis first reaches an arc length; at the end of the path that of the whole motion. [s]"""
    if station <= 0.0:
        return 0.0
    if station >= motion[-1, _kernels.S0] + motion[-1, _kernels.DS]:
        return float(motion[-1, _kernels.T0] + motion[-1, _kernels.DT])
    k = int(np.searchsorted(motion[:, _kernels.S0], station, side="left")) - 1
    return float(motion[k, _kernels.T0] + _kernels.travel_time(motion, k, station - motion[k, _kernels.S0]))


def _radius_about_axis(cut: Cut, flute: np.ndarray, heights: FloatArray) -> FloatArray:
    """|r exp(2 pi i j / z) + rho exp(i lambda)|, (rows, heights). [mm]"""
    r = np.interp(heights, *cut.knots)
    lag = np.radians(cut.bit.runout_azimuth) - 2 * np.pi * flute / cut.bit.flutes
    return np.asarray(np.hypot(r + cut.bit.runout * np.cos(lag)[:, None], cut.bit.runout * np.sin(lag)[:, None]))


def _table_fibre_angle(
    cut: Cut,
    board: Board,
    state: FloatArray,
    azimuth: FloatArray,
    around: FloatArray,
    lean: FloatArray,
    seen: FloatArray,
) -> FloatArray:
    """Fibre angle at every crossing: edge velocity in the work against the flank's normal there. [deg]"""
    theta = np.radians(azimuth)[..., None]
    out = np.stack(np.broadcast_arrays(np.cos(theta), np.sin(theta)), axis=-1)
    sense = -1.0 if cut.spin == "cw" else 1.0
    omega = cut.spindle_speed * 2 * np.pi / 60
    swing = sense * omega * around[:, None, :]
    heading, speed, descent = state[..., 2, None], state[..., 4, None], state[..., 5, None]
    shape = np.broadcast_shapes(swing.shape, heading.shape, seen.shape)
    v = np.empty((*shape, 3))
    v[..., 0] = -swing * out[..., 1] + speed * np.cos(heading)
    v[..., 1] = swing * out[..., 0] + speed * np.sin(heading)
    v[..., 2] = np.broadcast_to(-descent, shape)
    a = np.radians(lean)
    n = np.empty((*shape, 3))
    n[..., 0], n[..., 1] = np.cos(a) * out[..., 0], np.cos(a) * out[..., 1]
    n[..., 2] = np.broadcast_to(-np.sin(a), shape)
    edge = state[..., None, :2] + around[:, None, :, None] * out
    known = np.isfinite(seen)
    result = np.full(shape, np.nan)
    if known.any():
        result[known] = fibre_angle(v[known], n[known], board.fibres(edge[known]))
    return result


@dataclass(frozen=True)
class _Grid:
    """Which pieces of a path come near which square of the face, in compressed rows of the squares that have any."""

    frame: tuple[float, float, float, float, float, np.ndarray]
    first: np.ndarray
    members: np.ndarray


def _grid(cut: Cut, reach: float) -> _Grid:
    """Square cells; a piece is a member of every cell of which some point may be within `reach` of it."""
    path = cut.path
    # the kernels number the stretches of the motion, which a machine's speed profile divides further than the path
    joints = np.append(cut.motion[:, _kernels.S0], path.length)
    size = max(reach, 0.25)
    # samples dense enough that no point of the path is farther than size / 4 from one
    parts = np.maximum(np.ceil(np.diff(joints) / (size / 2)).astype(int), 1)
    stop = np.cumsum(parts + 1)

    def samples() -> Iterator[tuple[np.ndarray, FloatArray]]:
        """Pieces and points, some thousands at a time: a long path must not take more memory than its index."""
        for begin in range(0, int(stop[-1]), 8192):
            k = np.arange(begin, min(begin + 8192, int(stop[-1])))
            piece = np.searchsorted(stop, k, side="right")
            fraction = (k - stop[piece] + parts[piece] + 1) / parts[piece]
            station = joints[piece] + fraction * (joints[piece + 1] - joints[piece])
            # at a joint `position` belongs to the piece ahead, which is the same point
            yield piece, path.position(np.clip(station, 0, path.length))

    spread = reach + size / 4
    corners = np.array([[xy.min(axis=0), xy.max(axis=0)] for _, xy in samples()])
    low = corners[:, 0].min(axis=0) - spread - size
    columns, rows = (np.ceil((corners[:, 1].max(axis=0) + spread + size - low) / size)).astype(int)
    if float(columns) * float(rows) * len(parts) > 9e18:
        raise DomainError("path spans too much for its groove's width; split it into parts")
    found = []
    for piece, xy in samples():
        lo = np.floor((xy - spread - low) / size).astype(int)
        hi = np.floor((xy + spread - low) / size).astype(int)
        span = int((hi - lo).max()) + 1
        i, j = np.meshgrid(np.arange(span), np.arange(span), indexing="ij")
        ci = lo[:, 0, None] + i.reshape(-1)
        cj = lo[:, 1, None] + j.reshape(-1)
        inside = (ci <= hi[:, 0, None]) & (cj <= hi[:, 1, None])
        found.append(
            np.unique((ci + columns * cj)[inside] * len(parts) + np.broadcast_to(piece[:, None], ci.shape)[inside])
        )
    pairs = np.unique(np.concatenate(found))
    cells, start = np.unique(pairs // len(parts), return_index=True)
    frame = (float(low[0]), float(low[1]), size, float(columns), float(rows), cells)
    return _Grid(frame, np.append(start, len(pairs)), pairs % len(parts))


def _biggest(cut: Cut) -> float:
    return float(cut.half_width(cut.path.depth.max())) + cut.bit.runout + 1e-6


def _survivors(groove: _Groove, lips: Lips, *, own: bool) -> Lips:
    """Lips with `exists` cleared where a groove, their own or another, earlier or later, cuts the lip away."""
    exists = lips.exists.copy()
    path = groove.cut.path
    _kernels.surviving_lips(
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
    grid: _Grid


def _outlook(cut: Cut, bundle: float) -> float:
    """How far inwards from a lip a strike can matter: the bundle and one turn's advance. [mm]"""
    return float(bundle + cut.motion[:, _kernels.V].max() * 60.0 / cut.spindle_speed + 2 * cut.bit.runout)


def _groove(cut: Cut, outlook: float) -> _Groove:
    # pieces on which the half-width runs straight: the search for what is cut away then has one least a piece
    cut = bent_at_knees(cut)
    biggest = _biggest(cut)
    reach = biggest + max(outlook, biggest)
    return _Groove(cut, cut.motion.copy(), _job(cut), *_outline(cut), biggest, _grid(cut, reach))


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


def groove_volume(cut: Cut | Carving, *, pitch: float = 0.05, slices: int = 16) -> float:
    """Volume of wood removed, grooves that cross counted once, scallops and runout neglected. [mm^3]

    Horizontal slices by Gauss-Legendre quadrature over the depth; the area of each follows from its own lips by the
    divergence theorem, A = 1/2 sum of (lip point . outward normal) lip length, over the lips that survive.

    Parameters
    ----------
    cut
        A cut or a carving; earlier passes lie within the last one and add nothing.
    pitch
        Spacing of the stations. [mm]
    slices
        Number of slices.
    """
    carving = as_carving(cut, "cut")
    count = integer("slices", slices, low=1, high=1000)
    deepest = max(float(c.path.depth.max()) for c in carving)
    nodes, weights = np.polynomial.legendre.leggauss(count)
    total = 0.0
    for z, weight in zip((nodes + 1) / 2 * deepest, weights / 2 * deepest, strict=True):
        level = [
            replace(c, path=c.path.raised(float(z)), passes=None, machine=None)
            for c in carving
            if c.path.depth.max() > z
        ]
        for _, strikes in carving_blocks(Carving(tuple(level)), pitch=pitch, bundle=_REMOVED):
            a = np.radians(strikes.lips.outward)
            reach = strikes.lip_xy[..., 0] * np.cos(a) + strikes.lip_xy[..., 1] * np.sin(a)
            total += weight * float(np.nansum(reach * strikes.lip_length)) / 2
    return total


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
            _kernels.earlier_surface(
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
        status = _kernels.lip_history(
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
