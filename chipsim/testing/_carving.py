"""Properties of carvings: many cuts on one board."""

from __future__ import annotations

import tempfile
from dataclasses import replace
from pathlib import Path as FilePath

import numpy as np

from ..chips.volume import groove_volume
from ..damage.mapping import risk_map
from ..damage.maps import CLASSES, RISKS, RiskMap
from ..rs274.reader import read_rs274
from ..rs274.writer import write_rs274
from ..scene.cuts import Carving
from ._core import Draw, close, holds, property_of, some
from ._cut import same_bits
from ._scene import GRAZING, coarse_map, coarse_pitch, moved, off_kinks, same_map, turn_matrix


def _odd(carving: Carving) -> Carving:
    return Carving(tuple(off_kinks(c) for c in carving), carving.air_moves, carving.name)


@property_of("carving", examples=6)
def rigid_motion_leaves_the_carvings_map(carving: Carving, draw: Draw) -> None:
    """Turn and shift all paths with the board: every scalar of the map stays, lips move along. 1e-8, 1e-6 mm."""
    board = draw(some().boards(), "board")
    turn, dx, dy = draw(some().turns, "turn"), draw(some().reals(-50, 50), "dx"), draw(some().reals(-50, 50), "dy")
    here = _odd(carving)
    a = coarse_map(here, board)
    b = coarse_map(here.rotated(turn).shifted(dx, dy), replace(board, grain=moved(board.grain, turn, dx, dy)))
    same_map(a, b)
    close("lip_xy", b.lip_xy, a.lip_xy @ turn_matrix(turn) + [dx, dy], GRAZING, "mm")


@property_of("carving", examples=5)
def cuts_far_apart_add_up(carving: Carving, draw: Draw) -> None:
    """Its cuts moved far apart: length, lips and volume are the sums over each alone; the map of each is its own.

    1e-9.
    """
    board = draw(some().boards(straight=True), "board")
    apart = [replace(c, path=c.path.shifted(500.0 * k, 0.0)) for k, c in enumerate(_odd(carving))]
    whole = coarse_map(Carving(tuple(apart)), board)
    each = [risk_map(c, board, pitch=coarse_pitch(Carving(tuple(apart)))) for c in apart]
    close("length", Carving(tuple(apart)).length, sum(c.path.length for c in apart), 1e-9, "mm")
    total = sum(float(m.lip_length.sum()) for m in each)
    close("length of lip", float(whole.lip_length.sum()), total, 1e-9 * (1 + total), "mm")
    for name in RISKS:
        close(name, whole.values(name), np.concatenate([m.values(name) for m in each]), 1e-9)
    volumes = [groove_volume(c, pitch=0.2, slices=4) for c in apart]
    found = groove_volume(Carving(tuple(apart)), pitch=0.2, slices=4)
    # slices are laid over the deepest cut's depth, so that a shallower one's are others than alone
    level = np.ptp([float(c.path.depth.max()) for c in apart]) == 0
    if level:
        close("groove_volume", found, sum(volumes), 1e-6 * (1 + abs(found)), "mm3")


@property_of("carving", examples=4)
def grooves_that_cross_count_once(carving: Carving) -> None:
    """Volume is no more than the sum over the cuts and no less than that of the largest.

    A cut repeated adds nothing. 2 %.

    Each is summed over slices of its own depth, which is where the 2 % come from.
    """
    plain = Carving(tuple(replace(c, machine=None, passes=None) for c in carving))
    pitch = max(0.1, plain.length / 150)
    each = [groove_volume(c, pitch=pitch, slices=8) for c in plain]
    found = groove_volume(plain, pitch=pitch, slices=8)
    holds(found <= 1.02 * sum(each) + 1e-6, "groove_volume", found, f"{sum(each):.9g} mm3 or less", "2 %")
    holds(found >= 0.98 * max(each) - 1e-6, "groove_volume", found, f"{max(each):.9g} mm3 or more", "2 %")
    again = groove_volume(Carving((*plain.cuts, plain.cuts[0])), pitch=pitch, slices=8)
    close("groove_volume with a cut repeated", again, found, 0.02 * abs(found) + 1e-6, "mm3")


@property_of("carving", examples=5)
def every_lip_of_the_carving_is_in_one_class(carving: Carving, draw: Draw) -> None:
    """Lengths of lip by class sum to all lip there is, for every risk; no lip of a repeated cut counts twice. 1e-9."""
    board = draw(some().boards(), "board")
    found = coarse_map(carving, board)
    total = float(found.lip_length.sum())
    for risk in (*RISKS, "damage"):
        lengths = found.lengths_by_class(risk)
        holds(list(lengths) == [*CLASSES, "not known"], "classes", list(lengths), [*CLASSES, "not known"])
        close(f"lengths by class of {risk}", sum(lengths.values()), total, 1e-9 * (1 + total), "mm")
    groups = set(found.groove.tolist())
    holds(groups <= set(range(len(carving))), "numbers of the grooves", sorted(groups), f"0 to {len(carving) - 1}")


@property_of("carving", examples=6)
def a_program_reads_back_as_the_carving(carving: Carving) -> None:
    """`write_rs274` then `read_rs274`: the same cuts in the same order, points to 1e-6 mm with nine decimals.

    Precondition: no earlier passes (they are written as cuts), every path in wood from end to end, one bit.
    """
    plain = Carving(tuple(replace(c, passes=None, machine=None) for c in carving))
    if any((c.path.depth <= 0).any() or c.bit != plain.cuts[0].bit for c in plain):
        return
    found = read_rs274(write_rs274(plain, decimals=9), plain.cuts[0].bit)
    close("length", found.length, plain.length, 1e-6 * (1 + plain.length), "mm")
    level = all(np.ptp(c.path.depth) == 0 for c in plain)
    if level:
        holds(len(found) == len(plain), "number of cuts", len(found), len(plain))
        for k, (a, b) in enumerate(zip(plain, found, strict=True), 1):
            share = np.linspace(0, 1, 9)
            close(
                f"points of cut {k}",
                b.path.position(share * b.path.length),
                a.path.position(share * a.path.length),
                1e-6,
                "mm",
            )
            close(f"feed of cut {k}", b.largest_feed, a.largest_feed, 1e-6 * a.largest_feed, "mm/min")
            holds(b.spin == a.spin, f"spin of cut {k}", b.spin, a.spin)
            close(f"speed of cut {k}", b.spindle_speed, a.spindle_speed, 1e-6 * a.spindle_speed, "rpm")


@property_of("carving", examples=3)
def a_saved_map_of_the_carving_loads_as_it_was(carving: Carving, draw: Draw) -> None:
    """`RiskMap.save` and `load` of the carving's map give every bit and the report back."""
    found = coarse_map(carving, draw(some().boards(), "board"))
    with tempfile.TemporaryDirectory() as folder:
        file = FilePath(folder) / "map.npz"
        found.save(file)
        same_bits(found, RiskMap.load(file))
