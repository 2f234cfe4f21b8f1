"""The map as an object: report, reasons, files, a model of one's own."""

import csv
from dataclasses import dataclass, replace

import numpy as np
import pytest

import chipsim as cs
from chipsim.damage.maps import CLASSES, DOUBTS

BOARD = cs.Board(cs.wood("black cherry", moisture=8), cs.straight_grain(0))
BIT = cs.VBit(60, 12.7, 2, 0.2)
RING = cs.Cut(BIT, cs.ring(20, 2.5), 18000, 1500)
STROKE = cs.Cut(BIT, cs.polyline([(0, 0), (20, 0), (30, 15)], [0.5, 2.0, 2.5]), 18000, 1500)


@pytest.fixture(scope="module")
def ring():
    return cs.risk_map(RING, BOARD)


@pytest.fixture(scope="module")
def stroke():
    return cs.risk_map(STROKE, BOARD)


def test_contract(ring):
    n = len(ring)
    assert ring.station.shape == (n,)
    assert ring.xy.shape == (n, 2)
    assert ring.lip_xy.shape == (n, 2, 2)
    for name in (
        "lip_length",
        "exists",
        "fibre_angle",
        "cutting_speed",
        "feed_per_tooth",
        "strikes",
        "tear_depth",
        "damage",
    ):
        assert getattr(ring, name).shape == (n, 2)
    for name in ("fuzz", "tear", "scorch", "damage"):
        assert ((ring.values(name) >= 0) & (ring.values(name) <= 1)).all()
    np.testing.assert_allclose(1 - ring.damage, (1 - ring.fuzz) * (1 - ring.tear) * (1 - ring.scorch), atol=1e-12)
    np.testing.assert_allclose(ring.feed_per_tooth, RING.feed_per_tooth)
    with pytest.raises(ValueError, match="read-only"):
        ring.fuzz[0, 0] = 1


def test_mean_and_classes_weigh_by_length(ring):
    by_hand = np.sum(ring.fuzz * ring.lip_length) / ring.lip_length.sum()
    assert ring.mean("fuzz") == pytest.approx(by_hand, rel=1e-12)
    lengths = ring.lengths_by_class("fuzz")
    assert sum(lengths.values()) == pytest.approx(ring.lip_length.sum(), rel=1e-9)
    assert lengths["re-cut"] == pytest.approx(ring.lip_length[ring.fuzz >= CLASSES["heavy sanding"]].sum())


def test_speed_of_the_lips_is_swing_plus_or_minus_feed(ring):
    """Clockwise: the left wall's edge moves with the feed, the right wall's against it."""
    swing, feed = 18000 * 2 * np.pi / 60 * float(BIT.half_width(2.5)), 25.0
    np.testing.assert_allclose(ring.cutting_speed[:, 0], (swing + feed) / 1000, rtol=1e-12)
    np.testing.assert_allclose(ring.cutting_speed[:, 1], (swing - feed) / 1000, rtol=1e-12)


def test_report_in_both_units(ring):
    text = str(ring)
    for piece in (
        "125.7 mm (4.95 in) long",
        "1500 mm/min (59 in/min)",
        "0.042 mm (1.6 thou)",
        "light sanding",
        "starting guesses",
    ):
        assert piece in text
    assert "Sealing the face is not modelled" in text
    assert "Wear eye and ear protection." in " ".join(text.split())


def test_why_names_grain_strikes_and_reason(ring):
    place = ring.worst_places(1)[0]
    text = ring.why(place.station, place.side)
    assert "with the grain" in text
    assert "strikes meet the last 0.4 mm" in text
    assert "lean out of the wood and bend over before the edge cuts them" in " ".join(text.split())
    assert f"damage {place.peak:.2f}" in text
    assert "The leading cause is fuzz." in text
    assert "clean.\nCracks reach only" in ring.why(10, "left")  # a clean lip has no cause to name
    along = ring.why(31.4, "left")  # a quarter round: the lip runs along the fibres
    assert "run along the lip" in along


