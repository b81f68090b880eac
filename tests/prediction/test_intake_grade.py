"""Severities misread at intake: how they are counted, and forecasts averaged over what the bench finds."""

from __future__ import annotations

import dataclasses

import numpy as np
import pandas as pd
import pytest
import xarray as xr
from scipy.special import expit

from tests.prediction.test_forecast import CATALOGUE, POSTERIOR, PRIORS, SETTINGS, forecast
from tests.prediction.test_job_forecasts import DENSITY, GRID
from tests.prediction.test_job_forecasts import TABLE as TRIES
from tests.prediction.test_success import CATALOGUE as SMALL
from tests.prediction.test_success import made_draws
from triage.domain.documents import parse_toml
from triage.domain.history import History
from triage.domain.intake_grades import NO_GRADES, grade_counts
from triage.domain.units.unit import Finding, Unit
from triage.errors import PriorFileError
from triage.prediction.attempt_chances import attempt_chances
from triage.prediction.forecast import forecast_unit
from triage.prediction.intake_grade import bench_shares
from triage.prediction.success import success_logits
from triage.priors.fresh_job import inside_logit
from triage.priors.intake_grade import IntakeGradePriors, faults

DAY = pd.Timestamp("2026-01-05")


def history(*rows):
    """Rows of (job, finding, intake severity or None, bench severity, known at, outcome)."""
    names = ["job", "finding", "intake_severity", "severity", "known_at", "outcome"]
    frame = pd.DataFrame(rows, columns=names).assign(date=DAY)
    return History(frame.astype({"intake_severity": float}), DAY.date())


def test_findings_worked_on_are_counted_by_both_grades():
    record = history(
        ("a", "port", 1, 3, "intake", "not-fixed"),
        ("a", "port", 1, 3, "intake", "fixed"),  # another try: the same finding
        ("b", "port", None, 2, "intake", "fixed"),  # the bench kept the grade
        ("c", "port", 2, 3, "", "fixed"),
        ("d", "port", 2, 3, "opening", "fixed"),  # never graded at intake
        ("e", "port", 2, 3, "intake", "not-attempted"),  # nobody looked closer
    )
    assert grade_counts(record) == ((0, 0, 1), (0, 1, 1), (0, 0, 0))
    assert grade_counts(None) == NO_GRADES
    untold = History(record.rows.drop(columns=["severity", "intake_severity"]), record.as_of)
    assert grade_counts(untold) == ()


def test_shares_are_the_mean_of_a_dirichlet():
    priors = IntakeGradePriors(((0.8, 0.1, 0.1), (0.0, 1.0, 0.0), (0.2, 0.2, 0.6)), jobs=10)
    shares = priors.shares(((4, 5, 1), (0, 0, 0), (0, 3, 7)))
    assert shares == pytest.approx(np.array([[12, 6, 2], [0, 20, 0], [2, 5, 13]]) / 20)
    assert priors.shares(()) == pytest.approx(np.eye(3))


def test_shares_that_are_no_whole_are_refused():
    document = parse_toml("bench = [[0.9, 0.1, 0.1], [0, 1, 0], [0, 0, 1]]\n", "grades", PriorFileError)
    (fault,) = faults(IntakeGradePriors(((0.9, 0.1, 0.1), (0, 1, 0), (0, 0, 1))), document, CATALOGUE)
    assert "intake severity 1 sum to 1.1" in str(fault)


# A grade of 2 at intake is 3 on the bench in half the cases.
MISREAD = ((300, 0, 0), (0, 150, 150), (0, 0, 300))
KIND = "liquid-mark-dry"


@pytest.fixture(scope="module")
def told():
    manifest = dataclasses.replace(POSTERIOR.manifest, grades=MISREAD)
    posterior = dataclasses.replace(POSTERIOR, manifest=manifest)

    def repairs(severity, known_at, posterior=posterior):
        unit = Unit("wet", "middle", (Finding(KIND, severity, known_at=known_at),))
        return forecast(unit, posterior).repairs

    return repairs


def test_a_grade_of_the_intake_is_averaged_over_that_of_the_bench(told):
    shares = PRIORS.intake_grade.shares(MISREAD)[1]
    exact = [told(grade, "test") for grade in (1, 2, 3)]
    mixed = told(2, "intake")
    assert len(mixed) >= 2  # there is a second method
    for key, repair in mixed.items():
        assert repair.severity == 2
        by_hand = sum(share * one[key].chance for share, one in zip(shares, exact, strict=True))
        assert repair.chance == pytest.approx(by_hand, abs=1e-12)
        for other, after in repair.chance_after.items():
            # By Bayes: the grade, given that the other method failed first.
            failed = [share * (1 - one[KIND, other].chance) for share, one in zip(shares, exact, strict=True)]
            pairs = zip(failed, exact, strict=True)
            by_hand = sum(weight * one[key].chance_after[other] for weight, one in pairs) / sum(failed)
            assert after == pytest.approx(by_hand, abs=1e-12)


def test_minutes_are_those_of_the_grades_given_the_outcome(told):
    shares = PRIORS.intake_grade.shares(MISREAD)[1]
    exact = [told(grade, "test") for grade in (1, 2, 3)]
    for key, repair in told(2, "intake").items():
        for name, sign in (("minutes_fixed", 1), ("minutes_failed", -1)):
            works = np.array([one[key].chance.mean() for one in exact])
            weight = shares * (works if sign > 0 else 1 - works)
            means = np.array([getattr(one[key], name).mean() for one in exact])
            found = getattr(repair, name)
            # Averages over draws are taken apart here, which the paths do not: within 5 % and luck.
            assert found.mean() == pytest.approx(weight @ means / weight.sum(), rel=0.05)


