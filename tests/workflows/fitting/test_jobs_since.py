"""New and changed jobs of a real record, where later entries reach back into earlier jobs."""

from __future__ import annotations

from datetime import date, timedelta

from triage.domain.catalogue import load_catalogue
from triage.domain.job.digests import job_digests
from triage.domain.job.records import Attempt, Comeback, FoundDamage, HandOver, Intake, Moved, Payment
from triage.ledger.history.history_rows import history_of
from triage.posterior.manifest import Manifest
from triage.workflows.fitting.jobs_since import jobs_since

CATALOGUE = load_catalogue()
DAY = date(2026, 9, 1)


def close(ledger, label, route, on=DAY, minutes=30.0):
    """A job with one repair, ready on a day."""
    with ledger.writing("ada") as writing:
        job = writing.open_job(label, route, "EUR", Intake(on - timedelta(3), "", working_price_minor=20000))
        for record in (
            FoundDamage("frame-bent"),
            Attempt("frame-bent", "fixed", "straighten-frame", minutes=minutes),
            Moved("take", "taken", on - timedelta(2)),
            Moved("make-ready", "ready", on),
        ):
            writing.append(job, record)
    return job


def write(ledger, job, *records):
    with ledger.writing("ada") as writing:
        for record in records:
            writing.append(job, record)


def told(ledger, as_of=None):
    with ledger.reading() as reading:
        return history_of(reading.jobs(), CATALOGUE, as_of)


def fitted(history):
    return Manifest(
        seed=1, as_of=history.as_of.isoformat(), jobs=len(history.jobs), rows=len(history.rows),
        data_hash=history.digest, prior_hash="", catalogue_digest="", structure="", kinds=(), models={},
        job_digests=tuple(sorted(job_digests(history).values())),
    )  # fmt: skip


def test_sales_returns_and_bills_after_the_fit_change_a_job_and_never_hide_it(ledger):
    bought, walked, waiting = (
        close(ledger, label, route) for label, route in (("b", "bought"), ("w", "walk-in"), ("x", "bought"))
    )
    write(ledger, walked, Payment("deposit", 1000, DAY))
    full = fitted(told(ledger, DAY))
    assert jobs_since(full, told(ledger, DAY)).nothing

    later = DAY + timedelta(4)
    write(ledger, bought, Payment("sale", 18000, later), HandOver(later, "working", warranty_days=60))
    write(ledger, walked, Payment("repair", 5000, later), HandOver(later, "working", warranty_days=30))
    write(ledger, waiting, Payment("purchase", -4000, later))  # the bill of what was bought before
    late = close(ledger, "late", "bought")  # closed on the day of the fit, recorded after it
    new = close(ledger, "n", "bought", later)
    since = jobs_since(full, told(ledger, later))
    assert set(since.old.jobs.index) == {"b", "w"} and set(since.new.jobs.index) == {"b", "w", "late", "n"}
    assert (since.added, since.changed) == (2, 2) and {late, new}
    assert set(since.before.jobs.index) == {"b", "w", "x"}

    again = later + timedelta(5)
    write(ledger, bought, Comeback(again, "same-fault"))
    assert jobs_since(fitted(told(ledger, later)), told(ledger, again)).changed == 1
