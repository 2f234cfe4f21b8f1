"""Grades of a test piece: the form in which they are written down, its reader, and how well two readings agree.

One grade is one lip of one ring over one sector: the worst millimetre there, 0 to 4, with a letter for its kind.
"""

from __future__ import annotations

import csv
import io
import os
from collections import Counter, defaultdict
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from types import MappingProxyType
from typing import NamedTuple

import numpy as np

from .._shared.arrays import choice, instance, number
from .._shared.arrays import seed as checked_seed
from .._shared.files import checked_path, whole_file
from .._shared.tables import Columns, Result, columns_of, csv_text
from ..errors import DomainError
from ..units import table_text
from .testpiece import Coupon

__all__ = [
    "DROPPED",
    "FLAGS",
    "KINDS",
    "SCALE",
    "Agreement",
    "Grade",
    "Grades",
    "read_grades",
    "write_grade_form",
]

SCALE: tuple[tuple[str, str, str], ...] = (
    ("clean", "line unbroken at 10x; a thread drawn across does not catch", "nothing to do"),
    ("brush", "hairs to 0.1 mm (4 thou), seen only with the loupe", "a stroke of the brush"),
    ("light sanding", "fringe seen by eye, to 0.3 mm, on up to half the box", "one pass of fine abrasive"),
    ("heavy sanding", "fringe on most of the box, or nicks to 0.3 mm into the face", "sanding that softens the lip"),
    ("re-cut", "lifted bundle, chip or tear beyond 0.3 mm (12 thou)", "cutting deeper, or filling"),
)
"""Word, what is seen and the cure for grades 0 to 4 (this project's scale; common practice, no source)."""

KINDS: Mapping[str, str] = MappingProxyType({"f": "stands proud: fuzz", "t": "missing: tear or chip", "b": "both"})
"""Letter that goes with every grade from 1 to 4: fuzz and tear go opposite ways with the feed."""

FLAGS: Mapping[str, str] = MappingProxyType(
    {"s": "scorched", "c": "chatter", "w": "width off", "k": "knot or figure", "p": "plunge mark or join"}
)
"""Side notes, never mixed into the grade; a row without s counts as not scorched."""

DROPPED = "kp"
"""Flags that take a row out of the fit."""

_COLUMNS = ("piece", "identity", "ring", "sector", "lip", "reading", "grade", "kind", "flags", "note")
_GRID = ("piece", "identity", "ring", "lip", "reading", "rest", "note")
"""Columns of the grid form but for its boxes, which are headed by their numbers."""

_LIPS = ("out", "in")
_SIDES = ("left", "right")  # of a stroke, as seen along it from its first stretch
_FAULTS = 20  # named in one error

_NOT_ASKED = "."  # in a box of the grid that nobody is to fill in

_UNREAD = ("-", "--", "?", "/", "\u2013", "\u2014")  # in a box that was looked at and could not be judged

_TICKS = ("x", "y", "yes", "0", "ok", "clean", "rest clean", "\u2713", "\u2714", "v")  # that the rest is clean

_WORDS = {
    "clean": "0", "brush": "1", "faint": "1", "light sanding": "2", "light": "2", "fuzzy": "2", "heavy sanding": "3",
    "heavy": "3", "ragged": "3", "re-cut": "4", "recut": "4", "spoiled": "4", "spoilt": "4",
    "fuzz": "f", "proud": "f", "torn": "t", "tear": "t", "chip": "t", "chipped": "t", "missing": "t", "both": "b",
    "scorched": "s", "scorch": "s", "burnt": "s", "chatter": "c", "knot": "k", "join": "p", "plunge": "p",
}  # fmt: skip
"""Words that stand for a digit or a letter in a box, longest first when they are looked for."""


class Grade(NamedTuple):
    """One reading of one lip of one sector of a ring; `grade` None: not read; kind, flags, note as on the form.

    Examples
    --------
    >>> from chipsim.learning.grading import Grade
    >>> Grade(ring="A", sector=1, lip="out", reading=1, grade=2, kind="f").grade
    2
    """

    ring: str
    sector: int
    lip: str
    reading: int
    grade: int | None
    kind: str = ""
    flags: str = ""
    note: str = ""


