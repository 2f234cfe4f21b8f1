"""Hypothesis strategies for everything the check-kit asks for, bounded to what a shop could run.

Every builder takes keywords only, each with a physical default; lengths in mm, angles in degrees, feeds in mm/min,
speeds in rpm. Values are built valid rather than filtered. Phases and azimuths are kept off round numbers, because
comparing at an angle exactly on a kink (a tooth straight behind at time 0, a fibre exactly along the lip) tests
rounding. This module needs hypothesis; nothing else of `chipsim` loads it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from hypothesis import HealthCheck, settings
from hypothesis import strategies as st

from .._shared.arrays import FloatArray
from ..rs274.writer import write_rs274
from ..scene.cuts import Carving, Cut, Pass
from ..scene.cutters import ProfileBit, VBit
from ..scene.grain import Board, Grain, grain_field, straight_grain
from ..scene.machine import Machine
from ..scene.paths import Path, curve, line
from ..scene.species import Wood, wood

__all__ = [
    "ANGLES",
    "CHERRY",
    "FourierLoop",
    "GradeRow",
    "SlowTurn",
    "azimuths",
    "bits",
    "boards",
    "carvings",
    "cuts",
    "depths",
    "dives",
    "feeds",
    "grade_tables",
    "grains",
    "half_angles",
    "heights",
    "lengths",
    "lines",
    "loops",
    "machines",
    "paths",
    "phases",
    "profile_bits",
    "programs",
    "reals",
    "spindle_speeds",
    "spins",
    "stations",
    "steadily",
    "tip_widths",
    "turns",
    "woods",
]

ANGLES = np.array([-71.3, -33.1, -7.7, 3.9, 31.7, 62.3, 90.0, 117.9, 148.1, 174.7, 188.3, 214.9, 251.2])
"""Rotation angles [deg] over the whole sweep, off the kinks, dead ahead among them."""

CHERRY = wood("black cherry", moisture=8)
"""The board of most examples: its fracture toughness is known, so that every risk is."""


def steadily(examples: int) -> settings:
    """Hypothesis settings under which every run tries the same `examples` examples, with no clock and no database."""
    return settings(
        max_examples=examples,
        derandomize=True,
        deadline=None,
        database=None,
        suppress_health_check=[HealthCheck.too_slow],
    )


def reals(low: float, high: float) -> st.SearchStrategy[float]:
    """Floats in [low, high], to the thousandth: readable when they fail, and as hard as any."""
    return st.integers(round(low * 1000), round(high * 1000)).map(lambda n: n / 1000)


half_angles = st.sampled_from([10.0, 22.5, 30.0, 41.3, 45.0, 60.0, 72.0])
"""Half of the included angle, 10 to 72 deg."""
spins = st.sampled_from(["cw", "ccw"])
"""Sense of the spindle."""
phases = reals(-360, 360).map(lambda a: a + 0.1377)
"""Azimuths [deg] of flute 0 at time 0, any."""
azimuths = reals(-180, 180).map(lambda a: a + 0.0731)
"""Azimuths [deg] of fibres, any."""
dives = reals(-45, 45)
"""Degrees by which fibres go down into the board, -45 to 45: as far as the default model knows them."""
turns = st.one_of(st.sampled_from([33.7, 90.0, 180.0, -120.0]), reals(-180, 180))
"""Angles [deg] to turn a job by, any; quarter and half turns among them."""
tip_widths = st.sampled_from([0.0, 0.2, 1.0])
"""Flats at the tip, 0 to 1 mm."""
spindle_speeds = st.sampled_from([8_000, 15_000, 24_000])
"""Speeds of small routers, 8000 to 24000 rpm."""
feeds = st.sampled_from([400, 1500, 3000, 6000])
"""Feeds of small machines, 400 to 6000 mm/min."""


def lengths(low: float, high: float) -> st.SearchStrategy[float]:
    """Lengths in [low, high], to the micrometre. [mm]"""
    return reals(low, high)


def depths(low: float = 0.3, high: float = 3.0) -> st.SearchStrategy[float]:
    """Depths of the tip in [low, high]. [mm]"""
    return reals(low, high)


def heights(*, top: float, count: int = 6) -> st.SearchStrategy[FloatArray]:
    """Heights above the tip, (k,) sorted, both 0 and `top` always among them: a fault at an end must not hide. [mm]"""
    inside = st.lists(reals(0, 1), min_size=1, max_size=count)
    return inside.map(lambda at: np.unique(np.concatenate([[0.0], np.array(at) * top, [top]])))


def stations(*, length: float, count: int = 5) -> st.SearchStrategy[FloatArray]:
    """Arc lengths of a path, (k,) sorted, both ends among them. [mm]"""
    return heights(top=length, count=count)


# --- bits -------------------------------------------------------------------------------------------------------------


@st.composite
def bits(
    draw: st.DrawFn,
    *,
    runout: bool = True,
    flutes: tuple[int, ...] = (1, 2, 3, 4, 8),
    diameters: tuple[float, ...] = (6.35, 12.7, 25.4),
    half_angle: st.SearchStrategy[float] = half_angles,
    tip_width: st.SearchStrategy[float] = tip_widths,
) -> VBit:
    """V-bits from needle to blunt: half angle 10 to 72 deg, tip 0 to 1 mm, true or running out by up to 0.06 mm."""
    eccentric = runout and draw(st.booleans())
    return VBit(
        2 * draw(half_angle),
        draw(st.sampled_from(diameters)),
        draw(st.sampled_from(flutes)),
        draw(tip_width),
        runout=draw(st.sampled_from([0.005, 0.02, 0.06])) if eccentric else 0.0,
        runout_azimuth=draw(reals(-180, 180)) if eccentric else 0.0,
    )


@st.composite
def profile_bits(draw: st.DrawFn, *, flutes: tuple[int, ...] = (1, 2, 3)) -> ProfileBit:
    """Outlines of two to four straight stretches, never falling, vertical walls and flats among them."""
    count = draw(st.integers(2, 4))
    up = np.cumsum([0.0, *(draw(reals(0.3, 2.5)) for _ in range(count))])
    radii = np.cumsum([draw(reals(0, 1)), *(draw(st.one_of(st.just(0.0), reals(0.05, 3))) for _ in range(count))])
    radii[-1] += 1.0
    return ProfileBit(up, radii, draw(st.sampled_from(flutes)))


# --- paths ------------------------------------------------------------------------------------------------------------


@st.composite
def paths(
    draw: st.DrawFn,
    *,
    level: bool | None = None,
    closed: bool | None = None,
    arcs: bool = True,
    pieces: int = 3,
    depths: tuple[float, float] = (0.3, 3.0),
    lengths: tuple[float, float] = (0.3, 4.0),
    vertical: bool = False,
) -> Path:
    """Paths of lines and arcs: blunt, sharp and right corners, tight arcs, ramps, loops that close on a corner.

    `level` and `closed` None: either. Up to `pieces` pieces whose chords lie in `lengths`; depths at the vertices lie
    in `depths`. `vertical`: open paths that may plunge from the face, stand still, go deeper on the spot and lift out.
    """
    if vertical:
        return _stay(
            draw, draw(paths(level=level, closed=False, arcs=arcs, pieces=pieces, depths=depths, lengths=lengths))
        )
    count = draw(st.integers(1, pieces))
    shut = draw(st.booleans()) if closed is None else closed
    if shut:
        count = max(count, 2)
    heading = draw(reals(-180, 180)) + 0.0219
    xy, sweeps = [np.array([draw(reals(-3, 3)), draw(reals(-3, 3))])], []
    for _ in range(count):
        length = draw(reals(*lengths))
        xy.append(xy[-1] + length * np.array([np.cos(np.radians(heading)), np.sin(np.radians(heading))]))
        sweeps.append(draw(st.one_of(st.just(0.0), reals(-250, 250))) if arcs else 0.0)
        heading += draw(st.one_of(st.sampled_from([0.0, 90.0, -90.0, 150.0, -165.0]), reals(-175, 175)))
    points = np.array(xy)
    flat = draw(st.booleans()) if level is None else level
    depth: Any = draw(reals(*depths)) if flat else [draw(reals(*depths)) for _ in points]
    # a loop that runs back along itself has lips that coincide to rounding: which of the two counts is then noise
    around = np.roll(points, -1, axis=0)
    area = abs(np.sum(points[:, 0] * around[:, 1] - points[:, 1] * around[:, 0])) / 2
    if shut and np.hypot(*(points[-1] - points[0])) > 0.05 and area > 0.05:
        return Path(points, depth, sweep=np.array([*sweeps, 0.0]), closed=True)
    return Path(points, depth, sweep=np.array(sweeps))


def _stay(draw: st.DrawFn, way: Path) -> Path:
    """The way with a plunge and a lift at its ends, another depth on the spot at its vertices, and dwells."""
    xy, depth, sweep, dwell = [], [], [], []
    for k, (point, deep) in enumerate(zip(way.xy, way.depth, strict=True)):
        before = 0.0 if k == 0 else draw(reals(0.3, 3.0))
        if draw(st.booleans()) and abs(before - deep) > 0.01:
            xy.append(point)
            depth.append(before)
            sweep.append(0.0)
            dwell.append(0.0)
        xy.append(point)
        depth.append(deep)
        sweep.append(float(way.sweep[k]) if k < len(way.sweep) else 0.0)
        dwell.append(draw(st.sampled_from([0.0, 0.0, 0.02])))
    if draw(st.booleans()):
        xy.append(way.xy[-1])
        depth.append(0.0)
        sweep.append(0.0)
        dwell.append(0.0)
    return Path(np.array(xy), np.array(depth), sweep=np.array(sweep[:-1]), dwell=np.array(dwell))


def lines(
    *, length: tuple[float, float] = (3.0, 8.0), depth: tuple[float, float] = (0.5, 3.0)
) -> st.SearchStrategy[Path]:
    """Straight level paths in any direction."""

    def build(heading: float, size: float, deep: float) -> Path:
        a = np.radians(heading + 0.0219)
        return line((0.5, -0.25), (0.5 + size * np.cos(a), -0.25 + size * np.sin(a)), deep)

    return st.builds(build, reals(-180, 180), reals(*length), reals(*depth))


@dataclass(frozen=True)
class FourierLoop:
    """A smooth closed curve about the origin, r(t) = radius (1 + sum of a_k cos(k t) + b_k sin(k t)), k from 2.

    Attributes
    ----------
    radius : mean radius. [mm]
    waves : pairs (a_k, b_k). [-]
    """

    radius: float
    waves: tuple[tuple[float, float], ...]

    def __call__(self, t: FloatArray) -> FloatArray:
        """Points (k, 2) [mm] for parameters (k,) in [0, 2 pi]."""
        r = self.radius * (
            1 + sum(a * np.cos(k * t) + b * np.sin(k * t) for k, (a, b) in enumerate(self.waves, start=2))
        )
        return np.column_stack([r * np.cos(t), r * np.sin(t)])


@st.composite
def loops(
    draw: st.DrawFn,
    *,
    radius: tuple[float, float] = (4.0, 15.0),
    roughness: float = 0.3,
    depth: st.SearchStrategy[float] | None = None,
) -> Path:
    """Smooth random closed curves laid out in tangent arcs; radii vary by up to `roughness` in all about `radius`."""
    count = draw(st.integers(1, 4))
    share = roughness / (2 * count)
    waves = tuple((draw(reals(-share, share)), draw(reals(-share, share))) for _ in range(count))
    shape = FourierLoop(draw(reals(*radius)), waves)
    deep = draw(depths() if depth is None else depth)
    return curve(shape, deep, stop=2 * np.pi, closed=True, tolerance=0.01, pieces=12)


# --- wood -------------------------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class SlowTurn:
    """Fibres whose azimuth turns steadily over the board: azimuth + east x + north y, with one dive.

    Attributes
    ----------
    azimuth, dive : at the origin. [deg]
    east, north : turning along x and y. [deg/mm]
    """

    azimuth: float
    east: float
    north: float
    dive: float = 0.0

    def __call__(self, x: FloatArray, y: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Azimuth and dive [deg] at points [mm], in the points' shape."""
        return self.azimuth + self.east * x + self.north * y, np.full(np.shape(x), self.dive)


