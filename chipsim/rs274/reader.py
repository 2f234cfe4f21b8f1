"""Planned carvings as RS-274/NGC programs, read and written.

`read_moves`, the neutral layer, knows the language and nothing of wood or cutters (`_rs274`). `read_rs274` lays the
moves against the board's face: those below it become cuts, everything else stays known as travel. `write_rs274` is
the way back.
"""

from __future__ import annotations

import math
import os
import re
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from itertools import pairwise
from pathlib import Path as FilePath
from typing import Any, Literal

import numpy as np

from .._shared.arrays import instance, integer, number
from .._shared.logs import logger
from ..errors import DomainError
from ..scene.cuts import AirMove, Carving, Cut
from ..scene.cutters import Cutter, as_cutter
from ..scene.machine import Machine
from ..scene.paths import Path
from .interpreter import (
    AXES,
    MOST_ARC_TOLERANCE,
    Event,
    Move,
    Notes,
    Reading,
    RS274Error,
    error_at,
    interpret,
    lines_of,
    told,
    warn,
)

__all__ = ["read_rs274"]


Point = tuple[float, float, float]

_LOG = logger("rs274")

_LEAST = 1e-6
"""Motion in the face of less than this is none: such a move goes straight up or down. [mm]"""

LEVEL = 1e-9
"""Heights this near to the face lie on it: the rounding of sums of increments. [mm]"""

_FARTHEST = 1e5
"""No coordinate goes beyond this, of a move's ends or of the chords of an arc in air. [mm]"""

_WIDEST = 270.0
"""Arcs that turn further are laid out in quarters: a chord near zero says little about a circle. [deg]"""

_MOST_TOOLS = 99_999
"""No tool has a higher number."""

_UNPRINTABLE = re.compile("[\x80-\x9f]")
"""Bytes to which Latin-1 gives no printable sign, though other tables do."""

_AIR_STEP = 30.0
"""Arcs in air become chords of at most this turn, 1.1 % shorter than the arc. [deg]"""


