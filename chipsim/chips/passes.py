"""What every tooth finds in its way, sweep by sweep: front of the compiled kernels."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import ClassVar, NamedTuple

import numpy as np
from numpy.typing import ArrayLike

from .._shared.arrays import FloatArray, array, frozen, instance, number
from .._shared.tables import Columns, Result, rows_of
from ..errors import ConvergenceError, DomainError
from ..kernels import axis, outline, table
from ..scene.cuts import Cut
from ..scene.cutters import heel_rub_radius, lip_shear
from ..scene.grain import Board, fibre_angle
from ..units import length_text, table_text
from .edges import edges_of, spindle_of, widened
from .neighbours import cut_box

__all__ = ["PassRow", "ToothPasses", "tooth_passes"]


_Prior = tuple[
    FloatArray, np.ndarray, FloatArray, FloatArray, np.ndarray, FloatArray, FloatArray, np.ndarray
]  # motions, first rows, heights, radii, first knots, jobs, room for time windows, first windows


def _met(cut: Cut, before: Sequence[Cut]) -> list[Cut]:
    """Cuts whose teeth a cut meets: those before it that come near, and its own passes."""
    low, high = cut_box(cut)
    boxes = [cut_box(c) for c in before]
    met = [c for c, (a, b) in zip(before, boxes, strict=True) if (a <= high).all() and (low <= b).all()]
    return met + cut.earlier_passes()


def _prior(met: Sequence[Cut], tables: bool) -> _Prior:
    """The motions of cuts, stacked for the kernels; with tables in place of radii if one of all the bits needs one."""
    outlines, empty = [c.knots for c in met], np.empty(0)
    if tables:
        # a bit whose flutes are alike has zeros but for its radii: the kernels are compiled for two kinds of set-up
        most = max((c.bit.flutes for c in met), default=1)
        outlines = [widened(edges_of(c), most) for c in met]
        empty = np.empty((0, outlines[0][1].shape[1] if met else 1))
    return (
        np.concatenate([np.empty((0, 14)), *(c.motion for c in met)]),
        np.cumsum([0, *(len(c.motion) for c in met)]),
        np.concatenate([np.empty(0), *(heights for heights, _ in outlines)]),
        np.concatenate([empty, *(radii for _, radii in outlines)]),
        np.cumsum([0, *(len(heights) for heights, _ in outlines)]),
        np.array([spindle_of(c) for c in met]).reshape(-1, 6),
        np.empty((4096 if met else 0, 2)),
        np.zeros(len(met) + 1, dtype=np.int64),
    )


class PassRow(NamedTuple):
    """One sweep of `ToothPasses`, named, in units and without the first axis of the arrays there."""

    flute: int
    time: FloatArray
    edge_time: FloatArray
    radial_thickness: FloatArray
    chip_thickness: FloatArray
    cutting_speed: FloatArray
    fibre_angle: FloatArray | None
    axis_xy: FloatArray
    azimuth: FloatArray
    edge_radius_about_axis: FloatArray
    backward: np.ndarray
    heel_rubs: np.ndarray


@dataclass(frozen=True, eq=False)
class ToothPasses(Result):
    """Every sweep of a flute past chosen rotation angles; arrays are read-only.

    Print it for a summary. It iterates over its sweeps, as `PassRow`; its table has a line for each sweep, counted from
    1, angle and height.

    Attributes
    ----------
    angles : (a,) rotation as seen along the path: 0 left lip, 90 straight ahead, 180 right lip, either spin. [deg]
    heights : (h,) above the tip. [mm]
    flute : (p,) number of the flute.
    time : (p, a) when the flute's nominal direction crosses the angle. [s]
    edge_time : (p, a, h) when its edge at the height does: earlier or later with runout or shear. [s]
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
    edge_time: FloatArray
    radial_thickness: FloatArray
    chip_thickness: FloatArray
    cutting_speed: FloatArray
    fibre_angle: FloatArray | None
    axis_xy: FloatArray
    azimuth: FloatArray
    edge_radius_about_axis: FloatArray
    backward: np.ndarray
    heel_rubs: np.ndarray
    caption: str

    def __len__(self) -> int:
        return len(self.flute)

    def __iter__(self) -> Iterator[PassRow]:
        return rows_of(PassRow, self, PassRow._fields)

    _axes: ClassVar[tuple[str, ...]] = ("pass", "angle", "height")

    def _columns(self) -> Columns:
        shape = self.chip_thickness.shape
        columns = {
            "pass": np.arange(1, len(self) + 1)[:, None, None],
            "flute": self.flute[:, None, None],
            "angle [deg]": self.angles[:, None],
            "height [mm]": self.heights,
            "time [s]": self.time[..., None],
            "edge_time [s]": self.edge_time,
            "radial_thickness [mm]": self.radial_thickness,
            "chip_thickness [mm]": self.chip_thickness,
            "cutting_speed [m/s]": self.cutting_speed,
        }
        if self.fibre_angle is not None:
            columns["fibre_angle [deg]"] = self.fibre_angle
        return {heading: np.broadcast_to(values, shape) for heading, values in columns.items()}

    def __str__(self) -> str:
        rows = [("height", "thickest chip", "at angle", "fastest edge")]
        for k, height in enumerate(self.heights):
            chips, speeds = self.chip_thickness[..., k], self.cutting_speed[..., k]
            if not np.isfinite(chips).any():
                rows.append((length_text(float(height)), "none", "", ""))
                continue
            at = self.angles[np.unravel_index(np.nanargmax(chips), chips.shape)[1]]
            thickest = length_text(float(np.nanmax(chips)), 3)
            rows.append((length_text(float(height)), thickest, f"{at:.0f} deg", f"{np.nanmax(speeds):.1f} m/s"))
        when = self.time[np.isfinite(self.time)]
        span = f" from {when.min():.4f} to {when.max():.4f} s" if when.size else ""
        angles = "angle" if len(self.angles) == 1 else "angles"
        head = f"Tooth passes: {self.caption}\n{len(self)} sweeps of a tooth{span}, at {len(self.angles)} {angles}"
        return f"{head}\n{table_text(rows)}"

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
    With runout or shear the edge at each height crosses at a time of its own, `edge_time`; `time` is that of the
    nominal direction. A cell is NaN where a corner or an end of the path lies between the two. With shear the normal is
    still that of the flank: cos a h_n = R - q at the same instant, in the slice that the normal's end is in and
    along the edge's own azimuth (derived; the surface cut by a sheared edge leans by v lag' / omega from the cone).

    Examples
    --------
    >>> import chipsim as cs
    >>> cut = cs.Cut(cs.VBit(60, 12.7, 2), cs.line((0, 0), (20, 0), 2.5), 18_000, 1500)
    >>> passes = cs.tooth_passes(cut, start=10, stop=10.1, angles=[30, 90, 150], heights=[1.0, 2.0])
    >>> passes.radial_thickness.shape, f"{passes.radial_thickness[0, 1, 1]:.4f} mm straight ahead"
    ((3, 3, 2), '0.0417 mm straight ahead')
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
    motion, job, (knots, radii) = cut.motion.copy(), spindle_of(cut), edges_of(cut)
    met = _met(cut, before)
    tables = any(c.edges for c in (cut, *met))
    if tables:
        knots, radii = widened((knots, radii), cut.bit.flutes)
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
    found = table.sweep_rows(motion, job, t0, t1, rows)
    if found > len(rows):
        rows = np.empty((found, 5))
        table.sweep_rows(motion, job, t0, t1, rows)
    rows = rows[:found]
    rows = rows[np.lexsort((rows[:, 1], rows[:, 4]))]
    shape = (len(rows), at.size, up.size)
    time, state = np.empty(shape[:2]), np.empty((*shape[:2], 6))
    radial, chip, speed = (np.empty(shape) for _ in range(3))
    biggest = float(cut.half_width(cut.path.depth.max())) + cut.bit.runout
    status = table.tooth_pass_table(
        motion, job, knots, radii, _prior(met, tables), rows, phi, up, biggest, time, state, radial, chip, speed, 3
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
    edge_time = np.broadcast_to(time[..., None], (len(rows), at.size, up.size))
    around = np.broadcast_to(np.interp(up, *cut.knots), (len(rows), up.size))
    if cut.edges or cut.bit.runout > 0:
        rims = np.empty((cut.bit.flutes, up.size, 2))
        outline.rim_table(job, knots, radii, up, rims)
        around = rims[flute, :, 0]
        edge_time = np.empty((len(rows), at.size, up.size))
        table.edge_times(motion, job, knots, radii, rows, up, time, edge_time)
    swing, sink = (np.nanmax(state[..., c], axis=1) / job[1] if len(rows) else np.empty(0) for c in (4, 5))
    lean = np.degrees(np.arctan(cut.flank_slope(up)))
    nominal = np.interp(up, *cut.knots)
    turn = 2 * np.pi
    rub = heel_rub_radius(
        cut.bit,
        lean,
        turn * swing[:, None],
        descent_per_rev=turn * np.maximum(sink, 0)[:, None],
        shear=lip_shear(cut.bit, up)[flute] if cut.edges else 0.0,
    )
    angle = None
    if board is not None:
        angle = _table_fibre_angle(cut, board, state, azimuth, around, lean, radial)
    return ToothPasses(
        angles=frozen(at),
        heights=frozen(up),
        flute=frozen(flute),
        time=frozen(time),
        edge_time=frozen(edge_time.copy()),
        radial_thickness=frozen(radial),
        chip_thickness=frozen(chip),
        cutting_speed=frozen(speed),
        fibre_angle=None if angle is None else frozen(angle),
        axis_xy=frozen(state[..., :2].copy()),
        azimuth=frozen(azimuth),
        edge_radius_about_axis=frozen(around.copy()),
        backward=frozen((nominal <= swing[:, None]) & (swing[:, None] > 0)),
        heel_rubs=frozen(nominal < rub),
        caption=cut.caption(),
    )


def _time_at(motion: FloatArray, station: float) -> float:
    """Time at which the axis first reaches an arc length; at the end of the path that of the whole motion. [s]"""
    if station <= 0.0:
        return 0.0
    if station >= motion[-1, axis.S0] + motion[-1, axis.DS]:
        return float(motion[-1, axis.T0] + motion[-1, axis.DT])
    k = int(np.searchsorted(motion[:, axis.S0], station, side="left")) - 1
    return float(motion[k, axis.T0] + axis.travel_time(motion, k, station - motion[k, axis.S0]))


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
