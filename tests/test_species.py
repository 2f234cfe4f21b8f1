"""Woods: the species table against its printed source, the handbook's formulas, and laws over every row.

"Wood Handbook" is USDA Forest Products Laboratory, FPL-GTR-190 (2010) and FPL-GTR-282 (2021), read in copies.
"""

from __future__ import annotations

import copy
import csv
import dataclasses
import math
import pickle
import subprocess
import sys
from importlib.resources import files

import numpy as np
import pytest

from chipsim.errors import DomainError
from chipsim.scene import species as module
from chipsim.scene.species import (
    ElasticRatios,
    Wood,
    basic_specific_gravity,
    conductivity_across,
    density_at,
    equilibrium_moisture,
    hankinson,
    heat_capacity_at,
    moisture_adjusted,
    specific_gravity_at,
    wood,
    woods,
)

FIELDS = (
    "specific_gravity",
    "bending_strength",
    "elastic_modulus",
    "compression_parallel",
    "compression_perpendicular",
    "shear_parallel",
    "tension_perpendicular",
    "side_hardness",
)
KPA = {"bending_strength", *(f for f in FIELDS if f.startswith(("compression", "shear", "tension")))}
MOVED = tuple(f for f in FIELDS if f not in ("specific_gravity", "tension_perpendicular"))  # by Eq 5-3

# Wood Handbook Table 5-3a (metric) and, for the mahoganies, 5-5a: SG [-], kPa, MOE MPa, hardness N; "-" not printed.
DRY = """
white oak            0.68 105000  12300  51300   7400  13800   5500   6000
northern red oak     0.63  99000  12500  46600   7000  12300   5500   5700
black cherry         0.50  85000  10300  49000   4800  11700   3900   4200
sugar maple          0.63 109000  12600  54000  10100  16100      -   6400
red maple            0.54  92000  11300  45100   6900  12800      -   4200
black walnut         0.55 101000  11600  52300   7000   9400   4800   4500
yellow birch         0.62 114000  13900  56300   6700  13000   6300   5600
paper birch          0.55  85000  11000  39200   4100   8300      -   4000
american beech       0.64 103000  11900  50300   7000  13900   7000   5800
white ash            0.60 103000  12000  51100   8000  13200   6500   5900
american basswood    0.37  60000  10100  32600   2600   6800   2400   1800
yellow-poplar        0.42  70000  10900  38200   3400   8200   3700   2400
eastern cottonwood   0.40  59000   9400  33900   2600   6400   4000   1900
black cottonwood     0.35  59000   8800  31000   2100   7200   2300   1600
quaking aspen        0.38  58000   8100  29300   2600   5900   1800   1600
true mahogany           -  79300  10300  46700      -   8500      -   3600
african mahogany        -  73800   9700  44500      -  10300      -   3700
eastern white pine   0.35  59000   8500  33100   3000   6200   2100   1700
douglas-fir, coast   0.48  85000  13400  49900   5500   7800   2300   3200
western redcedar     0.32  51700   7700  31400   3200   6800   1500   1600
longleaf pine        0.59 100000  13700  58400   6600  10400   3200   3900
loblolly pine        0.51  88000  12300  49200   5400   9600   3200   3100
"""

# The same table's green rows: Wood Handbook (2021), western redcedar (2010).
GREEN = """
white ash            0.55  66000   9900  27500   4600   9300   4100   4300
black cherry         0.47  55000   9000  24400   2500   7800   3900   2900
sugar maple          0.56  65000  10700  27700   4400  10100      -   4300
northern red oak     0.56  57000   9300  23700   4200   8300   5200   4400
white oak            0.60  57000   8600  24500   4600   8600   5300   4700
yellow-poplar        0.40  41000   8400  18300   1900   5400   3500   2000
douglas-fir, coast   0.45  53000  10800  26100   2600   6200   2100   2200
longleaf pine        0.54  59000  11000  29800   3300   7200   2300   2600
western redcedar     0.31  35900   6500  19100   1700   5300   1600   1200
"""

# Work to maximum load [kJ/m3] and impact bending [mm], Table 5-3a at 12 %.
IMPACT = """
white oak             102   940
northern red oak      100  1090
black cherry           79   740
sugar maple           114   990
red maple              86   810
black walnut           74   860
yellow birch          143  1400
paper birch           110   860
american beech        104  1040
white ash             115  1090
american basswood      50   410
yellow-poplar          61   610
eastern cottonwood     51   510
black cottonwood       46   560
quaking aspen          52   530
eastern white pine     47   460
douglas-fir, coast     68   790
western redcedar       40   430
longleaf pine          81   860
loblolly pine          72   760
"""

# Wood Handbook Table 5-1 from memory: E_T, E_R, G_LR, G_LT, G_RT over E_L; sitka spruce read elsewhere.
ELASTIC = """
white ash            0.080  0.125  0.109  0.077      -
american basswood    0.027  0.066  0.056  0.046      -
yellow birch         0.050  0.078  0.074  0.068  0.017
black cherry         0.086  0.197  0.147  0.097      -
eastern cottonwood   0.047  0.083  0.076  0.052      -
true mahogany        0.064  0.107  0.066  0.086  0.028
sugar maple          0.065  0.132  0.111  0.063      -
red maple            0.067  0.140  0.133  0.074      -
northern red oak     0.082  0.154  0.089  0.081      -
white oak            0.072  0.163  0.086      -      -
black walnut         0.056  0.106  0.085  0.062  0.021
yellow-poplar        0.043  0.092  0.075  0.069  0.011
western redcedar     0.055  0.081  0.087  0.086  0.005
douglas-fir, coast   0.050  0.068  0.064  0.078  0.007
longleaf pine        0.055  0.102  0.071  0.060  0.012
western white pine   0.038  0.078  0.052  0.048  0.005
sitka spruce         0.045  0.090      -      -      -
"""

