"""Pictures that help to choose, tested by reading the artists: what they hold and what they say."""

from __future__ import annotations

from dataclasses import replace

import matplotlib.pyplot as plt
import numpy as np
import pytest
from matplotlib.colors import to_rgb
from matplotlib.figure import Figure
from matplotlib.text import Text

import chipsim as cs
from chipsim.choosing.variants import turned_carving
from chipsim.pictures.choice import _free_places, _ramp_marks
from chipsim.pictures.laying import _will_do
from chipsim.pictures.page import text_width, wrapped

BIT = cs.VBit(60, 12.7, 2, 0.2, cutting_length=10, max_spindle_speed=20_000)
WIDE = cs.VBit(120, 19.05, 2, 0.1, cutting_length=10, max_spindle_speed=24_000)
READ = (9_700, 13_150, 17_900, 22_350)  # rpm at the marks of the dial
MACHINE = cs.Machine(300, 3000, travel=(300, 300, 80), dial=cs.Dial([1, 2, 3, 4], READ))
CUT = cs.Cut(BIT, cs.polyline([(0, 0), (12, 2), (9, 8)], 1.5), 15_000, 1500, machine=MACHINE)
BOARD = cs.Board(cs.wood("sugar maple"), cs.straight_grain(30))
CHECKS = {"plunge_feed": 300, "safe_height": 5}


@pytest.fixture(scope="module")
def choice():
    ask = {"feeds": (600, 1400, 2600), "passes": [(), 0.2], "draws": 16, "pitch": 1.0, "workers": 1, "checks": CHECKS}
    ask["refine"] = False
    return cs.recommend(CUT, BOARD, MACHINE, {"narrow": BIT, "wide": WIDE}, time_limit=20, **ask)


def axes(**kwargs):
    return Figure(figsize=(7, 6)).add_subplot(**kwargs)


def words(ax):
    return "\n".join(t.get_text() for t in ax.figure.findobj(Text))


def drawn(ax):
    """Drawn once, without a warning."""
    ax.figure.canvas.draw()
    return ax


def test_process_window_holds_the_cells(choice):
    ax = axes()
    mesh = cs.draw_process_window(choice, ax, risk_name="damage")
    array = mesh.get_array()
    pick = choice.pick.setting
    plane = [c for c in choice.sweep if (c.setting.name, c.setting.passes) == (pick.name, pick.passes)]
    assert array.shape == (3, 4)
    for cell in plane:
        j, i = (600, 1400, 2600).index(cell.setting.feed), READ.index(cell.setting.spindle_speed)
        assert np.ma.is_masked(array[j, i]) == bool(cell.error)
        if not cell.error:
            assert array[j, i] == cell.damage
    (frame,) = ax.findobj(lambda a: a.get_gid() == "pick")
    assert frame.get_xy() == (READ.index(pick.spindle_speed), (600, 1400, 2600).index(pick.feed))
    text = words(drawn(ax))
    spot = f"Dial {1 + READ.index(pick.spindle_speed)} and {pick.feed:.0f} mm/min"
    for piece in ("dial 1\n9700", "dial 3\n17900", "spindle speed [rpm]", "the pick", "sugar maple", pick.name, spot):
        assert piece in text
    assert {"24 in", "55 in", "102 in"} <= set(text.split("\n"))  # 600, 1400, 2600 mm/min in in/min, by hand


def out_at(ax):
    """Settings in the broken frames of a window, and what each frame says: its words stand in its middle."""
    found = {}
    for box in ax.findobj(lambda a: a.get_gid() == "out"):
        x, y = (round(v) for v in box.get_xy())
        wide, high = (round(v + 0.1) for v in (box.get_width(), box.get_height()))
        (why,) = [t.get_text() for t in ax.texts if np.allclose(t.xy, (x + wide / 2, y + high / 2))]
        found |= {(x + i, y + j): why.replace("\n", " ") for i in range(wide) for j in range(high)}
    return found


