"""How fibres fail: the model that turns the strikes on a lip into the risks of fuzz, tear-out and scorch.

Kinematics is exact; what fibres do is a hypothesis. `RiskModel` is this project's own, assembled from published
ingredients (`tearout`, `heat` and the severing hazard below). Every coefficient is a named field with unit, prior range
and source (`RiskModel.describe`). How the defaults were chosen: exponent, bundle, the two stresses, the fall of the
support and the form of `fibres that cross the lip` among trial sets so that facts of the trade (common practice, no
source) hold in wide grooves; that the drag falls with the lean, and `catch_depth` with it, so that lips are worst at 60
degrees to the grain as published (Lungu, Gurau & Cosereanu 2023, BioResources 18(3) 5334, abstract) while those facts
still hold; the order of species and the published order of feeds were not used. Tear-out and scorch keep the values
their sources give; `weak_planes`, `tear_scale`, `contact` and `land` are guesses inside their priors. Until a test
piece has been read every risk is a prior.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, fields, is_dataclass, replace
from functools import cache, lru_cache
from types import MappingProxyType
from typing import Any, Protocol

import numpy as np
from numpy.typing import ArrayLike, NDArray

from .._shared.arrays import FloatArray, array, instance, number
from ..chips.lips import Lips
from ..chips.strikes import LipStrikes
from ..errors import DomainError
from ..kernels import laws, risks
from ..scene import species
from ..scene.cuts import Cut
from ..scene.grain import Board, axis_of
from ..scene.species import Wood
from ..units import folded, table_text
from .heat import ALONG_GRAIN, flash_rise, front_rise, lasting_rise, sliding_friction
from .tearout import crack_length, longest_arm

__all__ = [
    "BETWEEN",
    "END_GRAIN",
    "ROOM",
    "SHARES",
    "LipModel",
    "RiskModel",
    "checked_model",
    "is_plain",
    "layer_of",
    "lip_fibres",
    "lip_frame",
    "lip_risk_sets",
    "risks_of",
    "thickest",
    "tool_feed",
    "tooth_feeds",
    "unsevered",
]

ROOM = 20.0
"""Temperature of the shop and the wood. [C]"""


BETWEEN: Mapping[str, tuple[float, float]] = MappingProxyType(
    {name: (0.0, 1.0) for name in ("fuzz", "tear", "scorch")}
    | {name: (0.0, np.inf) for name in ("support", "hazard", "rubs", "tear_depth")}
    | {"temperature": (-273.15, np.inf)}
)
"""Least and largest that a model may say; NaN is what it does not know."""

END_GRAIN = 45.0
"""Dive from which on `RiskModel` knows no risk. [deg]

Fuzz is the share of the fibres' length that stands off the lip in the face, and falls with cos^2(dive) though nothing
severs the fibres the better for it: at 45 deg by half, which is the factor to which the rest is known; and from there
on the face shows more end grain than side grain, in which neither the cracks nor the heat of these formulas run as
they do along the fibres. A choice of this project.
"""

TEAR_LAYER = 0.4
"""Layer in which every strike is asked how far it tears; farther in, the steady arc is. One for all models: a model's
own would change its tears by the company it is asked in. [mm]"""

SHARES = ("drag", "heat_share", "redrawn", "inertia", "cell_wall", "own_strength", "turn", "wall_opening", "loosened")
"""Coefficients that are shares of a whole, at most 1."""

_MAY_BE_NONE = frozenset(
    {"drag", "friction", "scatter", "blunting", "contact", "heat_share", "frailty", "inertia", "cell_wall", "turn"}
    | {"own_strength", "crushing", "softening", "wall_opening", "recovery", "crowding", "loosened", "disturbed"}
    | {"lift", "lifting"}
)

_SQUARE = np.sqrt(0.5)
"""Cosine of the lean of a 90 degree bit's wall: on it a layer across the lip and one normal to the wall are alike."""


class LipModel(Protocol):
    """What `risk_map` asks of a model: the layer whose strikes it looks at and the risks it makes of them."""

    @property
    def bundle(self) -> float: ...  # noqa: D102
    def lip_risks(self, strikes: LipStrikes, fibres: FloatArray, cut: Cut, wood: Wood) -> dict[str, FloatArray]:
        """Return arrays (n, 2) of at least 'fuzz'; see `RiskModel.lip_risks` for what else a map shows.

        `fibres` are (n, 2, 3) unit axes at the lip points, NaN where there is no lip.
        """
        ...


def checked_model(model: object) -> LipModel:
    """Return a model, `RiskModel()` for None.

    Raises
    ------
    DomainError
        If it cannot be one.
    """
    if model is None:
        return RiskModel()
    words = "model must have bundle and lip_risks, as RiskModel() has"
    if isinstance(model, type):
        raise DomainError(f"{words}, got the class {model.__name__} itself; were its brackets forgotten?")
    if not callable(getattr(model, "lip_risks", None)) or not hasattr(model, "bundle"):
        raise DomainError(f"{words}, got {type(model).__name__}")
    number("model.bundle", model.bundle, low=0, high=10, open_low=True, unit="mm")
    return model  # type: ignore[return-value]


def risks_of(
    model: LipModel, strikes: LipStrikes, fibres: FloatArray, cut: Cut, wood: Wood, feeds: FloatArray | None = None
) -> Mapping[str, NDArray[Any]]:
    """What a model says of these lips, each risk an array (n, 2), or DomainError.

    `feeds` (n,) from `tooth_feeds` [mm], of lips of several cuts that are alike, is for a plain model only.
    """
    if feeds is None or not isinstance(model, RiskModel):
        found = model.lip_risks(strikes, fibres, cut, wood)
    else:
        found = model.lip_risks(strikes, fibres, cut, wood, feeds)
    if not isinstance(found, Mapping):
        raise DomainError(f"model.lip_risks must return a mapping from risks to arrays, got {type(found).__name__}")
    shape, out = strikes.lips.exists.shape, {}
    for name, values in found.items():
        value = np.asarray(values)
        if value.dtype.kind not in "biuf":
            raise DomainError(f"model.lip_risks must return arrays of numbers, got {value.dtype} for {name!r}")
        if value.shape != shape:
            raise DomainError(f"model.lip_risks must return arrays of shape {shape}, got {value.shape} for {name!r}")
        if name not in BETWEEN:
            raise DomainError(f"model.lip_risks must return risks by their names, {', '.join(BETWEEN)}, got {name!r}")
        least, most = BETWEEN[name]
        wrong = (value < least) | (value > most)
        if wrong.any():
            raise DomainError(
                f"model.lip_risks must return {name!r} in [{least:g}, {most:g}], or NaN where it is not known, "
                f"got {value[wrong][0]:g}"
            )
        out[str(name)] = value
    return out


