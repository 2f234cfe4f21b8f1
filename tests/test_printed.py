"""Tables, inches, sheet and form against the numbers they are made of."""

import csv
import io
import re

import numpy as np
import pytest

import chipsim as cs
from chipsim.damage.maps import CLASSES, DOUBTS
from chipsim.learning.sheets import grading_pages
from chipsim.scene.grain import grain_words

BIT = cs.VBit(60, 12.7, 2, 0.2)
MACHINE = cs.Machine(acceleration=400, max_feed=4000, plunge_feed=500)
BOARD = cs.Board(cs.wood("black walnut", moisture=9), cs.straight_grain(25, 6))
CARVING = cs.Carving(
    [
        cs.Cut(BIT, cs.polyline([(0, 0), (14, 3), (11, 12)], [0.8, 2.1, 2.6]), 17_000, 1450, machine=MACHINE),
        cs.Cut(cs.VBit(90, 9.0, 1), cs.ring(6.5, 1.9).shifted(40, 0), 14_500, 830, spin="ccw", machine=MACHINE),
    ]
)
COUPON = cs.coupon(
    BIT, cs.Board(BOARD.wood, cs.straight_grain(0)), 17_400, [1130, 2070], machine=MACHINE, name="plank 3"
)


@pytest.fixture(scope="module")
def risk():
    return cs.risk_map(CARVING, BOARD, pitch=1.0)


def rows_of(path):
    with open(path, newline="", encoding="utf-8") as handle:
        return list(csv.DictReader(handle))


def test_every_column_of_a_maps_table_is_the_maps_own_array(risk, tmp_path):
    """In the unit of its heading, line by line, to the six digits that are written; none more, none less."""
    risk.to_csv(tmp_path / "map.csv")
    rows = rows_of(tmp_path / "map.csv")
    both = np.ones((1, 2))
    own = {
        "station [mm]": risk.station[:, None] * both,
        "exists": risk.exists,
        "groove": (risk.groove + 1)[:, None] * both,
        "depth [mm]": risk.depth[:, None] * both,
        "half_width [mm]": risk.half_width[:, None] * both,
        "lip_x [mm]": risk.lip_xy[..., 0],
        "lip_y [mm]": risk.lip_xy[..., 1],
        "lip_length [mm]": risk.lip_length,
        "heading [deg]": risk.heading,
        "fibre_angle [deg]": risk.fibre_angle,
        "edge_angle [deg]": risk.edge_angle,
        "cutting_speed [m/s]": risk.cutting_speed,
        "feed_per_tooth [mm]": risk.feed_per_tooth,
        "strikes": risk.strikes,
        "rubs": risk.rubs,
        "tear_depth [mm]": risk.tear_depth,
        "temperature [C]": risk.temperature,
        "fuzz [-]": risk.fuzz,
        "tear [-]": risk.tear,
        "scorch [-]": risk.scorch,
        "damage [-]": risk.damage,
    }
    assert list(rows[0]) == [*list(own)[:1], "side", *list(own)[1:3], "kind", *list(own)[3:], "leaves out"]
    assert [row["leaves out"] for row in rows] == [DOUBTS[code] for code in risk.doubt.ravel().tolist()]
    assert len(rows) == 2 * len(risk)
    for name, values in own.items():
        written = np.array([float(row[name] or "nan") for row in rows])
        np.testing.assert_allclose(written, np.asarray(values, float).ravel(), rtol=1e-5, atol=1e-300, err_msg=name)
    assert [row["side"] for row in rows] == ["left", "right"] * len(risk)
    assert [row["kind"] for row in rows[::2]] == risk.kind.tolist()
    # the arrays themselves: a groove as wide as the bit makes it, wood no colder than the shop and no hotter than fire
    first = risk.groove == 0
    np.testing.assert_allclose(2 * risk.half_width[first], 0.2 + 2 * risk.depth[first] * np.tan(np.pi / 6), rtol=1e-9)
    known = risk.temperature[risk.exists]
    assert 20 <= known.min() <= known.max() < 400


