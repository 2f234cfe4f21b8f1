"""Properties of cutter profiles: anything with ``radius(height)``; with the rest of `Cutter` it is put into cuts."""

from __future__ import annotations

import copy
from dataclasses import replace
from typing import Any

import numpy as np

from .._shared.arrays import FloatArray
from ..chips.passes import tooth_passes
from ..chips.strikes import lip_strikes
from ..scene.cuts import Cut
from ..scene.cutters import ProfileBit
from ..scene.paths import line
from ..testing import _cut
from ._core import Draw, close, holds, lifted, property_of, some
from ._scene import GRAZING, off_kinks

_CUTTER = (
    "diameter", "flutes", "rake", "clearance", "edge_radius", "runout", "runout_azimuth", "cutting_length",
    "max_spindle_speed",
)  # fmt: skip


def _top(cutter: Any) -> float:
    """Height up to which an outline is looked at: its cutting length, its last knot or a diameter. [mm]"""
    known = [getattr(cutter, "cutting_length", None), getattr(cutter, "max_depth", None)]
    for length in known:
        if length is not None:
            return float(length)
    if hasattr(cutter, "knots"):
        return float(min(max(1.25 * float(np.max(cutter.knots()[0])), 1.0), 300.0))
    return float(getattr(cutter, "diameter", 6.0))


def _heights(cutter: Any, draw: Draw) -> FloatArray:
    return np.asarray(draw(some().heights(top=_top(cutter)), "heights"))


def _towards_the_rise(cutter: Any, low: float, high: float) -> list[float]:
    """Heights met when an interval is halved sixty times towards the larger change; the last two are its ends."""
    met = [low, high]
    for _ in range(60):
        middle = (low + high) / 2
        r = np.asarray(cutter.radius(np.array([low, middle, high])), dtype=float)
        low, high = (low, middle) if abs(r[1] - r[0]) >= abs(r[2] - r[1]) else (middle, high)
        met.append(middle)
    return [*met, low, high]


@property_of("cutter profile")
def radius_is_finite_and_not_negative(cutter: Any, draw: Draw) -> None:
    """0 <= radius(h) < inf for every height h from the tip to the top of the edge; no tolerance."""
    h = _heights(cutter, draw)
    r = np.asarray(cutter.radius(h), dtype=float)
    bad = ~(np.isfinite(r) & (r >= 0))
    if bad.any():
        k = int(np.argmax(bad))
        holds(False, f"radius({h[k]:.17g})", f"{r[k]:.17g} mm", "finite, 0 mm or more")


@property_of("cutter profile", examples=40)
def radius_never_falls_with_height(cutter: Any, draw: Draw) -> None:
    """h1 <= h2 implies radius(h1) <= radius(h2), or wood would stand under the edge; 4 units of the last place.

    Heights drawn, and others ever closer to where the outline is steepest: steps back hide beside steps forward.
    """
    h = _heights(cutter, draw)
    k = int(np.argmax(np.abs(np.diff(np.asarray(cutter.radius(h), dtype=float)))))
    steep = _towards_the_rise(cutter, float(h[k]), float(h[k + 1]))[-1]
    beside = 10.0 ** -np.arange(1.0, 13.0)
    h = np.unique(np.clip(np.concatenate([h, steep + beside, steep - beside]), 0.0, h[-1]))
    r = np.asarray(cutter.radius(h), dtype=float)
    fall = r[:-1] - r[1:]
    k = int(np.argmax(fall))
    holds(
        fall[k] <= 4 * np.spacing(np.abs(r).max()),
        f"radius({h[k + 1]:.17g})",
        f"{r[k + 1]:.17g} mm",
        f"radius({h[k]:.17g}) = {r[k]:.17g} mm or more",
        "4 units of the last place",
    )


@property_of("cutter profile")
def radius_has_no_jumps(cutter: Any, draw: Draw) -> None:
    """The outline is continuous: halving an interval towards the larger rise, sixty times, the rise goes to nothing.

    A shelf is steep, not a jump: kernels join the outline's points by straight lines. Tolerance 1e-5 mm.
    """
    h = _heights(cutter, draw)
    k = draw(some().st.integers(0, len(h) - 2), "interval")
    low, high = _towards_the_rise(cutter, float(h[k]), float(h[k + 1]))[-2:]
    r = np.asarray(cutter.radius(np.array([low, high])), dtype=float)
    holds(
        abs(r[1] - r[0]) <= 1e-5,
        f"rise of the radius between heights {low:.17g} and {high:.17g} mm",
        f"{abs(r[1] - r[0]):.6g} mm",
        "nothing",
        "1e-05 mm",
    )