def _coefficient(value: float, unit: str, low: float, high: float, source: str, meaning: str) -> float:
    return field(default=value, metadata={"unit": unit, "prior": (low, high), "source": source, "meaning": meaning})


@dataclass(frozen=True, kw_only=True)
class RiskModel:
    r"""Severing hazard for fuzz, crack reach for tear-out, rubbing heat for scorch.

    **Fuzz.** For one strike of chip h at cutting speed v, y inside the finished lip, on a bundle that crosses it::

        L = K weight (B s + inertia V gate) sin(g, v)
        B = b / sqrt(1 + (crowding b)^2) (compression perpendicular / reference_support), b = h / edge radius
            how well the edge bites; a chip thick against that bites no better, its fibres giving way side by side
        V = v / v_c                                                               inertia; Hunt 1960, JASA 32:1123
        gate = 1 - exp(-h / (catch_depth edge radius))                            too shallow to catch the bundle
        weight = 1 - y cos a / (bundle cos 45), not below 0                       what strikes short leaves a stub
        s = 1 against the grain; with it, fibres lean away by lambda = 180 - fibre angle and, once the edge slides,
            s = drag cos(lambda) + (1 - drag cos(lambda)) exp(-D / support_fall),
            D = cos(lambda) - mu sin(lambda) > 0                                  what severs then is the drag along it
        K = exp(-tan(psi - rake)), tan psi = mu, below psi; exp(-lifting tan(rake - psi)) beyond
        H = (sum of L^(exponent / redrawn))^redrawn / texture,   P(unsevered) = (1 + frailty H)^(-1 / frailty)
        fuzz = mean of (g . lip normal)^2 (P + loose (1 - P)) over a normal scatter of the fibre's azimuth
        loose = loosened (1 - exp(-disturbed edge radius / bundle))               what a worn edge has disturbed

    Chip and layer are normal to the wall, whose lean is a: h cos 45 = cos a (1 - y / R) times the way dy between two
    edges along the probe, R the half-width; on a 90 degree bit's lip h is dy. Where runout cuts beyond the nominal lip,
    y is measured from there. mu is `friction`, falling with moisture (`heat.sliding_friction`).

    *One strength a fibre.* A weakness that all strikes on a bundle share, gamma of variance `frailty`, gives the power
    (Clayton 1978; Vaupel, Manton & Stallard 1979, from memory; none: exp(-H)); one that is positive stable of index
    `redrawn` gives the norm (Hougaard 1986, Biometrika 73:387, from memory). With `redrawn` 1 every strike draws a
    strength anew; towards 0 only the hardest counts. Kendall's tau of the strengths that two strikes meet is
    1 - redrawn, and frailty / (frailty + 2).

    *Whose strength.* v_c = bending_stress / sqrt(3 E rho) of a struck beam. With `cell_wall` 1 stress, E and rho are
    the wall's, much alike in all woods, and sugar maple's stand for them; what a soft-walled bundle gives way before it
    moves, and moisture, are exponents: v_c goes as (maple's compression perpendicular over the wood's)^crushing and
    1.68^(-softening (M - 12) / 13). With `cell_wall` 0 all are the bulk wood's, the stress times (bending strength over
    maple's)^own_strength. Between, powers of both. In woods with early- and latewood (`Wood.tissues`) fuzz is the mean
    over both.

    *The rake.* Where it is below the angle of friction psi, the face presses fibres into the wall and the edge rides
    over them; K is 1 where the normal force changes sign. Beyond, the face lifts them, and what holds a fibre then is
    the strength across the grain in tension, no longer in compression: their ratio, near 1, is `lifting`. So fuzz is
    least at psi, and tear, which rises all the way, moves the best rake below it. With `lifting` -1 each degree severs
    better without end.

    *Wear.* An edge disturbs the wood to a depth that grows with its wear: 0.20 mm at a recession of 45 to 60 um (1),
    which is `disturbed` edge radii (`disturbed_depth`). Of what is severed in that depth a share `loosened` comes loose
    and stands off the lip all the same.

    *The angle at the strike.* At a strike the tooth has yet to turn by phi, cos phi = 1 - y / R, to be at the lip: the
    cut is turned out of the wood where the tooth enters it and into it where it leaves. A share `turn` of the mean phi
    of evenly spaced strikes in the layer counts, in fuzz and tear: the lip where teeth enter fuzzes more. That mean is
    one of the groove, 3/8 of the angle at which a tooth comes into the layer, whichever strikes there are: so one
    strike more never adds fuzz.

    *Sheared edges.* Fibres at a lip that are pressed into the board are held by the wood below, those that are lifted
    out of the face are held by nothing. Of a unit push of the tooth's face `lip_push` says how much is up; shear adds
    u = cos(rake) sin(shear) cos a to what a straight edge of that rake has, and what the rake does by itself is in K. A
    strike's B is multiplied by exp(-lift u), a blow asks for no holding; the push that opens a crack by exp(lift u), u
    of the tooth that lifts most. Nothing of this has been measured on the lips of grooves: `lift` is 0 unless it is
    given, and in the draws behind a band it is 0 in half of them and even up to 2 in the others. Without shear u is 0
    whatever `lift` is.

    As strikes go to nothing the fuzz does not: a rubbed lip is a fuzzy lip. The strikes are those of all passes on the
    last bundle, so that what a rough pass severed stays severed, and a pass that did not touch the lip changes nothing.

    **Tear-out.** Every tooth on its way to the lip stands a distance y inside it, takes a radial chip h and pushes the
    fibres by h + blunting x edge radius (a round edge drags fibres on before it parts them). The crack it opens
    (`tearout`) reaches l (g . n) / cos b - y beyond the lip, n the normal of a wall that leans by b, `wall_opening` of
    the flank's lean: with 0 cracks open in the plane of the face, and l (g . n) is l sin(theta), theta the angle
    between fibre and *lip*; with 1 they open normal to the flank, and fibres that dive tear where the teeth run against
    them, also along the grain. The arm a tooth lifts is as thick as the sweep's thickest chip, f_t sin(phi), phi the
    rotation at which the tooth enters the wood: the chip is one body, and a skim's is thin all along. In the last
    `TEAR_LAYER` the teeth are the record's, farther in those of a steady groove. Every pass of the
    lip (`LipStrikes.pass_strokes`) tears with its own feed, arm and teeth, in a groove whose wall stands where that
    pass left the wood: what a rough pass tore may lie deeper than the skim takes. Then

        tear = mean of split (1 - exp(-depth / tear_scale)),   split = 1 - exp(-(t / t_clear)^weak_planes)

    t_clear = 6 E G / MOR^2, the arm that clear wood splits before it breaks: visible tears come from weak planes. Where
    a thin arm splits, so does a thicker one; the depth is the most over the passes whose arms split.

    **Scorch.** The land behind the edge, and the heel on what springs back, together (land + recovery / tan(clearance))
    edge radii long, and the bit's own honed `land`, rub with pressure contact x side hardness / 1 cm^2 and published
    friction; a strike rubs by weight exp(-h / (bite_floor edge radius)), h normal to the wall. Where fibres lead into
    the wall heat runs off along them. Temperature = 20 C + heat_share (flash + what the strikes left behind), `heat`,
    of the hottest pass; what the strikes of earlier passes left has sunk in by the root of the time since. Where a
    machine starts a cut its plunge rubs too. scorch is even at `char`, 0.1 at 27.5 K less and 0.9 at as much more,
    where wood chars (Lowden & Hull 2013, review).

    Rake, edge and flutes of every pass are taken to be those of the bit that made the lip, and a pass to run along it.

    **End grain.** Where fibres dive by more than `END_GRAIN` nothing is known and every risk is NaN.

    (1) Hernandez & Rojas 2002, Wood Fiber Sci. 34 (abstract). (2) Compression perpendicular over E_T on 0.2 mm.
    (3) In the cell wall most of the hemicelluloses of beech and cedar degrade alike (J. Wood Sci. 66:41, 2020,
    abstract); what makes woods burn apart here is pressure, by side hardness, conductivity and heat capacity.

    Examples
    --------
    >>> import chipsim as cs
    >>> model = cs.RiskModel(bundle=0.3)
    >>> model.exponent, model.bundle
    (3.0, 0.3)
    """

    bundle: float = _coefficient(
        0.4, "mm", 0.2, 0.6, "chosen among trial sets; 0.2 under a worn edge (1)", "layer at the lip that strikes sever"
    )
    exponent: float = _coefficient(
        3.0, "-", 2.0, 5.0, "Weibull, coefficient of variation 36 %; chosen among trial sets", "spread of strength"
    )
    redrawn: float = _coefficient(
        1.0,
        "-",
        0.5,
        1.0,
        "chosen: below 0.7 the fastest feeds come out best",
        "share of a strength that is each blow's",
    )
    frailty: float = _coefficient(
        0.2, "-", 0.0, 0.67, "a guess: bundles differ by a factor of 1.5", "variance of a weakness all blows share"
    )
    inertia: float = _coefficient(
        1.0, "-", 0.0, 1.0, "common practice, no source: speed helps", "how much of a blow's speed counts"
    )
    reference_support: float = _coefficient(
        4.4, "MPa", 2.0, 20.0, "scale of compression perpendicular in Table 5-3a", "side support that makes B = h / r"
    )
    crowding: float = _coefficient(
        0.06,
        "1/edge radii",
        0.0,
        0.1,
        "a guess: 0, a chip of any thickness bites in proportion",
        "how soon a thick chip bites no better",
    )
    lifting: float = _coefficient(
        1.0,
        "-",
        -1.0,
        2.0,
        "strength across fibres, pressed over pulled, 0.9 to 1.4 (Table 5-3a, from memory); -1: rake helps without end",
        "loss of bite where the rake lifts fibres",
    )
    bending_stress: float = _coefficient(
        65.0, "MPa", 40.0, 110.0, "chosen among trial sets, near handbook strengths", "stress that breaks a fibre"
    )
    cell_wall: float = _coefficient(
        1.0, "-", 0.0, 1.0, "the wall is much alike in all woods", "share of the wall, not the wood, in v_c"
    )
    own_strength: float = _coefficient(
        0.3, "-", 0.0, 1.0, "1 turns the order of species round", "exponent of a wood's bending strength in v_c"
    )
    crushing: float = _coefficient(
        0.25, "-", 0.0, 0.6, "a guess: soft woods give way to the blow", "exponent of the side support in a blow"
    )
    softening: float = _coefficient(
        0.1, "-", 0.0, 1.0, "Eq 5-3 with an exponent", "exponent of strength's fall with moisture in v_c"
    )
    texture: float = _coefficient(
        1.0, "-", 0.3, 3.0, "a wide guess: no handbook column ranks woods", "how much harder this wood severs"
    )
    catch_depth: float = _coefficient(
        0.2, "edge radii", 0.05, 0.5, "metals: least chip 0.15-0.5 radii (from memory)", "chip that catches a bundle"
    )
    drag: float = _coefficient(
        0.05, "-", 0.0, 0.2, "chosen among trial sets", "support while the edge slides, times the cosine of the lean"
    )
    support_fall: float = _coefficient(
        0.05, "-", 0.02, 0.15, "chosen among trial sets", "excess of slide over friction that loses the support"
    )
    friction: float = _coefficient(
        0.33,
        "-",
        0.2,
        0.65,
        "0.4, McKenzie & Karpovich 1968, air-dry wood on steel at 4 m/s (abstract)",
        "edge on fibre",
    )
    scatter: float = _coefficient(
        8.0, "deg", 4.0, 12.0, "chosen among trial sets", "standard deviation of the fibres' azimuth about the grain"
    )
    turn: float = _coefficient(
        0.2, "-", 0.0, 1.0, "common practice, no source: climb the last skim", "share of the strikes' angle that counts"
    )
    disturbed: float = _coefficient(
        4.0,
        "edge radii",
        3.0,
        6.0,
        "0.20 mm at a recession of 45 to 60 um (1), rounded by 32 to 60 um",
        "layer of the wood that the edge disturbs",
    )
    loosened: float = _coefficient(
        0.05, "-", 0.0, 0.5, "a guess; 0: what is severed stays so", "share of a disturbed layer that comes loose"
    )
    bite_floor: float = _coefficient(
        1.0,
        "edge radii",
        0.3,
        1.0,
        "no value for wood found; metals 0.15-0.5 (from memory)",
        "chip below which an edge rubs",
    )
    blunting: float = _coefficient(
        1.0, "edge radii", 0.3, 2.0, "a guess: about the bite floor", "push on a fibre before a round edge parts it"
    )
    weak_planes: float = _coefficient(
        0.35, "-", 0.2, 1.0, "a guess inside a wide prior", "exponent of the chance that an arm splits before it breaks"
    )
    tear_scale: float = _coefficient(
        0.2, "mm", 0.07, 0.6, "a guess: what is seen in raking light", "depth torn that spoils a lip by 63 %"
    )
    wall_opening: float = _coefficient(
        0.5,
        "-",
        0.0,
        1.0,
        "0: rake hardly matters, dive not at all; 1: strongly",
        "share of the wall's lean in a crack",
    )
    contact: float = _coefficient(
        0.5, "-", 0.2, 1.0, "a guess: half way to a full indentation", "pressure of the land over indentation hardness"
    )
    land: float = _coefficient(
        1.75, "edge radii", 0.5, 5.0, "with the heel 20 um fresh, 100 um worn (from memory)", "length of the flat land"
    )
    recovery: float = _coefficient(
        0.2, "edge radii", 0.0, 0.6, "a guess; elastic recovery is 2 um at most (2)", "spring-back behind the edge"
    )
    heat_share: float = _coefficient(
        0.42, "-", 0.1, 1.0, "most heat enters the tool: Igaz et al. 2019 (introduction)", "heat that enters the wood"
    )
    char: float = _coefficient(
        252.5,
        "C",
        235.0,
        290.0,
        "Lowden & Hull 2013, review: 225 to 280; beech and cedar alike (3)",
        "temperature at which a lip chars by half",
    )
    lift: float = _coefficient(
        0.0, "-", 0.0, 2.0, "measured by nobody; nothing is as likely as all else", "what lifting a lip's fibres costs"
    )

    def __post_init__(self) -> None:
        for f in fields(self):
            positive = f.name not in _MAY_BE_NONE
            value, low = getattr(self, f.name), -1 if f.name == "lifting" else 0
            value = number(f.name, value, low=low, high=1e4, open_low=positive, unit=f.metadata["unit"])
            object.__setattr__(self, f.name, value)
        for name in SHARES:
            if getattr(self, name) > 1:
                raise DomainError(f"{name} must lie in [0, 1], got {getattr(self, name):g}")

    def describe(self) -> str:
        """Table of the coefficients: value, unit, prior range, meaning, source; below it what the numbers mean."""
        rows = [("coefficient", "value", "unit", "prior range", "meaning", "source")]
        for f in fields(self):
            m, prior = f.metadata, f.metadata["prior"]
            rows.append(
                (
                    f.name,
                    f"{getattr(self, f.name):g}",
                    m["unit"],
                    f"{prior[0]:g} to {prior[1]:g}",
                    m["meaning"],
                    m["source"],
                )
            )
        notes = (
            "Prior range: the ends that draws and fits keep to, with four in five draws in its middle 65 %. It is no "
            "bound for what you set. (1) Hernandez & Rojas 2002, Wood Fiber Sci. 34 (abstract). (2) Compression "
            "perpendicular over the modulus across, on 0.2 mm."
        )
        return "\n".join([table_text(rows), *folded(notes)])

    def critical_speed(self, wood: Wood) -> float:
        """Speed v_c at which inertia alone would break a fibre: sigma = sqrt(3) rho c v of a struck beam. [m/s]"""
        instance("wood", wood, Wood, "a Wood")
        return float(_critical_speed({f.name: getattr(self, f.name) for f in fields(self)}, wood))

    def rake_factor(self, rake: float, moisture: float = 12.0) -> float:
        """K, how well a rake [deg] severs wood of some moisture [%]. [-]

        It is 1, the most, where the normal force changes sign; with `lifting` below 0 it goes on rising.
        """
        tilt = number("rake", rake, low=-45, high=60, unit="deg")
        wet = number("moisture", moisture, low=0, high=300, unit="%")
        return float(_rake_factor(self.friction * _wetting(wet), tilt, self.lifting))

    def disturbed_depth(self, edge_radius: float) -> float:
        """Depth of the layer of wood that an edge of a radius [mm] disturbs below the surface it leaves. [mm]

        `VBit.worn` says how round an edge is after so many metres of its own way in wood, which are not the groove's.
        """
        return float(self.disturbed * number("edge_radius", edge_radius, low=1e-6, high=0.5, unit="mm"))

    def layer(self, cut: Cut) -> float:
        """Thickness along the face of the layer whose strikes are looked at. [mm]

        It is measured normal to the wall, on the scale of a 90 degree bit: `bundle`, or 0.4 mm if that is more (of that
        layer tear looks at every strike), times cos 45 over the cosine of the lean, at most three times as much.
        """
        heights, radii = instance("cut", cut, Cut, "a Cut").knots
        rise = np.diff(heights)
        slope = float(np.max(np.diff(radii)[rise > 0] / rise[rise > 0], initial=0.0))
        return float(max(self.bundle, TEAR_LAYER) * min(3.0, np.sqrt(0.5 * (1.0 + slope * slope))))

    def support(self, angle: ArrayLike, moisture: float = 12.0) -> FloatArray:
        """Share of side support left to a fibre met at `angle` [deg], as from `fibre_angle`; same shape. [-]

        NaN where the angle is. `moisture` of the wood, on which friction depends. [%]
        """
        lean = np.radians(180.0 - array("angle", angle, nan=True, unit="deg"))
        friction = self.friction * _wetting(number("moisture", moisture, low=0, high=300, unit="%"))
        slide = np.where(lean < np.pi / 2, np.cos(lean) - friction * np.sin(lean), 0.0)
        lost = np.exp(-np.maximum(slide, 0.0) / self.support_fall)
        # an edge that slides towards a fibre's free end still drags on it, with cos(lean) of its push
        floor = self.drag * np.abs(np.cos(lean))
        return np.asarray(floor + (1.0 - floor) * lost)

    def lip_risks(
        self, strikes: LipStrikes, fibres: FloatArray, cut: Cut, wood: Wood, feeds: FloatArray | None = None
    ) -> dict[str, FloatArray]:
        """Risks at every lip, with what they rest on; see the class. Arrays (n, 2).

        `feeds` (n,) are those per tooth where several cuts of one bit and speed have made the lips; None: the cut's.
        [mm]

        Returns
        -------
        dict
            'fuzz', 'tear', 'scorch'; 'support' and 'hazard' of the mean fibre, of early- and latewood the hazard that
            leaves as many unsevered as both together; 'rubs', strikes that bite less than the bite floor, normal to
            the flank; 'tear_depth' beyond the lip, mean over the scatter [mm]; 'temperature' [C].
        """
        # not `lip_risk_sets`: a model that overrides this method calls it
        found = _plain_sets([self], strikes, fibres[None], cut, wood, feeds=feeds, detailed=True)
        return {name: value[..., 0] for name, value in found.items()}

    def turned_risks(
        self, strikes: LipStrikes, fibres: FloatArray, cut: Cut, wood: Wood, turns: FloatArray | None = None
    ) -> dict[str, FloatArray]:
        """Risks of the same strikes on fibres that lie in many ways: 'fuzz', 'tear', 'scorch', (n, 2, k).

        `fibres` are (k, n, 2, 3); or (1, n, 2, 3), all turned about the vertical by each of `turns` (k,) [deg].
        """
        return lip_risk_sets([self], strikes, fibres, cut, wood, turns=turns)


