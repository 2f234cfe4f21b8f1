"""How to lay a design on the grain: its rotation on the board, and its mirror image."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from types import MappingProxyType
from typing import Any

import numpy as np

from .._shared.arrays import FloatArray, choice, integer, number
from .._shared.arrays import seed as checked_seed
from .._shared.tables import Alike, Columns, Result
from ..damage.maps import CLASSES, PRIOR
from ..damage.models import LipModel, checked_model, layer_of
from ..damage.orders import Odds, odds_of
from ..errors import DomainError
from ..scene.cuts import Carving, Cut, as_carving
from ..scene.grain import Board
from ..units import length_text
from .records import drawn_damages, gather
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
    """

    rotation: float
    mirrored: bool
    summary: Summary

    def __repr__(self) -> str:
        return f"<LayoutRow {self.words()}: mean damage {self.damage:.3f}>"

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
    odds : of the best way against the design as drawn, and against the next best; none where they are the same way, or
        no draws were asked for.
    """

    rows: tuple[LayoutRow, ...]
    centre: tuple[float, float]
    span: float
    setup: Mapping[str, Any]
    odds: tuple[Odds, ...] = ()

    def __post_init__(self) -> None:
        object.__setattr__(self, "setup", MappingProxyType(dict(self.setup)))

    def __len__(self) -> int:
        return len(self.rows)

    def __iter__(self) -> Iterator[LayoutRow]:
        return iter(self.rows)

    def __repr__(self) -> str:
        best = self.best()
        return f"<Layout of {len(self)} ways{f', best {best.words()}' if best is not None else ''}>"

    @property
    def as_drawn(self) -> LayoutRow:
        """The design as drawn."""
        return self.rows[0]

    def best(self, risk: str = "damage") -> LayoutRow | None:
        """The way with the least mean of a risk, the first of equal ones; None if it is not known of any."""
        found = self.ranked(1, risk)
        return found[0] if found and np.isfinite(found[0].summary.mean[risk]) else None

    def ranked(self, count: int = 3, risk: str = "damage", *, apart: float = 15.0) -> tuple[LayoutRow, ...]:
        """Ways with the least mean of a risk, each at least `apart` [deg] from the better ones.

        Neighbours are one choice.

        Equal ones (to 1e-9) come in the order of the rows, so that turning for nothing is not advised. Fewer than
        `count` if there are no more so far apart.
        """
        n, name = integer("count", count, low=0, high=100_000), choice("risk", risk, RISKS)
        gap = number("apart", apart, low=0, high=180, unit="deg")
        found: list[LayoutRow] = []
        for row in sorted(self.rows, key=lambda row: round(float(np.nan_to_num(row.summary.mean[name], nan=9.0)), 9)):
            if len(found) < n and all(self._apart(row, other) >= gap for other in found):
                found.append(row)
        return tuple(found)

    def _apart(self, one: LayoutRow, two: LayoutRow) -> float:
        if one.mirrored != two.mirrored:
            return 180.0
        turn = abs(one.rotation - two.rotation) % self.span
        return min(turn, self.span - turn)

    def __str__(self) -> str:
        c = self.setup
        x, y = self.centre
        unknown = any(row.summary.lengths["damage"]["not known"] > 0 for row in self.rows)
        classes = [*CLASSES, "not known"] if unknown else [*CLASSES]
        lines = [
            f"Layout on the grain: {c['wood']}, grain {c['grain']}; {len(self)} ways to lay it, turned about "
            f"({x:.1f}, {y:.1f}) mm; mm of lip by class of damage",
            f"{'':26}{'damage':>8}{'worst':>7}" + "".join(f"{name:>15}" for name in classes),
        ]
        for row in (self.as_drawn, *self.ranked()):
            lengths = row.summary.lengths["damage"]
            cells = "".join(f"{lengths[name]:15.1f}" for name in classes)
            mean, worst = f"{row.damage:.3f}", f"{row.summary.worst['damage']:.2f}"
            if np.isnan(row.damage):
                mean = worst = "-"
            lines.append(f"{row.words():26}{mean:>8}{worst:>7}{cells}")
        lines[3:3] = ["best:"]
        first = self.ranked(1)[0]
        best, drawn = first.summary.poor(), self.as_drawn.summary.poor()
        if np.isnan(first.damage):
            lines.append("The model knows nothing of these lips: no way to lay the design can be preferred.")
        elif first is self.as_drawn:
            lines.append("The design is best left as it is drawn.")
        else:
            lines.append(
                f"{length_text(drawn, 1)} of lip need sanding or re-cutting as drawn, "
                f"{length_text(best, 1)} as laid best."
            )
        lines += [f"{first.words()} against {o.other.words()}: {o}." for o in self.odds]
        if unknown:
            lines.append("Means are over the lips that are known: a way with more lip not known may only look better.")
        return "\n".join([*lines, str(self.setup.get("learned") or PRIOR)])

    def _columns(self) -> Columns:
        rows = [row.summary.cells() for row in self.rows]
        return {
            "rotation [deg]": [row.rotation for row in self.rows],
            "mirrored": [row.mirrored for row in self.rows],
            **dict(zip(Summary.headings(), map(list, zip(*rows, strict=True)), strict=True)),
        }


def best_layout(
    carving: Carving | Cut,
    board: Board,
    *,
    step: float = 5.0,
    span: float = 180.0,
    mirrored: bool = False,
    model: LipModel | None = None,
    pitch: float = 0.25,
    draws: int = 50,
    seed: int = 0,
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
        True tries the artwork mirrored left for right as well, cut with the same spindle; costs a second map.
    model
        Default `RiskModel()`.
    pitch
        Spacing of the stations. [mm]
    draws, seed
        Of the coefficients, as those of `risk_map`: in how many of them the best way is the better one; 0: not asked.

    Returns
    -------
    Layout
        Design turned counter-clockwise about the middle of the box round its grooves.

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
    >>> [row.rotation for row in layout.ranked(2)]
    [150.0, 0.0]
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
    count, start = integer("draws", draws, low=0, high=10_000), checked_seed(seed)
    centre = centre_of(job)
    angles = by * np.arange(np.ceil(span / by - 1e-9))
    rows: list[LayoutRow] = []
    setup: dict[str, Any] = {}
    for flipped in (False, True) if mirrored else (False,):
        design = mirrored_carving(job, centre) if flipped else job
        record = gather(design, pitch=pitch, bundle=layer_of(chosen, design))
        setup = setup or record.setup(board, chosen)
        for angle, summary in zip(angles.tolist(), record.turned(board, chosen, angles.tolist(), centre), strict=True):
            rows.append(LayoutRow(angle, flipped, summary))
    found = Layout(tuple(rows), centre, float(span), setup)
    return replace(found, odds=_odds(found, job, board, chosen, count, start))


def _odds(found: Layout, job: Carving, board: Board, model: LipModel, draws: int, seed: int) -> tuple[Odds, ...]:
    best = found.best()
    if best is None or not draws:
        return ()
    rivals: list[LayoutRow] = []
    for row in (found.as_drawn, *found.ranked(2)[1:]):
        if row is not best and row not in rivals:
            rivals.append(row)
    damage: dict[int, FloatArray] = {}
    for flipped in {row.mirrored for row in (best, *rivals)}:
        ways = [row for row in (best, *rivals) if row.mirrored == flipped]
        design = mirrored_carving(job, found.centre) if flipped else job
        boards = [turned_board(board, row.rotation, found.centre) for row in ways]
        for row, each in zip(ways, drawn_damages(design, boards, model, draws, seed), strict=False):
            damage[id(row)] = each
    return tuple(odds_of(row, damage[id(best)], damage[id(row)]) for row in rivals if damage)
