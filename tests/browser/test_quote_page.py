"""A quote produced by clicking: from the device to the document in hand, with nothing fetched outside."""

from __future__ import annotations

import io

import pikepdf

from tests.reports.pdf_text import pdf_text

HEADING = "What should I quote?"


def number(page, label):
    metric = page.locator("[data-testid=stMetric]").filter(has_text=label)
    return metric.locator("[data-testid=stMetricValue]").inner_text()


def fill(page, label, words):
    page.get_by_label(label).fill(words)
    page.get_by_label(label).press("Tab")


def downloaded(page, button):
    with page.expect_download() as waiting:
        page.get_by_role("button", name=button).click()
    return waiting.value.path().read_bytes(), waiting.value.suggested_filename


def quoting(visit):
    """From the demo device, made an owner's, to the quote page."""
    visit.open()
    page = visit.page
    page.locator("[class*=st-key-device-intake] summary").click()
    page.get_by_text("An owner's device", exact=True).click()
    visit.idle()
    page.get_by_text("Owner's proof and signature recorded").click()
    visit.idle()
    page.get_by_role("button", name="Work it out").click()
    page.get_by_role("link", name="Quote for the owner").click()
    visit.idle(HEADING)
    return page


def test_a_quote_is_produced_by_clicking(visit, size):
    page = quoting(visit)
    visit.shot(f"quote-{size}")
    fill(page, "Owner's name", "Ida Westerfeld")
    fill(page, "Quote number", "2026-0117")
    visit.idle(HEADING)
    price = number(page, "Quote")
    content, name = downloaded(page, "Download the PDF")
    assert name == "quote-2026-0117.pdf"
    with pikepdf.open(io.BytesIO(content)) as document:
        assert "/StructTreeRoot" in document.Root
    text = pdf_text(content).replace(" ", "")
    assert price in text and "IdaWesterfeld" in text and "2026-0117" in text
    copy, name = downloaded(page, "Download as a web page")
    assert name == "quote-2026-0117.html" and price in copy.decode()
    visit.full_shot(f"quote-{size}-whole")
    assert visit.outside == [] and visit.complaints == []


def test_a_price_by_hand_shows_what_it_does_and_survives_the_way_back(visit, size):
    page = quoting(visit)
    least = number(page, "Quote")
    fill(page, "Price by hand (EUR)", "20")
    page.get_by_text("BELOW COST").wait_for()
    visit.idle(HEADING)
    assert number(page, "Quote") == "€20.00" != least
    assert number(page, "Expect to keep").startswith("−")
    visit.shot(f"quote-{size}-below-cost")
    page.get_by_role("link", name="Back to the device").click()
    visit.idle()
    page.get_by_role("link", name="Quote for the owner").click()
    visit.idle(HEADING)
    assert number(page, "Quote") == "€20.00"
    main = page.locator("[data-testid=stMain]")
    assert main.evaluate("e => e.scrollWidth <= e.clientWidth")
    assert visit.complaints == [] and visit.outside == []
