"""Properties of cuts: what must hold between two runs of the library whatever the answer of either."""

from __future__ import annotations

import tempfile
from dataclasses import fields, replace
from pathlib import Path as FilePath
from typing import Any

import numpy as np

from .._shared.arrays import FloatArray
from ..chips.passes import tooth_passes
from ..chips.strikes import lip_strikes
from ..chips.volume import groove_volume
from ..damage.maps import CLASSES, RISKS, RiskMap
from ..reference import oracle
from ..reference.closed_forms import feed_mark
from ..scene.cuts import Carving, Cut
from ..scene.cutters import ProfileBit
from ..scene.grain import Board, straight_grain
from ..scene.paths import Path
from ..units import inch
from ._core import Draw, close, holds, property_of, some
from ._scene import (
    ANGLES,
    GRAZING,
    OTHER,
    ScaledBit,
    away_from_rounding,
    axis,
    coarse_map,
    coarse_pitch,
    feed_times,
    feeds_fit,
    goes_upright,
    mirrored,
    moved,
    off_kinks,
    on_a_line,
    own_crossing,
    plunge_feed_of,
    same_map,
    same_sweeps,
    scaled,
    slow,
    sweeps,
    turn_matrix,
)

# --- motion, mirror, axis ---------------------------------------------------------------------------------------------


@property_of("cut", examples=10)
def rigid_motion_leaves_every_chip(cut: Cut, draw: Draw) -> None:
    """Turn and shift the path and turn the phase with it: every chip stays, every axis point moves by that motion.

    Any cut. Times within 1e-11 s, thickness and points within 1e-6 mm (a ray that grazes feels rounding as its root).
    """
    turn, dx, dy = draw(some().turns, "turn"), draw(some().reals(-50, 50), "dx"), draw(some().reals(-50, 50), "dy")
    here = off_kinks(cut)
    there = replace(here, path=here.path.rotated(turn).shifted(dx, dy), phase=here.phase + turn)
    a, b = sweeps(here), sweeps(there)
    same_sweeps(a, b)
    close("axis_xy", b.axis_xy, a.axis_xy @ turn_matrix(turn) + [dx, dy], GRAZING, "mm")


@property_of("cut", examples=8)
def rigid_motion_leaves_the_map(cut: Cut, draw: Draw) -> None:
    """Turn and shift path and board together: every scalar of the map stays, every lip point moves by that motion.

    Any cut and grain. Scalars within 1e-8, points within 1e-6 mm.
    """
    board = draw(some().boards(), "board")
    turn, dx, dy = draw(some().turns, "turn"), draw(some().reals(-50, 50), "dx"), draw(some().reals(-50, 50), "dy")
    here = off_kinks(cut)
    there = replace(here, path=here.path.rotated(turn).shifted(dx, dy), phase=here.phase + turn)
    a = coarse_map(here, board)
    b = coarse_map(there, replace(board, grain=moved(board.grain, turn, dx, dy)))
    same_map(a, b)
    close("lip_xy", b.lip_xy, a.lip_xy @ turn_matrix(turn) + [dx, dy], GRAZING, "mm")


@property_of("cut", examples=6)
def the_fibre_is_an_axis(cut: Cut, draw: Draw) -> None:
    """A fibre has no head: azimuth + 180 with the opposite dive is the same fibre and gives the same map. 1e-9."""
    azimuth, dive = draw(some().azimuths, "azimuth"), draw(some().dives, "dive")
    one, two = straight_grain(azimuth, dive), straight_grain(azimuth + 180.0, -dive)
    here, wood = off_kinks(cut), some().CHERRY
    same_map(coarse_map(here, Board(wood, one)), coarse_map(here, Board(wood, two)), tolerance=1e-9)


@property_of("cut", examples=6)
def half_a_turn_is_the_opposite_dive(cut: Cut, draw: Draw) -> None:
    """Straight grain: the path turned by 180 deg under the opposite dive gives the same map, lip for lip. 1e-8."""
    azimuth, dive = draw(some().azimuths, "azimuth"), draw(some().dives, "dive")
    here, wood = off_kinks(cut), some().CHERRY
    about = replace(here, path=here.path.rotated(180), phase=here.phase + 180)
    a = coarse_map(here, Board(wood, straight_grain(azimuth, dive)))
    same_map(a, coarse_map(about, Board(wood, straight_grain(azimuth, -dive))))


@property_of("cut", examples=6)
def reversing_the_feed_swaps_entry_and_exit_only(cut: Cut, draw: Draw) -> None:
    """Travelled the other way each physical lip keeps place, length, fibre and edge angle; left stays the entry side.

    Kinematics, not risk: the strikes differ. Open paths; rows along the run. Lengths 1e-6 mm, axes 1e-7.
    """
    if cut.path.closed:
        return
    board = draw(some().boards(), "board")
    here = replace(cut, machine=None, passes=None)
    a, b = coarse_map(here, board), coarse_map(replace(here, path=here.path.reversed()), board)
    one, two = np.flatnonzero(a.kind == "run"), np.flatnonzero(b.kind == "run")[::-1]
    close("station", b.station[two], here.path.length - a.station[one], GRAZING, "mm")
    close("half_width", b.half_width[two], a.half_width[one], GRAZING, "mm")
    both = a.exists[one] & b.exists[two][:, ::-1]
    spared = ~both & (a.exists[one] | b.exists[two][:, ::-1])
    # of two lips that coincide the later one counts no more, and which is later has changed
    holds(spared.sum() <= 0.1 * max(both.size, 20), "lips that exist one way only", int(spared.sum()), "few")
    for name in ("lip_xy", "lip_length", "edge_angle"):
        old, new = getattr(a, name)[one][both], getattr(b, name)[two][:, ::-1][both]
        close(name, new, old, GRAZING if name != "edge_angle" else 1e-5)
    close("axis of fibre_angle", axis(b.fibre_angle[two][:, ::-1][both]), axis(a.fibre_angle[one][both]), 1e-7)
    holds(a.lip_kind("left") == b.lip_kind("left"), "kind of the left lip", b.lip_kind("left"), a.lip_kind("left"))


