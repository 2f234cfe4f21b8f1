"""Many cuts on one board, and the passes of one: which lips survive, what a later cut meets."""

from dataclasses import replace

import numpy as np
import pytest
from shapely.geometry import LineString
from shapely.ops import unary_union

import chipsim as cs

BOARD = cs.Board(cs.wood("sugar maple"), cs.straight_grain(25))
BIT = cs.VBit(90, 12.7, 2)
ALONG = cs.Cut(BIT, cs.line((0, 0), (30, 0), 2.0), 15000, 3000)
ACROSS = cs.Cut(BIT, cs.line((12, -10), (18, 12), 1.5), 15000, 3000)


def test_a_carving_of_one_is_the_cut():
    one, many = cs.risk_map(ALONG, BOARD), cs.risk_map(cs.Carving((ALONG,)), BOARD)
    np.testing.assert_array_equal(one.fuzz, many.fuzz)
    assert str(one) == str(many)


@pytest.mark.parametrize("order", [(ALONG, ACROSS), (ACROSS, ALONG)])
def test_crossing_grooves_lose_lips_whichever_comes_first(order):
    """Perimeter of the union of both grooves at the face (shapely buffers)."""
    risk = cs.risk_map(cs.Carving(order), BOARD, pitch=0.02)
    union = unary_union(
        [LineString(c.path.xy).buffer(float(BIT.half_width(c.path.depth[0])), quad_segs=256) for c in order]
    )
    assert risk.lip_length.sum() == pytest.approx(union.length, abs=8 * 0.02)
    assert set(np.unique(risk.groove)) == {0, 1}


def union_volume(cuts, slices=400):
    """Midpoint rule over shapely unions of the slices: nothing in common with the lips."""
    top = max(float(c.path.depth.max()) for c in cuts)
    total = 0.0
    for z in (np.arange(slices) + 0.5) / slices * top:
        discs = [
            LineString(c.path.xy).buffer(float(c.bit.half_width(c.path.depth[0] - z)), quad_segs=64)
            for c in cuts
            if c.path.depth[0] > z
        ]
        total += unary_union(discs).area * top / slices
    return total


def test_crossing_grooves_count_once_in_volume():
    """Two crossing strokes: less than the sum, and the union's volume by shapely to 0.2 %."""
    both, one, two = (cs.groove_volume(cs.Carving(c)) for c in ((ALONG, ACROSS), (ALONG,), (ACROSS,)))
    assert both == pytest.approx(union_volume((ALONG, ACROSS)), rel=2e-3)
    assert both < one + two - 1.0


def test_volume_of_single_grooves_by_hand():
    """A = d^2 tan a; 30 mm straight and both half cones; a ring by Pappus-Guldin (geometry)."""
    assert cs.groove_volume(ALONG) == pytest.approx(4.0 * 30 + np.pi * 8 / 3, rel=1e-3)
    ring = cs.Cut(BIT, cs.ring(10, 2.0), 15000, 3000)
    assert cs.groove_volume(ring) == pytest.approx(4.0 * 2 * np.pi * 10, rel=1e-3)
    assert cs.groove_volume(replace(ALONG, passes=[0.5])) == pytest.approx(cs.groove_volume(ALONG), rel=1e-9)


def test_far_grooves_do_not_look_at_one_another():
    cuts = [replace(ALONG, path=ALONG.path.shifted(0, 20.0 * k)) for k in range(6)]
    together = cs.risk_map(cs.Carving(cuts), BOARD)
    alone = cs.risk_map(ALONG, BOARD)
    for k in range(6):
        np.testing.assert_allclose(together.fuzz[together.groove == k], alone.fuzz, atol=1e-9)
    assert "in 6 grooves" in str(together)
    assert "groove 4" in together.why(10, "left", groove=4)
    with pytest.raises(cs.DomainError, match="groove"):
        together.why(10, "left", groove=6)


def test_a_deeper_second_cut_makes_the_lip():
    """Rough, then skim: as two cuts of a carving and as one cut with an earlier pass the skim's strikes agree."""
    rough = replace(ALONG, path=cs.line((0, 0), (30, 0), 1.9))
    carving = cs.risk_map(cs.Carving((rough, ALONG)), BOARD)
    assert not carving.exists[carving.groove == 0].any()
    passes = cs.risk_map(replace(ALONG, passes=[0.1]), BOARD)
    second = carving.groove == 1
    np.testing.assert_array_equal(carving.strikes[second], passes.strikes)
    np.testing.assert_allclose(carving.fuzz[second], passes.fuzz, atol=1e-12)
    full = cs.risk_map(ALONG, BOARD)
    run = (full.kind == "run") & (full.station > 5)
    assert (passes.strikes[run] < full.strikes[run]).all()


