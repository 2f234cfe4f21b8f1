"""Router bits: the radius of the cutting edge against height, and the angles and errors of its edges.

Anything with the attributes of `Cutter` can be put in a `Cut`; `VBit` is the cone of the trade and
`ProfileBit` takes any non-decreasing outline r(height) as a table.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import InitVar, dataclass, field
from typing import Protocol, runtime_checkable

import numpy as np
from numpy.typing import ArrayLike

from .._shared.arrays import FloatArray, array, frozen, integer, number
from ..errors import DomainError
from ..units import inch, range_text

__all__ = [
    "FRESH_EDGE",
    "Cutter",
    "ProfileBit",
    "VBit",
    "as_cutter",
    "bit_words",
    "cone_angle",
    "heel_rub_radius",
    "profile_knots",
    "runout_text",
    "shape_words",
]


FRESH_EDGE = 0.008
"""Radius of an edge at which nobody has looked: a fresh carbide edge has 0.003 to 0.010 (from memory). [mm]"""


@runtime_checkable
class Cutter(Protocol):
    """What a `Cut` asks of a bit: any non-decreasing r(height) and the numbers of its edges.

    `radius` takes heights above the tip [mm] (any shape) and returns radii of the same shape [mm]; it must
    not fall as the height grows and stays at ``diameter / 2`` above the outline's top. Edges lie in axial
    planes. A bit that also has ``knots() -> (heights, radii)``, heights rising from 0 at the tip, is used as
    that exact polyline, which must be the one of `radius`; otherwise `radius` is sampled (`profile_knots`).
    """

    @property
    def diameter(self) -> float: ...  # noqa: D102
    @property
    def flutes(self) -> int: ...  # noqa: D102
    @property
    def rake(self) -> float: ...  # noqa: D102
    @property
    def clearance(self) -> float: ...  # noqa: D102
    @property
    def edge_radius(self) -> float: ...  # noqa: D102
    @property
    def runout(self) -> float: ...  # noqa: D102
    @property
    def runout_azimuth(self) -> float: ...  # noqa: D102
    @property
    def cutting_length(self) -> float | None: ...  # noqa: D102
    @property
    def max_spindle_speed(self) -> float | None: ...  # noqa: D102
    def radius(self, height: ArrayLike) -> FloatArray: ...  # noqa: D102


def as_cutter(bit: object) -> Cutter:
    """Return the bit if it has all that a `Cutter` has, its numbers finite, or raise DomainError."""
    if type(bit) in (VBit, ProfileBit):  # checked when they were made
        return bit  # type: ignore[return-value]
    if not isinstance(bit, Cutter):
        raise DomainError(f"bit must be a VBit, a ProfileBit or have their attributes, got {type(bit).__name__}")
    integer("bit.flutes", bit.flutes, low=1, high=12)
    for name in ("diameter", "rake", "clearance", "edge_radius", "runout", "runout_azimuth"):
        _check_own(name, getattr(bit, name))
    for name in ("cutting_length", "max_spindle_speed"):
        if getattr(bit, name) is not None:
            _check_own(name, getattr(bit, name))
    if hasattr(bit, "knots"):
        _own_knots(bit)
    return bit


def _own_knots(bit: Cutter) -> tuple[FloatArray, FloatArray]:
    """Heights and radii of a bit's own ``knots()``, each (k,), or DomainError unless they are its outline. [mm]"""
    found = bit.knots()  # type: ignore[attr-defined]
    if not isinstance(found, tuple | list) or len(found) != 2:
        raise DomainError(f"bit.knots() must return two arrays, heights and radii, got {type(found).__name__}")
    heights = array("bit.knots() heights", found[0], ndim=1, unit="mm")
    radii = array("bit.knots() radii", found[1], ndim=1, low=0, unit="mm")
    if heights.size < 2 or heights.size != radii.size:
        raise DomainError(
            "bit.knots() must return at least 2 heights and as many radii, got "
            f"{heights.size} and {radii.size}; the first stands at the tip, the last where the full diameter is reached"
        )
    if heights[0] != 0:
        raise DomainError(f"bit.knots() heights must start at 0 mm, the tip, got {heights[0]:g} mm")
    steps = np.diff(heights)
    if (steps < 1e-9).any():
        k = int(np.argmax(steps < 1e-9))
        raise DomainError(
            "bit.knots() heights must rise from the tip, each by 1e-9 mm or more, got "
            f"{heights[k]:g} mm then {heights[k + 1]:g} mm at index {k + 1}"
            + ("; a shoulder is given as a step of 0.001 mm in height" if steps[k] == 0 else "")
        )
    _check_radii(bit, "bit.knots() radii", heights, radii)
    # between the corners too, and above the last of them
    at = np.concatenate([heights, (heights[1:] + heights[:-1]) / 2, [heights[-1] + 1.0]])
    said, true = np.interp(at, heights, radii), _radius_at(bit, at)
    off = np.abs(said - true)
    if off.max() > 1e-6:
        k = int(np.argmax(off))
        raise DomainError(
            f"bit.knots() must be the outline that bit.radius gives, got {said[k]:g} mm and {true[k]:g} mm "
            f"at a height of {at[k]:g} mm; leave knots() out if the outline is no polyline"
        )
    return heights, radii


