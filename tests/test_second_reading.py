"""What the failure model was repaired for: narrow strokes, chance stations, whose strength, rake, dive, rings, entry.

Sugar maple, 90 degrees, two flutes, half-width 3 mm, 15 000 rpm and 3000 mm/min unless said; default coefficients. The
figures before are those of the model that counted every strike of the last 0.2 mm in full. Expectations of this
project, unmeasured, unless a source is named.
"""

from dataclasses import replace
from functools import cache

import numpy as np
import pytest

import chipsim as cs
from chipsim.damage.models import RiskModel, layer_of
from chipsim.damage.priors import Coefficients, prior_draws
from chipsim.kernels import laws
from chipsim.learning.wear import edge_metres
from chipsim.scene.grain import fibre_axis

MAPLE = cs.wood("sugar maple")
BIT = cs.VBit(90, 16, 2)
MODEL = RiskModel()
AROUND = tuple(np.arange(-90, 90, 7.5).tolist())


@cache
def rose(
    bit=BIT, width=3.0, *, feed=3000.0, speed=15_000.0, wood=MAPLE, dive=0.0, headings=AROUND, model=MODEL, phase=0.0
):
    cut = cs.Cut(bit, cs.line((0, 0), (30, 0), bit.depth_for_width(2 * width)), speed, feed, phase=phase)
    return cs.risk_rose(cut, cs.Board(wood, cs.straight_grain(0, dive)), headings=np.array(headings), model=model)


def worst(name, **k):
    """Of any direction, mean of both lips."""
    return float(rose(**k).values(name).mean(axis=1).max())


# --- chips and layer --------------------------------------------------------------------------------------------------


def test_narrow_strokes_have_no_clean_dip():
    """Half-widths of 0.3 to 0.5 mm had 0.46 of the fuzz of 1.2 mm: the way along the probe was taken for the chip.

    With chips and layer normal to the wall 0.71 is left, where a chip bites in proportion to its thickness: near the
    tip chips are thick, up to 20 edge radii, and fibres side by side brace no better in them.
    """
    fuzz = {w: worst("fuzz", width=w) for w in (0.3, 0.4, 0.5, 1.2)}
    assert min(fuzz[0.3], fuzz[0.4], fuzz[0.5]) > 0.8 * fuzz[1.2]
    alone = replace(MODEL, crowding=0.0)
    fuzz = {w: worst("fuzz", width=w, model=alone) for w in (0.3, 0.4, 0.5, 1.2)}
    assert 0.65 < min(fuzz[0.3], fuzz[0.4], fuzz[0.5]) / fuzz[1.2] < 0.75


def test_a_bite_has_a_bound():
    """B = b / sqrt(1 + (crowding b)^2), b chips of so many edge radii: a thin chip bites in proportion, by hand."""
    b, c = np.array([0.1, 1.0, 20.0, 1e4]), 0.05
    bound = b / np.hypot(1.0, c * b)
    np.testing.assert_allclose(bound, [0.1, 1.0, 14.14, 20.0], rtol=2e-3)
    assert worst("fuzz", model=replace(MODEL, crowding=0.1)) > worst("fuzz", model=replace(MODEL, crowding=0.0))


def test_the_angle_matters_little_because_both_are_normal_to_the_wall():
    """10 mm wide, 16 000 rpm, 40 in/min: from 30 to 150 degrees within a fifth of 90."""
    fuzz = {
        a: float(rose(cs.VBit(a, 60, 2), 5.0, feed=1016.0, speed=16_000.0).values("fuzz").mean())
        for a in (30, 60, 90, 120, 150)
    }
    for angle, value in fuzz.items():
        assert value == pytest.approx(fuzz[90], rel=0.2), angle


def test_a_layer_is_as_thick_along_the_wall_normal_whatever_the_bit():
    for angle in (30, 60, 90, 120):
        cut = cs.Cut(cs.VBit(angle, 40, 2), cs.line((0, 0), (9, 0), 1.0), 15_000, 3000)
        across = MODEL.layer(cut) * np.cos(np.radians(angle / 2))
        assert across == pytest.approx(0.4 * np.sqrt(0.5), rel=1e-12)
    blunt = cs.Cut(cs.VBit(170, 40, 2), cs.line((0, 0), (9, 0), 0.5), 15_000, 3000)
    assert MODEL.layer(blunt) == pytest.approx(1.2)
    assert layer_of(MODEL, [cut, blunt]) == MODEL.layer(blunt)


