"""Rows of the plain history format, written from the records of a job."""

from __future__ import annotations

import hashlib
from collections.abc import Iterable, Mapping
from datetime import date
from decimal import Decimal

from triage.domain.catalogue import Catalogue
from triage.domain.history import History
from triage.domain.job.file import JobFile
from triage.domain.job.life import ENDED
from triage.domain.job.records import Attempt, FoundDamage
from triage.domain.money import minor_digits
from triage.errors import EmptyRecordError, Fault, HistoryError
from triage.ledger.history.history_cells import Row
from triage.ledger.history.history_csv import history_from

# Columns in the order they are written.
ORDER = (
    "job", "date", "route", "tier", "cause", "technician", "finding", "zone", "severity", "known_at",
    "outcome", "why_not", "method", "minutes", "book_cost", "parts_cost", "working_price", "paid", "sold",
    "sold_date", "closed", "hidden_faults", "comeback_date", "comeback_kind", "warranty_days",
)  # fmt: skip
# What a buyer or owner paid, less what was given back before the unit left.
_INCOME = ("sale", "repair", "deposit", "diagnostic-fee", "refund")


def rows_of(job: JobFile) -> list[dict[str, str]]:
    """Cells of a job, one row an attempt of its first life; none for a job never worked on.

    A comeback rewrites nothing: only the first one is told, and only by its
    day and kind. Once a job is over, damage that was seen and never tried is
    told as not attempted.
    """
    blank = set(job.intake.record.not_told.split(";"))
    shared = {column: "" if column in blank else text for column, text in _job_cells(job).items()}
    rows = []
    for kept in job.attempts:
        tried = kept.record
        if tried.round == 0:
            found = _found(job, tried.finding, kept.id)
            rows.append({**shared, **_finding_cells(found, tried, job.currency)})
    if not job.intake.record.imported_from and _closed(job):
        named = {kept.record.finding for kept in job.attempts}
        for damage in (kept.record for kept in job.findings):
            if damage.kind not in named and damage.chance >= 1:
                never = Attempt(damage.kind, "not-attempted")
                rows.append({**shared, **_finding_cells(damage, never, job.currency)})
    return [{column: "" if column in blank else row.get(column, "") for column in ORDER} for row in rows]


def content_key(label: str, rows: Iterable[Mapping[str, str]]) -> str:
    """What a job is known by at import: its label, and a hash of all cells that say something."""
    said = [sorted((column, text) for column, text in row.items() if text) for row in rows]
    return f"{label}:{hashlib.sha256(repr(said).encode()).hexdigest()[:24]}"


def history_of(jobs: Iterable[JobFile], catalogue: Catalogue, as_of: date | None = None) -> History:
    """The history that the models learn from.

    A job taken in here counts once it is closed; an imported one as its file
    told it. Columns that say nothing are left out.

    Raises
    ------
    EmptyRecordError : no job to learn from.
    HistoryError : several currencies, damage that the catalogue does not know.
    """
    jobs = [job for job in jobs if job.intake.record.imported_from or _closed(job)]
    rows = [Row(None, cells, f"job {job.label}") for job in jobs for cells in rows_of(job)]
    currencies = sorted({job.currency for job in jobs})
    if not rows:
        fault = Fault("the record", None, "jobs", "has no closed job", "at least one closed job")
        raise EmptyRecordError([fault])
    if len(currencies) > 1:
        wrong = f"has jobs in {', '.join(currencies)}"
        raise HistoryError([Fault("the record", None, "currency", wrong, "one currency for a fit")])
    header = [column for column in ORDER if any(row.cells[column] for row in rows)]
    return history_from(header, rows, "the record", catalogue, as_of)


def _job_cells(job: JobFile) -> dict[str, str]:
    intake, currency = job.intake.record, job.currency
    back = job.comebacks[0].record if job.comebacks else None
    left = job.handovers[0].record if job.handovers else None
    bought = [kept.record.amount_minor for kept in job.payments if kept.record.purpose == "purchase"]
    income = [
        kept.record.amount_minor
        for kept in job.payments
        if kept.record.purpose in _INCOME and (not job.comebacks or kept.id < job.comebacks[0].id)
    ]
    who = [intake.technician, *(kept.record.technician for kept in job.attempts)]
    looks = [slug for kept in job.looks for slug in kept.record.found.split(";") if slug]
    return {
        "job": job.label,
        "date": intake.on.isoformat(),
        "route": job.route,
        "tier": intake.tier,
        "cause": intake.cause,
        "technician": next((name for name in who if name), ""),
        "working_price": money_cell(intake.working_price_minor, currency),
        "paid": money_cell(-sum(bought), currency) if bought else "",
        "sold": money_cell(sum(income), currency) if income else "",
        "sold_date": left.on.isoformat() if left else "",
        "closed": _closed(job),
        "hidden_faults": (";".join(dict.fromkeys(looks)) or "none") if job.looks else "",
        "comeback_date": back.on.isoformat() if back else "",
        "comeback_kind": back.kind if back else "",
        "warranty_days": str(left.warranty_days) if left else "",
    }


def _finding_cells(found: FoundDamage | None, tried: Attempt, currency: str) -> dict[str, str]:
    return {
        "finding": tried.finding,
        "zone": found.zone if found else "",
        "severity": str(found.severity) if found else "",
        "known_at": found.known_at if found else "",
        "outcome": tried.outcome,
        "why_not": tried.why_not,
        "method": tried.method,
        "minutes": number_cell(tried.minutes),
        "book_cost": money_cell(tried.book_minor, currency),
        "parts_cost": money_cell(tried.parts_minor, currency),
    }


def _found(job: JobFile, kind: str, before: int) -> FoundDamage | None:
    """The damage that a try was about: the last one of its kind recorded before it."""
    named = [kept for kept in job.findings if kept.record.kind == kind]
    earlier = [kept for kept in named if kept.id < before]
    return (earlier[-1] if earlier else named[0]).record if named else None


def _closed(job: JobFile) -> str:
    """Day of the first move to ready or to an end; "" while there was none."""
    done = (kept.record.on for kept in job.moves if kept.record.state in ("ready", *ENDED))
    return next((on.isoformat() for on in done), "")


def number_cell(value: float | None) -> str:
    """Write a number in its shortest form; None is blank."""
    return "" if value is None else format(Decimal(repr(float(value))).normalize(), "f")


def money_cell(minor: int | None, currency: str) -> str:
    """Write an amount in major units with all its decimals; None is blank."""
    if minor is None:
        return ""
    return format(Decimal(minor).scaleb(-minor_digits(currency)), "f")
