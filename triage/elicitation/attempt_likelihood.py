"""What each damage kind's attempts say about a draw: their likelihood given the rest of their jobs.

Attempts of one job share its job effect, so a kind's attempts have no
likelihood by themselves. Theirs is the job's likelihood over that of the job
without them: what they add once everything else about the job is known.
"""

from __future__ import annotations

import numpy as np
import xarray as xr

from triage.design_matrix import AttemptDesign, AttemptPatterns
from triage.outcome_models.integrated_likelihood import standard_nodes
from triage.prediction.success import logits_at
from triage.priors.fresh_job import inside_logit

# Error in the total log likelihood of 8,000 jobs: 2e-5 at a job-effect sd of 1.5.
NODES = 21


def kind_log_likelihood(draws: xr.Dataset, design: AttemptDesign) -> np.ndarray:
    """Log likelihood of each kind's attempts given the rest of their jobs.

    Parameters
    ----------
    draws : success draws, as stored.
    design : the record, encoded with the levels of these draws.

    Returns
    -------
    ndarray, shape (draw, kind) : 0 for a kind without attempts.
    """
    patterns = design.patterns
    kinds = len(design.coords["kind"])
    job_sd = draws["job_sd"].to_numpy()
    result = np.zeros((job_sd.size, kinds))
    if not len(patterns.count):
        return result
    logits = logits_at(draws, patterns.cells)  # (draw, cell)
    groups = _Groups(patterns)
    for draw in range(job_sd.size):
        at_node = _item_log_chances(patterns, logits[draw], job_sd[draw])
        result[draw] = groups.added(at_node, kinds)
    return result


def _item_log_chances(patterns: AttemptPatterns, logits: np.ndarray, job_sd: float) -> np.ndarray:
    """Log chance of every outcome at each node of the job effect, shape (item, node)."""
    z, log_weight = standard_nodes(NODES)
    # Solved on these very nodes, so that a job of one attempt has its fresh chance exactly.
    inside = inside_logit(logits, job_sd, (z, np.exp(log_weight)))
    linear = inside[patterns.cell][:, None] + job_sd * z
    return -np.logaddexp(0, np.where(patterns.fixed, -1.0, 1.0)[:, None] * linear)


class _Groups:
    """Items of one kind within one pattern, summed together."""

    def __init__(self, patterns: AttemptPatterns):
        pattern = np.repeat(np.arange(patterns.size.size), patterns.size)  # (item,)
        kind = patterns.cells.kind[patterns.cell]
        self.order = np.lexsort((kind, pattern))
        pattern, kind = pattern[self.order], kind[self.order]
        starts = np.flatnonzero(np.r_[True, (np.diff(pattern) != 0) | (np.diff(kind) != 0)])
        self.starts, self.kind, self.pattern = starts, kind[starts], pattern[starts]
        self.count = patterns.count[self.pattern]
        self.first_group = np.searchsorted(self.pattern, np.arange(patterns.size.size))

    def added(self, item: np.ndarray, kinds: int) -> np.ndarray:
        """Log likelihood each kind adds, summed over jobs, shape (kind,)."""
        group = np.add.reduceat(item[self.order], self.starts, axis=0)  # (group, node)
        total = np.add.reduceat(group, self.first_group, axis=0)  # (pattern, node)
        whole = _log_mean(total)[self.pattern]
        without = _log_mean(total[self.pattern] - group)
        return np.bincount(self.kind, self.count * (whole - without), kinds)


def _log_mean(at_node: np.ndarray) -> np.ndarray:
    """Log of the mean over the nodes of likelihoods given as logs, shape (row, node) to (row,)."""
    _, log_weight = standard_nodes(NODES)
    top = at_node.max(axis=1)
    return top + np.log(np.exp(at_node - top[:, None]) @ np.exp(log_weight))
