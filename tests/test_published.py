"""Published values and derived theorems: closed forms against their sources, the oracle against both.

One section per source. 'From memory' means the formula was written down without the paper at hand; 'derived' means
derived for this project and checked by another road, named beside the test. Printed digits set the tolerance: values
printed with 12 digits are held to 1e-9 relative. Base case: feed 6000 mm/min, 15000 rpm, 2 flutes, radius 3 mm.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import Any

import mpmath
import numpy as np
import pytest
import shapely
from scipy.integrate import quad
from scipy.optimize import brentq, minimize_scalar
from scipy.special import k0e, k1e

from chipsim import reference as ref
from chipsim.errors import DomainError
from chipsim.reference.closed_forms import _steady

E = 0.4 / (2 * math.pi)  # axis advance per radian at 0.4 mm per revolution [mm]


def printed(value: float) -> Any:
    """A value printed with 12 significant digits: 1e-9 relative."""
    return pytest.approx(value, rel=1e-9, abs=1e-12)


# --- jobs for the oracle ----------------------------------------------------------------------------------------------


class Job:
    """A V-bit on a path, with the oracle's arguments; positions and depths are functions of the way travelled."""

    def __init__(
        self,
        way: Callable[[Any], tuple[Any, Any]],
        depth: Callable[[Any], Any],
        *,
        feed: float = 0.4,
        half_angle: float = 45.0,
        tip: float = 0.0,
        speed: float = 15000.0,
        **tool: Any,
    ) -> None:
        v, slope = feed * speed / 60, math.tan(math.radians(half_angle))
        self.tool: dict[str, Any] = {"radius": lambda h: tip + h * slope, "spindle_speed": speed, "flutes": 2, **tool}
        self.moves: dict[str, Any] = {"position": lambda t: way(v * t), "depth": lambda t: depth(v * t)}
        self.v, self.slope, self.tip, self.sense = v, slope, tip, 1 if tool.get("spin", "cw") == "cw" else -1

    def cut(self, azimuth: float, radius: float, flute: int, nth: int) -> tuple[float, float, float, int]:
        """(t, azimuth, height, flute) of one crossing at a radius of the cutter."""
        height = (radius - self.tip) / self.slope
        return ref.crossing_time(azimuth, height, flute, nth, **self.tool), azimuth, height, flute

    def thickness(self, azimuth: float, radius: float, flute: int = 0, nth: int = 8, **more: Any) -> float:
        return ref.uncut_length(*self.cut(azimuth, radius, flute, nth), **self.moves, **self.tool, **more)


def line(heading: float = 0.0, rise: float = 0.0, start: float = 20.0, **tool: Any) -> Job:
    """Straight along a heading, going deeper by `rise` degrees."""
    c, s, k = math.cos(math.radians(heading)), math.sin(math.radians(heading)), math.tan(math.radians(rise))
    return Job(lambda w: (w * c, w * s), lambda w: start + k * w, **tool)


def circle(path_radius: float, turn: int, **tool: Any) -> Job:
    """Round the origin from (path_radius, 0); `turn` +1 counter-clockwise, -1 clockwise."""
    return Job(
        lambda w: (path_radius * np.cos(w / path_radius), turn * path_radius * np.sin(w / path_radius)),
        lambda w: 20.0 + 0 * w,
        **tool,
    )


def corner(w: Any) -> tuple[Any, Any]:
    """2 mm ahead, then left for good."""
    return np.minimum(w, 2.0), np.maximum(w - 2.0, 0.0)


def loop(w: Any) -> tuple[Any, Any]:
    """Two millimetres ahead, once round a circle of radius 0.5 to the left, and on across the own groove."""
    on_ring = np.clip(w - 2.0, 0.0, math.pi)
    return (
        np.minimum(w, 2.0) + 0.5 * np.sin(on_ring / 0.5) + np.maximum(w - 2.0 - math.pi, 0.0),
        0.5 - 0.5 * np.cos(on_ring / 0.5),
    )


# --- The oracle against its own definition: literal membership of points ----------------------------------------------


def literally_uncut(job: Job, cut: tuple[float, float, float, int], shares: Any, per_turn: int) -> Any:
    """Which points of the ray no earlier segment has passed over: point by point, step by step, nothing clever."""
    t, azimuth, height, flute = cut
    tool, turn = job.tool, 60 / job.tool["spindle_speed"]
    spin = -1 if tool.get("spin", "cw") == "cw" else 1
    rho, lam = tool.get("runout", 0.0), math.radians(tool.get("runout_azimuth", 0.0))
    here = np.array(job.moves["position"](np.array([t]))).reshape(2)
    reach_now = np.linalg.norm(ref.edge_position(t, height, flute, position=job.moves["position"], **tool) - here)
    ray = np.array([math.cos(math.radians(azimuth)), math.sin(math.radians(azimuth))])
    uncut = np.ones(shares.size, dtype=bool)
    for other in range(tool["flutes"]):
        times = np.arange(0, t - (turn / 4 if other == flute else 0), turn / per_turn)
        x, y = job.moves["position"](times)
        level = height + job.moves["depth"](times) - job.moves["depth"](np.array([t]))
        r, nominal = tool["radius"](np.maximum(level, 0.0)), 2 * math.pi * other / tool["flutes"]
        along, across = r * math.cos(nominal) + rho * math.cos(lam), r * math.sin(nominal) + rho * math.sin(lam)
        angle = math.radians(tool.get("phase", 0.0)) + spin * (2 * math.pi / turn * times - np.arctan2(across, along))
        for k, share in enumerate(shares):
            dx, dy = here[0] + share * reach_now * ray[0] - x, here[1] + share * reach_now * ray[1] - y
            ahead, aside = dx * np.cos(angle) + dy * np.sin(angle), dy * np.cos(angle) - dx * np.sin(angle)
            inside = (ahead > 0) & (ahead <= np.hypot(along, across)) & (level >= 0)
            uncut[k] &= not (((aside[:-1] < 0) != (aside[1:] < 0)) & inside[:-1] & inside[1:]).any()
    return uncut


LITERAL = {  # job, radius, which crossing, azimuths
    "corner, just past": (Job(corner, lambda w: 3.0 + 0 * w), 1.0, 6, (-30, 0, 60, 135, 200)),
    "corner, counter-clockwise": (Job(corner, lambda w: 3.0 + 0 * w, spin="ccw", flutes=3), 1.0, 6, (20, 100, 250)),
    "own groove crossed": (Job(loop, lambda w: 3.0 + 0 * w), 0.6, 13, (-60, 0, 45, 120)),
    "a flat tip that had hopped over": (
        Job(loop, lambda w: 0.4 + np.maximum(w - 4.0, 0.0), tip=0.3, flutes=1),
        0.8,
        13,
        (-60, 0, 45, 120),
    ),
    "start": (line(flutes=1), 1.5, 1, (-80, 10, 80, 100)),
    "plunge and run": (
        Job(lambda w: (np.maximum(w - 1.0, 0.0), 0 * w), lambda w: np.minimum(2 * w, 2.0)),
        0.5,
        6,
        (0, 50, 160),
    ),
    "ramp with runout": (
        line(25.0, 20.0, runout=0.06, runout_azimuth=130.0, phase=77.0, flutes=3),
        1.0,
        6,
        (0, 60, 100),
    ),
    "near the tip": (line(10.0, flutes=4), 0.09, 6, (-100, 0, 80)),
}


@pytest.mark.parametrize("name", LITERAL)
def test_oracle_is_its_definition(name: str) -> None:
    # definition: a tooth removes the segment axis -> edge; a ray point is uncut if no earlier segment passed over it
    job, radius, nth, azimuths = LITERAL[name]
    shares = np.linspace(0.003, 0.997, 60)
    for k, azimuth in enumerate(azimuths):
        cut = job.cut(azimuth, radius, k % job.tool["flutes"], nth)
        parts = ref.uncut_intervals(*cut, **job.moves, **job.tool)
        reach = np.linalg.norm(
            ref.edge_position(cut[0], cut[2], cut[3], position=job.moves["position"], **job.tool)
            - np.array(job.moves["position"](np.array([cut[0]]))).reshape(2)
        )
        by_intervals = ((parts[:, :1] <= shares * reach) & (shares * reach <= parts[:, 1:])).any(axis=0)
        far = np.abs(parts.reshape(-1, 1) - shares * reach).min(axis=0, initial=np.inf) > 0.004 * reach
        literal = literally_uncut(job, cut, shares, 1500)
        assert (by_intervals == literal)[far].all()
        assert far.sum() > 40


def test_oracle_sees_a_tooth_tip_that_just_reaches_the_ray() -> None:
    # Two roads: coming back 0.0001 mm inside the wall of its own first pass, the tool meets the tips of the old arches,
    # R sin(theta) = distance on both sides of the crest; each is crossed within a hundredth of a turn.
    reach, apart = 1.5, 1.4999

    def there_and_back(w: Any) -> tuple[Any, Any]:
        return np.minimum(w, 6.0) - np.maximum(w - 6.0 - apart, 0.0), np.clip(w - 6.0, 0.0, apart)

    job = Job(there_and_back, lambda w: 20.0 + 0 * w, flutes=1)
    slack = math.acos(apart / reach)
    turns = (2 * math.pi * np.arange(1, 13) - math.pi / 2)[:, None] + np.array([-slack, slack])  # clockwise
    arches = np.sort(E * turns + reach * np.cos(turns), axis=1)
    for nth in (26, 27):
        cut = job.cut(180.0, reach, 0, nth)
        axis = float(job.moves["position"](cut[0])[0])
        # begun half a look late, so that the oracle's first looks fall between the crests
        parts = ref.uncut_intervals(*cut, **job.moves, **job.tool, since=2.8e-5)
        ahead = np.sort(axis - arches, axis=1)  # distances along the ray
        ahead = np.clip(ahead, reach - 0.4, reach)
        assert (ahead[:, 1] - ahead[:, 0]).sum() > 0.01
        expected = 0.4 - (ahead[:, 1] - ahead[:, 0]).sum()
        assert (parts[:, 1] - parts[:, 0]).sum() == pytest.approx(expected, abs=1e-9)


