"""A set-up as plain values that a text file can hold, and back again: bits, machines, woods, boards, paths, cuts.

A value is written as {name of its class: {field: value}}, arrays and tuples as lists; numbers keep every bit. Only
classes of this room are ever made from a file.
"""

from __future__ import annotations

import math
from dataclasses import MISSING, fields, is_dataclass
from typing import Any

import numpy as np

from ..errors import DomainError
from . import cuts, cutters, grain, machine, paths, species
from .grain import Grain, straight_grain

__all__ = ["made_from", "plain_values"]

_DEEPEST = 20  # values within values; nothing here goes deeper than five


def _classes() -> dict[str, type]:
    """Classes that may stand in a file, by name."""
    found: dict[str, type] = {}
    for module in (cutters, paths, species, grain, machine, cuts):
        for name, thing in vars(module).items():
            own = isinstance(thing, type) and thing.__module__ == module.__name__
            if own and (is_dataclass(thing) or hasattr(thing, "_fields")):
                found[name] = thing
    return found


def plain_values(thing: Any) -> Any:
    """Numbers, words, lists and dicts that say what a value of this room is.

    Raises
    ------
    DomainError
        If it holds what no file can: a function, such as that of a `grain_field`, or a class of somebody's own.

    Examples
    --------
    >>> import chipsim as cs
    >>> from chipsim.scene.plain import made_from, plain_values
    >>> bit = cs.VBit(60, 12.7, 2)
    >>> made_from(plain_values(bit)) == bit
    True
    """
    if thing is None or isinstance(thing, (bool, int, str)):
        return thing
    if isinstance(thing, float):
        if not math.isfinite(thing):
            raise DomainError(f"thing must hold finite numbers, got {thing!r}")
        return thing
    if isinstance(thing, np.generic):
        return plain_values(thing.item())
    if isinstance(thing, np.ndarray):
        return plain_values(thing.tolist())
    name = type(thing).__name__
    known = _classes().get(name) is type(thing)
    if isinstance(thing, Grain) and thing.is_straight:
        azimuth, dive = thing.at((0.0, 0.0))
        return {"straight_grain": {"azimuth": float(azimuth), "dive": float(dive)}}
    if known and is_dataclass(thing):
        held = {f.name: getattr(thing, f.name) for f in fields(thing) if f.init}
        return {name: {k: plain_values(v) for k, v in held.items() if not _unknown(v)}}
    if known:  # a named tuple
        return {name: {k: plain_values(v) for k, v in thing._asdict().items() if not _unknown(v)}}
    if isinstance(thing, (tuple, list)):
        return [plain_values(v) for v in thing]
    if callable(thing):
        raise DomainError(
            "grain must be that of straight_grain where it is to be saved: a file cannot hold a function. Keep the "
            "script that makes the board, and save the piece with the straight grain that is nearest"
        )
    raise DomainError(
        f"thing must be made of this library's own bits, machines, woods, boards and paths to be saved, got {name}; a "
        f"bit of your own can be saved as a ProfileBit"
    )


def _unknown(value: Any) -> bool:
    return isinstance(value, float) and math.isnan(value)


def made_from(content: Any, depth: int = 0) -> Any:
    """The value that `plain_values` was given; ValueError, TypeError or DomainError if there is none."""
    if depth > _DEEPEST:
        raise ValueError("values must not lie so deep within one another")
    if isinstance(content, list):
        return tuple(made_from(v, depth + 1) for v in content)
    if not isinstance(content, dict):
        return content
    if len(content) != 1:
        raise ValueError(f"a value must have the name of one class, got {sorted(map(str, content))!r:.80}")
    ((name, held),) = content.items()
    if not isinstance(held, dict):
        raise ValueError(f"{name} must have its fields by name, got {held!r:.60}")
    values = {k: made_from(v, depth + 1) for k, v in held.items()}
    if name == "straight_grain":
        return straight_grain(**values)
    cls = _classes().get(name)
    if cls is None:
        raise ValueError(f"{name!r:.40} is no class of a set-up")
    if hasattr(cls, "_fields"):  # what is not known is left out
        return cls(**{f: values.get(f, math.nan) for f in cls._fields} if not _defaults(cls) else values)
    need = {f.name for f in fields(cls) if f.init and f.default is MISSING and f.default_factory is MISSING}
    if missing := need - set(values):
        raise ValueError(f"{name} must say {', '.join(sorted(missing))}")
    return cls(**values)


def _defaults(cls: Any) -> bool:
    return bool(getattr(cls, "_field_defaults", {}))
