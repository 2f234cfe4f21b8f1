"""Plain names of what has a name in code: every report and picture calls it the same."""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType

__all__ = ["CAUTION", "PLAIN", "plain"]

CAUTION = (
    "This is an estimate and no certificate. The marking of the bit and the manuals of router and machine come first."
)
"""The last sentence of a report that somebody may cut by."""

PLAIN: Mapping[str, str] = MappingProxyType(
    {
        "bundle": "depth of the layer that counts",
        "exponent": "evenness of fibre strength",
        "redrawn": "share of a strength that each blow meets anew",
        "frailty": "weakness that all blows share",
        "inertia": "help of the blow's speed",
        "reference_support": "reference crushing strength",
        "bending_stress": "fibre breaking stress",
        "cell_wall": "share of the cell wall's strength",
        "own_strength": "help of the wood's own strength",
        "crushing": "give of soft wood to a blow",
        "softening": "softening by moisture",
        "texture": "how hard this wood is to sever",
        "catch_depth": "thinnest chip that catches",
        "drag": "drag of a sliding edge",
        "support_fall": "slide at which support is lost",
        "friction": "friction, edge on fibre",
        "scatter": "spread of fibre direction",
        "turn": "share of the turn still to come at a strike",
        "lift": "harm of an edge that lifts the fibres",
        "bite_floor": "minimum chip thickness",
        "blunting": "push of the rounded edge",
        "weak_planes": "freedom from weak planes",
        "tear_scale": "torn depth that shows",
        "wall_opening": "lean of the cracks with the wall",
        "contact": "rubbing pressure",
        "land": "wear land",
        "recovery": "spring-back behind the edge",
        "heat_share": "share of heat into the wood",
        "char": "temperature that chars",
        "crowding": "crowding of fibres in thick chips",
        "lifting": "loss of bite where the rake lifts",
        "disturbed": "depth that a worn edge disturbs",
        "loosened": "share that comes loose again",
    }
)
"""Plain name of every coefficient of a `RiskModel`, by its name in code."""


def plain(name: str) -> str:
    """A coefficient's plain name; one that is not listed as it is, in words.

    Examples
    --------
    >>> from chipsim._shared.words import plain
    >>> plain("reference_support"), plain("fuzz_offset")
    ('reference crushing strength', 'fuzz offset')
    """
    return PLAIN.get(name, name.replace("_", " "))
