"""Cells of the plain history format: how each column is read, and what contradicts itself."""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date
from typing import Any

import pandas as pd
from pandas.api.typing import NaTType

from triage.domain.catalogue import Catalogue
from triage.domain.history import (
    COMEBACK_KINDS,
    DATA_OUTCOMES,
    ENDINGS,
    KNOWN_AT,
    LOOK_DEPTHS,
    LOOK_REASONS,
    OUTCOMES,
    PER_FINDING,
    PER_JOB,
    REQUIRED,
    ROUTES,
    WHY_NOT,
)
from triage.errors import Fault, nearest
from triage.ledger.history.endings import endings_refused, looks_refused

DATES = ("date", "sold_date", "closed", "comeback_date")
MONEY = (
    "parts_cost", "book_cost", "paid", "sold", "working_price", "parts_value", "shelf_cost", "selling_fees",
    "parts_margin",
)  # fmt: skip
NUMBERS = (*MONEY, "minutes", "strip_minutes", "warranty_days", "data_minutes")
# Text of the shop's own, which a spreadsheet might take for a formula.
FREE = ("job", "tier", "cause", "technician", "method", "zone")
COLUMNS = (*REQUIRED, *PER_FINDING, *PER_JOB)
_NUMBER = re.compile(r"[0-9]+(\.[0-9]+)?")
_MOST = 1e12
_YEARS = (1970, 2199)
# Marks that turn the order of letters round are among them: they let a text show another.
_CONTROL = re.compile(r"[\x00-\x08\x0b\x0c\x0e-\x1f\x7f-\x9f\u202a-\u202e\u2066-\u2069]")
_GUARDED = re.compile(r"'+[=+\-@\t\r]")
_FORMULA = re.compile(r"'*[=+\-@\t\r]")


@dataclass(frozen=True)
class Row:
    """One row: its first line, its cells as text, and what it is part of where that is not a file."""

    line: int | None
    cells: dict[str, str]
    of: str = ""


@dataclass(frozen=True)
class Cells:
    """Rows as they were read: by column, one value a row; None where a cell could not be read."""

    header: list[str]
    rows: list[Row]
    values: dict[str, list[Any]] = field(default_factory=dict)


class Refused(Exception):
    """A cell that cannot be read: what is wrong with it, and what is allowed."""

    def __init__(self, wrong: str, allowed: str):
        super().__init__(wrong)
        self.wrong, self.allowed = wrong, allowed


def guarded(text: str) -> str:
    """Text that no spreadsheet takes for a formula: a ' before = + - @, tab or carriage return.

    Common practice for CSV files; `unguarded` takes it off again.
    """
    return "'" + text if _FORMULA.match(text) else text


def unguarded(text: str) -> str:
    """Undo `guarded`."""
    return text[1:] if _GUARDED.match(text) else text


def split_csv(text: str, name: str) -> tuple[list[str], list[Row], list[Fault]]:
    """Header, rows that are not blank, and what is wrong with the shape of the file."""
    header: list[str] = []
    rows: list[Row] = []
    faults: list[Fault] = []
    readable = True
    try:
        lines = csv_lines(text)
    except csv.Error as problem:
        return [], [], [Fault(name, None, "file", str(problem), "comma-separated text")]
    for line, cells in lines:
        if not any(cell.strip() for cell in cells):
            continue
        cells = [cell.strip() for cell in cells]
        if not header:
            header = cells
            faults += header_faults(header, name, line)
            readable = not faults
        elif len(cells) != len(header):
            wrong = f"has {len(cells)} cells"
            faults.append(Fault(name, line, "row", wrong, f"{len(header)}, as in the header"))
        else:
            rows.append(Row(line, dict(zip(header, cells, strict=True))))
    if not header:
        faults.append(Fault(name, None, "file", "is empty", f"a header with {', '.join(REQUIRED)}"))
    elif not rows and not faults:
        faults.append(Fault(name, None, "file", "has no rows", "at least one damage"))
    return (header, rows, faults) if readable else ([], [], faults)


def csv_lines(text: str, delimiter: str = ",") -> list[tuple[int, list[str]]]:
    """Cells of every record, with the line it begins on; raises csv.Error."""
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=delimiter)
    found, end = [], 0
    for cells in reader:
        found.append((end + 1, cells))
        end = reader.line_num
    return found


def header_faults(header: list[str], name: str, line: int | None) -> Iterator[Fault]:
    """Yield what is wrong with a header of the plain history format."""
    for column in sorted(set(header) - set(COLUMNS)):
        wrong = f"{column!r} is not a known column" + nearest(column, COLUMNS)
        yield Fault(name, line, "header", wrong, ", ".join(COLUMNS))
    for column in sorted({c for c in header if header.count(c) > 1}):
        yield Fault(name, line, "header", f"{column!r} is given twice", "once")
    for column in REQUIRED:
        if column not in header:
            yield Fault(name, line, "header", f"{column!r} is missing", "a required column")


