"""Options side by side: each is its own map, time and limits, in words and in a table."""

import csv

import numpy as np
import pytest

import chipsim as cs

BOARD = cs.Board(cs.wood("yellow-poplar", moisture=9), cs.straight_grain(20))
MACHINE = cs.Machine(300, 3000, travel=(300, 300, 80), dial=cs.Dial([1, 2, 3], [9_700, 13_150, 17_900]))
BITS = {
    "60": cs.VBit(60, 12.7, 2, 0.2, cutting_length=10, max_spindle_speed=24_000),
    "90": cs.VBit(90, 12.7, 2, 0.1, cutting_length=1.0 + 1.5, max_spindle_speed=16_500),
}
PLAN = cs.Cut(BITS["60"], cs.oval(30, 20, 2.0), 16_000, 1500, machine=MACHINE)


@pytest.fixture(scope="module")
def comparison():
    return cs.compare({name: cs.with_bit(PLAN, bit) for name, bit in BITS.items()}, BOARD, pitch=0.5)


def test_every_option_is_its_own_map(comparison):
    for name, bit in BITS.items():
        cut = cs.with_bit(PLAN, bit)
        risk = cs.risk_map(cut, BOARD, pitch=0.5)
        option = comparison[name]
        np.testing.assert_array_equal(option.risk.damage, risk.damage)
        assert option.summary.mean["damage"] == risk.mean("damage")
        assert option.summary.worst["damage"] == np.nanmax(risk.damage)
        assert option.summary.lengths["damage"] == risk.lengths_by_class("damage")
        assert option.time == cs.time_estimate(cut).total
        assert option.risk.half_width.max() == pytest.approx(comparison["60"].risk.half_width.max())
    means = {o.name: o.summary.mean["damage"] for o in comparison.options}
    assert comparison.best().name == min(means, key=means.get)


def test_limits_and_reasons_are_named(comparison):
    """16 000 rpm by the dial may be 17 600: above the second bit's mark of 16 500."""
    assert "marked maximum speed" in [row.name for row in comparison["90"].not_kept]
    assert "marked maximum speed" not in [row.name for row in comparison["60"].not_kept]
    text = " ".join(str(comparison).split())
    assert "exceeded: marked maximum speed" in text
    assert "dial mark 2.6" in text
    worst = comparison["90"].risk.worst_places(1, risk="damage")[0]
    why = comparison["90"].risk.why(worst.station, worst.side)
    reason = comparison["90"].reason
    assert reason.split(": ", 1)[1] in " ".join(why.split())
    assert f"damage {worst.peak:.2f}" in reason
    assert reason in text


def test_a_sequence_is_numbered_and_one_option_is_enough():
    both = cs.compare([PLAN, cs.Carving((PLAN,))], BOARD, pitch=1.0)
    assert [o.name for o in both.options] == ["option 1", "option 2"]
    assert both["option 1"].summary == both["option 2"].summary or repr(both["option 1"].summary) == repr(
        both["option 2"].summary
    )
    with pytest.raises(cs.DomainError, match="'option 1'"):
        both["option 3"]


def test_table(comparison, tmp_path):
    comparison.to_csv(tmp_path / "options.csv")
    with open(tmp_path / "options.csv", newline="", encoding="utf-8") as handle:
        rows = list(csv.DictReader(handle))
    assert [row["option"] for row in rows] == list(BITS)
    for row, option in zip(rows, comparison.options, strict=True):
        assert float(row["clean [mm]"]) == pytest.approx(option.summary.lengths["damage"]["clean"], rel=1e-5)
        assert float(row["time likely [s]"]) == pytest.approx(option.time[1], rel=1e-5)
        assert row["mean tear [-]"] == "" or float(row["mean tear [-]"]) >= 0
