"""Sweeps: every cell is the map it stands for, whoever works it out, and nothing that was finished is lost.

The workers import this module; what they are to do to themselves stands in its models.
"""

from __future__ import annotations

import csv
import json
import multiprocessing
import os
import signal
import subprocess
import sys
import threading
import time
from concurrent.futures import Executor, Future, ProcessPoolExecutor, ThreadPoolExecutor
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
import pytest

import chipsim as cs
from chipsim._shared.keys import key_of
from chipsim.chips import blocks
from chipsim.choosing import sweeps
from chipsim.choosing.records import gather
from chipsim.choosing.summaries import Summary
from chipsim.choosing.variants import centre_of, turned_carving
from chipsim.damage.handwork import lengths_of, middle_draws
from chipsim.damage.maps import RISKS as SINGLE

BIT = cs.VBit(90, 12.7, 2, 0.1, cutting_length=10, max_spindle_speed=20_000)
OTHER = cs.VBit(60, 12.7, 2, 0.2, cutting_length=10, max_spindle_speed=24_000)
MACHINE = cs.Machine(300, 3000, travel=(300, 300, 80), dial=cs.Dial([1, 2, 3], [9_700, 15_200, 20_200]))
CARVING = cs.Carving(
    (
        cs.Cut(BIT, cs.line((0, 0), (6, 1), 2.0), 16_000, 1500, machine=MACHINE),
        cs.Cut(BIT, cs.arc((3, 2), 5, 10, 60, (1.0, 1.5)), 16_000, 1200, machine=MACHINE),
    )
)
WOOD = cs.wood("sugar maple")


def bowed(x, y):
    """A grain field that can be sent to another process."""
    return 30 + 2 * x - y, 3 + 0 * x


BOARD = cs.Board(WOOD, cs.grain_field(bowed))
GRID = {"spindle_speed": [12_000, 18_000, 22_000], "feed": [900, 1500], "passes": [(), 0.2], "rotation": [0, 40]}


@dataclass(frozen=True, kw_only=True)
class Deadly(cs.RiskModel):
    """Kills its process at one feed always and at another once."""

    folder: str = ""

    def __post_init__(self):
        """Nothing to check."""

    def lip_risks(self, strikes, fibres, cut, wood):
        if self.folder and cut.feed == 700:
            os._exit(3)
        if self.folder and cut.feed == 800:
            mark = Path(self.folder) / "once"
            if not mark.exists():
                mark.touch()
                os.kill(os.getpid(), signal.SIGKILL)
        return super().lip_risks(strikes, fibres, cut, wood)


@dataclass(frozen=True, kw_only=True)
class Slow(cs.RiskModel):
    """Takes its time."""

    seconds: float = 0.0

    def __post_init__(self):
        """Nothing to check."""

    def lip_risks(self, strikes, fibres, cut, wood):
        time.sleep(self.seconds)
        return super().lip_risks(strikes, fibres, cut, wood)


@pytest.fixture(scope="module")
def serial():
    return cs.sweep(CARVING, BOARD, bit={"old": BIT, "new": OTHER}, **GRID, pitch=0.5, workers=1)


def test_order_and_count(serial):
    """Definition: the cartesian product, rotation fastest."""
    assert len(serial) == 2 * 3 * 2 * 2 * 2
    first = [(c.setting.name, c.setting.spindle_speed, c.setting.feed, c.setting.passes) for c in serial[:4]]
    assert first == [("old", 12_000, 900, ()), ("old", 12_000, 900, ()), *[("old", 12_000, 900, (0.2,))] * 2]
    assert [c.setting.rotation for c in serial[:4]] == [0, 40, 0, 40]