@property_of("cutter profile")
def radius_of_a_batch_is_that_of_each(cutter: Any, draw: Draw) -> None:
    """Any shape in, the same shape out, and each number as if asked alone; lists and single precision too. 1e-12 mm."""
    h = _heights(cutter, draw)
    r = np.asarray(cutter.radius(h), dtype=float)
    holds(r.shape == h.shape, "shape of radius(heights)", r.shape, h.shape)
    close("radius, one by one", [float(np.asarray(cutter.radius(float(x)))) for x in h], r, 1e-12, "mm")
    close("radius of a (k, 1) array", cutter.radius(h[:, None]), r[:, None], 1e-12, "mm")
    single = h.astype(np.float32)
    close("radius in single precision", cutter.radius(single), cutter.radius(single.astype(float)), 1e-5, "mm")


@property_of("cutter profile")
def radius_is_pure(cutter: Any, draw: Draw) -> None:
    """The same heights give the same radii to the last bit, the argument stays, no random state is touched."""
    h = _heights(cutter, draw)
    given, state = h.copy(), np.random.get_state()[1].copy()  # type: ignore[index]  # noqa: NPY002
    first, second = np.array(cutter.radius(h)), np.array(cutter.radius(h))
    holds((h == given).all(), "heights after the call", h.tolist(), given.tolist())
    holds(first.tobytes() == second.tobytes(), "radius, asked twice", second.tolist(), first.tolist())
    same = (np.random.get_state()[1] == state).all()  # type: ignore[index]  # noqa: NPY002
    holds(same, "numpy's global random state", "changed", "left alone")


@property_of("cutter profile")
def a_copy_is_the_same_outline(cutter: Any, draw: Draw) -> None:
    """A deep copy has the same radii to the last bit: nothing hangs on the object's identity."""
    h = _heights(cutter, draw)
    one, two = np.array(cutter.radius(h)), np.array(copy.deepcopy(cutter).radius(h))
    holds(one.tobytes() == two.tobytes(), "radius of a copy", two.tolist(), one.tolist())


@property_of("cutter profile", needs=("diameter",))
def radius_stays_within_the_diameter(cutter: Any, draw: Draw) -> None:
    """radius(h) <= diameter / 2 everywhere, and once it is reached it stays, as high as one looks. 1e-9 mm."""
    h = np.append(_heights(cutter, draw), 299.0)
    r, half = np.asarray(cutter.radius(h), dtype=float), float(cutter.diameter) / 2
    k = int(np.argmax(r))
    holds(
        r[k] <= half + 1e-9,
        f"radius({h[k]:.17g})",
        f"{r[k]:.17g} mm",
        f"at most diameter / 2 = {half:.17g} mm",
        "1e-09 mm",
    )
    full = r >= half - 1e-9
    if full.any():
        holds(full[np.argmax(full) :].all(), "radius above the top of the outline", r[~full][-1], half, "1e-09 mm")


@property_of("cutter profile", needs=("knots",))
def knots_are_the_outline(cutter: Any, draw: Draw) -> None:
    """The polyline that `knots` gives is the outline, at its corners and between: kernels use nothing else. 1e-9 mm."""
    up, radii = (np.asarray(a, dtype=float) for a in cutter.knots())
    holds(
        up.shape == radii.shape and up.ndim == 1 and up.size >= 2,
        "shapes of the knots",
        (up.shape, radii.shape),
        "(k,)",
    )
    holds(up[0] == 0 and (np.diff(up) > 0).all(), "heights of the knots", up.tolist(), "from 0, strictly rising")
    close("radius at the knots", cutter.radius(up), radii, 1e-9, "mm")
    h = _heights(cutter, draw)
    close("radius between the knots", cutter.radius(h), np.interp(h, up, radii), 1e-9, "mm")


@property_of("cutter profile", needs=("included_angle", "tip_width", "diameter"))
def width_law_of_a_cone(cutter: Any, draw: Draw) -> None:
    """2 (r(h + d) - r(h)) = 2 d tan(included_angle / 2) below the full diameter; r(0) = tip_width / 2. 1e-9 mm."""
    if getattr(cutter, "tip_radius", 0.0) > 0:
        return  # a ball at the tip
    h = _heights(cutter, draw)
    r, slope = np.asarray(cutter.radius(h), dtype=float), np.tan(np.radians(cutter.included_angle / 2))
    expected = np.minimum(cutter.tip_width / 2 + h * slope, cutter.diameter / 2)
    close("radius", r, expected, 1e-9 * max(1.0, float(slope)), "mm")


@property_of("cutter profile", needs=_CUTTER)
def a_cut_has_the_outlines_width(cutter: Any, draw: Draw) -> None:
    """A `Cut` takes the bit, and its groove is as wide as radius(depth).

    Exact to 1e-9 mm at the path's depth; at shallower ones within the rise over two of the 2000 steps of the sampling,
    if the bit has no knots.
    """
    depth = draw(some().reals(0.05, 0.98), "share_of_the_top") * min(_top(cutter), 20.0)
    cut = Cut(cutter, line((0, 0), (10, 0), depth), 12_000, 1500)
    close("half_width at the depth", cut.half_width(np.array(depth)), cutter.radius(np.array(depth)), 1e-9, "mm")
    d = depth * np.linspace(0.013, 0.97, 7)
    step = depth / 2000
    slack = np.asarray(cutter.radius(d + step)) - np.asarray(cutter.radius(np.maximum(d - step, 0.0)))
    miss = np.abs(cut.half_width(d) - np.asarray(cutter.radius(d)))
    k = int(np.argmax(miss - slack))
    holds(
        miss[k] <= slack[k] + 1e-9,
        f"half_width at {d[k]:.17g}",
        cut.half_width(d)[k],
        np.asarray(cutter.radius(d))[k],
        f"{slack[k]:g} mm",
    )