def layer_of(model: LipModel, cuts: Iterable[Cut]) -> float:
    """Thickness of the layer along the face whose strikes a model needs of these cuts. [mm]"""
    own = getattr(model, "layer", None)
    return max((float(own(cut)) for cut in cuts), default=model.bundle) if callable(own) else model.bundle


def thickest(models: Sequence[LipModel]) -> LipModel:
    """The one of many models whose layer is thickest."""
    return max(models, key=lambda m: float(m.bundle))


def _wetting(moisture: float) -> float:
    """Friction at a moisture over that of air-dry wood, at the speeds of edges. [-]"""
    return float(sliding_friction(1e3, moisture) / sliding_friction(1e3, 12.0))


def _rake_factor(friction: ArrayLike, rake: ArrayLike, lifting: ArrayLike) -> FloatArray:
    pressed = np.tan(np.arctan(friction) - np.radians(rake))
    return np.asarray(np.exp(-np.maximum(pressed, 0.0) + np.asarray(lifting) * np.minimum(pressed, 0.0)))


@cache
def _measure() -> Wood:
    """The wood whose bending stress and support are the measure of others."""
    return species.wood("sugar maple")


_SEASONED = 1.68
"""Bending strength of sugar maple at 12 % moisture over that of green wood (Table 5-3a)."""


