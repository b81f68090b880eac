"""From records to attempts, indices and patterns."""

from __future__ import annotations

from datetime import date

import numpy as np
import pandas as pd
import pytest

from tests.outcome_models.attempt_records import shop_catalogue, simulated
from triage.design_matrix import attempt_design, attempts, forgetting
from triage.domain.catalogue import Catalogue
from triage.domain.catalogue_entries import DamageKind
from triage.domain.history import History
from triage.outcome_models.attempt_totals import total_over_rows

CATALOGUE = shop_catalogue()


def history(*rows: dict) -> History:
    return History(pd.DataFrame(list(rows)), date(2026, 1, 1))


def row(job: str, finding: str, outcome: str = "fixed", **more) -> dict:
    told = {"job": job, "date": pd.Timestamp("2025-12-01"), "finding": finding, "outcome": outcome}
    return {**told, "method": "", "severity": 2, **more}


def test_rows_closed_by_one_repair_are_one_attempt_under_its_first_kind():
    table = attempts(
        history(
            row("1", "kind-1", method="both", severity=3),
            row("1", "kind-2", method="both", severity=1),
            row("1", "kind-3", method="fix-3"),
        ),
        CATALOGUE,
    )
    assert table["kind"].tolist() == ["kind-2", "kind-3"]  # `both` closes kind-2 first
    assert table["severity"].tolist() == [1, 2]
    assert table["rows"].tolist() == [(0, 1), (2,)]


def test_a_shared_repair_is_fixed_only_when_all_it_closes_is():
    rows = [row("1", "kind-1", "not-fixed", method="both"), row("1", "kind-2", method="both")]
    assert attempts(history(*rows), CATALOGUE)["fixed"].tolist() == [False]


@pytest.mark.parametrize("methods", [("fix-0", "fix-0"), ("fix-0", ""), ("", "fix-0"), ("", "")])
@pytest.mark.parametrize("outcomes", [("fixed", "fixed"), ("not-fixed", "fixed"), ("fixed", "not-fixed")])
def test_work_done_again_by_the_same_or_a_blank_method_is_one_try_with_the_last_outcome(methods, outcomes):
    rows = [row("1", "kind-0", out, method=m) for out, m in zip(outcomes, methods, strict=True)]
    table = attempts(history(row("1", "kind-3"), *rows), CATALOGUE)
    assert table["kind"].tolist() == ["kind-3", "kind-0"]
    assert table["fixed"].tolist() == [True, outcomes[1] == "fixed"]
    assert table["rows"].tolist() == [(0,), (1, 2)] and table["after"].tolist() == [-1, -1]
    assert table["method"].tolist() == ["", "fix-0" if any(methods) else ""]


def test_minutes_and_parts_of_work_done_again_are_added_up():
    rows = [row("1", "kind-0", minutes=40.0), row("1", "kind-0", minutes=25.0)]
    record = history(*rows)
    assert total_over_rows(attempts(record, CATALOGUE), record.rows["minutes"]).tolist() == [65.0]


def test_another_method_shows_that_the_first_did_not_hold():
    rows = [row("1", "kind-0", method="fix-0"), row("1", "kind-0", method="other-way")]
    table = attempts(history(*rows), CATALOGUE)
    assert table["fixed"].tolist() == [False, True] and table["after"].tolist() == [-1, 0]


def test_a_shared_repair_done_again_counts_by_its_last_outcomes():
    rows = [row("1", kind, out, method="both") for kind, out in (
        ("kind-1", "not-fixed"), ("kind-2", "not-fixed"), ("kind-1", "fixed"), ("kind-2", "fixed"),
    )]  # fmt: skip
    assert attempts(history(*rows), CATALOGUE)["fixed"].tolist() == [True]
    # Redone for one of its two findings only: the other still stands.
    assert attempts(history(*rows[:1], rows[3], rows[2]), CATALOGUE)["fixed"].tolist() == [True]


def test_two_places_of_one_kind_are_two_attempts():
    rows = [row("1", "kind-0", method="fix-0", zone=zone) for zone in ("left", "right")]
    assert attempts(history(*rows), CATALOGUE)["fixed"].tolist() == [True, True]


@pytest.mark.parametrize(("hopeless", "fixed"), [("missing", [True]), ("failed", [True, False])])
def test_not_attempted_is_missing_and_looked_hopeless_may_count_as_failed(hopeless, fixed):
    rows = [
        row("1", "kind-0", why_not=""),
        row("1", "kind-1", "not-attempted", why_not="looked-hopeless"),
        row("1", "kind-2", "not-attempted", why_not="job-stopped"),
    ]
    assert attempts(history(*rows), CATALOGUE, hopeless)["fixed"].tolist() == fixed


