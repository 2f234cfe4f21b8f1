"""The shop's book: nothing that was written is lost or changed, whoever writes, is killed or tampers with it."""

import dataclasses
import json
import os
import shutil
import signal
import subprocess
import sys
import textwrap
import time

import numpy as np
import pytest

import chipsim as cs
from chipsim._shared import files as _files
from chipsim._shared.files import new_file
from chipsim.learning.book import job_piece
from chipsim.learning.wear import best_life, edge_metres, rounding, wear_of

BIT = cs.VBit(60, 12.7, 2, 0.2)
MACHINE = cs.Machine(400, 4000, plunge_feed=500)
BOARD = cs.Board(cs.wood("sugar maple", moisture=8), cs.straight_grain(20))
PIECE = cs.coupon(BIT, BOARD, 16_000, [1400], machine=MACHINE, sectors=8, straight_pair=False, stair=False, name="m 1")
GRADES = cs.invented_grades(PIECE, seed=4)
JOB = cs.Carving(
    (
        cs.Cut(BIT, cs.line((0, 0), (60, 0), 2.0), 16_000, 1400, machine=MACHINE),
        cs.Cut(BIT, cs.line((0, 20), (40, 20), 2.0), 16_000, 1400, machine=MACHINE),
    )
)


def filled(folder):
    book = cs.ShopBook(folder)
    book.add_board("plank 3", BOARD)
    book.add_bit("the sixty", BIT)
    book.add_machine("bench router", MACHINE)
    for mark, speed in ((1, 9_800), (3, 15_000), (5, 21_000), (3, 15_400)):
        book.add_dial_reading("bench router", mark, speed)
    book.add_piece(PIECE, bit="the sixty", board="plank 3")
    book.add_grades(GRADES)
    return book


# --- what it holds ----------------------------------------------------------------------------------------------------


def test_what_was_written_is_there_for_whoever_opens_the_folder(tmp_path):
    filled(tmp_path / "book")
    book = cs.ShopBook(tmp_path / "book")
    assert [r.number for r in book.records()] == list(range(1, 10))
    assert book.boards["plank 3"].wood == BOARD.wood
    assert book.bits == {"the sixty": BIT}
    dial = book.machines["bench router"].dial
    assert dial.positions == (1.0, 3.0, 5.0)
    assert dial.speeds == (9800.0, 15_200.0, 21_000.0)  # of a mark read twice the mean
    assert {k: p.identity for k, p in book.pieces.items()} == {PIECE.identity: PIECE.identity}
    assert book.grades[PIECE.identity] == GRADES
    assert "9 records" in str(book)
    assert repr(book) == f"<ShopBook {str(tmp_path / 'book')!r}: 9 records>"
    assert book.faults() == ()


def test_a_record_is_text_that_says_in_a_sentence_what_it_is(tmp_path):
    book = filled(tmp_path)
    for record in book.records():
        text = (tmp_path / record.file).read_text(encoding="utf-8")
        assert text.endswith("}\n")
        held = json.loads(text)
        assert list(held)[:5] == ["chipsim_shop_book", "number", "kind", "name", "says"]
        assert held["says"].endswith(".")
        assert record.file.startswith(f"{held['number']:04d}-{held['kind']}-")


def test_line_ends_of_a_version_control_do_not_matter(tmp_path):
    filled(tmp_path)
    for path in tmp_path.iterdir():
        path.write_bytes(path.read_bytes().replace(b"\n", b"\r\n"))
    assert len(cs.ShopBook(tmp_path).records()) == 9


def test_the_later_of_two_of_one_name_counts_and_a_withdrawn_one_does_not(tmp_path):
    book = filled(tmp_path)
    wet = dataclasses.replace(BOARD, wood=cs.wood("sugar maple", moisture=11))
    record = book.add_board("plank 3", wet)
    assert book.boards["plank 3"].wood.moisture == 11
    book.withdraw(record, "the meter was wet")
    assert book.boards["plank 3"].wood.moisture == 8
    assert record.file in {r.file for r in book.records()}
    for bad in (record._replace(file="0001-board-x-00000000.json"), "0001", None):
        with pytest.raises(cs.DomainError, match="record must be one of the book's"):
            book.withdraw(bad, "so")
    with pytest.raises(cs.DomainError, match="why must be"):
        book.withdraw(record, " ")


