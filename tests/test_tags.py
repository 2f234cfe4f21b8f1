"""Tags of a map: placed by a rule, over nothing. Tried on a hundred random designs."""

from __future__ import annotations

import matplotlib.pyplot as plt
import numpy as np
import pytest
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.text import Text
from planted import BIT, planted

import chipsim as cs
from chipsim.pictures.tags import Ground, place_tags


def a_design(seed):
    """A few random strokes, rings and letters on a board, some crossing."""
    rng = np.random.default_rng(seed)
    cuts = []
    for _ in range(rng.integers(2, 9)):
        at = rng.uniform([0, 0], [120, 80])
        depth = rng.uniform(0.6, 3.0)
        kind = rng.integers(4)
        if kind == 0:
            path = cs.line(tuple(at), tuple(at + rng.uniform(-45, 45, 2) + 8), depth)
        elif kind == 1:
            path = cs.ring(rng.uniform(5, 22), depth).shifted(*at)
        elif kind == 2:
            turn = np.cumsum(rng.uniform(-25, 25, (rng.integers(3, 6), 2)) + 3, axis=0)
            path = cs.polyline(np.vstack([at, at + turn]), depth)
        else:
            path = cs.rosette(rng.uniform(12, 26), rng.uniform(6, 10), int(rng.integers(3, 9)), depth).shifted(*at)
        cuts.append(cs.Cut(BIT, path, 18_000, 1500))
    worst = rng.uniform(0, 180)

    def fuzz(x, y, heading):
        lean = np.abs((heading - worst + 90) % 180 - 90)
        return np.clip(0.65 - lean / 60 + 0.1 * np.sin(x / 7) * np.cos(y / 5), 0, 0.9)

    return planted(cs.Carving(tuple(cuts)), fuzz, azimuth=rng.uniform(0, 180), pitch=1.0)


def boxes_overlap(one, other):
    return min(one.x1, other.x1) - max(one.x0, other.x0) > 0.5 and min(one.y1, other.y1) - max(one.y0, other.y0) > 0.5


def test_tags_of_a_hundred_designs_cover_nothing():
    """No tag lies over a groove, a lip's line, another tag or the strip; nearly every stretch has its tag."""
    wanted = placed = 0
    for seed in range(100):
        risk = a_design(seed)
        places = risk.worst_places()
        with plt.rc_context({"figure.dpi": 60}):
            ax = cs.draw_risk_map(risk).axes
        figure = ax.figure
        renderer = FigureCanvasAgg(figure).get_renderer()
        figure.draw(renderer)
        tags = [t for t in ax.texts if t.get_gid() == "place"]
        wanted += len(places)
        placed += len(tags)
        extents = [Text.get_window_extent(t, renderer) for t in tags]
        others = [
            Text.get_window_extent(t, renderer) for t in ax.texts if t.get_gid() != "place" and t.get_text().strip()
        ]
        pixel = np.hypot(*(ax.transData.transform([[1.0, 0.0]]) - ax.transData.transform([[0.0, 0.0]]))[0])
        axis = ax.transData.transform(risk.xy)
        lips = ax.transData.transform(risk.lip_xy[risk.exists & (np.nan_to_num(risk.damage) >= 0.1)])
        for k, box in enumerate(extents):
            assert ax.bbox.x0 <= box.x0
            assert box.x1 <= ax.bbox.x1
            assert ax.bbox.y0 <= box.y0
            assert box.y1 <= ax.bbox.y1
            # the nearest point of the box to every place of the axis is outside the groove there
            near = np.clip(axis, [box.x0, box.y0], [box.x1, box.y1])
            assert (np.hypot(*(near - axis).T) > risk.half_width * pixel - 1.0).all(), (seed, tags[k].get_text())
            if len(lips):
                near = np.clip(lips, [box.x0, box.y0], [box.x1, box.y1])
                assert np.hypot(*(near - lips).T).min() > 2.0, (seed, tags[k].get_text())
            for other in extents[k + 1 :] + others:
                assert not boxes_overlap(box, other), (seed, tags[k].get_text())
        plt.close(figure)
    assert placed >= 0.97 * wanted > 200


def test_a_free_tag_stands_outwards_and_near():
    ground = Ground((300.0, 200.0))
    ground.take_box(np.array([0.0, 90.0]), np.array([300.0, 110.0]))
    (tag,) = place_tags(ground, [np.array([[150.0, 112.0]])], [np.array([[0.0, 1.0]])], [(12.0, 10.0)])
    assert tag.middle[1] > 120
    assert np.hypot(*(tag.middle - [150, 112])) < 30
    (again,) = place_tags(ground, [np.array([[150.0, 112.0]])], [np.array([[0.0, 1.0]])], [(12.0, 10.0)])
    assert np.abs(again.middle - tag.middle).max() > 12


def test_where_there_is_no_room_there_is_no_tag():
    ground = Ground((100.0, 100.0))
    ground.take_box(np.zeros(2), np.array([100.0, 100.0]))
    assert place_tags(ground, [np.array([[50.0, 50.0]])], [np.array([[0.0, 1.0]])], [(12.0, 10.0)]) == [None]


@pytest.mark.parametrize("radius", [0.0, 5.0, 20.0])
def test_discs_are_taken_whole(radius):
    ground = Ground((100.0, 100.0))
    ground.take_discs(np.array([[50.0, 50.0]]), np.array([radius]))
    rng = np.random.default_rng(2)
    turn, far = rng.uniform(0, 2 * np.pi, 300), rng.uniform(0, 1, 300)
    inside = 50 + (radius * far)[:, None] * np.column_stack([np.cos(turn), np.sin(turn)])
    assert ground.is_taken(inside).all()
    outside = 50 + (radius + 9.0) * np.column_stack([np.cos(turn), np.sin(turn)])
    assert not ground.is_taken(outside).any()
    assert ground.is_taken(np.array([[-1.0, 50.0], [50.0, 101.0 + 2]])).all()  # off the page
