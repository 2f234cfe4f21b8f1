"""What studies and the trade say of fuzzy, torn and scorched lips, asked of any model on the real kinematics.

Statements stand in `data/literature.csv`: source, how it was read, conditions, finding, how it is asked here, how far
it transfers to the lips of a routed V-groove, and a bound on the one number that is measured. A scene is a straight
groove whose teeth are followed once and kept; fibres then lie in every direction to it, and models are evaluated side
by side. Every number is a mean over four phases of the tooth interval: at a coarse feed a single station shows where
the teeth happen to stand.

Statements contradict each other, as laboratories do: no model meets them all.
"""

from __future__ import annotations

import csv
import re
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cache, partial
from importlib.resources import files
from itertools import pairwise
from types import MappingProxyType
from typing import Any, NamedTuple

import numpy as np

from .._shared.arrays import FloatArray, instance, integer, number
from .._shared.tables import Columns, Result
from ..chips.strikes import LipStrikes, lip_strikes
from ..errors import DomainError
from ..scene.cuts import Cut
from ..scene.cutters import VBit
from ..scene.grain import fibre_axis
from ..scene.paths import line
from ..scene.species import Wood
from ..scene.species import wood as wood_of
from ..units import table_text
from .bands import damage_of
from .models import LipModel, RiskModel, checked_model, layer_of, lip_risk_sets, thickest

__all__ = ["Answer", "Answers", "Scene", "Statement", "Witness", "ask_literature", "measures", "statements"]

PHASES = 4
"""Stations at equal parts of the tooth interval over which every number is averaged."""

RING = tuple(np.arange(16) * 11.25)
"""Directions of the fibres to the groove, counter-clockwise from its heading, as a ring meets them. [deg]"""

FEEDS, SPEEDS = (600.0, 1200.0, 2400.0), (12_500.0, 23_000.0)

THICKEST = 0.6
"""Layer of the strikes that are kept, normal to the wall and on the scale of a 90 degree bit: the most that the prior
knows. [mm]"""


# --- what is said -----------------------------------------------------------------------------------------------------


_NUMBER = r"-?[0-9]+(\.[0-9]+)?"
_BOUND = re.compile(rf"[<>]=? {_NUMBER}|{_NUMBER} to {_NUMBER}")


@dataclass(frozen=True)
class Statement:
    """One finding and how it is asked.

    Attributes
    ----------
    key : name.
    source : study, or 'common practice, no source', or 'expectation of this project, unmeasured'.
    how : 'read', 'abstract', 'introduction', 'copy', 'memory', 'practice' or 'expectation'.
    conditions, finding : of the study, in its words.
    asked : what is measured here.
    transfers : 3 directly, 2 same mechanism elsewhere, 1 a direction only.
    reliability : chance that it holds of lips as asked, by judgement; in [0.5, 1). [-]
    weight : exponent of its evidence, below 1 where several statements say nearly the same or contradict. [-]
    low, high : bounds of the measure; where it lies between them the statement is met.
    bound : in words: '< 0.1', '<= 0.5', '> 0', '>= 1' or '20 to 30'.

    Raises
    ------
    DomainError
        If a number is out of range, or the bound is none of these.
    """

    key: str
    source: str
    how: str
    conditions: str
    finding: str
    asked: str
    transfers: int
    reliability: float
    weight: float
    bound: str

    def __post_init__(self) -> None:
        for name in ("key", "source", "how", "conditions", "finding", "asked"):
            instance(name, getattr(self, name), str, "words")
        if not isinstance(self.bound, str) or not _BOUND.fullmatch(self.bound):
            raise DomainError(f"bound must be a limit such as '< 0.1', '>= 1' or '20 to 30', got {self.bound!r}")
        integer("transfers", self.transfers, low=1, high=3)
        number("reliability", self.reliability, low=0.5, high=1, open_high=True)
        number("weight", self.weight, low=0, high=1, open_low=True)

    @property
    def low(self) -> float:
        """Least value that meets it. [as the measure: -, mm, deg]"""
        return self._range[0]

    @property
    def high(self) -> float:
        """Largest value that meets it. [as the measure: -, mm, deg]"""
        return self._range[1]

    @property
    def _range(self) -> tuple[float, float]:
        if " to " in self.bound:
            low, _, high = self.bound.partition(" to ")
            return float(low), float(high)
        sign, _, value = self.bound.partition(" ")
        return (-np.inf, float(value)) if sign.startswith("<") else (float(value), np.inf)

    def met(self, measure: FloatArray) -> np.ndarray:
        """Whether measures (any shape) meet it; one that is not known, NaN, does not."""
        if self.bound.startswith(("< ", "> ")):
            return np.asarray((measure > self.low) if self.high == np.inf else (measure < self.high))
        return np.asarray((measure >= self.low) & (measure <= self.high))


