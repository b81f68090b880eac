"""How pages, documents and the terminal name what is known of a data job, and how it ends."""

from __future__ import annotations

from triage.domain.counts import in_twenty
from triage.domain.data_job import Authority, Backup, DataOutcome, FailedAt, Known, Referral, Touch
from triage.domain.money import money_text
from triage.policy.data_job.chances import DataChances
from triage.policy.data_job.quote import FeeWay

BACKUP: dict[Backup, str] = {"yes": "yes", "no": "no", "not-known": "not known"}
AUTHORITY: dict[Authority, str] = {
    "owner": "the owner",
    "estate": "the estate of an owner who died",
    "other": "somebody else",
}
REFERRAL: dict[Referral, str] = {
    "not-advised": "not advised yet",
    "declined": "advised, declined: we are to try",
    "accepted": "advised, accepted: it goes there",
}
KNOWN: dict[Known, str] = {"yes": "yes", "no": "no", "not-known": "not known"}
TOUCH: dict[Touch, str] = {
    "works": "works",
    "donor": "fails, donor display at hand",
    "no": "fails, no donor display",
    "not-known": "not known",
}
OUTCOME: dict[DataOutcome, str] = {"all": "all saved", "part": "part saved", "none": "none saved"}
FAILED: dict[FailedAt, str] = {
    "chips": "processor and storage not together",
    "board": "board could not be made to run",
    "touch": "no way to enter the code",
    "code": "code not known",
    "reading": "read, but nothing usable",
    "stopped": "stopped before that showed",
}


def chance_words(chances: DataChances) -> str:
    """Chance of each outcome, in counts of 20, and of the board."""
    whole, part, none = (in_twenty(chances.of(outcome)) for outcome in ("all", "part", "none"))
    return f"Saved: all {whole}, part {part}, none {none}; board can be read {in_twenty(chances.board)}"


def way_words(way: FeeWay, currency: str) -> str:
    """What one fee for trying asks of the price."""
    start = f"Fee for trying {money_text(way.fee, currency)}" if way.fee else "No data, no fee"
    if way.least is None:
        return f"{start}: no price meets your rule; it would lose money in {way.losses_in_20} of 20"
    return f"{start}: lowest quote {money_text(way.least, currency)}; risk of loss {way.losses_in_20} in 20"