class Agreement(NamedTuple):
    """How two readings of the same places agree: shares, and quadratic weighted kappa (NaN if all grades are one)."""

    pairs: int
    exact: float
    within_one: float
    kappa: float

    def __str__(self) -> str:
        if not self.pairs:
            return "No place was read twice: how well the reading repeats is not known."
        advice = "kappa says nothing where all grades are one"
        if self.kappa >= 0.6:
            advice = "use as is"
        elif self.kappa >= 0.4:
            advice = "moderate agreement, 0.6 is good"
        elif self.kappa < 0.4:
            advice = "read again in better light"
        kappa = f"{self.kappa:.2f}" if np.isfinite(self.kappa) else "undefined"
        return (
            f"{self.pairs} places were read twice: {self.exact:.0%} got the same grade, {self.within_one:.0%} the same "
            f"or the next. Agreement beyond chance (quadratic weighted kappa) is {kappa}: {advice}."
        )


@dataclass(frozen=True)
class Grades(Result):
    """Everything that was written on the form of one test piece, in a fixed order whatever order it came in.

    Print it for a summary. It iterates over its rows, as `Grade`; `to_csv` gives the form as filled in, which
    `read_grades` reads back.

    Parameters
    ----------
    piece
        Name of the coupon.
    rows
        In any order.
    identity
        Letters of the coupon, `Coupon.identity`; '': not known. `fit` takes only grades that have those of its coupon.

    Raises
    ------
    DomainError
        If a value is out of its range, a kind is missing or uncalled for, or a place is read twice as one reading.

    Examples
    --------
    >>> import chipsim as cs
    >>> from chipsim.learning.grading import Grade
    >>> one = Grade(ring="A", sector=1, lip="out", reading=1, grade=2, kind="f")
    >>> len(cs.Grades("off-cut", (one,)))
    1
    """

    piece: str
    rows: tuple[Grade, ...]
    identity: str = ""

    def __post_init__(self) -> None:
        instance("piece", self.piece, str, "a str")
        instance("identity", self.identity, str, "a str, as Coupon.identity")
        try:
            rows = tuple(Grade(*row) for row in self.rows)
        except TypeError:
            raise DomainError(f"rows must be Grades or tuples of their fields, got {self.rows!r:.80}") from None
        for row in rows:
            fault = _fault(row)
            if fault:
                raise DomainError(f"grade of ring {row.ring} sector {row.sector} {row.lip}: {fault[0]} {fault[1]}")
        order = [row[:4] for row in rows]
        if len(set(order)) < len(order):
            ring, sector, lip, _ = next(place for place in order if order.count(place) > 1)
            raise DomainError(f"rows must hold each reading once, got ring {ring} sector {sector} {lip} twice")
        object.__setattr__(self, "rows", tuple(sorted(rows, key=lambda r: r[:4])))

    def __len__(self) -> int:
        return len(self.rows)

    def __iter__(self) -> Iterator[Grade]:
        return iter(self.rows)

    def used(self) -> tuple[Grade, ...]:
        """Rows that were read and have no flag that drops them."""
        return tuple(r for r in self.rows if r.grade is not None and not set(r.flags) & set(DROPPED))

    def agreement(self) -> Agreement:
        """Agreement of the first and the second reading of the places read twice."""
        first = {r[:3]: r.grade for r in self.used() if r.reading == 1}
        pairs = [(first[r[:3]], r.grade) for r in self.used() if r.reading == 2 and r[:3] in first]
        return weighted_kappa(pairs)  # type: ignore[arg-type]  # used() rows are read

    def __repr__(self) -> str:
        return f"<Grades of {self.piece[:60]!r}: {len(self.used())} of {len(self)} rows used>"

    def __str__(self) -> str:
        used, count = self.used(), Counter(row.grade for row in self.rows if row.grade is not None)
        cells: list[tuple[str, ...]] = [("grade", "", "places", "used")]
        for grade, (word, _, _) in enumerate(SCALE):
            cells.append((str(grade), word, str(count[grade]), str(sum(row.grade == grade for row in used))))
        scorched = sum("s" in row.flags for row in used)
        return "\n".join(
            [
                f"Grades of {self.piece}, identity {self.identity or 'not known'}: {sum(count.values())} of "
                f"{len(self)} rows read, {len(used)} used, {scorched} of them scorched",
                *("  " + row for row in table_text(cells).splitlines()),
                str(self.agreement()),
            ]
        )

    def _columns(self) -> Columns:
        return _form(self.piece, self.identity, self.rows)


