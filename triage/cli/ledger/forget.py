"""`triage record forget`: erase the personal data of jobs."""

from __future__ import annotations

from datetime import date
from typing import Annotated

import typer

from triage.cli import options


def forget(
    labels: Annotated[
        list[str] | None, typer.Argument(metavar="LABEL...", help="Jobs, such as J-0042.")
    ] = None,
    due: Annotated[
        bool,
        typer.Option("--due", help="All jobs that ended longer ago than the settings keep personal data."),
    ] = False,
    why: Annotated[str, typer.Option(metavar="WORDS", help="Reason, shown in the job's history.")] = "",
    ledger: options.Ledger = None,
    settings: options.OwnSettings = None,
    by: Annotated[str, typer.Option(metavar="NAME", help="Your name. Default: your login name.")] = "",
    as_json: options.Json = False,
) -> None:
    """Erase names, contacts, proof of identity, serial numbers and passcodes of closed jobs.

    Notes are included. The jobs themselves stay. You cannot undo this. First keep elsewhere what local law
    requires, such as a dealer's register or an invoice.
    """
    from triage.cli.books import open_books
    from triage.domain.job.forgetting import forget_refusals
    from triage.ledger.opening import open_ledger
    from triage.workflows.jobs.forget import NOT_REACHED, forget_person, people_due
    from triage.workflows.jobs.record_keeper import RecordKeeper, refuse
    from triage.workflows.shop.record_files import writer
    from triage.workflows.shop.shop_files import ShopFiles

    if not labels and not due:
        raise typer.BadParameter("give job numbers, or --due")
    opened = open_ledger(ledger, create=False)
    try:
        _, shop = open_books(ShopFiles(settings=settings), ledger, None)
        keeper = RecordKeeper(opened, shop, writer(by))
        with opened.reading() as reading:
            jobs = [reading.job_labelled(label) for label in labels or ()]
        jobs += [file for file in (people_due(keeper) if due else ()) if file.id not in {j.id for j in jobs}]
        reason = why or ("retention time is over" if due else "")
        refuse(f"{file.label}: {words}" for file in jobs for words in forget_refusals(file, reason))
        not_reached: tuple[str, ...] = (NOT_REACHED,)
        for file in jobs:
            not_reached = forget_person(keeper, file.id, file.version, date.today(), reason).not_reached
    finally:
        opened.close()
    if as_json:
        from triage.reports.json_output.answer import SCHEMA
        from triage.reports.json_output.answer import as_json as written

        erased = [file.label for file in jobs]
        typer.echo(written({"schema": SCHEMA, "erased": erased, "not_reached": list(not_reached)}))
        return
    for file in jobs:
        typer.echo(f"{file.label}: personal data erased")
    typer.echo(f"{len(jobs)} job{'' if len(jobs) == 1 else 's'} done. Not erased:")
    for words in not_reached:
        typer.echo(f"- {words}")
