"""Job files as the ledger returns them, made without a ledger."""

from __future__ import annotations

import itertools
from datetime import datetime

from triage.domain.job.file import JobFile
from triage.domain.job.records import Kept
from triage.ledger.tables import OF_A_JOB

AT = datetime(2026, 1, 1)
_FIELDS = {record: field for field, record in OF_A_JOB.items()}


def job_file(label, route, *records, currency="EUR"):
    """A job file of records in the order they were written, the intake first."""
    ids = itertools.count(1)
    kept = {field: [] for field in OF_A_JOB}
    for record in records:
        kept[_FIELDS[type(record)]].append(Kept(next(ids), AT, "ada", record))
    (intake,) = kept.pop("intake")
    held = {field: tuple(found) for field, found in kept.items()}
    return JobFile(1, label, route, currency, AT, len(records), intake=intake, **held)


def imported(past, currency="EUR"):
    return job_file(past.label, past.route, past.intake, *past.records, currency=currency)
