"""The money review as terminal text that fits 80 columns, and as one JSON object."""

from __future__ import annotations

from dataclasses import asdict
from typing import Any

from rich.console import Console
from rich.table import Table
from rich.text import Text

from triage.domain.counts import in_twenty, with_signs
from triage.domain.money import money_text
from triage.reports.json_output.answer import SCHEMA
from triage.reports.terminal.lines import printable
from triage.reports.wording.review import (
    CHANGE_WORDS,
    ONE,
    TWO_MEANS,
    group_words,
    job_detail,
    job_head,
    lead_words,
    missing_words,
    regret_words,
    unpriced_words,
)
from triage.review.money.job_lines import JobLine
from triage.review.money.money_review import MeanMargin, MoneyGroup, MoneyReview

WIDTH = 100


def review_object(review: MoneyReview, invented: tuple[str, ...] = ()) -> dict[str, Any]:
    """Build the object: every field of `MoneyReview`, unrounded."""
    return {"schema": SCHEMA, "invented": list(invented), **asdict(review)}


def group_object(
    review: MoneyReview, group: MoneyGroup, lines: tuple[JobLine, ...], invented: tuple[str, ...] = ()
) -> dict[str, Any]:
    """Build the object of one group: its row of the review, and its jobs with their money line by line."""
    row = asdict(group)
    del row["members"]
    jobs = [{**asdict(line), "on": line.on.isoformat()} for line in lines]
    head = {"by": review.by, "currency": review.currency}
    return {"schema": SCHEMA, "invented": list(invented), **head, "group": row, "jobs": jobs}


def print_group(
    review: MoneyReview,
    group: MoneyGroup,
    lines: tuple[JobLine, ...],
    console: Console,
    invented: tuple[str, ...] = (),
) -> None:
    """Print the jobs of one group, each with its money."""
    order = "by label" if review.by == "technician" else "lowest margin first"
    jobs = f"{group.counted} job{'' if group.counted == 1 else 's'}{unpriced_words(group)}"
    _line(console, f"{group.name}: {jobs}, {order}")
    if words := group_words(group, review):
        _line(console, words)
    for line in lines:
        _line(console, f"{line.label}  {job_head(line, review.currency)}")
        _line(console, f"    {job_detail(line, review.currency)}")
    _say_invented(console, invented)


def print_review(review: MoneyReview, console: Console, invented: tuple[str, ...] = ()) -> None:
    """Print the table, what its figures mean, and what the record lacks."""
    if review.jobs:
        total = money_text(review.total, review.currency, whole=True)
        _line(console, f"Margin of {review.jobs:,} jobs: {total} before unrecorded work, by {ONE[review.by]}")
    _line(console, lead_words(review))
    if review.groups:
        console.print(_table(review))
    if review.jobs and review.by in ("kind", "family"):
        _line(console, TWO_MEANS)
    if review.jobs and review.by != "technician":
        _line(console, "< 0, in 20: the chance that the true mean is below 0.")
        _line(console, f"{CHANGE_WORDS} (no price: none is low or high enough).")
    if review.jobs:
        _line(console, "Partial pooling moves every mean towards the others, more so with few jobs.")
    for words in (*review.explained, *missing_words(review), *regret_words(review)):
        _line(console, words)
    _say_invented(console, invented)


def _say_invented(console: Console, invented: tuple[str, ...]) -> None:
    if invented:
        _line(console, f"Based on invented demo figures: {', '.join(invented)}.")


def _table(review: MoneyReview) -> Table:
    table = Table(box=None, padding=(0, 1, 0, 0), show_edge=False)
    table.add_column(ONE[review.by], min_width=16, max_width=26)
    table.add_column("jobs", justify="right", no_wrap=True)
    if not review.jobs:
        table.add_column("fixed of attempts", justify="right", no_wrap=True)
    elif review.by == "technician":
        table.add_column("mean, adjusted", justify="right", no_wrap=True)
        table.add_column("90 % interval", justify="right", no_wrap=True)
    else:
        table.add_column("total", justify="right", no_wrap=True)
        shared = review.by in ("kind", "family")
        table.add_column("attr.\nmean" if shared else "mean", justify="right", no_wrap=True)
        table.add_column("90 %\ninterval", justify="right", min_width=8)
        table.add_column("< 0,\nin 20", justify="right", no_wrap=True)
        if shared:
            table.add_column("raw\nmean", justify="right", no_wrap=True)
        table.add_column("pay\nless\na job", justify="right", min_width=6, max_width=7)
        table.add_column("quote\nmore\na job", justify="right", min_width=6, max_width=7)
    for group in review.groups:
        table.add_row(*(Text(printable(cell)) for cell in _cells(group, review)))
    return table


def _cells(group: MoneyGroup, review: MoneyReview) -> list[str]:
    currency = review.currency
    if not review.jobs:
        return [group.name, str(group.counted), f"{group.fixed} of {group.attempts}"]
    if group.mean is None:
        return [group.name, str(group.jobs), "no margin"]
    name = group.name
    mean = money_text(group.mean.mean, currency, whole=True)
    if review.by == "technician":
        return [name, str(group.jobs), mean, _interval(group.mean, currency)]
    cells = [name, str(group.jobs), money_text(group.total or 0.0, currency, whole=True), mean]
    cells += [_interval(group.mean, currency), _short_count(group.mean.loss_chance)]
    if group.had_it is not None:
        cells.append(money_text(group.had_it.mean, currency, whole=True))
    elif review.by in ("kind", "family"):
        cells.append("")
    even = {change.route: change.amount for change in group.changes}
    for route in ("bought", "walk-in"):
        amount = even.get(route)
        if route not in even:
            cells.append(_no_change(group))
        else:
            cells.append("no price" if amount is None else money_text(amount, currency, whole=True))
    return cells


def _no_change(group: MoneyGroup) -> str:
    """Why a group has no break-even change by one route."""
    return "none needed" if group.mean is not None and group.mean.mean >= 0 else "no jobs"


def _short_count(chance: float) -> str:
    """A count of 20 under a heading that says so."""
    return with_signs(in_twenty(chance).removesuffix(" in 20"))


def _interval(mean: MeanMargin, currency: str) -> str:
    return f"{money_text(mean.low, currency, whole=True)} to {money_text(mean.high, currency, whole=True)}"


def _line(console: Console, text: str) -> None:
    console.print(Text(printable(text)))
