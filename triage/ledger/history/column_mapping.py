"""A foreign spreadsheet in terms of the plain history format: which column is which, which word means what.

A mapping is a TOML file of our own:

    delimiter = ";"            # or "tab"
    encoding = "cp1252"
    decimal = ","              # what stands before the cents; the other one groups thousands
    dates = "DD.MM.YYYY"       # a time of day after the date is left out
    currency = "EUR"
    round_money = true         # amounts with more decimals than the currency has
    one_job_a_row = true       # a file without job numbers: each row is a job

    [own_dates]                # a column of ours that writes its dates otherwise
    closed = "MM/DD/YYYY"

    [own_decimals]             # a column of ours that writes its numbers otherwise
    minutes = "."

    [columns]                  # ours = theirs; a column with our own name needs no line
    job = "Order no."

    [words.outcome]            # their word = ours; "" is blank
    "repaired" = "fixed"

    [always]                   # a column of ours that is the same for every row
    route = "walk-in"
"""

from __future__ import annotations

import csv
import re
from collections.abc import Iterator
from dataclasses import dataclass, field, replace
from datetime import date, datetime
from decimal import ROUND_HALF_UP, Decimal
from functools import cache
from pathlib import Path, PurePath
from typing import Literal

from triage.domain.catalogue import Catalogue
from triage.domain.documents import Document, Location, build, dotted, parse_toml, read_toml
from triage.domain.money import minor_digits
from triage.errors import Fault, HistoryError, nearest
from triage.ledger.history.history_cells import (
    COLUMNS,
    DATES,
    MONEY,
    NUMBERS,
    Refused,
    Row,
    cell_readers,
    csv_lines,
    header_faults,
)

Encoding = Literal[
    "utf-8", "utf-16", "cp1250", "cp1251", "cp1252", "iso-8859-1", "iso-8859-15", "shift-jis"
]  # fmt: skip
_DATE_PARTS = {"YYYY": "%Y", "YY": "%y", "MM": "%m", "DD": "%d"}
# A time of day behind a date.
_CLOCK = re.compile(r"[ T]\d{1,2}:\d{2}(:\d{2}(\.\d+)?)?( ?[AaPp][Mm]|Z|[+-]\d{2}:?\d{2})?$")
_SIGNS = re.compile(r"[\s€$£¥]|\b[A-Z]{3}\b")


@dataclass(frozen=True)
class ColumnMapping:
    """How a foreign file says what the plain history format says; the fields are those of the TOML file."""

    delimiter: Literal[",", ";", "|", ":", "tab"] = ","
    encoding: Encoding = "utf-8"
    decimal: Literal[".", ","] = "."
    dates: str = "YYYY-MM-DD"
    currency: str = ""
    round_money: bool = False
    one_job_a_row: bool = False
    own_dates: dict[str, str] = field(default_factory=dict)
    own_decimals: dict[str, Literal[".", ","]] = field(default_factory=dict)
    columns: dict[str, str] = field(default_factory=dict)
    words: dict[str, dict[str, str]] = field(default_factory=dict)
    always: dict[str, str] = field(default_factory=dict)
    document: str = ""


@dataclass(frozen=True)
class Sheet:
    """A file in our own columns.

    shown : what faults call a column. allowed : what faults say it may hold,
    where that is not what the plain format says. ignored : columns not used.
    titles, raw : the file's own header, and its cells by line.
    """

    header: list[str]
    rows: list[Row]
    faults: list[Fault]
    shown: dict[str, str] = field(default_factory=dict)
    allowed: dict[str, str] = field(default_factory=dict)
    ignored: tuple[str, ...] = ()
    titles: tuple[str, ...] = ()
    raw: dict[int, list[str]] = field(default_factory=dict)


def load_mapping(path: Path, catalogue: Catalogue) -> ColumnMapping:
    """Read a mapping file.

    Raises
    ------
    HistoryError : every fault of it, with its line.
    """
    return _checked(read_toml(path, HistoryError), catalogue)


def parse_mapping(text: str, name: str, catalogue: Catalogue) -> ColumnMapping:
    """Read a mapping from text; `name` is what faults call it."""
    return _checked(parse_toml(text, name, HistoryError), catalogue)


