"""The price book: which price applies, when it is confirmed, and what is refused."""

from datetime import date
from pathlib import Path

import pytest

from triage.domain.catalogue import load_catalogue
from triage.domain.shop.price_book import ModelPrice, PartPrice, PriceBook, Tier, load_price_book
from triage.domain.shop.settings import load_settings
from triage.errors import SettingsError

MODELS = Path(__file__).parents[3] / "models"
BOOK = PriceBook(
    tier=(Tier("budget", "Budget", 70, 22, 7), Tier("top", "Top", 620, 215, 65)),
    part=(
        PartPrice("display", {"budget": 16.0, "top": 155.0}, checked_on=date(2026, 11, 1)),
        PartPrice("battery", {"budget": 7.0}),
    ),
    model=(ModelPrice("invented one", 540.0, {"display": 120.0, "torch": 3.0}), ModelPrice("invented two")),
)

BAD = """\
[[tier]]
slug = "budget"
name = "Budget"
working_price = -70
parts_value_good_panel = 22
parts_value_broken_panel = 7

[[tier]]
slug = "budget"
name = "Budget again"
working_price = 70
parts_value_good_panel = 22

[[part]]
part = "display"
price = { budgt = 16 }
dead_on_arrival = 1.5
lead_days = [3, 2, 1]

[[part]]
part = "display"
checked_on = "yesterday"
colour = "black"

[part.price]
budget = "16"
top = 3
"""


def write(folder, text):
    path = folder / "prices.toml"
    path.write_text(text, encoding="utf-8")
    return path


def faults_of(path, load=load_price_book):
    with pytest.raises(SettingsError) as problem:
        load(path)
    return problem.value.faults


@pytest.mark.parametrize(
    ("part", "tier", "model", "price"),
    [
        ("display", "top", "", 155.0),
        ("display", "top", "invented one", 120.0),
        ("display", "top", "invented two", 155.0),
        ("display", "top", "never heard of", 155.0),
        ("torch", "top", "invented one", 3.0),
        ("torch", "top", "", None),
        ("battery", "top", "", None),
        ("battery", "budget", "", 7.0),
    ],
)
def test_a_model_price_overrides_the_tier_and_none_means_unknown(part, tier, model, price):
    assert BOOK.price(part, tier, model) == price


def test_the_working_price_follows_the_model_then_the_tier():
    assert [BOOK.working_price("top", model) for model in ("", "invented one", "invented two")] == [
        620,
        540,
        620,
    ]
    assert list(BOOK.tiers()) == ["budget", "top"]


@pytest.mark.parametrize(
    ("part", "tier", "today", "confirmed"),
    [
        ("display", "top", date(2026, 11, 1), True),
        ("display", "top", date(2027, 3, 1), True),  # 120 days on
        ("display", "top", date(2027, 3, 2), False),  # 121 days on
        ("battery", "budget", date(2026, 11, 1), False),  # priced, never dated
        ("torch", "top", date(2026, 11, 1), False),  # not in the book
    ],
)
def test_a_price_is_confirmed_while_it_is_fresh(part, tier, today, confirmed):
    assert BOOK.confirmed(part, tier, today, age_days=120) is confirmed


def test_all_faults_are_reported_together_with_their_lines(tmp_path):
    assert [(fault.line, fault.field, fault.wrong) for fault in faults_of(write(tmp_path, BAD))] == [
        (4, "tier 1, working_price", "-70 is not accepted"),
        (8, "tier 2, parts_value_broken_panel", "is missing"),
        (9, "tier 2, slug", "'budget' is given twice"),
        (
            16,
            "part 1, price, budgt",
            "'budgt' is not a price class of this price book; nearest known: budget",
        ),
        (17, "part 1, dead_on_arrival", "1.5 is not accepted"),
        (18, "part 1, lead_days", "[3, 2, 1] is not accepted"),
        (21, "part 2, part", "'display' is given twice"),
        (22, "part 2, checked_on", "'yesterday' is not accepted"),
        (23, "part 2, colour", "is not a known field"),
        (26, "part 2, price, budget", "'16' is not accepted"),
        (27, "part 2, price, top", "'top' is not a price class of this price book"),
    ]


@pytest.mark.parametrize("days", ["[-1, 0, 1]", "[0, 1]", "[1, nan, 3]", "5", '["1", "2", "3"]'])
def test_lead_days_are_three_days_in_order(tmp_path, days):
    tier = BAD[BAD.index("[[tier]]", 1) : BAD.index("[[part]]")] + "parts_value_broken_panel = 7\n"
    text = f'{tier}[[part]]\npart = "display"\nprice = {{}}\nlead_days = {days}\n'
    found = faults_of(write(tmp_path, text))
    assert found and all(fault.field.startswith("part 1, lead_days") for fault in found)


