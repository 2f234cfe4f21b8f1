"""The strikes of a carving, kept, so that boards and models can be tried without following the teeth again."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from types import MappingProxyType
from typing import Any

import numpy as np

from .bands import damage_of
from .cuts import Carving, Cut
from .errors import DomainError
from .grain import Board, fibre_axis
from .kinematics import LipStrikes, carving_blocks
from .models import LipModel, RiskModel
from .priors import Reader
from .risk import RISKS as SINGLE
from .risk import RiskMap, _evaluate, _settings

__all__ = ["RISKS", "StrikeRecord", "Summary", "checked_model", "gather"]

PRIOR = "Prior only: no test piece has been read."
"""What a result rests on as long as no test piece has taught the model."""

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

    def poor(self, risk: str = "damage") -> float:
        """Length of lip that needs work or is spoilt. [mm]"""
        lengths = self.lengths[risk]
        return lengths["needs work"] + lengths["spoils"]

    def __reduce__(self) -> tuple[Any, ...]:
        plain = {name: dict(row) for name, row in self.lengths.items()}
        return Summary, (dict(self.mean), dict(self.worst), plain)

    def __post_init__(self) -> None:
        for name in ("mean", "worst"):
            object.__setattr__(self, name, MappingProxyType(dict(getattr(self, name))))
        rows = {name: MappingProxyType(dict(row)) for name, row in self.lengths.items()}
        object.__setattr__(self, "lengths", MappingProxyType(rows))


@dataclass(frozen=True, eq=False)
class StrikeRecord:
    """Lip strikes of a carving in blocks, as from `kinematics.carving_blocks`; made by `gather`.

    Attributes
    ----------
    carving : what is cut.
    bundle : thickness of the layer whose strikes are kept. [mm]
    blocks : pairs (number of the cut, its strikes).
    """

    carving: Carving
    bundle: float
    blocks: tuple[tuple[int, LipStrikes], ...]

    def map(self, board: Board, model: LipModel) -> RiskMap:
        """The `RiskMap` that `risk_map` gives for this carving, to the last bit.

        Raises
        ------
        DomainError
            If the model's bundle is thicker than the one recorded.
        """
        parts = []
        for i, strikes in self.blocks:
            own = _thinner(strikes, model.bundle)
            parts.append(_evaluate(own, self.carving.cuts[i], board, model))
            parts[-1]["groove"] = np.full(len(strikes), i)
        content = {name: np.concatenate([p[name] for p in parts]) for name in parts[0]}
        return RiskMap(settings=_settings(self.carving.cuts, board, model), band=None, **content)

    def mean_damage(
        self,
        board: Board,
        model: LipModel,
        cuts: tuple[Cut, ...] | None = None,
        reader: Reader | None = None,
        shift: float = 0.0,
    ) -> float:
        """Mean damage, as `map(board, model).mean('damage')`, and nothing else. [-]

        `cuts` may stand in for the carving's where they differ in what strikes do not depend on: the edge's radius. A
        reader puts fuzz and tear on the scale of their grades, shifted as a board may be, as in a map's band.
        """
        values, lengths = [], []
        for i, strikes in self.blocks:
            own, cut = _thinner(strikes, model.bundle), (cuts or self.carving.cuts)[i]
            exists = own.lips.exists
            fibres = np.full((*exists.shape, 3), np.nan)
            fibres[exists] = fibre_axis(*board.grain.at(own.lips.lip_xy[exists]))
            risks = model.lip_risks(own, fibres, cut, board.wood)
            blank = np.full(exists.shape, np.nan)
            fuzz, tear, scorch = (risks.get(name, blank) for name in SINGLE)
            if reader is not None:
                fuzz, tear = reader.regraded("fuzz", fuzz, shift), reader.regraded("tear", tear, shift)
            value = damage_of(fuzz, tear, scorch)
            known = exists & np.isfinite(value)
            values.append(value[known])
            lengths.append(own.lips.lip_length[known])
        length = np.concatenate(lengths)
        return float(np.concatenate(values) @ length / length.sum()) if length.sum() > 0 else float("nan")


def checked_model(model: LipModel | None) -> LipModel:
    """A model, `RiskModel()` for None.

    Raises
    ------
    DomainError
        If it cannot be one.
    """
    if model is None:
        return RiskModel()
    if not callable(getattr(model, "lip_risks", None)) or not hasattr(model, "bundle"):
        raise DomainError(f"model must have lip_risks and bundle, as RiskModel does, got {model!r}")
    return model


def gather(carving: Carving, *, pitch: float, bundle: float) -> StrikeRecord:
    """Follow the teeth of a carving once and keep the strikes.

    They take about 50 bytes a strike and lip point: some megabytes a metre of groove.

    Parameters
    ----------
    carving
        What is cut.
    pitch
        Spacing of the stations along the path. [mm]
    bundle
        Thickest layer that will be asked for. [mm]
    """
    return StrikeRecord(carving, bundle, tuple(carving_blocks(carving, pitch=pitch, bundle=bundle)))


def _thinner(strikes: LipStrikes, bundle: float) -> LipStrikes:
    """Strikes on a thinner layer: those that reach within `bundle` of the finished lip, which are the last ones."""
    if bundle == strikes.bundle:
        return strikes
    if bundle > strikes.bundle:
        raise DomainError(f"bundle must lie within the one recorded, (0, {strikes.bundle:g}] mm, got {bundle:g}")
    shape = strikes.chips.shape
    place = np.arange(shape[2])
    depth = np.where(place < strikes.counts[..., None], strikes.depths, np.inf)
    counts = (depth < depth.min(axis=-1, keepdims=True) + bundle).sum(axis=-1)
    take = np.minimum((strikes.counts - counts)[..., None] + place, shape[2] - 1)
    gone = place >= counts[..., None]
    change: dict[str, Any] = {}
    for name, value in vars(strikes).items():
        if isinstance(value, np.ndarray) and value.shape[:3] == shape:
            index = take.reshape(take.shape + (1,) * (value.ndim - 3))
            moved = np.take_along_axis(value, np.broadcast_to(index, value.shape), axis=2)
            moved[gone] = np.nan
            change[name] = moved
    return replace(strikes, bundle=bundle, counts=counts, **change)
