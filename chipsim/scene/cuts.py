"""The set-up as frozen objects: a cut, its earlier passes, and a carving of many cuts on one board."""

from __future__ import annotations

import cmath
import math
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property
from typing import NamedTuple

import numpy as np

from .._shared.arrays import SLOWEST_PLUNGE, FloatArray, bare, choice, frozen, instance, integer, number
from .._shared.arrays import feed as feed_of
from ..errors import DomainError
from ..units import feeds_text, ipm, range_text, thou
from .cutters import Cutter, as_cutter, bit_words, edges_of, profile_knots, runout_text, slope_at, width_at
from .edges import Edges
from .machine import Machine, Run, SpeedProfile, checked_feeds, feeds_in_space, profile_of, run_along
from .paths import Path

__all__ = ["AirMove", "Carving", "Cut", "Pass", "Stroke", "as_carving", "caption_words", "reached_feed"]


PLUNGE_FEED = 300.0
"""Feed straight down where nothing else is said, that of `Machine` (common practice, no source). [mm/min]"""


@dataclass(frozen=True)
class Pass:
    """An earlier, shallower pass of a cut.

    Parameters
    ----------
    leave
        How much higher its tip runs than the final pass; what the final pass, the skim, then takes, in (0, 50]. [mm]
    reversed
        True if it runs the path the other way.
    feed
        None: that of the cut. [mm/min]

    Examples
    --------
    >>> import chipsim as cs
    >>> skim = cs.Cut(cs.VBit(60, 12.7, 2), cs.ring(20, 2.5), 18_000, 1500, passes=[cs.Pass(leave=0.2)])
    >>> [float(rough.path.depth[0].round(6)) for rough in skim.earlier_passes()]
    [2.3]
    """

    leave: float
    reversed: bool = False
    feed: float | None = None

    def __post_init__(self) -> None:
        object.__setattr__(self, "leave", number("leave", self.leave, low=0, high=50, open_low=True, unit="mm"))
        if not isinstance(self.reversed, bool):
            raise DomainError(f"reversed must be True or False, got {self.reversed!r}")
        if self.feed is not None:
            object.__setattr__(self, "feed", feed_of("feed", self.feed))


