"""Planned carvings as RS-274 programs, read and written."""

from .interpreter import (
    AXES,
    Event,
    Move,
    Notes,
    Reading,
    RS274Error,
    RS274Warning,
    error_at,
    interpret,
    lines_of,
    read_moves,
    told,
    turn_about,
    warn,
)
from .reader import read_rs274
from .writer import write_rs274

__all__ = [
    "AXES",
    "Event",
    "Move",
    "Notes",
    "RS274Error",
    "RS274Warning",
    "Reading",
    "error_at",
    "interpret",
    "lines_of",
    "read_moves",
    "read_rs274",
    "told",
    "turn_about",
    "warn",
    "write_rs274",
]
