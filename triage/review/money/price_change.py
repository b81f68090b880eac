"""Break-even change: the price that would have brought a group's mean margin to zero."""

from __future__ import annotations

from dataclasses import dataclass

import pandas as pd
from scipy.optimize import brentq

from triage.domain.shop.settings import Settings
from triage.review.money.realised_margin import fees_and_tax


@dataclass(frozen=True)
class PriceChange:
    """What to change for the jobs of one route.

    route : "bought" (pay this much less for each) or "walk-in" (quote this much more).
    amount : money a job, above zero; None where even for nothing they would lose.
    """

    route: str
    amount: float | None


def price_changes(mean: float, money: pd.DataFrame, settings: Settings) -> tuple[PriceChange, ...]:
    """Change for each route that has jobs; none where the mean is not negative.

    mean : money a job that is to become zero. money : the group's jobs, as in
    `RealisedMargins`; fees and tax follow the price, and no price paid goes below zero.
    """
    if mean >= 0:
        return ()
    found = []
    bought, owners = money[~money["walk_in"]], money[money["walk_in"]]
    if len(bought):
        most = float(bought["paid"].max())
        found.append(PriceChange("bought", _root(mean, bought, settings, "paid", most)))
    # Who paid nothing got nothing mended: a higher quote changes only what was paid for.
    if (owners["sold"] > 0).any():
        most = 1.0
        while _gain(most, owners, settings, "sold") < -mean and most < 1e9:
            most *= 2.0
        found.append(PriceChange("walk-in", _root(mean, owners, settings, "sold", most)))
    return tuple(found)


def _root(mean: float, money: pd.DataFrame, settings: Settings, what: str, most: float) -> float | None:
    if mean + _gain(most, money, settings, what) < 0:
        return None
    return float(brentq(lambda by: mean + _gain(by, money, settings, what), 0.0, most, xtol=1e-6))


def _gain(by: float, money: pd.DataFrame, settings: Settings, what: str) -> float:
    """Margin gained per job by paying less, or asking more."""
    if what == "paid":
        moved = money.assign(paid=(money["paid"] - by).clip(lower=0.0))
    else:
        moved = money.assign(sold=money["sold"].where(money["sold"] == 0, money["sold"] + by))

    def kept(jobs: pd.DataFrame) -> float:
        fees, tax = fees_and_tax(jobs, settings)
        return float((jobs["sold"] - jobs["paid"] - fees - tax).mean())

    return kept(moved) - kept(money)
