"""What the shop's own record says now: part prices, parts on its shelf, results of checks and of data jobs.

For one unit, prices and shelf parts outrank the price book. A part on the shelf that was tested,
is bound to no other unit and fits comes first, at its share of what its donor
cost; then the newer of the price found for the model and the book's price for
the model, the newest for the tier, the newest for any, the book's for the tier.

A shelf part fits its model, or the models that the shop names for it with ";" between
them, and no other; a whole price class only where no model is named.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

from triage.domain.money import from_minor
from triage.domain.shop.check_record import CheckRecord
from triage.domain.shop.data_record import DataRecord
from triage.domain.shop.model_names import same_model
from triage.domain.shop.price_book import ModelPrice, PartPrice, PriceBook
from triage.domain.shop.settings import Settings
from triage.domain.shop.shelf import PriceFound, ShelfPart

# Between the models that a part fits.
MODELS_APART = ";"


@dataclass(frozen=True)
class Supply:
    """Prices found, oldest first; parts on hand that are promised to nobody; results by check; data jobs."""

    found: tuple[PriceFound, ...] = ()
    shelf: tuple[ShelfPart, ...] = ()
    checks: tuple[tuple[str, CheckRecord], ...] = ()
    data: DataRecord = DataRecord()

    def book_for(self, book: PriceBook, settings: Settings, tier: str, model: str = "") -> PriceBook:
        """The price book as it stands for one unit; records in another currency are left out."""
        entries: dict[str, PartPrice] = {}
        for slug in dict.fromkeys([*(note.part for note in self.found), *(part.part for part in self.shelf)]):
            entry = self._entry(slug, book, settings, tier, model)
            if entry is not None:
                entries[slug] = entry
        if not entries:
            return book
        kept = tuple(entry for entry in book.part if entry.part not in entries)
        own = book.for_model(model)
        return replace(
            book,
            part=(*kept, *entries.values()),
            model=() if own is None else (_without(own, set(entries)),),
        )

    def _entry(
        self, slug: str, book: PriceBook, settings: Settings, tier: str, model: str
    ) -> PartPrice | None:
        """Entry of a part where the record knows better than the book; else None."""
        on_shelf = [
            part for part in self.shelf
            if part.part == slug and part.tested and not part.paired
            and part.currency == settings.currency and fits(part.tier, part.model, tier, model)
        ]  # fmt: skip
        if on_shelf:
            first = min(on_shelf, key=lambda part: part.cost_minor)
            price = from_minor(first.cost_minor, first.currency)
            return PartPrice(slug, {tier: price}, first.grade or "own shelf", 0.0, (0.0, 0.0, 0.0), True)
        fitting = [
            note for note in self.found
            if note.part == slug and note.currency == settings.currency
            and fits(note.tier, note.model, tier, model)
        ]  # fmt: skip
        own = book.for_model(model)
        if own is not None and slug in own.parts:
            day = own.parts_checked_on.get(slug)
            fitting = [note for note in fitting if note.model and (day is None or note.checked_on >= day)]
        if not fitting:
            return None
        # The newest of the closest fit; of two on one day, the one written last.
        closeness = [(bool(note.model), bool(note.tier), note.checked_on) for note in fitting]
        best = max(range(len(fitting)), key=lambda place: (closeness[place], place))
        return _priced(fitting[best], settings, tier)


def _priced(note: PriceFound, settings: Settings, tier: str) -> PartPrice:
    # A business that charges tax on its sales gets the tax on its parts back.
    paid = note.cost_minor + (note.tax_minor if settings.tax.scheme == "none" else 0)
    return PartPrice(
        note.part,
        {tier: from_minor(paid, note.currency)},
        note.grade,
        note.dead_on_arrival,
        (note.lead_low, note.lead_likely, note.lead_high),
        False,
        note.checked_on,
    )


def fits(part_tier: str, part_model: str, tier: str, model: str) -> bool:
    """Whether what fits this tier, or these models, fits the unit; blank fits any."""
    if part_model:
        return any(same_model(one, model) for one in part_model.split(MODELS_APART))
    return part_tier in ("", tier)


def _without(priced: ModelPrice, slugs: set[str]) -> ModelPrice:
    return replace(priced, parts={part: price for part, price in priced.parts.items() if part not in slugs})
