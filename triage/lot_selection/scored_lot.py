"""A lot of devices, each scored by the same plan code that answers for one."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from triage.domain.units.lot import BadRow
from triage.policy.answer.assessment import Verdict


@dataclass(frozen=True)
class ScoredLot:
    """What is known of every device of a lot, in file order; bad rows stand apart.

    Draw d is the same posterior draw of every model for every device, so that a
    sum over devices of `margin_draws[:, d]` carries what the shop does not know
    about all of them at once: chances, and levels of minutes, parts, comebacks
    and prices. Given the draw, the luck of one device is independent of another's.

    labels, tiers, verdicts : one a device.
    priced_by, limited_by : one a device, or none (see `ScoredUnit`).
    prices : ndarray, shape (unit,), asking price, money; nan where the row has none.
    margins : ndarray, shape (unit,), expected margin at that price (at 0 where
        there is none), money; purchase, postage and buyer's premium included.
    minutes : ndarray, shape (unit,), expected bench minutes at that price.
    highest_bids : ndarray, shape (unit,), most to pay by the go rule, money;
        nan where there is no price at all.
    loss_chances : ndarray, shape (unit,), chance of losing money at that price.
    margin_draws : ndarray, shape (unit, draw), expected margin given each
        posterior draw at that price, money; its mean over draws is `margins`.
    luck_variances : ndarray, shape (unit,), variance of the margin that is the
        device's own luck, given the draw, money squared.
    parts_margins : ndarray, shape (unit,), margin of stripping it at once at
        that price (`policy.stripping.strip_margin`), money; nan where ownership
        allows no price at all, since its parts are then not ours to sell.
    bad_rows : rows set aside, with every fault.
    """

    labels: tuple[str, ...]
    tiers: tuple[str, ...]
    prices: np.ndarray
    margins: np.ndarray
    minutes: np.ndarray
    highest_bids: np.ndarray
    loss_chances: np.ndarray
    margin_draws: np.ndarray
    luck_variances: np.ndarray
    parts_margins: np.ndarray
    verdicts: tuple[Verdict, ...]
    bad_rows: tuple[BadRow, ...]
    currency: str
    priced_by: tuple[str, ...] = ()
    limited_by: tuple[str, ...] = ()
