"""Likelihoods compared with independent programs; the success model with its job effect sampled.

`lme4` (Bates, Maechler, Bolker and Walker 2015, J. Stat. Softw. 67:1) and `statsmodels` give
their maximum; there our log likelihood must equal theirs and have zero slope in every direction.
"""

from __future__ import annotations

import os
import shutil
import subprocess
from dataclasses import replace
from datetime import date
from io import StringIO
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from scipy.special import logit

from tests.outcome_models.attempt_records import binomial_patterns, shop_catalogue, simulated
from tests.outcome_models.inside_in_pytensor import inside
from tests.outcome_models.small_shop import small_catalogue, small_history
from triage.design_matrix import attempt_design
from triage.domain.history import History
from triage.outcome_models import comeback, hidden_fault, success
from triage.outcome_models.integrated_likelihood import pattern_log_likelihood
from triage.priors.fresh_job import fresh_chance
from triage.priors.prior_set import PriorSet

REFERENCE = Path(__file__).parents[1] / "reference"


def glmer(text: str | None = None) -> dict[str, dict[str, float]]:
    """Stored (or given) results of `glmer.R` by fit and name."""
    table = pd.read_csv(StringIO(text) if text else REFERENCE / "glmer.csv", comment="#")
    return {fit: dict(zip(of["name"], of["value"], strict=True)) for fit, of in table.groupby("fit")}


def attempts_log_likelihood(point: np.ndarray) -> float:
    """Ours of `attempts.csv`, encoded as a record; point: four kinds, severity, wet, job sd."""
    rows = pd.read_csv(REFERENCE / "attempts.csv", comment="#").rename(columns={"kind": "finding"})
    rows["outcome"] = np.where(rows["fixed"] == 1, "fixed", "not-fixed")
    rows["date"] = pd.Timestamp("2025-01-01")
    made = attempt_design(
        History(rows.assign(job=rows["job"].astype(str)), date(2025, 2, 1)), shop_catalogue(4)
    )
    patterns, wet = made.patterns, made.coords["cause"].index("wet")
    cells = patterns.cells
    logits = point[:4][cells.kind] + point[4] * (cells.severity - 1.0) + point[5] * (cells.cause == wet)
    fresh = logit(fresh_chance(logits, point[6]))  # glmer's predictor is that of an average job
    return float(pattern_log_likelihood(fresh[None], point[6:], patterns, 61)[0] @ patterns.count)


def slopes(function, point: np.ndarray, step: float = 1e-4) -> np.ndarray:
    """Central differences."""
    return np.array(
        [(function(point + h) - function(point - h)) / (2 * step) for h in step * np.eye(len(point))]
    )


def test_attempts_in_jobs_match_glmer():
    found = glmer()["attempts"]
    *point, total = found.values()
    assert list(found)[-1] == "log_likelihood"
    # Nine digits are stored; the optimum is flat to their square, and lme4's own nodes err by 1e-7.
    assert attempts_log_likelihood(np.array(point)) == pytest.approx(total, abs=2e-6)
    np.testing.assert_allclose(slopes(attempts_log_likelihood, np.array(point)), 0, atol=2e-3)


def test_grouped_counts_match_glmer():
    table, found = pd.read_csv(REFERENCE / "cbpp.csv", comment="#"), glmer()["cbpp"]
    design = np.column_stack([np.ones(len(table)), *(table["period"] == p for p in (2, 3, 4))]).astype(float)
    counts = (table["incidence"].to_numpy(), table["size"].to_numpy(), table["herd"].to_numpy() - 1)
    patterns = binomial_patterns(*counts)
    point = np.array(list(found.values())[:-1])  # its log likelihood leaves out another constant

    def total(at: np.ndarray) -> float:
        fresh = logit(fresh_chance(design @ at[:4], at[4]))
        return float(pattern_log_likelihood(fresh[None], at[4:], patterns, 61).sum())

    np.testing.assert_allclose(slopes(total, point), 0, atol=2e-3)
    assert total(point) == pytest.approx(-277.45902873, abs=1e-6)


@pytest.mark.slow
def test_stored_glmer_results_are_reproduced():
    """Opt-in: runs where R and lme4 are installed."""
    program = shutil.which("Rscript")
    if not program or subprocess.run([program, "-e", "library(lme4)"], capture_output=True).returncode:
        pytest.skip("R with lme4 is not here")
    run = subprocess.run(
        [program, str(REFERENCE / "glmer.R")], cwd=REFERENCE.parents[1], capture_output=True, text=True,
        env={**os.environ, "LC_ALL": "C"}, check=True,
    )  # fmt: skip
    for fit, values in glmer(run.stdout).items():
        assert values == pytest.approx(glmer()[fit], abs=1e-5)


def likelihood_at(model, names: tuple[str, ...], values: tuple[np.ndarray, ...]):
    """Log likelihood of the model's record at stated values of named variables, and its gradients."""
    import pymc as pm
    import pytensor
    from pytensor.graph.replace import clone_replace

    parts = [*model.potentials, *(pm.logp(rv, model.rvs_to_values[rv]).sum() for rv in model.observed_RVs)]
    inputs = [model[name].type() for name in names]
    total = clone_replace(parts[0], dict(zip((model[name] for name in names), inputs, strict=True)))
    outputs = [total, *pytensor.grad(total, inputs)]
    function = pytensor.function(inputs, outputs, on_unused_input="ignore")
    found, *gradient = function(*values)
    return float(found), np.concatenate([np.ravel(part) for part in gradient])


