"""Router bits: the radius of the cutting edge against height, and the angles and errors of its edges.

Anything with the attributes of `Cutter` can be put in a `Cut`; `VBit` is the cone of the trade and
`ProfileBit` takes any non-decreasing outline r(height) as a table.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import InitVar, dataclass, field, replace
from typing import NamedTuple, Protocol, runtime_checkable

import numpy as np
from numpy.typing import ArrayLike

from .._shared.arrays import FloatArray, array, frozen, instance, integer, number
from ..errors import DomainError
from ..units import inch, range_text
from .edges import EdgeLaw, Edges, constant_shear, flute_numbers, has_laws, interpolated, sampled, shear_of
from .species import Wood

__all__ = [
    "FRESH_EDGE",
    "Cutter",
    "ProfileBit",
    "VBit",
    "as_cutter",
    "bit_words",
    "cone_angle",
    "edge_laws",
    "edge_way",
    "edges_of",
    "heel_rub_radius",
    "lip_shear",
    "must_be_a_cutter",
    "profile_knots",
    "runout_text",
    "shape_words",
    "slope_at",
    "width_at",
]


FRESH_EDGE = 0.008
"""Radius of an edge at which nobody has looked: a fresh carbide edge has 0.003 to 0.010 (from memory). [mm]"""

_RECESSION = 40.0
"""Recession of an edge a kilometre of its way in white oak, middle of 20 to 80: see `VBit.worn`. [um/km]"""

_OAK = 0.68
"""Specific gravity of white oak at 12 % (Wood Handbook). [-]"""


@runtime_checkable
class Cutter(Protocol):
    """What a `Cut` asks of a bit: any non-decreasing r(height) and the numbers of its edges.

    `radius` takes heights above the tip [mm] (any shape) and returns radii of the same shape [mm]; it must
    not fall as the height grows and stays at ``diameter / 2`` above the outline's top. Edges lie in axial
    planes, unless the bit also has ``azimuth(height) -> deg``: how far an edge stays behind its flute's direction,
    against the sense of rotation, of the heights' shape, or (flutes, ...) where each flute has a law of its own.
    ``set_back`` and ``raised`` [mm], one number for each flute, say how far an edge stays within `radius` and how far
    its tip stands above the bit's. A bit that also has ``knots() -> (heights, radii)``, heights rising from 0 at the
    tip, is used as that exact polyline, which must be the one of `radius`; otherwise `radius` is sampled
    (`profile_knots`).
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


_NUMBERS = (
    "diameter", "flutes", "rake", "clearance", "edge_radius", "runout", "runout_azimuth", "cutting_length",
    "max_spindle_speed",
)  # fmt: skip


def must_be_a_cutter(bit: object) -> Cutter:
    """Return the bit if it has all that a `Cutter` has, or raise DomainError that names what is missing."""
    shaped = callable(getattr(bit, "radius", None))
    missing = [name for name in _NUMBERS if not hasattr(bit, name)]
    if shaped and not missing:
        return bit  # type: ignore[return-value]
    said = f"bit must be a VBit, a ProfileBit or have their attributes, got {type(bit).__name__}"
    if not shaped and len(missing) == len(_NUMBERS):
        raise DomainError(said)  # nothing like a bit: what it lacks is beside the point
    raise DomainError(f"{said} without {', '.join([*([] if shaped else ['radius(height)']), *missing])}")


