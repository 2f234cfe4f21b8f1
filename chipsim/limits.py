"""Before the cut: limits with their margins, how long the job takes, how exact the groove's width will be.

Everything here fails closed: what is not known comes out as 'unknown' with what to look up, never as 'ok'. The library
estimates, it never certifies: the marking of the bit and the manuals of router and machine come first.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import ArrayLike

from ._arrays import SLOWEST_PLUNGE, FloatArray, array, choice, frozen, instance, number
from ._arrays import feed as feed_of
from .cuts import Carving, Cut, Travel, as_carving
from .cutters import Cutter, as_cutter, cone_angle, heel_rub_radius, profile_knots
from .errors import DomainError
from .forces import CuttingForceModel, Forces, cutting_forces
from .grain import Board
from .machine import Machine, corners_text
from .paths import Path
from .units import feed_text, length_text, tooth_feed_text

__all__ = [
    "Limit",
    "TimeEstimate",
    "WidthCard",
    "all_clear",
    "check_limits",
    "limits_table",
    "time_estimate",
    "width_card",
]

SPEED_BY_DIAMETER = ((25.0, 22_000.0), (50.0, 18_000.0))
"""Diameters up to which a speed is usual, low end of the tables: to 25 mm 22 000 to 24 000 rpm, to 50 mm 18 000 to
22 000 rpm or less. General tables disagree by 10 to 20 %: common practice, no source. [mm, rpm]"""

CARBIDE_STRENGTH = 2000.0
"""Transverse rupture strength of the low-cobalt carbides ground for wood, low end (ISO 3327 test; from memory). A
chipped edge, a blow or a resharpened bit breaks at less. [MPa]"""

_SEVERITY = ("violated", "unknown", "near", "ok")
_CAUTION = "An estimate, no certificate: the marking of the bit and the manuals of router and machine come first."


@dataclass(frozen=True)
class Limit:
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
        'mm', 'mm/min', 'rpm', '%', 'W' or 'MPa'.
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


def all_clear(limits: Iterable[Limit]) -> bool:
    """True if there are limits and all are known and kept; False if any is violated or unknown, or none was checked."""
    found = _rows(limits)
    return bool(found) and all(limit.ok for limit in found)


def _rows(limits: object) -> list[Limit]:
    rows = list(limits) if isinstance(limits, Iterable) else [limits]
    return [instance("limits", row, Limit, "Limit objects, as from check_limits") for row in rows]


def limits_table(limits: Iterable[Limit]) -> str:
    """All `limits` as a table for reports, the worst first, with the sentences of all that are not plainly ok below."""
    rows = sorted(_rows(limits), key=lambda row: _SEVERITY.index(row.status))
    count = {status: sum(row.status == status for row in rows) for status in _SEVERITY}
    said = ", ".join(f"{n} {status}" for status, n in count.items() if n) or "nothing was checked"
    out = [f"{'Limits kept' if all_clear(rows) else 'NO GO'}: {said}"]
    cells: list[tuple[str, ...]] = [("limit", "value", "at most", "margin", "status")]
    cells += [(r.name, *(_amount(x, r.unit) for x in (r.value, r.limit, r.margin)), r.status) for r in rows]
    wide = [max(len(row[k]) for row in cells) for k in range(5)]
    out += ["  ".join(text.ljust(w) for text, w in zip(row, wide, strict=True)).rstrip() for row in cells]
    out += [f"- {row.name}: {row.sentence}" for row in rows if row.status != "ok"]
    return "\n".join([*out, _CAUTION])


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
    ) -> None:
        margin = limit - value
        if -1e-9 * abs(limit) <= margin < 0:
            margin = 0.0  # rounding is no violation
        if margin < 0:
            status = "violated"
        elif math.isnan(margin) or not known:
            status = "unknown"
        else:
            status = "near" if margin < self.near * abs(limit) else "ok"
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
) -> list[Limit]:
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
        Typed plunge feed of a plan without plunge moves, in [80, 60000]; None: unknown. [mm/min]
    safe_height
        Height above the face of the moves in air, for a plan without them, in [0, 1000]; None: unknown. [mm]
    rub_share
        Share of the groove's mean depth on which the heel may rub, in (0, 1]; the default is a choice of this
        library, no source. [-]
    slow_share
        Share of the length on which the typed feed may not be reached, in (0, 1]; a choice likewise. [-]
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
    list of Limit
        At most two a name: the worst of what is known, and one for all that is not.

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
    - *tip feed*: of every pass; the height up to which the heel rubs (`heel_rub_radius`), at the low end of a dial's
      band, against `rub_share` of the mean depth; capped at 100 %.
    - *plunge feed*: downward speed of every move that drops into the wood, a rapid included.
    - *ramps*: the downward speed typed with the feed along a descending path, against the plunge feed; the speed
      profile holds the tool back there, a controller may not.
    - *feed*: of the tool in space, ramps included.
    - *feed not reached*: share of the length of the last passes below 95 % of the typed feed.
    - *radius needed*: the one needed to hold the typed feed, v^2 / a, against the smallest of the path's arcs.
    - *travel*: the extent of the grooves, their width included (a ramp on an arc counts with its greater width), and of
      the points to which the other moves go; not where the work's zero lies on the machine.
    - *spindle power*, *side deflection*, *tip stress*: see `cutting_forces`, at the place with the largest side force
      and for the worst pass. The high end of the model's band counts, since forces are known to a factor only.
    """
    job = _job(carving, machine)
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
    return sheet.limits()


