"""What may be corrected in a job's record, and what stands as it was.

A correction is a new record with a reason; nothing is removed. What a later
judgement is held against - a decision, a quote, a move, the outcome of a round
that has ended - is never rewritten.
"""

from __future__ import annotations

from dataclasses import fields
from typing import Any

from triage.domain.job_record import Answer, Attempt, Decision, Intake, JobFile, Kept, Moved, QuoteGiven

_NEVER = {
    Decision: "what stood behind a decision is not rewritten: decide again",
    QuoteGiven: "a quote that was given is not rewritten: give a new one",
}
# Fields that keep what they said when they were first written.
_FIXED = {
    Moved: ("move", "state"),
    Answer: ("quote", "yes"),
    Attempt: ("finding", "round"),
}


def correction_refusals(file: JobFile, kept: Kept[Any], new: Any, why: str) -> tuple[str, ...]:
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
            refused.append(f"{name.replace('_', ' ')} is not corrected: write down what happened instead")
    if isinstance(old, Attempt) and old.round < file.round and changed & {"outcome", "method", "why_not"}:
        refused.append("the outcome of a round that ended is not rewritten by what came after")
    if isinstance(old, Intake) and "description" in changed and file.moves:
        refused.append("what was judged at intake stands: write down what was found later")
    return tuple(refused)
