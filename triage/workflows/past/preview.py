"""What an import of a foreign file would do: jobs that are in order, and rows to mend.

A job is taken whole or not at all: one row with a fault keeps all rows of its job
out. Those rows go into a file with a last column that says what is wrong; mended,
it is brought in again, and the jobs already in the record are passed over.
"""

from __future__ import annotations

import csv
import io
from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date

from triage.domain.catalogue import Catalogue
from triage.errors import Fault
from triage.ledger.history.column_mapping import ColumnMapping, Sheet, read_sheet
from triage.ledger.history.history_cells import guarded
from triage.ledger.record import Ledger
from triage.workflows.jobs.import_history import PastJobs, clashes, jobs_of_sheet, shown_name

WRONG = "what is wrong"
_HOW_SURE = "or choose to import doubtful values as they are"
_LINES_NAMED = 5


@dataclass(frozen=True)
class FaultGroup:
    """Faults that say the same of the same column. lines : the first few of them."""

    column: str
    wrong: str
    allowed: str
    count: int
    lines: tuple[int, ...]


@dataclass(frozen=True)
class Preview:
    """A file as it would be imported.

    past : the jobs in order, None where there are none. groups : faults, most frequent first.
    whole : what is wrong with the file itself, so that no row can be read.
    to_mend : CSV of the rows left out, "" where none are. rows_out : how many.
    """

    past: PastJobs | None
    groups: tuple[FaultGroup, ...]
    whole: tuple[Fault, ...]
    to_mend: str
    rows_out: int


def preview(
    data: bytes,
    name: str,
    catalogue: Catalogue,
    currency: str,
    mapping: ColumnMapping,
    sure: bool = False,
    today: date | None = None,
    ledger: Ledger | None = None,
) -> Preview:
    """Read a file by its mapping, good jobs apart from the rest; nothing is written.

    ledger : the record, so that a job it holds with other content is left out too.
    The other arguments are those of `read_past_jobs`.
    """
    name, currency = shown_name(name), mapping.currency or currency
    sheet = read_sheet(data, name, replace(mapping, currency=currency))
    uneven = [fault for fault in sheet.faults if fault.field == "row"]
    whole = tuple(fault for fault in sheet.faults if fault.field != "row")
    if whole:
        return Preview(None, (), whole, "", 0)
    # A row that cannot be cut into cells may belong to any job: it alone stays out.
    kept, faults, out = replace(sheet, faults=[]), list(uneven), {fault.line for fault in uneven}
    past: PastJobs | None = None
    while kept.rows and past is None:
        past, found = jobs_of_sheet(kept, name, catalogue, currency, sure, today, how_sure=_HOW_SURE)
        if past is not None and ledger is not None:
            with ledger.reading() as reading:
                found = clashes(past, reading)
            past = None if found else past
        bad = {fault.line for fault in found}
        jobs = {row.cells["job"] for row in kept.rows if row.line in bad}
        jobs.discard("")
        gone = [row for row in kept.rows if row.line in bad or row.cells["job"] in jobs]
        if past is None and not gone:
            return Preview(None, (), tuple(found), "", 0)
        faults += found
        out |= {row.line for row in gone}
        kept = replace(kept, rows=[row for row in kept.rows if row.line not in out])
    return Preview(past, _grouped(faults), (), _to_mend(sheet, out, faults), len(out))


def _grouped(faults: Sequence[Fault]) -> tuple[FaultGroup, ...]:
    alike: dict[tuple[str, str, str], list[int]] = defaultdict(list)
    for fault in faults:
        alike[fault.field, fault.wrong, fault.allowed].append(fault.line or 0)
    groups = (
        FaultGroup(*said, len(lines), tuple(sorted(lines)[:_LINES_NAMED])) for said, lines in alike.items()
    )
    return tuple(sorted(groups, key=lambda group: (-group.count, group.lines)))


def _to_mend(sheet: Sheet, out: set[int | None], faults: Sequence[Fault]) -> str:
    """Rows left out as the file had them, each with what is wrong with it or with its job."""
    if not out:
        return ""
    said: dict[int | None, list[str]] = defaultdict(list)
    for fault in faults:
        said[fault.line].append(f"{fault.field}: {fault.wrong}")
    text = io.StringIO()
    writer = csv.writer(text, lineterminator="\n")
    titles = [title for title in sheet.titles if title != WRONG]
    places = [place for place, title in enumerate(sheet.titles) if title != WRONG]
    writer.writerow([*titles, WRONG])
    for line in sorted(line for line in out if line is not None):
        cells = sheet.raw[line]
        row = [guarded(cells[place]) if place < len(cells) else "" for place in places]
        writer.writerow([*row, "; ".join(said[line]) or "another row of this job has an error"])
    return text.getvalue()