def _radius_at(bit: Cutter, heights: FloatArray) -> FloatArray:
    """``bit.radius`` of a user's bit at these heights, of their shape, or DomainError. [mm]"""
    found = bit.radius(heights.copy())
    radii = array("bit.radius(height)", found, low=0, unit="mm")
    if radii.shape != heights.shape:
        raise DomainError(f"bit.radius must return the shape of its argument, {heights.shape}, got {radii.shape}")
    if np.asarray(found).dtype.kind in "biu" and np.ptp(radii) > 0:
        raise DomainError("bit.radius must return floats, got whole numbers: fractions of a millimetre were cut off")
    return radii


def _check_radii(bit: Cutter, name: str, heights: FloatArray, radii: FloatArray) -> None:
    """Raise DomainError unless radii never fall and stay within the bit's diameter."""
    if (np.diff(radii) < 0).any():
        k = int(np.argmax(np.diff(radii) < 0))
        raise DomainError(
            f"{name} must not fall with height, got {radii[k]:g} mm at {heights[k]:g} mm "
            f"and {radii[k + 1]:g} mm at {heights[k + 1]:g} mm"
        )
    if radii[-1] > bit.diameter / 2 + 1e-6:
        raise DomainError(
            f"{name} must not exceed bit.diameter / 2 = {bit.diameter / 2:g} mm, got {radii[-1]:g} mm; was a diameter "
            "given for a radius?"
        )


def _check_own(name: str, value: object) -> None:
    """Raise DomainError unless it is a finite float or int: a user's cutter is used as it is, nothing is converted."""
    number(f"bit.{name}", value)
    if not isinstance(value, (int, float, np.integer, np.floating)):
        raise DomainError(f"bit.{name} must be a float or an int, got {value!r}")


def runout_text(bits: Iterable[Cutter]) -> str:
    """Both figures of the bits' runout, for captions and reports: the eccentricity and what an indicator reads."""
    every = [bit.runout for bit in bits]
    both = range_text(every, "g"), range_text((2 * runout for runout in every), "g")
    return f"runout {both[0]} mm (an indicator reads {both[1]} mm)"