def test_ends_plunges_and_corners_have_stations_and_doubts(stroke):
    for kind, code in (("start", 1), ("end", 1), ("corner", 2)):
        rows = stroke.kind == kind
        assert rows.any()
        shown = stroke.exists[rows]
        assert np.isfinite(stroke.fuzz[rows][shown]).all()
        assert (stroke.doubt[rows][shown] == code).all()
        assert np.isfinite(stroke.lip_xy[rows][shown]).all()
    assert "This number leaves something out" in stroke.why(0.0, "left")
    assert DOUBTS[2] in " ".join(str(stroke).split())
    right = stroke.exists[stroke.kind == "corner"]
    assert right[:, 1].all()  # a left turn: the right lip goes round outside
    assert not right[:, 0].any()


def test_tip_zone_is_doubted():
    cut = cs.Cut(cs.VBit(60, 12.7, 2), cs.line((0, 0), (10, 0), (0.0, 2.0)), 15000, 6000)
    risk = cs.risk_map(cut, BOARD)
    shallow = risk.exists & (risk.depth < 0.25)[:, None] & (risk.kind == "run")[:, None]
    assert (risk.doubt[shallow] == 3).all()


def test_entry_lip_is_left_for_cw_and_right_for_ccw(ring):
    other = cs.risk_map(replace(RING, spin="ccw"), BOARD)
    assert (ring.lip_kind("left"), other.lip_kind("left")) == ("entry", "exit")


def test_save_load_round_trip(ring, tmp_path):
    file = tmp_path / "map.npz"
    ring.save(file)
    back = cs.RiskMap.load(file)
    for name in ("station", "lip_xy", "fuzz", "tear", "exists", "kind", "doubt"):
        np.testing.assert_array_equal(getattr(back, name), getattr(ring, name))
    assert str(back) == str(ring)
    assert back.why(12, "right") == ring.why(12, "right")
    again = tmp_path / "again.npz"
    back.save(again)
    assert again.read_bytes() == file.read_bytes()


@pytest.mark.parametrize("content", [b"", b"PK\x03\x04 rubbish", b"station,fuzz\n1,2\n"])
def test_loading_rubbish_is_refused(tmp_path, content):
    file = tmp_path / "bad.npz"
    file.write_bytes(content)
    with pytest.raises(cs.DomainError, match="path must hold a saved risk map"):
        cs.RiskMap.load(file)


def test_loading_another_archive_gives_no_unsafe_advice(tmp_path):
    """numpy's own message asks to load what it does not know unsafely."""
    np.savez(tmp_path / "other.npz", chipsim_risk_map=np.array([object()], dtype=object))
    with pytest.raises(cs.DomainError, match=r"Choose the \.npz file that RiskMap.save wrote") as error:
        cs.RiskMap.load(tmp_path / "other.npz")
    assert "pickle" not in str(error.value)
    assert "unsafe" not in str(error.value)


def test_loading_another_npz_or_version_is_refused(tmp_path):
    file = tmp_path / "other.npz"
    np.savez(file, a=np.arange(3))
    with pytest.raises(cs.DomainError, match="path"):
        cs.RiskMap.load(file)
    np.savez(file, chipsim_risk_map=np.array(99), settings=np.array("{}"))
    with pytest.raises(cs.DomainError, match="format 99"):
        cs.RiskMap.load(file)
    with pytest.raises(FileNotFoundError):
        cs.RiskMap.load(tmp_path / "none.npz")


def test_csv_has_units_and_one_line_a_lip(ring, tmp_path):
    file = tmp_path / "map.csv"
    ring.to_csv(file)
    with open(file, newline="", encoding="utf-8") as handle:
        rows = list(csv.DictReader(handle))
    assert len(rows) == 2 * len(ring)
    assert float(rows[5]["fuzz [-]"]) == pytest.approx(ring.fuzz[2, 1], rel=1e-5)
    assert rows[5]["side"] == "right"
    assert {"station [mm]", "lip_x [mm]", "cutting_speed [m/s]", "fibre_angle [deg]"} <= set(rows[0])
    assert float(rows[5]["damage [-]"]) == pytest.approx(ring.damage[2, 1], rel=1e-5)