def as_cutter(bit: object) -> Cutter:
    """Return the bit if it has all that a `Cutter` has, its numbers finite, or raise DomainError."""
    if type(bit) in (VBit, ProfileBit):  # checked when they were made
        return bit  # type: ignore[return-value]
    bit = must_be_a_cutter(bit)
    integer("bit.flutes", bit.flutes, low=1, high=12)
    for name in ("diameter", "rake", "clearance", "edge_radius", "runout", "runout_azimuth"):
        _check_own(name, getattr(bit, name))
    for name in ("cutting_length", "max_spindle_speed"):
        if getattr(bit, name) is not None:
            _check_own(name, getattr(bit, name))
    if hasattr(bit, "knots"):
        _own_knots(bit)
    for name in ("set_back", "raised"):
        flute_numbers(f"bit.{name}", getattr(bit, name, ()), bit.flutes, low=0, high=5, unit="mm")
    if hasattr(bit, "azimuth") and not callable(bit.azimuth):
        raise DomainError(f"bit.azimuth must be a function of the height, got {type(bit.azimuth).__name__}")
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
    shear = flute_numbers("shear", bit.shear, bit.flutes, low=-60, high=60, unit="deg")
    put(bit, "shear", (shear[0] if len(set(shear)) == 1 else shear) if shear else 0.0)
    put(bit, "set_back", flute_numbers("set_back", bit.set_back, bit.flutes, low=0, high=5, unit="mm"))
    put(bit, "raised", flute_numbers("raised", bit.raised, bit.flutes, low=0, high=5, unit="mm"))
    for name in ("set_back", "raised"):
        short = getattr(bit, name)
        if short and min(short) > 0:
            raise DomainError(f"{name} must be 0 for the longest flute, got {short}; the outline is that flute's")
    if bit.secondary_clearance is not None:
        put(
            bit,
            "secondary_clearance",
            number("secondary_clearance", bit.secondary_clearance, low=bit.clearance, high=75, unit="deg"),
        )
    put(bit, "facet", number("facet", bit.facet, low=0, high=20, unit="mm", open_low=True))
    if bit.rake + bit.clearance > 75:
        raise DomainError(
            f"rake and clearance must leave a wedge of 15 deg or more between them, got {bit.rake:g} and "
            f"{bit.clearance:g} deg"
        )
    put(bit, "land", number("land", bit.land, low=0, high=3, unit="mm"))
    if bit.chip_room is not None:
        put(bit, "chip_room", number("chip_room", bit.chip_room, low=0.02, high=0.95))
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
    shear
        Inclination of the edge to the axial plane, in the flank's plane, in [-60, 60]: one number, or one for each
        flute. Positive lifts the chip out of the groove, negative presses it down, for the spin the bit is made for.
        The edge is a spiral that meets all generators of the cone at this angle; its azimuth is 0 at the top of the
        cone, and it runs straight on below a radius of 0.1 mm, where no such spiral is ground. [deg]
    tip_radius
        Radius of a ball between the flanks, tangent to both; not together with `tip_width`. [mm]
    set_back, raised
        How far each flute's edge stays within the outline, and how far its tip stands above the bit's, for bits that
        are ground unevenly or chipped: one number for each flute, 0 for the longest, each in [0, 5]. [mm]
    secondary_clearance
        Clearance of the second facet behind the edge, not below `clearance`; None: there is only one. [deg]
    facet
        Width of the first facet, behind which the second begins, in (0, 20]; a straight facet within a round wall
        rubs by its heel where the groove is narrow (`heel_rub_radius`). Counts where there is a second one: how far the
        back of a tooth with one facet goes is not known. 0.5 is assumed. [mm]
    land
        Width of a land without clearance behind the edge, as a hone leaves it, in [0, 3]. [mm]
    chip_room
        Share of the bit's turning body that is free for chips, all gullets together, in [0.02, 0.95]; None: not known,
        and taken as 0.4 where it is asked for (assumed). [-]

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
    >>> lifting = cs.VBit(60, 12.7, 2, 0.2, shear=12)
    >>> f"{float(lifting.azimuth(0.0)):.1f} deg: the tip leads the top of the edge"
    '-101.1 deg: the tip leads the top of the edge'
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
    shear: float | tuple[float, ...] = field(default=0.0, kw_only=True)
    tip_radius: float = field(default=0.0, kw_only=True)
    set_back: tuple[float, ...] = field(default=(), kw_only=True)
    raised: tuple[float, ...] = field(default=(), kw_only=True)
    secondary_clearance: float | None = field(default=None, kw_only=True)
    facet: float = field(default=0.5, kw_only=True)
    land: float = field(default=0.0, kw_only=True)
    chip_room: float | None = field(default=None, kw_only=True)

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
        widest = self.diameter / (2 * np.cos(np.radians(self.half_angle)))
        put(self, "tip_radius", number("tip_radius", self.tip_radius, low=0, high=widest, unit="mm", open_high=True))
        if self.tip_radius > 0 and self.tip_width > 0:
            raise DomainError(
                f"tip_radius must be 0 where there is a tip_width, got {self.tip_radius:g} and {self.tip_width:g} mm; "
                "a tip is ground flat or round"
            )
        _check_edges(self, indicator_reading)

    @property
    def half_angle(self) -> float:
        """Half of the included angle: the wall's lean from the vertical. [deg]"""
        return self.included_angle / 2

    @property
    def cone_height(self) -> float:
        """Height at which the cone reaches the full diameter. [mm]"""
        return float(self.knots()[0][-1])

    def knots(self) -> tuple[FloatArray, FloatArray]:
        """Heights and radii of the outline's corners, each (2,), or (514,) with a ball at the tip. [mm]"""
        a = np.radians(self.half_angle)
        if self.tip_radius == 0:
            height = (self.diameter - self.tip_width) / (2 * np.tan(a))
            return np.array([0.0, height]), np.array([self.tip_width / 2, self.diameter / 2])
        # the ball in facets of equal turn: for a radius of 1 mm they stay within a nanometre of it
        turn = np.linspace(0.0, np.pi / 2 - a, 513)
        heights, radii = self.tip_radius * 2 * np.sin(turn / 2) ** 2, self.tip_radius * np.sin(turn)
        top = heights[-1] + (self.diameter / 2 - radii[-1]) / np.tan(a)
        return np.append(heights, top), np.append(radii, self.diameter / 2)

    def azimuth(self, height: ArrayLike) -> FloatArray:
        """How far the edges stay behind their flutes' directions at a height above the tip, against the rotation. [deg]

        Of the heights' shape; (flutes, ...) where each flute has a shear of its own.
        """
        return _azimuth(self, height)

    def radius(self, height: ArrayLike) -> FloatArray:
        """Radius of the edge at a height above the tip, same shape. [mm]

        Raises
        ------
        DomainError
            If a height is negative or not finite.
        """
        h = array("height", height, low=0, unit="mm")
        if self.tip_radius > 0:
            return np.asarray(np.interp(h, *self.knots()))
        cone = self.tip_width / 2 + h * np.tan(np.radians(self.half_angle))
        return np.asarray(np.minimum(cone, self.diameter / 2))

    @property
    def wedge_angle(self) -> float:
        """Angle of the carbide between rake face and clearance face, normal to the edge. [deg]"""
        return 90.0 - self.rake - self.clearance

    def worn(self, metres: float, wood: Wood, *, rate: float | None = None) -> VBit:
        """Return the bit after its edges have gone a way in wood: blunter, its shape kept.

        An edge recedes by `rate` a kilometre, and what is left of a wedge of the angle b that has receded by d is
        rounded by d / (1 / sin(b / 2) - 1) more (derived: a circle tangent to both faces). How fast is hardly known:
        high-speed steel in oak recedes by 20 to 80 um a kilometre (worked out for this project from a planing test,
        its cutter's diameter assumed); carbide lasts longer by a factor that nobody published for such bits, and
        extractives and silica count for more than density, by which alone the rate is scaled here (assumed). The tip
        wears faster than the edges, which is left out.

        Parameters
        ----------
        metres
            Way of one edge in the wood, not of the groove: a full groove takes pi r / (f_z z) of it a metre for each
            flute, so that half the feed wears the edge twice as fast. See `edge_way`. [m]
        wood
            The species, for its density.
        rate
            Recession a kilometre in wood as dense as white oak; None: 40, the middle of what is believed (half of all
            cases between 25 and 64, two in three between 20 and 80). [um/km]

        Raises
        ------
        DomainError
            If a number is out of range, or the edge would be rounded by more than 0.5 mm.

        Examples
        --------
        >>> import chipsim as cs
        >>> dull = cs.VBit(60, 12.7, 2).worn(300, cs.wood("sugar maple"))
        >>> f"{1000 * dull.edge_radius:.1f} um"
        '20.9 um'
        """
        return replace(self, edge_radius=_dulled(self, metres, wood, rate))

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
        if self.tip_radius > 0:
            heights, radii = self.knots()
            return float(np.interp(w / 2, radii, heights))
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
    shear, set_back, raised, secondary_clearance, facet, land, chip_room
        As for `VBit`; the shear is the same at every height, its azimuth 0 at the top of the outline.
    azimuths
        In place of `shear`: how far the edges stay behind their flutes' directions at the heights, against the sense of
        rotation, (k,) or (flutes, k), straight between them. [deg]

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
    shear: float | tuple[float, ...] = field(default=0.0, kw_only=True)
    azimuths: FloatArray | None = field(default=None, kw_only=True)
    set_back: tuple[float, ...] = field(default=(), kw_only=True)
    raised: tuple[float, ...] = field(default=(), kw_only=True)
    secondary_clearance: float | None = field(default=None, kw_only=True)
    facet: float = field(default=0.5, kw_only=True)
    land: float = field(default=0.0, kw_only=True)
    chip_room: float | None = field(default=None, kw_only=True)

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
        if self.azimuths is not None:
            azimuths = array("azimuths", self.azimuths, low=-7200, high=7200, unit="deg")
            if azimuths.shape not in (heights.shape, (self.flutes, heights.size)):
                raise DomainError(
                    f"azimuths must have the shape of heights, {heights.shape}, or {(self.flutes, heights.size)}, one "
                    f"row for each flute, got {azimuths.shape}"
                )
            if self.shear != 0:
                raise DomainError(f"azimuths must be None where shear is given, got both; shear is {self.shear!r} deg")
            object.__setattr__(self, "azimuths", frozen(azimuths))

    @property
    def diameter(self) -> float:
        """Largest cutting diameter. [mm]"""
        return float(2 * self.radii[-1])

    def knots(self) -> tuple[FloatArray, FloatArray]:
        """Heights and radii of the outline's corners, each (k,). [mm]"""
        return self.heights, self.radii

    def azimuth(self, height: ArrayLike) -> FloatArray:
        """How far the edges stay behind their flutes' directions at a height above the tip, against the rotation. [deg]

        Of the heights' shape; (flutes, ...) where each flute has a law of its own.
        """
        return _azimuth(self, height)

    def radius(self, height: ArrayLike) -> FloatArray:
        """Radius of the edge at a height above the tip, same shape. [mm]"""
        return np.interp(array("height", height, low=0, unit="mm"), self.heights, self.radii)

    def half_width(self, depth: ArrayLike) -> FloatArray:
        """Half the groove's width at the face for a depth of cut, same shape. [mm]"""
        return self.radius(array("depth", depth, low=0, unit="mm"))

    def worn(self, metres: float, wood: Wood, *, rate: float | None = None) -> ProfileBit:
        """Return the bit after its edges have gone a way in wood, as `VBit.worn` does.

        Examples
        --------
        >>> import chipsim as cs
        >>> bit = cs.ProfileBit(heights=[0, 1, 4], radii=[0.1, 2.0, 6.35], flutes=2)
        >>> f"{1000 * bit.worn(300, cs.wood('sugar maple')).edge_radius:.1f} um"
        '20.9 um'
        """
        return replace(self, edge_radius=_dulled(self, metres, wood, rate))

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
            self.shear,
            None if self.azimuths is None else (self.azimuths.shape, self.azimuths.tobytes()),
            self.set_back,
            self.raised,
            self.secondary_clearance,
            self.facet,
            self.land,
            self.chip_room,
        )


