"""The main job against the facts of the trade and the literature: orderings of fuzz, tear, scorch and damage (14-23).

Default coefficients throughout, nothing tuned per test. The scene of practice: a one-flute 90 degree bit about 17 mm
wide, grooves 10 mm wide, feeds of 20, 40 and 80 in/min, then 100, 150 and 200, at a trim router's speeds; common
practice, no source. Species by name stand for straight-grained boards at 12 %.
"""

from dataclasses import replace

import numpy as np
import pytest

import chipsim as cs
from chipsim.heat import flash_rise

WOODS = ("sugar maple", "black cherry")
DIAL = (12_000, 16_000, 22_000)  # rpm
FEEDS = (20, 40, 80)  # in/min
FAST = (100, 150, 200)  # in/min
BIT = cs.VBit(90, 17, 1)
DEPTH = 5.0  # mm


def board(wood, **change):
    return cs.Board(cs.wood(wood, **change), cs.straight_grain(0))


def ring_map(speed, feed, wood, *, bit=BIT, depth=DEPTH, **change):
    cut = cs.Cut(bit, cs.ring(15, depth), speed, feed * cs.ipm)
    return cs.risk_map(cut, board(wood, **change), pitch=0.5)


def sectors(risk, width=15.0):
    """Length-weighted mean fuzz of both lips in sectors of the ring."""
    at = np.degrees(np.arctan2(risk.xy[:, 1], risk.xy[:, 0])) % 360
    which = (at // width).astype(int)
    out = []
    for k in range(round(360 / width)):
        m = risk.exists & (which == k)[:, None]
        out.append(np.sum(risk.fuzz[m] * risk.lip_length[m]) / np.sum(risk.lip_length[m]))
    return np.array(out)


def worst(speed, feed, wood, **k):
    return sectors(ring_map(speed, feed, wood, **k)).max()


@pytest.fixture(scope="module")
def table():
    """Worst-sector fuzz by wood: (speeds, feeds)."""
    return {w: np.array([[worst(s, f, w) for f in FEEDS] for s in DIAL]) for w in WOODS}


@pytest.mark.parametrize("wood", WOODS)
def test_14_speed_halves_the_fuzz(table, wood):
    """Check 14; common practice, no source: over the dial the worst sector's fuzz falls to half or less."""
    low, _, high = table[wood].mean(axis=1)
    assert high <= 0.5 * low


@pytest.mark.parametrize("wood", WOODS)
def test_14_feed_matters_little_beside_speed(table, wood):
    """Check 14; common practice, no source: at each speed a fourfold feed moves it by at most a third of the drop."""
    drop = table[wood][0].mean() - table[wood][-1].mean()
    assert (np.ptp(table[wood], axis=1) <= drop / 3).all()


@pytest.mark.parametrize(
    "wood",
    [
        "sugar maple",
        pytest.param(
            "black cherry",
            marks=pytest.mark.xfail(
                reason="0.60 of the low end: a narrower groove has a slower lip, cherry then needs 24 000 rpm (0.49)"
            ),
        ),
    ],
)
def test_14_in_narrower_grooves(wood):
    """Check 14 in grooves 8 mm wide; common practice, no source, does not say how wide its grooves were."""
    low, high = (np.mean([worst(speed, f, wood, depth=4.0) for f in FEEDS]) for speed in (DIAL[0], DIAL[-1]))
    assert high <= 0.5 * low


@pytest.mark.parametrize("wood", WOODS)
def test_14_at_the_highest_speed_80_is_a_little_worse_than_20(table, wood):
    """Figures of practice; common practice, no source."""
    assert 0 < table[wood][-1, 2] - table[wood][-1, 0] < 0.15


@pytest.mark.parametrize("wood", WOODS)
@pytest.mark.parametrize("speed", DIAL)
@pytest.mark.parametrize("feed", [20, 80])
def test_15_fuzz_sits_in_two_opposite_sectors_with_the_grain(wood, speed, feed):
    """Check 15; common practice, no source."""
    risk = ring_map(speed, feed, wood)
    value = sectors(risk)
    peak = int(value.argmax())
    # opposite sectors alike
    np.testing.assert_allclose(value[:12], value[12:], atol=0.03)
    # the peak is on the with-grain half: cut counter-clockwise, beta = -heading = -(azimuth + 90) mod 180 in (90, 180)
    beta = -(peak * 15 + 7.5 + 90) % 180
    assert 90 < beta < 180
    against = risk.exists & (risk.fibre_angle > 5) & (risk.fibre_angle < 80)
    assert risk.fuzz[against].max() < 0.10  # the class "clean"
    # one block of poor sectors and its opposite, nothing else
    poor = value > 0.5 * value.max()
    assert int((poor & ~np.roll(poor, 1)).sum()) == 2


@pytest.mark.parametrize("wood", WOODS)
def test_16_fastest_feeds_are_worse_at_high_speed(table, wood):
    """Check 16; common practice, no source."""
    fast = np.mean([worst(DIAL[-1], f, wood) for f in FAST])
    assert table[wood][-1].mean() < fast < table[wood][-1].mean() + 0.2


@pytest.mark.parametrize("wood", WOODS)
@pytest.mark.parametrize("angle", [60, 120])
def test_17_angle_matters_little_at_equal_width(wood, angle):
    """Check 17; common practice, no source (expected, unmeasured): mean fuzz of the ring within 20 % of 90 degrees."""
    value = []
    for included in (angle, 90):
        bit = cs.VBit(included, 17, 1)
        value.append(ring_map(16_000, 40, wood, bit=bit, depth=bit.depth_for_width(2 * DEPTH)).mean("fuzz"))
    assert value[0] == pytest.approx(value[1], rel=0.2)


@pytest.mark.parametrize("wood", WOODS)
@pytest.mark.parametrize("speed", DIAL)
def test_18_a_second_flute_helps_less_than_the_dial(table, wood, speed):
    """Check 18; common practice, no source (expected, unmeasured)."""
    one = table[wood][DIAL.index(speed), 1]
    two = worst(speed, 40, wood, bit=replace(BIT, flutes=2))
    assert two - one <= 0.02
    low, _, high = table[wood][:, 1]
    assert one - two < low - high


@pytest.mark.parametrize("wood", WOODS)
def test_20_a_duller_edge_is_fuzzier(wood):
    """Check 20; Wengert 2011 (trade article): dull edges raise fuzz."""
    values = [worst(16_000, 40, wood, bit=replace(BIT, edge_radius=r)) for r in (0.005, 0.008, 0.016, 0.032)]
    assert (np.diff(values) > 0).all()


def test_20_lighter_woods_are_fuzzier():
    """Check 20; Wengert 2011: weak, light species fuzz most."""
    names = ("sugar maple", "black cherry", "yellow-poplar", "american basswood")
    density = [cs.wood(n).density for n in names]
    values = [ring_map(16_000, 40, n).mean("fuzz") for n in names]
    assert (np.diff(density) < 0).all()
    assert (np.diff(values) > 0).all()


@pytest.mark.parametrize("wood", WOODS)
def test_20_wetter_wood_is_fuzzier(wood):
    """Check 20; Wengert 2011: moisture above 6 % raises fuzz."""
    values = [ring_map(16_000, 40, wood, moisture=m).mean("fuzz") for m in (6, 9, 12, 18)]
    assert (np.diff(values) > 0).all()


@pytest.mark.parametrize("wood", WOODS)
def test_20_more_rake_less_fuzz_more_tear(wood):
    """Check 20; Koch 1964 and Franz 1958 (from memory), Stewart (trade article): the lever that cuts both ways."""
    maps = [ring_map(16_000, 40, wood, bit=replace(BIT, rake=r)) for r in (0, 10, 20, 30)]
    assert (np.diff([sectors(m).max() for m in maps]) < 0).all()
    assert (np.diff([m.mean("tear") for m in maps]) > 0).all()


def test_a_rubbed_lip_is_a_fuzzy_lip():
    """As strikes go to nothing the fuzz does not: slow feed at low speed with a dull edge is worst of all."""
    dull = replace(BIT, edge_radius=0.05)
    assert worst(10_000, 4, "black cherry", bit=dull) > worst(10_000, 40, "black cherry")


# --- 19 the published V-grooves ---------------------------------------------------------------------------------------

STEPS = np.arange(0, 91, 15.0)
SCALES = (1 / 3, 1.0, 3.0)


def by_angle(wood, half_width, per_tooth, scale):
    """Mean damage of both lips at every angle to the grain: leaning one way, the other, and the mean of both."""
    cut = cs.Cut(cs.VBit(90, 12.7, 2), cs.line((0, 0), (30, 0), half_width), 15_000, per_tooth * 30_000)
    model = cs.RiskModel(tear_scale=0.2 * scale)
    rose = cs.risk_rose(cut, board(wood), headings=np.concatenate([STEPS, -STEPS]), model=model)
    one, other = rose.damage.mean(axis=1).reshape(2, -1)
    return {"fuzzy": one, "torn": other, "mean": (one + other) / 2}


@pytest.mark.parametrize("wood", ["sugar maple", "red maple", "white oak", "northern red oak"])
@pytest.mark.parametrize("half_width", [2, 3])
@pytest.mark.parametrize("per_tooth", [0.1, 0.2])
@pytest.mark.parametrize("scale", SCALES)
def test_19_least_along_the_grain_worst_at_60(wood, half_width, per_tooth, scale):
    """Check 19; Lungu, Gurau & Cosereanu 2023, BioResources 18(3) 5334 (abstract): maple and oak, 15 000 rpm, 90 deg.

    Folded to 0..90 there, so that it is open which way the grooves leaned: it must hold for both and for their mean.
    What the abstract leaves open and is taken here: two flutes, feeds per tooth, widths, the species of oak.
    """
    for lean, damage in by_angle(wood, half_width, per_tooth, scale).items():
        assert STEPS[damage.argmin()] == 0, lean
        assert STEPS[damage.argmax()] == 60, lean


@pytest.mark.parametrize("per_tooth", [0.1, 0.2])
def test_19_both_failures_take_part(per_tooth):
    """Which of them is worst at 60 depends on the lean: with the grain fuzz, against it tear; both are."""
    cut = cs.Cut(cs.VBit(90, 12.7, 2), cs.line((0, 0), (30, 0), 2.0), 15_000, per_tooth * 30_000)
    rose = cs.risk_rose(cut, board("sugar maple"), headings=np.concatenate([STEPS, -STEPS]))
    fuzz, tear = (rose.values(n).mean(axis=1).reshape(2, -1) for n in ("fuzz", "tear"))
    assert STEPS[fuzz[0].argmax()] == 60
    assert STEPS[tear[1].argmax()] == 60
    assert fuzz[1, 1:6].max() < 0.01 > tear[0, 1:5].max()


# --- 21 kinds of chip -------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("wood", WOODS)
def test_21_chips_that_split(wood):
    """Check 21; Matsuda et al. 2018, J Wood Sci (abstract; hinoki, see test_tearout.py): here the library's own woods.

    Along the grain: rake >= 30 and h >= 0.1 mm splits; rake <= 20 does not.
    """
    chips = np.array([0.1, 0.15, 0.2])
    for rake in (30, 40):
        assert (cs.chip_type(chips, 0.0, cs.wood(wood), rake=rake) == "split").all()
    for rake in (0, 10, 20):
        assert (cs.chip_type(chips, 0.0, cs.wood(wood), rake=rake) != "split").all()


# --- 22 scorch --------------------------------------------------------------------------------------------------------


def heat(risk):
    """Mean temperature of the lips [C] and mean scorch."""
    return float(risk.temperature[risk.exists].mean()), risk.mean("scorch")


def rising(maps):
    temperature, scorch = np.array([heat(m) for m in maps]).T
    return (np.diff(temperature) > 0).all() and (np.diff(scorch) > 0).all()


@pytest.mark.parametrize("wood", WOODS)
@pytest.mark.parametrize("radius", [0.008, 0.016])
def test_22_slow_feed_and_high_speed_scorch(wood, radius):
    """Check 22; common practice, no source: slow feed at high speed burns."""
    bit = replace(BIT, edge_radius=radius)
    assert rising([ring_map(22_000, f, wood, bit=bit) for f in (80, 40, 20, 10)])
    assert rising([ring_map(s, 20, wood, bit=bit) for s in DIAL])


@pytest.mark.parametrize("wood", WOODS)
def test_22_a_larger_worn_land_scorches(wood):
    """Check 22; common practice, no source; the land grows with the edge's radius, or by itself."""
    assert rising([ring_map(16_000, 40, wood, bit=replace(BIT, edge_radius=r)) for r in (0.008, 0.012, 0.02, 0.03)])
    cut = cs.Cut(BIT, cs.ring(15, DEPTH), 16_000, 40 * cs.ipm)
    assert rising([cs.risk_map(cut, board(wood), model=cs.RiskModel(land=b), pitch=1) for b in (1.0, 2.5, 6.0)])


@pytest.mark.parametrize("acceleration", [150, 300, 800])
def test_22_corners_where_the_feed_drops(acceleration):
    """Check 22; common practice, no source: a machine that slows for the corner rubs there longer."""
    machine = cs.Machine(acceleration=acceleration, max_feed=5000)
    bit = cs.VBit(90, 12.7, 2, edge_radius=0.016)
    path = cs.polyline([(0, 0), (25, 0), (25, 25)], 2.5)
    real, typed = (
        cs.risk_map(cs.Cut(bit, path, 18_000, 2000, machine=m), board("sugar maple")) for m in (machine, None)
    )
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


def test_22_flash_by_speed_and_land():
    """Check 22; Jaeger 1942: flash ~ sqrt(v land); a land worn from 20 to 100 um 2.2 times, twice the speed 1.4."""
    maple = cs.wood("sugar maple")
    here = flash_rise(30, 5, 0.02, maple, friction=0.4)
    assert flash_rise(30, 5, 0.1, maple, friction=0.4) / here == pytest.approx(2.236, abs=1e-3)
    assert flash_rise(30, 10, 0.02, maple, friction=0.4) / here == pytest.approx(1.414, abs=1e-3)


@pytest.mark.parametrize("wood", WOODS)
def test_22_char_range(wood):
    """Check 22; Lowden & Hull 2013: below 225 C wood is not yet brown, above 280 C it chars."""
    risk = ring_map(22_000, 20, wood, bit=replace(BIT, edge_radius=0.014))
    cool, hot = risk.temperature < 225, risk.temperature > 280
    assert (risk.scorch[cool & risk.exists] < 0.1).all()
    assert (risk.scorch[hot & risk.exists] > 0.9).all()


# --- 23 skims ---------------------------------------------------------------------------------------------------------

LEAVES = (1.2, 0.7, 0.5, 0.35, 0.25, 0.15, 0.1, 0.06, 0.03)  # mm, none first


def by_skim(wood, per_tooth, scale, *, speed=15_000, half_width=3.0):
    """Mean damage of a ring by how much a rough pass leaves, with a worn edge; no rough pass first."""
    bit = cs.VBit(90, 12.7, 2, edge_radius=0.02)
    model = cs.RiskModel(tear_scale=0.2 * scale)
    path, feed = cs.ring(15, half_width), per_tooth * speed * 2
    cuts = [cs.Cut(bit, path, speed, feed, passes=None if v is None else [v]) for v in (None, *LEAVES)]
    return [cs.risk_map(c, board(wood), model=model, pitch=1.3) for c in cuts]


@pytest.mark.parametrize("wood", ["sugar maple", "white oak", "black cherry"])
@pytest.mark.parametrize("per_tooth", [0.1, 0.2])
@pytest.mark.parametrize("scale", SCALES)
def test_23_a_light_skim_is_best(wood, per_tooth, scale):
    """Check 23; Wengert 2011 (too small a depth of cut makes fuzz) against common practice (a skim cures tear-out)."""
    maps = by_skim(wood, per_tooth, scale)
    damage = np.array([m.mean("damage") for m in maps])
    best = int(damage.argmin())
    assert 0.1 <= LEAVES[best - 1] <= 0.5
    assert damage[best] < damage[0] - 0.005
    assert damage[best] < damage[-1] - 0.05
    light, thin = maps[best], maps[-1]
    assert light.mean("tear") < 0.85 * maps[0].mean("tear")  # it cures tear-out
    assert thin.mean("fuzz") > light.mean("fuzz") + 0.02  # too thin a one makes fuzz
    assert thin.mean("tear") > light.mean("tear")  # and leaves what the rough pass tore


def test_23_where_the_lip_burns_a_skim_is_another_matter():
    """Where scorch rules, few strikes matter most and the thinnest skim is best: no minimum near 0.25 mm.

    Hard maple, 10 mm wide, two worn flutes, 16 000 rpm, 80 in/min: damage 0.95. Nobody skims with a burning edge.
    """
    bit = replace(BIT, edge_radius=0.02, flutes=2)
    maps = [
        cs.risk_map(cs.Cut(bit, cs.ring(15, DEPTH), 16_000, 80 * cs.ipm, passes=p), board("sugar maple"), pitch=1.3)
        for p in (None, [0.25], [0.05])
    ]
    assert maps[0].mean("scorch") > 0.8
    assert maps[2].mean("damage") < maps[1].mean("damage") < maps[0].mean("damage")
