"""Data jobs worked by hand in the paper shop (`paper_shop.py`); shares and fees are invented for the tests.

Saving takes 30 minutes at 1 each, consumables 2. All: .7 of jobs that can be read, part: .2, none: .1;
part of the data pays half. Rule: margin 25, 10 an hour, losses in at most 6 of 20.
"""

from __future__ import annotations

from dataclasses import replace
from itertools import product

import numpy as np
import pytest

from tests.gold.paper import paper_forecast
from tests.gold.paper_shop import paper_shop
from tests.workflows.owners_device import SCREEN, device
from triage.domain.data_job import DataFacts
from triage.domain.shop.data_settings import DataJobs
from triage.domain.shop.settings import Fees, Tax
from triage.errors import NoQuoteError
from triage.policy.problem.normalise import normalise
from triage.workflows.answers.data_quote import quote_data

KNOWN = DataFacts(chips="yes", touch="works", code="yes", matters="photographs\nmessages")
SOCKET = SCREEN | {("connector-crushed", "change-board-connector"): (0.9, 40, 40)}


def quoted(unit, facts=KNOWN, fee=0.0, work=SCREEN, price=None, **settings):
    shop = paper_shop()
    shop = replace(shop, settings=replace(shop.settings, **settings))
    unit = normalise(unit, shop.catalogue)
    forecast = paper_forecast(unit, shop.catalogue, work)
    return quote_data(unit, shop, facts, fee, price, forecast=forecast)


def test_no_data_no_fee_by_hand():
    # Nothing stands in the way: .7 q + .2 x q/2 - 30 - 2 = .8 q - 32 >= 25 -> 71.25. Part pays 35.62 > 32,
    # so only "none" loses: 2 in 20.
    quote = quoted(device("display-panel-dead"))
    assert quote.offer.price == pytest.approx(71.25) == quote.bench.least
    assert (quote.offer.part_price, quote.offer.fee) == (pytest.approx(35.63, abs=0.006), 0.0)
    assert quote.bench.expected_margin == pytest.approx(25.0, abs=0.005)
    assert (quote.bench.losses_in_20, quote.bench.minutes) == (2, pytest.approx(30))
    # 25 on half an hour.
    assert quote.bench.margin_per_hour == pytest.approx(50.0, abs=0.01)
    # .8 q = 32.
    assert quote.bench.break_even == pytest.approx(40.0, abs=0.011)


def test_a_fee_for_trying_by_hand():
    # None pays 20, part q/2 > 20: .8 q + .1 x 20 - 32 >= 25 -> 68.75.
    quote = quoted(device("display-panel-dead"), fee=20.0)
    assert quote.offer.price == pytest.approx(68.75, abs=0.011)
    assert quote.offer.fee == 20.0 and quote.bench.losses_in_20 == 2


def test_tax_and_payment_fee_come_off_what_is_paid():
    # A service is taxed on its full price: of each payment 1 - .02 - .2 / 1.2 = .81333 stays.
    # .8 q x .81333 = 57 -> 87.60.
    more = {"tax": Tax("standard", 0.2), "fees": Fees(consumables=2.0, payment_share=0.02)}
    quote = quoted(device("display-panel-dead"), **more)
    assert quote.offer.price == pytest.approx(57 / (0.8 * (1 - 0.02 - 0.2 / 1.2)), abs=0.011)


def test_a_repair_on_the_way_by_hand():
    # The dead screen stands in nobody's way, the crushed socket does: opened and board out 20, battery out
    # 10, 40 minutes and parts at .9; then 30 and 15 to put it together, else 15. Consumables 2.
    shop = paper_shop()
    part = _socket_parts(shop)
    quote = quoted(device("display-panel-dead", "connector-crushed"), work=SOCKET)
    whole = 30 + 40 + part + 45 + 2
    # By the margin alone .9 x .8 q - .9 x whole - .1 x (whole - 30) >= 25 would do; but then part of the
    # data (.18) and none (.1 + .09) lose: 8 in 20. The rule takes 6: half the price covers a whole job.
    by_margin = (25 + 0.9 * whole + 0.1 * (whole - 30)) / 0.72
    assert by_margin < 2 * whole
    assert quote.offer.price == pytest.approx(2 * whole, abs=0.02)
    assert quote.bench.losses_in_20 == 4
    assert quote.chances.board == pytest.approx(0.9)
    assert [quote.chances.of(o) for o in ("all", "part", "none")] == pytest.approx([0.63, 0.18, 0.19])
    assert [line.included for line in quote.offer.work] == [True]


