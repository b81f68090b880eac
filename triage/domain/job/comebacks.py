"""Units that come back under warranty: which ones count, what may be done, and what stays as it was."""

from __future__ import annotations

from triage.domain.job.file import JobFile
from triage.domain.job.life import JobMove
from triage.domain.job.records import Comeback

# What the shop's own work led to; only these say anything of how well it holds.
COUNTED = ("same-fault", "our-damage", "dead-part")

_REMEDIES: dict[JobMove, tuple[str, ...]] = {
    "rework": ("rework",),
    "take-back": ("refund", "replacement"),
    # What is sent back as it is was declined, or was put right with money or another unit.
    "send-back": ("declined", "refund", "replacement"),
}


def counts(comeback: Comeback) -> bool:
    """Whether a comeback is one of the shop's own work."""
    return comeback.kind in COUNTED


def comeback_refusals(file: JobFile, comeback: Comeback) -> tuple[str, ...]:
    """Why a comeback may not be written down as it is."""
    refused = []
    if file.handovers and comeback.on < file.handovers[-1].record.on:
        refused.append("it came back before it was handed over")
    if comeback.cost_minor < 0:
        refused.append("a comeback costs nothing or more")
    if comeback.remedy == "declined" and counts(comeback) and _under_warranty(file, comeback):
        refused.append("a fault of the shop's own work under warranty cannot be declined")
    return tuple(refused)


def remedy_refusals(file: JobFile, move: JobMove) -> tuple[str, ...]:
    """Why a unit that came back may not take this way on."""
    if not file.comebacks:
        return ("write down what it came back for first",)
    remedy = file.comebacks[-1].record.remedy
    if remedy in _REMEDIES[move]:
        return ()
    if remedy == "open":
        return ("decide first what is done about it: rework, refund, replacement or declined",)
    return (f"what was decided is {remedy}: that is not the way to {move}",)


def _under_warranty(file: JobFile, comeback: Comeback) -> bool:
    if not file.handovers:
        return True
    last = file.handovers[-1].record
    return (comeback.on - last.on).days <= last.warranty_days
