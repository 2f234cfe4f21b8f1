"""What studies and the trade leave of the failure model: the draws shipped with the library, made again.

    python benchmarks/literature.py [draws] [moves] [draws file] [table file] [--json FILE] [--runs N]

Draws of the prior, structure included, are asked every statement of `chipsim/data/literature.csv` on the real
kinematics. A draw's weight is the product over the statements of r if it meets it and 1 - r if not, to the power g of
its group: r is how reliable the statement is, so that laboratories which contradict each other weigh nothing. Two
populations go from the prior to these weights by sequential Monte Carlo, apart from each other: tempered so that half
of the effective size is left at every step, drawn again, and moved by differences of draws. How far their shares part
says how many independent draws they are worth.

Printed is, for each statement, in how many draws it holds before and after, and 'left out': how probable it is on draws
that were conditioned on all others. What holds in nearly every draw of the prior tells nothing; what holds in hardly
any is out of the model's reach. With 200 draws and 2 moves it takes some four minutes of one processor, and half on
two. A draws file, such as chipsim/data/model_draws.csv, gets the draws, a table file, such as
examples/reference/literature.csv, the table.
"""

from __future__ import annotations

import csv
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from functools import partial
from pathlib import Path

import numpy as np
from figures import Figures, run

import chipsim as cs
from chipsim._shared.arrays import FloatArray
from chipsim._shared.files import whole_file
from chipsim.damage.ensemble import OF_THE_WOOD, Prior, models_at
from chipsim.damage.literature import Statement, measures, statements
from chipsim.units import table_text

CHUNK = 100
"""Models that are evaluated side by side."""

SURE = 0.97
"""What holds in so many of the prior's draws tells nothing; what fails in as many is out of the model's reach."""


@dataclass
class Population:
    """Draws as shares of the prior (count, names), and whether each meets each statement (count, statements)."""

    shares: FloatArray
    met: np.ndarray

    def taken(self, rows: np.ndarray) -> Population:
        """Some of them."""
        return Population(self.shares[rows], self.met[rows])


def asked(prior: Prior, shares: FloatArray) -> np.ndarray:
    """Whether draws at shares of the prior meet each statement, (count, statements)."""
    known = [k for k, name in enumerate(prior.names) if name not in OF_THE_WOOD]
    models = models_at([prior.names[k] for k in known], prior.values(shares)[:, known])
    found = [measures(models[k : k + CHUNK]) for k in range(0, len(models), CHUNK)]
    each = zip(statements(), np.concatenate(found, axis=1), strict=True)
    return np.stack([s.met(values) for s, values in each], axis=1)


def factors(some: tuple[Statement, ...]) -> tuple[FloatArray, FloatArray]:
    """Logarithm of a draw's factor for each statement, met and not met."""
    r, g = np.array([s.reliability for s in some]), np.array([s.weight for s in some])
    return g * np.log(r), g * np.log1p(-r)


def evidence(met: np.ndarray) -> FloatArray:
    """Logarithm of the weight of draws, (count,)."""
    yes, no = factors(statements())
    return np.asarray(met @ yes + ~met @ no)


def effective(log_weights: FloatArray) -> float:
    """Effective size of weighted draws."""
    w = np.exp(log_weights - log_weights.max())
    return float(w.sum() ** 2 / (w * w).sum())


def next_step(log_evidence: FloatArray, left: float) -> float:
    """Share of the evidence that leaves half of the effective size, at most what is left."""
    if effective(left * log_evidence) >= len(log_evidence) / 2:
        return left
    low, high = 0.0, left
    for _ in range(40):
        middle = (low + high) / 2
        low, high = (middle, high) if effective(middle * log_evidence) > len(log_evidence) / 2 else (low, middle)
    return float(low)


def drawn_again(log_weights: FloatArray, rng: np.random.Generator) -> np.ndarray:
    """Rows of equally likely draws, by one comb."""
    w = np.exp(log_weights - log_weights.max())
    comb = (np.arange(len(w)) + rng.random()) / len(w)
    return np.asarray(np.minimum(np.searchsorted(np.cumsum(w / w.sum()), comb), len(w) - 1))