@cache
def statements() -> tuple[Statement, ...]:
    """Every statement of `data/literature.csv`, in its order."""
    text = (files("chipsim.data") / "literature.csv").read_text(encoding="utf-8")
    rows = csv.DictReader(row for row in text.splitlines() if not row.startswith("#"))
    return tuple(
        Statement(
            **{name: row[name] for name in ("key", "source", "how", "conditions", "finding", "asked", "bound")},
            transfers=int(row["transfers"]),
            reliability=float(row["reliability"]),
            weight=float(row["weight"]),
        )
        for row in rows
    )


# --- scenes -----------------------------------------------------------------------------------------------------------


class Scene(NamedTuple):
    """A straight groove along +x; what is asked of it.

    Attributes
    ----------
    angle, flutes, width : bit and groove. [deg, -, mm]
    speed, feed : [rpm, mm/min]
    skim : left for the last pass, 0: one pass. [mm]
    wood, moisture : [%]
    edge, rake : [mm, deg]
    dive : of the fibres. [deg]
    directions : of the fibres to the groove. [deg]
    """

    angle: float = 90.0
    flutes: int = 2
    width: float = 10.0
    speed: float = 17_000.0
    feed: float = 1200.0
    skim: float = 0.0
    wood: str = "sugar maple"
    moisture: float = 12.0
    edge: float = 0.008
    rake: float = 10.0
    dive: float = 0.0
    directions: tuple[float, ...] = RING


@cache
def _struck(angle: float, flutes: int, width: float, speed: float, feed: float, skim: float) -> tuple[Cut, LipStrikes]:
    """A groove and the strikes at `PHASES` stations of it, equal parts of a tooth interval apart."""
    bit = VBit(angle, 16.0, flutes, 0.2)
    depth = bit.depth_for_width(width)
    interval = feed / (speed * flutes)
    step = interval * (np.ceil(1.0 / interval) + 1.0 / PHASES)
    reach = 2 * width + 6 * interval * flutes + 4 * THICKEST
    count = int(np.ceil((2 * reach + 1) / step)) + PHASES
    cut = Cut(bit, line((0, 0), (step * count, 0), depth), speed, feed, passes=[skim] if skim else None)
    strikes = lip_strikes(cut, pitch=step * (1 + 1e-9), bundle=RiskModel(bundle=THICKEST).layer(cut))
    rows = np.flatnonzero((strikes.lips.kind == "run") & strikes.lips.exists.all(axis=1))
    first = len(rows) // 2 - PHASES // 2
    return cut, strikes.part(rows[first : first + PHASES])


@cache
def _wood(name: str, moisture: float) -> Wood:
    return wood_of(name, moisture=moisture)


