"""Fitting a history end to end, and what is stored when a fit fails."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

import numpy as np
import pandas as pd
import pytest

from tests.outcome_models.attempt_records import shop_catalogue, simulated
from triage.domain.history import History
from triage.inference.sampling import SamplerSettings
from triage.outcome_models.registry import MODELS
from triage.posterior.manifest import Fading
from triage.posterior.store import load_posterior
from triage.prediction.success import chances_table
from triage.priors.prior_set import PriorSet
from triage.workflows.fitting.fit import belief_only, counts, fit_history, store_fit

CATALOGUE = shop_catalogue()
SHORT = SamplerSettings(draws=500, tune=500, chains=4, cores=2, stored_draws=800)


@pytest.fixture(scope="module")
def believed():
    return belief_only(CATALOGUE, PriorSet(), seed=3, settings=replace(SHORT, stored_draws=100))


def test_belief_alone_can_be_stored_and_says_what_it_is(believed, tmp_path):
    stored = store_fit(believed, tmp_path / "shop")
    assert stored.current
    found = load_posterior(tmp_path / "shop", CATALOGUE)
    assert found.source == "assumptions only"
    assert set(found.manifest.belief_only) == set(MODELS) == set(found.draws)
    assert {draws.sizes["draw"] for draws in found.draws.values()} == {100}
    assert (chances_table(found, CATALOGUE)["attempts"] == 0).all()


def test_a_rejected_fit_is_kept_but_never_current(believed, tmp_path):
    store_fit(believed, tmp_path)
    rejected = replace(
        believed,
        failures={"success": ("3 divergences",)},
        posterior=replace(believed.posterior, manifest=replace(believed.posterior.manifest, seed=99)),
    )
    stored = store_fit(rejected, tmp_path)
    assert not stored.current
    assert stored.folder.parent == tmp_path and stored.folder.name.startswith("rejected-")
    assert load_posterior(tmp_path, CATALOGUE).manifest.seed == 3
    assert load_posterior(stored.folder, CATALOGUE).manifest.seed == 99
    store_fit(rejected, tmp_path)  # again, over itself
    assert len(list(tmp_path.glob("rejected-*"))) == 1
    assert not list(tmp_path.glob("*.tmp"))


def test_counts_are_those_of_the_record():
    history = simulated(80)
    found = counts(history, CATALOGUE)
    rows = history.rows
    for kind in CATALOGUE.kinds:
        for severity in (1, 2, 3):
            held = rows[(rows["finding"] == kind) & (rows["severity"] == severity)]
            assert found[kind][severity - 1] == (len(held), int((held["outcome"] == "fixed").sum()))
    assert counts(None, CATALOGUE)["kind-0"] == ((0, 0),) * 3


@pytest.mark.slow
def test_a_record_is_fitted_stored_and_read_back(tmp_path):
    history = simulated(500)
    events: list[dict] = []
    settings = replace(SHORT, draws=1000, tune=800)
    result = fit_history(
        history, CATALOGUE, PriorSet(), seed=2, progress=events.append, models=("success",), settings=settings
    )
    assert result.current, result.failures
    record = result.posterior.manifest.models["success"]
    assert not record.belief_only and record.passed
    assert record.diagnostics.divergences == 0
    assert record.likelihood.quadrature_error_99 < 1e-4
    assert record.likelihood.elpd_loo < 0 < record.likelihood.p_loo
    # What the model was fitted to it also expects; belief alone is laid beside nothing.
    by_severity = [check for check in record.predictive if "severity" in check.quantity]
    assert len(by_severity) == 3 and not any(check.fails for check in by_severity)
    assert result.posterior.manifest.models["comeback"].predictive is None
    others = set(MODELS) - {"success"}
    assert set(result.posterior.manifest.belief_only) == others
    assert {event["event"] for event in events} >= {"model", "fitted"}
    store_fit(result, tmp_path)
    table = chances_table(load_posterior(tmp_path, CATALOGUE), CATALOGUE).set_index(["finding", "severity"])
    # Simulated from logits rising from -.5 to 2.5 by kind and falling by .6 a grade.
    means = table.xs(2, level="severity")["mean"]
    assert means["kind-5"] > means["kind-3"] > means["kind-0"]
    assert (table["low"] < table["high"]).all()
    job_sd = result.posterior.draws["success"]["job_sd"].to_numpy()
    assert np.quantile(job_sd, 0.01) < 0.8 < np.quantile(job_sd, 0.99)


@pytest.mark.slow
def test_a_fit_that_forgets_believes_the_later_jobs_and_says_so():
    # The same jobs once old and all fixed, once recent and none fixed.
    plain = simulated(120).rows.assign(outcome="fixed", method="")
    old = plain.assign(job="old " + plain["job"], date=plain["date"] - pd.Timedelta(days=1500))
    both = History(pd.concat([old, plain.assign(outcome="not-fixed")], ignore_index=True), date(2025, 12, 31))
    chances = {}
    for half_life in (None, 90.0):
        found = fit_history(
            both, CATALOGUE, PriorSet(), models=("success",), settings=SHORT, half_life=half_life
        ).posterior
        chances[half_life] = chances_table(found, CATALOGUE)["mean"].mean()
        fading = found.manifest.models["success"].fading
        assert fading == (None if half_life is None else Fading(half_life))
    assert chances[90.0] < 0.2 < chances[None] - 0.15