def test_cells_are_the_maps_they_stand_for(serial):
    """To the last bit against `risk_map`, time and limits against their own functions."""
    for cell in [c for c in serial if not c.error][::3]:
        carving = serial.carving(cell)
        risk = cs.risk_map(carving, serial.board(cell), pitch=0.5)
        assert repr(cell.summary) == repr(Summary.of(risk))
        assert cell.damage == risk.mean("damage")
        assert cell.time == cs.time_estimate(carving).total
        if not cell.setting.rotation:
            assert repr(cell.limits) == repr(tuple(map(sweeps._plain, cs.check_limits(carving))))


def test_a_turned_cell_is_the_turned_carving(serial):
    """Theorem: turning the design is turning the fibres under it; against rotated paths to 1e-9."""
    for cell in [c for c in serial if c.setting.rotation and not c.error][::4]:
        turned = turned_carving(serial.carving(cell), cell.setting.rotation)
        risk = cs.risk_map(turned, BOARD, pitch=0.5)
        assert cell.damage == pytest.approx(risk.mean("damage"), abs=1e-9)
        assert repr(cell.limits) == repr(tuple(map(sweeps._plain, cs.check_limits(turned))))


def test_a_failed_cell_is_reported_in_its_place(serial):
    """22 000 rpm is above the old bit's mark, and only above that."""
    for cell in serial:
        above = cell.setting.name == "old" and cell.setting.spindle_speed == 22_000
        assert bool(cell.error) == above
        assert (cell.summary is None) == above
        if above:
            assert "marked maximum" in cell.error
            assert cell.status == "failed"
            assert np.isnan(cell.damage)
            assert not cell.clear()
    text = " ".join(str(serial).split())
    assert text.count("Cannot be cut: old, 22000 rpm") == 1  # once for all that have one reason
    assert "and 7 more." in text
    assert len(serial.failed) == 8


def test_any_error_of_a_model_is_a_failed_cell():
    class Broken(cs.RiskModel):
        def lip_risks(self, strikes, fibres, cut, wood):
            if cut.feed == 900:
                raise ZeroDivisionError("nothing to divide")
            return super().lip_risks(strikes, fibres, cut, wood)

    found = cs.sweep(CARVING, BOARD, feed=[900, 1500], model=Broken(), pitch=1.0, workers=1)
    assert [cell.error for cell in found] == ["ZeroDivisionError: nothing to divide", ""]


def test_threads_and_processes_give_the_same_bits(serial):
    ask = {"bit": {"old": BIT, "new": OTHER}, **GRID, "pitch": 0.5}
    with ThreadPoolExecutor(3) as threads:
        assert repr(cs.sweep(CARVING, BOARD, **ask, executor=threads).cells) == repr(serial.cells)
    assert repr(cs.sweep(CARVING, BOARD, **ask, workers=2).cells) == repr(serial.cells)


def test_listed_settings_and_generators():
    listed = [{"feed": 900.0}, cs.Setting(feed=1500.0, rotation=40.0), {"passes": 0.2, "bit": OTHER}]
    one = cs.sweep(CARVING, BOARD, listed, pitch=1.0, workers=1)
    two = cs.sweep(CARVING, BOARD, (item for item in listed), pitch=1.0, workers=1)
    assert repr(one.cells) == repr(two.cells)
    assert one[0].damage == cs.risk_map(cs.Setting(feed=900).applied(CARVING), BOARD, pitch=1.0).mean("damage")


def test_settings_are_drawn_as_the_work_goes_on():
    """Of ten thousand settings hardly more are drawn than were mapped when the sweep stops."""
    drawn = []

    class Stop(KeyboardInterrupt):
        pass

    class Third(cs.RiskModel):
        def lip_risks(self, strikes, fibres, cut, wood):
            if cut.feed >= 603:
                raise Stop
            return super().lip_risks(strikes, fibres, cut, wood)

    def listed():
        for feed in range(600, 10_600):
            drawn.append(feed)
            yield {"feed": feed}

    with pytest.raises(Stop):
        cs.sweep(CARVING, BOARD, listed(), model=Third(), pitch=1.0, workers=1)
    assert len(drawn) <= 6


# --- results that outlive the sweep --------------------------------------------------------------


