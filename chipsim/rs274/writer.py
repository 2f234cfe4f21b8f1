"""Carvings written as RS-274 programs, read back before they are handed out."""

from __future__ import annotations

import math
import os
import textwrap
from collections.abc import Sequence
from dataclasses import dataclass, field
from itertools import pairwise
from typing import Literal

import numpy as np

from .._shared.arrays import SLOWEST_PLUNGE, integer, number
from .._shared.arrays import feed as feed_of
from .._shared.files import whole_file
from ..errors import DomainError
from ..scene.cuts import Carving, Cut, as_carving
from ..scene.cutters import Cutter, cone_angle
from .interpreter import (
    Move,
    RS274Error,
    interpret,
    lines_of,
    turn_about,
)
from .reader import LEVEL, Planner, Point

__all__ = ["write_rs274"]


_MOST_DECIMALS = 9

_SPIN_UP = 3.0
"""Dwell after the spindle is started: it is to reach its speed in air. [s]"""

_FAST = 100.0
"""From here on F has one decimal less than coordinates; slower ones have ten, which loses nothing. [mm/min]"""

_WIDTH = 100
"""Comments are wrapped; the language allows 256 characters a line."""


def write_rs274(
    carving: Carving | Cut,
    path: str | os.PathLike[str] | None = None,
    *,
    safe_height: float = 5.0,
    plunge_feed: float = 300.0,
    decimals: int = 4,
    speed_by_hand: bool = True,
    remarks: Sequence[str] = (),
) -> str:
    """Write a carving as a program that can be cut and that `read_rs274` reads back.

    Every cut: a rapid to its start at the safe height, the path with its lines, arcs, plunges, lifts and dwells, a
    rapid up; its earlier passes come first, as cuts of their own. The face is at z = 0, units are mm; the header, plain
    comments, says so and what to heed. F is the speed along the path in space, with one decimal less than
    coordinates have. A path that starts below the face is given a plunge, which is read back as a part of the cut.

    Parameters
    ----------
    carving
        The carving, or a single cut. All cuts must have the same bit.
    path
        File to write: a whole program or, on any error, nothing; None: the text is only returned.
    safe_height
        Height of rapids above the face, in [0.5, 200]; clamps must be lower. [mm]
    plunge_feed
        Feed straight down to the start of a path, from the safe height on, in [80, 60000]. [mm/min]
    decimals
        Of coordinates, in [3, 9]. More are used, up to 9, where fewer would lose a piece of a path or break the
        language's rule that the radii of an arc agree within 0.002 mm. [-]
    speed_by_hand
        Whether the spindle's speed is set on a dial, which no program can turn. The program then stops the spindle and
        waits (M5, M0) before each new speed, and a comment says which mark to set; the marks are those of the machine's
        `Dial`. False: the program's S sets the speed.
    remarks
        Further lines for the header, such as how the work lies.

    Returns
    -------
    str
        The program, lines ended by line feed, ASCII.

    Raises
    ------
    DomainError
        If an argument is out of range, the cuts have different bits, or nine decimals do not do.
    OSError
        If the file cannot be written.

    Notes
    -----
    Arcs beyond a half turn are written in two halves; those that bow by less than half a unit of the last decimal, as
    lines. Stretches of a path at depth 0 cut nothing and are read back as travel. A program has no words for `phase`,
    `machine` and the travel of the carving; travel is laid out anew. The text is read back before it is returned.

    References
    ----------
    Kramer, Proctor & Messina 2000, NISTIR 6556.

    Examples
    --------
    >>> import chipsim as cs
    >>> cut = cs.Cut(cs.VBit(60, 12.7, 2), cs.ring(5, 1.5), 18_000, 1500)
    >>> program = cs.write_rs274(cut, "ring.nc", safe_height=6)
    >>> next(line for line in program.splitlines() if line.startswith("G0 Z"))
    'G0 Z6'
    >>> cs.read_rs274("ring.nc", cut.bit).cuts[0].feed  # straight down, then the four quarters
    (300.0, 1500.0, 1500.0, 1500.0, 1500.0)
    """
    job = as_carving(carving)
    height = number("safe_height", safe_height, low=0.5, high=200, unit="mm")
    plunge = feed_of("plunge_feed", plunge_feed, SLOWEST_PLUNGE)
    bit = job.cuts[0].bit
    for k, cut in enumerate(job, 1):
        if cut.bit != bit:
            raise DomainError(f"carving.cuts must have the same bit, one program each; that of cut {k} differs")
    if not isinstance(speed_by_hand, bool):
        raise DomainError(f"speed_by_hand must be True or False, got {speed_by_hand!r:.40}")
    if isinstance(remarks, str) or not all(isinstance(words, str) for words in remarks):
        raise DomainError(f"remarks must be a sequence of str, one a line, got {remarks!r:.60}")
    for digits in range(integer("decimals", decimals, low=3, high=_MOST_DECIMALS), _MOST_DECIMALS + 1):
        program = _Program(digits, height, plunge, speed_by_hand, tuple(remarks))
        program.write(job)
        text = "\n".join(program.rows) + "\n"
        fault = _misread(text, program, bit)
        if not fault:
            break
    else:
        raise DomainError(f"carving must be one that {_MOST_DECIMALS} decimals can tell: {fault}")
    if path is not None:
        with whole_file(path, encoding="ascii") as handle:
            handle.write(text)
    return text


