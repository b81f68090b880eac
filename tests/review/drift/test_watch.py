"""Watching a whole record: by a fit made before, by one that has seen it all, and without a fit."""

from __future__ import annotations

from datetime import date

import numpy as np
import pandas as pd
import pytest
import xarray as xr
from scipy.special import expit

from synthetic_cases.generate import generate_history
from synthetic_cases.truth import load_truth
from triage.domain.catalogue import Catalogue, load_catalogue
from triage.domain.catalogue_entries import DamageKind
from triage.domain.history import History
from triage.posterior.manifest import Manifest, ModelRecord
from triage.posterior.store import Posterior
from triage.priors.prior_set import PriorSet, load_priors
from triage.priors.success import KindBelief, SuccessPriors
from triage.review.drift.watch import believed_chances, watch_drift
from triage.shipped import shipped

CATALOGUE = Catalogue(
    kind=(DamageKind("hinge", "Loose hinge", "case"), DamageKind("lamp", "Dead lamp", "case"))
)
AS_OF = date(2025, 12, 31)
FALL = date(2025, 5, 1)


def record(before: float, after: float) -> History:
    """Two years, a job a day, hinge and lamp by turns; the hinge's rate changes, kept to evenly."""
    rows, due = [], {"hinge": 0.0, "lamp": 0.0}
    for place, day in enumerate(pd.date_range("2024-01-01", AS_OF)):
        kind = "hinge" if place % 2 else "lamp"
        due[kind] += 0.6 if kind == "lamp" else (before if day.date() < FALL else after)
        fixed = due[kind] >= 1
        due[kind] -= fixed
        outcome = "fixed" if fixed else "not-fixed"
        rows.append({"job": f"{day:%F}", "date": day, "finding": kind, "outcome": outcome})
    return History(pd.DataFrame(rows), AS_OF)


def posterior(as_of: str, hinge: float, belief_only: bool = False) -> Posterior:
    """Draws that are fairly sure of the hinge's chance, and of 12 in 20 for the lamp."""
    rng, kinds = np.random.default_rng(5), ["hinge", "lamp"]
    logits = np.log([hinge / (1 - hinge), 1.5]) + 0.1 * rng.standard_normal((200, 2))
    draws = xr.Dataset(
        {
            "kind_logit": (("draw", "kind"), logits),
            "severity_effect": (("draw", "kind", "severity"), np.zeros((200, 2, 3))),
            "job_sd": ("draw", np.full(200, 1e-3)),
        },
        coords={"kind": kinds, "family": ["case"], "severity": ["1", "2", "3"]},
    )
    manifest = Manifest(
        seed=1, as_of=as_of, jobs=0, rows=0, data_hash="", prior_hash="", catalogue_digest="", structure="",
        kinds=tuple(kinds), models={"success": ModelRecord(belief_only, True)},
    )  # fmt: skip
    return Posterior({"success": draws}, manifest)


@pytest.mark.parametrize(
    ("fit", "against"),
    [
        (posterior("2024-12-31", 0.75), "the fit up to 2024-12-31"),
        (posterior("2025-12-31", 0.65), "the fit, with each kind's level"),
        (posterior("", 0.5, belief_only=True), "the fit, with each kind's level"),
        (None, "assumptions, with each kind's level"),
    ],
    ids=["made before", "has seen it all", "belief only", "none"],
)
def test_a_fall_is_seen_and_a_steady_kind_is_not(fit, against):
    found = watch_drift(record(0.75, 0.4), fit, CATALOGUE)
    (alarm,) = found.alarms
    assert (alarm.kind, alarm.direction) == ("hinge", "down")
    assert abs((alarm.since - FALL).days) <= 30
    assert FALL < alarm.seen_on < date(2025, 9, 1)
    assert round(alarm.expected_in_20) == 15 and round(alarm.recent_in_20) == 8
    assert found.against.startswith(against)
    assert found.watch_from == date(2024, 12, 31) and found.as_of == AS_OF
    assert found.attempts == pytest.approx(365, abs=1)
    assert watch_drift(record(0.75, 0.75), fit, CATALOGUE).alarms == ()


def test_an_older_fit_is_watched_from_its_own_day_and_a_short_record_from_its_middle():
    history = record(0.75, 0.75)
    assert watch_drift(history, posterior("2024-06-30", 0.75), CATALOGUE).watch_from == date(2024, 6, 30)
    short = History(history.rows.head(100), date(2024, 4, 9))
    assert watch_drift(short, None, CATALOGUE).watch_from == date(2024, 2, 20)


def test_nothing_done_is_nothing_watched():
    rows = record(0.75, 0.75).rows.assign(outcome="not-attempted")
    found = watch_drift(History(rows, AS_OF), None, CATALOGUE)
    assert (found.alarms, found.attempts) == ((), 0)


def test_assumptions_are_by_kind_and_severity():
    table = pd.DataFrame({"kind": ["hinge", "hinge", "lamp"], "severity": [2, 3, 1]})
    stated = PriorSet(success=SuccessPriors(kind=(KindBelief("hinge", 0.5, 4),)))
    # Step .7 a grade, default assumption 15 in 20: both are the shipped defaults of the prior file.
    expected = [0.5, expit(-0.7), expit(np.log(3) + 0.7)]
    assert believed_chances(table, stated) == pytest.approx(expected)


@pytest.mark.slow
def test_false_alarms_are_rare_over_the_invented_shop():
    # 60 shops without drift, all kinds, each attempt of a year a look. At the stated 5 % a
    # year 8 or more of 60 would be met once in a hundred runs (binomial tail .011).
    truth, catalogue = load_truth(), load_catalogue()
    priors = load_priors(shipped("models/priors/demo"), catalogue)
    alarmed = 0
    for seed in range(60):
        rows = generate_history(truth, 7000 + seed)
        history = History(rows.assign(date=pd.to_datetime(rows["date"])), truth.as_of)
        alarmed += bool(watch_drift(history, None, catalogue, priors).alarms)
    assert alarmed < 8
