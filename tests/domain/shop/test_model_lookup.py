"""Which price applies: the model's before the price class, table and record by day; an old one says so."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from triage.domain.shop.model_names import model_key, nearest_model, same_model
from triage.domain.shop.price_book import UNKNOWN_LEAD_DAYS, ModelPrice, PartPrice, PriceBook, Tier
from triage.domain.shop.price_origin import price_origin
from triage.domain.shop.settings import Settings
from triage.domain.shop.shelf import PriceFound, ShelfPart
from triage.domain.shop.supply import Supply
from triage.reports.wording.prices import lot_origin_words, origin_words, short_origin

DAY, TODAY = date(2026, 11, 1), date(2026, 11, 25)
SHOP = Settings("bench", "EUR")
TIERS = (Tier("middle", "Middle", 300, 100, 30), Tier("top", "Top", 600, 200, 60))
PARTS = (
    PartPrice("display", {"middle": 70.0, "top": 150.0}, "new", 0.1, (1.0, 2.0, 3.0), checked_on=DAY),
    PartPrice("battery", {"middle": 12.0}, checked_on=DAY),
)
HERON = ModelPrice(
    "Heron 3", 310.0, {"display": 99.0, "torch": 4.0}, 250.0, None, 25.0, date(2026, 11, 13),
    {"display": (4.0, 5.0, 6.0)}, {"display": date(2026, 5, 1)},
)  # fmt: skip
OTTER = ModelPrice("Otter", parts={"display": 80.0})
BOOK = PriceBook(TIERS, PARTS, (HERON, OTTER))


# -- precedence, as a property --------------------------------------------------------
price = st.none() | st.integers(1, 900).map(float)
part = st.none() | st.integers(1, 200).map(float)


@given(price, price, price, price, part, part, st.sampled_from(["middle", "top"]), st.booleans())
def test_a_model_s_own_figure_applies_and_the_class_s_where_it_has_none(
    working, good, broken, other, own, of_class, tier, panel_broken
):
    """Against the rule written out: own figure, else the class's, whatever another model has."""
    ours = ModelPrice(
        "Heron 3", working, {} if own is None else {"display": own}, None, good, broken,
    )  # fmt: skip
    another = ModelPrice("Heron 4", other, {"display": 1.0})
    parts = () if of_class is None else (PartPrice("display", {tier: of_class}),)
    book, told = PriceBook(TIERS, parts, (another, ours)), {entry.slug: entry for entry in TIERS}[tier]
    for name in ("Heron 3", "  HERON 3 "):
        assert book.working_price(tier, name) == (told.working_price if working is None else working)
        stated, theirs = (
            (broken, told.parts_value_broken_panel) if panel_broken else (good, told.parts_value_good_panel)
        )
        assert book.parts_value(tier, name, panel_broken) == (theirs if stated is None else stated)
        assert book.price("display", tier, name) == (of_class if own is None else own)
        assert price_origin(book, tier, name, False).kind == ("class" if working is None else "model")
    for name in ("", " ", "Heron"):
        assert book.working_price(tier, name) == told.working_price
        assert book.price("display", tier, name) == of_class


@given(
    st.lists(
        st.tuples(st.integers(0, 60), st.sampled_from(["", "Heron 3", "heron 3 ", "Otter"])), max_size=6
    ),
    st.none() | st.integers(0, 60),
)
def test_of_table_and_record_the_newest_price_of_the_model_applies(notes, table_day):
    """Against the rule written out: newest note for the model; the table's unless a note is as new."""
    own = ModelPrice(
        "Heron 3", parts={"display": 99.0},
        parts_checked_on={} if table_day is None else {"display": DAY + timedelta(table_day)},
    )  # fmt: skip
    found = tuple(
        PriceFound("display", "x", 1000 + place, "EUR", DAY + timedelta(after), model=name)
        for place, (after, name) in enumerate(notes)
    )
    book = Supply(found).book_for(PriceBook(TIERS, PARTS, (own, OTTER)), SHOP, "middle", "Heron 3")
    ours = [(after, place) for place, (after, name) in enumerate(notes) if same_model(name, "Heron 3")]
    newest = max(ours, default=None)
    from_note = newest is not None and (table_day is None or newest[0] >= table_day)
    assert book.price("display", "middle", "Heron 3") == (10.0 + newest[1] / 100 if from_note else 99.0)


@given(st.text(max_size=20), st.text(" \t\n\u00a0", max_size=3), st.text(" \t", max_size=3))
def test_blanks_around_a_name_do_not_count_and_a_key_is_its_own_key(name, before, after):
    assert model_key(before + name + after) == model_key(name)
    assert model_key(model_key(name)) == model_key(name)


@pytest.mark.parametrize(
    ("one", "other", "same"),
    [
        ("Heron 3", "hERON 3", True),
        ("Straße", "STRASSE", True),
        ("Hero\u0301n", "HERÓN", True),
        ("Heron 3", "Heron  3", False),
        ("Heron 3", "Heron", False),
        ("", "", False),
        ("", " ", False),
    ],
)
def test_case_and_blanks_around_do_not_count_and_nothing_else_is_ignored(one, other, same):
    assert same_model(one, other) is same


