"""The grade at intake and the grade at the bench: both are kept, and forecasts are scored from the first."""

from __future__ import annotations

import pandas as pd

from tests.workflows.at_the_desk import DAY, bought
from triage.domain.history import History
from triage.domain.job.records import Attempt
from triage.ledger.history.history_rows import history_of, rows_of
from triage.workflows.jobs.ending import dispose
from triage.workflows.jobs.record_keeper import correct, move
from triage.workflows.jobs.work import attempt
from triage.workflows.looking_back.backtest import _between


def graded(keeper, *grades):
    """A job whose only damage came in as 2 and was graded anew on the bench."""
    job = bought(keeper)
    job.do(move, "start", DAY)
    for grade in grades:
        job.do(correct, job.file.findings[0].id, "seen under the microscope", severity=grade)
    job.do(attempt, Attempt("port-pins-damaged", "not-fixed", "resolder-port", minutes=30))
    job.do(dispose, DAY)
    return job


def test_the_bench_does_not_overwrite_the_grade_of_the_intake(keeper):
    (row,) = rows_of(graded(keeper, 1, 3).file)
    assert (row["severity"], row["intake_severity"], row["known_at"]) == ("3", "2", "intake")
    (row,) = rows_of(graded(keeper).file)
    assert (row["severity"], row["intake_severity"]) == ("2", "")


def test_a_slip_corrected_before_work_begins_is_the_grade_of_the_intake(keeper):
    job = bought(keeper)
    job.do(correct, job.file.findings[0].id, "tapped the wrong one", severity=1)
    found = job.file.findings[0].record
    assert (found.severity, found.intake_severity) == (1, None)


def test_a_forecast_is_scored_from_the_grade_of_the_intake_and_learns_from_the_bench(keeper):
    for grades in ((3,), ()):
        graded(keeper, *grades)
    with keeper.ledger.reading() as reading:
        history = history_of(reading.jobs(), keeper.catalogue)
    assert history.rows["severity"].tolist() == [3, 2]
    day = pd.Timestamp(DAY)
    asked = _between(history, (day - pd.Timedelta(days=1)).date(), DAY)
    assert asked.rows["severity"].tolist() == [2, 2]
    plain = History(history.rows.drop(columns="intake_severity"), history.as_of)
    assert plain.as_seen_at_intake() is plain
