"""A choice from a lot as terminal text, and as one JSON object."""

from __future__ import annotations

from dataclasses import asdict
from typing import Any

from rich.console import Console
from rich.table import Table
from rich.text import Text

from triage.domain.money import money_text
from triage.lot_selection.lot_choice import LotChoice, UnitLine
from triage.reports.json_output.answer import SCHEMA
from triage.reports.terminal.lines import printable
from triage.reports.wording.lot import (
    choice_words,
    loses_in_20,
    more_words,
    risk_words,
    waiting_words,
    whole_words,
)

MOST_BAD_ROWS = 20


def choice_object(choice: LotChoice, invented: tuple[str, ...] = ()) -> dict[str, Any]:
    """Build the object: every field of `LotChoice`, unrounded, and how many of 20 lose money."""
    told = {"schema": SCHEMA, "invented": list(invented), **asdict(choice)}
    told["risk"]["losses_in_20"] = choice.risk.losses_in_20
    if choice.whole:
        told["whole"]["risk"]["losses_in_20"] = choice.whole.risk.losses_in_20
    return told


def print_choice(choice: LotChoice, console: Console, invented: tuple[str, ...] = ()) -> None:
    """Print the choice, its risk, the units to take, what else there is to know, and the whole lot."""
    _line(console, choice_words(choice), "bold")
    if choice.taken:
        _line(console, risk_words(choice))
        console.print(_table(choice))
    for words in (*more_words(choice), *waiting_words(choice)):
        _line(console, words)
    if choice.whole:
        console.print()
        first, *rest = whole_words(choice.whole, choice)
        _line(console, first, "bold")
        for words in rest:
            _line(console, words)
    if choice.bad_rows:
        console.print()
        _line(console, f"{len(choice.bad_rows)} rows could not be read:", "bold")
        for row in choice.bad_rows[:MOST_BAD_ROWS]:
            for fault in row.faults:
                _line(console, str(fault))
        if len(choice.bad_rows) > MOST_BAD_ROWS:
            _line(
                console, f"and {len(choice.bad_rows) - MOST_BAD_ROWS} rows more: `triage lot` lists them all."
            )
    if invented:
        console.print()
        _line(console, f"Invented demo figures stand behind this: {', '.join(invented)}.")


def _table(choice: LotChoice) -> Table:
    table = Table(box=None, padding=(0, 2, 0, 0), show_edge=False)
    table.add_column("take", max_width=30)
    table.add_column("tier", max_width=12)
    for name in ("ask", "pay at most", "expect", "min", "loses in 20"):
        table.add_column(name, justify="right", no_wrap=True)
    for line in sorted(choice.taken, key=lambda line: -(line.margin or 0.0)):
        table.add_row(*(Text(printable(cell)) for cell in _cells(line, choice.currency)))
    return table


def _cells(line: UnitLine, currency: str) -> list[str]:
    def told(amount: float | None, whole: bool = False) -> str:
        return "" if amount is None else money_text(amount, currency, whole)

    return [
        line.label,
        line.tier,
        told(line.price),
        told(line.highest_bid),
        told(line.margin, whole=True),
        f"{line.minutes:.0f}",
        loses_in_20(line),
    ]


def _line(console: Console, text: str, style: str = "") -> None:
    console.print(Text(printable(text), style=style))