def _form(piece: str, identity: str, rows: Sequence[Grade]) -> Columns:
    """Columns of the form, `_COLUMNS`."""
    own = {"piece": [piece] * len(rows), "identity": [identity] * len(rows)}
    return {**own, **columns_of(rows, {name: name for name in Grade._fields})}


def weighted_kappa(pairs: Sequence[tuple[int, int]]) -> Agreement:
    """Agreement of pairs of grades 0 to 4; kappa with quadratic weights (Cohen 1968, from memory)."""
    if not pairs:
        return Agreement(0, np.nan, np.nan, np.nan)
    a, b = np.array(pairs).T
    apart = np.abs(a - b)
    # disagreement expected if the second reading were shuffled against the first
    chance = float(np.mean((a[:, None] - b[None, :]) ** 2.0))
    kappa = 1 - float(np.mean(apart**2.0)) / chance if chance > 0 else np.nan
    return Agreement(len(pairs), float(np.mean(apart == 0)), float(np.mean(apart <= 1)), kappa)


def _fault(row: Grade) -> tuple[str, str] | None:
    """Column and what is wrong with it, or None."""
    return next(iter(_faults(row)), None)


def _faults(row: Grade) -> list[tuple[str, str]]:
    """Columns and what is wrong with each, no column twice."""
    kinds = [name for name in ("ring", "lip", "kind", "flags", "note") if not isinstance(getattr(row, name), str)]
    if kinds:
        return [(name, f"must be a str, got {type(getattr(row, name)).__name__}") for name in kinds]
    found: list[tuple[str, str]] = []
    if not isinstance(row.sector, int) or isinstance(row.sector, bool) or row.sector < 1:
        found.append(("sector", f"must be a whole number from 1, got {row.sector!r}"))
    if row.lip not in (*_LIPS, *_SIDES):
        found.append(("lip", f"must be 'out' or 'in', got {row.lip!r}; of a stroke 'left' or 'right'"))
    if not isinstance(row.reading, int) or row.reading not in (1, 2):
        found.append(("reading", f"must be 1 or 2, got {row.reading!r}"))
    if row.grade is not None and (isinstance(row.grade, bool) or row.grade not in (0, 1, 2, 3, 4)):
        found.append(("grade", f"must be 0, 1, 2, 3 or 4, got {row.grade!r}"))
    if row.kind not in ("", *KINDS):
        found.append(("kind", f"must be f, t or b, got {row.kind!r}"))
    elif row.grade and not row.kind:
        lacks = f"must be f (stands proud), t (missing) or b (both) with grade {row.grade}, got nothing"
        found.append(("kind", lacks))
    elif row.kind and not row.grade:
        when = "with grade 0" if row.grade == 0 else "without a grade"
        found.append(("kind", f"must be empty {when}, got {row.kind!r}"))
    if "\n" in row.note or "\r" in row.note:
        found.append(("note", f"must be of one line, got {row.note[:40]!r}: is a quotation mark left open?"))
    strange = sorted(set(row.flags) - set(FLAGS))
    if strange:
        found.append(("flags", f"must be letters of {', '.join(FLAGS)}, got {''.join(strange)!r}"))
    return found


