"""The risk map: what it holds of every place on both lips, and what one may ask of it."""

from __future__ import annotations

import json
import os
import zipfile
from collections.abc import Iterator, Mapping
from dataclasses import Field, dataclass, fields
from functools import cached_property
from pathlib import Path
from types import MappingProxyType
from typing import Any, ClassVar, NamedTuple, TextIO

import numpy as np

from .._shared.arrays import FloatArray, choice, frozen, integer, number
from .._shared.files import Declared, declared_arrays, inflated, whole_file
from .._shared.tables import Columns, Result, one_a_side, put_text, rows_of
from ..errors import DomainError
from .bands import BAND_ARRAYS, Band, damage_of
from .handwork import HandWork, Minutes, lengths_of, middle_draws, minutes_of
from .layers import Lip, features, lip_lines, svg_text
from .models import BETWEEN
from .scale import CLASSES, DOUBTS, PRIOR, RISKS, SIDES, class_of, closed_values, touching
from .words import MapWords

__all__ = ["CLASSES", "DOUBTS", "PRIOR", "RISKS", "SIDES", "MapRow", "Place", "RiskMap", "class_of"]


_DIP = 0.5
"""Dips of a value below a bound that are shorter than this, as along scallops, do not part a stretch of lip. [mm]"""

_FORMAT = 2

_NEEDED: Mapping[str, type | tuple[type]] = MappingProxyType(
    {name: str for name in ("caption", "wood", "grain", "not_modelled")}
    | {name: float for name in ("moisture", "bundle", "bite_floor", "critical_speed")}
    | {"lengths": (float,), "closed": (bool,), "spins": (str,), "notes": (str,)}
)
"""Settings without which a map cannot be drawn or reported, and of what kind they are, or the items of their list."""

_INFLATES = 100
"""Times its file a map may take in memory: level straight grooves come to 28, an archive made to harm to 1000."""

_MEASURES = ("lip_length", "cutting_speed", "feed_per_tooth", "largest_chip", "strikes")
"""What may be NaN without a lip, but never below 0."""


class Place(NamedTuple):
    """A stretch of lip that needs sanding or re-cutting.

    Attributes
    ----------
    start, stop : arc length of the path at its two ends; `start` is the larger where it runs on over the start of a
        closed groove. [mm]
    side : 'left' or 'right'.
    station, peak : arc length at which it is worst, and the value there. [mm, -]
    groove : of it, from 0.
    row : of the map where it is worst.
    middle : row of the map halfway along it.
    some : up to nine rows spread along it.
    length : of its lip. [mm]
    cost : value times length, summed up along it. [mm]
    rank : its number, from 1 on; stretches that mirror each other, or repeat on other grooves, share theirs.
    doubtful : whether the numbers leave something out on half of its length or more.
    """

    start: float
    stop: float
    side: str
    station: float
    peak: float
    groove: int
    row: int
    middle: int
    some: tuple[int, ...]
    length: float
    cost: float
    rank: int
    doubtful: bool


class MapRow(NamedTuple):
    """One station of a `RiskMap`, named and in units as there; what is of either lip is (left, right)."""

    station: float
    groove: int
    kind: str
    xy: FloatArray
    lip_xy: FloatArray
    depth: float
    half_width: float
    heading: FloatArray
    lip_length: FloatArray
    exists: np.ndarray
    doubt: np.ndarray
    fibre_azimuth: FloatArray
    fibre_dive: FloatArray
    fibre_angle: FloatArray
    edge_angle: FloatArray
    cutting_speed: FloatArray
    feed_per_tooth: FloatArray
    strikes: np.ndarray
    rubs: np.ndarray
    largest_chip: FloatArray
    support: FloatArray
    hazard: FloatArray
    tear_depth: FloatArray
    temperature: FloatArray
    fuzz: FloatArray
    tear: FloatArray
    scorch: FloatArray
    damage: FloatArray


