"""Quadrature of the demo fit against many nodes, and when importance weights are trusted."""

from __future__ import annotations

import numpy as np
import pytest

from triage.inference import backend
from triage.inference.success_checks import highest_shape, quadrature_errors
from triage.outcome_models import success
from triage.outcome_models.integrated_likelihood import pattern_log_likelihood
from triage.posterior.store import load_manifest, load_posterior
from triage.prediction.success import logits_at
from triage.shipped import shipped


def test_highest_k_of_importance_weights():
    """min(1 - 1 / log10 S, .7): Vehtari, Simpson, Gelman, Yao and Gabry 2024, JMLR 25(72) [read]."""
    found = [highest_shape(draws) for draws in (100, 1000, 2000, 10_000)]
    assert found == pytest.approx([0.5, 2 / 3, 1 - 1 / np.log10(2000), 0.7])


@pytest.mark.parametrize(("shape", "trusted"), [(0.2, True), (1.0, False)])
def test_weights_with_a_heavy_pareto_tail_are_not_trusted(shape, trusted):
    # The raw weights of a generalised Pareto of that k, by its quantile function.
    uniform = np.random.default_rng(3).random(4000)
    weights = np.log1p(((1 - uniform) ** -shape - 1) / shape)
    _, found = backend.smoothed_importance(weights)
    assert (found < highest_shape(4000)) == trusted


def test_stored_quadrature_errors_of_the_demo_fit():
    found = load_manifest(shipped("models/posteriors/demo")).models["success"].likelihood
    assert max(found.quadrature_error_mean, found.quadrature_error_99) < 1e-4


@pytest.mark.slow
def test_quadrature_of_the_demo_fit_against_81_nodes():
    """Below 1e-4 in the total log likelihood, at the mean and at the 99 % quantile of the job effect's sd."""
    from triage.domain.catalogue import load_catalogue
    from triage.ledger.history.history_csv import read_history
    from triage.priors.prior_set import load_priors

    catalogue = load_catalogue()
    priors = load_priors(shipped("models/priors/demo"), catalogue)
    posterior = load_posterior(shipped("models/posteriors/demo"), catalogue, ["success"])
    record = read_history(shipped("synthetic_cases/past-jobs.csv"), catalogue)
    design, draws = success.design(record, catalogue, priors), posterior.draws["success"]
    patterns = design.attempts.patterns
    point = logits_at(draws, patterns.cells).mean(axis=0)[None]  # (1, cell)
    sds = draws["job_sd"].to_numpy()
    reported = quadrature_errors(design, draws)
    for name, sd in (("mean", sds.mean()), ("99", np.quantile(sds, 0.99))):
        exact = pattern_log_likelihood(point, np.array([sd]), patterns, 81)[0]
        ours = np.zeros(len(exact))
        for nodes in np.unique(design.nodes):
            near = pattern_log_likelihood(point, np.array([sd]), patterns, int(nodes))[0]
            ours = np.where(design.nodes == nodes, near, ours)
        total = float((ours - exact) @ patterns.count)
        assert abs(total) < 1e-4
        assert abs(total) <= reported[f"quadrature_error_{name}"] + 1e-9