def _dulled(bit: VBit | ProfileBit, metres: float, wood: Wood, rate: float | None) -> float:
    """Edge radius after a way in wood: see `VBit.worn`. [mm]"""
    way = number("metres", metres, low=0, high=1e6, unit="m")
    instance("wood", wood, Wood, "a Wood, as from wood('black cherry')")
    pace = _RECESSION if rate is None else number("rate", rate, low=0, high=1000, unit="um/km")
    recession = 1e-3 * pace * way / 1000 * wood.specific_gravity / _OAK
    blunter = recession / (1 / np.sin(np.radians(90.0 - bit.rake - bit.clearance) / 2) - 1)
    if bit.edge_radius + blunter > 0.5:
        raise DomainError(
            f"metres must leave an edge: {way:g} m at {pace:g} um/km round it by {1000 * blunter:.0f} um, and at "
            "most 500 um are believed"
        )
    return float(bit.edge_radius + blunter)


def edge_laws(bit: Cutter, depth: float = 0.0) -> list[EdgeLaw]:
    """Laws of the azimuth of a bit's edges, one for each flute, on the same knots. [mm]

    Exact for shears, azimuths given at the knots, and straight edges; another law is sampled up to `depth` and to the
    top of the knots until its table misses no edge by more than 2e-10 mm, or has 20 000 knots.
    """
    if type(bit) in (VBit, ProfileBit):
        return _given_laws(bit, depth)  # type: ignore[arg-type]
    heights, radii = profile_knots(bit, depth)
    if hasattr(bit, "azimuth"):
        return sampled(bit.azimuth, heights, radii, bit.flutes)
    return [interpolated(heights, radii, np.zeros(len(heights)))] * bit.flutes