@property_of("cutter profile", examples=8, needs=_CUTTER)
def a_table_of_the_outline_cuts_the_same_chips(cutter: Any, draw: Draw) -> None:
    """A `ProfileBit` of the same radii, with its errors of the edges, takes the same chips on a level line. 1e-6 mm."""
    depth = draw(some().reals(0.3, 0.95), "share_of_the_top") * min(_top(cutter), 12.0)
    cut = off_kinks(draw(some().cuts(bit=some().st.just(cutter), path=some().lines(depth=(depth, depth))), "cut"))
    up, radii = cut.knots
    if radii[-1] < 0.5 or cut.edges is not None:
        return
    edges = {name: getattr(cutter, name) for name in ("rake", "clearance", "edge_radius", "runout", "runout_azimuth")}
    table = ProfileBit(up, radii, cutter.flutes, **edges)
    ask: dict[str, Any] = {
        "start": 1.0,
        "stop": 1.0 + 2.2 * cut.feed_per_rev,
        "angles": [12.3, 61.7, 90.0, 141.2],
        "heights": np.array([0.31, 0.77]) * depth,
    }
    ask["stop"] = min(ask["stop"], cut.path.length)
    other = Cut(table, cut.path, cut.spindle_speed, cut.feed, spin=cut.spin, phase=cut.phase)
    a, b = tooth_passes(cut, **ask), tooth_passes(other, **ask)
    close("radial_thickness", b.radial_thickness, a.radial_thickness, GRAZING, "mm")


for _function, _examples in (
    (_cut.chips_lie_between_nothing_and_the_radius, 8),
    (_cut.rigid_motion_leaves_every_chip, 6),
    (_cut.mirror_with_spin_leaves_every_chip, 6),
    (_cut.a_bigger_job_makes_bigger_chips, 6),
    (_cut.speed_and_feed_together_leave_every_chip, 6),
    (_cut.teeth_of_a_turn_share_the_feed, 8),
    (_cut.chips_of_a_turn_fill_the_slot, 4),
    (_cut.groove_volume_is_the_section_swept, 4),
    (_cut.chips_follow_the_sine_to_second_order, 6),
    (_cut.kernels_agree_with_the_oracle, 4),
    (_cut.earlier_passes_leave_the_groove, 4),
):
    lifted("cutter profile", _function, examples=_examples, needs=_CUTTER, bit="cut")


@property_of("cutter profile", examples=6, needs=_CUTTER)
def a_constant_azimuth_is_a_phase(cutter: Any, draw: Draw) -> None:
    """Edges that all stand the same angle behind are the same bit at another phase: strikes, times; 1e-9 mm."""
    depth = draw(some().reals(0.3, 0.95), "share_of_the_top") * min(_top(cutter), 12.0)
    cut = off_kinks(draw(some().cuts(bit=some().st.just(cutter), path=some().lines(depth=(depth, depth))), "cut"))
    up, radii = cut.knots
    if radii[-1] < 0.5 or cut.edges is not None:
        return
    lag = draw(some().reals(-170, 170), "azimuth")
    plain = ProfileBit(up, radii, flutes=cutter.flutes, runout=cutter.runout, runout_azimuth=cutter.runout_azimuth)
    if plain.runout > 0:
        plain = replace(plain, runout=0.0)
    behind = replace(plain, azimuths=np.full(len(up), lag))
    sense = -1.0 if cut.spin == "cw" else 1.0
    one = lip_strikes(replace(cut, bit=behind), pitch=cut.path.length / 3)
    other = lip_strikes(replace(cut, bit=plain, phase=cut.phase - sense * lag), pitch=cut.path.length / 3)
    holds((one.counts == other.counts).all(), "strikes", one.counts.tolist(), other.counts.tolist())
    close("wood left after each strike", one.depths, other.depths, 1e-9, "mm")
    close("times", one.times, other.times, 1e-9, "s")


@property_of("cutter profile", needs=("azimuth",))
def azimuth_is_a_law(cutter: Any, draw: Draw) -> None:
    """Finite, of the heights' shape or that for each flute, and the same each time."""
    h = _heights(cutter, draw)
    first, second = np.asarray(cutter.azimuth(h)), np.asarray(cutter.azimuth(h))
    holds(first.shape in (h.shape, (cutter.flutes, *h.shape)), "shape of azimuth(heights)", first.shape, h.shape)
    holds(bool(np.isfinite(first).all()), "azimuth", first.tolist(), "finite")
    holds(first.tobytes() == second.tobytes(), "azimuth, asked twice", second.tolist(), first.tolist())