def read_rs274(
    path_or_text: str | os.PathLike[str],
    bit: Cutter | Mapping[int, Cutter | None],
    *,
    tool: int | None = None,
    name: str | None = None,
    block_delete: bool = False,
    face: float = 0.0,
    spindle_speed: float | None = None,
    machine: Machine | None = None,
    arc_tolerance: float | None = None,
) -> Carving:
    r"""Read a program as a carving: the grooves it cuts with a bit, in order, and the travel between them.

    Moves at feed below the face are cutting moves. As long as the tip stays in the wood, at one spindle speed and sense
    and with one tool, they make one `Cut`, whatever feed and slope do: its path has the program's own lines and arcs,
    its plunges, lifts and dwells, and each piece its F. A move that crosses the face is parted exactly there; what is
    above is travel in air. Rapids and stops end a cut.

    Parameters
    ----------
    path_or_text
        A path (`os.PathLike`, or a str that names an existing file), read as UTF-8, or as Latin-1 if it is not
        UTF-8; or a str with a line end in it: the program itself.
    bit
        The bit that is put in; a program does not say. Where the program changes tools: the bit of each tool, as a
        mapping from tool number to bit. A tool mapped to None is left out, with all its moves.
    tool
        Number of the tool whose moves cut the V-groove; those of other tools are left out, and so is the wood they
        take away. None: all of them, which one bit can do for one tool only. Number 0 is a tool that the program does
        not number.
    name
        For reports; None: the file's name without suffix, or 'carving'.
    block_delete
        True leaves out lines that begin with '/'.
    face
        z of the board's face in the program. [mm]
    spindle_speed
        For a router whose dial the program cannot turn: the speed set by hand, with which all is cut; S is not heeded,
        and M4 only for the sense. None: the program's. [rpm]
    machine
        Passed on to every `Cut`.
    arc_tolerance
        By so much may the radii of an arc to its start and its end differ, as centres and ends are rounded, and the R
        of a half circle fall short of half its chord, in [0, 0.5]; the ends stay as they are written. What the
        language allows (0.002 mm or 0.0002 inch) is always allowed. None: ten times that, 0.02 mm, or 0.002 inch
        (0.051 mm) where G20 is in force: room for two decimals of a millimetre and three of an inch. [mm]

    Returns
    -------
    Carving
        Depths and heights are from the face; travel is before, between and after the cuts (`AirMove.before`). All that
        has been warned of stands in its `notes`, and reports of its maps repeat it.

    Raises
    ------
    RS274Error
        The program breaks a rule of the language (`read_moves`), or a rule of carving: a rapid through wood, an arc of
        the ZX or YZ plane below the face, wood met with a spindle that does not turn, a value that a `Cut` refuses
        (speed above the marked maximum, deeper than the cutting length, feed too low), nothing cut at all; wood cut by
        a second tool, if neither `tool` nor a mapping says what it is; a move to a home position, or another length
        offset, with the tip in the wood. The message names line number, line and rule. Also if there is no such file.
        Nothing is half-read.
    DomainError
        An argument is out of range.

    Warns
    -----
    RS274Warning
        As `read_moves`; a rapid straight down below the face, which is believed to meet a groove already cut; a stop, a
        tool change or the end of the program with the tip in the wood; moves of tools that are left out; and a file
        that is not UTF-8.

    Notes
    -----
    F is the speed along the path in space (NISTIR 6556), and so is the feed of the cuts (`feed_along` "space").

    A cut whose last point is its first, at the same depth, without a plunge or a lift at its ends and a dwell at the
    last, is a closed path; a line there and back is not. Arcs that turn by more than 270 degrees become quarters (a
    full circle four), and travel along arcs in air chords of up to 30 degrees. Where the tool stands before the first
    move of z is not known: it is taken to be clear of the board. A rapid straight up out of the wood is taken to be so
    fast that it leaves the groove as it is.

    T selects a tool and M6 puts it in (3.6.3, 3.7.3). In a program without any M6, T is taken for the change itself.
    One tool may meet wood with one length offset only.

    References
    ----------
    Kramer, Proctor & Messina 2000, NISTIR 6556.

    Examples
    --------
    >>> import chipsim as cs
    >>> program = "G21 G90 S18000 M3\nG0 Z5\nG1 Z-2 F300\nX40 F1500\nY12\nG0 Z5\nM2"
    >>> cs.read_rs274(program, cs.VBit(90, 12.7, 2)).cuts
    (<Cut <Path 2 lines, 0 arcs, 1 vertical, 52.0 mm, depth 0 to 2 mm> at 18000 rpm cw, 1500 mm/min (59 in/min)>,)
    """
    bits, tool = _tools(bit, tool)
    if name is not None:
        instance("name", name, str, "a str or None")
    if not isinstance(block_delete, bool):
        raise DomainError(f"block_delete must be True or False, got {block_delete!r}")
    if machine is not None:
        instance("machine", machine, Machine, "a Machine or None")
    top = number("face", face, low=-1e4, high=1e4, unit="mm")
    if spindle_speed is not None:
        spindle_speed = number("spindle_speed", spindle_speed, low=1000, high=100_000, unit="rpm")
    if arc_tolerance is not None:
        arc_tolerance = number("arc_tolerance", arc_tolerance, low=0, high=MOST_ARC_TOLERANCE, unit="mm")
    text, stem, foreign = _program(path_or_text)
    lines = lines_of(text)
    reading = interpret(lines, block_delete, arc_tolerance)
    if foreign:
        reading.notes["The file is not UTF-8. It is read as Latin-1, which matters to comments only"] = foreign
    planner = Planner(bits, lines, reading.notes, top, spindle_speed, machine, tool)
    planner.lay(reading)
    notes = told(reading.notes)
    warn(notes)
    carving = Carving(tuple(planner.cuts), tuple(planner.air_moves), stem if name is None else name, notes)
    _LOG.info("read %d cuts from a program of %d lines", len(carving.cuts), len(lines))
    for note in notes:
        _LOG.info("%s", note)
    return carving