@dataclass(frozen=True)
class ByChip:
    """A user's model: the thicker the thickest chip, the fuzzier."""

    bundle: float = 0.1
    broken: bool = False

    def lip_risks(self, strikes, fibres, cut, wood):
        value = np.nan_to_num(np.nanmax(np.nan_to_num(strikes.chips), axis=-1))
        return {"fuzz": value[:, :1] if self.broken else np.clip(value, 0, 1)}


def test_a_model_of_ones_own(tmp_path):
    risk = cs.risk_map(RING, BOARD, model=ByChip())
    assert 0 < risk.mean("fuzz") < 1
    assert "ByChip" in str(dict(risk.setup))
    assert "tear" not in str(risk)  # not modelled, not shown
    assert np.isnan(risk.mean("tear"))
    np.testing.assert_allclose(risk.damage, risk.fuzz, atol=1e-15)
    assert risk.why(3, "left")
    risk.save(tmp_path / "own.npz")
    cs.RiskMap.load(tmp_path / "own.npz")
    with pytest.raises(cs.DomainError, match="lip_risks"):
        cs.risk_map(RING, BOARD, model=ByChip(broken=True))


def test_the_default_model_describes_itself():
    text = cs.RiskModel().describe()
    for piece in ("bundle", "McKenzie & Karpovich 1968", "prior range", "chosen among trial sets"):
        assert piece in text
    with pytest.raises(cs.DomainError, match="exponent"):
        cs.RiskModel(exponent=0)
    with pytest.raises(cs.DomainError, match="drag"):
        cs.RiskModel(drag=2)


def test_critical_speed_is_hunts():
    """v_c = stress / (sqrt 3 rho c), c = sqrt(E / rho): Hunt 1960, JASA 32:1123 (formula from memory, derived)."""
    maple = cs.wood("sugar maple")
    c = np.sqrt(1.1 * 12600e6 / maple.density)
    assert cs.RiskModel().critical_speed(maple) == pytest.approx(65e6 / (np.sqrt(3) * maple.density * c), rel=1e-12)


def test_hazard_by_hand():
    """One lip, no scatter: the formulas of the docstring evaluated by hand."""
    model = cs.RiskModel(scatter=0.0, turn=0.0)
    board = cs.Board(cs.wood("black cherry"), cs.straight_grain(120))
    cut = cs.Cut(cs.VBit(90, 12.7, 1), cs.line((0, 0), (30, 0), 3.0), 16000, 1000)
    strikes = cs.lip_strikes(cut, pitch=1.0, bundle=0.4)
    risk = cs.risk_map(cut, board, model=model, pitch=1.0)
    i = int(np.flatnonzero(risk.kind == "run")[15])
    h, y, v = (a[i, 0, : strikes.counts[i, 0]] for a in (strikes.chips, strikes.depths, strikes.cutting_speeds))
    h, weight = h * (1 - y / 3.0), 1 - y / 0.4
    wood = board.wood
    theta = np.degrees(np.arctan2(np.sin(np.radians(120)) * np.cos(np.pi / 4), np.cos(np.radians(120)))) % 180
    assert risk.fibre_angle[i, 0] == pytest.approx(theta, abs=1e-9)
    lean = np.radians(180 - theta)
    floor = 0.05 * np.cos(lean)
    support = floor + (1 - floor) * np.exp(-max(0.0, np.cos(lean) - 0.33 * np.sin(lean)) / 0.05)
    k = np.exp(-np.tan(np.arctan(0.33) - np.radians(10)))
    bite = h / 0.008 / np.sqrt(1 + (0.06 * h / 0.008) ** 2) * wood.compression_perpendicular / 4.4
    maple = cs.wood("sugar maple")
    critical = 65e6 / np.sqrt(3 * 1.1 * 12_600e6 * maple.density) * (10.1 / wood.compression_perpendicular) ** 0.25
    inertia = v / critical * (1 - np.exp(-h / (0.2 * 0.008)))
    hazard = np.sum((k * weight * (bite * support + inertia) * np.sin(np.radians(120))) ** 3.0)
    assert risk.hazard[i, 0] == pytest.approx(hazard, rel=1e-9)
    stands, loose = (1 + 0.2 * hazard) ** -5, 0.05 * (1 - np.exp(-4.0 * 0.008 / 0.4))
    fuzz = np.sin(np.radians(120)) ** 2 * (stands + loose * (1 - stands))
    assert risk.fuzz[i, 0] == pytest.approx(fuzz, rel=1e-9)
    assert risk.support[i, 0] == pytest.approx(support, rel=1e-9)


