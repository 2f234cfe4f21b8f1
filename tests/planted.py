"""Risk maps with planted numbers: real lips of real grooves, risks that do not depend on any coefficient."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

import chipsim as cs
from chipsim.chips.blocks import lip_blocks
from chipsim.damage.mapping import doubts_of, setup_of
from chipsim.scene.cuts import as_carving

WOOD = cs.Wood(  # invented
    "test wood",
    moisture=8,
    density=600,
    bending_strength=85,
    elastic_modulus=10_000,
    compression_perpendicular=5,
    side_hardness=4200,
    fracture_toughness=0.4,
)
BIT = cs.VBit(60, 12.7, 2, 0.2)

Field = Callable[[np.ndarray, np.ndarray, np.ndarray], np.ndarray]


def planted(carving, fuzz: Field, tear: Field | None = None, *, azimuth: float = 0.0, pitch: float = 0.5, board=None):
    """Map whose fuzz and tear are functions of x [mm], y [mm] and the lip's heading [deg]; scorch is 0 everywhere."""
    job = as_carving(carving)
    board = board or cs.Board(WOOD, cs.straight_grain(azimuth))
    blocks = [(block.cut, block.lips()) for block in lip_blocks(job, pitch=pitch)]
    lips = {
        name: np.concatenate([getattr(one, name) for _, one in blocks]) for name in blocks[0][1].__dataclass_fields__
    }
    heading = np.concatenate([one.heading for _, one in blocks])
    groove = np.concatenate([np.full(len(one), k) for k, one in blocks])
    doubt = np.concatenate(
        [doubts_of(one, job.cuts[k], np.full(len(one), job.cuts[k].largest_feed), 0.2) for k, one in blocks]
    )
    exists, shape = lips["exists"], lips["exists"].shape
    at = np.where(exists[..., None], lips["lip_xy"], 0.0)

    def of(field: Field | None) -> np.ndarray:
        if field is None:
            return np.where(exists, 0.0, np.nan)
        found = np.broadcast_to(field(at[..., 0], at[..., 1], heading), shape)
        return np.where(exists, found, np.nan)

    azimuths, dive = board.grain.at(at.reshape(-1, 2))
    azimuths, dive = (np.where(exists, a.reshape(shape), np.nan) for a in (azimuths, dive))
    angle = np.where(exists, (heading - azimuths) % 180.0, np.nan)
    number = {
        "edge_angle": 60.0,
        "cutting_speed": 3.0,
        "feed_per_tooth": 0.042,
        "largest_chip": 0.04,
        "support": 0.03,
        "hazard": 0.02,
        "tear_depth": 0.1,
        "temperature": 120.0,
    }
    setup = setup_of(job.cuts, board, cs.RiskModel(), job.notes) | {
        "bite_floor": 0.008,
        "bite_floors": [0.008] * len(job),
        "critical_speed": 17.0,
    }
    return cs.RiskMap(
        station=lips["station"],
        groove=groove,
        kind=lips["kind"],
        xy=lips["xy"],
        lip_xy=lips["lip_xy"],
        depth=lips["depth"],
        half_width=lips["half_width"],
        heading=np.where(exists, heading, np.nan),
        lip_length=np.where(exists, lips["lip_length"], 0.0),
        exists=exists,
        doubt=np.where(exists, doubt, 0).astype(np.int8),
        fibre_azimuth=azimuths,
        fibre_dive=dive,
        fibre_angle=angle,
        strikes=np.where(exists, 12, 0),
        rubs=np.where(exists, 4, 0),
        fuzz=of(fuzz),
        tear=of(tear),
        scorch=of(None),
        setup=setup,
        **{name: np.where(exists, value, np.nan) for name, value in number.items()},
    )
