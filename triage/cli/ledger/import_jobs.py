"""`triage record import`: past jobs from a file into the shop's record."""

from __future__ import annotations

from dataclasses import asdict
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from triage.cli import options
from triage.cli.terminal.progress import progress

if TYPE_CHECKING:
    from triage.workflows.jobs.import_history import Imported


def import_jobs(
    file: Annotated[Path, typer.Argument(metavar="FILE.csv", help="Past jobs, one row per damage.")],
    mapping: Annotated[
        Path | None,
        typer.Option(metavar="TOML", help="Mapping of the file's columns and words."),
    ] = None,
    dry_run: Annotated[bool, typer.Option("--dry-run", help="Check the file and save nothing.")] = False,
    sure: Annotated[
        bool, typer.Option("--sure", help="Import doubtful values as they are; you have checked them.")
    ] = False,
    ledger: options.Ledger = None,
    catalogue: options.Catalogue = None,
    currency: Annotated[
        str, typer.Option(metavar="CODE", help="Currency of the amounts. Default: from the settings.")
    ] = "",
    settings: options.Settings = None,
    by: Annotated[str, typer.Option(metavar="NAME", help="Your name. Default: your login name.")] = "",
    as_json: options.Json = False,
) -> None:
    """Import past jobs: all of them, or none if the file has errors.

    Jobs already in the record with the same content are skipped. Ambiguous amounts, implausible dates or
    minutes, and repeated rows are refused unless you add --sure.
    """
    from triage.domain.catalogue import load_catalogue
    from triage.domain.plain_files import plain_file
    from triage.errors import Fault, HistoryError
    from triage.ledger.history.column_mapping import load_mapping
    from triage.ledger.opening import open_ledger
    from triage.workflows.jobs.import_history import import_past_jobs, read_past_jobs
    from triage.workflows.shop.record_files import open_record_if_there, shop_currency, writer

    known = load_catalogue(catalogue)
    columns = load_mapping(mapping, known) if mapping else None
    try:
        data = plain_file(file).read_bytes()
    except OSError as problem:
        fault = Fault(str(file), None, "file", problem.strerror or "cannot be read", "a readable CSV file")
        raise HistoryError([fault]) from problem
    with progress("reading"):
        past = read_past_jobs(data, file.name, known, shop_currency(currency, settings), columns, sure)
    opened = open_record_if_there(ledger) if dry_run else open_ledger(ledger)
    try:
        with progress("writing jobs") as bar:
            result = import_past_jobs(past, opened, writer(by), dry_run, bar)
    finally:
        if opened:
            opened.close()
    if as_json:
        from triage.reports.json_output.answer import SCHEMA
        from triage.reports.json_output.answer import as_json as written

        typer.echo(written({"schema": SCHEMA, **asdict(result)}))
        return
    _say(result)


def _say(result: Imported) -> None:
    done = "imported" if result.written else "would be imported"
    typer.echo(f"{result.added:,} jobs of {result.source} {done}; {result.already:,} already in the record")
    if result.added:
        typer.echo(f"received from {result.first} to {result.last}, amounts in {result.currency}")
    for column, jobs in result.not_told.items():
        typer.echo(f"{column}: blank for {jobs:,} of them")
    if result.ignored:
        typer.echo(f"columns not used: {', '.join(result.ignored)}")
