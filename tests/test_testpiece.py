"""The test piece: that its rings are what the protocol asks for, on the machine and on the wood."""

from itertools import pairwise

import numpy as np
import pytest

import chipsim as cs
from chipsim.learning.sectors import RingSectors
from chipsim.learning.testpiece import LANDS

BIT = cs.VBit(60, 12.7, 2, 0.2, max_spindle_speed=24_000, cutting_length=10)
MACHINE = cs.Machine(300, 3000, plunge_feed=400)
BOARD = cs.Board(cs.wood("sugar maple", moisture=8), cs.straight_grain(0))
FEEDS = [1000, 1800, 2800]


def piece(feeds=FEEDS, speeds=18_000, machine=MACHINE, **more):
    return cs.coupon(BIT, more.pop("board", BOARD), speeds, feeds, machine=machine, **more)


WHOLE = piece(comb=(0, 90))


def test_each_setting_is_cut_once_each_way_round():
    ways = sorted((r.cut.feed, r.sense) for r in WHOLE.rings)
    assert ways == [(f, w) for f in FEEDS for w in ("ccw", "cw")]
    for ring in WHOLE.rings:
        assert (ring.cut.path.sweep > 0).all() == (ring.sense == "ccw")
        assert (ring.cut.path.sweep < 0).all() == (ring.sense == "cw")


def test_the_radius_is_the_largest_of_the_three_rules():
    """max(9 mm, 1.5 w + 2 mm, v^2 / a), the last with 2 % to spare: this project's protocol."""
    assert WHOLE.rings[0].radius == pytest.approx(max(9, 1.5 * WHOLE.width + 2, 1.02 * (2800 / 60) ** 2 / 300))
    fast = piece([5000], machine=cs.Machine(250, 6000, plunge_feed=900))
    assert fast.rings[0].radius == pytest.approx(1.02 * (5000 / 60) ** 2 / 250)
    wide = cs.coupon(cs.VBit(120, 25, 2), BOARD, 16_000, [1500], machine=MACHINE, depth=3)
    assert wide.rings[0].radius == pytest.approx(1.5 * 2 * 3 * np.tan(np.radians(60)) + 2)


@pytest.mark.parametrize("machine", [MACHINE, cs.Machine(800, 8000, corners="halt", plunge_feed=250)])
@pytest.mark.parametrize("sectors", [12, 24])
def test_the_feed_is_reached_in_every_sector_that_is_graded(machine, sectors):
    """Asked of the machine's own speed profile, at the lips that the kinematics finds to be the last cut."""
    coupon = piece(machine=machine, sectors=sectors)
    for ring in coupon.rings:
        assert 1 <= len(ring.marked) <= sectors // 4
        strikes = cs.lip_strikes(ring.cut, pitch=0.3)
        out = strikes.exists.any(axis=1)
        angle = np.degrees(np.arctan2(*(strikes.xy[out] - ring.centre).T[::-1])) % 360
        sector = np.floor(angle / (360 / sectors)).astype(int) + 1
        reached = 60 * ring.cut.speed_profile.speed_at(strikes.station[out])
        graded = ~np.isin(sector, ring.marked)
        assert (reached[graded] > 0.979 * ring.cut.feed).all()
        np.testing.assert_allclose(strikes.lips.depth[out][graded], coupon.depth, rtol=1e-9)


def test_only_the_join_is_lost_where_a_longer_ramp_helps():
    """A steep ramp, which this plunge feed allows, ends in a bend that the machine slows for; a longer one does not."""
    steep = piece(machine=cs.Machine(300, 3000, plunge_feed=2500))
    assert [len(r.marked) for r in (*WHOLE.rings, *steep.rings)] == [1] * 12
    fast = max(steep.rings, key=lambda r: r.cut.feed)
    assert fast.cut.path.length > 2 * np.pi * 9 * (1 + 1.4 * 60 / 360)


def test_rings_of_a_pair_are_entered_at_different_angles():
    for setting in WHOLE.settings():
        pair = [r.marked for r in WHOLE.rings if r.setting == setting]
        assert not set(pair[0]) & set(pair[1])


