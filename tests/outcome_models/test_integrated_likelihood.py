"""The integrated likelihood compared with published fits, and its fast form with its plain form."""

from __future__ import annotations

import os
import subprocess
import sys
from dataclasses import replace
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from scipy.optimize import minimize
from scipy.special import expit, logit

from tests.outcome_models.attempt_records import binomial_patterns, shop_catalogue, simulated
from triage.design_matrix import attempt_design
from triage.domain.history import History
from triage.outcome_models.integrated_likelihood import (
    TOLERANCE,
    choose_nodes,
    integrated_log_likelihood,
    likely_job_sd,
    pattern_log_likelihood,
    quadrature_error,
    rough_logits,
)
from triage.priors.fresh_job import fresh_chance, trapezium

REFERENCE = Path(__file__).parents[1] / "reference"


def read(name: str) -> pd.DataFrame:
    return pd.read_csv(REFERENCE / name, comment="#")


def cbpp() -> tuple[np.ndarray, ...]:
    """Design matrix (row, 4), incidence, size and herd of lme4's cbpp."""
    table = read("cbpp.csv")
    design = np.column_stack([np.ones(len(table)), *(table["period"] == p for p in (2, 3, 4))]).astype(float)
    return design, table["incidence"].to_numpy(), table["size"].to_numpy(), table["herd"].to_numpy() - 1


# lme4's `glmer(cbind(incidence, size - incidence) ~ period + (1 | herd), binomial, cbpp)` by exact
# maximum likelihood, 81 nodes [recomputed; lme4's own printed 25-point values differ by up to 5e-6].
CBPP_FIXED = np.array([-1.39923046, -0.99140373, -1.12781925, -1.57947041])
CBPP_SD = 0.64751845
CBPP_LOG_LIKELIHOOD = -277.45902873


def test_cbpp_log_likelihood_at_the_published_maximum():
    design, fixed, trials, herd = cbpp()
    found = integrated_log_likelihood(design @ CBPP_FIXED, fixed, trials, herd, CBPP_SD, nodes=81)
    assert found == pytest.approx(CBPP_LOG_LIKELIHOOD, abs=1e-6)


def test_the_cbpp_maximum_is_found_to_six_digits():
    design, fixed, trials, herd = cbpp()

    def loss(parameters: np.ndarray) -> float:
        linear = design @ parameters[:4]
        return -integrated_log_likelihood(linear, fixed, trials, herd, parameters[4], nodes=81)

    start = np.array([-1.3, -0.8, -1.0, -1.4, 0.5])
    found = minimize(loss, start, jac="3-point", method="BFGS", options={"gtol": 1e-6}).x
    np.testing.assert_allclose(found, [*CBPP_FIXED, CBPP_SD], atol=1e-6)


def test_the_integral_is_not_a_laplace_approximation():
    # lme4's Laplace fit [read in lme4's own tests] is a worse point of the exact likelihood.
    design, fixed, trials, herd = cbpp()
    laplace = [-1.39854982537216, -0.992335519118859, -1.12867532780426, -1.58030423764517]
    there = integrated_log_likelihood(design @ laplace, fixed, trials, herd, 0.642226809, nodes=81)
    assert there < CBPP_LOG_LIKELIHOOD - 1e-5


def test_patterns_give_the_same_likelihood_as_the_table():
    design, fixed, trials, herd = cbpp()
    fresh = logit(fresh_chance(design @ CBPP_FIXED, CBPP_SD))  # lme4's predictor is that of an average herd
    patterns = binomial_patterns(fixed, trials, herd)
    found = pattern_log_likelihood(fresh[None], np.array([CBPP_SD]), patterns, 81)
    assert found.sum() == pytest.approx(CBPP_LOG_LIKELIHOOD, abs=1e-6)


@pytest.fixture(scope="module")
def encoded():
    return attempt_design(simulated(150), shop_catalogue())


