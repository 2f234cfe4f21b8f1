"""An earlier groove is met however narrow it is: on the probe of a lip, and on the ray of a tooth.

The check: a level line takes away a strip with round ends, a ring what lies between two circles, a ramp an outline
between two tangents of discs. Where these begin on a line follows by hand, or from the discs one by one.
"""

from __future__ import annotations

import numpy as np
import pytest

import chipsim as cs
from chipsim.kernels import grooves

WIDTHS = [0.002, 0.006, 0.013, 0.03, 0.06, 0.1]  # mm
LIP = cs.Cut(cs.VBit(60, 12.7, 2), cs.line((0, 0), (12, 0), 3.0), 15_000, 3000, phase=7)
HALF = 3.0 * np.tan(np.radians(30))
FINE = cs.VBit(60, 6.0, 2)


def groove(path_of, width: float) -> cs.Cut:
    """A groove so wide at the face, along what `path_of` returns for its depth."""
    return cs.Cut(FINE, path_of(width / 2 / np.tan(np.radians(30))), 15_000, 600)


@pytest.mark.parametrize("width", WIDTHS)
@pytest.mark.parametrize("angle", [0.0, 4.0, 31.0, 77.0, 90.0])
def test_a_narrow_groove_beside_the_lip_ends_the_stock(width: float, angle: float) -> None:
    """A straight groove at an angle to the lip: the wood on each probe reaches to its near wall, by plane geometry."""
    a = np.radians(angle)
    place = np.array([6.0, HALF - 0.4])
    way = 4.0 * np.array([np.cos(a), np.sin(a)])
    first = groove(lambda d: cs.line(place - way, place + way, d), width)
    blocks = cs.kinematics.carving_blocks(cs.Carving((first, LIP)), pitch=0.05, bundle=0.2)
    strikes = [s for i, s in blocks if i == 1]
    stock = np.concatenate([s.stock[:, 0] for s in strikes])
    x = np.concatenate([s.lip_xy[:, 0, 0] for s in strikes])
    run = np.concatenate([s.lips.kind for s in strikes]) == "run"
    if angle == 90.0:
        crossed = run & (np.abs(x - 6.0) < width / 2)
        assert np.isnan(stock[crossed]).all()
        assert np.allclose(stock[run & ~crossed & (np.abs(x - 6.0) > width / 2 + 1e-6)], HALF)
        return
    # the strip's upper wall on the vertical through x
    wall = place[1] + (x - 6.0) * np.tan(a) + width / 2 / np.cos(a)
    expected = np.minimum(HALF - wall, HALF)
    inside = run & (np.abs(x - 6.0) < 3.9 * np.cos(a)) & (HALF - wall > 1e-6) & (HALF - wall < 1.4)
    assert inside.sum() >= 6
    np.testing.assert_allclose(stock[inside], expected[inside], rtol=0, atol=1e-9)


def crowd(cut: cs.Cut) -> tuple[np.ndarray, np.ndarray]:
    """Centres and radii of very many discs of a groove at the face, 5e-5 mm apart."""
    station = np.linspace(0, cut.path.length, int(cut.path.length / 5e-5) + 2)
    level = cut.path.depth_at(station)
    return cut.path.position(station), np.where(level > 0, np.interp(level, *cut.knots), 0.0)


def discs(groove: tuple[np.ndarray, np.ndarray], at: np.ndarray, toward: np.ndarray, reach: float) -> np.ndarray:
    """Stretches (k, 2) of a ray from 0 to `reach` inside a groove, from its discs one by one."""
    apart, radius = groove[0] - at, groove[1]
    along, across = apart @ toward, apart @ [-toward[1], toward[0]]
    square = radius**2 - across**2
    root = np.sqrt(square[square > 0])
    low, high = np.maximum(along[square > 0] - root, 0.0), np.minimum(along[square > 0] + root, reach)
    low, high = low[high > low], high[high > low]
    order = np.argsort(low)
    low, high = low[order], np.maximum.accumulate(high[order])
    new = np.flatnonzero(low[1:] > high[:-1] + 1e-5) + 1
    return (
        np.column_stack([low[np.append(0, new)], high[np.append(new, len(low)) - 1]]) if len(low) else np.empty((0, 2))
    )


