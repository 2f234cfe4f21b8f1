r"""Paths: what a controller executes, straight lines and circular arcs with a depth along them.

Arcs stay arcs, never chords; every other curve is laid out in arcs within a stated tolerance. A path may also go
straight down and up, and stand still.

::

        *----------.            vertices xy[i], a piece from each to the next:
       /            \           sweep 0: a line; sweep +90: a quarter turn counter-clockwise
      *              *
"""

from __future__ import annotations

import inspect
from collections.abc import Callable
from dataclasses import dataclass, field
from itertools import pairwise

import numpy as np
from numpy.typing import ArrayLike

from .._shared.arrays import FloatArray, array, asked_in_arrays, frozen, instance, integer, number
from ..errors import DomainError
from .biarcs import lay_out

__all__ = ["Path", "arc", "curve", "dot", "ellipse", "line", "oval", "polyline", "ring", "rosette", "spiral"]

_DEPTH_LIMIT = 200.0
_SIZE_LIMIT = 1e5

_DWELL_LIMIT = 3600.0
"""Longest dwell that is believed, an hour. [s]"""

_NOTHING = 1e-9
"""Shorter pieces have no length, and shorter descents are none. [mm]"""

_MEETS = 1e-6
"""Ends this near to each other are one point. [mm]"""

DepthFunction = Callable[..., ArrayLike]
"""Depth of the tip as f(station) or f(x, y), vectorised. [mm]"""


