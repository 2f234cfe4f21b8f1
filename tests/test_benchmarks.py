"""The benchmark scripts run at size 1, so that they cannot rot; the two thicknesses of the table agree."""

import importlib.util
import json
import re
import sys
from pathlib import Path

import pytest

BENCHMARKS = Path(__file__).parent.parent / "benchmarks"


@pytest.fixture(autouse=True)
def _as_scripts(monkeypatch):
    """A script finds its neighbours, as it does when it is run."""
    monkeypatch.syspath_prepend(BENCHMARKS)
    yield
    for name in ("figures", "compare"):
        sys.modules.pop(name, None)


def load(name):
    path = BENCHMARKS / f"{name}.py"
    spec = importlib.util.spec_from_file_location(name, path)
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


def test_table_at_size_one(capsys):
    measured = {}
    rows, miss = load("table").main(1, figures=measured)
    assert len(rows) == 6
    assert miss < 1e-12
    assert len(measured) == 6 + 5 + 4
    assert measured["risk_map on two threads"] == (rows[-1][1], "1/s")
    assert "| what |" in capsys.readouterr().out


def test_reading_at_size_one(capsys):
    """Lines and grooves by hand; that time grows linearly is counted in tests/test_rs274_carving.py."""
    reading = load("reading")
    measured = {}
    rows, growth = reading.main(1, figures=measured)
    assert [row[0] for row in rows] == [995, 9995]
    assert len(reading.cs.read_rs274(reading.program(1000), reading.BIT)) == 66  # a ramp keeps its groove whole
    assert growth < 2
    assert list(measured) == [
        f"{w}, {n} lines" for n in (995, 9995) for w in ("split and float", "read_moves", "read_rs274")
    ]
    assert "| lines |" in capsys.readouterr().out


def test_carving_at_size_one(capsys):
    measured = {}
    load("carving").main(1, figures=measured)
    out = capsys.readouterr().out
    assert "within 3 mm of a 90 deg corner" in out
    assert "bytes a move" in out
    assert {"map, the job", "map, letters' strokes", "moves read", "time of 10 m, in tenths"} <= set(measured)


def test_scale_at_size_a_tenth(capsys):
    measured = {}
    time, memory = load("scale").main(0.1, figures=measured)
    assert min(time, memory) > 0
    assert len(measured) == 2 * 3 * 2
    assert "extra memory" in capsys.readouterr().out


def test_choosing_at_size_one(capsys):
    """That it runs, and that workers agree; what is cheaper than what takes its own size and a quiet machine."""
    measured = {}
    _, maps, gain = load("choosing").main(1, figures=measured)
    assert maps > 0
    assert measured["layout, in maps"] == (maps, "-")
    assert gain > 0
    assert "to the last bit the same" in capsys.readouterr().out


def test_learning_on_one_board(capsys):
    """That it runs; how well boards are learned, and wrong models found out, takes the hundreds of its own size."""
    measured = {}
    mean = load("learning").main(1, 0, figures=measured)
    assert 0 <= mean["all"] <= 1
    assert measured == {name: (value, "-") for name, value in mean.items()}
    assert "| what | share |" in capsys.readouterr().out


def test_shear_at_size_one(capsys):
    """That it runs; what a sheared bit costs takes its own size."""
    measured = {}
    ratios = load("shear").main(1, figures=measured)
    assert len(ratios) == len(measured) == 2 * 2 * 4
    assert "over the straight bit's" in capsys.readouterr().out


def test_every_script_takes_a_file_and_keeps_what_main_measured():
    """The six that measure are run through `figures.run`; what each hands over is counted in their own tests."""
    for name in ("table", "scale", "reading", "choosing", "learning", "shear"):
        text = (BENCHMARKS / f"{name}.py").read_text(encoding="utf-8")
        assert "[--json FILE]" in text
        assert re.search(r"\n +run\(main, ", text)


