"""Mean margin of the jobs that had a thing, group by group and on its own: nothing is pooled here."""

from __future__ import annotations

import numpy as np
from scipy.stats import t as student

from triage.posterior.interval import LEVEL
from triage.review.money.attribution import JOBS_BEHIND_SD, steady_variances
from triage.review.money.pooled_money import SURE, Pooled


def plain_means(margins: np.ndarray, had: np.ndarray) -> Pooled:
    """Mean, its Student interval and the chance that the true mean is negative, under a flat prior.

    The variance alone leans on that of all groups, as if by a few jobs more, which also
    count as degrees of freedom: one job has an interval too.

    Parameters
    ----------
    margins : shape (job,), money. had : bool, shape (job, group), every group with a job.
    """
    jobs = had.sum(axis=0)
    mean = (margins @ had) / jobs
    squares = ((margins[:, None] - mean) ** 2 * had).sum(axis=0)
    smallest = SURE * (float(np.std(margins)) or abs(float(np.mean(margins))) or 1.0)
    sd = np.maximum(np.sqrt(steady_variances(squares, jobs - 1) / jobs), smallest)
    freedom = jobs - 1 + JOBS_BEHIND_SD
    half = student.ppf((1 + LEVEL) / 2, freedom) * sd
    return Pooled(mean, sd, mean - half, mean + half, student.cdf(-mean / sd, freedom))