def no_work(*_, **__):
    raise AssertionError("this cell was finished before")


def test_finished_cells_are_not_worked_out_again(tmp_path, serial, monkeypatch):
    ask = {"bit": {"old": BIT, "new": OTHER}, **GRID, "pitch": 0.5, "workers": 1, "results": tmp_path / "kept"}
    assert repr(cs.sweep(CARVING, BOARD, **ask).cells) == repr(serial.cells)
    monkeypatch.setattr(sweeps, "gather", no_work)
    again = cs.sweep(CARVING, BOARD, **ask)
    assert repr(again.cells[:8]) == repr(serial.cells[:8])
    assert repr([c for c in again if not c.error]) == repr([c for c in serial if not c.error])
    assert not list((tmp_path / "kept").glob("*.part"))


def test_a_file_cut_short_is_worked_out_again(tmp_path):
    ask = {"feed": [900, 1500], "pitch": 1.0, "workers": 1, "results": tmp_path}
    whole = cs.sweep(CARVING, BOARD, **ask)
    one, two = sorted(tmp_path.glob("cell-*.json"))
    one.write_text(one.read_text()[:-30])
    two.write_text(json.dumps(json.loads(two.read_text()) | {"key": "another", "time": [1.0, 2.0, 3.0]}))
    assert repr(cs.sweep(CARVING, BOARD, **ask).cells) == repr(whole.cells)
    assert json.loads(one.read_text())["key"] in one.name


@pytest.mark.parametrize(
    "change",
    [
        {"board": cs.Board(WOOD, cs.grain_field(lambda x, y: bowed(x, y)[0]))},
        {"board": cs.Board(cs.wood("white oak"), cs.grain_field(bowed))},
        {"model": cs.RiskModel(friction=0.41)},
        {"pitch": 0.9},
        {"checks": {"plunge_feed": 300}},
        {"carving": turned_carving(CARVING, 90)},
        {"rotation": 1e-3},
        {"feed": 900.0000001},
    ],
    ids=lambda change: next(iter(change)),
)
def test_another_input_is_another_key(tmp_path, change):
    ask = {"carving": CARVING, "board": BOARD, "feed": 900, "pitch": 1.0, "workers": 1, "results": tmp_path}
    cs.sweep(**ask)
    before = set(tmp_path.iterdir())
    cs.sweep(**(ask | change))
    assert len(set(tmp_path.iterdir()) - before) == 1


def test_keys_are_the_same_in_every_process():
    script = f"import sys; sys.path.insert(0, {str(Path(__file__).parent)!r})\n" + (
        "from test_sweeps import CARVING, WOOD, BIT, key_of\n"
        "print(key_of(CARVING.cuts, WOOD, {'b': 1, 'a': (None, True)}, BIT))"
    )
    printed = set()
    for seed in ("1", "2"):
        ask = {"capture_output": True, "text": True, "check": True, "env": os.environ | {"PYTHONHASHSEED": seed}}
        printed.add(subprocess.run([sys.executable, "-c", script], **ask).stdout.strip())
    assert printed == {key_of(CARVING.cuts, WOOD, {"a": (None, True), "b": 1}, BIT)}


def test_what_has_no_content_has_no_key():
    with pytest.raises(cs.DomainError, match="results"):
        key_of(lambda: 3)


# --- killed ----------------------------------------------------------------------------------------


def test_a_worker_killed_loses_nothing_and_one_that_always_dies_is_named(tmp_path):
    feeds = [600, 700, 800, 900, 1000]
    found = cs.sweep(CARVING, BOARD, feed=feeds, model=Deadly(folder=str(tmp_path)), pitch=1.0, workers=2)
    assert (tmp_path / "once").exists()
    good = cs.sweep(CARVING, BOARD, feed=feeds, model=Deadly(), pitch=1.0, workers=1)
    assert "died" in found[1].error
    assert [cell.setting.feed for cell in found.failed] == [700]
    for k in (0, 2, 3, 4):
        assert repr(found[k]) == repr(good[k])


