"""`triage quote`: a document for the owner, and the figures behind it for the shop."""

from __future__ import annotations

import os
from pathlib import Path
from typing import Annotated

import typer

from triage.cli import options
from triage.cli.books import open_books
from triage.cli.descriptions import read_description
from triage.cli.terminal.screen import console
from triage.policy.answer.quote import QuoteKind

_MOST_LETTERS = 200


def _text(value: str) -> str:
    """Refuse a text that would not fit its line of the document."""
    if len(value) > _MOST_LETTERS:
        raise typer.BadParameter(f"is too long; allowed: at most {_MOST_LETTERS} characters")
    return value


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
        typer.Option(help="Fixed price (no fix, no fee); diagnostic fee; in stages; or data recovery only."),
    ] = "fixed",
    price: Annotated[
        float | None,
        typer.Option(
            parser=options.parse_money,
            metavar="MONEY",
            help="Your price. Default: the lowest that meets your rule.",
        ),
    ] = None,
    customer: Annotated[str, typer.Option(callback=_text, help="Name of the owner.")] = "",
    number: Annotated[
        str, typer.Option(callback=_text, help="Quote number. Default: made from the date.")
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

    _refuse_places({"--pdf": pdf, "--html": html}, force, unit)
    document = read_description(unit)
    named = ShopFiles(catalogue, priors, posterior, settings, prices)
    files, shop = open_books(named, ledger, as_of)
    told = quote_unit(
        unit_from(document, shop.catalogue, shop.prices), shop, kind, price, customer.strip(), number.strip()
    )
    written = _write(told, pdf, html, sample=files.settings is None)
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


def _refuse_places(places: dict[str, Path | None], force: bool, unit: str) -> None:
    """Refuse files that cannot be written or are there already, all at once."""
    from triage.errors import Fault, InputError

    faults = []
    given = {name: path for name, path in places.items() if path is not None}
    for name, path in given.items():
        if path.is_dir():
            faults.append(Fault(str(path), None, name, "is a folder", "a file"))
        elif path.exists() and not path.is_file():
            faults.append(Fault(str(path), None, name, "is a pipe or a device", "a file"))
        elif path.exists() and Path(unit).exists() and path.samefile(unit):
            faults.append(Fault(str(path), None, name, "is the description itself", "a free name"))
        elif path.exists() and not force:
            faults.append(Fault(str(path), None, name, "already exists", "an unused name, or --force"))
        elif not path.parent.is_dir():
            faults.append(Fault(str(path), None, name, "its folder does not exist", "an existing folder"))
    if len({path.absolute() for path in given.values()}) < len(given):
        faults.append(
            Fault(str(given["--html"]), None, "--html", "is the same file as --pdf", "another file")
        )
    if faults:
        raise InputError(faults)


def _write(told, pdf: Path | None, html: Path | None, sample: bool) -> tuple[Path, ...]:
    """Set both documents before either is written; each appears whole or not at all."""
    if pdf is None and html is None:
        return ()
    from triage.errors import DocumentError
    from triage.reports.quote.compose import quote_letter
    from triage.reports.quote.document import quote_html, quote_pdf

    letter = quote_letter(told, sample)
    content: dict[Path, bytes] = {}
    if pdf is not None:
        content[pdf] = quote_pdf(letter)
    if html is not None:
        content[html] = quote_html(letter).encode()
    waiting: dict[Path, Path] = {}
    try:
        for path, data in content.items():
            waiting[path] = path.with_name(f".{path.name}.{os.getpid()}.tmp")
            waiting[path].write_bytes(data)
        for path, temporary in waiting.items():
            os.replace(temporary, path)
    except OSError as problem:
        raise DocumentError(f"{problem.filename}: {problem.strerror}") from problem
    finally:
        for temporary in waiting.values():
            temporary.unlink(missing_ok=True)
    return tuple(content)
