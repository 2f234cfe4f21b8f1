"""The interpreter of RS-274/NGC programs: text into moves.

The neutral layer, `read_moves`, turns the text of a program into lines, arcs, rapids and dwells in
millimetres. It knows the language and nothing of wood or cutters. What is public here is public as
`rs274`, which builds planned carvings on it.

The language is the one published in T. R. Kramer, F. M. Proctor, E. R. Messina, "The NIST RS274NGC
Interpreter - Version 3", NISTIR 6556, National Institute of Standards and Technology, 2000. Section
numbers in comments and messages are the report's; "from memory" marks a rule its text does not state.

How a line is read: comments and blanks are taken out, the rest is cut into words and parameter
settings (`_read_block`), every value is worked out (`_evaluate`), and the words are carried out in
the report's own order (`_ORDER`) on the modal state (`_State`).
"""

from __future__ import annotations

import math
import operator
import re
import warnings
from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Literal

from .._shared.arrays import number
from ..errors import DomainError
from ..units import inch

__all__ = [
    "AXES", "Event", "Move", "Notes", "RS274Error", "RS274Warning", "Reading", "error_at", "interpret", "lines_of",
    "read_moves", "told", "turn_about", "warn",
]  # fmt: skip

Point = tuple[float, float, float]
Kind = Literal["rapid", "line", "arc", "dwell"]
Plane = Literal["xy", "zx", "yz"]
Spin = Literal["cw", "ccw", "off"]
Notes = dict[str, list[int]]
"""What is to be warned of: message -> numbers of the lines."""


class RS274Error(DomainError):
    """A program that cannot be read; the message names line number, line and rule."""


class RS274Warning(UserWarning):
    """What was read although it is outside the published language, or had to be assumed; names the line numbers."""


@dataclass(frozen=True, slots=True)
class Move:
    """One move of the machine, as the program asks for it.

    Attributes
    ----------
    kind : {'rapid', 'line', 'arc', 'dwell'}
        What the machine does: G0, G1, G2 or G3 (also helices), G4.
    start, end : tuple of three floats
        Position of the controlled point [mm]. Moves are connected: each starts where the last one
        ended. G92 renames the place the tool stands on, so it shows in the program's numbers only;
        points keep the coordinates the program began with.
    centre : tuple of three floats or None
        Centre of an arc, at the level of its start [mm].
    sweep : float or None
        Turn of an arc [deg], counter-clockwise positive seen from the positive end of the axis
        normal to `plane`; a full circle is 360 or -360.
    plane : {'xy', 'zx', 'yz'}
        The selected plane (G17, G18, G19).
    feed : float or None
        Speed along the path, along the helix for a helix [mm/min]; None for rapids and dwells. In
        inverse time mode (G93) the speed that the asked duration implies: 0 for a move of no length.
    seconds : float or None
        Duration of a dwell [s].
    spindle_speed : float
        The programmed speed (S) [rpm], whether or not the spindle turns.
    spin : {'cw', 'ccw', 'off'}
        Whether and which way the spindle turns, seen from above.
    line : int
        Line of the text the move stands on, counted from 1.
    """

    kind: Kind
    start: Point
    end: Point
    centre: Point | None = None
    sweep: float | None = None
    plane: Plane = "xy"
    feed: float | None = None
    seconds: float | None = None
    spindle_speed: float = 0.0
    spin: Spin = "off"
    line: int = 0

    @property
    def length(self) -> float:
        """Length of the path [mm], along the helix for a helix."""
        return _length(self.start, self.end, self.centre, self.sweep, self.plane)


@dataclass(frozen=True, slots=True)
class Event:
    """What happens between two moves and no move can say.

    Attributes
    ----------
    kind : {'select', 'tool', 'stop', 'home', 'offset', 'blind'}
        T selects a tool, M6 puts it in, M0, M1 or M60 stops, G28, G30 or G53 goes to a place only the machine knows,
        G43 or G49 changes the length offset, the next rapid starts at a place that is not known in the face.
    at : int
        Number of moves before it.
    line : int
        Line of the text, counted from 1.
    code : str
        As it is called in messages.
    number : int or None
        Of the tool (None: none has been selected) or of the length offset (0: none).
    """

    kind: Literal["select", "tool", "stop", "home", "offset", "blind"]
    at: int
    line: int
    code: str
    number: int | None = None


@dataclass(frozen=True, slots=True)
class Reading:
    """What was read: moves, what happens between them, and what is to be warned of."""

    moves: list[Move]
    events: list[Event]
    notes: Notes


def read_moves(text: str, *, block_delete: bool = False, arc_tolerance: float = 0.0) -> list[Move]:
    r"""Read a program and return its moves in order.

    Parameters
    ----------
    text : str
        The program, lines ended by line feed, carriage return or both.
    block_delete : bool
        Setting of the block delete switch: True leaves out lines that begin with '/'. The default,
        off, carries them out (2.2.2).
    arc_tolerance : float
        The radii of an arc to its start and its end may differ by this, or by the 0.002 mm or 0.0002 inch of the
        language (3.5.3.2) where that is more; and the R of a half circle may fall short of half the chord by it.
        In [0, 0.5]. [mm]

    Returns
    -------
    list of Move
        In millimetres, from (0, 0, 0). At the start G1, G17, G21, G40, G49, G54, G90, G91.1 and G94 are
        in force, no feed is set and the spindle stands.

    Raises
    ------
    RS274Error
        The program breaks a rule of the language, or asks for something that would change the
        geometry by what only the machine knows: probing, tool radii, other origins, a move from a home
        that does not say where it goes; or that is not supported: subprograms, named parameters, canned
        cycles, rotational axes. Nothing is half-read.
    DomainError
        `text` is not a string, or `arc_tolerance` is out of range.

    Warns
    -----
    RS274Warning
        The program says no units; an arc is read as a full circle where a very short one may have been
        meant, or the other way round; what is not in the published language, or is decided by the machine,
        but can be read without a guess at the path (see Notes). One warning for each of these, with the
        line numbers (of the first twenty places).

    Notes
    -----
    Codes that mean nothing to the path of the tool (G40, G49, G54, G61, G61.1, G64, G98, G99, M0,
    M1, M7-M9, M48, M49, M60, T) are accepted; M6 stops the spindle (3.6.3). A unit change keeps the
    position but not the feed, which the report leaves unconverted (4.3.3.3): a new F is demanded
    before the next move at feed rate, as it is after a change from G93 to G94.

    Read with a warning, beside the published language: comments after ';', text after a comment that holds
    no code, lines of more than 256 characters, line numbers of any size anywhere on a line, a program number
    O or a name after the percent sign before the first code, a code given twice, M7 beside M8, G64 with P,
    G90.1 and G91.1 (the centre of an arc in the program's coordinates, or from the start of the arc: common
    practice, no source), a program without an end. Also with a warning: lines that begin with '/' and are
    carried out, what follows the end of the program, and a parameter that is read before it is set, taken as
    0 as in the report's default parameter file.

    G28, G30 and G53 end at places only the machine knows; of G28 and G30 the move to the point that is
    programmed is kept (3.5.8). G43 and G49 change where z is counted from. After either, an axis must be
    given in G90 before a move at feed needs it, and only a move straight down may begin at a z not known.

    References
    ----------
    Kramer, Proctor & Messina 2000, NISTIR 6556.

    Examples
    --------
    >>> from chipsim.rs274 import read_moves
    >>> [move.end for move in read_moves("G21 G90 F1200\nG1 X10 Z-2\nX20\nM2")]
    [(10.0, 0.0, -2.0), (20.0, 0.0, -2.0)]
    """
    if not isinstance(text, str):
        raise DomainError(f"text must be a str of RS-274/NGC code, got {type(text).__name__}")
    tolerance = number("arc_tolerance", arc_tolerance, low=0.0, high=MOST_ARC_TOLERANCE, unit="mm")
    reading = interpret(lines_of(text), block_delete, tolerance)
    warn(told(reading.notes))
    return reading.moves


