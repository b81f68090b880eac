"""Information of a check about a latent fault, compared with a published channel."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from triage.domain.shop.check_record import CheckRecord
from triage.domain.shop.supply import Supply
from triage.domain.units.unit import Finding, Unit
from triage.policy.problem.build import plan_inputs
from triage.policy.problem.checks import information
from triage.policy.problem.problem import LatentFault, PlanCheck
from triage.workflows.shop.shop import open_shop


def test_information_of_a_check_is_that_of_a_binary_symmetric_channel():
    # Cover and Thomas, Elements of Information Theory, ch. 7 (from memory): crossover .1 and even input
    # give 1 - H(.1) = .531 bits. There or not is even here only over two findings and two scenarios.
    there = np.array([[0.5, 0.1], [0.3, 0.3]])
    secret = LatentFault("secret", np.vstack([there, 1.0 - there.sum(axis=0)]), access=1)
    weights = np.array([0.25, 0.75])  # .25 x .8 + .75 x .4 = .5
    right = np.full(2, 0.9)
    check = PlanCheck("check", ((0, 0), (0, 1)), right, right, minutes=5.0)
    assert information(check, [secret], weights) == pytest.approx(0.531, abs=5e-4)
    blind = PlanCheck("blind", ((0, 0), (0, 1)), np.full(2, 0.5), np.full(2, 0.5), minutes=5.0)
    assert information(blind, [secret], weights) == pytest.approx(0.0, abs=1e-12)
    # Two independent latent faults: .5 of the first and .5 of the second leave neither in 1 of 4.
    # A perfect check then tells H(.25) = .8113 bits.
    sure = PlanCheck("sure", ((0, 0), (1, 0)), np.ones(1), np.ones(1), minutes=5.0)
    even = [LatentFault(name, np.full((2, 1), 0.5), access=1) for name in ("one", "other")]
    assert information(sure, even, np.ones(1)) == pytest.approx(0.8113, abs=5e-5)


def test_the_shops_own_results_move_a_plans_accuracy():
    """All of 60 verified results right, where .80 and .90 were assumed as after 20 jobs: conjugate means."""
    unit = Unit("made up", "upper", (Finding("joint-cracked", chance=0.5),))
    shop = open_shop()
    supply = Supply(checks=(("bench-supply-boot-current", CheckRecord(30, 0, 0, 30)),))

    def accuracy(shop):
        problem = plan_inputs(unit, shop.forecast(unit, 400), shop.books_for(unit), owned=True).problem
        (check,) = [check for check in problem.checks if check.key == "bench-supply-boot-current"]
        return problem.weights @ check.sensitivity, problem.weights @ check.specificity

    belief = shop.priors.repairs.check_belief("bench-supply-boot-current")
    for before, after, assumed in zip(
        accuracy(shop), accuracy(replace(shop, supply=supply)), (belief.sensitivity, belief.specificity),
        strict=True,
    ):  # fmt: skip
        assert before == pytest.approx(assumed, abs=0.02)
        assert after == pytest.approx((20 * assumed + 30) / 50, abs=0.01)
