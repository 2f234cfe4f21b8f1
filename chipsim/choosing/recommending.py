"""The choice: bit, dial, feed, passes and rotation that keep the limits and take the fewest minutes in all.

The minutes are those of the machine and those expected by hand, over everything that is not known: coefficients,
grader, job and board, the edge, the dial, the moisture. All settings are tried on the same possible boards, so that
the pick, its odds, what would change it and what is worth measuring cannot contradict one another.
"""

from __future__ import annotations

import math
import textwrap
from collections import Counter
from collections.abc import Iterable, Iterator, Mapping, Sequence
from concurrent.futures import Executor
from contextlib import closing, nullcontext
from dataclasses import dataclass, replace
from functools import cached_property
from os import PathLike
from typing import Any

import numpy as np

from .._shared.arrays import FloatArray, bare, choice, integer, number
from .._shared.arrays import feed as feed_of
from .._shared.arrays import seed as checked_seed
from .._shared.running import outcomes, progress_bar, worker_count
from .._shared.tables import Columns, Kept, Result
from .._shared.words import CAUTION
from ..damage.bands import Drawable
from ..damage.handwork import CAUSES, STEPS, HandWork, Minutes, checked_handwork, minutes_of, share_from
from ..damage.maps import PRIOR
from ..damage.models import LipModel, checked_model
from ..damage.orders import of_hundred, wilson
from ..errors import DomainError
from ..limits.checks import ON_A_GUESS
from ..scene.cuts import Carving, Cut, as_carving
from ..scene.cutters import Cutter
from ..scene.grain import Board
from ..scene.machine import Machine
from ..units import feed_text, folded, hung
from .boards import GIVEN, TOLERANCE, PossibleBoards, lengths_on, possible_boards
from .racing import SHARE, SMALL, SURE, Race, planned, race
from .summaries import RISKS
from .sweeps import Cell, Sweep, named_bits, plainly, result_columns, setting_columns, sweep
from .variants import bit_text
from .worth import Worth, perfect, portfolio, worth_of

__all__ = ["UNJUDGED", "BoardOdds", "Costed", "Recommendation", "recommend"]

_VALUED = 256
"""Boards on which the worth of knowing more is reckoned, at most."""

_LOOKED_AT = 6
"""Settings among which it is reckoned."""

_SHOWN = 6
"""Settings that the report lists."""

_MOVED = 0.06
"""Share by which a feed between those of the grid must differ from them to be tried. [-]"""


@dataclass(frozen=True, eq=False)
class Costed(Kept):
    """A setting that keeps the limits, and what it takes.

    Attributes
    ----------
    cell : the `Cell`.
    machine : minutes of machine expected. [min]
    hand : its `Minutes` by hand, on the boards it was tried on.
    machine_on : (boards,) minutes of machine on each of them. [min]
    expected : minutes in all, the leader's and the difference on the boards both were tried on. [min]
    difference, error : from the pick on those boards, and its standard error. [min]
    """

    cell: Cell
    machine: float
    hand: Minutes
    machine_on: FloatArray
    expected: float
    difference: float
    error: float

    def __repr__(self) -> str:
        return f"<Costed {self.cell.setting.words()[:80]}: {self.expected:.2f} min in all>"

    @property
    def boards(self) -> int:
        """Number of possible boards it was tried on."""
        return len(self.hand.work)

    @property
    def low(self) -> float:
        """Minutes in all that a tenth of the boards stay below. [min]"""
        return self.hand._quantile(0.1, self.machine_on)

    @property
    def high(self) -> float:
        """Minutes in all that a tenth of the boards exceed. [min]"""
        return self.hand._quantile(0.9, self.machine_on)

    def chance_above(self, minutes: float) -> float:
        """Chance of more than so many minutes in all, a spoilt piece included. [-]"""
        return self.hand._above(number("minutes", minutes, low=0, high=1e7, unit="min"), self.machine_on)

    def chance_range(self, minutes: float) -> tuple[float, float]:
        """Low and high of 9 in 10 of that chance: so many boards do not tell it better. [-]"""
        return wilson(self.chance_above(minutes), self.boards)


@dataclass(frozen=True, eq=False)
class BoardOdds:
    """The pick against another setting, board by board.

    Attributes
    ----------
    other : the other `Cell`.
    quicker, slower, even : number of boards on which the pick takes fewer minutes in all, more, or as many to 3 %.
    saved, lost : mean minutes where it is quicker, and where it is slower. [min]
    mean, error : minutes that the pick saves on average, and the standard error. [min]
    """

    other: Cell
    quicker: int
    slower: int
    even: int
    saved: float
    lost: float
    mean: float
    error: float

    def __repr__(self) -> str:
        counts = f"{self.quicker} quicker, {self.slower} slower, {self.even} even"
        return f"<BoardOdds {counts}; {self.mean:+.2f} min on average>"

    @classmethod
    def of(cls, other: Cell, pick: FloatArray, rival: FloatArray) -> BoardOdds:
        """From minutes on the same boards, (boards,)."""
        gain = rival - pick
        worth = TOLERANCE * np.minimum(pick, rival)
        better, worse = gain > worth, gain < -worth
        return cls(
            other,
            int(better.sum()),
            int(worse.sum()),
            int((~better & ~worse).sum()),
            float(gain[better].mean()) if better.any() else 0.0,
            float(-gain[worse].mean()) if worse.any() else 0.0,
            float(gain.mean()),
            float(gain.std(ddof=1) / np.sqrt(len(gain))) if len(gain) > 1 else 0.0,
        )

    @property
    def boards(self) -> int:
        """Number of boards."""
        return self.quicker + self.slower + self.even

    def __str__(self) -> str:
        def of(count: int) -> str:
            return of_hundred(count / self.boards, self.boards)

        said = "saves" if self.mean >= 0 else "costs"
        parts = []
        if self.slower:
            parts.append(f"it costs {_min(self.lost)} more on {of(self.slower)}")
        if self.quicker:
            parts.append(f"it saves {_min(self.saved)} on {of(self.quicker)}")
        if self.quicker > self.slower:
            parts.reverse()
        told = "; ".join(parts) or "it takes as long on every board"
        return f"{told}; on average it {said} {_min(abs(self.mean))} (standard error {self.error:.2f})"


