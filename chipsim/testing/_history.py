"""Properties of a lip's history: what earlier pieces, feeds, passes and cuts may change at a lip, and where."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise
from typing import Any

import numpy as np

from ..chips.strikes import LipStrikes, lip_strikes
from ..scene.cuts import Carving, Cut
from ..scene.paths import Path, arc, line
from ._core import Draw, close, holds, property_of, some
from ._scene import off_kinks, on_a_line

_BUNDLE = 0.2
"""Layer of wood that is looked at. [mm]"""

_CELLS = 16
"""Stations along the stroke: joints fall between them, at whole shares of its length."""


def _stroke(cut: Cut) -> Cut:
    """The set-up on a straight level stroke of a few turns beyond the width of its groove."""
    here = off_kinks(on_a_line(cut))
    width = float(here.half_width(here.path.depth[:1])[0])
    size = 6 * here.feed_per_rev + 4 * width + 2.0
    heading = np.radians(float(here.path.heading(0.0)))
    return replace(
        here,
        path=line((0.0, 0.0), (size * np.cos(heading), size * np.sin(heading)), float(here.path.depth[0])),
        plunge_feed=None,
    )


def _run(found: LipStrikes, groove: int | None = None) -> np.ndarray:
    """Rows along the runs of one groove, or of all."""
    rows = found.lips.kind == "run"
    return np.flatnonzero(rows if groove is None else rows & (found.groove == groove))


def _lists(found: LipStrikes, row: int, side: int) -> dict[str, np.ndarray]:
    """What a lip has seen: the record of its strikes, without numbers and clock of the strokes."""
    count = int(found.counts[row, side])
    return {name: getattr(found, name)[row, side, :count] for name in ("chips", "depths", "cutting_speeds")}


def _same_lists(a: LipStrikes, b: LipStrikes, one: np.ndarray, two: np.ndarray, tolerance: float = 1e-9) -> None:
    """Raise `Miss` unless lips `one` of a have the lists of lips `two` of b."""
    for i, j in zip(one, two, strict=True):
        for side, name in enumerate(("left", "right")):
            if not (a.exists[i, side] and b.exists[j, side]):
                continue
            where = f"{name} lip at station {a.station[i]:g}"
            holds(b.counts[j, side] == a.counts[i, side], f"strikes at the {where}", b.counts[j, side], "as before")
            was, now = _lists(a, i, side), _lists(b, j, side)
            for what in was:
                close(f"{what} at the {where}", now[what], was[what], tolerance)


def _parts(cut: Cut, shares: list[float]) -> Carving:
    """The stroke as cuts one behind the other, each with its spindle where the one before has left it."""
    path, time = cut.path, cut.speed_profile.time_at
    at = [0.0, *(share * path.length for share in shares), path.length]
    pieces = []
    for low, high in pairwise(at):
        turned = 360.0 * cut.spindle_speed / 60.0 * float(time(np.array([low]))[0])
        turned *= -1.0 if cut.spin == "cw" else 1.0
        ends = path.position(np.array([low, high]))
        pieces.append(replace(cut, path=line(ends[0], ends[1], float(path.depth[0])), phase=(cut.phase + turned) % 360))
    return Carving(tuple(pieces))


@property_of("cut", examples=4)
def a_stroke_cut_in_parts_strikes_as_the_whole(cut: Cut, draw: Draw) -> None:
    """Cut a path in two or more cuts, the spindle turning on: no lip sees another strike. 1e-9 mm.

    The set-up is put on a straight level stroke. Not within a half-width of its start, nor where a part's end lies on
    the lip's probe to rounding.
    """
    whole = _stroke(cut)
    marks = draw(some().st.lists(some().st.integers(1, _CELLS - 1), min_size=1, max_size=4, unique=True), "joints")
    shares = sorted(k / _CELLS for k in marks)
    pitch = whole.path.length / _CELLS
    a = lip_strikes(whole, pitch=pitch, bundle=_BUNDLE)
    b = lip_strikes(_parts(whole, shares), pitch=pitch, bundle=_BUNDLE)
    one, two = _run(a), _run(b)
    holds(len(two) == len(one), "stations along the run", len(two), len(one))
    beyond = a.station[one] > float(a.lips.half_width[one[0]])
    _same_lists(a, b, one[beyond], two[beyond])


@property_of("cut", examples=4)
def a_feed_that_is_undone_leaves_the_rest_alone(cut: Cut, draw: Draw) -> None:
    """Another feed over a middle piece, for which the spindle makes whole turns more: elsewhere nothing changes.

    Strikes at lips farther from the piece than the groove is wide and a turn's feed. Straight, level, no machine.
    1e-8 mm.
    """
    plain = _stroke(cut)
    size, width = plain.path.length, float(plain.half_width(plain.path.depth[:1])[0])
    feed = plain.typed_feeds[0]
    middle = size / 2
    # feed / other = 1 + turns feed_per_rev / middle: the piece takes so many turns longer
    turns = draw(some().st.integers(1, 3), "turns")
    other = feed / (1.0 + turns * plain.feed_per_rev / middle)
    if other < 100.0:
        return
    at = plain.path.position(np.array([0.0, size / 4, 3 * size / 4, size]))
    path = Path(at, np.full(4, plain.path.depth[0]))
    even = replace(plain, path=path, feed=(feed, feed, feed))
    uneven = replace(even, feed=(feed, other, feed))
    pitch = size / _CELLS
    a, b, c = (lip_strikes(one, pitch=pitch, bundle=_BUNDLE) for one in (plain, even, uneven))
    rows = _run(a)
    _same_lists(a, b, rows, _run(b))
    reach = width + 2 * plain.feed_per_rev
    away = (a.station[rows] < size / 4 - reach) | (a.station[rows] > 3 * size / 4 + reach)
    _same_lists(a, c, rows[away], _run(c)[away], 1e-8)


@property_of("cut", examples=4)
def a_pass_clear_of_a_lip_changes_nothing(cut: Cut, draw: Draw) -> None:
    """An earlier pass clear of all wood that the last pass takes from a lip leaves the lip's strikes alone.

    Lips whose strikes all lie, with their chips, beyond what the rough pass has left by 1e-6 mm. Straight, level.
    1e-9 mm.
    """
    plain = replace(_stroke(cut), passes=None)
    share = draw(some().reals(0.3, 0.9), "share of the depth that is left to the last pass")
    rough = replace(plain, passes=[share * float(plain.path.depth[0])])
    pitch = plain.path.length / _CELLS
    a, b = (lip_strikes(one, pitch=pitch, bundle=_BUNDLE / 4) for one in (plain, rough))
    rows = _run(a)
    took = np.nanmax(np.where(np.isnan(a.chips), -np.inf, a.depths + a.chips), axis=2, initial=0.0)
    clear = (took < b.stock - 1e-6).all(axis=1)
    keep = rows[clear[rows]]
    _same_lists(a, b, keep, keep)


@property_of("carving", examples=4)
def order_counts_only_where_strikes_meet(carving: Carving, draw: Draw) -> None:
    """Cuts so far apart that none reaches another's lips, in any order: every lip sees what it saw. 1e-9 mm."""
    if len(carving) < 2:
        return
    order = draw(some().st.permutations(range(len(carving))), "order")
    apart = [off_kinks(replace(c, path=c.path.shifted(500.0 * k, 0.0))) for k, c in enumerate(carving)]
    pitch = max(c.path.length for c in apart) / _CELLS
    a = lip_strikes(Carving(tuple(apart)), pitch=pitch, bundle=_BUNDLE)
    b = lip_strikes(Carving(tuple(apart[k] for k in order)), pitch=pitch, bundle=_BUNDLE)
    for new, old in enumerate(order):
        _same_lists(a, b, np.flatnonzero(a.groove == old), np.flatnonzero(b.groove == new))


