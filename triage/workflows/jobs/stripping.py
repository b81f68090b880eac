"""Stripping a unit: which parts it offers, what they are worth, and what happens to parts ordered for it."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date

from triage.domain.job.ending import damaged_parts, hold_refusals, strip_refusals
from triage.domain.job.file import JobFile
from triage.domain.job.part_orders import OrderChoice, choice_refusals, fate_of, unused_orders
from triage.domain.job.records import Kept, PartFate, PartOrdered
from triage.domain.job.safety_facts import battery_doubts
from triage.domain.job.shelf_rules import cost_shares
from triage.domain.money import to_minor
from triage.domain.shop.shelf import ShelfPart
from triage.domain.shop.yields import PartYield
from triage.workflows.jobs.record_keeper import JobChange, RecordKeeper, own_up, refuse
from triage.workflows.shop.shop import Shop


@dataclass(frozen=True)
class OfferedPart:
    """A part that a unit may be stripped for.

    worth : good and tested, money, major units; None where nobody knows it, and of a damaged part.
    untested : share of that which it is worth untested. minutes : to take it out, None where not known.
    damage : of the part, by the record; "" where none is known. refused : why it cannot be shelved.
    """

    part: str
    name: str
    worth: float | None = None
    minutes: float | None = None
    damage: str = ""
    refused: str = ""
    untested: float = 1.0

    def worth_as(self, tested: bool) -> float | None:
        """Worth of the part, tested or not."""
        return None if self.worth is None else self.worth * (1.0 if tested else self.untested)


@dataclass(frozen=True)
class TakenPart:
    """A part taken off a unit for the shelf.

    worth : major units; as `offered_parts` has it when None. model : what it fits, the unit's own
    model when "". whole_class : it fits every model of the unit's price class. wiped : how the data
    in it were erased, and what shows it.
    """

    part: str
    tested: bool = False
    grade: str = ""
    bin: str = ""
    worth: float | None = None
    model: str = ""
    whole_class: bool = False
    wiped: str = ""


def offered_parts(shop: Shop, file: JobFile) -> tuple[OfferedPart, ...]:
    """Parts that a unit of this model or price class yields, and what each is worth.

    Those that the price book lists come first, with its worth and minutes; the others of the catalogue
    are worth what one costs to buy.
    """
    told, catalogue, prices = file.intake.record, shop.catalogue, shop.prices
    damaged, doubts = damaged_parts(file, catalogue), battery_doubts(file, catalogue)
    known = prices.yields(told.tier, told.model) if told.tier in prices.tiers() else ()
    listed: dict[str, PartYield] = {entry.part: entry for entry in known}
    slugs = dict.fromkeys([*listed, *(part.slug for part in catalogue.part if not part.stays)])
    offered = []
    for slug in slugs:
        entry, damage = listed.get(slug), damaged.get(slug, "")
        worth = entry.price if entry else prices.price(slug, told.tier, told.model)
        offered.append(
            OfferedPart(
                slug, catalogue.parts[slug].name, None if damage else worth, entry.minutes if entry else None,
                damage, doubts[0] if slug == "battery" and doubts else "", entry.untested if entry else 1.0,
            )
        )  # fmt: skip
    return tuple(offered)


def strip(
    keeper: RecordKeeper,
    job: int,
    version: int,
    on: date,
    parts: Iterable[TakenPart],
    note: str = "",
    minutes: float | None = None,
    orders: Mapping[int, OrderChoice] | None = None,
) -> JobFile:
    """Strip a unit: its parts go on the shelf, and their costs sum to what was paid for it.

    Parameters
    ----------
    minutes : what it took.
    orders : what is done about each part bought for the job that is not fitted, by the order's id.
    """
    with keeper.changing(job, version) as change:
        parts, choices = tuple(parts), dict(orders or {})
        slugs, tested = ([taken.part for taken in parts], [taken.part for taken in parts if taken.tested])
        refused = list(strip_refusals(change.file, tuple(slugs), keeper.catalogue, tuple(tested)))
        refused += hold_refusals(change.file, on, keeper.shop.settings.hold_days)
        refused += choice_refusals(change.file, choices, keeper.catalogue)
        if any(_fit(change.file, taken) == ("", "") for taken in parts):
            refused.append("enter which model the parts fit, or say that they fit the whole price class")
        if minutes is not None and minutes < 0:
            refused.append("enter minutes of 0 or more")
        refuse(refused)
        for kept in unused_orders(change.file):
            _settle_order(change, kept, choices[kept.id], on)
        worth = _shelve(change, parts)
        own_up(change)
        change.move("strip", on, note=note, worth_minor=worth, minutes=minutes)
        change.let_go(on)
        return change.now()


def shelve_order(change: JobChange, kept: Kept[PartOrdered]) -> None:
    """Put a part that was bought for a job and not used on the shelf, at what it cost; it fits its model."""
    order, told, shop = kept.record, change.file.intake.record, change.keeper.shop
    # A business that charges tax on its sales gets the tax on its parts back.
    cost = order.cost_minor + (order.tax_minor if shop.settings.tax.scheme == "none" else 0)
    tier = "" if told.model else told.tier
    part = ShelfPart(
        order.part,
        cost,
        change.file.currency,
        tier=tier,
        model=told.model,
        grade=order.grade,
        worth_minor=cost,
    )
    change.writing.shelf_append(part)


def _settle_order(change: JobChange, kept: Kept[PartOrdered], choice: OrderChoice, on: date) -> None:
    """Cancel an order, send its part back, or keep it: on the shelf now, or once it has arrived."""
    order = kept.record
    if choice == "cancelled":
        change.append(PartFate(kept.id, on, "cancelled", order.cost_minor + order.tax_minor))
    elif choice == "sent-back":
        change.append(PartFate(kept.id, on, "sent-back"))
    elif fate_of(change.file, kept.id) == "arrived":
        change.append(PartFate(kept.id, on, "shelved"))
        shelve_order(change, kept)


def _shelve(change: JobChange, parts: tuple[TakenPart, ...]) -> int | None:
    """Put the parts on the shelf; their worth together, None where that of one is not known."""
    file, currency = change.file, change.file.currency
    offered = {part.part: part for part in offered_parts(change.keeper.shop, file)}
    worths = [_worth(taken, offered.get(taken.part)) for taken in parts]
    paid = -sum(kept.record.amount_minor for kept in file.payments if kept.record.purpose == "purchase")
    shares = cost_shares(paid, [worth or 0.0 for worth in worths])
    known = [None if worth is None else to_minor(worth, currency) for worth in worths]
    for taken, cost, worth in zip(parts, shares, known, strict=True):
        tier, model = _fit(file, taken)
        paired = change.keeper.catalogue.parts[taken.part].paired
        change.writing.shelf_append(
            ShelfPart(
                taken.part, cost, currency, file.id, tier, model, taken.grade, taken.tested, paired,
                taken.bin, worth, taken.wiped.strip(),
            )
        )  # fmt: skip
    told = [worth for worth in known if worth is not None]
    return sum(told) if len(told) == len(known) else None


def _worth(taken: TakenPart, offered: OfferedPart | None) -> float | None:
    if taken.worth is not None or offered is None:
        return taken.worth
    return offered.worth_as(taken.tested)


def _fit(file: JobFile, taken: TakenPart) -> tuple[str, str]:
    """Price class and models that a part fits, both blank where nobody said."""
    told = file.intake.record
    if taken.whole_class:
        return told.tier, ""
    return "", taken.model.strip() or told.model
