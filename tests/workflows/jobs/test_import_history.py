"""Import: every fault in one report, nothing by halves, nothing twice; and the models learn the same."""

from __future__ import annotations

import csv
import io
from datetime import date

import pytest

from triage.domain.catalogue import load_catalogue
from triage.errors import HistoryError
from triage.ledger.history.history_csv import parse_history
from triage.ledger.history.history_rows import ORDER, columns_of, rows_of
from triage.ledger.opening import open_ledger
from triage.ledger.summary import closed_since, summary
from triage.shipped import shipped
from triage.workflows.jobs.import_history import import_past_jobs, read_past_jobs
from triage.workflows.shop.record_files import history_of_record

CATALOGUE = load_catalogue()
DEMO = shipped("synthetic_cases/past-jobs.csv").read_text(encoding="utf-8")
HEAD, *LINES = DEMO.splitlines()
FIRST_JOBS = "\n".join([HEAD, *LINES[:300]]) + "\n"


def past(text, name="jobs.csv"):
    return read_past_jobs(text.encode(), name, CATALOGUE, "EUR")


@pytest.fixture
def where(tmp_path):
    return tmp_path / "record.sqlite"


@pytest.fixture
def ledger(where):
    opened = open_ledger(where)
    yield opened
    opened.close()


def exported(ledger):
    out = io.StringIO()
    with ledger.reading() as reading:
        rows = [row for job in reading.jobs() for row in rows_of(job)]
    sheet = csv.DictWriter(out, columns_of(rows), lineterminator="\n", extrasaction="ignore")
    sheet.writeheader()
    sheet.writerows(rows)
    return out.getvalue()


def round_trip(text, ledger, where):
    done = import_past_jobs(past(text), ledger, "ada")
    assert done.written and done.already == 0
    assert exported(ledger) == text
    assert history_of_record(where, CATALOGUE).digest == parse_history(text, "x", CATALOGUE).digest
    return done


def test_jobs_come_back_as_they_were_and_teach_the_same(ledger_url):  # on both databases
    ledger = open_ledger(ledger_url)
    try:
        assert round_trip(FIRST_JOBS, ledger, ledger_url).rows == 300
        again = import_past_jobs(past(FIRST_JOBS), ledger, "ben")
        assert (again.added, again.already) == (0, summary(ledger).jobs)
    finally:
        ledger.close()


@pytest.mark.slow
def test_the_whole_demo_record_comes_back_and_teaches_the_same(ledger, where):
    assert round_trip(DEMO, ledger, where).added == 2600


def test_what_is_there_is_passed_over_and_the_rest_is_added(ledger):
    import_past_jobs(past(FIRST_JOBS), ledger, "ada")
    before = summary(ledger)
    again = import_past_jobs(past(FIRST_JOBS), ledger, "ben")
    assert (again.added, again.already) == (0, before.jobs)
    assert summary(ledger) == before
    # The same content in another spelling is the same job.
    more = (
        FIRST_JOBS.replace(",56.00,", ",56.0,")
        + "new,2026-08-30"
        + "," * 4
        + ",touch-fault,,,,fixed"
        + "," * 19
    )
    added = import_past_jobs(past(more + "\n"), ledger, "ben")
    assert (added.added, added.already, added.first) == (1, before.jobs, "2026-08-30")
    assert {"route", "closed", "severity", "known_at"} >= set(added.not_told) >= {"route"}


def test_a_label_that_says_something_else_stops_the_whole_import(ledger):
    import_past_jobs(past(FIRST_JOBS), ledger, "ada")
    before = summary(ledger)
    other = FIRST_JOBS.replace("sl-00004,2023-09-01", "sl-00004,2023-09-02")
    other = other.replace("sl-00001,2023-09-01", "sl-00001,2023-08-01") + LINES[310] + "\n"
    with pytest.raises(HistoryError) as problem:
        import_past_jobs(past(other, "more.csv"), ledger, "ada")
    assert [str(fault).split(";")[0] for fault in problem.value.faults] == [
        "more.csv, line 2, job: 'sl-00001' is in the record with other content, imported from jobs.csv",
        "more.csv, line 8, job: 'sl-00004' is in the record with other content, imported from jobs.csv",
    ]
    assert summary(ledger) == before


