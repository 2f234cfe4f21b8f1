"""A map's lips as lines that carry their values, for programs that lay one thing over another."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from html import escape
from typing import Any, NamedTuple

import numpy as np

from .._shared.arrays import FloatArray

__all__ = ["Lip", "features", "lip_lines", "svg_text"]

_INKS = ("#c9c4b0", "#8ea3c8", "#6075ac", "#3a4585", "#1d1456")
"""Light to dark, even steps to the eye, as on the pictures; what is not known is grey."""

_UNKNOWN = "#9a9a9a"


class Lip(NamedTuple):
    """A piece of lip, by the row and side of its map."""

    row: int
    side: int
    line: FloatArray


def lip_lines(
    at: FloatArray, heading: FloatArray, length: FloatArray, exists: np.ndarray, groove: np.ndarray, run: np.ndarray
) -> Iterator[Lip]:
    """Pieces of lip, each through its own point, half its length to either side; neighbours that touch share an end.

    Parameters
    ----------
    at
        (n, 2, 2) lip points. [mm]
    heading
        (n, 2) direction of the lips. [deg]
    length
        (n, 2) of lip that each row stands for. [mm]
    exists
        (n, 2) where there is a lip.
    groove
        (n,) number of the groove of each row.
    run
        (n,) False on rows that turn about a vertex, whose inner side is no gap.
    """
    for side in (0, 1):
        rows = np.flatnonzero(exists[:, side])
        if not rows.size:
            continue
        point, size, angle = at[rows, side], length[rows, side], np.radians(heading[rows, side])
        half = size[:, None] / 2 * np.column_stack([np.cos(angle), np.sin(angle)])
        lines = np.stack([point - half, point, point + half], axis=1)
        lacking = np.cumsum(~exists[:, side] & run)[rows]
        chord = np.hypot(*np.diff(point, axis=0).T)
        touch = (np.diff(groove[rows]) == 0) & (np.diff(lacking) == 0) & (chord <= 1.25 * (size[1:] + size[:-1]) + 1e-9)
        middle = (point[1:] + point[:-1])[touch] / 2
        before = np.flatnonzero(touch)
        lines[before, 2] = lines[before + 1, 0] = middle
        yield from (Lip(int(row), side, line) for row, line in zip(rows, lines, strict=True))


def features(lips: Sequence[Lip], properties: Sequence[Mapping[str, Any]]) -> dict[str, Any]:
    """A FeatureCollection as GeoJSON has them (RFC 7946), in mm of the board's face instead of degrees of the globe."""
    return {
        "type": "FeatureCollection",
        "features": [
            {
                "type": "Feature",
                "geometry": {"type": "LineString", "coordinates": [tuple(map(float, p)) for p in lip.line]},
                "properties": dict(values),
            }
            for lip, values in zip(lips, properties, strict=True)
        ],
    }


def svg_text(
    lips: Sequence[Lip],
    properties: Sequence[Mapping[str, Any]],
    ranks: Sequence[int | None],
    toolpaths: Sequence[FloatArray],
    title: str,
) -> str:
    """A drawing in mm whose every element carries its values; y points up on the board and so on the page.

    Parameters
    ----------
    lips, properties
        Pieces of lip, and the values of each by name, units in the names.
    ranks
        Step of each in the classes of damage, from 0; None if it is not known.
    toolpaths
        (k, 2) points of each groove's path. [mm]
    title
        What the drawing is.
    """
    points = np.vstack([*(lip.line for lip in lips), *toolpaths])
    low, high = points.min(axis=0) - 2, points.max(axis=0) + 2
    width, height = high - low

    def line(xy: FloatArray) -> str:
        page = np.column_stack([xy[:, 0] - low[0], high[1] - xy[:, 1]])
        return "M" + "L".join(f"{x:.4f} {y:.4f}" for x, y in page)

    out = [
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{width:.4f}mm" height="{height:.4f}mm" '
        f'viewBox="0 0 {width:.4f} {height:.4f}" fill="none">',
        f"<title>{escape(title)}</title>",
        '<g id="toolpaths" stroke="#666666" stroke-width="0.1">',
        *(f'<path d="{line(xy)}"/>' for xy in toolpaths),
        "</g>",
        '<g id="lips" stroke-linecap="butt">',
    ]
    for lip, values, rank in zip(lips, properties, ranks, strict=True):
        ink = _UNKNOWN if rank is None else _INKS[min(rank, len(_INKS) - 1)]
        thick = 0.3 + 0.15 * (rank or 0)  # the width says it too, in grey print
        data = " ".join(f'data-{key.replace("_", "-")}="{escape(_said(value))}"' for key, value in values.items())
        out.append(f'<path d="{line(lip.line)}" stroke="{ink}" stroke-width="{thick:.2f}" {data}/>')
    return "\n".join([*out, "</g>", "</svg>", ""])


def _said(value: Any) -> str:
    if value is None:
        return ""
    return f"{value:.6g}" if isinstance(value, float) else str(value)
