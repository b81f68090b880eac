"""Drafts and jobs by real taps: 25 taps to a verdict, a draft that survives, a job start to end."""

from __future__ import annotations

import re

import pytest

JOB, JOBS = "Job", "Jobs"
VERDICT = re.compile("Buy for parts|Buy|Quote|Check first|Decline")


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
    taps.on(page.get_by_role("button", name="Start new device"))
    taps.words("Upper")
    taps.words("inspected, no damage")
    taps.words("dropped on a corner")
    for damage in ("display glass cracked, picture and touch work", "housing scuffed or dented"):
        taps.words(damage)
    taps.words("antenna flex torn or contact tab off")
    for place, damage in (("rear-camera bump", "torch dead"), ("battery well", "battery worn")):
        taps.on(page.locator("[class*=-place]").get_by_text(place, exact=True))
        taps.words(damage)
    rows = page.locator("[class*=st-key-device-][class*=-row]")
    assert rows.count() == 5
    for row in rows.all():
        taps.on(row.get_by_text(re.compile("^3: ")))
    taps.on(page.get_by_label("Asking price (EUR)"))
    page.keyboard.type("40")
    taps.on(page.get_by_label("Model (optional)"))
    page.keyboard.type("grey handset")
    taps.on(page.get_by_role("button", name="Get the verdict"))
    page.get_by_text("Work plan").or_(page.get_by_text("Decline")).first.wait_for(timeout=60_000)
    visit.idle()
    assert page.get_by_role("heading", name=VERDICT).count() == 1
    summary = page.locator("[class*=st-key-device-intake] summary").inner_text()
    assert "5 kinds of damage, asking price €40.00" in summary
    assert taps.count <= 25, taps.count
    assert visit.complaints == [] and visit.outside == []


@pytest.mark.parametrize("size", ["phone"])
def test_a_draft_survives_a_reload_and_another_phone(visit, size, browser):
    visit.open()
    page, taps = visit.page, Taps(visit)
    taps.on(page.get_by_role("button", name="Start new device"))
    taps.words("bent")
    for damage in ("frame bent or twisted", "main board bent", "display panel dead or bleeding"):
        taps.words(damage)
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
def test_a_bought_job_from_the_counter_to_its_sale_and_back(visit, size):
    from playwright.sync_api import expect

    visit.open()
    page = visit.page

    def press(name):
        page.get_by_role("button", name=name, exact=True).first.click()
        visit.settled()
        visit.idle(JOB)

    def choose(words):
        page.locator("[data-testid=stMain]").get_by_text(words, exact=True).first.click()
        visit.idle(JOB)

    def part(words):
        page.get_by_role("radiogroup").first.get_by_text(words, exact=True).click()
        visit.idle(JOB)

    def type_in(label, words):
        field = page.get_by_label(label)
        field.fill(words)
        field.press("Tab")
        visit.idle(JOB)

    page.get_by_role("button", name="Start new device").click()
    visit.idle()
    for words in ("Middle", "bottom edge", "charge port full of lint"):
        page.get_by_text(words, exact=True).first.click()
        visit.idle()
    page.get_by_label("Asking price (EUR)").fill("10")
    page.get_by_role("button", name="Get the verdict").click()
    page.get_by_label("Your name").wait_for(timeout=60_000)
    visit.idle()
    page.get_by_label("Your name").fill("Ada")
    page.get_by_label("Your name").press("Enter")
    page.get_by_role("button", name="Buy it", exact=True).click()
    visit.idle(JOB)
    choose("no visible damage")
    press("Save battery inspection")
    stops = page.get_by_label("How was it resolved?")
    expect(page.get_by_role("button", name="Buy it", exact=True)).to_be_disabled()
    for left, how in ((1, "started on bench power: no lock"), (0, "numbers read and checked")):
        stops.first.fill(how)
        press("Clear this stop")
        expect(stops).to_have_count(left)
    press("Buy it")
    press("Start work")
    visit.full_shot("job-in-work")

    part("Damage and repairs")
    page.get_by_label("Which check?").fill("charge current")
    page.get_by_label("Which check?").press("Enter")
    visit.idle(JOB)
    page.get_by_text("Result", exact=True).wait_for()
    page.locator("[class*=-said]").get_by_role("radio").nth(1).click()
    press("Save check")
    for _ in range(3):  # a click that meets the page while it is drawn anew is lost
        page.locator("[class*=-try-kind]").get_by_text("charge port full of lint").click()
        visit.idle(JOB)
        if page.get_by_text("repaired", exact=True).count():
            break
    choose("repaired")
    visit.full_shot("job-work")
    press("Save attempt")
    page.get_by_text(re.compile("full of lint, severity 2 of 3, seen: repaired")).wait_for()

    part("Final check")
    page.get_by_text("The device is closed and sealed").click()
    visit.idle(JOB)
    lines = page.locator("[class*=-line-][class*=-box]")
    to_go = lines.filter(has_text="to do")
    expect(to_go).not_to_have_count(0)
    asked = lines.count()
    expect(to_go).to_have_count(asked)  # nothing is preset to pass
    visit.full_shot("job-final-check")
    while left := to_go.count():
        line = to_go.first
        if line.locator("input").count():
            line.locator("input").fill("1")
            line.locator("input").press("Tab")
            visit.idle(JOB)
            line = to_go.first
        line.get_by_role("button", name="Pass").click()  # one tap a line
        visit.idle(JOB)
        expect(to_go).to_have_count(left - 1)
    page.get_by_text(f"{asked} of {asked} lines passed").wait_for()

    part("Next step")
    press("Complete final check")
    press("Mark as ready")
    part("Sale or collection")
    choose("fully working")
    type_in("Buyer", "a buyer")
    type_in("Price (EUR)", "80")
    type_in("Data wipe: method and proof", "reset, start screen seen")
    visit.full_shot("job-sale")
    press("Record sale")
    page.get_by_text("left as fully working").wait_for()
    choose("the same fault")
    visit.full_shot("job-comeback")
    press("Record comeback")
    page.get_by_text("Remedy for the comeback").wait_for()
    choose("Rework")
    press("Save remedy")
    page.get_by_text("comeback, the same fault; rework").wait_for()
    part("Next step")
    page.get_by_text("In progress", exact=True).wait_for()
    part("History")
    page.get_by_text("Nothing is deleted").wait_for()
    page.get_by_role("link", name="All jobs").click()
    visit.idle(JOBS)
    page.get_by_text("in progress, bought").first.wait_for()
    visit.full_shot("jobs")
    assert visit.complaints == [] and visit.outside == []
