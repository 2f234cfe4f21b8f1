"""What is printed is true: captions, reports, reasons and counts against the arrays and the set-ups they speak of."""

import csv
from dataclasses import dataclass, replace

import matplotlib
import numpy as np
import pytest

import chipsim as cs
from chipsim.damage.maps import CLASSES, DOUBTS, class_of
from chipsim.damage.models import END_GRAIN
from chipsim.pictures.comparison import draw_comparison
from chipsim.pictures.laying import draw_layout
from chipsim.pictures.risk_map import draw_risk_map
from chipsim.pictures.rose import draw_rose
from chipsim.pictures.setup import draw_profile

matplotlib.use("Agg")

BIT = cs.VBit(60, 12.7, 2, 0.2)
CHERRY = cs.wood("black cherry", moisture=8)
BOARD = cs.Board(CHERRY, cs.straight_grain(0))
RING = cs.Cut(BIT, cs.ring(9.0, 2.3), 17000, 1450)
STROKE = cs.Cut(BIT, cs.line((0, 0), (14, 0), 2.3), 17000, 1450)


def words(ax):
    """Everything written in axes."""
    from matplotlib.text import Text

    return "\n".join(text.get_text() for text in ax.figure.findobj(Text))


# ------------------------------------------------------------------------------------------ what was learned


class Taught(cs.RiskModel):
    """A model that says what it was learned from, as a fitted one does."""

    learned = "Learned from 96 grades of oak 1."


@pytest.mark.parametrize("kind", ["map", "map with a band", "rose"])
def test_a_rose_says_what_its_coefficients_rest_on(kind):
    """Starting guesses where nothing was learned, and never where something was."""
    for model, learned in ((cs.RiskModel(), False), (Taught(), True)):
        if kind == "rose":
            thing = cs.risk_rose(STROKE, BOARD, headings=[0.0, 45.0, 90.0], model=model)
        else:
            # a band of the taught model is that of its priors: it says so itself
            thing = cs.risk_map(RING, BOARD, model=model, pitch=2.0, draws=20 * (kind != "map"))
        ax = draw_rose(thing).axes
        if kind == "map with a band":
            assert "need heavy sanding" in words(ax)
        else:
            assert ("starting guesses" in words(ax)) != learned
            assert ("Learned from 96 grades of oak 1." in words(ax)) == learned
        matplotlib.pyplot.close(ax.figure)


def test_a_rose_takes_any_model_a_map_takes():
    @dataclass(frozen=True)
    class Half:
        bundle: float = 0.2

        def lip_risks(self, strikes, fibres, cut, wood):
            return {"fuzz": np.where(strikes.exists, 0.5, np.nan)}

    rose = cs.risk_rose(STROKE, BOARD, headings=[0.0, 90.0], model=Half())
    np.testing.assert_array_equal(rose.fuzz, 0.5)
    with pytest.raises(cs.DomainError, match="model must have bundle and lip_risks"):
        cs.risk_rose(STROKE, BOARD, headings=[0.0], model=object())


# --------------------------------------------------------------------------------------------- what a bit is


@dataclass(frozen=True)
class Nosed:
    """A cone of 60 degrees with a round nose of a radius: a ball for a large one, a V-bit for a small one."""

    nose: float
    included_angle: float = 60.0
    half_angle: float = 30.0
    tip_width: float = 0.0
    diameter: float = 12.0
    flutes: int = 2
    rake: float = 10.0
    clearance: float = 15.0
    edge_radius: float = 0.008
    runout: float = 0.0
    runout_azimuth: float = 0.0
    cutting_length: float | None = None
    max_spindle_speed: float | None = None

    def knots(self):
        a = np.radians(30.0)
        touch = self.nose * (1 - np.sin(a))
        top = touch + (self.diameter / 2 - self.nose * np.cos(a)) / np.tan(a)
        h = np.append(np.linspace(0.0, touch, 24), [top] if top > touch + 1e-6 else [])
        return h, self.outline(h)

    def radius(self, height):
        return np.interp(height, *self.knots())

    def outline(self, height):
        h, a = np.asarray(height, dtype=float), np.radians(30.0)
        touch = self.nose * (1 - np.sin(a))
        ball = np.sqrt(np.clip(2 * self.nose * h - h * h, 0.0, None))
        cone = self.nose * np.cos(a) + (h - touch) * np.tan(a)
        return np.minimum(np.where(h < touch, ball, cone), self.diameter / 2)


