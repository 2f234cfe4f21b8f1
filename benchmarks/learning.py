"""How well test pieces teach: invented boards whose coefficients are known, cut, graded and fitted.

    python benchmarks/learning.py [boards] [wrong boards] [steps of a chain] [boards of each foreign world]
        [boards of other woods] [boards that a piece is paid for on] [--json FILE] [--runs N]

Every board draws its coefficients, its grader and its wood from the priors; the piece is three feeds of twin rings with
12 sectors. The report says how often the 80 % bands held the truth, how often the right feed and the worst direction
were found against the free harmonic curve, and how often a wrong model is found out (truth then from the harmonic
curve) or wrongly accused. 200 boards take some twenty minutes on one processor.

Foreign worlds are boards that obey something else, dials that were never turned, and readers who drift or use only some
grades; twice two speeds and feeds, eight sectors. Before each speed had an effect of its own, the odds for the higher
mark were 77 to 100 % where speed does nothing and where the dial was not turned, as with the library's own truth, and
no check spoke; bands of poor share held 8 of 15 under harmonic, lopsided and zoned truths.

Other woods: a fit of one board is asked of another board of the species and of another species, whose coefficients
share with the first one's what `priors.KIN` says; the share of true counts that lie in 8-in-10 bands. 'Before' is the
fixed spread of 0.4 that stood for both.

The value of a piece: on boards drawn from what is known the piece is cut, graded and fitted, the job's setting is
chosen by the fit and paid for under the truth; against the regression of `next_coupon` and against knowing everything.
Before the flags of scorch were weighed by what does not burn, 18 boards lost 1.7 +- 0.9 minutes a job by being tested.

The chain samples the posterior of one fitted board itself, with nothing straightened, and compares it with Laplace's
approximation: coefficients, grader, and what is foretold of two rings that were left out. 20 000 steps take some five
minutes.
"""

import time
from collections.abc import Sequence
from dataclasses import replace
from typing import NamedTuple

import numpy as np
from figures import Figures, run
from scipy.special import log_expit, logsumexp

import chipsim as cs
from chipsim._shared.arrays import FloatArray
from chipsim.damage.models import thickest
from chipsim.damage.priors import BOARD as BETWEEN
from chipsim.damage.priors import KIN, RING, SPECIES, Coefficients, Draws, Grader, latent
from chipsim.learning.fitting import (
    CrossValidation,
    _Cells,
    _cells,
    _effects,
    _Family,
    _harmonic,
    _mechanistic,
    _observations,
    _outlooks,
    _Problem,
)
from chipsim.learning.nextpiece import _boards_of, _Options, _settings, _Signals, worth_of_sample
from chipsim.learning.sectors import RingSectors

BIT = cs.VBit(60, 12.7, 2, 0.2)
MACHINE = cs.Machine(400, 4000, plunge_feed=500)
BOARD = cs.Board(cs.wood("sugar maple", moisture=8), cs.straight_grain(0))


def piece(feeds: Sequence[float] = (700, 1500, 3200), sectors: int = 12) -> cs.Coupon:
    """The test piece of all boards."""
    return cs.coupon(BIT, BOARD, 16_000, feeds, machine=MACHINE, sectors=sectors, straight_pair=False, stair=False)


def truth(
    strikes: RingSectors, rng: np.random.Generator
) -> tuple[FloatArray, FloatArray, cs.RiskModel, Grader, FloatArray]:
    """Coordinates of a board from the priors, its model, its grader and latents (3, cells)."""
    coefficients = Coefficients(cs.RiskModel())
    z, q = rng.standard_normal(len(coefficients.names)), rng.standard_normal(9)
    model = coefficients.model(z)
    return z, q, model, Grader.at(q), latent(strikes.risks(model))


def poor_share(latents: FloatArray, grader: Grader) -> FloatArray:
    """Chance of a poor grade in every cell, as `fitting` reckons it. (cells,)"""
    fuzz, tear = (grader.chances(k, latents[i], 0.365)[:, 3:].sum(axis=1) for i, k in enumerate(("fuzz", "tear")))
    share: FloatArray = 1 - (1 - fuzz) * (1 - tear)
    return share


