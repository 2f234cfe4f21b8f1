"""The shop's book: a folder of records that are only ever added to, from which models are fitted.

Every record is a text file of its own, `0007-grades-maple-3-1a2b3c4d.json`: number, kind, name, and the beginning of
its check, a digest of all that it says. A record is written whole and under a name that was free, so that no writer can
destroy another's; two that were written at once, or on two branches of a version control, both stay. What has been
written is never changed: who errs writes the record anew, under the same name, or withdraws it.
"""

from __future__ import annotations

import hashlib
import json
import os
import re
from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import Any, NamedTuple

import numpy as np

from .._shared.arrays import FloatArray, instance, integer, number
from .._shared.arrays import seed as checked_seed
from .._shared.files import new_file
from ..damage.handwork import HandWork
from ..damage.models import RiskModel
from ..errors import DomainError
from ..scene.cuts import Carving, Cut, as_carving
from ..scene.cutters import Cutter, ProfileBit, VBit
from ..scene.grain import Board
from ..scene.machine import Dial, Machine
from ..scene.plain import made_from, plain_values
from ..units import table_text
from .fitting import FittedModel, fit
from .grading import Grade, Grades, box_of, graded_lines
from .testpiece import Coupon, Extra, Stroke, piece_content, piece_from
from .wear import EdgeChange, Wear, change_of, edge_metres, wear_of

__all__ = ["BookRecord", "FinishedJob", "ShopBook", "job_piece"]

KINDS = ("board", "bit", "machine", "dial", "piece", "grades", "job", "edge", "withdrawn")
"""What a record may be of."""

_FORMAT = 1

_NAME = re.compile(r"(\d{4,9})-([a-z]+)-[a-z0-9_-]*-([0-9a-f]{8})\.json")

_LONGEST = 50_000_000  # of a record [bytes]

_TRIES = 1000  # numbers that other writers may take before this one gives up

_NEAR = 5.0  # a mark on a printed map is of the lip that is nearest, no further away than this [mm]

_PART = 10.0  # length of lip that a mark on a finished job stands for [mm]


class BookRecord(NamedTuple):
    """One record: its file, number, kind, name, what it says in a sentence, and its content in plain values."""

    file: str
    number: int
    kind: str
    name: str
    says: str
    what: Mapping[str, Any]


class FinishedJob(NamedTuple):
    """A job that was cut: its groove as a piece that can be graded, bit and board by name, and how it came out.

    `minutes` of handwork, None: not timed; `metres` of groove. [m]
    """

    name: str
    piece: Coupon
    bit: str
    board: str
    minutes: float | None
    metres: float
    note: str