def test_where_only_a_fee_will_do_the_refusal_names_one_and_its_price():
    # Touch .7 and code .8 are not known: all .392, part .112, none .496, which loses in 10 of 20 at any
    # price. With 40 for trying none loses: .448 q + .496 x 40 - 32 >= 25 -> 82.95.
    facts = replace(KNOWN, touch="not-known", code="not-known")
    with pytest.raises(NoQuoteError) as refusal:
        quoted(device("display-panel-dead"), facts)
    assert "10 of 20" in str(refusal.value)
    assert "fee for trying of €40.00, a price of €82.95 meets it" in str(refusal.value)
    assert quoted(device("display-panel-dead"), facts, fee=40.0).offer.price == pytest.approx(
        82.95, abs=0.011
    )
    # A shop that asks 20 is told the least whole fee that does, 32: .448 q + .496 x 32 = 57 -> 91.81.
    with pytest.raises(NoQuoteError, match="fee for trying of €32.00, a price of €91.81 meets it"):
        quoted(device("display-panel-dead"), facts, data=DataJobs(trying_fee=20.0))


def test_a_fee_never_pays_for_giving_up():
    # 100 for trying would pay for handing it back at once; what was promised is done all the same.
    unit = device("display-panel-dead", "connector-crushed")
    free, paid = (quoted(unit, fee=fee, work=SOCKET, price=300.0) for fee in (0.0, 100.0))
    assert paid.chances == free.chances and paid.bench.minutes == pytest.approx(free.bench.minutes)
    # .19 of jobs pay 100 instead of nothing; part pays 150 either way.
    assert paid.bench.expected_margin - free.bench.expected_margin == pytest.approx(19.0)


def test_a_price_by_hand_below_cost_is_said_to_be():
    # .8 x 30 - 32 = -8; all pays 30, so every job loses.
    quote = quoted(device("display-panel-dead"), price=30.0)
    assert quote.bench.below_cost and quote.bench.expected_margin == pytest.approx(-8.0)
    assert quote.bench.losses_in_20 == 20


def test_a_donor_display_takes_its_minutes():
    # 20 minutes more: .8 q - 52 >= 25 -> 96.25; part pays 48.1 < 52 and loses: .3 is 6 in 20, allowed.
    quote = quoted(device("display-panel-dead"), replace(KNOWN, touch="donor"))
    assert quote.offer.price == pytest.approx(96.25, abs=0.011) and quote.bench.losses_in_20 == 6


@pytest.mark.parametrize(
    ("facts", "words"),
    [
        (replace(KNOWN, chips="no"), "processor and storage are not together"),
        (replace(KNOWN, code="no"), "no lock is bypassed"),
        (replace(KNOWN, touch="no"), "no donor display"),
    ],
)
def test_data_that_cannot_be_read_here_are_not_quoted_but_referred(facts, words):
    with pytest.raises(NoQuoteError, match=words) as refusal:
        quoted(device("display-panel-dead"), facts, price=500.0)
    assert "licensed data recovery practice" in str(refusal.value)


def test_the_chances_are_those_of_a_listing_of_the_four_conditions():
    # Every way the four may fall out, and what reading then gives: nothing but a sum over them.
    rng, shop = np.random.default_rng(17), paper_shop()
    unit = normalise(device("display-panel-dead", "connector-crushed"), shop.catalogue)
    for _ in range(12):
        all_share, part_share = rng.dirichlet([4, 2, 1])[:2].round(3)
        chips, touch, code = rng.uniform(0.6, 1, 3).round(3)
        beliefs = DataJobs(
            all_share=float(all_share), part_share=float(part_share), chips_share=float(chips),
            touch_share=float(touch), code_share=float(code),
        )  # fmt: skip
        facts = DataFacts(
            chips=rng.choice(["yes", "not-known"]), touch=rng.choice(["works", "donor", "not-known"]),
            code=rng.choice(["yes", "not-known"]),
        )  # fmt: skip
        told = quote_data(
            unit, replace(shop, settings=replace(shop.settings, data=beliefs)), facts, 0.0, 400.0,
            forecast=paper_forecast(unit, shop.catalogue, SOCKET),
        )  # fmt: skip
        holds = {
            "board": 0.9,
            "chips": chips if facts.chips == "not-known" else 1.0,
            "touch": touch if facts.touch == "not-known" else 1.0,
            "code": code if facts.code == "not-known" else 1.0,
        }
        listed = {"all": 0.0, "part": 0.0, "none": 0.0}
        for truth in product([True, False], repeat=4):
            weight = np.prod([p if t else 1 - p for p, t in zip(holds.values(), truth, strict=True)])
            if not all(truth):
                listed["none"] += weight
                continue
            for outcome, share in zip(
                listed, (all_share, part_share, 1 - all_share - part_share), strict=True
            ):
                listed[outcome] += weight * share
        assert {o: told.chances.of(o) for o in listed} == pytest.approx(listed)
        # And the expected margin is that of the listing: paid by outcome, cost by the board alone.
        paid = 400.0 * (listed["all"] + 0.5 * listed["part"])
        donor = 20.0 if facts.touch == "donor" else 0.0
        cost = 30 + 40 + _socket_parts(shop) + 0.9 * (45 + donor) + 0.1 * 15 + 2
        assert told.bench.expected_margin == pytest.approx(paid - cost)


def _socket_parts(shop):
    return sum(
        next((e.price["middle"] for e in shop.prices.part if e.part == slug), 0.1 * 200.0)
        for slug in ("connector", "solder-and-flux")
    )