def _check_edges(bit: VBit | ProfileBit, reading: object) -> None:
    """Validate what every bit of this module carries; frozen dataclasses normalise through object.__setattr__."""
    put = object.__setattr__
    if reading is not None:
        if number("runout", bit.runout, unit="mm") != 0:
            raise DomainError(
                f"indicator_reading must be None where runout is given, got {reading!r} and {bit.runout!r}; the runout "
                "is half of what an indicator reads"
            )
        put(bit, "runout", number("indicator_reading", reading, low=0, high=2, unit="mm") / 2)
    put(bit, "flutes", integer("flutes", bit.flutes, low=1, high=12))
    put(bit, "rake", number("rake", bit.rake, low=-45, high=60, unit="deg"))
    put(bit, "clearance", number("clearance", bit.clearance, low=0, high=60, unit="deg", open_low=True))
    given: object = bit.edge_radius
    hint = "an edge radius is given in mm: 8 micrometres are 0.008" if _is_above(given, 0.5) else ""
    radius = FRESH_EDGE if given is None else number("edge_radius", given, low=1e-6, high=0.5, unit="mm", hint=hint)
    put(bit, "edge_radius", radius)
    said: object = bit.edge_measured
    if said not in (None, True, False):
        raise DomainError(f"edge_measured must be True, False or None, got {said!r}")
    # a copy with another radius was given one, though the first was a guess
    put(bit, "edge_measured", given is not None and (said is not False or radius != FRESH_EDGE))
    put(bit, "runout", number("runout", bit.runout, low=0, high=1, unit="mm"))
    put(bit, "runout_azimuth", number("runout_azimuth", bit.runout_azimuth, low=-360, high=360, unit="deg"))
    if bit.cutting_length is not None:
        put(
            bit,
            "cutting_length",
            number("cutting_length", bit.cutting_length, low=0, high=300, unit="mm", open_low=True),
        )
    if bit.max_spindle_speed is not None:
        put(
            bit,
            "max_spindle_speed",
            number("max_spindle_speed", bit.max_spindle_speed, low=1000, high=200_000, unit="rpm"),
        )


def _asked(bit: VBit) -> str:
    angle = bit.included_angle
    if not isinstance(angle, (int, float)) or not 0 < angle <= np.pi:
        return ""
    return f"were radians meant? {angle:g} rad = {np.degrees(angle):.4g} deg"


def _is_above(value: object, limit: float) -> bool:
    return isinstance(value, (int, float)) and value > limit


