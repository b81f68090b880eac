"""What units of a lot share, compared with a listing of every outcome.

Three posterior draws, each as likely, with their own chance, minutes, parts and sale
price. One repair a unit, at a bench minute of 1: 30 minutes when it works and 50 when it
does not, parts of 20. Chances are tenths, so that a unit has ten outcomes as likely as
each other in each draw, and everything can be listed.
"""

from __future__ import annotations

from itertools import product

import numpy as np
import pytest
from scipy.stats import binom

from tests.policy.problems import TermsByDraw
from triage.lot_selection.lot_risk import lot_risk
from triage.policy.problem.problem import Item, Option, PlanProblem
from triage.policy.problem.shared import SharedCosts
from triage.policy.solver.repair_plan import plan_space, solve_plan
from triage.policy.solver.spread import expected_shortfall, margin_by_draw, split_spread

MINUTES, PARTS, SALE = np.array([1.4, 1.0, 0.6]), np.array([1.3, 1.0, 0.7]), np.array([0.6, 1.0, 1.4])


def margins_by_hand(chance, working):
    """Ten margins as likely as each other in each draw, shape (draw, outcome), worst draw first."""
    fixed, failed = SALE * working - 30 * MINUTES - 20 * PARTS, -50 * MINUTES - 20 * PARTS
    rows = zip(fixed, failed, chance, strict=True)
    return np.array([[f] * round(10 * p) + [n] * round(10 - 10 * p) for f, n, p in rows])


def in_the_product(chance, working):
    """The same unit as the plan has it: (margin by draw, variance of luck)."""
    shared = SharedCosts(MINUTES, MINUTES, PARTS)
    option = Option("repair", (0,), np.array(chance), (30.0, 50.0), parts=(20.0, 20.0), shared=shared)
    problem = PlanProblem((Item("damage"),), (option,), (), np.full(3, 1 / 3), rate=1.0)
    terms = TermsByDraw(np.tile(working * SALE, (3, 1)), 0.0)
    plan = solve_plan(plan_space(problem), terms)
    assert plan.chance_finished == pytest.approx(np.mean(chance))  # it is tried
    by_draw, weight = margin_by_draw(plan, terms)
    assert weight == pytest.approx(np.full(3, 1 / 3))
    return by_draw, split_spread(plan, terms, margins_by_hand(chance, working).ravel()).luck


def test_two_units_and_three_draws_as_listed():
    units = [((0.8, 0.7, 0.9), 200.0), ((0.9, 0.9, 0.6), 300.0)]
    told = [in_the_product(*unit) for unit in units]
    one, two = (margins_by_hand(*unit) for unit in units)
    # 3 draws x 10 outcomes x 10 outcomes.
    listed = np.array([[a + b for a, b in product(one[d], two[d])] for d in range(3)])
    means = told[0][0] + told[1][0]
    assert means == pytest.approx(listed.mean(axis=1))
    risk = lot_risk(means, told[0][1] + told[1][1])
    assert risk.expected == pytest.approx(listed.mean())
    assert risk.not_known**2 == pytest.approx(listed.mean(axis=1).var())
    assert risk.luck**2 == pytest.approx(listed.var(axis=1).mean())
    assert risk.luck**2 + risk.not_known**2 == pytest.approx(listed.var())
    # Were the levels each unit's own, two units would already look safer than they are.
    assert np.hypot(one.std(), two.std()) < 0.93 * listed.std()


def test_without_luck_the_losses_and_the_worst_tenth_are_those_listed():
    units = [((1.0, 1.0, 1.0), 90.0), ((0.0, 1.0, 1.0), 300.0)]
    told = [in_the_product(*unit) for unit in units]
    listed = (margins_by_hand(*units[0]) + margins_by_hand(*units[1])).ravel()
    risk = lot_risk(told[0][0] + told[1][0], told[0][1] + told[1][1])
    assert risk.luck == pytest.approx(0.0, abs=1e-5)
    assert risk.loss_chance == pytest.approx((listed < 0).mean())
    assert risk.shortfall == pytest.approx(expected_shortfall(listed))
    assert risk.share_not_known == pytest.approx(1.0)


@pytest.mark.parametrize(("count", "near"), [(20, 0.08), (100, 0.04)])
def test_many_units_as_the_binomial_has_them(count, near):
    # A sum of luck is taken as normal, and as wide in each draw. Here its true width in the worst draw is
    # .6 of that in the middle one, so the worst tenth is said too low, by `near` of the spread at most.
    chance, working = (0.8, 0.7, 0.9), 160.0
    by_draw, luck = in_the_product(chance, working)
    risk = lot_risk(count * by_draw, count * luck)
    hand = margins_by_hand(chance, working)
    fixed = np.arange(count + 1)
    margins = np.array([row.max() * fixed + row.min() * (count - fixed) for row in hand]).ravel()
    weights = np.array([binom.pmf(fixed, count, p) for p in chance]).ravel() / 3
    order = np.argsort(margins)
    within = np.diff(np.minimum(np.cumsum(weights[order]), 0.1), prepend=0.0)
    mean = float(weights @ margins)
    spread = float(np.sqrt(weights @ (margins - mean) ** 2))
    assert np.hypot(risk.luck, risk.not_known) == pytest.approx(spread)
    worst = within @ margins[order] / 0.1
    assert worst - near * spread < risk.shortfall < worst
    assert risk.loss_chance == pytest.approx(weights @ (margins < 0), abs=0.03)
    assert risk.share_not_known > 0.8