def _tools(bit: object, tool: object) -> tuple[Cutter | dict[int, Cutter | None], int | None]:
    """Look at the bit or bits and at the number of the tool."""
    wanted = None if tool is None else integer("tool", tool, low=0, high=_MOST_TOOLS)
    if not isinstance(bit, Mapping):
        return as_cutter(bit), wanted
    bits: dict[int, Cutter | None] = {}
    for key, value in bit.items():
        if isinstance(key, bool):
            raise DomainError(f"bit must map whole numbers of tools to bits, got the key {key!r}")
        bits[integer("bit: the number of a tool", key, low=0, high=_MOST_TOOLS)] = (
            None if value is None else as_cutter(value)
        )
    if all(value is None for value in bits.values()):
        raise DomainError("bit must map at least one tool to a bit, got none")
    if wanted is not None and bits.get(wanted) is None:
        raise DomainError(f"tool must be one of those that bit maps to a bit, {sorted(bits)}, got {wanted}")
    return bits, wanted


def _program(source: object) -> tuple[str, str, list[int]]:
    """Text and name of what was given, and the lines that have signs beyond ASCII in a file that is not UTF-8."""
    if isinstance(source, str) and ("\n" in source or "\r" in source):
        return source.removeprefix("\ufeff"), "carving", []
    if not isinstance(source, str | os.PathLike):
        raise DomainError(f"path_or_text must be a path or a str of RS-274/NGC code, got {type(source).__name__}")
    if isinstance(source, str) and not os.path.isfile(source):
        raise RS274Error(f"path_or_text must name an existing file or hold the lines of a program, got {source[:80]!r}")
    path = FilePath(os.fsdecode(source))
    try:
        content = path.read_bytes()
    except OSError as error:
        raise RS274Error(f"path_or_text must name a file that can be read, got {path}: {error.strerror}") from None
    try:
        return content.decode("utf-8-sig"), path.stem, []
    except UnicodeDecodeError:
        text = _UNPRINTABLE.sub("\N{REPLACEMENT CHARACTER}", content.decode("latin-1"))
        return text, path.stem, [k for k, line in enumerate(lines_of(text), 1) if not line.isascii()]


def lies_in_face(move: Move) -> float:
    """Length of the path's projection on the face; arcs of the XY plane and lines. [mm]"""
    dx, dy = move.end[0] - move.start[0], move.end[1] - move.start[1]
    if move.centre is None or move.sweep is None:
        return math.hypot(dx, dy)
    i, j = move.centre[0] - move.start[0], move.centre[1] - move.start[1]
    return math.radians(abs(move.sweep)) * (math.hypot(i, j) + math.hypot(dx - i, dy - j)) / 2


def _point(move: Move, share: float) -> Point:
    """Point at a share of the move; on arcs angle, radius and the third axis grow evenly."""
    if share in (0.0, 1.0):
        return move.end if share else move.start
    point = [a + share * (b - a) for a, b in zip(move.start, move.end, strict=True)]
    if move.centre is not None and move.sweep is not None:
        first, second, _ = AXES[move.plane]
        a, b = move.centre[first], move.centre[second]
        before = math.hypot(move.start[first] - a, move.start[second] - b)
        after = math.hypot(move.end[first] - a, move.end[second] - b)
        angle = math.atan2(move.start[second] - b, move.start[first] - a) + math.radians(share * move.sweep)
        radius = before + share * (after - before)
        point[first], point[second] = a + radius * math.cos(angle), b + radius * math.sin(angle)
    return point[0], point[1], point[2]


def _lowest(move: Move) -> float:
    """Least z that a move reaches. [mm]"""
    ends = min(move.start[2], move.end[2])
    if move.centre is None or move.sweep is None or move.plane == "xy":
        return ends
    first, second, _ = AXES[move.plane]
    azimuth = math.atan2(move.start[second] - move.centre[second], move.start[first] - move.centre[first])
    down = math.pi if first == 2 else -math.pi / 2  # direction of -z in the plane
    turn = math.degrees(math.copysign(1.0, move.sweep) * (down - azimuth)) % 360.0
    return min(ends, _point(move, turn / abs(move.sweep))[2]) if turn <= abs(move.sweep) else ends