def read_sheet(data: bytes, name: str, mapping: ColumnMapping) -> Sheet:
    """Lay a foreign file out in our own columns; what is wrong is in `faults`."""
    try:
        text = data.decode("utf-8-sig" if mapping.encoding == "utf-8" else mapping.encoding)
        lines = csv_lines(text, "\t" if mapping.delimiter == "tab" else mapping.delimiter)
    except UnicodeError:
        return Sheet(
            [], [], [Fault(name, None, "file", f"is not {mapping.encoding} text", "a readable file")]
        )
    except csv.Error as problem:
        return Sheet([], [], [Fault(name, None, "file", str(problem), "text in cells")])
    lines = [(line, [cell.strip() for cell in cells]) for line, cells in lines]
    lines = [(line, cells) for line, cells in lines if any(cells)]
    if not lines:
        return Sheet([], [], [Fault(name, None, "file", "is empty", "a header, and one row per damage")])
    line, theirs = lines[0]
    sources = {ours: mapping.columns.get(ours, ours) for ours in COLUMNS}
    held = {ours: theirs.index(source) for ours, source in sources.items() if source in theirs}
    held = {ours: place for ours, place in held.items() if ours not in mapping.always}
    header = [*held, *mapping.always]
    numbered = mapping.one_job_a_row and "job" not in header
    if numbered:
        header = ["job", *header]
    faults = [*_missing(mapping, theirs, name), *_doubled(held, theirs, name, line)]
    faults += header_faults(header, name, line)
    if faults:
        return Sheet([], [], faults)
    shown = {ours: ours if theirs[at] == ours else f"{theirs[at]} ({ours})" for ours, at in held.items()}
    rows = []
    for line, cells in lines[1:]:
        if len(cells) != len(theirs):
            wrong = f"has {len(cells)} cells"
            faults.append(Fault(name, line, "row", wrong, f"{len(theirs)}, as in the header"))
            continue
        said = {ours: _ours(mapping, ours, cells[place]) for ours, place in held.items()}
        label = {"job": f"{PurePath(name).stem} {line}"} if numbered else {}
        rows.append(Row(line, {**label, **said, **mapping.always}))
    if not rows and not faults:
        faults.append(Fault(name, None, "file", "has no rows", "at least one damage"))
    used = set(held.values())
    ignored = tuple(title for place, title in enumerate(theirs) if place not in used)
    return Sheet(header, rows, faults, shown, _allowed(mapping), ignored, tuple(theirs), dict(lines[1:]))


def _missing(mapping: ColumnMapping, theirs: list[str], name: str) -> Iterator[Fault]:
    for ours, source in mapping.columns.items():
        if source not in theirs:
            wrong = f"{source!r} is not a column of {name}" + nearest(source, theirs)
            yield Fault(mapping.document, None, f"columns, {ours}", wrong, ", ".join(theirs))


def _doubled(held: dict[str, int], theirs: list[str], name: str, line: int) -> Iterator[Fault]:
    for place in sorted(set(held.values())):
        if theirs.count(theirs[place]) > 1:
            yield Fault(name, line, "header", f"{theirs[place]!r} is given twice", "once")


def _ours(mapping: ColumnMapping, column: str, text: str) -> str:
    """A cell of theirs in our words; one that cannot be translated stays as it is, to be refused."""
    if column == "hidden_faults":
        both = {**mapping.words.get("finding", {}), **mapping.words.get(column, {})}
        return ";".join(both.get(part.strip(), part.strip()) for part in text.split(";"))
    said = mapping.words.get(column, {})
    if text in said or not text:
        return said.get(text, text)
    if column in DATES:
        day = as_date(text, mapping.own_dates.get(column, mapping.dates))
        return text if day is None else day.isoformat()
    return _number(mapping, column, text) if column in NUMBERS else text


def as_date(text: str, dates: str) -> date | None:
    """The day that a text says in a format such as DD.MM.YYYY; None where it says none."""
    try:
        return datetime.strptime(_CLOCK.sub("", text), _pattern(dates) or "").date()
    except ValueError:
        return None