def proposed(shares: FloatArray, rng: np.random.Generator) -> FloatArray:
    """Every draw moved along the difference of two others in some of its coordinates; walls throw back."""
    count, names = shares.shape
    one, two = (rng.integers(0, count, count) for _ in range(2))
    free = rng.random((count, names)) < rng.choice([0.15, 0.4, 1.0], (count, 1))
    free[np.arange(count), rng.integers(0, names, count)] = True
    stride = 2.38 / np.sqrt(2 * free.sum(axis=1, keepdims=True)) * np.exp(0.5 * rng.standard_normal((count, 1)))
    noise = 0.02 * rng.standard_normal((count, names))
    moved = shares + free * (stride * (shares[one] - shares[two]) + noise)
    return np.asarray(np.abs((moved + 1.0) % 2.0 - 1.0))


def conditioned(prior: Prior, first: Population, moves: int, rng: np.random.Generator) -> tuple[Population, list[str]]:
    """Take draws of the prior to their weights, and say how it went."""
    now, heat, told = first, 0.0, []
    ancestors = np.arange(len(first.shares))
    while heat < 1.0:
        value = evidence(now.met)
        step = next_step(value, 1.0 - heat)
        rows = drawn_again(step * value, rng)
        size = effective(step * value)
        heat, now, ancestors = heat + step, now.taken(rows), ancestors[rows]
        accepted = 0.0
        for _ in range(moves if heat < 1.0 else 2 * moves):
            shares = proposed(now.shares, rng)
            other = Population(shares, asked(prior, shares))
            gain = heat * (evidence(other.met) - evidence(now.met))
            better = np.log(rng.random(len(gain))) < gain
            now.shares[better], now.met[better] = other.shares[better], other.met[better]
            accepted += better.mean()
        told.append(
            f"  evidence to the power {heat:.3f}: effective size {size:.0f} of {len(rows)} before they were drawn "
            f"again, {np.unique(ancestors).size} first draws left, {accepted / moves:.2f} moves a draw and round"
        )
    return now, told


def population(draws: int, moves: int, seed: int) -> tuple[Population, Population, str]:
    """Draws of the prior, what their weights make of them, and how it went."""
    prior, rng = Prior.of_risk_model(), np.random.default_rng(seed)
    shares = rng.random((draws, len(prior.names)))
    first = Population(shares, asked(prior, shares))
    end, told = conditioned(prior, Population(shares.copy(), first.met.copy()), moves, rng)
    return first, end, "\n".join([f"population {seed}, {draws} draws", *told])


def left_out(met: np.ndarray) -> tuple[FloatArray, FloatArray]:
    """Share of the draws that meet each statement, conditioned on all others, and the least effective size."""
    yes, no = factors(statements())
    weights = np.exp(-(met * yes + ~met * no))
    return (met * weights).sum(axis=0) / weights.sum(axis=0), weights.sum(axis=0) ** 2 / (weights**2).sum(axis=0)


def worth(one: np.ndarray, two: np.ndarray) -> float:
    """How many independent draws two populations together are worth, from how far their shares part."""
    p, q = one.mean(axis=0), two.mean(axis=0)
    middle = (p + q) / 2
    open_ones = (middle > 0.1) & (middle < 0.9)
    # of two independent halves of n draws the shares part by 4 middle (1 - middle) / n in the mean square
    return float(4 * (middle * (1 - middle))[open_ones].sum() / ((p - q) ** 2)[open_ones].sum())


def learned(shares: FloatArray) -> FloatArray:
    """Bits by which each coefficient's shares depart from even ones, ten bins, (names,)."""
    bins = np.stack([np.bincount(np.minimum((c * 10).astype(int), 9), minlength=10) for c in shares.T], axis=1)
    p = bins / len(shares)
    return np.asarray((p * np.log2(np.where(p > 0, 10 * p, 1.0))).sum(axis=0))