def _job(carving: object, machine: object) -> Carving:
    job = as_carving(carving)
    if machine is None:
        return job
    own = instance("machine", machine, Machine, "a Machine or None")
    # a cut that has this machine keeps the speed profile it has worked out
    cuts = tuple(c if c.machine == own else replace(c, machine=own) for c in job)
    return replace(job, cuts=cuts)


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
    sheet.add(k, "speed by diameter (advice)", high, usual, "rpm", said + advice, known=inside)


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


def _check_passes(sheet: _Sheet, k: int, passes: list[Cut], limit: float) -> None:
    before = 0.0
    for i, cut in enumerate(passes, 1):
        deepest = float(cut.path.depth.max())
        said = f"pass {i} of {len(passes)} goes down to {length_text(deepest)}; at most {length_text(limit)} a pass."
        sheet.add(k, "depth per pass", deepest - before, limit, "mm", said)
        before = deepest


def _check_tip(sheet: _Sheet, k: int, cut: Cut, share: float) -> None:
    path, advance = cut.path, cut.feed / _speed_band(cut)[0]
    ends = path.depth_at(path.joints)
    mean = float((ends[1:] + ends[:-1]) @ np.diff(path.joints) / 2 / path.length)
    pushed, rubs = _tip_heights(cut, advance)
    tip = 2 * float(cut.knots[1][0])
    said = (
        f"{tooth_feed_text(advance)} advance per revolution against "
        f"{f'a tip {length_text(tip)} wide' if tip > 0 else 'a sharp tip'}: up to {length_text(pushed)} above it the "
        f"edge is pushed and does not cut, up to {length_text(rubs)} its heel rubs; mean depth {length_text(mean)}"
    )
    value = 100 * min(rubs / mean, 1.0) if mean > 0 else math.nan
    cure = ". Lower the feed or raise the speed." if mean > 0 else ": nothing is cut, look at the depth."
    sheet.add(k, "tip feed", value, 100 * share, "%", said + cure)


def _tip_heights(cut: Cut, advance: float) -> tuple[float, float]:
    """Heights up to which the edge is pushed, and its heel rubs, for an advance per revolution. [mm]

    The edge never runs backwards below the radius advance / (2 pi); derived for this project.
    """
    heights, radii = cut.knots
    deepest = float(cut.path.depth.max())
    if heights[-1] < deepest:
        heights, radii = np.append(heights, deepest), np.append(radii, radii[-1])
    slope = np.diff(radii) / np.diff(heights)
    with np.errstate(divide="ignore"):  # an edge without clearance rubs everywhere
        heel = heel_rub_radius(cut.bit, np.degrees(np.arctan(slope)), advance)

    def height(target: FloatArray) -> float:
        rise = np.divide(target - radii[:-1], slope, out=np.full(len(slope), np.inf), where=slope > 0)
        top = np.minimum(heights[:-1] + rise, heights[1:])
        return float(np.where(target > radii[:-1], top, 0.0).max())

    return height(np.full(len(slope), advance / (2 * np.pi))), height(heel)