def write_grade_form(
    coupon: Coupon,
    path: str | os.PathLike[str] | None = None,
    *,
    again: float = 0.2,
    seed: int = 0,
    layout: str = "grid",
) -> str:
    """Write the empty form: a line for each ring and lip with a box for each sector, and lines for second readings.

    Rings are named by their blind letters only; straight strokes follow them. A box of the join holds p, one that is
    not asked for a dot. Every line carries the piece's `Coupon.identity`, by which the form is known again.

    Into a box goes what the sheet says: the grade and its letter, with flags behind it (2f, 3t, 0, 1f s). Who writes
    only what is not clean puts an x into the column `rest` of that line: its empty boxes are then clean. Without it an
    empty box was not read, and so was one with a dash.

    Parameters
    ----------
    coupon
        The test piece.
    path
        CSV file to write; None: the text is only returned. A file that is there already is replaced only if it is an
        empty form.
    again
        Share of places to read a second time, later and without looking at the first; at least 24 unless 0. [-]
    seed
        Of the choice of those places.
    layout
        'grid'; or 'list': a row for every single place, as `Grades.to_csv` gives it.

    Raises
    ------
    DomainError
        If an argument is out of range, or the file holds grades or anything else but an empty form.

    Examples
    --------
    >>> import chipsim as cs
    >>> board = cs.Board(cs.wood("black cherry"), cs.straight_grain(azimuth=0))
    >>> piece = cs.coupon(cs.VBit(90, 10, 2), board, 18_000, 1200, machine=cs.Machine(800, 5000), sectors=8)
    >>> form = cs.write_grade_form(piece, "form.csv")
    >>> form.splitlines()[0]
    'piece,identity,ring,lip,reading,1,2,3,4,5,6,7,8,rest,note'
    """
    instance("coupon", coupon, Coupon, "a Coupon, as from coupon()")
    share = number("again", again, low=0, high=1)
    shape = choice("layout", layout, ("grid", "list"))
    chosen = second_places(coupon, share, seed)
    if path is not None:
        _refuse_to_overwrite(checked_path(path))
    first = [Grade(*place, 1, None, "", "p" if marked else "") for place, marked in _places(coupon)]
    rows = [*first, *(Grade(*place, 2, None) for place in chosen)]
    text = csv_text(_form(coupon.name, coupon.identity, rows) if shape == "list" else _grid(coupon, rows))
    if path is not None:
        with whole_file(path) as handle:
            handle.write(text)
    return text


def _places(coupon: Coupon) -> list[tuple[tuple[str, int, str], bool]]:
    """Every place of a piece, (code, sector, lip), rings by letter and then strokes; whether it is not to be graded."""
    return [
        ((code, s, lip), s in marked)
        for code, parts, lips, marked in graded_lines(coupon)
        for s in range(1, parts + 1)
        for lip in lips
    ]


def graded_lines(coupon: Coupon) -> list[tuple[str, int, tuple[str, str], tuple[int, ...]]]:
    """Code, number of boxes, lips and boxes not to be graded of whatever has boxes, in the order of all forms."""
    rings = sorted(coupon.rings, key=lambda r: r.code)
    strokes = sorted(coupon.strokes, key=lambda s: int(s.code[1:]))
    return [
        *((r.code, coupon.sectors, _LIPS, r.marked) for r in rings),
        *((s.code, s.parts, _SIDES, s.marked) for s in strokes),
    ]


def second_places(coupon: Coupon, again: float = 0.2, seed: int = 0) -> list[tuple[str, int, str]]:
    """Places that the form asks to be read a second time, in its order: a share of all, at least 24 unless 0."""
    free = [place for place, marked in _places(coupon) if not marked]
    count = min(len(free), max(24, round(again * len(free)))) if again else 0
    rng = np.random.default_rng(checked_seed(seed))
    return [free[i] for i in sorted(rng.choice(len(free), count, replace=False).tolist())] if count else []