@dataclass(slots=True)
class _Program:
    """A program under way: its rows, and the moves that the interpreter must find in them."""

    digits: int
    safe_height: float
    plunge_feed: float
    by_hand: bool = True
    remarks: tuple[str, ...] = ()
    rows: list[str] = field(default_factory=list)
    moves: list[Move] = field(default_factory=list)
    cuts: int = 0  # how many the reader must find
    at: Point = (0.0, 0.0, 0.0)
    feed: str = ""
    asked: float = -1.0  # the last feed that was made a word, and what it is read as
    read: tuple[float, str] = (0.0, "")
    speed: float = 0.0
    spin: Literal["cw", "ccw", "off"] = "off"

    def write(self, job: Carving) -> None:
        groups = [(*cut.earlier_passes(), cut) for cut in job]
        every = [cut for group in groups for cut in group]
        for text in _header(job, every, self.safe_height, self.plunge_feed):
            self.rows += _comment(text)
        for text in self.remarks:
            self.rows += _comment(text)
        if self.by_hand:
            self.rows += _comment(f"BEFORE THE START {_dial_words(every[0])}")
        self.rows.append("G21 G90 G17 G94")
        self._go("G0", z=self.safe_height)
        for k, group in enumerate(groups, 1):
            for p, cut in enumerate(group, 1):
                part = f", pass {p} of {len(group)}" if len(group) > 1 else ""
                deep = float(cut.path.depth.max())
                size = f"{cut.path.length:.1f} mm, deepest {deep:.2f} mm"
                self.rows += _comment(f"Cut {k} of {len(job)}{part}: {size}, feed {cut.largest_feed:.0f}")
                self._cut(cut)
        self.rows += ["M5", "M2"]

    def _cut(self, cut: Cut) -> None:
        *place, sweep, stands, feeds = _vertices(cut)
        xs, ys, zs = ([float(f"{v:.{self.digits}f}") for v in values.tolist()] for values in place)
        self._go("G0", xs[0], ys[0])
        self._start(cut)
        self._go("G1", z=zs[0], feed=self.plunge_feed)
        bottoms = [0.0, zs[0]]
        self._dwell(stands[0])
        for k, turn in enumerate(sweep, 1):
            if (xs[k], ys[k], zs[k]) != self.at:  # a piece that is lost in rounding is left out
                bottoms.append(zs[k])
                self._piece(xs[k], ys[k], zs[k], turn, feeds[k - 1])
            self._dwell(stands[k])
        self._go("G0", z=self.safe_height)
        # Where both ends of a piece lie on the face the reader sees air; what is left comes back as cuts
        deep = [min(a, b) < -LEVEL for a, b in pairwise(bottoms)]
        self.cuts += max(1, sum(b and not a for a, b in pairwise([False, *deep])))

    def _start(self, cut: Cut) -> None:
        """Bring the spindle to the speed of the cut, in air."""
        speed, word = self._word("S", cut.spindle_speed, 8)
        if (speed, cut.spin) == (self.speed, self.spin):
            return
        if self.by_hand and self.speed not in (0.0, speed):
            # a dial that was never turned leaves no trace on the wood: the program waits until somebody has turned it
            self.rows += ["M5", *_comment(f"STOP {_dial_words(cut)}, then go on"), "M0"]
            self.spin = "off"
        elif self.spin not in ("off", cut.spin):
            self.rows.append("M5")
            self.spin = "off"
            self._dwell(_SPIN_UP)
        self.speed, self.spin = speed, "cw" if cut.spin == "cw" else "ccw"
        self.rows.append(f"{word} {'M3' if cut.spin == 'cw' else 'M4'}")
        self._dwell(_SPIN_UP)

    def _dwell(self, seconds: float) -> None:
        seconds, word = self._word("P", seconds, 6)
        if seconds > 0:
            self.rows.append(f"G4 {word}")
            self._expect("dwell", self.at, seconds=seconds)

    def _expect(
        self,
        kind: Literal["rapid", "line", "arc", "dwell"],
        end: Point,
        centre: Point | None = None,
        sweep: float | None = None,
        feed: float | None = None,
        seconds: float | None = None,
    ) -> None:
        """Note the move that the last row must be read as."""
        line = len(self.rows)
        self.moves.append(Move(kind, self.at, end, centre, sweep, "xy", feed, seconds, self.speed, self.spin, line))

    def _piece(self, x: float, y: float, z: float, turn: float, feed: float) -> None:
        """Write a line or an arc of at most a half turn to a point, with its feed along the path in space."""
        (x0, y0, _), step = self.at, 10.0**-self.digits
        chord, angle = math.hypot(x - x0, y - y0), math.radians(turn)
        if abs(turn) < 1e-7 or chord / 2 * math.tan(abs(angle) / 4) < step / 2:
            self._go("G1", x, y, z, feed=feed)
            return
        # From the middle of the chord to the centre, to the left of a chord of which the arc turns left
        offset = 1 / math.tan(angle / 2) / 2
        i, word_i = self._word("I", (x - x0) / 2 - (y - y0) * offset, self.digits)
        j, word_j = self._word("J", (y - y0) / 2 + (x - x0) * offset, self.digits)
        centre = (x0 + i, y0 + j, self.at[2])
        sweep = turn_about(i, j, x - centre[0], y - centre[1], math.copysign(1.0, turn))
        self._go("G3" if turn > 0 else "G2", x, y, z, feed=feed, words=(word_i, word_j), centre=centre, sweep=sweep)

    def _go(
        self,
        code: str,
        x: float | None = None,
        y: float | None = None,
        z: float | None = None,
        *,
        feed: float | None = None,
        words: tuple[str, ...] = (),
        centre: Point | None = None,
        sweep: float | None = None,
    ) -> None:
        """Write a move; x and y come together, what is not given stays."""
        row, end = [code], list(self.at)
        for axis, value in enumerate((x, y, z)):
            if value is not None and (axis < 2 or value != self.at[2]):
                end[axis], word = self._word("XYZ"[axis], value, self.digits)
                row.append(word)
        row += words
        kind: Literal["rapid", "line", "arc"] = "rapid" if feed is None else "line" if centre is None else "arc"
        written = None
        if feed is not None:
            if feed != self.asked:
                self.asked, self.read = feed, self._word("F", feed, self.digits - 1 if feed >= _FAST else 10)
            written, word = self.read
            if word != self.feed:
                row.append(word)
                self.feed = word
        to = (end[0], end[1], end[2])
        if len(row) > 1:
            self.rows.append(" ".join(row))
            self._expect(kind, to, centre, sweep, written)
        self.at = to

    def _word(self, letter: str, value: float, digits: int) -> tuple[float, str]:
        """Value as it will be read, and the word for it: never an exponent, which the language does not have."""
        text = f"{value:.{digits}f}".rstrip("0").rstrip(".")
        return float(text), letter + ("0" if text == "-0" else text)


