"""Bad input: one clear ValueError-family message that names the argument, the value and the allowed range."""

import contextlib
import json
import math
from dataclasses import fields as fields_of
from fractions import Fraction
from types import SimpleNamespace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from strategies import steadily

import chipsim as cs
from chipsim.choosing.sweeps import Cell
from chipsim.limits.lands import lands_table
from chipsim.scene.cuts import reached_feed
from chipsim.scene.grain import edge_angle, fibre_axis
from chipsim.scene.machine import speed_profile

NAN, INF = float("nan"), float("inf")
BIT, LINE = cs.VBit(60, 12.7, 2), cs.line((0, 0), (20, 0), 2.0)
CUT = cs.Cut(BIT, LINE, 18000, 1500)
WOOD = cs.wood("sugar maple")
BOARD = cs.Board(WOOD, cs.straight_grain(0))


def cut(**change):
    return cs.Cut(**({"bit": BIT, "path": LINE, "spindle_speed": 18000, "feed": 1500} | change))


def own(**change):
    """A user's cutter with one number changed."""
    numbers = {name: getattr(BIT, name) for name in EDGES | MARKED} | {"diameter": 6.0} | change
    return SimpleNamespace(radius=lambda h: 0.5 * np.asarray(h, dtype=float), **numbers)


def fields(f):
    """A map on a board with this grain field."""
    return cs.risk_map(CUT, cs.Board(WOOD, cs.grain_field(f)))


