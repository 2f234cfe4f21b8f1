"""Sweeps: every cell of a grid of settings mapped, on any executor, resumable, the same whoever does the work."""

from __future__ import annotations

import json
import math
import os
from collections.abc import Iterable, Iterator, Mapping, Sequence
from concurrent.futures import Executor
from dataclasses import asdict, dataclass, fields, replace
from itertools import groupby, product
from pathlib import Path
from typing import Any

import numpy as np

from .._shared.arrays import bare, choice, integer, number
from .._shared.files import whole_file
from .._shared.keys import key_of
from .._shared.logs import logger
from .._shared.running import outcomes, progress_bar, worker_count
from .._shared.tables import Alike, Columns, Result
from .._shared.words import CAUTION
from ..chips.lips import lay_out_lips
from ..damage.maps import PRIOR, RiskMap
from ..damage.models import LipModel, checked_model, layer_of
from ..errors import ChipsimError, DomainError
from ..limits.checks import ADVICE, STANDS, Limit, all_clear, asked_of_limits, check_limits
from ..limits.time import time_estimate
from ..scene.cuts import Carving, Cut, as_carving
from ..scene.cutters import Cutter, VBit
from ..scene.grain import Board
from ..scene.machine import Machine
from ..units import folded, hung, inch, ipm, thou
from .records import gather
from .summaries import CLASS_WORDS, RISKS, Summary
from .variants import KEEP, Setting, centre_of, dial_text, passes_text, turned_board, turned_carving

__all__ = ["Cell", "Sweep", "plainly", "sweep"]

_LOG = logger("choosing")

_OF_A_BIT = frozenset(field.name for field in fields(VBit))

Seconds = tuple[float, float, float]
_LONGEST = 1_000_000  # of the file of a cell, which is some thousand [bytes]
NOT_KNOWN: Seconds = (float("nan"), float("nan"), float("nan"))


def _waived(waived: object) -> Sequence[str]:
    # a str would waive every limit whose name is a part of it
    if isinstance(waived, str) or not isinstance(waived, Sequence):
        raise DomainError(f"waived must be a sequence of names of limits, got {waived!r}")
    return waived


def _let_go(row: Limit, names: Sequence[str]) -> bool:
    return row.name in names or f"{row.name} ({row.status})" in names


@dataclass(frozen=True, eq=False)
class Cell(Alike):
    """One setting of a sweep and what came of it.

    Attributes
    ----------
    setting : the `Setting`.
    summary : `Summary` of its map, or None if it failed.
    time : (low, likely, high); NaN without a machine. [s]
    limits : as from `check_limits`.
    error : why it failed, '' if it did not.
    strikes, rubs : teeth that meet the last bundle of fibres at the lip, and those of them that rub; means over the
        lips by length, NaN if it failed; no rubs from a model that does not say. [-]
    """

    setting: Setting
    summary: Summary | None
    time: Seconds = NOT_KNOWN
    limits: tuple[Limit, ...] = ()
    error: str = ""
    strikes: float = float("nan")
    rubs: float = float("nan")

    def __repr__(self) -> str:
        return f"<Cell {self.setting.words()[:100]}: mean damage {self.damage:.3f}, {self.status}>"

    @property
    def damage(self) -> float:
        """Mean damage over the lips; NaN if the cell failed. [-]"""
        return float("nan") if self.summary is None else self.summary.mean["damage"]

    def against(self, waived: Sequence[str] = ()) -> tuple[Limit, ...]:
        """Limits that are violated or unknown, the waived ones left out: by name, or as 'tip stress (unknown)'."""
        names = _waived(waived)
        return tuple(row for row in self.limits if not row.ok and not _let_go(row, names))

    def clear(self, waived: Sequence[str] = ()) -> bool:
        """Whether it worked and every limit that is not waived is known and kept; see `all_clear`."""
        names = _waived(waived)
        return not self.error and all_clear(row for row in self.limits if not _let_go(row, names))

    @property
    def exceeded(self) -> tuple[str, ...]:
        """Names of the limits that are violated; what is only advice is none of them."""
        return tuple(row.name for row in self.limits if row.status == "violated" and row.name != ADVICE)

    @property
    def status(self) -> str:
        """'failed', 'violated', 'unknown' or 'ok'."""
        if self.error:
            return "failed"
        if self.exceeded:
            return "violated"
        return "ok" if self.clear() else "unknown"