class ShopBook:
    """A shop's months of work in a folder: boards, bits, machines, test pieces, grades and finished jobs.

    It is only ever added to, in text files that a person can read and that belong in version control. Print it for a
    summary.

    Parameters
    ----------
    folder
        Of the records; made if it is not there and the folder above it is.

    Raises
    ------
    DomainError
        If the folder cannot be one; of everything that reads it: if a record is not as it was written.

    Examples
    --------
    >>> import chipsim as cs
    >>> book = cs.ShopBook("book")
    >>> board = cs.Board(cs.wood("black cherry", moisture=8), cs.straight_grain(azimuth=0))
    >>> piece = cs.coupon(cs.VBit(90, 10, 2), board, 18_000, 1200, machine=cs.Machine(800, 5000), sectors=8)
    >>> _ = book.add_board("shelf 3", board)
    >>> _ = book.add_piece(piece, bit="the 90", board="shelf 3")
    >>> _ = book.add_grades(cs.invented_grades(piece, seed=3))
    >>> [record.kind for record in book.records()]
    ['board', 'piece', 'grades']
    >>> len(cs.ShopBook("book").grades)
    1
    """

    def __init__(self, folder: str | os.PathLike[str]) -> None:
        if not isinstance(folder, str | os.PathLike):
            raise DomainError(f"folder must be the path of a folder, got {type(folder).__name__}")
        self.folder = os.fsdecode(folder)
        if not self.folder or "\0" in self.folder:
            raise DomainError(f"folder must be the path of a folder, got {self.folder!r}")
        above = os.path.dirname(os.path.abspath(self.folder))
        if os.path.exists(self.folder) and not os.path.isdir(self.folder):
            raise DomainError(f"folder must be the path of a folder, got {self.folder!r}, which is a file")
        if not os.path.isdir(above):
            raise DomainError(f"folder must lie in a folder that exists, got {self.folder!r}: there is no {above!r}")
        os.makedirs(self.folder, exist_ok=True)
        self._read: dict[str, BookRecord] = {}

    # --- reading ------------------------------------------------------------------------------------------------------

    def records(self) -> tuple[BookRecord, ...]:
        """Every record, in the order in which they were written, withdrawn ones included.

        Raises
        ------
        DomainError
            Names the first record that is not as it was written.
        """
        found, faults = self._all()
        if faults:
            file, why = faults[0]
            raise DomainError(
                f"folder must hold records as they were written, got {file!r} in {self.folder!r}: {why}. Bring the "
                f"file back from version control or a copy; who wants to say something else adds a record anew"
            )
        return tuple(found)

    def faults(self) -> tuple[str, ...]:
        """What is wrong with the records, a sentence each; nothing if the book is whole. Never an error."""
        return tuple(f"{file}: {why}." for file, why in self._all()[1])

    def _all(self) -> tuple[list[BookRecord], list[tuple[str, str]]]:
        found, faults = [], []
        for file in sorted(os.listdir(self.folder), key=_order):
            if file.startswith(".") or not file.endswith(".json"):
                continue
            try:
                if file not in self._read:
                    self._read[file] = _read_record(os.path.join(self.folder, file))
                found.append(self._read[file])
            except (DomainError, OSError) as error:
                faults.append((file, str(error)))
        # two branches of a version control may bring the same number twice, but a number that is gone is a record lost
        numbers = {r.number for r in found} | {int(m[1]) for f, _ in faults if (m := _NAME.fullmatch(f))}
        gone = sorted(set(range(1, max(numbers, default=0) + 1)) - numbers)
        faults += [(f"{k:04d}-...", "the record of this number is gone") for k in gone]
        return found, faults

    def _kept(self, kind: str) -> list[BookRecord]:
        """Records of a kind that were not withdrawn."""
        every = self.records()
        gone = {r.what["file"] for r in every if r.kind == "withdrawn"}
        return [r for r in every if r.kind == kind and r.file not in gone]

    @property
    def boards(self) -> dict[str, Board]:
        """Boards by name; of a name written twice the later one."""
        return {r.name: made_from(r.what["board"]) for r in self._kept("board")}

    @property
    def bits(self) -> dict[str, Cutter]:
        """Bits by name, as they were when they were new or last sharpened."""
        return {r.name: made_from(r.what["bit"]) for r in self._kept("bit")}

    @property
    def machines(self) -> dict[str, Machine]:
        """Machines by name, each with the dial that its readings make; of a mark read twice the mean counts."""
        read: dict[str, dict[float, list[float]]] = {}
        for r in self._kept("dial"):
            read.setdefault(r.name, {}).setdefault(r.what["position"], []).append(r.what["speed"])
        out = {}
        for r in self._kept("machine"):
            machine, marks = made_from(r.what["machine"]), sorted(read.get(r.name, {}).items())
            if len(marks) > 1:
                machine = replace(machine, dial=Dial([m for m, _ in marks], [float(np.mean(v)) for _, v in marks]))
            out[r.name] = machine
        return out

    @property
    def pieces(self) -> dict[str, Coupon]:
        """Test pieces, and finished jobs as pieces, by identity."""
        return {r.what["identity"]: piece_from(dict(r.what)) for r in [*self._kept("piece"), *self._kept("job")]}

    @property
    def grades(self) -> dict[str, Grades]:
        """Grades by the identity of their piece; of a piece graded anew the later ones."""
        return {r.what["identity"]: _grades_from(r.what) for r in self._kept("grades")}

    @property
    def jobs(self) -> tuple[FinishedJob, ...]:
        """Finished jobs, as they were written."""
        return tuple(
            FinishedJob(r.name, piece_from(dict(r.what)), r.what["with_bit"], r.what["on_board"], r.what["minutes"],
                        r.what["groove_metres"], r.what["note"])
            for r in self._kept("job")
        )  # fmt: skip

    # --- writing ------------------------------------------------------------------------------------------------------

    def add_board(self, name: str, board: Board) -> BookRecord:
        """Write down a board under a name. A grain that is a function cannot be written and is refused."""
        instance("board", board, Board, "a Board")
        says = f"Board of {board.wood.name} at {board.wood.moisture:g} % moisture, grain {board.grain.label}."
        return self._add("board", name, says, {"board": plain_values(board)})

    def add_bit(self, name: str, bit: Cutter) -> BookRecord:
        """Write down a bit, new or sharpened: its metres are counted from this record on."""
        values = plain_values(bit)
        if not isinstance(values, dict) or not hasattr(bit, "edge_radius"):
            raise DomainError(f"bit must be a VBit or a ProfileBit, got {type(bit).__name__}")
        says = f"Bit of {bit.diameter:g} mm diameter, edge radius {1000 * bit.edge_radius:.1f} um, new or sharpened."
        return self._add("bit", name, says, {"bit": values})

    def add_machine(self, name: str, machine: Machine) -> BookRecord:
        """Write down a machine."""
        instance("machine", machine, Machine, "a Machine")
        says = f"Machine of {machine.acceleration:g} mm/s^2 and up to {machine.max_feed:g} mm/min."
        return self._add("machine", name, says, {"machine": plain_values(machine)})

    def add_dial_reading(self, machine: str, position: float, speed: float) -> BookRecord:
        """Write down what a machine's spindle turned at a mark of its dial, while cutting if you can. [-, rpm]"""
        mark = number("position", position, low=-1e6, high=1e6)
        rpm = number("speed", speed, low=1000, high=100_000, unit="rpm")
        says = f"At mark {mark:g} of its dial the spindle turned {rpm:.0f} rpm."
        return self._add("dial", machine, says, {"position": mark, "speed": rpm})

    def add_edge_reading(self, bit: str, radius: float) -> BookRecord:
        """Write down the edge radius of a bit as seen through a loupe, in [0.001, 0.5]. [mm]"""
        size = number("radius", radius, low=0.001, high=0.5, unit="mm")
        return self._add("edge", bit, f"Its edge was seen to be rounded to {1000 * size:.0f} um.", {"radius": size})

    def add_piece(self, coupon: Coupon, *, bit: str = "", board: str = "") -> BookRecord:
        """Write down a test piece that was cut, and the names of its bit and board if they are in the book."""
        instance("coupon", coupon, Coupon, "a Coupon, as from coupon()")
        for kept in self.pieces.values():
            if kept.name == coupon.name:
                raise DomainError(
                    f"coupon must have a name that no piece or job in the book has, got {coupon.name!r}, which is "
                    f"{kept.identity} already: withdraw that record, or cut the piece under another name"
                )
        says = f"Test piece of {len(coupon.rings)} rings and {len(coupon.strokes)} strokes in {coupon.board.wood.name}."
        what = piece_content(coupon) | self._named(bit, board) | {"groove_metres": coupon.carving.length / 1000}
        return self._add("piece", coupon.name, says, what)

    def add_grades(self, grades: Grades) -> BookRecord:
        """Write down what was read of a piece that is in the book."""
        instance("grades", grades, Grades, "a Grades, as from read_grades()")
        pieces = self.pieces
        if grades.identity not in pieces:
            raise DomainError(
                f"grades must be those of a piece in the book, got those of {grades.piece!r} with identity "
                f"{grades.identity or 'none'}. Add the piece first"
            )
        boxes = {code: (parts, lips) for code, parts, lips, _ in graded_lines(pieces[grades.identity])}
        for row in grades.rows:
            parts, lips = boxes.get(row.ring, (0, ("", "")))
            if not 1 <= row.sector <= parts or row.lip not in lips:
                raise DomainError(f"grades must lie on {grades.piece!r}: it has no {row.ring} {row.sector} {row.lip}")
        says = f"{len(grades.used())} grades were read."
        what = {"identity": grades.identity, "piece": grades.piece, "rows": [list(r) for r in grades.rows]}
        return self._add("grades", grades.piece, says, what)

    def add_job(
        self,
        name: str,
        carving: Carving | Cut,
        board: Board,
        *,
        bit: str = "",
        on_board: str = "",
        minutes: float | None = None,
        marks: Sequence[tuple[float, float, str]] = (),
        rest_clean: bool = False,
        note: str = "",
    ) -> BookRecord:
        """Write down a job that was cut and how it came out; a few marks on its printed map are grades that teach.

        Parameters
        ----------
        name
            Of the job; no two jobs have the same one.
        carving
            What was cut, all with one bit.
        board
            Wood and grain.
        bit, on_board
            Names of bit and board in the book.
        minutes
            Of handwork it took, None: not timed. [min]
        marks
            (x, y, what was seen): a place on the map within 5 mm of a lip [mm], and a grade as in a box of the form,
            such as '3t' or '0s'. Each stands for the worst of 10 mm of lip.
        rest_clean
            Whether every lip without a mark was looked at and is clean.
        note
            In words, one line.

        Raises
        ------
        DomainError
            If an argument is out of range, or a mark lies off the lips or says no grade; nothing is then written.
        """
        instance("note", note, str, "a str")
        took = None if minutes is None else number("minutes", minutes, low=0, high=1e5, unit="min")
        piece = job_piece(carving, board, name)
        if piece.name in {job.name for job in self.jobs}:
            raise DomainError(f"name must be that of a job that is not in the book, got {piece.name!r}")
        rows = _marked_lips(piece, marks, rest_clean)
        metres = piece.carving.length / 1000
        hand = "Handwork was not timed" if took is None else f"Handwork took {took:g} min"
        says = f"Job of {metres:.2f} m of groove in {board.wood.name}. {hand}; {len(marks)} places were marked."
        what = piece_content(piece) | self._named(bit, on_board)
        what |= {"minutes": took, "groove_metres": metres, "note": note.replace("\n", " ")}
        record = self._add("job", piece.name, says, what)
        if rows:
            self.add_grades(Grades(piece.name, rows, piece.identity))
        return record

    def withdraw(self, record: BookRecord, why: str) -> BookRecord:
        """Say that a record is wrong: it stays in the folder and no longer counts."""
        if not isinstance(record, BookRecord) or record.file not in {r.file for r in self.records()}:
            raise DomainError(f"record must be one of the book's, got {record!r:.60}")
        if not isinstance(why, str) or not why.strip():
            raise DomainError(f"why must be a word or more, got {why!r:.40}")
        says = f"Record {record.file} is withdrawn: {why.strip()}"
        return self._add("withdrawn", record.name, says, {"file": record.file, "why": why.strip()})

    def _named(self, bit: str, board: str) -> dict[str, str]:
        for argument, name, known in (("bit", bit, self.bits), ("board", board, self.boards)):
            instance(argument, name, str, "a name in the book")
            if name and argument == "board" and name not in known:
                raise DomainError(f"{argument} must be a name in the book, one of {_list(known)}, got {name!r}")
        return {"with_bit": bit, "on_board": board}

    def _add(self, kind: str, name: str, says: str, what: Mapping[str, Any]) -> BookRecord:
        if not isinstance(name, str) or not name.strip() or not name.strip().isprintable() or len(name) > 200:
            raise DomainError(f"name must be a word or more in one line, of 200 letters at most, got {name!r:.60}")
        highest = max((_number(f) for f in os.listdir(self.folder)), default=0)
        for k in range(highest + 1, highest + 1 + _TRIES):
            held = {
                "chipsim_shop_book": _FORMAT, "number": k, "kind": kind, "name": name.strip(), "says": says,
                "what": dict(what),
            }  # fmt: skip
            check = _check_of(held)
            slug = re.sub(r"[^a-z0-9]+", "-", name.lower()).strip("-")[:40]
            file = f"{k:04d}-{kind}-{slug}-{check[:8]}.json"
            text = json.dumps(held | {"check": check}, indent=1, ensure_ascii=False, allow_nan=False) + "\n"
            # a number that somebody else has taken meanwhile is left to him: numbers are for people
            if any(_number(f) == k for f in os.listdir(self.folder)):
                continue
            try:
                new_file(os.path.join(self.folder, file), text.encode("utf-8"), name="folder")
            except FileExistsError:
                continue
            return _read_record(os.path.join(self.folder, file))
        raise DomainError(f"folder must have a number free after {highest}, got {self.folder!r}")

    # --- what it teaches ----------------------------------------------------------------------------------------------

    def fit(self, model: RiskModel | None = None) -> FittedModel:
        """Fit a model to every piece and job of the book that has grades.

        Raises
        ------
        DomainError
            If nothing was graded.
        """
        grades, pieces = self.grades, self.pieces
        taught = [k for k in pieces if k in grades and grades[k].used()]
        if not taught:
            raise DomainError(f"folder must hold the grades of a piece before a model can be fitted, got {self!r}")
        # names may come twice over the months; identities never do
        names: dict[str, int] = {}
        coupons, forms = [], []
        for k in taught:
            piece, form = pieces[k], grades[k]
            names[piece.name] = names.get(piece.name, 0) + 1
            if names[piece.name] > 1:
                raise DomainError(
                    f"pieces must have different names, got {piece.name!r} twice: withdraw one of the records, or cut "
                    f"the next piece under another name"
                )
            coupons.append(piece)
            forms.append(form)
        return fit(coupons, forms, model)

    def wear(self, bit: str) -> Wear:
        """How far a bit has cut since it was new or sharpened, and how round its edge is by now.

        Metres are those of pieces and jobs written down with this bit's name, and of edge in wood.
        """
        known = self.bits
        if bit not in known:
            raise DomainError(f"bit must be a name in the book, one of {_list(known)}, got {bit!r:.60}")
        groove = edge = 0.0
        readings: list[tuple[float, float]] = []
        kept = sorted(
            [*self._kept("bit"), *self._kept("piece"), *self._kept("job"), *self._kept("edge")], key=lambda r: r.number
        )
        for r in kept:
            if r.kind == "bit" and r.name == bit:
                groove, edge, readings = 0.0, 0.0, []
            elif r.kind == "edge" and r.name == bit:
                readings.append((edge, r.what["radius"]))
            elif r.kind in ("piece", "job") and r.what["with_bit"] == bit:
                carving = piece_from(dict(r.what)).carving
                groove += carving.length / 1000
                edge += edge_metres(carving)
        return wear_of(bit, known[bit], groove, edge, readings)

    def change_of_bit(
        self,
        bit: str,
        carving: Carving | Cut | None = None,
        board: Board | None = None,
        *,
        cost: float = 60.0,
        jobs: int = 100,
        model: RiskModel | FittedModel | None = None,
        handwork: HandWork | None = None,
        draws: int = 64,
        seed: int = 0,
    ) -> EdgeChange:
        """When it pays to change a bit: minutes by hand that its wear adds, against what a new edge costs.

        Parameters
        ----------
        bit
            Name in the book.
        carving, board
            What the coming jobs are like; None: the last job in the book that was cut with this bit.
        cost
            Of a new edge, in [0, 100 000]: the price of bit or sharpening in minutes of your time, and the change
            itself. An hour is assumed. [min]
        jobs
            How far to look ahead, 2 to 10 000.
        model
            What is known of the wood; None: the starting guesses. `ShopBook.fit` gives what the book has taught.
        handwork
            Minutes of handwork; None: its defaults, which are assumed.
        draws, seed
            Of the maps, draws 16 to 10 000.

        Returns
        -------
        EdgeChange
            Print it for the sentence.

        Raises
        ------
        DomainError
            If an argument is out of range, or no job says what the coming ones are like.
        """
        worn = self.wear(bit)
        known = self.bits[bit]
        if not isinstance(known, VBit | ProfileBit):
            raise DomainError(f"bit must be a V-bit or an outline, got {type(known).__name__}")
        price = number("cost", cost, low=0, high=1e5, unit="min")
        ahead, count = integer("jobs", jobs, low=2, high=10_000), integer("draws", draws, low=16, high=10_000)
        if carving is None or board is None:
            mine = [job.piece for job in self.jobs if job.bit == bit]
            if not mine:
                raise DomainError(f"carving and board must be given: the book has no job that was cut with {bit!r}")
            carving = mine[-1].carving if carving is None else carving
            board = mine[-1].board if board is None else board
        return change_of(
            worn, known.edge_radius, carving, board, price, ahead, model, handwork, count, checked_seed(seed)
        )

    def __repr__(self) -> str:
        found, faults = self._all()
        return f"<ShopBook {self.folder!r}: {len(found)} records{', ' if faults else ''}{_damaged(faults)}>"

    def __str__(self) -> str:
        found, faults = self._all()
        if faults:
            return "\n".join([repr(self), *(f"  {file}: {why}." for file, why in faults)])
        cells = [("number", "of", "name", "what it says")]
        cells += [(str(r.number), r.kind, r.name, r.says) for r in found]
        lines = [f"The shop's book in {self.folder} has {len(found)} records."]
        lines += ["  " + row for row in table_text(cells).splitlines()] if found else []
        timed = [j for j in self.jobs if j.minutes is not None]
        if timed:
            total = sum(j.minutes or 0.0 for j in timed)
            metres = sum(j.metres for j in timed)
            lines.append(f"Handwork on {len(timed)} jobs took {total:.0f} min for {metres:.1f} m of groove.")
        lines += [str(self.wear(name)) for name in self.bits]
        return "\n".join(lines)


