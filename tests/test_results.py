"""Results behave alike: each prints, iterates, makes its table, and goes through pickles and copies as it is."""

import base64
import copy
import csv
import inspect
import io
import pickle
import pkgutil
import re
import sys
from dataclasses import is_dataclass, replace
from functools import cache
from html import escape
from importlib import import_module
from types import MappingProxyType, SimpleNamespace

import numpy as np
import pytest
from names import NAMES

import chipsim as cs
from chipsim._shared.arrays import seed as checked_seed
from chipsim._shared.tables import Alike, Kept, Result, Rows
from chipsim.choosing.sweeps import Cell
from chipsim.damage.models import layer_of
from chipsim.limits.checks import Limit

BIT = cs.VBit(60, 12.7, 2, 0.2, cutting_length=11, max_spindle_speed=24_000)
BOARD = cs.Board(cs.wood("sugar maple"), cs.straight_grain(20))
MACHINE = cs.Machine(300, 5000, travel=(600, 400, 90), dial=cs.Dial([1, 2], [9150, 17_900]))
LINE = cs.line((0, 0), (6, 0), 2.0)
CUT = cs.Cut(BIT, LINE, 17_000, 1500, machine=MACHINE)
BENT = cs.Cut(BIT, cs.polyline([(3, -4), (3, 4), (8, 5)], 1.5), 16_000, 1400, machine=MACHINE, passes=[0.3])
CARVING = cs.Carving((CUT, BENT))
BESIDE = cs.Carving((CUT, replace(CUT, path=LINE.shifted(0, 3))))


DRAWING = """<svg xmlns="http://www.w3.org/2000/svg" width="40mm" height="30mm" viewBox="0 0 40 30">
<circle id="eye" cx="20" cy="15" r="6"/><path d="M2 28C10 20 30 20 38 28M2 2h36" clip-path="url(#a)"/></svg>"""


@cache
def piece():
    return cs.coupon(BIT, BOARD, 16_000, [1400], machine=MACHINE, sectors=8, straight_pair=False, stair=False)


@cache
def chosen():
    known = {"plunge_feed": 250, "safe_height": 5}
    return cs.recommend(CUT, BOARD, MACHINE, BIT, feeds=[900, 1500], draws=4, workers=1, pitch=1.0, checks=known,
                        waive=["spindle power", "side deflection"])  # fmt: skip


MADE = {
    "Answers": cs.ask_literature,
    "Band": lambda: cs.risk_map(CARVING, BOARD, pitch=1.0, draws=4).band,
    "BitChoice": lambda: cs.best_bit(CUT, BOARD, catalogue=[BIT], vary={"rake": (5, 15)}, draws=2, looks=8, pitch=2.0),
    "Breakouts": lambda: cs.breakouts(CARVING, BOARD),
    "Comparison": lambda: cs.compare({"one": CUT, "two": CARVING}, BOARD, pitch=1.0),
    "Coupon": piece,
    "Drawing": lambda: cs.read_svg(DRAWING, depth=lambda x, y: 1 + y / 40),
    "FittedModel": lambda: cs.fit(piece(), cs.invented_grades(piece(), seed=4)),
    "Forces": lambda: cs.cutting_forces(BENT, BOARD),
    "Grades": lambda: cs.invented_grades(piece(), seed=4),
    "Lands": lambda: cs.thin_lands(BESIDE, BOARD),
    "Layout": lambda: cs.best_layout(CUT, BOARD, step=60, mirrored=True, pitch=1.0),
    "NextPiece": lambda: cs.next_coupon(
        CUT, BOARD, cs.Machine(400, 4000), BIT, speeds=[12_000, 21_000], feeds=[900, 1500], draws=64, repeats=500
    ),
    "Limits": lambda: cs.check_limits(CARVING, board=BOARD),
    "Minutes": lambda: cs.risk_map(CUT, BOARD, pitch=1.0).hand_minutes(),
    "LipStrikes": lambda: cs.lip_strikes(CARVING, pitch=1.0, bundle=layer_of(cs.RiskModel(), CARVING)),
    "Recommendation": chosen,
    "RiskMap": lambda: cs.risk_map(CARVING, BOARD, pitch=1.0, draws=4),
    "Rose": lambda: cs.risk_rose(CUT, BOARD, headings=np.arange(0.0, 180.0, 5.0)),
    "SpeedProfile": lambda: BENT.speed_profile,
    "Summary": lambda: chosen().sweep[0].summary,
    "Sweep": lambda: chosen().sweep,
    "TimeEstimate": lambda: cs.time_estimate(CARVING),
    "ToothPasses": lambda: cs.tooth_passes(
        CUT, start=1, stop=1.2, angles=[30.0, 90.0], heights=[1.0, 1.5], board=BOARD
    ),
    "WidthCard": lambda: cs.width_card(BIT, [1.0, 2.5]),
}
"""One of each result."""

