"""Money as text: a record holds integer minor units, a computation floats."""

from __future__ import annotations

from functools import cache
from typing import Annotated

from pydantic import Field

# Minor units of ISO 4217 that are not a hundredth. A record counts in them, so they are fixed here: Babel's
# digits are those in daily use (CLDR), and change from one version to the next.
_MINOR_DIGITS = {
    **dict.fromkeys(("BIF", "CLP", "DJF", "GNF", "ISK", "JPY", "KMF", "KRW", "PYG", "RWF", "UGX", "UYI"), 0),
    **dict.fromkeys(("VND", "VUV", "XAF", "XOF", "XPF"), 0),
    **dict.fromkeys(("BHD", "IQD", "JOD", "KWD", "LYD", "OMR", "TND"), 3),
    **dict.fromkeys(("CLF", "UYW"), 4),
}

# An amount of money that a user states, major units.
Money = Annotated[float, Field(ge=0, le=1e7, allow_inf_nan=False, strict=True)]


def minor_digits(currency: str) -> int:
    """Digits after the point for an ISO 4217 code (2 unless listed)."""
    return _MINOR_DIGITS.get(currency, 2)


@cache
def _sign(currency: str) -> str:
    """What stands before an amount: the currency's sign in English, with a space after a letter (CLDR)."""
    from babel.numbers import get_currency_symbol  # loaded when the first amount is written

    sign = get_currency_symbol(currency, locale="en")
    return f"{sign}\u00a0" if sign[-1].isalpha() else sign


def to_minor(amount: float, currency: str) -> int:
    """Round an amount in major units to integer minor units, half away from zero."""
    scaled = abs(amount) * 10 ** minor_digits(currency)
    return int(scaled + 0.5 + 1e-9) * (1 if amount >= 0 else -1)


def from_minor(minor: int, currency: str) -> float:
    """Turn integer minor units into major units."""
    per_unit: int = 10 ** minor_digits(currency)
    return minor / per_unit


def money_text(amount: float, currency: str, whole: bool = False) -> str:
    """Write an amount: a true minus sign, the currency's sign, grouped thousands.

    `whole` drops the minor units where they would be false precision; less than
    half a unit keeps them, so that a small loss is not written as nothing.
    """
    digits = 0 if whole and abs(amount) >= 0.5 else minor_digits(currency)
    if whole and to_minor(amount, currency) == 0:
        digits = 0
    text = f"{abs(amount):,.{digits}f}"
    negative = amount < 0 and any(c in "123456789" for c in text)
    return f"{'−' if negative else ''}{_sign(currency)}{text}"


def is_loss(margin: float) -> bool:
    """Whether a margin counts as losing money."""
    return margin < -0.005
