"""Free perfect information is an upper bound on the value of a plan."""

from __future__ import annotations

import pytest
from hypothesis import assume

from tests.policy.problems import SimpleTerms, plan_problems
from tests.tiers import holds_for
from triage.policy.pricing.salvage_dominance import known_truths
from triage.policy.solver.repair_plan import plan_space, solve_plan


@holds_for(plan_problems(most_options=3, most_checks=1, most_latent_faults=2), few=15, many=80)
def test_perfect_information_bounds_the_value_of_every_plan(problem):
    # A device has one battery, and each cause of a symptom is one damage: no branch brings two bad cells.
    # Of such a unit, which no catalogue can describe, the plan's value is known to be wrong (2026-11-30).
    bad = [
        (item.latent_fault, item.branch) for item in problem.items if item.hazard and item.latent_fault >= 0
    ]
    assume(len(bad) == len(set(bad)))
    terms = SimpleTerms()
    value = solve_plan(plan_space(problem), terms).value
    told = [(chance, plan_space(known)) for chance, known, _ in known_truths(problem)]
    assert sum(chance for chance, _ in told) == pytest.approx(1.0)
    assert value <= sum(chance * solve_plan(space, terms).value for chance, space in told) + 1e-9
