"""Random units of the whole catalogue, bought and as walk-ins: no state of any plan breaks a safety rule."""

from __future__ import annotations

import pytest
from hypothesis import HealthCheck, assume, given, settings
from hypothesis import strategies as st

from tests.policy.safety.units import Plain, cases, checked, random_case
from triage.errors import PlanTooLargeError


def broken(case):
    try:
        return [str(breach) for breach in checked(case).breaches()]
    except PlanTooLargeError:
        return []


@pytest.mark.parametrize(
    ("first", "count"),
    # Seeds 58 to 65: a battery said to be absent, and a bad cell found after all.
    [(0, 200), (58, 8), pytest.param(1000, 1000, marks=pytest.mark.slow)],
)
def test_no_plan_of_a_random_unit_breaks_a_rule(first, count):
    found = {}
    for seed in range(first, first + count):
        if breaches := broken(random_case(Plain(seed), most_findings=2 if count == 200 else 4)):
            found[seed] = breaches[0]
    assert found == {}


@pytest.mark.slow
@settings(max_examples=300, deadline=None, derandomize=True, suppress_health_check=list(HealthCheck))
@given(cases())
def test_no_plan_of_a_shrinkable_unit_breaks_a_rule(case):
    assert broken(case) == []


@pytest.mark.slow
@settings(max_examples=60, deadline=None, derandomize=True, suppress_health_check=list(HealthCheck))
@given(cases(3), st.sampled_from([0.0, 1e4]))
def test_no_price_loosens_a_rule(case, price):
    from dataclasses import replace

    assume(case.unit.findings or case.unit.symptoms)
    assert broken(replace(case, price=price)) == []