@property_of("cut", examples=10)
def mirror_with_spin_leaves_every_chip(cut: Cut) -> None:
    """Reflect the path and reverse the spindle: the chip at angle A is the image's at 180 - A. 1e-6 mm."""
    here = off_kinks(cut)
    image = replace(here, path=here.path.mirrored(), spin=OTHER[here.spin], phase=-here.phase)
    same_sweeps(sweeps(here), sweeps(image, angles=180 - ANGLES))


@property_of("cut", examples=6)
def mirror_with_spin_swaps_the_lips(cut: Cut, draw: Draw) -> None:
    """Reflect path and board and reverse the spindle: the map is the same, left and right swapped. 1e-8, 1e-6 mm."""
    board = draw(some().boards(), "board")
    here = off_kinks(cut)
    image = replace(here, path=here.path.mirrored(), spin=OTHER[here.spin], phase=-here.phase)
    a, b = coarse_map(here, board), coarse_map(image, replace(board, grain=mirrored(board.grain)))
    same_map(a, b, swap=True)
    close("lip_xy", b.lip_xy[:, ::-1], a.lip_xy * [1, -1], GRAZING, "mm")
    holds(
        a.lip_kind("left") == b.lip_kind("right"), "kind of the image's right lip", b.lip_kind("right"), "as the left"
    )


@property_of("cut", examples=6)
def mirror_alone_turns_with_into_against(cut: Cut, draw: Draw) -> None:
    """Reflect path and board, keep the spindle, flat grain: fibre angle -> 180 - fibre angle, edge angle stays.

    1e-8.
    """
    board = draw(some().boards(dive=False), "board")
    here = off_kinks(replace(cut, machine=None, passes=None))
    a = coarse_map(here, board)
    b = coarse_map(replace(here, path=here.path.mirrored()), replace(board, grain=mirrored(board.grain)))
    holds(a.exists == b.exists[:, ::-1], "lips that exist", b.exists.sum(), a.exists.sum())
    close("axis of fibre_angle", axis(b.fibre_angle[:, ::-1]), axis(180 - a.fibre_angle), 1e-8)
    close("edge_angle", b.edge_angle[:, ::-1], a.edge_angle, 1e-6, "deg")
    close("lip_length", b.lip_length[:, ::-1], a.lip_length, 1e-9, "mm")


@property_of("cut", examples=8)
def two_lips_of_a_line_agree_on_flat_grain(cut: Cut, draw: Draw) -> None:
    """Straight, level, flat grain: both lips meet the fibre alike, tan(theta) = +-tan(beta) cos(lean), + for 'cw'.

    With a dive what tells the lips apart is odd in it. The set-up is put on a straight level path. 1e-9.
    """
    azimuth, dive = draw(some().azimuths, "azimuth"), draw(some().dives, "dive")
    here = on_a_line(cut)

    def angles(down: float) -> np.ndarray[Any, Any]:
        found = coarse_map(here, Board(some().CHERRY, straight_grain(azimuth, down)))
        return np.asarray(found.fibre_angle[found.kind == "run"][0])

    flat, down, up = angles(0.0), angles(dive), angles(-dive)
    beta = np.radians(azimuth - float(here.path.heading(0.0)))
    lean = np.arctan(float(here.flank_slope(here.path.depth[:1])[0]))
    sense = 1.0 if here.spin == "cw" else -1.0
    expected = np.degrees(np.arctan2(sense * np.sin(beta) * np.cos(lean), np.cos(beta)))
    close("axis of the fibre angle of the left lip", axis(flat[0]), axis(expected), 1e-9)
    close("axis of the fibre angle of the right lip", axis(flat[1]), axis(expected), 1e-9)
    close("axis of the left lip's with a dive", axis(down[0]), axis(up[1]), 1e-9)
    close("axis of the right lip's with a dive", axis(down[1]), axis(up[0]), 1e-9)


# --- units, similarity ------------------------------------------------------------------------------------------------


@property_of("cut", examples=4)
def inches_in_are_millimetres_in(cut: Cut, draw: Draw) -> None:
    """Every length divided by 25.4 and multiplied by `inch` again: the same map. 1e-8; lengths come back to 1e-12."""
    board = draw(some().boards(), "board")
    here = off_kinks(cut)
    xy = here.path.xy / 25.4 * inch
    close("xy", xy, here.path.xy, 1e-12 * (1 + float(np.abs(here.path.xy).max())), "mm")
    path = Path(
        xy, here.path.depth / 25.4 * inch, sweep=here.path.sweep, closed=here.path.closed, dwell=here.path.dwell
    )
    there = replace(here, path=path, feed=feed_times(here, inch / 25.4))
    if there.path.depth.max() > here.path.depth.max() and here.bit.cutting_length is not None:
        return
    same_map(coarse_map(here, board), coarse_map(there, board))


@property_of("cut", examples=8)
def a_bigger_job_makes_bigger_chips(cut: Cut, draw: Draw) -> None:
    """All lengths times a factor: chips times the factor, at the same times. 1e-6 mm. Without machine and passes."""
    factor = draw(some().reals(0.5, 3), "factor")
    here = off_kinks(replace(cut, machine=None, passes=None))
    if not feeds_fit(here, factor):
        return
    same_sweeps(sweeps(here), sweeps(scaled(here, factor), factor=factor), length=factor)


