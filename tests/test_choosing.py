"""The choice: what may change it and what may not, on a small carving whose maps are kept in a folder."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import tempfile
from dataclasses import dataclass, field, replace
from functools import cache
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import spearmanr

import chipsim as cs
from chipsim.choosing.recommending import _Draws, _leading, _triangular
from chipsim.damage.orders import odds_of
from chipsim.damage.priors import Coefficients, prior_draws
from chipsim.testing.strategies import steadily

BITS = {
    "sharp": cs.VBit(60, 12.7, 2, 0.2, cutting_length=10, max_spindle_speed=30_000, edge_radius=0.006),
    "dull": cs.VBit(60, 12.7, 2, 0.2, cutting_length=10, max_spindle_speed=30_000, edge_radius=0.02),
    "wide": cs.VBit(120, 19.05, 1, 0.1, cutting_length=6, max_spindle_speed=18_000),
}
DIAL = cs.Dial([1, 2, 3, 4], [9_700, 13_150, 17_900, 22_350])
MACHINE = cs.Machine(300, 3000, travel=(300, 300, 80), dial=DIAL)
PLAN = cs.Carving((cs.Cut(BITS["sharp"], cs.polyline([(0, 0), (8, 1), (6, 7)], 1.5), 15_000, 1500),))
BOARD = cs.Board(cs.wood("sugar maple"), cs.straight_grain(30))
KNOWN = {"plunge_feed": 300, "safe_height": 5}
AXES = {"positions": (1, 2, 3, 4), "feeds": (600, 1400, 1800), "rotations": (0, 75), "passes": ((), (0.2,))}
FOLDER = tempfile.TemporaryDirectory()


@cache
def choice(bits=("sharp", "dull", "wide"), draws=4, time_limit=None, **axes):
    """A recommendation whose maps come from the folder if they were made before."""
    given = {"checks": KNOWN, "pitch": 1.0, "workers": 1, "results": FOLDER.name}
    named = {name: BITS[name] for name in bits}
    return cs.recommend(PLAN, BOARD, MACHINE, named, draws=draws, time_limit=time_limit, **(AXES | axes), **given)


def answer(found):
    """All that a user acts on."""
    odds = [(o.better, o.worse, o.even, o.other) for o in found.odds]
    return repr((found.front, odds, found.bands, found.expected, found.steadier, found.leading, found.correlation))


def dominates(one, two):
    return (
        one.damage <= two.damage
        and one.time[1] <= two.time[1]
        and (one.damage, one.time[1])
        != (
            two.damage,
            two.time[1],
        )
    )


def test_the_front_is_what_nothing_beats():
    """Definition, by comparing every pair; to the rounding that makes equal ones equal."""
    found = choice()
    allowed = [c for c in found.sweep if found.allowed(c)]
    assert len(allowed) > 20
    assert len(found.front) > 1  # or what follows says little
    for cell in found.front:
        assert not any(dominates(c, cell) for c in allowed if c.damage < cell.damage - 1e-9)
    for cell in allowed:
        close = [f for f in found.front if f.damage <= cell.damage + 1e-9 and f.time[1] <= cell.time[1] + 1e-6]
        assert close, "neither on the front nor beaten by it"
    damages, times = [c.damage for c in found.front], [c.time[1] for c in found.front]
    assert damages == sorted(damages)
    assert times == sorted(times, reverse=True)
    assert found.pick is found.front[0]
    assert found.pick.damage == pytest.approx(min(c.damage for c in allowed), abs=1e-9)


def test_a_duller_edge_never_wins():
    """Same bit, edge three times as round, everything else equal: common practice, no source."""
    assert "dull" not in {cell.setting.name for cell in choice().front}


@steadily(12)
@given(data=st.data())
def test_adding_what_is_beaten_changes_nothing(data):
    """Take values that the front does not use off the axes, any of them: the same answer."""
    whole = choice()
    used = {
        "positions": {DIAL.position(c.setting.spindle_speed) for c in whole.front},
        "feeds": {c.setting.feed for c in whole.front},
        "rotations": {c.setting.rotation for c in whole.front},
        "passes": {c.setting.passes for c in whole.front},
        "bits": {c.setting.name for c in whole.front},
    }
    axes = AXES | {"bits": tuple(BITS)}
    fewer = {}
    for name, values in axes.items():
        spare = [v for v in values if v not in used[name]]
        gone = data.draw(st.sets(st.sampled_from(spare))) if spare else set()
        fewer[name] = tuple(v for v in values if v not in gone)
    assert answer(choice(**fewer)) == answer(whole)


@steadily(12)
@given(data=st.data())
def test_the_order_of_the_inputs_does_not_matter(data):
    axes = {name: tuple(data.draw(st.permutations(values))) for name, values in AXES.items()}
    bits = tuple(data.draw(st.permutations(tuple(BITS))))
    assert answer(choice(bits=bits, **axes)) == answer(choice())


@steadily(12)
@given(share=st.floats(0.05, 1.2), fewer=st.floats(0.3, 1.0))
def test_tightening_the_time_never_improves_the_damage(share, fewer):
    slowest = max(c.time[2] for c in choice().sweep if not c.error)
    loose, tight = (choice(draws=0, time_limit=limit) for limit in (share * slowest, share * fewer * slowest))
    if tight.pick is None:
        return
    assert loose.pick is not None
    assert tight.pick.damage >= loose.pick.damage - 1e-9
    assert all(c.time[2] <= share * fewer * slowest for c in tight.front)


@steadily(8)
@given(marks=st.tuples(st.integers(9_000, 26_000), st.integers(9_000, 26_000)))
def test_tightening_the_marked_speed_never_improves_the_damage(marks):
    low, high = sorted(marks)
    tight, loose = (
        cs.recommend(
            PLAN, BOARD, MACHINE, replace(BITS["sharp"], max_spindle_speed=mark), feeds=(600, 2600), draws=0,
            checks=KNOWN, pitch=1.0, workers=1, results=FOLDER.name,
        )
        for mark in (low, high)
    )  # fmt: skip
    if tight.pick is not None:
        assert loose.pick is not None
        assert tight.pick.damage >= loose.pick.damage
        # the dial may be ten per cent faster than it was read
        assert 1.1 * tight.pick.setting.spindle_speed <= low


# --- limits ------------------------------------------------------------------------------------------


def recommend(bit=BITS["sharp"], machine=MACHINE, **change):
    ask = {"feeds": (600, 1400), "draws": 0, "checks": KNOWN, "pitch": 1.0, "workers": 1}
    return cs.recommend(PLAN, BOARD, machine, bit, **(ask | change))


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"bit": replace(BITS["sharp"], max_spindle_speed=None)}, "read it off the shank"),
        ({"bit": replace(BITS["sharp"], cutting_length=None)}, "measure how high its edges reach"),
        ({"machine": replace(MACHINE, travel=None)}, "travel is not known"),
        ({"machine": replace(MACHINE, travel=(5, 300, 80))}, "the axis travels"),
        ({"checks": {"safe_height": 5}}, "plunge feed"),
        ({"machine": replace(MACHINE, max_feed=500)}, "the machine goes up to 500 mm/min"),
        ({"time_limit": 0.5}, "time: 8"),
    ],
)
def test_what_is_not_known_or_not_kept_is_not_recommended(change, words):
    found = recommend(**change)
    assert found.pick is None
    assert found.front == ()
    assert words in str(found)
    assert found.verdict == "no setting keeps the limits"


def test_the_high_end_of_the_time_must_keep_the_limit():
    """Between the likely time and its high end nothing is recommended; at the high end it is."""
    _, likely, high = recommend(feeds=(600,)).pick.time
    assert recommend(feeds=(600,), time_limit=(likely + high) / 2).pick is None
    assert recommend(feeds=(600,), time_limit=high).pick is not None


def test_a_limit_can_be_waived_by_name_and_that_is_said():
    bit = replace(BITS["sharp"], cutting_length=None)
    found = recommend(bit=bit, waive=("cutting length",))
    assert found.pick is not None
    assert "Waived by the user: cutting length." in str(found)


def test_a_machine_without_a_dial_needs_speeds():
    plain = replace(MACHINE, dial=None)
    with pytest.raises(cs.DomainError, match="dial"):
        recommend(machine=plain)
    found = recommend(machine=plain, speeds=[12_000, 20_000])
    assert {c.setting.spindle_speed for c in found.sweep} == {12_000, 20_000}


def test_what_a_limit_costs_is_said():
    """A mark that the fastest speed exceeds at the high end of its band, where faster is better, is named."""
    bit = replace(BITS["sharp"], max_spindle_speed=23_000)
    found = recommend(bit=bit, feeds=(600,), model=Toy(by_speed=True))
    assert found.pick.setting.spindle_speed == 17_900
    assert "but for marked maximum speed" in found.reason()
    assert found.refusals() == {"marked maximum speed (violated)": 1}


# --- draws -------------------------------------------------------------------------------------------


def test_odds_count_the_draws():
    """By hand: of five draws two better, one worse, one within a twentieth, one not known."""
    pick, rival = np.array([0.10, 0.10, 0.30, 0.100, np.nan]), np.array([0.20, 0.12, 0.20, 0.104, 0.5])
    odds = odds_of(None, pick, rival)
    assert (odds.better, odds.worse, odds.even, odds.draws) == (2, 1, 1, 4)
    assert odds.share == pytest.approx(2.5 / 4)
    assert odds.worth_having
    assert str(odds) == "better in 2 of 4 draws, worse in 1, even in 1"
    even = odds_of(None, pick[:2], pick[:2] * 1.01)
    assert even.share == 0.5
    assert str(even).startswith("no difference worth having")
    assert "the other does better" in str(odds_of(None, rival[:2], pick[:2]))


def test_draws_of_the_dial_are_triangular():
    """Quantiles of the triangular distribution (closed form, textbook): F(mode) = (mode - low) / (high - low)."""
    y = _triangular("speed", 0.0, 0.05, 0.2, 40_000, 3)
    assert (y < 0.05).mean() == pytest.approx(0.25, abs=0.01)
    assert not np.array_equal(y[:9], _triangular("speed", 0.0, 0.05, 0.2, 9, 4))


@pytest.fixture(scope="module")
def fitted():
    piece = cs.coupon(
        BITS["sharp"], BOARD, 16_000, [1400], machine=MACHINE, sectors=8, straight_pair=False, stair=False
    )
    return cs.fit(piece, cs.invented_grades(piece, cs.RiskModel(drag=0.11), seed=4))


@pytest.mark.parametrize("seed", [0, 3])
@pytest.mark.parametrize("taught", [False, True])
def test_the_draws_are_those_of_a_maps_band(fitted, seed, taught):
    """Of a single draw all percentiles of a map's band are the drawn map: its mean is the recommendation's.

    The board is not of the wood that was read: its shift is the wider one.
    """
    model, oak = fitted if taught else None, cs.Board(cs.wood("white oak"), cs.straight_grain(30))
    ask = {"speeds": [20_000], "feeds": (1400, 1800), "checks": KNOWN, "pitch": 1.0, "workers": 1, "model": model}
    found = cs.recommend(PLAN, oak, replace(MACHINE, dial=None), BITS["sharp"], draws=1, seed=seed, **ask)
    assert len(found.front) > 1
    for cell, band, mean in zip(found.front, found.bands, found.expected, strict=True):
        carving, board = found.sweep.carving(cell), found.sweep.board(cell)
        risk = cs.risk_map(carving, board, model=model, pitch=carving.length / 300, draws=1, seed=seed)
        drawn = np.average(risk.band.median[risk.exists], weights=risk.lip_length[risk.exists])
        assert (*band, mean) == pytest.approx((drawn,) * 3, rel=1e-9)
        assert abs(drawn / risk.mean("damage") - 1) > 0.05  # it was drawn
    assert cs.recommend.__kwdefaults__["seed"] == cs.risk_map.__kwdefaults__["seed"]


def test_the_leading_unknown_is_found():
    rng = np.random.default_rng(5)
    a, b = rng.random(400), rng.random(400)
    name, r = _leading({"a": a, "b": b, "still": np.ones(400)}, np.exp(-3 * a) + 0.1 * b)
    assert name == "a"
    assert -1.0 <= r < -0.9
    assert _leading({"a": a}, np.full(400, np.nan)) == ("", 0.0)


@dataclass(frozen=True)
class Toy:
    """Fuzz is one coefficient, over the spindle speed where asked for."""

    level: float = field(default=0.2, metadata={"prior": (0.04, 1.0), "meaning": "how bad it is"})
    idle: float = field(default=-0.5, metadata={"prior": (-2.0, 1.0)})
    fixed: float = field(default=2.0, metadata={"prior": (2.0, 2.0)})
    bundle: float = 0.2
    by_speed: bool = False

    def lip_risks(self, strikes, fibres, cut, wood):
        share = 9_700 / cut.spindle_speed if self.by_speed else 1.0
        return {"fuzz": np.where(strikes.lips.exists, self.level * share, np.nan)}


def test_band_and_leading_unknown_of_a_model_one_can_see_through():
    """Damage is the coefficient itself, as read: by hand from the priors' draws, and their ranks' correlation."""
    found = recommend(model=Toy(), draws=1000, seed=5, feeds=(600,), rotations=(0, 30))
    assert found.pick.damage == pytest.approx(0.2, abs=1e-12)
    assert found.pick.setting.rotation == 0  # nothing is gained by turning
    assert found.leading == "level"
    assert "how bad it is" in found.advice
    known = prior_draws(Toy(), 1000, 5)
    level = np.array([model.level for model in known.models])
    read = [r.on_own_scale("fuzz", v, s) for r, v, s in zip(known.graders, level[:, None], known.shifts, strict=True)]
    assert found.bands[0] == pytest.approx(tuple(np.quantile(read, [0.1, 0.9])), rel=1e-9)
    assert found.expected[0] == pytest.approx(np.mean(read), rel=1e-9)
    assert found.correlation == pytest.approx(spearmanr(level, np.ravel(read)).statistic, abs=1e-3)  # ties


def test_priors_of_a_foreign_model_are_drawn_as_those_of_our_own():
    """The median is the value in use; a tenth lies below the quantile of the logit-normal (closed form)."""
    coefficients = Coefficients(Toy())
    assert coefficients.names == ("level", "idle")  # a range of no width is none
    known = prior_draws(Toy(), 4000, 1)
    level, idle = (np.array([getattr(model, name) for model in known.models]) for name in coefficients.names)
    assert (level < 0.2).mean() == pytest.approx(0.5, abs=0.025)
    assert (idle < -0.5).mean() == pytest.approx(0.5, abs=0.025)
    assert ((idle > -2) & (idle < 1)).all()
    # half way in the logarithm: the place at the tenth is expit(1.2 x -1.2816)
    tenth = 0.04 * 25 ** (1 / (1 + np.exp(1.2 * 1.2816)))
    assert (level < tenth).mean() == pytest.approx(0.1, abs=0.015)
    assert {model.fixed for model in known.models} == {2.0}


def test_what_is_less_damage_on_average_is_said():
    """By hand: the average of the second is lower by more than a twentieth; without draws nothing is said."""
    found = choice()
    first, second, *_ = found.front
    told = replace(found, front=(first, second), bands=found.bands[:2], odds=found.odds[:1])
    other = replace(told, expected=(0.20, 0.15))
    assert other.pick is first
    assert other.steadier is second
    assert "less damage on average over the draws, 0.150 against 0.200: " + second.setting.words(MACHINE) in str(other)
    for expected in ((0.20, 0.195), (np.nan,) * 2):
        assert replace(told, expected=expected).steadier is None
        assert "on average over the draws" not in str(replace(told, expected=expected))
    assert choice(draws=0).steadier is None
    assert str(choice(draws=0))


def test_draws_change_no_pick():
    """A consequence of choosing at the coefficients in use, so that all that holds without draws holds with them."""
    assert repr(choice(draws=0).front) == repr(choice().front)


def test_the_dial_is_an_unknown():
    """Fuzz over the speed alone: the speed leads, and its error, ten per cent, is the band's."""

    @dataclass(frozen=True)
    class Sure(Toy):
        level: float = field(default=0.2)
        idle: float = field(default=0.5)
        fixed: float = field(default=2.0)

    found = recommend(model=Sure(by_speed=True), draws=2000, feeds=(600,))
    assert found.leading == "spindle speed at the dial"
    assert found.correlation == pytest.approx(-1.0)
    low, high = found.bands[0]
    middle = found.pick.damage
    assert middle / 1.1 <= low < middle < high <= middle / 0.9


