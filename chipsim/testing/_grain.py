"""Properties of grain fields: axes over the face, whatever numbers are used for them."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from .._shared.arrays import FloatArray
from ..scene.grain import Board, Grain, fibre_axis, grain_field
from ._core import Draw, close, holds, property_of, some
from ._scene import coarse_map, moved, off_kinks, same_map, turn_matrix


def _points(draw: Draw) -> FloatArray:
    one = some().st.tuples(some().reals(-40, 40), some().reals(-40, 40))
    return np.array(draw(some().st.lists(one, min_size=2, max_size=6), "points"), dtype=float)


def _tensor(grain: Grain, xy: FloatArray) -> FloatArray:
    """G g^T at points, (..., 9): what an axis is, free of the choice of its head."""
    g = fibre_axis(*grain.at(xy))
    return np.asarray((g[..., :, None] * g[..., None, :]).reshape(*g.shape[:-1], 9))


@property_of("grain field")
def fibres_of_a_batch_are_those_of_each(grain: Grain, draw: Draw) -> None:
    """Azimuth and dive have the points' shape and are what each point alone has; asked twice, the same bits.

    1e-9 deg.
    """
    p = _points(draw)
    azimuth, dive = grain.at(p)
    holds(azimuth.shape == dive.shape == (len(p),), "shapes", (azimuth.shape, dive.shape), (len(p),))
    each = [grain.at(q) for q in p]
    close("azimuth, point by point", [float(a) for a, _ in each], azimuth, 1e-9, "deg")
    close("dive, point by point", [float(d) for _, d in each], dive, 1e-9, "deg")
    close("azimuth of a (k, 1) batch", grain.at(p[:, None, :])[0], azimuth[:, None], 1e-9, "deg")
    again = grain.at(p)
    same = again[0].tobytes() == azimuth.tobytes() and again[1].tobytes() == dive.tobytes()
    holds(same, "fibres, asked twice", "another", "the same bits")


@property_of("grain field")
def fibres_are_finite_axes(grain: Grain, draw: Draw) -> None:
    """Azimuth finite, dive in [-90, 90], the axis of length 1. 1e-12."""
    p = _points(draw)
    azimuth, dive = grain.at(p)
    holds(np.isfinite(azimuth), "azimuth", azimuth.tolist(), "finite")
    holds(np.abs(dive) <= 90, "dive", dive.tolist(), "in [-90, 90] deg")
    close("length of the axis", np.linalg.norm(fibre_axis(azimuth, dive), axis=-1), np.ones(len(p)), 1e-12)


@property_of("grain field", examples=40)
def fibres_turn_without_jumps_as_axes(grain: Grain, draw: Draw) -> None:
    """Between two points of one board the axis (not the number) changes continuously: g and -g are the same.

    Halving a stretch towards the larger change, fifty times, the change goes to nothing: 1e-3 in g g^T. A field that
    folds its azimuth by 180 deg and forgets to turn the dive over breaks it, and so does one that adds fibres as if
    they had heads. A panel glued from staves jumps in truth: expect this failure there, by name.
    """
    p = _points(draw)
    a, b = p[0], p[1]
    if np.allclose(a, b):
        return
    line = a + np.linspace(0, 1, 65)[:, None] * (b - a)
    t = _tensor(grain, line)
    k = int(np.argmax(np.linalg.norm(np.diff(t, axis=0), axis=1)))
    low, high = line[k], line[k + 1]
    for _ in range(50):
        middle = (low + high) / 2
        t = _tensor(grain, np.array([low, middle, high]))
        low, high = (low, middle) if np.linalg.norm(t[1] - t[0]) >= np.linalg.norm(t[2] - t[1]) else (middle, high)
    one, two = grain.at(low), grain.at(high)
    change = float(np.linalg.norm(np.diff(_tensor(grain, np.array([low, high])), axis=0)))
    holds(
        change <= 1e-3,
        f"fibre at ({high[0]:.9g}, {high[1]:.9g}) mm",
        f"azimuth {float(two[0]):.6g}, dive {float(two[1]):.6g} deg",
        f"near that beside it, azimuth {float(one[0]):.6g}, dive {float(one[1]):.6g} deg, as an axis",
        f"{change:.3g} in g g^T against 1e-3",
    )


@property_of("grain field")
def a_turned_board_has_the_same_fibres(grain: Grain, draw: Draw) -> None:
    """`turned` carries the fibres with the board: at the turned point, the turned axis. 1e-9."""
    turn, p = draw(some().turns, "turn"), _points(draw)
    azimuth, dive = grain.at(p)
    got = fibre_axis(*grain.turned(turn).at(p @ turn_matrix(turn)))
    want = fibre_axis(azimuth + turn, dive)
    tensor = [np.asarray(g[..., :, None] * g[..., None, :]) for g in (got, want)]
    close("axis at the turned points", tensor[0], tensor[1], 1e-6)


@property_of("grain field", examples=6)
def a_fibre_of_the_field_has_no_head(grain: Grain, draw: Draw) -> None:
    """The field with azimuth + 180 and the opposite dive everywhere gives the same map. 1e-8."""
    cut = off_kinks(draw(some().cuts(path=some().paths(pieces=2, lengths=(1.0, 4.0))), "cut"))

    def flipped(x: FloatArray, y: FloatArray) -> tuple[FloatArray, FloatArray]:
        azimuth, dive = grain.at(np.stack([x, y], axis=-1))
        return azimuth + 180.0, -dive

    wood = some().CHERRY
    same_map(coarse_map(cut, Board(wood, grain)), coarse_map(cut, Board(wood, grain_field(flipped))))


@property_of("grain field", examples=6)
def board_and_path_move_together(grain: Grain, draw: Draw) -> None:
    """Turn and shift the path with the board: the same map. Precondition: the field is continuous. 1e-6."""
    cut = off_kinks(draw(some().cuts(path=some().paths(pieces=2, lengths=(1.0, 4.0))), "cut"))
    turn, dx, dy = draw(some().turns, "turn"), draw(some().reals(-50, 50), "dx"), draw(some().reals(-50, 50), "dy")
    there = replace(cut, path=cut.path.rotated(turn).shifted(dx, dy), phase=cut.phase + turn)
    a = coarse_map(cut, Board(some().CHERRY, grain))
    same_map(a, coarse_map(there, Board(some().CHERRY, moved(grain, turn, dx, dy))), tolerance=1e-6)
