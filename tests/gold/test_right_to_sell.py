"""Devices whose right to sell is open, worked by hand first: common practice and invented figures, no source.

The device: a torn antenna flex, open 10, work 10 and 8 for the part at .95; finishing takes 20 and it
sells for 200; where the repair fails it is stripped, 20, for 60. With its right clear, bought at b:

    works  -28 + 180 - 2 - b = 150 - b;   fails  -28 + 40 - 2 - b = 10 - b;   V = 143 - b, in 40 minutes.
    The work alone, which a late refusal loses: 40 minutes at 1 and 8 for the part: 48.
"""

from __future__ import annotations

import json
from dataclasses import replace

import pytest

from tests.gold.paper import paper_forecast
from tests.gold.paper_shop import TODAY, paper_shop
from tests.gold.worked import lines
from triage.domain.shop.right_to_sell import RightToSell, SourceBelief
from triage.domain.units.unit import Finding, Ownership, Unit
from triage.policy.answer.assessment import Verdict
from triage.policy.problem.normalise import normalise
from triage.reports.json_output.answer import assessment_object
from triage.reports.wording.plan import step_words
from triage.workflows.answers.assess import assess
from triage.workflows.answers.pricing import unit_pricing
from triage.workflows.shop.shop import open_shop

SURE = SourceBelief(1.0, 1.0, 1.0, 1.0, 0.0)
FLEX = (Finding("antenna-flex-torn"),)
WORK = {("antenna-flex-torn", "change-antenna-flex"): (0.95, 10, 10)}


def answered(ownership, ask=None, findings=FLEX, walk_in=False, work=WORK, more=None, unit=None, **beliefs):
    """The answer of the paper shop; `beliefs` by source, all else sure; hand over 20, sign off 8."""
    told = {"owner_in_person": SURE, "trade_seller": SURE, "auction": SURE, "unknown": SURE} | beliefs
    shop = paper_shop()
    shop = replace(shop, settings=replace(shop.settings, right_to_sell=RightToSell(**told)))
    unit = unit or Unit("in doubt", "middle", findings)
    unit = normalise(replace(unit, ownership=ownership), shop.catalogue)
    return assess(unit, shop, ask, walk_in, paper_forecast(unit, shop.catalogue, work, **(more or {})))


def test_a_lock_that_the_seller_can_sign_out_of_and_what_that_is_worth():
    # Locked 1 in 5; half the price comes back. Bought blind at 60, and the seller asked then (8):
    #   clear    .8: 83 - 8 = 75
    #   refused  .2: -60 - 2 - 8 - 20 to hand it over + 30 back = -60
    # .8 x 75 - .2 x 60 = 48. Loses: refused .2, and clear but failed .8 x .05 (10 - 60 - 8): .24, 5 dots.
    # Minutes .8 x 40 + 8 + .2 x 20 = 44. The worst tenth lies within the refusals: -60.
    # Highest price: .8 (135 - b) + .2 (-30 - b / 2) = 102 - .9 b >= 25 at 85.55.
    # Asked first: 8, and .8 x 83 where it is clear, nothing paid where it is not: 58.40, so worth 10.40,
    # which is what refusals cost once it is paid: .2 x (62 - 30 + 20).
    owner = Ownership("cannot-tell", enrolled="clear", source="owner-in-person")
    told = answered(owner, 60.0, owner_in_person=SourceBelief(1.0, 0.8, 1.0, 1.0, 0.5))
    assert told.expected_margin == pytest.approx(48.0, abs=1e-9)
    assert (told.losses_in_20, told.minutes, told.shortfall) == (5, pytest.approx(44.0), pytest.approx(-60.0))
    assert told.limit == pytest.approx(85.55, abs=1e-9)
    (lock, later) = told.right.questions
    assert (lock.topic, lock.way, lock.settled) == ("locked", "sign-off", "before-paying")
    assert lock.worth == pytest.approx(10.4) and told.right.gain == pytest.approx(10.4)
    assert (later.topic, later.settled, later.worth) == ("later", "never", None)
    assert told.right.first == "locked" and told.verdict == "check first"
    assert "€10.40" in told.sentence and "€85.55 or less" in told.sentence
    money = lines(told)
    assert money["price back where the right is refused"] == pytest.approx(0.2 * 30)
    assert money["settling the right to sell, handing over"] == pytest.approx(-8 - 0.2 * 20)
    assert money["sale"] == pytest.approx(0.8 * 0.95 * 200) and money["purchase price"] == -60
    assert sum(money.values()) == pytest.approx(48.0, abs=1e-9)
    # Once settled the same device is worth what it was all along, and nothing is open.
    settled = answered(Ownership("clear", enrolled="clear"), 60.0)
    assert (settled.right, settled.verdict) == (None, "take it")
    assert settled.expected_margin == pytest.approx(83.0)


