"""The repair plan compared with a listing of every policy and with Mitten's ratio rule."""

from __future__ import annotations

from dataclasses import replace
from itertools import permutations

import numpy as np
import pytest
from hypothesis import HealthCheck, assume, given, settings
from hypothesis import strategies as st

from tests.policy.every_policy import EveryPolicy, TooManyPolicies
from tests.policy.problems import SimpleTerms, plan_problems
from tests.tiers import holds_for
from triage.errors import PlanTooLargeError
from triage.policy.problem.luck import Luck
from triage.policy.problem.problem import Item, LatentFault, Option, PlanProblem
from triage.policy.problem.subproblem import keep, settled
from triage.policy.solver.repair_plan import FINISH, plan_space, solve_plan
from triage.policy.solver.simulate import posterior_scenarios
from triage.policy.solver.state_space import MoveKind


@holds_for(plan_problems(), st.floats(50, 400), st.floats(0, 150), few=20, many=150)
def test_plan_equals_the_best_of_every_policy(problem, sale, parts_value):
    assert_best_of_every_policy(problem, sale, parts_value)


@pytest.mark.slow
def test_plan_with_checks_equals_the_best_of_every_policy_on_500_cases():
    listed = 0

    @settings(max_examples=1000, deadline=None, suppress_health_check=list(HealthCheck), derandomize=True)
    @given(
        plan_problems(most_options=2, most_checks=2, most_latent_faults=2, least_checks=1),
        st.floats(50, 400),
        st.floats(0, 150),
    )
    def compare(problem, sale, parts_value):
        nonlocal listed
        assert_best_of_every_policy(problem, sale, parts_value)
        listed += 1

    compare()
    assert listed >= 500


def assert_best_of_every_policy(problem, sale, parts_value):
    terms = SimpleTerms((sale, 0.8 * sale, 0.6 * sale), parts_value)
    try:
        best = EveryPolicy(problem, terms).best()
    except TooManyPolicies:
        assume(False)
    plan = solve_plan(plan_space(problem), terms)
    assert plan.value == pytest.approx(best, abs=1e-9, rel=1e-10)


def test_least_cost_order_of_perfect_tests_matches_mitten():
    # Mitten 1960, "An analytic solution to the least cost testing sequence
    # problem": ascending cost over chance of failing. Fixture recomputed by
    # enumeration: c = 10 5 20, q = .2 .05 .6 -> order 3, 1, 2, cost 25.6.
    costs, fails = (10.0, 5.0, 20.0), (0.2, 0.05, 0.6)
    expected = {"123": 29.2, "132": 27.6, "213": 29.7, "231": 27.8, "312": 25.6, "321": 25.8}
    for order in permutations(range(3)):
        spent, alive = 0.0, 1.0
        for index in order:
            spent, alive = spent + alive * costs[index], alive * (1 - fails[index])
        assert spent == pytest.approx(expected["".join(str(i + 1) for i in order)])
    problem = least_cost_problem(costs, fails)
    # Equal stop value on failing, and a prize that makes going on always right.
    plan = solve_plan(plan_space(problem), SimpleTerms((10_000.0,) * 3, 0.0))
    passed = 0.8 * 0.95 * 0.4
    assert 10_000.0 * passed - plan.value == pytest.approx(25.6, abs=1e-9)
    state, order = 0, []
    while (act := plan.act(state)) is not FINISH:
        order.append((act.kind, act.subject))
        state = plan.policy.next_state[state, 0]
    assert order == [(MoveKind.REPAIR, test) for test in (2, 0, 1)]


# Six tests that each pass 3 in 10 leave 729 of the prize, more than all of them cost: nobody stops by choice.
@holds_for(
    st.lists(st.tuples(st.floats(1, 50), st.floats(0.02, 0.7)), min_size=2, max_size=6), few=20, many=60
)
def test_ratio_rule_where_its_conditions_hold(tests):
    costs, fails = zip(*tests, strict=True)
    order = sorted(range(len(tests)), key=lambda i: costs[i] / fails[i])
    spent, alive = 0.0, 1.0
    for index in order:
        spent, alive = spent + alive * costs[index], alive * (1 - fails[index])
    prize = 1e6
    plan = solve_plan(plan_space(least_cost_problem(costs, fails)), SimpleTerms((prize,) * 3, 0.0))
    assert prize * np.prod([1 - q for q in fails]) - plan.value == pytest.approx(spent, rel=1e-6, abs=1e-5)


