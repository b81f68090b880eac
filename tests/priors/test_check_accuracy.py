"""Accuracy of a check where not every job showed whether it was right."""

from __future__ import annotations

import itertools

import numpy as np
import pytest
from scipy.stats import beta, binom

from triage.domain.shop.check_record import CheckRecord
from triage.priors import check_accuracy
from triage.priors.check_accuracy import accuracy_draws

# Begg & Greenes 1983, Biometrics 39:207 (counts from memory, recomputed).
BEGG_GREENES = CheckRecord(231, 32, 27, 54, positive_unseen=166, negative_unseen=140)
MANY = 400_000


def assert_beta(draws, a, b):
    known = beta(a, b)
    assert draws.mean() == pytest.approx(known.mean(), abs=5 * known.std() / np.sqrt(len(draws)))
    assert draws.std() == pytest.approx(known.std(), rel=0.01)


def on_a_grid(record, sensitivity, specificity, jobs, points=120):
    """Mean and sd of Se and Sp by the likelihood as written in the docstring, on a grid of three chances."""
    middle = (np.arange(points) + 0.5) / points
    pi, se, sp = middle[:, None, None], middle[None, :, None], middle[None, None, :]
    positive, clear = pi * se + (1 - pi) * (1 - sp), pi * (1 - se) + (1 - pi) * sp
    log = (
        record.positive_present * np.log(pi * se)
        + record.positive_absent * np.log((1 - pi) * (1 - sp))
        + record.negative_present * np.log(pi * (1 - se))
        + record.negative_absent * np.log((1 - pi) * sp)
        + record.positive_unseen * np.log(positive)
        + record.negative_unseen * np.log(clear)
        + beta(jobs * sensitivity, jobs * (1 - sensitivity)).logpdf(se)
        + beta(jobs * specificity, jobs * (1 - specificity)).logpdf(sp)
    )
    weight = np.exp(log - log.max())
    weight /= weight.sum()
    told = []
    for axis in (1, 2):
        marginal = weight.sum(axis=tuple({0, 1, 2} - {axis}))
        mean = marginal @ middle
        told.append((mean, np.sqrt(marginal @ (middle - mean) ** 2)))
    return told


@pytest.mark.parametrize(
    "record",
    [
        CheckRecord(),
        CheckRecord(positive_unseen=7, negative_unseen=20),
        CheckRecord(6, 5, positive_unseen=3, negative_unseen=40),
        CheckRecord(4, 9, 2, 11, positive_unseen=5, negative_unseen=6),
    ],
)
def test_the_mixture_is_the_posterior(record):
    """Against the three-dimensional integral by brute force."""
    drawn = accuracy_draws(record, 0.8, 0.9, 20, MANY, np.random.default_rng(1))
    for part, (mean, spread) in zip(drawn, on_a_grid(record, 0.8, 0.9, 20), strict=True):
        # A grid of 120 points errs by some 1e-4.
        assert part.mean() == pytest.approx(mean, abs=3e-4 + 5 * spread / np.sqrt(MANY))
        assert part.std() == pytest.approx(spread, rel=0.02)


def test_without_a_record_each_is_the_beta_of_the_belief():
    sensitivity, specificity = accuracy_draws(CheckRecord(), 0.8, 0.9, 20, MANY, np.random.default_rng(2))
    assert_beta(sensitivity, 16, 4)
    assert_beta(specificity, 18, 2)


def test_with_every_job_verified_they_are_the_conjugate_beta():
    record = CheckRecord(40, 6, 10, 44)
    sensitivity, specificity = accuracy_draws(record, 0.8, 0.9, 20, MANY, np.random.default_rng(3))
    assert_beta(sensitivity, 16 + 40, 4 + 10)
    assert_beta(specificity, 18 + 44, 2 + 6)


def test_where_only_positives_are_opened_sensitivity_keeps_its_assumption():
    """5 in 100 devices have the fault, a check of sensitivity .80 and specificity .90, 4,000 jobs.

    The record tells pi Se = .04. With pi uniform that leaves Se with its Beta(16, 4) divided by Se:
    Beta(15, 4), whose mean is 15/19 = .789 [derived].
    """
    record = CheckRecord(160, 380, negative_unseen=3460)
    sensitivity, specificity = accuracy_draws(record, 0.8, 0.9, 20, 40_000, np.random.default_rng(4))
    assert_beta(sensitivity, 15, 4)
    assert specificity.mean() == pytest.approx(0.9, abs=0.005)


