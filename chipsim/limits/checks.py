"""Limits of bit and machine, with margins; what is unknown is never ok."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from .._shared.arrays import SLOWEST_PLUNGE, FloatArray, choice, instance, number
from .._shared.arrays import feed as feed_of
from .._shared.tables import Alike, Columns, Rows
from .._shared.words import CAUTION
from ..errors import DomainError
from ..scene.cuts import AirMove, Carving, Cut
from ..scene.cutters import heel_rub_radius, profile_knots
from ..scene.grain import Board
from ..scene.machine import Machine, corners_text
from ..units import feed_text, folded, hung, length_text, table_text, tooth_feed_text
from .forces import CuttingForceModel, Forces, cutting_forces
from .job import entries_of, extent_of, job_of, owner_of
from .wedge import LEAST_WEDGE, LOOSE, chip_share, edge_stress, wedge_of

__all__ = ["ADVICE", "Limit", "Limits", "all_clear", "asked_of_limits", "check_limits", "limits_table"]


SPEED_BY_DIAMETER = ((25.0, 22_000.0), (50.0, 18_000.0))
"""Diameters up to which a speed is usual, low end of the tables: to 25 mm 22 000 to 24 000 rpm, to 50 mm 18 000 to
22 000 rpm or less. General tables disagree by 10 to 20 %: common practice, no source. [mm, rpm]"""

CARBIDE_STRENGTH = 2000.0
"""Transverse rupture strength of the low-cobalt carbides ground for wood, low end (ISO 3327 test; from memory). A
chipped edge, a blow or a resharpened bit breaks at less. [MPa]"""

ADVICE = "speed by diameter (advice)"
"""Name of the row that stands in for a marking that is missing, whose own row then says that it is not known."""

ON_A_GUESS = ("spindle power", "side deflection", "tip stress")
"""Limits of what is known to a factor only."""

_SEVERITY = ("violated", "unknown", "near", "ok")

STANDS = {"violated": "exceeded", "unknown": "not checked", "near": "barely kept", "ok": "kept"}
"""How a limit stands, as a report says it, by its status."""


@dataclass(frozen=True, eq=False)
class Limit(Alike):
    """One limit of a planned carving, made by `check_limits`.

    Parameters
    ----------
    name
        What is limited.
    value
        What the plan asks for; nan if not known. [`unit`]
    limit
        What it must not exceed; nan if not known, inf if there is none. [`unit`]
    unit
        'mm', 'mm/min', 'rpm', '%', 'W', 'MPa' or 'deg'.
    margin
        limit - value: negative is violated, nan is unknown. [`unit`]
    status
        'ok', 'near', 'violated' or 'unknown'.
    sentence
        For a report: why, and what to do or to look up.

    Raises
    ------
    DomainError
        If the status says more than the margin allows.
    """

    name: str
    value: float
    limit: float
    unit: str
    margin: float
    status: str
    sentence: str

    def __post_init__(self) -> None:
        choice("status", self.status, _SEVERITY)
        for name in ("value", "limit", "margin"):
            value = getattr(self, name)
            instance(name, value, (int, float, np.floating), "a float, nan and inf among them")  # type: ignore[arg-type]
        if self.ok and not self.margin >= 0:
            raise DomainError(
                f"status must be 'violated' or 'unknown' unless the margin lies in [0, inf], got {self.status!r} "
                f"with margin {self.margin:g}"
            )

    def __repr__(self) -> str:
        return f"<Limit {self.name}: {self.status}, {self.value:g} of at most {self.limit:g} {self.unit}>"

    def __str__(self) -> str:
        return f"{self.name}: {self.status}. {self.sentence}"

    @property
    def ok(self) -> bool:
        """True only if the limit is known and kept, be it by little."""
        return self.status in ("ok", "near")

    @property
    def _rank(self) -> tuple[int, float]:
        share = self.margin / abs(self.limit) if math.isfinite(self.limit) and self.limit else self.margin
        if math.isnan(share):  # what is asked for may be known all the same
            share = -math.inf if math.isnan(self.value) else -self.value
        return _SEVERITY.index(self.status), share


@dataclass(frozen=True, eq=False, repr=False)
class Limits(Alike, Rows[Limit]):
    """The limits of a planned carving, made by `check_limits`: a sequence of `Limit`. Print it for the table.

    Parameters
    ----------
    rows
        In the order in which they were checked.
    """

    rows: tuple[Limit, ...] = ()

    def __post_init__(self) -> None:
        object.__setattr__(self, "rows", tuple(_rows(self.rows)))

    @property
    def all_clear(self) -> bool:
        """True if there are limits and all are known and kept."""
        return all_clear(self.rows)

    @property
    def not_kept(self) -> Limits:
        """Limits that are violated or unknown."""
        return Limits(tuple(row for row in self.rows if not row.ok))

    def __repr__(self) -> str:
        return f"<Limits: {'all' if self.all_clear else 'not all'} of {len(self)} kept>"

    def __str__(self) -> str:
        return limits_table(self.rows)

    def _columns(self) -> Columns:
        def of(name: str) -> Sequence[object]:
            return [getattr(row, name) for row in self.rows]

        numbers = {"value [as unit]": "value", "at most [as unit]": "limit", "margin [as unit]": "margin"}
        return {h: of(n) for h, n in ({"limit": "name"} | numbers).items()} | {
            name: of(name) for name in ("unit", "status", "sentence")
        }


def all_clear(limits: Iterable[Limit]) -> bool:
    """True if there are limits and all are known and kept; False if any is violated or unknown, or none was checked.

    Examples
    --------
    >>> import chipsim as cs
    >>> from chipsim.limits.checks import all_clear
    >>> cut = cs.Cut(cs.VBit(60, 12.7, 2), cs.ring(20, 2.5), 18_000, 1500)
    >>> all_clear(cs.check_limits(cut))  # no machine was named: not all is known
    False
    """
    found = _rows(limits)
    return bool(found) and all(limit.ok for limit in found)


def _rows(limits: object) -> list[Limit]:
    rows = list(limits) if isinstance(limits, Iterable) else [limits]
    return [instance("limits", row, Limit, "Limit objects, as from check_limits") for row in rows]


def limits_table(limits: Iterable[Limit]) -> str:
    """All `limits` as a table for reports, the worst first, with the sentences of all that are not plainly ok below.

    Examples
    --------
    >>> import chipsim as cs
    >>> from chipsim.limits.checks import limits_table
    >>> cut = cs.Cut(cs.VBit(60, 12.7, 2), cs.ring(20, 2.5), 18_000, 1500)
    >>> limits_table(cs.check_limits(cut)[:1]).splitlines()[0]  # the bit has no marked maximum speed
    'Do not start yet: 1 of 1 limits cannot be checked.'
    """
    rows = sorted(_rows(limits), key=lambda row: _SEVERITY.index(row.status))
    count = {status: sum(row.status == status for row in rows) for status in _SEVERITY}
    out = folded(_answer(count, len(rows)))
    cells: list[tuple[str, ...]] = [("limit", "this job", "allowed", "to spare", "")]
    cells += [(r.name, *(_amount(x, r.unit) for x in (r.value, r.limit, r.margin)), STANDS[r.status]) for r in rows]
    out += ["", table_text(cells)] if rows else []
    told = [f"{row.name[:1].upper()}{row.name[1:]}: {row.sentence}" for row in rows if row.status != "ok"]
    out += ["", *(line for text in told for line in hung(text))] if told else []
    return "\n".join([*out, *folded(CAUTION)])


def _answer(count: Mapping[str, int], rows: int) -> str:
    """How the limits stand, in a sentence or two."""
    if not rows:
        return "Do not start yet: nothing was checked."
    broken, unknown, near = count["violated"], count["unknown"], count["near"]
    if not broken and not unknown:
        close = f" {near} of them {'is' if near == 1 else 'are'} barely kept." if near else ""
        return f"{'The limit that was checked is' if rows == 1 else f'All {rows} limits are'} kept.{close}"
    asked = f"{unknown} of {rows} limits cannot be checked."
    if not broken:
        return f"Do not start yet: {asked}" + (" Nothing exceeds a limit that is known." if rows > unknown else "")
    text = f"Do not start: {broken} of {rows} limits {'is' if broken == 1 else 'are'} exceeded."
    return text + (f" {unknown} cannot be checked." if unknown else "")


def _amount(x: float, unit: str) -> str:
    if not math.isfinite(x):
        return "unknown" if math.isnan(x) else "none"
    if unit == "mm":
        return length_text(x)
    return feed_text(x) if unit == "mm/min" else f"{x:.0f} {unit}"


class _Sheet:
    """Collects rows; of each name the worst known one stays, and beside it one for all that are not known."""

    def __init__(self, count: int, near: float) -> None:
        self.count, self.near = count, near
        self.rows: dict[str, list[tuple[int | None, Limit]]] = {}

    def add(
        self,
        groove: int | None,
        name: str,
        value: float,
        limit: float,
        unit: str,
        sentence: str,
        *,
        known: bool = True,
        doubtful: bool = False,
    ) -> None:
        margin = limit - value
        if -1e-9 * abs(limit) <= margin < 0:
            margin = 0.0  # rounding is no violation
        if margin < 0:
            status = "violated"
        elif math.isnan(margin) or not known:
            status = "unknown"
        else:
            status = "near" if doubtful or margin < self.near * abs(limit) else "ok"
        row = Limit(name, value, limit, unit, margin, status, sentence)
        self.rows.setdefault(name, []).append((groove, row))

    def limits(self) -> list[Limit]:
        out = []
        for rows in self.rows.values():
            for unknown in (False, True):
                own = [(groove, row) for groove, row in rows if (row.status == "unknown") == unknown]
                if own:
                    groove, worst = min(own, key=lambda item: item[1]._rank)
                    out.append(self._placed(groove, worst, len(own) - 1 if unknown else 0))
        return out

    def _placed(self, groove: int | None, row: Limit, others: int) -> Limit:
        if groove is None or self.count == 1:
            return row
        more = f" and {others} more" if others else ""
        return replace(row, sentence=f"Groove {groove + 1}{more}: {row.sentence}")


def check_limits(
    carving: Carving | Cut,
    machine: Machine | None = None,
    *,
    flatness: float = 0.1,
    zero: float = 0.05,
    stick_out: float | None = None,
    pass_depth: float | None = None,
    plunge_feed: float | None = None,
    safe_height: float | None = None,
    rub_share: float = 0.1,
    slow_share: float = 0.5,
    near: float = 0.1,
    board: Board | None = None,
    force_model: CuttingForceModel | None = None,
    deflection: float = 0.1,
    tip_strength: float = CARBIDE_STRENGTH,
) -> Limits:
    """Limits of a planned carving, of each the worst place, with value, limit and margin.

    Parameters
    ----------
    carving
        A `Carving`, or a single `Cut`.
    machine
        Machine to check against, for every cut; None: each cut's own.
    flatness, zero
        How far the face may stand above the zero plane, and the error of the zero: what the bit may go deeper than
        planned, in [0, 5]. [mm]
    stick_out
        Free length of the bit below the collet's nut, in (0, 300]; None: not checked. [mm]
    pass_depth
        Depth of wood that one pass may take, in (0, 200]; None: not checked. [mm]
    plunge_feed
        Programmed plunge feed of a plan without plunge moves, in [80, 60000]; None: unknown. [mm/min]
    safe_height
        Height above the face of the moves in air, for a plan without them, in [0, 1000]; None: unknown. [mm]
    rub_share
        Share of the groove's mean depth on which the heel may rub, in (0, 1]; the default is a choice of this
        library, no source. [-]
    slow_share
        Share of the length on which the programmed feed may not be reached, in (0, 1]; a choice likewise. [-]
    near
        'near' is a margin below this share of the limit, in [0, 1]. [-]
    board
        Wood and grain; None: forces are not checked.
    force_model
        Default `CuttingForceModel()`.
    deflection
        How far the side force may push the tip aside, in (0, 10]; a choice of this library, no source. [mm]
    tip_strength
        Bending strength of the bit's tip, in [10, 1e4]; default `CARBIDE_STRENGTH`, from memory. [MPa]

    Returns
    -------
    Limits
        A sequence of `Limit`, which prints as a table; at most two a name: the worst of what is known, and one for all
        that is not.

    Raises
    ------
    DomainError
        If an argument is of the wrong kind or out of range.

    Notes
    -----
    - *marked maximum speed*: with a dial, the high end of its band counts; a bit without a marking is 'unknown', and
      *speed by diameter* is then given as advice (`SPEED_BY_DIAMETER`).
    - *depth per pass*: what each pass of a cut goes deeper than the one before; cuts are taken to meet uncut wood, also
      where another lies over them.
    - *groove width*: that of the bit's outline, carried on straight above its top, against the bit's diameter.
    - *edge wedge*: rake and clearance together against what leaves a wedge of `LEAST_WEDGE`; asked of bits that are not
      ground to the usual 10 and 15 deg.
    - *edge stress*: bending of that wedge by the thickest chip (`limits.wedge.edge_stress`), asked of the same bits.
    - *chip room*: how much of its gullet a flute's loose chips fill; asked of bits whose `chip_room` is given.
    - *tip feed*: of every pass; the height up to which the heel rubs (`heel_rub_radius`), at the low end of a dial's
      band, against `rub_share` of the mean depth; capped at 100 %.
    - *plunge feed*: downward speed of every move that drops into the wood, a rapid included.
    - *ramps*: the downward speed programmed with the feed along a descending path, against the plunge feed; the speed
      profile holds the tool back there, a controller may not.
    - *feed*: of the tool in space, ramps included.
    - *feed not reached*: share of the length of the last passes below 95 % of the programmed feed; arcs, corners and
      starts slow the tool, and how much is worked out, so that no radius is a limit of its own.
    - *travel*: the extent of the grooves, their width included (a ramp on an arc counts with its greater width), and of
      the points to which the other moves go; not where the work's zero lies on the machine.
    - *spindle power*, *side deflection*, *tip stress*: see `cutting_forces`, at the place with the largest side force
      and for the worst pass. Forces are known to a factor only: a limit is violated if even the low end of the
      model's band exceeds it, which is the value given, and near if the high end does.

    Examples
    --------
    >>> import chipsim as cs
    >>> cut = cs.Cut(cs.VBit(60, 12.7, 2, max_spindle_speed=24_000), cs.ring(20, 2.5), 18_000, 1500)
    >>> limits = {limit.name: limit for limit in cs.check_limits(cut)}
    >>> limits["marked maximum speed"].status, limits["marked maximum speed"].margin
    ('ok', 6000.0)
    """
    job = job_of(carving, machine)
    deeper = number("flatness", flatness, low=0, high=5, unit="mm") + number("zero", zero, low=0, high=5, unit="mm")
    if stick_out is not None:
        stick_out = number("stick_out", stick_out, low=0, high=300, unit="mm", open_low=True)
    if pass_depth is not None:
        pass_depth = number("pass_depth", pass_depth, low=0, high=200, unit="mm", open_low=True)
    if plunge_feed is not None:
        plunge_feed = feed_of("plunge_feed", plunge_feed, SLOWEST_PLUNGE)
    if safe_height is not None:
        safe_height = number("safe_height", safe_height, low=0, high=1000, unit="mm")
    rub = number("rub_share", rub_share, low=0, high=1, open_low=True)
    slow = number("slow_share", slow_share, low=0, high=1, open_low=True)
    if board is not None and not isinstance(board, Board):
        raise DomainError(f"board must be a Board or None, got {type(board).__name__}")
    if force_model is not None and not isinstance(force_model, CuttingForceModel):
        raise DomainError(f"force_model must be a CuttingForceModel or None, got {type(force_model).__name__}")
    aside = number("deflection", deflection, low=0, high=10, unit="mm", open_low=True)
    strength = number("tip_strength", tip_strength, low=10, high=1e4, unit="MPa")
    sheet = _Sheet(len(job), number("near", near, low=0, high=1))
    for k, cut in enumerate(job):
        _check_speed(sheet, k, cut)
        _check_depth(sheet, k, cut, deeper, stick_out)
        _check_edge(sheet, k, cut, board, force_model, strength)
        passes = [*cut.earlier_passes(), cut]
        if pass_depth is not None:
            _check_passes(sheet, k, passes, pass_depth)
        for one in passes:
            _check_tip(sheet, k, one, rub)
        _check_feed(sheet, k, cut, passes)
        if board is not None:
            _check_forces(sheet, k, cut, cutting_forces(cut, board, model=force_model), aside, strength)
    _check_plunges(sheet, job, plunge_feed)
    _check_reached(sheet, job, slow)
    _check_travel(sheet, job, safe_height)
    return Limits(tuple(sheet.limits()))


def asked_of_limits(checks: object) -> dict[str, Any]:
    """Arguments of `check_limits` by name, as those give them who let it be called; DomainError for others."""
    if checks is None:
        return {}
    if not isinstance(checks, Mapping) or not all(isinstance(name, str) for name in checks):
        raise DomainError(f"checks must map names of check_limits to values, got {checks!r}")
    known = set(check_limits.__kwdefaults__ or {})
    if not set(checks) <= known:
        raise DomainError(f"checks must be among {', '.join(sorted(known))}, got {', '.join(set(checks) - known)}")
    return dict(checks)


def _speed_band(cut: Cut) -> tuple[float, float, bool]:
    """Lowest and highest spindle speed to reckon with, and whether the dial's readings reach that far. [rpm]"""
    speed, dial = cut.spindle_speed, cut.machine.dial if cut.machine is not None else None
    if dial is None:
        return speed, speed, True
    inside = min(dial.speeds) <= speed <= max(dial.speeds)
    return speed * (1 - dial.uncertainty), speed * (1 + dial.uncertainty), inside


