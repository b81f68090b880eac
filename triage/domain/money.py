"""Money as text: a record holds integer minor units, a computation floats."""

from __future__ import annotations

from typing import Annotated

from pydantic import Field

# ISO 4217 currencies whose minor unit is not a hundredth. [memory]
_MINOR_DIGITS = {"JPY": 0, "KRW": 0, "ISK": 0, "VND": 0, "CLP": 0, "KWD": 3, "BHD": 3, "TND": 3}
_SIGNS = {"EUR": "€", "GBP": "£", "USD": "$", "JPY": "¥", "INR": "₹", "KRW": "₩"}

# An amount of money that a user states, major units.
Money = Annotated[float, Field(ge=0, le=1e7, allow_inf_nan=False, strict=True)]


def minor_digits(currency: str) -> int:
    """Digits after the point for an ISO 4217 code (2 unless listed)."""
    return _MINOR_DIGITS.get(currency, 2)


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
    sign = _SIGNS.get(currency, currency + "\u00a0")
    text = f"{abs(amount):,.{digits}f}"
    negative = amount < 0 and any(c in "123456789" for c in text)
    return f"{'−' if negative else ''}{sign}{text}"


def is_loss(margin: float) -> bool:
    """Whether a margin counts as losing money."""
    return margin < -0.005