def narrow_grooves(rng: np.random.Generator) -> cs.Cut:
    """A line, arc or ramp through a square of 2 mm, 0.002 to 0.1 mm wide, level or not."""
    wide = float(np.exp(rng.uniform(np.log(0.002), np.log(0.1))))
    d = wide / 2 / np.tan(np.radians(30))
    depth: float | list[float] = d if rng.random() < 0.5 else [d, float(d * rng.uniform(0, 3))]
    ends = rng.uniform(-1, 1, (2, 2)) * 2
    kind = rng.integers(3)
    if kind == 0:
        path = cs.Path(ends, depth)
    elif kind == 1:
        path = cs.Path(ends, depth, sweep=[float(rng.uniform(-300, 300))])
    else:
        path = cs.Path(ends, depth, sweep=[float(rng.choice([-1, 1]) * rng.uniform(1, 40))])
    return cs.Cut(FINE if rng.random() < 0.6 else cs.VBit(60, 6.0, 2, tip_width=wide / 2), path, 15_000, 600)


def test_a_ray_meets_every_narrow_groove() -> None:
    """Stretches of random rays within random narrow grooves, against their discs."""
    rng = np.random.default_rng(5)
    met = 0
    for _ in range(200):
        cut = narrow_grooves(rng)
        motion, (heights, radii) = cut.motion.copy(), (a.copy() for a in cut.knots)
        a = rng.uniform(0, 2 * np.pi)
        toward, at = np.array([np.cos(a), np.sin(a)]), rng.uniform(-1.5, 1.5, 2)
        cover, n = np.empty((64, 2)), 0
        for k in range(len(motion)):
            n = grooves.cover_by_piece(motion, heights, radii, k, *at, *toward, 0.0, 3.0, cover, n)
        true = discs(crowd(cut), at, toward, 3.0)
        found = cover[:n]
        # a stretch shorter than the scallops that discs a step apart leave may show or not
        true, found = (x[x[:, 1] - x[:, 0] > 1e-3] for x in (true, found))
        assert len(found) == len(true), f"{cut.path!r} from {at} towards {np.degrees(a)}: {found} for {true}"
        np.testing.assert_allclose(found, true, rtol=0, atol=1e-5)
        met += len(true)
    assert met > 30


def test_the_first_of_several_narrow_grooves_ends_the_stock() -> None:
    """Kernel's probes from random points and in all directions through three narrow grooves, against their discs."""
    rng = np.random.default_rng(8)
    met = 0
    for _ in range(25):
        cuts = [narrow_grooves(rng) for _ in range(3)]
        crowds = [crowd(c) for c in cuts]
        lip, azimuth = rng.uniform(-1.5, 1.5, (6, 2, 2)), rng.uniform(0, 2 * np.pi, (6, 2))
        surface, exists = np.full((6, 2), np.inf), np.ones((6, 2), dtype=bool)
        for cut in cuts:
            g = cs.kinematics._groove(cut, 1.5)
            where = (g.grid.frame, g.grid.first, g.grid.members)
            grooves.earlier_surface(g.motion, g.knots, g.radii, *where, lip, azimuth, 1.5, exists, surface)
        for i, side in np.argwhere(exists):
            toward = -np.array([np.cos(azimuth[i, side]), np.sin(azimuth[i, side])])
            true = np.concatenate([discs(c, lip[i, side], toward, 1.5) for c in crowds])
            first = true[:, 0].min(initial=np.inf)
            if first == np.inf:
                assert surface[i, side] == np.inf or surface[i, side] <= 1.5
                continue
            assert surface[i, side] == pytest.approx(first, abs=1e-5)
            met += 1
    assert met > 30