def lines_of(text: str) -> list[str]:
    """Lines of a program, ended by line feed, carriage return or both."""
    return text.replace("\r\n", "\n").replace("\r", "\n").split("\n")


def interpret(lines: list[str], block_delete: bool, arc_tolerance: float | None = 0.0) -> Reading:
    """Read a program given as lines; RS274Error as for `read_moves`.

    `arc_tolerance` None stands for ten times what the language allows: 0.02 mm, or 0.002 inch where G20 is in force.
    """
    state = _State(arc_tolerance=arc_tolerance)
    opened = closed = 0  # line numbers of the percent lines
    begun = coded = named = finished = False
    for state.line, line in enumerate(lines, 1):
        if _is_plain_move(line, state):
            begun = coded = True
            continue
        try:
            code = _bare(line, state)
            if code == "%":  # 3.1, A.1
                if begun and not opened:
                    raise _Fault("a percent line ends a file that did not begin with one", "3.1")
                opened, closed = opened or state.line, opened and state.line
            elif code[:1] == "%":
                _look_at_name(code[1:], begun, state)
                opened = state.line
                named = True
            elif not coded and _PROGRAM_NUMBER.fullmatch(code):
                state.note("An O with a number names the program, which changes no motion. ISO 6983-1, from memory")
                coded = True
            elif code:
                finished = _carry_out(code, state, block_delete)
                coded = coded or not code.isspace()
        except _Fault as fault:
            raise error_at(state.line, line, fault) from None
        if finished or closed:
            break
        begun = begun or code != ""
    if opened and not named and not closed and not any(line.strip(" \t") == "%" for line in lines[state.line :]):
        raise error_at(opened, "%", _Fault("a percent line begins the file but none ends it", "3.1"))
    if not finished and not closed:
        state.note("the program ends here without M2, M30 or a pair of percent lines (NISTIR 6556, 3.1)")
    elif any(_COMMENT.sub("", line).strip(" \t\x1a\0") not in ("", "%") for line in lines[state.line :]):
        state.note("The program ends here. What stands on later lines is not read (NISTIR 6556, 3.1)")
    _look_at_circles(state)
    return Reading(state.moves, state.events, state.notes)


def _look_at_name(name: str, begun: bool, state: _State) -> None:
    """Refuse what stands behind a percent sign unless it is the name of the program."""
    if begun:
        raise _Fault("a percent sign with a name may stand on the first line only; here it may begin a program", "3.1")
    name = name.replace("\n", "")
    if not _NAME.fullmatch(name) or (_WORDS.fullmatch(name) and name[0] != "O"):
        raise _Fault("what follows the percent sign may be code", "3.1")
    state.note("What follows the percent sign is taken as the name of the program (NISTIR 6556, 3.1)")


def _look_at_circles(state: _State) -> None:
    """Note the arcs whose end is their start but for rounding, where what lies beside them speaks for another reading.

    A very short arc is one of a row of moves, and the last of a row follows the move before it smoothly; a circle that
    is meant stands alone, or climbs, or goes round as the move beside it does.
    """
    moves = state.moves
    for k, chord, climbs in state.circles:
        arc = moves[k]
        before = k > 0 and _leads_on(moves[k - 1], arc)
        after = k + 1 < len(moves) and _leads_on(moves[k + 1], arc)
        if abs(arc.sweep or 0.0) > 180.0:
            smooth = before and abs(_heading(moves[k - 1], arc, 1) - _heading(arc, arc, 0)) < 0.05
            if chord > _SAME or (not climbs and (after or smooth)):
                state.note(
                    "The end of this arc is its start, or lies just behind it, so the arc is read as a full circle. If "
                    "the end was rounded to the start, a very short arc was meant and this circle does not exist. "
                    "Check this line (NISTIR 6556, 3.5.3.2)", arc.line,
                )  # fmt: skip
        elif climbs or not (before or after):
            state.note(
                "The end of this arc lies very near its start, and no moves in its plane lead up to it or on from it. "
                "It is read as a very short arc. If a full circle was meant, its end was rounded past its start. "
                "Check this line (NISTIR 6556, 3.5.3.2)", arc.line,
            )  # fmt: skip


def _leads_on(move: Move, arc: Move) -> bool:
    """Whether a move beside an arc is at feed and leads elsewhere in its plane."""
    first, second, _ = AXES[arc.plane]
    return (
        move.feed is not None
        and math.hypot(move.end[first] - move.start[first], move.end[second] - move.start[second]) > _SAME
    )


def _heading(move: Move, arc: Move, end: int) -> complex:
    """Direction in the plane of an arc in which a move starts (0) or ends (1)."""
    first, second, _ = AXES[arc.plane]
    if move.centre is None or move.sweep is None or move.plane != arc.plane:
        way = complex(move.end[first] - move.start[first], move.end[second] - move.start[second])
    else:
        at = move.end if end else move.start
        way = complex(at[first] - move.centre[first], at[second] - move.centre[second])
        way *= complex(0.0, math.copysign(1.0, move.sweep))
    return way / abs(way)