def test_oracle_needs_the_right_time() -> None:
    job = line()
    t, azimuth, height, flute = job.cut(30.0, 3.0, 0, 2)
    with pytest.raises(DomainError, match="use crossing_time"):
        ref.uncut_length(t + 1e-5, azimuth, height, flute, **job.moves, **job.tool)


def test_oracle_starts_in_uncut_wood() -> None:
    job = line()
    assert job.thickness(-45.0, 3.0, 0, 0) == pytest.approx(3.0, abs=1e-9)
    assert job.thickness(-45.0, 3.0, 1, 0) < 0.3


def test_crossing_time_and_edge_position_agree() -> None:
    job = line(33.0, runout=0.07, runout_azimuth=50.0, phase=12.0, flutes=3, spin="ccw")
    for flute in range(3):
        t, azimuth, height, _ = job.cut(200.0, 1.7, flute, 4)
        x, y = ref.edge_position(t, height, flute, position=job.moves["position"], **job.tool)
        cx, cy = job.moves["position"](t)
        assert math.remainder(math.degrees(math.atan2(y - cy, x - cx)) - azimuth, 360) == pytest.approx(0, abs=1e-9)
        assert math.hypot(x - cx, y - cy) == pytest.approx(ref.runout_radii(1.7, 3, 0.07, 50.0)[0][flute], abs=1e-12)


def test_symmetries_of_the_oracle() -> None:
    # theorem: mirror y -> -y with reversed spindle and negated phase, or a rotation of everything, changes nothing
    turned = Job(
        lambda w: tuple(np.array([[0.8, -0.6], [0.6, 0.8]]) @ np.array(loop(w))),
        lambda w: 3.0 + 0 * w,
        flutes=3,
        runout=0.05,
        phase=20.0 + math.degrees(math.atan2(0.6, 0.8)),
    )
    plain = Job(loop, lambda w: 3.0 + 0 * w, flutes=3, runout=0.05, phase=20.0)
    mirrored = Job(
        lambda w: (loop(w)[0], -loop(w)[1]), lambda w: 3.0 + 0 * w, flutes=3, runout=0.05, phase=-20.0, spin="ccw"
    )
    for k, azimuth in enumerate((-70.0, 5.0, 100.0)):
        here = plain.thickness(azimuth, 1.1, k, 13)
        assert mirrored.thickness(-azimuth, 1.1, k, 13) == pytest.approx(here, abs=1e-10)
        assert turned.thickness(azimuth + math.degrees(math.atan2(0.6, 0.8)), 1.1, k, 13) == pytest.approx(
            here, abs=1e-10
        )


# --- The oracle against the closed form: line, arc, runout, both spins ------------------------------------------------

STEADY = [
    # heading, path radius and turn (0: line), flutes, runout, lambda, spin, flute
    (0.0, 0.0, 2, 0.0, 0.0, "cw", 0),
    (37.0, 0.0, 1, 0.0, 0.0, "ccw", 0),
    (-120.0, 0.0, 2, 0.03, 20.0, "cw", 0),
    (-120.0, 0.0, 2, 0.03, 20.0, "ccw", 1),
    (10.0, 0.0, 3, 0.05, 140.0, "cw", 1),
    (10.0, 0.0, 4, 0.05, 250.0, "ccw", 2),
    (0.0, 10.0, 2, 0.0, 0.0, "cw", 0),
    (0.0, -5.0, 2, 0.03, 20.0, "cw", 1),
    (0.0, 5.0, 3, 0.03, 200.0, "ccw", 1),
]


@pytest.mark.parametrize("case", STEADY, ids=str)
@pytest.mark.parametrize("phi", [-40.0, 3.0, 55.0, 90.0, 131.0, 177.0])
def test_oracle_equals_closed_form(case: tuple[Any, ...], phi: float) -> None:
    # two roads: sampling and bisection in time against the root of F(delta) (derived)
    heading, arc, flutes, runout, lam, spin, flute = case
    tool = {"flutes": flutes, "runout": runout, "runout_azimuth": lam, "spin": spin, "phase": 11.0}
    sense = 1 if spin == "cw" else -1
    job = line(heading, **tool) if arc == 0 else circle(abs(arc), 1 if arc > 0 else -1, **tool)
    kappa = sense / arc if arc else 0.0
    # phase - sense (omega t - b) = heading + v t/arc + sense (90 - phi): on an arc the heading turns with time
    start, omega = (math.copysign(90.0, arc) if arc else heading), 2 * math.pi * 250
    body = math.radians(ref.runout_radii(2.0, flutes, runout, lam)[1][flute])
    turn = math.radians(11.0 - start - sense * (90 - phi)) + sense * body
    rate = sense * omega + (job.v / arc if arc else 0.0)
    t = (turn * math.copysign(1, rate) % (2 * math.pi) + 16 * math.pi) / abs(rate)
    azimuth = start + (math.degrees(job.v * t / arc) if arc else 0.0) + sense * (90 - phi)
    found = ref.uncut_length(t, azimuth, 2.0, flute, **job.moves, **job.tool)
    exact = ref.steady_thickness(
        phi, 2.0, 0.4 / flutes, flutes, curvature=kappa, flute=flute, runout=runout, runout_azimuth=lam
    )
    assert found == pytest.approx(exact, abs=1e-9)


# --- Martellotti 1941, 1945; Bao & Tansel 2000 (both from memory): chip thickness in a slot ---------------------------

# phi: exact (derived; brute force), second order (Bao & Tansel form, re-derived), first order (classical)
SLOT: dict[float, tuple[float, float, float]] = {
    30: (0.103019405765, 0.103162237015, 0.1),
    60: (0.173018577691, 0.173033984439, 0.173205080757),
    90: (0.2, 0.2, 0.2),
    120: (0.176766003203, 0.176709510408, 0.173205080757),
    150: (0.107066847525, 0.106837762985, 0.1),
}


@pytest.mark.parametrize("phi", SLOT)
def test_thickness_in_a_straight_slot(phi: float) -> None:
    exact, second, first = SLOT[phi]
    assert ref.steady_thickness(phi, 3, 0.2, 2) == printed(exact)
    assert ref.thickness_second_order(phi, 3, 0.2, 2) == printed(second)
    assert ref.thickness_first_order(phi, 0.2) == printed(first)
    assert line(21.0).thickness(21.0 + 90 - phi, 3.0) == printed(exact)


def test_second_order_error_shrinks_as_the_cube() -> None:
    # theorem: the second-order form misses by O(f^3/r^2), so halving the feed divides the miss by 8
    miss = [ref.thickness_second_order(40, 3, f, 2) - ref.steady_thickness(40, 3, f, 2) for f in (0.1, 0.05)]
    assert miss[0] / miss[1] == pytest.approx(8, rel=0.1)


def test_entry_and_exit_lie_outside_the_half_turn() -> None:
    # derived: chips begin 1.870 deg before the conventional and end 1.951 deg behind the climb wall
    assert ref.feed_mark(3, 0.2, 2, "conventional").half_angle == pytest.approx(1.870, abs=5e-4)
    assert ref.feed_mark(3, 0.2, 2, "climb").half_angle == pytest.approx(1.951, abs=1e-3)
    for phi, cuts in ((-1.88, False), (-1.86, True), (181.94, True), (181.96, False)):
        assert (ref.steady_thickness(phi, 3, 0.2, 2) > 0) == cuts
        assert (line().thickness(90 - phi, 3.0) > 0) == cuts


# --- Normal thickness: h_n = cos a h_r(h + h_n sin a) (derived; proved by membership along the flank normal) ----------

NORMAL = [  # included, phi, h_r, h_n, h_r cos a, relative difference; r = 1.2, f_z = 0.2, z = 2
    (60, 30, 0.107071616, 0.092607036, 0.092726739, -1.29e-03),
    (60, 90, 0.200000000, 0.173205081, 0.173205081, 0.0),
    (60, 150, 0.118652682, 0.102331896, 0.102756237, -4.13e-03),
    (90, 30, 0.107071616, 0.075519569, 0.075711065, -2.53e-03),
    (90, 90, 0.200000000, 0.141421356, 0.141421356, 0.0),
    (90, 150, 0.118652682, 0.083227480, 0.083900116, -8.02e-03),
    (120, 30, 0.107071616, 0.053336736, 0.053535808, -3.72e-03),
    (120, 90, 0.200000000, 0.100000000, 0.100000000, 0.0),
    (120, 150, 0.118652682, 0.058633091, 0.059326341, -1.17e-02),
]


@pytest.mark.parametrize(("included", "phi", "radial", "normal", "projected", "difference"), NORMAL)
def test_normal_thickness(
    included: float, phi: float, radial: float, normal: float, projected: float, difference: float
) -> None:
    a = math.radians(included / 2)

    def closed(h: float) -> float:
        return ref.steady_thickness(phi, h * math.tan(a), 0.2, 2)

    h = 1.2 / math.tan(a)
    exact = ref.normal_thickness(closed, h, included)
    assert closed(h) == pytest.approx(radial, abs=5e-10)
    assert exact == pytest.approx(normal, abs=5e-10)
    assert closed(h) * math.cos(a) == pytest.approx(projected, abs=5e-10)
    assert exact / projected - 1 == pytest.approx(difference, abs=5.1e-6 if abs(difference) < 0.01 else 5.1e-5)


# --- Volume conservation, straight slot: master check (derived; brute force; Pappus-Guldin) ---------------------------