@dataclass(frozen=True, eq=False)
class Path:
    """A path of lines, circular arcs and vertical pieces, with the tip's depth along it.

    Parameters
    ----------
    xy
        (n, 2) vertices in the board's face, n >= 2. [mm]
    depth
        Depth of the tip below the face, scalar or (n,), >= 0, linear along each piece. Neighbours that share a place
        must differ in it: the tool goes straight down or up between them. [mm]
    sweep
        (n - 1,), or (n,) when closed: signed turn of the arc from vertex i to i + 1, counter-clockwise positive,
        magnitude below 360; 0 is a line, and on a vertical piece. None: all lines. [deg]
    closed
        True joins the last vertex back to the first.
    dwell
        How long the tool stands at each vertex before it goes on, scalar or (n,), in [0, 3600]. [s]
    name
        What the path is called, such as the id of a figure in a drawing; two paths of one shape are equal whatever
        they are called.

    Raises
    ------
    DomainError
        If a value is not finite, the depth or a dwell negative, a piece has neither length nor descent, a vertical
        piece a sweep, or shapes disagree.

    Notes
    -----
    Arc lengths and stations are those in the board's face: a vertical piece has none and does not move the station.

    Examples
    --------
    >>> import chipsim as cs
    >>> hook = cs.Path([(0, 0), (20, 0), (20, 10)], depth=2, sweep=[0, 180])  # a line, then half a circle
    >>> f"{hook.length:.4f} mm"
    '35.7080 mm'
    """

    xy: FloatArray
    depth: FloatArray
    sweep: FloatArray = field(default=None, kw_only=True)  # type: ignore[arg-type]
    closed: bool = field(default=False, kw_only=True)
    dwell: FloatArray = field(default=None, kw_only=True)  # type: ignore[arg-type]
    name: str = field(default="", kw_only=True)

    # Derived once; one entry a piece. Radians inside, degrees at the interface.
    _pieces: FloatArray = field(init=False, repr=False)
    _start: FloatArray = field(init=False, repr=False)
    _heading: FloatArray = field(init=False, repr=False)
    _curvature: FloatArray = field(init=False, repr=False)
    _length: FloatArray = field(init=False, repr=False)
    _joint: FloatArray = field(init=False, repr=False)
    _depth: FloatArray = field(init=False, repr=False)
    _slope: FloatArray = field(init=False, repr=False)
    _drop: FloatArray = field(init=False, repr=False)
    _last: int = field(init=False, repr=False)

    def __post_init__(self) -> None:
        put = object.__setattr__
        xy = _points("xy", self.xy)
        if not isinstance(self.closed, (bool, np.bool_)):
            raise DomainError(f"closed must be True or False, got {self.closed!r}")
        instance("name", self.name, str, "a str")
        closed = bool(self.closed)
        pieces = len(xy) if closed else len(xy) - 1
        depth = _each("depth", self.depth, len(xy), _DEPTH_LIMIT, "mm")
        dwell = _each("dwell", 0.0 if self.dwell is None else self.dwell, len(xy), _DWELL_LIMIT, "s")
        sweep = np.zeros(pieces) if self.sweep is None else array("sweep", self.sweep, low=-360, high=360, unit="deg")
        if sweep.shape != (pieces,):
            raise DomainError(f"sweep must have shape ({pieces},), one a piece, got {sweep.shape}")
        if (np.abs(sweep) >= 360).any():
            raise DomainError("sweep must lie in (-360, 360) deg; lay a full circle out in two arcs or use ring()")
        after = np.arange(1, pieces + 1) % len(xy)
        chord = xy[after] - xy[:pieces]
        span = np.hypot(chord[:, 0], chord[:, 1])
        drop = depth[after] - depth[:pieces]
        upright = span < _NOTHING
        still = upright & (np.abs(drop) < _NOTHING)
        if still.any():
            k = int(np.argmax(still))
            raise DomainError(
                f"xy, the points of a path, must not repeat at one depth: piece {k} starts and ends at "
                f"{tuple(map(float, xy[k]))} mm, {depth[k]:g} mm deep; to stand still is a dwell"
            )
        if (upright & (sweep != 0)).any():
            k = int(np.argmax(upright & (sweep != 0)))
            raise DomainError(
                f"sweep must be 0 deg on a vertical piece, got {sweep[k]:g} on piece {k}, which starts and ends at "
                f"{tuple(map(float, xy[k]))} mm; lay a full circle out in two arcs or use ring()"
            )
        turn = np.radians(sweep)
        # length / chord = (turn / 2) / sin(turn / 2), written through sinc so that lines need no branch
        length = np.where(upright, 0.0, span / np.sinc(turn / (2 * np.pi)))
        heading = _kept(np.arctan2(chord[:, 1], chord[:, 0]) - turn / 2, turn, upright)
        moving = np.flatnonzero(~upright)
        put(self, "xy", frozen(xy))
        put(self, "depth", frozen(depth))
        put(self, "sweep", frozen(sweep))
        put(self, "closed", closed)
        put(self, "dwell", frozen(dwell))
        curvature, slope = (np.divide(v, length, out=np.zeros(pieces), where=~upright) for v in (turn, drop))
        table = np.column_stack([xy[:pieces], heading, curvature, length, depth[:pieces], slope])
        put(self, "_pieces", frozen(table))
        put(self, "_start", table[:, :2])
        for k, name in enumerate(("_heading", "_curvature", "_length", "_depth", "_slope"), 2):
            put(self, name, table[:, k])
        put(self, "_joint", frozen(np.concatenate([[0.0], np.cumsum(length)])))
        put(self, "_drop", frozen(drop))
        put(self, "_last", int(moving[-1]) if moving.size else pieces - 1)

    def __repr__(self) -> str:
        upright, arcs = int((self._length == 0).sum()), int((self.sweep != 0).sum())
        what = f"{len(self.sweep) - arcs - upright} lines, {arcs} arcs" + (f", {upright} vertical" if upright else "")
        deep = f"{self.depth.min():g}" + ("" if np.ptp(self.depth) == 0 else f" to {self.depth.max():g}")
        stands = f", dwells {self.dwell.sum():g} s" if self.dwell.any() else ""
        called = f"{self.name[:40]!r}: " if self.name else ""
        return (
            f"<Path {called}{what}, {self.length:.1f} mm, depth {deep} mm{stands}{', closed' if self.closed else ''}>"
        )

    def __eq__(self, other: object) -> bool:
        if not isinstance(other, Path):
            return NotImplemented
        return self._key() == other._key()

    def __hash__(self) -> int:
        return hash(self._key())

    def _key(self) -> tuple[object, ...]:
        return self.xy.tobytes(), self.depth.tobytes(), self.sweep.tobytes(), self.closed, self.dwell.tobytes()

    @property
    def length(self) -> float:
        """Length in the board's face. [mm]"""
        return float(self._joint[-1])

    @property
    def joints(self) -> FloatArray:
        """(m + 1,) arc lengths at which the m pieces start and the last one ends. [mm]"""
        return self._joint

    @property
    def pieces(self) -> FloatArray:
        """(m, 7) one row a piece: x, y [mm], heading [rad], curvature [1/mm], length [mm], depth [mm], slope [-].

        On a vertical piece length and slope are 0, and the heading is that of the piece before; where none before it
        moves in the face that of the next that does, else 0.
        """
        return self._pieces

    @property
    def drop(self) -> FloatArray:
        """(m,) how much deeper each piece ends than it starts. [mm]"""
        return self._drop

    @property
    def space_length(self) -> FloatArray:
        """(m,) length of each piece along the tip's way in space. [mm]"""
        return np.hypot(self._length, self._drop)

    def _locate(self, station: ArrayLike) -> tuple[FloatArray, np.ndarray, FloatArray]:
        s = array("station", station, low=-1e-9, high=self.length + 1e-9, unit="mm")
        # of the pieces that begin at one station the last one moves on; at the end it is the last one that moved
        return s, *self._piece_at(s)

    def _piece_at(self, station: FloatArray) -> tuple[np.ndarray, FloatArray]:
        """Number of the piece at each arc length, which must lie on the path, and how far along it. [mm]"""
        piece = np.minimum(np.maximum(np.searchsorted(self._joint, station, side="right") - 1, 0), self._last)
        return piece, station - self._joint[piece]

    def position(self, station: ArrayLike) -> FloatArray:
        """Point of the path at an arc length, shape (..., 2). [mm]"""
        _, k, ds = self._locate(station)
        return self._point_on(k, ds)

    def _point_on(self, piece: np.ndarray, ds: FloatArray) -> FloatArray:
        """Points (..., 2) at arc lengths from the start of their pieces. [mm]"""
        half = self._curvature[piece] * ds / 2
        along = self._heading[piece] + half
        chord = ds * np.sinc(half / np.pi)
        return np.asarray(self._start[piece] + chord[..., None] * np.stack([np.cos(along), np.sin(along)], axis=-1))

    def heading(self, station: ArrayLike) -> FloatArray:
        """Direction of travel, counter-clockwise from +x, at a joint that of the piece ahead, in [-180, 180). [deg]"""
        _, k, ds = self._locate(station)
        return np.asarray((np.degrees(self._heading[k] + self._curvature[k] * ds) + 180) % 360 - 180)

    def curvature(self, station: ArrayLike) -> FloatArray:
        """Signed curvature, positive turning left. [1/mm]"""
        return np.asarray(self._curvature[self._locate(station)[1]])

    def depth_at(self, station: ArrayLike) -> FloatArray:
        """Depth of the tip below the face. [mm]

        Where the path goes straight down or up it is the depth with which it goes on; at its end the deepest there.
        """
        s, k, ds = self._locate(station)
        out = np.asarray(self._depth[k] + self._slope[k] * ds)
        if self._length[-1] == 0 and not self.closed:
            first = self._last + 1 if self._length[self._last] else 0
            out = np.where(s >= self.length - 1e-9, self.depth[first:].max(), out)
        return out

    def _with(self, **change: object) -> Path:
        """Copy with some of the arguments changed."""
        kept = ("xy", "depth", "sweep", "closed", "dwell", "name")
        own: dict[str, object] = {name: getattr(self, name) for name in kept}
        return Path(**{**own, **change})  # type: ignore[arg-type]

    def rotated(self, degrees: float) -> Path:
        """Copy turned counter-clockwise about the origin."""
        a = np.radians(number("degrees", degrees, low=-1e6, high=1e6, unit="deg"))
        turn = np.array([[np.cos(a), np.sin(a)], [-np.sin(a), np.cos(a)]])
        return self._with(xy=self.xy @ turn)

    def shifted(self, dx: float, dy: float) -> Path:
        """Copy moved by (dx, dy). [mm]"""
        move = np.array([number("dx", dx, unit="mm"), number("dy", dy, unit="mm")])
        return self._with(xy=self.xy + move)

    def mirrored(self) -> Path:
        """Copy reflected in the x axis, y -> -y."""
        return self._with(xy=self.xy * [1, -1], sweep=-self.sweep)

    def reversed(self) -> Path:
        """Copy travelled the other way; a closed path keeps its start."""
        order = -np.arange(len(self.xy)) if self.closed else np.arange(len(self.xy))[::-1]
        xy, depth, dwell = self.xy[order], self.depth[order], self.dwell[order]
        return self._with(xy=xy, depth=depth, sweep=-self.sweep[::-1], dwell=dwell)

    def scaled(self, factor: float) -> Path:
        """Copy with every length, depth included, multiplied by a positive factor; dwells stay."""
        f = number("factor", factor, low=0, high=1e6, open_low=True)
        return self._with(xy=self.xy * f, depth=self.depth * f)

    def refined(self, pitch: float) -> Path:
        """Copy of the same shape with vertices added so that no piece is longer than `pitch`; at most 1e7. [mm]

        A piece's length is that in the face, of a vertical piece its descent.
        """
        extent = self._extent()
        p = number("pitch", pitch, low=float(extent.sum()) / 1e7, unit="mm")
        parts = np.maximum(np.ceil(extent / p - 1e-9).astype(int), 1)
        return self.split_parts([size * np.arange(1, n) / n for size, n in zip(extent, parts, strict=True)])[0]

    def _extent(self) -> FloatArray:
        """(m,) length in the face of each piece, of a vertical one its descent. [mm]"""
        return np.where(self._length == 0, np.abs(self._drop), self._length)

    def raised(self, by: float) -> Path:
        """Copy whose tip runs `by` higher but never above the face; vertices are added where it comes out. [mm]

        What was vertical and lies above the face then falls away; the tool stands as long as it did.
        """
        return self.raised_parts(by)[0]

    def raised_parts(self, by: float) -> tuple[Path, np.ndarray]:
        """As `raised`, and the number of the piece from which each of its pieces comes, (pieces,)."""
        rise = number("by", by, low=0, high=_DEPTH_LIMIT, unit="mm")
        ends = self._depth + self._drop
        out, extent = (self._depth - rise) * (ends - rise) < 0, self._extent()
        where = np.divide(rise - self._depth, self._drop, out=np.zeros_like(ends), where=out) * extent
        out &= (where > 2 * _NOTHING) & (extent - where > 2 * _NOTHING)  # else its end is where it comes out
        path, source = self._split_at(np.flatnonzero(out), where[out])
        depth = np.maximum(path.depth - rise, 0.0)
        # a vertex at which the tool comes out lies in the face, whatever rounding says
        depth[depth < _NOTHING] = 0.0
        after = np.arange(1, len(source) + 1) % len(depth)
        gone = (path._length == 0) & (np.abs(depth[after] - depth[: len(source)]) < _NOTHING)
        if gone.all():
            raise DomainError(
                f"by must be less than a path is deep that only goes down and up, in [0, {self.depth.max():g}) mm, "
                f"got {rise:g}"
            )
        if not gone.any():
            return path._with(depth=depth), source
        # each vertex is one with the next from which a piece goes out that stays
        stays = ~gone if path.closed else np.append(~gone, True)
        owner = (np.cumsum(stays) - stays) % int(stays.sum())
        dwell = np.bincount(owner, weights=path.dwell)
        left = path._with(xy=path.xy[stays], depth=depth[stays], sweep=path.sweep[~gone], dwell=dwell)
        return left, source[~gone]

    def split_parts(self, inside: list[FloatArray]) -> tuple[Path, np.ndarray]:
        """Copy of the same shape, vertices added at arc lengths from the start of each piece, an array each. [mm]

        On a vertical piece they are measured along its descent. Also the number of the piece from which each of its
        pieces comes, (pieces,).
        """
        piece = np.repeat(np.arange(len(inside)), [len(at) for at in inside])
        return self._split_at(piece, np.concatenate([np.empty(0), *inside]))

    def _split_at(self, added: np.ndarray, where: FloatArray) -> tuple[Path, np.ndarray]:
        """As `split_parts`, of vertices given by their pieces and arc lengths, (k,) each, in order along the path."""
        count = np.bincount(added, minlength=len(self._length)) + 1
        piece = np.repeat(np.arange(len(count)), count)
        own = np.concatenate([[0], np.cumsum(count)[:-1]])
        at = np.zeros(len(piece))
        at[np.delete(np.arange(len(piece)), own)] = where
        extent = self._extent()
        share = at / extent[piece]
        ends = np.append(share[1:], 1.0)
        ends[np.append(own[1:], len(piece)) - 1] = 1.0
        xy = self._point_on(piece, share * self._length[piece])
        depth = self._depth[piece] + self._drop[piece] * share
        xy[own], depth[own] = self.xy[: len(own)], self.depth[: len(own)]
        dwell = np.zeros(len(piece))
        dwell[own] = self.dwell[: len(own)]
        sweep = self.sweep[piece] * (ends - share)
        if not self.closed:
            xy, depth = np.vstack([xy, self.xy[-1]]), np.append(depth, self.depth[-1])
            dwell = np.append(dwell, self.dwell[-1])
        return Path(xy, depth, sweep=sweep, closed=self.closed, dwell=dwell, name=self.name), piece

    def with_depth(self, depth: ArrayLike | DepthFunction, *, tolerance: float = 0.01) -> Path:
        """Copy of the same shape in the face with another depth.

        Parameters
        ----------
        depth
            Scalar, (n,) one a vertex, or a function, vectorised: f(station) of the distance along the path, or f(x, y)
            of the place, told apart by how many arguments it asks for. [mm]
        tolerance
            Vertices are added until the depth, linear between them, is so near to a function's at a point of every
            millimetre and seven points of every piece. [mm]

        Raises
        ------
        DomainError
            If a depth is out of range, a function asks for other arguments or is not smooth enough, or its depths at
            the two ends of a closed path differ.

        Examples
        --------
        >>> import chipsim as cs
        >>> import numpy as np
        >>> swelling = cs.line((0, 0), (40, 0), 1.0).with_depth(lambda s: 1 + np.sin(np.pi * s / 40))
        >>> f"{swelling.depth_at(20.0):.2f} mm in the middle"
        '2.00 mm in the middle'
        """
        if not callable(depth):
            return self._with(depth=array("depth", depth, unit="mm"))
        tol = number("tolerance", tolerance, low=1e-6, high=10, unit="mm")
        asked = _asked(depth)
        if (self._length == 0).any():
            raise DomainError(
                "depth must be numbers on a path with vertical pieces, got a function, which has no steps"
            )
        path = self._with(depth=0.0)

        def at(piece: np.ndarray, ds: FloatArray) -> FloatArray:
            where = (path._joint[piece] + ds,) if asked == 1 else tuple(path._point_on(piece, ds).T)
            given = array(
                "depth's values", asked_in_arrays("depth", depth, *where), low=0, high=_DEPTH_LIMIT, unit="mm"
            )
            if given.shape not in ((), piece.shape):
                raise DomainError(f"depth must return one number a point, shape {piece.shape}, got {given.shape}")
            return np.broadcast_to(given, piece.shape)

        for _ in range(16):
            size, pieces = path._length, np.arange(len(path._length))
            count = np.maximum(np.ceil(size).astype(int), 7)
            piece = np.repeat(pieces, count)
            share = (np.arange(len(piece)) - np.repeat(np.cumsum(count) - count, count) + 0.5) / count[piece]
            first, last = at(pieces, np.zeros(len(size))), at(pieces, size)
            miss = np.zeros(len(size))
            straight = first[piece] + (last - first)[piece] * share
            np.maximum.at(miss, piece, np.abs(at(piece, share * size[piece]) - straight))
            poor = miss > tol
            if not poor.any():
                break
            path, _ = path._split_at(np.flatnonzero(poor), size[poor] / 2)
        else:
            raise DomainError(f"depth is not smooth enough: misses the tolerance of {tol:g} mm by {miss.max():.3g} mm")
        if not path.closed:
            first = np.append(first, last[-1])
        elif abs(first[0] - last[-1]) > tol:
            raise DomainError(
                f"depth must be the same at both ends of a closed path, got {first[0]:g} and {last[-1]:g} mm"
            )
        return path._with(depth=first)

    def __add__(self, other: Path) -> Path:
        """One path that runs along this one and goes on along the other, which must start where this one ends.

        Where they differ in depth there the tool goes straight down or up. A closed path runs round once. The sum is
        open (see `looped`), stands as long as both did, and bears the first one's name.
        """
        if not isinstance(other, Path):
            return NotImplemented
        a, b = self.opened(), other.opened()
        gap = float(np.hypot(*(b.xy[0] - a.xy[-1])))
        if gap > _MEETS:
            raise DomainError(
                f"paths that are added must meet: the first ends at {_place(a.xy[-1])}, the second starts at "
                f"{_place(b.xy[0])}, {gap:.3g} mm away; put a line between them, or make two cuts of them"
            )
        one = abs(b.depth[0] - a.depth[-1]) <= _MEETS
        after = slice(1 if one else 0, None)
        between = np.empty(0) if one else np.zeros(1)
        last = b.xy.copy()
        last[0] = a.xy[-1]
        dwell = np.concatenate([a.dwell, b.dwell[after]])
        if one:
            dwell[len(a.dwell) - 1] += b.dwell[0]
        return Path(
            np.vstack([a.xy, last[after]]),
            np.concatenate([a.depth, b.depth[after]]),
            sweep=np.concatenate([a.sweep, between, b.sweep]),
            dwell=dwell,
            name=self.name or other.name,
        )

    def opened(self) -> Path:
        """Copy that is not joined to itself: a closed path runs round once from its start back to it."""
        if not self.closed:
            return self
        xy, depth = np.vstack([self.xy, self.xy[:1]]), np.append(self.depth, self.depth[0])
        return self._with(xy=xy, depth=depth, closed=False, dwell=np.append(self.dwell, 0.0))

    def looped(self) -> Path:
        """Copy of an open path that ends where it starts, at one depth, joined to itself."""
        if self.closed:
            return self
        gap, step = float(np.hypot(*(self.xy[-1] - self.xy[0]))), float(abs(self.depth[-1] - self.depth[0]))
        if gap > _MEETS or step > _MEETS or len(self.xy) < 3:
            raise DomainError(
                f"a path that is looped must end where it starts, got ends {gap:.3g} mm apart, {step:.3g} in depth"
            )
        dwell = self.dwell[:-1].copy()
        dwell[0] += self.dwell[-1]
        return self._with(xy=self.xy[:-1], depth=self.depth[:-1], closed=True, dwell=dwell)

    def split(self, stations: ArrayLike) -> list[Path]:
        """The path in parts, cut at arc lengths within it, in order; a vertical piece there goes with what follows.

        Of a closed path the parts are open: the first runs from its start. [mm]
        """
        at = np.atleast_1d(array("stations", stations, low=0, high=self.length, unit="mm"))
        if at.ndim != 1 or (np.diff(at) <= _MEETS).any():
            raise DomainError("stations must rise from one to the next")
        if at.size and (at[0] <= _MEETS or at[-1] >= self.length - _MEETS):
            raise DomainError(f"stations must lie within the path, between 0 and {self.length:g} mm, got {at}")
        whole, _ = self._with_vertices(at)
        whole = whole.opened()
        ends = [0, *np.searchsorted(whole._joint, at - _MEETS).tolist(), len(whole.xy) - 1]
        parts = []
        for a, b in pairwise(ends):
            dwell = whole.dwell[a : b + 1].copy()
            if b < len(whole.xy) - 1:
                dwell[-1] = 0.0  # the next part stands there
            parts.append(
                whole._with(xy=whole.xy[a : b + 1], depth=whole.depth[a : b + 1], sweep=whole.sweep[a:b], dwell=dwell)
            )
        return parts

    def started_at(self, station: float) -> Path:
        """Copy of a closed path that starts and ends at another of its arc lengths. [mm]"""
        if not self.closed:
            raise DomainError("a path must be closed to start elsewhere; an open one can be split")
        s = number("station", station, low=0, high=self.length, unit="mm")
        if s <= _MEETS or s >= self.length - _MEETS:
            return self
        whole, first = self._with_vertices(np.array([s]))
        order = np.roll(np.arange(len(whole.xy)), -int(first[0]))
        return whole._with(
            xy=whole.xy[order], depth=whole.depth[order], sweep=whole.sweep[order], dwell=whole.dwell[order]
        )

    def _with_vertices(self, at: FloatArray) -> tuple[Path, np.ndarray]:
        """Copy with a vertex at each of these arc lengths, and their numbers: of several at one the first."""
        free = np.array([s for s in at if np.abs(self._joint - s).min() > _MEETS])
        piece = np.searchsorted(self._joint, free, side="right") - 1
        whole = self
        if free.size:
            whole, _ = self._split_at(piece, free - self._joint[piece])
        return whole, np.searchsorted(whole._joint, at - _MEETS)