def told(notes: Notes) -> tuple[str, ...]:
    """Notes as text: the line numbers of the first twenty places, then what is to be said of them."""
    out = []
    for message, numbers in notes.items():
        places = ", ".join(f"line {number}" for number in numbers[:20])
        more = f" and {len(numbers) - 20} more" if len(numbers) > 20 else ""
        out.append(f"{places}{more}: {message}")
    return tuple(out)


def warn(texts: tuple[str, ...]) -> None:
    """Give one RS274Warning a text to the caller of the function that calls this."""
    for text in texts:
        warnings.warn(text, RS274Warning, stacklevel=3)


def error_at(number: int, line: str, what: object) -> RS274Error:
    """Error that names line number, line and the rule it breaks."""
    shown = line.strip()
    return RS274Error(f"line {number}: {shown if len(shown) <= 80 else shown[:77] + '...'!r}: {what}")


# --- the modal state, and what one line says -----------------------------------------------------


class _Fault(Exception):
    """What is wrong and the rule it breaks; the line is added where it is known."""

    def __init__(self, what: str, section: str) -> None:
        super().__init__(f"{what} (NISTIR 6556, {section})")


@dataclass(slots=True)
class _State:
    """Everything that outlives a line. Lengths are in mm; the feed is the number that was written."""

    line: int = 0
    arc_tolerance: float | None = 0.0
    modes: dict[int, int] = field(default_factory=lambda: {1: 10, 2: 170, 3: 900, 5: 940, 6: 210, 14: 911})  # 3.6.1
    unit: float = 1.0
    position: Point = (0.0, 0.0, 0.0)
    origin: Point = (0.0, 0.0, 0.0)  # of the program's coordinates, moved by G92
    kept_origin: Point | None = None  # what G92.3 brings back; before the first G92 only the machine knows
    feed: float | None = None
    feed_lack: str = "no F has been given yet"
    speed: float = 0.0
    spin: Spin = "off"
    parameters: dict[int, float] = field(default_factory=dict)
    units_said: bool = False  # or it has been noted that they are not
    tool: int | None = None  # selected by T
    offset: int = 0  # number of the length offset in force, 0: none
    lost: dict[int, str] = field(default_factory=dict)  # axes whose place only the machine knows, and why
    moves: list[Move] = field(default_factory=list)
    events: list[Event] = field(default_factory=list)
    circles: list[tuple[int, float, bool]] = field(default_factory=list)  # arcs of next to no chord; it; whether steep
    notes: Notes = field(default_factory=dict)

    def note(self, message: str, line: int | None = None) -> None:
        numbers, here = self.notes.setdefault(message, []), self.line if line is None else line
        if numbers[-1:] != [here]:
            numbers.append(here)

    def happens(
        self,
        kind: Literal["select", "tool", "stop", "home", "offset", "blind"],
        code: str = "",
        number: int | None = None,
    ) -> None:
        self.events.append(Event(kind, len(self.moves), self.line, code, number))

    def parameter(self, index: float) -> float:
        number = _parameter_number(index)
        if number not in self.parameters:
            self.note(f"parameter {number} is read before it is set; taken as 0 (NISTIR 6556, 3.2.1)")
        return self.parameters.get(number, 0.0)


@dataclass(slots=True)
class _Block:
    """One line: words by letter, G and M codes by modal group (G in tenths), parameter settings."""

    words: dict[str, float] = field(default_factory=dict)
    g: dict[int, int] = field(default_factory=dict)
    m: dict[int, int] = field(default_factory=dict)
    settings: dict[int, float] = field(default_factory=dict)
    motion: int | None = None
    numbered: bool = False


# 3.4, table 4. G codes are counted in tenths, since G59.1 and G92.1 exist.
_ORIGINS = (550, 560, 570, 580, 590, 591, 592, 593)
_CYCLES = tuple(range(810, 900, 10))
_G_GROUPS: dict[int, tuple[int, ...]] = {
    0: (40, 100, 280, 300, 530, 920, 921, 922, 923),
    1: (0, 10, 20, 30, 382, 800, *_CYCLES),
    2: (170, 180, 190),
    3: (900, 910),
    5: (930, 940),
    6: (200, 210),
    7: (400, 410, 420),
    8: (430, 490),
    10: (980, 990),
    12: (540, *_ORIGINS),
    13: (610, 611, 640),
    14: (901, 911),  # not in the report
}
_M_GROUPS: dict[int, tuple[int, ...]] = {4: (0, 1, 2, 30, 60), 6: (6,), 7: (3, 4, 5), 8: (7, 8, 9), 9: (48, 49)}
_GROUP = {("G", code): group for group, codes in _G_GROUPS.items() for code in codes}
_GROUP |= {("M", code): group for group, codes in _M_GROUPS.items() for code in codes}
_SUBPROGRAMS = {("M", 97), ("M", 98), ("M", 99), ("G", 650)}  # common practice, no source

# Legal codes that would change the geometry by something a program does not contain.
_TABLE = "needs the tool table of the machine"
_REFUSED: dict[int, tuple[str, str]] = {
    100: ("sets an origin in coordinates only the machine knows", "3.5.5"),
    382: ("ends where the probe trips", "3.5.9"),
    410: (_TABLE, "3.5.10"),
    420: (_TABLE, "3.5.10"),
    **dict.fromkeys(_ORIGINS, ("uses an origin only the machine knows", "3.5.13")),
    **dict.fromkeys(_CYCLES, ("is a canned cycle, made for holes", "3.5.16")),
}

_PLANES: dict[int, Plane] = {170: "xy", 180: "zx", 190: "yz"}
# First and second axis of a plane and its normal: right-handed, so that one formula serves all three.
AXES: dict[str, tuple[int, int, int]] = {"xy": (0, 1, 2), "zx": (2, 0, 1), "yz": (1, 2, 0)}
_SPINS: dict[int, Spin] = {3: "cw", 4: "ccw", 5: "off"}
_NOT_NEGATIVE = {"F": "4.3.5.1", "S": "3.7.2", "T": "3.7.3", "P": "3.5.4", "H": "3.5.11"}
_FEED_LACKS = {
    5: "the feed mode has changed since the last F; give a new one",
    6: "the units have changed since the last F, which is not converted (4.3.3.3); give a new one",
}


