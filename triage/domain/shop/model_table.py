"""Prices by model as a table: one row a price, with the day it was checked; read and written.

A row is the whole device (its resale value and parts value) or one part of it. Cells are texts,
so that a number is read here, by one rule, and never by a spreadsheet or a browser.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field, replace
from datetime import date
from typing import Any, TypeVar

from triage.domain.money import Money
from triage.domain.shop.amounts import Unreadable, read_amount, read_day, write_amount
from triage.domain.shop.model_names import model_key
from triage.domain.shop.price_book import ModelPrice
from triage.errors import Fault, SettingsError, nearest

T = TypeVar("T")
# The item of a row that prices the device itself; a part's slug has no blanks.
DEVICE = "whole device"
_OF_DEVICE = ("limited_price", "parts_good_display", "parts_broken_display")
_LEAD = ("lead_shortest", "lead_usual", "lead_longest")
REQUIRED = ("model", "item", "price")
COLUMNS = (*REQUIRED, *_OF_DEVICE, *_LEAD, "checked_on")
# Rows that a table may have; a file of more is a mistake.
MOST_ROWS = 20_000
_MOST_NAME, _MOST_DAYS = 200, 3650
_CONTROL = re.compile(r"[\x00-\x1f\x7f-\x9f\u202a-\u202e\u2066-\u2069]")
# Also no text that a spreadsheet takes for a formula, and no sign that parts one model from the next.
_NAME = re.compile(r"[^\W_][^;]*")


@dataclass(frozen=True)
class TableRow:
    """One row as it was written: where it stands, and its cells by column."""

    table: str
    line: int
    cells: Mapping[str, str]


@dataclass(frozen=True)
class ModelChanges:
    """How many rows of prices were added, changed and deleted."""

    added: int = 0
    changed: int = 0
    deleted: int = 0


def which_price(row: Mapping[str, str]) -> tuple[str, str]:
    """What a row is about, whatever it says: two rows of one table never share it."""
    return model_key(row.get("model", "")), row.get("item", "").strip().casefold()


def changes_between(before: Iterable[Mapping[str, str]], after: Iterable[Mapping[str, str]]) -> ModelChanges:
    """What tells two tables apart, row by row."""
    old, new = ({which_price(row): {**row} for row in rows} for rows in (before, after))
    return ModelChanges(
        added=len(new.keys() - old.keys()),
        changed=sum(
            any(cell != old[key].get(name) for name, cell in new[key].items())
            for key in old.keys() & new.keys()
        ),
        deleted=len(old.keys() - new.keys()),
    )


def table_rows(models: Iterable[ModelPrice]) -> Iterator[dict[str, str]]:
    """Cells by column, every one, of each row: a model's device first, then its parts."""
    for entry in models:
        device = (
            entry.working_price, entry.limited_price,
            entry.parts_value_good_panel, entry.parts_value_broken_panel,
        )  # fmt: skip
        if any(figure is not None for figure in device):
            money = dict(zip(("price", *_OF_DEVICE), map(_told, device), strict=True))
            yield _row(entry.model, DEVICE, entry.checked_on, money)
        for part, price in entry.parts.items():
            lead = map(_told, entry.lead_days.get(part, (None,) * 3))
            cells = {"price": _told(price), **dict(zip(_LEAD, lead, strict=True))}
            yield _row(entry.model, part, entry.parts_checked_on.get(part), cells)


def _row(model: str, item: str, day: date | None, cells: Mapping[str, str]) -> dict[str, str]:
    told = {"model": model, "item": item, **cells, "checked_on": day.isoformat() if day else ""}
    return {name: told.get(name, "") for name in COLUMNS}


def _told(figure: float | None) -> str:
    return "" if figure is None else write_amount(figure)


def read_table(
    rows: Iterable[TableRow], parts: Mapping[str, str] | None = None, today: date | None = None
) -> tuple[ModelPrice, ...]:
    """Read rows; one that is blank is passed over.

    Parameters
    ----------
    parts : names of the parts that there are, by slug; None takes any slug.
    today : latest day on which a price can have been checked; None for no limit.

    Raises
    ------
    SettingsError : every fault of every row.
    """
    reader = _Reader(parts, today)
    for row in rows:
        if any(cell.strip() for cell in row.cells.values()):
            reader.read(row)
    if reader.faults:
        raise SettingsError(reader.faults)
    return tuple(reader.models.values())


