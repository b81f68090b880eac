"""A cached layout gives the same plan as a new one, and stores no chances."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import strategies as st

from tests.policy.problems import SimpleTerms, plan_problems
from tests.tiers import holds_for
from triage.policy.solver.layout_cache import Layouts, shape
from triage.policy.solver.repair_plan import plan_space, solve_plan

TERMS = SimpleTerms()


def varied(problem, seed):
    """The same unit with different chances and amounts."""
    rng = np.random.default_rng(seed)
    options = tuple(
        replace(
            option,
            chance=rng.uniform(0.05, 0.95, len(option.chance)),
            minutes=tuple(rng.uniform(0.0, 60.0, 2)),
            parts=tuple(rng.uniform(0.0, 60.0, 2)),
        )
        for option in problem.options
    )
    return replace(problem, options=options)


@holds_for(plan_problems(most_options=3, most_checks=1, most_latent_faults=2), st.booleans(), few=12, many=60)
def test_a_cached_layout_gives_the_same_plan(problem, in_turn):
    layouts = Layouts()
    for seed in range(4):
        other = replace(varied(problem, seed), in_turn=in_turn)
        told, anew = (solve_plan(of(other), TERMS) for of in (layouts.plan_space, plan_space))
        assert told.value == pytest.approx(anew.value, rel=1e-12, abs=1e-12)
        assert np.array_equal(told.policy.choice, anew.policy.choice)
        assert told.plan_space.act_minutes == pytest.approx(anew.plan_space.act_minutes)
    assert all(held.problem.weights.size == 0 and not held.space.factors for held in layouts._known.values())
    # Repairs that take turns are laid out once for each order of theirs, others once.
    orders = {shape(replace(varied(problem, seed), in_turn=in_turn)) for seed in range(4)}
    assert len(layouts._known) == len(orders) and (in_turn or len(orders) == 1)
