"""Fit a simulated record in a test and compare the result with the truth."""

from __future__ import annotations

import numpy as np

from triage.inference.sampling import SamplerSettings, fit_model

SETTINGS = SamplerSettings(draws=1000, tune=1000, chains=4, cores=2, stored_draws=4000)


def fitted(model, history, catalogue, priors, seed=11):
    """Fit one model; a fit that does not pass the gate fails the test."""
    graph = model.build(model.design(history, catalogue, priors), priors)
    fit = fit_model(graph, model.stored, seed, SETTINGS)
    assert not fit.failures, fit.failures
    assert fit.diagnostics.ess_bulk >= 400
    return fit.draws


def assert_recovers(draws, truth, sds=4.0):
    """Require the truth within `sds` posterior sds of the posterior mean.

    Four, because about a hundred numbers are compared in all. The Monte Carlo
    error of the mean (an effective sample of 400 or more) is a twentieth of a
    posterior sd and negligible.
    """
    draws = np.asarray(draws)
    distance = np.abs(draws.mean(axis=0) - truth) / draws.std(axis=0, ddof=1)
    assert np.all(distance < sds), (draws.mean(axis=0), truth, distance)
