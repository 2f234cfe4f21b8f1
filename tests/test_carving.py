"""Many cuts on one board, and the passes of one: which lips survive, what a later cut meets."""

from dataclasses import replace

import numpy as np
import pytest
from shapely.geometry import LineString
from shapely.ops import unary_union

import chipsim as cs
from chipsim.choosing.variants import mirrored_carving

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


def chips(cut, before=(), breaks=()):
    """Volume [mm^3] of all chips of a level stroke, from the table of tooth passes: at most, and at least.

    Per radian of work azimuth the stretch [a, b] of the ray sweeps (b^2 - a^2) / 2 by turning and e sin(angle to the
    feed) (b - a) by going along. Of the wood an earlier groove has left the table gives the length only: it lies
    somewhere in what the stroke alone would take, the end of the ray. Three Gauss nodes a stretch between `breaks`,
    heights at which the slice jumps.
    """
    ends = np.array([0.0, *breaks, cut.path.depth[0]])
    nodes, weights = np.polynomial.legendre.leggauss(3)
    size = np.diff(ends)[:, None] / 2
    heights, weights = (ends[:-1, None] + (nodes + 1) * size).ravel(), (weights * size).ravel()
    angles = -90 + 360 * (np.arange(150) + 0.5) / 150
    seen = cs.tooth_passes(cut, angles=angles, heights=heights, before=before)
    alone = cs.tooth_passes(replace(cut, passes=None), angles=angles, heights=heights).radial_thickness
    edge, left = seen.edge_radius_about_axis[:, None, :], seen.radial_thickness
    along = cut.feed_per_rev / (2 * np.pi) * np.cos(np.radians(angles))[:, None]
    outermost = left * (edge + along) - left**2 / 2
    innermost = left * (edge - alone + along) + left**2 / 2
    return tuple(float(np.nansum(v, axis=(0, 1)) @ weights) * 2 * np.pi / 150 for v in (outermost, innermost))


# flat tips, so that no height lies in the tip zone, where the table is slow
FLAT = replace(ALONG, bit=cs.VBit(90, 12.7, 2, 1.2), path=cs.line((0, 0), (9, 0), 2.0))
OTHER = replace(FLAT, bit=cs.VBit(60, 12.7, 2, 1.2), path=cs.line((3, -5), (6, 5), 2.0), phase=31)


@pytest.mark.parametrize(("first", "second"), [(FLAT, OTHER), (OTHER, FLAT)])
def test_chips_of_crossing_grooves_sum_to_the_union(first, second):
    """What the second stroke does not find is what both have in common (shapely): within 0.1 %.

    The sum itself: the teeth never finish the last turn at the end, and cusps stay; 1 %.
    """
    one, two = chips(first)[0], chips(second)[0]
    most, least = chips(second, before=[first])
    union = union_volume((first, second))
    common = union_volume((first,)) + union_volume((second,)) - union
    assert two - most == pytest.approx(common, rel=1e-3)
    assert two - least == pytest.approx(common, rel=1e-3)
    assert one + most == pytest.approx(union, rel=1e-2)


def test_chips_of_the_passes_sum_to_the_groove():
    """Rough pass and skim together take what one deep pass takes: what the skim lacks, the rough one took, to 0.1 %.

    That is 0.9 % less than the rough pass's groove (shapely): its teeth never finish the last turn at the end, and that
    wood is the skim's.
    """
    cut = replace(FLAT, passes=[0.7])
    (rough,) = cut.earlier_passes()
    whole, skim, took = chips(FLAT)[0], chips(cut, breaks=(0.7,))[0], chips(rough)[0]
    assert whole - skim == pytest.approx(took, rel=1e-3)
    assert 0.99 < took / union_volume((rough,)) < 0.995


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
    assert "6 grooves, together" in str(together)
    assert "groove 5" in together.why(10, "left", groove=4)  # counted from 1 in words, from 0 in arrays
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
    full, skim = cs.lip_strikes(ALONG), cs.lip_strikes(replace(ALONG, passes=[0.1]))
    run = (full.lips.kind == "run") & (full.station > 5)
    assert ((skim.strokes[run] == 1).sum(axis=-1) < full.counts[run]).all()


