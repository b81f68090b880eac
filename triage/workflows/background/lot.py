"""Long work: a lot scored at its asking prices, and weighed as one purchase."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import asdict
from typing import Any

from triage.domain.units.lot_file import read_lot_text
from triage.lot_selection.packed_lot import packed
from triage.lot_selection.whole_lot import LotTerms
from triage.workflows.jobs.shelf import stocked
from triage.workflows.lots.choose import in_counts, scored_for
from triage.workflows.lots.score import score_lot
from triage.workflows.lots.whole_bid import whole_bid
from triage.workflows.shop.shop_files import ShopFiles

Tell = Callable[[dict[str, Any]], None]


def run(arguments: dict[str, Any], tell: Tell) -> dict[str, Any]:
    """Score a lot and return it packed, with the whole lot in counts.

    Parameters
    ----------
    arguments : `csv` (the file's text) and its `name`; optionally `files` (the shop's,
        as `ShopFiles.to_environment` writes them), `ledger` (URL of the record whose
        prices and shelf stand), `freight`, `bad_row_value` and `hours` of the whole lot.
    """
    tell({"words": "opening the shop's files"})
    files = ShopFiles.from_environment(arguments.get("files", {}))
    shop = stocked(files.open(), arguments.get("ledger"))
    lot = read_lot_text(arguments["csv"], arguments["name"], shop.catalogue, shop.prices)
    terms = LotTerms(
        arguments.get("freight", 0.0), arguments.get("bad_row_value", 0.0), arguments.get("hours")
    )

    def counted(words: str) -> Callable[[int, int], None]:
        def said(done: int, total: int) -> None:
            tell({"words": f"{words}: {done:,} of {total:,} devices", "done": done, "total": total})

        return said

    scored = score_lot(lot, shop, counted("at their asking prices"))
    whole = whole_bid(lot, shop, terms, counted("as one purchase"))
    return {
        "name": arguments["name"],
        "scored_for": scored_for(shop),
        "scored": packed(scored),
        "whole": asdict(in_counts(whole, terms)),
    }