def _place(point: FloatArray) -> str:
    return f"({point[0]:g}, {point[1]:g}) mm"


def _asked(depth: DepthFunction) -> int:
    """How many arguments a depth's function asks for: 1, the station, or 2, x and y."""
    try:
        asked = [
            p
            for p in inspect.signature(depth).parameters.values()
            if p.default is p.empty and p.kind in (p.POSITIONAL_ONLY, p.POSITIONAL_OR_KEYWORD)
        ]
    except (TypeError, ValueError):  # one written in another language may not say
        asked = []
    if len(asked) not in (1, 2):
        raise DomainError(
            f"depth must be a number, numbers, or a function of one argument, f(station), or of two, f(x, y), got "
            f"{depth!r:.60}, which asks for {len(asked)}"
        )
    return len(asked)


def _each(name: str, value: ArrayLike, vertices: int, high: float, unit: str) -> FloatArray:
    """Return one number a vertex, from one for all or one each, or raise DomainError."""
    given = array(name, value, low=0, high=high, unit=unit)
    if given.shape not in ((), (vertices,)):
        raise DomainError(f"{name} must be a number or have shape ({vertices},), one a vertex, got {given.shape}")
    return np.array(np.broadcast_to(given, vertices))


def _kept(heading: FloatArray, turn: FloatArray, upright: np.ndarray) -> FloatArray:
    """Headings at the start of each piece, on vertical ones that of the piece before, else the next one's, else 0."""
    moving = np.flatnonzero(~upright)
    if not moving.size:
        return np.zeros(len(heading))
    before = np.searchsorted(moving, np.arange(len(heading)), side="right") - 1
    last = moving[np.maximum(before, 0)]
    kept = np.where(before >= 0, heading[last] + turn[last], heading[last])
    return np.where(upright, kept, heading)