def test_grades_need_their_piece_and_lie_on_it(tmp_path):
    book = cs.ShopBook(tmp_path)
    with pytest.raises(cs.DomainError, match="Add the piece first"):
        book.add_grades(GRADES)
    with pytest.raises(cs.DomainError, match="before a model can be fitted"):
        book.fit()
    book.add_piece(PIECE)
    off = cs.Grades("m 1", (GRADES.rows[0]._replace(ring="W"),), PIECE.identity)
    with pytest.raises(cs.DomainError, match="it has no W"):
        book.add_grades(off)
    other = cs.coupon(BIT, BOARD, 16_000, [1500], machine=MACHINE, name="m 1")
    with pytest.raises(cs.DomainError, match="coupon must have a name that no piece"):
        book.add_piece(other)
    assert len(book.records()) == 1


def test_bad_input(tmp_path):
    (tmp_path / "file").write_text("x")
    for bad in (3, None, "", "a\0b", tmp_path / "file", tmp_path / "no" / "book"):
        with pytest.raises(cs.DomainError, match="folder must"):
            cs.ShopBook(bad)
    book = cs.ShopBook(tmp_path / "book")
    field = cs.Board(BOARD.wood, cs.grain_field(lambda x, y: 10 + 0 * x))
    for words, call in {
        "name must": lambda: book.add_board("", BOARD),
        "name must be": lambda: book.add_board("two\nlines", BOARD),
        "board must": lambda: book.add_board("a", 3),
        "a file cannot hold a function": lambda: book.add_board("a", field),
        "machine must": lambda: book.add_machine("a", BIT),
        "bit must": lambda: book.add_bit("a", "bit"),
        "position must": lambda: book.add_dial_reading("a", float("nan"), 12_000),
        "speed must": lambda: book.add_dial_reading("a", 1, 12),
        "radius must": lambda: book.add_edge_reading("a", 8.0),
        "coupon must": lambda: book.add_piece("a"),
        "board must be a name in the book": lambda: book.add_piece(PIECE, board="plank"),
        "grades must": lambda: book.add_grades("a"),
        "minutes must": lambda: book.add_job("a", JOB, BOARD, minutes=-1),
        "bit must be a name": lambda: book.wear("a"),
    }.items():
        with pytest.raises(cs.DomainError, match=words):
            call()
    assert book.records() == ()
    assert list((tmp_path / "book").iterdir()) == []


# --- nothing is lost --------------------------------------------------------------------------------------------------


def test_a_record_that_was_altered_cut_short_renamed_or_lost_is_named(tmp_path):
    filled(tmp_path / "good")
    files = sorted(p.name for p in (tmp_path / "good").iterdir())

    def altered(path):
        path.write_text(path.read_text(encoding="utf-8").replace("16000.0", "16500.0"), encoding="utf-8")

    def cut(path):
        path.write_bytes(path.read_bytes()[:-40])

    def renamed(path):
        path.rename(path.with_name(path.name.replace("0008", "0018")))

    def gone(path):
        path.unlink()

    def conflict(path):
        path.write_text("<<<<<<< ours\n" + path.read_text(encoding="utf-8"), encoding="utf-8")

    for spoil, words in (
        (altered, "altered"), (cut, "cut short"), (renamed, "renamed"), (gone, "0008-.* is gone"), (conflict, "read"),
    ):  # fmt: skip
        folder = tmp_path / spoil.__name__
        shutil.copytree(tmp_path / "good", folder)
        spoil(folder / files[7])
        book = cs.ShopBook(folder)
        with pytest.raises(cs.DomainError, match=rf"folder must hold records as they were written, got .*{words}"):
            book.pieces
        assert any(words.split()[-1] in fault for fault in book.faults())
        assert "damaged or gone" in repr(book)
        # what is wrong with one record keeps nobody from writing the next, and nothing is repaired in silence
        before = {p.name: p.read_bytes() for p in folder.iterdir()}
        book.add_dial_reading("bench router", 2, 12_000)
        assert before.items() <= {p.name: p.read_bytes() for p in folder.iterdir()}.items()


