"""The best bit for a carving: which of those that can be ground or bought are not beaten, and how sure that is."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Any, NamedTuple

import numpy as np
from scipy.optimize import minimize
from scipy.stats import qmc

from .._shared.arrays import FloatArray, array, choice, instance, integer, number, trapezoid
from .._shared.arrays import seed as checked_seed
from .._shared.tables import Columns, Result
from .._shared.words import plain
from ..choosing.records import gather
from ..choosing.variants import with_bit
from ..damage.handwork import HandWork, board_minutes, checked_handwork
from ..damage.models import LipModel, RiskModel, checked_model, layer_of, thickest
from ..damage.priors import Draws, literature_draws
from ..errors import DomainError
from ..limits.checks import CARBIDE_STRENGTH
from ..limits.wedge import LEAST_WEDGE, chip_share, edge_stress, wedge_of
from ..scene.cuts import Carving, Cut, as_carving
from ..scene.cutters import Cutter, VBit, bit_words
from ..scene.grain import Board
from ..scene.machine import Machine
from ..scene.oblique import neutral_shear, push_at_lip
from ..units import folded, length_text
from .fitting import FittedModel
from .nextpiece import NextPiece, next_coupon

__all__ = ["BitChoice", "GroundBit", "best_bit"]

RANGES = {
    "included_angle": (45.0, 120.0),
    "flutes": (1, 2, 3),
    "tip_width": (0.05, 0.4),
    "rake": (0.0, 25.0),
    "clearance": (8.0, 20.0),
    "shear": (-20.0, 20.0),
    "edge_radius": (0.004, 0.012),
}
"""What is varied unless it is said otherwise: ranges, or for flutes the numbers. [deg, -, mm, deg, deg, deg, mm]"""

_CHOICES = ("flutes",)
KEEP = ("width", "depth")

TIP_END = 0.1
"""How far above its end a tip is looked at: what lies below is cut by it, and sheared off there (assumed). [mm]"""


class GroundBit(NamedTuple):
    """A bit that was looked at, all numbers for the carving it was looked at for."""

    name: str
    bit: Cutter
    minutes: float
    """Expected minutes of hand work, mean over the draws. [min]"""
    low: float
    high: float
    """8 of 10 draws lie between. [min]"""
    edge_stress: float
    """Of the wedge by the thickest chip, over the carbide's strength. [-]"""
    depth: float
    """Deepest groove. [mm]"""
    removal: float
    """Wood removed a minute in the deepest groove. [mm3/min]"""
    chips: float
    """Share of its gullet that a flute's loose chips fill. [-]"""
    bought: bool
    """Whether it stands in the catalogue."""
    beaten: bool
    """Whether another bit is no worse in minutes, stress and depth, and better in one."""
    better: float
    """Chance that it needs fewer minutes than the best of the catalogue, equal ones counted half. [-]"""
    saves: tuple[float, float, float] = (0.0, 0.0, 0.0)
    """Minutes it saves over the best of the catalogue: the middle draw, and where 8 of 10 lie, as `BitChoice.saves`.
    Both bits meet the same draws, so that this is known better than the minutes of either. [min]"""