def _points(name: str, value: ArrayLike) -> FloatArray:
    xy = array(name, value, ndim=2, low=-_SIZE_LIMIT, high=_SIZE_LIMIT, unit="mm")
    if xy.shape[1] != 2 or len(xy) < 2:
        raise DomainError(f"{name} must have shape (n, 2) with n >= 2 vertices, got {xy.shape}")
    return xy


def _size(name: str, value: object) -> float:
    """Return a length that is neither nothing nor beyond all boards. [mm]"""
    return number(name, value, low=0, high=_SIZE_LIMIT, open_low=True, unit="mm")


def _point(name: str, value: ArrayLike) -> FloatArray:
    p = array(name, value, ndim=1, low=-_SIZE_LIMIT, high=_SIZE_LIMIT, unit="mm")
    if p.shape != (2,):
        raise DomainError(f"{name} must be a point (x, y), got shape {p.shape}")
    return p


def line(start: ArrayLike, end: ArrayLike, depth: ArrayLike) -> Path:
    """Straight line.

    Parameters
    ----------
    start, end
        Points (x, y). [mm]
    depth
        Scalar, or (depth at start, depth at end). [mm]

    Examples
    --------
    >>> import chipsim as cs
    >>> ramp = cs.line((0, 0), (30, 40), depth=(0, 2))
    >>> ramp.length, ramp.depth_at(25.0).tolist()
    (50.0, 1.0)
    """
    return Path(np.array([_point("start", start), _point("end", end)]), array("depth", depth, unit="mm"))