def _vertices(cut: Cut) -> tuple[np.ndarray, np.ndarray, np.ndarray, list[float], list[float], list[float]]:
    """x, y, z of n + 1 vertices, the first one also last if the path is closed, and n sweeps of at most half a turn.

    Also how long the tool stands at each vertex [s] and the feed of each piece in space [mm/min].
    """
    path = cut.path
    place, dwell = np.column_stack([path.xy, -path.depth]), path.dwell
    if path.closed:
        place, dwell = np.vstack([place, place[0]]), np.append(dwell, 0.0)
    wide = np.flatnonzero(np.abs(path.sweep) > 180)
    middle = (path.joints[wide] + path.joints[wide + 1]) / 2
    place = np.insert(place, wide + 1, np.column_stack([path.position(middle), -path.depth_at(middle)]), axis=0)
    sweep = path.sweep.copy()
    sweep[wide] /= 2
    sweeps, feeds = (np.insert(each, wide, each[wide]).tolist() for each in (sweep, cut.feeds))
    return place[:, 0], place[:, 1], place[:, 2], sweeps, np.insert(dwell, wide + 1, 0.0).tolist(), feeds


def _header(job: Carving, cuts: list[Cut], safe_height: float, plunge_feed: float) -> list[str]:
    """What a program says of itself before it moves anything."""
    bit = job.cuts[0].bit
    angle, tip = cone_angle(bit), getattr(bit, "tip_width", None)
    shape = "profile bit" if angle is None else f"V-bit, {angle:g} degrees included"
    flat = f", tip width {tip:g} mm" if tip and angle is not None else ""
    fastest, limit = max(cut.spindle_speed for cut in cuts), bit.max_spindle_speed
    marked = "not known here: read it on the bit" if limit is None else f"{limit:g} rpm"
    rough = f", earlier passes: {len(cuts) - len(job)}" if len(cuts) > len(job) else ""
    deepest = max(float(cut.path.depth.max()) for cut in cuts)
    return [
        f"Carving: {job.name}",
        f"Cuts: {len(job)}, {job.length:.0f} mm of groove{rough}, deepest {deepest:.2f} mm",
        "Units: mm and mm/min. The face of the board is z = 0, z points up",
        f"Bit: {shape}, diameter {bit.diameter:g} mm, flutes {bit.flutes}{flat}",
        f"Spindle: up to {fastest:g} rpm, marked maximum of the bit {marked}",
        f"Rapids: at z = {safe_height:g} mm, clamps must be lower. Plunges: {plunge_feed:g} mm/min",
        "CHECK BEFORE USE: bit, zero, depths, feeds, clamps. Run it in air first, above the board",
        "The marking of the bit and the manuals of router and machine come before anything written here",
        "S does not turn the dial of a router that is set by hand. Stay with the machine while it runs",
    ]