# --- from characters to values -------------------------------------------------------------------

_NUMBER = r"[+-]?(?:[0-9]+\.?[0-9]*|\.[0-9]+)"  # 3.3.2.1, E.2: no exponent
_COMMENT = re.compile(r"\([^()]*\)|;.*", re.DOTALL)
_OPENING = re.compile(r"(/?)(?:N[0-9]{1,5}(?![0-9]))?")
_WORD = re.compile(rf"([A-Z])({_NUMBER})")
_OPERAND = re.compile(rf"({_NUMBER})|#|(?:A?COS|A?SIN|A?TAN|ABS|EXP|FIX|FUP|LN|ROUND|SQRT)?\[")
_OPERATOR = re.compile(r"\*\*|[*/+\-\]]|MOD|AND|XOR|OR")
_PLAIN_MOVE = re.compile(
    r"[ \t]*(?:N[0-9]{1,5}(?![0-9.])[ \t]*)?(?:G0?([01])(?![0-9.])[ \t]*)?"
    + "".join(rf"(?:{letter}({_NUMBER})[ \t]*)?" for letter in "XYZF"),
    re.IGNORECASE | re.ASCII,
)
_LETTERS = frozenset("ABCDFGHIJKLMPQRSTXYZ")  # table 3 without N
_BLANKS = str.maketrans("", "", " \t")
_LINE_NUMBER = re.compile(r"N[0-9]+(?![0-9.])")
_PROGRAM_NUMBER = re.compile(r"\n*(?:N[0-9]+)?O[0-9]+\n*")
_NAME = re.compile(r"[A-Z0-9_.,+-]*")
_WORDS = re.compile(rf"(?:[A-Z]{_NUMBER})+")
_SPOKEN = re.compile(r"[^\W\d_]{2}")
# What keeps text behind a comment from being left out: a number at a letter, or behind one or two letters or behind
# an axis, and the signs of the language.
_LIKE_CODE = re.compile(
    r"[A-Z][+.-]*[0-9]|(?<![A-Z])[A-Z]{1,2}[ \t]+[+.-]*[0-9]|[XYZIJK][ \t]+[+.-]*[0-9]|[][#=%/*:<>]", re.IGNORECASE
)


def _bare(line: str, state: _State) -> str:
    """Return the code of a line: no blanks, upper case, a line feed standing for each comment."""
    if len(line) > 256:
        state.note("The line has more than the 256 characters of the language and is read whole (NISTIR 6556, 3.3)")

    def mark(comment: re.Match[str]) -> str:
        if comment[0][0] == ";":
            state.note("comments after ';' are not in the language (NISTIR 6556, 3.3.4); left out")
            return ""
        if not comment[0].replace("\t", " ").isprintable():
            raise _Fault("a comment may hold printable characters and blanks only", "3.3.4")
        return "\n"

    if "(" in line or ";" in line:
        line = _COMMENT.sub(mark, line)
        if "(" in line:
            raise _Fault("a comment is not closed on its line or has another one inside", "3.3.4")
        code, _, rest = line.partition("\n")
        if rest and not rest.isspace():
            line = "\n".join([code, *("" if _is_text(part, state) else part for part in rest.split("\n"))])
    if not line.isascii():  # before upper(), which turns some foreign letters into ours
        raise _Fault("there are characters the language does not have", "3.3")
    return line.translate(_BLANKS).upper()


def _is_text(part: str, state: _State) -> bool:
    """Whether what stands between or behind comments is text that nobody could take for code."""
    if not _SPOKEN.search(part) or _LIKE_CODE.search(part) or not part.replace("\t", " ").isprintable():
        return False
    state.note("The text after a comment holds no code and is left out (NISTIR 6556, 3.3.4)")
    return True


def _read_block(code: str, at: int, state: _State) -> _Block:
    """Cut the code of a line from index `at` on into words and settings (3.3, E.2)."""
    block = _Block(numbered="N" in code[:at])
    while at < len(code):
        letter, word = code[at], _WORD.match(code, at)
        if letter == "\n":
            at += 1
        elif letter == "#":
            index, at = _evaluate(code, at + 1, state.parameter)
            if code[at : at + 1] != "=":
                raise _Fault(f"'=' is missing from a parameter setting, got {_rest(code, at)}", "3.3.3")
            value, at = _evaluate(code, at + 1, state.parameter)
            block.settings[_parameter_number(index)] = value
        elif letter == "N":
            found = _LINE_NUMBER.match(code, at)
            if found is None or block.numbered:
                raise _Fault("a line number is N and digits, once on a line", "3.3.1")
            at, block.numbered = found.end(), True
            state.note(
                "The line number has more than five digits or is not at the beginning of the line, which changes no "
                "motion (NISTIR 6556, 3.3.1)"
            )
        elif letter == "O":
            raise _Fault("O within a program belongs to a subprogram: not supported", "table 3")
        elif letter not in _LETTERS:
            raise _Fault(f"a word or a parameter setting was expected, got {_rest(code, at)}", "3.3.2, table 3")
        else:
            if word is not None:  # a plain number: nearly every word of a real file
                value, at = float(word[2]), word.end()
            else:
                value, at = _evaluate(code, at + 1, state.parameter)
            if letter == "G":
                _file(block.g, "G", _near_integer(10 * value, "a G code times ten"), 10, state)
            elif letter == "M":
                _file(block.m, "M", _near_integer(value, "an M code"), 1, state)
            elif letter in block.words:
                raise _Fault(f"{letter} is given twice", "3.3.5")
            else:
                block.words[letter] = value
    if len(block.m) > 4:
        raise _Fault(f"there are {len(block.m)} M codes, four are allowed", "3.3.5")
    return block


def _file(filed: dict[int, int], letter: str, code: int, scale: int, state: _State) -> None:
    """File a G or M code under its modal group."""
    group = _GROUP.get((letter, code))
    if group is None:
        said = "calls or ends a subprogram and " if (letter, code) in _SUBPROGRAMS else ""
        raise _Fault(f"{letter}{code / scale:g} {said}is not a code of the language", "tables 5 and 7")
    if group not in filed:
        filed[group] = code
    elif letter == "M" and {filed[group], code} == {7, 8}:
        state.note("M7 and M8 stand on one line; coolant changes no motion (NISTIR 6556, 3.6.4)")
    elif filed[group] == code and group != 0:
        state.note("A code stands on this line more than once and is carried out once (NISTIR 6556, 3.3.5)")
    else:
        both = f"{letter}{filed[group] / scale:g} and {letter}{code / scale:g}"
        raise _Fault(f"{both} are of the same modal group", "3.3.5 and table 4")


