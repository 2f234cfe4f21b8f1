"""Minutes by hand: against their definition place by place, and what must hold of any prices."""

from __future__ import annotations

import dataclasses
import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from slow_minutes import minutes, place

import chipsim as cs
from chipsim.damage.bands import draws_of
from chipsim.damage.handwork import board_minutes, lengths_of, lengths_of_ways, middle_draws, minutes_of, share_from
from chipsim.damage.priors import Draws, Grader
from chipsim.testing.strategies import steadily

BIT = cs.VBit(60, 12.7, 2, 0.2, edge_radius=0.008)  # measured: a map draws no other
CUT = cs.Cut(BIT, cs.polyline([(0, 0), (9, 1), (6, 8)], 1.5), 16_000, 900)
BOARD = cs.Board(cs.wood("sugar maple"), cs.straight_grain(30))
RATES = cs.HandWork(fuzz=(0, 0.4, 1, 5, 9), scorch=(0, 1, 2, 9, 30), setup=(1, 2, 3), spoilt=45, spoilt_length=60)


def drawn(count, seed):
    """Graders and shifts without models."""
    rng = np.random.default_rng(seed)
    graders = tuple(Grader.at(row) for row in rng.standard_normal((count, 9)))
    return Draws((), graders, rng.standard_normal(count), np.zeros((count, 0)), ())


@pytest.mark.parametrize("seed", range(3))
def test_lengths_are_those_of_their_definition(seed):
    """Every combination of grades of every place, added up one by one."""
    rng = np.random.default_rng(seed)
    known, length = drawn(5, seed), rng.random((7, 2)) * (rng.random((7, 2)) < 0.8)
    risks = [rng.random((7, 2, 5)) for _ in range(3)]
    risks[seed][1] = np.nan  # not known of two lips
    found = lengths_of(known, risks, length)
    slow = np.zeros((5, 5, 5, 5))
    for d in range(5):
        for i in range(7):
            for k in range(2):
                f, t, s = place(*(r[i, k, d] for r in risks), known.graders[d], known.shifts[d])
                slow[d] += length[i, k] * np.einsum("a,b,c", f, t, s)
    np.testing.assert_allclose(found, slow, rtol=0, atol=1e-10)
    np.testing.assert_allclose(found.sum(axis=(1, 2, 3)), length.sum(), rtol=1e-12)
    assert found.min() > -1e-12


def test_many_ways_are_read_as_one_after_the_other():
    """More lips than are worked on at a time, risks at both ends of their range, and one that is not known."""
    rng = np.random.default_rng(3)
    known, length = middle_draws(False), rng.random((300, 2)) * (rng.random((300, 2)) < 0.7)
    risks = [rng.choice([0.0, 1e-12, 0.2, 0.7, 1.0], (300, 2, 4)) for _ in range(3)]
    risks[1][40] = np.nan
    found = lengths_of_ways(known, risks, length)
    for way in range(4):
        one = [np.repeat(risk[..., way : way + 1], len(known.shifts), axis=-1) for risk in risks]
        np.testing.assert_allclose(found[way], lengths_of(known, one, length), rtol=0, atol=1e-11)
    i, k = np.argwhere(length > 0)[0]
    alone = np.zeros_like(length)
    alone[i, k] = 1.0
    f, t, s = place(*(r[i, k, 0] for r in risks), known.graders[0], known.shifts[0])
    np.testing.assert_allclose(lengths_of_ways(known, risks, alone)[0, 0], np.einsum("a,b,c", f, t, s), atol=1e-12)


def test_a_map_takes_the_minutes_of_its_definition():
    """With a band: every draw's own map, by hand; without: the nodes of reader, job and board."""
    risk = cs.risk_map(CUT, BOARD, pitch=1.0, draws=3, seed=2)
    known = draws_of(cs.RiskModel(), BOARD, 3, 2)
    by_hand = [
        minutes(cs.risk_map(CUT, BOARD, model=model, pitch=1.0), grader, shift, RATES)
        for model, grader, shift in zip(known.models, known.graders, known.shifts, strict=True)
    ]
    found = risk.hand_minutes(RATES)
    np.testing.assert_allclose(found.boards, by_hand, rtol=1e-5)
    assert float(found) == pytest.approx(np.mean(by_hand), rel=1e-5)
    assert np.ptp(by_hand) > 1
    bare = dataclasses.replace(risk, band=None)
    nodes = middle_draws(taught=False)
    slow = [minutes(bare, g, s, RATES) for g, s in zip(nodes.graders, nodes.shifts, strict=True)]
    assert float(bare.hand_minutes(RATES)) == pytest.approx(np.mean(slow), rel=1e-9)
    assert found.lip == pytest.approx(risk.lip_length[risk.exists].sum(), rel=1e-5)
    assert found.cures.sum() == pytest.approx(found.lip)
    np.testing.assert_allclose(found.lengths.sum(axis=1), found.lip)


def test_the_nodes_have_the_spread_of_the_priors():
    """Job 0.3, board 0.4, first cut point 0.7 (`priors`): the root of the sum of their squares."""
    assert middle_draws(taught=False).shifts.std() == pytest.approx(math.sqrt(0.09 + 0.16 + 0.49))
    assert middle_draws(taught=True).shifts.std() == pytest.approx(0.3)
    assert middle_draws(taught=True).shifts.mean() == pytest.approx(0)