@dataclass(frozen=True, eq=False)
class BitChoice(Result):
    """What `best_bit` found. Print it for the report; it iterates over its bits.

    Attributes
    ----------
    bits : every `GroundBit` that is not ruled out, fewest expected minutes first.
    best : the one with the fewest expected minutes on the draws of the search, of all that keep their limits.
    bought : the best of the catalogue on the same draws, None without one.
    known : whether `best` is better than `bought` in more than 9 of 10 draws, by `worth` in the middle one.
    saves : (low, middle, high) minutes that `best` saves over `bought`; 8 of 10 draws lie between. [min]
    held : what was the same for all, in words.
    rests_on : name of the coefficient on which the difference rests most, '' if there is none.
    share : how much of the difference's spread follows it, the square of their correlation. [-]
    piece : which test piece would decide between `best` and `bought`, from `next_coupon`, which may say that none
        is worth its time or that this is not known; None where there is nothing to decide, or no such piece.
    ruled_out : how many bits were looked at and broke a limit.
    draws : how many draws it was judged on.
    worth : smallest saving that is called one. [min]
    """

    bits: tuple[GroundBit, ...]
    best: GroundBit
    bought: GroundBit | None
    known: bool
    saves: tuple[float, float, float]
    held: str
    rests_on: str
    ruled_out: int
    draws: int
    worth: float
    shear_matters: bool = field(default=False)
    share: float = field(default=0.0)
    piece: NextPiece | None = field(default=None)

    def __len__(self) -> int:
        return len(self.bits)

    def __iter__(self) -> Iterator[GroundBit]:
        return iter(self.bits)

    def __repr__(self) -> str:
        return f"<BitChoice of {len(self)} bits, best {self.best.name[:60]!r}>"

    @property
    def not_beaten(self) -> tuple[GroundBit, ...]:
        """Bits that no other beats in expected minutes, stress of the edge and depth of cut at once."""
        return tuple(b for b in self.bits if not b.beaten)

    def _piece_words(self) -> str:
        """Which test piece would decide, with what it saves and costs."""
        piece = self.piece
        if piece is None:
            return (
                "Which test piece would decide between the two is not known: none could be laid out for this carving."
            )
        known = f"Knowing all would save {piece.perfect[0]:.1f} +- {piece.perfect[1]:.1f} min on a job like this one"
        if piece.verdict == "stop":
            return f"{known}; no test piece of either bit is worth its time."
        saves = f"its grades save {piece.gain:.1f} +- {piece.error:.1f} min, and it costs {piece.cost:.1f} min"
        if piece.verdict == "open":
            words = piece.candidates[0].words
            return f"{known}. Whether a test piece pays is not known; the likeliest is {words}: {saves}."
        return f"{known}. What would decide between the two is {piece.candidates[0].words}: {saves}."

    def _columns(self) -> Columns:
        rows = self.bits
        names = {
            "minutes [min]": "minutes",
            "low [min]": "low",
            "high [min]": "high",
            "edge stress over strength [-]": "edge_stress",
            "depth [mm]": "depth",
            "removal [mm3/min]": "removal",
            "gullet filled [-]": "chips",
            "in the catalogue": "bought",
            "beaten": "beaten",
            "chance to be better [-]": "better",
        }
        columns = {"bit": [b.name for b in rows]} | {h: [getattr(b, n) for b in rows] for h, n in names.items()}
        return columns | {
            f"saves, {w} [min]": [b.saves[k] for b in rows] for k, w in enumerate(("low", "middle", "high"))
        }

    def __str__(self) -> str:
        best, bought = self.best, self.bought
        lines = []
        lines.append(
            f"The best bit found is a {best.name}: about {best.minutes:.1f} minutes of hand work "
            f"(8 in 10 chance: {best.low:.1f} to {best.high:.1f})."
        )
        if bought is None:
            lines.append("No catalogue was given, so it is not said how much it beats a bit that can be bought.")
        elif bought.name == best.name:
            lines.append("It stands in the catalogue: nothing that could be ground was found to be better.")
        elif self.known:
            lines.append(
                f"It saves about {self.saves[1]:.1f} minutes over the best of the catalogue, a {bought.name} "
                f"(8 in 10 chance: {self.saves[0]:.1f} to {self.saves[2]:.1f})."
            )
        elif self.saves[2] <= 0:
            lines.append(
                "Judged on draws that the search has not seen it is no better than the best of the catalogue, a "
                f"{bought.name}: it saves {self.saves[0]:.1f} to {self.saves[2]:.1f} minutes in 8 of 10. Keep that "
                "one, or search with more draws."
            )
        elif max(abs(v) for v in self.saves) < self.worth:
            lines.append(
                f"There is no meaningful difference to the best of the catalogue, a {bought.name}: "
                f"{self.saves[0]:.1f} to {self.saves[2]:.1f} minutes are saved in 8 of 10 draws."
            )
        else:
            lines.append(
                f"Whether it saves {self.worth:g} min over the best of the catalogue, a {bought.name}, is not "
                f"known: it saves {self.saves[0]:.1f} to {self.saves[2]:.1f} minutes in 8 of 10 draws, and is better "
                f"in {100 * best.better:.0f} % of them."
            )
        if self.rests_on:
            lines.append(
                f"Of all that is not known the difference rests most on the coefficient '{plain(self.rests_on)}', "
                f"which says {100 * self.share:.0f} % of how it spreads."
            )
        if bought is not None and bought.name != best.name:
            lines.append(self._piece_words())
        if self.shear_matters:
            lines.append(
                "What shear does at the lips of a V-groove has not been measured: in half of the draws it does nothing."
                f"{_push_words(best.bit)}"
            )
        lines = [*folded(" ".join(lines)), *folded(self.held), ""]
        wide = max(len(b.name) for b in self.not_beaten)
        lines.append(f"{'not beaten by any other':{wide}}  minutes      8 in 10     edge   depth  gullet")
        for b in self.not_beaten:
            lines.append(
                f"{b.name:{wide}}  {b.minutes:7.1f}  {f'{b.low:.1f}-{b.high:.1f}':>11}  {100 * b.edge_stress:5.0f} %"
                f"{b.depth:8.2f}  {100 * b.chips:4.0f} %{'  in the catalogue' if b.bought else ''}"
            )
        lines += folded(
            f"'edge' is the stress of the wedge over the strength of carbide; {self.ruled_out} bits were ruled out by "
            f"it, by a wedge below {LEAST_WEDGE:g} deg or by full gullets. Hand work is reckoned from assumed minutes, "
            "and the model from starting guesses unless it was fitted."
        )
        return "\n".join(lines)


