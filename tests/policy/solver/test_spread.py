"""The tail and the two parts of the spread, compared with closed forms."""

from __future__ import annotations

from dataclasses import replace
from math import prod

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from scipy.stats import norm

from tests.policy.problem.test_payoffs import paper_unit
from tests.policy.problems import SimpleTerms, TermsByDraw, plan_problems
from triage.domain.shop.settings import GoRule, Settings
from triage.policy.pricing.sensitivity import swings
from triage.policy.pricing.valuation import Valuation
from triage.policy.problem.problem import Item, Option, PlanProblem
from triage.policy.problem.shared import SharedCosts
from triage.policy.solver.repair_plan import plan_space, solve_plan
from triage.policy.solver.spread import expected_shortfall, margin_by_draw, split_spread
from triage.policy.solver.state_space import EndingKind, MoveKind


@pytest.mark.parametrize(
    ("level", "at_risk", "shortfall"),
    [(0.90, 0.067847, 0.096975), (0.95, 0.090200, 0.115908), (0.99, 0.132128, 0.152977)],
)
def test_expected_shortfall_of_a_normal_loss(level, at_risk, shortfall):
    # Rockafellar & Uryasev 2000 (from memory, recomputed): normal loss, mean -.011,
    # variance .00378529; loss is minus our margin.
    mean, sd = -0.011, np.sqrt(0.00378529)
    z = norm.ppf(level)
    assert mean + sd * z == pytest.approx(at_risk, abs=1e-6)
    assert mean + sd * norm.pdf(z) / (1 - level) == pytest.approx(shortfall, abs=5e-7)
    count = 2_000_000
    margins = -(mean + sd * norm.ppf((np.arange(count) + 0.5) / count))
    assert -expected_shortfall(margins, 1 - level) == pytest.approx(shortfall, abs=2e-6)


def test_shortfall_splits_the_atom_at_the_quantile():
    # Ten margins, worst quarter: two whole ones and half of the third.
    margins = np.array([-50.0, -30.0, 20.0, 20.0, 20.0, 20.0, 20.0, 20.0, 20.0, 20.0])
    assert expected_shortfall(margins, 0.25) == pytest.approx((-50 - 30 + 0.5 * 20) / 2.5)
    assert expected_shortfall(margins, 0.05) == pytest.approx(-50.0)


def test_spread_of_one_repair_by_hand():
    # One repair worth 100 if it works, chance .9 or .5 by draw: E[M|d] = 90, 50, so what is
    # not known is 20^2 = 400; luck is E[p(1-p)] 100^2 = (.09 + .25)/2 x 10^4 = 1,700.
    option = Option("repair", (0,), np.array([0.9, 0.5]), (0.0, 0.0))
    problem = PlanProblem((Item("damage"),), (option,), (), np.array([0.5, 0.5]), rate=1.0)
    terms = SimpleTerms((100.0,) * 3, 0.0)
    plan = solve_plan(plan_space(problem), terms)
    margin, weight = margin_by_draw(plan, terms)
    assert margin == pytest.approx([90.0, 50.0]) and weight == pytest.approx([0.5, 0.5])
    rng = np.random.default_rng(0)
    played = 100.0 * (rng.random(400_000) < np.repeat([0.9, 0.5], 200_000))
    split = split_spread(plan, terms, played)
    assert split.not_known == pytest.approx(400.0)
    assert split.luck == pytest.approx(1700.0, rel=0.01)  # 400,000 draws


@settings(max_examples=80, deadline=None, derandomize=True, suppress_health_check=list(HealthCheck))
@given(plan_problems(most_options=3, most_checks=2, most_latent_faults=2))
def test_margins_by_draw_average_to_the_value(problem):
    plan = solve_plan(plan_space(problem), SimpleTerms())
    margin, weight = margin_by_draw(plan, SimpleTerms())
    assert weight @ margin == pytest.approx(plan.value, abs=1e-8)


def test_shared_levels_of_one_repair_by_hand():
    # Two draws, chance .5 in both. Minutes 40 if fixed and 60 if not, at 1 a minute; parts 20; comebacks
    # cost 10; sold for 300 or 200. Draw 0: minutes level 1.5, parts .5, comebacks 1.2, sold for 300:
    # .5 x (300 - 60 - 12) + .5 x (-90) - 10 = 59. Draw 1: minutes .5, parts 1.5, comebacks .8, sold for
    # 200: .5 x (200 - 20 - 8) - .5 x 30 - 30 = 41. Together .5 x (250 - 40 - 10) - .5 x 60 - 20 = 50.
    shared = SharedCosts(*(np.array(each) for each in ([1.5, 0.5], [1.5, 0.5], [0.5, 1.5], [1.2, 0.8])))
    option = Option(
        "repair", (0,), np.full(2, 0.5), (40.0, 60.0), parts=(20.0, 20.0), comeback=10.0, shared=shared
    )  # fmt: skip
    problem = PlanProblem((Item("damage"),), (option,), (), np.full(2, 0.5), rate=1.0)
    terms = TermsByDraw(np.tile([300.0, 200.0], (3, 1)), 0.0)
    plan = solve_plan(plan_space(problem), terms)
    margin, _ = margin_by_draw(plan, terms)
    assert margin == pytest.approx([59.0, 41.0]) and plan.value == pytest.approx(50.0)