COPIED = {
    "Breakout": lambda: result("Breakouts")[0],
    "Cell": lambda: result("Sweep")[0],
    "failed Cell": lambda: Cell(result("Sweep")[0].setting, None, error="cannot be cut"),
    "Land": lambda: result("Lands")[0],
    "LayoutRow": lambda: result("Layout").rows[-1],
    "Limit": lambda: Limit("tip", float("nan"), 2.0, "mm", float("nan"), "unknown", "look"),
    "Costed": lambda: result("Recommendation").rows[0],
    "BoardOdds": lambda: result("Recommendation").odds,
    "Option": lambda: result("Comparison").options[0],
    "Ring": lambda: piece().rings[0],
}
"""Rows with a life of their own."""


@cache
def result(name):
    return MADE[name]()


def kinds(base):
    """Every class below one, in whichever module."""
    for module in pkgutil.walk_packages(cs.__path__, "chipsim."):
        if "testing" not in module.name:
            import_module(module.name)
    below = {base}
    while more := {k for kind in below for k in kind.__subclasses__()} - below:
        below |= more
    return {kind.__name__ for kind in below}


def test_every_result_has_its_place_here():
    assert kinds(Result) - {"Result", "Rows"} == set(MADE)
    assert kinds(Kept) | kinds(Alike) <= {*MADE, *COPIED, "Kept", "Alike", "Result", "Rows"}


def test_what_a_public_function_returns_is_a_result_or_a_plain_thing():
    """A new class that a public function returns must be a result, or be named here."""
    # the set-up; what was given; what moves
    values = {"Path", "Grain", "Wood", "Carving", "Cut", "Job", "RiskModel", "FuncAnimation"}
    for name in cs.__all__:
        given = getattr(cs, name)
        if inspect.isfunction(given) and not name.startswith(("draw_", "animate_")):
            found = re.findall(r"\b[A-Z]\w+", str(inspect.signature(given).return_annotation))
            assert set(found) <= {*MADE, *values, "Push", "WorkingAngles", "FloatArray", "None"}, name


@pytest.mark.parametrize("name", MADE)
def test_the_last_line_of_a_notebook_is_short_and_print_is_a_report(name):
    made = result(name)
    assert len(repr(made)) < 200
    assert "\n" not in repr(made)
    text = str(made)
    assert text != repr(made)
    assert "object at 0x" not in text
    assert "array(" not in text
    assert text == text.rstrip("\n")
    assert len(text.splitlines()) >= 2 or name == "Breakouts"


@pytest.mark.parametrize("name", COPIED)
def test_a_row_by_itself_is_short(name):
    assert len(repr(COPIED[name]())) < 200


@pytest.mark.parametrize("name", MADE)
def test_it_iterates_over_rows_with_names(name):
    made = result(name)
    rows = [*made]
    assert len(rows) == len(made) > 0
    assert len({type(row) for row in rows}) == 1
    assert hasattr(rows[0], "_fields") or is_dataclass(rows[0])
    if isinstance(made, Rows):
        assert made[0] is rows[0]
        assert [*made[1:]] == rows[1:]
        assert type(made[:1]) is type(made)