class Witness:
    """Models side by side, and what they say of scenes, each asked once.

    Parameters
    ----------
    models
        One or many.
    """

    def __init__(self, models: Sequence[LipModel]) -> None:
        self.models = tuple(models)
        self._heard: dict[Scene, dict[str, FloatArray]] = {}

    def ask(self, scene: Scene) -> dict[str, FloatArray]:
        """'fuzz', 'tear', 'scorch' and 'rough' (directions, 2, models), the mean over the phases. [-]

        'rough' is damage without scorch, which laboratories that feel or look at a surface leave out.
        """
        if scene not in self._heard:
            cut, strikes = _struck(*scene[:6])
            strikes = strikes.thinner(layer_of(thickest(self.models), [cut]))
            if (scene.edge, scene.rake) != (cut.bit.edge_radius, cut.bit.rake):
                bit = replace(cut.bit, edge_radius=scene.edge, rake=scene.rake)  # type: ignore[type-var]
                cut = replace(cut, bit=bit)
            ways, n = len(scene.directions), len(strikes)
            many = strikes.part(np.tile(np.arange(n), ways))
            axes = fibre_axis(np.repeat(np.array(scene.directions), n), scene.dive)
            fibres = np.ascontiguousarray(np.broadcast_to(axes[:, None], (ways * n, 2, 3)))
            found = lip_risk_sets(self.models, many, fibres[None], cut, _wood(scene.wood, scene.moisture))
            found["rough"] = damage_of(found["fuzz"], found["tear"], np.zeros_like(found["fuzz"]))
            self._heard[scene] = {k: v.reshape(ways, n, 2, -1).mean(axis=1) for k, v in found.items()}
        return self._heard[scene]

    def mean(self, risk: str, scene: Scene) -> FloatArray:
        """Mean of a risk over directions and lips, (models,). [-]"""
        return np.asarray(self.ask(scene)[risk].mean(axis=(0, 1)))

    def worst(self, risk: str, scene: Scene) -> FloatArray:
        """Mean of both lips in the direction where it is most, (models,). [-]"""
        return np.asarray(self.ask(scene)[risk].mean(axis=1).max(axis=0))


# --- what is measured -------------------------------------------------------------------------------------------------

Measure = Callable[[Witness], FloatArray]


def _over(above: FloatArray, below: FloatArray) -> FloatArray:
    """Ratio of two means of a risk; 1 where both are nothing."""
    return np.asarray((above + 1e-9) / (below + 1e-9))


def _worst_over_dial(w: Witness, scene: Scene) -> FloatArray:
    """Fuzz in the worst direction, (speeds, feeds, models)."""
    return np.array([[w.worst("fuzz", scene._replace(speed=s, feed=f)) for f in FEEDS] for s in SPEEDS])


def _halves(w: Witness, *, wood: str, width: float) -> FloatArray:
    low, high = _worst_over_dial(w, Scene(wood=wood, width=width)).mean(axis=1)
    return _over(high, low)


def _feed_share(w: Witness, *, wood: str) -> FloatArray:
    fuzz = _worst_over_dial(w, Scene(wood=wood))
    fall = fuzz[0].mean(axis=0) - fuzz[1].mean(axis=0)
    return np.asarray(np.ptp(fuzz, axis=1).max(axis=0) / np.maximum(fall, 1e-9))


def _fastest(w: Witness, *, wood: str) -> FloatArray:
    fuzz = _worst_over_dial(w, Scene(wood=wood))[1]
    return np.asarray(fuzz[-1] - fuzz[0])


def _against(w: Witness, *, wood: str) -> FloatArray:
    against = [k for k, b in enumerate(RING) if 5 < b < 80]
    each = [w.ask(Scene(wood=wood, speed=s, feed=f))["fuzz"][against].max(axis=(0, 1)) for s in SPEEDS for f in FEEDS]
    return np.asarray(np.max(each, axis=0))


def _angles(w: Witness, *, wood: str) -> FloatArray:
    sharp, right, blunt = (w.mean("fuzz", Scene(wood=wood, angle=a)) for a in (60.0, 90.0, 120.0))
    return np.asarray(np.maximum(np.abs(_over(sharp, right) - 1), np.abs(_over(blunt, right) - 1)))


