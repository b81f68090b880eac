"""One device of a lot, scored, and many of them gathered into a scored lot."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from triage.domain.units.lot import BadRow
from triage.lot_selection.scored_lot import ScoredLot
from triage.policy.answer.assessment import Verdict


@dataclass(frozen=True)
class ScoredUnit:
    """What `ScoredLot` holds of one device, money in major units.

    line : its line in the file. price : nan where the row has none.
    exact : False when repairs or checks had to be set aside to weigh the rest.
    margin_draws : ndarray, shape (draw,); empty where draws are not asked for.
    priced_by : where its resale value is from, in a word or two.
    limited_by : parts of the go rule that fail above the highest price, by name, with spaces between.
    """

    line: int
    label: str
    tier: str
    price: float
    margin: float
    minutes: float
    highest_bid: float
    loss_chance: float
    parts_margin: float
    verdict: Verdict
    exact: bool
    margin_draws: np.ndarray
    luck_variance: float
    priced_by: str = ""
    limited_by: str = ""


def gathered(units: Sequence[ScoredUnit], bad_rows: Sequence[BadRow], currency: str) -> ScoredLot:
    """Devices side by side, in the order given."""

    def column(name: str) -> np.ndarray:
        return np.array([getattr(unit, name) for unit in units], dtype=float)

    draws = [unit.margin_draws for unit in units]
    return ScoredLot(
        labels=tuple(unit.label for unit in units),
        tiers=tuple(unit.tier for unit in units),
        prices=column("price"),
        margins=column("margin"),
        minutes=column("minutes"),
        highest_bids=column("highest_bid"),
        loss_chances=column("loss_chance"),
        margin_draws=np.stack(draws) if draws else np.zeros((0, 1)),
        luck_variances=column("luck_variance"),
        parts_margins=column("parts_margin"),
        verdicts=tuple(unit.verdict for unit in units),
        bad_rows=tuple(bad_rows),
        currency=currency,
        priced_by=tuple(unit.priced_by for unit in units),
        limited_by=tuple(unit.limited_by for unit in units),
    )
