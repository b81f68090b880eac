"""Each rule removed from the table, one at a time: the checker names it.

Where the planner depends on a rule, a plan made without it breaks it. Rules that
another rule of the same ending covers, and rules for acts that no plan contains,
are tested on a plan written by hand.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from tests.policy.safety.test_checker import CASES, hand_made
from tests.policy.safety.units import SHOP, Case, checked, forecast_for
from triage.domain.safety.facts import facts
from triage.domain.safety.rules import load_rules
from triage.domain.units.unit import Finding, Unit

RULES = load_rules()


def case(*kinds, owned=True, price=20.0, **more):
    more.setdefault("working_price", 3000.0)
    return Case(Unit("u", "middle", tuple(Finding(k) for k in kinds), **more), owned, price, 1)


# Made without the rule, the plan of each unit breaks it.
UNITS = {
    "suspect-is-looked-at-first": case("port-dirty", battery="suspect"),
    # A bad cell that is found makes these not worth going on with.
    "bad-is-made-safe-first": case("frame-bent", working_price=130.0),
    "closing-needs-a-sound-battery": case("frame-bent", owned=False, price=8.0, working_price=200.0),
    "pry-needs-no-suspicion": case("own-edge-loose", battery="suspect"),
    "warmth-needs-no-suspicion": case("own-glue-loose", battery="suspect"),
    "rework-heat-needs-the-battery-out": case("own-pad-lifted"),
    "press-needs-a-sound-battery": case("own-lid-loose", battery="suspect"),
    "charge-needs-a-sound-battery": case("own-gauge-lost", battery="suspect"),
    "power-needs-a-sound-battery": case("own-setting-lost", battery="suspect"),
    "bench-supply-needs-the-battery-apart": case("own-line-open", battery="suspect"),
    "test-needs-a-safe-battery": case(symptoms=("no-charge",), battery="suspect", owned=False),
    "take-out-after-the-look": case("own-pad-lifted", battery="suspect"),
    "charge-needs-dry": case("own-gauge-lost", cause="wet"),
    "power-needs-dry": case("passcode-unknown", cause="wet"),
    "bench-supply-needs-dry": case("own-line-open", "liquid-on-board"),
    "test-needs-dry": case(symptoms=("no-charge",), cause="wet"),
    "strip-takes-the-battery-out-first": case("joint-cracked", battery="suspect", working_price=60.0),
}
# The look costs more than opening: without the rule it pays to open a unit before stripping it.
SLOW_LOOK = replace(
    SHOP, settings=replace(SHOP.settings, minutes=replace(SHOP.settings.minutes, careful_look=60.0))
)
UNPLANNED = {
    # A reacting battery ends the answer before any plan is made: tests/policy/safety/test_smallest_units.py.
    "reacting-is-left-alone": (["open"], facts("reacting")),
    "cleaned-before-dried": (["dry"], facts(liquid="wet")),
    "no-damaged-battery-by-post": (["ship"], facts("out-safe")),
}
RIGHTS = {"sale-needs-the-right-to-sell", "work-needs-the-right-to-work"}  # see test_gold_units, test_safety


@pytest.mark.parametrize("slug", sorted(UNITS))
def test_a_plan_made_without_a_rule_breaks_it(slug):
    shop = SLOW_LOOK if slug == "strip-takes-the-battery-out-first" else SHOP
    unit = UNITS[slug]
    told = forecast_for(unit.unit, 1)
    if slug == "bench-supply-needs-dry":  # what is likelier to fail is tried first
        sure = {k: replace(r, chance=np.array([0.99])) for k, r in told.repairs.items() if "clean" in k[1]}
        told = replace(told, repairs=told.repairs | sure)
    assert slug not in {b.rule for b in checked(unit, shop, told).breaches()}
    assert slug in {b.rule for b in checked(unit, shop, told, RULES.without(slug)).breaches()}


@pytest.mark.parametrize(
    "rule, device, breaks", [case[:3] for case in CASES], ids=[case[0] for case in CASES]
)
def test_the_checker_does_not_report_a_removed_rule(rule, device, breaks):
    hidden = ("cell-bent",) if "cell-bent" in str(breaks) else ()
    check = hand_made(device, breaks, hidden=hidden)
    assert rule in {b.rule for b in check.breaches()}
    check.rules = RULES.without(rule)
    assert rule not in {b.rule for b in check.breaches()}


@pytest.mark.parametrize("slug", sorted(UNPLANNED))
def test_rules_for_acts_that_no_plan_contains(slug):
    acts, known = UNPLANNED[slug]
    assert [rule.slug for rule in RULES.broken(acts, known)] == [slug]
    assert not RULES.without(slug).broken(acts, known)


def test_every_rule_is_removed_once():
    assert {rule.slug for rule in RULES.rule} == set(UNITS) | {c[0] for c in CASES} | set(UNPLANNED) | RIGHTS