def _grid(coupon: Coupon, rows: Sequence[Grade]) -> Columns:
    """Columns of the grid form: a line for each ring, lip and reading of which a place is asked for."""
    asked = {row[:4]: row for row in rows}
    most = max(parts for _, parts, _, _ in graded_lines(coupon))
    lines: list[list[str]] = []
    for reading in (1, 2):
        for code, parts, lips, _ in graded_lines(coupon):
            for lip in lips:
                places = [(code, s, lip, reading) for s in range(1, most + 1)]
                if not any(place in asked for place in places):
                    continue
                cells = [_cell(asked[p]) if p in asked and p[1] <= parts else _NOT_ASKED for p in places]
                lines.append([coupon.name, coupon.identity, code, lip, str(reading), *cells, "", ""])
    heads = ["piece", "identity", "ring", "lip", "reading", *map(str, range(1, most + 1)), "rest", "note"]
    return {head: [line[i] for line in lines] for i, head in enumerate(heads)}


def _cell(row: Grade) -> str:
    """What stands in a box for a grade."""
    return ("" if row.grade is None else f"{row.grade}{row.kind}") + row.flags


def _refuse_to_overwrite(place: str) -> None:
    """DomainError if there is a file that is anything but an empty form."""
    if not os.path.isfile(place):
        return
    try:
        numbered, columns = _heading(_text(Path(place)))
        written = sum(_written(columns, cells) for _, cells in numbered[1:])
    except DomainError as error:
        if os.path.getsize(place) == 0:
            return
        raise DomainError(
            f"path must name a new file or an empty form, got {place!r}, which holds something else and was not "
            f"overwritten: {error}"
        ) from None
    if written:
        raise DomainError(
            f"path must name a new file or an empty form, got {place!r}, which holds grades, flags or notes in "
            f"{written} of {len(numbered) - 1} rows and was not overwritten. Read it with read_grades, or give the new "
            f"form another name"
        )


def _written(columns: Sequence[str], cells: Sequence[str]) -> bool:
    """Whether a row holds anything that is not printed on an empty form."""
    row = dict(zip(columns, cells, strict=False))
    by_hand = [row.get(name, "") for name in ("grade", "kind", "note", "rest")]
    boxes = [v for c, v in row.items() if c.isdigit() and v.lower() not in ("", _NOT_ASKED, "p")]
    stray = [c for k, c in enumerate(cells) if k >= len(columns) or not columns[k]]
    return any(by_hand) or any(boxes) or any(stray) or bool(set(row.get("flags", "").lower()) - set("p ,;+"))


def read_grades(path_or_text: str | os.PathLike[str], coupon: Coupon) -> Grades:
    """Read a filled-in form, grid or list. Rows may come in any order; places without a grade were not read.

    A box is read however it is sensibly written: 2f, F2, '2 f', 2F, '2 fuzz', 3t s, 3ts, 2ft for both, O for 0.

    Parameters
    ----------
    path_or_text
        CSV file, separated by commas, semicolons or tabs; or a str with a line end in it: the text itself.
    coupon
        The test piece that was graded.

    Raises
    ------
    DomainError
        Names every row and column that cannot be right; nothing is guessed and nothing is dropped in silence. A form
        of another piece, whose identity is not that of the coupon, is refused as a whole.

    Examples
    --------
    >>> import chipsim as cs
    >>> board = cs.Board(cs.wood("black cherry"), cs.straight_grain(azimuth=0))
    >>> piece = cs.coupon(cs.VBit(90, 10, 2), board, 18_000, 1200, machine=cs.Machine(800, 5000), sectors=8)
    >>> form = cs.write_grade_form(piece)  # to be filled in; here it is read back empty
    >>> len(cs.read_grades(form, piece))
    72
    """
    instance("coupon", coupon, Coupon, "a Coupon, as from coupon()")
    numbered, columns = _heading(_text(path_or_text), coupon)
    _known_again(numbered, columns, coupon)
    faults: list[str] = []
    rows: list[Grade] = []
    seen: dict[tuple[object, ...], list[int]] = defaultdict(list)
    grid = "sector" not in columns
    for number_, cells in numbered[1:]:
        held = {c: v for c, v in zip(columns, cells, strict=False) if c}
        found = _grid_row(number_, held, coupon, faults) if grid else [_row(number_, held, coupon, faults)]
        # a cell under no name would be lost
        for k, value in enumerate(cells):
            if value and (k >= len(columns) or not columns[k]):
                faults.append(f"row {number_}, column {k + 1}: has no name in row {numbered[0][0]}, got {value[:40]!r}")
        for row in found:
            if row is not None:
                rows.append(row)
                seen[row[:4]].append(number_)
    for place, where in seen.items():
        if len(where) > 1:
            faults.append(
                f"rows {' and '.join(map(str, where))}: ring {place[0]} sector {place[1]} {place[2]} is there twice as "
                f"reading {place[3]}"
            )
    if faults:
        more = f"\n  and {len(faults) - _FAULTS} more" if len(faults) > _FAULTS else ""
        raise DomainError(f"the form has {len(faults)} fault(s):\n  " + "\n  ".join(faults[:_FAULTS]) + more)
    return Grades(coupon.name, tuple(rows), coupon.identity)


