"""Money as integer minor units in records and as text on a page."""

import pytest

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
    ],
)
def test_an_amount_is_written_with_a_true_minus_and_grouped(amount, currency, whole, text):
    assert money_text(amount, currency, whole) == text


def test_an_unlisted_currency_has_hundredths():
    assert minor_digits("SEK") == 2