def some_logits(patterns, seed: int = 5) -> np.ndarray:
    return np.random.default_rng(seed).normal(1.0, 1.2, len(patterns.cells.kind))


@pytest.mark.parametrize("sigma", [0.0, 0.33, 0.97, 2.03, 3.97])
def test_operation_equals_the_plain_form_and_its_gradient(encoded, sigma):
    from triage.outcome_models.likelihood_op import IntegratedLogLikelihood, _blocks

    patterns = encoded.patterns
    assert patterns.cells.again.any()
    nodes = np.where(patterns.size > 2, 15, 9)
    operation, blocks = IntegratedLogLikelihood(), _blocks(patterns, nodes)

    def value(logits: np.ndarray, sd: float) -> tuple:
        outputs = [[None], [None], [None]]
        operation.perform(None, [logits, np.asarray(sd), *blocks], outputs)
        return tuple(output[0] for output in outputs)

    logits = some_logits(patterns)
    total, by_logit, by_sigma = value(logits, sigma)
    plain = 0.0
    for count in (9, 15):
        each = pattern_log_likelihood(logits[None], np.array([sigma]), patterns, count)[0]
        plain += (each * patterns.count)[nodes == count].sum()
    assert float(total) == pytest.approx(plain, abs=1e-10)
    # Central differences of step h err by about h^2 = 1e-10 in the gradient.
    h = 1e-5
    for cell in range(0, len(logits), 7):
        step = h * (np.arange(len(logits)) == cell)
        slope = (value(logits + step, sigma)[0] - value(logits - step, sigma)[0]) / (2 * h)
        assert by_logit[cell] == pytest.approx(slope, abs=1e-7)
    slope = (value(logits, sigma + h)[0] - value(logits, abs(sigma - h))[0]) / (2 * h)
    assert float(by_sigma) == pytest.approx(slope, abs=1e-6)


def test_jobs_of_one_attempt_are_binomial_in_the_fresh_chance_whatever_the_job_effect():
    from triage.outcome_models.likelihood_op import IntegratedLogLikelihood, _blocks

    record = simulated(200)
    rows = record.rows[~record.rows["job"].duplicated()]
    patterns = attempt_design(History(rows, record.as_of), shop_catalogue()).patterns
    assert set(patterns.size) == {1}
    logits, blocks = some_logits(patterns), _blocks(patterns, np.full(len(patterns.count), 9))
    chance = expit(logits[patterns.cell])
    exact = np.log(np.where(patterns.fixed, chance, 1 - chance)) @ patterns.count
    for sigma in (0.0, 0.8, 3.0):
        outputs = [[None], [None], [None]]
        IntegratedLogLikelihood().perform(None, [logits, np.asarray(sigma), *blocks], outputs)
        assert float(outputs[0][0]) == pytest.approx(exact, abs=1e-10)
        assert float(outputs[2][0]) == 0


def test_a_job_of_a_thousand_failures_does_not_underflow():
    from triage.outcome_models.likelihood_op import IntegratedLogLikelihood, _blocks

    patterns = binomial_patterns(np.array([0]), np.array([1000]), np.array([0]))
    outputs = [[None], [None], [None]]
    blocks = _blocks(patterns, np.array([31]))
    IntegratedLogLikelihood().perform(None, [np.array([3.0]), np.asarray(0.05), *blocks], outputs)
    exact = pattern_log_likelihood(np.array([[3.0]]), np.array([0.05]), patterns, 31)[0, 0]
    assert exact < -700  # below the smallest double, were it not a logarithm
    assert float(outputs[0][0]) == pytest.approx(exact, rel=1e-12)


def test_chosen_nodes_keep_the_total_error_below_the_tolerance(encoded):
    patterns = encoded.patterns
    logits = some_logits(patterns)
    for sigma in (0.3, 0.7, 1.5):
        nodes = choose_nodes(logits, sigma, patterns)
        assert quadrature_error(logits, sigma, patterns, nodes) < TOLERANCE
    few, many = (choose_nodes(logits, sigma, patterns).max() for sigma in (0.3, 1.5))
    assert few < many