@dataclass(slots=True)
class _Groove:
    """Cutting moves that make one cut: vertices, and what each piece adds."""

    speed: float
    spin: str
    xy: list[tuple[float, float]]
    depth: list[float]
    sweep: list[float] = field(default_factory=list)
    feed: list[float] = field(default_factory=list)
    line: list[int] = field(default_factory=list)
    dwell: list[float] = field(default_factory=lambda: [0.0])

    def goes_to(self, place: tuple[float, float], depth: float, sweep: float, feed: float, line: int) -> None:
        """Add a piece."""
        self.xy.append(place)
        self.depth.append(depth)
        self.dwell.append(0.0)
        self.sweep.append(sweep)
        self.feed.append(feed)
        self.line.append(line)

    def closes(self) -> bool:
        there_and_back = len(self.sweep) == 2 and self.sweep == [0.0, 0.0]
        joined = math.dist(self.xy[0], self.xy[-1]) <= _LEAST and abs(self.depth[0] - self.depth[-1]) <= _LEAST
        upright = self.xy[0] == self.xy[1] or self.xy[-2] == self.xy[-1]
        return len(self.sweep) >= 2 and joined and not (there_and_back or upright or self.dwell[-1])

    def cut(self, bit: Cutter, machine: Machine | None, pieces: int) -> Cut:
        """Cut of the first pieces."""
        closed = pieces == len(self.sweep) and self.closes()
        vertices = pieces + (not closed)
        path = Path(
            np.array(self.xy[:vertices]),
            np.array(self.depth[:vertices]),
            sweep=np.array(self.sweep[:pieces]),
            closed=closed,
            dwell=np.array(self.dwell[:vertices]),
        )
        feed: Any = np.array(self.feed[:pieces])
        return Cut(bit, path, self.speed, feed, spin=self.spin, machine=machine, feed_along="space")


