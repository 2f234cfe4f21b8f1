"""The next test piece: what the grades of a small piece would be worth on a job, against what it costs.

Boards are drawn from what is known. On each, every setting of the job takes so many minutes, and every piece that could
be cut would be graded so: its grades are invented, with the wood's and the grader's own noise. The worth of a piece is
what choosing by its grades saves on average (expected value of sample information). The choice is a regression of the
settings' differences on a few summaries of the grades (Strong, Oakley, Brennan & Breeze 2015, from memory). It is made
on four fifths of the boards and paid for on the fifth it has not seen, so that it is too low if at all. The piece that
looks best is reckoned once more on boards of their own, because the best of many is flattered.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import ArrayLike

from .._shared.arrays import FloatArray, array, instance, integer
from .._shared.arrays import seed as checked_seed
from .._shared.tables import Columns, Result, columns_of
from ..choosing.records import gather
from ..choosing.variants import Setting
from ..choosing.worth import perfect, portfolio
from ..damage.bands import draws_of
from ..damage.handwork import HandWork, board_minutes, checked_handwork
from ..damage.models import LipModel, RiskModel, layer_of, thickest
from ..damage.priors import BOARD, RING, Draws, Grader, latent
from ..errors import ChipsimError, DomainError
from ..scene.cuts import Carving, Cut, as_carving
from ..scene.cutters import Cutter, as_cutter
from ..scene.grain import Board
from ..scene.machine import Machine
from ..units import table_text
from .fitting import FittedModel
from .invented import random_wood
from .sectors import RingSectors
from .testpiece import Coupon, coupon

__all__ = ["Candidate", "NextPiece", "PieceCost", "next_coupon", "worth_of_sample"]

_STATIONS = 120  # of the whole job, on which boards are tried
_SCREENED = 32  # draws on which every setting is tried
_PORTFOLIO = 6  # settings that are looked at closely
_FOLDS = 5
_SURE = 1.64  # standard errors by which a worth must exceed a cost, or fall short of it
_SPEEDS = (12_000.0, 15_000.0, 18_000.0, 21_000.0)
_FEEDS = (600.0, 1200.0, 1800.0, 2400.0, 3000.0)
_PENALTIES = (3.0, 30.0, 300.0)
_HEADINGS = 4  # quarters of direction in which grades of rings are summed up


class PieceCost(NamedTuple):
    """What a piece costs in minutes of a person: all assumed, to be replaced by your own times.

    To set one up, and one of strokes alone, which is looked at and has no form; each ring and stroke to be cut; each
    further speed; each grade; the form.
    """

    start: float = 5.0
    look: float = 2.5
    ring: float = 0.6
    stroke: float = 0.5
    speed: float = 2.0
    grade: float = 15 / 144
    form: float = 2.0

    def of(self, piece: Coupon) -> float:
        """What it takes to cut and grade a piece. [min]"""
        speeds = len({s.spindle_speed for s in piece.settings()}) - 1
        total = self.speed * speeds + self.ring * len(piece.rings) + self.stroke * len(piece.strokes)
        if not piece.rings:
            return float(total + self.look)
        boxes = sum(2 * (piece.sectors - len(r.marked)) for r in piece.rings)
        boxes += sum(2 * (s.parts - len(s.marked)) for s in piece.strokes)
        return float(total + self.start + self.grade * boxes + self.form)


class Candidate(NamedTuple):
    """A piece that could be cut: what it is, what a job saves by it, that worth's standard error, its cost. [min]"""

    words: str
    worth: float
    error: float
    cost: float
    piece: Coupon


