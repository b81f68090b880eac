import numpy as np
import pandas as pd
import pytest
from scipy.stats import norm

from tests.outcome_models import small_shop
from tests.outcome_models.recovery import assert_recovers, fitted
from tests.outcome_models.small_shop import small_catalogue, small_history
from triage.domain.history import History
from triage.inference.predictive_checks import predictive_checks
from triage.outcome_models.log_ratios import LogRatios, observe
from triage.outcome_models.parts_cost import MODEL, design
from triage.priors.prior_set import PriorSet

CATALOGUE, PRIORS = small_catalogue(), PriorSet()
DAY = pd.Timestamp("2025-01-01")


def test_costs_of_an_attempt_are_summed_and_blank_ones_left_out():
    rows = [
        ("a", "housing-0", "fixed", "swap-housing", 60.0, 50.0),
        ("a", "housing-1", "fixed", "swap-housing", 6.0, 10.0),
        ("b", "display-0", "not-fixed", "", 40.0, 20.0),
        ("c", "display-0", "fixed", "", np.nan, 20.0),
        ("d", "display-0", "fixed", "", 0.0, 20.0),
        ("e", "display-0", "not-attempted", "", 40.0, 20.0),
    ]
    names = ("job", "finding", "outcome", "method", "parts_cost", "book_cost")
    table = pd.DataFrame([dict(zip(names, row, strict=True)) for row in rows]).assign(date=DAY)
    made = design(History(table, DAY.date()), CATALOGUE, PRIORS)
    families = made.coords["family"]
    found = {families[place]: ratio for place, ratio in zip(made.family, made.ratio, strict=True)}
    assert len(made.ratio) == 2
    assert found == {"housing": pytest.approx(np.log(66 / 60)), "display": pytest.approx(np.log(2.0))}


def test_sufficient_statistics_give_the_likelihood_of_single_values():
    import pymc as pm
    import pytensor.tensor as pt

    rng = np.random.default_rng(0)
    labels, values = rng.integers(0, 3, size=(40, 1)), rng.normal(0.1, 0.3, size=40)
    ratios = LogRatios.of(labels, values)
    mean, spread = np.array([0.1, -0.2, 0.4]), 0.25
    with pm.Model() as graph:
        observe(ratios, mean[ratios.group[:, 0]], pt.constant(spread, dtype="float64"))
    alone = norm.logpdf(values, mean[labels[:, 0]], spread).sum()
    assert graph.potentials[0].eval() == pytest.approx(alone, abs=1e-10)


@pytest.mark.slow
def test_the_fit_recovers_the_truth_of_the_record():
    """One part in thirty is bought twice; one family's prices have a wider spread than the others'."""
    rows, rng = small_history(800, seed=2).rows, np.random.default_rng(6)
    wide = rows["finding"].str.startswith("main-board").to_numpy()
    ratio = small_shop.LOG_PARTS_RATIO + np.where(wide, 0.35, 0.15) * rng.normal(size=len(rows))
    times = np.where(rng.random(len(rows)) < 1 / 30, 2, 1)
    history = History(rows.assign(parts_cost=rows["book_cost"] * times * np.exp(ratio)), DAY.date())
    draws = fitted(MODEL, history, CATALOGUE, PRIORS)
    assert_recovers(draws["log_ratio"], small_shop.LOG_PARTS_RATIO)
    assert_recovers(draws["spread"], np.where(draws["family"] == "main-board", 0.35, 0.15))
    assert_recovers(draws["bought_again"], 1 / 30)
    assert draws["bought_again"].std() < 0.006, "the record hardly says how often"
    found = predictive_checks("parts_cost", history, CATALOGUE, PRIORS, draws, seed=1)
    assert not [check.quantity for check in found if check.fails]
