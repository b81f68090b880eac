"""The jobs page and the job page without a browser: a job through its life, refusals, conflicts."""

from __future__ import annotations

from datetime import date

import pytest

from triage.app_pages.shared.draft import Draft
from triage.app_pages.shared.literal import literal
from triage.app_pages.shared.pages import PAGES
from triage.domain.job.final_check import required_lines
from triage.domain.job.records import Intake, Place
from triage.workflows.jobs.intake import consider
from triage.workflows.jobs.record_keeper import RecordKeeper, add_entry
from triage.workflows.shop.shop import open_shop

WRECK = """\
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
OWNERS = WRECK.replace('lock = "clear"', 'lock = "locked-to-owner"\nproof_recorded = true')


@pytest.fixture
def page(page):
    page.session_state["bench-hand"] = "Ada"
    return page


@pytest.fixture
def keeper(record):
    return RecordKeeper(record, open_shop(), "Ben")


def job_of(record, number=1):
    with record.reading() as reading:
        return reading.job(number)


def text(page):
    kinds = ("header", "subheader", "markdown", "caption", "warning", "error", "info", "success")
    return "\n".join(element.value for kind in kinds for element in page.get(kind))


def widget(page, kind, name):
    (found,) = [w for w in page.get(kind) if w.key and w.key.endswith(f"-{name}")]
    return found


def press(page, name):
    widget(page, "button", name).click().run()
    assert not page.exception
    return page


def part(page, name):
    page.get("button_group")[0].set_value(name).run()
    assert not page.exception
    return page


def jobs_page(page):
    page.run()
    page.switch_page(str(PAGES["jobs"])).run()
    assert not page.exception
    return page


def job_page(page, number):
    page.run()
    page.switch_page(str(PAGES["job"]))
    page.query_params["job"] = number
    page.run()
    assert not page.exception
    return page


def test_an_empty_record_teaches_how_a_job_begins(page):
    jobs_page(page)
    assert "describe a device on the **Device** page" in text(page)
    assert "Assess a device" in [link.proto.label for link in page.get("page_link")]


@pytest.mark.parametrize("number", ["", "999", "-1", "x", "9" * 400, "1; DROP TABLE job"])
def test_an_address_that_names_no_job_is_said_to_be(page, number):
    job_page(page, number)
    assert "No job is selected" in text(page) or "the record has no job with id 999" in text(page).replace(
        "\\", ""
    )


def test_a_bought_job_from_the_counter_to_its_sale_and_back(page, keep, record):
    page.query_params["device"] = keep(Draft(WRECK.format(name="Grey one"), 10.0))
    page.run()
    page.button("device-take").click().run()
    assert not page.exception and page.title[0].value == "Job"
    file = job_of(record)
    assert (file.state, file.decisions[0].by) == ("taken", "Ada")
    assert file.payments[0].record.amount_minor == -1000
    page.query_params["job"] = "1"
    press(page, "move-start")
    part(page, "work")
    widget(page, "button_group", "try-kind").set_value("port-dirty").run()
    press(page, "try-go")
    assert "Choose the outcome" in text(page)
    widget(page, "button_group", "try-outcome").set_value("fixed")
    press(page, "try-go")
    assert job_of(record).attempts[0].record.outcome == "fixed"

    part(page, "now")
    assert "You cannot complete the final check yet" in text(page)
    part(page, "check")
    lines = [need.line for need in required_lines(job_of(record), open_shop().catalogue)]
    assert lines and not job_of(record).lines  # nothing is preset to pass
    page.checkbox("job-1-sealed").check().run()
    for line in lines:
        if line.unit:
            press(page, f"line-{line.slug}-pass")
            assert f"enter the reading in {line.unit}" in text(page).replace("\\", "")
            good = line.least if line.least is not None else line.most
            widget(page, "number_input", f"line-{line.slug}-reading").set_value(float(good))
        press(page, f"line-{line.slug}-pass")
    part(page, "now")
    press(page, "verify-go")
    press(page, "move-make-ready")
    part(page, "end")
    widget(page, "button_group", "sell-grade").set_value("working")
    widget(page, "number_input", "sell-money").set_value(80.0)
    press(page, "sell-go")
    refused = text(page)
    assert "enter the buyer" in refused and "method and the proof of the data wipe" in refused
    widget(page, "text_input", "sell-person").set_value("A buyer")
    widget(page, "text_input", "sell-wiped").set_value("reset, start screen seen")
    press(page, "sell-go")
    assert job_of(record).state == "sold" and "Sale recorded" in text(page)

    widget(page, "button_group", "back-kind").set_value("same-fault")
    press(page, "back-go")
    widget(page, "button_group", "settle-remedy").set_value("rework")
    press(page, "settle-go")
    file = job_of(record)
    assert (file.state, file.round, file.attempts[0].record.outcome) == ("in-work", 1, "fixed")
    part(page, "history")
    assert "Ada: hand over" in text(page).replace("\\", "")


def test_readings_are_judged_by_their_limits_and_stay_until_their_line_is_saved(page, keep, record):
    kind = "charging-chip-fault"
    page.query_params["device"] = keep(Draft(WRECK.format(name="Grey").replace("port-dirty", kind), 10.0))
    page.run()
    page.button("device-take").click().run()
    page.query_params["job"] = "1"
    press(page, "move-start")
    part(page, "work")
    widget(page, "button_group", "try-kind").set_value(kind).run()
    widget(page, "button_group", "try-outcome").set_value("fixed")
    press(page, "try-go")
    part(page, "check")
    lines = [need.line for need in required_lines(job_of(record), open_shop().catalogue)]
    first, second = [line for line in lines if line.unit][:2]
    beyond = 2 * first.most if first.most is not None else first.least / 2
    widget(page, "number_input", f"line-{first.slug}-reading").set_value(beyond).run()
    assert "outside the limit" in text(page)
    widget(page, "number_input", f"line-{second.slug}-reading").set_value(7.5).run()
    press(page, f"line-{first.slug}-pass")
    (kept,) = job_of(record).lines
    assert (kept.record.result, kept.record.reading) == ("fail", beyond)
    assert f"{first.name}: fail" in text(page).replace("\\", "")
    assert widget(page, "number_input", f"line-{second.slug}-reading").value == 7.5
    assert widget(page, "number_input", f"line-{first.slug}-reading").value is None


def test_an_owner_s_job_waits_for_a_yes(page, keep, record):
    page.query_params["device"] = keep(Draft(OWNERS.format(name="Mate's"), walk_in=True))
    page.run()
    page.button("device-take").click().run()
    assert page.title[0].value == "Quote"
    page.button("quote-given-go").click().run()
    assert not page.exception
    quote = job_of(record).quotes[0].record
    assert quote.covers == '["port-dirty"]' and quote.price_minor > 0 and "SHA-256" in quote.letter
    job_page(page, "1")
    assert "neither accepted a quote" in text(page)
    part(page, "money")
    press(page, "answer-go")
    assert "Choose yes or no" in text(page)
    widget(page, "button_group", "answer-yes").set_value(True)
    press(page, "answer-go")
    assert "no reply is not a yes" in text(page) and not job_of(record).answers
    widget(page, "text_input", "answer-who").set_value("the mate")
    widget(page, "text_input", "answer-how").set_value("signed")
    press(page, "answer-go")
    part(page, "now")
    press(page, "take")
    assert job_of(record).state == "taken"


def test_a_battery_comes_first_and_a_dangerous_one_stops_the_job(page, keeper, record):
    file = consider(
        keeper, Intake(date(2026, 11, 2), WRECK.replace("sound", "not-seen").format(name="x")), "bought"
    )
    job_page(page, str(file.id))
    assert "inspect the battery" in text(page) and widget(page, "button", "take").disabled
    widget(page, "button_group", "battery-found").set_value("cell-swollen")
    press(page, "battery-looked")
    (stop,) = job_of(record).open_stops
    assert "make it safe" in text(page) and widget(page, "button", "take").disabled
    widget(page, "text_input", f"stop-{stop.id}-how").set_value("cell out, in the sand box")
    press(page, f"stop-{stop.id}-resolved")
    widget(page, "number_input", "paid").set_value(5.0)
    press(page, "take")
    assert job_of(record).state == "taken"


def test_a_change_by_somebody_else_is_said_and_nothing_is_written(page, keeper, record):
    file = consider(keeper, Intake(date(2026, 11, 2), WRECK.format(name="x")), "bought")
    job_page(page, str(file.id))
    add_entry(keeper, file.id, file.version, Place("isolation box"))
    widget(page, "text_input", "where").set_value("shelf 3")
    press(page, "where-go")
    assert "changed this job in the meantime" in text(page)
    assert [kept.record.where for kept in job_of(record).places] == ["isolation box"]
    press(page, "where-go")  # what was typed is still there
    assert job_of(record).places[-1].record.where == "shelf 3"


def test_nothing_is_written_without_a_name(page, keeper, record):
    file = consider(keeper, Intake(date(2026, 11, 2), WRECK.format(name="x")), "bought")
    page.session_state["bench-hand"] = None
    job_page(page, str(file.id))
    widget(page, "text_input", "where").set_value("shelf 3")
    press(page, "where-go")
    assert "enter your name" in text(page) and not job_of(record).places


@pytest.mark.parametrize("typed", ["<script>alert(1)</script>", "$x$ *bold* :red[a] :smile:"])
def test_hostile_words_are_shown_as_they_were_typed(page, keeper, typed):
    told = Intake(date(2026, 11, 2), WRECK.format(name=typed), person=typed, promised_for=date(2026, 1, 1))
    file = consider(keeper, told, "walk-in")
    add_entry(keeper, file.id, file.version, Place(typed))
    jobs_page(page)
    labels = [link.proto.label for link in page.get("page_link")]
    assert any(literal(typed) in label for label in labels) and "promised for 1 Jan" in text(page)
    job_page(page, str(file.id))
    for name in ("now", "came-in", "work", "parts", "check", "money", "end", "history"):
        part(page, name)
        assert typed not in text(page)


def test_a_job_is_found_by_its_numbers_and_its_place_and_a_slip_in_an_imei_is_said(page, keeper):
    slip = "49-015420-323751-3"  # the check digit is 8
    told = Intake(date(2026, 11, 2), WRECK.format(name="Grey"), serial_numbers=f"AB12, {slip}")
    file = consider(keeper, told, "bought")
    add_entry(keeper, file.id, file.version, Place("shelf 3"))
    jobs_page(page)
    for typed, found in {"49015420": 1, "49-0154": 1, "ab12": 1, "SHELF 3": 1, "x9": 0}.items():
        page.text_input(key="jobs-find").set_value(typed).run()
        assert ("No job matches" not in text(page)) == bool(found), typed
    job_page(page, str(file.id))
    part(page, "came-in")
    assert "a digit is wrong" in text(page)