def least_cost_problem(costs, fails):
    items = tuple(Item(f"part {i + 1}") for i in range(len(costs)))
    options = tuple(
        Option(f"test {i + 1}", (i,), np.array([1 - q]), minutes=(c, c))
        for i, (c, q) in enumerate(zip(costs, fails, strict=True))
    )
    return PlanProblem(items, options, (), np.ones(1), rate=1.0)


def test_one_success_raises_the_chance_of_the_next_by_the_job_effect():
    # Two repairs that share a job effect of two equally likely values: by hand,
    # P(B | A fixed) = (.9*.9 + .5*.5) / (.9 + .5), P(B | A failed) = (.1*.9 + .5*.5) / (.1 + .5).
    p = np.array([0.9, 0.5])
    items = (Item("a", required=False), Item("b", required=False))
    options = (Option("A", (0,), p, (0.0, 0.0)), Option("B", (1,), p, (0.0, 0.0)))
    space = plan_space(PlanProblem(items, options, (), np.array([0.5, 0.5]), rate=1.0)).space
    weight = {tuple(state): w for state, w in zip(space.states, space.weight, strict=True)}
    assert weight[0, 1, 1] / weight[0, 1, 0] == pytest.approx((0.81 + 0.25) / 1.4, abs=1e-12)
    assert weight[0, 2, 1] / weight[0, 2, 0] == pytest.approx((0.09 + 0.25) / 0.6, abs=1e-12)


def test_a_deep_repair_opens_level_by_level():
    deep = Option("fix", (0,), np.ones(1), (1.0, 1.0), access=2)
    problem = PlanProblem((Item("a"),), (deep,), (), np.ones(1), 1.0, access_minutes=(5.0, 7.0, 9.0))
    plan = solve_plan(plan_space(problem), SimpleTerms())
    assert plan.value == 200.0 - 5.0 - 7.0 - 1.0
    state, acts = 0, []
    while (act := plan.act(state)) is not FINISH:
        acts.append((act.kind, act.subject))
        state = plan.policy.next_state[state, 0]
    assert acts == [(MoveKind.OPEN, 0), (MoveKind.OPEN, 1), (MoveKind.REPAIR, 0)]


def test_anything_a_look_decides_is_looked_at_first():
    secret = LatentFault("secret", np.full((2, 1), 0.5), access=1)
    items = (Item("a"), Item("hidden", latent_fault=0, branch=0))
    fix = Option("fix", (0,), np.full(1, 0.5), (1.0, 1.0), access=1)
    space = plan_space(PlanProblem(items, (fix,), (secret,), np.ones(1), 1.0)).space
    opened, unknown = space.states[:, 0] >= 1, space.states[:, 1] == 0
    assert (opened & unknown).any()
    assert np.array_equal(space.acts.forced, opened & unknown)


def test_a_skipped_optional_repair_stays_skipped():
    # A pin that does without: sold for 200 with it, 160 without; it costs 30 and goes under a lid that
    # sits in 1 of 2 cases (else 0). By hand: pin first .5*200 - 30 = 70; lid alone .5*160 = 80. Lid first and
    # the pin only under a lid that sits would be .5*(200 - 30) = 85, but then the lid comes off again.
    items = (Item("pin", required=False), Item("lid"))
    pin = Option("pin", (0,), np.ones(1), (30.0, 30.0))
    lid = Option("lid", (1,), np.full(1, 0.5), (0.0, 0.0), after=(0,))
    terms = SimpleTerms((200.0, 160.0, 160.0), 0.0)
    assert solve_plan(plan_space(PlanProblem(items, (pin, lid), (), np.ones(1), 1.0)), terms).value == 80.0
    free = PlanProblem(items, (pin, replace(lid, after=())), (), np.ones(1), 1.0)
    assert solve_plan(plan_space(free), terms).value == 85.0