def _flutes(w: Witness, *, wood: str) -> FloatArray:
    least = []
    for feed in FEEDS:
        one = Scene(wood=wood, angle=60.0, flutes=1, speed=SPEEDS[0], feed=feed)
        slow, fast, two = (w.worst("fuzz", s) for s in (one, one._replace(speed=SPEEDS[1]), one._replace(flutes=2)))
        least.append((slow - fast) - (slow - two))
    return np.asarray(np.min(least, axis=0))


def _sectors(w: Witness) -> FloatArray:
    fuzz = w.ask(Scene(wood="black cherry"))["fuzz"].mean(axis=1)
    way = np.array(RING)
    return _over(fuzz[(way > 90) & (way < 180)].mean(axis=0), fuzz[(way > 0) & (way < 90)].mean(axis=0))


def _slope(w: Witness) -> FloatArray:
    fuzz = w.ask(Scene())["fuzz"].mean(axis=1)
    return _over(fuzz.max(axis=0), fuzz[0])


_STEPS = tuple(15.0 * k for k in range(7))
_LEANING = (*_STEPS, *(-s % 180.0 for s in _STEPS[1:-1]))


def _published(wood: str, feed: float) -> Scene:
    return Scene(width=4.0, speed=15_000.0, feed=feed, wood=wood, directions=_LEANING)


def _of_steps(w: Witness, wood: str, feeds: Sequence[float] = (3000.0, 6000.0)) -> FloatArray:
    """Damage at 0 to 90 degrees in steps of 15, mean of both leanings, lips and the feeds, (7, models)."""
    each = np.mean([w.ask(_published(wood, f))["rough"].mean(axis=1) for f in feeds], axis=0)
    one, other = each[:7], np.concatenate([each[:1], each[7:], each[6:7]])
    return np.asarray((one + other) / 2)


def _least_at_0(w: Witness, *, wood: str) -> FloatArray:
    damage = _of_steps(w, wood)
    return _over(damage[0], damage[1:].min(axis=0))


def _worst_at_60(w: Witness, *, wood: str) -> FloatArray:
    damage = _of_steps(w, wood)
    return _over(damage[4], np.delete(damage, 4, axis=0).max(axis=0))


def _ruptures(w: Witness, *, wood: str) -> FloatArray:
    return _over(_of_steps(w, wood, [3000.0])[4], _of_steps(w, wood, [6000.0])[4])


def _ratio(w: Witness, *, of: str, scene: Scene, above: Mapping[str, Any], below: Mapping[str, Any]) -> FloatArray:
    """Mean of a risk in one variant of a scene over that in another."""
    return _over(w.mean(of, scene._replace(**above)), w.mean(of, scene._replace(**below)))


def _lighter(w: Witness) -> FloatArray:
    names = ("sugar maple", "black cherry", "yellow-poplar", "american basswood")
    fuzz = [w.mean("fuzz", Scene(wood=name)) for name in names]
    return np.asarray(np.min([_over(b, a) for a, b in pairwise(fuzz)], axis=0))


def _lips(w: Witness, *, above: int) -> FloatArray:
    # the spindle is clockwise: the entry lip is the left one
    lip = w.ask(Scene(wood="black cherry", width=6.0))["rough"].mean(axis=0)
    return _over(lip[above], lip[1 - above])


def _best_rakes(w: Witness, *, wood: str, these: Sequence[float], those: Sequence[float]) -> FloatArray:
    one, other = (
        np.min([w.mean("rough", Scene(wood=wood, rake=r)) for r in rakes], axis=0) for rakes in (these, those)
    )
    return _over(one, other)


def _turning(w: Witness) -> FloatArray:
    friction = np.array([float(getattr(m, "friction", np.nan)) for m in w.models])
    return np.asarray(np.degrees(np.arctan(friction)))


def _diving(w: Witness) -> FloatArray:
    along = Scene(moisture=8.0, directions=(0.0,))
    down, level = (w.ask(s)["tear"][0].max(axis=0) for s in (along._replace(dive=15.0), along))
    return np.asarray(down - level)