def test_a_skim_takes_the_layer_that_was_left():
    """Summed chips at a lip reach from the rough groove's edge: leave x tan a, by hand."""
    leave = 0.15
    cut = cs.Cut(cs.VBit(60, 12.7, 2), cs.line((0, 0), (30, 0), 3.0), 15000, 3000, passes=[1.5, leave])
    strikes = cs.lip_strikes(cut, pitch=1.0, bundle=0.3)
    rows = strikes.lips.kind == "run"
    total = np.nansum(strikes.chips[rows], axis=-1) + np.nanmin(strikes.depths[rows], axis=-1)
    np.testing.assert_allclose(total, leave * np.tan(np.radians(30)), atol=1e-9)


def test_direction_and_order_of_rough_passes_do_not_matter():
    one = cs.lip_strikes(replace(ALONG, passes=[0.2, 1.0]))
    two = cs.lip_strikes(replace(ALONG, passes=[cs.Pass(1.0), cs.Pass(0.2, reversed=True, feed=900)]))
    np.testing.assert_allclose(one.chips, two.chips, atol=1e-12)


def test_cutting_the_same_groove_twice_makes_one_pair_of_lips():
    twice = cs.risk_map(cs.Carving((ALONG, replace(ALONG, phase=40))), BOARD)
    once = cs.risk_map(ALONG, BOARD)
    assert twice.lip_length.sum() == pytest.approx(once.lip_length.sum(), rel=1e-9)
    assert not twice.exists[twice.groove == 1].any()


def test_tooth_passes_meet_what_an_earlier_pass_left():
    """Ahead, a skim finds only the layer: radial leave x tan a at the wall, full chips below the rough groove's tip."""
    cut = replace(ALONG, passes=[0.5])
    passes = cs.tooth_passes(cut, start=15, stop=15.5, angles=[90.0], heights=[0.3, 1.5, 2.0])
    plain = cs.tooth_passes(ALONG, start=15, stop=15.5, angles=[90.0], heights=[0.3, 1.5, 2.0])
    np.testing.assert_allclose(passes.radial_thickness[:, 0, 0], plain.radial_thickness[:, 0, 0], atol=1e-12)
    np.testing.assert_allclose(passes.radial_thickness[:, 0, 1:], 0.0, atol=1e-9)  # the rough groove runs ahead
    side = cs.tooth_passes(cut, start=15, stop=15.5, angles=[2.0], heights=[1.5])
    whole = cs.tooth_passes(ALONG, start=15, stop=15.5, angles=[2.0], heights=[1.5])
    np.testing.assert_allclose(side.radial_thickness, whole.radial_thickness, atol=1e-12)


def test_raised_paths_leave_the_board_where_they_must():
    path = cs.line((0, 0), (10, 0), (0.0, 2.0)).raised(0.5)
    np.testing.assert_allclose(path.depth, [0, 0, 1.5])
    np.testing.assert_allclose(path.xy[1], [2.5, 0], atol=1e-12)


def test_turning_a_carving_with_its_board_changes_nothing():
    carving = cs.Carving((ALONG, ACROSS))
    turned = cs.risk_map(carving.rotated(33), cs.Board(BOARD.wood, cs.straight_grain(25 + 33)))
    still = cs.risk_map(carving, BOARD)
    np.testing.assert_array_equal(turned.exists, still.exists)
    np.testing.assert_allclose(turned.fuzz, still.fuzz, atol=1e-9)


@pytest.mark.parametrize(
    ("make", "what"),
    [
        (lambda: cs.Carving(()), "cuts"),
        (lambda: cs.Carving((1, 2)), "cuts"),
        (lambda: replace(ALONG, passes=[2.5]), "passes"),
        (lambda: replace(ALONG, passes="0.1"), "passes"),
        (lambda: cs.Pass(0.0), "leave"),
        (lambda: cs.Pass(float("nan")), "leave"),
        (lambda: cs.Pass(0.1, feed=0), "feed"),
        (lambda: cs.Pass(0.1, reversed=1), "reversed"),
    ],
)
def test_bad_input_is_named(make, what):
    with pytest.raises(cs.DomainError, match=what):
        make()


def test_the_strip_shows_the_reached_feed():
    """Corner at rest, and the numbers of the profile itself; no new figure when axes are given."""
    import matplotlib.pyplot as plt
    from matplotlib.figure import Figure

    path = cs.polyline([(0, 0), (20, 0), (20, 20)], 2.0)
    machine = cs.Machine(300, 3000, corner_rule="stop")
    cut = cs.Cut(BIT, path, 15000, 1500, machine=machine)
    ax = Figure().add_subplot()
    line = cs.draw_reached_feed(cut, ax)
    assert not plt.get_fignums()
    x, y = line.get_data()
    np.testing.assert_allclose(y, 60 * cut.profile.speed_at(x), atol=1e-9)
    assert y[np.argmin(abs(x - 20))] == 0
    assert "[mm/min]" in ax.get_ylabel()
    assert any(c.get_hatch() for c in ax.collections)
    with pytest.raises(cs.DomainError, match="cut must be a Cut"):
        cs.draw_reached_feed(path, ax)
