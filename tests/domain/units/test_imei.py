"""Slips in an IMEI are caught as its check digit promises (3GPP TS 23.003, annex B)."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from triage.domain.units.imei import check_digit, imei_slips

BODY = st.text("0123456789", min_size=14, max_size=14)


def test_a_number_worked_by_hand():
    # 49015420323751: every second digit doubled, digits of the products added:
    # 4+9+0+2+5+8+2+0+3+4+3+(1+4)+5+2 = 52, so 8 makes 60. The number itself is a
    # widely printed example, from memory.
    assert check_digit("49015420323751") == 8
    assert imei_slips("49 015420 323751 8") == ()


@pytest.mark.parametrize("text", ["", "F2LX0A1B2C3D", "serial 12345678901234567", "1234", "A123456789012345"])
def test_what_is_no_imei_is_left_alone(text):
    assert imei_slips(text) == ()


@given(BODY, st.integers(0, 14), st.integers(1, 9))
def test_one_wrong_digit_is_always_caught(body, place, shift):
    number = body + str(check_digit(body))
    wrong = number[:place] + str((int(number[place]) + shift) % 10) + number[place + 1 :]
    assert imei_slips(number) == () and len(imei_slips(wrong)) == 1


@given(BODY, st.integers(0, 13))
def test_two_neighbours_swapped_are_caught_but_for_nought_and_nine(body, place):
    number = body + str(check_digit(body))
    swapped = number[:place] + number[place + 1] + number[place] + number[place + 2 :]
    same = number[place] == number[place + 1] or {number[place], number[place + 1]} == {"0", "9"}
    assert bool(imei_slips(swapped)) is not same


def test_a_missing_digit_is_said_and_a_number_with_a_software_version_is_not_judged():
    (said,) = imei_slips("IMEI 49-015420-323751")
    assert "14 digits" in said
    assert imei_slips("49-015420-323751-01") == ()