def _check_speed(sheet: _Sheet, k: int, cut: Cut) -> None:
    bit, (_, high, inside) = cut.bit, _speed_band(cut)
    if cut.machine is None or cut.machine.dial is None:
        said = f"{high:.0f} rpm as set; a dial without readings of one's own may be 10 % faster"
    elif inside:
        said = f"{cut.spindle_speed:.0f} rpm as set is up to {high:.0f} rpm by the dial's readings"
    else:
        said = f"{cut.spindle_speed:.0f} rpm lies outside the dial's readings: take one there"
    marked = bit.max_spindle_speed
    if marked is not None:
        said += f"; the bit is marked {marked:.0f} rpm."
        sheet.add(k, "marked maximum speed", high, marked, "rpm", said, known=inside)
        return
    ask = "; the bit's maximum speed is not known: read it off the shank or ask the maker."
    sheet.add(k, "marked maximum speed", high, math.nan, "rpm", said + ask)
    usual = next((rpm for diameter, rpm in SPEED_BY_DIAMETER if bit.diameter <= diameter), math.nan)
    size = length_text(bit.diameter, 1)
    if math.isnan(usual):
        advice = f"; for {size} no general table is at hand: ask the maker."
    else:
        advice = (
            f"; general tables go to {usual:.0f} rpm or somewhat more for {size} and disagree by 10 to 20 % "
            "(common practice, no source)."
        )
    sheet.add(k, ADVICE, high, usual, "rpm", said + advice, known=inside)


