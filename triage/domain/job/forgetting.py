"""When personal data of a job may be erased: once the device has left the shop."""

from __future__ import annotations

from triage.domain.job.file import JobFile
from triage.domain.job.life import ENDED, STATE_WORDS
from triage.domain.job.rules import Refusals


def people_in(file: JobFile) -> bool:
    """Whether the record holds personal data or a passcode."""
    told = file.intake.record
    return bool(
        told.person
        or told.contact
        or told.identity_shown
        or told.serial_numbers
        or file.has_passcode
        or any(kept.record.who for kept in file.answers)
        or any(kept.record.person for kept in file.handovers)
        or any(kept.record.person for kept in file.parts_left)
        or any(kept.record.proof or kept.record.matters for kept in file.data_asked)
        or any(kept.record.saved for kept in file.data_ended)
    )


def forget_refusals(file: JobFile, why: str) -> Refusals:
    """Why personal data of a job may not be erased now."""
    refused = []
    if file.state not in ("declined", *ENDED):
        refused.append(f"the job is {STATE_WORDS[file.state]} and still needs its owner: close it first")
    if not people_in(file):
        refused.append("the job holds no personal data")
    if not why.strip():
        refused.append("enter the reason, such as on request or retention time is over")
    return tuple(refused)
