"""What may be corrected or removed in a job's record, and what stays as it was.

A correction is a new record with a reason; what it replaces stays in the
history of changes. What a later score is compared with - a decision, a
quote, a move, an owner's answer, the outcome of a round that has ended - is
never rewritten: a new entry records what happened next.
"""

from __future__ import annotations

from dataclasses import fields
from typing import Any

from triage.domain.catalogue import Catalogue
from triage.domain.data_job import CopyErased, DataAsked, DataEnded
from triage.domain.job.file import JobFile
from triage.domain.job.final_check import result_of
from triage.domain.job.records import (
    Answer,
    Attempt,
    CheckMade,
    Comeback,
    Decision,
    FoundDamage,
    HandOver,
    Intake,
    Kept,
    LineChecked,
    LookedInside,
    Moved,
    PartFate,
    PartOrdered,
    Payment,
    Photo,
    Place,
    QuoteGiven,
    Stop,
    StopResolved,
)
from triage.domain.shop.shelf import PartLeft, PartReturned

_NEVER = {
    Decision: "a decision cannot be corrected: decide again",
    QuoteGiven: "a quote that was given cannot be corrected: give a new one",
    DataAsked: "what a quote was based on cannot be corrected: give a new one",
}
# Fields that keep their first value: rules were checked against them.
_FIXED: dict[type, tuple[str, ...]] = {
    Moved: ("move", "state"),
    Answer: ("quote", "on", "yes", "ceiling_minor"),
    Attempt: ("finding", "round"),
    FoundDamage: ("kind", "known_at"),
    LineChecked: ("line", "unit", "sealed", "round"),
    PartOrdered: ("shelf",),
    PartFate: ("order", "fate"),
    HandOver: ("grade", "wiped"),
    Comeback: ("remedy",),
    Stop: ("about",),
    StopResolved: ("stop",),
    PartLeft: ("how", "shelf", "part", "cost_minor", "worth_minor"),
    PartReturned: ("left", "to"),
    DataEnded: ("erase_by",),
    CopyErased: ("on",),
}
# What may be removed as a mistake: nothing depends on it.
_MISTAKES = (CheckMade, LookedInside, FoundDamage, Attempt, Payment, PartOrdered, Photo, Place)


def correction_refusals(
    file: JobFile, kept: Kept[Any], new: Any, why: str, catalogue: Catalogue
) -> tuple[str, ...]:
    """Why a record of a job may not be corrected like this."""
    old, refused = kept.record, []
    if type(new) is not type(old):
        return ("a correction must be of the same kind as the entry",)
    if not why.strip():
        refused.append("enter the reason for the correction")
    if new == old:
        refused.append("the correction changes nothing")
    if type(old) in _NEVER:
        return (*refused, _NEVER[type(old)])
    changed = {item.name for item in fields(old) if getattr(old, item.name) != getattr(new, item.name)}
    for name in _FIXED.get(type(old), ()):
        if name in changed:
            said = name.removesuffix("_minor").replace("_", " ")
            refused.append(f"{said} cannot be corrected: record what happened as a new entry")
    if isinstance(old, Attempt) and old.round < file.round and changed & {"outcome", "method", "why_not"}:
        refused.append("the outcome of an earlier round cannot be corrected")
    if isinstance(old, Intake) and "description" in changed and file.moves:
        refused.append("the description at intake cannot be corrected: record later damage as new entries")
    if isinstance(old, LineChecked) and (line := catalogue.verifications.get(old.line)):
        if result_of(line, new.result, new.reading).result != new.result:
            refused.append("the reading is outside the limit: the line fails")
    return tuple(refused)


def withdrawal_refusals(file: JobFile, kept: Kept[Any], why: str) -> tuple[str, ...]:
    """Why a record of a job may not be removed as a mistake."""
    record, refused = kept.record, []
    if not why.strip():
        refused.append("enter the reason for the removal")
    if not isinstance(record, _MISTAKES):
        refused.append("this entry cannot be removed: record what happened as a new entry")
    if any(kept.id < back.id for back in file.comebacks):
        refused.append("an entry of an earlier round can be corrected, but not removed")
    if isinstance(record, FoundDamage) and any(a.record.finding == record.kind for a in file.attempts):
        refused.append("this damage has an attempt: remove the attempt first")
    if isinstance(record, PartOrdered) and any(fate.record.order == kept.id for fate in file.fates):
        refused.append("this part has a later status: its order cannot be removed")
    return tuple(refused)