def test_draws_are_the_same_whoever_makes_them():
    one = recommend(draws=4)
    assert answer(recommend(draws=4, workers=2)) == answer(one)
    assert answer(recommend(draws=4, seed=2)) != answer(one)


def test_equal_bits_are_one_choice():
    """The same bit under two names: one of them, and nothing against it."""
    found = recommend(bit={"b": BITS["sharp"], "a": BITS["sharp"]}, feeds=(600,), draws=3)
    assert {c.setting.name for c in found.front} == {"a"}


def test_report():
    found = choice()
    text = str(found)
    for words in ("PICK", "(dial ", "in/min", "8 in 10 draws", "measure next", "starting guesses", "against time"):
        assert words in text
    assert len(found.odds) == len(found.front) - 1
    assert all(o.draws == 4 for o in found.odds)
    assert Path(FOLDER.name).exists()


# --- killed ------------------------------------------------------------------------------------------


@dataclass(frozen=True, kw_only=True)
class Deadly(cs.RiskModel):
    """Kills its process once while the settings are mapped and once while they are drawn, unless marked as done."""

    folder: str = ""

    def __post_init__(self):
        """Nothing to check."""

    def lip_risks(self, strikes, fibres, cut, wood):
        mark = Path(self.folder) / ("maps" if self.friction == cs.RiskModel().friction else "draws")
        if self.folder and cut.feed == 1800 and not mark.exists():
            mark.touch()
            os.kill(os.getpid(), signal.SIGKILL)
        return super().lip_risks(strikes, fibres, cut, wood)


