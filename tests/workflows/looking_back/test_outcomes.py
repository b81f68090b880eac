"""Kept decisions against the record: chances by pencil, what is left out and why, minutes and margins."""

from __future__ import annotations

import json
from dataclasses import replace
from datetime import date

import numpy as np
import pytest

from tests.policy.answer.test_promise import TWO
from tests.workflows.finished_jobs import finish
from triage.domain.job.records import Decision
from triage.policy.answer.promise import Promise, TryPromise
from triage.review.forecasts.kept_forecast import StoredForecast
from triage.workflows.answers.assess import assess
from triage.workflows.jobs.intake import described
from triage.workflows.jobs.record_keeper import RecordKeeper
from triage.workflows.looking_back.outcomes import track_record
from triage.workflows.shop.shop import open_shop

DAY = date(2026, 3, 2)
PORT, GLASS = ("port-pins-damaged", "resolder-port"), ("display-glass-cracked", "swap-display")


@pytest.fixture(scope="module")
def shop():
    return open_shop(today=DAY)


@pytest.fixture(scope="module")
def answer(shop):
    return assess(described(TWO, shop), shop, ask=40.0)


@pytest.fixture
def keeper(ledger, shop):
    return RecordKeeper(ledger, shop, by="ada")


def tried(port, glass, port_minutes=60.0, glass_minutes=70.0):
    both = ((*PORT, port, port_minutes), (*GLASS, glass, glass_minutes))
    return [(kind, "fixed" if works else "not-fixed", repair, spent) for kind, repair, works, spent in both]


PROMISE = Promise(
    tries=(
        TryPromise("weld", "seam", 0.8, (1, 2, 3, 4, 5), 3.0, {"glue": 0.5}),
        TryPromise("glue", "seam", 0.6, (1, 2, 3, 4, 5), 3.0),
        TryPromise("file", "edge", 0.7, (1, 2, 3, 4, 5), 3.0),
    ),
    together=("glue", "file"),
    # glue works and file works, glue fails, file fails, both fail.
    patterns=(0.5, 0.2, 0.1, 0.2),
)
STORED = StoredForecast(DAY, Decision("", "", "", "", ""), {"seam": 0.6, "edge": 0.7, "dent": 0.9}, PROMISE)


def test_chances_given_the_job_so_far_by_pencil():
    found = STORED.attempts([("seam", "glue", True), ("edge", "file", False)], [-1, -1])
    assert [one.chance for one in found] == pytest.approx([0.6, 0.5 / 0.6])
    assert all(one.given_earlier for one in found)
    # The other order, and a second method after the first has failed.
    found = STORED.attempts(
        [("edge", "file", True), ("seam", "glue", False), ("seam", "weld", True)], [-1, -1, 1]
    )
    assert [one.chance for one in found] == pytest.approx([0.7, 0.5 / 0.7, 0.5])
    assert [one.given_earlier for one in found] == [True, True, False]
    # A damage that was only suspected stands alone; one that nobody spoke of is not judged.
    found = STORED.attempts(
        [("dent", "press", True), ("seam", "glue", True), ("hum", "tune", True)], [-1] * 3
    )
    assert [None if one is None else one.chance for one in found] == [0.9, pytest.approx(0.6), None]
    assert [one.given_earlier for one in found[:2]] == [True, False]


def test_a_decision_from_before_promises_were_kept_is_judged_by_its_chances_alone():
    old = replace(STORED, promise=None)
    found = old.attempts([("seam", "glue", True), ("edge", "file", False)], [-1, -1])
    assert [(one.chance, one.given_earlier) for one in found] == [(0.6, True), (0.7, False)]
    assert old.minutes("glue") is None and old.margins(None) is None


def test_margins_at_the_price_paid():
    dots = list(range(0, 20))
    kept = Decision("", "", "", "", "", price_minor=50, margin_minor=9, dots=json.dumps(dots))
    mean, quantiles = replace(STORED, kept=kept).margins(40)
    assert mean == 19 and quantiles[2] == pytest.approx(9.5 + 10)
    assert quantiles[0] == pytest.approx(0.5 + 10) and quantiles[4] == pytest.approx(18.5 + 10)


def test_a_record_of_finished_jobs(keeper, shop, answer, ledger):
    assert track_record(ledger, shop) is None
    for number, (port, glass) in enumerate([(True, True), (True, True), (True, False), (False, False)]):
        more = [("side-key-dead", "fixed", "", 9.0)] if number == 3 else []
        tries = [*tried(port, glass), *more]
        finish(keeper, answer, TWO, tries, on=date(2026, 3 + number, 2), sold=20000 * port)
    finish(keeper, None, TWO, tried(True, False), on=date(2026, 8, 2))
    found = track_record(ledger, shop)
    assert (found.jobs, found.attempts, found.given_earlier) == (4, 8, 8)
    # Damage that the answer did not speak of, and a job taken without one, are not judged but counted.
    assert (found.unforeseen, found.left_out) == (1, (("accepted without a saved decision", 1),))
    assert [group.name for group in found.quarters] == ["2026 Q1", "2026 Q2"]
    table = found.forecasts
    stated = {one.repair: one.chance for one in answer.promise.tries}
    port, glass = stated[PORT[1]], stated[GLASS[1]]
    first = table[table["finding"] == PORT[0]]["model"]
    assert first.to_numpy() == pytest.approx(np.full(4, port), abs=1e-4)
    second = table[table["finding"] == GLASS[0]]["model"].to_numpy()
    assert second[0] > glass > second[3]  # after a success, and after a failure
    # The first job knows no past: nothing but a half, or the belief. The last one knows three.
    assert table["raw"].iloc[0] == table["overall"].iloc[0] == table["ridge"].iloc[0] == 0.5
    assert table["beta"].iloc[0] == pytest.approx(shop.priors.success.belief(PORT[0]).chance)
    assert table["raw"].iloc[6] == pytest.approx(3.5 / 4) and table["raw"].iloc[7] == pytest.approx(2.5 / 4)
    assert found.scores["model"].brier == pytest.approx(((table["model"] - table["fixed"]) ** 2).mean())
    checks = {check.what: check for check in found.promises}
    assert list(checks) == ["minutes per attempt", "minutes per job", "margins of bought jobs"]
    assert checks["minutes per attempt"].realised == 65.0
    assert checks["minutes per job"].realised == pytest.approx(130.0 + 9.0 / 4)
    expected = answer.expected_margin + answer.promise.other_cost
    assert checks["margins of bought jobs"].promised == pytest.approx(expected, abs=0.01)