@st.composite
def grains(draw: st.DrawFn, *, dive: bool = True, straight: bool | None = None) -> Grain:
    """Straight grain, or a field that turns by up to 4 deg/mm over the board; `dive` False: flat in the face."""
    azimuth, down = draw(azimuths), draw(dives) if dive else 0.0
    if draw(st.booleans()) if straight is None else straight:
        return straight_grain(azimuth, down)
    return grain_field(SlowTurn(azimuth, draw(reals(-4, 4)), draw(reals(-4, 4)), down), "turning slowly")


def woods(
    *, names: Sequence[str] = ("black cherry", "sugar maple", "yellow-poplar"), moisture: tuple[float, float] = (6, 14)
) -> st.SearchStrategy[Wood]:
    """Woods of the table at moistures of the shop [%]."""
    return st.builds(wood, st.sampled_from(list(names)), reals(*moisture))


def boards(*, dive: bool = True, straight: bool | None = None) -> st.SearchStrategy[Board]:
    """Cherry, with any grain."""
    return grains(dive=dive, straight=straight).map(lambda grain: Board(CHERRY, grain))


# --- set-ups ----------------------------------------------------------------------------------------------------------


@st.composite
def cuts(
    draw: st.DrawFn,
    *,
    path: st.SearchStrategy[Path] | None = None,
    bit: st.SearchStrategy[Any] | None = None,
    machine: st.SearchStrategy[Machine] | None = None,
    passes: bool = False,
) -> Cut:
    """Set-ups: any of the paths with any of the bits at speeds and feeds of small routers."""
    way = draw(paths() if path is None else path)
    deepest = float(way.depth.max())
    earlier: list[float | Pass] = []
    if passes and draw(st.booleans()):
        earlier = [draw(st.sampled_from([0.1, 0.3, 0.6])) * deepest]
    return Cut(
        draw(bits() if bit is None else bit),
        way,
        draw(spindle_speeds),
        draw(feeds),
        spin=draw(spins),
        phase=draw(phases),
        machine=None if machine is None else draw(machine),
        passes=earlier or None,
    )