def test_seven_nodes_are_not_enough_for_a_large_job_effect(encoded):
    patterns = replace(encoded.patterns, count=encoded.patterns.count * 50)
    nodes = np.full(len(patterns.count), 7)
    assert quadrature_error(some_logits(patterns), 1.5, patterns, nodes) > 0.1


def test_pilot_sd_lies_above_the_sd_simulated_from(encoded):
    rough = rough_logits(encoded.patterns, 6)
    assert likely_job_sd(rough, encoded.patterns) > 0.8


@pytest.mark.slow
def test_the_compiled_operation_gives_the_same_values():
    """The quick tests interpret the kernel; a fit compiles it."""
    cases = ["test_operation_equals_the_plain_form_and_its_gradient", "test_a_job_of_a_thousand_failures"]
    done = subprocess.run(
        [sys.executable, "-m", "pytest", "-q", "-n0", __file__, "-k", " or ".join(cases)],
        capture_output=True, text=True, env=os.environ | {"NUMBA_DISABLE_JIT": "0"},
    )  # fmt: skip
    assert "6 passed" in done.stdout, done.stdout


# Seeds: Crowder 1978, JRSS C 27:34, Table 3; Breslow and Clayton 1993; BUGS Examples vol. 1.
# Published posterior means [read], and a long run of the same model [recomputed] with its sds.
SEEDS_PUBLISHED = {"a0": -0.5484, "a1": 0.0600, "a2": 1.360, "a12": -0.8343, "sigma": 0.3543}
SEEDS_LONG_RUN = {
    "a0": (-0.5507, 0.212),
    "a1": (0.0676, 0.341),
    "a2": (1.3667, 0.303),
    "a12": (-0.8422, 0.474),
    "sigma": (0.3494, 0.149),
}
LONG_RUN_MCSE = 0.001


@pytest.mark.slow
def test_seeds_posterior_equals_the_published_one():
    import pymc as pm

    from triage.inference import backend
    from triage.outcome_models.likelihood_op import log_likelihood

    table = read("seeds.csv")
    patterns = binomial_patterns(table["y"].to_numpy(), table["n"].to_numpy(), np.arange(21))
    seed, root = (table["seed"] == "O73").to_numpy(float), (table["root"] == "CUCUMBER").to_numpy(float)
    with pm.Model() as model:
        a0, a1, a2, a12 = (pm.Normal(name, 0, 1000) for name in ("a0", "a1", "a2", "a12"))
        sigma = pm.Uniform("sigma", 0, 10)
        linear = a0 + a1 * seed + a2 * root + a12 * seed * root  # of an average plate
        z, weight = trapezium(2.0)
        fresh = pm.math.logit(pm.math.dot(pm.math.sigmoid(linear[:, None] + sigma * z), weight))
        pm.Potential("plates", log_likelihood(fresh, sigma, patterns, np.full(21, 31)))
    draws, statistics = backend.sample(
        backend.compiled(model), draws=2000, tune=800, chains=4, cores=2, seed=11, target_accept=0.95
    )
    for name, (mean, sd) in SEEDS_LONG_RUN.items():
        values = draws[name].transpose("chain", "draw").to_numpy()
        size = backend.effective_sample(values)
        assert size > 400
        error = np.hypot(values.std() / np.sqrt(size), LONG_RUN_MCSE)
        assert abs(values.mean() - mean) < 4 * error, name
        # An sd's own error is about sd / sqrt(2 ESS); five of them.
        assert values.std() == pytest.approx(sd, abs=5 * sd / np.sqrt(2 * size) + 0.002), name
        assert abs(values.mean() - SEEDS_PUBLISHED[name]) < 0.02, name
