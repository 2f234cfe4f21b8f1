"""Drawings in SVG, read as paths.

SVG 1.1 and 2: coordinate systems, units and transforms by chapter 7, shapes by 9 and 10, structure by 5 (numbers of
SVG 1.1, from memory).
"""

from __future__ import annotations

import os
import re
import warnings
from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path as FilePath
from typing import IO, Any
from xml.parsers import expat

import numpy as np
from numpy.typing import ArrayLike

from .._shared.arrays import FloatArray, number
from .._shared.logs import logger
from .._shared.tables import Columns, Rows
from ..errors import DesignWarning, DomainError
from ..scene.paths import DepthFunction, Path
from ..units import length_text, table_text
from .pathdata import LARGEST, NUMBER, arc_between, figures_of
from .reading import TOLERANCE
from .strokes import EllipticArc, Figure, Stroke, chained, path_of, sweep_limit
from .styles import Sheet, colour_of, declarations

__all__ = ["Drawing", "read_svg"]

_LOG = logger("designs")

_SVG, _XLINK = "http://www.w3.org/2000/svg", "http://www.w3.org/1999/xlink"

_INCH = 96.0
"""Pixels of CSS in an inch: a unit of a drawing without units is a pixel."""

_UNITS = {"": 1.0, "px": 1.0, "in": 96.0, "mm": 96 / 25.4, "cm": 96 / 2.54, "q": 96 / 101.6, "pt": 96 / 72, "pc": 16.0}

_LENGTH = re.compile(rf"\s*({NUMBER})\s*([a-zA-Z]*|%)\s*")
_NUMBERS = re.compile(rf"[\s,]*({NUMBER})")
_FUNCTION = re.compile(r"[\s,]*(matrix|translate|scale|rotate|skewX|skewY)\s*\(([^()]*)\)")

_HOLDS = ("g", "a", "svg", "switch")
"""Elements whose contents are drawn where they stand; a symbol is drawn where it is used."""

_SHAPES = ("path", "rect", "circle", "ellipse", "line", "polyline", "polygon")

_SILENT = ("defs", "symbol", "title", "desc", "metadata", "style", "script", "marker", "pattern", "mask", "filter",
           "linearGradient", "radialGradient", "clipPath", "view", "font", "cursor", "color-profile")  # fmt: skip
"""Elements that draw nothing by themselves."""

_MOST = 100_000
"""Elements of a drawing, those that are drawn again by `use` counted again."""

_DEEPEST = 200
"""Elements within elements, at most."""

_CLONES = 20
"""Clones of clones, at most."""

_BYTES = 100_000_000
"""Size of a file, at most."""


class _Unreadable(Exception):
    """An element cannot be read, and why."""


@dataclass(frozen=True)
class Drawing(Rows[Path]):
    """Paths of a drawing in the order in which it is drawn, and what was not read of it; made by `read_svg`.

    It iterates over its paths, each with the id of its element as `name`; print it for the report.

    Attributes
    ----------
    rows : the paths.
    notes : sentences on what was assumed and what was left out.
    size : (width, height) of the drawing's page; 0 if it does not say. [mm]
    """

    rows: tuple[Path, ...]
    notes: tuple[str, ...] = ()
    size: tuple[float, float] = (0.0, 0.0)

    def _like(self, rows: tuple[Path, ...]) -> Drawing:
        return replace(self, rows=rows)

    @property
    def length(self) -> float:
        """Length of all paths in the board's face. [mm]"""
        return float(sum(path.length for path in self.rows))

    def __repr__(self) -> str:
        notes = f", {len(self.notes)} notes" if self.notes else ""
        return f"<Drawing {len(self)} paths, {self.length:.1f} mm{notes}>"

    def __str__(self) -> str:
        width, height = self.size
        page = f" on a page of {length_text(width)} by {length_text(height)}" if width and height else ""
        lines = [f"The drawing has {len(self)} paths, {length_text(self.length, 1)} long{page}."]
        rows: list[tuple[str, ...]] = [("path", "name", "length [mm]", "depth [mm]", "closed")]
        for k, path in enumerate(self.rows[:40]):
            low, high = float(path.depth.min()), float(path.depth.max())
            deep = f"{low:.2f}" if low == high else f"{low:.2f} to {high:.2f}"
            rows.append((str(k + 1), path.name[:30] or "-", f"{path.length:.1f}", deep, "yes" if path.closed else "no"))
        lines += ["", *("  " + row for row in table_text(rows).splitlines())]
        if len(self) > 40:
            lines.append(f"  and {len(self) - 40} more paths")
        return "\n".join([*lines, *(f"Note: {note}" for note in self.notes)])

    def _columns(self) -> Columns:
        return {
            "name": [path.name for path in self.rows],
            "closed": [path.closed for path in self.rows],
            "lines": [int((path.sweep == 0).sum()) for path in self.rows],
            "arcs": [int((path.sweep != 0).sum()) for path in self.rows],
            "length [mm]": [path.length for path in self.rows],
            "least_depth [mm]": [float(path.depth.min()) for path in self.rows],
            "largest_depth [mm]": [float(path.depth.max()) for path in self.rows],
            "start_x [mm]": [float(path.xy[0, 0]) for path in self.rows],
            "start_y [mm]": [float(path.xy[0, 1]) for path in self.rows],
        }