def _check_depth(sheet: _Sheet, k: int, cut: Cut, deeper: float, stick_out: float | None) -> None:
    bit, planned = cut.bit, float(cut.path.depth.max())
    depth = planned + deeper
    said = f"{length_text(planned)} deep as planned, {length_text(depth)} with flatness and zero"
    heights, radii = profile_knots(bit, depth)
    slope = (radii[-1] - radii[-2]) / (heights[-1] - heights[-2])
    width = 2 * (float(np.interp(depth, heights, radii)) + slope * max(depth - float(heights[-1]), 0.0))
    wide = f"{said}; walls stand upright above the bit's {length_text(bit.diameter, 1)}."
    sheet.add(k, "groove width", width, bit.diameter, "mm", wide)
    if bit.cutting_length is None:
        ask = f"{said}; the bit's cutting length is not known: measure how high its edges reach."
        sheet.add(k, "cutting length", depth, math.nan, "mm", ask)
    else:
        reach = f"{said}; the edges reach {length_text(bit.cutting_length)}."
        sheet.add(k, "cutting length", depth, bit.cutting_length, "mm", reach)
    if stick_out is not None:
        nut = f"{said}; the collet's nut meets the board at {length_text(stick_out)}."
        sheet.add(k, "stick-out", depth, stick_out, "mm", nut)


