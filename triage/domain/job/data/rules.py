"""What must be asked before data are touched, how such a job ends, and when the shop's own copy is erased.

Local law and licensed practice come before all of it.
"""

from __future__ import annotations

from datetime import date, timedelta

from triage.domain.catalogue import Catalogue
from triage.domain.data_job import CopyErased, DataEnded, DataFacts
from triage.domain.job.file import JobFile
from triage.domain.job.owner_consent import standing_consent
from triage.domain.job.safety_facts import act_refusals

Refusals = tuple[str, ...]


def data_quote_refusals(facts: DataFacts) -> Refusals:
    """Why a quote to save data may not be given with what is known."""
    refused = []
    if facts.irreplaceable and facts.referral == "not-advised":
        refused.append(
            "the data are irreplaceable: advise a licensed data recovery practice first, and record the "
            "answer"
        )
    if facts.referral == "accepted":
        refused.append("the owner takes the device to a data recovery practice: decline the job")
    if facts.authority != "owner" and not facts.proof.strip():
        refused.append("enter what was shown of the right to the data; local law decides")
    if facts.ruled_out:
        refused.append("the data cannot be read here: refer the owner")
    return tuple(refused)


def data_end_refusals(file: JobFile, ended: DataEnded, copy_days: int, catalogue: Catalogue) -> Refusals:
    """Why the outcome of a data job may not be recorded like this.

    Parameters
    ----------
    copy_days : by the shop's settings, the longest that its own copy may be kept.
    """
    refused = []
    if file.data_job is None or standing_consent(file) is None:
        refused.append("the owner has not accepted a quote for saving data")
    if file.state != "in-work":
        refused.append("start work before you record what was saved")
    if file.data_ended:
        refused.append("the outcome is recorded already: correct it under History")
    if ended.minutes is not None and not 0 <= ended.minutes <= 10_000:
        refused.append("minutes must be between 0 and 10,000")
    if ended.outcome == "none":
        if not ended.failed_at:
            refused.append("choose why no data were saved")
        if ended.erase_by is not None:
            refused.append("no data were saved, so there is no copy to erase")
        return tuple(refused)
    if ended.failed_at:
        refused.append("data were saved: leave the reason for saving none blank")
    latest = ended.on + timedelta(days=copy_days)
    if ended.erase_by is not None and not ended.on <= ended.erase_by <= latest:
        refused.append(f"our copy must be erased by {latest:%d %b %Y} at the latest")
    powered = act_refusals(file, ("test",), catalogue)  # to be read, it was
    if powered:
        powered += ("record the look inside, or the cleaning, under Damage and repairs first",)
    return (*refused, *powered)


def copy_due(file: JobFile) -> date | None:
    """Day by which the shop's own copy must be erased; None where it holds none."""
    due = [kept.record.erase_by for kept in file.data_ended if kept.record.erase_by]
    return due[-1] if due and not file.copies_erased else None


def due_minor(file: JobFile) -> int | None:
    """What the owner owes for the outcome, minor units; None where there is none yet."""
    asked = file.data_job
    if asked is None or not file.data_ended:
        return None
    price = next(kept.record.price_minor for kept in file.quotes if kept.id == asked.quote)
    due = {"all": price, "part": asked.part_minor, "none": asked.fee_minor}
    return max(due[file.data_ended[-1].record.outcome], asked.fee_minor)


def erase_refusals(file: JobFile, erased: CopyErased) -> Refusals:
    """Why it may not be recorded that the shop's own copy was erased."""
    if copy_due(file) is None:
        return ("there is no copy of ours to erase",)
    refused = []
    if not erased.how.strip():
        refused.append("enter how the copy was erased, and what shows it")
    if erased.on < file.data_ended[-1].record.on:
        refused.append("the copy cannot have been erased before it was made: correct the date")
    return tuple(refused)


def not_ended(file: JobFile) -> Refusals:
    """That an accepted data job has no outcome yet."""
    if file.data_job is None or file.data_ended or standing_consent(file) is None:
        return ()
    return ("record first what was saved: all, part or none of the data",)