def _dial_words(cut: Cut) -> str:
    """Which mark to set for a cut, as far as the machine's dial is known."""
    speed = f"{cut.spindle_speed:g} rpm"
    dial = None if cut.machine is None else cut.machine.dial
    if dial is None:
        return f"set the spindle to {speed}"
    if not min(dial.speeds) <= cut.spindle_speed <= max(dial.speeds):
        return f"set the spindle to {speed}, beyond the readings of the dial"
    return f"turn the dial to mark {dial.position(cut.spindle_speed):.3g}, {speed} by its readings"


def _comment(text: str) -> list[str]:
    """Lines of plain comment: printable ASCII without brackets, none longer than a line may be."""
    plain = "".join(c if c.isascii() and c.isprintable() and c not in "()[]{};%" else " " for c in text)
    return [f"({row})" for row in textwrap.wrap(" ".join(plain.split()), _WIDTH)]


def _misread(text: str, program: _Program, bit: Cutter) -> str:
    """Say what is wrong with a program, '' if it is read as it was meant."""
    lines = lines_of(text)
    try:
        reading = interpret(lines, False)
        if reading.moves != program.moves:
            return "the moves are not read back as they were meant"
        planner = Planner(bit, lines, reading.notes)
        planner.lay(reading)
    except RS274Error as error:
        return str(error)
    if len(planner.cuts) != program.cuts:
        return f"{program.cuts} cuts are read back as {len(planner.cuts)}"
    return ""
