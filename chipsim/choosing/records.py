"""The strikes of a carving, kept, so that boards and models can be tried without following the teeth again."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import partial
from typing import Any

import numpy as np

from .._shared.arrays import FloatArray
from ..chips.blocks import LipPlans
from ..chips.strikes import LipStrikes, carving_blocks, joined
from ..damage.bands import damage_of
from ..damage.handwork import lengths_of, lengths_of_ways, middle_draws
from ..damage.mapping import assembled, block_risks, setup_of
from ..damage.maps import RISKS as SINGLE
from ..damage.maps import RiskMap
from ..damage.models import LipModel, is_plain, layer_of, lip_fibres, lip_risk_sets, thickest, tooth_feeds
from ..damage.priors import Draws
from ..scene.cuts import Carving, Cut
from ..scene.grain import Board
from .summaries import Summary
from .variants import turned_board

__all__ = ["StrikeRecord", "gather"]


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

    def lengths(
        self,
        board: Board,
        model: LipModel,
        known: Draws | None,
        edges: Sequence[FloatArray],
    ) -> FloatArray:
        """Length of lip expected in every combination of grades on many possible boards, (boards, 5, 5, 5). [mm]

        Cuts of one bit and speed are asked in one go: the kernel works many lips side by side, and short cuts would
        leave most of its lanes empty.

        Parameters
        ----------
        board
            Wood and grain.
        model
            What is asked if there are no draws.
        known
            Models, graders, shifts and turns of the boards. None: the model, and what `middle_draws` says of the rest.
        edges
            For each cut (boards,) radius of the edge over that of the cut's own bit; beyond 0.5 mm it stays there. [-]
        """
        taught = known is None and bool(getattr(model, "learned", ""))
        readings = middle_draws(taught) if known is None else known
        models: Sequence[LipModel] = [model] if known is None else known.models
        out = np.zeros((len(readings.shifts), 5, 5, 5))
        for cut, strikes, feeds, factor in self._joined(models, edges):
            fibres = lip_fibres(strikes.lips, board)[2][None]
            radii = np.minimum(factor * cut.bit.edge_radius, 0.5) if known is not None else None
            turns = None if known is None else known.turns
            found = lip_risk_sets(models, strikes, fibres, cut, board.cut_wood, radii, turns, feeds)
            risks = [found[name] for name in SINGLE]
            length = np.where(strikes.lips.exists, strikes.lips.lip_length, 0.0)
            if known is None:
                out += lengths_of_ways(readings, risks, length, taught=taught)[0]
            else:
                out += lengths_of(readings, risks, length, taught=taught)
        return out

    def _joined(
        self, models: Sequence[LipModel], edges: Sequence[FloatArray]
    ) -> Iterator[tuple[Cut, LipStrikes, FloatArray | None, FloatArray]]:
        """Strikes of all cuts that a model cannot tell apart but by their strikes, with their feeds per tooth."""
        layer = layer_of(thickest(models), self.carving)
        groups: list[tuple[tuple[object, ...], list[tuple[int, LipStrikes]]]] = []
        plain = all(is_plain(m) for m in models)
        for i, strikes in self.blocks:
            cut = self.carving.cuts[i]
            sink = cut.machine.plunge_feed if cut.machine is not None else None
            kind = (cut.bit, cut.spindle_speed, cut.spin, sink) if plain else (i,)
            alike = next((held for other, held in groups if other == kind), None)
            if alike is None:
                groups.append((kind, alike := []))
            alike.append((i, strikes.thinner(layer)))
        for _, held in groups:
            first = held[0][0]
            if not plain:
                for i, strikes in held:
                    yield self.carving.cuts[i], strikes, None, edges[i]
                continue
            feeds = np.concatenate([tooth_feeds(s.lips, self.carving.cuts[i]) for i, s in held])
            yield self.carving.cuts[first], joined([s for _, s in held]), feeds, edges[first]

    def turned(
        self, board: Board, model: LipModel, degrees: Sequence[float], centre: tuple[float, float]
    ) -> tuple[list[Summary], FloatArray]:
        """Summary of the map for each rotation of the design about a point on the board that lies still. [deg, mm]

        And for each the length of lip by combination of grades on the boards of `middle_draws`, (ways, 9, 5, 5, 5).
        Only the fibres at the lips are looked up again; where the grain is straight they are the same ones, turned.
        """
        straight = board.grain.is_straight
        boards = [board] if straight else [turned_board(board, angle, centre) for angle in degrees]
        turns = -np.asarray(degrees, dtype=float) if straight else None
        many = getattr(model, "turned_risks", partial(lip_risk_sets, [model]))
        parts: list[dict[str, FloatArray]] = []
        exists, length = [], []
        for cut, own, feeds, _ in self._joined([model], [np.ones(1)] * len(self.carving.cuts)):
            fibres = np.stack([lip_fibres(own.lips, b)[2] for b in boards])
            if feeds is not None:
                many = partial(lip_risk_sets, [model], feeds=feeds)
            parts.append(many(own, fibres, cut, board.cut_wood, turns=turns))
            exists.append(own.lips.exists)
            length.append(own.lips.lip_length)
        there, lengths = np.concatenate(exists), np.concatenate(length)
        values = {name: np.concatenate([p[name] for p in parts]) if parts[1:] else parts[0][name] for name in SINGLE}
        taught = bool(getattr(model, "learned", ""))
        readings, size = middle_draws(taught), np.where(there, lengths, 0.0)
        graded = lengths_of_ways(readings, [values[name] for name in SINGLE], size, taught=taught)
        values["damage"] = damage_of(*values.values())
        return Summary.of_many(there, lengths, values), graded


def gather(carving: Carving, *, pitch: float, bundle: float, folded: float = 0.0) -> StrikeRecord:
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
    folded
        Joints whose arc of lip is shorter than this share of the pitch have no rows of their own. [-]
    """
    plans = LipPlans(carving, pitch, folded)
    return StrikeRecord(carving, bundle, tuple(carving_blocks(carving, pitch=pitch, bundle=bundle, plans=plans)))
