"""A data job by real taps: from its quote to the day by which our copy is erased, on desk and phone."""

from __future__ import annotations

from triage.ledger.drafts import StoredDraft, new_token, save_draft
from triage.ledger.opening import open_ledger
from triage.shipped import shipped

QUOTE, JOB, JOBS = "Quote", "Job", "Jobs"


def test_a_data_job_from_its_quote_to_the_erasure_of_our_copy(visit, size, record):
    ledger, token = open_ledger(str(record)), new_token()
    text = shipped("synthetic_cases/devices/rain-handset.toml").read_text(encoding="utf-8")
    save_draft(ledger, token, StoredDraft(text, None, True))
    ledger.close()
    visit.open(f"/?device={token}")
    page = visit.page
    main = page.locator("[data-testid=stMain]")

    def press(name, heading=JOB):
        page.get_by_role("button", name=name, exact=True).first.click()
        visit.settled()
        visit.idle(heading)

    def fill(label, words, heading=JOB):
        page.get_by_label(label, exact=True).first.fill(words)
        page.keyboard.press("Tab")
        visit.idle(heading)

    def choose(label, option, heading=QUOTE):
        field = page.get_by_label(label)
        box = page.locator("[data-testid=stSelectbox]").filter(has=field)
        for _ in range(3):  # what is typed while the page is drawn anew is lost
            field.fill(option)
            field.press("Enter")
            visit.idle(heading)
            field.press("Tab")  # what was typed and not chosen is gone then
            visit.idle(heading)
            if option in box.inner_text() or option == field.input_value():
                return
        raise AssertionError(f"{label}: {box.inner_text()}")

    def words(text, heading=JOB):
        main.get_by_text(text, exact=True).first.click()
        visit.idle(heading)

    def part(words):
        page.get_by_role("radiogroup").first.get_by_text(words, exact=True).click()
        visit.idle(JOB)

    def fits():
        return main.evaluate("e => e.scrollWidth <= e.clientWidth")

    page.get_by_label("Your name").wait_for(timeout=60_000)
    visit.idle()
    page.get_by_label("Your name").fill("Ada")
    page.get_by_label("Your name").press("Enter")
    visit.idle()
    press("Open a job and quote", QUOTE)
    words("Save the data", QUOTE)
    assert "with a fee for trying of" in main.inner_text()  # nobody was asked yet: no price without a fee
    choose("Original processor and storage together", "Yes")
    choose("Unlock code known to the owner", "Yes")
    choose("Touch", "Works")
    main.get_by_text("The data cannot be replaced", exact=True).click()
    visit.idle(QUOTE)
    choose("Referral to a data recovery practice", "Advised, declined: we are to try")
    fill("What matters most, one thing a line, first things first", "photographs\nmessages", QUOTE)
    visit.full_shot(f"data-{size}-quote")
    assert fits()
    assert "No data, no fee: lowest quote" in main.inner_text()
    press("Record quote as given", QUOTE)
    main.get_by_text("Quote recorded.").wait_for()
    visit.idle(QUOTE)
    main.get_by_role("link", name="Job J-").first.click()
    visit.idle(JOB)

    part("Quotes and payments")
    words("Yes")
    fill("How they answered", "in person, signed")
    fill("Who answered", "Bo Marsh")
    press("Save answer")
    part("Next step")
    press("Accept it")
    press("Start work")
    part("Data")
    visit.full_shot(f"data-{size}-steps")
    assert fits() and "Copy at once" in main.inner_text()

    part("Damage and repairs")
    press("Save inspection")
    part("Data")
    words("Part saved")
    fill("What was saved", "photographs")
    fill("Minutes of copying and checking", "45")
    press("Record outcome")
    assert "Erase our copy by" in main.inner_text()
    visit.full_shot(f"data-{size}-outcome")

    part("Final check")
    for _ in range(4):
        box = main.locator("[class*=st-key-job][class*=-box]").filter(has_text="to do").first
        box.get_by_role("button", name="Pass", exact=True).click()
        visit.settled()
        visit.idle(JOB)
    visit.full_shot(f"data-{size}-check")
    part("Next step")
    press("Complete final check")
    press("Mark as ready")
    part("Sale or collection")
    assert "Due from the owner for the data" in main.inner_text()
    fill("Returned to", "Bo Marsh")
    visit.full_shot(f"data-{size}-return")
    press("Return unrepaired")

    main.get_by_role("link", name="All jobs").first.click()
    visit.idle(JOBS)
    assert "Our copies of owners' data to erase" in main.inner_text()
    visit.full_shot(f"data-{size}-jobs")
    assert fits()
    main.get_by_role("link", name="by ").first.click()
    visit.idle(JOB)
    assert "Erase our copy by" in main.inner_text()  # the link leads to the section itself
    fill("How our copy was erased, and proof", "drive wiped, log 12")
    press("Record erasure")
    assert "Our copy was erased on" in main.inner_text()
    assert visit.complaints == [] and visit.outside == []
