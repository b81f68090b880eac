"""LOT.csv: many units in one file, a row each; a row that cannot be read does not affect the others.

Required columns: `unit` (a unique label), `tier`, `findings`. Optional:
`model`, `cause`, `battery`, `lock`, `identity`, `enrolled`, `source`, `ask` (asking price),
`working_price`, `parts_value`, `symptoms`, `checks`. Within a cell, entries are
separated by `;`:

    findings   back-glass-cracked;port-pins-damaged/3;cell-worn/2/8 in 20
    symptoms   no-charge
    checks     usb-draw-reading=found;cell-look=not-found

A finding is `slug`, `slug/severity` or, where it is only suspected,
`slug/severity/chance`, the chance a count such as `8 in 20` or a number. A lock
or identity left blank was not checked; `enrolled` left blank follows these two.
"""

from __future__ import annotations

import csv
import io
import math
import re
from collections.abc import Collection, Iterable, Iterator
from pathlib import Path
from typing import TextIO, TypeVar, get_args

from triage.domain.catalogue import Catalogue
from triage.domain.plain_files import plain_file
from triage.domain.shop.price_book import PriceBook
from triage.domain.units.lot import BadRow, Lot, LotRow
from triage.domain.units.unit import (
    CAUSES,
    BatteryState,
    CheckResult,
    Enrolled,
    Finding,
    Identity,
    Lock,
    Ownership,
    Source,
    Unit,
)
from triage.domain.units.unit_file import parse_chance
from triage.errors import Fault, LotFileError, nearest

REQUIRED = ("unit", "tier", "findings")
MONEY = ("ask", "working_price", "parts_value")
OPTIONAL = (
    "model",
    "cause",
    "battery",
    "lock",
    "identity",
    "enrolled",
    "source",
    *MONEY,
    "symptoms",
    "checks",
)
COLUMNS = (*REQUIRED, *OPTIONAL)
Word = TypeVar("Word", bound=str)
_MONEY = re.compile(r"[0-9]+(\.[0-9]+)?")
_MOST_MONEY = 1e7
_MOST_TEXT = 200
# No device has this many; a cell that long is a mistake, and would be planned for minutes.
_MOST_ENTRIES = 40
# Marks that turn the order of letters round are among them: they let a text show another.
_CONTROL = re.compile(r"[\x00-\x1f\x7f-\x9f\u202a-\u202e\u2066-\u2069]")


def read_lot(path: Path, catalogue: Catalogue, prices: PriceBook) -> Lot:
    """Read a whole lot.

    Raises
    ------
    LotFileError : it is no lot file at all (unreadable, or its header is wrong).
    """
    return _lot(str(path), lot_rows(path, catalogue, prices))


def read_lot_text(text: str, name: str, catalogue: Catalogue, prices: PriceBook) -> Lot:
    """Read a whole lot from a file's text; `name` is what a fault calls it, else as `read_lot`."""
    try:
        return _lot(name, _Reader(name, catalogue, prices).rows(io.StringIO(text, newline="")))
    except csv.Error as problem:
        raise LotFileError([Fault(name, None, "file", str(problem), "comma-separated text")]) from problem


def _lot(name: str, found: Iterable[LotRow | BadRow]) -> Lot:
    rows = list(found)
    return Lot(
        name,
        tuple(row for row in rows if isinstance(row, LotRow)),
        tuple(row for row in rows if isinstance(row, BadRow)),
    )


def lot_rows(path: Path, catalogue: Catalogue, prices: PriceBook) -> Iterator[LotRow | BadRow]:
    """Yield a lot's rows one by one in file order, however long the file is.

    Raises
    ------
    LotFileError : it is no lot file at all (unreadable, or its header is wrong).
    """
    name = str(path)
    try:
        with plain_file(path).open(encoding="utf-8-sig", newline="") as file:
            yield from _Reader(name, catalogue, prices).rows(file)
    except (OSError, UnicodeDecodeError) as problem:
        wrong = getattr(problem, "strerror", None) or "is not UTF-8 text"
        raise LotFileError([Fault(name, None, "file", wrong, "a readable CSV file")]) from problem
    except csv.Error as problem:
        raise LotFileError([Fault(name, None, "file", str(problem), "comma-separated text")]) from problem