@property_of("cut", examples=5)
def a_bigger_job_strikes_as_often(cut: Cut, draw: Draw) -> None:
    """All lengths and the layer looked at times a factor: as many strikes, chips, lips and speeds times the factor.

    1e-6 mm. Not round the start and not where the layer is all the groove: there counts hang on rounding.
    """
    factor = draw(some().reals(0.5, 3), "factor")
    here = off_kinks(replace(cut, machine=None, passes=None))
    if not feeds_fit(here, factor):
        return
    pitch = coarse_pitch(here)
    a = lip_strikes(here, pitch=pitch, bundle=0.2)
    b = lip_strikes(scaled(here, factor), pitch=pitch * factor, bundle=0.2 * factor)
    rows = away_from_rounding(a)
    close("strikes", b.counts[rows], a.counts[rows], 0)
    width = a.chips.shape[2]
    for name in ("chips", "depths", "cutting_speeds", "lip_length", "lip_xy"):
        old, new = getattr(a, name)[rows], getattr(b, name)[rows]
        if name in ("chips", "depths", "cutting_speeds"):
            new, old = new[..., :width], old[..., : new.shape[-1]]
        close(name, new, old * factor, GRAZING * max(1.0, factor))


@property_of("cut", examples=8)
def speed_and_feed_together_leave_every_chip(cut: Cut, draw: Draw) -> None:
    """Spindle speed and feed times one factor: the same chips, cutting speeds times it, times divided by it. 1e-6 mm.

    Kinematics without a machine; risk has a speed scale of its own.
    """
    factor = draw(some().reals(0.5, 3), "factor")
    here = off_kinks(replace(cut, machine=None))
    limit = here.bit.max_spindle_speed or 100_000
    if not (feeds_fit(here, factor) and 1000 <= here.spindle_speed * factor <= limit):
        return
    faster = replace(
        here,
        path=replace(here.path, dwell=here.path.dwell / factor),
        spindle_speed=here.spindle_speed * factor,
        feed=feed_times(here, factor),
        plunge_feed=plunge_feed_of(here) * factor,
    )
    a, b = sweeps(here), sweeps(faster)
    same_sweeps(a, b, time=1 / factor)
    close(
        "cutting_speed",
        b.cutting_speed,
        a.cutting_speed * factor,
        1e-9 * float(np.nanmax(b.cutting_speed, initial=1.0)),
    )


# --- chips ------------------------------------------------------------------------------------------------------------


@property_of("cut", examples=8)
def chips_lie_between_nothing_and_the_radius(cut: Cut) -> None:
    """0 <= radial and normal thickness; radial at most the edge's radius about the axis; known where the crossing is.

    Any cut. 1e-12 mm.
    """
    found = sweeps(off_kinks(cut))
    h, n = found.radial_thickness, found.chip_thickness
    known = np.isfinite(h)
    holds(np.isfinite(n) == known, "normal thickness", "missing where the radial one is known", "known together")
    holds(np.isfinite(found.cutting_speed) == known, "cutting_speed", "missing", "known where the thickness is")
    radius = np.broadcast_to(found.edge_radius_about_axis[:, None, :], h.shape)
    if known.any():
        holds(h[known].min() >= 0, "least radial thickness", h[known].min(), "0 mm or more")
        holds(n[known].min() >= 0, "least normal thickness", n[known].min(), "0 mm or more")
        over = float((h - radius)[known].max())
        holds(over <= 1e-12, "radial thickness beyond the edge's radius by", over, "0 mm or less", "1e-12 mm")


def _runs_true(cut: Cut) -> tuple[Cut, float, float]:
    """The set-up without runout on a line, with a feed that suits the radius at 0.83 of its depth; that radius."""
    here = off_kinks(on_a_line(cut, runout=False))
    up = 0.83 * float(here.path.depth[0])
    radius = float(np.interp(up, *here.knots))
    most = 0.05 * radius * here.bit.flutes * here.spindle_speed
    return replace(here, feed=min(here.largest_feed, most)) if most >= 100.0 else here, up, radius


@property_of("cut", examples=8)
def chips_follow_the_sine_to_second_order(cut: Cut) -> None:
    """Straight, level, no runout: |h - f_z sin(angle)| <= (1 + z / pi) f_z^2 / (2 r), the trochoid's second order.

    Feed a tooth at most 0.05 r, set-up put on a line; angles 20 to 160 deg, where the chip is thicker than that. 5 %.
    """
    here, up, radius = _runs_true(cut)
    step, z = here.feed_per_tooth, here.bit.flutes
    if step > 0.0501 * radius or np.ptp(_pitches(here, up)) > 1e-9 or _is_uneven(here):
        return
    at = np.array([20.0, 45.0, 70.0, 85.0, 95.0, 110.0, 135.0, 160.0])
    start = here.path.length - 1.6 * here.feed_per_rev
    found = tooth_passes(here, start=start, angles=at, heights=[up])
    h = found.radial_thickness[:, :, 0]
    known, sine = np.isfinite(h), np.broadcast_to(step * np.sin(np.radians(at)), h.shape)
    bound = (1 + z / np.pi) * step**2 / (2 * radius)
    miss = np.where(known, np.abs(h - sine), 0.0)
    k = np.unravel_index(int(np.argmax(miss)), miss.shape)
    holds(miss[k] <= 1.05 * bound, f"thickness at {at[k[1]]:g} deg", h[k], sine[k], f"{1.05 * bound:g} mm")