def test_tear_sees_the_angle():
    """It was 0.192 from 20 to 170 degrees; a blunt lip tears less, as its support suggests."""
    tear = [worst("tear", bit=cs.VBit(a, 60, 2)) for a in (20, 60, 90, 120)]
    assert (np.diff(tear) < 0).all()
    assert tear[-1] < 0.93 * tear[0]


# --- several strikes on one bundle ------------------------------------------------------------------------------------


@pytest.mark.parametrize(("redrawn", "frailty"), [(1.0, 0.2), (0.6, 0.0), (0.7, 0.5)])
def test_one_strength_a_fibre_by_simulation(redrawn, frailty):
    """(1 + f (sum L^(m/a))^a)^(-1/f): weakness gamma of variance f, times positive stable of index a (Kanter 1975).

    Given both, each strike of load L severs with hazard Z L^(m / a), the strikes by themselves.
    """
    rng = np.random.default_rng(5)
    n, loads, power = 400_000, np.array([0.7, 0.5, 0.9]), 3.0
    shared = rng.gamma(1 / frailty, frailty, n) if frailty else np.ones(n)
    if redrawn < 1:
        a, u, e = redrawn, np.pi * rng.random(n), rng.exponential(size=n)
        front = np.sin(a * u) / np.sin(u) ** (1 / a)
        stable = front * (np.sin((1 - a) * u) / e) ** ((1 - a) / a)
        weak = stable * shared ** (1 / a)
    else:
        weak = shared
    stands = np.exp(-weak[:, None] * loads ** (power / redrawn)).prod(axis=1).mean()
    hazard = np.sum(loads ** (power / redrawn)) ** redrawn
    law = (1 + frailty * hazard) ** (-1 / frailty) if frailty else np.exp(-hazard)
    assert stands == pytest.approx(law, abs=0.002)


def test_strikes_that_share_their_strength_help_less():
    fuzz = [worst("fuzz", model=replace(MODEL, redrawn=r)) for r in (1.0, 0.8, 0.6)]
    assert (np.diff(fuzz) > 0.02).all()
    assert worst("fuzz", model=replace(MODEL, frailty=0.6)) > worst("fuzz", model=replace(MODEL, frailty=0.0))


def test_a_world_in_which_speed_acts_only_through_the_chip():
    """Without inertia a faster spindle at the same feed takes thinner chips and fuzzes no less; with it, less."""
    for inertia, low, high in ((0.0, 0.95, 1.6), (1.0, 0.0, 0.5)):
        model = replace(MODEL, inertia=inertia)
        slow, fast = (worst("fuzz", width=5.0, feed=1016.0, speed=s, model=model) for s in (12_000.0, 22_000.0))
        assert low < fast / slow < high


# --- whose strength ---------------------------------------------------------------------------------------------------

LIGHTER = ("sugar maple", "black cherry", "yellow-poplar", "american basswood")


def by_species(model):
    return [
        float(rose(width=5.0, feed=1016.0, speed=16_000.0, wood=cs.wood(n), model=model).values("fuzz").mean())
        for n in LIGHTER
    ]


def test_the_order_of_species_hangs_on_whose_strength():
    """The wall's, or one stress for all: light woods fuzz most. Each wood's own: they come out cleaner."""
    assert (np.diff(by_species(MODEL)) > 0).all()
    assert (np.diff(by_species(replace(MODEL, cell_wall=0.0, own_strength=0.0))) > 0).all()
    own = by_species(replace(MODEL, cell_wall=0.0, own_strength=1.0))
    assert own[-1] < own[0]


def test_critical_speeds():
    """Hunt 1960: stress / sqrt(3 E rho). Maple's is the same whatever is shared; cherry's by hand."""
    one = 65e6 / np.sqrt(3 * 1.1 * 12_600e6 * MAPLE.density)
    for c in (0.0, 0.5, 1.0):
        assert replace(MODEL, cell_wall=c).critical_speed(MAPLE) == pytest.approx(one, rel=1e-12)
    cherry = cs.wood("black cherry")
    assert MODEL.critical_speed(cherry) == pytest.approx(one * (10.1 / 4.8) ** 0.25, rel=1e-12)
    bulk = 65e6 * (85 / 109) ** 0.3 / np.sqrt(3 * 1.1 * 10_300e6 * cherry.density)
    assert replace(MODEL, cell_wall=0.0).critical_speed(cherry) == pytest.approx(bulk, rel=1e-12)
    wet = cs.wood("sugar maple", moisture=25)
    give = (10.1 / wet.compression_perpendicular) ** 0.25
    assert MODEL.critical_speed(wet) == pytest.approx(one * give * 1.68**-0.1, rel=1e-12)