def test_a_new_file_never_takes_the_place_of_one_that_is_there(tmp_path, monkeypatch):
    for unnamed in (True, False):
        if not unnamed:
            monkeypatch.setattr(_files, "_unnamed", lambda folder: None)
        path = tmp_path / f"{unnamed}.txt"
        new_file(path, b"first")
        with pytest.raises(FileExistsError):
            new_file(path, b"second")
        # not even if it came to be there after one had looked
        monkeypatch.setattr(os.path, "lexists", lambda p: False)
        with pytest.raises(FileExistsError):
            new_file(path, b"third")
        monkeypatch.undo()
        assert path.read_bytes() == b"first"
    assert sorted(p.name for p in tmp_path.iterdir()) == ["False.txt", "True.txt"]


def test_two_branches_of_a_version_control_are_put_together_by_copying(tmp_path):
    filled(tmp_path / "a")
    shutil.copytree(tmp_path / "a", tmp_path / "b")
    cs.ShopBook(tmp_path / "a").add_dial_reading("bench router", 2, 12_100)
    cs.ShopBook(tmp_path / "b").add_dial_reading("bench router", 4, 18_200)
    for path in (tmp_path / "b").iterdir():
        if not (tmp_path / "a" / path.name).exists():
            shutil.copy(path, tmp_path / "a")
    book = cs.ShopBook(tmp_path / "a")
    assert len(book.records()) == 11
    assert book.machines["bench router"].dial.positions == (1.0, 2.0, 3.0, 4.0, 5.0)


WRITER = textwrap.dedent(
    """
    import sys
    import chipsim as cs
    book = cs.ShopBook(sys.argv[1])
    print("ready", flush=True)
    for k in range(int(sys.argv[3])):
        print(book.add_dial_reading(sys.argv[2], k, 10_000 + k).file, flush=True)
    """
)


def writers(folder, count, records):
    """Processes that write at the same time, and have all begun."""
    env = os.environ | {"CHIPSIM_QUIET": "1"}
    ask = [[sys.executable, "-c", WRITER, str(folder), f"writer {k}", str(records)] for k in range(count)]
    found = [subprocess.Popen(a, env=env, stdout=subprocess.PIPE, text=True) for a in ask]
    for process in found:
        assert process.stdout.readline() == "ready\n"
    return found


def rest_of(process):
    with process.stdout as handle:
        return handle.read()


def test_writers_at_once_do_not_destroy_each_other(tmp_path):
    running = writers(tmp_path, 3, 20)
    # not communicate, which forgets what came with the first line
    said = [rest_of(process).split() for process in running]
    assert [process.wait(200) for process in running] == [0, 0, 0]
    book = cs.ShopBook(tmp_path)
    assert sorted(f for files in said for f in files) == sorted(r.file for r in book.records())
    for k in range(3):
        speeds = [r.what["speed"] for r in book.records() if r.name == f"writer {k}"]
        assert sorted(speeds) == [10_000.0 + i for i in range(20)]
    assert book.faults() == ()


@pytest.mark.skipif(not hasattr(signal, "SIGKILL"), reason="no such signal")
@pytest.mark.parametrize("after", [0.02, 0.1])
def test_killed_writers_lose_nothing_that_was_written(tmp_path, after):
    """By the signal that no process can answer, while others write: what was said to be written is there and whole."""
    running = writers(tmp_path, 3, 400)
    for process in running[:2]:
        time.sleep(after)
        os.kill(process.pid, signal.SIGKILL)
    time.sleep(after)
    running[2].kill()
    said = [rest_of(process).split("\n") for process in running]
    assert {process.wait(200) for process in running} <= {0, -signal.SIGKILL}
    book = cs.ShopBook(tmp_path)
    there = {r.file for r in book.records()}
    assert len(there) > 2
    # the last line of a killed process may be cut short; all others were written before they were said
    assert {f for lines in said for f in lines[:-1]} <= there
    assert book.faults() == ()
    book.add_dial_reading("the next day", 1, 10_000)
    assert len(book.records()) == len(there) + 1
    assert {p.name for p in tmp_path.iterdir()} == {r.file for r in book.records()} or _files._unnamed(".") is None


# --- finished jobs ----------------------------------------------------------------------------------------------------


