"""What may be corrected or taken out of a job's record, and what stands as it was.

A correction is a new record with a reason; what it replaces stays in the
history of changes. What a later judgement is held against - a decision, a
quote, a move, an owner's answer, the outcome of a round that has ended - is
never rewritten: what happened next is written down instead.
"""

from __future__ import annotations

from dataclasses import fields
from typing import Any

from triage.domain.catalogue import Catalogue
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

_NEVER = {
    Decision: "what stood behind a decision is not rewritten: decide again",
    QuoteGiven: "a quote that was given is not rewritten: give a new one",
}
# Fields that keep what they said when they were first written: rules were held against them.
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
}
# What may be taken out as a mistake: nothing hangs on it.
_MISTAKES = (CheckMade, LookedInside, FoundDamage, Attempt, Payment, PartOrdered, Photo, Place)


def correction_refusals(
    file: JobFile, kept: Kept[Any], new: Any, why: str, catalogue: Catalogue
) -> tuple[str, ...]:
    """Why a record of a job may not be corrected like this."""
    old, refused = kept.record, []
    if type(new) is not type(old):
        return ("a correction says the same kind of thing as what it corrects",)
    if not why.strip():
        refused.append("say why it is corrected")
    if new == old:
        refused.append("nothing is changed")
    if type(old) in _NEVER:
        return (*refused, _NEVER[type(old)])
    changed = {item.name for item in fields(old) if getattr(old, item.name) != getattr(new, item.name)}
    for name in _FIXED.get(type(old), ()):
        if name in changed:
            said = name.removesuffix("_minor").replace("_", " ")
            refused.append(f"{said} is not corrected: write down what happened instead")
    if isinstance(old, Attempt) and old.round < file.round and changed & {"outcome", "method", "why_not"}:
        refused.append("the outcome of a round that ended is not rewritten by what came after")
    if isinstance(old, Intake) and "description" in changed and file.moves:
        refused.append("what was judged at intake stands: write down what was found later")
    if isinstance(old, LineChecked) and (line := catalogue.verifications.get(old.line)):
        if result_of(line, new.result, new.reading).result != new.result:
            refused.append("its reading is outside the limit: it does not pass")
    return tuple(refused)


def withdrawal_refusals(file: JobFile, kept: Kept[Any], why: str) -> tuple[str, ...]:
    """Why a record of a job may not be taken out as a mistake."""
    record, refused = kept.record, []
    if not why.strip():
        refused.append("say why it is taken out")
    if not isinstance(record, _MISTAKES):
        refused.append("this is not taken out: write down what happened instead")
    if any(kept.id < back.id for back in file.comebacks):
        refused.append("a record of a round that ended is corrected, never taken out")
    if isinstance(record, FoundDamage) and any(a.record.finding == record.kind for a in file.attempts):
        refused.append("it was worked on: take out that work first")
    if isinstance(record, PartOrdered) and any(fate.record.order == kept.id for fate in file.fates):
        refused.append("something became of this part already: it was ordered")
    return tuple(refused)