@dataclass(frozen=True)
class _Job:
    """What all cells have in common."""

    carving: Carving
    board: Board
    model: LipModel
    pitch: float
    keep: str
    checks: Mapping[str, Any]

    def cells(self, settings: Sequence[Setting]) -> list[Cell]:
        """Work out settings that differ in rotation alone: the teeth are followed once."""
        try:
            carving = settings[0].applied(self.carving, self.keep)
            centre = centre_of(carving)
            record = gather(carving, pitch=self.pitch, bundle=layer_of(self.model, carving))
            known = all(cut.machine is not None for cut in carving)
            time = time_estimate(carving).total if known else NOT_KNOWN
        except Exception as error:
            return [_failed(setting, error) for setting in settings]
        done = []
        for setting in settings:
            try:
                risk = record.map(turned_board(self.board, setting.rotation, centre), self.model)
                # turned in earnest: the travel of the machine is not the same in x and y
                placed = turned_carving(carving, setting.rotation, centre) if setting.rotation else carving
                limits = tuple(map(_plain, check_limits(placed, **self.checks)))
                done.append(Cell(setting, Summary.of(risk), time, limits, "", *_strikes(risk)))
            except Exception as error:
                done.append(_failed(setting, error))
        return done

    def keys(self, settings: Sequence[Setting]) -> list[str] | None:
        """Keys of such settings, or None if they cannot be cut."""
        try:
            carving = settings[0].applied(self.carving, self.keep)
            centre = centre_of(carving)
            # every place at which the grain is asked for
            lips = [lay_out_lips(cut, self.pitch) for cut in carving]
            spots = np.concatenate([lip.lip_xy[lip.exists] for lip in lips])
        except ChipsimError:
            return None
        wood = (self.board.cut_wood, self.board.grain_error)
        common = key_of(carving.cuts, carving.air_moves, wood, self.model, self.pitch, dict(self.checks))
        return [
            key_of(common, s.rotation, turned_board(self.board, s.rotation, centre).grain.at(spots)) for s in settings
        ]


def _strikes(risk: RiskMap) -> tuple[float, float]:
    """Mean number of strikes of a lip, and of those that rub."""
    length = np.where(risk.exists, risk.lip_length, 0.0)
    total = float(length.sum())
    if not total > 0:
        return float("nan"), float("nan")
    return float(np.sum(risk.strikes * length) / total), float(np.sum(risk.rubs * length) / total)


def _plain(row: Limit) -> Limit:
    """A limit in Python's own numbers, as it comes back from a file."""
    return replace(row, value=float(row.value), limit=float(row.limit), margin=float(row.margin))


def _failed(setting: Setting, error: Exception) -> Cell:
    text = str(error) or type(error).__name__
    return Cell(setting, None, error=text if isinstance(error, ChipsimError) else f"{type(error).__name__}: {text}")


