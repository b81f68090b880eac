"""Stripping on the job page: parts as taps, minutes, open orders with their sum, fit, and the job's money."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta

import pytest

from tests.app_pages.jobs.test_jobs import job_page, part, text, widget
from triage.domain.job.records import FoundDamage, Intake, PartOrdered
from triage.workflows.jobs.intake import consider, found_damage, take
from triage.workflows.jobs.parts import order_part
from triage.workflows.jobs.record_keeper import RecordKeeper
from triage.workflows.shop.own_settings import keep_settings
from triage.workflows.shop.shop import open_shop

DAY = date.today()
WRECK = """\
[device]
name = "grey wreck"
tier = "middle"
{model}
battery = "sound"

[ownership]
lock = "clear"
identity = "agrees"

[[finding]]
kind = "back-glass-cracked"
"""


@pytest.fixture
def keeper(record):
    return RecordKeeper(record, open_shop(), "Ben")


def wreck(keeper, model='model = "Heron 3"'):
    told = Intake(DAY, WRECK.format(model=model), battery_looked_at=True)
    file = consider(keeper, told, "bought")
    return take(keeper, file.id, file.version, DAY, 4000)


def opened(page, job):
    page.session_state["bench-hand"] = "Ada"
    job_page(page, str(job))
    part(page, "end")
    page.session_state[f"job-{job}-0-strip-fold"] = True
    page.run()
    assert not page.exception
    return page


def tap(page, *parts):
    widget(page, "button_group", "strip-parts").set_value(list(parts)).run()
    assert not page.exception


def shelf(keeper):
    with keeper.ledger.reading() as reading:
        return [kept.record for kept in reading.shelf()]


def test_parts_are_tapped_minutes_are_asked_and_the_shelf_knows_what_fits(page, keeper):
    job = wreck(keeper)
    opened(page, job.id)
    tap(page, "display", "main-board", "back-glass")
    widget(page, "button", "strip-go").click().run()
    assert "Enter the minutes" in page.error[0].value
    widget(page, "number_input", "strip-minutes").set_value(35.0)
    # The price book knows no price of a board, and none of what is broken.
    widget(page, "button", "strip-go").click().run()
    assert "what each part is worth" in page.error[0].value
    widget(page, "checkbox", "strip-display-tested").check().run()
    widget(page, "number_input", "strip-display-worth-True").set_value(60.0)
    widget(page, "number_input", "strip-main-board-worth-False").set_value(18.0)
    widget(page, "number_input", "strip-back-glass-worth-False").set_value(2.0)
    assert not [box for box in page.checkbox if box.key.endswith("strip-back-glass-tested")]
    widget(page, "button", "strip-go").click().run()
    assert not page.exception and not page.error
    parts = {part.part: part for part in shelf(keeper)}
    assert {(part.model, part.tier) for part in parts.values()} == {("Heron 3", "")}
    assert [part.tested for part in parts.values()] == [True, False, False]
    # 40.00 by 60, 18 and 2.
    assert [part.cost_minor for part in parts.values()] == [3000, 900, 100]
    with keeper.ledger.reading() as reading:
        move = reading.job(job.id).moves[-1].record
    assert (move.state, move.minutes, move.worth_minor) == ("stripped", 35.0, 8000)
    part(page, "money")
    money = page.dataframe[0].value
    assert money.values.tolist() == [
        ["Purchase", "−€40.00"],
        ["Parts on the shelf or in other jobs, at cost", "€40.00"],
        ["Left before bench time", "€0.00"],
    ]


def test_open_orders_are_named_with_their_sum_and_decided(page, keeper):
    job = wreck(keeper)
    order = PartOrdered("display", "usual source", 15000, 500)
    job = order_part(keeper, job.id, job.version, order)
    opened(page, job.id)
    assert "not fitted: €155.00" in text(page).replace("\\", "")
    widget(page, "number_input", "strip-minutes").set_value(10.0)
    widget(page, "button", "strip-go").click().run()
    assert "choose what happens to the display" in page.error[0].value
    box = widget(page, "selectbox", f"strip-order-{job.orders[0].id}")
    assert box.options == ["cancelled, money back", "keep for the shelf"]
    box.set_value("cancelled").run()
    widget(page, "button", "strip-go").click().run()
    assert not page.exception and not page.error
    with keeper.ledger.reading() as reading:
        (fate,) = reading.job(job.id).fates
    assert (fate.record.fate, fate.record.refund_minor) == ("cancelled", 15500)


def test_a_device_without_a_model_asks_what_the_parts_fit(page, keeper):
    job = wreck(keeper, "")
    opened(page, job.id)
    tap(page, "torch")
    widget(page, "number_input", "strip-minutes").set_value(10.0)
    widget(page, "number_input", "strip-torch-worth-False").set_value(3.0)
    widget(page, "button", "strip-go").click().run()
    assert "which model the parts fit" in page.error[0].value
    widget(page, "checkbox", "strip-class").check().run()
    widget(page, "button", "strip-go").click().run()
    assert [(part.tier, part.model) for part in shelf(keeper)] == [("middle", "")]


def test_a_battery_that_is_not_known_to_be_good_is_not_offered(page, keeper):
    job = wreck(keeper)
    opened(page, job.id)
    assert "battery" in widget(page, "button_group", "strip-parts").options
    found_damage(keeper, job.id, job.version, FoundDamage("cell-bent", known_at="opening"))
    opened(page, job.id)
    assert "battery" not in widget(page, "button_group", "strip-parts").options
    assert "Battery: a dangerous battery never goes on the shelf" in text(page)


def test_a_holding_period_is_said_with_its_last_day(page, keeper):
    keep_settings({"hold_days": 14})
    until = DAY + timedelta(days=14)
    job = wreck(replace(keeper, shop=open_shop()))
    opened(page, job.id)
    assert f"ends on {until:%d %b %Y}" in text(page)
    assert not [button for button in page.button if button.key.endswith("strip-go")]
