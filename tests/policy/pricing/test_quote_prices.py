"""Quotes: the most profitable price, diagnostic fees, stages, data only."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.special import lambertw

from tests.policy.problem.test_payoffs import paper_unit
from tests.tiers import holds_for
from triage.domain.shop.settings import Acceptance, Fees, GoRule, Settings, Tax
from triage.policy.pricing.quote_prices import best_price, break_even_price, staged_estimate
from triage.policy.pricing.valuation import Valuation, lowest_quote
from triage.policy.problem.problem import Item, LatentFault

OUTCOMES = [(0.62, 210, 101), (0.23, 150, 96), (0.15, 55, 42)]


def valuation(tax=None, fees=None, work=OUTCOMES):
    inputs = paper_unit(work)
    return Valuation(inputs, Settings("paper", "EUR", tax=tax or Tax(), fees=fees or Fees()))


def test_best_price_under_a_logit_curve():
    # Derived, confirmed by an optimiser: q* = c + (1 + W(exp(b (m - c) - 1))) / b with
    # c 60, b .05, m 120 -> 111.142912.
    cost, slope, middle = 60.0, 0.05, 120.0
    closed = cost + (1 + lambertw(np.exp(slope * (middle - cost) - 1)).real) / slope
    assert closed == pytest.approx(111.142912, abs=1e-6)
    working = 200.0
    found = best_price(lambda q: q - cost, Acceptance(middle / working, slope * working), working)
    assert found.price == pytest.approx(closed, abs=1e-5)
    assert found.earns == pytest.approx((closed - cost) / (1 + np.exp(slope * (closed - middle))), abs=1e-8)


@settings(max_examples=30, deadline=None, derandomize=True)
@given(st.floats(10, 150), st.floats(0.3, 1.5), st.floats(3, 20))
def test_best_price_is_the_lambert_w_solution_for_a_linear_margin(cost, half, steepness):
    working = 200.0
    slope, middle = steepness / working, half * working
    closed = cost + (1 + lambertw(np.exp(slope * (middle - cost) - 1)).real) / slope
    found = best_price(lambda q: q - cost, Acceptance(half, steepness), working)
    assert found.price == pytest.approx(closed, abs=1e-3)


def test_no_fix_no_fee_by_hand():
    # Required works .85: then 50 is spent, and the optional one (p = .62/.85) costs 30 or 25;
    # finishing 21. Failure costs 42 and brings nothing. All but the lost share is paid:
    # share at grade 1 is 150/210. E = .62 q + .23 q 150/210 - .62 x 101 - .23 x 96 - .15 x 42.
    wanted = 25.0
    due = 0.62 + 0.23 * 150 / 210
    by_hand = (wanted + 0.62 * 101 + 0.23 * 96 + 0.15 * 42) / due
    price = lowest_quote(valuation(), GoRule(wanted, -1e6, 20))
    assert price == pytest.approx(by_hand, abs=0.0101)
    assert valuation().quoted_at(price).expected_margin >= wanted - 0.005


def test_a_diagnostic_fee_lowers_the_price_by_what_failures_pay():
    # The fee f is kept in .15 of cases: E rises by .15 f at the same price.
    wanted, fee = 25.0, 20.0
    due = 0.62 + 0.23 * 150 / 210
    free = lowest_quote(valuation(), GoRule(wanted, -1e6, 20))
    paid = lowest_quote(valuation(), GoRule(wanted, -1e6, 20), fee)
    assert free - paid == pytest.approx(0.15 * fee / due, abs=0.0201)


@holds_for(st.lists(st.floats(-50, 150), min_size=2, max_size=4), few=2, many=10)
def test_the_quote_never_falls_as_the_wanted_margin_rises(margins):
    unit = valuation(tax=Tax("standard", 0.2), fees=Fees(payment_share=0.02))
    quotes = [lowest_quote(unit, GoRule(m, -1e6, 20)) for m in sorted(margins)]
    assert quotes == sorted(quotes)


def test_break_even_by_hand():
    # The optional repair does not pay yet: .85 works, is paid at grade 1, costs 50 and 21; failing costs 42.
    by_hand = (0.85 * 71 + 0.15 * 42) / (0.85 * 150 / 210)
    assert break_even_price(valuation()) == pytest.approx(by_hand, abs=0.0101)
    assert valuation().quoted_at(by_hand - 1.0).expected_margin == 0.0  # better handed back at once
    assert lowest_quote(valuation(), GoRule(-20.0, -1e6, 20)) < by_hand


def test_stage_prices_split_after_opening_and_stay_within_their_maximum():
    # A fault behind the cover (1 in 4) needs the same optional work made required: once
    # opened the price is known to be the one or the other.
    inputs = paper_unit(OUTCOMES)
    secret = LatentFault("secret", np.array([[0.25], [0.75]]), access=1)
    items = (inputs.problem.items[0], Item("extra", required=True, latent_fault=0, branch=0))
    problem = replace(inputs.problem, items=items, latent_faults=(secret,))
    inputs = replace(inputs, problem=problem, repairs=(None,) * 2, forecasts=(None,) * 2, parts=((),) * 2)
    rule = GoRule(25.0, -1e6, 20)
    counter, opened, board = staged_estimate(inputs, Settings("paper", "EUR"), rule)
    assert counter.low == counter.high == counter.maximum
    assert opened.low < counter.maximum < opened.high
    assert (opened.low, opened.high) == (board.low, board.high)
    assert opened.maximum >= opened.high and opened.refusal == 0.0
    # By hand, nothing found: .85 q - 50 (.85) - 42 (.15) - 21 (.85) = 25.
    assert opened.low == pytest.approx((25 + 0.85 * 71 + 0.15 * 42) / 0.85, abs=0.0101)