@property_of("cut", examples=8)
def teeth_of_a_turn_share_the_feed(cut: Cut) -> None:
    """Straight ahead on a level line the teeth of one turn take the feed of one turn between them, whatever the runout.

    The one that takes most has the feed a tooth at least; without runout all have. Height where r >= f_z + 2 e +
    2 runout. 1e-9 mm.
    """
    here = off_kinks(on_a_line(cut))
    z, per_turn = here.bit.flutes, here.feed_per_rev
    up = 0.93 * float(here.path.depth[0])
    if float(np.interp(up, *here.knots)) < per_turn / z + per_turn / np.pi + 2 * here.bit.runout:
        return
    start = 8 * per_turn
    found = tooth_passes(here, start=start, stop=start + 2.5 * per_turn, angles=[90.0], heights=[up])
    for k in range(z):
        turn = found.radial_thickness[k : k + z, 0, 0]
        close("sum of the chips of a turn", turn.sum(), per_turn, 1e-9, "mm")
        holds(turn.max() >= per_turn / z - 1e-9, "thickest chip of a turn", turn.max(), "the feed a tooth or more")
        if here.bit.runout == 0 and np.ptp(_pitches(here, up)) < 1e-9 and not _is_uneven(here):
            close("chips of a turn", turn, np.full(z, per_turn / z), 1e-9, "mm")


@property_of("cut", examples=5)
def chips_of_a_turn_fill_the_slot(cut: Cut) -> None:
    """Volume is conserved: in a slice the chips of one turn are as large as the slot that it adds.

    Straight, level, no runout, r > 2.5 feeds a turn: area = f (2 r - feed marks of both walls), the marks in closed
    form (`reference.feed_mark`). Integral over 1100 angles: within 2e-4 of the area.
    """
    here, up, radius = _runs_true(cut)
    per_turn, z = here.feed_per_rev, here.bit.flutes
    if radius < 2.5 * per_turn or radius < 0.05 or np.ptp(_pitches(here, up)) > 1e-9 or _is_uneven(here):
        return
    angles = -20 + 220 * (np.arange(1100) + 0.5) / 1100
    start = 6 * per_turn
    found = tooth_passes(here, start=start, stop=start + 3 * per_turn, angles=angles, heights=[up])
    whole = np.flatnonzero(np.isfinite(found.time).all(axis=1))
    first = [int(whole[found.flute[whole] == j][0]) for j in range(z)]
    h, e = found.radial_thickness[first, :, 0], per_turn / (2 * np.pi)
    phi = np.radians(angles if here.spin == "cw" else 180 - angles)
    # what lies beyond the old surface, [R - h, R], sweeps R h - h^2 / 2 by turning and e cos(phi) h by going along
    area = float((radius * h - h**2 / 2 + e * np.cos(phi) * h).sum() * np.radians(220) / 1100)
    marks = sum(feed_mark(radius, per_turn / z, z, wall).mean_depth for wall in ("conventional", "climb"))
    exact = per_turn * (2 * radius - marks)
    close("area of the chips of one turn", area, exact, 2e-4 * exact, "mm2")


@property_of("cut", examples=4)
def sheared_flutes_share_the_budget(cut: Cut, draw: Draw) -> None:
    """Volume is conserved whatever the shears: chips of one turn are the slot's advance less the marks of each pitch.

    Straight, level, no runout, the outline given shears of its own, r > 2.5 feeds a turn. A flute's pitch is the angle
    since the edge before it; marks in closed form for each. Integral over 1100 angles: within 2e-4 of the area.
    """
    here, up, radius = _runs_true(cut)
    per_turn, z = here.feed_per_rev, here.bit.flutes
    if radius < 2.5 * per_turn or radius < 0.05 or _is_uneven(here):
        return
    shears = [draw(some().reals(-25, 25), f"shear_{j}") for j in range(z)]
    heights, radii = here.knots
    if radii[-1] < 0.5 or here.edges is not None:
        return
    bit = ProfileBit(heights, radii, flutes=z, shear=tuple(shears))
    here = replace(here, bit=bit)
    pitches = _pitches(here, up)
    if pitches.min() < 0.3:
        return
    angles = -20 + 220 * (np.arange(1100) + 0.5) / 1100
    start = 6 * per_turn
    found = tooth_passes(here, start=start, stop=start + 3 * per_turn, angles=angles, heights=[up])
    whole = np.flatnonzero(np.isfinite(found.radial_thickness[..., 0]).all(axis=1))
    if not all((found.flute[whole] == j).any() for j in range(z)):
        return
    first = [int(whole[found.flute[whole] == j][0]) for j in range(z)]
    h, e = found.radial_thickness[first, :, 0], per_turn / (2 * np.pi)
    phi = np.radians(angles if here.spin == "cw" else 180 - angles)
    area = float((radius * h - h**2 / 2 + e * np.cos(phi) * h).sum() * np.radians(220) / 1100)
    lost = 0.0
    for pitch in pitches:
        step = e * float(pitch)
        # a cutter of so many flutes as would stand at this pitch has the same marks: of one of them
        lost += sum(_mark(radius, side * e, step) for side in (1, -1))
    exact = 2 * radius * per_turn - lost
    close("area of the chips of one turn", area, exact, 2e-4 * exact, "mm2")


@property_of("cut", examples=4)
def a_mirror_with_spin_keeps_the_shear(cut: Cut, draw: Draw) -> None:
    """Reflect a straight groove and reverse the spindle: sheared edges strike its lips alike, and lift them alike.

    The outline is given shears of its own. A shear is counted against the rotation, so that it stays and its hand
    flips: what was a right-hand spiral of a clockwise bit is a left-hand one. 1e-8 mm.
    """
    here = on_a_line(replace(off_kinks(cut), machine=None, passes=None), runout=False, turns=4.0)
    heights, radii = here.knots
    if here.edges is not None or radii[-1] < 0.5:
        return
    shears = tuple(draw(some().reals(-25, 25), f"shear_{j}") for j in range(here.bit.flutes))
    here = replace(here, bit=ProfileBit(heights, radii, flutes=here.bit.flutes, shear=shears))
    image = replace(here, path=here.path.mirrored(), spin=OTHER[here.spin], phase=-here.phase)
    one, other = (lip_strikes(job, pitch=coarse_pitch(job)) for job in (here, image))
    holds((one.counts == other.counts[:, ::-1]).all(), "strikes", other.counts[:, ::-1].tolist(), one.counts.tolist())
    close("wood left after each strike", other.depths[:, ::-1], one.depths, 1e-8, "mm")
    close("lift of each strike", other.lifts[:, ::-1], one.lifts, 1e-8)