@dataclass(frozen=True, eq=False)
class RiskMap(MapWords, Result):
    """Risk at both lips of a groove; axis 1 of the (n, 2) arrays is (left, right), arrays are read-only.

    Print it for the report, ask `why(station, side)`, draw it with `draw_risk_map`. It iterates over its stations, as
    `MapRow`; its table has a line for each station and side, grooves counted from 1 as in every report.

    Attributes
    ----------
    station : (n,) arc length along the path. [mm]
    groove : (n,) index of the cut in its carving, from 0; what is printed and written to a table counts from 1.
    kind : (n,) 'run', 'corner', 'start', 'end', 'dot'.
    xy, lip_xy : (n, 2) tool axis and (n, 2, 2) lip points. [mm]
    depth, half_width : (n,) of the groove. [mm]
    heading : (n, 2) direction of travel along the lip. [deg]
    lip_length : (n, 2) length of lip each row stands for; 0 where there is none. [mm]
    exists : (n, 2) False where there is no lip or another part of the groove removes it.
    doubt : (n, 2) 0, or the code in `DOUBTS` of why the value is not to be trusted.
    fibre_azimuth, fibre_dive : (n, 2) of the wood at the lip. [deg]
    fibre_angle, edge_angle : (n, 2) of the finished lip. [deg]
    cutting_speed : (n, 2) of the edge at the lip. [m/s]
    feed_per_tooth : (n, 2) of the tool. [mm]
    strikes, rubs : (n, 2) strikes on the last bundle; those that bite less than the bite floor.
    largest_chip : (n, 2) of those strikes. [mm]
    support, hazard : (n, 2) side support left to the mean fibre; its severing hazard. [-]
    tear_depth : (n, 2) depth torn beyond the lip, mean over the fibres' scatter. [mm]
    temperature : (n, 2) of the wood's surface under the rubbing edge, the hottest; known to a factor. [C]
    fuzz, tear, scorch : (n, 2) risks, 0 to 1; NaN where not modelled or no lip.
    damage : (n, 2) that at least one of them spoils the lip, were they independent.
    setup : what was computed, for captions and reports.
    band : how far draws of the coefficients spread the damage, or None if none were asked for.
    """

    _axes: ClassVar[tuple[str, ...]] = ("row", "side")
    _drawn_by: ClassVar[str] = "draw_risk_map"

    def __post_init__(self) -> None:
        for f in _array_fields():
            frozen(getattr(self, f.name))
        object.__setattr__(self, "setup", MappingProxyType(dict(self.setup)))

    def __len__(self) -> int:
        return len(self.station)

    def __iter__(self) -> Iterator[MapRow]:
        return rows_of(MapRow, self, MapRow._fields)

    def __repr__(self) -> str:
        return (
            f"<RiskMap {len(self)} rows, {self.lip_length.sum():.1f} mm of lip, mean damage {self.mean('damage'):.2f}>"
        )

    def values(self, risk: str) -> FloatArray:
        """(n, 2) array of one risk: 'fuzz', 'tear', 'scorch' or 'damage'."""
        out: FloatArray = getattr(self, choice("risk", risk, (*RISKS, "damage")))
        return out

    @cached_property
    def damage(self) -> FloatArray:
        """(n, 2) 1 - (1 - fuzz)(1 - tear)(1 - scorch); what is not modelled counts as 0, all unknown as NaN."""
        out: FloatArray = frozen(damage_of(self.fuzz, self.tear, self.scorch))
        return out

    def mean(self, risk: str) -> float:
        """Mean of a risk over the existing lips, weighted by their length; NaN if not modelled or no lip."""
        value = self.values(risk)
        known = self.exists & np.isfinite(value)
        total = float(self.lip_length[known].sum())
        return float(np.sum(value[known] * self.lip_length[known]) / total) if total > 0 else float("nan")

    def lengths_by_class(self, risk: str = "damage") -> dict[str, float]:
        """Length of existing lip in each class of `CLASSES`, and 'not known'; they sum to the lips' length. [mm]"""
        value = self.values(risk)
        bounds = np.array(list(CLASSES.values()))
        code = np.where(np.isfinite(value), np.searchsorted(bounds, np.nan_to_num(value), side="right"), len(bounds))
        names = [*CLASSES, "not known"]
        return {name: float(self.lip_length[self.exists & (code == i)].sum()) for i, name in enumerate(names)}

    def hand_minutes(self, handwork: HandWork | None = None) -> Minutes:
        """Minutes of hand work that the lips will take; `float` of the answer is what is expected. [min]

        With a band its draws are the possible boards. Without one the coefficients are taken as they are, and only
        reader, job and board vary: what is said of the good and the bad case is then too narrow.

        Parameters
        ----------
        handwork
            What each grade of damage takes; None: `HandWork()`, which is assumed.

        Returns
        -------
        Minutes
            Lip of which nothing is known counts as clean; `lengths_by_class` says how much there is.

        Raises
        ------
        DomainError
            If `handwork` is no HandWork.

        Examples
        --------
        >>> import chipsim as cs
        >>> cut = cs.Cut(cs.VBit(60, 12.7, 2), cs.ring(5, 1.5), 18_000, 1500)
        >>> board = cs.Board(cs.wood("black cherry"), cs.straight_grain(azimuth=0))
        >>> minutes = cs.risk_map(cut, board, pitch=1.0).hand_minutes(cs.HandWork(spoilt=60))
        >>> 0 < float(minutes) < 60
        True
        """
        if self.band is not None:
            return minutes_of(self.band.lengths, handwork)
        taught = bool(self.setup.get("learned"))
        known = middle_draws(taught)
        length = np.where(self.exists, self.lip_length, 0.0)
        risks = [np.repeat(self.values(name)[..., None], len(known.shifts), axis=-1) for name in RISKS]
        return minutes_of(lengths_of(known, risks, length, taught=taught), handwork)

    def lip_kind(self, side: str, groove: int = 0) -> str:
        """'entry' (conventional, chip grows from nothing) or 'exit' (climb) for a side of a cut, `groove` from 0."""
        left = choice("side", side, SIDES) == "left"
        spins = self.setup["spins"]
        return "entry" if left == (spins[integer("groove", groove, low=0, high=len(spins) - 1)] == "cw") else "exit"

    def why(self, station: float | Place, side: str | None = None, groove: int = 0) -> str:
        """Say in words and numbers why a lip is as it is: where a stretch is worst, or nearest an arc length.

        Parameters
        ----------
        station
            A `Place` from `worst_places`, which says all there is to say; or an arc length, within the path. Where the
            lip turns about one arc length, at corners and ends, its worst part answers. [mm]
        side
            'left' or 'right' as seen along the path; not needed of a `Place`.
        groove
            Index of the cut in its carving, from 0: the reports' groove 1 is 0.

        Raises
        ------
        DomainError
            If the station is off the path, the side unknown or there is no lip on that side at all.
        """
        if isinstance(station, Place):
            row = integer("station.row", station.row, low=0, high=len(self) - 1)
            return "\n".join(self._reasons(row, SIDES.index(station.side), float(station.station)))
        lengths = self.setup["lengths"]
        g = integer("groove", groove, low=0, high=len(lengths) - 1)
        s = number("station", station, low=0, high=float(lengths[g]), unit="mm")
        k = SIDES.index(choice("side", side, SIDES))
        rows = np.flatnonzero(self.exists[:, k] & (self.groove == g))
        if not rows.size:
            raise DomainError(f"side must have a lip: the {side} lip is removed everywhere")
        away = np.abs(self.station[rows] - s)
        rows = rows[away <= away.min() + 1e-9]
        i = int(rows[np.argmax(np.nan_to_num(self.damage[rows, k], nan=-1.0))])
        return "\n".join(self._reasons(i, k, s))

    def worst_places(self, count: int = 5, risk: str = "damage") -> list[Place]:
        """Stretches of lip that need sanding or re-cutting, those first that cost most: value times length.

        Parameters
        ----------
        count
            How many numbers to give, 0 to 10 000. Stretches of the same length and as bad share a number if they mirror
            each other, or lie alike on grooves that are alike, as strokes that repeat. The picture numbers them alike.
        risk
            'fuzz', 'tear', 'scorch' or 'damage'.
        """
        n = integer("count", count, low=0, high=10_000)
        found = sorted(self._stretches(risk), key=lambda p: (-round(p.cost, 6), p.groove, p.start, p.side))
        ranked: list[Place] = []
        free = np.ones(len(found), dtype=bool)
        lip = np.array([self.lip_xy[p.middle, SIDES.index(p.side)] for p in found]).reshape(-1, 2)
        alike = np.array([(p.length, p.peak) for p in found]).reshape(-1, 2)
        first = {g: self.xy[np.argmax(self.groove == g)] for g in {p.groove for p in found}}
        within = lip - np.array([first[p.groove] for p in found]).reshape(-1, 2)
        sides = np.array([p.side for p in found])
        of = np.array([p.groove for p in found], dtype=int)
        whole = np.array([self.setup["lengths"][g] for g in of])
        span, centre = 1.0, np.zeros(2)
        if self.exists.any():
            low, high = (getattr(np, end)(self.lip_xy[self.exists], axis=0) for end in ("min", "max"))
            span, centre = float((high - low).max()), (low + high) / 2
        for rank in range(1, n + 1):
            if not free.any():
                break
            i = int(np.argmax(free))
            same = free & (np.abs(alike[:, 0] - alike[i, 0]) <= max(1.0, 0.1 * alike[i, 0]))
            same &= np.abs(alike[:, 1] - alike[i, 1]) <= 0.03
            # a half turn about the middle, or a mirror along or across
            off = lip - centre
            near = [np.hypot(*(off - off[i] * flip).T) <= 0.03 * span for flip in ((-1, -1), (1, -1), (-1, 1))]
            # or the same stretch of another groove that is alike, as strokes that repeat are
            again = (np.hypot(*(within - within[i]).T) <= max(0.5, 0.1 * alike[i, 0])) & (sides == sides[i])
            again &= (np.abs(whole - whole[i]) <= 1e-3 * whole[i] + 1e-6) & (of != of[i])
            same &= np.any([*near, again], axis=0)
            same[i] = True
            ranked += [found[k]._replace(rank=rank) for k in np.flatnonzero(same)]
            free &= ~same
        return ranked

    def _stretches(self, risk: str) -> Iterator[Place]:
        """Every stretch of lip that needs sanding or re-cutting, not yet ranked; short dips do not part it."""
        value, floor = self.values(risk), CLASSES["brush"]
        for k, side in enumerate(SIDES):
            shown = np.flatnonzero(self.exists[:, k])
            for rows in np.split(shown, np.flatnonzero(np.diff(self.groove[shown])) + 1):
                if not rows.size:
                    continue
                size, at = self.lip_length[rows, k], self.lip_xy[rows, k]
                joined = np.append(False, touching(self.kind[rows], size, np.hypot(*np.diff(at, axis=0).T)))
                poor = np.nan_to_num(closed_values(value[rows, k], joined, size, _DIP)) >= floor
                begins = np.flatnonzero(poor & ~(joined & np.append(False, poor[:-1])))
                ends = np.flatnonzero(poor & ~np.append(joined[1:] & poor[1:], False)) + 1
                parts = [np.arange(a, b) for a, b in zip(begins, ends, strict=True)]
                closed = self.setup["closed"][int(self.groove[rows[0]])]
                apart = np.hypot(*(at[-1] - at[0])) > 1.25 * (size[-1] + size[0])
                if closed and len(parts) > 1 and poor[0] and poor[-1] and not apart:
                    parts = [*parts[1:-1], np.concatenate([parts[-1], parts[0]])]
                for part in parts:
                    yield self._place(rows[part], k, side, value)

    def _place(self, rows: np.ndarray, k: int, side: str, value: FloatArray) -> Place:
        size, known = self.lip_length[rows, k], np.nan_to_num(value[rows, k])
        top, length = int(rows[np.argmax(known)]), float(size.sum())
        middle = int(rows[np.searchsorted(np.cumsum(size), length / 2)])
        doubtful = float(size[self.doubt[rows, k] > 0].sum()) >= 0.5 * length
        begin, end, at = (float(self.station[i]) for i in (rows[0], rows[-1], top))
        peak = float(value[top, k])
        some = tuple(int(i) for i in rows[np.unique(np.linspace(0, len(rows) - 1, 11).round().astype(int))[1:-1]])
        cost = float(known @ size)
        return Place(
            begin, end, side, at, peak, int(self.groove[top]), top, middle, some or (middle,), length, cost, 0, doubtful
        )

    def _columns(self) -> Columns:
        columns = {
            "station [mm]": self.station,
            "exists": self.exists,
            "groove": self.groove + 1,
            "kind": self.kind,
            "depth [mm]": self.depth,
            "half_width [mm]": self.half_width,
            "lip_x [mm]": self.lip_xy[..., 0],
            "lip_y [mm]": self.lip_xy[..., 1],
            "lip_length [mm]": self.lip_length,
            "heading [deg]": self.heading,
            "fibre_angle [deg]": self.fibre_angle,
            "edge_angle [deg]": self.edge_angle,
            "cutting_speed [m/s]": self.cutting_speed,
            "feed_per_tooth [mm]": self.feed_per_tooth,
            "strikes": self.strikes,
            "rubs": self.rubs,
            "tear_depth [mm]": self.tear_depth,
            "temperature [C]": self.temperature,
            "fuzz [-]": self.fuzz,
            "tear [-]": self.tear,
            "scorch [-]": self.scorch,
            "damage [-]": self.damage,
            "leaves out": np.vectorize(DOUBTS.get, otypes=[object])(self.doubt) if len(self) else self.doubt,
        }
        if self.band is not None:
            columns |= {f"damage {name} [-]": getattr(self.band, name) for name in BAND_ARRAYS[:3]}
            columns["not_learned"] = self.band.not_learned
        return one_a_side(columns)

    def _pieces(self) -> tuple[list[Lip], list[dict[str, Any]]]:
        """Pieces of lip, and what is known of each by name, units in the names."""
        lips = [*lip_lines(self.lip_xy, self.heading, self.lip_length, self.exists, self.groove, self.kind == "run")]
        columns = self._columns()
        left_out = ("exists", "lip_x [mm]", "lip_y [mm]")
        named = {
            heading.replace(" [-]", "").replace(" [", "_").replace("]", "").replace("/", "_per_").replace(" ", "_"): (
                np.asarray(values)
            )
            for heading, values in columns.items()
            if heading not in left_out
        }
        told = [{name: _plain(values[lip.row, lip.side]) for name, values in named.items()} for lip in lips]
        for values in told:
            values["class"] = class_of(float("nan") if values["damage"] is None else values["damage"])
        return lips, told

    @property
    def __geo_interface__(self) -> dict[str, Any]:
        """The lips as a FeatureCollection: a line for each row and side with its risks, None where not known. [mm]"""
        return features(*self._pieces())

    def to_svg(self, path: str | os.PathLike[str] | TextIO | None = None) -> str | None:
        """Write the lips as a drawing in mm, every element with its values as data: station, risks, damage, class.

        Parameters
        ----------
        path
            Of the file, which is written whole or not at all; or a file open for text; None: the text is returned.

        Raises
        ------
        DomainError
            If it is neither, or lies in no folder.
        """
        lips, told = self._pieces()
        names = [*CLASSES]
        ranks = [names.index(values["class"]) if values["class"] in names else None for values in told]
        rounds = [(self.xy[self.groove == g], self.setup["closed"][g]) for g in np.unique(self.groove)]
        paths = [np.vstack([xy, xy[:1]]) if closed else xy for xy, closed in rounds]
        return put_text(svg_text(lips, told, ranks, paths, str(self.setup["caption"])), path)

    def save(self, path: str | os.PathLike[str]) -> None:
        """Write everything to one .npz file, exactly as named, that `RiskMap.load` reads back."""
        content = {f.name: getattr(self, f.name) for f in _array_fields()}
        if self.band is not None:
            content |= {f"band_{name}": getattr(self.band, name) for name in (*BAND_ARRAYS, "lengths")}
            content["band"] = np.array(json.dumps(self.band.to_dict()))
        with whole_file(path, "wb") as handle:
            np.savez_compressed(
                handle,
                chipsim_risk_map=np.array(_FORMAT),
                setup=np.array(json.dumps(dict(self.setup), sort_keys=True)),
                **content,
            )

    @classmethod
    def load(cls, path: str | os.PathLike[str]) -> RiskMap:
        """Read a map that `save` wrote.

        Raises
        ------
        DomainError
            If the file is not a risk map of this version, or holds what no map can: a risk outside [0, 1], a length
            below 0, arrays of the wrong shape, or more than its size allows. Nothing is inflated before its size is
            known.
        """
        with open(Path(path), "rb") as handle:
            try:
                with zipfile.ZipFile(handle) as archive:
                    return _read_map(archive, os.fstat(handle.fileno()).st_size)
            except Exception as error:  # whatever numpy, zipfile or json find wrong with the bytes
                # numpy's own advice on other files, to load them unsafely, would not help and might harm
                why = "an archive of another kind" if "pickle" in str(error) else str(error)
                raise DomainError(
                    f"path must hold a saved risk map, got {os.fspath(path)!r}: {why}. Choose the .npz file that "
                    f"RiskMap.save wrote, not a table or a script"
                ) from None


