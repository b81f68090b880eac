"""The plain history format: one CSV row a finding, read strictly, all faults at once."""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from typing import Any

import pandas as pd

from triage.domain.catalogue import Catalogue
from triage.domain.history import (
    COMEBACK_KINDS,
    KNOWN_AT,
    OUTCOMES,
    PER_FINDING,
    PER_JOB,
    REQUIRED,
    ROUTES,
    WHY_NOT,
    History,
)
from triage.errors import Fault, HistoryError, nearest

DATES = ("date", "sold_date", "closed", "comeback_date")
MONEY = ("parts_cost", "book_cost", "paid", "sold", "working_price")
NUMBERS = (*MONEY, "minutes", "warranty_days")
# Known only once it happened: blanked when it lies after the cut-off.
_LATER = (("sold_date", ("sold_date", "sold")), ("comeback_date", ("comeback_date", "comeback_kind")))
_NUMBER = re.compile(r"\d+(\.\d+)?")


@dataclass(frozen=True)
class _Row:
    """One row of the file: its first line, and its cells as text."""

    line: int
    cells: dict[str, str]


def read_history(path: Path, catalogue: Catalogue, as_of: date | None = None) -> History:
    """Read a shop's past jobs.

    Parameters
    ----------
    catalogue : whose slugs `finding`, `hidden_faults`, `method` and `zone` use;
        methods and zones are free text where the catalogue names none.
    as_of : cut-off; the last date in the file when None. Jobs taken in after
        it, or closed after it, are left out, and so are later sales and
        comebacks.

    Raises
    ------
    HistoryError : every fault of the file, with line and column.
    """
    try:
        text = Path(path).read_text(encoding="utf-8-sig")
    except (OSError, UnicodeDecodeError) as problem:
        wrong = getattr(problem, "strerror", None) or "is not UTF-8 text"
        raise HistoryError([Fault(str(path), None, "file", wrong, "a readable CSV file")]) from problem
    return parse_history(text, str(path), catalogue, as_of)


def parse_history(text: str, name: str, catalogue: Catalogue, as_of: date | None = None) -> History:
    """Read a history from text; `name` is what faults call the file."""
    header, rows, faults = _split(text, name)
    readers = _readers(catalogue)
    values: dict[str, list[Any]] = {column: [] for column in header}
    for row in rows:
        for column in header:
            try:
                values[column].append(readers[column](row.cells[column]))
            except _Refused as problem:
                faults.append(Fault(name, row.line, column, problem.wrong, problem.allowed))
                values[column].append(None)
    if not faults:
        faults += _job_faults(header, rows, values, name)
    if faults:
        raise HistoryError(sorted(faults, key=lambda fault: fault.line or 0))
    frame = _frame(header, values)
    return _cut(frame, name, as_of)


def _split(text: str, name: str) -> tuple[list[str], list[_Row], list[Fault]]:
    """Header, rows that are not blank, and what is wrong with the shape of the file."""
    known = (*REQUIRED, *PER_FINDING, *PER_JOB)
    header: list[str] = []
    rows: list[_Row] = []
    faults: list[Fault] = []
    try:
        lines = _lines(text)
    except csv.Error as problem:
        return [], [], [Fault(name, None, "file", str(problem), "comma-separated text")]
    for line, cells in lines:
        if not any(cell.strip() for cell in cells):
            continue
        cells = [cell.strip() for cell in cells]
        if not header:
            header = cells
            for column in sorted(set(header) - set(known)):
                wrong = f"{column!r} is not a known column" + nearest(column, known)
                faults.append(Fault(name, line, "header", wrong, ", ".join(known)))
            for column in sorted({c for c in header if header.count(c) > 1}):
                faults.append(Fault(name, line, "header", f"{column!r} is given twice", "once"))
            for column in REQUIRED:
                if column not in header:
                    faults.append(Fault(name, line, "header", f"{column!r} is missing", "it must be given"))
        elif len(cells) != len(header):
            wrong = f"has {len(cells)} cells"
            faults.append(Fault(name, line, "row", wrong, f"{len(header)}, as in the header"))
        else:
            rows.append(_Row(line, dict(zip(header, cells, strict=True))))
    if not header:
        faults.append(Fault(name, None, "file", "is empty", f"a header with {', '.join(REQUIRED)}"))
    elif not rows and not faults:
        faults.append(Fault(name, None, "file", "holds no row", "at least one finding"))
    if any(fault.field == "header" for fault in faults):
        header, rows = [], []
    return header, rows, faults


def _lines(text: str) -> list[tuple[int, list[str]]]:
    """Cells of every record, with the line it begins on."""
    reader = csv.reader(io.StringIO(text))
    found, end = [], 0
    for cells in reader:
        found.append((end + 1, cells))
        end = reader.line_num
    return found


class _Refused(Exception):
    def __init__(self, wrong: str, allowed: str):
        self.wrong, self.allowed = wrong, allowed