def test_a_confirmed_fault_reweights_the_scenarios():
    # Bayes by hand: there with .2 or .6, equally likely: .4, and then 1 of 4 and 3 of 4.
    secret = LatentFault("secret", np.array([[0.2, 0.6], [0.8, 0.4]]), access=1)
    items = (Item("a"), Item("hidden", latent_fault=0, branch=0))
    options = tuple(Option(f"fix {i}", (i,), np.ones(2), (1.0, 1.0)) for i in range(2))
    problem = PlanProblem(items, options, (secret,), np.array([0.5, 0.5]), 1.0)
    chance, known = settled(problem, 0, 0)
    assert chance == pytest.approx(0.4) and known.weights == pytest.approx([0.25, 0.75])
    assert [item.key for item in known.items] == ["a", "hidden"]
    chance, known = settled(problem, 0, 1)
    assert chance == pytest.approx(0.6) and [item.key for item in known.items] == ["a"]


def test_repairs_in_turn_keep_mittens_order_even_where_another_earns_more():
    # A: 10 minutes, B: 11, each works 1 in 2; only a failure of A spoils the parts (100). Sold at 400.
    # Mitten's ratios 20 and 22 put A first: -10 + .5 x (-11 + 200 + 50) = 109.5. B first is better:
    # -11 + .5 x 100 + .5 x (-10 + 200) = 134.
    half = np.full(1, 0.5)
    options = (
        Option("A", (0,), half, (10.0, 10.0), salvage=0.0),
        Option("B", (1,), half, (11.0, 11.0)),
    )
    free = PlanProblem((Item("a"), Item("b")), options, (), np.ones(1), rate=1.0)
    terms = SimpleTerms((400.0,) * 3, 100.0)
    assert solve_plan(plan_space(free), terms).value == pytest.approx(134.0)
    assert solve_plan(plan_space(replace(free, in_turn=True)), terms).value == pytest.approx(109.5)


def test_a_success_reweights_the_scenarios():
    # Bayes by hand: chances .9 and .5, equally likely before; after one success .9 / (.9 + .5) = 9 of 14.
    items, p = (Item("a", required=False), Item("b", required=False)), np.array([0.9, 0.5])
    options = (Option("A", (0,), p, (0.0, 0.0)), Option("B", (1,), p, (0.0, 0.0)))
    planned = plan_space(PlanProblem(items, options, (), np.array([0.5, 0.5]), rate=1.0))
    luck = Luck(np.repeat([0, 1], 7_000), ())
    assert np.array_equal(posterior_scenarios(planned, luck), luck.scenario)
    fixed = next(row for row, state in enumerate(planned.space.states) if tuple(state) == (0, 1, 0))
    drawn = posterior_scenarios(planned, luck, fixed)
    assert np.bincount(drawn) == pytest.approx([9_000, 5_000], abs=1)


@holds_for(plan_problems(most_options=4, most_checks=2, most_latent_faults=2), few=20, many=200)
def test_reach_is_a_probability_and_endings_sum_to_one(problem):
    plan = solve_plan(plan_space(problem), SimpleTerms())
    ends = plan.ends_in("finish") | plan.ends_in("stop")
    assert plan.reach[ends].sum() == pytest.approx(1.0, abs=1e-9)
    assert plan.reach[0] == pytest.approx(1.0, abs=1e-12)
    spent = sum(float(chance @ np.asarray(move.costs)) for move, chance in plan.made_moves())
    paid = float(plan.reach[ends] @ plan.policy.value[ends])
    assert paid - spent == pytest.approx(plan.value, abs=1e-8)