class _Shop:
    """Looks at bits for one carving and board, every bit on the same draws."""

    def __init__(
        self,
        carving: Carving,
        board: Board,
        model: LipModel,
        keep: str,
        removal: bool,
        draws: int,
        seed: int,
        pitch: float,
        handwork: HandWork,
        tip: float | None,
    ) -> None:
        self.tip = tip
        self.carving, self.board, self.model = carving, board, model
        self.keep, self.removal, self.pitch, self.handwork = keep, removal, pitch, handwork
        core = model if isinstance(model, RiskModel) else RiskModel()
        # as many again to judge by: what the search has found best on its own draws is flattered by them
        self.searched = draws
        self.known: Draws = literature_draws(core, 2 * draws, seed)
        self.seen: dict[Cutter, tuple[FloatArray, Cut] | None] = {}
        self.looks = 0

    def refitted(self, bit: Cutter) -> Carving:
        job = with_bit(self.carving, bit, keep=self.keep)
        if not self.removal:
            return job
        cuts = []
        for old, new in zip(self.carving, job, strict=True):
            share = _section(old) / _section(new)
            feed = tuple(f * share for f in new.feed) if isinstance(new.feed, tuple) else new.feed * share
            cuts.append(replace(new, feed=feed))
        return replace(job, cuts=tuple(cuts))

    def look(self, bit: Cutter) -> tuple[FloatArray, Cut] | None:
        """Minutes by draw and the deepest cut; None if the bit cannot cut the carving."""
        if bit not in self.seen:
            self.looks += 1
            try:
                job = self.refitted(bit)
            except DomainError:
                self.seen[bit] = None
                return None
            record = gather(job, pitch=self.pitch, bundle=layer_of(thickest(self.known.models), job))
            edges = [np.ones(len(self.known.models))] * len(job)
            table = record.lengths(self.board, self.model, self.known, edges)
            deepest = max(job, key=lambda cut: float(cut.path.depth.max()))
            self.seen[bit] = board_minutes(table, self.handwork), deepest
        return self.seen[bit]


