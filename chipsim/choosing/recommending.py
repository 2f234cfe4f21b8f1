"""The choice: bit, dial, feed, passes and rotation that keep the limits, with odds and what to measure next.

Damage is weighed against time. How sure the answer is comes from draws, the very ones that a map's band is made of:
coefficients, grader and board, and with them what the user could measure (the edge, the speed at the dial). A test
piece narrows them.
"""

from __future__ import annotations

import math
import zlib
from collections import Counter
from collections.abc import Iterable, Iterator, Mapping, Sequence
from concurrent.futures import Executor
from dataclasses import dataclass, fields, replace
from os import PathLike
from typing import Any

import numpy as np

from .._shared.arrays import FloatArray, bare, choice, integer, number
from .._shared.arrays import feed as feed_of
from .._shared.arrays import seed as checked_seed
from .._shared.running import outcomes, worker_count
from .._shared.tables import Columns, Result
from ..damage.bands import GRAIN, JOB, draws_of, edge_draws, unknowns_of
from ..damage.maps import PRIOR
from ..damage.models import LipModel, checked_model, layer_of, thickest
from ..damage.orders import WORTH, Odds, odds_of
from ..damage.priors import Draws
from ..errors import DomainError
from ..scene.cuts import Carving, Cut, as_carving
from ..scene.cutters import Cutter
from ..scene.grain import Board
from ..scene.machine import Machine
from ..units import length_text
from .records import gather
from .summaries import RISKS
from .sweeps import Cell, Sweep, named_bits, result_columns, setting_columns, sweep
from .variants import bit_text

__all__ = ["Recommendation", "recommend"]

_STATIONS = 300
"""Stations on which the draws are evaluated, of the whole carving."""


