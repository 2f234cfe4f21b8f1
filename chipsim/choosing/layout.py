"""How to lay a design on the grain: its rotation on the board, and its mirror image."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from types import MappingProxyType
from typing import Any

import numpy as np

from .._shared.arrays import choice, integer, number
from .._shared.arrays import seed as checked_seed
from .._shared.tables import Alike, Columns, Result
from .._shared.words import CAUTION
from ..damage.handwork import HandWork, Minutes, board_minutes, checked_handwork, minutes_of
from ..damage.maps import CLASSES, PRIOR, RiskMap
from ..damage.models import LipModel, checked_model, layer_of
from ..errors import DomainError
from ..scene.cuts import Carving, Cut, as_carving
from ..scene.grain import Board
from ..units import folded
from .boards import TOLERANCE, lengths_on, possible_boards
from .comparing import against
from .records import StrikeRecord, gather
from .summaries import RISKS, Summary
from .variants import centre_of, mirrored_carving, turned_board

__all__ = ["Layout", "LayoutRow", "best_layout"]


@dataclass(frozen=True, eq=False)
class LayoutRow(Alike):
    """One way to lay the design.

    Attributes
    ----------
    rotation : counter-clockwise, after mirroring. [deg]
    mirrored : whether the artwork is mirrored left for right.
    summary : `Summary` of its map.
    minutes : expected by hand at the coefficients as they are. [min]
    """

    rotation: float
    mirrored: bool
    summary: Summary
    minutes: float = float("nan")

    def __repr__(self) -> str:
        return f"<LayoutRow {self.words()}: mean damage {self.damage:.3f}, {self.minutes:.1f} min by hand>"

    def value(self, risk: str) -> float:
        """Minutes expected by hand, or the mean of a risk, by name. [min or -]"""
        return self.minutes if risk == "minutes" else self.summary.mean[risk]

    @property
    def damage(self) -> float:
        """Mean damage over the lips. [-]"""
        return self.summary.mean["damage"]

    def words(self) -> str:
        """In words."""
        mirror = "mirrored, " if self.mirrored else ""
        return "as drawn" if self.rotation == 0 and not self.mirrored else f"{mirror}turned {self.rotation:g} deg"


@dataclass(frozen=True, eq=False)
class Layout(Result):
    """Every way to lay a design that was tried, made by `best_layout`. Print it for the table of the best.

    It iterates over the ways.

    Attributes
    ----------
    rows : of rotation, the design as drawn first, then those of the mirrored artwork if wanted.
    centre : point about which the design is turned and mirrored. [mm]
    span : 180 or 360. [deg]
    setup : as in `RiskMap`.
    tried : ways that were tried on possible boards, the design as drawn first.
    hand : `Minutes` of each of them.
    draws : possible boards; 0: the coefficients as they are.
    half_turn : whether half a turn of the design changes nothing, as where the grain is straight and does not dive.
    maps : `RiskMap` of the design as drawn, and of the best way if that is another, as they lie on the board.
    """

    rows: tuple[LayoutRow, ...]
    centre: tuple[float, float]
    span: float
    setup: Mapping[str, Any]
    tried: tuple[LayoutRow, ...]
    hand: tuple[Minutes, ...]
    draws: int
    half_turn: bool = False
    maps: tuple[RiskMap, ...] = ()

    def __post_init__(self) -> None:
        object.__setattr__(self, "setup", MappingProxyType(dict(self.setup)))

    def __len__(self) -> int:
        return len(self.rows)

    def __iter__(self) -> Iterator[LayoutRow]:
        return iter(self.rows)

    def __repr__(self) -> str:
        best = self.best()
        return f"<Layout of {len(self)} ways{f', best {best.words()}' if best is not None else ''}>"

    def turn(self, row: LayoutRow) -> float:
        """The shortest turn that lays the design this way, counter-clockwise above 0. [deg]

        Where half a turn changes nothing it may leave the design upside down against its row.
        """
        turn = 180.0 if self.half_turn else 360.0
        return row.rotation - turn if row.rotation > turn / 2 else row.rotation

    @property
    def as_drawn(self) -> LayoutRow:
        """The design as drawn."""
        return self.rows[0]

    def best(self, risk: str = "minutes") -> LayoutRow | None:
        """The way with the fewest minutes of those tried on possible boards, or with the least mean of a risk.

        As drawn if turning saves no more than is known; the first of equal ones; None if it is not known of any.
        """
        name = choice("risk", risk, ("minutes", *RISKS))
        if name != "minutes":
            found = self.ranked(1, name)
            return found[0] if found and np.isfinite(found[0].value(name)) else None
        if not np.isfinite([row.damage for row in self.rows]).any():
            return None
        mean = [hand.expected for hand in self.hand]
        place = int(np.argmin(np.round(mean, 9)))
        apart = self.hand[0].boards - self.hand[place].boards
        error = 0.0 if not self.draws else float(apart.std(ddof=1) / np.sqrt(len(apart)))
        drawn = float(apart.mean()) <= max(2 * error, TOLERANCE * mean[0]) and np.isfinite(self.as_drawn.damage)
        return self.as_drawn if drawn else self.tried[place]

    def ranked(self, count: int = 3, risk: str = "minutes", *, apart: float = 15.0) -> tuple[LayoutRow, ...]:
        """Ways with the fewest minutes by hand, or the least mean of a risk, at the coefficients as they are.

        Each is at least `apart` [deg] from the better ones: neighbours are one choice. Equal ones (to 1e-9) come in the
        order of the rows, so that turning for nothing is not advised. Fewer than `count` if there are no more so far
        apart.
        """
        n, name = integer("count", count, low=0, high=100_000), choice("risk", risk, ("minutes", *RISKS))
        gap = number("apart", apart, low=0, high=180, unit="deg")
        return _ranked(self.rows, n, name, gap, self.span)

    @property
    def verdict(self) -> str:
        """What wins, by how many minutes, and whether that is more than is known."""
        best = self.best()
        if best is None:
            return "The model knows nothing of these lips: no way to lay the design can be preferred."
        drawn = self.hand[0].expected
        others = [k for k in range(1, len(self.tried))]
        if best is self.as_drawn:
            text = f"The design is best left as it is drawn: {drawn:.1f} min of hand work are expected."
            if others:
                k = min(others, key=lambda k: self.hand[k].expected)
                name, rival = f"{self.tried[k].words()}, the way that comes next,", self.hand[k].boards
                if rival.mean() >= self.hand[0].boards.mean():
                    return f"{text} {against('', self.hand[0].boards, name.rstrip(','), rival, exact=not self.draws)}"
                saved = drawn - self.hand[k].expected
                way = self.tried[k].words().capitalize()
                text += f" {way} it would take {saved:.1f} min less, no more than chance explains."
            return text
        k = next(k for k in others if self.tried[k] is best)
        told = against("", self.hand[k].boards, "as drawn", self.hand[0].boards, exact=not self.draws)
        turn = self.turn(best)
        short = f" ({-turn:g} deg clockwise comes to the same)" if turn < 0 else ""
        return (
            f"{best.words().capitalize()}{short} the design takes {self.hand[k].expected:.1f} min of hand work. {told} "
            f"The machine takes as long either way."
        )

    def __str__(self) -> str:
        c = self.setup
        x, y = self.centre
        unknown = any(row.summary.lengths["damage"]["not known"] > 0 for row in self.rows)
        classes = [*CLASSES, "not known"] if unknown else [*CLASSES]
        wood = str(c["wood"])
        boards = f"over {self.draws} possible boards" if self.draws else "at the coefficients as they are"
        lines = folded(f"{self.verdict} {c.get('learned') or PRIOR}")
        lines += [
            "",
            *folded(
                f"{wood[:1].upper()}{wood[1:]}, grain {c['grain']}. {len(self)} ways to lay the design were tried; it "
                f"is turned counter-clockwise about x {x:.1f}, y {y:.1f} mm. The numbers are minutes by hand, expected "
                f"{boards}, the damage at the coefficients as they are, and the mm of lip in each step."
            ),
            f"{'':26}{'by hand':>9}{'damage':>8}{'worst':>7}" + "".join(f"{name:>15}" for name in classes),
        ]
        order = sorted(range(1, len(self.tried)), key=lambda k: round(self.hand[k].expected, 9))
        for k in (0, *order):
            row, lengths = self.tried[k], self.tried[k].summary.lengths["damage"]
            cells = "".join(f"{lengths[name]:15.1f}" for name in classes)
            mean, worst = f"{row.damage:.3f}", f"{row.summary.worst['damage']:.2f}"
            if np.isnan(row.damage):
                mean = worst = "-"
            lines.append(f"{row.words():26}{self.hand[k].expected:9.1f}{mean:>8}{worst:>7}{cells}")
        if unknown:
            lines += folded(
                "Means are over the lips that are known: a way with more lip not known may only look better."
            )
        lines += ["", *folded(self.hand[0].handwork.words), *folded(CAUTION)]
        return "\n".join(lines)

    def _columns(self) -> Columns:
        rows = [row.summary.cells() for row in self.rows]
        return {
            "rotation [deg]": [row.rotation for row in self.rows],
            "mirrored": [row.mirrored for row in self.rows],
            "by hand expected [min]": [row.minutes for row in self.rows],
            **dict(zip(Summary.headings(), map(list, zip(*rows, strict=True)), strict=True)),
        }


def best_layout(
    carving: Carving | Cut,
    board: Board,
    *,
    step: float = 5.0,
    span: float = 180.0,
    mirrored: bool = False,
    handwork: HandWork | None = None,
    draws: int = 128,
    seed: int = 0,
    model: LipModel | None = None,
    pitch: float = 0.25,
) -> Layout:
    """Turn a design on its board and see how the lips fare.

    The teeth are followed once: strikes do not change when a design is turned as a whole, since a `Machine` has the
    same acceleration in every direction. Only the fibres at the lips do; in a curved grain they are those under the
    turned lips.

    Parameters
    ----------
    carving
        A `Carving`, or a single `Cut`.
    board
        Wood and grain; it lies still.
    step
        Between rotations, in [0.1, 180]. [deg]
    span
        180 or 360: rotations from 0 up to but not including it. Half a turn says all if the grain is straight and
        does not dive; if it dives or curves, 360 says more. [deg]
    mirrored
        True tries the artwork mirrored left for right as well, cut with the same spindle: no choice for lettering.
        Costs a second map.
    handwork
        What damage costs by hand; None: `HandWork()`, which is assumed.
    draws
        Number of possible boards on which the best ways are held against the design as drawn, 0 to 100000; 0: the
        coefficients as they are.
    seed
        Of the draws, 0 to 2**63 - 1.
    model
        Default `RiskModel()`.
    pitch
        Spacing of the stations. [mm]

    Returns
    -------
    Layout
        Design turned counter-clockwise about the middle of the box round its grooves. Its last sentence says what
        wins, by how many minutes, and whether that is more than is known.

    Raises
    ------
    DomainError
        If an argument is of the wrong kind or out of range.

    Examples
    --------
    >>> import chipsim as cs
    >>> cut = cs.Cut(cs.VBit(60, 12.7, 2), cs.oval(20, 8, 1.5), 18_000, 1500)
    >>> board = cs.Board(cs.wood("black cherry"), cs.straight_grain(azimuth=0))
    >>> layout = cs.best_layout(cut, board, step=30, pitch=1.0)
    >>> sorted(row.rotation for row in layout.ranked(2))
    [0.0, 150.0]
    """
    job = as_carving(carving)
    if not isinstance(board, Board):
        raise DomainError(f"board must be a Board, got {type(board).__name__}")
    by = number("step", step, low=0.1, high=180, unit="deg")
    if span not in (180, 360):
        raise DomainError(f"span must be 180 or 360 deg, got {span!r}")
    if not isinstance(mirrored, bool):
        raise DomainError(f"mirrored must be True or False, got {mirrored!r}")
    chosen = checked_model(model)
    centre = centre_of(job)
    angles = by * np.arange(np.ceil(span / by - 1e-9))
    rates = checked_handwork(handwork)
    count, start = integer("draws", draws, low=0, high=100_000), checked_seed(seed)
    rows: list[LayoutRow] = []
    records: dict[bool, StrikeRecord] = {}
    designs = {flipped: mirrored_carving(job, centre) if flipped else job for flipped in (False, mirrored)}
    for flipped, design in designs.items():
        record = records[flipped] = gather(design, pitch=pitch, bundle=layer_of(chosen, design))
        summaries, graded = record.turned(board, chosen, angles.tolist(), centre)
        expected = board_minutes(graded.reshape(-1, 5, 5, 5), rates).reshape(len(angles), -1).mean(axis=1).tolist()
        found = zip(angles.tolist(), summaries, expected, strict=True)
        rows += [LayoutRow(angle, flipped, each, minutes) for angle, each, minutes in found]
    tried = [rows[0], *(row for row in _ranked(rows, _TRIED, "minutes", 15.0, float(span)) if row is not rows[0])]
    dials = [c.machine.dial.uncertainty for c in job if c.machine and c.machine.dial]
    boards = possible_boards(chosen, board, max(dials, default=0.0), count, start) if count else None
    kept: dict[bool, dict[int, StrikeRecord]] = {flipped: {} for flipped in designs}
    hand = []
    for row in tried:
        lies, design = turned_board(board, row.rotation, centre), designs[row.mirrored]
        hand.append(minutes_of(lengths_on(design, lies, chosen, boards, kept[row.mirrored]), rates))
    setup = records[False].setup(board, chosen)
    level = board.grain.is_straight and not board.grain.at(np.array([centre]))[1].any()
    layout = Layout(tuple(rows), centre, float(span), setup, tuple(tried), tuple(hand), count, span == 180 and level)
    best = layout.best()
    shown = [rows[0]] if best is None or best is rows[0] else [rows[0], best]
    maps = []
    for row in shown:
        risk = records[row.mirrored].map(turned_board(board, row.rotation, centre), chosen)
        maps.append(_laid(risk, layout.turn(row), board.grain.label, centre))
    return replace(layout, maps=tuple(maps))


def _laid(risk: RiskMap, degrees: float, label: str, centre: tuple[float, float]) -> RiskMap:
    """Map of a design whose board was turned under it, turned back with its board."""
    if degrees == 0:
        return risk
    c, s = np.cos(np.radians(degrees)), np.sin(np.radians(degrees))
    back = np.array([[c, s], [-s, c]])
    middle = np.array(centre)
    return replace(
        risk,
        xy=(risk.xy - middle) @ back + middle,
        lip_xy=(risk.lip_xy - middle) @ back + middle,
        heading=(risk.heading + degrees + 180.0) % 360.0 - 180.0,
        fibre_azimuth=risk.fibre_azimuth + degrees,
        setup={**risk.setup, "grain": label},
    )


_TRIED = 3
"""Ways that are tried on possible boards beside the design as drawn."""


def _ranked(rows: Sequence[LayoutRow], count: int, risk: str, apart: float, span: float) -> tuple[LayoutRow, ...]:
    """The best ways by one figure, each far enough from the better ones."""
    found: list[LayoutRow] = []
    unknown = 1e9
    for row in sorted(rows, key=lambda row: round(float(np.nan_to_num(_figure(row, risk), nan=unknown)), 9)):
        if len(found) < count and all(_apart(row, other, span) >= apart for other in found):
            found.append(row)
    return tuple(found)


def _figure(row: LayoutRow, risk: str) -> float:
    # of lips of which nothing is known the minutes are 0
    return row.value(risk) if np.isfinite(row.damage) else float("nan")


def _apart(one: LayoutRow, two: LayoutRow, span: float) -> float:
    if one.mirrored != two.mirrored:
        return 180.0
    turn = abs(one.rotation - two.rotation) % span
    return min(turn, span - turn)
