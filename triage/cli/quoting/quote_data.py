"""`triage quote-data`: a quote for saving the data of an owner's device, with its document."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from triage.cli import options
from triage.cli.books import open_books
from triage.cli.descriptions import read_description
from triage.cli.quoting import documents
from triage.cli.terminal.screen import console
from triage.domain.data_job import Authority, Backup, DataFacts, Known, Referral, Touch


def quote_data(
    unit: Annotated[
        str, typer.Argument(metavar="DEVICE.toml", help='A device description; "-" reads it from stdin.')
    ],
    pdf: Annotated[Path | None, typer.Option(metavar="FILE", help="Save the document as a PDF.")] = None,
    html: Annotated[
        Path | None, typer.Option(metavar="FILE", help="Save the document as a web page.")
    ] = None,
    fee: Annotated[
        float,
        typer.Option(
            parser=options.parse_money, metavar="MONEY", help="Fee for trying. Default: no data, no fee."
        ),
    ] = 0.0,
    price: Annotated[
        float | None,
        typer.Option(
            parser=options.parse_money,
            metavar="MONEY",
            help="Your price. Default: the lowest that meets your rule.",
        ),
    ] = None,
    matters: Annotated[
        list[str] | None,
        typer.Option(
            metavar="TEXT",
            help="What matters most; once for each thing, first things first.",
        ),
    ] = None,
    backup: Annotated[Backup, typer.Option(help="Is there a backup already?")] = "not-known",
    authority: Annotated[
        Authority, typer.Option(help="Who may ask for the data. Local law decides.")
    ] = "owner",
    irreplaceable: Annotated[
        bool, typer.Option("--irreplaceable", help="The data cannot be replaced: a referral comes first.")
    ] = False,
    referral: Annotated[
        Referral, typer.Option(help="Licensed data recovery practice: advised, and the owner's answer.")
    ] = "not-advised",
    chips: Annotated[Known, typer.Option(help="Original processor and storage together?")] = "not-known",
    touch: Annotated[Touch, typer.Option(help="Does the touch work, or is a donor display at hand?")] = (
        "not-known"
    ),
    code: Annotated[Known, typer.Option(help="Does the owner know the unlock code?")] = "not-known",
    customer: Annotated[str, typer.Option(callback=documents.short_text, help="Name of the owner.")] = "",
    number: Annotated[
        str,
        typer.Option(callback=documents.short_text, help="Quote number. Default: made from the date."),
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
    """Quote an owner for saving the data of a device.

    Saving data is a job of its own, not a repair. The document is for the owner. The printed figures
    are for the shop only.
    """
    from triage.domain.units.unit_file import unit_from
    from triage.workflows.answers.data_quote import quote_data as quoted
    from triage.workflows.shop.shop_files import ShopFiles

    documents.refuse_places({"--pdf": pdf, "--html": html}, force, unit)
    listed = "\n".join(documents.short_text(one.strip()) for one in matters or ())
    facts = DataFacts(backup, authority, "", listed, irreplaceable, referral, chips, code, touch)
    document = read_description(unit)
    files, shop = open_books(ShopFiles(catalogue, priors, posterior, settings, prices), ledger, as_of)
    device = unit_from(document, shop.catalogue, shop.prices)
    told = quoted(device, shop, facts, fee, price, customer.strip(), number.strip())
    written: tuple[Path, ...] = ()
    if pdf or html:
        from triage.reports.quote.data_letter import data_letter

        written = documents.write(data_letter(told, sample=files.settings is None), pdf, html)
    from triage.reports.quote.data_figures import data_lines, data_object

    if as_json:
        from triage.reports.json_output.answer import as_json as json_text

        typer.echo(json_text(data_object(told, files.invented, written)))
        return
    from triage.reports.terminal.lines import Line, print_lines
    from triage.reports.terminal.review import WIDTH

    print_lines(map(Line, data_lines(told)), console(WIDTH))
    for path in written:
        typer.echo(f"Document for the owner: {path}")
    if files.invented:
        words = f"Based on invented demo figures: {', '.join(files.invented)}."
        print_lines([Line(words)], console(WIDTH))
