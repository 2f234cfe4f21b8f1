"""How the pages are built, with the reference of all public names from their docstrings, into a folder of your choice.

python -m sphinx -W -b html examples/reference out/reference

It needs the extra 'docs'. A page is a room of the house; which names it holds is read from `chipsim` itself. What the
code of a page prints and draws is made while the page is built: by that code, in a folder below the built pages.
"""

from __future__ import annotations

import contextlib
import io
import logging
import os
import re
import sys
from collections.abc import Iterator
from pathlib import Path
from textwrap import dedent
from typing import Any, ClassVar, NamedTuple

os.environ.setdefault("MPLBACKEND", "Agg")
os.environ.setdefault("CHIPSIM_QUIET", "1")  # what kernels say while they compile is nothing that a page printed

from docutils import nodes
from docutils.parsers.rst import directives
from docutils.statemachine import StringList
from sphinx.application import Sphinx
from sphinx.util.docutils import SphinxDirective

import chipsim
import chipsim.reference
import chipsim.rs274
import chipsim.testing
import chipsim.units

project = "chipsim"
version = release = chipsim.__version__
project_copyright = "the contributors"
extensions = ["sphinx.ext.autodoc", "sphinx.ext.napoleon"]
default_role = "literal"  # `x` in a docstring is a name or a value as it is typed
html_show_sourcelink = False
autodoc_type_aliases = {name: name for name in ("FloatArray", "ArrayLike", "LipModel")}
autodoc_member_order = "bysource"
autodoc_default_options = {"members": True}
napoleon_google_docstring = False

ATTRIBUTE = re.compile(r"(\w+(?:, \w+)*) : (.*)")


class Room(SphinxDirective):
    """Document the public names of a room, or of a public module."""

    required_arguments = 1
    option_spec: ClassVar = {"module": directives.flag}

    def run(self) -> list[nodes.Node]:
        """Write a directive of autodoc for every name and have it read."""
        (room,) = self.arguments
        if "module" in self.options:
            module = getattr(chipsim, room)
            names = [f"chipsim.{room}.{name}" for name in module.__all__ if is_ours(getattr(module, name))]
        else:
            homes = {name: home for name, home in chipsim._HOME.items() if home.split(".")[0] == room}
            # a number bears no docstring; the module that it is written in does
            names = [f"chipsim.{n if is_ours(getattr(chipsim, n)) else f'{home}.{n}'}" for n, home in homes.items()]
        lines = StringList()
        for name in names:
            lines.append(f".. {kind_of(name)}:: {name}", f"room {room}")
            lines.append("", f"room {room}")
        holder = nodes.container()
        self.state.nested_parse(lines, self.content_offset, holder)
        return list(holder.children)


BLOCK = re.compile(r"^( *)\.\. code-block:: python\n\n((?:\1   .*\n|\n)+)", re.M)

LEFT = "_left_by_the_code"
"""Folder below the built pages for what their code writes: pictures, tables, programs."""


class Ran(NamedTuple):
    """A block of code that was run: the line of its page on which it begins, and what it printed."""

    line: int
    printed: str


@contextlib.contextmanager
def in_folder(folder: Path) -> Iterator[io.StringIO]:
    """Work in a folder, with everything that is printed going where it can be read back; then all is as before."""
    folder.mkdir(parents=True, exist_ok=True)
    for old in folder.iterdir():  # forms that hold grades are never written over
        old.unlink()
    here, log, said = Path.cwd(), logging.getLogger(), io.StringIO()
    handlers, level = [*log.handlers], logging.getLogger("chipsim").level
    try:
        os.chdir(folder)
        with contextlib.redirect_stdout(said), contextlib.redirect_stderr(said):
            yield said
    finally:
        os.chdir(here)
        log.handlers[:] = handlers
        logging.getLogger("chipsim").setLevel(level)
        if "matplotlib.pyplot" in sys.modules:
            sys.modules["matplotlib.pyplot"].close("all")


class OfTheCode(SphinxDirective):
    """Base of what shows the doings of a page's code, which is run when the first of them is met."""

    def folder(self) -> Path:
        """Where the code of this page works."""
        return Path(self.env.app.outdir) / LEFT / self.env.docname

    def ran(self) -> list[Ran]:
        """All blocks of this page, run in order."""
        found: list[Ran] | None = self.env.temp_data.get("ran")
        if found is None:
            text = Path(self.env.doc2path(self.env.docname)).read_text(encoding="utf-8")
            names: dict[str, Any] = {"__name__": self.env.docname}
            found = self.env.temp_data["ran"] = []
            with in_folder(self.folder()) as said:
                for block in BLOCK.finditer(text + "\n"):
                    before = len(said.getvalue())
                    line = text.count("\n", 0, block.start()) + 1
                    exec(compile(dedent(block[2]), f"{self.env.docname}.rst, line {line}", "exec"), names)
                    found.append(Ran(line, said.getvalue()[before:]))
        return found