def test_process_window_says_why_a_setting_is_out(choice):
    """At 22 350 rpm the narrow bit cannot be cut; at 17 900 (19 690 by the dial) its mark is near and kept, by hand."""
    cell = next(c for c in choice.sweep if c.setting.name == "narrow" and not c.error)
    ax = axes()
    cs.draw_process_window(choice, ax, cell=cell)
    told = out_at(ax)
    assert {spot for spot, why in told.items() if "marked maximum" in why} == {(3, 0), (3, 1), (3, 2)}
    plane = [c for c in choice.sweep if c.setting.name == "narrow" and c.setting.passes == cell.setting.passes]
    for c in plane:
        spot = READ.index(c.setting.spindle_speed), (600, 1400, 2600).index(c.setting.feed)
        violated = [row.name for row in c.limits if row.status == "violated"]
        assert (spot in told) == bool(violated or c.error)
        assert "marked maximum speed" not in violated
    assert "out: the machine does not reach this feed" in told.values()
    assert "the setting chosen" in words(ax)
    found = cs.sweep(CUT, BOARD, spindle_speed=[14_000, 19_000], feed=[900], pitch=1.0, workers=1, checks=CHECKS)
    ax = axes()
    cs.draw_process_window(found, ax)  # 19 000 may be 20 900
    assert out_at(ax) == {(1, 0): "out: faster than the bit's marked maximum of 20000 rpm"}


def test_neighbours_that_are_out_for_one_reason_share_a_frame(choice):
    """Every setting that is out stands in one frame and no other; a whole column has a single one."""
    ax = axes()
    cs.draw_process_window(choice, ax, cell=next(c for c in choice.sweep if c.setting.name == "narrow"))
    boxes = ax.findobj(lambda a: a.get_gid() == "out")
    areas = [round(b.get_width() + 0.1) * round(b.get_height() + 0.1) for b in boxes]
    assert sum(areas) == len(out_at(ax))
    assert 3 in areas


def test_process_window_colours_survive_grey_print(choice):
    """Lightness falls as minutes rise, and words are told from every tone: relative luminance, contrast after WCAG 2.1
    (from memory), 3 to 1 for large type."""
    mesh = cs.draw_process_window(choice, axes())
    tone = np.linspace(0, 1, 30)
    colour = np.array([to_rgb(mesh.cmap(x)) for x in tone])
    linear = np.where(colour > 0.04045, ((colour + 0.055) / 1.055) ** 2.4, colour / 12.92)
    grey = linear @ [0.2126, 0.7152, 0.0722]
    assert (np.diff(grey) < 0).all()
    ink = 0.0103  # of #1a1a1a
    assert np.where(tone < 0.52, (grey + 0.05) / (ink + 0.05), 1.05 / (grey + 0.05)).min() > 3.5


def test_the_colours_of_a_window_are_the_same_on_every_board(choice):
    """Minutes for a metre of groove, and a risk from 0 to 1: by hand."""
    mesh = cs.draw_process_window(choice, axes())
    assert mesh.norm.vmin == 0
    assert mesh.norm.vmax == pytest.approx(200 * choice.sweep.job_carving.length / 1000)
    assert cs.draw_process_window(choice, axes(), risk_name="fuzz").norm.vmax == 1


def rows_of(text):
    """Lines of a process window by (rpm, feed): numbers, and what rules the setting out."""
    out = {}
    for line in text.split("\n")[3:]:
        if line[:8].strip().isdigit():
            cells, why = line[:80].split(), line[80:].strip()
            out[float(cells[0]), float(cells[2])] = cells, why.removesuffix("<- this one").strip()
    return out


