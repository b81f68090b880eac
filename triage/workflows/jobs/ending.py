"""How a job ends: sold, given back, disposed of, left uncollected. Stripping is in `stripping`."""

from __future__ import annotations

from datetime import date

from triage.domain.job.ending import (
    dispose_refusals,
    hold_refusals,
    return_refusals,
    sale_refusals,
)
from triage.domain.job.file import JobFile
from triage.domain.job.records import HandOver, Payment
from triage.domain.job.rules import move_refusals
from triage.workflows.jobs.record_keeper import RecordKeeper, own_up, refuse


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
