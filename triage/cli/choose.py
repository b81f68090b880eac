"""`triage choose`: which devices of a lot to buy, within cash and bench hours."""

from __future__ import annotations

import re
from dataclasses import replace
from pathlib import Path
from typing import Annotated

import typer

from triage.cli import options
from triage.cli.books import open_books
from triage.cli.terminal.completion import tier_counts
from triage.cli.terminal.progress import progress
from triage.cli.terminal.screen import console


def choose(
    lot: Annotated[Path, typer.Argument(metavar="LOT.csv", help="A lot, one row per device.")],
    cash: Annotated[
        float | None,
        typer.Option(
            parser=options.parse_money, metavar="MONEY", help="Cash limit, fees and postage included."
        ),
    ] = None,
    hours: Annotated[
        float | None, typer.Option(min=0, max=1e5, help="Limit on expected bench hours.")
    ] = None,
    most: Annotated[
        list[str] | None,
        typer.Option(
            metavar="CLASS=COUNT",
            autocompletion=tier_counts,
            help="Maximum number of devices of a price class. Repeatable.",
        ),
    ] = None,
    take: Annotated[
        list[str] | None, typer.Option(metavar="DEVICE", help="Always buy this device. Repeatable.")
    ] = None,
    leave: Annotated[
        list[str] | None, typer.Option(metavar="DEVICE", help="Never buy this device. Repeatable.")
    ] = None,
    worst: Annotated[
        bool, typer.Option("--worst", help="Maximise the mean of the worst 2 in 20 outcomes.")
    ] = False,
    whole: Annotated[bool, typer.Option("--whole", help="Also price the whole lot.")] = False,
    freight: Annotated[
        float,
        typer.Option(parser=options.parse_money, metavar="MONEY", help="With --whole: freight for the lot."),
    ] = 0.0,
    bad_row: Annotated[
        float,
        typer.Option(
            parser=options.parse_money, metavar="MONEY", help="With --whole: value of an unreadable row."
        ),
    ] = 0.0,
    out: Annotated[
        Path | None,
        typer.Option(metavar="CSV", help="Write the bid list here: every device and its highest price."),
    ] = None,
    force: Annotated[bool, typer.Option("--force", help="Replace an existing bid list.")] = False,
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
    """Choose the devices of a lot with the highest total expected margin within your limits."""
    from triage.domain.units.lot_file import read_lot
    from triage.ledger.export import whole_or_not_at_all
    from triage.lot_selection.lot_choice import Wanted
    from triage.lot_selection.whole_lot import LotTerms
    from triage.reports.wording.lot import bid_list
    from triage.workflows.lots.choose import choose_from_lot, in_counts
    from triage.workflows.lots.score import score_lot
    from triage.workflows.lots.whole_bid import whole_bid
    from triage.workflows.shop.shop_files import ShopFiles

    if out is not None and out.exists() and not force:
        raise typer.BadParameter(f"{out} exists already; choose another name, or --force", param_hint="--out")
    if out is not None and out.exists() and lot.exists() and out.samefile(lot):
        raise typer.BadParameter(f"{out} is the lot itself; choose another name", param_hint="--out")
    wanted = Wanted(
        cash, hours, _counts(most), tuple(take or ()), tuple(leave or ()), "worst" if worst else "expected"
    )
    named = ShopFiles(catalogue, priors, posterior, settings, prices)
    files, shop = open_books(named, ledger, as_of)
    offered = read_lot(lot, shop.catalogue, shop.prices)
    with progress("scoring") as tell:
        scored = score_lot(offered, shop, tell)
    choice = choose_from_lot(scored, shop.settings, wanted)
    if whole:
        terms = LotTerms(freight, bad_row, hours)
        with progress("pricing the whole lot") as tell:
            choice = replace(choice, whole=in_counts(whole_bid(offered, shop, terms, tell), terms))
    if out is not None:
        words = bid_list(choice)
        whole_or_not_at_all(out, force, lambda path: path.write_text(words, encoding="utf-8"))
    if as_json:
        from triage.reports.json_output.answer import as_json as written
        from triage.reports.terminal.lot import choice_object

        typer.echo(written(choice_object(choice, files.invented)))
        return
    from triage.reports.terminal.lot import print_choice
    from triage.reports.terminal.review import WIDTH

    print_choice(choice, console(WIDTH), files.invented, full)


def _counts(most: list[str] | None) -> dict[str, int]:
    """Read `CLASS=COUNT` pairs."""
    counts = {}
    for pair in most or ():
        tier, equals, count = pair.rpartition("=")
        if not equals or not tier or not re.fullmatch("[0-9]{1,9}", count):
            raise typer.BadParameter(
                f"{pair!r} is not a price class and a count; allowed: CLASS=COUNT, such as upper=10",
                param_hint="--most",
            )
        counts[tier] = int(count)
    return counts
