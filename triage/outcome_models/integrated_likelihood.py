"""Likelihood of attempts with the job effect integrated out.

Everything that went wrong with one unit at once is `u ~ N(0, sigma)`, added to
the logit of each attempt in the job. Logits given are those of fresh chances
(`fresh_job`): a job of one attempt has that chance, and the logits in a job of
several are found from them. Sampling one `u` a job mixes badly;
integrating it by Gauss-Hermite quadrature leaves a smooth likelihood of
`sigma` and the fixed effects. Jobs with equal contents are computed once.

This file is the reference, in NumPy and in logarithms; `likelihood_op` is the
same for PyTensor, with its gradient, written for speed.

References
----------
Breslow and Clayton 1993, Approximate inference in generalized linear mixed
models, JASA 88:9 (the model); Abramowitz and Stegun 1972, 25.4.46 (the nodes).
"""

from __future__ import annotations

from functools import lru_cache

import numpy as np
from scipy.special import logit, logsumexp

from triage.design_matrix import AttemptPatterns
from triage.priors.fresh_job import inside_logit

NODE_COUNTS = (7, 9, 11, 15, 21, 31, 45)
REFERENCE_NODES = 121
# Largest error allowed in the total log likelihood of all jobs together.
TOLERANCE = 1e-4


@lru_cache(maxsize=32)
def standard_nodes(count: int) -> tuple[np.ndarray, np.ndarray]:
    """Nodes of a standard normal and the logs of their weights, each shape (node,)."""
    nodes, weights = np.polynomial.hermite_e.hermegauss(count)
    keep = weights > 0  # the outermost of many nodes underflow
    return nodes[keep], np.log(weights[keep] / weights[keep].sum())


def integrated_log_likelihood(
    linear: np.ndarray,
    fixed: np.ndarray,
    trials: np.ndarray,
    group: np.ndarray,
    sigma: float,
    nodes: int = REFERENCE_NODES,
) -> float:
    """Log likelihood of grouped binomial counts, a normal effect a group integrated out.

    Parameters
    ----------
    linear : ndarray, shape (row,), linear predictor (design matrix times coefficients).
    fixed, trials : ndarray, shape (row,), successes, and attempts.
    group : ndarray of int, shape (row,), from 0.
    sigma : sd of the group effect on the logit.
    nodes : Gauss-Hermite nodes.

    Returns
    -------
    float : without the binomial constant.
    """
    z, log_weight = standard_nodes(nodes)
    at_node = np.asarray(linear, float)[:, None] + sigma * z  # (row, node)
    fixed, trials = np.asarray(fixed, float)[:, None], np.asarray(trials, float)[:, None]
    contribution = fixed * at_node - trials * np.logaddexp(0, at_node)
    total = np.zeros((int(np.max(group)) + 1, z.size))  # (group, node)
    np.add.at(total, group, contribution)
    return float(logsumexp(total + log_weight, axis=1).sum())


def pattern_log_likelihood(
    logits: np.ndarray,
    sigma: np.ndarray,
    patterns: AttemptPatterns,
    nodes: int,
) -> np.ndarray:
    """Log likelihood of each pattern.

    Parameters
    ----------
    logits : ndarray, shape (draw, cell), logit of each distinct attempt's fresh chance.
    sigma : ndarray, shape (draw,), sd of the job effect.
    patterns : the jobs.
    nodes : Gauss-Hermite nodes.

    Returns
    -------
    ndarray, shape (draw, pattern)
    """
    z, log_weight = standard_nodes(nodes)
    sign = np.where(patterns.fixed, 1.0, -1.0)[:, None]
    alone, first = patterns.size == 1, patterns.start[:-1]
    result = np.empty((len(logits), len(patterns.count)))
    for draw, (point, sd) in enumerate(zip(logits, sigma, strict=True)):
        inside = inside_logit(point, sd)
        at_node = inside[patterns.cell][:, None] + sd * z  # (item, node)
        item = -np.logaddexp(0, -sign * at_node)
        total = np.add.reduceat(item, first, axis=0)  # (pattern, node)
        single = -np.logaddexp(0, -sign[first, 0] * point[patterns.cell[first]])
        result[draw] = np.where(alone, single, logsumexp(total + log_weight, axis=1))
    return result


def quadrature_error(logits: np.ndarray, sigma: float, patterns: AttemptPatterns, nodes: np.ndarray) -> float:
    """Error of given node counts in the total log likelihood, at one point.

    Sums absolute errors over pattern sizes, so none can hide another.

    Parameters
    ----------
    logits : ndarray, shape (cell,).
    nodes : ndarray of int, shape (pattern,).
    """
    point, sd = np.asarray(logits)[None], np.array([sigma])
    exact = pattern_log_likelihood(point, sd, patterns, REFERENCE_NODES)[0]
    error = np.zeros(len(patterns.count))
    for count in np.unique(nodes):
        near = pattern_log_likelihood(point, sd, patterns, int(count))[0]
        error = np.where(nodes == count, (near - exact) * patterns.count, error)
    return float(sum(abs(error[patterns.size == size].sum()) for size in np.unique(patterns.size)))


def choose_nodes(logits: np.ndarray, sigma: float, patterns: AttemptPatterns) -> np.ndarray:
    """Fewest nodes for each pattern size that keep the total error below half of `TOLERANCE`.

    The half leaves room for the fit to end elsewhere than at `logits` and
    `sigma`; what it ends at is checked by `quadrature_error` afterwards.

    Returns
    -------
    ndarray of int, shape (pattern,)
    """
    point, sd = np.asarray(logits)[None], np.array([sigma])
    exact = pattern_log_likelihood(point, sd, patterns, REFERENCE_NODES)[0]
    sizes = np.unique(patterns.size)
    chosen = np.full(len(patterns.count), NODE_COUNTS[-1])
    for nodes in reversed(NODE_COUNTS[:-1]):
        error = (pattern_log_likelihood(point, sd, patterns, nodes)[0] - exact) * patterns.count
        for size in sizes:
            held = patterns.size == size
            if abs(error[held].sum()) < TOLERANCE / 2 / len(sizes):
                chosen[held] = nodes
    return chosen


def likely_job_sd(rough: np.ndarray, patterns: AttemptPatterns, most: float = 3.0) -> float:
    """A job-effect sd the record would find high: the last within 3.3 of the best log likelihood.

    A quick profile, used only to choose node counts before the fit.

    Parameters
    ----------
    rough : ndarray, shape (cell,), as made by `rough_logits`.
    """
    tried = np.linspace(0.05, most, 24)
    fresh = np.broadcast_to(rough, (len(tried), len(rough)))  # (sd, cell)
    totals = pattern_log_likelihood(fresh, tried, patterns, 31) @ patterns.count
    return float(tried[np.flatnonzero(totals > totals.max() - 3.3)[-1]])


def rough_logits(patterns: AttemptPatterns, kinds: int) -> np.ndarray:
    """Smoothed raw logit of each distinct attempt's kind and severity, shape (cell,)."""
    weight = np.repeat(patterns.count, patterns.size)  # (item,)
    kind, severity = patterns.cells.kind[patterns.cell], patterns.cells.severity[patterns.cell]
    tried, fixed = np.zeros((2, kinds, 3))
    np.add.at(tried, (kind, severity), weight)
    np.add.at(fixed, (kind, severity), weight * patterns.fixed)
    rate = (fixed.sum(axis=1) + 1) / (tried.sum(axis=1) + 2)  # (kind,)
    smoothed = (fixed + 4 * rate[:, None]) / (tried + 4)
    return logit(smoothed)[patterns.cells.kind, patterns.cells.severity]
