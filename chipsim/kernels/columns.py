"""Columns of the table that stands for the radii of a bit whose flutes are not alike; see `outline`."""

from __future__ import annotations

__all__ = []


RADIUS, TURNS, ASIDE, CURL, FIRST = range(5)
"""Radius; bounds, in the first row, of |dlag/dh|, of the edge's way aside a height and of its second derivative."""

LAG, PER_HEIGHT, PER_LOG, BACK, RAISED, PER_FLUTE = range(6)
"""Columns of a flute, after FIRST + PER_FLUTE j, and their number."""