def test_every_column_of_the_tables_of_options_ways_and_settings_is_their_own(tmp_path):
    job, board = CARVING.cuts[0], cs.Board(BOARD.wood, cs.straight_grain(25))
    comparison = cs.compare({"one": job, "two": CARVING}, board, pitch=2.0)
    layout = cs.best_layout(job, board, step=60, pitch=2.0)
    sweep = cs.sweep(job, board, feed=[700.0, 1300.0], pitch=2.0, workers=1)
    for name, table, summaries, times in (
        ("compare", comparison, [o.summary for o in comparison.options], [o.time for o in comparison.options]),
        ("layout", layout, [row.summary for row in layout.rows], []),
        ("sweep", sweep, [cell.summary for cell in sweep], [cell.time for cell in sweep]),
    ):
        table.to_csv(tmp_path / name)
        rows = rows_of(tmp_path / name)
        assert len(rows) == len(summaries)
        for k, (row, summary) in enumerate(zip(rows, summaries, strict=True)):
            for risk, mean in summary.mean.items():
                assert float(row[f"mean {risk} [-]"]) == pytest.approx(mean, rel=1e-5)
                assert float(row[f"worst {risk} [-]"]) == pytest.approx(summary.worst[risk], rel=1e-5)
            for word in (*CLASSES, "not known"):
                assert float(row[f"{word} [mm]"]) == pytest.approx(summary.lengths["damage"][word], rel=1e-5)
            if times:
                assert float(row["time low [s]"]) == pytest.approx(times[k][0], rel=1e-5)
    assert [row["rotation [deg]"] for row in rows_of(tmp_path / "layout")] == ["0", "60", "120"]
    for row, feed in zip(rows_of(tmp_path / "sweep"), (700.0, 1300.0), strict=True):
        assert float(row["feed [mm/min]"]) == feed
        assert float(row["feed [in/min]"]) == pytest.approx(feed / 25.4, rel=1e-4)


# -------------------------------------------------------------------------------------------------- inches

PAIR = re.compile(r"(-?[\d.]+)(?: to (-?[\d.]+))? (mm/min|mm) \((-?[\d.]+)(?: to (-?[\d.]+))? (in/min|in|thou)\)")


def half_a_digit(text):
    """Half of the last digit of a printed number, and some rounding."""
    return 0.5000001 * 10.0 ** -len(text.partition(".")[2])


def assert_inches(text, least):
    """Every pair of metric and inch in a text says the same, as far as it is printed; at least so many pairs."""
    found = PAIR.findall(text)
    assert len(found) >= least, text
    for low, high, metric, one, other, imperial in found:
        assert (metric == "mm/min") == (imperial == "in/min"), text
        factor = 0.0254 if imperial == "thou" else 25.4
        for a, b in ((low, one), (high or low, other or one)):
            assert abs(float(a) - factor * float(b)) <= half_a_digit(a) + factor * half_a_digit(b), (a, b, text)


def test_inches_are_25_4_mm_in_every_report(risk):
    """Twenty-five point four, in running text and in the columns of tables, map, card, limits, lands, piece, forces."""
    cut = CARVING.cuts[0]
    assert_inches(str(risk), 6)
    assert_inches(str(cs.width_card(BIT, [1.0, 2.5])), 4)
    assert_inches(str(cs.check_limits(CARVING)), 8)
    assert_inches(str(cs.cutting_forces(cut, BOARD)), 4)
    near = cs.Carving([cut, cs.Cut(BIT, cut.path.shifted(0, 3.1), 17_000, 1450)])
    assert_inches(str(cs.thin_lands(near, BOARD)), 3)
    assert_inches(str(cs.breakouts(near, BOARD)), 0)
    assert_inches(str(cs.compare([CARVING], BOARD, pitch=2.0)), 4)
    table = [row.split() for row in str(risk).split("share  ")[1].splitlines()[1:6]]
    lengths = list(risk.lengths_by_class().values())
    for cells, length in zip(table, lengths, strict=False):
        at = next(k for k, cell in enumerate(cells) if cell in ("%",)) - 3
        metric, inches = float(cells[at]), float(cells[at + 1])
        assert metric == pytest.approx(length, abs=0.051)
        assert inches == pytest.approx(length / 25.4, abs=0.0051)
    size = re.search(r"([\d.]+) x ([\d.]+) mm \(([\d.]+) x ([\d.]+) in\)", str(COUPON))
    for metric, inches in ((size[1], size[3]), (size[2], size[4])):
        assert float(inches) == pytest.approx(float(metric) / 25.4, abs=0.051)
    assert_inches(str(COUPON), 1)
    sweep = cs.sweep(CARVING.cuts[0], BOARD, feed=[700.0, 1300.0], pitch=2.0, workers=1)
    for row in str(sweep).split("setting\n")[1].splitlines()[:2]:
        metric, inches = map(float, row.split()[2:4])
        assert inches == pytest.approx(metric / 25.4, abs=0.0051 + 0.051 / 25.4)


# ------------------------------------------------------------------------------------------- sheet and form


def turn(wedge):
    """Where a wedge of a sheet begins and ends, in a whole turn. [deg]"""
    return round(wedge.theta1 % 360.0, 6), round(wedge.theta2 % 360.0 or 360.0, 6)


