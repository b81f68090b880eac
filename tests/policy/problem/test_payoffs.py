"""Tax and fees compared with published examples, and the highest bid with algebra."""

from __future__ import annotations

import numpy as np
import pytest

from triage.domain.shop.settings import Fees, GoRule, Settings, Tax
from triage.policy.pricing.bisection import highest, lowest
from triage.policy.pricing.valuation import Valuation, highest_bid
from triage.policy.problem.build import PlanInputs
from triage.policy.problem.luck import Luck, OptionLuck
from triage.policy.problem.payoffs import PurchaseTerms, tax_on
from triage.policy.problem.problem import Item, Option, PlanProblem
from triage.policy.solver.repair_plan import plan_space

MARGIN_SCHEME = Tax("second-hand-margin", 0.2)


def test_margin_scheme_official_example():
    # Published official example of the second-hand margin scheme (read): bought
    # 1,500, sold 2,000, tax one sixth of the difference = 83.33.
    assert tax_on(MARGIN_SCHEME, 2000.0, 1500.0) == pytest.approx(83.33, abs=0.005)


def test_a_loss_bears_no_tax_and_offsets_none():
    # The same source: a negative margin bears no tax, item by item.
    tax = tax_on(MARGIN_SCHEME, np.array([100.0, 300.0]), 200.0)
    assert tax == pytest.approx([0.0, 100.0 / 6])


def test_repair_cost_is_not_added_to_the_purchase_price():
    # Read: repair and parts cost may not be added to the purchase price. Worked
    # [derived]: buy 60, sell 210 -> tax 25, whatever was spent on parts.
    terms = PurchaseTerms(np.full((3, 4), 210.0), 0.0, 60.0, Fees(consumables=45.0), MARGIN_SCHEME)
    assert terms.finish_purse(np.zeros(1, dtype=int), np.zeros(1, dtype=int)).tax == pytest.approx(25.0)


def test_standard_tax_is_on_the_full_price():
    # Worked [derived]: 210 outside the scheme bears 210 / 6 = 35.
    assert tax_on(Tax("standard", 0.2), 210.0, 60.0) == pytest.approx(35.0)


def test_the_best_finish_at_each_price_that_may_be_paid():
    # Fetches 300, 200 or 100 by grade: for nothing 300 less a sixth is 250; paid above 300, no tax is due.
    sale = np.repeat([[300.0], [200.0], [100.0]], 4, axis=1)
    terms = PurchaseTerms(sale, 0.0, np.array([0.0, 1000.0]), Fees(), MARGIN_SCHEME)
    assert terms.best_finish == pytest.approx([250.0, 300.0])
    assert terms.at(120.0).best_finish == pytest.approx(270.0)


def paper_unit(outcomes):
    """Full working, downgraded or stripped: (chance, sale, cost) each, as one small plan."""
    (p_full, s_full, c_full), (p_down, s_down, c_down), (_, s_strip, c_strip) = outcomes
    p_needed, finishing = p_full + p_down, 21.0
    p_extra = p_full / p_needed
    needed = Option("needed", (0,), np.array([p_needed]), (0, 0), parts=(50.0, c_strip))
    extra = Option(
        "extra", (1,), np.array([p_extra]), (0, 0), after=(0,),
        parts=(c_full - 50.0 - finishing, c_down - 50.0 - finishing),
    )  # fmt: skip
    problem = PlanProblem(
        (Item("needed"), Item("extra", required=False)), (needed, extra), (), np.ones(1),
        rate=1.0, finish_minutes=(finishing,) * 2,
    )  # fmt: skip
    paths = 50_000
    luck = tuple(
        OptionLuck(
            np.zeros((2, paths)),
            np.repeat(np.array(o.parts)[:, None], paths, axis=1),
            np.zeros((2, paths)),
            np.zeros(paths),
        )
        for o in problem.options
    )
    sale = np.repeat(np.array([s_full, s_down, s_down])[:, None], paths, axis=1)
    fate = Luck(np.zeros(paths, dtype=int), luck)
    return PlanInputs(problem, fate, (), (), (), sale, s_full, s_strip, 0.0)


def bid(outcomes, wanted=25.0, step=1e-6):
    settings = Settings("paper", "EUR", tax=MARGIN_SCHEME)
    valuation = Valuation(paper_unit(outcomes), settings)
    return highest(lambda paid: valuation.bought_at(paid).expected_margin >= wanted, 200.0, step)


