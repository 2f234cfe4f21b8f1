"""Nothing written before is lost: every writer puts a whole file in place, or leaves the old one as it was."""

import errno
import os
import re
import signal
import stat
import subprocess
import sys
import textwrap
import threading
from pathlib import Path

import numpy as np
import pytest
from matplotlib.figure import Figure
from matplotlib.lines import Line2D

import chipsim as cs
from chipsim._shared import files as _files
from chipsim._shared.files import whole_file
from chipsim.choosing.sweeps import _Store

BIT = cs.VBit(60, 12.7, 2, 0.2)
MACHINE = cs.Machine(300, 3000, plunge_feed=400)
BOARD = cs.Board(cs.wood("sugar maple", moisture=8), cs.straight_grain(20))
CUT = cs.Cut(BIT, cs.line((0, 0), (12, 0), 1.5), 18_000, 1500, machine=MACHINE)
PIECE = cs.coupon(BIT, BOARD, 17_000, [1300], machine=MACHINE, sectors=8, straight_pair=False, stair=False)
RISK = cs.risk_map(CUT, BOARD, pitch=1.0)
FITTED = cs.fit(PIECE, cs.Grades(PIECE.name, (), PIECE.identity))
SWEEP = cs.sweep(CUT, BOARD, feed=[1100, 1500], pitch=1.0, workers=1)
GRADES = cs.read_grades(cs.write_grade_form(PIECE), PIECE)
LAYOUT = cs.best_layout(CUT, BOARD, step=60, pitch=1.0)
COMPARISON = cs.compare([CUT, CUT], BOARD, pitch=1.0)
FIGURE = Figure((3.0, 3.0))
FIGURE.add_subplot().plot(np.sin(np.arange(400)))

WRITERS = {
    "RiskMap.save": (RISK.save, "map.npz"),
    "RiskMap.to_csv": (RISK.to_csv, "map.csv"),
    "RiskMap.to_svg": (RISK.to_svg, "map.svg"),
    "Coupon.save": (PIECE.save, "piece.json"),
    "FittedModel.save": (FITTED.save, "fit.json"),
    "Sweep.to_csv": (SWEEP.to_csv, "sweep.csv"),
    "Layout.to_csv": (LAYOUT.to_csv, "layout.csv"),
    "Comparison.to_csv": (COMPARISON.to_csv, "options.csv"),
    "Grades.to_csv": (GRADES.to_csv, "grades.csv"),
    "write_grade_form": (lambda path: cs.write_grade_form(PIECE, path), "form.csv"),
    "write_grading_sheet": (lambda path: cs.write_grading_sheet(PIECE, path), "sheet.pdf"),
    "write_rs274": (lambda path: cs.write_rs274(PIECE.carving, path), "piece.nc"),
    "save_figure": (lambda path: cs.save_figure(FIGURE, path), "picture.png"),
}
each = pytest.mark.parametrize("name", WRITERS)
# a form that is there already is only replaced if it is empty
OLD = {"write_grade_form": cs.write_grade_form(PIECE).encode()}


def before(folder, name):
    """The writer, its file with old content in it, and that content."""
    write, file = WRITERS[name]
    content = OLD.get(name, b"old and whole")
    (folder / file).write_bytes(content)
    return write, folder / file, content


def untouched(path, content):
    assert path.read_bytes() == content
    assert [p.name for p in path.parent.iterdir()] == [path.name]


# --- whole ------------------------------------------------------------------------------------------------------------


@each
def test_a_writer_replaces_the_old_file_by_the_whole_new_one(tmp_path, name):
    write, path, content = before(tmp_path, name)
    write(path)
    fresh = tmp_path / "fresh" / path.name
    fresh.parent.mkdir()
    write(str(fresh))
    assert path.read_bytes() == fresh.read_bytes()
    assert len(path.read_bytes()) > 200
    assert path.read_bytes() != content or name == "write_grade_form"
    assert not list(tmp_path.glob(".*"))


def test_every_public_writer_is_tried_here():
    """Every function behind a name: results inherit one `to_csv`, and one of them that had its own would be missed."""
    places = [(cs, name) for name in cs.__all__ if re.match("save|write", name)]
    for kind in (getattr(cs, owner) for owner in cs.__all__):
        if isinstance(kind, type):
            places += [(kind, name) for name in dir(kind) if re.match("save|to_csv|to_svg|write", name)]
    found = {getattr(place, name) for place, name in places}
    assert found == {write.__func__ if "." in name else getattr(cs, name) for name, (write, _) in WRITERS.items()}


