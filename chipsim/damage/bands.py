"""Bands: how far the risks of a map may lie apart when the coefficients are not known, from strikes gathered once."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, is_dataclass
from types import MappingProxyType
from typing import Any, ClassVar, NamedTuple, Protocol, cast, runtime_checkable

import numpy as np

from .._shared.arrays import FloatArray, frozen
from .._shared.tables import Columns, Result, one_a_side, rows_of
from .._shared.words import plain
from ..chips.strikes import LipStrikes
from ..errors import DomainError
from ..scene.cuts import Cut
from ..scene.cutters import shape_words
from ..scene.grain import Board
from ..scene.species import Wood
from ..units import range_text
from .handwork import lengths_of
from .models import LipModel, RiskModel, layer_of, lip_risk_sets, thickest
from .priors import Coefficients, Draws, as_graded, edge_factors, fibre_turns, literature_draws, prior_draws

__all__ = [
    "BAND",
    "GRAIN",
    "JOB",
    "Band",
    "BandCollector",
    "Drawable",
    "LearnedRange",
    "damage_of",
    "draws_of",
    "edge_draws",
    "unknowns_of",
]

BAND = (10.0, 50.0, 90.0)
"""Percentiles of the draws: 8 in 10 boards lie between the first and the last."""

BAND_ARRAYS = ("low", "median", "high", "not_learned")

_BIN = 15.0  # of the fibre angles a test piece has shown [deg]
_WIDTH, _FEED, _SPEED = 1.25, 1.2, 1.1  # how far beyond what was seen is taken as seen, as a factor


@dataclass(frozen=True)
class LearnedRange:
    """Of what test pieces the grades are: outside of it nothing has been learned.

    Attributes
    ----------
    angles : numbers of the bins of 15 degrees of fibre angle.
    half_width, feed_per_tooth, spindle_speed : least and largest. [mm, mm, rpm]
    bits : flank lean, flutes, rake, edge radius of each. [deg, -, deg, mm]
    woods : name, moisture, density of each. [%, kg/m3]
    """

    angles: tuple[int, ...]
    half_width: tuple[float, float]
    feed_per_tooth: tuple[float, float]
    spindle_speed: tuple[float, float]
    bits: tuple[tuple[float, ...], ...]
    woods: tuple[tuple[str, float, float], ...]

    def has_board(self, board: Board) -> bool:
        """Whether the wood is one of those read, within a point of moisture and 3 % of density."""
        return bool((self.kinship(board.wood) == 0).any())

    def kinship(self, wood: Wood) -> np.ndarray:
        """Of each board read (boards,): 0 if a wood is its own, 1 if it is another board of its species, 2 if neither.

        A board is the same within a point of moisture and 3 % of density.
        """
        return np.array([_kin(known, (wood.name, float(wood.moisture), float(wood.density))) for known in self.woods])

    def between(self) -> np.ndarray:
        """The same of the boards read among one another, (boards, boards)."""
        return np.array([[0 if i == j else max(1, _kin(a, b)) for j, b in enumerate(self.woods)]
                         for i, a in enumerate(self.woods)])  # fmt: skip

    def outside(self, cuts: Sequence[Cut], board: Board) -> tuple[str, ...]:
        """What of some cuts on a board lies outside of what was graded, in sentences."""
        low, high = self.spindle_speed
        told = []
        strange = sorted({c.spindle_speed for c in cuts if not low / _SPEED <= c.spindle_speed <= high * _SPEED})
        if strange:
            told.append(
                f"{range_text(strange, '.0f')} rpm: what was graded was cut at {range_text((low, high), '.0f')}"
            )
        low, high = self.feed_per_tooth
        teeth = [c.feed_per_tooth for c in cuts if not low / _FEED <= c.feed_per_tooth <= high * _FEED]
        if teeth:
            told.append(
                f"{range_text(teeth, '.3f')} mm per tooth: what was graded was cut with "
                f"{range_text((low, high), '.3f')} mm"
            )
        half = [float(c.half_width(c.path.depth.max())) for c in cuts]
        low, high = self.half_width
        wide = [2 * h for h in half if not low / _WIDTH <= h <= high * _WIDTH]
        if wide:
            told.append(
                f"grooves {range_text(wide, '.1f')} mm wide: those graded were "
                f"{range_text((2 * low, 2 * high), '.1f')} mm"
            )
        if any(bit_key(c) not in self.bits for c in cuts):
            told.append("a bit of another kind than the graded one")
        if not self.has_board(board):
            told.append("another wood, or another moisture or density, than the graded one")
        return tuple(told)

    def unseen(
        self, content: Mapping[str, np.ndarray], cut: Cut, board: Board
    ) -> tuple[np.ndarray, dict[str, np.ndarray]]:
        """Lips (n, 2) that nothing was learned of, and those of each reason."""
        exists = content["exists"]
        angle = np.where(np.isfinite(content["fibre_angle"]), content["fibre_angle"], 0.0)
        half = np.broadcast_to(content["half_width"][:, None], exists.shape)
        feed = np.where(exists, content["feed_per_tooth"], self.feed_per_tooth[0])
        no = np.zeros(exists.shape, dtype=bool)
        reasons = {
            "directions": ~np.isin(angle_bin(angle), self.angles),
            "widths": (half < self.half_width[0] / _WIDTH) | (half > self.half_width[1] * _WIDTH),
            "feeds": (feed < self.feed_per_tooth[0] / _FEED) | (feed > self.feed_per_tooth[1] * _FEED),
            "speeds": no | (not self.spindle_speed[0] / _SPEED <= cut.spindle_speed <= self.spindle_speed[1] * _SPEED),
            "bits": no | (bit_key(cut) not in self.bits),
            "woods": no | (not self.has_board(board)),
        }
        reasons = {name: where & exists for name, where in reasons.items()}
        return np.any(list(reasons.values()), axis=0), reasons


def _kin(known: tuple[str, float, float], other: tuple[str, float, float]) -> int:
    same = abs(known[1] - other[1]) <= 1 and abs(known[2] / other[2] - 1) <= 0.03
    return 2 if known[0] != other[0] else 0 if same else 1


def angle_bin(angle: FloatArray) -> np.ndarray:
    """Bin of a fibre angle. [deg]"""
    return np.asarray(np.floor(angle % 180.0 / _BIN).astype(int))


def bit_key(cut: Cut) -> tuple[float, ...]:
    """What of a bit the coefficients may hide: flank lean at the face, flutes, rake, edge radius."""
    lean = float(np.degrees(np.arctan(cut.flank_slope(np.asarray(cut.path.depth.max())))))
    return round(lean, 3), float(cut.bit.flutes), float(cut.bit.rake), float(cut.bit.edge_radius)


BOARD_ITSELF = "the job and the board themselves"
"""What varies from board to board beyond the coefficients, where it stands in a list of them."""


@runtime_checkable
class Drawable(Protocol):
    """A model that knows how well it is known, such as a `FittedModel`."""

    model: RiskModel
    learned_range: LearnedRange | None

    def draws(self, count: int, seed: int, board: Board | None = None) -> Draws:
        """Draws of models and graders for jobs on a board."""
        ...

    @property
    def learned(self) -> str:
        """A line that says from what; empty while prior only."""
        ...


class BandRow(NamedTuple):
    """One row of the map of a `Band`, named as there; (left, right) each."""

    low: FloatArray
    median: FloatArray
    high: FloatArray
    not_learned: np.ndarray


@dataclass(frozen=True, eq=False)
class Band(Result):
    """What draws of the coefficients make of a map's damage; axis 1 of the (n, 2) arrays is (left, right).

    It iterates over the rows of its map, as `BandRow`; its table has a line for each row, counted from 1, and side.

    Attributes
    ----------
    low, median, high : (n, 2) damage that 1, 5 and 9 of 10 draws stay below.
    not_learned : (n, 2) True where no test piece has shown such a lip; everywhere while prior only.
    poor : low, median and high number of poor spots per 100 mm of lip that is known; a spot is 1 mm graded 3 or worse;
        NaN where nothing is known of any lip.
    reasons : length of lip not learned, by reason. [mm]
    leading : name of the coefficient that moves the number of poor spots most, '' if none does; its correlation.
    status : 'prior only', or what was learned from.
    draws, seed : of which it is made.
    lengths : (draws, 5, 5, 5) length of lip that each draw expects in each grade of fuzz, tear-out and scorch. [mm]
    """

    low: FloatArray
    median: FloatArray
    high: FloatArray
    not_learned: np.ndarray
    poor: tuple[float, float, float]
    reasons: Mapping[str, float]
    leading: tuple[str, float]
    status: str
    draws: int
    seed: int
    lengths: FloatArray

    def __post_init__(self) -> None:
        for name in (*BAND_ARRAYS, "lengths"):
            frozen(getattr(self, name))
        object.__setattr__(self, "reasons", MappingProxyType(dict(self.reasons)))

    def __len__(self) -> int:
        return len(self.low)

    def __iter__(self) -> Iterator[BandRow]:
        return rows_of(BandRow, self, BandRow._fields)

    def __repr__(self) -> str:
        return f"<Band of {len(self)} rows from {self.draws} draws, {self.status[:60]}>"

    _axes: ClassVar[tuple[str, ...]] = ("row", "side")

    def _columns(self) -> Columns:
        return one_a_side(
            {
                "row": np.arange(1, len(self) + 1),
                "damage low [-]": self.low,
                "damage median [-]": self.median,
                "damage high [-]": self.high,
                "not_learned": self.not_learned,
            }
        )

    def __str__(self) -> str:
        return "\n".join([self.expected(), *self.rests()])

    def rests(self) -> list[str]:
        """What moves the range most, and what it rests on, in sentences."""
        lines = []
        name, strength = self.leading
        if name:
            how = "more" if strength > 0 else "less"
            if name == BOARD_ITSELF:
                lines.append(
                    "Most of the range is how one board differs from the next: no single coefficient matters as much."
                )
            else:
                lines.append(f"What matters most and is not known is the {plain(name)}: the larger, the {how} damage.")
        if self.status == "prior only":
            return [*lines, "This is an estimate from starting guesses; no test piece has been graded yet."]
        lines.append(self.status)
        for reason, size in self.reasons.items():
            if size > 0:
                lines.append(f"On {size:.1f} mm of lip the {reason} lie outside what the test pieces showed.")
        return lines

    def expected(self) -> str:
        """How much of the lip to expect in the two worst steps, with its range, in a sentence."""
        if not np.isfinite(self.poor).all():
            return "How much of the lip will need heavy sanding is not known: the model knows nothing of these lips."
        low, _, high = (round(v) for v in self.poor)
        each = "8 in 10 boards" if self.status == "prior only" else "8 in 10 jobs on such a board"
        if high == 0:
            return f"Of 100 mm of lip less than 1 mm needs heavy sanding or re-cutting ({each})."
        count = f"{low} to {high}" if low != high else f"about {high}"
        return f"Of 100 mm of lip {count} mm need heavy sanding or re-cutting ({each})."

    def to_dict(self) -> dict[str, Any]:
        """Everything that is no array, for a file."""
        return {
            "poor": list(self.poor),
            "reasons": dict(self.reasons),
            "leading": list(self.leading),
            "status": self.status,
            "draws": self.draws,
            "seed": self.seed,
        }

    @classmethod
    def from_parts(cls, arrays: Mapping[str, np.ndarray], rest: Mapping[str, Any]) -> Band:
        """The band of its arrays and `to_dict`."""
        numbers = [*rest["poor"], *rest["reasons"].values(), rest["leading"][1], rest["draws"], rest["seed"]]
        texts = [*rest["reasons"], rest["leading"][0], rest["status"]]
        if (
            len(rest["poor"]) != 3
            or len(rest["leading"]) != 2
            or not all(isinstance(v, (int, float)) and np.isfinite(v) for v in numbers)
            or not all(isinstance(v, str) for v in texts)
            or min(numbers[:3]) < 0
            or min(rest["reasons"].values(), default=0) < 0
            or rest["draws"] < 1
            or len(arrays["lengths"]) != rest["draws"]
        ):
            raise DomainError(f"band must hold what a band's to_dict gives, got {rest!r:.200}")
        content: dict[str, Any] = {**arrays, **rest}
        return cls(**content | {"poor": tuple(rest["poor"]), "leading": tuple(rest["leading"])})


def damage_of(fuzz: FloatArray, tear: FloatArray, scorch: FloatArray) -> FloatArray:
    """1 - (1 - fuzz)(1 - tear)(1 - scorch); what is not known counts as 0, all unknown as NaN."""
    spared, unknown = np.ones(np.shape(fuzz)), np.ones(np.shape(fuzz), dtype=bool)
    for part in (fuzz, tear, scorch):
        blank = np.isnan(part)
        spared *= 1.0 - np.where(blank, 0.0, part)
        unknown &= blank
    spared = 1.0 - spared
    spared[unknown] = np.nan
    return np.asarray(spared)


@dataclass(eq=False)
class BandCollector:
    """Collects a band block by block; see `Band`."""

    model: LipModel
    board: Board
    count: int
    seed: int
    _draws: Draws = field(init=False, repr=False)
    _seen: LearnedRange | None = field(init=False, repr=False)
    _status: str = field(init=False, repr=False)
    _guessed: tuple[str, ...] = field(init=False, repr=False)

    def __post_init__(self) -> None:
        self._quantiles: list[FloatArray] = []
        self._unseen: list[np.ndarray] = []
        self._reasons: dict[str, float] = {}
        self._edges: dict[str, FloatArray] = {}
        self._poor, self._length, self._lips = np.zeros(self.count), 0.0, 0.0
        self._graded = np.zeros((self.count, 5, 5, 5))
        draws = draws_of(self.model, self.board, self.count, self.seed)
        if draws is None:
            raise DomainError(
                f"draws must be 0 for a model without priors: it must be a RiskModel, a FittedModel or a dataclass "
                f"whose fields have a 'prior' in their metadata, got {type(self.model).__name__}"
            )
        self._draws, self._seen, self._status, self._guessed = draws, None, "prior only", ()
        if isinstance(self.model, Drawable):
            self._seen, self._status = self.model.learned_range, self.model.learned or "prior only"
            self._guessed = tuple(getattr(self.model, "unlearned", tuple)())

    def layer(self, cuts: Iterable[Cut]) -> float:
        """Thickest layer along the face whose strikes the draws need of these cuts. [mm]"""
        return layer_of(thickest(self._draws.models), cuts)

    def add(self, strikes: LipStrikes, fibres: FloatArray, content: Mapping[str, np.ndarray], cut: Cut) -> None:
        """Take in one block: its strikes, the fibres (n, 2, 3) at its lips and what the map holds of it."""
        exists = content["exists"]
        length = np.where(exists, content["lip_length"], 0.0)
        factors = edge_draws(self.model, cut, self.count, self.seed)
        edges = None if (factors == 1).all() else np.minimum(cut.bit.edge_radius * factors, 0.5)
        if edges is not None:
            self._edges[f"edge radius of the {shape_words(cut.bit)}"] = factors
        if np.any(np.nan_to_num(strikes.lifts)):
            self._edges["lift"] = np.array([getattr(model, "lift", 0.0) for model in self._draws.models])
        found = lip_risk_sets(
            self._draws.models, strikes, fibres[None], cut, self.board.cut_wood, edges, turns=self._draws.turns
        )
        damage, poor = as_graded(self._draws, found["fuzz"], found["tear"], found["scorch"], length)
        self._poor += poor
        self._graded += lengths_of(self._draws, [found[name] for name in ("fuzz", "tear", "scorch")], length)
        known = np.isfinite(damage[..., 0])  # known to one draw, known to all
        self._length += float(length[known].sum())
        self._lips += float(length.sum())
        damage.sort(axis=-1)  # NaN, where not known, goes last
        place = np.array(BAND) / 100.0 * (self.count - 1)
        low = place.astype(int)
        high = np.minimum(low + 1, self.count - 1)
        band = damage[..., low] + (damage[..., high] - damage[..., low]) * (place - low)
        band = np.where(np.isnan(damage[..., -1:]), np.nan, band).transpose(2, 0, 1)
        self._quantiles.append(band)
        if self._seen is None:
            self._unseen.append(exists.copy())
        else:
            unseen, reasons = self._seen.unseen(content, cut, self.board)
            self._unseen.append(unseen)
            for name, where in reasons.items():
                self._reasons[name] = self._reasons.get(name, 0.0) + float(length[where].sum())

    def band(self) -> Band:
        """The band of all that was added."""
        # no lip, no poor spot; lips of which nothing is known have no number of them
        none = np.full(self.count, np.nan if self._lips else 0.0)
        share = 100.0 * self._poor / self._length if self._length else none
        low, median, high = np.concatenate(self._quantiles, axis=1)
        poor = tuple(float(v) for v in np.percentile(share, BAND))
        leading = leading_unknown(self._draws, share, self._edges)
        status = self._status
        if status != "prior only" and leading[0] in self._guessed:
            status = f"{status} The {plain(leading[0])}, which matters most here, is one of them."
        return Band(
            low,
            median,
            high,
            np.concatenate(self._unseen),
            poor,  # type: ignore[arg-type]  # three percentiles
            self._reasons,
            leading,
            status,
            self.count,
            self.seed,
            self._graded.astype(np.float32),
        )


def draws_of(model: LipModel, board: Board, count: int, seed: int) -> Draws | None:
    """Equally likely readings of what is known of a model, for jobs on a board; None of one that has no ranges.

    Of a `RiskModel` they are what the literature leaves of its prior; of a model that was taught, what it learned; of
    any other its prior.
    """
    known: object = model
    if isinstance(model, Drawable):
        found = model.draws(count, seed, board)
    elif isinstance(model, RiskModel):
        found = literature_draws(model, count, seed)
    elif is_dataclass(known) and Coefficients(cast(Any, known)).names:
        found = prior_draws(cast(Any, known), count, seed)
    else:
        return None
    return found._replace(turns=fibre_turns(getattr(board, "grain_error", 0.0), count, seed))


def edge_draws(model: LipModel, cut: Cut, count: int, seed: int) -> FloatArray:
    """Draws (count,) of the radius of an edge over what its bit says: 1 if measured, or learned from a test piece."""
    if isinstance(model, Drawable) and model.learned_range is not None and bit_key(cut) in model.learned_range.bits:
        return np.ones(count)  # what the edge does to that piece is in the coefficients
    return edge_factors(cut.bit, count, seed)


def unknowns_of(draws: Draws) -> dict[str, FloatArray]:
    """What is drawn, (draws,) each, by name."""
    out = dict(zip(draws.names, draws.coordinates.T, strict=True)) | {JOB: draws.shifts}
    return out if draws.turns is None else out | {GRAIN: draws.turns}


JOB, GRAIN = "the job and the board themselves", "direction of the grain"


def leading_unknown(
    draws: Draws, outcome: FloatArray, more: Mapping[str, FloatArray] = MappingProxyType({})
) -> tuple[str, float]:
    """The unknown, one drawn or one `more`, whose ranks correlate most with those of an outcome (count,); how much."""
    every = unknowns_of(draws) | dict(more)
    names, columns = tuple(every), tuple(every.values())
    if len(outcome) < 3 or not np.isfinite(outcome).all() or np.ptp(outcome) == 0:
        return "", 0.0
    rank = np.argsort(np.argsort(outcome, kind="stable"), kind="stable")
    found = [
        float(np.corrcoef(np.argsort(np.argsort(c, kind="stable"), kind="stable"), rank)[0, 1]) if np.ptp(c) else 0.0
        for c in columns
    ]
    best = int(np.argmax(np.abs(found)))
    return names[best], found[best]
