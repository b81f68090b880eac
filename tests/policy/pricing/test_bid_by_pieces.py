"""The highest bid for a unit with parts, compared with every price tried one after another."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import strategies as st

from tests.policy.problems_with_parts import FEES, SCHEMES, problems_with_parts
from tests.policy.solver.parts.test_played import even_luck
from tests.tiers import holds_for
from triage.domain.shop.settings import Fees, GoRule, Settings, Tax
from triage.policy.pricing.bisection import before_first_miss
from triage.policy.pricing.valuation import Valuation, highest_bid, top_bid
from triage.policy.problem.build import PlanInputs
from triage.policy.problem.parts.unit_parts import UnitPart
from triage.policy.problem.problem import Item, PlanProblem
from triage.policy.solver.parts.stripping import LEFT, TESTED

PATHS, STEP = 400, 0.5


def inputs_of(problem, sale=(150.0, 100.0, 60.0), paths=PATHS):
    value = sum(part.price for part in problem.parts)
    spread = np.exp(0.2 * np.random.default_rng(3).standard_normal(paths))
    return PlanInputs(
        problem, even_luck(problem, paths), (), (), (), np.outer(sale, spread), sale[0], value, 0.0
    )  # fmt: skip


def by_every_price(valuation, rule, step, at_most):
    """The last price before the first that misses the rule, one step after another."""
    for number in range(int(round(at_most / step)) + 1):
        if not valuation.bought_at(round(number * step, 9)).meets(rule):
            return None if number == 0 else round((number - 1) * step, 9)
    return round(int(round(at_most / step)) * step, 9)


@holds_for(
    problems_with_parts(most_parts=3, most_options=2, most_checks=1, most_latent_faults=1),
    st.sampled_from(SCHEMES),
    st.sampled_from([GoRule(0.0, 0.0, 20), GoRule(-5.0, -100.0, 4), GoRule(1.0, 15.0, 8)]),
    few=12,
    many=100,
)
def test_the_highest_bid_is_that_of_trying_every_price(problem, tax, rule):
    valuation = Valuation(inputs_of(problem), Settings("paper", "EUR", fees=FEES, tax=tax))
    wanted = by_every_price(valuation, rule, STEP, top_bid(valuation.inputs))
    assert highest_bid(valuation, rule, STEP) == wanted


def two_parts():
    """A display for 40 in 10 minutes at 1, and a frame for 22 in 20 that tax leaves hardly worth it."""
    parts = (
        UnitPart("display", 40.0, 40 / 62, 10.0, access=0),
        UnitPart("housing", 22.0, 22 / 62, 20.0, access=0),
    )
    return PlanProblem((Item("dead"),), (), (), np.ones(1), 1.0, parts=parts)


def test_a_higher_price_takes_another_set_and_the_rule_may_hold_again():
    # Margin scheme, a fifth. At a price b the display keeps 40 - (40 - .645 b) / 6 - 10 = 23.333 + .1075 b
    # and the frame 22 - (22 - .355 b) / 6 - 20 = -1.667 + .0591 b: it is taken from b = 28.18 on. Stripping
    # then takes 30 minutes instead of 10, and a loss an hour falls by two thirds at once.
    settings = Settings("paper", "EUR", tax=Tax("second-hand-margin", 0.2), fees=Fees())
    inputs = inputs_of(two_parts(), (1.0, 1.0, 1.0))
    valuation = Valuation(inputs, settings)
    frame_from = (20.0 - 22.0 * 5 / 6) / (22 / 62 / 6)
    assert frame_from == pytest.approx(28.18, abs=0.005)
    taken = [valuation.bought_at(paid).plan.stopping.taken[1, 0, 0] for paid in (28.18, 28.19)]
    assert [int(each) for each in taken] == [LEFT, TESTED]
    # At 28.18 what is left is -1.82 in 10 minutes: -10.9 an hour; at 28.19 in 30 minutes: -3.6 an hour.
    rule = GoRule(-100.0, -10.0, 20)
    wanted = by_every_price(valuation, rule, 0.01, 29.0)
    assert wanted == pytest.approx((70 / 3 + 10.0 / 6) / (1 - 40 / 62 / 6), abs=0.011)
    assert valuation.bought_at(28.5).meets(rule), "it holds again where more minutes are spent"
    assert highest_bid(valuation, rule) == wanted


def test_a_rule_is_searched_piece_by_piece():
    # Fails from 70 to 79 where another plan takes over at 60, and from 150 on.
    def holds(number):
        return number < 70 or 80 <= number < 150

    assert before_first_miss(holds, lambda number: number // 20, 199) == 69
    assert before_first_miss(lambda number: True, lambda number: 0, 199) == 199
    assert before_first_miss(lambda number: False, lambda number: 0, 199) is None
    assert before_first_miss(lambda number: number < 3, lambda number: 0, 3) == 2
