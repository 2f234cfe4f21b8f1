"""What a map comes to, risk by risk."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Any, NamedTuple

import numpy as np

from .._shared.arrays import FloatArray, choice
from .._shared.tables import Alike, Columns, Result
from ..damage.maps import CLASSES, RiskMap
from ..damage.maps import RISKS as SINGLE
from ..damage.scale import REWORK
from ..units import table_text

__all__ = ["CLASS_WORDS", "RISKS", "Summary", "SummaryRow"]


RISKS = (*SINGLE, "damage")
"""Names of the risks of a `RiskMap`, that of their union last."""

CLASS_WORDS = (*CLASSES, "not known")
"""Classes into which lengths of lip fall."""


class SummaryRow(NamedTuple):
    """One risk of a `Summary`: its mean and worst value, and the length of lip in each class. [-, -, mm]"""

    risk: str
    mean: float
    worst: float
    lengths: Mapping[str, float]


@dataclass(frozen=True, eq=False)
class Summary(Alike, Result):
    """What a map comes to, risk by risk; it iterates over the risks, as `SummaryRow`.

    Attributes
    ----------
    mean : of each of `RISKS` over the existing lips, weighted by length; NaN if not modelled. [-]
    worst : largest value of each; NaN likewise. [-]
    lengths : of lip in each class, of each risk; see `RiskMap.lengths_by_class`. [mm]
    """

    mean: Mapping[str, float]
    worst: Mapping[str, float]
    lengths: Mapping[str, Mapping[str, float]]

    @classmethod
    def of(cls, risk: RiskMap) -> Summary:
        """Sum up a map."""
        worst = {}
        for name in RISKS:
            value = risk.values(name)
            known = value[risk.exists & np.isfinite(value)]
            worst[name] = float(known.max()) if known.size else float("nan")
        return cls(
            {name: risk.mean(name) for name in RISKS}, worst, {name: risk.lengths_by_class(name) for name in RISKS}
        )

    @classmethod
    def of_many(cls, exists: np.ndarray, length: FloatArray, values: Mapping[str, FloatArray]) -> list[Summary]:
        """Summaries of many maps of the same lips: risks are (n, 2, maps), `exists` and `length` (n, 2)."""
        size = np.where(exists, length, 0.0).reshape(-1)
        bounds, names = list(CLASSES.values()), [*CLASSES, "not known"]
        mean, worst, lengths = {}, {}, {}
        for name, value in values.items():
            each = value.reshape(len(size), -1)
            known = np.isfinite(each) & exists.reshape(-1, 1)
            each = np.where(known, each, 0.0)
            total, some = size @ known, known.any(axis=0)
            mean[name] = np.where(total > 0, size @ each / np.where(total > 0, total, 1.0), np.nan)
            worst[name] = np.where(some, np.where(known, each, -np.inf).max(axis=0, initial=-np.inf), np.nan)
            below = [size @ (known & (each < bound)) for bound in bounds]
            parts = [*np.diff(below, axis=0, prepend=0.0), size @ ~np.isfinite(value.reshape(len(size), -1))]
            lengths[name] = dict(zip(names, parts, strict=True))
        return [
            cls(
                {name: float(m[k]) for name, m in mean.items()},
                {name: float(w[k]) for name, w in worst.items()},
                {name: {word: float(v[k]) for word, v in row.items()} for name, row in lengths.items()},
            )
            for k in range(len(next(iter(mean.values()))))
        ]

    def poor(self, risk: str = "damage") -> float:
        """Length of lip that needs sanding or re-cutting. [mm]"""
        lengths = self.lengths[choice("risk", risk, RISKS)]
        return sum(lengths[step] for step in REWORK)

    def __repr__(self) -> str:
        return f"<Summary mean damage {self.mean['damage']:.3f}, worst {self.worst['damage']:.2f}>"

    def __len__(self) -> int:
        return len(self.mean)

    def __iter__(self) -> Iterator[SummaryRow]:
        return (SummaryRow(name, self.mean[name], self.worst[name], dict(self.lengths[name])) for name in self.mean)

    def _columns(self) -> Columns:
        columns: dict[str, list[Any]] = {
            "risk": [*self.mean],
            "mean [-]": [*self.mean.values()],
            "worst [-]": [*self.worst.values()],
        }
        return columns | {f"{word} [mm]": [row[word] for row in self.lengths.values()] for word in CLASS_WORDS}

    def __str__(self) -> str:
        rows = [("risk", "mean", "worst", *(f"{word} [mm]" for word in CLASS_WORDS))]
        for name, mean, worst, lengths in self:
            both = (f"{v:.3f}" if np.isfinite(v) else "-" for v in (mean, worst))
            rows.append((name, *both, *(f"{lengths[word]:.1f}" for word in CLASS_WORDS)))
        return table_text(rows)

    @classmethod
    def headings(cls) -> list[str]:
        """Of the columns that tables of options, ways and settings share; see `cells`. [-, mm]"""
        return [*(f"{w} {r} [-]" for r in RISKS for w in ("mean", "worst")), *(f"{word} [mm]" for word in CLASS_WORDS)]

    def cells(self) -> list[float]:
        """Mean and worst of each risk, and lip by class of damage, as `headings`. [-, mm]"""
        values = [v for r in RISKS for v in (self.mean[r], self.worst[r])]
        return [*values, *(self.lengths["damage"][word] for word in CLASS_WORDS)]

    def __getstate__(self) -> tuple[dict[str, Any], tuple[str, ...]]:
        state, closed = super().__getstate__()
        return state | {"lengths": {name: dict(row) for name, row in self.lengths.items()}}, closed

    def __setstate__(self, state: tuple[dict[str, Any], tuple[str, ...]]) -> None:
        super().__setstate__(state)
        self.__post_init__()

    def __post_init__(self) -> None:
        for name in ("mean", "worst"):
            object.__setattr__(self, name, MappingProxyType(dict(getattr(self, name))))
        rows = {name: MappingProxyType(dict(row)) for name, row in self.lengths.items()}
        object.__setattr__(self, "lengths", MappingProxyType(rows))
