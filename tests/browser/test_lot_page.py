"""A lot by real clicks: a list brought in, scored, chosen from under hours, the bid list fetched."""

from __future__ import annotations

from tests.browser.test_every_page import MENU, go, unexcused

ASKED = "Which of these wrecks do we take?"
LOT = """\
unit,tier,findings,ask,lock
A1,upper,cell-worn/2,40,clear
A2,top,back-glass-cracked,57,clear
A3,middle,touch-fault/3,20,locked-to-another
<b>A4</b>,uper,cell-worn/2,20,clear
"""


def test_a_lot_is_scored_chosen_from_and_bid_for(visit, size, tmp_path):
    from axe_playwright_python.sync_playwright import Axe

    tray = tmp_path / f"{size} *7*.csv"
    tray.write_text(LOT)
    visit.open()
    go(visit, size, "Office", "Lot", ASKED)
    page = visit.page
    if size == "phone":  # the menu lies over the page until it is folded
        page.get_by_test_id("stSidebarCollapseButton").get_by_role("button").click()
        page.get_by_test_id("stExpandSidebarButton").wait_for()
    upload = page.locator("input[type=file]")
    if page.get_by_text("Another lot").count():  # one was scored before: bringing another is folded away
        page.get_by_text("Another lot").click()
    visit.settled()
    upload.set_input_files(tray)
    page.get_by_test_id("stFileChipName").wait_for()
    visit.idle(ASKED)
    page.get_by_role("button", name="Score this lot").click()
    page.get_by_text(f"{tray.name.capitalize()}: 3 units scored, 1 row set aside").wait_for(timeout=60_000)
    visit.idle(ASKED)
    hours = page.get_by_label("Bench hours")
    hours.fill("1")
    hours.press("Tab")
    page.get_by_text("One more bench hour would add").wait_for()
    visit.idle(ASKED)
    taken = page.get_by_role("heading", level=2).first.inner_text()
    assert " of 4 for €" in taken and "lot-hours=1" in page.url
    page.get_by_text("Rows that could not be read").click()
    page.get_by_text("'uper' is not a known tier").wait_for()
    visit.settled()
    visit.full_shot(f"lot-{size}")
    with page.expect_download() as fetched:
        page.get_by_role("button", name="Download the bid list").click()
    rows = fetched.value.path().read_text().splitlines()
    assert len(rows) == 4 and rows[0].startswith("unit,tier,take,verdict,ask,highest_bid")
    assert visit.outside == [] and visit.complaints == []
    found = Axe().run(page, context=MENU).response["violations"]
    assert not [told for one in found for told in unexcused(one)]
