"""Scores, reliability bins and shares against published numbers and other programs."""

from __future__ import annotations

import numpy as np
import pytest
from sklearn.metrics import brier_score_loss, log_loss
from statsmodels.stats.proportion import proportion_confint

from triage.review.forecasts.reliability import bin_of, coverage, reliability, wilson
from triage.review.forecasts.scores import brier_parts, brier_score, joint_log_penalties, log_score

# Forecasts .1 (10, 1 came true), .5 (20, 9), .9 (10, 8).
CHANCE = np.repeat([0.1, 0.5, 0.9], [10, 20, 10])
HAPPENED = np.concatenate([np.arange(n) < k for n, k in ((10, 1), (20, 9), (10, 8))])


def test_brier_score_and_murphys_three_parts():
    # Murphy 1973, J. Appl. Meteorology 12:595, the partition; numbers recomputed by hand:
    # .19 = .00375 - .06125 + .2475.
    parts = brier_parts(CHANCE, HAPPENED)
    assert brier_score(CHANCE, HAPPENED) == pytest.approx(0.19, abs=1e-12)
    assert parts.reliability == pytest.approx(0.00375, abs=1e-12)
    assert parts.resolution == pytest.approx(0.06125, abs=1e-12)
    assert parts.uncertainty == pytest.approx(0.2475, abs=1e-12)
    assert parts.within == pytest.approx(0, abs=1e-12)


def test_scores_equal_those_of_scikit_learn():
    assert brier_score(CHANCE, HAPPENED) == pytest.approx(brier_score_loss(HAPPENED, CHANCE), abs=1e-12)
    assert log_score(CHANCE, HAPPENED) == pytest.approx(log_loss(HAPPENED, CHANCE), abs=1e-12)


def test_bins_say_where_they_begin_and_end():
    found = reliability(np.array([0.05, 0.55, 0.58, 1.0]), np.array([False, True, False, True]))
    # Tenths, by hand: .55 and .58 share one, and a certainty belongs to the last.
    assert [(b.low, b.high) for b in found] == [
        pytest.approx(e) for e in ((0.0, 0.1), (0.5, 0.6), (0.9, 1.0))
    ]
    assert [(b.happened.held, b.happened.of) for b in found] == [(0, 1), (1, 2), (1, 1)]


def test_parts_of_binned_forecasts_still_sum_to_the_score():
    rng = np.random.default_rng(2)
    chance = rng.uniform(0, 1, 500)
    happened = rng.random(500) < chance**1.5
    parts = brier_parts(chance, happened, bin_of(chance))
    total = parts.reliability - parts.resolution + parts.uncertainty + parts.within
    assert total == pytest.approx(brier_score(chance, happened), abs=1e-12)
    assert 0 < abs(parts.within) < 0.005  # bins a tenth wide leave little over


def test_joint_penalties_are_those_of_the_product():
    found = joint_log_penalties(
        np.array([0.5, 0.9, 0.2]), np.array([True, False, False]), np.array([1, 0, 1])
    )
    np.testing.assert_allclose(found, [-np.log(0.1), -np.log(0.5 * 0.8)], atol=1e-12)


def test_reliability_counts_every_forecast_once():
    bins = reliability(np.append(CHANCE, [0.0, 1.0]), np.append(HAPPENED, [False, True]))
    assert [(one.low, one.happened.held, one.happened.of) for one in bins] == [
        (0.0, 0, 1), (0.1, 1, 10), (0.5, 9, 20), (0.9, 9, 11),
    ]  # fmt: skip
    assert bins[-1].forecast == pytest.approx((10 * 0.9 + 1) / 11)


@pytest.mark.parametrize(("held", "of"), [(0, 7), (3, 7), (20, 20), (180, 200)])
def test_wilson_intervals_equal_those_of_statsmodels(held, of):
    found = wilson(held, of)
    exact = proportion_confint(held, of, alpha=0.1, method="wilson")
    np.testing.assert_allclose((found.low, found.high), exact, atol=1e-12)


def test_coverage_counts_what_the_intervals_held():
    found = coverage([0, 0, 0, 0], [1, 1, 1, 1], [0.5, 1.0, 1.1, -0.1])
    assert (found.held, found.of) == (2, 4)
