"""`triage assess`: one device from its description to an answer."""

from __future__ import annotations

from typing import Annotated

import typer

from triage.cli import options
from triage.cli.books import open_books
from triage.cli.descriptions import read_description


def assess(
    unit: Annotated[
        str, typer.Argument(metavar="DEVICE.toml", help='A device description; "-" reads it from stdin.')
    ],
    ask: Annotated[
        float | None,
        typer.Option(parser=options.parse_money, metavar="MONEY", help="Asking price."),
    ] = None,
    walk_in: Annotated[
        bool, typer.Option("--walk-in", help="An owner's device, to be repaired and quoted.")
    ] = False,
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
    """Assess one device: verdict, price, plan and stop point.

    The answer fits a screen of 80 by 40; --full prints all of it.
    """
    if walk_in and ask is not None:
        raise typer.BadParameter("an owner's device has no asking price; use --ask or --walk-in, not both")
    from triage.domain.units.unit_file import unit_from
    from triage.workflows.answers.assess import assess as answer
    from triage.workflows.shop.shop_files import ShopFiles

    document = read_description(unit)
    named = ShopFiles(catalogue, priors, posterior, settings, prices)
    files, shop = open_books(named, ledger, as_of)
    result = answer(unit_from(document, shop.catalogue, shop.prices), shop, ask, walk_in)
    if as_json:
        from triage.reports.json_output.answer import as_json as written
        from triage.reports.json_output.answer import assessment_object

        typer.echo(written(assessment_object(result, shop.catalogue, files.invented)))
    else:
        from rich.console import Console

        from triage.reports.terminal.answer import print_screen, print_whole

        show = print_whole if full else print_screen
        show(result, shop.catalogue, Console(highlight=False), files.invented)