def dot(centre: ArrayLike, depth: float, *, dwell: float = 0.0) -> Path:
    """One place: straight down from the face, and there the tool may stand.

    Parameters
    ----------
    centre
        (x, y). [mm]
    depth
        Depth of the tip at the end, positive. [mm]
    dwell
        How long the tool stands there, in [0, 3600]. With one turn of the spindle the lip becomes a full circle. [s]

    Raises
    ------
    DomainError
        If a value is out of range.

    Examples
    --------
    >>> import chipsim as cs
    >>> cs.dot((5, 5), depth=1.5, dwell=0.1)
    <Path 0 lines, 0 arcs, 1 vertical, 0.0 mm, depth 0 to 1.5 mm, dwells 0.1 s>
    """
    c = _point("centre", centre)
    d = number("depth", depth, low=0, high=_DEPTH_LIMIT, open_low=True, unit="mm")
    stands = number("dwell", dwell, low=0, high=_DWELL_LIMIT, unit="s")
    return Path(np.array([c, c]), np.array([0.0, d]), dwell=np.array([0.0, stands]))


def polyline(points: ArrayLike, depth: ArrayLike, *, closed: bool = False) -> Path:
    """Straight lines through (n, 2) points [mm]; depth scalar or (n,) [mm]; `closed`: back to the first point.

    Examples
    --------
    >>> import chipsim as cs
    >>> vee = cs.polyline([(0, 0), (10, 20), (20, 0)], depth=2)
    >>> f"{vee.length:.3f} mm in {len(vee.xy) - 1} pieces"
    '44.721 mm in 2 pieces'
    """
    return Path(_points("points", points), array("depth", depth, unit="mm"), closed=closed)


