"""The panel of long work: it is begun, seen, stopped and comes to its end under a page that is reloaded."""

from __future__ import annotations

import time

import pytest
from streamlit.testing.v1 import AppTest

from tests.workflows import fake_work
from triage.shipped import shipped
from triage.workflows.background.kinds import KINDS
from triage.workflows.background.runner import look, start, stop


@pytest.fixture(autouse=True)
def fake_kinds(monkeypatch, tmp_path):
    monkeypatch.setenv("TRIAGE_WORK", str(tmp_path))
    monkeypatch.setenv("PYTHONPATH", str(shipped("app.py").parent))
    for name, target in fake_work.KINDS.items():
        monkeypatch.setitem(KINDS, name, target)
    yield
    for kind in fake_work.KINDS:
        stop(kind)


def script(kind):
    import streamlit as st

    from triage.app_pages.shared.long_work_panel import long_work_panel

    done = long_work_panel(kind, {"numbers": [1, 2]}, "Go", "What it does.")
    st.write(f"result: {done and done.result}")


def shown(kind):
    return AppTest.from_function(script, kwargs={"kind": kind}, default_timeout=20).run()


def until(kind, ready):
    give_up = time.monotonic() + 20
    while not ready(look(kind)):
        assert time.monotonic() < give_up
        time.sleep(0.01)


def test_one_begins_by_a_click_and_its_result_is_there_after_a_reload():
    page = shown("adds")
    assert [button.key for button in page.button] == ["long-adds-start"]
    page.button(key="long-adds-start").click().run()
    until("adds", lambda work: work.state == "done")
    page.run()
    assert not page.exception and not page.error
    assert "'sum': 3" in page.markdown[-1].value
    assert "'sum': 3" in shown("adds").markdown[-1].value


def test_another_page_sees_it_run_and_can_stop_it():
    start("waits", {})
    until("waits", lambda work: work.words == "settling down")
    page = shown("waits")
    assert [button.key for button in page.button] == ["long-waits-stop"]
    assert "settling down" in page.markdown[0].value
    page.button(key="long-waits-stop").click().run()
    assert "stopped" in page.info[0].value
    assert [button.key for button in page.button] == ["long-waits-start"]


def test_why_it_failed_is_said_as_plain_words():
    start("refuses", {})
    until("refuses", lambda work: work.state == "failed")
    page = shown("refuses")
    assert r"chains disagree\: \$x\$ \<b\>" in page.error[0].value
    assert "result: None" in page.markdown[-1].value
