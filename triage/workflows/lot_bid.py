"""The most to pay for a lot as a whole, from its file."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace

from triage.domain.lots import Lot
from triage.lot_selection.scored_lot import ScoredLot
from triage.lot_selection.whole_lot import LotTerms, WholeLot
from triage.workflows.lot import score_lot
from triage.workflows.lot_choice import bid_for_whole
from triage.workflows.shop import Shop


def whole_bid(
    lot: Lot, shop: Shop, terms: LotTerms, tell: Callable[[int, int], None] | None = None
) -> WholeLot:
    """The most to pay for a lot as a whole, whatever its rows ask.

    tell : is told after each part how many units are scored, of how many.
    """

    def score(prices: Sequence[float]) -> ScoredLot:
        rows = zip(lot.rows, prices, strict=True)
        asked = replace(lot, rows=tuple(replace(row, ask=float(price)) for row, price in rows))
        return score_lot(asked, shop, tell)

    return bid_for_whole(score, len(lot.rows), shop.settings, terms)
