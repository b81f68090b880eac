"""Personal data of a job are erased, in notes and descriptions too."""

from __future__ import annotations

from contextlib import suppress
from dataclasses import dataclass, replace
from datetime import date, timedelta
from pathlib import Path

from triage.domain.job.file import JobFile
from triage.domain.job.forgetting import forget_refusals, people_in
from triage.domain.job.records import PersonForgotten
from triage.errors import LedgerError
from triage.workflows.jobs.erasure_list import (
    copy_list,
    erasure_list,
    note_buyer_erased,
    note_erased,
    sweep,
)
from triage.workflows.jobs.record_keeper import RecordKeeper, refuse

# What an erasure does not reach, in words for the bench.
NOT_REACHED = (
    "older backups (the last 14 daily ones stay; if restored here, they are erased again); "
    "tables exported earlier; documents printed or saved; photographs; names in notes and descriptions that "
    "are spelled differently from the record"
)
_SERVERS_OWN = (
    "the server's write-ahead files and own backups, until they are overwritten: ask its administrator"
)


@dataclass(frozen=True)
class Forgotten:
    """What an erasure did. not_reached : copies that it does not reach, a sentence's part each."""

    job: JobFile
    not_reached: tuple[str, ...]


def forget_person(keeper: RecordKeeper, job: int, version: int, on: date, why: str) -> Forgotten:
    """Erase names, contacts, what was shown and the passcode of a job, its corrections included.

    What law may require to be kept, such as a dealer's register or an invoice, is kept elsewhere.

    Raises
    ------
    JobRuleError : the device is still here, or there is nobody to forget.
    """
    with keeper.changing(job, version) as change:
        refuse(forget_refusals(change.file, why))
        # On the list first: should the power fail now, it is erased when a copy is put back.
        listed = erasure_list(keeper.ledger.engine.url)
        note_erased(listed, change.file)
        erased = change.writing.forget_people(job)
        change.append(PersonForgotten(on, why.strip()))
        now = change.now()
    sweep(keeper.ledger, erased)
    if folder := keeper.shop.settings.backup_folder:
        with suppress(LedgerError):  # a folder that is away now gets the list with its next daily copy
            copy_list(listed, Path(folder).expanduser())
    own = (_SERVERS_OWN,) if keeper.ledger.engine.dialect.name == "postgresql" else ()
    return Forgotten(now, (NOT_REACHED, *own))


def forget_buyer(keeper: RecordKeeper, sale: int, why: str) -> None:
    """Erase who bought a part that was bought to stock; of any other part that is done with its job.

    Raises
    ------
    JobRuleError : there is no such sale, or nobody to forget.
    """
    with keeper.writing() as writing:
        kept = next((kept for kept in writing.parts_left() if kept.id == sale and kept.record.person), None)
        refuse([] if kept else ["this sale holds no buyer"])
        refuse([] if why.strip() else ["enter the reason, such as on request or retention time is over"])
        assert kept is not None
        listed = erasure_list(keeper.ledger.engine.url)
        note_buyer_erased(listed, kept)
        erased = writing.forget_buyer(sale)
        anonymous = replace(kept.record, person="", note="")
        writing.shelf_append(anonymous, replaces=sale, why=f"buyer erased: {why.strip()}")
    sweep(keeper.ledger, erased)
    if folder := keeper.shop.settings.backup_folder:
        with suppress(LedgerError):
            copy_list(listed, Path(folder).expanduser())


def people_due(keeper: RecordKeeper) -> tuple[JobFile, ...]:
    """Ended jobs whose people are kept longer than the settings say; none where they say nothing."""
    days = keeper.shop.settings.keep_people_days
    if not days:
        return ()
    last = keeper.shop.today - timedelta(days=days)
    with keeper.ledger.reading() as reading:
        return tuple(
            file
            for file in reading.jobs()
            if people_in(file) and not forget_refusals(file, "due") and _last_day(file) <= last
        )


def _last_day(file: JobFile) -> date:
    """Day on which the device, or the last of its parts, left."""
    return max(file.moves[-1].record.on, *(kept.record.on for kept in file.parts_left), date.min)
