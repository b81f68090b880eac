"""The document of a data job: what it promises and what it does not, and what the owner pays when."""

from __future__ import annotations

from dataclasses import replace

import pytest

from tests.gold.test_data_jobs import KNOWN, SOCKET, quoted
from tests.reports.pdf_text import pdf_text
from tests.reports.quote.test_document import HOSTILE, html_text, squeezed
from tests.workflows.owners_device import device
from triage.reports.quote.data_figures import data_lines, data_object
from triage.reports.quote.data_letter import data_letter
from triage.reports.quote.document import quote_html, quote_pdf


def one(facts=KNOWN, fee=0.0, **more):
    unit = device("display-panel-dead", "connector-crushed", **more)
    return quoted(unit, facts, fee, SOCKET, price=300.0)


def said(quote):
    """The words of the HTML copy, and of the PDF without its spaces."""
    letter = data_letter(quote)
    return html_text(quote_html(letter)), squeezed(pdf_text(quote_pdf(letter)))


def test_the_owner_reads_what_is_promised_and_what_is_not():
    page, pdf = said(one())
    for words in (
        "Quote for saving data", "€300.00", "No data, no fee.", "1 photographs 2 messages",
        "Of such jobs we expect 13 in 20 to save all, 4 in 20 a part, and 4 in 20 nothing.",
        "We do not promise any data.", "We bypass no lock.",
        "All that you listed €300.00 A part of it €150.00 None of it nothing",
        "This is no repair of the device", "at the latest 14 days after you receive them",
        "We do not wipe your device.", "We close it without a new seal.", "can destroy both the device",
        "above €300.00 before you have agreed", "If some of the data cannot be replaced, tell us",
    ):  # fmt: skip
        assert words in page, words
        assert squeezed(words) in pdf, words
    assert "Warranty" not in page and "Parts we fit" in page


def test_a_fee_for_trying_is_due_whatever_comes_of_it():
    page, _ = said(one(fee=40.0))
    assert "None of it €40.00" in page and "The fee for trying, €40.00, is due whatever comes of it" in page
    assert "No data, no fee" not in page and "You then pay the fee for trying, €40.00." in page


def test_irreplaceable_data_are_referred_first():
    page, _ = said(one(replace(KNOWN, irreplaceable=True, referral="declined")))
    assert page.index("licensed data recovery practice first") < page.index("What we do")
    assert "You have heard this advice and ask us to try all the same." in page


@pytest.mark.parametrize(
    ("authority", "words"), [("estate", "I act for the estate"), ("other", "I act for the person whose data")]
)
def test_who_is_not_the_owner_is_told_that_local_law_decides(authority, words):
    page, _ = said(one(replace(KNOWN, authority=authority)))
    assert words in page and "local law decides who may receive the data" in page
    assert "I own this device" not in page


def test_a_wet_device_and_a_bad_battery_are_warned_of_first():
    page, _ = said(one(cause="wet", battery="hazard"))
    assert page.index("Do not charge it, press it or open it") < page.index("Before we touch the device")
    assert "The device has been wet." in page


def test_an_owner_s_words_come_out_as_they_were_typed():
    page, pdf = said(one(replace(KNOWN, matters=HOSTILE)))
    assert HOSTILE in page and squeezed(HOSTILE) in pdf


def test_the_document_holds_no_figure_of_the_shop_and_the_terminal_does():
    quote = one()
    page, _ = said(quote)
    assert not any(word in page.lower() for word in ("margin", "risk", "bench", "loss"))
    lines = "\n".join(data_lines(quote))
    assert "Expected margin" in lines and "risk of loss" in lines
    assert lines.index("Check ownership") < lines.index("Copy at once") < lines.index("Erase our own copy")


def test_a_wet_device_is_cleaned_then_dried_before_it_is_copied_and_its_battery_comes_out_first():
    steps = [step.slug for step in one(cause="wet").steps]
    assert steps.index("data-clean") < steps.index("data-dry") < steps.index("data-revive")
    assert steps.index("data-revive") < steps.index("data-copy")
    told = one(replace(KNOWN, irreplaceable=True, referral="declined"), cause="wet", battery="hazard").steps
    slugs = [step.slug for step in told]
    assert slugs[0] == "make-safe" and slugs.index("data-refer") < slugs.index("data-clean")
    clean = told[slugs.index("data-clean")]
    assert "disconnect the battery first" in clean.name
    assert {"liquid-no-power", "damaged-cell"} <= {caution.slug for caution in clean.cautions}


def test_the_json_gives_the_chance_of_each_outcome():
    told = data_object(one())
    assert (told["chances"]["all"], told["chances"]["part"]) == (pytest.approx(0.63), pytest.approx(0.18))
    assert told["ways"][0]["fee"] == 0.0 and told["issued"] == "2026-11-25"
