"""Parts of a unit as the plan reads them, and what more damage does to their worth."""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import strategies as st

from tests.gold.paper import paper_forecast
from tests.gold.paper_shop import paper_shop
from tests.policy.problems_with_parts import FEES, SCHEMES
from tests.tiers import holds_for
from triage.domain.catalogue import load_catalogue
from triage.domain.shop.yields import PartYield
from triage.domain.units.unit import Finding, Unit
from triage.policy.pricing.salvage import strip_margin
from triage.policy.problem.build import plan_inputs
from triage.policy.problem.normalise import normalise

CATALOGUE = load_catalogue()
YIELDS = (
    PartYield("main-board", 80.0, 0.4, 10.0, 10.0, 3.0, "board-out"),
    PartYield("display", 60.0, 0.3, 8.0, 5.0, 2.0),
    PartYield("cameras", 20.0, 0.2, 5.0, 3.0, 2.0),
    PartYield("housing", 15.0, 0.0, 5.0, 0.0, 4.0),
    PartYield("rest", 8.0, 0.0, 4.0, 0.0, 4.0),
)
HIDDEN = {"joint-cracked": 0.3, "liquid-under-shield": 0.2, "cell-bent": 0.1}
# Seeing what was feared is no added damage: it may prove milder than feared.
KINDS = [kind.slug for kind in CATALOGUE.kind if kind.slug not in HIDDEN]


def shop_with(yields):
    shop = paper_shop()
    tiers = tuple(replace(tier, yields=yields) for tier in shop.prices.tier)
    return replace(shop, prices=replace(shop.prices, tier=tiers))


def inputs_of(unit, shop, **more):
    unit = normalise(unit, shop.catalogue)
    forecast = paper_forecast(unit, shop.catalogue, {}, **more)
    return plan_inputs(unit, forecast, shop.books_for(unit), True)


def problem_of(unit, shop, **more):
    return inputs_of(unit, shop, **more).problem


@holds_for(
    st.dictionaries(st.sampled_from(KINDS), st.integers(1, 3), max_size=5),
    st.sampled_from(KINDS),
    st.integers(1, 3),
    st.sampled_from(SCHEMES),
    st.floats(0.0, 200.0),
    few=60,
    many=1500,
)
def test_more_damage_never_raises_the_worth_in_parts(found, kind, severity, tax, paid):
    shop = shop_with(YIELDS)
    shop = replace(shop, settings=replace(shop.settings, fees=FEES, tax=tax))

    def worth(damage):
        unit = Unit("wreck", "middle", tuple(Finding(*each) for each in damage.items()))
        return strip_margin(inputs_of(unit, shop, hidden=HIDDEN), shop.settings, paid)

    more = {**found, kind: max(severity, found.get(kind, 1))}
    assert worth(more) <= worth(found) + 1e-9


def test_parts_are_priced_for_the_day_of_sale_and_share_the_purchase_by_the_book():
    # Half a month of value lost a month: 12 weeks are 2.8 months.
    shop = shop_with((PartYield("display", 75.0, weeks=12.0), PartYield("rest", 25.0)))
    shop = replace(shop, settings=replace(shop.settings, value_loss_per_month=0.1))
    display, rest = problem_of(Unit("wreck", "middle"), shop).parts
    assert (display.price, display.share) == (pytest.approx(75.0 * 0.9**2.8), 0.75)
    assert (rest.price, rest.share) == (25.0, 0.25)


def test_without_yields_or_with_a_value_of_its_own_or_for_an_owner_parts_are_valued_together():
    assert problem_of(Unit("wreck", "middle"), paper_shop()).parts == ()
    shop = shop_with(YIELDS)
    assert problem_of(Unit("wreck", "middle", parts_value=33.0), shop).parts == ()
    unit = normalise(Unit("owned", "middle", (Finding("frame-bent"),)), shop.catalogue)
    books = shop.books_for(unit)
    inputs = plan_inputs(unit, paper_forecast(unit, shop.catalogue, {}), books, owned=False)
    assert inputs.problem.parts == () and not any(item.harms for item in inputs.problem.items)


def test_seen_damage_lowers_a_part_for_sure_and_suspected_damage_as_a_chance_of_nothing():
    shop = shop_with(YIELDS)
    seen = problem_of(Unit("wreck", "middle", (Finding("display-glass-cracked", 2),)), shop)
    doubted = problem_of(Unit("wreck", "middle", (Finding("display-glass-cracked", 2, chance=0.5),)), shop)
    (lowered,), (risked,) = (problem.items[0].harms for problem in (seen, doubted))
    assert (lowered.chance, lowered.left) == (0.0, 0.35)
    assert (risked.chance, risked.left) == (pytest.approx(0.65), 1.0)


def test_a_cause_that_none_of_the_known_explains_does_the_worst_of_them():
    shop = shop_with(YIELDS)
    symptom = next(s.slug for s in CATALOGUE.symptom if "storage-or-processor-dead" in s.causes)
    causes = {symptom: {"storage-or-processor-dead": 0.5}}
    problem = problem_of(Unit("wreck", "middle", symptoms=(symptom,)), shop, causes=causes)
    harms = {harm.part: harm.chance for harm in problem.items[-1].harms}
    assert problem.items[-1].unexplained and harms["main-board"] == 1.0
