"""Typing slips in an IMEI, by its check digit.

An IMEI is 15 digits; the last is the Luhn check digit of the 14 before it
(3GPP TS 23.003, section 6.2.1 and annex B). The form with 16 digits carries a
software version in place of the check digit, so nothing tells of a slip there.
"""

from __future__ import annotations

import re

# Digits as people write them, in groups divided by a blank, a point, a slash or a dash.
_GROUPED = re.compile(r"(?<![0-9A-Za-z])\d(?:[ ./-]?\d){13,15}(?![0-9A-Za-z])")


def check_digit(body: str) -> int:
    """Luhn check digit of the first 14 digits of an IMEI."""
    doubled = [int(digit) * (1 + place % 2) for place, digit in enumerate(body)]
    return -sum(number // 10 + number % 10 for number in doubled) % 10


def imei_slips(text: str) -> tuple[str, ...]:
    """What is wrong with each number in a text that looks like an IMEI, in words."""
    slips = []
    for written in _GROUPED.findall(text):
        digits = re.sub(r"\D", "", written)
        if len(digits) == 14:
            slips.append(f"{written} has 14 digits; an IMEI has 15, the last one a check digit")
        elif len(digits) == 15 and int(digits[-1]) != check_digit(digits[:-1]):
            slips.append(f"{written}: a digit is wrong; the check digit of this IMEI does not fit")
    return tuple(slips)