@property_of("cut", examples=2)
def a_wide_helix_down_is_its_unrolled_ramp(cut: Cut, draw: Draw) -> None:
    """A ramp down along an ever wider arc tends to the straight ramp: chips differ as the half-width over the radius.

    The sum of the chips along each lip, at radii of 400 and 4000 half-widths: 40 over that ratio. A strike that lies on
    the layer's edge may count in the one and not in the other: the thickest chip over the sum comes on top.
    """
    here = _stroke(cut)
    width = float(here.half_width(here.path.depth[:1])[0])
    deep = float(here.path.depth[0])
    size, depths = here.path.length, (0.4 * deep, deep)

    def chips(path: Path) -> Any:
        found = lip_strikes(replace(here, path=path), pitch=size / _CELLS, bundle=_BUNDLE)
        rows = _run(found)[4:]
        taken = np.where(np.isnan(found.chips[rows]), 0.0, found.chips[rows])
        return taken.sum(axis=(0, 2)), taken.max()

    straight, thickest = chips(line((0.0, 0.0), (size, 0.0), depths))
    for ratio in (400.0, 4000.0):
        radius = ratio * width
        turn = size / radius
        bent, _ = chips(arc((0.0, radius), radius, -90.0, float(np.degrees(turn)), depths))
        bound = 40.0 / ratio + thickest / straight.min()
        miss = float(np.max(np.abs(bent / straight - 1)))
        holds(
            miss <= bound, f"relative change of the chips at a radius of {ratio:g} half-widths", miss, f"<= {bound:g}"
        )