@dataclass(frozen=True)
class Cut:
    """A groove about to be cut.

    One stay of the tool in the wood at one spindle speed: it enters at the start of the path in uncut wood at time 0,
    and follows the path, plunges, ramps, retracts and dwells included, to its end.

    Parameters
    ----------
    bit
        `VBit`, `ProfileBit` or any `Cutter`.
    path
        What the tip's axis follows.
    spindle_speed
        Revolutions per minute, in [1000, 100000], not above the bit's marked maximum. [rpm]
    feed
        Feed, in [100, 60000], one number or one for each piece of the path. With one number a vertical piece goes down
        at the plunge feed and up at the feed; with one for each its own counts, from 1 on. [mm/min]
    spin
        'cw' or 'ccw' seen from above; 'cw' is the trade's right-hand bit.
    phase
        Azimuth, counter-clockwise from +x, of flute 0's nominal direction (runout ignored) at time 0. [deg]
    machine
        What limits the feed: the tool then starts and stops at rest, slows in curves and corners. None: the feed is the
        programmed one everywhere, and changes at once.
    passes
        Earlier passes, as `Pass` or as how much each leaves [mm], in any order; only the cut itself, the last pass,
        makes the lip. It meets the nominal groove the earlier ones left.
    feed_along
        Which speed the feed is: 'face', that of the axis in the plane of the face, to which a ramp's descent is added,
        so that feed per tooth is the same everywhere; 'space', that of the tip along its path in space, as in programs
        (RS-274: the rate along the path of the controlled point).
    plunge_feed
        Feed straight down where `feed` is one number, in [80, 60000]; None: the machine's, without one 300. [mm/min]

    Raises
    ------
    DomainError
        If a value is out of range, the speed is above the bit's marked maximum, or the path goes deeper than the
        bit's cutting length.

    Examples
    --------
    >>> import chipsim as cs
    >>> cut = cs.Cut(cs.VBit(60, 12.7, 2), cs.ring(20, 2.5), 18_000, 1500)
    >>> f"{cut.feed_per_tooth:.4f} mm per tooth, {cut.duration:.2f} s"
    '0.0417 mm per tooth, 5.03 s'
    """

    bit: Cutter
    path: Path
    spindle_speed: float
    feed: float | tuple[float, ...]
    spin: str = field(default="cw", kw_only=True)
    phase: float = field(default=0.0, kw_only=True)
    machine: Machine | None = field(default=None, kw_only=True)
    passes: Sequence[Pass | float] | None = field(default=None, kw_only=True)
    feed_along: str = field(default="face", kw_only=True)
    plunge_feed: float | None = field(default=None, kw_only=True)

    def __post_init__(self) -> None:
        put = object.__setattr__
        as_cutter(self.bit)
        instance("path", self.path, Path, "a Path")
        speed = number("spindle_speed", self.spindle_speed, low=1000, high=100_000, unit="rpm")
        limit = self.bit.max_spindle_speed
        if limit is not None and speed > limit:
            raise DomainError(
                f"spindle_speed must not exceed the bit's marked maximum, in [1000, {limit:g}] rpm, got {speed:g}"
            )
        put(self, "spindle_speed", speed)
        put(self, "feed", checked_feeds(self.path, self.feed))
        put(self, "feed_along", choice("feed_along", self.feed_along, ("face", "space")))
        if self.plunge_feed is not None:
            put(self, "plunge_feed", feed_of("plunge_feed", self.plunge_feed, low=SLOWEST_PLUNGE))
        put(self, "spin", choice("spin", self.spin, ("cw", "ccw")))
        put(self, "phase", number("phase", self.phase, low=-1e6, high=1e6, unit="deg"))
        if self.machine is not None:
            instance("machine", self.machine, Machine, "a Machine or None")
        deepest = float(self.path.depth.max())
        put(self, "passes", _checked_passes(self.passes, deepest))
        if self.bit.cutting_length is not None and deepest > self.bit.cutting_length + 1e-9:
            raise DomainError(
                f"depth must lie within the bit's cutting length, [0, {self.bit.cutting_length:g}] mm, got {deepest:g}"
            )
        heights, radii = profile_knots(self.bit, deepest)
        if radii.max() <= 0:
            raise DomainError("bit.radius must be positive somewhere within the depth of the path")
        put(self, "_knots", (frozen(heights), frozen(radii)))
        put(self, "_edges", edges_of(self.bit, deepest))

    def __repr__(self) -> str:
        return f"<Cut {self.path!r} at {self.spindle_speed:g} rpm {self.spin}, {feeds_text(self.typed_feeds)}>"

    @cached_property
    def feeds(self) -> FloatArray:
        """(pieces,) programmed speed of the tip on each piece of the path, along it in space. [mm/min]"""
        own: float | tuple[float, ...] = self.feed
        plunge = self.plunge_feed
        if plunge is None:
            plunge = PLUNGE_FEED if self.machine is None else self.machine.plunge_feed
        return frozen(feeds_in_space(self.path, own, self.feed_along, plunge))  # type: ignore[no-any-return]

    @property
    def face_feeds(self) -> FloatArray:
        """(pieces,) programmed speed of the axis on each piece in the face's plane, 0 on vertical ones. [mm/min]"""
        if self.feed_along == "face":  # to the last bit what is typed
            return np.where(self.path.pieces[:, 4] > 0, np.asarray(self.feed), 0.0)
        return self.feeds * self.path.pieces[:, 4] / self.path.space_length

    @property
    def typed_feeds(self) -> tuple[float, ...]:
        """Feeds as programmed, each once, in order of the path; of a path that only goes down and up those in space.

        [mm/min]
        """
        moving = self.path.pieces[:, 4] > 0
        if moving.any() and not isinstance(self.feed, tuple):
            return (self.feed,)
        every = np.asarray(self.feed)[moving] if moving.any() else self.feeds
        values, first = np.unique(every, return_index=True)
        return tuple(values[np.argsort(first)].tolist())

    @property
    def largest_feed(self) -> float:
        """Largest programmed speed of the axis in the face's plane; 0 if the path only goes down and up. [mm/min]"""
        return float(self.face_feeds.max())

    @property
    def feed_per_rev(self) -> float:
        """Feed per revolution, from the largest programmed feed in the face. [mm]"""
        return self.largest_feed / self.spindle_speed

    @property
    def feed_per_tooth(self) -> float:
        """Feed per tooth, f / (n z), from the largest programmed feed in the face. [mm]"""
        return self.feed_per_rev / self.bit.flutes

    @property
    def knots(self) -> tuple[FloatArray, FloatArray]:
        """Outline of the bit as a polyline: heights and radii, each (k,). [mm]"""
        knots: tuple[FloatArray, FloatArray] = self._knots  # type: ignore[attr-defined]
        return knots

    @property
    def edges(self) -> Edges | None:
        """Where the edges of a bit stand whose flutes are not all alike and in axial planes; None if they are."""
        edges: Edges | None = self._edges  # type: ignore[attr-defined]
        return edges

    def half_width(self, depth: FloatArray) -> FloatArray:
        """Half the groove's width at the face, from the outline the kernels use; runout not added. [mm]"""
        return width_at(self.knots, bare("depth", depth, "mm"))

    def earlier_passes(self) -> list[Cut]:
        """Cuts of the earlier passes, shallowest first; those that stay above the face are left out."""
        found = []
        own: tuple[Pass, ...] = self.passes  # type: ignore[assignment]  # normalised at construction
        for p in sorted(own, key=lambda p: -p.leave):
            cut = self.raised(p.leave)
            if cut.path.depth.max() > 0:
                cut = cut if p.feed is None else replace(cut, feed=p.feed)
                found.append(cut.reversed() if p.reversed else cut)
        return found

    def raised(self, by: float) -> Cut:
        """Same cut without its passes, its path `by` higher as `Path.raised` does; every piece keeps its feed. [mm]"""
        path, source = self.path.raised_parts(by)
        return replace(self, path=path, feed=self._feed_of(source), passes=None)

    def reversed(self) -> Cut:
        """Same cut travelled the other way; every piece keeps its feed."""
        feed = self.feed[::-1] if isinstance(self.feed, tuple) else self.feed
        return replace(self, path=self.path.reversed(), feed=feed)

    def _feed_of(self, source: np.ndarray) -> float | tuple[float, ...]:
        """Feed of a path whose pieces come from these."""
        return tuple(np.array(self.feed)[source].tolist()) if isinstance(self.feed, tuple) else self.feed

    def split(self, inside: list[FloatArray]) -> Cut:
        """Same cut, its path with vertices added as `Path.split_parts` does; every piece keeps its feed."""
        return self._on_parts(*self.path.split_parts(inside))

    def _split_at(self, piece: np.ndarray, at: FloatArray) -> Cut:
        """As `split`, of vertices given by their pieces and arc lengths, (k,) each, in order along the path."""
        return self._on_parts(*self.path._split_at(piece, at))

    def _on_parts(self, path: Path, source: np.ndarray) -> Cut:
        return replace(self, path=path, feed=self._feed_of(source))

    def flank_slope(self, depth: FloatArray) -> FloatArray:
        """Slope dr/dh of the outline just below the face: tan of the flank's lean, 0 above the outline's top. [-]"""
        return slope_at(self.knots, bare("depth", depth, "mm"))

    @cached_property
    def _run(self) -> Run:
        return run_along(self.path, self.feeds, self.machine)

    @cached_property
    def speed_profile(self) -> SpeedProfile:
        """Speed reached along the path; without a machine the programmed feed everywhere."""
        return profile_of(self.path, self.feeds, self._run)

    @cached_property
    def motion(self) -> FloatArray:
        """(m, 14) what the axis does, one row a stretch of constant acceleration on one piece of the path, or a dwell.

        The kernels' time, station, speed, acceleration, x, y, heading, curvature, depth, slope, duration, length, rate
        of descent and its change. On a vertical piece and a dwell the speed in the face is 0, and the heading stays.
        [s, mm, mm/s, mm/s^2, mm, mm, rad, 1/mm, mm, -, s, mm, mm/s, mm/s^2]
        """
        path, profile, run = self.path, self.speed_profile, self._run
        _, _, heading, curvature, length, depth, slope = path.pieces.T
        # Headings without jumps of a full turn, so that the tool's rotation seen from the path runs on
        turn = np.diff(heading) - curvature[:-1] * length[:-1]
        jump = (turn + np.pi) % (2 * np.pi) - np.pi
        unwrapped = heading[0] + np.concatenate([[0.0], np.cumsum(curvature[:-1] * length[:-1] + jump)])
        arrived = np.concatenate([unwrapped[:1], unwrapped + curvature * length])
        time, start, speed, acceleration = profile.pieces.T
        stands, k = run.stands, np.minimum(run.piece, len(length) - 1)
        fall = np.where(stands, 0.0, path.drop[k] / path.space_length[k])
        vertex = np.where(stands, run.piece % len(path.xy), k)
        xy = np.where(stands[:, None], path.xy[vertex], path.position(start))
        bend = np.where(stands, 0.0, curvature[k])
        ahead = unwrapped[k] + curvature[k] * (start - path.joints[k])
        table = np.column_stack(
            [
                time,
                start,
                speed,
                acceleration,
                xy[:, 0],
                xy[:, 1],
                np.where(stands, arrived[run.piece], ahead),
                bend,
                np.where(stands, path.depth[vertex], depth[k] + fall * run.begun),
                np.where(stands, 0.0, slope[k]),
                run.seconds,
                np.diff(profile.station),
                fall * run.first,
                fall * run.acceleration,
            ]
        )
        return frozen(np.ascontiguousarray(table))  # type: ignore[no-any-return]

    @property
    def seconds_by_piece(self) -> FloatArray:
        """(pieces,) how long the tool is on each piece of the path, dwells not counted. [s]"""
        run = self._run
        moves = ~run.stands
        return np.asarray(np.bincount(run.piece[moves], run.seconds[moves], len(self.path.drop)), dtype=np.float64)

    @property
    def duration(self) -> float:
        """Time from the start of the path to its end, dwells included. [s]"""
        return float(self.motion[-1, 0] + self.motion[-1, 10])

    def caption(self) -> str:
        """One line for captions and reports: bit, speed, feed, runout if there is any."""
        return caption_words([self])


