"""`triage fit`: diagnostics, exit 3 without touching the draws in use, faults before any sampling."""

from __future__ import annotations

import json
from dataclasses import replace

import numpy as np
import pytest
import xarray as xr

from triage.posterior.manifest import Diagnostics, Manifest, ModelRecord
from triage.posterior.store import Posterior, load_manifest
from triage.workflows.fitting.fit import FitResult

HISTORY = """\
job,date,finding,outcome,severity
a,2026-01-02,frame-bent,fixed,1
a,2026-01-02,antenna-flex-torn,not-fixed,2
b,2026-02-03,frame-bent,fixed,2
"""


@pytest.fixture
def history(tmp_path):
    path = tmp_path / "jobs.csv"
    path.write_text(HISTORY)
    return path


def fitted(rhat=1.002, value=1.0):
    """A fit with one model, as it would leave the sampler."""
    good = rhat <= 1.01
    why = () if good else (f"R-hat {rhat} is above 1.01",)
    record = ModelRecord(False, good, "; ".join(why), Diagnostics(rhat, 900.0, 800.0, 0, 0.9, "delta", 0.9))
    manifest = Manifest(
        seed=1, as_of="2026-02-03", jobs=2, rows=3, data_hash="", prior_hash="", catalogue_digest="",
        structure="", kinds=("frame-bent",), models={"success": record}, draws=4, current=good,
    )  # fmt: skip
    draws = {"success": xr.Dataset({"delta": ("draw", np.full(4, value))})}
    return FitResult(Posterior(draws, manifest), {} if good else {"success": why})


@pytest.fixture
def sampler(monkeypatch):
    """Stand in for the sampler: hand back what a test wants it to find."""
    calls = []

    def use(result):
        def fit_history(history, catalogue, priors, seed, progress, label="", **forget):
            calls.append((history, seed, label, forget))
            progress({"event": "model", "model": "success", "purpose": "chance of a repair"})
            progress({"event": "sampling", "model": "success", "seconds": 3, "drawn": 9, "of": 99})
            progress({"event": "retry", "model": "success", "why": ["R-hat"]})
            return result

        monkeypatch.setattr("triage.workflows.fitting.fit.fit_history", fit_history)
        return calls

    return use


def test_a_fit_that_passes_is_in_use(triage, history, sampler, tmp_path):
    calls = sampler(fitted())
    said = triage("fit", "--past-jobs", history, "--out", tmp_path / "draws", "--seed", "7", "--json")
    assert said.code == 0, said.err
    answer = json.loads(said.out)
    assert answer["schema"] == 1 and answer["current"] is True
    assert answer["models"]["success"]["diagnostics"]["rhat"] == 1.002
    assert calls[0][1] == 7 and len(calls[0][0].jobs) == 2
    assert load_manifest(tmp_path / "draws").current
    assert said.err == ""  # progress is for a terminal


def test_a_fit_that_fails_is_exit_3_and_leaves_the_draws_in_use_alone(triage, history, sampler, tmp_path):
    out = tmp_path / "draws"
    sampler(fitted())
    triage("fit", "--past-jobs", history, "--out", out)
    before = {path: path.read_bytes() for path in out.rglob("*") if path.is_file()}
    sampler(fitted(rhat=1.2, value=2.0))
    said = triage("fit", "--past-jobs", history, "--out", out, "--json")
    assert said.code == 3
    assert json.loads(said.out)["current"] is False
    assert "R-hat 1.2" in said.err and "not used" in said.err and "Traceback" not in said.err
    assert {path: path.read_bytes() for path in before} == before
    assert "rejected-" in json.loads(said.out)["folder"]


def test_diagnostics_are_said_in_words(triage, history, sampler, tmp_path):
    sampler(fitted())
    out = triage("fit", "--past-jobs", history, "--out", tmp_path / "draws").out
    assert "2 jobs, 3 rows, up to 2026-02-03" in out
    assert "success: R-hat 1.002, effective sample size 900 bulk and 800 tail, 0 divergences" in out


def test_a_model_without_a_record_is_said_to_be_assumptions(triage, history, sampler, tmp_path):
    result = fitted()
    belief = ModelRecord(True, True, "the record lacks minutes")
    models = {**result.posterior.manifest.models, "bench_minutes": belief}
    manifest = replace(result.posterior.manifest, models=models)
    sampler(replace(result, posterior=replace(result.posterior, manifest=manifest)))
    out = triage("fit", "--past-jobs", history, "--out", tmp_path / "draws").out
    assert "bench_minutes: assumptions only, the record lacks minutes" in out