VOLUME = [  # z, f, sum R int h dphi (brute force, 720 a turn), exact by brute force, exact closed, cusp up, cusp down
    (1, 0.4, 2.531957, 2.398214, 2.398218622712, 0.006399118, 0.006967201),
    (2, 0.4, 2.464654, 2.399560, 2.399554880022, 0.001598535, 0.001740239),
    (3, 0.4, 2.442892, 2.399793, 2.399802187337, 0.000710358, 0.000773311),
    (4, 0.4, 2.432158, 2.399898, 2.399888734006, 0.000399556, 0.000434962),
    (2, 0.2, 1.215932, 1.199949, 1.199944423358, 0.000407991, 0.000425682),
]


@pytest.mark.parametrize(("z", "f", "naive", "brute", "exact", "up", "down"), VOLUME)
def test_volume_of_a_straight_slot(
    z: int, f: float, naive: float, brute: float, exact: float, up: float, down: float
) -> None:
    left, right = ref.feed_mark(3, f / z, z, "conventional"), ref.feed_mark(3, f / z, z, "climb")
    area = ref.chip_area(3, f / z, z).sum()
    assert area == pytest.approx(f * (6 - left.mean_depth - right.mean_depth), rel=1e-9)
    assert area == printed(exact)
    assert area == pytest.approx(brute, abs=1e-5)  # 720 samples a turn
    assert left.height == pytest.approx(up, abs=5e-10)
    assert right.height == pytest.approx(down, abs=5e-10)
    angles = np.arange(-10, 190, 0.5)
    first_order = z * 3 * np.radians(0.5) * sum(ref.steady_thickness(phi, 3, f / z, z) for phi in angles)
    assert first_order == pytest.approx(naive, abs=3e-4)
    assert first_order / (6 * f) - 1 == pytest.approx(math.pi * f / z / 24, rel=0.2)


@pytest.mark.parametrize(("wall", "sign"), [("conventional", 1), ("climb", -1)])
@pytest.mark.parametrize("curvature", [0.0, 0.1, -0.25])
def test_mean_depth_of_a_feed_mark(wall: str, sign: int, curvature: float) -> None:
    # two roads: the area under the scallop traced from the oracle's edge positions, by the trapezoid rule
    job = line() if curvature == 0 else circle(1 / abs(curvature), int(math.copysign(1, curvature)))
    mark = ref.feed_mark(3, 0.2, 2, wall, curvature)
    t0 = job.cut(sign * 90.0 if curvature == 0 else (0.0 if sign * curvature < 0 else 180.0), 3.0, 0, 1)[0]
    # the instant in mid-wall: azimuth relative to the path normal is exactly 0
    if curvature:
        rate = 2 * math.pi * 250 + curvature * job.v  # turn relative to the normal [rad/s], clockwise spindle
        t0 = t0 * 2 * math.pi * 250 / rate
    half = math.radians(mark.half_angle) / (2 * math.pi * 250 + curvature * job.v)
    x, y = ref.edge_position(
        np.linspace(t0 - half, t0 + half, 4001), 3.0, 0, position=job.moves["position"], **job.tool
    ).T
    if curvature == 0:
        depth, along, spacing = 3 - sign * y, x, 0.2
    else:
        rho, valley = np.hypot(x, y), 1 / abs(curvature) - 3 * math.copysign(1, sign * curvature)
        depth = np.abs(valley**2 - rho**2) / 2
        along, spacing = np.unwrap(np.arctan2(y, x)), 0.2 / (1 + curvature * E)
        assert np.abs(valley - rho).max() == pytest.approx(mark.height, rel=1e-6)
    assert abs(np.trapezoid(depth, along)) / spacing == pytest.approx(mark.mean_depth, rel=1e-5)


def test_volume_per_revolution_of_the_whole_v() -> None:
    # geometry: feed per revolution times the section, 3.6 mm^3 for 90 deg, 3 mm deep, 0.4 mm/rev
    assert 0.4 * ref.groove_section(3, 90).area == printed(3.6)
    # and the slices add up to it, less the feed marks, which get their share at each height
    nodes, weights = np.polynomial.legendre.leggauss(4)
    heights = 1.65 + 1.35 * nodes  # above 0.3 mm, where the closed form holds
    slices = sum(1.35 * w * ref.chip_area(h, 0.2, 2).sum() for h, w in zip(heights, weights, strict=True))
    assert slices == pytest.approx(0.4 * (9 - 0.09), rel=1e-3)


# --- Volume conservation on a circle (derived; Pappus-Guldin) ---------------------------------------------------------

CIRCLE = [  # R, kappa, 2 w x spacing x z, brute force, closed form, expected, cusp outer, cusp inner
    (10, 0.1, 2.384817778, 2.384323, 2.3843244391, 2.3843244391, 0.0022621, 0.0011191),
    (10, -0.1, 2.415376766, 2.414905, 2.4148999074, 2.4148999073, 0.0020779, 0.0012183),
    (4, 0.25, 2.362401217, 2.361684, 2.3616889288, 2.3616889288, 0.0030446, 0.0003997),
    (3.2, 0.3125, 2.353184874, 2.352334, 2.3523304506, 2.3523304506, 0.0033705, 0.0000999),
]


@pytest.mark.parametrize(("arc", "kappa", "strip", "brute", "closed", "expected", "outer", "inner"), CIRCLE)
def test_volume_on_a_circle(
    arc: float, kappa: float, strip: float, brute: float, closed: float, expected: float, outer: float, inner: float
) -> None:
    area = ref.chip_area(3, 0.2, 2, curvature=kappa).sum()
    spacing = 0.4 / (1 + kappa * E)
    walls = {wall: ref.feed_mark(3, 0.2, 2, wall, kappa) for wall in ("conventional", "climb")}
    marks = [walls["climb"], walls["conventional"]] if kappa > 0 else [walls["conventional"], walls["climb"]]
    assert 6 * spacing == pytest.approx(strip, abs=5e-10)
    assert area == pytest.approx(spacing * (6 - sum(mark.mean_depth for mark in marks)), rel=1e-9)
    assert area == pytest.approx(closed, abs=1.5e-10)
    assert area == pytest.approx(expected, abs=1.5e-10)
    assert area == pytest.approx(brute, abs=1e-5)
    assert [mark.height for mark in marks] == pytest.approx([outer, inner], abs=5.1e-8)
    # estimate without the e term (derived)
    assert outer == pytest.approx(0.04 * (arc + 3) / (24 * arc), rel=0.06)
    assert inner == pytest.approx(0.04 * (arc - 3) / (24 * arc), rel=0.06)


# --- Runout: two flutes (derived; brute force; raster), and Kline & DeVor 1983 (from memory) --------------------------

TWO_FLUTES = [  # rho, area closed, brute force, raster, share 0, share 1, raster share 1, h max 0, h max 1, ahead 0, 1
    (0.0, 2.399554880, 2.39958, 2.40000, 0.50000000, 0.50000000, 0.49998, 0.20004827, 0.20004827, 0.200, 0.200),
    (0.02, 2.414230467, 2.41425, 2.41449, 0.64920867, 0.35079133, 0.35055, 0.24004894, 0.16004761, 0.240, 0.160),
    (0.05, 2.438247941, 2.43827, 2.43733, 0.83150775, 0.16849225, 0.16867, 0.30004998, 0.10004664, 0.300, 0.100),
    (0.08, 2.462265073, 2.46228, 2.46249, 0.95845506, 0.04154494, 0.04160, 0.36005105, 0.04004571, 0.360, 0.040),
    (0.099, 2.477475750, 2.47747, None, 0.99952819, 0.00047181, None, 0.39805174, 0.00204513, 0.398, 0.002),
    (0.1, None, 2.47827, None, 1.0, 0.0, None, 0.40005178, 0.00004510, 0.400, 0.000),
    (0.12, 2.494287399, 2.49428, 2.49440, 1.00000000, 0.00000000, 0.0, 0.40009555, 0.00000000, 0.400, 0.000),
]


def thickest(flute: int, rho: float, radius: float = 3.0) -> float:
    """Largest chip of a flute over the slot."""
    found = minimize_scalar(
        lambda phi: -ref.steady_thickness(phi, radius, 0.2, 2, flute=flute, runout=rho),
        bounds=(80, 100),
        method="bounded",
        options={"xatol": 1e-8},
    )
    return -float(found.fun)


@pytest.mark.parametrize("row", TWO_FLUTES, ids=lambda row: f"rho={row[0]}")
def test_two_flutes_with_runout(row: tuple[Any, ...]) -> None:
    rho, closed, brute, raster, share0, share1, raster1, max0, max1, ahead0, ahead1 = row
    areas = ref.chip_area(3, 0.2, 2, runout=rho)
    assert areas.sum() == pytest.approx(brute, abs=3e-5)
    if closed is not None:
        assert areas.sum() == pytest.approx(closed, abs=5e-10)
    if raster is not None:
        assert areas.sum() == pytest.approx(raster, abs=1e-3)
        assert areas[1] / areas.sum() == pytest.approx(raster1, abs=3e-4)
    assert areas / areas.sum() == pytest.approx([share0, share1], abs=5e-9 if closed else 5e-6)
    assert [thickest(0, rho), thickest(1, rho)] == pytest.approx([max0, max1], abs=5.1e-9)
    ahead = [ref.steady_thickness(90, 3, 0.2, 2, flute=j, runout=rho) for j in (0, 1)]
    assert ahead == pytest.approx([ahead0, ahead1], abs=1e-9)


