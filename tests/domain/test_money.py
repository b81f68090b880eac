"""Money as integer minor units in records and as text on a page."""

from decimal import Decimal

import pytest
from babel.numbers import format_currency, get_currency_precision, list_currencies

from triage.domain.money import from_minor, minor_digits, money_text, to_minor


@pytest.mark.parametrize(
    ("amount", "currency", "minor"),
    [
        (84.5, "EUR", 8450),
        (1.005, "EUR", 101),  # half away from zero, though 1.005 is stored a hair below it
        (-1.005, "EUR", -101),
        (0.004, "EUR", 0),
        (84.5, "JPY", 85),  # no minor unit
        (1.2345, "KWD", 1235),  # thousandths
    ],
)
def test_an_amount_is_rounded_to_its_minor_unit(amount, currency, minor):
    assert to_minor(amount, currency) == minor


@pytest.mark.parametrize("currency", ["EUR", "JPY", "KWD"])
def test_minor_units_come_back_unchanged(currency):
    assert [to_minor(from_minor(minor, currency), currency) for minor in (-99999, -1, 0, 7, 123456)] == [
        -99999,
        -1,
        0,
        7,
        123456,
    ]


@pytest.mark.parametrize(
    ("amount", "currency", "whole", "text"),
    [
        (1234.5, "EUR", False, "€1,234.50"),
        (-135.0, "USD", True, "\u2212$135"),
        (-0.004, "EUR", False, "€0.00"),  # no minus before nothing
        (1234.0, "JPY", False, "¥1,234"),
        (9.5, "SEK", False, "SEK\u00a09.50"),
        (9.5, "AUD", False, "A$9.50"),
        (-12000.0, "XAF", False, "\u2212FCFA\u00a012,000"),
    ],
)
def test_an_amount_is_written_with_a_true_minus_and_grouped(amount, currency, whole, text):
    assert money_text(amount, currency, whole) == text


@pytest.mark.parametrize(
    "currency", ["EUR", "GBP", "USD", "JPY", "INR", "KRW", "CAD", "ILS", "KWD", "CHF", "XOF"]
)
@pytest.mark.parametrize("amount", [0.0, 0.35, 7.0, 999.995, 72.85, 481.0, 1234567.891])
def test_an_amount_is_written_as_babel_writes_it(currency, amount):
    """But for the space after letters, which CLDR asks for ("currencySpacing") and Babel leaves out."""
    written = format_currency(Decimal(amount), currency, locale="en")
    assert money_text(amount, currency).replace("\u00a0", "") == written


@pytest.mark.parametrize(
    ("currency", "digits"),
    [("SEK", 2), ("XOF", 0), ("UGX", 0), ("OMR", 3), ("CLF", 4), ("HUF", 2), ("IQD", 3)],
)
def test_minor_units_are_those_of_iso_4217(currency, digits):
    assert minor_digits(currency) == digits


def test_babel_counts_in_the_same_minor_units_or_in_whole_ones():
    """CLDR's digits are those in daily use: fewer where a coin has gone."""
    digits = {code: (get_currency_precision(code), minor_digits(code)) for code in list_currencies()}
    assert {code: both for code, both in digits.items() if both[0] not in (both[1], 0)} == {}
