"""The fibre field of a board, and the angles its fibres make with a cutting edge in motion.

A fibre is an axis: g and -g are the same. Its azimuth lies in the face, counter-clockwise from +x; its dive is the
angle by which it goes down into the board along that azimuth, g = (cos D cos A, cos D sin A, -sin D).
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, field, replace
from functools import cached_property
from typing import Any

import numpy as np
from numpy.typing import ArrayLike

from .._shared.arrays import FloatArray, array, asked_in_arrays, instance, number
from ..errors import DomainError
from .species import Wood

__all__ = [
    "Board",
    "Grain",
    "crossing_angle",
    "edge_angle",
    "fibre_angle",
    "fibre_axis",
    "grain_field",
    "grain_words",
    "straight_grain",
]

_RADIAL_TOUGHNESS = 1.1
"""Fracture toughness of a crack across the rings over that of one along them: 1.04 to 1.14 in the conifers of the Wood
Handbook's Table 5-10 (columns from memory)."""


def _points(xy: ArrayLike) -> FloatArray:
    p = array("xy", xy, nan=True, unit="mm")
    if p.ndim == 0 or p.shape[-1] != 2:
        raise DomainError(f"xy must have shape (..., 2), got {p.shape}")
    return p


@dataclass(frozen=True)
class Grain:
    """A fibre field over the board's face; made by `straight_grain` or `grain_field`.

    Parameters
    ----------
    function
        f(x, y) for arrays of points [mm] -> azimuth, or (azimuth, dive), each of the points' shape or scalar. [deg]
    label
        A few words for reports.
    """

    function: Callable[[FloatArray, FloatArray], Any]
    label: str

    def __post_init__(self) -> None:
        if not callable(self.function):
            raise DomainError(f"function must be callable as f(x, y), got {type(self.function).__name__}")
        instance("label", self.label, str, "a str")

    def at(self, xy: ArrayLike) -> tuple[FloatArray, FloatArray]:
        """Azimuth and dive of the fibres at points (..., 2) [mm], each (...). [deg]

        Raises
        ------
        DomainError
            If the points are none, or the field returns the wrong shape, a value that is not finite or a dive outside
            [-90, 90].
        """
        p = _points(xy)
        result = asked_in_arrays("function", self.function, p[..., 0].copy(), p[..., 1].copy())
        azimuth, dive = result if isinstance(result, tuple) and len(result) == 2 else (result, 0.0)
        out = []
        for name, value, limit in (("azimuth", azimuth, 1e6), ("dive", dive, 90.0)):
            a = array(f"grain {name}", value, low=-limit, high=limit, unit="deg")
            if a.shape not in ((), p.shape[:-1]):
                raise DomainError(
                    f"grain {name} must be a number or have the points' shape {p.shape[:-1]}, got {a.shape}"
                )
            out.append(np.array(np.broadcast_to(a, p.shape[:-1])))
        return out[0], out[1]

    @property
    def is_straight(self) -> bool:
        """Whether it is known that all fibres are parallel, as those of `straight_grain` are."""
        return isinstance(self.function, _Straight)

    def turned(self, degrees: float) -> Grain:
        """Copy of the field turned counter-clockwise about the origin, as when the board is turned under the work."""
        turn = number("degrees", degrees, low=-1e6, high=1e6, unit="deg")
        return self.turned_about((0.0, 0.0), turn, f"{self.label}, turned {turn:g} deg")

    def turned_about(self, centre: tuple[float, float], degrees: float, label: str) -> Grain:
        """Copy of the field turned counter-clockwise about a point [mm, deg]."""
        turn = number("degrees", degrees, low=-1e6, high=1e6, unit="deg")
        if isinstance(self.function, _Straight):
            return Grain(_Straight(self.function.azimuth + turn, self.function.dive), label)
        about = array("centre", centre, ndim=1, low=-1e6, high=1e6, unit="mm")
        if about.shape != (2,):
            raise DomainError(f"centre must be a point (x, y), got shape {about.shape}")
        return Grain(_Turned(self, turn, (float(about[0]), float(about[1]))), label)