SHAPED = MappingProxyType(
    {
        "white ash": 55,
        "american basswood": 10,
        "american beech": 24,
        "yellow birch": 57,
        "paper birch": 22,
        "black cherry": 80,
        "eastern cottonwood": 3,
        "sugar maple": 72,
        "red maple": 25,
        "northern red oak": 28,
        "white oak": 35,
        "black walnut": 34,
        "yellow-poplar": 13,
    }
)
"""Share of pieces good to excellent in the shaping test of the Wood Handbook, from memory. [%]"""


def _shaping(w: Witness) -> FloatArray:
    damage = np.array([w.mean("rough", Scene(wood=name)) for name in SHAPED])
    poor = _ranks(-np.array([*SHAPED.values()], dtype=float)[:, None])
    ranks = _ranks(damage)
    a, b = ranks - ranks.mean(axis=0), poor - poor.mean(axis=0)
    return np.asarray((a * b).sum(axis=0) / np.sqrt((a * a).sum(axis=0) * (b * b).sum(axis=0)))


def _ranks(values: FloatArray) -> FloatArray:
    return np.argsort(np.argsort(values, axis=0, kind="stable"), axis=0, kind="stable").astype(float)


def _largest_scorch(w: Witness) -> FloatArray:
    return np.asarray(w.ask(Scene(feed=2400.0))["scorch"].max(axis=(0, 1)))


def _burn_first(w: Witness) -> FloatArray:
    slow = Scene(speed=SPEEDS[1], feed=600.0, edge=0.02)
    some, others = (
        [w.mean("scorch", slow._replace(wood=name)) for name in names]
        for names in (
            ("sugar maple", "black cherry"),
            ("american basswood", "yellow-poplar", "eastern white pine"),
        )
    )
    return _over(np.min(some, axis=0), np.max(others, axis=0))


def _crawl(w: Witness) -> FloatArray:
    return w.mean("scorch", Scene(speed=SPEEDS[1], feed=600.0, edge=0.04))


def _per_wood() -> Iterator[tuple[str, Measure]]:
    usual = Scene()
    for name, word in (("sugar maple", "maple"), ("black cherry", "cherry")):
        here = usual._replace(wood=name)
        for width in (10, 8):
            yield f"speed halves fuzz, {width} mm, {word}", partial(_halves, wood=name, width=float(width))
        yield f"feed moves it by a third, {word}", partial(_feed_share, wood=name)
        yield f"fastest feeds are worse, {word}", partial(_fastest, wood=name)
        yield f"clean against the grain, {word}", partial(_against, wood=name)
        yield f"angle matters little, {word}", partial(_angles, wood=name)
        yield f"flute takes less than the dial, {word}", partial(_flutes, wood=name)
        ratio = partial(_ratio, scene=here)
        yield f"duller is fuzzier, {word}", partial(ratio, of="fuzz", above={"edge": 0.016}, below={})
        yield f"wetter is fuzzier, {word}", partial(ratio, of="fuzz", above={"moisture": 16.0}, below={"moisture": 8.0})
        yield f"small rake is fuzzier, {word}", partial(ratio, of="fuzz", above={"rake": 0.0}, below={"rake": 20.0})
        yield f"large rake tears, {word}", partial(ratio, of="tear", above={"rake": 30.0}, below={})
    for name, word in (("sugar maple", "maple"), ("white oak", "oak")):
        yield f"lips least damaged at 0, {word}", partial(_least_at_0, wood=name)
        yield f"lips worst at 60, {word}", partial(_worst_at_60, wood=name)
        yield f"slow feed ruptures more at 60, {word}", partial(_ruptures, wood=name)


