"""Imports inside chipsim go strictly down, in every folder, and heavy packages are loaded only where they belong."""

import ast
from pathlib import Path

import pytest

import chipsim

ROOT = Path(chipsim.__file__).parent
HOUSE = {
    "": ["errors", "units"],
    "_shared": ["arrays", "logs", "files", "tables", "keys", "running", "ordinal", "words"],
    "kernels": [
        "compiled",
        "axis",
        "columns",
        "outline",
        "intervals",
        "grooves",
        "thickness",
        "lanes",
        "table",
        "probes",
        "laws",
        "risks",
        "grades",
        "speeds",
    ],
    "scene": ["edges", "oblique", "species", "cutters", "biarcs", "paths", "grain", "machine", "cuts", "plain"],
    "reference": ["oracle", "oracle_space", "closed_forms"],
    "rs274": ["interpreter", "reader", "writer"],
    "designs": ["strokes", "pathdata", "reading", "styles", "svg"],
    "chips": ["edges", "lips", "neighbours", "motions", "blocks", "passes", "teeth", "strikes", "push", "volume"],
    "damage": [
        "tearout",
        "heat",
        "models",
        "ensemble",
        "priors",
        "orders",
        "handwork",
        "bands",
        "layers",
        "scale",
        "words",
        "maps",
        "mapping",
        "rose",
        "literature",
    ],
    "limits": ["job", "forces", "wedge", "time", "checks", "width", "lip_points", "lands", "breakouts"],
    "choosing": [
        "variants",
        "summaries",
        "records",
        "boards",
        "comparing",
        "layout",
        "sweeps",
        "racing",
        "worth",
        "recommending",
    ],
    "learning": [
        "testpiece",
        "grading",
        "sheets",
        "sectors",
        "fitting",
        "invented",
        "wear",
        "book",
        "nextpiece",
        "bits",
    ],
    "pictures": [
        "artists",
        "page",
        "traces",
        "tags",
        "risk_map",
        "rose",
        "chips",
        "setup",
        "comparison",
        "choice",
        "laying",
        "learned",
    ],
    "testing": [],
}
"""Rooms from the ground up, and in each its modules from the ground up: a module imports only what stands before it.

The kit in `testing` is one storey: its files may import one another and everything below. A room's own `__init__` hands
on what stands in the room.
"""
OUTSIDE = {
    "numba": {"kernels.compiled"},
    "matplotlib": {"pictures", "learning.sheets", "designs.styles"},
    "scipy": {
        "reference",
        "learning.bits",
        "limits.lands",
        "limits.lip_points",
        "limits.breakouts",
        "_shared.ordinal",
        "damage.priors",
    },
    "hypothesis": {"testing"},
    "pytest": {"testing"},
    "tqdm": {"_shared.running"},
    "pandas": {"_shared.tables"},
    "xarray": {"_shared.tables"},
    "logging": {"_shared.logs"},
}
"""Packages that cost time to load, or that not everybody has, and the rooms or modules that may import them."""
KERNEL_USERS = {
    "scene.machine",
    "chips",
    "damage.tearout",
    "damage.heat",
    "damage.models",
    "damage.priors",
    "damage.handwork",
}
ORDER = [f"{room}.{module}".lstrip(".") for room, modules in HOUSE.items() for module in (modules or ["*"])]


def place(module):
    """Storey of a dotted module or room below chipsim; a room stands where the last of its modules does."""
    room = module.split(".")[0]
    if room == "testing":
        return len(ORDER)
    inside = [i for i, name in enumerate(ORDER) if name == module or (module == room and name.startswith(room + "."))]
    assert inside, f"{module} has no place in the house: give it one"
    return max(inside)


def name_of(path, root):
    parts = path.relative_to(root).with_suffix("").parts
    return ".".join(parts[:-1] if parts[-1] == "__init__" else parts)


