"""A lot scored from file to file: resumable, in parts, whatever its length.

Rows are written in file order as they are scored, to `OUT.part`, which takes
the name OUT when all are done. Each row carries a mark of what its numbers
come from: its own text and the shop's books. A run that goes on takes over
every row whose mark still stands, so a killed run ends in the same file.
"""

from __future__ import annotations

import csv
import hashlib
import io
import math
import os
from collections.abc import Callable, Iterable, Iterator
from contextlib import nullcontext
from importlib.metadata import version
from itertools import islice
from pathlib import Path
from typing import Any, TextIO

from triage.domain.plain_files import plain_file
from triage.domain.units.lot import BadRow, LotRow
from triage.domain.units.lot_file import lot_rows
from triage.errors import Fault, LotFileError
from triage.ledger.history.history_cells import guarded, unguarded
from triage.lot_selection.scored_table import COLUMNS, LotTable, ScoredRow
from triage.lot_selection.scored_unit import ScoredUnit
from triage.policy.answer.assessment import Verdict
from triage.workflows.lots.workers import lot_scorer
from triage.workflows.shop.shop import Shop

# Rows scored between two writings, and so the most that a killed run loses for each worker.
PART = 32
_MARK = "scored_from"


_TEXT = ("unit", "tier", "whole", "priced_by", "limited_by")


def score_file(
    path: Path,
    shop: Shop,
    out: Path | None = None,
    resume: bool = False,
    workers: int = 1,
    scheduler: str | None = None,
    tell: Callable[[int], None] | None = None,
) -> LotTable:
    """Score a lot file.

    Parameters
    ----------
    out : CSV file to write; bad rows stand beside it in `OUT.bad.csv`.
    resume : take over what an earlier run wrote for `out`, finished or not.
    tell : is told how many rows are done.

    Raises
    ------
    LotFileError : it is no lot file, or none of its rows can be scored.
    """
    part = None if out is None else _beside(out, ".part")
    known = _earlier(out) if out is not None and resume else {}
    waiting = _Waiting(lot_rows(path, shop.catalogue, shop.prices), shop_mark(shop), known)
    rows: list[ScoredRow] = []
    bad: list[BadRow] = []
    with lot_scorer(shop, str(path), workers, scheduler) as score:
        with nullcontext() if part is None else _opened(part) as file:
            writer = _Writer(file)
            for scored in waiting.together(score):
                for row, code in scored:
                    if isinstance(row, BadRow):
                        bad.append(row)
                    else:
                        rows.append(row)
                        writer.write(row, code)
                writer.flush()
                if tell:
                    tell(len(rows) + len(bad))
    if bad and not rows:
        raise LotFileError(fault for row in bad for fault in row.faults)
    if out is not None and part is not None:
        _write_bad(_beside(out, ".bad.csv"), bad)
        os.replace(part, out)
        _beside(out, ".before").unlink(missing_ok=True)
    return LotTable(tuple(rows), tuple(bad), shop.settings.currency, waiting.taken_over)


def _opened(part: Path) -> TextIO:
    try:
        return part.open("w", encoding="utf-8", newline="")
    except OSError as problem:
        fault = Fault(str(part), None, "file", problem.strerror or "cannot be written", "an existing folder")
        raise LotFileError([fault]) from problem


def unfinished(out: Path) -> bool:
    """Whether a run that wrote to `out` was stopped before its end."""
    return _beside(out, ".part").exists() or _beside(out, ".before").exists()


def shop_mark(shop: Shop) -> str:
    """Mark of what a row's numbers hang on besides the row: the program, books, beliefs, draws."""
    told = (
        version("bench-triage"), shop.settings, shop.prices, shop.priors, shop.supply, shop.catalogue.digest,
        sorted(shop.posterior.manifest.files.items()), shop.posterior.manifest.folder,
    )  # fmt: skip
    return hashlib.sha256(repr(told).encode()).hexdigest()


class _Waiting:
    """Rows of a file on their way: bad ones, ones known already, and ones to be scored."""

    def __init__(self, rows: Iterable[LotRow | BadRow], mark: str, known: dict[str, ScoredRow]):
        self._rows, self._mark, self._known = iter(rows), mark, known
        self.taken_over = 0

    def together(self, score: Callable) -> Iterator[list[tuple[ScoredRow | BadRow, str]]]:
        """Parts of the file in its order, each as rows with their marks."""
        plans: list[list[tuple[LotRow | BadRow, str]]] = []

        def parts() -> Iterator[tuple[LotRow, ...]]:
            while rows := list(islice(self._rows, PART)):
                plan = [(row, self._code(row)) for row in rows]
                plans.append(plan)
                yield tuple(row for row, code in plan if isinstance(row, LotRow) and code not in self._known)

        for scored in score(parts()):
            fresh = iter(scored)
            yield [self._settled(row, code, fresh) for row, code in plans.pop(0)]

    def _settled(
        self, row: LotRow | BadRow, code: str, fresh: Iterator[ScoredUnit | BadRow]
    ) -> tuple[ScoredRow | BadRow, str]:
        if isinstance(row, BadRow):
            return row, ""
        if code in self._known:
            self.taken_over += 1
            return self._known[code], code
        found = next(fresh)
        return (found if isinstance(found, BadRow) else _table_row(found)), code

    def _code(self, row: LotRow | BadRow) -> str:
        return hashlib.sha256(f"{self._mark}\n{row.line}\n{row.text}".encode()).hexdigest()[:24]