def choices(poor: FloatArray, cells: _Cells) -> tuple[int, float, FloatArray]:
    """Best setting and worst direction of true or predicted shares, with the shares of all settings."""
    settings = np.array([poor[cells.setting == i].mean() for i in range(len(cells.settings))])
    heading = np.round(cells.heading % 180, 3) % 180
    kinds = np.unique(heading)
    by = np.array([poor[heading == k].mean() for k in kinds])
    return int(settings.argmin()), float(kinds[by.argmax()]), settings


def free_curve(strikes: RingSectors, grades: cs.Grades) -> tuple[int, float]:
    """Best setting and worst direction by the harmonic curve."""
    cells = _cells([strikes])
    data = _observations([strikes], [grades], np.ones((3, len(strikes)), bool))
    problem = _Problem(_harmonic(cells), data, _effects(cells))
    share, by_direction = _outlooks(problem, problem.solve_whole(), cells, np.ones((3, len(strikes)), bool))
    return int(share[0].argmin()), max(by_direction, key=lambda d: by_direction[d].median)


def apart(a: float, b: float) -> float:
    """Angle between two directions. [deg]"""
    d = abs(a - b) % 180
    return min(d, 180 - d)


def compared(fitted: cs.FittedModel) -> CrossValidation:
    """The comparison of a fit of several rings, which always has one."""
    assert fitted.comparison is not None
    return fitted.comparison


def boards(
    count: int, seed: int = 0, feeds: Sequence[float] = (700, 1500, 3200), sectors: int = 12
) -> list[dict[str, float]]:
    """One row a board: what was held, found and lost."""
    coupon = piece(feeds, sectors)
    strikes = RingSectors(coupon, cs.RiskModel().bundle)
    cells = _cells([strikes])
    rows = []
    for i in range(count):
        rng = np.random.default_rng([seed, i])
        z, q, model, grader, eta = truth(strikes, rng)
        grades = cs.invented_grades(coupon, model, grader=grader, seed=1000 * seed + i)
        fitted = cs.fit(coupon, grades)
        t = np.concatenate([z, q])
        spread = np.sqrt(np.diag(fitted.covariance))
        inside = np.abs(t - fitted.parameters) <= 1.2815515655446004 * spread
        true_poor = poor_share(eta, grader)
        right, worst, share = choices(true_poor, cells)
        free_best, free_worst = free_curve(strikes, grades)
        mine = cells.settings.index(min(fitted.outlooks, key=lambda s: fitted.outlooks[s].median))
        found = fitted.worst_direction()
        assert found is not None
        settings = [fitted.outlooks[s] for s in cells.settings]
        rows.append(
            {
                "learned": inside[spread < 0.8].mean() if (spread < 0.8).any() else np.nan,
                "all": inside[spread < 0.999].mean(),
                "grader": inside[len(z) :].mean(),
                "noise": inside[-1],
                "noise error": fitted.parameters[-1] - q[-1],
                "poor": np.mean([o.low <= s <= o.high for o, s in zip(settings, share, strict=True)]),
                "feed": mine == right,
                "feed, curve": free_best == right,
                "loss": share[mine] - share[right],
                "loss, curve": share[free_best] - share[right],
                "direction": apart(found, worst) <= 15.001,
                "direction, curve": apart(free_worst, worst) <= 15.001,
                "held": compared(fitted).held,
                "accused": compared(fitted).wrong,
                "wins": compared(fitted).behind < 0,
            }
        )
    return rows


def wrong_boards(count: int, seed: int = 0) -> list[bool]:
    """Shares of boards whose truth is a harmonic curve, found out by the fit."""
    coupon = piece()
    strikes = RingSectors(coupon, cs.RiskModel().bundle)
    family = _harmonic(_cells([strikes]))
    found = []
    for i in range(count):
        rng = np.random.default_rng([seed, i, 1])
        eta = family.latents(rng.standard_normal(family.size))[:2] + latent(np.array(0.2))
        grades = cs.invented_grades(coupon, latents=eta, seed=1000 * seed + i)
        found.append(compared(cs.fit(coupon, grades)).wrong)
    return found


