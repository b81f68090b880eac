"""The page of past jobs without a browser: a stranger's file, matched, checked, brought in once."""

from __future__ import annotations

import pytest

from triage.app_pages.shared.pages import PAGES

FILE = """\
Ticket,Date,Problem,Result,Price paid
1,03/04/2026,cracked screen,fixed,20
2,05/04/2026,gremlins,no,30
2,05/04/2026,bent frame,fixed,30
3,07/04/2026,bent frame,no,30
"""


@pytest.fixture
def past(page, record, monkeypatch):
    page.session_state["bench-hand"] = "Ada"
    page.run()
    page.switch_page(str(PAGES["past_jobs"])).run()
    assert not page.exception
    return page


def text(page):
    kinds = ("subheader", "markdown", "caption", "warning", "error", "info", "success")
    return "\n".join(element.value for kind in kinds for element in page.get(kind))


def widget(page, kind, name):
    (found,) = [w for w in page.get(kind) if w.key and w.key.endswith(f"-{name}")]
    return found


def given(page, content, name="jobs.csv"):
    page.get("file_uploader")[0].set_value((name, content.encode(), "text/csv")).run()
    assert not page.exception
    return page


def test_without_a_file_the_page_says_what_it_takes(past):
    assert "one row per damage" in text(past)


def test_open_questions_are_asked_then_jobs_go_in_once(past, record):
    given(past, FILE)
    assert "Choose how these dates are written" in text(past)
    widget(past, "radio", "dates-date").set_value("DD/MM/YYYY").run()
    assert "**Jobs ready: 2** (rows: 2). **Rows with errors: 2**" in text(past)
    (open_,) = [w for w in past.selectbox if w.label.startswith("gremlins")]
    open_.set_value("via-broken").run()
    assert "**Jobs ready: 3** (rows: 4). **Rows with errors: 0**" in text(past)
    widget(past, "button", "go").click().run()
    assert not past.exception and "3 jobs imported" in text(past)
    with record.reading() as reading:
        job = reading.job_labelled("2")
    assert [kept.record.kind for kept in job.findings] == ["via-broken", "frame-bent"]
    assert f"{job.intake.record.on}" == "2026-04-05"
    widget(past, "radio", "dates-date").set_value("DD/MM/YYYY").run()
    assert not [w for w in past.selectbox if w.label.startswith("gremlins") and w.value is None]
    widget(past, "button", "go").click().run()
    assert "0 jobs imported; 3 were already in the record" in text(past)


def test_a_number_the_record_holds_with_other_content_is_left_out(past):
    given(past, FILE.replace("03/04", "13/04").replace("gremlins", "bent frame"))
    widget(past, "button", "go").click().run()
    other = FILE.replace("03/04", "14/04").replace("gremlins", "bent frame")
    given(past, other + "9,01/05/2026,bent frame,no,1\n")
    assert "is in the record with other content" in past.dataframe[0].value["Error"][0]
    assert "**Jobs ready: 3**" in text(past)


@pytest.mark.parametrize("content", ["", "x\n", "\x00\x01", "a,b\n1,2\n", "<b>,$x$\n*y*,:red[z]\n"])
def test_a_file_that_is_no_list_of_jobs_is_said_to_be_none(past, content):
    given(past, content)
    assert not past.get("button") or not [b for b in past.button if b.key and b.key.endswith("-go")]
    assert "not a table" in text(past) or "Choose the column of" in text(past)


def test_hostile_titles_and_words_are_shown_as_they_were_typed(past):
    typed = "<b>x</b> $y$ :red[z] [l](http://w)"
    given(past, f"Ticket,Date,Problem,Result,{typed}\n1,03/04/2026,{typed},fixed,1.240\n")
    widget(past, "radio", "dates-date").set_value("DD/MM/YYYY").run()
    widget(past, "selectbox", "column-paid").set_value(typed).run()
    labels = [w.label for kind in ("selectbox", "radio") for w in past.get(kind)]
    assert not past.exception and not any("<b>" in label or "$y$" in label for label in labels)
    assert any("red" in label for label in labels)
    widget(past, "radio", "decimal-paid").set_value(".").run()
    assert typed not in text(past) and "left out" not in past.error