BALL = Nosed(6.0 / np.cos(np.radians(30.0)))  # as large as the bit: there is no flank at all


def told_of(bit):
    """Every sentence that words a bit."""
    cut = cs.Cut(bit, cs.line((0, 0), (14, 0), 1.5), 17000, 1450)
    ax = draw_profile(bit).axes
    drawn = words(ax)
    matplotlib.pyplot.close(ax.figure)
    passes = cs.tooth_passes(cut, start=5, stop=5.2, angles=[0.0, 90.0], heights=[1.0])
    return {
        "caption": cut.caption(),
        "map": str(cs.risk_map(cut, BOARD, pitch=7.0)),
        "passes": passes.caption,
        "program": cs.write_rs274(cut),
        "picture": drawn,
        "width card": str(cs.width_card(bit, [1.0])),
        "setting": cs.Setting(bit=bit).words(),
    }


def test_a_round_nose_is_no_v_bit_whatever_it_says_of_itself():
    """The outline decides, not an attribute: a ball and a bull nose are profile bits in every caption."""
    for bit in (BALL, Nosed(2.0)):
        for where, text in told_of(bit).items():
            assert "V-bit" not in text, where
            assert "60" not in text.split("mm")[0], where
            assert "profile bit" in text.lower() or "bit" in text, where


def test_a_v_bit_with_its_point_rounded_is_a_v_bit():
    """0.1 mm of nose on a bit of 12 mm; and so are the library's own, sharp, flat or subclassed."""

    class Own(cs.VBit):
        pass

    for bit in (Nosed(0.1), BIT, cs.VBit(60, 12.7), Own(60, 12.7, 2, 0.2)):
        text = cs.Cut(bit, cs.line((0, 0), (14, 0), 1.5), 17000, 1450).caption()
        assert text.startswith(f"60 deg V-bit, {bit.diameter:g} mm")
    assert "profile bit" in cs.Cut(cs.ProfileBit([0, 5], [0, 4]), STROKE.path, 17000, 1450).caption()


# ------------------------------------------------------------------------------------------ many set-ups, one line


def test_a_caption_says_the_range_of_what_differs():
    """Nothing is hidden behind 'and 3 more': bits, speeds, spins and feeds from the least to the greatest."""
    other = cs.ProfileBit([0.0, 2.0, 6.0], [0.5, 3.0, 4.0], flutes=3, runout=0.03)
    cuts = [
        STROKE,
        replace(STROKE, path=STROKE.path.shifted(0, 20), feed=1830),
        replace(STROKE, path=STROKE.path.shifted(0, 40), spindle_speed=12300, spin="ccw"),
        replace(STROKE, path=STROKE.path.shifted(0, 60), bit=other, feed=950),
    ]
    risk = cs.risk_map(cs.Carving(cuts), BOARD, pitch=2.0)
    caption = risk.setup["caption"]
    assert caption in " ".join(str(risk).split())
    assert "more" not in caption
    for piece in (
        "2 bits (60 deg V-bit, 12.7 mm, 2 flutes and profile bit, 8 mm, 3 flutes)",
        "12300 to 17000 rpm clockwise and counter-clockwise",
        "950 to 1830 mm/min (37 to 72 in/min)",
        "0.019 to 0.059 mm (0.7 to 2.3 thou) per tooth",
        "runout 0 to 0.03 mm",
    ):
        assert piece in caption
    same = cs.risk_map(cs.Carving(cuts[:1] * 2), BOARD, pitch=2.0)
    assert same.setup["caption"] == STROKE.caption()


def test_bits_alike_in_words_are_counted_all_the_same():
    worn = replace(STROKE, bit=cs.VBit(60, 12.7, 2, 0.2, edge_radius=0.04), path=STROKE.path.shifted(0, 20))
    risk = cs.risk_map(cs.Carving([STROKE, worn]), BOARD, pitch=2.0)
    assert risk.setup["caption"].startswith("2 bits (60 deg V-bit, 12.7 mm, 2 flutes)")
    for groove, bite in ((0, "8.0 um"), (1, "40.0 um")):
        assert f"thinner than {bite}" in " ".join(risk.why(7.0, "left", groove=groove).split())


