"""What every result can do: a table for spreadsheets, data frames and notebooks, and a way through a pickle.

A result lists its columns; all else is here. A heading bears its unit in brackets, `[-]` for a pure number; words,
counts, numbers of things and truths have none.
"""

from __future__ import annotations

import base64
import csv
import io
import os
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import fields
from html import escape
from importlib import import_module
from itertools import islice
from types import MappingProxyType
from typing import Any, ClassVar, Generic, NamedTuple, Self, TextIO, TypeVar, overload
from weakref import WeakKeyDictionary

import numpy as np

from ..errors import DomainError
from .arrays import frozen
from .files import whole_file

__all__ = [
    "Alike",
    "Columns",
    "Kept",
    "Result",
    "Rows",
    "columns_of",
    "csv_text",
    "html_table",
    "one_a_side",
    "put_text",
    "rows_of",
]

Columns = Mapping[str, Sequence[Any] | np.ndarray]
"""Values by heading, all of one size; an array of several dimensions is read row by row, the last axis fastest."""

Row = TypeVar("Row")
Named = TypeVar("Named", bound=tuple[Any, ...])

_SHOWN = 40
"""Lines of a table that a notebook shows."""


class Kept:
    """What goes through a pickle, or a deep copy, as it is: views of mappings, and arrays that are read-only."""

    def __getstate__(self) -> tuple[dict[str, Any], tuple[str, ...]]:
        # a view of a mapping cannot be pickled, and an array forgets that it is read-only
        state = {k: dict(v) if isinstance(v, MappingProxyType) else v for k, v in vars(self).items()}
        return state, tuple(k for k, v in vars(self).items() if isinstance(v, MappingProxyType) or _is_frozen(v))

    def __setstate__(self, state: tuple[dict[str, Any], tuple[str, ...]]) -> None:
        held, closed = state
        for name in closed:
            value = held[name]
            held[name] = MappingProxyType(value) if isinstance(value, dict) else frozen(value)
        vars(self).update(held)


class Result(Kept):
    """A result with a table."""

    _axes: ClassVar[tuple[str, ...]] = ("row",)
    """Names of the axes along which the table's columns run."""

    _drawn_by: ClassVar[str] = ""
    """Which of the package's functions draws it for a notebook; '': it is shown as a table alone."""

    def _columns(self) -> Columns:
        raise NotImplementedError

    @overload
    def to_csv(self, path: None = None) -> str: ...
    @overload
    def to_csv(self, path: str | os.PathLike[str] | TextIO) -> None: ...

    def to_csv(self, path: str | os.PathLike[str] | TextIO | None = None) -> str | None:
        """Write the table as comma-separated values, one heading with units; what is not known is empty.

        Parameters
        ----------
        path
            Of the file, which is written whole or not at all; or a file open for text; None: the text is returned.

        Raises
        ------
        DomainError
            If it is neither, or lies in no folder.
        """
        columns = self._columns()
        if path is None:
            return csv_text(columns)
        if hasattr(path, "write"):
            _refuse_bytes(path)
            _write(columns, path)
            return None
        with whole_file(path) as handle:
            _write(columns, handle)
        return None

    def to_frame(self) -> Any:
        """The same table as a pandas DataFrame; needs the extra 'frame'.

        Raises
        ------
        DomainError
            Without pandas.
        """
        try:
            import pandas
        except ImportError:
            raise DomainError("to_frame must have the package pandas: install chipsim[frame]") from None
        return pandas.DataFrame({heading: _whole(values) for heading, values in self._columns().items()})

    def to_xarray(self) -> Any:
        """The same table as an xarray Dataset, each column along the axes it varies with; needs the extra 'xarray'.

        Units are in the attribute `units` of each variable, '1' for a pure number.

        Raises
        ------
        DomainError
            Without xarray.
        """
        try:
            import xarray
        except ImportError:
            raise DomainError("to_xarray must have the package xarray: install chipsim[xarray]") from None
        given: dict[str, Any] = {}
        along: dict[str, Any] = {}
        for heading, values in self._columns().items():
            name, _, unit = heading.rstrip("]").partition(" [")
            array = np.asarray(values)
            # an axis of stride 0 was only spread over; one of a single place has no stride to tell
            kept = [
                k
                for k in range(array.ndim)
                if array.strides[k] or (array.shape[k] == 1 and (name not in self._axes or self._axes[k] == name))
            ]
            plain = array[tuple(slice(None) if k in kept else 0 for k in range(array.ndim))]
            units = {"units": "1" if unit == "-" else unit} if unit else {}
            where = along if name in self._axes else given
            where[name] = (tuple(self._axes[k] for k in kept), plain.copy(), units)
        return xarray.Dataset(given, along, {"title": repr(self)})

    def _repr_html_(self) -> str:
        table = html_table(self._columns(), repr(self))
        if not self._drawn_by:
            return table
        picture = base64.b64encode(self._repr_png_() or b"").decode()
        return f'<img alt="{escape(repr(self))}" src="data:image/png;base64,{picture}"/>\n{table}'

    def _repr_png_(self) -> bytes | None:
        """The picture that a notebook shows; None if there is none."""
        if not self._drawn_by:
            return None
        if self not in _SHOWN_PICTURES:
            _SHOWN_PICTURES[self] = _picture(self, self._drawn_by)
        return _SHOWN_PICTURES[self]


_SHOWN_PICTURES: WeakKeyDictionary[Result, bytes] = WeakKeyDictionary()
"""Pictures that were drawn for a notebook, as long as what they show is kept: it asks for each in several forms."""


def _picture(thing: Result, by: str) -> bytes:
    """A picture as a file. The drawing is asked of the package by name: pictures stand above all results."""
    drawn = getattr(import_module("chipsim"), by)(thing)
    out = io.BytesIO()
    figure = drawn.figure
    figure.savefig(out, format="png", dpi=110)
    import_module("matplotlib.pyplot").close(figure)
    return out.getvalue()