@st.composite
def carvings(
    draw: st.DrawFn,
    *,
    path: st.SearchStrategy[Path] | None = None,
    bit: st.SearchStrategy[Any] | None = None,
    grooves: int = 3,
    spread: float = 6.0,
) -> Carving:
    """One bit, one to `grooves` cuts whose starts lie within `spread` of the origin: some cross, some do not. [mm]"""
    tool = draw(bits() if bit is None else bit)
    some = []
    for _ in range(draw(st.integers(1, grooves))):
        way = draw(paths(pieces=2, lengths=(1.0, 4.0)) if path is None else path)
        way = way.shifted(draw(reals(-spread, spread)), draw(reals(-spread, spread)))
        some.append(Cut(tool, way, draw(spindle_speeds), draw(feeds), spin=draw(spins), phase=draw(phases)))
    return Carving(tuple(some))


@st.composite
def machines(
    draw: st.DrawFn,
    *,
    rules: tuple[str, ...] = ("circle", "halt", "free"),
    accelerations: tuple[float, ...] = (150, 500, 2000),
) -> Machine:
    """Small routers: 150 to 2000 mm/s2, 1500 to 8000 mm/min, all they may do at corners."""
    return Machine(
        draw(st.sampled_from(accelerations)),
        draw(st.sampled_from([1500, 8000])),
        corners=draw(st.sampled_from(rules)),
        vertex_gap=draw(st.sampled_from([0.003, 0.01, 0.1])),
        plunge_feed=draw(st.sampled_from([300, 2000])),
    )