def _given_laws(bit: VBit | ProfileBit, depth: float = 0.0) -> list[EdgeLaw]:
    """Those that a bit's shear or azimuths say, also where a class of one's own makes others of them."""
    heights, radii = profile_knots(bit, depth)
    own = getattr(bit, "azimuths", None)
    if own is not None:
        return [interpolated(heights, radii, np.radians(lag)) for lag in np.broadcast_to(own, (bit.flutes, len(own.T)))]
    shears = np.broadcast_to(np.asarray(bit.shear), bit.flutes)
    return [constant_shear(heights, radii, float(s)) for s in shears]


def edges_of(bit: Cutter, depth: float) -> Edges | None:
    """Where a bit's edges stand, up to at least `depth`; None if they are all alike and lie in axial planes. [mm]"""
    if type(bit) in (VBit, ProfileBit):
        plain = getattr(bit, "azimuths", None) is None and bit.shear == 0 and not bit.set_back and not bit.raised  # type: ignore[attr-defined]
    else:
        plain = not has_laws(bit)
    if plain:
        return None
    back, raised = (
        flute_numbers(name, getattr(bit, name, ()), bit.flutes, low=0, high=5, unit="mm")
        for name in ("set_back", "raised")
    )
    laws = edge_laws(bit, depth)
    if not (back or raised) and not any(law.lag.any() or law.per_height.any() or law.per_log.any() for law in laws):
        return None
    return Edges(laws, back, raised)


