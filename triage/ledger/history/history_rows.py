"""Rows of the plain history format, written from the records of a job."""

from __future__ import annotations

import hashlib
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace
from datetime import date
from decimal import Decimal

from triage.domain.catalogue import Catalogue
from triage.domain.history import LOOK_DEPTHS, LOOK_REASONS, History
from triage.domain.job.file import JobFile
from triage.domain.job.life import ENDED
from triage.domain.job.part_orders import fate_of
from triage.domain.job.records import Attempt, FoundDamage, Kept, Moved
from triage.domain.job.shelf_rules import PartsMoney, parts_money
from triage.domain.money import minor_digits
from triage.errors import EmptyRecordError, Fault, HistoryError
from triage.ledger.history.history_cells import Row
from triage.ledger.history.history_csv import history_from

# Columns in the order they are written.
ORDER = (
    "job", "date", "route", "tier", "cause", "technician", "finding", "zone", "severity", "known_at",
    "outcome", "why_not", "method", "minutes", "book_cost", "parts_cost", "working_price", "paid", "sold",
    "sold_date", "closed", "hidden_faults", "comeback_date", "comeback_kind", "warranty_days",
    "ending", "parts_value", "shelf_cost", "intake_severity", "look_depth", "look_reason",
    "strip_minutes", "selling_fees", "parts_margin", "data_outcome", "data_minutes",
)  # fmt: skip
# Left out of a file in which no job says anything of them.
_SELDOM = ORDER[ORDER.index("ending") :]
# What a buyer or owner paid, less what was given back before the unit left.
_INCOME = ("sale", "repair", "deposit", "diagnostic-fee", "refund")
# Fates of a shelf part after which it is no longer this job's.
_NOT_USED = ("ordered", "arrived", "sent-back", "refunded", "cancelled", "shelved")


def rows_of(job: JobFile) -> list[dict[str, str]]:
    """Cells of a job, one row an attempt of its first life; none for a job never worked on.

    A comeback rewrites nothing: only the first one is told, and only by its
    day and kind. Once a job is over, damage that was seen and never tried is
    told as not attempted. A repair that was done again did not hold: one finding
    has one outcome, by its last try.
    """
    native = not job.intake.record.imported_from
    blank = set(job.intake.record.not_told.split(";"))
    shared = {column: "" if column in blank else text for column, text in _job_cells(job).items()}
    rows = []
    tries = [kept for kept in job.attempts if kept.record.round == 0]
    found = [_found(job, kept) for kept in tries]
    again = [damage if kept.record.outcome != "not-attempted" else None
             for kept, damage in zip(tries, found, strict=True)]  # fmt: skip
    shelf = _shelf_costs(job, tries)
    for place, (kept, damage) in enumerate(zip(tries, found, strict=True)):
        tried = kept.record
        if native and damage and tried.outcome == "fixed" and damage in again[place + 1 :]:
            tried = replace(tried, outcome="not-fixed")
        cells = _finding_cells(damage, tried, job.currency)
        cells["shelf_cost"] = money_cell(shelf.get(kept.id, tried.shelf_minor), job.currency)
        rows.append({**shared, **cells})
    if native and _closed(job):
        named = {kept.record.finding for kept in job.attempts}
        for seen in (kept.record for kept in job.findings):
            if seen.kind not in named and seen.chance >= 1:
                never = Attempt(seen.kind, "not-attempted")
                rows.append({**shared, **_finding_cells(seen, never, job.currency)})
    return [{column: "" if column in blank else row.get(column, "") for column in ORDER} for row in rows]


