"""`triage review`: which kinds of damage lose money, by the shop's own record."""

from __future__ import annotations

from enum import StrEnum
from pathlib import Path
from typing import Annotated, Any

import typer

from triage.cli import options


class By(StrEnum):
    """What the review goes by."""

    kind = "kind"
    family = "family"
    tier = "tier"
    technician = "technician"
    cause = "cause"
    route = "route"


def review(
    history: Annotated[Path, typer.Option(metavar="CSV", help="The shop's past jobs, one row a finding.")],
    by: Annotated[By, typer.Option(help="What to go by.")] = By.kind,
    catalogue: options.Catalogue = None,
    settings: options.Settings = None,
    as_of: Annotated[
        Any,
        typer.Option(
            parser=options.parse_day, metavar="DATE", help="Cut-off. Default: the file's last date."
        ),
    ] = None,
    as_json: options.Json = False,
) -> None:
    """List what each kind of damage earned or lost, the worst total first, and how sure that is."""
    from triage.domain.catalogue import load_catalogue
    from triage.domain.settings import load_settings
    from triage.ledger.history_csv import read_history
    from triage.reports.review_text import WIDTH, print_review, review_object
    from triage.review.money_review import money_review
    from triage.shipped import shipped
    from triage.workflows.shop import DEMO_SETTINGS

    known = load_catalogue(catalogue)
    books = load_settings(settings or shipped(DEMO_SETTINGS))
    result = money_review(read_history(history, known, as_of), known, books, by.value)
    invented = ("rates and rules",) if settings is None else ()
    if history.resolve() == shipped("synthetic_cases/past-jobs.csv").resolve():
        invented = ("past jobs", *invented)
    if as_json:
        from triage.reports.as_json import as_json as written

        typer.echo(written(review_object(result, invented)))
        return
    from rich.console import Console

    narrow = None if Console().is_terminal else WIDTH
    print_review(result, Console(highlight=False, width=narrow), invented)
