"""Laying a design on the grain: against rotated paths, one by one."""

import csv
from dataclasses import replace

import numpy as np
import pytest

import chipsim as cs
from chipsim.choosing.summaries import RISKS
from chipsim.choosing.variants import centre_of, turned_carving

WOOD = cs.wood("black cherry", 8)
BIT = cs.VBit(60, 12.7, 2, 0.2, runout=0.01)
CARVING = cs.Carving(
    (
        cs.Cut(BIT, cs.line((3, 1), (11, 4), 2.0), 16_000, 1500, phase=20),
        cs.Cut(BIT, cs.polyline([(5, -2), (8, 3), (9, 9)], (2.0, 2.2, 1.0)), 16_000, 1500, passes=[0.2]),
        cs.Cut(BIT, cs.ring(4, 1.5, centre=(20, 5)), 18_000, 1200, spin="ccw"),
    )
)
GRAINS = {
    "straight": cs.straight_grain(25),
    "diving": cs.straight_grain(25, 12),
    "curved": cs.grain_field(lambda x, y: (20 + 4 * x - 2 * y, 2 + 0.5 * x), "curved"),
}


def flipped(carving, x):
    """Mirrored left for right about the upright line at x, by hand; the spindle turns as before."""
    cuts = []
    for c in carving:
        p = c.path
        xy = np.column_stack([2 * x - p.xy[:, 0], p.xy[:, 1]])
        cuts.append(replace(c, path=cs.Path(xy, p.depth, sweep=-p.sweep, closed=p.closed)))
    return cs.Carving(tuple(cuts))


@pytest.mark.parametrize("name", GRAINS)
def test_against_brute_force(name):
    """Every mean, worst value and class of every row, from paths that are turned in earnest, to 1e-9."""
    board = cs.Board(WOOD, GRAINS[name])
    layout = cs.best_layout(CARVING, board, step=60, span=360, mirrored=True, pitch=0.5)
    centre = centre_of(CARVING)
    assert len(layout) == 12
    for row in layout.rows:
        design = flipped(CARVING, centre[0]) if row.mirrored else CARVING
        risk = cs.risk_map(turned_carving(design, row.rotation, centre), board, pitch=0.5)
        for r in RISKS:
            known = np.isfinite(risk.mean(r))
            assert np.isfinite(row.summary.mean[r]) == known
            if known:
                assert row.summary.mean[r] == pytest.approx(risk.mean(r), abs=1e-9)
                assert row.summary.worst[r] == pytest.approx(np.nanmax(risk.values(r)), abs=1e-9)
        for word, length in risk.lengths_by_class("damage").items():
            assert row.summary.lengths["damage"][word] == pytest.approx(length, abs=1e-9)


def test_the_design_as_drawn_is_its_map():
    board = cs.Board(WOOD, GRAINS["curved"])
    layout = cs.best_layout(CARVING, board, step=90, pitch=0.5)
    expected = cs.risk_map(CARVING, board, pitch=0.5).mean("damage")
    assert layout.as_drawn.damage == pytest.approx(expected, abs=1e-13)
    assert layout.as_drawn.words() == "as drawn"
    assert [row.rotation for row in layout.rows] == [0, 90]


def test_half_a_turn_is_nothing_in_straight_grain_and_something_in_diving_grain():
    """Theorem: a fibre is an axis; in a dive half a turn sends it the other way."""
    for name, same in (("straight", True), ("diving", False)):
        layout = cs.best_layout(CARVING, cs.Board(WOOD, GRAINS[name]), step=60, span=360, pitch=0.5)
        here, there = ([row.damage for row in layout.rows if (row.rotation >= 180) == far] for far in (False, True))
        assert np.allclose(here, there, atol=1e-9) == same


@pytest.mark.parametrize("risk", ["minutes", "damage"])
def test_the_best_come_first_and_apart(risk):
    layout = cs.best_layout(CARVING, cs.Board(WOOD, GRAINS["straight"]), step=5, pitch=1.0, draws=16)
    assert len(layout) == 36
    best = layout.ranked(risk=risk)
    assert best[0].value(risk) == min(row.value(risk) for row in layout.rows)
    if risk == "damage":
        assert layout.best(risk) is best[0]
    else:  # on possible boards the order may be another, and turning for nothing is not advised
        assert layout.best() in layout.tried
        assert set(best) <= set(layout.tried)
        expected = [float(hand) for hand in layout.hand]
        assert layout.best() is layout.as_drawn or float(layout.hand[layout.tried.index(layout.best())]) == min(
            expected
        )
    assert [r.value(risk) for r in best] == sorted(r.value(risk) for r in best)
    for one, two in ((0, 1), (0, 2), (1, 2)):
        turn = abs(best[one].rotation - best[two].rotation) % 180
        assert min(turn, 180 - turn) >= 15
    plain = layout.ranked(5, risk, apart=0)
    assert [r.value(risk) for r in plain] == sorted(row.value(risk) for row in layout.rows)[:5]


def test_where_nothing_matters_the_design_stays_as_drawn():
    """A ring in straight grain is the same all round, but for the pattern of the teeth, which turns with it."""
    ring = cs.Cut(cs.VBit(60, 12.7, 2), cs.ring(10, 1.5), 16_000, 1500)
    layout = cs.best_layout(ring, cs.Board(WOOD, cs.straight_grain(0)), step=90, pitch=0.25)
    assert layout.rows[1].damage == pytest.approx(layout.as_drawn.damage, rel=0.02)
    dull = cs.best_layout(ring, cs.Board(WOOD, cs.straight_grain(0, 90)), step=30, pitch=1.0)
    assert dull.ranked(1)[0] is dull.as_drawn  # fibres upright: no direction at all


def test_table(tmp_path):
    layout = cs.best_layout(CARVING, cs.Board(WOOD, GRAINS["straight"]), step=30, mirrored=True, pitch=1.0)
    layout.to_csv(tmp_path / "layout.csv")
    with open(tmp_path / "layout.csv", newline="", encoding="utf-8") as handle:
        rows = list(csv.DictReader(handle))
    assert [float(r["mean damage [-]"]) for r in rows] == pytest.approx([r.damage for r in layout.rows], rel=1e-5)
    assert [r["mirrored"] for r in rows] == ["0"] * 6 + ["1"] * 6
    text = str(layout)
    told = " ".join(text.split())
    assert told.index(layout.verdict) < told.index("starting guesses") < told.index("by hand")
    assert told.endswith("the manuals of router and machine come first.")