def arc(centre: ArrayLike, radius: float, start: float, sweep: float, depth: ArrayLike) -> Path:
    """Circular arc.

    Parameters
    ----------
    centre
        (x, y). [mm]
    radius
        Positive. [mm]
    start
        Azimuth of the first point as seen from the centre, counter-clockwise from +x. [deg]
    sweep
        Signed turn, counter-clockwise positive, magnitude in (0, 360]. [deg]
    depth
        Scalar, or (depth at start, depth at end). [mm]

    Examples
    --------
    >>> import chipsim as cs
    >>> quarter = cs.arc((0, 0), radius=10, start=0, sweep=90, depth=2)
    >>> f"{quarter.length:.4f} mm"
    '15.7080 mm'
    """
    c = _point("centre", centre)
    r = _size("radius", radius)
    a = number("start", start, low=-1e6, high=1e6, unit="deg")
    turn = number("sweep", sweep, low=-360, high=360, unit="deg")
    if turn == 0:
        raise DomainError("sweep must not be 0: an arc has a length")
    parts = max(1, int(np.ceil(abs(turn) / 120 - 1e-12)))
    at = np.radians(a + turn * np.arange(parts + 1) / parts)
    xy = c + r * np.column_stack([np.cos(at), np.sin(at)])
    return Path(xy, _spread(depth, parts + 1), sweep=np.full(parts, turn / parts))