# Wood Handbook Table 5-10, kPa sqrt(m): mode I planes TL, RL; mode II planes TL, RL (columns from memory).
TOUGHNESS = """
douglas-fir, coast     320    360      -   2230
western hemlock        375      -      -   2240
western white pine     250    260      -      -
scots pine             440    500   2050      -
longleaf pine          375      -   2070      -
loblolly pine          375      -   2070      -
ponderosa pine         290      -      -      -
red spruce             420      -   2190   1665
northern red oak       410      -      -      -
sugar maple            480      -      -      -
yellow-poplar          517      -      -      -
"""

# Wood Handbook (2021) Table 4-3: total shrinkage, tangential and radial [%].
SHRINKAGE = """
white oak            10.5    5.6
northern red oak      8.6    4.0
black cherry          7.1    3.7
sugar maple           9.9    4.8
white ash             7.8    4.9
yellow-poplar         8.2    4.6
douglas-fir, coast    7.6    4.8
"""

# Wood Handbook (2021) Table 5-13: Mp [%]; species not listed there take 25.
SATURATION = """
white ash              24
yellow birch           27
douglas-fir, coast     24
western hemlock        28
western larch          28
loblolly pine          21
longleaf pine          21
red pine               24
redwood                21
red spruce             27
sitka spruce           27
tamarack               24
"""


def printed(table: str) -> dict[str, dict[str, float]]:
    """Rows of a printed table by species, in MPa, N and -; what is not printed is left out."""
    out = {}
    for line in table.strip().splitlines():
        cells = zip(FIELDS, line[20:].split(), strict=True)
        out[line[:20].strip()] = {f: float(c) / (1000 if f in KPA else 1) for f, c in cells if c != "-"}
    return out


def rows(file: str) -> list[dict[str, str]]:
    text = (files("chipsim.data") / file).read_text(encoding="utf-8")
    return list(csv.DictReader(line for line in text.splitlines() if not line.startswith("#")))


TABLE = {row["species"]: row for row in rows("woods.csv")}
BLOCKS = ("saturation", "dry", "green", "elastic", "fracture", "shrinkage")
every_species = pytest.mark.parametrize("name", list(printed(DRY)))
every_row = pytest.mark.parametrize("row", TABLE.values(), ids=TABLE)


def own(**changes: object) -> Wood:
    """A hand-built wood, each test changing what it is about."""
    required = {
        "specific_gravity": 0.5,
        "bending_strength": 85,
        "elastic_modulus": 10_300,
        "compression_perpendicular": 4.8,
    }
    return Wood("a wood of my own", **(required | changes))  # type: ignore[arg-type]


# --- printed values -------------------------------------------------------------------------------------------------


def test_names_are_those_of_the_handbook():
    # Wood Handbook Tables 5-3a and 5-5a, lower case; hardwoods first.
    assert set(woods()) == set(printed(DRY))
    assert len(woods()) == 22
    kinds = [wood(name).hardwood for name in woods()]
    assert kinds == sorted(kinds, reverse=True)
    assert sum(kinds) == 17


@every_species
def test_dry_values_to_the_digit(name):
    # Wood Handbook Tables 5-3a and 5-5a at 12 %; kPa over 1000, hence equality of floats.
    w = wood(name, 12)
    assert {f: getattr(w, f) for f in printed(DRY)[name]} == printed(DRY)[name]
    for f in ("bending_strength", "elastic_modulus", "specific_gravity"):
        assert type(getattr(w, f)) is float


@pytest.mark.parametrize("name", list(printed(GREEN)))
def test_green_values_to_the_digit(name):
    # Wood Handbook Table 5-3a, green, above fibre saturation; specific gravity stays on the 12 % volume.
    w = wood(name, 30)
    want = printed(GREEN)[name]
    assert {f: getattr(w, f) for f in MOVED} == {f: want[f] for f in MOVED}
    # The other two green columns are in the table, though `Wood` does not use them.
    row = TABLE[name]
    assert float(row["green_specific_gravity [-]"]) == want["specific_gravity"]
    if "tension_perpendicular" in want:
        assert float(row["green_tension_perpendicular [kPa]"]) == 1000 * want["tension_perpendicular"]


def test_moisture_adjustment_printed_example():
    # Wood Handbook (2021) chapter 5, worked example of Eq 5-3: white ash, bending strength, 8 %: 119 500 kPa.
    assert moisture_adjusted(103_000, 66_000, 8, 24) == pytest.approx(119_500, abs=100)
    assert wood("white ash", moisture=8).bending_strength == pytest.approx(119.5, abs=0.1)