def _azimuth(bit: VBit | ProfileBit, height: ArrayLike) -> FloatArray:
    h = array("height", height, low=0, unit="mm")
    laws = np.stack([law(h) for law in _given_laws(bit)])
    alike = isinstance(bit.shear, float) and (getattr(bit, "azimuths", None) is None or bit.azimuths.ndim == 1)  # type: ignore[union-attr]
    return np.asarray(np.degrees(laws[0] if alike else laws))


def lip_shear(bit: Cutter, depth: ArrayLike) -> FloatArray:
    """Shear angle of the edges in the flank's plane just below a height above the tip, (flutes, ...). [deg]"""
    h = array("depth", depth, low=0, unit="mm")
    if type(bit) not in (VBit, ProfileBit) and not has_laws(bit):
        return np.zeros((bit.flutes, *h.shape))
    return np.stack([shear_of(law, h) for law in edge_laws(bit, float(h.max(initial=0.0)))])


Knots = tuple[FloatArray, FloatArray]
"""Outline of a bit as a polyline: heights and radii, each (k,). [mm]"""


def width_at(knots: Knots, depth: FloatArray) -> FloatArray:
    """Half the width at the face of a groove so deep. [mm]"""
    # a flat tip that just touches the face cuts nothing
    return np.asarray(np.where(np.asarray(depth) > 1e-12, np.interp(depth, *knots), 0.0))


def slope_at(knots: Knots, depth: FloatArray) -> FloatArray:
    """Slope dr/dh just below the face of a groove so deep: tan of the flank's lean, 0 above the outline's top. [-]"""
    heights, radii = knots
    slopes = np.append(np.diff(radii) / np.diff(heights), 0.0)
    return np.asarray(slopes[np.clip(np.searchsorted(heights, np.asarray(depth) - 1e-12) - 1, 0, None)])


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


def edge_way(bit: Cutter, depth: float, feed_per_rev: float, length: float) -> float:
    """Way of one edge in the wood along a full groove, at the face: each turn it goes through half a circle. [m]

    pi r length / feed per revolution (derived, to first order in the feed).

    Parameters
    ----------
    depth, length
        Of the groove. [mm]
    feed_per_rev
        [mm]

    Examples
    --------
    >>> import chipsim as cs
    >>> from chipsim.scene.cutters import edge_way
    >>> round(edge_way(cs.VBit(90, 12.7, 2), 3.0, 0.2, 1000.0), 1)  # of a metre of groove 6 mm wide
    47.1
    """
    r = float(bit.radius(np.asarray(number("depth", depth, low=0, unit="mm"))))
    turns = number("length", length, low=0, unit="mm") / number(
        "feed_per_rev", feed_per_rev, low=0, open_low=True, unit="mm"
    )
    return np.pi * r * turns / 1000


