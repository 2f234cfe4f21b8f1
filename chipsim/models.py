"""How fibres fail: the model that turns the strikes on a lip into the risks of fuzz, tear-out and scorch.

Kinematics is exact; what fibres do is a hypothesis. `RiskModel` is this project's own, assembled from published
ingredients (`tearout`, `heat` and the severing hazard below). Every coefficient is a named field with unit, prior range
and source (`RiskModel.describe`). How the defaults were chosen: exponent, bundle, the two stresses, the fall of the
support and the form of `fibres that cross the lip` among trial sets so that facts of shop practice hold (common
practice, no source); that the drag falls with the lean, and `catch_depth` with it, so that lips are worst at 60
degrees to the grain as published (Lungu, Gurau & Cosereanu 2023, BioResources 18(3) 5334, abstract) while those facts
still hold; the order of species and the published order of feeds were not used. Tear-out and scorch keep the values
their sources give; `weak_planes`, `tear_scale`, `contact` and `land` are guesses inside their priors. Until a test
piece has been read every risk is a prior.
"""

from __future__ import annotations

from dataclasses import dataclass, field, fields, replace
from typing import NamedTuple, Protocol

import numpy as np
from numpy.typing import ArrayLike

from . import _kernels
from ._arrays import FloatArray, instance, number
from .cuts import Cut
from .errors import DomainError
from .heat import flash_rise, front_rise, lasting_rise, sliding_friction
from .kinematics import LipStrikes
from .lips import Lips
from .species import Wood
from .tearout import crack_length, longest_arm
from .units import table_text

__all__ = ["ROOM", "LipModel", "RiskModel", "lip_frame", "tool_feed"]

ROOM = 20.0
"""Temperature of the shop and the wood. [C]"""


class LipModel(Protocol):
    """What `risk_map` asks of a model: the layer whose strikes it looks at and the risks it makes of them."""

    @property
    def bundle(self) -> float: ...  # noqa: D102
    def lip_risks(self, strikes: LipStrikes, fibres: FloatArray, cut: Cut, wood: Wood) -> dict[str, FloatArray]:
        """Return arrays (n, 2) of at least 'fuzz'; see `RiskModel.lip_risks` for what else a map shows.

        `fibres` are (n, 2, 3) unit axes at the lip points, NaN where there is no lip.
        """
        ...


def _coefficient(value: float, unit: str, low: float, high: float, source: str, meaning: str) -> float:
    return field(default=value, metadata={"unit": unit, "prior": (low, high), "source": source, "meaning": meaning})


class _Scene(NamedTuple):
    """Directions at the lips for every node of the scatter, and the way of the strikes."""

    weight: FloatArray  # (nodes,)
    angle: FloatArray  # (n, 2, nodes) fibre angle on the flank [deg]
    sine: FloatArray  # (n, 2, nodes) of the angle between fibre and cut
    crossing: FloatArray  # (n, 2, nodes) (g . lip normal)^2
    across: FloatArray  # (n, 2, nodes) g . lip normal in the face, for g . v >= 0
    along: FloatArray  # (n, 2, nodes) g . v >= 0


