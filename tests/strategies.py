"""Strategies shared by the property-based tests: bits, paths, set-ups and grain, bounded to what a shop could run.

Values are built valid rather than filtered. Phases and grain azimuths are kept off round numbers, because comparing
at an angle exactly on a kink (a tooth straight behind at time 0, a fibre exactly along the lip) tests rounding.
"""

from __future__ import annotations

from typing import Any

import numpy as np
from hypothesis import HealthCheck, settings
from hypothesis import strategies as st

import chipsim as cs

ANGLES = np.array([-71.3, -33.1, -7.7, 3.9, 31.7, 62.3, 90.0, 117.9, 148.1, 174.7, 188.3, 214.9, 251.2])
"""Rotation angles [deg] over the whole sweep, off the kinks, dead ahead among them."""


def steadily(examples: int) -> settings:
    """Hypothesis settings of the suite: the same examples in every run, no clock."""
    return settings(
        max_examples=examples,
        derandomize=True,
        deadline=None,
        database=None,
        suppress_health_check=[HealthCheck.too_slow],
    )


def reals(low: float, high: float) -> st.SearchStrategy[float]:
    """Floats in [low, high], to the thousandth: readable when they fail, and as hard as any."""
    return st.integers(round(low * 1000), round(high * 1000)).map(lambda n: n / 1000)


half_angles = st.sampled_from([10.0, 22.5, 30.0, 41.3, 45.0, 60.0, 72.0])
spins = st.sampled_from(["cw", "ccw"])
phases = reals(-360, 360).map(lambda a: a + 0.1377)
azimuths = reals(-180, 180).map(lambda a: a + 0.0731)
dives = reals(-60, 60)
turns = st.one_of(st.sampled_from([33.7, 90.0, 180.0, -120.0]), reals(-180, 180))


@st.composite
def bits(draw: st.DrawFn, *, runout: bool = True, flutes: tuple[int, ...] = (1, 2, 3, 4, 8)) -> cs.VBit:
    """V-bits from needle to blunt, sharp or flat at the tip, true or running out."""
    eccentric = runout and draw(st.booleans())
    return cs.VBit(
        2 * draw(half_angles),
        draw(st.sampled_from([6.35, 12.7, 25.4])),
        draw(st.sampled_from(flutes)),
        draw(st.sampled_from([0.0, 0.2, 1.0])),
        runout=draw(st.sampled_from([0.005, 0.02, 0.06])) if eccentric else 0.0,
        runout_azimuth=draw(reals(-180, 180)) if eccentric else 0.0,
    )


@st.composite
def profile_bits(draw: st.DrawFn) -> cs.ProfileBit:
    """Outlines of two to four straight stretches, never falling, vertical walls and flats among them."""
    count = draw(st.integers(2, 4))
    heights = np.cumsum([0.0, *(draw(reals(0.3, 2.5)) for _ in range(count))])
    radii = np.cumsum([draw(reals(0, 1)), *(draw(st.one_of(st.just(0.0), reals(0.05, 3))) for _ in range(count))])
    radii[-1] += 1.0
    return cs.ProfileBit(heights, radii, draw(st.sampled_from([1, 2, 3])))


@st.composite
def paths(
    draw: st.DrawFn,
    *,
    level: bool | None = None,
    closed: bool | None = None,
    arcs: bool = True,
    pieces: int = 3,
    depths: tuple[float, float] = (0.3, 3.0),
    lengths: tuple[float, float] = (0.3, 4.0),
) -> cs.Path:
    """Paths of lines and arcs: blunt, sharp and right corners, tight arcs, ramps, loops that close on a corner."""
    count = draw(st.integers(1, pieces))
    shut = draw(st.booleans()) if closed is None else closed
    if shut:
        count = max(count, 2)
    heading = draw(reals(-180, 180)) + 0.0219
    xy, sweeps = [np.array([draw(reals(-3, 3)), draw(reals(-3, 3))])], []
    for _ in range(count):
        length = draw(reals(*lengths))
        xy.append(xy[-1] + length * np.array([np.cos(np.radians(heading)), np.sin(np.radians(heading))]))
        sweeps.append(draw(st.one_of(st.just(0.0), reals(-250, 250))) if arcs else 0.0)
        heading += draw(st.one_of(st.sampled_from([0.0, 90.0, -90.0, 150.0, -165.0]), reals(-175, 175)))
    points = np.array(xy)
    flat = draw(st.booleans()) if level is None else level
    depth: Any = draw(reals(*depths)) if flat else [draw(reals(*depths)) for _ in points]
    # a loop that runs back along itself has lips that coincide to rounding: which of the two counts is then noise
    around = np.roll(points, -1, axis=0)
    area = abs(np.sum(points[:, 0] * around[:, 1] - points[:, 1] * around[:, 0])) / 2
    if shut and np.hypot(*(points[-1] - points[0])) > 0.05 and area > 0.05:
        return cs.Path(points, depth, sweep=[*sweeps, 0.0], closed=True)
    return cs.Path(points, depth, sweep=sweeps)


def lines(length: tuple[float, float] = (3.0, 8.0)) -> st.SearchStrategy[cs.Path]:
    """Straight level paths in any direction."""

    def build(heading: float, size: float, depth: float) -> cs.Path:
        a = np.radians(heading + 0.0219)
        return cs.line((0.5, -0.25), (0.5 + size * np.cos(a), -0.25 + size * np.sin(a)), depth)

    return st.builds(build, reals(-180, 180), reals(*length), reals(0.5, 3))


@st.composite
def cuts(
    draw: st.DrawFn,
    path: st.SearchStrategy[cs.Path] | None = None,
    bit: st.SearchStrategy[Any] | None = None,
) -> cs.Cut:
    """Set-ups: any of the paths with any of the bits at speeds and feeds of small routers."""
    return cs.Cut(
        draw(bits() if bit is None else bit),
        draw(paths() if path is None else path),
        draw(st.sampled_from([8_000, 15_000, 24_000])),
        draw(st.sampled_from([400, 1500, 3000, 6000])),
        spin=draw(spins),
        phase=draw(phases),
    )


CHERRY = cs.wood("black cherry", moisture=8)


@st.composite
def grains(draw: st.DrawFn, *, dive: bool = True) -> cs.Grain:
    """Straight grain, or a field that turns slowly over the board."""
    azimuth, down = draw(azimuths), draw(dives) if dive else 0.0
    if draw(st.booleans()):
        return cs.straight_grain(azimuth, down)
    kx, ky = draw(reals(-4, 4)), draw(reals(-4, 4))
    return cs.grain_field(lambda x, y: (azimuth + kx * x + ky * y, np.full(x.shape, down)))


def boards(*, dive: bool = True) -> st.SearchStrategy[cs.Board]:
    """Cherry, with any grain."""
    return grains(dive=dive).map(lambda grain: cs.Board(CHERRY, grain))
