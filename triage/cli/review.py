"""`triage review`: margin by damage, from the shop's own record."""

from __future__ import annotations

from enum import StrEnum
from typing import TYPE_CHECKING, Annotated, Any

import typer

from triage.cli import options
from triage.cli.terminal.screen import console

if TYPE_CHECKING:
    from triage.review.money.money_review import MoneyGroup, MoneyReview


class By(StrEnum):
    """What the review is grouped by."""

    kind = "kind"
    family = "family"
    tier = "tier"
    technician = "technician"
    cause = "cause"
    route = "route"


def review(
    history: options.PastJobsOrRecord = None,
    ledger: options.RecordOfJobs = None,
    by: Annotated[By, typer.Option(help="What to group by.")] = By.kind,
    group: Annotated[
        str | None,
        typer.Option(metavar="SLUG", help="List only the jobs of this damage kind, family, price class ..."),
    ] = None,
    catalogue: options.Catalogue = None,
    settings: options.OwnSettings = None,
    as_of: Annotated[
        Any,
        typer.Option(
            parser=options.parse_day, metavar="DATE", help="Cut-off. Default: the last date in the past jobs."
        ),
    ] = None,
    as_json: options.Json = False,
) -> None:
    """List the margin of each damage kind, lowest total first, and how certain it is.

    With --record it also shows what became of declined devices, where that is recorded.
    """
    if (history is None) == (ledger is None):
        raise typer.BadParameter("give the past jobs either by --past-jobs CSV or by --record URL")
    from triage.domain.catalogue import load_catalogue
    from triage.domain.shop.settings import load_settings
    from triage.ledger.history.history_csv import read_history
    from triage.reports.terminal.review import (
        WIDTH,
        group_object,
        print_group,
        print_review,
        review_object,
    )
    from triage.review.money.job_lines import job_lines
    from triage.review.money.money_review import money_review
    from triage.shipped import shipped
    from triage.workflows.looking_back.losses import history_and_passed
    from triage.workflows.shop.own_settings import with_own_settings
    from triage.workflows.shop.shop import DEMO_SETTINGS
    from triage.workflows.shop.shop_files import ShopFiles

    known = load_catalogue(catalogue)
    rules = with_own_settings(ShopFiles(settings=settings), ledger).settings
    books = load_settings(rules or shipped(DEMO_SETTINGS))
    if rules != settings:
        typer.echo(f"Using the shop's own rates and rules: {rules}", err=True)
    if history:
        record, passed = read_history(history, known, as_of), None
    else:
        record, passed = history_and_passed(ledger, known, books, as_of)
    result = money_review(record, known, books, by.value, passed)
    chosen = _chosen(result, group)
    lines = job_lines(chosen, record, known, books) if chosen else ()
    invented = ("rates and rules",) if rules is None else ()
    if history and history.resolve() == shipped("synthetic_cases/past-jobs.csv").resolve():
        invented = ("past jobs", *invented)
    if as_json:
        from triage.reports.json_output.answer import as_json as written

        told = group_object(result, chosen, lines, invented) if chosen else review_object(result, invented)
        typer.echo(written(told))
        return
    if chosen:
        print_group(result, chosen, lines, console(WIDTH), invented)
    else:
        print_review(result, console(WIDTH), invented)


def _chosen(result: MoneyReview, slug: str | None) -> MoneyGroup | None:
    """The group that is asked for; None where none is."""
    from triage.errors import Fault, HistoryError, nearest

    if slug is None:
        return None
    groups = {group.slug: group for group in result.groups}
    if slug not in groups:
        allowed = f"a {result.by} that the record has{nearest(slug, groups)}"
        raise HistoryError([Fault("arguments", None, "--group", f"no job has {slug!r}", allowed)])
    return groups[slug]
