"""Results in the forms that other tools read: features, drawings with values, draws, what is said on the way."""

import io
import json
import logging
import xml.etree.ElementTree as ElementTree
from dataclasses import replace

import numpy as np
import pytest
import shapely
from shapely.geometry import shape

import chipsim as cs
from chipsim.damage.maps import CLASSES

BIT = cs.VBit(60, 12.7, 2, 0.2)
BOARD = cs.Board(cs.wood("sugar maple"), cs.straight_grain(20))
RING = cs.Cut(BIT, cs.ring(12, 2.0), 17_000, 1500)
BENT = cs.Cut(BIT, cs.polyline([(30, -8), (30, 8), (44, 10)], 1.5), 16_000, 1400)
CARVING = cs.Carving((RING, BENT))
MAP = cs.risk_map(CARVING, BOARD, pitch=0.5)


def test_features_lie_on_the_lips_and_carry_their_risks():
    found = json.loads(json.dumps(MAP.__geo_interface__))
    assert found["type"] == "FeatureCollection"
    assert len(found["features"]) == MAP.exists.sum()
    lines = {}
    for feature in found["features"]:
        values, line = feature["properties"], shape(feature["geometry"])
        lines.setdefault((values["groove"], values["side"]), []).append(line)
        row = np.argmin(np.abs(MAP.station - values["station_mm"]) + 1e6 * (MAP.groove + 1 != values["groove"]))
        assert values["class"] in (*CLASSES, "not known")
        assert line.length == pytest.approx(values["lip_length_mm"], rel=0.6, abs=0.02)
        if MAP.kind[row] == "run":
            k = ("left", "right").index(values["side"])
            assert values["damage"] == pytest.approx(MAP.damage[row, k])
            assert line.distance(shapely.Point(MAP.lip_xy[row, k])) < 1e-9
    # the lips of a ring are two circles, by shapely: rather chords than the arcs, so a little short
    half = float(BIT.half_width(2.0))
    for side, radius in (("left", 12 - half), ("right", 12 + half)):
        merged = shapely.line_merge(shapely.MultiLineString(lines[1, side]))
        assert merged.geom_type == "LineString"
        assert merged.length == pytest.approx(2 * np.pi * radius, rel=1e-3)
        assert shapely.hausdorff_distance(merged, shapely.Point(0, 0).buffer(radius, 256).exterior) < 0.01
    assert len(cs.paths_from(MAP, 1.0)) == MAP.exists.sum()  # a map can be laid over a design, and read as one


def test_what_is_not_known_is_none_and_gaps_stay_gaps():
    crossed = cs.Carving((cs.Cut(BIT, cs.line((-10, 0), (10, 0), 2.0), 17_000, 1500),
                          cs.Cut(BIT, cs.line((0, -10), (0, 10), 2.0), 17_000, 1500)))  # fmt: skip
    end_grain = cs.Board(cs.wood("sugar maple"), cs.straight_grain(0, 90))
    found = cs.risk_map(crossed, end_grain, pitch=0.5).__geo_interface__["features"]
    assert {f["properties"]["damage"] for f in found} == {None}
    assert {f["properties"]["class"] for f in found} == {"not known"}
    half = float(BIT.half_width(2.0))
    inside = shapely.box(-0.8 * half, -0.8 * half, 0.8 * half, 0.8 * half)
    assert not any(shape(f["geometry"]).intersects(inside) for f in found)


def test_a_drawing_of_a_map_carries_its_values(tmp_path):
    path = tmp_path / "map.svg"
    assert MAP.to_svg(path) is None
    text = path.read_text(encoding="utf-8")
    assert MAP.to_svg() == text
    handle = io.StringIO()
    MAP.to_svg(handle)
    assert handle.getvalue() == text
    root = ElementTree.fromstring(text)
    space = "{http://www.w3.org/2000/svg}"
    lips = root.find(f"{space}g[@id='lips']")
    assert len(lips) == MAP.exists.sum()
    damage = [float(e.get("data-damage")) for e in lips]
    np.testing.assert_allclose(sorted(damage), np.sort(MAP.damage[MAP.exists]), rtol=1e-5)
    inks = {
        e.get("data-class"): {o.get("stroke") for o in lips if o.get("data-class") == e.get("data-class")} for e in lips
    }
    assert all(len(ink) == 1 for ink in inks.values())
    assert len({*map(frozenset, inks.values())}) == len(inks)
    # our own reader finds every lip where the map has it, in mm
    read = cs.read_svg(path, depth=1.0)
    low = np.vstack([p.xy for p in read]).min(axis=0)
    assert sum(p.length for p in read) > MAP.lip_length.sum() * 0.98
    assert read.size[0] == pytest.approx(np.ptp(np.vstack([p.xy for p in read]), axis=0)[0] + 4, abs=0.02)
    assert low == pytest.approx([2, 2], abs=0.01)


def test_draws_of_a_fit_as_diagnostics_read_them():
    machine = cs.Machine(300, 5000, travel=(600, 400, 90))
    piece = cs.coupon(BIT, BOARD, 16_000, [1400], machine=machine, sectors=8, straight_pair=False, stair=False)
    fitted = cs.fit(piece, cs.invented_grades(piece, seed=4))
    drawn = fitted.posterior(50, chains=3, seed=7)
    again = fitted.draws(150, 7)
    assert {*again.names, "fuzz_cuts", "tear_cuts", "noise"} == set(drawn)
    for name, values in drawn.items():
        assert values.shape == (3, 50) + ((4,) if name.endswith("cuts") else ())
        assert values.dtype == np.float64
    name = again.names[0]
    np.testing.assert_array_equal(drawn[name].ravel(), [getattr(model, name) for model in again.models])
    assert (np.diff(drawn["fuzz_cuts"], axis=-1) > 0).all()
    for wrong in ({"draws": 0}, {"chains": 0}, {"seed": -1}):
        with pytest.raises(cs.DomainError, match=next(iter(wrong))):
            fitted.posterior(**wrong)
    xarray = pytest.importorskip("xarray")
    sizes = {name: ("chain", "draw", "cut")[: values.ndim] for name, values in drawn.items()}
    data = xarray.Dataset({name: (sizes[name], values) for name, values in drawn.items()})
    assert data.sizes == {"chain": 3, "draw": 50, "cut": 4}


def test_sweeps_and_readers_say_what_they_do_to_those_who_listen(caplog, capfd):
    def work():
        bad = replace(RING, path=cs.line((0, 0), (3, 0), 1.0))
        cs.sweep(bad, BOARD, spindle_speed=[17_000], feed=[1200, 1500], pitch=1.0, workers=1)
        cs.read_rs274("G21 G90 S18000 M3\nG0 Z5\nG1 Z-2 F300\nX40 F1500\nG0 Z5\nM2", BIT)

    work()
    assert capfd.readouterr() == ("", "")
    with caplog.at_level(logging.INFO, logger="chipsim"):
        work()
    assert "worked out a sweep of 2 settings" in caplog.text
    assert "read 1 cuts from a program of 6 lines" in caplog.text
    assert {record.name.split(".")[0] for record in caplog.records} == {"chipsim"}
