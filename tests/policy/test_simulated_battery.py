"""Plans with battery acts, simulated on drawn truths by an independent bench."""

from __future__ import annotations

from collections import Counter
from types import SimpleNamespace

import numpy as np
import pytest
from hypothesis import strategies as st

from tests.policy.problems import SimpleTerms, plan_problems
from tests.policy.simulated_bench import simulate
from tests.tiers import holds_for
from triage.policy.problem.problem import Item, LatentFault, Option, PlanProblem, Safety
from triage.policy.solver.repair_plan import plan_space, solve_plan

STANDARD_ERRORS = 4.5


def assert_played_as_promised(problem, terms, times):
    plan = solve_plan(plan_space(problem), terms)
    made = Counter(
        str(plan.plan_space.space.moves[choice].kind)
        for choice in plan.policy.choice
        if choice < len(plan.plan_space.space.moves)
    )
    played = simulate(SimpleNamespace(plan=plan, upfront=0.0), terms, times, seed=5)
    error = played.std() / np.sqrt(times)
    assert abs(played.mean() - plan.value) <= STANDARD_ERRORS * error + 1e-9
    return plan, made


def problem_of(items, options, latent_faults, safety, scenarios=2):
    return PlanProblem(
        tuple(items), tuple(options), tuple(latent_faults), np.full(scenarios, 1 / scenarios), rate=0.5,
        access_minutes=(6.0, 10.0, 4.0), access_extra=(1.0, 0.0, 0.0), finish_minutes=(4.0, 9.0),
        stop_minutes=(30.0, 8.0), safety=safety,
    )  # fmt: skip


def repair(key, closes, chance, acts=(), new_battery=False):
    return Option(
        key, (closes,), np.array(chance), (20.0, 25.0), (12.0, 12.0), (0.0, 0.0), access=1,
        acts=frozenset(acts), new_battery=new_battery, salvage=0.9,
    )  # fmt: skip


def test_a_suspect_battery_is_inspected_and_other_causes_of_the_symptom_traced():
    # Hot when idle: a bad cell in one cause, a short or a charge chip in the others.
    cause = LatentFault("hot", np.array([[0.3, 0.5], [0.4, 0.3], [0.3, 0.2]]), 1, trace_minutes=14.0)
    items = [
        Item("cell", True, True, 0, 0),
        Item("short", True, False, 0, 1),
        Item("chip", True, False, 0, 2),
    ]
    options = [
        repair("cell-swap", 0, (0.95, 0.9), new_battery=True),
        repair("lift-short", 1, (0.8, 0.6), ("heat",)),
        repair("chip-swap", 2, (0.7, 0.6), ("heat",)),
    ]
    safety = Safety("suspect", look=8.0, make_safe=12.0, take_out=7.0)
    problem = problem_of(items, options, [cause], safety)
    plan, made = assert_played_as_promised(problem, SimpleTerms(), 100_000)
    assert plan.chance_finished > 0.5
    for act in ("battery-look", "look", "make-safe", "trace", "take-out", "repair"):
        assert made[act], act
    # The promise includes the minutes of each act: without them it would be higher.
    for name in ("look", "make_safe", "take_out"):
        cheaper = Safety(
            **{"battery": "suspect", "look": 8.0, "make_safe": 12.0, "take_out": 7.0} | {name: 0.0}
        )
        freed = solve_plan(plan_space(problem_of(items, options, [cause], cheaper)), SimpleTerms())
        assert freed.value > plan.value + 0.1, name


@pytest.mark.parametrize("battery", ["sound", "no-sign", "bad", "suspect"])
def test_rework_heat_with_a_hidden_bad_cell_matches_simulation(battery):
    hidden = LatentFault("cell", np.array([[0.2, 0.4], [0.8, 0.6]]), 1)
    items = [Item("joint", True, False), Item("cell", True, True, 0, 0)]
    options = [
        repair("reflow", 0, (0.8, 0.6), ("heat",)),
        repair("cell-swap", 1, (0.95, 0.9), new_battery=True),
    ]
    safety = Safety(battery, look=8.0, make_safe=12.0, take_out=7.0)
    _, made = assert_played_as_promised(problem_of(items, options, [hidden], safety), SimpleTerms(), 100_000)
    assert made["make-safe"] and bool(made["battery-look"]) == (battery == "suspect")


@holds_for(
    plan_problems(most_checks=1, most_latent_faults=2),
    st.floats(50, 400),
    st.floats(0, 150),
    few=20,
    many=300,
)
def test_random_plans_match_their_simulated_margins(problem, sale, parts_value):
    assert_played_as_promised(problem, SimpleTerms((sale, 0.8 * sale, 0.6 * sale), parts_value), 4_000)
