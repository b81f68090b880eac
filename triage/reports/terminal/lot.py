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
from triage.reports.wording.lot import (
    LIMIT_NOTE,
    choice_words,
    limited_words,
    more_words,
    priced_words,
    risk_words,
    short_losses,
    waiting_words,
    whole_words,
)

_EMPTY = Line("")


def choice_object(choice: LotChoice, invented: tuple[str, ...] = ()) -> dict[str, Any]:
    """Build the object: every field of `LotChoice`, unrounded, and how many of 20 lose money."""
    told = {"schema": SCHEMA, "invented": list(invented), **asdict(choice)}
    told["risk"]["losses_in_20"] = choice.risk.losses_in_20
    if choice.whole:
        told["whole"]["risk"]["losses_in_20"] = choice.whole.risk.losses_in_20
    return told


def print_choice(
    choice: LotChoice, console: Console, invented: tuple[str, ...] = (), full: bool = False
) -> None:
    """Print the choice, its risk, the devices to buy, what else there is to know, and the whole lot.

    Parameters
    ----------
    full : print every device and every fault; else as many as fit the screen.
    """
    head = [Line(choice_words(choice), style="bold")]
    head += [Line(risk_words(choice, drawn=False))] if choice.taken else []
    foot = [Line(words) for words in (*more_words(choice), *waiting_words(choice), *priced_words(choice))]
    if choice.whole:
        first, *rest = whole_words(choice.whole, choice)
        foot += [_EMPTY, Line(first, style="bold"), *map(Line, rest)]
    foot += [Line(LIMIT_NOTE)] if choice.taken else []
    foot += _bad_rows(choice, full)
    if invented:
        foot += [_EMPTY, Line(f"Invented demo figures used: {', '.join(invented)}.")]
    taken = sorted(choice.taken, key=lambda line: -(line.margin or 0.0))
    print_lines(head, console)
    if taken:
        room = SCREEN - len(rows([*head, *foot], console)) - 1
        fits = rows_that_fit(lambda n: _table(taken[:n], choice.currency), len(taken), room, console)
        shown = taken if full else taken[:fits]
        console.print(_table(shown, choice.currency))
        if len(shown) < len(taken):
            print_lines([Line(f"... and {len(taken) - len(shown)} more ({FULL})")], console)
    print_lines(foot, console)


def _bad_rows(choice: LotChoice, full: bool) -> list[Line]:
    if not choice.bad_rows:
        return []
    faults = [fault for row in choice.bad_rows for fault in row.faults]
    head = Line(f"{len(choice.bad_rows)} rows could not be read:", style="bold")
    return [_EMPTY, head, *first_faults(faults, full)]


def _table(taken: list[UnitLine], currency: str) -> Table:
    table = Table(box=None, padding=(0, 2, 0, 0), show_edge=False)
    table.add_column("device", max_width=30)
    table.add_column("price class", max_width=12)
    for name in ("ask", "highest\nprice", "limited\nby", "margin", "minutes", "losses\nin 20"):
        table.add_column(name, justify="left" if name == "limited\nby" else "right", no_wrap=True)
    for line in taken:
        table.add_row(*(Text(printable(cell)) for cell in _cells(line, currency)))
    return table


def _cells(line: UnitLine, currency: str) -> list[str]:
    def told(amount: float | None, whole: bool = False) -> str:
        return "" if amount is None else money_text(amount, currency, whole)

    return [
        line.label,
        line.tier,
        told(line.price),
        told(line.highest_bid),
        limited_words(line.limited_by, short=True),
        told(line.margin, whole=True),
        f"{line.minutes:.0f}",
        "" if line.loss_chance is None else short_losses(20 * line.loss_chance),
    ]