def walked(plan, terms, draw, state=0):
    """Expected money from a state on in one draw, one branch of the plan after another."""
    space, problem, act = plan.plan_space.space, plan.plan_space.problem, plan.act(state)
    view = plan.plan_space.view
    if isinstance(act, EndingKind):
        if act is EndingKind.STOP:
            stopping = problem.stop_minutes[int(space.states[state, 0] > 0)] * problem.rate
            return terms.stop(view.salvage, plan.plan_space.recovered)[state] - stopping
        done = [option for option, fixed in zip(problem.options, view.fixed[state], strict=True) if fixed]
        more = sum(option.comeback * (option.shared.comebacks[draw] - 1.0) for option in done)
        return terms.sale[view.grade[state], draw] - plan.plan_space.finishing[state] - more

    def likely(of):
        return prod(
            f.rows(space.states[[of]][:, list(f.columns)], slice(None))[0, draw] for f in space.factors
        )

    money = 0.0
    for end, cost in enumerate(act.costs):
        child = int(plan.policy.next_state[state, end])
        if act.kind is MoveKind.REPAIR:
            option = problem.options[act.subject]
            minutes = (option.shared.minutes_fixed, option.shared.minutes_failed)[end][draw]
            cost = minutes * option.minutes[end] * problem.rate  # noqa: PLW2901
            cost += option.shared.parts[draw] * option.parts[end] + option.extra[end]  # noqa: PLW2901
        chance = likely(child) / likely(state)
        money += chance * (walked(plan, terms, draw, child) - cost) if chance > 0 else 0.0
    return money


@settings(max_examples=60, deadline=None, derandomize=True, suppress_health_check=list(HealthCheck))
@given(plan_problems(most_options=3, most_checks=2, most_latent_faults=2), st.integers(0, 10**6))
def test_margin_by_draw_is_that_of_a_walk_in_each_draw(problem, seed):
    rng, draws = np.random.default_rng(seed), len(problem.weights)
    levels = [SharedCosts.of(*rng.uniform(0.5, 1.5, (4, draws))) for _ in problem.options]
    options = tuple(replace(o, shared=each) for o, each in zip(problem.options, levels, strict=True))
    sale = np.array([[250.0], [200.0], [150.0]]) * rng.uniform(0.7, 1.3, draws)
    problem, terms = replace(problem, options=options), TermsByDraw(sale)
    plan = solve_plan(plan_space(problem), terms)
    margin, weight = margin_by_draw(plan, terms)
    assert margin[weight > 0] == pytest.approx(
        [walked(plan, terms, d) for d in np.flatnonzero(weight)], abs=1e-8
    )


def test_nodes_of_the_job_effect_belong_to_their_draw():
    # Two draws with two nodes each: chances .8 and .6, .4 and .2, every node as likely.
    option = Option("repair", (0,), np.array([0.8, 0.6, 0.4, 0.2]), (0.0, 0.0))
    problem = PlanProblem((Item("damage"),), (option,), (), np.full(4, 0.25), rate=1.0, nodes=2)
    terms = SimpleTerms((100.0,) * 3, 0.0)
    margin, weight = margin_by_draw(solve_plan(plan_space(problem), terms), terms)
    assert margin == pytest.approx([70.0, 30.0]) and weight == pytest.approx([0.5, 0.5])


def test_break_even_factors_by_hand():
    # Sale 200 always, cost 50 minutes at 1 and 40 of parts when it works; p = .8; failing brings 0.
    # Margin .8 x 200 - 90 - paid 20 = 50 >= 25. Parts flip at 40 x = 65: 1.625 times; minutes at
    # 50 x = 75: 1.5; sale at .8 x 200 x = 135: .84375; the chance at p x 200 = 135: .675.
    option = Option("repair", (0,), np.array([0.8]), (50.0, 50.0), parts=(40.0, 40.0))
    problem = PlanProblem((Item("damage"),), (option,), (), np.ones(1), rate=1.0)
    inputs = paper_unit([(0.8, 200, 0), (0.0, 0, 0), (0.2, 0, 0)])
    luck = replace(
        inputs.luck.options[0], minutes=np.full((2, 50_000), 50.0), parts=np.full((2, 50_000), 40.0)
    )
    inputs = replace(
        inputs, problem=problem, luck=replace(inputs.luck, options=(luck,)),
        sale=np.full((3, 50_000), 200.0), parts_value=0.0, repairs=(type("R", (), {"name": "repair"}),),
    )  # fmt: skip
    valuation = Valuation(inputs, Settings("paper", "EUR"))
    rule = GoRule(25.0, -1e6, 20)
    found = {
        swing.name: swing
        for swing in swings(valuation, lambda v: v.bought_at(20.0), rule, [(0, 0.8, 0.7, 0.9)])
    }
    step = 4.0 / 2**8
    assert found["part prices"].flips_at == pytest.approx(1.625, abs=step)
    assert found["bench minutes"].flips_at == pytest.approx(1.5, abs=step)
    assert found["sale price"].flips_at == pytest.approx(0.84375, abs=step)
    assert found["repair"].flips_at == pytest.approx(0.675, abs=step)
    assert (found["repair"].margin_low, found["repair"].margin_high) == pytest.approx((30.0, 70.0))
    assert [s.name for s in swings(valuation, lambda v: v.bought_at(20.0), rule, [])][0] == "sale price"
