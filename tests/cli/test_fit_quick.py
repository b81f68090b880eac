"""`triage fit --quick`: what it says, and exit 3 with nothing changed where a full fit is needed."""

from __future__ import annotations

import json
from dataclasses import replace
from datetime import date

import numpy as np
import pytest

from triage.domain.history import History
from triage.posterior.store import Posterior
from triage.shipped import shipped
from triage.workflows.fitting.jobs_since import JobsSince
from triage.workflows.fitting.quick_update import Reweighted, Update
from triage.workflows.shop.shop import DEMO_POSTERIOR


@pytest.fixture
def jobs(tmp_path):
    path = tmp_path / "jobs.csv"
    path.write_text("job,date,finding,outcome\na,2026-01-02,frame-bent,fixed\n")
    return path


@pytest.fixture
def found(monkeypatch):
    """Stand in for the update: hand back what a test wants it to find."""
    from triage.posterior.store import load_manifest

    manifest = load_manifest(shipped(DEMO_POSTERIOR))

    def use(why_not=(), shape=0.2, stored=True):
        def update_folder(out, record, catalogue, priors):
            none = History(record.rows[:0], date(2026, 1, 1))
            weights = Reweighted(np.full(2000, -np.log(2000)), shape, 900.0)
            posterior = Posterior({}, replace(manifest, folder="draws-new")) if stored else None
            return Update(
                JobsSince(none, record, none, record, 1, 0), {"success": weights}, posterior, why_not
            )

        monkeypatch.setattr("triage.cli.fit_quick.update_folder", update_folder)

    return use


def command(jobs, *more):
    return ["fit", "--quick", "--past-jobs", str(jobs), "--out", str(jobs.parent / "out"), *more]


def test_an_update_is_told_with_the_weights_it_rests_on(triage, jobs, found):
    found()
    done = triage(*command(jobs))
    assert done.code == 0
    assert done.out.splitlines()[0] == "1 new job and 0 changed ones since the full fit of 2026-01-01"
    assert "success: Pareto k 0.20 (allowed 0.70), effective sample size 900 (needed 400)" in done.out
    told = json.loads(triage(*command(jobs, "--json")).out)
    assert (told["updated"], told["draws"], told["added"], told["why_not"]) == (True, "draws-new", 1, [])
    assert told["full_fit_as_of"] == "2026-01-01" and told["models"]["success"]["passed"]


def test_a_refusal_is_exit_3_and_says_what_to_do(triage, jobs, found):
    found(("success: the new jobs differ too much",), np.inf, stored=False)
    done = triage(*command(jobs, "--json"))
    told = json.loads(done.out)
    assert done.code == 3 and "Run the same command without --quick" in done.err
    assert not told["updated"] and told["draws"] is None and told["models"]["success"]["pareto_k"] is None
    assert "REFUSED" in triage(*command(jobs)).out


def test_nothing_new_is_an_answer(triage, jobs, found):
    found(stored=False)
    done = triage(*command(jobs))
    assert done.code == 0 and "no new jobs" in done.out


@pytest.mark.parametrize("more", [("--from", "2026-01-01"), ("--half-life", "90"), ("--label", "mine")])
def test_what_the_full_fit_settled_cannot_be_asked_again(triage, jobs, more):
    assert triage(*command(jobs, *more)).code == 2


def test_a_folder_without_a_fit_is_refused_by_name(triage, jobs):
    done = triage(*command(jobs))
    assert done.code == 2 and "run a fit first" in done.err