def _critical_speed(m: Mapping[str, ArrayLike], wood: Wood) -> FloatArray:
    """Of the cell wall, the same in all woods but for what its moisture and a soft wood's giving way take; or bulk."""

    def speed(w: Wood) -> float:
        return float(1e6 / (np.sqrt(3.0) * np.sqrt(w.elastic_modulus_true * 1e6 * w.density)))

    one, share = _measure(), np.asarray(m["cell_wall"])
    season = _SEASONED ** ((wood.moisture - 12.0) / 13.0)  # Eq 5-3, from 12 % to the handbook's default of 25 %
    give = one.compression_perpendicular / wood.compression_perpendicular
    wall = speed(one) * give ** np.asarray(m["crushing"]) * season ** -np.asarray(m["softening"])
    bulk = speed(wood) * (wood.bending_strength / one.bending_strength) ** np.asarray(m["own_strength"])
    return np.asarray(np.asarray(m["bending_stress"]) * wall**share * bulk ** (1.0 - share))


@lru_cache(maxsize=8)
def _columns(models: tuple[RiskModel, ...]) -> dict[str, FloatArray]:
    """Every coefficient of many models, (models,)."""
    return {f.name: np.array([getattr(m, f.name) for m in models]) for f in fields(RiskModel)}


def _coefficients(models: Sequence[RiskModel], cut: Cut, wood: Wood, edges: FloatArray | None) -> FloatArray:
    """What `risks.lip_risk_sets` needs of models, cut and wood, a row a model."""
    k, m = risks, _columns(tuple(models))
    bit, radius = cut.bit, cut.bit.edge_radius if edges is None else edges
    pressure, land = m["contact"] * _indentation(wood), _rubbing(m["land"], m["recovery"], bit.clearance) * radius
    land = land + getattr(bit, "land", 0.0)  # what a hone leaves rubs as well
    interval = 60.0 / (cut.spindle_speed * bit.flutes)
    friction = m["friction"] * _wetting(wood.moisture)
    factor, push = _rake_factor(friction, bit.rake, m["lifting"]), np.radians(bit.rake) - np.arctan(friction)
    rest, run = sliding_friction([0.0, 1e3], wood.moisture)
    known = bool(np.isfinite(wood.fracture_toughness))
    columns = {
        k.CROWD: m["crowding"] / (_SQUARE * radius),
        k.LOOSE: m["loosened"] * -np.expm1(-m["disturbed"] * radius / m["bundle"]),
        k.BITE: factor * wood.compression_perpendicular / (m["reference_support"] * radius),
        k.IMPACT: factor * m["inertia"] / _critical_speed(m, wood),
        k.GATE: m["catch_depth"] * radius,
        k.LAYER: m["bundle"],
        k.POWER: m["exponent"],
        k.REDRAWN: m["redrawn"],
        k.FRAILTY: m["frailty"],
        k.TEXTURE: m["texture"],
        k.DRAG: m["drag"],
        k.FALL: m["support_fall"],
        k.FRICTION: friction,
        k.RUB: m["bite_floor"] * radius,
        k.BLUNT: m["blunting"] * radius,
        k.CRACK: crack_length(1.0, 1.0, wood) if known else np.nan,
        k.PUSH_C: np.cos(push),
        k.PUSH_S: np.sin(push),
        k.OPENED: m["wall_opening"],
        k.TURN: m["turn"],
        k.CLEAR: longest_arm(wood) if known else np.nan,
        k.PLANES: m["weak_planes"],
        k.TEAR: m["tear_scale"],
        k.AT_REST: rest * m["friction"] / 0.4,
        k.RUNNING: run * m["friction"] / 0.4,
        k.FLASH: flash_rise(pressure, 1.0, land, wood, friction=1.0),
        k.LASTING: lasting_rise(pressure, land, 1.0, interval, wood, friction=1.0),
        k.FRONT: front_rise(pressure, land, interval, 1.0, wood, friction=1.0),
        k.SHARE: m["heat_share"],
        k.INTERVAL: interval,
        k.ROOM: ROOM,
        k.SINK: cut.machine.plunge_feed / 60.0 if cut.machine is not None else 0.0,
        k.CHAR: m["char"],
        k.ALONG: ALONG_GRAIN - 1.0,
        k.LIFT: m["lift"],
    }
    out = np.empty((len(models), k.COEFFICIENTS))
    for column, value in columns.items():
        out[:, column] = value
    return out