@pytest.mark.parametrize(
    ("table", "headers", "borrowers"),
    [
        (IMPACT, ("work_to_maximum_load [kJ/m3]", "impact_bending [mm]"), ()),
        (ELASTIC, [f"{r} [-]" for r in module._RATIOS], ["eastern white pine"]),
        (TOUGHNESS, [f"k_{k} [kPa m^0.5]" for k in ("ic_tl", "ic_rl", "iic_tl", "iic_rl")], ["eastern white pine"]),
        (SHRINKAGE, ("shrinkage_tangential [%]", "shrinkage_radial [%]"), ()),
        (SATURATION, ("saturation [%]",), ()),
    ],
    ids=["impact", "elastic", "toughness", "shrinkage", "saturation"],
)
def test_other_blocks_to_the_digit(table, headers, borrowers):
    # Sources beside the tables above; eastern white pine borrows western white pine's.
    want = {line[:20].strip(): line[20:].replace("-", "").split() for line in table.strip().splitlines()}
    want |= {name: want["western white pine"] for name in borrowers}
    got = {name: [row[h] for h in headers if row[h]] for name, row in TABLE.items()}
    assert {name: cells for name, cells in got.items() if cells} == want
    # Blanks stand where the print has dashes.
    for line in table.strip().splitlines():
        assert [c == "-" for c in line[20:].split()] == [not TABLE[line[:20].strip()][h] for h in headers]


def test_white_ash_discrepancy_is_told():
    # A copy of the 2021 edition has 106 000 in the table, 103 000 in the worked example; the 2010 table 103 000.
    (note,) = (n for n in wood("white ash").notes if "106 000" in n)
    assert "103 000" in note


@pytest.mark.parametrize(
    ("name", "saturation"),
    # Wood Handbook Table 5-13; a species not listed there has the default, 25.
    [
        ("white ash", 24),
        ("yellow birch", 27),
        ("douglas-fir, coast", 24),
        ("loblolly pine", 21),
        ("longleaf pine", 21),
        ("sugar maple", 25),
        ("eastern white pine", 25),
    ],
)
def test_saturation_is_where_strength_stops_falling(name, saturation):
    at = [wood(name, saturation + step).bending_strength for step in (-0.5, 0.0, 1.0)]
    assert at[0] > 1.01 * at[1]
    assert at[1] == at[2]


def test_conductivity_printed_formula():
    # Wood Handbook (2021) Eq 4-17 at 12 %, values derived from it: white oak, sugar maple, basswood, white pine.
    got = conductivity_across([0.68, 0.63, 0.37, 0.35], 12)
    assert got == pytest.approx([0.184, 0.172, 0.1085, 0.104], abs=5e-4)
    assert wood("white oak").conductivity == pytest.approx(0.184, abs=5e-4)
    assert wood("american basswood").conductivity == pytest.approx(0.1085, abs=5e-5)


def test_heat_capacity_printed_example():
    # Wood Handbook (2010) chapter 4: c_p(12 %, 340 K) = 1.91 kJ/(kg K).
    assert heat_capacity_at(12, 340) == pytest.approx(1910, abs=5)
    # Derived from the same formula: 1.663 at 300 K; and the dry formula alone.
    assert wood("black cherry").heat_capacity == pytest.approx(1663, abs=0.5)
    assert heat_capacity_at(0, 300) == pytest.approx(103.1 + 3.867 * 300, rel=1e-12)


def test_density_printed_formula():
    # Wood Handbook (2021) Eq 4-14 with G at 12 %: white oak 0.68 * 1120 = 761.6 kg/m3.
    assert wood("white oak").density == pytest.approx(761.6, abs=0.01)
    # Eq 4-13 by hand: 0.45 / (1 - 0.265 * 0.45 * 0.6); at 30 % the volume is green.
    assert specific_gravity_at(0.45, 12) == pytest.approx(0.45 / 0.92845, rel=1e-12)
    assert specific_gravity_at(0.45, 30) == 0.45
    assert density_at(0.45, 30) == pytest.approx(585, rel=1e-12)


@pytest.mark.parametrize(("name", "basic"), [("true mahogany", 0.45), ("african mahogany", 0.42)])
def test_mahogany_specific_gravity_is_converted(name, basic):
    # Wood Handbook Table 5-5a prints oven-dry mass over green volume; Eq 4-13 brings it to 12 %.
    assert wood(name).specific_gravity == pytest.approx(basic / (1 - 0.265 * basic * 0.6), rel=1e-12)
    assert any("green-volume basis" in note for note in wood(name).notes)


@pytest.mark.parametrize(
    ("slope", "ratio", "exponent", "percent"),
    # Wood Handbook Eq 5-2 with the exponents read there (bending 1.5, impact 1.5, compression 2.5), derived values.
    [
        (10, 0.10, 1.5, 76.5),
        (5, 0.10, 1.5, 54.4),
        (10, 0.05, 1.5, 61.7),
        (5, 0.05, 1.5, 36.9),
        (10, 0.10, 2.5, 98.1),
        (5, 0.10, 2.5, 89.1),
    ],
)
def test_hankinson_at_slopes_of_grain(slope, ratio, exponent, percent):
    angle = math.degrees(math.atan(1 / slope))
    assert hankinson(100, 100 * ratio, angle, exponent) == pytest.approx(percent, abs=0.05)


def test_equilibrium_moisture_at_room_temperature():
    # Wood Handbook (2021) Eq 4-5, evaluated at 21.1 degrees C (derived).
    assert equilibrium_moisture([30, 50, 65, 80]) == pytest.approx([6.17, 9.24, 11.96, 15.99], abs=0.005)