def _near_integer(value: float, what: str) -> int:
    nearest = round(value) if abs(value) < 1e9 else 0
    if abs(value - nearest) > 1e-4:
        raise _Fault(f"{what} must be within 0.0001 of a whole number, got {value:g}", "3.3.2.1")
    return nearest


def _parameter_number(index: float) -> int:
    number = _near_integer(index, "a parameter number")
    if not 1 <= number <= 5399:
        raise _Fault(f"a parameter number must lie in [1, 5399], got {number}", "3.3.2.2")
    if 5061 <= number <= 5386:
        raise _Fault(f"parameter {number} holds what only the machine knows: not supported", "3.2.1, table 2")
    return number


def _rest(code: str, at: int) -> str:
    if at >= len(code):
        return "the end of the line"
    return "a comment" if code[at] == "\n" else repr(code[at : at + 12].partition("\n")[0])


def _truth(test: Callable[[bool, bool], bool]) -> Callable[[float, float], float]:
    return lambda a, b: float(test(a != 0.0, b != 0.0))


def _modulo(a: float, b: float) -> float:
    rest = math.fmod(a, b)
    return rest + abs(b) if rest < 0.0 else rest  # never negative, from memory; the report is silent


def _nearest(a: float) -> float:
    below = math.floor(abs(a))  # a half goes away from zero, from memory; the report is silent
    return math.copysign(below + (abs(a) - below >= 0.5), a)


_RANK = {"]": 0, "+": 1, "-": 1, "OR": 1, "XOR": 1, "AND": 1, "*": 2, "/": 2, "MOD": 2, "**": 3}  # 3.3.2.3
_BINARY: dict[str, Callable[[float, float], float]] = {
    "+": operator.add,
    "-": operator.sub,
    "*": operator.mul,
    "/": operator.truediv,
    "**": math.pow,
    "MOD": _modulo,
    "OR": _truth(operator.or_),
    "XOR": _truth(operator.xor),
    "AND": _truth(operator.and_),
}
_UNARY: dict[str, Callable[[float], float]] = {
    "": float,
    "ABS": abs,
    "ACOS": lambda a: math.degrees(math.acos(a)),
    "ASIN": lambda a: math.degrees(math.asin(a)),
    "COS": lambda a: math.cos(math.radians(a)),
    "EXP": math.exp,
    "FIX": math.floor,
    "FUP": math.ceil,
    "LN": math.log,
    "ROUND": _nearest,
    "SIN": lambda a: math.sin(math.radians(a)),
    "SQRT": math.sqrt,
    "TAN": lambda a: math.tan(math.radians(a)),
}


def _compute(name: str, function: Callable[..., float], *values: float) -> float:
    try:
        out = float(function(*values))
    except (ArithmeticError, ValueError):
        out = math.nan
    if not math.isfinite(out):
        raise _Fault(f"{name or '[]'} has no finite value for {', '.join(f'{v:g}' for v in values)}", "3.3.2")
    return out


@dataclass(slots=True)
class _Bracket:
    """An open bracket: the function before it, and the operations still waiting for their right side."""

    function: str
    numerator: float | None = None  # of ATAN[y]/[x], in the second bracket
    values: list[float] = field(default_factory=list)
    operators: list[str] = field(default_factory=list)

    def take(self, value: float, sign: str) -> float:
        """Take a value and the sign after it; carry out what binds at least as tightly."""
        while self.operators and _RANK[self.operators[-1]] >= _RANK[sign]:
            name = self.operators.pop()
            value = _compute(name, _BINARY[name], self.values.pop(), value)
        self.values.append(value)
        self.operators.append(sign)
        return value

    def close(self, value: float) -> float:
        if self.numerator is not None:
            return _compute("ATAN", lambda y, x: math.degrees(math.atan2(y, x)), self.numerator, value)
        return _compute(self.function, _UNARY[self.function], value)


def _evaluate(code: str, at: int, parameter: Callable[[float], float]) -> tuple[float, int]:
    """Work out the real value at index `at` (3.3.2); return it and the index behind it.

    Open brackets lie on a list of our own, so that depth is bounded by the line and not by the stack.
    """
    waiting: list[_Bracket | None] = []  # None: a '#' that waits for its number
    while True:
        found = _OPERAND.match(code, at)
        if found is None and code.startswith("<", at):
            raise _Fault("a parameter with a name: not supported", "3.3.2.2")
        if found is None:
            raise _Fault(f"a number, '#', '[' or a function was expected, got {_rest(code, at)}", "3.3.2")
        at = found.end()
        if found[1] is None:
            waiting.append(None if found[0] == "#" else _Bracket(found[0][:-1]))
            continue
        value = float(found[1])
        while waiting:  # hand the value to whatever waits for it
            top = waiting[-1]
            if top is None:
                value = parameter(value)
                waiting.pop()
                continue
            sign = _OPERATOR.match(code, at)
            if sign is None:
                raise _Fault(f"an operation or ']' was expected, got {_rest(code, at)}", "3.3.2.3")
            at = sign.end()
            value = top.take(value, sign[0])
            if sign[0] != "]":
                break
            waiting.pop()
            if top.function == "ATAN" and top.numerator is None:
                if not code.startswith("/[", at):
                    raise _Fault(f"ATAN[y] must be followed by /[x], got {_rest(code, at)}", "3.3.2.4")
                at += 2
                waiting.append(_Bracket("ATAN", numerator=value))
                break
            value = top.close(value)
        else:
            return value, at


# --- carrying out a line -------------------------------------------------------------------------