def _check_feed(sheet: _Sheet, k: int, cut: Cut, passes: list[Cut]) -> None:
    feed = max(float(c.feed * np.hypot(1, np.abs(c.path.pieces[:, 6]).max())) for c in passes)
    down = max(float(c.feed * c.path.pieces[:, 6].max()) for c in passes)
    typed = max(c.feed for c in passes)
    curvature = float(np.abs(cut.path.pieces[:, 3]).max())
    radius = 1 / curvature if curvature > 0 else math.inf
    machine = cut.machine
    if machine is None:
        ask = "no machine is given: look up its largest feed and measure its acceleration."
        sheet.add(k, "feed", feed, math.nan, "mm/min", ask)
        if down > 0:
            sheet.add(k, "ramps", down, math.nan, "mm/min", ask)
        sheet.add(k, "radius needed", math.nan, radius, "mm", ask)
        return
    said = f"typed {feed_text(typed)}, at most {feed_text(feed)} in space with ramps and earlier passes; the machine"
    sheet.add(k, "feed", feed, machine.max_feed, "mm/min", f"{said} goes up to {feed_text(machine.max_feed)}.")
    if down > 0:
        steep = f"the path goes down with {feed_text(down)} as typed; the machine allows"
        sheet.add(k, "ramps", down, machine.plunge_feed, "mm/min", f"{steep} {feed_text(machine.plunge_feed)}.")
    needed = (typed / 60) ** 2 / machine.acceleration
    held = 60 * math.sqrt(machine.acceleration * radius) if curvature > 0 else math.inf
    arcs = (
        f"the smallest arc, radius {length_text(radius)}, allows {feed_text(held)}"
        if curvature > 0
        else "the path has no arcs"
    )
    bends = f"{feed_text(typed)} needs radii of {length_text(needed)} at {machine.acceleration:g} mm/s^2; {arcs}."
    sheet.add(k, "radius needed", needed, radius, "mm", f"{bends} {machine.corner_words}")


def _check_forces(sheet: _Sheet, k: int, cut: Cut, forces: Forces, aside: float, strength: float) -> None:
    band = forces.band
    power, side = (max(getattr(f, name) for f in forces.all_passes) for name in ("power", "side"))
    doubt = f"; {band:g} times more may be needed, and that counts"
    limit = cut.machine.spindle_power if cut.machine is not None else None
    said = f"about {power:.0f} W at the edges, mean over a turn{doubt}"
    if limit is None:
        ask = f"{said}; the spindle's power is not known: read its plate, and take half of what it draws."
        sheet.add(k, "spindle power", band * power, math.nan, "W", ask)
    else:
        sheet.add(k, "spindle power", band * power, limit, "W", f"{said}; the spindle delivers {limit:.0f} W.")
    said = f"about {side:.1f} N push the bit aside, mean over a turn{doubt}"
    if math.isnan(forces.stiffness):
        ask = f"{said}; the machine's stiffness is not known: pull the bit sideways, watch an indicator."
        sheet.add(k, "side deflection", math.nan, aside, "mm", ask)
    else:
        give = f"{said}; the machine gives by {length_text(side / forces.stiffness, 3)} at {forces.stiffness:g} N/mm."
        sheet.add(k, "side deflection", band * side / forces.stiffness, aside, "mm", give)
    stress = max(f.tip_stress for f in forces.all_passes)
    if math.isnan(stress):
        ask = "the tip's width is not given, and a perfectly sharp point has infinite stress: measure it with a loupe."
        sheet.add(k, "tip stress", math.nan, strength, "MPa", ask)
    else:
        said = (
            f"about {stress:.0f} MPa in bending, {length_text(forces.tip_height)} above the tip{doubt}; carbide for "
            f"wood breaks at {CARBIDE_STRENGTH:.0f} MPa or more (from memory), with a chipped edge or a blow at less."
        )
        sheet.add(k, "tip stress", band * stress, strength, "MPa", said)


def _owner(job: Carving, move: Travel) -> int:
    """Index of the cut a move belongs to: the one it leads to, after the last cut that one."""
    return min(max(move.before, 0), len(job) - 1)


def _drop(move: Travel) -> float:
    """How far a move goes down if it ends in the wood or is a plunge, else 0. [mm]"""
    drop = move.start[2] - move.end[2]
    return drop if drop > 0 and (move.kind == "plunge" or move.end[2] < -1e-9) else 0.0