@pytest.mark.parametrize(
    ("radius", "first", "second", "exact"),
    [(3.0, 0.1, 0.100022521, 0.100022548), (1.0, 0.1, 0.100203054, 0.100205331), (0.5, 0.1, 0.100817193, 0.100856021)],
)
def test_runout_at_which_the_short_flute_stops(radius: float, first: float, second: float, exact: float) -> None:
    # derived; exact column by root finding on the closed form: the last chip is on the climb side of dead ahead
    assert ref.short_flute_limit(0.2) == printed(first)
    assert ref.short_flute_limit(0.2, radius) == pytest.approx(second, abs=5e-10)

    def last_chip(rho: float) -> float:
        steady = _steady(radius, 0.2, 2, 0.0, rho, 0.0)
        peak = minimize_scalar(
            lambda phi: -steady.clearance(phi, 1), bounds=(1.4, 2.0), method="bounded", options={"xatol": 1e-9}
        )
        return -float(peak.fun)

    assert brentq(last_chip, 0.0999, 0.102) == pytest.approx(exact, abs=1e-9)


def test_share_of_the_short_flute_first_order() -> None:
    # derived; the exact share is 0.168492
    assert ref.short_flute_share(0.05, 0.2) == printed(0.171213314093)
    assert ref.short_flute_share(0.0, 0.2) == 0.5
    assert ref.short_flute_share(0.1, 0.2) == pytest.approx(0.0, abs=1e-15)
    assert ref.short_flute_limit(0.2, 3) == pytest.approx(0.100022520889, rel=1e-9)


KLINE_DEVOR = [  # j, first-order R_j, exact R_j, exact body angle [deg], h dead ahead; r 3, rho .03, lambda 20, z 4
    (0, 3.02819077862, 3.02820816189, 0.194138056276, 0.138451382923),
    (1, 3.0102606043, 3.01039260327, 89.4634466472, 0.0820698256762),
    (2, 2.97180922138, 2.97182693444, 179.80217876, 0.0615486170767),
    (3, 2.9897393957, 2.98987230065, 270.540235972, 0.117930174324),
]


@pytest.mark.parametrize(("j", "first", "exact", "angle", "ahead"), KLINE_DEVOR)
def test_kline_devor_1983(j: int, first: float, exact: float, angle: float, ahead: float) -> None:
    radii, angles = ref.runout_radii(3, 4, 0.03, 20)
    first_order = ref.runout_radii_first_order(3, 4, 0.03, 20)
    assert first_order[j] == printed(first)
    assert radii[j] == printed(exact)
    assert angles[j] == printed(angle)
    assert ref.kline_devor_thickness(first_order, 0.1)[j] == printed(ahead)


def test_kline_devor_needs_every_earlier_tooth() -> None:
    # Kline & DeVor 1983 (from memory): with only the previous tooth the last flute would take 0.25, and the sum 0.5
    ahead = ref.kline_devor_thickness(ref.runout_radii_first_order(3, 4, 0.15, 0), 0.1)
    assert ahead == pytest.approx([0.25, 0.0, 0.0, 0.15], abs=1e-12)
    # the exact answer also knows that runout shifts the pitch by 2 rho/r at the most, worth e x 2 rho/r = 6.4e-3 mm
    exact = [ref.steady_thickness(90, 3, 0.1, 4, flute=j, runout=0.15) for j in range(4)]
    assert exact == pytest.approx(ahead, abs=7e-3)
    job = line(runout=0.15, flutes=4)
    assert [job.thickness(0.0, 3.0, j) for j in range(4)] == pytest.approx(exact, abs=1e-10)


# --- Near the tip (derived; raster and brute force) -------------------------------------------------------------------

READINGS = {  # r/e: h_r/r at phi = 0, 30 .. 180, z = 2; without and with the tooth's own fold
    0.5: ((1, 1, 1, 1, 1, 1, 1), (1, 1, 1, 1, 1, 1, 1)),
    1: ((1, 1, 1, 1, 1, 1, 1), (1, 1, 1, 1, 0.500, 0.286, 1)),
    2: ((0.681, 1, 1, 1, 1, 1, 1), (0.681, 1, 1, 1, 0.750, 0.567, 0.500)),
    4: ((0.214, 0.486, 0.666, 0.785, 0.889, 1, 1), (0.214, 0.486, 0.666, 0.785, 0.875, 0.784, 0.750)),
    6: ((0.105, 0.309, 0.448, 0.524, 0.537, 0.464, 0.231),) * 2,
    10: ((0.042, 0.176, 0.270, 0.314, 0.300, 0.218, 0.063),) * 2,
    20: ((0.011, 0.084, 0.136, 0.157, 0.143, 0.092, 0.014),) * 2,
}


@pytest.mark.parametrize("ratio", READINGS)
def test_thickness_near_the_tip(ratio: float) -> None:
    job = line()
    for own_turn, row in zip((0.25, 1e-6), READINGS[ratio], strict=True):
        seen = [job.thickness(90.0 - phi, ratio * E, nth=5, own_turn=own_turn) / ratio / E for phi in range(0, 181, 30)]
        assert seen == pytest.approx(row, abs=1e-3)


@pytest.mark.parametrize("phi", [240.0, 250.0])
def test_a_fold_near_the_tip_ends_at_its_envelope(phi: float) -> None:
    # derived: u ago the segment met the ray at s = -u cos(phi - u)/sin(u) [e]; its own fold ends at the maximum
    fold = minimize_scalar(
        lambda u: u * math.cos(math.radians(phi) - u) / math.sin(u),
        bounds=(math.pi / 2, 3.0),
        method="bounded",
        options={"xatol": 1e-9},
    )
    job = line(flutes=1)
    parts = ref.uncut_intervals(*job.cut(90.0 - phi, 4 * E, 0, 5), **job.moves, **job.tool)
    assert parts == pytest.approx(np.array([[-fold.fun * E, 4 * E]]), abs=1e-11)


@pytest.mark.parametrize("z", [1, 2, 3, 4])
def test_the_readings_agree_above_a_radius(z: int) -> None:
    # derived: total uncut, contiguous uncut and R - outermost old curve coincide for r >= f_z + 2 e, and not well below
    feed = 0.4 / z
    job = line(flutes=z)

    def spread(radius: float) -> float:
        worst = 0.0
        for phi in (-20, 10, 40, 70, 100, 130, 150, 170, 185, 195):
            parts = ref.uncut_intervals(*job.cut(90.0 - phi, radius, 0, 3), **job.moves, **job.tool)
            total = float((parts[:, 1] - parts[:, 0]).sum())
            contiguous = float(parts[-1, 1] - parts[-1, 0]) if parts.size else 0.0
            closed = ref.steady_thickness(phi, radius, feed, z)
            worst = max(worst, abs(total - closed), abs(contiguous - closed))
        return worst

    assert spread(feed * (1 + z / math.pi) * 1.001) < 1e-9
    assert spread(feed) > 1e-2


SWEPT = [  # z, r/e, share of the strip 2 r swept, up half, down half, swept by the back face (raster, 0.003)
    (1, 0.1, 0.3186, 0.3435, 0.2938, 0.1468),
    (1, 0.5, 0.3251, 0.4435, 0.2068, 0.1000),
    (1, 1.0, 0.3465, 0.5683, 0.1248, 0.0484),
    (1, 2.0, 0.4969, 0.7947, 0.1992, 0.0043),
    (1, 3.0, 0.6604, 0.8892, 0.4317, 0.0000),
    (1, 6.0, 0.9468, 0.9657, 0.9279, 0.0000),
    (1, 12.0, 0.9882, 0.9902, 0.9862, 0.0000),
    (2, 0.1, 0.6357, 0.6837, 0.5876, 0.2936),
    (2, 0.5, 0.6138, 0.8140, 0.4136, 0.2000),
    (2, 1.0, 0.5719, 0.8942, 0.2496, 0.0968),
    (2, 2.0, 0.6759, 0.9535, 0.3984, 0.0086),
    (2, 3.0, 0.9166, 0.9733, 0.8600, 0.0000),
    (2, 6.0, 0.9875, 0.9917, 0.9833, 0.0000),
    (2, 12.0, 0.9972, 0.9976, 0.9967, 0.0000),
    (4, 0.1, 0.8984, 0.9169, 0.8799, 0.4394),
    (4, 0.5, 0.8376, 0.9545, 0.7206, 0.3467),
    (4, 1.0, 0.7106, 0.9748, 0.4463, 0.1670),
    (4, 2.0, 0.8803, 0.9896, 0.7709, 0.0053),
    (4, 3.0, 0.9823, 0.9919, 0.9726, 0.0000),
    (4, 6.0, 0.9971, 0.9982, 0.9961, 0.0000),
    (4, 12.0, 0.9994, 0.9996, 0.9992, 0.0000),
]


def swept_shares(z: int, ratio: float) -> tuple[float, ...]:
    """(strip, up half, down half, back face): shares swept at r = ratio x e, by a raster over one tooth spacing."""
    radius, across, along = ratio * E, 150, 96 // z
    x, y = (
        grid.ravel()
        for grid in np.meshgrid(
            (np.arange(along) + 0.5) / along * 0.4 / z, ((np.arange(across) + 0.5) / across * 2 - 1) * radius
        )
    )
    up, down, back, aside = 0, 0, 0, np.full((z, x.size), np.nan)
    step = min(0.015, 0.02 * ratio)  # rotation [rad]; the axis must not run far in one
    for theta in np.arange(-ratio - step, 0.4 / z / E + ratio + step, step):  # while the axis is within reach
        for j in range(z):
            dx, angle = x - E * theta, 2 * math.pi * j / z - theta  # clockwise: the up-milling wall is at +y
            ahead, now = dx * math.cos(angle) + y * math.sin(angle), y * math.cos(angle) - dx * math.sin(angle)
            passed = (aside[j] * now <= 0) & (ahead > 0) & (dx * dx + y * y <= radius * radius)
            up, down = up + np.count_nonzero(passed & (y > 0)), down + np.count_nonzero(passed & (y < 0))
            back += np.count_nonzero(passed & (aside[j] > 0))  # the face in front sees what it meets move to its left
            aside[j] = now
            x, y, aside = x[~passed], y[~passed], aside[:, ~passed]
    points = across * along
    return (up + down) / points, 2 * up / points, 2 * down / points, back / points


