"""The track record: the demo, finished jobs, drift, hostile words."""

from __future__ import annotations

import json
from dataclasses import replace
from datetime import date

import pytest
import streamlit as st

from tests.policy.answer.test_promise import TWO
from tests.review.drift.test_offer import ALARM, BETTER
from tests.workflows.finished_jobs import finish
from tests.workflows.looking_back.test_outcomes import tried
from triage.app_pages.shared.pages import PAGES
from triage.review.drift.offer import drift_offer
from triage.review.drift.watch import DriftWatch
from triage.shipped import shipped
from triage.workflows.answers.assess import assess
from triage.workflows.jobs.intake import described
from triage.workflows.jobs.record_keeper import RecordKeeper
from triage.workflows.looking_back.drift import DriftNow
from triage.workflows.shop.shop import open_shop

HOSTILE = "<b>**x**</b> $a$ :smile: [l](http://x)"


@pytest.fixture(autouse=True)
def no_work(monkeypatch, tmp_path):
    monkeypatch.setenv("TRIAGE_WORK", str(tmp_path / "work"))


def opened(page):
    page.run().switch_page(str(PAGES["track_record"])).run()
    assert not page.exception, page.exception
    return page


def words(page):
    kinds = (page.header, page.markdown, page.caption, page.info, page.warning, page.error)
    return " ".join(str(element.value) for kind in kinds for element in kind)


@pytest.fixture
def keeper(record):
    return RecordKeeper(record, open_shop(today=date(2026, 3, 2)), by="ada")


def test_before_any_finished_job_it_teaches_and_shows_the_invented_back_test(page):
    said = words(opened(page))
    assert page.title[0].value == "Track record"
    for part in ("No past decision can be assessed yet", "Invented past jobs", "No drift found"):
        assert part in said, part
    assert "comes with the program" in said and "attempts in" in said and "would have declined" in said
    assert [button.label for button in page.button if button.key == "long-backtest-start"]


def test_past_decisions_are_scored(page, keeper):
    answer = assess(described(TWO, keeper.shop), keeper.shop, ask=40.0)
    for month, glass in ((3, True), (4, False)):
        finish(keeper, answer, TWO, tried(True, glass), on=date(2026, month, 2), sold=20000)
    finish(keeper, None, TWO, tried(True, True))
    said = words(opened(page))
    assert "No past decision" not in said
    assert "Forecast and outcome agree, within chance, in 1 of 1 group" in said
    for part in (
        "4 repair attempts in 2 closed jobs",
        "Only accepted jobs",
        "1 job accepted without a saved",
    ):
        assert part in said, part
    assert "Margins of bought jobs" in said and "were inside their 90 % prediction interval" in said
    assert "Mean forecast" in said
    assert any("2026 Q2" in str(frame.value) for frame in page.dataframe)


def finished_work(home, result, id="20261125T120000.000000-abcd"):
    folder = home / "backtest" / id
    folder.mkdir(parents=True)
    (folder / "result.json").write_text(json.dumps(result))


def test_drift_and_a_finished_back_test_are_shown_and_hostile_words_stay_words(
    page, keeper, monkeypatch, tmp_path
):
    finish(keeper, None, TWO, tried(True, True))
    alarm = replace(ALARM, name=HOSTILE)
    watch = DriftWatch((alarm,), date(2025, 6, 1), date(2026, 6, 1), 300, "assumptions")
    found = DriftNow(watch, BETTER, drift_offer((alarm,), BETTER))
    monkeypatch.setattr("triage.workflows.looking_back.drift.drift_now", lambda history, shop: found)
    started = []
    monkeypatch.setattr(
        "triage.app_pages.shared.long_work_panel.start",
        lambda kind, arguments: started.append((kind, arguments)),
    )
    st.cache_resource.clear()
    result = json.loads(shipped("models/backtests/demo.json").read_text())
    result["record"], result["lacks"], result["money"] = "another", [f"no {HOSTILE}"], HOSTILE
    result["families"][0]["name"] = HOSTILE
    finished_work(tmp_path / "work", result)
    said = words(opened(page))
    assert "expected 15 in 20, actual 8 in 20" in said and "First look for what changed" in said
    assert "This back-test is of other past jobs" in said
    assert HOSTILE not in said and "\\<b\\>" in said
    # One that an older program left there is not guessed at; the fit that forgets is told which jobs.
    finished_work(tmp_path / "work", {"schema": 99}, "20261126T120000.000000-abcd")
    page.button(key="long-fit-start").click().run()
    assert "another version of this program" in words(page)
    ((kind, arguments),) = started
    assert kind == "fit" and "ledger" in arguments["record"] and arguments["out"]
    assert (arguments["half_life"], arguments["half_life_kinds"]) == (180.0, ["hinge"])
    st.cache_resource.clear()