def test_elastic_ratios_and_toughness():
    # Wood Handbook Tables 5-1 (from memory) and 5-10 (numbers read, columns from memory).
    assert wood("yellow-poplar").elastic_ratios == (0.043, 0.092, 0.075, 0.069, 0.011)
    assert wood("douglas-fir, coast").elastic_ratios == (0.050, 0.068, 0.064, 0.078, 0.007)
    assert wood("black cherry").elastic_ratios[:4] == (0.086, 0.197, 0.147, 0.097)
    names = ("northern red oak", "sugar maple", "yellow-poplar", "douglas-fir, coast", "longleaf pine")
    assert [wood(n).fracture_toughness for n in names] == [0.41, 0.48, 0.517, 0.32, 0.375]


def test_true_modulus_is_ten_per_cent_up():
    # Wood Handbook Table 5-3a, footnote: may be increased by 10 % to remove shear deflection.
    assert wood("black cherry").elastic_modulus_true == pytest.approx(11_330)


def test_perpendicular_law_is_near_the_handbooks():
    # Wood Handbook Table 5-11a, from memory: hardwoods at 12 %, 21.6 G**2.09 MPa. Ours is fitted to fifteen species.
    a, b = module._perpendicular_law()
    g = np.linspace(0.35, 0.68, 12)
    assert a * g**b == pytest.approx(21.6 * g**2.09, rel=0.1)


# --- laws over every row --------------------------------------------------------------------------------------------


def test_table_has_each_species_once_and_every_source_is_known_and_used():
    names = [row["species"] for row in rows("woods.csv")]
    assert len(names) == len(set(names))
    assert names == [n.lower().strip() for n in names]
    keys = [row["key"] for row in rows("sources.csv")]
    assert len(keys) == len(set(keys))
    assert all(row["citation"] and row["how"] for row in rows("sources.csv"))
    used = {key for row in TABLE.values() for block in BLOCKS for key in row[f"{block} source"].split()}
    assert used == set(keys)
    assert set(names) >= set(woods())
    other = [row["also"] for row in TABLE.values() if row["also"]]
    assert len(other) == len(set(other))
    assert not set(other) & set(names)


def test_headers_carry_units():
    words = {"species", "also", "group", "specific_gravity basis", "note"}
    words |= {f"{block} {what}" for block in BLOCKS for what in ("source", "grade")}
    units = {"-", "%", "kPa", "MPa", "N", "kJ/m3", "mm", "kPa m^0.5"}
    for header in next(iter(TABLE.values())):
        assert header in words or header[header.index("[") + 1 : -1] in units, header


@every_row
def test_every_block_has_values_source_and_grade_or_none(row):
    columns = {
        "saturation": ["saturation [%]"],
        "dry": [h for h in row if h.startswith(FIELDS) and h.endswith("]")],
        "green": [h for h in row if h.startswith("green_")],
        "elastic": [h for h in row if "/e_l" in h],
        "fracture": [h for h in row if h.startswith("k_i")],
        "shrinkage": [h for h in row if h.startswith("shrinkage_")],
    }
    assert row["group"] in ("hardwood", "softwood")
    for block, headers in columns.items():
        given = any(row[h] for h in headers)
        assert bool(row[f"{block} source"]) == given, block
        assert row[f"{block} grade"] in (("read", "copy", "memory", "estimate") if given else ("",)), block
        assert all(float(row[h]) > 0 for h in headers if row[h])
    assert row["specific_gravity basis"] in (("12 %", "green") if row["dry source"] else ("",))


def value(row, header):
    return float(row[header] or "nan")


@every_row
def test_row_orderings(row):
    # Physics of wood; nan (not given) compares False, hence the negated form.
    assert not value(row, "e_t/e_l [-]") >= value(row, "e_r/e_l [-]")  # softer along the rings than across them
    assert not value(row, "e_r/e_l [-]") >= 0.25
    for shear in ("g_lr/e_l [-]", "g_lt/e_l [-]"):
        assert not value(row, "g_rt/e_l [-]") >= 0.5 * value(row, shear)  # rolling shear is the weak one
    assert not value(row, "shrinkage_radial [%]") >= value(row, "shrinkage_tangential [%]")
    for plane in ("tl", "rl"):  # opening beats shearing: K_II is 4 to 8 times K_I along the grain
        for k1 in ("k_ic_tl", "k_ic_rl"):
            ratio = value(row, f"k_iic_{plane} [kPa m^0.5]") / value(row, f"{k1} [kPa m^0.5]")
            assert not ratio < 3.5
            assert not ratio > 8
    assert not value(row, "k_ic_tl [kPa m^0.5]") > value(row, "k_ic_rl [kPa m^0.5]")
    for column in MOVED:
        unit = "kPa" if column in KPA else "N" if column == "side_hardness" else "MPa"
        assert not value(row, f"green_{column} [{unit}]") >= value(row, f"{column} [{unit}]"), column


@every_species
def test_green_specific_gravity_and_shrinkage_agree_with_eq_4_13(name):
    # Two roads to the same quantity: Table 5-3a prints both bases; Eq 4-13 is a mean over species.
    row = TABLE[name]
    green = value(row, "green_specific_gravity [-]")
    if not math.isnan(green):
        assert basic_specific_gravity(wood(name).specific_gravity) == pytest.approx(green, rel=0.035)
        assert green < wood(name).specific_gravity
    total = value(row, "shrinkage_tangential [%]") + value(row, "shrinkage_radial [%]")
    if not math.isnan(total):
        assert total == pytest.approx(26.5 * green, rel=0.25)  # species scatter about the line


