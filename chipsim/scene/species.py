"""What a species of wood brings to the cut: density, strengths, heat, at a given moisture content.

`wood("black cherry", moisture=8)` reads the species table (`data/woods.csv`, USDA Wood Handbook, with source and
grade per block of values); `Wood(...)` states a species of one's own. All values are means of small, clear,
straight-grained specimens: a board scatters about them (coefficient of variation 16 % in bending strength, 28 % in
compression perpendicular; Wood Handbook Table 5-6, read in a copy).

Equation and table numbers are those of the *Wood Handbook: Wood as an Engineering Material*, USDA Forest Products
Laboratory, FPL-GTR-190 (2010) and FPL-GTR-282 (2021), read in copies; equations are numbered as in the 2021 edition.
"""

from __future__ import annotations

import csv
import difflib
import math
import statistics
from collections.abc import Iterable, Mapping
from dataclasses import KW_ONLY, dataclass, fields
from functools import cache, partial
from importlib.resources import files
from types import MappingProxyType
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import ArrayLike

from .._shared.arrays import FloatArray, array, choice, number
from ..errors import DomainError

__all__ = [
    "ElasticRatios",
    "Wood",
    "basic_specific_gravity",
    "conductivity_across",
    "density_at",
    "equilibrium_moisture",
    "hankinson",
    "heat_capacity_at",
    "moisture_adjusted",
    "specific_gravity_at",
    "wood",
    "woods",
]

_TABLE_MOISTURE = 12.0  # moisture content of the table's dry block [%]
_DEFAULT_SATURATION = 25.0  # Mp of a species without an entry in Table 5-13 [%]
_ROOM = 300.0  # temperature at which `Wood` states its heat capacity [K]


# --- formulas of the handbook; arrays broadcast, plain numbers give plain numbers -------------------------------------


def moisture_adjusted(
    dry: ArrayLike, green: ArrayLike, moisture: ArrayLike, saturation: ArrayLike = _DEFAULT_SATURATION
) -> FloatArray:
    """Mechanical property at a moisture content, between its 12 % and its green value.

    ``P = P12 (P12 / Pg) ** ((12 - M) / (Mp - 12))``, Eq 5-3; from Mp upwards the green value itself. Below 12 % it
    extrapolates. The handbook does not recommend it for work to maximum load, impact bending and tension
    perpendicular to the grain.

    Parameters
    ----------
    dry, green
        Property at 12 % and in the green state, in any one unit, > 0.
    moisture
        Moisture content M. [% of oven-dry mass, 0 to 300]
    saturation
        Mp, the moisture content below which drying raises strength (Table 5-13). [%, 13 to 40]

    Returns
    -------
    The property, in the unit of `dry`; shapes broadcast.

    Raises
    ------
    DomainError
        An argument is not finite or outside its range.
    """
    p12, pg = array("dry", dry, low=1e-9), array("green", green, low=1e-9)
    m = array("moisture", moisture, low=0, high=300, unit="%")
    mp = array("saturation", saturation, low=13, high=40, unit="%")
    # Clipped so that the power cannot run away in very wet wood, where the branch below takes Pg itself anyway.
    exponent = np.maximum((_TABLE_MOISTURE - m) / (mp - _TABLE_MOISTURE), -1.0)
    return _plain(np.where(m >= mp, pg, p12 * (p12 / pg) ** exponent))


def specific_gravity_at(basic: ArrayLike, moisture: ArrayLike) -> FloatArray:
    """Specific gravity, oven-dry mass over the volume at a moisture content, from the basic (green-volume) one.

    ``G_x = G_b / (1 - 0.265 G_b (1 - x / 30))``, Eq 4-13: total shrinkage 26.5 G_b %, linear below 30 %.

    Parameters
    ----------
    basic
        G_b, oven-dry mass over green volume. [-, 0.05 to 1.3]
    moisture
        Moisture content x at which the volume is taken. [%, 0 to 30]

    Raises
    ------
    DomainError
        An argument is not finite or outside its range.
    """
    g, x = array("basic", basic, low=0.05, high=1.3), array("moisture", moisture, low=0, high=30, unit="%")
    return _plain(g / (1.0 - 0.265 * g * (1.0 - x / 30.0)))