@dataclass(frozen=True, eq=False)
class Sweep(Result):
    """Cells in the order of their settings, made by `sweep`. Print it for a table; it iterates over its cells.

    Attributes
    ----------
    cells : every `Cell`, the failed ones in their place.
    job_carving, job_board : what was swept.
    keep : 'width' or 'depth', see `with_bit`.
    learned : what the model was taught from, '' while prior only.
    """

    cells: tuple[Cell, ...]
    job_carving: Carving
    job_board: Board
    keep: str = "width"
    learned: str = ""

    def __len__(self) -> int:
        return len(self.cells)

    def __iter__(self) -> Iterator[Cell]:
        return iter(self.cells)

    def __getitem__(self, index: int) -> Cell:
        return self.cells[index]

    def __repr__(self) -> str:
        return f"<Sweep {len(self)} cells, {len(self.failed)} failed>"

    @property
    def failed(self) -> tuple[Cell, ...]:
        """Cells that failed."""
        return tuple(cell for cell in self.cells if cell.error)

    @property
    def machine(self) -> Machine | None:
        """Machine of the first cut."""
        return self.job_carving.cuts[0].machine

    def carving(self, cell: Cell) -> Carving:
        """Carving of a cell, not turned: `risk_map(sweep.carving(cell), sweep.board(cell))` is the cell's own map."""
        return cell.setting.applied(self.job_carving, self.keep)

    def board(self, cell: Cell) -> Board:
        """Board as the design of a cell sees it: the grain turned against the design's rotation."""
        return turned_board(self.job_board, cell.setting.rotation, centre_of(self.carving(cell)))

    def best(self, risk: str = "damage") -> Cell | None:
        """The cell with the least mean of a risk, whatever its limits say; None if it is not known of any."""
        return next(iter(self.ranked(1, risk)), None)

    def ranked(self, count: int = 10, risk: str = "damage") -> tuple[Cell, ...]:
        """Cells with the least mean of a risk, whatever their limits say; equal ones in the order of the sweep."""
        n, name = integer("count", count, low=0, high=10_000_000), choice("risk", risk, RISKS)
        done = [cell for cell in self.cells if cell.summary is not None and np.isfinite(cell.summary.mean[name])]
        return tuple(sorted(done, key=lambda cell: cell.summary.mean[name])[:n])  # type: ignore[union-attr]

    def plane(self, cell: Cell | None = None) -> tuple[Cell, ...]:
        """Cells of speeds and feeds with bit, passes and rotation of a cell: speed by speed, both rising.

        Parameters
        ----------
        cell
            None: the one with the least damage among those that keep all limits, or among all, if none does.

        Raises
        ------
        DomainError
            If speed and feed were not swept.
        """
        chosen = self.chosen() if cell is None else cell
        same = [c for c in self.cells if _kind(c) == _kind(chosen)]
        if not same or any(c.setting.spindle_speed is None or c.setting.feed is None for c in same):
            raise DomainError("sweep must have been made over spindle_speed and feed, with the kind of the cell in it")
        return tuple(sorted(same, key=lambda c: (c.setting.spindle_speed, c.setting.feed)))

    def chosen(self) -> Cell:
        """The cell with the least damage among those that keep all limits, or among all, if none does."""
        if not self.cells:
            raise DomainError("sweep must have at least one cell, got none")
        ranked = self.ranked(len(self))
        return next((cell for cell in ranked if cell.status == "ok"), (ranked or self.cells)[0])

    def feed_per_tooth(self, cell: Cell) -> tuple[float, float]:
        """Least and largest programmed feed per tooth, or chip load, of a cell's cuts; NaN if it cannot be cut. [mm]"""
        if cell.error:
            return float("nan"), float("nan")
        each = [cut.feed_per_tooth for cut in self.carving(cell)]
        return min(each), max(each)

    def process_window(
        self, cell: Cell | None = None, *, waived: Sequence[str] = (), time_limit: float | None = None
    ) -> str:
        """Table over spindle speed and feed: chip load, strikes, damage, minutes and what rules a setting out.

        `plots.draw_process_window` is its picture.

        Parameters
        ----------
        cell
            Its bit, passes and rotation are shown, and it is marked; None as for `plane`.
        waived
            Names of limits to pass over.
        time_limit
            Longest time, for its high end. [s]

        Raises
        ------
        DomainError
            If speed and feed were not swept.
        """
        if time_limit is not None:
            time_limit = number("time_limit", time_limit, low=0, open_low=True, unit="s")
        marked = self.chosen() if cell is None else cell
        plane, board = self.plane(marked), self.job_board
        kind = replace(marked.setting, spindle_speed=None, feed=None).words()
        free = [c for c in plane if not c.error and c.clear(waived) and np.isfinite(c.damage)]
        least = min(free, key=lambda c: c.damage, default=None)
        answer = "No setting here is known to keep every limit."
        if least is not None:
            words = replace(least.setting, bit=None, name="", passes=None, rotation=0.0).words(self.machine)
            answer = f"Least damage, {least.damage:.3f} on average: {words}. {_ONLY_DAMAGE}"
        lines = [
            *folded(answer),
            *folded(
                f"Process window of {self.job_carving.name} in {board.wood.name}, grain {board.grain.label}: {kind}. "
                f"{self.learned or PRIOR}"
            ),
            "",
            f"{'spindle':>8}{'dial':>6}{'feed':>8}{'':>8}{'feed per tooth':>16}{'strikes':>9}{'of them':>9}"
            f"{'mean':>8}{'time':>8}",
            f"{'rpm':>8}{'':>6}{'mm/min':>8}{'in/min':>8}{'mm':>8}{'thou':>8}{'at lip':>9}{'rub':>9}"
            f"{'damage':>8}{'min':>8}  first limit not kept",
        ]
        told: dict[str, str] = {}
        for c in plane:
            speed, feed = float(c.setting.spindle_speed or 0), float(c.setting.feed or 0)
            dial = dial_text(speed, self.machine).removeprefix(" (dial ").removesuffix(")")
            late = time_limit is not None and not c.time[2] <= time_limit
            why, note = ("cannot be cut", f"{plainly(c.error)}.") if c.error else _first(c.against(waived), late)
            told.setdefault(why, note)
            lines.append(
                f"{speed:8.0f}{dial:>6}{feed:8.0f}{feed / ipm:8.0f}{_tooth_feeds(self.feed_per_tooth(c))}"
                f"{_dash(c.strikes, 9, 1)}{_dash(c.rubs, 9, 1)}{_dash(c.damage, 8, 3)}{_dash(c.time[1] / 60, 8, 2)}"
                f"  {why}{'  <- this one' if c.setting == marked.setting else ''}".rstrip()
            )
        notes = [line for why, note in told.items() if note for line in hung(f"{why[:1].upper()}{why[1:]}: {note}")]
        lines += ["", *notes] if notes else []
        corners = f" {self.machine.corner_words}" if self.machine is not None else ""
        return "\n".join([*lines, "", *folded(f"{_WINDOW}{corners}"), *folded(CAUTION)])

    def __str__(self) -> str:
        board, failed = self.job_board, self.failed
        lines = [
            *folded(f"{self._answer()} {self.learned or PRIOR}"),
            "",
            *folded(
                f"{len(self)} settings of {self.job_carving.name} in {board.wood.name}, grain {board.grain.label}: "
                f"mean and worst damage, lip to sand or re-cut, and minutes of the machine."
            ),
            f"{'damage':>8}{'worst':>7}{'to rework [mm]':>16}{'[in]':>7}{'minutes':>9}  limits       setting",
        ]
        for cell in self.ranked():
            assert cell.summary is not None  # `ranked` has made sure
            poor = cell.summary.poor()
            lines.append(
                f"{cell.damage:8.3f}{cell.summary.worst['damage']:7.2f}{poor:16.1f}{poor / inch:7.2f}"
                f"{_minutes(cell.time[1]):>9}  {_STANDS[cell.status]:<11}  {cell.setting.words(self.machine)}"
                + (f"; exceeds {', '.join(cell.exceeded)}" if cell.exceeded else "")
            )
        known = len(self.ranked(len(self)))
        if known > 10:
            lines.append(f"  and {known - 10} more with more damage")
        if len(self) > known + len(failed):
            lines.append(f"  and {len(self) - known - len(failed)} of which the damage is not known")
        lines += [""] if failed else []
        for error in dict.fromkeys(cell.error for cell in failed):
            alike = [cell for cell in failed if cell.error == error]
            more = f" and {len(alike) - 1} more" if len(alike) > 1 else ""
            lines += hung(f"Cannot be cut: {alike[0].setting.words(self.machine)}{more}. {plainly(error)}.")
        corners = f"{self.machine.corner_words} " if self.machine is not None else ""
        return "\n".join([*lines, "", *folded(f"{corners}{CAUTION}")])

    def _answer(self) -> str:
        """The setting with the least damage of those that keep all limits, in a sentence."""
        best = next((cell for cell in self.ranked(len(self)) if cell.status == "ok"), None)
        if best is not None:
            words = best.setting.words(self.machine)
            return f"Least damage of what keeps every limit, {best.damage:.3f} on average: {words}. {_ONLY_DAMAGE}"
        if not self.ranked(1):
            return "The damage is not known of any setting."
        first = self.ranked(1)[0]
        words = first.setting.words(self.machine)
        return f"No setting is known to keep every limit. Least damage, {first.damage:.3f} on average: {words}."

    def _columns(self) -> Columns:
        return {
            **setting_columns([cell.setting for cell in self.cells], self.machine),
            **result_columns(self.cells),
            "status": [cell.status for cell in self.cells],
            "limits not kept": ["; ".join(f"{r.name} {r.status}" for r in cell.against()) for cell in self.cells],
            "error": [cell.error for cell in self.cells],
        }


