"""When the people of a job may be forgotten: once their device is not here any more."""

from __future__ import annotations

from triage.domain.job.file import JobFile
from triage.domain.job.life import ENDED
from triage.domain.job.rules import Refusals


def people_in(file: JobFile) -> bool:
    """Whether the record says of anybody who they are, or keeps a code of theirs."""
    told = file.intake.record
    return bool(
        told.person
        or told.contact
        or told.identity_shown
        or told.serial_numbers
        or file.has_passcode
        or any(kept.record.who for kept in file.answers)
        or any(kept.record.person for kept in file.handovers)
    )


def forget_refusals(file: JobFile, why: str) -> Refusals:
    """Why the people of a job may not be forgotten now."""
    refused = []
    if file.state not in ("declined", *ENDED):
        refused.append(f"a job that is {file.state} needs to know whose the device is: end it first")
    if not people_in(file):
        refused.append("the record says of nobody who they are")
    if not why.strip():
        refused.append("say why: asked for, or the time that it is kept is over")
    return tuple(refused)
