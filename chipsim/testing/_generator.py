"""Properties of generators: the functions that make paths (or any other subject) from numbers."""

from __future__ import annotations

from typing import Any

import numpy as np

from ..scene.cutters import profile_knots
from ..scene.paths import Path
from ._core import Draw, Generator, close, holds, property_of, some


def _looks(made: Any) -> bytes:
    """What tells two products apart, as bytes."""
    if isinstance(made, Path):
        return made.xy.tobytes() + made.depth.tobytes() + made.sweep.tobytes() + bytes([made.closed])
    if callable(getattr(made, "radius", None)):
        return b"".join(np.asarray(a).tobytes() for a in profile_knots(made, 5.0))
    text = repr(made)
    return b"" if " at 0x" in text else text.encode()


@property_of("generator", examples=15)
def the_same_arguments_make_the_same(generator: Generator, arguments: dict[str, Any], draw: Draw) -> None:
    """Called twice with the same arguments it makes the same to the last bit, and leaves arrays given to it alone."""
    before = {name: np.array(value).tobytes() for name, value in arguments.items()}
    one, two = generator.function(**arguments), generator.function(**arguments)
    after = {name: np.array(value).tobytes() for name, value in arguments.items()}
    holds(before == after, "arguments after the call", "changed", "left alone")
    holds(_looks(one) == _looks(two), "what is made the second time", repr(two), repr(one))


@property_of("generator", examples=15)
def the_path_moves_with_its_point(generator: Generator, arguments: dict[str, Any], draw: Draw) -> None:
    """The point named `moves` (by default 'centre') carries the whole path with it, rigidly. 1e-8 mm.

    Says nothing where no such argument is named.
    """
    if generator.moves is None:
        return
    dx, dy = draw(some().reals(-50, 50), "dx"), draw(some().reals(-50, 50), "dy")
    here = np.asarray(arguments[generator.moves], dtype=float)
    made = generator.function(**arguments)
    other = generator.function(**(arguments | {generator.moves: (float(here[0]) + dx, float(here[1]) + dy)}))
    _same_path(other, made.shifted(dx, dy))


@property_of("generator", examples=15)
def the_path_turns_with_its_angle(generator: Generator, arguments: dict[str, Any], draw: Draw) -> None:
    """The angle named `turns` turns the whole path about the origin, or about its `moves` point, rigidly. 1e-8 mm.

    Says nothing where no such argument is named.
    """
    if generator.turns is None:
        return
    turn = draw(some().turns, "turn")
    made = generator.function(**arguments)
    other = generator.function(**(arguments | {generator.turns: arguments[generator.turns] + turn}))
    x, y = (0.0, 0.0) if generator.moves is None else (float(v) for v in arguments[generator.moves])
    _same_path(other, made.shifted(-x, -y).rotated(turn).shifted(x, y))


@property_of("generator", examples=15)
def the_path_grows_with_its_lengths(generator: Generator, arguments: dict[str, Any], draw: Draw) -> None:
    """All arguments named in `lengths` times a factor make the same path that much bigger. 1e-8 of it.

    Says nothing where none is named.
    """
    if not generator.lengths:
        return
    factor = draw(some().reals(0.5, 3), "factor")
    bigger = {name: np.asarray(arguments[name], dtype=float) * factor for name in generator.lengths}
    bigger = {name: float(v) if v.ndim == 0 else tuple(v.tolist()) for name, v in bigger.items()}
    made, other = generator.function(**arguments), generator.function(**(arguments | bigger))
    _same_path(other, made.scaled(factor))


def _same_path(got: Path, expected: Path) -> None:
    size = 1e-8 * (100 + float(np.abs(expected.xy).max()) + expected.length)
    holds(len(got.xy) == len(expected.xy), "number of vertices", len(got.xy), len(expected.xy))
    holds(got.closed == expected.closed, "closed", got.closed, expected.closed)
    close("vertices", got.xy, expected.xy, size, "mm")
    close("depths", got.depth, expected.depth, size, "mm")
    close("sweeps", got.sweep, expected.sweep, 1e-5, "deg")