_WINDOW = (
    "Feed per tooth (chip load) is that of the programmed feed. A strike is one meeting of a tooth with the last "
    "fibres at the lip. It rubs when the chip is too thin to be cut, and heats the lip instead. Strikes and damage are "
    "means over the lips, at the middle of what is known."
)


_ONLY_DAMAGE = "By minutes, of machine and hand, another setting may be better: that is what recommend weighs."

_STANDS = {**STANDS, "failed": "cannot cut"}
"""How a cell stands to its limits, as a report says it, by its status."""


def plainly(error: str) -> str:
    """A message about an argument as a sentence of a report."""
    text = error.replace("spindle_speed", "the spindle speed")
    return text[:1].upper() + text[1:]


def _kind(cell: Cell) -> tuple[object, ...]:
    """What all cells of a process window have in common."""
    s = cell.setting
    return s.name, s.bit, s.passes, s.rotation


def _first(against: Sequence[Limit], late: bool) -> tuple[str, str]:
    """Name of the first limit that is violated, or else not known, and its sentence."""
    found = [(row.name, row.sentence) for row in against if row.status == "violated"]
    found += [("time", "takes longer than the limit on the time")] * late
    return [*found, *((f"{row.name} (not known)", row.sentence) for row in against), ("", "")][0]


def _dash(value: float, width: int, digits: int) -> str:
    return f"{value:{width}.{digits}f}" if np.isfinite(value) else f"{'-':>{width}}"


