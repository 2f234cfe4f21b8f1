"""Which pieces of a path come near which square of the face."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from .._shared.arrays import FloatArray
from ..errors import DomainError
from ..kernels import axis
from ..scene.cuts import Cut

__all__ = []


@dataclass(frozen=True)
class PieceIndex:
    """Which pieces of a path come near which square of the face, in compressed rows of the squares that have any."""

    frame: tuple[float, float, float, float, float, np.ndarray]
    first: np.ndarray
    members: np.ndarray


def index_pieces(cut: Cut, reach: float) -> PieceIndex:
    """Square cells; a piece is a member of every cell of which some point may be within `reach` of it."""
    path = cut.path
    # the kernels number the stretches of the motion, which a machine's speed profile divides further than the path
    joints = np.append(cut.motion[:, axis.S0], path.length)
    size = max(reach, 0.25)
    # samples dense enough that no point of the path is farther than size / 4 from one
    parts = np.maximum(np.ceil(np.diff(joints) / (size / 2)).astype(int), 1)
    stop = np.cumsum(parts + 1)

    def samples() -> Iterator[tuple[np.ndarray, FloatArray]]:
        """Pieces and points, some thousands at a time: a long path must not take more memory than its index."""
        for begin in range(0, int(stop[-1]), 8192):
            k = np.arange(begin, min(begin + 8192, int(stop[-1])))
            piece = np.searchsorted(stop, k, side="right")
            fraction = (k - stop[piece] + parts[piece] + 1) / parts[piece]
            station = joints[piece] + fraction * (joints[piece + 1] - joints[piece])
            # at a joint `position` belongs to the piece ahead, which is the same point
            yield piece, path.position(np.clip(station, 0, path.length))

    spread = reach + size / 4
    corners = np.array([[xy.min(axis=0), xy.max(axis=0)] for _, xy in samples()])
    low = corners[:, 0].min(axis=0) - spread - size
    columns, rows = (np.ceil((corners[:, 1].max(axis=0) + spread + size - low) / size)).astype(int)
    if float(columns) * float(rows) * len(parts) > 9e18:
        raise DomainError("path spans too much for its groove's width; split it into parts")
    found = []
    for piece, xy in samples():
        lo = np.floor((xy - spread - low) / size).astype(int)
        hi = np.floor((xy + spread - low) / size).astype(int)
        span = int((hi - lo).max()) + 1
        i, j = np.meshgrid(np.arange(span), np.arange(span), indexing="ij")
        ci = lo[:, 0, None] + i.reshape(-1)
        cj = lo[:, 1, None] + j.reshape(-1)
        inside = (ci <= hi[:, 0, None]) & (cj <= hi[:, 1, None])
        found.append(
            np.unique((ci + columns * cj)[inside] * len(parts) + np.broadcast_to(piece[:, None], ci.shape)[inside])
        )
    pairs = np.unique(np.concatenate(found))
    cells, start = np.unique(pairs // len(parts), return_index=True)
    frame = (float(low[0]), float(low[1]), size, float(columns), float(rows), cells)
    return PieceIndex(frame, np.append(start, len(pairs)), pairs % len(parts))


def widest_radius(cut: Cut) -> float:
    return float(cut.half_width(cut.path.depth.max())) + cut.bit.runout + 1e-6