def _heading(text: str, coupon: Coupon | None = None) -> tuple[list[tuple[int, list[str]]], list[str]]:
    """Rows that are not blank, with their numbers, and the names of the columns; DomainError if it is no form."""
    head, _, _ = text.lstrip("\n").partition("\n")
    lines = _lines(text, max(",;\t", key=head.count))
    numbered = [(i, [c.strip() for c in line]) for i, line in enumerate(lines, 1) if any(c.strip() for c in line)]
    if not numbered:
        raise DomainError("path_or_text must hold a form, got nothing")
    columns = [c.lower() for c in numbered[0][1]]
    named = [c for c in columns if c]
    boxes = [c for c in named if c.isdecimal() and c.isascii() and len(c) < 3]
    wanted: Sequence[str] = [*_GRID, "1"] if boxes and "sector" not in columns else _COLUMNS
    missing = [c for c in wanted if c not in columns and c not in ("note", "flags" if boxes else "")]
    if wanted is _COLUMNS:
        missing = [c for c in _COLUMNS[:8] if c not in columns]
    strange = [c for c in named if c not in wanted and (wanted is _COLUMNS or c not in boxes)]
    twice = sorted({c for c in named if named.count(c) > 1})
    if missing or strange or twice:
        raise DomainError(
            f"row {numbered[0][0]} must name the columns {', '.join(wanted)}, once each"
            + (f"; missing: {', '.join(missing)}" if missing else "")
            + (f"; unknown: {', '.join(strange)}" if strange else "")
            + (f"; more than once: {', '.join(twice)}" if twice else "")
            + (f". {_asked(coupon)}" if coupon is not None and missing == ["identity"] else "")
        )
    return numbered, columns


def _known_again(numbered: Sequence[tuple[int, list[str]]], columns: Sequence[str], coupon: Coupon) -> None:
    """DomainError if every row of the form carries the letters of another piece, or none."""
    at = columns.index("identity")
    found = {_letters(row[at]) if at < len(row) else "" for _, row in numbered[1:]}
    if len(found) != 1 or found == {coupon.identity}:
        return  # a single row that differs is named with the other faults
    other, first = found.pop()[:40], numbered[1][0]
    if not other:
        raise DomainError(
            f"the form, from row {first} on, must carry the identity {coupon.identity} of {coupon.name!r}, got none. "
            f"{_asked(coupon)}"
        )
    raise DomainError(
        f"the form, from row {first} on, must carry the identity {coupon.identity} of {coupon.name!r}, got {other}: it "
        f"was graded on another piece. Likeliest, the coupon has been laid out anew with another feed, speed, depth, "
        f"bit, board or seed under the old name; the sheet and the program of the piece in hand carry its letters"
    )


def _asked(coupon: Coupon) -> str:
    return (
        f"Without it nobody can tell of which piece the form is. If you are sure that this form was graded on "
        f"{coupon.name!r}, give every row {coupon.identity} in a column identity"
    )


def _letters(text: str) -> str:
    """An identity as it is written: small letters and spaces count for nothing."""
    return "".join(text.upper().split())


