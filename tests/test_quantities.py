"""Numbers that come with a unit, or in the wrong one: converted, asked about or refused, never taken for another."""

import math
import re
from dataclasses import replace

import numpy as np
import pytest
from matplotlib.text import Text

import chipsim as cs
from chipsim.scene.machine import speed_profile

MM = {"mm": 1.0, "inch": 25.4, "cm": 10.0}
DEG = {"deg": 1.0, "radian": 180 / math.pi}
SPEED = {"rpm": 1.0, "rev / s": 60.0}
FEED = {"mm/min": 1.0, "inch/min": 25.4, "mm/s": 60.0}
TIME = {"s": 1.0, "min": 60.0}
SHARE = {"": 1.0, "percent": 0.01}
KINDS = (MM, DEG, SPEED, FEED, TIME, SHARE, {"N/mm": 1.0, "N/m": 1e-3}, {"%": 1.0}, {"mm/s^2": 1.0, "m/s^2": 1000.0})


class Stand:
    """A quantity as units libraries have it: a number or an array, a unit, and `to`."""

    def __init__(self, number, unit):
        self.magnitude, self.units = number, unit

    def to(self, unit):
        for kind in KINDS:
            if self.units in kind and unit in kind:
                return type(self)(np.multiply(self.magnitude, kind[self.units] / kind[unit])[()], unit)
        raise KeyError(f"cannot convert from {self.units!r} to {unit!r}")

    def __float__(self):  # what makes it dangerous: it passes for a number
        return float(np.multiply(self.magnitude, DEG.get(self.units, 1.0) * math.pi / 180 if self.units in DEG else 1))

    def __array__(self, dtype=None, copy=None):
        return np.asarray(self.magnitude, dtype=dtype)

    def __mul__(self, factor):
        return type(self)(np.multiply(self.magnitude, factor), self.units)


class Other(Stand):
    """The same in the words of other libraries: `unit` and `value`."""

    def __init__(self, number, unit):
        self.value, self.unit = number, unit

    magnitude = property(lambda self: self.value)
    units = property(lambda self: self.unit)


class Deaf:
    """A number with a unit that nobody can convert."""

    units = "inch"

    def __float__(self):
        return 0.5


BIT, LINE = cs.VBit(60, 12, 2), cs.line((0, 0), (20, 0), 2.0)


@pytest.mark.parametrize("q", [Stand, Other])
def test_a_quantity_is_converted_to_the_unit_of_the_argument(q):
    bit = cs.VBit(q(math.pi / 3, "radian"), q(0.5, "inch"), 2, q(0.01, "cm"), rake=q(12, "deg"))
    assert (bit.included_angle, bit.diameter, bit.tip_width) == pytest.approx((60, 12.7, 0.1), rel=1e-15)
    assert bit.rake == 12
    assert type(bit.diameter) is float
    cut = cs.Cut(bit, LINE, q(250, "rev / s"), q(60, "inch/min"), phase=q(30, "deg"), passes=[q(0.02, "cm")])
    assert (cut.spindle_speed, cut.feed, cut.phase) == pytest.approx((15_000, 1524, 30))
    assert cut.passes[0].leave == pytest.approx(0.2)
    machine = cs.Machine(q(0.3, "m/s^2"), q(50, "mm/s"), vertex_gap=q(0.002, "inch"), stiffness=q(5000, "N/m"))
    assert (machine.acceleration, machine.max_feed, machine.vertex_gap) == pytest.approx((300, 3000, 0.0508))
    assert machine.stiffness == pytest.approx(5)
    assert cs.straight_grain(q(math.pi / 2, "radian")).at(np.zeros(2))[0] == pytest.approx(90)
    assert cs.wood("black cherry", moisture=q(8, "%")).moisture == 8


