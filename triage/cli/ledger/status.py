"""`triage record status`: counts of the record, and the fit that the chances come from."""

from __future__ import annotations

from dataclasses import asdict

import typer

from triage.cli import options


def status(
    ledger: options.Ledger = None,
    posterior: options.Posterior = None,
    catalogue: options.Catalogue = None,
    priors: options.Priors = None,
    as_json: options.Json = False,
) -> None:
    """Show where the record is, its jobs by state, and whether the chances are up to date."""
    from triage.domain.job.life import STATE_WORDS
    from triage.ledger.opening import open_ledger
    from triage.ledger.summary import summary
    from triage.workflows.fitting.standing import posterior_standing
    from triage.workflows.shop.shop_files import ShopFiles

    shop = ShopFiles(catalogue=catalogue, priors=priors, posterior=posterior).open()
    opened = open_ledger(ledger, create=False)
    try:
        held = summary(opened)
        standing = posterior_standing(shop.posterior, shop, opened, shop.today)
    finally:
        opened.close()
    source = shop.posterior.source
    if as_json:
        from triage.reports.json_output.answer import SCHEMA
        from triage.reports.json_output.answer import as_json as written

        last = held.last_entry.isoformat() if held.last_entry else None
        chances = {"source": source, "words": standing.words, "level": standing.level}
        typer.echo(written({"schema": SCHEMA, **asdict(held), "last_entry": last, "posterior": chances}))
        return
    typer.echo(f"{held.name}, version {held.version}: {held.jobs:,} jobs, {held.entries:,} entries")
    for state, jobs in held.states.items():
        typer.echo(f"{jobs:>7,}  {STATE_WORDS[state]}")
    if held.last_entry:
        typer.echo(f"last entry {held.last_entry:%Y-%m-%d %H:%M} UTC")
    typer.echo(f"chances: {source}")
    if standing.words:
        typer.echo(standing.words)
    typer.echo(_next(held.jobs, standing.level))


def _next(jobs: int, level: str) -> str:
    """What to do next."""
    if not jobs:
        return (
            "next: open a job on the Device page (`triage app`), or import past jobs with "
            "`triage record import JOBS.csv`"
        )
    if level == "fine":
        return "next: nothing; the chances are up to date"
    return "next: fit to your jobs on the Model check page, or with `triage fit --record RECORD --out FOLDER`"