def read_svg(
    file: str | os.PathLike[str] | IO[Any],
    *,
    depth: float | DepthFunction | Mapping[str, float | DepthFunction],
    tolerance: float = 0.01,
    smooth: bool | float = False,
) -> Drawing:
    """Read a drawing in SVG: one path for each sub-path of its shapes, in mm, y up, the page's lower left at (0, 0).

    Paths, rectangles, circles, ellipses, lines, polylines and polygons are read, in groups, links, nested drawings and
    symbols that are used, with their transforms; curves become tangent arcs. Whatever is displayed is read, whether it
    is filled, stroked or neither; nothing is clipped. No toolpaths are made from outlines.

    Parameters
    ----------
    file
        Path of the file, a file that is open, or the drawing itself as a str with a '<' in it.
    depth
        Of the tip, for the whole drawing: a number, or a function as in `Path.with_depth`. Or a mapping from ids of
        elements or groups, and from colours of strokes ('red', '#f00'), to the depth of each: the nearest id counts,
        then the stroke. [mm]
    tolerance
        As in `paths_from`, in [0.0001, 10]. [mm]
    smooth
        As in `paths_from`. [deg]

    Returns
    -------
    Drawing
        Its paths, with `notes` of what was assumed or not read.

    Raises
    ------
    DomainError
        If the file is no drawing or is damaged, path data or a transform breaks the grammar, no depth is given for a
        path, an entity is declared or a file has more than 100 000 elements; if there is no such file. Nothing outside
        of the file is looked at.
    OSError
        If the file cannot be opened.

    Warns
    -----
    DesignWarning
        If something that would be seen was left out: text, images, clones from other files, lengths in ems.

    Notes
    -----
    Width and height of the drawing with a unit, and its viewBox, say how large it is. Where they do not, a unit is a
    pixel of CSS, 1/96 of an inch, and a note says so. Style sheets are read as far as their selectors are a tag,
    classes and an id.

    Examples
    --------
    >>> import chipsim as cs
    >>> text = "<svg xmlns='http://www.w3.org/2000/svg' width='40mm' height='30mm' viewBox='0 0 80 60'>"
    >>> drawing = cs.read_svg(text + "<circle id='eye' cx='40' cy='30' r='10'/></svg>", depth=1.5)
    >>> drawing[0]
    <Path 'eye': 0 lines, 4 arcs, 31.4 mm, depth 1.5 mm, closed>
    """
    tol = number("tolerance", tolerance, low=TOLERANCE[0], high=TOLERANCE[1], unit="mm")
    limit = sweep_limit(smooth)
    if not isinstance(depth, Mapping) and not callable(depth):
        number("depth", depth, low=0, high=200, unit="mm")
    reading = _Reading(depth, tol, limit)
    root = _parsed(_content(file))
    if root.tag != "svg":
        raise DomainError(f"file must be a drawing in SVG, got an XML file of <{root.tag}>")
    reading.read(root)
    if not reading.paths:
        left = f": {reading.notes()[0]}" if reading.notes() else ""
        raise DomainError(f"file must hold a shape that can be read, got none{left}")
    drawing = Drawing(tuple(reading.paths), tuple(reading.notes()), reading.size)
    _LOG.info("read %d paths, %.1f mm, from a drawing", len(drawing), drawing.length)
    for note in drawing.notes:
        _LOG.info("%s", note)
    if reading.lost:
        warnings.warn(" ".join(reading.lost_notes()), DesignWarning, stacklevel=2)
    return drawing


