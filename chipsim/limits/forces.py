r"""Cutting forces, to a factor of three: what a groove asks of the spindle, the machine and the bit's tip.

The force along the cutting direction on a length b of edge is F = b (A + B h): A for the rounding of the edge and for
what it costs to part the wood, B a pressure on the chip's thickness h. How it changes with the fibres is interpolated
between McKenzie's three pure cases, which he names by the angles of edge and of motion to the fibre::

    90-90  end grain: the edge goes square through the fibres         F1, along the wall's normal n
    90-0   planing:   edge square to the fibres, motion along them    F2, along the motion v
    0-90   veneer:    edge along the fibres, motion square to them    F3, along the edge e

Motion, edge and wall normal are square to one another (edges lie in axial planes), so the squares of the fibre's three
direction cosines add up to one and F = F1 (g.n)^2 + F2 (g.v)^2 + F3 (g.e)^2 meets all three exactly.

The chip is that of steady level cutting, h = f_z sin(angle) cos a: enough for that factor; runout, corners and the
tip's flat are left out, so are the inclination of a sheared edge and flutes that reach unequally far, and so are a
ramp's downward advance and whatever the heel rubs. The fibres are those under the tool's axis. After earlier passes
only the wood they left is engaged.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass, field, fields
from itertools import pairwise

import numpy as np
from numpy.typing import ArrayLike

from .._shared.arrays import FloatArray, array, number
from .._shared.tables import Columns, Result
from ..errors import DomainError
from ..scene.cuts import Cut, Pass
from ..scene.grain import Board
from ..scene.species import Wood
from ..units import feed_text, folded, length_text, table_text, tooth_feed_text

__all__ = ["CuttingForceModel", "Forces", "cutting_forces"]

_KIVIMAA = "Kivimaa 1950 (VTT Publ. 18), birch, dry and sharp, 0.1 mm chips; from memory, low confidence"
_MIDDLE = "middle of three estimates that lie five times apart (from memory, low confidence)"
_NODES, _WEIGHTS = np.polynomial.legendre.leggauss(24)
_PLACES = 48
_MOST_KNOTS = 65


def _coefficient(value: float, unit: str, low: float, high: float, source: str, meaning: str) -> float:
    return field(default=value, metadata={"unit": unit, "prior": (low, high), "source": source, "meaning": meaning})


def _must_broadcast(names: str, *arrays: FloatArray) -> None:
    try:
        np.broadcast_shapes(*(a.shape for a in arrays))
    except ValueError:
        shapes = " and ".join(str(a.shape) for a in arrays)
        raise DomainError(f"{names} must have shapes that broadcast, got {shapes}") from None


@dataclass(frozen=True, kw_only=True)
class CuttingForceModel:
    r"""Force on an edge per length of it, with every coefficient's unit, prior range and source.

    ::

        F / b = S D (edge_pressure r_e + toughness + pressure h)      along the cutting direction
        S = (G / reference_gravity) exp(-moisture_fall (M - 12))      the species
        D = planing (g.v)^2 + (g.e)^2 + end_grain (g.n)^2             the fibres; 1 is veneer cutting, 0-90
        F_n = F tan(psi - rake),  tan psi = friction                  normal to the wall, > 0 pushes the tool away

    The values give 3.6, 4.7 and 9 N/mm for 0-90, 90-0 and 90-90 in birch at h = 0.1 mm with an edge of 8 micrometres,
    36, 47 and 90 N/mm^2. They are the middle, in the logarithm, of three estimates from memory, which `band` holds:
    Kivimaa's forces, 1.7 times as much; specific forces often quoted for solid wood, 15 to 60 N/mm^2; and a second
    estimate of whole grooves, 0.33 to 0.55 times. Measured and read as numbers are only the 32 and 38 N/mm^2 of
    particleboard, mean over a milling tooth's chip (Palubicki 2021, Materials 14:2208, abstract): studies of solid wood
    give none in their abstracts (Eyma 2005, Hernandez 2011, Mandic 2015, Moradpour 2016, Hlaskova 2018).

    The species enters by its specific gravity, to which the force is roughly proportional (from memory). It is known
    for every board, while the regressions on strengths, which predict better, give no numbers in their abstracts
    (Eyma et al. 2005, Ann. For. Sci. 62:441). Density with its water in would rise with moisture, the force falls.

    F_n turns its sign at rake = psi, 21.8 degrees for friction 0.4; Woodson 1979 (USFS Res. Pap. SO-146, abstract) saw
    it turn between 20 and 30 degrees. That more rake also lowers the main force is left to the band.

    Examples
    --------
    >>> import chipsim as cs
    >>> model = cs.CuttingForceModel(friction=0.3)
    >>> f"{model.normal_share(rake=10):.3f}"
    '0.117'
    """

    pressure: float = _coefficient(27.0, "MPa", 9.0, 80.0, _MIDDLE, "B of veneer cutting, 0-90")
    edge_pressure: float = _coefficient(
        90.0,
        "MPa",
        30.0,
        270.0,
        "edge 5 to 20 um raises thin-chip force 1.5 to 2 times (from memory)",
        "force on the rounded edge over its radius, 0-90",
    )
    toughness: float = _coefficient(
        0.18, "N/mm", 0.06, 1.0, "fracture energy across the grain 150-300 J/m^2 (from memory)", "cost of parting, 0-90"
    )
    planing: float = _coefficient(1.3, "-", 1.1, 1.6, _KIVIMAA, "force of 90-0 over that of 0-90")
    end_grain: float = _coefficient(2.5, "-", 2.0, 3.0, _KIVIMAA, "force of 90-90 over that of 0-90")
    reference_gravity: float = _coefficient(
        0.60, "-", 0.55, 0.65, "birch at 12 % (from memory)", "specific gravity the pressures hold for"
    )
    moisture_fall: float = _coefficient(
        0.015, "1/%", 0.01, 0.02, "force falls 1-2 % per % moisture, 8 to 30 % (from memory)", "fall with moisture"
    )
    friction: float = _coefficient(
        0.4, "-", 0.2, 0.65, "McKenzie & Karpovich 1968, air-dry wood on steel at 4 m/s (abstract)", "chip on rake face"
    )
    core_fraction: float = _coefficient(
        0.6, "-", 0.4, 0.8, "estimate, no source: look at the bit", "core left by the gullets, over the edge's radius"
    )
    band: float = _coefficient(
        3.0, "-", 2.0, 5.0, "three estimates from memory lie up to five times apart", "likely times and over this"
    )

    def __post_init__(self) -> None:
        for f in fields(self):
            positive = f.name in ("reference_gravity", "core_fraction")
            low = 1.0 if f.name == "band" else 0.0
            high = {"core_fraction": 1.0, "moisture_fall": 0.1}.get(f.name, 1e4)
            unit = f.metadata["unit"]
            value = number(
                f.name, getattr(self, f.name), low=low, high=high, open_low=positive, unit="" if unit == "-" else unit
            )
            object.__setattr__(self, f.name, value)

    def describe(self) -> str:
        """Table of the coefficients: value, unit, prior range, meaning, source."""
        rows: list[tuple[str, ...]] = [("coefficient", "value", "unit", "prior range", "meaning", "source")]
        for f in fields(self):
            m, (low, high) = f.metadata, f.metadata["prior"]
            value = f"{getattr(self, f.name):g}"
            rows.append((f.name, value, m["unit"], f"{low:g} to {high:g}", m["meaning"], m["source"]))
        return table_text(rows)

    def species_factor(self, wood: Wood) -> float:
        """S, the species and its moisture against dry birch. [-]"""
        if not isinstance(wood, Wood):
            raise DomainError(f"wood must be a Wood, as from wood('black cherry'), got {type(wood).__name__}")
        return wood.specific_gravity / self.reference_gravity * math.exp(-self.moisture_fall * (wood.moisture - 12.0))

    def direction_factor(self, motion: ArrayLike, edge: ArrayLike) -> FloatArray:
        """D, by the cosines between the fibre and the motion, and the fibre and the edge. [-]

        Parameters
        ----------
        motion, edge
            Direction cosines g.v and g.e, in [-1, 1], their squares together at most 1; shapes broadcast. [-]

        Raises
        ------
        DomainError
            If they are out of range.
        """
        v, e = (array(name, x, low=-1, high=1) ** 2 for name, x in (("motion", motion), ("edge", edge)))
        _must_broadcast("motion and edge", v, e)
        if (v + e > 1 + 1e-9).any():
            raise DomainError("motion and edge must be cosines of one fibre: their squares add up to at most 1")
        return self._direction(v, e)

    def _direction(self, along: FloatArray, edge: FloatArray) -> FloatArray:
        return np.asarray(self.planing * along + edge + self.end_grain * np.maximum(1.0 - along - edge, 0.0))

    def force_per_length(
        self, chip: ArrayLike, edge_radius: float, wood: Wood, *, motion: ArrayLike, edge: ArrayLike
    ) -> FloatArray:
        """Force along the cutting direction on a length of edge, F / b; shapes broadcast. [N/mm]

        Parameters
        ----------
        chip
            Thickness h, in [0, 100]; as it goes to nothing the edge still rubs, and A stays. [mm]
        edge_radius
            Rounding of the edge, in [0, 0.5]. [mm]
        wood
            The species.
        motion, edge
            As for `direction_factor`. [-]

        Raises
        ------
        DomainError
            If an argument is out of range.
        """
        h = array("chip", chip, low=0, high=100, unit="mm")
        r = number("edge_radius", edge_radius, low=0, high=0.5, unit="mm")
        a, b = self._terms(r, wood)
        factor = self.direction_factor(motion, edge)
        _must_broadcast("chip, motion and edge", h, factor)
        return np.asarray((a + b * h) * factor)

    def _terms(self, edge_radius: float, wood: Wood) -> tuple[float, float]:
        """A [N/mm] and B [MPa] of 0-90 in this wood."""
        s = self.species_factor(wood)
        return s * (self.edge_pressure * edge_radius + self.toughness), s * self.pressure

    def normal_share(self, rake: float) -> float:
        """Force normal to the wall over the main force, tan(psi - rake); > 0 pushes the tool away. [-]

        `rake` in [-45, 60]. [deg]
        """
        gamma = math.radians(number("rake", rake, low=-45, high=60, unit="deg"))
        return math.tan(min(math.atan(self.friction) - gamma, math.radians(89.0)))


@dataclass(frozen=True, eq=False)
class Forces(Result):
    """Forces on the tool at one place of a cut, made by `cutting_forces`; likely values, `band` either way.

    Print it for a table. Forces are those of the wood on the tool; mean is over a turn. It iterates over its passes in
    the order of cutting, the earlier ones first, and so does its table.

    Attributes
    ----------
    station, depth : arc length and depth of the tip there. [mm]
    feed : reached there. [mm/min]
    feed_per_tooth, chip : and the thickest chip. [mm]
    along, across : mean side force along the path, forwards positive, and across it, to the left positive. [N]
    peak, peak_along, peak_across : largest side force in a turn, and its parts. [N]
    axial : mean force along the axis, up (out of the wood) positive. [N]
    torque : mean, against the rotation. [N m]
    power : mean, torque times angular speed; the feed's share is left out. [W]
    stiffness : of the machine at the tip; nan if not known. [N/mm]
    deflection : mean side force over stiffness; nan if not known. The teeth pass far faster than machines of this
        size swing (from memory), so that the mean counts. [mm]
    tip_stress, tip_height : largest bending stress of the cone and its height above the tip; nan for a bit without a
        tip width, since a perfectly sharp point has infinite stress. [MPa, mm]
    duration : of the whole pass. [s]
    band : low is likely / band, high is likely x band. [-]
    earlier : the same for the earlier passes, in the order they are cut.
    caption : one line of what was computed.
    descent : speed down, below 0 where the path rises; where the tool plunges its feed in the face is 0. [mm/min]
    """

    station: float
    depth: float
    feed: float
    feed_per_tooth: float
    chip: float
    along: float
    across: float
    peak: float
    peak_along: float
    peak_across: float
    axial: float
    torque: float
    power: float
    stiffness: float
    deflection: float
    tip_stress: float
    tip_height: float
    duration: float
    band: float
    earlier: tuple[Forces, ...]
    caption: str
    descent: float = 0.0

    @property
    def side(self) -> float:
        """Mean side force, as a vector over a turn. [N]"""
        return math.hypot(self.along, self.across)

    @property
    def all_passes(self) -> tuple[Forces, ...]:
        """Every pass in the order of cutting, this one last."""
        return (*self.earlier, self)

    def __len__(self) -> int:
        return len(self.all_passes)

    def __iter__(self) -> Iterator[Forces]:
        return iter(self.all_passes)

    def _columns(self) -> Columns:
        passes = self.all_passes
        out: dict[str, list[float]] = {"pass": list(range(1, len(passes) + 1))}
        for heading, name in _HEADINGS.items():
            out[heading] = [getattr(p, name) for p in passes]
        return out

    def __repr__(self) -> str:
        return f"<Forces side {self.side:.2g} N, peak {self.peak:.2g} N, {self.power:.2g} W; factor {self.band:g}>"

    def __str__(self) -> str:
        going = f"actual feed {feed_text(self.feed)}, {tooth_feed_text(self.feed_per_tooth)} per tooth"
        if self.descent and self.feed == 0:
            going = f"plunging with {feed_text(self.descent)}"
        elif abs(self.descent) >= 0.5:
            going += f", {'down' if self.descent > 0 else 'up'} with {feed_text(abs(self.descent))}"
        head = (
            f"Forces {length_text(self.station)} along the path, {length_text(self.depth)} deep, {going}; "
            f"thickest chip {length_text(self.chip, 3)}"
        )
        rows: list[tuple[str, ...]] = [("", "low", "likely", "high", "")]
        for name, value, unit, digits in (
            ("side force, peak", self.peak, "N", 1),
            ("side force, mean", self.side, "N", 1),
            ("  along the path (+ forwards)", self.along, "N", 1),
            ("  across it (+ to the left)", self.across, "N", 1),
            ("axial force (+ lifts the tool)", self.axial, "N", 1),
            ("torque", self.torque, "N m", 4),
            ("power", self.power, "W", 1),
        ):
            rows.append((name, *(f"{x:.{digits}f}" for x in self._banded(value)), unit))
        if math.isfinite(self.deflection):
            rows.append(("deflection", *(length_text(x, 3) for x in self._banded(self.deflection)), ""))
        if math.isfinite(self.tip_stress):
            rows.append(("bending stress of the tip", *(f"{x:.0f}" for x in self._banded(self.tip_stress)), "MPa"))
        answer = f"About {self.peak:.0f} N push the bit aside at most, and the edges take {self.power:.0f} W."
        rests = f"This is an order of magnitude only: every force may be {self.band:g} times more or less."
        out = [*folded(f"{answer} {rests}"), "", *folded(self.caption), *folded(f"{head}."), table_text(rows)]
        if math.isfinite(self.tip_stress):
            out.append(f"The tip is stressed most {length_text(self.tip_height)} above its end.")
        else:
            out.append("Bending stress of the tip: no tip width given; a perfectly sharp point has infinite stress.")
        if not math.isfinite(self.deflection):
            out.append(
                "Deflection: the machine's stiffness is not known; pull the tool sideways with a spring balance."
            )
        if self.earlier:
            out += ["Passes, likely values:", _passes_table(self.all_passes)]
        return "\n".join(out)

    def _banded(self, value: float) -> tuple[float, float, float]:
        return value / self.band, value, value * self.band


_HEADINGS = {
    "station [mm]": "station",
    "depth [mm]": "depth",
    "feed [mm/min]": "feed",
    "feed_per_tooth [mm]": "feed_per_tooth",
    "chip [mm]": "chip",
    "side [N]": "side",
    "along [N]": "along",
    "across [N]": "across",
    "peak [N]": "peak",
    "axial [N]": "axial",
    "torque [N m]": "torque",
    "power [W]": "power",
    "deflection [mm]": "deflection",
    "tip_stress [MPa]": "tip_stress",
    "duration [s]": "duration",
    "band [-]": "band",
}


def _passes_table(passes: tuple[Forces, ...]) -> str:
    rows: list[tuple[str, ...]] = [("pass", "depth", "thickest chip", "peak side", "mean side", "power", "time")]
    for k, p in enumerate(passes):
        rows.append(
            (
                str(k + 1),
                length_text(p.depth),
                length_text(p.chip, 3),
                f"{p.peak:.1f} N",
                f"{p.side:.1f} N",
                f"{p.power:.1f} W",
                f"{p.duration:.1f} s",
            )
        )
    return table_text(rows)


def cutting_forces(
    cut: Cut,
    board: Board,
    *,
    model: CuttingForceModel | None = None,
    stiffness: float | None = None,
    station: float | None = None,
) -> Forces:
    """Forces on the tool at one place of a cut, and of its earlier passes there.

    Parameters
    ----------
    cut
        Bit, path, speed, feed and passes; with a machine the feed is the reached one.
    board
        Wood and grain.
    model
        Default `CuttingForceModel()`.
    stiffness
        Side stiffness at the bit's tip, in [0.1, 1e5]; None: that of the cut's machine, if it has one. [N/mm]
    station
        Arc length; None: where the peak side force is largest, of 48 places along the path, the deepest vertex and
        the ends of plunges. [mm]

    Returns
    -------
    Forces

    Raises
    ------
    DomainError
        If an argument is of the wrong kind or out of range.

    Notes
    -----
    The wood a pass leaves where the cut runs: at height h above the tip and rotation angle w the edge stands
    `r(h) |cos w|` beside the path's centre and cuts only what lies outside the earlier groove,
    `r(h) |cos w| > r(h - l)`, with l what the earlier pass left. With y = r cos w the mean torque of B alone becomes
    B times feed per turn times the cross-section that is removed, over 2 pi: power is pressure times removal rate,
    exactly.

    Descent: the chip normal to the flank is f sin w cos a + f_down sin a to first order (Engin & Altintas 2001, from
    memory), and a tooth meets wood where that is above 0: from -mu to 180 deg + mu, sin mu = m = tan a f_down/f. Level,
    that is half a turn; from m = 1 on, and on a plunge, it is all round; where the path rises it is less than half. For
    a cone of slope tan a the mean torque of B alone is then B times the volume rate of the budget of a descending path,
    d^2 tan a v (sqrt(1 - m^2) + m (pi/2 + asin m)), over the angular speed (derived; by hand in the tests).

    Tip: with a load q per height, M = q x^2 / 2 at x above the tip; the core is a cone of radius c (t/2 + x tan a), c
    the core fraction and t the tip's width, so that

        stress = 2 q x^2 / (pi c^3 (t/2 + x tan a)^3), largest at x = t / tan a:  16 q / (27 pi c^3 t tan^2 a)

    which grows without bound as t goes to 0.

    Examples
    --------
    >>> import chipsim as cs
    >>> cut = cs.Cut(cs.VBit(60, 12.7, 2), cs.ring(20, 2.5), 18_000, 1500)
    >>> board = cs.Board(cs.wood("black cherry"), cs.straight_grain(azimuth=0))
    >>> forces = cs.cutting_forces(cut, board)
    >>> f"{forces.side:.2f} N to the side, {forces.power:.1f} W, each to a factor of {forces.band:g}"
    '4.87 N to the side, 8.8 W, each to a factor of 3'
    """
    if not isinstance(cut, Cut):
        raise DomainError(f"cut must be a Cut, got {type(cut).__name__}")
    if not isinstance(board, Board):
        raise DomainError(f"board must be a Board, got {type(board).__name__}")
    if model is not None and not isinstance(model, CuttingForceModel):
        raise DomainError(f"model must be a CuttingForceModel or None, got {type(model).__name__}")
    chosen = CuttingForceModel() if model is None else model
    if stiffness is not None:
        stiff = number("stiffness", stiffness, low=0.1, high=1e5, unit="N/mm")
    else:
        given = cut.machine.stiffness if cut.machine is not None else None
        stiff = math.nan if given is None else given
    *earlier, last = [(_Job(c, board, chosen, left), back) for c, left, back in _passes(cut)]
    plunge = None
    if station is None:
        at, plunge = _worst_place(last[0])
    else:
        at = number("station", station, low=0, high=cut.path.length, unit="mm")
        plunge = None if cut.path.length else last[0].deepest_plunge()
    before = tuple(
        job.forces(cut.path.length - at if back else at, stiff, plunge=None if plunge is None else job.deepest_plunge())
        for job, back in earlier
    )
    return last[0].forces(at, stiff, before, plunge)


def _passes(cut: Cut) -> list[tuple[Cut, float | None, bool]]:
    """Every pass in the order of cutting: the cut, what the one before it left [mm] or None, whether it runs back."""
    own: tuple[Pass, ...] = cut.passes  # type: ignore[assignment]  # normalised at construction
    cuts = cut.earlier_passes()
    # those left out stay above the face: the shallowest, which come first
    kept = sorted(own, key=lambda p: -p.leave)[len(own) - len(cuts) :]
    leaves = [*(p.leave for p in kept), 0.0]
    left = [None, *(a - b for a, b in pairwise(leaves))]
    return list(zip([*cuts, cut], left, [*(p.reversed for p in kept), False], strict=True))


def _worst_place(job: _Job) -> tuple[float, int | None]:
    """Station with the largest peak side force, of places spread over the path and its deepest vertex [mm].

    And the piece of the path, if it is the end of a plunge.
    """
    path = job.cut.path
    places: list[tuple[float, int | None]] = []
    if path.length:
        stations = path.length * (np.arange(_PLACES) + 0.5) / _PLACES
        deepest = path.joints[int(np.argmax(path.depth_at(path.joints)))]
        places = [(float(s), None) for s in (*stations, deepest)]
    # of plunges the deepest counts, and at the same depth the fastest comes out the same in every one
    plunge = job.deepest_plunge()
    if plunge is not None or not places:
        places.append((float(path.joints[plunge or 0]), plunge))
    peaks = [np.hypot(*job.at(s, k).turn(36)[:2]).max() for s, k in places]
    # equal but for rounding: the first
    return places[int(np.argmax(np.array(peaks) >= max(peaks) * (1 - 1e-9)))]


@dataclass(frozen=True)
class _Job:
    """A pass on a board; `left` is how much higher the tip of the pass before ran [mm], None if there was none."""

    cut: Cut
    board: Board
    model: CuttingForceModel
    left: float | None

    def deepest_plunge(self) -> int | None:
        """Piece that goes straight down to the greatest depth, of equal ones the fastest; None if none does."""
        path = self.cut.path
        down = np.flatnonzero((path.pieces[:, 4] == 0) & (path.drop > 0))
        if not down.size:
            return None
        ends = path.pieces[down, 5] + path.drop[down]
        return int(down[np.lexsort((self.cut.feeds[down], ends))[-1]])

    def at(self, station: float, plunge: int | None = None) -> _Place:
        """What meets the edges at one arc length [mm], or at the end of a piece that goes straight down."""
        cut = self.cut
        depth, descent = float(cut.path.depth_at(station)), 0.0
        if plunge is not None:
            depth = float(cut.path.pieces[plunge, 5] + cut.path.drop[plunge])
            descent = float(cut.feeds[plunge])
            if cut.machine is not None:
                descent = min(descent, cut.machine.plunge_feed, cut.machine.max_feed)
        feed = 60.0 * float(cut.speed_profile.speed_at(station)) if plunge is None else 0.0
        if plunge is None:
            # at a vertex of the two pieces that meet there the one that goes down more
            beside = np.clip(station + np.array([-1e-7, 1e-7]), 0.0, cut.path.length)
            descent = feed * float(cut.path.pieces[cut.path._piece_at(beside)[0], 6].max())
        heights, radii = cut.knots
        if len(heights) > _MOST_KNOTS:  # an outline that was only sampled: coarser is fine enough here
            some = np.linspace(0, max(depth, 1e-9), _MOST_KNOTS)
            heights, radii = some, np.interp(some, heights, radii)
        knots = np.append(heights[heights < depth], depth)
        if self.left is not None:
            before = heights + self.left
            knots = np.unique(np.concatenate([knots, before[before < depth]]))
        low, high = knots[:-1], knots[1:]
        r = np.interp(knots, heights, radii)
        if self.left is None:
            was = np.full((2, len(low)), -1.0)
        else:
            # inside a stretch, so that the step at the earlier tip falls between two
            inside = low >= self.left * (1 - 1e-12)
            was = np.array([np.interp(h - self.left, heights, radii) for h in (low, high)])
            # where the earlier outline is a line on the axis it left no groove either
            was[:, ~inside | (was.max(axis=0) <= 0)] = -1.0
        heading = math.radians(float(cut.path.heading(station)))
        x, y, z = self.board.fibres(cut.path.position(station))
        c, s = math.cos(heading), math.sin(heading)
        fibre = np.array([c * x + s * y, c * y - s * x, z])
        return _Place(self, feed, depth, low, high, r[:-1], r[1:], was, fibre, descent)

    def forces(
        self, station: float, stiffness: float, earlier: tuple[Forces, ...] = (), plunge: int | None = None
    ) -> Forces:
        """Everything at one arc length [mm], or at the end of a piece that goes straight down."""
        cut, place = self.cut, self.at(station, plunge)
        along, across, axial, torque = place.mean()
        turn = place.turn(720)
        size = np.hypot(turn[0], turn[1])
        k = int(np.argmax(size >= size.max() * (1 - 1e-12)))
        stress, height = place.tip_stress()
        lean = np.arctan2(place.r_high - place.r_low, place.high - place.low)
        return Forces(
            station=station,
            depth=place.depth,
            feed=place.feed,
            feed_per_tooth=place.feed_per_tooth,
            chip=float(
                np.max(
                    place.feed_per_tooth * place.largest_sine() * np.cos(lean) + place.down * np.sin(lean), initial=0.0
                )
            ),
            along=along,
            across=across,
            peak=float(size[k]),
            peak_along=float(turn[0, k]),
            peak_across=float(turn[1, k]),
            axial=axial,
            torque=torque * 1e-3,
            power=torque * 1e-3 * cut.spindle_speed * 2 * math.pi / 60,
            stiffness=stiffness,
            deflection=math.hypot(along, across) / stiffness,
            tip_stress=stress,
            tip_height=height,
            duration=cut.duration,
            band=self.model.band,
            earlier=earlier,
            descent=place.descent,
            caption=f"{cut.caption()}; {self.board.wood.name}, {self.board.wood.moisture:g} % moisture",
        )


@dataclass(frozen=True, eq=False)
class _Place:
    """One place of a pass: the edge in k straight stretches, the fibre as (along, to the left, up).

    `was` (2, k): half-width of the groove already there at the lower and the upper end of each, -1 where there is none.
    """

    job: _Job
    feed: float
    depth: float
    low: FloatArray
    high: FloatArray
    r_low: FloatArray
    r_high: FloatArray
    was: FloatArray
    fibre: FloatArray
    descent: float = 0.0

    @property
    def feed_per_tooth(self) -> float:
        return self.feed / (self.job.cut.spindle_speed * self.job.cut.bit.flutes)

    @property
    def down(self) -> float:
        """Descent per tooth. [mm]"""
        return self.descent / (self.job.cut.spindle_speed * self.job.cut.bit.flutes)

    @property
    def reach(self) -> float:
        """Rotation angle up to which a tooth may meet wood: half a turn ahead, all round where it goes down. [rad]"""
        return 2 * np.pi if self.descent > 0 else np.pi

    def _engaged(self, cosine: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Lower and upper end (n, k) of what each stretch cuts at rotation angles of this |cosine| (n,). [mm]"""
        c = cosine[:, None]
        g0, g1 = self.r_low * c - self.was[0], self.r_high * c - self.was[1]
        span = self.high - self.low
        mixed = (g0 > 0) != (g1 > 0)
        root = self.low + span * np.where(mixed, g0 / np.where(mixed, g0 - g1, 1.0), 0.0)
        low = np.where(g0 > 0, self.low, np.where(g1 > 0, root, self.high))
        high = np.where(g1 > 0, self.high, np.where(g0 > 0, root, self.high))
        return low, high

    def loads(self, angle: FloatArray) -> tuple[FloatArray, FloatArray, FloatArray, FloatArray]:
        """Main force of one tooth at rotation angles (n,) in [0, pi], by stretch (n, k) [N], and its direction.

        Also the ends of what is engaged (n, k) [mm] and the side force per main force (n, k, 2): along, across. [-]
        """
        job, model, bit = self.job, self.job.model, self.job.cut.bit
        sine, cosine = np.sin(angle)[:, None], np.cos(angle)[:, None]
        sense = 1.0 if job.cut.spin == "cw" else -1.0
        slant = np.hypot(self.r_high - self.r_low, self.high - self.low)
        sin_a, cos_a = (self.r_high - self.r_low) / slant, (self.high - self.low) / slant
        gx, gy, gz = self.fibre
        motion = sense * (gx * cosine - gy * sine)
        edge = (gx * sine + gy * cosine) * sin_a + gz * cos_a
        a, b = model._terms(bit.edge_radius, job.board.wood)
        # a plunge widens what is there all round, whatever the angle
        low, high = self._engaged(np.abs(np.cos(angle)) if self.feed else np.ones(len(angle)))
        chip = self.feed_per_tooth * sine * cos_a + self.down * sin_a
        if self.descent:
            # behind, or beside a path that rises, there is no wood
            high, chip = np.where(chip > 0, high, low), np.maximum(chip, 0.0)
        main = model._direction(motion**2, edge**2) * (a + b * chip) * (high - low) / cos_a
        push = model.normal_share(bit.rake) * cos_a
        ways = -np.stack([sense * cosine + push * sine, push * cosine - sense * sine], axis=-1)
        return main, low, high, ways

    def parts(self, angle: FloatArray) -> FloatArray:
        """(4, n) of one tooth at rotation angles (n,): along, across, axial [N] and torque [N mm]."""
        main, low, high, ways = self.loads(angle)
        side = (main[..., None] * ways).sum(axis=1)
        slant = np.hypot(self.r_high - self.r_low, self.high - self.low)
        lift = self.job.model.normal_share(self.job.cut.bit.rake) * (self.r_high - self.r_low) / slant
        middle = self.r_low + (self.r_high - self.r_low) * ((low + high) / 2 - self.low) / (self.high - self.low)
        return np.array([side[:, 0], side[:, 1], (main * lift).sum(axis=1), (main * middle).sum(axis=1)])

    def mean(self) -> tuple[float, float, float, float]:
        """Along, across, axial [N] and torque [N mm] of all teeth, mean over a turn."""
        # the engagement has kinks where a corner of the earlier outline comes in: a panel of the rule between any two
        with np.errstate(all="ignore"):
            share = np.concatenate([self.was[0] / self.r_low, self.was[1] / self.r_high])
        kinks = np.arccos(share[(share > 0) & (share < 1)])
        ends = np.unique(np.concatenate([[0.0, np.pi / 2, np.pi], kinks, np.pi - kinks]))
        if self.descent:
            # each stretch begins to cut, and ceases, where its chip does
            flat, steep = self.feed_per_tooth * (self.high - self.low), self.down * (self.r_high - self.r_low)
            begin = np.arcsin(np.clip(-steep[np.abs(steep) < flat] / flat[np.abs(steep) < flat], -1, 1))
            ends = np.concatenate(
                [ends, np.pi + ends, np.linspace(0.0, 2 * np.pi, 5), np.pi - begin, begin % (2 * np.pi)]
            )
            ends = np.unique(np.clip(ends, 0.0, self.reach))
        half = np.diff(ends)[:, None] / 2
        angle = (ends[:-1, None] + half * (1 + _NODES)).reshape(-1)
        weight = (half * _WEIGHTS).reshape(-1)
        out = self.parts(angle) @ weight * (self.job.cut.bit.flutes / (2 * np.pi))
        along, across, axial, torque = out.tolist()
        return along, across, axial, torque

    def _turned(self, steps: int) -> FloatArray:
        """Rotation angles (flutes, m) of all teeth in m positions over one tooth's pitch. [rad]"""
        z = self.job.cut.bit.flutes
        m = -(-steps // z)
        return 2 * np.pi * (np.arange(z * m) + 0.5).reshape(z, m) / (z * m)

    def turn(self, steps: int) -> FloatArray:
        """(4, m) along, across, axial [N] and torque [N mm] of all teeth together, over one tooth's pitch."""
        angle = self._turned(steps)
        cutting = angle < self.reach
        out = np.zeros((4, *angle.shape))
        out[:, cutting] = self.parts(angle[cutting])
        return np.asarray(out.sum(axis=1))

    def largest_sine(self) -> float:
        """Largest sine of a rotation angle at which anything is engaged: the thickest chip. [-]"""
        angle = np.linspace(0, np.pi / 2, 721)
        low, high = self._engaged(np.cos(angle))
        cuts = (high > low).any(axis=1)
        return float(np.sin(angle[cuts]).max(initial=0.0))

    def tip_stress(self) -> tuple[float, float]:
        """Largest bending stress of the cone [MPa] and its height above the tip [mm]; nan without a tip width."""
        heights, radii = self.job.cut.knots
        if radii[0] <= 0:
            return math.nan, math.nan
        if not self.low.size:
            return 0.0, 0.0
        angle = self._turned(180)
        cutting = angle < self.reach
        main, low, high, ways = self.loads(angle[cutting])
        load = main[..., None] * ways / np.where(high > low, high - low, 1.0)[..., None]
        x = np.unique(np.append(np.geomspace(heights[-1] * 1e-5, heights[-1], 600), heights[1:]))
        bending = np.zeros((*angle.shape, len(x), 2))
        for k in range(len(self.low)):
            # a load from low to high bends the section at x by the arm from what lies below it
            above, below = (np.clip(x - h[:, k, None], 0, None) ** 2 / 2 for h in (low, high))
            bending[cutting] += (above - below)[..., None] * load[:, k, None, :]
        moment = np.hypot(*np.moveaxis(bending.sum(axis=0), -1, 0)).max(axis=0)
        core = self.job.model.core_fraction * np.interp(x, heights, radii)
        stress = moment * 4 / (np.pi * core**3)
        best = int(np.argmax(stress))
        return float(stress[best]), float(x[best])
