"""Baselines worked by hand, ridge against another program."""

from __future__ import annotations

from datetime import date

import numpy as np
import pandas as pd
import pytest
from sklearn.linear_model import LogisticRegression

from tests.outcome_models.attempt_records import shop_catalogue, simulated
from triage.design_matrix import attempt_design
from triage.domain.history import History
from triage.priors.success import Belief, KindBelief, SuccessPriors
from triage.review.forecasts.baselines import BASELINES, baseline_chances
from triage.review.forecasts.ridge import PENALTIES, fit_ridge, fit_ridge_by_cross_validation, indicators

CATALOGUE = shop_catalogue()


def test_rates_by_hand():
    outcomes = [("kind-1", True), ("kind-1", False), ("kind-1", True), ("kind-3", False)]
    rows = pd.DataFrame(
        {
            "job": list("abcd"),
            "date": pd.Timestamp("2026-01-05"),
            "finding": [kind for kind, _ in outcomes],
            "outcome": ["fixed" if fixed else "not-fixed" for _, fixed in outcomes],
        }
    )
    past = attempt_design(History(rows, date(2026, 2, 1)), CATALOGUE)
    priors = SuccessPriors(kind=(KindBelief("kind-1", 0.9, 10.0),), default=Belief(0.75, 4.0))
    new = pd.DataFrame({"kind": ["kind-1", "kind-3", "kind-5"], "severity": 2})
    new = new.assign(tier="", technician="", cause="", method="")
    found = baseline_chances(past, new, priors)
    assert set(found) == set(BASELINES)
    np.testing.assert_allclose(found["overall"], 2.5 / 5)
    np.testing.assert_allclose(found["raw"], [2.5 / 4, 0.5 / 2, 0.5])
    np.testing.assert_allclose(found["beta"], [(2 + 9) / 13, 3 / 5, 0.75])
    # kind-5 was never seen: its family's indicator (that of kind-1 and kind-3) is all ridge knows.
    assert found["ridge"][1] < found["ridge"][2] < found["ridge"][0]


def test_ridge_equals_scikit_learn_and_its_penalty_is_chosen_on_whole_jobs():
    past = attempt_design(simulated(200), CATALOGUE)
    columns = indicators(past.levels, past.indices)
    # kinds 6, families 2, severities 3, tiers 3, technicians 2, causes 2, other methods 2
    assert columns.shape[1] == 20
    found = fit_ridge(columns, past.fixed, penalty=2.0)
    other = LogisticRegression(C=1 / 2.0, tol=1e-8, max_iter=5000).fit(columns, past.fixed)
    assert found.intercept == pytest.approx(other.intercept_[0], abs=1e-4)
    np.testing.assert_allclose(found.coefficients, other.coef_[0], atol=1e-4)
    # A past without a failure still gets an answer, and a high one.
    assert (fit_ridge(columns, np.ones_like(past.fixed), 2.0).chances(columns) > 0.99).all()
    chosen = fit_ridge_by_cross_validation(columns, past.fixed, past.job)
    assert PENALTIES[0] < chosen.penalty < PENALTIES[-1]
