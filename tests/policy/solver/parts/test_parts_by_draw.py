"""The worth of parts given each posterior draw, compared with every truth in that draw."""

from __future__ import annotations

import numpy as np
import pytest

from tests.policy.every_part_outcome import EveryPart, knowledge
from tests.policy.problems_with_parts import problems_with_parts, purchases
from tests.tiers import holds_for
from triage.policy.solver.repair_plan import plan_space, solve_plan
from triage.policy.solver.spread import margin_by_draw
from triage.policy.solver.state_space import EndingKind

SMALL = problems_with_parts(most_options=2, most_checks=1, most_latent_faults=2, spread=False)


@holds_for(SMALL, purchases(), few=20, many=200)
def test_margins_by_draw_average_to_the_value(problem, terms):
    plan = solve_plan(plan_space(problem), terms)
    margin, weight = margin_by_draw(plan, terms)
    assert weight @ margin == pytest.approx(plan.value, abs=1e-6)


@holds_for(SMALL, purchases(), few=40, many=300)
def test_a_unit_stripped_at_once_is_worth_in_each_draw_what_its_truths_are(problem, terms):
    plan = solve_plan(plan_space(problem), terms)
    if plan.act(0) is not EndingKind.STOP:
        return
    start = knowledge(problem, plan.plan_space.space.states[0])
    every = EveryPart(problem, terms)
    weights = problem.weights * every.likelihood(*start[1:3])
    # Of all sets the one that is best on average over the draws, and what it is worth in each.
    best = max(every.stops(*start), key=lambda vector: weights @ vector)
    margin, weight = margin_by_draw(plan, terms)
    assert weight == pytest.approx(weights / weights.sum())
    others = [v for v in every.stops(*start) if weights @ v > weights @ best - 1e-9]
    assert any(np.allclose(margin[weight > 0], v[weight > 0], atol=1e-6) for v in others)
