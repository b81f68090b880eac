"""What can be read in a file of past jobs and is hardly meant: asked about by name before it is kept."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from datetime import date

from triage.errors import Fault
from triage.ledger.history.history_cells import DATES, MONEY, Cells, Row

# 1.240 is one and a quarter, or twelve hundred and forty with the point of another country. An amount
# with three decimals that are no cents cannot be kept, and is refused in any case.
_TWO_WAYS = re.compile(r"[1-9][0-9]{0,2}\.[0-9]{2}0")
_FIRST_YEAR = 1990
_MOST_MINUTES = 10_000  # a week without a break
SURE = "or --sure if it is correct"


def doubts(
    cells: Cells, name: str, shown: Mapping[str, str], today: date, plain: bool, digits: int, sure: str = SURE
) -> Iterator[Fault]:
    """Yield amounts that can be read two ways, impossible days and minutes, and rows that are there twice.

    Parameters
    ----------
    name : what faults call the file of rows that name none. shown : by column, what faults call it.
    plain : amounts stand as the plain format has them; a mapping says how they are written.
    digits : decimals of the currency. sure : how one says that a value is meant.
    """
    seen: dict[tuple[str, ...], int | None] = {}
    for place, row in enumerate(cells.rows):
        file = row.of or name

        def doubt(column: str, wrong: str, allowed: str, row: Row = row, file: str = file) -> Fault:
            return Fault(file, row.line, shown.get(column, column), wrong, f"{allowed}, {sure}")

        for column in cells.header:
            text, value = row.cells[column], cells.values[column][place]
            if column in MONEY and plain and digits < 3 and _TWO_WAYS.fullmatch(text):
                whole, part = text.split(".")
                allowed = f"{whole}.{part[:2]}, or {whole}{part}"
                yield doubt(column, f"{text!r} is ambiguous", allowed)
            elif column in DATES and text and value is not None and not _lived(value.date(), today):
                allowed = f"a day from {_FIRST_YEAR} to today, {today}"
                yield doubt(column, f"{text!r} is not a plausible date", allowed)
            elif column == "minutes" and value is not None and value > _MOST_MINUTES:
                yield doubt(column, f"{text!r} is more than a week", f"at most {_MOST_MINUTES} minutes")
        content = tuple(row.cells[column] for column in cells.header)
        if content in seen:
            wrong = f"repeats line {seen[content]}"
            yield doubt("row", wrong, "each damage once; a second attempt must differ")
        seen.setdefault(content, row.line)


def _lived(day: date, today: date) -> bool:
    return day.year >= _FIRST_YEAR and day <= today
