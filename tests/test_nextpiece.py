"""The worth of a sample against closed forms and counting, minutes against grades that are thrown, and the choice."""

import dataclasses

import numpy as np
import pytest

import chipsim as cs
from chipsim.choosing.worth import perfect
from chipsim.learning.nextpiece import PieceCost, _folds, worth_of_sample

BIT = cs.VBit(90, 10, 2)
BOARD = cs.Board(cs.wood("black cherry", moisture=8), cs.straight_grain(0))
MACHINE = cs.Machine(800, 5000)
JOB = cs.Cut(BIT, cs.ring(10, 2), 18_000, 1200)
ASK = {"speeds": [12_000, 21_000], "feeds": [600, 1800], "draws": 64}


# --- what a sample is worth -------------------------------------------------------------------------------------------


@pytest.mark.parametrize("noise", [0.0, 0.5, 1.0, 3.0])
def test_the_worth_of_a_normal_signal_against_its_closed_form(noise):
    """Two settings, their difference D ~ N(0, 1), seen as D + noise: E max(0, E[D | x]) = s / sqrt(2 pi) with
    s^2 = 1 / (1 + noise^2), the variance of the posterior mean (Raiffa & Schlaifer 1961, from memory)."""
    rng = np.random.default_rng(4)
    apart = rng.standard_normal(4000)
    seen = apart + noise * rng.standard_normal(4000)
    minutes = np.stack([20 + 0 * apart, 20 + apart], axis=1)
    worth, error = worth_of_sample(minutes, seen[:, None])
    assert worth == pytest.approx(1 / np.sqrt((1 + noise**2) * 2 * np.pi), abs=3 * error)
    known, _ = perfect(minutes)
    assert worth <= known + 1e-12


def test_what_says_nothing_is_worth_nothing():
    rng = np.random.default_rng(1)
    minutes = 20 + rng.standard_normal((1500, 5))
    for signals in (np.ones((1500, 3)), rng.standard_normal((1500, 3)), np.zeros((1500, 0))):
        worth, error = worth_of_sample(minutes, signals)
        assert worth <= 3 * error + 1e-12
    assert worth_of_sample(minutes[:, :1], rng.standard_normal((1500, 2)))[0] == 0.0


def test_a_count_of_flags_against_counting():
    """Boards that burn or not, told by a stroke with some boxes flagged: the best setting for each count, counted."""
    rng = np.random.default_rng(7)
    n = 20_000
    burns = rng.random(n) < 0.3
    flags = rng.binomial(8, np.where(burns, 0.5, 0.1))
    minutes = np.stack([12 + rng.standard_normal(n), np.where(burns, 30, 8) + rng.standard_normal(n)], axis=1)
    # brute force: for every count the setting that is best on the boards with that count
    best = sum(np.mean(flags == k) * minutes[flags == k].mean(axis=0).min() for k in range(9) if np.any(flags == k))
    direct = minutes.mean(axis=0).min() - best
    worth, error = worth_of_sample(minutes, flags[:, None] / 8)
    assert worth == pytest.approx(direct, abs=max(3 * error, 0.04 * direct))
    assert worth <= perfect(minutes)[0]


def test_every_board_is_paid_for_once():
    every = np.sort(np.concatenate([held for held, _ in _folds(403)]))
    np.testing.assert_array_equal(every, np.arange(403))


# --- the choice -------------------------------------------------------------------------------------------------------


@pytest.fixture(scope="module")
def many():
    return cs.next_coupon(JOB, BOARD, MACHINE, BIT, repeats=500, **ASK)


def test_the_verdict_is_what_the_figures_say_and_for_free_handwork_nothing_pays(many):
    """Whatever the coefficients: with a worth of nothing there is nothing to cut, and with one there is something."""
    low, high = (500 * (many.gain + s * 1.64 * many.error) for s in (-1, 1))
    assert many.verdict == ("cut" if low > many.cost else "open" if high > many.cost else "stop")
    assert many.verdict != "stop"
    assert isinstance(many.coupon, cs.Coupon)
    assert many.coupon.graded()
    assert many.net == pytest.approx(500 * many.gain - many.cost)
    assert many.cost == PieceCost().of(many.coupon)
    assert many.gain <= many.perfect[0] + 2 * (many.perfect[1] + many.error)
    assert any(not c.piece.rings for c in many)  # strokes are among what was looked at
    assert any(c.piece.rings for c in many)
    assert str(many).startswith({"cut": "CUT NEXT:", "open": "It cannot be told"}[many.verdict])
    free = cs.HandWork(fuzz=(0,) * 5, tear=(0,) * 5, scorch=(0,) * 5, setup=(0,) * 3, spoilt=0)
    nothing = cs.next_coupon(JOB, BOARD, MACHINE, BIT, repeats=500, handwork=free, **ASK)
    assert nothing.verdict == "stop"
    assert nothing.coupon is None
    assert nothing.perfect[0] == pytest.approx(0.0, abs=1e-9)
    # without handwork the fastest setting is the best
    assert nothing.pick.feed == 1800
    assert "STOP TESTING" in str(nothing)
    assert nothing.net == 0.0