_EXPONENTS = {True: (2.09, 1.13, 0.70), False: (1.57, 1.01, 0.84)}
"""Compression perpendicular, bending strength and stiffness go with these powers of density, in hardwoods and softwoods
(Wood Handbook, Table 5-11a, from memory)."""


def _as_tissue(table: FloatArray, wood: Wood, density: float, models: Sequence[RiskModel]) -> None:
    """Change how edges bite and hit, in a table of coefficients, to what they do in a tissue of some density."""
    if density == 1.0:
        return
    m = _columns(tuple(models))
    support, strength, stiffness = (density**power for power in _EXPONENTS[wood.hardwood])
    bulk = strength ** m["own_strength"] / np.sqrt(stiffness * density)
    speed = (support ** -m["crushing"]) ** m["cell_wall"] * bulk ** (1.0 - m["cell_wall"])
    table[:, risks.BITE] *= support
    table[:, risks.IMPACT] /= speed


def lip_risk_sets(
    models: Sequence[LipModel],
    strikes: LipStrikes,
    fibres: FloatArray,
    cut: Cut,
    wood: Wood,
    edges: FloatArray | None = None,
    turns: FloatArray | None = None,
    feeds: FloatArray | None = None,
) -> dict[str, FloatArray]:
    """Risks at every lip for many models, or for fibres that lie in many ways, of the same strikes.

    Parameters
    ----------
    models
        One, or many. Those that are no plain `RiskModel` are asked one by one.
    strikes
        On n lips, in a layer as thick as the thickest model asks for.
    fibres
        (k, n, 2, 3) unit axes at the lips; k is 1 where there are many models.
    cut
        Whose strikes they are.
    wood
        Of the board.
    edges
        (models,) radii of the edge in the bit's place: strikes do not depend on them. [mm]
    turns
        (k,) turns about the vertical, counter-clockwise, of one array of fibres: one for each of many models; or many
        of one model, where what costs is the number of directions in which fibres are looked at, and the nodes of the
        scatter of one turn may be those of another. [deg]
    feeds
        (n,) as from `tooth_feeds`, of strikes that several cuts of one bit and speed have made; for plain models
        only. [mm]

    Returns
    -------
    dict
        'fuzz', 'tear', 'scorch', (n, 2, sets), a set for each model or way; NaN where no lip, or not known.
    """
    plain = [m for m in models if isinstance(m, RiskModel) and is_plain(m)]
    if len(plain) < len(models):
        if turns is not None:
            fibres = np.stack([_turned(fibres[0], turn) for turn in turns])
        return _one_by_one(models, strikes, fibres, cut, wood, edges)
    sets = max(len(models), len(fibres), 1 if turns is None else len(turns))
    if sets < _MANY:
        return _plain_sets(plain, strikes, fibres, cut, wood, edges, turns, feeds)
    # where a machine starts a lip has ten times the strikes: among others it would keep all lanes beside it waiting
    order = np.argsort(strikes.counts.max(axis=1), kind="stable")
    feed = (tooth_feeds(strikes.lips, cut) if feeds is None else feeds)[order]
    found = _plain_sets(plain, strikes.part(order), fibres[:, order], cut, wood, edges, turns, feed)
    back = np.argsort(order)
    return {name: value[back] for name, value in found.items()}


