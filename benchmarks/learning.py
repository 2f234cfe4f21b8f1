"""How well test pieces teach: invented boards whose coefficients are known, cut, graded and fitted.

    python benchmarks/learning.py [boards] [wrong boards]

Every board draws its coefficients, its reader and its wood from the priors; the piece is three feeds of twin rings with
12 sectors. The report says how often the 80 % bands held the truth, how often the right feed and the worst direction
were found against the free harmonic curve, and how often a wrong model is found out (truth then from the harmonic
curve) or wrongly accused. 200 boards take some twenty minutes on one processor.
"""

import sys
import time

import numpy as np

import chipsim as cs
from chipsim.fitting import _cells, _effects, _harmonic, _observations, _outlooks, _Problem
from chipsim.priors import Coefficients, Reader, latent
from chipsim.sectors import SectorStrikes

BIT = cs.VBit(60, 12.7, 2, 0.2)
MACHINE = cs.Machine(400, 4000, plunge_feed=500)
BOARD = cs.Board(cs.wood("sugar maple", moisture=8), cs.straight_grain(0))


def piece(feeds=(700, 1500, 3200), sectors=12):
    """The test piece of all boards."""
    return cs.coupon(BIT, MACHINE, feeds, 16_000, board=BOARD, sectors=sectors, straight_pair=False, stair=False)


def truth(strikes, rng):
    """Coordinates of a board from the priors, its model, its reader and latents (3, cells)."""
    coefficients = Coefficients(cs.RiskModel())
    z, q = rng.standard_normal(len(coefficients.names)), rng.standard_normal(9)
    model = coefficients.model(z)
    return z, q, model, Reader.at(q), latent(strikes.risks(model))


def poor_share(latents, reader):
    """Chance of a poor grade in every cell, as `fitting` reckons it. (cells,)"""
    fuzz, tear = (reader.chances(k, latents[i], 0.365)[:, 3:].sum(axis=1) for i, k in enumerate(("fuzz", "tear")))
    return 1 - (1 - fuzz) * (1 - tear)


def choices(poor, cells):
    """Best setting and worst direction of true or predicted shares, with the shares of all settings."""
    settings = np.array([poor[cells.setting == i].mean() for i in range(len(cells.settings))])
    heading = np.round(cells.heading % 180, 3) % 180
    kinds = np.unique(heading)
    by = np.array([poor[heading == k].mean() for k in kinds])
    return int(settings.argmin()), float(kinds[by.argmax()]), settings


def free_curve(strikes, grades):
    """Best setting and worst direction by the harmonic curve."""
    cells = _cells([strikes])
    data = _observations([strikes], [grades], np.ones((3, len(strikes)), bool))
    problem = _Problem(_harmonic(cells), data, _effects(cells))
    by_setting, by_direction = _outlooks(problem, problem.solve_whole(), cells, np.ones((3, len(strikes)), bool))
    best = min(by_setting, key=lambda s: by_setting[s].median)
    return cells.settings.index(best), max(by_direction, key=lambda d: by_direction[d].median)


def apart(a, b):
    """Angle between two directions. [deg]"""
    d = abs(a - b) % 180
    return min(d, 180 - d)


def boards(count, seed=0, feeds=(700, 1500, 3200), sectors=12):
    """One row a board: what was held, found and lost."""
    coupon = piece(feeds, sectors)
    strikes = SectorStrikes(coupon, cs.RiskModel().bundle)
    cells = _cells([strikes])
    rows = []
    for i in range(count):
        rng = np.random.default_rng([seed, i])
        z, q, model, reader, eta = truth(strikes, rng)
        grades = cs.invented_grades(coupon, model, reader=reader, seed=1000 * seed + i)
        fitted = cs.fit(coupon, grades)
        t = np.concatenate([z, q])
        spread = np.sqrt(np.diag(fitted.covariance))
        inside = np.abs(t - fitted.parameters) <= 1.2815515655446004 * spread
        true_poor = poor_share(eta, reader)
        right, worst, share = choices(true_poor, cells)
        free_best, free_worst = free_curve(strikes, grades)
        mine = cells.settings.index(fitted.best_setting())
        settings = [fitted.settings[s] for s in cells.settings]
        rows.append(
            {
                "learned": inside[spread < 0.8].mean() if (spread < 0.8).any() else np.nan,
                "all": inside[spread < 0.999].mean(),
                "reader": inside[len(z) :].mean(),
                "noise": inside[-1],
                "noise error": fitted.parameters[-1] - q[-1],
                "poor": np.mean([o.low <= s <= o.high for o, s in zip(settings, share, strict=True)]),
                "feed": mine == right,
                "feed, curve": free_best == right,
                "loss": share[mine] - share[right],
                "loss, curve": share[free_best] - share[right],
                "direction": apart(fitted.worst_direction(), worst) <= 15.001,
                "direction, curve": apart(free_worst, worst) <= 15.001,
                "held": fitted.comparison.held,
                "accused": fitted.comparison.wrong,
                "wins": fitted.comparison.behind < 0,
            }
        )
    return rows


def wrong_boards(count, seed=0):
    """Shares of boards whose truth is a harmonic curve, found out by the fit."""
    coupon = piece()
    strikes = SectorStrikes(coupon, cs.RiskModel().bundle)
    family = _harmonic(_cells([strikes]))
    found = []
    for i in range(count):
        rng = np.random.default_rng([seed, i, 1])
        eta = family.latents(rng.standard_normal(family.size))[:2] + latent(np.array(0.2))
        grades = cs.invented_grades(coupon, latents=eta, seed=1000 * seed + i)
        found.append(cs.fit(coupon, grades).comparison.wrong)
    return found


def main(count=200, wrong=50):
    """Print the table and return its rows' means."""
    begin = time.perf_counter()
    rows = boards(count)
    mean = {k: float(np.nanmean([r[k] for r in rows])) for k in rows[0]}
    print(f"{count} boards, {(time.perf_counter() - begin) / count:.1f} s each\n\n| what | share |\n|---|---|")
    for name, value in mean.items():
        print(f"| {name} | {value:.3f} |")
    if wrong:
        mean["found out"] = float(np.mean(wrong_boards(wrong)))
        print(f"| wrong model found out, of {wrong} | {mean['found out']:.3f} |")
    return mean


if __name__ == "__main__":
    main(*(int(a) for a in sys.argv[1:3]))
