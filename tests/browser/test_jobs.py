"""Drafts and jobs by real taps: 25 taps to a verdict, a draft that survives, a job start to end."""

from __future__ import annotations

import re

import pytest

JOB, JOBS = "Where does this job stand?", "What is on the bench?"
VERDICT = re.compile("Take it|Check first|Take for parts|Leave it")


class Taps:
    """Taps of a thumb, counted; typing of model and price is not one, reaching its field is."""

    def __init__(self, visit):
        self.visit, self.count = visit, 0

    def on(self, element):
        element.first.tap()
        self.count += 1
        self.visit.idle()
        self.visit.settled()

    def words(self, words):
        self.on(self.visit.page.get_by_text(words, exact=True))


@pytest.mark.parametrize("size", ["phone"])
def test_from_blank_to_a_verdict_with_five_findings_in_25_taps(visit, size):
    visit.open()
    page, taps = visit.page, Taps(visit)
    taps.on(page.get_by_role("button", name="New device"))
    taps.words("Upper")
    taps.words("seen, sound")
    taps.words("dropped on a corner")
    for family, damage in (("Cameras", "torch dead"), ("Battery", "battery worn")):
        taps.on(page.locator("[class*=-family]").get_by_text(family, exact=True))
        taps.words(damage)
    rows = page.locator("[class*=st-key-device-][class*=-row]")
    assert rows.count() == 5
    for row in rows.all():
        taps.on(row.get_by_text(re.compile("^3: ")))
    taps.on(page.get_by_label("Asking price (EUR)"))
    page.keyboard.type("40")
    taps.on(page.get_by_label("Model (optional)"))
    page.keyboard.type("grey handset")
    taps.on(page.get_by_role("button", name="Work it out"))
    page.get_by_text("Plan of work").or_(page.get_by_text("Leave it")).first.wait_for(timeout=60_000)
    visit.idle()
    assert page.get_by_role("heading", name=VERDICT).count() == 1
    assert "5 findings, asked €40.00" in page.locator("[class*=st-key-device-intake] summary").inner_text()
    assert taps.count <= 25, taps.count
    assert visit.complaints == [] and visit.outside == []


@pytest.mark.parametrize("size", ["phone"])
def test_a_draft_survives_a_reload_and_another_phone(visit, size, browser):
    visit.open()
    page, taps = visit.page, Taps(visit)
    taps.on(page.get_by_role("button", name="New device"))
    taps.words("bent")
    assert re.fullmatch(r".*/\?device=[a-z0-9]{10}", page.url)
    page.reload()
    visit.idle()
    rows = "[class*=st-key-device-][class*=-row]"
    assert page.locator(rows).count() == 3
    other = browser.new_context().new_page()
    other.goto(page.url)
    other.locator(rows).nth(2).wait_for(timeout=60_000)
    other.context.close()
    assert visit.complaints == [] and visit.outside == []


@pytest.mark.parametrize("size", ["desk"])
def test_a_bought_job_begins_on_the_device_page_and_stands_in_the_list(visit, size):
    visit.open()
    page = visit.page
    page.get_by_label("Who is at the bench?").fill("Ada")
    page.get_by_label("Who is at the bench?").press("Enter")
    page.get_by_role("button", name="Take it", exact=True).click()
    visit.idle(JOB)
    page.get_by_text("nothing wrong to see").click()
    page.get_by_role("button", name="I have looked").click()
    page.get_by_text("The battery was looked at.").wait_for()
    visit.idle(JOB)
    page.get_by_role("button", name="Take it", exact=True).click()
    page.get_by_role("button", name="Start work").click()
    page.get_by_text("In work", exact=True).wait_for()
    visit.idle(JOB)
    visit.full_shot("job-in-work")
    page.get_by_role("link", name="All jobs").click()
    visit.idle(JOBS)
    page.get_by_text("in work, ours").first.wait_for()
    visit.full_shot("jobs")
    assert visit.complaints == [] and visit.outside == []