def _check_plunges(sheet: _Sheet, job: Carving, typed: float | None) -> None:
    name, planned = "plunge feed", [0] * len(job)
    ask = "no machine is given: look up how fast its downward axis may go."
    for move in job.travel:
        if _drop(move) <= 0:
            continue
        k = _owner(job, move)
        planned[k] += 1
        machine = job.cuts[k].machine
        share = _drop(move) / math.dist(move.start, move.end)
        if machine is None:
            sheet.add(k, name, share * move.feed if move.feed is not None else math.nan, math.nan, "mm/min", ask)
            continue
        feed = _rapid(machine) if move.feed is None else move.feed
        how = "at the rapid feed, no feed is typed" if move.feed is None else "as typed"
        down = f"the tool drops into the wood with {feed_text(share * feed)}, {how}"
        _add_plunge(sheet, k, share * feed, machine, down)
    last: Cut | None = None
    for k, cut in enumerate(job):
        entries = 0
        for one in [*cut.earlier_passes(), cut]:
            entries += _enters(one, last)
            last = one
        if entries == 0 and planned[k] == 0 and cut.machine is not None:
            _add_plunge(sheet, k, 0.0, cut.machine, "the tool enters along the path, no plunge is needed")
        elif entries > planned[k]:
            if cut.machine is None:
                sheet.add(k, name, math.nan if typed is None else typed, math.nan, "mm/min", ask)
            elif typed is None:
                limit = cut.machine.plunge_feed
                look = f"the plan does not say how the tool enters; type no plunge above {feed_text(limit)}."
                sheet.add(k, name, math.nan, limit, "mm/min", look)
            else:
                _add_plunge(sheet, k, typed, cut.machine, f"plunges are typed with {feed_text(typed)}")


def _add_plunge(sheet: _Sheet, k: int, value: float, machine: Machine, said: str) -> None:
    said = f"{said}; the machine allows {feed_text(machine.plunge_feed)}."
    sheet.add(k, "plunge feed", value, machine.plunge_feed, "mm/min", said)


def _enters(cut: Cut, before: Cut | None) -> bool:
    """True if the tool must be let down into the wood: the path starts deep, and not where the last cut ended."""
    start = np.append(cut.path.xy[0], cut.path.depth[0])
    if start[2] <= 1e-9:
        return False
    if before is None:
        return True
    end = float(before.path.length)
    last = np.append(before.path.position(end), before.path.depth_at(end))
    return not bool(np.allclose(start, last, rtol=0, atol=1e-6))


def _check_reached(sheet: _Sheet, job: Carving, share: float) -> None:
    name = "feed not reached"
    driven = [c for c in job if c.machine is not None]
    lacking = len(job) - len(driven)
    if driven:
        length = np.array([c.path.length for c in driven])
        slow, slower = (np.array([c.profile.share_below(x, c.feed) for c in driven]) for x in (0.95, 0.7))
        whole = float(length.sum())
        part, far = 100 * float(slow @ length) / whole, 100 * float(slower @ length) / whole
        never = int((slow >= 1).sum())
        said = (
            f"below 95 % of the typed feed on {part:.0f} % of {length_text(whole, 0)}, below 70 % on {far:.0f} %; "
            f"nowhere reached in {never} of {len(driven)} grooves. Where it is not reached chips are thin and the "
            f"teeth rub: lower the spindle speed rather than raise the feed. {corners_text(c.machine for c in driven)}"
        )
        sheet.add(None, name, part, 100 * share, "%", said)
    if lacking:
        ask = (
            f"no machine is given for {lacking} of {len(job)} grooves: time one run to find its acceleration; without "
            "it the feed is only the typed one."
        )
        sheet.add(None, name, math.nan, 100 * share, "%", ask)


def _check_travel(sheet: _Sheet, job: Carving, safe_height: float | None) -> None:
    boxes = np.array([_extent(c) for c in job])
    low, high = boxes[:, 0].min(axis=0), boxes[:, 1].max(axis=0)
    heights = [z for m in job.travel for z in (m.start[2], m.end[2])]
    heights += [safe_height] if safe_height is not None else []
    top = max([0.0, *heights])
    if job.travel:
        ends = np.array([move.end[:2] for move in job.travel])
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
            said += "" if known else "; the plan does not say how high the moves in air are: give safe_height"
        for room in given:
            where = f"{said}; the axis travels {length_text(room[axis], 0)}. Where the board lies on it is not checked."
            sheet.add(None, name, size[axis], room[axis], "mm", where, known=known)
        if None in rooms:
            sheet.add(None, name, size[axis], math.nan, "mm", f"{said}; the machine's travel is not known: measure it.")


