"""What readers, sweeps and fits say of their work, on the library's own logger; silent unless a user listens."""

from __future__ import annotations

import logging

__all__ = ["logger"]

_ROOT = logging.getLogger("chipsim")
# without a handler of its own the standard library would print warnings that nobody asked for
_ROOT.addHandler(logging.NullHandler())


def logger(room: str) -> logging.Logger:
    """The logger of a room, below `chipsim`, such as 'chipsim.choosing'."""
    return _ROOT.getChild(room)
