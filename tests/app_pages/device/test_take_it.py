"""What is on the screen is what is recorded; a device becomes one job; the demo only when asked twice."""

from __future__ import annotations

from dataclasses import replace

import pytest
from streamlit.testing.v1 import AppTest

from triage.app_pages.shared.draft import Draft
from triage.ledger.drafts import StoredDraft, save_draft
from triage.shipped import shipped

PORT = """\
[device]
name = "{name}"
tier = "middle"
battery = "sound"

[ownership]
lock = "clear"
identity = "agrees"

[[finding]]
kind = "port-dirty"
"""
SEEN = Draft(PORT.format(name="grey phone"), 20.0)


def jobs(record):
    with record.reading() as reading:
        return reading.jobs()


def tab(id):
    """Another tab on the same device."""
    page = AppTest.from_file(str(shipped("app.py")), default_timeout=60)
    page.session_state["bench-hand"] = "Ada"
    page.query_params["device"] = id
    return page.run()


def take(page):
    page.button("device-take").click().run()
    assert not page.exception, page.exception[0].value
    return page


def said(page, kind):
    return " ".join(element.value for element in page.get(kind))


def test_two_tabs_and_two_presses_make_one_job_and_one_purchase(record, keep):
    id = keep(SEEN)
    first, second = tab(id), tab(id)
    take(first)
    take(second)
    (job,) = jobs(record)
    assert [kept.record.amount_minor for kept in job.payments] == [-2000]
    assert "This device is already a job" in said(second, "warning")
    assert second.query_params["job"] in (str(job.id), [str(job.id)])


@pytest.mark.parametrize(
    "other", [replace(SEEN, ask=35.0), replace(SEEN, toml=PORT.format(name="black phone"))]
)
def test_a_device_described_otherwise_in_another_tab_is_shown_anew_and_not_taken(record, keep, other):
    id = keep(SEEN)
    page = tab(id)
    save_draft(record, id, StoredDraft(other.toml, other.ask, other.walk_in))
    take(page)
    assert jobs(record) == ()
    assert "changed in another tab" in said(page, "caption")
    take(page)  # now it is the one on the screen
    (job,) = jobs(record)
    assert job.intake.record.description == other.toml


def test_an_answer_that_is_no_longer_the_one_on_the_screen_asks_again(record, keep, monkeypatch):
    from triage.app_pages.device import device

    page = tab(keep(SEEN))
    whole = device.answer
    dearer = lambda *told: replace(whole(*told), limit=1.0)  # noqa: E731  # as when a price was noted elsewhere
    page.session_state["device-answered"] = None
    monkeypatch.setattr(device, "answer", dearer)
    take(page)
    assert jobs(record) == () and "Decide again" in said(page, "warning")


def test_the_demo_device_enters_the_record_only_when_that_is_ticked(record, page):
    page.session_state["bench-hand"] = "Ada"
    page.run()
    take(page)
    assert jobs(record) == () and "invented demo device" in said(page, "error")
    page.checkbox("device-demo-sure").check()
    take(page)
    assert len(jobs(record)) == 1