@dataclass(frozen=True, eq=False)
class Recommendation(Result):
    """What to set, made by `recommend`. Print it for the answer; it iterates over the settings of its front.

    Attributes
    ----------
    sweep : every setting that was tried, with its limits.
    machine : what it was tried on.
    front : settings that keep the limits and that no other one beats in both damage and time, least damage first.
    pick : the first of them; None if no setting keeps the limits.
    runner_up : the second, None if there is none.
    odds : of the pick against each other setting of the front, in its order.
    bands : for every setting of the front, the mean damage that a tenth of the draws fall below, and that a tenth
        exceed; NaN without draws.
    expected : for every setting of the front, its damage's mean over the draws; NaN without draws. [-]
    leading : the unknown to measure next: that whose draws go most with the difference between pick and runner-up (with
        the pick's damage if there is none); '' without draws.
    correlation : its rank correlation, signed. [-]
    advice : how to come to know it.
    time_limit : [s] or None.
    waived : names of limits that the user let go.
    """

    sweep: Sweep
    machine: Machine
    front: tuple[Cell, ...]
    odds: tuple[Odds, ...]
    bands: tuple[tuple[float, float], ...]
    expected: tuple[float, ...]
    leading: str
    correlation: float
    advice: str
    time_limit: float | None
    waived: tuple[str, ...]

    def __len__(self) -> int:
        return len(self.front)

    def __bool__(self) -> bool:
        return True  # an answer, be it that no setting keeps the limits

    def __iter__(self) -> Iterator[Cell]:
        return iter(self.front)

    def __repr__(self) -> str:
        pick = "nothing" if self.pick is None else self.pick.setting.words(self.machine)[:100]
        return f"<Recommendation of {pick}, {len(self)} of {len(self.sweep)} settings on the front>"

    def _columns(self) -> Columns:
        share = [math.nan, *(o.share for o in self.odds)] if self.odds else [math.nan] * len(self)
        return {
            **setting_columns([cell.setting for cell in self.front], self.machine),
            **result_columns(self.front),
            "damage of 1 in 10 draws below [-]": [low for low, _ in self.bands],
            "damage of 9 in 10 draws below [-]": [high for _, high in self.bands],
            "damage expected [-]": [*self.expected],
            "share of draws for the pick [-]": share,
        }

    def best(self, risk: str = "damage") -> Cell | None:
        """Setting of the front with the least mean of a risk; of damage it is the pick. None if nothing is on it."""
        name = choice("risk", risk, RISKS)
        if name == "damage":
            return self.pick
        known = [(c.summary.mean[name], k) for k, c in enumerate(self.front) if c.summary is not None]
        known = [pair for pair in known if np.isfinite(pair[0])]
        return self.front[min(known)[1]] if known else None

    @property
    def pick(self) -> Cell | None:
        """The setting recommended."""
        return self.front[0] if self.front else None

    @property
    def runner_up(self) -> Cell | None:
        """The next best in damage, which is faster."""
        return self.front[1] if len(self.front) > 1 else None

    @property
    def as_good(self) -> Cell | None:
        """The fastest of the front from which the pick differs by nothing worth having; None if it is the pick."""
        return next((o.other for o in reversed(self.odds) if not o.worth_having), None)

    @property
    def steadier(self) -> Cell | None:
        """That of the front with the least damage expected over the draws; None if the pick's is as low, to `WORTH`."""
        if not self.front or not np.isfinite(self.expected).all():
            return None
        best = int(np.argmin(self.expected))
        return self.front[best] if self.expected[best] < self.expected[0] * (1 - WORTH) else None

    @property
    def verdict(self) -> str:
        """The pick against the runner-up in a few words."""
        if self.pick is None:
            return "no setting keeps the limits"
        return str(self.odds[0]) if self.odds else "no other setting is better in anything"

    def allowed(self, cell: Cell) -> bool:
        """Whether a cell keeps every limit that is not waived, and the limit on time."""
        return _allowed(cell, self.waived, self.time_limit)

    def process_window(self, cell: Cell | None = None) -> str:
        """The table of speed and feed for the pick's bit, passes and rotation, or a cell's; see `Sweep`."""
        shown = self.pick if cell is None else cell
        return self.sweep.process_window(shown, waived=self.waived, time_limit=self.time_limit)

    def refusals(self) -> Counter[str]:
        """How many settings each limit rules out; a setting may be ruled out by several."""
        count: Counter[str] = Counter()
        for cell in self.sweep:
            count.update({"cannot be cut" for _ in range(1) if cell.error})
            count.update({"damage (unknown)" for _ in range(1) if not cell.error and not np.isfinite(cell.damage)})
            count.update({f"{row.name} ({row.status})" for row in cell.against(self.waived)})
            if self.time_limit is not None and cell.time[2] > self.time_limit:
                count["time"] += 1
        return count

    def reason(self) -> str:
        """Why the pick is the pick, or why there is none."""
        ruled = "; ".join(f"{name}: {n}" for name, n in self.refusals().most_common())
        if self.pick is None:
            asked = {row.name: row.sentence for cell in self.sweep for row in cell.against(self.waived)}
            told = [f"- {name}: {sentence}" for name, sentence in asked.items()]
            told += sorted({f"- {cell.error}" for cell in self.sweep.failed})
            return "\n".join([f"Nothing is recommended; settings ruled out by {ruled or 'unknown damage'}.", *told])
        allowed = sum(self.allowed(cell) for cell in self.sweep)
        text = f"least mean damage of the {allowed} of {len(self.sweep)} settings that keep the limits"
        better = [cell for cell in self.sweep.ranked(len(self.sweep)) if cell.damage < self.pick.damage * (1 - WORTH)]
        if better:
            names = sorted({row.name for row in better[0].against(self.waived)}) or ["time"]
            text += (
                f"; {better[0].setting.words(self.machine)} would have {better[0].damage:.3f} but for "
                f"{', '.join(names)}"
            )
        return text + (f". Settings ruled out by {ruled}" if ruled else "")

    def __str__(self) -> str:
        board = self.sweep.job_board
        head = f"Choice for {self.sweep.job_carving.name} in {board.wood.name}, grain {board.grain.label}"
        rests = f"{self.sweep.learned or PRIOR} {_FOOT}"
        if self.pick is None:
            return f"{head}\n{self.reason()}\n{rests}"
        assert self.pick.summary is not None  # the front has no failed cells
        lip = sum(self.pick.summary.lengths["damage"].values())
        low, high = self.bands[0]
        lines = [
            head,
            f"PICK  {self.pick.setting.words(self.machine)}",
            f"  damage {self.pick.damage:.3f} (8 in 10 draws {low:.3f} to {high:.3f}), as much as "
            f"{length_text(self.pick.damage * lip, 1)} of {length_text(lip, 0)} of lip spoilt; "
            f"{length_text(self.pick.summary.poor(), 1)} needs work or is spoilt; {_minutes(self.pick)} min",
            f"  why: {self.reason()}",
        ]
        if self.runner_up is not None:
            lines.append(f"  against the runner-up: {self.verdict}")
        if self.as_good is not None:
            saved = (self.pick.time[1] - self.as_good.time[1]) / 60
            lines.append(
                f"  as good on what is known, and {saved:.2f} min faster: {self.as_good.setting.words(self.machine)}"
            )
        if self.steadier is not None:
            lines.append(
                f"  less damage on average over the draws, {min(self.expected):.3f} against {self.expected[0]:.3f}: "
                f"{self.steadier.setting.words(self.machine)}; where the pick goes wrong it goes wrong further"
            )
        if self.leading:
            lines.append(f"  measure next: {self.leading} (rank correlation {self.correlation:+.2f}): {self.advice}")
        heads = f"{'damage':>8}{'8 in 10 draws':>17}{'average':>9}{'minutes':>9}"
        lines.append(f"{heads}  setting: damage against time; average of the draws")
        for k, (cell, (low, high)) in enumerate(zip(self.front, self.bands, strict=True)):
            against = f"; pick against it: {self.odds[k - 1]}" if k and self.odds else ""
            lines.append(
                f"{cell.damage:8.3f}{f'{low:.3f} to {high:.3f}':>17}{self.expected[k]:9.3f}{_minutes(cell):>9}  "
                f"{cell.setting.words(self.machine)}{against}"
            )
        if self.waived:
            lines.append(f"Waived by the user: {', '.join(self.waived)}.")
        return "\n".join([*lines, self.machine.corner_words, rests])