def test_the_table_of_the_process_window_is_the_maps(choice):
    """Chip load by hand (feed over speed and flutes, common practice), the rest of `risk_map` and `time_estimate`."""
    text = choice.process_window()
    rows = rows_of(text)
    assert list(rows) == [(n, f) for n in READ for f in (600, 1400, 2600)]
    for (speed, feed), (cells, why) in rows.items():
        assert cells[1] == str(1 + READ.index(speed))  # the dial's position
        assert cells[3] == f"{feed / 25.4:.0f}"
        if speed == READ[-1]:  # above the bit's mark
            assert cells[4:] == ["-"] * 6
            assert why == "cannot be cut"
            continue
        cut = cs.Cut(BIT, CUT.path, speed, feed, machine=MACHINE, passes=choice.pick.setting.passes)
        risk = cs.risk_map(cut, BOARD, pitch=1.0)
        on, length = risk.exists, risk.lip_length[risk.exists]
        strikes, rubs = (np.average(v[on], weights=length) for v in (risk.strikes, risk.rubs))
        load = feed / (speed * 2)
        time = cs.time_estimate(cut).total
        want = load, load / 0.0254, strikes, rubs, risk.mean("damage"), time[1] / 60
        assert cells[4:] == [f"{v:.{d}f}" for v, d in zip(want, (3, 1, 1, 1, 3, 2), strict=True)]
        violated = [row.name for row in cs.check_limits(cut, **CHECKS) if row.status == "violated"]
        assert why == [*violated, ""][0]
    assert {why for _, why in rows.values()} == {"", "feed not reached", "cannot be cut"}
    (line,) = (line for line in text.split("\n") if line.endswith("<- this one"))
    pick = choice.pick.setting
    assert line.split()[:3] == [f"{pick.spindle_speed:.0f}", line.split()[1], f"{pick.feed:.0f}"]
    for words in (
        "narrow, passes that leave 0.2 mm",
        "sugar maple",
        "marked maximum, in [1000, 20000]",
        "starting guesses",
    ):
        assert words in text


def test_the_table_says_first_what_is_violated_then_what_is_not_known(choice):
    cell = next(c for c in choice.sweep if c.setting.name == "wide" and not c.error)
    one = rows_of(choice.process_window(cell))
    assert one != rows_of(choice.process_window())
    likely = choice.sweep.process_window(choice.pick, time_limit=choice.pick.time[1])  # its high end is above
    assert rows_of(likely)[READ[1], 600][1] == "time"
    assert rows_of(likely)[READ[1], 2600][1] == "feed not reached"
    free = choice.sweep.process_window(choice.pick, waived=["feed not reached"])
    assert {why for _, why in rows_of(free).values()} == {"", "cannot be cut"}
    assert replace(choice, waived=("feed not reached",)).process_window() == free
    assert replace(choice, time_limit=choice.pick.time[1]).process_window() == likely
    ask = {"spindle_speed": [14_000], "feed": [600, 2600], "pitch": 1.0, "workers": 1}
    found = cs.sweep(CUT, BOARD, **ask)
    rows = rows_of(found.process_window())
    assert rows[14e3, 600][1] == "plunge feed (not known)"
    assert rows[14e3, 2600][1] == "feed not reached"
    assert "the plan does not say how fast the tool enters" in " ".join(found.process_window().split())


def test_cuts_with_other_flutes_have_other_chip_loads():
    """By hand: 1400 mm/min at 14 000 rpm over two flutes and one."""
    one = cs.Cut(cs.VBit(60, 12.7, 1, 0.2), cs.line((0, 20), (5, 20), 1.0), 15_000, 900)
    plan = cs.Carving((cs.Cut(BIT, CUT.path, 15_000, 1500), one))
    found = cs.sweep(plan, BOARD, spindle_speed=[14_000], feed=[1400], pitch=2.0, workers=1)
    assert found.feed_per_tooth(found[0]) == pytest.approx((0.05, 0.1))
    assert "0.050 to 0.100 2.0 to 3.9" in found.process_window()


def test_the_curve_of_a_layout_holds_the_rows():
    layout = cs.best_layout(CUT, BOARD, step=15, mirrored=True, pitch=1.0)
    ax = axes()
    artist = cs.draw_layout(layout, ax, risk_name="damage")
    plain, flipped = artist.get_segments()
    for line, rows in ((plain, layout.rows[:12]), (flipped, layout.rows[12:])):
        # by hand: 105 deg counter-clockwise lie as 75 deg clockwise, for half a turn changes nothing in straight grain
        turned = {(r.rotation if r.rotation <= 90 else r.rotation - 180): r.damage for r in rows}
        np.testing.assert_allclose(line[:, 0], np.arange(-90, 91, 15))
        np.testing.assert_allclose(line[:, 1], [turned[90 if t == -90 else t] for t in range(-90, 91, 15)])
    text = words(drawn(ax))
    for piece in ("as drawn", "the design turned", "the design mirrored and turned", "mean damage [-]"):
        assert piece in text
    whole = cs.draw_layout(cs.best_layout(CUT, BOARD, step=90, span=360, pitch=1.0), axes())
    np.testing.assert_allclose(whole.get_segments()[0][:, 0], [-180, -90, 0, 90, 180])


