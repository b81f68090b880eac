"""What a lot is worth as a whole: lots are usually sold whole, bad devices and freight included.

Once the lot is bought, its price is gone whatever is done with a device. So each
device is weighed at no price: it is worked on (repaired, or stripped) where that
earns, over leaving it, what the go rule asks of one device, in money and by the
hour; the rest are left, which costs disposal. What ownership forbids is left;
where the right to sell a device is open, its margin counts the chance of a refusal.

The go rule then holds for the lot as one purchase: the least margin for each
device worked on, the least margin by the hour of all its hours, and at most k of
20 outcomes of the whole lot losing money (joint draws: `lot_risk`).
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

import numpy as np

from triage.domain.shop.settings import Fees, GoRule
from triage.lot_selection.best_choice import best_choice
from triage.lot_selection.limits import Limits, offers
from triage.lot_selection.lot_risk import LotRisk, lot_risk
from triage.lot_selection.scored_lot import ScoredLot

_HALF_A_CENT = 0.005
_ROUNDING = 1e-6  # what floats leave behind: the rule itself gives nothing away
Binding = Literal["margin", "margin_per_hour", "losses_in_20"]


@dataclass(frozen=True)
class LotTerms:
    """What comes with the lot besides its devices.

    freight : money to get all of it here, in place of each device's postage.
    bad_row_value : money that a row which cannot be scored is worth, before its disposal.
    hours : bench hours there are for it; None is no limit.
    """

    freight: float = 0.0
    bad_row_value: float = 0.0
    hours: float | None = None


@dataclass(frozen=True)
class WholeLot:
    """The lot as one purchase.

    bid : most to pay for all of it by the go rule, money; None when no price is low enough.
    stopped_by : the part of the rule that stops a higher bid (None: at a price of
        0 it fails already, by this part).
    repaired, stripped, left, refused : places of devices to repair; to strip at once;
        to leave; that ownership allows no work on (left too).
    bad_rows : how many rows could not be scored.
    minutes : expected bench minutes.
    worth : expected money before the lot's price, freight taken off.
    risk : of the lot's margin at the bid, or at 0 when there is none.
    shares : ndarray, shape (unit,), share of the price that falls on each device.
    """

    bid: float | None
    stopped_by: Binding | None
    repaired: tuple[int, ...]
    stripped: tuple[int, ...]
    left: tuple[int, ...]
    refused: tuple[int, ...]
    bad_rows: int
    minutes: float
    worth: float
    risk: LotRisk
    shares: np.ndarray


def whole_lot(lot: ScoredLot, paid: np.ndarray, terms: LotTerms, rule: GoRule, fees: Fees) -> WholeLot:
    """Weigh a lot as one purchase.

    Parameters
    ----------
    paid : ndarray, shape (unit,), price at which each device of `lot` was scored,
        0 where it was scored at none. Where tax falls on the margin alone, a
        device that bears a share of the lot's price is taxed less: scored at no
        price, the bid is on the safe side (`workflows.lot_choice` scores again
        at the shares).
    """
    back = paid * (1.0 + fees.buyer_fee_share) + fees.inbound_postage
    refused = np.isnan(lot.parts_margins)
    earned, minutes = lot.margins + back, lot.minutes
    draws, luck = lot.margin_draws + back[:, None], lot.luck_variances
    gains = earned + fees.disposal
    wanted = np.maximum(rule.margin, rule.margin_per_hour * minutes / 60.0)
    places = np.flatnonzero(~refused & (gains >= wanted - _ROUNDING))
    open_to = offers(
        places, gains, draws, luck, paid, minutes, lot.tiers, Limits(hours=terms.hours)
    )  # fmt: skip
    worked = places if terms.hours is None else places[best_choice(open_to).taken]
    idle = np.setdiff1d(np.arange(len(earned)), worked)
    fixed = -terms.freight - fees.disposal * len(idle)
    fixed += (terms.bad_row_value - fees.disposal) * len(lot.bad_rows)
    means = draws[worked].sum(axis=0) + fixed
    # The mean over draws is the margin to rounding; the exact one stands.
    worth = float(earned[worked].sum()) + fixed
    means += worth - means.mean()
    at_nothing = lot_risk(means, float(luck[worked].sum()))
    spent = float(minutes[worked].sum())
    bid, stopped_by = _highest(at_nothing, worth, len(worked), spent, rule, fees)
    outlay = 0.0 if bid is None else bid * (1.0 + fees.buyer_fee_share)
    weight = np.zeros(len(earned))
    weight[worked] = np.maximum(earned[worked], 0.0)
    as_parts = np.abs(lot.margins - lot.parts_margins) < _HALF_A_CENT
    return WholeLot(
        bid,
        stopped_by,
        tuple(int(place) for place in worked if not as_parts[place]),
        tuple(int(place) for place in worked if as_parts[place]),
        tuple(int(place) for place in idle if not refused[place]),
        tuple(int(place) for place in np.flatnonzero(refused)),
        len(lot.bad_rows),
        spent,
        worth,
        lot_risk(means - outlay, float(luck[worked].sum())),
        weight / weight.sum() if weight.sum() > 0 else weight,
    )


def _highest(
    risk: LotRisk, worth: float, worked: int, minutes: float, rule: GoRule, fees: Fees
) -> tuple[float | None, Binding | None]:
    """Most to pay so that every part of the rule holds, and the part that stops more."""
    bounds: dict[Binding, float] = {
        "margin": worth - rule.margin * worked,
        "margin_per_hour": worth - rule.margin_per_hour * minutes / 60.0,
    }
    if rule.losses_in_20 < len(risk.dots):
        # With one dot more below zero there would be k + 1 losses.
        bounds["losses_in_20"] = risk.dots[rule.losses_in_20]
    stops = min(bounds, key=lambda part: bounds[part])
    slack = _HALF_A_CENT if stops == "losses_in_20" else _ROUNDING
    most = (bounds[stops] + slack) / (1.0 + fees.buyer_fee_share)
    if most < 0 or worked == 0:
        return None, stops
    return math.floor(round(most * 100.0, 6)) / 100.0, stops