# --- chance stations --------------------------------------------------------------------------------------------------


def test_fuzz_does_not_hang_on_where_the_teeth_stand():
    """At 0.42 mm a tooth it ran from 0.12 to 0.29 by the station's phase: a strike counted in full or not at all."""
    each = [rose(feed=0.423 * 30_000, phase=float(p)).values("fuzz") for p in np.arange(0, 180, 22.5)]
    at = np.mean(each, axis=0).mean(axis=1).argmax()
    assert np.ptp([e[at].mean() for e in each]) < 0.03


def test_scorch_does_not_hang_on_the_pitch():
    """A pitch locked to the feed per tooth gave .013 and .039 on the two lips, another .037 on both."""
    cut = cs.Cut(replace(BIT, edge_radius=0.016), cs.line((0, 0), (60, 0), 3.0), 15_000, 3000)
    lips = []
    for pitch in (0.25, 0.2371):
        found = cs.risk_map(cut, cs.Board(MAPLE, cs.straight_grain(30)), pitch=pitch)
        lips.append(np.nanmean(found.temperature[found.kind == "run"], axis=0))
    np.testing.assert_allclose(lips[0], lips[1], rtol=0.03)


# --- rake, clearance, runout ------------------------------------------------------------------------------------------


def test_every_rake_is_alive():
    """At or below -23 degrees the fuzz was 0.50 whatever else; now each degree counts, up to the angle of friction."""
    fuzz = [worst("fuzz", bit=replace(BIT, rake=r)) for r in (-30.0, -23.0, -10.0, 0.0, 10.0, 18.0)]
    assert (np.diff(fuzz) < -0.01).all()
    lifted = [worst("fuzz", bit=replace(BIT, rake=r)) for r in (18.5, 25.0, 40.0)]
    assert (np.diff(lifted) > 0.01).all()


def sloping(rake):
    """Damage where the groove runs against the grain, and over all directions."""
    found = rose(replace(BIT, rake=rake))
    damage, against = found.values("damage").mean(axis=1), np.array(AROUND) < 0
    return float(damage[against].mean()), float(damage.mean())


def test_more_rake_is_worse_against_the_grain():
    """There it is the tear that counts."""
    damage = [sloping(r)[0] for r in (0.0, 10.0, 20.0, 30.0)]
    assert (np.diff(damage) > 0).all()


def test_there_is_a_best_rake():
    """Malkocoglu & Ozdemir 2006, Sofuoglu & Kurtoglu 2014 (abstracts): between 15 and 25 degrees; which is disputed.

    With the strength across the grain alike in tension and compression, and with half of the loss. Where no bite is
    lost as the rake lifts the fibres, more rake is better without end, as it was: 0.17 at 0 degrees, 0.11 at 40.
    """
    rakes = (0.0, 10.0, 15.0, 20.0, 25.0, 30.0, 40.0)

    def damage(lifting):
        model = replace(MODEL, lifting=lifting)
        return [float(rose(replace(BIT, rake=r), model=model).values("damage").mean()) for r in rakes]

    for lifting in (0.5, 1.0):
        assert 15 <= rakes[int(np.argmin(damage(lifting)))] <= 25
    endless = damage(-1.0)
    assert np.argmin(endless) == len(rakes) - 1
    assert endless[-1] < 0.75 * endless[0]


def test_a_small_clearance_heats():
    """From 1 to 40 degrees nothing changed; the heel on what springs back is long where the clearance is small."""
    heat = []
    for clearance in (1.0, 5.0, 15.0, 40.0):
        cut = cs.Cut(replace(BIT, clearance=clearance), cs.line((0, 0), (30, 0), 3.0), 15_000, 3000)
        heat.append(float(np.nanmean(cs.risk_map(cut, cs.Board(MAPLE, cs.straight_grain(0)), pitch=1.0).temperature)))
    rise = np.array(heat) - 20
    assert (np.diff(rise) < 0).all()
    # flash goes with the root of the length, what is left with the length: 13.2 against 2.5 edge radii
    assert (13.2 / 2.5) ** 0.5 < rise[0] / rise[2] < 13.2 / 2.5


