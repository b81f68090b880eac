"""`triage record export`: the record as one table."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from triage.cli import options

if TYPE_CHECKING:
    from triage.ledger.record import Ledger


def export_jobs(
    out: Annotated[Path, typer.Option(metavar="FILE", help="FILE.csv or FILE.parquet, one row per damage.")],
    ledger: options.Ledger = None,
    parts_sold: Annotated[
        bool, typer.Option("--parts-sold", help="One row per part sold instead, as FILE.csv.")
    ] = False,
    settings: options.OwnSettings = None,
    force: Annotated[bool, typer.Option("--force", help="Replace an existing file.")] = False,
    as_json: options.Json = False,
) -> None:
    """Export all jobs with repairs, or all parts sold; never passcodes, names or contacts.

    Tax on parts sold follows the settings.
    """
    from triage.errors import Fault, InputError, LedgerError
    from triage.ledger.export import write_csv, write_parquet
    from triage.ledger.history.history_rows import rows_of
    from triage.ledger.opening import open_ledger

    kind = out.suffix.lower()
    kinds = (".csv",) if parts_sold else (".csv", ".parquet")
    if kind not in kinds:
        allowed = f"a name ending in {' or '.join(kinds)}"
        fault = Fault(str(out), None, "--out", f"ends in {kind!r}", allowed)
        raise InputError([fault])
    opened = open_ledger(ledger, create=False)
    try:
        held = opened.engine.url.database if opened.engine.dialect.name == "sqlite" else None
        if held and out.exists() and out.samefile(held):
            raise LedgerError(f"{out} is the record itself; choose another name")
        if parts_sold:
            _export_parts(out, opened, ledger, settings, force, as_json)
            return
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


def _export_parts(
    out: Path, opened: Ledger, where: str | None, settings: Path | None, force: bool, as_json: bool
) -> None:
    from triage.cli.books import open_books
    from triage.ledger.export import write_table
    from triage.review.money.sold_parts import SALES_COLUMNS, sales_table
    from triage.workflows.jobs.shelf import part_sales
    from triage.workflows.shop.shop_files import ShopFiles

    _, shop = open_books(ShopFiles(settings=settings), where, None)
    rows = sales_table(part_sales(opened), shop.settings.tax)
    write_table(rows, SALES_COLUMNS, out, force)
    if as_json:
        from triage.reports.json_output.answer import SCHEMA
        from triage.reports.json_output.answer import as_json as written

        typer.echo(written({"schema": SCHEMA, "file": str(out), "parts": len(rows)}))
        return
    typer.echo(f"{len(rows):,} parts sold: {out}")