# --- the file ---------------------------------------------------------------------------------------------------------


@dataclass
class _Element:
    tag: str
    attributes: dict[str, str]
    children: list[_Element] = field(default_factory=list)
    text: str = ""


def _content(file: Any) -> bytes | str:
    content: bytes | str
    if hasattr(file, "read"):
        content = file.read()
        if not isinstance(content, (bytes, str)):
            raise DomainError(f"file must be open for reading text or bytes, got {type(content).__name__} from it")
    elif isinstance(file, str) and "<" in file:
        content = file
    elif isinstance(file, (str, os.PathLike)):
        if "\0" in os.fsdecode(file) or not os.fsdecode(file):
            raise DomainError(f"file must be the path of a file, got {file!r:.60}")
        path = FilePath(file)
        if not path.is_file():
            raise DomainError(
                f"file must be the path of a drawing or the drawing itself, got {file!r:.60}: no such file"
            )
        if path.stat().st_size > _BYTES:
            raise DomainError(f"file must not be larger than {_BYTES // 1_000_000} MB, got {path.stat().st_size} bytes")
        content = path.read_bytes()
    else:
        raise DomainError(f"file must be a path, an open file or the drawing as a str, got {type(file).__name__}")
    if len(content) > _BYTES:
        raise DomainError(f"file must not be larger than {_BYTES // 1_000_000} MB, got {len(content)}")
    if content[:2] == b"\x1f\x8b":
        raise DomainError("file must not be compressed: unpack the drawing first (its name often ends in .svgz)")
    return content


def _parsed(content: bytes | str) -> _Element:
    """The tree of a file's elements; no entity is expanded and nothing outside of the file is opened."""
    root, count = _Element("", {}), 0
    stack: list[_Element] = []

    def start(tag: str, attributes: dict[str, str]) -> None:
        nonlocal count
        count += 1
        if count > _MOST or len(stack) > _DEEPEST:
            raise DomainError(f"file must not have more than {_MOST} elements, nor {_DEEPEST} within each other")
        space, _, local = tag.rpartition("}")
        # files that were written by hand often lack the namespace; what has another one is a program's own
        named = local if space in ("", _SVG) else "{" + tag
        inside = {}
        for key, value in attributes.items():
            space, _, local = key.rpartition("}")
            if space in ("", _SVG):
                inside[local] = value
            elif space == _XLINK:
                inside.setdefault(local, value)
        element = _Element(named, inside)
        (stack[-1] if stack else root).children.append(element)
        stack.append(element)

    def end(_tag: str) -> None:
        stack.pop()

    def text(data: str) -> None:
        if stack and stack[-1].tag == "style":
            stack[-1].text += data

    def refuse(*_: Any) -> Any:
        raise DomainError(
            "file must not declare or use entities of its own, which can hide other files or fill the memory; save the "
            "drawing as plain SVG"
        )

    parser = expat.ParserCreate(namespace_separator="}")
    parser.StartElementHandler, parser.EndElementHandler, parser.CharacterDataHandler = start, end, text
    parser.EntityDeclHandler = parser.UnparsedEntityDeclHandler = refuse
    parser.ExternalEntityRefHandler = parser.SkippedEntityHandler = refuse
    parser.SetParamEntityParsing(expat.XML_PARAM_ENTITY_PARSING_NEVER)
    try:
        parser.Parse(content, True)
    except (expat.ExpatError, UnicodeError, LookupError) as error:
        raise DomainError(f"file must be well-formed XML: {error}") from None
    return root.children[0]


# --- numbers ----------------------------------------------------------------------------------------------------------


