"""The lot as one purchase: a small one by hand, and made-up ones compared with the rule itself."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from tests.lot_selection.made_lots import made_lot
from triage.domain.shop.settings import Fees, GoRule
from triage.domain.units.lot import BadRow
from triage.lot_selection.lot_risk import lot_risk
from triage.lot_selection.scored_lot import ScoredLot
from triage.lot_selection.whole_lot import LotTerms, whole_lot

FEES = Fees(inbound_postage=7.0, disposal=1.5)
RULE = GoRule(margin=20.0, margin_per_hour=8.0, losses_in_20=6)


def four_units(verdicts=("take it", "take for parts", "leave it", "leave it"), price=0.0):
    """One to repair (100 left at no price), one to strip (30), one not worth it (-5), one refused."""
    margins = np.array([100.0, 30.0, -5.0, 250.0]) - price
    return ScoredLot(
        labels=("repair", "strip", "poor", "stolen"),
        tiers=("low",) * 4,
        prices=np.full(4, price),
        margins=margins,
        minutes=np.array([60.0, 25.0, 25.0, 60.0]),
        highest_bids=np.array([80.0, 10.0, np.nan, np.nan]),
        loss_chances=np.zeros(4),
        margin_draws=np.tile(margins[:, None], (1, 5)),
        luck_variances=np.zeros(4),
        parts_margins=np.array([20.0, 30.0, -12.0, np.nan]) - price,
        verdicts=verdicts,
        bad_rows=(BadRow(6, "torn", "torn,?", ()),),
        currency="EUR",
    )


def test_four_units_worked_by_hand():
    """After postage: 107 and 37 worked on. Freight 40; three left or unread at 1.50 each: 99.50.

    20 for each unit worked on leaves 59.50; 8 per hour for 85 minutes would leave 88.17.
    """
    whole = whole_lot(four_units(), np.zeros(4), LotTerms(freight=40.0), RULE, FEES)
    assert (whole.repaired, whole.stripped, whole.left, whole.refused) == ((0,), (1,), (2,), (3,))
    assert whole.worth == pytest.approx(99.5) and whole.minutes == 85.0 and whole.bad_rows == 1
    assert (whole.bid, whole.stopped_by) == (59.5, "margin")
    assert whole.risk.expected == pytest.approx(40.0)
    np.testing.assert_allclose(whole.shares, [107 / 144, 37 / 144, 0, 0])


def test_the_buyers_fee_falls_on_the_price():
    fees = replace(FEES, buyer_fee_share=0.19)
    whole = whole_lot(four_units(), np.zeros(4), LotTerms(freight=40.0), RULE, fees)
    assert whole.bid == 50.0


def test_a_price_used_in_scoring_is_added_back():
    at_ten = whole_lot(four_units(price=10.0), np.full(4, 10.0), LotTerms(40.0), RULE, FEES)
    assert at_ten.bid == 59.5


def test_a_unit_to_be_checked_first_counts_with_its_own_margin():
    """Bought with the lot it is worked on unchecked; its margin counts what may come of it."""
    verdicts = ("check first", "take for parts", "leave it", "leave it")
    told, same = (
        whole_lot(lot, np.zeros(4), LotTerms(), RULE, FEES) for lot in (four_units(verdicts), four_units())
    )
    assert (told.repaired, told.stripped, told.bid) == ((0,), (1,), same.bid)


def test_an_unreadable_row_has_the_stated_value():
    free = whole_lot(four_units(), np.zeros(4), LotTerms(), RULE, FEES)
    told = whole_lot(four_units(), np.zeros(4), LotTerms(bad_row_value=10.0), RULE, FEES)
    assert told.worth - free.worth == pytest.approx(10.0)


def test_with_few_hours_the_less_profitable_unit_is_left():
    whole = whole_lot(four_units(), np.zeros(4), LotTerms(hours=1.0), RULE, FEES)
    assert whole.repaired == (0,) and whole.stripped == () and whole.left == (1, 2)


def test_freight_above_the_value_of_the_lot_means_no_bid():
    whole = whole_lot(four_units(), np.zeros(4), LotTerms(freight=500.0), RULE, FEES)
    assert whole.bid is None and whole.stopped_by == "margin"
    assert whole.risk.expected == pytest.approx(whole.worth)


@pytest.mark.parametrize("seed", range(6))
def test_the_rule_holds_at_the_bid_and_not_a_cent_or_two_above(seed):
    lot = replace(made_lot(25, 60, seed, shared=12.0), prices=np.zeros(25))
    rule = GoRule(5.0 * seed, 8.0, 2 if seed % 2 else 20)
    whole = whole_lot(lot, np.zeros(25), LotTerms(freight=50.0), rule, FEES)
    worked = [*whole.repaired, *whole.stripped]
    means = (lot.margin_draws[worked] + 7.0).sum(axis=0) - 50.0 - 1.5 * (25 - len(worked))
    risk = lot_risk(means, float(lot.luck_variances[worked].sum()))
    hours = lot.minutes[worked].sum() / 60

    def holds(price):
        margin = risk.expected - price + 0.005
        losses = sum(dot - price < -0.005 for dot in risk.dots)
        return margin >= rule.margin * len(worked) and margin >= 8.0 * hours and losses <= rule.losses_in_20

    assert whole.bid > 0 and holds(whole.bid) and not holds(whole.bid + 0.02)
