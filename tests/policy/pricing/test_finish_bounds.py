"""Bounds that need no plan, compared with plans: random problems without unknown faults."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from tests.policy.problems import SimpleTerms, plan_problems
from tests.tiers import holds_for
from triage.policy.pricing.finish_bounds import (
    chance_finished_at_most,
    gain_at_most,
    least_spent,
    parts_cost_more,
)
from triage.policy.problem.problem import Item, Option, PlanProblem
from triage.policy.solver.repair_plan import plan_space, solve_plan

KNOWN = plan_problems(most_options=4, latent_faults=False)


@holds_for(KNOWN, few=25, many=150)
def test_no_plan_finishes_more_often(problem):
    free = replace(
        problem,
        rate=0.0,
        access_extra=(0.0, 0.0, 0.0),
        daily_loss=0.0,
        options=tuple(
            replace(o, parts=(0.0, 0.0), extra=(0.0, 0.0), comeback=0.0, recovered=0.0)
            for o in problem.options
        ),
    )
    only_finishing = SimpleTerms((1.0, 1.0, 1.0), 0.0)
    most = solve_plan(plan_space(free), only_finishing).value
    assert most <= chance_finished_at_most(problem) + 1e-12


@holds_for(KNOWN, few=25, many=150)
def test_no_plan_adds_more_to_stripping(problem):
    fair = (replace(o, recovered=min(o.recovered, o.parts[0])) for o in problem.options)
    problem = replace(problem, options=tuple(fair))
    assert parts_cost_more(problem) and problem.stop_minutes[1] >= problem.stop_minutes[0]
    terms = SimpleTerms((110.0, 100.0, 90.0), 40.0)
    stripped = terms.parts_value - problem.stop_minutes[0] * problem.rate
    added = solve_plan(plan_space(problem), terms).value - stripped
    least = least_spent(problem)
    if least is None:
        assert added == pytest.approx(0.0, abs=1e-9)
    else:
        assert added <= max(float(gain_at_most(problem, np.array(110.0 - least - stripped))), 0.0) + 1e-9


def test_an_unlikely_repair_is_not_attempted():
    # By hand: finishing adds 60 - 20 once in ten, and a try that fails costs 20 nine times in ten.
    option = Option("swap", (0,), np.array([0.1]), minutes=(20.0, 20.0))
    problem = PlanProblem((Item("panel"),), (option,), (), np.ones(1), 1.0)
    assert least_spent(problem) == 20.0
    assert float(gain_at_most(problem, np.array(60.0 - 20.0))) == pytest.approx(0.1 * 40.0 - 0.9 * 20.0)