def test_a_finished_job_is_a_piece_whose_marks_are_grades(tmp_path):
    book = filled(tmp_path)
    record = book.add_job(
        "door plate", JOB, BOARD, bit="the sixty", on_board="plank 3", minutes=12,
        marks=[(5, 1, "2f"), (6, 1.2, "3t"), (31, -1.0, "1f s"), (39, 21, "0")], note="sanded once",
    )  # fmt: skip
    (job,) = book.jobs
    assert (job.name, job.minutes, job.bit, job.board) == ("door plate", 12.0, "the sixty", "plank 3")
    assert job.metres == pytest.approx(0.1)
    assert "12 min" in record.says
    grades = book.grades[job.piece.identity]
    found = {(g.ring, g.sector, g.lip): (g.grade, g.kind, g.flags) for g in grades}
    # the left lip of a line along +x is above it; of two marks in one stretch the worse counts
    assert found == {
        ("S1", 1, "left"): (3, "t", ""),
        ("S1", 4, "right"): (1, "f", "s"),
        ("S2", 4, "left"): (0, "", ""),
    }
    assert job.piece.identity == job_piece(JOB, BOARD, "door plate").identity
    clean = cs.ShopBook(tmp_path / "other")
    clean.add_job("plate", JOB, BOARD, marks=[(5, 1, "2f")], rest_clean=True)
    every = next(iter(clean.grades.values()))
    assert len(every) == 2 * (6 + 4)
    assert sum(g.grade == 0 for g in every) == 19
    count = len(book.records())
    for marks, words in (
        ([(5, 9, "2f")], "within 5 mm of a lip"), ([(5, 1, "2")], "marks: number 1: .*kind"),
        ([(5, 1, "-")], "must be a grade"), ([(5, 1)], "triples"), ([(5, 1, "9f")], "from 0 to 4"), ([3], "triples"),
    ):  # fmt: skip
        with pytest.raises(cs.DomainError, match=words):
            book.add_job("next", JOB, BOARD, marks=marks)
    with pytest.raises(cs.DomainError, match="name must be that of a job that is not in the book"):
        book.add_job("door plate", JOB, BOARD)
    assert len(book.records()) == count


def test_every_finished_job_teaches(tmp_path):
    book = filled(tmp_path)
    piece_only = book.fit()
    assert piece_only.count == len(GRADES.used())
    assert [p.identity for p in piece_only.pieces] == [PIECE.identity]
    direct = cs.fit(PIECE, GRADES)
    np.testing.assert_array_equal(direct.parameters, piece_only.parameters)
    book.add_job("door plate", JOB, BOARD, marks=[(5, 1, "4f"), (25, 1, "4f"), (45, 1, "4f")])
    more = book.fit()
    assert more.count == piece_only.count + 3
    cut = cs.Cut(BIT, cs.line((0, 0), (30, 0), 2.0), 16_000, 1400)
    before, after = (cs.risk_map(cut, BOARD, model=m, pitch=2.0).mean("fuzz") for m in (piece_only, more))
    assert after > before


# --- the next piece from files alone ----------------------------------------------------------------------------------


def test_a_piece_goes_through_a_file(tmp_path):
    whole = cs.coupon(BIT, BOARD, [12_000, 16_000], [1000], machine=MACHINE, comb=(30,), name="two speeds")
    whole.save(tmp_path / "piece.json")
    again = cs.Coupon.load(tmp_path / "piece.json")
    assert again.identity == whole.identity
    assert str(again) == str(whole)
    assert again.board.wood == BOARD.wood
    assert [c.path for c in again.carving] == [c.path for c in whole.carving]
    again.save(tmp_path / "again.json")
    assert (tmp_path / "piece.json").read_bytes() == (tmp_path / "again.json").read_bytes()
    assert cs.write_grade_form(again) == cs.write_grade_form(whole)
    # read and fitted as the piece itself
    assert cs.read_grades(cs.write_grade_form(whole), again).identity == whole.identity