@pytest.mark.parametrize("name", ["RiskMap", "LipStrikes", "Rose", "ToothPasses", "WidthCard", "Band"])
def test_rows_are_the_arrays_read_along_their_first_axis(name):
    made = result(name)
    for k, row in enumerate(made):
        for field, value in zip(row._fields, row, strict=True):
            np.testing.assert_array_equal(value, getattr(made, field)[k])


@pytest.mark.parametrize("name", MADE)
def test_the_table_is_the_same_in_a_file_an_open_file_and_as_text(name, tmp_path):
    made, path = result(name), tmp_path / "table.csv"
    text = made.to_csv()
    assert made.to_csv(path) is None
    assert path.read_text(encoding="utf-8") == text
    handle = io.StringIO()
    assert made.to_csv(handle) is None
    assert handle.getvalue() == text
    with open(tmp_path / "other.csv", "w", newline="", encoding="utf-8") as file:
        made.to_csv(file)
    assert (tmp_path / "other.csv").read_bytes() == path.read_bytes()
    rows = list(csv.reader(io.StringIO(text)))
    assert len(rows) > 1
    assert {len(row) for row in rows} == {len(rows[0])}
    assert len(set(rows[0])) == len(rows[0])
    assert "nan" not in {cell for row in rows for cell in row}


@pytest.mark.parametrize("name", MADE)
def test_every_heading_of_a_quantity_has_its_unit(name):
    for heading, values in result(name)._columns().items():
        first = values.flat[0] if isinstance(values, np.ndarray) else values[0]
        quantity = isinstance(first, float | np.floating)
        assert bool(re.search(r"\[[^\]]+\]$", heading)) == quantity, heading


def test_a_table_is_not_written_into_what_takes_bytes_and_a_bad_place_leaves_nothing(tmp_path):
    with open(tmp_path / "bytes", "wb") as handle, pytest.raises(cs.DomainError, match="path must be open for text"):
        result("Limits").to_csv(handle)
    for wrong in (3, tmp_path, tmp_path / "none" / "a.csv"):
        with pytest.raises(cs.DomainError, match=r"^path must"):
            result("Limits").to_csv(wrong)
    assert [p.name for p in tmp_path.iterdir()] == ["bytes"]
    assert (tmp_path / "bytes").read_bytes() == b""


@pytest.mark.parametrize("name", MADE)
def test_a_frame_holds_the_table(name):
    pandas = pytest.importorskip("pandas")
    made = result(name)
    frame, rows = made.to_frame(), list(csv.DictReader(io.StringIO(made.to_csv())))
    assert isinstance(frame, pandas.DataFrame)
    assert list(frame.columns) == list(rows[0])
    assert len(frame) == len(rows)
    for heading in frame.columns:
        if pandas.api.types.is_float_dtype(frame[heading]):
            written = [float(row[heading] or "nan") for row in rows]
            np.testing.assert_allclose(frame[heading], written, rtol=1e-5, atol=1e-300, err_msg=heading)


def test_without_pandas_the_extra_is_named(monkeypatch):
    monkeypatch.setitem(sys.modules, "pandas", None)
    with pytest.raises(cs.DomainError, match=r"pandas: install chipsim\[frame\]"):
        result("Limits").to_frame()