def _section(cut: Cut) -> float:
    """Section of the groove where the path is deepest. [mm2]"""
    h = np.linspace(0.0, float(cut.path.depth.max()), 513)
    return trapezoid(2 * np.interp(h, *cut.knots), h)


def _stress(cut: Cut, board: Board) -> float:
    lean = np.arctan(cut.flank_slope(np.asarray(cut.path.depth.max())))
    return edge_stress(cut.bit, float(cut.feed_per_tooth * np.cos(lean)), board.wood) / CARBIDE_STRENGTH


def best_bit(
    carving: Carving | Cut,
    board: Board,
    machine: Machine | None = None,
    *,
    catalogue: Mapping[str, Cutter] | Sequence[Cutter] = (),
    vary: Mapping[str, Sequence[float]] | None = None,
    keep: str = "width",
    hold: str = "feed",
    tip: str = "free",
    model: LipModel | None = None,
    handwork: HandWork | None = None,
    draws: int = 40,
    seed: int = 0,
    looks: int = 64,
    pitch: float = 1.0,
    worth: float = 1.0,
) -> BitChoice:
    """Look for the bit with the fewest expected minutes of hand work, and say whether it beats one that can be bought.

    Bits are spread over the ranges of what may be varied (Sobol' numbers), then the best of each number of flutes is
    made better by Nelder and Mead's simplex (scipy). Every bit meets the same draws of what is not known:
    coefficients of the model, graders and boards. What is found is judged on draws that the search has not seen. So
    differences are known better than the minutes themselves, and where they are not known the answer says so.

    Parameters
    ----------
    carving
        A `Carving` or a single `Cut`; its first bit is where the search starts, and what is not varied is that bit's.
    board
        Wood and grain.
    machine
        Limits the feed of every cut; None: each cut's own.
    catalogue
        Bits that can be bought, a mapping from names or a sequence.
    vary
        Ranges (low, high) of `included_angle`, `diameter`, `tip_width`, `tip_radius`, `rake`, `clearance`, `shear`,
        `edge_radius`, `land`, and the numbers of `flutes`; equal ends hold it. None: `RANGES`, at the first bit's
        diameter.
    keep
        'width': all cut grooves of the same width; 'depth': to the same depth.
    hold
        'feed': all at the carving's feed; 'removal': each at the feed that removes as much wood a minute. Speeds are
        the carving's.
    tip
        'free': tips are as varied; 'equal': of every bit that could be ground the flat is such that the tip is as wide
        `TIP_END` above its end as that of the carving's bit, so that the chips below shear it off no sooner; a bit that
        is as wide there without a flat is left out. Bits of the catalogue are as they are.
    model
        Default `RiskModel()`; the draws are what the literature leaves of its
        coefficients' ranges.
    handwork
        Minutes that damage costs; default `HandWork()`, whose every number is assumed.
    draws
        2 to 1000.
    seed
        Of draws and bits.
    looks
        How many bits may be looked at beside the catalogue, 8 to 10000.
    pitch
        Spacing of the stations, four times that of a map: a bit is looked at as a whole, which asks for no finer
        one. [mm]
    worth
        Smallest saving that would be worth another bit. [min]

    Returns
    -------
    BitChoice

    Raises
    ------
    DomainError
        If an argument is of the wrong kind or out of range, or no bit can cut the carving within its limits.

    Notes
    -----
    A bit is ruled out if its wedge is slimmer than 50 deg, the stress of its edge is above the strength of carbide, or
    its loose chips fill more than its gullets. What shear does to a lip is a coefficient of the model
    (`RiskModel.lift`): nothing in half of the draws, and even up to 2 in the other half.

    Examples
    --------
    >>> import chipsim as cs
    >>> cut = cs.Cut(cs.VBit(60, 12.7, 2, 0.2), cs.ring(5, 1.5), 18_000, 1500)
    >>> board = cs.Board(cs.wood("sugar maple"), cs.straight_grain(azimuth=0))
    >>> shop = {"60 deg": cut.bit, "90 deg": cs.VBit(90, 12.7, 2, 0.2)}
    >>> choice = cs.best_bit(cut, board, catalogue=shop, draws=8, looks=8, pitch=2.0)
    >>> choice.bought.name in shop
    True
    """
    job = as_carving(carving)
    instance("board", board, Board, "a Board")
    if machine is not None:
        instance("machine", machine, Machine, "a Machine or None")
        job = replace(job, cuts=tuple(replace(cut, machine=machine) for cut in job))
    base = job.cuts[0].bit
    shop = _catalogue(catalogue)
    ranges = _ranges(vary, base)
    own = checked_model(model)
    count, most = integer("draws", draws, low=2, high=1000), integer("looks", looks, low=8, high=10_000)
    held = choice("hold", hold, ("feed", "removal"))
    tips = choice("tip", tip, ("free", "equal"))
    if tips == "equal":
        given = [n for n in ("tip_width", "tip_radius") if vary is not None and n in ranges]
        if given:
            raise DomainError(f"vary must leave out {' and '.join(given)} where tips are equal: their width follows")
        ranges.pop("tip_width", None)
    place = _Shop(
        job,
        board,
        own,
        choice("keep", keep, KEEP),
        held == "removal",
        count,
        checked_seed(seed),
        number("pitch", pitch, low=0.01, high=100, unit="mm"),
        checked_handwork(handwork),
        _tip_width(base) if tips == "equal" else None,
    )
    found: dict[Cutter, str] = {bit: name for name, bit in shop.items()}
    for bit in shop.values():
        place.look(bit)
    for bit in _search(place, base, ranges, most, seed):
        found.setdefault(bit, _words(bit))
    least = number("worth", worth, low=0, high=1e6, unit="min")
    chosen = _chosen(place, found, set(shop.values()), ranges, held, least)
    if chosen.bought is None or chosen.bought.bit == chosen.best.bit:
        return chosen
    return replace(chosen, piece=_deciding(place, chosen.bought, chosen.best, own, seed))


