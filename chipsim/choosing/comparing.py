"""Options side by side: the same grooves cut in different ways on the same possible boards."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from .._shared.arrays import FloatArray, choice, instance, integer
from .._shared.arrays import seed as checked_seed
from .._shared.tables import Columns, Result
from .._shared.words import CAUTION
from ..damage.handwork import HandWork, Minutes, checked_handwork, minutes_of
from ..damage.mapping import risk_map
from ..damage.maps import CLASSES, PRIOR, RiskMap
from ..damage.models import LipModel, checked_model
from ..damage.orders import of_hundred
from ..damage.scale import RISK_WORDS
from ..errors import DomainError
from ..limits.checks import STANDS, Limit, asked_of_limits, check_limits
from ..limits.time import time_estimate
from ..scene.cuts import Carving, Cut, as_carving
from ..scene.grain import Board
from ..scene.machine import Machine, corners_text
from ..units import folded, hung, length_text, table_text
from .boards import TOLERANCE, PossibleBoards, lengths_on, possible_boards
from .summaries import RISKS, Summary
from .variants import dial_text

__all__ = ["Comparison", "Option", "against", "compare"]


@dataclass(frozen=True, eq=False)
class Option:
    """One option of a comparison.

    Attributes
    ----------
    name : as the user calls it.
    carving : what is cut, and how.
    risk : its `RiskMap`.
    summary : `Summary` of the map.
    time : (low, likely, high), NaN without a machine. [s]
    limits : as from `check_limits`.
    reason : why its worst place is as it is; '' if no lip needs sanding.
    hand : its `Minutes` by hand, on the boards that all options share.
    machine_on : (boards,) minutes of machine on each of them; 0 without a machine. [min]
    """

    name: str
    carving: Carving
    risk: RiskMap
    summary: Summary
    time: tuple[float, float, float]
    limits: tuple[Limit, ...]
    reason: str
    hand: Minutes
    machine_on: FloatArray

    def __repr__(self) -> str:
        return f"<Option {self.name[:60]!r}: mean damage {self.summary.mean['damage']:.3f}, {self.minutes:.1f} min>"

    @property
    def boards(self) -> FloatArray:
        """(boards,) minutes in all on each possible board: of machine, if there is one, and by hand. [min]"""
        return np.asarray(self.hand.boards + self.machine_on)

    @property
    def minutes(self) -> float:
        """Minutes expected in all: of machine, if there is one, and by hand. [min]"""
        return float(self.boards.mean())

    @property
    def not_kept(self) -> tuple[Limit, ...]:
        """Limits that are violated or unknown."""
        return tuple(row for row in self.limits if not row.ok)

    @property
    def machine(self) -> Machine | None:
        """Machine of the first cut."""
        return self.carving.cuts[0].machine


@dataclass(frozen=True, eq=False)
class Comparison(Result):
    """Options in the order given, made by `compare`. Print it for the table; it iterates over its options.

    Attributes
    ----------
    options : every `Option`.
    board : what they are cut in.
    draws : possible boards on which they were tried; 0: the coefficients as they are.
    """

    options: tuple[Option, ...]
    board: Board
    draws: int = 0

    def __len__(self) -> int:
        return len(self.options)

    def __iter__(self) -> Iterator[Option]:
        return iter(self.options)

    def __repr__(self) -> str:
        best = self.best()
        return f"<Comparison of {len(self)} options{f', best {best.name[:60]!r}' if best is not None else ''}>"

    def __getitem__(self, name: str) -> Option:
        """Return the option of a name; DomainError if there is none."""
        for option in self.options:
            if option.name == name:
                return option
        raise DomainError(f"name must be one of {', '.join(repr(o.name) for o in self.options)}, got {name!r}")

    def ranked(self, count: int = 3, risk: str = "minutes") -> tuple[Option, ...]:
        """Options with the fewest minutes, or the least mean of a risk; equal ones in the order given.

        Those of which it is not known are left out.
        """
        n, name = integer("count", count, low=0, high=10_000_000), choice("risk", risk, ("minutes", *RISKS))
        mean = {o.name: o.minutes if name == "minutes" else o.risk.mean(name) for o in self.options}
        known = [o for o in self.options if np.isfinite(mean[o.name]) and np.isfinite(o.summary.mean["damage"])]
        return tuple(sorted(known, key=lambda o: round(mean[o.name], 9))[:n])

    def best(self, risk: str = "minutes") -> Option | None:
        """Option with the fewest minutes, or the least mean of a risk, the first of equal ones; None if not known."""
        return next(iter(self.ranked(1, risk)), None)

    @property
    def verdict(self) -> str:
        """What wins, by how many minutes, and whether that is more than is known."""
        ranked = self.ranked(len(self.options))
        if not ranked:
            return "The model knows nothing of these lips: no option can be preferred."
        first = ranked[0]
        timed = np.isfinite(first.time[1])
        what = "in all" if timed else "by hand (no machine is given, so that its minutes are not known)"
        limits = f" {_limits_said(first.limits)}" if first.not_kept else ""
        if len(ranked) == 1:
            return f"{first.name} takes {first.minutes:.1f} min {what}.{limits}"
        told = against(first.name, first.boards, ranked[1].name, ranked[1].boards, exact=not self.draws)
        return f"{first.name} takes the fewest minutes {what}, {first.minutes:.1f}. {told}{limits}"

    def __str__(self) -> str:
        modelled = [r for r in RISKS if any(np.isfinite(o.summary.mean[r]) for o in self.options)]
        unknown = any(o.summary.lengths["damage"]["not known"] > 0 for o in self.options)
        classes = [*CLASSES, "not known"] if unknown else [*CLASSES]
        rests = str(self.options[0].risk.setup.get("learned") or PRIOR)
        wood = self.board.wood.name
        heads = {"fuzz": "fuzz", "tear": "tear-out", "scorch": "scorch", "damage": "damage"}
        lines = [
            *folded(f"{self.verdict} {rests}"),
            "",
            *folded(
                f"{wood[:1].upper()}{wood[1:]}, grain {self.board.grain.label}. The numbers are mm of lip in each "
                f"step, the mean of each kind of damage and its worst place, and minutes of the machine and by hand."
            ),
        ]
        mean_and_worst = [text for r in modelled for text in (heads[r], "worst")]
        table: list[tuple[str, ...]] = [("option", *classes, *mean_and_worst, "machine", "by hand")]
        for o in self.options:
            lengths = o.summary.lengths["damage"]
            minutes = f"{o.time[1] / 60:.2f}" if np.isfinite(o.time[1]) else "unknown"
            both = [text for r in modelled for text in (f"{o.summary.mean[r]:.3f}", f"{o.summary.worst[r]:.2f}")]
            steps = [f"{lengths[name]:.1f}" for name in classes]
            table.append((o.name, *steps, *both, minutes, f"{o.hand.expected:.1f}"))
        lines += table_text(table, right=1).splitlines()
        lines += folded(_basis(self.options))
        lines.append("")
        for o in self.options:
            widest = length_text(2 * float(o.risk.half_width.max()))
            speeds = sorted({cut.spindle_speed for cut in o.carving})
            dials = dict.fromkeys(dial_text(speed, o.machine).strip(" ()").removeprefix("dial ") for speed in speeds)
            dial = f", dial mark {' and '.join(dials)}" if all(dials) else ""
            deepest = length_text(float(o.risk.depth.max()))
            worst = f"Most work lies along the {o.reason}" if o.reason else _nothing_poor(o.summary)
            lines += hung(
                f"{o.name}: {o.risk.setup['caption']}{dial}; grooves up to {deepest} deep and {widest} wide. "
                f"{worst} {_limits_said(o.limits)}"
            )
        corners = corners_text(c.machine for o in self.options for c in o.carving)
        lines += ["", *folded(" ".join(text for text in (self.options[0].hand.handwork.words, corners) if text))]
        return "\n".join([*lines, *folded(CAUTION)])

    def _columns(self) -> Columns:
        rows = [[*o.summary.cells(), *o.time, o.hand.expected, o.minutes] for o in self.options]
        times = ["time low [s]", "time likely [s]", "time high [s]", "by hand expected [min]", "expected in all [min]"]
        return {
            "option": [o.name for o in self.options],
            "setup": [o.risk.setup["caption"] for o in self.options],
            **dict(zip([*Summary.headings(), *times], map(list, zip(*rows, strict=True)), strict=True)),
            "limits not kept": ["; ".join(f"{row.name} {row.status}" for row in o.not_kept) for o in self.options],
            "worst place": [o.reason for o in self.options],
        }


def _basis(options: Sequence[Option]) -> str:
    """Why the minutes by hand are not those of the lengths beside them."""
    each = ", ".join(f"{o.hand.causes['spoilt piece']:.1f} min ({o.name})" for o in options)
    return (
        "The lengths are those of a middling board. The minutes by hand are expected over possible boards, bad ones "
        f"among them: pieces that are given up count {each}."
    )


def _limits_said(limits: Sequence[Limit]) -> str:
    """How the limits stand, in a sentence."""
    if not limits:
        return "No limit was checked."
    by = {status: [row.name for row in limits if row.status == status] for status in ("violated", "unknown")}
    said = [f"{STANDS[status]}: {', '.join(by[status])}" for status in by if by[status]]
    return f"Limits {'; '.join(said)}." if said else "All limits are kept."


def compare(
    options: Mapping[str, Cut | Carving] | Sequence[Cut | Carving],
    board: Board,
    *,
    handwork: HandWork | None = None,
    draws: int = 128,
    seed: int = 0,
    model: LipModel | None = None,
    pitch: float = 0.25,
    checks: Mapping[str, Any] | None = None,
) -> Comparison:
    """Map several ways to cut the same thing, and lay them side by side.

    For bits at equal width of groove: ``compare({name: with_bit(carving, bit) for name, bit in bits.items()}, board)``.

    Parameters
    ----------
    options
        Mapping from names to a `Cut` or `Carving`; or a sequence of them, which are numbered.
    board
        Wood and grain.
    handwork
        What damage costs by hand; None: `HandWork()`, which is assumed.
    draws
        Number of possible boards on which all options are tried, 0 to 100000; 0: the coefficients as they are.
    seed
        Of the draws, 0 to 2**63 - 1.
    model
        Default `RiskModel()`.
    pitch
        Spacing of the stations. [mm]
    checks
        What `check_limits` is to know beyond the carvings, by its names, such as {'plunge_feed': 300}.

    Returns
    -------
    Comparison
        Its last sentence says what wins, by how many minutes, and whether that is more than is known.

    Raises
    ------
    DomainError
        If an argument is of the wrong kind or out of range.

    Examples
    --------
    >>> import chipsim as cs
    >>> cut = cs.Cut(cs.VBit(60, 12.7, 2), cs.ring(5, 1.5), 18_000, 1500)
    >>> board = cs.Board(cs.wood("black cherry"), cs.straight_grain(azimuth=0))
    >>> skimmed = cs.Cut(cut.bit, cut.path, 18_000, 1500, passes=[0.3])
    >>> cs.compare({"single pass": cut, "with a skim": skimmed}, board, pitch=1.0).best().name
    'with a skim'
    """
    if isinstance(options, Mapping):
        named = [(str(name), job) for name, job in options.items()]
    elif isinstance(options, (str, bytes, Cut, Carving)) or not isinstance(options, Sequence):
        raise DomainError(f"options must be a mapping or a sequence of Cut or Carving, got {type(options).__name__}")
    else:
        named = [(f"option {k + 1}", job) for k, job in enumerate(options)]
    wrong = [job for _, job in named if not isinstance(job, Cut | Carving)]
    if wrong or not named:
        raise DomainError(f"options must hold at least one Cut or Carving and nothing else, got {wrong or options!r}")
    chosen = checked_model(model)
    rates = checked_handwork(handwork)
    count, start = integer("draws", draws, low=0, high=100_000), checked_seed(seed)
    instance("board", board, Board, "a Board")
    asked = asked_of_limits(checks)
    carvings = [(name, as_carving(job)) for name, job in named]
    dials = [c.machine.dial.uncertainty for _, job in carvings for c in job if c.machine and c.machine.dial]
    boards = possible_boards(chosen, board, max(dials, default=0.0), count, start) if count else None
    found = tuple(_option(name, job, board, chosen, pitch, boards, rates, asked) for name, job in carvings)
    return Comparison(found, board, count)


def against(name: str, own: FloatArray, other: str, rival: FloatArray, *, exact: bool) -> str:
    """How one option's minutes on the boards stand to another's, in a sentence."""
    apart = rival - own
    mean, error = float(apart.mean()), 0.0 if exact else float(apart.std(ddof=1) / np.sqrt(len(apart)))
    share = of_hundred(float(np.mean(apart > 0)), len(apart))
    less = f"{mean:.1f} min less than {other}"
    if abs(mean) <= max(2 * error, TOLERANCE * float(own.mean())):
        return (
            f"That is {less} (standard error {error:.1f}): no meaningful difference between the two, given what we "
            f"know."
        )
    if exact:
        return f"That is {less} at the coefficients as they are; how sure it is was not worked out."
    return (
        f"That is {less} (standard error {error:.1f}), and it is less on {share}: more than what is unknown explains."
    )


def _option(
    name: str,
    carving: Carving,
    board: Board,
    model: LipModel,
    pitch: float,
    boards: PossibleBoards | None,
    handwork: HandWork,
    asked: Mapping[str, Any],
) -> Option:
    hand = minutes_of(lengths_on(carving, board, model, boards), handwork)
    risk = risk_map(carving, board, model=model, pitch=pitch)
    known = all(cut.machine is not None for cut in carving)
    time = time_estimate(carving).total if known else (float("nan"),) * 3
    count = len(hand.work)
    taken = np.zeros(count)
    if known:
        taken = np.full(count, time[1] / 60) if boards is None else boards.machine(time)
    limits = tuple(check_limits(carving, **asked))
    return Option(name, carving, risk, Summary.of(risk), time, limits, _reason(risk), hand, taken)


def _nothing_poor(summary: Summary) -> str:
    lengths = summary.lengths["damage"]
    return "No lip that is known needs sanding." if lengths["not known"] > 0 else "No lip needs sanding."


def _reason(risk: RiskMap) -> str:
    """Where damage is worst and why, from the map's own words."""
    places = risk.worst_places(1, risk="damage")
    if not places:
        return ""
    p = places[0]
    k = 0 if p.side == "left" else 1
    x, y = risk.lip_xy[p.row, k]
    why = f"{RISK_WORDS[risk.leading(p.row, k)]}. {risk.reason(p.row, k)}"
    of = f" of groove {p.groove + 1}" if len(risk.setup["lengths"]) > 1 else ""
    return f"{p.side} lip{of} at ({x:.1f}, {y:.1f}) mm, damage {p.peak:.2f}: {why}"