_MANY = 8
"""Sets of coefficients from which on it pays to put the lips in order of their strikes."""


def _plain_sets(
    models: Sequence[RiskModel],
    strikes: LipStrikes,
    fibres: FloatArray,
    cut: Cut,
    wood: Wood,
    edges: FloatArray | None = None,
    turns: FloatArray | None = None,
    feeds: FloatArray | None = None,
    *,
    detailed: bool = False,
) -> dict[str, FloatArray]:
    """`lip_risk_sets` by the compiled kernel; if `detailed` with the other entries of `RiskModel.lip_risks`."""
    lips = strikes.lips
    n, sets = len(strikes), max(len(models), len(fibres), 1 if turns is None else len(turns))
    feed = tooth_feeds(lips, cut) if feeds is None else feeds
    lean = np.radians(lips.flank_lean)
    if turns is None or len(models) > 1:
        directions = _directions(tuple(m.scatter for m in models), None if turns is None else tuple(turns))
    else:
        # half a turn of a level fibre is nothing
        directions = _turned_directions(
            models[0].scatter, turns, 360.0 if np.any(fibres[..., 2][:, lips.exists]) else 180.0
        )
    out = {name: np.empty((n, 2, sets)) for name in ("fuzz", "tear", "scorch")}
    more = np.empty((n if detailed else 0, 2, sets, 5))
    given = (
        risks.Strikes(
            _fixed(strikes.chips),
            _fixed(strikes.depths),
            _fixed(strikes.cutting_speeds),
            _fixed(strikes.feeds),
            _fixed(strikes.strokes, np.int64),
            _fixed(strikes.times),
            _fixed(strikes.lifts),
            _fixed(strikes.counts, np.int64),
        ),
        risks.Passes(
            _fixed(strikes.pass_strokes, np.int64),
            _fixed(strikes.pass_before),
            _fixed(strikes.pass_left),
            _fixed(strikes.pass_feeds),
            _fixed(strikes.pass_widths),
            _fixed(strikes.pass_counts, np.int64),
        ),
        risks.Lips(
            _fixed(lips.half_width),
            np.cos(lean),
            np.sin(lean),
            np.radians(lips.outward),
            _fixed(lips.exists, np.bool_),
            lips.kind == "start",
            _fixed(strikes.made_by, np.int64),
            feed,
        ),
        risks.Job(float(strikes.bundle), TEAR_LAYER, float(cut.bit.flutes), -1.0 if cut.spin == "cw" else 1.0, *_ROUGH),
        directions,
        _fixed(fibres),
    )
    standing, uncut, tissues = np.zeros_like(out["fuzz"]), np.zeros_like(more[..., 1]), wood.tissues()
    frailty = np.array([m.frailty for m in models])
    for share, density in tissues:
        table = _coefficients(models, cut, wood, edges)
        _as_tissue(table, wood, density, models)
        risks.lip_risk_sets(*given, table, risks.Results(out["fuzz"], out["tear"], out["scorch"], more))
        # what stands off the lip is early- and latewood by their shares; all else is told of the wood as a whole
        standing, uncut = standing + share * out["fuzz"], uncut + share * unsevered(more[..., 1], frailty)
    out["fuzz"] = standing
    if len(tissues) > 1:
        more[..., 1] = _hazard(uncut, frailty)
    if detailed:
        names = ("support", "hazard", "rubs", "tear_depth", "temperature")
        out |= {name: more[..., k] for k, name in enumerate(names)}
        out["rubs"] = out["rubs"].astype(int)
    upright = np.abs(np.nan_to_num(fibres[..., 2])) > np.sin(np.radians(END_GRAIN)) + 1e-12
    if upright.any():
        unknown = np.broadcast_to(np.moveaxis(upright, 0, -1), (n, 2, sets))
        for name in out:
            if name not in ("rubs", "temperature"):
                out[name][unknown] = np.nan
    return out


