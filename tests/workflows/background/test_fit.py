"""Learning as long work: what it says on the way, and what it leaves."""

from __future__ import annotations

import json
import os
import time
from dataclasses import replace

import pytest

from triage.errors import HistoryError
from triage.shipped import shipped
from triage.workflows.background import fit
from triage.workflows.background.fit import in_words, run
from triage.workflows.background.runner import look, start
from triage.workflows.fitting.fit import FitResult
from triage.workflows.shop.shop import open_shop


def said(*events):
    told = []
    tell = in_words(told.append)
    for event in events:
        tell(event)
    return told


def test_progress_is_told_in_words_and_true_counts():
    model = {"event": "model", "model": "success", "purpose": "p", "place": 0, "of": 6}
    sampling = {"event": "sampling", "seconds": 40, "drawn": 1200, "of": 7200}
    told = said(
        model, sampling, sampling | {"drawn": 3600}, sampling | {"drawn": None},
        {"event": "retry", "why": []}, {"event": "checking", "model": "success"},
        {"event": "model", "model": "success", "purpose": "the same otherwise"},
    )  # fmt: skip
    assert [one["words"] for one in told] == [
        "1 of 6, chance of repair: preparing the model",
        "1 of 6, chance of repair: sampling 1,200 of 7,200",
        "1 of 6, chance of repair: sampling 3,600 of 7,200, about 40 s left",
        "1 of 6, chance of repair: sampling for 40 s",
        "1 of 6, chance of repair: second try with stricter settings",
        "1 of 6, chance of repair: posterior predictive check",
        "chance of repair (the same otherwise): preparing the model",
    ]
    # Only draws are counted: compiling has no percentage.
    assert [(one.get("done"), one.get("total")) for one in told[:3]] == [
        (None, None), (1200, 7200), (3600, 7200)
    ]  # fmt: skip


@pytest.fixture
def jobs(tmp_path):
    path = tmp_path / "jobs.csv"
    path.write_text(
        "job,date,finding,outcome\n1,2026-01-01,battery-worn,fixed\n".replace("battery-", "cell-")
    )
    return path


def test_what_was_learned_is_stored_and_its_failures_told(monkeypatch, tmp_path, jobs):
    asked = {}

    def fit_history(history, catalogue, priors, seed, progress, **options):
        asked.update(options, jobs=len(history.jobs))
        return fits.pop()

    posterior = open_shop().posterior
    rejected = replace(posterior, manifest=replace(posterior.manifest, current=False))
    fits = [
        FitResult(posterior, {"bench_minutes": ("R-hat 1.02",)}, rejected),
        FitResult(rejected, {"success": ("3 divergences",)}),
        FitResult(posterior, {}),
    ]
    monkeypatch.setattr(fit, "fit_history", fit_history)
    out = tmp_path / "learned"
    (out / "writing-old.tmp").mkdir(parents=True)
    os.utime(out / "writing-old.tmp", (0, 0))
    arguments = {"record": {"history": str(jobs)}, "out": str(out), "half_life": 365.0}
    told = []
    done = run(arguments, told.append)
    assert (done["current"], done["folder"], done["failures"]) == (True, str(out), {})
    assert asked["half_life"] == 365.0 and asked["jobs"] == 1
    assert asked["settings"].cores == max(os.cpu_count() - 1, 1)
    assert told[0] == {"words": "reading the past jobs"} and not (out / "writing-old.tmp").exists()
    failed = run(arguments, told.append)
    assert not failed["current"] and failed["failures"] == {"success": ["3 divergences"]}
    assert "rejected-" in failed["folder"]
    json.dumps(failed)
    partly = run(arguments, told.append)
    assert partly["current"] and partly["folder"] == str(out)
    assert partly["failures"] == {"bench_minutes": ["R-hat 1.02"]}


@pytest.mark.slow  # a process that loads the samplers
def test_a_bad_record_is_refused_in_the_child_too(monkeypatch, tmp_path):
    monkeypatch.setenv("TRIAGE_WORK", str(tmp_path / "work"))
    monkeypatch.setenv("PYTHONPATH", str(shipped("app.py").parent))
    path = tmp_path / "jobs.csv"
    path.write_text("job,date,finding,outcome\n1,2026-01-01,no-such-kind,fixed\n")
    arguments = {"record": {"history": str(path)}, "out": str(tmp_path / "out")}
    with pytest.raises(HistoryError, match="no-such-kind"):
        run(arguments, lambda event: None)
    start("fit", arguments)
    while (work := look("fit")).state == "running":
        time.sleep(0.02)
    assert work.state == "failed" and "no-such-kind" in work.problem
    assert not (tmp_path / "out").exists()
