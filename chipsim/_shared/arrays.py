"""The one place arguments are normalised: floats finite and in range, arrays float64 and C-ordered.

A quantity of any units library, known by its own ``to(unit)`` and its ``units`` or ``unit``, is converted to the unit
the argument needs or refused; nothing is imported for it. An angle that is whole degrees in radians, to the last digit,
is refused as well.
"""

from __future__ import annotations

import math
import operator
import re
from collections.abc import Callable
from typing import Any, TypeVar

import numpy as np
from numpy.typing import ArrayLike, NDArray

from ..errors import DomainError
from ..units import ipm

__all__ = [
    *("SLOWEST_PLUNGE", "FloatArray", "array", "bare", "choice", "feed", "frozen", "instance", "integer", "number"),
    "asked_in_arrays",
    "seed",
    "trapezoid",
]

FloatArray = NDArray[np.float64]
T = TypeVar("T")


def _range(low: float, high: float, unit: str, open_low: bool = False, open_high: bool = False) -> str:
    left = "(" if open_low or low == -math.inf else "["
    right = ")" if open_high or high == math.inf else "]"
    return f"{left}{low:g}, {high:g}{right}{' ' + unit if unit else ''}"


def _real(values: Any, kinds: str) -> bool:
    """Whether these are numbers: no words, dates or complex ones, which numpy would turn into floats, nor masked."""
    return values.dtype.kind in f"{kinds}O" and not np.ma.is_masked(values)


_SPELLINGS = {
    "%": ("percent", "%"),
    "degrees C": ("degC", "deg_C"),
    "degrees": ("deg",),
    "rpm": ("rpm", "cycle / min"),
    "turns": ("turn", "cycle"),
    "": ("", "dimensionless"),
}
"""How units libraries write the units that they do not all write as this library does."""

_TURNING = re.compile(r"deg|rad|rev|rpm|turn|cycle|rot|arc|\u00b0|\u2032|\u2033")
"""In the name of a unit: an angle. Angles have no dimension, so that a units library may take a bare number for one."""

_TURNS = ("deg", "degrees", "rad", "rpm", "turns")


def _is_quantity(value: Any) -> bool:
    """Whether this carries a unit; numbers and plain arrays, which come by the million, are told first."""
    if type(value) in (float, int, str, list, tuple, dict, np.ndarray, np.float64) or isinstance(value, type):
        return False
    return hasattr(value, "units") or hasattr(value, "unit")


def _converted(name: str, value: Any, unit: str) -> Any:
    """Return a quantity's number or array in this unit, or raise DomainError."""
    own = str(getattr(value, "units", None) or getattr(value, "unit", None) or "")
    wanted = unit or "a plain number"
    refused = f"{name} must be in {wanted}, got a quantity in {own or 'no unit'}"
    turning = unit != "degrees C" and _TURNING.search(own) is not None
    if turning != (unit in _TURNS):
        raise DomainError(f"{refused}; give it in {wanted}")
    convert = getattr(value, "to", None)
    if not callable(convert):
        raise DomainError(f"{refused}, which has no to(...); give it in {wanted}")
    why = "its to(...) returns neither a magnitude nor a value"
    for spelling in _SPELLINGS.get(unit, (unit,)):
        try:
            there = convert(spelling)
        except Exception as error:  # each library has errors of its own
            why = " ".join(str(error).split()) or type(error).__name__
            continue
        for held in ("magnitude", "value"):
            if hasattr(there, held):
                return getattr(there, held)
    raise DomainError(f"{refused}; give it in {wanted} ({why})")


def bare(name: str, value: Any, unit: str) -> Any:
    """Return the value itself, or in this unit if it is a quantity or a list or array that holds some."""
    if _is_quantity(value):
        return _converted(name, value, unit)
    if isinstance(value, list | tuple) and value:
        plain = [bare(name, v, unit) for v in value]
        return plain if any(a is not b for a, b in zip(plain, value, strict=True)) else value
    if isinstance(value, np.ndarray) and value.dtype == object:
        plain = [bare(name, v, unit) for v in value.flat]
        if any(a is not b for a, b in zip(plain, value.flat, strict=True)):
            return np.array(plain).reshape(value.shape)
    return value


def _radians(values: Any) -> float | None:
    """First of these angles [deg] that is a whole number of degrees, up to two turns, in radians to the last digits."""
    with np.errstate(over="ignore", invalid="ignore"):  # a huge angle has no degrees, and is no whole number of them
        degrees = np.degrees(np.asarray(values, dtype=np.float64))
        whole = np.round(degrees)
        told = (np.abs(degrees - whole) <= 1e-13 * np.abs(whole)) & (whole != 0) & (np.abs(whole) <= 720)
    return float(np.asarray(values)[told].flat[0]) if told.any() else None


def _refuse_radians(name: str, values: Any, unit: str) -> None:
    if unit in ("deg", "degrees") and (told := _radians(values)) is not None:
        raise DomainError(
            f"{name} must be in degrees, got {told:.17g}; were radians meant? They are {math.degrees(told):g} deg"
        )


