"""What is loaded is looked at first: nothing that no map, fit or sweep can have written is believed or fills memory."""

import json
import math
import tracemalloc
import zipfile
from dataclasses import dataclass

import numpy as np
import pytest

import chipsim as cs
from chipsim.choosing import sweeps
from chipsim.damage import maps
from chipsim.learning import fitting

BIT = cs.VBit(60, 12.7, 2, 0.2)
MACHINE = cs.Machine(300, 3000, plunge_feed=400)
BOARD = cs.Board(cs.wood("sugar maple", moisture=8), cs.straight_grain(20))
CUT = cs.Cut(BIT, cs.Path([(0, 0), (9, 0), (9, 7)], [0.0, 1.5, 1.2]), 17_000, 1300, machine=MACHINE)
RISK = cs.risk_map(CUT, BOARD, pitch=0.5, draws=5)
PIECE = cs.coupon(BIT, BOARD, 17_000, [1300], machine=MACHINE, sectors=8, straight_pair=False, stair=False)
FITTED = cs.fit(PIECE, cs.invented_grades(PIECE, seed=2))


# --- maps -------------------------------------------------------------------------------------------------------------


@pytest.fixture(scope="module")
def members(tmp_path_factory):
    path = tmp_path_factory.mktemp("map") / "good.npz"
    RISK.save(path)
    with np.load(path) as data:
        return {name: data[name] for name in data.files}


def one(name, value, at=0):
    """Change of a single value of an array."""

    def change(members):
        values = members[name].copy()
        values.reshape(-1)[at] = value
        return {name: values}

    return change


def setting(**change):
    return lambda members: {"setup": np.array(json.dumps(json.loads(str(members["setup"])) | change))}


def band(**change):
    return lambda members: {"band": np.array(json.dumps(json.loads(str(members["band"])) | change))}


IMPOSSIBLE = {
    "fuzz above 1": (one("fuzz", 1.0001), r"fuzz must lie in \[0, 1\], got 1.0001"),
    "tear below 0": (one("tear", -1e-9), r"tear must lie in \[0, 1\]"),
    "scorch infinite": (one("scorch", np.inf), r"scorch must lie in"),
    "a length below 0": (one("lip_length", -0.1), r"lip_length must lie in \[0, inf\]"),
    "no length": (one("lip_length", np.nan), "lip_length must lie in"),
    "a depth above the face": (one("depth", -1.0), "depth must lie in"),
    "no depth": (one("depth", np.nan), "depth must lie in"),
    "a half width below 0": (one("half_width", -1.0), "half_width must lie in"),
    "a station before the start": (one("station", -1.0), "station must lie in"),
    "a station beyond the end": (one("station", 1e6), "station must lie on its groove"),
    "an axis nowhere": (one("xy", np.nan), "xy must lie in"),
    "a lip at infinity": (one("lip_xy", np.inf), "lip_xy must lie in"),
    "a chip below 0": (one("largest_chip", -0.1), "largest_chip must lie in"),
    "a tear deeper than nothing": (one("tear_depth", -0.1), "tear_depth must lie in"),
    "fewer strikes than none": (one("strikes", -1), "strikes must lie in"),
    "colder than cold": (one("temperature", -300.0), "temperature must lie in"),
    "a doubt nobody knows": (one("doubt", 99), "doubt must be one of"),
    "a groove that is not there": (one("groove", 1), "groove must be one of"),
    "a groove before the first": (one("groove", -1), "groove must be one of"),
    "a kind nobody knows": (one("kind", "loop"), "kind must be"),
    "existing by half": (lambda m: {"exists": m["exists"] * 0.5}, "exists must be of shape"),
    "groove by half": (lambda m: {"groove": m["groove"] + 0.5}, "groove must be of shape"),
    "complex risks": (lambda m: {"fuzz": m["fuzz"] + 0j}, "fuzz must be of shape"),
    "a row too few": (lambda m: {"tear": m["tear"][1:]}, "tear must be of shape"),
    "lips side by side": (lambda m: {"tear": m["tear"].reshape(-1)}, "tear must be of shape"),
    "a station of two": (lambda m: {"station": np.column_stack([m["station"]] * 2)}, "must be of shape"),
    "objects": (lambda m: {"fuzz": m["fuzz"].astype(object)}, "fuzz is declared as object"),
    "version in words": (lambda m: {"chipsim_risk_map": np.array("2")}, "chipsim_risk_map must be of shape"),
    "a band above 1": (one("band_high", 1.5), "band_high must lie in"),
    "a band that falls": (lambda m: {"band_low": m["band_high"], "band_high": m["band_low"]}, "band must rise"),
    "a band too short": (lambda m: {"band_low": m["band_low"][1:]}, "band_low must be of shape"),
    "a band of no draws": (band(draws=0), "band must hold"),
    "poor spots in words": (band(poor=["a", "b", "c"]), "band must hold"),
    "poor spots below 0": (band(poor=[-1, 0, 1]), "band must hold"),
    "reasons in a list": (band(reasons=[1]), ""),
    "no set-up at all": (lambda m: {"setup": np.array("[]")}, "setup must hold what every map's holds, got no .*wood"),
    "moisture in words": (setting(moisture="dry"), "setup must hold moisture of kind float"),
    "moisture true": (setting(moisture=True), "setup must hold moisture of kind float"),
    "a number for the wood": (setting(wood=3), "setup must hold wood of kind str"),
    "lengths in words": (setting(lengths="long"), "setup must hold lengths"),
    "lengths of words": (setting(lengths=["long"]), "setup must hold lengths"),
    "no groove": (setting(lengths=[], closed=[], spins=[]), "setup must hold length, end and spin"),
    "an end too many": (setting(closed=[True, False]), "setup must hold length, end and spin"),
    "a length without end": (setting(lengths=[math.inf]), "setup must hold lengths from 0"),
    "a spin nobody knows": (setting(spins=["up"]), "setup must hold .* spins of 'cw' or 'ccw'"),
    "a set-up nested without end": (lambda m: {"setup": np.array("[" * 100_000)}, "recursion"),
}