@every_species
def test_ranges_and_orderings_at_twelve_per_cent(name):
    w = wood(name)
    assert 0.3 < w.specific_gravity < 0.7
    assert w.density == pytest.approx(1120 * w.specific_gravity, rel=1e-12)
    assert 50 < w.bending_strength < 120
    assert 100 < w.elastic_modulus / w.bending_strength < 180
    assert w.bending_strength > w.compression_parallel > w.shear_parallel > w.compression_perpendicular > 2
    assert not w.tension_perpendicular >= w.shear_parallel
    assert 1500 < w.side_hardness < 6500
    assert 0.2 < w.fracture_toughness < 0.6
    assert 0.09 < w.conductivity < 0.2
    assert 1600 < w.heat_capacity < 1700
    assert all(0 < r < 0.25 for r in w.elastic_ratios)
    assert w.elastic_ratios.radial > w.elastic_ratios.tangential
    assert w.grade in ("copy", "estimate")
    assert "Wood Handbook" in w.source
    assert w.name == name
    assert w.moisture == 12.0


@every_species
def test_laws_of_moisture(name):
    # Eq 5-3 (falling to Mp, then constant), Eq 4-13/4-14, Eq 4-17 and the heat capacity (rising).
    levels = np.linspace(4, 30, 53)
    series = [wood(name, m) for m in levels]
    for f in MOVED:
        v = np.array([getattr(w, f) for w in series])
        dry = levels < 20.5
        assert (np.diff(v[dry]) < 0).all(), f
        assert (np.diff(v) <= 0).all(), f
        assert np.ptp(v[levels >= 27]) == 0.0, f
        assert (np.abs(np.diff(np.log(v))) < 0.06).all(), f  # no jump anywhere: 12 %, Mp
    for f, low, high in (("density", 330, 850), ("conductivity", 0.08, 0.25), ("heat_capacity", 1300, 2200)):
        v = np.array([getattr(w, f) for w in series])
        assert (np.diff(v) > 0).all(), f
        assert v.min() > low
        assert v.max() < high
    kept = {(w.specific_gravity, w.fracture_toughness, w.elastic_ratios) for w in series}
    assert len(kept) == 1
    assert len({w.tension_perpendicular for w in series}) == 1


@every_species
def test_density_is_dry_mass_plus_water_over_swollen_volume(name):
    # Conservation: oven-dry mass per green volume is the same at every moisture content; Eq 4-13 is only the volume.
    for m in (4.0, 8.0, 20.0, 30.0):
        w = wood(name, m)
        dry_mass_per_volume = w.density / (1 + m / 100) / 1000
        assert basic_specific_gravity(dry_mass_per_volume, m) == pytest.approx(
            basic_specific_gravity(w.specific_gravity, 12), rel=1e-12
        )
        assert w.conductivity == conductivity_across(
            specific_gravity_at(basic_specific_gravity(w.specific_gravity), m), m
        )


def test_without_green_values_the_group_median_is_used_and_told():
    # The documented rule, recomputed from the printed tables here.
    for name, group in (("red maple", True), ("eastern white pine", False), ("true mahogany", True)):
        w, dry = wood(name, 30), wood(name)
        for f in MOVED:
            ratios = [printed(DRY)[s][f] / green[f] for s, green in printed(GREEN).items() if wood(s).hardwood is group]
            assert getattr(dry, f) / getattr(w, f) == pytest.approx(float(np.median(ratios)), rel=1e-12), f
        assert w.grade == "estimate"
        assert any("median P12/Pg" in note for note in w.notes)
        assert not any("median P12/Pg" in note for note in dry.notes)
    assert wood("red maple").grade == wood("sugar maple", 8).grade == "copy"
    assert not any("median P12/Pg" in note for note in wood("sugar maple", 8).notes)


@pytest.mark.parametrize("name", ["true mahogany", "african mahogany"])
def test_mahogany_compression_perpendicular_is_an_estimate_and_says_so(name):
    # Refitted here over the printed hardwoods; not printed for the two in Table 5-5a.
    known = [r for s, r in printed(DRY).items() if wood(s).hardwood and "compression_perpendicular" in r]
    assert len(known) == 15
    design = np.array([[1.0, math.log(r["specific_gravity"])] for r in known])
    log_a, b = np.linalg.lstsq(design, np.log([r["compression_perpendicular"] for r in known]), rcond=None)[0]
    w = wood(name)
    assert w.compression_perpendicular == pytest.approx(math.exp(log_a) * w.specific_gravity**b, rel=1e-9)
    assert w.grade == "estimate"
    assert any(note.startswith("compression perpendicular: estimate") for note in w.notes)
    assert math.isnan(w.tension_perpendicular)


@every_species
def test_what_is_not_the_species_own_is_told(name):
    row, notes = TABLE[name], " ".join(wood(name).notes)
    assert ("fracture toughness: estimate" in notes) == (not row["k_ic_tl [kPa m^0.5]"])
    assert ("fracture toughness: from memory" in notes) == (row["fracture grade"] == "memory")
    assert ("elastic ratios: from memory" in notes) == (row["elastic grade"] == "memory")
    blanks = [h for h in row if "/e_l" in h and not row[h]]
    assert all(h.removesuffix(" [-]").upper() in notes for h in blanks)
    if "estimate" in (row["fracture grade"], row["elastic grade"]):
        assert "stand in" in notes
    # Fonselius & Riipola 1992 (abstract): no effect of moisture between 10 and 20 %.
    told = [any("insensitive to moisture" in note for note in wood(name, m).notes) for m in (9.9, 10, 20, 20.1)]
    assert told == [True, False, False, True]
    tension = any("Eq 5-3 is not recommended" in note for note in wood(name, 8).notes)
    assert tension == bool(row["tension_perpendicular [kPa]"])