def test_the_sheet_hatches_the_rings_own_join_and_nothing_else():
    """Wedges of the rings and boxes of either reading, hatched where the closing of the ring lies and nowhere else."""
    from matplotlib.patches import Wedge

    step = 360.0 / COUPON.sectors
    first, *rest = pages = grading_pages(COUPON)
    assert len(rest) == 1  # all of the first reading is on one page with the piece
    (ax,) = first.axes
    letters = {text.get_text(): text.get_position() for text in ax.texts if text.get_gid() == "ring"}
    by_centre = {tuple(np.round(letters[ring.code], 6)): ring for ring in COUPON.rings}
    hatched = {ring.code: set() for ring in COUPON.rings}
    for wedge in (p for p in ax.patches if isinstance(p, Wedge) and p.get_hatch()):
        ring = by_centre[tuple(np.round(wedge.center, 6))]
        hatched[ring.code].add(turn(wedge))
        assert wedge.r == pytest.approx(ring.radius + COUPON.width / 2)
        assert wedge.width == pytest.approx(COUPON.width)
    boxes = {(ring.code, lip): set() for ring in COUPON.rings for lip in ("in", "out")}
    named = [
        (patch, *patch.get_gid().split(" ")[1:])
        for page in pages
        for patch in page.axes[0].patches
        if str(patch.get_gid()).startswith("box ")
    ]
    for box, code, lip, number, *_ in named:
        if box.get_hatch() and (code, lip) in boxes:
            boxes[code, lip].add((round((int(number) - 1) * step, 6), round(int(number) * step, 6)))
    counted = [entry for entry in named if entry[-1] == "1" and (entry[1], entry[2]) in boxes]
    assert len(counted) == 2 * COUPON.sectors * len(COUPON.rings)
    for ring in COUPON.rings:
        want = {(round((s - 1) * step, 6), round(s * step, 6)) for s in ring.marked}
        assert hatched[ring.code] == want
        assert boxes[ring.code, "in"] == boxes[ring.code, "out"] == want
        # where the whole turn at full depth begins, so where it closes
        path = ring.cut.path
        station = path.joints[int(np.argmax(path.depth_at(path.joints) > path.depth.max() - 1e-9))]
        x, y = path.position(station) - np.array(ring.centre)
        azimuth = np.degrees(np.arctan2(y, x)) % 360.0
        assert any(low - 1e-6 <= azimuth <= high + 1e-6 for low, high in want)
    assert any(len(ring.marked) < COUPON.sectors / 2 for ring in COUPON.rings)


def test_the_sheets_numbers_stand_in_their_sectors():
    from matplotlib.patches import Wedge

    step = 360.0 / COUPON.sectors
    for page in grading_pages(COUPON):
        (ax,) = page.axes
        centres = {tuple(p.center) for p in ax.patches if isinstance(p, Wedge)}
        for text in ax.texts:
            if text.get_gid() != "sector":
                continue
            at = np.array(text.get_position())
            x, y = min((at - c for c in centres), key=lambda d: np.hypot(*d))
            middle = (int(text.get_text()) - 0.5) * step
            assert abs((np.degrees(np.arctan2(y, x)) - middle + 180) % 360 - 180) < 1e-6


def test_the_form_names_rings_by_the_letters_that_are_cut_and_printed():
    """Letter for letter, in capitals as on sheet and piece; strokes follow; p stands in the boxes with the join."""
    rows = list(csv.DictReader(io.StringIO(cs.write_grade_form(COUPON))))
    letters = {ring.code for ring in COUPON.rings}
    strokes = {stroke.code for stroke in COUPON.strokes}
    assert {row["ring"] for row in rows} == letters | strokes
    assert all(code == code.upper() for code in letters)
    printed = {text.get_text() for page in grading_pages(COUPON) for text in page.axes[0].texts}
    assert letters <= printed
    joins = {(ring.code, str(s)) for ring in COUPON.rings for s in ring.marked}
    boxes = [str(s) for s in range(1, COUPON.sectors + 1)]
    of_rings = [row for row in rows if row["ring"] in letters and row["reading"] == "1"]
    assert {(row["ring"], s) for row in of_rings for s in boxes if row[s] == "p"} == joins
    assert {row["piece"] for row in rows} == {"plank 3"}


# --------------------------------------------------------------------------------------------- words for angles


def test_grain_words_at_their_edges():
    """Within 5 degrees, the fifth itself included, of along and across; beyond, against below 90 and with above."""
    tiny = 1e-9
    for angle, said in (
        (0.0, "along"),
        (5.0, "along"),
        (5.0 + tiny, "against"),
        (85.0 - tiny, "against"),
        (85.0, "across"),
        (90.0, "across"),
        (95.0, "across"),
        (95.0 + tiny, "with"),
        (175.0 - tiny, "with"),
        (175.0, "along"),
        (180.0, "along"),
        (-5.0, "along"),
        (-5.0 - tiny, "with"),
        (185.0 + tiny, "against"),
    ):
        assert grain_words(angle) == f"{said} the grain", angle
    for angle, slack, said in (
        (0.0, 0.0, "along"),
        (tiny, 0.0, "against"),
        (90.0, 0.0, "across"),
        (90.0 - tiny, 0.0, "against"),
        (90.0 + tiny, 0.0, "with"),
        (12.0, 12.0, "along"),
        (12.0 + tiny, 12.0, "against"),
        (78.0, 12.0, "across"),
        (168.0, 12.0, "along"),
    ):
        assert grain_words(angle, slack) == f"{said} the grain", (angle, slack)
    assert grain_words(float("nan")) == "no lip"