def caption_words(cuts: Sequence[Cut]) -> str:
    """One line for captions and reports of cuts, at least one: what they share once, what differs as a range."""
    bits: list[Cutter] = []
    for cut in cuts:
        if not any(cut.bit is bit or cut.bit == bit for bit in bits):
            bits.append(cut.bit)
    shapes = list(dict.fromkeys(bit_words(bit) for bit in bits))
    words = shapes[0] if len(bits) == 1 else f"{len(bits)} bits ({' and '.join(shapes)})"
    spins = " and ".join(dict.fromkeys("clockwise" if cut.spin == "cw" else "counter-clockwise" for cut in cuts))
    feeds = [f for c in cuts for f in _ends(c.typed_feeds)]
    moving = [c for c in cuts if c.path.length > 0]
    tooth = [f / (c.spindle_speed * c.bit.flutes) for c in moving or cuts for f in _ends(_in_face(c))]
    tooth = tooth or [f / (c.spindle_speed * c.bit.flutes) for c in cuts for f in _ends(c.typed_feeds)]
    return (
        f"{words}, {range_text((c.spindle_speed for c in cuts), '.0f')} rpm {spins}, "
        f"{range_text(feeds, '.0f')} mm/min{'' if moving else ' straight down'} "
        f"({range_text((f / ipm for f in feeds), '.0f')} in/min), "
        f"{range_text(tooth, '.3f')} mm "
        f"({range_text((f / thou for f in tooth), '.1f')} thou) per tooth"
        + (f", {runout_text(bits)}" if any(bit.runout for bit in bits) else "")
    )


