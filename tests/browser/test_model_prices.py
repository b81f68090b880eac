"""Prices typed and pasted into the table of model prices, at the size of a desk and of a phone."""

from __future__ import annotations

from datetime import date

import pytest

from triage.domain.shop.price_book import ModelPrice
from triage.workflows.shop.own_models import keep_models, own_models

TITLE = "Model prices"
# Of the grid, in pixels: its header's and a row's height, and the column that selects rows.
HEAD, ROW = 36, 35
PASTED = "Otter\t200\t150\t50\t10\t2026-11-01\nWren\t1.240\t\t\t\t\n"


@pytest.fixture
def prices(record):
    """Invented prices of two models, saved as a command would; what is saved now, by model."""
    keep_models((ModelPrice("Heron 3", 310.0), ModelPrice("Heron 5", 420.0)), where=str(record))
    return lambda: {entry.model: entry for entry in own_models(str(record))}


def tap(visit, column, row, add=False):
    """Select a cell of the first table: 0 is the model, pinned at the left, and 1 its price.

    add : the row is the empty one beneath the others, which a click adds.
    """
    visit.page.mouse.move(0, 0)
    grid = visit.page.get_by_test_id("stDataFrame").first
    grid.scroll_into_view_if_needed()
    visit.settled()
    for _ in range(5):  # a grid that was just drawn does not take a click yet
        box = grid.bounding_box()
        where = box["x"] + 60 + 110 * column, box["y"] + HEAD + ROW * row + ROW // 2
        visit.page.mouse.move(*where)
        visit.page.wait_for_timeout(400)
        visit.page.mouse.click(*where)
        visit.page.wait_for_timeout(600)
        if (
            add
            or grid.locator("[aria-selected=true]").count()
            or visit.page.locator("textarea.gdg-input").count()
        ):
            return
    raise AssertionError("no cell takes the click")


def type_price(visit, text):
    """Type into the selected cell, whose editor opens at Enter and closes at Enter."""
    editor = visit.page.locator("textarea.gdg-input")
    if not editor.count():  # a cell that was selected before is open already
        visit.page.keyboard.press("Enter")
    editor.wait_for()
    editor.fill(text)
    visit.page.keyboard.press("Enter")
    editor.wait_for(state="detached")
    visit.page.get_by_text("Not saved yet:").wait_for()
    visit.idle(TITLE)


def save(visit):
    visit.page.get_by_role("button", name="Save prices").click()
    visit.idle(TITLE)


def paste(visit, text):
    visit.page.context.grant_permissions(["clipboard-read", "clipboard-write"])
    visit.page.evaluate("text => navigator.clipboard.writeText(text)", text)
    visit.page.keyboard.press("Control+V")
    visit.page.get_by_text("2 added").wait_for()
    visit.idle(TITLE)


def test_prices_are_typed_pasted_saved_and_undone(visit, size, prices):
    visit.page.goto(visit.address + "/model_prices")
    visit.idle(TITLE)
    tap(visit, 1, 0)
    type_price(visit, "333,5")
    visit.shot(f"model-prices-typed-{size}")
    save(visit)
    assert visit.page.get_by_text("Prices saved: 1 changed.").is_visible()
    assert prices()["Heron 3"] == ModelPrice("Heron 3", 333.5, checked_on=date.today())
    # Rows of a spreadsheet; one amount could mean two, so nothing of them is saved.
    tap(visit, 0, 2, add=True)
    visit.page.keyboard.press("Escape")
    paste(visit, PASTED)
    save(visit)
    refused = visit.page.get_by_text("line 4, Fully working: '1.240' can mean 1240 or 1.24")
    refused.wait_for()
    visit.shot(f"model-prices-refused-{size}")
    assert set(prices()) == {"Heron 3", "Heron 5"}
    tap(visit, 1, 3)
    type_price(visit, "1240")
    save(visit)
    told = prices()
    assert told["Otter"] == ModelPrice("Otter", 200.0, {}, 150.0, 50.0, 10.0, date(2026, 11, 1))
    assert told["Wren"] == ModelPrice("Wren", 1240.0, checked_on=date.today())
    visit.page.get_by_role("button", name="Undo last save").click()
    visit.idle(TITLE)
    assert set(prices()) == {"Heron 3", "Heron 5"}
    visit.full_shot(f"model-prices-{size}")
    main = visit.page.locator("[data-testid=stMain]")
    assert main.evaluate("e => e.scrollWidth <= e.clientWidth"), "wider than the screen"
    assert visit.outside == [] and visit.complaints == []