_USUAL_WEDGE = 65.0
"""Wedge of a bit of which nothing special is said. [deg]"""


def _check_edge(
    sheet: _Sheet, k: int, cut: Cut, board: Board | None, model: CuttingForceModel | None, strength: float
) -> None:
    bit, wedge = cut.bit, wedge_of(cut.bit)
    if wedge < _USUAL_WEDGE:
        said = (
            f"rake {bit.rake:g} and clearance {bit.clearance:g} deg leave a wedge of {wedge:g} deg; carbide chips in "
            f"solid wood below {LEAST_WEDGE:g} deg or so (from memory)."
        )
        sheet.add(k, "edge wedge", bit.rake + bit.clearance, 90 - LEAST_WEDGE, "deg", said)
    if wedge < _USUAL_WEDGE and board is not None and cut.feed_per_tooth > 0:
        own = model or CuttingForceModel()
        chip = cut.feed_per_tooth * math.cos(math.atan(float(cut.flank_slope(np.asarray(cut.path.depth.max())))))
        stress = edge_stress(bit, chip, board.wood, own)
        said = (
            f"about {stress:.0f} MPa bend a wedge of {wedge:g} deg with a chip {length_text(chip, 3)} thick, in the "
            f"dearest direction of the fibres; it may be {own.band:g} times more or less."
        )
        # as with all forces: nothing is forbidden on a guess alone
        doubtful = stress * own.band > strength
        sheet.add(k, "edge stress", stress / own.band, strength, "MPa", said, doubtful=doubtful)
    if getattr(bit, "chip_room", None) is not None:
        share = chip_share(cut)
        said = (
            f"loose chips, {LOOSE:g} times as much as the wood they were, fill {100 * share:.0f} % of a flute's gullet "
            "before it comes out of the wood."
        )
        sheet.add(k, "chip room", 100 * share, 100.0, "%", said)


