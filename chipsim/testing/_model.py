"""Properties of risk models: anything with ``bundle`` and ``lip_risks(strikes, fibres, cut, wood)``."""

from __future__ import annotations

import tempfile
from dataclasses import replace
from pathlib import Path as FilePath
from typing import Any

import numpy as np

from .._shared.arrays import FloatArray
from ..chips.strikes import LipStrikes, lip_strikes
from ..damage.mapping import risk_map
from ..damage.maps import RISKS, RiskMap
from ..damage.models import layer_of
from ..scene.cuts import Cut
from ..scene.grain import Board, straight_grain
from ._core import Draw, close, holds, property_of, some
from ._cut import same_bits
from ._scene import OTHER, coarse_map, coarse_pitch, mirrored, moved, off_kinks, same_map


def _job(model: Any, draw: Draw) -> tuple[Cut, Board, LipStrikes, FloatArray]:
    """Some cut on some board, its strikes on the layer the model looks at, and the fibres at its lips."""
    cut = off_kinks(draw(some().cuts(path=some().paths(pieces=2, lengths=(1.0, 4.0))), "cut"))
    board = draw(some().boards(), "board")
    strikes = lip_strikes(cut, pitch=coarse_pitch(cut), bundle=layer_of(model, [cut]))
    fibres = np.full((*strikes.exists.shape, 3), np.nan)
    if strikes.exists.any():
        fibres[strikes.exists] = board.fibres(strikes.lip_xy[strikes.exists])
    return cut, board, strikes, fibres


def _fuzz(model: Any, strikes: LipStrikes, fibres: FloatArray, cut: Cut, board: Board) -> FloatArray:
    return np.asarray(model.lip_risks(strikes, fibres, cut, board.wood)["fuzz"], dtype=float)


@property_of("risk model", examples=12)
def risks_lie_between_nothing_and_one(model: Any, draw: Draw) -> None:
    """Every risk is in [0, 1] on a lip that exists, or NaN on all of them, which says 'not known'; 'fuzz' is there.

    One number a lip, shape (n, 2). Never NaN here and there, never infinite. No tolerance.
    """
    cut, board, strikes, fibres = _job(model, draw)
    found = model.lip_risks(strikes, fibres, cut, board.wood)
    holds("fuzz" in found, "risks", sorted(found), "'fuzz' among them")
    at = strikes.exists
    for name in RISKS:
        if name not in found:
            continue
        value = np.asarray(found[name], dtype=float)
        holds(value.shape == at.shape, f"shape of {name}", value.shape, at.shape)
        value = value[at]
        if np.isnan(value).all() and name != "fuzz":
            continue
        bad = ~((value >= 0) & (value <= 1))
        if bad.any():
            holds(False, f"{name} on a lip", value[bad][0], "in [0, 1]")


@property_of("risk model", examples=8)
def lips_are_judged_each_for_itself(model: Any, draw: Draw) -> None:
    """Some of the rows have the risks that they have among all: a lip's risk does not hang on its neighbours. 1e-12."""
    cut, board, strikes, fibres = _job(model, draw)
    whole = model.lip_risks(strikes, fibres, cut, board.wood)
    rows = np.arange(len(strikes))[:: draw(some().st.integers(1, 3), "every")]
    part = model.lip_risks(strikes.part(rows), fibres[rows], cut, board.wood)
    at = strikes.exists[rows]
    for name in RISKS:
        if name in whole:
            close(f"{name} of some rows", np.asarray(part[name])[at], np.asarray(whole[name])[rows][at], 1e-12)


@property_of("risk model", examples=6)
def the_model_is_pure(model: Any, draw: Draw) -> None:
    """Asked twice it answers the same bits, leaves strikes and fibres as they were, and touches no random state."""
    cut, board, strikes, fibres = _job(model, draw)
    state = np.random.get_state()[1].copy()  # type: ignore[index]  # noqa: NPY002
    given = [a.copy() for a in (fibres, strikes.chips, strikes.counts, strikes.depths, strikes.cutting_speeds)]
    # a model that writes into what it is given must be caught and not refused
    loose = strikes.part(np.arange(len(strikes)))
    first = {k: np.array(v) for k, v in model.lip_risks(loose, fibres, cut, board.wood).items()}
    second = {k: np.array(v) for k, v in model.lip_risks(loose, fibres, cut, board.wood).items()}
    after = (fibres, loose.chips, loose.counts, loose.depths, loose.cutting_speeds)
    for name, old, new in zip(("fibres", "chips", "counts", "depths", "cutting_speeds"), given, after, strict=True):
        holds(old.tobytes() == new.tobytes(), f"{name} after the call", "changed", "left alone")
    for name, value in first.items():
        holds(value.tobytes() == second[name].tobytes(), f"{name}, asked twice", "another", "the same bits")
    same = (np.random.get_state()[1] == state).all()  # type: ignore[index]  # noqa: NPY002
    holds(same, "numpy's global random state", "changed", "left alone")