@dataclass(frozen=True)
class _Turned:
    """A field turned about a point; an object and no closure, so that a board can be sent to another process."""

    grain: Grain
    turn: float
    centre: tuple[float, float] = (0.0, 0.0)

    def __call__(self, x: FloatArray, y: FloatArray) -> tuple[FloatArray, FloatArray]:
        c, s = np.cos(np.radians(self.turn)), np.sin(np.radians(self.turn))
        u, v = x - self.centre[0], y - self.centre[1]
        azimuth, dive = self.grain.at(np.stack([c * u + s * v, -s * u + c * v], axis=-1) + self.centre)
        return azimuth + self.turn, dive


@dataclass(frozen=True)
class _Straight:
    """Parallel fibres; an object and no closure for the same reason."""

    azimuth: float
    dive: float

    def __call__(self, x: FloatArray, y: FloatArray) -> tuple[FloatArray, FloatArray]:
        return np.full(x.shape, self.azimuth), np.full(x.shape, self.dive)


def straight_grain(azimuth: float, dive: float = 0.0) -> Grain:
    """Parallel fibres.

    Parameters
    ----------
    azimuth
        Direction of the fibres in the face, counter-clockwise from +x. [deg]
    dive
        Degrees below the face along the azimuth, in [-90, 90]. [deg]

    Examples
    --------
    >>> import chipsim as cs
    >>> grain = cs.straight_grain(azimuth=30, dive=5)
    >>> grain.label
    'straight, azimuth 30 deg, dive 5 deg'
    """
    a = number("azimuth", azimuth, low=-1e6, high=1e6, unit="deg")
    d = number("dive", dive, low=-90, high=90, unit="deg")
    label = f"straight, azimuth {a:g} deg" + (f", dive {d:g} deg" if d else "")
    return Grain(_Straight(a, d), label)


def grain_field(function: Callable[[FloatArray, FloatArray], Any], label: str = "user's field") -> Grain:
    """Fibres that turn over the board: a `function` f(x, y) of points [mm] gives azimuth or (azimuth, dive) [deg].

    The azimuth is that of the fibres, counter-clockwise from the x axis, the dive how far they run below the face.
    `label`: a few words for reports.

    Examples
    --------
    >>> import chipsim as cs
    >>> import numpy as np
    >>> wavy = cs.grain_field(lambda x, y: 10 * np.sin(x / 30), label="wavy")
    >>> board = cs.Board(cs.wood("sugar maple"), wavy)
    >>> wavy.at([(0, 0), (45, 0)])[0].round(2).tolist()
    [0.0, 9.97]
    """
    return Grain(function, label)