@pytest.mark.parametrize("straight", [True, False])
def test_a_layout_is_drawn_as_it_lies(straight):
    """Boards as drawn and turned: the lips of the second are those of the first turned about the centre, by hand, and
    its damage is that of a carving turned in earnest."""
    grain = cs.straight_grain(30) if straight else cs.grain_field(lambda x, y: 30 + 4 * x, "curved")
    layout = cs.best_layout(CUT, cs.Board(cs.wood("sugar maple"), grain), step=15, pitch=0.5, draws=0)
    best = layout.best()
    assert best is not layout.as_drawn
    assert layout.half_turn == straight
    turn = layout.turn(best)
    assert (turn - best.rotation) % (180 if straight else 360) == 0
    assert abs(turn) <= (90 if straight else 180)
    one, two = layout.maps
    about = np.array([[np.cos(np.radians(turn)), -np.sin(np.radians(turn))],
                      [np.sin(np.radians(turn)), np.cos(np.radians(turn))]])  # fmt: skip
    np.testing.assert_allclose(two.lip_xy - layout.centre, (one.lip_xy - layout.centre) @ about.T, atol=1e-9)
    told = turned_carving(cs.Carving((CUT,)), turn, layout.centre)
    told = cs.risk_map(told, cs.Board(cs.wood("sugar maple"), grain), pitch=0.5)
    np.testing.assert_allclose(two.lip_xy[two.exists], told.lip_xy[told.exists], atol=1e-9)
    np.testing.assert_allclose(two.damage[two.exists], told.damage[told.exists], atol=1e-9)
    apart = np.radians(two.fibre_azimuth - told.fibre_azimuth)[two.exists]
    np.testing.assert_allclose(np.sin(apart), 0, atol=1e-9)
    figure = cs.draw_layout(layout).figure
    text = "\n".join(t.get_text() for t in figure.findobj(Text))
    way = f"{abs(turn):g}° {'clockwise' if turn < 0 else 'counter-clockwise'}"
    assert f"Turn the design {way}" in text
    assert f"turned {way}" in text
    assert len(figure.findobj(lambda a: a.get_gid() == "damage")) == 2
    figure.canvas.draw()
    plt.close(figure)


def test_a_design_that_lies_best_as_drawn_has_one_board():
    layout = cs.best_layout(CUT, BOARD, step=90, pitch=1.0, draws=0)
    layout = replace(
        layout, rows=(layout.rows[0],), tried=(layout.tried[0],), hand=(layout.hand[0],), maps=layout.maps[:1]
    )
    figure = cs.draw_layout(layout).figure
    text = "\n".join(t.get_text() for t in figure.findobj(Text))
    assert "Leave the design as it is drawn" in text
    assert len(figure.findobj(lambda a: a.get_gid() == "damage")) == 1
    plt.close(figure)