def unsevered(hazard: ArrayLike, frailty: ArrayLike) -> FloatArray:
    """Chance that a bundle is left unsevered; the shapes are broadcast."""
    h, f = np.asarray(hazard, dtype=float), np.asarray(frailty, dtype=float)
    own = np.where(f > 0, f, 1.0)
    return np.asarray(np.where(f > 0, (1.0 + f * h) ** (-1.0 / own), np.exp(-h)))


def _hazard(chance: FloatArray, frailty: FloatArray) -> FloatArray:
    """Hazard that leaves this chance: the inverse of `unsevered`."""
    known, own = np.maximum(chance, 1e-300), np.where(frailty > 0, frailty, 1.0)
    return np.asarray(np.where(frailty > 0, np.expm1(-own * np.log(known)) / own, -np.log(known)))


def tooth_feeds(lips: Lips, cut: Cut) -> FloatArray:
    """Feed per tooth reached at the stations, (n,). [mm]"""
    return np.asarray(tool_feed(lips, cut) / (cut.spindle_speed * cut.bit.flutes))


def is_plain(model: object) -> bool:
    """Whether a model is asked by the compiled kernel: a `RiskModel` that does not make risks of its own."""
    return isinstance(model, RiskModel) and type(model).lip_risks is RiskModel.lip_risks


def _one_by_one(
    models: Sequence[LipModel],
    strikes: LipStrikes,
    fibres: FloatArray,
    cut: Cut,
    wood: Wood,
    edges: FloatArray | None,
) -> dict[str, FloatArray]:
    """`lip_risk_sets` of models that are not ours."""
    found, thick = [], thickest(models).bundle
    for k in range(max(len(models), len(fibres))):
        own = cut if edges is None else _with_edge(cut, float(edges[k]))
        model = models[k % len(models)]
        # a model of our kind leaves out by itself what lies beyond its layer
        as_thick = model.bundle == thick or isinstance(model, RiskModel)
        thin = strikes if as_thick else strikes.thinner(strikes.bundle * model.bundle / thick)
        found.append(risks_of(model, thin, fibres[k % len(fibres)], own, wood))
    blank = np.full(strikes.lips.exists.shape, np.nan)
    names = ("fuzz", "tear", "scorch")
    return {name: np.stack([np.asarray(f.get(name, blank), float) for f in found], axis=-1) for name in names}


def _with_edge(cut: Cut, radius: float) -> Cut:
    """The cut with another edge radius; as it is if its bit cannot have one."""
    bit: Any = cut.bit
    if not is_dataclass(bit) or all(f.name != "edge_radius" for f in fields(bit)):
        return cut
    keen: Any = replace(bit, edge_radius=radius)  # type: ignore[type-var]
    own = replace(cut, bit=keen)
    # an edge does not change the motion, which takes long to work out
    vars(own).update(speed_profile=cut.speed_profile)
    return own


def _fixed(values: np.ndarray, kind: type = np.float64) -> np.ndarray:
    """Read-only, in one piece: a kernel is compiled for one kind of array only."""
    out: np.ndarray = np.ascontiguousarray(values, dtype=kind).view()
    out.flags.writeable = False
    return out


NODE_STEP = 10.0 / 3.0
"""Between the nodes of the scatter's rule, for standard deviations above 4 deg; see `scatter_rule`. [deg]"""


