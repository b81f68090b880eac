"""What a shop writes down about a job: one frozen record a fact.

Money is integer minor units of the job's currency (`*_minor`). A record is never changed: a correction is a
new one, with who wrote it, when, and what it replaces. `on` is the day a thing happened.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime
from typing import Generic, Literal, TypeVar

from triage.domain.job.life import JobMove, JobState, WaitFor

Record = TypeVar("Record")
BackedUp = Literal["yes", "no", "not-known"]
KnownAt = Literal["intake", "opening", "test"]
LineResult = Literal["pass", "fail", "cannot"]
LookDepth = Literal["opened", "board-out", "shields-off"]
Outcome = Literal["fixed", "not-fixed", "not-attempted"]
Purpose = Literal["purchase", "deposit", "diagnostic-fee", "repair", "sale", "refund", "fee", "other"]
Grade = Literal["working", "downgraded", "unfixed", "parts"]
_Fate = Literal["arrived", "dead-on-arrival", "claimed", "refunded", "sent-back", "fitted", "lost"]
Fate = Literal[_Fate, Literal["cancelled", "shelved"]]
ComebackKind = Literal["same-fault", "our-damage", "dead-part", "new-damage", "no-fault-found"]
Remedy = Literal["rework", "refund", "replacement", "declined", "open", "not-told"]


@dataclass(frozen=True)
class Kept(Generic[Record]):
    """A record as it stands in the ledger.

    id : stays the same through corrections, and is what other records refer
    to; ids grow in order of first writing. entry : number of the entry that
    stands now (equal to `id` until corrected). at : when that was written, UTC.
    why : reason of a correction.
    """

    id: int
    at: datetime
    by: str
    record: Record
    entry: int = 0
    why: str = ""

    @property
    def corrected(self) -> bool:
        """Whether the record was corrected since it was first written."""
        return self.entry > self.id


@dataclass(frozen=True)
class PersonForgotten:
    """That who the people of a job were was erased: names, contacts, what they showed, the passcode.

    why : asked for, or the time that they are kept was over.
    """

    on: date
    why: str = ""


# -- intake ------------------------------------------------------------------------
@dataclass(frozen=True)
class Intake:
    """How a unit came in; `description` is the unit file text as it was judged then.

    data : whether what is on it is wanted. backed_up : whether the person says
    a copy exists. battery_looked_at : a look at the battery came before
    anything else. consents : what the person agreed to, in words of the form
    they saw. person, contact : seller or owner. imported_from : the file that
    told of a past job, "" for one taken in here; not_told : columns it left
    blank and the record had to fill, joined by ";". serial_numbers : serial
    number and IMEI, which tell whose device it is.
    """

    on: date
    description: str
    name: str = ""
    tier: str = ""
    model: str = ""
    cause: str = ""
    technician: str = ""
    ask_minor: int | None = None
    working_price_minor: int | None = None
    person: str = ""
    contact: str = ""
    identity_shown: str = ""
    came_with: str = ""
    data: Literal["wanted", "not-wanted", "not-asked"] = "not-asked"
    backed_up: BackedUp = "not-known"
    battery_looked_at: bool = False
    consents: str = ""
    promised_for: date | None = None
    imported_from: str = ""
    not_told: str = ""
    serial_numbers: str = ""


@dataclass(frozen=True)
class FoundDamage:
    """One damage on the unit; intake_severity is its grade at intake, where the bench found another."""

    kind: str
    severity: int = 2
    zone: str = ""
    chance: float = 1.0
    known_at: KnownAt = "intake"
    note: str = ""
    intake_severity: int | None = None


@dataclass(frozen=True)
class CheckMade:
    """A check and what it said; minutes spent on it."""

    check: str
    found: bool
    minutes: float | None = None
    note: str = ""


@dataclass(frozen=True)
class LookedInside:
    """A look inside: hidden faults found, joined by ";"; without one they are unknown, not absent.

    depth : how far apart, None where not further than for work. suspected : the reason; None is not told.
    """

    found: str = ""
    depth: LookDepth | None = None
    suspected: bool | None = None


@dataclass(frozen=True)
class Stop:
    """A reason why nothing may go on: ownership, cell, listed number, missing proof."""

    reason: str
    about: Literal["ownership", "battery", "data", "money", "other"] = "other"


@dataclass(frozen=True)
class StopResolved:
    """How a stop was resolved, and by whom (the keeper of the record)."""

    stop: int
    how: str


@dataclass(frozen=True)
class Place:
    """Where the unit is now: a shelf, the isolation box."""

    where: str


@dataclass(frozen=True)
class Photo:
    """A photograph: path inside the shop's photo folder, SHA-256 of its bytes."""

    path: str
    sha256: str
    caption: str = ""


