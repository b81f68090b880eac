"""A catalogue with one family, from the fit over the back-test to answers: families then have no effect."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from tests.outcome_models.attempt_records import shop_catalogue, simulated
from triage.domain.catalogue_entries import Family
from triage.domain.shop.settings import Settings
from triage.domain.units.unit import Finding, Unit
from triage.errors import PosteriorError
from triage.inference.sampling import SamplerSettings
from triage.posterior.store import load_posterior
from triage.prediction.forecast import forecast_unit
from triage.prediction.success import chances_table, stored_levels
from triage.priors.prior_set import PriorSet
from triage.workflows.fitting.fit import belief_only, fit_history, store_fit
from triage.workflows.looking_back.backtest import BacktestOptions, backtest
from triage.workflows.looking_back.backtest_fits import BlockFit

PRIORS, SETTINGS = PriorSet(), Settings(shop="test bench", currency="EUR")


def one_family(kinds: int = 3):
    """The small shop with every kind in one family."""
    small = shop_catalogue(kinds)
    return replace(
        small,
        family=(Family("all", "all"),),
        kind=tuple(replace(kind, family="all") for kind in small.kind),
    )


CATALOGUE = one_family()


def answered(posterior):
    """Chance of a unit's one finding, fresh."""
    unit = Unit("a unit", "middle", (Finding("kind-1", 2),))
    forecast = forecast_unit(unit, CATALOGUE, posterior, PRIORS, SETTINGS)
    return {key: float(told.chance @ forecast.weights) for key, told in forecast.repairs.items()}


@pytest.fixture(scope="module")
def believed():
    return belief_only(CATALOGUE, PRIORS, seed=3, settings=SamplerSettings(stored_draws=100))


def test_stored_draws_answer_and_read_back(believed, tmp_path):
    store_fit(believed, tmp_path)
    posterior = load_posterior(tmp_path, CATALOGUE)
    assert "family" not in posterior.draws["success"].coords  # no effect is over families
    assert stored_levels(posterior.draws["success"], CATALOGUE).family.tolist() == [0, 0, 0]
    assert len(chances_table(posterior, CATALOGUE)) == 9
    assert all(0 < chance < 1 for chance in answered(posterior).values())


def test_the_back_test_forecasts_with_them(believed):
    draws = believed.posterior.draws["success"]
    found = backtest(
        simulated(60, kinds=3), CATALOGUE, PRIORS, SETTINGS, BacktestOptions(replicates=20),
        fit=lambda *_: BlockFit(draws),
    )  # fmt: skip
    assert found.failed_fits == 0 and found.attempts == len(found.forecasts) > 20
    assert {group.name for group in found.families} == {"all"}


def test_draws_of_two_families_without_their_names_are_refused(believed):
    with pytest.raises(PosteriorError, match="lacks family"):
        stored_levels(believed.posterior.draws["success"], shop_catalogue(3))


@pytest.mark.slow
def test_the_same_with_real_fits(tmp_path):
    history, sampler = simulated(60, kinds=3), SamplerSettings(draws=300, tune=300, cores=2)
    result = fit_history(
        history, CATALOGUE, PRIORS, models=("success",), settings=sampler, hopeless_both_ways=False
    )
    stored = store_fit(result, tmp_path)
    posterior = load_posterior(stored.folder, CATALOGUE)
    assert all(0 < chance < 1 for chance in answered(posterior).values())
    options = BacktestOptions(blocks=1, replicates=20, sampler=sampler)
    found = backtest(history, CATALOGUE, PRIORS, SETTINGS, options)
    assert found.attempts and np.isfinite(found.scores["model"].joint_log)