def _tooth_feeds(ends: tuple[float, float]) -> str:
    """Feed per tooth in mm and in thousandths of an inch, from and to if cuts differ."""
    low, high = ends
    if f"{low:.3f}{low / thou:.1f}" == f"{high:.3f}{high / thou:.1f}" and not np.isnan(low):
        return f"{low:8.3f}{low / thou:8.1f}"
    return f"{'-':>8}{'-':>8}" if np.isnan(low) else f" {low:.3f} to {high:.3f} {low / thou:.1f} to {high / thou:.1f}"


def setting_columns(settings: Sequence[Setting], machine: Machine | None) -> Columns:
    """Columns of a table of settings; empty where the carving's own value stays."""
    speeds, feeds = [s.spindle_speed for s in settings], [s.feed for s in settings]
    dials = ["" if v is None else dial_text(v, machine).removeprefix(" (dial ").removesuffix(")") for v in speeds]
    return {
        "bit": [s.name for s in settings],
        "spindle_speed [rpm]": _known(speeds),
        "dial [-]": [float(text) if text else math.nan for text in dials],
        "feed [mm/min]": _known(feeds),
        "feed [in/min]": _known([None if v is None else v / ipm for v in feeds]),
        "passes": ["" if s.passes is None else passes_text(s.passes) for s in settings],
        "rotation [deg]": [s.rotation for s in settings],
    }


def _known(values: Sequence[float | None]) -> list[float]:
    return [math.nan if v is None else v for v in values]


def result_columns(cells: Sequence[Cell]) -> Columns:
    """Columns of a table of results, the lengths by class of damage; empty where not known."""
    heads = [*Summary.headings(), "time low [s]", "time likely [s]", "time high [s]"]
    none = [math.nan] * len(heads)
    rows = [none if c.summary is None else [*c.summary.cells(), *c.time] for c in cells]
    return {head: [row[k] for row in rows] for k, head in enumerate(heads)}


def _minutes(seconds: float) -> str:
    return f"{seconds / 60:.2f}" if np.isfinite(seconds) else "unknown"


