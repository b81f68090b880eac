"""Mean of a difference over jobs, with a bootstrap interval.

Jobs are resampled, because outcomes within one are correlated (cluster bootstrap).

References
----------
Efron 1979, Bootstrap methods: another look at the jackknife, Annals of
Statistics 7:1 (percentile interval).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from triage.posterior.interval import interval

RESAMPLES = 2000


@dataclass(frozen=True)
class Difference:
    """A mean and its 90 % interval."""

    mean: float
    low: float
    high: float


def mean_difference(values: np.ndarray, seed: int, resamples: int = RESAMPLES) -> Difference:
    """Mean of differences and its interval.

    Parameters
    ----------
    values : ndarray, shape (job,), one difference a job.
    """
    values = np.asarray(values, float)
    rng = np.random.default_rng(seed)
    means = np.array([values[rng.integers(0, len(values), len(values))].mean() for _ in range(resamples)])
    low, high = interval(means)
    return Difference(float(values.mean()), float(low), float(high))
