"""What an earlier version of this program kept still opens, and goes on by the rules of today.

The files in `tests/upgrade/` are of November 2026, before the safety rules; people and devices are invented.
"""

from __future__ import annotations

import sqlite3
from datetime import date
from pathlib import Path

import pytest

from triage.app_pages.shared.pages import PAGES
from triage.domain.job.records import HandOver
from triage.domain.job.rules import move_refusals
from triage.domain.shop.settings import load_settings
from triage.errors import JobRuleError
from triage.ledger.opening import APPLICATION_ID, open_ledger
from triage.workflows.jobs.ending import sell
from triage.workflows.jobs.record_keeper import RecordKeeper
from triage.workflows.jobs.work import check_line
from triage.workflows.shop.shop import open_shop

OLD = Path(__file__).parents[1] / "upgrade"
DAY = date(2026, 11, 25)
SOLD, BENT_CELL, WASHED, READY = range(1, 5)  # the jobs of the record


@pytest.fixture
def record(monkeypatch, tmp_path):
    """The old record, where the app looks for it."""
    monkeypatch.setenv("TRIAGE_RECORD", str(tmp_path / "record.sqlite"))
    with sqlite3.connect(tmp_path / "record.sqlite") as file:
        file.executescript((OLD / "record-2026-11.sql").read_text(encoding="utf-8"))
        file.execute(f"PRAGMA application_id = {APPLICATION_ID}")
    file.close()
    ledger = open_ledger()
    yield ledger
    ledger.close()


def job_of(record, number):
    with record.reading() as reading:
        return reading.job(number)


def test_settings_without_the_minutes_of_the_battery_have_the_shipped_ones():
    settings = load_settings(OLD / "settings-2026-11.toml")
    assert "careful_look" not in (OLD / "settings-2026-11.toml").read_text(encoding="utf-8")
    assert (settings.minutes.careful_look, settings.minutes.battery_out) == (8.0, 10.0)


@pytest.mark.parametrize("number", [SOLD, BENT_CELL, WASHED, READY])
def test_every_page_opens_on_a_job_of_the_old_record(page, record, number):
    job = str(_jobs(record)[number - 1])
    parts = ("now", "came-in", "work", "parts", "check", "money", "end", "history")
    for name, part in (("jobs", "now"), ("quote", "now"), *(("job", part) for part in parts)):
        page.switch_page(str(PAGES[name]))
        page.query_params["job"], page.session_state["job-part"] = job, part
        page.run()
        assert not page.exception, page.exception[0].value


def test_a_job_goes_on_by_the_rules_of_today(record):
    keeper, ids = RecordKeeper(record, open_shop(), "Ada"), _jobs(record)
    # A bent battery was recorded: nothing before it is made safe.
    stopped = job_of(record, ids[BENT_CELL - 1])
    assert any(
        "battery is dangerous" in words for words in move_refusals(stopped, "verify", keeper.catalogue)
    )
    # Ready to be sold by the old final check: the battery is looked at once more, then it goes.
    ready = job_of(record, ids[READY - 1])
    sale = HandOver(DAY, "working", warranty_days=90, person="Cy Vane", wiped="reset, set-up screen shown")
    with pytest.raises(JobRuleError) as refused:
        sell(keeper, ready.id, ready.version, sale, 15000)
    assert refused.value.refusals == ("not fully working, not tested: battery, before closing",)
    looked = check_line(keeper, ready.id, ready.version, "cell-look-again", "pass", DAY)
    assert sell(keeper, looked.id, looked.version, sale, 15000).state == "sold"
    # The one that came back is mended again.
    back = job_of(record, ids[SOLD - 1])
    assert back.state == "came-back" and len(back.decisions) == 1


def test_a_description_with_a_cause_in_own_words_is_kept_and_shown_as_not_readable(page, record):
    page.switch_page(str(PAGES["job"]))
    page.query_params["job"], page.session_state["job-part"] = str(_jobs(record)[WASHED - 1]), "came-in"
    page.run()
    said = "\n".join(element.value for element in page.get("markdown"))
    assert "The description does not match this catalogue and price book" in said
    assert "washed" in said and "wet" in said, "it does not say which word, and what is allowed"


def _jobs(record):
    with record.reading() as reading:
        return sorted(line.id for line in reading.jobs())