def _length(text: str, whole: float) -> float:
    """A length in units of the drawing; `whole` is what a percentage is of."""
    found = _LENGTH.fullmatch(text)
    if found is None:
        raise DomainError(f"a length is expected, got {text!r:.40}")
    value, unit = float(found[1]), found[2].lower()
    if not abs(value) <= LARGEST:
        raise DomainError(f"a length up to {LARGEST:g} is expected, got {text!r:.40}")
    if unit == "%":
        return value / 100 * whole
    if unit not in _UNITS:
        raise _Unreadable(f"lengths in {found[2]!r:.20}")
    return value * _UNITS[unit]


def _numbers(text: str, what: str) -> list[float]:
    out, at = [], 0
    while rest := text[at:].strip(" \t\r\n"):
        found = _NUMBERS.match(text, at)
        if found is None:
            raise DomainError(f"{what} must be numbers, got {text!r:.60} with {rest!r:.20}")
        out.append(float(found[1]))
        at = found.end()
    if not all(abs(v) <= LARGEST for v in out):
        raise DomainError(f"{what} must be numbers up to {LARGEST:g}, got {text!r:.60}")
    return out


def _transform(text: str) -> FloatArray:
    """The map of a transform attribute, (3, 3): the first function is the outermost."""
    whole, at = np.eye(3), 0
    if text.strip().lower() == "none":
        return whole
    while at < len(text) and text[at:].strip(" ,\t\r\n"):
        found = _FUNCTION.match(text, at)
        if found is None:
            raise DomainError(f"transform must be functions such as rotate(30), got {text[at:]!r:.60}")
        whole = whole @ _one_transform(found[1], _numbers(found[2], found[1]), text)
        at = found.end()
    return whole


def _one_transform(name: str, v: list[float], text: str) -> FloatArray:
    allowed = {"matrix": (6,), "translate": (1, 2), "scale": (1, 2), "rotate": (1, 3), "skewX": (1,), "skewY": (1,)}
    if len(v) not in allowed[name]:
        raise DomainError(f"transform {name} takes {' or '.join(map(str, allowed[name]))} numbers, got {text!r:.60}")
    if name == "matrix":
        return np.array([v[0::2], v[1::2], [0.0, 0.0, 1.0]])
    if name == "translate":
        return _affine(1, 0, 0, 1, v[0], v[1] if len(v) > 1 else 0.0)
    if name == "scale":
        return _affine(v[0], 0, 0, v[-1])
    a = np.radians(v[0])
    if name == "rotate":
        turn = _affine(np.cos(a), np.sin(a), -np.sin(a), np.cos(a))
        if len(v) == 1:
            return turn
        return np.asarray(_affine(1, 0, 0, 1, v[1], v[2]) @ turn @ _affine(1, 0, 0, 1, -v[1], -v[2]))
    return _affine(1, 0, np.tan(a), 1) if name == "skewX" else _affine(1, np.tan(a), 0, 1)


def _affine(a: float, b: float, c: float, d: float, e: float = 0.0, f: float = 0.0) -> FloatArray:
    return np.array([[a, c, e], [b, d, f], [0.0, 0.0, 1.0]])


def _fitted(box: Sequence[float], width: float, height: float, aspect: str) -> FloatArray:
    """The map of a viewBox into a viewport at the origin, by preserveAspectRatio."""
    words = [w for w in aspect.split() if w != "defer"]
    align, how = [*words, "meet"][:2] if words else ("xMidYMid", "meet")
    x, y, w, h = box
    sx, sy = width / w, height / h
    if align == "none":
        return _affine(sx, 0, 0, sy, -x * sx, -y * sy)
    found = re.fullmatch("x(Min|Mid|Max)Y(Min|Mid|Max)", align)
    if found is None or how not in ("meet", "slice"):
        raise DomainError(f"preserveAspectRatio must be such as 'xMidYMid meet', got {aspect!r:.40}")
    s = min(sx, sy) if how == "meet" else max(sx, sy)
    share = {"Min": 0.0, "Mid": 0.5, "Max": 1.0}
    dx, dy = share[found[1]] * (width - w * s), share[found[2]] * (height - h * s)
    return _affine(s, 0, 0, s, dx - x * s, dy - y * s)


