"""The test piece: twin rings, a straight pair, a land comb and a depth stair, laid out on an off-cut.

Every setting is cut as two rings, one each way round: on one ring alone the entry lip is always the inner or always
the outer one. A ring shows every direction to the grain twice, at constant load, for one plunge.

::

    ramp down      one whole turn at depth, at full feed      out, over groove already cut
    o------------X=========================================X-----o
                 |<-- the sector with this join is marked p -->|

The tool comes down along the ring itself, goes round once at full depth, over its own ramp, and lifts while it slows.
The radius is such that the machine can hold the feed on it (v^2 / a), and the ramp such that it is reached before the
whole turn begins; `machine.speed_profile` is asked, and sectors where it says otherwise are marked.
"""

from __future__ import annotations

import hashlib
import json
import os
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import ArrayLike

from .._shared.arrays import FloatArray, array, choice, integer, number
from .._shared.arrays import feed as feed_of
from .._shared.arrays import seed as checked_seed
from .._shared.files import whole_file
from .._shared.tables import Columns, Result, html_table
from ..errors import DomainError
from ..rs274.writer import write_rs274
from ..scene.cuts import Carving, Cut
from ..scene.cutters import Cutter, must_be_a_cutter, profile_knots
from ..scene.grain import Board
from ..scene.machine import Machine
from ..scene.paths import Path, line
from ..scene.plain import made_from, plain_values
from ..units import feed_text, inch, length_text, table_text, tooth_feed_text

__all__ = ["LANDS", "STRETCHES", "Coupon", "Extra", "Ring", "RingSetting", "Stroke", "coupon"]

LETTERS = "ABCDEFGHJKLMNPRSTUVWXYZ"
"""Blind codes of the rings: no I, O or Q, which are misread."""

LANDS = (0.5, 0.7, 1.0, 1.4, 2.0, 2.8)
"""Widths of wood left between the strokes of the land comb: steps of about sqrt 2. [mm]"""

STAIR = 5
"""Steps of the depth stair."""

STRETCHES = 4
"""Parts in which each lip of a straight stroke is graded."""

_STROKE = 40.0  # length of a straight stroke [mm]

_DIGITS = "BCDFGHJKLMNPRSTVWXYZ"
"""Of identities: consonants only, so that no spreadsheet takes one for a number, a date or a truth, nor a reader for a
word."""

_FORMAT = 1  # of a saved test piece

_LONGEST = 20_000_000  # of a saved test piece, thousands of strokes [bytes]

_GAP = 4.0  # between neighbours on the piece [mm]
_RAMP = 60.0  # least ramp [deg]
_OVERLAP = 1.0  # at full depth past the closing of the turn [mm]
_LEVEL = 0.98  # of the machine's largest feed, so that there is some left for ramps
_REACHED = 0.98  # share of the programmed feed that counts as reached
_ARM, _MARK_DEPTH = 8.0, 0.2  # mark of the grain: long arm, depth [mm]


class RingSetting(NamedTuple):
    """What one pair of rings was cut with. [rpm, mm/min]"""

    spindle_speed: float
    feed: float


@dataclass(frozen=True)
class Ring:
    """One ring of a coupon.

    Attributes
    ----------
    code : blind letter.
    cut : path, speed and feed.
    sense : 'ccw' or 'cw', the way round.
    centre : (x, y). [mm]
    radius : of the centre line. [mm]
    marked : numbers of the sectors not to be graded: the join, and where the feed is not reached.
    """

    code: str
    cut: Cut
    sense: str
    centre: tuple[float, float]
    radius: float
    marked: tuple[int, ...]

    def __repr__(self) -> str:
        return f"<Ring {self.code}, {self.sense}, radius {self.radius:g} mm>"

    @property
    def setting(self) -> RingSetting:
        """Spindle speed and feed."""
        return RingSetting(self.cut.spindle_speed, self.cut.largest_feed)


@dataclass(frozen=True)
class Stroke:
    """A stroke that is graded, lip by lip, in equal stretches counted from where it begins.

    Attributes
    ----------
    code : blind code, 'S' and a number.
    cut : path, speed and feed; of a finished job any path.
    marked : numbers of the stretches not to be graded, because the feed is not reached there.
    parts : number of stretches.
    """

    code: str
    cut: Cut
    marked: tuple[int, ...]
    parts: int = STRETCHES

    @property
    def setting(self) -> RingSetting:
        """Spindle speed and feed."""
        return RingSetting(self.cut.spindle_speed, self.cut.largest_feed)


@dataclass(frozen=True)
class Extra:
    """A control beside the rings: 'straight pair', 'stroke', 'land comb', 'depth stair' or 'grain mark'.

    Straight strokes are graded as `Stroke`; the others are for eye and rule.
    """

    kind: str
    cuts: tuple[Cut, ...]
    note: str
    strokes: tuple[Stroke, ...] = ()