@property_of("cut", examples=4)
def no_shear_is_the_straight_edge(cut: Cut, draw: Draw) -> None:
    """Edges given a shear of 0, or azimuths of 0, strike as straight ones do, to the last bit."""
    here = replace(off_kinks(cut), machine=None, passes=None)
    heights, radii = here.knots
    if here.edges is not None or radii[-1] < 0.5:
        return
    z = here.bit.flutes
    plain = ProfileBit(heights, radii, flutes=z)
    given = draw(some().st.sampled_from(["shear", "one a flute", "azimuths", "set_back"]), "given")
    kinds: dict[str, dict[str, Any]] = {
        "shear": {"shear": 0.0},
        "one a flute": {"shear": (0.0,) * z},
        "azimuths": {"azimuths": np.zeros((z, len(heights)))},
        "set_back": {"set_back": (0.0,) * z},
    }
    other = replace(plain, **kinds[given])
    pitch = coarse_pitch(here)
    one, two = (lip_strikes(replace(here, bit=bit), pitch=pitch) for bit in (plain, other))
    for name in ("counts", "chips", "depths", "times", "cutting_speeds", "lifts"):
        a, b = getattr(one, name), getattr(two, name)
        holds(a.tobytes() == b.tobytes(), f"{name} of {given} 0", b.tolist(), "those of the straight edge")


def _mark(radius: float, side: float, step: float) -> float:
    """Area that stands between two sweeps a step apart at a wall: side psi + r sin psi = step / 2. [mm2]"""
    low, high = 0.0, np.pi / 2
    for _ in range(80):
        psi = (low + high) / 2
        low, high = (psi, high) if side * psi + radius * np.sin(psi) < step / 2 else (low, psi)
    bow = np.sin(psi) - psi / 2 - np.sin(2 * psi) / 4
    return float(2 * (radius * side * (psi - np.sin(psi)) + radius**2 * bow))


def _pitches(cut: Cut, height: float) -> FloatArray:
    """Angles (flutes,) from the edge before each flute's to its own, at a height. [rad]"""
    z = cut.bit.flutes
    lags = np.zeros(z) if cut.edges is None else np.array([float(law(np.asarray(height))) for law in cut.edges.laws])
    if z == 1:
        return np.array([2 * np.pi])
    at = np.sort((2 * np.pi * np.arange(z) / z + lags) % (2 * np.pi))
    return np.asarray(np.diff(np.append(at, at[0] + 2 * np.pi)))


def _is_uneven(cut: Cut) -> bool:
    """Whether some flute reaches less far than another."""
    return cut.edges is not None and (any(cut.edges.set_back) or any(cut.edges.raised))


@property_of("cut", examples=3)
def groove_volume_is_the_section_swept(cut: Cut) -> None:
    """`groove_volume` of a straight level groove is section x length plus the two rounded ends; 2e-3 of it.

    Any outline: both are summed over the same sixteen heights.
    """
    here = on_a_line(cut, turns=2.0)
    depth, length = float(here.path.depth[0]), here.path.length
    nodes, weights = np.polynomial.legendre.leggauss(16)
    r = here.half_width(depth - (nodes + 1) / 2 * depth)
    exact = float(np.sum(weights / 2 * depth * (2 * r * length + np.pi * r**2)))
    pitch = max(float(here.half_width(np.array(depth))) / 15, 0.005)
    close("groove_volume", groove_volume(here, pitch=pitch), exact, 2e-3 * exact, "mm3")


@property_of("cut", examples=4)
def a_cut_twice_is_cut_once(cut: Cut) -> None:
    """A groove that is cut twice, or crossed by itself, counts once: the volume of a carving of it twice is its own.

    1 %.
    """
    here = replace(cut, machine=None, passes=None)
    pitch = max(0.1, here.path.length / 120)
    once, twice = (groove_volume(Carving((here,) * n), pitch=pitch, slices=4) for n in (1, 2))
    close("groove_volume of the same cut twice", twice, once, 0.01 * abs(once) + 1e-9, "mm3")


@property_of("cut", examples=5)
def earlier_passes_leave_the_groove(cut: Cut, draw: Draw) -> None:
    """Passes that end at the same depth make the same groove; the last one finds no thicker chips, and less stock.

    Lips' places and lengths to the last bit; chips no thicker by more than 1e-6 mm. The strikes of the last pass hang
    on the deepest pass before it only. Levels where the lip survives the earlier pass.
    """
    here = off_kinks(replace(cut, passes=None))
    deepest = float(here.path.depth.max())
    least = draw(some().reals(0.1, 0.4), "share_left") * deepest
    split, more = replace(here, passes=[least]), replace(here, passes=[least, 1.7 * least])
    a, b, c = (coarse_lips(job) for job in (here, split, more))
    holds(b.exists <= a.exists, "lips after an earlier pass", "more than without", "no more")
    at = b.exists
    for name in ("lip_xy", "lip_length"):
        close(name, getattr(b, name)[at], getattr(a, name)[at], 0.0, "mm")
    holds(
        (b.stock[at] <= a.stock[at] + 1e-9).all(),
        "stock after an earlier pass",
        b.stock[at].max(),
        "no more than without",
    )
    # the record holds the strikes of all passes
    last_of_two, last_of_three = b.strokes == len([*split.earlier_passes()]), c.strokes == len([*more.earlier_passes()])
    close("strikes after two earlier passes", last_of_three.sum(axis=-1), last_of_two.sum(axis=-1), 0)
    close("depths after two earlier passes", c.depths[last_of_three], b.depths[last_of_two], 1e-9, "mm")
    some_angles: dict[str, Any] = {"revolutions": 0.7, "angles": ANGLES[[2, 4]]}
    some_angles["heights"] = sweeps(here, **some_angles).heights[:1]
    one, two = sweeps(here, **some_angles), sweeps(split, **some_angles)
    with np.errstate(invalid="ignore"):
        over = float(np.nanmax(two.radial_thickness - one.radial_thickness, initial=0.0))
    holds(over <= GRAZING, "chip thicker than without the earlier pass by", over, "0 mm or less", f"{GRAZING:g} mm")