# --- shapes -----------------------------------------------------------------------------------------------------------


def _shape(e: _Element, view: tuple[float, float]) -> list[Figure]:
    """Figures of a shape in its own units."""
    across, down, both = view[0], view[1], float(np.hypot(*view) / np.sqrt(2))

    def length(name: str, whole: float, *, positive: bool = False) -> float:
        value = _length(e.attributes[name], whole) if name in e.attributes else 0.0
        if positive and value < 0:
            raise DomainError(f"{name} must not be negative, got {e.attributes[name]!r:.40}")
        return value

    if e.tag == "path":
        return figures_of(e.attributes.get("d", ""))
    if e.tag in ("polyline", "polygon"):
        points = _numbers(e.attributes.get("points", ""), "points")
        if len(points) % 2:
            raise DomainError(f"points must be pairs, got {len(points)} numbers")
        xy = np.array(points).reshape(-1, 2)
        if len(xy) < 2:
            return []
        shut = e.tag == "polygon"
        return [chained(np.vstack([xy, xy[:1]]) if shut else xy, closed=shut)]
    if e.tag == "line":
        ends = [[length("x1", across), length("y1", down)], [length("x2", across), length("y2", down)]]
        return [chained(np.array(ends))]
    if e.tag == "rect":
        return _rectangle(e, length("x", across), length("y", down), length("width", across, positive=True),
                          length("height", down, positive=True), length)  # fmt: skip
    centre = np.array([length("cx", across), length("cy", down)])
    if e.tag == "circle":
        rx = ry = length("r", both, positive=True)
    else:
        auto = [k for k in ("rx", "ry") if e.attributes.get(k, "auto").strip() == "auto"]
        rx = 0.0 if "rx" in auto else length("rx", across, positive=True)
        ry = 0.0 if "ry" in auto else length("ry", down, positive=True)
        if len(auto) == 1:  # one radius alone is both, as SVG 2 has it
            rx = ry = max(rx, ry)
    if rx == 0 or ry == 0:
        return []
    quarters = [EllipticArc.of(centre, np.diag([rx, ry]), k * np.pi / 2, np.pi / 2) for k in range(4)]
    return [Figure(tuple(quarters), True)]


def _rectangle(e: _Element, x: float, y: float, w: float, h: float, length: Any) -> list[Figure]:
    if w == 0 or h == 0:
        return []
    given = [e.attributes.get(k, "auto").strip() != "auto" for k in ("rx", "ry")]
    rx = length("rx", 0.0, positive=True) if given[0] else 0.0
    ry = length("ry", 0.0, positive=True) if given[1] else rx
    rx = min(rx if given[0] else ry, w / 2)
    ry = min(ry, h / 2)
    if any("%" in e.attributes.get(k, "") for k in ("rx", "ry")):
        raise _Unreadable("radii of rectangles in %")
    if rx == 0 or ry == 0:
        xy = np.array([(x, y), (x + w, y), (x + w, y + h), (x, y + h), (x, y)])
        return [chained(xy, closed=True)]
    a = [(x + rx, y), (x + w - rx, y), (x + w, y + ry), (x + w, y + h - ry)]
    b = [(x + w - rx, y + h), (x + rx, y + h), (x, y + h - ry), (x, y + ry)]
    corners = np.array([*a, *b, a[0]], dtype=float)
    strokes: list[Stroke] = []
    for k in range(0, 8, 2):
        if (corners[k] != corners[k + 1]).any():
            strokes += chained(corners[k : k + 2]).strokes
        strokes.append(arc_between(corners[k + 1], corners[k + 2], rx, ry, 0.0, large=False, positive=True))
    return [Figure(tuple(strokes), True)]


# --- the tree ---------------------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class _Place:
    """What an element inherits: the map into mm, its viewport in its own units, its stroke, whether it is seen."""

    matrix: FloatArray
    view: tuple[float, float]
    stroke: str = "none"
    visible: bool = True
    ids: tuple[str, ...] = ()
    used: tuple[str, ...] = ()