def _is_plain_move(line: str, state: _State) -> bool:
    """Whether a line is G0 or G1, said here or before, with plain numbers and nothing to look into; it is carried out.

    Most lines of a carving in short chords are: the long way, with the same end, takes four times as long. Whatever is
    unusual is left to it, so that it is the only one that refuses and warns.
    """
    found = _PLAIN_MOVE.fullmatch(line)
    if found is None or not state.units_said or state.lost or state.modes[5] != 940 or len(line) > 256:
        return False
    code, x, y, z, feed = found.groups()
    motion = state.modes[1] if code is None else 10 * int(code)
    if (motion != 10 and motion != 0) or (x is None and y is None and z is None):
        return False
    rate = state.feed if feed is None else float(feed)
    if (motion == 10 and not rate) or (feed is not None and not 0.0 <= float(feed) < math.inf):
        return False
    start, unit = state.position, state.unit
    base = start if state.modes[3] == 910 else state.origin
    end = (
        start[0] if x is None else float(x) * unit + base[0],
        start[1] if y is None else float(y) * unit + base[1],
        start[2] if z is None else float(z) * unit + base[2],
    )
    if not -math.inf < end[0] + end[1] + end[2] < math.inf:
        return False
    along = rate * unit if motion == 10 and rate is not None else None
    if along == math.inf:
        return False
    state.modes[1], state.feed, state.position = motion, rate, end
    kind: Kind = "line" if motion == 10 else "rapid"
    plane = _PLANES[state.modes[2]]
    state.moves.append(Move(kind, start, end, None, None, plane, along, None, state.speed, state.spin, state.line))
    return True


def _carry_out(code: str, state: _State, block_delete: bool) -> bool:
    """Read and carry out the code of one line; return whether the program has ended."""
    opening = _OPENING.match(code)
    assert opening is not None  # both parts of the pattern are optional
    block = _read_block(code, opening.end(), state)
    if opening[1]:
        if block_delete:
            return False
        state.note("A line that begins with '/' is carried out, as block_delete is off (NISTIR 6556, 2.2.2)")
    for step in _ORDER:
        step(state, block)
    return block.m.get(4) in (2, 30)


def _plan(state: _State, block: _Block) -> None:
    """Settle what moves and refuse what cannot be carried out, before anything is."""
    words, explicit, once = block.words, block.g.get(1), block.g.get(0)
    for code in block.g.values():
        if code in _REFUSED:
            raise _Fault(f"G{code / 10:g} {_REFUSED[code][0]}: not supported", _REFUSED[code][1])
    for letter in "ABC":
        if letter in words:
            raise _Fault(f"{letter} is a rotational axis: not supported", "2.1.1.2")
    axes = not words.keys().isdisjoint("XYZ")
    if once == 920:
        if explicit not in (None, 800):
            raise _Fault(f"G92 and G{explicit / 10:g} both use axis words", "3.4")
        if not axes:
            raise _Fault("G92 needs at least one of X, Y and Z", "3.5.18")
    elif once in (280, 300):
        if explicit not in (None, 0, 800):  # G0 says no more than they do
            raise _Fault(f"G{once // 10} and G{explicit / 10:g} both use axis words", "3.4")
    elif once == 530:
        if (state.modes[1] if explicit is None else explicit) not in (0, 10):
            raise _Fault("G53 needs G0 or G1", "3.5.12")
        if not axes:
            raise _Fault("G53 needs at least one of X, Y and Z", "3.5.12")
    elif axes or explicit is not None:
        block.motion = state.modes[1] if explicit is None else explicit
        if block.motion == 800 and axes:
            raise _Fault("axis words while G80 is active", "3.5.15")
        if block.motion in (0, 10) and not axes:
            raise _Fault(f"X, Y and Z are all missing from G{block.motion // 10}", f"3.5.{1 + block.motion // 10}")
    if once == 40 and "P" not in words:
        raise _Fault("G4 needs P, the seconds", "3.5.4")
    used = "FSTXYZ" + ("P" if once == 40 else "") + ("IJKR" if block.motion in (20, 30) else "")
    if block.g.get(8) == 430:
        if "H" not in words:
            raise _Fault("G43 needs H, the number of the offset", "3.5.11")
        _near_integer(words["H"], "the number of an offset")
        used += "H"
    if "P" in words and block.g.get(13) == 640:
        if once == 40:
            raise _Fault("P belongs to G4 or to G64", "3.5.4")
        state.note(
            "G64 with P lets the machine leave the path within that distance. The path is taken as it is written. "
            "Common practice, no source"
        )
        used += "P"
    for letter, value in words.items():
        if letter not in used:
            raise _Fault(f"{letter} has no meaning on this line", "app. A, extra words")
        if letter in "FSTPH" and value < 0.0:
            raise _Fault(f"{letter} must not be negative, got {value:g}", _NOT_NEGATIVE[letter])
    if "T" in words:
        _near_integer(words["T"], "a tool number")


def _set_parameters(state: _State, block: _Block) -> None:
    state.parameters.update(block.settings)  # after all values of the line have been read: 3.3.3


def _set_modes(state: _State, block: _Block) -> None:
    for group, why in _FEED_LACKS.items():
        if block.g.get(group, state.modes[group]) != state.modes[group]:
            state.feed, state.feed_lack = None, why
    for group in block.g.keys() & state.modes.keys():
        state.modes[group] = block.g[group]
    state.unit = inch if state.modes[6] == 200 else 1.0
    state.units_said = state.units_said or 6 in block.g
    if 14 in block.g:
        start = "the start of the arc" if block.g[14] == 911 else "the zero of the program"
        state.note(
            f"G{block.g[14] / 10:g} is not in the published language. I, J and K are taken from {start}. "
            "Common practice, no source"
        )


def _set_feed(state: _State, block: _Block) -> None:
    state.feed = block.words.get("F", state.feed)


def _set_spindle(state: _State, block: _Block) -> None:
    state.speed = block.words.get("S", state.speed)
    if "T" in block.words:
        state.tool = _near_integer(block.words["T"], "a tool number")
        state.happens("select", f"T{state.tool}", state.tool)
    if 6 in block.m:
        state.spin = "off"  # 3.6.3
        state.happens("tool", "M6", state.tool)
    if 7 in block.m:
        state.spin = _SPINS[block.m[7]]


def _dwell(state: _State, block: _Block) -> None:
    if block.g.get(0) == 40:
        _add(state, "dwell", state.position, seconds=block.words["P"])