CASES = {
    "angle 0": (lambda: cs.VBit(0, 6), "included_angle", "[5, 180)", "0"),
    "angle 180": (lambda: cs.VBit(180, 6), "included_angle", "[5, 180)", "180"),
    "angle nan": (lambda: cs.VBit(NAN, 6), "included_angle", "[5, 180)", "nan"),
    "angle word": (lambda: cs.VBit("60", 6), "included_angle", "[5, 180)", "'60'"),
    "diameter in inches": (lambda: cs.VBit(60, 0.7), "diameter", "[1, 150]", "inches meant"),
    "no flutes": (lambda: cs.VBit(60, 6, 0), "flutes", "[1, 12]", "0"),
    "minus one flute": (lambda: cs.VBit(60, 6, -1), "flutes", "[1, 12]", "-1"),
    "half a flute": (lambda: cs.VBit(60, 6, 1.5), "flutes", "[1, 12]", "1.5"),
    "edge in micrometres": (lambda: cs.VBit(60, 6, edge_radius=8), "edge_radius", "[1e-06, 0.5]", "0.008"),
    "tip wider than the bit": (lambda: cs.VBit(60, 6, 1, 7), "tip_width", "[0, 6)", "7"),
    "negative height": (lambda: BIT.radius(-1), "height", "[0, inf)", "-1"),
    "falling outline": (lambda: cs.ProfileBit([0, 1, 2], [1, 3, 2]), "radii", "must not fall", "index 2"),
    "outline lengths": (lambda: cs.ProfileBit([0, 1], [1, 2, 3]), "heights and radii", "same length", "3"),
    "zero feed": (lambda: cut(feed=0), "feed", "[100, 60000]", "0"),
    "negative feed": (lambda: cut(feed=-5), "feed", "[100, 60000]", "-5"),
    "feed in inches": (lambda: cut(feed=40), "feed", "[100, 60000]", "inches per minute meant"),
    "feed nan": (lambda: cut(feed=NAN), "feed", "[100, 60000]", "nan"),
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
    "a vertex twice": (lambda: cs.polyline([(0, 0), (1, 0), (1, 0)], 1), "points", "repeat", "(1.0, 0.0)"),
    "point nan": (lambda: cs.line((0, NAN), (1, 0), 1), "start", "finite", "nan"),
    "negative depth": (lambda: cs.line((0, 0), (1, 0), -1), "depth", "[0, 200]", "-1"),
    "depth nan": (lambda: cs.ring(5, NAN), "depth", "[0, 200]", "nan"),
    "depth shape": (lambda: cs.polyline([(0, 0), (1, 0)], [1, 2, 3]), "depth", "(2,)", "(3,)"),
    "sweep of a full turn": (lambda: cs.Path([[0, 0], [1, 0]], 1, sweep=[360]), "sweep", "(-360, 360)", "full circle"),
    "sweep shape": (lambda: cs.Path([[0, 0], [1, 0]], 1, sweep=[1, 2]), "sweep", "(1,)", "(2,)"),
    "radius 0": (lambda: cs.ring(0, 1), "radius", "(0, 100000]", "0"),
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
    "cut": (lambda: cs.risk_map(LINE, BOARD), "carving", "a Carving or a Cut", "Path"),
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
    "centre": (
        lambda: cs.grain_field(lambda x, y: x).turned_about((1, 2, 3), 30, "turned"), "centre", "(x, y)", "(3,)"
    ),
    "axis shapes": (lambda: fibre_axis([1, 2], [1, 2, 3]), "azimuth and dive", "broadcast", "(3,)"),
    "cosine shapes": (
        lambda: cs.CuttingForceModel().direction_factor([0.1, 0.2], [0.1] * 3), "motion and edge", "broadcast", "(3,)"
    ),
    "no stretch of the parameter": (lambda: cs.curve(bow, 1, start=1, stop=1), "start and stop", "differ", ""),
    "closed and ramping": (
        lambda: cs.curve(lambda t: np.column_stack([np.cos(t), np.sin(t)]), (1, 2), stop=2 * np.pi, closed=True),
        "depth", "the same at both ends", "",
    ),
    "needle": (lambda: cs.ProfileBit([0, 1], [0, 0.4]), "radii", "0.5 mm", "0.4"),
    "settings twice": (lambda: cs.sweep(CUT, BOARD, [{"feed": 900}], feed=900), "settings", "together", "rotation"),
    "waive one word": (
        lambda: cs.recommend(CUT, BOARD, MACHINE, BIT, speeds=[9000], waive="tip"), "waive", "several", "'tip'"
    ),
    "waived one word": (
        lambda: Cell(cs.Setting(), None).against("tip"), "waived", "sequence of names", "'tip'"
    ),
    "axes of a comparison": (
        lambda: cs.draw_comparison(cs.compare([SMALL], BOARD, pitch=1.0), [None]), "axes", "as many as options", "None"
    ),
    "own cutter": (lambda: cut(bit=own(clearance=NAN)), "bit.clearance", "(-inf, inf)", "nan"),
    "own cutter, fraction": (lambda: cut(bit=own(rake=Fraction(1, 3))), "bit.rake", "float or an int", "1, 3"),
    "complex": (lambda: cs.VBit(60, 6 + 0j), "diameter", "[1, 150]", "(6+0j)"),
    "numpy complex": (lambda: cs.VBit(60, np.complex128(6)), "diameter", "[1, 150]", "6+0j"),
    "masked": (lambda: cs.Path(np.ma.array([[0, 0], [1, 0]], mask=True), 1), "xy", "numbers", "MaskedArray"),
    "dates": (lambda: cs.ring(np.timedelta64(3, "s"), 1), "radius", "(0, 100000]", "timedelta"),
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
    run = risk.kind == "run"
    # where the tool appears in the wood, strikes are missing, which is said first
    appears = run & (risk.station < 0.5)
    assert (risk.doubt[appears] == 1).all()
    assert (risk.doubt[run & (risk.station > 1)] == 4).all()


# --- every argument of everything public against every kind of rubbish ------------------------------------------------

MACHINE = cs.Machine(300, 5000)
DIALLED = cs.Machine(300, 5000, dial=cs.Dial([1, 2], [9150, 17_900]))
MODEL = cs.RiskModel()
FORCE = cs.CuttingForceModel()
SMALL = cs.Cut(BIT, cs.line((0, 0), (3, 0), 2.0), 18000, 1500)
EDGES = {"flutes": 2, "rake": 10, "clearance": 15, "edge_radius": 0.008, "runout": 0.01, "runout_azimuth": 3}
MARKED = {"cutting_length": 20, "max_spindle_speed": 24000}


def risk_of(name):
    """A method of a small map."""
    return lambda **k: getattr(cs.risk_map(SMALL, BOARD, pitch=1.0), name)(**k)


def bow(t):
    return np.column_stack([t, t * t])


SVG = "<svg xmlns='http://www.w3.org/2000/svg'><path d='M0 0L9 9'/></svg>"
PUBLIC = {  # a call that is in order; then one argument at a time is spoilt
    "VBit": (cs.VBit, {"included_angle": 60, "diameter": 12.7, "tip_width": 0.2} | EDGES | MARKED),
    "ProfileBit": (cs.ProfileBit, {"heights": [0, 1, 2], "radii": [0, 1, 2]} | EDGES | MARKED),
    "VBit.radius": (BIT.radius, {"height": 1.0}),
    "VBit.half_width": (BIT.half_width, {"depth": 1.0}),
    "VBit.depth_for_width": (BIT.depth_for_width, {"width": 1.0}),
    "Path": (cs.Path, {"xy": [(0, 0), (1, 0)], "depth": 1.0, "sweep": [0.0], "closed": False}),
    "line": (cs.line, {"start": (0, 0), "end": (1, 0), "depth": 1}),
    "polyline": (cs.polyline, {"points": [(0, 0), (1, 0)], "depth": 1, "closed": False}),
    "arc": (cs.arc, {"centre": (0, 0), "radius": 3, "start": 0, "sweep": 90, "depth": 1}),
    "dot": (cs.dot, {"centre": (0, 0), "depth": 1, "dwell": 0.1}),
    "ring": (cs.ring, {"radius": 3, "depth": 1, "centre": (0, 0)}),
    "oval": (cs.oval, {"width": 5, "height": 3, "depth": 1, "centre": (0, 0)}),
    "ellipse": (cs.ellipse, {"width": 5, "height": 3, "depth": 1, "tolerance": 0.01}),
    "spiral": (cs.spiral, {"inner": 1, "outer": 4, "turns": 1, "depth": 1, "start": 0, "tolerance": 0.01}),
    "rosette": (cs.rosette, {"outer": 5, "inner": 3, "petals": 3, "depth": 1, "tolerance": 0.01}),
    "curve": (cs.curve, {"function": bow, "depth": 1, "start": 0, "stop": 1, "tolerance": 0.01, "pieces": 3}),
    "paths_from": (cs.paths_from, {"thing": [(0, 0), (1, 0)], "depth": 1.0, "tolerance": 0.01, "smooth": 30.0}),
    "read_svg": (cs.read_svg, {"file": SVG, "depth": 1.0, "tolerance": 0.01, "smooth": 30.0}),
    "Path.with_depth": (LINE.with_depth, {"depth": 1.0}),
    "Path.split": (LINE.split, {"stations": 1.0}),
    "Path.started_at": (cs.ring(3, 1).started_at, {"station": 1.0}),
    "Path.position": (LINE.position, {"station": 1.0}),
    "Path.rotated": (LINE.rotated, {"degrees": 3.0}),
    "Path.shifted": (LINE.shifted, {"dx": 3.0, "dy": 1.0}),
    "Path.scaled": (LINE.scaled, {"factor": 2.0}),
    "Path.refined": (LINE.refined, {"pitch": 2.0}),
    "Cut": (cut, {"bit": BIT, "path": LINE, "spindle_speed": 18000, "feed": 1500, "spin": "cw", "phase": 0.0}),
    "Cut, more": (cut, {"machine": MACHINE, "passes": [0.2]}),
    "Pass": (cs.Pass, {"leave": 0.1, "reversed": False, "feed": 1000}),
    "Carving": (cs.Carving, {"cuts": (SMALL,), "air_moves": ()}),
    "Machine": (cs.Machine, {"acceleration": 300, "max_feed": 5000, "corners": "circle", "stiffness": 10.0}),
    "Machine, more": (
        lambda **k: cs.Machine(300, 5000, **k),
        {"vertex_gap": 0.01, "plunge_feed": 300, "rapid_feed": 4000, "travel": (300, 300, 80), "dial": None}
        | {"spindle_power": 400.0},
    ),
    "Dial": (cs.Dial, {"positions": [1, 2], "speeds": [9700, 20_450], "uncertainty": 0.1}),
    "speed_profile": (speed_profile, {"path": LINE, "feed": 1500, "machine": MACHINE}),
    "reached_feed": (reached_feed, {"cut": SMALL}),
    "wood": (cs.wood, {"name": "black cherry", "moisture": 8}),
    "straight_grain": (cs.straight_grain, {"azimuth": 0, "dive": 0}),
    "Grain.turned": (BOARD.grain.turned, {"degrees": 3.0}),
    "Board": (cs.Board, {"wood": WOOD, "grain": cs.straight_grain(0), "extent": (0, 0, 30, 20)}),
    "fibre_angle": (cs.fibre_angle, {"cutting_direction": (1, 0, 0), "wall_normal": (0, 1, 0), "fibre": (1, 1, 0)}),
    "edge_angle": (edge_angle, {"edge": (1, 0, 0), "fibre": (1, 1, 0)}),
    "fibre_axis": (fibre_axis, {"azimuth": 0.0, "dive": 0.0}),
    "tooth_passes": (
        cs.tooth_passes,
        {"cut": SMALL, "start": 0.0, "stop": 0.3, "angles": [30.0], "heights": [1.0], "board": BOARD},
    ),
    "lip_strikes": (cs.lip_strikes, {"carving": SMALL, "pitch": 1.0, "bundle": 0.2}),
    "groove_volume": (cs.groove_volume, {"carving": SMALL, "pitch": 1.0, "slices": 2}),
    "risk_map": (cs.risk_map, {"carving": SMALL, "board": BOARD, "model": None, "pitch": 1.0}),
    "risk_rose": (
        cs.risk_rose,
        {"cut": SMALL, "board": BOARD, "headings": [0.0, 30.0], "model": None, "draws": 2, "seed": 1},
    ),
    "model_draws": (cs.model_draws, {"n": 2, "seed": 1}),
    "ask_literature": (cs.ask_literature, {"model": None}),
    "RiskModel": (cs.RiskModel, {f.name: getattr(MODEL, f.name) for f in fields_of(MODEL)}),
    "RiskModel.critical_speed": (MODEL.critical_speed, {"wood": WOOD}),
    "RiskModel.rake_factor": (MODEL.rake_factor, {"rake": 10.0}),
    "RiskMap.mean": (risk_of("mean"), {"risk": "fuzz"}),
    "RiskMap.why": (risk_of("why"), {"station": 1.0, "side": "left"}),
    "RiskMap.worst_places": (risk_of("worst_places"), {"count": 3, "risk": "fuzz"}),
    "check_limits": (cs.check_limits, {"carving": SMALL, "machine": MACHINE, "flatness": 0.1, "zero": 0.05}),
    "check_limits, forces": (
        lambda **k: cs.check_limits(SMALL, **k),
        {"board": BOARD, "force_model": FORCE, "deflection": 0.1, "tip_strength": 2000.0},
    ),
    "CuttingForceModel": (cs.CuttingForceModel, {f.name: getattr(FORCE, f.name) for f in fields_of(FORCE)}),
    "CuttingForceModel.species_factor": (FORCE.species_factor, {"wood": WOOD}),
    "CuttingForceModel.direction_factor": (FORCE.direction_factor, {"motion": 0.5, "edge": 0.5}),
    "CuttingForceModel.normal_share": (FORCE.normal_share, {"rake": 10.0}),
    "CuttingForceModel.force_per_length": (
        FORCE.force_per_length,
        {"chip": 0.1, "edge_radius": 0.01, "wood": WOOD, "motion": 0.5, "edge": 0.5},
    ),
    "cutting_forces": (
        cs.cutting_forces,
        {"cut": SMALL, "board": BOARD, "model": None, "stiffness": 50.0, "station": 1.0},
    ),
    "thin_lands": (cs.thin_lands, {"carving": SMALL, "board": BOARD, "width": 2.0, "pitch": 1.0, "model": None}),
    "lands_table": (lands_table, {"lands": []}),
    "breakouts": (cs.breakouts, {"carving": SMALL, "board": BOARD, "pitch": 1.0, "reach": 0.5, "blunt": 150.0}),
    "coupon": (
        cs.coupon,
        {"bit": BIT, "board": BOARD, "spindle_speed": [16_000], "feed": [1400], "machine": MACHINE, "depth": 2.0}
        | {"sectors": 8, "margin": 8.0, "comb": [30.0], "spin": "cw", "name": "a", "seed": 1},
    ),
    "time_estimate": (cs.time_estimate, {"carving": SMALL, "machine": MACHINE}),
    "with_bit": (cs.with_bit, {"carving": SMALL, "bit": BIT, "keep": "width"}),
    "Setting": (cs.Setting, {"spindle_speed": 9000, "feed": 900, "bit": BIT, "passes": (0.2,), "rotation": 30.0}),
    "HandWork": (
        cs.HandWork,
        {"setup_length": 10.0, "spoilt": 60.0, "spoilt_length": 400.0},
    ),
    "HandWork, grades": (lambda **k: cs.HandWork(fuzz=(0, 1, 2, 3, 4), **k), {"spoilt": 60.0}),
    "compare": (
        cs.compare,
        {"options": {"a": SMALL}, "board": BOARD, "model": None, "pitch": 1.0}
        | {"handwork": None, "draws": 2, "seed": 1},
    ),
    "sweep": (
        lambda **k: cs.sweep(**({"workers": 1} | k)),
        {"carving": SMALL, "board": BOARD, "bit": None, "spindle_speed": [9000], "feed": 900, "passes": [0.2]}
        | {"rotation": 30.0, "keep": "width", "model": None, "pitch": 1.0, "checks": {"flatness": 0.1}}
        | {"executor": None, "workers": 1, "progress": False},
    ),
    "sweep, listed": (
        lambda **k: cs.sweep(SMALL, BOARD, workers=1, pitch=1.0, **k),
        {"settings": [{"feed": 900}]},
    ),
    "best_layout": (
        cs.best_layout,
        {"carving": SMALL, "board": BOARD, "step": 90.0, "span": 180, "mirrored": False, "model": None, "pitch": 1.0}
        | {"handwork": None, "draws": 2, "seed": 1},
    ),
    "recommend": (
        lambda **k: cs.recommend(**({"draws": 0, "workers": 1} | k)),
        {"carving": SMALL, "board": BOARD, "machine": DIALLED, "bits": BIT, "time_limit": 60.0, "positions": [1.0]}
        | {"feeds": [900], "passes": [()], "rotations": [0], "checks": None, "keep": "width", "draws": 2, "seed": 1}
        | {"model": None, "pitch": 1.0, "workers": 1, "handwork": None, "given": ["dial"], "refine": False},
    ),
    "recommend, speeds": (
        lambda **k: cs.recommend(SMALL, BOARD, MACHINE, BIT, feeds=[900], draws=0, workers=1, pitch=1.0, **k),
        {"speeds": [9000]},
    ),
    "width_card": (
        cs.width_card,
        {"bit": BIT, "depths": [1.0, 2.0], "flatness": 0.1, "zero_error": 0.05, "tip_error": 0.1},
    ),
}
OPTIONAL = {  # None is legal for these, and so is not rubbish
    *("cutting_length", "max_spindle_speed", "machine", "passes", "feed of Pass", "model", "board", "stop", "sweep"),
    *("edge_radius of VBit", "edge_radius of ProfileBit"),
    *("stiffness", "rapid_feed", "travel", "dial", "headings", "spindle_power", "extent"),
    *("station of cutting_forces", "force_model", "handwork"),
    *(
        "settings",
        "checks",
        "executor",
        "workers",
        "time_limit",
        "positions",
        "feeds",
        "bit of sweep",
        "bit of Setting",
    ),
    *("spindle_speed of sweep", "feed of sweep", "rotation of sweep", "spindle_speed of Setting", "feed of Setting"),
}
A_WORD = {("coupon", "name")}  # where any word is good, and so is this one
NAN_PASSES = {("fibre_angle", a) for a in ("cutting_direction", "wall_normal", "fibre")}  # documented, as is edge_angle
NAN_PASSES |= {("edge_angle", a) for a in ("edge", "fibre")}
RUBBISH = {
    "nan": NAN,
    "inf": INF,
    "minus inf": -INF,
    "word": "rubbish",
    "object": object(),
    "list of words": ["a", "b"],
    "nan in a list": [NAN, 1.0],
    "dict": {"a": 1},
    "too deep": [[[[1.0]]]],
    "none": None,
}
ANY_SHAPE = {("VBit.radius", "height"), ("VBit.half_width", "depth"), ("Path.position", "station")}
ANY_SHAPE |= {("CuttingForceModel.force_per_length", "chip"), ("fibre_axis", "azimuth"), ("fibre_axis", "dive")}


@pytest.mark.parametrize("call", PUBLIC)
def test_the_calls_are_in_order_before_they_are_spoilt(call):
    make, good = PUBLIC[call]
    make(**good)


@pytest.mark.parametrize(("call", "name"), [(call, name) for call, (_, good) in PUBLIC.items() for name in good])
def test_rubbish_is_refused_by_name(call, name):
    make, good = PUBLIC[call]
    for kind, value in RUBBISH.items():
        if value is None and (name in OPTIONAL or f"{name} of {call}" in OPTIONAL):
            continue
        if kind == "too deep" and (call, name) in ANY_SHAPE:
            continue
        if kind == "word" and (call, name) in A_WORD:
            continue
        if kind.startswith("nan") and (call, name) in NAN_PASSES:
            continue
        with pytest.raises(cs.DomainError, match=name):
            make(**(good | {name: value}))


SCALARS = [
    (call, name)
    for call in PUBLIC
    for name, value in PUBLIC[call][1].items()
    if isinstance(value, (int, float))
    and not isinstance(value, bool)
    and not call.startswith(
        ("RiskMap", "risk_", "groove", "lip_", "tooth", "check", "time_", "best", "sweep", "recom", "comp", "Set")
    )
]


@steadily(400)
@given(which=st.sampled_from(SCALARS), value=st.floats())
def test_any_number_is_taken_or_refused(which, value):
    """No other error, no warning and no hang, whatever float stands in the place of a number."""
    call, name = which
    make, good = PUBLIC[call]
    if call == "spiral" and name == "turns" and value > 100:
        value = 100.0  # legal, and slow
    if call == "Path.refined" and 0 < value < 1e-3:
        value = 1e-3  # legal, and large
    with contextlib.suppress(cs.DomainError):
        make(**(good | {name: value}))


@pytest.mark.parametrize(
    ("call", "name"),
    [
        *(("oval", "width"), ("ellipse", "width"), ("ellipse", "height"), ("spiral", "outer"), ("rosette", "outer")),
        *(("curve", "start"), ("curve", "stop"), ("RiskModel.rake_factor", "rake"), ("ring", "radius")),
    ],
)
def test_a_size_beyond_all_boards(call, name):
    make, good = PUBLIC[call]
    for value in (1e200, 1e308):
        with pytest.raises(cs.DomainError, match=name):
            make(**(good | {name: value}))


# --- grain fields -----------------------------------------------------------------------------------------------------

FIELDS = {
    "one number too few": lambda x, y: np.zeros(len(x) - 1),
    "two rows": lambda x, y: np.zeros((2, len(x))),
    "three answers": lambda x, y: (x, y, y),
    "nan at one point": lambda x, y: np.where(x == x.max(), NAN, 10.0),
    "inf": lambda x, y: np.full(x.shape, INF),
    "none": lambda x, y: None,
    "words": lambda x, y: np.full(x.shape, "along"),
    "dive too steep": lambda x, y: (x, np.full(x.shape, 90.5)),
    "dive nan": lambda x, y: (x, np.full(x.shape, NAN)),
    "complex": lambda x, y: np.full(x.shape, 1 + 2j),
}


@pytest.mark.parametrize("name", FIELDS)
def test_a_grain_field_that_does_not_answer(name):
    with pytest.raises((cs.DomainError, np.exceptions.ComplexWarning), match=r"grain|complex"):
        cs.risk_map(SMALL, cs.Board(WOOD, cs.grain_field(FIELDS[name])), pitch=1.0)


def test_a_grain_field_may_answer_with_one_number_and_may_not_spoil_the_points():
    def field(x, y):
        x[:] = NAN  # its own copy
        return 30

    one = cs.risk_map(SMALL, cs.Board(WOOD, cs.grain_field(field)), pitch=1.0)
    two = cs.risk_map(SMALL, cs.Board(WOOD, cs.straight_grain(30)), pitch=1.0)
    assert one.fuzz.tobytes() == two.fuzz.tobytes()


# --- bits that only look like one -------------------------------------------------------------------------------------


class Cove:
    """A round-nosed bit of one's own with every attribute asked for."""

    diameter, flutes, rake, clearance, edge_radius, runout, runout_azimuth = 6.0, 2, 10.0, 15.0, 0.008, 0.0, 0.0
    cutting_length = max_spindle_speed = None

    def radius(self, height):
        return np.sqrt(np.clip(6 * np.asarray(height, float) - np.asarray(height, float) ** 2, 0, 9))


@pytest.mark.parametrize(
    ("radius", "words"),
    [
        (lambda h: np.zeros(3), "shape"),
        (lambda h: 3.0, "shape"),
        (lambda h: -np.asarray(h), "-"),
        (lambda h: np.asarray(h) * NAN, "nan"),
        (lambda h: 5 - np.asarray(h), "fall"),
        (lambda h: np.zeros_like(h), "positive"),
    ],
)
def test_an_outline_that_cannot_be(radius, words):
    bit = Cove()
    assert cut(bit=bit).half_width(np.array([2.0])) == pytest.approx(np.sqrt(8), abs=1e-6)
    bit.radius = radius
    with pytest.raises(cs.DomainError, match=words):
        cut(bit=bit)


# --- saved maps -------------------------------------------------------------------------------------------------------


def saved(tmp_path, **change):
    """A saved map whose members are replaced, or left out where the change says None."""
    good = tmp_path / "good.npz"
    cs.risk_map(SMALL, BOARD, pitch=1.0).save(good)
    with np.load(good) as data:
        content = {k: data[k] for k in data.files}
    content = {k: v for k, v in (content | change).items() if v is not None}
    bad = tmp_path / "bad.npz"
    np.savez(bad, **content)
    return bad


def test_what_is_not_a_saved_map_is_not_loaded(tmp_path):
    whole = tmp_path / "whole.npz"
    cs.risk_map(SMALL, BOARD, pitch=1.0).save(whole)
    bad = {
        "empty": b"",
        "text": b"station,side\n1,left\n",
        "cut short": whole.read_bytes()[:-200],
        "bytes": bytes(range(256)) * 8,
        "array": b"\x93NUMPY\x01\x00",
    }
    for name, content in bad.items():
        path = tmp_path / f"{name}.npz"
        path.write_bytes(content)
        with pytest.raises(cs.DomainError, match=r"path must hold a saved risk map, got .*npz"):
            cs.RiskMap.load(path)
    with pytest.raises(FileNotFoundError):
        cs.RiskMap.load(tmp_path / "nowhere.npz")


@pytest.mark.parametrize(
    "change",
    [
        {"fuzz": None},
        {"setup": None},
        {"chipsim_risk_map": None},
        {"chipsim_risk_map": np.array(999)},
        {"setup": np.array("{not json")},
        {"station": np.array([{}], dtype=object)},
    ],
    ids=["no fuzz", "no settings", "no version", "another version", "no json", "pickled objects"],
)
def test_a_saved_map_with_something_amiss_is_not_loaded(tmp_path, change):
    with pytest.raises(cs.DomainError, match="path must hold"):
        cs.RiskMap.load(saved(tmp_path, **change))


@pytest.mark.parametrize(
    "change",
    [
        {"fuzz": np.zeros(3)},
        {"station": np.array(["a"])},
        {"setup": np.array(json.dumps([1, 2]))},
        {"setup": np.array("{}")},
    ],
    ids=["shape", "words", "settings a list", "settings empty"],
)
def test_a_saved_map_of_the_wrong_shape_is_not_loaded(tmp_path, change):
    with pytest.raises(cs.DomainError, match="path must hold"):
        cs.RiskMap.load(saved(tmp_path, **change))


# --- the edges of what is allowed are allowed -------------------------------------------------------------------------

EDGES_OF_RANGE = {
    "narrowest angle": lambda: cs.VBit(5, 6),
    "widest angle": lambda: cs.VBit(180 - 1e-6, 6),
    "smallest bit": lambda: cs.VBit(60, 1),
    "largest bit": lambda: cs.VBit(60, 150, 12),
    "slowest": lambda: cut(spindle_speed=1000, feed=100),
    "fastest": lambda: cut(spindle_speed=100_000, feed=60_000),
    "as marked": lambda: cut(bit=cs.VBit(60, 6, max_spindle_speed=18000, cutting_length=2.0)),
    "no depth": lambda: cs.line((0, 0), (1, 0), 0),
    "deepest": lambda: cs.line((0, 0), (1, 0), 200),
    "nearly round": lambda: cs.Path([(0, 0), (1, 0)], 1, sweep=[359.999]),
    "steepest dive": lambda: cs.straight_grain(0, -90),
}


@pytest.mark.parametrize("name", EDGES_OF_RANGE)
def test_the_ends_of_the_ranges_are_legal(name):
    assert EDGES_OF_RANGE[name]() is not None


def test_slow_feed_at_high_speed_is_worked_out():
    """100 mm/min at 60 000 rpm and eight flutes: a fifth of a micrometre a tooth, thousands of strikes a lip point."""
    slow = cs.Cut(cs.VBit(90, 12.7, 8), cs.line((0, 0), (1, 0), 1.0), 60_000, 100)
    assert slow.feed_per_tooth == pytest.approx(0.05 / 240)
    found = cs.lip_strikes(slow, pitch=0.5)
    assert found.counts[found.lips.kind == "run"].min() > 1000
    assert math.isfinite(cs.risk_map(slow, BOARD, pitch=0.5).mean("fuzz"))
    table = cs.tooth_passes(slow, start=0.5, stop=0.5005, angles=[45.0, 90.0], heights=[0.5])
    ahead = table.radial_thickness[:, 1, 0]
    np.testing.assert_allclose(ahead[np.isfinite(ahead)], slow.feed_per_tooth, rtol=1e-6)


@pytest.mark.parametrize(
    "ask",
    [
        lambda: cs.line((0, 0), (40, 0), 1.0).with_depth(lambda s: 0.5 if s < 20 else 1.0),
        lambda: cs.line((0, 0), (40, 0), 1.0).with_depth(lambda s: 1 + math.sin(s)),
        lambda: cs.grain_field(lambda x, y: 0 if x < 20 else 45).at([(0, 0), (30, 0)]),
        lambda: cs.curve(lambda t: (t if t < 0.5 else 1 - t, t), 1.0),
    ],
)
def test_functions_of_a_single_number_are_told_that_arrays_come(ask):
    with pytest.raises(cs.DomainError, match=r"must take arrays and return one number for each .* np\.sin"):
        ask()