def basic_specific_gravity(specific_gravity: ArrayLike, moisture: ArrayLike = _TABLE_MOISTURE) -> FloatArray:
    """Invert `specific_gravity_at`: basic (green-volume) specific gravity from the one at a moisture content.

    ``G_b = G_x / (1 + 0.265 G_x (1 - x / 30))``, Eq 4-13 solved for G_b.

    Parameters
    ----------
    specific_gravity
        G_x, oven-dry mass over the volume at `moisture`. [-, 0.05 to 1.7]
    moisture
        Moisture content x. [%, 0 to 30]

    Raises
    ------
    DomainError
        An argument is not finite or outside its range.
    """
    g = array("specific_gravity", specific_gravity, low=0.05, high=1.7)
    x = array("moisture", moisture, low=0, high=30, unit="%")
    return _plain(g / (1.0 + 0.265 * g * (1.0 - x / 30.0)))


def density_at(basic: ArrayLike, moisture: ArrayLike) -> FloatArray:
    """Density, water included, at a moisture content. [kg/m3]

    ``rho = 1000 G_x (1 + x / 100)``, Eq 4-14, with G_x from Eq 4-13 (`specific_gravity_at`).

    Parameters
    ----------
    basic
        G_b, oven-dry mass over green volume. [-, 0.05 to 1.3]
    moisture
        Moisture content x. [%, 0 to 30]

    Raises
    ------
    DomainError
        An argument is not finite or outside its range.
    """
    gx = specific_gravity_at(basic, moisture)
    return _plain(1000.0 * gx * (1.0 + array("moisture", moisture) / 100.0))


def conductivity_across(specific_gravity: ArrayLike, moisture: ArrayLike) -> FloatArray:
    """Thermal conductivity across the grain, near room temperature. [W/(m K)]

    ``k = G (0.1941 + 0.004064 x) + 0.01864``, Eq 4-17. Stated for G > 0.3, about 24 degrees C and x < 25 %; the last
    few per cent up to 30 are an extrapolation. Along the grain conductivity is 1.5 to 2.8 times this (from memory).

    Parameters
    ----------
    specific_gravity
        G, oven-dry mass over the volume at `moisture`. [-, 0.05 to 1.7]
    moisture
        Moisture content x. [%, 0 to 30]

    Raises
    ------
    DomainError
        An argument is not finite or outside its range.
    """
    g = array("specific_gravity", specific_gravity, low=0.05, high=1.7)
    x = array("moisture", moisture, low=0, high=30, unit="%")
    return _plain(g * (0.1941 + 0.004064 * x) + 0.01864)


def heat_capacity_at(moisture: ArrayLike, temperature: ArrayLike = _ROOM) -> FloatArray:
    """Specific heat capacity of wood, hardly dependent on species. [J/(kg K)]

    ``c = (c0 + 4.18 x / 100) / (1 + x / 100) + A_c`` with ``c0 = 0.1031 + 0.003867 T`` and
    ``A_c = x (-0.06191 + 2.36e-4 T - 1.33e-4 x)``, in kJ/(kg K), Wood Handbook chapter 4 (FPL-GTR-190).

    Parameters
    ----------
    moisture
        Moisture content x, below fibre saturation. [%, 0 to 30]
    temperature
        Temperature T. [K, 280 to 420: the handbook's range, from memory]

    Raises
    ------
    DomainError
        An argument is not finite or outside its range.
    """
    x = array("moisture", moisture, low=0, high=30, unit="%")
    t = array("temperature", temperature, low=280, high=420, unit="K")
    bound_water = x * (-0.06191 + 2.36e-4 * t - 1.33e-4 * x)
    return _plain(1000.0 * ((0.1031 + 0.003867 * t + 4.18 * x / 100.0) / (1.0 + x / 100.0) + bound_water))