@dataclass(frozen=True)
class Board:
    """A board: its wood and how the fibres run in it.

    Parameters
    ----------
    wood
        From `wood(name, moisture)` or a `Wood` of one's own.
    grain
        From `straight_grain` or `grain_field`.
    extent
        Where the board lies, (x0, y0, x1, y1) with x0 < x1 and y0 < y1; None: not known. [mm]
    rings
        Angle between the growth rings and the face, 0 flat-sawn to 90 quarter-sawn; None: not known, and cracks are
        taken to open across the rays as on a flat-sawn face. On a quarter-sawn one they open across the rings. [deg]
    grain_error
        How well the direction of the fibres is known: the standard deviation of `grain` as a whole, apart from the
        fibres' own scatter. It widens bands and leaves a map without draws as it is. [deg, 0 to 45]

    Raises
    ------
    DomainError
        If an argument is of the wrong kind or the extent has no size.

    Examples
    --------
    >>> import chipsim as cs
    >>> board = cs.Board(cs.wood("black cherry", moisture=8), cs.straight_grain(azimuth=0), extent=(0, 0, 300, 200))
    >>> board.wood.name, board.grain.label
    ('black cherry', 'straight, azimuth 0 deg')
    """

    wood: Wood
    grain: Grain
    extent: tuple[float, float, float, float] | None = field(default=None, kw_only=True)
    rings: float | None = field(default=None, kw_only=True)
    grain_error: float = field(default=0.0, kw_only=True)

    def __post_init__(self) -> None:
        if not isinstance(self.wood, Wood):
            raise DomainError(f"wood must be a Wood, as from wood('black cherry'), got {type(self.wood).__name__}")
        if not isinstance(self.grain, Grain):
            raise DomainError(f"grain must come from straight_grain or grain_field, got {type(self.grain).__name__}")
        if self.extent is not None:
            box = array("extent", self.extent, ndim=1, low=-1e5, high=1e5, unit="mm")
            if box.shape != (4,) or (box[2:] <= box[:2]).any():
                raise DomainError(
                    f"extent must be (x0, y0, x1, y1) [mm] with x0 < x1 and y0 < y1, in [-1e5, 1e5], got {self.extent}"
                )
            object.__setattr__(self, "extent", tuple(box.tolist()))
        if self.rings is not None:
            object.__setattr__(self, "rings", number("rings", self.rings, low=0, high=90, unit="deg"))
        object.__setattr__(self, "grain_error", number("grain_error", self.grain_error, low=0, high=45, unit="deg"))

    @cached_property
    def cut_wood(self) -> Wood:
        """The wood as cracks in the face meet it: its transverse stiffness and toughness are those across the rings."""
        if not self.rings:
            return self.wood
        ratios, share = self.wood.elastic_ratios, math.sin(math.radians(self.rings)) ** 2

        def between(flat: float, quarter: float) -> float:
            return float(flat ** (1.0 - share) * quarter**share)  # nan where either is

        across = ratios._replace(
            tangential=between(ratios.tangential, ratios.radial), shear_lt=between(ratios.shear_lt, ratios.shear_lr)
        )
        toughness = between(1.0, _RADIAL_TOUGHNESS) * self.wood.fracture_toughness
        return replace(self.wood, elastic_ratios=across, fracture_toughness=toughness)

    def fibres(self, xy: ArrayLike) -> FloatArray:
        """Unit fibre axes at points (..., 2) [mm], shape (..., 3)."""
        field = self.grain.function
        if isinstance(field, _Straight):  # one axis for all: designs are laid on straight grain many times over
            shape = _points(xy).shape[:-1]
            return np.array(np.broadcast_to(fibre_axis(field.azimuth, field.dive), (*shape, 3)))
        return fibre_axis(*self.grain.at(xy))


def fibre_axis(azimuth: ArrayLike, dive: ArrayLike = 0.0) -> FloatArray:
    """Unit vector along the fibre, shape (..., 3), for azimuth and dive [deg], finite, of shapes that broadcast.

    Examples
    --------
    >>> from chipsim.scene.grain import fibre_axis
    >>> fibre_axis(azimuth=90, dive=30).round(3).tolist()
    [0.0, 0.866, -0.5]
    """
    a = np.radians(array("azimuth", azimuth, unit="deg"))
    d = np.radians(array("dive", dive, low=-90, high=90, unit="deg"))
    try:
        a, d = np.broadcast_arrays(a, d)
    except ValueError:
        raise DomainError(f"azimuth and dive must have shapes that broadcast, got {a.shape} and {d.shape}") from None
    return axis_of(a, d)


def axis_of(azimuth: FloatArray, dive: FloatArray) -> FloatArray:
    """Unit axes (..., 3) of fibres that lie so, of one shape, not looked at. [rad]"""
    level = np.cos(dive)
    return np.stack([level * np.cos(azimuth), level * np.sin(azimuth), -np.sin(dive)], axis=-1)


def _unit(name: str, vectors: ArrayLike) -> FloatArray:
    """Normalise along the last axis; NaN passes through, a zero vector or a wrong last axis does not."""
    v = array(name, vectors, nan=True)
    if v.ndim == 0 or v.shape[-1] != 3:
        raise DomainError(f"{name} must have shape (..., 3), got {v.shape}")
    if (v == 0).all(axis=-1).any():
        raise DomainError(f"{name} must not be the zero vector")
    largest = np.fmax.reduce(np.abs(v), axis=-1, keepdims=True)
    # beyond these the squares would leave the range of floats
    odd = (largest > 1e100) | (largest < 1e-100)
    v = np.where(odd, v / np.where(odd & (largest > 0), largest, 1.0), v) if odd.any() else v
    return np.asarray(v / np.sqrt(np.sum(v * v, axis=-1, keepdims=True)))