def test_figures_are_kept_with_commit_and_machine(tmp_path):
    values = iter([3.0, 4.0])

    def main(size, figures):
        figures["speed"] = (next(values) * size, "1/s")

    file = tmp_path / "new.json"
    kept = load("figures").run(main, ["2", "--json", str(file), "--runs", "2"], size=10)
    assert json.loads(file.read_text(encoding="utf-8")) == kept
    assert kept["benchmark"] == "test_benchmarks"
    assert kept["sizes"] == {"size": 2}
    assert kept["figures"] == {"speed": {"unit": "1/s", "runs": [6.0, 8.0]}}
    assert kept["commit"] == "unknown" or len(kept["commit"].rstrip("+")) == 40
    assert {"processor", "python", "numpy", "numba"} <= set(kept["machine"])
    assert load("compare").main(file, file) == [("speed", "1/s", 7.0, 7.0, 1.0, False)]


def test_a_file_that_cannot_be_written_is_told_before_anything_is_measured(tmp_path, capsys):
    def main(size, figures):
        raise AssertionError("measured")

    figures = load("figures")
    with pytest.raises(SystemExit):
        figures.run(main, ["--json", str(tmp_path / "no folder" / "new.json")], size=1)
    assert "no folder" in capsys.readouterr().err
    with pytest.raises(SystemExit):
        figures.run(main, ["--runs", "0"], size=1)


def written(path, **figures):
    """A file as `figures.run` writes it."""
    kept = {"benchmark": "table", "sizes": {"size": 20}, "commit": "0" * 40, "machine": {"numpy": "2.0.0"}}
    kept["figures"] = {name: {"unit": "1/s", "runs": runs} for name, runs in figures.items()}
    path.write_text(json.dumps(kept), encoding="utf-8")
    return path


def test_compare_says_what_left_the_noise(tmp_path, capsys):
    compare = load("compare")
    old = written(tmp_path / "old.json", same=[100.0], twice=[100.0, 110.0], wide=[100.0, 190.0], gone=[1.0])
    new = written(tmp_path / "new.json", same=[109.0], twice=[200.0, 220.0], wide=[180.0, 200.0], come=[1.0])
    found = {row.name: row for row in compare.main(old, new)}
    assert {name: row.left for name, row in found.items()} == {"same": False, "twice": True, "wide": False}
    assert found["twice"].ratio == 2.0
    out = capsys.readouterr().out
    assert "| twice | 1/s | 105 | 210 | 2.000 | left the noise |" in out
    assert "only in the old file, or in another unit: gone" in out
    assert "only in the new file, or in another unit: come" in out
    assert "1 of 3 figures have left a noise of 10%" in out
    assert [row.left for row in compare.main(old, new, noise=0.05)] == [True, True, False]
    assert not any(row.left for row in compare.main(old, old, noise=0.0))


def test_compare_refuses_what_cannot_be_compared(tmp_path, capsys):
    compare = load("compare")
    old, new = written(tmp_path / "old.json", a=[1.0]), written(tmp_path / "new.json", a=[1.0])
    other = json.loads(new.read_text(encoding="utf-8"))
    new.write_text(json.dumps(other | {"machine": {"numpy": "1.26.0"}}), encoding="utf-8")
    compare.main(old, new)
    assert "caution: numpy was 2.0.0 and is 1.26.0" in capsys.readouterr().out
    new.write_text(json.dumps(other | {"sizes": {"size": 1}}), encoding="utf-8")
    with pytest.raises(SystemExit, match="sizes differ"):
        compare.main(old, new)
    for text in ("{", "[]", json.dumps(other | {"figures": {"a": {"unit": "s", "runs": []}}})):
        new.write_text(text, encoding="utf-8")
        with pytest.raises(SystemExit, match=r"new\.json: no file that a benchmark wrote"):
            compare.main(old, new)


def test_mutations_at_size_one(capsys):
    """Every fault still has its place, and one of them is planted and caught."""
    mutations = load("mutations")
    assert len(mutations.FAULTS) >= 40
    assert len({f.name for f in mutations.FAULTS}) == len(mutations.FAULTS)
    ((name, caught),) = mutations.main(1)
    assert name == "land in metres"
    assert caught.startswith("test_heat.py::")
    assert "1 of 1 caught" in capsys.readouterr().out


def test_drawing_at_size_one(capsys):
    measured = {}
    load("drawing").main(1, figures=measured)
    assert set(measured) == {"png of 1.5 m", "svg of 1.5 m", "svg of 1.5 m, size"}
    assert measured["svg of 1.5 m, size"][0] < 3  # a vector file that opens
    assert "1.5 m of groove" in capsys.readouterr().out
