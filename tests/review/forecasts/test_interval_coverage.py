"""Promised amounts against what came: by pencil, and draws that must be covered because they are true."""

import numpy as np
import pytest

from triage.review.forecasts.interval_coverage import check_promises

MONEY = "{:.1f} EUR".format


def test_counts_gap_and_error_by_pencil():
    quantiles = np.tile([0.0, 4.0, 5.0, 6.0, 10.0], (4, 1))
    found = check_promises(
        "money",
        "margins per job",
        "",
        np.full(4, 5.0),
        quantiles,
        np.array([5.0, 3.0, 11.0, np.nan]),
        np.arange(4),
    )
    assert (found.count, found.jobs, found.half.held, found.ninety.held) == (3, 3, 1, 2)
    assert (found.promised, found.realised) == (5.0, pytest.approx(19 / 3))
    # Gaps of 0, 2 and -6.
    assert found.gap == pytest.approx(-4 / 3)
    assert found.error == pytest.approx(np.std([0, 2, -6], ddof=1) / np.sqrt(3))
    assert "within chance" in found.bias_words(MONEY)


def test_amounts_of_one_job_count_as_one():
    quantiles, job = np.tile([-2.0, -1, 0, 1, 2], (6, 1)), np.repeat([0, 1, 2], 2)
    actual = np.repeat([-1.0, 0.5, 2.0], 2)
    found = check_promises("minutes", "minutes per attempt", "", np.zeros(6), quantiles, actual, job)
    assert (found.count, found.jobs) == (6, 3)
    assert found.error == pytest.approx(np.std([-1, 0.5, 2], ddof=1) / np.sqrt(3))


def test_nothing_known_is_no_check():
    assert (
        check_promises("money", "x", "", np.zeros(2), np.zeros((2, 5)), np.full(2, np.nan), np.zeros(2))
        is None
    )


def test_true_intervals_hold_and_false_ones_are_told():
    rng = np.random.default_rng(1)
    actual, job = rng.normal(20, 5, 2000), np.arange(2000)
    levels = 20 + 5 * np.array([-1.6449, -0.6745, 0, 0.6745, 1.6449])
    true = check_promises(
        "money", "margins", "", np.full(2000, 20.0), np.tile(levels, (2000, 1)), actual, job
    )
    assert "as stated, within chance" in true.coverage_words and "within chance" in true.bias_words(MONEY)
    narrow = 20 + (levels - 20) / 2
    false = check_promises(
        "money", "margins", "", np.full(2000, 23.0), np.tile(narrow, (2000, 1)), actual, job
    )
    assert "too narrow" in false.coverage_words
    assert "too high" in false.bias_words(MONEY) and "Mean forecast 23.0 EUR" in false.bias_words(MONEY)