# ------------------------------------------------------------------------------------------ foreign worlds

WORLDS = (
    "own law",
    "speed does nothing",
    "dial never turned",
    "harmonic",
    "lopsided",
    "zones",
    "drift",
    "only 0, 2, 4",
)


BEFORE = (
    ("speed does nothing", "0.77 to 1.00", "-"),
    ("dial never turned", "0.77 to 1.00", "-"),
    ("harmonic, lopsided, zones", "-", "0.53"),
)
"""What was read off before each speed had an effect of its own and bands were widened by what left-out rings show."""


def foreign(count: int, seed: int = 0) -> list[dict[str, float]]:
    """A row for each world, with shares over its boards, and print them."""
    coupon = cs.coupon(BIT, BOARD, [12_000, 18_000], [800, 2400], machine=MACHINE, sectors=8, straight_pair=False,
                       stair=False)  # fmt: skip
    strikes = RingSectors(coupon, cs.RiskModel().bundle)
    cells = _cells([strikes])

    def turned(per_tooth: bool) -> RingSectors:
        """The piece as it is cut with the dial at the lower mark; or as feed per tooth alone would have it."""
        rings = []
        for r in coupon.rings:
            feed = r.cut.largest_feed * (12_000 / r.cut.spindle_speed if per_tooth else 1.0)
            rings.append(replace(r, cut=replace(r.cut, spindle_speed=12_000, feed=feed)))
        return RingSectors(replace(coupon, rings=tuple(rings)), cs.RiskModel().bundle)

    others = {"speed does nothing": turned(True), "dial never turned": turned(False)}
    left = np.array([r.centre[0] < np.mean([q.centre[0] for q in coupon.rings]) for r in coupon.rings])[strikes.ring]
    rows = []
    print("\n| world | odds of the higher mark | step learned | law broken | bands held | useless said | wrong said "
          "| drift said | widened by |\n|---|---|---|---|---|---|---|---|---|")  # fmt: skip
    for world, odds, holds in BEFORE:
        print(f"| {world}, before | {odds} | - | 0 | {holds} | - | - | - | - |")
    for world in WORLDS:
        found = []
        for i in range(count):
            rng = np.random.default_rng([seed, i, 3])
            _, _, model, grader, eta = truth(others.get(world, strikes), rng)
            if world == "harmonic":
                family = _harmonic(cells)
                eta = family.latents(rng.standard_normal(family.size)) + float(latent(np.array(0.2)))
            elif world == "lopsided":
                eta = eta + 0.8 * cells.kind
            elif world == "zones":
                eta = eta + 1.2 * (left - 0.5)
            grades = cs.invented_grades(coupon, model, latents=eta[:2], grader=grader, seed=1000 * seed + i)
            rows_ = grades.rows
            if world == "drift":
                late = cs.invented_grades(coupon, model, latents=eta[:2] + 0.8, grader=grader, seed=1000 * seed + i)
                rows_ = tuple(r for r in grades if r.reading == 1) + tuple(r for r in late if r.reading == 2)
            elif world == "only 0, 2, 4":
                rows_ = tuple(r._replace(grade=2 * ((r.grade + 1) // 2)) if r.grade else r for r in rows_)
            fitted = cs.fit(coupon, cs.Grades(coupon.name, rows_, coupon.identity))
            _, _, share = choices(poor_share(eta, grader), cells)
            outlooks = [fitted.outlooks[s] for s in cells.settings]
            law = fitted.speed_law
            assert law is not None
            high = sum(o.cleanest for s, o in fitted.outlooks.items() if s.spindle_speed == 18_000)
            held = np.mean([o.low <= s <= o.high for o, s in zip(outlooks, share, strict=True)])
            found.append([high, law.learned, law.broken, held, not compared(fitted).useful, compared(fitted).wrong,
                          any("drifted" in n for n in fitted.notes), fitted.discrepancy])  # fmt: skip
        mean = np.mean(np.array(found, dtype=float), axis=0)
        spread = f"{min(f[0] for f in found):.2f} to {max(f[0] for f in found):.2f}"
        print(f"| {world} | {spread} | " + " | ".join(f"{v:.2f}" for v in mean[1:]) + " |", flush=True)
        names = ("odds", "learned", "broken", "held", "useless", "wrong", "drift", "widened")
        rows.append(dict(zip(names, mean.tolist(), strict=True)))
    return rows


def counts(draws: Draws, strikes: RingSectors, cells: _Cells) -> FloatArray:
    """Share of poor lip of every setting for each draw, (draws, settings)."""
    eta = latent(strikes.risk_sets(draws.models))[:2]
    found = []
    for i, grader in enumerate(draws.graders):
        poor = poor_share(eta[:, :, i] + draws.shifts[i], grader)
        found.append([poor[cells.setting == k].mean() for k in range(len(cells.settings))])
    return np.array(found)


def other_woods(count: int, seed: int = 0) -> dict[str, float]:
    """Share of the true counts inside 8-in-10 bands, on the board itself, on another one and on another species."""
    coupon = piece(sectors=8)
    strikes = RingSectors(coupon, cs.RiskModel().bundle)
    woods = {
        "the board itself": BOARD,
        "another board": cs.Board(cs.wood("sugar maple", moisture=11), cs.straight_grain(0)),
        "another species": cs.Board(cs.wood("white oak", moisture=8), cs.straight_grain(0)),
    }
    coefficients = Coefficients(cs.RiskModel())
    share, beyond = (1.0, *KIN), (0.0, BETWEEN, float(np.hypot(BETWEEN, SPECIES)))
    held: dict[str, list[float]] = {}
    for i in range(count):
        rng = np.random.default_rng([seed, i, 4])
        z, _, model, grader, _ = truth(strikes, rng)
        fitted = cs.fit(coupon, cs.invented_grades(coupon, model, grader=grader, seed=1000 * seed + i))
        for k, (name, board) in enumerate(woods.items()):
            there = RingSectors(replace(coupon, board=board), cs.RiskModel().bundle)
            cells = _cells([there])
            own = share[k] * z + np.sqrt(1 - share[k] ** 2) * rng.standard_normal(len(z))
            shift = np.hypot(RING, beyond[k]) * rng.standard_normal(1)
            one = Draws((coefficients.model(own),), (grader,), shift, own[None], coefficients.names)
            true = counts(one, there, cells)[0]
            plain = fitted.draws(128, i)
            old = plain._replace(shifts=plain.shifts + BETWEEN * (k > 0) * rng.standard_normal(128))
            for when, drawn in (("", fitted.draws(128, i, board)), (", before", old)):
                low, high = np.percentile(counts(drawn, there, cells), [10, 90], axis=0)
                held.setdefault(name + when, []).append(float(np.mean((low <= true) & (true <= high))))
                held.setdefault(f"{name}{when}, width", []).append(float(np.mean(high - low)))
    mean = {name: float(np.mean(v)) for name, v in held.items()}
    print("\n| bands of the count, of a fit of one board | share |\n|---|---|")
    for name, value in mean.items():
        print(f"| {name} | {value:.2f} |", flush=True)
    return mean


def paid_for(count: int, seed: int = 11) -> dict[str, float]:
    """Minutes that a graded piece saves on a job if `fit` chooses, against the regression and against everything."""
    bit, board = cs.VBit(90, 10, 2), cs.Board(cs.wood("black cherry", moisture=8), cs.straight_grain(0))
    machine = cs.Machine(800, 5000)
    job = cs.Carving((cs.Cut(bit, cs.rosette(25, 12, 8, 2), 18_000, 1200),))
    known = cs.RiskModel()
    drawn = _boards_of(known, board, 256, seed)
    settings = _settings(bit, machine, [12_000, 16_500, 21_000], [600, 1200, 2400])
    options = _Options.made(job, board, machine, settings, thickest(drawn.models))
    minutes = options.minutes(range(len(options)), drawn, cs.HandWork())
    test = cs.coupon(bit, board, 16_500, [600, 1200, 2400], machine=machine, sectors=8, depth=2, straight_pair=False,
                     stair=False)  # fmt: skip
    foretold, error = worth_of_sample(minutes, _Signals(known, board, drawn, seed).of(test))
    base = int(minutes.mean(axis=0).argmin())
    rng = np.random.default_rng(5)
    saved = []
    for d in range(count):
        # piece and job share the board; what makes the job worse than another one is its own
        share = BETWEEN**2 / (BETWEEN**2 + RING**2)
        level = float(drawn.shifts[d] * share + BETWEEN * np.sqrt(1 - share) * rng.standard_normal())
        grades = cs.invented_grades(test, drawn.models[d], grader=drawn.graders[d].shifted(level, level), seed=d)
        fitted = cs.fit(test, grades)
        reckoned = options.minutes(range(len(options)), fitted.draws(128, d, board), cs.HandWork()).mean(axis=0)
        saved.append((minutes[d, base] - minutes[d, reckoned.argmin()], minutes[d, base] - minutes[d].min()))
    by_fit, best = np.array(saved).T
    found = {"by the fit": by_fit.mean(), "error": by_fit.std() / np.sqrt(count), "everything": best.mean()}
    found |= {"foretold": foretold, "its error": error, "worst": by_fit.min()}
    print("\n| a piece on " + f"{count} boards | minutes saved on a job |\n|---|---|")
    for name, value in found.items():
        print(f"| {name} | {value:.2f} |", flush=True)
    return {name: float(v) for name, v in found.items()}


# ------------------------------------------------------------------------------ Laplace against sampling


def problem_of(coupon: cs.Coupon, grades: cs.Grades) -> _Problem:
    """The problem that `fit` solves, not straightened."""
    pieces = [RingSectors(coupon, cs.RiskModel().bundle)]
    known = np.isfinite(pieces[0].risks(cs.RiskModel()))
    family = _mechanistic(pieces, Coefficients(cs.RiskModel()))
    return _Problem(family, _observations(pieces, [grades], known), _effects(_cells(pieces)))


def log_posterior(problem: _Problem, eta: FloatArray, q: FloatArray, wood: FloatArray) -> FloatArray:
    """Of latents (3, cells), a grader (9,) and effects of the wood (n, u), the coefficients' own prior left out. (n,)

    In its own words, from the definitions: proportional odds, standard normal priors.
    """
    d, grader, half = problem.data, Grader.at(q), wood.shape[1] // 2
    total: FloatArray = -(wood**2).sum(axis=1) / 2 - q @ q / 2
    for k, cuts, noise in ((0, grader.fuzz, grader.noise), (1, grader.tear, grader.noise), (2, (0.0,), 1.0)):
        mine = d.response == k
        own = eta[k] + (wood[:, k * half : (k + 1) * half] @ problem.effects.T if k < 2 else np.zeros((len(wood), 1)))
        ends = np.concatenate([[-np.inf], cuts, [np.inf]])
        seen = own[:, d.cell[mine]] + np.broadcast_to(d.drift, d.cell.shape)[mine]
        a, b = ((ends[g] - seen) / noise for g in (d.high[mine] + 1, d.low[mine]))
        # F(a) - F(b) from the side on which both are small, so that no digits are lost
        flip = a + b > 0
        upper, lower = np.where(flip, -b, a), np.where(flip, -a, b)
        gap = log_expit(upper) + np.log1p(-np.exp(np.minimum(log_expit(lower) - log_expit(upper), -1e-12)))
        total = total + gap @ d.weight[mine]
    return total


def wood_given(problem: _Problem, eta: FloatArray, q: FloatArray, start: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Mode (u,) of the wood's effects, all else held, and the curvature there."""
    fixed = _Problem(_Family.linear(np.zeros((*eta.shape, 0)), eta), problem.data, problem.effects)
    p = np.concatenate([q, start])
    loss, slope, curvature = fixed.terms(p)
    for _ in range(40):
        step = np.linalg.solve(curvature[9:, 9:], slope[9:])
        if np.abs(step).max() < 1e-4:
            break
        for share in 0.5 ** np.arange(12):
            tried = np.concatenate([q, p[9:] - share * step])
            new = fixed.terms(tried)
            if new[0] <= loss + 1e-9:
                break
        p, (loss, slope, curvature) = tried, new
    return p[9:], curvature[9:, 9:]


class Chain(NamedTuple):
    """States (steps, coordinates) of a chain, and the share of steps that moved."""

    states: FloatArray
    moved: float


def chain(
    problem: _Problem,
    middle: FloatArray,
    covariance: FloatArray,
    steps: int,
    step: float,
    seed: int = 0,
    inner: int = 8,
) -> Chain:
    """Metropolis over coefficients and grader, the wood integrated out by importance sampling at every step.

    Steps turn about the middle (preconditioned Crank-Nicolson), of a size in (0, 1]; with an unbiased estimate in the
    place of the density the chain is that of the exact posterior (pseudo-marginal), whatever middle and covariance.
    """
    rng = np.random.default_rng(seed)
    m, root = problem.family.size, np.linalg.cholesky(covariance)
    wood = np.zeros(2 * problem.effects.shape[1])

    def density(x: FloatArray, wood: FloatArray) -> tuple[float, FloatArray]:
        """Log of the posterior over that of the normal the steps leave alone, and the wood's mode."""
        p = middle + root @ x
        eta = problem.family.latents(p[:m])
        mode, curvature = wood_given(problem, eta, p[m:], wood)
        low = np.linalg.cholesky(curvature)
        e = rng.standard_normal((inner, len(mode)))
        drawn = mode + 1.05 * np.linalg.solve(low.T, e.T).T
        of_draws = np.log(np.diag(low)).sum() - (e**2).sum(axis=1) / 2
        found = logsumexp(log_posterior(problem, eta, p[m:], drawn) - of_draws)
        return float(found - p[:m] @ p[:m] / 2 + x @ x / 2), mode

    x = np.zeros(len(middle))
    here, wood = density(x, wood)
    states, moved = np.empty((steps, len(x))), 0
    for i in range(steps):
        tried = np.sqrt(1 - step**2) * x + step * rng.standard_normal(len(x))
        there, mode = density(tried, wood)
        if np.log(rng.random()) < there - here:
            x, here, wood, moved = tried, there, mode, moved + 1
        states[i] = middle + root @ x
    return Chain(states, moved / steps)


def effective(x: FloatArray) -> float:
    """Number of independent draws a chain (n,) is worth: autocorrelations summed until they fall below 0.05."""
    d = x - x.mean()
    spectrum = np.abs(np.fft.rfft(d, 2 * len(d))) ** 2
    r = np.fft.irfft(spectrum)[: len(d)]
    if r[0] <= 0:
        return 1.0
    r = r / r[0]
    end = int(np.argmax(r < 0.05)) or len(r)
    return float(len(x) / (1 + 2 * r[1:end].sum()))


def foretold(coupon: cs.Coupon, states: FloatArray) -> FloatArray:
    """Mean fuzz and mean tear of a piece for every state, (2, states)."""
    coefficients, strikes = Coefficients(cs.RiskModel()), RingSectors(coupon, cs.RiskModel().bundle)
    models = [coefficients.model(z[: len(coefficients.names)]) for z in states]
    return np.array([strikes.risks(model)[:2].mean(axis=1) for model in models]).T


class Apart(NamedTuple):
    """What Laplace says of a number, and what sampling says."""

    name: str
    mean: float
    spread: float
    sampled_mean: float
    sampled_spread: float
    held: float
    effective: float

    @property
    def shift(self) -> float:
        """Of the mean, in spreads."""
        return (self.sampled_mean - self.mean) / self.spread

    @property
    def ratio(self) -> float:
        """Of the spreads, sampled over Laplace's."""
        return self.sampled_spread / self.spread


def against_sampling(
    coupon: cs.Coupon,
    grades: cs.Grades,
    fitted: cs.FittedModel,
    other: cs.Coupon,
    steps: int,
    step: float,
    seed: int = 0,
    few: int = 1000,
) -> tuple[list[Apart], Chain]:
    """Every coordinate, and the mean fuzz and tear of another piece, by Laplace and by a chain; the 80 % bands' share.

    Of the other piece only a few states are asked.

    Returns rows `Apart` and the chain.
    """
    found = chain(problem_of(coupon, grades), fitted.parameters, fitted.covariance, steps, step, seed)
    states = found.states[steps // 10 :]
    names = [*fitted.coefficients.names, *(f"cut {k}{i + 1}" for k in ("fuzz ", "tear ") for i in range(4)), "noise"]
    rows = []
    for name, x, mid, size in zip(names, states.T, fitted.parameters, np.sqrt(np.diag(fitted.covariance)), strict=True):
        held = np.mean(np.abs(x - mid) <= 1.2815515655446004 * size)
        rows.append(Apart(name, mid, size, x.mean(), x.std(), held, effective(x)))
    thin = states[:: max(1, len(states) // few)]
    normal = np.random.default_rng(seed + 1).multivariate_normal(fitted.parameters, fitted.covariance, len(thin))
    by_chain, by_laplace = foretold(other, thin), foretold(other, normal)
    for name, x, y in zip(("mean fuzz left out", "mean tear left out"), by_chain, by_laplace, strict=True):
        low, high = np.percentile(y, [10, 90])
        held = np.mean((x >= low) & (x <= high))
        rows.append(Apart(name, y.mean(), y.std(), x.mean(), x.std(), held, effective(x)))
    return rows, found


def sampling(steps: int, seed: int = 4) -> list[Apart]:
    """Print Laplace against sampling for a board of the protocol whose middle feed was not read."""
    coupon, coefficients = piece((700, 3200)), Coefficients(cs.RiskModel())
    z = np.random.default_rng([seed, 2]).standard_normal(len(coefficients.names))
    grades = cs.invented_grades(coupon, coefficients.model(z), seed=seed)
    fitted = cs.fit(coupon, grades)
    rows, found = against_sampling(coupon, grades, fitted, piece((1500,)), steps, 0.35)
    print(f"\n{steps} steps, {found.moved:.0%} moved\n")
    print("| what | Laplace | sampled | shift | spread | in Laplace's 80 % | worth |\n|---|---|---|---|---|---|---|")
    for r in sorted(rows, key=lambda r: r.spread):
        print(
            f"| {r.name} | {r.mean:.3f} +- {r.spread:.3f} | {r.sampled_mean:.3f} +- {r.sampled_spread:.3f} "
            f"| {r.shift:+.2f} | {r.ratio:.2f} | {r.held:.2f} | {r.effective:.0f} |"
        )
    return rows


def main(
    count: int = 200,
    wrong: int = 50,
    steps: int = 0,
    worlds: int = 0,
    woods: int = 0,
    pieces: int = 0,
    figures: Figures | None = None,
) -> dict[str, float]:
    """Print the tables and return the means of the first one's rows."""
    begin = time.perf_counter()
    rows = boards(count)
    mean = {k: float(np.nanmean([r[k] for r in rows])) for k in rows[0]} if rows else {}
    if rows:
        print(f"{count} boards, {(time.perf_counter() - begin) / count:.1f} s each\n")
    if rows or wrong:
        print("| what | share |\n|---|---|")
    for name, value in mean.items():
        print(f"| {name} | {value:.3f} |")
    if wrong:
        mean["found out"] = float(np.mean(wrong_boards(wrong)))
        print(f"| wrong model found out, of {wrong} | {mean['found out']:.3f} |")
    if steps:
        sampling(steps)
    if worlds:
        for world, row in zip(WORLDS, foreign(worlds), strict=True):
            mean |= {f"{world}: {name}": value for name, value in row.items()}
    if woods:
        mean |= other_woods(woods)
    if pieces:
        mean |= {f"piece: {name}": value for name, value in paid_for(pieces).items()}
    if figures is not None:
        figures.update({name: (value, "-") for name, value in mean.items()})
    return mean


if __name__ == "__main__":
    run(main, count=200, wrong=50, steps=0, worlds=0, woods=0, pieces=0)