def _min(minutes: float) -> str:
    return f"{minutes:.1f} min" if minutes < 99.95 else f"{minutes:.0f} min"


@dataclass(frozen=True, eq=False)
class Recommendation(Result):
    """What to set, made by `recommend`. Print it for the answer; it iterates over what it reckoned of each setting.

    Attributes
    ----------
    sweep : every setting that was tried, with its limits.
    machine : what it was tried on.
    handwork : what damage costs by hand.
    rows : `Costed` of every setting that keeps the limits, fewest minutes expected first.
    pick : the setting recommended, None if none keeps the limits: the fastest of those that are tied.
    tied : settings shown to take no more than the best by more than 3 %, the pick among them.
    odds : of the pick against the setting that is the quickest on a usual board, or else the next best; None if there
        is no other, or no boards were drawn.
    would_change : sentences that say which other minutes by hand would change the pick.
    edges : sentences that say at which end of what was tried the pick stands.
    warnings : sentences about what no carver would want.
    worth : `Worth` of knowing what could be measured, most first; empty without boards.
    everything : `Worth` of knowing everything, which bounds all others; None without boards.
    outside : what of the pick lies outside of what a test piece has shown.
    unlearned : sentence that says what is a starting guess and what was learned.
    boards : possible boards on which the best settings were tried; 0: the coefficients as they are.
    evaluations : boards on which settings were tried, all settings together.
    time_limit : [s] or None.
    waived : names of limits that the user let go.
    repeats : such jobs that what is learned will serve.
    """

    sweep: Sweep
    machine: Machine
    handwork: HandWork
    rows: tuple[Costed, ...]
    pick: Cell | None
    tied: tuple[Cell, ...]
    odds: BoardOdds | None
    would_change: tuple[str, ...]
    edges: tuple[str, ...]
    warnings: tuple[str, ...]
    worth: tuple[Worth, ...]
    everything: Worth | None
    outside: tuple[str, ...]
    unlearned: str
    boards: int
    evaluations: int
    time_limit: float | None
    waived: tuple[str, ...]
    repeats: int = 1

    def __len__(self) -> int:
        return len(self.rows)

    def __bool__(self) -> bool:
        return True  # an answer, be it that no setting keeps the limits

    def __iter__(self) -> Iterator[Costed]:
        return iter(self.rows)

    def __repr__(self) -> str:
        pick = "nothing" if self.pick is None else self.pick.setting.words(self.machine)[:100]
        return f"<Recommendation of {pick}, {len(self)} of {len(self.sweep)} settings keep the limits>"

    def _columns(self) -> Columns:
        cells = [row.cell for row in self.rows]
        return {
            **setting_columns([cell.setting for cell in cells], self.machine),
            **result_columns(cells),
            "minutes expected in all [min]": [row.expected for row in self.rows],
            "minutes of machine [min]": [row.machine for row in self.rows],
            "minutes by hand expected [min]": [row.hand.expected for row in self.rows],
            "minutes in all on 1 board in 10 below [min]": [row.low for row in self.rows],
            "minutes in all on 9 boards in 10 below [min]": [row.high for row in self.rows],
            "more than the pick [min]": [row.difference for row in self.rows],
            "its standard error [min]": [row.error for row in self.rows],
            "boards tried": [row.boards for row in self.rows],
            "tied": [any(row.cell is cell for cell in self.tied) for row in self.rows],
        }

    def best(self, risk: str = "minutes") -> Cell | None:
        """The pick; or the setting with the least mean of a risk of those that keep the limits. None if none does."""
        name = choice("risk", risk, ("minutes", *RISKS))
        if name == "minutes":
            return self.pick
        known = [(row.cell.summary.mean[name], k) for k, row in enumerate(self.rows) if row.cell.summary is not None]
        known = [pair for pair in known if np.isfinite(pair[0])]
        return self.rows[min(known)[1]].cell if known else None

    @cached_property
    def front(self) -> tuple[Costed, ...]:
        """Settings that no other one beats in both minutes of machine and minutes by hand, fastest machine first."""
        best, found = math.inf, []
        for row in sorted(self.rows, key=lambda r: (round(r.machine, 6), r.expected)):
            if row.expected - row.machine < best - 1e-9:
                best = row.expected - row.machine
                found.append(row)
        return tuple(found)

    def row(self, cell: Cell) -> Costed:
        """What was reckoned of a setting that keeps the limits; DomainError of another."""
        for row in self.rows:
            if row.cell is cell:
                return row
        raise DomainError("cell must be one of those that keep the limits, as they stand in rows")

    @property
    def verdict(self) -> str:
        """What speaks for the pick, in a few words."""
        if self.pick is None:
            return "no setting keeps the limits"
        if len(self.rows) == 1:
            return "no other setting keeps the limits"
        if len(self.tied) > 1:
            return f"as good as {len(self.tied) - 1} other(s), to {TOLERANCE:.0%} of the minutes in all"
        return "fewest minutes expected"

    def allowed(self, cell: Cell) -> bool:
        """Whether a cell keeps every limit that is not waived, and the limit on time."""
        return _allowed(cell, self.waived, self.time_limit)

    @property
    def _let_go(self) -> tuple[str, ...]:
        return (*self.waived, *UNJUDGED)

    def process_window(self, cell: Cell | None = None) -> str:
        """The table of speed and feed for the pick's bit, passes and rotation, or a cell's; see `Sweep`."""
        shown = self.pick if cell is None else cell
        return self.sweep.process_window(shown, waived=self._let_go, time_limit=self.time_limit)

    def refusals(self) -> Counter[str]:
        """How many settings each limit rules out; a setting may be ruled out by several."""
        count: Counter[str] = Counter()
        for cell in self.sweep:
            count.update({"cannot be cut" for _ in range(1) if cell.error})
            count.update({"damage (unknown)" for _ in range(1) if not cell.error and not np.isfinite(cell.damage)})
            count.update({f"{row.name} ({row.status})" for row in cell.against(self._let_go)})
            if self.time_limit is not None and cell.time[2] > self.time_limit:
                count["time"] += 1
        return count

    def reason(self) -> str:
        """Why the pick is the pick, or why there is none."""
        ruled = _refused(self.refusals())
        if self.pick is None:
            asked = {row.name: row.sentence for cell in self.sweep for row in cell.against(self._let_go)}
            told = [f"{name[:1].upper()}{name[1:]}: {sentence}" for name, sentence in asked.items()]
            told += sorted({f"{plainly(cell.error)}." for cell in self.sweep.failed})
            told = [line for text in told for line in hung(text)]
            return "\n".join([f"Nothing is recommended. {ruled or 'The damage is not known.'}", *told])
        count = len(self.rows)
        text = f"It is the only one of the {len(self.sweep)} settings that keeps the limits."
        if count > 1:
            text = (
                f"Of the {count} settings that keep the limits (of {len(self.sweep)}) none is expected to be more "
                f"than {100 * TOLERANCE:g} % quicker."
            )
        others = [cell for cell in self.tied if cell is not self.pick]
        if others:
            text += f" As good is {self._named(others[0])}"
            more = len(others) - 1
            text += f", and so {'is' if more == 1 else 'are'} {more} more." if more else "."
            text += " Of these the pick needs the machine least."
        if self.odds is not None:
            text += f" Against {self.odds.other.setting.words(self.machine)}: {self.odds}."
        lost = self._ruled_out()
        if lost:
            text += f" {lost}"
        return text + (f" {ruled}" if ruled else "")

    def _ruled_out(self) -> str:
        """What a limit costs, by the mean damage of what it rules out."""
        assert self.pick is not None
        better = [c for c in self.sweep.ranked(len(self.sweep)) if c.damage < self.pick.damage * 0.95]
        out = next((c for c in better if not self.allowed(c)), None)
        if out is None:
            return ""
        names = sorted({row.name for row in out.against(self._let_go)}) or ["time"]
        return (
            f"Less damage on average, {out.damage:.3f} against {self.pick.damage:.3f}, has "
            f"{out.setting.words(self.machine)}, but for {', '.join(names)}."
        )

    def _named(self, cell: Cell) -> str:
        row = self.row(cell)
        return f"{cell.setting.words(self.machine)} ({_min(row.expected)})"

    def __str__(self) -> str:
        board = self.sweep.job_board
        head = f"Choice for {self.sweep.job_carving.name} in {board.wood.name}, grain {board.grain.label}"
        rests = [
            *([self.unlearned] if self.unlearned else []),
            *(f"Outside of what was graded: {w}." for w in self.outside),
        ]
        foot = [*rests, self.handwork.words, CAUTION]
        if self.pick is None:
            return "\n".join([head, self.reason(), *folded(f"{self.sweep.learned or PRIOR} {CAUTION}")])
        row = self.row(self.pick)
        lines = [head, f"PICK  {self.pick.setting.words(self.machine)}", *_told("", self._expected(row))]
        for warning in self.warnings:
            lines += _told("TAKE CARE", warning)
        lines += _told("WHY", self.reason())
        for edge in self.edges:
            lines += _told("AT THE END", edge)
        for changed in self.would_change:
            lines += _told("PRICES", changed)
        lines += _told("NEXT", self.advice) if self.advice else []
        lines.append(_table(self))
        if self.waived:
            lines.append(f"Waived by the user: {', '.join(self.waived)}.")
        lines += [line for text in [self.machine.corner_words, *foot] for line in textwrap.wrap(text, _WIDE)]
        return "\n".join(lines)

    def _expected(self, row: Costed) -> str:
        hand = row.hand
        text = (
            f"Expect {_min(row.expected)} in all: {row.machine:.2f} min of machine and "
            f"{_min(row.expected - row.machine)} by hand. On 8 boards in 10 it takes {row.low:.1f} to "
            f"{row.high:.1f} min."
        )
        if not self.boards:
            text += " No possible boards were drawn (draws=0): only reader, job and board vary here."
        parts = [
            f"{length:.0f} mm {_CURES[step]}"
            for step, length in list(zip(STEPS, hand.cures, strict=True))[1:]
            if length >= 0.5
        ]
        if parts:
            text += f" Of the {hand.lip:.0f} mm of lip {', '.join(parts)}."
        most = max(CAUSES, key=lambda c: hand.causes[c])
        if hand.causes[most] > 0.05:
            text += f" Most of the mending is for {most}."
        if hand.chance_spoilt >= 0.005:
            text += f" The piece is spoilt on {of_hundred(hand.chance_spoilt, row.boards)}."
        return text

    @property
    def advice(self) -> str:
        """What to measure before cutting, by what it is worth."""
        if self.everything is None:
            return ""
        whole, jobs = self.everything, "this job" if self.repeats == 1 else f"{self.repeats} such jobs"
        if not whole.pays_for(self.repeats):
            return "Nothing is worth measuring: knowing everything would save less than can be told from nothing."
        bound = f"Knowing everything would save {self._saved(whole)}."
        paying = [w for w in self.worth if w.pays_for(self.repeats)]
        if paying:
            told = [
                f"Knowing {w.name} saves {self._saved(w)}: {w.advice}, which takes some {w.cost:.0f} min (assumed)."
                for w in paying
            ]
            idle = [w.name for w in self.worth if not w.pays_for(self.repeats)]
            rest = f" Not worth their time for {jobs}: {', '.join(idle)}." if idle else ""
            return " ".join(told) + f"{rest} {bound}"
        later = [w for w in self.worth if w.jobs is not None and w.minutes > 0.1]
        if not later:
            return f"Nothing that can be measured is worth a tenth of a minute. {bound}"
        first = min(later, key=lambda w: (w.jobs or 0, -w.minutes))
        return (
            f"Nothing is worth measuring for {jobs}. What would pay first is knowing {first.name}: it saves "
            f"{self._saved(first)}, but to find out ({first.advice}) takes some {first.cost:.0f} min (assumed); it "
            f"pays from {first.jobs} such jobs on. {bound}"
        )

    def _saved(self, worth: Worth) -> str:
        """Minutes that knowing something saves, on a job and on all of them, in words."""
        once = f"{_min(worth.minutes)} on average (standard error {worth.error:.2f})"
        if self.repeats == 1:
            return once
        return f"{once} on each job, {_min(self.repeats * worth.minutes)} on {self.repeats} of them"