def test_a_model_that_failed_is_told_and_the_others_are_in_use(triage, history, sampler, tmp_path):
    result = fitted()
    found = Diagnostics(1.019, 380.0, 410.0, 0, 0.8, "usual[2]", 0.98, retried=True)
    belief = ModelRecord(True, True, "R-hat 1.019 at usual[2]", found, refused=True)
    told = result.posterior.manifest
    used = replace(told, models={**told.models, "bench_minutes": belief})
    aside = replace(told, current=False, models={**told.models, "bench_minutes": ModelRecord(False, False)})
    sampler(
        FitResult(
            replace(result.posterior, manifest=used),
            {"bench_minutes": ("R-hat 1.019 at usual[2]",)},
            Posterior({"bench_minutes": result.posterior.draws["success"]}, aside),
        )
    )
    said = triage("fit", "--history", history, "--out", tmp_path / "draws")
    assert said.code == 0 and said.err == "" and f"in use: {tmp_path / 'draws'}" in said.out
    assert "bench_minutes: assumptions only, its fit FAILED: R-hat 1.019 at usual[2]" in said.out
    assert "The fit failed for bench minutes." in said.out and "another --seed" in said.out
    answer = json.loads(triage("fit", "--history", history, "--out", tmp_path / "draws", "--json").out)
    assert answer["current"] and answer["models"]["bench_minutes"]["refused"]
    assert load_manifest(answer["set_aside"]).failed == ("bench_minutes",)
    listed = triage("posterior", "list", tmp_path / "draws").out
    assert "2 jobs up to 2026-02-03 (failed for bench minutes)" in listed


def test_the_cut_off_leaves_later_jobs_out(triage, history, sampler, tmp_path):
    calls = sampler(fitted())
    triage("fit", "--past-jobs", history, "--out", tmp_path / "draws", "--as-of", "2026-01-31")
    assert len(calls[0][0].jobs) == 1


BAD = """\
job,date,finding,outcome,severity
a,2026-01-02,frame-bend,fixed,1
b,yesterday,frame-bent,mended,4
"""


def test_a_bad_history_is_refused_before_sampling_with_every_fault(triage, history, sampler, tmp_path):
    calls = sampler(fitted())
    history.write_text(BAD)
    said = triage("fit", "--past-jobs", history, "--out", tmp_path / "draws")
    assert said.code == 2 and said.out == "" and not calls
    assert not (tmp_path / "draws").exists()
    for words in ("frame-bend", "nearest known: frame-bent", "yesterday", "mended", "line 2", "line 3"):
        assert words in said.err, words


def test_a_file_in_the_place_of_the_folder_is_refused(triage, history, sampler):
    calls = sampler(fitted())
    said = triage("fit", "--past-jobs", history, "--out", history)
    assert said.code == 2 and "is a file" in said.err and not calls
    assert history.read_text() == HISTORY


def test_a_missing_history_is_refused(triage, tmp_path):
    said = triage("fit", "--past-jobs", tmp_path / "none.csv", "--out", tmp_path / "draws")
    assert said.code == 2 and "none.csv" in said.err


def test_jobs_taken_in_before_a_day_are_left_out(triage, history, sampler, tmp_path):
    calls = sampler(fitted())
    assert (
        triage("fit", "--past-jobs", history, "--out", tmp_path / "draws", "--from", "2026-01-15").code == 0
    )
    assert list(calls[0][0].jobs.index) == ["b"] and calls[0][0].first.isoformat() == "2026-01-15"
    said = triage("fit", "--past-jobs", history, "--out", tmp_path / "draws", "--from", "2026-03-01")
    assert said.code == 2 and "--from" in said.err and "a day before the last job" in said.err


def test_a_half_life_reaches_the_fit_and_its_kinds_are_checked(triage, history, sampler, tmp_path):
    calls = sampler(fitted())
    command = ("fit", "--past-jobs", history, "--out", tmp_path / "draws")
    said = triage(*command, "--half-life", "365", "--half-life-kind", "frame-bent")
    assert said.code == 0, said.err
    assert calls[0][3] == {"half_life": 365.0, "half_life_kinds": ["frame-bent"]}
    assert triage(*command, "--half-life-kind", "frame-bent").code == 2
    said = triage(*command, "--half-life", "365", "--half-life-kind", "frame-bend")
    assert said.code == 2 and "nearest known: frame-bent" in said.err
    assert len(calls) == 1
