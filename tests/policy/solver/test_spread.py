"""The tail and the two parts of the spread, compared with closed forms."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from scipy.stats import norm

from tests.policy.problem.test_payoffs import paper_unit
from tests.policy.problems import SimpleTerms, plan_problems
from triage.domain.shop.settings import GoRule, Settings
from triage.policy.pricing.sensitivity import swings
from triage.policy.pricing.valuation import Valuation
from triage.policy.problem.problem import Item, Option, PlanProblem
from triage.policy.solver.repair_plan import plan_space, solve_plan
from triage.policy.solver.spread import expected_shortfall, margin_by_draw, split_spread


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
    plan = solve_plan(plan_space(problem), SimpleTerms((100.0,) * 3, 0.0))
    margin, weight = margin_by_draw(plan, np.array([0, 1]))
    assert margin == pytest.approx([90.0, 50.0]) and weight == pytest.approx([0.5, 0.5])
    rng = np.random.default_rng(0)
    played = 100.0 * (rng.random(400_000) < np.repeat([0.9, 0.5], 200_000))
    split = split_spread(plan, played, np.array([0, 1]))
    assert split.not_known == pytest.approx(400.0)
    assert split.luck == pytest.approx(1700.0, rel=0.01)  # 400,000 draws


@settings(max_examples=80, deadline=None, derandomize=True, suppress_health_check=list(HealthCheck))
@given(plan_problems(most_options=3, most_checks=2, most_latent_faults=2))
def test_margins_by_draw_average_to_the_value(problem):
    plan = solve_plan(plan_space(problem), SimpleTerms())
    margin, weight = margin_by_draw(plan, np.arange(len(problem.weights)))
    assert weight @ margin == pytest.approx(plan.value, abs=1e-8)


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