def imported(path, root):
    """Every module named in an import of the file, also inside functions: ('chipsim', dotted) or ('outside', name)."""
    package = path.relative_to(root).parts[:-1]
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Import):
            for alias in node.names:
                head, _, tail = alias.name.partition(".")
                yield ("chipsim", tail) if head == "chipsim" else ("outside", head)
        elif isinstance(node, ast.ImportFrom):
            module = node.module or ""
            if node.level:
                up = package[: len(package) - node.level + 1]
                base = ".".join([*up, *filter(None, [module])])
            elif module == "chipsim" or module.startswith("chipsim."):
                base = module.removeprefix("chipsim").lstrip(".")
            else:
                yield "outside", module.split(".")[0]
                continue
            folder = root.joinpath(*base.split("."))
            for alias in node.names:
                # a name is a module of its own if a file or a room bears it
                own = (folder / alias.name).is_dir() or (folder / f"{alias.name}.py").is_file()
                yield "chipsim", ".".join(filter(None, [base, alias.name])) if own else base


def check_file(path, root=ROOT):
    here = name_of(path, root)
    room = here.split(".")[0]
    for where, name in imported(path, root):
        if where == "outside":
            allowed = OUTSIDE.get(name)
            assert allowed is None or {here, room} & allowed, f"{here} must not import {name}"
            continue
        if name == "":  # the package itself, by those who stand on its roof
            assert room == "testing", f"{here} must not import the whole package"
            continue
        assert room == "testing" or here == room or place(name) < place(here), (
            f"{here} imports {name}, which is not below it"
        )
        if name.split(".")[0] == "kernels" and room != "kernels":
            assert {here, room} & KERNEL_USERS, f"{here} must not import kernels"


FILES = sorted(p for p in ROOT.rglob("*.py") if p != ROOT / "__init__.py")


@pytest.mark.parametrize("path", FILES, ids=lambda p: name_of(p, ROOT))
def test_imports_go_down(path):
    check_file(path)


def test_every_place_in_the_house_is_taken():
    there = {name_of(p, ROOT) for p in FILES if p.stem != "__init__"}
    assert {name for name in ORDER if not name.endswith("*")} == {n for n in there if not n.startswith("testing")}


@pytest.mark.parametrize("path", sorted((ROOT / "testing").glob("*.py")), ids=lambda p: p.stem)
def test_the_kit_loads_hypothesis_and_pytest_late(path):
    for node in ast.parse(path.read_text(encoding="utf-8")).body:
        names = [a.name for a in node.names] if isinstance(node, ast.Import) else []
        names += [node.module or ""] if isinstance(node, ast.ImportFrom) else []
        heavy = {n.split(".")[0] for n in names} & {"hypothesis", "pytest"}
        assert not heavy or path.stem == "strategies", f"{path.stem} must import {heavy} inside functions"


def test_reference_and_kernels_never_meet():
    for path in (ROOT / "reference").rglob("*.py"):
        rooms = {name.split(".")[0] for where, name in imported(path, ROOT) if where == "chipsim"}
        assert rooms <= {"_shared", "errors", "units", "reference"}


@pytest.mark.parametrize(
    ("code", "complaint"),
    [
        ("def f():\n    from ..damage.maps import RiskMap\n", "not below"),
        ("from ..damage import maps\n", "not below"),
        ("import chipsim.pictures.page\n", "not below"),
        ("from chipsim.limits.checks import check_limits\n", "not below"),
        ("from .cuts import Cut\n", "not below"),
        ("import numba\n", "must not import numba"),
        ("from ..kernels import axis\n", "must not import kernels"),
        ("from .. import reference\n", "not below"),
    ],
)
def test_a_planted_import_is_found_in_every_room(tmp_path, code, complaint):
    root = tmp_path / "chipsim"
    for room in ("scene", "damage", "kernels", "reference"):
        (root / room).mkdir(parents=True)
    for name in ("damage/maps", "kernels/axis"):
        (root / f"{name}.py").write_text("", encoding="utf-8")
    planted = root / "scene" / "cutters.py"
    planted.write_text(code, encoding="utf-8")
    with pytest.raises(AssertionError, match=complaint):
        check_file(planted, root)


def test_a_room_nobody_has_placed_is_found(tmp_path):
    planted = tmp_path / "attic" / "things.py"
    planted.parent.mkdir()
    planted.write_text("from ..errors import DomainError\n", encoding="utf-8")
    with pytest.raises(AssertionError, match="no place in the house"):
        check_file(planted, tmp_path)