def test_no_other_place_of_the_library_opens_a_file_to_write():
    allowed = {"files.py", "compiled.py", "bench_plaque.py"}  # the last leaves the report it has printed
    opening = re.compile(
        r"""\bopen\([^)]*["'][wxa]b?\+?["']|\.write_(text|bytes)\(|savefig\((?!out\b|figure\b)|os\.replace\("""
    )
    root = Path(cs.__file__).parent
    sources = [p for p in root.rglob("*.py") if p.name not in allowed]
    sources += [p for p in (root.parent / "examples").glob("*.py") if p.name not in allowed]
    assert {
        p.name: opening.findall(p.read_text(encoding="utf-8"))
        for p in sources
        if opening.search(p.read_text(encoding="utf-8"))
    } == {}


# --- the disk is full -------------------------------------------------------------------------------------------------


class Full:
    """A file on a disk with room for so many bytes."""

    def __init__(self, args, options, room):
        self.handle, self.room = open(*args, **options), room  # noqa: SIM115

    def write(self, data):
        self.room -= len(data)
        if self.room < 0:
            self.handle.write(data[: self.room])
            raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))
        return self.handle.write(data)

    def __getattr__(self, name):
        return getattr(self.handle, name)

    def __enter__(self):
        return self

    def __exit__(self, *what):
        self.handle.close()


@each
@pytest.mark.parametrize("unnamed", [True, False], ids=["no name", "beside"])
@pytest.mark.parametrize("room", [0, 150])
def test_on_a_full_disk_the_old_file_is_as_it_was(tmp_path, monkeypatch, name, room, unnamed):
    write, path, content = before(tmp_path, name)
    monkeypatch.setattr(_files, "open", lambda *a, **k: Full(a, k, room), raising=False)
    if not unnamed:
        monkeypatch.setattr(_files, "_unnamed", lambda folder: None)
    with pytest.raises(OSError, match=os.strerror(errno.ENOSPC)):
        write(path)
    untouched(path, content)


@each
def test_a_limit_of_the_system_on_the_size_of_files_is_a_full_disk(tmp_path, name):
    """No stand-in: the kernel itself refuses to write beyond 100 bytes."""
    resource = pytest.importorskip("resource")
    write, path, content = before(tmp_path, name)
    old = resource.getrlimit(resource.RLIMIT_FSIZE)
    resource.setrlimit(resource.RLIMIT_FSIZE, (100, old[1]))
    try:
        with pytest.raises(OSError, match=os.strerror(errno.EFBIG)):
            write(path)
    finally:
        resource.setrlimit(resource.RLIMIT_FSIZE, old)
    untouched(path, content)


@pytest.mark.parametrize("what", ["fsync", "replace", "link"])
def test_whatever_fails_last_leaves_the_old_file(tmp_path, monkeypatch, what):
    def trip(*_, **__):
        raise OSError(errno.EIO, "the disk is ill")

    write, path, content = before(tmp_path, "RiskMap.to_csv")
    if what == "link" and _files._unnamed(str(tmp_path)) is None:
        pytest.skip("no files without a name here")
    monkeypatch.setattr(os, what, trip)
    with pytest.raises(OSError, match="ill"):
        write(path)
    untouched(path, content)


def test_a_writer_that_raises_half_way_leaves_the_old_file(tmp_path):
    path = tmp_path / "a.txt"
    path.write_text("old")

    def write(place, error):
        with whole_file(place) as handle:
            handle.write("half of the n")
            handle.flush()
            raise error

    for error in (ValueError, KeyboardInterrupt, SystemExit):
        for place in (path, tmp_path / "new.txt"):
            with pytest.raises(error):
                write(place, error)
            untouched(path, b"old")


# --- killed -----------------------------------------------------------------------------------------------------------

KILLED = textwrap.dedent(
    """
    import os, signal, sys
    import numpy as np
    import chipsim as cs
    from chipsim._shared import files as _files
    from chipsim.damage import maps
    risk = cs.RiskMap.load(sys.argv[1])
    where, path = sys.argv[2], sys.argv[3]
    many = 400
    arrays = {f.name: np.concatenate([getattr(risk, f.name)] * many) for f in maps._array_fields()}
    rng = np.random.default_rng(0)
    arrays["fuzz"] = rng.random(arrays["fuzz"].shape)  # so that there is something to write
    big = cs.RiskMap(setup=risk.setup, **arrays)
    end = lambda *_: os.kill(os.getpid(), signal.SIGKILL)

    class Deadly:
        def __init__(self, *args):
            self.handle, self.room = args[0], 60_000
        def write(self, data):
            self.room -= len(data)
            if self.room < 0:
                self.handle.flush()
                end()
            return self.handle.write(data)
        def __getattr__(self, name):
            return getattr(self.handle, name)
        def __enter__(self):
            return self
        def __exit__(self, *what):
            self.handle.close()

    if where == "middle":
        _files.open = lambda *args, **options: Deadly(open(*args, **options))
    else:
        setattr(os, where, end)
    print("writing", flush=True)
    (big.to_csv if path.endswith("csv") else big.save)(path)
    end()
    """
)


