"""The kernels as plain Python and as machine code: the same file runs in both modes.

CI runs it once more with NUMBA_DISABLE_JIT=1; there an index out of bounds raises, which compiled code does not.
"""

import numpy as np
import pytest

import chipsim as cs
from chipsim import _kernels, reference

CORNER = cs.polyline([(0, 0), (3, 0), (3, 3)], 1.5)
SCENES = {
    "corner": cs.Cut(cs.VBit(90, 6, 2, runout=0.02), CORNER, 12000, 4000),
    "ring": cs.Cut(cs.VBit(60, 6, 3), cs.ring(2, 1.5), 12000, 4000, spin="ccw"),
    "ramp": cs.Cut(cs.VBit(90, 6, 1, 0.2), cs.line((0, 0), (5, 0), (0, 1.5)), 12000, 2000),
    "profile": cs.Cut(cs.ProfileBit([0, 1, 2], [0.1, 1.2, 1.5]), cs.line((0, 0), (4, 0), 1.8), 12000, 2000),
    "passes": cs.Cut(cs.VBit(90, 6, 2), CORNER, 12000, 4000, passes=[0.4]),
}


@pytest.mark.parametrize("name", SCENES)
def test_table_and_lips(name):
    cut = SCENES[name]
    top = float(cut.path.depth.max())
    passes = cs.tooth_passes(cut, start=1.8, stop=2.6, angles=[-40, 0, 45, 90, 170, 250], heights=[0, 0.05, top])
    known = np.isfinite(passes.radial_thickness)
    assert known.any()
    ask = {"start": 1.8, "stop": 2.2, "angles": [-40, 45, 90], "heights": [0.05, top]}
    less, more = (cs.tooth_passes(cut, **ask, before=b).radial_thickness for b in (list(SCENES.values()), ()))
    assert (less <= more + 1e-12)[np.isfinite(more)].all()
    limit = np.broadcast_to(passes.edge_radius_about_axis[:, None, :], known.shape)
    assert (passes.radial_thickness[known] >= 0).all()
    assert (passes.radial_thickness[known] <= limit[known] + 1e-12).all()
    risk = cs.risk_map(cut, cs.Board(cs.wood("sugar maple"), cs.straight_grain(30)), pitch=0.7)
    assert np.isfinite(risk.fuzz[risk.exists]).all()
    assert (risk.strikes[risk.exists] > 0).all()


def test_steady_thickness_is_the_closed_form():
    """Thickness set E1: line, f_z = 0.2 mm, two flutes, r = 3 mm (derived; oracle)."""
    cut = cs.Cut(cs.VBit(90, 12.7, 2), cs.line((0, 0), (8, 0), 3.0), 15000, 6000)
    passes = cs.tooth_passes(cut, start=6, stop=6.4, angles=[30, 60, 90, 120, 150], heights=[3.0])
    expected = [0.103019405765, 0.173018577691, 0.2, 0.176766003203, 0.107066847525]
    row = passes.radial_thickness[np.isfinite(passes.time).all(axis=1)][0, :, 0]
    np.testing.assert_allclose(row, expected, rtol=1e-9)
    assert reference.thickness_first_order(30, 0.2) == pytest.approx(0.1)


def test_intervals_merge_and_count():
    """The ray's bookkeeping against a brute set of points."""
    rng = np.random.default_rng(4)
    for _ in range(30):
        cover, n = np.empty((64, 2)), 0
        inside = np.zeros(1001, bool)
        grid = np.linspace(0, 1, 1001)
        for low, high in np.sort(rng.integers(0, 1001, (12, 2)), axis=1) / 1000:
            n = _kernels.add_interval(cover, n, low, high)
            if high > low:
                inside |= (grid >= low - 1e-9) & (grid <= high + 1e-9)
        assert (np.diff(cover[:n].ravel()) > 0).all()
        kept = np.zeros_like(inside)
        for low, high in cover[:n]:
            kept |= (grid >= low - 1e-9) & (grid <= high + 1e-9)
        np.testing.assert_array_equal(kept, inside)


def test_a_full_table_of_intervals_says_so():
    cover, n = np.empty((2, 2)), 0
    for k in range(2):
        n = _kernels.add_interval(cover, n, k, k + 0.5)
    assert _kernels.add_interval(cover, n, 5.0, 6.0) == -1