def test_an_engine_whose_worker_is_killed_is_reported_and_the_sweep_goes_on_later(tmp_path):
    """A pool of the user's own breaks: what was finished stays, the rest says why, and a second run does only that."""
    model, folder = Deadly(folder=str(tmp_path)), tmp_path / "kept"
    ask = {"feed": [600, 800, 900], "pitch": 1.0, "model": model, "results": folder}
    with ProcessPoolExecutor(1, multiprocessing.get_context("spawn")) as engine:
        broken = cs.sweep(CARVING, BOARD, **ask, executor=engine)
    assert [cell.error.split(":")[0] for cell in broken] == ["", *["BrokenProcessPool"] * 2]
    (kept,) = folder.glob("cell-*.json")
    written = kept.stat().st_mtime_ns
    again = cs.sweep(CARVING, BOARD, **ask, workers=2)
    assert kept.stat().st_mtime_ns == written
    assert repr(again.cells) == repr(cs.sweep(CARVING, BOARD, feed=[600, 800, 900], pitch=1.0, workers=1).cells)


SCRIPT = """
import sys
sys.path.insert(0, {tests!r})
from test_sweeps import BOARD, CARVING, Slow, cs
if __name__ == "__main__":
    ask = dict(feed=range(600, 1400, 50), model=Slow(seconds=0.15), pitch=1.0, results={folder!r})
    cs.sweep(CARVING, BOARD, workers=2, **ask)
"""


def running(mark):
    """Processes with a mark in their environment."""
    found = []
    for entry in Path("/proc").glob("[0-9]*"):
        try:
            if mark.encode() in (entry / "environ").read_bytes():
                found.append(int(entry.name))
        except OSError:
            continue
    return found


@pytest.mark.skipif(not Path("/proc/self/environ").exists(), reason="looks for processes in /proc")
def test_a_sweep_killed_goes_on_where_it_stopped_and_leaves_no_workers(tmp_path):
    folder, mark = tmp_path / "kept", f"CHIPSIM_TEST_{os.getpid()}"
    script = tmp_path / "sweep.py"
    script.write_text(SCRIPT.format(tests=str(Path(__file__).parent), folder=str(folder)))
    process = subprocess.Popen([sys.executable, str(script)], env=os.environ | {mark: "1"})
    deadline = time.monotonic() + 60
    while len(list(folder.glob("cell-*.json"))) < 3 and time.monotonic() < deadline:
        time.sleep(0.02)
    process.kill()
    process.wait()
    kept = {p: p.stat().st_mtime_ns for p in folder.glob("cell-*.json")}
    assert 3 <= len(kept) < 16
    while running(mark + "=1") and time.monotonic() < deadline:
        time.sleep(0.05)
    assert not running(mark + "=1")

    ask = {"feed": range(600, 1400, 50), "pitch": 1.0, "workers": 1}
    resumed = cs.sweep(CARVING, BOARD, **ask, model=Slow(seconds=0.15), results=folder)
    for path, written in kept.items():
        assert path.stat().st_mtime_ns == written
    assert repr(resumed.cells) == repr(cs.sweep(CARVING, BOARD, **ask).cells)
    assert len(list(folder.glob("cell-*.json"))) == 16


class Shut(Executor):
    """An engine that has gone away."""

    def submit(self, fn, /, *args, **kwargs):
        raise RuntimeError("the engine is gone")


class Dropping(Executor):
    """An engine that loses every second call."""

    count = 0

    def submit(self, fn, /, *args, **kwargs):
        future = Future()
        self.count += 1
        if self.count % 2:
            future.set_result(fn(*args, **kwargs))
        else:
            future.set_exception(ConnectionError("lost on the way"))
        return future


