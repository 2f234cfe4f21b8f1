"""The benchmark scripts run at size 1, so that they cannot rot; the two thicknesses of the table agree."""

import importlib.util
from pathlib import Path


def load(name):
    path = Path(__file__).parent.parent / "benchmarks" / f"{name}.py"
    spec = importlib.util.spec_from_file_location(name, path)
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


def test_table_at_size_one(capsys):
    rows, miss = load("table").main(1)
    assert len(rows) == 6
    assert miss < 1e-12
    assert "| what |" in capsys.readouterr().out


def test_reading_at_size_one(capsys):
    """Lines and grooves by hand; that time grows linearly is counted in tests/test_rs274_carving.py."""
    reading = load("reading")
    rows, growth = reading.main(1)
    assert [row[0] for row in rows] == [995, 9995]
    assert len(reading.cs.read_rs274(reading.program(1000), reading.BIT)) == 3 * 66
    assert growth < 2
    assert "| lines |" in capsys.readouterr().out


def test_carving_at_size_one(capsys):
    load("carving").main(1)
    assert "within 3 mm of a 90 deg corner" in capsys.readouterr().out


def test_scale_at_size_a_tenth(capsys):
    time, memory = load("scale").main(0.1)
    assert min(time, memory) > 0
    assert "extra memory" in capsys.readouterr().out


def test_choosing_at_size_one(capsys):
    """A layout costs far less than a map for every rotation; of the workers only that they agree."""
    _, maps, gain = load("choosing").main(1)
    assert maps < 36
    assert gain > 1
    assert "to the last bit the same" in capsys.readouterr().out


def test_learning_on_one_board(capsys):
    """That it runs; how well boards are learned, and wrong models found out, takes the hundreds of its own size."""
    mean = load("learning").main(1, 0)
    assert 0 <= mean["all"] <= 1
    assert "| what | share |" in capsys.readouterr().out


def test_mutations_at_size_one(capsys):
    """Every fault still has its place, and one of them is planted and caught."""
    mutations = load("mutations")
    assert len(mutations.FAULTS) >= 40
    assert len({f.name for f in mutations.FAULTS}) == len(mutations.FAULTS)
    ((name, caught),) = mutations.main(1)
    assert name == "land in metres"
    assert caught.startswith("test_heat.py::")
    assert "1 of 1 caught" in capsys.readouterr().out
