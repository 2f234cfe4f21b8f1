"""A carving under other settings: another bit, speed, feed, passes, another way to lie on the board."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from typing import Any, TypeVar

import numpy as np

from .._shared.arrays import FloatArray, choice, number
from ..chips.lips import bent_at_knees
from ..errors import DomainError
from ..limits.job import extent_of
from ..scene.cuts import AirMove, Carving, Cut, Pass, as_carving
from ..scene.cutters import Cutter, bit_words, must_be_a_cutter, profile_knots
from ..scene.grain import Board
from ..scene.machine import Machine
from ..units import feed_text, length_text

__all__ = ["Setting", "bit_text", "centre_of", "dial_text", "turned_board", "turned_carving", "with_bit"]

Job = TypeVar("Job", Cut, Carving)
KEEP = ("width", "depth")


@dataclass(frozen=True)
class Setting:
    """What a user can choose; None leaves what every cut of the carving has. Made by `sweep` and `recommend`.

    Parameters
    ----------
    spindle_speed
        [rpm]
    feed
        Typed feed. [mm/min]
    bit
        Any `Cutter`.
    passes
        Earlier passes, as for `Cut`; () is a single pass.
    rotation
        Of the design on the board, counter-clockwise about the middle of its box. [deg]
    name
        Of the bit, for reports; '' makes one from its measures.

    Raises
    ------
    DomainError
        If a value is of the wrong kind; its range is seen to by the `Cut` it goes into.

    Examples
    --------
    >>> import chipsim as cs
    >>> cut = cs.Cut(cs.VBit(60, 12.7, 2), cs.ring(5, 1.5), 18_000, 1500)
    >>> board = cs.Board(cs.wood("black cherry"), cs.straight_grain(azimuth=0))
    >>> ways = [cs.Setting(feed=900), cs.Setting(feed=1800, passes=(0.3,))]
    >>> len(cs.sweep(cut, board, ways, pitch=1.0, workers=1))
    2
    """

    spindle_speed: float | None = None
    feed: float | None = None
    bit: Cutter | None = None
    passes: tuple[Pass | float, ...] | None = None
    rotation: float = 0.0
    name: str = field(default="", compare=False)

    def __post_init__(self) -> None:
        put = object.__setattr__
        for key in ("spindle_speed", "feed"):
            if getattr(self, key) is not None:
                unit = "rpm" if key == "spindle_speed" else "mm/min"
                put(self, key, number(key, getattr(self, key), unit=unit))
        if self.bit is not None:
            must_be_a_cutter(self.bit)
        if self.passes is not None:
            put(self, "passes", _passes(self.passes))
        put(self, "rotation", number("rotation", self.rotation, low=-1e6, high=1e6, unit="deg"))
        if not isinstance(self.name, str):
            raise DomainError(f"name must be text, got {self.name!r}")
        if self.bit is not None and not self.name:
            put(self, "name", bit_text(self.bit))

    def applied(self, carving: Carving, keep: str = "width") -> Carving:
        """Carving cut with these settings, not turned; `keep` as for `with_bit`.

        Raises
        ------
        DomainError
            If a cut cannot be made so.
        """
        carving = as_carving(carving)
        change: dict[str, Any] = {}
        if self.spindle_speed is not None:
            change["spindle_speed"] = self.spindle_speed
        if self.feed is not None:
            change["feed"] = self.feed
        if self.passes is not None:
            change["passes"] = self.passes
        if self.bit is not None:
            return _refitted(carving, self.bit, keep, change)
        cuts = tuple(replace(cut, **change) for cut in carving)
        return replace(carving, cuts=cuts) if change else carving

    def words(self, machine: Machine | None = None) -> str:
        """One line for reports, with the dial's position if the machine has a dial."""
        parts = [self.name] if self.name else []
        if self.spindle_speed is not None:
            parts.append(f"{self.spindle_speed:.0f} rpm{dial_text(self.spindle_speed, machine)}")
        if self.feed is not None:
            parts.append(feed_text(self.feed))
        if self.passes is not None:
            parts.append(passes_text(self.passes))
        if self.rotation:
            parts.append(f"turned {self.rotation:g} deg")
        return ", ".join(parts) or "as planned"


def _passes(value: object) -> tuple[Pass | float, ...]:
    if isinstance(value, Pass) or (isinstance(value, (int, float)) and not isinstance(value, bool)):
        value = (value,)
    if not isinstance(value, Sequence) or isinstance(value, str):
        raise DomainError(f"passes must be numbers [mm] or Pass, one or a sequence of them, got {value!r}")
    return tuple(
        p if isinstance(p, Pass) else number("passes", p, low=0, high=50, open_low=True, unit="mm") for p in value
    )


def passes_text(passes: Sequence[Pass | float]) -> str:
    """Earlier passes in words."""
    if not passes:
        return "one pass"
    left = [p if isinstance(p, Pass) else Pass(p) for p in passes]
    return "passes that leave " + " and ".join(
        f"{p.leave:g} mm{' reversed' if p.reversed else ''}{f' at {p.feed:g} mm/min' if p.feed else ''}" for p in left
    )


def bit_text(bit: Cutter) -> str:
    """A bit in a few words."""
    # one comma less than in a caption: this stands in lists
    return bit_words(bit).replace(", ", " ", 1)


def dial_text(speed: float, machine: Machine | None) -> str:
    """' (dial 3.5)' for a spindle speed [rpm], '' without a dial or beyond its readings."""
    if machine is None or machine.dial is None:
        return ""
    if not min(machine.dial.speeds) <= speed <= max(machine.dial.speeds):
        return ""
    return f" (dial {machine.dial.position(speed):.3g})"