@dataclass(frozen=True, eq=False)
class NextPiece(Result):
    """Which small piece to cut next, or that none is worth its time; made by `next_coupon`. Print it for the report.

    It iterates over what could be cut, as `Candidate`, the best first.

    Attributes
    ----------
    verdict : 'cut', 'stop', or 'open' where the worth cannot be told from the cost.
    coupon : the piece to cut; None if testing is to stop.
    gain : minutes that choosing by its grades saves on one job, expected. [min]
    error : standard error of that. [min]
    cost : of cutting and grading it. [min]
    net : what is left of it over all the jobs it serves. [min]
    repeats : jobs that it serves.
    perfect : what knowing everything would save on one job, and its standard error. [min]
    candidates : everything that was looked at, the best first.
    pick : the setting of the job that is best on what is known now.
    expected : minutes that it takes, machine and hand. [min]
    rests : from what the model was taught, in sentences; '' while prior only.
    """

    verdict: str
    coupon: Coupon | None
    gain: float
    error: float
    cost: float
    net: float
    repeats: int
    perfect: tuple[float, float]
    candidates: tuple[Candidate, ...]
    pick: Setting
    expected: float
    rests: str = ""

    def __len__(self) -> int:
        return len(self.candidates)

    def __iter__(self) -> Iterator[Candidate]:
        return iter(self.candidates)

    def _columns(self) -> Columns:
        names = {"piece": "words", "worth [min]": "worth", "error [min]": "error", "cost [min]": "cost"}
        return columns_of(self.candidates, names)

    def __repr__(self) -> str:
        return f"<NextPiece: {self.verdict}, {len(self)} candidates>"

    def __str__(self) -> str:
        jobs = "this job" if self.repeats == 1 else f"{self.repeats} such jobs"
        know = f"Knowing all there is to know would save {self.perfect[0]:.1f} +- {self.perfect[1]:.1f} min on each."
        lines = [
            f"On what is known now, {self.pick.words()} is best: each job takes {self.expected:.1f} min, machine and "
            f"hand.",
            know,
        ]
        if self.verdict == "cut" and self.candidates:
            lines.insert(
                0,
                f"CUT NEXT: {self.candidates[0].words}. For {jobs} its grades are expected to save "
                f"{self.repeats * self.gain:.1f} +- {self.repeats * self.error:.1f} min, and it costs "
                f"{self.cost:.1f} min to cut and grade.",
            )
        elif self.verdict == "open":
            lines.insert(
                0,
                f"It cannot be told whether a test piece pays for {jobs}. The least that may is "
                f"{self.candidates[0].words}: it is expected to save {self.repeats * self.gain:.1f} +- "
                f"{self.repeats * self.error:.1f} min and costs {self.cost:.1f} min.",
            )
        else:
            lines.insert(0, f"STOP TESTING: nothing you can cut is worth its time for {jobs}.")
        if self.candidates:
            cells = [("piece", "saves on one job [min]", "costs [min]")]
            cells += [
                (c.words, f"{round(c.worth, 1) + 0.0:.1f} +- {c.error:.1f}", f"{c.cost:.1f}") for c in self.candidates
            ]
            lines += ["  " + row for row in table_text(cells).splitlines()]
        lines.append(self.rests or "All of this comes from starting guesses; no test piece has been graded yet.")
        lines.append("All minutes rest on assumed times for handwork and for grading; give your own.")
        return "\n".join(lines)


