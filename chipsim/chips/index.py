"""Which pieces of a path come near which square of the face."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..errors import DomainError
from ..kernels import grooves
from ..scene.cuts import Cut
from ..scene.cutters import width_at

__all__ = []


@dataclass(frozen=True)
class PieceIndex:
    """Which pieces of a path come near which square of the face, in compressed rows of the squares that have any."""

    frame: tuple[float, float, float, float, float, np.ndarray]
    first: np.ndarray
    members: np.ndarray


def index_pieces(cut: Cut, reach: float) -> PieceIndex:
    """Square cells; a piece is a member of every cell of which some point may be within `reach` of it."""
    size = max(reach, 0.25)
    # samples dense enough that no point of the path is farther than size / 4 from one
    step, spread = size / 2, reach + size / 4
    motion = cut.motion.copy()
    pieces = len(motion)
    box = np.empty((2, 2))
    grooves.box_of_axis(motion, step, box)
    low = box[0] - spread - size
    columns, rows = (np.ceil((box[1] + spread + size - low) / size)).astype(int)
    if float(columns) * float(rows) * pieces > 9e18:
        raise DomainError("path spans too much for its groove's width; split it into parts")
    place = (float(low[0]), float(low[1]), size, float(columns))
    pairs = np.empty(grooves.cells_near(motion, step, spread, place, np.empty(0, dtype=np.int64)), dtype=np.int64)
    grooves.cells_near(motion, step, spread, place, pairs)
    pairs.sort()
    pairs = pairs[np.append(True, pairs[1:] != pairs[:-1])]
    cell = pairs // pieces
    start = np.flatnonzero(np.append(True, cell[1:] != cell[:-1]))
    return PieceIndex((*place, float(rows), cell[start]), np.append(start, len(pairs)), pairs - cell * pieces)


def widest_radius(cut: Cut) -> float:
    return float(width_at(cut.knots, cut.path.depth.max())) + cut.bit.runout + 1e-6