def _in_face(cut: Cut) -> Sequence[float] | FloatArray:
    """Typed feeds in the face of the pieces that move there. [mm/min]"""
    if cut.feed_along == "face" and not isinstance(cut.feed, tuple):
        return (cut.feed,) if cut.path.length > 0 else ()
    feeds = cut.face_feeds
    return feeds[feeds > 0]


def _ends(values: Sequence[float] | FloatArray) -> tuple[float, ...]:
    """The least and the largest, if there are any."""
    return (float(np.min(values)), float(np.max(values))) if len(values) else ()


def _checked_passes(passes: object, deepest: float) -> tuple[Pass, ...]:
    if passes is None:
        return ()
    if not isinstance(passes, Sequence) or isinstance(passes, str):
        raise DomainError(f"passes must be a sequence of Pass or of numbers [mm], got {type(passes).__name__}")
    out = tuple(
        p if isinstance(p, Pass) else Pass(number("passes", p, low=0, high=50, open_low=True, unit="mm"))
        for p in passes
    )
    for p in out:
        if p.leave >= deepest:
            raise DomainError(f"passes must leave less than the cut is deep, in (0, {deepest:g}) mm, got {p.leave:g}")
    return out


@dataclass(frozen=True)
class AirMove:
    """A move of a planned carving that cuts no groove: a rapid, a plunge, a retract, a move in air or a dwell.

    Parameters
    ----------
    kind
        'rapid', 'plunge', 'retract', 'air' or 'dwell'.
    start, end
        (x, y, z), z above the face. [mm]
    feed
        Of moves at feed, in space; None: as fast as the machine goes. [mm/min]
    seconds
        Of a dwell. [s]
    before
        Number of cuts that come before it in the carving.

    Raises
    ------
    DomainError
        If a value is of the wrong kind or out of range.

    Examples
    --------
    >>> import chipsim as cs
    >>> move = cs.AirMove("rapid", start=(0, 0, 5), end=(30, 40, 5))
    >>> carving = cs.Carving((cs.Cut(cs.VBit(60, 12.7, 2), cs.line((30, 40), (60, 40), 2), 18_000, 1500),), (move,))
    >>> carving.air_moves[0].kind
    'rapid'
    """

    kind: str
    start: tuple[float, float, float]
    end: tuple[float, float, float]
    feed: float | None = None
    seconds: float = 0.0
    before: int = 0

    def __post_init__(self) -> None:
        choice("kind", self.kind, ("rapid", "plunge", "retract", "air", "dwell"))
        for name in ("start", "end"):
            point = getattr(self, name)
            if not isinstance(point, tuple) or len(point) != 3:
                raise DomainError(f"{name} must be a tuple (x, y, z), got {point!r}")
            for value in point:
                number(name, value, low=-1e6, high=1e6, unit="mm")
        if self.feed is not None:
            number("feed", self.feed, low=0, open_low=True, unit="mm/min")
        number("seconds", self.seconds, low=0, unit="s")
        integer("before", self.before, low=0, high=10**9)

    def least_seconds(self, machine: Machine | None) -> float:
        """How long it takes at least, at its feed or as fast as the machine goes; a rapid without one: 0. [s]"""
        feed = self.feed
        if machine is not None:
            fastest = machine.max_feed if self.feed is not None else machine.rapid_speed
            feed = fastest if feed is None else min(feed, fastest)
        return self.seconds + (60.0 * math.dist(self.start, self.end) / feed if feed is not None else 0.0)