def test_rub_count_follows_the_formula():
    """N = h_min r / (f_z^2 cos a), derived: strikes that bite less than h_min, within one pass and 7 %."""
    for angle, depth, feed in ((60, 4.0, 1500), (90, 3.0, 2400), (120, 1.5, 1200)):
        bit = cs.VBit(angle, 16, 2)
        cut = cs.Cut(bit, cs.line((0, 0), (30, 0), depth), 15000, feed)
        risk = cs.risk_map(cut, BOARD, pitch=0.031)
        rows = (risk.kind == "run") & (risk.station > 10) & (risk.station < 25)
        formula = 0.008 * float(bit.half_width(depth)) / (cut.feed_per_tooth**2 * np.cos(np.radians(angle / 2)))
        assert abs(risk.rubs[rows].mean() - formula) < 1 + 0.07 * formula


def test_rose_is_the_straight_groove_in_every_direction():
    """Against maps of straight strokes; half-turn period for flat grain."""
    cut = cs.Cut(BIT, cs.line((0, 0), (30, 0), 2.5), 18000, 1500)
    rose = cs.risk_rose(cut, BOARD, headings=[0, 35, 90, 145, 215, 325])
    assert rose.fuzz[1] == pytest.approx(rose.fuzz[4], rel=1e-9)
    for heading, value in zip(rose.heading, rose.fuzz, strict=True):
        stroke = cs.risk_map(replace(cut, path=cut.path.rotated(heading)), BOARD, pitch=0.031)
        rows = (stroke.kind == "run") & (stroke.station > 10) & (stroke.station < 25)
        np.testing.assert_allclose(value, stroke.fuzz[rows].mean(axis=0), atol=0.01)


def test_grain_field_is_asked_at_the_lips():
    asked = []

    def field(x, y):
        asked.append(np.stack([x, y], axis=-1))
        return np.degrees(np.arctan2(y, x)) + 90, np.zeros_like(x)  # growth rings: always along a ring's lips

    risk = cs.risk_map(RING, cs.Board(BOARD.wood, cs.grain_field(field, "rings")))
    np.testing.assert_allclose(np.concatenate(asked), risk.lip_xy[risk.exists], atol=1e-12)
    turned = np.minimum(risk.fibre_angle, 180 - risk.fibre_angle)
    np.testing.assert_allclose(turned, 0, atol=1e-6)
    assert np.ptp(risk.fuzz[20:-20], axis=0).max() < 0.02


def test_why_answers_for_a_stretch_where_it_is_worst():
    """Corners and ends have many places at one arc length, and a carving many grooves: a stretch names its own."""
    board = cs.Board(cs.wood("black walnut"), cs.straight_grain(20))
    bend = cs.Cut(cs.VBit(60, 12.7, 2), cs.polyline([(0, 0), (15, 12), (30, 0)], 2.0), 16_000, 1500)
    carving = cs.Carving((bend, replace(bend, path=bend.path.shifted(0, 30).rotated(40))))
    risk = cs.risk_map(carving, board, pitch=0.5)
    places = risk.worst_places(5)
    assert {p.groove for p in places} == {0, 1}
    turning = 0
    for place in places:
        assert f"damage {place.peak:.2f}" in risk.why(place)
        at = np.abs(risk.station - place.station) < 1e-9
        turning += int((at & (risk.groove == place.groove)).sum() > 1)
        side = 0 if place.side == "left" else 1
        worst = np.nanmax(risk.damage[at & (risk.groove == place.groove) & risk.exists[:, side], side])
        assert f"damage {worst:.2f}" in risk.why(place.station, place.side, place.groove)
    assert turning
    with pytest.raises(cs.DomainError, match="side"):
        risk.why(3.0)
