"""A shop that was put back on another home looks the same there, page by page."""

from __future__ import annotations

import json
from datetime import date

import pytest
from google.protobuf.json_format import MessageToDict
from streamlit.testing.v1 import AppTest

from tests.app_pages.hostile_record import hostile_jobs
from tests.workflows.backup.whole_shop import make_shop
from triage.app_pages.shared.pages import PAGES
from triage.domain.job.records import Intake
from triage.ledger.opening import open_ledger
from triage.shipped import shipped
from triage.workflows.backup.back_up import back_up_shop
from triage.workflows.backup.restore import restore_shop
from triage.workflows.jobs.erasure_list import erasure_list, note_erased

JOB_PARTS = ("now", "came-in", "work", "parts", "check", "money", "end", "history")
# Parts of what the browser is sent that are made anew for each session.
_PASSING = {"id", "url", "formId", "scriptHash", "pageScriptHash", "setValue", "mediaFileId", "file"}


@pytest.fixture
def at(monkeypatch, tmp_path):
    """Stand in a home: where the record, and all beside it, is looked for."""
    for name in ("CATALOGUE", "PRIORS", "POSTERIOR", "SETTINGS", "PRICES"):
        monkeypatch.delenv(f"TRIAGE_SHOP_{name}", raising=False)
    monkeypatch.delenv("TRIAGE_BELIEFS", raising=False)

    def at(home):
        (tmp_path / home).mkdir(exist_ok=True)
        monkeypatch.setenv("TRIAGE_RECORD", str(tmp_path / home / "record.sqlite"))
        monkeypatch.setenv("TRIAGE_WORK", str(tmp_path / home / "work"))
        return tmp_path / home

    return at


def drawn(name, **address):
    page = AppTest.from_file(str(shipped("app.py")), default_timeout=60)
    page.switch_page(str(PAGES[name]))
    for key, value in address.items():
        page.query_params[key] = value
    return page


def shown(jobs):
    """All that the browser is sent, of every page and every part of the job page."""
    told = {}
    views = [(name, "", "now") for name in PAGES if name != "job"]
    views += [("job", job, part) for job in jobs for part in JOB_PARTS]
    for name, job, part in views:
        page = drawn(name, **({"job": str(job)} if job else {}))
        page.session_state["job-part"] = part
        page.run()
        assert not page.exception, page.exception[0].value
        told[name, job, part] = [_lasting(MessageToDict(node.proto)) for node in page.main if _sent(node)]
    return told


def _sent(node):
    return hasattr(getattr(node, "proto", None), "DESCRIPTOR")


def _lasting(told):
    if isinstance(told, dict):
        return {key: _lasting(value) for key, value in told.items() if key not in _PASSING}
    return [_lasting(value) for value in told] if isinstance(told, list) else told


def test_every_page_is_the_same_there(at, tmp_path):
    at("shop")
    make_shop()
    ledger = open_ledger()
    jobs = (1, hostile_jobs(ledger)[0])
    ledger.close()
    here = shown(jobs)
    back_up_shop(tmp_path / "shop.zip", passcodes=True)
    at("elsewhere")
    restore_shop(tmp_path / "shop.zip")
    there = shown(jobs)
    for view, sent in here.items():
        told = json.dumps(there[view]).replace("/elsewhere", "/shop")
        assert json.loads(told) == sent, view
    at("empty")
    open_ledger().close()
    bare = shown(())
    same = {name for name, job, part in bare if bare[name, job, part] == here[name, job, part]}
    assert len(same) <= 3, f"an empty shop cannot be told from a full one on {same}"


def test_an_older_file_put_in_its_place_by_hand_is_erased_again_as_the_pages_start(at):
    at("shop")
    ledger = open_ledger()
    with ledger.writing("ada") as writing:
        job = writing.open_job("J-0001", "walk-in", "EUR", Intake(date(2026, 3, 2), "x", person="Bo Marsh"))
        note_erased(erasure_list(ledger.engine.url), writing.job(job))
    page = drawn("jobs").run()
    assert not page.exception
    with ledger.reading() as reading:
        now = reading.job(job)
    ledger.close()
    assert now.intake.record.person == "" and "restored" in now.forgotten[0].record.why
