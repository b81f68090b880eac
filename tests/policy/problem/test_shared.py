"""Levels that all units share, compared with numerical integration."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.integrate import quad
from scipy.stats import lognorm

from triage.domain.shop.settings import Fees, Tax
from triage.policy.problem.payoffs import PurchaseTerms
from triage.policy.problem.shared import SharedCosts, SharedSale


def test_levels_are_one_on_average():
    costs = SharedCosts.of(np.array([10.0, 30.0]), np.array([20.0, 20.0]), np.array([1.0, 3.0]), np.zeros(2))
    assert costs.minutes_fixed.tolist() == [0.5, 1.5] and costs.minutes_failed.tolist() == [1.0, 1.0]
    assert costs.parts.tolist() == [0.5, 1.5] and costs.comebacks.tolist() == [1.0, 1.0]
    sale = SharedSale.of(np.array([[90.0, 110.0], [45.0, 55.0], [30.0, 10.0]]), np.full(2, 0.1))
    assert sale.level == pytest.approx(np.array([[0.9, 1.1], [0.9, 1.1], [1.5, 0.5]]))


@pytest.mark.parametrize("paid", [0.0, 60.0, 100.0, 180.0])
def test_the_part_over_the_price_paid_is_the_integral(paid):
    sale, mean = SharedSale(np.array([[0.8, 1.2]] * 3), np.array([0.1, 0.4])), np.array([120.0, 100.0, 0.0])
    found = sale.beyond(mean, paid)
    for draw, spread in enumerate(sale.spread):
        for grade in (0, 1):
            level = mean[grade] * sale.level[grade, draw]
            law = lognorm(spread, scale=level * np.exp(-(spread**2) / 2))
            wanted, _ = quad(lambda s, law=law: (s - paid) * law.pdf(s), paid, 40 * level, points=[level])
            assert found[grade, draw] == pytest.approx(wanted, rel=1e-6, abs=1e-6)
        assert found[2, draw] == 0.0


@pytest.mark.parametrize("tax", [Tax(), Tax("standard", 0.2), Tax("second-hand-margin", 0.2)])
def test_draws_average_to_what_the_plan_expects_of_a_sale(tax):
    # Sales at 40,000 mid-quantiles of each of two log-normals: their mean is that of the draws to 1e-3.
    shared = SharedSale(np.array([[0.8, 1.2]] * 3), np.array([0.1, 0.3]))
    at = (np.arange(40_000) + 0.5) / 40_000
    one = [
        lognorm(s, scale=100 * m * np.exp(-(s**2) / 2)).ppf(at)
        for m, s in zip((0.8, 1.2), (0.1, 0.3), strict=True)
    ]
    sale = np.outer([1.0, 0.8, 0.5], np.concatenate(one))
    terms = PurchaseTerms(sale, 0.0, 75.0, Fees(selling_share=0.1, outbound_postage=6.0), tax, shared)
    given = terms.finish_by_draw()
    assert given.shape == (3, 2)
    assert given.mean(axis=1) == pytest.approx(terms.finish(np.arange(3)), abs=5e-3)
    # By hand where nothing is taxed: 100 x .8 less a tenth and postage is 66, 100 x 1.2 so is 102.
    if tax.scheme == "none":
        assert given[0] == pytest.approx([66.0, 102.0], abs=5e-3)


def test_where_draws_do_not_differ_nothing_moves():
    terms = PurchaseTerms(np.full((3, 4), 210.0), 0.0, 60.0, Fees(), Tax("second-hand-margin", 0.2))
    assert terms.finish_by_draw() == pytest.approx(terms.finish(np.arange(3))[:, None])
