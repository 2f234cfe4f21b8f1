"""Values as Python source that can be pasted and run: a counterexample is worth most when it can be copied."""

from __future__ import annotations

from dataclasses import fields, is_dataclass
from typing import Any

import numpy as np

from ..damage.models import RiskModel
from ..scene.cuts import Carving, Cut, Pass
from ..scene.cutters import ProfileBit, VBit
from ..scene.grain import Board, Grain
from ..scene.machine import Machine
from ..scene.paths import Path
from ..scene.species import Wood

__all__ = ["as_code"]


def as_code(value: Any, known: dict[int, str] | None = None) -> str:
    """Source of a value; `known` maps ids of objects to the names they have there already."""
    names = known or {}
    if id(value) in names:
        return names[id(value)]
    if isinstance(value, np.ndarray):
        return f"np.array({value.tolist()!r})"
    if isinstance(value, np.generic):
        return repr(value.item())
    if isinstance(value, Path):
        return _path(value)
    if isinstance(value, ProfileBit):
        first = f"{value.heights.tolist()!r}, {value.radii.tolist()!r}"
        return f"{_name(value, ProfileBit)}({first}{_rest(value, ('heights', 'radii'), names)})"
    if isinstance(value, (VBit, Machine, RiskModel, Pass)):
        return f"{_name(value, VBit, Machine, RiskModel, Pass)}({_rest(value, (), names).removeprefix(', ')})"
    if isinstance(value, Cut):
        first = f"{as_code(value.bit, names)}, {as_code(value.path, names)}, {value.spindle_speed!r}, {value.feed!r}"
        return f"{_name(value, Cut)}({first}{_rest(value, ('bit', 'path', 'spindle_speed', 'feed'), names)})"
    if isinstance(value, Carving):
        return f"cs.Carving(({', '.join(as_code(c, names) for c in value.cuts)},))"
    if isinstance(value, Grain):
        return _grain(value)
    if isinstance(value, Board):
        first = f"{as_code(value.wood, names)}, {as_code(value.grain, names)}"
        return f"cs.Board({first}{_rest(value, ('wood', 'grain'), names)})"
    if isinstance(value, Wood):
        return f"cs.wood({value.name!r}, moisture={value.moisture!r})"
    if isinstance(value, (tuple, list)):
        inside = ", ".join(as_code(v, names) for v in value)
        if isinstance(value, list):
            return f"[{inside}]"
        return f"({inside},)" if len(value) == 1 else f"({inside})"
    if callable(value) and hasattr(value, "__name__"):
        return str(value.__name__)
    return repr(value)


def _name(value: Any, *own: type) -> str:
    """How a class is called: the library's own through `cs`, a user's by its bare name."""
    return f"cs.{type(value).__name__}" if type(value) in own else type(value).__name__


def _path(path: Path) -> str:
    depth = repr(float(path.depth[0])) if np.ptp(path.depth) == 0 else repr(path.depth.tolist())
    sweep = f", sweep={path.sweep.tolist()!r}" if path.sweep.any() else ""
    stands = f", dwell={path.dwell.tolist()!r}" if path.dwell.any() else ""
    loop = ", closed=True" if path.closed else ""
    return f"{_name(path, Path)}({path.xy.tolist()!r}, {depth}{sweep}{loop}{stands})"


def _grain(grain: Grain) -> str:
    if grain.label.startswith("straight"):
        azimuth, dive = grain.at(np.zeros(2))
        return f"cs.straight_grain({float(azimuth)!r}, {float(dive)!r})"
    # a field of the kit's own has a readable repr; a user's function is named
    return f"cs.grain_field({as_code(grain.function) if not is_dataclass(grain.function) else repr(grain.function)})"


def _rest(value: Any, skip: tuple[str, ...], names: dict[int, str]) -> str:
    """Fields that differ from their defaults, as keywords, with a comma before each."""
    out = ""
    for f in fields(value):
        here = getattr(value, f.name)
        if f.init and f.name not in skip and not _is_default(here, f.default):
            out += f", {f.name}={as_code(here, names)}"
    return out


def _is_default(value: Any, default: Any) -> bool:
    return (default is None and value == ()) or (type(value) is type(default) and value == default)
