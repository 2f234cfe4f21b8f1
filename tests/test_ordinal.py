"""The ordinal machinery against mpmath, difference quotients and sampling."""

import mpmath
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.optimize import brentq
from strategies import reals, steadily

from chipsim._shared.ordinal import bounded, interval_terms, probabilities, spread_scale
from chipsim.damage.priors import grader_cuts, noise_at
from chipsim.learning.fitting import _Data, _Family, _Problem


@steadily(60)
@given(a=reals(-30, 30), gap=st.sampled_from([1e-6, 1e-3, 0.3, 2.0, 20.0, np.inf]), below=st.booleans())
def test_terms_against_many_digits(a, gap, below):
    upper, lower = (a, a - gap) if below else (a + gap, a)
    t = interval_terms(np.array([upper]), np.array([lower]))
    mpmath.mp.dps = 60

    def loss(x, y):
        f = [mpmath.mpf(1 if v == mpmath.inf else 0) if mpmath.isinf(v) else 1 / (1 + mpmath.exp(-v)) for v in (x, y)]
        return -mpmath.log(f[0] - f[1])

    x, y = mpmath.mpf(upper), mpmath.mpf(lower)
    assert float(t.loss[0]) == pytest.approx(float(loss(x, y)), rel=1e-7, abs=1e-12)
    h = mpmath.mpf(10) ** -20
    if np.isfinite(upper):
        slope = (loss(x + h, y) - loss(x - h, y)) / (2 * h)
        assert float(t.upper[0]) == pytest.approx(float(slope), rel=1e-6, abs=1e-12)
        bend = (loss(x + h, y) - 2 * loss(x, y) + loss(x - h, y)) / h**2
        assert float(t.upper_upper[0]) == pytest.approx(float(bend), rel=1e-5, abs=1e-9)
    if np.isfinite(lower):
        slope = (loss(x, y + h) - loss(x, y - h)) / (2 * h)
        assert float(t.lower[0]) == pytest.approx(float(slope), rel=1e-6, abs=1e-12)


def test_chances_are_differences_of_the_logistic_curve():
    """Proportional odds (McCullagh 1980, from memory): P(y <= k) = F((c - eta) / s)."""
    cuts = np.array([-2.0, -1.0, 0.5, 2.0])
    eta = np.array([-3.0, 0.0, 1.7])
    p = probabilities(eta, cuts, 0.7)
    np.testing.assert_allclose(p.sum(axis=1), 1, rtol=1e-14)
    np.testing.assert_allclose(np.cumsum(p, axis=1)[:, :4], 1 / (1 + np.exp(-(cuts - eta[:, None]) / 0.7)), rtol=1e-12)
    # more latent, never less chance of a high grade
    assert (np.diff(np.cumsum(p, axis=1), axis=0) <= 0).all()


def test_a_normal_error_is_close_to_a_wider_curve():
    """Against the integral by quadrature: the match of variances holds to three hundredths of a chance."""
    x, w = np.polynomial.hermite_e.hermegauss(60)
    for size in (0.2, 0.7, 1.5):
        for bound in (-2.0, 0.3, 1.1):
            exact = float(w @ (1 / (1 + np.exp(-(bound - size * x) / 0.55))) / w.sum())
            close = float(1 / (1 + np.exp(-bound / spread_scale(0.55, size**2))))
            assert close == pytest.approx(exact, abs=0.03)


@steadily(30)
@given(q=st.lists(reals(-3, 3), min_size=4, max_size=4))
def test_cut_points_rise_and_have_these_slopes(q):
    p = np.array(q)
    cuts, slope = grader_cuts(p)
    assert (np.diff(cuts) > 0).all()
    for k in range(4):
        step = 1e-6 * np.eye(4)[k]
        np.testing.assert_allclose(slope[:, k], (grader_cuts(p + step)[0] - grader_cuts(p - step)[0]) / 2e-6, atol=1e-7)


@steadily(40)
@given(grades=st.lists(st.integers(0, 4), min_size=1, max_size=6), which=st.integers(0, 5))
def test_a_higher_grade_never_lowers_the_badness(grades, which):
    """Theory: the logistic density is log-concave, so with cut points held the mode of a latent can only rise."""
    cuts = np.array([-np.inf, *grader_cuts(np.zeros(4))[0], np.inf])

    def mode(some):
        g = np.array(some)

        def slope(eta):
            t = interval_terms((cuts[g + 1] - eta) / 0.5, (cuts[g] - eta) / 0.5)
            return float(-np.sum(t.upper + t.lower) / 0.5 + eta)

        return brentq(slope, -40, 40, xtol=1e-12)

    k = which % len(grades)
    if grades[k] < 4:
        raised = [*grades[:k], grades[k] + 1, *grades[k + 1 :]]
        assert mode(raised) >= mode(grades) - 1e-9


def test_curvature_no_wider_than_the_prior():
    bent = np.diag([3.0, -1.0, 1.0])
    assert np.linalg.eigvalsh(bounded(bent))[0] == pytest.approx(0.8)
    good = np.diag([3.0, 1.0])
    assert bounded(good) is good


# --- a small problem with straight latents ----------------------------------------------------------------------------

