"""The benchmark script runs at size 1, so that it cannot rot; its two thicknesses agree."""

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