def coarse_lips(cut: Cut, bundle: float = 0.2) -> Any:
    """Lip strikes with stations far apart."""
    return lip_strikes(cut, pitch=coarse_pitch(cut), bundle=bundle)


@property_of("cut", examples=4)
def faster_feeds_strike_less_often(cut: Cut, draw: Draw) -> None:
    """Straight, level: strikes on the last layer, summed along a lip, do not rise with the feed.

    A duller edge rubs more.

    Feeds a tooth from a twentieth of the radius down by halves. Sums, for one lip point has the
    luck of its scallop; 5 %.
    """
    here, _, radius = _runs_true(cut)
    if radius < 0.5 or here.largest_feed / 4 < 100.0:
        return
    here = replace(here, path=on_a_line(here, turns=40.0).path)
    board, counts, rubs = draw(some().boards(), "board"), [], []
    for factor in (0.25, 0.5, 1.0):
        found = coarse_map(replace(here, feed=here.largest_feed * factor), board)
        run = (found.kind == "run") & found.exists.all(axis=1)
        counts.append(int(found.strikes[run].sum()))
        rubs.append(int(found.rubs[run].sum()))
        holds(found.rubs <= found.strikes, "rubs", found.rubs.max(), "no more than the strikes")
    holds(np.diff(counts) <= 0.05 * counts[0], "strikes at feeds 1 : 2 : 4", counts, "falling", "5 %")
    dull = ScaledBit(here.bit, 1.0)
    object.__setattr__(dull, "bit", _Duller(here.bit))
    again = coarse_map(replace(here, bit=dull, feed=here.largest_feed / 4), board)
    run = (again.kind == "run") & again.exists.all(axis=1)
    holds(again.rubs[run].sum() >= rubs[0], "rubs of a duller edge", int(again.rubs[run].sum()), f"{rubs[0]} or more")


class _Duller:
    """A bit with three times the edge radius."""

    def __init__(self, bit: Any) -> None:
        self._bit = bit

    def __getattr__(self, name: str) -> Any:
        if name.startswith("__") or name == "_bit":
            raise AttributeError(name)
        return min(3 * self._bit.edge_radius, 0.5) if name == "edge_radius" else getattr(self._bit, name)


# --- sampling, starting point, purity ---------------------------------------------------------------------------------


@property_of("cut", examples=8)
def more_vertices_leave_every_chip(cut: Cut, draw: Draw) -> None:
    """Vertices added along the pieces change no chip. 1e-6 mm. Without machine: its corners are another matter."""
    pitch = draw(some().reals(0.05, 1), "pitch")
    here = off_kinks(replace(cut, machine=None, passes=None))
    pitch = max(pitch, here.path.length / 200)
    same_sweeps(sweeps(here), sweeps(replace(here, path=here.path.refined(pitch))))


@property_of("cut", examples=5)
def more_vertices_leave_the_map(cut: Cut, draw: Draw) -> None:
    """Vertices added along the pieces change nothing on the map. 1e-7. Without machine."""
    pitch, board = draw(some().reals(0.1, 1), "pitch"), draw(some().boards(), "board")
    here = off_kinks(replace(cut, machine=None))
    pitch = max(pitch, here.path.length / 200)
    same_map(coarse_map(here, board), coarse_map(replace(here, path=here.path.refined(pitch)), board), tolerance=1e-7)


@property_of("cut", examples=6)
def two_stretches_make_the_whole(cut: Cut, draw: Draw) -> None:
    """Every crossing of a stretch is in its first or its second part, with the same chip.

    Each looks back far enough.
    """
    share = draw(some().reals(0.05, 0.95), "share")
    here = off_kinks(cut)
    stop = min(here.path.length, 2.3 * here.feed_per_rev)
    up = sweeps(here).heights
    parts = [sweeps(here, stop=share * stop, heights=up), sweeps(here, start=share * stop, stop=stop, heights=up)]

    def crossings(tables: list[Any]) -> np.ndarray[Any, Any]:
        rows = [
            np.column_stack([t.time[:, k], t.flute, np.full(len(t), k), t.radial_thickness[:, k]])
            for t in tables
            for k in range(len(ANGLES))
        ]
        table = np.concatenate(rows)
        table = table[np.isfinite(table[:, 0])]
        return np.asarray(table[np.lexsort((np.round(table[:, 0], 12), table[:, 2], table[:, 1]))])

    close("crossings of both parts", crossings(parts), crossings([sweeps(here, stop=stop, heights=up)]), GRAZING)


