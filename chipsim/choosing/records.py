"""The strikes of a carving, kept, so that boards and models can be tried without following the teeth again."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import partial
from typing import Any

import numpy as np

from .._shared.arrays import FloatArray
from ..chips.strikes import LipStrikes, carving_blocks
from ..damage.bands import damage_of, draws_of, edge_draws
from ..damage.mapping import assembled, block_risks, setup_of
from ..damage.maps import RISKS as SINGLE
from ..damage.maps import RiskMap
from ..damage.models import LipModel, layer_of, lip_fibres, lip_risk_sets, thickest
from ..damage.priors import Draws, as_graded
from ..scene.cuts import Carving
from ..scene.grain import Board
from .summaries import Summary
from .variants import turned_board

__all__ = ["StrikeRecord", "drawn_damages", "gather"]


@dataclass(frozen=True, eq=False)
class StrikeRecord:
    """Lip strikes of a carving in blocks, as from `carving_blocks`; made by `gather`.

    Attributes
    ----------
    carving : what is cut.
    bundle : thickness of the layer whose strikes are kept. [mm]
    blocks : pairs (index of the cut from 0, its strikes).
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
        blocks = (
            block_risks(i, self.carving.cuts[i], strikes.thinner(layer_of(model, self.carving)), board, model)
            for i, strikes in self.blocks
        )
        return assembled(self.carving, board, model, blocks, sum(len(strikes) for _, strikes in self.blocks))

    def setup(self, board: Board, model: LipModel) -> dict[str, Any]:
        """Settings of a map of this carving."""
        return setup_of(self.carving.cuts, board, model, self.carving.notes)

    def mean_damages(
        self, board: Board, models: Sequence[LipModel], edges: FloatArray, known: Draws | None = None
    ) -> FloatArray:
        """Mean damage by each of many models, as `map(board, model).mean('damage')`, and nothing else. (models,) [-]

        Parameters
        ----------
        board
            Wood and grain.
        models
            With layers up to the one recorded.
        edges
            (models,), or a row for each cut: radius of the edge over that of the cut's own bit; beyond 0.5 mm it stays
            there. [-]
        known
            Graders and shifts that put fuzz and tear on the scale of their grades, as in a map's band.
        """
        total, length = np.zeros(len(models)), np.zeros(len(models))
        every = np.broadcast_to(edges, (len(self.carving), len(models)))
        for i, strikes in self.blocks:
            own, cut = strikes.thinner(layer_of(thickest(models), self.carving)), self.carving.cuts[i]
            radii = np.minimum(every[i] * cut.bit.edge_radius, 0.5)
            turns = None if known is None else known.turns
            found = lip_risk_sets(models, own, lip_fibres(own.lips, board)[2][None], cut, board.cut_wood, radii, turns)
            each = own.lips.lip_length
            if known is None:
                value = damage_of(found["fuzz"], found["tear"], found["scorch"])
            else:
                value, _ = as_graded(known, found["fuzz"], found["tear"], found["scorch"], each)
            there = own.lips.exists[..., None] & np.isfinite(value)
            total += np.where(there, value * each[..., None], 0.0).sum(axis=(0, 1))
            length += np.where(there, each[..., None], 0.0).sum(axis=(0, 1))
        return np.asarray(np.divide(total, length, out=np.full(len(models), np.nan), where=length > 0))

    def turned(
        self, board: Board, model: LipModel, degrees: Sequence[float], centre: tuple[float, float]
    ) -> list[Summary]:
        """Summary of the map for each rotation of the design about a point on the board that lies still. [deg, mm]

        Only the fibres at the lips are looked up again; where the grain is straight they are the same ones, turned.
        """
        straight = board.grain.is_straight
        boards = [board] if straight else [turned_board(board, angle, centre) for angle in degrees]
        turns = -np.asarray(degrees, dtype=float) if straight else None
        many = getattr(model, "turned_risks", partial(lip_risk_sets, [model]))
        parts: list[dict[str, FloatArray]] = []
        exists, length = [], []
        for i, strikes in self.blocks:
            own = strikes.thinner(layer_of(model, self.carving))
            fibres = np.stack([lip_fibres(own.lips, b)[2] for b in boards])
            parts.append(many(own, fibres, self.carving.cuts[i], board.cut_wood, turns=turns))
            exists.append(own.lips.exists)
            length.append(own.lips.lip_length)
        there, lengths = np.concatenate(exists), np.concatenate(length)
        values = {name: np.concatenate([p[name] for p in parts]) for name in SINGLE}
        values["damage"] = damage_of(*values.values())
        return Summary.of_many(there, lengths, values)


def drawn_damages(
    carving: Carving, boards: Sequence[Board], model: LipModel, count: int, seed: int
) -> list[FloatArray]:
    """Mean damage of a carving on each of several boards in the draws of a map's band, (draws,) each. [-]

    Nothing for a model that has no draws. On some 60 stations of the carving, the same for all boards and draws.
    """
    known = draws_of(model, boards[0], count, seed) if count else None
    if known is None:
        return []
    layer = layer_of(thickest(known.models), carving)
    record = gather(carving, pitch=max(carving.length / _STATIONS, 1e-3), bundle=layer)
    edges = np.array([edge_draws(model, cut, count, seed) for cut in carving])
    return [record.mean_damages(board, known.models, edges, known) for board in boards]


_STATIONS = 60


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
