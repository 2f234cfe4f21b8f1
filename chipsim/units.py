"""Multipliers into millimetres, and formatting at the edge.

The library computes in mm, s, degrees, rpm and mm/min. Inputs in inches are multiplied on the
way in (``0.5 * inch``, ``65 * ipm``, ``4 * thou``); reports print both systems on the way out.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from textwrap import fill

__all__ = [
    "feed_text",
    "folded",
    "hung",
    "inch",
    "ipm",
    "length_text",
    "range_text",
    "table_text",
    "thou",
    "tooth_feed_text",
]

inch = 25.4
"""Millimetres in one inch (exact, 1959 agreement). [mm/in]"""

ipm = 25.4
"""mm/min in one inch per minute (exact). [mm/min per in/min]"""

thou = 0.0254
"""Millimetres in one thousandth of an inch (exact). [mm/thou]"""


def length_text(length: float, digits: int = 2) -> str:
    """Length [mm] as '12.70 mm (0.500 in)'."""
    return f"{length:.{digits}f} mm ({length / inch:.{digits + 1}f} in)"


def feed_text(feed: float) -> str:
    """Feed [mm/min] as '1500 mm/min (59 in/min)'."""
    return f"{feed:.0f} mm/min ({feed / ipm:.0f} in/min)"


def feeds_text(feeds: Sequence[float]) -> str:
    """Feeds [mm/min] as '600 to 1500 mm/min (24 to 59 in/min)', one as `feed_text`."""
    return f"{range_text(feeds, '.0f')} mm/min ({range_text((f / ipm for f in feeds), '.0f')} in/min)"


def tooth_feed_text(feed: float) -> str:
    """Feed per tooth [mm] as '0.083 mm (3.3 thou)'."""
    return f"{feed:.3f} mm ({feed / thou:.1f} thou)"


def folded(text: str, indent: str = "") -> list[str]:
    """A paragraph in lines of a report's width, 120 letters; none if there is nothing to say."""
    if not text:
        return []
    return fill(text, 120, initial_indent=indent, subsequent_indent=indent, break_on_hyphens=False).splitlines()


def hung(text: str) -> list[str]:
    """A paragraph in lines of a report's width, all but the first set in by two letters."""
    return fill(text, 120, subsequent_indent="  ", break_on_hyphens=False).splitlines()


def table_text(rows: Sequence[tuple[str, ...]], *, right: int | None = None) -> str:
    """Rows of cells as columns, two spaces apart, left-aligned; from column `right` on to the right."""
    widths = [max(len(r[i]) for r in rows) for i in range(len(rows[0]))]
    first = len(widths) if right is None else right
    return "\n".join(
        "  ".join(
            cell.ljust(w) if i < first else cell.rjust(w) for i, (cell, w) in enumerate(zip(r, widths, strict=True))
        ).rstrip()
        for r in rows
    )


def range_text(values: Iterable[float], form: str) -> str:
    """'1200 to 1500', or the one number if both read the same."""
    every = list(values)
    low, high = f"{min(every):{form}}", f"{max(every):{form}}"
    return low if low == high else f"{low} to {high}"
