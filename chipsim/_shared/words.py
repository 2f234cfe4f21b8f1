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
        "reference_support": "reference crushing strength",
        "bending_stress": "fibre breaking stress",
        "catch_depth": "thinnest chip that catches",
        "drag": "drag of a sliding edge",
        "support_fall": "slide at which support is lost",
        "friction": "friction, edge on fibre",
        "scatter": "spread of fibre direction",
        "bite_floor": "minimum chip thickness",
        "blunting": "push of the rounded edge",
        "weak_planes": "freedom from weak planes",
        "tear_scale": "torn depth that shows",
        "contact": "rubbing pressure",
        "land": "wear land",
        "heat_share": "share of heat into the wood",
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