def hankinson(parallel: ArrayLike, perpendicular: ArrayLike, angle: ArrayLike, exponent: ArrayLike = 2.0) -> FloatArray:
    """Property at an angle to the grain, between its parallel and perpendicular values.

    ``N = P Q / (P sin(theta)**n + Q cos(theta)**n)``, Eq 5-2. Measured slope-of-grain data follow n = 1.5 with
    Q/P = 0.1 for bending strength, n = 1.5 with Q/P = 0.05 for impact, n = 2.5 with Q/P = 0.1 for compression. It
    falls all the way from 0 to 90 degrees for n >= 2; for less it dips a trifle below Q just short of 90.

    Parameters
    ----------
    parallel, perpendicular
        P and Q, the property along and across the grain, in any one unit, > 0.
    angle
        Angle theta to the grain; beyond 90 it counts back. [degrees, 0 to 180]
    exponent
        n. [-, 1 to 4]

    Returns
    -------
    The property, in the unit of `parallel`; shapes broadcast.

    Raises
    ------
    DomainError
        An argument is not finite or outside its range.
    """
    p, q = array("parallel", parallel, low=1e-9), array("perpendicular", perpendicular, low=1e-9)
    theta = np.radians(array("angle", angle, low=0, high=180, unit="degrees"))
    n = array("exponent", exponent, low=1, high=4)
    return _plain(p * q / (p * np.abs(np.sin(theta)) ** n + q * np.abs(np.cos(theta)) ** n))


def equilibrium_moisture(humidity: ArrayLike, temperature: ArrayLike = 21.1) -> FloatArray:
    """Moisture content that wood comes to in air of a given humidity. [% of oven-dry mass]

    ``M = (1800 / W) (K h / (1 - K h) + (K1 K h + 2 K1 K2 K^2 h^2) / (1 + K1 K h + K1 K2 K^2 h^2))``, Eq 4-5.

    Parameters
    ----------
    humidity
        Relative humidity 100 h. [%, 0 to 100]
    temperature
        Air temperature. [degrees C, 0 to 100]

    Raises
    ------
    DomainError
        An argument is not finite or outside its range.
    """
    h = array("humidity", humidity, low=0, high=100, unit="%") / 100.0
    t = array("temperature", temperature, low=0, high=100, unit="degrees C")
    w = 349.0 + 1.29 * t + 0.0135 * t**2
    k = 0.805 + 0.000736 * t - 0.00000273 * t**2
    k1 = 6.27 - 0.00938 * t - 0.000303 * t**2
    k2 = 1.91 + 0.0407 * t - 0.000293 * t**2
    kh = k * h
    dissolved, bound = kh / (1.0 - kh), k1 * kh + k1 * k2 * kh**2
    return _plain(1800.0 / w * (dissolved + (bound + k1 * k2 * kh**2) / (1.0 + bound)))


def _plain(values: FloatArray) -> FloatArray:
    """Return a 0-d array as a plain scalar, any other array as it is."""
    return np.asarray(values)[()]


# --- the noun ---------------------------------------------------------------------------------------------------------


class ElasticRatios(NamedTuple):
    """Elastic moduli of wood over E_L, the true modulus along the grain, about 12 % moisture (Table 5-1). [-]

    L, R, T are the directions along the grain, across the growth rings and along them; nan where not known.
    """

    tangential: float = math.nan
    """E_T / E_L. [-]"""
    radial: float = math.nan
    """E_R / E_L. [-]"""
    shear_lr: float = math.nan
    """G_LR / E_L. [-]"""
    shear_lt: float = math.nan
    """G_LT / E_L. [-]"""
    shear_rt: float = math.nan
    """G_RT / E_L. [-]"""


_UNKNOWN = ElasticRatios()


class _Range(NamedTuple):
    low: float
    high: float
    unit: str
    hint: str = ""
    required: bool = False


