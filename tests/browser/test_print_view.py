"""What comes out on paper: the answer, with every caution open, and nothing to press."""

from __future__ import annotations

import pytest


@pytest.mark.parametrize("size", ["desk"])
def test_the_answer_prints_without_the_form_and_with_every_caution_open(visit, size):
    visit.open()
    page = visit.page
    page.emulate_media(media="print")
    main = page.locator("[data-testid=stMain]")
    for gone in ("header", "nav", "button", "[class*=st-key-device-decision]", "[class*=st-key-next-]"):
        assert page.locator(f"{gone} >> visible=true").count() == 0, gone
    assert page.get_by_label("Asking price (EUR)").is_hidden()
    said = main.inner_text()
    for words in ("grey tray", "Highest price", "Stop point", "Work plan", "Margin breakdown"):
        assert words in said
    folded = page.locator("[class*=st-key-device-step] details")
    assert folded.count() > 5
    for number in range(folded.count()):
        body = folded.nth(number).locator(":scope > :not(summary)").first
        assert body.is_visible() and body.bounding_box()["height"] > 10
    assert visit.complaints == []