@pytest.mark.parametrize("name", MADE)
def test_an_xarray_holds_the_table_along_its_axes(name):
    xarray = pytest.importorskip("xarray")
    made = result(name)
    data, frame = made.to_xarray(), made.to_frame()
    assert isinstance(data, xarray.Dataset)
    names = {heading.partition(" [")[0]: heading for heading in frame.columns}
    assert {*data.data_vars, *data.coords} == set(names)
    axes = made._axes
    for short, heading in names.items():
        spread = data[short].broadcast_like(data[max(data.variables, key=lambda v: data[v].ndim)])
        values = spread.transpose(*[a for a in axes if a in spread.dims]).to_numpy().ravel()
        np.testing.assert_array_equal(values, frame[heading].to_numpy(), err_msg=short)
        unit = heading.rstrip("]").partition(" [")[2]
        assert data[short].attrs.get("units", "") == ("1" if unit == "-" else unit)
    if name == "ToothPasses":
        assert data.chip_thickness.dims == ("pass", "angle", "height")
        assert data.flute.dims == ("pass",)
        assert data.sel(angle=90.0, height=1.0).sizes == {"pass": len(made)}
    if name == "RiskMap":
        assert (data.station.dims, data.fuzz.dims, data.side.dims) == (("row",), ("row", "side"), ("side",))
        assert data.sel(side="left").damage.size == len(made)


def test_without_xarray_the_extra_is_named(monkeypatch):
    monkeypatch.setitem(sys.modules, "xarray", None)
    with pytest.raises(cs.DomainError, match=r"xarray: install chipsim\[xarray\]"):
        result("Limits").to_xarray()


DRAWN = ("RiskMap", "Rose")


@pytest.mark.parametrize("name", DRAWN)
def test_a_notebook_shows_the_picture_over_the_table_and_leaves_no_figure_open(name):
    import matplotlib.pyplot as plt

    before = plt.get_fignums()
    picture, text = result(name)._repr_png_(), result(name)._repr_html_()
    assert picture.startswith(b"\x89PNG")
    start = '<img alt="' + escape(repr(result(name)))
    assert text.startswith(start)
    assert base64.b64encode(picture).decode() in text
    assert plt.get_fignums() == before
    assert result("Limits")._repr_png_() is None


@pytest.mark.parametrize("name", MADE)
def test_a_notebook_shows_a_plain_table(name):
    text = result(name)._repr_html_()
    if name in DRAWN:
        text = text[text.index("<table>") :]
    assert text.startswith("<table>")
    assert text.endswith("</table>")
    assert set(re.findall(r"</?(\w+)", text)) <= {"table", "caption", "thead", "tbody", "tr", "th", "td"}
    assert set(re.findall(r"\b(\w+)=\"", text)) <= {"colspan"}
    lines = len(result(name).to_csv().splitlines()) - 1
    assert text.count("<tr>") == 1 + min(lines, 40) + (lines > 40)
    assert (f"and {lines - 40} more lines" in text) == (lines > 40)


def test_words_of_a_user_are_words_in_a_notebook():
    bold = cs.compare({"<b>one</b> & two": CUT}, BOARD, pitch=2.0)
    assert "<b>" not in bold._repr_html_()
    assert "&lt;b&gt;one&lt;/b&gt; &amp; two" in bold._repr_html_()


def test_a_notebook_does_not_tell_the_grader_which_ring_is_which():
    coupon = cs.coupon(BIT, BOARD, 17_123, [1111, 1234], machine=MACHINE, sectors=8, name="off-cut")
    shown = coupon._repr_html_()
    for telling in ("17123", "1111", "1234", "cw"):
        assert telling not in shown
    assert "1234" in coupon.to_csv()
    codes = re.findall(r"<tr><td>([A-Z])</td>", shown)
    assert codes == sorted(ring.code for ring in coupon)  # nor does the order, which is that of the settings


# --- pickles and copies -----------------------------------------------------------------------------------------------


def parts(thing, seen=None):
    """Attributes of a thing and of what it is made of, arrays and mappings among them."""
    seen = {} if seen is None else seen
    if id(thing) in seen:
        return
    seen[id(thing)] = thing
    if isinstance(thing, np.ndarray | MappingProxyType):
        yield thing
    elif isinstance(thing, tuple):
        for part in thing:
            yield from parts(part, seen)
    elif isinstance(thing, Kept):
        for name in sorted(vars(thing)):
            yield from parts(vars(thing)[name], seen)


