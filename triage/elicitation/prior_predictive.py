"""What an assumption implies before any data, in counts of repairs."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.special import expit
from scipy.stats import binom

from triage.posterior.interval import LEVEL
from triage.priors.fresh_job import trapezium
from triage.priors.kind_beliefs import belief_logit


@dataclass(frozen=True)
class PredictedCount:
    """How many of so many fresh jobs would be fixed.

    of : jobs, each on another device. low, high : 9 in 10 times it is one of
    these or between them. chance_within : the exact chance of that.
    chances : of 0, 1, 2 and so on of them.
    """

    of: int
    mean: float
    low: int
    high: int
    chance_within: float
    chances: tuple[float, ...]

    @property
    def twenty(self) -> tuple[int, ...]:
        """Twenty equally likely counts: the middle of each twentieth of the distribution."""
        below = np.cumsum(self.chances)
        return tuple(int(np.searchsorted(below, (dot + 0.5) / 20)) for dot in range(20))


def count_from_belief(chance: float, jobs: float, of: int = 20) -> PredictedCount:
    """Count the assumption by itself implies: binomial, its logit normal.

    Parameters
    ----------
    chance, jobs : of a `KindBelief`.
    """
    mean, sd = belief_logit(chance, jobs)
    z, weight = trapezium(2 * of**0.5 * sd)  # the mass is narrower in the logit than a chance is
    return _count(weight @ binom.pmf(np.arange(of + 1), of, expit(mean + sd * z)[:, None]))


def _count(mass: np.ndarray) -> PredictedCount:
    """Read mean and equal-tailed interval off the chances of 0, 1, 2 and so on."""
    below = np.cumsum(mass)
    low, high = (int(np.searchsorted(below, level)) for level in ((1 - LEVEL) / 2, (1 + LEVEL) / 2))
    high = min(high, mass.size - 1)
    within = float(mass[low : high + 1].sum())
    return PredictedCount(
        mass.size - 1, float(np.arange(mass.size) @ mass), low, high, within, tuple(map(float, mass))
    )
