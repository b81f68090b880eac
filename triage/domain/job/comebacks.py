"""Devices that come back under warranty: which ones count, and what may be done."""

from __future__ import annotations

from triage.domain.job.file import JobFile
from triage.domain.job.life import MOVE_WORDS, JobMove
from triage.domain.job.records import Comeback

# Faults of the shop's own work; only these count as comebacks in the chances.
COUNTED = ("same-fault", "our-damage", "dead-part")

_REMEDIES: dict[JobMove, tuple[str, ...]] = {
    "rework": ("rework",),
    "take-back": ("refund", "replacement"),
    # Sent back as it is: declined, refunded, or replaced by another unit.
    "send-back": ("declined", "refund", "replacement"),
}


def counts(comeback: Comeback) -> bool:
    """Whether a comeback is one of the shop's own work."""
    return comeback.kind in COUNTED


def comeback_refusals(file: JobFile, comeback: Comeback) -> tuple[str, ...]:
    """Why a comeback may not be recorded as it is."""
    refused = []
    if file.handovers and comeback.on < file.handovers[-1].record.on:
        refused.append("the comeback is dated before the device left: correct the date")
    if comeback.cost_minor < 0:
        refused.append("the cost of a comeback must be 0 or more")
    if comeback.remedy == "declined" and counts(comeback) and _under_warranty(file, comeback):
        refused.append("a fault of your own work under warranty cannot be declined")
    return tuple(refused)


def remedy_refusals(file: JobFile, move: JobMove) -> tuple[str, ...]:
    """Why a unit that came back may not take this way on."""
    if not file.comebacks:
        return ("record the comeback first",)
    remedy = file.comebacks[-1].record.remedy
    if remedy in _REMEDIES[move]:
        return ()
    if remedy == "open":
        return ("choose the remedy first: rework, refund, replacement or declined",)
    return (f'the remedy is {remedy}: it does not allow "{MOVE_WORDS[move]}"',)


def _under_warranty(file: JobFile, comeback: Comeback) -> bool:
    if not file.handovers:
        return True
    last = file.handovers[-1].record
    return (comeback.on - last.on).days <= last.warranty_days
