"""What a wedge and a gullet can bear, worn edges, balls at the tip, and the choice of a bit for a carving."""

import math
from dataclasses import replace

import numpy as np
import pytest

import chipsim as cs
from chipsim.errors import DomainError
from chipsim.learning.bits import RANGES, TIP_END, _with
from chipsim.limits.wedge import LOOSE, chip_share, edge_stress
from chipsim.scene.cutters import edge_way, heel_rub_radius

MAPLE = cs.wood("sugar maple")
BOARD = cs.Board(MAPLE, cs.straight_grain(azimuth=0))
BIT = cs.VBit(60, 12.7, 2, 0.2)
CUT = cs.Cut(BIT, cs.ring(5, 1.2), 18_000, 1500)
FEW = {"draws": 6, "looks": 8, "pitch": 2.0}


# --- tips and edges ---------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("included", [60, 90, 120])
def test_a_ball_between_the_flanks_is_tangent_to_both(included):
    ball, a = 0.8, math.radians(included / 2)
    bit = cs.VBit(included, 12.7, 2, tip_radius=ball)
    low = ball * (1 - math.sin(a))
    h = np.linspace(0, low, 400)
    # between its knots a facet lies within a nanometre or so of the ball, measured square to it
    r, height = bit.radius(h), h - ball
    assert np.abs(np.hypot(r, height) - ball).max() < ball * (math.pi / 2 - a) ** 2 / 512**2 / 8 * 1.01
    up = np.linspace(low, bit.cone_height, 50)
    np.testing.assert_allclose(bit.radius(up), ball * math.cos(a) + (up - low) * math.tan(a), atol=1e-12)
    # the flank's line passes the ball's centre at its radius: a tangent
    assert (ball - low) * math.sin(a) + ball * math.cos(a) * math.cos(a) == pytest.approx(ball, rel=1e-12)
    for width in (0.3, 1.0, 4.0):
        assert float(2 * bit.half_width(bit.depth_for_width(width))) == pytest.approx(width, abs=1e-12)


def flat(found):
    """A report without its line ends."""
    return " ".join(str(found).split())


def test_a_worn_edge_is_a_circle_tangent_to_both_faces():
    """Recession d of a wedge b rounds it by r with r / sin(b / 2) - r = d."""
    metres, rate = 500.0, 60.0
    worn = BIT.worn(metres, MAPLE, rate=rate)
    d = 1e-3 * rate * metres / 1000 * MAPLE.specific_gravity / 0.68
    r = worn.edge_radius - BIT.edge_radius
    assert r / math.sin(math.radians(BIT.wedge_angle) / 2) - r == pytest.approx(d, rel=1e-12)
    assert replace(worn, edge_radius=BIT.edge_radius, edge_measured=BIT.edge_measured) == BIT
    assert BIT.worn(0, MAPLE) == BIT
    table = cs.ProfileBit(*BIT.knots(), flutes=2, rake=BIT.rake, clearance=BIT.clearance, edge_radius=BIT.edge_radius)
    assert table.worn(metres, MAPLE, rate=rate).edge_radius == worn.edge_radius  # whatever the outline
    with pytest.raises(DomainError, match="metres must leave an edge"):
        BIT.worn(1e6, MAPLE)


def test_an_edge_goes_47_metres_a_metre_of_a_plain_groove():
    """r 3 mm, 0.1 mm a tooth, two flutes (worked out for this project from geometry)."""
    assert edge_way(cs.VBit(90, 12.7, 2), 3.0, 0.2, 1000.0) == pytest.approx(47.1, abs=0.05)


def test_slimmer_wedges_are_stressed_more_by_the_beams_law():
    stout, slim = cs.VBit(60, 12.7, 2), cs.VBit(60, 12.7, 2, rake=20, clearance=20)
    ratio = edge_stress(slim, 0.05, MAPLE) / edge_stress(stout, 0.05, MAPLE)
    assert ratio == pytest.approx((math.tan(math.radians(32.5)) / math.tan(math.radians(25))) ** 2, rel=1e-12)
    # a cantilever summed up numerically: an even load on a wedge of this angle, over the chip's thickness
    h, q = 0.05, 1.0
    s = np.linspace(0, h, 2001)
    moment = np.trapezoid(q / h * (h - s)[::-1][::-1], s)
    thick = 2 * h * math.tan(math.radians(32.5))
    force = cs.CuttingForceModel().force_per_length(h, 0.008, MAPLE, motion=0.0, edge=0.0)
    assert edge_stress(stout, h, MAPLE) == pytest.approx(float(force) * 6 * moment / thick**2, rel=1e-6)


