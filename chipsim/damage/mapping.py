"""From a cut and a board to a risk map: lay out lips, gather strikes, ask the model, assemble."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from contextlib import closing, nullcontext
from dataclasses import dataclass, fields
from functools import partial
from typing import Any

import numpy as np

from .._shared.arrays import FloatArray, instance, integer
from .._shared.arrays import seed as checked_seed
from .._shared.running import in_order, progress_bar
from ..chips.blocks import LipBlock, LipPlans, lip_blocks
from ..chips.lips import Lips
from ..chips.strikes import LipStrikes, joined, strikes_of
from ..scene.cuts import PLUNGE_FEED, Carving, Cut, as_carving, caption_words
from ..scene.cutters import heel_rub_radius, lip_shear
from ..scene.grain import Board, angle_between_lines, angle_to_fibre
from ..scene.machine import corners_text
from ..scene.oblique import lip_edge
from ..units import feed_text
from .bands import BandCollector
from .maps import RISKS, RiskMap
from .models import (
    END_GRAIN,
    LipModel,
    RiskModel,
    checked_model,
    is_plain,
    layer_of,
    lip_fibres,
    lip_frame,
    risks_of,
    tool_feed,
)

__all__ = ["risk_map"]


_CORNER = 10.0
"""A joint that turns by no more is one of a curve laid out in chords. [deg]"""

_UNUSED = ("tension perpendicular", "shear", "elastic ratios G_RT", "elastic ratios G_LR", "elastic ratios E_R")
"""Starts of the notes of a `Wood` that speak of what no risk uses."""


def risk_map(
    carving: Carving | Cut,
    board: Board,
    *,
    model: LipModel | None = None,
    pitch: float = 0.25,
    draws: int = 0,
    seed: int = 0,
    threads: int = 1,
    progress: bool = False,
) -> RiskMap:
    """Map the risk along both lips of a cut, or of every cut of a carving, on a board.

    In a carving a lip that another cut removes does not exist, and a later cut meets only what the earlier ones left.

    Parameters
    ----------
    carving
        A `Carving`, or a single `Cut`: bit, path, spindle speed and feed.
    board
        Wood and grain.
    model
        Fibre-failure model; default `RiskModel()`. A `FittedModel` knows what a test piece has taught.
    pitch
        Spacing of the stations along the path. [mm]
    draws
        Number of draws of the coefficients for the map's `band`, up to 10 000; 0: none. 200 do.
    seed
        Of the draws, 0 to 2**63 - 1.
    threads
        Of this process, 1 to 1024: blocks of stations worked on side by side; the map is the same to the last bit.
        Grain field and model are then called from several threads at once.
    progress
        True shows a bar that counts stations; needs the extra 'progress'.

    Returns
    -------
    RiskMap
        A risk the model does not know, for want of a property of the wood, is NaN.

    Raises
    ------
    DomainError
        If an argument is out of range, or the grain field or the model returns values of the wrong shape.

    Examples
    --------
    >>> import chipsim as cs
    >>> cut = cs.Cut(cs.VBit(60, 12.7, 2), cs.ring(5, 1.5), 18_000, 1500)
    >>> board = cs.Board(cs.wood("black cherry"), cs.straight_grain(azimuth=0))
    >>> risk = cs.risk_map(cut, board, pitch=1.0)
    >>> f"{risk.mean('damage'):.3f}"
    '0.165'
    >>> risk.why(4, "left").splitlines()[0]
    'Left lip, 3.55 mm along the path (x 3.14, y 2.69), the conventional side: damage 0.07, clean.'
    """
    job = as_carving(carving)
    instance("board", board, Board, "a Board")
    chosen = checked_model(model)
    count = integer("draws", draws, low=0, high=10_000)
    spread = BandCollector(chosen, board, count, checked_seed(seed)) if count else None
    workers = integer("threads", threads, low=1, high=1024)
    drawn = 0.0 if spread is None else spread.layer(job)
    layer = layer_of(chosen, job)
    plans = LipPlans(job, pitch)
    laid_out = lip_blocks(job, pitch=pitch, bundle=max(layer, drawn), plans=plans)
    bar = progress_bar(progress, plans.rows, "station")
    struck = partial(_struck, cuts=job.cuts, board=board, model=chosen, layer=layer)
    # a band asks each cut by itself; a model of one's own expects that
    together = _alike(laid_out, job.cuts) if spread is None and is_plain(chosen) else ((block,) for block in laid_out)
    found = in_order(struck, together, workers)
    # whatever ends it, an interrupt too, no thread goes on and the bar is put away
    with closing(found) as blocks, nullcontext() if bar is None else closing(bar):
        return assembled(job, board, chosen, blocks, plans.rows, spread, None if bar is None else bar.update)


@dataclass(frozen=True, eq=False)
class BlockRisks:
    """One block of a map.

    Attributes
    ----------
    groove : number of its cut, from 0.
    cut : its cut.
    strikes : on its lips, in a layer at least as thick as the model's.
    fibres : (n, 2, 3) unit axes of the fibres at its lips.
    content : everything a `RiskMap` holds of it, (n, ...) by name.
    """

    groove: int
    cut: Cut
    strikes: LipStrikes
    fibres: FloatArray
    content: dict[str, np.ndarray]


_ROWS = 2048
"""Rows of short cuts that are asked together, at most: they fill the lanes of the kernel and share numpy's calls."""