def test_what_is_bought_unseen_is_settled_first_of_all():
    # From an auction nothing can be asked before paying. Not locked .9, starting it 6, nothing comes back:
    # .9 (143 - 40 - 6) + .1 (-40 - 2 - 6 - 20) = 87.3 - 6.8 = 80.50. Loses .1 + .9 x .05 = .145: 3 dots.
    # Limit: .9 (137 - b) + .1 (-28 - b) = 120.5 - b >= 25: 95.50.
    unseen = Ownership("cannot-tell", enrolled="clear", source="auction")
    told = answered(unseen, 40.0, auction=SourceBelief(1.0, 0.9, 1.0, 1.0, 0.0))
    assert told.expected_margin == pytest.approx(80.5) and told.losses_in_20 == 3
    assert (told.verdict, told.limit) == ("take it", pytest.approx(95.5))
    assert (told.right.first, told.right.gain) == (None, 0.0)
    first = told.steps_now[0]
    assert (first.kind, first.minutes) == ("ownership", 6.0)
    assert "being refused counted" in told.sentence
    dear = answered(unseen, 100.0, auction=SourceBelief(1.0, 0.9, 1.0, 1.0, 0.0))
    assert dear.verdict == "leave it" and "at €95.50 or less" in dear.sentence


def test_a_device_listed_after_it_was_bought_loses_the_work_too():
    # Nothing is open but what nobody can settle: listed later 1 in 10; a trade seller pays all of it back.
    # .9 (143 - 50) + .1 (-50 - 2 - 48 - 20 + 50) = 83.7 - 7 = 76.70; there is nothing to ask.
    # Minutes 40 + .1 x 20. Limit .9 (143 - b) + .1 x -70 = 121.7 - .9 b >= 25: 107.44.
    trade = Ownership(source="trade-seller")
    told = answered(trade, 50.0, trade_seller=SourceBelief(1.0, 1.0, 1.0, 0.9, 1.0))
    assert told.expected_margin == pytest.approx(76.7) and told.minutes == pytest.approx(42.0)
    assert (told.verdict, told.limit) == ("take it", pytest.approx(107.44))
    assert sum(lines(told).values()) == pytest.approx(76.7, abs=1e-9)


def test_two_questions_are_settled_in_turn_up_to_the_first_refusal():
    # Numbers (3 minutes, clear .9), then registers (5, clear .8), price 30, nothing back. Blind:
    #   listed .1: -30 - 2 - 3 - 20 = -55; enrolled .9 x .2: -60; clear .72: 113 - 8 = 105. Sum 59.30.
    # Loses .1 + .18 + .72 x .05 = .316: 6 dots. Numbers first: .9 x (-5 + .8 x 113 - .2 x 52) - 3 =
    # .9 x 75 - 3 = 64.50, worth 5.20; registers first: .8 (.9 x 110 - .1 x 55) - 5 = 69.80, worth 10.50.
    # Both, registers first: .8 (-3 + .9 x 113) - 5 = 73.96; numbers first: .9 (-5 + .8 x 113) - 3 = 73.86.
    unknown = Ownership("clear", "not-checked", enrolled="not-checked", source="unknown")
    told = answered(unknown, 30.0, unknown=SourceBelief(0.9, 1.0, 0.8, 1.0, 0.0))
    assert told.expected_margin == pytest.approx(59.3) and told.losses_in_20 == 6
    assert [one.worth for one in told.right.questions] == [pytest.approx(5.2), pytest.approx(10.5), None]
    assert (told.right.first, told.right.gain) == ("enrolled", pytest.approx(73.96 - 59.3))


def test_a_wreck_without_power_wet_and_of_unknown_owner():
    """Written out before it was run.

    It is wet, so nobody may start it: its lock can be settled once it is cleaned and repaired, and not
    before. Until then nothing may be stripped, so its parts, certain for a device whose right is clear,
    are worth nothing here, and a repair that fails leaves nothing. The numbers and registers can be
    looked up before paying; say both are clear. Locked to somebody is then still 2 in 5, and listed later
    3 in 100: 1 - .6 x .97 = .418, refused 8 times in 20 after the work, where the rule allows 6 losses.
    So no price is low enough, and no check before paying changes that: leave it. Its owner, there in
    person, can sign out of it however dead it is: then it is worth asking.
    """
    unit = Unit("wreck", "middle", symptoms=("no-power",), cause="wet", battery="sound")
    work = {
        ("cell-deep-discharged", "replace-cell"): (1.0, 20, 20),
        ("power-key-flex-cut", "change-power-key-flex"): (0.95, 20, 20),
    }
    more = {"causes": {"no-power": {"cell-deep-discharged": 0.5, "power-key-flex-cut": 0.5}}}
    beliefs = {"unknown": RightToSell().unknown, "owner_in_person": RightToSell().owner_in_person}

    def at(ownership, ask=5.0):
        return answered(ownership, ask, unit=unit, work=work, more=more, **beliefs)

    wreck = at(Ownership("cannot-tell", "not-checked", source="unknown"))
    lock = next(one for one in wreck.right.questions if one.topic == "locked")
    assert (lock.settled, lock.way, lock.worth) == ("once-it-works", "boot-check", None)
    assert wreck.right.bars_stripping and lines(wreck).get("sold as parts", 0.0) == 0.0
    assert (wreck.verdict, wreck.limit, wreck.right.first) == ("leave it", None, None)
    assert wreck.losses_in_20 >= 8 and wreck.steps_now == ()
    assert "Even if all that can be checked before you pay is clear" in wreck.sentence
    # The lock is looked at before the sale; while it is not, "sell" does not stand in the plan.
    order = [(step.kind, step.subject) for step in wreck.steps]
    assert order.index(("ownership", "locked")) == order.index(("sell", "")) - 1
    settle = wreck.steps[order.index(("ownership", "locked"))]
    assert "hand it back" in step_words(settle, paper_shop().catalogue)
    # Nothing in the plan strips it, whichever branch it takes, and no words of it say so.
    object = assessment_object(replace(wreck, verdict=Verdict.TAKE), paper_shop().catalogue)
    assert '"strip"' not in json.dumps(object) and "strip it for parts" not in json.dumps(object)
    assert '"kind": "sell"' in json.dumps(object) and "do not strip it" in json.dumps(object)
    owner = at(Ownership("cannot-tell", "not-checked", source="owner-in-person"))
    assert owner.verdict == "check first" and owner.right.first is not None and owner.limit > 0
    clear = at(Ownership("clear", "agrees"))
    assert clear.verdict == "take it" and owner.limit < clear.limit