def _set_offset(state: _State, block: _Block) -> None:
    """Change the length offset (3.5.11); z is counted anew, from where only the machine knows."""
    code = block.g.get(8)
    if code is None:
        return
    offset = _near_integer(block.words["H"], "the number of an offset") if code == 430 else 0
    if code == 430:
        state.note(
            "G43 takes the length of the tool from a table of the machine. It is taken to bring the tip of the bit to "
            "the z that is written (NISTIR 6556, 3.5.11)"
        )
    if offset == state.offset:
        return
    if code == 490:
        state.note("G49 gives up the length of the tool. What z means from here on is not known (NISTIR 6556, 3.5.11)")
    called = f"G43 H{offset}" if code == 430 else "G49"
    state.offset = offset
    state.happens("offset", called, offset)
    if state.moves:
        state.lost[2] = f"{called} on line {state.line} counts z anew"


def _set_origin(state: _State, block: _Block) -> None:
    code = block.g.get(0)
    if code == 920:  # incremental mode has no effect on it
        for axis in state.lost:
            if "XYZ"[axis] in block.words:
                raise _Fault(f"G92 {'XYZ'[axis]} at a place only the machine knows: {state.lost[axis]}", "3.5.18")
        _look_at_units(state)
        x, y, z = (
            state.position[axis] - block.words[letter] * state.unit if letter in block.words else state.origin[axis]
            for axis, letter in enumerate("XYZ")
        )
        state.origin = state.kept_origin = (x, y, z)
    elif code == 921:
        state.origin = state.kept_origin = (0.0, 0.0, 0.0)
    elif code == 922:
        state.origin = (0.0, 0.0, 0.0)
    elif code == 923:
        if state.kept_origin is None:
            raise _Fault("G92.3 brings back offsets this program has not set", "3.5.18")
        state.origin = state.kept_origin


def _go_home(state: _State, block: _Block) -> None:
    """G28, G30 and G53: what the program says of the way; where it ends only the machine knows."""
    once = block.g.get(0)
    if once not in (280, 300, 530):
        return
    words, called = block.words, f"G{once // 10}"
    named = [axis for axis, letter in enumerate("XYZ") if letter in words]
    if once != 530 and named:  # 3.5.8: by way of the programmed point
        _look_at_units(state)
        end, relative = list(state.position), state.modes[3] == 910
        for axis in named:
            step = words["XYZ"[axis]] * state.unit
            if relative and axis in state.lost:
                if step != 0.0:
                    raise _Fault(f"{'XYZ'[axis]} is a step from an unknown place: {state.lost[axis]}", "3.5.17")
                continue
            end[axis] = step + (end[axis] if relative else state.origin[axis])
        if tuple(end) != state.position:
            if not state.lost.keys().isdisjoint((0, 1)):
                state.happens("blind")
            _add(state, "rapid", (end[0], end[1], end[2]))
    why = f"{called} on line {state.line} ends where only the machine knows"
    state.lost.update(dict.fromkeys(named if once == 530 else range(3), why))
    state.happens("home", called)
    state.note(
        f"{called} goes to a place only the machine knows. That place and the way to it are taken to lie above the "
        f"board. Neither length nor time of the move is counted (NISTIR 6556, {'3.5.12' if once == 530 else '3.5.8'})"
    )


def _find(state: _State, block: _Block, end: Point) -> None:
    """Look whether a move says where it starts and ends, after the machine went to a place of its own."""
    lost, words = state.lost, block.words
    for axis, why in lost.items():
        if "XYZ"[axis] in words and state.modes[3] == 910:
            raise _Fault(f"{'XYZ'[axis]} is a step from an unknown place: {why}", "3.5.17")
    left = {axis: why for axis, why in lost.items() if "XYZ"[axis] not in words}
    if block.motion != 0:
        # Straight down or up to a z that is given is the one move at feed that need not know where it starts
        upright = block.motion == 10 and end[:2] == state.position[:2] and not left
        if not lost.keys() <= {2} or not upright:
            why = next(iter(lost.values()))
            raise _Fault(f"a move at feed begins at a place that is not known: {why}", "4.3.6.1")
    elif 0 in lost or 1 in lost:
        state.happens("blind")
    state.lost = left


def _look_at_units(state: _State) -> None:
    if not state.units_said:
        state.units_said = True
        state.note(
            "NO UNITS ARE SAID: neither G20 (inches) nor G21 (millimetres) stands before this line. MILLIMETRES ARE "
            "ASSUMED for all lengths and feeds. If the program is in inches, everything is 25.4 times as large as it "
            "is read here: write G20 or G21 on its first line (NISTIR 6556, 3.5.7)"
        )


def _move(state: _State, block: _Block) -> None:
    if block.motion is None or block.motion == 800:
        return
    if not state.units_said:
        _look_at_units(state)
    words, start = block.words, state.position
    base = start if state.modes[3] == 910 else state.origin
    x, y, z = (
        words[letter] * state.unit + base[axis] if letter in words else start[axis] for axis, letter in enumerate("XYZ")
    )
    end = (x, y, z)
    if state.lost:
        _find(state, block, end)
    if block.motion == 0:
        _add(state, "rapid", end)
    elif block.motion == 10:
        _add(state, "line", end, feed=_feed_along(state, block, math.dist(start, end)))
    else:
        plane = _PLANES[state.modes[2]]
        centre, sweep = _arc(state, words, end, plane, turn=-1.0 if block.motion == 20 else 1.0)
        feed = _feed_along(state, block, _length(start, end, centre, sweep, plane))
        _add(state, "arc", end, centre=centre, sweep=sweep, feed=feed)


def _stop(state: _State, block: _Block) -> None:
    code = block.m.get(4)
    if code in (0, 1, 60):
        state.happens("stop", f"M{code}")


# The order of execution of 3.8, table 8, in its numbers. What is left out does nothing to the path of
# the tool; modes may be set together, as no mode matters to steps 4 to 10 and an F belongs to the units
# of its own line.
_ORDER: tuple[Callable[[_State, _Block], None], ...] = (
    _plan,
    _set_parameters,
    _set_modes,  # 2, 11, 12, 17
    _set_feed,  # 3
    _set_spindle,  # 4, 5, 6, 7
    _dwell,  # 10
    _set_offset,  # 14
    _set_origin,  # 19
    _go_home,  # 19, 20
    _move,  # 20
    _stop,  # 21
)


def _feed_along(state: _State, block: _Block, length: float) -> float:
    """Feed [mm/min] of a move of that length [mm]."""
    inverse = state.modes[5] == 930
    number = block.words.get("F") if inverse else state.feed  # there an F is good for its own line only
    if number is None and inverse:
        raise _Fault("in inverse time mode every move at feed rate needs its own F", "3.5.19")
    if number is None:
        raise _Fault(f"a move at feed rate has no feed: {state.feed_lack}", "3.7.1")
    if number == 0.0:
        raise _Fault("a move at feed rate has feed 0", "interpreter message, from memory")
    return number * (length if inverse else state.unit)


