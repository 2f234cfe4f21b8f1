"""What studies and the trade say, asked of models; and the draws that are left of the prior."""

import csv
import dataclasses
import importlib.util
import sys
from functools import cache
from pathlib import Path

import numpy as np
import pytest

import chipsim as cs
from chipsim.damage import literature
from chipsim.damage.ensemble import BESIDE, Prior, ensemble, models_at
from chipsim.damage.literature import MEASURES, Scene, Statement, Witness, measures, statements
from chipsim.damage.priors import EDGE, Coefficients, edge_factors, fibre_turns, literature_draws

BENCHMARKS = Path(__file__).parent.parent / "benchmarks"
BOARD = cs.Board(cs.wood("black cherry"), cs.straight_grain(20))


@pytest.fixture
def script(monkeypatch):
    monkeypatch.syspath_prepend(BENCHMARKS)
    spec = importlib.util.spec_from_file_location("literature_script", BENCHMARKS / "literature.py")
    module = importlib.util.module_from_spec(spec)
    monkeypatch.setitem(sys.modules, "literature_script", module)
    spec.loader.exec_module(module)
    yield module
    sys.modules.pop("figures", None)


# --- the table --------------------------------------------------------------------------------------------------------


def test_the_table_of_statements_is_whole():
    found = statements()
    keys = [s.key for s in found]
    assert len(keys) == len(set(keys)) >= 20
    assert set(keys) == set(MEASURES)
    assert len({s.source for s in found}) >= 10
    for s in found:
        assert all((s.source, s.conditions, s.finding, s.asked)), s.key
        assert s.how in ("read", "abstract", "introduction", "copy", "memory", "practice", "expectation"), s.key
        assert s.transfers in (1, 2, 3), s.key
        assert 0.5 <= s.reliability < 1, s.key
        assert 0 < s.weight <= 1, s.key
        assert s.low < s.high, s.key
        assert s.finding[0].islower(), s.key


def test_facts_of_the_trade_and_expectations_say_so():
    for s in statements():
        if s.how == "practice":
            assert "common practice, no source" in s.source, s.key
        assert (s.how == "expectation") == (s.source == "expectation of this project, unmeasured"), s.key
    # what nobody measured, and what hardly transfers, weighs little
    assert max(s.reliability for s in statements() if s.how == "expectation" or s.transfers == 1) <= 0.6


@pytest.mark.parametrize(
    ("bound", "met", "not_met"),
    [
        ("<= 0.5", [0.5, 0.1], [0.51, np.nan]),
        ("< 1", [0.99], [1.0, np.nan]),
        ("> 0", [1e-9, np.inf], [0.0, -1.0]),
        ("20 to 30", [20.0, 25.0, 30.0], [19.9, 30.1, np.nan]),
    ],
)
def test_bounds(bound, met, not_met):
    some = dataclasses.replace(statements()[0], bound=bound)
    assert some.met(np.array(met)).all()
    assert not some.met(np.array(not_met)).any()


def test_laboratories_contradict_each_other():
    """No measure meets both, so that draws are left undecided between them."""
    by_key = {s.key: s for s in statements()}
    one, two = by_key["conventional lip is worse"], by_key["defects sit at the exit"]
    ratio = np.geomspace(0.5, 2, 101)
    assert not (one.met(ratio) & two.met(1 / ratio)).any()
    rakes = [by_key[k] for k in ("quality rises as rake falls", "mid rake, hardwood", "large rake, hardwood")]
    assert {s.reliability for s in rakes} == {0.6}


# --- what is measured -------------------------------------------------------------------------------------------------


@dataclasses.dataclass(frozen=True)
class Seen:
    """Fuzz is the lowest speed over the speed; tear the feed over 10 000; nothing depends on the fibres."""

    bundle: float = 0.2

    def lip_risks(self, strikes, fibres, cut, wood):
        there = strikes.lips.exists
        fuzz = 10_000 / cut.spindle_speed * (2.0 if wood.name == "black cherry" else 1.0) / 3
        return {"fuzz": np.where(there, fuzz, np.nan), "tear": np.where(there, cut.feed / 10_000, np.nan)}


