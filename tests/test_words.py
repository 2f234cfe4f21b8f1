"""Reports as they are printed, held word by word: a change of words is seen. The numbers are planted.

``CHIPSIM_GOLDEN=write pytest tests/test_words.py`` writes them anew; read what changed before it is committed.
"""

from __future__ import annotations

import os
import re
from dataclasses import fields
from pathlib import Path

import numpy as np
import pytest
from planted import BIT, WOOD, planted

import chipsim as cs
from chipsim._shared.words import PLAIN, plain
from chipsim.damage.bands import Band
from chipsim.damage.words import numbered
from chipsim.pictures.traces import cells_of

GOLDEN = Path(__file__).with_name("golden")


def along(azimuth, high=0.6, wide=40):
    """Fuzz that falls on either side of one direction of the lip."""
    return lambda x, y, heading: np.clip(high - np.abs((heading - azimuth + 90) % 180 - 90) / wide, 0, 1)


def rosette(**more):
    cut = cs.Cut(BIT, cs.rosette(30, 14, 8, 2.5), 18_000, 1500, **more)
    return planted(cut, along(45), lambda x, y, heading: np.full(np.shape(x), 0.04))


def two_grooves():
    machine = cs.Machine(300, 3000)
    first = cs.Cut(BIT, cs.Path([(0, 0), (0, 0), (30, 0), (30, 18)], [0, 2, 2, 2]), 18_000, 1500, machine=machine)
    second = cs.Cut(BIT, cs.line((0, 10), (20, 30), 1.5), 16_000, 1200, spin="ccw")
    return planted(cs.Carving((first, second)), along(60, 0.45, 60), lambda x, y, heading: np.where(x > 25, 0.3, 0.0))


def clean():
    return planted(cs.Cut(BIT, cs.ring(10, 2), 18_000, 1500), lambda x, y, heading: np.full(np.shape(x), 0.02))


def with_a_band():
    risk = rosette()
    one = np.nan_to_num(risk.damage)
    lengths = {"lengths": np.zeros((5, 5, 5, 5))} if "lengths" in Band.__dataclass_fields__ else {}
    band = Band(0.5 * one, one, np.minimum(1.5 * one, 1.0), np.ones(one.shape, bool), (4.2, 9.0, 17.8), {},
                ("bending_stress", -0.62), "prior only", 5, 0, **lengths)  # fmt: skip
    return cs.RiskMap(**{f.name: getattr(risk, f.name) for f in fields(risk) if f.name != "band"}, band=band)


def unknown():
    board = cs.Board(WOOD, cs.straight_grain(0, 80))
    nothing = lambda x, y, heading: np.full(np.shape(x), np.nan)  # noqa: E731
    risk = planted(cs.Cut(BIT, cs.ring(10, 2), 18_000, 1500), nothing, nothing, board=board)
    return cs.RiskMap(
        **{f.name: getattr(risk, f.name) for f in fields(risk) if f.name not in ("scorch", "doubt")},
        scorch=np.full_like(risk.fuzz, np.nan),
        doubt=np.where(risk.exists, 6, 0),
    )


REPORTS = {
    "rosette": lambda: str(rosette()),
    "rosette_why": lambda: rosette().why(20, "left"),
    "two_grooves": lambda: str(two_grooves()),
    "two_grooves_why": lambda: two_grooves().why(46, "right"),
    "clean": lambda: str(clean()),
    "band": lambda: str(with_a_band()),
    "unknown": lambda: str(unknown()),
}


@pytest.mark.parametrize("name", REPORTS)
def test_reports_are_as_they_were_read(name):
    text, file = REPORTS[name]() + "\n", GOLDEN / f"{name}.txt"
    if os.environ.get("CHIPSIM_GOLDEN") == "write":
        file.write_text(text, encoding="utf-8")
    assert text == file.read_text(encoding="utf-8")


@pytest.mark.parametrize("name", REPORTS)
def test_reports_are_sentences_without_code(name):
    """House rule: no identifier of the code, no pronoun for a step of the scale that went, no line beyond the page."""
    text = REPORTS[name]()
    assert not re.search(r"[a-z]+_[a-z]+|\bnan\b|\bNone\b|\bTrue\b", text)
    for gone in ("poor", "spoil", "needs work", "brush off", "typed", "prior", "Prior", "not to be trusted"):
        assert gone not in text
    assert max(map(len, text.splitlines())) <= 126
    if not name.endswith("why"):
        first = text.splitlines()[0]
        assert first.startswith("Test wood:")  # the answer stands first
        for part in (
            "The lip is the top edge",
            "What was mapped:",
            "What was assumed or left out:",
            "Extract the dust.",
        ):
            assert " ".join(part.split()) in " ".join(text.split())
        order = [text.index(p) for p in ("The lip is", "What was mapped", "What was assumed", "The marking of the bit")]
        assert order == sorted(order)


