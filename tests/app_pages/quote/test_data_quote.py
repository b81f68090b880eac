"""A data job on the pages without a browser: asked, quoted, given, ended, its copy erased."""

from __future__ import annotations

import pytest

from tests.app_pages.jobs.test_jobs import job_of, job_page, jobs_page, part, press, widget
from tests.app_pages.jobs.test_jobs import text as markdown
from triage.app_pages.shared.draft import Draft
from triage.app_pages.shared.pages import PAGES
from triage.domain.data_job import DataFacts
from triage.domain.documents import parse_toml
from triage.domain.money import money_text
from triage.domain.units.unit_file import unit_from
from triage.errors import UnitFileError
from triage.workflows.answers.data_quote import quote_data
from triage.workflows.jobs.record_keeper import RecordKeeper
from triage.workflows.jobs.work import look_inside
from triage.workflows.shop.shop import open_shop

RAIN = """\
[device]
name = "Handset out of the dyke"
tier = "upper"
cause = "wet"
battery = "sound"
data_wanted = true

[ownership]
lock = "locked-to-owner"
identity = "agrees"
proof_recorded = true

[[finding]]
kind = "{kind}"
severity = 1
"""
WET = RAIN.format(kind="liquid-on-board")
RAIN = RAIN.format(kind="port-pins-damaged")


@pytest.fixture
def page(page, keep):
    page.session_state["bench-hand"] = "Ada"
    page.query_params["device"] = keep(Draft(RAIN, walk_in=True))
    return page


def saving(page, **answers):
    """Open the quote page on saving the data, and answer its questions."""
    page.run()
    page.switch_page(str(PAGES["quote"])).run()
    widget(page, "button_group", "what").set_value("data").run()
    for name, value in answers.items():
        widget(page, "selectbox", name).set_value(value).run()
    assert not page.exception
    return page


def told(fee=0.0, toml=RAIN, **facts):
    shop = open_shop()
    unit = unit_from(parse_toml(toml, "unit", UnitFileError), shop.catalogue, shop.prices)
    return quote_data(unit, shop, DataFacts(**facts), fee)


def text(page):
    return markdown(page).replace("\\", "")


def errors(page):
    return [error.value.replace("\\", "") for error in page.error]


KNOWN = {"chips": "yes", "code": "yes", "touch": "works"}


def test_the_page_asks_first_and_says_what_the_function_says(page):
    saving(page, **KNOWN)
    quote = told(**KNOWN)
    numbers = {metric.label: metric.value for metric in page.metric}
    assert numbers["Quote"] == money_text(quote.offer.price, "EUR")
    assert numbers["Risk of loss"] == f"{quote.bench.losses_in_20} in 20"
    said = text(page)
    assert "No data, no fee: lowest quote" in said and "Fee for trying €40.00" in said
    assert [button.label for button in page.get("download_button")] == ["Download PDF", "Download web page"]


def test_where_no_price_without_a_fee_will_do_the_page_names_a_fee_and_a_price(page, keep):
    page.query_params["device"] = keep(Draft(WET, walk_in=True))
    saving(page, **KNOWN)
    (error,) = errors(page)
    assert "no price without a fee meets your rule" in error and "with a fee for trying of €" in error
    fee = float(error.split("a fee for trying of €")[-1].split(",")[0])
    widget(page, "number_input", "fee").set_value(fee).run()
    assert not page.exception and not page.error
    assert {m.label: m.value for m in page.metric}["Quote"] == money_text(
        told(fee, WET, **KNOWN).offer.price, "EUR"
    )


def test_data_that_cannot_be_read_here_are_referred(page):
    saving(page, code="no")
    assert "refer the owner to a licensed data recovery practice" in errors(page)[0]
    assert not page.metric


def test_a_data_job_from_the_counter_to_the_erasure_of_our_copy(page, record):
    page.run()
    page.button("device-take").click().run()
    assert not page.exception
    saving(page, **KNOWN, authority="estate")
    widget(page, "checkbox", "irreplaceable").set_value(True).run()
    widget(page, "text_area", "matters").set_value("photographs\nletters").run()
    page.button("quote-given-go").click().run()
    (refusal,) = [error for error in errors(page) if "Not saved" in error]
    assert "licensed data recovery practice first" in refusal and "local law decides" in refusal
    assert job_of(record).quotes == ()
    widget(page, "selectbox", "referral").set_value("declined").run()
    widget(page, "text_input", "proof").set_value("certificate of inheritance").run()
    page.button("quote-given-go").click().run()
    assert not page.exception and not page.error
    file = job_of(record)
    asked = file.data_job
    assert (asked.authority, asked.referral, asked.in_order) == (
        "estate", "declined", ("photographs", "letters"),
    )  # fmt: skip
    assert asked.all_chance == pytest.approx(told(**KNOWN).chances.of("all"))

    part(job_page(page, "1"), "money")
    assert "for saving data" in text(page)
    widget(page, "button_group", "answer-yes").set_value(True)
    widget(page, "text_input", "answer-who").set_value("Ida Marsh")
    widget(page, "text_input", "answer-how").set_value("in person, signed")
    press(page, "answer-go")
    press(part(page, "now"), "take")
    press(page, "move-start")
    assert "save the data, then record what was saved" in text(page)
    said = text(part(page, "data"))
    assert (
        "Copy at once" in said
        and "irreplaceable" in said
        and "It may run only once" in "\n".join([said, *(fold.label for fold in page.expander)])
    )
    press(page, "data-end-go")
    assert any("Choose what was saved" in error for error in errors(page))
    widget(page, "button_group", "data-outcome").set_value("part")
    widget(page, "text_input", "data-saved").set_value("photographs")
    widget(page, "number_input", "data-minutes").set_value(45.0)
    press(page, "data-end-go")
    # It may be wet still, and was powered: not before somebody looked inside.
    assert (
        any("A wet device is never powered" in error for error in errors(page))
        and not job_of(record).data_ended
    )
    file = job_of(record)
    look_inside(RecordKeeper(record, open_shop(), "Ada"), 1, file.version, (), "opened")
    part(job_page(page, "1"), "data")
    widget(page, "button_group", "data-outcome").set_value("part")
    widget(page, "text_input", "data-saved").set_value("photographs")
    widget(page, "number_input", "data-minutes").set_value(45.0)
    press(page, "data-end-go")
    assert job_of(record).data_ended[0].record.outcome == "part"
    part(page, "check")
    assert "closed and sealed" not in [box.label for box in page.checkbox]
    for line in ("data-opened", "data-on-owner-storage", "data-device-safe", "data-own-copy"):
        press(page, f"line-{line}-pass")
    press(part(page, "now"), "verify-go")
    press(page, "move-make-ready")
    part(page, "end")
    assert "Due from the owner for the data" in text(page)
    assert not [field for field in page.text_input if "Data wipe" in field.label]
    widget(page, "text_input", "return-unfixed-person").set_value("Ida Marsh")
    press(page, "return-unfixed-go")
    assert job_of(record).state == "returned-unfixed"

    jobs_page(page)
    assert "Our copies of owners' data to erase" in text(page)
    part(job_page(page, "1"), "data")
    widget(page, "text_input", "erase-how").set_value("drive wiped, log 12")
    press(page, "erase-go")
    assert job_of(record).copies_erased[0].record.how == "drive wiped, log 12"
    jobs_page(page)
    assert "to erase" not in text(page)