@property_of("cut", examples=5)
def a_loop_is_the_same_wherever_it_starts(cut: Cut, draw: Draw) -> None:
    """Closed paths: started at another vertex the lips are as long.

    1e-6 of them, plus a cell where lips are cut away.
    """
    path = cut.path
    if not path.closed:
        return
    k = draw(some().st.integers(1, len(path.xy) - 1), "vertex")
    here = replace(cut, machine=None, passes=None)
    around = Path(np.roll(path.xy, -k, axis=0), np.roll(path.depth, -k), sweep=np.roll(path.sweep, -k), closed=True)
    pitch = max(0.2, path.length / 80)
    a, b = (lip_strikes(replace(here, path=p), pitch=pitch) for p in (path, around))
    whole = all(s.exists[s.lips.kind == "run"].all() for s in (a, b))
    one, two = (s.lip_length.sum(axis=0) for s in (a, b))
    edges = (
        1
        + int(np.abs(np.diff(a.exists.astype(int), axis=0)).sum())
        + int(np.abs(np.diff(b.exists.astype(int), axis=0)).sum())
    )
    close("length of the lips", two, one, 1e-6 * path.length + (0 if whole else 2.5 * pitch * edges), "mm")


@property_of("cut", examples=4)
def the_same_question_has_the_same_answer(cut: Cut, draw: Draw) -> None:
    """Asked twice, table and map agree to the last bit; no argument is changed and no random state is touched."""
    board = draw(some().boards(), "board")
    state = np.random.get_state()[1].copy()  # type: ignore[index]  # noqa: NPY002
    before = [a.tobytes() for a in (cut.path.xy, cut.path.depth, cut.path.sweep, *cut.knots)]
    a, b = coarse_map(cut, board), coarse_map(cut, board)
    for name in ("fuzz", "tear", "scorch", "fibre_angle", "strikes", "lip_xy", "lip_length", "cutting_speed"):
        holds(
            getattr(a, name).tobytes() == getattr(b, name).tobytes(), f"{name}, asked twice", "another", "the same bits"
        )
    one, two = sweeps(cut, board=board), sweeps(cut, board=board)
    for name in ("time", "radial_thickness", "chip_thickness", "cutting_speed", "fibre_angle"):
        holds(
            getattr(one, name).tobytes() == getattr(two, name).tobytes(), f"{name}, asked twice", "another", "the same"
        )
    after = [a.tobytes() for a in (cut.path.xy, cut.path.depth, cut.path.sweep, *cut.knots)]
    holds(before == after, "path and outline", "changed", "left alone")
    same = (np.random.get_state()[1] == state).all()  # type: ignore[index]  # noqa: NPY002
    holds(same, "numpy's global random state", "changed", "left alone")


@property_of("cut", examples=4)
def one_number_is_an_array_of_one(cut: Cut, draw: Draw) -> None:
    """A scalar angle and height, an array of one, and single precision give one table; many at once give each.

    1e-12.
    """
    angle = draw(some().reals(-400, 400), "angle")
    here = off_kinks(cut)
    up = float(sweeps(here).heights[0])
    one, two = sweeps(here, angles=angle, heights=up), sweeps(here, angles=[angle], heights=np.array([up]))
    holds(
        one.radial_thickness.tobytes() == two.radial_thickness.tobytes(),
        "thickness of an array of one",
        "another",
        "the same",
    )
    many = sweeps(here, angles=[angle, *ANGLES], heights=[up, 0.5 * up])
    seen, alone = np.isfinite(many.time[:, 0]), np.isfinite(one.time[:, 0])
    close("time, one of many", many.time[seen, 0], one.time[alone, 0], 1e-12, "s")
    close("thickness, one of many", many.radial_thickness[seen, 0, 0], one.radial_thickness[alone, 0, 0], 1e-12, "mm")
    rough = np.float32(up)
    a, b = sweeps(here, heights=float(rough)), sweeps(here, heights=rough)
    holds(b.radial_thickness.dtype == np.float64, "dtype from single precision", b.radial_thickness.dtype, "float64")
    close("thickness from single precision", b.radial_thickness, a.radial_thickness, 0.0, "mm")


# --- lips and maps ----------------------------------------------------------------------------------------------------


@property_of("cut", examples=5)
def every_lip_has_been_struck(cut: Cut) -> None:
    """A lip that exists was finished by a strike, and no strike is kept where there is no lip; chips are positive.

    Any cut without earlier passes. No tolerance.
    """
    found = coarse_lips(off_kinks(replace(cut, passes=None)))
    holds(
        found.counts[found.exists] > 0,
        "strikes on lips that exist",
        int((found.counts[found.exists] == 0).sum()),
        "none struck by none",
    )
    holds(
        found.counts[~found.exists] == 0, "strikes where there is no lip", found.counts[~found.exists].max(initial=0), 0
    )
    known = np.isfinite(found.chips)
    holds(known.sum(axis=2) == found.counts, "chips that are known", known.sum(), found.counts.sum())
    holds(found.chips[known] > 0, "least chip", found.chips[known].min(initial=1.0), "above 0 mm")


@property_of("cut", examples=5)
def a_thicker_layer_only_adds_earlier_strikes(cut: Cut, draw: Draw) -> None:
    """The strikes on a thin layer are the last ones on a thicker layer at the same lip, chip for chip. 1e-9 mm."""
    small, more = draw(some().reals(0.02, 0.2), "thin"), draw(some().reals(0.02, 0.8), "more")
    here = off_kinks(cut)
    thin, thick = coarse_lips(here, small), coarse_lips(here, small + more)
    for row, side in np.argwhere(thin.exists & (thin.lips.kind != "start")[:, None]):
        n, m = int(thin.counts[row, side]), int(thick.counts[row, side])
        holds(n <= m, "strikes on the thicker layer", m, f"{n} or more")
        close("chips", thick.chips[row, side, m - n : m], thin.chips[row, side, :n], 1e-9, "mm")


@property_of("cut", examples=5)
def lips_lie_at_the_edge_of_the_groove(cut: Cut) -> None:
    """A lip point is half a width from its axis point, the half-width is the outline's radius at the depth. 1e-9 mm."""
    found = coarse_lips(cut)
    apart = np.hypot(*np.moveaxis(found.lip_xy - found.xy[:, None, :], -1, 0))
    at = found.exists
    width = np.broadcast_to(found.lips.half_width[:, None], at.shape)
    close("distance of the lips from the axis", apart[at], width[at], 1e-9, "mm")
    run = found.lips.kind == "run"
    outline = np.interp(found.lips.depth[run], *cut.knots)
    outline[found.lips.depth[run] <= 1e-12] = 0.0
    close("half_width", found.lips.half_width[run], outline, 1e-9, "mm")