def _readers(catalogue: Catalogue) -> dict[str, Callable[[str], Any]]:
    """How the cells of each column are read; a reader raises `_Refused`."""

    def free(text: str) -> str:
        return text

    def required(text: str) -> str:
        if not text:
            raise _Refused("is blank", "a label that all rows of the job share")
        return text

    def choice(allowed: tuple[str, ...], what: str, blank: bool = True) -> Callable[[str], str]:
        def read(text: str) -> str:
            if text in allowed or (blank and not text):
                return text
            shown = ", ".join(allowed[:12]) + (f" and {len(allowed) - 12} more" if len(allowed) > 12 else "")
            wrong = f"{text!r} is not a known {what}" if text else "is blank"
            raise _Refused(wrong + nearest(text, allowed), shown)

        return read

    finding = choice(tuple(catalogue.kinds), "finding", blank=False)

    def hidden(text: str) -> str:
        if text in ("", "none"):
            return text
        return ";".join(finding(slug.strip()) for slug in text.split(";"))

    readers: dict[str, Callable[[str], Any]] = dict.fromkeys(("tier", "cause", "technician"), free)
    readers |= {column: _number for column in NUMBERS}
    readers |= {column: _date for column in DATES}
    readers |= {
        "job": required,
        "date": lambda text: _date(text, blank=False),
        "finding": finding,
        "outcome": choice(OUTCOMES, "outcome", blank=False),
        "severity": _severity,
        "why_not": choice(WHY_NOT, "reason"),
        "known_at": choice(KNOWN_AT, "moment"),
        "route": choice(ROUTES, "route"),
        "comeback_kind": choice(COMEBACK_KINDS, "kind of comeback"),
        "hidden_faults": hidden,
        "method": choice(tuple(catalogue.repairs), "repair") if catalogue.repair else free,
        "zone": choice(tuple(catalogue.zones), "zone") if catalogue.zone else free,
    }
    return readers


def _number(text: str) -> float:
    if not text:
        return float("nan")
    if not _NUMBER.fullmatch(text):
        raise _Refused(f"{text!r} is not an amount", "digits with a point, such as 84.50, zero or more")
    return float(text)


def _date(text: str, blank: bool = True) -> pd.Timestamp:
    if not text and blank:
        return pd.NaT
    try:
        return pd.Timestamp(date.fromisoformat(text))
    except ValueError:
        wrong = f"{text!r} is not a date" if text else "is blank"
        raise _Refused(wrong, "a date written as 2026-03-31") from None


def _severity(text: str) -> int:
    if text not in ("", "1", "2", "3"):
        raise _Refused(f"{text!r} is not a severity", "1, 2 or 3 (blank is 2)")
    return int(text or 2)


def _job_faults(
    header: list[str], rows: list[_Row], values: dict[str, list[Any]], name: str
) -> Iterator[Fault]:
    """Yield what contradicts itself: within a job, and between the columns of a row."""
    first: dict[tuple[str, str], tuple[Any, int]] = {}
    shared = [column for column in header if column in PER_JOB or column == "date"]
    for place, row in enumerate(rows):
        job = values["job"][place]
        for column in shared:
            value, text = values[column][place], row.cells[column]
            if not text:
                continue
            earlier, line = first.setdefault((job, column), (value, row.line))
            if earlier != value:
                wrong = f"{text!r} differs from that of line {line}, of the same job {job!r}"
                yield Fault(name, row.line, column, wrong, "one value a job")
        begun = values["date"][place]
        for column in DATES[1:]:
            if column in header and values[column][place] < begun:  # NaT compares False
                wrong = f"{row.cells[column]} lies before the intake on {row.cells['date']}"
                yield Fault(name, row.line, column, wrong, "the day of intake or later")
        if "why_not" in header and row.cells["why_not"] and row.cells["outcome"] != "not-attempted":
            wrong = f"{row.cells['why_not']!r} is given for an outcome of {row.cells['outcome']!r}"
            yield Fault(name, row.line, "why_not", wrong, "blank, or the outcome not-attempted")


def _frame(header: list[str], values: dict[str, list[Any]]) -> pd.DataFrame:
    frame = pd.DataFrame(values)
    for column in header:
        if column in DATES:
            frame[column] = pd.to_datetime(frame[column])
        elif column in NUMBERS:
            frame[column] = frame[column].astype(float)
    # A per-job value may stand on one row of its job only; all rows get it.
    for column in header:
        if column in PER_JOB:
            blank = frame[column].isna() | (frame[column] == "")
            known = frame[~blank].groupby("job")[column].first()
            if blank.any() and not known.empty:
                frame[column] = frame[column].where(~blank, frame["job"].map(known))
            if column not in DATES and column not in NUMBERS:
                frame[column] = frame[column].fillna("")
    return frame


def _cut(frame: pd.DataFrame, name: str, as_of: date | None) -> History:
    """Leave out what was not known at the cut-off."""
    last = max(frame[column].max() for column in DATES if column in frame and frame[column].notna().any())
    limit = last if as_of is None else pd.Timestamp(as_of)
    keep = frame["date"] <= limit
    if "closed" in frame:
        keep &= ~(frame["closed"] > limit)
    frame = frame[keep].reset_index(drop=True)
    if frame.empty:
        wrong = f"no job was taken in by {limit.date().isoformat()}"
        raise HistoryError([Fault(name, None, "date", wrong, "an as-of date after the first job")])
    for column, known_with in _LATER:
        if column in frame:
            later = frame[column] > limit
            for other in known_with:
                if other in frame:
                    blank = pd.NaT if other in DATES else (float("nan") if other in NUMBERS else "")
                    frame.loc[later, other] = blank
    return History(frame, limit.date())
