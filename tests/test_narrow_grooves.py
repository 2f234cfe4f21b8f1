"""An earlier groove is met on the probe of a lip however narrow it is.

The check: a level line takes away a strip with round ends, whose wall its teeth touch at their scallops.
"""

from __future__ import annotations

import numpy as np
import pytest

import chipsim as cs

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
    """A straight groove at an angle to the lip: the wood on each probe reaches to its near wall, by plane geometry.

    But for scallops: discs a tooth's feed apart, which the narrower the groove the less cover one another.
    """
    a = np.radians(angle)
    place = np.array([6.0, HALF - 0.4])
    way = 4.0 * np.array([np.cos(a), np.sin(a)])
    first = groove(lambda d: cs.line(place - way, place + way, d), width)
    found = cs.lip_strikes(cs.Carving((first, LIP)), pitch=0.05, bundle=0.2)
    strikes = found.part(found.groove == 1)
    stock, x, run = strikes.stock[:, 0], strikes.lip_xy[:, 0, 0], strikes.lips.kind == "run"
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
    feed = first.feed_per_tooth
    if width < 2.1 * feed:
        # the slits that single teeth leave: some probes pass between them
        assert (stock[inside] >= expected[inside] - 1e-9).all()
        return
    scallop = (width / 2 - np.sqrt(width**2 - feed**2) / 2) / np.cos(a)
    assert (stock[inside] >= expected[inside] - 1e-9).all()
    assert (stock[inside] <= expected[inside] + 1.1 * scallop + 1e-9).all()
