"""`triage record export`: the record as one table."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from triage.cli import options


def export_jobs(
    out: Annotated[Path, typer.Option(metavar="FILE", help="FILE.csv or FILE.parquet, one row per damage.")],
    ledger: options.Ledger = None,
    force: Annotated[bool, typer.Option("--force", help="Replace an existing file.")] = False,
    as_json: options.Json = False,
) -> None:
    """Export all jobs with repairs; never passcodes, customers' names or contacts."""
    from triage.errors import Fault, InputError, LedgerError
    from triage.ledger.export import write_csv, write_parquet
    from triage.ledger.history.history_rows import rows_of
    from triage.ledger.opening import open_ledger

    kind = out.suffix.lower()
    if kind not in (".csv", ".parquet"):
        fault = Fault(str(out), None, "--out", f"ends in {kind!r}", "a name ending in .csv or .parquet")
        raise InputError([fault])
    opened = open_ledger(ledger, create=False)
    try:
        held = opened.engine.url.database if opened.engine.dialect.name == "sqlite" else None
        if held and out.exists() and out.samefile(held):
            raise LedgerError(f"{out} is the record itself; choose another name")
        with opened.reading() as reading:
            jobs = reading.jobs()
    finally:
        opened.close()
    currencies = sorted({job.currency for job in jobs})
    rows = [row for job in jobs for row in rows_of(job)]
    if kind == ".csv":
        write_csv(rows, out, force)
    else:
        write_parquet(rows, out, currencies, force)
    told = len({row["job"] for row in rows})
    if as_json:
        from triage.reports.json_output.answer import SCHEMA
        from triage.reports.json_output.answer import as_json as written

        summary = {"file": str(out), "jobs": told, "rows": len(rows), "currencies": currencies}
        typer.echo(written({"schema": SCHEMA, **summary}))
        return
    typer.echo(f"{told:,} jobs, {len(rows):,} rows, amounts in {', '.join(currencies) or 'none'}: {out}")
    if len(currencies) > 1:
        typer.echo(
            "The table mixes currencies and has no currency column: do not compare its amounts.", err=True
        )