def columns_of(rows: Sequence[Mapping[str, str]]) -> list[str]:
    """Columns of a file of these rows."""
    return [name for name in ORDER if name not in _SELDOM or any(row[name] for row in rows)]


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
    end = _end(job)
    left_on = left.on if left else end.on if end and not intake.imported_from else None
    # The record of a job of our own that ended tells all its money; what a file left blank stays unknown.
    whole = end is not None and not intake.imported_from
    if end and end.state == "stripped" and end.worth_minor is None:
        whole = False  # nobody knew what its parts are worth
    stripped = end is not None and end.state == "stripped"
    parts = parts_money(job) if stripped else PartsMoney()
    sold_parts = stripped and any(kept.record.how == "sold" for kept in job.parts_left)
    kept_worth = end.worth_minor - parts.worth_gone if end and end.worth_minor is not None else None
    looks = [slug for kept in job.looks for slug in kept.record.found.split(";") if slug]
    saved = job.data_ended[-1].record if job.data_ended else None
    depths = [kept.record.depth for kept in job.looks if kept.record.depth]
    return {
        "job": job.label,
        "date": intake.on.isoformat(),
        "route": job.route,
        "tier": intake.tier,
        "cause": intake.cause,
        "technician": next((name for name in who if name), ""),
        "working_price": money_cell(intake.working_price_minor, currency),
        "paid": money_cell(-sum(bought), currency) if bought else "",
        "sold": money_cell(sum(income) + parts.income, currency) if income or whole or sold_parts else "",
        "sold_date": left_on.isoformat() if left_on else "",
        "closed": _closed(job),
        "hidden_faults": (";".join(dict.fromkeys(looks)) or "none") if job.looks else "",
        "look_depth": max(depths, key=LOOK_DEPTHS.index, default=""),
        "look_reason": _look_reason(job),
        "comeback_date": back.on.isoformat() if back else "",
        "comeback_kind": back.kind if back else "",
        "warranty_days": str(left.warranty_days) if left else "",
        "ending": end.state if end else "",
        "parts_value": money_cell(kept_worth, currency),
        "strip_minutes": number_cell(end.minutes) if end and stripped else "",
        "selling_fees": money_cell(parts.fees, currency) if sold_parts else "",
        "parts_margin": money_cell(parts.margin, currency) if sold_parts else "",
        "data_outcome": saved.outcome if saved else "",
        "data_minutes": number_cell(saved.minutes) if saved else "",
    }


def _look_reason(job: JobFile) -> str:
    """Why a job was looked into: "suspected" where any of its looks was made for that; "" where none says."""
    told = [kept.record.suspected for kept in job.looks if kept.record.suspected is not None]
    return LOOK_REASONS[any(told)] if told else ""


def _finding_cells(found: FoundDamage | None, tried: Attempt, currency: str) -> dict[str, str]:
    return {
        "finding": tried.finding,
        "zone": found.zone if found else "",
        "severity": str(found.severity) if found else "",
        "intake_severity": str(found.intake_severity or "") if found else "",
        "known_at": found.known_at if found else "",
        "outcome": tried.outcome,
        "why_not": tried.why_not,
        "method": tried.method,
        "minutes": number_cell(tried.minutes),
        "book_cost": money_cell(tried.book_minor, currency),
        "parts_cost": money_cell(tried.parts_minor, currency),
    }


def _found(job: JobFile, tried: Kept[Attempt]) -> FoundDamage | None:
    """The damage that a try was about: the last one of its kind recorded before it.

    Of several of one kind on a job of our own, the first that was not fixed yet.
    """
    kind = tried.record.finding
    named = [kept for kept in job.findings if kept.record.kind == kind]
    earlier = [kept for kept in named if kept.id < tried.id]
    if len(earlier) > 1 and not job.intake.record.imported_from:
        before = [kept.record for kept in job.attempts if kept.id < tried.id and kept.record.finding == kind]
        done = sum(one.outcome == "fixed" for one in before)
        return earlier[min(done, len(earlier) - 1)].record
    return (earlier[-1] if earlier else named[0]).record if named else None


def _shelf_costs(job: JobFile, tries: Sequence[Kept[Attempt]]) -> dict[int, int]:
    """Worth of parts from the own shelf, by the try that used them.

    A try whose parts cost is recorded has told it. The others share the
    shelf parts of the first life: each goes to the first try after it was
    reserved, or to the last one.
    """
    back = job.comebacks[0].id if job.comebacks else None
    blank = [
        kept.id
        for kept in tries
        if kept.record.parts_minor is None and kept.record.outcome != "not-attempted"
    ]
    costs: dict[int, int] = {}
    for kept in job.orders if blank else ():
        order = kept.record
        used = order.shelf is not None and fate_of(job, kept.id) not in _NOT_USED
        if used and (back is None or kept.id < back):
            on = next((tried for tried in blank if tried > kept.id), blank[-1])
            worth = order.cost_minor if order.worth_minor is None else order.worth_minor
            costs[on] = costs.get(on, 0) + worth
    return costs


def _end(job: JobFile) -> Moved | None:
    """The move that ended the first life of a job; None while it has not ended."""
    return next((kept.record for kept in job.moves if kept.record.state in ENDED), None)


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