def read_cells(
    header: list[str],
    rows: Sequence[Row],
    name: str,
    catalogue: Catalogue,
    shown: Mapping[str, str] | None = None,
    allowed: Mapping[str, str] | None = None,
) -> tuple[Cells, list[Fault]]:
    """Read every cell, and look for what contradicts itself within a job or a row.

    Parameters
    ----------
    name : what faults call the file of rows that name none.
    shown, allowed : by column, what faults call it, and what they say it may hold.
    """
    shown, allowed = shown or {}, allowed or {}
    readers = cell_readers(catalogue)
    faults: list[Fault] = []
    values: dict[str, list[Any]] = {}
    for column in header:
        read, found = readers[column], []
        known: dict[str, Any] = {}
        for row in rows:
            text = row.cells[column]
            try:
                if text not in known:
                    known[text] = read(text)
                found.append(known[text])
            except Refused as problem:
                may = allowed.get(column, problem.allowed)
                faults.append(Fault(row.of or name, row.line, shown.get(column, column), problem.wrong, may))
                found.append(None)
        values[column] = found
    cells = Cells(list(header), list(rows), values)
    faults += _contradictions(cells, name, shown)
    return cells, faults


def cell_readers(catalogue: Catalogue) -> dict[str, Callable[[str], Any]]:
    """How the cells of each column are read; a reader raises `Refused`."""

    def free(text: str) -> str:
        if _CONTROL.search(text):
            raise Refused(f"{text!r} contains a control character", "printable text")
        return unguarded(text)

    def required(text: str) -> str:
        if not text:
            raise Refused("is blank", "one job number on all rows of the job")
        return free(text)

    def choice(allowed: tuple[str, ...], what: str, blank: bool = True) -> Callable[[str], str]:
        places = set(allowed)

        def read(text: str) -> str:
            if text in places or (blank and not text):
                return text
            shown = ", ".join(allowed[:12]) + (f" and {len(allowed) - 12} more" if len(allowed) > 12 else "")
            wrong = f"{text!r} is not a known {what}" if text else "is blank"
            raise Refused(wrong + nearest(text, allowed), shown)

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
        "intake_severity": lambda text: float(_severity(text)) if text else float("nan"),
        "why_not": choice(WHY_NOT, "reason"),
        "known_at": choice(KNOWN_AT, "moment"),
        "route": choice(ROUTES, "route"),
        "comeback_kind": choice(COMEBACK_KINDS, "kind of comeback"),
        "ending": choice(ENDINGS, "ending"),
        "look_depth": choice(LOOK_DEPTHS, "depth"),
        "look_reason": choice(LOOK_REASONS, "reason for a look"),
        "hidden_faults": hidden,
        "data_outcome": choice(DATA_OUTCOMES, "outcome of a data job"),
        "method": choice(tuple(catalogue.repairs), "repair") if catalogue.repair else free,
        "zone": choice(tuple(catalogue.zones), "zone") if catalogue.zone else free,
    }
    return readers


def _number(text: str) -> float:
    if not text:
        return float("nan")
    if not _NUMBER.fullmatch(text):
        raise Refused(f"{text!r} is not an amount", "digits with a point, such as 84.50, 0 or more")
    if float(text) > _MOST:
        raise Refused(f"{text[:40]!r} is too large", f"at most {_MOST:.0f}")
    return float(text)


def _date(text: str, blank: bool = True) -> pd.Timestamp | NaTType:
    if not text and blank:
        return pd.NaT
    try:
        day = date.fromisoformat(text)
    except ValueError:
        wrong = f"{text!r} is not a date" if text else "is blank"
        raise Refused(wrong, "a date written as 2026-03-31") from None
    if not _YEARS[0] <= day.year <= _YEARS[1]:
        raise Refused(f"{text!r} is out of range", f"a year from {_YEARS[0]} to {_YEARS[1]}")
    return pd.Timestamp(day)


def _severity(text: str) -> int:
    if text not in ("", "1", "2", "3"):
        raise Refused(f"{text!r} is not a severity", "1, 2 or 3 (blank is 2)")
    return int(text or 2)


def _contradictions(cells: Cells, name: str, shown: Mapping[str, str]) -> Iterator[Fault]:
    """Yield what contradicts itself: within a job, and between the columns of a row."""
    first: dict[tuple[str, str], tuple[Any, int | None]] = {}
    shared = [column for column in cells.header if column in PER_JOB or column == "date"]
    ends = [column for column in DATES[1:] if column in cells.header]
    values = cells.values
    for place, row in enumerate(cells.rows):
        file, job = row.of or name, values["job"][place]
        if job is None:
            continue
        for column in shared:
            value, text = values[column][place], row.cells[column]
            if not text or value is None:
                continue
            earlier, line = first.setdefault((job, column), (value, row.line))
            if earlier != value:
                wrong = f"{text!r} differs from line {line} of the same job {job!r}"
                yield Fault(file, row.line, shown.get(column, column), wrong, "one value per job")
        begun = values["date"][place]
        for column in ends:
            end = values[column][place]
            if begun is not None and end is not None and end < begun:  # NaT compares False
                wrong = f"{row.cells[column]} is before the intake on {row.cells['date']}"
                yield Fault(file, row.line, shown.get(column, column), wrong, "the day of intake or later")
        outcome = values["outcome"][place]
        if row.cells.get("why_not") and outcome not in (None, "not-attempted"):
            wrong = f"{row.cells['why_not']!r} is given for an outcome of {row.cells['outcome']!r}"
            yield Fault(
                file,
                row.line,
                shown.get("why_not", "why_not"),
                wrong,
                "blank, or the outcome not-attempted",
            )
    yield from endings_refused(first, name, shown)
    yield from looks_refused(first, name, shown)