# -- decision, quote, answer ---------------------------------------------------------
@dataclass(frozen=True)
class Decision:
    """The answer that stood behind a decision, so that it can be judged later.

    posterior : its id (manifest folder or digest); priors : hash of the belief
    set. chances : JSON object, finding kind -> chance of success as then
    stated. dots : JSON list of 20 equally likely margins, money minor.
    forecast : JSON of what else a later score needs (severity, interval, plan; `promise` as in
    `policy.promise.Promise`, absent in decisions of before it was kept).
    """

    verdict: str
    posterior: str
    priors: str
    program: str
    description: str
    price_minor: int | None = None
    limit_minor: int | None = None
    margin_minor: int | None = None
    minutes: float | None = None
    losses_in_20: int | None = None
    chances: str = "{}"
    dots: str = "[]"
    forecast: str = "{}"


@dataclass(frozen=True)
class QuoteGiven:
    """A quote put to an owner. `number` counts versions within the job.

    ceiling_minor : the most the owner may owe without being asked again.
    covers : JSON list of finding kinds it covers. letter : the letter's text or
    hash of its PDF.
    """

    number: int
    on: date
    price_minor: int
    ceiling_minor: int
    valid_until: date
    covers: str = "[]"
    letter: str = ""


@dataclass(frozen=True)
class Answer:
    """An owner's answer to a quote. No reply is not a yes."""

    quote: int
    on: date
    yes: bool
    who: str
    how: str
    ceiling_minor: int = 0


# -- work --------------------------------------------------------------------------
@dataclass(frozen=True)
class Attempt:
    """One damage worked on, or not: one record a try. Kinds closed by one repair share its `method`.

    round : 0 in the first life of a job, 1 after its first comeback; nothing later rewrites
    round 0. shelf_minor : worth of own parts used, where a file of past jobs told it.
    """

    finding: str
    outcome: Outcome
    method: str = ""
    why_not: str = ""
    minutes: float | None = None
    parts_minor: int | None = None
    book_minor: int | None = None
    technician: str = ""
    round: int = 0
    shelf_minor: int | None = None


@dataclass(frozen=True)
class LineChecked:
    """One line of the final check. `reading` only where the line is measured, with its unit.

    result : "pass", "fail", or "cannot" (cannot be tested here). sealed : after
    the unit was sealed. round : as for attempts.
    """

    line: str
    result: LineResult
    reading: float | None = None
    unit: str = ""
    sealed: bool = False
    round: int = 0
    note: str = ""


# -- parts -------------------------------------------------------------------------
@dataclass(frozen=True)
class PartOrdered:
    """A part bought for a job, or taken from the shelf (`shelf` is its id there).

    returnable_until : None when it cannot go back. worth_minor : of a shelf part, as in `ShelfPart`.
    """

    part: str
    source: str
    cost_minor: int
    tax_minor: int = 0
    grade: str = ""
    returnable_until: date | None = None
    due: date | None = None
    shelf: int | None = None
    worth_minor: int | None = None


@dataclass(frozen=True)
class PartFate:
    """What became of an ordered part."""

    order: int
    on: date
    fate: Fate
    refund_minor: int = 0
    note: str = ""


# -- money and the end ---------------------------------------------------------------
@dataclass(frozen=True)
class Payment:
    """A payment. Positive is received, negative is paid out."""

    purpose: Purpose
    amount_minor: int
    on: date
    note: str = ""


@dataclass(frozen=True)
class HandOver:
    """A sale or a return: as what, what was disclosed, to whom, under which warranty.

    wiped : how what was on it was erased, and what shows it.
    """

    on: date
    grade: Grade
    disclosure: str = ""
    warranty_days: int = 0
    person: str = ""
    wiped: str = ""


@dataclass(frozen=True)
class Comeback:
    """A unit returned under warranty, and what was done about it."""

    on: date
    kind: ComebackKind
    remedy: Remedy = "open"
    cost_minor: int = 0
    note: str = ""


@dataclass(frozen=True)
class LaterFate:
    """What became of a unit the shop did not take, where that is known: its margin elsewhere."""

    margin_minor: int
    source: str


@dataclass(frozen=True)
class Moved:
    """One move in the life of a job, and the state it led to.

    worth_minor, minutes : of stripping: worth of its parts, and how long it took; None is not known.
    """

    move: JobMove
    state: JobState
    on: date
    wait_for: WaitFor | None = None
    note: str = ""
    worth_minor: int | None = None
    minutes: float | None = None
