"""Fitting a history end to end, and what is stored when a fit fails."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

import numpy as np
import pandas as pd
import pytest
import xarray as xr

from tests.outcome_models.attempt_records import shop_catalogue, simulated
from triage.domain.history import History
from triage.inference.sampling import ModelFit, SamplerSettings
from triage.outcome_models.registry import MODELS
from triage.posterior.manifest import Diagnostics, Fading
from triage.posterior.store import load_posterior
from triage.posterior.versions import versions
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
        posterior=replace(
            believed.posterior, manifest=replace(believed.posterior.manifest, seed=99, current=False)
        ),
    )
    stored = store_fit(rejected, tmp_path)
    assert not stored.current
    assert stored.folder.parent == tmp_path and stored.folder.name.startswith("rejected-")
    assert load_posterior(tmp_path, CATALOGUE).manifest.seed == 3
    assert load_posterior(stored.folder, CATALOGUE).manifest.seed == 99
    store_fit(rejected, tmp_path)  # again, over itself
    assert len(list(tmp_path.glob("rejected-*"))) == 1
    assert not list(tmp_path.glob("*.tmp"))


FOUND = Diagnostics(1.019, 380.0, 410.0, 0, 0.8, "usual[2]", 0.98, retried=True)
WHY = ("R-hat 1.019 at usual[2], allowed 1.01 (chains disagree)",)


@pytest.fixture
def sampler(believed, monkeypatch):
    """Stand in for the sampler: draws of 2 everywhere, which the gate refuses for the named models.

    Draws from the prior are the believed ones.
    """

    def use(*refused: str) -> None:
        def fit_one(model, design, priors, seed, settings, tell):
            draws = xr.full_like(believed.posterior.draws[model.name], 2.0).isel(draw=slice(60))
            return ModelFit(draws, FOUND, WHY if model.name in refused else ()), None

        monkeypatch.setattr("triage.workflows.fitting.fit._fit_one", fit_one)
        monkeypatch.setattr("triage.inference.predictive_checks.predictive_checks", lambda *told: ())
        monkeypatch.setattr(
            "triage.inference.sampling.belief_draws",
            lambda built, stored, *told: next(
                draws for draws in believed.posterior.draws.values() if set(draws.data_vars) <= set(stored)
            ),
        )

    return use


def whole_record():
    """A record that every model can be fitted to."""
    rows = simulated(40).rows
    by_job = pd.to_datetime(rows.groupby("job")["date"].transform("min"))
    more = {
        "minutes": 30.0, "parts_cost": 12.0, "book_cost": 10.0, "looked": "yes", "sold": 90.0,
        "working_price": 100.0, "completed": by_job, "ready": by_job, "sold_on": by_job,
    }  # fmt: skip
    return History(rows.assign(**more), date(2026, 6, 30))


@pytest.mark.parametrize("refused", [("bench_minutes",), ("sale_price",), ("success", "parts_cost")])
def test_beliefs_stand_in_for_a_model_that_the_gate_refused_and_the_others_are_used(
    refused, believed, sampler, tmp_path
):
    sampler(*refused)
    result = fit_history(whole_record(), CATALOGUE, PriorSet())
    stored = store_fit(result, tmp_path)
    assert stored.current and stored.folder == tmp_path and set(result.failures) == set(refused)
    found = load_posterior(tmp_path, CATALOGUE)
    told = found.manifest
    assert set(told.refused) == set(refused) and told.failed == ()
    assert told.current and set(told.refused) <= set(told.belief_only)
    assert told.sampler == SamplerSettings().told and told.chains == 4 and "cores" not in told.sampler
    assert {"processor", "pytensor", "nutpie", "numba", "llvmlite"} <= set(told.versions)
    fitted = [name for name in MODELS if name not in told.belief_only]
    assert fitted and told.draws == min(draws.sizes["draw"] for draws in found.draws.values())
    for name in MODELS:
        values = found.draws[name].to_dataarray().to_numpy()
        assert (values == 2).all() == (name in fitted)
    for name in refused:
        record = told.models[name]
        assert record.why == WHY[0] and record.diagnostics == FOUND and record.predictive is None
        assert found.draws[name].sizes["draw"] == believed.posterior.draws[name].sizes["draw"]
    # The refused draws stay on disk, as a fit that no answer can be made of.
    aside = load_posterior(stored.set_aside, CATALOGUE)
    assert set(aside.draws) == set(refused) == set(aside.manifest.failed) and not aside.manifest.current
    assert (aside.draws[refused[0]].to_dataarray() == 2).all()
    assert [version.name for version in versions(tmp_path)] == [told.folder]


def test_a_fit_of_which_no_model_passes_is_refused_whole(sampler, tmp_path):
    plain = simulated(40)  # tells of chances alone: every other model is assumptions
    sampler()
    first = store_fit(fit_history(plain, CATALOGUE, PriorSet()), tmp_path)
    sampler("success")
    result = fit_history(plain, CATALOGUE, PriorSet())
    assert not result.current and result.set_aside is None
    stored = store_fit(result, tmp_path)
    assert not stored.current and stored.folder.name.startswith("rejected-")
    assert load_posterior(tmp_path, CATALOGUE).manifest == first.manifest
    assert load_posterior(stored.folder, CATALOGUE).manifest.failed == ("success",)


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
    # The same jobs once older and all fixed, once recent and none fixed: within one quarter, so that no drift
    # of the shop can tell them apart.
    plain = simulated(120).rows.assign(outcome="fixed", method="", date=pd.Timestamp("2025-12-20"))
    old = plain.assign(job="old " + plain["job"], date=pd.Timestamp("2025-10-20"))
    both = History(pd.concat([old, plain.assign(outcome="not-fixed")], ignore_index=True), date(2025, 12, 31))
    chances = {}
    for half_life in (None, 6.0):
        found = fit_history(
            both, CATALOGUE, PriorSet(), models=("success",), settings=SHORT, half_life=half_life
        ).posterior
        chances[half_life] = chances_table(found, CATALOGUE)["mean"].mean()
        fading = found.manifest.models["success"].fading
        assert fading == (None if half_life is None else Fading(half_life))
    assert chances[6.0] < 0.2 < chances[None] - 0.15
