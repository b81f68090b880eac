"""What a person does and reads on the pages, and the shop that the same is worked out with beside them."""

from __future__ import annotations

import re
from functools import cache

from playwright.sync_api import TimeoutError

from triage.domain.counts import forecast_in_twenty, with_signs
from triage.domain.documents import parse_toml
from triage.domain.money import money_text
from triage.domain.units.unit_file import unit_from
from triage.errors import UnitFileError
from triage.policy.answer.assessment import Assessment
from triage.reports.wording.step import limit_words
from triage.reports.wording.verdict import verdict_words
from triage.workflows.shop.shop import open_shop

VERDICTS = re.compile("Buy for parts|Buy|Quote|Check first|Decline")
DEVICE, JOB, QUOTE = "Device", "Job", "Quote"

# The demo shop, opened beside the server from the same files.
demo_shop = cache(open_shop)


def described(page):
    """The folded description."""
    return page.locator("[class*=st-key-device-intake] summary")


def unfold(visit):
    """Open or fold the description, and wait until it has moved."""
    described(visit.page).click()
    visit.idle()
    visit.settled()


def number(page, label):
    """The figure of a metric."""
    metric = page.locator("[data-testid=stMetric]").filter(has_text=label)
    return metric.locator("[data-testid=stMetricValue]").inner_text()


def verdict(page):
    """The verdict as it is headed."""
    return VERDICTS.search(page.get_by_role("heading", name=VERDICTS).inner_text()).group()


def said(place):
    """All that is written in a place, as it was typed."""
    return " ".join(place.inner_text().replace("\u2060", "").split())


def type_in(visit, label, words, heading=DEVICE):
    """Fill a field, leave it, and wait for what comes of that."""
    field = visit.page.get_by_label(label)
    field.fill(words)
    field.press("Tab")
    visit.idle(heading)


def choose(visit, words, heading=DEVICE):
    """Tap the words of a choice."""
    main = visit.page.locator("[data-testid=stMain]")
    main.get_by_text(words, exact=True).locator("visible=true").first.click()
    visit.idle(heading)


def select(visit, label, words, heading=DEVICE):
    """Choose from a list that unfolds; a script that ends just then folds it again."""
    field = visit.page.get_by_role("combobox", name=label, exact=True)
    option = visit.page.get_by_role("option", name=words, exact=True)
    for _ in range(5):
        field.press("ArrowDown")
        try:
            option.click(timeout=3000)
            break
        except TimeoutError:
            field.press("Escape")
    visit.idle(heading)
    assert field.input_value() == words


def press(visit, name, heading=DEVICE):
    """Press a button."""
    visit.page.get_by_role("button", name=name, exact=True).first.click()
    visit.idle(heading)
    visit.settled()


def pick_typed(visit, field, words, heading=DEVICE):
    """Choose from a list by typing: the list opens, what fits is shown, Enter takes it."""
    field.click()
    field.press_sequentially(words, delay=40)
    visit.page.get_by_role("option", name=re.compile(re.escape(words))).first.wait_for()
    field.press("Enter")
    visit.idle(heading)


def who_is_here(visit, name, heading=DEVICE):
    """Enter the technician's name, whether the list has it already or not."""
    pick_typed(visit, visit.page.get_by_label("Your name"), name, heading)


def downloaded(page, button):
    """What a button gives to keep, and its name."""
    with page.expect_download() as waiting:
        page.get_by_role("button", name=button).click()
    return waiting.value.path().read_bytes(), waiting.value.suggested_filename


def saved_unit(visit):
    """The device as the page itself writes it down, read by the domain."""
    page, shop = visit.page, demo_shop()
    unfold(visit)
    page.get_by_role("tab", name="Load a file").click()
    visit.settled()
    text = downloaded(page, "Download this device")[0].decode()
    unfold(visit)
    return unit_from(parse_toml(text, "saved", UnitFileError), shop.catalogue, shop.prices)


def figures_of(told: Assessment):
    """Verdict and the three numbers as the page should word them."""
    label, limit = limit_words(told)
    return {
        "verdict": verdict_words(told.verdict, told.route).capitalize(),
        label: limit,
        "Expected margin": money_text(told.expected_margin, told.currency, whole=True),
        "Risk of loss": with_signs(forecast_in_twenty(told.losses_in_20 / 20)),
    }


def figures_on(page, labels):
    """The same as the page words them."""
    return {label: verdict(page) if label == "verdict" else number(page, label) for label in labels}
