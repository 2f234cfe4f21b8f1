"""The main job against the facts of the trade and the literature: orderings of fuzz on a path (checks 14-18 and 20).

Default coefficients throughout, nothing tuned per test. The scene of practice: a one-flute 90 degree bit about 17 mm
wide, grooves 10 mm wide, feeds of 20, 40 and 80 in/min, then 100, 150 and 200, at a trim router's speeds; common
practice, no source. Species by name stand for straight-grained boards at 12 %.
"""

from dataclasses import replace

import numpy as np
import pytest

import chipsim as cs

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
def test_20_more_rake_is_cleaner(wood):
    """Check 20; Koch 1964 (from memory), Stewart: a larger rake lowers fuzz."""
    values = [worst(16_000, 40, wood, bit=replace(BIT, rake=r)) for r in (0, 10, 20, 30)]
    assert (np.diff(values) < 0).all()


def test_a_rubbed_lip_is_a_fuzzy_lip():
    """As strikes go to nothing the fuzz does not: slow feed at low speed with a dull edge is worst of all."""
    dull = replace(BIT, edge_radius=0.05)
    assert worst(10_000, 4, "black cherry", bit=dull) > worst(10_000, 40, "black cherry")