@pytest.mark.parametrize("row", SWEPT, ids=lambda row: f"z={row[0]}, r={row[1]}e")
def test_share_swept_near_the_tip(row: tuple[Any, ...]) -> None:
    assert swept_shares(row[0], row[1]) == pytest.approx(row[2:], abs=3e-3)


@pytest.mark.parametrize(("z", "share"), [(1, 1 / math.pi), (2, 2 / math.pi), (4, 2 * math.sqrt(2) / math.pi)])
def test_share_swept_in_the_limit(z: int, share: float) -> None:
    # exact limits for r/e -> 0 (derived): the projection of the turning star, half of it met by back faces;
    # first order in r/e beyond it; the table's row at 0.1 gives the slope
    strip, back = next((row[2], row[5]) for row in SWEPT if row[:2] == (z, 0.1))
    near = swept_shares(z, 0.05)
    assert 2 * near[0] - strip == pytest.approx(share, abs=6e-3)
    assert 2 * near[3] - back == pytest.approx(share / 2, abs=6e-3)


# --- Engin & Altintas 2001 (from memory) ------------------------------------------------------------------------------


@pytest.mark.parametrize(("included", "thickness"), [(60, 0.15), (90, 0.122474487139), (120, 0.0866025403784)])
def test_engin_altintas_2001(included: float, thickness: float) -> None:
    assert ref.engin_altintas_thickness(60, 0.2, included) == printed(thickness)


def test_engin_altintas_2001_ramp() -> None:
    rise = -0.2 * math.tan(math.radians(15))
    assert ref.engin_altintas_thickness(90, 0.2, 90, rise) == printed(0.179315094434)


RAMP = [  # ramp [deg, down positive], radius dead ahead, phi, h_r by brute force, h_r cos a, formula; 90 deg included
    (5, 3, 30, 0.120221088, 0.085009147, 0.083083444),
    (5, 3, 90, 0.217497733, 0.153794122, 0.153794122),
    (5, 3, 150, 0.124923042, 0.088333930, 0.083083444),
    (5, 3, -60, 0.0, 0.0, 0.0),
    (15, 3, 30, 0.155688062, 0.110088085, 0.108604416),
    (15, 3, 90, 0.253589838, 0.179315094, 0.179315094),
    (15, 3, 150, 0.161763925, 0.114384368, 0.108604416),
    (15, 3, -60, 0.0, 0.0, 0.0),
    (30, 3, 30, 0.216448757, 0.153052384, 0.152360336),
    (30, 3, 90, 0.315470054, 0.223071014, 0.223071014),
    (30, 3, 150, 0.224958188, 0.159069460, 0.152360336),
    (30, 3, -60, 0.0, 0.0, 0.0),
    (-15, 2, 30, 0.052090992, 0.036833894, 0.032816940),
    (-15, 2, 90, 0.146410162, 0.103527618, 0.103527618),
    (-15, 2, 150, 0.055496529, 0.039241972, 0.032816940),
    (-15, 2, -60, 0.0, 0.0, 0.0),
]


@pytest.mark.parametrize(("ramp", "ahead", "phi", "radial", "projected", "formula"), RAMP)
def test_ramp_in_a_fixed_slice(
    ramp: float, ahead: float, phi: float, radial: float, projected: float, formula: float
) -> None:
    # the slice z stays; its radius grows as the tool goes down, and is `ahead` when the tooth is dead ahead
    tangent = math.tan(math.radians(ramp))
    radius = ahead + 0.4 * tangent * (phi - 90) / 360
    found = line(0.0, ramp).thickness(90.0 - phi, radius)
    assert found == pytest.approx(radial, abs=6e-10)
    assert found * math.cos(math.pi / 4) == pytest.approx(projected, abs=6e-10)
    assert ref.engin_altintas_thickness(phi, 0.2, 90, -0.2 * tangent) == pytest.approx(formula, abs=5e-10)


# --- Martellotti 1941, 1945 (from memory): the trochoid and its feed marks --------------------------------------------


def test_arithmetic_of_the_base_case() -> None:
    # arithmetic: e = f/(2 pi)
    assert ref.degenerate_radius(6000 / 15000) == printed(0.0636619772368)


def traced(job: Job, radius: float, angles: Any) -> Any:
    """Edge positions of flute 0 at rotation angles from the azimuth of +x [deg]."""
    return ref.edge_position(np.asarray(angles) / 360 / 250, radius, 0, position=job.moves["position"], **job.tool)


def test_cutting_speed_of_the_base_case() -> None:
    # arithmetic: 282.743338823 m/min at r = 3 and 15000 rpm, on a tool that does not travel
    a, b = traced(line(feed=0.0), 3.0, [100.0, 100.01])
    assert math.dist(a, b) / (0.01 / 360 / 250) * 0.06 == pytest.approx(282.743338823, rel=1e-7)


def test_trochoid_length() -> None:
    assert ref.trochoid_length(3, 0.4) == printed(18.8516780472)
    assert ref.trochoid_length(3, 0.0) == printed(18.8495559215)  # the circle
    steps = np.diff(traced(line(), 3.0, np.linspace(0, 360, 20001)), axis=0)
    assert np.hypot(*steps.T).sum() == pytest.approx(18.8516780472, rel=1e-7)


@pytest.mark.parametrize(
    ("wall", "sign", "exact", "approximate"),
    [("conventional", 1, 6.51147098974, 6.51140546062), ("climb", -1, 6.35868373067, 6.35861671525)],
)
def test_tooth_path_length(wall: str, sign: int, exact: float, approximate: float) -> None:
    # R = 10, radial depth 2, f_z = 0.2, z = 4; approximation R beta +- e sin beta within 3e-5 of the exact length
    beta = ref.engagement_angle(2, 20)
    assert ref.tooth_path_length(beta, 10, 0.8, wall) == printed(exact)
    e = ref.degenerate_radius(0.8)
    assert 10 * math.radians(beta) + sign * e * math.sin(math.radians(beta)) == printed(approximate)
    assert exact == pytest.approx(approximate, rel=3e-5)


@pytest.mark.parametrize(
    ("wall", "azimuth", "value"), [("conventional", 90, 3.12867490359), ("climb", -90, 2.87402699464)]
)
def test_curvature_radius_at_the_wall(wall: str, azimuth: float, value: float) -> None:
    assert ref.wall_curvature_radius(3, 0.2, 2, wall) == printed(value)
    a, b, c = traced(line(), 3.0, 360 - azimuth + np.array([-0.5, 0.0, 0.5]))  # circle through three points of the path
    sides = [math.dist(p, q) for p, q in ((a, b), (b, c), (c, a))]
    area = abs((b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0])) / 2
    assert math.prod(sides) / (4 * area) == pytest.approx(value, rel=1e-4)


FEED_MARKS = [  # wall, R, f_z, z, exact (two trochoids, derived), Martellotti, by curvature radius (derived)
    ("conventional", 3.0, 0.2, 2, 0.00159853474587, 0.00159881101951, 0.00159812065941),
    ("climb", 3.0, 0.2, 2, 0.00174023854781, 0.00174053736682, 0.00173971921952),
    ("conventional", 10.0, 0.2, 4, 0.000487518396413, 0.000487583780974, 0.00048750671191),
    ("climb", 10.0, 0.2, 4, 0.000512993145563, 0.000513065095369, 0.000512979761206),
    ("conventional", 0.5, 0.1, 1, 0.00235344497714, 0.00235037075077, 0.00234813399021),
    ("climb", 0.5, 0.1, 1, 0.0026745565391, 0.00266997594803, 0.00266708988874),
]


@pytest.mark.parametrize(("wall", "radius", "feed", "z", "exact", "martellotti", "curvature"), FEED_MARKS)
def test_feed_mark_height(
    wall: str, radius: float, feed: float, z: int, exact: float, martellotti: float, curvature: float
) -> None:
    assert ref.feed_mark(radius, feed, z, wall).height == printed(exact)
    assert ref.feed_mark_martellotti(radius, feed, z, wall) == printed(martellotti)
    assert ref.feed_mark_from_curvature(radius, feed, z, wall) == printed(curvature)


def test_side_milling() -> None:
    # R = 10, radial depth 2, f_z = 0.2, z = 4: classical, circular paths, exact at phi = beta, and the true maximum
    beta = ref.engagement_angle(2, 20)
    assert ref.thickness_first_order(beta, 0.2) == printed(0.12)
    assert 0.2 / ref.feed_factor(2, 20) == printed(0.12)
    assert ref.circular_path_thickness(beta, 10, 0.2) == printed(0.12128008193)
    assert ref.steady_thickness(beta, 10, 0.2, 4) == printed(0.120044359499)
    assert ref.side_milling_maximum(10, 0.2, 4, 2) == (printed(35.951689562), printed(0.117506715033))


# --- Chip thinning: geometry, the form printed in Machinery's Handbook (from memory) ----------------------------------


def test_chip_thinning() -> None:
    # D = 6, a_e = 0.6, f_z = 0.1
    assert 0.1 / ref.feed_factor(0.6, 6) == printed(0.06)
    assert ref.feed_factor(0.6, 6) == printed(1.66666666667)
    assert ref.engagement_angle(0.6, 6) == printed(36.8698976458)
    assert ref.mean_thickness(0.6, 6, 0.1) == printed(0.0310799775272)
    assert 0.1 * math.sqrt(0.6 / 6) == pytest.approx(ref.mean_thickness(0.6, 6, 0.1), rel=0.02)
    assert ref.mean_thickness(6, 6, 0.1) == printed(0.0636619772368)


