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
from typing import Any, NamedTuple

import numpy as np

from .._shared.arrays import FloatArray, choice, frozen, integer, number
from .._shared.files import Declared, declared_arrays, inflated, whole_file
from .._shared.tables import Columns, Result, one_a_side, rows_of
from ..errors import DomainError
from ..scene.grain import grain_words
from ..units import inch, length_text, table_text, tooth_feed_text
from .bands import BAND_ARRAYS, Band, damage_of
from .models import BETWEEN, END_GRAIN, ROOM

__all__ = ["CLASSES", "PRIOR", "MapRow", "Place", "RiskMap"]


CLASSES: Mapping[str, float] = MappingProxyType({"clean": 0.10, "brush off": 0.25, "needs work": 0.50, "spoils": 1.01})
"""Words for a risk and the value each ends below: a convention of this project, to be moved by test pieces."""

PRIOR = "Prior only: no test piece has been read."
"""What a result rests on as long as no test piece has taught the model."""

SIDES = ("left", "right")

RISKS = ("fuzz", "tear", "scorch")
"""What spoils a lip, in the order of every table."""

_BAND = 1.5
"""A temperature rise is known to this factor either way: contact, heat share and friction are guesses. [-]"""

DOUBTS: Mapping[int, str] = MappingProxyType(
    {
        0: "",
        1: "what the plunge at the start does to the lips, and the dwell at an open end, are not modelled",
        2: "a real machine slows for this corner; the typed feed is assumed",
        3: "so near the tip that the heel of the tooth rubs",
        4: "the bit is in to its full diameter",
        5: "the reached feed is below the typed one: starts, stops, curves and corners are slower and rub more",
        6: f"end grain is not modelled: the fibres dive by more than {END_GRAIN:g} deg",
    }
)
"""Why a value is not to be trusted, by code, gravest first wins."""

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
    """A poor stretch of lip: arc lengths from and to, side, arc length and value of the peak, groove and row from 0."""

    start: float
    stop: float
    side: str
    station: float
    peak: float
    groove: int
    row: int


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
class RiskMap(Result):
    """Risk at both lips of a groove; axis 1 of the (n, 2) arrays is (left, right), arrays are read-only.

    Print it for the report, ask `why(station, side)`, draw it with `draw_risk_map`. It iterates over its stations, as
    `MapRow`; its table has a line for each station and side, grooves counted from 1 as in every report.

    Attributes
    ----------
    station : (n,) arc length along the path. [mm]
    groove : (n,) index of the cut in its carving, from 0; what is printed and written to a table counts from 1.
    kind : (n,) 'run', 'corner', 'start', 'end'.
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

    station: FloatArray
    groove: np.ndarray
    kind: np.ndarray
    xy: FloatArray
    lip_xy: FloatArray
    depth: FloatArray
    half_width: FloatArray
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
    setup: Mapping[str, Any]
    band: Band | None = None

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

    def lip_kind(self, side: str, groove: int = 0) -> str:
        """'entry' (conventional, chip grows from nothing) or 'exit' (climb) for a side of a cut, `groove` from 0."""
        left = choice("side", side, SIDES) == "left"
        spins = self.setup["spins"]
        return "entry" if left == (spins[integer("groove", groove, low=0, high=len(spins) - 1)] == "cw") else "exit"

    def why(self, station: float, side: str, groove: int = 0) -> str:
        """Say in words and numbers why the lip nearest an arc length is as it is.

        Parameters
        ----------
        station
            Arc length, within the path. [mm]
        side
            'left' or 'right' as seen along the path.
        groove
            Index of the cut in its carving, from 0: the reports' groove 1 is 0.

        Raises
        ------
        DomainError
            If the station is off the path, the side unknown or there is no lip on that side at all.
        """
        lengths = self.setup["lengths"]
        g = integer("groove", groove, low=0, high=len(lengths) - 1)
        s = number("station", station, low=0, high=float(lengths[g]), unit="mm")
        k = SIDES.index(choice("side", side, SIDES))
        rows = np.flatnonzero(self.exists[:, k] & (self.groove == g))
        if not rows.size:
            raise DomainError(f"side must have a lip: the {side} lip is removed everywhere")
        i = int(rows[np.argmin(np.abs(self.station[rows] - s))])
        return "\n".join(self._reasons(i, k, s))

    def _reasons(self, i: int, k: int, asked: float) -> list[str]:
        c, side = self.setup, SIDES[k]
        x, y = self.lip_xy[i, k]
        theta, cross = float(self.fibre_angle[i, k]), self._crossing(i, k)
        strikes, rubs = int(self.strikes[i, k]), int(self.rubs[i, k])
        value, floor = float(self.damage[i, k]), self._bite_floor(i)
        rub = f", {rubs} of them rub (bite under {1000 * floor:.1f} um)" if np.isfinite(floor) else ""
        place = {"run": "", "corner": ", turning a corner", "start": ", round the start", "end": ", round the end"}
        text = [
            f"{side} lip{self._of(i)} at station {self.station[i]:.2f} mm, ({x:.2f}, {y:.2f}) mm"
            f"{place[str(self.kind[i])]}: damage "
            + (f"{value:.2f}, {class_of(value)}" if np.isfinite(value) else class_of(value)),
            f"  {self.lip_kind(side, int(self.groove[i]))} lip, {grain_words(theta)}: fibres (azimuth "
            f"{self.fibre_azimuth[i, k]:.0f} deg, dive {self.fibre_dive[i, k]:.0f}) cross a lip that runs at "
            f"{self.heading[i, k]:.0f} deg by {cross:.0f}; fibre angle {theta:.0f}, "
            f"edge angle {self.edge_angle[i, k]:.0f} deg",
            f"  {strikes} strikes on the last {c['bundle']:g} mm{rub}; thickest "
            f"{1000 * self.largest_chip[i, k]:.0f} um along the face; "
            f"feed per tooth {tooth_feed_text(float(self.feed_per_tooth[i, k]))}",
        ]
        if np.isfinite(self.fuzz[i, k]):
            text.append(f"  fuzz {self.fuzz[i, k]:.2f}: edge {self.cutting_speed[i, k]:.1f} m/s{self._severing(i, k)}")
        if np.isfinite(self.tear[i, k]):
            text.append(f"  tear {self.tear[i, k]:.2f}: cracks reach {self.tear_depth[i, k]:.2f} mm beyond the lip")
        if np.isfinite(self.scorch[i, k]):
            text.append(f"  scorch {self.scorch[i, k]:.2f}: {self._heat(i, k)}; wood chars between 225 and 280 C")
        if np.isfinite(value):
            text.append(f"  leading reason: {self.leading(i, k)}, {self._reason(i, k)}")
        if self.doubt[i, k]:
            text.append(f"  not to be trusted: {DOUBTS[int(self.doubt[i, k])]}")
        if abs(float(self.station[i]) - asked) > 1.0:
            text.append(f"  (nearest lip on this side; asked for station {asked:.2f} mm)")
        return text

    def _bite_floor(self, i: int) -> float:
        """Chip below which the edge of this row's bit rubs; NaN if the model has none. [mm]"""
        floors = self.setup.get("bite_floors")
        return float(floors[int(self.groove[i])] if floors else self.setup["bite_floor"])

    def _severing(self, i: int, k: int) -> str:
        """What the severing of fibres rests on, as far as the model has it."""
        if not np.isfinite(self.hazard[i, k]):
            return ""
        return (
            f" against {self.setup['critical_speed']:.1f} m/s that needs no support; support left "
            f"{self.support[i, k]:.2f}; severing hazard of the mean fibre {self.hazard[i, k]:.2g}"
        )

    def _heat(self, i: int, k: int) -> str:
        rise = float(self.temperature[i, k]) - ROOM
        return f"about {ROOM + rise:.0f} C under the edge ({ROOM + rise / _BAND:.0f} to {ROOM + rise * _BAND:.0f})"

    def leading(self, row: int, side: int) -> str:
        """Name of the largest risk of one lip: 'fuzz', 'tear' or 'scorch'; side 0 is left, 1 right."""
        each = [np.nan_to_num(self.values(r)[row, side], nan=-1.0) for r in RISKS]
        return RISKS[int(np.argmax(each))]

    def _of(self, i: int) -> str:
        return f" of groove {self.groove[i] + 1}" if len(self.setup["lengths"]) > 1 else ""

    def _crossing(self, i: int, k: int) -> float:
        """Angle in the face at which the fibres cross the lip, 0 to 90. [deg]"""
        apart = abs(float(self.heading[i, k] - self.fibre_azimuth[i, k])) % 180.0
        return min(apart, 180.0 - apart)

    def _reason(self, i: int, k: int) -> str:
        """Say what makes the leading risk what it is; what is fine about a lip is said of clean lips only."""
        leading, damage = self.leading(i, k), float(self.damage[i, k])
        value, clean = float(self.values(leading)[i, k]), CLASSES["clean"]
        if not np.isfinite(damage):
            return "no risk is known here"
        if value < clean <= damage:
            parts = [f"{r} {v:.2f}" for r in RISKS if (v := float(self.values(r)[i, k])) > 0]
            return f"no single cause: {' and '.join(parts)} add up"
        if leading == "tear":
            against = "against the grain: " if self.fibre_angle[i, k] < 90 else ""
            return (
                f"{against}cracks run {'' if value >= clean else 'only '}{self.tear_depth[i, k]:.2f} mm under the lip"
            )
        if leading == "scorch":
            what = "too much rubbing for the speed" if value >= clean else "the rubbing stays below charring"
            return f"{what}, {self._heat(i, k)}"
        if not np.isfinite(self.hazard[i, k]):
            return "the model gives no reason"
        return self._fuzz_reason(i, k) if value >= clean else self._clean_reason(i, k)

    def _clean_reason(self, i: int, k: int) -> str:
        if self._crossing(i, k) < 15:
            return "the fibres run along the lip, few can stand off it"
        if self.hazard[i, k] > 1.5:
            return "the strikes sever the fibres that cross the lip"
        return "few fibres are left standing off the lip"

    def _fuzz_reason(self, i: int, k: int) -> str:
        """Why fibres stay: first whether it is the mean fibre at all, or those that scatter about it."""
        across = np.sin(np.radians(self._crossing(i, k))) * np.cos(np.radians(self.fibre_dive[i, k]))
        if across**2 * np.exp(-self.hazard[i, k]) < 0.5 * self.fuzz[i, k]:
            return "not all fibres lie along the mean grain, and the strikes do not sever those that lean away from it"
        if self.support[i, k] < 0.5:
            return "the fibres lean away with the cut and the edge rides over them"
        if self.strikes[i, k] == 0 or self.rubs[i, k] > 0.5 * self.strikes[i, k]:
            return "most strikes only rub: chips too thin for this edge"
        return "the strikes are too slow and the side support too weak to sever"

    def worst_places(self, count: int = 5, risk: str = "damage") -> list[Place]:
        """Stretches of lip at or above 'needs work', highest peaks first; the picture numbers them in this order."""
        n = integer("count", count, low=0, high=10_000)
        value, floor = self.values(risk), CLASSES["brush off"]
        places = []
        for k, side in enumerate(SIDES):
            rows = np.flatnonzero(self.exists[:, k])
            step = np.concatenate([[False], np.diff(self.groove[rows]) != 0])
            poor = np.concatenate([[False], np.nan_to_num(value[rows, k]) >= floor, [False]])
            spans = np.flatnonzero(poor[1:] != poor[:-1]).reshape(-1, 2)
            for stretch in (rows[c] for a, b in spans for c in np.split(np.arange(a, b), np.flatnonzero(step[a:b]))):
                if not stretch.size:
                    continue
                top = int(stretch[np.nanargmax(value[stretch, k])])
                begin, end, at = (float(self.station[i]) for i in (stretch[0], stretch[-1], top))
                places.append(Place(begin, end, side, at, float(value[top, k]), int(self.groove[top]), top))
        return sorted(places, key=lambda p: (-p.peak, p.start, p.side))[:n]

    def __str__(self) -> str:
        c = self.setup
        total = float(self.lip_length.sum())
        grooves = f" in {len(c['lengths'])} grooves" if len(c["lengths"]) > 1 else ""
        deepest = length_text(float(self.depth.max()))
        lines = [
            f"Damage at the lips: {c['caption']}",
            f"  board   {c['wood']}, {c['moisture']:g} % moisture, grain {c['grain']}",
            f"  groove  {length_text(sum(c['lengths']), 1)} long{grooves}, to {deepest} deep and "
            f"{length_text(float(2 * self.half_width.max()))} wide; {length_text(total, 1)} of lip",
            "",
            *("  " + row for row in self._class_table(total).splitlines()),
        ]
        same = len(set(c["spins"])) == 1
        kinds = [f" ({self.lip_kind(side)})" if same else "" for side in SIDES]
        for k, side in enumerate(SIDES):
            known = self.exists[:, k] & np.isfinite(self.damage[:, k])
            if known.any():
                w = self.lip_length[known, k]
                parts = []
                for risk in ("damage", *RISKS):
                    value = self.values(risk)[known, k]
                    if np.isfinite(value).all():
                        average = float(np.sum(value * w) / max(w.sum(), 1e-300))
                        parts.append(f"{risk} {average:.2f} (worst {value.max():.2f})")
                lines.append(f"  {side}{kinds[k]} lip, mean: {', '.join(parts)}")
        lines.append("")
        places = self.worst_places()
        unknown = bool((self.exists & ~np.isfinite(self.damage)).any())
        none = "No place that is known reaches 'needs work'" if unknown else "No place reaches 'needs work'"
        lines.append("Worst places" if places else none)
        for rank, place in enumerate(places, 1):
            i, k = place.row, SIDES.index(place.side)
            x, y = self.lip_xy[i, k]
            grain = grain_words(float(self.fibre_angle[i, k]))
            lines.append(
                f"  {rank} {place.side:5s}{self._of(i)} {place.start:7.1f} to {place.stop:7.1f} mm  damage "
                f"{place.peak:.2f} at ({x:.1f}, {y:.1f}): {self.leading(i, k)}, {grain}; {self._reason(i, k)}"
            )
        doubted = float(self.lip_length[self.doubt > 0].sum())
        lines += [
            "",
            *([] if self.band is None else str(self.band).splitlines()),
            f"{self._learned()}Sealing the face is not modelled. {c['not_modelled']}".rstrip(),
        ]
        if doubted > 0:
            codes = [code for code in np.unique(self.doubt) if code]
            lines.append(
                f"Not to be trusted on {doubted:.1f} mm: " + "; ".join(DOUBTS[int(code)] for code in codes) + "."
            )
        lines += [c["corners"]] if c.get("corners") else []
        lines += [f"Note: {note}." for note in c["notes"]]
        lines.append(
            "The bit's marking and the manuals of router and machine come before anything printed here; wear eye and "
            "ear protection, extract the dust."
        )
        return "\n".join(lines)

    def _learned(self) -> str:
        """What the coefficients rest on; said by the band, if there is one."""
        if self.band is not None:
            return ""
        return f"{self.setup.get('learned') or PRIOR} "

    def _class_table(self, total: float) -> str:
        """Lip in each class of damage, with inches and share, and in each class of every risk."""
        known = [r for r in RISKS if np.isfinite(self.values(r)[self.exists]).any()]
        by_risk = {risk: self.lengths_by_class(risk) for risk in ("damage", *known)}
        rows: list[tuple[str, ...]] = [
            ("class", "value", "damage [mm]", "[in]", "share", *(f"{risk} [mm]" for risk in known))
        ]
        low = 0.0
        for name, length in by_risk["damage"].items():
            if name in CLASSES:
                span = f"{low:.2f} to {CLASSES[name]:.2f}" if CLASSES[name] < 1 else f"{low:.2f} and up"
                low = CLASSES[name]
            elif length == 0:
                continue
            else:
                span = "-"
            share = f"{100 * length / total:.0f} %" if total else "-"
            each = (f"{by_risk[risk][name]:.1f}" for risk in known)
            rows.append((name, span, f"{length:.1f}", f"{length / inch:.2f}", share, *each))
        return table_text(rows)

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
            "doubt": self.doubt,
        }
        if self.band is not None:
            columns |= {f"damage {name} [-]": getattr(self.band, name) for name in BAND_ARRAYS[:3]}
            columns["not_learned"] = self.band.not_learned
        return one_a_side(columns)

    def save(self, path: str | os.PathLike[str]) -> None:
        """Write everything to one .npz file, exactly as named, that `RiskMap.load` reads back."""
        content = {f.name: getattr(self, f.name) for f in _array_fields()}
        if self.band is not None:
            content |= {f"band_{name}": getattr(self.band, name) for name in BAND_ARRAYS}
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
                raise DomainError(f"path must hold a saved risk map, got {os.fspath(path)!r}: {error}") from None


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
        names += [f"band_{name}" for name in BAND_ARRAYS]
        for name in BAND_ARRAYS:
            _shaped(f"band_{name}", declared, (*rows, 2), "b" if name == "not_learned" else "f")
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
        parts = {name: arrays.pop(f"band_{name}") for name in BAND_ARRAYS}
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
    within |= {f"band_{name}": (0.0, 1.0) for name in BAND_ARRAYS[:3]}
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


def class_of(value: float) -> str:
    """Word of `CLASSES` for a risk in [0, 1]; 'not known' for NaN."""
    if not np.isfinite(value):
        return "not known"
    return next(name for name, bound in CLASSES.items() if value < bound)