def test_chips_of_a_gullet_by_hand():
    """A sharp 90 deg cone d deep: section d^2, body pi (d + 1)^3 / 3."""
    bit = cs.VBit(90, 12.7, 2, chip_room=0.5)
    cut = cs.Cut(bit, cs.line((0, 0), (30, 0), 3.0), 18_000, 1800)
    by_hand = LOOSE * 0.05 * 9.0 / (0.5 * math.pi * 64.0 / 3 / 2)
    assert chip_share(cut) == pytest.approx(by_hand, rel=1e-4)
    limits = {row.name: row for row in cs.check_limits(cut)}
    assert limits["chip room"].value == pytest.approx(100 * by_hand, rel=1e-4)
    packed = replace(cut, bit=replace(bit, chip_room=0.02))
    assert {row.name: row.status for row in cs.check_limits(packed)}["chip room"] == "violated"
    # a rough pass that leaves little fills its own gullets, and the skim next to nothing
    skimmed = replace(cut, passes=[0.2])
    rough = replace(cut, path=cs.line((0, 0), (30, 0), 2.8))
    assert chip_share(skimmed) == pytest.approx(chip_share(rough), rel=1e-3)


def test_a_facet_rubs_by_its_heel_where_the_groove_is_narrow():
    """Its far border against the cone, in space: outside below the radius, within it above; at rest, then at work."""
    clearance, width = 12.0, 0.6
    for included in (30, 60, 90, 120):
        a, c = math.radians(included / 2), math.radians(clearance)
        bit = cs.VBit(included, 12.7, 2, clearance=clearance, secondary_clearance=25, facet=width)
        rub = float(heel_rub_radius(bit, included / 2, 0.0))
        for r, sign in ((0.999 * rub, 1), (1.001 * rub, -1)):
            # outwards, along the rotation, up: the border runs along the edge, `width` behind it in the facet
            p = -math.cos(c) * np.array([0, 1.0, 0]) - math.sin(c) * np.array([math.cos(a), 0, -math.sin(a)])
            border = [r, 0, 0] + width * p + np.linspace(-2, 2, 4001)[:, None] * [math.sin(a), 0, math.cos(a)]
            at = border[np.argmin(abs(border[:, 2]))]
            beyond = math.hypot(at[0], at[1]) - (r + at[2] * math.tan(a))
            assert sign * beyond > 0
        one = replace(bit, secondary_clearance=None)
        moving = float(heel_rub_radius(one, included / 2, 0.4))
        assert heel_rub_radius(bit, included / 2, 0.4) == pytest.approx(rub + moving)
    # at work, in the slice: where the tooth stood a moment before has left a wall nearer by the way since
    e, sine = 0.4 / (2 * math.pi), math.sin(math.atan(math.tan(c)))
    upright = replace(bit, included_angle=5)
    r = float(heel_rub_radius(upright, 0.0, 0.4))
    for share, rubs in ((0.97, True), (1.03, False)):
        heel = complex(share * r - width * sine, -width * math.cos(math.asin(sine)))
        behind = -math.atan2(heel.imag, heel.real)
        walls = [abs(abs(heel) + e * behind * math.sin(f)) > share * r for f in np.linspace(0, 2 * math.pi, 721)]
        assert any(walls) == rubs
    # it is a limit: the tip feed's share of the depth grows with a facet that is too wide
    wide = replace(CUT, bit=replace(BIT, secondary_clearance=25, facet=1.5))
    rows = [{row.name: row.value for row in cs.check_limits(job)}["tip feed"] for job in (CUT, wide)]
    assert rows[1] > rows[0]


def test_a_honed_land_rubs():
    lips = [cs.risk_map(replace(CUT, bit=replace(BIT, land=w)), BOARD, pitch=2.0) for w in (0.0, 0.05)]
    assert lips[1].mean("scorch") > lips[0].mean("scorch")
    np.testing.assert_array_equal(lips[0].values("fuzz"), lips[1].values("fuzz"))


def test_a_keen_wedge_is_a_limit():
    slim = replace(CUT, bit=replace(BIT, rake=30, clearance=20))
    rows = {row.name: row.status for row in cs.check_limits(slim, board=BOARD)}
    assert rows["edge wedge"] == "violated"
    assert "edge wedge" not in {row.name for row in cs.check_limits(CUT)}


# --- the choice -------------------------------------------------------------------------------------------------------


@pytest.fixture(scope="module")
def choice():
    shop = {"60 deg": BIT, "90 deg": cs.VBit(90, 12.7, 2, 0.2), "dull": replace(BIT, edge_radius=0.06)}
    vary = {"included_angle": (50, 100), "flutes": (1, 2), "rake": (5, 20)}
    return cs.best_bit(CUT, BOARD, catalogue=shop, vary=vary, **FEW)


def test_what_is_not_beaten_is_what_a_pairwise_look_says(choice):
    def beats(a, b):
        one, two = ((x.minutes, x.edge_stress, x.depth) for x in (a, b))
        return all(p <= q for p, q in zip(one, two, strict=True)) and one != two

    for bit in choice:
        assert bit.beaten == any(beats(other, bit) for other in choice)
    assert choice.best in choice.bits
    assert [b.minutes for b in choice] == sorted(b.minutes for b in choice)