def _check_passes(sheet: _Sheet, k: int, passes: list[Cut], limit: float) -> None:
    before = 0.0
    for i, cut in enumerate(passes, 1):
        deepest = float(cut.path.depth.max())
        said = f"pass {i} of {len(passes)} goes down to {length_text(deepest)}; at most {length_text(limit)} a pass."
        sheet.add(k, "depth per pass", deepest - before, limit, "mm", said)
        before = deepest


def _check_tip(sheet: _Sheet, k: int, cut: Cut, share: float) -> None:
    path, slowest = cut.path, _speed_band(cut)[0]
    pieces = path.pieces
    advance = cut.largest_feed / slowest
    down = np.maximum(cut.feeds * path.drop / path.space_length, 0.0) / slowest
    if path.length > 0:
        mean = float((pieces[:, 5] + path.drop / 2) @ pieces[:, 4] / path.length)
        # what goes straight down is tip at its end as well
        descent = float(down[pieces[:, 4] > 0].max(initial=0.0))
    else:
        mean, descent = float(path.depth.max()), float(down.max())
    pushed, rubs = _tip_heights(cut, advance, descent)
    tip = 2 * float(cut.knots[1][0])
    said = (
        f"{tooth_feed_text(advance if path.length > 0 else descent)} "
        f"{'advance' if path.length > 0 else 'straight down'} per revolution against "
        f"{f'a tip {length_text(tip)} wide' if tip > 0 else 'a sharp tip'}: up to {length_text(pushed)} above it the "
        f"edge is pushed and does not cut, up to {length_text(rubs)} its heel rubs; mean depth {length_text(mean)}"
    )
    value = 100 * min(rubs / mean, 1.0) if mean > 0 else math.nan
    cure = ". Lower the feed or raise the speed." if mean > 0 else ": nothing is cut, look at the depth."
    sheet.add(k, "tip feed", value, 100 * share, "%", said + cure)