def _read_map(archive: zipfile.ZipFile, length: int) -> RiskMap:
    """The map in an archive of so many bytes; an error of any kind if it holds none."""
    declared = declared_arrays(archive)
    _shaped("chipsim_risk_map", declared, (), "iu")
    version = int(inflated(archive, "chipsim_risk_map"))
    if version != _FORMAT:
        raise ValueError(f"it is of format {version}, and this version reads format {_FORMAT}")
    _shaped("station", declared, declared["station"].shape[:1], "f")
    rows = declared["station"].shape
    odd = {name: () for name in ("station", "groove", "kind", "depth", "half_width")} | {"lip_xy": (2, 2)}
    kinds = {"kind": "U", "exists": "b", "groove": "iu", "doubt": "iu"}
    names, texts = [f.name for f in _array_fields()], ["setup"]
    for name in names:
        _shaped(name, declared, (*rows, *odd.get(name, (2,))), kinds.get(name, "biuf"))
    if "band" in declared:
        texts.append("band")
        names += [f"band_{name}" for name in (*BAND_ARRAYS, "lengths")]
        for name in BAND_ARRAYS:
            _shaped(f"band_{name}", declared, (*rows, 2), "b" if name == "not_learned" else "f")
        if "band_lengths" in declared:  # as many as there were draws, which `Band.from_parts` looks at
            _shaped("band_lengths", declared, (*declared["band_lengths"].shape[:1], 5, 5, 5), "f")
    for name in texts:
        _shaped(name, declared, (), "U")
    total = sum(declared[name].size for name in (*names, *texts))
    if total > _INFLATES * length:
        raise ValueError(
            f"its {length} bytes claim to hold {total}, more than {_INFLATES} times as many, which no map does"
        )
    arrays = {name: inflated(archive, name) for name in names}
    setup = json.loads(str(inflated(archive, "setup")))
    _check_setup(setup)
    _check_values(arrays, setup)
    band = None
    if "band" in declared:
        parts = {name: arrays.pop(f"band_{name}") for name in (*BAND_ARRAYS, "lengths")}
        band = Band.from_parts(parts, json.loads(str(inflated(archive, "band"))))
    return RiskMap(setup=setup, band=band, **arrays)