def test_group_medians_use_own_values_only():
    # Hardwoods of Table 5-10 here: 410, 480, 517 kPa sqrt(m). The softwoods: 320, 375, 375, 375, 250, 440, 290, 420,
    # western white pine once, though eastern white pine borrows it.
    assert wood("black cherry").fracture_toughness == 0.48
    assert wood("western redcedar").fracture_toughness == 0.375
    assert wood("eastern white pine").fracture_toughness == 0.25
    # Table 5-1 and sitka spruce: E_T/E_L 0.055, 0.050, 0.055, 0.038, 0.045.
    assert wood("loblolly pine").elastic_ratios.tangential == 0.050
    hard = [wood(n).elastic_ratios for n in woods() if TABLE[n]["elastic grade"] == "memory" and wood(n).hardwood]
    assert wood("american beech").elastic_ratios.radial == np.median([r.radial for r in hard])


# --- the formulas as functions --------------------------------------------------------------------------------------


def test_moisture_adjusted_at_its_ends():
    assert moisture_adjusted(80.0, 50.0, 12) == 80.0
    assert moisture_adjusted(80.0, 50.0, [25, 26, 300]) == pytest.approx([50.0] * 3, rel=0)
    assert moisture_adjusted(80.0, 50.0, 18.5) == pytest.approx(math.sqrt(80 * 50), rel=1e-12)  # geometric mean halfway
    assert moisture_adjusted(80.0, 50.0, 25 - 1e-9) == pytest.approx(50.0, rel=1e-9)


def test_hankinson_limits_and_symmetry():
    angles = np.linspace(0, 180, 181)
    for n in (1.5, 2.0, 2.5):
        v = hankinson(50, 5, angles, n)
        assert v[0] == pytest.approx(50)
        assert v[90] == pytest.approx(5)
        assert v == pytest.approx(v[::-1], rel=1e-12)
        assert (np.diff(v[:90]) < 0).all()
        # Below n = 2 the formula itself dips under Q just short of 90 degrees, by less than a thousandth here.
        assert v.min() >= 5 * (1 - (1e-3 if n < 2 else 1e-12))
    # n = 2 is the classical formula: 1/N is linear in sin^2.
    assert 1 / hankinson(50, 5, 30) == pytest.approx(0.75 / 50 + 0.25 / 5, rel=1e-12)
    assert hankinson(7, 7, 37) == pytest.approx(7, rel=1e-12)


def test_equilibrium_moisture_rises_with_humidity_and_falls_with_warmth():
    h = np.linspace(0, 100, 101)
    assert equilibrium_moisture(0, 20) == 0.0
    assert (np.diff(equilibrium_moisture(h, 20)) > 0).all()
    assert (np.diff(equilibrium_moisture(60, np.linspace(5, 95, 20))) < 0).all()


def test_specific_gravity_round_trip():
    g, x = np.meshgrid(np.linspace(0.05, 1.1, 8), np.linspace(0, 30, 7))
    assert basic_specific_gravity(specific_gravity_at(g, x), x) == pytest.approx(g, rel=1e-12)


@pytest.mark.parametrize(
    ("function", "args"),
    [
        (moisture_adjusted, ([80.0, 60.0], [50.0, 40.0], [8.0, 28.0], 24.0)),
        (specific_gravity_at, ([0.4, 0.6], [4.0, 20.0])),
        (basic_specific_gravity, ([0.4, 0.6], [4.0, 20.0])),
        (density_at, ([0.4, 0.6], [4.0, 20.0])),
        (conductivity_across, ([0.4, 0.6], [4.0, 20.0])),
        (heat_capacity_at, ([4.0, 20.0], [300.0, 400.0])),
        (hankinson, ([50.0, 60.0], 5.0, [10.0, 120.0], 1.5)),
        (equilibrium_moisture, ([30.0, 90.0], [10.0, 40.0])),
    ],
    ids=lambda v: getattr(v, "__name__", ""),
)
def test_formulas_vectorise_and_leave_arguments_alone(function, args):
    arrays = [np.array(a) for a in args]
    kept = copy.deepcopy(arrays)
    together = function(*arrays)
    assert all((a == b).all() for a, b in zip(arrays, kept, strict=True))
    one_by_one = [function(*(np.broadcast_to(a, 2)[i] for a in arrays)) for i in (0, 1)]
    assert together.tolist() == one_by_one
    assert all(isinstance(v, float) for v in one_by_one)
    with pytest.raises(DomainError):
        function(*(math.nan for _ in arrays))


@pytest.mark.parametrize(
    ("call", "words"),
    [
        (lambda: moisture_adjusted(0, 1, 12), "dry"),
        (lambda: moisture_adjusted(2, -1, 12), "green"),
        (lambda: moisture_adjusted(2, 1, -1), "moisture"),
        (lambda: moisture_adjusted(2, 1, 12, 12), r"saturation .*\[13, 40\] %, got 12"),
        (lambda: specific_gravity_at(2, 12), "basic"),
        (lambda: density_at(0.5, 31), r"moisture .*\[0, 30\] %, got 31"),
        (lambda: conductivity_across(560, 12), "specific_gravity .*got 560"),
        (lambda: heat_capacity_at(12, 27), r"temperature .*\[280, 420\] K, got 27"),
        (lambda: hankinson(50, 5, 200), r"angle .*\[0, 180\] degrees, got 200"),
        (lambda: hankinson(50, 5, 20, 0), "exponent"),
        (lambda: equilibrium_moisture(101), r"humidity .*\[0, 100\] %, got 101"),
        (lambda: equilibrium_moisture(50, 294), "temperature"),
    ],
)
def test_formulas_refuse(call, words):
    with pytest.raises(DomainError, match=words):
        call()


