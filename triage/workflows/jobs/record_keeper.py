"""Acts on the record of the shop: each is one transaction, checked by the rules of a job.

An act names the version of the job that its author saw. It is refused with all
its reasons at once, and then nothing is written. The acts are in `job_intake`,
`job_quotes`, `job_work`, `job_parts`, `job_end` and `job_comeback`.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, replace
from datetime import date
from typing import Any

from triage.domain.catalogue import Catalogue
from triage.domain.job.corrections import correction_refusals, withdrawal_refusals
from triage.domain.job.file import JobFile
from triage.domain.job.final_check import repair_tried, to_do_again
from triage.domain.job.life import JobMove, WaitFor, after
from triage.domain.job.part_orders import fate_of
from triage.domain.job.records import FoundDamage, Intake, Kept, Moved, PartFate, Photo, Place, Stop
from triage.domain.job.rules import data_stops, move_refusals
from triage.domain.shop.shelf import ShelfMoved
from triage.errors import JobRuleError
from triage.ledger.record import Ledger, Writing
from triage.ledger.tables import OF_A_JOB
from triage.workflows.shop.shop import Shop


@dataclass(frozen=True)
class RecordKeeper:
    """One person at the shop's record. label_prefix : of labels given to new jobs."""

    ledger: Ledger
    shop: Shop
    by: str
    label_prefix: str = "J"

    @property
    def catalogue(self) -> Catalogue:
        """The shop's catalogue."""
        return self.shop.catalogue

    @contextmanager
    def writing(self) -> Iterator[Writing]:
        """One transaction in this person's name."""
        refuse([] if self.by.strip() else ["enter your name: every entry is saved with a name"])
        with self.ledger.writing(by=self.by) as writing:
            yield writing

    @contextmanager
    def changing(self, job: int, version: int) -> Iterator[JobChange]:
        """One transaction on a job that is still as it was at `version`.

        Raises
        ------
        LedgerConflictError : somebody changed the job since; nothing is written.
        """
        with self.writing() as writing:
            writing.expect(job, version)
            yield JobChange(self, writing, writing.job(job))


@dataclass
class JobChange:
    """A job being changed: the transaction, and the file as it was before."""

    keeper: RecordKeeper
    writing: Writing
    file: JobFile

    def append(self, record: Any) -> int:
        """Write a record about the job; return its id."""
        return self.writing.append(self.file.id, record)

    def move(
        self,
        move: JobMove,
        on: date,
        wait_for: WaitFor | None = None,
        note: str = "",
        worth_minor: int | None = None,
        minutes: float | None = None,
    ) -> None:
        """Write a move that the rules have let pass."""
        state = after(self.file.state, move, self.file.route)
        assert state is not None
        self.append(Moved(move, state, on, wait_for, note, worth_minor, minutes))

    def let_go(self, on: date) -> None:
        """The unit leaves: forget its passcode, put what was reserved and not fitted back on the shelf."""
        if self.file.has_passcode:
            self.writing.erase_passcode(self.file.id)
        for order in self.file.orders:
            if order.record.shelf is not None and fate_of(self.file, order.id) == "arrived":
                self.append(PartFate(order.id, on, "sent-back"))
                self.writing.shelf_append(ShelfMoved(order.record.shelf, "released", self.file.id))

    def now(self) -> JobFile:
        """The file with what was written."""
        return self.writing.job(self.file.id)


def refuse(refusals: Iterable[str]) -> None:
    """Raise `JobRuleError` with every reason, each once, if there is any."""
    reasons = tuple(dict.fromkeys(refusals))
    if reasons:
        raise JobRuleError(reasons)


def move(
    keeper: RecordKeeper,
    job: int,
    version: int,
    move: JobMove,
    on: date,
    wait_for: WaitFor | None = None,
    note: str = "",
) -> JobFile:
    """Start, wait, resume, verify, reopen, make ready, reconsider: a move with nothing else to it.

    note : for a job that waits for a tool, which; for a final check with failed
        lines, why they stay so.
    """
    with keeper.changing(job, version) as change:
        refuse(move_refusals(change.file, move, keeper.catalogue, wait_for, note))
        if move == "verify":
            own_up(change)
        change.move(move, on, wait_for, note)
        return change.now()


def own_up(change: JobChange) -> None:
    """A repair whose final check stays failed did not close its damage: so it is learned from."""
    names = change.keeper.catalogue.verifications
    again = to_do_again(change.file, change.keeper.catalogue)
    for kept in change.file.attempts:
        attempt, repair = kept.record, repair_tried(kept.record, change.keeper.catalogue)
        if attempt.outcome != "fixed" or attempt.round != change.file.round or repair is None:
            continue
        if repair.slug in again:
            why = "failed its final check: " + ", ".join(names[line].name for line in again[repair.slug])
            not_fixed = replace(attempt, outcome="not-fixed")
            change.writing.append(change.file.id, not_fixed, replaces=kept.id, why=why)


def add_entry(keeper: RecordKeeper, job: int, version: int, record: Place | Photo | Stop) -> JobFile:
    """Keep a place, a photograph or a stop: what no rule guards."""
    assert isinstance(record, Place | Photo | Stop), "other records need their own act"
    with keeper.changing(job, version) as change:
        change.append(record)
        return change.now()


def correct(keeper: RecordKeeper, job: int, version: int, id: int, why: str, **changed: Any) -> JobFile:
    """Correct fields of a record; what it said before stays in the history of changes.

    An intake that now wants data without a copy stops the job, as it would have from the start.

    Parameters
    ----------
    id : of the record. changed : its new values, by name of the field.
    """
    with keeper.changing(job, version) as change:
        kept = record_of(change.file, id)
        new = _both_grades(change.file, kept.record, replace(kept.record, **changed))
        refuse(correction_refusals(change.file, kept, new, why, keeper.catalogue))
        change.writing.append(job, new, replaces=id, why=why)
        if isinstance(new, Intake) and not data_stops(kept.record):
            for stop in data_stops(new):
                change.append(stop)
        return change.now()


def _both_grades(file: JobFile, old: Any, new: Any) -> Any:
    """A damage whose grade the bench corrects keeps its grade at intake: forecasts were made from that."""
    begun = any(kept.record.move == "start" for kept in file.moves)
    if (
        not isinstance(new, FoundDamage)
        or not begun
        or new.known_at != "intake"
        or new.severity == old.severity
    ):
        return new
    first = old.severity if old.intake_severity is None else old.intake_severity
    return replace(new, intake_severity=first)


def withdraw(keeper: RecordKeeper, job: int, version: int, id: int, why: str) -> JobFile:
    """Take a mistaken record out of what stands; it stays in the history of changes."""
    with keeper.changing(job, version) as change:
        refuse(withdrawal_refusals(change.file, record_of(change.file, id), why))
        change.writing.withdraw(job, id, why)
        return change.now()


def record_of(file: JobFile, id: int) -> Kept[Any]:
    """The record of a job with this id."""
    for name in OF_A_JOB:
        held = getattr(file, name)
        for kept in (held,) if isinstance(held, Kept) else held:
            if kept.id == id:
                return kept
    raise JobRuleError(["this job has no such entry"])
