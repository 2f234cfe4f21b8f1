"""Lips of strokes that are plunged into and lifted out of, and of dots: half circles and circles."""

import numpy as np
import pytest

import chipsim as cs
from chipsim.chips.lips import LipPlan, lay_out_lips

BIT = cs.VBit(60, 12.7, 2)


def lips(xy, depth, pitch=0.05, **more):
    return lay_out_lips(cs.Cut(BIT, cs.Path(xy, depth, **more), 18000, 1500), pitch)


def of(found, kind):
    """Lengths of the left and the right lip of a kind, and whether any of it exists, left and right."""
    rows = found.kind == kind
    return found.lip_length[rows].sum(axis=0), found.exists[rows].any(axis=0).tolist()


def test_the_lip_of_a_dot_is_a_circle_half_on_either_side():
    found = lay_out_lips(cs.Cut(BIT, cs.dot((3, -1), 1.5, dwell=0.01), 18000, 1500), 0.05)
    r = float(BIT.radius(1.5))
    assert set(found.kind) == {"dot"}
    assert found.lip_length.sum(axis=0) == pytest.approx([np.pi * r, np.pi * r])
    assert found.exists.all()
    away = (found.lip_xy - [3, -1]).reshape(-1, 2)
    np.testing.assert_allclose(np.hypot(*away.T), r)
    # outward is the azimuth of the lip point; lifts and pecks on the way change nothing
    seen = np.degrees(np.arctan2(*away.T[::-1]))
    np.testing.assert_allclose((found.outward.ravel() - seen + 180) % 360 - 180, 0, atol=1e-9)
    np.testing.assert_allclose(np.diff(np.sort(seen)), 180 / len(found))
    for depth in ([0, 1.5, 0], [0, 0.5, 0.2, 1.5, 0], [1.5, 0]):
        again = lips([[3, -1]] * len(depth), depth)
        np.testing.assert_array_equal(again.lip_xy, found.lip_xy)
        assert len(again) == len(found)


def test_no_cell_is_without_length():
    plan = LipPlan(cs.Cut(BIT, cs.dot((0, 0), 1), 18000, 1500), 0.05)
    assert plan.rows == len(plan.lips(0, plan.cells))
    found = lips([[0, 0], [0, 0], [10, 0], [10, 0]], [0, 1, 1, 0])
    assert (found.lip_length.sum(axis=1) > 0).all()
    assert (
        len(found)
        == LipPlan(cs.Cut(BIT, cs.Path([[0, 0], [0, 0], [10, 0], [10, 0]], [0, 1, 1, 0]), 18000, 1500), 0.05).rows
    )


def test_a_stroke_between_plunge_and_lift_has_the_lips_of_the_bare_stroke():
    bare = lips([[0, 0], [10, 0], [10, 8]], [1, 1, 1.5])
    found = lips(
        [[0, 0], [0, 0], [10, 0], [10, 8], [10, 8], [10, 8]], [0, 1, 1, 1.5, 0.7, 0], dwell=[0, 0.1, 0, 0.2, 0, 0]
    )
    for name in ("station", "kind", "lip_xy", "outward", "lip_length", "exists", "depth"):
        np.testing.assert_array_equal(getattr(found, name), getattr(bare, name))


