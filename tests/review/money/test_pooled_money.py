"""Partial pooling of money against published numbers and against an independent integral."""

from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from scipy.integrate import quad
from scipy.stats import norm

from triage.review.money.pooled_money import MoneyPrior, pool, pool_means

# Rubin 1981, Estimation in Parallel Randomized Experiments, J. Educ. Stat. 6:377, table 1 [read].
EFFECTS = np.array([28.0, 8, -3, 7, -1, 1, 18, 12])
ERRORS = np.array([15.0, 10, 16, 11, 9, 11, 10, 18])
PRIOR = MoneyPrior(centre=0.0, centre_sd=5.0, spread=5.0)


def test_eight_schools():
    # Posterior means [recomputed] of a coarser rule: they stand within 7e-4 of the integral below.
    found = pool_means(EFFECTS, ERRORS, PRIOR)
    published = [6.212, 4.940, 3.927, 4.757, 3.616, 4.043, 6.297, 4.854]
    assert found.groups().mean == pytest.approx(published, abs=1e-3)
    assert found.mu == pytest.approx(4.397, abs=1e-3)
    assert found.spread == pytest.approx(3.597, abs=1e-3)


@pytest.mark.parametrize("shape", ["half-cauchy", "half-normal"])
def test_the_rule_is_exact(shape):
    """The same posterior by adaptive quadrature in tau, formulas of Gelman et al., BDA, 5.4."""

    def parts(tau):
        weight = 1 / (ERRORS**2 + tau**2)
        total = 1 / 25 + weight.sum()
        mu = (weight * EFFECTS).sum() / total
        log = 0.5 * np.log(weight).sum() - 0.5 * np.log(total)
        log -= 0.5 * ((weight * EFFECTS**2).sum() - total * mu**2)
        prior = 1 / (1 + (tau / 5) ** 2) if shape == "half-cauchy" else np.exp(-((tau / 5) ** 2) / 2)
        shrink = ERRORS**2 * weight
        mean = (1 - shrink) * EFFECTS + shrink * mu
        sd = np.sqrt(shrink * tau**2 + shrink**2 / total)
        return np.exp(log + 30) * prior, mean, sd

    def integral(what):
        def of(angle):
            tau = 5 * np.tan(angle)
            weight, mean, sd = parts(tau)
            return weight * what(mean, sd) * 5 * (1 + (tau / 5) ** 2)

        return quad(of, 0, np.pi / 2, epsabs=0, epsrel=1e-11, limit=400)[0]

    found = pool_means(EFFECTS, ERRORS, MoneyPrior(0.0, 5.0, 5.0, shape)).groups()
    whole = integral(lambda mean, sd: 1.0)
    for school in (0, 4):
        mean = integral(lambda mean, sd, at=school: mean[at]) / whole
        below = integral(lambda mean, sd, at=school: norm.cdf(-mean[at] / sd[at])) / whole
        under_low = (
            integral(lambda mean, sd, at=school: norm.cdf((found.low[at] - mean[at]) / sd[at])) / whole
        )
        assert found.mean[school] == pytest.approx(mean, abs=1e-6)
        assert found.below_zero[school] == pytest.approx(below, abs=1e-6)
        assert under_low == pytest.approx(0.05, abs=1e-6)


def test_baseball():
    """Efron and Morris 1975, JASA 70:311: pooling cuts the squared error of the rest of the season 3.5 times.

    Shrinkage .212 [read], ratio 3.5 [recomputed]. On the plain scale, each
    average with the binomial error of the overall one, as theirs: at 45 at-bats all are
    near a quarter, so the error is the same for all.
    """
    table = pd.read_csv(Path(__file__).parents[2] / "reference" / "baseball.csv", comment="#")
    raw, rest = np.round(table["hits"].to_numpy() / 45, 3), table["rest_average"].to_numpy()
    error = np.sqrt(raw.mean() * (1 - raw.mean()) / 45)
    found = pool_means(raw, np.full(len(raw), error), MoneyPrior(0.25, 0.1, 0.05))
    pooled = found.groups().mean
    ratio = ((raw - rest) ** 2).sum() / ((pooled - rest) ** 2).sum()
    assert ratio == pytest.approx(3.5, abs=0.3)
    # How much of a batter's distance to the middle is kept. A full posterior keeps more than their
    # point estimate, as the record of 18 batters leaves room for a wider spread.
    kept = np.polyfit(raw, pooled, 1)[0]
    assert kept == pytest.approx(0.212, abs=0.1)
    assert 1 - found.pull(np.full(len(raw), error**-2.0))[0] == pytest.approx(kept, abs=1e-6)


def test_groups_that_always_come_together_are_not_told_apart():
    # One observation of the sum: by symmetry both get the same, and the sum is near what was seen.
    found = pool(100.0 * np.ones((2, 2)), np.array([1000.0, 1000.0]), MoneyPrior(0.0, 50.0, 5.0))
    assert found.groups().mean == pytest.approx([5.0, 5.0], abs=0.01)
    both = found.linear(np.array([[1.0, 1.0], [1.0, -1.0]]), np.zeros(2), np.zeros(2))
    assert both.sd[0] < 0.2 < both.sd[1]


def test_a_small_group_is_pulled_in_further():
    found = pool_means(np.array([40.0, 40.0, 0.0, 0.0]), np.array([1.0, 30.0, 1.0, 1.0]), PRIOR)
    mean, pull = found.groups().mean, found.pull(np.array([1.0, 30.0, 1.0, 1.0]) ** -2.0)
    assert mean[1] < mean[0] and pull[1] > 0.3 > pull[0]


def test_a_group_with_a_wider_prior_is_pulled_in_less():
    few = np.array([60.0, 0.0, 0.0, 1.0, -1.0])
    alike = pool(np.eye(5) / 25, few / 25, PRIOR)
    apart = pool(np.eye(5) / 25, few / 25, PRIOR, relative=np.array([4.0, 1, 1, 1, 1]))
    assert apart.groups().mean[0] > alike.groups().mean[0] and apart.pull(np.ones(5))[0] < 0.1
    assert alike.apart[0] > 1 > alike.apart[1]


def test_noise_of_its_own_widens_intervals_and_moves_no_mean():
    precision, score = np.diag(ERRORS**-2.0), EFFECTS * ERRORS**-2.0
    plain = pool(precision, score, PRIOR)
    same = pool(precision, score, PRIOR, score_cov=precision)
    louder = pool(precision, score, PRIOR, score_cov=4 * precision)
    assert same.groups().sd == pytest.approx(plain.groups().sd, rel=1e-9)
    assert louder.groups().mean == pytest.approx(plain.groups().mean)
    assert (louder.groups().sd > plain.groups().sd).all()
