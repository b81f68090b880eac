"""Money by group with partial pooling: a small group is pulled towards what all groups have in common.

    y | theta ~ N(theta, inverse of `precision`)    what the record says of each group
    theta_g   ~ N(mu, tau x relative_g)             what is true of each group; relative is 1 unless given
    mu        ~ N(centre, centre_sd),  tau ~ half-Cauchy or half-normal(spread)

`mu` and `theta` are integrated by algebra and `tau` by the trapezoid rule on its
logarithm, where the integrand falls off at both ends: exact to rounding, no sampler.
The model is that of Rubin 1981, Estimation in Parallel Randomized Experiments,
J. Educ. Stat. 6:377, with a prior on mu and tau (Gelman 2006, Bayesian Analysis 1:515).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
from scipy.linalg import cho_factor, cho_solve
from scipy.special import ndtr

from triage.posterior.interval import LEVEL

_STEP = 0.05  # of log tau
_REACH = 18.0  # in log tau beyond every scale of the problem: what is left out is below 1e-7
_ROUNDING = 1e-13
SURE = 1e-5  # of what is thought possible: an error smaller than this is none, and would not be solvable
_COARSE, _FAR_BELOW = 10, 40.0  # every tenth node is looked at first; in log weight, e^-40 of the top
_NEGLIGIBLE = 1e-10  # weight of a node that is left out
_NEVER_CERTAIN = np.nextafter(0.0, 1.0), np.nextafter(1.0, 0.0)  # the smallest and the largest chance between


@dataclass(frozen=True)
class MoneyPrior:
    """What is thought of the groups before the record: money, major units."""

    centre: float
    centre_sd: float
    spread: float
    spread_shape: Literal["half-cauchy", "half-normal"] = "half-cauchy"


@dataclass(frozen=True)
class Pooled:
    """Posterior of several quantities, each array of shape (quantity,), money.

    low, high : 90 % interval, equal tails. below_zero : chance that it is negative, above 0 and below 1.
    """

    mean: np.ndarray
    sd: np.ndarray
    low: np.ndarray
    high: np.ndarray
    below_zero: np.ndarray


@dataclass(frozen=True)
class PooledGroups:
    """Posterior of the groups as a mixture of normals, one a node of tau.

    weight, tau : shape (node,). mean : shape (node, group). cov : shape (node, group, group).
    mu_mean, mu_var : shape (node,), of what all groups have in common. relative :
    shape (group,), how much wider than tau each group's prior is. apart : shape
    (group,), posterior mean of ((theta - mu) / tau) squared.
    """

    weight: np.ndarray
    tau: np.ndarray
    mean: np.ndarray
    cov: np.ndarray
    mu_mean: np.ndarray
    mu_var: np.ndarray
    relative: np.ndarray
    apart: np.ndarray

    @property
    def covariance(self) -> np.ndarray:
        """Covariance of the groups given tau, averaged over it, shape (group, group)."""
        return np.einsum("n,ngh->gh", self.weight, self.cov)

    @property
    def middle(self) -> np.ndarray:
        """Posterior mean of every group, shape (group,)."""
        return self.weight @ self.mean

    @property
    def mu(self) -> float:
        """Posterior mean of what all groups have in common."""
        return float(self.weight @ self.mu_mean)

    @property
    def spread(self) -> float:
        """Posterior mean of tau."""
        return float(self.weight @ self.tau)

    def pull(self, precision: np.ndarray) -> np.ndarray:
        """Share of the way that each group is pulled to the middle, shape (group,), 0 to 1.

        precision : shape (group,), what the record says of each on its own.
        """
        record = np.maximum(precision, 1e-300) * np.outer(self.tau, self.relative) ** 2  # (node, group)
        return self.weight @ (1.0 / (1.0 + record))

    def groups(self) -> Pooled:
        """Posterior of every group."""
        return _mixture(self.weight, self.mean, np.diagonal(self.cov, axis1=1, axis2=2))

    def linear(self, by: np.ndarray, plus: np.ndarray, var: np.ndarray) -> Pooled:
        """Posterior of `by @ theta + plus + noise`; the noise normal, independent of theta.

        by : shape (quantity, group). plus, var : shape (quantity,), offset and variance of the noise.
        """
        spread = np.einsum("qg,ngh,qh->nq", by, self.cov, by, optimize=True)
        return _mixture(self.weight, self.mean @ by.T + plus, spread + var)


def pool(
    precision: np.ndarray,
    score: np.ndarray,
    prior: MoneyPrior,
    relative: np.ndarray | None = None,
    score_cov: np.ndarray | None = None,
) -> PooledGroups:
    """Pool groups whose record is a normal likelihood in all of them together.

    Parameters
    ----------
    precision : shape (group, group), of the likelihood; it may be singular, as
        where two groups always come together.
    score : shape (group,), precision times the estimate.
    relative : shape (group,), each group's prior sd in units of tau; 1 when None.
    score_cov : shape (group, group), covariance of the score where that is not the
        precision, as with noise that differs from job to job: means stay, their
        covariance becomes that of an estimate with this noise (sandwich form).
    """
    count = len(score)
    relative = np.ones(count) if relative is None else relative
    sizes = np.diag(precision)
    known = 1.0 / np.sqrt(sizes[sizes > 0]) if (sizes > 0).any() else np.array([prior.spread])
    step = min(_STEP, 0.35 / np.sqrt(count))  # the posterior of log tau has an sd of about 1/sqrt(2 count)
    ends = np.log([min(prior.spread, known.min()), max(prior.spread, known.max())])
    log_tau = np.arange(ends[0] - _REACH, ends[1] + _REACH / 2, step)  # it falls off twice as fast above
    one, eye = np.ones(count), np.eye(count)
    precision = precision + _ROUNDING * sizes.max() * eye  # a singular one stays solvable at every tau
    # With theta = mu + tau relative z the precision matrix is that of (mu, z): well scaled as tau vanishes.
    half, direct = relative * (precision @ one), float(one @ precision @ one)
    own, told = precision * np.outer(relative, relative), relative * score

    def at(log_tau: float) -> tuple[float, tuple, np.ndarray]:
        """Log weight of a node, the factor of its precision, and its mean of (mu, z)."""
        tau = np.exp(log_tau)
        joint = np.empty((count + 1, count + 1))
        joint[0, 0] = direct + prior.centre_sd**-2
        joint[0, 1:] = joint[1:, 0] = tau * half
        joint[1:, 1:] = tau**2 * own + eye
        target = np.concatenate([[one @ score + prior.centre * prior.centre_sd**-2], tau * told])
        factor = cho_factor(joint, lower=True, check_finite=False)
        middle = cho_solve(factor, target, check_finite=False)
        log_weight = target @ middle / 2 - np.log(np.diag(factor[0])).sum() + _log_prior(tau, prior)
        return log_weight + log_tau, factor, middle

    # A coarse look first: where it is far below the top, nodes weigh nothing.
    coarse = log_tau[::_COARSE]
    outline = np.array([at(node)[0] for node in coarse])
    log_tau = log_tau[np.interp(log_tau, coarse, outline) > outline.max() - _FAR_BELOW]
    nodes = [at(node) for node in log_tau]
    log_weight = np.array([node[0] for node in nodes])
    weight = np.exp(log_weight - log_weight.max())
    weight /= weight.sum()
    kept = np.flatnonzero(weight > _NEGLIGIBLE)
    means, covs, mus, mu_vars, apart = [], [], [], [], []
    for node in kept:
        _, factor, middle = nodes[node]
        to_groups = np.hstack([one[:, None], np.exp(log_tau[node]) * np.diag(relative)])  # (group, 1 + group)
        inverse = cho_solve(factor, np.eye(count + 1), check_finite=False)
        cov = to_groups @ inverse @ to_groups.T
        if score_cov is not None:
            cov = cov + cov @ (score_cov - precision) @ cov
        covs.append(cov)
        means.append(to_groups @ middle)
        mus.append(middle[0])
        mu_vars.append(inverse[0, 0])
        apart.append(middle[1:] ** 2 + np.diag(inverse)[1:])
    weight = weight[kept] / weight[kept].sum()
    return PooledGroups(
        weight, np.exp(log_tau[kept]), np.array(means), np.array(covs), np.array(mus), np.array(mu_vars),
        relative, relative**2 * (weight @ np.array(apart)),
    )  # fmt: skip


def pool_means(mean: np.ndarray, sd: np.ndarray, prior: MoneyPrior) -> PooledGroups:
    """Pool groups that are known one by one: a mean and its standard error each, shape (group,)."""
    sd = np.maximum(sd, SURE * prior.centre_sd)
    return pool(np.diag(sd**-2.0), mean * sd**-2.0, prior)


def _log_prior(tau: float, prior: MoneyPrior) -> float:
    ratio = tau / prior.spread
    return -np.log1p(ratio**2) if prior.spread_shape == "half-cauchy" else -(ratio**2) / 2


def _mixture(weight: np.ndarray, mean: np.ndarray, var: np.ndarray) -> Pooled:
    """Moments, quantiles and the chance below zero of mixtures of normals; mean, var : (node, quantity)."""
    sd = np.sqrt(np.maximum(var, 1e-300))
    middle = weight @ mean
    total = np.sqrt(weight @ (var + (mean - middle) ** 2))

    def below(x: np.ndarray) -> np.ndarray:
        return weight @ ndtr((x - mean) / sd)

    def quantile(share: float) -> np.ndarray:
        low, high = (mean - 9 * sd).min(axis=0), (mean + 9 * sd).max(axis=0)
        for _ in range(60):  # bisection halves the bracket to rounding
            half = (low + high) / 2
            under = below(half) < share
            low, high = np.where(under, half, low), np.where(under, high, half)
        return (low + high) / 2

    # A normal leaves no amount impossible. Whether a sum of weights rounds to one or to just below it
    # differs from processor to processor, and "20 in 20" is said of what is certain only.
    below_zero = np.clip(below(np.zeros(1)), *_NEVER_CERTAIN)
    return Pooled(middle, total, quantile((1 - LEVEL) / 2), quantile((1 + LEVEL) / 2), below_zero)