@pytest.mark.parametrize("machine", [MACHINE, cs.Machine(800, 8000, corners="halt", plunge_feed=250)])
def test_rings_are_ramped_in_and_out_along_themselves(machine):
    """No plunge: down along the ring no faster than the plunge feed, a whole turn at depth, and up again."""
    coupon = piece(machine=machine)
    joins = []
    for ring in coupon.rings:
        path = ring.cut.path
        s = np.linspace(0, path.length, 4001)
        deep = path.depth_at(s)
        assert abs(deep[0]) + abs(deep[-1]) < 1e-12
        level = deep >= coupon.depth - 1e-9
        turn = np.ptp(s[level])
        assert 2 * np.pi * ring.radius < turn < 2 * np.pi * ring.radius + 1.5
        first, last = np.flatnonzero(level)[[0, -1]]
        assert level[first:last].all()
        assert (np.diff(deep[: first + 1]) > -1e-12).all()
        assert (np.diff(deep[last:]) < 1e-12).all()
        # at the typed feed, so that the machine need not slow for it
        assert (ring.cut.feed * np.diff(deep) / np.diff(s)).max() <= machine.plunge_feed
        np.testing.assert_allclose(np.hypot(*(path.position(s) - ring.centre).T), ring.radius, rtol=1e-9)
        joins.append(np.degrees(np.arctan2(*(path.position(s[first]) - ring.centre)[::-1])))
    apart = np.abs((np.subtract.outer(joins, joins) + 180) % 360 - 180)[~np.eye(6, dtype=bool)]
    assert apart.min() > 360 / coupon.sectors - 1


def test_every_lip_of_a_ring_is_there_once():
    for ring in WHOLE.rings:
        strikes = cs.lip_strikes(ring.cut, pitch=0.1)
        inner, outer = (0, 1) if ring.sense == "ccw" else (1, 0)
        for side, radius in ((inner, ring.radius - WHOLE.width / 2), (outer, ring.radius + WHOLE.width / 2)):
            out = np.hypot(*(strikes.lip_xy[:, side] - ring.centre).T)
            assert np.nansum(strikes.lip_length[:, side]) == pytest.approx(2 * np.pi * radius, rel=0.01)
            assert np.nanmax(np.abs(out - radius)) < 0.01


def boxes(coupon):
    for thing in (*coupon.rings, *coupon.extras):
        cuts = [thing.cut] if hasattr(thing, "cut") else thing.cuts
        corners = []
        for cut in cuts:
            s = np.linspace(0, cut.path.length, 400)
            half = cut.half_width(cut.path.depth_at(s))[:, None]
            xy = cut.path.position(s)
            corners += [xy - half, xy + half]
        corners = np.concatenate(corners)
        yield corners.min(axis=0), corners.max(axis=0)


@pytest.mark.parametrize("size", [None, (110, 100), (300, 60)])
def test_nothing_meets_anything_and_all_lies_inside(size):
    coupon = piece(size=size, comb=(30,), margin=8)
    if size is not None:
        assert coupon.size == size
    found = list(boxes(coupon))
    for i, (low, high) in enumerate(found):
        assert (low >= 8 - 1e-6).all()
        assert (high <= np.array(coupon.size) - 8 + 1e-6).all()
        for a, b in found[:i]:
            assert (low > b + 3.9).any() or (high < a - 3.9).any()


def test_what_does_not_fit_is_said():
    with pytest.raises(cs.DomainError, match=r"size must hold 6 rings .* 60 x 60 mm holds 1 x 1, 0 of the 3 settings"):
        piece(size=(60, 60))
    with pytest.raises(cs.DomainError, match=r"100 x 45 mm holds 3 x 1, 1 of the 3 settings"):
        piece(size=(100, 45))
    tight = piece(size=(92, 70), comb=(0,))
    assert len(tight.rings) == 6
    assert any("land comb" in words for words in tight.left_out)
    assert "left out: land comb" in str(tight)


