"""The joint risk of several units, compared with an independent simulation."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.stats import norm

from tests.lot_selection.made_lots import made_lot
from triage.lot_selection.lot_risk import lot_risk, mixture_quantiles, tail_mean, tail_weights
from triage.policy.solver.spread import expected_shortfall

TIMES = 200_000


def simulated(lot, taken, seed):
    """Margins of the taken units together: a draw for all of them, then each unit's own luck."""
    rng = np.random.default_rng(seed)
    draw = rng.integers(0, lot.margin_draws.shape[1], TIMES)
    total = np.zeros(TIMES)
    for unit in taken:
        total += lot.margin_draws[unit, draw] + np.sqrt(lot.luck_variances[unit]) * rng.normal(size=TIMES)
    return total


def test_joint_risk_is_that_of_a_simulation():
    lot, taken = made_lot(30, 300, 1, shared=25.0), np.arange(8)
    risk = lot_risk(lot.margin_draws[taken].sum(axis=0), float(lot.luck_variances[taken].sum()))
    margins = simulated(lot, taken, 2)
    error = margins.std() / np.sqrt(TIMES)
    assert risk.expected == pytest.approx(margins.mean(), abs=5 * error)
    assert np.hypot(risk.luck, risk.not_known) == pytest.approx(margins.std(), rel=0.01)
    assert risk.loss_chance == pytest.approx((margins < 0).mean(), abs=0.005)
    assert risk.shortfall == pytest.approx(expected_shortfall(margins), abs=margins.std() * 0.015)
    spots = np.quantile(margins, (np.arange(20) + 0.5) / 20)
    np.testing.assert_allclose(risk.dots, spots, atol=margins.std() * 0.03)
    assert risk.losses_in_20 == (np.array(risk.dots) < -0.005).sum()


def test_risk_includes_what_units_share():
    """Two perfectly correlated units: twice the deviation, not the root of two times."""
    means = np.linspace(-50.0, 50.0, 101)
    both = lot_risk(2 * means, 0.0)
    assert both.not_known == pytest.approx(2 * means.std())
    assert both.luck == 0 and both.share_not_known == 1.0


def test_one_normal_unit_has_the_textbook_tail_mean():
    """Mean of the lower tenth of N(0, 1): -density(z) / .1 (any textbook; recomputed)."""
    risk = lot_risk(np.full(7, 100.0), 30.0**2)
    assert risk.shortfall == pytest.approx(100.0 - 30.0 * norm.pdf(norm.ppf(0.1)) / 0.1)
    assert risk.loss_chance == pytest.approx(norm.cdf(-0.005, 100.0, 30.0))
    np.testing.assert_allclose(
        mixture_quantiles(np.full(7, 100.0), 30.0, np.array([0.1, 0.5])), norm.ppf([0.1, 0.5], 100.0, 30.0)
    )


def test_without_luck_the_tail_splits_its_atom():
    means = np.array([5.0, -3.0, 1.0, 2.0, 4.0, 9.0, 8.0, 7.0, 6.0, 3.0, 0.0, 10.0])
    assert tail_mean(means, 0.0) == pytest.approx(expected_shortfall(means))
    weights, density = tail_weights(means, 0.0)
    assert weights @ means == pytest.approx(expected_shortfall(means)) and density == 0.0


def test_an_empty_choice_has_no_margin_and_no_risk():
    risk = lot_risk(np.zeros(50), 0.0)
    assert (risk.expected, risk.loss_chance, risk.shortfall, risk.losses_in_20) == (0, 0, 0, 0)