def _extent(cut: Cut) -> FloatArray:
    """(2, 2) lowest and highest x, y of the groove at the face, its width included. [mm]"""
    path = cut.path
    x, y, heading, curvature, length, depth, slope = path.pieces.T
    half = cut.half_width(np.maximum(depth, depth + slope * length))
    start, end = np.column_stack([x, y]), path.position(path.joints[1:])
    low, high = np.minimum(start, end), np.maximum(start, end)
    bent = curvature != 0
    side, radius = np.sign(curvature[bent]), 1 / np.abs(curvature[bent])
    normal = np.column_stack([-np.sin(heading[bent]), np.cos(heading[bent])])
    centre = start[bent] + (side * radius)[:, None] * normal
    first, sweep = heading[bent] - side * np.pi / 2, np.abs(curvature * length)[bent]
    for quarter, (axis, sign) in enumerate([(0, 1), (1, 1), (0, -1), (1, -1)]):
        passes = (side * (quarter * np.pi / 2 - first)) % (2 * np.pi) <= sweep
        reach = np.where(passes, centre[:, axis] + sign * radius, start[bent, axis])
        low[bent, axis] = np.minimum(low[bent, axis], reach)
        high[bent, axis] = np.maximum(high[bent, axis], reach)
    return np.array([(low - half[:, None]).min(axis=0), (high + half[:, None]).max(axis=0)])


# --- time -----------------------------------------------------------------------------------------


@dataclass(frozen=True)
class TimeEstimate:
    """How long a carving runs, made by `time_estimate`; each a triple (low, likely, high). Prints in minutes.

    Parameters
    ----------
    cutting
        In the grooves, earlier passes included. [s]
    air
        Rapids, retracts and moves at feed above the face. [s]
    plunge
        Down into the wood. [s]
    dwell
        Pauses the plan asks for. [s]
    notes
        What is assumed of corners, and what is not counted.
    """

    cutting: tuple[float, float, float]
    air: tuple[float, float, float]
    plunge: tuple[float, float, float]
    dwell: tuple[float, float, float]
    notes: tuple[str, ...] = ()

    @property
    def total(self) -> tuple[float, float, float]:
        """Sum of all four. [s]"""
        low, likely, high = (sum(t) for t in zip(self.cutting, self.air, self.plunge, self.dwell, strict=True))
        return low, likely, high

    def __str__(self) -> str:
        out = [f"{'minutes':<8}{'low':>9}{'likely':>9}{'high':>9}"]
        for name in ("cutting", "air", "plunge", "dwell", "total"):
            out.append(f"{name:<8}" + "".join(f"{t / 60:>9.2f}" for t in getattr(self, name)))
        return "\n".join([*out, *self.notes])


def time_estimate(carving: Carving | Cut, machine: Machine | None = None) -> TimeEstimate:
    """Time a carving takes on a machine, as a band, since machines differ in what they do at corners.

    Parameters
    ----------
    carving
        A `Carving`, or a single `Cut`; earlier passes count.
    machine
        Machine for every cut; None: each cut's own.

    Returns
    -------
    TimeEstimate
        *likely*: each cut from rest to rest by its speed profile; each other move from rest to rest at its feed or
        the rapid feed, a plunge held to the plunge feed (textbook kinematics, from memory). *low*: acceleration
        without limit. *high*: half the acceleration, but not below the 10 mm/s^2 a `Machine` may have, and a stop
        at every corner. A run timed on one's own machine tells where in the band it lies.

    Raises
    ------
    DomainError
        If an argument is of the wrong kind, or a cut has no machine.
    """
    job = _job(carving, machine)
    for k, cut in enumerate(job, 1):
        if cut.machine is None:
            raise DomainError(f"machine must be a Machine, got None, and cut {k} has none of its own")
    cutting, air, plunge, dwell = (np.zeros(3) for _ in range(4))
    for cut in job:
        for c in [*cut.earlier_passes(), cut]:
            own = _machine(c)
            slow = replace(c, machine=_slow(own))
            cutting += [_unhindered(c.path, c.feed, own), c.profile.duration, slow.profile.duration]
    for move in job.travel:
        own = _machine(job.cuts[_owner(job, move)])
        if move.kind == "dwell":
            dwell += move.seconds
        elif move.kind == "plunge":
            plunge += _move_times(move, own)
        else:
            air += _move_times(move, own)
    notes = [corners_text(c.machine for c in job)]
    if not any(move.kind != "dwell" for move in job.travel):
        notes.append("Moves between the grooves and plunges are not planned and not counted.")
    elif any(cut.passes for cut in job):
        notes.append("Moves between the passes of a groove are not planned and not counted.")
    return TimeEstimate(_triple(cutting), _triple(air), _triple(plunge), _triple(dwell), tuple(notes))


