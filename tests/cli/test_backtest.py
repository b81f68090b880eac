"""`triage backtest`: one JSON object, plain words, progress apart, faults before any fit."""

from __future__ import annotations

import json
from datetime import date

import pytest

from tests.workflows.looking_back.test_backtest import LOOMS, Fits
from triage.domain.catalogue import load_catalogue


@pytest.fixture
def looms(tmp_path, monkeypatch):
    """A record of looms, and the sampler stood in for; its third fit fails."""
    lines = ["job,date,finding,outcome,severity"]
    for job in range(60):
        day = date.fromordinal(738000 + 4 * job)
        lines.append(f"loom-{job},{day},shed-jammed,{'fixed' if job % 4 else 'not-fixed'},{1 + job % 3}")
        lines.append(f"loom-{job},{day},shuttle-split,{'fixed' if job % 3 else 'not-fixed'},2")
    (tmp_path / "looms.toml").write_text(LOOMS)
    (tmp_path / "looms.csv").write_text("\n".join(lines) + "\n")
    fits = Fits(load_catalogue(tmp_path / "looms.toml"), fails=(2,))
    monkeypatch.setattr("triage.workflows.looking_back.backtest.fit_success", fits)
    return tmp_path / "looms.csv", tmp_path / "looms.toml"


def test_json_holds_scores_of_model_and_baselines(triage, looms):
    said = triage("backtest", "--past-jobs", looms[0], "--catalogue", looms[1], "--blocks", "3", "--json")
    assert said.code == 0, said.err
    answer = json.loads(said.out)
    assert answer["schema"] == 1
    assert list(answer["scores"]) == ["model", "overall", "raw", "beta", "ridge"]
    assert all(set(scores) == {"brier", "log", "joint_log"} for scores in answer["scores"].values())
    assert set(answer["joint_log_gains"]["ridge"]) == {"mean", "low", "high"}
    assert isinstance(answer["spiegelhalter_z"], float)
    assert answer["alarms"] == [] and answer["decision"] is None
    assert [block["used"] for block in answer["blocks"]] == ["fit", "fit", "the fit before"]
    assert answer["blocks"][2]["failures"] == ["R-hat 1.2"] and answer["failed_fits"] == 1
    assert date.fromisoformat(answer["blocks"][0]["origin"]) < date.fromisoformat(answer["as_of"])
    assert any("margins are not" in lack for lack in answer["lacks"])
    assert said.err == "a fit failed (R-hat 1.2); the previous fit used instead\n"


def test_words_in_the_terminal(triage, looms):
    said = triage("backtest", "--past-jobs", looms[0], "--catalogue", looms[1], "--as-of", "2022-02-01")
    assert said.code == 0, said.err
    for words in (
        "4 blocks; 1 of 4 fits failed",
        "this model",
        "ridge logistic",
        "Spiegelhalter z",
        "fixed ",
    ):
        assert words in said.out, words
    assert "the record has no route, paid, sold" in said.out


def test_faults_come_before_any_fit(triage, looms):
    looms[0].write_text("job,date,finding,outcome\n1,2026-01-01,shed-jamed,fixed\n")
    said = triage("backtest", "--past-jobs", looms[0], "--catalogue", looms[1])
    assert said.code == 2 and said.out == "" and "nearest known: shed-jammed" in said.err
    looms[0].write_text("job,date,finding,outcome\n1,2026-01-01,shed-jammed,fixed\n")
    said = triage("backtest", "--past-jobs", looms[0], "--catalogue", looms[1])
    assert said.code == 2 and said.out == "" and "cannot be back-tested" in said.err
