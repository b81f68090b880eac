"""Which prices of the book stand for a unit: entered for it, of its model, or of its price class."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from triage.domain.shop.model_names import nearest_model
from triage.domain.shop.price_book import PriceBook


@dataclass(frozen=True)
class PriceOrigin:
    """Where a unit's resale value and parts prices come from.

    tier : name of the price class.
    model : the shop's name for the model whose prices are used; "" where the list does not have it.
    entered : the resale value was entered for this unit.
    whole : the model's list has a resale value, not only prices of parts.
    checked_on : day of that resale value; None where nobody says.
    unknown : a model that the unit is said to be and the list does not have; "" otherwise.
    nearest : the name in the list that looks most like it; "" where none does.
    """

    tier: str
    model: str = ""
    entered: bool = False
    whole: bool = False
    checked_on: date | None = None
    unknown: str = ""
    nearest: str = ""

    @property
    def kind(self) -> str:
        """Where the resale value is from: entered, model or class."""
        return "entered" if self.entered else "model" if self.whole else "class"

    def age(self, today: date) -> int | None:
        """Days since the model's resale value was checked; None where that is not told."""
        return None if self.checked_on is None else (today - self.checked_on).days


def price_origin(book: PriceBook, tier: str, model: str, entered: bool) -> PriceOrigin:
    """Say which prices stand for a unit of a price class and a model; "" is no model."""
    tiers, own = book.tiers(), book.for_model(model)
    name = tiers[tier].name if tier in tiers else tier
    if own is not None:
        return PriceOrigin(name, own.model, entered, own.working_price is not None, own.checked_on)
    unknown = model.strip()
    known = [entry.model for entry in book.model]
    return PriceOrigin(name, "", entered, unknown=unknown, nearest=nearest_model(unknown, known))