def test_an_engine_that_fails_is_reported_cell_by_cell(tmp_path):
    gone = cs.sweep(CARVING, BOARD, feed=[900, 1500], executor=Shut(), pitch=1.0)
    assert [cell.error for cell in gone] == ["RuntimeError: the engine is gone"] * 2
    ask = {"feed": [800, 900, 1000, 1500], "pitch": 1.0, "results": tmp_path}
    half = cs.sweep(CARVING, BOARD, **ask, executor=Dropping())
    assert [bool(cell.error) for cell in half] == [False, True, False, True]
    whole = cs.sweep(CARVING, BOARD, **ask, workers=1)
    assert not whole.failed
    assert repr(whole[0]) == repr(half[0])


# --- the rest --------------------------------------------------------------------------------------


def test_what_cannot_be_sent_is_refused_before_work_begins():
    board = cs.Board(WOOD, cs.grain_field(lambda x, y: 30 + x))
    with pytest.raises(cs.DomainError, match="workers=1"):
        cs.sweep(CARVING, board, feed=[900, 1500], workers=2)
    assert not cs.sweep(CARVING, board, feed=[900, 1500], workers=1, pitch=1.0).failed


def test_progress_counts_every_cell(monkeypatch, tmp_path):
    seen = {"cells": 0, "closed": 0}

    class Bar:
        def __init__(self, total, unit):
            seen["total"] = total

        def update(self):
            seen["cells"] += 1

        def close(self):
            seen["closed"] += 1

    ask = {"feed": [900, 1500], "rotation": [0, 30], "pitch": 1.0, "workers": 1, "results": tmp_path}
    monkeypatch.setitem(sys.modules, "tqdm.auto", type(sys)("tqdm.auto"))
    sys.modules["tqdm.auto"].tqdm = Bar
    cs.sweep(CARVING, BOARD, **ask, progress=True)
    cs.sweep(CARVING, BOARD, **ask, progress=True)  # those found in the folder count too
    assert seen == {"cells": 8, "closed": 2, "total": 4}
    monkeypatch.setitem(sys.modules, "tqdm.auto", None)
    with pytest.raises(cs.DomainError, match="progress"):
        cs.sweep(CARVING, BOARD, **ask, progress=True)


@pytest.mark.parametrize("threads", [1, 2])
def test_progress_of_a_map_counts_every_station(monkeypatch, threads):
    """Whatever ends it, an interrupt too: the bar is put away, no thread goes on, and the next map is the same."""
    seen = {}

    class Bar:
        def __init__(self, total, unit):
            seen.update(total=total, unit=unit, done=0, closed=0)

        def update(self, count):
            seen["done"] += count

        def close(self):
            seen["closed"] += 1

    monkeypatch.setitem(sys.modules, "tqdm.auto", type(sys)("tqdm.auto"))
    sys.modules["tqdm.auto"].tqdm = Bar
    ask = {"pitch": 0.0025, "threads": threads, "draws": 1}
    whole = cs.risk_map(CARVING, BOARD, **ask, progress=True)
    assert seen == {"total": len(whole), "unit": "station", "done": len(whole), "closed": 1}
    assert len(whole) > 2 * blocks.BLOCK
    before, calls = threading.active_count(), []

    def field(x, y):
        calls.append(len(x))
        if len(calls) == 2:
            raise KeyboardInterrupt
        return np.full(x.shape, 30.0)

    with pytest.raises(KeyboardInterrupt):
        cs.risk_map(CARVING, cs.Board(WOOD, cs.grain_field(field)), **ask, progress=True)
    assert seen["closed"] == 1
    assert seen["done"] < len(whole)
    assert threading.active_count() == before
    for value in (1, None, "yes"):
        with pytest.raises(cs.DomainError, match="progress must be True or False"):
            cs.risk_map(CARVING, BOARD, progress=value)
    again = cs.risk_map(CARVING, BOARD, **ask)
    np.testing.assert_array_equal(again.damage, whole.damage)