def _deciding(place: _Shop, bought: GroundBit, best: GroundBit, model: LipModel, seed: int) -> NextPiece | None:
    """The test piece that tells most between two bits at the carving's speed and feed, their grooves of one width."""
    if not isinstance(model, (RiskModel, FittedModel)):
        return None
    lead = max(place.carving, key=lambda cut: cut.path.length)
    feed = lead.largest_feed
    # a machine is asked for how large a ring must be; an ordinary bench-top one where none is given (assumed)
    machine = lead.machine or Machine(500.0, max(1.25 * feed, 3000.0))
    try:
        return next_coupon(
            place.carving,
            place.board,
            replace(machine, dial=None),
            {bought.name: bought.bit, f"{best.name}, once it is ground": best.bit},
            model=model,
            handwork=place.handwork,
            speeds=[lead.spindle_speed],
            feeds=[feed],
            draws=max(64, 2 * place.searched),
            seed=seed,
        )
    except DomainError:
        return None


def _tip_width(bit: Cutter) -> float:
    """Width of a tip `TIP_END` above its end. [mm]"""
    return 2 * float(bit.radius(np.array(TIP_END)))


def _catalogue(catalogue: object) -> dict[str, Cutter]:
    if isinstance(catalogue, Mapping):
        shop = {str(name): bit for name, bit in catalogue.items()}
    elif isinstance(catalogue, Sequence) and not isinstance(catalogue, str):
        shop = {_words(bit) if isinstance(bit, Cutter) else str(k): bit for k, bit in enumerate(catalogue)}
    else:
        raise DomainError(f"catalogue must be a mapping or a sequence of bits, got {type(catalogue).__name__}")
    for name, bit in shop.items():
        instance(f"catalogue[{name!r}]", bit, Cutter, "a bit, as VBit")  # type: ignore[type-abstract]
    return shop


