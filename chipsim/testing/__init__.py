"""The check-kit: does your own geometry obey the physics?

>>> from chipsim.testing import check
>>> check(my_cutter)  # doctest: +SKIP

A subject is told by what it can do: a cutter profile has ``radius(height)``, a risk model ``bundle`` and
``lip_risks``; paths, grain fields, cuts, carvings and machines are the library's own classes; a function that makes
any of these goes to `check_all` with a strategy for each argument. Each property is one function whose docstring says
the property, its precondition and its tolerance; a failure shows the smallest case found as code to copy.

Properties draw their cases with hypothesis (``pip install 'chipsim[testing]'``), the same ones in every run. Neither
hypothesis nor pytest is loaded before it is needed.
"""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING, Any

from ._core import Check, Generator, PropertyError, Result, check, check_all, checks_for, parametrize_with_checks

__all__ = [
    "Check",
    "Generator",
    "PropertyError",
    "Result",
    "check",
    "check_all",
    "checks_for",
    "parametrize_with_checks",
    "strategies",
]

if TYPE_CHECKING:
    from ..testing import strategies


def __getattr__(name: str) -> Any:
    if name == "strategies":
        return import_module("chipsim.testing.strategies")
    raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
