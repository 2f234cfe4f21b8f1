"""Every example in a docstring runs and prints what stands there; files that examples write go to a scratch folder."""

import doctest
import importlib
from pathlib import Path

import pytest

import chipsim

ROOT = Path(chipsim.__file__).parent


def dotted(path):
    """Name under which a file of the package is imported."""
    parts = ("chipsim", *path.relative_to(ROOT).with_suffix("").parts)
    return ".".join(parts[:-1] if parts[-1] == "__init__" else parts)


# found by their text, so that nothing is imported before its own test runs
MODULES = [dotted(path) for path in sorted(ROOT.rglob("*.py")) if ">>> " in path.read_text(encoding="utf-8")]


@pytest.fixture
def scratch(tmp_path, monkeypatch):
    """Examples draw and write: into an empty folder, and no figure stays open."""
    import matplotlib.pyplot as plt

    monkeypatch.chdir(tmp_path)
    yield
    plt.close("all")


@pytest.mark.parametrize("name", MODULES)
def test_examples(name, scratch):
    said, result = [], doctest.DocTestRunner()
    # no names but its own: an example is whole, it imports what it needs
    for example in doctest.DocTestFinder().find(importlib.import_module(name), globs={}):
        result.run(example, out=said.append)
    assert not result.failures, "".join(said)
    assert result.tries