def _triple(values: FloatArray) -> tuple[float, float, float]:
    low, likely, high = map(float, values)
    return low, likely, high


def _machine(cut: Cut) -> Machine:
    assert cut.machine is not None  # time_estimate has made sure
    return cut.machine


def _slow(machine: Machine) -> Machine:
    return replace(machine, corners="halt", acceleration=max(machine.acceleration / 2, 10.0))


def _rapid(machine: Machine) -> float:
    return machine.max_feed if machine.rapid_feed is None else machine.rapid_feed


def _unhindered(path: Path, feed: float, machine: Machine) -> float:
    """Time along a path where only the feeds limit: typed, largest in space, downward. [s]"""
    _, _, _, _, length, _, slope = path.pieces.T
    cap = np.minimum(feed, machine.max_feed / np.hypot(1.0, slope))
    down = slope > 0
    cap[down] = np.minimum(cap[down], machine.plunge_feed / slope[down])
    return float((60 * length / cap).sum())


def _move_times(move: Travel, machine: Machine) -> list[float]:
    """Low, likely, high time of a move from rest to rest. [s]"""
    length, drop = math.dist(move.start, move.end), move.start[2] - move.end[2]
    feed = _rapid(machine) if move.feed is None else min(move.feed, machine.max_feed)
    if move.kind == "plunge" and drop > 0:
        feed = min(feed, machine.plunge_feed * length / drop)
    v = feed / 60
    out = [length / v]
    for a in (machine.acceleration, _slow(machine).acceleration):
        out.append(length / v + v / a if v * v <= a * length else 2 * math.sqrt(length / a))
    return out


# --- width ----------------------------------------------------------------------------------------


@dataclass(frozen=True, eq=False)
class WidthCard:
    """Width of a groove against its depth, with what may be wrong with it; made by `width_card`. Prints as a table.

    Attributes
    ----------
    depth, width : (n,) depth as planned, and the width it should give at the face. [mm]
    flatness, zero_error, tip_error, angle_error : (n,) error of the width, either way, from each cause alone. [mm]
    worst : (n,) all causes at their worst together. [mm]
    rss : (n,) root of the sum of squares: what to expect if the causes have nothing to do with one another. [mm]
    sanded : (n,) width after sanding the face. [mm]
    full : (n,) True where the bit's full diameter is reached and the walls stand upright.
    may_vanish : (n,) True where the depth's error can be as large as the depth.
    title : the bit and the errors that went in.
    """

    depth: FloatArray
    width: FloatArray
    flatness: FloatArray
    zero_error: FloatArray
    tip_error: FloatArray
    angle_error: FloatArray
    worst: FloatArray
    rss: FloatArray
    sanded: FloatArray
    full: np.ndarray
    may_vanish: np.ndarray
    title: str

    def __post_init__(self) -> None:
        for name, value in vars(self).items():
            if name != "title":
                frozen(value)

    @property
    def narrowing(self) -> FloatArray:
        """(n,) How much sanding the face narrows the groove. [mm]"""
        return np.asarray(self.width - self.sanded)

    def __str__(self) -> str:
        heads = ("depth", "width", "worst +-", "expected +-", "after sanding")
        out = [self.title, "".join(f"{head:>22}" for head in heads)]
        for k in range(len(self.depth)):
            row = (self.depth[k], self.width[k], self.worst[k], self.rss[k], self.sanded[k])
            mark = ("  *" if self.full[k] else "") + ("  ?" if self.may_vanish[k] else "")
            out.append("".join(f"{length_text(float(x)):>22}" for x in row) + mark)
        if self.full.any():
            out.append("* the bit's full diameter: deeper is not wider, the walls stand upright")
        if self.may_vanish.any():
            out.append("? flatness and zero together are as large as the depth: the groove may vanish")
        return "\n".join(out)