_WIDE = 118
_CURES = {
    "brush": "want a brush",
    "light sanding": "light sanding",
    "heavy sanding": "heavy sanding",
    "re-cut": "re-cutting",
}


def _refused(count: Counter[str]) -> str:
    """How many settings are out, and why, in sentences."""
    said = []
    for name, n in count.most_common():
        what, _, status = name.removesuffix(")").rpartition(" (")
        one = n == 1
        if name == "cannot be cut":
            said.append("cannot be cut")
        elif name == "time":
            said.append("takes longer than the limit on the time" if one else "take longer than the limit on the time")
        elif what == "damage":
            said.append(f"{'has' if one else 'have'} a damage that is not known")
        elif status == "violated":
            said.append(f"{'exceeds' if one else 'exceed'} the limit '{what}'")
        else:
            said.append(f"{'has' if one else 'have'} the limit '{what}' not checked")
        said[-1] = f"{n} {'setting' if one else 'settings'} {said[-1]}"
    return f"{'; '.join(said)}." if said else ""


def _told(mark: str, text: str) -> list[str]:
    """A paragraph of the report, its mark in front."""
    space = " " * 6
    head = f"{mark:6}" if len(mark) < 6 else f"{mark}: "
    return textwrap.wrap(text, _WIDE, initial_indent=head, subsequent_indent=space)