@pytest.mark.parametrize("way", ["pickle", "copy"])
@pytest.mark.parametrize("name", [*MADE, *COPIED])
def test_it_comes_back_as_it_was(name, way):
    made = result(name) if name in MADE else COPIED[name]()
    again = pickle.loads(pickle.dumps(made)) if way == "pickle" else copy.deepcopy(made)
    assert type(again) is type(made)
    assert again is not made
    assert str(again) == str(made)
    assert repr(again) == repr(made)
    if type(made).__eq__ is not object.__eq__:
        assert again == made
        assert hash(again) == hash(made)
    if isinstance(made, Result):
        assert again.to_csv() == made.to_csv()
    for one, two in zip(parts(made), parts(again), strict=True):
        assert type(one) is type(two)
        if isinstance(one, np.ndarray):
            assert one.tobytes() == two.tobytes()
            assert one.flags.writeable == two.flags.writeable


def test_a_change_of_what_came_back_is_refused_as_before():
    risk = pickle.loads(pickle.dumps(result("RiskMap")))
    with pytest.raises(ValueError, match="read-only"):
        risk.fuzz[0, 0] = 0.5
    with pytest.raises(TypeError):
        risk.setup["wood"] = "oak"


def test_what_differs_is_not_equal():
    limit = COPIED["Limit"]()
    assert limit != replace(limit, value=1.0)
    assert limit != replace(limit, sentence="else")
    assert result("Limits") != result("Limits")[1:]
    row = result("Layout").rows[0]
    assert row != replace(row, rotation=row.rotation + 1)
    assert row != result("Limits")


# --- the best ---------------------------------------------------------------------------------------------------------


RANKED = ("Comparison", "Layout", "Rose", "Sweep")


@pytest.mark.parametrize("name", [*RANKED, "Recommendation"])
@pytest.mark.parametrize("risk", ["damage", "fuzz"])
def test_best_is_one_row_with_the_least_of_a_risk(name, risk):
    made = result(name)

    def mean(row):
        row = row.cell if name == "Recommendation" and hasattr(row, "cell") else row
        return round(float(getattr(row, risk).mean() if name == "Rose" else row.summary.mean[risk]), 9)

    best = made.best(risk)
    assert mean(best) == min(mean(row) for row in made)
    if name in RANKED:
        ranked = made.ranked(3, risk)
        assert mean(ranked[0]) == mean(best)
        assert [mean(row) for row in ranked] == sorted(mean(row) for row in ranked)
        assert len(made.ranked(1, risk)) == 1
    for wrong in ("smoke", None, 3):
        with pytest.raises(cs.DomainError, match="risk must be one of"):
            made.best(wrong)


def test_nothing_is_best_where_nothing_is_known():
    bare = cs.Board(cs.wood("sugar maple"), cs.straight_grain(0, 90))  # end grain, which no risk is modelled of
    assert cs.compare([CUT], bare, pitch=1.0).best() is None
    assert cs.best_layout(CUT, bare, step=90, pitch=1.0).best() is None
    assert cs.risk_rose(CUT, bare, headings=[0.0, 90.0]).best() is None
    assert cs.sweep(CUT, bare, feed=[900, 1500], pitch=1.0, workers=1).best() is None
    refused = cs.recommend(CUT, BOARD, MACHINE, BIT, feeds=[900], draws=0, workers=1, pitch=1.0)
    assert refused.best() is None
    assert refused  # an answer all the same, though no row


# --- one word for one argument ----------------------------------------------------------------------------------------

FUNCTIONS = {name: given for name, given in NAMES.items() if inspect.isfunction(given)}


def test_what_takes_a_cut_or_a_carving_calls_it_carving_and_has_it_first():
    both = []
    for name, function in FUNCTIONS.items():
        for k, (argument, p) in enumerate(inspect.signature(function).parameters.items()):
            if str(p.annotation) in ("Carving | Cut", "Cut | Carving", "Job"):
                both.append(name)
                first = 1 if name == "lip_push" else 0  # what it is asked of are strikes; the carving says whose
                assert (k, argument, str(p.annotation) == "Cut | Carving") == (first, "carving", False), name
    assert {"risk_map", "lip_strikes", "groove_volume", "check_limits", "with_bit", "recommend"} <= set(both)


