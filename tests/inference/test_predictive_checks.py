"""Predictive checks (Gelman, Meng and Stern 1996, from memory) of records made by hand.

A record simulated from the values in the draws must pass; one simulated from other values must fail
on the figure concerned.
"""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest
from scipy.special import expit, logit

from tests.inference.true_draws import true_draws
from tests.outcome_models.small_shop import HIDDEN, small_catalogue, small_history
from triage.design_matrix import attempt_design
from triage.domain.history import History
from triage.inference.predictive_checks import predictive_checks
from triage.inference.replicated_attempts import given_earlier
from triage.outcome_models.integrated_likelihood import integrated_log_likelihood
from triage.outcome_models.registry import MODELS
from triage.posterior.manifest import PredictiveCheck
from triage.prediction.success import logits_at
from triage.priors.fresh_job import inside_logit
from triage.priors.prior_set import PriorSet

CATALOGUE, PRIORS = small_catalogue(), PriorSet()
DRAWS = true_draws(CATALOGUE)


@pytest.fixture(scope="module")
def history():
    return small_history(700, seed=4)


def checks(model, history, **changed):
    draws = DRAWS[model].assign({name: DRAWS[model][name] * 0 + value for name, value in changed.items()})
    return predictive_checks(model, history, CATALOGUE, PRIORS, draws, seed=2)


def failing(found):
    return {check.quantity for check in found if check.fails}


def altered(history, **columns):
    return History(history.rows.assign(**columns), history.as_of)


@pytest.mark.parametrize("model", MODELS)
def test_a_record_made_by_the_model_passes(model, history):
    found = checks(model, history)
    assert 2 <= len(found) and not failing(found)
    # Of 90 % intervals about nine in ten hold the record; counts make them a little wider.
    assert np.mean([check.inside for check in found]) > 0.7
    for check in found:
        assert check.low <= check.high and 0 <= check.tail <= 1
        assert check.unit != "count" or 0 <= check.observed <= check.total


def test_a_job_effect_missing_in_the_record_is_detected(history):
    # The same chance for a fresh job at both sizes of the job effect.
    found = checks("success", history, job_sd=1.5, kind_logit=float(logit(0.8)))
    assert "repairs fixed, after a failure on the job" in failing(found)
    assert "repairs fixed, first of a job" not in failing(found)


def test_a_job_effect_missing_in_the_model_is_detected(history):
    rng = np.random.default_rng(4)
    u = pd.Series(rng.normal(0, 2.0, len(history.jobs)), index=history.jobs.index)
    chance = expit(logit(0.8) * 1.5 + u.reindex(history.rows["job"]).to_numpy())
    outcome = np.where(rng.random(len(chance)) < chance, "fixed", "not-fixed")
    found = checks("success", altered(history, outcome=outcome))
    assert "repairs fixed, after a failure on the job" in failing(found)


def test_each_chance_is_conditional_on_earlier_outcomes():
    """Over a job the chances multiply to its integrated likelihood."""
    history = small_history(40, seed=5)
    made = attempt_design(history, CATALOGUE)
    draws = DRAWS["success"].isel(draw=[0]) * 1.0
    draws["job_sd"] += 0.9
    logits = logits_at(draws, made.indices)
    chances = given_earlier(made, logits, draws)[0]
    product = np.log(np.where(made.fixed, chances, 1 - chances)).sum()
    inside = inside_logit(logits[0], 0.9)
    exact = integrated_log_likelihood(inside, made.fixed, np.ones(len(made.job)), made.job, 0.9)
    assert product == pytest.approx(exact, abs=2e-4)


def test_a_heavier_tail_of_minutes_is_detected(history):
    stuck = np.random.default_rng(3).random(len(history.rows)) < 0.04
    found = checks("bench_minutes", altered(history, minutes=history.rows["minutes"] * np.where(stuck, 4, 1)))
    assert "attempts of over 3 times the usual minutes" in failing(found)


def test_parts_paid_for_twice_are_detected(history):
    twice = np.random.default_rng(3).random(len(history.rows)) < 0.03
    cost = history.rows["parts_cost"] * np.where(twice, 2, 1)
    found = failing(checks("parts_cost", altered(history, parts_cost=cost)))
    assert "parts at over twice the price book" in found
    told = checks("parts_cost", altered(history, parts_cost=cost), bought_again=0.03)
    assert not failing(told), "a share that the fit knows"


def test_comebacks_that_come_too_late_are_detected(history):
    # The hazard of the model falls to less than a half after a month; this record's does not.
    rows = history.rows
    early = (rows["comeback_date"] - rows["sold_date"]).dt.days <= 30
    late = rows["comeback_date"].where(~early, rows["comeback_date"] + pd.Timedelta(days=45))
    found = failing(checks("comeback", altered(history, comeback_date=late)))
    assert found == {"comebacks in the first 30 days"}


def test_a_wider_spread_of_sales_is_detected(history):
    noise = pd.Series(np.random.default_rng(3).normal(0, 0.15, len(history.jobs)), index=history.jobs.index)
    sold = history.rows["sold"] * np.exp(noise.reindex(history.rows["job"]).to_numpy())
    assert "spread of sale over working price" in failing(checks("sale_price", altered(history, sold=sold)))


def test_faults_found_without_a_raising_finding_are_detected(history):
    job = history.rows["job"]
    more = job.isin(history.jobs.index[np.random.default_rng(3).random(len(history.jobs)) < 0.08])
    found = checks(
        "hidden_fault", altered(history, hidden_faults=history.rows["hidden_faults"].mask(more, HIDDEN))
    )
    assert "hidden faults found, nothing pointing to them" in failing(found)


def test_a_check_at_the_edge_does_not_fail():
    edge = PredictiveCheck("x", "count", 47.5, 35.0, 47.0, 0.04, 60.0)
    assert not edge.inside and not edge.fails
    assert PredictiveCheck("x", "count", 60.0, 35.0, 47.0, 0.001, 60.0).fails


def test_weights_of_forgotten_jobs_scale_counts_and_totals():
    history = small_history(60)
    weighted = altered(history, weight=0.5)
    for check, half in zip(checks("success", history), checks("success", weighted), strict=True):
        assert half.observed == pytest.approx(check.observed / 2)
        assert half.total == pytest.approx(check.total / 2)


def test_a_record_with_only_the_required_columns_is_checked_too():
    """A figure that cannot be computed must not fail the fit."""
    rows = small_history(60).rows
    bare = ["job", "date", "finding", "outcome"]
    needed = {
        "success": [],
        "hidden_fault": ["hidden_faults"],
        "bench_minutes": ["minutes"],
        "parts_cost": ["parts_cost", "book_cost"],
        "comeback": ["closed", "comeback_date"],
        "sale_price": ["sold", "working_price"],
    }
    for model in MODELS:
        assert checks(model, History(rows[bare + needed[model]], small_history(1).as_of))
    alone = History(rows[rows["job"] == "job-0"], small_history(1).as_of)
    for model in ("success", "bench_minutes", "parts_cost", "comeback", "hidden_fault"):
        checks(model, alone)
