"""Forecast amounts compared with outcomes: coverage of the intervals, and bias of the mean.

An interval is judged by its coverage, a mean by its bias (forecast less outcome).
Amounts of one job are correlated, so the standard error of the bias is clustered
by job.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Literal

import numpy as np
import pandas as pd
from scipy.special import ndtri

from triage.posterior.interval import LEVEL
from triage.review.forecasts.reliability import Share, coverage

AmountUnit = Literal["minutes", "money"]

# A coverage as near as this to the stated one makes no difference to a shop, however many amounts there are.
_CLOSE = 0.02
_SURE = float(ndtri((1 + LEVEL) / 2))


@dataclass(frozen=True)
class PromiseCheck:
    """One kind of amount: minutes a try, minutes a job, or margin a job.

    unit : of the amounts.
    what : its name, in the plural, for people. basis : what was forecast and what counts, in words.
    count, jobs : amounts, and the jobs that they belong to.
    half, ninety : how many fell inside their 50 % and their 90 % interval.
    promised, realised : mean forecast and mean outcome. gap : bias, their difference. error : its
        standard error.
    """

    unit: AmountUnit
    what: str
    basis: str
    count: int
    jobs: int
    half: Share
    ninety: Share
    promised: float
    realised: float
    gap: float
    error: float

    @property
    def coverage_words(self) -> str:
        """Coverage of the intervals."""
        return (
            f"{self.what[:1].upper()}{self.what[1:]}: {self.ninety.held:,} of {self.ninety.of:,} were inside "
            f"their 90 % prediction interval ({_percent(self.ninety.value)}; {_judged(self.ninety, 0.9)}), "
            f"{self.half.held:,} inside their 50 % prediction interval ({_percent(self.half.value)}; "
            f"{_judged(self.half, 0.5)})."
        )

    def bias_words(self, amount: Callable[[float], str]) -> str:
        """Say how forecast and actual means compare.

        amount : writes an amount, such as money.
        """
        if abs(self.gap) <= _SURE * self.error:
            verdict = "within chance"
        else:
            verdict = "more than chance explains: forecasts were too " + ("high" if self.gap > 0 else "low")
        return (
            f"Mean forecast {amount(self.promised)}, mean outcome {amount(self.realised)}, over "
            f"{self.count:,} forecasts in {self.jobs:,} jobs: difference {amount(self.gap)}, "
            f"standard error {amount(self.error)}; {verdict}."
        )


def check_promises(
    unit: AmountUnit,
    what: str,
    basis: str,
    mean: np.ndarray,
    quantiles: np.ndarray,
    actual: np.ndarray,
    job: np.ndarray,
) -> PromiseCheck | None:
    """Check forecast amounts; None when there are none.

    Parameters
    ----------
    mean, actual : ndarray, shape (amount,), mean forecast and outcome; amounts
        that are not known are NaN and left out.
    quantiles : ndarray, shape (amount, 5), at .05, .25, .5, .75, .95.
    job : shape (amount,), labels.
    """
    known = ~np.isnan(np.column_stack([mean, actual, quantiles])).any(axis=1)
    if not known.any():
        return None
    mean, quantiles, actual = mean[known], quantiles[known], np.asarray(actual, float)[known]
    gaps, place = mean - actual, pd.factorize(np.asarray(job)[known])[0]
    gap, count = float(gaps.mean()), len(gaps)
    by_job = np.bincount(place, weights=gaps - gap)
    jobs = len(by_job)
    error = float(np.sqrt((by_job**2).sum() * jobs / (jobs - 1)) / count) if jobs > 1 else float("inf")
    low, quarter, _, three_quarters, high = quantiles.T
    return PromiseCheck(
        unit=unit,
        what=what,
        basis=basis,
        count=count,
        jobs=jobs,
        half=coverage(quarter, three_quarters, actual),
        ninety=coverage(low, high, actual),
        promised=float(mean.mean()),
        realised=float(actual.mean()),
        gap=gap,
        error=error,
    )


def _percent(share: float) -> str:
    return f"{100 * share:.0f} %"


def _judged(share: Share, stated: float) -> str:
    """Whether the nominal coverage lies in the interval of the observed one."""
    if share.low <= stated <= share.high:
        return "as stated, within chance"
    if abs(share.value - stated) < _CLOSE:
        return f"close to the stated {_percent(stated)}, though further off than chance explains"
    if share.value < stated:
        return "too narrow, by more than chance explains"
    return "too wide, by more than chance explains"