DEADLY = {"feeds": (600, 1400, 1800), "draws": 3, "positions": (3, 4)}

SCRIPT = """
import sys
sys.path.insert(0, {tests!r})
from test_choosing import DEADLY, Deadly, recommend
if __name__ == "__main__":
    recommend(model=Deadly(folder={folder!r}), results={results!r}, **DEADLY)
"""


@pytest.mark.parametrize(("when", "count"), [("maps", 2), ("draws", 6)])
def test_a_choice_killed_goes_on_where_it_stopped(tmp_path, when, count):
    """Killed without warning at the third feed of the first speed; or with all mapped, at the first draw."""
    (tmp_path / ("draws" if when == "maps" else "maps")).touch()
    results, script = tmp_path / "kept", tmp_path / "choose.py"
    script.write_text(SCRIPT.format(tests=str(Path(__file__).parent), folder=str(tmp_path), results=str(results)))
    assert subprocess.run([sys.executable, str(script)], check=False).returncode == -signal.SIGKILL
    kept = {p: p.stat().st_mtime_ns for p in results.glob("cell-*.json")}
    assert len(kept) == count
    resumed = recommend(model=Deadly(folder=str(tmp_path)), results=results, **DEADLY)
    assert {p: p.stat().st_mtime_ns for p in kept} == kept
    assert len(list(results.glob("cell-*.json"))) == len(resumed.sweep) == 6
    whole = recommend(**DEADLY)
    assert len(whole.front) > 1
    assert answer(resumed) == answer(whole)
    assert repr(resumed.sweep.cells) == repr(whole.sweep.cells)