CELLS, KNOWN = 48, 4


def straight(rng, effects=6):
    """A problem with four coefficients on 2 x 48 latents, truth from the priors; and that truth."""
    design = 0.8 * rng.standard_normal((3, CELLS, KNOWN))
    ring = np.arange(CELLS) // (CELLS // effects)
    random = 0.4 * (ring[:, None] == np.arange(effects)).astype(float)
    base = np.full((3, CELLS), -1.0)
    truth = rng.standard_normal(KNOWN + 9 + 2 * effects)
    family = _Family.linear(design, base)
    eta = family.latents(truth[:KNOWN])
    grade = np.empty((2, CELLS), dtype=int)
    for k in range(2):
        own = eta[k] + random @ truth[KNOWN + 9 + k * effects :][:effects]
        own += noise_at(truth[KNOWN + 8]) * rng.logistic(size=CELLS)
        grade[k] = np.searchsorted(grader_cuts(truth[KNOWN + 4 * k : KNOWN + 4 * k + 4])[0], own)
    response, cell = np.repeat([0, 1], CELLS), np.tile(np.arange(CELLS), 2)
    flat = grade.reshape(-1)
    # half of the low grades are known as "at most 1" only
    coarse = (flat <= 1) & (rng.random(2 * CELLS) < 0.5)
    hot = (eta[2] + rng.logistic(size=CELLS) > 0).astype(int)
    data = _Data(
        np.append(response, np.full(CELLS, 2)),
        np.append(cell, np.arange(CELLS)),
        np.append(np.where(coarse, 0, flat), hot),
        np.append(np.where(coarse, 1, flat), hot),
        np.ones(3 * CELLS),
    )
    return _Problem(family, data, random), truth


def test_slopes_and_curvature_against_differences():
    rng = np.random.default_rng(3)
    problem, _ = straight(rng)
    p = 0.5 * rng.standard_normal(problem.size)
    for some in (problem, problem.held(0.7)):
        loss, slope, bend = some.terms(p)
        assert loss == pytest.approx(some.value(p), rel=1e-12)
        eye = 1e-5 * np.eye(problem.size)
        np.testing.assert_allclose(slope, [(some.value(p + e) - some.value(p - e)) / 2e-5 for e in eye], atol=1e-6)
        by_steps = np.array([(some.terms(p + e)[1] - some.terms(p - e)[1]) / 2e-5 for e in eye])
        np.testing.assert_allclose(bend, by_steps, atol=1e-6)


def test_no_data_leaves_the_prior():
    problem, _ = straight(np.random.default_rng(0))
    empty = _Problem(problem.family, problem.data.take(np.zeros(3 * CELLS, bool)), problem.effects)
    mode = empty.solve_whole()
    np.testing.assert_allclose(mode.parameters, 0, atol=0.02)
    np.testing.assert_allclose(np.linalg.inv(mode.curvature), np.eye(problem.size), atol=0.02)


def test_laplace_against_sampling():
    """Random-walk Metropolis on the whole posterior, 60 000 steps with the Laplace covariance as its shape."""
    rng = np.random.default_rng(11)
    problem, _ = straight(rng)
    mode = problem.solve_whole()
    covariance = np.linalg.inv(mode.curvature)
    root = np.linalg.cholesky(covariance) * 2.2 / np.sqrt(problem.size)
    p, loss, kept, moved = mode.parameters.copy(), problem.value(mode.parameters), [], 0
    steps, coins = rng.standard_normal((60_000, problem.size)) @ root.T, np.log(rng.random(60_000))
    for step, coin in zip(steps, coins, strict=True):
        tried = p + step
        new = problem.value(tried)
        if coin < loss - new:
            p, loss = tried, new
            moved += 1
        kept.append(p)
    chain = np.array(kept[6000:])[:, : KNOWN + 9]
    assert 0.1 < moved / 60_000 < 0.5
    spread = np.sqrt(np.diag(covariance))[: KNOWN + 9]
    # coefficients and noise: means within a third of a spread, spreads within a fifth (chain error about a twelfth)
    which = [*range(KNOWN), KNOWN + 8]
    np.testing.assert_allclose((chain.mean(0) - mode.parameters[: KNOWN + 9])[which] / spread[which], 0, atol=0.34)
    np.testing.assert_allclose((chain.std(0) / spread)[which], 1, atol=0.2)
    # without integrating the wood out the noise would vanish: the joint mode lies far below
    assert problem.solve().parameters[KNOWN + 8] < mode.parameters[KNOWN + 8] - 0.5


def test_bands_hold_the_truth():
    """Recovery: 80 % bands over 120 problems; the pooled share is known to two hundredths."""
    inside, noise = [], []
    for i in range(120):
        problem, truth = straight(np.random.default_rng([8, i]))
        mode = problem.solve_whole()
        spread = np.sqrt(np.diag(np.linalg.inv(mode.curvature)))
        hit = np.abs(truth - mode.parameters) <= 1.2816 * spread
        inside.append(hit[:KNOWN].mean())
        noise.append(hit[KNOWN + 8])
    assert 0.72 < np.mean(inside) < 0.88
    assert 0.65 < np.mean(noise) < 0.93