def scatter_rule(scatter: float) -> tuple[FloatArray, FloatArray]:
    """Turns (n,) [deg] and weights (n,) of the mean over a normal scatter of the fibres' azimuth. Own rule.

    `scatter` is the standard deviation, >= 0. [deg]

    Where fibres lose their support they do so within a few degrees, whatever the scatter: so the nodes stand some
    degrees apart and no share of a standard deviation, but for scatters in (1, 4] deg, which have a fourth of the step,
    those in (0.25, 1] a fourth of that, and so on. Against a rule of a thousand nodes it errs by 0.02 of fuzz or tear
    at most, by 0.001 to 0.002 in the mean. The bell ends at 3.2 standard deviations and runs out over the last 0.3, so
    that no node comes or goes with a jump. A scatter of 200 deg is every direction alike, and so is a wider one. Turned
    by multiples of 5 deg many nodes fall on one another, which `turned_risks` makes use of.
    """
    if scatter < 1e-6:
        return np.zeros(1), np.ones(1)
    wide = min(scatter, 200.0)
    step = NODE_STEP * 4.0 ** min(np.ceil(np.log(wide / 16.0) / np.log(4.0) - 1e-9), 0.0)
    last = np.floor(_REACH * wide / step)
    turns = step * np.arange(-last, last + 1)
    away = np.abs(turns) / wide
    weights = np.exp(-away * away / 2) * np.minimum((_REACH - away) / _FADE, 1.0)
    return turns, weights / weights.sum()


_REACH, _FADE = 3.2, 0.3


@lru_cache(maxsize=8)
def _directions(scatters: tuple[float, ...], off: tuple[float, ...] | None = None) -> risks.Directions:
    """The scatter of many models as `risks.lip_risk_sets` takes it, about fibres that each turns by its own angle."""
    rules = [scatter_rule(s) for s in scatters]
    if off is not None:
        rules = [(shifts + turn, weights) for (shifts, weights), turn in zip(rules, off, strict=True)]
    counts = np.array([len(turns) for turns, _ in rules])
    turned, weight = np.zeros((2, len(rules), counts.max()))
    for k, (turns, weights) in enumerate(rules):
        turned[k, : counts[k]], weight[k, : counts[k]] = np.radians(turns), weights
    places = np.arange(counts.max())[None]
    return risks.Directions(counts, np.cos(turned), np.sin(turned), counts, places, weight)


def _turned_directions(scatter: float, turns: FloatArray, period: float) -> risks.Directions:
    """The same for one model and many turns of the fibres: every direction once, at a multiple of 1e-9 deg."""
    shifts, weights = scatter_rule(scatter)
    every = np.asarray(turns, dtype=float)[:, None] + shifts
    marks, places = np.unique(np.round(every % period, 9) % period, return_inverse=True)
    turned = np.radians(marks)[None]
    looked_at, nodes = np.array([marks.size]), np.array([shifts.size])
    places = places.reshape(every.shape)
    return risks.Directions(looked_at, np.cos(turned), np.sin(turned), nodes, places, weights[None])


def _turned(fibres: FloatArray, degrees: float) -> FloatArray:
    """Axes (..., 3) turned counter-clockwise about the vertical. [deg]"""
    c, s = np.cos(np.radians(degrees)), np.sin(np.radians(degrees))
    return np.asarray(fibres @ np.array([[c, s, 0.0], [-s, c, 0.0], [0.0, 0.0, 1.0]]))


_ROUGH = tuple(f(np.geomspace(0.02, np.pi / 2, 24)) for f in (np.sin, np.cos))
"""Rotations from the wall at which the teeth of an earlier pass are looked at."""


def _rubbing(land: ArrayLike, recovery: ArrayLike, clearance: float) -> FloatArray:
    """Length that rubs behind the edge, over the edge radius: the land, and the heel on what springs back."""
    return np.asarray(np.asarray(land) + np.asarray(recovery) / np.tan(np.radians(max(clearance, 0.5))))


def _indentation(wood: Wood) -> float:
    """Mean pressure under the ball of the hardness test, sunk by half: 1 cm^2. [MPa]"""
    if np.isfinite(wood.side_hardness):
        return wood.side_hardness / 100.0
    return 7.0 * wood.compression_perpendicular  # the handbook's woods lie between 5 and 10


def scorch_index(temperature: ArrayLike, char: float = 252.5) -> FloatArray:
    """0.1 at 27.5 K below `char` and 0.9 at as much above, a logistic curve; same shape as `temperature` [C]. [-]"""
    odds = laws.charring(np.asarray(temperature, dtype=float), char)
    return np.asarray(1.0 / (1.0 + np.exp(-np.clip(odds, -700, 700))))


def tool_feed(lips: Lips, cut: Cut) -> FloatArray:
    """Feed reached at the stations, (n,). [mm/min]"""
    return 60.0 * cut.speed_profile.speed_at(lips.station)


def lip_fibres(lips: Lips, board: Board) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Azimuth and dive of the fibres at the lips, (n, 2) [deg], and their unit axes, (n, 2, 3); NaN where no lip is."""
    exists = lips.exists
    azimuth, dive = np.full((2, *exists.shape), np.nan)
    fibres = np.full((*exists.shape, 3), np.nan)
    if exists.any():
        azimuth[exists], dive[exists] = board.grain.at(lips.lip_xy[exists])
        fibres[exists] = axis_of(np.radians(azimuth[exists]), np.radians(dive[exists]))
    return azimuth, dive, fibres


def lip_frame(lips: Lips, spin: str) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Cutting direction and wall normal at the finished lips, (n, 2, 3), and the lip's normal in the face, (n, 2, 2).

    The edge runs along the lip: outward azimuth - 90 deg for a clockwise spindle, + 90 for a counter-clockwise one.
    """
    a = np.radians(lips.outward)
    out = np.stack([np.cos(a), np.sin(a)], axis=-1)
    turn = -1.0 if spin == "cw" else 1.0
    lean = np.radians(lips.flank_lean)[:, None]
    zero = np.zeros_like(a)
    v = np.stack([-turn * out[..., 1], turn * out[..., 0], zero], axis=-1)
    n = np.stack([np.cos(lean) * out[..., 0], np.cos(lean) * out[..., 1], zero - np.sin(lean)], axis=-1)
    return v, n, out
