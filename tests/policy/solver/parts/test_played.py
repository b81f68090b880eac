"""Parts played path by path: their mean is the exact worth, and another price meets the same luck."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from tests.policy.problems_with_parts import FEES, problems_with_parts, purchases
from tests.tiers import holds_for
from triage.domain.shop.settings import Tax
from triage.policy.problem.luck import Luck, OptionLuck
from triage.policy.problem.parts.unit_parts import Harm, UnitPart
from triage.policy.problem.payoffs import PurchaseTerms
from triage.policy.problem.problem import Item, LatentFault, PlanProblem
from triage.policy.solver.repair_plan import plan_space, solve_plan
from triage.policy.solver.simulate import play

PATHS = 40_000


def even_luck(problem, paths=PATHS, seed=5):
    """Luck in outcomes, faults and parts alone: minutes and money are those expected."""
    scenario = np.searchsorted(np.cumsum(problem.weights), (np.arange(paths) + 0.5) / paths)
    scenario = np.random.default_rng(seed).permutation(np.minimum(scenario, len(problem.weights) - 1))
    each = [
        OptionLuck(*(np.repeat(np.array(pair)[:, None], paths, 1) for pair in (o.minutes, o.parts, o.extra)),
                   np.full(paths, o.comeback))
        for o in problem.options
    ]  # fmt: skip
    return Luck(scenario, each, seed)


@holds_for(
    problems_with_parts(most_options=2, most_checks=1, most_latent_faults=2), purchases(), few=12, many=80
)
def test_the_mean_of_what_is_played_is_what_is_expected(problem, terms):
    plan = solve_plan(plan_space(problem), terms)
    # The sale of a finished unit is played over paths of its own: five prices in turn.
    terms_of = replace(terms, sale=np.tile(terms.sale, (1, PATHS // 5)))
    played = play(plan, terms_of, even_luck(problem))
    error = played.margin.std() / np.sqrt(PATHS)
    assert played.margin.mean() == pytest.approx(plan.value, abs=5.0 * error + 1e-6)


def dead_or_alive():
    """A board that a hidden fault ruins in half of the units, and a display that is good for sure."""
    fault = LatentFault("fault", np.array([[0.5], [0.5]]), 1)
    ruined = Item("fault", latent_fault=0, branch=0, harms=(Harm("main-board", 1.0, "fault"),))
    parts = (UnitPart("main-board", 100.0, 0.5, 10.0, 5.0), UnitPart("display", 100.0, 0.5, 10.0, 5.0))
    return PlanProblem(
        (ruined,), (), (fault,), np.ones(1), 1.0, (12.0, 0.0, 0.0), parts=parts
    )  # fmt: skip


def test_lasting_harm_counts_where_there_is_no_damage_left_to_repair():
    # Opened 12, display out and tested 15, its price 100 at an even chance: 27 minutes at 1, 50 - 27 = 23.
    parts = (UnitPart("display", 100.0, 0.0, 10.0, 5.0),)
    problem = PlanProblem(
        (), (), (), np.ones(1), 1.0, (12.0, 0.0, 0.0), parts=parts, harms=(Harm("display", 0.5, "impact"),)
    )  # fmt: skip
    terms = PurchaseTerms(
        np.zeros((3, PATHS)), 0.0, 0.0, replace(FEES, selling_share=0.0, disposal=0.0), Tax()
    )  # fmt: skip
    plan = solve_plan(plan_space(problem), terms)
    played = play(plan, terms, even_luck(problem))
    assert plan.value == pytest.approx(23.0)
    assert played.margin.mean() == pytest.approx(23.0, abs=5.0 * played.margin.std() / np.sqrt(PATHS))


def test_a_part_is_there_or_not_and_never_half():
    # Opened 12, both out and tested 2 x 15: 42 minutes at 1. Board 100 or nothing, display 100.
    terms = PurchaseTerms(
        np.zeros((3, PATHS)), 0.0, 0.0, replace(FEES, selling_share=0.0, disposal=0.0), Tax()
    )
    plan = solve_plan(plan_space(dead_or_alive()), terms)
    played = play(plan, terms, even_luck(dead_or_alive()))
    assert set(np.round(played.price)) == {100.0, 200.0}
    assert played.price.mean() == pytest.approx(150.0, abs=1.5)


def test_every_price_meets_the_same_luck():
    tax = Tax("second-hand-margin", 0.2)
    before = None
    for paid in (0.0, 10.0, 20.0):
        terms = PurchaseTerms(np.zeros((3, PATHS)), 0.0, paid, FEES, tax)
        played = play(solve_plan(plan_space(dead_or_alive()), terms), terms, even_luck(dead_or_alive()))
        assert before is None or (played.price == before).all()
        before = played.price
