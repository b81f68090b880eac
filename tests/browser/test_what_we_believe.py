"""The parts of the page of beliefs at both sizes: one stated and kept by real input, nothing for axe."""

from __future__ import annotations

from tests.browser.test_every_page import MENU, go, unexcused

ASKED = "What do we believe, and does the record agree?"


def sound(visit):
    from axe_playwright_python.sync_playwright import Axe

    visit.page.mouse.move(0, 0)  # a chosen part under the pointer is tinted darker
    visit.settled()
    main = visit.page.locator("[data-testid=stMain]")
    assert main.evaluate("e => e.scrollWidth <= e.clientWidth"), "wider than the screen"
    assert visit.outside == [] and visit.complaints == []
    found = Axe().run(visit.page, context=MENU).response["violations"]
    assert not [told for one in found for told in unexcused(one)]


def test_a_belief_is_stated_kept_and_found_among_the_sets(visit, size):
    page = visit.page
    visit.open()
    go(visit, size, "Office", "What we believe", ASKED)
    if size == "phone":  # the menu lies over the page until it is folded
        page.get_by_test_id("stSidebarCollapseButton").get_by_role("button").click()
    page.get_by_role("button", name="Say anew what you believe").nth(1).click()
    visit.idle(ASKED)
    for label, count in (("Of the 20 I would fix about", "18"), ("I would be surprised by fewer than", "15")):
        page.get_by_label(label).fill(count)
        page.get_by_label(label).press("Tab")
        visit.idle(ASKED)
    page.get_by_label("Why do you believe it?").fill("We crushed some ourselves; a new one sits well.")
    page.get_by_label("Keep it in the set called").fill(f"mine {size}")
    page.get_by_role("button", name="Keep this belief").click()
    page.get_by_text(f"Kept in the set mine {size}").wait_for()
    visit.idle(ASKED)
    sound(visit)
    visit.full_shot(f"belief-kept-{size}")
    for part in ("Propose from history", "Saved sets"):
        page.get_by_text(part, exact=True).first.click()
        visit.idle(ASKED)
        sound(visit)
        visit.full_shot(f"beliefs-{part.lower().replace(' ', '-')}-{size}")
    assert page.get_by_text("Compare them on later jobs").is_visible()
