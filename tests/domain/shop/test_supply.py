"""Which price of a part applies to a unit: shelf, model, tier, any; record before price book."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

import pytest

from triage.domain.shop.price_book import ModelPrice, PartPrice, PriceBook, Tier
from triage.domain.shop.settings import Settings, Tax
from triage.domain.shop.shelf import PriceFound, ShelfPart
from triage.domain.shop.supply import Supply

DAY, LATER = date(2026, 3, 2), date(2026, 4, 2)
SHOP = Settings("bench", "EUR")
BOOK = PriceBook(
    (Tier("upper", "Upper", 300, 100, 30), Tier("top", "Top", 600, 200, 60)),
    (PartPrice("display", {"upper": 70.0, "top": 150.0}), PartPrice("back-glass", {"upper": 15.0})),
    (ModelPrice("Heron 3", parts={"display": 99.0}),),
)


def note(cost, on=DAY, **more) -> PriceFound:
    return PriceFound("display", "usual source", cost, "EUR", on, **more)


def price(supply, model="", tier="upper", settings=SHOP):
    return supply.book_for(BOOK, settings, tier, model).price("display", tier, model)


def test_without_a_record_the_price_book_applies():
    assert Supply().book_for(BOOK, SHOP, "upper") is BOOK


@pytest.mark.parametrize(
    ("found", "model", "stands"),
    [
        ([note(6000)], "", 60.0),
        ([note(6000, tier="top")], "", 70.0),
        ([note(6000), note(6500, tier="upper")], "", 65.0),
        ([note(6500, tier="upper", on=LATER), note(6000, tier="upper")], "", 65.0),
        ([note(6500, tier="upper"), note(6600, tier="upper")], "", 66.0),
        ([note(6500, tier="upper")], "Heron 3", 99.0),
        ([note(6500, tier="upper"), note(8800, model="Heron 3")], "Heron 3", 88.0),
        ([note(8800, model="Heron 3")], "", 70.0),
        ([replace(note(6000), currency="SEK")], "", 70.0),
    ],
)
def test_the_closest_and_newest_price_applies(found, model, stands):
    assert price(Supply(tuple(found)), model) == stands


def test_tax_on_a_part_is_a_cost_only_where_it_does_not_come_back():
    supply = Supply((note(6000, tax_minor=1200),))
    assert price(supply) == 72.0
    # Common practice and published guidance: input tax on parts is recoverable in the normal way.
    for scheme in ("standard", "second-hand-margin"):
        assert price(supply, settings=replace(SHOP, tax=Tax(scheme, 0.2))) == 60.0


@pytest.mark.parametrize(
    ("more", "taken"),
    [
        ({"tested": True}, True),
        ({"tested": True, "tier": "upper"}, True),
        ({"tested": True, "tier": "top"}, False),
        ({"tested": True, "model": "Heron 4"}, False),
        ({"tested": False}, False),
        ({"tested": True, "paired": True}, False),
    ],
)
def test_a_usable_part_on_the_shelf_is_taken_first(more, taken):
    supply = Supply((note(6000),), (ShelfPart("display", 900, "EUR", **more),))
    book = supply.book_for(BOOK, SHOP, "upper")
    assert book.price("display", "upper") == (9.0 if taken else 60.0)
    assert book.entry("display").on_hand is taken


def test_a_noted_price_brings_its_lead_time_and_its_day():
    supply = Supply((note(6000, lead_low=1, lead_likely=2, lead_high=9, dead_on_arrival=0.1),))
    book = supply.book_for(BOOK, SHOP, "upper")
    entry = book.entry("display")
    assert (entry.lead_days, entry.dead_on_arrival, entry.checked_on) == ((1, 2, 9), 0.1, DAY)
    assert book.confirmed("display", "upper", LATER, 120)
    assert book.price("back-glass", "upper") == 15.0, "other parts keep the book's price"
