"""Every act that writes, pressed twice in quick succession, writes once."""

from __future__ import annotations

from datetime import date

import pytest

from tests.browser.by_hand import JOB, QUOTE, pick_typed
from tests.browser.test_take_it import PHONE
from triage.domain.job.records import Intake
from triage.ledger.drafts import StoredDraft, new_token, save_draft
from triage.ledger.opening import open_ledger
from triage.workflows.jobs.intake import consider, look_at_battery
from triage.workflows.jobs.record_keeper import RecordKeeper
from triage.workflows.shop.shop import open_shop

PARTS = "Parts"


@pytest.fixture
def size():
    return "desk"


class Bench:
    """A tab whose fields and buttons are found by their keys, and the record that it writes."""

    def __init__(self, visit, heading):
        self.visit, self.page, self.heading = visit, visit.page, heading

    def at(self, key):
        return self.page.locator(f"[class*=st-key-][class*={key}]").locator("visible=true").first

    def part(self, number):
        self.page.get_by_role("radiogroup").first.get_by_role("radio").nth(number).click()
        self.visit.idle(self.heading)

    def type(self, key, words):
        field = self.at(key).locator("input").first
        field.fill(words)
        field.press("Tab")
        self.visit.idle(self.heading)

    def choose(self, key, words):
        pick_typed(self.visit, self.at(key).locator("input").first, words, self.heading)

    def pick(self, key, number):
        self.at(key).get_by_role("radio").nth(number).click()
        self.visit.idle(self.heading)

    def press_twice(self, key):
        self.at(key).locator("button").first.dblclick()
        self.page.wait_for_timeout(1000)
        self.visit.idle(self.heading)


def test_on_the_job_and_quote_and_parts_pages(visit, record):
    keeper = RecordKeeper(open_ledger(record), open_shop(), "Ada")
    unit = PHONE.format(name="pressed twice")
    file = consider(keeper, Intake(date.today(), unit, name="pressed twice"), "walk-in")
    look_at_battery(keeper, file.id, file.version)
    save_draft(keeper.ledger, token := new_token(), StoredDraft(unit, None, True, job=file.id))
    visit.page.goto(f"{visit.address}/job?job={file.id}")
    visit.idle(JOB)
    Bench(visit, JOB).choose("bench-hand", "Ada")
    bench = Bench(visit, JOB)
    bench.type("-where", "shelf 3")
    bench.press_twice("-where-go")
    bench.part(2)
    bench.choose("-check", "six")
    bench.pick("-said", 0)
    bench.press_twice("-check-go")
    bench.part(5)
    bench.choose("-pay-for", "refund")
    bench.type("-pay-amount", "7")
    bench.pick("-pay-way", 1)
    bench.press_twice("-pay-go")
    visit.page.goto(f"{visit.address}/quote?device={token}")
    visit.idle(QUOTE)
    Bench(visit, QUOTE).choose("bench-hand", "Ada")
    Bench(visit, QUOTE).press_twice("quote-given-go")
    visit.page.goto(f"{visit.address}/parts")
    visit.idle(PARTS)
    Bench(visit, PARTS).choose("bench-hand", "Ada")
    bench = Bench(visit, PARTS)
    visit.page.get_by_role("tab", name="Price book").click()
    visit.settled()
    bench.choose("parts-price-part", "charge")
    bench.type("parts-price-source", "a stall")
    bench.type("parts-price-cost", "9")
    bench.press_twice("parts-price-go")
    with keeper.ledger.reading() as reading:
        told, prices = reading.job(file.id), reading.prices_found()
    keeper.ledger.close()
    assert [kept.record.where for kept in told.places] == ["shelf 3"]
    assert [len(told.checks), len(told.payments), len(told.quotes), len(prices)] == [1, 1, 1, 1]
