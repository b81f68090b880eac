"""The ways to go with a device side by side, by pencil and as the program says them elsewhere."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

import pytest

from tests.gold.worked import worked
from triage.domain.units.unit import Finding, Unit
from triage.domain.units.unit_file import load_unit
from triage.policy.pricing.right_to_sell import endings
from triage.policy.pricing.salvage import strip_margin, strip_minutes
from triage.shipped import shipped
from triage.workflows.answers.assess import answer_at
from triage.workflows.answers.pricing import priced_at, unit_pricing
from triage.workflows.shop.shop import open_shop

DISPLAY = ("display-panel-dead", "swap-display")


def told(answered):
    return [
        (way.kind, round(way.margin, 6), way.losses_in_20, round(way.minutes, 6)) for way in answered.ways
    ]


def test_the_plan_comes_first_then_leaving_it_and_what_would_lose():
    # Repaired as in `test_prior_repair_shows_at_the_final_test`: 34.125, 6 dots, 60 minutes.
    # Stripped at once: parts with a broken panel 30, stripping 20, consumables 2, paid 15: always -7,
    # 20 minutes.
    unit = Unit("mended before", "middle", (Finding("prior-repair"), Finding("display-panel-dead")))
    work = {DISPLAY: (0.95, 30, 30), ("joint-cracked", "reball-chip"): (0.5, 90, 90)}
    answered = worked(unit, work, ask=15, hidden={"joint-cracked": 0.25})
    assert told(answered) == [("plan", 34.125, 6, 60.0), ("leave", 0, 0, 0), ("strip", -7.0, 20, 20.0)]


def test_a_wreck_that_is_best_stripped_shows_what_repair_would_bring():
    # Stripped: 30 - 20 - 2 - 2 = 6. Repaired at .2: open 10, display 30 + 40; fixed 180, else parts
    # 30 - 20 = 10: -80 + .2 x 180 + .8 x 10 - 4 = -40; it loses in 16 of 20. Minutes 10 + 30 + 20 always.
    answered = worked(
        Unit("poor", "middle", (Finding("display-panel-dead"),)), {DISPLAY: (0.2, 30, 30)}, ask=2
    )
    assert told(answered) == [("strip", 6.0, 0, 20.0), ("leave", 0, 0, 0), ("repair", -40.0, 16, 60.0)]


@pytest.mark.parametrize("device", ["dropped-console", "harbour-tablet"])
@pytest.mark.parametrize("open_right", [False, True])
def test_the_ways_of_a_shipped_wreck_are_what_the_program_says_elsewhere(device, open_right):
    shop = open_shop(today=date(2026, 11, 25))
    unit = load_unit(shipped(f"synthetic_cases/devices/{device}.toml"), shop.catalogue, shop.prices)
    if open_right:
        unit = replace(unit, ownership=replace(unit.ownership, identity="not-checked"))
    priced = priced_at(unit_pricing(unit, shop), 40.0)
    answered, inputs = answer_at(priced), priced.pricing.inputs
    by_kind = {way.kind: way for way in answered.ways}
    first = answered.ways[0]
    assert (first.margin, first.losses_in_20) == (answered.expected_margin, answered.losses_in_20)
    assert first.minutes == pytest.approx(answered.minutes)
    assert first.margin == max(by_kind[kind].margin for kind in by_kind if kind != "leave")
    assert by_kind["leave"].margin == 0
    # Stripping by the way that lots take, which lays out no plan.
    minutes = strip_minutes(inputs, shop.settings, 40.0)
    if not open_right:
        assert by_kind["strip"].margin == pytest.approx(strip_margin(inputs, shop.settings, 40.0), abs=1e-9)
        assert by_kind["strip"].minutes == pytest.approx(minutes)
    elif "strip" in by_kind:
        outlay, value = priced.terms.upfront, strip_margin(inputs, shop.settings, 40.0) + priced.terms.upfront
        mixed = endings(priced.pricing.right, 40.0).expected(value, minutes * inputs.problem.rate) - outlay
        assert by_kind["strip"].margin == pytest.approx(mixed, abs=1e-9)


def test_an_owners_device_and_one_that_nobody_may_sell_have_no_such_choice():
    shop = open_shop(today=date(2026, 11, 25))
    unit = load_unit(shipped("synthetic_cases/devices/dropped-console.toml"), shop.catalogue, shop.prices)
    assert answer_at(priced_at(unit_pricing(unit, shop, walk_in=True))).ways == ()
    locked = replace(unit, ownership=replace(unit.ownership, lock="locked-to-another"))
    assert answer_at(priced_at(unit_pricing(locked, shop), 40.0)).ways == ()