@pytest.mark.parametrize("runout", [0.1, 0.25, 0.5])
def test_runout_makes_two_flutes_one(runout):
    """From half a feed per tooth on one flute takes it all: fuzz of a bit with one flute, in a groove so much wider.

    That fuzz falls with it, as it did (.42 to .33), is therefore right: the chips are thicker, the lip is faster, and
    tear rises.
    """
    wide, one = replace(BIT, runout=runout), replace(BIT, flutes=1)
    assert worst("fuzz", bit=wide) == pytest.approx(worst("fuzz", bit=one, width=3.0 + runout), abs=0.003)
    assert worst("fuzz", bit=wide) < worst("fuzz") - 0.03
    assert worst("tear", bit=wide) > worst("tear") + 0.05


# --- wear -------------------------------------------------------------------------------------------------------------


def test_a_worn_edge_disturbs_a_layer():
    """Hernandez & Rojas 2002, Wood Fiber Sci. 34 (abstract): 0.20 mm at a recession of 45 to 60 um.

    A planer's knife has wedges of 45 degrees, a bit of 65: so far from the receded edge its circle is rounded.
    """
    radii = [w / (1 / np.sin(np.radians(b) / 2) - 1) for w in (0.045, 0.060) for b in (45.0, 65.0)]
    depths = [MODEL.disturbed_depth(r) for r in radii]
    assert min(depths) < 0.20 < max(depths)
    assert max(depths) < 0.30
    assert np.diff([MODEL.disturbed_depth(r) for r in (0.008, 0.016, 0.032)]).min() > 0
    with pytest.raises(cs.DomainError, match="edge_radius"):
        MODEL.disturbed_depth(0.6)


def test_what_comes_loose_by_hand():
    """Of the severed share 1 - P so much stands off again: fuzz = c (P + loose (1 - P)), c the crossing squared."""
    c = float(np.sin(np.radians(45.0)) ** 2)
    one = replace(MODEL, scatter=0.0, turn=0.0, loosened=0.0)
    for edge in (0.008, 0.03):
        bit = replace(BIT, edge_radius=edge)
        none, some = (rose(bit, headings=(45.0,), model=m).values("fuzz") for m in (one, replace(one, loosened=0.3)))
        loose = 0.3 * (1 - np.exp(-4.0 * edge / 0.4))
        np.testing.assert_allclose(some, none + loose * (c - none), rtol=1e-9)


def test_wear_counts_metres_of_edge():
    """The same groove at half the feed runs the edge twice as far, and leaves it blunter and the lips fuzzier."""
    groove = [cs.Cut(BIT, cs.line((0, 0), (1000, 0), 3.0), 15_000, f) for f in (3000, 1500)]
    ways = [edge_metres(cut) for cut in groove]
    assert ways[1] == pytest.approx(2 * ways[0], rel=1e-6)
    bits = [BIT.worn(10 * way, MAPLE) for way in ways]  # ten such grooves
    assert bits[0].edge_radius < bits[1].edge_radius
    assert worst("fuzz", bit=bits[0]) < worst("fuzz", bit=bits[1])


# --- dive and entry ---------------------------------------------------------------------------------------------------


def test_grain_that_dives_along_the_groove_tears_the_lip_it_is_cut_against():
    """Read alike before (.040, .042) though one lip's fibre angle is 11 degrees and the other's 169."""
    level, down, up = (rose(dive=d, headings=(0.0,)).values("tear")[0] for d in (0.0, 20.0, -20.0))
    assert down[0] > 10 * down[1]
    assert up[1] > 10 * up[0]
    assert down[0] > 4 * level[0]
    assert up[1] > 4 * level[1]
    flat = replace(MODEL, wall_opening=0.0, turn=0.0)
    level, down = (rose(dive=d, headings=(0.0,), model=flat).values("tear")[0] for d in (0.0, 20.0))
    np.testing.assert_allclose(down, level, rtol=0.3)


@pytest.mark.xfail(reason="1.94 times: lips of level grain differ 2.8-fold where the layer turns the cut", strict=True)
def test_the_lip_that_is_cut_against_tears_twice_the_worse_of_level_grain():
    level, down, up = (rose(dive=d, headings=(0.0,)).values("tear")[0] for d in (0.0, 20.0, -20.0))
    assert min(down[0], up[1]) > 2 * level.max()