class Stroke(NamedTuple):
    """One cut without passes at its place in the order of time, made by `Carving.strokes`.

    Attributes
    ----------
    cut
        The cut; its time 0 is `start`.
    start
        When it starts, on the clock of the carving. [s]
    groove
        Of the carving's cut it belongs to.
    is_final
        False for an earlier pass of that cut.
    """

    cut: Cut
    start: float
    groove: int
    is_final: bool


@dataclass(frozen=True, eq=False)
class Carving:
    """An ordered set of cuts on one board.

    Parameters
    ----------
    cuts
        In the order in which they are cut; at least one.
    air_moves
        What lies between them, for the time estimate.
    name
        For reports.
    notes
        What was assumed when it was read from a program, in sentences; reports of its maps repeat them.

    Examples
    --------
    >>> import chipsim as cs
    >>> bit = cs.VBit(60, 12.7, 2)
    >>> rings = cs.Carving(tuple(cs.Cut(bit, cs.ring(r, 2.5), 18_000, 1500) for r in (20, 30)))
    >>> f"{rings.length:.1f} mm in {len(rings)} cuts"
    '314.2 mm in 2 cuts'
    """

    cuts: tuple[Cut, ...]
    air_moves: tuple[AirMove, ...] = ()
    name: str = "carving"
    notes: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        cuts = tuple(self.cuts) if isinstance(self.cuts, Sequence) else ()
        if not cuts or not all(isinstance(c, Cut) for c in cuts):
            raise DomainError("cuts must be a sequence of at least one Cut")
        air_moves = tuple(self.air_moves) if isinstance(self.air_moves, Sequence) else (None,)
        if not all(isinstance(m, AirMove) for m in air_moves):
            raise DomainError(f"air_moves must be a sequence of AirMove, got {self.air_moves!r:.80}")
        instance("name", self.name, str, "a str")
        notes = tuple(self.notes) if isinstance(self.notes, tuple | list) else (None,)
        if not all(isinstance(note, str) for note in notes):
            raise DomainError(f"notes must be a sequence of str, got {self.notes!r:.80}")
        object.__setattr__(self, "cuts", cuts)
        object.__setattr__(self, "air_moves", air_moves)
        object.__setattr__(self, "notes", notes)

    def __len__(self) -> int:
        return len(self.cuts)

    def __iter__(self) -> Iterator[Cut]:
        return iter(self.cuts)

    def __repr__(self) -> str:
        return f"<Carving {self.name!r}: {len(self)} cuts, {self.length:.0f} mm of groove>"

    @property
    def length(self) -> float:
        """Length of all paths in the face. [mm]"""
        return sum(c.path.length for c in self.cuts)

    def strokes(self) -> tuple[Stroke, ...]:
        """Every stay of the tool in the wood, in order of time: of each cut the earlier passes, then the cut itself.

        The clock starts at 0 and adds how long they take, and what the moves between them take at least: those at feed
        by their feed, rapids by the machine of the cut they lead to, without one nothing. Moves between the passes of
        a cut are not planned; pauses are so a lower bound.
        """
        out: list[Stroke] = []
        clock, moves = 0.0, sorted(self.air_moves, key=lambda m: m.before)
        done = 0
        for k, cut in enumerate(self.cuts):
            while done < len(moves) and moves[done].before <= k:
                clock += moves[done].least_seconds(cut.machine)
                done += 1
            last = cut if not cut.passes else replace(cut, passes=None)
            for one in [*cut.earlier_passes(), last]:
                out.append(Stroke(one, clock, k, one is last))
                clock += one.duration
        return tuple(out)

    def rotated(self, degrees: float) -> Carving:
        """Copy with every path and move turned about the origin; each flute's phase turns with it."""
        turn = number("degrees", degrees, low=-1e6, high=1e6, unit="deg")
        return self._moved(
            lambda c: replace(c, path=c.path.rotated(turn), phase=(c.phase + turn) % 360.0),
            lambda xy: xy * cmath.rect(1.0, math.radians(turn)),
        )

    def shifted(self, dx: float, dy: float) -> Carving:
        """Copy with every path and move shifted by (dx, dy). [mm]"""
        return self._moved(lambda c: replace(c, path=c.path.shifted(dx, dy)), lambda xy: xy + complex(dx, dy))

    def mirrored(self) -> Carving:
        """Copy with every path and move reflected in the x axis, y -> -y; the spindle turns as it did.

        What was an entry lip becomes an exit lip: the image is another job for the spindle, not the same one.
        """
        return self._moved(lambda c: replace(c, path=c.path.mirrored()), complex.conjugate)

    def _moved(self, change: Callable[[Cut], Cut], point: Callable[[complex], complex]) -> Carving:
        cuts = tuple(change(c) for c in self.cuts)  # first: they look at the arguments

        def place(p: tuple[float, float, float]) -> tuple[float, float, float]:
            xy = point(complex(p[0], p[1]))
            return xy.real, xy.imag, p[2]

        air_moves = tuple(replace(m, start=place(m.start), end=place(m.end)) for m in self.air_moves)
        return Carving(cuts, air_moves, self.name, self.notes)


def as_carving(thing: object, name: str = "carving") -> Carving:
    """Return a carving as it is, a single cut as a carving of one, or raise DomainError."""
    return Carving((thing,)) if isinstance(thing, Cut) else instance(name, thing, Carving, "a Carving or a Cut")


def reached_feed(cut: Cut) -> SpeedProfile:
    """Speed the machine reaches along a cut, time-optimal under acceleration, curvature, corners and programmed feed.

    See `machine.speed_profile`; without a machine it is the programmed feed everywhere.

    Examples
    --------
    >>> import chipsim as cs
    >>> from chipsim.scene.cuts import reached_feed
    >>> cut = cs.Cut(cs.VBit(60, 12.7, 2), cs.ring(5, 2), 18_000, 3000, machine=cs.Machine(300, 3000))
    >>> f"{60 * reached_feed(cut).speed_at(15.0):.0f} mm/min of {cut.feed:.0f} programmed"
    '2324 mm/min of 3000 programmed'
    """
    return instance("cut", cut, Cut, "a Cut").speed_profile
