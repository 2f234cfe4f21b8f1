"""Bands: what draws of the coefficients make of a map, and where nothing was learned."""

import dataclasses
from dataclasses import dataclass, field

import numpy as np
import pytest

import chipsim as cs
from chipsim._shared.words import plain
from chipsim.damage.bands import BandCollector, LearnedRange, leading_unknown
from chipsim.damage.models import layer_of, lip_fibres, risks_of, thickest
from chipsim.damage.priors import Draws, edge_factors, literature_draws, prior_draws

BIT = cs.VBit(60, 12.7, 2, 0.2)
MACHINE = cs.Machine(400, 4000, plunge_feed=500)
BOARD = cs.Board(cs.wood("sugar maple", moisture=8), cs.straight_grain(0))
CUT = cs.Cut(BIT, cs.ring(11, 2.5), 16_000, 1400)
COUPON = cs.coupon(BIT, BOARD, 16_000, [1100, 1400, 1800], machine=MACHINE, straight_pair=False, stair=False)


@pytest.fixture(scope="module")
def before():
    return cs.risk_map(CUT, BOARD, pitch=0.5, draws=60, seed=1)


@pytest.fixture(scope="module")
def fitted():
    return cs.fit(COUPON, cs.invented_grades(COUPON, cs.RiskModel(drag=0.1), seed=2))


@pytest.fixture(scope="module")
def after(fitted):
    return cs.risk_map(CUT, BOARD, model=fitted, pitch=0.5, draws=60, seed=1)


def test_a_map_with_draws_is_the_map_without(before):
    """But for the last bits: its teeth are followed through the thickest layer that is drawn."""
    plain = cs.risk_map(CUT, BOARD, pitch=0.5)
    assert plain.band is None
    np.testing.assert_allclose(plain.damage, before.damage, rtol=0, atol=1e-12)
    assert "of 100 mm of lip" not in str(plain).lower()
    assert str(plain).count("starting guesses") == str(before).count("starting guesses") == 1


def test_the_band_is_in_order_and_shaped_as_the_map(before):
    band = before.band
    for name in ("low", "median", "high"):
        value = getattr(band, name)
        assert value.shape == before.damage.shape
        assert ((value >= 0) & (value <= 1)).all()
    assert (band.low <= band.median).all()
    assert (band.median <= band.high).all()
    assert (band.high > band.low).mean() > 0.95
    low, middle, high = band.poor
    assert 0 <= low <= middle <= high <= 100
    assert band.status == "prior only"
    assert band.not_learned.all()
    with pytest.raises(ValueError, match="read-only"):
        band.low[0, 0] = 0


def test_against_the_definition(before):
    """Each draw's own risks, shifted and on its grader's scale, and their percentiles: 8 in 10 lie between the ends.

    Asked of the record of the thickest layer the draws give the band to the last bits. A map of each draw on its own
    records its own layer, and is the same: what a draw says does not hang on the record it is asked with.
    """
    draws = literature_draws(cs.RiskModel(), 60, 1)
    strikes = cs.lip_strikes(CUT, pitch=0.5, bundle=layer_of(thickest(draws.models), [CUT]))
    fibres = lip_fibres(strikes.lips, BOARD)[2]
    damage, alone, poor = [], [], []
    each = zip(draws.models, draws.graders, draws.shifts, edge_factors(BIT, 60, 1), strict=True)
    for model, grader, shift, edge in each:
        cut = dataclasses.replace(CUT, bit=dataclasses.replace(BIT, edge_radius=BIT.edge_radius * edge))
        one = cs.risk_map(cut, BOARD, model=model, pitch=0.5)
        told = risks_of(model, strikes, fibres, cut, BOARD.cut_wood)
        for risks, into in ((told, damage), ({name: one.values(name) for name in ("fuzz", "tear", "scorch")}, alone)):
            spared = 1 - risks["scorch"]
            for name in ("fuzz", "tear"):
                spared = spared * (1 - grader.on_own_scale(name, risks[name], shift))
            into.append(1 - spared)
        chance = grader.poor(told["fuzz"], told["tear"], shift)
        poor.append(100 * np.sum(chance * one.lip_length) / one.lip_length.sum())
    for name, q in (("low", 10), ("median", 50), ("high", 90)):
        end = getattr(before.band, name)
        np.testing.assert_allclose(end, np.percentile(damage, q, axis=0), rtol=0, atol=1e-12)
        own = np.percentile(alone, q, axis=0)
        np.testing.assert_allclose(end, own, rtol=0, atol=1e-9)
    np.testing.assert_allclose(before.band.poor, np.percentile(poor, [10, 50, 90]), rtol=1e-9)
    inside = (np.array(damage) >= before.band.low) & (np.array(damage) <= before.band.high)
    assert inside.mean() == pytest.approx(0.8, abs=0.02)