_KPA = "MPa is meant (1 MPa = 1000 kPa = 145 lbf/in2)"
_RANGES: Mapping[str, _Range] = MappingProxyType(
    {
        # Wide enough for balsa and lignum vitae, narrow enough to catch kPa, GPa, lbf/in2 and g/cm3.
        "moisture": _Range(4, 30, "%", "per cent of the oven-dry mass", required=True),
        "specific_gravity": _Range(0.08, 1.3, "", "oven-dry mass over volume at 12 %, water = 1"),
        "density": _Range(80, 1500, "kg/m3", "kg/m3 is meant, not g/cm3"),
        "bending_strength": _Range(5, 400, "MPa", _KPA, required=True),
        "elastic_modulus": _Range(500, 50_000, "MPa", "MPa is meant, not GPa or kPa", required=True),
        "compression_parallel": _Range(2, 200, "MPa", _KPA),
        "compression_perpendicular": _Range(0.2, 60, "MPa", _KPA, required=True),
        "shear_parallel": _Range(0.5, 60, "MPa", _KPA),
        "tension_perpendicular": _Range(0.1, 40, "MPa", _KPA),
        "side_hardness": _Range(100, 30_000, "N", "newtons are meant (1 lbf = 4.448 N)"),
        "fracture_toughness": _Range(0.02, 5, "MPa sqrt(m)", "MPa sqrt(m) is meant, not kPa sqrt(m)"),
        "conductivity": _Range(0.01, 1, "W/(m K)"),
        "heat_capacity": _Range(500, 5000, "J/(kg K)", "J/(kg K) is meant, not kJ/(kg K)"),
        "early_density": _Range(0.3, 1.0, "", "density of the earlywood over the mean"),
        "early_share": _Range(0.05, 0.95, "", "share of the growth ring that is earlywood"),
    }
)


