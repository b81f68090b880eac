"""Stripping at once, proved best without a plan, with the arithmetic beside it."""

from __future__ import annotations

import pytest

from tests.gold.paper import paper_forecast
from tests.gold.paper_shop import paper_shop
from tests.gold.worked import worked
from triage.domain.shop.settings import GoRule
from triage.domain.units.unit import Finding, Unit
from triage.policy.pricing.salvage import parts_only, strip_meets
from triage.policy.problem.build import plan_inputs
from triage.policy.problem.normalise import normalise

WORK = {("antenna-flex-torn", "change-antenna-flex"): (1.0, 30, 30)}


@pytest.mark.parametrize("working_price, strip", [(100, True), (107, True), (109, False), (120, False)])
def test_a_device_is_stripped_where_even_a_certain_repair_earns_less(working_price, strip):
    # As parts 60 - 20 = 40. A sure repair: price - open 10 - flex 30 - 8 - finish 20; 108 is even.
    shop = paper_shop()
    unit = Unit("antenna", "middle", (Finding("antenna-flex-torn"),), working_price=working_price)
    unit = normalise(unit, shop.catalogue)
    inputs = plan_inputs(unit, paper_forecast(unit, shop.catalogue, WORK), shop.books_for(unit), True)
    assert parts_only(inputs, shop.settings) is strip


@pytest.mark.parametrize("rule, meets", [((25, 80), True), ((25, 85), False), ((29, 80), False)])
def test_the_shops_rule_applies_to_a_unit_stripped_at_once(rule, meets):
    # Parts 60 - stripping 20 - consumables 2 - paid 10 = 28, in 20 minutes: 84 an hour.
    shop = paper_shop()
    unit = normalise(Unit("antenna", "middle", (Finding("antenna-flex-torn"),)), shop.catalogue)
    inputs = plan_inputs(unit, paper_forecast(unit, shop.catalogue, WORK), shop.books_for(unit), True)
    assert strip_meets(inputs, shop.settings, GoRule(*map(float, rule), 6), 10.0) is meets


def test_the_bench_minutes_of_a_certain_job_are_those_of_its_steps():
    # Open 10, flex 30, finish 20 (closing and sealing 10, checking 10): 60, and each step tells its own.
    unit = Unit("antenna", "middle", (Finding("antenna-flex-torn"),))
    answered = worked(unit, WORK, ask=60)
    assert answered.minutes == pytest.approx(60.0)
    assert sum(step.minutes or 0.0 for step in answered.steps) == pytest.approx(60.0)
