"""Possible boards: everything that is not known of a job, drawn at once, so that all settings are tried on the same."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, fields, replace

import numpy as np

from .._shared.arrays import FloatArray
from .._shared.keys import key_of
from ..damage.bands import draws_of, edge_draws
from ..damage.models import LipModel, layer_of, thickest
from ..damage.priors import BOARD, RING, Draws, Grader
from ..errors import DomainError
from ..scene.cuts import Carving, Cut
from ..scene.grain import Board
from ..scene.species import Wood, wood
from .records import StrikeRecord, gather

__all__ = ["GIVEN", "TOLERANCE", "PossibleBoards", "lengths_on", "possible_boards"]

GIVEN = ("edge radius", "dial", "moisture", "grain direction", "machine time")
"""What a user may say is known beyond what the arguments tell."""

MOISTURE = 1.5
"""Spread of a board's moisture about what shops usually have, if no meter was used: assumed. [%]"""

TOLERANCE = 0.03
"""Share of the minutes in all below which two options are one: a convention of this project. [-]"""

STATIONS = 300
"""Stations on which possible boards are tried, of the whole carving."""

_FOLDED = 0.1
"""Joints whose lip is shorter than this share of a station's are one with the station: a curve in chords of 0.3 mm has
twenty joints to a station. [-]"""

_SPREAD = 1 / np.sqrt(6.0)
"""Standard deviation of a triangular distribution over half of its width. [-]"""


@dataclass(frozen=True, eq=False)
class PossibleBoards:
    """Boards that are equally likely on what is known, each with a value for everything that is not.

    Attributes
    ----------
    known : models, graders, shifts, and turns of the fibres.
    model : whose draws they are.
    seed : of the draws.
    count, start : how many boards were drawn in all, and the number of the first of these.
    drawn : names of what is drawn beyond them, of `GIVEN`.
    dial : (boards,) -1 or 1: the spindle turns slower or faster than the dial says.
    moisture : (boards,) -1 or 1: the board is drier or wetter than usual.
    pace : (boards,) share of the machines like this one that run a program faster; the same for all programs.
    """

    known: Draws
    model: LipModel
    seed: int
    count: int
    start: int
    drawn: tuple[str, ...]
    dial: np.ndarray
    moisture: np.ndarray
    pace: FloatArray

    def __len__(self) -> int:
        return len(self.dial)

    def edges(self, cut: Cut) -> FloatArray:
        """Radius of the edge of a cut's bit over the one it has, (boards,); 1 if it was given. [-]"""
        if "edge radius" not in self.drawn:
            return np.ones(len(self))
        return edge_draws(self.model, cut, self.count, self.seed)[self.start : self.start + len(self)]

    def part(self, low: int, high: int) -> PossibleBoards:
        """Those from one number up to another."""
        return self.of(np.arange(low, high), low)

    def of(self, rows: np.ndarray, start: int = 0) -> PossibleBoards:
        """Some of them; the edges are those of a row of boards that begins at `start`."""
        k = self.known
        known = Draws(
            tuple(k.models[i] for i in rows),
            tuple(k.graders[i] for i in rows),
            k.shifts[rows],
            k.coordinates[rows],
            k.names,
            None if k.turns is None else k.turns[rows],
        )
        nodes = {name: getattr(self, name)[rows] for name in ("dial", "moisture", "pace")}
        return replace(self, known=known, start=start, **nodes)

    def machine(self, seconds: tuple[float, float, float]) -> FloatArray:
        """Minutes of machine on each, (boards,), of a time known to low, likely and high: triangular. [min]"""
        low, likely, high = (s / 60 for s in seconds)
        if "machine time" not in self.drawn or not high > low:
            return np.full(len(self), likely)
        rise, fall = (high - low) * (likely - low), (high - low) * (high - likely)
        begun = low + np.sqrt(self.pace * rise)
        return np.asarray(
            np.where(self.pace * (high - low) < likely - low, begun, high - np.sqrt((1 - self.pace) * fall))
        )

    def machine_mean(self, seconds: tuple[float, float, float]) -> float:
        """Mean of that over all boards there could be. [min]"""
        drawn = "machine time" in self.drawn and seconds[2] > seconds[0]
        return float(sum(seconds) / 180 if drawn else seconds[1] / 60)


def moisture_is_assumed(held: Wood) -> bool:
    """Whether a wood has the moisture that stands for one nobody has measured, and can be had at another."""
    usual = next(f.default for f in fields(Wood) if f.name == "moisture")
    if held.moisture != usual:
        return False
    try:
        return key_of(wood(held.name, held.moisture)) == key_of(held)
    except DomainError:
        return False