def test_a_comparison_says_every_position_of_the_dial():
    dial = cs.Dial([1, 2.5, 5], [10_700, 15_300, 24_100])
    machine = cs.Machine(acceleration=400, max_feed=4000, plunge_feed=500, dial=dial)
    one = replace(STROKE, machine=machine, spindle_speed=15_300)
    two = replace(one, path=STROKE.path.shifted(0, 20), spindle_speed=10_700)
    assert "dial mark 1 and 2.5; " in str(cs.compare([cs.Carving([one, two])], BOARD, pitch=2.0))


# ------------------------------------------------------------------------------------------------ why a lip is bad

FINE = ("The strikes cut the fibres", "so few are left", "Few fibres are left", "stays below charring", "only 0.")
BAD = ("do not cut", "bend over", "only rub:", "too slow", "rubs too much", "add up")


@pytest.mark.parametrize("name", ["black walnut", "sugar maple", "black cherry", "yellow poplar", "northern red oak"])
def test_no_poor_lip_is_explained_by_what_is_fine_about_it(name):
    """Woods, feeds and edges: what the reason blames is what makes the lip poor, and a clean lip is not blamed."""
    board = cs.Board(cs.wood(name), cs.straight_grain(20))
    seen = set()
    for feed, speed, edge in ((700, 21000, 0.008), (1450, 17000, 0.008), (3800, 12000, 0.02), (900, 24000, 0.04)):
        cut = replace(RING, bit=replace(BIT, edge_radius=edge), feed=feed, spindle_speed=speed)
        risk = cs.risk_map(cut, board, pitch=0.5)
        mean = cs.risk_map(cut, board, pitch=0.5, model=cs.RiskModel(scatter=0.0))
        kept = cs.risk_map(cut, board, pitch=0.5, model=cs.RiskModel(support_fall=1e3))
        for i, k in np.argwhere(risk.exists).tolist():
            reason = risk.reason(i, k)
            clean = class_of(float(risk.damage[i, k])) == "clean"
            wrong = BAD if clean else FINE
            assert not any(piece in reason for piece in wrong), (reason, risk.damage[i, k])
            seen.add(reason.partition(":")[0])
            if "Not all fibres lie" in reason:
                assert mean.fuzz[i, k] < 0.5 * risk.fuzz[i, k] * (1 + 1e-9)
            if "bend over before" in reason:
                assert kept.fuzz[i, k] < risk.fuzz[i, k]
            if "add up" in reason:
                assert max(risk.values(r)[i, k] for r in ("fuzz", "tear", "scorch")) < CLASSES["clean"]
    assert len(seen) > 3


def test_a_model_that_gives_no_reason_is_given_none():
    @dataclass(frozen=True)
    class Half:
        bundle: float = 0.2

        def lip_risks(self, strikes, fibres, cut, wood):
            return {"fuzz": np.where(strikes.exists, 0.5, np.nan)}

    text = cs.risk_map(STROKE, BOARD, model=Half(), pitch=2.0).why(7, "left")
    assert "The model gives no reason." in text
    assert "nan" not in text


# ------------------------------------------------------------------------------------------- one count of grooves


def test_grooves_are_counted_from_one_in_all_words_and_tables(tmp_path):
    """Report, reason, comparison, table, limits, breakouts and messages agree on which groove is groove 2."""
    walnut = cs.Board(cs.wood("black walnut"), cs.straight_grain(0), extent=(-5, -5, 40, 60))
    poor = replace(STROKE, path=cs.line((0, 40), (14, 28), 2.3))
    carving = cs.Carving([poor, replace(STROKE, feed=200, spindle_speed=24000)])
    risk = cs.risk_map(carving, walnut, pitch=1.0)
    place = risk.worst_places(1)[0]
    assert place.groove == 1
    assert "groove 2" in str(risk).split("worst stretches")[1].splitlines()[1]
    assert "groove 2" in risk.why(place.station, place.side, place.groove).splitlines()[0]
    assert "groove 2" in cs.compare([carving], walnut, pitch=1.0).options[0].reason
    risk.to_csv(tmp_path / "map.csv")
    with open(tmp_path / "map.csv", newline="", encoding="utf-8") as handle:
        assert {row["groove"] for row in csv.DictReader(handle)} == {"1", "2"}
    crossing = cs.Carving([STROKE, replace(poor, path=cs.line((7, -7), (7, 7), 2.3))])
    found = cs.breakouts(crossing, walnut)
    assert (
        {str(b).split(",")[0] for b in found} == {"groove 1", "groove 2"} == {f"groove {b.groove + 1}" for b in found}
    )
    assert {b.into for b in found if b.groove == 0} == {"groove 2"}
    marked = cs.VBit(60, 12.7, 2, 0.2, max_spindle_speed=24000)
    fast = cs.check_limits(cs.Carving([replace(STROKE, bit=marked), replace(poor, bit=marked, spindle_speed=23000)]))
    assert next(row.sentence for row in fast if row.name == "marked maximum speed").startswith("Groove 2:")
    driven = replace(STROKE, machine=cs.Machine(acceleration=400, max_feed=4000, plunge_feed=500))
    with pytest.raises(cs.DomainError, match="cut 2 has none"):
        cs.time_estimate(cs.Carving([driven, poor]))
    with pytest.raises(cs.DomainError, match="that of cut 2 differs"):
        cs.write_rs274(cs.Carving([STROKE, replace(poor, bit=cs.VBit(90, 12.7))]))