def sweep(
    carving: Carving | Cut,
    board: Board,
    settings: Iterable[Setting | Mapping[str, Any]] | None = None,
    *,
    bit: Cutter | Iterable[Cutter] | Mapping[str, Cutter] | None = None,
    spindle_speed: float | Iterable[float] | None = None,
    feed: float | Iterable[float] | None = None,
    passes: Iterable[Any] | None = None,
    rotation: float | Iterable[float] = 0.0,
    keep: str = "width",
    model: LipModel | None = None,
    pitch: float = 0.25,
    checks: Mapping[str, Any] | None = None,
    executor: Executor | None = None,
    workers: int | None = None,
    results: str | os.PathLike[str] | None = None,
    progress: bool = False,
    **others: Any,
) -> Sweep:
    """Map a carving under every setting of a grid.

    Parameters
    ----------
    carving
        A `Carving`, or a single `Cut`; its machine, if it has one, reckons time and limits.
    board
        Wood and grain.
    settings
        List or generator of `Setting`, or of mappings with its names, drawn as the work goes on; in place of the
        five below.
    bit, spindle_speed, feed, passes, rotation
        Values to try, one or several of each; every combination is, rotation changing fastest. None: as planned.
        `bit` may be a mapping from names. `passes` are choices, each a number or sequence as for `Cut`, () for one
        pass. [-, rpm, mm/min, mm, deg]
    keep
        Whether another bit keeps 'width' or 'depth' of the grooves; see `with_bit`.
    model
        Default `RiskModel()`.
    pitch
        Spacing of the stations. [mm]
    checks
        What `check_limits` is to know beyond the carving, by its names, such as {'plunge_feed': 300}.
    executor
        Any `concurrent.futures.Executor`, as from a distributed engine; it is left running. None: processes of this
        machine, started afresh.
    workers
        How many of those, 1 to 1024; 1 works in this process. None: as many as there are processors.
    results
        Folder in which every finished cell is left, and from which it is taken if it is there: a sweep that was
        interrupted goes on where it stopped. A file belongs to its inputs and to this version of the library. Failed
        cells are tried again. None: nothing is kept.
    progress
        True shows a bar; needs the extra 'progress'.
    others
        None: any other name is refused with a word on how such a thing is swept.

    Returns
    -------
    Sweep
        In the order of the settings, the same to the last bit whatever the executor and the number of workers. A
        cell that fails says why in its place.

    Raises
    ------
    DomainError
        If an argument is of the wrong kind. Settings that cannot be cut are failed cells.

    Examples
    --------
    >>> import chipsim as cs
    >>> cut = cs.Cut(cs.VBit(60, 12.7, 2), cs.ring(5, 1.5), 18_000, 1500)
    >>> board = cs.Board(cs.wood("black cherry"), cs.straight_grain(azimuth=0))
    >>> tried = cs.sweep(cut, board, spindle_speed=[12_000, 18_000], feed=[900, 1800], pitch=1.0, workers=1)
    >>> best = tried.best().setting
    >>> best.spindle_speed, best.feed
    (18000.0, 900.0)
    """
    if not isinstance(board, Board):
        raise DomainError(f"board must be a Board, got {type(board).__name__}")
    for name in others:
        # not left to Python: its message would not say that a bit's angle is swept by giving bits
        hint = f"; several of it are several bits: bit=[VBit({name}=...), ...]" if name in _OF_A_BIT else ""
        raise DomainError(f"sweep must be over bit, spindle_speed, feed, passes or rotation, got {name}{hint}")
    job = _Job(
        as_carving(carving),
        board,
        checked_model(model),
        number("pitch", pitch, low=0.001, high=1000, unit="mm"),
        choice("keep", keep, KEEP),
        asked_of_limits(checks),
    )
    wanted, total = _settings(settings, bit, spindle_speed, feed, passes, rotation)
    if executor is not None and not isinstance(executor, Executor):
        raise DomainError(f"executor must be a concurrent.futures.Executor or None, got {type(executor).__name__}")
    hands = worker_count() if workers is None else integer("workers", workers, low=1, high=1024)
    if executor is None and hands > 1:
        _sendable(job)
    store = None if results is None else _Store(results)
    cells = _run(job, wanted, total, executor, hands, store, progress_bar(progress, total, "cell"))
    return Sweep(tuple(cells), job.carving, board, job.keep, str(getattr(job.model, "learned", "")))


def _several(name: str, value: object, unit: str = "") -> list[Any]:
    """Values of an axis: one, or any iterable that is not text."""
    value = bare(name, value, unit) if unit else value
    if value is None or isinstance(value, (int, float, np.number)):
        return [value]
    if isinstance(value, np.ndarray) and not value.ndim:
        return [float(value)]
    if isinstance(value, (str, bytes, Mapping)) or not isinstance(value, Iterable):
        raise DomainError(f"{name} must be a number or several, got {value!r}")
    found = list(value)
    if not found:
        raise DomainError(f"{name} must hold at least one value, got none")
    return found