@dataclass(frozen=True, repr=False)
class Wood:
    """One species at one moisture content.

    Usually made by `wood(name, moisture)`. By hand: a name, `specific_gravity` or `density`, `bending_strength`,
    `elastic_modulus` and `compression_perpendicular`; what is left out is derived by the handbook's formulas
    (specific gravity or density from each other, conductivity, heat capacity) or stays nan, and a risk that needs it
    says so. Every value holds at `moisture`: `dataclasses.replace(w, moisture=8)` adjusts nothing and is refused,
    because density and specific gravity then disagree. Strengths are means of small clear specimens.

    Parameters
    ----------
    name
        Species.
    moisture
        Moisture content. [% of oven-dry mass, 4 to 30]
    specific_gravity
        Oven-dry mass over the volume at 12 %, whatever `moisture` is. [-]
    density
        Density at `moisture`, water included. [kg/m3]
    bending_strength
        Modulus of rupture. [MPa]
    elastic_modulus
        Along the grain, from bending, shear deflection included (as tabulated; see `elastic_modulus_true`). [MPa]
    compression_parallel
        Crushing strength along the grain. [MPa]
    compression_perpendicular
        Stress at the proportional limit across the grain. [MPa]
    shear_parallel
        Shear strength along the grain. [MPa]
    tension_perpendicular
        Tensile strength across the grain, 12 % value at every moisture (Eq 5-3 is not recommended for it). [MPa]
    side_hardness
        Force that sinks the standard ball, 11.3 mm across, by half (ball from memory). [N]
    fracture_toughness
        K_Ic of a crack running along the grain, plane TL. Not adjusted for moisture: unaffected between 10 and 20 %
        (Fonselius & Riipola 1992, J. Struct. Eng. 118:1741, abstract). [MPa sqrt(m)]
    conductivity
        Thermal, across the grain; default Eq 4-17. [W/(m K)]
    heat_capacity
        At 300 K; default `heat_capacity_at`. [J/(kg K)]
    elastic_ratios
        `ElasticRatios` at about 12 %; fields may be nan. [-]
    early_density, early_share
        Density of the earlywood over the mean, and the share of the growth ring that is earlywood; both or neither.
        nan: much alike throughout, as in diffuse-porous woods. [-]
    hardwood
        Whether the tree is a broadleaf.
    source
        Literature the strengths come from.
    grade
        Weakest grade among the strengths at this moisture: 'read', 'copy' (read in somebody's copy), 'memory',
        'estimate', or 'own' (given by hand).
    notes
        What was estimated, taken over or is in doubt, in words.

    Raises
    ------
    DomainError
        A value is missing or outside its range, or density and specific gravity disagree by more than
        0.1 % and 0.5 kg/m3.

    Examples
    --------
    >>> import chipsim as cs
    >>> own = cs.Wood(  # invented values
    ...     "off-cut", density=690, bending_strength=83, elastic_modulus=7800, compression_perpendicular=9.5
    ... )
    >>> f"specific gravity {own.specific_gravity:.3f}"
    'specific gravity 0.616'
    """

    name: str = ""
    _: KW_ONLY
    moisture: float = _TABLE_MOISTURE
    specific_gravity: float = math.nan
    density: float = math.nan
    bending_strength: float = math.nan
    elastic_modulus: float = math.nan
    compression_parallel: float = math.nan
    compression_perpendicular: float = math.nan
    shear_parallel: float = math.nan
    tension_perpendicular: float = math.nan
    side_hardness: float = math.nan
    fracture_toughness: float = math.nan
    conductivity: float = math.nan
    heat_capacity: float = math.nan
    elastic_ratios: ElasticRatios = _UNKNOWN
    early_density: float = math.nan
    early_share: float = math.nan
    hardwood: bool = True
    source: str = "given by hand"
    grade: str = "own"
    notes: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        put = partial(object.__setattr__, self)
        put("name", _text("name", self.name))
        needed = ("bending_strength", "elastic_modulus", "compression_perpendicular")
        lacking = [f"{f} [MPa]" for f in needed if getattr(self, f) is math.nan]
        if lacking:
            raise DomainError(
                f"{' and '.join(lacking)} must be given for {self.name!r}, got nothing; no risk can be told without. "
                f"wood('black cherry') takes them from the table"
            )
        for field, allowed in _RANGES.items():
            value = getattr(self, field)
            # One nan object throughout: woods are then equal, and hash alike, when their numbers are.
            missing = not allowed.required and _is_nan(value)
            put(field, math.nan if missing else _within(field, value))
        if math.isnan(self.early_density) != math.isnan(self.early_share):
            raise DomainError(
                f"early_density and early_share must be given together, got {self.early_density:g} and "
                f"{self.early_share:g}"
            )
        put("elastic_ratios", _checked_ratios(self.elastic_ratios))
        _check_flag("hardwood", self.hardwood)
        put("source", _text("source", self.source))
        choice("grade", self.grade, ("read", "copy", "memory", "estimate", "own"))
        put("notes", _checked_notes(self.notes))
        self._fill(put)

    def _fill(self, put: Any) -> None:
        """Derive what the handbook's formulas give, and hold density against specific gravity."""
        x = self.moisture
        if math.isnan(self.specific_gravity) and math.isnan(self.density):
            raise DomainError(f"specific_gravity [-] or density [kg/m3] must be given for {self.name!r}, got neither")
        if math.isnan(self.specific_gravity):
            basic = basic_specific_gravity(self.density / (10.0 * (100.0 + x)), x)
            put("specific_gravity", _within("specific_gravity", specific_gravity_at(basic, _TABLE_MOISTURE)))
        basic = basic_specific_gravity(self.specific_gravity)
        derived = float(density_at(basic, x))
        if math.isnan(self.density):
            put("density", _within("density", derived))
        elif abs(self.density - derived) > max(0.5, 1e-3 * derived):
            raise DomainError(
                f"density must agree with specific_gravity at moisture {x:g} % to 0.1 % or 0.5 kg/m3: "
                f"{self.specific_gravity:g} means {derived:.1f} kg/m3 (Eq 4-13, 4-14), got {self.density:.1f}; give "
                "one of the two, the other as nan; for another moisture content call wood(name, moisture=...)"
            )
        if math.isnan(self.conductivity):
            put("conductivity", float(conductivity_across(specific_gravity_at(basic, x), x)))
        if math.isnan(self.heat_capacity):
            put("heat_capacity", float(heat_capacity_at(x, _ROOM)))

    @property
    def elastic_modulus_true(self) -> float:
        """Modulus of elasticity along the grain without shear deflection, E_L. [MPa]

        1.1 times the tabulated value: by the footnote of Table 5-3a the tabulated modulus includes shear deflection
        of the bent specimen and may be increased by 10 % to remove it.
        """
        return 1.1 * self.elastic_modulus

    def tissues(self) -> tuple[tuple[float, float], ...]:
        """Shares of the ring, and densities over the mean, of early- and latewood; one of each if alike. [-]

        Examples
        --------
        >>> import chipsim as cs
        >>> [(share, round(density, 2)) for share, density in cs.wood("white oak").tissues()]
        [(0.35, 0.72), (0.65, 1.15)]
        >>> cs.wood("sugar maple").tissues()
        ((1.0, 1.0),)
        """
        e, d = self.early_share, self.early_density
        if math.isnan(e):
            return ((1.0, 1.0),)
        return ((e, d), (1.0 - e, (1.0 - e * d) / (1.0 - e)))

    def __repr__(self) -> str:
        return (
            f"Wood({self.name!r}, {self.moisture:g} %: {self.density:.0f} kg/m3, bending strength "
            f"{self.bending_strength:.3g} MPa, elastic modulus {self.elastic_modulus:.0f} MPa, {self.grade})"
        )

    def __str__(self) -> str:
        head = f"{self.name} at {self.moisture:g} % moisture ({'hardwood' if self.hardwood else 'softwood'})"
        body = (
            f"density {self.density:.0f} kg/m3, elastic modulus {self.elastic_modulus:.0f} MPa",
            f"MPa: bending {self.bending_strength:.3g}, compression parallel {self.compression_parallel:.3g}, "
            f"compression perpendicular {self.compression_perpendicular:.3g}, shear {self.shear_parallel:.3g}",
            f"source: {self.source} (grade: {self.grade})",
            *(f"note: {note}" for note in self.notes),
        )
        return "\n  ".join((head, *body))

    def __reduce__(self) -> tuple[Any, ...]:
        # Through the constructor, so that copies and pickles share the one nan object and stay equal.
        return partial(type(self), **{f.name: getattr(self, f.name) for f in fields(self)}), ()


