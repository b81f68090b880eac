"""Amounts and days as people write them: one meaning is read, two are refused, none is guessed."""

from __future__ import annotations

from datetime import date

import pytest
from hypothesis import given
from hypothesis import strategies as st

from triage.domain.shop.amounts import Unreadable, read_amount, read_day, write_amount


@pytest.mark.parametrize(
    ("text", "amount"),
    [
        ("0", 0), ("45", 45), (" 84.50 ", 84.5), ("84,5", 84.5), ("1240", 1240), ("1240,05", 1240.05),
        ("1.240,50", 1240.5), ("1,240.50", 1240.5), ("1 240,5", 1240.5), ("1\u202f240", 1240),
        ("1\u00a0240.00", 1240), ("1'240", 1240), ("1’240.5", 1240.5), ("1.240.500", 1240500),
        ("1,240,500.25", 1240500.25), ("10000000", 1e7),
    ],
)  # fmt: skip
def test_one_meaning_is_read(text, amount):
    assert read_amount(text) == amount


@pytest.mark.parametrize(
    "text",
    [
        "1.240", "1,240", "12.500", "999,000",  # a group of three, or three decimals
        "1.240.50", "1,240,5", "1,240.500", "0.240", "0,240", "1.2405", "12.3.4", "1..5", ".5", "5.",
        "1 24", "12 3456", "1' 240", "-3", "+3", "1e3", "€5", "5 EUR", "5-7", "=1+1", "nan", "inf", "١", "½",
        "", " ", "10000000.01", "1" * 400, "True",
    ],
)  # fmt: skip
def test_two_meanings_or_none_are_refused_with_what_is_allowed(text):
    with pytest.raises(Unreadable) as refusal:
        read_amount(text)
    assert refusal.value.wrong and refusal.value.allowed and len(str(refusal.value)) < 500


def test_a_refusal_of_two_meanings_names_both():
    with pytest.raises(
        Unreadable, match=r"'1\.240' can mean 1240 or 1\.24; allowed: 1240, or 1\.24 with two"
    ):
        read_amount("1.240")


@given(st.integers(0, 10**9))
def test_what_is_written_is_read_again_whichever_sign_is_used(cents):
    amount = cents / 100
    text = write_amount(amount)
    assert read_amount(text) == amount == read_amount(text.replace(".", ","))


@given(
    st.integers(1000, 10**7 - 1), st.integers(1, 99), st.sampled_from([(",", "."), (".", ","), ("'", ".")])
)
def test_grouped_amounts_mean_what_both_signs_say(whole, cents, signs):
    group, point = signs
    assert read_amount(f"{whole:,}".replace(",", group) + f"{point}{cents:02d}") == whole + cents / 100


@given(st.text(alphabet="0123456789.,' ", max_size=12))
def test_an_amount_that_is_read_is_the_digits_of_its_text(text):
    """No digit is dropped and none moves: a text of digits and signs is its digits over 1, 10 or 100."""
    try:
        amount = read_amount(text)
    except Unreadable:
        return
    digits = int("".join(sign for sign in text if sign.isdigit()))
    assert any(abs(amount - digits / power) < 1e-6 for power in (1, 10, 100))
    last = max(text.strip().rfind("."), text.strip().rfind(","))
    if last >= 0 and len(text.strip()) - last == 4 and text.count(".") + text.count(",") == 1:
        assert " " in text.strip() or "'" in text, "one sign before three digits was taken for something"


@pytest.mark.parametrize(
    ("text", "day"),
    [
        ("2026-11-25", date(2026, 11, 25)),
        (" 2026-1-5 ", date(2026, 1, 5)),
        ("25.11.2026", date(2026, 11, 25)),
        ("2026-11-25 00:00:00", date(2026, 11, 25)),
    ],
)
def test_a_day_is_read(text, day):
    assert read_day(text) == day


@pytest.mark.parametrize(
    "text", ["04/03/2026", "2026/03/04", "3 March 2026", "25.11.26", "2026-02-30", "1969-01-01", "45991", ""]
)
def test_a_day_that_could_be_two_or_is_none_is_refused(text):
    with pytest.raises(Unreadable):
        read_day(text)


def test_a_price_cannot_have_been_checked_tomorrow():
    with pytest.raises(Unreadable, match="after today"):
        read_day("2026-11-26", latest=date(2026, 11, 25))