@dataclass(frozen=True)
class _Reader:
    """Models as far as they are read, in the order met; `faults` gathers everything wrong."""

    parts: Mapping[str, str] | None
    today: date | None
    models: dict[str, ModelPrice] = field(default_factory=dict)
    faults: list[Fault] = field(default_factory=list)
    met: dict[tuple[str, str], TableRow] = field(default_factory=dict)

    def read(self, row: TableRow) -> None:
        before = len(self.faults)
        for name, cell in row.cells.items():
            if _CONTROL.search(cell):
                self.fault(row, name, "holds a control character or a line break", "plain text on one line")
        if len(self.faults) > before:
            return
        model, item = self._model(row), self._item(row)
        figures: dict[str, Any] = {name: self._money(row, name) for name in ("price", *_OF_DEVICE)}
        lead = self._lead(row)
        day = self._cell(row, "checked_on", lambda text: read_day(text, self.today))
        if item == DEVICE:
            self._check_device(row, figures)
        elif item:
            self._check_part(row)
        self._check_twice(row, model, item)
        if len(self.faults) > before:
            return
        held = self.models.setdefault(model_key(model), ModelPrice(model))
        self.models[model_key(model)] = _with_row(held, item, figures, lead, day)

    def fault(self, row: TableRow, name: str, wrong: str, allowed: str) -> None:
        self.faults.append(Fault(row.table, row.line, name, wrong, allowed))

    def _cell(self, row: TableRow, name: str, read: Any) -> Any:
        """What a cell says; None where it is blank or cannot be read."""
        text = row.cells.get(name, "").strip()
        try:
            return read(text) if text else None
        except Unreadable as problem:
            self.fault(row, name, problem.wrong, problem.allowed)
            return None

    def _money(self, row: TableRow, name: str) -> Money | None:
        amount: float | None = self._cell(row, name, read_amount)
        return amount

    def _model(self, row: TableRow) -> str:
        name = row.cells.get("model", "").strip()
        if not name:
            self.fault(row, "model", "is blank", "the shop's name for the model")
        elif len(name) > _MOST_NAME:
            wrong = f"has {len(name)} characters"
            self.fault(row, "model", wrong, f"at most {_MOST_NAME} characters")
        elif not _NAME.fullmatch(name):
            wrong = f"{name[:60]!r} is not a possible name"
            self.fault(row, "model", wrong, "a name that begins with a letter or digit and holds no ;")
        return name

    def _item(self, row: TableRow) -> str:
        """The part's slug, or DEVICE; "" where it is neither."""
        told = row.cells.get("item", "").strip()
        wanted = told.casefold()
        if wanted == DEVICE:
            return DEVICE
        if not told:
            self.fault(row, "item", "is blank", f"{DEVICE}, or a part such as {self._some_parts()}")
            return ""
        if self.parts is None:
            return told
        for slug, name in self.parts.items():
            if wanted in (slug.casefold(), name.casefold()):
                return slug
        known = [DEVICE, *self.parts, *self.parts.values()]
        wrong = f"{told[:60]!r} is not a known part" + nearest(wanted, known)
        self.fault(row, "item", wrong, f"{DEVICE}, or a part such as {self._some_parts()}")
        return ""

    def _some_parts(self) -> str:
        return ", ".join(list(self.parts or {"display": ""})[:4])

    def _lead(self, row: TableRow) -> tuple[float, float, float] | None:
        if not any(row.cells.get(name, "").strip() for name in _LEAD):
            return None
        before = len(self.faults)
        days = [self._cell(row, name, read_amount) for name in _LEAD]
        if len(self.faults) > before:
            return None
        least, usual, most = days
        if None in days or not least <= usual <= most <= _MOST_DAYS:
            wrong = "lead times are not complete, or do not rise"
            allowed = f"shortest, usual and longest days up to {_MOST_DAYS}, or none of them"
            self.fault(row, _LEAD[days.index(None)] if None in days else _LEAD[0], wrong, allowed)
            return None
        return least, usual, most

    def _check_device(self, row: TableRow, figures: Mapping[str, float | None]) -> None:
        self._refuse_filled(row, _LEAD, f"is filled for the {DEVICE}", "blank; lead times belong to parts")
        if not any(row.cells.get(name, "").strip() for name in figures):
            self.fault(row, "price", "is blank, and so is every other price", "at least one price")
        price, limited = figures["price"], figures["limited_price"]
        if limited is not None and not row.cells.get("price", "").strip():
            self.fault(row, "price", "is blank", "the resale value with no function lost")
        elif limited is not None and price is not None and limited > price:
            wrong = f"{write_amount(limited)} is more than fully working"
            self.fault(row, "limited_price", wrong, f"up to {write_amount(price)}")

    def _check_part(self, row: TableRow) -> None:
        self._refuse_filled(row, _OF_DEVICE, "is filled for a part", f"blank; it belongs to the {DEVICE}")
        if not row.cells.get("price", "").strip():
            self.fault(row, "price", "is blank", "the price of the part")

    def _refuse_filled(self, row: TableRow, names: Iterable[str], wrong: str, allowed: str) -> None:
        for name in names:
            if row.cells.get(name, "").strip():
                self.fault(row, name, wrong, allowed)

    def _check_twice(self, row: TableRow, model: str, item: str) -> None:
        if not model or not item:
            return
        first = self.met.setdefault((model_key(model), item), row)
        if first is not row:
            where = f"line {first.line}" if first.table == row.table else f"{first.table}, line {first.line}"
            self.fault(row, "item", f"{item} of {model} is already on {where}", "one row for each")


def _with_row(
    held: ModelPrice,
    item: str,
    figures: Mapping[str, float | None],
    lead: tuple[float, float, float] | None,
    day: date | None,
) -> ModelPrice:
    if item == DEVICE:
        return replace(
            held,
            working_price=figures["price"],
            limited_price=figures["limited_price"],
            parts_value_good_panel=figures["parts_good_display"],
            parts_value_broken_panel=figures["parts_broken_display"],
            checked_on=day,
        )
    price = figures["price"]
    return replace(
        held,
        parts=held.parts | ({} if price is None else {item: price}),
        lead_days=held.lead_days | ({item: lead} if lead else {}),
        parts_checked_on=held.parts_checked_on | ({item: day} if day else {}),
    )