def test_table(serial, tmp_path):
    serial.to_csv(tmp_path / "sweep.csv")
    with open(tmp_path / "sweep.csv", newline="", encoding="utf-8") as handle:
        rows = list(csv.DictReader(handle))
    assert len(rows) == len(serial)
    for row, cell in zip(rows, serial, strict=True):
        assert row["bit"] == cell.setting.name
        assert float(row["feed [in/min]"]) == pytest.approx(cell.setting.feed / 25.4, rel=1e-4)
        assert row["error"] == cell.error
        if not cell.error:
            assert float(row["mean damage [-]"]) == pytest.approx(cell.damage, rel=1e-5)
    assert {row["dial [-]"] for row in rows} == {"1.42", "2.56", ""}  # linear between readings; none beyond them
    assert [c.damage for c in serial.ranked(5)] == sorted(c.damage for c in serial if not c.error)[:5]


def test_without_a_machine_time_is_not_known_and_no_limit_clear():
    found = cs.sweep(cs.Cut(BIT, cs.line((0, 0), (6, 1), 2.0), 16_000, 1500), BOARD, workers=1, pitch=1.0)
    assert np.isnan(found[0].time).all()
    assert found[0].status == "unknown"


# --- the same grooves with another bit ----------------------------------------------------------------


def test_another_bit_keeps_the_width():
    """Width at the face at every station, on ramps too, by the bits' own formula r = tip / 2 + h tan a."""
    new = cs.with_bit(CARVING, OTHER)
    for old_cut, new_cut in zip(CARVING, new, strict=True):
        s = np.linspace(0, old_cut.path.length, 40)
        old = BIT.half_width(old_cut.path.depth_at(s))
        np.testing.assert_allclose(OTHER.half_width(new_cut.path.depth_at(s)), old, atol=1e-12)
    assert cs.with_bit(CARVING.cuts[0], OTHER).path.depth[0] == pytest.approx(OTHER.depth_for_width(4.1))
    deep = cs.with_bit(CARVING, OTHER, keep="depth")
    assert [c.path for c in deep] == [c.path for c in CARVING]


def test_a_groove_from_nothing_stays_one_and_a_bend_in_the_outline_is_kept():
    cove = cs.ProfileBit([0, 1, 2], [0, 2, 2.5])
    ramp = cs.Cut(cove, cs.line((0, 0), (10, 0), (0.0, 2.0)), 16_000, 1500)
    new = cs.with_bit(ramp, cs.VBit(90, 12.7))
    assert new.path.depth_at(0.0) == 0
    assert new.path.depth_at(5.0) == pytest.approx(2.0)  # 45 degrees: as deep as half as wide
    assert new.path.depth_at(7.5) == pytest.approx(2.25)
    narrow = cs.Cut(cs.VBit(90, 12.7), cs.line((0, 0), (10, 0), 0.2), 16_000, 1500)
    assert cs.with_bit(narrow, cs.VBit(90, 12.7, 1, 1.0)).path.depth.max() == 0  # the tip is wider than the groove


def test_plunges_follow_the_new_depth():
    plan = cs.read_rs274("G21 G90 G17 G94 S16000 M3\nG0 Z5\nG0 X0 Y0\nG1 Z-2 F300\nG1 X20 F1500\nG0 Z5\nM2", BIT)
    new = cs.with_bit(plan, OTHER)
    depth = new.cuts[0].path.depth.max()
    # in the air the tip comes down to the face, and from there the plunge is the cut's own first piece
    assert {m.end[2] for m in new.air_moves if m.kind == "plunge"} == {0.0}
    assert new.cuts[0].path.depth[0] == 0.0
    assert new.cuts[0].path.drop[0] == depth
    assert depth == pytest.approx(OTHER.depth_for_width(4.1))


def test_a_bit_too_narrow_is_refused():
    with pytest.raises(cs.DomainError, match="bit must be as wide"):
        cs.with_bit(CARVING, cs.VBit(90, 3.0))


# --- strikes that are kept --------------------------------------------------------------------------------