@property_of("risk model", examples=8)
def direction_enters_through_the_grain_only(model: Any, draw: Draw) -> None:
    """Turn path and board together and the risks stay: nothing hangs on the compass. 1e-8."""
    cut, board, _, _ = _job(model, draw)
    turn, dx, dy = draw(some().turns, "turn"), draw(some().reals(-50, 50), "dx"), draw(some().reals(-50, 50), "dy")
    there = replace(cut, path=cut.path.rotated(turn).shifted(dx, dy), phase=cut.phase + turn)
    a = coarse_map(cut, board, model)
    b = coarse_map(there, replace(board, grain=moved(board.grain, turn, dx, dy)), model)
    same_map(a, b)


@property_of("risk model", examples=8)
def the_model_knows_no_head_of_a_fibre(model: Any, draw: Draw) -> None:
    """Fibre axes g and -g have the same risks. 1e-10."""
    cut, board, strikes, fibres = _job(model, draw)
    one, two = (model.lip_risks(strikes, g, cut, board.wood) for g in (fibres, -fibres))
    for name in RISKS:
        if name in one:
            close(f"{name} with the fibres turned round", two[name], one[name], 1e-10)


@property_of("risk model", examples=6)
def mirrored_jobs_have_mirrored_risks(model: Any, draw: Draw) -> None:
    """Reflect path and board and reverse the spindle: left and right swap their risks. 1e-8."""
    cut, board, _, _ = _job(model, draw)
    image = replace(cut, path=cut.path.mirrored(), spin=OTHER[cut.spin], phase=-cut.phase)
    a, b = coarse_map(cut, board, model), coarse_map(image, replace(board, grain=mirrored(board.grain)), model)
    same_map(a, b, swap=True)


@property_of("risk model", examples=3)
def the_rose_has_a_period_of_half_a_turn(model: Any, draw: Draw) -> None:
    """Flat grain: headings A and A + 180 have the same risks on the same lips. 1e-9. Straight level groove."""
    cut = draw(some().cuts(path=some().lines()), "cut")
    azimuth, at = draw(some().azimuths, "azimuth"), np.arange(0.0, 180.0, 30.0)
    board = Board(some().CHERRY, straight_grain(azimuth))
    rose = _rose(model, cut, board, np.append(at, at + 180))
    for name, value in rose.items():
        close(name, value[len(at) :], value[: len(at)], 1e-9)


@property_of("risk model", examples=3)
def end_grain_has_no_direction(model: Any, draw: Draw) -> None:
    """Fibres straight down (dive 90) look the same from every side: the rose is round. 1e-9. Straight level groove."""
    cut = draw(some().cuts(path=some().lines()), "cut")
    board = Board(some().CHERRY, straight_grain(draw(some().azimuths, "azimuth"), 90.0))
    for name, value in _rose(model, cut, board, np.arange(0.0, 360.0, 45.0)).items():
        close(name, value, np.broadcast_to(value[:1], value.shape), 1e-9)


def _rose(model: Any, cut: Cut, board: Board, headings: FloatArray) -> dict[str, FloatArray]:
    """Risks (headings, rows, 2) of the same strikes with lips and path turned: the board stays where it is."""
    strikes = lip_strikes(cut, pitch=coarse_pitch(cut), bundle=layer_of(model, [cut]))
    rows = np.flatnonzero(strikes.exists.all(axis=1))
    found: dict[str, list[FloatArray]] = {}
    for turn in headings:
        some_rows = strikes.part(rows)  # copies: a model that writes into them is another property's business
        lips = replace(some_rows.lips, outward=(some_rows.lips.outward + turn + 180) % 360 - 180)
        there = replace(cut, path=cut.path.rotated(float(turn)), phase=cut.phase + turn)
        fibres = np.broadcast_to(board.fibres(np.zeros(2)), (len(rows), 2, 3)).copy()
        risks = model.lip_risks(replace(some_rows, lips=lips), fibres, there, board.wood)
        for name in RISKS:
            if name in risks:
                found.setdefault(name, []).append(np.array(risks[name], dtype=float))
    return {name: np.array(values) for name, values in found.items()}