def _tip_heights(cut: Cut, advance: float, descent: float = 0.0) -> tuple[float, float]:
    """Heights up to which the edge is pushed, and its heel rubs, for an advance and a descent per revolution. [mm]

    The edge never runs backwards below the radius advance / (2 pi); derived for this project.
    """
    heights, radii = cut.knots
    deepest = float(cut.path.depth.max())
    if heights[-1] < deepest:
        heights, radii = np.append(heights, deepest), np.append(radii, radii[-1])
    slope = np.diff(radii) / np.diff(heights)
    with np.errstate(divide="ignore"):  # an edge without clearance rubs everywhere
        heel = heel_rub_radius(cut.bit, np.degrees(np.arctan(slope)), advance, descent_per_rev=descent)

    def height(target: FloatArray) -> float:
        rise = np.divide(target - radii[:-1], slope, out=np.full(len(slope), np.inf), where=slope > 0)
        top = np.minimum(heights[:-1] + rise, heights[1:])
        return float(np.where(target > radii[:-1], top, 0.0).max())

    return height(np.full(len(slope), advance / (2 * np.pi))), height(heel)


def _check_feed(sheet: _Sheet, k: int, cut: Cut, passes: list[Cut]) -> None:
    feed = max(float(c.feeds.max()) for c in passes)
    down = max(float((c.face_feeds * c.path.pieces[:, 6]).max()) for c in passes)
    typed = max(max(c.typed_feeds) for c in passes)
    machine = cut.machine
    if machine is None:
        ask = "no machine is given: look up its largest feed and measure its acceleration."
        sheet.add(k, "feed", feed, math.nan, "mm/min", ask)
        if down > 0:
            sheet.add(k, "ramps", down, math.nan, "mm/min", ask)
        return
    said = f"programmed {feed_text(typed)}, at most {feed_text(feed)} in space with ramps and earlier passes;"
    sheet.add(
        k, "feed", feed, machine.max_feed, "mm/min", f"{said} the machine goes up to {feed_text(machine.max_feed)}."
    )
    if down > 0:
        steep = f"the path goes down with {feed_text(down)} as programmed; the machine allows"
        allowed = f"{feed_text(machine.plunge_feed)}{_taken(machine)}"
        sheet.add(k, "ramps", down, machine.plunge_feed, "mm/min", f"{steep} {allowed}.")