def named_bits(bit: object) -> list[tuple[str, Cutter | None]]:
    if bit is None or isinstance(bit, Cutter):
        return [("", bit)]
    if isinstance(bit, Mapping):
        found = [(str(name), b) for name, b in bit.items()]
    elif isinstance(bit, Iterable) and not isinstance(bit, (str, bytes)):
        found = [("", b) for b in bit]
    else:
        raise DomainError(f"bit must be a bit, several, or a mapping from names to bits, got {bit!r}")
    wrong = [b for _, b in found if not isinstance(b, Cutter)]
    if wrong or not found:
        raise DomainError(f"bit must be a bit, several, or a mapping from names to bits, got {wrong or bit!r}")
    return found


def _settings(
    listed: object, bit: object, spindle_speed: object, feed: object, passes: object, rotation: object
) -> tuple[Iterator[Setting], int | None]:
    """Settings one by one, and how many there are if that is known."""
    if listed is not None:
        if any(axis is not None for axis in (bit, spindle_speed, feed, passes)) or rotation != 0.0:
            raise DomainError("settings must not be given together with bit, spindle_speed, feed, passes or rotation")
        if isinstance(listed, (str, bytes, Mapping)) or not isinstance(listed, Iterable):
            raise DomainError(f"settings must be Settings or mappings, several of them, got {listed!r}")
        return (_setting(item) for item in listed), len(listed) if isinstance(listed, Sequence) else None
    axes = (
        named_bits(bit),
        _several("spindle_speed", spindle_speed, "rpm"),
        _several("feed", feed, "mm/min"),
        _several("passes", passes),
        _several("rotation", 0.0 if rotation is None else rotation, "deg"),
    )
    for kind, unit, values in zip(("spindle_speed", "feed"), ("rpm", "mm/min"), axes[1:3], strict=True):
        for value in values:
            if value is not None:
                number(kind, value, unit=unit)
    for value in axes[4]:
        number("rotation", value, low=-1e6, high=1e6, unit="deg")
    for value in axes[3]:
        Setting(passes=value)
    found = (Setting(n, f, b, p, r, name) for (name, b), n, f, p, r in product(*axes))
    return found, int(np.prod([len(axis) for axis in axes]))


def _setting(item: object) -> Setting:
    if isinstance(item, Setting):
        return item
    if not isinstance(item, Mapping):
        raise DomainError(f"settings must be Settings or mappings, got {item!r}")
    try:
        return Setting(**item)
    except TypeError as error:
        raise DomainError(f"settings must have the names of a Setting: {error}") from None


def _sendable(job: _Job) -> None:
    import pickle

    try:
        pickle.dumps(job)
    except Exception as error:  # whatever an object of the user's raises
        raise DomainError(
            "carving, board and model must be such as can be sent to another process, so a grain field must be a "
            f"function defined at the top of a module; or work with workers=1: {error}"
        ) from None


def _same_strikes(setting: tuple[int, Setting]) -> tuple[object, ...]:
    s = setting[1]
    return s.bit, s.name, s.spindle_speed, s.feed, s.passes


def _run(
    job: _Job,
    wanted: Iterator[Setting],
    total: int | None,
    executor: Executor | None,
    workers: int,
    store: _Store | None,
    bar: Any,
) -> list[Cell]:
    found: dict[int, Cell] = {}

    def note(index: int, cell: Cell) -> None:
        found[index] = cell
        if bar is not None:
            bar.update()

    def groups() -> Iterator[_Group]:
        for _, members in groupby(enumerate(wanted), _same_strikes):
            part = list(members)
            keys = None if store is None else job.keys([setting for _, setting in part])
            left = []
            for k, (index, setting) in enumerate(part):
                kept = store.read(keys[k], setting) if store is not None and keys is not None else None
                if kept is None:
                    left.append((index, setting, None if keys is None else keys[k]))
                else:
                    _LOG.info("setting %d is kept from before", index + 1)
                    note(index, kept)
            if left:
                yield _Group(job, tuple(left))

    try:
        for group, outcome in outcomes(_Group.cells, groups(), executor=executor, workers=workers):
            for k, (index, setting, key) in enumerate(group.members):
                cell = _failed(setting, outcome) if isinstance(outcome, Exception) else outcome[k]
                if cell.error:
                    _LOG.warning("setting %d was not worked out: %s", index + 1, cell.error)
                if store is not None and key is not None and not cell.error:
                    store.write(key, cell)
                note(index, cell)
    finally:
        if bar is not None:
            bar.close()
    _LOG.info("worked out a sweep of %d settings", len(found))
    return [found[index] for index in range(len(found))]