def test_a_piece_that_was_altered_is_not_loaded(tmp_path):
    PIECE.save(tmp_path / "good.json")
    good = json.loads((tmp_path / "good.json").read_text(encoding="utf-8"))
    changes = [
        {"name": "m 2"}, {"sectors": 9}, {"identity": "BCDFGHJK"}, {"chipsim_test_piece": 2}, {"cuts": []},
        {"board": {"os": {}}}, {"bit": {"Path": {}}}, {"machine": 3}, {"rings": 4},
    ]  # fmt: skip
    bad = [json.dumps(good | change).encode() for change in changes]
    deep = b"[" * 100_000
    for content in (*bad, b"", b"{}", b"[]", b"\xff", b"null", deep):
        (tmp_path / "bad.json").write_bytes(content)
        with pytest.raises(cs.DomainError, match="path must hold a saved test piece"):
            cs.Coupon.load(tmp_path / "bad.json")
    with pytest.raises(FileNotFoundError):
        cs.Coupon.load(tmp_path / "none.json")
    field = dataclasses.replace(PIECE, board=cs.Board(BOARD.wood, cs.grain_field(lambda x, y: 20.0 + 0 * x)))
    with pytest.raises(cs.DomainError, match="a file cannot hold a function"):
        field.save(tmp_path / "field.json")
    assert not (tmp_path / "field.json").exists()


def test_one_program_for_each_mark(tmp_path):
    dial = cs.Dial([1, 3, 5], [10_000, 16_000, 22_000])
    machine = cs.Machine(400, 4000, plunge_feed=500, dial=dial)
    piece = cs.coupon(BIT, BOARD, [13_000, 16_000], [1000], machine=machine)
    files = piece.programs_to(tmp_path)
    assert [os.path.basename(f) for f in files] == [f"{piece.identity}_mark_{m}.nc" for m in ("2", "3")]
    count = 0
    for file, mark, speed in zip(files, ("2", "3"), (13_000, 16_000), strict=True):
        with open(file, encoding="ascii") as handle:
            text = handle.read()
        assert f"(BEFORE THE START turn the dial to mark {mark}, {speed} rpm by its readings)" in text
        assert "M0" not in text.split()
        for words in ("X0 Y0 is the lower left corner", "A clamp must reach in less far", piece.identity):
            assert words in " ".join(text.replace("(", "").replace(")", "").split())
        cuts = cs.read_rs274(text, BIT).cuts
        assert {c.spindle_speed for c in cuts} == {float(speed)}
        count += len(cuts)
    assert count == len(piece.carving)
    with pytest.raises(cs.DomainError, match="path must lie in a folder that exists"):
        piece.programs_to(tmp_path / "no")


@pytest.mark.parametrize("margin", [0.0, 8.0, 20.0])
def test_clamps_keep_clear_of_the_body_of_the_bit(margin):
    """Every place of the axis, at a pitch of 0.1 mm, and half the bit's diameter round it."""
    piece = cs.coupon(BIT, BOARD, 16_000, [1000], machine=MACHINE, margin=margin)
    at = np.concatenate([c.path.position(np.arange(0, c.path.length, 0.1)) for c in piece.carving])
    low, high = piece.swept
    np.testing.assert_allclose(low, at.min(axis=0) - BIT.diameter / 2, atol=0.02)
    np.testing.assert_allclose(high, at.max(axis=0) + BIT.diameter / 2, atol=0.02)
    said = " ".join(piece.lie)
    assert ("comes past these edges" in said) == (low.min() < 0 or (high > piece.size).any())


# --- wear -------------------------------------------------------------------------------------------------------------


def test_metres_of_edge_against_the_count_of_teeth():
    """pi r for each tooth pass of a full groove and flute: 47 m for a metre, r 3 mm, 0.1 mm per tooth, two flutes."""
    bit = cs.VBit(90, 10, 2)
    cut = cs.Cut(bit, cs.line((0, 0), (100, 0), 3.0), 10_000, 2000)
    passes = 100.0 / cut.feed_per_rev  # of one flute
    assert edge_metres(cut) == pytest.approx(passes * np.pi * 3.0 / 1000, rel=1e-9)
    assert 10 * edge_metres(cut) == pytest.approx(47, abs=0.2)
    half = dataclasses.replace(cut, feed=1000)
    assert edge_metres(half) == pytest.approx(2 * edge_metres(cut))
    assert edge_metres(cs.Carving((cut, half.raised(0.0)))) == pytest.approx(3 * edge_metres(cut))