# --- ISO 3002-1:1982 (from memory): tool angles, and tool-in-use angles -----------------------------------------------


def test_iso_3002_conversions() -> None:
    # orthogonal rake 12, clearance 10, inclination 8, cutting-edge angle 75
    angles = ref.iso_tool_angles(12, 10, 8, 75)
    assert angles.normal_rake == printed(11.8865545345)
    assert angles.side_rake == printed(9.58896435483)
    assert angles.back_rake == printed(10.800304393)
    assert angles.normal_clearance == printed(10.0962634653)
    assert angles.side_clearance == printed(10.4129148824)
    assert angles.back_clearance == printed(31.9477335169)
    assert angles.geometric_rake == printed(14.2957396727)
    assert angles.normal_wedge == printed(68.0171820002)
    assert ref.orthogonal_angles(angles.side_rake, angles.back_rake, 75) == (printed(12.0), printed(8.0))


@pytest.mark.parametrize("plane", ["side", "back", "normal"])
def test_iso_3002_by_vectors(plane: str) -> None:
    # two roads: the planes of rake face and flank, each through the edge, cut with the plane of section
    go, ao, ls, kr = (math.radians(v) for v in (12, 10, 8, 75))
    up = np.array([0.0, 0.0, 1.0])  # primary motion
    along, into = np.array([math.cos(kr), math.sin(kr), 0.0]), np.array([-math.sin(kr), math.cos(kr), 0.0])
    edge = along * math.cos(ls) - up * math.sin(ls)  # feed along -x; ISO's positive inclination
    face = into * math.cos(go) - up * math.sin(go)  # falls away from the edge at the orthogonal rake
    flank = into * math.sin(ao) - up * math.cos(ao)
    normal = {"side": np.array([0.0, 1.0, 0.0]), "back": np.array([1.0, 0.0, 0.0]), "normal": edge}[plane]
    angles = ref.iso_tool_angles(12, 10, 8, 75)
    plumb = np.cross(np.cross(normal, up), normal)  # primary motion within the section
    level = np.cross(normal, plumb)
    for surface, kind in ((face, "rake"), (flank, "clearance")):
        trace = np.cross(np.cross(edge, surface), normal)
        run, rise = trace @ level / np.linalg.norm(level), trace @ plumb / np.linalg.norm(plumb)
        steep = math.degrees(math.atan2(abs(rise), abs(run)))
        expected = getattr(angles, f"{plane}_{kind}")
        assert (steep if kind == "rake" else 90 - steep) == pytest.approx(expected, abs=1e-9)


@pytest.mark.parametrize(("phi", "eta"), [(0, 0.0), (45, 3.7783772159), (90, 5.7105931375), (135, 4.35131591359)])
def test_tool_in_use_angle(phi: float, eta: float) -> None:
    assert ref.resultant_angle(phi, 0.1) == printed(eta)
    # two roads: direction of the edge by finite difference of its trajectory, r = 10 e
    before, after = traced(line(), 10 * E, 360 + phi - 90 + np.array([-1e-3, 1e-3]))
    motion, azimuth = after - before, math.radians(90 - phi)
    tangent = np.array([math.sin(azimuth), -math.cos(azimuth)])  # clockwise
    turn = math.degrees(math.atan2(tangent[0] * motion[1] - tangent[1] * motion[0], motion @ tangent))
    assert abs(turn) == pytest.approx(eta, abs=1e-6)


def test_largest_tool_in_use_angle() -> None:
    # derived: at cos(phi) = -v_f/v_c
    assert ref.largest_resultant_angle(0.1) == printed(5.73917047727)
    assert ref.resultant_angle(math.degrees(math.acos(-0.1)), 0.1) == printed(5.73917047727)
    assert max(ref.resultant_angle(phi, 0.1) for phi in range(181)) < 5.7392


# --- Clearance and heel rub (derived) ---------------------------------------------------------------------------------

CLEARANCE = [  # included, horizontal clearance, r*, h*, h* looking dead ahead only, degenerate below; f .4, normal 20
    (60, 22.7958772589, 0.164310491866, 0.284594120129, 0.262364767404, 0.110265779084),
    (90, 27.2363134752, 0.139102747181, 0.139102747181, 0.12367993745, 0.0636619772368),
    (120, 36.0523887324, 0.108172135088, 0.062453211312, 0.0504921230288, 0.0367552596948),
]


@pytest.mark.parametrize(("included", "clearance", "radius", "height", "ahead", "degenerate"), CLEARANCE)
def test_heel_rub(
    included: float, clearance: float, radius: float, height: float, ahead: float, degenerate: float
) -> None:
    assert ref.horizontal_clearance(20, included) == printed(clearance)
    assert ref.heel_rub_radius(0.4, 20, included) == printed(radius)
    assert ref.height_of_radius(radius, included) == printed(height)
    only_ahead = ref.heel_rub_radius(0.4, 20, included, dead_ahead=True)
    assert ref.height_of_radius(only_ahead, included) == printed(ahead)
    assert ref.height_of_radius(ref.degenerate_radius(0.4), included) == printed(degenerate)
    # theorem: there the largest resultant angle eats all the clearance
    assert ref.largest_resultant_angle(E / radius) == pytest.approx(clearance, rel=1e-9)
    assert ref.resultant_angle(90, E / only_ahead) == pytest.approx(clearance, rel=1e-9)


def test_height_of_radius_starts_at_a_flat_tip() -> None:
    # derived: h = (r - r_tip)/tan a
    assert ref.height_of_radius(0.3, 60, 0.2) == printed(0.2 * math.sqrt(3))
    assert ref.height_of_radius(0.05, 60, 0.2) == 0.0


def test_resultant_angles_at_half_a_millimetre() -> None:
    assert ref.largest_resultant_angle(E / 0.5) == printed(7.31498110313)
    assert ref.resultant_angle(90, E / 0.5) == printed(7.25608291064)


@pytest.mark.parametrize(("radius", "backwards"), [(1.01 * E, True), (0.99 * E, False)])
def test_trochoid_without_loops(radius: float, backwards: bool) -> None:
    # derived: below r = e the climb-side edge runs forward, heel first
    before, after = traced(line(), radius, 360 + 90 + np.array([-0.01, 0.01]))
    assert (after[0] < before[0]) == backwards


# --- Lag of sheared edges (derived; constant helix: taper zone of Engin & Altintas 2001, from memory) -----------------


@pytest.mark.parametrize(
    ("included", "helix", "lead"), [(60, 74.7305544806, 34.7565971531), (90, 52.8424818351, 24.5766255379)]
)
def test_lag_on_a_cone(included: float, helix: float, lead: float) -> None:
    # r 0.5 -> 3, 20 deg
    assert ref.lag_constant_helix(0.5, 3, 20, included) == printed(helix)
    assert ref.lag_constant_lead(0.5, 3, 20, included) == printed(lead)
    # two roads: d(lag) = tan(b) ds / r along the generator
    a, tangent = math.radians(included / 2), math.tan(math.radians(20))
    assert math.degrees(quad(lambda r: tangent / (r * math.sin(a)), 0.5, 3)[0]) == pytest.approx(helix, rel=1e-9)


def test_lag_of_an_offset_edge() -> None:
    assert ref.lag_offset_edge(0.5, 3, 0.2) == printed(19.7556247489)


# --- Groove geometry (elementary; shapely; Pappus-Guldin) -------------------------------------------------------------


@pytest.mark.parametrize(
    ("included", "width"),
    [(30, 1.07179676972), (45, 1.65685424949), (60, 2.30940107676), (90, 4.0), (120, 6.92820323028)],
)
def test_groove_width(included: float, width: float) -> None:
    assert ref.groove_section(2, included).width == printed(width)


GROOVES = [  # depth, tip radius, included, area, width, flanks, 50 mm straight, both end caps, quarter circle R = 10
    (3.0, 0.0, 90, 9.0, 6.0, 8.48528137424, 450.0, 28.2743338823, 141.371669412),
    (4.0, 0.1, 60, 10.037604307, 4.81880215352, 9.23760430703, 501.880215352, 25.3679571144, 157.670319753),
    (1.5, 0.05, 120, 4.04711431703, 5.29615242271, 6.0, 202.355715851, 11.2268134637, 63.5719230331),
]


def carved(path: shapely.LineString, depth: float, tip: float, included: float, cap: Any) -> float:
    """Volume under the face: shapely's buffer of the path in every slice, integrated over z (areas are quadratic)."""
    slope = math.tan(math.radians(included / 2))
    nodes, weights = np.polynomial.legendre.leggauss(3)
    radii = tip + depth * (nodes + 1) / 2 * slope
    areas = [path.buffer(r, quad_segs=256, cap_style=cap).area for r in radii]
    return float(weights @ np.array(areas)) * depth / 2


@pytest.mark.parametrize("row", GROOVES, ids=lambda row: f"{row[2]} deg")
def test_groove_geometry(row: tuple[float, ...]) -> None:
    depth, tip, included, area, width, flanks, straight, caps, quarter = row
    section = ref.groove_section(depth, included, 2 * tip)
    assert section == (printed(area), printed(width), printed(flanks))
    assert section.area * 50 == printed(straight)
    assert ref.end_caps_volume(depth, included, 2 * tip) == printed(caps)
    assert section.area * math.pi / 2 * 10 == printed(quarter)
    along = shapely.LineString([(0, 0), (50, 0)])
    assert carved(along, depth, tip, included, "flat") == pytest.approx(straight, rel=1e-9)
    assert carved(along, depth, tip, included, "round") == pytest.approx(straight + caps, rel=1e-5)
    turn = np.linspace(0, math.pi / 2, 2001)
    arc = shapely.LineString(10 * np.stack([np.cos(turn), np.sin(turn)], axis=1))
    assert carved(arc, depth, tip, included, "flat") == pytest.approx(quarter, rel=1e-5)