def test_highest_bid_under_the_margin_scheme_one_outcome():
    # Derived: sale 210, costs 101, wanted margin 25 -> 210 - 1.2 x 126 = 58.80.
    assert bid([(1.0, 210, 101), (0.0, 150, 96), (0.0, 0, 42)]) == pytest.approx(58.80, abs=1e-5)


def test_highest_bid_under_the_margin_scheme_three_outcomes():
    # Derived: (.62: 210, 101), (.23: 150, 96), (.15: 55, 42) -> 172.95 - 1.2 x 116 = 33.75.
    outcomes = [(0.62, 210, 101), (0.23, 150, 96), (0.15, 55, 42)]
    assert bid(outcomes) == pytest.approx(33.75, abs=1e-5)


def test_highest_bid_where_the_loss_rule_binds():
    # Derived: third outcome sold at 20. A sale below the bid bears no tax and
    # offsets none, so with b between 20 and 150
    #   (.62 x 210 + .23 x 150) 5/6 + .15 x 20 - C + .85 b/6 - b = 25, C = 91,
    # whose root is 28.252427; ignoring the rule it would be 28.50.
    outcomes = [(0.62, 210, 101), (0.23, 150, 96), (0.15, 20, 42)]
    assert bid(outcomes) == pytest.approx(28.252427, abs=1e-5)


def test_shifted_margins_equal_a_fresh_solve_where_tax_ignores_the_bid():
    inputs = paper_unit([(0.62, 210, 101), (0.23, 150, 96), (0.15, 55, 42)])
    settings = Settings("paper", "EUR", tax=Tax("none"), fees=Fees(buyer_fee_share=0.1, inbound_postage=3.0))
    shared = Valuation(inputs, settings)
    shared.bought_at(0.0)
    for paid in (0.0, 17.5, 60.0):
        fresh = Valuation(inputs, settings).bought_at(paid)
        again = shared.bought_at(paid)
        assert again.expected_margin == pytest.approx(fresh.expected_margin, abs=1e-10)
        assert again.losses_in_20 == fresh.losses_in_20


def test_highest_bid_is_the_limit_of_the_whole_rule():
    inputs = paper_unit([(0.62, 210, 101), (0.23, 150, 96), (0.15, 55, 42)])
    settings = Settings("paper", "EUR", tax=MARGIN_SCHEME)
    valuation = Valuation(inputs, settings)
    for rule in (GoRule(25, 0, 20), GoRule(0, 0, 3), GoRule(0, 30, 20)):
        limit = highest_bid(valuation, rule)
        assert valuation.bought_at(limit).meets(rule)
        assert not valuation.bought_at(limit + 0.01).meets(rule)


def test_a_smaller_allowance_of_losses_never_raises_the_bid():
    inputs = paper_unit([(0.62, 210, 101), (0.23, 150, 96), (0.15, 55, 42)])
    valuation = Valuation(inputs, Settings("paper", "EUR", tax=MARGIN_SCHEME))
    limits = [highest_bid(valuation, GoRule(-1e6, -1e6, k)) or 0.0 for k in range(20, -1, -1)]
    assert limits == sorted(limits, reverse=True)


def test_states_are_shared_when_only_money_changes():
    inputs = paper_unit([(0.62, 210, 101), (0.23, 150, 96), (0.15, 55, 42)])
    dearer = paper_unit([(0.62, 210, 121), (0.23, 150, 106), (0.15, 55, 52)])
    settings = Settings("paper", "EUR")
    shared = Valuation(inputs, settings).with_inputs(dearer).bought_at(10.0)
    fresh = Valuation(dearer, settings, plan_space(dearer.problem)).bought_at(10.0)
    assert shared.expected_margin == pytest.approx(fresh.expected_margin, abs=1e-10)
    assert shared.dots() == pytest.approx(fresh.dots(), abs=1e-10)


def test_highest_and_lowest_are_none_when_no_price_meets_the_rule():
    assert highest(lambda x: False, 10.0) is None
    assert highest(lambda x: True, 10.0) == pytest.approx(10.0)
    assert highest(lambda x: x <= 3.217, 10.0) == pytest.approx(3.21)
    assert lowest(lambda x: x >= 3.217, 10.0) == pytest.approx(3.22)
    assert lowest(lambda x: False, 10.0) is None
    assert lowest(lambda x: True, 10.0) == 0.0