def _table(found: Recommendation) -> str:
    heads = ("in all", "8 boards in 10", "machine", "by hand", "more than pick", "damage")
    wide = (7, 16, 9, 9, 16, 8)
    lines = ["".join(f"{h:>{w}}" for h, w in zip(heads, wide, strict=True)) + "  setting; minutes, and mean damage"]
    for row in found.rows[:_SHOWN]:
        mine = row.cell is found.pick
        apart = "the pick" if mine else f"{row.difference:+.1f} +- {row.error:.1f}"
        cells = (
            f"{row.expected:.1f}", f"{row.low:.1f} to {row.high:.1f}", f"{row.machine:.2f}",
            f"{row.expected - row.machine:.1f}", apart, f"{row.cell.damage:.3f}",
        )  # fmt: skip
        text = "".join(f"{c:>{w}}" for c, w in zip(cells, wide, strict=True))
        lines.append(f"{text}  {row.cell.setting.words(found.machine)}")
    if len(found.rows) > _SHOWN:
        lines.append(f"  and {len(found.rows) - _SHOWN} more that take longer")
    return "\n".join(lines)


UNJUDGED = tuple(f"{name} (unknown)" for name in ON_A_GUESS)
"""What is known to a factor only forbids nothing where its limit is not known."""


def _allowed(cell: Cell, waived: Sequence[str], time_limit: float | None) -> bool:
    # not '<=' the other way round: an unknown time keeps no limit
    in_time = time_limit is None or cell.time[2] <= time_limit
    return (
        cell.clear((*waived, *UNJUDGED))
        and in_time
        and bool(np.isfinite(cell.damage))
        and bool(np.isfinite(cell.time[1]))
    )