@holds_for(plan_problems(), st.integers(0, 2), st.floats(0.0, 1.0), few=8, many=60)
def test_a_better_chance_never_lowers_the_value_of_a_lone_scenario(problem, which, lift):
    # With one scenario nothing is learnt, so a better chance can only help
    # when success is worth at least as much as failure from there on.
    assume(len(problem.weights) == 1 and which < len(problem.options))
    assume(
        not problem.latent_faults and problem.options[which].minutes[0] <= problem.options[which].minutes[1]
    )
    option = problem.options[which]
    option = replace(option, extra=(0.0, 0.0), parts=(option.parts[0],) * 2, comeback=0.0, chance_after={})
    rest = [replace(o, comeback=0.0, chance_after={}) for o in problem.options]
    base = replace(problem, options=tuple(option if i == which else o for i, o in enumerate(rest)))
    better = replace(option, chance=option.chance + lift * (1 - option.chance))
    raised = replace(base, options=tuple(better if i == which else o for i, o in enumerate(rest)))
    value = solve_plan(plan_space(base), SimpleTerms()).value
    assert solve_plan(plan_space(raised), SimpleTerms()).value >= value - 1e-9


def test_too_many_states_are_refused_with_a_message():
    items = tuple(Item(f"i{k}", required=False) for k in range(9))
    options = tuple(Option(f"o{k}", (k,), np.array([0.5]), (1.0, 1.0)) for k in range(9))
    problem = PlanProblem(items, options, (), np.ones(1), rate=1.0)
    with pytest.raises(PlanTooLargeError, match="more than 1,000 states"):
        plan_space(problem, max_states=1000)


def test_bayes_update_of_a_rare_condition():
    # Eddy 1982; Gigerenzer: prior 1 %, sensitivity 80 %, false positives 9.6 %
    # give 7.764 % (read). Two scenarios stand for the condition; the first act
    # is the test, the second works only where the condition holds.
    items = (Item("test", required=False), Item("condition", required=False))
    options = (
        Option("test", (0,), np.array([0.8, 0.096]), (0.0, 0.0)),
        Option("condition", (1,), np.array([1.0, 0.0]), (0.0, 0.0)),
    )
    space = plan_space(PlanProblem(items, options, (), np.array([0.01, 0.99]), rate=1.0)).space
    weight = {tuple(state): w for state, w in zip(space.states, space.weight, strict=True)}
    assert weight[0, 1, 1] / weight[0, 1, 0] == pytest.approx(0.07764, abs=5e-6)


@holds_for(
    plan_problems(most_options=3, most_checks=2, most_latent_faults=2), st.integers(0, 2), few=15, many=120
)
def test_value_never_falls_when_a_repair_is_added(problem, which):
    assume(which < len(problem.options) and len(problem.options) > 1)
    # Other methods fresh after a failure, so that which of them failed first does not matter.
    options = tuple(replace(option, chance_after={}) for option in problem.options)
    with_it = replace(problem, options=options)
    without = keep(with_it, options=[i for i in range(len(options)) if i != which])
    less = solve_plan(plan_space(without), SimpleTerms()).value
    assert solve_plan(plan_space(with_it), SimpleTerms()).value >= less - 1e-9


@holds_for(
    plan_problems(most_options=2, most_checks=2, most_latent_faults=2, least_checks=1), few=15, many=120
)
def test_value_never_falls_when_a_check_is_added(problem):
    checks = tuple(replace(check, result=None, excludes=()) for check in problem.checks)
    with_it = replace(problem, checks=checks)
    without = keep(with_it, checks=range(len(checks) - 1))
    less = solve_plan(plan_space(without), SimpleTerms()).value
    assert solve_plan(plan_space(with_it), SimpleTerms()).value >= less - 1e-9


@holds_for(plan_problems(most_options=3, most_checks=1, most_latent_faults=2), few=12, many=80)
def test_repairs_in_turn_are_a_lower_bound(problem):
    exact = solve_plan(plan_space(problem), SimpleTerms()).value
    narrowed = solve_plan(plan_space(replace(problem, in_turn=True)), SimpleTerms()).value
    assert narrowed <= exact + 1e-9