def test_a_book_needs_a_tier(tmp_path):
    (fault,) = faults_of(write(tmp_path, "tier = []\n"))
    assert (fault.line, fault.wrong, fault.allowed) == (1, "no price class", "at least one [[tier]]")


def test_the_demo_book_prices_every_part_in_every_tier():
    book, catalogue = load_price_book(MODELS / "shop" / "demo-prices.toml"), load_catalogue()
    assert list(book.tiers()) == ["budget", "middle", "upper", "top"]
    # A main board, the cameras as a set and the rest as a bundle come out of wrecks and are never bought.
    assert {entry.part for entry in book.part} == set(catalogue.parts) - {"main-board", "cameras", "rest"}
    assert all(set(entry.price) == set(book.tiers()) and entry.grade for entry in book.part)
    assert all(abs((entry.checked_on - date(2026, 11, 1)).days) <= 14 for entry in book.part)


def test_the_demo_is_labelled_invented_and_higher_tiers_cost_more():
    book = load_price_book(MODELS / "shop" / "demo-prices.toml")
    settings = load_settings(MODELS / "shop" / "demo-settings.toml")
    assert book.note.startswith("Invented for the demo") and settings.note.startswith("Invented for the demo")
    for entry in book.part:
        prices = list(entry.price.values())
        assert prices == sorted(prices)
    for tier in book.tier:
        assert tier.parts_value_broken_panel < tier.parts_value_good_panel < tier.working_price


SETTINGS = """\
shop = "a bench"
currency = "eur"
bench_rate = -1

[go_rule]
losses_in_20 = 21

[tax]
scheme = "second-hand-margn"
rate = 20

[fee]
disposal = 1
"""


def test_bad_settings_are_refused_all_at_once(tmp_path):
    found = faults_of(write(tmp_path, SETTINGS), load_settings)
    assert [(fault.line, fault.field, fault.wrong) for fault in found] == [
        (2, "currency", "'eur' is not accepted"),
        (3, "bench_rate", "-1 is not accepted"),
        (6, "go_rule, losses_in_20", "21 is not accepted"),
        (9, "tax, scheme", "'second-hand-margn' is not accepted; nearest known: second-hand-margin"),
        (10, "tax, rate", "20 is not accepted"),
        (12, "fee", "is not a known field; nearest known: fees"),
    ]
    assert found[0].allowed == 'a three-letter currency code, such as "EUR"'


WITH_YIELDS = """\
[[tier]]
slug = "top"
name = "Top"
working_price = 620
parts_value_good_panel = 215
parts_value_broken_panel = 65

[[tier.yields]]
part = "display"
price = 150
spread = 0.3
minutes = 12
weeks = 2

[[tier.yields]]
part = "main-board"
price = 200
access = "board-out"

[[model]]
model = "invented one"

[[model.yields]]
part = "display"
price = 90
donor = true
"""


def test_a_models_parts_outrank_those_of_its_tier(tmp_path):
    book = load_price_book(write(tmp_path, WITH_YIELDS))
    assert [(part.part, part.price) for part in book.yields("top")] == [("display", 150), ("main-board", 200)]
    assert [(part.price, part.donor) for part in book.yields("top", "invented one")] == [(90, True)]
    assert book.yields("top", "never heard of") == book.yields("top")
    assert BOOK.yields("top") == () == BOOK.yields("top", "invented one")


@pytest.mark.parametrize(
    "wrong, line, where",
    [
        (("price = 150", "price = -1"), 10, "tier 1, yields 1, price"),
        (('part = "display"\nprice = 150', 'part = "diplay"\nprice = 150'), 9, "tier 1, yields 1, part"),
        (("weeks = 2", "week = 2"), 13, "tier 1, yields 1, week"),
        (('access = "board-out"', 'access = "wide"'), 18, "tier 1, yields 2, access"),
        (('part = "main-board"', 'part = "display"'), 1, "tier 1, yields"),
        (("donor = true", "donor = 1"), 26, "model 1, yields 1, donor"),
    ],
)
def test_a_wrong_part_is_named_with_its_line(tmp_path, wrong, line, where):
    (fault,) = faults_of(write(tmp_path, WITH_YIELDS.replace(*wrong)))
    assert (fault.line, fault.field) == (line, where)
    assert fault.allowed
