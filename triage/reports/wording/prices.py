"""Which prices were used, in a few words: of the model, with their age, or of the price class."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from datetime import date

from triage.domain.shop.model_table import ModelChanges
from triage.domain.shop.price_origin import PriceOrigin

_NOT_IN_LIST = ", model not in list"


def age_words(age: int | None, most_days: int) -> str:
    """How long ago a price was checked, and that it is old where it is older than the limit."""
    if age is None:
        return "no date"
    ago = "today" if age <= 0 else f"{age:,} {'day' if age == 1 else 'days'} ago"
    return f"checked {ago}" + (f", older than your {most_days:,} days" if age > most_days else "")


def short_age(age: int | None, most_days: int) -> str:
    """The same as a cell of a table."""
    if age is None:
        return "no date"
    return f"{age:,} {'day' if age == 1 else 'days'}" + (", old" if age > most_days else "")


def changes_words(changes: ModelChanges) -> str:
    """How many prices a save changed."""
    counts = {"added": changes.added, "changed": changes.changed, "deleted": changes.deleted}
    told = [f"{count:,} {word}" for word, count in counts.items() if count]
    return ", ".join(told) or "no price changed"


def origin_words(origin: PriceOrigin, today: date, most_days: int) -> str:
    """Where the resale value of one device is from.

    most_days : age from which a price is old.
    """
    tier = f"price class {origin.tier.lower()}"
    if origin.entered:
        return "resale value entered for this device" + (
            "; parts by this model" if origin.model else f"; parts by {tier}"
        )
    if origin.whole:
        return f"price of this model, {age_words(origin.age(today), most_days)}"
    if origin.model:
        return f"{tier}; only parts are priced by model"
    if not origin.unknown:
        return tier
    hint = f"; nearest: {origin.nearest}" if origin.nearest else ""
    return f"{tier}; {origin.unknown} is not in your price list{hint}"


def short_origin(origin: PriceOrigin, today: date, most_days: int) -> str:
    """The same as a cell of a table."""
    if origin.kind == "entered":
        return "entered"
    if origin.kind == "class":
        return "price class" + (_NOT_IN_LIST if origin.unknown else "")
    age = origin.age(today)
    if age is None:
        return "model, no date"
    return "model" + (f", {age:,} days old" if age > most_days else "")


def lot_origin_words(cells: Iterable[str]) -> str:
    """How many devices of a lot were priced by what; "" where there is nothing to tell apart.

    cells : as `short_origin` writes them.
    """
    told = Counter(cells)
    by_model = sum(count for cell, count in told.items() if cell.startswith("model"))
    unknown = told["price class" + _NOT_IN_LIST]
    if not by_model and not unknown:
        return ""
    old = by_model - told["model"]
    words = [
        f"{by_model:,} by model" + (f" ({old:,} old or without date)" if old else ""),
        f"{told['price class'] + unknown:,} by price class"
        + (f" ({unknown:,} of a model not in your price list)" if unknown else ""),
    ]
    words += [f"{told['entered']:,} entered"] if told["entered"] else []
    return f"Resale value: {', '.join(words)}."
