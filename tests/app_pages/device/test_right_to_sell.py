"""The device page tells what is open of the right to sell, and the answer follows what is entered of it."""

from __future__ import annotations

from dataclasses import replace

from tests.app_pages.device.test_device import numbers, opened, text, verdict, widget
from triage.app_pages.shared.current_device import read
from triage.app_pages.shared.draft import DEMO
from triage.domain.money import money_text
from triage.policy.problem.open_right import Topic
from triage.reports.wording.right_to_sell import TITLE
from triage.workflows.answers.assess import assess
from triage.workflows.shop.shop import open_shop

ASK = 40.0


def told(page):
    """Rows of the table, a list of cells each; none where it is not shown."""
    tables = [mark.value for mark in page.markdown if mark.value.startswith("| Question")]
    rows = [row.strip("|").split("|") for row in "".join(tables).splitlines()[2:]]
    return [[row[0].split("**")[1], *(cell.strip().replace("\\", "") for cell in row[1:])] for row in rows]


def test_the_table_is_there_while_something_is_open_and_only_then(page, keep):
    page = opened(page, keep(replace(DEMO, ask=ASK)))
    assert not told(page) and TITLE not in text(page)
    widget(page, "selectbox", "identity").set_value("not-checked").run()
    widget(page, "selectbox", "source").set_value("trade-seller").run()
    assert not page.exception
    widget(page, "button", "go").click().run()
    assert verdict(page) == "check first"
    rows = told(page)
    assert [row[0] for row in rows] == ["Block list", "Management, finance", "Listed later"]
    assert "90 % of the price" in text(page) and "Local law decides" in text(page)

    # The figures are those of the same device answered beside the page.
    shop = open_shop()
    unit = page_unit(shop, page)
    answer = assess(unit, shop, ASK)
    assert numbers(page)["Highest price"] == money_text(answer.limit, "EUR")
    worth = {row.topic: row.worth for row in answer.right.questions}
    shown: dict[Topic, str] = dict(zip(worth, (row[3] for row in rows), strict=True))
    assert shown == {t: "" if w is None else money_text(w, "EUR") for t, w in worth.items()}

    # Settled, all of it is gone but what nobody can settle; and an owner's device knows none of it.
    widget(page, "selectbox", "identity").set_value("agrees").run()
    widget(page, "selectbox", "enrolled").set_value("clear").run()
    widget(page, "button", "go").click().run()
    assert [row[0] for row in told(page)] == ["Listed later"]


def page_unit(shop, page):
    """The device that the page's draft describes."""
    unit, refusal = read(page.session_state["device-draft"], shop)
    assert refusal is None
    return unit