def next_coupon(
    carving: Carving | Cut,
    board: Board,
    machine: Machine,
    bits: Cutter | Iterable[Cutter] | Mapping[str, Cutter],
    *,
    model: RiskModel | FittedModel | None = None,
    handwork: HandWork | None = None,
    repeats: int = 1,
    costs: PieceCost | None = None,
    speeds: ArrayLike | None = None,
    feeds: ArrayLike | None = None,
    draws: int = 256,
    seed: int = 0,
    name: str = "next piece",
) -> NextPiece:
    """Which small piece, if any, is expected to save more minutes on a job than it costs to cut and grade.

    Looked at are single straight strokes, which take a minute, twin rings at one setting, and the usual pieces of
    several settings. Limits of the machine are not looked at: ask `check_limits`.

    Parameters
    ----------
    carving
        The job, what is to be cut; its bit, speed and feed are what is to be chosen.
    board
        Wood and grain of job and piece.
    machine
        What cuts it; the readings of its dial give the speeds.
    bits
        At hand: one, several, or a mapping from names. Grooves keep their widths.
    model
        What is known: `RiskModel()`, the starting guesses, or a `FittedModel`.
    handwork
        Minutes of handwork, a `HandWork`; None: its defaults, which are assumed.
    repeats
        How many such jobs the knowledge will serve, 1 to 10 000.
    costs
        What pieces cost; None: `PieceCost()`, which is assumed.
    speeds
        To choose among, for a machine without a dial; None: four from 12 000 to 21 000 rpm. [rpm]
    feeds
        To choose among; None: five from 600 to 3000, as far as the machine goes. [mm/min]
    draws
        Boards that are tried, 64 to 10 000.
    seed
        Of the draws.
    name
        Of the piece.

    Returns
    -------
    NextPiece

    Raises
    ------
    DomainError
        If an argument is out of range, or no setting can be cut.

    Examples
    --------
    >>> import chipsim as cs
    >>> bit, board = cs.VBit(90, 10, 2), cs.Board(cs.wood("black cherry"), cs.straight_grain(azimuth=0))
    >>> job = cs.Cut(bit, cs.ring(10, 2), 18_000, 1200)
    >>> ask = {"speeds": [12_000, 21_000], "feeds": [600, 1800], "draws": 64}
    >>> asked = cs.next_coupon(job, board, cs.Machine(800, 5000), bit, **ask)
    >>> asked.verdict in ("cut", "stop", "open"), (asked.coupon is None) == (asked.verdict == "stop")
    (True, True)
    """
    job = as_carving(carving)
    instance("board", board, Board, "a Board")
    instance("machine", machine, Machine, "a Machine")
    known = RiskModel() if model is None else model
    if not isinstance(known, (RiskModel, FittedModel)):
        raise DomainError(f"model must be a RiskModel, a FittedModel or None, got {type(known).__name__}")
    rates = checked_handwork(handwork)
    price = PieceCost() if costs is None else costs
    if not isinstance(price, PieceCost):
        raise DomainError(f"costs must be a PieceCost or None, got {type(price).__name__}")
    count = integer("draws", draws, low=64, high=10_000)
    jobs = integer("repeats", repeats, low=1, high=10_000)
    first = checked_seed(seed)
    if not isinstance(name, str) or not name.strip() or not name.strip().isprintable():
        raise DomainError(f"name must be a word or more in one line, got {name!r:.60}")
    settings = _settings(bits, machine, speeds, feeds)
    boards = _boards_of(known, board, count, first)
    own_seed = (first + 1) % 2**63
    again = _boards_of(known, board, count, own_seed)
    options = _Options.made(job, board, machine, settings, thickest([*boards.models, *again.models]))
    screened = options.minutes(range(len(options)), _first(boards, _SCREENED), rates)
    chosen = portfolio(screened, int(np.argmin(screened.mean(axis=0))), _PORTFOLIO)
    minutes = options.minutes(chosen, boards, rates)
    best = int(np.argmin(minutes.mean(axis=0)))
    known_all = perfect(minutes)
    pick, expected = options.settings[chosen[best]], float(minutes[:, best].mean())

    # what burns first is asked about first: it is what choices turn on
    hottest = max(range(len(options)), key=lambda k: (options.heat(k, _first(boards, _SCREENED)), -k))
    pieces = _pieces(options, [chosen[best], *(k for k in chosen if k != chosen[best])], hottest, board, machine, name)
    found: list[Candidate] = []
    lowest = min((price.of(p) for _, p in pieces), default=np.inf)
    if jobs * (known_all[0] + _SURE * known_all[1]) > lowest:
        signals = _Signals(known, board, boards, first)
        for words, piece in pieces:
            worth, error = worth_of_sample(minutes, signals.of(piece))
            found.append(Candidate(words, worth, error, price.of(piece), piece))
    found.sort(key=lambda c: c.cost - jobs * c.worth)
    reckoned, asked_again = list(found), set[int]()
    verdict, lead, k = "stop", None, 0
    fresh: FloatArray | None = None
    while found:
        if k not in asked_again and jobs * reckoned[k].worth > reckoned[k].cost:
            # what was picked out of many by its figures is flattered by them: once more, on boards of its own
            fresh = options.minutes(chosen, again, rates) if fresh is None else fresh
            worth, error = worth_of_sample(fresh, _Signals(known, board, again, own_seed).of(found[k].piece))
            reckoned[k], known_all = found[k]._replace(worth=worth, error=error), perfect(fresh)
            asked_again.add(k)
        if jobs * (reckoned[k].worth - _SURE * reckoned[k].error) > reckoned[k].cost:
            verdict, lead = "cut", reckoned[k]
            break
        may = [i for i, c in enumerate(reckoned) if jobs * (c.worth + _SURE * c.error) > c.cost]
        if not may:
            break
        k = min(may, key=lambda i: reckoned[i].cost)
        if k in asked_again or jobs * reckoned[k].worth <= reckoned[k].cost:
            verdict, lead = "open", reckoned[k]
            break
    if lead is not None:
        found.insert(0, found.pop(k))
    gain, error, cost = (lead.worth, lead.error, lead.cost) if lead is not None else (0.0, 0.0, 0.0)
    return NextPiece(
        verdict,
        None if lead is None else lead.piece,
        gain,
        error,
        cost,
        jobs * gain - cost,
        jobs,
        known_all,
        tuple(found),
        pick,
        expected,
        known.learned if isinstance(known, FittedModel) else "",
    )