def test_measures_of_a_model_one_can_see_through():
    answers = cs.ask_literature(Seen())
    assert answers["speed halves fuzz, 10 mm, maple"].measure == pytest.approx(12_500 / 23_000)
    assert not answers["speed halves fuzz, 10 mm, maple"].met
    assert answers["feed moves it by a third, cherry"].measure == pytest.approx(0, abs=1e-9)
    assert answers["fastest feeds are worse, maple"].measure == pytest.approx(0, abs=1e-9)
    assert answers["clean against the grain, maple"].measure == pytest.approx(10_000 / 12_500 / 3)
    assert answers["fewer marks tear more"].measure == pytest.approx(4)
    assert answers["fuzz sits with the grain"].measure == pytest.approx(1)
    assert answers["conventional lip is worse"].measure == pytest.approx(1)
    rough = [1 - (1 - 10_000 / s / 3) * (1 - f / 10_000) for s, f in ((24_000, 2400), (12_000, 1200))]
    assert answers["speed alone does nothing, beech"].measure == pytest.approx(rough[0] / rough[1])
    assert np.isnan(answers["a sharp bit does not burn"].measure)  # it says nothing of scorch
    assert not answers["a sharp bit does not burn"].met
    assert np.isnan(answers["normal force turns"].measure)
    assert "not known" in str(answers)
    with pytest.raises(cs.DomainError, match=r"^key must be"):
        answers["moon phase"]


def test_a_scene_is_what_maps_say():
    """Independent road: maps of a long straight groove at every direction, many stations, against four phases."""
    scene = Scene(feed=2400.0, directions=(30.0, 150.0))
    cut = cs.Cut(cs.VBit(90, 16, 2, 0.2), cs.line((0, 0), (60, 0), 4.9), 17_000, 2400)
    found = Witness([cs.RiskModel()]).ask(scene)
    for k, way in enumerate(scene.directions):
        board = cs.Board(cs.wood("sugar maple"), cs.straight_grain(way))
        risk = cs.risk_map(cut, board, pitch=0.0637)
        inside = (risk.station > 20) & (risk.station < 40)
        for name in ("fuzz", "tear"):
            whole = risk.values(name)[inside].mean(axis=0)
            np.testing.assert_allclose(found[name][k, :, 0], whole, atol=0.004)


def test_models_side_by_side_are_as_alone():
    """Exactly so in one layer; in a thinner one the fastest strike, which heats, may lie beyond it."""
    models = (cs.RiskModel(bundle=0.25), cs.RiskModel(), cs.RiskModel(friction=0.3))
    together = Witness(models).ask(Scene())
    for k, model in enumerate(models):
        alone = Witness([model]).ask(Scene())
        for name, value in alone.items():
            off = 1e-5 if k == 0 and name == "scorch" else 1e-13
            np.testing.assert_allclose(together[name][..., k], value[..., 0], rtol=0, atol=off)


def test_the_default_and_its_report():
    answers = cs.ask_literature()
    assert answers.met == sum(row.met for row in answers) >= 40
    assert f"{answers.met} of {len(answers)} statements met" in str(answers)
    assert "Lungu" in answers.to_csv()
    by_hand = {s.key: s for s in statements()}
    for row in answers:
        assert isinstance(row.statement, Statement)
        assert row.met == bool(by_hand[row.statement.key].met(np.array(row.measure)))


# --- the prior and what is left of it ---------------------------------------------------------------------------------


def test_the_prior_is_even_over_its_ranges():
    prior = Prior(("a", "b", "c"), ((1.0, 2.0), (0.1, 10.0), (0.0, 1.0)), ({}, {}, {0.0: 0.25}))
    at = np.array([[0.0, 0.0, 0.0], [0.5, 0.5, 0.375], [1.0, 1.0, 0.75], [0.5, 0.5, 0.76]])
    np.testing.assert_allclose(prior.values(at), [[1, 0.1, 0], [1.5, 1, 0.5], [2, 10, 1], [1.5, 1, 0]])
    own = Prior.of_risk_model()
    assert {*own.names, *BESIDE} == {f.name for f in dataclasses.fields(cs.RiskModel)}
    values = own.values(np.random.default_rng(0).random((200, len(own.names))))
    for model in models_at(own.names, values):
        assert dataclasses.replace(model) == model  # every one of them could have been made by hand


