"""Properties of paths: the geometry itself, then every property of a cut that follows the path."""

from __future__ import annotations

import numpy as np

from .._shared.arrays import FloatArray
from ..scene.machine import speed_profile
from ..scene.paths import Path
from ..testing import _cut
from ._core import Draw, close, holds, lifted, property_of, some
from ._scene import turn_matrix


def _size(path: Path) -> float:
    """Largest coordinate, for tolerances that follow rounding. [mm]"""
    return 1.0 + float(np.abs(path.xy).max())


def _stations(path: Path, draw: Draw) -> FloatArray:
    return np.asarray(draw(some().stations(length=path.length), "stations"))


def _inside(path: Path, stations: FloatArray, margin: float) -> FloatArray:
    """Stations farther than a margin from every joint: there the path is smooth. [mm]"""
    apart = np.abs(stations[:, None] - path.joints[None, :]).min(axis=1)
    return np.asarray(stations[apart > margin])


@property_of("path")
def points_are_finite_and_no_farther_than_the_way(path: Path, draw: Draw) -> None:
    """Points, headings, curvatures and depths are finite; two points are never farther apart than the way between.

    1e-9.
    """
    s = _stations(path, draw)
    for name in ("position", "heading", "curvature", "depth_at"):
        holds(np.isfinite(getattr(path, name)(s)), name, getattr(path, name)(s).tolist(), "finite numbers")
    holds(path.depth_at(s) >= -1e-12, "depth", path.depth_at(s).min(), "0 mm or more", "1e-12 mm")
    step, way = np.hypot(*np.diff(path.position(s), axis=0).T), np.diff(s)
    k = int(np.argmax(step - way))
    holds(
        step[k] <= way[k] + 1e-9 * _size(path),
        f"distance of the points at {s[k]:.17g} and {s[k + 1]:.17g} mm",
        step[k],
        f"{way[k]:.17g} mm or less",
        f"{1e-9 * _size(path):g} mm",
    )


@property_of("path")
def heading_is_the_tangent(path: Path, draw: Draw) -> None:
    """The unit vector of the heading is the derivative of the position by the way. Off the joints, 1e-5."""
    step = 1e-5 * min(1.0, float(np.diff(path.joints).min()))
    s = _inside(path, _stations(path, draw), 2 * step)
    slope = (path.position(s + step) - path.position(s - step)) / (2 * step)
    a = np.radians(path.heading(s))
    close("derivative of the position", slope, np.stack([np.cos(a), np.sin(a)], axis=-1), 1e-5 * _size(path))


@property_of("path")
def curvature_is_the_turning(path: Path, draw: Draw) -> None:
    """The heading's derivative by the way is the curvature, left positive. Off the joints, 1e-4 of itself and 1e-6."""
    step = 1e-4 * min(1.0, float(np.diff(path.joints).min()))
    s = _inside(path, _stations(path, draw), 2 * step)
    if not s.size:
        return
    turn = (np.radians(path.heading(s + step) - path.heading(s - step)) + np.pi) % (2 * np.pi) - np.pi
    k = path.curvature(s)
    close("derivative of the heading", turn / (2 * step), k, 1e-6 / step * 1e-6 + 1e-4 * float(np.abs(k).max()), "1/mm")


@property_of("path", examples=8)
def length_is_the_sum_of_chords(path: Path) -> None:
    """Chords fall short of the length, and halving them leaves a quarter of the shortfall: second order. +-10 % of it.

    Where the shortfall is above rounding; chords start and end at the joints.
    """
    short = []
    for n in (32, 64):
        s = np.unique(
            np.concatenate([np.linspace(a, b, n + 1) for a, b in zip(path.joints[:-1], path.joints[1:], strict=True)])
        )
        short.append(path.length - float(np.hypot(*np.diff(path.position(s), axis=0).T).sum()))
    slack = 1e-9 * _size(path) * len(path.joints)
    holds(short[1] >= -slack, "length less the sum of chords", short[1], "0 mm or more", f"{slack:g} mm")
    if short[0] > 100 * slack:
        close("share of the shortfall left by chords half as long", short[1] / short[0], 0.25, 0.1)