def test_controls():
    kinds = [e.kind for e in WHOLE.extras]
    assert sorted(kinds) == ["depth stair", "grain mark", "land comb", "land comb", "straight pair", "straight pair"]
    comb = next(e for e in WHOLE.extras if e.kind == "land comb")
    across = [c.path.position(0) for c in comb.cuts]
    gaps = [np.hypot(*(b - a)) - WHOLE.width for a, b in pairwise(across)]
    np.testing.assert_allclose(gaps, LANDS, atol=1e-9)
    pair = [c for e in WHOLE.extras if e.kind == "straight pair" for c in e.cuts]
    ways = [np.round(c.path.position(c.path.length) - c.path.position(0), 9).tolist() for c in pair]
    assert sorted(ways) == [[0, 40], [40, 0]]
    for cut in pair:
        assert (cut.path.depth == WHOLE.depth).all()
        assert (cut.spindle_speed, cut.feed) == WHOLE.settings()[1]
    bare = piece(straight_pair=False, stair=False)
    assert [e.kind for e in bare.extras] == ["grain mark"]
    mark = bare.extras[0].cuts[0].path
    arms = np.diff(mark.xy, axis=0)
    np.testing.assert_allclose(arms, [[-8, 0], [0, 4.8]], atol=1e-12)
    heading = piece(comb=(30,))
    strokes = next(e for e in heading.extras if e.kind == "land comb").cuts
    assert {round(float(c.path.heading(1.0)), 6) for c in strokes} == {30.0}
    stair = next(e for e in WHOLE.extras if e.kind == "depth stair").cuts[0].path
    np.testing.assert_allclose(np.unique(np.round(stair.depth, 6)), WHOLE.depth * np.linspace(0.25, 1, 5), atol=1e-6)
    assert len(np.unique(np.round(stair.depth, 6))) == 5
    assert stair.depth.max() == pytest.approx(WHOLE.depth)


def test_the_machine_can_do_it():
    for machine in (MACHINE, cs.Machine(150, 3500, plunge_feed=150), cs.Machine(1500, 2900, plunge_feed=1000)):
        limits = cs.check_limits(piece(machine=machine, comb=(0,)).carving)
        assert not [limit for limit in limits if limit.ok is False and "violated" in str(limit.status)], limits


def test_as_a_program():
    text = cs.write_rs274(WHOLE.carving)
    again = cs.read_rs274(text, BIT)
    assert len(again) == len(WHOLE.carving)
    for one, two in zip(WHOLE.carving, again, strict=True):
        assert two.spindle_speed == one.spindle_speed
        # F is along the path in space: rounding to a micrometre changes a ramp's slope, and so the feed in the face
        moving = two.path.pieces[:, 4] > 0
        np.testing.assert_allclose(two.face_feeds[moving], one.feed, rtol=1e-5)
        # digits of a micrometre at either end of an arc
        assert two.path.length == pytest.approx(one.path.length, abs=0.02)
        share = np.linspace(0, 1, 50)
        np.testing.assert_allclose(
            two.path.position(share * two.path.length), one.path.position(share * one.path.length), atol=0.02
        )
        np.testing.assert_allclose(
            two.path.depth_at(share * two.path.length), one.path.depth_at(share * one.path.length), atol=0.01
        )
    speeds = piece([900, 1500], [12_000, 20_000])
    assert sum(len(speeds.at_speed(s)) for s in (12_000, 20_000)) == len(speeds.carving)
    with pytest.raises(cs.DomainError, match=r"spindle_speed must be one of 12000\.0, 20000\.0"):
        speeds.at_speed(15_000)


def test_codes_places_and_entries_are_drawn():
    other = piece(comb=(0, 90), seed=1)
    assert [r.code for r in other.rings] != [r.code for r in WHOLE.rings]
    assert [r.centre for r in other.rings] != [r.centre for r in WHOLE.rings]
    same = piece(comb=(0, 90))
    assert [r.code for r in same.rings] == [r.code for r in WHOLE.rings]
    assert str(same) == str(WHOLE)
    for ring in WHOLE.rings:
        assert WHOLE.ring(ring.code) is ring


