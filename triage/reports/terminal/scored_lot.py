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
from triage.reports.terminal.lines import (
    FULL,
    SCREEN,
    Line,
    first_faults,
    print_lines,
    printable,
    rows,
    rows_that_fit,
)
from triage.reports.wording.lot import LIMIT_NOTE, limited_words, short_losses
from triage.reports.wording.prices import lot_origin_words
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


def print_table(
    table: LotTable,
    console: Console,
    invented: tuple[str, ...] = (),
    most: int | None = None,
    full: bool = False,
) -> None:
    """Print how many devices have which verdict, and the devices: best verdict, then best margin first.

    Parameters
    ----------
    most : print at most so many devices; 0 prints all, None as many as fit the screen.
    full : what was said of bad rows takes none of the screen.
    """
    counts = Counter(row.verdict for row in table.rows)
    told = ", ".join(f"{counts[verdict]:,} {VERDICT_WORDS[verdict]}" for verdict in _ORDER if counts[verdict])
    head = [Line(f"{len(table.rows):,} devices: {told}.", style="bold")]
    if table.taken_over:
        head.append(Line(f"{table.taken_over} of them kept from an earlier run."))
    if words := lot_origin_words(row.priced_by for row in table.rows):
        head.append(Line(words))
    ranked = sorted(table.rows, key=lambda row: (_ORDER.index(row.verdict), -row.margin))
    bound = [Line("* Too complex to plan exactly: the margin is a lower bound.")]
    foot = [Line(LIMIT_NOTE)]
    if invented:
        foot += [Line(""), Line(f"Invented demo figures used: {', '.join(invented)}.")]
    if most is None:
        said = [*head, *bound, *foot, *bad_rows_lines(table, full)]
        room = SCREEN - len(rows(said, console)) - 1
        most = rows_that_fit(lambda n: _table(ranked[:n], table.currency), len(ranked), room, console)
    shown = ranked[:most] if most else ranked
    print_lines(head, console)
    console.print(_table(shown, table.currency))
    if len(shown) < len(ranked):
        print_lines([Line(f"... and {len(ranked) - len(shown)} more ({FULL})")], console)
    print_lines([*(bound if any(row.whole == "no" for row in shown) else []), *foot], console)


def bad_rows_lines(table: LotTable, full: bool) -> list[Line]:
    """The rows that could not be read, with every fault in them, or the first few."""
    count = len(table.bad_rows)
    if not count:
        return []
    faults = [fault for row in table.bad_rows for fault in row.faults]
    return [
        Line(f"{count} {'row' if count == 1 else 'rows'} could not be read:"),
        *first_faults(faults, full),
    ]


def _table(shown: list[ScoredRow], currency: str) -> Table:
    table = Table(box=None, padding=(0, 2, 0, 0), show_edge=False)
    table.add_column("device", max_width=24)
    table.add_column("verdict", no_wrap=True)
    for name in ("ask", "margin", "highest\nprice", "limited\nby", "minutes", "losses\nin 20"):
        table.add_column(name, justify="left" if name == "limited\nby" else "right", no_wrap=True)
    for row in shown:
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
        told(row.highest_bid) or "none",
        limited_words(row.limited_by, short=True),
        f"{row.minutes:.0f}",
        short_losses(row.loses_in_20),
    ]
