"""A price set by hand on the quote page: what it does to the bench, and that it is not lost on the way."""

from __future__ import annotations

from tests.browser.by_hand import QUOTE, number, type_in, unfold


def quoting(visit):
    """From the demo device, made an owner's, to the quote page."""
    visit.open()
    page = visit.page
    unfold(visit)
    page.get_by_text("Repair for its owner", exact=True).click()
    visit.idle()
    page.get_by_text("Proof of ownership and signature recorded").click()
    visit.idle()
    page.get_by_role("button", name="Get the verdict").click()
    page.get_by_role("link", name="Open the quote").click()
    visit.idle(QUOTE)
    return page


def test_a_price_by_hand_shows_what_it_does_and_survives_the_way_back(visit, size):
    page = quoting(visit)
    least = number(page, "Quote")
    type_in(visit, "Your price (EUR)", "20", QUOTE)
    page.get_by_text("BELOW COST").wait_for()
    visit.idle(QUOTE)
    assert number(page, "Quote") == "€20.00" != least
    assert number(page, "Expected margin").startswith("−")
    visit.shot(f"quote-{size}-below-cost")
    page.get_by_role("link", name="Back to the device").click()
    visit.idle()
    page.get_by_role("link", name="Open the quote").click()
    visit.idle(QUOTE)
    assert number(page, "Quote") == "€20.00"
    main = page.locator("[data-testid=stMain]")
    assert main.evaluate("e => e.scrollWidth <= e.clientWidth")
    assert visit.complaints == [] and visit.outside == []