def test_the_shipped_draws_are_models():
    known, prior = ensemble(), Prior.of_risk_model()
    assert known.names == prior.names
    assert not set(BESIDE) & set(known.names)
    assert len(known.values) >= 100
    for column, (low, high), atoms in zip(known.values.T, prior.ranges, prior.atoms, strict=True):
        within = (column >= low * (1 - 1e-3)) & (column <= high * (1 + 1e-3))
        assert (within | np.isin(column, list(atoms))).all()
    for model in cs.model_draws(5, seed=3):
        assert type(model) is cs.RiskModel
        assert dataclasses.replace(model) == model
    assert cs.model_draws(5, seed=3) == cs.model_draws(5, seed=3)
    assert cs.model_draws(5, seed=3) != cs.model_draws(5, seed=4)
    size = len(known.values)
    twice = [dataclasses.replace(m, lift=0.0) for m in cs.model_draws(2 * size)]  # lift is drawn beside them
    assert sorted(map(repr, twice[:size])) == sorted(map(repr, twice[size:]))
    for wrong in (0, -1, 1.5, 10_001, "3", None):
        with pytest.raises(cs.DomainError, match=r"^n must"):
            cs.model_draws(wrong)


def test_draws_about_another_model_than_the_default():
    """What it has in common with the default is drawn as there; what differs is spread about its own; a layer held."""
    usual, own = cs.RiskModel(), cs.RiskModel(drag=0.1, bundle=0.17)
    one, other = (literature_draws(m, 300, 5) for m in (usual, own))
    assert one.names == other.names
    for k, name in enumerate(one.names):
        if name not in ("drag", "bundle"):
            np.testing.assert_array_equal(one.coordinates[:, k], other.coordinates[:, k])
    assert {m.bundle for m in other.models} == {0.17}
    assert len({m.bundle for m in one.models}) > 1
    below = [np.mean([m.drag < d for m in draws.models]) for draws, d in ((one, usual.drag), (other, 0.1))]
    assert below[0] == below[1]
    lower, upper = Coefficients(own).value("drag", np.array([-6.0, 6.0]))
    assert all(lower <= m.drag <= upper for m in other.models)


def test_coordinates_and_values_are_each_others_inverse():
    coefficients = Coefficients(cs.RiskModel())
    z = np.linspace(-3, 3, 12)  # at 0 a model has the centre's own value, which may be an end of its range
    for name in coefficients.names:
        np.testing.assert_allclose(coefficients.coordinate(name, coefficients.value(name, z)), z, atol=1e-6)


# --- what nobody measures ---------------------------------------------------------------------------------------------


def test_an_edge_that_nobody_looked_at_is_drawn():
    """3 to 20 um about 8; a measured one is what it is, and the band of a job is narrower for it."""
    new = cs.VBit(60, 12.7, 2)
    assert new.edge_radius == 0.008
    assert not new.edge_measured
    looked_at = cs.VBit(60, 12.7, 2, edge_radius=0.008)
    assert looked_at.edge_measured
    assert dataclasses.replace(new, rake=5).edge_measured is False  # copies keep it
    assert dataclasses.replace(new, edge_radius=0.02).edge_measured is True
    drawn = edge_factors(new, 4000, 1)
    assert drawn.min() >= 1 / EDGE
    assert drawn.max() <= EDGE
    assert pytest.approx((0.0032, 0.02)) == (0.008 / EDGE, 0.008 * EDGE)
    assert (drawn < 1).mean() == pytest.approx(0.5, abs=0.03)
    assert (edge_factors(looked_at, 10, 1) == 1).all()
    np.testing.assert_array_equal(drawn[:5], edge_factors(new, 4000, 1)[:5])
    other = edge_factors(cs.VBit(90, 12.7, 2), 4000, 1)
    assert abs(np.corrcoef(drawn, other)[0, 1]) < 0.05  # each bit its own
    model = cs.RiskModel(bundle=0.2)
    wide, narrow = (
        cs.risk_map(cs.Cut(bit, cs.ring(11, 2.0), 16_000, 1400), BOARD, model=model, pitch=2.0, draws=200).band
        for bit in (new, looked_at)
    )
    spread = [np.nanmean(np.log((b.high + 0.01) / (b.low + 0.01))) for b in (wide, narrow)]
    assert spread[0] > 1.02 * spread[1]


def test_the_layer_is_drawn_unless_it_is_given():
    free, held = (literature_draws(m, 50, 0) for m in (cs.RiskModel(), cs.RiskModel(bundle=0.21)))
    assert len({m.bundle for m in free.models}) > 2
    assert {m.bundle for m in held.models} == {0.21}