@pytest.mark.parametrize("q", [Stand, Other])
def test_arrays_of_quantities_are_converted_and_never_stripped(q):
    inches = q(np.array([[0.0, 0.0], [1.0, 0.0]]), "inch")
    for path in (
        cs.polyline(inches, q(0.1, "inch")),
        cs.Path(inches, q(np.array([0.1, 0.1]), "inch")),
        cs.line((q(0, "inch"), q(0, "inch")), [q(1, "inch"), q(0, "cm")], q(0.1, "inch")),
        cs.polyline([[q(0, "inch"), 0], [q(1, "inch"), 0]], [q(0.1, "inch"), 2.54]),
        cs.line((0, 0), (25.4, 0), np.array([q(0.1, "inch")] * 2, dtype=object)),
    ):
        assert path.length == pytest.approx(25.4)
        np.testing.assert_allclose(path.depth, 2.54)
    assert cs.ring(q(1, "inch"), q(0.1, "inch")).length == pytest.approx(2 * math.pi * 25.4)
    bit = cs.ProfileBit(q(np.array([0, 0.1]), "inch"), q(np.array([0, 0.2]), "inch"))
    assert bit.diameter == pytest.approx(0.4 * 25.4)
    assert float(bit.radius(q(0.05, "inch"))) == pytest.approx(0.1 * 25.4)
    assert float(BIT.half_width(q(0.1, "cm"))) == pytest.approx(math.tan(math.radians(30)))
    cut = cs.Cut(BIT, LINE, 15_000, 1500)
    assert float(cut.half_width(q(0.1, "cm"))) == pytest.approx(math.tan(math.radians(30)))
    passes = cs.tooth_passes(cut, angles=q([math.pi / 2], "radian"), heights=q([0.05], "cm"), stop=q(0.1, "cm"))
    assert passes.angles == pytest.approx([90])
    assert passes.heights == pytest.approx([0.5])
    assert cs.width_card(BIT, q([0.1], "cm"), zero_error=q(0.01, "cm")).width == pytest.approx(
        cs.width_card(BIT, 1).width
    )
    dial = cs.Dial([1, 2], q([200, 300], "rev / s"))
    assert dial.speeds == pytest.approx((12_000, 18_000))
    board = cs.Board(cs.wood("black cherry", moisture=8), grain=cs.straight_grain(0), extent=q([0, 0, 10, 5], "cm"))
    assert board.extent == (0, 0, 100, 50)


@pytest.mark.parametrize("q", [Stand, Other])
def test_a_sweeps_axes_take_quantities(q):
    board = cs.Board(cs.wood("black cherry", moisture=8), grain=cs.straight_grain(0))
    cut = cs.Cut(BIT, cs.line((0, 0), (3, 0), 2.0), 15_000, 1500)
    found = cs.sweep(
        cut, board, feed=q(np.array([50, 60]), "inch/min"), spindle_speed=q(250, "rev / s"), pitch=1.0, workers=1
    )
    assert [c.setting.feed for c in found] == pytest.approx([1270, 1524])
    assert found[0].setting.spindle_speed == 15_000
    assert not found.failed


WRONG = {
    "a length for an angle": (
        lambda q: cs.VBit(q(60, "mm"), 12),
        "included_angle must be in deg, got a quantity in mm",
    ),
    "an angle for a length": (lambda q: cs.VBit(60, q(12, "deg")), "diameter must be in mm, got a quantity in deg"),
    "a bare number of a library for an angle": (lambda q: cs.VBit(q(60, ""), 12), "included_angle must be in deg"),
    "a speed for a feed": (lambda q: cs.Cut(BIT, LINE, 15_000, q(1500, "rpm")), "feed must be in mm/min"),
    "a feed for a speed": (lambda q: cs.Cut(BIT, LINE, q(1500, "mm/s"), 1500), "spindle_speed must be in rpm"),
    "degrees for a plain number": (lambda q: LINE.scaled(q(2, "deg")), "factor must be in a plain number"),
    "a length for a count": (lambda q: cs.VBit(60, 12, q(2, "mm")), "flutes must be in a plain number"),
    "an array in degrees": (lambda q: cs.polyline(q(np.eye(2), "deg"), 1), "points must be in mm"),
    "one of a list": (lambda q: cs.polyline([[0, 0], [q(1, "deg"), 0]], 1), "points must be in mm"),
    "a grain in mm": (lambda q: cs.straight_grain(q(90, "mm")), "azimuth must be in deg"),
    "a user's own bit": (lambda q: cs.Cut(Own(q(12, "mm")), LINE, 15_000, 1500), "bit.diameter must be"),
}


class Own:
    """A bit whose diameter is a quantity; a user's bit is used as it is, so that nothing can be converted."""

    flutes, rake, clearance, edge_radius, runout, runout_azimuth = 2, 10.0, 15.0, 0.008, 0.0, 0.0
    cutting_length = max_spindle_speed = None

    def __init__(self, diameter):
        self.diameter = diameter

    def radius(self, height):
        return np.minimum(np.asarray(height, dtype=float), 6.0)


@pytest.mark.parametrize("q", [Stand, Other])
@pytest.mark.parametrize("name", WRONG)
def test_a_quantity_of_the_wrong_kind_is_refused(name, q):
    call, message = WRONG[name]
    with pytest.raises(cs.DomainError, match=re.escape(message)):
        call(q)


