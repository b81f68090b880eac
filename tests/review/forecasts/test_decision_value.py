"""The go or no-go on past jobs, worked with a pencil."""

from __future__ import annotations

from datetime import date

import numpy as np
import pandas as pd
import pytest

from triage.domain.catalogue import Catalogue
from triage.domain.catalogue_entries import DamageKind
from triage.domain.history import History
from triage.review.forecasts.decision_value import FEWEST, decision_score, expected_margins, intake_findings


def money(walk_in, finished, before, paid):
    margin = np.asarray(before, float) - paid
    frame = {"walk_in": walk_in, "finished": finished, "margin": margin, "paid": np.full(len(margin), paid)}
    return pd.DataFrame(frame, index=[f"{before[0]}-{i}" for i in range(len(margin))])


def test_expected_margin_by_hand():
    # Bought, upper: finished jobs made 100 before purchase, unfinished 10; budget: few, so all jobs' means.
    done = money(False, True, np.full(FEWEST, 100.0), 20.0)
    not_done = money(False, False, np.full(FEWEST, 10.0), 20.0)
    few = money(False, True, np.array([40.0]), 5.0)
    past = pd.concat([done, not_done, few])
    tier = pd.Series("upper", index=past.index)
    tier[few.index] = "budget"
    new = pd.DataFrame({"walk_in": False, "paid": [30.0, 60.0, 30.0]}, index=["a", "b", "c"])
    tier = pd.concat([tier, pd.Series(["upper", "upper", "budget"], index=new.index)])
    found = expected_margins(past, new, tier, np.array([0.5, 0.5, 0.5]))
    all_done = (FEWEST * 100 + 40) / (FEWEST + 1)
    np.testing.assert_allclose(found, [55 - 30, 55 - 60, (all_done + 10) / 2 - 30])
    # A past without an unfinished job cannot say what one makes.
    assert np.isnan(expected_margins(done, new, tier, np.array([0.5, 0.5, 0.5]))).all()


def test_vetoed_jobs_earn_and_cost_nothing():
    made = np.array([50.0, -30.0, -10.0, 20.0, 99.0])
    expected = {
        "model": np.array([5.0, -1.0, -1.0, 0.0, 1.0]),
        "raw": np.array([5.0, 1.0, -1.0, -2.0, np.nan]),
    }
    found = decision_score(made, expected, jobs=7, seed=1)
    assert (found.jobs, found.left_out) == (4, 3)
    rules = {name: (rule.taken, rule.margin, rule.vetoed_margin) for name, rule in found.rules.items()}
    assert rules == {"model": (2, 70.0, -40.0), "raw": (2, 20.0, 10.0), "take all": (4, 30.0, 0.0)}
    assert found.gains["take all"].mean == pytest.approx(10)
    assert found.gains["raw"].mean == pytest.approx(12.5)
    assert found.gains["raw"].low <= 12.5 <= found.gains["raw"].high
    assert decision_score(made[4:], {name: values[4:] for name, values in expected.items()}, 1, 1) is None


def test_only_needed_repairs_known_at_intake_are_asked_about():
    kinds = (
        DamageKind("port-bent", "port", "port"),
        DamageKind("trim-scuffed", "trim", "trim", needed=False),
        DamageKind("board-bent", "board", "board", role="risk"),
    )
    rows = [
        ("a", "port-bent", "", "not-fixed"),
        ("a", "port-bent", "intake", "fixed"),  # a second try
        ("a", "trim-scuffed", "", "fixed"),
        ("a", "board-bent", "", "not-attempted"),
        ("b", "port-bent", "opening", "fixed"),
        ("c", "port-bent", "intake", "not-attempted"),
    ]
    frame = pd.DataFrame(rows, columns=["job", "finding", "known_at", "outcome"])
    history = History(frame.assign(date=pd.Timestamp("2026-01-01")), date(2026, 2, 1))
    found = intake_findings(history, Catalogue(kind=kinds))
    assert list(found.index) == [0, 5]