def test_the_same_seed_the_same_band(before):
    again = cs.risk_map(CUT, BOARD, pitch=0.5, draws=60, seed=1).band
    other = cs.risk_map(CUT, BOARD, pitch=0.5, draws=60, seed=2).band
    assert again.low.tobytes() == before.band.low.tobytes()
    assert again.poor == before.band.poor
    assert other.poor != before.band.poor


def test_learning_narrows_the_band(before, after):
    assert np.mean(after.band.high - after.band.low) < 0.9 * np.mean(before.band.high - before.band.low)
    assert after.band.poor[2] - after.band.poor[0] < before.band.poor[2] - before.band.poor[0]
    assert after.band.status.startswith("Learned from")
    text = str(after)
    assert "Learned from" in text
    assert "no test piece has been graded yet" not in text
    assert "8 in 10 jobs on such a board" in text
    assert "8 in 10 boards" in str(before)


def test_what_the_piece_has_shown_is_learned(after):
    """The same feed, width, bit, speed and wood; every direction is on a ring, but the sectors with the joins."""
    assert after.band.not_learned.mean() < 0.2
    assert set(after.band.reasons) == {"directions", "widths", "feeds", "speeds", "bits", "woods"}
    for name in ("widths", "feeds", "speeds", "bits", "woods"):
        assert after.band.reasons[name] == 0


@pytest.mark.parametrize(
    ("reason", "cut", "wood"),
    [
        ("widths", {"path": cs.ring(11, 4.0)}, "sugar maple"),
        ("widths", {"path": cs.ring(11, 1.5)}, "sugar maple"),
        ("feeds", {"feed": 2400}, "sugar maple"),
        ("speeds", {"spindle_speed": 22_000, "feed": 1925}, "sugar maple"),
        ("bits", {"bit": cs.VBit(60, 12.7, 2, 0.2, edge_radius=0.02)}, "sugar maple"),
        ("bits", {"bit": cs.VBit(90, 12.7, 2, 0.2), "path": cs.ring(11, 1.4)}, "sugar maple"),
        ("woods", {}, "black cherry"),
    ],
)
def test_outside_of_what_was_seen_nothing_is_learned(fitted, reason, cut, wood):
    board = cs.Board(cs.wood(wood, moisture=8), BOARD.grain)
    band = cs.risk_map(dataclasses.replace(CUT, **cut), board, model=fitted, pitch=2.0, draws=4).band
    assert band.not_learned.all()
    total = 2 * np.pi * 22
    assert {n for n, size in band.reasons.items() if size > 0.9 * total} == {reason}
    assert f"On 138.2 mm of lip the {reason} lie outside" in str(band)


def test_directions_that_no_ring_has_shown(fitted):
    seen = dataclasses.replace(fitted.learned_range, angles=(0, 1, 11))
    risk = cs.risk_map(CUT, BOARD, pitch=0.5)
    content = {n: getattr(risk, n) for n in ("exists", "fibre_angle", "half_width", "feed_per_tooth")}
    unseen, reasons = seen.unseen(content, CUT, BOARD)
    bins = np.floor(risk.fibre_angle / 15).astype(int) % 12
    np.testing.assert_array_equal(unseen, ~np.isin(bins, [0, 1, 11]))
    np.testing.assert_array_equal(unseen, reasons["directions"])


def test_saved_and_loaded_with_its_band(after, tmp_path):
    after.save(tmp_path / "map.npz")
    again = cs.RiskMap.load(tmp_path / "map.npz")
    assert str(again) == str(after)
    for name in ("low", "median", "high", "not_learned"):
        assert getattr(again.band, name).tobytes() == getattr(after.band, name).tobytes()
    assert again.band.reasons == after.band.reasons
    assert again.setup["learned"] == after.setup["learned"]


def test_the_leading_unknown_is_the_one_that_moves_the_outcome():
    rng = np.random.default_rng(0)
    z = rng.standard_normal((200, 3))
    draws = Draws((), (), rng.standard_normal(200), z, ("a", "b", "c"))
    name, r = leading_unknown(draws, np.exp(-2 * z[:, 1]) + 0.05 * rng.standard_normal(200))
    assert name == "b"
    assert r < -0.95
    assert leading_unknown(draws, np.exp(draws.shifts))[0] == "the job and the board themselves"
    assert leading_unknown(draws, np.zeros(200)) == ("", 0.0)


def test_a_foreign_model_has_no_priors():
    class Mine:
        bundle = 0.2

        def lip_risks(self, strikes, fibres, cut, wood):
            return {"fuzz": np.zeros(strikes.exists.shape)}

    assert cs.risk_map(CUT, BOARD, model=Mine(), pitch=2.0).band is None
    with pytest.raises(cs.DomainError, match="draws must be 0 for a model without priors"):
        cs.risk_map(CUT, BOARD, model=Mine(), pitch=2.0, draws=3)