def _damaged(faults: Sequence[object]) -> str:
    return f"{len(faults)} of them damaged or gone" if faults else ""


def _list(names: Mapping[str, object]) -> str:
    return ", ".join(map(repr, names)) or "none yet"


def _number(file: str) -> int:
    found = _NAME.fullmatch(file)
    return int(found[1]) if found else 0


def _order(file: str) -> tuple[int, str]:
    return _number(file), file


def _check_of(held: Mapping[str, Any]) -> str:
    """Digest of everything a record says, whatever became of its line ends and its indents."""
    text = json.dumps({k: v for k, v in held.items() if k != "check"}, sort_keys=True, separators=(",", ":"))
    return hashlib.sha256(text.encode("ascii")).hexdigest()


def _read_record(path: str) -> BookRecord:
    """The record of a file; DomainError, without the name of the file, if it is none."""
    file = os.path.basename(path)
    name = _NAME.fullmatch(file)
    if name is None:
        raise DomainError("its name is not that of a record")
    with open(path, "rb") as handle:
        content = handle.read(_LONGEST + 1)
    try:
        held = json.loads(content.decode("utf-8-sig"))
        fits = (held["number"], held["kind"], held["check"][:8]) == (int(name[1]), name[2], name[3])
        form, check = held["chipsim_shop_book"], held["check"]
        found = BookRecord(file, held["number"], held["kind"], held["name"], held["says"], held["what"])
    except Exception as error:  # whatever json finds wrong with it
        raise DomainError(f"it cannot be read ({type(error).__name__}: {str(error)[:60]}), it was cut short") from None
    if check != _check_of(held):
        raise DomainError("its check does not hold, it was altered")
    if not fits:
        raise DomainError("it does not say what its name says, it was renamed")
    if form != _FORMAT or found.kind not in KINDS:
        raise DomainError("it is of a later version of this library")
    return found