def test_with_nothing_verified_only_the_rate_of_positives_is_told():
    """Half the devices read positive, which an assumption of .8 and .9 explains: Se and Sp hardly move."""
    record = CheckRecord(positive_unseen=200, negative_unseen=200)
    sensitivity, specificity = accuracy_draws(record, 0.8, 0.9, 20, 50_000, np.random.default_rng(5))
    assert sensitivity.mean() == pytest.approx(0.8, abs=0.02)
    assert sensitivity.std() == pytest.approx(beta(16, 4).std(), rel=0.1)
    assert specificity.std() == pytest.approx(beta(18, 2).std(), rel=0.1)


def test_verification_bias_begg_and_greenes():
    """Corrected .8365 and .7384, where verified jobs alone say .8953 and .6279 (from memory, recomputed)."""
    counts = BEGG_GREENES
    positive, clear = 231 + 32 + 166, 27 + 54 + 140
    there = (positive * 231 / (231 + 32), clear * 27 / (27 + 54))
    not_there = (positive * 32 / (231 + 32), clear * 54 / (27 + 54))
    corrected = there[0] / sum(there), not_there[1] / sum(not_there)
    assert corrected == pytest.approx((0.8365, 0.7384), abs=5e-5)
    assert (231 / 258, 54 / 86) == pytest.approx((0.8953, 0.6279), abs=5e-5)
    drawn = accuracy_draws(counts, 0.5, 0.5, 0.02, 100_000, np.random.default_rng(6))
    for part, stated in zip(drawn, corrected, strict=True):
        # The posterior mean is off the maximum of the likelihood by O(1/n), n = 650.
        assert part.mean() == pytest.approx(stated, abs=4e-3)
        assert 0.005 < part.std() < 0.05


def test_intervals_cover_the_truth_of_simulated_shops():
    """Prevalence .3; a positive is opened in 9 of 10 jobs, a clear one in 2 of 10; 300 jobs a shop."""
    rng = np.random.default_rng(7)
    shops, held = 200, np.zeros(2)
    for _ in range(shops):
        truth = rng.beta(16, 4), rng.beta(18, 2)
        there = rng.random(300) < 0.3
        read = rng.random(300) < np.where(there, truth[0], 1 - truth[1])
        opened = rng.random(300) < np.where(read, 0.9, 0.2)
        cells = [
            int((opened & (read == sign) & (there == fact)).sum())
            for sign, fact in itertools.product((True, False), (True, False))
        ]
        unseen = (int((~opened & read).sum()), int((~opened & ~read).sum()))
        drawn = accuracy_draws(CheckRecord(*cells, *unseen), 0.8, 0.9, 20, 2000, rng)
        for place, part in enumerate(drawn):
            low, high = np.quantile(part, (0.05, 0.95))
            held[place] += low <= truth[place] <= high
    # Truths from the assumption: 9 in 10 are covered; within the 99.9 % range of that count.
    low, high = binom(shops, 0.9).ppf([0.0005, 0.9995])
    assert ((held >= low) & (held <= high)).all(), held


def test_thousands_of_unverified_jobs_are_weighed_on_a_coarser_lattice(monkeypatch):
    record = CheckRecord(200, 100, 20, 300, positive_unseen=1100, negative_unseen=1700)
    coarse = accuracy_draws(record, 0.8, 0.9, 20, MANY, np.random.default_rng(8))
    monkeypatch.setattr(check_accuracy, "_MOST_SPLITS", 2000)
    exact = accuracy_draws(record, 0.8, 0.9, 20, MANY, np.random.default_rng(9))
    for one, other in zip(coarse, exact, strict=True):
        assert one.mean() == pytest.approx(other.mean(), abs=8 * other.std() / np.sqrt(MANY))
        assert one.std() == pytest.approx(other.std(), rel=0.01)