@property_of("path")
def joints_are_the_vertices(path: Path) -> None:
    """Arc lengths rise from 0 to the length, and at each the path is at its vertex with the vertex's depth. 1e-9 mm.

    Where it goes straight down or up they stay, and the depth there is one of its ends.
    """
    s = path.joints
    moving = path.pieces[:, 4] > 0
    holds(
        s[0] == 0 and ((np.diff(s) > 0) == moving).all() and s[-1] == path.length,
        "joints",
        s.tolist(),
        "rising from 0 to the length",
    )
    order = np.arange(len(s)) % len(path.xy)
    close("position at the joints", path.position(s), path.xy[order], 1e-9 * _size(path), "mm")
    once = np.append(moving, True) & np.append(True, moving)
    close("depth at the joints", path.depth_at(s)[once], path.depth[order][once], 1e-9 * (1 + path.length), "mm")


@property_of("path")
def rigid_motion_moves_every_point(path: Path, draw: Draw) -> None:
    """`rotated` and `shifted` move points rigidly, add to the heading, and leave length, curvature and depth. 1e-9."""
    turn, dx, dy = draw(some().turns, "turn"), draw(some().reals(-50, 50), "dx"), draw(some().reals(-50, 50), "dy")
    s = _stations(path, draw)
    other = path.rotated(turn).shifted(dx, dy)
    slack = 1e-9 * (_size(path) + 50)
    close("length", other.length, path.length, slack, "mm")
    s2 = np.minimum(s, other.length)
    close("position", other.position(s2), path.position(s) @ turn_matrix(turn) + [dx, dy], slack, "mm")
    close("depth_at", other.depth_at(s2), path.depth_at(s), 1e-9 * (1 + path.length), "mm")
    at = _inside(path, s, 1e-6)
    close("curvature", other.curvature(at), path.curvature(at), 1e-7, "1/mm")
    apart = (other.heading(at) - path.heading(at) - turn + 180) % 360 - 180
    close("heading less the turn", apart, np.zeros_like(apart), 1e-6, "deg")


@property_of("path")
def the_mirror_image_turns_the_other_way(path: Path, draw: Draw) -> None:
    """`mirrored` reflects points in the x axis and changes the sign of heading and curvature; twice is nothing.

    1e-9.
    """
    s, other = _stations(path, draw), path.mirrored()
    s2 = np.minimum(s, other.length)
    close("position", other.position(s2), path.position(s) * [1, -1], 1e-9 * _size(path), "mm")
    at = _inside(path, s, 1e-6)
    close("curvature", other.curvature(at), -path.curvature(at), 1e-9, "1/mm")
    holds(other.mirrored() == path, "mirrored twice", other.mirrored(), path)


@property_of("path")
def reversing_twice_is_nothing(path: Path, draw: Draw) -> None:
    """`reversed` passes the same points and depths the other way; twice it is the path itself. 1e-9 mm."""
    s, other = _stations(path, draw), path.reversed()
    close("length", other.length, path.length, 1e-9 * _size(path), "mm")
    back = np.clip(other.length - s, 0, other.length)
    close("position", other.position(back), path.position(s), 1e-9 * (_size(path) + path.length), "mm")
    once = _inside(path, s, 1e-9) if (path.pieces[:, 4] == 0).any() else s  # on the spot a station has many depths
    away = np.clip(other.length - once, 0, other.length)
    close("depth_at", other.depth_at(away), path.depth_at(once), 1e-9 * (1 + path.length), "mm")
    holds(other.reversed() == path, "reversed twice", other.reversed(), path)


@property_of("path")
def a_bigger_path_is_similar(path: Path, draw: Draw) -> None:
    """`scaled` multiplies points, depths and length by the factor and divides the curvature by it. 1e-9."""
    factor, s = draw(some().reals(0.2, 5), "factor"), _stations(path, draw)
    other = path.scaled(factor)
    close("length", other.length, path.length * factor, 1e-9 * _size(path) * factor, "mm")
    s2 = np.minimum(s * factor, other.length)
    close("position", other.position(s2), path.position(s) * factor, 1e-8 * (_size(path) + path.length) * factor, "mm")
    at = _inside(path, s, 1e-6)
    close("curvature", other.curvature(at * factor), path.curvature(at) / factor, 1e-7 / factor, "1/mm")


@property_of("path", examples=10)
def more_vertices_leave_the_shape(path: Path, draw: Draw) -> None:
    """`refined` and `split` pass the same points at the same arc lengths; refined again at that pitch: nothing new.

    1e-8.
    """
    pitch = max(draw(some().reals(0.05, 2), "pitch"), path.length / 300)
    s, fine = _stations(path, draw), path.refined(pitch)
    holds(
        np.diff(fine.joints).max() <= pitch * (1 + 1e-9),
        "longest piece",
        np.diff(fine.joints).max(),
        f"{pitch:g} mm or less",
    )
    close("length", fine.length, path.length, 1e-8 * _size(path), "mm")
    s2 = np.minimum(s, fine.length)
    close("position", fine.position(s2), path.position(s), 1e-8 * (_size(path) + path.length), "mm")
    close("depth_at", fine.depth_at(s2), path.depth_at(s), 1e-8 * (1 + path.length), "mm")
    again = fine.refined(pitch)
    holds(len(again.xy) == len(fine.xy), "vertices, refined twice", len(again.xy), len(fine.xy))