class _Writer:
    def __init__(self, file: TextIO | None):
        self._file = file
        self._csv = None if file is None else csv.writer(file, lineterminator="\n")
        if self._csv:
            self._csv.writerow((*COLUMNS, _MARK))

    def write(self, row: ScoredRow, code: str) -> None:
        if self._csv:
            cells = (getattr(row, name) for name in COLUMNS)
            shown = (guarded(cell) if isinstance(cell, str) else cell for cell in cells)
            self._csv.writerow([*("" if cell is None else cell for cell in shown), code])

    def flush(self) -> None:
        if self._file:
            self._file.flush()


def _table_row(unit: ScoredUnit) -> ScoredRow:
    """One unit as it stands in the table: money to the cent, minutes to a tenth."""

    def money(amount: float) -> float | None:
        return None if math.isnan(amount) else round(amount, 2) + 0.0

    return ScoredRow(
        unit.line, unit.label, unit.tier, unit.verdict, money(unit.price), round(unit.margin, 2) + 0.0,
        money(unit.highest_bid), round(unit.minutes, 1), round(20 * unit.loss_chance, 2),
        money(unit.parts_margin), "yes" if unit.exact else "no", unit.priced_by,
        unit.limited_by,
    )  # fmt: skip


def _earlier(out: Path) -> dict[str, ScoredRow]:
    """Rows by mark of every earlier run for `out`, kept aside until this one is done."""
    before = _beside(out, ".before")
    known: dict[str, ScoredRow] = {}
    for path in (out, before, _beside(out, ".part")):
        if path.exists():
            known |= _read(path)
    temporary = _beside(before, ".tmp")
    with temporary.open("w", encoding="utf-8", newline="") as file:
        writer = _Writer(file)
        for code, row in known.items():
            writer.write(row, code)
    os.replace(temporary, before)
    return known


def _read(path: Path) -> dict[str, ScoredRow]:
    """Rows by mark; one that the end of a run cut off is left out."""
    try:
        with plain_file(path).open(encoding="utf-8", newline="") as file:
            text = file.read()
        whole = text[: text.rfind("\n") + 1]
        # Rows of a file with fewer columns, as earlier versions wrote it, are assessed again.
        if whole and not whole.startswith(",".join(COLUMNS[:4])):
            raise ValueError("is not a table of assessed devices")
        return _rows_by_mark(whole)
    except (OSError, ValueError, csv.Error) as problem:
        wrong = getattr(problem, "strerror", None) or f"cannot be resumed: {problem}"
        raise LotFileError(
            [Fault(str(path), None, "--out", wrong, "a file written by an earlier run")]
        ) from problem


def _rows_by_mark(text: str) -> dict[str, ScoredRow]:
    known = {}
    for cells in csv.DictReader(io.StringIO(text, newline="")):
        code = cells.pop(_MARK, None)
        if code and set(cells) == set(COLUMNS) and None not in cells.values():
            known[code] = ScoredRow(**{name: _value(name, cell) for name, cell in cells.items()})
    return known


def _value(name: str, cell: str) -> Any:
    if name in _TEXT:
        return unguarded(cell)
    if name == "verdict":
        return Verdict(cell)
    if name == "line":
        return int(cell)
    return float(cell) if cell else None


def _write_bad(path: Path, bad: list[BadRow]) -> None:
    """Rows set aside as they stood, with their faults; no file where there is none."""
    if not bad:
        path.unlink(missing_ok=True)
        return
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(("line", "unit", "faults", "row"))
    for row in sorted(bad, key=lambda row: row.line):
        faults = "; ".join(f"{fault.field}: {fault.wrong} (allowed: {fault.allowed})" for fault in row.faults)
        writer.writerow((row.line, guarded(row.label), guarded(faults), guarded(row.text)))
    temporary = _beside(path, ".tmp")
    temporary.write_text(out.getvalue(), encoding="utf-8")
    os.replace(temporary, path)


def _beside(path: Path, ending: str) -> Path:
    return path.with_name(path.name + ending)