@dataclass(frozen=True, eq=False)
class _Group:
    """A task: settings that differ in rotation alone, with their places and keys."""

    job: _Job
    members: tuple[tuple[int, Setting, str | None], ...]

    def cells(self) -> list[Cell]:
        return self.job.cells([setting for _, setting, _ in self.members])


class _Store:
    """Folder of finished cells, a file each, that appears whole or not at all."""

    def __init__(self, folder: str | os.PathLike[str]) -> None:
        try:
            self.folder = Path(folder)
            self.folder.mkdir(parents=True, exist_ok=True)
        except (TypeError, ValueError, FileExistsError) as error:
            raise DomainError(f"results must be a folder, got {folder!r}: {error}") from None

    def _file(self, key: str) -> Path:
        return self.folder / f"cell-{key}.json"

    def write(self, key: str, cell: Cell) -> None:
        assert cell.summary is not None  # only finished cells are kept
        content = {
            "key": key,
            "setting": cell.setting.words(),  # for the eye; the key has it all
            "mean": dict(cell.summary.mean),
            "worst": dict(cell.summary.worst),
            "lengths": {name: dict(row) for name, row in cell.summary.lengths.items()},
            "time": list(cell.time),
            "limits": [asdict(row) for row in cell.limits],
            "strikes": [cell.strikes, cell.rubs],
        }
        with whole_file(self._file(key), name="results") as handle:
            json.dump(content, handle, indent=1)

    def read(self, key: str, setting: Setting) -> Cell | None:
        """The cell of a key, or None if there is none, it is not whole, or no sweep can have written it."""
        try:
            with open(self._file(key), "rb") as handle:
                text = handle.read(_LONGEST + 1)
            content = json.loads(text.decode("utf-8")) if len(text) <= _LONGEST else {"key": None}
            return _kept(content, setting) if content["key"] == key else None
        except (OSError, ArithmeticError, ValueError, KeyError, TypeError, AttributeError, RecursionError):
            return None


def _kept(content: Mapping[str, Any], setting: Setting) -> Cell:
    """The cell that a file holds; ValueError or TypeError if something in it cannot be."""
    mean, worst = (_numbers(content[name], RISKS, 1 + 1e-9) for name in ("mean", "worst"))
    lengths = {name: _numbers(content["lengths"][name], CLASS_WORDS) for name in RISKS}
    low, likely, high = _numbers(dict(enumerate(content["time"])), range(3)).values()
    strikes, rubs = _numbers(dict(enumerate(content["strikes"])), range(2)).values()
    if set(content["lengths"]) != set(RISKS) or any(np.isnan([*row.values()]).any() for row in lengths.values()):
        raise ValueError("lengths")
    if any(mean[name] > worst[name] + 1e-9 for name in RISKS) or low > likely or likely > high or rubs > strikes + 1e-9:
        raise ValueError("order")
    limits = tuple(Limit(**row) for row in content["limits"])
    if not limits or not all(isinstance(v, str) for row in limits for v in (row.name, row.unit, row.sentence)):
        raise ValueError("limits")
    for row in limits:
        if any(isinstance(v, bool) for v in (row.value, row.limit, row.margin)):
            raise ValueError("limits")
        margin = float(row.limit) - float(row.value)
        # nan where one of the two is, infinite where there is no limit
        if not np.isclose(float(row.margin), margin, rtol=0, atol=1e-6 * max(1.0, abs(row.value)), equal_nan=True):
            raise ValueError("limits")
        if row.status == "violated" and not row.margin < 0:
            raise ValueError("limits")
    return Cell(setting, Summary(mean, worst, lengths), (low, likely, high), limits, "", strikes, rubs)


def _numbers(found: Mapping[Any, Any], names: Iterable[Any], most: float = np.inf) -> dict[Any, float]:
    """Values of exactly these names, each a number in [0, most] or NaN; ValueError otherwise."""
    wanted = list(names)
    if set(found) != set(wanted):
        raise ValueError("names")
    for value in found.values():
        if (
            isinstance(value, bool)
            or not isinstance(value, (int, float))
            or value < 0
            or value > most
            or value == np.inf
        ):
            raise ValueError("value")
    return {name: found[name] for name in wanted}
