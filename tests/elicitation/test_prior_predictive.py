"""What beliefs imply before any data: counts, and draws without the sampler."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.special import expit, ndtri
from scipy.stats import binom

from triage.domain.catalogue import load_catalogue
from triage.elicitation.prior_predictive import count_from_belief
from triage.elicitation.success_prior import success_prior_draws
from triage.outcome_models import success
from triage.prediction.success import fresh_chances
from triage.priors.kind_beliefs import belief_logit
from triage.priors.prior_set import load_priors
from triage.shipped import shipped

CATALOGUE = load_catalogue()
PRIORS = load_priors(shipped("models/priors/demo"), CATALOGUE)


def test_counts_have_the_mean_and_the_variance_that_the_worth_says():
    # Two of the n share their chance, so their outcomes have a correlation of 1 / (jobs + 1).
    found = count_from_belief(0.75, 8, 20)
    counts = np.arange(21)
    mean = counts @ found.chances
    assert mean == pytest.approx(15) == found.mean
    assert (counts - mean) ** 2 @ found.chances == pytest.approx(20 * 0.1875 * (1 + 19 / 9))
    assert sum(found.chances) == pytest.approx(1) and 0.9 <= found.chance_within < 1


def test_a_count_is_that_of_draws_of_the_belief():
    mean, sd = belief_logit(0.75, 12)
    drawn = binom.pmf(
        np.arange(21), 20, expit(mean + sd * ndtri((np.arange(4000) + 0.5) / 4000))[:, None]
    ).mean(axis=0)
    assert count_from_belief(0.75, 12).chances == pytest.approx(drawn, abs=1e-4)


def test_the_mean_of_the_prior_is_the_stated_chance():
    draws = 6000
    chances = fresh_chances(success_prior_draws(CATALOGUE, PRIORS, draws), 2)
    for found, kind in zip(chances.T, CATALOGUE.kinds, strict=True):
        stated = PRIORS.success.belief(kind)
        error = np.sqrt(stated.chance * (1 - stated.chance) / (stated.jobs + 1) / draws)
        # The default's spread is learned: its mean is met but for the third decimal.
        slack = 0.0 if kind in PRIORS.success.beliefs else 0.005
        assert found.mean() == pytest.approx(stated.chance, abs=5 * error + slack), kind


@pytest.mark.slow
def test_draws_without_the_sampler_have_the_distribution_of_those_with_it():
    from triage.inference.sampling import SamplerSettings, belief_draws

    settings = SamplerSettings(draws=2000, chains=4)
    theirs = belief_draws(
        success.build(success.prior_design(CATALOGUE, PRIORS), PRIORS), success.STORED, 3, settings
    )
    ours = success_prior_draws(CATALOGUE, PRIORS, 20_000)
    assert set(ours.data_vars) == set(theirs.data_vars)
    for name in ours.data_vars:
        one, other = (found[name].transpose("draw", ...).to_numpy() for found in (ours, theirs))
        error = np.hypot(one.std(axis=0) / len(one) ** 0.5, other.std(axis=0) / len(other) ** 0.5)
        apart = abs(one.mean(axis=0) - other.mean(axis=0))
        assert (apart <= 5 * error + 1e-6).all(), name
        assert np.allclose(np.log1p(one.std(axis=0)), np.log1p(other.std(axis=0)), atol=0.12), name
