"""The quote page driven without a browser: kinds, own prices, refusals, the document."""

from __future__ import annotations

import re

import pytest

from triage.app_pages.shared.draft import Draft
from triage.app_pages.shared.literal import literal
from triage.app_pages.shared.pages import PAGES
from triage.domain.documents import parse_toml
from triage.domain.money import money_text
from triage.domain.units.unit_file import unit_from
from triage.errors import DocumentError, UnitFileError
from triage.workflows.answers.quote import quote_unit
from triage.workflows.shop.shop import open_shop

OWNERS = Draft(
    """\
[device]
name = "Handset of the ferry's mate"
tier = "upper"
battery = "sound"

[ownership]
lock = "locked-to-owner"
proof_recorded = true

[[finding]]
kind = "display-panel-dead"
severity = 2

[[finding]]
kind = "antenna-flex-torn"
chance = "8 in 20"
""",
    walk_in=True,
)
REFUSED = Draft(OWNERS.toml.replace("locked-to-owner", "locked-to-another"), walk_in=True)


@pytest.fixture
def page(page, keep):
    page.query_params["device"] = keep(OWNERS)
    return page


def opened(page, id=""):
    if id:
        page.query_params["device"] = id
    page.run()
    page.switch_page(str(PAGES["quote"])).run()
    assert not page.exception
    return page


def widget(page, kind, name):
    (found,) = [w for w in page.get(kind) if w.key and w.key.endswith(f"-{name}")]
    return found


def numbers(page):
    return {metric.label: metric.value for metric in page.metric}


def text(page):
    kinds = ("title", "subheader", "markdown", "caption", "warning", "error", "info")
    return "\n".join(element.value for kind in kinds for element in page.get(kind))


def told(kind="fixed", price=None):
    shop = open_shop()
    unit = unit_from(parse_toml(OWNERS.toml, "unit", UnitFileError), shop.catalogue, shop.prices)
    return quote_unit(unit, shop, kind, price)


def test_the_page_says_what_the_function_says(page):
    opened(page)
    quote = told()
    assert numbers(page) == {
        "Quote": money_text(quote.offer.price, "EUR"),
        "Expected margin": money_text(quote.bench.expected_margin, "EUR", whole=True),
        "Risk of loss": f"{quote.bench.losses_in_20} in 20",
    }
    assert "Quote" in text(page) and "Invented demo shop" in text(page)
    assert widget(page, "text_input", "number").placeholder == quote.number


def test_another_price_shows_what_it_does(page):
    opened(page)
    least = told().offer.price
    widget(page, "number_input", "price").set_value(round(least + 100, 2)).run()
    dearer = told(price=round(least + 100, 2))
    assert numbers(page)["Quote"] == money_text(least + 100, "EUR")
    assert numbers(page)["Expected margin"] == money_text(dearer.bench.expected_margin, "EUR", whole=True)
    assert not page.error
    widget(page, "number_input", "price").set_value(5.0).run()
    assert any("BELOW COST" in error.value for error in page.error)
    assert numbers(page)["Expected margin"].startswith("−")


def test_stages_are_listed_with_their_maximum(page):
    opened(page)
    widget(page, "selectbox", "kind").set_value("staged").run()
    assert not page.exception
    said = text(page)
    for stage in ("At the counter", "After opening", "With the board out"):
        assert stage in said
    assert said.count("limit") == 2


def test_a_device_locked_to_another_gets_no_quote(page, keep):
    opened(page, keep(REFUSED))
    assert any(
        literal("its activation lock belongs to somebody who is not here") in error.value
        for error in page.error
    )
    assert not page.metric and not page.get("download_button")


def test_both_documents_are_offered_and_the_number_names_them(page):
    opened(page)
    widget(page, "text_input", "number").set_value("Ostrel / 7").run()
    assert not page.exception
    labels = [button.label for button in page.get("download_button")]
    assert labels == ["Download PDF", "Download web page"]


def test_a_name_that_no_font_has_leaves_the_web_page(page, monkeypatch):
    def refuse(letter):
        raise DocumentError("the PDF cannot show \U00013080: no font on this machine has it")

    monkeypatch.setattr("triage.app_pages.quote.document.quote_pdf", refuse)
    opened(page)
    assert any("no font on this machine" in error.value for error in page.error)
    assert [button.label for button in page.get("download_button")] == ["Download web page"]


def test_the_device_page_links_here_for_an_owner_s_device_only(page, keep):
    page.run()
    assert "Open the quote" in [element.proto.label for element in page.get("page_link")]
    page.query_params["device"] = keep(Draft(OWNERS.toml, ask=20.0))
    page.run()
    assert "Open the quote" not in [element.proto.label for element in page.get("page_link")]


def test_bench_words_only(page):
    opened(page)
    said = text(page).lower()
    for word in ("posterior", "prior", "pooling", "hazard rate", "shortfall", "quantile", "percentile"):
        assert not re.search(rf"\b{word}\b", said), word
