"""Made-up scored lots, as a scorer would return them."""

from __future__ import annotations

import numpy as np

from triage.lot_selection.limits import Limits, offers
from triage.lot_selection.scored_lot import ScoredLot

TIERS = ("low", "middle", "upper")


def made_lot(units, draws, seed, shared=10.0, luck=(20.0, 80.0), verdicts=None):
    """Units whose margins are correlated through three unknown factors."""
    rng = np.random.default_rng(seed)
    margins = rng.normal(30, 25, units)
    loads = rng.normal(1, 0.5, (units, 3)) * shared
    spread = loads @ rng.normal(size=(3, draws)) + rng.normal(0, 4, (units, draws))
    by_draw = margins[:, None] + spread - spread.mean(axis=1, keepdims=True)
    prices = rng.uniform(5, 60, units).round(2)
    return ScoredLot(
        labels=tuple(f"unit {n}" for n in range(units)),
        tiers=tuple(str(tier) for tier in rng.choice(TIERS, units)),
        prices=prices,
        margins=margins,
        minutes=rng.uniform(20, 120, units),
        highest_bids=prices + margins,
        loss_chances=rng.uniform(0, 0.5, units),
        margin_draws=by_draw,
        luck_variances=rng.uniform(*luck, units) ** 2,
        parts_margins=margins - rng.uniform(0, 30, units) * rng.integers(0, 2, units),
        verdicts=verdicts or tuple("take it" for _ in range(units)),
        bad_rows=(),
        currency="EUR",
    )


def offered(lot, **limits):
    """Every unit of the lot, offered at its asking price."""
    return offers(
        np.arange(len(lot.labels)), lot.margins, lot.margin_draws, lot.luck_variances, lot.prices,
        lot.minutes, lot.tiers, Limits(**limits),
    )  # fmt: skip


def fits(given, taken):
    """Whether a choice keeps its limits and contains the required units."""
    within = (given.uses @ taken <= given.limits + 1e-9).all()
    return bool(within and taken[given.forced].all())