def test_a_record_gives_the_map_to_the_last_bit():
    model = cs.RiskModel()
    record = gather(CARVING, pitch=0.5, bundle=model.bundle)
    one, two = record.map(BOARD, model), cs.risk_map(CARVING, BOARD, pitch=0.5)
    for name, value in vars(two).items():
        if isinstance(value, np.ndarray):
            np.testing.assert_array_equal(getattr(one, name), value, err_msg=name)
    assert dict(one.setup) == dict(two.setup)
    readings = middle_draws(False)
    same = [np.ones(len(readings.shifts))] * len(CARVING.cuts)
    risks = [np.repeat(two.values(name)[..., None], len(readings.shifts), axis=-1) for name in SINGLE]
    graded = lengths_of(readings, risks, np.where(two.exists, two.lip_length, 0.0), taught=False)
    np.testing.assert_allclose(record.lengths(BOARD, model, None, same), graded, rtol=0, atol=1e-9)


@pytest.mark.parametrize("runout", [0.0, 0.03])
def test_a_thinner_layer_can_be_read_from_a_thicker_one(runout):
    """Those strikes that reach within the thinner layer are its own; away from starts to rounding.

    With runout the finished lip lies beyond the nominal one.
    """
    cut = cs.Cut(replace(BIT, runout=runout), cs.line((0, 0), (20, 3), 2.0), 16_000, 1500)
    model = cs.RiskModel(bundle=0.1)
    one = gather(cs.Carving((cut,)), pitch=0.5, bundle=0.7).map(BOARD, model)
    two = cs.risk_map(cut, BOARD, model=model, pitch=0.5)
    run = (two.kind == "run") & (two.station > 4) & (two.station < 16)
    np.testing.assert_array_equal(one.strikes[run], two.strikes[run])
    np.testing.assert_allclose(one.fuzz[run], two.fuzz[run], atol=1e-12)
    assert one.mean("fuzz") == pytest.approx(two.mean("fuzz"), abs=1e-3)
    with pytest.raises(cs.DomainError, match="bundle"):
        gather(CARVING, pitch=1, bundle=0.1).map(BOARD, cs.RiskModel())


def test_the_middle_of_the_box():
    """By hand: an L of two strokes, 2 mm deep at 45 degrees and a tip of 0.1, so 2.05 mm to either side."""
    cuts = tuple(cs.Cut(BIT, cs.line((0, 0), end, 2.0), 16_000, 1500) for end in ((10, 0), (0, 30)))
    assert centre_of(cs.Carving(cuts)) == pytest.approx((5.0, 15.0))


def test_what_cannot_be_swept_is_refused_with_the_way_to_do_it():
    with pytest.raises(cs.DomainError, match=r"spindle_speed, feed, passes or rotation, got speed$"):
        cs.sweep(CARVING, BOARD, speed=[12_000])
    with pytest.raises(cs.DomainError, match=r"got included_angle; several of it are several bits: bit=\[VBit\("):
        cs.sweep(CARVING, BOARD, included_angle=[60, 90])


def test_advice_is_no_limit_that_is_exceeded():
    """Faster than tables go: the bit's own mark is not known, which is what stands; a feed too fast is named."""
    fast = cs.sweep(cs.Cut(cs.VBit(60, 12.7, 2, 0.2), cs.ring(5, 1.0), 18_000, 1500), BOARD, spindle_speed=[23_000],
                    pitch=2.0, workers=1)  # fmt: skip
    assert {row.name: row.status for row in fast[0].limits}["speed by diameter (advice)"] == "violated"
    assert (fast[0].status, fast[0].exceeded) == ("unknown", ())
    slow = cs.Machine(800, 1000)
    late = cs.sweep(replace(CARVING.cuts[0], machine=slow, feed=900), BOARD, feed=[1500], pitch=2.0, workers=1)
    assert (late[0].status, late[0].exceeded[0]) == ("violated", "feed")
    assert "; exceeds feed" in str(late)