MOST_ARC_TOLERANCE = 0.5
"""Beyond this an arc is no longer the one that is written. [mm]"""

_SAME = 1e-9
"""Points closer than this are one point: far below what a program can write, above rounding. [mm]"""


def _arc(state: _State, words: dict[str, float], end: Point, plane: Plane, turn: float) -> tuple[Point, float]:
    """Centre [mm] and signed sweep [deg] of a G2 (turn -1) or G3 (turn 1), in either format (3.5.3)."""
    first, second, normal = AXES[plane]
    section, where = "3.5.3.1" if "R" in words else "3.5.3.2", f"a circle in the {plane.upper()} plane"
    if "XYZ"[first] not in words and "XYZ"[second] not in words:
        raise _Fault(f"both {'XYZ'[first]} and {'XYZ'[second]} are missing from {where}", section)
    if "R" in words and not words.keys().isdisjoint("IJK"):
        raise _Fault(f"{where} has R and a centre as well", section)
    if "IJK"[normal] in words:
        raise _Fault(f"{'IJK'[normal]} has no meaning for {where}", section)
    a, b = state.position[first], state.position[second]
    along, across = end[first] - a, end[second] - b
    chord = math.hypot(along, across)
    rule, unit = (0.002, "mm") if state.unit == 1.0 else (0.0002, "inch")  # 3.5.3.2
    if state.arc_tolerance is None:
        most, allowed = 10 * rule * state.unit, f"{10 * rule:g} {unit}"
    elif state.arc_tolerance > rule * state.unit:
        most, allowed = state.arc_tolerance, f"{state.arc_tolerance:g} mm"
    else:
        most, allowed = rule * state.unit, f"{rule:g} {unit}"
    if "R" in words:
        radius = abs(words["R"]) * state.unit
        if chord <= _SAME:
            raise _Fault("the end point of a circle given by R is its starting point", section)
        if chord / 2 > radius * (1 + 1e-9):  # rounding must not spoil a half circle
            if radius == 0.0 or state.arc_tolerance == 0.0 or chord / 2 - radius > most:
                raise _Fault("R is too small to reach the end point", f"{section}, interpreter message")
            state.note(
                "R is less than half the way to the end point, by no more than arc_tolerance. It is read as the half "
                "circle between the two points (NISTIR 6556, 3.5.3.1)"
            )
        height = math.sqrt(max((radius - chord / 2) * (radius + chord / 2), 0.0))
        side = math.copysign(height / chord, turn * words["R"])  # the centre lies left of a short G3
        a, b = a + along / 2 - side * across, b + across / 2 + side * along
        short = 2 * math.degrees(math.atan2(chord / 2, height))
        sweep = turn * (short if words["R"] > 0 else 360.0 - short)
    else:
        i, j = words.get("IJK"[first]), words.get("IJK"[second])
        if i is None and j is None:
            raise _Fault(f"both {'IJK'[first]} and {'IJK'[second]} are missing from {where}", section)
        if state.modes[14] == 901:
            if i is None or j is None:
                raise _Fault(f"with G90.1 {where} needs both {'IJK'[first]} and {'IJK'[second]}", section)
            i, j = i * state.unit + state.origin[first] - a, j * state.unit + state.origin[second] - b
        else:
            i, j = (i or 0.0) * state.unit, (j or 0.0) * state.unit
        a, b = a + i, b + j
        u, v = end[first] - a, end[second] - b
        before, after = math.hypot(i, j), math.hypot(u, v)
        if abs(before - after) > most + _SAME:
            hint, p, q = "", i + state.origin[first], j + state.origin[second]  # were they counted from zero
            if abs(math.dist((p, q), (a - i, b - j)) - math.dist((p, q), (end[first], end[second]))) <= most:
                hint = "; they agree if I, J and K are counted from the zero of the program, which G90.1 says"
            off = abs(before - after) / state.unit
            raise _Fault(f"the radii to start and end differ by {off:.4g} {unit}, more than {allowed}{hint}", section)
        if not min(before, after) > 0.0:
            raise _Fault("the centre of a circle lies on its start or end", section)
        if abs(before - after) > rule * state.unit + _SAME:
            state.note(
                f"The radii to the start and to the end of this arc differ by more than the {rule:g} {unit} of the "
                "language, but by no more than arc_tolerance. The ends are kept as they are written, and the radius "
                "changes evenly between them (NISTIR 6556, 3.5.3.2)"
            )
        sweep = 360.0 * turn if chord <= _SAME else turn_about(i, j, u, v, turn)
        if chord <= most:
            state.circles.append((len(state.moves), chord, abs(end[normal] - state.position[normal]) > most))
    centre = list(state.position)
    centre[first], centre[second] = a, b
    return (centre[0], centre[1], centre[2]), sweep


def turn_about(i: float, j: float, u: float, v: float, turn: float) -> float:
    """Signed sweep [deg] of an arc with its centre at (i, j) from its start and its end at (u, v) from the centre."""
    sweep = math.degrees(math.atan2(u * j - v * i, -(u * i + v * j)))
    return sweep + 360.0 * turn if sweep * turn <= 1e-9 else sweep


def _length(start: Point, end: Point, centre: Point | None, sweep: float | None, plane: Plane) -> float:
    if centre is None or sweep is None:
        return math.dist(start, end)
    first, second, normal = AXES[plane]
    before = math.hypot(start[first] - centre[first], start[second] - centre[second])
    after = math.hypot(end[first] - centre[first], end[second] - centre[second])
    return math.hypot(math.radians(abs(sweep)) * (before + after) / 2, end[normal] - start[normal])


def _add(
    state: _State,
    kind: Kind,
    end: Point,
    centre: Point | None = None,
    sweep: float | None = None,
    feed: float | None = None,
    seconds: float | None = None,
) -> None:
    if not all(map(math.isfinite, (*end, *(centre or ()), sweep or 0.0, feed or 0.0))):
        raise _Fault("the move leaves the range of numbers", "3.3.2.1")
    plane, start, state.position = _PLANES[state.modes[2]], state.position, end
    state.moves.append(Move(kind, start, end, centre, sweep, plane, feed, seconds, state.speed, state.spin, state.line))
