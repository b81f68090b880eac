"""Parts of a job: ordered, taken from the shelf, arrived, dead, claimed, fitted."""

from __future__ import annotations

from datetime import date

from triage.domain.job.file import JobFile
from triage.domain.job.part_orders import fate_refusals, order_refusals
from triage.domain.job.records import Kept, PartFate, PartOrdered
from triage.domain.job.shelf_rules import shelf_refusals
from triage.domain.shop.shelf import ShelfMove, ShelfMoved, ShelfPart
from triage.workflows.jobs.record_keeper import JobChange, RecordKeeper, refuse
from triage.workflows.jobs.stripping import shelve_order

SHELF = "own shelf"
# What the fate of a part from the shelf means there.
_ON_SHELF: dict[str, ShelfMove] = {
    "fitted": "fitted", "sent-back": "released", "dead-on-arrival": "scrapped", "lost": "scrapped",
}  # fmt: skip


def order_part(keeper: RecordKeeper, job: int, version: int, order: PartOrdered) -> JobFile:
    """Order a part from a source; one that cannot go back wants a deposit first."""
    with keeper.changing(job, version) as change:
        refused = list(order_refusals(change.file, order, keeper.catalogue))
        if order.shelf is not None:
            refused.append("a part on your own shelf is reserved, not ordered")
        refuse(refused)
        change.append(order)
        return change.now()


def reserve_part(
    keeper: RecordKeeper, job: int, version: int, shelf: int, on: date, pairing: str = ""
) -> JobFile:
    """Take a part of the shop's own shelf for a job; it is no longer on hand for any other.

    Parameters
    ----------
    pairing : who authorised pairing a paired part with this unit, and how.
    """
    with keeper.changing(job, version) as change:
        part = _shelf_part(change, shelf)
        took = ShelfMoved(shelf, "reserved", job, pairing)
        told = part.record
        order = PartOrdered(
            told.part, SHELF, told.cost_minor, grade=told.grade, shelf=shelf, worth_minor=told.worth_minor
        )
        refused = list(shelf_refusals(part, change.writing.shelf_moves(), took, pairing))
        if told.currency != change.file.currency:
            refused.append(
                f"the part's cost is in {told.currency}, but this job is in {change.file.currency}"
            )
        refuse([*refused, *order_refusals(change.file, order, keeper.catalogue)])
        change.writing.shelf_append(took)
        change.append(PartFate(change.append(order), on, "arrived"))
        return change.now()


def part_fate(keeper: RecordKeeper, job: int, version: int, fate: PartFate) -> JobFile:
    """Record what became of a part: arrived, dead, claimed, refunded, sent back, fitted, lost, shelved."""
    with keeper.changing(job, version) as change:
        refused = list(fate_refusals(change.file, fate))
        order = next((kept.record for kept in change.file.orders if kept.id == fate.order), None)
        if order is not None and order.shelf is not None and fate.fate in _ON_SHELF:
            part = _shelf_part(change, order.shelf)
            moved = ShelfMoved(order.shelf, _ON_SHELF[fate.fate], job, fate.note)
            # A fitted part that proves dead has left the shelf already.
            left = fate.fate == "dead-on-arrival" and _fitted(change, order.shelf)
            if not left:
                refused += shelf_refusals(part, change.writing.shelf_moves(), moved)
            refuse(refused)
            if not left:
                change.writing.shelf_append(moved)
        refuse(refused)
        change.append(fate)
        if fate.fate == "shelved":
            shelve_order(change, next(kept for kept in change.file.orders if kept.id == fate.order))
        return change.now()


def _shelf_part(change: JobChange, shelf: int) -> Kept[ShelfPart]:
    change.writing.claim_shelf(shelf)
    part = next((kept for kept in change.writing.shelf() if kept.id == shelf), None)
    refuse([] if part else ["this part is not on the shelf"])
    assert part is not None
    return part


def _fitted(change: JobChange, shelf: int) -> bool:
    return any(
        kept.record.shelf == shelf and kept.record.move == "fitted" for kept in change.writing.shelf_moves()
    )
