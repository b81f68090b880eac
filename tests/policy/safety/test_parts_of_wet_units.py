"""A wreck that is or may be wet is never powered, not even to test what is taken off it.

Common practice, no source: a part is tested in the device it came from, or in a donor device kept for that.
"""

from __future__ import annotations

from dataclasses import replace

import pytest

from tests.policy.safety.units import SHOP, Case, Plain, checked, random_case
from triage.domain.safety.rules import load_rules
from triage.domain.shop.yields import PartYield
from triage.domain.units.unit import Finding, Unit
from triage.errors import PlanTooLargeError
from triage.policy.solver.parts.stripping import LEFT, TESTED, UNTESTED

BOARD = PartYield("main-board", 80.0, minutes=10.0, test_minutes=5.0, access="board-out")
DISPLAY = PartYield("display", 100.0, minutes=10.0, test_minutes=5.0)


def parts_shop(*yields):
    tiers = tuple(replace(tier, yields=yields) for tier in SHOP.prices.tier)
    return replace(SHOP, prices=replace(SHOP.prices, tier=tiers))


PARTS = parts_shop(BOARD, DISPLAY)
WET = Finding("liquid-on-board", 1)
WRECKS = {
    "dry": (Unit("u", "middle", (Finding("housing-scuffed", 1),)), TESTED),
    "wet": (Unit("u", "middle", (WET,)), UNTESTED),
    "may be wet": (Unit("u", "middle", (replace(WET, chance=0.4),)), UNTESTED),
    # Opening it shows no residue, so it is dry.
    "mark turned": (Unit("u", "middle", cause="wet"), TESTED),
}


def bought(unit, price=20.0):
    # Worth so little whole that it ends up as parts, cleaned first or not.
    return Case(replace(unit, working_price=1.0), True, price, 1)


def display_is(check):
    return int(check.plan.stopping.taken[1, 0, 0])


@pytest.mark.parametrize("name", WRECKS)
def test_a_wet_wreck_stripped_as_it_lies_sells_its_parts_untested(name):
    unit, way = WRECKS[name]
    check = checked(bought(unit), PARTS)
    assert [str(breach) for breach in check.breaches()] == []
    assert display_is(check) == way


def test_a_donor_device_tests_the_display_of_a_wet_wreck():
    check = checked(bought(WRECKS["wet"][0]), parts_shop(BOARD, replace(DISPLAY, donor=True)))
    assert list(check.breaches()) == [] and display_is(check) == TESTED


def test_a_wreck_that_was_cleaned_and_dried_has_its_parts_tested():
    # It stays broken all the same: what is known of its parts after the cleaning is asked of each state.
    unit = Unit("u", "middle", (WET, Finding("storage-or-processor-dead", 1)), working_price=1.0)
    plan = checked(Case(unit, True, 20.0, 1), PARTS).plan
    view, proven = plan.plan_space.view, plan.plan_space.parts.proven[1]
    cleaned = view.fixed[:, [i for i, o in enumerate(view.problem.options) if "clean" in o.key]].any(axis=1)
    assert cleaned.any() and (proven[cleaned] > 0).any() and (proven[~cleaned] == 0).all()


@pytest.mark.parametrize("name", ["wet", "may be wet"])
def test_without_the_rule_the_checker_finds_the_test(name):
    rules = load_rules().without("test-needs-dry")
    check = checked(bought(WRECKS[name][0]), PARTS, rules=rules)
    assert display_is(check) == TESTED
    assert {breach.rule for breach in check.breaches()} == {"test-needs-dry"}


@pytest.mark.parametrize(("first", "count"), [(0, 60), pytest.param(2000, 600, marks=pytest.mark.slow)])
def test_no_plan_of_a_random_unit_with_parts_breaks_a_rule(first, count):
    found, stripped = {}, 0
    for seed in range(first, first + count):
        case = replace(random_case(Plain(seed), most_findings=2), owned=True)
        try:
            check = checked(case, PARTS)
            breaches = list(check.breaches())
        except PlanTooLargeError:
            continue
        stripped += check.plan.act(0) == "stop" and display_is(check) != LEFT
        if breaches:
            found[seed] = str(breaches[0])
    assert found == {} and stripped > count / 20
