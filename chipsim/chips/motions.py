"""A stroke as the kernels see it: its motion, its bit, and an index of the pieces of its path."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from .._shared.arrays import FloatArray
from ..errors import DomainError
from ..kernels import axis, grooves, probes
from ..scene.cuts import Cut
from ..scene.cutters import width_at
from .edges import edges_of, outline_of, spindle_of
from .lips import bent_at_knees

__all__ = ["Groove", "as_groove", "groove_of", "outlook_of"]


@dataclass(frozen=True)
class PieceIndex:
    """Which pieces of a path come near which square of the face, in compressed rows of the squares that have any."""

    frame: tuple[float, float, float, float, float, np.ndarray]
    first: np.ndarray
    members: np.ndarray


@dataclass(frozen=True)
class Groove:
    """A stroke as the kernels see it: motion, job, outline and the index of its pieces."""

    cut: Cut
    motion: FloatArray
    job: tuple[float, float, float, float, float, float]
    knots: FloatArray
    radii: FloatArray
    edge_knots: FloatArray
    edges: FloatArray
    pieces: FloatArray
    most_drift: float
    farthest: float
    grid: PieceIndex


def outlook_of(cut: Cut, bundle: float) -> float:
    """How far inwards from a lip a strike can matter: the bundle and one turn's advance. [mm]"""
    return float(bundle + cut.motion[:, axis.V].max() * 60.0 / cut.spindle_speed + 2 * cut.bit.runout)


def groove_of(cut: Cut, outlook: float) -> Groove:
    """A stroke on whose lips strikes matter up to `outlook` inwards. [mm]"""
    # pieces on which the half-width runs straight: the search for what is cut away then has one least a piece
    cut = bent_at_knees(cut)
    biggest = float(width_at(cut.knots, cut.path.depth.max())) + cut.bit.runout + 1e-6
    farthest = max(outlook, biggest)
    grid = index_pieces(cut, biggest + farthest)
    return as_groove(cut, cut.motion.copy(), farthest, grid)


def as_groove(cut: Cut, motion: FloatArray, farthest: float, grid: PieceIndex) -> Groove:
    """What the kernels are told of a stroke that moves so."""
    job, (knots, radii) = spindle_of(cut), outline_of(cut)
    pieces = np.empty((len(motion), probes.TURN + 1))
    edge_knots, edges = (knots, radii) if cut.edges is None else edges_of(cut)
    most_drift = probes.probe_pieces(motion, job, edge_knots, edges, pieces)
    return Groove(cut, motion, job, knots, radii, edge_knots, edges, pieces, most_drift, farthest, grid)


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