def _is_nan(value: object) -> bool:
    return isinstance(value, float | np.floating) and math.isnan(value)


def _within(field: str, value: object) -> float:
    low, high, unit, hint, _ = _RANGES[field]
    return number(field, value, low=low, high=high, unit=unit, hint=hint)


def _text(name: str, value: object) -> str:
    if not isinstance(value, str) or not value.strip():
        raise DomainError(f"{name} must be a non-empty string, got {value!r}")
    return value


def _check_flag(name: str, value: object) -> None:
    if not isinstance(value, bool):
        raise DomainError(f"{name} must be True or False, got {value!r}")


def _checked_notes(value: object) -> tuple[str, ...]:
    if isinstance(value, str) or not isinstance(value, Iterable):
        raise DomainError(f"notes must be a tuple of strings, got {value!r}")
    return tuple(_text("notes", note) for note in value)


def _checked_ratios(value: object) -> ElasticRatios:
    if not isinstance(value, ElasticRatios):
        raise DomainError(f"elastic_ratios must be an ElasticRatios, got {value!r}")
    return ElasticRatios(
        *(
            math.nan if _is_nan(v) else number(f"elastic_ratios.{k}", v, low=0, high=1, open_low=True)
            for k, v in value._asdict().items()
        )
    )


# --- the species table ------------------------------------------------------------------------------------------------


class _Species(NamedTuple):
    """One row of woods.csv: numbers by bare column name in MPa, N, %, -; the other cells as text."""

    number: Mapping[str, float]
    text: Mapping[str, str]

    @property
    def hardwood(self) -> bool:
        return self.text["group"] == "hardwood"


# Strengths that Eq 5-3 moves with moisture; tension perpendicular is left out on the handbook's advice.
_ADJUSTED = (
    "bending_strength",
    "elastic_modulus",
    "compression_parallel",
    "compression_perpendicular",
    "shear_parallel",
    "side_hardness",
)
_RATIOS = ("e_t/e_l", "e_r/e_l", "g_lr/e_l", "g_lt/e_l", "g_rt/e_l")  # in the order of ElasticRatios


def _rows(file: str) -> list[dict[str, str]]:
    text = (files("chipsim.data") / file).read_text(encoding="utf-8")
    return list(csv.DictReader(line for line in text.splitlines() if not line.startswith("#")))


@cache
def _sources() -> Mapping[str, str]:
    return MappingProxyType({row["key"]: row["citation"] for row in _rows("sources.csv")})


@cache
def _table() -> Mapping[str, _Species]:
    """Return every row of the table by species, those without strengths included (they serve the group medians)."""
    out: dict[str, _Species] = {}
    for row in _rows("woods.csv"):
        numbers: dict[str, float] = {}
        for header, cell in row.items():
            column, bracket, unit = header.partition(" [")
            if bracket:
                scale = 1000.0 if unit.startswith("kPa") else 1.0
                numbers[column] = float(cell) / scale if cell else math.nan
        text = {header: cell for header, cell in row.items() if "[" not in header}
        out[row["species"]] = _Species(MappingProxyType(numbers), MappingProxyType(text))
    return MappingProxyType(out)


