"""The parts page: a part price there stands in the next answer; an empty record teaches."""

from __future__ import annotations

from triage.app_pages.shared.pages import PAGES

HOSTILE = "<b>x</b> $y$ [z](http://w)"


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
    # Each act starts the forms anew: nothing typed stays for the next part.
    page.selectbox(key="parts-one-id-1").set_value(part.id)
    page.get("button_group")[0].set_value("tested")
    page.text_input(key="parts-one-how-1").set_value("lit up on the test board")
    page.button(key="parts-one-go-1").click().run()
    assert not page.exception and not page.error
    assert page.dataframe[0].value["tested"].tolist() == ["yes"]
    assert page.text_input(key="parts-one-how-2").value == ""


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