def test_a_skim_takes_the_layer_that_was_left():
    """Summed chips of the last pass reach from the rough groove's edge, leave x tan a, or a scallop further in."""
    leave = 0.15
    cut = cs.Cut(cs.VBit(60, 12.7, 2), cs.line((0, 0), (30, 0), 3.0), 15000, 3000, passes=[1.5, leave])
    strikes = cs.lip_strikes(cut, pitch=1.0, bundle=0.3)
    rows = strikes.lips.kind == "run"
    own = np.where(strikes.strokes == 2, strikes.chips, 0.0)
    total = own.sum(axis=-1) + np.nanmin(strikes.depths, axis=-1)
    np.testing.assert_allclose(total[rows], strikes.stock[rows], atol=1e-12)
    wall = leave * np.tan(np.radians(30))
    # the scallops of the rough pass, f_z apart on the circle of its groove
    scallop = cut.feed_per_tooth**2 / 8 / (2.85 * np.tan(np.radians(30))) * 1.1
    assert (strikes.stock[rows] >= wall - 1e-12).all()
    assert (strikes.stock[rows] <= wall + scallop).all()


def test_order_in_which_rough_passes_are_given_does_not_matter():
    """And their direction and feed only by the scallops that they leave to the skim."""
    rough = [cs.Pass(1.0), cs.Pass(0.2, reversed=True, feed=900)]
    one, two = cs.lip_strikes(replace(ALONG, passes=rough)), cs.lip_strikes(replace(ALONG, passes=rough[::-1]))
    np.testing.assert_array_equal(one.chips, two.chips)
    np.testing.assert_array_equal(one.strokes, two.strokes)
    other = cs.lip_strikes(replace(ALONG, passes=[0.2, 1.0]))
    run = np.flatnonzero(one.lips.kind == "run")
    for i in run:
        a, b = (s.depths[i, 0][(s.strokes[i, 0] == 2) & (s.depths[i, 0] < 0.1)] for s in (one, other))
        np.testing.assert_allclose(a, b, atol=1e-12)


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


def there_and_back():
    """Two crossing grooves with all that lies between them, on a machine."""
    machine = cs.Machine(300, 3000, plunge_feed=300, rapid_feed=6000, travel=(60, 45, 50))
    travel = (
        cs.AirMove("rapid", (0, 0, 20), (-4, 1, 5)),
        cs.AirMove("plunge", (0, 0, 5), (0, 0, -2), 200),
        cs.AirMove("retract", (30, 0, -2), (30, 0, 5), before=1),
        cs.AirMove("air", (30, 0, 5), (12, -10, 5), 3000, before=1),
        cs.AirMove("dwell", (12, -10, 5), (12, -10, 5), seconds=2.0, before=1),
        cs.AirMove("rapid", (18, 12, 5), (41, 13, 20), before=2),
    )
    return cs.Carving(tuple(replace(c, machine=machine) for c in (ALONG, ACROSS)), travel, "both")


MOVES = {
    "turned": (lambda c: c.rotated(90), lambda x, y: (-y, x)),
    "turned askew": (lambda c: c.rotated(33), lambda x, y: (x * COS - y * SIN, x * SIN + y * COS)),
    "shifted": (lambda c: c.shifted(7, -3), lambda x, y: (x + 7, y - 3)),
    "mirrored": (lambda c: c.mirrored(), lambda x, y: (x, -y)),
    "left for right": (lambda c: mirrored_carving(c, (8.0, 2.0)), lambda x, y: (16 - x, y)),
}
COS, SIN = np.cos(np.radians(33)), np.sin(np.radians(33))


