"""`triage quote`: a document for the owner, and the figures behind it for the shop."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from triage.cli import options
from triage.cli.books import open_books
from triage.cli.descriptions import read_description
from triage.cli.quoting import documents
from triage.cli.terminal.screen import console
from triage.policy.answer.quote import QuoteKind


def quote(
    unit: Annotated[
        str, typer.Argument(metavar="DEVICE.toml", help='A device description; "-" reads it from stdin.')
    ],
    pdf: Annotated[Path | None, typer.Option(metavar="FILE", help="Save the document as a PDF.")] = None,
    html: Annotated[
        Path | None, typer.Option(metavar="FILE", help="Save the document as a web page.")
    ] = None,
    kind: Annotated[
        QuoteKind,
        typer.Option(help="Fixed price (no fix, no fee); diagnostic fee; or in stages."),
    ] = "fixed",
    price: Annotated[
        float | None,
        typer.Option(
            parser=options.parse_money,
            metavar="MONEY",
            help="Your price. Default: the lowest that meets your rule.",
        ),
    ] = None,
    customer: Annotated[str, typer.Option(callback=documents.short_text, help="Name of the owner.")] = "",
    number: Annotated[
        str, typer.Option(callback=documents.short_text, help="Quote number. Default: made from the date.")
    ] = "",
    force: Annotated[bool, typer.Option("--force", help="Replace existing files.")] = False,
    as_json: options.Json = False,
    posterior: options.OwnPosterior = None,
    priors: options.OwnPriors = None,
    catalogue: options.Catalogue = None,
    settings: options.OwnSettings = None,
    prices: options.Prices = None,
    ledger: options.Stock = None,
    as_of: options.AsOf = None,
) -> None:
    """Quote an owner for a device.

    The document is for the owner. The printed figures are for the shop only.
    """
    from triage.domain.units.unit_file import unit_from
    from triage.workflows.answers.quote import quote_unit
    from triage.workflows.shop.shop_files import ShopFiles

    documents.refuse_places({"--pdf": pdf, "--html": html}, force, unit)
    document = read_description(unit)
    named = ShopFiles(catalogue, priors, posterior, settings, prices)
    files, shop = open_books(named, ledger, as_of)
    told = quote_unit(
        unit_from(document, shop.catalogue, shop.prices), shop, kind, price, customer.strip(), number.strip()
    )
    written: tuple[Path, ...] = ()
    if pdf or html:
        from triage.reports.quote.compose import quote_letter

        written = documents.write(quote_letter(told, sample=files.settings is None), pdf, html)
    from triage.reports.quote.figures import figure_lines, quote_object

    if as_json:
        from triage.reports.json_output.answer import as_json as json_text

        typer.echo(json_text(quote_object(told, files.invented, written)))
        return
    from triage.reports.terminal.lines import Line, print_lines
    from triage.reports.terminal.review import WIDTH

    print_lines(map(Line, figure_lines(told)), console(WIDTH))
    for path in written:
        typer.echo(f"Document for the owner: {path}")
    if files.invented:
        words = f"Based on invented demo figures: {', '.join(files.invented)}."
        print_lines([Line(words)], console(WIDTH))