# --- names and refusals of wood() -----------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("alias", "name"),
    # Names of the timber trade: common practice, no source.
    [
        ("hard maple", "sugar maple"),
        ("soft maple", "red maple"),
        ("cherry", "black cherry"),
        ("walnut", "black walnut"),
        ("basswood", "american basswood"),
        ("beech", "american beech"),
        ("red oak", "northern red oak"),
        ("yellow poplar", "yellow-poplar"),
        ("douglas-fir", "douglas-fir, coast"),
        ("honduras mahogany", "true mahogany"),
        (" Sugar Maple", "sugar maple"),
    ],
)
def test_plain_trade_names_and_case(alias, name):
    assert wood(alias) == wood(name)
    assert wood(alias).name == name
    assert alias not in woods()


@pytest.mark.parametrize(
    ("name", "close"),
    [
        ("black chery", ["black cherry"]),
        ("maple", ["sugar maple", "red maple"]),
        ("oak", ["white oak", "northern red oak"]),
        ("douglas fir", ["douglas-fir, coast"]),
    ],
)
def test_unknown_names_list_close_matches(name, close):
    with pytest.raises(DomainError) as refused:
        wood(name)
    text = str(refused.value)
    assert text.startswith(f"name must be one of the species in woods(), got {name!r}; did you mean ")
    suggested = text.split("did you mean ")[1].split("?")[0]
    assert all(repr(c) in suggested for c in close)
    assert all(repr(n) in text for n in woods())


def test_a_table_row_without_strengths_is_not_a_species():
    for name in ("tamarack", "sitka spruce", "western white pine"):
        assert name in TABLE
        assert name not in woods()
        with pytest.raises(DomainError, match="woods\\(\\)"):
            wood(name)
    with pytest.raises(DomainError, match="no name is close"):
        wood("zzzz")


@pytest.mark.parametrize("name", ["", "   ", None, 12, b"cherry"])
def test_names_that_are_no_names(name):
    with pytest.raises(DomainError, match="name must be a non-empty string"):
        wood(name)


@pytest.mark.parametrize("moisture", [3.9, 30.1, 0, -8, 120, math.nan, math.inf, "8", None, True])
def test_moisture_out_of_range(moisture):
    for make in (lambda: wood("black cherry", moisture), lambda: own(moisture=moisture)):
        with pytest.raises(DomainError, match=r"moisture must .*\[4, 30\] %, got"):
            make()


# --- a species of one's own -----------------------------------------------------------------------------------------


def test_by_hand_needs_little_and_derives_the_rest():
    w = own()
    like = wood("black cherry")
    for f in ("density", "conductivity", "heat_capacity", "moisture", "specific_gravity"):
        assert getattr(w, f) == getattr(like, f), f
    for f in ("compression_parallel", "shear_parallel", "tension_perpendicular", "side_hardness", "fracture_toughness"):
        assert math.isnan(getattr(w, f)), f
    assert all(math.isnan(r) for r in w.elastic_ratios)
    assert (w.grade, w.source, w.notes, w.hardwood) == ("own", "given by hand", (), True)
    assert all(isinstance(getattr(w, f), float) for f in FIELDS)


@pytest.mark.parametrize("moisture", [4, 8, 12, 30])
@pytest.mark.parametrize("density", [150, 560, 1300])
def test_density_and_specific_gravity_from_each_other(density, moisture):
    w = own(density=density, specific_gravity=math.nan, moisture=moisture)
    again = own(specific_gravity=w.specific_gravity, moisture=moisture)
    assert again.density == pytest.approx(density, rel=1e-12)
    assert own(specific_gravity=w.specific_gravity, density=density, moisture=moisture) == w


@pytest.mark.parametrize("moisture", [4, 30])
@pytest.mark.parametrize("given", [{"specific_gravity": 0.08}, {"specific_gravity": 1.3}, {"density": 110}])
def test_the_lightest_and_heaviest_survive_replacing(given, moisture):
    # What is derived lies in the range of what may be given.
    w = own(**{"specific_gravity": math.nan, "moisture": moisture} | given)
    assert dataclasses.replace(w) == w
    with pytest.raises(DomainError, match=r"specific_gravity must lie in \[0\.08, 1\.3\], got 1\.4"):
        own(specific_gravity=math.nan, density=1500, moisture=30)


def test_density_and_specific_gravity_must_agree():
    assert own(density=560).density == 560
    assert own(specific_gravity=0.68, density=762).density == 762  # rounded to whole kg/m3
    with pytest.raises(DomainError, match=r"density .* 12 % .* 0\.5 means 560\.0 kg/m3 .*, got 600\.0"):
        own(density=600)
    with pytest.raises(DomainError, match=r"specific_gravity \[-\] or density \[kg/m3\] must be given"):
        own(specific_gravity=math.nan)