@pytest.mark.parametrize("azimuth", [20.0, 70.0, 110.0])
@pytest.mark.parametrize("dive", [-35.0, 0.0, 25.0])
def test_the_opening_is_a_projection(azimuth, dive):
    """-n . (u - (u . g) g), by vectors: u the push, g the fibre, n the wall's normal."""
    lean, delta = np.radians(30.0), np.radians(-9.0)
    v, n = np.array([1.0, 0, 0]), np.array([0, np.cos(lean), -np.sin(lean)])
    g = fibre_axis(azimuth, dive)
    g = g if g[0] > 0 else -g
    u = np.cos(delta) * v - np.sin(delta) * n
    by_vectors = -n @ (u - (u @ g) * g)
    assert laws.opening(g @ n, g @ v, np.cos(delta), np.sin(delta)) == pytest.approx(by_vectors, abs=1e-14)


def test_end_grain_is_never_clean():
    found = rose(dive=90.0, headings=(0.0, 60.0))
    for name in ("fuzz", "tear", "scorch"):
        assert np.isnan(found.values(name)).all()


def test_the_lip_where_teeth_enter_fuzzes_more():
    """Common practice, no source: climb the last skim. They differed by less than .02; alike with turn 0."""
    entry, leaving = rose(width=5.0, feed=1016.0, speed=16_000.0).values("fuzz").mean(axis=0)
    assert 1.1 < entry / leaving < 1.4
    entry, leaving = rose(width=1.0).values("fuzz").mean(axis=0)
    assert entry > 1.2 * leaving
    entry, leaving = rose(width=5.0, feed=1016.0, speed=16_000.0, model=replace(MODEL, turn=0.0)).values("fuzz").mean(0)
    assert entry == pytest.approx(leaving, rel=0.05)


# --- rings ------------------------------------------------------------------------------------------------------------


def test_the_mean_angle_of_the_layer():
    """3/8 of the angle at which a tooth comes into it: against the integral over evenly spaced strikes, by weight."""
    for share, error in ((1e-4, 1e-4), (0.1, 0.02), (0.5, 0.1), (1.0, 0.3)):
        begin = np.arccos(1 - share)
        phi = (np.arange(20_000) + 0.5) / 20_000 * begin
        weight = (1 - (1 - np.cos(phi)) / share) * np.cos(phi)  # y over the layer; dx = R cos(phi) dphi
        assert laws.turned_layer(share) == pytest.approx(float((phi * weight).sum() / weight.sum()), rel=error)
    assert laws.turned_layer(7.0) == laws.turned_layer(1.0) == pytest.approx(0.375 * np.pi / 2)


def test_tears_of_a_draw_do_not_hang_on_its_company():
    """Near a plunge the teeth are no steady groove's: one lip of one draw tore by 0.106 more in thicker company."""
    cut = cs.Cut(BIT, cs.line((0, 0), (8, 0), 3.0), 15_000, 3000, machine=cs.Machine(300, 5000))
    strikes = cs.lip_strikes(cut, pitch=0.5, bundle=replace(MODEL, bundle=0.6).layer(cut))
    fibres = np.broadcast_to(fibre_axis(50.0), (len(strikes), 2, 3))
    near = strikes.thinner(MODEL.layer(cut))
    one, other = (MODEL.lip_risks(s, fibres, cut, MAPLE) for s in (strikes, near))
    assert np.nanmax(one["tear"]) > 0.02
    np.testing.assert_allclose(other["tear"], one["tear"], rtol=1e-12)
    np.testing.assert_allclose(other["fuzz"], one["fuzz"], rtol=1e-12)


def test_early_and_latewood():
    """Hard conifers fuzz more than their mean density says; the mean over both tissues, by hand."""
    fir = cs.wood("douglas-fir, coast")
    alike = replace(fir, early_density=float("nan"), early_share=float("nan"))
    two, one = (float(rose(wood=w).values("fuzz").mean()) for w in (fir, alike))
    assert two > 1.01 * one
    shares = fir.tissues()
    assert sum(s for s, _ in shares) == pytest.approx(1)
    assert sum(s * d for s, d in shares) == pytest.approx(1)
    for name in ("tear", "scorch"):
        np.testing.assert_allclose(rose(wood=fir).values(name), rose(wood=alike).values(name), rtol=1e-12)