def test_minutes_survive_a_file(tmp_path):
    risk = cs.risk_map(CUT, BOARD, pitch=1.0, draws=8)
    risk.save(tmp_path / "map.npz")
    again = cs.RiskMap.load(tmp_path / "map.npz")
    assert float(again.hand_minutes(RATES)) == float(risk.hand_minutes(RATES))


TABLE = np.random.default_rng(3).random((6, 5, 5, 5)) * np.linspace(0, 8, 6)[:, None, None, None]
RISING = st.lists(st.floats(0, 8), min_size=5, max_size=5).map(lambda v: tuple(np.cumsum(v)))
PRICES = st.fixed_dictionaries(
    {name: RISING for name in ("fuzz", "tear", "scorch")}
    | {"setup": st.lists(st.floats(0, 20), min_size=3, max_size=3).map(tuple)}
    | {"spoilt": st.floats(0, 300), "spoilt_length": st.floats(1, 1e4), "setup_length": st.floats(1, 100)}
)


@steadily(60)
@given(prices=PRICES, more=PRICES)
def test_no_price_makes_work_cheaper(prices, more):
    """Total monotone in every price; between nothing and a spoilt piece; the causes add up to it."""
    low = cs.HandWork(**prices)
    raised = {n: tuple(np.add(prices[n], more[n])) for n in ("fuzz", "tear", "scorch", "setup")}
    for name, value in raised.items():
        high = cs.HandWork(**prices | {name: value})
        assert (board_minutes(TABLE, high) >= board_minutes(TABLE, low) - 1e-9).all(), name
    dearer = cs.HandWork(**prices | {"spoilt": prices["spoilt"] + more["spoilt"]})
    assert (board_minutes(TABLE, dearer) >= board_minutes(TABLE, low) - 1e-9).all()
    found = minutes_of(TABLE, low)
    assert ((found.boards >= -1e-12) & (found.boards <= low.spoilt + 1e-9)).all()
    assert sum(found.causes.values()) == pytest.approx(float(found), abs=1e-9)
    assert found.low <= found.high


def test_nothing_costs_nothing():
    free = cs.HandWork(fuzz=(0,) * 5, tear=(0,) * 5, scorch=(0,) * 5, setup=(0,) * 3, spoilt=0)
    assert float(minutes_of(TABLE, free)) == 0
    assert float(minutes_of(np.zeros((2, 5, 5, 5)))) == 0


@pytest.mark.parametrize("bound", [0.0, 10.0, 30.0, 44.9, 45.0, 1e3])
def test_chance_above_is_that_of_spoiling_by_a_coin(bound):
    """By drawing pieces: each board's piece is spoilt with its chance, else mended."""
    found = minutes_of(TABLE * 0.3, RATES)
    rng = np.random.default_rng(1)
    spoilt = rng.random((20_000, len(found.work))) < found.spoilt
    pieces = np.where(spoilt, RATES.spoilt, found.work)
    assert found.chance_above(bound) == pytest.approx((pieces > bound).mean(), abs=0.01)
    assert float(found) == pytest.approx(pieces.mean(), rel=0.01)
    assert found.low == pytest.approx(np.quantile(pieces, 0.1, method="inverted_cdf"), rel=0.05, abs=0.05)
    assert found.high == pytest.approx(np.quantile(pieces, 0.9, method="inverted_cdf"), rel=0.05)


def test_scaled_prices_and_shares():
    """By hand: half the fuzz with its set-up; half of the lip is of grade 4, all three kinds."""
    half = RATES.scaled("fuzz", 0.5)
    assert half.fuzz == tuple(v / 2 for v in RATES.fuzz)
    assert half.setup == (0.5, 2, 3)
    assert (half.tear, half.scorch, half.spoilt) == (RATES.tear, RATES.scorch, RATES.spoilt)
    assert RATES.scaled("spoilt piece", 2).spoilt == 90
    table = np.zeros((1, 5, 5, 5))
    table[0, 4, 0, 2] = table[0, 0, 4, 4] = 10
    np.testing.assert_allclose(share_from(table, 2), [[0.5, 0.5, 1.0]])


def test_words():
    found = cs.risk_map(CUT, BOARD, pitch=1.0, draws=8).hand_minutes()
    text = str(found)
    assert "is expected; on 8 boards in 10" in text
    assert "assumed until you have timed your own" in text
    assert "assumed" not in str(cs.risk_map(CUT, BOARD, pitch=1.0).hand_minutes(RATES))
    assert [row.cause for row in found] == ["fuzz", "tear-out", "scorch", "set-up", "spoilt piece"]
    assert found.to_csv().startswith("cause,minutes expected [min]")


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"fuzz": (0, 1, 2)}, "fuzz must be 5 numbers"),
        ({"tear": (0, 2, 1, 3, 4)}, "tear must not fall"),
        ({"scorch": (-1, 0, 1, 2, 3)}, "scorch must"),
        ({"setup": (1, 2)}, "setup must be 3 numbers"),
        ({"spoilt": -1}, "spoilt must"),
        ({"spoilt_length": 0}, "spoilt_length must"),
        ({"beyond_repair": (0, 2, 0)}, "beyond_repair must"),
    ],
)
def test_bad_prices_are_named(change, words):
    with pytest.raises(cs.DomainError, match=words):
        cs.HandWork(**change)