@property_of("risk model", examples=8)
def another_strike_never_adds_fuzz(model: Any, draw: Draw) -> None:
    """The last strike given once more: the fuzz does not rise, for what was severed stays severed. 1e-12."""
    cut, board, strikes, fibres = _job(model, draw)
    last = np.maximum(strikes.counts - 1, 0)[..., None]
    names = ("chips", "depths", "cutting_speeds", "times", "feeds", "strokes")
    wide: dict[str, Any] = {}
    for name in names:
        old = getattr(strikes, name)
        nothing = -1 if old.dtype.kind == "i" else np.nan
        wide[name] = np.pad(old, ((0, 0), (0, 0), (0, 1)), constant_values=nothing)
    struck = strikes.counts > 0
    for value in wide.values():
        again = np.take_along_axis(value, last, -1)
        end = np.take_along_axis(value, np.full_like(last, value.shape[-1] - 1), -1)
        at = np.where(struck, strikes.counts, value.shape[-1] - 1)[..., None]
        np.put_along_axis(value, at, np.where(struck[..., None], again, end), -1)
    more = replace(strikes, counts=strikes.counts + struck, **wide)
    _no_more_fuzz("fuzz with one strike more", model, (strikes, cut), (more, cut), fibres, board)


@property_of("risk model", examples=8)
def faster_strikes_never_add_fuzz(model: Any, draw: Draw) -> None:
    """The same strikes at one and a half times the cutting speed: the fuzz does not rise. 1e-12."""
    cut, board, strikes, fibres = _job(model, draw)
    faster = replace(strikes, cutting_speeds=1.5 * strikes.cutting_speeds)
    _no_more_fuzz("fuzz at a higher cutting speed", model, (strikes, cut), (faster, cut), fibres, board)


@property_of("risk model", examples=8)
def a_sharper_edge_never_adds_fuzz(model: Any, draw: Draw) -> None:
    """The same strikes by an edge half as round: the fuzz does not rise. 1e-12."""
    cut, board, strikes, fibres = _job(model, draw)
    bit: Any = cut.bit
    keen = replace(cut, bit=replace(bit, edge_radius=bit.edge_radius / 2))
    _no_more_fuzz("fuzz with a sharper edge", model, (strikes, cut), (strikes, keen), fibres, board)


@property_of("risk model", examples=8)
def a_rubbed_lip_is_a_fuzzy_lip(model: Any, draw: Draw) -> None:
    """As the strikes go to nothing the fuzz does not: without any it is no less than with them. 1e-12."""
    cut, board, strikes, fibres = _job(model, draw)
    gone: dict[str, Any] = {n: np.full_like(strikes.chips, np.nan) for n in ("chips", "depths", "cutting_speeds")}
    none = replace(strikes, counts=np.zeros_like(strikes.counts), **gone)
    _no_more_fuzz("fuzz with its strikes, against none", model, (none, cut), (strikes, cut), fibres, board)


def _no_more_fuzz(
    what: str, model: Any, one: tuple[LipStrikes, Cut], two: tuple[LipStrikes, Cut], fibres: FloatArray, board: Board
) -> None:
    before, after = (_fuzz(model, s, fibres, c, board) for s, c in (one, two))
    at = one[0].exists & np.isfinite(before) & np.isfinite(after)
    rise = np.where(at, after - before, -np.inf)
    if rise.size:
        k = np.unravel_index(int(np.argmax(rise)), rise.shape)
        holds(rise[k] <= 1e-12, what, after[k], f"{before[k]:.17g} or less", "1e-12")


@property_of("risk model", examples=2)
def a_map_of_the_model_loads_as_it_was(model: Any, draw: Draw) -> None:
    """`risk_map` takes the model, and its map saved and loaded is the same to the last bit."""
    cut, board, _, _ = _job(model, draw)
    found = risk_map(cut, board, model=model, pitch=coarse_pitch(cut))
    with tempfile.TemporaryDirectory() as folder:
        file = FilePath(folder) / "map.npz"
        found.save(file)
        same_bits(found, RiskMap.load(file))
