"""A scored lot as terminal text, and as one JSON object."""

from __future__ import annotations

from collections import Counter
from dataclasses import asdict
from typing import Any

from rich.console import Console
from rich.table import Table
from rich.text import Text

from triage.domain.money import money_text
from triage.lot_selection.scored_table import LotTable, ScoredRow
from triage.policy.answer.verdict import CHECK, LEAVE, PARTS, TAKE
from triage.reports.json_output.answer import SCHEMA
from triage.reports.terminal.lines import printable
from triage.reports.wording.verdict import VERDICT_WORDS

_ORDER = (TAKE, CHECK, PARTS, LEAVE)


def table_object(table: LotTable, invented: tuple[str, ...] = ()) -> dict[str, Any]:
    """Build the object: every unit in file order, every bad row with its faults."""
    return {
        "schema": SCHEMA,
        "invented": list(invented),
        "currency": table.currency,
        "units": [asdict(row) for row in table.rows],
        "bad_rows": [asdict(row) for row in table.bad_rows],
    }


def print_table(table: LotTable, console: Console, invented: tuple[str, ...] = (), most: int = 0) -> None:
    """Print how many units have which verdict, and the units: best verdict, then best margin first.

    Parameters
    ----------
    most : print at most so many units; 0 prints all.
    """
    counts = Counter(row.verdict for row in table.rows)
    told = ", ".join(f"{counts[verdict]} {VERDICT_WORDS[verdict]}" for verdict in _ORDER if counts[verdict])
    console.print(Text(f"{len(table.rows)} units: {told}."), style="bold", soft_wrap=True)
    if table.taken_over:
        console.print(Text(f"{table.taken_over} of them stood from an earlier run."), soft_wrap=True)
    ranked = sorted(table.rows, key=lambda row: (_ORDER.index(row.verdict), -row.margin))
    shown = ranked[:most] if most else ranked
    console.print(_table(shown, table.currency))
    if len(shown) < len(ranked):
        console.print(Text(f"... and {len(ranked) - len(shown)} more (--rows 0 prints all)."))
    if any(row.whole == "no" for row in shown):
        console.print(Text("* Too many possibilities to weigh all: the margin is a lower bound."))
    if invented:
        console.print()
        words = f"Invented demo figures stand behind this: {', '.join(invented)}."
        console.print(Text(words), soft_wrap=True)


def bad_rows_text(table: LotTable) -> str:
    """Every row set aside, with every fault in it."""
    count = len(table.bad_rows)
    faults = [f"  {fault}" for row in table.bad_rows for fault in row.faults]
    return "\n".join([f"{count} {'row' if count == 1 else 'rows'} set aside:", *faults])


def _table(rows: list[ScoredRow], currency: str) -> Table:
    table = Table(box=None, padding=(0, 2, 0, 0), show_edge=False)
    table.add_column("unit", max_width=24)
    table.add_column("verdict", no_wrap=True)
    for name in ("ask", "expect", "pay at most", "min", "loses in 20"):
        table.add_column(name, justify="right", no_wrap=True)
    for row in rows:
        table.add_row(*(Text(printable(cell)) for cell in _cells(row, currency)))
    return table


def _cells(row: ScoredRow, currency: str) -> list[str]:
    def told(amount: float | None, whole: bool = False) -> str:
        return "" if amount is None else money_text(amount, currency, whole)

    return [
        row.unit,
        VERDICT_WORDS[row.verdict],
        told(row.ask),
        told(row.margin, whole=True) + ("" if row.whole == "yes" else "*"),
        told(row.highest_bid),
        f"{row.minutes:.0f}",
        f"{row.loses_in_20:.0f}",
    ]
