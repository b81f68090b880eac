"""Pruned plans equal the whole ones at every price: value, minutes and evidence from outside checks."""

from __future__ import annotations

from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest
from hypothesis import strategies as st

from tests.policy.problems import plan_problems
from tests.tiers import holds_for
from triage.domain.shop.settings import Fees, Tax
from triage.policy.pricing.checks_before_buying import _early
from triage.policy.pricing.salvage import parts_terms
from triage.policy.solver.prune import narrowed
from triage.policy.solver.repair_plan import plan_space, solve_plans

SCHEMES = [Tax(), Tax("standard", 0.2), Tax("second-hand-margin", 0.2)]
FEES = Fees(selling_share=0.1, outbound_postage=4.0, disposal=1.0)


@holds_for(
    plan_problems(most_options=3, most_checks=2, most_latent_faults=2),
    st.lists(st.floats(10.0, 300.0), min_size=3, max_size=3),
    st.floats(0.0, 120.0),
    st.sampled_from(SCHEMES),
    few=20,
    many=120,
)
def test_a_pruned_plan_is_complete_at_every_price(problem, sale, parts_value, tax):
    whole = plan_space(problem)
    paths = np.linspace(0.6, 1.4, 5)[None, :] * np.sort(sale)[::-1, None]
    inputs = SimpleNamespace(problem=problem, sale=paths, parts_value=parts_value)
    ends = parts_terms(inputs, SimpleNamespace(fees=FEES, tax=tax))
    fewer = narrowed(whole, solve_plans(whole, ends).policies)
    assert len(fewer.space.states) <= len(whole.space.states)
    prices = replace(ends, paid=np.concatenate([np.linspace(0.0, 450.0, 40), ends.paid]))
    wanted, found = solve_plans(whole, prices), solve_plans(fewer, prices)
    assert found.value == pytest.approx(wanted.value, rel=1e-12, abs=1e-12)
    assert found.minutes == pytest.approx(wanted.minutes, rel=1e-9, abs=1e-9)
    for case in (0, 20, 41):
        told, plan = wanted.plan(case), found.plan(case)
        assert plan.act(0) == told.act(0)
        assert plan.expected_minutes == pytest.approx(told.expected_minutes, rel=1e-9, abs=1e-9)
        for kept, all_of_them in zip(_early(plan, 0), _early(told, 0), strict=True):
            assert kept[0] == all_of_them[0] and kept[2] == pytest.approx(all_of_them[2])
            assert plan.policy.value[kept[3]] == pytest.approx(told.policy.value[all_of_them[3]])
