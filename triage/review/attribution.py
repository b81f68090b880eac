"""A job's margin shared out over its findings: a regression of margin on what was wrong, pooled.

    margin_j = base + scale * sum over its findings of effect_k + noise_j
    effect_k ~ N(mu, tau)      pooled_money.py: prior on mu and tau, tau by quadrature
    noise_j  ~ (0, sigma)

Base, scale and sigma are those of the job's route and tier. The scale is the sd
of its margins: what a damage takes off a dear unit is more money than off a
cheap one. The base is a plain nuisance with a flat prior, so the noise of each
route and tier sums to nothing, and bases and effects add up to the money of the
record. What a finding is answerable for is its effect and an even share of its
job's base (the Shapley value of this regression: Shapley 1953, A Value for
n-Person Games). A job's noise is not normal (a stop, a refund), and a kind far
from all others with few jobs is pulled in too far; what the intervals are worth
is measured in `tests/review/test_money_coverage.py`.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd

from triage.review.pooled_money import SURE, MoneyPrior, Pooled, PooledGroups, pool

# A variance is pulled towards that of all jobs as if by this many jobs more.
_JOBS_BEHIND_SD = 5
# In units of the scale: an effect is of the order of the spread of margins, or less.
EFFECT_PRIOR = MoneyPrior(centre=0.0, centre_sd=2.0, spread=0.5)


def weak_prior(margins: np.ndarray) -> MoneyPrior:
    """A prior that lets the record speak: the middle within two sd of margins, groups within half of one."""
    scale = float(np.std(margins)) or abs(float(np.mean(margins))) or 1.0
    return MoneyPrior(centre=0.0, centre_sd=2.0 * scale, spread=scale / 2.0)


def steady_variances(squares: np.ndarray, freedom: np.ndarray) -> np.ndarray:
    """Variance within each group, shape (group,), steadied by that of all.

    squares : sums of squared distances from the group's mean. freedom : jobs less one.
    """
    overall = squares.sum() / max(freedom.sum(), 1) or 1.0
    return (squares + _JOBS_BEHIND_SD * overall) / (freedom + _JOBS_BEHIND_SD)


@dataclass(frozen=True)
class Attribution:
    """Margins shared out over findings.

    has : bool, shape (job, kind). base : int, shape (job,), each job's route and tier.
    scale : shape (base,), money. effects : posterior of the effects, in units of the scale.
    precision : shape (kind,), what the record says of each effect, the others known.
    base_mean : shape (base,), mean margin. base_has : shape (base, kind), mean of
    scale times has. base_var : shape (base,), variance of base_mean given the effects.
    """

    has: np.ndarray
    base: np.ndarray
    scale: np.ndarray
    effects: PooledGroups
    precision: np.ndarray
    base_mean: np.ndarray
    base_has: np.ndarray
    base_var: np.ndarray

    @property
    def bases(self) -> np.ndarray:
        """What a unit of each route and tier brings before its damage, shape (base,), money."""
        return self.base_mean - self.base_has @ self.effects.groups().mean

    @property
    def pull(self) -> np.ndarray:
        """Share of the way each effect is pulled to the middle, shape (kind,)."""
        return self.effects.pull(self.precision)

    def effects_of(self, together: np.ndarray) -> Pooled:
        """What a group of kinds adds or takes off, money per job that had one of them.

        together : bool, shape (group, kind), which kinds make a group.
        """
        none = np.zeros(len(together))
        return self.effects.linear(self._money(together), none, none)

    def shares_of(self, together: np.ndarray) -> Pooled:
        """What a group of kinds is answerable for, money per job that had one of them."""
        jobs = (self.has @ together.T > 0).sum(axis=0)
        # A finding's part of its job's base; a group's part is that of its findings.
        even = (self.has @ together.T.astype(float)) / self.has.sum(axis=1, keepdims=True)  # (job, group)
        member = np.eye(len(self.base_mean))[self.base]  # (job, base)
        of_base = (even.T @ member) / jobs[:, None]  # (group, base)
        by = self._money(together) - of_base @ self.base_has
        return self.effects.linear(by, of_base @ self.base_mean, of_base**2 @ self.base_var)

    def _money(self, together: np.ndarray) -> np.ndarray:
        """Money per job of a group for one unit of each effect, shape (group, kind)."""
        jobs = (self.has @ together.T > 0).sum(axis=0)
        return together * (self.scale[self.base] @ self.has) / jobs[:, None]


def attribute(margins: np.ndarray, has: np.ndarray, base: np.ndarray) -> Attribution:
    """Fit the regression.

    Parameters
    ----------
    margins : shape (job,), money. has : bool, shape (job, kind), every job with at
        least one, every kind in at least one. base : int, shape (job,), from 0.
    """
    member = np.eye(base.max() + 1)[base]  # (job, base)
    size = member.sum(axis=0)
    base_mean = (member.T @ margins) / size
    y = margins - base_mean[base]  # the bases taken out
    var = steady_variances(member.T @ y**2, size - 1)
    scale = np.sqrt(var)
    worth = has * scale[base][:, None]
    base_has = (member.T @ worth) / size[:, None]
    x = worth - base_has[base]
    for _ in range(3):  # variances and effects settle to a cent within three rounds
        weight = 1.0 / var[base]
        precision = (x.T * weight) @ x
        effects = pool(precision, (x.T * weight) @ y, EFFECT_PRIOR)
        noise = y - x @ effects.groups().mean
        var = np.maximum(steady_variances(member.T @ noise**2, size - 1), (SURE * scale) ** 2)
    return Attribution(has, base, scale, effects, np.diag(precision), base_mean, base_has, var / size)


def finding_table(rows: pd.DataFrame, jobs: pd.Index) -> pd.DataFrame:
    """Which job had which kind: bool, jobs as rows, the kinds that any of them had as columns."""
    ours = rows[rows["job"].isin(jobs)]
    return pd.crosstab(ours["job"], ours["finding"]).reindex(jobs).astype(bool)