def _settings(
    bits: Cutter | Iterable[Cutter] | Mapping[str, Cutter],
    machine: Machine,
    speeds: ArrayLike | None,
    feeds: ArrayLike | None,
) -> list[Setting]:
    """Every bit at every speed below its mark and every feed the machine can hold on a ring."""
    if isinstance(bits, Mapping):
        named = [(str(k), as_cutter(b)) for k, b in bits.items()]
    elif isinstance(bits, Cutter):
        named = [("", as_cutter(bits))]
    else:
        held: Any = bits
        if isinstance(held, str) or not isinstance(held, Iterable):
            raise DomainError(f"bits must be a bit or several, got {type(bits).__name__}")
        named = [("", as_cutter(b)) for b in bits]
    if not named:
        raise DomainError("bits must hold a bit or more, got none")
    if machine.dial is not None and speeds is not None:
        raise DomainError("speeds must be left out for a machine with a dial, whose readings they are")
    given = machine.dial.speeds if machine.dial is not None else _SPEEDS if speeds is None else speeds
    turns = np.unique(array("speeds", np.atleast_1d(given), ndim=1, low=1000, high=100_000, unit="rpm"))
    usual = [f for f in _FEEDS if f <= 0.98 * machine.max_feed] or [0.9 * machine.max_feed]
    ways = np.unique(
        array("feeds", np.atleast_1d(usual if feeds is None else feeds), ndim=1, low=100, high=60_000, unit="mm/min")
    )
    if not 1 <= len(turns) * len(ways) * len(named) <= 400:
        raise DomainError(f"speeds x feeds x bits must make 1 to 400 settings, got {len(turns)} x {len(ways)}")
    return [
        Setting(float(n), float(f), bit, name=name)
        for name, bit in named
        for n in turns
        if bit.max_spindle_speed is None or n <= bit.max_spindle_speed
        for f in ways
        if f <= 0.98 * machine.max_feed
    ]


@dataclass(frozen=True, eq=False)
class _Options:
    """Settings of a job that can be cut, and their strikes, gathered once."""

    settings: list[Setting]
    carvings: list[Carving]
    records: list[Any]
    board: Board

    @classmethod
    def made(
        cls, carving: Carving, board: Board, machine: Machine, settings: Sequence[Setting], model: LipModel
    ) -> _Options:
        out = cls([], [], [], board)
        why: ChipsimError | None = None
        for setting in settings:
            try:
                made = setting.applied(carving)
                made = replace(made, cuts=tuple(replace(cut, machine=machine) for cut in made))
                record = gather(made, pitch=max(made.length / _STATIONS, 0.05), bundle=layer_of(model, made))
            except ChipsimError as error:
                why = error
                continue
            out.settings.append(setting)
            out.carvings.append(made)
            out.records.append(record)
        if not out.settings:
            raise DomainError(f"carving must be one that can be cut at one of the settings, got none: {why}")
        return out

    def __len__(self) -> int:
        return len(self.settings)

    def minutes(self, which: Iterable[int], boards: Draws, rates: HandWork) -> FloatArray:
        """Minutes of machine and hand, (boards, settings). [min]"""
        return np.stack(
            [
                sum(c.duration for c in self.carvings[k]) / 60 + board_minutes(self._lengths(k, boards), rates)
                for k in which
            ],
            axis=1,
        )

    def heat(self, setting: int, boards: Draws) -> float:
        """How near a setting is to burning on half of the boards: what is in doubt is asked about. [-]"""
        table = self._lengths(setting, boards)
        whole = np.maximum(table.sum(axis=(1, 2, 3)), 1e-9)
        share = float(np.mean(table[..., 2:].sum(axis=(1, 2, 3)) / whole > 0.25))
        return share * (1.0 - share) + 1e-3 * share

    def _lengths(self, k: int, boards: Draws) -> FloatArray:
        """Length of lip expected in every combination of grades, (boards, 5, 5, 5). [mm]"""
        ones = [np.ones(len(boards.models))] * len(self.carvings[k].cuts)
        return np.asarray(self.records[k].lengths(self.board, boards.models[0], boards, ones))