class Printed(OfTheCode):
    """Show what the block of code above has printed, or its first lines."""

    option_spec: ClassVar = {"lines": directives.positive_int}

    def run(self) -> list[nodes.Node]:
        """A block of text."""
        text = [block for block in self.ran() if block.line < self.lineno][-1].printed.rstrip("\n")
        rows, most = text.splitlines(), self.options.get("lines")
        if most is not None and len(rows) > most:
            rows = [*rows[:most], "..."]
        if not any(rows):
            raise self.error("the block of code above prints nothing")
        shown = nodes.literal_block(text="\n".join(rows), language="none")
        return [shown]


class Picture(OfTheCode):
    """Show a picture that the code of the page has saved; the text below the directive says what is in it."""

    required_arguments = 1
    has_content = True

    def run(self) -> list[nodes.Node]:
        """One picture."""
        self.ran()
        return shown_picture(self, self.folder() / self.arguments[0], " ".join(self.content))


CAPTIONS = {
    "plaque_border": "The oval border of a bench plaque in cherry, as a map of its lips.",
    "plaque_chips": "What a few teeth take on their way round the border.",
    "plaque_rose": "How the lips of the rosette's cut would come out in every direction of the grain.",
    "plaque_rosette": "The rosette of the plaque, eight petals, as a map of its lips.",
}
"""What is in the pictures of the main job; those of other scripts bear the names of their files."""


class Gallery(SphinxDirective):
    """Show every picture of the folder that the setting `gallery` names; without one, those of the main job."""

    def run(self) -> list[nodes.Node]:
        """One figure a picture, its name below it."""
        folder = Path(str(self.config.gallery)).resolve() if self.config.gallery else self.main_job()
        out: list[nodes.Node] = []
        for picture in sorted(folder.glob("*.png")):
            words = CAPTIONS.get(picture.stem, picture.stem.replace("_", " "))
            out += [*shown_picture(self, picture, words), nodes.paragraph(text=words)]
        return out

    def main_job(self) -> Path:
        """Run the main job, in a folder below the built pages."""
        folder = Path(self.env.app.outdir) / LEFT / self.env.docname
        script = Path(self.env.srcdir).parent / "bench_plaque.py"
        names: dict[str, Any] = {"__name__": "bench_plaque"}
        exec(compile(script.read_text(encoding="utf-8"), str(script), "exec"), names)
        with in_folder(folder):
            names["main"](folder)
        return folder


def shown_picture(directive: SphinxDirective, file: Path, words: str) -> list[nodes.Node]:
    """A picture from wherever it lies; a reader that cannot show it has the words."""
    if not file.exists():
        raise directive.error(f"there is no picture {file}")
    uri = os.path.relpath(file, directive.env.srcdir).replace(os.sep, "/")
    return [nodes.image(uri=uri, alt=words, width="80%")]


def is_ours(thing: Any) -> bool:
    """Whether a thing is a class or a function of the house: numbers and names of types have a stranger's docstring."""
    return str(getattr(thing, "__module__", "")).startswith("chipsim")


def kind_of(name: str) -> str:
    """Which directive of autodoc documents a name."""
    thing: Any = chipsim
    for part in name.split(".")[1:]:
        thing = getattr(thing, part)
    if isinstance(thing, type):
        return "autoexception" if issubclass(thing, BaseException) else "autoclass"
    return "autofunction" if callable(thing) else "autodata"


def spread_attributes(_app: Sphinx, _what: str, _name: str, _thing: Any, _options: Any, lines: list[str]) -> None:
    """Lay the attributes of a class out as a list: 'name : meaning' is how docstrings here say it in little room.

    numpydoc would take the meaning for a type.
    """
    if "Attributes" not in lines:
        return
    head = lines.index("Attributes")
    end = next((i for i in range(head + 2, len(lines)) if lines[i].startswith("----")), len(lines) + 1) - 1
    spread = [".. rubric:: Attributes", ""]
    for line in lines[head + 2 : end]:
        found = ATTRIBUTE.fullmatch(line)
        spread += [", ".join(f"`{name}`" for name in found[1].split(", ")), f"    {found[2]}"] if found else [line]
    lines[head:end] = spread


def setup(app: Sphinx) -> None:
    """Called by sphinx."""
    app.add_config_value("gallery", "", "env")
    app.add_directive("room", Room)
    app.add_directive("gallery", Gallery)
    app.add_directive("printed", Printed)
    app.add_directive("picture", Picture)
    app.connect("autodoc-process-docstring", spread_attributes, priority=100)
