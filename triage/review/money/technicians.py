"""Technicians' margins adjusted for their mix of work: kinds, severity, route and tier.

Hard boards are not assigned at random, and only what the record holds can be
adjusted for. These figures are not a ranking and are never sorted as one.
"""

from __future__ import annotations

import numpy as np

from triage.review.money.attribution import Attribution, weak_prior
from triage.review.money.pooled_money import Pooled, PooledGroups, pool


def adjusted_margins(
    margins: np.ndarray, fitted: Attribution, severity: np.ndarray, who: np.ndarray
) -> tuple[Pooled, np.ndarray]:
    """Mean margin of each technician, had each had the shop's average job; and how far each is pulled in.

    margins : shape (job,). fitted : the regression on kinds, whose prior (its mean
    mu and tau) is held here. severity : shape (job, 2), findings of severity 1 and 3
    of each job. who : int, shape (job,), from 0.
    """
    base = np.eye(len(fitted.scale))[fitted.base]
    nuisance = np.hstack([base, severity])
    one = np.eye(who.max() + 1)[who]  # (job, technician)
    worth = fitted.has * fitted.scale[fitted.base][:, None]
    var = (fitted.base_var * base.sum(axis=0))[fitted.base]
    tau = max(fitted.effects.spread, 1e-6)
    root = 1.0 / np.sqrt(var)[:, None]
    target = (margins - worth.sum(axis=1) * fitted.effects.mu)[:, None] * root
    # The kinds' effects as rows of pseudo-data, so that least squares holds their prior.
    kinds = worth.shape[1]
    rows = np.hstack([nuisance * root, worth * root])
    held = np.hstack([np.zeros((kinds, nuisance.shape[1])), np.diag(1.0 / (tau * fitted.effects.relative))])
    basis = _span(np.vstack([rows, held]))
    wanted = np.vstack([one * root, np.zeros((kinds, one.shape[1]))])
    target = np.vstack([target, np.zeros((kinds, 1))])
    wanted = wanted - basis @ (basis.T @ wanted)
    precision, score = wanted.T @ wanted, (wanted.T @ target)[:, 0]
    found: PooledGroups = pool(precision, score, weak_prior(margins))
    share = one.mean(axis=0)
    count = len(share)
    from_average = np.eye(count) - share  # differences, set on the shop's own mean
    level = np.full(count, (base.mean(axis=0) ** 2) @ fitted.base_var)
    average = np.full(count, float(np.mean(margins)))
    pulled = found.pull(np.diag(precision))
    return found.linear(from_average, average, level), pulled


def _span(table: np.ndarray) -> np.ndarray:
    """Orthonormal columns that span those of a table, of whatever rank."""
    left, size, _ = np.linalg.svd(table, full_matrices=False)
    return left[:, size > size.max() * 1e-10]