def number(
    name: str,
    value: object,
    *,
    low: float = -math.inf,
    high: float = math.inf,
    unit: str = "",
    open_low: bool = False,
    open_high: bool = False,
    hint: str = "",
) -> float:
    """Return `value` as a finite float within the stated range, or raise DomainError naming all three."""
    if type(value) not in (float, int):
        value = bare(name, value, unit)
    try:
        if type(value) not in (float, int):
            given = np.asanyarray(value)
            if given.ndim or not _real(given, "iuf"):
                raise TypeError
        out = float(value)  # type: ignore[arg-type]
    except (TypeError, ValueError, OverflowError, Warning):
        allowed = _range(low, high, unit, open_low, open_high)
        raise DomainError(f"{name} must be a number in {allowed}, got {value!r}") from None
    inside = (low < out if open_low else low <= out) and (out < high if open_high else out <= high)
    if not math.isfinite(out) or not inside:
        allowed = _range(low, high, unit, open_low, open_high)
        raise DomainError(f"{name} must lie in {allowed}, got {out:g}" + (f"; {hint}" if hint else ""))
    _refuse_radians(name, out, unit)
    return out


SLOWEST_PLUNGE = 80.0
"""Least feed straight down that is believed: bench-top machines are set to 100 and more, or 4 in/min. [mm/min]"""


def feed(name: str, value: object, low: float = 100.0) -> float:
    """Return a feed of the tool [mm/min] as a float, or raise DomainError; a small one asks about inches per minute.

    Below 100 mm/min one flute at 10 000 rpm takes less than 0.01 mm, no more than its own edge is rounded: it rubs. The
    feeds of bench-top machines in inches per minute, some 10 to 99, lie below it.
    """
    out = number(name, value, low=0, open_low=True, unit="mm/min") if _is_quantity(value) else value
    hint = ""
    if isinstance(out, (int, float, np.number)) and 0 < out < low:
        hint = f"were inches per minute meant? {out:g} in/min = {out * ipm:g} mm/min"
    return number(name, out, low=low, high=60_000, unit="mm/min", hint=hint)


def integer(name: str, value: object, *, low: int, high: int) -> int:
    """Return `value` as an int within [low, high], or raise DomainError."""
    out = number(name, value, low=low, high=high)
    if out != int(out):
        raise DomainError(f"{name} must be a whole number in [{low}, {high}], got {out:g}")
    return int(out)


def seed(value: object, name: str = "seed") -> int:
    """Return a seed, a whole number from 0 to 2**63 - 1, or raise DomainError; every digit of it counts."""
    try:
        exact = None if isinstance(value, bool) else operator.index(value)  # type: ignore[arg-type]
    except TypeError:
        exact = None
    if exact is None:
        exact = integer(name, value, low=0, high=2**63 - 1)
    if not 0 <= exact < 2**63:
        raise DomainError(f"{name} must be a whole number in [0, 2**63 - 1], got {exact!r:.40}")
    return exact


def choice(name: str, value: object, allowed: tuple[str, ...]) -> str:
    """Return `value` if it is one of the allowed words, or raise DomainError."""
    if not isinstance(value, str) or value not in allowed:
        raise DomainError(f"{name} must be one of {', '.join(map(repr, allowed))}, got {value!r}")
    return value


def instance(name: str, value: object, kind: type[T], words: str) -> T:
    """Return `value` if it is of the kind that the words describe, or raise DomainError."""
    if not isinstance(value, kind):
        raise DomainError(f"{name} must be {words}, got {type(value).__name__}")
    return value


def array(
    name: str,
    value: ArrayLike,
    *,
    ndim: int | None = None,
    low: float = -math.inf,
    high: float = math.inf,
    unit: str = "",
    nan: bool = False,
) -> FloatArray:
    """Return a fresh float64 C-ordered array, all finite (or NaN, if `nan`) and within range, or raise DomainError."""
    value = bare(name, value, unit)
    try:
        given = np.asanyarray(value)
        if not _real(given, "biuf"):
            raise TypeError
        out = np.array(given, dtype=np.float64, order="C", copy=True)
    except (TypeError, ValueError, OverflowError, Warning):
        raise DomainError(f"{name} must be an array of numbers, got {type(value).__name__}") from None
    if ndim is not None and out.ndim != ndim:
        raise DomainError(f"{name} must have {ndim} dimension(s), got shape {out.shape}")
    # the least and the largest say it all, unless one of them is no number
    least, most = (float(out.min()), float(out.max())) if out.size else (low, low)
    fine = low <= least and most <= high and -math.inf < least and most < math.inf
    bad = None if fine or not out.size else ~(np.isfinite(out) & (out >= low) & (out <= high)) & ~(nan & np.isnan(out))
    if bad is not None and bad.any():
        allowed = _range(low, high, unit)
        first: Any = out[bad].flat[0]
        where = tuple(int(i) for i in np.argwhere(bad)[0])
        place = f" at index {where[0] if len(where) == 1 else where}" if where else ""
        raise DomainError(f"{name} must be finite and lie in {allowed}, got {first:g}{place}")
    _refuse_radians(name, out, unit)
    return out


def frozen(values: Any) -> Any:
    """Return the array itself, made read-only."""
    values.setflags(write=False)
    return values


def trapezoid(values: FloatArray, at: FloatArray) -> float:
    """Integral over points (n,) by the rule of trapezia; numpy's own bears another name before its version 2."""
    return float(((values[1:] + values[:-1]) * np.diff(at)).sum() / 2)


def asked_in_arrays(name: str, function: Callable[..., Any], *args: FloatArray) -> Any:
    """What a caller's function returns of arrays; one that was written for a single number is told so."""
    try:
        return function(*args)
    except (TypeError, ValueError) as error:
        if not re.search(r"truth value of an array|converted to Python scalar", str(error)):
            raise
        raise DomainError(
            f"{name} must take arrays and return one number for each of their places, with np.where and np.sin rather "
            f"than if and math.sin, got: {error}"
        ) from error
