from dataclasses import replace

import numpy as np
import pandas as pd
import pytest
from scipy.integrate import quad
from scipy.stats import norm

from tests.outcome_models import small_shop
from tests.outcome_models.recovery import assert_recovers, fitted
from tests.outcome_models.small_shop import small_catalogue, small_history
from triage.domain.history import History
from triage.outcome_models.bench_minutes import MODEL, _log_beyond, design
from triage.prediction.bench_minutes import AttemptMinutes, attempt_minutes
from triage.priors.prior_set import PriorSet

CATALOGUE, PRIORS = small_catalogue(), PriorSet()
DAY = pd.Timestamp("2025-01-01")


def record(*rows):
    """(job, finding, outcome, minutes, method) a row."""
    names = ("job", "finding", "outcome", "minutes", "method")
    table = pd.DataFrame([dict(zip(names, row, strict=True)) for row in rows])
    return History(table.assign(date=DAY, severity=2), DAY.date())


def test_minutes_of_an_attempt_that_closes_several_findings_are_summed():
    history = record(
        ("a", "housing-1", "fixed", 50.0, "swap-housing"),
        ("a", "housing-0", "fixed", np.nan, "swap-housing"),
        ("a", "housing-3", "fixed", 10.0, "swap-housing"),
        ("b", "display-0", "not-fixed", 20.0, "fix-display-0"),
    )
    made = design(history, CATALOGUE, PRIORS)
    kinds = made.coords["kind"]
    found = {
        (kinds[made.kind[c]], bool(made.failed[c]), int(made.method[c])): m
        for c, m in zip(made.cell, made.minutes, strict=True)
    }
    other = made.coords["method"].index("swap-housing")
    assert found == {("housing-0", False, other): 60.0, ("display-0", True, -1): 20.0}


def test_rows_without_minutes_or_not_attempted_are_left_out_and_long_ones_end_at_give_up():
    give_up = PRIORS.bench_minutes.give_up_minutes
    history = record(
        ("a", "display-0", "fixed", np.nan, ""),
        ("b", "display-0", "not-attempted", 5.0, ""),
        ("c", "display-0", "fixed", give_up + 200, ""),
        ("d", "display-0", "fixed", 30.1, ""),
        ("e", "display-0", "fixed", 29.9, ""),
    )
    made = design(history, CATALOGUE, PRIORS)
    assert dict(zip(made.minutes, made.count, strict=True)) == {give_up: 1, 30.0: 2}


def one(value):
    return np.array([value])


def test_mean_without_tail_or_cut_is_that_of_a_log_normal():
    minutes = AttemptMinutes(one(3.0), one(0.5), one(4.0), one(0.5), one(0.0), give_up=1e12)
    assert minutes.mean() == pytest.approx(np.exp(3.0 + 0.125), rel=1e-12)


def density(log_minutes, parts=((0.9, 3.5, 0.4), (0.1, 4.4, 0.6))):
    """Density of log minutes if work were never stopped."""
    return sum(share * norm.pdf(log_minutes, at, sd) for share, at, sd in parts)


@pytest.mark.parametrize("give_up", [20.0, 60.0, 240.0, 1e4])
def test_mean_agrees_with_numerical_integration(give_up):
    """Mean of min(minutes, give-up): by quadrature below the give-up time, and the rest at it."""
    minutes = AttemptMinutes(one(3.5), one(0.4), one(4.4), one(0.6), one(0.1), give_up=give_up)
    at, precise = np.log(give_up), {"epsabs": 1e-12, "epsrel": 1e-12, "limit": 500, "points": [3.5, 4.4]}
    ended = quad(lambda x: np.exp(x) * density(x), -3, at, **precise)[0]
    stopped = quad(density, at, 12, **precise)[0]
    assert minutes.mean()[0] == pytest.approx(ended + give_up * stopped, rel=1e-10)
    below = quad(density, -3, at, **precise)[0]
    fixed = replace(minutes, fixed=True)
    assert fixed.mean()[0] == pytest.approx(ended / below, rel=1e-10)
    read = np.log(0.9 * give_up)
    assert fixed.log_likelihood(np.exp(read))[0] == pytest.approx(np.log(density(read) / below), abs=1e-10)


