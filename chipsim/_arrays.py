"""The one place arguments are normalised: floats finite and in range, arrays float64 and C-ordered."""

from __future__ import annotations

import math
from typing import Any, TypeVar

import numpy as np
from numpy.typing import ArrayLike, NDArray

from .errors import DomainError

__all__ = ["FloatArray", "array", "choice", "frozen", "instance", "integer", "number"]

FloatArray = NDArray[np.float64]
T = TypeVar("T")


def _range(low: float, high: float, unit: str, open_low: bool = False, open_high: bool = False) -> str:
    left = "(" if open_low or low == -math.inf else "["
    right = ")" if open_high or high == math.inf else "]"
    return f"{left}{low:g}, {high:g}{right}{' ' + unit if unit else ''}"


def _real(values: Any, kinds: str) -> bool:
    """Whether these are numbers: no words, dates or complex ones, which numpy would turn into floats, nor masked."""
    return values.dtype.kind in f"{kinds}O" and not np.ma.is_masked(values)


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
    return out


def integer(name: str, value: object, *, low: int, high: int) -> int:
    """Return `value` as an int within [low, high], or raise DomainError."""
    out = number(name, value, low=low, high=high)
    if out != int(out):
        raise DomainError(f"{name} must be a whole number in [{low}, {high}], got {out:g}")
    return int(out)


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
    try:
        given = np.asanyarray(value)
        if not _real(given, "biuf"):
            raise TypeError
        out = np.array(given, dtype=np.float64, order="C", copy=True)
    except (TypeError, ValueError, OverflowError, Warning):
        raise DomainError(f"{name} must be an array of numbers, got {type(value).__name__}") from None
    if ndim is not None and out.ndim != ndim:
        raise DomainError(f"{name} must have {ndim} dimension(s), got shape {out.shape}")
    bad = ~(np.isfinite(out) & (out >= low) & (out <= high)) & ~(nan & np.isnan(out))
    if bad.any():
        allowed = _range(low, high, unit)
        first: Any = out[bad].flat[0]
        where = tuple(int(i) for i in np.argwhere(bad)[0])
        place = f" at index {where[0] if len(where) == 1 else where}" if where else ""
        raise DomainError(f"{name} must be finite and lie in {allowed}, got {first:g}{place}")
    return out


def frozen(values: Any) -> Any:
    """Return the array itself, made read-only."""
    values.setflags(write=False)
    return values