def width_card(
    bit: Cutter,
    depths: ArrayLike,
    *,
    flatness: float = 0.1,
    zero_error: float = 0.05,
    tip_error: float = 0.0,
    angle_error: float = 0.0,
    sanding: float = 0.0,
) -> WidthCard:
    """Width of the groove at each depth, and how exact it will be.

    An error of the depth counts with its worse side: for a cone exactly 2 tan a dz, a half the included angle; for any
    other outline by differences of its radius.

    Parameters
    ----------
    bit
        Any `Cutter`.
    depths
        A depth or (n,) depths, in (0, 200]. [mm]
    flatness
        How far the face lies off the zero plane, either way, in [0, 5]. [mm]
    zero_error
        Error of the zero, either way, in [0, 5]. [mm]
    tip_error
        Error of the tip's width, either way, in [0, 5]; it goes into the groove's width one to one. [mm]
    angle_error
        Error of the *included* angle, either way, in [0, 10]; half of it, da, is that of a wall and widens the groove
        by 2 z sec^2(a) da, to first order. Must be 0 for a bit that is no cone. [deg]
    sanding
        Wood sanded off the face afterwards, in [0, 5]; narrows a cone's groove by 2 tan a x removal. [mm]

    Returns
    -------
    WidthCard

    Raises
    ------
    DomainError
        If an argument is of the wrong kind or out of range.
    """
    as_cutter(bit)
    z = np.atleast_1d(array("depths", depths, low=0, high=200, unit="mm"))
    if z.ndim != 1 or z.size == 0 or (z <= 0).any():
        raise DomainError(f"depths must be a depth or a list of depths in (0, 200] mm, got {_first(z)}")
    flat = number("flatness", flatness, low=0, high=5, unit="mm")
    off = number("zero_error", zero_error, low=0, high=5, unit="mm")
    blunt = number("tip_error", tip_error, low=0, high=5, unit="mm")
    skew = number("angle_error", angle_error, low=0, high=10, unit="deg")
    removal = number("sanding", sanding, low=0, high=5, unit="mm")
    included = cone_angle(bit)
    half = None if included is None else included / 2
    if skew > 0 and half is None:
        raise DomainError(f"angle_error must be 0 deg for a bit without an included angle, got {skew:g}")

    def width(height: FloatArray) -> FloatArray:
        return 2 * np.asarray(bit.radius(np.maximum(height, 0.0)))

    w = width(z)

    def by_depth(dz: float) -> FloatArray:
        return np.maximum(width(z + dz) - w, w - width(z - dz))

    full = w >= bit.diameter * (1 - 1e-12)
    by_tip = np.where(full, 0.0, blunt)
    by_angle = np.zeros(z.size)
    if half is not None:
        by_angle = np.where(full, 0.0, 2 * z / math.cos(math.radians(half)) ** 2 * math.radians(skew / 2))
    shape = (
        f"{2 * half:g} deg bit, {2 * math.tan(math.radians(half)):.2f} mm of width a mm of depth"
        if half
        else "profile bit"
    )
    title = (
        f"{shape}, {length_text(bit.diameter)}; errors: flatness {length_text(flat)}, zero "
        f"{length_text(off)}, tip {length_text(blunt)}, included angle {skew:g} deg; sanding {length_text(removal)}"
    )
    return WidthCard(
        depth=z,
        width=w,
        flatness=by_depth(flat),
        zero_error=by_depth(off),
        tip_error=by_tip,
        angle_error=by_angle,
        # the depth's errors add up before they meet the outline, so that this holds for curved ones too
        worst=by_depth(flat + off) + by_tip + by_angle,
        rss=np.sqrt(by_depth(math.hypot(flat, off)) ** 2 + by_tip**2 + by_angle**2),
        sanded=np.where(z > removal, width(z - removal), 0.0),
        full=full,
        may_vanish=z <= flat + off,
        title=title,
    )


def _first(d: FloatArray) -> str:
    wrong = d[~(d > 0)]
    return f"{wrong.flat[0]:g}" if wrong.size else f"shape {d.shape}"
