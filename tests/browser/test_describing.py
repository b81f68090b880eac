"""A device described by typing and tapping: one slip of the finger changes nothing that was not meant."""

from __future__ import annotations

import pytest

from tests.browser.by_hand import choose, press, saved_unit, unfold


def blank(visit):
    visit.open()
    press(visit, "Start new device")


def test_enter_in_the_search_adds_one_damage(visit, size):
    blank(visit)
    field = visit.page.get_by_label("Add damage", exact=True)
    field.click()
    field.press_sequentially("lint", delay=40)
    visit.page.get_by_role("option").first.wait_for()
    assert visit.page.get_by_role("option", name="Select all").count() == 0
    assert visit.page.get_by_role("option").first.inner_text().startswith("charge port full of lint")
    field.press("Enter")
    visit.idle()
    assert visit.page.get_by_role("button", name="Remove charge port full of lint").is_visible()
    assert visit.page.locator("[class*=-severity]").count() == 1


@pytest.mark.parametrize("size", ["phone"])
def test_the_severity_tapped_right_after_is_the_one_kept(visit, size):
    blank(visit)
    choose(visit, "Middle")
    for words, kind in (("bulging", "swollen"), ("torch", "torch dead")):
        field = visit.page.get_by_label("Add damage", exact=True)
        field.click()
        field.press_sequentially(words, delay=40)
        visit.page.get_by_role("option", name=kind).first.click()
        row = visit.page.locator("[class*=-row]").filter(has_text=kind).last
        row.get_by_text("3:").first.click()
        visit.idle()
        visit.settled()
    visit.full_shot("describing-phone")
    press(visit, "Get the verdict")
    unit = saved_unit(visit)
    assert {found.kind: found.severity for found in unit.findings} == {"cell-swollen": 3, "torch-dead": 3}
    unfold(visit)