def _shaped(name: str, declared: Mapping[str, Declared], shape: tuple[int, ...], kinds: str) -> None:
    if name not in declared:
        raise ValueError(f"it has no {name}")
    found = declared[name]
    if found.shape != shape or found.dtype.kind not in kinds:
        raise ValueError(f"{name} must be of shape {shape}, got {found.dtype} of shape {found.shape}")


def _check_setup(setup: object) -> None:
    """Refuse a saved set-up that lacks something or has it of the wrong kind."""
    held = setup if isinstance(setup, dict) else {}
    lacking = set(_NEEDED) - set(held)
    if lacking:
        raise ValueError(f"setup must hold what every map's holds, got no {', '.join(sorted(lacking))}")
    for name, kind in _NEEDED.items():
        listed, one = isinstance(kind, tuple), kind[0] if isinstance(kind, tuple) else kind
        items = held[name] if listed else [held[name]]
        allowed = (int, float) if one is float else one
        fits = isinstance(items, list) and all(isinstance(v, allowed) for v in items)
        if not fits or (one is float and any(isinstance(v, bool) for v in items)):
            raise ValueError(f"setup must hold {name} of kind {one.__name__}, got {held[name]!r:.60}")
    sizes = {name: len(held[name]) for name in ("lengths", "closed", "spins")}
    if len(set(sizes.values())) > 1 or not sizes["lengths"]:
        raise ValueError(f"setup must hold length, end and spin of every groove, got {sizes}")
    if not all(0 <= v < np.inf for v in held["lengths"]) or not set(held["spins"]) <= {"cw", "ccw"}:
        raise ValueError("setup must hold lengths from 0 mm on and spins of 'cw' or 'ccw'")