@property_of("path")
def a_closed_path_closes(path: Path, draw: Draw) -> None:
    """Closed: the end is the start, at its depth; started at another vertex it passes the same points. 1e-9 mm."""
    if not path.closed:
        return
    slack = 1e-9 * (_size(path) + path.length)
    close("last point", path.position(path.length), path.position(0.0), slack, "mm")
    close("last depth", path.depth_at(path.length), path.depth_at(0.0), slack, "mm")
    k = draw(some().st.integers(0, len(path.xy) - 1), "vertex")
    around = Path(np.roll(path.xy, -k, axis=0), np.roll(path.depth, -k), sweep=np.roll(path.sweep, -k), closed=True)
    s = _stations(path, draw)
    gone = (s - path.joints[k]) % path.length
    close("length", around.length, path.length, slack, "mm")
    close("position", around.position(np.minimum(gone, around.length)), path.position(s), slack, "mm")


@property_of("path", examples=8)
def a_machine_keeps_its_limits_on_it(path: Path, draw: Draw) -> None:
    """The reached speed is between nothing and the typed one, v^2 <= a R on arcs, |dv/dt| <= a; 1e-9 of each.

    The time is at least length over feed, and the same for the path turned and mirrored.
    """
    feed, machine = draw(some().feeds, "feed"), draw(some().machines(), "machine")
    found = speed_profile(path, feed, machine)
    v, tol = found.speed, 1 + 1e-9
    holds((v >= 0) & (v <= feed / 60 * tol), "speed", (v.min(), v.max()), f"in [0, {feed / 60:g}] mm/s", "1e-9 of it")
    bow = np.abs(path.curvature((found.station[:-1] + found.station[1:]) / 2))
    pull = float((np.maximum(v[:-1], found.arrival) ** 2 * bow).max())
    holds(pull <= machine.acceleration * tol, "v^2 / R", pull, f"{machine.acceleration:g} mm/s2 or less", "1e-9 of it")
    # v^2 changes by 2 a ds; quotients of short stretches are rounding
    gain = np.abs(found.arrival**2 - v[:-1] ** 2) - 1e-9 * v.max() ** 2
    moves = np.diff(found.station) > 0
    most = float((gain[moves] / (2 * np.diff(found.station)[moves])).max(initial=0.0))
    holds(
        most <= machine.acceleration * (1 + 1e-6),
        "|dv/dt|",
        most,
        f"{machine.acceleration:g} mm/s2 or less",
        "1e-6 of it",
    )
    least = path.length / (feed / 60)
    holds(found.duration >= least * (1 - 1e-12), "duration", found.duration, f"{least:g} s or more")
    other = speed_profile(path.rotated(33.7).mirrored(), feed, machine).duration
    close("duration of the path turned and mirrored", other, found.duration, 1e-7 * found.duration, "s")


for _function, _examples in (
    (_cut.rigid_motion_leaves_every_chip, 4),
    (_cut.rigid_motion_leaves_the_map, 3),
    (_cut.half_a_turn_is_the_opposite_dive, 3),
    (_cut.reversing_the_feed_swaps_entry_and_exit_only, 3),
    (_cut.mirror_with_spin_swaps_the_lips, 3),
    (_cut.mirror_alone_turns_with_into_against, 3),
    (_cut.a_bigger_job_makes_bigger_chips, 4),
    (_cut.speed_and_feed_together_leave_every_chip, 4),
    (_cut.more_vertices_leave_the_map, 3),
    (_cut.two_stretches_make_the_whole, 3),
    (_cut.a_loop_is_the_same_wherever_it_starts, 3),
    (_cut.a_cut_twice_is_cut_once, 2),
    (_cut.earlier_passes_leave_the_groove, 3),
    (_cut.lips_lie_at_the_edge_of_the_groove, 4),
    (_cut.every_lip_is_in_one_class, 3),
    (_cut.kernels_agree_with_the_oracle, 2),
):
    lifted("path", _function, examples=_examples, path="cut")
