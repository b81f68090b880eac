"""`triage priors`: stated, shown, compared with the record, proposed, accepted."""

from __future__ import annotations

import json
from dataclasses import replace
from datetime import date

import pytest

from triage.domain.catalogue import load_catalogue
from triage.domain.job.records import Intake
from triage.ledger.opening import open_ledger
from triage.posterior.store import load_posterior, save_posterior
from triage.priors.prior_set import load_priors
from triage.shipped import shipped
from triage.workflows.jobs.intake import consider, decline
from triage.workflows.jobs.record_keeper import RecordKeeper
from triage.workflows.shop.shop import open_shop

PAST_JOBS = shipped("synthetic_cases/past-jobs.csv")
CATALOGUE = load_catalogue()


@pytest.fixture(scope="module")
def few_draws(tmp_path_factory):
    """The demo's success draws, few of them, as if fitted from the beliefs shipped now."""
    folder = tmp_path_factory.mktemp("draws")
    held = load_posterior(shipped("models/posteriors/demo"), CATALOGUE, models=["success"])
    beliefs = load_priors(shipped("models/priors/demo"), CATALOGUE)
    draws = {name: found.isel(draw=slice(None, None, 20)) for name, found in held.draws.items()}
    save_posterior(
        replace(held, draws=draws, manifest=replace(held.manifest, prior_hash=beliefs.digest)), folder
    )
    return folder


def test_an_assumption_is_stated_saved_and_said_to_differ(triage, tmp_path):
    words = ("priors", "state", "joint-cracked", "--about", "15 in 20", "--fewer-than", "11")
    said = triage(*words, "--save", tmp_path / "mine", "--reason", "seen enough of them")
    assert said.code == 0, said.err
    assert "Lower limit: you said 11.0 of 20; the assumption has 11.0" in said.out
    assert "as you state it: in 18 of 20 runs" in said.out and "warning" not in said.err
    assert "success, kind joint-cracked, reason: " in said.out
    answer = json.loads(triage(*words, "--priors", tmp_path / "mine", "--json").out)
    assert answer["schema"] == 1 and answer["warnings"] == [] and answer["saved"] is None
    assert answer["before"]["chance"] == answer["belief"]["chance"]


@pytest.mark.parametrize(
    ("more", "why"),
    [
        (("--about", "lots"), "is not a count"),
        (("--about", "15 in 20", "--fewer-than", "16"), "allowed: above 0 and below 15"),
        (("--about", "20 in 20"), "leaves no uncertainty"),
    ],
)
def test_what_cannot_be_assumed_is_refused(triage, more, why):
    said = triage("priors", "state", "joint-cracked", *more)
    assert said.code == 2 and said.out == "" and why in said.err


def test_assumption_and_record_are_shown_side_by_side_and_in_money(triage):
    unit = b'[device]\nname = "u"\ntier = "upper"\n[[finding]]\nkind = "touch-fault"\n'
    answer = json.loads(triage("priors", "show", "-", "--ask", "10", "--json", stdin=unit).out)
    assert [row["kind"] for row in answer["kinds"]] == ["touch-fault"]
    money = answer["money"]
    assert money["belief"]["expected_margin"] != money["record"]["expected_margin"]
    assert "repair chances from assumptions only" in money["belief"]["source"]
    assert triage("priors", "show", "--ask", "40").code == 2


def test_no_number_is_cut_at_eighty_columns(triage, monkeypatch):
    monkeypatch.setenv("COLUMNS", "80")
    said = triage("priors", "show").out
    assert "168 of 174" in said and "…" not in said and all(len(line) <= 80 for line in said.splitlines())


@pytest.mark.slow
def test_conflict_is_told_kind_by_kind(triage, few_draws):
    said = triage("priors", "conflict", "--past-jobs", PAST_JOBS, "--posterior", few_draws, "--json")
    assert said.code == 0, said.err
    kinds = {row["kind"]: row for row in json.loads(said.out)["kinds"]}
    # 71 of 73 fixed where 16 in 20 was believed.
    row = kinds["connector-crushed"]
    assert row["words"] == "both: they disagree" and row["flagged"]
    assert row["belief"]["shift"] < 0 < row["record"]["shift"]


def test_a_proposal_changes_nothing_until_some_of_it_is_accepted(triage, few_draws, tmp_path):
    path, mine = tmp_path / "proposal.json", tmp_path / "tuned"
    said = triage("priors", "propose", "--past-jobs", PAST_JOBS, "--posterior", few_draws, "--out", path)
    assert said.code == 0 and "Nothing is changed" in said.out and list(tmp_path.iterdir()) == [path]
    assert triage("priors", "accept", path, "--save", mine).code == 2
    said = triage("priors", "accept", path, "--kind", "torch-dead", "--save", mine, "--json")
    answer = json.loads(said.out)
    assert answer["tuned_on_jobs"] == 2600 and answer["fit_from"] == "2026-09-01"
    said = triage("fit", "--past-jobs", PAST_JOBS, "--priors", mine, "--out", tmp_path / "draws")
    assert said.code == 2 and "--from" in said.err and not (tmp_path / "draws").exists()


def test_a_set_is_compared_with_another_not_with_itself(triage, tmp_path):
    said = triage("priors", "compare", tmp_path, tmp_path, "--past-jobs", PAST_JOBS)
    assert said.code == 2 and "two sets or more" in said.err


def test_the_sets_of_the_shop_are_listed_and_compared(triage, tmp_path, monkeypatch):
    monkeypatch.setenv("TRIAGE_BELIEFS", str(tmp_path))
    words = ("priors", "state", "torch-dead", "--about", "12 in 20", "--save", tmp_path / "mine")
    assert triage(*words, "--reason", "cheap ones").code == 0
    listed = json.loads(triage("priors", "sets", "--json").out)["sets"]
    assert [(one["name"], one["in_use"]) for one in listed] == [("demo", True), ("mine", False)]
    said = triage("priors", "sets", "--apart", "demo", "mine")
    assert "kind torch-dead, reason: a new module before" in said.out and "cheap ones now" in said.out
    assert triage("priors", "sets", "--apart", "demo", "yours").code == 2


def test_results_of_checks_are_shown_with_the_record(triage, tmp_path):
    record = tmp_path / "record.sqlite"
    ledger = open_ledger(str(record))
    keeper = RecordKeeper(ledger, open_shop(), "Ada")
    unit = '[device]\nname = "u"\ntier = "upper"\n[[check]]\ncheck = "touch-and-screen-grid"\nfound = false\n'
    file = consider(keeper, Intake(date(2026, 3, 2), unit), "bought")
    decline(keeper, file.id, file.version, date(2026, 3, 2))
    ledger.close()
    (row,) = json.loads(triage("priors", "show", "--ledger", record, "--json").out)["checks"]
    assert row["check"] == "touch-and-screen-grid" and row["record"]["negative_unseen"] == 1
    said = triage("priors", "show", "--ledger", record).out
    assert "touch-and-screen-grid" in said and "1 job, 0 verified" in said