@dataclass(frozen=True)
class VBit:
    r"""A V-shaped router bit.

    ::

        diameter
        |<---->|
         \    /   r(height) = tip_width / 2 + height tan(included_angle / 2),
          \  /    constant at diameter / 2 above
           \/ <- tip_width

    Parameters
    ----------
    included_angle
        Full angle between the two walls of the groove, in [5, 180); less asks whether radians were meant. [deg]
    diameter
        Cutting diameter at the top of the cone, in [1, 150]. [mm]
    flutes
        Number of cutting edges, 1 to 12. Flute j stands at 360 j / flutes against the sense of rotation.
    tip_width
        Width of the flat at the tip (a new bit's flat or a worn one's). [mm]
    rake, clearance
        Normal to the edge. [deg]
    edge_radius
        Rounding of the cutting edge; about 0.003-0.010 fresh carbide, 0.02-0.06 dull (from memory). None, the default:
        nobody has looked; the bit then has 0.008, and the draws behind a map's band spread it. [mm]
    runout
        Eccentricity of the cutter axis from the spindle axis, half of what an indicator reads. [mm]
    runout_azimuth
        Direction of the eccentricity in the cutter, against the sense of rotation from flute 0. [deg]
    cutting_length
        Height of the cutting edges as marked or measured; None: not known, depth is not limited by it. [mm]
    max_spindle_speed
        Marked maximum speed; a `Cut` above it is refused. None: unmarked. [rpm]
    edge_measured
        Whether `edge_radius` was measured; None, the default: it was if it is given. False goes with the 0.008 of an
        edge that nobody has looked at, and so stays with copies of the bit.
    indicator_reading
        What an indicator reads in all as the bit is turned by hand, twice the runout, in [0, 2]; in place of `runout`,
        as which the bit keeps half of it. [mm]

    Raises
    ------
    DomainError
        If an argument is outside its range; a diameter below 1 mm asks whether inches were meant.

    Examples
    --------
    >>> import chipsim as cs
    >>> bit = cs.VBit(included_angle=60, diameter=12.7, flutes=2, tip_width=0.2)
    >>> f"{bit.depth_for_width(4.0):.3f} mm deep for a groove 4 mm wide"
    '3.291 mm deep for a groove 4 mm wide'
    """

    included_angle: float
    diameter: float
    flutes: int = 1
    tip_width: float = 0.0
    rake: float = field(default=10.0, kw_only=True)
    clearance: float = field(default=15.0, kw_only=True)
    edge_radius: float = field(default=None, kw_only=True)  # type: ignore[assignment]  # a float once it is made
    runout: float = field(default=0.0, kw_only=True)
    runout_azimuth: float = field(default=0.0, kw_only=True)
    cutting_length: float | None = field(default=None, kw_only=True)
    max_spindle_speed: float | None = field(default=None, kw_only=True)
    edge_measured: bool = field(default=None, kw_only=True)  # type: ignore[assignment]
    indicator_reading: InitVar[float | None] = field(default=None, kw_only=True)

    def __post_init__(self, indicator_reading: float | None) -> None:
        put = object.__setattr__
        put(
            self,
            "included_angle",
            number(
                "included_angle", self.included_angle, low=5, high=180, unit="deg", open_high=True, hint=_asked(self)
            ),
        )
        hint = ""
        if isinstance(self.diameter, (int, float)) and 0 < self.diameter < 1:
            hint = f"were inches meant? {self.diameter:g} in = {self.diameter * inch:g} mm"
        put(self, "diameter", number("diameter", self.diameter, low=1, high=150, unit="mm", hint=hint))
        put(
            self, "tip_width", number("tip_width", self.tip_width, low=0, high=self.diameter, unit="mm", open_high=True)
        )
        _check_edges(self, indicator_reading)

    @property
    def half_angle(self) -> float:
        """Half of the included angle: the wall's lean from the vertical. [deg]"""
        return self.included_angle / 2

    @property
    def cone_height(self) -> float:
        """Height at which the cone reaches the full diameter. [mm]"""
        return float((self.diameter - self.tip_width) / (2 * np.tan(np.radians(self.half_angle))))

    def knots(self) -> tuple[FloatArray, FloatArray]:
        """Heights and radii of the outline's corners, each (2,). [mm]"""
        return np.array([0.0, self.cone_height]), np.array([self.tip_width / 2, self.diameter / 2])

    def radius(self, height: ArrayLike) -> FloatArray:
        """Radius of the edge at a height above the tip, same shape. [mm]

        Raises
        ------
        DomainError
            If a height is negative or not finite.
        """
        h = array("height", height, low=0, unit="mm")
        cone = self.tip_width / 2 + h * np.tan(np.radians(self.half_angle))
        return np.asarray(np.minimum(cone, self.diameter / 2))

    def half_width(self, depth: ArrayLike) -> FloatArray:
        """Half the groove's width at the face for a depth of cut, same shape. [mm]"""
        return self.radius(array("depth", depth, low=0, unit="mm"))

    def depth_for_width(self, width: float) -> float:
        """Depth that cuts a groove of this width at the face. [mm]

        Raises
        ------
        DomainError
            If the width is below the tip's or above the bit's diameter.
        """
        w = number("width", width, low=self.tip_width, high=self.diameter, unit="mm")
        return float((w - self.tip_width) / (2 * np.tan(np.radians(self.half_angle))))