def _grades_from(what: Mapping[str, Any]) -> Grades:
    return Grades(what["piece"], tuple(Grade(*row) for row in what["rows"]), what["identity"])


# --- finished jobs ----------------------------------------------------------------------------------------------------


def job_piece(carving: Carving | Cut, board: Board, name: str) -> Coupon:
    """A finished job as a piece that can be graded: every cut a stroke, in stretches of about 10 mm.

    Parameters
    ----------
    carving
        What was cut, all with one bit; earlier passes are left out.
    board
        Wood and grain.
    name
        Of the job.

    Examples
    --------
    >>> import chipsim as cs
    >>> from chipsim.learning.book import job_piece
    >>> board = cs.Board(cs.wood("black cherry"), cs.straight_grain(azimuth=0))
    >>> cut = cs.Cut(cs.VBit(90, 10, 2), cs.ring(12, 2), 18_000, 1200)
    >>> job_piece(cut, board, "door plate").strokes[0].parts
    8
    """
    job = as_carving(carving)
    instance("board", board, Board, "a Board")
    if not isinstance(name, str) or not name.strip() or not name.strip().isprintable():
        raise DomainError(f"name must be a word or more in one line, got {name!r:.60}")
    if any(cut.bit != job.cuts[0].bit for cut in job):
        raise DomainError("carving.cuts must have the same bit, a job for each")
    strokes = tuple(
        Stroke(f"S{k}", cut, (), max(1, min(99, round(cut.path.length / _PART)))) for k, cut in enumerate(job, 1)
    )
    extra = Extra("job", job.cuts, "every lip of the job", strokes)
    points = np.concatenate([c.path.xy for c in job])
    low, high = points.min(axis=0), points.max(axis=0)
    size = (float(high[0] - low[0]), float(high[1] - low[1]))
    return Coupon(name.strip(), board, (), (extra,), (), 12, size)