class _Reader:
    """Reads rows against one catalogue and price book, and knows the labels met so far."""

    def __init__(self, name: str, catalogue: Catalogue, prices: PriceBook):
        self.name, self.catalogue = name, catalogue
        self.tiers = prices.tiers()
        self.first_line: dict[str, int] = {}

    def rows(self, file: TextIO) -> Iterator[LotRow | BadRow]:
        header: list[str] | None = None
        reader, end = csv.reader(file), 0
        for cells in reader:
            line, end = end + 1, reader.line_num
            cells = [cell.strip() for cell in cells]
            if not any(cells):
                continue
            if header is None:
                header = self._header(cells, line)
                continue
            yield self._row(header, cells, line)
        if header is None:
            allowed = f"a header with {', '.join(REQUIRED)}"
            raise LotFileError([Fault(self.name, None, "file", "is empty", allowed)])

    def _header(self, cells: list[str], line: int) -> list[str]:
        wrong = [
            (f"{cell!r} is not a known column" + nearest(cell, COLUMNS), ", ".join(COLUMNS))
            for cell in cells
            if cell not in COLUMNS
        ]
        wrong += [
            (f"the column {cell!r} is given twice", "each column once")
            for cell in set(cells)
            if cells.count(cell) > 1
        ]
        wrong += [
            (f"the column {name!r} is missing", ", ".join(COLUMNS)) for name in REQUIRED if name not in cells
        ]
        if wrong:
            raise LotFileError(Fault(self.name, line, "header", *entry) for entry in wrong)
        return cells

    def _row(self, header: list[str], cells: list[str], line: int) -> LotRow | BadRow:
        text = as_text(cells)
        held = dict.fromkeys(COLUMNS, "") | dict(zip(header, cells, strict=False))
        row = _Row(self, held, line)
        if len(cells) != len(header):
            row.fault("row", f"has {len(cells)} cells", f"{len(header)} cells, as in the header")
        else:
            unit, ask = row.read()
        if row.faults:
            return BadRow(line, held["unit"], text, tuple(row.faults))
        self.first_line[held["unit"]] = line
        return LotRow(line, unit, ask, text)


