"""How kernels are compiled: numba with a disk cache that never stands in the way, and one line when it takes a while.

The library prints nothing, with this one exception: the first call after an installation compiles for a while and
would look like a hang. So when a kernel is not found in numba's cache, one line goes to the standard error stream,
once a process; an environment variable ``CHIPSIM_QUIET`` that is not empty keeps it back.
"""

from __future__ import annotations

import contextlib
import functools
import hashlib
import os
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numba
from numba.core.caching import FunctionCache, NullCache

__all__ = ["njit"]

_said = False


def _say(cached: bool) -> None:
    global _said
    if _said or os.environ.get("CHIPSIM_QUIET") or sys.stderr is None:
        return
    _said = True
    later = "later runs start from the cache" if cached else "no place to cache them: set NUMBA_CACHE_DIR"
    sys.stderr.write(
        f"chipsim: compiling what it needs, once for each new kind of calculation, up to a minute or two; {later}\n"
    )


@functools.cache
def _room_digest() -> str:
    """Digest of every file of this room."""
    digest = hashlib.sha256()
    for file in sorted(Path(__file__).parent.glob("*.py")):
        digest.update(file.name.encode() + file.read_bytes())
    return digest.hexdigest()


class _ForgivingCache(FunctionCache):
    """Numba's cache; what cannot be read is compiled again, what cannot be written is kept in memory.

    Numba asks for the date and size of a kernel's own file alone: a kernel would stay as it was compiled although a
    kernel in another file that it calls has changed. Here what is kept is good only for the whole room as it is now.
    """

    def __init__(self, function: Callable[..., Any]) -> None:
        super().__init__(function)
        self._cache_file._source_stamp = _room_digest()

    def load_overload(self, sig: Any, target_context: Any) -> Any:
        found = None
        # a damaged file raises whatever unpickling happens to stumble over
        try:
            found = super().load_overload(sig, target_context)
        except Exception:
            with contextlib.suppress(Exception):
                self.flush()
        if found is None:
            _say(cached=True)
        return found

    def save_overload(self, sig: Any, data: Any) -> None:
        # a full disk, a folder that is gone or has become read-only
        with contextlib.suppress(Exception):
            super().save_overload(sig, data)


class _NoCache(NullCache):
    def load_overload(self, sig: Any, target_context: Any) -> None:
        _say(cached=False)


def njit(*, cache: bool = True, **options: Any) -> Callable[[Callable[..., Any]], Any]:
    """``numba.njit(cache=True)``, in memory alone where no folder can be written to (read-only install, no home)."""

    def dress(function: Callable[..., Any]) -> Any:
        compiled = numba.njit(**options)(function)
        if cache and hasattr(compiled, "enable_caching"):
            # what `enable_caching` does, with a cache of our own; without the compiler there is nothing to cache
            try:
                compiled._cache = _ForgivingCache(function)
            except (RuntimeError, OSError):
                compiled._cache = _NoCache()
        return compiled

    return dress