def test_a_number_with_a_unit_that_cannot_be_converted_is_refused():
    with pytest.raises(cs.DomainError, match=r"diameter must be in mm, got a quantity in inch, which has no to\(...\)"):
        cs.VBit(60, Deaf())
    with pytest.raises(cs.DomainError, match="got a quantity in inch"):
        cs.line((0, 0), (Deaf(), 0), 1)


def test_quantities_of_a_general_units_library_are_converted():
    pint = pytest.importorskip("pint")
    q = pint.UnitRegistry().Quantity
    bit = cs.VBit(q(60, "deg"), q(0.5, "inch"), 2, indicator_reading=q(1, "thou"))
    assert (bit.included_angle, bit.diameter, bit.runout) == pytest.approx((60, 12.7, 0.0127))
    assert cs.VBit(q(math.pi / 3, "rad"), 12).included_angle == pytest.approx(60)
    cut = cs.Cut(bit, cs.polyline(q([[0, 0], [1, 0]], "inch"), q(2, "mm")), q(15_000, "rpm"), q(60, "inch/min"))
    assert (cut.path.length, cut.spindle_speed, cut.feed) == pytest.approx((25.4, 15_000, 1524))
    assert cs.Machine(q(0.3, "m/s^2"), 3000, stiffness=q(5, "kN/m")).stiffness == pytest.approx(5)
    assert cs.line((q(0, "mm"), q(0, "mm")), (q(1, "inch"), q(0, "mm")), 1).length == pytest.approx(25.4)
    for wrong in (q(60, "mm"), q(60, ""), q(60, "percent")):
        with pytest.raises(cs.DomainError, match="included_angle must be in deg"):
            cs.VBit(wrong, 12)
    for wrong in (q(250, "Hz"), q(250, "1/s")):
        with pytest.raises(cs.DomainError, match="spindle_speed must be in rpm"):
            cs.Cut(bit, LINE, wrong, 1500)
    with pytest.raises(cs.DomainError, match="factor must be in a plain number"):
        LINE.scaled(q(60, "deg"))


def test_quantities_of_an_astronomers_units_library_are_converted():
    u = pytest.importorskip("astropy.units")
    bit = cs.VBit(60 * u.deg, 0.5 * u.imperial.inch, 2)
    assert (bit.included_angle, bit.diameter) == pytest.approx((60, 12.7))
    assert cs.VBit(math.pi / 3 * u.rad, 12).included_angle == pytest.approx(60)
    path = cs.polyline([[0, 0], [1, 0]] * u.imperial.inch, 2 * u.mm)
    cut = cs.Cut(bit, path, 250 * u.cycle / u.s, 60 * u.imperial.inch / u.min)
    assert (cut.path.length, cut.spindle_speed, cut.feed) == pytest.approx((25.4, 15_000, 1524))
    for wrong in (60 * u.mm, 60 * u.dimensionless_unscaled):
        with pytest.raises(cs.DomainError, match="included_angle must be in deg"):
            cs.VBit(wrong, 12)
    with pytest.raises(cs.DomainError, match="spindle_speed must be in rpm"):
        cs.Cut(bit, LINE, 250 / u.s, 1500)


# --- the wrong unit without a word --------------------------------------------------------------------


@pytest.mark.parametrize("angle", [math.pi / 3, math.pi / 2, 1.05, 2.1, 0.5, 3.14])
def test_a_bits_angle_in_radians_is_asked_about(angle):
    with pytest.raises(cs.DomainError, match=rf"included_angle .*were radians meant\? {angle:g} rad = "):
        cs.VBit(angle, 12)


RADIANS = {
    "rake": lambda a: cs.VBit(60, 12, rake=a),
    "runout_azimuth": lambda a: cs.VBit(60, 12, runout_azimuth=a),
    "azimuth": lambda a: cs.straight_grain(a),
    "dive": lambda a: cs.straight_grain(0, a),
    "degrees": lambda a: LINE.rotated(a),
    "phase": lambda a: cs.Cut(BIT, LINE, 15_000, 1500, phase=a),
    "sweep": lambda a: cs.arc((0, 0), 5, 0, a, 1),
    "start": lambda a: cs.arc((0, 0), 5, a, 90, 1),
    "angles": lambda a: cs.tooth_passes(cs.Cut(BIT, LINE, 15_000, 1500), angles=[0.0, a], heights=1.0),
    "angle": lambda a: cs.Machine(300, 3000).corner_feed(a),
    "headings": lambda a: cs.risk_rose(
        cs.Cut(BIT, LINE, 15_000, 1500),
        cs.Board(cs.wood("black cherry", moisture=8), grain=cs.straight_grain(0)),
        headings=[0.0, a],
    ),
}