def test_rounding_of_a_receding_edge_against_its_construction():
    """The circle touches both faces of the wedge and the new end of the edge, by solving for it."""
    bit = cs.VBit(60, 12.7, 2, rake=10, clearance=15)
    half = np.radians((90 - 10 - 15) / 2)
    rho = rounding(5.0, bit)
    centre = rho / np.sin(half)  # from the sharp edge, along the bisector
    assert centre - rho == pytest.approx(5.0)
    assert centre * np.sin(half) == pytest.approx(rho)


def test_wear_is_learned_from_looks_through_the_loupe(tmp_path):
    prior = wear_of("a", BIT, 10.0, 500.0)
    assert prior.radius[0] < prior.radius[1] < prior.radius[2]
    assert prior.rate[1] == pytest.approx(40.0, rel=0.01)
    # 100 um per km of recession, seen four times
    true = [BIT.edge_radius + rounding(100e-3, BIT) * run / 1000 for run in (200.0, 400.0, 700.0, 1000.0)]
    taught = wear_of("a", BIT, 20.0, 1000.0, list(zip((200.0, 400.0, 700.0, 1000.0), true, strict=True)))
    assert taught.rate[0] < 100 < taught.rate[2]
    assert np.log(taught.rate[2] / taught.rate[0]) < 0.5 * np.log(prior.rate[2] / prior.rate[0])
    book = filled(tmp_path)
    first = book.wear("the sixty")
    assert first.groove == pytest.approx(PIECE.carving.length / 1000)
    assert first.edge == pytest.approx(edge_metres(PIECE.carving))
    book.add_job("plate", JOB, BOARD, bit="the sixty")
    assert book.wear("the sixty").groove == pytest.approx((PIECE.carving.length + JOB.length) / 1000)
    book.add_edge_reading("the sixty", 0.02)
    assert book.wear("the sixty").readings == 1
    assert "1 readings" in str(book)
    book.add_bit("the sixty", BIT)  # sharpened
    assert book.wear("the sixty").groove == 0.0


# --- when to change a bit ---------------------------------------------------------------------------------------------


@pytest.mark.parametrize(("cost", "slope"), [(50.0, 1.0), (200.0, 0.25), (60.0, 0.02)])
def test_an_edge_that_gets_dearer_evenly_lives_by_the_law_of_square_roots(cost, slope):
    """Wear that adds s (n - 1) minutes to the n-th job costs C / n + s (n - 1) / 2 a job: least at sqrt(2 C / s)."""
    life, average = best_life(cost, (slope * np.arange(400)).tolist())
    best = np.sqrt(2 * cost / slope)
    assert abs(life - best) <= 1
    assert average == pytest.approx(cost / best + slope * (best - 1) / 2, rel=0.01)
    # the next job of the old edge is then as dear as a job of a new one on average
    assert slope * (life - 1) <= average <= slope * (life + 1)


def test_a_bit_is_changed_when_its_next_job_is_dearer_than_one_of_a_new_edge(tmp_path):
    book = cs.ShopBook(tmp_path / "book")
    bit = cs.VBit(60, 12.7, 2, 0.2)
    book.add_bit("sixty", bit)
    job = cs.Cut(bit, cs.ring(12, 2), 18_000, 1200, machine=cs.Machine(800, 5000))
    board = cs.Board(cs.wood("sugar maple", moisture=8), cs.straight_grain(0))
    with pytest.raises(cs.DomainError, match="carving and board must be given"):
        book.change_of_bit("sixty")
    book.add_job("ring 1", job, board, bit="sixty", minutes=3)
    ask = {"draws": 16, "jobs": 2000}
    young = book.change_of_bit("sixty", cost=300, **ask)
    assert young.jobs[0] >= young.jobs[1] >= young.jobs[2] > 0
    assert not young.now
    assert "It pays to change it after" in str(young)
    free = book.change_of_bit("sixty", cost=0, **ask)
    assert free.now
    assert free.jobs == (0, 0, 0)
    assert "Change it now" in str(free)
    # an edge that was seen to be round adds more, and its life is nearer its end
    book.add_edge_reading("sixty", 0.045)
    worn = book.change_of_bit("sixty", cost=300, **ask)
    assert worn.added[1] > young.added[1]
    assert worn.jobs[1] < young.jobs[1]
    with pytest.raises(cs.DomainError, match="cost must"):
        book.change_of_bit("sixty", cost=-1)
