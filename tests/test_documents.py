"""README and CI say the same, and README's Python runs."""

import re
import tomllib
from pathlib import Path

import pytest

import chipsim

ROOT = Path(__file__).parent.parent
README = ROOT / "README.md"

pytestmark = pytest.mark.skipif(not README.exists(), reason="not a checkout")


def blocks(language):
    return re.findall(rf"```{language}\n(.*?)```", README.read_text(encoding="utf-8"), flags=re.S)


def test_ci_runs_the_readmes_test_command():
    main_job, tests = (b.strip() for b in blocks("sh"))
    assert "examples/bench_plaque.py" in main_job
    assert tests in (ROOT / ".ci" / "run").read_text(encoding="utf-8").splitlines()


def test_readme_python_runs_and_leaves_a_picture(capsys, monkeypatch, tmp_path):
    import matplotlib.pyplot as plt

    (code,) = blocks("python")
    assert len([line for line in code.splitlines() if line.strip()]) <= 15
    monkeypatch.chdir(tmp_path)
    exec(compile(code, "README", "exec"), {})
    plt.close("all")
    printed = capsys.readouterr().out
    assert "heavy sanding" in printed
    assert "The leading cause is" in printed
    assert [p.name for p in tmp_path.iterdir()] == ["ring.png"]
    assert (tmp_path / "ring.png").stat().st_size > 50_000


def test_ci_pins_the_oldest_versions_that_are_declared():
    """What else stands there says why."""
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    declared = dict(d.split(">=") for d in [*project["dependencies"], *project["optional-dependencies"]["test"]])
    lines = (ROOT / ".ci" / "oldest.txt").read_text(encoding="utf-8").splitlines()
    pins = dict(line.split("==") for line in lines if not line.startswith("#"))
    assert {name: pins.get(name) for name in declared} == declared
    assert set(pins) - set(declared) == {"pyparsing"}
    assert "-c .ci/oldest.txt" in (ROOT / ".ci" / "run").read_text(encoding="utf-8")


def test_every_room_has_a_page_in_the_reference():
    """What stands on a page is read from the package itself; that it reads without a warning is CI's to see."""
    pages = {p.stem: p.read_text(encoding="utf-8") for p in (ROOT / "examples" / "reference").glob("*.rst")}
    shown = {room for text in pages.values() for room in re.findall(r"^\.\. room:: (\w+)$", text, flags=re.M)}
    rooms = {home.split(".")[0] for home in chipsim._HOME.values()}
    assert shown == rooms | {"reference", "rs274", "testing"}
    for page in set(pages) - {"index"}:  # also those without names, which tests/test_pages.py runs
        assert f"   {page}\n" in pages["index"]
    command = "python -m sphinx -W -b html examples/reference "
    for place in (".ci/run", "DEVELOPERS.md", "examples/reference/conf.py"):
        assert command in (ROOT / place).read_text(encoding="utf-8"), place


def test_every_module_has_a_floor_in_the_guide():
    guide = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
    for module in (ROOT / "chipsim").glob("[!_]*.py"):
        assert f"`{module.stem}`" in guide, f"DEVELOPERS.md does not name {module.stem}"