def _alone() -> Mapping[str, Measure]:
    maple, beech, pine = Scene(), Scene(wood="american beech"), Scene(wood="eastern white pine")
    oak, cedar, loblolly = Scene(wood="white oak"), Scene(wood="western redcedar"), Scene(wood="loblolly pine")
    of_oak = _published("white oak", 3000.0)
    narrow, worn = Scene(width=8.0, speed=SPEEDS[0], directions=RING[8:]), Scene(width=8.0, edge=0.02)
    rough, tear, fuzz = partial(_ratio, of="rough"), partial(_ratio, of="tear"), partial(_ratio, of="fuzz")
    twice, once = {"speed": 24_000.0, "feed": 2400.0}, {"speed": 12_000.0, "feed": 1200.0}
    thin_chips = {"speed": 12_000.0, "feed": 480.0}
    dry = maple._replace(moisture=8.0)
    return {
        "fuzz sits with the grain": _sectors,
        "slope of grain makes fuzz": _slope,
        "fuzz of oak rises with feed": partial(fuzz, scene=of_oak, above={"feed": 6000.0}, below={}),
        "lighter woods are fuzzier": _lighter,
        "slow feed is fuzzy": partial(fuzz, scene=narrow, above={"feed": 150.0}, below={}),
        "a thin skim is fuzzier": partial(fuzz, scene=worn, above={"skim": 0.02}, below={"skim": 0.3}),
        "a light skim cures": partial(rough, scene=worn, above={"skim": 0.3}, below={}),
        "conventional lip is worse": partial(_lips, above=0),
        "defects sit at the exit": partial(_lips, above=1),
        "mid rake, hardwood": partial(
            _best_rakes, wood="american beech", these=(15.0, 20.0), those=(5.0, 10.0, 25.0, 30.0)
        ),
        "mid rake, softwood": partial(
            _best_rakes, wood="eastern white pine", these=(15.0, 20.0, 25.0), those=(5.0, 10.0, 30.0)
        ),
        "large rake, hardwood": partial(rough, scene=oak, above={"rake": 25.0}, below={"rake": 15.0}),
        "small rake, softwood": partial(rough, scene=cedar, above={"rake": 15.0}, below={"rake": 25.0}),
        "quality rises as rake falls": partial(rough, scene=maple, above={"rake": 15.0}, below={"rake": 30.0}),
        "best rake 15": partial(_best_rakes, wood="american beech", these=(15.0,), those=(5.0, 25.0)),
        "roughness falls with rake": partial(rough, scene=beech, above={"rake": 20.0}, below={"rake": 5.0}),
        "normal force turns": _turning,
        "speed alone does nothing, beech": partial(rough, scene=beech, above=twice, below=once),
        "speed alone does nothing, pine": partial(rough, scene=pine, above=twice, below=once),
        "thicker chips are rougher": partial(
            rough, scene=beech, above={"speed": 12_000.0, "feed": 2400.0}, below=thin_chips
        ),
        "more feed is rougher": partial(rough, scene=beech, above={"feed": 2400.0}, below={"feed": 600.0}),
        "more feed is rougher, profile": partial(rough, scene=beech, above=twice, below={"speed": 24_000.0}),
        "run-in edge is better": partial(rough, scene=beech, above={"edge": 0.012}, below={}),
        "wear damages the layer": partial(rough, scene=maple, above={"edge": 0.02}, below={}),
        "wear tears": partial(tear, scene=loblolly, above={"edge": 0.02}, below={}),
        "fewer marks tear more": partial(tear, scene=dry, above={"feed": 2400.0}, below={"feed": 600.0}),
        "dive tears": _diving,
        "dry wood tears": partial(tear, scene=maple, above={"moisture": 5.0}, below={"moisture": 10.0}),
        "shaping test": _shaping,
        "harder is smoother": lambda w: _over(w.mean("rough", loblolly), w.mean("rough", oak)),
        "a sharp bit does not burn": _largest_scorch,
        "a dull bit at a crawl burns": _crawl,
        "maple and cherry burn first": _burn_first,
        "slow feed is hotter": partial(
            _ratio,
            of="scorch",
            scene=maple._replace(speed=SPEEDS[1], edge=0.02),
            above={"feed": 600.0},
            below={"feed": 2400.0},
        ),
    }


