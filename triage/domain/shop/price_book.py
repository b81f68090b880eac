"""The price book: what a unit fetches by model or else by tier, and what each part costs."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field, replace
from datetime import date
from functools import cached_property
from pathlib import Path
from typing import Annotated, Any

from pydantic import AfterValidator, Field

from triage.domain.documents import Document, Location, build, dotted, read_toml
from triage.domain.money import Money
from triage.domain.shop.model_names import model_key
from triage.domain.shop.settings import Share
from triage.domain.shop.yields import PartYield, Yields
from triage.errors import Fault, SettingsError, nearest

Days = Annotated[float, Field(ge=0, le=3650, allow_inf_nan=False, strict=True)]


def _in_order(days: tuple[float, float, float]) -> tuple[float, float, float]:
    if not days[0] <= days[1] <= days[2]:
        raise ValueError("shortest, usual and longest days, in that order")
    return days


LeadDays = Annotated[tuple[Days, Days, Days], AfterValidator(_in_order)]


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
    lead_days: LeadDays = (0.0, 1.0, 3.0)
    on_hand: bool = False
    checked_on: date | None = None


@dataclass(frozen=True)
class ModelPrice:
    """Prices for one model, which outrank those of its tier; None is the tier's.

    model : the shop's own name for it; see `model_key`.
    limited_price : resale value with one function lost.
    checked_on : day of the three figures for the whole device.
    lead_days, parts_checked_on : by part; the part's own entry where there is none.
    """

    model: str
    working_price: Money | None = None
    parts: dict[str, Money] = field(default_factory=dict)
    limited_price: Money | None = None
    parts_value_good_panel: Money | None = None
    parts_value_broken_panel: Money | None = None
    checked_on: date | None = None
    lead_days: dict[str, LeadDays] = field(default_factory=dict)
    parts_checked_on: dict[str, date] = field(default_factory=dict)
    yields: Yields = ()

    def over(self, under: ModelPrice) -> ModelPrice:
        """These prices, with those of `under` where there are none."""
        told: dict[str, Any] = {}
        for name, value in vars(self).items():
            if isinstance(value, dict):
                told[name] = {**getattr(under, name), **value}
            elif value not in (None, ()):
                told[name] = value
        return replace(under, **told)


# A part that nobody has looked up: days until it is here.
UNKNOWN_LEAD_DAYS = (1.0, 7.0, 21.0)


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

    @cached_property
    def _models(self) -> dict[str, ModelPrice]:
        return {model_key(entry.model): entry for entry in self.model}

    def for_model(self, model: str) -> ModelPrice | None:
        """Prices of a model, or None when the book has none."""
        return self._models.get(model_key(model)) if model else None

    def with_models(self, models: Iterable[ModelPrice]) -> PriceBook:
        """The same book with prices of models that outrank its own."""
        held = dict(self._models)
        for entry in models:
            key = model_key(entry.model)
            held[key] = entry.over(held[key]) if key in held else entry
        return replace(self, model=tuple(held.values()))

    def entry(self, part: str) -> PartPrice | None:
        """The entry of a part, or None when the book has none."""
        return next((entry for entry in self.part if entry.part == part), None)

    def supplied(self, part: str, tier: str, model: str = "") -> PartPrice | None:
        """The entry of a part as it applies to a model; None when the book knows nothing of the part."""
        entry, own = self.entry(part), self.for_model(model)
        if own is None or part not in own.parts:
            return entry
        entry = entry or PartPrice(part, {}, lead_days=UNKNOWN_LEAD_DAYS)
        return replace(
            entry,
            price={**entry.price, tier: own.parts[part]},
            lead_days=own.lead_days.get(part, entry.lead_days),
            checked_on=own.parts_checked_on.get(part, entry.checked_on),
        )

    def price(self, part: str, tier: str, model: str = "") -> float | None:
        """Price of a part for a model, else for a tier, else None (not confirmed)."""
        priced = self.supplied(part, tier, model)
        return None if priced is None else priced.price.get(tier)

    def working_price(self, tier: str, model: str = "") -> float:
        """Working price of a model, else of its tier."""
        own = self.for_model(model)
        if own is not None and own.working_price is not None:
            return own.working_price
        return self.tiers()[tier].working_price

    def yields(self, tier: str, model: str = "") -> tuple[PartYield, ...]:
        """Parts that a model yields, else its tier; none where only their value together is known."""
        own = self.for_model(model)
        if own is None:
            return self.tiers()[tier].yields
        together = own.parts_value_good_panel, own.parts_value_broken_panel
        return own.yields or (self.tiers()[tier].yields if together == (None, None) else ())

    def limited_share(self, model: str) -> float | None:
        """Resale value with one function lost over the working price; None where the book has none."""
        own = self.for_model(model)
        if own is None or own.limited_price is None or not own.working_price:
            return None
        return own.limited_price / own.working_price

    def parts_value(self, tier: str, model: str = "", broken: bool = False) -> float:
        """Parts value of a model, else of its tier. broken : whether the panel is."""
        name = "parts_value_broken_panel" if broken else "parts_value_good_panel"
        own = getattr(self.for_model(model), name, None)
        value: float = getattr(self.tiers()[tier], name) if own is None else own
        return value

    def confirmed(self, part: str, tier: str, today: date, age_days: int, model: str = "") -> bool:
        """Whether a part has a price that is not older than `age_days`."""
        entry = self.supplied(part, tier, model)
        if entry is None or entry.checked_on is None or tier not in entry.price:
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
            name = entry.get(key, index)
            if table == "model" and isinstance(name, str):
                name = model_key(name)
            if name in seen:
                yield fault((table, index, key), f"{entry[key]!r} is given twice", "one entry")
            seen.append(name)
    for index, entry in _entries(document, "part"):
        prices = entry.get("price")
        for tier in prices if isinstance(prices, dict) else ():
            if tier not in tiers:
                wrong = f"{tier!r} is not a price class of this price book" + nearest(tier, tiers)
                yield fault(("part", index, "price", tier), wrong, ", ".join(tiers))


def _entries(document: Document, table: str) -> list[tuple[int, dict[str, Any]]]:
    found = document.tables.get(table)
    return [(i, e) for i, e in enumerate(found if isinstance(found, list) else ()) if isinstance(e, dict)]