def test_layout_and_window_show_minutes(choice):
    """By hand at every rotation; in all, of every setting that keeps the limits."""
    layout = cs.best_layout(CUT, BOARD, step=30, pitch=1.0, draws=8)
    ax = axes()
    (line,) = cs.draw_layout(layout, ax).get_segments()
    turned = {(row.rotation if row.rotation <= 90 else row.rotation - 180): row.minutes for row in layout}
    np.testing.assert_allclose(line[:, 1], [turned[90 if t == -90 else t] for t in range(-90, 91, 30)])
    best = layout.best()
    expected = layout.hand[layout.tried.index(best)].expected
    assert f"{expected:.1f} min of hand work are expected" in words(drawn(ax))
    # dots and their words are what is expected over the boards, and so the title's difference
    dots = [a for a in ax.get_lines() if a.get_gid() in ("mark", "tried") and len(a.get_xdata()) == 1]
    at = sorted((float(a.get_xdata()[0]), float(a.get_ydata()[0])) for a in dots)
    want = [(layout.turn(row), hand.expected) for row, hand in zip(layout.tried, layout.hand, strict=True)]
    np.testing.assert_allclose(at, sorted(want))
    told = [t.get_text() for t in ax.texts if t.get_gid() == "told"]
    assert sorted(t.split("\n")[-1] for t in told) == sorted(f"{hand.expected:.1f} min" for hand in layout.hand)
    if best is not layout.as_drawn:
        saved = round(layout.hand[0].expected, 1) - round(expected, 1)
        assert f": {saved:.1f} min less by hand" in words(ax)
    array = cs.draw_process_window(choice, axes()).get_array()
    shown = np.sort(np.ma.compressed(array))
    pick = choice.pick.setting
    plane = [r.expected for r in choice if (r.cell.setting.name, r.cell.setting.passes) == (pick.name, pick.passes)]
    np.testing.assert_allclose(shown, np.sort(plane))
    with pytest.raises(cs.DomainError, match="risk_name must be a risk"):
        cs.draw_process_window(choice.sweep, axes(), risk_name="minutes")


def test_turns_that_will_do_keep_half_of_what_the_best_saves():
    """By hand: 40 min as drawn, 39 at the best; 39.6 is within 3 % of the best and loses more than half."""
    layout = cs.best_layout(CUT, BOARD, step=30, pitch=2.0, draws=0)
    minutes = (40.0, 39.6, 39.2, 39.0, 39.4, 39.8)
    rows = tuple(replace(row, minutes=m) for row, m in zip(layout.rows, minutes, strict=True))
    layout = replace(layout, rows=rows)
    assert _will_do(layout, rows[3]) == "Anything from 60° counter-clockwise to 60° clockwise will do."


@pytest.mark.parametrize(("most", "marks"), [(200.0, [5, 20, 50, 100, 200]), (236.8, [5, 20, 50, 100, 200]), (0.0, [])])
def test_marks_of_the_ramp_are_minutes_of_the_job(most, marks):
    """Square roots by hand: of 200 min 0.16, 0.32, 0.5, 0.71 and 1."""
    assert _ramp_marks(most) == pytest.approx(marks)


def test_numbers_of_the_front_stand_clear_and_their_hairs_cross_no_dot():
    """Dots of a lattice: by brute force."""
    ax = axes()
    ax.set(xlim=(0, 10), ylim=(0, 10))
    dots = np.array([(x, y) for x in (4.0, 4.4) for y in (2.0, 3.0, 4.0, 5.0, 6.0)])
    line = np.column_stack([np.linspace(0, 10, 60), np.full(60, 1.0)])
    for spot, shift in zip(dots, _free_places(ax, dots, dots, line), strict=True):
        point = ax.figure.dpi / 72
        at, others = ax.transData.transform(spot) / point, ax.transData.transform(dots) / point
        others = others[np.hypot(*(others - at).T) > 0.5]
        hair = at + np.linspace(0.25, 1, 50)[:, None] * np.array(shift)
        assert np.hypot(*(others[:, None] - hair).T).min() > 3.5
        assert np.hypot(*(others - hair[-1]).T).min() > 9.9


def test_a_figure_keeps_its_unit_beside_it():
    room = text_width("flute B up to 2", 9.0) + 1
    assert wrapped("flute B up to 2 µm (0.1 thou)", room, 9.0).split("\n")[:2] == ["flute B up to", "2 µm"]