@cache
def _known(hardwood: bool, block: str) -> tuple[_Species, ...]:
    """Return the group's rows whose values in that block are their own, not taken over from a kin."""
    return tuple(s for s in _table().values() if s.hardwood is hardwood and s.text[block] not in ("", "estimate"))


def _median(values: Iterable[float]) -> float:
    return statistics.median(v for v in values if not math.isnan(v))


@cache
def _seasoning(hardwood: bool, column: str) -> float:
    """Return the median P12 / Pg over the group's species with green values."""
    return _median(s.number[column] / s.number[f"green_{column}"] for s in _known(hardwood, "green grade"))


@cache
def _perpendicular_law() -> tuple[float, float]:
    """Coefficient [MPa] and exponent of compression perpendicular = a G12**b, least squares in logarithms.

    Fitted over the table's hardwoods at 12 %; the handbook's Table 5-11a has relations of this form (from memory).
    """
    own = [s.number for s in _known(True, "dry grade") if not math.isnan(s.number["compression_perpendicular"])]
    x = np.log([s["specific_gravity"] for s in own])
    exponent, intercept = np.polyfit(x, np.log([s["compression_perpendicular"] for s in own]), 1)
    return float(np.exp(intercept)), float(exponent)


@cache
def woods() -> tuple[str, ...]:
    """Names of the species in the table, as the handbook prints them in lower case, hardwoods first.

    Examples
    --------
    >>> import chipsim as cs
    >>> len(cs.woods()), "black cherry" in cs.woods()
    (22, True)
    """
    names = [name for name, s in _table().items() if s.text["dry grade"]]
    return tuple(sorted(names, key=lambda name: not _table()[name].hardwood))


def wood(name: str, moisture: float = _TABLE_MOISTURE) -> Wood:
    """Return a species of the table at a moisture content.

    At 12 % the values are the table's to the digit. Elsewhere strengths follow Eq 5-3 (`moisture_adjusted`) with the
    species' green values; for a species without them, with the median P12/Pg of the table's hardwoods or softwoods
    that have them (an estimate, and graded so). Compression perpendicular of the two mahoganies, not printed, is
    a power law in specific gravity fitted over the table's hardwoods; fracture toughness and elastic ratios that
    are missing are the median of the group. `Wood.notes` says which of these were used.

    Parameters
    ----------
    name
        Species as in `woods()`, or its trade name in a few plain cases ('hard maple', 'cherry'); case is ignored.
    moisture
        Moisture content. [% of oven-dry mass, 4 to 30]

    Raises
    ------
    DomainError
        No such species (the message lists close matches), or moisture outside [4, 30] %.

    Examples
    --------
    >>> import chipsim as cs
    >>> cs.wood("black cherry").bending_strength
    85.0
    """
    species = _species_key(name)
    moisture = _within("moisture", moisture)
    row = _table()[species]
    notes = [note for note in row.text["note"].split(" | ") if note]

    gravity = row.number["specific_gravity"]
    if row.text["specific_gravity basis"] == "green":
        gravity = float(specific_gravity_at(gravity, _TABLE_MOISTURE))
    strengths, grade = _strengths(row, gravity, moisture, notes)
    if moisture != _TABLE_MOISTURE and not math.isnan(row.number["tension_perpendicular"]):
        notes.append("tension perpendicular: 12 % value, Eq 5-3 is not recommended for it")

    blocks = ("dry source",) if moisture == _TABLE_MOISTURE else ("dry source", "green source")
    keys = dict.fromkeys(key for block in blocks for key in row.text[block].split())
    return Wood(
        species,
        moisture=moisture,
        specific_gravity=gravity,
        tension_perpendicular=row.number["tension_perpendicular"],
        fracture_toughness=_toughness(row, moisture, notes),
        elastic_ratios=_ratios(row, notes),
        **_rings(species, notes),
        hardwood=row.hardwood,
        source="; ".join(_sources()[k] for k in keys),
        grade=grade,
        notes=tuple(notes),
        **strengths,
    )