def _spread(depth: ArrayLike, count: int) -> FloatArray:
    d = array("depth", depth, low=0, high=_DEPTH_LIMIT, unit="mm")
    if d.shape == ():
        return np.full(count, float(d))
    if d.shape == (2,):
        return np.linspace(d[0], d[1], count)
    raise DomainError(f"depth must be a number or a pair (at the start, at the end), got shape {d.shape}")


def ring(radius: float, depth: float, *, centre: ArrayLike = (0.0, 0.0)) -> Path:
    """Full circle, counter-clockwise, from (radius, 0) about the centre.

    Parameters
    ----------
    radius
        Radius of the centre line, positive. [mm]
    depth
        Depth of the tip. [mm]
    centre
        (x, y), by default the origin. [mm]

    Examples
    --------
    >>> import chipsim as cs
    >>> ring = cs.ring(radius=20, depth=2.5)
    >>> f"{ring.length:.3f} mm, closed: {ring.closed}"
    '125.664 mm, closed: True'
    """
    c = _point("centre", centre)
    r = _size("radius", radius)
    d = number("depth", depth, low=0, high=_DEPTH_LIMIT, unit="mm")
    corners = np.array([[1.0, 0.0], [0.0, 1.0], [-1.0, 0.0], [0.0, -1.0]])
    return Path(c + r * corners, np.asarray(d), sweep=np.full(4, 90.0), closed=True)


def oval(width: float, height: float, depth: float, *, centre: ArrayLike = (0.0, 0.0)) -> Path:
    """Four-centred oval of exact arcs, counter-clockwise from (width / 2, 0); width >= height >= width / 1e6. [mm]

    The draughtsman's construction: end arcs of radius r and side arcs of radius R meet with a common tangent;
    r is chosen as the one for which the joints lie on the line that makes the difference R - r least. One depth of the
    tip, one centre (x, y). [mm]

    Examples
    --------
    >>> import chipsim as cs
    >>> border = cs.oval(width=90, height=60, depth=2)
    >>> f"{border.length:.2f} mm in {len(border.sweep)} arcs"
    '238.79 mm in 6 arcs'
    """
    c = _point("centre", centre)
    w = _size("width", width)
    h = number("height", height, low=w / 1e6, high=w, unit="mm")
    d = number("depth", depth, low=0, high=_DEPTH_LIMIT, unit="mm")
    if h == w:
        return ring(w / 2, d, centre=c)
    a, b = w / 2, h / 2
    slant = np.hypot(a, b)
    # The joint lies on the chord from (a, 0) to (0, b), at a - b from the latter; its perpendicular bisector
    # towards (a, 0) carries both centres.
    end = (slant - (a - b)) / 2 * slant / a
    side = (slant + (a - b)) / 2 * slant / b
    far, low = a - end, side - b
    lean = np.degrees(np.arctan2(low, far))
    join = np.array([far, 0.0]) + end * np.array([np.cos(np.radians(lean)), np.sin(np.radians(lean))])
    flip = np.array([[1, -1], [1, 1], [-1, 1], [-1, -1]])
    xy = np.vstack([[a, 0.0], join * flip[1], join * flip[2], [-a, 0.0], join * flip[3], join * flip[0]])
    sweep = [lean, 180 - 2 * lean, lean, lean, 180 - 2 * lean, lean]
    return Path(c + xy, np.asarray(d), sweep=np.array(sweep), closed=True)


def curve(
    function: Callable[[FloatArray], ArrayLike],
    depth: ArrayLike | DepthFunction,
    *,
    start: float = 0.0,
    stop: float = 1.0,
    closed: bool = False,
    tolerance: float = 0.002,
    pieces: int = 16,
) -> Path:
    """Any smooth curve, laid out in pairs of tangent arcs within a tolerance.

    Parameters
    ----------
    function
        Vectorised, parameter (k,) -> (k, 2) points; smooth between `start` and `stop`. [mm]
    depth
        Scalar, or (depth at start, depth at end), linear along the length, or a function as in `Path.with_depth`. [mm]
    start, stop
        Range of the parameter.
    closed
        True when function(stop) equals function(start) with a common tangent.
    tolerance
        Largest distance between curve and arcs, and between a depth's function and the path's depth. [mm]
    pieces
        Spans to begin with; each is halved until it fits.

    Raises
    ------
    DomainError
        If the function returns the wrong shape or a value that is not finite, or does not fit after 14 halvings.

    Examples
    --------
    >>> import chipsim as cs
    >>> import numpy as np
    >>> wave = cs.curve(lambda t: np.column_stack([60 * t, 4 * np.sin(2 * np.pi * t)]), depth=2)
    >>> f"{wave.length:.2f} mm, the tip starts at {wave.xy[0].tolist()}"
    '62.55 mm, the tip starts at [0.0, 0.0]'
    """
    if not callable(function):
        raise DomainError(f"function must be callable as f(t), got {type(function).__name__}")
    low, high = (number(name, value, low=-1e6, high=1e6) for name, value in (("start", start), ("stop", stop)))
    tol = number("tolerance", tolerance, low=1e-7, high=1, unit="mm")
    first = integer("pieces", pieces, low=1, high=100_000)
    if low == high:
        raise DomainError("start and stop of the parameter must differ")

    def points(t: FloatArray) -> FloatArray:
        p = array(
            "function(t)", asked_in_arrays("function", function, t), low=-_SIZE_LIMIT, high=_SIZE_LIMIT, unit="mm"
        )
        if p.shape != (t.size, 2):
            raise DomainError(f"function must return shape ({t.size}, 2) for {t.size} parameters, got {p.shape}")
        return p

    step = (high - low) * 1e-5

    def tangents(t: FloatArray) -> FloatArray:
        # Fourth-order central difference; one-sided shifts at the ends keep inside the range.
        mid = np.clip(t, min(low, high) + 2 * abs(step), max(low, high) - 2 * abs(step)) if not closed else t
        v = 8 * (points(mid + step) - points(mid - step)) - (points(mid + 2 * step) - points(mid - 2 * step))
        size = np.hypot(v[:, 0], v[:, 1])
        if (size == 0).any():
            raise DomainError(f"function must move: no tangent at parameter {t[int(np.argmin(size))]:g}")
        return np.asarray(v / size[:, None] * np.sign(step))

    vertices, sweeps = lay_out(points, tangents, np.linspace(low, high, first + 1), tol, closed=closed)
    turn = np.degrees(sweeps)
    turn[np.abs(turn) < 1e-10] = 0.0
    if closed:
        vertices = vertices[:-1]
    shape = Path(vertices, np.asarray(0.0), sweep=turn, closed=closed)
    if callable(depth):
        return shape.with_depth(depth, tolerance=tol)
    d = _spread(depth, 2)
    if closed:
        if d[0] != d[1]:
            raise DomainError("depth must be the same at both ends of a closed curve")
        return shape.with_depth(d[0])
    return shape.with_depth(d[0] + (d[1] - d[0]) * shape.joints / shape.length)