def _boards_of(model: RiskModel | FittedModel, board: Board, count: int, seed: int) -> Draws:
    found = draws_of(model, board, count, seed)
    if found is None:
        raise DomainError(f"model must have ranges from which it can be drawn, got {model!r:.60}")
    return found


def _first(boards: Draws, count: int) -> Draws:
    return Draws(
        boards.models[:count], boards.graders[:count], boards.shifts[:count], boards.coordinates[:count], boards.names,
        None if boards.turns is None else boards.turns[:count],
    )  # fmt: skip


# --- what a sample is worth -------------------------------------------------------------------------------------------


def worth_of_sample(minutes: FloatArray, signals: FloatArray) -> tuple[float, float]:
    """What choosing by signals saves on average, and its standard error. [min]

    Parameters
    ----------
    minutes
        (boards, settings) what each setting takes. [min]
    signals
        (boards, k) what would be seen on each board.

    Examples
    --------
    >>> import numpy as np
    >>> from chipsim.learning.nextpiece import worth_of_sample
    >>> rng = np.random.default_rng(0)
    >>> apart = rng.standard_normal(2000)  # of two settings, the first is better on half of the boards
    >>> worth, error = worth_of_sample(np.stack([0 * apart, apart], axis=1), apart[:, None])
    >>> bool(abs(worth - 1 / np.sqrt(2 * np.pi)) < 3 * error)  # all that there is to be known
    True
    """
    saved = np.zeros(len(minutes))
    features = _features(signals)
    if features.shape[1] and minutes.shape[1] > 1:
        for held, rest in _folds(len(minutes)):
            base = int(np.argmin(minutes[rest].mean(axis=0)))
            apart = minutes - minutes[:, base][:, None]
            guess = _foretold(features[rest], apart[rest], features[held])
            guess[:, base] = 0.0
            chosen = np.argmin(guess, axis=1)
            saved[held] = minutes[held, base] - minutes[held, chosen]
    return _mean(saved)


def _folds(count: int) -> list[tuple[np.ndarray, np.ndarray]]:
    place = np.arange(count) % _FOLDS
    return [(np.flatnonzero(place == k), np.flatnonzero(place != k)) for k in range(_FOLDS)]


def _mean(saved: FloatArray) -> tuple[float, float]:
    return float(saved.mean()), float(saved.std(ddof=1) / np.sqrt(len(saved)))


def _features(signals: FloatArray) -> FloatArray:
    """Standardised signals, and each once more bent at its middle."""
    spread = signals.std(axis=0)
    z = (signals[:, spread > 1e-12] - signals[:, spread > 1e-12].mean(axis=0)) / spread[spread > 1e-12]
    columns = [z, np.maximum(z - np.median(z, axis=0), 0.0)]
    if 1 < z.shape[1] <= 4:
        columns.append(np.stack([z[:, i] * z[:, j] for i in range(z.shape[1]) for j in range(i)], axis=1))
    return np.concatenate(columns, axis=1)


def _foretold(features: FloatArray, outcome: FloatArray, at: FloatArray) -> FloatArray:
    """Outcomes at other features by ridge regression; the penalty is the one that foretells held-out rows best.

    Outcomes have long tails, of spoilt pieces: what is fitted is bent towards their middle.
    """
    middle, mean = features.mean(axis=0), outcome.mean(axis=0)
    x, y = features - middle, outcome - mean
    u, s, vt = np.linalg.svd(x, full_matrices=False)
    right = u.T @ y
    miss = []
    for penalty in _PENALTIES:
        shrunk = s**2 / (s**2 + penalty)
        fitted = u @ (shrunk[:, None] * right)
        lever = np.minimum((u**2) @ shrunk + 1.0 / len(x), 0.999)
        miss.append(float((((y - fitted) / (1.0 - lever)[:, None]) ** 2).sum()))
    penalty = _PENALTIES[int(np.argmin(miss))]
    slope = vt.T @ ((s / (s**2 + penalty))[:, None] * right)
    return np.asarray(mean + (at - middle) @ slope)


# --- pieces and what they would show ----------------------------------------------------------------------------------