def saved(path, members):
    np.savez(path, **members)
    return path


def test_what_is_sound_is_loaded(tmp_path, members):
    """Down to the order of its words: the reasons of a band stood in another one."""
    again = cs.RiskMap.load(saved(tmp_path / "a.npz", members))
    assert str(again) == str(RISK)
    for risk in (cs.risk_map(CUT, BOARD), cs.risk_map(CUT, BOARD, model=FITTED, pitch=1.0, draws=3)):
        risk.save(tmp_path / "b.npz")
        assert str(cs.RiskMap.load(tmp_path / "b.npz")) == str(risk)


@pytest.mark.parametrize("name", IMPOSSIBLE)
def test_a_map_that_cannot_be_is_not_loaded(tmp_path, members, name):
    change, words = IMPOSSIBLE[name]
    path = saved(tmp_path / "bad.npz", members | change(members))
    with pytest.raises(cs.DomainError, match=f"^path must hold a saved risk map, got '.*bad.npz'.*{words}"):
        cs.RiskMap.load(path)


def head(shape, descr="<f8"):
    text = str({"descr": descr, "fortran_order": False, "shape": shape}).encode()
    text += b" " * (63 - (len(text) + 10) % 64) + b"\n"
    return b"\x93NUMPY\x01\x00" + len(text).to_bytes(2, "little") + text