def test_no_doubt_allows_what_a_lock_of_another_a_list_and_a_mismatch_forbid():
    kind = SourceBelief(1.0, 1.0, 1.0, 1.0, 1.0)
    for refused in (
        Ownership("locked-to-another", source="trade-seller"),
        Ownership("cannot-tell", listed=True, source="trade-seller"),
        Ownership("cannot-tell", "mismatch", source="trade-seller"),
        Ownership("cannot-tell", enrolled="enrolled", source="trade-seller"),
    ):
        told = answered(refused, 1.0, trade_seller=kind)
        assert (told.verdict, told.limit, told.steps, told.right) == ("leave it", None, (), None)


def test_an_owners_device_is_not_touched_by_any_of_it():
    doubt = Ownership("cannot-tell", "not-checked", proof_recorded=True, source="unknown")
    told = answered(doubt, walk_in=True, unknown=SourceBelief(0.5, 0.5, 0.5, 0.5))
    plain = answered(Ownership(proof_recorded=True), walk_in=True)
    assert (told.right, told.limit, told.expected_margin) == (None, plain.limit, plain.expected_margin)


@pytest.mark.parametrize("source", ["owner-in-person", "trade-seller", "auction", "unknown"])
@pytest.mark.parametrize("findings", [FLEX, (Finding("cell-swollen"), Finding("display-panel-dead"))])
def test_the_lines_sum_to_the_margin_with_every_fee_of_the_shipped_shop(source, findings):
    shop = open_shop(today=TODAY)
    fees = replace(shop.settings.fees, buyer_fee_share=0.12)
    shop = replace(shop, settings=replace(shop.settings, fees=fees))
    held = Ownership("cannot-tell", "not-checked", source=source)
    told = assess(Unit("u", "upper", findings, ownership=held), shop, 50.0)
    assert lines(told)["buyer's premium and inbound postage"] < -50 * 0.12
    assert sum(lines(told).values()) == pytest.approx(told.expected_margin, abs=1e-6)


def test_a_dead_device_of_the_shipped_shop_brings_nothing_for_parts_while_its_lock_is_open():
    # Its price book lists parts one by one; where the plan stops they stay in, and it is handed over.
    shop = open_shop(today=TODAY)
    unit = Unit("dead", "top", (Finding("camera-dead"),), symptoms=("no-power",), battery="sound")
    clear = assess(unit, shop, 20.0)
    told = assess(replace(unit, ownership=Ownership("cannot-tell", source="auction")), shop, 20.0)
    assert lines(clear)["sold as parts"] > 1.0 and clear.stripped is not None
    assert told.right.bars_stripping and "sold as parts" not in lines(told) and told.stripped is None
    assert sum(lines(told).values()) == pytest.approx(told.expected_margin, abs=1e-6)


@pytest.mark.parametrize("kind", ["display-panel-dead", "storage-or-processor-dead", "cell-worn"])
def test_with_parts_one_by_one_the_price_is_where_the_rule_first_fails(kind):
    # A cent more breaks the rule; it holds at the price, and at those looked at below it.
    shop = open_shop(today=TODAY)
    held = Ownership("clear", "not-checked", enrolled="clear", source="trade-seller")
    pricing = unit_pricing(Unit("u", "upper", (Finding(kind),), battery="sound", ownership=held), shop)
    rule = shop.settings.go_rule
    assert pricing.inputs.problem.parts
    clear = unit_pricing(replace(pricing.unit, ownership=Ownership()), shop).limit
    found = pricing.limit
    assert (found is None) == (not pricing.outcome_at(0.0).meets(rule))
    if found is not None:
        assert found < clear and not pricing.outcome_at(found + 0.01).meets(rule)
        assert all(pricing.outcome_at(paid).meets(rule) for paid in (0.0, found / 3, found / 2, found))