def _alike(blocks: Iterable[LipBlock], cuts: Sequence[Cut]) -> Iterator[tuple[LipBlock, ...]]:
    """Blocks that follow one another, those together whose cuts no model can tell apart but by their strikes."""
    held: list[LipBlock] = []
    rows, kind = 0, None
    for block in blocks:
        own, more = kind_of(cuts[block.cut]), block.cells[1] - block.cells[0]
        if held and (own != kind or rows + more > _ROWS):
            yield tuple(held)
            held, rows = [], 0
        held.append(block)
        rows, kind = rows + more, own
    if held:
        yield tuple(held)


def kind_of(cut: Cut) -> tuple[object, ...]:
    """What a model knows of a cut beside its strikes and feeds."""
    return cut.bit, cut.spindle_speed, cut.spin, cut.machine.plunge_feed if cut.machine is not None else None


def _struck(blocks: Sequence[LipBlock], cuts: Sequence[Cut], board: Board, model: LipModel, layer: float) -> BlockRisks:
    """Gather the strikes of some blocks of lips, of cuts that are alike, and ask the model."""
    return blocks_risks([(b.cut, cuts[b.cut], strikes_of(b)) for b in blocks], board, model, layer)


def assembled(
    carving: Carving,
    board: Board,
    model: LipModel,
    blocks: Iterable[BlockRisks],
    rows: int,
    spread: BandCollector | None = None,
    told: Callable[[int], object] | None = None,
) -> RiskMap:
    """Put the map together from its blocks, `rows` stations in all, one block in memory at a time.

    `told` is called with the number of stations of each block that is done.
    """
    content: dict[str, np.ndarray] = {}
    low = 0
    for block in blocks:
        if spread is not None:
            spread.add(block.strikes, block.fibres, block.content, block.cut)
        high = low + len(block.strikes)
        for name, value in block.content.items():
            if low == 0:
                content[name] = np.empty((rows, *value.shape[1:]), value.dtype)
            content[name][low:high] = value
        if told is not None:
            told(high - low)
        low = high
    band = None if spread is None else spread.band()
    return RiskMap(setup=setup_of(carving.cuts, board, model, carving.notes), band=band, **content)


def block_risks(
    groove: int, cut: Cut, strikes: LipStrikes, board: Board, model: LipModel, layer: float | None = None
) -> BlockRisks:
    """Ask the model for the risks of one block of stations, and say what they rest on.

    It is asked of the strikes in a layer [mm] that may be thinner than that of the strikes, which the block keeps.
    """
    return blocks_risks([(groove, cut, strikes)], board, model, layer)