def _marked_lips(piece: Coupon, marks: Sequence[tuple[float, float, str]], rest_clean: bool) -> tuple[Grade, ...]:
    """Grades that marks on a map stand for; of two marks in one box the worse counts."""
    lips: list[tuple[Stroke, int, FloatArray, np.ndarray]] = []
    for stroke in piece.strokes:
        path = stroke.cut.path
        station = np.linspace(0.0, path.length, max(3, int(path.length / 0.25)))
        way = np.radians(path.heading(station))
        half = stroke.cut.half_width(path.depth_at(station))[:, None]
        side = np.column_stack([-np.sin(way), np.cos(way)]) * half
        part = np.clip((station / max(path.length, 1e-9) * stroke.parts).astype(int), 0, stroke.parts - 1) + 1
        lips += [(stroke, k, path.position(station) + (side if k == 0 else -side), part) for k in (0, 1)]
    found: dict[tuple[str, int, str, int], Grade] = {}
    for k, mark in enumerate(marks, 1):
        if not isinstance(mark, Sequence) or isinstance(mark, str) or len(mark) != 3 or not isinstance(mark[2], str):
            raise DomainError(f"marks must be triples (x, y, what was seen) [mm], got {mark!r:.60} as number {k}")
        at = np.array([number("marks", v, low=-1e5, high=1e5, unit="mm") for v in mark[:2]])
        apart = [float(np.hypot(*(points - at).T).min()) for _, _, points, _ in lips]
        best = int(np.argmin(apart))
        if apart[best] > _NEAR:
            raise DomainError(
                f"marks must lie within {_NEAR:g} mm of a lip, got ({at[0]:g}, {at[1]:g}) as number {k}, which is "
                f"{apart[best]:.1f} mm away from the nearest"
            )
        read = box_of(mark[2])
        if isinstance(read, str) or read[0] is None:
            why = read if isinstance(read, str) else f"must be a grade, got {mark[2]!r:.40}"
            raise DomainError(f"marks: what was seen at number {k} {why}")
        stroke, side_, points, part = lips[best]
        where = int(np.argmin(np.hypot(*(points - at).T)))
        place = (stroke.code, int(part[where]), ("left", "right")[side_], 1)
        try:
            row = Grades(piece.name, (Grade(*place, *read),)).rows[0]
        except DomainError as error:
            raise DomainError(f"marks: number {k}: {error}") from None
        if place not in found or (found[place].grade or 0) < (row.grade or 0):
            found[place] = row
    if rest_clean:
        for code, parts, sides, _ in graded_lines(piece):
            for place in ((code, s, lip, 1) for s in range(1, parts + 1) for lip in sides):
                found.setdefault(place, Grade(*place, 0))
    return tuple(found.values())
