"""Normal log ratios in groups of equal mean, by their sufficient statistics.

For one group of n values with common mean and spread, the average and the sum
of squares about it carry the whole likelihood, so a fit costs the same for ten
values as for ten thousand.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from triage.outcome_models.data_inputs import of_rows


@dataclass(frozen=True)
class LogRatios:
    """Sufficient statistics of log ratios.

    group : ndarray of int, shape (group, label), what the members share.
    count, average, squares : ndarray, shape (group,); `squares` is the sum of
        squared distances from the group's average.
    """

    group: np.ndarray
    count: np.ndarray
    average: np.ndarray
    squares: np.ndarray

    @classmethod
    def of(cls, labels: np.ndarray, values: np.ndarray) -> LogRatios:
        """Group values, shape (value,), by their row of labels, shape (value, label)."""
        group, place = np.unique(labels, axis=0, return_inverse=True)
        count = np.bincount(place, minlength=len(group))
        average = np.bincount(place, values, minlength=len(group)) / np.maximum(count, 1)
        squares = np.bincount(place, (values - average[place]) ** 2, minlength=len(group))
        return cls(group, count, average, squares)


def observe(ratios: LogRatios, mean: Any, spread: Any) -> None:
    """Add the likelihood of the ratios to the model being built; `mean` has shape (group,)."""
    import pymc as pm
    import pytensor.tensor as pt

    if not len(ratios.count):
        return
    count, average, within = (
        of_rows(name, getattr(ratios, name)) for name in ("count", "average", "squares")
    )
    squares = within + count * (average - mean) ** 2  # (group,)
    total = pt.sum(count)
    log_likelihood = -total * (pt.log(spread) + 0.5 * np.log(2 * np.pi)) - 0.5 * pt.sum(squares) / spread**2
    pm.Potential("log_ratios", log_likelihood)
