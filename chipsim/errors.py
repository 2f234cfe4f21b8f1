"""The error tree: everything chipsim refuses, it refuses with one of these."""

from __future__ import annotations

__all__ = ["ChipsimError", "ConvergenceError", "DesignWarning", "DomainError"]


class ChipsimError(Exception):
    """Base of every error raised on purpose by chipsim."""


class DomainError(ChipsimError, ValueError):
    """An argument outside its allowed range; the message names argument, value and range.

    Examples
    --------
    >>> import chipsim as cs
    >>> try:
    ...     cs.ring(radius=-20, depth=2.5)
    ... except cs.DomainError as error:
    ...     print(error)
    radius must lie in (0, 100000] mm, got -20
    """


class ConvergenceError(ChipsimError, RuntimeError):
    """A solver that should always converge did not; please report the input."""


class DesignWarning(UserWarning):
    """Something of a design was left out that can be seen in it; the result's `notes` name it."""