def test_groove_of_an_arbitrary_path() -> None:
    # Pappus-Guldin against shapely: volume is section x length on any smooth path that keeps clear of itself
    s = np.linspace(0, 60, 6001)
    wave = shapely.LineString(np.stack([s, 4 * np.sin(s / 8) + 0.02 * s**1.5], axis=1))
    section = ref.groove_section(2, 90, 0.3)
    expected = section.area * wave.length + ref.end_caps_volume(2, 90, 0.3)
    assert carved(wave, 2, 0.15, 90, "round") == pytest.approx(expected, rel=1e-5)
    # the lips' outline: its area is width x length + a full disc
    assert wave.buffer(section.width / 2, quad_segs=256).area == pytest.approx(
        section.width * wave.length + math.pi * section.width**2 / 4, rel=1e-5
    )


def test_removal_rate() -> None:
    # geometry: section times feed, 90 deg, 3 mm deep, 6000 mm/min
    assert ref.groove_section(3, 90).area * 6000 / 60 == printed(900.0)


# --- Speed profiles (textbook kinematics, from memory) ----------------------------------------------------------------


@pytest.mark.parametrize(
    ("distance", "speed", "acceleration", "time"),
    [
        (100, 100, 500, 1.2),
        (100, 100, 50, 2.82842712475),
        (10, 100, 500, 0.282842712475),
        (5, 100, 1000, 0.141421356237),
        (5, 100, 2500, 0.09),
    ],
)
def test_rest_to_rest(distance: float, speed: float, acceleration: float, time: float) -> None:
    assert ref.travel_time(distance, speed, acceleration) == printed(time)


def test_speed_profiles() -> None:
    assert ref.peak_speed(10, 500, 20, 60) == printed(83.6660026534)
    assert ref.travel_time(10, 100, 500, 20, 60) == printed(0.174664010614)
    bend = ref.centripetal_speed(2, 500)
    assert bend == printed(31.6227766017)
    # line 20, quarter arc R = 2, line 10 at 500 mm/s^2, speed up to 100, limits taken separately
    parts = [
        ref.travel_time(20, 100, 500, 0, bend),
        math.pi / bend,
        ref.travel_time(10, 100, 500, bend, 0),
    ]
    assert parts == [printed(0.346754446797), printed(0.099345882658), printed(0.23340238628)]
    assert ref.peak_speed(10, 500, bend, 0) == pytest.approx(74.161985, abs=5.1e-7)
    assert sum(parts) == printed(0.679502715735)
    assert sum(parts) == pytest.approx(0.6795026, abs=2e-7)  # brute force on a grid of 1e-5 mm


def test_friction_circle() -> None:
    # derived; two roads: d(v^2)/ds = 2 sqrt(a^2 - v^4/R^2) by small midpoint steps
    assert ref.friction_circle_speed(5, 20, 500, 20) == printed(71.7039153122)
    square, steps = 400.0, 20000
    for _ in range(steps):
        middle = square + math.sqrt(500**2 - (square / 20) ** 2) * 5 / steps
        square += 2 * math.sqrt(500**2 - (middle / 20) ** 2) * 5 / steps
    assert math.sqrt(square) == pytest.approx(71.7039153122, rel=1e-6)
    assert ref.friction_circle_speed(1000, 20, 500, 20) == ref.centripetal_speed(20, 500)


# --- Hunt 1960 (relation from memory): beam struck at a speed ---------------------------------------------------------


def test_struck_beam() -> None:
    # Independent road: E I w_xxxx + rho A w_tt = 0 on a half line, w(0) moves at v from t = 0 without slope (struck in
    # the middle of a long beam). Laplace transform, decaying roots of the characteristic polynomial, numeric inversion.
    modulus, density, thickness, speed = 12e9, 600.0, 0.3e-3, 5.0
    stiffness, mass = modulus * thickness**3 / 12, density * thickness  # per unit width

    def curvature(s: Any) -> Any:
        power = -mass * s**2 / stiffness
        roots = sorted((mpmath.root(power, 4, k) for k in range(4)), key=lambda r: float(mpmath.re(r)))[:2]
        a, b = mpmath.lu_solve(mpmath.matrix([[1, 1], roots]), mpmath.matrix([speed / s**2, 0]))
        return a * roots[0] ** 2 + b * roots[1] ** 2

    stress = 0.0
    for time in (1e-6, 3e-5, 2e-4):
        bend = float(mpmath.invertlaplace(curvature, time, method="dehoog"))
        stress = modulus * abs(bend) * thickness / 2 / 1e6
        assert stress == pytest.approx(ref.struck_beam_stress(speed, 12e3, density), rel=1e-6)
    wave_speed = math.sqrt(modulus / density)
    assert stress / (density * wave_speed * speed / 1e6) == pytest.approx(math.sqrt(3), rel=1e-6)


# --- Jaeger 1942 (from memory; derived numerically): moving band source -----------------------------------------------


def test_band_source_limits() -> None:
    average, largest = ref.band_source_coefficients(1000)
    assert average == pytest.approx(0.752, abs=1e-3)
    assert largest == pytest.approx(1.128, abs=1e-3)
    # the limits themselves, from two speeds: the average falls as 1/L, the largest rises as 1/L
    half = ref.band_source_coefficients(500)
    assert 2 * average - half[0] == pytest.approx(4 / (3 * math.sqrt(math.pi)), abs=2e-5)
    assert largest == pytest.approx(2 / math.sqrt(math.pi), abs=1e-3)


@pytest.mark.parametrize(("peclet", "average"), [(0.1, 0.65), (1, 0.80), (20, 0.758), (100, 0.7535)])
def test_band_source_at_finite_speed(peclet: float, average: float) -> None:
    found, largest = ref.band_source_coefficients(peclet)
    assert found == pytest.approx(average, abs=5.1e-3 if peclet < 10 else 5e-4)

    # two roads: known antiderivatives of exp(+-u) K0(u), and the average by a second, outer quadrature
    def temperature(x: float) -> float:
        y = 2 * peclet - x
        behind = x * (k0e(x) + k1e(x)) - 1 if x > 0 else 0.0
        ahead = y * math.exp(-2 * y) * (k0e(y) - k1e(y)) + 1 if y > 0 else 0.0
        return float((behind + ahead) / math.pi / math.sqrt(peclet))

    assert found == pytest.approx(quad(temperature, 0, 2 * peclet, limit=200)[0] / (2 * peclet), rel=1e-6)
    assert largest == pytest.approx(max(temperature(x) for x in np.linspace(0, 2 * peclet, 4001)), rel=1e-5)


# --- Fibre angles at the finished wall (derived; pure geometry) -------------------------------------------------------

FIBRES = [  # heading, azimuth, dive, included, spin, wall, to_velocity, wall dive, elevation, to_edge
    (0, 30, 0, 90, "cw", "left", 30.0000000000, 22.2076542986, 20.7048110546, 69.2951889454),
    (0, 30, 0, 90, "cw", "right", 30.0000000000, 22.2076542986, 20.7048110546, 69.2951889454),
    (0, 120, 0, 90, "cw", "left", 60.0000000000, -50.7684795164, -37.7612439070, 52.2387560930),
    (0, 120, 0, 90, "cw", "right", 60.0000000000, -50.7684795164, -37.7612439070, 52.2387560930),
    (37, 67, 0, 60, "cw", "left", 30.0000000000, 26.5650511771, 25.6589062733, 75.5224878141),
    (37, 67, 0, 60, "cw", "right", 30.0000000000, 26.5650511771, 25.6589062733, 75.5224878141),
    (0, 30, 10, 90, "cw", "left", 31.4749488892, 28.9082994389, 28.0972748436, 76.9739335508),
    (0, 30, 10, 90, "cw", "right", 31.4749488892, 14.8035623883, 13.0260664492, 61.9027251564),
    (0, 120, 0, 90, "ccw", "left", 60.0000000000, 50.7684795164, 37.7612439070, 52.2387560930),
    (0, 120, 0, 90, "ccw", "right", 60.0000000000, 50.7684795164, 37.7612439070, 52.2387560930),
]


@pytest.mark.parametrize("row", FIBRES, ids=str)
def test_fibre_table(row: tuple[Any, ...]) -> None:
    found = ref.wall_fibre_angles(*row[:6])
    assert (found.to_velocity, found.wall_dive, found.elevation, found.to_edge) == pytest.approx(row[6:], abs=1e-8)
    assert found.fibre_angle == pytest.approx(row[7] % 180, abs=1e-8)


def test_dive_breaks_the_tie() -> None:
    # derived: walls get opposite signs when |tan D tan a| > |sin beta|
    left = ref.wall_fibre_angles(0, 5, 10, 90, "cw", "left").wall_dive
    right = ref.wall_fibre_angles(0, 5, 10, 90, "cw", "right").wall_dive
    assert (left, right) == (pytest.approx(10.593201, abs=5e-7), pytest.approx(-3.621673, abs=5e-7))
    slot = [ref.wall_fibre_angles(0, 5, 10, 0, "cw", side).wall_dive for side in ("left", "right")]
    assert slot[0] == pytest.approx(slot[1], abs=1e-12)  # upright walls: never


