"""What shear does at the lips: pressed fibres are held, lifted ones are not; in the model and in its draws."""

from dataclasses import replace

import numpy as np
import pytest

import chipsim as cs
from chipsim.damage import priors
from chipsim.damage.ensemble import lifted, model_draws
from chipsim.damage.priors import Coefficients, literature_draws
from chipsim.scene.oblique import neutral_shear

BIT = cs.VBit(60, 12.7, 2, 0.2)
BOARD = cs.Board(cs.wood("sugar maple"), cs.straight_grain(azimuth=20))
HELD = cs.RiskModel(lift=1.0)


def cut(shear, **more):
    return cs.Cut(replace(BIT, shear=shear, **more), cs.ring(6, 1.5), 18_000, 1500)


@pytest.mark.parametrize("rake", [0.0, 10.0, 25.0])
@pytest.mark.parametrize("shear", [-25.0, 15.0])
def test_a_strike_lifts_by_what_shear_adds_to_its_push(shear, rake):
    """The push of a face as a vector, with and without shear, from `push_at_lip`; the same at every strike."""
    job = cut(shear, rake=rake)
    strikes = cs.lip_strikes(job, pitch=2.0)
    known = np.isfinite(strikes.lifts)
    assert (known == np.isfinite(strikes.chips)).all()
    told = cs.lip_push(strikes, job) - float(cs.push_at_lip(rake, 30).up)
    np.testing.assert_allclose(strikes.lifts[known], told[known], atol=1e-14)
    # where the whole push is nothing, shear takes away what the rake lifts
    neutral = float(neutral_shear(10, 30))
    assert np.cos(np.radians(10)) * np.sin(np.radians(neutral)) * np.cos(np.radians(30)) == pytest.approx(
        -np.sin(np.radians(10)) * np.sin(np.radians(30))
    )


def test_each_flute_lifts_with_its_own_shear():
    strikes = cs.lip_strikes(cut((15.0, -25.0)), pitch=2.0)
    up, down = (float(cs.push_at_lip(10, 30, shear=s).up - cs.push_at_lip(10, 30).up) for s in (15.0, -25.0))
    found = strikes.lifts[np.isfinite(strikes.lifts)]
    assert np.minimum(abs(found - up), abs(found - down)).max() < 1e-12
    assert 0.3 < (found > 0).mean() < 0.7
    thin = strikes.thinner(strikes.bundle / 2)
    assert (np.isfinite(thin.lifts) == np.isfinite(thin.chips)).all()


def test_straight_bits_are_as_they_were_to_the_last_bit():
    """Whatever lifting costs; and a sheared bit, where it costs nothing, has the risks of its strikes alone."""
    straight = cs.lip_strikes(cut(0.0), pitch=1.0)
    assert not np.nan_to_num(straight.lifts).any()
    one, other = (cs.risk_map(cut(0.0), BOARD, model=m, pitch=1.0) for m in (cs.RiskModel(), cs.RiskModel(lift=2.0)))
    for name in ("fuzz", "tear", "scorch"):
        np.testing.assert_array_equal(one.values(name), other.values(name))
    sheared = cs.risk_map(cut(-15.0), BOARD, pitch=1.0)
    assert sheared.mean("damage") == pytest.approx(one.mean("damage"), abs=0.01)


def test_pressing_holds_and_lifting_frees():
    """Fuzz and tear grow with the shear, scorch does not know it; twice the coefficient, twice the exponent."""
    maps = [cs.risk_map(cut(s), BOARD, model=HELD, pitch=1.0) for s in (-20.0, -10.0, 0.0, 10.0, 20.0)]
    for name in ("fuzz", "tear"):
        assert (np.diff([m.mean(name) for m in maps]) > 0).all()
    scorch = [m.mean("scorch") for m in maps]
    assert np.ptp(scorch) < 0.02


def test_the_hazard_of_held_fibres_by_hand():
    """Without inertia and with one blow's law the hazard goes as exp(-exponent lift u)."""
    job = cut(-15.0)
    strikes = cs.lip_strikes(job, pitch=2.0)
    fibres = np.broadcast_to([0.6, 0.8, 0.0], (*strikes.exists.shape, 3))
    free, held = (
        cs.RiskModel(inertia=0.0, exponent=4.0, lift=c).lip_risks(strikes, fibres, job, BOARD.wood) for c in (0.0, 1.5)
    )
    u = np.cos(np.radians(10)) * np.sin(np.radians(-15)) * np.cos(np.radians(30))
    there = strikes.exists & (free["hazard"] > 0)
    np.testing.assert_allclose(held["hazard"][there] / free["hazard"][there], np.exp(-4 * 1.5 * u), rtol=1e-9)


def test_half_of_the_draws_hold_that_it_does_nothing():
    for models in (model_draws(200), literature_draws(cs.RiskModel(), 200, 3).models):
        lifts = np.array([m.lift for m in models])
        assert (lifts == 0).mean() == pytest.approx(0.5, abs=0.02)
        assert lifts.max() == pytest.approx(2.0, abs=0.03)
        assert lifts[lifts > 0].mean() == pytest.approx(1.0, abs=0.05)
    own = cs.RiskModel(lift=0.7)
    assert {m.lift for m in literature_draws(own, 20, 0).models} == {0.7}
    assert lifted([own] * 3, own) == (own,) * 3
    assert "lift" not in Coefficients(cs.RiskModel()).names


def test_bands_of_straight_bits_do_not_know_of_it(monkeypatch):
    """What is drawn beside the shipped draws moves no number of a straight bit, and widens a sheared one's band."""
    drawn = {s: cs.risk_map(cut(s), BOARD, pitch=2.0, draws=40) for s in (0.0, -20.0)}
    monkeypatch.setattr(priors, "lifted", lambda models, _: tuple(models))
    plain = {s: cs.risk_map(cut(s), BOARD, pitch=2.0, draws=40) for s in (0.0, -20.0)}
    for name in ("low", "median", "high"):
        np.testing.assert_array_equal(getattr(drawn[0.0].band, name), getattr(plain[0.0].band, name))
    assert np.nanmean(drawn[-20.0].band.low) < np.nanmean(plain[-20.0].band.low)