@dataclass(frozen=True, kw_only=True)
class RiskModel:
    r"""Severing hazard for fuzz, crack reach for tear-out, rubbing heat for scorch.

    **Fuzz.** For one strike of chip h at cutting speed v on a fibre bundle that crosses the finished lip,

        L = K (B s + V gate) sin(g, v),   hazard H = sum of L^exponent over the strikes,   P(unsevered) = exp(-H)
        B = (h / edge radius) (compression perpendicular / reference_support)     how well the edge bites
        V = v / v_c,  v_c = bending_stress / sqrt(3 E rho)                        inertia; Hunt 1960, JASA 32:1123
        gate = 1 - exp(-h / (catch_depth edge radius))                            too shallow to catch the bundle
        s = 1 against the grain; with it, fibres lean away by lambda = 180 - fibre angle and, once the edge slides,
            s = drag cos(lambda) + (1 - drag cos(lambda)) exp(-D / support_fall),
            D = cos(lambda) - friction sin(lambda) > 0                            what severs then is the drag along it
        K = 1 - tan(psi - rake), tan psi = friction                               sign of the normal force
        fuzz = mean of (g . lip normal)^2 P over a normal scatter of the fibre's azimuth

    As strikes go to nothing the fuzz does not: a rubbed lip is a fuzzy lip.

    **Tear-out.** Every tooth on its way to the lip stands a distance y inside it, takes a radial chip h and pushes the
    fibres by h + blunting x edge radius (a round edge drags fibres on before it parts them). The crack it opens
    (`tearout`) reaches l sin(theta) - y beyond the lip, theta the angle in the face between fibre and *lip*; the arm it
    lifts is as thick as the sweep's thickest chip, f_t sin(phi), phi the rotation at which the tooth enters the wood:
    the chip is one body, and a skim's is thin all along. The depth torn is the most over all teeth, those of the
    deepest earlier pass included, for what they tore may lie deeper than the skim takes. Then

        tear = mean of split (1 - exp(-depth / tear_scale)),   split = 1 - exp(-(t / t_clear)^weak_planes)

    t_clear = 6 E G / MOR^2, the arm that clear wood splits before it breaks: visible tears come from weak planes. An
    earlier pass has its own arm, its feed per tooth; where the thinner of the two arms splits, so does the thicker.

    **Scorch.** The land behind the edge rubs with pressure contact x side hardness / 1 cm^2 and published friction;
    a strike rubs by exp(-h / (bite_floor edge radius)). Temperature = 20 C + heat_share (flash + what the strikes left
    behind), `heat`; where a machine starts a cut its plunge rubs too. scorch is 0.1 at 225 C and 0.9 at 280 C, where
    wood chars (Lowden & Hull 2013, review).

    Angles are those of the finished lip; what differs between entry and exit lip beyond their strikes is left to the
    test piece.
    """

    bundle: float = _coefficient(
        0.2, "mm", 0.1, 0.3, "chosen among trial sets", "layer at the lip whose strikes can sever a bundle"
    )
    exponent: float = _coefficient(
        3.5, "-", 2.5, 5.0, "Weibull, coefficient of variation 32 %; chosen among trial sets", "spread of strength"
    )
    reference_support: float = _coefficient(
        6.0, "MPa", 3.0, 12.0, "scale of compression perpendicular in Table 5-3a", "side support that makes B = h / r"
    )
    bending_stress: float = _coefficient(
        75.0,
        "MPa",
        50.0,
        110.0,
        "chosen among trial sets, near handbook bending strengths",
        "stress that breaks a fibre",
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
        0.4, "-", 0.2, 0.65, "McKenzie & Karpovich 1968, air-dry wood on steel at 4 m/s (abstract)", "edge on fibre"
    )
    scatter: float = _coefficient(
        8.0, "deg", 4.0, 12.0, "chosen among trial sets", "standard deviation of the fibres' azimuth about the grain"
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
    contact: float = _coefficient(
        0.5, "-", 0.2, 1.0, "a guess: half way to a full indentation", "pressure of the land over indentation hardness"
    )
    land: float = _coefficient(
        2.5, "edge radii", 1.0, 6.0, "20 um fresh, 100 um worn (from memory)", "length of the rubbing land"
    )
    heat_share: float = _coefficient(
        0.35, "-", 0.1, 1.0, "most heat enters the tool: Igaz et al. 2019 (introduction)", "heat that enters the wood"
    )

    def __post_init__(self) -> None:
        for f in fields(self):
            positive = f.name not in ("drag", "friction", "scatter", "blunting", "contact", "heat_share")
            value = number(f.name, getattr(self, f.name), low=0, high=1e4, open_low=positive, unit=f.metadata["unit"])
            object.__setattr__(self, f.name, value)
        for name in ("drag", "heat_share"):
            if getattr(self, name) > 1:
                raise DomainError(f"{name} must lie in [0, 1], got {getattr(self, name):g}")

    def describe(self) -> str:
        """Table of the coefficients: value, unit, prior range, meaning, source."""
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
        return table_text(rows)

    def critical_speed(self, wood: Wood) -> float:
        """Speed v_c at which inertia alone would break a fibre: sigma = sqrt(3) rho c v of a struck beam. [m/s]"""
        instance("wood", wood, Wood, "a Wood")
        stiffness = np.sqrt(wood.elastic_modulus_true * 1e6 * wood.density)
        return float(self.bending_stress * 1e6 / (np.sqrt(3.0) * stiffness))

    def rake_factor(self, rake: float) -> float:
        """K, how well a rake [deg] severs: 1 where the normal force changes sign, never below 0. [-]"""
        lean = np.radians(number("rake", rake, low=-45, high=60, unit="deg"))
        return float(max(0.0, 1.0 - np.tan(np.arctan(self.friction) - lean)))

    def support(self, angle: ArrayLike) -> FloatArray:
        """Share of side support left to a fibre met at `angle` [deg], as from `fibre_angle`; same shape. [-]"""
        lean = np.radians(180.0 - np.asarray(angle, dtype=float))
        slide = np.where(lean < np.pi / 2, np.cos(lean) - self.friction * np.sin(lean), 0.0)
        lost = np.exp(-np.maximum(slide, 0.0) / self.support_fall)
        # an edge that slides towards a fibre's free end still drags on it, with cos(lean) of its push
        floor = self.drag * np.abs(np.cos(lean))
        return np.asarray(floor + (1.0 - floor) * lost)

    def lip_risks(self, strikes: LipStrikes, fibres: FloatArray, cut: Cut, wood: Wood) -> dict[str, FloatArray]:
        """Risks at every lip, with what they rest on; see the class. Arrays (n, 2).

        Returns
        -------
        dict
            'fuzz', 'tear', 'scorch'; 'support' and 'hazard' of the mean fibre; 'rubs', strikes that bite less than the
            bite floor, normal to the flank; 'tear_depth' beyond the lip, mean over the scatter [mm]; 'temperature' [C].
        """
        scene = self._scene(strikes.lips, fibres, cut.spin)
        normal = strikes.chips * np.cos(np.radians(strikes.lips.flank_lean))[:, None, None]
        rubs = np.sum(normal < self.bite_floor * cut.bit.edge_radius, axis=-1)
        fuzz = self._fuzz(scene, strikes, cut, wood)
        return {"rubs": rubs} | fuzz | self._tear(scene, strikes, cut, wood) | self._scorch(strikes, normal, cut, wood)

    def _scene(self, lips: Lips, fibres: FloatArray, spin: str) -> _Scene:
        shift, weight = self._scatter_nodes()
        v, _, out = lip_frame(lips, spin)
        ahead = np.einsum("...j,...j->...", fibres, v)[..., None]
        aside = np.einsum("...j,...j->...", fibres[..., :2], out)[..., None]
        # turn each fibre about the vertical by every node of the scatter; (v, out) is right-handed for a cw spindle
        c, s = np.cos(shift), np.sin(shift) * (1.0 if spin == "cw" else -1.0)
        along, across = ahead * c - aside * s, ahead * s + aside * c
        lean = np.radians(lips.flank_lean)[:, None, None]
        into = np.cos(lean) * across - np.sin(lean) * fibres[..., 2:]
        return _Scene(
            weight,
            np.degrees(np.arctan2(into, along)) % 180.0,
            np.sqrt(np.clip(1.0 - along**2, 0.0, None)),
            across**2,
            np.where(along < 0, -across, across),
            np.abs(along),
        )

    def _fuzz(self, scene: _Scene, strikes: LipStrikes, cut: Cut, wood: Wood) -> dict[str, FloatArray]:
        exists, bit = strikes.lips.exists, cut.bit
        factor = self.rake_factor(bit.rake)
        support = self.support(scene.angle)
        fuzz, hazard = np.full(exists.shape, np.nan), np.full(exists.shape, np.nan)
        _kernels.unsevered(
            strikes.chips.copy(),
            strikes.cutting_speeds.copy(),
            strikes.counts.copy(),
            exists,
            factor * wood.compression_perpendicular / (self.reference_support * bit.edge_radius),
            factor / self.critical_speed(wood),
            self.catch_depth * bit.edge_radius,
            support,
            scene.sine,
            self.exponent,
            scene.weight,
            scene.crossing,
            fuzz,
            hazard,
        )
        middle = len(scene.weight) // 2
        return {"fuzz": fuzz, "support": np.where(exists, support[..., middle], np.nan), "hazard": hazard}

    def _tear(self, scene: _Scene, strikes: LipStrikes, cut: Cut, wood: Wood) -> dict[str, FloatArray]:
        lips = strikes.lips
        exists = lips.exists
        tear, torn = np.full(exists.shape, np.nan), np.full(exists.shape, np.nan)
        if not np.isfinite(wood.fracture_toughness):
            return {"tear": tear, "tear_depth": torn}
        delta = np.radians(cut.bit.rake) - np.arctan(self.friction)
        # g seen in the face: the crack that a diving fibre leads under the face is as long, and reaches less far
        flat = np.hypot(scene.across, scene.along)
        s, c = (np.divide(a, flat, out=np.zeros_like(a), where=flat > 0) for a in (scene.across, scene.along))
        lift = np.maximum(s * np.cos(delta) + c * np.sin(delta), 0.0) * c
        # crack length goes with the root of the push, so that the reach is sqrt(push) x this
        turn = np.where(s > 0, np.sqrt(lift) * scene.across, 0.0)
        arms, reach, stand, own = self._teeth(strikes, cut, wood)
        split, before = (1.0 - np.exp(-((arm / longest_arm(wood)) ** self.weak_planes)) for arm in arms)
        _kernels.torn(reach, stand, turn, exists, scene.weight, own, split, before, self.tear_scale, tear, torn)
        return {"tear": tear, "tear_depth": torn}

    def _teeth(
        self, strikes: LipStrikes, cut: Cut, wood: Wood
    ) -> tuple[tuple[FloatArray, FloatArray], FloatArray, FloatArray, int]:
        """Arms of the cut and of an earlier pass, crack and stand of every tooth, number of the cut's own teeth.

        Arms are thicknesses (n, 2), 0 where there is none; cracks those of a unit opening, stands those inside the lip.
        Near the lip the teeth are those of the record. Between the record's layer and where the tooth enters the wood
        they are taken from the steady arc (`_slot_chip`), as are those of the deepest earlier pass. [mm]
        """
        lips = strikes.lips
        width = lips.half_width[:, None]
        turn = cut.spindle_speed * cut.bit.flutes
        feed = np.broadcast_to(tool_feed(lips, cut)[:, None] / turn, lips.exists.shape)
        blunt = self.blunting * cut.bit.edge_radius
        with np.errstate(invalid="ignore", divide="ignore"):
            depth = np.where(lips.exists, np.minimum(strikes.stock, width), 0.0)
            entry = np.arccos(np.clip(1.0 - depth / width, 0.0, 1.0))
            inside = np.clip(1.0 - strikes.depths / width[..., None], 0.0, 1.0)
            chips = np.minimum(strikes.chips * inside, feed[..., None] * cut.bit.flutes)
            arm = np.fmax(feed * np.sin(entry), np.nanmax(np.fmax(chips, 0.0), axis=-1, initial=0.0))
            near = np.arccos(np.clip(1.0 - strikes.bundle / width, 0.0, 1.0))
            span = np.linspace(0.0, 1.0, 9)[1:]
            phi = near[..., None] + (np.maximum(entry - near, 0.0))[..., None] * span
            far = np.where(entry[..., None] > near[..., None], _slot_chip(feed, width, phi), np.nan)
            # a strike that runout carries beyond the nominal lip stands at the lip: what it took is groove, not tear
            teeth = [(chips, np.maximum(strikes.depths, 0.0), arm), (far, width[..., None] * (1.0 - np.cos(phi)), arm)]
            own, rough = chips.shape[-1] + far.shape[-1], np.zeros(lips.exists.shape)
            earlier = cut.earlier_passes()
            if earlier:
                last = max(earlier, key=lambda c: float(c.path.depth.max()))
                # what a machine lets it reach is the same in either sense
                f = tool_feed(lips, replace(cut, feed=last.feed, passes=None))[:, None] / turn * np.ones(2)
                rough = np.where(strikes.stock < width, f, 0.0)
                # that pass stood in a groove narrower by the stock it left
                narrow = np.where(strikes.stock < width, width - depth, np.nan)
                phi = np.geomspace(0.02, np.pi / 2, 24)
                before = _slot_chip(f, narrow, phi)
                stand = strikes.stock[..., None] + narrow[..., None] * (1.0 - np.cos(phi))
                teeth.append((before, stand, f))
        reach = [crack_length(h + blunt, t[..., None], wood) for h, _, t in teeth]
        stands = [np.broadcast_to(y, r.shape) for (_, y, _), r in zip(teeth, reach, strict=True)]
        joined = (np.ascontiguousarray(np.concatenate(each, axis=-1)) for each in (reach, stands))
        return (arm, rough), *joined, own

    def _scorch(self, strikes: LipStrikes, normal: FloatArray, cut: Cut, wood: Wood) -> dict[str, FloatArray]:
        exists = strikes.lips.exists
        rubbing = np.exp(-np.where(np.isnan(normal), np.inf, normal) / (self.bite_floor * cut.bit.edge_radius))
        count = rubbing.sum(axis=-1)
        share = rubbing.max(axis=-1, initial=0.0)
        speed = np.where(np.isnan(strikes.cutting_speeds), 0.0, strikes.cutting_speeds).max(axis=-1, initial=0.0)
        friction = sliding_friction(speed, wood.moisture) * (self.friction / 0.4)
        pressure, land = self.contact * _indentation(wood), self.land * cut.bit.edge_radius
        interval = 60.0 / (cut.spindle_speed * cut.bit.flutes)
        lasting = lasting_rise(pressure, land, count, interval, wood, friction=friction)
        if cut.machine is not None:
            sink = cut.machine.plunge_feed / 60.0 * np.sin(np.radians(strikes.lips.flank_lean))[:, None]
            start = (strikes.lips.kind == "start")[:, None] & (sink > 0)
            rubs = np.exp(-sink * interval / (self.bite_floor * cut.bit.edge_radius))
            front = rubs * front_rise(pressure, land, interval, np.where(sink > 0, sink, 1.0), wood, friction=friction)
            share, lasting = (
                np.where(start, np.fmax(share, rubs), share),
                np.where(start, np.fmax(lasting, front), lasting),
            )
        flash = share * flash_rise(pressure, speed, land, wood, friction=friction)
        temperature = np.where(exists, ROOM + self.heat_share * (flash + lasting), np.nan)
        return {"scorch": scorch_index(temperature), "temperature": temperature}

    def _scatter_nodes(self) -> tuple[FloatArray, FloatArray]:
        """Offsets [rad] and weights of the scatter: the trapezoid rule, which converges fast on a bell curve."""
        if self.scatter == 0:
            return np.zeros(1), np.ones(1)
        x = np.linspace(-3.2, 3.2, 17)
        w = np.exp(-x * x / 2)
        return np.radians(self.scatter * x), w / w.sum()


def _slot_chip(feed: FloatArray, width: FloatArray, phi: FloatArray) -> FloatArray:
    """Radial chip at the rotations `phi` from the wall, to second order: f sin(phi) + f^2 cos(phi)^2 / (2 w). [mm]

    The old surface is the circle one feed per tooth behind; by the second term teeth still bite as they reach the lip.
    """
    f = feed[..., None]
    return np.asarray(np.minimum(f * np.sin(phi) + (f * np.cos(phi)) ** 2 / (2.0 * width[..., None]), f))


def _indentation(wood: Wood) -> float:
    """Mean pressure under the ball of the hardness test, sunk by half: 1 cm^2. [MPa]"""
    if np.isfinite(wood.side_hardness):
        return wood.side_hardness / 100.0
    return 7.0 * wood.compression_perpendicular  # the handbook's woods lie between 5 and 10


def scorch_index(temperature: ArrayLike) -> FloatArray:
    """0.1 at 225 C, 0.9 at 280 C, a logistic curve through both; same shape as `temperature` [C]. [-]"""
    t = np.asarray(temperature, dtype=float)
    return np.asarray(1.0 / (1.0 + np.exp(-np.clip((t - 252.5) / (27.5 / np.log(9.0)), -700, 700))))


def tool_feed(lips: Lips, cut: Cut) -> FloatArray:
    """Feed reached at the stations, (n,). [mm/min]"""
    return 60.0 * cut.profile.speed_at(lips.station)


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