def test_what_is_not_known_of_the_grain_widens_bands_only():
    sure = BOARD
    unsure = dataclasses.replace(BOARD, grain_error=10)
    cut = cs.Cut(cs.VBit(60, 12.7, 2, edge_radius=0.008), cs.line((0, 0), (30, 0), 2.0), 16_000, 1400)
    one, two = (cs.risk_map(cut, b, pitch=2.0, draws=200) for b in (sure, unsure))
    assert cs.risk_map(cut, sure, pitch=2.0).damage.tobytes() == cs.risk_map(cut, unsure, pitch=2.0).damage.tobytes()
    spread = [np.nanmean(np.log((m.band.high + 0.01) / (m.band.low + 0.01))) for m in (one, two)]
    assert spread[1] > 1.03 * spread[0]  # 1.06: most of the band is what the model does not know
    turns = fibre_turns(10.0, 20_000, 3)
    assert turns.std() == pytest.approx(10, rel=0.02)
    assert fibre_turns(0.0, 5, 3) is None


def test_fibres_turned_for_each_draw_are_boards_turned():
    """Against the definition: the map of each draw's model on a board whose grain is turned by that draw."""
    unsure = dataclasses.replace(BOARD, grain_error=10)
    cut = cs.Cut(cs.VBit(60, 12.7, 2, edge_radius=0.008), cs.line((0, 0), (30, 0), 2.0), 16_000, 1400)
    model = cs.RiskModel(bundle=0.21)
    band = cs.risk_map(cut, unsure, model=model, pitch=3.0, draws=12, seed=2).band
    draws, turns = literature_draws(model, 12, 2), fibre_turns(10.0, 12, 2)
    damage = []
    for m, grader, shift, turn in zip(draws.models, draws.graders, draws.shifts, turns, strict=True):
        one = cs.risk_map(cut, cs.Board(BOARD.wood, cs.straight_grain(20 + turn)), model=m, pitch=3.0)
        spared = 1 - one.scorch
        for name in ("fuzz", "tear"):
            spared = spared * (1 - grader.on_own_scale(name, one.values(name), shift))
        damage.append(1 - spared)
    np.testing.assert_allclose(band.median, np.percentile(damage, 50, axis=0), atol=1e-10)


# --- orders that draws dispute ----------------------------------------------------------------------------------------


def test_which_lean_is_bad_is_not_certain():
    """'/' against '\\': worse in most draws, and not in all."""
    cut = cs.Cut(cs.VBit(90, 12.7, 2), cs.line((0, 0), (30, 0), 2.0), 15_000, 3000)
    board = cs.Board(cs.wood("sugar maple"), cs.straight_grain(0))
    rose = cs.risk_rose(cut, board, headings=np.arange(0.0, 180.0, 15.0), draws=100)
    assert rose.odds.draws == 100
    assert rose.odds.worse > 50
    assert rose.odds.better > 0
    assert f"in {rose.odds.worse} of 100 draws, better in {rose.odds.better}" in " ".join(str(rose).split())
    assert cs.risk_rose(cut, board, headings=[0.0, 30.0], draws=0).odds is None
    assert cs.risk_rose(cut, board, headings=[0.0, 90.0]).odds is None  # neither leans


def test_a_layout_and_a_comparison_say_whether_it_is_more_than_is_known():
    cut = cs.Cut(cs.VBit(60, 12.7, 2), cs.oval(40, 15, 2.0).rotated(50), 18_000, 1500)
    layout = cs.best_layout(cut, BOARD, step=30, pitch=1.0, draws=20)
    assert len(layout.hand[0].work) == layout.draws == 20
    assert layout.verdict in " ".join(str(layout).split())  # the report is folded
    sharp, dull = (dataclasses.replace(cut, bit=cs.VBit(60, 12.7, 2, edge_radius=r)) for r in (0.006, 0.03))
    found = cs.compare({"sharp": sharp, "dull": dull}, BOARD, pitch=1.0, draws=20)
    assert found.best().name == "sharp"
    assert np.mean(found["sharp"].boards < found["dull"].boards) > 0.75
    assert "min less than dull" in found.verdict
    assert " ".join(found.verdict.split()) in " ".join(str(found).split())