def test_a_second_try_follows_the_failure_at_the_same_finding_only():
    rows = [
        row("1", "kind-0", "not-fixed", method="fix-0"),
        row("1", "kind-3", "not-fixed", method="fix-3"),
        row("1", "kind-0", method="other-way"),
        row("2", "kind-0", method="other-way"),
    ]
    assert attempts(history(*rows), CATALOGUE)["after"].tolist() == [-1, -1, 0, -1]
    made = attempt_design(history(*rows), CATALOGUE)
    assert made.indices.again.tolist() == [0, 0, 1, 0]
    cells = made.patterns.cells  # the same work first and after a failure: two distinct attempts
    assert sorted(cells.again[cells.method >= 0].tolist()) == [0, 1]


def test_coords_hold_every_kind_of_the_catalogue_and_only_factors_with_two_levels():
    made = attempt_design(history(row("1", "kind-0", tier="top"), row("2", "kind-1", tier="top")), CATALOGUE)
    assert made.coords["kind"] == tuple(CATALOGUE.kinds)
    assert made.coords["method"] == ("both", "other-way")  # not the usual method of some kind
    assert not {"tier", "cause", "technician"} & set(made.coords)


def test_usual_methods_and_blanks_have_no_effect_of_their_own():
    rows = [row(str(n), "kind-0", method=m) for n, m in enumerate(("", "fix-0", "other-way"))]
    method = attempt_design(history(*rows), CATALOGUE).indices.method
    assert method.tolist() == [-1, -1, 1]


def test_without_repairs_the_commonest_recorded_method_is_the_usual_one():
    catalogue = Catalogue(kind=(DamageKind("kind-0", "x", "f"),))
    rows = [row(str(i), "kind-0", method=m) for i, m in enumerate(["weld", "glue", "glue"])]
    made = attempt_design(history(*rows), catalogue)
    assert made.coords["method"] == ("weld",)
    assert made.indices.method.tolist() == [0, -1, -1]


def test_patterns_hold_every_job_once_whatever_the_order_of_its_rows():
    rows = [
        row("a", "kind-0"), row("a", "kind-1", "not-fixed"),
        row("b", "kind-1", "not-fixed"), row("b", "kind-0"),
        row("c", "kind-0"),
    ]  # fmt: skip
    patterns = attempt_design(history(*rows), CATALOGUE).patterns
    assert sorted(patterns.count.tolist()) == [1, 2]
    assert patterns.job_pattern[0] == patterns.job_pattern[1] != patterns.job_pattern[2]
    assert patterns.size.tolist() == [2, 1]


def test_patterns_add_up_to_the_record():
    made = attempt_design(simulated(300), CATALOGUE)
    patterns = made.patterns
    weight = np.repeat(patterns.count, patterns.size)
    assert patterns.count.sum() == len(made.jobs)
    assert weight.sum() == len(made.fixed)
    assert (weight * patterns.fixed).sum() == made.fixed.sum()
    kinds = np.bincount(patterns.cells.kind[patterns.cell], weight)
    assert kinds.tolist() == np.bincount(made.indices.kind).tolist()
    again = patterns.cells.again[patterns.cell] == 1
    assert weight[again].sum() == (made.after >= 0).sum() > 0
    assert not made.fixed[made.after[made.after >= 0]].any()


def test_forgetting_weights_whole_jobs_by_age():
    # Jobs 80, 40 and 0 days before the end, half-life 40 days: weights 1/4, 1/2, 1.
    rows = [
        row("a", "kind-0", date=pd.Timestamp(2025, 10, 13)),
        row("a", "kind-1", date=pd.Timestamp(2025, 10, 13)),
        row("b", "kind-0", date=pd.Timestamp(2025, 11, 22)),
        row("c", "kind-0", date=pd.Timestamp(2026, 1, 1)),
    ]  # fmt: skip
    plain = history(*rows)
    made = attempt_design(forgetting(plain, 40), CATALOGUE)
    assert made.weight == pytest.approx([1 / 4, 1 / 2, 1])
    assert sorted(made.patterns.count) == pytest.approx([1 / 4, 3 / 2])  # b and c are one pattern
    assert attempt_design(plain, CATALOGUE).patterns.count.tolist() == [1, 2]
    assert attempt_design(forgetting(plain, 40, ["kind-1"]), CATALOGUE).weight == pytest.approx([1 / 4, 1, 1])
    assert "weight" not in plain.rows


def test_a_design_with_no_rows_has_the_same_levels():
    made = attempt_design(None, CATALOGUE)
    assert made.coords["kind"] == tuple(CATALOGUE.kinds)
    assert len(made.fixed) == len(made.patterns.count) == 0
    assert made.levels.indices(["kind-1"], [3], tier=["top"]).table.tolist() == [
        [1, 2, -1, -1, -1, -1, 0, -1]
    ]