MEASURES: Mapping[str, Measure] = MappingProxyType(dict(_per_wood()) | dict(_alone()))
"""What each statement measures, by its key."""


def measures(models: Sequence[LipModel]) -> FloatArray:
    """What every statement measures of many models, (statements, models); NaN where a model does not know.

    Parameters
    ----------
    models
        With layers up to `THICKEST`, on a bit of 90 degrees.
    """
    witness = Witness(models)
    return np.array([MEASURES[s.key](witness) for s in statements()])


# --- the answers of one model -----------------------------------------------------------------------------------------


class Answer(NamedTuple):
    """What one model says to one statement: its measure, NaN where it does not know, and whether that meets it."""

    statement: Statement
    measure: float
    met: bool


@dataclass(frozen=True, eq=False)
class Answers(Result):
    """A model's answers to every statement, made by `ask_literature`. Print it for the table; it iterates over answers.

    Attributes
    ----------
    rows : every `Answer`.
    model : name of the model's class.
    """

    rows: tuple[Answer, ...]
    model: str

    def __len__(self) -> int:
        return len(self.rows)

    def __iter__(self) -> Iterator[Answer]:
        return iter(self.rows)

    def __repr__(self) -> str:
        return f"<Answers of {self.model}: {self.met} of {len(self)} statements met>"

    @property
    def met(self) -> int:
        """How many statements are met."""
        return sum(row.met for row in self.rows)

    def __getitem__(self, key: str) -> Answer:
        """Return the answer to a statement by its key; DomainError if there is none."""
        for row in self.rows:
            if row.statement.key == key:
                return row
        raise DomainError(f"key must be that of a statement, such as {self.rows[0].statement.key!r}, got {key!r}")

    def __str__(self) -> str:
        table = [("statement", "measure", "bound", "met", "source")]
        for s, measure, met in self.rows:
            said = "not known" if np.isnan(measure) else f"{measure:.3g}"
            table.append((s.key, said, s.bound, "yes" if met else "no", s.source))
        return "\n".join(
            [
                f"What studies and the trade say, asked of {self.model}: {self.met} of {len(self)} statements met",
                table_text(table),
                "Statements contradict each other; a model that met all of them would be wrong somewhere.",
            ]
        )

    def _columns(self) -> Columns:
        some = [row.statement for row in self.rows]
        return {
            "statement": [s.key for s in some],
            "source": [s.source for s in some],
            "how read": [s.how for s in some],
            "conditions": [s.conditions for s in some],
            "finding": [s.finding for s in some],
            "asked": [s.asked for s in some],
            "transfers": [s.transfers for s in some],
            "reliability [-]": [s.reliability for s in some],
            "weight [-]": [s.weight for s in some],
            "bound": [s.bound for s in some],
            "measure [-, mm or deg]": [row.measure for row in self.rows],
            "met": [row.met for row in self.rows],
        }


def ask_literature(model: LipModel | None = None) -> Answers:
    """Ask a model what studies and the trade say of fuzzy, torn and scorched lips.

    Parameters
    ----------
    model
        Any fibre-failure model with a layer up to 0.6 mm; default `RiskModel()`.

    Returns
    -------
    Answers
        To every statement of `data/literature.csv`, on straight grooves whose teeth are followed exactly.

    Raises
    ------
    DomainError
        If the model cannot be one.

    Examples
    --------
    >>> import chipsim as cs
    >>> answers = cs.ask_literature()
    >>> answers["duller is fuzzier, maple"].met
    True
    """
    chosen = checked_model(model)
    found = measures([chosen])[:, 0]
    rows = (Answer(s, float(v), bool(s.met(v))) for s, v in zip(statements(), found, strict=True))
    return Answers(tuple(rows), type(chosen).__name__)