@pytest.mark.parametrize("name", RADIANS)
@pytest.mark.parametrize("degrees", [30, 45, 60, 90])
def test_whole_degrees_in_radians_are_asked_about_wherever_an_angle_goes_in(name, degrees):
    wanted = math.radians(degrees)
    with pytest.raises(
        cs.DomainError, match=rf"{name} must be in degrees, got {wanted:.17f}"[:-8] + rf".*They are {degrees} deg"
    ):
        RADIANS[name](wanted)


@pytest.mark.parametrize("angle", [0, 1, 1.5, 1.57, 1.5708, 0.5236, 30, 90, 57.29577951308232])
def test_angles_that_may_be_degrees_are_taken_for_degrees(angle):
    """1.57 is a quarter turn in radians and a fair azimuth in degrees: only the digits of whole degrees tell."""
    assert cs.straight_grain(angle).at(np.zeros(2))[0] == pytest.approx(angle % 180)


@pytest.mark.parametrize("feed", [12, 40, 60, 80, 99.9])
def test_a_feed_that_looks_like_inches_per_minute_is_asked_about(feed):
    machine = cs.Machine(300, 3000)
    board = cs.Board(cs.wood("black cherry", moisture=8), grain=cs.straight_grain(0))
    for call in (
        lambda: cs.Cut(BIT, LINE, 15_000, feed),
        lambda: cs.Pass(0.2, feed=feed),
        lambda: cs.Machine(300, feed),
        lambda: cs.Machine(300, 3000, rapid_feed=feed),
        lambda: speed_profile(LINE, feed, machine),
        lambda: cs.recommend(cs.Cut(BIT, LINE, 15_000, 1500), board, machine, BIT, speeds=[15_000], feeds=[feed]),
        lambda: cs.coupon(BIT, board, [15_000], [feed], machine=machine, depth=2.0),
    ):
        with pytest.raises(
            cs.DomainError, match=rf"were inches per minute meant\? {feed:g} in/min = {feed * 25.4:g} mm"
        ):
            call()


@pytest.mark.parametrize("feed", [10, 40, 60])
def test_a_plunge_feed_that_looks_like_inches_per_minute_is_asked_about(feed):
    cut = cs.Cut(BIT, LINE, 15_000, 1500)
    for call in (
        lambda: cs.Machine(300, 3000, plunge_feed=feed),
        lambda: cs.check_limits(cut, plunge_feed=feed),
        lambda: cs.write_rs274(cut, plunge_feed=feed),
    ):
        with pytest.raises(cs.DomainError, match="were inches per minute meant"):
            call()


@pytest.mark.parametrize("feed", [100, 254, 600, 1500, 6000, 12_000])
def test_the_feeds_of_bench_top_machines_pass(feed):
    assert cs.Cut(BIT, LINE, 15_000, feed).feed == feed
    assert cs.Machine(300, feed, plunge_feed=min(feed, 300)).max_feed == feed


# --- runout and what an indicator reads --------------------------------------------------------------


@pytest.mark.parametrize("make", [lambda **k: cs.VBit(60, 12, **k), lambda **k: cs.ProfileBit([0, 6], [0, 6], **k)])
def test_an_indicators_reading_is_twice_the_runout_and_both_are_said(make):
    bit = make(indicator_reading=0.05)
    assert bit.runout == 0.025
    assert bit == make(runout=0.025)
    assert replace(bit, runout=0.01).runout == 0.01
    assert replace(bit, flutes=2).runout == 0.025
    cut = cs.Cut(bit, LINE, 15_000, 1500)
    assert "runout 0.025 mm (an indicator reads 0.05 mm)" in cut.caption()
    with pytest.raises(
        cs.DomainError, match=r"indicator_reading must be None where runout is given, got 0\.05 and 0\.01"
    ):
        make(indicator_reading=0.05, runout=0.01)
    with pytest.raises(cs.DomainError, match=r"indicator_reading must lie in \[0, 2\] mm, got -1"):
        make(indicator_reading=-1)
    assert make(indicator_reading=0).runout == 0


def test_the_profile_of_a_bit_says_both_figures_of_its_runout():
    figure = cs.draw_profile(cs.VBit(60, 12, runout=0.02)).axes.figure
    words = " ".join(" ".join(t.get_text() for t in figure.findobj(Text)).split())
    assert "runout 0.02 mm (an indicator reads 0.04 mm)" in words


# --- models that are none -----------------------------------------------------------------------------


class Bundle:
    def __init__(self, bundle, risks=None):
        self.bundle, self.risks = bundle, risks

    def lip_risks(self, *_):
        return self.risks


