"""The benchmark scripts run at size 1, so that they cannot rot; the two thicknesses agree."""

import importlib.util
from pathlib import Path


def test_table_at_size_one(capsys):
    path = Path(__file__).parent.parent / "benchmarks" / "table.py"
    spec = importlib.util.spec_from_file_location("table", path)
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    rows, miss = module.main(1)
    assert len(rows) == 3
    assert miss < 1e-12
    assert "| what |" in capsys.readouterr().out


def test_choosing_at_size_one(capsys):
    """A layout costs far less than a map for every rotation; of the workers only that they agree."""
    path = Path(__file__).parent.parent / "benchmarks" / "choosing.py"
    spec = importlib.util.spec_from_file_location("choosing", path)
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    _, maps, gain = module.main(1)
    assert maps < 36
    assert gain > 1
    assert "to the last bit the same" in capsys.readouterr().out