def packed(path, members, replaced, inflated=0):
    """An archive of which one member is so many bytes, and then so many zeros."""
    np.savez_compressed(path, **members)
    with zipfile.ZipFile(path) as old:
        content = {n: old.read(n) for n in old.namelist() if n.removesuffix(".npy") not in replaced}
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as new:
        for name, data in content.items():
            new.writestr(name, data)
        for name, data in replaced.items():
            with new.open(f"{name}.npy", "w", force_zip64=True) as handle:
                handle.write(data)
                for _ in range(inflated // 2**20):
                    handle.write(bytes(2**20))
    return path


BOMBS = {
    "an array of 4 TB claimed": ({"fuzz": head((2**38, 2))}, 0, "fuzz is declared as float64 of shape"),
    "a size beyond all numbers": ({"fuzz": head((2**62, 2**62))}, 0, "fuzz is declared as float64"),
    "a size below 0": ({"fuzz": head((-1, 2))}, 0, "fuzz is declared as float64"),
    "zeros behind the array": ({"fuzz": head((3, 2))}, 300 * 2**20, "fuzz is declared as float64"),
    "settings of 300 MB": ({"setup": head((), f"<U{75 * 2**20}")}, 300 * 2**20, "claim to hold"),
    "stations of 300 MB": ({"station": head((75 * 2**19,))}, 300 * 2**20, "must be of shape"),
    "a head of 4 GB": ({"fuzz": b"\x93NUMPY\x02\x00\xff\xff\xff\xff"}, 300 * 2**20, "no array of version 1.0"),
}


@pytest.mark.parametrize("name", BOMBS)
def test_what_would_fill_the_memory_is_refused_before_it_is_inflated(tmp_path, members, name):
    replaced, inflated, words = BOMBS[name]
    path = packed(tmp_path / "bomb.npz", members, replaced, inflated)
    assert path.stat().st_size < 2**20
    tracemalloc.start()
    try:
        with pytest.raises(cs.DomainError, match=f"path must hold a saved risk map.*{words}"):
            cs.RiskMap.load(path)
        assert tracemalloc.get_traced_memory()[1] < 20 * 2**20
    finally:
        tracemalloc.stop()


def test_a_whole_map_of_zeros_that_would_fill_the_memory_is_refused(tmp_path, members):
    """All heads agree with each other: only the size of the file tells."""
    rows, path = 40_000, tmp_path / "bomb.npz"
    zeros = {
        name: np.zeros((rows, *v.shape[1:]), v.dtype) if v.ndim and not name.startswith("band") else v
        for name, v in members.items()
        if not name.startswith("band")
    }
    np.savez_compressed(path, **zeros)
    total = sum(v.nbytes for v in zeros.values())
    assert total > 100 * path.stat().st_size
    with pytest.raises(cs.DomainError, match="claim to hold"):
        cs.RiskMap.load(path)


def test_what_packs_best_of_all_maps_is_still_loaded(tmp_path):
    """A straight level groove along the grain: nearly all columns hold one value."""
    risk = cs.risk_map(cs.Cut(BIT, cs.line((0, 0), (2000, 0), 2.0), 15_000, 1500), BOARD, pitch=0.25)
    risk.save(tmp_path / "line.npz")
    assert len(cs.RiskMap.load(tmp_path / "line.npz")) == len(risk)
    size = sum(getattr(risk, f.name).nbytes for f in maps._array_fields())
    assert size < 50 * (tmp_path / "line.npz").stat().st_size  # half of what is allowed


def test_a_member_that_is_there_twice_is_refused(tmp_path, members):
    path = saved(tmp_path / "twice.npz", members)
    with pytest.warns(UserWarning, match="Duplicate"), zipfile.ZipFile(path, "a") as archive:
        archive.writestr("fuzz.npy", archive.read("fuzz.npy"))
    with pytest.raises(cs.DomainError, match="fuzz is there twice"):
        cs.RiskMap.load(path)


@dataclass(frozen=True)
class Says:
    """A user's model that says one thing."""

    name: str
    value: float
    bundle: float = 0.1

    def lip_risks(self, strikes, fibres, cut, wood):
        return {self.name: np.full(strikes.exists.shape, self.value)}


@pytest.mark.parametrize(("name", "value"), [("fuzz", 1.01), ("tear", -0.1), ("scorch", np.inf), ("tear_depth", -1.0)])
def test_a_model_that_says_what_no_map_may_hold_is_refused_at_once(name, value):
    """What could be saved and not be loaded would be lost."""
    with pytest.raises(cs.DomainError, match=rf"model\.lip_risks must return '{name}' in .*, got {value:g}"):
        cs.risk_map(CUT, BOARD, model=Says(name, value), pitch=2.0)
    cs.risk_map(CUT, BOARD, model=Says(name, np.nan), pitch=2.0)
    with pytest.raises(cs.DomainError, match=r"risks by their names, fuzz, tear, scorch, .*, got 'tearout'"):
        cs.risk_map(CUT, BOARD, model=Says("tearout", 0.5), pitch=2.0)


# --- fits -------------------------------------------------------------------------------------------------------------


@pytest.fixture(scope="module")
def fit(tmp_path_factory):
    path = tmp_path_factory.mktemp("fit") / "good.json"
    FITTED.save(path)
    return json.loads(path.read_text(encoding="utf-8"))


def put(*where, value):
    """Change of what stands at a place in the nest."""

    def change(content):
        inner = content
        for key in where[:-1]:
            inner = inner[key]
        inner[where[-1]] = value

    return change


NO_FIT = {
    "a parameter far out": put("parameters", 0, value=1e6),
    "a parameter that is none": put("parameters", 0, value=math.nan),
    "a parameter in words": put("parameters", 0, value="a"),
    "a covariance of no draws": put("covariance", 0, 0, value=-1.0),
    "a covariance that is lopsided": put("covariance", 0, 1, value=0.5),
    "an infinite covariance": put("covariance", 0, 0, value=math.inf),
    "an outlook above 1": put("settings", 0, 1, 0, value=1.5),
    "an outlook in words": put("settings", 0, 1, 0, value="a"),
    "a speed below 0": put("settings", 0, 0, 0, value=-1.0),
    "a direction beyond 180": put("directions", 0, 0, value=500.0),
    "a kappa of 3": put("agreement", 3, value=3.0),
    "pairs in words": put("agreement", 0, value="many"),
    "held by more than all": put("comparison", 7, value=2.0),
    "a grade of 9": put("grades", 0, "rows", 0, 4, value=9),
    "an identity that is a number": put("grades", 0, "identity", value=5),
    "widths in words": put("seen", "half_width", value=["a", "b"]),
    "widths that fall": put("seen", "half_width", value=[2.0, 1.0]),
    "nothing seen": put("seen", value=None),
    "a bin beyond the last": put("seen", "angles", value=[12]),
    "a wood without a name": put("seen", "woods", 0, 0, value=3),
    "a note that is a number": put("notes", value=[3]),
    "a friction below 0": put("prior", "friction", value=-1.0),
}


@pytest.mark.parametrize("name", NO_FIT)
def test_a_fit_that_cannot_be_is_not_loaded(tmp_path, fit, name):
    content = json.loads(json.dumps(fit))
    NO_FIT[name](content)
    (tmp_path / "bad.json").write_text(json.dumps(content), encoding="utf-8")
    with pytest.raises(cs.DomainError, match=r"^path must hold a saved fitted model, got '.*bad.json'"):
        cs.FittedModel.load(tmp_path / "bad.json")


def test_a_fit_too_long_or_nested_without_end_is_refused(tmp_path, monkeypatch):
    (tmp_path / "deep.json").write_text("[" * 100_000)
    with pytest.raises(cs.DomainError, match="path must hold a saved fitted model"):
        cs.FittedModel.load(tmp_path / "deep.json")
    FITTED.save(tmp_path / "good.json")
    assert cs.FittedModel.load(tmp_path / "good.json").learned == FITTED.learned
    monkeypatch.setattr(fitting, "_LONGEST", 1000)
    with pytest.raises(cs.DomainError, match="longer than 1000 bytes"):
        cs.FittedModel.load(tmp_path / "good.json")


# --- cells of a sweep -------------------------------------------------------------------------------------------------

ODD_CELLS = {
    "a damage above 1": put("mean", "damage", value=7.0),
    "a damage below 0": put("mean", "damage", value=-0.1),
    "a damage in words": put("mean", "damage", value="0.1"),
    "a damage that is true": put("mean", "damage", value=True),
    "a worst below the mean": put("worst", "damage", value=0.0),
    "a risk too many": put("mean", "glue", value=0.1),
    "no worst": put("worst", value={}),
    "lengths in a list": put("lengths", value=[1, 2]),
    "a length below 0": put("lengths", "damage", "clean", value=-5.0),
    "a length not known": put("lengths", "damage", "clean", value=math.nan),
    "a class too few": put("lengths", "fuzz", value={"clean": 3.0}),
    "a time below 0": put("time", 0, value=-1.0),
    "times out of order": put("time", 2, value=0.0),
    "a time in words": put("time", 1, value="soon"),
    "times too few": put("time", value=[1.0, 2.0]),
    "no limits": put("limits", value=[]),
    "limits in words": put("limits", value="all kept"),
    "a violated limit said to be kept": put("limits", 1, "value", value=1e9),
    "a margin of a limit that is not known": put("limits", 0, "margin", value=5.0),
    "a limit in words": put("limits", 0, "value", value="low"),
    "a limit without a name": put("limits", 0, "name", value=3),
    "a limit of unknown status": put("limits", 0, "status", value="fine"),
    "strikes below 0": put("strikes", 0, value=-1.0),
    "more rubs than strikes": put("strikes", 1, value=1e6),
    "strikes without end": put("strikes", 0, value=math.inf),
    "a number beyond all numbers": put("limits", 0, "margin", value=10**400),
}


@pytest.fixture(scope="module")
def kept(tmp_path_factory):
    folder = tmp_path_factory.mktemp("kept")
    ask = {"feed": [1300], "pitch": 1.0, "workers": 1, "results": folder}
    cells = cs.sweep(CUT, BOARD, **ask).cells
    (file,) = folder.iterdir()
    return ask, cells, file, json.loads(file.read_text(encoding="utf-8"))


def test_a_sound_cell_is_taken_as_it_is(kept, monkeypatch):
    ask, cells, file, content = kept
    monkeypatch.setattr(sweeps, "gather", None)
    file.write_text(json.dumps(content), encoding="utf-8")
    assert repr(cs.sweep(CUT, BOARD, **ask).cells) == repr(cells)


@pytest.mark.parametrize("name", ODD_CELLS)
def test_a_kept_cell_of_the_right_key_that_cannot_be_is_worked_out_again(kept, name):
    ask, cells, file, content = kept
    odd = json.loads(json.dumps(content))
    ODD_CELLS[name](odd)
    assert odd["key"] == content["key"]
    file.write_text(json.dumps(odd), encoding="utf-8")
    assert repr(cs.sweep(CUT, BOARD, **ask).cells) == repr(cells)
    assert json.loads(file.read_text(encoding="utf-8")) == content


@pytest.mark.parametrize("text", ["null", "[]", "3", '"x"', "[" * 100_000, "{}", " " * 2_000_000])
def test_a_kept_cell_that_is_no_cell_is_worked_out_again(kept, text):
    ask, cells, file, _ = kept
    file.write_text(text, encoding="utf-8")
    assert repr(cs.sweep(CUT, BOARD, **ask).cells) == repr(cells)