@pytest.mark.parametrize("name", MOVES)
def test_moves_go_with_the_carving(name):
    """Every point goes where the paths go (by hand), at its own height; no time changes."""
    move, place = MOVES[name]
    still = there_and_back()
    moved = move(still)
    assert moved.name == "both"
    for a, b in zip(still.air_moves, moved.air_moves, strict=True):
        assert (b.kind, b.feed, b.seconds, b.before) == (a.kind, a.feed, a.seconds, a.before)
        for p, q in ((a.start, b.start), (a.end, b.end)):
            np.testing.assert_allclose(q, (*place(p[0], p[1]), p[2]), atol=1e-12)
    for a, b in zip(still, moved, strict=True):
        np.testing.assert_allclose(b.path.xy, np.column_stack(place(*a.path.xy.T)), atol=1e-12)
        assert b.spin == a.spin
        assert (b.phase - a.phase) % 360 == {"turned": 90, "turned askew": 33}.get(name, 0)
    one, two = cs.time_estimate(still), cs.time_estimate(moved)
    for part in ("cutting", "air", "plunge", "dwell", "total"):
        np.testing.assert_allclose(getattr(two, part), getattr(one, part), rtol=1e-9)


def test_the_travel_row_follows_the_moves():
    """Extent by hand: x from the rapid's -4 to 41; y from the cross groove's foot, widened by its bit, to 13."""
    still = there_and_back()

    def size(carving):
        found = {row.name: row for row in cs.check_limits(carving)}
        assert found["travel z"].value == pytest.approx(22)
        return [(found[f"travel {axis}"].value, found[f"travel {axis}"].status) for axis in "xy"]

    (x, fits), (y, room) = size(still)
    assert (x, y) == (pytest.approx(45), pytest.approx(12 + 1.5 + 11.5))
    assert (fits, room) == ("ok", "ok")
    turned = size(still.rotated(90))
    assert [value for value, _ in turned] == [pytest.approx(y), pytest.approx(x)]
    assert turned[1][1] != room  # 45 mm of 45
    assert size(still.shifted(100, 50)) == [(pytest.approx(x), fits), (pytest.approx(y), room)]
    assert size(still.mirrored()) == [(pytest.approx(x), fits), (pytest.approx(y), room)]


def test_a_mirrored_carving_is_the_image_cut_by_the_other_spindle():
    """Reflection with reversed spin swaps the lips (theorem); `mirrored` mirrors the artwork and leaves the spindle."""
    image = cs.Carving((ALONG, ACROSS)).mirrored()
    other = cs.Carving(tuple(replace(c, spin="ccw", phase=-c.phase) for c in image))
    a = cs.risk_map(cs.Carving((ALONG, ACROSS)), BOARD)
    b = cs.risk_map(other, cs.Board(BOARD.wood, cs.straight_grain(-25)))
    np.testing.assert_array_equal(b.exists[:, ::-1], a.exists)
    np.testing.assert_allclose(b.fuzz[:, ::-1], a.fuzz, atol=1e-9)
    same_spin = cs.risk_map(image, cs.Board(BOARD.wood, cs.straight_grain(-25)))
    assert np.nanmax(abs(same_spin.fuzz[:, ::-1] - a.fuzz)) > 0.1


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
        (lambda: cs.Carving((ALONG,), air_moves=(1,)), "air_moves"),
        (lambda: cs.AirMove("rapid", (0, 0, 5), (0, 0)), "end"),
        (lambda: cs.AirMove("rapid", (0, 0, float("nan")), (0, 0, 1)), "start"),
        (lambda: cs.AirMove("air", (0, 0, 5), (9, 0, 5), 0), "feed"),
        (lambda: cs.AirMove("dwell", (0, 0, 5), (0, 0, 5), seconds=-1), "seconds"),
        (lambda: cs.AirMove("air", (0, 0, 5), (9, 0, 5), before=-1), "before"),
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
    machine = cs.Machine(300, 3000, corners="halt")
    cut = cs.Cut(BIT, path, 15000, 1500, machine=machine)
    ax = Figure().add_subplot()
    line = cs.draw_reached_feed(cut, ax)
    assert not plt.get_fignums()
    x, y = line.get_data()
    np.testing.assert_allclose(y, 60 * cut.speed_profile.speed_at(x), atol=1e-9)
    assert y[np.argmin(abs(x - 20))] == 0
    assert "[mm/min]" in ax.get_ylabel()
    assert "slower than programmed" in " ".join(ax.get_title(loc="left").split())
    assert "below 95 % of it" in [t.get_text() for t in ax.get_legend().get_texts()]
    with pytest.raises(cs.DomainError, match="cut must be a Cut"):
        cs.draw_reached_feed(path, ax)