def as_number(text: str, mark: Literal[".", ","]) -> str | None:
    """A number as digits with a point, from one with `mark` before its decimals; None where it is none."""
    group = "." if mark == "," else ","
    bare = _SIGNS.sub("", text)
    if re.fullmatch(rf"[0-9]{{1,3}}(\{group}[0-9]{{3}})+(\{mark}[0-9]+)?", bare):
        bare = bare.replace(group, "")
    return bare.replace(mark, ".") if re.fullmatch(rf"[0-9]+(\{mark}[0-9]+)?", bare) else None


def _number(mapping: ColumnMapping, column: str, text: str) -> str:
    bare = as_number(text, mapping.own_decimals.get(column, mapping.decimal))
    if bare is None:
        return text
    if mapping.round_money and column in MONEY and len(bare) < 25:
        step = Decimal(1).scaleb(-minor_digits(mapping.currency))
        return format(Decimal(bare).quantize(step, ROUND_HALF_UP), "f")
    return bare


def _allowed(mapping: ColumnMapping) -> dict[str, str]:
    """What a column may hold, in terms of the mapping."""

    def number(column: str) -> str:
        mark = mapping.own_decimals.get(column, mapping.decimal)
        return f"digits, with a {mark!r} before decimals, 0 or more"

    dates = {column: f"a date written as {mapping.own_dates.get(column, mapping.dates)}" for column in DATES}
    return {**dates, **{column: number(column) for column in NUMBERS}}


@cache
def _pattern(dates: str) -> str | None:
    """Pattern for `strptime`, or None where day, month and year are not each named once."""
    found = re.findall("YYYY|YY|MM|DD", dates)
    if sorted(part[0] for part in found) != ["D", "M", "Y"]:
        return None
    return re.sub("YYYY|YY|MM|DD|%", lambda part: _DATE_PARTS.get(part.group(), "%%"), dates)


def _checked(document: Document, catalogue: Catalogue) -> ColumnMapping:
    mapping = build(ColumnMapping, document, HistoryError)
    faults = sorted(_mapping_faults(mapping, document, catalogue), key=lambda fault: fault.line or 0)
    if faults:
        raise HistoryError(faults)
    return replace(mapping, document=document.name)


def _mapping_faults(mapping: ColumnMapping, document: Document, catalogue: Catalogue) -> Iterator[Fault]:
    def fault(at: Location, wrong: str, allowed: str) -> Fault:
        return Fault(document.name, document.line(at), dotted(at), wrong, allowed)

    if mapping.document:
        yield fault(("document",), "is not a known field", "the fields of a mapping")
    if mapping.currency and not re.fullmatch("[A-Z]{3}", mapping.currency):
        yield fault(("currency",), f"{mapping.currency!r} is not a currency", "three letters, such as EUR")
    said: list[tuple[Location, str]] = [(("dates",), mapping.dates)]
    said += [(("own_dates", ours), dates) for ours, dates in mapping.own_dates.items()]
    for at, dates in said:
        if _pattern(dates) is None:
            wrong = f"{dates!r} is not a date format"
            yield fault(at, wrong, "YYYY or YY, MM and DD, such as DD.MM.YYYY")
    for table, those in (("own_dates", DATES), ("own_decimals", NUMBERS)):
        for ours in getattr(mapping, table):
            if ours not in those:
                yield fault((table, ours), "is not such a column", ", ".join(those))
    readers = cell_readers(catalogue)
    for table in ("columns", "words", "always"):
        for ours in getattr(mapping, table):
            if ours not in COLUMNS:
                wrong = "is not a known column" + nearest(ours, COLUMNS)
                yield fault((table, ours), wrong, ", ".join(COLUMNS))
    for ours in set(mapping.columns) & set(mapping.always):
        yield fault(("always", ours), "is also in [columns]", "one of the two")
    told: list[tuple[Location, str, str]] = [
        (("words", ours, word), ours, text)
        for ours, meanings in mapping.words.items()
        for word, text in meanings.items()
    ]
    told += [(("always", ours), ours, text) for ours, text in mapping.always.items()]
    for at, ours, text in told:
        if ours in COLUMNS:
            try:
                readers[ours](text)
            except Refused as problem:
                yield fault(at, problem.wrong, problem.allowed)
