"""`triage priors show`: assumption, record and fit side by side, in chances and in money."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import asdict
from typing import TYPE_CHECKING, Annotated, Any

import typer

from triage.cli import options
from triage.cli.descriptions import read_description
from triage.cli.priors.opening import INVENTED, echo_json

if TYPE_CHECKING:
    from triage.elicitation.beside_record import BesideRecord
    from triage.elicitation.check_standing import CheckStanding
    from triage.workflows.answers.beliefs_in_money import BeliefInMoney


def show(
    unit: Annotated[
        str | None,
        typer.Argument(metavar="[DEVICE.toml]", help="A device: its answer by assumptions only, in money."),
    ] = None,
    ask: Annotated[
        float | None,
        typer.Option(parser=options.parse_money, metavar="MONEY", help="Asking price."),
    ] = None,
    walk_in: Annotated[bool, typer.Option("--walk-in", help="An owner's device, to be quoted.")] = False,
    nothing_learned: Annotated[
        bool,
        typer.Option(
            "--nothing-learned", help="Use assumptions for minutes, parts and sales too; takes half a minute."
        ),
    ] = False,
    posterior: options.Posterior = None,
    priors: options.Priors = None,
    catalogue: options.Catalogue = None,
    settings: options.Settings = None,
    prices: options.Prices = None,
    ledger: options.Stock = None,
    as_of: options.AsOf = None,
    as_json: options.Json = False,
) -> None:
    """Show assumption (prior), record and fit (posterior).

    Chances are at severity 2. For a device, its margin is shown too. With `--ledger`, checks too: how often
    each is right, by assumption and with your results.
    """
    if walk_in and ask is not None:
        raise typer.BadParameter("an owner's device has no asking price: give --ask or --walk-in, not both")
    if unit is None and (walk_in or ask is not None or nothing_learned):
        raise typer.BadParameter(
            "--ask, --walk-in and --nothing-learned are about a device: give its DEVICE.toml"
        )
    from triage.domain.units.unit_file import unit_from
    from triage.elicitation.beside_record import beside_record
    from triage.elicitation.check_standing import check_standing
    from triage.workflows.answers.beliefs_in_money import belief_in_money, rows_of
    from triage.workflows.jobs.shelf import stocked
    from triage.workflows.shop.shop_files import ShopFiles

    files = ShopFiles(catalogue, priors, posterior, settings, prices)
    document = None if unit is None else read_description(unit)
    shop = stocked(files.open(as_of), ledger)
    rows: Sequence[BesideRecord] = beside_record(shop.posterior, shop.priors, shop.catalogue)
    tested = check_standing(shop.priors.repairs, shop.supply.checks, shop.catalogue)
    checks = [row for row in tested if row.record.jobs]
    money = None
    if document is not None:
        device = unit_from(document, shop.catalogue, shop.prices)
        rows = rows_of(rows, device)
        money = belief_in_money(device, shop, ask, walk_in, nothing_learned)
    if as_json:
        held: dict[str, Any] = {"invented": list(files.invented)}
        held["kinds"] = [asdict(row) for row in rows]
        if ledger is not None:
            held["checks"] = [asdict(row) for row in checks]
        if money is not None:
            held["money"] = _money_object(money)
        echo_json(held)
        return
    _print_rows(rows)
    if checks:
        _print_checks(checks)
    if money is not None:
        _print_money(money)
    if posterior is None:
        typer.echo(INVENTED)


def _money_object(money: BeliefInMoney) -> dict[str, Any]:
    names = (
        "verdict",
        "expected_margin",
        "losses_in_20",
        "margin_per_hour",
        "limit",
        "limit_words",
        "source",
    )
    sides = {side: {n: getattr(getattr(money, side), n) for n in names} for side in ("belief", "record")}
    return {"currency": money.record.currency, **sides, "learned": money.learned}


def _print_rows(rows: Sequence[BesideRecord]) -> None:
    from rich.table import Table

    from triage.cli.terminal.screen import console

    table = Table(box=None, padding=(0, 1, 0, 0))
    table.add_column("damage kind, severity 2", overflow="fold")
    for title in ("assumption (90 %)", "fit (90 %)", "fixed of\nattempts"):
        table.add_column(title, justify="right", no_wrap=True)
    for row in rows:
        before, after = (
            f"{found.mean:.2f} ({found.low:.2f} to {found.high:.2f})" for found in (row.prior, row.posterior)
        )
        counted = f"{row.fixed} of {row.attempts}" if row.attempts else "none"
        table.add_row(row.kind, before, after, counted)
    console(110).print(table)


def _print_checks(rows: Sequence[CheckStanding]) -> None:
    from rich.console import Console
    from rich.table import Table

    from triage.reports.wording.assumption import check_counted_words

    table = Table(box=None, padding=(0, 2, 0, 0))
    table.add_column("check", no_wrap=True)
    for title in ("sensitivity", "with record", "specificity", "with record", "results"):
        table.add_column(title, justify="right", no_wrap=True)
    for row in rows:
        chances = (
            f"{found.mean:.2f}" for pair in zip(row.prior, row.posterior, strict=True) for found in pair
        )
        table.add_row(row.check, *chances, check_counted_words(row))
    Console(highlight=False, width=None if Console().is_terminal else 110).print(table)


def _print_money(money: BeliefInMoney) -> None:
    from triage.reports.wording.assumption import money_words

    typer.echo(f"by assumptions only: {money_words(money.belief)}")
    typer.echo(f"with the record: {money_words(money.record)}")
    if money.learned:
        typer.echo(
            f"Only the chances of repairs are assumptions. These come from the record: {money.learned}."
        )