def programs(*, grooves: int = 3, decimals: int = 4) -> st.SearchStrategy[str]:
    """Whole RS-274 programs that cut one to `grooves` grooves with lines, arcs and ramps."""
    return carvings(grooves=grooves, bit=bits(runout=False)).map(lambda job: write_rs274(job, decimals=decimals))


# --- test pieces ------------------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class GradeRow:
    """One sector of a test piece as graded by eye.

    Attributes
    ----------
    ring : number of the ring.
    sector : number of the sector.
    side : 'left' or 'right' lip.
    grade : 0 (clean) to 4 (spoilt), None: not read.
    kind : 'f' stands proud, 't' missing, 'b' both, '' none.
    flags : any of 's' scorch, 'c' chatter, 'k' knot, 'p' plunge mark, 'w' width off.
    """

    ring: int
    sector: int
    side: str
    grade: int | None
    kind: str = ""
    flags: str = ""


@st.composite
def grade_tables(
    draw: st.DrawFn, *, rings: int = 4, sectors: int = 12, missing: bool = True, flags: bool = True
) -> tuple[GradeRow, ...]:
    """Grade tables of up to `rings` rings of `sectors` sectors: one row a sector and lip; some unread, some flagged."""
    rows = []
    for ring in range(draw(st.integers(1, rings))):
        base = draw(st.integers(0, 3))
        for sector in range(sectors):
            for side in ("left", "right"):
                grade: int | None = min(4, base + draw(st.integers(0, 1)))
                if missing and draw(st.integers(0, 9)) == 9:
                    grade = None
                kind = draw(st.sampled_from("ftb")) if grade else ""
                marks = draw(st.sampled_from(["", "", "", "", "k", "p", "s"])) if flags else ""
                rows.append(GradeRow(ring, sector, side, grade, kind, marks))
    return tuple(rows)


st.register_type_strategy(VBit, bits())
st.register_type_strategy(ProfileBit, profile_bits())
st.register_type_strategy(Path, paths())
st.register_type_strategy(Grain, grains())
st.register_type_strategy(Board, boards())
st.register_type_strategy(Cut, cuts())
st.register_type_strategy(Carving, carvings())
st.register_type_strategy(Machine, machines())
