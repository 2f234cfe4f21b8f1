"""The kernels of the speed profile beside numpy on whole arrays, and beside a loop."""

import math

import numpy as np
import pytest
from slow_speeds import slow_radii

import chipsim as cs
from chipsim.kernels import speeds
from chipsim.scene.machine import _NEIGHBOURS, _ROUNDED, _STRAIGHT


def joints(seed, count):
    """Chords of curves, corners and lines with vertices along them, some rounded to 0.001 mm, in space."""
    rng = np.random.default_rng(seed)
    turn = rng.choice([0.0, 0.01, -0.05, 0.4, 2.0, 3.0], count, p=[0.4, 0.3, 0.15, 0.05, 0.05, 0.05])
    step = rng.choice([0.05, 0.3, 3.0], count)
    heading = np.cumsum(turn)
    xy = np.cumsum(np.column_stack([np.cos(heading), np.sin(heading)]) * step[:, None], axis=0)
    points = np.column_stack([xy, 0.3 * np.sin(np.cumsum(step) / 5)])
    return np.round(points, 3) if seed % 2 else points, np.abs(turn), step


@pytest.mark.parametrize("seed", range(12))
def test_circles_in_joints_are_those_of_whole_arrays(seed):
    rng = np.random.default_rng(seed)
    count = (1, 2, 5, 17, 300)[seed % 5]
    points, turn, step = joints(seed, count)
    turn = np.where(rng.random(count) < 0.1, math.pi, np.maximum(turn, 2e-6))
    arcs = np.cumsum(np.where(rng.random(count) < 0.2, 0.3, 0.0))
    station, swept = np.cumsum(step), arcs + np.cumsum(turn) - turn
    gaps = np.array([math.inf, 0.05, 0.001])
    radii = np.empty((3, count))
    speeds.joint_radii(station, swept, turn, points, arcs, gaps, _NEIGHBOURS, _STRAIGHT, _ROUNDED, radii)
    np.testing.assert_allclose(radii, slow_radii(station, swept, turn, points, arcs, gaps), rtol=1e-11, atol=1e-12)


def test_speeds_are_held_back_both_ways():
    """No joint gains more on a piece than is allowed, and none could be faster without another being so."""
    rng = np.random.default_rng(1)
    square, gain = rng.uniform(0, 100, 201), rng.uniform(0, 10, 200)
    square[[0, -1]] = 0.0
    held = square.copy()
    speeds.hold_back(held, gain)
    assert (np.abs(np.diff(held)) <= gain + 1e-9).all()
    reach = np.concatenate([[0.0], np.cumsum(gain)])
    slow = (square[None, :] + np.abs(reach[:, None] - reach[None, :])).min(axis=1)
    np.testing.assert_allclose(held, slow, rtol=0, atol=1e-9)


@pytest.mark.parametrize("angle", [20.0, 90.0, 150.0, 179.0])
def test_a_corner_between_long_sides_has_the_same_feed_by_formula_and_by_profile(angle):
    machine = cs.Machine(300, 60_000)
    turn = math.radians(180 - angle)
    far = 4000.0
    path = cs.polyline([(0, 0), (far, 0), (far + far * math.cos(turn), far * math.sin(turn))], 1.0)
    profile = cs.Cut(cs.VBit(60, 12.7, 2), path, 18_000, 60_000, machine=machine).speed_profile
    at = int(np.argmin(np.abs(profile.station - far)))
    assert 60 * profile.speed[at] == pytest.approx(min(machine.corner_feed(angle), 60_000), rel=1e-9)


@pytest.mark.parametrize("sides", [2, 3, 4, 6, 8])
def test_sides_of_many_rounded_vertices_are_one_line_each(sides):
    """A right angle between so many pieces of 1 mm, rounded to 0.001 mm: the circle has the whole sides for it."""
    rng = np.random.default_rng(sides)
    along = np.arange(-sides - 5, sides + 6.0)
    far = np.maximum(np.abs(along) - sides, 0)
    line = np.where(along[:, None] < 0, along[:, None] * [1.0, 0, 0], along[:, None] * [0.0, 1, 0])
    line[:, 2] = 5 * (far % 2)  # beyond the sides the path goes up and down
    points = np.round(line + rng.uniform(-5e-4, 5e-4, line.shape) * (np.abs(along) % sides > 0)[:, None], 3)
    turn = np.where(along == 0, math.pi / 2, np.where((far > 0) | (np.abs(along) == sides), 1.5, 1e-3))
    station, swept, arcs = along - along[0], np.cumsum(turn) - turn, np.zeros(len(along))
    gaps, radii = np.array([math.inf]), np.empty((1, len(along)))
    speeds.joint_radii(station, swept, turn, points, arcs, gaps, _NEIGHBOURS, _STRAIGHT, _ROUNDED, radii)
    assert radii[0, len(along) // 2] == pytest.approx(sides / 2, rel=0.01)
    np.testing.assert_allclose(radii, slow_radii(station, swept, turn, points, arcs, gaps), rtol=1e-11)
