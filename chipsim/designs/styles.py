"""How a drawing's elements are styled: the little of CSS that says what is shown and which stroke it has."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, field

__all__ = ["Sheet", "colour_of", "declarations"]

_COMMENT = re.compile(r"/\*.*?\*/", re.S)
_SIMPLE = re.compile(r"(?P<tag>\*|[A-Za-z][\w-]*)?(?P<marks>(?:[.#][\w-]+)*)")
_RGB = re.compile(r"rgb\(\s*(\d+)\s*[, ]\s*(\d+)\s*[, ]\s*(\d+)\s*\)")

_MATTERS = {"display", "visibility", "stroke", "transform", "clip-path", "mask", "d"}
"""Properties that say whether a shape is there, where, and how deep."""


def declarations(text: str) -> dict[str, str]:
    """Properties of a style attribute or of the inside of a rule; what is marked important is like the rest."""
    out = {}
    for part in _COMMENT.sub("", text).split(";"):
        name, colon, value = part.partition(":")
        if colon:
            out[name.strip().lower()] = value.replace("!important", "").strip()
    return out


def colour_of(text: str) -> str:
    """A colour written in one way, #rrggbb, whether it was given by name, number or short; else as it stands."""
    word = text.strip().lower()
    if found := _RGB.fullmatch(word):
        return "#" + "".join(f"{min(int(v), 255):02x}" for v in found.groups())
    if re.fullmatch("#[0-9a-f]{3}", word):
        return "#" + "".join(2 * digit for digit in word[1:])
    from matplotlib.colors import CSS4_COLORS

    return str(CSS4_COLORS.get(word, word)).lower()


@dataclass
class Sheet:
    """Rules of style sheets whose selectors are an element's tag, classes and id; `unread` names the others."""

    rules: list[tuple[tuple[int, int, int], str, frozenset[str], dict[str, str]]] = field(default_factory=list)
    unread: list[str] = field(default_factory=list)

    def add(self, text: str) -> None:
        """Read one more style sheet; what it has of a property it takes from the same one before."""
        text = self._without_conditions(_COMMENT.sub("", text).replace("<!--", "").replace("-->", ""))
        for head, body in re.findall(r"([^{}]*)\{([^{}]*)\}", text):
            for selector in head.split(","):
                whole = " ".join(selector.split())
                found = _SIMPLE.fullmatch(whole)
                if not whole or found is None:
                    if _MATTERS & set(declarations(body)):
                        self.unread.append(whole or "a rule without a selector")
                    continue
                marks = frozenset(re.findall(r"[.#][\w-]+", found["marks"]))
                tag = found["tag"] or "*"
                ids = sum(m[0] == "#" for m in marks)
                weight = (ids, len(marks) - ids, int(tag != "*"))
                self.rules.append((weight, tag, marks, declarations(body)))

    def _without_conditions(self, text: str) -> str:
        """The text without what begins with an @, to its semicolon or the end of its block."""
        out = []
        while "@" in text:
            before, _, text = text.partition("@")
            out.append(before)
            self.unread += [f"@{word}" for word in re.findall(r"^(?:media|import|supports|layer)", text)]
            depth = 0
            for k, sign in enumerate(text):
                depth += (sign == "{") - (sign == "}")
                if depth == 0 and sign in ";}":
                    text = text[k + 1 :]
                    break
            else:
                text = ""
        return "".join([*out, text])

    def of(self, tag: str, marks: Sequence[str]) -> dict[str, str]:
        """Properties of an element with these classes, '.name', and id, '#name'; the more particular rule wins."""
        own = set(marks)
        out: dict[str, str] = {}
        for _, _, _, properties in sorted(
            (r for r in self.rules if r[1] in ("*", tag) and r[2] <= own), key=lambda rule: rule[0]
        ):
            out |= properties
        return out
