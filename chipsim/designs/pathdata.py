"""SVG path data: the language of the attribute `d`, as figures.

The grammar is that of SVG 1.1 (8.3.9) and SVG 2 (9.3.9), the geometry of arcs that of the implementation notes of
SVG 1.1 (F.6), all from memory.
"""

from __future__ import annotations

import re

import numpy as np

from .._shared.arrays import FloatArray
from ..errors import DomainError
from .strokes import Bezier, EllipticArc, Figure, Stroke, chained

__all__ = ["LARGEST", "NUMBER", "arc_between", "figures_of", "refusal"]

LARGEST = 1e9
"""No number of a drawing is larger: the largest board is 100 m."""

_SPACE = re.compile(r"[\t\n\f\r ]*")
_BETWEEN = re.compile(r"[\t\n\f\r ]*,?[\t\n\f\r ]*")
NUMBER = r"[+-]?(?:[0-9]+\.?[0-9]*|\.[0-9]+)(?:[eE][+-]?[0-9]+)?"
"""A number as SVG writes it, as a regular expression."""

_NUMBER = re.compile(NUMBER)
_TAKES = {"M": 2, "Z": 0, "L": 2, "H": 1, "V": 1, "C": 6, "S": 4, "Q": 4, "T": 2, "A": 7}


def refusal(name: str, data: str, at: int, words: str) -> DomainError:
    """An error that shows the place."""
    near = data[max(0, at - 12) : at + 12]
    return DomainError(f"{name} must be SVG path data: {words} at character {at + 1}, near {near!r}")


class _Scanner:
    """Reads commands and numbers one after the other."""

    def __init__(self, data: str, name: str) -> None:
        self.data, self.name, self.at = data, name, _SPACE.match(data).end()  # type: ignore[union-attr]

    def refuse(self, words: str) -> DomainError:
        return refusal(self.name, self.data, self.at, words)

    @property
    def done(self) -> bool:
        return self.at >= len(self.data)

    def _skip(self, pattern: re.Pattern[str]) -> None:
        self.at = pattern.match(self.data, self.at).end()  # type: ignore[union-attr]

    def command(self) -> str:
        letter = self.data[self.at]
        if letter.upper() not in _TAKES:
            raise self.refuse("a command is expected")
        self.at += 1
        self._skip(_SPACE)
        return letter

    def number(self) -> float:
        found = _NUMBER.match(self.data, self.at)
        if found is None:
            raise self.refuse("a number is expected")
        value = float(found[0])
        if not abs(value) <= LARGEST:
            raise self.refuse(f"a number up to {LARGEST:g} is expected")
        self.at = found.end()
        return value

    def flag(self) -> float:
        if self.data[self.at : self.at + 1] not in ("0", "1"):
            raise self.refuse("a flag, 0 or 1, is expected")
        self.at += 1
        return float(self.data[self.at - 1])

    def arguments(self, letter: str) -> list[float]:
        """One set of what the command takes."""
        out: list[float] = []
        for k in range(_TAKES[letter.upper()]):
            if k:
                self._skip(_BETWEEN)
            out.append(self.flag() if letter in "Aa" and k in (3, 4) else self.number())
        return out

    def another(self) -> bool:
        """Whether one more set follows."""
        before = self.at
        self._skip(_BETWEEN)
        if _NUMBER.match(self.data, self.at):
            return True
        if "," in self.data[before : self.at]:
            raise self.refuse("a number is expected after the comma")
        return False


def figures_of(data: str, name: str = "d") -> list[Figure]:
    """Read path data; one figure a sub-path that is drawn, none for a lonely move.

    Raises
    ------
    DomainError
        If it breaks the grammar: nothing is half-read. The message names the place.
    """
    scan = _Scanner(data, name)
    figures: list[Figure] = []
    strokes: list[Stroke] = []
    here = first = np.zeros(2)
    handle, before = here, ""

    def end_figure(*, closed: bool) -> None:
        if closed and strokes and (here != first).any():
            strokes.extend(chained(np.array([here, first])).strokes)
        if strokes:
            figures.append(Figure(tuple(strokes), closed))
            strokes.clear()

    while not scan.done:
        letter = scan.command()
        kind, relative = letter.upper(), letter.islower()
        if not before and kind != "M":
            scan.at = data.index(letter)
            raise scan.refuse("a move, M or m, is expected first")
        if kind == "Z":
            end_figure(closed=True)
            here, before = first, "Z"
            continue
        while True:
            v = scan.arguments(letter)
            origin = here if relative else np.zeros(2)
            if kind == "M":
                end_figure(closed=False)
                here = first = origin + v
                letter, kind = ("l", "L") if relative else ("L", "L")  # further pairs are lines
                before = "M"
                if scan.another():
                    continue
                break
            to = _target(kind, v, here, origin)
            control = [here, *(origin + np.array(v).reshape(-1, 2))] if kind in "CSQT" else [here, to]
            if kind in "ST":
                smooth = before in (("C", "S") if kind == "S" else ("Q", "T"))
                control.insert(1, 2 * here - handle if smooth else here)
            if kind in "CSQT":
                handle = control[-2]
            if (np.array(control) != here).any():
                strokes.append(_arc(here, to, v) if kind == "A" else Bezier(np.array(control)))
            here, before = to, kind
            if not scan.another():
                break
        scan._skip(_SPACE)
    end_figure(closed=False)
    return figures


def _target(kind: str, v: list[float], here: FloatArray, origin: FloatArray) -> FloatArray:
    if kind == "H":
        return np.array([origin[0] + v[0], here[1]])
    if kind == "V":
        return np.array([here[0], origin[1] + v[0]])
    return np.asarray(origin + v[-2:])


def _arc(here: FloatArray, to: FloatArray, v: list[float]) -> Stroke:
    return arc_between(here, to, abs(v[0]), abs(v[1]), np.radians(v[2]), large=v[3] == 1, positive=v[4] == 1)


def arc_between(
    here: FloatArray, to: FloatArray, rx: float, ry: float, tilt: float, *, large: bool, positive: bool
) -> Stroke:
    """Arc of an ellipse between two points; a line if a radius is 0; radii that are too small grow until they reach."""
    if rx == 0 or ry == 0:
        return Bezier(np.array([here, to]))
    c, s = np.cos(tilt), np.sin(tilt)
    turned = np.array([[c, -s], [s, c]])
    # in the frame in which the ellipse is the unit circle
    half = (turned.T @ (here - to)) / 2 / [rx, ry]
    reach = float(np.hypot(*half))
    if reach >= 1:
        rx, ry, half, reach = rx * reach, ry * reach, half / reach, 1.0
    side = np.sqrt(max(1 - reach**2, 0.0)) * (-1 if large == positive else 1)
    middle = side * np.array([half[1], -half[0]]) / reach
    axes = turned * [rx, ry]
    begin = float(np.arctan2(*(half - middle)[::-1]))
    # twice the angle whose sine is half the chord, or what is left of the turn
    turn = 2 * np.arctan2(reach, abs(side))
    turn = (2 * np.pi - turn if large else turn) * (1 if positive else -1)
    return EllipticArc((here + to) / 2 + axes @ middle, axes, begin, float(turn), here, to)