def test_front_holds_the_front(choice):
    """Minutes of machine and by hand; the pick's line joins all that take as long in all."""
    ax = axes()
    artist = cs.draw_front(choice, ax)
    np.testing.assert_allclose(artist.get_offsets(), [(r.machine, r.expected - r.machine) for r in choice.front])
    text = words(drawn(ax))
    pick = choice.row(choice.pick)
    assert choice.pick.setting.words(MACHINE) in text.replace("\n", " ")
    assert f"{pick.expected:.1f} min in all" in text
    hand = round(pick.expected, 1) - round(pick.machine, 1)  # what is printed adds up
    assert f"{pick.machine:.1f} min of machine and {hand:.1f} min by hand" in text
    (every,) = [a for a in ax.get_lines() if a.get_gid() == "settings"]
    assert len(every.get_xdata()) == len(choice.rows)
    lines = [a for a in ax.get_lines() if a.get_gid() == "equal totals"]
    sums = [float(np.ptp(a.get_xdata() + a.get_ydata())) for a in lines]
    assert max(sums) < 1e-9
    assert any(a.get_xdata()[0] + a.get_ydata()[0] == pytest.approx(pick.expected) for a in lines)


def test_nothing_recommended_is_drawn_all_the_same():
    none = cs.recommend(CUT, BOARD, MACHINE, BIT, feeds=(600, 1400), draws=0, pitch=1.0, workers=1)
    assert none.pick is None
    assert len(cs.draw_front(none, axes()).get_offsets()) == 0
    ax = axes()
    cs.draw_process_window(none, ax)
    assert "not checked: " in words(ax)
    assert "the pick" not in words(ax)


def test_comparison_at_one_scale():
    """A millimetre is as long, and a risk as dark, on every map."""
    jobs = {name: cs.with_bit(CUT, bit) for name, bit in {"narrow": BIT, "wide": WIDE}.items()}
    jobs["small"] = cs.Cut(BIT, cs.line((3, 3), (6, 4), 1.0), 15_000, 1500)
    comparison = cs.compare(jobs, BOARD, pitch=1.0)
    artists = cs.draw_comparison(comparison)
    figure = artists[0].axes.figure
    figure.canvas.draw()
    scales = []
    for artist, option in zip(artists, comparison.options, strict=True):
        ax = artist.axes
        (x0, _), (x1, _) = ax.transData.transform([(0, 0), (1, 0)])
        scales.append(x1 - x0)
        assert (artist.norm.vmin, artist.norm.vmax) == (0, 1)
        low, high = np.transpose([ax.get_xlim(), ax.get_ylim()])
        lips = option.risk.lip_xy[option.risk.exists]
        assert ((lips > low) & (lips < high)).all()
        assert ax.get_title(loc="left") == option.name
        rework = sum(option.summary.lengths["damage"][s] for s in ("light sanding", "heavy sanding", "re-cut"))
        told = [t.get_text() for t in ax.texts]
        assert any(t.startswith(f"{rework:.0f} mm to sand or re-cut") for t in told)
        every = [t.replace("\n", " ") for t in words(ax).split("\n\n")] + [words(ax).replace("\n", " ")]
        for part in option.risk.setup["caption"].split(", "):  # at its map, or once for all below them
            assert any(part in t for t in every)
        bars = sum(p.get_width() for p in ax.get_children() if p.get_gid() == "to rework")
        most = max(o.summary.poor() for o in comparison.options)
        assert bars == pytest.approx(rework / most)  # bars of one scale, the longest as wide as the board
        known = option.risk.damage[option.risk.exists]
        assert np.ma.max(artist.get_array()) == pytest.approx(known.max())
    assert scales == pytest.approx([scales[0]] * 3, rel=0.02)
    plt.close(figure)


@pytest.mark.parametrize(
    ("call", "name"),
    [
        (lambda: cs.draw_comparison(3), "comparison"),
        (lambda: cs.draw_process_window(3), "thing"),
        (lambda: cs.draw_layout(3), "layout"),
        (lambda: cs.draw_front(3), "recommendation"),
        (lambda: cs.draw_layout(cs.best_layout(CUT, BOARD, step=90, pitch=2.0), axes(projection="polar")), "x and y"),
        (lambda: cs.draw_process_window(cs.sweep(CUT, BOARD, pitch=2.0, workers=1), axes()), "spindle_speed and feed"),
        (lambda: cs.sweep(CUT, BOARD, pitch=2.0, workers=1).process_window(), "spindle_speed and feed"),
    ],
)
def test_rubbish_is_refused(call, name):
    with pytest.raises(cs.DomainError, match=name):
        call()
    plt.close("all")
