"""Imports inside chipsim go strictly down, and heavy packages are loaded only where they belong."""

import ast
from pathlib import Path

import pytest

import chipsim

ROOT = Path(chipsim.__file__).parent
FLOOR = {
    "errors": 0, "units": 0, "_compiled": 0, "data": 0,
    "_arrays": 1, "_files": 1, "_kernels": 1, "_keys": 1, "_running": 1,
    "cutters": 2, "paths": 2, "species": 2, "oracle": 2, "ordinal": 2, "_rs274": 2,
    "grain": 3, "heat": 3, "machine": 3, "oracle_space": 3, "reference": 3, "tearout": 3,
    "cuts": 4,
    "_near": 5, "forces": 5, "lips": 5, "rs274": 5, "testpiece": 5,
    "grading": 6, "kinematics": 6, "limits": 6,
    "lands": 7, "models": 7, "variants": 7,
    "priors": 8, "sectors": 8,
    "bands": 9,
    "fitting": 10, "risk": 10,
    "records": 11,
    "comparing": 12, "layout": 12, "sweeps": 12,
    "choosing": 13,
    "plots": 14, "sheets": 14,
    "testing": 15,
}  # fmt: skip
OUTSIDE = {
    "numba": {"_compiled"},
    "matplotlib": {"plots", "sheets"},
    "scipy": {"reference", "oracle", "lands", "ordinal", "priors"},
    "hypothesis": {"testing"},
    "pytest": {"testing"},
    "tqdm": {"sweeps"},
    "distributed": set(),
}
KERNEL_USERS = {"kinematics", "models", "priors"}
FILES = sorted(p for p in ROOT.glob("*.py") if p.stem != "__init__")
KIT = sorted((ROOT / "testing").glob("*.py"))


def imported(path):
    """Every module named in an import of the file, also inside functions: ('chipsim', name) or ('outside', name)."""
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Import):
            for alias in node.names:
                head, _, tail = alias.name.partition(".")
                yield ("chipsim", tail.split(".")[0]) if head == "chipsim" else ("outside", head)
        elif isinstance(node, ast.ImportFrom):
            if node.level == 0 and not (node.module or "").startswith("chipsim"):
                yield "outside", node.module.split(".")[0]
            elif node.level == 1 and path.parent != ROOT and path.parent.parent == ROOT:
                yield "chipsim", path.parent.name  # a neighbour in a package is of the same floor
            elif node.module in (None, "chipsim"):
                for alias in node.names:
                    yield "chipsim", alias.name
            else:
                yield "chipsim", node.module.removeprefix("chipsim.").split(".")[0]


@pytest.mark.parametrize("path", FILES, ids=lambda p: p.stem)
def test_imports_go_down(path):
    here = path.stem
    assert here in FLOOR, f"{here} has no floor: give it one"
    for where, name in imported(path):
        if where == "outside":
            assert here in OUTSIDE.get(name, {here}), f"{here} must not import {name}"
            continue
        assert FLOOR[name] < FLOOR[here], f"{here} (floor {FLOOR[here]}) imports {name} (floor {FLOOR[name]})"
        assert name != "_kernels" or here in KERNEL_USERS, f"{here} must not import _kernels"


@pytest.mark.parametrize("path", KIT, ids=lambda p: p.stem)
def test_the_kit_stands_on_the_roof(path):
    """It may use everything below, never the kernels; hypothesis and pytest only late, but for the strategies."""
    for where, name in imported(path):
        if where == "chipsim" and name != "testing":
            assert FLOOR[name] < FLOOR["testing"]
            assert name != "_kernels", f"{path.stem} must not import _kernels"
    for node in ast.parse(path.read_text(encoding="utf-8")).body:
        names = [a.name for a in node.names] if isinstance(node, ast.Import) else []
        names += [node.module or ""] if isinstance(node, ast.ImportFrom) else []
        heavy = {n.split(".")[0] for n in names} & {"hypothesis", "pytest"}
        assert not heavy or path.stem == "strategies", f"{path.stem} must import {heavy} inside functions"


def test_reference_and_kernels_never_meet():
    slow = ("reference.py", "oracle.py", "oracle_space.py")
    assert not {("chipsim", "_kernels")} & {name for file in slow for name in imported(ROOT / file)}


def test_the_floor_test_bites(tmp_path):
    planted = tmp_path / "cutters.py"
    planted.write_text("def f():\n    from .risk import RiskMap\n    import numba\n", encoding="utf-8")
    with pytest.raises(AssertionError, match="floor 2"):
        test_imports_go_down(planted)
    planted.write_text("import numba\n", encoding="utf-8")
    with pytest.raises(AssertionError, match="numba"):
        test_imports_go_down(planted)