def fibre_angle(cutting_direction: ArrayLike, wall_normal: ArrayLike, fibre: ArrayLike) -> FloatArray:
    """Signed angle at which the edge meets the fibre, in the plane of motion and wall normal. [deg]

    theta = atan2(g.n, g.v) mod 180: 0 along the cut; below 90 the fibre, followed in the cutting direction, dives
    into the remaining wood (against the grain); above 90 it leans forward out of it (with the grain). It is
    McKenzie's second number made signed (McKenzie 1961, as quoted in the literature). A fibre square to the motion
    gives 90; one square to both motion and normal lies along the edge and gives 0.

    Parameters
    ----------
    cutting_direction
        Velocity of the edge in the work, (..., 3); its length does not matter.
    wall_normal
        Normal of the surface being made, pointing into the remaining wood, (..., 3).
    fibre
        Axis of the fibre, (..., 3); g and -g are the same.

    Returns
    -------
    ndarray
        Leading axes broadcast, in [0, 180); NaN where an input is.

    Raises
    ------
    DomainError
        If a last axis is not 3, a vector is zero or infinite.

    Examples
    --------
    >>> import chipsim as cs
    >>> from chipsim.scene.grain import fibre_axis
    >>> along, into_the_wall = (1, 0, 0), (0, 1, 0)
    >>> float(cs.fibre_angle(along, into_the_wall, fibre_axis(150)).round(6))  # above 90: with the grain
    150.0
    """
    v, n, g = _unit("cutting_direction", cutting_direction), _unit("wall_normal", wall_normal), _unit("fibre", fibre)
    return angle_to_fibre(v, n, g)


def angle_to_fibre(v: FloatArray, n: FloatArray, g: FloatArray) -> FloatArray:
    """`fibre_angle` of unit vectors, not looked at. [deg]"""
    theta = np.degrees(np.arctan2(_dot(g, n), _dot(g, v))) % 180.0
    return np.asarray(np.where(theta >= 180.0, 0.0, theta))


def edge_angle(edge: ArrayLike, fibre: ArrayLike) -> FloatArray:
    """Angle between the fibre and the line of the cutting edge, 0 to 90: McKenzie's first number. [deg]

    Parameters
    ----------
    edge, fibre
        Directions, (..., 3); signs do not matter.

    Examples
    --------
    >>> from chipsim.scene.grain import edge_angle, fibre_axis
    >>> float(edge_angle(edge=(0, 1, 0), fibre=fibre_axis(60)).round(6))
    30.0
    """
    return angle_between_lines(_unit("edge", edge), _unit("fibre", fibre))


def angle_between_lines(e: FloatArray, g: FloatArray) -> FloatArray:
    """`edge_angle` of unit vectors, not looked at. [deg]"""
    # atan2 of cross and dot: exact near 0 and near 90, where acos or asin lose half the digits
    x = e[..., 1] * g[..., 2] - e[..., 2] * g[..., 1]
    y = e[..., 2] * g[..., 0] - e[..., 0] * g[..., 2]
    z = e[..., 0] * g[..., 1] - e[..., 1] * g[..., 0]
    return np.asarray(np.degrees(np.arctan2(np.sqrt(x * x + y * y + z * z), np.abs(_dot(e, g)))))


def _dot(a: FloatArray, b: FloatArray) -> FloatArray:
    """Products of vectors (..., 3), which broadcast."""
    return np.asarray(a[..., 0] * b[..., 0] + a[..., 1] * b[..., 1] + a[..., 2] * b[..., 2])


def crossing_angle(cutting_direction: ArrayLike, fibre: ArrayLike) -> FloatArray:
    """Angle between the fibre and the direction of cutting, 0 to 90. [deg]"""
    return edge_angle(cutting_direction, fibre)


def grain_words(angle: float, slack: float = 5.0) -> str:
    """Say a fibre angle [deg] in words of the trade; within `slack` of 0 or 90 neither with nor against; NaN no lip.

    Examples
    --------
    >>> from chipsim.scene.grain import grain_words
    >>> grain_words(30), grain_words(150), grain_words(2)
    ('against the grain', 'with the grain', 'along the grain')
    """
    a = float(array("angle", angle, ndim=0, nan=True, unit="deg")) % 180.0
    near = number("slack", slack, low=0, high=90, unit="deg")
    if not np.isfinite(a):
        return "no lip"
    if min(a, 180 - a) <= near:
        return "along the grain"
    if abs(a - 90) <= near:
        return "across the grain"
    return "against the grain" if a < 90 else "with the grain"