def _text(source: object) -> str:
    if isinstance(source, str) and ("\n" in source or "\r" in source):
        content = source.removeprefix("\ufeff")
    elif isinstance(source, str | os.PathLike):
        try:
            content = Path(os.fsdecode(source)).read_bytes().decode("utf-8-sig")
        except (OSError, ValueError) as error:  # ValueError: not UTF-8, or no name of a file at all
            raise DomainError(f"path_or_text must name a UTF-8 file or hold the lines of a form: {error}") from None
    else:
        raise DomainError(f"path_or_text must be a path or a str, got {type(source).__name__}")
    return content.replace("\r\n", "\n").replace("\r", "\n")


def _lines(text: str, separator: str) -> list[list[str]]:
    """Cells of all lines; a DomainError where a quotation mark makes a cell of what were rows."""
    found: list[list[str]] = []
    try:
        # strict: otherwise a mark left open takes in all that follows, in silence
        for line in csv.reader(io.StringIO(text), delimiter=separator, strict=True):
            found.append(line)
    except csv.Error as error:
        raise DomainError(
            f"row {len(found) + 1} of path_or_text cannot be split into cells ({error}); quotation marks must be in "
            f"pairs round a whole cell, or doubled inside one"
        ) from None
    return found


def _row(number_: int, cell: Mapping[str, str], coupon: Coupon, faults: list[str]) -> Grade | None:
    """The row, or None with its faults added."""
    before = len(faults)

    def wrong(column: str, why: str) -> None:
        faults.append(f"row {number_}, column {column}: {why}")

    def whole(column: str, high: int, low: int = 0) -> int | None:
        text = cell.get(column, "")
        value = int(text) if text.isascii() and text.isdigit() and len(text) < 9 else -1
        if not low <= value <= high:
            wrong(column, f"must be a whole number from {low} to {high}, got {text!r}")
            return None
        return value

    if cell.get("piece", "") != coupon.name:
        wrong("piece", f"must be {coupon.name!r}, got {cell.get('piece', '')!r}")
    if _letters(cell.get("identity", "")) != coupon.identity:
        wrong("identity", f"must be {coupon.identity!r}, got {cell.get('identity', '')!r}")
    parts = {code: count for code, count, _, _ in graded_lines(coupon)}
    code = cell.get("ring", "").upper()
    if code not in parts:
        wrong("ring", f"must be one of {', '.join(parts)}, got {cell.get('ring', '')!r}")
    sector, reading = whole("sector", parts.get(code, coupon.sectors), 1), whole("reading", 2, 1)
    kind, lip = cell.get("kind", "").lower(), cell.get("lip", "").lower()
    flags = "".join(sorted(set(cell.get("flags", "").lower()) - set(" ,;+")))
    written = cell.get("grade", "")
    grade: int | None = None
    if written.isascii() and written.isdigit():
        grade = whole("grade", 4)
    elif written:
        # what the sheet says goes into a box stands here just as well
        box = box_of(written)
        if isinstance(box, str):
            wrong("grade", box if len(written) > 1 else f"must be a whole number from 0 to 4, got {written!r}")
        else:
            grade, more, extra = box
            if kind and more and kind != more:
                wrong("kind", f"must be the letter that stands with the grade, {more!r}, got {kind!r}")
            kind, flags = more or kind, "".join(sorted({*flags, *extra}))
    row = Grade(code, sector or 1, lip, reading or 1, grade, kind, flags, cell.get("note", ""))
    named = {fault.split(", column ")[1].split(":")[0] for fault in faults[before:]}
    named |= {"kind"} if "grade" in named else set()  # a letter goes with a grade
    own = _lip_fault(row, coupon) if code in parts else None
    for column, why in [*([own] if own else []), *_faults(row)]:
        if column not in named:
            wrong(column, why)
            named.add(column)
    return row if len(faults) == before else None


def _lip_fault(row: Grade, coupon: Coupon) -> tuple[str, str] | None:
    lips = next(names for code, _, names, _ in graded_lines(coupon) if code == row.ring)
    if row.lip in lips:
        return None
    return "lip", f"must be {lips[0]!r} or {lips[1]!r} on {row.ring}, got {row.lip!r}"


