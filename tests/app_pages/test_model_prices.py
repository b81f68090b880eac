"""The model prices page: shown, imported, refused, undone, deleted; Device and Quote then use it."""

from __future__ import annotations

from datetime import date, timedelta

import pytest

from tests.app_pages.read_as_markup import read_as_markup
from triage.app_pages.shared.draft import Draft
from triage.app_pages.shared.pages import PAGES
from triage.domain.shop.price_book import ModelPrice
from triage.workflows.shop.own_models import keep_models, own_models, own_models_file

AGO = date.today() - timedelta(days=12)
HERON = ModelPrice("Heron 3", 310.0, {"display": 99.0}, checked_on=AGO, parts_checked_on={"display": AGO})
MARKUP = "A<b>x</b> $y$ :red[z] [l](http://w) `k`"
UNIT = """\
[device]
name = "tray 4"
tier = "middle"
model = "{model}"
[ownership]
lock = "clear"
identity = "agrees"
[[finding]]
kind = "back-glass-cracked"
"""


@pytest.fixture
def prices(page):
    """Open the page."""

    def opened():
        page.run()
        page.switch_page(str(PAGES["model_prices"])).run()
        assert not page.exception
        return page

    return opened


def said(page, *kinds):
    return "\n".join(e.value for kind in kinds for e in page.get(kind))


def paste(page, text, replace=False):
    page.text_area(key=key(page.text_area, "models-paste")).set_value(text)
    if replace:
        page.get("button_group")[0].set_value("Replace the whole list")
    page.button(key=key(page.button, "models-import")).click().run()
    assert not page.exception
    return page


def key(elements, start):
    """A form that was sent starts anew under another key."""
    return next(e.key for e in elements if e.key and e.key.startswith(start))


def test_without_prices_the_page_says_what_to_do_and_writes_nothing(prices):
    page = prices()
    assert "No model has its own prices yet" in said(page, "info")
    assert [len(grid.value) for grid in page.data_editor] == [0, 0]
    assert not own_models_file().exists()
    assert not [button for button in page.button if button.label == "Undo last save"]


def test_rows_of_a_spreadsheet_are_imported_and_shown_with_their_age(prices):
    day = (date.today() - timedelta(days=200)).isoformat()
    head = "Model\tItem\tPrice\tlead_shortest\tlead_usual\tlead_longest\tchecked_on\n"
    page = paste(
        prices(), f"{head}Heron 3\twhole device\t310,50\t\t\t\t{day}\nHeron 3\tBack glass\t15\t1\t2\t4\t\n"
    )
    assert said(page, "success") == "Prices imported: 2 added."
    (entry,) = own_models()
    assert (entry.working_price, entry.parts) == (310.5, {"back-glass": 15.0})
    devices, parts = (grid.value for grid in page.data_editor)
    assert devices[["model", "price", "age"]].values.tolist() == [["Heron 3", "310.50", "200 days, old"]]
    assert parts[["item", "lead_usual", "age"]].values.tolist() == [["back glass", "2", "no date"]]
    told = said(page, "markdown")
    assert "checked 200 days ago, older than your 120 days" in told and "Heron 3, back glass: no date" in told


def test_a_faulty_import_tells_every_fault_and_saves_nothing(prices):
    keep_models([HERON])
    before = own_models_file().read_bytes()
    page = paste(prices(), "model;item;price\nHeron 3;whole device;1.240\nHeron 3;dispaly;9\n")
    told = said(page, "error")
    assert "Nothing was saved" in told and "line 2, price" in told and "1240 or 1" in told
    assert "line 3, item" in told and "nearest known\\: display" in told
    assert own_models_file().read_bytes() == before


def test_an_import_adds_or_replaces_and_the_last_save_is_undone(prices):
    keep_models([HERON])
    other = "model,item,price\nOtter,whole device,80\n"
    page = paste(prices(), other)
    assert [entry.model for entry in own_models()] == ["Heron 3", "Otter"]
    paste(page, other, replace=True)
    assert said(page, "success") == "Prices imported: 2 deleted."
    assert [entry.model for entry in own_models()] == ["Otter"]
    page.button(key=key(page.button, "models-undo")).click().run()
    assert said(page, "success") == "Last save undone: 2 added."
    assert [entry.model for entry in own_models()] == ["Heron 3", "Otter"]


def test_a_model_is_deleted_with_all_its_prices(prices):
    keep_models([HERON, ModelPrice("Otter", 80.0)])
    page = prices()
    page.button(key=key(page.button, "models-delete-go")).click().run()
    assert said(page, "error") == "Choose a model." and len(own_models()) == 2
    page.selectbox(key="models-delete-which").set_value("Heron 3")
    page.button(key="models-delete-go").click().run()
    assert said(page, "success") == "Model deleted: 2 deleted."
    assert [entry.model for entry in own_models()] == ["Otter"]


def test_saving_a_table_nobody_changed_changes_no_price_and_no_day(prices):
    keep_models([HERON])
    before = own_models_file().read_bytes()
    page = prices()
    page.button(key="models-save").click().run()
    assert said(page, "success") == "Prices saved: no price changed."
    assert own_models_file().read_bytes() == before


def test_a_file_spoilt_by_hand_is_said_and_can_be_undone_there(prices):
    keep_models([HERON])
    keep_models([ModelPrice("Otter", 80.0)])
    own_models_file().write_text("model,item,price\nOtter,whole device,1.240\n")
    page = prices()
    assert "Your model prices cannot be used" in said(page, "error")
    page.button(key="models-undo").click().run()
    assert not page.exception and own_models() == (HERON,) and not said(page, "error")


def test_a_name_that_is_mark_up_stands_as_it_was_typed(prices, opened):
    keep_models([ModelPrice(MARKUP, 80.0)])
    told = read_as_markup(opened("model_prices"))
    assert "<b>x</b>" not in told and "A\\<b\\>x" in told


@pytest.mark.parametrize(
    ("model", "words"),
    [
        ("heron 3 ", "price of this model, checked 12 days ago"),
        ("Hern 3", "price class middle; Hern 3 is not in your price list; nearest: Heron 3"),
        ("", "price class middle"),
    ],
)
def test_device_and_quote_say_which_price_was_used(opened, keep, model, words):
    keep_models([HERON])
    id = keep(Draft(UNIT.format(model=model), walk_in=True))
    for name, label in (("device", "esale value by"), ("quote", "Prices used")):
        told = read_as_markup(opened(name, device=id)).replace("\\", "")
        assert f"{label}: {words}" in told, name