def ellipse(width: float, height: float, depth: float, *, tolerance: float = 0.002) -> Path:
    """Ellipse about the origin from (width / 2, 0) on: its height, its depth, arcs within a `tolerance`. [mm]

    Examples
    --------
    >>> import chipsim as cs
    >>> border = cs.ellipse(width=90, height=60, depth=2)
    >>> f"{border.length:.2f} mm"
    '237.98 mm'
    """
    a = _size("width", width) / 2
    b = _size("height", height) / 2
    return curve(
        lambda t: np.column_stack([a * np.cos(t), b * np.sin(t)]),
        depth,
        stop=2 * np.pi,
        closed=True,
        tolerance=tolerance,
    )


def spiral(
    inner: float, outer: float, turns: float, depth: ArrayLike, *, start: float = 0.0, tolerance: float = 0.002
) -> Path:
    """Archimedean spiral about the origin, counter-clockwise from the inner radius outwards, in tangent arcs.

    Parameters
    ----------
    inner, outer
        Radii at the ends, 0 <= inner < outer. [mm]
    turns
        Number of turns, positive. [-]
    depth
        Scalar, or (depth inside, depth outside). [mm]
    start
        Azimuth of the inner end. [deg]
    tolerance
        Largest distance between spiral and arcs. [mm]

    Examples
    --------
    >>> import chipsim as cs
    >>> scroll = cs.spiral(inner=2, outer=20, turns=3, depth=1.5)
    >>> f"{scroll.length:.1f} mm"
    '208.4 mm'
    """
    r1 = _size("outer", outer)
    r0 = number("inner", inner, low=0, high=r1, unit="mm", open_high=True)
    n = number("turns", turns, low=0, high=1000, open_low=True)
    a0 = np.radians(number("start", start, low=-1e6, high=1e6, unit="deg"))

    def function(t: FloatArray) -> FloatArray:
        r, a = r0 + (r1 - r0) * t, a0 + 2 * np.pi * n * t
        return np.column_stack([r * np.cos(a), r * np.sin(a)])

    return curve(function, depth, tolerance=tolerance, pieces=max(4, int(np.ceil(8 * n))))


def rosette(outer: float, inner: float, petals: int, depth: float, *, tolerance: float = 0.002) -> Path:
    """Rosette about the origin, closed, counter-clockwise from (outer, 0), in tangent arcs.

    Its radius swings between `outer` and `inner` with the cosine of petals x azimuth.

    Parameters
    ----------
    outer, inner
        Radii of the petals' tips and of the waists between them, 0 < inner <= outer. [mm]
    petals
        Number of petals, 2 to 60.
    depth
        Depth of the tip. [mm]
    tolerance
        Largest distance between rosette and arcs. [mm]

    Examples
    --------
    >>> import chipsim as cs
    >>> flower = cs.rosette(outer=40, inner=25, petals=8, depth=2)
    >>> f"{flower.length:.1f} mm, closed: {flower.closed}"
    '327.2 mm, closed: True'
    """
    r1 = _size("outer", outer)
    r0 = number("inner", inner, low=0, high=r1, open_low=True, unit="mm")
    n = integer("petals", petals, low=2, high=60)

    def function(t: FloatArray) -> FloatArray:
        r = (r1 + r0) / 2 + (r1 - r0) / 2 * np.cos(n * t)
        return np.column_stack([r * np.cos(t), r * np.sin(t)])

    return curve(function, depth, stop=2 * np.pi, closed=True, tolerance=tolerance, pieces=8 * n)
