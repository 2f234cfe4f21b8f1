"""Paths from whatever holds a design: points, geometries, outlines of a plotting library, path data."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping, Sequence
from typing import Any

import numpy as np
from numpy.typing import ArrayLike

from .._shared.arrays import FloatArray, array, number
from ..errors import DomainError
from ..scene.paths import DepthFunction, Path
from .pathdata import figures_of
from .strokes import Bezier, Figure, Stroke, chained, path_of, sweep_limit

__all__ = ["TOLERANCE", "paths_from"]

TOLERANCE = (1e-4, 10.0)
"""Least and largest tolerance of a design. [mm]"""

_DEEPEST = 50
"""Collections within collections, at most."""

_LARGEST = 1e5

_LISTS = {"LineString": 0, "LinearRing": 0, "MultiLineString": 1, "Polygon": 1, "MultiPolygon": 2}
"""How many lists deep the points of a geometry's lines lie."""


def paths_from(
    thing: object,
    depth: ArrayLike | DepthFunction | None = None,
    *,
    tolerance: float = 0.01,
    smooth: bool | float = False,
) -> list[Path]:
    """Paths from a design in any open form, one for each of its lines.

    Repeated points are dropped, a figure that ends where it starts is closed, and nothing else is altered: the paths
    follow the lines as they are. No toolpaths are made from outlines.

    Parameters
    ----------
    thing
        Points (n, 2), or (n, 3) with the depth as third number; anything with `__geo_interface__`, or such a mapping:
        lines, polygons with their holes, collections, features; an outline of matplotlib, such as a `TextPath`; SVG
        path data, a str; a `Path`; or a list of these. In mm, but for SVG path data y points up. [mm]
    depth
        Of the tip: a number; one for each of (n, 2) points; or a function f(station) or f(x, y), as in
        `Path.with_depth`. None: from the third number of the points, counted downwards (all of them 0 or more) or as a
        z (all of them 0 or less). [mm]
    tolerance
        Largest distance between the design's curves and the arcs that stand for them, in [0.0001, 10]; points nearer
        to each other than a tenth of it are one. [mm]
    smooth
        Points stay joined by straight lines, unless this is True, or an angle up to 90: then lines that meet under
        less than 30 degrees, or that angle, become tangent arcs through the same points. [deg]

    Returns
    -------
    list of Path
        In the design's order: of a polygon the shell, then its holes.

    Raises
    ------
    DomainError
        If the thing is none of these or holds no line, a value is out of range, depths are missing or of both signs,
        or a curve cannot be laid out.

    Examples
    --------
    >>> import chipsim as cs
    >>> for path in cs.paths_from("M 0 0 H 30 A 10 10 0 0 1 30 20 H 0 Z M 5 5 h 9", depth=1.5):
    ...     print(path)
    <Path 3 lines, 2 arcs, 111.4 mm, depth 1.5 mm, closed>
    <Path 1 lines, 0 arcs, 9.0 mm, depth 1.5 mm>
    """
    tol = number("tolerance", tolerance, low=TOLERANCE[0], high=TOLERANCE[1], unit="mm")
    limit = sweep_limit(smooth)
    out = []
    for part in _parts(thing, 0):
        if isinstance(part, Path):
            out.append(part if depth is None else part.with_depth(depth, tolerance=tol))
            continue
        if isinstance(part, Figure):
            if depth is None:
                raise DomainError("depth must be given for curves, which have no third number, got None")
            if not callable(depth) and np.ndim(depth):
                raise DomainError(f"depth must be one number or a function for curves, got shape {np.shape(depth)}")
            laid, each, closed = part.laid_out(tol), None, part.closed
        else:
            laid, each, closed = (part[:, :2], np.zeros(len(part) - 1)), _depths(part, depth), False
        if not (np.abs(laid[0]) <= _LARGEST).all():
            raise DomainError(f"thing must lie within {_LARGEST:g} mm of the origin, got {np.abs(laid[0]).max():g}")
        path = path_of(laid, 0.0 if depth is None else depth, tol, closed=closed, each=each, smooth=limit)
        if path is not None:
            out.append(path)
    if not out:
        raise DomainError("thing must hold a line that goes somewhere, got none")
    return out


def _depths(points: FloatArray, depth: ArrayLike | DepthFunction | None) -> FloatArray | None:
    """Depth at each point, from its third number or as many as there are points; None if it is told otherwise."""
    if depth is not None:
        if callable(depth):
            return None
        given = array("depth", depth, low=0, high=200, unit="mm")
        return given if given.shape == (len(points),) else None
    if points.shape[1] == 2:
        raise DomainError("depth must be given for points (n, 2), which have no third number, got None")
    z = points[:, 2]
    if (z > 0).any() and (z < 0).any():
        raise DomainError(
            f"thing must have depths of one sign, all counted downwards or all as a z below the face, got {z.min():g} "
            f"to {z.max():g} mm"
        )
    return np.abs(z)


Part = Path | Figure | FloatArray
"""A path as it is, a figure of curves, or points (n, 2 or 3)."""


def _parts(thing: Any, level: int) -> Iterator[Part]:
    if level > _DEEPEST:
        raise DomainError(f"thing must not hold collections more than {_DEEPEST} deep")
    if isinstance(thing, Path):
        yield thing
    elif isinstance(thing, str):
        _no_word(thing)
        yield from figures_of(thing, "thing")
    elif isinstance(thing, Mapping):
        yield from _geometry(thing, level)
    elif hasattr(thing, "__geo_interface__"):
        yield from _geometry(thing.__geo_interface__, level)
    elif hasattr(thing, "vertices") and hasattr(thing, "codes"):
        yield from _outline(thing.vertices, thing.codes)
    elif _holds_parts(thing):
        for part in thing:
            yield from _parts(part, level + 1)
    else:
        yield _points("thing", thing)