@dataclass(frozen=True, eq=False)
class Coupon(Result):
    """A test piece; made by `coupon`. Print it for the plan, which breaks the blinding.

    It iterates over its rings. Its table, as `to_csv` and `to_frame` give it, breaks the blinding too; what a notebook
    shows of it does not.

    Attributes
    ----------
    name : says which piece a grade form belongs to.
    board : the wood it is cut from and its grain.
    rings : in the order in which they are cut.
    extras : controls that fitted.
    left_out : controls that did not fit, and why.
    sectors : number of sectors a ring is graded in; sector 1 begins at +x, they count counter-clockwise.
    size : of the off-cut, (x, y). [mm]
    """

    name: str
    board: Board
    rings: tuple[Ring, ...]
    extras: tuple[Extra, ...]
    left_out: tuple[str, ...]
    sectors: int
    size: tuple[float, float]

    @cached_property
    def identity(self) -> str:
        """Eight letters that stand for everything the piece is; on the sheet, on the form and in the program.

        Made of name, settings, layout, bit, machine, wood and fibres, to a millionth of each unit, and of nothing else:
        the same for the same piece in every process, and in later versions of this library as long as they lay it out
        in the same way. Two pieces that differ have the same letters once in 20**8 times.
        """
        bit, machine, wood = self.bit, self._cuts()[0].machine, self.board.wood
        outline = bit.radius(np.linspace(0.0, max(float(c.path.depth.max()) for c in self._cuts()), 65))
        content: list[Any] = [
            "chipsim test piece 1",
            self.name,
            self.sectors,
            _micro(self.size),
            [[r.code, r.sense, *_micro([*r.centre, r.radius]), list(r.marked)] for r in self.rings],
            # strokes' codes stand only where there are strokes: forms of older pieces keep their letters
            [[e.kind, *(s.code for s in e.strokes)] if e.strokes else e.kind for e in self.extras],
            [bit.flutes, *_micro([bit.diameter, bit.rake, bit.clearance, bit.edge_radius, bit.runout])],
            [*_micro([bit.runout_azimuth, *outline])],
            [] if machine is None else _micro([machine.acceleration, machine.max_feed, machine.plunge_feed]),
            [wood.name, *_micro([wood.moisture, wood.density])],
        ]
        for cut in self._cuts():
            axes = self.board.fibres(cut.path.xy)
            # a fibre is an axis: of its products none changes when it is turned end for end
            fibres = axes[:, [0, 0, 0, 1, 1, 2]] * axes[:, [0, 1, 2, 1, 2, 2]]
            path = np.concatenate([cut.path.xy.ravel(), cut.path.depth, cut.path.sweep, fibres.ravel()])
            content.append([cut.spin, *_micro([cut.spindle_speed, cut.largest_feed, cut.phase, *path])])
        text = json.dumps(content, separators=(",", ":"))
        number_ = int.from_bytes(hashlib.sha256(text.encode()).digest(), "big")
        return "".join(_DIGITS[number_ // 20**k % 20] for k in range(8))

    @property
    def bit(self) -> Cutter:
        """The bit of all cuts."""
        return self._cuts()[0].bit

    @property
    def depth(self) -> float:
        """Of rings and strokes. [mm]"""
        return float(self.graded()[0].cut.path.depth.max())

    @property
    def width(self) -> float:
        """Of the groove of rings and strokes at the face. [mm]"""
        return float(2 * self.graded()[0].cut.half_width(np.asarray(self.depth)))

    @property
    def strokes(self) -> tuple[Stroke, ...]:
        """The straight strokes that are graded."""
        return tuple(s for e in self.extras for s in e.strokes)

    def graded(self) -> tuple[Ring | Stroke, ...]:
        """Whatever has boxes on the form: rings in the order in which they are cut, then strokes."""
        return (*self.rings, *self.strokes)

    @cached_property
    def carving(self) -> Carving:
        """All cuts, one speed after the other, at each the rings first; for `check_limits` and `time_estimate`."""
        cuts = sorted(self._cuts(), key=lambda c: c.spindle_speed)
        return Carving(tuple(cuts), name=f"{self.name}, identity {self.identity}")

    @property
    def lie(self) -> tuple[str, ...]:
        """How the piece lies on the machine and where clamps may be, in sentences for program and sheet."""
        low, high = self.swept
        across, up = self.size
        ways = {"left": low[0], "right": across - high[0], "lower": low[1], "upper": up - high[1]}
        said = {name: f"{name} edge {abs(room):.1f} mm or {abs(room) / inch:.2f} in" for name, room in ways.items()}
        free = ", ".join(said[name] for name, room in ways.items() if room > 0)
        short = ", ".join(said[name] for name, room in ways.items() if room <= 0)
        lines = [
            f"X0 Y0 is the lower left corner of the piece, which is {across:.0f} mm along x and {up:.0f} mm along y. "
            "Z0 is its upper face.",
        ]
        if any(e.kind == "grain mark" for e in self.extras):
            lines.append("The L that is cut says how the piece lay: its long arm is along +x, its short arm along +y.")
        if free:
            lines.append(f"A clamp must reach in less far than the body of the bit comes: {free}.")
        if short:
            lines.append(f"The body of the bit comes past these edges, clamps must stay further away: {short}.")
        return tuple(lines)

    @property
    def swept(self) -> tuple[FloatArray, FloatArray]:
        """Lower left and upper right corner, (2,) each, of what the body of the bit sweeps. [mm]"""
        reach = self.bit.diameter / 2
        points = [c.path.position(np.linspace(0.0, c.path.length, 181)) for c in self._cuts()]
        every = np.concatenate(points)
        return np.asarray(every.min(axis=0) - reach), np.asarray(every.max(axis=0) + reach)

    def programs_to(self, folder: str | os.PathLike[str], *, safe_height: float = 5.0) -> tuple[str, ...]:
        """Write one program for each spindle speed, named by identity and dial mark; returns the files' paths.

        This is the way for a router whose dial is turned by hand: set the mark that the file's name and its first
        comments say, run it, stop the spindle, set the next mark. Nothing moves between the speeds by itself.

        Parameters
        ----------
        folder
            An existing folder.
        safe_height
            Height of rapids above the face, in [0.5, 200]; clamps must be lower. [mm]

        Raises
        ------
        DomainError
            If the folder does not exist or the height is out of range.
        """
        dial = None if (machine := self._cuts()[0].machine) is None else machine.dial
        speeds = sorted({c.spindle_speed for c in self._cuts()})
        out = []
        for speed in speeds:
            known = dial is not None and min(dial.speeds) <= speed <= max(dial.speeds)
            word = f"mark_{dial.position(speed):.3g}" if known and dial is not None else f"{speed:.0f}_rpm"
            place = os.path.join(os.fsdecode(folder), f"{self.identity}_{word.replace('.', 'p')}.nc")
            write_rs274(self.at_speed(speed), place, safe_height=safe_height, remarks=self.lie)
            out.append(place)
        return tuple(out)

    def save(self, path: str | os.PathLike[str]) -> None:
        """Write everything the piece is as a text file (JSON); the same piece gives the same bytes.

        Raises
        ------
        DomainError
            If the grain is a function, which no file can hold, or the bit a class of your own.
        """
        text = json.dumps(piece_content(self), indent=1, allow_nan=False)
        with whole_file(path) as handle:
            handle.write(text + "\n")

    @classmethod
    def load(cls, path: str | os.PathLike[str]) -> Coupon:
        """Read what `save` wrote; its identity is worked out anew and must be the one that was saved.

        Raises
        ------
        DomainError
            If the file is no test piece of this version, or is not as it was saved.
        OSError
            If it cannot be read.
        """
        try:
            with open(os.fsdecode(path), "rb") as handle:
                content = handle.read(_LONGEST + 1)
            if len(content) > _LONGEST:
                raise ValueError(f"it is longer than {_LONGEST} bytes, which no test piece is")
            return piece_from(json.loads(content.decode("utf-8")))
        except OSError:
            raise
        except Exception as error:  # whatever json, numpy or the parts find wrong with it
            raise DomainError(f"path must hold a saved test piece, got {os.fspath(path)!r}: {error}") from None

    def at_speed(self, spindle_speed: float) -> Carving:
        """Cuts of one spindle speed: a router whose dial is turned by hand needs a program for each. [rpm]"""
        speeds = sorted({c.spindle_speed for c in self._cuts()})
        if spindle_speed not in speeds:
            raise DomainError(f"spindle_speed must be one of {', '.join(map(str, speeds))}, got {spindle_speed!r}")
        cuts = tuple(c for c in self._cuts() if c.spindle_speed == spindle_speed)
        return Carving(cuts, name=f"{self.name}, identity {self.identity}, at {spindle_speed:g} rpm")

    def _cuts(self) -> tuple[Cut, ...]:
        return (*(r.cut for r in self.rings), *(c for e in self.extras for c in e.cuts))

    def settings(self) -> tuple[RingSetting, ...]:
        """Settings of what is graded, by speed, then feed."""
        return tuple(sorted({r.setting for r in self.graded()}))

    def ring(self, code: str) -> Ring:
        """Ring of a blind letter."""
        return self.rings[[r.code for r in self.rings].index(choice("code", code, tuple(r.code for r in self.rings)))]

    def __len__(self) -> int:
        return len(self.rings)

    def __iter__(self) -> Iterator[Ring]:
        return iter(self.rings)

    def _columns(self) -> Columns:
        rings = self.rings
        return {
            "ring": [r.code for r in rings],
            "sense": [r.sense for r in rings],
            "spindle_speed [rpm]": [r.cut.spindle_speed for r in rings],
            "feed [mm/min]": [r.cut.feed for r in rings],
            "feed_per_tooth [mm]": [r.cut.feed_per_tooth for r in rings],
            "x [mm]": [r.centre[0] for r in rings],
            "y [mm]": [r.centre[1] for r in rings],
            "radius [mm]": [r.radius for r in rings],
            "not graded": [", ".join(map(str, r.marked)) for r in rings],
        }

    def _repr_html_(self) -> str:
        # a last line in a notebook must not tell the grader which ring is which
        columns = self._columns()
        blind = {name: columns[name] for name in ("ring", "x [mm]", "y [mm]", "radius [mm]", "not graded")}
        order = sorted(range(len(self)), key=lambda i: self.rings[i].code)
        return html_table({name: [values[i] for i in order] for name, values in blind.items()}, repr(self))

    def __repr__(self) -> str:
        return (
            f"<Coupon {self.name[:60]!r}: {len(self.rings)} rings of {self.sectors} sectors, "
            f"{len(self.strokes)} strokes, {len(self.extras)} extras>"
        )

    def __str__(self) -> str:
        rows = [("ring", "way", "speed [rpm]", "feed", "per tooth", "place [mm]", "not graded")]
        for r in self.graded():
            around = isinstance(r, Ring)
            x, y = r.centre if isinstance(r, Ring) else r.cut.path.xy[0]
            rows.append(
                (
                    r.code,
                    r.sense if isinstance(r, Ring) else "straight",
                    f"{r.cut.spindle_speed:.0f}",
                    feed_text(r.cut.largest_feed),
                    tooth_feed_text(r.cut.feed_per_tooth),
                    f"{'centre' if around else 'from'} ({x:.1f}, {y:.1f})",
                    ", ".join(map(str, r.marked)),
                )
            )
        size = f" of radius {length_text(self.rings[0].radius, 1)}" if self.rings else ""
        lines = [
            f"{self.name}: {len(self.rings)} rings{size} and {len(self.strokes)} straight strokes, groove "
            f"{self.width:.2f} mm wide and {self.depth:.2f} mm deep, on {self.size[0]:.0f} x {self.size[1]:.0f} mm "
            f"({self.size[0] / inch:.1f} x {self.size[1] / inch:.1f} in) of {self.board.wood.name}",
            f"Its identity is {self.identity}: sheet, form and program of this piece carry these letters.",
            "This table tells which ring is which: do not look before grading.",
            *self.lie,
            *("  " + row for row in table_text(rows).splitlines()),
            *(f"  {e.kind}: {e.note}" for e in self.extras),
            *(f"  left out: {text}" for text in self.left_out),
        ]
        return "\n".join(lines)


def coupon(
    bit: Cutter,
    board: Board,
    spindle_speed: ArrayLike,
    feed: ArrayLike,
    *,
    machine: Machine,
    depth: float = 2.5,
    sectors: int = 12,
    size: tuple[float, float] | None = None,
    margin: float = 8.0,
    rings: bool = True,
    straight_pair: bool = True,
    strokes: ArrayLike = (),
    comb: Sequence[float] = (),
    stair: bool = True,
    spin: str = "cw",
    name: str = "test piece",
    seed: int = 0,
) -> Coupon:
    """Lay out a twin-ring test piece on an off-cut of the board that the good stock comes from.

    Parameters
    ----------
    bit
        The job's bit.
    board
        Wood, and grain in the coordinates of the piece: lower left corner at (0, 0).
    spindle_speed
        One or more; every feed is cut at every speed, each setting once each way round. [rpm]
    feed
        One or more, about the candidate. [mm/min]
    machine
        The job's machine; it says how large a ring must be for the feed to be reached.
    depth
        Of the job's common stroke. [mm]
    sectors
        Per ring, 8 to 36; 12 take a quarter of an hour to grade.
    size
        Of the off-cut, (x, y); None: as much as it takes. [mm]
    margin
        Kept free all round. [mm]
    rings
        Whether to cut the rings. Without them, and without pair and stair, strokes alone make a piece of a minute.
    straight_pair
        Whether to add strokes of 40 mm along x and along y at the middle setting; they are graded as rings are.
    strokes
        Headings of straight strokes of 40 mm that are cut, and graded, at every setting. [deg]
    comb
        Headings in which to cut a land comb, such as the best and the worst found before. [deg]
    stair
        Whether to add a stroke in five depths, whose widths tell included angle and zero.
    spin
        Of the spindle.
    name
        Distinguishes the grade forms of several pieces.
    seed
        Of codes and places of the rings, and of where they are entered.

    Raises
    ------
    DomainError
        If an argument is out of range, a feed is above the machine's largest, the rings do not fit the off-cut, or
        nothing is left to grade.

    Examples
    --------
    >>> import chipsim as cs
    >>> board = cs.Board(cs.wood("black cherry"), cs.straight_grain(azimuth=0))
    >>> piece = cs.coupon(cs.VBit(90, 10, 2), board, 18_000, 1200, machine=cs.Machine(800, 5000), sectors=8)
    >>> len(piece.rings), piece.sectors, len(piece.identity)
    (2, 8, 8)
    """
    if not isinstance(machine, Machine):
        raise DomainError(f"machine must be a Machine, got {type(machine).__name__}")
    if not isinstance(board, Board):
        raise DomainError(f"board must be a Board, got {type(board).__name__}")
    must_be_a_cutter(bit)
    if not isinstance(name, str) or not name.strip() or not name.strip().isprintable():
        raise DomainError(f"name must be a word or more in one line, got {name!r}")
    f, n = _some("feed", feed, 0, 60_000, "mm/min"), _some("spindle_speed", spindle_speed, 1000, 100_000, "rpm")
    for v in f:
        feed_of("feed", float(v))
    if not 1 <= len(f) * len(n) <= len(LETTERS) // 2:
        raise DomainError(f"spindle_speed x feed must make 1 to {len(LETTERS) // 2} settings, got {len(n)} x {len(f)}")
    fastest = _LEVEL * machine.max_feed
    if f[-1] > fastest:
        # a ramp needs more than its feed in space
        raise DomainError(f"feed must lie in [100, {fastest:g}] mm/min, {_LEVEL:.0%} of the machine's, got {f[-1]:g}")
    d = number("depth", depth, low=0.2, high=50, unit="mm")
    k = integer("sectors", sectors, low=8, high=36)
    edge = number("margin", margin, low=0, high=200, unit="mm")
    settings = [RingSetting(float(b), float(a)) for b in n for a in f]
    heights, radii = profile_knots(bit, d)
    width = float(2 * np.interp(d, heights, radii))
    radius = max(9.0, 1.5 * width + 2.0, 1.02 * (f[-1] / 60) ** 2 / machine.acceleration)
    cell = 2 * radius + width
    rng = np.random.default_rng(checked_seed(seed))

    middle = settings[len(settings) // 2]
    job = _Job(bit, machine, choice("spin", spin, ("cw", "ccw")), middle)
    for flag, value in (("rings", rings), ("straight_pair", straight_pair), ("stair", stair)):
        if not isinstance(value, (bool, np.bool_)):
            raise DomainError(f"{flag} must be True or False, got {value!r:.40}")
    way = np.atleast_1d(array("strokes", strokes, low=-360, high=360, unit="deg"))
    if way.ndim != 1 or not (rings or straight_pair or way.size) or way.size * len(settings) > 40:
        raise DomainError(f"strokes must be headings, for 1 to 40 strokes where there is no ring, got {strokes!r:.60}")
    wanted = [_mark(2 * float(np.interp(_MARK_DEPTH, heights, radii)))]
    if stair:
        wanted.append(_stair(d, width, middle, machine))
    if straight_pair:
        wanted += _pair(d, width, middle)
    wanted += [_stroke(d, width, setting, float(a)) for setting in settings for a in way]
    headings = array("comb", comb, ndim=1, low=-360, high=360, unit="deg")
    wanted += [_comb(d, width, float(a)) for a in headings]

    room = None
    if size is not None:
        whole = array("size", size, ndim=1, low=10, high=5000, unit="mm")
        if whole.shape != (2,):
            raise DomainError(f"size must be two lengths (x, y), got {len(whole)}")
        across, up = whole.tolist()
        room = (across - 2 * edge, up - 2 * edge)
    count = 2 * len(settings) if rings else 0
    columns = _columns(count, cell, room, edge, len(settings))
    places, taken = _grid(count, columns, cell)
    boxes, left_out, used = _beside(wanted, places, taken, cell, room)
    outside = (used[0] + 2 * edge, used[1] + 2 * edge) if size is None else (across, up)

    codes = rng.permutation(list(LETTERS))[:count]
    spots = rng.permutation(count)
    entry = int(rng.integers(k))
    step = next(s for s in (5, 7, 11, 13) if k % s)
    cut_rings = []
    for i, (setting, sense) in enumerate((s, w) for s in settings for w in ("ccw", "cw")):
        if not rings:
            break
        x, y = (float(c) + edge for c in places[spots[i]])
        join = 360.0 / k * ((entry + step * i) % k + 0.5)
        cut_rings.append(_ring(str(codes[i]), (x, y), radius, d, join, sense, job._replace(setting=setting), k))
    numbers = iter(rng.permutation(sum(box.setting is not None for box, _ in boxes)) + 1)
    extras = tuple(_extra(box, (at[0] + edge, at[1] + edge), job, numbers) for box, at in boxes)
    return Coupon(name.strip(), board, tuple(cut_rings), extras, tuple(left_out), k, outside)


def _extra(box: _Box, at: tuple[float, float], job: _Job, numbers: Iterator[int]) -> Extra:
    """A control at its place; a stroke that is graded gets the next number."""
    own = job if box.setting is None else job._replace(setting=box.setting)
    cuts = tuple(own.cut(p.shifted(*at)) for p in box.paths)
    strokes = () if box.setting is None else (Stroke(f"S{next(numbers)}", cuts[0], _slow_stretches(cuts[0])),)
    return Extra(box.kind, cuts, box.note, strokes)


def _slow_stretches(cut: Cut) -> tuple[int, ...]:
    """Stretches on more than a quarter of which the feed is not reached: starts and stops are no setting."""
    station = (np.arange(STRETCHES * 40) + 0.5) / (STRETCHES * 40) * cut.path.length
    slow = cut.speed_profile.speed_at(station) * 60 < _REACHED * cut.largest_feed
    return tuple((np.flatnonzero(slow.reshape(STRETCHES, 40).mean(axis=1) > 0.25) + 1).tolist())


def piece_content(piece: Coupon) -> dict[str, Any]:
    """Plain values of a test piece for a file."""
    cuts = list(piece._cuts())
    bit, machine = cuts[0].bit, cuts[0].machine

    def at(cut: Cut) -> int:
        return next(i for i, c in enumerate(cuts) if c is cut)

    return {
        "chipsim_test_piece": _FORMAT,
        "name": piece.name,
        "identity": piece.identity,
        "wood": piece.board.wood.name,
        "sectors": piece.sectors,
        "size": list(piece.size),
        "rings": [
            {"code": r.code, "cut": at(r.cut), "sense": r.sense, "centre": list(r.centre), "radius": r.radius,
             "marked": list(r.marked)} for r in piece.rings
        ],
        "extras": [
            {"kind": e.kind, "note": e.note, "cuts": [at(c) for c in e.cuts],
             "strokes": [{"code": s.code, "cut": at(s.cut), "marked": list(s.marked), "parts": s.parts}
                         for s in e.strokes]}
            for e in piece.extras
        ],
        "left_out": list(piece.left_out),
        "board": plain_values(piece.board),
        "bit": plain_values(bit),
        "machine": plain_values(machine),
        "cuts": [
            {"spindle_speed": c.spindle_speed, "feed": plain_values(c.feed), "spin": c.spin, "phase": c.phase,
             "path": plain_values(c.path)} for c in cuts
        ],
    }  # fmt: skip


def piece_from(content: Any) -> Coupon:
    """The test piece of such values; an error of some kind if they are none."""
    if content["chipsim_test_piece"] != _FORMAT:
        raise ValueError(f"format {content['chipsim_test_piece']!r:.40}")
    board, bit, machine = (made_from(content[k]) for k in ("board", "bit", "machine"))
    cuts = [
        Cut(bit, made_from(c["path"]), c["spindle_speed"], made_from(c["feed"]), spin=c["spin"], phase=c["phase"],
            machine=machine) for c in content["cuts"]
    ]  # fmt: skip
    rings = tuple(
        Ring(r["code"], cuts[r["cut"]], r["sense"], (r["centre"][0], r["centre"][1]), r["radius"], tuple(r["marked"]))
        for r in content["rings"]
    )
    extras = tuple(
        Extra(e["kind"], tuple(cuts[i] for i in e["cuts"]), e["note"],
              tuple(Stroke(s["code"], cuts[s["cut"]], tuple(s["marked"]), s["parts"]) for s in e["strokes"]))
        for e in content["extras"]
    )  # fmt: skip
    size = (content["size"][0], content["size"][1])
    piece = Coupon(content["name"], board, rings, extras, tuple(content["left_out"]), content["sectors"], size)
    if piece.identity != content["identity"]:
        raise ValueError(f"it says it is {content['identity']!r:.20} and is {piece.identity}: it has been altered")
    return piece


def _micro(values: Iterable[float]) -> list[int]:
    """Whole millionths, in which the last bits of another computer's arithmetic are lost."""
    return [round(float(v) * 1e6) if np.isfinite(v) else -1 for v in values]


def _some(name: str, values: ArrayLike, low: float, high: float, unit: str) -> FloatArray:
    """One value or several, each once, rising."""
    out = np.atleast_1d(array(name, values, low=low, high=high, unit=unit))
    if out.ndim != 1:
        raise DomainError(f"{name} must be a number or a list of numbers, got shape {out.shape}")
    return np.unique(out)


class _Job(NamedTuple):
    bit: Cutter
    machine: Machine
    spin: str
    setting: RingSetting

    def cut(self, path: Path) -> Cut:
        return Cut(self.bit, path, self.setting.spindle_speed, self.setting.feed, spin=self.spin, machine=self.machine)


def _ring(
    code: str,
    centre: tuple[float, float],
    radius: float,
    depth: float,
    join: float,
    sense: str,
    job: _Job,
    sectors: int,
) -> Ring:
    """The ring whose ramp is as short as leaves no more sectors unfit than the join itself."""
    best: Ring | None = None
    for longer in (1.0, 1.5, 2.0, 3.0, 4.0):
        # a steeper ramp ends in a sharper bend, for which the machine may slow
        cut = job.cut(_turn(centre, radius, depth, join, sense, longer, job))
        ring = Ring(code, cut, sense, centre, radius, _marked(cut, centre, radius, join, sectors))
        if best is None or len(ring.marked) < len(best.marked):
            best = ring
        if len(best.marked) == 1:
            break
    assert best is not None
    return best


def _ramp(depth: float, feed: float, machine: Machine) -> float:
    """Length over which the tool may go down, or up, by `depth` at a feed in the plane. [mm]"""
    space = np.sqrt((machine.max_feed / feed) ** 2 - 1.0)
    return float(1.02 * depth * max(feed / machine.plunge_feed, 1.0 / space))


def _turn(
    centre: tuple[float, float], radius: float, depth: float, join: float, sense: str, longer: float, job: _Job
) -> Path:
    """A ring that is at full depth for one turn from the azimuth `join` [deg], ramped in before and out after."""
    feed, machine = job.setting.feed, job.machine
    stop = (feed / 60.0) ** 2 / (2 * machine.acceleration)
    # the descent may be no faster than the plunge feed, and the feed must be gathered on the way down
    down = longer * max(np.radians(_RAMP) * radius, _ramp(depth, feed, machine) + stop)
    lap, out = _OVERLAP, max(1.1 * stop, _ramp(depth, feed, machine), 2.0)
    parts = max(1, int(np.ceil(np.degrees(down / radius) / 90)))
    station = np.concatenate(
        [
            np.linspace(0, down, parts + 1),
            down + 2 * np.pi * radius * np.array([0.25, 0.5, 0.75, 1.0]),
            down + 2 * np.pi * radius + np.array([lap, lap + out]),
        ]
    )
    deep = np.concatenate([depth * np.linspace(0, 1, parts + 1), np.full(5, depth), [0.0]])
    turn = np.degrees((station - down) / radius) * (1.0 if sense == "ccw" else -1.0)
    at = np.radians(join + turn)
    xy = np.array(centre) + radius * np.column_stack([np.cos(at), np.sin(at)])
    return Path(xy, deep, sweep=np.diff(turn))


def sector_of(xy: FloatArray, centre: tuple[float, float], sectors: int) -> np.ndarray:
    """Number, from 1, of the sector in which points (..., 2) lie as seen from the centre."""
    angle = np.degrees(np.arctan2(xy[..., 1] - centre[1], xy[..., 0] - centre[0])) % 360.0
    return np.asarray((np.floor(angle / (360.0 / sectors)).astype(int) % sectors) + 1)


def _marked(cut: Cut, centre: tuple[float, float], radius: float, join: float, sectors: int) -> tuple[int, ...]:
    """Sectors with the join, or whose lips are made below the programmed feed."""
    end = cut.path.length
    level = np.flatnonzero(cut.path.depth >= cut.path.depth.max() - 1e-12)
    first, last = cut.path.joints[level[0]], cut.path.joints[level[-1]]
    station = np.linspace(first, last, 721)
    slow = cut.speed_profile.speed_at(np.minimum(station, end)) * 60 < _REACHED * cut.largest_feed
    # the turn's last millimetre lies over its first: both belong to the join
    numbers = sector_of(cut.path.position(station[slow]), centre, sectors)
    a = np.radians(join + np.degrees(_OVERLAP / radius) * np.array([-1, 0, 1]))
    at_join = np.array(centre) + radius * np.column_stack([np.cos(a), np.sin(a)])
    return tuple(sorted({*numbers.tolist(), *sector_of(at_join, centre, sectors).tolist()}))


# ------------------------------------------------------------------------------------------ controls


@dataclass(frozen=True)
class _Box:
    """A control that wants a place: size, paths from its own lower left corner. [mm]"""

    kind: str
    width: float
    height: float
    paths: list[Path]
    note: str
    setting: RingSetting | None = None  # of a stroke that is graded


def _mark(width: float) -> _Box:
    """An L, which looks different turned round or turned over."""
    xy = width / 2 + np.array([[_ARM, 0.0], [0.0, 0.0], [0.0, 0.6 * _ARM]])
    note = "long arm along +x, short arm along +y"
    return _Box("grain mark", _ARM + width, 0.6 * _ARM + width, [Path(xy, np.asarray(_MARK_DEPTH))], note)


def _pair(depth: float, width: float, setting: RingSetting) -> list[_Box]:
    return [replace(_stroke(depth, width, setting, a), kind="straight pair") for a in (0.0, 90.0)]


def _stroke(depth: float, width: float, setting: RingSetting, heading: float) -> _Box:
    path = line((0.0, 0.0), (_STROKE, 0.0), depth).rotated(heading)
    low, high = path.xy.min(axis=0) - width / 2, path.xy.max(axis=0) + width / 2
    along = {0.0: "along x", 90.0: "along y"}.get(heading, f"heading {heading:g} deg")
    note = f"40 mm {along}, graded in {STRETCHES} stretches from where it begins"
    wide, tall = (float(v) for v in high - low)
    return _Box("stroke", wide, tall, [path.shifted(-low[0], -low[1])], note, setting)


def _comb(depth: float, width: float, heading: float) -> _Box:
    offset = np.concatenate([[0.0], np.cumsum(np.array(LANDS) + width)])
    paths = [line((0.0, y), (18.0, y), depth).rotated(heading) for y in offset.tolist()]
    corners = np.concatenate([p.xy for p in paths])
    low, high = corners.min(axis=0) - width / 2, corners.max(axis=0) + width / 2
    lands = ", ".join(f"{b:g}" for b in LANDS)
    note = f"heading {heading:g} deg, lands of {lands} mm; write down the narrowest whole one"
    wide, tall = (float(v) for v in high - low)
    return _Box("land comb", wide, tall, [p.shifted(-low[0], -low[1]) for p in paths], note)


def _stair(depth: float, width: float, setting: RingSetting, machine: Machine) -> _Box:
    deep = depth * np.linspace(0.25, 1.0, STAIR)
    down = _ramp(deep[1] - deep[0], setting.feed, machine)
    x = np.cumsum([0.0, *([6.0, down] * STAIR)])[:-1] + width / 2
    path = Path(np.column_stack([x, np.full(len(x), width / 2)]), np.repeat(deep, 2))
    steps = ", ".join(f"{v:.2f}" for v in deep)
    note = f"depths {steps} mm along x; read the widths with a reticle"
    return _Box("depth stair", float(x[-1] + width / 2), width, [path], note)


# --------------------------------------------------------------------------------------------- layout


def _columns(count: int, cell: float, room: tuple[float, float] | None, margin: float, settings: int) -> int:
    """Columns of the grid of rings, or a DomainError that says what would fit."""
    if room is None or count == 0:
        return max(1, int(np.ceil(np.sqrt(count * 1.5))))
    fit = [max(0, int((r + _GAP + 1e-9) // (cell + _GAP))) for r in room]
    if fit[0] * fit[1] >= count:
        # as flat a grid as the width allows leaves one free strip for the controls
        return min(fit[0], count)
    holds = fit[0] * fit[1] // 2
    raise DomainError(
        f"size must hold {count} rings of {cell:.1f} mm with {_GAP:g} mm between and a margin of {margin:g} mm; "
        f"{room[0] + 2 * margin:g} x {room[1] + 2 * margin:g} mm holds {fit[0]} x {fit[1]}, "
        f"{holds} of the {settings} settings"
    )


def _grid(count: int, columns: int, cell: float) -> tuple[FloatArray, tuple[float, float]]:
    """Centres (count, 2) of the rings from the lower left corner of the free room, and what they take. [mm]"""
    if count == 0:
        return np.empty((0, 2)), (0.0, 0.0)
    i = np.arange(count)
    centres: FloatArray = np.column_stack([i % columns, i // columns]).astype(np.float64) * (cell + _GAP) + cell / 2
    high = centres.max(axis=0) + cell / 2
    return centres, (float(high[0]), float(high[1]))


def _beside(
    wanted: Iterable[_Box],
    centres: FloatArray,
    taken: tuple[float, float],
    cell: float,
    room: tuple[float, float] | None,
) -> tuple[list[tuple[_Box, tuple[float, float]]], list[str], tuple[float, float]]:
    """Places for the controls: the first free spot from below on a millimetre grid, rings and others avoided."""
    placed: list[tuple[_Box, tuple[float, float]]] = []
    left_out = []
    rects = [(x - cell / 2, y - cell / 2, x + cell / 2, y + cell / 2) for x, y in centres.tolist()]
    width = taken[0] if room is None else room[0]
    height = np.inf if room is None else room[1]
    order = sorted(wanted, key=lambda b: -b.height * b.width)
    if room is None:
        width = max(width, *(b.width for b in order))
    for box in order:
        spot = _spot(box, rects, width, height)
        if spot is None:
            if box.setting is not None and box.kind == "stroke":
                raise DomainError(f"size must have room for the strokes asked for: {box.note} does not fit")
            free = f"{width:.0f} x {height:.0f} mm"
            left_out.append(f"{box.kind} ({box.note}): {box.width:.0f} x {box.height:.0f} mm do not fit {free}")
            continue
        placed.append((box, spot))
        rects.append((spot[0], spot[1], spot[0] + box.width, spot[1] + box.height))
    high = (max(r[2] for r in rects), max(r[3] for r in rects))
    return placed, left_out, high


def _spot(
    box: _Box, rects: Sequence[tuple[float, float, float, float]], width: float, height: float
) -> tuple[float, float] | None:
    # lowest, then leftmost, of the corners that the others offer
    xs = sorted({0.0, *(r[2] + _GAP for r in rects), *(r[0] for r in rects)})
    ys = sorted({0.0, *(r[3] + _GAP for r in rects), *(r[1] for r in rects)})
    for y in ys:
        for x in xs:
            if x + box.width > width + 1e-9 or y + box.height > height + 1e-9:
                continue
            clear = all(
                x >= r[2] + _GAP - 1e-9
                or x + box.width <= r[0] - _GAP + 1e-9
                or y >= r[3] + _GAP - 1e-9
                or y + box.height <= r[1] - _GAP + 1e-9
                for r in rects
            )
            if clear:
                return x, y
    return None


def ring_edges(sectors: int) -> FloatArray:
    """Azimuths of the sectors' edges, (sectors + 1,). [deg]"""
    return np.linspace(0.0, 360.0, sectors + 1)
