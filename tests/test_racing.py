"""The race and the worth of knowing more, on settings whose minutes are made up: closed forms and planted cases."""

from __future__ import annotations

import math

import numpy as np
import pytest

from chipsim.choosing.racing import SHARE, race
from chipsim.choosing.worth import Worth, perfect, portfolio, worth_of
from chipsim.damage.handwork import HandWork

FREE = HandWork(
    fuzz=(0, 0, 0, 0, 100), tear=(0,) * 5, scorch=(0,) * 5, setup=(0,) * 3, spoilt=1e6, beyond_repair=(0,) * 3
)
"""A millimetre of fuzz of grade 4 takes a minute, and nothing else takes any."""


def tables(minutes):
    """What `race` asks for, of made-up minutes by hand (settings, boards); counts what was asked."""

    def asked(wanted):
        found = []
        for k, low, high in wanted:
            assert low < high
            table = np.zeros((high - low, 5, 5, 5))
            table[:, 4, 0, 0] = minutes[k, low:high]
            asked.boards += high - low
            found.append(table)
        return found

    asked.boards = 0
    return asked


def made_up(settings, boards, seed, spread=3.0):
    """Minutes of settings that share most of their boards' luck; some burn on one board in ten."""
    rng = np.random.default_rng(seed)
    mean = 10 + 4 * rng.random(settings)
    luck = rng.gamma(2.0, spread / 2, boards)
    burns = (rng.random(boards) < 0.1) * rng.exponential(30.0, (settings, boards)) * (rng.random((settings, 1)) < 0.4)
    return mean[:, None] + luck + rng.normal(0, 0.5, (settings, boards)) + burns


@pytest.mark.parametrize("settings", [25, 50, 90])
def test_the_race_finds_the_least_at_a_sixth_of_the_cost(settings):
    """Over 20 seeds, by the true means of 4096 boards: within 3 % of the least nearly always; boards are counted."""
    over = []
    for seed in range(20):
        minutes = made_up(settings, 4096, seed)
        asked = tables(minutes[:, :1024])
        held = race(np.zeros(settings), FREE, asked, 1024)
        assert held.evaluations == asked.boards <= SHARE * settings * 1024
        over.append(minutes[held.leader].mean() / minutes.mean(axis=1).min() - 1)
        # what it says of the leader is the mean of what it has seen
        assert held.expected(held.leader) == pytest.approx(
            minutes[held.leader, : len(held.minutes(held.leader))].mean()
        )
    assert np.mean(np.array(over) <= 0.03) >= 0.95
    assert np.mean(over) < 0.005


def test_differences_are_taken_on_shared_boards():
    """Minutes that rise from board to board: means over unequal numbers would mislead, differences do not."""
    luck = np.linspace(0, 100, 256)
    minutes = np.stack([luck + 5, luck + 6, luck + 7, luck + 8])
    held = race(np.zeros(4), FREE, tables(minutes), 256)
    for k in range(4):
        assert held.difference(k, 0) == (pytest.approx(k), pytest.approx(0, abs=1e-9))
        assert held.expected(k) == pytest.approx(held.expected(0) + k)
    assert held.leader == 0


def test_a_tie_needs_evidence():
    """One percent apart and well known: tied. As far apart on average, but hardly known: not."""
    rng = np.random.default_rng(4)
    luck = 100 + rng.normal(0, 5, 512)
    noise = rng.normal(0, 100, 512)
    alike, doubtful = luck + 1, luck + 1 + (noise - noise.mean())
    held = race(np.array([0.0, -2.0, -2.0]), FREE, tables(np.stack([luck, alike + 2, doubtful + 2])), 512)
    held.extend(range(3), 512)
    assert held.leader == 0
    assert held.tied(0.03) == (0, 1)
    assert held.tied(1e-4) == (0,)
    assert 2 in held.tied(0.5)


def test_of_few_settings_the_best_see_all_boards():
    minutes = made_up(3, 256, 1)
    held = race(np.zeros(3), FREE, tables(minutes), 256)
    assert len(held.minutes(held.leader)) == 256
    one = race(np.zeros(1), FREE, tables(minutes[:1]), 200)
    assert len(one.minutes(0)) == 200
    exact = race(np.zeros(3), FREE, tables(minutes[:, :9]), 9, exact=True)
    assert [len(exact.minutes(k)) for k in range(3)] == [9] * 3
    assert exact.difference(1, 0)[1] == 0


def test_more_settings_may_join():
    minutes = made_up(3, 64, 2)
    held = race(np.zeros(2), FREE, tables(minutes), 64)
    new = held.add(1.5)
    held.extend([new], 64)
    np.testing.assert_allclose(held.minutes(new), minutes[2] + 1.5)


# --- the worth of knowing -----------------------------------------------------------------------------


def two(n, seed=0):
    """Two settings, apart by a standard normal x; and a y that has nothing to do with it."""
    rng = np.random.default_rng(seed)
    x, y = rng.standard_normal((2, n))
    return np.stack([50 + x, np.full(n, 50.0)], axis=1), x, y


def test_worth_against_a_closed_form():
    """max E - E max of a standard normal x and nothing: E max(x, 0) = 1 / sqrt(2 pi) (textbook)."""
    minutes, x, y = two(4000)
    exact = 1 / math.sqrt(2 * math.pi)
    for found in (perfect(minutes), worth_of(minutes, x[:, None]), worth_of(minutes, np.stack([x, y], axis=1))):
        assert found[0] == pytest.approx(exact, abs=3 * found[1])
        assert found[1] == pytest.approx(math.sqrt((0.5 - exact**2) / 4000), rel=0.1)
    # of x known to a sign: E|x| / 2 is the same saving
    assert worth_of(minutes, np.sign(x)[:, None])[0] == pytest.approx(exact, abs=0.05)


@pytest.mark.parametrize("seed", range(4))
def test_what_tells_nothing_is_worth_nothing(seed):
    """A constant, and noise: 0 within two standard errors, never more than what everything is worth."""
    minutes, x, y = two(256, seed)
    assert worth_of(minutes, np.ones((256, 1)))[0] == 0
    noise = worth_of(minutes, y[:, None])
    assert noise[0] <= 2 * noise[1] + 0.02
    partly = worth_of(minutes, (x + 2 * y)[:, None])
    everything = perfect(minutes)
    assert partly[0] <= everything[0] + 2 * (partly[1] + everything[1])


def test_a_setting_that_is_bad_on_average_and_best_on_some_boards_is_looked_at():
    rng = np.random.default_rng(3)
    minutes = 20 + rng.normal(0, 0.5, (64, 30))
    some = rng.random(64) < 0.3
    minutes[:, 17] = np.where(some, 5.0, 60.0)
    found = portfolio(minutes, 4, 3)
    assert found[0] == 4
    assert 17 in found
    assert len(portfolio(minutes, 4, 3)) == 3
    assert portfolio(minutes[:, [4]], 0, 5) == (0,)


def test_a_portfolio_of_all_settings_loses_nothing():
    minutes = made_up(6, 200, 5).T
    found = portfolio(minutes, 2, 6)
    np.testing.assert_allclose(minutes[:, found].min(axis=1).mean(), minutes.min(axis=1).mean())
    saved = [minutes[:, portfolio(minutes, 2, n)].min(axis=1).mean() for n in range(1, 7)]
    assert (np.diff(saved) <= 1e-12).all()


def test_what_pays():
    assert Worth("", 1.0, 0.2, "").pays
    assert not Worth("", 0.3, 0.2, "").pays
    assert not Worth("", 0.05, 0.001, "").pays
