"""Bad input: one clear ValueError-family message that names the argument, the value and the allowed range."""

import numpy as np
import pytest

import chipsim as cs

NAN, INF = float("nan"), float("inf")
BIT, LINE = cs.VBit(60, 12.7, 2), cs.line((0, 0), (20, 0), 2.0)
CUT = cs.Cut(BIT, LINE, 18000, 1500)
WOOD = cs.wood("sugar maple")
BOARD = cs.Board(WOOD, cs.straight_grain(0))


def cut(**change):
    return cs.Cut(**({"bit": BIT, "path": LINE, "spindle_speed": 18000, "feed": 1500} | change))


def fields(f):
    """A map on a board with this grain field."""
    return cs.risk_map(CUT, cs.Board(WOOD, cs.grain_field(f)))


CASES = {
    "angle 0": (lambda: cs.VBit(0, 6), "included_angle", "(0, 180)", "0"),
    "angle 180": (lambda: cs.VBit(180, 6), "included_angle", "(0, 180)", "180"),
    "angle nan": (lambda: cs.VBit(NAN, 6), "included_angle", "(0, 180)", "nan"),
    "angle word": (lambda: cs.VBit("60", 6), "included_angle", "(0, 180)", "'60'"),
    "diameter in inches": (lambda: cs.VBit(60, 0.7), "diameter", "[1, 150]", "inches meant"),
    "no flutes": (lambda: cs.VBit(60, 6, 0), "flutes", "[1, 12]", "0"),
    "minus one flute": (lambda: cs.VBit(60, 6, -1), "flutes", "[1, 12]", "-1"),
    "half a flute": (lambda: cs.VBit(60, 6, 1.5), "flutes", "[1, 12]", "1.5"),
    "edge in micrometres": (lambda: cs.VBit(60, 6, edge_radius=8), "edge_radius", "(0, 0.5]", "0.008"),
    "tip wider than the bit": (lambda: cs.VBit(60, 6, 1, 7), "tip_width", "[0, 6)", "7"),
    "negative height": (lambda: BIT.radius(-1), "height", "[0, inf)", "-1"),
    "falling outline": (lambda: cs.ProfileBit([0, 1, 2], [1, 3, 2]), "radii", "must not fall", "index 2"),
    "outline lengths": (lambda: cs.ProfileBit([0, 1], [1, 2, 3]), "heights and radii", "same length", "3"),
    "zero feed": (lambda: cut(feed=0), "feed", "[50, 60000]", "0"),
    "negative feed": (lambda: cut(feed=-5), "feed", "[50, 60000]", "-5"),
    "feed in inches": (lambda: cut(feed=40), "feed", "[50, 60000]", "inches per minute meant"),
    "feed nan": (lambda: cut(feed=NAN), "feed", "[50, 60000]", "nan"),
    "zero speed": (lambda: cut(spindle_speed=0), "spindle_speed", "[1000, 100000]", "0"),
    "speed inf": (lambda: cut(spindle_speed=INF), "spindle_speed", "[1000, 100000]", "inf"),
    "above the marked speed": (
        lambda: cut(bit=cs.VBit(60, 6, max_spindle_speed=16000)), "spindle_speed", "[1000, 16000]", "18000"
    ),
    "beyond the cutting length": (lambda: cut(bit=cs.VBit(60, 6, cutting_length=1.5)), "depth", "[0, 1.5]", "2"),
    "spin": (lambda: cut(spin="left"), "spin", "'cw', 'ccw'", "'left'"),
    "bit": (lambda: cut(bit=60), "bit", "VBit", "int"),
    "path": (lambda: cut(path=[(0, 0), (1, 1)]), "path", "Path", "list"),
    "machine": (lambda: cut(machine="mine"), "machine", "Machine", "str"),
    "empty path": (lambda: cs.Path([], 1.0), "xy", "2 dimension", "(0,)"),
    "one point": (lambda: cs.Path([[0, 0]], 1.0), "xy", "n >= 2", "(1, 2)"),
    "a vertex twice": (lambda: cs.polyline([(0, 0), (1, 0), (1, 0)], 1), "xy", "repeat", "(1.0, 0.0)"),
    "point nan": (lambda: cs.line((0, NAN), (1, 0), 1), "start", "finite", "nan"),
    "negative depth": (lambda: cs.line((0, 0), (1, 0), -1), "depth", "[0, 200]", "-1"),
    "depth nan": (lambda: cs.ring(5, NAN), "depth", "[0, 200]", "nan"),
    "depth shape": (lambda: cs.polyline([(0, 0), (1, 0)], [1, 2, 3]), "depth", "(2,)", "(3,)"),
    "sweep of a full turn": (lambda: cs.Path([[0, 0], [1, 0]], 1, sweep=[360]), "sweep", "(-360, 360)", "full circle"),
    "sweep shape": (lambda: cs.Path([[0, 0], [1, 0]], 1, sweep=[1, 2]), "sweep", "(1,)", "(2,)"),
    "radius 0": (lambda: cs.ring(0, 1), "radius", "(0, inf)", "0"),
    "off the path": (lambda: LINE.position(30), "station", "20", "30"),
    "curve of the wrong shape": (lambda: cs.curve(lambda t: t, 1), "function", "shape", "2"),
    "unknown species": (lambda: cs.wood("black chery"), "name", "did you mean", "black cherry"),
    "wet": (lambda: cs.wood("black cherry", 60), "moisture", "[4, 30]", "60"),
    "board of words": (lambda: cs.Board("cherry", cs.straight_grain(0)), "wood", "Wood", "str"),
    "grain of numbers": (lambda: cs.Board(WOOD, 30), "grain", "straight_grain", "int"),
    "grain not callable": (lambda: cs.grain_field(30), "function", "callable", "int"),
    "dive": (lambda: cs.straight_grain(0, 95), "dive", "[-90, 90]", "95"),
    "grain nan": (
        lambda: fields(lambda x, y: x * NAN), "grain azimuth", "finite", "nan"
    ),
    "grain shape": (
        lambda: fields(lambda x, y: np.zeros(3)), "grain azimuth", "shape", "(3,)"
    ),
    "grain word": (
        lambda: fields(lambda x, y: "along"), "grain azimuth", "numbers", "str"
    ),
    "pitch 0": (lambda: cs.risk_map(CUT, BOARD, pitch=0), "pitch", "[0.001, 1000]", "0"),
    "bundle": (lambda: cs.lip_strikes(CUT, bundle=-1), "bundle", "(0, 10]", "-1"),
    "cut": (lambda: cs.risk_map(LINE, BOARD), "cut", "Cut or a Carving", "Path"),
    "board": (lambda: cs.risk_map(CUT, WOOD), "board", "Board", "Wood"),
    "angles nan": (lambda: cs.tooth_passes(CUT, angles=[NAN], heights=[1]), "angles", "finite", "nan"),
    "heights": (lambda: cs.tooth_passes(CUT, angles=[90], heights=[-1]), "heights", "[0, 300]", "-1"),
    "no heights": (lambda: cs.tooth_passes(CUT, angles=[90], heights=[]), "heights", "not empty", "(0,)"),
    "stop": (lambda: cs.tooth_passes(CUT, stop=99, angles=[90], heights=[1]), "stop", "20", "99"),
    "table too large": (
        lambda: cs.tooth_passes(CUT, angles=np.arange(4e4), heights=np.arange(0, 2, 1e-2)), "stop", "2e8", "entries"
    ),
    "fibre": (lambda: cs.fibre_angle((1, 0, 0), (0, 1, 0), (0, 0, 0)), "fibre", "zero vector", ""),
    "vector": (lambda: cs.fibre_angle((1, 0), (0, 1, 0), (0, 0, 1)), "cutting_direction", "(..., 3)", "(2,)"),
    "side": (lambda: cs.risk_map(CUT, BOARD).why(3, "top"), "side", "'left', 'right'", "'top'"),
    "station": (lambda: cs.risk_map(CUT, BOARD).why(-3, "left"), "station", "[0, 20]", "-3"),
    "risk": (lambda: cs.risk_map(CUT, BOARD).mean("smoke"), "risk", "'scorch'", "'smoke'"),
}  # fmt: skip


@pytest.mark.parametrize("name", CASES)
def test_the_message_names_argument_range_and_value(name):
    make, argument, allowed, value = CASES[name]
    with pytest.raises(cs.DomainError) as caught:
        make()
    text = str(caught.value)
    assert isinstance(caught.value, ValueError)
    for piece in (argument, allowed, value):
        assert piece in text, f"{piece!r} not in {text!r}"


def test_a_curve_tighter_than_the_groove_is_allowed_and_its_lip_absent():
    risk = cs.risk_map(cs.Cut(cs.VBit(90, 12.7), cs.ring(1.5, 2.0), 18000, 1500), BOARD)
    assert not risk.exists[:, 0].any()
    assert risk.exists[:, 1].all()
    assert np.isnan(risk.fuzz[:, 0]).all()
    with pytest.raises(cs.DomainError, match="left lip is removed everywhere"):
        risk.why(1, "left")


def test_full_width_is_flagged():
    risk = cs.risk_map(cs.Cut(cs.VBit(90, 3.0), cs.line((0, 0), (10, 0), 2.0), 18000, 1500), BOARD)
    assert (risk.doubt[risk.kind == "run"] == 4).all()
