"""Fees and postage, line by line, with the arithmetic beside it."""

from __future__ import annotations

from dataclasses import replace

import pytest

from tests.gold.paper import paper_forecast
from tests.gold.paper_shop import paper_shop
from tests.gold.worked import lines
from triage.domain.shop.settings import Fees
from triage.domain.units.unit import Finding, Unit
from triage.policy.problem.normalise import normalise
from triage.workflows.answers.assess import assess


def test_every_fee_is_a_line_and_the_lines_add_up():
    # A sure repair, paid 60, sold at 200: buyer's premium a tenth and postage 7 are 13, selling a tenth and
    # postage 6 are 26. 200 - 60 - 13 - 26 - 2 consumables - 8 parts - 60 minutes at 1 = 31.
    shop = paper_shop()
    fees = Fees(
        inbound_postage=7.0, buyer_fee_share=0.1, selling_share=0.08, payment_share=0.02,
        outbound_postage=6.0, consumables=2.0,
    )  # fmt: skip
    shop = replace(shop, settings=replace(shop.settings, fees=fees))
    unit = normalise(Unit("antenna", "middle", (Finding("antenna-flex-torn"),)), shop.catalogue)
    work = {("antenna-flex-torn", "change-antenna-flex"): (1.0, 30, 30)}
    answered = assess(unit, shop, 60.0, forecast=paper_forecast(unit, shop.catalogue, work))
    assert answered.expected_margin == pytest.approx(31.0)
    told = lines(answered)
    assert told["buyer's premium and inbound postage"] == pytest.approx(-13.0)
    assert sum(told.values()) == pytest.approx(31.0)