def test_a_piece_that_costs_more_than_all_there_is_to_know_is_not_cut():
    dear = PieceCost(start=1e4, look=1e4)
    found = cs.next_coupon(JOB, BOARD, MACHINE, BIT, costs=dear, **ASK)
    assert found.verdict == "stop"
    assert len(found) == 0  # not even reckoned


def test_the_same_is_chosen_again_and_the_piece_can_be_cut_and_graded(many, tmp_path):
    again = cs.next_coupon(JOB, BOARD, MACHINE, BIT, repeats=500, **ASK)
    assert [c[:4] for c in again] == [c[:4] for c in many]
    assert again.coupon.identity == many.coupon.identity
    grades = cs.invented_grades(many.coupon, seed=1)
    assert cs.read_grades(grades.to_csv(), many.coupon) == grades
    cs.write_rs274(many.coupon.carving, tmp_path / "next.nc")
    cs.write_grading_sheet(many.coupon, tmp_path / "next.pdf")
    many.coupon.save(tmp_path / "next.json")
    assert cs.Coupon.load(tmp_path / "next.json").identity == many.coupon.identity


def test_a_fit_can_learn_from_strokes_alone_and_is_a_model_to_ask_with():
    piece = cs.coupon(BIT, BOARD, 21_000, 600, machine=MACHINE, rings=False, straight_pair=False, stair=False,
                      strokes=[0, 60])  # fmt: skip
    form = cs.invented_grades(piece, seed=2)
    assert {r.lip for r in form} == {"left", "right"}
    fitted = cs.fit(piece, form)
    assert fitted.count == len(form.used())
    assert np.isfinite(fitted.parameters).all()
    burnt = cs.Grades(piece.name, tuple(r._replace(flags="s") for r in form if r.grade is not None), piece.identity)
    cool = cs.Grades(piece.name, tuple(r._replace(flags="") for r in form if r.grade is not None), piece.identity)
    hot, cold = (
        cs.risk_map(dataclasses.replace(JOB, spindle_speed=21_000, feed=600), BOARD, model=cs.fit(piece, g), pitch=2.0)
        for g in (burnt, cool)
    )
    assert hot.mean("scorch") > cold.mean("scorch")
    found = cs.next_coupon(JOB, BOARD, MACHINE, BIT, model=fitted, repeats=3, **ASK)
    assert found.verdict in ("cut", "stop", "open")


def test_bad_input():
    for words, change in {
        "board must": {"board": 3},
        "machine must": {"machine": 3},
        "bits must": {"bits": "bit"},
        "bits must hold": {"bits": []},
        "model must": {"model": "mine"},
        "handwork must": {"handwork": 3},
        "repeats must": {"repeats": 0},
        "draws must": {"draws": 10},
        "costs must": {"costs": 3},
        "speeds must": {"speeds": [10]},
        "feeds must": {"feeds": [-5]},
        "seed must": {"seed": -1},
        "name must": {"name": ""},
        "carving must": {"feeds": [5000]},
    }.items():
        ask = {"board": BOARD, "machine": MACHINE, "bits": BIT} | ASK | change
        with pytest.raises(cs.DomainError, match=words):
            cs.next_coupon(JOB, **ask)
    with pytest.raises(cs.DomainError, match="carving must"):
        cs.next_coupon("job", BOARD, MACHINE, BIT)
    dial = cs.Machine(800, 5000, dial=cs.Dial([1, 2], [12_000, 21_000]))
    with pytest.raises(cs.DomainError, match="speeds must be left out"):
        cs.next_coupon(JOB, BOARD, dial, BIT, **ASK)