def _pieces(
    options: _Options, chosen: Sequence[int], hottest: int, board: Board, machine: Machine, name: str
) -> list[tuple[str, Coupon]]:
    """Pieces that could be cut, in words, from the least on."""
    carving = options.carvings[chosen[0]]
    deepest = float(np.median([float(cut.path.depth.max()) for cut in carving]))
    plain: dict[str, Any] = {"machine": machine, "straight_pair": False, "stair": False, "name": name.strip()}
    found: dict[str, Coupon] = {}

    def try_one(words: str, setting: Setting, speeds: ArrayLike, feeds: ArrayLike, **more: Any) -> None:
        assert setting.bit is not None
        depth = min(max(deepest, 0.3), 50.0)
        try:
            found.setdefault(words, coupon(setting.bit, board, speeds, feeds, depth=depth, **(plain | more)))
        except DomainError:
            return  # this piece cannot be cut: there are others

    for k in dict.fromkeys([hottest, *chosen[:3]]):
        s = options.settings[k]
        assert s.spindle_speed is not None
        assert s.feed is not None
        for headings, which in (((0.0,), "one stroke"), ((0.0, 60.0), "two strokes")):
            try_one(f"{which} at {s.words()}", s, s.spindle_speed, s.feed, rings=False, strokes=headings)
        try_one(f"twin rings at {s.words()}", s, s.spindle_speed, s.feed, sectors=8)
    lead = options.settings[chosen[0]]
    same = [s for s in options.settings if s.bit == lead.bit]
    speeds = sorted({s.spindle_speed for s in same if s.spindle_speed is not None})
    feeds = sorted({s.feed for s in same if s.feed is not None})
    if len(feeds) > 2:
        some = [feeds[0], feeds[len(feeds) // 2], feeds[-1]]
        try_one("three feeds of twin rings at one speed", lead, lead.spindle_speed or speeds[0], some, sectors=12)
    if len(speeds) > 1 and len(feeds) > 1:
        ends = [feeds[0], feeds[-1]]
        try_one("slow and fast twin rings at two speeds", lead, [speeds[0], speeds[-1]], ends, sectors=8)
    return list(found.items())


@dataclass(eq=False)
class _Signals:
    """Grades that a piece would be given on every board, in a few numbers."""

    model: RiskModel | FittedModel
    board: Board
    boards: Draws
    seed: int

    def of(self, piece: Coupon) -> FloatArray:
        """(boards, k): of every setting the mean grades by direction, the share that is poor, the share that burns."""
        cells = RingSectors(piece, layer_of(thickest(self.boards.models), [t.cut for t in piece.graded()]))
        eta = np.where(np.isfinite(r := cells.risk_sets(self.boards.models)), latent(np.nan_to_num(r)), -9.0)
        count = len(self.boards.models)
        rng = np.random.default_rng([self.seed, 7])
        things = piece.graded()
        free = np.array([int(s) not in things[i].marked for i, s in zip(cells.ring, cells.sector, strict=True)])
        setting = np.array([piece.settings().index(things[i].setting) for i in cells.ring])
        quarter = np.where(
            np.isfinite(cells.azimuth), (cells.heading % 180.0 // (180.0 / _HEADINGS)).astype(int), _HEADINGS
        )
        # piece and job share the board, not what makes one job worse than another on it
        board = self.model.level_spread(self.board) if isinstance(self.model, FittedModel) else BOARD
        share = board**2 / (board**2 + RING**2)
        common = self.boards.shifts * share + board * np.sqrt(1 - share) * rng.standard_normal(count)
        grades, flags = np.zeros((2, len(cells), count)), np.zeros((len(cells), count))
        for d in range(count):
            wood = random_wood(rng, cells.ring, cells.lip, cells.azimuth)
            grader: Grader = self.boards.graders[d]
            for k, cuts in enumerate((grader.fuzz, grader.tear)):
                seen = eta[k, :, d] + common[d] + wood[k] + grader.noise * rng.logistic(size=len(cells))
                grades[k, :, d] = np.searchsorted(np.array(cuts), seen)
            flags[:, d] = eta[2, :, d] + rng.logistic(size=len(cells)) > 0
        columns = []
        for i in range(len(piece.settings())):
            here = free & (setting == i)
            for q in np.unique(quarter[here]):
                some = here & (quarter == q)
                columns += [grades[0, some].mean(axis=0), grades[1, some].mean(axis=0)]
            columns += [(grades[:, here] >= 3).any(axis=0).mean(axis=0), flags[here].mean(axis=0)]
        return np.stack(columns, axis=1)
