"""Minutes of an attempt before it is known whether it works."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from tests.outcome_models.small_shop import small_catalogue
from tests.prediction.made_draws import made_posterior
from triage.policy.answer.promise import LEVELS
from triage.prediction.bench_minutes import attempt_minutes
from triage.prediction.minutes_spread import minutes_spread
from triage.priors.prior_set import PriorSet

CATALOGUE, PRIORS = small_catalogue(), PriorSet().bench_minutes
DRAWS = made_posterior(CATALOGUE, draws=50).draws["bench_minutes"]
TABLE = pd.DataFrame({"kind": ["housing-0"] * 3, "severity": 2, "method": ""})


def played(fixed: bool) -> np.ndarray:
    """Minutes drawn at random, by another stream and without any pairing."""
    rng, count = np.random.default_rng(9), 200_000
    minutes = attempt_minutes(DRAWS, "housing-0", 2, fixed, CATALOGUE, PRIORS, "")
    return minutes.sample(rng.integers(0, 50, count), rng.random(count), rng.random(count))


def test_certain_outcomes_have_their_own_minutes_and_an_even_chance_mixes_them():
    mean, quantiles = minutes_spread(DRAWS, TABLE, np.array([1.0, 0.0, 0.5]), CATALOGUE, PRIORS)
    fixed, failed = played(True), played(False)
    for row, drawn in enumerate((fixed, failed, np.concatenate([fixed, failed]))):
        assert mean[row] == pytest.approx(drawn.mean(), rel=0.01)
        assert quantiles[row] == pytest.approx(np.quantile(drawn, LEVELS), rel=0.1)
    assert mean[1] > 1.1 * mean[0]
