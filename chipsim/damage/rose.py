"""One set-up turned through every direction."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Any, ClassVar, NamedTuple

import numpy as np
from numpy.typing import ArrayLike

from .._shared.arrays import FloatArray, array, choice, frozen, instance, integer
from .._shared.arrays import seed as checked_seed
from .._shared.tables import Columns, Result, one_a_side, rows_of
from ..chips.strikes import lip_strikes
from ..errors import DomainError
from ..scene.cuts import Cut
from ..scene.grain import Board, fibre_axis
from ..scene.paths import line
from ..units import folded, table_text
from .bands import damage_of, draws_of, edge_draws
from .mapping import setup_of
from .maps import PRIOR, RISKS, SIDES
from .models import LipModel, checked_model, layer_of, lip_risk_sets, risks_of, thickest
from .orders import Odds, odds_of
from .priors import as_graded
from .scale import RISK_WORDS, class_of

__all__ = ["Rose", "RoseRow", "risk_rose"]

_PRINTED = 24
"""Directions that a report prints."""


class RoseRow(NamedTuple):
    """One direction of a `Rose`, named as there; what is of either lip is (left, right)."""

    heading: float
    fuzz: FloatArray
    tear: FloatArray
    scorch: FloatArray
    damage: FloatArray
    exists: np.ndarray


@dataclass(frozen=True, eq=False)
class Rose(Result):
    """Risks of straight level grooves in every direction, for one set-up. Print it for a table.

    It iterates over its directions, as `RoseRow`; its table has a line for each direction and side.

    Attributes
    ----------
    heading : (n,) direction of travel. [deg]
    fuzz, tear, scorch, damage, exists : (n, 2) by lip, (left, right).
    grain_azimuth : of the fibres where the rose was taken. [deg]
    setup : as in `RiskMap`.
    odds : of the direction with the most damage, mean of both lips, against that which leans the other way; None
        where it leans neither way, no direction is known or no draws were asked for. It is the worse one by `damage`,
        and draws may see it otherwise.
    """

    heading: FloatArray
    fuzz: FloatArray
    tear: FloatArray
    scorch: FloatArray
    damage: FloatArray
    exists: np.ndarray
    grain_azimuth: float
    setup: Mapping[str, Any]
    odds: Odds | None = None

    def __post_init__(self) -> None:
        object.__setattr__(self, "setup", MappingProxyType(dict(self.setup)))

    def __len__(self) -> int:
        return len(self.heading)

    def __iter__(self) -> Iterator[RoseRow]:
        return rows_of(RoseRow, self, RoseRow._fields)

    def __repr__(self) -> str:
        return f"<Rose of {len(self)} directions, fibres along {self.grain_azimuth:g} deg>"

    _axes: ClassVar[tuple[str, ...]] = ("row", "side")
    _drawn_by: ClassVar[str] = "draw_rose"

    def _columns(self) -> Columns:
        risks = {f"{name} [-]": self.values(name) for name in (*RISKS, "damage")}
        return one_a_side({"heading [deg]": self.heading, "exists": self.exists} | risks)

    def ranked(self, count: int = 3, risk: str = "damage") -> tuple[RoseRow, ...]:
        """Directions with the least of a risk, mean of both lips; equal ones in their order, unknown ones left out."""
        n, mean = integer("count", count, low=0, high=1_000_000), self.values(risk).mean(axis=1)
        order = np.argsort(mean.round(9), kind="stable")
        rows = tuple(self)
        return tuple(rows[i] for i in order[np.isfinite(mean[order])][:n])

    def best(self, risk: str = "damage") -> RoseRow | None:
        """Direction with the least of a risk, mean of both lips; None if it is not known of any."""
        return next(iter(self.ranked(1, risk)), None)

    def __str__(self) -> str:
        c = self.setup
        known = [name for name in (*RISKS, "damage") if np.isfinite(self.values(name)).any()]
        rows = [("heading", *(f"{side} {RISK_WORDS[name]}" for side in SIDES for name in known))]
        shown = range(0, len(self), -(-len(self) // _PRINTED) or 1)
        for i in shown:
            cells = (float(self.values(name)[i, k]) for k in range(2) for name in known)
            rows.append((f"{self.heading[i]:.1f} deg", *(f"{v:.3f}" if np.isfinite(v) else "-" for v in cells)))
        wood = f"{c['wood']}, {c['moisture']:g} % moisture, fibres along {self.grain_azimuth:g} deg"
        few = f" {len(shown)} of {len(self)} directions are printed." if len(shown) < len(self) else ""
        lines = [
            *folded(f"{self._answer()} {c.get('learned') or PRIOR}"),
            "",
            *folded(f"Straight grooves: {c['caption']}; {wood}. Risks of either lip, from 0 to 1.{few}"),
            *table_text(rows).splitlines(),
        ]
        return "\n".join(lines)

    def _answer(self) -> str:
        """Worst and best direction, in sentences."""
        order = self.ranked(len(self))
        if not order:
            return "Of these directions nothing is known."
        best, worst = order[0], order[-1]
        text = " and ".join(
            f"{word} at {row.heading:g} deg, with damage {row.damage.mean():.2f} ({class_of(float(row.damage.mean()))})"
            for word, row in (("worst", worst), ("best", best))
        )
        text = f"A straight groove comes out {text}, mean of both lips."
        if self.odds is not None:
            o = self.odds
            text += (
                f" That is worse than leaning the other way, {float(o.other):g} deg, in {o.worse} of {o.draws} draws, "
                f"better in {o.better}, even in {o.even}."
            )
        return text

    def values(self, risk: str) -> FloatArray:
        """(n, 2) array of one risk: 'fuzz', 'tear', 'scorch' or 'damage'."""
        out: FloatArray = getattr(self, choice("risk", risk, (*RISKS, "damage")))
        return out


def risk_rose(
    cut: Cut,
    board: Board,
    *,
    headings: ArrayLike | None = None,
    model: LipModel | None = None,
    draws: int = 50,
    seed: int = 0,
) -> Rose:
    """Turn one set-up through every direction: risks of a straight level groove as deep as the cut's deepest point.

    The strikes do not depend on direction, so they are gathered once (at sixteen places, averaged over the scallops).
    The grain is that at the middle of the cut's path.

    Parameters
    ----------
    cut
        Bit, depth, spindle speed and feed are taken from it.
    board
        Wood and grain.
    headings
        (n,) directions of travel; default every 2.5 degrees. [deg]
    model
        Default `RiskModel()`. A `FittedModel` knows what a test piece has taught.
    draws, seed
        Of the coefficients, as those of `risk_map`: in how many of them the worst direction is worse than the one that
        leans the other way; 0: not asked.

    Examples
    --------
    >>> import chipsim as cs
    >>> cut = cs.Cut(cs.VBit(60, 12.7, 2), cs.ring(5, 1.5), 18_000, 1500)
    >>> board = cs.Board(cs.wood("black cherry"), cs.straight_grain(azimuth=0))
    >>> rose = cs.risk_rose(cut, board, headings=[0, 45, 90])
    >>> rose.values("fuzz").round(3).tolist()
    [[0.013, 0.016], [0.494, 0.49], [0.023, 0.004]]
    """
    instance("cut", cut, Cut, "a Cut")
    instance("board", board, Board, "a Board")
    at = array("headings", np.arange(0.0, 360.0, 2.5) if headings is None else headings, ndim=1, unit="deg")
    chosen = checked_model(model)
    count, start = integer("draws", draws, low=0, high=10_000), checked_seed(seed)
    known = draws_of(chosen, board, count, start) if count else None
    if not cut.path.length:
        raise DomainError("cut must move in the board's face to have a rose, got one that only goes down and up")
    depth = float(cut.path.depth.max())
    width = float(cut.half_width(np.asarray(depth)))
    layer = layer_of(thickest([chosen, *(() if known is None else known.models)]), [cut])
    reach = 2 * width + 6 * cut.feed_per_rev + 2 * layer
    probe = Cut(
        cut.bit,
        line((0, 0), (2 * reach + 1, 0), depth),
        cut.spindle_speed,
        cut.largest_feed,
        spin=cut.spin,
        passes=cut.passes,
    )
    strikes = lip_strikes(probe, pitch=max(cut.feed_per_rev * 0.37, 0.001), bundle=layer)
    rows = np.flatnonzero((strikes.lips.kind == "run") & strikes.lips.exists.all(axis=1))
    if not rows.size:
        raise DomainError(f"cut must be deep enough to leave lips, got a depth of {depth:g} mm")
    middle = rows[max(len(rows) // 2 - 8, 0) : len(rows) // 2 + 8]
    thick = strikes.part(middle)
    some = thick.thinner(layer_of(chosen, [probe]))
    azimuth, dive = board.grain.at(cut.path.position(cut.path.length / 2))
    each = np.full((len(RISKS), at.size, 2), np.nan)
    for i, heading in enumerate(at):
        fibres = np.broadcast_to(fibre_axis(float(azimuth) - heading, float(dive)), (len(some), 2, 3))
        found = risks_of(chosen, some, fibres, probe, board.cut_wood)
        for k, name in enumerate(RISKS):
            if name in found:
                each[k, i] = found[name].mean(axis=0)
    fuzz, tear, scorch = each
    damage = damage_of(fuzz, tear, scorch)
    odds = None
    if known is not None and np.isfinite(damage).any():
        worst = float(at[np.nanargmax(damage.mean(axis=1).round(9))])
        mirrored = (2 * float(azimuth) - worst) % 360
        if abs((worst - mirrored + 90) % 180 - 90) > 1e-6:
            edges = np.minimum(cut.bit.edge_radius * edge_draws(chosen, cut, count, start), 0.5)
            both = []
            for heading in (worst, mirrored):
                fibres = np.broadcast_to(fibre_axis(float(azimuth) - heading, float(dive)), (1, len(thick), 2, 3))
                found = lip_risk_sets(known.models, thick, fibres, probe, board.cut_wood, edges, known.turns)
                parts, _ = as_graded(known, found["fuzz"], found["tear"], found["scorch"], thick.lips.lip_length)
                both.append(parts.mean(axis=(0, 1)))
            odds = odds_of(mirrored, *both)
    return Rose(
        frozen(at),
        frozen(fuzz),
        frozen(tear),
        frozen(scorch),
        frozen(damage),
        frozen(np.ones(fuzz.shape, bool)),
        float(azimuth),
        setup_of([probe], board, chosen),
        odds,
    )