@dataclass(slots=True)
class Planner:
    """Lays moves against the face, one after the other."""

    bits: Cutter | dict[int, Cutter | None]
    lines: list[str]
    notes: Notes
    face: float = 0.0
    dial: float | None = None
    machine: Machine | None = None
    wanted: int | None = None  # the tool that cuts the V-groove
    cuts: list[Cut] = field(default_factory=list)
    air_moves: list[AirMove] = field(default_factory=list)
    open: _Groove | None = None
    placed: bool = False  # whether z has been set
    bit: Cutter = field(init=False)
    left_out: bool = False  # whether the moves of the tool in the spindle are
    tool: int = 0  # in the spindle, 0: without a number
    changed: int = 0  # line of the change to it, 0: it was in from the beginning
    unfit: str = ""  # why it may not cut
    waiting: Event | None = None  # the tool that has been selected, until it is put in
    offset: int = 0  # number of the length offset in force
    kept: int = 0  # the same, if it was set for the tool before
    seen: dict[int, tuple[int, int]] = field(default_factory=dict)  # tools that cut: their first line, their offset

    def lay(self, reading: Reading) -> None:
        moves, events = reading.moves, reading.events
        if not any(event.kind == "tool" for event in events):
            events = self._changes_by_hand(events)
        self._put_in(0)
        done = 0
        for event in events:
            self._take_all(moves[done : event.at])
            done = event.at
            self._happens(event, moves)
        self._take_all(moves[done:])
        self._close()
        if moves and not self.left_out and self._deep(moves[-1]):
            self._note("The program ends with the tip in the wood", moves[-1].line)
        if not self.cuts:
            line = moves[-1].line if moves else 1
            which = "" if self.wanted is None else f" by tool {self.wanted}"
            raise self._error(line, f"the program cuts nothing{which}: no move at feed below z = {self.face:g}")

    def _changes_by_hand(self, events: list[Event]) -> list[Event]:
        """Take T for the change of the tool, in a program that has no M6."""
        numbers = [event for event in events if event.kind == "select"]
        if len({event.number for event in numbers}) > 1 and (self.wanted is not None or isinstance(self.bits, dict)):
            for event in numbers:
                self._note("No M6 is in the program. T is taken to change the tool (NISTIR 6556, 3.6.3)", event.line)
        return [replace(event, kind="tool") if event.kind == "select" else event for event in events]

    def _take_all(self, moves: list[Move]) -> None:
        if not self.left_out:
            for move in moves:
                if not self._goes_on(move):
                    self._take(move)
            return
        for move in moves:  # of a tool that is left out
            if move.kind in ("line", "arc") and self._height(_lowest(move)) < 0:
                what = f"Tool {self.tool} cuts wood here and is left out, as what it takes away is not known"
                self._note(what, move.line)
                break
        self.placed = self.placed or any(move.start[2] != move.end[2] for move in moves)

    def _happens(self, event: Event, moves: list[Move]) -> None:
        deep = event.at > 0 and self._deep(moves[event.at - 1])
        if event.kind == "tool":
            self._close()
            if deep and not self.left_out:
                self._note(f"{event.code} changes the tool with the tip in the wood, which ends the cut", event.line)
            self.unfit = ""
            if event.code == "M6" and event.number == 0:
                self.unfit = "T0 has emptied the spindle"
            elif event.number is None and 0 in self.seen:
                self.unfit = "a tool without a number has cut before, and this may be another one"
            if self.unfit or self.tool != (event.number or 0):
                self.changed, self.kept = event.line, self.offset
            self.waiting = None
            self._put_in(event.number or 0)
            return
        if event.kind == "select":
            self.waiting = event
        elif event.kind == "offset":
            self._close()
            self.offset, self.kept = event.number or 0, 0
        if self.left_out:
            return
        if event.kind == "stop" and deep:
            self._close()
            self._note(
                f"{event.code} stops the program with the tip in the wood, which ends the cut: the bit rubs there",
                event.line,
            )
        elif event.kind == "home" and deep:
            raise self._error(event.line, f"{event.code} with the tip in the wood: a rapid through wood")
        elif event.kind == "offset" and deep:
            raise self._error(event.line, f"{event.code} with the tip in the wood: its depth is not known from here on")
        elif event.kind == "blind" and event.at < len(moves):
            move = moves[event.at]
            if self._deep(move) or (move.start[2] != move.end[2] and self._height(move.end[2]) < 0):
                raise self._error(event.line, "a rapid to below the face from a place that is not known")

    def _put_in(self, tool: int) -> None:
        """Change the tool; what is not known of it is refused where it meets wood."""
        self.tool, self.left_out = tool, self.wanted is not None and tool != self.wanted
        if not isinstance(self.bits, dict):
            self.bit = self.bits
            return
        bit = self.bits.get(tool)
        self.left_out = self.left_out or (tool in self.bits and bit is None)
        self.bit = bit if bit is not None else next(b for b in self.bits.values() if b is not None)

    def _admit(self, move: Move) -> None:
        """Refuse wood that is met by a tool of which it is not known what it is or where its tip is."""
        tool = self.tool
        since = f" since line {self.changed}" if self.changed else ""
        if self.waiting is not None and self.waiting.number != tool:
            what = f"{self.waiting.code} selects a tool, but wood is cut before an M6 puts it in"
            self._note(f"{what}. That is read as the work of tool {tool} (NISTIR 6556, 3.6.3)", self.waiting.line)
        if self.unfit:
            raise self._error(move.line, f"wood is met by tool {tool}{since}: {self.unfit}")
        if isinstance(self.bits, dict) and tool not in self.bits:
            raise self._error(
                move.line,
                f"wood is met by tool {tool}{since}, but bit maps only {sorted(self.bits)}; "
                f"None as the bit of tool {tool} leaves it out",
            )
        if self.kept:
            what = f"Tool {tool} is put in and cuts with length offset {self.kept}, which was set for the tool before"
            self._note(f"{what}. Its tip is taken to be where z says (NISTIR 6556, 3.5.11)", self.changed)
        first = next(iter(self.seen), tool)
        if first != tool and self.wanted is None and not isinstance(self.bits, dict):
            raise self._error(
                move.line,
                f"wood is met by tool {tool}{since}, and by tool {first} on line {self.seen[first][0]}, but one bit is "
                f"given: say which tool cuts the V-groove (tool={tool}), or give the bit of each (bit={{{first}: ..., "
                f"{tool}: ...}})",
            )
        line, offset = self.seen.setdefault(tool, (move.line, self.offset))
        if offset != self.offset:
            raise self._error(
                move.line,
                f"tool {tool} meets wood with length offset {self.offset}, and on line {line} with {offset}: where "
                "the tip is cannot be told",
            )

    def _note(self, message: str, line: int) -> None:
        numbers = self.notes.setdefault(message, [])
        if numbers[-1:] != [line]:
            numbers.append(line)

    def _deep(self, move: Move) -> bool:
        """Whether a move ends below the face, and is known to."""
        return self.placed and self._height(move.end[2]) < 0

    def _goes_on(self, move: Move) -> bool:
        """Whether a line goes on below the face in the open cut, as most do; it is added. The long way ends alike."""
        groove, top, limit = self.open, self.face - LEVEL, self.bit.cutting_length
        if groove is None or move.kind != "line" or not self.placed or move.spin != groove.spin:
            return False
        (x0, y0, z0), (x, y, z) = move.start, move.end
        if not (z0 < top and z < top and (self.dial is not None or move.spindle_speed == groove.speed)):
            return False
        inside = abs(x) <= _FARTHEST and abs(y) <= _FARTHEST and abs(z) <= _FARTHEST
        if not inside or math.hypot(x - x0, y - y0) <= _LEAST or (limit is not None and self.face - min(z0, z) > limit):
            return False
        groove.goes_to((x, y), self.face - z, 0.0, move.feed or 0.0, move.line)
        return True

    def _take(self, move: Move) -> None:
        self._check_range(move, move.end)
        if move.kind in ("rapid", "line") and move.start == move.end:
            return
        if move.kind == "dwell":
            if self.open is not None:
                self.open.dwell[-1] += move.seconds or 0.0
            else:
                self._pass(move, "dwell")
        elif move.kind == "rapid":
            self._rapid(move)
        elif move.plane != "xy" and move.kind == "arc":
            if self._height(_lowest(move)) < 0:
                raise self._error(move.line, f"an arc in the {move.plane.upper()} plane below the face: not supported")
            self._pass(move, "air")
        else:
            self._at_feed(move)
        self.placed = self.placed or move.kind != "rapid" or move.start[2] != move.end[2]

    def _check_range(self, move: Move, *points: Point) -> None:
        if max(abs(value) for point in points for value in point) > _FARTHEST:
            raise self._error(move.line, f"the move leaves the range of +-{_FARTHEST:.0f} mm")

    def _height(self, z: float) -> float:
        """Height above the face; 0 if only rounding parts them."""
        return 0.0 if abs(z - self.face) <= LEVEL else z - self.face

    def _error(self, line: int, what: str) -> RS274Error:
        return error_at(line, self.lines[line - 1], what)

    def _rapid(self, move: Move) -> None:
        start, end = self._height(move.start[2]), self._height(move.end[2])
        if not self.placed:  # a start nobody has chosen is no start in wood
            start, end = max(start, 0.0), max(end, 0.0) if move.end[2] == move.start[2] else end
        if min(start, end) < 0:
            if math.dist(move.start[:2], move.end[:2]) > _LEAST:
                raise self._error(move.line, "a rapid through wood: below the face, only straight up and down")
            if end < start:
                rule = "a rapid goes straight down below the face; a groove already cut is believed to be there"
                self._note(rule, move.line)
        self._pass(move, "rapid")

    def _at_feed(self, move: Move) -> None:
        """A line, or an arc of the XY plane, at feed."""
        start, end = self._height(move.start[2]), self._height(move.end[2])
        length = lies_in_face(move)
        if length <= _LEAST:
            if end != start:
                self._upright(move, 0.0, 1.0)
        elif start >= 0 and end >= 0:
            self._pass(move, "air")
        elif start <= 0 and end <= 0:
            self._carve(move, 0.0, 1.0)
        else:
            crossing = start / (start - end)
            for first, last in ((0.0, crossing), (crossing, 1.0)):
                below = (first == 0.0) == (start < 0)
                if not below:
                    self._pass(move, "air", first, last)
                elif (last - first) * length > _LEAST:
                    self._carve(move, first, last)
                else:
                    self._upright(move, first, last)

    def _upright(self, move: Move, first: float, last: float) -> None:
        """Straight down or up, along a part of the move: below the face it is cut, above it travel."""
        start, end = (self._height(_point(move, share)[2]) for share in (first, last))
        if min(start, end) >= 0:
            self._pass(move, "air", first, last)
            return
        face = min(max(first + (last - first) * start / (start - end), first), last)
        if end < start:
            if start > 0:
                self._pass(move, "plunge", first, face)
            self._down_or_up(move, max(0.0, -start), -end)
        elif self.open is None:  # up where no move at feed has been
            self._pass(move, "retract", first, last)
        else:
            self._down_or_up(move, -start, max(0.0, -end))
            if end > 0:
                self._pass(move, "retract", face, last)

    def _pass(self, move: Move, kind: str, first: float = 0.0, last: float = 1.0) -> None:
        """Note travel along a part of the move; it ends the open cut."""
        self._close()
        if kind == "plunge":
            self._admit(move)
            self._check_spindle(move)
            self._check_depth(move)
        count = 1
        if move.sweep is not None:
            count = max(1, math.ceil(abs(move.sweep) * (last - first) / _AIR_STEP - 1e-9))
        points = [_point(move, first + (last - first) * k / count) for k in range(count)] + [_point(move, last)]
        self._check_range(move, *points)
        heights = [(x, y, self._height(z)) for x, y, z in points]
        for a, b in pairwise(heights):
            if a != b or kind == "dwell":
                self.air_moves.append(AirMove(kind, a, b, move.feed, move.seconds or 0.0, len(self.cuts)))

    def _carve(self, move: Move, first: float, last: float) -> None:
        """Add a part of the move, all below the face, to the open cut or to a new one."""
        deep = [max(0.0, -self._height(z)) for z in (move.start[2], move.end[2])]
        groove, share = self._groove(move, _point(move, first)[:2], deep[0]), last - first
        sweep = (move.sweep or 0.0) * share
        count = 1 if abs(sweep) <= _WIDEST else math.ceil(abs(sweep) / 90.0 - 1e-9)
        for k in range(1, count + 1):
            part = k / count
            place = _point(move, last if k == count else first + share * part)[:2]
            depth = deep[1] if k == count else deep[0] + (deep[1] - deep[0]) * part
            groove.goes_to(place, depth, sweep / count, move.feed or 0.0, move.line)

    def _down_or_up(self, move: Move, start: float, end: float) -> None:
        """Add a vertical piece from depth to depth to the open cut or to a new one."""
        groove = self._groove(move, move.start[:2], start)
        groove.goes_to(groove.xy[-1], end, 0.0, move.feed or 0.0, move.line)

    def _groove(self, move: Move, place: tuple[float, float], depth: float) -> _Groove:
        """The open cut, or a new one from this place if there is none or the spindle turns otherwise."""
        if self.open is None:
            self._admit(move)
        speed, spin = self._check_spindle(move)
        self._check_depth(move)
        groove = self.open
        if groove is None or (groove.speed, groove.spin) != (speed, spin):
            self._close()
            groove = self.open = _Groove(speed, spin, [place], [depth])
        return groove

    def _close(self) -> None:
        """Make a `Cut` of the open moves; what it refuses is laid at the door of the first move that is to blame."""
        groove, self.open = self.open, None
        if groove is None:
            return
        good, bad = 0, len(groove.sweep)
        try:
            self.cuts.append(groove.cut(self.bit, self.machine, bad))
            return
        except DomainError as refusal:
            why = str(refusal)
        while bad - good > 1:
            middle = (good + bad) // 2
            try:
                groove.cut(self.bit, self.machine, middle)
                good = middle
            except DomainError:
                bad = middle
        raise self._error(groove.line[bad - 1], re.sub(r"^feed\[\d+\]", "feed", why))

    def _check_spindle(self, move: Move) -> tuple[float, Literal["cw", "ccw"]]:
        """Speed and sense with which the move meets wood."""
        speed = move.spindle_speed if self.dial is None else self.dial
        spin = "cw" if move.spin == "off" and self.dial is not None else move.spin
        if spin == "off":
            raise self._error(move.line, "the move meets wood but no M3 or M4 has started the spindle")
        if speed == 0.0:
            raise self._error(move.line, "the move meets wood but the spindle has no speed (S)")
        limit = self.bit.max_spindle_speed
        if limit is not None and speed > limit:
            raise self._error(
                move.line, f"spindle_speed must not exceed the bit's marked maximum of {limit:g} rpm, got {speed:g}"
            )
        return speed, spin

    def _check_depth(self, move: Move) -> None:
        deepest, limit = -self._height(min(move.start[2], move.end[2])), self.bit.cutting_length
        if limit is not None and deepest > limit + LEVEL:
            raise self._error(
                move.line, f"depth must lie within the bit's cutting length, [0, {limit:g}] mm, got {deepest:g}"
            )
