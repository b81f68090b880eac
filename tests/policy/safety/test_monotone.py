"""With battery and liquid facts the value stays monotone in the price and in the chance of one finding."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from tests.policy.safety.units import SHOP, Case, Plain, forecast_for, random_case
from triage.domain.units.unit import Finding
from triage.errors import PlanTooLargeError
from triage.policy.pricing.valuation import Valuation
from triage.policy.problem.build import plan_inputs
from triage.policy.problem.normalise import normalise
from triage.policy.solver.reduce import small_enough

PRICES = (0.0, 15.0, 60.0, 200.0, 900.0)


def margins(case: Case, chance: float | None = None) -> list[float]:
    """Expected margin at each price, with the given chance of the finding's repairs."""
    unit = normalise(case.unit, SHOP.catalogue)
    told = forecast_for(unit, case.seed)
    if chance is not None:
        kinds = {finding.kind for finding in unit.findings}
        surer = {
            key: replace(repair, chance=np.full_like(repair.chance, chance)) if key[0] in kinds else repair
            for key, repair in told.repairs.items()
        }
        told = replace(told, repairs=surer)
    inputs, space, _ = small_enough(plan_inputs(unit, told, SHOP.books_for(unit), case.owned), 6000)
    valuation = Valuation(inputs, SHOP.settings, space)
    if case.owned:
        return [valuation.bought_at(price).expected_margin for price in PRICES]
    return [valuation.quoted_at(price, 0.0).expected_margin for price in PRICES]


def cases(first: int, count: int) -> list[Case]:
    return [random_case(Plain(seed), most_findings=1) for seed in range(first, first + count)]


@pytest.mark.parametrize(
    ("first", "count"), [(20_000, 60), pytest.param(21_000, 600, marks=pytest.mark.slow)]
)
def test_margin_falls_with_the_price_paid_and_rises_with_the_price_received(first, count):
    for case in cases(first, count):
        try:
            found = np.diff(margins(case))
        except PlanTooLargeError:
            continue
        assert (found <= 1e-9).all() if case.owned else (found >= -1e-9).all(), case


@pytest.mark.parametrize(
    ("first", "count"), [(20_000, 60), pytest.param(21_000, 600, marks=pytest.mark.slow)]
)
def test_a_likelier_repair_of_the_only_finding_is_never_worse(first, count):
    tried = 0
    for case in cases(first, count):
        if not case.unit.findings or case.unit.symptoms:
            continue
        case = replace(case, unit=replace(case.unit, findings=(Finding(case.unit.findings[0].kind),)))
        tried += 1
        by_chance = np.array([margins(case, chance) for chance in (0.1, 0.4, 0.7, 0.95)])
        assert (np.diff(by_chance, axis=0) >= -1e-9).all(), case
    assert tried >= count // 4