def possible_boards(
    model: LipModel, board: Board, dial: float, count: int, seed: int, given: Sequence[str] = ()
) -> PossibleBoards:
    """Draw boards; nothing is drawn of what was given.

    Models, graders, shifts, edges and the grain's direction are those of a map's band (`draws_of`, `edge_draws`). The
    moisture counts as given where it is not what the library puts in its place. Dial and moisture, which move results
    little, are drawn at two nodes, which have the mean and the spread of the whole. Where in the band of a time
    estimate the machine lies is drawn evenly.

    Parameters
    ----------
    model
        With ranges, or not.
    board
        Wood and grain.
    dial
        Relative uncertainty of the spindle speed, half the width of its triangular distribution. [-]
    count
        Number of boards.
    seed
        Of the draws.
    given
        Names of `GIVEN` that are known all the same.
    """
    rng = np.random.default_rng([seed, 1])
    known = draws_of(model, board, count, seed)
    if known is None:
        graders = tuple(Grader.at(row) for row in rng.standard_normal((count, 9)))
        shifts = np.hypot(RING, BOARD) * rng.standard_normal(count)
        known = Draws((model,) * count, graders, shifts, np.zeros((count, 0)), ())  # type: ignore[arg-type]
    if "grain direction" in given:
        known = known._replace(turns=None)
    able = {
        "edge radius": True,
        "dial": dial > 0,
        "moisture": moisture_is_assumed(board.wood),
        "grain direction": known.turns is not None,
        "machine time": True,
    }
    drawn = tuple(name for name, can in able.items() if can and name not in given)
    halves = [rng.permutation(np.where(np.arange(count) % 2, 1, -1)) for _ in range(2)]
    none = np.zeros(count, int)
    dials, wet = (halves[k] if name in drawn else none for k, name in enumerate(("dial", "moisture")))
    return PossibleBoards(known, model, seed, count, 0, drawn, dials, wet, _evenly(count))


def _evenly(count: int) -> FloatArray:
    """Numbers in (0, 1), of which the first few are spread as evenly as all of them: van der Corput's.

    As `scipy.stats.qmc.Halton(1, scramble=False)` has them, moved off 0; that takes a second to import.
    """
    bits = max(count - 1, 1).bit_length()
    place = np.arange(count)
    turned = sum(((place >> k) & 1) << (bits - 1 - k) for k in range(bits))
    return np.asarray((turned + 0.5) / 2**bits)


def lengths_on(
    carving: Carving,
    board: Board,
    model: LipModel,
    boards: PossibleBoards | None,
    kept: dict[int, StrikeRecord] | None = None,
) -> FloatArray:
    """Length of lip expected in every combination of grades on each possible board, (boards, 5, 5, 5). [mm]

    Parameters
    ----------
    carving
        What is cut, its spindle speeds by the dial's readings.
    board
        Wood and grain as given.
    model
        Of the boards.
    boards
        None: the coefficients as they are, and the nodes of `middle_draws`.
    kept
        Strikes by node of the dial's error, taken from here and put here: for the same carving, model and boards on a
        board that lies otherwise, which strikes do not know of.
    """
    pitch = max(carving.length / STATIONS, 0.001)
    records = {} if kept is None else kept
    if boards is None:
        ones = [np.ones(1)] * len(carving.cuts)
        if 0 not in records:
            records[0] = gather(carving, pitch=pitch, bundle=layer_of(model, carving), folded=_FOLDED)
        return np.asarray(records[0].lengths(board, model, None, ones))
    out = np.zeros((len(boards), 5, 5, 5))
    factors = [boards.edges(cut) for cut in carving]
    for slow, turning in _turning(carving, np.unique(boards.dial)):
        if slow not in records:
            layer = layer_of(thickest(boards.known.models), turning)
            records[slow] = gather(turning, pitch=pitch, bundle=layer, folded=_FOLDED)
        for wet in np.unique(boards.moisture):
            rows = np.flatnonzero((boards.dial == slow) & (boards.moisture == wet))
            if not rows.size:
                continue
            held = board.wood if wet == 0 else wood(board.wood.name, board.wood.moisture + MOISTURE * float(wet))
            edges = [factor[rows] for factor in factors]
            out[rows] = records[slow].lengths(replace(board, wood=held), model, boards.of(rows).known, edges)
    return out


def _turning(carving: Carving, ends: np.ndarray) -> Iterator[tuple[int, Carving]]:
    """The carving at the nodes of the dial's error; never above the bit's mark."""
    machine = carving.cuts[0].machine
    off = machine.dial.uncertainty if machine is not None and machine.dial is not None else 0.0
    for end in ends.tolist():
        factor = 1 + end * off * _SPREAD
        cuts = []
        for cut in carving:
            most = cut.bit.max_spindle_speed or 100_000.0
            speed = min(max(cut.spindle_speed * factor, 1000.0), most, 100_000.0)
            cuts.append(replace(cut, spindle_speed=speed))
        yield int(end), replace(carving, cuts=tuple(cuts)) if end else carving
