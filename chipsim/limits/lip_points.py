"""Lips as points in order, for what looks from one lip to another."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from .._shared.arrays import FloatArray, number
from ..chips.blocks import lip_blocks
from ..chips.lips import Lips, bent_at_knees, lay_out_lips
from ..errors import DomainError
from ..scene.cuts import Carving, as_carving
from ..scene.grain import Board

__all__ = []


SIDES = ("left", "right")

ALONG = math.sin(math.radians(1.0))  # fibres within a degree of an edge count as held

EDGES = ("left", "right", "front", "back")


@dataclass(frozen=True)
class LipPoints:
    """Surviving lip points, one a row, in order along every lip.

    `bend` is the lip's curvature, > 0 where the remaining wood lies outside of the curve; `follows` the row that
    continues the lip along the path, -1 where none does; `ends` (n, 2) whether the lip is cut away right behind or
    right ahead; `turns` (m, 2) pairs of rows that meet going round the end of a path.
    """

    groove: np.ndarray
    side: np.ndarray
    station: FloatArray
    xy: FloatArray
    normal: FloatArray
    length: FloatArray
    bend: FloatArray
    half_width: FloatArray
    lean: FloatArray
    follows: np.ndarray
    ends: np.ndarray
    turns: np.ndarray

    def __len__(self) -> int:
        return len(self.groove)

    @cached_property
    def ahead(self) -> FloatArray:
        """(n, 2) along the lip with the path: the outward normal turned by -90 deg (left) or 90 deg (right)."""
        sign = np.where(self.side == 0, 1.0, -1.0)[:, None]
        return np.asarray(sign * np.column_stack([self.normal[:, 1], -self.normal[:, 0]]))

    def curve(self, i: int) -> EdgeCurve:
        """The lip about a point, as an arc."""
        return EdgeCurve(self.xy[i], self.normal[i], self.ahead[i], float(self.bend[i]))


@dataclass(frozen=True)
class EdgeCurve:
    """An arc through a point, with its normal out of the groove, its direction and its bend away from the normal."""

    at: FloatArray
    normal: FloatArray
    ahead: FloatArray
    bend: float

    def point(self, s: float) -> FloatArray:
        """Point at an arc length from `at`. [mm]"""
        x = self.bend * s
        chord = s * np.sinc(x / (2 * np.pi))
        return np.asarray(self.at + chord * (self.ahead * math.cos(x / 2) - self.normal * math.sin(x / 2)))

    def out(self, s: float) -> FloatArray:
        """Normal there. [-]"""
        x = self.bend * s
        return np.asarray(self.normal * math.cos(x) + self.ahead * math.sin(x))

    def along(self, s: float) -> FloatArray:
        """Direction there. [-]"""
        x = self.bend * s
        return np.asarray(self.ahead * math.cos(x) - self.normal * math.sin(x))

    def foot(self, p: FloatArray) -> float:
        """Arc length at which the curve comes nearest to a point. [mm]"""
        d = p - self.at
        u, s = float(d @ self.normal), float(d @ self.ahead)
        return math.atan2(self.bend * s, 1 + self.bend * u) / self.bend if abs(self.bend) > 1e-12 else s


def checked_arguments(carving: object, board: object, pitch: object) -> tuple[Carving, Board, float]:
    job = as_carving(carving)
    if not isinstance(board, Board):
        raise DomainError(f"board must be a Board, got {type(board).__name__}")
    return job, board, number("pitch", pitch, low=0.001, high=1000, unit="mm")


def lip_points(carving: Carving, pitch: float) -> LipPoints:
    """Gather the lips of the whole carving that survive it."""
    blocks: dict[int, list[Lips]] = {}
    for block in lip_blocks(carving, pitch=pitch):
        blocks.setdefault(block.cut, []).append(block.lips())
    parts: list[dict[str, np.ndarray]] = []
    turns: list[tuple[int, int]] = []
    count = 0
    for i, cut in enumerate(carving):
        lips = Lips(**{f: np.concatenate([getattr(b, f) for b in blocks[i]]) for f in Lips.__dataclass_fields__})
        laid = lay_out_lips(cut, pitch).exists
        curvature = np.asarray(bent_at_knees(cut).path.curvature(lips.station))
        first: list[tuple[int, int]] = []
        for side in range(2):
            rows = np.flatnonzero(laid[:, side])
            alive, n = lips.exists[rows, side], len(rows)
            number_of = np.where(alive, count + np.cumsum(alive) - 1, -1)
            # neighbours along the lip as it was laid out; -1 beyond an open end, -2 where it has been cut away
            known = np.where(alive, number_of, -2)
            ahead, behind = np.roll(known, -1), np.roll(known, 1)
            if n and not cut.path.closed:
                ahead[-1] = behind[0] = -1
                first.append((number_of[0], number_of[-1]))
            turn = np.radians(lips.outward[rows, side])
            half = lips.half_width[rows]
            kappa = (1.0 if side else -1.0) * curvature[rows]
            with np.errstate(divide="ignore"):
                bend = np.where(lips.kind[rows] == "run", kappa / (1 + kappa * half), 1 / half)
            part = {
                "groove": np.full(n, i),
                "side": np.full(n, side),
                "station": lips.station[rows],
                "xy": lips.lip_xy[rows, side],
                "normal": np.column_stack([np.cos(turn), np.sin(turn)]),
                "length": lips.lip_length[rows, side],
                "bend": bend,
                "half_width": half,
                "lean": np.radians(lips.flank_lean[rows]),
                "follows": np.maximum(ahead, -1),
                "ends": np.column_stack([behind == -2, ahead == -2]),
            }
            parts.append({name: value[alive] for name, value in part.items()})
            count += int(alive.sum())
        if len(first) == 2:
            turns += [(a, b) for a, b in zip(*first, strict=True) if a >= 0 and b >= 0]
    joined = {name: np.concatenate([p[name] for p in parts]) for name in parts[0]}
    return LipPoints(**joined, turns=np.array(turns, dtype=int).reshape(-1, 2))


def inside_groove(xy: FloatArray, extent: tuple[float, float, float, float] | None) -> np.ndarray:
    """Whether points lie on the board; all do where it is not known how far it reaches."""
    if extent is None:
        return np.ones(len(xy), bool)
    return np.asarray(((xy >= extent[:2]) & (xy <= extent[2:])).all(axis=1))


def rounded(x: float) -> float:
    return 0.0 if math.isnan(x) else float(f"{x:.6g}")


def xy_text(point: FloatArray) -> tuple[float, float]:
    x, y = (float(a) for a in point)
    return x, y


def place_text(xy: Sequence[float]) -> str:
    return ", ".join(f"{round(x, 2) + 0.0:.2f}" for x in xy)  # no -0.00