class _Row:
    """One row being read; `faults` gathers everything wrong with it."""

    def __init__(self, reader: _Reader, cells: dict[str, str], line: int):
        self.reader, self.cells, self.line = reader, cells, line
        self.faults: list[Fault] = []

    def fault(self, field: str, wrong: str, allowed: str) -> None:
        self.faults.append(Fault(self.reader.name, self.line, field, wrong, allowed))

    def read(self) -> tuple[Unit, float | None]:
        """The unit and its asking price; of no use where there are faults."""
        for name, cell in self.cells.items():
            if _CONTROL.search(cell):
                self.fault(name, "holds a control character or a line break", "plain text on one line")
        label = self.cells["unit"]
        if not label:
            self.fault("unit", "is blank", "a unique label")
        elif (before := self.reader.first_line.get(label)) is not None:
            self.fault("unit", f"{label!r} is already on line {before}", "a unique label")
        for name in ("unit", "model"):
            if len(self.cells[name]) > _MOST_TEXT:
                self.fault(
                    name, f"has {len(self.cells[name])} characters", f"at most {_MOST_TEXT} characters"
                )
        self._known("tier", self.cells["tier"], self.reader.tiers, "tier")
        if self.cells["cause"]:
            self._known("cause", self.cells["cause"], CAUSES, "cause")
        money = {name: self._money(name) for name in MONEY}
        battery = self._picked("battery", get_args(BatteryState), Unit.battery)
        lock = self._picked("lock", get_args(Lock), "cannot-tell")
        identity = self._picked("identity", get_args(Identity), "not-checked")
        enrolled = self._picked("enrolled", get_args(Enrolled), "")
        source = self._picked("source", get_args(Source), "")
        unit = Unit(
            name=label,
            tier=self.cells["tier"],
            findings=tuple(self._findings()),
            symptoms=tuple(self._symptoms()),
            readings=tuple(self._readings()),
            model=self.cells["model"],
            cause=self.cells["cause"],
            working_price=money["working_price"],
            parts_value=money["parts_value"],
            battery=battery,
            ownership=Ownership(lock=lock, identity=identity, enrolled=enrolled, source=source),
        )
        return unit, money["ask"]

    def _known(self, field: str, slug: str, known: Collection[str], what: str) -> bool:
        if slug in known:
            return True
        wrong = f"{slug!r} is not a known {what}" + nearest(slug, known) if slug else "is blank"
        listed = list(known)
        more = f" and {len(listed) - 12} more" if len(listed) > 12 else ""
        self.fault(field, wrong, ", ".join(listed[:12]) + more)
        return False

    def _picked(self, name: str, allowed: tuple[Word, ...], blank: Word) -> Word:
        cell = self.cells[name]
        if cell and cell not in allowed:
            self.fault(name, f"{cell!r} is not accepted", ", ".join(allowed))
        return next((word for word in allowed if word == cell), blank)

    def _money(self, name: str) -> float | None:
        cell = self.cells[name]
        if not cell:
            return None
        amount = float(cell) if _MONEY.fullmatch(cell) else math.inf
        if amount > _MOST_MONEY:
            wrong = f"{cell[:60]!r} is not an amount of money"
            self.fault(name, wrong, "a number from 0, such as 45 or 84.50")
            return None
        return amount

    def _entries(self, name: str) -> list[str]:
        entries = [part.strip() for part in self.cells[name].split(";") if part.strip()]
        if len(entries) > _MOST_ENTRIES:
            self.fault(name, f"holds {len(entries)} entries", f"at most {_MOST_ENTRIES} entries")
            return []
        return entries

    def _findings(self) -> Iterator[Finding]:
        entries = self._entries("findings")
        if not self.cells["findings"] and not self.cells["symptoms"]:
            self.fault("findings", "is blank, and symptoms is blank too", "at least one damage or symptom")
        for entry in entries:
            slug, *rest = (part.strip() for part in entry.split("/", 2))
            good = self._known("findings", slug, self.reader.catalogue.kinds, "damage kind")
            severity, chance = (*rest, "", "")[:2]
            if severity not in ("", "1", "2", "3"):
                self.fault("findings", f"severity {severity!r} of {slug} is not accepted", "1, 2 or 3")
                good = False
            share = self._chance(slug, chance)
            if good and share is not None:
                yield Finding(slug, int(severity or 2), chance=share)

    def _chance(self, slug: str, text: str) -> float | None:
        if not text:
            return 1.0
        try:
            share = parse_chance(float(text) if _MONEY.fullmatch(text) else text)
        except ValueError:
            share = math.inf
        if not 0.0 <= share <= 1.0:
            allowed = 'a count such as "8 in 20", or a number from 0 to 1'
            self.fault("findings", f"chance {text!r} of {slug} is not accepted", allowed)
            return None
        return share

    def _symptoms(self) -> Iterator[str]:
        for slug in self._entries("symptoms"):
            if self._known("symptoms", slug, self.reader.catalogue.symptoms, "symptom"):
                yield slug

    def _readings(self) -> Iterator[CheckResult]:
        for entry in self._entries("checks"):
            slug, _, result = (part.strip() for part in entry.partition("="))
            good = self._known("checks", slug, self.reader.catalogue.checks, "check")
            if result not in ("found", "not-found"):
                wrong = f"result {result!r} of {slug} is not accepted"
                self.fault("checks", wrong, "found or not-found, as in usb-draw-reading=found")
            elif good:
                yield CheckResult(slug, result == "found")


def as_text(cells: list[str]) -> str:
    """Cells as one line of CSV, quoted where they need it."""
    return ",".join('"' + c.replace('"', '""') + '"' if re.search(r'[",\r\n]', c) else c for c in cells)