def _ranges(vary: Mapping[str, Sequence[float]] | None, base: Cutter) -> dict[str, tuple[float, ...]]:
    given = RANGES if vary is None else vary
    if not isinstance(given, Mapping):
        raise DomainError(f"vary must be a mapping from names to ranges, got {type(given).__name__}")
    if type(base) is not VBit:
        raise DomainError(
            f"carving must be cut with a VBit for a search over bits, got {type(base).__name__}; compare others "
            "by `compare`"
        )
    allowed = (*RANGES, "diameter", "tip_radius", "land")
    out: dict[str, tuple[float, ...]] = {}
    for name, ends in given.items():
        if name not in allowed:
            raise DomainError(f"vary must name some of {', '.join(allowed)}, got {name!r}")
        values = array(f"vary[{name!r}]", ends, ndim=1)
        if name in _CHOICES:
            out[name] = tuple(sorted({integer(f"vary[{name!r}]", int(v), low=1, high=12) for v in values}))
            continue
        if values.shape != (2,) or values[0] > values[1]:
            raise DomainError(f"vary[{name!r}] must be a range (low, high), got {values.tolist()}")
        out[name] = (float(values[0]), float(values[1]))
    return out


def _bit_at(
    base: VBit, ranges: Mapping[str, tuple[float, ...]], share: FloatArray, flutes: int, tip: float | None = None
) -> VBit | None:
    """Bit at shares (k,) of the continuous ranges, its tip as wide as that where it is given; None if there is none."""
    names = [n for n in ranges if n not in _CHOICES]
    change: dict[str, Any] = {
        n: round(float(low + (high - low) * s), 6)
        for n, s in zip(names, share, strict=True)
        for low, high in [ranges[n]]
    }
    if change.get("tip_radius"):
        change["tip_width"] = 0.0
    if tip is not None:
        half = np.radians(change.get("included_angle", base.included_angle) / 2)
        flat = tip - 2 * TIP_END * np.tan(half)
        if flat < 0:
            return None
        change |= {"tip_width": round(float(flat), 9), "tip_radius": 0.0}
    try:
        # errors of single flutes and what is known of one body do not go over to another number of flutes
        return replace(base, flutes=flutes, set_back=(), raised=(), **change)
    except DomainError:
        return None