def test_pitch_is_the_same_everywhere_or_its_docstring_says_why_not():
    others = {"best_bit": 1.0, "recommend": 0.5, "thin_lands": 0.5, "groove_volume": 0.05}
    for name, function in FUNCTIONS.items():
        p = inspect.signature(function).parameters.get("pitch")
        if p is not None:
            assert p.default == others.get(name, 0.25), name
            assert (
                re.search(r"(twice|four times|finer than) that of a map", inspect.getdoc(function)) is not None
            ) == (name in others)


def test_seeds_are_whole_numbers_of_63_bits_and_every_bit_counts():
    assert [checked_seed(s) for s in (0, 3.0, np.int64(7), 2**53 + 1, 2**63 - 1)] == [0, 3, 7, 2**53 + 1, 2**63 - 1]
    for wrong in (-1, 2**63, 10**400, 0.5, float("nan"), True, "1", None, [1]):
        with pytest.raises(cs.DomainError, match=r"^seed must"):
            checked_seed(wrong)
    grades = [cs.invented_grades(piece(), seed=s).rows for s in (2**63 - 1, 2**63 - 2)]
    assert grades[0] != grades[1]
    asked = {n for n, f in FUNCTIONS.items() if "seed" in inspect.signature(f).parameters}
    drawn = {"best_bit", "best_layout", "compare", "model_draws", "recommend", "risk_map", "risk_rose"}
    assert asked == {"coupon", "invented_grades", "next_coupon", "write_grade_form"} | drawn
    ask = {"feeds": [900], "draws": 2, "workers": 1, "pitch": 1.0}
    calls = {
        "coupon": lambda s: cs.coupon(BIT, BOARD, 16_000, [1400], machine=MACHINE, seed=s),
        "invented_grades": lambda s: cs.invented_grades(piece(), seed=s),
        "next_coupon": lambda s: cs.next_coupon(
            CUT, BOARD, cs.Machine(400, 4000), BIT, speeds=[16_000], feeds=[900], draws=64, seed=s
        ),
        "recommend": lambda s: cs.recommend(CUT, BOARD, MACHINE, BIT, seed=s, **ask),
        "best_bit": lambda s: cs.best_bit(CUT, BOARD, vary={"rake": (5, 15)}, looks=8, draws=2, pitch=4.0, seed=s),
        "best_layout": lambda s: cs.best_layout(CUT, BOARD, step=90, pitch=1.0, draws=2, seed=s),
        "compare": lambda s: cs.compare([CUT, BENT], BOARD, pitch=1.0, draws=2, seed=s),
        "model_draws": lambda s: cs.model_draws(2, seed=s),
        "risk_map": lambda s: cs.risk_map(CUT, BOARD, pitch=1.0, draws=2, seed=s),
        "risk_rose": lambda s: cs.risk_rose(CUT, BOARD, headings=[0.0, 30.0], draws=2, seed=s),
        "write_grade_form": lambda s: cs.write_grade_form(piece(), seed=s),
    }
    assert set(calls) == asked
    for call in calls.values():
        call(2**63 - 1)
        with pytest.raises(cs.DomainError, match=r"^seed must"):
            call(2**63)


def test_workers_and_threads_have_one_range():
    for most, call in (
        ("workers", lambda n: cs.sweep(CUT, BOARD, feed=[900], pitch=2.0, workers=n)),
        ("threads", lambda n: cs.risk_map(CUT, BOARD, pitch=2.0, threads=n)),
        ("threads", lambda n: cs.lip_strikes(CUT, pitch=2.0, threads=n)),
    ):
        for wrong in (0, 1025, 1.5):
            with pytest.raises(cs.DomainError, match=rf"^{most} must .* \[1, 1024\]"):
                call(wrong)


