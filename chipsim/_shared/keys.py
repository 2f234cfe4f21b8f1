"""Stable keys of inputs: the same for the same input in every process and run, another for any other."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterator, Mapping
from dataclasses import fields, is_dataclass
from functools import cache
from importlib.resources import files
from importlib.resources.abc import Traversable
from typing import Any

import numpy as np

from ..errors import DomainError

__all__ = ["key_of"]


def key_of(*things: Any) -> str:
    """Hexadecimal digest of things and of this library's own source.

    Numbers, text, None, arrays, sequences, mappings, dataclasses and objects with attributes of these kinds. The
    code of a foreign object is not looked at, only its type's name and its attributes.

    Raises
    ------
    DomainError
        If a thing holds something that has no content to go by, such as a function.
    """
    text = json.dumps([_source(), *map(_plain, things)], separators=(",", ":"), allow_nan=True)
    return hashlib.sha256(text.encode()).hexdigest()[:32]


@cache
def _source() -> str:
    """Digest of every file of the package that can change a result: kept results outlive an upgrade otherwise."""
    digest = hashlib.sha256()
    for name, item in _files_below(files("chipsim")):
        digest.update(name.encode() + item.read_bytes())
    return digest.hexdigest()


def _files_below(folder: Traversable, prefix: str = "") -> Iterator[tuple[str, Traversable]]:
    """Source and data of a package, in whichever of its folders, by their names within it, in order."""
    for item in sorted(folder.iterdir(), key=lambda entry: entry.name):
        if item.is_dir():
            yield from _files_below(item, f"{prefix}{item.name}/")
        elif item.name.endswith((".py", ".csv")):
            yield prefix + item.name, item


def _plain(thing: Any) -> Any:
    """What JSON can write, one to one."""
    if thing is None or isinstance(thing, (bool, str)):
        return thing
    if isinstance(thing, (int, float, np.number, np.bool_)):
        return float(thing).hex()
    if isinstance(thing, np.ndarray):
        content = np.ascontiguousarray(thing)
        return ["array", content.dtype.str, list(content.shape), hashlib.sha256(content.tobytes()).hexdigest()]
    if isinstance(thing, Mapping):
        return ["map", sorted(([_plain(k), _plain(v)] for k, v in thing.items()), key=json.dumps)]
    if isinstance(thing, (list, tuple)):
        return [_plain(item) for item in thing]
    kind = f"{type(thing).__module__}.{type(thing).__qualname__}"
    if is_dataclass(thing) and not isinstance(thing, type):
        return [kind, *([f.name, _plain(getattr(thing, f.name))] for f in fields(thing))]
    if callable(thing) or not hasattr(thing, "__dict__"):
        raise DomainError(f"results: {kind} {thing!r} has no content from which a key could be made")
    return [kind, _plain(vars(thing))]
