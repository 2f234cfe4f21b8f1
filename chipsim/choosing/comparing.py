"""Options side by side: the same grooves cut in different ways on one board."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from .._shared.arrays import integer
from .._shared.arrays import seed as checked_seed
from .._shared.tables import Columns, Result
from ..damage.mapping import risk_map
from ..damage.maps import CLASSES, PRIOR, RiskMap
from ..damage.models import LipModel, checked_model
from ..damage.orders import Odds, odds_of
from ..damage.scale import RISK_WORDS
from ..errors import DomainError
from ..limits.checks import Limit, check_limits
from ..limits.time import time_estimate
from ..scene.cuts import Carving, Cut, as_carving
from ..scene.grain import Board
from ..scene.machine import Machine, corners_text
from ..units import length_text
from .records import drawn_damages
from .summaries import RISKS, Summary
from .variants import dial_text

__all__ = ["Comparison", "Option", "compare"]


@dataclass(frozen=True, eq=False)
class Option:
    """One option of a comparison.

    Attributes
    ----------
    name : as the user calls it.
    carving : what is cut, and how.
    risk : its `RiskMap`.
    summary : `Summary` of the map.
    time : (low, likely, high), NaN without a machine. [s]
    limits : as from `check_limits`.
    reason : why its worst place is as it is; '' if no lip needs sanding.
    """

    name: str
    carving: Carving
    risk: RiskMap
    summary: Summary
    time: tuple[float, float, float]
    limits: tuple[Limit, ...]
    reason: str

    def __repr__(self) -> str:
        return f"<Option {self.name[:60]!r}: mean damage {self.summary.mean['damage']:.3f}>"

    @property
    def not_kept(self) -> tuple[Limit, ...]:
        """Limits that are violated or unknown."""
        return tuple(row for row in self.limits if not row.ok)

    @property
    def machine(self) -> Machine | None:
        """Machine of the first cut."""
        return self.carving.cuts[0].machine


@dataclass(frozen=True, eq=False)
class Comparison(Result):
    """Options in the order given, made by `compare`. Print it for the table; it iterates over its options.

    Attributes
    ----------
    options : every `Option`.
    board : what they are cut in.
    odds : of the best option against each other one of which damage is known; none where no draws were asked for.
    """

    options: tuple[Option, ...]
    board: Board
    odds: tuple[Odds, ...] = ()

    def __len__(self) -> int:
        return len(self.options)

    def __iter__(self) -> Iterator[Option]:
        return iter(self.options)

    def __repr__(self) -> str:
        best = self.best()
        return f"<Comparison of {len(self)} options{f', best {best.name[:60]!r}' if best is not None else ''}>"

    def __getitem__(self, name: str) -> Option:
        """Return the option of a name; DomainError if there is none."""
        for option in self.options:
            if option.name == name:
                return option
        raise DomainError(f"name must be one of {', '.join(repr(o.name) for o in self.options)}, got {name!r}")

    def ranked(self, count: int = 3, risk: str = "damage") -> tuple[Option, ...]:
        """Options with the least mean of a risk; equal ones in the order given, unknown ones left out."""
        n, mean = integer("count", count, low=0, high=10_000_000), {o.name: o.risk.mean(risk) for o in self.options}
        known = [o for o in self.options if np.isfinite(mean[o.name])]
        return tuple(sorted(known, key=lambda o: mean[o.name])[:n])

    def best(self, risk: str = "damage") -> Option | None:
        """Option with the least mean of a risk, the first of equal ones; None if it is not known of any."""
        return next(iter(self.ranked(1, risk)), None)

    def __str__(self) -> str:
        wide = max(8, *(len(o.name) for o in self.options))
        modelled = [r for r in RISKS if any(np.isfinite(o.summary.mean[r]) for o in self.options)]
        unknown = any(o.summary.lengths["damage"]["not known"] > 0 for o in self.options)
        classes = [*CLASSES, "not known"] if unknown else [*CLASSES]
        lines = [
            f"Compared on {self.board.wood.name}, grain {self.board.grain.label}: mm of lip by class of damage, "
            f"mean and worst of each risk",
            f"{'option':{wide}}"
            + "".join(f"{name:>15}" for name in classes)
            + "".join(f"{r:>14}" for r in modelled)
            + f"{'minutes':>9}",
        ]
        for o in self.options:
            lengths = o.summary.lengths["damage"]
            minutes = f"{o.time[1] / 60:.2f}" if np.isfinite(o.time[1]) else "unknown"
            lines.append(
                f"{o.name:{wide}}"
                + "".join(f"{lengths[name]:15.1f}" for name in classes)
                + "".join(f"{f'{o.summary.mean[r]:.3f} {o.summary.worst[r]:.2f}':>14}" for r in modelled)
                + f"{minutes:>9}"
            )
        for o in self.options:
            widest = length_text(2 * float(o.risk.half_width.max()))
            speeds = sorted({cut.spindle_speed for cut in o.carving})
            dials = dict.fromkeys(dial_text(speed, o.machine).strip(" ()").removeprefix("dial ") for speed in speeds)
            dial = f"dial {' and '.join(dials)}" if all(dials) else ""
            deepest = length_text(float(o.risk.depth.max()))
            lines.append(
                f"{o.name}: {o.risk.setup['caption']}; {f'{dial}; ' if dial else ''}grooves to {deepest} deep and "
                f"{widest} wide"
            )
            lines.append(f"  worst: {o.reason or _nothing_poor(o.summary)}")
            by = {status: [r.name for r in o.limits if r.status == status] for status in ("violated", "unknown")}
            said = "; ".join(f"{status}: {', '.join(names)}" for status, names in by.items() if names)
            lines.append(f"  limits {said or 'kept'}")
        best = self.best()
        if best is not None:
            lines += [f"{best.name} against {o.other.name}: {o}" for o in self.odds]
        corners = corners_text(c.machine for o in self.options for c in o.carving)
        lines += [corners] if corners else []
        rests = str(self.options[0].risk.setup.get("learned") or PRIOR)
        return "\n".join([*lines, f"{rests} Limits are an estimate, no certificate."])

    def _columns(self) -> Columns:
        rows = [[*o.summary.cells(), *o.time] for o in self.options]
        times = ["time low [s]", "time likely [s]", "time high [s]"]
        return {
            "option": [o.name for o in self.options],
            "setup": [o.risk.setup["caption"] for o in self.options],
            **dict(zip([*Summary.headings(), *times], map(list, zip(*rows, strict=True)), strict=True)),
            "limits not kept": ["; ".join(f"{row.name} {row.status}" for row in o.not_kept) for o in self.options],
            "worst place": [o.reason for o in self.options],
        }


def compare(
    options: Mapping[str, Cut | Carving] | Sequence[Cut | Carving],
    board: Board,
    *,
    model: LipModel | None = None,
    pitch: float = 0.25,
    draws: int = 50,
    seed: int = 0,
) -> Comparison:
    """Map several ways to cut the same thing, and lay them side by side.

    For bits at equal width of groove: ``compare({name: with_bit(carving, bit) for name, bit in bits.items()}, board)``.

    Parameters
    ----------
    options
        Mapping from names to a `Cut` or `Carving`; or a sequence of them, which are numbered.
    board
        Wood and grain.
    model
        Default `RiskModel()`.
    pitch
        Spacing of the stations. [mm]
    draws, seed
        Of the coefficients, as those of `risk_map`: in how many of them the best option is the better one; 0: not
        asked.

    Returns
    -------
    Comparison

    Raises
    ------
    DomainError
        If an argument is of the wrong kind or out of range.

    Examples
    --------
    >>> import chipsim as cs
    >>> cut = cs.Cut(cs.VBit(60, 12.7, 2), cs.ring(5, 1.5), 18_000, 1500)
    >>> board = cs.Board(cs.wood("black cherry"), cs.straight_grain(azimuth=0))
    >>> skimmed = cs.Cut(cut.bit, cut.path, 18_000, 1500, passes=[0.3])
    >>> cs.compare({"single pass": cut, "with a skim": skimmed}, board, pitch=1.0).best().name
    'with a skim'
    """
    if isinstance(options, Mapping):
        named = [(str(name), job) for name, job in options.items()]
    elif isinstance(options, (str, bytes, Cut, Carving)) or not isinstance(options, Sequence):
        raise DomainError(f"options must be a mapping or a sequence of Cut or Carving, got {type(options).__name__}")
    else:
        named = [(f"option {k + 1}", job) for k, job in enumerate(options)]
    wrong = [job for _, job in named if not isinstance(job, Cut | Carving)]
    if wrong or not named:
        raise DomainError(f"options must hold at least one Cut or Carving and nothing else, got {wrong or options!r}")
    chosen = checked_model(model)
    count, start = integer("draws", draws, low=0, high=10_000), checked_seed(seed)
    found = Comparison(tuple(_option(name, as_carving(job), board, chosen, pitch) for name, job in named), board)
    best, *rivals = found.ranked(len(found)) or (None,)
    if best is None or not rivals or not count:
        return found
    damage = {o.name: drawn_damages(o.carving, [board], chosen, count, start) for o in (best, *rivals)}
    odds = [odds_of(o, damage[best.name][0], damage[o.name][0]) for o in rivals if damage[o.name]]
    return replace(found, odds=tuple(odds))


def _option(name: str, carving: Carving, board: Board, model: LipModel, pitch: float) -> Option:
    risk = risk_map(carving, board, model=model, pitch=pitch)
    known = all(cut.machine is not None for cut in carving)
    time = time_estimate(carving).total if known else (float("nan"),) * 3
    return Option(name, carving, risk, Summary.of(risk), time, tuple(check_limits(carving)), _reason(risk))


def _nothing_poor(summary: Summary) -> str:
    lengths = summary.lengths["damage"]
    return "No lip that is known needs sanding." if lengths["not known"] > 0 else "No lip needs sanding."


def _reason(risk: RiskMap) -> str:
    """Where damage is worst and why, from the map's own words."""
    places = risk.worst_places(1, risk="damage")
    if not places:
        return ""
    p = places[0]
    k = 0 if p.side == "left" else 1
    x, y = risk.lip_xy[p.row, k]
    why = f"{RISK_WORDS[risk.leading(p.row, k)]}. {risk.reason(p.row, k)}"
    of = f" of groove {p.groove + 1}" if len(risk.setup["lengths"]) > 1 else ""
    return f"{p.side} lip{of} at ({x:.1f}, {y:.1f}) mm, damage {p.peak:.2f}: {why}"