@every_species
def test_replacing_only_the_moisture_is_refused(name):
    # It would keep the strengths of the old moisture content.
    with pytest.raises(DomainError, match=r"wood\(name, moisture=\.\.\.\)"):
        dataclasses.replace(wood(name), moisture=8)
    changed = dataclasses.replace(wood(name), compression_perpendicular=5)
    assert changed.compression_perpendicular == 5.0
    assert changed.density == wood(name).density


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"bending_strength": 85_000}, r"bending_strength must lie in \[5, 400\] MPa, got 85000; MPa is meant"),
        ({"elastic_modulus": 10.3}, r"elastic_modulus must lie in \[500, 50000\] MPa, got 10.3; .*not GPa"),
        ({"compression_perpendicular": math.nan}, "compression_perpendicular .* must be given"),
        ({"compression_perpendicular": 4800}, "compression_perpendicular .*kPa"),
        ({"compression_parallel": -1}, "compression_parallel"),
        ({"shear_parallel": 0}, "shear_parallel"),
        ({"tension_perpendicular": math.inf}, "tension_perpendicular"),
        ({"side_hardness": 6.4}, "side_hardness .*newtons"),
        ({"fracture_toughness": 480}, r"fracture_toughness .*MPa sqrt\(m\)"),
        ({"conductivity": 12}, "conductivity"),
        ({"heat_capacity": 1.66}, r"heat_capacity .*J/\(kg K\) is meant"),
        ({"specific_gravity": 560}, "specific_gravity .*water = 1"),
        ({"specific_gravity": math.nan, "density": 0.56}, "density .*not g/cm3"),
        ({"bending_strength": "85"}, "bending_strength must be a number"),
        ({"bending_strength": None}, "bending_strength must be a number"),
        ({"hardwood": 1}, "hardwood must be True or False, got 1"),
        ({"grade": "good"}, "grade must be one of 'read', 'copy', 'memory', 'estimate', 'own', got 'good'"),
        ({"source": ""}, "source must be a non-empty string"),
        ({"notes": "a note"}, "notes must be a tuple of strings"),
        ({"notes": (1,)}, "notes must be a non-empty string, got 1"),
        ({"elastic_ratios": (0.1, 0.2)}, "elastic_ratios must be an ElasticRatios"),
        ({"elastic_ratios": ElasticRatios(radial=1.5)}, r"elastic_ratios.radial must lie in \(0, 1\], got 1.5"),
    ],
)
def test_by_hand_refuses(changes, words):
    with pytest.raises(DomainError, match=words):
        own(**changes)


def test_by_hand_refuses_a_nameless_wood():
    with pytest.raises(DomainError, match="name must be a non-empty string, got ''"):
        Wood("", specific_gravity=0.5, bending_strength=85, elastic_modulus=10_300, compression_perpendicular=4.8)


# --- a value object -------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("make", [own, lambda: wood("sugar maple", 8)], ids=["own", "table"])
def test_equal_hashable_frozen_and_surviving_copies(make):
    # nan fields (tension perpendicular of sugar maple) must not make a wood differ from itself.
    w = make()
    assert w == make()
    for twin in (pickle.loads(pickle.dumps(w)), copy.copy(w), copy.deepcopy(w), dataclasses.replace(w)):
        assert twin == w
        assert hash(twin) == hash(w)
    assert dataclasses.replace(w, tension_perpendicular=np.float64("nan")).elastic_ratios == w.elastic_ratios
    assert w != dataclasses.replace(w, bending_strength=w.bending_strength + 1)
    with pytest.raises(dataclasses.FrozenInstanceError):
        w.density = 1.0


def test_reads_short():
    assert repr(wood("black cherry")) == (
        "Wood('black cherry', 12 %: 560 kg/m3, bending strength 85 MPa, elastic modulus 10300 MPa, copy)"
    )
    lines = str(wood("true mahogany", 8)).splitlines()
    assert lines[0] == "true mahogany at 8 % moisture (hardwood)"
    assert sum(line.startswith("  note: ") for line in lines) == len(wood("true mahogany", 8).notes)
    assert all(len(repr(wood(n))) < 120 for n in woods())


def test_the_cached_table_is_read_only():
    table = module._table()
    with pytest.raises(TypeError):
        table["oak"] = None  # type: ignore[index]
    with pytest.raises(TypeError):
        table["white oak"].number["bending_strength"] = 1.0  # type: ignore[index]
    with pytest.raises(TypeError):
        module._sources()["x"] = ""  # type: ignore[index]


def test_import_is_light_and_reads_no_file():
    code = (
        "import sys; import chipsim.scene.species as w\n"
        "heavy = {'scipy', 'numba', 'matplotlib', 'pandas'} & set(sys.modules)\n"
        "assert not heavy, heavy\n"
        "assert w._table.cache_info().currsize == w._sources.cache_info().currsize == 0\n"
        "w.wood('black cherry', 8)\n"
        "assert not {'scipy', 'numba', 'matplotlib'} & set(sys.modules)\n"
    )
    subprocess.run([sys.executable, "-c", code], check=True, timeout=60)


def test_a_wood_without_its_numbers_says_which_are_missing():
    with pytest.raises(
        DomainError, match=r"bending_strength \[MPa\] and elastic_modulus \[MPa\] and comp.* must be given"
    ):
        Wood("off-cut")
    with pytest.raises(DomainError, match=r"^elastic_modulus \[MPa\] must be given for 'off-cut', got nothing"):
        Wood("off-cut", density=600, bending_strength=80, compression_perpendicular=5)
    with pytest.raises(DomainError, match="name must be a non-empty string"):
        Wood()
