"""The main job against facts of the trade and the literature: orderings of fuzz, tear, scorch and damage.

Default coefficients throughout, nothing tuned per test. The scenes are this project's own: rings cut by four bits, in
grooves 6 to 12 mm wide, at 12 500 to 23 000 rpm and 600 to 4800 mm/min, in two woods. A fact is asked of all of them.
Where it does not hold the scene stands in a table beside the test with what was found there: a scene that joins the
table or leaves it fails the test, and so does another figure. The facts are common practice, no source, an expectation
of this project, unmeasured, or published, as each test says. The page of facts prints what is measured here.

'60/2' is a bit of 60 degrees with two flutes. Species by name stand for straight-grained boards at 12 %.
"""

from dataclasses import replace
from functools import cache

import numpy as np
import pytest
from readme_facts import held_to

import chipsim as cs
from chipsim.choosing.records import StrikeRecord, gather
from chipsim.damage.heat import flash_rise
from chipsim.damage.tearout import chip_type

MAPLE, CHERRY = WOODS = ("sugar maple", "black cherry")
BITS = {
    "60/1": cs.VBit(60, 14, 1, 0.2),
    "60/2": cs.VBit(60, 14, 2, 0.2),
    "90/2": cs.VBit(90, 16, 2, 0.2),
    "120/2": cs.VBit(120, 22, 2, 0.2),
}
WIDTHS = (6, 8, 10, 12)  # of the groove in the face [mm]
SPEEDS = (12_500, 17_000, 23_000)  # rpm
FEEDS = (600, 1200, 2400, 4800)  # mm/min
PITCH = {600: 1.4, 1200: 0.84, 2400: 0.6, 4800: 0.35}  # of the stations, finer than coarse feeds leave scallops [mm]
SLOW, FAST = (0, 3), (1, 4)  # two fourfold ranges of feed, as a slice of them
RADIUS = 16.0  # of the rings [mm]
MODEL = cs.RiskModel()
MISSED = 0.006  # how far a figure in a table of misses may lie off: half of its last digit, and a little


@cache
def board(wood, **change):
    return cs.Board(cs.wood(wood, **change), cs.straight_grain(0))


def ring_cut(bit, width, speed, feed, **change):
    return cs.Cut(bit, cs.ring(RADIUS, bit.depth_for_width(width)), speed, feed, **change)


def strikes_of(cut, pitch):
    """The teeth followed once: woods, models, edges and rakes can then be tried on their strikes."""
    return gather(cs.Carving((cut,)), pitch=pitch, bundle=MODEL.layer(cut))


def ring_map(record, wood, *, model=MODEL, bit=None, **change):
    """Risk map from a record; another edge or rake leaves the strikes as they are."""
    if bit is not None:
        cuts = tuple(replace(c, bit=replace(c.bit, **bit)) for c in record.carving.cuts)
        record = StrikeRecord(cs.Carving(cuts), record.bundle, record.blocks)
    return record.map(board(wood, **change), model)