def test_shares_are_never_drawn_beyond_the_whole():
    """Where the model starts from all of the heat, or the drag, draws stay at or below it."""
    model = cs.RiskModel(heat_share=1.0, drag=1.0)
    drawn = prior_draws(model, 200, 3).models
    for name in ("heat_share", "drag"):
        values = [getattr(m, name) for m in drawn]
        assert max(values) <= 1.0
        assert min(values) < 0.9
        assert dataclasses.replace(model, **{name: max(values)})


def test_a_model_of_ones_own_with_priors_has_a_band():
    """A dataclass whose fields have prior ranges is drawn like ours, one model after the other."""

    @dataclass(frozen=True)
    class Mine:
        level: float = field(default=0.3, metadata={"prior": (0.1, 0.6)})
        bundle: float = 0.2

        def lip_risks(self, strikes, fibres, cut, wood):
            return {"fuzz": np.where(strikes.exists, self.level, np.nan)}

    found = cs.risk_map(CUT, BOARD, model=Mine(), pitch=2.0, draws=40)
    here = found.exists
    assert (found.band.low[here] < found.band.high[here] - 0.1).all()
    assert found.band.leading[0]


@pytest.mark.parametrize(
    ("change", "name"), [({"draws": -1}, "draws"), ({"draws": 1e6}, "draws"), ({"draws": 2, "seed": -1}, "seed")]
)
def test_bad_input(change, name):
    with pytest.raises(cs.DomainError, match=name):
        cs.risk_map(CUT, BOARD, **change)


def test_a_carving_in_blocks_is_one_band():
    """Percentiles are taken block by block: the same as of each cut alone, and poor spots are weighted by length."""
    far = dataclasses.replace(CUT, path=cs.ring(8, 2.5).shifted(60, 0))
    both = cs.risk_map(cs.Carving((CUT, far)), BOARD, pitch=1.0, draws=8).band
    one, two = (cs.risk_map(c, BOARD, pitch=1.0, draws=8).band for c in (CUT, far))
    np.testing.assert_allclose(both.low, np.concatenate([one.low, two.low]), atol=1e-12)
    np.testing.assert_allclose(both.high, np.concatenate([one.high, two.high]), atol=1e-12)
    assert isinstance(LearnedRange, type)
    assert isinstance(BandCollector(cs.RiskModel(), BOARD, 2, 0), BandCollector)


# --- pictures ---------------------------------------------------------------------------------------------------------


def test_the_map_says_what_it_rests_on(before, after, fitted):
    import matplotlib.pyplot as plt

    elsewhere = cs.risk_map(dataclasses.replace(CUT, feed=3000), BOARD, model=fitted, pitch=1.0, draws=4)
    for risk, stamp, hatched in (
        (before, "starting guesses", 0),
        (after, "Learned from", None),
        (elsewhere, "Learned from", 1),
    ):
        ax = cs.draw_risk_map(risk).axes
        words = " ".join(t.get_text().replace("\n", " ") for t in ax.texts)
        words += " ".join(str(c.get_text()) for c in ax.figure.findobj(lambda a: hasattr(a, "get_text")))
        assert stamp in words
        assert "need heavy sanding or re-cutting (8 in 10" in words
        if hatched is not None:
            assert ("broken: no test piece has shown such a lip" in words) == bool(hatched)
        plt.close("all")


def test_draw_fit(fitted):
    import matplotlib.pyplot as plt

    bars = cs.draw_fit(fitted)
    spread = np.sqrt(np.diag(fitted.covariance))
    names = fitted.coefficients.names
    shown = sorted((k for k, n in enumerate(names) if n not in fitted.unlearned()), key=lambda k: spread[k])
    assert len(bars.get_segments()) == len(shown) > 0
    for k, segment in zip(shown, bars.get_segments(), strict=True):
        assert np.ptp(segment[:, 0]) == pytest.approx(2 * 1.28155 * spread[k], rel=1e-4)
        assert segment[:, 0].mean() == pytest.approx(fitted.parameters[k])
    labels = [t.get_text() for t in bars.axes.texts if t.get_gid() == "coefficient"]
    assert labels == [plain(names[k]) for k in shown]
    said = " ".join(t.get_text().replace("\n", " ") for t in bars.figure.findobj(lambda a: hasattr(a, "get_text")))
    for name in names:
        assert plain(name) in said
        assert "_" not in name or name not in said
    plt.close("all")
    with pytest.raises(cs.DomainError, match="fitted"):
        cs.draw_fit(cs.RiskModel())