def _search(
    place: _Shop, base: Cutter, ranges: Mapping[str, tuple[float, ...]], most: int, seed: int
) -> Iterator[Cutter]:
    """Bits worth looking at: spread over the ranges, then the best of each number of flutes made better."""
    assert isinstance(base, VBit)
    names = [n for n in ranges if n not in _CHOICES]
    numbers = [int(f) for f in ranges.get("flutes", (base.flutes,))]
    tried: list[VBit] = []

    def cost(share: FloatArray, flutes: int) -> float:
        bit = _bit_at(base, ranges, np.clip(share, 0.0, 1.0), flutes, place.tip)
        if bit is None or place.look(bit) is None:
            return 1e9
        tried.append(bit)
        return _cost(place, bit)

    if not names:
        for flutes in numbers:
            cost(np.empty(0), flutes)
        yield from tried
        return
    spread = max(2, most // (2 * len(numbers)))
    points = qmc.Sobol(len(names), scramble=True, seed=seed).random(1 << (spread - 1).bit_length())[:spread]
    for flutes in numbers:
        values = [cost(p, flutes) for p in points]
        start = points[int(np.argmin(values))]
        minimize(
            cost,
            start,
            args=(flutes,),
            method="Nelder-Mead",
            bounds=[(0.0, 1.0)] * len(names),
            options={"maxfev": max(most // (2 * len(numbers)), 1), "initial_simplex": _simplex(start)},
        )
    if tried:
        best = min(tried, key=lambda bit: _cost(place, bit))
        for name in names:
            # what does not matter stays as it is: a bit with fewer things to grind
            plain = None if name == "included_angle" and place.tip else _with(best, name, getattr(base, name))
            if plain is not None and place.look(plain) is not None:
                tried.append(plain)
                if _cost(place, plain) <= 1.005 * _cost(place, best):
                    best = plain
    yield from tried


def _push_words(bit: Cutter) -> str:
    """Which way a sheared bit pushes the fibres at a lip, and from where on it presses; '' without shear."""
    shears = np.atleast_1d(getattr(bit, "shear", 0.0))
    if type(bit) is not VBit or not shears.any():
        return ""
    ways = {"presses" if float(push_at_lip(bit.rake, bit.half_angle, shear=s).up) < 0 else "lifts" for s in shears}
    begins = float(neutral_shear(bit.rake, bit.half_angle))
    from_ = f", which it would press from {begins:+.1f} deg of shear on" if ways == {"lifts"} and begins > -90 else ""
    return f" The face of the best bit {' and '.join(sorted(ways))} the fibres of a lip{from_}."


def _with(bit: VBit, name: str, value: Any) -> VBit | None:
    change: dict[str, Any] = {name: value}
    try:
        return replace(bit, **change)
    except DomainError:
        return None


def _cost(place: _Shop, bit: VBit) -> float:
    """Expected minutes, dearer where a limit is broken; endless for a bit that cannot cut the carving. [min]"""
    seen = place.look(bit)
    return (
        np.inf
        if seen is None
        else float(seen[0][: place.searched].mean()) * (1.0 + 10.0 * _excess(seen[1], place.board))
    )


def _simplex(start: FloatArray) -> FloatArray:
    """A simplex about a start within the unit box, a fifth of it wide."""
    corners = np.tile(start, (len(start) + 1, 1))
    for k in range(len(start)):
        corners[k + 1, k] += 0.2 if start[k] < 0.5 else -0.2
    return corners


def _excess(cut: Cut, board: Board) -> float:
    """By how much a bit breaks its limits; 0 if it keeps them. [-]"""
    return (
        max(_stress(cut, board) - 1.0, 0.0)
        + max(LEAST_WEDGE - wedge_of(cut.bit), 0.0) / LEAST_WEDGE
        + max(chip_share(cut) - 1.0, 0.0)
    )


def _words(bit: Cutter) -> str:
    text = bit_words(bit)
    tip = getattr(bit, "tip_width", 0.0)
    shear = np.atleast_1d(getattr(bit, "shear", 0.0))
    more = [f"rake {bit.rake:.0f}", f"clearance {bit.clearance:.0f}"]
    more += [f"tip {tip:.2f} mm"] if tip else []
    more += [f"shear {'/'.join(f'{s:+.0f}' for s in shear)}"] if shear.any() else []
    angle = getattr(bit, "included_angle", None)
    if angle is not None:
        text = text.replace(f"{angle:g} deg", f"{angle:.0f} deg", 1)
    return f"{text}, {', '.join(more)}, edge {1000 * bit.edge_radius:.0f} um"


def _chosen(
    place: _Shop,
    found: Mapping[Cutter, str],
    shop: set[Cutter],
    ranges: Mapping[str, tuple[float, ...]],
    hold: str,
    worth: float,
) -> BitChoice:
    kept: list[tuple[Cutter, str, FloatArray, Cut]] = []
    searched: dict[Cutter, float] = {}  # what the choice goes by; the draws it is judged on must not make it
    ruled_out = 0
    for bit, name in found.items():
        seen = place.look(bit)
        if seen is None or not np.isfinite(seen[0]).all() or (_excess(seen[1], place.board) > 0 and bit not in shop):
            ruled_out += 1
            continue
        kept.append((bit, name, seen[0][place.searched :], seen[1]))
        searched[bit] = float(seen[0][: place.searched].mean())
    if not kept:
        raise DomainError(
            f"vary must hold a bit that can cut the carving within its limits, got {dict(ranges)}; {ruled_out} were "
            "tried"
        )
    kept.sort(key=lambda row: float(row[2].mean()))
    bought = min((row for row in kept if row[0] in shop), key=lambda row: searched[row[0]], default=None)
    first = min(range(len(kept)), key=lambda k: searched[kept[k][0]])
    scores = np.array([[m.mean(), _stress(cut, place.board), cut.path.depth.max()] for _, _, m, cut in kept])
    rows = []
    for k, (bit, name, minutes, cut) in enumerate(kept):
        others = np.delete(scores, k, axis=0)
        beaten = bool(((others <= scores[k]).all(axis=1) & (others < scores[k]).any(axis=1)).any())
        gain = np.zeros(len(minutes)) if bought is None else bought[2] - minutes
        better = float(((gain > 0) + 0.5 * (gain == 0)).mean())
        low, high = np.quantile(minutes, [0.1, 0.9])
        removal = cut.largest_feed * _section(cut)
        row = GroundBit(
            name,
            bit,
            float(minutes.mean()),
            float(low),
            float(high),
            float(scores[k, 1]),
            float(scores[k, 2]),
            float(removal),
            chip_share(cut),
            bit in shop,
            beaten,
            better,
            tuple(float(v) for v in np.quantile(gain, [0.1, 0.5, 0.9])),  # type: ignore[arg-type]
        )
        rows.append(row)
    gain = np.zeros(len(kept[0][2])) if bought is None else bought[2] - kept[first][2]
    rests, share = "", 0.0
    sheared = any(np.any(np.atleast_1d(getattr(bit, "shear", 0.0))) for bit in found)
    if np.ptp(gain) > 0:
        lift = np.array([model.lift for model in place.known.models])
        factors = np.column_stack([place.known.coordinates, place.known.shifts, lift * sheared])[place.searched :]
        names = (*place.known.names, "the board and the job themselves", "what lifting does to a lip")
        centred = factors - factors.mean(axis=0)
        spread = np.linalg.norm(centred, axis=0)
        pull = np.abs(centred.T @ (gain - gain.mean())) / np.where(spread > 0, spread, np.inf)
        rests = names[int(np.argmax(pull))].replace("_", " ")
        share = float(pull.max() / np.linalg.norm(gain - gain.mean())) ** 2
    widths = [2 * float(cut.half_width(np.asarray(cut.path.depth.max()))) for cut in place.carving]
    depths = [float(cut.path.depth.max()) for cut in place.carving]
    what = (
        f"Grooves have the same width, up to {length_text(max(widths))}, so that their depths differ"
        if place.keep == "width"
        else f"Grooves have the same depth, up to {length_text(max(depths))}, so that their widths differ"
    )
    fed = "the same feed" if hold == "feed" else "the feed that removes as much wood a minute"
    if place.tip is not None:
        tips = (
            f"held: {TIP_END:g} mm above its end every tip that could be ground is {place.tip:.2f} mm wide; those of "
            "the catalogue are as they are"
        )
    elif any("tip" in n or n == "included_angle" for n in ranges):
        tips = "not held: tips differ"
    else:
        tips = "held: all that could be ground have the same tip"
    return BitChoice(
        bits=tuple(rows),
        best=rows[first],
        bought=None if bought is None else next(r for r in rows if r.bit == bought[0]),
        known=bought is not None and rows[first].better > 0.9 and float(np.median(gain)) >= worth,
        saves=tuple(float(v) for v in np.quantile(gain, [0.1, 0.5, 0.9])),  # type: ignore[arg-type]
        held=(f"{what}; speed is the carving's, and every bit runs at {fed}. The strength of the tips was {tips}."),
        rests_on=rests,
        ruled_out=ruled_out,
        draws=place.searched,
        worth=worth,
        shear_matters=sheared,
        share=share,
    )
