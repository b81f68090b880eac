"""Past jobs from a file into the shop's record: all of them, or none and every reason why not."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import date
from pathlib import PurePath

from triage.domain.catalogue import Catalogue
from triage.domain.money import minor_digits
from triage.errors import Fault, HistoryError
from triage.ledger.history.column_mapping import ColumnMapping, Sheet, read_sheet
from triage.ledger.history.history_cells import MONEY, Cells, read_cells, split_csv
from triage.ledger.history.history_doubts import SURE, doubts
from triage.ledger.history.history_rows import content_key, rows_of
from triage.ledger.history.past_jobs import PastJob, past_jobs
from triage.ledger.reading import RecordReader
from triage.ledger.record import Ledger


@dataclass(frozen=True)
class PastJobs:
    """Jobs of a file that has no fault, ready to be kept.

    ignored : columns of a foreign file that its mapping does not use.
    """

    source: str
    currency: str
    jobs: tuple[PastJob, ...]
    rows: int
    ignored: tuple[str, ...] = ()


@dataclass(frozen=True)
class Imported:
    """What an import did, or would do.

    added, already : jobs new to the record, and jobs it holds with the same
    content. not_told : by column the file leaves blank and the record had to
    fill, in how many of the added jobs.
    """

    source: str
    currency: str
    rows: int
    added: int
    already: int
    first: str
    last: str
    not_told: dict[str, int]
    ignored: tuple[str, ...]
    written: bool


def read_past_jobs(
    data: bytes,
    name: str,
    catalogue: Catalogue,
    currency: str,
    mapping: ColumnMapping | None = None,
    sure: bool = False,
    today: date | None = None,
) -> PastJobs:
    """Read a file of past jobs, in the plain history format or by a mapping.

    Parameters
    ----------
    data : the file's bytes. name : what it is called in faults and in the
        record; it is never used as a path. currency : where the mapping names none.
    sure : what can be read and is hardly meant is meant. today : the day it is read; the clock's when None.

    Raises
    ------
    HistoryError : every fault of the file.
    """
    name = shown_name(name)
    currency = (mapping.currency if mapping else "") or currency
    sheet = read_sheet(data, name, replace(mapping, currency=currency)) if mapping else _plain(data, name)
    past, faults = jobs_of_sheet(sheet, name, catalogue, currency, sure, today, plain=mapping is None)
    if past is None:
        raise HistoryError(faults)
    return past


def jobs_of_sheet(
    sheet: Sheet,
    name: str,
    catalogue: Catalogue,
    currency: str,
    sure: bool = False,
    today: date | None = None,
    plain: bool = False,
    how_sure: str = SURE,
) -> tuple[PastJobs | None, list[Fault]]:
    """Jobs of a file laid out in our columns; or None and its faults, in order of lines.

    plain : the file is in the plain history format. how_sure : how one says that a
    doubtful value is meant. The rest as in `read_past_jobs`.
    """
    cells, found = read_cells(sheet.header, sheet.rows, name, catalogue, sheet.shown, sheet.allowed)
    faults = [*sheet.faults, *found, *_unkept(cells, sheet, name, currency)]
    if not sure:
        faults += doubts(
            cells, name, sheet.shown, today or date.today(), plain, minor_digits(currency), how_sure
        )
    if faults:
        return None, sorted(faults, key=lambda fault: fault.line or 0)
    jobs = tuple(past_jobs(cells, currency, name))
    return PastJobs(name, currency, jobs, len(cells.rows), sheet.ignored), []


def _plain(data: bytes, name: str) -> Sheet:
    try:
        return Sheet(*split_csv(data.decode("utf-8-sig"), name))
    except UnicodeDecodeError:
        return Sheet([], [], [Fault(name, None, "file", "is not UTF-8 text", "a readable CSV file")])


def import_past_jobs(
    past: PastJobs,
    ledger: Ledger | None,
    by: str,
    dry_run: bool = False,
    tell: Callable[[int, int], None] = lambda done, of: None,
) -> Imported:
    """Keep the jobs of a file, in one transaction.

    Parameters
    ----------
    ledger : None stands for a record that does not exist yet, in a dry run.
    by : who imports. dry_run : look only. tell : is told how many jobs of how many are written.

    Raises
    ------
    HistoryError : the record holds a job of the same label that says something else.
    """
    if ledger is None:
        return _report(past, list(past.jobs), written=False)
    if dry_run:
        with ledger.reading() as reading:
            return _report(past, _new(past, reading), written=False)
    with ledger.writing(by) as writing:
        new = _new(past, writing)
        writing.reserve(sum(1 + len(job.records) for job in new))
        for done, job in enumerate(new, start=1):
            kept = writing.open_job(job.label, job.route, past.currency, job.intake, job.key)
            for record in job.records:
                writing.append(kept, record)
            tell(done, len(new))
    return _report(past, new, written=True)


def _new(past: PastJobs, reading: RecordReader) -> list[PastJob]:
    """Jobs that the record does not hold; raises every clash of labels."""
    if faults := clashes(past, reading):
        raise HistoryError(faults)
    keys = reading.import_keys()
    labels = reading.labels()
    return [job for job in past.jobs if job.key not in keys and job.label not in labels]


def clashes(past: PastJobs, reading: RecordReader) -> list[Fault]:
    """Jobs whose number the record holds with other content, a fault each."""
    keys, labels = reading.import_keys(), reading.labels()
    faults = []
    for job in past.jobs:
        if job.key in keys or job.label not in labels:
            continue
        held = reading.job_labelled(job.label)
        if content_key(job.label, rows_of(held)) == job.key:
            continue
        origin = held.intake.record.imported_from
        wrong = f"{job.label!r} is in the record with other content, " + (
            f"imported from {origin}" if origin else f"received on {held.intake.record.on}"
        )
        faults.append(Fault(past.source, job.line, "job", wrong, "the same content, or an unused job number"))
    return faults


def _unkept(cells: Cells, sheet: Sheet, name: str, currency: str) -> Iterator[Fault]:
    """Yield what can be read, but not kept without a loss."""
    digits = minor_digits(currency)
    for column in {*MONEY, "warranty_days"} & set(cells.header):
        most = digits if column in MONEY else 0
        for row, value in zip(cells.rows, cells.values[column], strict=True):
            text = row.cells[column]
            if value is not None and len(text.partition(".")[2].rstrip("0")) > most:
                wrong = (
                    f"{text!r} has more than {most} decimals" if most else f"{text!r} is not a whole number"
                )
                allowed = f"at most {most} decimals ({currency})" if column in MONEY else "whole days"
                yield Fault(name, row.line, sheet.shown.get(column, column), wrong, allowed)


def _report(past: PastJobs, new: Sequence[PastJob], written: bool) -> Imported:
    days = [job.intake.on.isoformat() for job in new]
    filled = [column for job in new for column in job.intake.not_told.split(";") if column]
    return Imported(
        source=past.source,
        currency=past.currency,
        rows=past.rows,
        added=len(new),
        already=len(past.jobs) - len(new),
        first=min(days, default=""),
        last=max(days, default=""),
        not_told={column: filled.count(column) for column in dict.fromkeys(filled)},
        ignored=past.ignored,
        written=written,
    )


def shown_name(name: str) -> str:
    """Last part of a file's name, as text that can be printed."""
    last = PurePath(name.replace("\\", "/")).name
    return "".join(c for c in last if c.isprintable())[:120] or "file"
