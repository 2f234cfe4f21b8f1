"""Draws of the failure model: its prior, structure included, and the draws that are left of it by the literature.

The prior knows nothing of fuzz: every coefficient is spread over its published range, evenly or evenly in its
logarithm, with a share on values that stand for another structure. `data/model_draws.csv` is what is left of it once
every draw is weighted by the statements of `data/literature.csv` that it meets (`literature`, made by
`benchmarks/literature.py`): equally likely models, which `model_draws` and the bands of maps hand out.
"""

from __future__ import annotations

import csv
from collections.abc import Mapping, Sequence
from copy import copy
from dataclasses import dataclass, fields
from functools import cache
from importlib.resources import files
from types import MappingProxyType
from typing import NamedTuple

import numpy as np

from .._shared.arrays import FloatArray, frozen, integer
from .._shared.arrays import seed as checked_seed
from .models import RiskModel

__all__ = ["BESIDE", "OF_THE_WOOD", "STRUCTURE", "Ensemble", "Prior", "ensemble", "lifted", "model_draws", "models_at"]

_LOGARITHMIC = 3.0
"""Ranges whose ends are positive and so many times apart are even in the logarithm."""

STRUCTURE: Mapping[str, Mapping[float, float]] = MappingProxyType(
    {
        "redrawn": {1.0: 0.3},  # every blow meets a strength of its own
        "frailty": {0.0: 0.4},  # bundles are alike
        "inertia": {0.0: 0.15, 1.0: 0.2},  # speed acts only through the chip; in full
        "cell_wall": {0.0: 0.3, 1.0: 0.3},  # the wood's strength; its walls', alike in all woods
        "own_strength": {0.0: 0.25},
        "crushing": {0.0: 0.3},
        "turn": {0.0: 0.3},  # only the angle at the finished lip counts
        "crowding": {0.0: 0.3},  # a chip of any thickness bites in proportion
        "lifting": {-1.0: 0.25},  # each degree of rake severs better
        "loosened": {0.0: 0.3},  # what is severed stays so
        "wall_opening": {0.0: 0.3, 1.0: 0.3},  # cracks open in the face; off the wall
    }
)
"""Values of coefficients that stand for another structure of the model, and their shares of the prior: guesses."""

OF_THE_WOOD = ("texture",)
"""What is a board's own: no statement tells it, and for the woods of the statements it is the default's."""

BESIDE = ("lift",)
"""What is drawn beside all else: it does nothing to straight edges, of which all statements are, so that it is
independent of every other coefficient before and after them, and its draws are its prior."""


@dataclass(frozen=True)
class Prior:
    """What is believed of every coefficient of `RiskModel` before any statement, as quantiles.

    A coefficient's field has its range (low, high) in its metadata, 'prior'; `STRUCTURE` gives shares to single values.
    The rest lies evenly over the range, evenly in the logarithm where the range is positive and wide.
    """

    names: tuple[str, ...]
    ranges: tuple[tuple[float, float], ...]
    atoms: tuple[Mapping[float, float], ...]

    @classmethod
    def of_risk_model(cls) -> Prior:
        """That of `RiskModel`."""
        known = [f for f in fields(RiskModel) if "prior" in f.metadata and f.name not in BESIDE]
        return cls(
            tuple(f.name for f in known),
            tuple((float(f.metadata["prior"][0]), float(f.metadata["prior"][1])) for f in known),
            tuple(STRUCTURE.get(f.name, {}) for f in known),
        )

    def values(self, shares: FloatArray) -> FloatArray:
        """Coefficients (count, names) at shares of the prior in [0, 1], same shape."""
        columns = []
        for column, (low, high), atoms in zip(shares.T, self.ranges, self.atoms, strict=True):
            rest = 1.0 - sum(atoms.values())
            at = np.minimum(column / rest, 1.0)
            wide = low > 0 and high / low >= _LOGARITHMIC
            value = low * (high / low) ** at if wide else low + (high - low) * at
            begin = rest
            for atom, share in atoms.items():
                value = np.where(column > begin, atom, value)
                begin += share
            columns.append(value)
        return np.stack(columns, axis=1)


def models_at(names: Sequence[str], values: FloatArray, centre: RiskModel | None = None) -> tuple[RiskModel, ...]:
    """Models with these coefficients (count, names), all else as in `centre`; values are within range, unchecked."""
    first = RiskModel() if centre is None else centre
    rows = [dict(zip(names, row, strict=True)) for row in values.tolist()]
    found = tuple(copy(first) for _ in rows)
    for model, row in zip(found, rows, strict=True):
        vars(model).update(row)
    return found


_GOLDEN = (5**0.5 - 1) / 2


def lifted(models: Sequence[RiskModel], centre: RiskModel) -> tuple[RiskModel, ...]:
    """The same draws with a `lift` each, beside all else: 0 in half of them, even over its range in the others.

    The k-th has the place k times the golden section in the prior, so that any number of draws is spread as well as it
    can be, without a random number. A centre that has another `lift` than the default's keeps it.
    """
    known = RiskModel.__dataclass_fields__["lift"]
    if centre.lift != known.default:
        return tuple(models)
    low, high = known.metadata["prior"]
    found = tuple(copy(model) for model in models)
    for k, model in enumerate(found):
        share = (k + 1) * _GOLDEN % 1.0
        vars(model).update(lift=low + (high - low) * max(2.0 * share - 1.0, 0.0))
    return found


class Ensemble(NamedTuple):
    """Equally likely coefficients (draws, names)."""

    names: tuple[str, ...]
    values: FloatArray


@cache
def ensemble() -> Ensemble:
    """The shipped draws."""
    text = (files("chipsim.data") / "model_draws.csv").read_text(encoding="utf-8")
    head, *rows = csv.reader(row for row in text.splitlines() if not row.startswith("#"))
    return Ensemble(tuple(head), frozen(np.array(rows, dtype=float)))


def chosen(count: int, rng: np.random.Generator) -> np.ndarray:
    """Numbers (count,) of draws of the ensemble: each once before any comes twice."""
    size = len(ensemble().values)
    rounds = [rng.permutation(size) for _ in range(-(-count // size))]
    return np.concatenate(rounds)[:count]


def model_draws(n: int, seed: int = 0) -> tuple[RiskModel, ...]:
    """Equally likely failure models, structure included: what the literature leaves of the prior.

    Parameters
    ----------
    n
        How many, 1 to 10 000. The ensemble has some hundreds, each of which is handed out once before any comes twice.
    seed
        Of the choice, 0 to 2**63 - 1.

    Returns
    -------
    tuple of RiskModel
        Each may stand wherever a model is asked for.

    Raises
    ------
    DomainError
        If an argument is out of range.

    Examples
    --------
    >>> import chipsim as cs
    >>> models = cs.model_draws(20)
    >>> cut = cs.Cut(cs.VBit(60, 12.7, 2), cs.ring(5, 1.5), 18_000, 1500)
    >>> board = cs.Board(cs.wood("black cherry"), cs.straight_grain(azimuth=0))
    >>> maps = [cs.risk_map(cut, board, model=m, pitch=4.0) for m in models]
    >>> min(m.mean("fuzz") for m in maps) < cs.risk_map(cut, board, pitch=4.0).mean("fuzz")
    True
    """
    count = integer("n", n, low=1, high=10_000)
    known = ensemble()
    found = models_at(known.names, known.values[chosen(count, np.random.default_rng(checked_seed(seed)))])
    return lifted(found, RiskModel())