def test_mean_of_work_that_would_never_end_is_the_give_up_time():
    minutes = AttemptMinutes(one(9.0), one(0.1), one(9.5), one(0.1), one(0.5), give_up=60.0)
    assert minutes.mean()[0] == pytest.approx(60.0, rel=1e-12)


def test_likelihood_of_a_stopped_attempt_is_the_chance_of_lasting_so_long():
    minutes = AttemptMinutes(one(3.5), one(0.4), one(4.4), one(0.6), one(0.1), give_up=120.0)
    chance = quad(density, np.log(120.0), 12, epsabs=1e-14, epsrel=1e-12)[0]
    for read in (120.0, 500.0):
        assert minutes.log_likelihood(read)[0] == pytest.approx(np.log(chance), abs=1e-10)
    assert minutes.log_likelihood(119.0)[0] == pytest.approx(np.log(density(np.log(119.0))), abs=1e-10)


def test_the_log_survival_in_the_model_is_exact_in_the_far_tail():
    import pytensor
    import pytensor.tensor as pt

    at = pt.dvector()
    beyond = _log_beyond(5.0, at, 0.2)
    mean = np.array([-15.0, 0.0, 4.0, 5.0, 5.5, 50.0])
    value, slope = pytensor.function([at], [beyond, pytensor.grad(beyond.sum(), at)])(mean)
    np.testing.assert_allclose(value, norm.logsf(5.0, mean, 0.2), rtol=1e-10, atol=1e-10)
    hazard = np.exp(norm.logpdf(5.0, mean, 0.2) - norm.logsf(5.0, mean, 0.2))
    np.testing.assert_allclose(slope, hazard, rtol=1e-8, atol=1e-10)


def test_draws_pile_up_at_give_up_and_average_to_the_mean():
    minutes = AttemptMinutes(one(3.5), one(0.4), one(4.4), one(0.6), one(0.1), give_up=120.0)
    rng = np.random.default_rng(0)
    drawn = minutes.sample(np.zeros(200_000, dtype=int), rng.random(200_000), rng.random(200_000))
    assert drawn.max() == 120.0 and drawn.min() > 0
    assert abs(drawn.mean() - minutes.mean()[0]) < 4 * drawn.std() / np.sqrt(len(drawn))
    stopped = quad(density, np.log(120.0), 12)[0]
    assert abs(np.mean(drawn == 120.0) - stopped) < 4 * np.sqrt(stopped * (1 - stopped) / len(drawn))
    fixed = replace(minutes, fixed=True)
    ended = fixed.sample(np.zeros(200_000, dtype=int), rng.random(200_000), rng.random(200_000))
    assert ended.max() < 120.0, "what is fixed was not stopped"
    assert abs(ended.mean() - fixed.mean()[0]) < 4 * ended.std() / np.sqrt(len(ended))


@pytest.mark.slow
def test_the_fit_recovers_the_truth_of_the_record():
    draws = fitted(MODEL, small_history(600, seed=2), CATALOGUE, PRIORS)
    assert_recovers(draws["severity_step"], small_shop.SEVERITY_STEP)
    assert_recovers(draws["failed_effect"], small_shop.FAILED)
    assert_recovers(draws["log_minutes"], np.log(small_shop.MINUTES))


@pytest.mark.slow
def test_the_mean_is_finite_and_stable_over_seeds():
    """The mean of a heavy-tailed quantity is the first to change when a fit is repeated."""
    history = small_history(300, seed=4)
    first, second = (fitted(MODEL, history, CATALOGUE, PRIORS, seed=seed) for seed in (1, 2))
    for kind in ("display-0", "main-board-3"):
        for fixed in (True, False):
            means = [
                attempt_minutes(draws, kind, 3, fixed, CATALOGUE, PRIORS.bench_minutes).mean()
                for draws in (first, second)
            ]
            assert all(np.all(np.isfinite(mean)) for mean in means)
            # 5 standard errors of a difference, each run's effective sample at least 400.
            error = np.sqrt(sum(mean.var() for mean in means) / 400)
            assert abs(means[0].mean() - means[1].mean()) < 5 * error
