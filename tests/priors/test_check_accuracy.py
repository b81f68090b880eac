"""Accuracy of a check where not every job was opened."""

from __future__ import annotations

import numpy as np
import pytest

from triage.priors.check_accuracy import CheckRecord, accuracy_draws, corrected_accuracy, naive_accuracy

# Begg & Greenes 1983, Biometrics 39:207 (counts from memory, recomputed).
BEGG_GREENES = CheckRecord(231, 32, 27, 54, positive_unseen=166, negative_unseen=140)


def test_verification_bias_begg_and_greenes():
    assert naive_accuracy(BEGG_GREENES) == pytest.approx((0.8953, 0.6279), abs=5e-5)
    assert corrected_accuracy(BEGG_GREENES) == pytest.approx((0.8365, 0.7384), abs=5e-5)


def test_draws_centre_on_the_corrected_estimate_when_belief_is_worth_little():
    rng = np.random.default_rng(1)
    drawn = accuracy_draws(BEGG_GREENES, 0.5, 0.5, 0.01, 200_000, rng)
    for part, stated in zip(drawn, corrected_accuracy(BEGG_GREENES), strict=True):
        # The posterior mean of a ratio is off its plug-in value by O(1/n), n = 650.
        assert part.mean() == pytest.approx(stated, abs=3e-3)
        assert 0.005 < part.std() < 0.05


def test_without_a_record_each_is_the_beta_of_the_belief():
    rng = np.random.default_rng(2)
    sensitivity, specificity = accuracy_draws(CheckRecord(), 0.8, 0.9, 20, 400_000, rng)
    for part, mean in ((sensitivity, 0.8), (specificity, 0.9)):
        spread = np.sqrt(mean * (1 - mean) / 21)  # sd of Beta(20 m, 20 (1 - m))
        assert part.mean() == pytest.approx(mean, abs=5 * spread / np.sqrt(400_000))
        assert part.std() == pytest.approx(spread, rel=0.01)


def test_with_every_job_opened_they_are_the_conjugate_beta():
    rng = np.random.default_rng(3)
    record = CheckRecord(40, 6, 10, 44)
    sensitivity, specificity = accuracy_draws(record, 0.8, 0.9, 20, 400_000, rng)
    for part, a, b in ((sensitivity, 16 + 40, 4 + 10), (specificity, 18 + 44, 2 + 6)):
        mean = a / (a + b)
        spread = np.sqrt(mean * (1 - mean) / (a + b + 1))
        assert part.mean() == pytest.approx(mean, abs=5 * spread / np.sqrt(400_000))
        assert part.std() == pytest.approx(spread, rel=0.01)
