"""What a unit file implies about battery and liquid; known check results are dated."""

from __future__ import annotations

from datetime import date

import pytest

from triage.domain.catalogue import load_catalogue
from triage.domain.units.suspicion import battery_at_intake, latest_results, liquid_at_intake
from triage.domain.units.unit import CheckResult, Finding, Unit
from triage.policy.problem.normalise import normalise
from triage.policy.problem.ownership import NO_PRICE, rule_on

CATALOGUE = load_catalogue()
OLD, NEW = date(2026, 11, 1), date(2026, 11, 20)


def looked(*results):
    return Unit("u", "middle", readings=tuple(CheckResult("cell-look", *result) for result in results))


@pytest.mark.parametrize(
    ("results", "found"),
    [
        ([(True, OLD), (False, NEW)], False),
        ([(False, OLD), (True, NEW)], True),
        ([(True,), (False,)], True),  # of undated contradictory results the worse counts
        ([(False, NEW), (True,)], True),
        ([(True, NEW), (False, NEW)], True),
        ([(False, OLD)], False),
    ],
)
def test_the_newest_result_counts_and_the_worst_of_several(results, found):
    unit = looked(*results)
    assert latest_results(unit) == {"cell-look": found}
    assert normalise(unit, CATALOGUE).readings == (CheckResult("cell-look", found),)
    assert battery_at_intake(unit, CATALOGUE) == ("bad" if found else "sound")


def test_a_battery_look_that_was_not_sound_is_a_bad_battery_without_a_finding():
    kinds = {finding.kind for finding in normalise(looked((True,)), CATALOGUE).findings}
    assert any(CATALOGUE.kinds[kind].battery == "hazard" for kind in kinds)


@pytest.mark.parametrize("buying", [True, False])
def test_an_identity_look_where_something_does_not_agree_is_a_mismatch(buying):
    unit = Unit("u", "middle", readings=(CheckResult("identity-and-lock-look", True),))
    assert rule_on(unit, CATALOGUE, buying).standing == NO_PRICE
    agreed = Unit("u", "middle", readings=(CheckResult("identity-and-lock-look", False),))
    assert rule_on(agreed, CATALOGUE, buying).standing != NO_PRICE


@pytest.mark.parametrize(
    ("unit", "liquid"),
    [
        (Unit("u", "middle"), "none"),
        (Unit("u", "middle", cause="wet"), "may-be-wet"),
        (Unit("u", "middle", (Finding("liquid-mark-dry"),)), "may-be-wet"),
        (Unit("u", "middle", (Finding("liquid-on-board", chance=0.4),)), "may-be-wet"),
        (Unit("u", "middle", (Finding("liquid-on-board"),)), "wet"),
    ],
)
def test_liquid(unit, liquid):
    assert liquid_at_intake(unit, CATALOGUE) == liquid
