"""The record as one table in the plain history format: CSV or Parquet. No passcode, no contact."""

from __future__ import annotations

import csv
import os
from collections.abc import Callable, Iterable, Sequence
from contextlib import suppress
from datetime import date
from decimal import Decimal
from pathlib import Path
from typing import Any

from triage.domain.money import minor_digits
from triage.errors import LedgerError
from triage.ledger.history.history_cells import DATES, FREE, MONEY, guarded
from triage.ledger.history.history_rows import ORDER, columns_of

_WHOLE = ("severity", "intake_severity", "warranty_days")


def write_csv(rows: Iterable[dict[str, str]], path: Path, force: bool = False) -> None:
    """Write rows as UTF-8 CSV; free text that a spreadsheet would take for a formula gets a ' before it.

    Raises
    ------
    LedgerError : the file is there already and `force` is not set, or it cannot be written.
    """
    rows = list(rows)
    safe = ({**row, **{name: guarded(row[name]) for name in FREE}} for row in rows)
    write_table(safe, columns_of(rows), path, force)


def write_table(
    rows: Iterable[dict[str, str]], header: Sequence[str], path: Path, force: bool = False
) -> None:
    """Write rows whose free text is guarded as UTF-8 CSV; raises LedgerError as `write_csv` does."""

    def write(temporary: Path) -> None:
        with temporary.open("w", encoding="utf-8", newline="") as file:
            sheet = csv.DictWriter(file, header, lineterminator="\n", extrasaction="ignore")
            sheet.writeheader()
            sheet.writerows(rows)
            file.flush()
            os.fsync(file.fileno())

    whole_or_not_at_all(path, force, write)


def write_parquet(
    rows: Sequence[dict[str, str]], path: Path, currencies: Sequence[str], force: bool = False
) -> None:
    """Write rows as Parquet: days as dates, money as decimals, blank as null; raises LedgerError."""
    import pyarrow as pa
    import pyarrow.parquet as pq

    digits = max((minor_digits(currency) for currency in currencies), default=2)

    def column(name: str) -> Any:
        type_, read = _parquet_type(pa, name, digits)
        return pa.array([read(row[name]) if row[name] else None for row in rows], type_)

    table = pa.table({name: column(name) for name in ORDER})
    whole_or_not_at_all(path, force, lambda temporary: pq.write_table(table, temporary))


def _parquet_type(pa: Any, name: str, digits: int) -> tuple[Any, Callable[[str], Any]]:
    if name in DATES:
        return pa.date32(), date.fromisoformat
    if name in MONEY:
        return pa.decimal128(18, digits), Decimal
    if name in _WHOLE:
        return pa.int32(), int
    minutes = ("minutes", "strip_minutes", "data_minutes")
    return (pa.float64(), float) if name in minutes else (pa.string(), str)


def whole_or_not_at_all(path: Path, force: bool, write: Callable[[Path], object]) -> None:
    """Write a file beside its place, then move it there; raises LedgerError where it cannot."""
    if path.exists() and not force:
        raise LedgerError(f"{path} already exists; choose another name, or replace it with --force")
    if path.exists() and not path.is_file():
        raise LedgerError(f"{path} cannot be written: it is not a file")
    temporary = path.with_name(f".{path.name}.{os.getpid()}.tmp")
    try:
        write(temporary)
        os.replace(temporary, path)
    except OSError as problem:
        raise LedgerError(f"{path} cannot be written: {problem.strerror or problem}") from problem
    finally:
        with suppress(OSError):
            temporary.unlink(missing_ok=True)
