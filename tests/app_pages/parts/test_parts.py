"""The parts page: a part price there stands in the next answer; an empty record teaches."""

from __future__ import annotations

from triage.app_pages.shared.pages import PAGES
from triage.domain.shop.shelf import ShelfPart
from triage.workflows.jobs.shelf import shelve

HOSTILE = "<b>x</b> $y$ [z](http://w)"


def update(page, part, status, turn=0):
    after = f"-{turn}" if turn else ""
    page.selectbox(key=f"parts-one-id{after}").set_value(part).run()
    page.segmented_control(key=f"parts-one-what-{part}{after}").set_value(status).run()


def opened(page):
    page.session_state["bench-hand"] = "Ada"
    page.run()
    return page.switch_page(str(PAGES["parts"])).run()


def test_an_empty_record_says_how_parts_come_here(page):
    opened(page)
    assert not page.exception
    assert "The shelf is empty" in page.info[0].value


def test_a_price_noted_stands_in_the_next_answer(page, record):
    opened(page)
    page.button(key="parts-price-go").click().run()
    assert "Enter part and cost" in page.error[0].value
    page.selectbox(key="parts-price-part").set_value("display")
    page.text_input(key="parts-price-source").set_value(HOSTILE)
    page.number_input(key="parts-price-cost").set_value(12.5)
    page.number_input(key="parts-price-dead").set_value(1.0)
    page.button(key="parts-price-go").click().run()
    assert not page.exception and not page.error
    with record.reading() as reading:
        (note,) = reading.prices_found()
    assert (note.by, note.record.cost_minor, note.record.dead_on_arrival) == ("Ada", 1250, 0.05)
    assert page.dataframe[0].value["cost"].tolist() == ["€12.50"]


def test_a_part_put_on_the_shelf_is_tested_there(page, record):
    opened(page)
    page.selectbox(key="parts-shelve-part").set_value("display")
    page.number_input(key="parts-shelve-cost").set_value(9.0)
    page.button(key="parts-shelve-go").click().run()
    assert page.dataframe[0].value[["status", "tested"]].values.tolist() == [["on hand", "no"]]
    with record.reading() as reading:
        (part,) = reading.shelf()
    update(page, part.id, "tested", 1)
    page.text_input(key=f"parts-one-how-{part.id}-1").set_value("lit up on the test board")
    page.button(key="parts-one-go-1").click().run()
    assert not page.exception and not page.error
    assert page.dataframe[0].value["tested"].tolist() == ["yes"]
    # Each act starts the forms anew: nothing typed stays.
    update(page, part.id, "tested", 2)
    assert page.text_input(key=f"parts-one-how-{part.id}-2").value == ""


def test_a_note_typed_for_one_part_is_not_there_for_the_next(page, record):
    for part in ("display", "torch"):
        shelve(record, "ada", ShelfPart(part, 900, "EUR", tier="upper"))
    with record.reading() as reading:
        first, second = (kept.id for kept in reading.shelf())
    opened(page)
    update(page, first, "scrapped")
    page.text_input(key=f"parts-one-note-{first}").set_value("cracked by Ada").run()
    update(page, second, "scrapped")
    assert page.text_input(key=f"parts-one-note-{second}").value == ""
    assert not [box for box in page.text_input if box.value == "cracked by Ada"]


def test_a_part_is_sold_and_comes_back(page, record):
    shelve(record, "ada", ShelfPart("display", 900, "EUR", tier="upper"))
    with record.reading() as reading:
        (part,) = reading.shelf()
    opened(page)
    update(page, part.id, "sold")
    page.button(key="parts-one-go").click().run()
    assert "Enter price and day" in page.error[0].value
    page.number_input(key=f"parts-one-price-{part.id}").set_value(35.0)
    page.button(key="parts-one-go").click().run()
    assert "enter the buyer" in page.error[0].value
    page.text_input(key=f"parts-one-buyer-{part.id}").set_value(HOSTILE)
    page.number_input(key=f"parts-one-fees-{part.id}").set_value(3.5)
    page.button(key="parts-one-go").click().run()
    assert not page.exception and not page.error
    (sold,) = page.dataframe[0].value[["price", "fees", "share of cost", "buyer", "returned"]].values.tolist()
    assert sold == ["€35.00", "€3.50", "€9.00", HOSTILE, "no"]
    with record.reading() as reading:
        (sale,) = reading.parts_left()
    assert sale.by == "Ada"
    page.selectbox(key="parts-back-id-1").set_value(sale.id).run()
    page.segmented_control(key=f"parts-back-to-{sale.id}-1").set_value("shelf")
    page.button(key="parts-back-go-1").click().run()
    assert not page.exception and not page.error
    shelf, told = page.dataframe[0].value, page.dataframe[1].value
    assert shelf["status"].tolist() == ["on hand"]
    assert told["returned"].tolist() == ["back on the shelf, refund €35.00"]
    page.selectbox(key="parts-erase-id-2").set_value(sale.id)
    page.button(key="parts-erase-go-2").click().run()
    assert page.dataframe[1].value["buyer"].tolist() == [""]


def test_a_second_press_that_stopped_the_first_run_writes_nothing_more(page, record):
    opened(page)
    for _ in range(2):
        page.selectbox(key="parts-shelve-part").set_value("display")
        page.number_input(key="parts-shelve-cost").set_value(9.0)
        page.button(key="parts-shelve-go").click().run()
        page.session_state["parts-turn"] = 0  # the first run wrote, and was stopped before it went on
        page.run()
    with record.reading() as reading:
        assert len(reading.shelf()) == 1