class NoBundle:
    def lip_risks(self, *_):
        return {}


class NotCalled:
    bundle, lip_risks = 0.3, 3


NO_MODELS = {
    "a number": (3, "model must have bundle and lip_risks, as RiskModel"),
    "words": ("model", "model must have bundle and lip_risks"),
    "risks without a bundle": (NoBundle(), "model must have bundle and lip_risks"),
    "a bundle without risks": (NotCalled(), "model must have bundle and lip_risks"),
    "the class": (cs.RiskModel, "got the class RiskModel itself; were its brackets forgotten"),
    "the model of the forces": (cs.CuttingForceModel(), "model must have bundle and lip_risks"),
    "a bundle in words": (Bundle("0.3"), "model.bundle must be a number"),
    "a bundle that is none": (Bundle(math.nan), "model.bundle must lie in"),
    "no bundle": (Bundle(0), "model.bundle must lie in"),
}
NO_RISKS = {
    "a number": (Bundle(0.3, 3), "model.lip_risks must return a mapping from risks to arrays, got int"),
    "words": (Bundle(0.3, {"fuzz": "no"}), "model.lip_risks must return arrays of numbers"),
    "another shape": (Bundle(0.3, {"fuzz": np.zeros(3)}), "model.lip_risks must return arrays of shape"),
}


def uses():
    board = cs.Board(cs.wood("black cherry", moisture=8), grain=cs.straight_grain(0))
    cut, machine = cs.Cut(BIT, cs.line((0, 0), (3, 0), 2.0), 15_000, 1500), cs.Machine(300, 3000)
    one = {"speeds": [15_000], "feeds": [1500], "rotations": [0], "draws": 2, "workers": 1}
    return {
        "risk_map": lambda m: cs.risk_map(cut, board, model=m, pitch=1.0),
        "risk_map with draws": lambda m: cs.risk_map(cut, board, model=m, pitch=1.0, draws=2),
        "risk_rose": lambda m: cs.risk_rose(cut, board, model=m),
        "sweep": lambda m: cs.sweep(cut, board, feed=[1500], model=m, pitch=1.0, workers=1),
        "compare": lambda m: cs.compare({"a": cut}, board, model=m, pitch=1.0),
        "best_layout": lambda m: cs.best_layout(cut, board, model=m, step=90, pitch=1.0),
        "recommend": lambda m: cs.recommend(cut, board, machine, BIT, model=m, pitch=1.0, **one),
    }


@pytest.mark.parametrize("name", uses())
def test_what_is_no_model_is_refused_by_name(name):
    for thing, message in NO_MODELS.values():
        with pytest.raises(cs.DomainError, match=re.escape(message)):
            uses()[name](thing)


@pytest.mark.parametrize("name", ["risk_map", "compare", "best_layout"])
def test_a_model_that_returns_no_risks_is_refused_by_name(name):
    for thing, message in NO_RISKS.values():
        with pytest.raises(cs.DomainError, match=re.escape(message)):
            uses()[name](thing)


@pytest.mark.parametrize("name", ["thin_lands", "cutting_forces", "check_limits", "fit", "invented_grades"])
def test_a_model_of_another_kind_is_refused_by_name(name):
    board = cs.Board(cs.wood("black cherry", moisture=8), grain=cs.straight_grain(0))
    cut = cs.Cut(BIT, LINE, 15_000, 1500)
    for thing in (3, "model", cs.RiskModel, Bundle(0.3)):
        with pytest.raises(cs.DomainError, match=r"model must be a|coupon must be a"):
            {
                "thin_lands": lambda m: cs.thin_lands(cut, board, model=m),
                "cutting_forces": lambda m: cs.cutting_forces(cut, board, model=m),
                "check_limits": lambda m: cs.check_limits(cut, board=board, force_model=m),
                "fit": lambda m: cs.fit([], [], m),
                "invented_grades": lambda m: cs.invented_grades(None, m),
            }[name](thing)


def test_the_errors_of_a_width_card_cannot_be_read_as_the_tip_and_the_angle():
    for name in ("zero", "tip", "angle"):
        with pytest.raises(TypeError, match=name):
            cs.width_card(BIT, 1.0, **{name: 0.1})
    card = cs.width_card(BIT, 1.0, zero_error=0.1, tip_error=0.05, angle_error=1)
    assert card.zero_error == pytest.approx([0.2 * math.tan(math.radians(30))])
    assert card.tip_error == [0.05]
    assert "errors: flatness 0.10 mm" in card.title
    assert "included angle 1 deg" in card.title
