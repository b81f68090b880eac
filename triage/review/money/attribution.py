"""A job's margin divided among its damage: a regression of margin on damage kinds, with partial pooling.

    margin_j = base + scale * sum over its findings of effect_k + noise_j
    effect_k ~ t(mu, tau)      pooled_money.py: prior on mu and tau, tau by quadrature
    noise_j  ~ (0, sigma x product over its findings of a factor each)

Base, scale and sigma are those of the job's route and tier. The scale is the sd
of its margins: what a damage takes off a dear unit is more money than off a
cheap one. The base is a plain nuisance with a flat prior, so the noise of each
route and tier sums to nothing, and bases and effects add up to the money of the
record. The share of a damage is its effect and an equal share of its
job's base (the Shapley value of this regression: Shapley 1953, A Value for
n-Person Games).

How sure that is, `tests/review/money/test_money_coverage.py` measures. Four things
keep the intervals honest. A kind far from all others is pulled in less: effects
are Student's t, a scale mixture of normals whose scales are settled by mean
field. Noise that differs by damage enters the covariance and not the weights
(sandwich form: Huber 1967; White 1980, Econometrica 48:817). A residual is made
larger by what its own job took from it (its leverage). And a kind's jobs are a
sample of future ones: their mix of routes and tiers counts as sampling variation.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd

from triage.review.money.pooled_money import SURE, MoneyPrior, Pooled, PooledGroups, pool

# A variance is pulled towards that of all jobs as if by this many jobs more.
JOBS_BEHIND_SD = 5
# In units of the scale: an effect is of the order of the spread of margins, or less.
EFFECT_PRIOR = MoneyPrior(centre=0.0, centre_sd=2.0, spread=0.5)
_FREEDOM = 4.0  # of the t: some kinds, such as a dead board, are a world apart
_MOST_LEVERAGE = 0.9  # a job that decides all by itself tells no noise
_ROUNDS = 6  # by then scales of the t and variances move no mean by a twentieth of its interval


def weak_prior(margins: np.ndarray) -> MoneyPrior:
    """A weakly informative prior: the middle within two sd of margins, groups within half of one."""
    scale = float(np.std(margins)) or abs(float(np.mean(margins))) or 1.0
    return MoneyPrior(centre=0.0, centre_sd=2.0 * scale, spread=scale / 2.0)


def steady_variances(squares: np.ndarray, freedom: np.ndarray) -> np.ndarray:
    """Variance within each group, shape (group,), steadied by that of all.

    squares : sums of squared distances from the group's mean. freedom : jobs less one.
    """
    overall = squares.sum() / max(freedom.sum(), 1) or 1.0
    return (squares + JOBS_BEHIND_SD * overall) / (freedom + JOBS_BEHIND_SD)


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
        return self.base_mean - self.base_has @ self.effects.middle

    @property
    def pull(self) -> np.ndarray:
        """Share of the way each effect is pulled to the middle, shape (kind,)."""
        return self.effects.pull(self.precision)

    def effects_of(self, together: np.ndarray) -> Pooled:
        """What a group of kinds adds or takes off, money per job that had one of them.

        together : bool, shape (group, kind), which kinds make a group.
        """
        mean = self.effects.middle
        own = (self.has * (self.scale[self.base][:, None] * mean)) @ together.T  # (job, group)
        luck = self._composition(own, together)
        return self.effects.linear(self._money(together), np.zeros(len(together)), luck)

    def shares_of(self, together: np.ndarray) -> Pooled:
        """What a group of kinds is answerable for, money per job that had one of them."""
        jobs = (self.has @ together.T > 0).sum(axis=0)
        # A finding's part of its job's base; a group's part is that of its findings.
        even = (self.has @ together.T.astype(float)) / self.has.sum(axis=1, keepdims=True)  # (job, group)
        member = np.eye(len(self.base_mean))[self.base]  # (job, base)
        of_base = (even.T @ member) / jobs[:, None]  # (group, base)
        by = self._money(together) - of_base @ self.base_has
        mean = self.effects.middle
        own = (self.has * (self.scale[self.base][:, None] * mean)) @ together.T
        luck = self._composition(even * self.bases[self.base][:, None] + own, together)
        return self.effects.linear(by, of_base @ self.base_mean, of_base**2 @ self.base_var + luck)

    def _composition(self, parts: np.ndarray, together: np.ndarray) -> np.ndarray:
        """Variance of a group's mean that lies in which jobs came: routes, tiers, other findings.

        parts : shape (job, group), what each job gives the group.
        """
        had = self.has @ together.T > 0
        jobs = had.sum(axis=0)
        mean = (parts * had).sum(axis=0) / jobs
        return steady_variances((had * (parts - mean) ** 2).sum(axis=0), jobs - 1) / jobs

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
    relative, louder = np.ones(has.shape[1]), np.ones(len(margins))
    for _ in range(_ROUNDS):
        weight = 1.0 / var[base]
        precision = (x.T * weight) @ x
        score_cov = (x.T * (weight * louder)) @ x
        effects = pool(precision, (x.T * weight) @ y, EFFECT_PRIOR, relative, score_cov)
        relative = np.sqrt((_FREEDOM + effects.apart) / (_FREEDOM + 1.0))
        noise = y - x @ effects.middle
        leverage = ((x @ effects.covariance) * x).sum(axis=1) * weight + 1.0 / size[base]
        squares = noise**2 / (1.0 - np.minimum(leverage, _MOST_LEVERAGE))
        var = np.maximum(steady_variances(member.T @ squares, size), (SURE * scale) ** 2)
        louder = _noise_factors(squares / var[base], has)
    return Attribution(has, base, scale, effects, np.diag(precision), base_mean, base_has, var / size)


def _noise_factors(squares: np.ndarray, has: np.ndarray) -> np.ndarray:
    """Variance of each job's noise in units of its route and tier's: a factor for each finding.

    squares : shape (job,), in those units.
    """
    jobs, log_factors = has.sum(axis=0), np.zeros(has.shape[1])
    for _ in range(20):  # half steps, as factors of one job push against each other
        expected = np.exp(has @ log_factors)
        ratio = (has.T @ (squares / expected) + JOBS_BEHIND_SD) / (jobs + JOBS_BEHIND_SD)
        log_factors += np.log(ratio) / 2.0
    return np.exp(has @ log_factors)


def finding_table(rows: pd.DataFrame, jobs: pd.Index) -> pd.DataFrame:
    """Which job had which kind: bool, jobs as rows, the kinds that any of them had as columns."""
    ours = rows[rows["job"].isin(jobs)]
    return pd.crosstab(ours["job"], ours["finding"]).reindex(jobs).astype(bool)