def sectors(risk):
    """Length-weighted mean fuzz of both lips in 24 sectors of a ring."""
    at = (np.degrees(np.arctan2(risk.xy[:, 1], risk.xy[:, 0])) % 360 // 15).astype(int)
    size = np.where(risk.exists, risk.lip_length, 0.0)
    fuzz = np.where(risk.exists, risk.fuzz, 0.0)
    return np.bincount(at, (fuzz * size).sum(axis=1), 24) / np.bincount(at, size.sum(axis=1), 24)


def heat(risk):
    """Mean temperature of the lips [C] and mean scorch."""
    return float(risk.temperature[risk.exists].mean()), risk.mean("scorch")


@pytest.fixture(scope="module")
def rings():
    """What every ring comes to by wood, bit and width: by name, (speeds, feeds) or (speeds, feeds, 24 sectors)."""
    found = {(wood, bit, width): {} for wood in WOODS for bit in BITS for width in WIDTHS}
    for bit, cutter in BITS.items():
        for width in WIDTHS:
            for speed in SPEEDS:
                for feed in FEEDS:
                    record = strikes_of(ring_cut(cutter, width, speed, feed), PITCH[feed])
                    for wood in WOODS:
                        risk = ring_map(record, wood)
                        against = risk.exists & (risk.fibre_angle > 5) & (risk.fibre_angle < 80)
                        each = sectors(risk)
                        values = {"sectors": each, "worst": each.max(), "mean": risk.mean("fuzz")}
                        values |= {"against": risk.fuzz[against].max()}
                        values |= dict(zip(("temperature", "scorch"), heat(risk), strict=True))
                        for name, value in values.items():
                            found[wood, bit, width].setdefault(name, []).append(value)
    shape = (len(SPEEDS), len(FEEDS))
    return {k: {n: np.reshape(v, (*shape, *np.shape(v[0]))) for n, v in s.items()} for k, s in found.items()}


def missed(figures, holds):
    """The figures that do not hold."""
    return {k: float(v) for k, v in figures.items() if not holds(v)}


def among(figures, *words):
    """Least and largest figure of those that have all these words or numbers in their key."""
    some = [v for k, v in figures.items() if set(words) <= set(k)]
    return min(some), max(some)


def by_width(*rows):
    """Figures by wood, bit and width from rows (wood, bit, one figure for each width); None where the fact holds."""
    return {(w, b, size): v for w, b, *each in rows for size, v in zip(WIDTHS, each, strict=True) if v is not None}


# --- the fuzz on a ring -----------------------------------------------------------------------------------------------

NOT_HALVED = by_width(
    (MAPLE, "60/1", 0.543, None, None, None),
    (CHERRY, "60/1", 0.697, None, None, None),
    (CHERRY, "60/2", 0.63, None, None, None),
    (CHERRY, "90/2", 0.62, None, None, None),
    (CHERRY, "120/2", 0.57, None, None, None),
)


def test_over_the_speeds_of_a_trim_router_fuzz_falls_to_half_or_less(rings):
    """Common practice, no source: from 12 500 to 23 000 rpm, in the worst sector, mean of the feeds.

    It holds in all grooves 8 mm wide and wider, and with two flutes in maple 6 mm wide. A narrower groove has a slower
    lip.
    """
    kept = {k: s["worst"][-1].mean() / s["worst"][0].mean() for k, s in rings.items()}
    assert missed(kept, lambda v: v <= 0.5) == pytest.approx(NOT_HALVED, abs=MISSED)
    wide = {k: v for k, v in kept.items() if k[2] >= 8}
    figures = [8, 12, *among(wide, MAPLE), *among(wide, CHERRY)]
    narrow = [6, *among(kept, MAPLE, 6), *among(kept, CHERRY, 6)]
    held_to("from 12 500 to 23 000 rpm fuzz in the worst sector falls to half", [*figures, *narrow])


def test_every_step_of_speed_takes_fuzz_away(rings):
    """Common practice, no source: in the worst sector, at each feed by itself."""
    most = {(*k, f): np.diff(s["worst"][:, i]).max() for k, s in rings.items() for i, f in enumerate(FEEDS)}
    assert missed(most, lambda v: v < 0) == {}
    held_to("every step of speed takes some", [len(most), -max(most.values()), 600, 4800])


FEED_MOVES_MORE = {
    SLOW: by_width(
        (CHERRY, "60/1", 0.51, 0.341, 0.398, 0.39),
        (CHERRY, "60/2", None, None, None, 0.426),
        (CHERRY, "90/2", None, None, None, 0.415),
        (CHERRY, "120/2", None, None, None, 0.349),
    ),
    FAST: by_width(
        (MAPLE, "60/1", 0.90, 0.52, None, None),
        (CHERRY, "60/1", 0.445, 0.474, 0.338, 0.363),
        (CHERRY, "60/2", 0.513, 0.345, 0.401, 0.393),
        (CHERRY, "90/2", 0.513, 0.335, 0.401, 0.427),
        (CHERRY, "120/2", 0.402, None, 0.368, 0.451),
    ),
}


def test_a_fourfold_feed_matters_little_beside_the_speed(rings):
    """Common practice, no source: at each speed it moves the worst sector by at most a third of what the speeds take.

    From 600 to 2400 mm/min it does so on most rings, from 1200 to 4800 on fewer. A share near a third moves by up
    to 0.03 with the spacing of the stations.
    """
    figures = []
    for feeds, misses in FEED_MOVES_MORE.items():
        among_these = slice(*feeds)
        worst = {k: s["worst"][:, among_these] for k, s in rings.items()}
        share = {k: np.ptp(w, axis=1).max() / (w[0].mean() - w[-1].mean()) for k, w in worst.items()}
        wrong = missed(share, lambda v: v <= 1 / 3)
        assert wrong == pytest.approx(misses, abs=MISSED)
        one = [v for k, v in wrong.items() if k[1] == "60/1"]
        two = [v for k, v in wrong.items() if k[1] != "60/1"]
        figures += [FEEDS[feeds[0]], FEEDS[feeds[1] - 1], len(share) - len(wrong)]
        figures += [len(share), min(one), max(one), max(two)] if feeds == SLOW else [min(two), max(two), max(one)]
    held_to("at each speed a fourfold feed moves it", figures)


FASTER_IS_BETTER = {
    (MAPLE, "120/2", 8): -0.002,
    (MAPLE, "120/2", 10): -0.003,
    (MAPLE, "120/2", 12): -0.005,
    (CHERRY, "120/2", 10): -0.001,
    (CHERRY, "120/2", 12): -0.003,
}


def test_at_the_highest_speed_fast_feeds_are_somewhat_worse(rings):
    """Common practice, no source: in the worst sector, 2400 against 600 mm/min and 4800 against the slower ones."""
    some = {k: s["worst"][-1, 2] - s["worst"][-1, 0] for k, s in rings.items()}
    assert missed(some, lambda v: 0 < v < 0.15) == pytest.approx(FASTER_IS_BETTER, abs=MISSED)
    most = {k: s["worst"][-1, 3] - s["worst"][-1, :3].mean() for k, s in rings.items()}
    assert missed(most, lambda v: 0 < v < 0.2) == {}
    better = [v for k, v in some.items() if k not in FASTER_IS_BETTER]
    figures = [23_000, 600, 2400, len(better), len(some), min(better), max(better), -min(some.values())]
    held_to("at high speed the fastest feeds", [*figures, 4800, len(most), min(most.values()), max(most.values())])


def test_fuzz_sits_in_two_opposite_sectors_with_the_grain(rings):
    """Common practice, no source; on all rings, at every speed and feed."""
    for key, scene in rings.items():
        for value in scene["sectors"].reshape(-1, 24):
            assert np.abs(value[:12] - value[12:]).max() < 0.03, key  # opposite sectors alike
            # with the grain: cut counter-clockwise, beta = -heading = -(azimuth + 90) mod 180 in (90, 180)
            assert 90 < -(int(value.argmax()) * 15 + 7.5 + 90) % 180 < 180, key
            if value.max() >= 0.1:  # a ring that is clean has no sectors
                poor = value > 0.5 * value.max()
                assert int((poor & ~np.roll(poor, 1)).sum()) == 2, key  # one block and its opposite, nothing else


def test_against_the_grain_lips_are_clean_of_fuzz(rings):
    """Common practice, no source: below 0.10, the class 'clean', at the worst place of the lips."""
    most = {(*k, f): s["against"][:, i].max() for k, s in rings.items() for i, f in enumerate(FEEDS)}
    assert missed(most, lambda v: v < 0.10) == {}
    held_to("fuzz sits in two opposite sectors", [among(most, MAPLE)[1], among(most, CHERRY)[1]])


def test_the_included_angle_matters_little_at_equal_width(rings):
    """Expectation of this project, unmeasured: the ring's mean fuzz with 60 and 120 degrees is within 20 % of 90."""
    figures = []
    for bit in ("60/2", "120/2"):
        share = [s["mean"] / rings[k[0], "90/2", k[2]]["mean"] for k, s in rings.items() if k[1] == bit]
        figures += [100 * (1 - np.min(share)), 100 * (np.max(share) - 1)]
        assert np.abs(np.array(share) - 1).max() <= 0.2
    held_to("included angle matters little", [90, 60, *figures[:2], 120, *figures[2:]])


SECOND_FLUTE_ADDS = {
    (MAPLE, 6, 2400): 0.051,
    (MAPLE, 8, 2400): 0.028,
    (MAPLE, 6, 4800): 0.082,
    (MAPLE, 8, 4800): 0.066,
    (MAPLE, 10, 4800): 0.046,
    (MAPLE, 12, 4800): 0.025,
    (CHERRY, 6, 4800): 0.024,
}


def test_a_second_flute_helps_less_than_the_speed(rings):
    """Expectation of this project, unmeasured: in the worst sector, and it adds at most 0.02 there.

    That it helps less holds everywhere; at coarse feeds it adds more than that.
    """
    takes, adds, speed = {}, {}, {}
    for wood in WOODS:
        for width in WIDTHS:
            one, two = (rings[wood, bit, width]["worst"] for bit in ("60/1", "60/2"))
            for i, feed in enumerate(FEEDS):
                less = (one - two)[:, i]
                takes[wood, width, feed], adds[wood, width, feed] = less.max(), -less.min()
                speed[wood, width, feed] = one[0, i] - one[-1, i]
    assert missed({k: speed[k] - takes[k] for k in speed}, lambda v: v > 0) == {}
    assert missed(adds, lambda v: v <= 0.02) == pytest.approx(SECOND_FLUTE_ADDS, abs=MISSED)
    slower = [v for k, v in speed.items() if k[2] < 4800]
    least = min(speed[k] - takes[k] for k in speed)
    figures = [max(takes.values()), min(slower), max(slower), 2400, least, max(adds.values()), 4800, 6]
    held_to("a second flute helps less than the speed", figures)


# --- edge, wood, moisture, rake ---------------------------------------------------------------------------------------

SCENES = {  # each bit, width, speed and feed once
    "60/1": (12, 17_000, 2400),
    "60/2": (6, 12_500, 600),
    "90/2": (8, 23_000, 1200),
    "120/2": (10, 17_000, 4800),
}
each_wood = pytest.mark.parametrize("wood", WOODS)
each_scene = pytest.mark.parametrize("scene", SCENES)


@pytest.fixture(scope="module")
def records():
    return {bit: strikes_of(ring_cut(BITS[bit], *setting), pitch=2.0) for bit, setting in SCENES.items()}


def test_an_edge_leaves_the_strikes_as_they_are(records):
    """What the tests below rest on: the map of a record with another edge and rake is that of a cut made with them."""
    bit = replace(BITS["90/2"], edge_radius=0.02, rake=12)
    whole = cs.risk_map(ring_cut(bit, *SCENES["90/2"]), board(MAPLE), pitch=2.0)
    part = ring_map(records["90/2"], MAPLE, bit={"edge_radius": 0.02, "rake": 12})
    for name in ("fuzz", "tear", "scorch"):
        np.testing.assert_array_equal(whole.values(name), part.values(name))


@each_scene
@each_wood
def test_a_duller_edge_is_fuzzier(records, scene, wood):
    """Wengert 2011 (trade article): dull edges raise fuzz."""
    some = [ring_map(records[scene], wood, bit={"edge_radius": r}) for r in (0.005, 0.008, 0.016, 0.032)]
    assert (np.diff([sectors(m).max() for m in some]) > 0).all()


@each_scene
def test_lighter_woods_are_fuzzier(records, scene):
    """Wengert 2011: weak, light species fuzz most."""
    names = (MAPLE, CHERRY, "yellow-poplar", "american basswood")
    assert (np.diff([cs.wood(n).density for n in names]) < 0).all()
    assert (np.diff([ring_map(records[scene], n).mean("fuzz") for n in names]) > 0).all()


@each_scene
@each_wood
def test_wetter_wood_is_fuzzier(records, scene, wood):
    """Wengert 2011: moisture above 6 % raises fuzz."""
    values = [ring_map(records[scene], wood, moisture=m).mean("fuzz") for m in (6, 9, 12, 18)]
    assert (np.diff(values) > 0).all()


@cache
def by_rake(record, wood):
    """Worst sector's fuzz and mean tear for rakes of 0, 10, 18 (near the angle of friction) and 30 degrees."""
    maps = [ring_map(record, wood, bit={"rake": r}) for r in (0, 10, 18, 30)]
    return np.array([[sectors(m).max(), m.mean("tear")] for m in maps]).T


@each_scene
@each_wood
def test_more_rake_less_fuzz_more_tear(records, scene, wood):
    """Koch 1964 and Franz 1958 (from memory), Stewart (trade article): the lever that cuts both ways.

    Up to the angle of friction: beyond, where the face lifts the fibres, fuzz rises as well.
    """
    fuzz, tear = by_rake(records[scene], wood)
    assert (np.diff(fuzz[:3]) < 0).all()
    assert fuzz[3] > fuzz[2]
    assert (np.diff(tear) > 0).all()


def test_what_rake_does_to_fuzz_and_tear(records):
    """The figures of the page of facts: what a rake of 18 leaves of the fuzz that 0 has, and 30 of that of 18; tear."""
    found = [by_rake(record, wood) for record in records.values() for wood in WOODS]
    fuzz, more = [f[0, 2] / f[0, 0] for f in found], [f[0, 3] / f[0, 2] for f in found]
    tear = [100 * (f[1, -1] / f[1, 0] - 1) for f in found]
    figures = [0, 18, min(fuzz), max(fuzz), 30, min(more), max(more), 0, 30, min(tear), max(tear)]
    held_to("duller edge, lighter wood", figures)


@pytest.mark.parametrize("bit", ["60/2", "120/2"])
def test_a_rubbed_lip_is_a_fuzzy_lip(bit):
    """As strikes go to nothing the fuzz does not: slow feed at low speed with a dull edge is worst of all."""
    crawling, usual = (strikes_of(ring_cut(BITS[bit], 8, SPEEDS[0], feed), pitch=4.19) for feed in (100, 1200))
    for wood in WOODS:
        rubbed = sectors(ring_map(crawling, wood, bit={"edge_radius": 0.05})).max()
        assert rubbed > sectors(ring_map(usual, wood)).max()


# --- the published V-grooves ------------------------------------------------------------------------------------------

STEPS = np.arange(0, 91, 15.0)
SCALES = (1 / 3, 1.0, 3.0)
PUBLISHED = ("sugar maple", "red maple", "white oak", "northern red oak")


@cache
def published(wood, width, feed, scale):
    """Mean damage of both lips at every angle to the grain: leaning one way, the other, and the mean of both."""
    cut = cs.Cut(cs.VBit(90, 12.7, 2), cs.line((0, 0), (30, 0), width / 2), 15_000, feed)
    model = cs.RiskModel(tear_scale=0.2 * scale)
    rose = cs.risk_rose(cut, board(wood), headings=np.concatenate([STEPS, -STEPS]), model=model)
    one, other = rose.damage.mean(axis=1).reshape(2, -1)
    return {"fuzzy": one, "torn": other, "mean": (one + other) / 2}


@pytest.mark.parametrize("wood", PUBLISHED)
@pytest.mark.parametrize("width", [4, 6])
@pytest.mark.parametrize("feed", [3000, 6000])
@pytest.mark.parametrize("scale", SCALES)
def test_least_along_the_grain_worst_at_60(wood, width, feed, scale):
    """Lungu, Gurau & Cosereanu 2023, BioResources 18(3) 5334 (abstract): maple and oak, 15 000 rpm, 90 degrees.

    Folded to 0..90 there, so that it is open which way the grooves leaned: it must hold for both and for their mean.
    What the abstract leaves open and is taken here: two flutes, feeds, widths, the species of oak.
    """
    for lean, damage in published(wood, width, feed, scale).items():
        assert STEPS[damage.argmin()] == 0, lean
        assert STEPS[damage.argmax()] == 60, lean


def test_margins_of_the_published_order():
    """The figures of the page of facts: by how much the worst angle leads the next, in per cent of the next."""
    lead = {}
    for wood in PUBLISHED:
        for width in (4, 6):
            for feed in (3000, 6000):
                for scale in SCALES:
                    for lean, damage in published(wood, width, feed, scale).items():
                        second, first = np.sort(damage)[-2:]
                        lead[wood, width, feed, scale, lean] = 100 * (first / second - 1)
    low, high = among(lead, 1.0, "mean")
    least = min(lead, key=lambda k: lead[k])
    assert least[2] == 6000
    held_to("V-grooves in maple and oak", [60, low, high, 6000, among(lead, 1 / 3, "mean")[0], lead[least]])


@pytest.mark.parametrize("feed", [3000, 6000])
def test_both_failures_take_part(feed):
    """Which of them is worst at 60 depends on the lean: with the grain fuzz, against it tear; both are."""
    cut = cs.Cut(cs.VBit(90, 12.7, 2), cs.line((0, 0), (30, 0), 2.0), 15_000, feed)
    rose = cs.risk_rose(cut, board(MAPLE), headings=np.concatenate([STEPS, -STEPS]))
    fuzz, tear = (rose.values(n).mean(axis=1).reshape(2, -1) for n in ("fuzz", "tear"))
    assert STEPS[fuzz[0].argmax()] == 60
    assert STEPS[tear[1].argmax()] == 60
    assert fuzz[1, 1:6].max() < 0.01 > tear[0, 1:5].max()


# --- kinds of chip ----------------------------------------------------------------------------------------------------


@each_wood
def test_chips_that_split(wood):
    """Matsuda et al. 2018, J Wood Sci (abstract; hinoki, see test_tearout.py): here the library's own woods.

    Along the grain: rake >= 30 and h >= 0.1 mm splits; rake <= 20 does not.
    """
    chips = np.array([0.1, 0.15, 0.2])
    for rake in (30, 40):
        assert (chip_type(chips, 0.0, cs.wood(wood), rake=rake) == "split").all()
    for rake in (0, 10, 20):
        assert (chip_type(chips, 0.0, cs.wood(wood), rake=rake) != "split").all()


# --- scorch -----------------------------------------------------------------------------------------------------------


def rising(maps):
    temperature, scorch = np.array([heat(m) for m in maps]).T
    return (np.diff(temperature) > 0).all() and (np.diff(scorch) > 0).all()


def test_slow_feed_and_high_speed_scorch(rings):
    """Common practice, no source: slow feed at high speed burns; every step, on all rings."""
    for key, scene in rings.items():
        for name in ("temperature", "scorch"):
            assert (np.diff(scene[name], axis=1) < 0).all(), key
            assert (np.diff(scene[name], axis=0) > 0).all(), key


EDGES = (0.008, 0.012, 0.02, 0.03)  # mm


@each_scene
@each_wood
def test_a_larger_worn_land_scorches(records, scene, wood):
    """Common practice, no source; the land grows with the edge's radius, or by itself."""
    assert rising([ring_map(records[scene], wood, bit={"edge_radius": r}) for r in EDGES])
    assert rising([ring_map(records[scene], wood, model=cs.RiskModel(land=b)) for b in (1.0, 2.5, 6.0)])


def test_what_heats_a_lip_and_by_how_much(rings, records):
    """The figures of the page of facts: least steps, the range in maple, and an edge worn from 8 to 30 um. [K], [C]"""
    grid = {k: s["temperature"] for k, s in rings.items()}
    slower = min(-np.diff(t, axis=1).max() for t in grid.values())
    faster = min(np.diff(t, axis=0).min() for t in grid.values())
    maple = [t for k, t in grid.items() if k[0] == MAPLE]
    worn = [[heat(ring_map(r, MAPLE, bit={"edge_radius": e}))[0] for r in records.values()] for e in EDGES[::3]]
    fresh, dull = ((min(w), max(w)) for w in worn)
    figures = [600, 4800, slower, faster, np.min(maple), np.max(maple), *fresh, *dull, 8, 30]
    held_to("scorch rises with slower feed", figures)


QUICK = pytest.mark.xfail(
    reason="at 800 mm/s^2 and the default gap the corner is taken so fast that its coolest lip is 7 C below the hottest"
)


@pytest.mark.parametrize("acceleration", [150, 300, pytest.param(800, marks=QUICK)])
def test_corners_where_the_feed_drops_scorch(acceleration):
    """Common practice, no source: a machine that slows for the corner rubs there longer."""
    machine = cs.Machine(acceleration=acceleration, max_feed=5000)
    bit = cs.VBit(90, 12.7, 2, edge_radius=0.016)
    path = cs.polyline([(0, 0), (25, 0), (25, 25)], 2.5)
    # at 45 degrees to both legs, so that as much heat runs off along the fibres on either
    wood = cs.Board(cs.wood(MAPLE), cs.straight_grain(45))
    real, typed = (cs.risk_map(cs.Cut(bit, path, 18_000, 2000, machine=m), wood) for m in (machine, None))
    run = (real.kind == "run")[:, None] & real.exists
    slow = run & (np.abs(real.station - 25) < 3)[:, None] & (real.feed_per_tooth < 0.6 * 2000 / 36_000)
    straight = run & ((np.abs(real.station - 25) > 6) & (np.abs(real.station - 25) < 14))[:, None]
    assert slow.any()
    assert real.temperature[slow].min() > real.temperature[straight].max()
    assert real.temperature[slow].mean() > real.temperature[straight].mean() + 5
    assert real.scorch[slow].mean() > 1.5 * real.scorch[straight].mean()
    # away from the corner the machine makes no difference, and without one the corner is no hotter
    np.testing.assert_allclose(real.temperature[straight].mean(), typed.temperature[straight].mean(), rtol=0.01)
    assert typed.temperature[slow].mean() < typed.temperature[straight].mean() + 2


def test_flash_by_speed_and_land():
    """Jaeger 1942: flash ~ sqrt(v land); a land worn from 20 to 100 um 2.2 times, twice the speed 1.4."""
    maple = cs.wood(MAPLE)
    here = flash_rise(30, 5, 0.02, maple, friction=0.4)
    assert flash_rise(30, 5, 0.1, maple, friction=0.4) / here == pytest.approx(2.236, abs=1e-3)
    assert flash_rise(30, 10, 0.02, maple, friction=0.4) / here == pytest.approx(1.414, abs=1e-3)


@each_wood
def test_char_range(records, wood):
    """Lowden & Hull 2013: below 225 C wood is not yet brown, above 280 C it chars; edges from fresh to worn."""
    maps = [ring_map(record, wood, bit={"edge_radius": r}) for record in records.values() for r in EDGES]
    temperature, scorch = (np.concatenate([getattr(m, n)[m.exists] for m in maps]) for n in ("temperature", "scorch"))
    cool, hot = temperature < 225, temperature > 280
    assert min(cool.sum(), hot.sum()) > 100
    assert (scorch[cool] < 0.1).all()
    assert (scorch[hot] > 0.9).all()


# --- skims ------------------------------------------------------------------------------------------------------------

LEFT = (None, 0.7, 0.4, 0.25, 0.15, 0.08, 0.03)  # mm of wood left at the lip by a rough pass, None without one
SKIMS = {  # width, speed, feed
    "60/2": (6, 13_000, 2400),
    "90/2": (8, 13_000, 4800),
    "120/2": (10, 18_000, 4800),
}
SKIMMED = ("sugar maple", "white oak", "black cherry")


BURNING = {("120/2", wood): v for wood, v in zip(SKIMMED, (0.70, 0.22, 0.09), strict=True)}
"""Mean scorch without a skim, where it is 0.05 or more."""


@pytest.fixture(scope="module")
def skims():
    """Means of rings with a worn edge by bit, wood and scale of tear: by name, in the order of `LEFT`."""
    found = {}
    for name, (width, speed, feed) in SKIMS.items():
        bit = replace(BITS[name], edge_radius=0.02)
        across = np.tan(np.radians(bit.included_angle / 2))  # a pass that stops short by d leaves this much of d
        cuts = [ring_cut(bit, width, speed, feed, passes=None if v is None else [v / across]) for v in LEFT]
        records = [strikes_of(cut, pitch=2.9) for cut in cuts]
        for wood in SKIMMED:
            for scale in SCALES:
                maps = [ring_map(r, wood, model=cs.RiskModel(tear_scale=0.2 * scale)) for r in records]
                means = {n: np.array([m.mean(n) for m in maps]) for n in ("damage", "fuzz", "tear", "scorch")}
                found[name, wood, scale] = means
    return found


COOL = [case for case in ((bit, wood) for bit in SKIMS for wood in SKIMMED) if case not in BURNING]


@pytest.mark.parametrize(("bit", "wood"), COOL)
@pytest.mark.parametrize("scale", SCALES)
def test_a_light_skim_is_best(skims, bit, wood, scale):
    """Common practice, no source: a skim cures tear-out; too thin a one leaves what the rough pass tore."""
    damage, _, tear, _ = skims[bit, wood, scale].values()
    best, thin = int(damage.argmin()), -1
    assert best > 0
    assert 0.1 <= LEFT[best] <= 0.5
    assert damage[best] < damage[0] - 0.005
    assert damage[best] < damage[thin] - 0.01
    assert tear[best] < 0.85 * tear[0]  # it cures tear-out
    assert tear[thin] > tear[best]  # and leaves what the rough pass tore


@pytest.mark.xfail(
    reason="what the rough pass severed stays severed: where 0.03 mm is left there is 0.00 to 0.01 more fuzz",
    raises=AssertionError,
)
@pytest.mark.parametrize(("bit", "wood"), COOL)
def test_too_thin_a_skim_makes_fuzz(skims, bit, wood):
    """Wengert 2011: too small a depth of cut makes fuzz."""
    damage, fuzz, _, _ = skims[bit, wood, 1.0].values()
    assert fuzz[-1] > fuzz[int(damage.argmin())] + 0.02


def test_where_the_lip_burns_a_skim_is_another_matter(skims):
    """Where scorch rules, few strikes matter most: in maple and oak the thinnest skim is best, any better than none."""
    scorch = {(bit, wood): float(s["scorch"][0]) for (bit, wood, scale), s in skims.items() if scale == 1.0}
    assert missed(scorch, lambda v: v < 0.05) == pytest.approx(BURNING, abs=MISSED)
    for bit, wood in BURNING:
        damage = skims[bit, wood, 1.0]["damage"]
        assert damage[1:].max() < damage[0]
        assert wood == CHERRY or damage.argmin() == len(LEFT) - 1


def test_how_much_a_skim_does(skims):
    """The page of facts: the best amounts left where no lip burns, the damage in maple, the fuzz of thin ones."""
    cool = [s for k, s in skims.items() if k[:2] not in BURNING]
    left = [LEFT[s["damage"].argmin()] for s in cool]
    damage = skims["90/2", MAPLE, 1.0]["damage"]
    more = [(s["fuzz"][-1] - s["fuzz"][s["damage"].argmin()]) for s in cool]
    figures = [min(left), max(left), 8, damage[0], damage.min(), damage[-1], LEFT[-1], LEFT[-1], min(more), max(more)]
    held_to("with a worn edge a light skim", figures)
