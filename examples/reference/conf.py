"""How the pages are built, with the reference of all public names from their docstrings, into a folder of your choice.

python -m sphinx -W -b html examples/reference out/reference

It needs the extra 'docs'. A page is a room of the house; which names it holds is read from `chipsim` itself.
"""

from __future__ import annotations

import os
import re
from pathlib import Path
from typing import Any, ClassVar

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


class Gallery(SphinxDirective):
    """Show every picture of the folder that the setting `gallery` names, as the examples leave them."""

    def run(self) -> list[nodes.Node]:
        """One figure a picture, its name below it; nothing without a folder."""
        folder = str(self.config.gallery)
        out: list[nodes.Node] = []
        for picture in sorted(Path(folder).resolve().glob("*.png")) if folder else []:
            uri = os.path.relpath(picture, self.env.srcdir).replace(os.sep, "/")
            words = picture.stem.replace("_", " ")
            out += [nodes.image(uri=uri, alt=words, width="60%"), nodes.paragraph(text=words)]
        return out


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
    app.connect("autodoc-process-docstring", spread_attributes, priority=100)