def test_a_worker_killed_while_it_draws_changes_nothing(tmp_path):
    (tmp_path / "maps").touch()
    ask = {"model": Deadly(folder=str(tmp_path)), "results": tmp_path / "kept"}
    recommend(**(DEADLY | ask | {"draws": 0}))
    assert not (tmp_path / "draws").exists()
    found = recommend(**(DEADLY | ask | {"workers": 2}))
    assert (tmp_path / "draws").exists()
    assert answer(found) == answer(recommend(**DEADLY))


# --- a model that a test piece has taught ----------------------------------------------------------------


def test_what_was_learned_is_what_is_drawn(fitted):
    """Damage of each draw by hand: the drawn model's map, read by the drawn grader, on the drawn board."""
    learned = fitted.draws(3, 1, BOARD)
    unknowns = {"edge radius of sharp": np.ones(3)}
    got = _Draws(PLAN, BOARD, fitted, learned, "sharp", unknowns).damage()
    assert np.ptp(learned.shifts) > 0
    for k, value in enumerate(got):
        risk = cs.risk_map(PLAN, BOARD, model=replace(learned.models[k]), pitch=PLAN.length / 300)
        grader, shift = learned.graders[k], learned.shifts[k]
        fuzz, tear = grader.on_own_scale("fuzz", risk.fuzz, shift), grader.on_own_scale("tear", risk.tear, shift)
        damage = 1 - (1 - fuzz) * (1 - tear) * (1 - risk.scorch)
        mean = np.sum(damage[risk.exists] * risk.lip_length[risk.exists]) / risk.lip_length[risk.exists].sum()
        assert value == pytest.approx(mean, rel=1e-9)


def test_what_was_learned_is_said_and_survives_processes_and_folders(fitted, tmp_path):
    one = recommend(model=fitted, draws=8, feeds=(600, 2600), results=tmp_path)
    assert answer(recommend(model=fitted, draws=8, feeds=(600, 2600), workers=2)) == answer(one)
    assert len(list(tmp_path.glob("cell-*.json"))) == len(one.sweep)
    for text in (str(one), str(one.sweep), str(cs.best_layout(PLAN, BOARD, step=90, model=fitted, pitch=1.0))):
        assert "starting guesses" not in text
        assert fitted.learned in text
    assert "starting guesses" not in str(cs.compare([PLAN], BOARD, model=fitted, pitch=1.0))
    assert one.leading in {*fitted.coefficients.names, "the job and the board themselves"} | {
        "edge radius of 60 deg V-bit 12.7 mm, 2 flutes",
        "spindle speed at the dial",
    }
