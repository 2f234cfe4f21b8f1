"""What a map comes to, risk by risk."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Any

import numpy as np

from .._shared.arrays import FloatArray, choice
from ..damage.maps import CLASSES, RiskMap
from ..damage.maps import RISKS as SINGLE

__all__ = ["RISKS", "Summary"]


RISKS = (*SINGLE, "damage")
"""Names of the risks of a `RiskMap`, that of their union last."""


@dataclass(frozen=True)
class Summary:
    """What a map comes to, risk by risk.

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
        """Length of lip that needs work or is spoilt. [mm]"""
        lengths = self.lengths[choice("risk", risk, RISKS)]
        return lengths["needs work"] + lengths["spoils"]

    def __reduce__(self) -> tuple[Any, ...]:
        plain = {name: dict(row) for name, row in self.lengths.items()}
        return Summary, (dict(self.mean), dict(self.worst), plain)

    def __post_init__(self) -> None:
        for name in ("mean", "worst"):
            object.__setattr__(self, name, MappingProxyType(dict(getattr(self, name))))
        rows = {name: MappingProxyType(dict(row)) for name, row in self.lengths.items()}
        object.__setattr__(self, "lengths", MappingProxyType(rows))