def blocks_risks(
    members: Sequence[tuple[int, Cut, LipStrikes]], board: Board, model: LipModel, layer: float | None = None
) -> BlockRisks:
    """`block_risks` of several blocks as one, each with its groove and its cut; cuts are alike by `kind_of`."""
    (groove, cut, _), strikes = members[0], joined([struck for _, _, struck in members])
    lips, feeds = strikes.lips, [tool_feed(struck.lips, own) for _, own, struck in members]
    reached = np.concatenate(feeds)
    exists = lips.exists
    azimuth, dive, fibres = lip_fibres(lips, board)
    thick, strikes = strikes, strikes if layer is None else strikes.thinner(layer)
    a_tooth = reached / (cut.spindle_speed * cut.bit.flutes)
    risks = risks_of(model, strikes, fibres, cut, board.cut_wood, a_tooth if len(members) > 1 else None)
    v, n, out = lip_frame(lips, cut.spin)
    lean = np.radians(lips.flank_lean)[:, None]
    if cut.edges is None:
        edge = np.concatenate(
            [np.sin(lean)[..., None] * out, np.broadcast_to(np.cos(lean)[..., None], (*exists.shape, 1))], -1
        )
    else:
        # that of flute 0, where flutes have shears of their own
        shear = lip_shear(cut.bit, lips.depth)[0][:, None]
        edge = lip_edge(v, np.concatenate([out, np.zeros((*exists.shape, 1))], -1), lean, shear)
    chips = np.where(np.isnan(strikes.chips), 0.0, strikes.chips).max(axis=-1)
    along = np.concatenate([own.path.heading(struck.station) for _, own, struck in members])
    doubts = np.concatenate(
        [doubts_of(s.lips, c, f, float(model.bundle)) for (_, c, s), f in zip(members, feeds, strict=True)]
    )
    content = {
        "station": lips.station,
        "kind": lips.kind,
        "xy": lips.xy,
        "lip_xy": lips.lip_xy,
        "depth": lips.depth,
        "half_width": lips.half_width,
        "heading": lips.heading,
        "lip_length": lips.lip_length,
        "exists": exists,
        "fibre_azimuth": azimuth,
        "fibre_dive": dive,
        "fibre_angle": angle_to_fibre(v, n, fibres),
        "edge_angle": angle_between_lines(edge, fibres),
        "cutting_speed": lip_speed(lips, cut, v, reached, along),
        "feed_per_tooth": np.where(exists, a_tooth[:, None], np.nan),
        "strikes": strikes.counts,
        "largest_chip": np.where(exists, chips, np.nan),
    }
    blank = np.full(exists.shape, np.nan)
    for name in (*RISKS, "support", "hazard", "rubs", "tear_depth", "temperature"):
        content[name] = risks.get(name, np.zeros(exists.shape, int) if name == "rubs" else blank)
    unknown = np.isnan([content[name] for name in RISKS]).all(axis=0)
    # where a model of one's own knows end grain, there is no doubt
    end_grain = exists & unknown & (np.abs(np.nan_to_num(dive)) > END_GRAIN)
    content["doubt"] = np.where(end_grain, 6, doubts).astype(np.int8)
    content["groove"] = np.repeat([g for g, _, _ in members], [len(struck) for _, _, struck in members])
    return BlockRisks(groove, cut, thick, fibres, {name: np.asarray(value) for name, value in content.items()})


def lip_speed(lips: Lips, cut: Cut, v: FloatArray, reached: FloatArray, along: FloatArray) -> FloatArray:
    """Speed of the edge in the work as it leaves the lip, (n, 2), at feeds [mm/min] along headings [deg]. [m/s]"""
    heading = np.radians(along)
    swing = cut.spindle_speed * 2 * np.pi / 60 * (lips.half_width + 0.0)
    feed = (reached / 60.0)[:, None] * np.stack([np.cos(heading), np.sin(heading)], axis=-1)
    velocity = swing[:, None, None] * v[..., :2] + feed[:, None, :]
    return np.asarray(np.hypot(velocity[..., 0], velocity[..., 1]) * 1e-3)


def doubts_of(lips: Lips, cut: Cut, reached: FloatArray, bundle: float) -> np.ndarray:
    """Codes of `DOUBTS`, (n, 2), at the feeds reached [mm/min], for lips whose last `bundle` of wood [mm] counts."""
    rub = heel_rub_radius(cut.bit, lips.flank_lean, reached / cut.spindle_speed)
    code = np.zeros(len(lips), dtype=np.int8)
    code[lips.half_width >= cut.knots[1][-1] - 1e-9] = 4
    if cut.knots[0][-1] >= cut.path.depth.max() - 1e-9:
        # the outline ends where the path is deepest (or was only sampled so far): that is no shoulder
        code[code == 4] = 0
    code[lips.half_width < rub] = 3
    if cut.machine is None:
        code[_at_corners(lips)] = 2
    code[_without_motion(lips, cut, bundle)] = 1
    return np.where(lips.exists, code[:, None], 0).astype(np.int8)


def _at_corners(lips: Lips) -> np.ndarray:
    """Rows, (n,), that turn about a corner by enough for a machine to slow; joints of a curve in chords are none."""
    out = np.asarray(lips.kind == "corner")
    rows = np.flatnonzero(out)
    _, vertex = np.unique(lips.station[rows], return_inverse=True)
    turn = np.bincount(vertex, lips.lip_length[rows].sum(axis=1) / np.maximum(lips.half_width[rows], 1e-12))
    hidden = np.bincount(vertex, ~lips.exists[rows].any(axis=1)) > 0  # removed, and how far it turns is not known
    out[rows] = (np.degrees(turn) > _CORNER)[vertex] | hidden[vertex]
    return np.asarray(out)