def test_grooves_keep_their_width_and_the_dull_bit_loses(choice):
    width = 2 * float(CUT.half_width(np.array(1.2)))
    for row in choice:
        assert float(2 * row.bit.radius(row.depth)) == pytest.approx(width, abs=1e-9)
    bought = {row.name: row for row in choice if row.bought}
    assert set(bought) == {"60 deg", "90 deg", "dull"}
    assert bought["dull"].minutes > bought["60 deg"].minutes
    text = " ".join(str(choice).split())
    assert "same width" in text
    assert "in the catalogue" in text


def test_held_removal_is_the_same_wood_a_minute():
    vary = {"included_angle": (90, 90), "flutes": (2,)}
    found = cs.best_bit(CUT, BOARD, catalogue=[BIT], vary=vary, hold="removal", **FEW)
    rates = [row.removal for row in found]
    np.testing.assert_allclose(rates, rates[0], rtol=1e-9)


def test_a_difference_that_rests_on_nothing_known_is_not_known():
    """Only the shear may differ, of which the draws hold that it may do nothing: the answer must say so."""
    found = cs.best_bit(CUT, BOARD, catalogue={"straight": BIT}, vary={"shear": (-20, 0)}, draws=30, looks=8, pitch=2.0)
    assert not found.known
    assert any(w in flat(found) for w in ("is not known", "no meaningful difference")) or found.best.name == "straight"
    assert "has not been measured" in flat(found)


def test_the_same_seed_gives_the_same_choice():
    ask = {"catalogue": [BIT], "vary": {"included_angle": (50, 100)}, **FEW}
    one, other = (cs.best_bit(CUT, BOARD, **ask, seed=3) for _ in range(2))
    assert [b.minutes for b in one] == [b.minutes for b in other]


@pytest.mark.parametrize(
    ("given", "words"),
    [
        ({"vary": {"colour": (0, 1)}}, "vary must name some of included_angle"),
        ({"vary": {"rake": (20, 5)}}, r"vary\['rake'\] must be a range \(low, high\), got \[20.0, 5.0\]"),
        ({"keep": "shape"}, "keep must be one of"),
        ({"hold": "time"}, "hold must be one of"),
        ({"draws": 1}, r"draws must"),
        ({"catalogue": "60 deg"}, "catalogue must be a mapping or a sequence of bits, got str"),
    ],
)
def test_bad_questions_are_refused(given, words):
    with pytest.raises(DomainError, match=words):
        cs.best_bit(CUT, BOARD, **given)


def test_ranges_are_of_bits_that_can_be_made():
    assert set(RANGES) <= {f for f in cs.VBit.__dataclass_fields__}
    assert _with(BIT, "tip_radius", 0.3) is None  # it has a flat


def test_equal_tips_are_as_wide_where_chips_would_shear_them_off():
    found = cs.best_bit(CUT, BOARD, catalogue={"own": BIT}, vary={"included_angle": (45, 110)}, tip="equal", **FEW)
    wide = {float(2 * row.bit.radius(TIP_END)) for row in found if not row.bought}
    assert len(wide) > 1
    np.testing.assert_allclose(list(wide), 0.2 + 2 * TIP_END * math.tan(math.radians(30)), atol=1e-8)
    assert "The strength of the tips was held" in flat(found)
    with pytest.raises(DomainError, match="vary must leave out tip_width"):
        cs.best_bit(CUT, BOARD, vary={"tip_width": (0.1, 0.2)}, tip="equal", **FEW)


def test_a_difference_names_the_piece_that_would_decide_it():
    """Which is what `next_coupon` says of the two bits, that none pays included; nothing where there is no choice."""
    shop = {"dull": replace(BIT, edge_radius=0.06)}
    found = cs.best_bit(CUT, BOARD, catalogue=shop, vary={"edge_radius": (0.005, 0.005)}, **FEW)
    assert found.best.bit.edge_radius == 0.005
    assert found.piece is not None
    assert found.piece.verdict in ("cut", "stop", "open")
    assert "Knowing all would save" in flat(found)
    assert "dull" in found.piece.pick.words() or "ground" in found.piece.pick.words()
    alone = cs.best_bit(CUT, BOARD, vary={"edge_radius": (0.005, 0.005)}, **FEW)
    assert alone.piece is None
    assert 0.0 <= found.share <= 1.0


def test_a_sheared_bits_report_says_which_way_it_pushes():
    for shear, words in ((-15, "presses"), (-3, r"lifts the fibres of a lip, which it would press from -5.8 deg")):
        ground = cs.best_bit(CUT, BOARD, vary={"shear": (shear, shear), "rake": (10, 10)}, **FEW)
        if np.any(ground.best.bit.shear):
            assert words in str(ground)
    low, middle, high = ground.best.saves
    assert (low, middle, high) == (0.0, 0.0, 0.0)  # without a catalogue there is nothing to save over