def test_a_mixture_is_the_mean_of_its_tissues():
    """Bulk reading: fuzz of a wood of either density by itself, its strengths by the handbook's exponents."""
    model = replace(MODEL, cell_wall=0.0, own_strength=0.5)
    pine = cs.wood("longleaf pine")
    found, parts = rose(wood=pine, model=model).values("fuzz"), []
    for share, d in pine.tissues():
        alone = replace(
            pine,
            early_density=float("nan"),
            early_share=float("nan"),
            compression_perpendicular=pine.compression_perpendicular * d**1.57,
            bending_strength=pine.bending_strength * d**1.01,
            # E rho of the tissue, at the wood's own density
            elastic_modulus=pine.elastic_modulus * d**0.84 * d,
        )
        parts.append(share * rose(wood=alone, model=model).values("fuzz"))
    np.testing.assert_allclose(found, sum(parts), rtol=1e-9)


def test_rings_turn_the_crack_across_the_rays():
    """Quarter-sawn: stiffer and tougher across; None and flat-sawn are alike. No map changes but in its tear."""
    cut = cs.Cut(BIT, cs.line((0, 0), (10, 0), 3.0), 15_000, 3000)
    maps = [
        cs.risk_map(cut, cs.Board(cs.wood("red maple"), cs.straight_grain(50), rings=r), pitch=2.0)
        for r in (None, 0.0, 45.0, 90.0)
    ]
    np.testing.assert_array_equal(maps[0].tear, maps[1].tear)
    tear = [m.mean("tear") for m in maps[1:]]
    assert (np.diff(tear) > 0).all() or (np.diff(tear) < 0).all()
    for found in maps:
        np.testing.assert_array_equal(found.fuzz, maps[0].fuzz)
    with pytest.raises(cs.DomainError, match="rings"):
        cs.Board(MAPLE, cs.straight_grain(0), rings=91.0)


def test_how_well_the_grain_is_known_leaves_a_map_as_it_is():
    cut = cs.Cut(BIT, cs.line((0, 0), (10, 0), 3.0), 15_000, 3000)
    sure, unsure = (
        cs.risk_map(cut, cs.Board(MAPLE, cs.straight_grain(50), grain_error=e), pitch=2.0) for e in (0.0, 12.0)
    )
    np.testing.assert_array_equal(sure.damage, unsure.damage)
    with pytest.raises(cs.DomainError, match="grain_error"):
        cs.Board(MAPLE, cs.straight_grain(0), grain_error=-1.0)


def test_heat_runs_off_along_fibres():
    """Conductivity along over across 1.8 (Wood Handbook, from memory): rise over sqrt(1 + 0.8 (g . n)^2)."""
    cut = cs.Cut(cs.VBit(60, 12.7, 2, edge_radius=0.02), cs.line((0, 0), (12, 0), 3.0), 15_000, 2000)
    strikes = cs.lip_strikes(cut, pitch=2.0, bundle=MODEL.layer(cut))
    model = replace(MODEL, scatter=0.0)
    along, across = (
        model.lip_risks(strikes, np.broadcast_to(fibre_axis(a), (len(strikes), 2, 3)), cut, MAPLE)["temperature"] - 20
        for a in (0.0, 90.0)
    )
    run = strikes.lips.kind == "run"
    np.testing.assert_allclose((along / across)[run], np.sqrt(1 + 0.8 * np.cos(np.pi / 6) ** 2), rtol=1e-9)


def test_texture_and_char():
    assert (
        worst("fuzz", model=replace(MODEL, texture=2.0))
        > worst("fuzz")
        > worst("fuzz", model=replace(MODEL, texture=0.5))
    )
    hot = replace(BIT, edge_radius=0.03)
    assert worst("scorch", bit=hot, model=replace(MODEL, char=280.0)) < worst("scorch", bit=hot)


# --- priors -----------------------------------------------------------------------------------------------------------


def test_every_coefficient_is_drawn_in_its_range():
    names = set(Coefficients(MODEL).names)
    assert names == set(MODEL.__dataclass_fields__) - {"bundle", "lift"}
    drawn = prior_draws(MODEL, 200, 1).models
    for name in sorted(names):
        low, high = MODEL.__dataclass_fields__[name].metadata["prior"]
        values = np.array([getattr(m, name) for m in drawn])
        room = 0.1 * (high - low)
        assert values.min() >= low - room, name
        assert values.max() <= high + room, name
        assert np.ptp(values) > 0.3 * (high - low), name


@pytest.mark.parametrize("name", ["redrawn", "inertia", "cell_wall", "own_strength", "turn", "wall_opening"])
def test_shares_lie_within_the_whole(name):
    with pytest.raises(cs.DomainError, match=name):
        RiskModel(**{name: 1.1})
