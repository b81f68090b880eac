"""The most to pay for a lot as a whole, from its file."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import replace

import numpy as np

from triage.domain.units.lot import Lot, LotRow
from triage.lot_selection.scored_lot import ScoredLot
from triage.lot_selection.whole_lot import LotTerms, WholeLot
from triage.workflows.lots.choose import bid_for_whole
from triage.workflows.lots.score import score_lot
from triage.workflows.shop.shop import Shop


def whole_bid(
    lot: Lot, shop: Shop, terms: LotTerms, tell: Callable[[int, int], None] | None = None
) -> WholeLot:
    """The most to pay for a lot as a whole, whatever its rows ask.

    Parameters
    ----------
    tell : is told now and then how many units are scored, of how many.
    """

    def at(rows: Iterable[LotRow], prices: Iterable[float]) -> ScoredLot:
        asked = tuple(replace(row, ask=float(price)) for row, price in zip(rows, prices, strict=True))
        return score_lot(replace(lot, rows=asked), shop, tell)

    first = at(lot.rows, np.zeros(len(lot.rows)))
    unplanned = {row.line for row in first.bad_rows}
    planned = [row for row in lot.rows if row.line not in unplanned]

    def score(prices: Sequence[float]) -> ScoredLot:
        return replace(at(planned, prices), bad_rows=first.bad_rows)

    return bid_for_whole(first, score, shop.settings, terms)