def rows_of(before: FloatArray, after: FloatArray, without: FloatArray, default: FloatArray) -> list[tuple[str, ...]]:
    """The table, a row a statement below its heading."""
    rows: list[tuple[str, ...]] = [("statement", "source", "before", "after", "left out", "defaults", "")]
    for k, s in enumerate(statements()):
        says = f"{default[k]:.3g} ({s.bound})" if np.isfinite(default[k]) else "not known"
        note = "tells nothing" if before[k] >= SURE else "out of reach" if before[k] <= 1 - SURE else ""
        met = "met" if s.met(default[k : k + 1])[0] else "not met"
        shares = [f"{share[k]:.2f}" for share in (before, after, without)]
        rows.append((s.key, s.source, *shares, f"{met}, {says}", note))
    return rows


def write_page(path: str, rows: list[tuple[str, ...]]) -> None:
    """The table as examples/reference/literature.csv holds it."""
    with whole_file(Path(path)) as out:
        csv.writer(out, lineterminator="\n").writerows(rows)


def write_draws(path: str, prior: Prior, shares: FloatArray) -> None:
    """The draws as data/model_draws.csv holds them."""
    with whole_file(Path(path)) as out:
        out.write(
            "# Equally likely draws of RiskModel, what literature.csv leaves of its prior; benchmarks/literature.py.\n"
        )
        out.write(",".join(prior.names) + "\n")
        for row in prior.values(shares):
            out.write(",".join(f"{value:.4g}" for value in row) + "\n")


def main(
    draws: int = 200, moves: int = 4, file: str = "", page: str = "", figures: Figures | None = None
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Print the tables and return the shares of the draws that meet each statement: before, after, left out."""
    prior = Prior.of_risk_model()
    ask = partial(population, draws, moves)
    if draws > 100:
        with ProcessPoolExecutor(2) as pool:
            both = list(pool.map(ask, (1, 2)))
    else:
        both = [ask(seed) for seed in (1, 2)]
    firsts, ends, told = zip(*both, strict=True)
    print(*told, sep="\n")
    before = np.concatenate([f.met for f in firsts])
    met, shares = (np.concatenate([getattr(e, name) for e in ends]) for name in ("met", "shares"))
    for k, name in enumerate(prior.names):
        if name in OF_THE_WOOD:  # no statement tells it: copies of a draw need not share it
            shares[:, k] = (np.random.default_rng(3).permutation(len(shares)) + 0.5) / len(shares)
    without, size = left_out(met)
    default = measures([cs.RiskModel()])[:, 0]
    rows = rows_of(before.mean(axis=0), met.mean(axis=0), without, default)
    print(table_text(rows))
    independent = worth(ends[0].met, ends[1].met)
    alone = effective(evidence(before))
    print(
        f"statements met: {before.sum(axis=1).mean():.1f} of {len(default)} before, {met.sum(axis=1).mean():.1f} after"
    )
    print(f"effective size of the prior's {len(before)} draws under the weights: {alone:.0f}")
    print(
        f"the {len(met)} draws are worth about {independent:.0f} independent ones; left out at least {size.min():.0f}"
    )
    bits, values = learned(shares), prior.values(shares)
    for k in np.argsort(-bits):
        low, middle, high = np.percentile(values[:, k], [10, 50, 90])
        at = getattr(cs.RiskModel(), prior.names[k])
        print(f"  {prior.names[k]:20} {bits[k]:.2f} bits; {low:.3g} {middle:.3g} {high:.3g}; default {at:.3g}")
    if file:
        write_draws(file, prior, shares)
    if page:
        write_page(page, rows)
    if figures is not None:
        figures |= {"effective size": (independent, "-"), "met after": (float(met.sum(axis=1).mean()), "-")}
    return before.mean(axis=0), met.mean(axis=0), without


if __name__ == "__main__":
    run(main, draws=200, moves=4, file="", page="")
