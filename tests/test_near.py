"""Which cuts come near which: against all pairs, one by one."""

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

import chipsim as cs
from chipsim.chips.neighbours import Neighbours, meeting_boxes

SIZES = st.floats(0.0, 2.0) | st.floats(0.0, 200.0)


@given(st.lists(st.tuples(st.floats(-50, 50), st.floats(-50, 50), SIZES, SIZES), max_size=40))
def test_boxes_that_meet_are_those_of_all_pairs(rows):
    low = np.array([r[:2] for r in rows]).reshape(-1, 2)
    high = low + np.array([r[2:] for r in rows]).reshape(-1, 2)
    expected = {
        (i, j)
        for i in range(len(low))
        for j in range(i + 1, len(low))
        if (low[i] <= high[j]).all() and (low[j] <= high[i]).all()
    }
    found = [tuple(sorted(pair)) for pair in zip(*(a.tolist() for a in meeting_boxes(low, high)), strict=True)]
    assert set(found) == expected
    assert len(found) == len(expected)


def _random_carving(rng, count=40):
    bit = cs.VBit(90, 12.7, 2)
    cuts = []
    for _ in range(count):
        x, y = rng.uniform(0, 150, 2)
        kind = rng.integers(3)
        if kind == 0:
            path = cs.line((x, y), (x + rng.uniform(-80, 80), y + rng.uniform(1, 80)), 1.5)
        elif kind == 1:
            path = cs.ring(rng.uniform(2, 60), 1.5, centre=(x, y))
        else:
            path = cs.polyline(np.array([x, y]) + np.cumsum(rng.uniform(-15, 15, (6, 2)), axis=0), 1.5)
        cuts.append(cs.Cut(bit, path, 16_000, 1500))
    return cs.Carving(tuple(cuts))


def test_no_stretch_that_comes_near_another_cut_is_missed():
    carving = _random_carving(np.random.default_rng(5))
    near = Neighbours(carving)
    at = [np.linspace(0, c.path.length, 250) for c in carving]
    points = [c.path.position(s) for c, s in zip(carving, at, strict=True)]
    some = 0
    for i, own in enumerate(points):
        for j, other in enumerate(points):
            if i == j:
                continue
            gap = np.sqrt(((own[:, None] - other[None]) ** 2).sum(axis=-1)).min(axis=1)
            close = at[i][gap < 3.0]  # two half-widths of 1.5: these grooves meet
            some += close.size
            assert all(j in near.along(i, s, s) for s in close)
            whole = near.along(i, 0, carving.cuts[i].path.length)
            assert not close.size or j in whole
            assert gap.min() < 60 or j not in whole  # and none is told that lies boxes away
    assert some > 400


def test_the_number_of_pairs_looked_at_goes_with_the_length():
    def strokes(count):
        bit = cs.VBit(90, 12.7, 2)
        rail = cs.Cut(bit, cs.line((0, 0), (10.0 * count, 0), 1.5), 16_000, 1500)
        return cs.Carving(
            (rail, *(cs.Cut(bit, cs.line((10 * k, -4), (10 * k, 4), 1.5), 16_000, 1500) for k in range(count)))
        )

    near = Neighbours(strokes(300))
    assert len(near.along(0, 0, 3000.0)) == 300
    assert max(len(near.along(0, s, s + 100)) for s in np.arange(0, 2900, 100.0)) < 30