def test_an_older_fit_takes_the_grade_as_it_is():
    unit = Unit("wet", "middle", (Finding(KIND, 2),))
    exact = Unit("wet", "middle", (Finding(KIND, 2, known_at="test"),))
    for key, repair in forecast(unit).repairs.items():
        same = forecast(exact).repairs[key]
        assert np.array_equal(repair.chance, same.chance)
        assert np.array_equal(repair.minutes_fixed, same.minutes_fixed)


def test_a_second_try_after_a_failure_averages_over_the_grade_that_failed():
    """Job "a" of the table by brute force: fails at kind 0, fixes kind 3, then kind 0 another way."""
    draws = made_draws(1, seed=8).assign(job_sd=("draw", [0.5]))
    shares = np.tile([0.2, 0.3, 0.5], (len(TRIES), 1))
    found = attempt_chances(draws, TRIES, SMALL, shares)[0]
    labels = ("kind", "severity", "tier", "technician", "cause", "method")
    by_grade = []
    for grade in (1, 2, 3):
        table = TRIES.assign(severity=grade)
        logit = success_logits(draws, SMALL, *(table[name].tolist() for name in labels))[0]
        lowered = logit - float(draws["after_failure"][0]) * (TRIES["after"].to_numpy() >= 0)
        by_grade.append(expit(inside_logit(lowered, 0.5)[:, None] + 0.5 * GRID))  # (row, z)
    p, w = np.array(by_grade), shares[0][:, None]
    fails = w * (1 - p[:, 0])
    first, middle = (w * p[:, 0]).sum(axis=0) @ DENSITY, (w * p[:, 2]).sum(axis=0)
    last = (fails * p[:, 3]).sum(axis=0)
    assert found[0] == pytest.approx(first, abs=1e-6)
    assert found[2] == pytest.approx(
        fails.sum(axis=0) * middle @ DENSITY / (fails.sum(axis=0) @ DENSITY), abs=1e-6
    )
    assert found[3] == pytest.approx(
        last * middle @ DENSITY / (fails.sum(axis=0) * middle @ DENSITY), abs=1e-6
    )


def test_scored_from_the_intake_forecasts_are_calibrated_on_a_shop_that_misreads():
    """40,000 jobs of one finding: the intake is right in 7 of 10, the chance hangs on the bench's grade."""
    rng = np.random.default_rng(5)
    confusion = np.array([[0.7, 0.2, 0.1], [0.15, 0.7, 0.15], [0.05, 0.25, 0.7]])
    chance = np.array([0.95, 0.8, 0.4])
    intake = rng.integers(0, 3, 40_000)
    bench = (rng.random(40_000)[:, None] > np.cumsum(confusion, axis=1)[intake]).sum(axis=1)
    fixed = rng.random(40_000) < chance[bench]
    rows = zip(range(40_000), intake + 1, bench + 1, fixed, strict=True)
    record = history(*((j, "kind-0", i, b, "intake", "fixed" if f else "not-fixed") for j, i, b, f in rows))
    shares = IntakeGradePriors().shares(grade_counts(record))
    assert shares == pytest.approx(confusion, abs=0.015)
    few = np.flatnonzero(np.arange(40_000) % 20 == 0)
    asked = record.as_seen_at_intake()
    table = pd.DataFrame(
        {"job": few, "kind": "kind-0", "row": few, "severity": asked.rows["severity"].to_numpy()[few],
         "tier": "", "technician": "", "cause": "", "method": "", "fixed": fixed[few], "after": -1}
    )  # fmt: skip
    effect = np.zeros((1, len(SMALL.kinds), 3))
    effect[0, 0] = np.log(chance / (1 - chance))
    draws = made_draws(1, seed=1)
    draws = draws.drop_vars([name for name in draws if name.endswith("_effect")]).assign(
        kind_logit=xr.zeros_like(draws["kind_logit"]), job_sd=("draw", [1e-9]),
        severity_effect=(("draw", "kind", "severity"), effect),
    )  # fmt: skip
    told = attempt_chances(draws, table, SMALL, bench_shares(table, asked, shares))[0]
    naive = attempt_chances(draws, table, SMALL)[0]
    worst = 0.0
    for grade in (1, 2, 3):
        of, asked_of = table["severity"].to_numpy() == grade, intake + 1 == grade
        rate = fixed[asked_of].mean()
        assert told[of].mean() == pytest.approx(rate, abs=4 * np.sqrt(0.25 / asked_of.sum()) + 0.005)
        worst = max(worst, abs(naive[of].mean() - rate))
    assert worst > 0.1  # taken as the bench's, the intake's grades promise far too much or too little


def test_a_unit_of_a_shop_without_a_record_is_averaged_by_belief():
    manifest = dataclasses.replace(POSTERIOR.manifest, grades=NO_GRADES)
    unit = Unit("wet", "middle", (Finding(KIND, 3),))
    posterior = dataclasses.replace(POSTERIOR, manifest=manifest)
    repairs = forecast_unit(unit, CATALOGUE, posterior, PRIORS, SETTINGS).repairs
    plain = forecast(unit).repairs
    assert any(not np.allclose(repairs[key].chance, plain[key].chance) for key in repairs)
