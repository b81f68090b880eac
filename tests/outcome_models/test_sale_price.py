import numpy as np
import pandas as pd
import pytest

from tests.outcome_models import small_shop
from tests.outcome_models.recovery import assert_recovers, fitted
from tests.outcome_models.small_shop import small_catalogue, small_history
from triage.domain.history import History
from triage.outcome_models.sale_price import MODEL, design, sales
from triage.priors.prior_set import PriorSet

CATALOGUE, PRIORS = small_catalogue(), PriorSet()
DAY = pd.Timestamp("2025-01-01")


def record(*jobs):
    """(route, sold, [(finding, outcome), ...]) a job; the fourth kind of a family is optional."""
    rows = [
        {"job": f"job-{n}", "date": DAY, "finding": kind, "outcome": outcome, "route": route, "sold": sold,
         "working_price": 100.0, "tier": ("budget", "top")[n % 2]}
        for n, (route, sold, findings) in enumerate(jobs)
        for kind, outcome in findings
    ]  # fmt: skip
    return History(pd.DataFrame(rows), DAY.date())


def test_grade_counts_optional_findings_left_open():
    history = record(
        ("bought", 100.0, [("display-0", "fixed"), ("audio-3", "fixed")]),
        ("bought", 80.0, [("display-0", "fixed"), ("audio-3", "not-attempted")]),
        ("bought", 60.0, [("camera-3", "not-fixed"), ("audio-3", "not-fixed"), ("liquid-3", "not-fixed")]),
    )
    table = sales(history, CATALOGUE)
    assert table["grade"].tolist() == [0, 1, 2]
    assert np.exp(table["ratio"]).tolist() == pytest.approx([1.0, 0.8, 0.6])


def test_a_finding_fixed_by_a_second_method_is_not_left_open():
    history = record(
        ("bought", 100.0, [("audio-3", "not-fixed"), ("display-0", "not-fixed"), ("audio-3", "fixed"),
                           ("display-0", "fixed")]),
        ("bought", 80.0, [("audio-3", "not-fixed"), ("audio-3", "not-fixed")]),
        ("bought", 80.0, [("audio-3", "fixed"), ("audio-3", "not-fixed")]),
    )  # fmt: skip
    assert sales(history, CATALOGUE)["grade"].tolist() == [0, 1, 1]


def test_a_stripped_unit_tells_nothing_of_the_price():
    history = record(*[("bought", 60.0, [("display-0", "fixed")])] * 2)
    rows = history.rows.assign(ending=["sold", "stripped"])
    assert sales(History(rows, history.as_of), CATALOGUE).index.tolist() == ["job-0"]


def test_only_finished_units_of_the_shop_inform_the_sale_price():
    history = record(
        ("walk-in", 100.0, [("display-0", "fixed")]),
        ("bought", 30.0, [("display-0", "not-fixed")]),
        ("bought", np.nan, [("display-0", "fixed")]),
        ("bought", 90.0, [("display-0", "fixed")]),
    )
    assert sales(history, CATALOGUE).index.tolist() == ["job-3"]


def test_one_tier_has_no_effect():
    made = design(record(("bought", 90.0, [("display-0", "fixed")])), CATALOGUE, PRIORS)
    assert made.coords["tier"] == () and made.ratios.group.tolist() == [[-1, 0]]


@pytest.mark.slow
def test_the_fit_recovers_the_truth_of_the_record():
    draws = fitted(MODEL, small_history(2500, seed=2), CATALOGUE, PRIORS)
    assert_recovers(draws["level"], 0.0)
    assert_recovers(draws["tier_effect"], [small_shop.TIER_EFFECT[t] for t in draws["tier"].values])
    assert_recovers(draws["first_drop"], small_shop.DROP)
    assert_recovers(draws["spread"], small_shop.SALE_SPREAD)