# --- the script -------------------------------------------------------------------------------------------------------


def test_sampling_finds_a_posterior_known_in_closed_form(script, monkeypatch):
    """Two statements on even shares: u < 0.3 of reliability 0.9, v > 0.5 of 0.8 and weight a half."""
    base = dataclasses.replace(statements()[0], bound="> 0")
    some = (
        dataclasses.replace(base, key="a", reliability=0.9, weight=1.0),
        dataclasses.replace(base, key="b", reliability=0.8, weight=0.5),
    )
    monkeypatch.setattr(script, "statements", lambda: some)
    monkeypatch.setattr(script, "asked", lambda prior, u: np.stack([u[:, 0] < 0.3, u[:, 1] > 0.5], axis=1))
    rng = np.random.default_rng(4)
    shares = rng.random((4000, 3))
    end, told = script.conditioned(None, script.Population(shares, script.asked(None, shares)), 3, rng)
    assert "effective size" in told[0]
    p, q = 0.3 * 0.9 / (0.3 * 0.9 + 0.7 * 0.1), 2 / 3
    assert end.met.mean(axis=0) == pytest.approx([p, q], abs=0.03)
    inside = end.shares[end.met[:, 0], 0]
    assert inside.mean() == pytest.approx(0.15, abs=0.01)  # even within
    assert end.shares[:, 2].mean() == pytest.approx(0.5, abs=0.02)
    without, size = script.left_out(end.met)  # independent of each other: what is left is the prior
    assert without == pytest.approx([0.3, 0.5], abs=0.04)
    assert (size > 1000).all()
    assert script.effective(np.zeros(7)) == pytest.approx(7)
    assert script.effective(np.log([1.0, 1e-12])) == pytest.approx(1)


@cache
def shares_met(count):
    """Whether the first shipped draws meet each statement, (statements, count)."""
    known = ensemble()
    found = measures(models_at(known.names, known.values[:: len(known.values) // count][:count]))
    return np.stack([s.met(v) for s, v in zip(statements(), found, strict=True)])


def test_the_shipped_draws_are_those_of_the_script(script, capsys):
    """At small size: they meet as many statements as draws that are made afresh, and more than the prior."""
    before, after, without = script.main(24, 1)
    shipped = shares_met(24).mean(axis=1)
    told = capsys.readouterr().out
    assert "left out" in told
    assert "effective size" in told
    assert shipped.sum() > before.sum() + 1
    assert shipped.sum() == pytest.approx(after.sum(), abs=3.0)
    open_ones = (before > 0.2) & (before < 0.8)
    assert np.corrcoef((shipped - before)[open_ones], (after - before)[open_ones])[0, 1] > 0.4
    assert np.abs(without - after).max() < 0.6


def test_the_table_says_what_is():
    """Whether the default meets a statement, and in what share of the shipped draws it holds."""
    page = BENCHMARKS.parent / "examples" / "reference" / "literature.csv"
    if not page.exists():
        pytest.skip("not a checkout")
    with open(page, newline="", encoding="utf-8") as handle:
        printed = {row["statement"]: row for row in csv.DictReader(handle)}
    assert list(printed) == [s.key for s in statements()]
    shares = shares_met(72).mean(axis=1)
    for answer, share in zip(cs.ask_literature(), shares, strict=True):
        s, row = answer.statement, printed[answer.statement.key]
        assert row["source"] == s.source
        assert row["defaults"].startswith("met" if answer.met else "not met"), s.key
        assert float(row["after"]) == pytest.approx(share, abs=0.2), s.key  # of 72: three standard deviations
        assert 0 <= float(row["left out"]) <= 1


def test_the_default_lies_among_the_draws():
    """Each of its coefficients between the first and the last of a hundred draws, or at an end of its range."""
    known, usual, prior = ensemble(), cs.RiskModel(), Prior.of_risk_model()
    for name, column, ends in zip(known.names, known.values.T, prior.ranges, strict=True):
        low, high = np.percentile(column, [1, 99])
        assert low - 1e-9 <= getattr(usual, name) <= high + 1e-9 or getattr(usual, name) in ends, name


def test_statements_are_asked_on_a_layer_thick_enough():
    assert Prior.of_risk_model().ranges[Prior.of_risk_model().names.index("bundle")][1] <= literature.THICKEST
