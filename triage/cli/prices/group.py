"""`triage prices`: the shop's own prices by model, from and to a CSV file."""

from __future__ import annotations

import sys
from dataclasses import asdict
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from triage.cli import options

if TYPE_CHECKING:
    from triage.domain.shop.model_table import ModelChanges

prices = typer.Typer(
    help="Your own prices by model, which override the price classes: import, export, undo.",
    no_args_is_help=True,
    rich_markup_mode=None,
)


@prices.command("import")
def import_prices(
    file: Annotated[
        Path, typer.Argument(metavar="FILE.csv", help="One row per price: columns model, item, price, ...")
    ],
    replace: Annotated[
        bool, typer.Option("--replace", help="Delete prices that the file does not have.")
    ] = False,
    dry_run: Annotated[bool, typer.Option("--dry-run", help="Check the file and save nothing.")] = False,
    catalogue: options.Catalogue = None,
    ledger: options.Ledger = None,
    as_json: options.Json = False,
) -> None:
    """Import prices by model: all rows, or none if the file has errors.

    A row replaces the price of the same model and item; other prices stay. `triage prices undo` goes back.
    """
    from datetime import date

    from triage.domain.catalogue import load_catalogue
    from triage.domain.shop.model_csv import read_models
    from triage.domain.shop.model_table import changes_between, table_rows
    from triage.workflows.shop.own_models import keep_models, merged, models_stamp, own_models, part_names

    new = read_models(file, part_names(load_catalogue(catalogue)), date.today())
    seen, held = models_stamp(ledger), () if replace else own_models(ledger)
    whole = new if replace else merged(held, new)
    if dry_run:
        changes = changes_between(table_rows(own_models(ledger)), table_rows(whole))
    else:
        changes = keep_models(whole, seen, ledger)
    _say(changes, "prices would be imported" if dry_run else "prices imported", as_json)


@prices.command("export")
def export_prices(
    file: Annotated[
        Path | None, typer.Argument(metavar="FILE.csv", help="Default: print them.", show_default=False)
    ] = None,
    force: Annotated[bool, typer.Option("--force", help="Replace an existing file.")] = False,
    ledger: options.Ledger = None,
) -> None:
    """Export prices by model as a CSV file that `triage prices import` reads."""
    from triage.domain.shop.model_csv import models_text
    from triage.ledger.export import whole_or_not_at_all
    from triage.workflows.shop.own_models import own_models

    held = own_models(ledger)
    text = models_text(held)
    if file is None:
        sys.stdout.write(text)
        return
    whole_or_not_at_all(file, force, lambda waiting: waiting.write_text(text, encoding="utf-8", newline=""))
    typer.echo(f"prices of {len(held):,} models: {file}")


@prices.command("undo")
def undo_prices(ledger: options.Ledger = None, as_json: options.Json = False) -> None:
    """Undo the last import or save of prices; a second undo brings it back."""
    from triage.workflows.shop.own_models import undo_models

    _say(undo_models(ledger), "last save undone", as_json)


def _say(changes: ModelChanges, done: str, as_json: bool) -> None:
    if as_json:
        from triage.reports.json_output.answer import SCHEMA
        from triage.reports.json_output.answer import as_json as written

        typer.echo(written({"schema": SCHEMA, **asdict(changes)}))
        return
    from triage.reports.wording.prices import changes_words

    typer.echo(f"{done}: {changes_words(changes)}")
