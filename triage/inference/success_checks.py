"""Checks of a success fit that need its likelihood: quadrature error, and leave-one-job-out.

References
----------
Vehtari, Gelman and Gabry 2017, Practical Bayesian model evaluation using
leave-one-out cross-validation and WAIC, Statistics and Computing 27:1413;
Vehtari, Simpson, Gelman, Yao and Gabry 2024, Pareto smoothed importance
sampling, JMLR 25(72) (k below min(1 - 1/log10 S, .7)).
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import xarray as xr

from triage.inference import backend
from triage.outcome_models.integrated_likelihood import (
    TOLERANCE,
    choose_nodes,
    pattern_log_likelihood,
    quadrature_error,
)
from triage.outcome_models.success import SuccessDesign
from triage.posterior.manifest import LikelihoodChecks
from triage.prediction.success import logits_at

LOO_DRAWS = 500


def likelihood_checks(design: SuccessDesign, draws: xr.Dataset) -> LikelihoodChecks:
    """What is kept with a success fit: quadrature errors, and PSIS-LOO by job."""
    several = float((design.attempts.patterns.size[design.attempts.patterns.job_pattern] > 1).sum())
    return LikelihoodChecks(**quadrature_errors(design, draws), **loo_by_job(design, draws), several=several)


def quadrature_errors(design: SuccessDesign, draws: xr.Dataset) -> dict[str, float]:
    """Error in the total log likelihood at the posterior mean and at sigma's 99 % quantile."""
    patterns = design.attempts.patterns
    mean = logits_at(draws, patterns.cells).mean(axis=0)  # (cell,)
    sigma = draws["job_sd"].to_numpy()
    points = {"quadrature_error_mean": sigma.mean(), "quadrature_error_99": np.quantile(sigma, 0.99)}
    return {name: quadrature_error(mean, float(sd), patterns, design.nodes) for name, sd in points.items()}


def finer(design: SuccessDesign, draws: xr.Dataset) -> SuccessDesign | None:
    """Return the design with more nodes where the fit ended outside what they were chosen for, else None."""
    if max(quadrature_errors(design, draws).values()) < TOLERANCE:
        return None
    patterns = design.attempts.patterns
    mean = logits_at(draws, patterns.cells).mean(axis=0)
    sigma = float(np.quantile(draws["job_sd"].to_numpy(), 0.99))
    nodes = np.maximum(design.nodes, choose_nodes(mean, sigma, patterns))
    return replace(design, nodes=nodes) if (nodes > design.nodes).any() else None


def highest_shape(draws: int) -> float:
    """Largest Pareto k at which importance weights of so many draws are still trusted."""
    return float(min(1 - 1 / np.log10(draws), 0.7))


def loo_by_job(design: SuccessDesign, draws: xr.Dataset) -> dict[str, float]:
    """Expected log predictive density of a job left out, summed over jobs, by PSIS.

    Returns
    -------
    dict : `elpd_loo`, its standard error `elpd_loo_se`, the effective number
        of parameters `p_loo`, and `high_k`, the jobs whose k is too high.
    """
    thin = np.linspace(0, draws.sizes["draw"] - 1, min(LOO_DRAWS, draws.sizes["draw"])).round().astype(int)
    few = draws.isel(draw=thin)
    patterns = design.attempts.patterns
    nodes = int(design.nodes.max())
    each = pattern_log_likelihood(
        logits_at(few, patterns.cells), few["job_sd"].to_numpy(), patterns, nodes
    )  # (draw, pattern)
    count = patterns.count
    left_out, high = np.empty(len(count)), 0.0
    limit = highest_shape(len(thin))
    for place in range(len(count)):
        weights, shape = backend.smoothed_importance(-each[:, place])
        left_out[place] = np.logaddexp.reduce(weights + each[:, place])
        high += count[place] * (shape > limit)
    within = np.logaddexp.reduce(each, axis=0) - np.log(len(thin))
    jobs = count.sum()
    mean = (count * left_out).sum() / jobs
    spread = np.sqrt((count * (left_out - mean) ** 2).sum() / max(jobs - 1, 1))
    return {
        "elpd_loo": float((count * left_out).sum()),
        "elpd_loo_se": float(spread * np.sqrt(jobs)),
        "p_loo": float((count * (within - left_out)).sum()),
        "high_k": float(high),
    }