@pytest.mark.skipif(not hasattr(signal, "SIGKILL"), reason="no such signal")
@pytest.mark.parametrize("file", ["big.csv", "big.npz"])
@pytest.mark.parametrize("where", ["fsync", "replace", "middle"])
def test_killed_in_the_middle_of_a_big_save_the_old_file_is_whole(tmp_path, file, where):
    """By the signal that no process can answer: nothing can be cleaned up, and half a file must not be left."""
    source, folder = tmp_path / "small.npz", tmp_path / "kept"
    folder.mkdir()
    RISK.save(source)
    path = folder / file
    path.write_bytes(b"old and whole")
    env = os.environ | {"CHIPSIM_QUIET": "1"}
    ask = [sys.executable, "-c", KILLED, str(source), where, str(path)]
    done = subprocess.run(ask, env=env, capture_output=True, text=True, timeout=200)
    assert done.returncode == -signal.SIGKILL, done.stderr
    assert done.stdout == "writing\n"
    assert path.read_bytes() == b"old and whole"
    if where != "replace" and _files._unnamed(str(folder)) is not None:
        assert [p.name for p in folder.iterdir()] == [file]
    for other in folder.iterdir():  # what lies there under another name is no half file either, or is hidden
        assert other == path or other.name.startswith(f".{file}.")


# --- where it is written ----------------------------------------------------------------------------------------------


@each
def test_a_missing_folder_is_named_with_the_argument(tmp_path, name):
    write, file = WRITERS[name]
    with pytest.raises(
        cs.DomainError, match=r"^path must lie in a folder that exists, got '.*': there is no folder '.*no"
    ):
        write(tmp_path / "no" / file)
    assert not list(tmp_path.iterdir())


@each
def test_what_is_no_path_of_a_file_is_refused_by_name(tmp_path, name):
    write, file = WRITERS[name]
    folder = tmp_path / f"folder{Path(file).suffix}"
    folder.mkdir()
    (tmp_path / "plain").write_text("a file")
    # `to_csv` and `to_svg` write on into a file open for text, as their docstrings say; none takes one open for bytes
    with open(tmp_path / f"open{Path(file).suffix}", "wb" if name.endswith((".to_csv", ".to_svg")) else "w") as handle:
        for bad in (folder, handle, 3, "", f"a\0{file}", tmp_path / "plain" / file):
            with pytest.raises(cs.DomainError, match=r"^path must"):
                write(bad)


def test_a_link_stays_and_its_target_is_replaced(tmp_path):
    (tmp_path / "far").mkdir()
    target, link = tmp_path / "far" / "map.csv", tmp_path / "link.csv"
    target.write_text("old")
    try:
        link.symlink_to(target)
    except OSError:
        pytest.skip("no links here")
    RISK.to_csv(link)
    assert link.is_symlink()
    assert target.read_text().startswith("station [mm],side")
    dangling = tmp_path / "dangling.csv"
    dangling.symlink_to(tmp_path / "far" / "new.csv")
    RISK.to_csv(dangling)
    assert (tmp_path / "far" / "new.csv").read_bytes() == target.read_bytes()
    loop = tmp_path / "loop.csv"
    loop.symlink_to(loop)
    with pytest.raises(cs.DomainError, match="leads back to itself"):
        RISK.to_csv(loop)


@pytest.mark.skipif(os.name != "posix", reason="permissions of POSIX")
@pytest.mark.parametrize("unnamed", [True, False])
def test_permissions_of_the_old_file_stay_and_new_files_have_the_usual_ones(tmp_path, monkeypatch, unnamed):
    if not unnamed:
        monkeypatch.setattr(_files, "_unnamed", lambda folder: None)
    for mode in (0o600, 0o664, 0o755):
        path = tmp_path / "map.csv"
        path.write_text("old")
        path.chmod(mode)
        RISK.to_csv(path)
        assert stat.S_IMODE(path.stat().st_mode) == mode
    RISK.to_csv(tmp_path / "new.csv")
    with open(tmp_path / "plain", "w"):
        pass
    assert (tmp_path / "new.csv").stat().st_mode == (tmp_path / "plain").stat().st_mode


