"""The money review as terminal text that fits 100 columns, and as one JSON object."""

from __future__ import annotations

from dataclasses import asdict
from typing import Any

from rich.console import Console
from rich.table import Table
from rich.text import Text

from triage.domain.counts import in_twenty
from triage.domain.money import money_text
from triage.reports.as_json import SCHEMA
from triage.reports.text import printable
from triage.review.money_review import BY, MeanMargin, MoneyGroup, MoneyReview

WIDTH = 100
_ONE = dict(zip(BY, ("damage", "family", "tier", "technician", "cause", "route"), strict=True))


def review_object(review: MoneyReview, invented: tuple[str, ...] = ()) -> dict[str, Any]:
    """Build the object: every field of `MoneyReview`, unrounded."""
    return {"schema": SCHEMA, "invented": list(invented), **asdict(review)}


def change_words(group: MoneyGroup, currency: str) -> str:
    """Say which price would have brought the mean to nothing; blank where it is not negative."""
    words = []
    for change in group.changes:
        if change.amount is None:
            words.append("loses even when free" if change.route == "bought" else "no quote mends it")
        else:
            amount = money_text(change.amount, currency, whole=True)
            words.append(f"pay {amount} less" if change.route == "bought" else f"quote {amount} more")
    return "; ".join(words)


def missing_words(review: MoneyReview) -> tuple[str, ...]:
    """What the record lacks for this view, and the jobs left out; a sentence each."""
    words = []
    if review.lacks:
        words.append(f"The record lacks {_listed(review.lacks)}" + (
            "; without, no job has a margin: what is left is how many jobs there were and what was fixed."
            if not review.jobs else "."
        ))  # fmt: skip
    if review.left_out:
        words.append(
            "Left out: " + ", ".join(f"{count} jobs ({why})" for why, count in review.left_out) + "."
        )
    if review.jobs:
        words.append("Minutes are those of the record: what is not in them, such as opening, is not charged.")
    return tuple(words)


def regret_words(review: MoneyReview) -> tuple[str, ...]:
    """What passing units by cost and saved."""
    told = review.regret
    if told is None:
        return ()
    if not told.known:
        return (f"Passed by: {told.unknown} units, the fate of none is known.",)
    forgone, spared = (money_text(amount, review.currency) for amount in (told.forgone, told.spared))
    return (
        f"Passed by, and their fate known: {told.known} ({told.unknown} not known). {told.would_have_earned} "
        f"of them would have earned {forgone} together; the others would have lost {spared}.",
    )


def print_review(review: MoneyReview, console: Console, invented: tuple[str, ...] = ()) -> None:
    """Print the table, what its figures are, and what the record lacks."""
    if review.jobs:
        total = money_text(review.total, review.currency, whole=True)
        _line(console, f"Margin of {review.jobs} jobs: {total}, by {_ONE[review.by]}")
    if review.groups:
        console.print(_table(review))
    if review.jobs and review.by != "technician":
        _line(
            console,
            "Pay less, quote more: by how much each, for a mean of zero (never: not even for nothing).",
        )
    for words in (*review.explained, *missing_words(review), *regret_words(review)):
        _line(console, words)
    if invented:
        _line(console, f"Invented demo figures stand behind this: {', '.join(invented)}.")


def _table(review: MoneyReview) -> Table:
    table = Table(box=None, padding=(0, 2, 0, 0), show_edge=False)
    table.add_column(_ONE[review.by], max_width=26)
    table.add_column("jobs", justify="right", no_wrap=True)
    if not review.jobs:
        table.add_column("fixed of tried", justify="right", no_wrap=True)
    elif review.by == "technician":
        table.add_column("mean, adjusted", justify="right", no_wrap=True)
        table.add_column("90 % interval", justify="right", no_wrap=True)
    else:
        table.add_column("total", justify="right", no_wrap=True)
        table.add_column("mean", justify="right", no_wrap=True)
        table.add_column("90 %", justify="right", no_wrap=True)
        table.add_column("loses", max_width=9)
        if review.by in ("kind", "family"):
            table.add_column("jobs that\nhad it", justify="right", no_wrap=True)
        table.add_column("pay\nless", justify="right", max_width=7)
        table.add_column("quote\nmore", justify="right", no_wrap=True)
    for group in review.groups:
        table.add_row(*(Text(printable(cell)) for cell in _cells(group, review)))
    return table


def _cells(group: MoneyGroup, review: MoneyReview) -> list[str]:
    currency = review.currency
    if not review.jobs:
        return [group.name, str(group.counted), f"{group.fixed} of {group.attempts}"]
    if group.mean is None:
        return [group.name, str(group.jobs), "no margin"]
    name = f"{group.name} ({group.pulled_words})" if group.pulled_words else group.name
    mean = money_text(group.mean.mean, currency, whole=True)
    if review.by == "technician":
        return [name, str(group.jobs), mean, _interval(group.mean, currency)]
    cells = [name, str(group.jobs), money_text(group.total or 0.0, currency, whole=True), mean]
    cells += [_interval(group.mean, currency), in_twenty(group.mean.loss_chance)]
    if group.had_it is not None:
        cells.append(money_text(group.had_it.mean, currency, whole=True))
    elif review.by in ("kind", "family"):
        cells.append("")
    even = {change.route: change.amount for change in group.changes}
    for route in ("bought", "walk-in"):
        amount = even.get(route)
        cells.append(
            ""
            if route not in even
            else "never"
            if amount is None
            else money_text(amount, currency, whole=True)
        )
    return cells


def _interval(mean: MeanMargin, currency: str) -> str:
    return f"{money_text(mean.low, currency, whole=True)} to {money_text(mean.high, currency, whole=True)}"


def _listed(names: tuple[str, ...]) -> str:
    return names[0] if len(names) == 1 else ", ".join(names[:-1]) + f" and {names[-1]}"


def _line(console: Console, text: str) -> None:
    console.print(Text(printable(text)))