@dataclass(frozen=True, eq=False)
class ProfileBit:
    """A bit of any outline: radii that do not fall with height, joined by straight lines.

    Parameters
    ----------
    heights
        (k,) heights above the tip, from 0, strictly increasing by 1e-9 or more, k >= 2. [mm]
    radii
        (k,) radii of the edge, non-negative, never falling. [mm]
    flutes, rake, clearance, edge_radius, runout, runout_azimuth
        As for `VBit`.
    cutting_length, max_spindle_speed, edge_measured, indicator_reading
        As for `VBit`.

    Examples
    --------
    >>> import chipsim as cs
    >>> bit = cs.ProfileBit(heights=[0, 1, 4], radii=[0.1, 2.0, 6.35], flutes=2)  # flatter at its tip
    >>> bit.diameter, round(float(bit.radius(2.5)), 3)
    (12.7, 4.175)
    """

    heights: FloatArray
    radii: FloatArray
    flutes: int = 1
    rake: float = field(default=10.0, kw_only=True)
    clearance: float = field(default=15.0, kw_only=True)
    edge_radius: float = field(default=None, kw_only=True)  # type: ignore[assignment]  # a float once it is made
    runout: float = field(default=0.0, kw_only=True)
    runout_azimuth: float = field(default=0.0, kw_only=True)
    cutting_length: float | None = field(default=None, kw_only=True)
    max_spindle_speed: float | None = field(default=None, kw_only=True)
    edge_measured: bool = field(default=None, kw_only=True)  # type: ignore[assignment]
    indicator_reading: InitVar[float | None] = field(default=None, kw_only=True)

    def __post_init__(self, indicator_reading: float | None) -> None:
        heights = array("heights", self.heights, ndim=1, low=0, high=300, unit="mm")
        radii = array("radii", self.radii, ndim=1, low=0, high=75, unit="mm")
        if heights.size < 2 or heights.size != radii.size:
            raise DomainError(
                f"heights and radii must have the same length of at least 2, got {heights.size} and {radii.size}"
            )
        if heights[0] != 0 or (np.diff(heights) < 1e-9).any():
            raise DomainError("heights must start at 0 mm and increase strictly, by 1e-9 mm or more")
        if (np.diff(radii) < 0).any():
            k = int(np.argmax(np.diff(radii) < 0))
            raise DomainError(
                f"radii must not fall with height, got {radii[k]:g} mm then {radii[k + 1]:g} mm at index {k + 1}"
            )
        if radii[-1] < 0.5:
            raise DomainError(f"radii must reach at least 0.5 mm, got {radii[-1]:g}")
        object.__setattr__(self, "heights", frozen(heights))
        object.__setattr__(self, "radii", frozen(radii))
        _check_edges(self, indicator_reading)

    @property
    def diameter(self) -> float:
        """Largest cutting diameter. [mm]"""
        return float(2 * self.radii[-1])

    def knots(self) -> tuple[FloatArray, FloatArray]:
        """Heights and radii of the outline's corners, each (k,). [mm]"""
        return self.heights, self.radii

    def radius(self, height: ArrayLike) -> FloatArray:
        """Radius of the edge at a height above the tip, same shape. [mm]"""
        return np.interp(array("height", height, low=0, unit="mm"), self.heights, self.radii)

    def half_width(self, depth: ArrayLike) -> FloatArray:
        """Half the groove's width at the face for a depth of cut, same shape. [mm]"""
        return self.radius(array("depth", depth, low=0, unit="mm"))

    def __eq__(self, other: object) -> bool:
        if not isinstance(other, ProfileBit):
            return NotImplemented
        return self._key() == other._key()

    def __hash__(self) -> int:
        return hash(self._key())

    def _key(self) -> tuple[object, ...]:
        return (
            self.heights.tobytes(),
            self.radii.tobytes(),
            self.flutes,
            self.rake,
            self.clearance,
            self.edge_radius,
            self.runout,
            self.runout_azimuth,
            self.cutting_length,
            self.max_spindle_speed,
            self.edge_measured,
        )


def profile_knots(bit: Cutter, depth: float) -> tuple[FloatArray, FloatArray]:
    """Outline of a bit as the polyline the kernels use, up to at least `depth`, each (k,). [mm]

    Exact for bits with ``knots()``; another outline is sampled at 2001 heights up to `depth`, which for a curve
    of radius R misses it by at most (depth / 2000)**2 / (8 R): 2 nanometres for a 6 mm cove 6 mm deep.

    Raises
    ------
    DomainError
        If the bit's radius has the wrong shape, is not finite, is negative, is cut off to whole numbers, falls with
        height or exceeds half its diameter; if its knots do not rise from 0 or are not the outline of its radius.
    """
    if type(bit) in (VBit, ProfileBit):
        heights, radii = bit.knots()  # type: ignore[attr-defined]
        return array("heights", heights), array("radii", radii)
    if hasattr(bit, "knots"):
        return _own_knots(bit)
    heights = np.linspace(0.0, max(depth, 1e-6), 2001)
    radii = _radius_at(bit, heights)
    _check_radii(bit, "bit.radius", heights, radii)
    return heights, radii


