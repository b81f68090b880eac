"""What parts are worth, compared with every outcome of every part and every set of parts."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import assume

from tests.policy.every_part_outcome import EveryPart, knowledge
from tests.policy.every_policy import TooManyPolicies
from tests.policy.problems_with_parts import problems_with_parts, purchases
from tests.tiers import holds_for
from triage.policy.solver.repair_plan import plan_space, solve_plan

SMALL = problems_with_parts(most_options=2, most_checks=2, most_latent_faults=3)


@holds_for(SMALL, few=60, many=600)
def test_a_part_is_as_likely_good_as_by_every_truth(problem):
    plan = plan_space(problem)
    every = EveryPart(problem, None)
    chances, states = plan.parts, plan.space.states
    for row in np.unique(np.linspace(0, len(states) - 1, 25).astype(int)):
        if plan.space.weight[row] <= 1e-9:
            continue
        _, found, read, tries = knowledge(problem, states[row])
        # The chance of the tries so far weighs the scenarios along with what was found.
        tried = tries_likelihood(problem, states[row])
        weights = problem.weights * every.likelihood(found, read) * tried
        weights = weights / weights.sum()
        outcomes = list(every.outcomes(found, read, tries))
        for place, part in enumerate(problem.parts):
            good = sum(chance for _, lives, chance in outcomes if lives[place])
            proven = sum(chance for able, lives, chance in outcomes if lives[place] and (able or part.donor))
            assert chances.good[place, row] == pytest.approx(
                weights @ np.broadcast_to(good, weights.shape), abs=1e-6
            )
            assert chances.proven[place, row] == pytest.approx(
                weights @ np.broadcast_to(proven, weights.shape), abs=1e-6
            )
            assert chances.level[place, row] == pytest.approx(every.level(part.key, tries))


def tries_likelihood(problem, state):
    """Chance of the outcomes of all tries in each scenario, by the words of an option's digit."""
    likely = np.ones(len(problem.weights))
    first = 1 + len(problem.latent_faults) + len(problem.checks)
    for o, option in enumerate(problem.options):
        digit = int(state[first + o])
        if digit:
            rivals = [
                r
                for r, other in enumerate(problem.options)
                if r != o and set(other.closes) & set(option.closes)
            ]
            before = (digit - 1) // 2
            p = option.chance if before == 0 else option.chance_after.get(rivals[before - 1], option.chance)
            likely = likely * (p if digit % 2 else 1 - p)
    return likely


@holds_for(SMALL, purchases(), few=40, many=400)
def test_stripping_at_once_equals_the_best_of_every_set(problem, terms):
    plan = plan_space(problem)
    start = knowledge(problem, plan.space.states[0])
    every = EveryPart(problem, terms)
    weights = problem.weights * every.likelihood(*start[1:3])
    best = max(weights @ vector for vector in every.stops(*start)) / weights.sum()
    stopping = plan.stopping(terms)
    assert stopping.money[0, 0] == pytest.approx(best, abs=1e-6)


@holds_for(
    problems_with_parts(most_parts=2, spread=False, most_options=2, most_checks=1, most_latent_faults=1),
    purchases(),
    few=25,
    many=250,
)
def test_a_plan_equals_the_best_of_every_policy_and_every_set(problem, terms):
    try:
        best = EveryPart(problem, terms).best()
    except TooManyPolicies:
        assume(False)
    assert solve_plan(plan_space(problem), terms).value == pytest.approx(best, abs=1e-6)
