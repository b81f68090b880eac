"""Amounts and days as people and spreadsheets write them: read if there is one meaning, refused if two."""

from __future__ import annotations

import re
from datetime import date

_MOST = 1e7
_BLANKS = "\u00a0\u202f\u2009"
_PLAIN = re.compile(r"[0-9]{1,9}(?:[.,][0-9]{1,2})?")
# Groups of three, always with one sign between them, then a decimal part after another sign.
_GROUPED = re.compile(
    r"(?P<whole>[1-9][0-9]{0,2}(?P<group>[.,' ’])[0-9]{3}(?:(?P=group)[0-9]{3})*)"
    r"(?:(?P<point>[.,])(?P<decimals>[0-9]{1,2}))?"
)
# One point or comma and three digits: a group, or a decimal part.
_EITHER = re.compile(r"([1-9][0-9]{0,2})[.,]([0-9]{3})")
_DAY = re.compile(r"([0-9]{4})-([0-9]{1,2})-([0-9]{1,2})(?:[ T]00:00(?::00)?)?")
_DOTTED = re.compile(r"([0-9]{1,2})\.([0-9]{1,2})\.([0-9]{4})")
_YEARS = (1970, 2199)


class Unreadable(ValueError):
    """A text that cannot be read: what is wrong with it, and what is allowed."""

    def __init__(self, wrong: str, allowed: str):
        super().__init__(f"{wrong}; allowed: {allowed}")
        self.wrong, self.allowed = wrong, allowed


def read_amount(text: str) -> float:
    """Read a number from 0 to ten million with at most two decimals, after a point or a comma.

    `1.240` and `1,240` are refused: one reader takes them for 1240, another for 1.24.

    Raises
    ------
    Unreadable : it is no such number, or could be two.
    """
    told = re.sub(f"[{_BLANKS}]", " ", text).strip()
    if either := _EITHER.fullmatch(told):
        whole, rest = either.groups()
        wrong = f"{told!r} can mean {whole}{rest} or {float(f'{whole}.{rest}'):g}"
        raise Unreadable(wrong, f"{whole}{rest}, or {whole}.{rest[:2]} with two decimals")
    if _PLAIN.fullmatch(told):
        amount = float(told.replace(",", "."))
    elif (grouped := _GROUPED.fullmatch(told)) and grouped["group"] != grouped["point"]:
        amount = float(f"{re.sub('[^0-9]', '', grouped['whole'])}.{grouped['decimals'] or 0}")
    else:
        raise Unreadable(f"{told[:60]!r} is not an amount", "a number from 0, such as 45, 84.50 or 84,50")
    if amount > _MOST:
        raise Unreadable(f"{told!r} is too much", f"at most {_MOST:.0f}")
    return amount


def write_amount(amount: float) -> str:
    """An amount as `read_amount` takes it: without decimals where there are none, else with two."""
    return f"{amount:.0f}" if amount == int(amount) else f"{amount:.2f}"


def read_day(text: str, latest: date | None = None) -> date:
    """Read a day as 2026-11-25 or 25.11.2026; with slashes it could be two.

    latest : a later day is refused; None for no limit.

    Raises
    ------
    Unreadable : it is no such day.
    """
    told, allowed = text.strip(), "a day such as 2026-11-25"
    if found := _DAY.fullmatch(told):
        parts = found.groups()
    elif found := _DOTTED.fullmatch(told):
        parts = found.groups()[::-1]
    else:
        raise Unreadable(f"{told[:60]!r} is not a day", f"{allowed} or 25.11.2026")
    try:
        day = date(*map(int, parts))
    except ValueError as problem:
        raise Unreadable(f"{told!r} is not in the calendar", allowed) from problem
    if not _YEARS[0] <= day.year <= _YEARS[1]:
        raise Unreadable(f"{told!r} is out of range", f"years {_YEARS[0]} to {_YEARS[1]}")
    if latest is not None and day > latest:
        raise Unreadable(f"{told!r} is after today", f"a day up to {latest}")
    return day