# -- a part as it applies to a model --------------------------------------------------
def test_a_part_of_a_model_has_its_own_price_lead_time_and_day_and_the_class_s_grade():
    entry = BOOK.supplied("display", "top", "heron 3")
    assert (entry.price["top"], entry.lead_days) == (99.0, (4.0, 5.0, 6.0))
    assert (entry.checked_on, entry.grade, entry.dead_on_arrival) == (date(2026, 5, 1), "new", 0.1)
    # What the model does not say is the part's own: here the day.
    assert BOOK.supplied("display", "top", "Otter").checked_on == DAY
    torch = BOOK.supplied("torch", "top", "Heron 3")
    assert (torch.price, torch.lead_days, torch.checked_on) == ({"top": 4.0}, UNKNOWN_LEAD_DAYS, None)
    assert BOOK.supplied("torch", "top", "Otter") is None


def test_an_old_price_of_a_model_is_not_confirmed_though_the_class_s_is_fresh():
    assert BOOK.confirmed("display", "top", TODAY, 120)
    assert not BOOK.confirmed("display", "top", TODAY, 120, "Heron 3")
    assert BOOK.confirmed("display", "top", TODAY, 208, "Heron 3")
    assert not BOOK.confirmed("torch", "top", TODAY, 3650, "Heron 3")


def test_own_prices_outrank_a_file_s_figure_by_figure():
    file = PriceBook(TIERS, PARTS, (replace(HERON, model="HERON 3"), OTTER))
    own = ModelPrice("heron 3", 333.0, {"battery": 9.0}, checked_on=TODAY)
    (first, second) = file.with_models([own, ModelPrice("Wren", 50.0)]).model[:2]
    assert (first.working_price, first.limited_price, first.checked_on) == (333.0, 250.0, TODAY)
    assert first.parts == {"display": 99.0, "torch": 4.0, "battery": 9.0}
    assert second == OTTER and file.with_models(()) == file


def test_the_share_of_a_lost_function_is_the_model_s_own_where_it_has_one():
    assert BOOK.limited_share(" heron 3") == 250 / 310
    assert BOOK.limited_share("Otter") is None and BOOK.limited_share("") is None


# -- the shelf ------------------------------------------------------------------------
@pytest.mark.parametrize(
    ("fits", "unit", "taken"),
    [
        ({"model": "Heron 3", "tier": "middle"}, "heron 3 ", True),
        ({"model": "Heron 3", "tier": "middle"}, "Heron 4", False),  # same class, another model
        ({"model": "Heron 3", "tier": "middle"}, "", False),  # same class, model not known
        ({"model": "Heron 3; Heron 4"}, "HERON 4", True),
        ({"model": "Heron 3;"}, "", False),
        ({"tier": "middle"}, "Heron 4", True),  # what the shop says
        ({"tier": "top"}, "Heron 4", False),
        ({}, "Heron 4", True),
    ],
)
def test_a_shelf_part_fits_its_models_and_a_class_only_where_no_model_is_named(fits, unit, taken):
    shelf = (ShelfPart("display", 500, "EUR", 7, tested=True, **fits),)
    price = Supply(shelf=shelf).book_for(BOOK, SHOP, "middle", unit).price("display", "middle", unit)
    assert (price == 5.0) is taken


# -- in words -------------------------------------------------------------------------
@pytest.mark.parametrize(
    ("model", "entered", "words", "short"),
    [
        ("", False, "price class middle", "price class"),
        ("heron 3", False, "price of this model, checked 12 days ago", "model"),
        ("Otter", False, "price class middle; only parts are priced by model", "price class"),
        ("Heron 3", True, "resale value entered for this device; parts by this model", "entered"),
        ("", True, "resale value entered for this device; parts by price class middle", "entered"),
        (" Hern 3", False, "price class middle; Hern 3 is not in your price list; nearest: Heron 3",
         "price class, model not in list"),
        ("Zz", False, "price class middle; Zz is not in your price list", "price class, model not in list"),
    ],
)  # fmt: skip
def test_what_was_used_is_said_in_a_few_words(model, entered, words, short):
    origin = price_origin(BOOK, "middle", model, entered)
    assert (origin_words(origin, TODAY, 120), short_origin(origin, TODAY, 120)) == (words, short)


@pytest.mark.parametrize(
    ("day", "words", "short"),
    [
        (TODAY, "price of this model, checked today", "model"),
        (date(2026, 11, 24), "price of this model, checked 1 day ago", "model"),
        (date(2026, 7, 28), "price of this model, checked 120 days ago", "model"),
        (date(2026, 7, 27), "price of this model, checked 121 days ago, older than your 120 days",
         "model, 121 days old"),
        (None, "price of this model, no date", "model, no date"),
    ],
)  # fmt: skip
def test_an_old_price_shows_its_age(day, words, short):
    origin = price_origin(replace(BOOK, model=(replace(HERON, checked_on=day),)), "middle", "Heron 3", False)
    assert (origin_words(origin, TODAY, 120), short_origin(origin, TODAY, 120)) == (words, short)


def test_a_lot_is_told_by_what_its_devices_were_priced():
    cells = ["model", "model, 121 days old", "price class", "price class, model not in list", "entered", ""]
    assert lot_origin_words(cells) == (
        "Resale value: 2 by model (1 old or without date), 2 by price class (1 of a model not in your "
        "price list), 1 entered."
    )
    assert lot_origin_words(["price class", "entered"]) == lot_origin_words([]) == ""


def test_the_nearest_name_is_the_shop_s_own_spelling():
    assert nearest_model("heron3", ["Otter", "HERON 3"]) == "HERON 3" and nearest_model("Zz", ["Otter"]) == ""