def _check_forces(sheet: _Sheet, k: int, cut: Cut, forces: Forces, aside: float, strength: float) -> None:
    band = forces.band

    def add(name: str, likely: float, limit: float, unit: str, sentence: str) -> None:
        # nothing is forbidden on a guess alone: the low end must exceed the limit, and the high end is told
        sheet.add(k, name, likely / band, limit, unit, sentence, doubtful=likely * band > limit)

    power, side = (max(getattr(f, name) for f in forces.all_passes) for name in ("power", "side"))
    doubt = f"; it may be {band:g} times more or less, and is refused only where even the least is too much"
    limit = cut.machine.spindle_power if cut.machine is not None else None
    said = f"about {power:.0f} W at the edges, mean over a turn{doubt}"
    if limit is None:
        ask = f"{said}. The spindle's power is not known: read its plate, and take half of what it draws."
        add("spindle power", power, math.nan, "W", ask)
    else:
        add("spindle power", power, limit, "W", f"{said}. The spindle delivers {limit:.0f} W.")
    said = f"about {side:.1f} N push the bit aside, mean over a turn{doubt}"
    if math.isnan(forces.stiffness):
        ask = f"{said}. The machine's stiffness is not known: pull the bit sideways, watch an indicator."
        add("side deflection", math.nan, aside, "mm", ask)
    else:
        give = f"{said}. The machine gives by {length_text(side / forces.stiffness, 3)} at {forces.stiffness:g} N/mm."
        add("side deflection", side / forces.stiffness, aside, "mm", give)
    stress = max(f.tip_stress for f in forces.all_passes)
    if math.isnan(stress):
        ask = "the tip's width is not given, and a perfectly sharp point has infinite stress: measure it with a loupe."
        add("tip stress", math.nan, strength, "MPa", ask)
    else:
        said = (
            f"about {stress:.0f} MPa in bending, {length_text(forces.tip_height)} above the tip{doubt}. Carbide for "
            f"wood breaks at {CARBIDE_STRENGTH:.0f} MPa or more (from memory), with a chipped edge or a blow at less."
        )
        add("tip stress", stress, strength, "MPa", said)


def _drop(move: AirMove) -> float:
    """How far a move goes down if it ends in the wood or is a plunge, else 0. [mm]"""
    drop = move.start[2] - move.end[2]
    return drop if drop > 0 and (move.kind == "plunge" or move.end[2] < -1e-9) else 0.0


def _check_plunges(sheet: _Sheet, job: Carving, typed: float | None) -> None:
    name, planned = "plunge feed", [0] * len(job)
    ask = "no machine is given: look up how fast its downward axis may go."
    for move in job.air_moves:
        if _drop(move) <= 0:
            continue
        k = owner_of(job, move)
        planned[k] += 1
        machine = job.cuts[k].machine
        share = _drop(move) / math.dist(move.start, move.end)
        if machine is None:
            sheet.add(k, name, share * move.feed if move.feed is not None else math.nan, math.nan, "mm/min", ask)
            continue
        feed = machine.rapid_speed if move.feed is None else move.feed
        how = "at the rapid feed, no feed is programmed" if move.feed is None else "as programmed"
        down = f"the tool drops into the wood with {feed_text(share * feed)}, {how}"
        _add_plunge(sheet, k, share * feed, machine, down)
    last: Cut | None = None
    for k, cut in enumerate(job):
        entries, inside = 0, 0.0
        for one in [*cut.earlier_passes(), cut]:
            entries += entries_of(one, last)
            last = one
            inside = max(inside, float(one.feeds[(one.path.pieces[:, 4] == 0) & (one.path.drop > 0)].max(initial=0.0)))
        if inside > 0:
            entries, planned[k] = entries + 1, planned[k] + 1
            if cut.machine is None:
                sheet.add(k, name, inside, math.nan, "mm/min", ask)
            else:
                _add_plunge(sheet, k, inside, cut.machine, f"the cut goes straight down with {feed_text(inside)}")
        if entries == 0 and planned[k] == 0 and cut.machine is not None:
            _add_plunge(sheet, k, 0.0, cut.machine, "the tool enters along the path, no plunge is needed")
        elif entries > planned[k]:
            if cut.machine is None:
                sheet.add(k, name, math.nan if typed is None else typed, math.nan, "mm/min", ask)
            elif typed is None:
                limit = cut.machine.plunge_feed
                look = (
                    f"the plan does not say how fast the tool enters: tell it by plunge_feed, and program no more than "
                    f"{feed_text(limit)}{_taken(cut.machine)}."
                )
                sheet.add(k, name, math.nan, limit, "mm/min", look)
            else:
                _add_plunge(sheet, k, typed, cut.machine, f"plunges are programmed with {feed_text(typed)}")