# ------------------------------------------------------------------------------- the start of a closed groove


def test_the_start_of_a_closed_groove_is_in_doubt_as_far_as_the_plunge_reaches():
    """As far as the layer that counts can miss a strike, on both lips, said; not where the tool plunges or ramps in.

    The same ring with its plunge tells: beyond that reach no damage differs, within it some does.
    """
    risk = cs.risk_map(RING, BOARD, pitch=0.2)
    length, half = RING.path.length, float(BIT.half_width(2.3))
    away = np.minimum(risk.station, length - risk.station)
    layer = cs.RiskModel().bundle
    reach = np.sqrt(2 * half * layer - layer**2) + RING.feed_per_rev
    np.testing.assert_array_equal(risk.doubt == 1, risk.exists & (away <= reach)[:, None])
    said = " ".join(risk.why(0.0, "left").split())
    assert DOUBTS[1] in said
    assert DOUBTS[1] in " ".join(str(risk).split())
    ring = RING.path
    plunged = cs.Path(
        np.vstack([ring.xy[:1], ring.xy, ring.xy[:1]]),
        [0.0, *ring.depth, ring.depth[0]],
        sweep=[0.0, *ring.sweep],
    )
    # a whole number of turns, so that the flutes stand alike when the ring begins
    whole = cs.risk_map(replace(RING, path=plunged, plunge_feed=RING.spindle_speed * 2.3 / 130), BOARD, pitch=0.2)
    assert not (whole.doubt == 1).any()
    other = whole.damage[whole.kind == "run"]
    far = away > reach
    np.testing.assert_allclose(other[far], risk.damage[far], atol=1e-3)
    assert np.abs(other[~far] - risk.damage[~far]).max() > 0.01
    square = cs.Path([(0, 0), (16, 0), (16, 16), (0, 16)], [0.0, 2.0, 2.0, 2.0], closed=True)
    assert not (cs.risk_map(replace(RING, path=square), BOARD, pitch=0.5).doubt == 1).any()


# --------------------------------------------------------------------------------------------------- end grain


@pytest.mark.parametrize("dive", [90.0, -90.0, 60.0, -45.1])
def test_end_grain_is_not_known_and_never_clean(dive):
    board = cs.Board(CHERRY, cs.straight_grain(30, dive))
    risk = cs.risk_map(RING, board, pitch=1.0, draws=20)
    for name in ("fuzz", "tear", "scorch", "damage"):
        assert np.isnan(risk.values(name)).all()
    lengths = risk.lengths_by_class()
    assert lengths["not known"] == pytest.approx(risk.lip_length.sum())
    assert set(risk.doubt[risk.exists]) == {6}
    text = str(risk)
    assert "100 %" in next(row for row in text.splitlines() if row.strip().startswith("not known"))
    assert f"the fibres dive by more than {END_GRAIN:g} degrees" in " ".join(text.split())
    assert "Nothing is known of any lip." in text
    assert "How much of the lip will need heavy sanding is not known" in text
    assert "nan" not in text
    assert "damage not known" in risk.why(3, "left")
    assert "nan" not in risk.why(3, "left")
    assert DOUBTS[6] in " ".join(risk.why(3, "left").split())
    ax = draw_risk_map(risk).axes
    assert f"broken: {DOUBTS[6]}" in " ".join(words(ax).split())
    assert "not known" in words(ax)
    matplotlib.pyplot.close(ax.figure)
    rose = cs.risk_rose(STROKE, board, headings=[0.0, 90.0])
    assert np.isnan(rose.damage).all()
    matplotlib.pyplot.close(draw_rose(rose).axes.figure)