_FOOT = "An estimate, no certificate: the marking of the bit and the manuals of router and machine come first."


def _minutes(cell: Cell) -> str:
    return f"{cell.time[1] / 60:.2f}"


def _allowed(cell: Cell, waived: Sequence[str], time_limit: float | None) -> bool:
    # not '<=' the other way round: an unknown time keeps no limit
    in_time = time_limit is None or cell.time[2] <= time_limit
    return cell.clear(waived) and in_time and bool(np.isfinite(cell.damage)) and bool(np.isfinite(cell.time[1]))


def recommend(
    carving: Carving | Cut,
    board: Board,
    machine: Machine,
    bits: Cutter | Iterable[Cutter] | Mapping[str, Cutter],
    *,
    time_limit: float | None = None,
    positions: Iterable[float] | None = None,
    speeds: Iterable[float] | None = None,
    feeds: Iterable[float] | None = None,
    passes: Iterable[Any] = ((),),
    rotations: Iterable[float] = (0.0,),
    waive: Iterable[str] = (),
    checks: Mapping[str, Any] | None = None,
    keep: str = "width",
    draws: int = 200,
    seed: int = 0,
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
    time_limit
        Longest time, which the high end of `time_estimate` must keep. [s]
    positions
        Of the dial; None: those that were read. [-]
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
        What `check_limits` is to know, such as {'plunge_feed': 300, 'safe_height': 5}.
    keep
        Whether bits keep 'width' or 'depth' of the grooves; see `with_bit`.
    draws
        Of the unknowns, 0 to 100000.
    seed
        Of the draws, 0 to 2**63 - 1: the same seed, the same odds, and the same draws as those of `risk_map`.
    model
        Default `RiskModel()`. Of a `FittedModel` what it learned is drawn. A dataclass of your own is drawn from the
        'prior' (low, high) in its fields' metadata, as `RiskModel` is: every value between them must be allowed.
    pitch
        Spacing of the stations, twice that of a map: hundreds of settings are ranked, each by means over all lips. [mm]
    executor, workers, results, progress
        As for `sweep`.

    Returns
    -------
    Recommendation
        Pick: the least damage among the settings that keep all limits, at the dial's own speed; of equal ones the
        fastest.

    Raises
    ------
    DomainError
        If an argument is of the wrong kind or out of range.

    Notes
    -----
    With a dial the marked maximum of a bit must be kept at the high end of the dial's range. Coefficients, the grader,
    the shift of job and board, the radius of an edge that was not measured and what is not known of the grain are those
    of `risk_map(..., model=model, draws=draws, seed=seed)`, draw by draw (`priors`). One more is drawn that a map takes
    as given: the spindle speed, triangular within the dial's band, one error for all positions, damage going straight
    from one end of the band to the other. Draws are evaluated on some 300 stations, the same in every draw.

    The pick has the least damage at the coefficients in use, not the least expected over the draws (`steadier`, said
    where it is another). Draws are made for the front alone. If they chose the pick, a tighter limit could improve it:
    a setting beaten at the coefficients in use, and so never drawn, may come on the front once its better is ruled out,
    and do better than all others on average. All settings would have to be drawn, at ten times the work and more.

    Examples
    --------
    >>> import chipsim as cs
    >>> bit = cs.VBit(60, 12.7, 2, 0.1, cutting_length=11, max_spindle_speed=24_000)
    >>> cut = cs.Cut(bit, cs.ring(8, 1.5), 18_000, 1500)
    >>> board = cs.Board(cs.wood("black cherry"), cs.straight_grain(azimuth=0), extent=(-50, -50, 50, 50))
    >>> machine = cs.Machine(300, 3000, travel=(600, 400, 90))
    >>> checks = {"plunge_feed": 300, "safe_height": 5}
    >>> choice = cs.recommend(
    ...     cut, board, machine, bit, speeds=[12_000, 18_000], feeds=[900, 1800], checks=checks, draws=0, workers=1
    ... )
    >>> choice.pick.setting.spindle_speed, choice.pick.setting.feed
    (18000.0, 900.0)
    """
    if not isinstance(machine, Machine):
        raise DomainError(f"machine must be a Machine, got {type(machine).__name__}")
    if not isinstance(board, Board):
        raise DomainError(f"board must be a Board, got {type(board).__name__}")
    limit = None if time_limit is None else number("time_limit", time_limit, low=0, high=1e7, open_low=True, unit="s")
    count = integer("draws", draws, low=0, high=100_000)
    start = checked_seed(seed)
    waived = _waived(waive)
    chosen = checked_model(model)
    plan = as_carving(carving)
    job = replace(plan, cuts=tuple(replace(cut, machine=machine) for cut in plan))
    named = {name or bit_text(bit): bit for name, bit in named_bits(bits) if bit is not None}
    if not named:
        raise DomainError("bits must be a bit, several, or a mapping from names to bits, got None")
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
        keep=keep,
        model=chosen,
        pitch=pitch,
        checks=checks,
        executor=executor,
        workers=workers,
        results=results,
        progress=progress,
    )
    front = _front([cell for cell in found if _allowed(cell, waived, limit)])
    odds: tuple[Odds, ...] = ()
    bands = ((float("nan"), float("nan")),) * len(front)
    expected = (float("nan"),) * len(front)
    leading, correlation, advice = "", float("nan"), ""
    if front and count:
        known = draws_of(chosen, board, count, start)
        unknowns = _unknowns(known, front, found, chosen, machine, count, start)
        tasks = [
            _Draws(found.carving(cell), found.board(cell), chosen, known, cell.setting.name, unknowns) for cell in front
        ]
        hands = min(worker_count() if workers is None else workers, len(tasks))
        damage: dict[int, FloatArray] = {}
        for place, outcome in outcomes(_numbered, list(enumerate(tasks)), executor=executor, workers=hands):
            if isinstance(outcome, Exception):
                raise outcome  # the same setting has been mapped before: this is no matter of one cell
            damage[place[0]] = outcome
        pick = damage[0]
        odds = tuple(odds_of(cell, pick, damage[k]) for k, cell in enumerate(front) if k)
        bands = tuple(
            (float(np.nanquantile(damage[k], 0.1)), float(np.nanquantile(damage[k], 0.9))) for k in range(len(front))
        )
        expected = tuple(float(np.nanmean(damage[k])) for k in range(len(front)))
        leading, correlation = _leading(unknowns, pick - damage[1] if len(front) > 1 else pick)
        advice = _advice(leading, chosen)
    return Recommendation(found, machine, front, odds, bands, expected, leading, correlation, advice, limit, waived)


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


def _front(cells: Sequence[Cell]) -> tuple[Cell, ...]:
    """Cells that none beats in damage and time, least damage first; of equal ones the least turned, then by name."""

    def order(cell: Cell) -> tuple[Any, ...]:
        s = cell.setting
        rest = (s.name, repr(s.bit), s.spindle_speed, s.feed, repr(s.passes), s.rotation)
        # what differs by rounding is equal: turned by 180 degrees a design in straight grain is the same
        return round(cell.damage, 9), round(cell.time[1], 6), abs(s.rotation), *rest

    front: list[Cell] = []
    for cell in sorted(cells, key=order):
        if not front or round(cell.time[1], 6) < round(front[-1].time[1], 6):
            front.append(cell)
    return tuple(front)


# --- draws ----------------------------------------------------------------------------------------

_SPEED = "spindle speed at the dial"


def _unknowns(
    known: Draws | None, front: Sequence[Cell], tried: Sweep, model: LipModel, machine: Machine, draws: int, seed: int
) -> dict[str, FloatArray]:
    """Draws of each unknown, (draws,), by name.

    Coefficients as they are; an edge's as a factor; the speed from -1 to 1, the ends of the dial's band. Those of edges
    and speed have a generator each, so that none depends on the others.
    """
    out: dict[str, FloatArray] = {} if known is None else unknowns_of(known)
    for cell in sorted(front, key=lambda cell: cell.setting.name):
        # a cell has one bit: that of its first cut
        out[_edge_name(cell.setting.name)] = edge_draws(model, tried.carving(cell).cuts[0], draws, seed)
    if machine.dial is not None and machine.dial.uncertainty > 0:
        out[_SPEED] = _triangular(_SPEED, -1.0, 0.0, 1.0, draws, seed)
    return out


def _edge_name(bit: str) -> str:
    return f"edge radius of {bit}"


def _triangular(name: str, low: float, mode: float, high: float, draws: int, seed: int) -> FloatArray:
    rng = np.random.default_rng([seed, zlib.crc32(name.encode())])
    return np.asarray(rng.triangular(low, mode, high, draws))


@dataclass(frozen=True, eq=False)
class _Draws:
    """Mean damage of one setting in every draw: a task for any process."""

    carving: Carving
    board: Board
    model: LipModel
    known: Draws | None
    bit: str
    unknowns: Mapping[str, FloatArray]

    def damage(self) -> FloatArray:
        """(draws,), NaN where the model knows none. [-]"""
        pitch = self.carving.length / _STATIONS
        models = [self.model] if self.known is None else self.known.models
        ends = [gather(c, pitch=pitch, bundle=layer_of(thickest(models), c)) for c in self._ends()]
        edge = self.unknowns[_edge_name(self.bit)]
        slide = self.unknowns.get(_SPEED, np.zeros(len(edge)))
        models = [self.model] * len(edge) if self.known is None else self.known.models
        low, high = (ends[k].mean_damages(self.board, models, edge, self.known) for k in (0, -1))
        return np.asarray(low + (high - low) * (slide + 1) / 2)

    def _ends(self) -> Iterator[Carving]:
        """The carving at both ends of the dial's band, once if there is none; never above the bit's mark."""
        machine = self.carving.cuts[0].machine
        off = machine.dial.uncertainty if machine is not None and machine.dial is not None else 0.0
        for factor in (1 - off, 1 + off) if off else (1.0,):
            cuts = []
            for cut in self.carving:
                most = cut.bit.max_spindle_speed or 100_000.0
                speed = min(max(cut.spindle_speed * factor, 1000.0), most, 100_000.0)
                cuts.append(replace(cut, spindle_speed=speed))
            yield replace(self.carving, cuts=tuple(cuts))


def _numbered(task: tuple[int, _Draws]) -> FloatArray:
    return task[1].damage()


def _leading(unknowns: Mapping[str, FloatArray], outcome: FloatArray) -> tuple[str, float]:
    """Unknown whose ranks go most with those of an outcome, and their correlation."""
    known = np.isfinite(outcome)
    best, most = "", 0.0
    for name, values in unknowns.items():
        if known.sum() > 2 and np.ptp(values[known]) > 0 and np.ptp(outcome[known]) > 0:
            ranks = np.array([_ranks(a[known]) for a in (values, outcome)])
            r = float(np.corrcoef(ranks)[0, 1])
            if abs(r) > abs(most):
                best, most = name, r
    return best, most


def _ranks(values: FloatArray) -> FloatArray:
    return np.argsort(np.argsort(values, kind="stable"), kind="stable").astype(float)


def _advice(name: str, model: Any) -> str:
    if name.startswith(_edge_name("")):
        return "look at the edge through a loupe, or fit a fresh bit, and give its edge_radius"
    if name == _SPEED:
        return "read the speed while cutting and enter it in the dial with a smaller uncertainty"
    if name == GRAIN:
        return "split a sliver off the board, see where it runs, and give the board's grain_error"
    if name == JOB:
        return "wood differs from board to board and job to job: a test piece of this very board tells most"
    known = getattr(model, "model", model)  # of a model that was taught, the one that was taught it
    meaning = next((f.metadata.get("meaning", "") for f in fields(known) if f.name == name), "") if name else ""
    return f"only a test piece of this board can tell ({meaning})" if meaning else ""