def _taken(machine: Machine) -> str:
    """Whose number the machine's plunge feed is, where it is the one that is assumed of any machine."""
    usual = machine.plunge_feed == Machine.__dataclass_fields__["plunge_feed"].default
    return ", which is assumed: give the machine's own by Machine(plunge_feed=...)" if usual else ""


def _add_plunge(sheet: _Sheet, k: int, value: float, machine: Machine, said: str) -> None:
    said = f"{said}; the machine allows {feed_text(machine.plunge_feed)}{_taken(machine)}."
    sheet.add(k, "plunge feed", value, machine.plunge_feed, "mm/min", said)


def _check_reached(sheet: _Sheet, job: Carving, share: float) -> None:
    name = "feed not reached"
    driven = [c for c in job if c.machine is not None]
    lacking = len(job) - len(driven)
    if driven:
        length = np.array([c.path.length for c in driven])
        slow, slower = (np.array([c.speed_profile.share_below(x) for c in driven]) for x in (0.95, 0.7))
        whole = float(length.sum())
        part, far = (100 * float(x @ length) / whole if whole > 0 else 0.0 for x in (slow, slower))
        never = int((slow >= 1).sum())
        said = (
            f"below 95 % of the programmed feed on {part:.0f} % of {length_text(whole, 0)}, below 70 % on {far:.0f} %; "
            f"nowhere reached in {never} of {len(driven)} grooves. Where it is not reached chips are thin and the "
            f"teeth rub: lower the spindle speed rather than raise the feed. {corners_text(c.machine for c in driven)}"
        )
        sheet.add(None, name, part, 100 * share, "%", said)
    if lacking:
        ask = (
            f"no machine is given for {lacking} of {len(job)} grooves: time one run to find its acceleration; without "
            "it the feed is only the programmed one."
        )
        sheet.add(None, name, math.nan, 100 * share, "%", ask)


def _check_travel(sheet: _Sheet, job: Carving, safe_height: float | None) -> None:
    boxes = np.array([extent_of(c) for c in job])
    low, high = boxes[:, 0].min(axis=0), boxes[:, 1].max(axis=0)
    heights = [z for m in job.air_moves for z in (m.start[2], m.end[2])]
    heights += [safe_height] if safe_height is not None else []
    top = max([0.0, *heights])
    if job.air_moves:
        ends = np.array([move.end[:2] for move in job.air_moves])
        low, high = np.minimum(low, ends.min(axis=0)), np.maximum(high, ends.max(axis=0))
    size = [*(high - low).tolist(), max(float(c.path.depth.max()) for c in job) + top]
    rooms = list(dict.fromkeys(c.machine.travel if c.machine is not None else None for c in job))
    given = [room for room in rooms if room is not None]
    for axis, name in enumerate(("travel x", "travel y", "travel z")):
        if axis < 2:
            said = f"the grooves with their width, and the moves between, span {length_text(size[axis], 1)}"
            known = True
        else:
            said = f"from the deepest tip to the highest move {length_text(size[axis], 1)}"
            known = bool(heights)
            said += "" if known else "; the plan does not say how high the moves in air are: tell it by safe_height"
        for room in given:
            where = f"{said}; the axis travels {length_text(room[axis], 0)}. Where the board lies on it is not checked."
            sheet.add(None, name, size[axis], room[axis], "mm", where, known=known)
        if None in rooms:
            sheet.add(None, name, size[axis], math.nan, "mm", f"{said}; the machine's travel is not known: measure it.")