def box_of(text: str) -> tuple[int | None, str, str] | str:
    """Grade, kind and flags of what stands in a box; or what is wrong with it."""
    plain = " ".join(text.lower().split())
    if plain in _UNREAD:
        return None, "", ""
    for word in sorted(_WORDS, key=len, reverse=True):
        plain = plain.replace(word, _WORDS[word])
    plain = "".join(c for c in plain if c not in " ,;+./")
    plain = plain.replace("o", "0")
    digits, letters = [c for c in plain if c.isdigit()], {c for c in plain if not c.isdigit()}
    strange = letters - set(KINDS) - set(FLAGS)
    if strange or len(digits) > 1 or len(letters) + len(digits) < len(plain):
        return f"must be a grade from 0 to 4 with its letter and flags, such as 2f or 3t s, got {text[:40]!r}"
    kinds = letters & set(KINDS)
    kind = "b" if len(kinds) > 1 else "".join(kinds)
    flags = "".join(sorted(letters - kinds))
    if digits and int(digits[0]) > 4:
        return f"must be a grade from 0 to 4, got {text[:40]!r}"
    return int(digits[0]) if digits else None, kind, flags


def _grid_row(number_: int, cell: Mapping[str, str], coupon: Coupon, faults: list[str]) -> list[Grade | None]:
    """The places of one line of the grid; faults are added."""

    def wrong(column: str, why: str) -> None:
        faults.append(f"row {number_}, column {column}: {why}")

    lines = {code: (parts, lips, marked) for code, parts, lips, marked in graded_lines(coupon)}
    if cell.get("piece", "") != coupon.name:
        wrong("piece", f"must be {coupon.name!r}, got {cell.get('piece', '')!r}")
    if _letters(cell.get("identity", "")) != coupon.identity:
        wrong("identity", f"must be {coupon.identity!r}, got {cell.get('identity', '')!r}")
    code, lip, reading = cell.get("ring", "").upper(), cell.get("lip", "").lower(), cell.get("reading", "")
    if code not in lines:
        wrong("ring", f"must be one of {', '.join(lines)}, got {cell.get('ring', '')!r}")
    elif lip not in lines[code][1]:
        wrong("lip", f"must be {' or '.join(map(repr, lines[code][1]))} on {code}, got {cell.get('lip', '')!r}")
    if reading not in ("1", "2"):
        wrong("reading", f"must be 1 or 2, got {reading!r}")
    rest = cell.get("rest", "").lower()
    if rest not in ("", "n", "no", *_TICKS):
        wrong("rest", f"must be empty, or x if the empty boxes of the line are clean, got {cell.get('rest', '')!r}")
    if code not in lines:
        return []  # how many boxes it has is not known
    parts, lips, marked = lines[code]
    # what is wrong with the line is said once, and not again of each box
    known_lip, known_reading = lip if lip in lips else lips[0], 2 if reading == "2" else 1
    out: list[Grade | None] = []
    for column in sorted((c for c in cell if c.isdecimal()), key=int):
        sector, text = int(column), cell[column]
        if not 1 <= sector <= parts:
            if text not in ("", _NOT_ASKED):
                wrong(column, f"must be empty: {code} has {parts} boxes, got {text[:40]!r}")
            continue
        if text == _NOT_ASKED:
            continue
        box = box_of(text) if text else (None, "", "")
        if isinstance(box, str):
            wrong(column, box)
            continue
        grade, kind, flags = box
        if rest in _TICKS and grade is None and not kind and not set(flags) & set(DROPPED) and text not in _UNREAD:
            grade = 0
        if sector in marked and grade is None and not flags:
            flags = "p"  # whatever became of the printed one
        if grade is None and set(flags) - set(DROPPED):
            wrong(column, f"must have a grade with its flags, such as 0{flags}, got {text[:40]!r}")
            continue
        row = Grade(code, sector, known_lip, known_reading, grade, kind, flags, cell.get("note", ""))
        fault = _fault(row)
        if fault:
            wrong(column, fault[1])
            continue
        out.append(row)
    return out
