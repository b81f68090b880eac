"""`triage ledger forget`: erase who the people of a job were."""

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
        bool, typer.Option("--due", help="All jobs whose people are kept longer than the settings say.")
    ] = False,
    why: Annotated[str, typer.Option(metavar="WORDS", help="Why: it stands in the history of the job.")] = "",
    ledger: options.Ledger = None,
    settings: options.OwnSettings = None,
    by: Annotated[str, typer.Option(metavar="NAME", help="Who erases. Default: your login name.")] = "",
    as_json: options.Json = False,
) -> None:
    """Erase names, contacts, proof of identity, serial numbers and the passcode of ended jobs.

    They are taken out of notes too. The jobs themselves stay. It cannot be undone. First keep elsewhere
    what local law requires, such as a dealer's register or an invoice.
    """
    from triage.cli.books import open_books
    from triage.domain.job.forgetting import forget_refusals
    from triage.ledger.opening import open_ledger
    from triage.workflows.jobs.forget import NOT_REACHED, forget_person, people_due
    from triage.workflows.jobs.record_keeper import RecordKeeper, refuse
    from triage.workflows.shop.record_files import writer
    from triage.workflows.shop.shop_files import ShopFiles

    if not labels and not due:
        raise typer.BadParameter("name jobs by their labels, or say --due")
    opened = open_ledger(ledger, create=False)
    try:
        _, shop = open_books(ShopFiles(settings=settings), ledger, None)
        keeper = RecordKeeper(opened, shop, writer(by))
        with opened.reading() as reading:
            jobs = [reading.job_labelled(label) for label in labels or ()]
        jobs += [file for file in (people_due(keeper) if due else ()) if file.id not in {j.id for j in jobs}]
        reason = why or ("the time that it is kept is over" if due else "")
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
        typer.echo(f"{file.label}: who its people were is erased")
    typer.echo(f"{len(jobs)} job{'' if len(jobs) == 1 else 's'} done. Not reached:")
    for words in not_reached:
        typer.echo(f"- {words}")