def recommend(
    carving: Carving | Cut,
    board: Board,
    machine: Machine,
    bits: Cutter | Iterable[Cutter] | Mapping[str, Cutter],
    *,
    handwork: HandWork | None = None,
    time_limit: float | None = None,
    positions: Iterable[float] | None = None,
    speeds: Iterable[float] | None = None,
    feeds: Iterable[float] | None = None,
    passes: Iterable[Any] = ((),),
    rotations: Iterable[float] = (0.0,),
    waive: Iterable[str] = (),
    checks: Mapping[str, Any] | None = None,
    keep: str = "width",
    given: Iterable[str] = (),
    refine: bool = True,
    draws: int = 1024,
    seed: int = 0,
    repeats: int = 1,
    model: LipModel | None = None,
    pitch: float = 0.5,
    executor: Executor | None = None,
    workers: int | None = None,
    results: str | PathLike[str] | None = None,
    progress: bool = False,
) -> Recommendation:
    """Choose bit, speed, feed, passes and rotation for a carving on a board.

    Parameters
    ----------
    carving
        A `Carving`, or a single `Cut`; its bit, speed, feed and machine are replaced.
    board
        Wood and grain.
    machine
        What cuts it; its dial, if it has one, gives the speeds.
    bits
        At hand: one, several, or a mapping from names.
    handwork
        What damage costs by hand; None: `HandWork()`, which is assumed.
    time_limit
        Longest time, which the high end of `time_estimate` must keep. [s]
    positions
        Of the dial, between its marks too; None: those that were read. [-]
    speeds
        For a machine without a dial, in place of positions. [rpm]
    feeds
        None: five up to the machine's largest. [mm/min]
    passes
        Choices of earlier passes, as for `sweep`. [mm]
    rotations
        Of the design on the board. [deg]
    waive
        Names of limits that may be violated or unknown. Every other one must be known and kept.
    checks
        What `check_limits` is to know, such as {'plunge_feed': 300, 'safe_height': 5}. It knows the board if the
        machine's power or stiffness is given: forces that are known to a factor only rule a setting out where even
        their low end is too much, and not where a limit of theirs is unknown.
    keep
        Whether bits keep 'width' or 'depth' of the grooves; see `with_bit`.
    given
        What is known although it stands at the library's own value: 'edge radius', 'dial', 'moisture',
        'grain direction', 'machine time'. It is not drawn then.
    refine
        Whether a feed between those of the grid is tried where one promises less.
    draws
        Number of possible boards, 0 to 100000. 0: the coefficients as they are, with
        neither odds nor worth.
    seed
        Of the draws, 0 to 2**63 - 1: the same seed, the same answer.
    repeats
        Such jobs that what is learned will serve, 1 to 10 000: what is worth measuring for ten may not be for one. What
        it takes to measure is assumed; `next_coupon` reckons with the minutes of your own.
    model
        Default `RiskModel()`. Of a `FittedModel` what it learned is drawn. A dataclass of your own is drawn from the
        'prior' (low, high) in its fields' metadata, as `RiskModel` is: every value between them must be allowed.
    pitch
        Spacing of the stations of the sweep's maps, twice that of a map: they give figures, not the choice. [mm]
    executor, workers, results
        As for `sweep`.
    progress
        True shows a bar that counts the sweep's cells, then one that counts the boards on which settings are tried;
        needs the extra 'progress'.

    Returns
    -------
    Recommendation
        Pick: the fastest on the machine of the settings that keep all limits and are shown to take no more than 3 %
        above the fewest minutes expected, of machine and hand together.

    Raises
    ------
    DomainError
        If an argument is of the wrong kind or out of range.

    Notes
    -----
    With a dial the marked maximum of a bit must be kept at the high end of the dial's range. Possible boards are drawn
    as those of a map's band are: models, grader, job and board, an edge that was not measured, the grain's direction by
    the board's own error; and of the dial within its uncertainty and the moisture of a table's wood at its usual value
    to 1.5 points, each at two nodes with the spread of the whole; and where in the band of its time estimate the
    machine lies, evenly and alike for all settings. What was given is not drawn. Each is tried on some 300 stations.

    Settings race: all see a sixteenth of the boards, the better half twice as many, and so on, until some sixth of the
    work is done that all settings on all boards would take. `tests/test_choosing.py` holds the pick against a loop
    over `risk_map` on fresh draws.

    Examples
    --------
    >>> import chipsim as cs
    >>> bit = cs.VBit(60, 12.7, 2, 0.1, cutting_length=11, max_spindle_speed=24_000)
    >>> cut = cs.Cut(bit, cs.ring(8, 1.5), 18_000, 1500)
    >>> board = cs.Board(cs.wood("black cherry"), cs.straight_grain(azimuth=0), extent=(-50, -50, 50, 50))
    >>> machine = cs.Machine(300, 3000, travel=(600, 400, 90))
    >>> checks = {"plunge_feed": 300, "safe_height": 5}
    >>> choice = cs.recommend(
    ...     cut, board, machine, bit, speeds=[12_000, 18_000], feeds=[900, 1800], checks=checks, draws=64, workers=1
    ... )
    >>> choice.pick.setting.spindle_speed in (12_000, 18_000), choice.rows[0].expected > choice.rows[0].machine
    (True, True)
    """
    if not isinstance(machine, Machine):
        raise DomainError(f"machine must be a Machine, got {type(machine).__name__}")
    if not isinstance(board, Board):
        raise DomainError(f"board must be a Board, got {type(board).__name__}")
    rates = checked_handwork(handwork)
    limit = None if time_limit is None else number("time_limit", time_limit, low=0, high=1e7, open_low=True, unit="s")
    count = integer("draws", draws, low=0, high=100_000)
    start = checked_seed(seed)
    waived, known = _waived(waive), _given(given)
    jobs = integer("repeats", repeats, low=1, high=10_000)
    if not isinstance(refine, bool):
        raise DomainError(f"refine must be True or False, got {refine!r}")
    chosen = checked_model(model)
    plan = as_carving(carving)
    job = replace(plan, cuts=tuple(replace(cut, machine=machine) for cut in plan))
    named = {name or bit_text(bit): bit for name, bit in named_bits(bits) if bit is not None}
    if not named:
        raise DomainError("bits must be a bit, several, or a mapping from names to bits, got None")
    told = dict(checks) if isinstance(checks, Mapping) else {}
    if machine.spindle_power is not None or machine.stiffness is not None:
        told.setdefault("board", board)
    ask: dict[str, Any] = {
        "keep": keep,
        "model": chosen,
        "pitch": pitch,
        "checks": told if checks is None or isinstance(checks, Mapping) else checks,
        "executor": executor,
        "workers": workers,
        "results": results,
    }
    found = sweep(
        job,
        board,
        bit=[*named.values()] if isinstance(bits, Cutter) else _bits_as_given(bits, named),
        spindle_speed=_rpm(machine, positions, speeds),
        feed=_feeds(machine, feeds),
        passes=list(_listed("passes", passes)),
        rotation=[
            number("rotations", r, low=-1e6, high=1e6, unit="deg") for r in _listed("rotations", rotations, "deg")
        ],
        progress=progress,
        **ask,
    )
    cells = sorted((cell for cell in found if _allowed(cell, waived, limit)), key=_order)
    empty = Recommendation(
        found, machine, rates, (), None, (), None, (), (), (), (), None, (), _unlearned(chosen), count, 0, limit,
        waived, jobs,
    )  # fmt: skip
    if not cells:
        return empty
    off = machine.dial.uncertainty if machine.dial is not None else 0.0
    boards = possible_boards(chosen, board, off, count, start, known) if count else None
    whole = len(cells) * (count or _NODES)
    bar = progress_bar(progress, planned(len(cells), count or _NODES, exact=boards is None), "board")
    # whatever ends it, an interrupt too, the bar is put away
    with nullcontext() if bar is None else closing(bar):
        trials = _Trials(found, cells, chosen, boards, executor, workers, bar)
        times = [_machine_minutes(cell, boards) for cell in cells]
        machines = np.array([mean for mean, _ in times])
        held = race(machines, rates, trials, count or _NODES, exact=boards is None, off=[off for _, off in times])
        pick = _quickest(held.tied(TOLERANCE), held)
        between = _between(held, cells, pick) if refine else None
        refined = ""
        if between is not None:
            setting = replace(cells[pick].setting, feed=between)
            more = sweep(job, board, [setting], **ask)[0]
            if _allowed(more, waived, limit):
                cells.append(more)
                new = held.add(*_machine_minutes(more, boards))
                held.extend([new], len(held.minutes(pick)))
                gain, error = held.difference(new, pick)
                if -gain > max(2 * error, 0.05):
                    refined = f"Between the feeds of the grid {feed_text(between)} takes {_min(-gain)} less."
                    pick = new
                found = replace(found, cells=(*found.cells, more))
                trials.sweep = found
        tied = [k for k in held.tied(TOLERANCE) if k != pick]
        rival = _usual_rival(held, pick)
        odds = None
        if rival is not None and boards is not None:
            n = min(len(held.minutes(pick)), max(len(held.minutes(rival)), _ODDS))
            held.extend([rival], min(n, len(held.minutes(pick))))
            n = min(len(held.minutes(pick)), len(held.minutes(rival)))
            odds = BoardOdds.of(cells[rival], held.minutes(pick)[:n], held.minutes(rival)[:n])
        worth: tuple[Worth, ...] = ()
        everything = None
        if boards is not None:
            worth, everything = _worth(held, found, cells, pick, boards, machine, whole)
    rows = [_costed(held, cells, k, pick) for k in range(len(cells))]
    own = rows[pick]
    ranked = tuple(sorted(rows, key=lambda r: (round(r.expected, 9), _order(r.cell))))
    edges = (*([refined] if refined else []), *_edges(found, cells[pick], machine, waived, limit))
    outside: tuple[str, ...] = ()
    if isinstance(chosen, Drawable) and chosen.learned_range is not None:
        outside = chosen.learned_range.outside(found.carving(cells[pick]).cuts, board)
    return replace(
        empty,
        sweep=found,
        rows=ranked,
        pick=cells[pick],
        tied=(cells[pick], *(cells[k] for k in tied)),
        odds=odds,
        would_change=_would_change(held, cells, pick, machine),
        edges=edges,
        warnings=_warnings(own, ranked, rates),
        worth=worth,
        everything=everything,
        outside=outside,
        evaluations=held.evaluations,
    )