@dataclass
class _Reading:
    """One reading of one drawing."""

    depth: ArrayLike | DepthFunction | Mapping[str, ArrayLike | DepthFunction]
    tolerance: float
    smooth: float
    paths: list[Path] = field(default_factory=list)
    size: tuple[float, float] = (0.0, 0.0)
    assumed: list[str] = field(default_factory=list)
    lost: Counter[str] = field(default_factory=Counter)
    ignored: Counter[str] = field(default_factory=Counter)
    by_id: dict[str, _Element] = field(default_factory=dict)
    sheet: Sheet = field(default_factory=Sheet)
    depths: dict[str, ArrayLike | DepthFunction] = field(default_factory=dict)

    def notes(self) -> list[str]:
        """Sentences on what was assumed and left out."""
        ignored = [f"Not heeded: {what}{_times(n)}." for what, n in self.ignored.items()]
        rules = sorted(set(self.sheet.unread))
        if rules:
            ignored.append(f"Not heeded: rules of style sheets for {', '.join(rules[:5])}.")
        return [*self.lost_notes(), *self.assumed, *ignored]

    def lost_notes(self) -> list[str]:
        return [f"Left out of the drawing: {what}{_times(n)}." for what, n in self.lost.items()]

    def read(self, root: _Element) -> None:
        if isinstance(self.depth, Mapping):
            self.depths = {str(k): v for k, v in self.depth.items()}
            self.depths |= {colour_of(k): v for k, v in self.depths.items()}
        for e in _every(root):
            if name := e.attributes.get("id"):
                self.by_id.setdefault(name, e)
            if e.tag == "style" and e.attributes.get("type", "text/css").strip() in ("", "text/css"):
                self.sheet.add(e.text)
        if self._drawn(root, {}, 0) > _MOST:
            raise DomainError(f"file must not draw more than {_MOST} elements, those that are used again counted again")
        matrix, view = self._page(root)
        try:
            place = self._inherited(root, _Place(matrix, view))
        except _Unreadable as why:
            raise DomainError(f"file must not have on its outermost svg what cannot be read: {why}") from None
        if place is not None:
            for child in root.children:
                self._element(child, place)

    def _drawn(self, e: _Element, known: dict[int, int], level: int) -> int:
        """How many elements are drawn within one, what is used again counted again, before any of them is."""
        if level > _DEEPEST + 5 * _CLONES:
            raise DomainError(f"file must not have elements and clones more than {_DEEPEST + 5 * _CLONES} deep")
        if id(e) not in known:
            known[id(e)] = 1  # what is within itself is refused when it is met
            inside = [*e.children]
            if e.tag == "use" and (found := self.by_id.get(e.attributes.get("href", "").strip()[1:])):
                inside.append(found)
            count = 1
            for child in inside:
                count += self._drawn(child, known, level + 1)
            known[id(e)] = min(count, 2 * _MOST)
        return known[id(e)]

    def _page(self, root: _Element) -> tuple[FloatArray, tuple[float, float]]:
        """Map from the root's units to mm, y up, and its viewport."""
        own = declarations(root.attributes.get("style", ""))
        given = {k: own.get(k, root.attributes.get(k, "auto")).strip() for k in ("width", "height")}
        box = self._box(root)
        try:
            sizes = {k: None if v == "auto" or v.endswith("%") else _length(v, 0.0) for k, v in given.items()}
        except _Unreadable as why:
            raise DomainError(f"file must have a width and height that can be read, got {why}") from None
        width, height = sizes["width"], sizes["height"]
        if any(v is not None and v <= 0 for v in (width, height)):
            raise DomainError(f"file must have a width and height above 0, got {given['width']} by {given['height']}")
        if width is None or height is None:
            if box is not None:
                ratio = box[3] / box[2]
                if width is None and height is None:
                    width, height = box[2], box[3]
                    self._assume_pixels()
                else:
                    width, height = (height or 0.0) / ratio if width is None else width, height or (width or 0) * ratio
            else:
                self._assume_pixels()
        elif all(re.fullmatch(r"[-+.\deE\s]*(px)?", v) for v in given.values()):
            self._assume_pixels()
        mm = 25.4 / _INCH
        if width is None or height is None:  # no page: the drawing hangs below its origin
            return _affine(mm, 0, 0, -mm), (width or 0.0, height or 0.0)
        self.size = (width * mm, height * mm)
        to_page = _affine(mm, 0, 0, -mm, 0.0, height * mm)
        if box is None:
            return to_page, (width, height)
        fit = _fitted(box, width, height, root.attributes.get("preserveAspectRatio", ""))
        return np.asarray(to_page @ fit), (box[2], box[3])

    def _assume_pixels(self) -> None:
        self.assumed.append(
            "The drawing does not say how large it is in mm or inches: one unit was taken for a pixel, 1/96 inch, or "
            "0.2646 mm. Compare the size with what you drew."
        )

    def _box(self, e: _Element) -> list[float] | None:
        if "viewBox" not in e.attributes:
            return None
        box = _numbers(e.attributes["viewBox"], "viewBox")
        if len(box) != 4 or box[2] < 0 or box[3] < 0:
            raise DomainError(f"viewBox must be x, y, width and height, got {e.attributes['viewBox']!r:.60}")
        if box[2] == 0 or box[3] == 0:
            raise DomainError("viewBox must have a width and a height, or nothing of it is seen")
        return box

    def _inherited(self, e: _Element, place: _Place) -> _Place | None:
        """What holds within an element; None if neither it nor what is in it is displayed."""
        name, attributes = e.attributes.get("id", ""), e.attributes
        marks = [f".{c}" for c in attributes.get("class", "").split()] + ([f"#{name}"] if name else [])
        own: dict[str, str] = {
            k: attributes[k] for k in ("display", "visibility", "stroke", "clip-path", "mask") if k in attributes
        }
        own |= self.sheet.of(e.tag, marks) | declarations(attributes.get("style", ""))
        if own.get("display") == "none":
            return None
        for what in ("clip-path", "mask"):
            if own.get(what, "none") != "none":
                self.ignored[f"{what}, the whole shape is read"] += 1
        moved: list[str] = [
            k for k in ("transform", "d", "x", "y", "cx", "cy", "r", "rx", "ry", "offset-path") if k in own
        ]
        if e.tag != "svg":
            moved += [k for k in ("width", "height") if k in own]
        if moved or "transform-origin" in own or "transform-origin" in attributes:
            raise _Unreadable(f"elements with {(moved or ['transform-origin'])[0]!r} in their style")
        return replace(
            place,
            matrix=place.matrix @ _transform(attributes.get("transform", "")),
            stroke=place.stroke if own.get("stroke", "inherit") == "inherit" else own["stroke"],
            visible=own.get("visibility", "visible" if place.visible else "hidden") in ("visible", "inherit")
            and (own.get("visibility") == "visible" or place.visible),
            ids=(*place.ids, name) if name else place.ids,
        )

    def _element(self, e: _Element, place: _Place) -> None:
        if e.tag in _SILENT or e.tag.startswith("{"):
            return
        called = f"<{e.tag}" + (f" id={e.attributes['id']!r:.40}>" if "id" in e.attributes else ">")
        try:
            inside = self._inherited(e, place)
            if inside is None:
                return
            for child in e.children:
                if child.tag in ("animate", "animateTransform", "animateMotion", "set"):
                    self.ignored["animation"] += 1
            if e.tag in _SHAPES:
                self._draw(e, inside)
            elif e.tag == "svg":
                self._nested(e, inside, {})
            elif e.tag == "switch":
                self.ignored["the conditions of a switch, its first part is read"] += 1
                for child in [c for c in e.children if c.tag in (*_HOLDS, *_SHAPES, "use")][:1]:
                    self._element(child, inside)
            elif e.tag in _HOLDS:
                for child in e.children:
                    self._element(child, inside)
            elif e.tag == "use":
                self._use(e, inside)
            elif not e.tag.startswith("animate") and e.tag != "set":
                self.lost[f"<{e.tag}>" + (", which must be turned into paths first" if e.tag == "text" else "")] += 1
        except _Unreadable as why:
            self.lost[str(why)] += 1
        except DomainError as error:
            if str(error).startswith(("file must", "depth must")) or "in the drawing's <" in str(error):
                raise
            raise DomainError(f"{error}, in the drawing's {called}") from None

    def _nested(self, e: _Element, place: _Place, given: Mapping[str, str]) -> None:
        """What is in a nested svg or a used symbol, in a viewport of its own."""
        across, down = place.view
        attributes = {**e.attributes, **given}
        x, y = _length(attributes.get("x", "0"), across), _length(attributes.get("y", "0"), down)
        sizes = [attributes.get(k, "100%").strip() for k in ("width", "height")]
        width, height = (_length("100%" if v == "auto" else v, w) for v, w in zip(sizes, (across, down), strict=True))
        if width < 0 or height < 0:
            raise DomainError(f"width and height must not be negative, got {sizes}")
        matrix, view, box = place.matrix @ _affine(1, 0, 0, 1, x, y), (width, height), self._box(e)
        if box is not None:
            if width == 0 or height == 0:
                if "%" in "".join(sizes):
                    raise _Unreadable("nested drawings whose size follows from a page that has none")
                return
            fit = _fitted(box, width, height, attributes.get("preserveAspectRatio", ""))
            matrix, view = matrix @ fit, (box[2], box[3])
        inside = replace(place, matrix=matrix, view=view)
        for child in e.children:
            self._element(child, inside)

    def _use(self, e: _Element, place: _Place) -> None:
        target = e.attributes.get("href", "").strip()
        if not target.startswith("#"):
            raise _Unreadable("clones of what is in another file" if target else "clones of nothing")
        found = self.by_id.get(target[1:])
        if found is None:
            raise _Unreadable(f"clones of {target!r:.40}, which is not in the file")
        if target in place.used:
            raise DomainError(f"file must not have a clone within itself, got {target!r:.40}")
        if len(place.used) >= _CLONES:
            raise DomainError(f"file must not have clones of clones more than {_CLONES} deep, got {target!r:.40}")
        across, down = place.view
        x, y = _length(e.attributes.get("x", "0"), across), _length(e.attributes.get("y", "0"), down)
        inside = replace(place, matrix=place.matrix @ _affine(1, 0, 0, 1, x, y), used=(*place.used, target))
        if found.tag in ("symbol", "svg"):
            own = self._inherited(found, inside)
            given: dict[str, str] = {k: e.attributes[k] for k in ("width", "height") if k in e.attributes}
            if own is not None:
                self._nested(found, own, given)
        else:
            self._element(found, inside)

    def _draw(self, e: _Element, place: _Place) -> None:
        if not place.visible:
            return
        figures = _shape(e, place.view)
        if not figures:
            return
        # SVG 1.1 (7.4): what a map without an inverse would draw is not drawn
        map_ = place.matrix[:2, :2]
        if abs(np.linalg.det(map_)) <= 1e-12 * np.abs(map_).max() ** 2:
            self.ignored["a shape that its transform leaves no width"] += 1
            return
        depth = self._depth_of(place)
        name = e.attributes.get("id") or (place.ids[-1] if place.used and place.ids else "")
        for figure in figures:
            laid = figure.moved(place.matrix).laid_out(self.tolerance)
            if not (np.abs(laid[0]) <= 1e5).all():
                raise DomainError(f"the drawing must lie within 100 000 mm, got {np.abs(laid[0]).max():g}")
            path = path_of(laid, depth, self.tolerance, closed=figure.closed, smooth=self.smooth, name=name)
            if path is not None:
                self.paths.append(path)

    def _depth_of(self, place: _Place) -> ArrayLike | DepthFunction:
        if not isinstance(self.depth, Mapping):
            return self.depth
        stroke = colour_of(place.stroke)
        for key in (*place.ids[::-1], stroke):
            if key in self.depths:
                return self.depths[key]
        ids = ", ".join(map(repr, place.ids[::-1])) or "none"
        raise DomainError(
            f"depth must hold the depth of every path, got none for ids {ids:.80} nor stroke {stroke!r:.40}"
        )


def _times(n: int) -> str:
    return f", {n} times" if n > 1 else ""


def _every(root: _Element) -> Iterator[_Element]:
    stack = [root]
    while stack:
        e = stack.pop()
        yield e
        stack += e.children[::-1]