def test_worst_stretches_are_ranked_by_what_they_cost():
    """Definition: damage times length; those that mirror each other share a number, and only those."""
    risk = rosette()
    places = risk.worst_places(100)
    cost = {}
    for p in places:
        cost.setdefault(p.rank, []).append(p.cost)
    firsts = [c[0] for _, c in sorted(cost.items())]
    assert firsts == sorted(firsts, reverse=True)
    assert sorted(cost) == list(range(1, len(cost) + 1))
    for p in places:
        k = ("left", "right").index(p.side)
        rows = [i for i in range(len(risk)) if risk.exists[i, k]]
        inside = [
            i
            for i in rows
            if (p.start <= risk.station[i] <= p.stop if p.start <= p.stop else not p.stop < risk.station[i] < p.start)
        ]
        assert p.length == pytest.approx(risk.lip_length[inside, k].sum(), rel=1e-9)
        assert p.cost == pytest.approx((risk.damage[inside, k] * risk.lip_length[inside, k]).sum(), rel=1e-9)
        assert p.peak == risk.damage[inside, k].max()
        assert p.middle in inside
        assert set(p.some) <= set(inside)
    # a rosette of eight petals in straight grain looks the same after half a turn
    for rank in (1, 2):
        pair = [p for p in places if p.rank == rank]
        assert len(pair) == 2
        one, other = (risk.lip_xy[p.middle, ("left", "right").index(p.side)] for p in pair)
        np.testing.assert_allclose(one, -other, atol=1.0)
    assert {p.rank for p in risk.worst_places(2)} == {1, 2}
    assert risk.worst_places(0) == []


def test_strokes_that_repeat_share_their_numbers():
    """Six strokes alike, their lips bad at the same place, and one of another length that is as bad there."""
    path = cs.polyline([(0, 0), (6, 9), (0, 20)], [1.0, 2.0, 1.0])
    strokes = [path.shifted(14.0 * k, 3.0 * k) for k in range(6)]
    odd = cs.polyline([(100, 0), (106, 9), (96, 25)], [1.0, 2.0, 1.0])
    job = cs.Carving(tuple(cs.Cut(BIT, one, 18_000, 1500, phase=40.0 * k) for k, one in enumerate([*strokes, odd])))
    risk = planted(job, lambda x, y, heading: np.where(heading > 90, 0.6, 0.0))
    places = risk.worst_places(100)
    alike = [p for p in places if p.groove < 6]
    for side in ("left", "right"):
        ranks = {p.rank for p in alike if p.side == side and p.length > 5}
        assert len(ranks) == 1
        (rank,) = ranks
        assert sorted(p.groove for p in places if p.rank == rank) == list(range(6))
    text = str(risk)
    assert "mirror each other, or lie alike on grooves that repeat" in text
    assert "There are more of them: 4 of number 3, 4 of number 4 and 4 of number 5." in text
    assert len([p for p in numbered(places) if p.rank == 3]) == 2


def test_a_stretch_goes_on_over_the_start_of_a_closed_groove():
    ring = cs.Cut(BIT, cs.ring(10, 2), 18_000, 1500)
    risk = planted(ring, lambda x, y, heading: np.where(x > 5, 0.4, 0.0))
    (left, right) = risk.worst_places(100)
    assert {left.side, right.side} == {"left", "right"}
    assert all(p.start > p.stop for p in (left, right))
    assert all(p.doubtful == 0 for p in (left, right))


@pytest.mark.parametrize("pitch", [0.1, 0.5, 1.0])
def test_chords_shorter_than_a_cell_do_not_part_a_lip(pitch):
    """Between joints of 0.3 mm there is lip of the cells beside them: one stretch, and one line along either lip."""
    s = 0.3 * np.arange(150)
    heading = 0.3 * np.sin(s / 12)
    xy = np.cumsum(np.column_stack([np.cos(heading), np.sin(heading)]) * 0.3, axis=0)
    cut = cs.Cut(BIT, cs.polyline(xy, 1.0 + 0.5 * np.sin(s / 15)), 18_000, 2000)
    risk = planted(cut, lambda x, y, heading: np.where((x > 10) & (x < 30), 0.4, 0.0), pitch=pitch)
    gone = (~risk.exists & (risk.kind == "run")[:, None]).sum()  # middles of cells that lie on the inside of a joint
    assert (~cells_of(risk).joined).sum() == 2 + gone
    assert gone < 0.03 * len(risk)
    places = risk.worst_places(100)
    assert sorted(p.side for p in places) == ["left", "right"]
    assert all(p.length > 18 for p in places)


def test_every_coefficient_has_a_plain_name():
    assert {plain(name) for name in PLAIN} == set(PLAIN.values())
    for name in cs.RiskModel.__dataclass_fields__:
        assert name in PLAIN, f"{name} has no plain name"
        assert "_" not in plain(name)