_NODES = 9
"""Draws of `middle_draws`."""

_ODDS = 128
"""Boards on which the pick is held against the setting that is the quickest on the usual one."""


def _machine_minutes(cell: Cell, boards: PossibleBoards | None) -> tuple[float, FloatArray]:
    """Minutes of machine expected of a setting, and by how much they are off that on each board, (boards,). [min]"""
    if boards is None:
        return cell.time[1] / 60, np.zeros(_NODES)
    mean = boards.machine_mean(cell.time)
    return mean, boards.machine(cell.time) - mean


def _costed(held: Race, cells: Sequence[Cell], k: int, pick: int) -> Costed:
    difference, error = held.difference(k, pick)
    return Costed(
        cells[k],
        float(held.machine[k]),
        minutes_of(held.lengths[k], held.handwork),
        held.machine_on(k, len(held.lengths[k])),
        held.expected(k),
        difference,
        error,
    )


def _given(given: object) -> tuple[str, ...]:
    if isinstance(given, (str, bytes)) or not isinstance(given, Iterable):
        raise DomainError(f"given must be several names, among {', '.join(map(repr, GIVEN))}, got {given!r}")
    return tuple(choice("given", name, GIVEN) for name in given)


def _bits_as_given(bits: object, named: Mapping[str, Cutter]) -> Any:
    return dict(bits) if isinstance(bits, Mapping) else [*named.values()]


def _waived(waive: object) -> tuple[str, ...]:
    if isinstance(waive, (str, bytes)) or not isinstance(waive, Iterable):
        raise DomainError(f"waive must be names of limits, several of them, got {waive!r}")
    names = tuple(waive)
    if not all(isinstance(name, str) for name in names):
        raise DomainError(f"waive must be names of limits, got {names!r}")
    return names


def _listed(name: str, value: object, unit: str = "") -> list[Any]:
    value = bare(name, value, unit) if unit else value
    if isinstance(value, (str, bytes, Mapping)) or not isinstance(value, Iterable):
        raise DomainError(f"{name} must be several values, got {value!r}")
    found = list(value)
    if not found:
        raise DomainError(f"{name} must hold at least one value, got none")
    return found


def _rpm(machine: Machine, positions: object, speeds: object) -> list[float]:
    if speeds is not None:
        if positions is not None:
            raise DomainError("speeds must not be given together with positions")
        return [number("speeds", v, low=1000, high=100_000, unit="rpm") for v in _listed("speeds", speeds, "rpm")]
    if machine.dial is None:
        raise DomainError("positions must come from a dial, and the machine has none: give it one, or give speeds")
    wanted = machine.dial.positions if positions is None else _listed("positions", positions)
    low, high = machine.dial.positions[0], machine.dial.positions[-1]
    return [machine.dial.speed(number("positions", p, low=low, high=high)) for p in wanted]


def _feeds(machine: Machine, feeds: object) -> list[float]:
    if feeds is None:
        return sorted(
            {float(max(100.0, 10 * round(machine.max_feed * share / 10))) for share in (0.2, 0.4, 0.6, 0.8, 1)}
        )
    return [feed_of("feeds", f) for f in _listed("feeds", feeds, "mm/min")]


# --- possible boards ------------------------------------------------------------------------------


@dataclass(frozen=True, eq=False)
class _Trial:
    """One setting on some possible boards: a task for any process."""

    carving: Carving
    board: Board
    model: LipModel
    boards: PossibleBoards | None

    def lengths(self) -> FloatArray:
        return lengths_on(self.carving, self.board, self.model, self.boards)


def _tried(task: tuple[int, _Trial]) -> FloatArray:
    return task[1].lengths()


@dataclass(eq=False)
class _Trials:
    """Tries settings on possible boards, on any executor."""

    sweep: Sweep
    cells: list[Cell]
    model: LipModel
    boards: PossibleBoards | None
    executor: Executor | None
    workers: int | None
    bar: Any = None

    def __call__(self, wanted: Sequence[tuple[int, int, int]]) -> Sequence[FloatArray]:
        tasks = []
        if self.bar is not None:
            # what is asked after the race is known only when it comes
            self.bar.total = max(self.bar.total, self.bar.n + sum(high - low for _, low, high in wanted))
        for place, (k, low, high) in enumerate(wanted):
            cell, part = self.cells[k], None if self.boards is None else self.boards.part(low, high)
            carving, board = self.sweep.carving(cell), self.sweep.board(cell)
            tasks.append((place, _Trial(carving, board, self.model, part)))
        hands = min(worker_count() if self.workers is None else self.workers, max(len(tasks), 1))
        found: dict[int, FloatArray] = {}
        # whatever ends it, an interrupt too, no process goes on
        with closing(outcomes(_tried, tasks, executor=self.executor, workers=hands)) as ended:
            for task, outcome in ended:
                if isinstance(outcome, Exception):
                    raise outcome  # the same setting has been mapped before: this is no matter of one cell
                found[task[0]] = outcome
                if self.bar is not None:
                    _, low, high = wanted[task[0]]
                    self.bar.update(high - low)
        return [found[k] for k in range(len(wanted))]


