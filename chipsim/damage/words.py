"""What a risk map says in words: the answer, the report, why a lip is as it is."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from .._shared.arrays import FloatArray
from ..scene.grain import grain_words
from ..units import folded, inch, length_text, table_text, tooth_feed_text
from .bands import Band
from .models import ROOM, unsevered
from .scale import CLASSES, DOUBTS, FULL_DIAMETER, PRIOR, REWORK, RISK_WORDS, RISKS, SIDES, class_of

__all__ = ["MapWords", "numbered"]

CAUTION = (
    "The marking of the bit and the manuals of router and machine come before anything printed here. Wear eye and ear "
    "protection. Extract the dust."
)

_BAND = 1.5
"""A temperature rise is known to this factor either way: contact, heat share and friction are guesses. [-]"""


_WAYS = (
    (12.0, "from left to right"),
    (78.0, "like this: /"),
    (102.0, "up and down"),
    (168.0, "like this: \\"),
    (180.1, "from left to right"),
)
"""How a groove runs by its azimuth as an axis, up to so many degrees; words for a slant were taken for a place."""


@dataclass(frozen=True, eq=False)
class MapWords:
    """What a `RiskMap` holds, as it describes it, and what it says of that."""

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

    if TYPE_CHECKING:  # what the map itself answers

        @property
        def damage(self) -> FloatArray:  # noqa: D102
            ...

        def values(self, risk: str) -> FloatArray:  # noqa: D102
            ...

        def lengths_by_class(self, risk: str = "damage") -> dict[str, float]:  # noqa: D102
            ...

        def lip_kind(self, side: str, groove: int = 0) -> str:  # noqa: D102
            ...

        def worst_places(self, count: int = 5, risk: str = "damage") -> list[Any]:  # noqa: D102
            ...

    # ---------------------------------------------------------------------------------------------- the answer

    def answer(self, risk: str = "damage") -> tuple[str, str]:
        """The answer in a few words, as over a picture, and in a sentence how much of the lip it is.

        Parameters
        ----------
        risk
            'fuzz', 'tear', 'scorch' or 'damage'.
        """
        lengths = self.lengths_by_class(risk)
        total, unknown = sum(lengths.values()), lengths["not known"]
        hard = sum(lengths[step] for step in REWORK)
        word = RISK_WORDS[risk]
        if total <= 0:
            return "There is no lip", "The grooves leave no lip that could be spoilt."
        if unknown >= total * (1 - 1e-9):
            return f"{word.capitalize()} is not known", f"Nothing is known of the {length_text(total, 0)} of lip."
        rest = f" Of {unknown:.0f} mm nothing is known." if unknown >= 0.5 else ""
        if hard >= 0.5:
            cure = "needs" if hard < 1.5 else "need"
            how_much = f"{hard:.0f} of {total:.0f} mm of lip {cure} sanding or re-cutting.{rest}"
            return self._where_words(risk, hard, total), how_much
        soft = lengths["brush"]
        if soft >= 0.5:
            return "A brush is enough", f"{soft:.0f} of {total:.0f} mm of lip want a brush, nothing more.{rest}"
        return "The lips come out clean", f"All {total - unknown:.0f} mm of lip that is known is clean.{rest}"

    def _where_words(self, risk: str, hard: float, total: float) -> str:
        """What spoils most of the lip, and which way the strokes run where it does."""
        value = self.values(risk)
        rows, sides = np.nonzero(self.exists & (np.nan_to_num(value) >= CLASSES["brush"]))
        size = self.lip_length[rows, sides]
        if risk == "damage":
            each = np.nan_to_num([self.values(r)[rows, sides] for r in RISKS])
            share = np.array([size[each.argmax(axis=0) == k].sum() for k in range(len(RISKS))]) / size.sum()
            named = [RISK_WORDS[RISKS[k]] for k in np.argsort(-share) if share[k] >= 0.2]
            word = " and ".join(named[:2]).capitalize()
        else:
            word = RISK_WORDS[risk].capitalize()
        at_ends = np.isin(self.kind[rows], ("start", "end", "dot"))
        if size[at_ends].sum() > 0.6 * size.sum():
            return f"{word} at the ends of the groove"
        turn = np.radians(2 * self.heading[rows, sides])
        mean = np.sum(size * np.exp(1j * turn)) / size.sum()
        if hard > 0.7 * total:
            return f"{word} nearly everywhere"
        if np.abs(mean) < 0.6:
            return f"{word} in several directions"
        azimuth = float(np.degrees(np.angle(mean)) / 2 % 180.0)
        return f"{word} where the groove runs {next(way for end, way in _WAYS if azimuth < end)}"

    # ---------------------------------------------------------------------------------------------- the report

    def __str__(self) -> str:
        total = float(self.lip_length.sum())
        lines = [
            *folded(f"{self._verdict(total)} {self._rests()}"),
            "",
            f"The lip is the top edge of the groove, where it meets the face. There are {length_text(total, 1)} of it.",
            *self._class_table(total).splitlines(),
            *folded(self._averages()),
            "",
            *self._worst_words(),
            *folded(self._to_do()),
            "",
            *folded(self._mapped()),
            *folded(self._assumed()),
            *folded(CAUTION),
        ]
        return "\n".join(lines)

    def _verdict(self, total: float) -> str:
        lengths = self.lengths_by_class()
        unknown = lengths["not known"]
        hard = sum(lengths[step] for step in REWORK)
        wood = str(self.setup["wood"]).capitalize()
        if total <= 0:
            return f"{wood}: the grooves leave no lip."
        if unknown >= total * (1 - 1e-9):
            return f"{wood}: how the lip comes out is not known anywhere."
        soft = lengths["clean"] + lengths["brush"]
        said = f"{wood}: {soft:.1f} mm of the lip should come out clean or want a brush"
        said += (
            f"; {hard:.1f} mm should need sanding or re-cutting." if hard > 0.05 else ". No lip should need sanding."
        )
        said += f" Of {unknown:.1f} mm nothing is known." if unknown > 0.05 else ""
        # nothing about a lip would matter then: the groove is not the one that was drawn
        sunk = float(self.lip_length[self.exists & (self.doubt == FULL_DIAMETER)].sum())
        if sunk > 0.05:
            said += (
                f" But on {sunk:.1f} mm of it the groove is deeper than this bit can make a V: the bit is in to its "
                f"full diameter and the walls stand upright. Take a wider bit, or less depth."
            )
        return said

    def _rests(self) -> str:
        """What the numbers rest on; said by the band, if there is one."""
        return str(self.band) if self.band is not None else str(self.setup.get("learned") or PRIOR)

    def _class_table(self, total: float) -> str:
        """Lip in each step of the scale, with inches and share, and of it by each risk."""
        known = [r for r in RISKS if np.isfinite(self.values(r)[self.exists]).any()]
        by_risk = {risk: self.lengths_by_class(risk) for risk in ("damage", *known)}
        rows: list[tuple[str, ...]] = [
            ("step", "damage", "lip [mm]", "[in]", "share", *(f"by {RISK_WORDS[risk]} [mm]" for risk in known))
        ]
        low = 0.0
        for name, length in by_risk["damage"].items():
            if name in CLASSES:
                high = CLASSES[name]
                span = (
                    f"below {high:.2f}" if low == 0 else f"{low:.2f} to {high:.2f}" if high < 1 else f"{low:.2f} and up"
                )
                low = high
            elif length == 0:
                continue
            else:
                span = "-"
            share = f"{100 * length / total:.0f} %" if total else "-"
            share = "under 1 %" if share == "0 %" and length > 0 else share
            each = (f"{by_risk[risk][name]:.1f}" for risk in known)
            rows.append((name, span, f"{length:.1f}", f"{length / inch:.2f}", share, *each))
        return table_text(rows, right=2)

    def _averages(self) -> str:
        """Mean and worst of every risk, for both lips at once if they are alike; which side is which."""
        sides = []
        for k in range(2):
            known = self.exists[:, k] & np.isfinite(self.damage[:, k])
            if not known.any():
                continue
            size = self.lip_length[known, k]
            parts = []
            for risk in ("damage", *RISKS):
                value = self.values(risk)[known, k]
                if np.isfinite(value).all():
                    mean = float(np.sum(value * size) / max(float(size.sum()), 1e-300))
                    parts.append(f"{RISK_WORDS[risk]} {mean:.2f} (worst {value.max():.2f})")
            sides.append((SIDES[k], ", ".join(parts)))
        if not sides:
            return ""
        if len(sides) == 2 and sides[0][1] == sides[1][1]:
            said = [f"On either lip the averages are: {sides[0][1]}."]
        else:
            said = [f"Averages on the {side} lip: {words}." for side, words in sides]
        spins = set(self.setup["spins"])
        if len(spins) == 1:
            left, right = ("conventional", "climb") if spins == {"cw"} else ("climb", "conventional")
            said.append(f"Seen along the cut the left lip is the {left} side, the right lip the {right} side.")
        return " ".join(said)

    def _worst_words(self) -> list[str]:
        """The worst stretches with their length, and the reason of each kind once."""
        places = self.worst_places()
        if not places:
            known = np.isfinite(self.damage[self.exists])
            if not known.any():
                return ["Nothing is known of any lip.", ""]
            return [f"No lip{'' if known.all() else ' that is known'} needs sanding.", ""]
        lines = ["The worst stretches, those first that cost most (damage times length):"]
        rows = []
        reasons: dict[str, list[int]] = {}
        shown = numbered(places)
        for place in places:
            i, k = place.row, SIDES.index(place.side)
            x, y = self.lip_xy[i, k]
            reasons.setdefault(self.reason(i, k), []).append(place.rank)
            if place not in shown:
                continue
            rows.append(
                (
                    f"  {place.rank}",
                    f"{place.length:.1f} mm long",
                    f"{place.side} lip{self._of(i)}",
                    _span(place.start, place.stop),
                    f"x {x:.1f}, y {y:.1f}",
                    f"up to {place.peak:.2f}",
                    RISK_WORDS[self.leading(i, k)] + (", doubtful" if place.doubtful else ""),
                )
            )
        lines += table_text(rows).splitlines()
        if len({p.rank for p in places}) < len(places):
            repeat = "" if len(self.setup["lengths"]) == 1 else ", or lie alike on grooves that repeat"
            lines.append(f"Stretches with the same number mirror each other{repeat}.")
        more = Counter(p.rank for p in places) - Counter(p.rank for p in shown)
        if more:
            counts = _listed([f"{count} of number {rank}" for rank, count in more.items()])
            lines += folded(f"There are more of them: {counts}.")
        for reason, ranks in reasons.items():
            each = list(dict.fromkeys(ranks))
            which = "" if len(reasons) == 1 else f"{_listed(each)}: "
            lines += folded(which + reason)
        return [*lines, ""]

    def _to_do(self) -> str:
        hard = sum(self.lengths_by_class()[step] for step in REWORK)
        change = ""
        if hard > 0.05:
            change = (
                "To change it, compare speeds and feeds, or ask for the best layout, which says how far to turn the "
                "design on the board and what that is worth."
            )
        trust = "" if self.setup.get("learned") else "To trust it, cut and grade a test piece of this board."
        return f"{change} {trust}".strip()

    def _mapped(self) -> str:
        c = self.setup
        deepest, widest = (length_text(float(a.max(initial=0.0))) for a in (self.depth, 2 * self.half_width))
        grooves = f"{len(c['lengths'])} grooves, together" if len(c["lengths"]) > 1 else "Groove"
        return (
            f"What was mapped: {c['caption']}. {str(c['wood']).capitalize()} with {c['moisture']:g} % moisture; "
            f"grain {c['grain']}. {grooves} {length_text(sum(c['lengths']), 1)} long, up to {deepest} deep and "
            f"{widest} wide."
        )

    def _assumed(self) -> str:
        c = self.setup
        said = [str(c["not_modelled"]), str(c.get("plunges", "")), str(c.get("corners", ""))]
        codes = [int(code) for code in np.unique(self.doubt[self.exists]) if code]
        for code in codes:
            length = float(self.lip_length[self.exists & (self.doubt == code)].sum())
            said.append(f"On {length:.1f} mm of lip the numbers leave something out: {DOUBTS[code]}.")
        said.append("Sealing the face is not modelled.")
        said += [f"{note[:1].upper()}{note[1:]}." for note in c["notes"]]
        return "What was assumed or left out: " + " ".join(part for part in said if part)

    # ------------------------------------------------------------------------------------------------ why

    def _reasons(self, i: int, k: int, asked: float) -> list[str]:
        side = SIDES[k]
        x, y = self.lip_xy[i, k]
        value = float(self.damage[i, k])
        place = {
            "corner": ", where it turns a corner",
            "start": ", round the start",
            "end": ", round the end",
            "dot": ", round a plunge",
        }.get(str(self.kind[i]), "")
        kind = "conventional" if self.lip_kind(side, int(self.groove[i])) == "entry" else "climb"
        text = [
            f"{side.capitalize()} lip{self._of(i)}, {self.station[i]:.2f} mm along the path (x {x:.2f}, y {y:.2f})"
            f"{place}, the {kind} side: damage "
            + (f"{value:.2f}, {class_of(value)}." if np.isfinite(value) else f"{class_of(value)}.")
        ]
        if np.isfinite(value):
            cause = "" if value < CLASSES["clean"] else f"The leading cause is {RISK_WORDS[self.leading(i, k)]}. "
            text += folded(f"{cause}{self.reason(i, k)} {self._grain_sentence(i, k)}")
        else:
            text += folded(self._grain_sentence(i, k))
        if self.doubt[i, k]:
            text += folded(f"This number leaves something out: {DOUBTS[int(self.doubt[i, k])]}.")
        if abs(float(self.station[i]) - asked) > 1.0:
            text.append(f"This is the nearest lip on this side; asked was {asked:.2f} mm along the path.")
        text += ["", "In numbers:", *folded(self._strike_sentence(i, k), "  ")]
        if np.isfinite(self.fuzz[i, k]):
            text += folded(f"Fuzz {self.fuzz[i, k]:.2f}. {self._severing(i, k)}", "  ")
        if np.isfinite(self.tear[i, k]):
            deep = float(self.tear_depth[i, k])
            reach = f"Cracks reach {deep:.2f} mm beyond the lip." if np.isfinite(deep) else ""
            text += folded(f"Tear-out {self.tear[i, k]:.2f}. {reach}", "  ")
        if np.isfinite(self.scorch[i, k]):
            heat = f"The wood under the edge reaches {self._heat(i, k)}. It chars between 225 and 280 C."
            text += folded(f"Scorch {self.scorch[i, k]:.2f}. {heat}", "  ")
        return text

    def _grain_sentence(self, i: int, k: int) -> str:
        theta = float(self.fibre_angle[i, k])
        dive = float(self.fibre_dive[i, k])
        dives = f" and dive by {abs(dive):.0f} degrees" if abs(dive) >= 0.5 else ""
        return (
            f"The lip runs at {self.heading[i, k]:.0f} degrees. The fibres run at {self.fibre_azimuth[i, k]:.0f} "
            f"degrees{dives} and cross it at {self._crossing(i, k):.0f} degrees, {grain_words(theta)}."
        )

    def _strike_sentence(self, i: int, k: int) -> str:
        strikes, rubs, floor = int(self.strikes[i, k]), int(self.rubs[i, k]), self._bite_floor(i)
        rub = f", and {rubs} of them rub, with chips thinner than {1000 * floor:.1f} um" if np.isfinite(floor) else ""
        return (
            f"The fibre angle is {self.fibre_angle[i, k]:.0f} degrees, the angle to the cutting edge "
            f"{self.edge_angle[i, k]:.0f}. A strike is one meeting of a tooth with the last fibres at the lip. "
            f"{strikes} strikes meet the last "
            f"{self.setup['bundle']:g} mm of wood{rub}. The thickest chip, along the face, is "
            f"{1000 * self.largest_chip[i, k]:.0f} um; the feed per tooth is "
            f"{tooth_feed_text(float(self.feed_per_tooth[i, k]))}."
        )

    def _bite_floor(self, i: int) -> float:
        """Chip below which the edge of this row's bit rubs; NaN if the model has none. [mm]"""
        floors = self.setup.get("bite_floors")
        return float(floors[int(self.groove[i])] if floors else self.setup["bite_floor"])

    def _severing(self, i: int, k: int) -> str:
        """What the severing of fibres rests on, as far as the model has it."""
        moves = f"The edge moves at {self.cutting_speed[i, k]:.1f} m/s"
        if not np.isfinite(self.hazard[i, k]):
            return f"{moves}."
        cut = 1.0 - self._standing(i, k)
        spared = ", which spares those that run along the lip" if self._crossing(i, k) < 15 and cut < 0.5 else ""
        return (
            f"{moves}; only at {self.setup['critical_speed']:.1f} m/s would it cut fibres without support. They keep "
            f"{100 * self.support[i, k]:.0f} % of their side support. Together the strikes give a fibre of average "
            f"direction a {100 * cut:.0f} % chance of being cut (hazard {self.hazard[i, k]:.2g}){spared}."
        )

    def _standing(self, i: int, k: int) -> float:
        """Chance that a fibre of average direction is left unsevered."""
        model = self.setup["model"]
        frailty = model.get("frailty", 0.0) if isinstance(model, Mapping) else 0.0
        return float(unsevered(self.hazard[i, k], frailty))

    def _loose(self) -> float:
        """Share of the severed fibres that comes loose from what the edge has disturbed; see `RiskModel`."""
        model = self.setup["model"]
        if not isinstance(model, Mapping) or not model.get("loosened"):
            return 0.0
        depth = model["disturbed"] * self.setup["edge_radius"] / model["bundle"]
        return float(model["loosened"] * -np.expm1(-depth))

    def _heat(self, i: int, k: int) -> str:
        rise = float(self.temperature[i, k]) - ROOM
        return f"about {ROOM + rise:.0f} C ({ROOM + rise / _BAND:.0f} to {ROOM + rise * _BAND:.0f})"

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

    def reason(self, row: int, side: int) -> str:
        """Say in a sentence what makes the leading risk of one lip what it is; side 0 is left, 1 right.

        What is fine about a lip is said of clean lips only.
        """
        i, k = row, side
        leading, damage = self.leading(i, k), float(self.damage[i, k])
        value, clean = float(self.values(leading)[i, k]), CLASSES["clean"]
        if not np.isfinite(damage):
            return "No risk is known here."
        if value < clean <= damage:
            parts = [f"{RISK_WORDS[r]} {v:.2f}" for r in RISKS if (v := float(self.values(r)[i, k])) > 0]
            return f"There is no single cause: {' and '.join(parts)} add up."
        if leading == "tear":
            if value < clean:
                return f"Cracks reach only {self.tear_depth[i, k]:.2f} mm beyond the lip."
            against = "The cut runs against the grain: the" if self.fibre_angle[i, k] < 90 else "The"
            return f"{against} wood splits ahead of the edge, and the cracks run out beyond the lip."
        if leading == "scorch":
            if value < clean:
                return "The rubbing stays below charring."
            return "The edge rubs too much for the speed it moves along the lip, and the wood grows hot."
        if not np.isfinite(self.hazard[i, k]):
            return "The model gives no reason."
        return self._fuzz_reason(i, k) if value >= clean else self._clean_reason(i, k)

    def _clean_reason(self, i: int, k: int) -> str:
        if self._crossing(i, k) < 15:
            return "The fibres run along the lip, so few are left standing."
        if self.hazard[i, k] > 1.5:
            return "The strikes cut the fibres that cross the lip."
        return "Few fibres are left standing at the lip."

    def _fuzz_reason(self, i: int, k: int) -> str:
        """Why fibres stay: first whether it is the mean fibre at all, or those that scatter about it."""
        across = np.sin(np.radians(self._crossing(i, k))) * np.cos(np.radians(self.fibre_dive[i, k]))
        left, loose = self._standing(i, k), self._loose()
        if across**2 * (left + loose * (1.0 - left)) < 0.5 * self.fuzz[i, k]:
            return "Not all fibres lie along the grain, and the strikes do not cut those that stray from it."
        if self.support[i, k] < 0.5:
            return (
                "The cut runs with the grain: the fibres lean out of the wood and bend over before the edge cuts them."
            )
        if self.strikes[i, k] == 0 or self.rubs[i, k] > 0.5 * self.strikes[i, k]:
            return "Most strikes only rub: the chips are too thin for this edge."
        return "The strikes are too slow, and the wood beside the fibres too weak, to cut them."


def numbered(places: Sequence[Any]) -> list[Any]:
    """The stretches that bear their number: all of one number up to four, of more the first two."""
    found: dict[int, list[Any]] = {}
    for place in places:
        found.setdefault(place.rank, []).append(place)
    return [place for alike in found.values() for place in (alike if len(alike) <= 4 else alike[:2])]


def _span(start: float, stop: float) -> str:
    """Where a stretch lies; where it turns about one place of the path that alone."""
    if start > stop:  # over the join of a closed path
        return f"{start:.1f} mm to the end, on to {stop:.1f} mm"
    at = f"{start:.1f} to {stop:.1f}" if f"{start:.1f}" != f"{stop:.1f}" else f"at {start:.1f}"
    return f"{at} mm along the path"


def _listed(numbers: Sequence[object]) -> str:
    words = [str(n) for n in numbers]
    return words[0] if len(words) == 1 else f"{', '.join(words[:-1])} and {words[-1]}"