def _without_motion(lips: Lips, cut: Cut, bundle: float) -> np.ndarray:
    """Where strikes are missing, (n,), because the path begins or ends in the wood without a plunge, ramp or lift.

    A strike reaches the last bundle b of a lip only while the axis is within sqrt(2 w b - b^2) of it along the path (a
    chord of the circle of half-width w), so that this far from where the tool appears nothing is missing, but for the
    way of a tooth in one turn.
    """
    path, flat = cut.path, cut.path.pieces[:, 4] > 0
    out = np.zeros(len(lips), dtype=bool)
    if not flat.any():
        return out
    begins = bool(flat[0]) and path.depth[0] > 0
    # a machine comes to rest there: the teeth have been all round before the tool is lifted
    ends = bool(flat[-1]) and cut.machine is None and path.depth[-1] > 0
    half = float(cut.half_width(path.depth[0]))
    reach = float(np.sqrt(max(2 * half * bundle - min(bundle, half) ** 2, 0.0))) + cut.feed_per_rev
    if path.closed:
        if begins:
            out |= np.minimum(lips.station, path.length - lips.station) <= reach
        return out
    if begins:
        out |= (lips.kind == "start") | ((lips.station <= reach) & (lips.kind != "end"))
    if ends:
        out |= lips.kind == "end"
    return out


def setup_of(cuts: Sequence[Cut], board: Board, model: LipModel, notes: Sequence[str] = ()) -> dict[str, Any]:
    cut, unhindered = cuts[0], _unhindered(cuts)
    bit, wood = cut.bit, board.wood
    own: dict[str, Any] = {"bite_floor": float("nan"), "critical_speed": float("nan"), "model": type(model).__name__}
    core = getattr(model, "model", model)
    if isinstance(core, RiskModel):
        own = {
            "bite_floor": core.bite_floor * bit.edge_radius,
            "bite_floors": [core.bite_floor * c.bit.edge_radius for c in cuts],
            "critical_speed": core.critical_speed(wood),
            "model": {f.name: getattr(core, f.name) for f in fields(core)},
            "learned": str(getattr(model, "learned", "")),
        }
    return own | {
        "caption": caption_words(cuts),
        "captions": list(dict.fromkeys(c.caption() for c in cuts)),
        "wood": wood.name,
        "moisture": wood.moisture,
        "grain": board.grain.label,
        "lengths": [c.path.length for c in cuts],
        "closed": [c.path.closed for c in cuts],
        "spins": [c.spin for c in cuts],
        "spin": cut.spin,
        "spindle_speed": cut.spindle_speed,
        "feed": max(cut.typed_feeds),
        "feed_per_tooth": cut.feed_per_tooth,
        "edge_radius": bit.edge_radius,
        "bundle": float(model.bundle),
        "corners": corners_text(c.machine for c in cuts),
        "not_modelled": unhindered,
        "notes": [f"program, {note}" for note in notes]
        + [n for n in wood.notes if not n.startswith(_UNUSED)]
        + ([] if np.isfinite(wood.fracture_toughness) else ["tear not known: the wood has no fracture toughness"]),
    }


def _unhindered(cuts: Sequence[Cut]) -> str:
    """Which cuts are taken to run at the programmed feed, and which to plunge at a feed nobody gave; '' if none."""
    without = [c.machine is None for c in cuts]
    if not any(without):
        return ""
    if all(without):
        said = "No machine was given, so the actual feed is assumed to be the programmed feed everywhere."
    else:
        said = (
            f"No machine was given for {sum(without)} of {len(cuts)} grooves: their actual feed is assumed to be the "
            "programmed feed."
        )
    plunging = [c.machine is None and c.plunge_feed is None and _plunges(c) for c in cuts]
    return said + (f" A plunge is assumed to go down at {feed_text(PLUNGE_FEED)}." if any(plunging) else "")


def _plunges(cut: Cut) -> bool:
    """Whether the tool goes straight down somewhere, at no feed of that piece's own."""
    upright = cut.path.pieces[:, 4] == 0
    return not isinstance(cut.feed, tuple) and bool((upright & (cut.path.drop > 0)).any())