def put_text(text: str, path: Any) -> str | None:
    """Write text to a path, whole or not at all, or into an open file; return it if there is neither."""
    if path is None:
        return text
    if hasattr(path, "write"):
        _refuse_bytes(path)
        path.write(text)
        return None
    with whole_file(path) as handle:
        handle.write(text)
    return None


def _refuse_bytes(path: Any) -> None:
    if isinstance(path, (io.RawIOBase, io.BufferedIOBase)):
        raise DomainError(f"path must be open for text if it is an open file, got {type(path).__name__}")


def _is_frozen(value: object) -> bool:
    return isinstance(value, np.ndarray) and not value.flags.writeable


class Rows(Result, Sequence[Row], Generic[Row]):
    """A result that is a sequence of rows, of which a slice is one as well."""

    rows: tuple[Row, ...]

    def _like(self, rows: tuple[Row, ...]) -> Self:
        return type(self)(rows)  # type: ignore[call-arg]  # a dataclass with this one field

    def __len__(self) -> int:
        return len(self.rows)

    @overload
    def __getitem__(self, index: int) -> Row: ...
    @overload
    def __getitem__(self, index: slice) -> Self: ...

    def __getitem__(self, index: int | slice) -> Row | Self:
        return self._like(self.rows[index]) if isinstance(index, slice) else self.rows[index]

    def __iter__(self) -> Iterator[Row]:
        return iter(self.rows)


class Alike:
    """A dataclass that equals another if all its fields do, NaN and NaN too: what went through a pickle is the same."""

    def __eq__(self, other: object) -> bool:
        return type(other) is type(self) and _bare(self) == _bare(other)

    def __hash__(self) -> int:
        return hash(_bare(self))


def _bare(value: Any) -> Any:
    """What can be compared and hashed, NaN as a word."""
    if isinstance(value, Alike):
        return type(value), *(_bare(getattr(value, f.name)) for f in fields(value) if f.compare)  # type: ignore[arg-type]
    if isinstance(value, float):
        return "nan" if value != value else value
    if isinstance(value, tuple):
        return tuple(map(_bare, value))
    if isinstance(value, Mapping):
        return frozenset((name, _bare(v)) for name, v in value.items())
    return value


# --- columns ----------------------------------------------------------------------------------------------------------


def rows_of(kind: Callable[..., Named], thing: object, names: Sequence[str]) -> Iterator[Named]:
    """Rows of a thing's arrays of these names: bare numbers and words from (n,) arrays, parts of all others."""
    arrays = [getattr(thing, name) for name in names]
    size = len(next(a for a in arrays if a is not None))
    each = ([None] * size if a is None else a.tolist() if a.ndim == 1 else a for a in arrays)
    return map(kind, *each)


def columns_of(rows: Sequence[NamedTuple], headings: Mapping[str, str]) -> Columns:
    """Columns of named tuples, by heading -> name of the field."""
    return {heading: [getattr(row, name) for row in rows] for heading, name in headings.items()}


def one_a_side(columns: Columns, sides: Sequence[str] = ("left", "right")) -> Columns:
    """Columns with a line for each side, from arrays (n,) and (n, 2); the first one is followed by the side's name."""
    out: dict[str, Sequence[Any] | np.ndarray] = {}
    for heading, values in columns.items():
        array = np.asarray(values)
        shape = (len(array), len(sides))
        out[heading] = array if array.ndim == 2 else np.broadcast_to(array[:, None], shape)
        out.setdefault("side", np.broadcast_to(np.array(sides), shape))
    return out


def _flat(values: Sequence[Any] | np.ndarray) -> Iterable[Any]:
    # not ravel, which copies what is only spread over the lines
    return values.flat if isinstance(values, np.ndarray) else values


def _whole(values: Sequence[Any] | np.ndarray) -> Any:
    return values.ravel() if isinstance(values, np.ndarray) else list(values)


def _cell(value: Any) -> str:
    if value is None:
        return ""
    if isinstance(value, (bool, np.bool_)):
        return str(int(value))
    if isinstance(value, (float, np.floating)):
        return "" if value != value else f"{value:.6g}"
    return str(value)


def _lines(columns: Columns) -> Iterator[list[str]]:
    for values in zip(*map(_flat, columns.values()), strict=True):
        yield [_cell(value) for value in values]


def _write(columns: Columns, handle: Any) -> None:
    out = csv.writer(handle, lineterminator="\n")
    out.writerow(columns)
    out.writerows(_lines(columns))


def csv_text(columns: Columns) -> str:
    """The columns as comma-separated values."""
    handle = io.StringIO()
    _write(columns, handle)
    return handle.getvalue()


def html_table(columns: Columns, caption: str) -> str:
    """A plain table of the first lines, and how many there are beyond them."""
    lines = list(islice(_lines(columns), _SHOWN))
    every = max((v.size if isinstance(v, np.ndarray) else len(v) for v in columns.values()), default=0)
    out = ["<table>", f"<caption>{escape(caption)}</caption>"]
    out += ["<thead>", _html_row(columns, "th"), "</thead>", "<tbody>"]
    out += [_html_row(line, "td") for line in lines]
    if every > len(lines):
        more = f"and {every - len(lines)} more lines: to_csv and to_frame have all"
        out.append(f'<tr><td colspan="{len(columns)}">{more}</td></tr>')
    return "\n".join([*out, "</tbody>", "</table>"])


def _html_row(cells: Iterable[str], tag: str) -> str:
    return f"<tr>{''.join(f'<{tag}>{escape(cell)}</{tag}>' for cell in cells)}</tr>"
