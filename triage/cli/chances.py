"""`triage chances`: each repair's chance by the fit, for a fresh job at average effects."""

from __future__ import annotations

import typer

from triage.cli import options
from triage.cli.terminal.screen import console


def chances(
    posterior: options.OwnPosterior = None,
    catalogue: options.Catalogue = None,
    as_json: options.Json = False,
) -> None:
    """List the chance that each damage is repaired, by severity, with its past attempts.

    The chance is for a fresh job by the usual method, averaged over differences between jobs.
    The interval is the 90 % credible interval.
    """
    from triage.domain.catalogue import load_catalogue
    from triage.posterior.store import load_posterior
    from triage.prediction.success import chances_table
    from triage.shipped import shipped
    from triage.workflows.shop.learned_chances import with_learned
    from triage.workflows.shop.shop import DEMO_POSTERIOR
    from triage.workflows.shop.shop_files import ShopFiles

    known = load_catalogue(catalogue)
    learned = with_learned(ShopFiles(catalogue=catalogue, posterior=posterior)).posterior
    draws = load_posterior(learned or shipped(DEMO_POSTERIOR), known, models=["success"])
    if learned != posterior:
        typer.echo(f"Using the fit to the shop's record: {learned}", err=True)
    if "success" in draws.manifest.failed:
        typer.echo("This fit failed its checks for chance of repair. Do not rely on it.", err=True)
    rows = chances_table(draws, known).to_dict("records")
    assumed = "success" in draws.manifest.belief_only
    if "success" in draws.manifest.refused:
        why = draws.manifest.models["success"].why
        typer.echo(f"No past job counts in these chances: the fit failed its checks ({why}).", err=True)
    for row in rows:
        row["assumption_only"] = assumed or not row["attempts"]
    if as_json:
        from triage.reports.json_output.answer import SCHEMA
        from triage.reports.json_output.answer import as_json as written

        typer.echo(written({"schema": SCHEMA, "chances": rows}))
        return
    _print_table(rows)
    if learned is None:
        typer.echo("Invented demo figures: no past job or chance here comes from a real shop.")


def _print_table(rows: list[dict]) -> None:
    from rich.table import Table

    table = Table(box=None, padding=(0, 2, 0, 0))
    table.add_column("damage kind", no_wrap=True)
    for title in ("severity", "chance", "90 % interval", "fixed of attempts"):
        table.add_column(title, justify="right", no_wrap=True)
    for row in rows:
        table.add_row(
            row["finding"],
            str(row["severity"]),
            _rounded(row["mean"]),
            f"{_rounded(row['low'])} to {_rounded(row['high'])}",
            "assumption only" if row["assumption_only"] else f"{row['fixed']} of {row['attempts']}",
        )
    console(110).print(table)
    typer.echo(
        "chance: that an attempted repair works (posterior mean for a new device), with its 90 %\n"
        "credible interval. Severity 1 is mild, 3 is severe."
    )


def _rounded(chance: float) -> str:
    """Two digits; what is not certain is not rounded to certain."""
    return "> 0.99" if 0.995 <= chance < 1 else f"{chance:.2f}"
