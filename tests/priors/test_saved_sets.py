"""Sets saved under a name: comments kept, differences shown, nothing half-written, no job used twice."""

from __future__ import annotations

import shutil
from datetime import date

import pandas as pd
import pytest

from triage.domain.catalogue import load_catalogue
from triage.domain.history import History
from triage.errors import HistoryError, PriorFileError
from triage.outcome_models import success
from triage.priors.prior_set import load_priors
from triage.priors.saved_sets import BeliefChange, differences, named_sets, save_set
from triage.priors.success import KindBelief
from triage.priors.tuned_jobs import FILE, refuse_double_use, tuned_on
from triage.shipped import shipped

CATALOGUE = load_catalogue()
DEMO = shipped("models/priors/demo")
SURE = KindBelief("joint-cracked", 0.42, 9.5, 'said "at the bench"')


def record(*rows):
    frame = pd.DataFrame(rows, columns=["job", "date", "finding", "outcome"])
    return History(frame.assign(date=pd.to_datetime(frame["date"])), date(2026, 6, 30))


def test_a_saved_set_keeps_what_a_person_wrote_and_says_what_changed(tmp_path):
    saved = save_set(tmp_path / "sets" / "mine", CATALOGUE, [SURE], DEMO)
    before, after = ((folder / "success.toml").read_text().splitlines() for folder in (DEMO, saved.folder))
    # Three values of one entry, and not a comment or a blank line besides.
    assert len(before) == len(after) and sum(a != b for a, b in zip(before, after, strict=True)) == 3
    old = load_priors(DEMO, CATALOGUE)
    assert saved.changes == (
        BeliefChange("success", "kind joint-cracked, chance", 0.5, 0.42),
        BeliefChange("success", "kind joint-cracked, jobs", 14.0, 9.5),
        BeliefChange(
            "success", "kind joint-cracked, reason", old.success.beliefs["joint-cracked"].reason, SURE.reason
        ),
    )
    assert load_priors(saved.folder, CATALOGUE) == saved.priors != old
    assert saved.priors.repairs == old.repairs
    assert named_sets(tmp_path / "sets") == ("mine",) and named_sets(tmp_path / "none") == ()


def test_a_set_is_made_from_the_defaults_and_then_changed_in_place(tmp_path):
    folder = tmp_path / "mine"
    first = save_set(folder, CATALOGUE, [SURE], None)
    assert first.priors.success.kind == (SURE,) and list(folder.iterdir()) == [folder / "success.toml"]
    less = KindBelief("joint-cracked", 0.4, 3)
    again = save_set(folder, CATALOGUE, [less, KindBelief("cell-worn", 0.9, 5)], folder)
    assert again.priors.success.beliefs["joint-cracked"] == less and len(again.priors.success.kind) == 2
    assert differences(first.priors, again.priors) == again.changes
    assert list(tmp_path.iterdir()) == [folder]


def test_a_refused_save_leaves_nothing(tmp_path):
    taken = tmp_path / "taken"
    taken.mkdir()
    for folder, belief in ((taken, SURE), (tmp_path / "new", KindBelief("no-such-kind", 0.5, 3))):
        with pytest.raises(PriorFileError):
            save_set(folder, CATALOGUE, [belief], DEMO)
    assert list(tmp_path.iterdir()) == [taken] and not list(taken.iterdir())


def test_a_job_the_beliefs_were_tuned_on_is_never_in_a_likelihood_again(tmp_path):
    early = record(("a", "2026-01-05", "cell-worn", "fixed"), ("b", "2026-02-01", "cell-worn", "not-fixed"))
    tuned = tuned_on(early)
    saved = save_set(tmp_path / "tuned", CATALOGUE, [SURE], DEMO, tuned)
    priors = load_priors(saved.folder, CATALOGUE)
    assert priors.tuned == tuned and priors.digest == saved.priors.digest
    # The same job, its outcome corrected since, among others.
    later = record(("a", "2026-01-05", "cell-worn", "not-fixed"), ("c", "2026-07-02", "cell-worn", "fixed"))
    with pytest.raises(HistoryError, match=r"1 of 2 jobs.*2026-07-01"):
        success.design(later, CATALOGUE, priors)
    kept = later.since(tuned.first_free_day)
    assert list(kept.rows["job"]) == ["c"] and success.design(kept, CATALOGUE, priors) is not None
    # What comes from a tuned set stays tuned, whatever else is changed.
    child = save_set(tmp_path / "child", CATALOGUE, [KindBelief("cell-worn", 0.9, 5)], saved.folder)
    with pytest.raises(HistoryError):
        refuse_double_use(early, child.priors.tuned)


def test_a_broken_list_of_tuned_jobs_is_refused(tmp_path):
    shutil.copytree(DEMO, tmp_path / "set")
    (tmp_path / "set" / FILE).write_text('{"schema": 1, "until": "2026-01-05", "jobs": [3]}')
    with pytest.raises(PriorFileError, match="cannot be understood"):
        load_priors(tmp_path / "set", CATALOGUE)