def _check_values(arrays: Mapping[str, np.ndarray], setup: Mapping[str, Any]) -> None:
    """Refuse saved arrays with values that no map has."""
    within = dict(BETWEEN) | {name: (0.0, np.inf) for name in (*_MEASURES, "station", "depth", "half_width")}
    within |= {f"band_{name}": (0.0, 1.0) for name in BAND_ARRAYS[:3]} | {"band_lengths": (0.0, np.inf)}
    for name, values in arrays.items():
        if values.dtype.kind not in "iuf":
            continue
        low, high = within.get(name, (-np.inf, np.inf))
        bad = (values < low) | (values > high) | (np.isinf(values) & (name not in BETWEEN))
        if name in ("station", "depth", "half_width", "xy", "lip_length"):
            bad |= np.isnan(values)
        if bad.any():
            raise ValueError(f"{name} must lie in [{low:g}, {high:g}], got {values[bad].flat[0]:g}")
    words = set(np.unique(arrays["kind"]).tolist()) - {"run", "corner", "start", "end", "dot"}
    if words:
        raise ValueError(f"kind must be 'run', 'corner', 'start', 'end' or 'dot', got {min(words)!r:.40}")
    for name, allowed in (("groove", range(len(setup["lengths"]))), ("doubt", DOUBTS)):
        strange = set(np.unique(arrays[name]).tolist()) - set(allowed)
        if strange:
            raise ValueError(f"{name} must be one of {len(allowed)} numbers from 0, got {min(strange)}")
    beyond = arrays["station"] > np.array(setup["lengths"])[arrays["groove"]] * (1 + 1e-9) + 1e-6
    if beyond.any():
        raise ValueError(f"station must lie on its groove, got {arrays['station'][beyond][0]:g} mm beyond its end")
    if "band_low" in arrays:
        low_, mid, high_ = (arrays[f"band_{name}"] for name in BAND_ARRAYS[:3])
        if ((low_ > mid) | (mid > high_)).any():
            raise ValueError("band must rise from low over median to high")


def _array_fields() -> list[Field[Any]]:
    return [f for f in fields(RiskMap) if f.name not in ("setup", "band")]


def _plain(value: Any) -> Any:
    """A bare number, word or truth; None for NaN."""
    bare = value.item() if isinstance(value, np.generic) else value
    return None if isinstance(bare, float) and bare != bare else bare