def _order(cell: Cell) -> tuple[Any, ...]:
    """So that the order of the inputs does not matter: of equal settings the least turned, then by name."""
    s = cell.setting
    return abs(s.rotation), s.name, repr(s.bit), s.spindle_speed, s.feed, repr(s.passes), s.rotation


def _quickest(tied: Sequence[int], held: Race) -> int:
    """The fastest machine of settings that are one in minutes; what differs by rounding is equal."""
    return min(tied, key=lambda k: (round(float(held.machine[k]), 6), round(held.expected(k), 9), k))


def _between(held: Race, cells: Sequence[Cell], pick: int) -> float | None:
    """A feed between those of the grid at which a parabola in its logarithm has its least, None if there is none."""
    own = cells[pick].setting
    same = {
        float(c.setting.feed or 0): k
        for k, c in enumerate(cells)
        if (c.setting.name, c.setting.bit, c.setting.passes, c.setting.rotation, c.setting.spindle_speed)
        == (own.name, own.bit, own.passes, own.rotation, own.spindle_speed)
    }
    feeds = sorted(same)
    place = feeds.index(float(own.feed or 0))
    if not 0 < place < len(feeds) - 1 or feeds[0] <= 0:
        return None
    near = feeds[place - 1 : place + 2]
    held.extend([same[f] for f in near], min(len(held.minutes(pick)), 2 * held.first))
    x = np.log(near)
    y = [held.difference(same[f], pick)[0] for f in near]
    bend, slope, _ = np.polyfit(x - x[1], y, 2)
    if not bend > 0:
        return None
    best = float(np.exp(np.clip(x[1] - slope / (2 * bend), x[0], x[2])))
    found = float(round(best / 10) * 10)
    return found if min(abs(found / f - 1) for f in near) > _MOVED else None


def _would_change(held: Race, cells: Sequence[Cell], pick: int, machine: Machine) -> tuple[str, ...]:
    """Which minutes by hand, halved or doubled, would have another setting take less than the pick."""
    told = []
    for cause in (*CAUSES, "spoilt piece"):
        for factor, words in ((0.5, "half"), (2.0, "twice")):
            rates = held.handwork.scaled(cause, factor)
            first = [held.at(k, held.first, rates).mean() for k in range(len(held.lengths))]
            other = int(np.argmin(first))
            n = min(len(held.lengths[other]), len(held.lengths[pick]))
            each = [held.at(k, n, rates) for k in (other, pick)]
            apart = each[0] - each[1]
            error = 0.0 if held.exact or n < 2 else float(apart.std(ddof=1) / np.sqrt(n))
            if apart.mean() + SURE * error < 0 and -apart.mean() > TOLERANCE * each[1].mean():
                what = "a spoilt piece cost" if cause == "spoilt piece" else f"mending {cause} took"
                told.append(
                    f"If {what} {words} as much, {cells[other].setting.words(machine)} would take "
                    f"{_min(-float(apart.mean()))} less than the pick."
                )
                break
    if not told and len(cells) > 1:
        told.append("Half or double the minutes of any one kind of hand work would not change the pick.")
    return tuple(told)


_ENDS = {-1: ("slowest", "slower"), 1: ("fastest", "faster")}


def _edges(
    found: Sweep, pick: Cell, machine: Machine, waived: Sequence[str], time_limit: float | None
) -> tuple[str, ...]:
    """At which end of the speeds and feeds that were tried the pick stands, and what lies beyond."""
    told = []
    for axis, name, unit in (("spindle_speed", "speed", "rpm"), ("feed", "feed", "mm/min")):
        line = _line(found, pick, axis)
        values, own = sorted(line), float(getattr(pick.setting, axis) or 0)
        if len(values) < 2 or own not in line:
            continue
        place = values.index(own)
        for step, (end, more) in _ENDS.items():
            beyond = line[values[place + step]] if 0 <= place + step < len(values) else None
            if beyond is None:
                limit = _machine_end(machine, axis, own, step)
                told.append(f"{own:.0f} {unit} is the {end} {name} that was tried; {limit or f'try a {more} one'}.")
            elif not _allowed(beyond, waived, time_limit):
                names = sorted({row.name for row in beyond.against((*waived, *UNJUDGED))})
                why = _unable(beyond) if beyond.error else f"it does not keep {', '.join(names) or 'the time'}"
                told.append(
                    f"{own:.0f} {unit} is the {end} {name} that keeps the limits; "
                    f"{getattr(beyond.setting, axis):.0f} {unit} was tried, but {why}."
                )
    return tuple(told)


def _unable(cell: Cell) -> str:
    """Why a setting cannot be cut, in few words."""
    bit, speed = cell.setting.bit, cell.setting.spindle_speed
    marked = None if bit is None else bit.max_spindle_speed
    above = marked is not None and speed is not None and speed > marked
    return "that is above the bit's mark" if above else "it cannot be cut"


def _line(found: Sweep, pick: Cell, axis: str) -> dict[float, Cell]:
    """Cells that differ from the pick in one axis alone, by their value of it."""
    out, own = {}, pick.setting
    for cell in found:
        s = cell.setting
        value = getattr(s, axis)
        other = "feed" if axis == "spindle_speed" else "spindle_speed"
        alike = all(getattr(s, n) == getattr(own, n) for n in ("name", "bit", "passes", "rotation", other))
        if value is not None and alike:
            out[float(value)] = cell
    return out


def _machine_end(machine: Machine, axis: str, own: float, step: int) -> str:
    """Words if nothing lies beyond a value because the machine ends there, else ''."""
    dial = machine.dial
    if axis == "spindle_speed" and dial is not None and own == (max if step > 0 else min)(dial.speeds):
        return f"it is the {'last' if step > 0 else 'first'} of the dial's readings"
    if axis == "feed" and step > 0 and own >= machine.max_feed:
        return "it is the machine's largest"
    return ""


