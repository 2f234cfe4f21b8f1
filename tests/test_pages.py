"""The pages: every block of code in them runs, in order, and they say what the README leaves to them."""

import json
import re
from pathlib import Path

import pytest

ROOT = Path(__file__).parent.parent
PAGES = ROOT / "examples" / "reference"
BLOCK = re.compile(r"^( *)\.\. code-block:: python\n\n((?:\1   .*\n|\n)+)", re.M)

pytestmark = pytest.mark.skipif(not PAGES.exists(), reason="not a checkout")


def snippets(page):
    """Blocks of Python of a page, without their indentation."""
    found = []
    for indent, text in BLOCK.findall(page.read_text(encoding="utf-8") + "\n"):
        width = len(indent) + 3
        found.append("\n".join(line[width:] for line in text.splitlines()))
    return found


def shown_of(page):
    """Numbers of the blocks of which a page shows what they print."""
    text = (PAGES / f"{page}.rst").read_text(encoding="utf-8")
    starts = [block.start() for block in BLOCK.finditer(text + "\n")]
    return {sum(s < m.start() for s in starts) - 1 for m in re.finditer(r"^\.\. printed::$", text, re.M)}


TOLD = {path.stem: blocks for path in sorted(PAGES.glob("*.rst")) if (blocks := snippets(path))}


def test_the_pages_with_code_are_these():
    assert set(TOLD) == {"carver", "toolmaker", "researcher", "geometry", "recipes", "model"}
    assert sum(map(len, TOLD.values())) > 30
    for tutorial in ("carver", "toolmaker", "researcher", "geometry"):
        # nobody learns from code of which he does not see what it does
        assert len(shown_of(tutorial)) >= 5
    for path in PAGES.glob("*.rst"):
        # whatever stands indented after the directive is found by the pattern above
        assert path.read_text(encoding="utf-8").count("code-block:: python") == len(TOLD.get(path.stem, []))


@pytest.mark.parametrize("page", TOLD)
def test_every_snippet_of_a_page_runs_in_an_empty_folder(page, tmp_path, monkeypatch, capsys):
    import logging

    import matplotlib.pyplot as plt

    monkeypatch.chdir(tmp_path)
    names, level = {"__name__": page}, logging.getLogger("chipsim").level
    shown = shown_of(page)
    printed = ""
    try:
        for k, block in enumerate(TOLD[page]):
            exec(compile(block, f"{page}.rst, block {k + 1}", "exec"), names)
            out = capsys.readouterr().out
            assert out or k not in shown, f"block {k + 1} prints nothing, and the page shows what it prints"
            printed += out
    finally:
        plt.close("all")
        logging.getLogger("chipsim").setLevel(level)
    assert printed
    for picture in re.findall(r"^\.\. picture:: (.*)$", (PAGES / f"{page}.rst").read_text(encoding="utf-8"), re.M):
        assert (tmp_path / picture).stat().st_size > 10_000
    if page == "carver":
        for file in ("first.png", "oak.png", "piece.nc", "sheet.pdf", "form.csv"):
            assert (tmp_path / file).stat().st_size > 500
        assert "heavy sanding" in printed


def test_a_notebook_runs_from_top_to_bottom(tmp_path, monkeypatch):
    """Its cells run in order, and what a cell ends in can be shown: a picture over a table."""
    import ast

    import matplotlib.pyplot as plt

    book = json.loads((ROOT / "examples" / "first_map.ipynb").read_text(encoding="utf-8"))
    assert (book["nbformat"], book["metadata"]["kernelspec"]["language"]) == (4, "python")
    monkeypatch.chdir(tmp_path)
    names, shown = {}, []
    for cell in book["cells"]:
        if cell["cell_type"] != "code":
            continue
        assert cell["outputs"] == []  # what it shows is made where it runs
        tree = ast.parse("".join(cell["source"]))
        last = tree.body.pop() if isinstance(tree.body[-1], ast.Expr) else None
        exec(compile(tree, "cell", "exec"), names)
        if last is not None:
            value = eval(compile(ast.Expression(last.value), "cell", "eval"), names)
            shown.append(value._repr_html_() if hasattr(value, "_repr_html_") else repr(value))
    plt.close("all")
    assert len(shown) == 3
    assert shown[0].startswith('<img alt="&lt;RiskMap')
    assert shown[1].startswith("<table>")


def test_the_readme_is_short_and_leads_on():
    readme = (ROOT / "README.md").read_text(encoding="utf-8")
    assert len(readme.split()) < 650  # a quarter of what it was before there were pages
    for page in re.findall(r"\(examples/reference/(\w+\.rst)\)", readme):
        assert (PAGES / page).exists(), page
