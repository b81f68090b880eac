"""A shop as a command opens it: by the same books as the pages."""

from __future__ import annotations

from datetime import date
from typing import TYPE_CHECKING

import typer

if TYPE_CHECKING:
    from triage.workflows.shop.shop import Shop
    from triage.workflows.shop.shop_files import ShopFiles


def open_books(named: ShopFiles, ledger: str | None, as_of: date | None) -> tuple[ShopFiles, Shop]:
    """Open the shop, and say on stderr in a line what is its own and how far its chances can be trusted.

    Parameters
    ----------
    named : files that were named, which outrank all others.
    ledger : the record that was named; else the default one, if it is there.

    Returns
    -------
    files : the books in use. shop : the shop, with what its record knows of parts and checks.

    Raises
    ------
    TriageError : a book cannot be read, or the record that was named cannot be opened.
    """
    from dataclasses import replace

    from triage.domain.shop.supply import Supply
    from triage.errors import LedgerError
    from triage.ledger.opening import open_ledger
    from triage.workflows.fitting.standing import posterior_standing
    from triage.workflows.jobs.shelf import supply_of
    from triage.workflows.shop.own_books import own_books, own_books_words
    from triage.workflows.shop.record_files import open_record_if_there

    files = own_books(named, ledger)
    shop, record = files.open(as_of), None
    try:
        record = open_ledger(ledger, create=False) if ledger else open_record_if_there(None)
        shop = replace(shop, supply=supply_of(record, shop.catalogue) if record else Supply())
        standing = posterior_standing(shop.posterior, shop, record).words
    except LedgerError as refusal:
        if ledger:
            raise
        typer.echo(f"Recorded prices and parts stock are not used: {refusal}", err=True)
        standing = posterior_standing(shop.posterior, shop).words
    finally:
        if record:
            record.close()
    for words in (own_books_words(named, files, shop.supply, ledger), "" if shop.demo else standing):
        if words:
            typer.echo(words, err=True)
    return files, shop
