"""`triage lot`: every device of a lot assessed at its asking price."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from triage.cli import options
from triage.cli.books import open_books
from triage.cli.terminal.progress import progress
from triage.cli.terminal.screen import console


def lot(
    lot: Annotated[Path, typer.Argument(metavar="LOT.csv", help="A lot, one row per device.")],
    out: Annotated[
        Path | None,
        typer.Option(metavar="CSV", help="Write the assessed devices here, unreadable rows to CSV.bad.csv."),
    ] = None,
    resume: Annotated[bool, typer.Option("--resume", help="Continue an earlier run for --out.")] = False,
    force: Annotated[bool, typer.Option("--force", help="Replace an existing file.")] = False,
    workers: Annotated[int, typer.Option(min=1, max=256, help="Number of processes on this machine.")] = 1,
    scheduler: Annotated[
        str | None,
        typer.Option(metavar="ADDRESS", help="Use the workers of this Dask scheduler (extra [cluster])."),
    ] = None,
    cash: Annotated[
        float | None,
        typer.Option(
            parser=options.parse_money,
            metavar="MONEY",
            help="Choose within this cash limit, like `triage choose`.",
        ),
    ] = None,
    hours: Annotated[
        float | None,
        typer.Option(min=0, max=1e5, help="Choose within these bench hours, like `triage choose`."),
    ] = None,
    rows: Annotated[
        int | None,
        typer.Option(min=0, help="Devices to print; 0 prints all. Default: as many as fit 80 by 40."),
    ] = None,
    full: options.Full = False,
    as_json: options.Json = False,
    posterior: options.OwnPosterior = None,
    priors: options.OwnPriors = None,
    catalogue: options.Catalogue = None,
    settings: options.OwnSettings = None,
    prices: options.Prices = None,
    ledger: options.Stock = None,
    as_of: options.AsOf = None,
) -> None:
    """Assess a lot: verdict, margin, highest price and minutes of every device.

    Unreadable rows are listed and left out. With --cash or --hours, it also chooses devices, and --out is the
    bid list.
    """
    if cash is not None or hours is not None:
        from triage.cli.choose import choose

        choose(
            lot, cash, hours, out=out, force=force, full=full, as_json=as_json, posterior=posterior,
            priors=priors, catalogue=catalogue, settings=settings, prices=prices, ledger=ledger, as_of=as_of,
        )  # fmt: skip
        return
    from triage.workflows.lots.score_file import score_file, unfinished
    from triage.workflows.shop.shop_files import ShopFiles

    if resume and out is None:
        raise typer.BadParameter("needs --out, the file of the earlier run", param_hint="--resume")
    if out is not None and out.exists() and lot.exists() and out.samefile(lot):
        raise typer.BadParameter(f"{out} is the lot itself; choose another name", param_hint="--out")
    if out is not None and not resume and not force:
        if out.exists():
            wrong = (
                f"{out} exists already; choose another name, --resume to keep rows that are still valid, "
                "or --force"
            )
            raise typer.BadParameter(wrong, param_hint="--out")
        if unfinished(out):
            wrong = f"an earlier run for {out} was stopped; --resume continues it, --force starts again"
            raise typer.BadParameter(wrong, param_hint="--out")
    named = ShopFiles(catalogue, priors, posterior, settings, prices)
    files, shop = open_books(named, ledger, as_of)
    from triage.reports.terminal.scored_lot import bad_rows_lines, print_table, table_object

    with progress("scoring", _lines(lot)) as tell:
        table = score_file(lot, shop, out, resume, workers, scheduler, tell)
    for line in bad_rows_lines(table, full or as_json):
        typer.echo(line.text, err=True)
    if as_json:
        from triage.reports.json_output.answer import as_json as written

        typer.echo(written(table_object(table, files.invented)))
        return
    from triage.reports.terminal.review import WIDTH

    print_table(table, console(WIDTH), files.invented, 0 if full and rows is None else rows, full)


def _lines(path: Path) -> int | None:
    """Lines below the header; None where the file cannot be read, which is said later."""
    from triage.domain.plain_files import plain_file

    try:
        with plain_file(path).open("rb") as file:
            return max(0, sum(part.count(b"\n") for part in iter(lambda: file.read(1 << 20), b"")) - 1)
    except OSError:
        return None