def test_fibres_that_dive_less_are_known():
    for dive in (END_GRAIN, -END_GRAIN, 20.0):
        risk = cs.risk_map(RING, cs.Board(CHERRY, cs.straight_grain(30, dive)), pitch=1.0)
        assert np.isfinite(risk.damage[risk.exists]).all()
        assert not (risk.doubt == 6).any()


def test_what_end_grain_hides_is_said_by_layouts_comparisons_and_sweeps():
    """A board half of which is end grain: lengths not known stand in every table; all of it: nothing is preferred."""
    half = cs.Board(CHERRY, cs.grain_field(lambda x, y: (0.0 * x, np.where(x > 0, 80.0, 0.0)), "half upright"))
    every = cs.Board(CHERRY, cs.straight_grain(0, 90))
    for board, whole in ((half, False), (every, True)):
        layout = cs.best_layout(RING, board, step=90, span=360, pitch=1.0)
        assert "not known" in str(layout)
        assert ("no way to lay the design can be preferred" in str(layout)) == whole
        assert ("best left as it is drawn" in str(layout)) != whole or not whole
        comparison = cs.compare([RING], board, pitch=1.0)
        assert any("not known" in line and "brush" in line for line in str(comparison).splitlines())
        cells = cs.sweep(RING, board, feed=[700.0, 1400.0], pitch=1.0, workers=1)
        assert ("2 of which the damage is not known" in str(cells)) == whole
    assert "No lip that is known needs sanding." in str(comparison)


def test_pictures_do_not_call_sound_what_is_not_known():
    every = cs.Board(CHERRY, cs.straight_grain(0, 90))
    for ax in (
        draw_layout(cs.best_layout(RING, every, step=90, pitch=1.0)).axes,
        draw_comparison(cs.compare([RING], every, pitch=1.0))[0].axes,
    ):
        assert "mean damage not known" in words(ax)
        assert "nan" not in words(ax)
        assert "sanding or re-cutting" not in words(ax)
        matplotlib.pyplot.close(ax.figure)


def test_a_machine_for_some_cuts_is_not_none_for_all():
    driven = replace(STROKE, machine=cs.Machine(acceleration=400, max_feed=4000, plunge_feed=500))
    other = replace(STROKE, path=STROKE.path.shifted(0, 20))
    for cuts, said in (
        ([STROKE, other], "No machine was given, so the actual feed is assumed to be the programmed feed everywhere."),
        (
            [driven, other],
            "No machine was given for 1 of 2 grooves: their actual feed is assumed to be the programmed feed.",
        ),
        ([driven], ""),
    ):
        assert cs.risk_map(cs.Carving(cuts), BOARD, pitch=3.0).setup["not_modelled"] == said


def test_a_choice_in_end_grain_is_none():
    machine = cs.Machine(acceleration=400, max_feed=4000, plunge_feed=500)
    found = cs.recommend(
        RING,
        cs.Board(CHERRY, cs.straight_grain(0, 90)),
        machine,
        BIT,
        speeds=[17000],
        feeds=[700],
        pitch=1.0,
        workers=1,
    )
    assert found.pick is None
    assert "1 setting has a damage that is not known" in found.reason()


def test_a_model_of_ones_own_that_knows_end_grain_is_believed():
    @dataclass(frozen=True)
    class Half:
        bundle: float = 0.2

        def lip_risks(self, strikes, fibres, cut, wood):
            return {"fuzz": np.where(strikes.exists, 0.5, np.nan)}

    risk = cs.risk_map(RING, cs.Board(CHERRY, cs.straight_grain(0, 90)), model=Half(), pitch=1.0)
    assert not (risk.doubt == 6).any()
    np.testing.assert_array_equal(risk.damage[risk.exists], 0.5)


def test_joints_of_a_curve_in_chords_are_no_corners():
    """No machine slows for a turn of 7 degrees; for one of 90 it does, and without a machine that is left out."""
    turn = np.linspace(0, np.pi / 2, 14)
    chords = cs.polyline(10 * np.column_stack([np.cos(turn), np.sin(turn)]), 1.5)
    bent = cs.polyline([(0, 0), (10, 0), (10, 10)], 1.5)
    for path, some in ((chords, False), (bent, True)):
        risk = cs.risk_map(replace(RING, path=path), BOARD, pitch=0.5)
        assert (risk.doubt == 2).any() == some
    assert set(risk.kind[(risk.doubt == 2).any(axis=1)]) == {"corner"}
