"""The price book: what a unit fetches by tier, and what each part costs."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field
from datetime import date
from pathlib import Path
from typing import Annotated, Any

from pydantic import AfterValidator, Field

from triage.domain.documents import Document, Location, build, dotted, read_toml
from triage.domain.money import Money
from triage.domain.shop.settings import Share
from triage.domain.shop.yields import PartYield, Yields
from triage.errors import Fault, SettingsError, nearest

Days = Annotated[float, Field(ge=0, le=3650, allow_inf_nan=False, strict=True)]


def _in_order(days: tuple[float, float, float]) -> tuple[float, float, float]:
    if not days[0] <= days[1] <= days[2]:
        raise ValueError("shortest, usual and longest days, in that order")
    return days


@dataclass(frozen=True)
class Tier:
    """A value tier: usual working price, and the parts value of a dead unit, in money.

    `parts_value_good_panel` and `parts_value_broken_panel` are what its parts
    fetch with the display intact and not, together; `yields`, where it is
    given, says it part by part and outranks both.
    """

    slug: str
    name: str
    working_price: Money
    parts_value_good_panel: Money
    parts_value_broken_panel: Money
    yields: Yields = ()


@dataclass(frozen=True)
class PartPrice:
    """One part: price by tier, likelihood of a dead one, days until it is here.

    lead_days : least, usual and most days.
    """

    part: str
    price: dict[str, Money]
    grade: str = ""
    dead_on_arrival: Share = 0.0
    lead_days: Annotated[tuple[Days, Days, Days], AfterValidator(_in_order)] = (0.0, 1.0, 3.0)
    on_hand: bool = False
    checked_on: date | None = None


@dataclass(frozen=True)
class ModelPrice:
    """Prices for one model, which outrank those of its tier."""

    model: str
    working_price: Money | None = None
    parts: dict[str, Money] = field(default_factory=dict)
    yields: Yields = ()


@dataclass(frozen=True)
class PriceBook:
    """All prices of one shop, in major units of its currency."""

    tier: tuple[Tier, ...]
    part: tuple[PartPrice, ...] = ()
    model: tuple[ModelPrice, ...] = ()
    note: str = ""

    def tiers(self) -> dict[str, Tier]:
        """Tiers by slug, in the book's order (cheapest first)."""
        return {tier.slug: tier for tier in self.tier}

    def entry(self, part: str) -> PartPrice | None:
        """The entry of a part, or None when the book has none."""
        return next((entry for entry in self.part if entry.part == part), None)

    def price(self, part: str, tier: str, model: str = "") -> float | None:
        """Price of a part for a model, else for a tier, else None (not confirmed)."""
        for entry in self.model:
            if model and entry.model == model and part in entry.parts:
                return entry.parts[part]
        priced = self.entry(part)
        return None if priced is None else priced.price.get(tier)

    def working_price(self, tier: str, model: str = "") -> float:
        """Working price of a model, else of its tier."""
        for entry in self.model:
            if model and entry.model == model and entry.working_price is not None:
                return entry.working_price
        return self.tiers()[tier].working_price

    def yields(self, tier: str, model: str = "") -> tuple[PartYield, ...]:
        """Parts that a model yields, else its tier; none where only their value together is known."""
        own = next((entry.yields for entry in self.model if model and entry.model == model), ())
        return own or self.tiers()[tier].yields

    def confirmed(self, part: str, tier: str, today: date, age_days: int, model: str = "") -> bool:
        """Whether a part has a price that is not older than `age_days`."""
        entry = self.entry(part)
        if entry is None or entry.checked_on is None or self.price(part, tier, model) is None:
            return False
        return (today - entry.checked_on).days <= age_days


def load_price_book(path: Path) -> PriceBook:
    """Read a price book, or raise `SettingsError` with every fault in it."""
    document = read_toml(path, SettingsError)
    faults: list[Fault] = []
    try:
        book = build(PriceBook, document, SettingsError)
    except SettingsError as problem:
        faults += problem.faults
    faults += _slug_faults(document)
    if faults:
        raise SettingsError(sorted(faults, key=lambda fault: fault.line or 0))
    return book


def _slug_faults(document: Document) -> Iterator[Fault]:
    """Yield what is priced twice, and prices for tiers that the book does not have."""

    def fault(at: Location, wrong: str, allowed: str) -> Fault:
        return Fault(document.name, document.line(at), dotted(at), wrong, allowed)

    tiers = [str(entry.get("slug")) for _, entry in _entries(document, "tier")]
    if document.tables.get("tier") == []:
        yield fault(("tier",), "no price class", "at least one [[tier]]")
    for table, key in (("tier", "slug"), ("part", "part"), ("model", "model")):
        seen: list[Any] = []
        for index, entry in _entries(document, table):
            if entry.get(key) in seen:
                yield fault((table, index, key), f"{entry[key]!r} is given twice", "one entry")
            seen.append(entry.get(key, index))
    for index, entry in _entries(document, "part"):
        prices = entry.get("price")
        for tier in prices if isinstance(prices, dict) else ():
            if tier not in tiers:
                wrong = f"{tier!r} is not a price class of this price book" + nearest(tier, tiers)
                yield fault(("part", index, "price", tier), wrong, ", ".join(tiers))


def _entries(document: Document, table: str) -> list[tuple[int, dict[str, Any]]]:
    found = document.tables.get(table)
    return [(i, e) for i, e in enumerate(found if isinstance(found, list) else ()) if isinstance(e, dict)]
