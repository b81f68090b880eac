"""The likelihoods of stored draws compared with PyMC's own graph, on the small shop."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

import numpy as np
import pandas as pd
import pytest

from tests.outcome_models.joint_draws import joint_draws
from tests.outcome_models.small_shop import small_catalogue, small_history
from triage.domain.history import History
from triage.outcome_models.registry import MODELS
from triage.prediction import attempt_chances
from triage.prediction.likelihood import log_likelihood
from triage.priors.prior_set import PriorSet

CATALOGUE, PRIORS = small_catalogue(), PriorSet()
# Cut off while some warranties run; one attempt lasts beyond the give-up time.
RECORD = small_history(40, seed=4)
RECORD.rows.loc[3, "minutes"] = 5000.0
RECORD = History(RECORD.rows, date(2025, 11, 20))
NODES = 61


@pytest.mark.slow  # PyMC compiles each graph
@pytest.mark.parametrize("name", list(MODELS))
def test_the_sampler_sees_the_same_likelihood(name, monkeypatch):
    import pymc as pm

    model = MODELS[name]
    design = model.design(RECORD, CATALOGUE, PRIORS)
    if name == "success":  # the sampler solves for the logit in a job on a finer rule: both need many nodes
        monkeypatch.setattr(attempt_chances, "NODES", NODES)
        design = replace(design, nodes=np.full_like(design.nodes, NODES))
    graph = model.build(design, PRIORS)
    told = [*graph.potentials, *(pm.logp(rv, graph.rvs_to_values[rv]).sum() for rv in graph.observed_RVs)]
    draws, theirs = joint_draws(graph, model.stored, sum(told))
    ours = log_likelihood(name, draws, RECORD, CATALOGUE, PRIORS)
    assert np.ptp(theirs) > 1
    # Constants, such as a binomial's, are left out: only differences between draws count.
    np.testing.assert_allclose(ours - ours[0], theirs - theirs[0], rtol=1e-8, atol=1e-8)


def some_draws(name):
    """Stored draws of a model without a sampler: one point each, moved by hand."""
    from tests.inference.true_draws import true_draws

    held = true_draws(CATALOGUE)[name].isel(draw=slice(4))
    moved = np.array([0.0, 0.1, 0.2, 0.3])
    return held.map(lambda values: values + moved.reshape(-1, *[1] * (values.ndim - 1)) * abs(values))


@pytest.mark.parametrize("name", list(MODELS))
def test_the_likelihood_is_a_sum_over_jobs(name):
    """A history's likelihood is the sum over its halves; a quick update depends on this."""
    draws, rows = some_draws(name), RECORD.rows
    first = rows["job"].isin(RECORD.jobs.index[:17])
    halves = (History(rows[half].reset_index(drop=True), RECORD.as_of) for half in (first, ~first))
    whole = log_likelihood(name, draws, RECORD, CATALOGUE, PRIORS)
    assert np.ptp(whole) > 0
    parts = sum(log_likelihood(name, draws, half, CATALOGUE, PRIORS) for half in halves)
    np.testing.assert_allclose(parts, whole, rtol=1e-10)


@pytest.mark.parametrize("name", list(MODELS))
def test_a_record_without_outcomes_adds_nothing_to_the_likelihood(name):
    draws = some_draws(name)
    bare = RECORD.rows[["job", "date", "finding"]].assign(outcome="not-attempted")
    for rows in (bare, bare[:0]):
        found = log_likelihood(name, draws, History(pd.DataFrame(rows), RECORD.as_of), CATALOGUE, PRIORS)
        np.testing.assert_array_equal(found, np.zeros(4))
