"""Prices by model as a CSV file, or as rows copied from a spreadsheet; read whole or not at all."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Iterator, Mapping
from datetime import date
from pathlib import Path

from triage.domain.plain_files import plain_file
from triage.domain.shop.model_table import COLUMNS, MOST_ROWS, REQUIRED, TableRow, read_table, table_rows
from triage.domain.shop.price_book import ModelPrice
from triage.errors import Fault, SettingsError, nearest

MOST_BYTES = 5_000_000
# Comma, semicolon where the comma is the decimal sign, tab from a spreadsheet's clipboard.
_SEPARATORS = (",", ";", "\t")


def models_text(models: Iterable[ModelPrice]) -> str:
    """A CSV file of the prices, as `read_models` takes it."""
    out = io.StringIO()
    writer = csv.DictWriter(out, COLUMNS, lineterminator="\n")
    writer.writeheader()
    writer.writerows(table_rows(models))
    return out.getvalue()


def read_models(
    path: Path, parts: Mapping[str, str] | None = None, today: date | None = None
) -> tuple[ModelPrice, ...]:
    """Read a file; parameters and errors as `read_models_text`."""
    name = str(path)
    try:
        with plain_file(path).open("rb") as file:
            content = file.read(MOST_BYTES + 1)
    except OSError as problem:
        wrong = problem.strerror or "cannot be read"
        raise SettingsError([Fault(name, None, "file", wrong, "a readable CSV file")]) from problem
    return read_models_bytes(content, name, parts, today)


def read_models_bytes(
    content: bytes, name: str, parts: Mapping[str, str] | None = None, today: date | None = None
) -> tuple[ModelPrice, ...]:
    """Read a file's content; parameters and errors as `read_models_text`."""
    if len(content) > MOST_BYTES:
        raise SettingsError([Fault(name, None, "file", "is too large", f"at most {MOST_BYTES:,} bytes")])
    try:
        text = content.decode("utf-8-sig")
    except UnicodeDecodeError as problem:
        line = content[: problem.start].count(b"\n") + 1
        allowed = "a CSV file in UTF-8 (in a spreadsheet, save as CSV UTF-8)"
        raise SettingsError([Fault(name, line, "file", "is not UTF-8 text", allowed)]) from problem
    return read_models_text(text, name, parts, today)


def read_models_text(
    text: str, name: str, parts: Mapping[str, str] | None = None, today: date | None = None
) -> tuple[ModelPrice, ...]:
    """Read a file's text. The separator is the one that makes most of its first line known columns.

    Parameters
    ----------
    name : what a fault calls the text. parts, today : as in `read_table`.

    Raises
    ------
    SettingsError : it is no such table, or has faulty rows; every fault at once.
    """
    faults: list[Fault] = []
    try:
        rows = list(_rows(text, name, faults))
    except csv.Error as problem:
        faults.append(Fault(name, None, "file", str(problem), "a CSV file"))
        rows = []
    try:
        models = read_table(rows, parts, today)
    except SettingsError as problem:
        faults += problem.faults
    if faults:
        raise SettingsError(sorted(faults, key=lambda fault: fault.line or 0))
    return models


def _rows(text: str, name: str, faults: list[Fault]) -> Iterator[TableRow]:
    first = next((line for line in text.splitlines() if line.strip()), "")
    separator = max(_SEPARATORS, key=lambda sign: len({*_header(first, sign)} & {*COLUMNS}))
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=separator)
    header: list[str] = []
    end = count = 0
    for cells in reader:
        line, end = end + 1, reader.line_num
        if not any(cell.strip() for cell in cells):
            continue
        if not header:
            header = [_column(cell) for cell in cells]
            if wrong := list(_header_faults(header, name, line)):
                faults += wrong
                return
            continue
        count += 1
        if count > MOST_ROWS:
            faults.append(Fault(name, line, "file", "has too many rows", f"at most {MOST_ROWS:,} rows"))
            return
        if len(cells) < len(header) or any(cell.strip() for cell in cells[len(header) :]):
            # A decimal comma between commas makes one cell two.
            allowed = f"{len(header)}, as in the header"
            faults.append(Fault(name, line, "row", f"has {len(cells)} cells", allowed))
            continue
        yield TableRow(name, line, dict(zip(header, cells, strict=False)))
    if not header:
        faults.append(Fault(name, None, "file", "is empty", f"a header with {', '.join(REQUIRED)}"))


def _header(line: str, separator: str) -> list[str]:
    return [_column(cell.strip().strip('"')) for cell in line.split(separator)]


def _column(cell: str) -> str:
    return cell.strip().casefold()


def _header_faults(header: list[str], name: str, line: int) -> Iterator[Fault]:
    allowed = ", ".join(COLUMNS)
    for cell in dict.fromkeys(header):
        if cell not in COLUMNS:
            wrong = f"{cell[:60]!r} is not a known column" + nearest(cell, COLUMNS)
            yield Fault(name, line, "header", wrong, allowed)
        elif header.count(cell) > 1:
            yield Fault(name, line, "header", f"the column {cell!r} is given twice", "each column once")
    for cell in REQUIRED:
        if cell not in header:
            yield Fault(name, line, "header", f"the column {cell!r} is missing", allowed)