BAD = {
    "feeds": (dict(feeds=[1000, 2990]), r"^feed must lie in \[100, 2940\]"),
    "none": (dict(feeds=[]), "^spindle_speed x feed must make 1 to 11"),
    "many": (dict(feeds=range(500, 1800, 100)), "^spindle_speed x feed must make 1 to 11"),
    "nan": (dict(feeds=[np.nan]), "^feed must"),
    "speed": (dict(speeds=500), "^spindle_speed must"),
    "marked": (dict(speeds=25_000), "marked maximum"),
    "machine": (dict(machine=None), "machine must be a Machine"),
    "board": (dict(board="oak"), "board must be a Board"),
    "sectors": (dict(sectors=7), r"sectors must lie in \[8, 36\]"),
    "depth": (dict(depth=0), "depth"),
    "deep": (dict(depth=12), "cutting length"),
    "name": (dict(name=" "), "name"),
    "lines": (dict(name="two\nlines"), "name must be a word or more in one line"),
    "spin": (dict(spin="left"), "spin"),
    "seed": (dict(seed=-1), "seed"),
    "size": (dict(size=(5, 100)), "size"),
    "comb": (dict(comb=(np.nan,)), "comb"),
}


@pytest.mark.parametrize("name", BAD)
def test_bad_input(name):
    change, words = BAD[name]
    with pytest.raises(cs.DomainError, match=words):
        piece(**change)


def test_sectors_of_twins_and_of_a_mirrored_piece_say_the_same():
    """Theory: on a straight board both lips of a place are alike for either way round, up to the scallops; reflecting
    path and grain with the spin reversed changes nothing."""
    record = RingSectors(WHOLE, 0.2)
    risks = record.risks(cs.RiskModel())
    assert risks.shape == (3, 6 * 12 * 2 + 2 * sum(stroke.parts for stroke in WHOLE.strokes))
    assert np.isfinite(risks).all()
    left = RingSectors(piece(spin="ccw"), 0.2).risks(cs.RiskModel())
    for i, ring in enumerate(WHOLE.rings):
        twin = next(j for j, r in enumerate(WHOLE.rings) if r.setting == ring.setting and r.sense != ring.sense)
        for s in range(1, 13):
            if s in ring.marked or 13 - s in WHOLE.rings[twin].marked:
                continue
            here = risks[:, (record.ring == i) & (record.sector == s)]
            there = left[:, (record.ring == twin) & (record.sector == 13 - s)]
            np.testing.assert_allclose(here, there, atol=0.04)


def test_sectors_are_those_of_the_map():
    """Lips told apart by where they lie: on a board whose fibres dive the two lips of a place differ."""
    board = cs.Board(cs.wood("sugar maple", moisture=8), cs.straight_grain(0, dive=20))
    coupon = piece([1200], board=board)
    record = RingSectors(coupon, 0.2)
    fuzz = record.risks(cs.RiskModel())[0]
    apart = []
    for i, ring in enumerate(coupon.rings):
        risk = cs.risk_map(ring.cut, board, pitch=0.1)
        out = risk.lip_xy - np.array(ring.centre)
        radius, angle = np.hypot(out[..., 0], out[..., 1]), np.degrees(np.arctan2(out[..., 1], out[..., 0])) % 360
        for s in set(range(1, 13)) - set(ring.marked):
            found = []
            for lip, outside in ((0, True), (1, False)):
                here = risk.exists & ((radius > ring.radius) == outside) & (np.floor(angle / 30) + 1 == s)
                value = risk.fuzz[here]
                cell = fuzz[(record.ring == i) & (record.sector == s) & (record.lip == lip)]
                assert value.min() - 0.02 <= cell[0] <= value.max() + 0.02
                # the worst third, softly
                thirds = [t.mean() for t in np.array_split(value[np.argsort(angle[here])], 3)]
                assert cell[0] == pytest.approx(np.mean(np.array(thirds) ** 8) ** (1 / 8), abs=0.03)
                found.append(cell[0])
            apart.append(abs(found[0] - found[1]))
    assert max(apart) > 0.1
