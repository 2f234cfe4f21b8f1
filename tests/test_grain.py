"""Fibre angles of the library against the closed form, the sign table and McKenzie's three cases."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

import chipsim as cs
from chipsim import reference
from chipsim.scene.grain import crossing_angle, edge_angle, grain_words

# heading, azimuth, fibre dive, included angle, spin, wall: to_velocity, wall dive (+ against, - with), to_edge; derived
# for this project, pure geometry, tolerance 1e-8 deg
TABLE = [
    (0, 30, 0, 90, "cw", "left", 30.0, 22.2076542986, 69.2951889454),
    (0, 30, 0, 90, "cw", "right", 30.0, 22.2076542986, 69.2951889454),
    (0, 120, 0, 90, "cw", "left", 60.0, -50.7684795164, 52.2387560930),
    (0, 120, 0, 90, "cw", "right", 60.0, -50.7684795164, 52.2387560930),
    (37, 67, 0, 60, "cw", "left", 30.0, 26.5650511771, 75.5224878141),
    (37, 67, 0, 60, "cw", "right", 30.0, 26.5650511771, 75.5224878141),
    (0, 30, 10, 90, "cw", "left", 31.4749488892, 28.9082994389, 76.9739335508),
    (0, 30, 10, 90, "cw", "right", 31.4749488892, 14.8035623883, 61.9027251564),
    (0, 120, 0, 90, "ccw", "left", 60.0, 50.7684795164, 52.2387560930),
    (0, 120, 0, 90, "ccw", "right", 60.0, 50.7684795164, 52.2387560930),
    (0, 5, 10, 90, "cw", "left", None, 10.593201, None),
    (0, 5, 10, 90, "cw", "right", None, -3.621673, None),
]


def lip_angles(heading, azimuth, dive, angle, spin, wall):
    """fibre_angle and edge_angle of a straight level groove, from a map."""
    path = cs.line((0, 0), (20, 0), 2.0).rotated(heading)
    cut = cs.Cut(cs.VBit(angle, 25, 1), path, 18000, 1500, spin=spin)
    risk = cs.risk_map(cut, cs.Board(cs.wood("sugar maple"), cs.straight_grain(azimuth, dive)), pitch=2.0)
    i, k = int(np.flatnonzero(risk.kind == "run")[3]), ("left", "right").index(wall)
    return risk.fibre_angle[i, k], risk.edge_angle[i, k]


@pytest.mark.parametrize("row", TABLE, ids=lambda r: "-".join(map(str, r[:6])))
def test_fibre_table(row):
    heading, azimuth, dive, angle, spin, wall, _, expected, edge = row
    theta, to_edge = lip_angles(heading, azimuth, dive, angle, spin, wall)
    assert theta == pytest.approx(expected % 180, abs=1e-6 if edge is None else 1e-8)
    if edge is not None:
        assert to_edge == pytest.approx(edge, abs=1e-8)


@settings(deadline=None, derandomize=True, max_examples=25)
@given(
    heading=st.floats(-180, 180),
    azimuth=st.floats(-180, 180),
    dive=st.floats(-40, 40),
    angle=st.sampled_from([30, 60, 90, 120]),
    spin=st.sampled_from(["cw", "ccw"]),
    wall=st.sampled_from(["left", "right"]),
)
def test_map_agrees_with_the_closed_form(heading, azimuth, dive, angle, spin, wall):
    theta, to_edge = lip_angles(heading, azimuth, dive, angle, spin, wall)
    closed = reference.wall_fibre_angles(heading, azimuth, dive, angle, spin, wall)
    turn = abs(theta - closed.wall_dive % 180)
    assert min(turn, 180 - turn) < 1e-7
    assert to_edge == pytest.approx(closed.to_edge, abs=1e-7)


@pytest.mark.parametrize("spin", ["cw", "ccw"])
@pytest.mark.parametrize("wall", ["left", "right"])
@pytest.mark.parametrize("beta", [20, 70, 110, 160])
def test_sign_table(spin, wall, beta):
    """Spin x quadrant (derived): cw, beta in (0, 90): against on both walls; (90, 180): with; ccw the other way."""
    theta, _ = lip_angles(-40, beta - 40, 0, 60, spin, wall)
    assert (theta < 90) == ((beta < 90) == (spin == "cw"))


@pytest.mark.parametrize(
    ("edge", "motion", "fibre", "expected"),
    [
        ((0, 1, 0), (1, 0, 0), (1, 0, 0), (90, 0)),  # 90-0: planing along the grain
        ((0, 1, 0), (1, 0, 0), (0, 0, 1), (90, 90)),  # 90-90: end grain
        ((0, 1, 0), (1, 0, 0), (0, 1, 0), (0, 90)),  # 0-90: veneer
    ],
)
def test_mckenzies_three_cases(edge, motion, fibre, expected):
    """McKenzie 1961, as quoted in the literature: first number edge to fibre, second motion to fibre."""
    assert edge_angle(edge, fibre) == pytest.approx(expected[0], abs=1e-12)
    assert crossing_angle(motion, fibre) == pytest.approx(expected[1], abs=1e-12)
    normal = np.cross(edge, motion)
    signed = float(cs.fibre_angle(motion, normal, fibre))
    assert signed == pytest.approx({(90, 0): 0, (90, 90): 90, (0, 90): 0}[expected], abs=1e-12)


def test_range_ties_and_rounding():
    v, n = np.array([1.0, 0, 0]), np.array([0, 1.0, 0])
    assert cs.fibre_angle(v, n, (-1, 0, 0)) == 0
    assert cs.fibre_angle(v, n, (1, -1e-20, 0)) == 0  # 180 in floating point counts as 0
    assert cs.fibre_angle(v, n, (0, 1, 0)) == 90
    assert cs.fibre_angle(v, n, (0, -1, 0)) == 90
    many = np.random.default_rng(0).normal(size=(500, 3))
    theta = cs.fibre_angle(v, n, many)
    assert theta.shape == (500,)
    assert ((theta >= 0) & (theta < 180)).all()
    np.testing.assert_allclose(cs.fibre_angle(v, n, -many), theta, atol=1e-12)


def test_words():
    assert grain_words(30) == "against the grain"
    assert grain_words(150) == "with the grain"
    assert grain_words(88) == "across the grain"
    assert grain_words(178) == "along the grain"
    assert grain_words(float("nan")) == "no lip"


def test_lip_of_a_ramp_leans_by_its_own_tangent():
    """tan(delta) = tan a |dz/ds| / sqrt(1 - ...): the lip point lies square to the lip's own line, not to the path."""
    bit, slope = cs.VBit(90, 25, 1), 0.3
    cut = cs.Cut(bit, cs.line((0, 0), (20, 0), (1.0, 1.0 + 20 * slope)), 18000, 1500)
    lips = cs.lip_strikes(cut, pitch=1.0).lips
    runs = np.flatnonzero(lips.kind == "run")[2:-2]
    step = np.diff(lips.lip_xy[runs, 0], axis=0)
    heading = np.degrees(np.arctan2(step[:, 1], step[:, 0]))
    np.testing.assert_allclose(heading, lips.heading[runs[:-1], 0], atol=1e-9)
    np.testing.assert_allclose(heading, np.degrees(np.arcsin(slope)), atol=1e-9)


def test_inside_the_cut_the_sign_is_that_of_tan_beta_plus_phi():
    """Fibre met at rotation phi (cw, flat grain): against where tan(beta + phi) > 0 (derived)."""
    cut = cs.Cut(cs.VBit(60, 12.7, 2), cs.line((0, 0), (20, 0), 3.0), 15000, 1500)
    angles = np.arange(5.0, 180.0, 10.0)
    for beta in (13, 52, 98, 141):
        board = cs.Board(cs.wood("sugar maple"), cs.straight_grain(beta))
        passes = cs.tooth_passes(cut, start=10, stop=10.2, angles=angles, heights=[2.5], board=board)
        tan = np.tan(np.radians(beta + angles))
        clear = np.abs((beta + angles + 45) % 90 - 45) > 4  # off the ties
        seen = passes.fibre_angle[1, :, 0]
        np.testing.assert_array_equal((seen < 90)[clear], (tan > 0)[clear])