@pytest.mark.skipif(os.name != "posix", reason="permissions of POSIX")
def test_a_write_protected_file_is_not_replaced(tmp_path, monkeypatch):
    write, path, content = before(tmp_path, "FittedModel.save")
    path.chmod(0o444)
    # whoever may do everything is asked as somebody who may not
    monkeypatch.setattr(os, "access", lambda place, how: bool(os.stat(place).st_mode & 0o200))
    with pytest.raises(PermissionError, match="write-protected"):
        write(path)
    untouched(path, content)


@pytest.mark.skipif(not os.path.exists("/dev/full"), reason="no such device")
def test_a_device_is_written_to_and_never_replaced(tmp_path):
    RISK.to_csv(os.devnull)
    assert stat.S_ISCHR(os.stat(os.devnull).st_mode)
    with pytest.raises(OSError, match=os.strerror(errno.ENOSPC)):
        RISK.to_csv("/dev/full")
    assert stat.S_ISCHR(os.stat("/dev/full").st_mode)
    pipe, got = tmp_path / "pipe", []
    os.mkfifo(pipe)
    reader = threading.Thread(target=lambda: got.append(pipe.read_text(encoding="utf-8")))
    reader.start()
    RISK.to_csv(pipe)
    reader.join(timeout=60)
    RISK.to_csv(tmp_path / "map.csv")
    assert got[0].splitlines() == (tmp_path / "map.csv").read_text(encoding="utf-8").splitlines()


def test_names_may_be_as_long_as_the_system_allows(tmp_path):
    path = tmp_path / ("a" * 251 + ".csv")
    for _ in range(2):
        RISK.to_csv(path)
    assert path.stat().st_size > 200


def test_many_writers_of_one_file_leave_one_whole_file(tmp_path):
    path, faults = tmp_path / "map.csv", []

    def work():
        try:
            for _ in range(10):
                RISK.to_csv(path)
        except BaseException as error:
            faults.append(error)

    hands = [threading.Thread(target=work) for _ in range(4)]
    for hand in hands:
        hand.start()
    for hand in hands:
        hand.join()
    assert not faults
    RISK.to_csv(tmp_path / "one.csv")
    assert path.read_bytes() == (tmp_path / "one.csv").read_bytes()
    assert sorted(p.name for p in tmp_path.iterdir()) == ["map.csv", "one.csv"]


def test_cells_of_a_sweep_are_written_whole(tmp_path, monkeypatch):
    store = _Store(tmp_path)
    store.write("k", SWEEP[0])
    kept = (tmp_path / "cell-k.json").read_bytes()
    monkeypatch.setattr(_files, "open", lambda *a, **k: Full(a, k, 200), raising=False)
    with pytest.raises(OSError, match=os.strerror(errno.ENOSPC)):
        store.write("k", SWEEP[1])
    untouched(tmp_path / "cell-k.json", kept)


@pytest.mark.parametrize("kind", ["png", "svg", "pdf"])
def test_a_picture_is_the_same_twice_and_dateless(tmp_path, kind):
    for name in ("one", "two"):
        cs.save_figure(FIGURE, tmp_path / f"{name}.{kind}", dpi=50)
    content = (tmp_path / f"one.{kind}").read_bytes()
    assert content == (tmp_path / f"two.{kind}").read_bytes()
    assert not re.search(rb"CreationDate|<dc:date>", content)


def test_a_picture_of_an_unknown_kind_is_refused(tmp_path):
    for bad in ("picture.jpg", "picture", "png"):
        with pytest.raises(cs.DomainError, match=r"^path must .* ends in \.png, \.svg or \.pdf, got"):
            cs.save_figure(FIGURE, tmp_path / bad)
    for nothing in ("picture", Line2D([0, 1], [0, 1])):  # what is drawn nowhere has no figure
        with pytest.raises(cs.DomainError, match="figure must be a matplotlib Figure"):
            cs.save_figure(nothing, tmp_path / "a.png")
    with pytest.raises(cs.DomainError, match="dpi must"):
        cs.save_figure(FIGURE, tmp_path / "a.png", dpi=5)
    assert not list(tmp_path.iterdir())


@pytest.mark.parametrize("name", ["sheet", "sheet.PDF.txt", "sheet.ps", ".pdf", "sheetpdf"])
def test_a_sheet_has_a_name_that_ends_in_pdf(tmp_path, name):
    with pytest.raises(cs.DomainError, match=r"^path must be the path of a file whose name ends in \.pdf, got"):
        cs.write_grading_sheet(PIECE, tmp_path / name)
    assert not list(tmp_path.iterdir())
    cs.write_grading_sheet(PIECE, tmp_path / "SHEET.PDF")
    assert (tmp_path / "SHEET.PDF").read_bytes().startswith(b"%PDF")