_OFF_CONE = 0.01
"""How far an outline may stray from a straight flank and still be a cone's: a nose ground round, as a share of the
bit's diameter. [-]"""


def cone_angle(bit: Cutter) -> float | None:
    """Included angle [deg] of a bit whose outline is that of a cone, whatever its tip; None for any other outline.

    What a bit says of itself does not count for more than its outline: a round nose may carry an `included_angle`
    (that of its shank's taper, or one taken over from a V-bit), and is no V-bit for that.
    """
    if type(bit) is VBit:
        return bit.included_angle
    said = getattr(bit, "included_angle", None)
    if said is None:
        half = getattr(bit, "half_angle", None)
        said = None if half is None else 2 * half
    if not isinstance(said, (int, float, np.integer, np.floating)) or not 0 < said < 180:
        return None
    top = bit.diameter / 2
    slope = np.tan(np.radians(said / 2))
    heights, radii = profile_knots(bit, float(top / slope))
    at = np.linspace(0.0, float(top / slope), 257)
    outline = np.interp(at, heights, radii)
    flank = outline < top * (1 - 1e-9)
    off = (outline - slope * at)[flank]
    return float(said) if off.size and np.ptp(off) <= _OFF_CONE * bit.diameter else None


def shape_words(bit: Cutter) -> str:
    """What a bit is to a carver, by its outline: '60 deg V-bit' or 'profile bit'."""
    angle = cone_angle(bit)
    return "profile bit" if angle is None else f"{angle:g} deg V-bit"


def bit_words(bit: Cutter) -> str:
    """A bit in a few words, the only place that words one: '60 deg V-bit, 12.7 mm, 2 flutes'."""
    return f"{shape_words(bit)}, {bit.diameter:g} mm, {bit.flutes} flute{'s' if bit.flutes > 1 else ''}"


def heel_rub_radius(
    bit: Cutter, half_angle: ArrayLike, feed_per_rev: ArrayLike, *, descent_per_rev: ArrayLike = 0.0
) -> FloatArray:
    """Radius below which the heel of the tooth rubs somewhere in a full slot, broadcast shape. [mm]

    The clearance in the horizontal section is tan c_h = tan(clearance) / cos a; the resultant direction of an
    edge at radius r turns by up to asin(e / r), e = feed_per_rev / (2 pi), so the heel rubs below
    r* = e / sin c_h. A descent e_p per radian turns it further, all round: r* = e_p sin a / tan(clearance) +
    e / sin c_h. Derived for this project from the tool-in-use angles of ISO 3002-1 (from memory).

    Parameters
    ----------
    bit
        The bit, for its clearance.
    half_angle
        Lean of the flank from the vertical, a. [deg]
    feed_per_rev
        Feed per revolution in the plane of the face. [mm]
    descent_per_rev
        Descent per revolution. [mm]
    """
    a = np.radians(array("half_angle", half_angle, low=0, high=90, unit="deg"))
    e = array("feed_per_rev", feed_per_rev, low=0, unit="mm") / (2 * np.pi)
    sine = np.sin(np.arctan2(np.tan(np.radians(bit.clearance)), np.cos(a)))
    p = array("descent_per_rev", descent_per_rev, low=0, unit="mm") / (2 * np.pi) * np.sin(a)
    with np.errstate(all="ignore"):  # an edge without clearance rubs everywhere, one at rest nowhere
        advance = np.where(e > 0, e / sine, 0.0)
        return np.asarray(advance + np.where(p > 0, p / np.tan(np.radians(bit.clearance)), 0.0))