def _warnings(row: Costed, rows: Sequence[Costed], handwork: HandWork) -> tuple[str, ...]:
    """What no carver would want of the pick, or of everything that was tried."""
    told = []
    cell = row.cell
    if np.isfinite(cell.rubs) and cell.strikes > 0 and cell.rubs > 0.5 * cell.strikes:
        told.append(
            f"Of the {cell.strikes:.0f} strikes at a place of the lip {cell.rubs:.0f} rub instead of cutting: the "
            f"chips are too thin. Try faster feeds, or a lower speed."
        )
    burnt = [r.hand.lengths[2, 2:].sum() / r.hand.lip if r.hand.lip else 0.0 for r in rows]
    if min(burnt) > 0.1:
        told.append(
            f"Every setting that was tried burns: at best {100 * min(burnt):.0f} % of the lip is expected to need more "
            f"than a scrape. Try lower speeds and faster feeds."
        )
    if row.hand.chance_spoilt > 0.2:
        told.append(
            f"The piece is spoilt on {100 * row.hand.chance_spoilt:.0f} boards of 100, on what is known. Cut a test "
            f"piece first."
        )
    return tuple(told)


def _usual_rival(held: Race, pick: int) -> int | None:
    """The setting that is the quickest on the usual board, by the median; if that is the pick, the next best."""
    others = [k for k in range(len(held.machine)) if k != pick]
    if not others:
        return None
    usual = min(range(len(held.machine)), key=lambda k: (float(np.median(held.minutes(k)[: held.first])), k))
    if usual != pick:
        return usual
    return min(others, key=lambda k: (held.expected(k), k))


def _edges_of(carvings: Sequence[Carving], boards: PossibleBoards) -> FloatArray:
    """Radii of the edges of all bits in some carvings over those they have, (boards, bits). [-]"""
    bits: list[Cutter] = []
    columns = []
    for carving in carvings:
        for cut in carving:
            if cut.bit not in bits:
                bits.append(cut.bit)
                columns.append(boards.edges(cut))
    return np.stack(columns, axis=1)


_MEASURED = {
    "edge radius": (
        "the edge of the bit",
        "look at it through a loupe, or fit a fresh bit, and give its edge_radius",
        5.0,
    ),
    "dial": ("the speed at the dial", "read it while cutting, and give the dial a smaller uncertainty", 5.0),
    "moisture": ("the moisture", "use a meter, and give it to the wood", 2.0),
    "grain direction": (
        "the direction of the grain",
        "split off a sliver, and give the board a smaller grain_error",
        2.0,
    ),
    "machine time": (
        "how fast the machine runs",
        "time a run above the wood, and set the machine's acceleration by it",
        5.0,
    ),
}
"""What can be measured, how, and the minutes that it takes, assumed. [min]"""

_STROKE, _PIECE, _WIDE_PIECE = 3.0, 20.0, 27.0
"""To cut one stroke and look at it, and to cut and grade a test piece of one speed and of two: assumed. [min]"""


def _worth(
    held: Race, found: Sweep, cells: Sequence[Cell], pick: int, boards: PossibleBoards, machine: Machine, whole: int
) -> tuple[tuple[Worth, ...], Worth]:
    """What knowing more is worth, with the settings that are the best on some boards."""
    first = np.stack([held.minutes(k)[: held.first] for k in range(len(held.machine))], axis=1)
    chosen = portfolio(first, pick, _LOOKED_AT)
    seen = held.first
    while seen < min(len(boards), _VALUED):
        more = sum(max(2 * seen - len(held.minutes(k)), 0) for k in chosen)
        if whole > SMALL and held.evaluations + more > (SHARE + 0.04) * whole:
            break
        seen = min(2 * seen, len(boards))
        held.extend(chosen, seen)
    seen = min(len(held.minutes(k)) for k in chosen)
    minutes = np.stack([held.minutes(k)[:seen] for k in chosen], axis=1)
    part = boards.part(0, seen)
    edges = _edges_of([found.carving(cells[k]) for k in chosen], part)
    shares = np.stack([share_from(held.lengths[k][:seen], 2) for k in chosen])
    tells = int(np.argmax(shares[..., 2].std(axis=1)))
    stroke = cells[chosen[tells]].setting.words(machine)
    odds = np.log((shares + 1e-3) / (1 - shares + 1e-3))
    asked: list[tuple[str, FloatArray, str, float]] = []
    singles = {
        "edge radius": np.log(edges),
        "dial": part.dial[:, None].astype(float),
        "moisture": part.moisture[:, None].astype(float),
        "grain direction": np.zeros((seen, 1)) if part.known.turns is None else part.known.turns[:, None],
        "machine time": part.pace[:, None],
    }
    for name, values in singles.items():
        if name in boards.drawn and np.ptp(values) > 0:
            what, advice, cost = _MEASURED[name]
            asked.append((what, values, advice, cost))
    if len(asked) > 1:
        every = np.concatenate([values for _, values, *_ in asked], axis=1)
        how = f"measure {', '.join(what for what, *_ in asked)}"
        asked.append(("all that loupe, meter and clock tell", every, how, sum(cost for *_, cost in asked)))
    graded = "cut and grade a test piece of this board"
    first_of = list(range(min(len(chosen), 3)))
    asked.append(("how fuzzy it comes out", odds[first_of, :, 0].T, graded, _PIECE))
    asked.append(("how far it tears", odds[first_of, :, 1].T, graded, _PIECE))
    burning = [tells, *(k for k in first_of if k != tells)][:3]
    stroke = f"cut one stroke at {stroke}, and look at the colour of the lip"
    asked.append(("whether it scorches", odds[burning, :, 2].T, stroke, _STROKE))
    together = np.concatenate([odds[first_of[:2], :, 0], odds[first_of[:2], :, 1], odds[burning[:2], :, 2]]).T
    wide = "cut and grade a test piece that holds the best settings"
    asked.append(("how it fuzzes, tears and scorches", together, wide, _WIDE_PIECE))
    told = [Worth(what, *worth_of(minutes, values), advice, cost) for what, values, advice, cost in asked]
    everything = Worth("everything", *perfect(minutes), "")
    return tuple(sorted(told, key=lambda w: -w.minutes)), everything


def _unlearned(model: LipModel) -> str:
    """What is a starting guess and what was learned."""
    return str(getattr(model, "learned", "")) or PRIOR
