"""How a job ends: sold, given back, stripped for the shelf, disposed of, left uncollected."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date

from triage.domain.job.ending import (
    dispose_refusals,
    hold_refusals,
    return_refusals,
    sale_refusals,
    strip_refusals,
)
from triage.domain.job.file import JobFile
from triage.domain.job.records import HandOver, Payment
from triage.domain.job.rules import move_refusals
from triage.domain.job.shelf_rules import cost_shares
from triage.domain.money import to_minor
from triage.domain.shop.shelf import ShelfPart
from triage.workflows.jobs.record_keeper import JobChange, RecordKeeper, own_up, refuse


@dataclass(frozen=True)
class TakenPart:
    """A part taken off a unit for the shelf.

    worth : what it would cost to buy, major units; by the price book when None.
    """

    part: str
    tested: bool = False
    grade: str = ""
    bin: str = ""
    worth: float | None = None


def sell(
    keeper: RecordKeeper, job: int, version: int, handover: HandOver, price_minor: int, notice: str = ""
) -> JobFile:
    """Sell a unit; its passcode is forgotten.

    Parameters
    ----------
    notice : the lawful notice given to the owner of a unit that nobody fetched.
    """
    with keeper.changing(job, version) as change:
        refused = list(sale_refusals(change.file, handover, notice, keeper.catalogue))
        refused += hold_refusals(change.file, handover.on, keeper.shop.settings.hold_days)
        refuse(refused if price_minor >= 0 else [*refused, "enter a price of 0 or more"])
        change.append(handover)
        change.append(Payment("sale", price_minor, handover.on))
        change.move("sell", handover.on, note=notice)
        change.let_go(handover.on)
        return change.now()


def give_back(
    keeper: RecordKeeper, job: int, version: int, handover: HandOver, fixed: bool, paid_minor: int = 0
) -> JobFile:
    """Hand a unit back to its owner, fixed or not; its passcode is forgotten.

    Parameters
    ----------
    paid_minor : what the owner pays now for the repair.
    """
    with keeper.changing(job, version) as change:
        refuse(return_refusals(change.file, handover, fixed, keeper.catalogue))
        own_up(change)
        change.append(handover)
        if paid_minor:
            change.append(Payment("repair", paid_minor, handover.on))
        change.move("return-fixed" if fixed else "return-unfixed", handover.on)
        change.let_go(handover.on)
        return change.now()


def strip(
    keeper: RecordKeeper, job: int, version: int, on: date, parts: Iterable[TakenPart], note: str = ""
) -> JobFile:
    """Strip a unit: its parts go on the shelf, and their costs sum to what was paid for it."""
    with keeper.changing(job, version) as change:
        parts = tuple(parts)
        refused = list(strip_refusals(change.file, tuple(taken.part for taken in parts), keeper.catalogue))
        refuse([*refused, *hold_refusals(change.file, on, keeper.shop.settings.hold_days)])
        intake = change.file.intake.record
        paid = -sum(k.record.amount_minor for k in change.file.payments if k.record.purpose == "purchase")
        worths = _worths(change, parts)
        shares = cost_shares(paid, [worth or 0.0 for worth in worths])
        currency = change.file.currency
        known = [None if worth is None else to_minor(worth, currency) for worth in worths]
        for taken, cost, worth in zip(parts, shares, known, strict=True):
            change.writing.shelf_append(
                ShelfPart(
                    taken.part,
                    cost,
                    change.file.currency,
                    donor=job,
                    tier=intake.tier,
                    model=intake.model,
                    grade=taken.grade,
                    tested=taken.tested,
                    paired=keeper.catalogue.parts[taken.part].paired,
                    bin=taken.bin,
                    worth_minor=worth,
                )
            )
        own_up(change)
        told = [worth for worth in known if worth is not None]
        change.move("strip", on, note=note, worth_minor=sum(told) if len(told) == len(known) else None)
        change.let_go(on)
        return change.now()


def dispose(
    keeper: RecordKeeper, job: int, version: int, on: date, note: str = "", notice: str = ""
) -> JobFile:
    """Dispose of a unit as local rules say."""
    with keeper.changing(job, version) as change:
        refuse(dispose_refusals(change.file, notice, keeper.catalogue))
        own_up(change)
        change.move("dispose", on, note="; ".join(filter(None, (notice, note))))
        change.let_go(on)
        return change.now()


def leave_uncollected(keeper: RecordKeeper, job: int, version: int, on: date, note: str) -> JobFile:
    """Record that a unit is uncollected, and how its owner was asked to collect it."""
    with keeper.changing(job, version) as change:
        refused = list(move_refusals(change.file, "leave-uncollected", keeper.catalogue))
        refuse(
            refused if note.strip() else [*refused, "enter how and when the owner was asked to collect it"]
        )
        change.move("leave-uncollected", on, note=note)
        return change.now()


def _worths(change: JobChange, parts: tuple[TakenPart, ...]) -> list[float | None]:
    """What each part would cost to buy; None where the price book does not know it."""
    prices, intake = change.keeper.shop.prices, change.file.intake.record
    found = [prices.price(taken.part, intake.tier, intake.model) for taken in parts]
    return [price if taken.worth is None else taken.worth for taken, price in zip(parts, found, strict=True)]