@property_of("cut", examples=5)
def every_lip_is_in_one_class(cut: Cut, draw: Draw) -> None:
    """Lengths of lip by class sum to all lip there is, for every risk; risks lie in [0, 1]; damage covers each.

    1e-9.
    """
    found = coarse_map(cut, draw(some().boards(), "board"))
    total = float(found.lip_length.sum())
    for risk in (*RISKS, "damage"):
        lengths = found.lengths_by_class(risk)
        holds(list(lengths) == [*CLASSES, "not known"], "classes", list(lengths), [*CLASSES, "not known"])
        close(f"lengths by class of {risk}", sum(lengths.values()), total, 1e-9 * (1 + total), "mm")
        value = found.values(risk)[found.exists]
        known = value[np.isfinite(value)]
        holds((known >= 0) & (known <= 1), risk, (known.min(initial=0), known.max(initial=0)), "in [0, 1]")
    each = np.stack([np.nan_to_num(found.values(r)) for r in RISKS]).max(axis=0)
    holds((found.damage >= each - 1e-12)[found.exists], "damage", "below one of its risks", "no less than any")


@property_of("cut", examples=3)
def a_saved_map_loads_as_it_was(cut: Cut, draw: Draw) -> None:
    """`RiskMap.save` and `load` give every array and setting back to the last bit; saved again, the same arrays."""
    found = coarse_map(cut, draw(some().boards(), "board"))
    with tempfile.TemporaryDirectory() as folder:
        file = FilePath(folder) / "map.npz"
        found.save(file)
        again = RiskMap.load(file)
        found.to_csv(FilePath(folder) / "map.csv")
        rows = (FilePath(folder) / "map.csv").read_text(encoding="utf-8").count("\n")
    same_bits(found, again)
    holds(rows == 2 * len(found) + 1, "lines of the table", rows, 2 * len(found) + 1)


def same_bits(a: RiskMap, b: RiskMap) -> None:
    """Raise `Miss` unless two maps are the same to the last bit and print the same report."""
    for name in (f.name for f in fields(RiskMap)):
        if name not in ("setup", "band"):  # the report tells the band
            same = getattr(a, name).tobytes() == getattr(b, name).tobytes()
            holds(same, f"{name} after loading", "another", "the same bits")
    holds(str(a) == str(b), "report after loading", str(b), str(a))


# --- the oracle -------------------------------------------------------------------------------------------------------


@property_of("cut", examples=4)
def kernels_agree_with_the_oracle(cut: Cut, draw: Draw) -> None:
    """Radial thickness against brute force, which never met the kernels: dense sampling and bisection. 1e-6 mm.

    Two crossings a case, anywhere in the first turns; without earlier passes, plunges and dwells, which this oracle
    does not know, and of bits whose flutes reach equally far.
    """
    here = off_kinks(replace(cut, passes=None))
    if goes_upright(here.path) or _is_uneven(here):
        return
    found = sweeps(here)
    known = np.argwhere(np.isfinite(found.radial_thickness))
    if not len(known):
        return
    picks = draw(some().st.lists(some().st.integers(0, len(known) - 1), min_size=2, max_size=2), "picks")
    job = slow(here)
    for p, a, h in known[picks]:
        up, flute = float(found.heights[h]), int(found.flute[p])
        t, azimuth = own_crossing(here, float(found.edge_time[p, a, h]), float(found.angles[a]), up, flute)
        if not 0 <= t <= here.duration:
            continue
        exact = oracle.uncut_length(t, azimuth, up, flute, **job)
        what = f"thickness of sweep {p} at {found.angles[a]:g} deg, {up:g} mm up"
        close(what, found.radial_thickness[p, a, h], exact, GRAZING, "mm")


@property_of("cut", examples=3)
def lips_agree_with_the_oracle(cut: Cut, draw: Draw) -> None:
    """The strikes on a lip against brute force: as many, with as much wood left after each. 1e-7 mm.

    Two lips a case; without plunges and dwells, and of bits whose flutes reach equally far.
    """
    here = off_kinks(replace(cut, passes=None))
    if goes_upright(here.path) or _is_uneven(here):
        return
    found = coarse_lips(here)
    rows = np.argwhere(found.exists & away_from_rounding(found)[:, None])
    if not len(rows):
        return
    picks = draw(some().st.lists(some().st.integers(0, len(rows) - 1), min_size=2, max_size=2), "picks")
    job = slow(here)
    for i, side in rows[picks]:
        half = float(found.lips.half_width[i])
        seen = oracle.lip_strikes_slow(
            (float(found.lip_xy[i, side, 0]), float(found.lip_xy[i, side, 1])),
            float(found.lips.outward[i, side]) + 180.0,
            stop=here.duration,
            # farther out lie other grooves, which cut the land from behind and not this lip
            low=-0.05 - here.bit.runout,
            high=half,
            **job,
        )
        left = np.asarray(seen.depth)[np.argsort(seen.time, kind="stable")]
        surface, depths = half, []
        for y in left:
            if y < surface - 1e-9:
                if y < left.min() + found.bundle:
                    depths.append(float(y))
                surface = y
        count = int(found.counts[i, side])
        what = f"{'left' if side == 0 else 'right'} lip at station {found.station[i]:g}"
        holds(count == len(depths), f"strikes on the {what}", count, len(depths))
        close(f"wood left on the {what}", found.depths[i, side, :count], depths, 1e-7, "mm")