def test_comebacks_match_a_poisson_regression():
    """A piecewise constant hazard has the likelihood of a Poisson count with log exposure as offset.

    Holford 1980, Biometrics 36:299; Laird and Olivier 1981, JASA 76:231 [from memory]. It holds job by
    job where one finding was fixed; several add their hazards, which no log-linear count does.
    """
    import statsmodels.api as sm

    catalogue, priors = small_catalogue(), PriorSet()
    history = small_history(900, seed=9)
    rows = history.rows[~history.rows["job"].duplicated()].reset_index(drop=True)
    made = comeback.design(History(rows, history.as_of), catalogue, priors)
    assert (made.event_findings.sum(axis=1) == 1).all()
    families, pieces = made.exposure.shape
    days, came_back = comeback.watched(History(rows, history.as_of), priors.comeback.warranty_days)
    fixed = (rows["outcome"] == "fixed").to_numpy() & (days > 0)
    family = np.array([made.coords["family"].index(catalogue.kinds[k].family) for k in rows["finding"]])
    events = np.zeros((families, pieces))
    np.add.at(events, (family[fixed & came_back], (days[fixed & came_back] > 30).astype(int)), 1)
    # 90 days of warranty leave day 91 on without exposure: two pieces are estimated.
    table = [(f, p, events[f, p], made.exposure[f, p]) for f in range(families) for p in (0, 1)]
    f, p, count, months = np.array(table).T
    regressors = np.column_stack([f[:, None] == np.arange(families), p == 1]).astype(float)
    fit = sm.GLM(count, regressors, sm.families.Poisson(), offset=np.log(months)).fit(tol=1e-12)
    at = (fit.params[:families], np.array([fit.params[families], 0.0]))
    total, gradient = likelihood_at(comeback.build(made, priors), ("log_rate", "later"), at)
    np.testing.assert_allclose(gradient, 0, atol=1e-6)
    # A Poisson count's own constant: months to the power of the count, over its factorial.
    from scipy.special import gammaln

    assert total == pytest.approx(fit.llf - (count * np.log(months) - gammaln(count + 1)).sum(), abs=1e-8)


def test_hidden_faults_match_a_binomial_regression():
    import statsmodels.api as sm

    catalogue, priors = small_catalogue(), PriorSet()
    made = hidden_fault.design(small_history(400, seed=9), catalogue, priors)
    regressors = np.column_stack([np.ones(len(made.opened)), made.factor])
    counts = np.column_stack([made.found, made.opened - made.found])
    fit = sm.GLM(counts, regressors, sm.families.Binomial()).fit(tol=1e-12)
    at = (fit.params[:1], fit.params[1:])
    total, gradient = likelihood_at(hidden_fault.build(made, priors), ("base", "weight"), at)
    np.testing.assert_allclose(gradient, 0, atol=1e-6)
    assert total == pytest.approx(fit.llf, abs=1e-8)


@pytest.mark.slow
def test_integrating_the_job_effect_changes_nothing_but_the_speed():
    """Same priors and record, every job's effect sampled: the same posterior, to Monte Carlo error."""
    import pymc as pm

    from triage.inference import backend

    catalogue, priors = shop_catalogue(), PriorSet()
    record = simulated(150)
    first = ~record.rows.duplicated(["job", "finding"])  # no second tries: the direct form has none
    made = success.design(History(record.rows[first].reset_index(drop=True), record.as_of), catalogue, priors)
    attempts = made.attempts
    direct = success.build(replace(made, nodes=made.nodes[:0]), priors)
    with direct:
        unit = pm.Normal("unit", 0.0, 1.0, shape=len(attempts.jobs))
        cells = attempts.indices
        logits = direct["kind_logit"][cells.kind] + direct["severity_effect"][cells.kind, cells.severity]
        for name in ("tier", "technician", "cause"):
            logits = logits + direct[f"{name}_effect"][getattr(cells, name)]
        logits = inside(logits, direct["job_sd"]) + direct["job_sd"] * unit[attempts.job]
        pm.Bernoulli("outcome", logit_p=logits, observed=attempts.fixed.astype(int))
    assert (cells.method < 0).all()
    settings = {"draws": 2000, "tune": 1000, "chains": 4, "cores": 2, "target_accept": 0.95}
    ours, _ = backend.sample(backend.compiled(success.build(made, priors)), seed=3, **settings)
    theirs, _ = backend.sample(backend.compiled(direct), seed=4, **settings)
    for name in ("job_sd", "shop", "kind_logit", "severity_effect", "tier_effect", "technician_effect"):
        one, other = (
            draws[name].transpose("chain", "draw", ...).to_numpy().reshape(4, 2000, -1)
            for draws in (ours, theirs)
        )
        for place in range(one.shape[2]):
            a, b = one[..., place], other[..., place]
            if np.ptp(a) == 0:
                continue
            sizes = [backend.effective_sample(x) for x in (a, b)]
            assert min(sizes) > 400, name
            error = np.sqrt(sum(x.var() / size for x, size in zip((a, b), sizes, strict=True)))
            # 4.5 and 5 errors: some fifty numbers are compared.
            assert abs(a.mean() - b.mean()) < 4.5 * error, (name, place)
            assert a.std() == pytest.approx(b.std(), rel=5 * np.sqrt(sum(1 / (2 * s) for s in sizes)))