@pytest.mark.parametrize("spin", ["cw", "ccw"])
@pytest.mark.parametrize("side", ["left", "right"])
@pytest.mark.parametrize("heading", [0.0, 77.0, -140.0])
def test_sign_table(spin: str, side: str, heading: float) -> None:
    # Clockwise: beta in (0, 90) is against the grain on both walls, (90, 180) with it; counter-clockwise the other way.
    # Checked by walking along the fibre from the wall, the velocity a finite difference of the oracle's trajectory.
    job = line(heading, spin=spin)
    left = np.array([-math.sin(math.radians(heading)), math.cos(math.radians(heading))])
    w = 1 if side == "left" else -1
    t = job.cut(heading + 90 * w, 3.0, 0, 3)[0]
    before, after = ref.edge_position([t - 1e-8, t + 1e-8], 3.0, 0, position=job.moves["position"], **job.tool)
    for beta in (*range(1, 90, 8), *range(91, 180, 8)):
        fibre = np.array([math.cos(math.radians(heading + beta)), math.sin(math.radians(heading + beta))])
        fibre *= math.copysign(1, float(fibre @ (after - before)))
        into_the_wood = w * float(left @ (1e-3 * fibre)) > 0  # in the face, beyond the lip
        found = ref.wall_fibre_angles(heading, heading + beta, 0, 90, spin, side)
        assert (found.wall_dive > 0) == into_the_wood == ((beta < 90) == (spin == "cw"))
        back = ref.wall_fibre_angles(heading + 180, heading + beta, 0, 90, spin, "right" if side == "left" else "left")
        assert back.wall_dive == pytest.approx(found.wall_dive, abs=1e-9)  # reversing the travel changes nothing


def test_fibre_angles_by_vectors() -> None:
    # two roads: vectors built from a finite difference of the trajectory and the cone's surface
    rng = np.random.default_rng(1)
    for _ in range(60):
        heading, azimuth, dive = rng.uniform(-180, 180), rng.uniform(-180, 180), rng.uniform(-80, 80)
        included, spin, side = rng.uniform(20, 150), str(rng.choice(["cw", "ccw"])), str(rng.choice(["left", "right"]))
        slope = math.tan(math.radians(included / 2))
        job = line(heading, spin=spin, half_angle=included / 2)
        w = 1 if side == "left" else -1
        t, _, height, _ = job.cut(heading + 90 * w, 3.0, 0, 3)
        before, after = ref.edge_position([t - 1e-7, t + 1e-7], height, 0, position=job.moves["position"], **job.tool)
        v = np.append(after - before, 0.0)
        v /= np.linalg.norm(v)
        out = w * np.array([-math.sin(math.radians(heading)), math.cos(math.radians(heading)), 0.0])
        edge = (out * slope + [0, 0, 1]) / math.hypot(slope, 1)
        n = np.cross(edge, v)
        n *= math.copysign(1, n @ out)
        level = math.cos(math.radians(dive))
        g = np.array(
            [
                level * math.cos(math.radians(azimuth)),
                level * math.sin(math.radians(azimuth)),
                -math.sin(math.radians(dive)),
            ]
        )
        found = ref.wall_fibre_angles(heading, azimuth, dive, included, spin, side)
        assert found.to_velocity == pytest.approx(math.degrees(math.acos(min(1, abs(g @ v)))), abs=1e-4)
        assert found.to_edge == pytest.approx(math.degrees(math.acos(min(1, abs(g @ edge)))), abs=1e-4)
        assert found.fibre_angle == pytest.approx(math.degrees(math.atan2(g @ n, g @ v)) % 180, abs=1e-4)
        assert found.elevation == pytest.approx(math.degrees(math.asin(g @ n * np.sign(g @ v))), abs=1e-4)


@pytest.mark.parametrize("spin", ["cw", "ccw"])
@pytest.mark.parametrize("side", ["left", "right"])
@pytest.mark.parametrize("azimuth", [90.0, -90.0])
def test_tie_rule(spin: str, side: str, azimuth: float) -> None:
    # decided: a fibre square to the velocity has no sign; the larger danger is reported
    found = ref.wall_fibre_angles(0, azimuth, 0, 70, spin, side)
    assert found.wall_dive == found.fibre_angle == 90.0
    assert found.elevation == pytest.approx(90 - 35, abs=1e-9)


# --- McKenzie 1961 (as quoted in the literature): edge against fibre, motion against fibre ----------------------------


@pytest.mark.parametrize(
    ("name", "azimuth", "dive", "edge", "motion"),
    [("90-0 planing", 0, 0, 90, 0), ("90-90 end grain", 90, 0, 90, 90), ("0-90 veneer", 0, 90, 0, 90)],
)
@pytest.mark.parametrize("side", ["left", "right"])
def test_mckenzie_limits(name: str, azimuth: float, dive: float, edge: float, motion: float, side: str) -> None:
    upright = ref.wall_fibre_angles(0, azimuth, dive, 0, "cw", side)
    assert (upright.to_edge, upright.to_velocity) == pytest.approx((edge, motion), abs=1e-9)
    # a V-bit's edge leans by half its included angle, which tilts it against fibres across the travel
    leaning = ref.wall_fibre_angles(0, azimuth, dive, 60, "cw", side)
    assert abs(leaning.to_edge - edge) == pytest.approx(0 if name == "90-0 planing" else 30, abs=1e-9)
    assert leaning.to_velocity == pytest.approx(motion, abs=1e-9)
    if motion == 90:
        assert upright.wall_dive == leaning.wall_dive == 90.0  # the documented tie


# --- The oracle's lip strikes -----------------------------------------------------------------------------------------


@pytest.mark.parametrize("spin", ["cw", "ccw"])
@pytest.mark.parametrize("wall", ["conventional", "climb"])
def test_lip_strikes_of_a_straight_groove(spin: str, wall: str) -> None:
    # Two roads: on the probe line x = x_0 the trochoid is x = v t + R cos, y = R sin; and feed marks are what is left.
    job = line(0.0, start=2.0, spin=spin, runout=0.02, runout_azimuth=70.0, phase=33.0)
    side = job.sense * (1 if wall == "conventional" else -1)  # +1: left
    radii, angles = ref.runout_radii(2.0, 2, 0.02, 70.0)
    lip = (4.03, side * float(radii.max()))
    seen = ref.lip_strikes_slow(lip, -90.0 * side, stop=0.1, low=-0.2, high=1.5, **job.moves, **job.tool)
    assert np.all(np.diff(seen.time) > 0)
    for t, flute, depth in zip(seen.time, seen.flute, seen.depth, strict=True):
        theta = math.radians(33.0) - job.sense * (2 * math.pi * 250 * t - math.radians(angles[flute]))
        assert job.v * t + radii[flute] * math.cos(theta) == pytest.approx(4.03, abs=1e-9)
        assert radii.max() - side * radii[flute] * math.sin(theta) == pytest.approx(depth, abs=1e-9)
    left = seen.depth[seen.cuts]
    assert np.all(np.diff(left) < 0)
    assert 0 <= left[-1] < ref.feed_mark(2.0, 0.4, 1, wall).height
    # how many crossings there must be: counted on a fine trace of each edge
    count, times = 0, np.linspace(0, 0.1, 200001)
    for flute in (0, 1):
        x, y = ref.edge_position(times, 2.0, flute, position=job.moves["position"], **job.tool).T
        hit = (x[:-1] < 4.03) != (x[1:] < 4.03)
        depths = radii.max() - side * y[:-1][hit]
        count += int(((depths > -0.2) & (depths < 1.5)).sum())
    assert count == seen.time.size > 10


def test_lip_strikes_agree_with_the_rays() -> None:
    # theorem: where the probe line is the ray (dead on the wall), the strike's chip is the ray's uncut length
    job = line(0.0, start=2.0, flutes=1)
    t = job.cut(90.0, 2.0, 0, 6)[0]  # flute exactly at the left wall
    x = float(job.moves["position"](t)[0])
    seen = ref.lip_strikes_slow((x, 2.0), -90.0, stop=t + 0.02, low=-1e-6, high=1.0, **job.moves, **job.tool)
    k = int(np.argmin(np.abs(seen.time - t)))
    assert seen.depth[k] == pytest.approx(0.0, abs=1e-9)
    before = seen.depth[:k][seen.cuts[:k]]
    assert before[-1] - seen.depth[k] == pytest.approx(job.thickness(90.0, 2.0, 0, 6), abs=1e-9)


def test_lip_strikes_in_a_slice_the_tool_sinks_into() -> None:
    # definition: at the face the radius is r(depth(t)), and a tip above the face does not cut
    job = Job(lambda w: (0 * w, 0 * w), lambda w: w - 0.5, tip=0.1, flutes=1, phase=5.0)  # from above, straight down
    seen = ref.lip_strikes_slow((1.0, 0.0), 180.0, stop=0.013, low=-1.0, high=1.0, **job.moves, **job.tool)
    late = 0.004 * 5 / 360
    assert seen.time == pytest.approx([0.008 + late, 0.012 + late], abs=1e-12)
    assert seen.depth == pytest.approx(1.4 - 100 * seen.time, abs=1e-9)


# --- What is refused --------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("call", "word"),
    [
        (lambda: ref.steady_thickness(30, 0.0, 0.2, 2), "radius"),
        (lambda: ref.steady_thickness(30, 3, 0.2, 2, curvature=0.5), "curvature"),
        (lambda: ref.steady_thickness(30, 3, 0.2, 2, flute=2), "flute"),
        (lambda: ref.groove_section(-1, 90), "depth"),
        (lambda: ref.groove_section(1, 180), "included_angle"),
        (lambda: ref.feed_mark(3, 0.2, 2, "left"), "wall"),
        (lambda: ref.wall_fibre_angles(0, 0, 91, 90), "dive"),
        (lambda: ref.band_source_coefficients(0), "peclet"),
        (lambda: ref.travel_time(1, 10, 100, 0, 50), "distance"),
        (lambda: line(spin="left").thickness(0.0, 1.0), "spin"),
        (lambda: line(runout=-1.0).thickness(0.0, 1.0), "runout"),
        (lambda: ref.crossing_time(0, -1, 0, radius=lambda h: h, spindle_speed=1, flutes=1), "height"),
    ],
)
def test_refusals_name_the_argument(call: Callable[[], Any], word: str) -> None:
    with pytest.raises(DomainError, match=word):
        call()