@pytest.mark.parametrize("turn", [0, 40, -100, 170])
def test_a_change_of_depth_between_strokes_has_a_half_circle_round_the_deeper(turn):
    on = [10 + 8 * np.cos(np.radians(turn)), 8 * np.sin(np.radians(turn))]
    narrow, wide = float(BIT.radius(1)), float(BIT.radius(2))
    deeper = lips([[0, 0], [10, 0], [10, 0], on], [1, 1, 2, 2])
    rows = (deeper.kind == "start") & (deeper.station > 0)
    assert deeper.lip_length[rows].sum(axis=0) == pytest.approx([np.pi / 2 * wide] * 2)
    out = deeper.outward[rows]
    # behind the deeper stroke
    assert (np.cos(np.radians(out - turn)) < 1e-9).all()
    higher = lips([[0, 0], [10, 0], [10, 0], on], [2, 2, 1, 1])
    rows = (higher.kind == "end") & (higher.station < 11)
    assert higher.lip_length[rows].sum(axis=0) == pytest.approx([np.pi / 2 * wide] * 2)
    assert (np.cos(np.radians(higher.outward[rows])) > -1e-9).all()
    # a peck on the way: a full circle; a lift and back down: the corner as it was
    pecked = lips([[0, 0], [10, 0], [10, 0], [10, 0], on], [1, 1, 2, 1, 1])
    assert of(pecked, "dot")[0] == pytest.approx([np.pi * wide] * 2)
    lifted = lips([[0, 0], [10, 0], [10, 0], [10, 0], on], [1, 1, 0.2, 1, 1])
    bare = lips([[0, 0], [10, 0], on], 1)
    np.testing.assert_array_equal(lifted.lip_xy, bare.lip_xy)
    assert of(bare, "corner")[0].sum() == pytest.approx(np.radians(abs(turn)) * narrow)


def test_a_stroke_that_starts_with_a_deeper_dot_has_its_circle():
    found = lips([[0, 0], [0, 0], [0, 0], [10, 0]], [0, 2, 1, 1])
    assert of(found, "dot")[0] == pytest.approx([np.pi * float(BIT.radius(2))] * 2)
    assert "start" not in found.kind
    found = lips([[0, 0], [10, 0], [10, 0], [10, 0]], [1, 1, 2, 0])
    assert of(found, "dot")[0] == pytest.approx([np.pi * float(BIT.radius(2))] * 2)
    assert "end" not in found.kind


def test_a_closed_ring_with_a_deeper_place_at_its_joint():
    xy = [[5, 0], [5, 0], [5, 0], [0, 5], [-5, 0], [0, -5]]
    found = lips(xy, [1, 1.5, 1, 1, 1, 1], sweep=[0, 0, 90, 90, 90, 90], closed=True)
    assert of(found, "dot")[0] == pytest.approx([np.pi * float(BIT.radius(1.5))] * 2)
    plain = lips(xy[2:], 1, sweep=[90] * 4, closed=True)
    runs = found.kind == "run"
    np.testing.assert_allclose(found.lip_xy[runs], plain.lip_xy[plain.kind == "run"], atol=1e-12)


def test_a_steep_ramp_in_the_limit_is_the_plunge():
    steep = lips([[0, 0], [1e-4, 0], [8, 0]], [0, 1.5, 1.5])
    plunge = lips([[0, 0], [0, 0], [8, 0]], [0, 1.5, 1.5])
    # round the deeper end of the steep ramp, behind what goes on
    corner, start = of(steep, "corner")[0], of(plunge, "start")[0]
    assert corner == pytest.approx(start, rel=1e-3)


def test_small_joints_can_be_one_with_their_cells():
    """A curve in chords: as many rows as cells and ends, every lip as long as before, in parts as in one go."""
    path = cs.polyline(np.column_stack([20 * np.cos(t := np.linspace(0, 4, 300)), 20 * np.sin(t)]), 1.5)
    cut = cs.Cut(cs.VBit(60, 12.7, 2), path, 18000, 1500)
    own, folded = LipPlan(cut, 2.0), LipPlan(cut, 2.0, 0.1)
    assert own.rows > 298 > folded.rows > folded.cells
    each, one = own.lips(0, own.cells), folded.lips(0, folded.cells)
    np.testing.assert_allclose(one.lip_length.sum(axis=0), each.lip_length.sum(axis=0), rtol=1e-12)
    np.testing.assert_allclose(one.lip_length[one.kind == "run"].std(axis=0), 0.0, atol=0.01)
    parts = [folded.lips(k, k + 1) for k in range(folded.cells)]
    np.testing.assert_array_equal(np.concatenate([p.lip_length for p in parts]), one.lip_length)
    sharp = cs.Cut(cs.VBit(60, 12.7, 2), cs.polyline([(0, 0), (30, 0), (30, 30)], 1.5), 18000, 1500)
    assert LipPlan(sharp, 2.0, 0.1).rows == LipPlan(sharp, 2.0).rows