class _Clearance(NamedTuple):
    clearance: float


def heel_rub_radius(
    bit: Cutter,
    half_angle: ArrayLike,
    feed_per_rev: ArrayLike,
    *,
    descent_per_rev: ArrayLike = 0.0,
    shear: ArrayLike = 0.0,
) -> FloatArray:
    """Radius below which the heel of the tooth rubs somewhere in a full slot, broadcast shape. [mm]

    The clearance in the horizontal section is tan c_h = tan(clearance) / cos a; the resultant direction of an edge at
    radius r turns by up to asin(e / r), e = feed_per_rev / (2 pi), so the heel rubs below r* = e / sin c_h, however
    narrow the facet. Where a second facet relieves the first, of the width w, its heel also lies in a wall that is
    rounder than a chord as long: w (cos^2 a + sin^2 c sin^2 a) / (2 cos a sin c) is added (derived; exact at rest, to
    second order in e / r at work; times cos^2 s on a sheared edge, to second order). A descent e_p per radian turns it
    further, all round: r* = e_p sin a / tan(clearance) + e / sin c_h. Derived for this project from the tool-in-use
    angles of ISO 3002-1 (from memory). On an edge with the shear s the clearance c is that normal to the edge, and r*
    is { e sqrt[(cos a - tan c sin s sin a)^2 + (tan c cos s)^2] + e_p (sin a + tan c sin s cos a) } / (tan c cos s)
    (derived).

    Parameters
    ----------
    bit
        The bit, for its clearance and, of two facets, the first.
    half_angle
        Lean of the flank from the vertical, a. [deg]
    feed_per_rev
        Feed per revolution in the plane of the face. [mm]
    descent_per_rev
        Descent per revolution. [mm]
    shear
        Shear angle of the edge. [deg]
    """
    s = np.radians(array("shear", shear, low=-89, high=89, unit="deg"))
    a = np.radians(array("half_angle", half_angle, low=0, high=90, unit="deg"))
    if getattr(bit, "secondary_clearance", None) is not None:
        c = np.radians(bit.clearance)
        heel = np.cos(a) ** 2 + (np.sin(c) * np.sin(a)) ** 2
        # a flank that lies flat has no slice to be round
        chord = np.where(np.cos(a) > 1e-9, bit.facet * heel / (2 * np.maximum(np.cos(a), 1e-9) * np.sin(c)), 0.0)  # type: ignore[attr-defined]
        alone = _Clearance(bit.clearance)
        moving = heel_rub_radius(alone, half_angle, feed_per_rev, descent_per_rev=descent_per_rev, shear=shear)  # type: ignore[arg-type]
        return np.asarray(moving + chord * np.cos(s) ** 2)
    if s.any():
        return _sheared_rub(bit, a, s, feed_per_rev, descent_per_rev)
    e = array("feed_per_rev", feed_per_rev, low=0, unit="mm") / (2 * np.pi)
    sine = np.sin(np.arctan2(np.tan(np.radians(bit.clearance)), np.cos(a)))
    p = array("descent_per_rev", descent_per_rev, low=0, unit="mm") / (2 * np.pi) * np.sin(a)
    with np.errstate(all="ignore"):  # an edge without clearance rubs everywhere, one at rest nowhere
        advance = np.where(e > 0, e / sine, 0.0)
        return np.asarray(advance + np.where(p > 0, p / np.tan(np.radians(bit.clearance)), 0.0))


def _sheared_rub(
    bit: Cutter, a: FloatArray, s: FloatArray, feed_per_rev: ArrayLike, descent_per_rev: ArrayLike
) -> FloatArray:
    e = array("feed_per_rev", feed_per_rev, low=0, unit="mm") / (2 * np.pi)
    p = array("descent_per_rev", descent_per_rev, low=0, unit="mm") / (2 * np.pi)
    t = np.tan(np.radians(bit.clearance))
    level = e * np.hypot(np.cos(a) - t * np.sin(s) * np.sin(a), t * np.cos(s))
    with np.errstate(all="ignore"):
        found = (level + p * np.maximum(np.sin(a) + t * np.sin(s) * np.cos(a), 0.0)) / (t * np.cos(s))
    return np.asarray(np.where((e > 0) | (p > 0), found, 0.0))