def with_bit(carving: Job, bit: Cutter, *, keep: str = "width") -> Job:
    """Cut the same grooves with another bit.

    Parameters
    ----------
    carving
        A `Carving`, or a single `Cut`.
    bit
        For every cut; any `Cutter`.
    keep
        'width': every groove keeps its width at the face, and so is as deep as this bit needs for it, at every
        vertex and at the bends of the old bit's outline; where a groove is narrower than the new tip, the tip just
        touches. 'depth': the tip runs as planned.

    Returns
    -------
    Carving or Cut
        As given; plunges and retracts end at the new depths.

    Raises
    ------
    DomainError
        If an argument is of the wrong kind, or the bit cannot cut the width, the depth or run at the speed.

    Examples
    --------
    >>> import chipsim as cs
    >>> cut = cs.Cut(cs.VBit(60, 12.7, 2), cs.ring(5, 1.5), 18_000, 1500)
    >>> wide = cs.with_bit(cut, cs.VBit(90, 12.7, 2))
    >>> f"{wide.path.depth[0]:.3f} mm deep for the same width"
    '0.866 mm deep for the same width'
    """
    job = as_carving(carving)
    must_be_a_cutter(bit)
    new = _refitted(job, bit, choice("keep", keep, KEEP), {})
    return new if isinstance(carving, Carving) else new.cuts[0]  # type: ignore[return-value]


def _refitted(carving: Carving, bit: Cutter, keep: str, change: dict[str, Any]) -> Carving:
    cuts, wanted = [], choice("keep", keep, KEEP)
    for cut in carving:
        path, feed = cut.path, cut.feed
        if wanted == "width" and bit != cut.bit:
            bent = bent_at_knees(cut)
            path, feed = replace(bent.path, depth=_depths(cut, bit, bent.path.depth)), bent.feed
        # all at once: the new bit may not stand the old speed
        cuts.append(replace(cut, bit=bit, path=path, **({"passes": cut.passes, "feed": feed} | change)))
    air_moves = carving.air_moves
    if wanted == "width":
        air_moves = tuple(
            _moved(move, carving.cuts[min(max(move.before, 0), len(cuts) - 1)], bit) for move in air_moves
        )
    return replace(carving, cuts=tuple(cuts), air_moves=air_moves)


def _moved(move: AirMove, cut: Cut, bit: Cutter) -> AirMove:
    """A move whose ends below the face stand at the new depths."""
    if bit == cut.bit:
        return move
    start, end = ((x, y, -float(_depths(cut, bit, np.array(-z))) if z < 0 else z) for x, y, z in (move.start, move.end))
    return replace(move, start=start, end=end)


def _depths(cut: Cut, bit: Cutter, depth: FloatArray) -> FloatArray:
    """Depths at which `bit` cuts as wide as the cut's own bit does at `depth`."""
    width = 2 * cut.half_width(depth)
    heights, radii = _outline(bit, float(width.max()))
    if (width > 2 * radii[-1] * (1 + 1e-12)).any():
        raise DomainError(
            f"bit must be as wide as the grooves, at least {length_text(float(width.max()))}, got "
            f"{length_text(float(2 * radii[-1]))}"
        )
    # the lowest height at which the radius is reached
    rising = np.append(True, np.diff(radii) > 0)
    return np.asarray(np.where(width > 0, np.interp(width / 2, radii[rising], heights[rising]), 0.0))


_DEEPEST = 200.0
"""Depth of a path at most. [mm]"""


def _outline(bit: Cutter, width: float) -> tuple[FloatArray, FloatArray]:
    """Outline of a bit, up to where it is as wide as asked for, if it ever is; see `profile_knots`. [mm]"""
    top = 0.1
    heights, radii = profile_knots(bit, top)
    while not hasattr(bit, "knots") and 2 * radii[-1] < width and top < _DEEPEST:
        top = min(2 * top, _DEEPEST)  # sampled no coarser than the depth that is needed asks for
        heights, radii = profile_knots(bit, top)
    return heights, radii


def centre_of(carving: Carving) -> tuple[float, float]:
    """Middle of the box round all grooves at the face, about which a design is turned. [mm]"""
    boxes = np.array([extent_of(cut) for cut in carving])
    x, y = (boxes[:, 0].min(axis=0) + boxes[:, 1].max(axis=0)) / 2
    return float(x), float(y)


def turned_carving(carving: Carving, degrees: float, centre: tuple[float, float] | None = None) -> Carving:
    """Carving turned counter-clockwise about a point, the middle of its box if None, phases included."""
    x, y = centre_of(carving) if centre is None else centre
    return carving.shifted(-x, -y).rotated(degrees).shifted(x, y)


def turned_board(board: Board, degrees: float, centre: tuple[float, float]) -> Board:
    """Board as a design sees it that has been turned by `degrees` on it about a point: its grain turned the other way.

    Strikes do not change when a design is turned: no machine here has an acceleration of its own for each axis. So a
    design is turned on the board by turning the fibres under it.
    """
    turn = math.remainder(degrees, 360.0)
    if turn == 0:
        return board
    label = f"{board.grain.label}, design turned {degrees:g} deg on it"
    return replace(board, grain=board.grain.turned_about(centre, -turn, label), extent=None)


def mirrored_carving(carving: Carving, centre: tuple[float, float]) -> Carving:
    """Carving mirrored left for right about an upright line through a point; the spindle turns as before."""
    image = carving.mirrored().rotated(180).shifted(2 * centre[0], 0)
    return replace(image, cuts=tuple(replace(i, phase=c.phase) for i, c in zip(image, carving, strict=True)))
