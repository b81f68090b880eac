"""From a scored lot to a choice: who may be chosen, limits by label, what more would bring."""

from __future__ import annotations

import csv
import io
import json
from dataclasses import replace

import numpy as np
import pytest

from tests.lot_selection.made_lots import made_lot
from triage.domain.shop.settings import Fees, GoRule, Settings, Tax
from triage.errors import LotChoiceError
from triage.lot_selection.lot_choice import Wanted
from triage.lot_selection.packed_lot import packed, unpacked
from triage.lot_selection.whole_lot import LotTerms
from triage.reports.json_output.answer import as_json
from triage.reports.terminal.lot import choice_object
from triage.reports.wording.lot import bid_list, choice_words
from triage.workflows.lots.choose import bid_for_whole, choose_from_lot, in_counts

SHOP = Settings("a made-up bench", "EUR", fees=Fees(inbound_postage=5.0, buyer_fee_share=0.1))
VERDICTS = ("take it", "leave it", "take for parts", "check first")


def lot_of(units=24, seed=4):
    lot = made_lot(units, 40, seed, verdicts=tuple(VERDICTS[n % 4] for n in range(units)))
    lot.parts_margins[1] = np.nan
    lot.prices[4] = np.nan
    return lot


def test_only_what_the_rule_takes_at_its_price_is_chosen():
    choice = choose_from_lot(lot_of(), SHOP, Wanted())
    places = [int(line.label.split()[1]) for line in choice.taken]
    assert places and all(place % 2 == 0 and place != 4 for place in places)
    assert choice.offered == 11
    assert choice.lines[1].margin is None and choice.lines[1].loss_chance is None
    assert choice.hour_worth is None and choice.cash_worth is None


def test_limits_are_kept_with_fees_and_postage():
    lot = lot_of()
    choice = choose_from_lot(lot, SHOP, Wanted(cash=150.0, hours=6.0, most={"upper": 1}))
    assert choice.outlay <= 150.0 and choice.hours <= 6.0
    assert choice.outlay == pytest.approx(sum(1.1 * line.price + 5.0 for line in choice.taken))
    assert sum(line.tier == "upper" for line in choice.taken) <= 1
    assert choice.risk.expected == pytest.approx(sum(line.margin for line in choice.taken))
    assert choice.by_hand.expected <= choice.value + 1e-6


def test_one_more_hour_is_worth_what_choosing_again_brings():
    lot, wanted = lot_of(), Wanted(cash=150.0, hours=6.0)
    choice = choose_from_lot(lot, SHOP, wanted)
    longer = choose_from_lot(lot, SHOP, replace(wanted, hours=7.0))
    richer = choose_from_lot(lot, SHOP, replace(wanted, cash=250.0))
    assert choice.hour_worth == pytest.approx(longer.value - choice.value, abs=1e-6)
    assert choice.cash_worth == pytest.approx(richer.value - choice.value, abs=1e-6)


def test_the_careful_choice_has_the_better_worst_tenth():
    lot = lot_of(40)
    bold = choose_from_lot(lot, SHOP, Wanted(cash=200.0, hours=8.0))
    careful = choose_from_lot(lot, SHOP, Wanted(cash=200.0, hours=8.0, goal="worst"))
    assert careful.risk.shortfall >= bold.risk.shortfall - 0.01
    assert careful.risk.expected <= bold.risk.expected + 1e-6
    assert careful.value == pytest.approx(careful.risk.shortfall)


def test_every_wrong_label_is_said_at_once():
    with pytest.raises(LotChoiceError) as refusal:
        must = ("unit 1", "unit 3", "unit 4", "unit 99", "unit 6")
        choose_from_lot(lot_of(), SHOP, Wanted(must=must, never=("unit 6",), most={"uper": 1}))
    words = str(refusal.value)
    for part in ("'unit 99' is not in this lot", "'unit 1' may not be bought", "'unit 3' needs a check",
                 "'unit 4' has no asking price", "'unit 6' cannot be both",
                 "nearest known: upper"):  # fmt: skip
        assert part in words


def test_nothing_to_take_is_an_answer():
    lot = replace(lot_of(8), verdicts=("leave it",) * 8)
    choice = choose_from_lot(lot, SHOP, Wanted(cash=10.0, hours=1.0))
    assert choice_words(choice) == "Buy none of 8: no device meets your rule at its price."
    assert (choice.outlay, choice.risk.losses_in_20, choice.hour_worth) == (0.0, 0, 0.0)
    json.loads(as_json(choice_object(choice)))


def test_bid_list_holds_every_unit_and_no_formula():
    lot = replace(lot_of(), labels=("=1+1", *(f"unit {n}" for n in range(1, 24))))
    choice = choose_from_lot(lot, SHOP, Wanted(cash=150.0))
    rows = list(csv.DictReader(io.StringIO(bid_list(choice))))
    assert len(rows) == 24 and {row["unit"] for row in rows} >= {"'=1+1", "unit 1"}
    assert [row["take"] for row in rows] == sorted((row["take"] for row in rows), reverse=True)


def test_a_lot_packed_and_unpacked_chooses_the_same():
    lot = lot_of()
    again = unpacked(json.loads(json.dumps(packed(lot))))
    wanted = Wanted(cash=150.0, hours=6.0)
    one, two = (choose_from_lot(lot, SHOP, wanted), choose_from_lot(again, SHOP, wanted))
    assert [line.label for line in one.taken] == [line.label for line in two.taken]
    assert two.risk.shortfall == pytest.approx(one.risk.shortfall, abs=0.01)
    np.testing.assert_array_equal(again.highest_bids, lot.highest_bids)


def test_a_large_lot_is_packed_with_fewer_draws_and_the_same_margins(monkeypatch):
    monkeypatch.setattr("triage.lot_selection.packed_lot.MOST_NUMBERS", 24 * 10)
    lot = lot_of()
    again = unpacked(packed(lot))
    assert again.margin_draws.shape == (24, 10)
    np.testing.assert_allclose(again.margin_draws.mean(axis=1), lot.margins, atol=1e-4)


def test_tax_on_the_margin_lets_the_bid_rise_to_where_the_rule_just_holds():
    """A unit sold at S > p pays tax (S - p)/6: its worth before the price rises by p/6.

    So of a worth W at no price and a least margin M a unit, the bid P solves W + P/6 - P = M n.
    """
    units = 10
    base = made_lot(units, 30, 1, luck=(0.0, 1.0))
    base = replace(base, margins=np.full(units, 90.0), margin_draws=np.full((units, 30), 90.0))
    base = replace(base, parts_margins=np.zeros(units))
    settings = replace(SHOP, fees=Fees(), go_rule=GoRule(20.0, 0.0, 20), tax=Tax("second-hand-margin", 0.2))

    def score(prices):
        kept = np.asarray(prices) * (1 / 6 - 1)
        return replace(
            base, prices=np.asarray(prices), margins=base.margins + kept,
            margin_draws=base.margin_draws + kept[:, None],
        )  # fmt: skip

    terms = LotTerms(freight=0.0)
    whole = bid_for_whole(score(np.zeros(units)), score, settings, terms)
    exact = (900.0 - 200.0) / (5 / 6)
    assert exact * 0.99 < whole.bid <= exact + 0.01
    assert in_counts(whole, terms).work == ("repair",) * units
