"""What beliefs imply before any data: counts, and draws without the sampler."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.stats import beta

from triage.domain.catalogue import load_catalogue
from triage.elicitation.prior_predictive import count_from_belief, count_from_draws
from triage.elicitation.success_prior import success_prior_draws
from triage.outcome_models import success
from triage.prediction.success import fresh_chances
from triage.priors.prior_set import load_priors
from triage.shipped import shipped

CATALOGUE = load_catalogue()
PRIORS = load_priors(shipped("models/priors/demo"), CATALOGUE)


def test_a_flat_belief_makes_every_count_equally_likely():
    # Bayes 1763: under a uniform chance each count of n has 1 / (n + 1).
    found = count_from_belief(0.5, 2, 19)
    assert found.mean == pytest.approx(9.5) and (found.low, found.high) == (0, 18)
    assert found.chance_within == pytest.approx(0.95)


def test_counts_from_draws_are_those_of_the_belief_they_were_drawn_from():
    quantiles = (np.arange(4000) + 0.5) / 4000
    drawn, exact = count_from_draws(beta(9, 3).ppf(quantiles)), count_from_belief(0.75, 12)
    assert (drawn.low, drawn.high) == (exact.low, exact.high)
    assert drawn.chance_within == pytest.approx(exact.chance_within, abs=1e-4)


def test_the_mean_of_the_prior_is_the_stated_chance():
    draws = success_prior_draws(CATALOGUE, PRIORS, 6000)
    stated = np.array([PRIORS.success.belief(kind).chance for kind in CATALOGUE.kinds])
    # Offsets take every spread at its usual size, so means are met but for the third decimal or so.
    assert np.abs(fresh_chances(draws, 2).mean(axis=0) - stated).max() < 0.02


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