def _strengths(row: _Species, gravity: float, moisture: float, notes: list[str]) -> tuple[dict[str, float], str]:
    """Return the strengths at a moisture content and their weakest grade; estimates are added to `notes`."""
    dry = {column: row.number[column] for column in _ADJUSTED}
    grade = row.text["dry grade"]
    if math.isnan(dry["compression_perpendicular"]):
        a, b = _perpendicular_law()
        dry["compression_perpendicular"] = a * gravity**b
        grade = "estimate"
        notes.append(f"compression perpendicular: estimate, {a:.1f} G**{b:.2f} MPa fitted over the table's hardwoods")
    if moisture == _TABLE_MOISTURE:
        return dry, grade
    if row.text["green grade"]:
        green = {column: row.number[f"green_{column}"] for column in _ADJUSTED}
    else:
        green = {column: dry[column] / _seasoning(row.hardwood, column) for column in _ADJUSTED}
        grade = "estimate"
        notes.append(
            f"strengths off 12 %: estimate, no green values; median P12/Pg of the table's {row.text['group']}s used"
        )
    saturation = row.number["saturation"]
    mp = _DEFAULT_SATURATION if math.isnan(saturation) else saturation
    return {column: float(moisture_adjusted(dry[column], green[column], moisture, mp)) for column in _ADJUSTED}, grade


def _toughness(row: _Species, moisture: float, notes: list[str]) -> float:
    """Return K_Ic in plane TL, the species' own or the median of its group."""
    own = row.number["k_ic_tl"]
    if math.isnan(own):
        notes.append(f"fracture toughness: estimate, median of the handbook's {row.text['group']}s")
        own = _median(s.number["k_ic_tl"] for s in _known(row.hardwood, "fracture grade"))
    elif row.text["fracture grade"] == "memory":
        notes.append("fracture toughness: from memory")
    if not 10.0 <= moisture <= 20.0:
        notes.append("fracture toughness: not adjusted, known to be insensitive to moisture only between 10 and 20 %")
    return own


def _ratios(row: _Species, notes: list[str]) -> ElasticRatios:
    """Return the elastic ratios, each the species' own or the median of its group."""
    own = [row.number[column] for column in _RATIOS]
    typical = [_median(s.number[column] for s in _known(row.hardwood, "elastic grade")) for column in _RATIOS]
    missing = [column for column, v in zip(_RATIOS, own, strict=True) if math.isnan(v)]
    if row.text["elastic grade"] == "memory":
        notes.append("elastic ratios: from memory")
    if missing:
        which = ", ".join(missing).upper()
        notes.append(f"elastic ratios {which}: estimate, median of the table's {row.text['group']}s")
    return ElasticRatios(*(t if math.isnan(v) else v for v, t in zip(own, typical, strict=True)))


@cache
def _ring_table() -> Mapping[str, Mapping[str, str]]:
    return MappingProxyType({row["species"]: row for row in _rows("rings.csv")})


def _rings(species: str, notes: list[str]) -> dict[str, float]:
    """Return the growth ring's earlywood, nothing for woods that are much alike throughout."""
    row = _ring_table().get(species)
    if row is None:
        return {}
    notes.append("growth rings: from memory")
    return {"early_density": float(row["early_density [-]"]), "early_share": float(row["early_share [-]"])}


@cache
def _names() -> Mapping[str, str]:
    """Map every accepted spelling to its species."""
    aliases = {_table()[name].text["also"]: name for name in woods() if _table()[name].text["also"]}
    return MappingProxyType({name: name for name in woods()} | aliases)


def _species_key(name: object) -> str:
    """Return the table's name for what the caller wrote, or raise DomainError with close matches."""
    wanted = _text("name", name).strip().lower()
    if wanted in _names():
        return _names()[wanted]
    # Words in common first ('maple'), then spellings ('black chery'): what a person would have meant.
    words = set(wanted.split())
    close = [n for n in woods() if words & set(n.replace(",", "").split())]
    close += [_names()[n] for n in difflib.get_close_matches(wanted, _names(), n=3, cutoff=0.6)]
    hint = ", ".join(map(repr, dict.fromkeys(close)))
    raise DomainError(
        f"name must be one of the species in woods(), got {name!r}; "
        + (f"did you mean {hint}? " if hint else "no name is close. ")
        + f"woods() is {', '.join(map(repr, woods()))}; any other species is built with Wood(...)"
    )