def test_a_test_piece_takes_what_a_cut_takes_in_its_order_and_with_its_force():
    one, two = (inspect.signature(f).parameters for f in (cs.Cut, cs.coupon))
    assert list(two)[:4] == ["bit", "board", "spindle_speed", "feed"]
    for name in ("bit", "spindle_speed", "feed", "spin", "machine"):
        assert one[name].kind == two[name].kind, name
    assert two["board"].kind == two["feed"].kind
    assert [n for n in one if n in two] == [n for n in ("bit", "spindle_speed", "feed", "spin", "machine")]


# --- results of what was one cut, one kind of bit ---------------------------------------------------------------------


def test_strikes_of_a_carving_are_those_of_its_map_row_by_row():
    strikes, risk = result("LipStrikes"), result("RiskMap")
    np.testing.assert_array_equal(strikes.groove, risk.groove)
    for name in ("station", "xy", "lip_xy", "lip_length", "exists"):
        np.testing.assert_array_equal(getattr(strikes, name), getattr(risk, name))
    np.testing.assert_array_equal(strikes.counts, risk.strikes)
    biggest = np.where(np.isnan(strikes.chips), 0.0, strikes.chips).max(axis=-1)
    # the map has draws: its teeth are followed through a thicker layer
    np.testing.assert_allclose(biggest[risk.exists], risk.largest_chip[risk.exists], rtol=0, atol=1e-12)
    assert set(strikes.groove) == {0, 1}
    alone, carved = cs.lip_strikes(BENT, pitch=1.0), cs.lip_strikes(cs.Carving((BENT,)), pitch=1.0)
    assert alone.chips.tobytes() == carved.chips.tobytes()
    assert not alone.groove.any()
    # the first groove takes part of the lips of the one that crosses it
    assert alone.exists.sum() > strikes.exists[strikes.groove == 1].sum()


def test_the_table_of_strikes_has_each_strike_once():
    strikes = result("LipStrikes")
    rows = list(csv.DictReader(io.StringIO(strikes.to_csv())))
    assert len(rows) == strikes.counts.sum()
    chips = np.array([float(row["chip [mm]"]) for row in rows])
    np.testing.assert_allclose(chips, strikes.chips[~np.isnan(strikes.chips)], rtol=1e-5)
    last = max(int(row["strike"]) for row in rows)
    assert last == strikes.counts.max()


def test_a_bit_that_has_a_radius_and_no_knots_keeps_the_width():
    numbers = {name: getattr(BIT, name) for name in ("flutes", "rake", "clearance", "edge_radius", "runout")}

    def radius(height):
        h = np.minimum(np.asarray(height, dtype=float), 3.0)
        return np.sqrt(6 * h - h**2)

    cove = SimpleNamespace(
        radius=radius, diameter=6.0, runout_azimuth=0.0, cutting_length=None, max_spindle_speed=None, **numbers
    )
    plan = cs.Carving((CUT, replace(BENT, passes=None)))
    fitted = cs.with_bit(plan, cove)
    for old, new in zip(plan, fitted, strict=True):
        width = float(2 * old.half_width(old.path.depth.max()))
        assert float(2 * new.half_width(new.path.depth.max())) == pytest.approx(width, abs=1e-6)
        # r^2 = 6 h - h^2, solved for h
        assert new.path.depth.max() == pytest.approx(3 - np.sqrt(9 - width**2 / 4), abs=1e-6)
    wide = replace(CUT, path=replace(LINE, depth=np.full(2, 8.0)))
    with pytest.raises(cs.DomainError, match="bit must be as wide as the grooves"):
        cs.with_bit(wide, cove)


def test_a_rose_takes_what_a_test_piece_has_taught():
    fitted = result("FittedModel")
    rose = cs.risk_rose(CUT, BOARD, headings=[0.0, 45.0], model=fitted)
    assert fitted.learned in " ".join(str(rose).split())
    assert not np.array_equal(rose.fuzz, cs.risk_rose(CUT, BOARD, headings=[0.0, 45.0]).fuzz)