def _no_word(text: str) -> None:
    """DomainError for a word that is to be carved, or a file's name: both come in by another way."""
    if re.fullmatch(r"[Mm][\s\d.,+-].*|\s*", text.strip(), re.S):
        return
    if text.strip().lower().endswith(".svg"):
        raise DomainError(f"thing must be SVG path data, got {text.strip()[-40:]!r}: a file is read by read_svg")
    if re.fullmatch(r"[\w .&'-]{1,40}", text.strip()) and re.search(r"[^\W\d_]{2}", text):
        raise DomainError(
            f"thing must be SVG path data, which begins with M, got {text.strip()!r}: outlines of letters come by "
            f"matplotlib.textpath.TextPath((0, 0), {text.strip()!r}, size=25)"
        )


def _is_list(thing: Any) -> bool:
    """Whether it has parts that can be counted, and is no text."""
    if isinstance(thing, np.ndarray):
        return thing.ndim > 0
    return isinstance(thing, Sequence) and not isinstance(thing, (str, bytes))


def _holds_parts(things: Any) -> bool:
    """Whether the first of a list is a line by itself, not a point."""
    if not _is_list(things) or not len(things):
        return False
    first = things[0]
    if isinstance(first, (str, Path, Mapping)) or hasattr(first, "__geo_interface__") or hasattr(first, "codes"):
        return True
    return _is_list(first) and len(first) > 0 and _is_list(first[0])


def _points(name: str, value: Any) -> FloatArray:
    words = (
        f"{name} must be points (n, 2) or (n, 3), something with __geo_interface__, an outline of matplotlib, SVG path "
        f"data, a Path, or a list of these"
    )
    try:
        points = array(name, value, low=-_LARGEST, high=_LARGEST, unit="mm")
    except DomainError as error:
        if "must be an array" in str(error):
            raise DomainError(f"{words}, got {type(value).__name__}") from None
        raise
    if points.ndim != 2 or points.shape[1] not in (2, 3) or len(points) < 2:
        raise DomainError(f"{words}, of at least two points, got shape {points.shape}")
    return points


def _geometry(thing: Mapping[str, Any], level: int) -> Iterator[Part]:
    """Lines of a geometry, a feature or a collection as GeoJSON (RFC 7946) and `__geo_interface__` have them."""
    kind = thing.get("type")
    try:
        if kind == "Feature":
            inside = [] if thing["geometry"] is None else [thing["geometry"]]
        elif kind in ("FeatureCollection", "GeometryCollection"):
            inside = thing["features" if kind == "FeatureCollection" else "geometries"]
        elif kind in _LISTS:
            yield from _lines(thing["coordinates"], _LISTS[kind])
            return
        else:
            raise DomainError(
                f"thing must be made of lines and polygons, got a geometry of type {kind!r:.40}"
                + (": a point is no groove, see dot()" if kind in ("Point", "MultiPoint") else "")
            )
    except KeyError as missing:
        raise DomainError(f"thing must be a geometry with {missing.args[0]!r}, got {kind} without it") from None
    for part in inside:
        yield from _parts(part, level + 1)


def _lines(coordinates: Any, level: int) -> Iterator[FloatArray]:
    if not _is_list(coordinates):
        raise DomainError(f"thing must have lists of points, got {type(coordinates).__name__}")
    if level:
        for part in coordinates:
            yield from _lines(part, level - 1)
    elif len(coordinates):
        yield _points("thing's coordinates", coordinates)


def _outline(vertices: Any, codes: Any) -> Iterator[Figure]:
    """Figures of a matplotlib path: moves start a new one, curves are Bézier curves."""
    xy = array("thing.vertices", vertices, low=-_LARGEST, high=_LARGEST, unit="mm")
    if xy.ndim != 2 or xy.shape[1] != 2:
        raise DomainError(f"thing.vertices must have shape (n, 2), got {xy.shape}")
    if codes is None:
        if len(xy) > 1:
            yield chained(xy)
        return
    kinds = [int(c) for c in np.asarray(codes)]
    if len(kinds) != len(xy):
        raise DomainError(f"thing.codes must be as many as its vertices, {len(xy)}, got {len(kinds)}")
    strokes: list[Stroke] = []
    here = first = xy[0] if len(xy) else np.zeros(2)
    i = 0
    while i < len(xy):
        kind = kinds[i]
        if kind == 0:  # STOP
            break
        if kind == 1:  # MOVETO
            if strokes:
                yield Figure(tuple(strokes))
                strokes = []
            here = first = xy[i]
            i += 1
        elif kind == 79:  # CLOSEPOLY, whose own vertex means nothing
            if (here != first).any():
                strokes.append(Bezier(np.array([here, first])))
            if strokes:
                yield Figure(tuple(strokes), True)
                strokes = []
            here = first
            i += 1
        elif kind in (2, 3, 4):  # LINETO, CURVE3, CURVE4: so many points less one
            ends = i + kind - 1
            if kinds[i:ends] != [kind] * (kind - 1):
                raise DomainError(
                    f"thing.codes must have curves of {kind - 1} points, got {kinds[i:ends]} at index {i}"
                )
            control = np.vstack([here, xy[i:ends]])
            if (control != here).any():
                strokes.append(Bezier(control))
            here = xy[ends - 1]
            i = ends
        else:
            raise DomainError(f"thing.codes must be those of a matplotlib path, got {kind} at index {i}")
    if strokes:
        yield Figure(tuple(strokes))