def test_an_import_that_breaks_off_leaves_nothing(ledger, monkeypatch):
    from triage.ledger import record

    real = record.Writing.open_job

    def breaks(self, label, *rest):
        if label == "sl-00100":
            raise KeyboardInterrupt
        return real(self, label, *rest)

    monkeypatch.setattr(record.Writing, "open_job", breaks)
    with pytest.raises(KeyboardInterrupt):
        import_past_jobs(past(FIRST_JOBS), ledger, "ada")
    assert summary(ledger).jobs == 0


def test_a_dry_run_says_the_same_and_writes_nothing(ledger, where):
    def files():  # but for SQLite's own list of who reads
        return {path: path.read_bytes() for path in where.parent.iterdir() if path.suffix != ".sqlite-shm"}

    before = files()
    dry = import_past_jobs(past(FIRST_JOBS), ledger, "ada", dry_run=True)
    assert files() == before
    assert not dry.written and dry == import_past_jobs(past(FIRST_JOBS), None, "ada", dry_run=True)
    assert import_past_jobs(past(FIRST_JOBS), ledger, "ada").added == dry.added


def test_a_thousand_mixed_errors_are_one_report():
    wrong = {
        "finding": "frame-bend", "severity": "4", "known_at": "later", "outcome": "mended", "method": "swop",
        "minutes": "-3", "parts_cost": "1,5", "closed": "31/3/2026", "date": "2026-13-01", "zone": "left",
        "book_cost": "12.345", "warranty_days": "90.5",
    }  # fmt: skip
    rows = list(csv.DictReader(io.StringIO(DEMO)))[:1000]
    planted = []
    for place, row in enumerate(rows):
        row["job"] = f"j{place}"  # so that no error breaks another row's job
        column = list(wrong)[place % len(wrong)]
        row[column] = wrong[column]
        planted.append((place + 2, column))
    out = io.StringIO()
    sheet = csv.DictWriter(out, ORDER, lineterminator="\n")
    sheet.writeheader()
    sheet.writerows(rows)
    with pytest.raises(HistoryError) as problem:
        past(out.getvalue())
    faults = problem.value.faults
    assert [(fault.line, fault.field) for fault in faults] == planted
    assert all(fault.file == "jobs.csv" and fault.wrong and fault.allowed for fault in faults)


def test_contradictions_are_told_beside_cells_that_cannot_be_read():
    text = (
        "job,date,finding,outcome,tier,closed\n7,2026-01-05,frame-bent,fixed,top,2026-01-01\n"
        "7,2026-01-05,frame-bend,fixed,budget,\n7,someday,frame-bent,fixed,top,\n"
    )
    with pytest.raises(HistoryError) as problem:
        past(text)
    told = [(fault.line, fault.field) for fault in problem.value.faults]
    assert told == [(2, "closed"), (3, "finding"), (3, "tier"), (4, "date")]


def test_an_uploaded_name_is_only_text():
    name = "..\\..\\evil/../../etc/\x00jobs\n.csv"
    read = past(FIRST_JOBS, name)
    assert read.source == "jobs.csv"
    assert {job.intake.imported_from for job in read.jobs} == {"jobs.csv"}


def test_jobs_closed_after_a_day_are_counted(ledger):
    import_past_jobs(past(FIRST_JOBS), ledger, "ada")
    closed = {row["job"]: row["closed"] for row in csv.DictReader(io.StringIO(FIRST_JOBS))}
    day = sorted(closed.values())[60]
    with ledger.reading() as reading:
        assert closed_since(reading, date.fromisoformat(day)) == sum(end > day for end in closed.values())
