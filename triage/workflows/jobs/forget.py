"""A person is forgotten: who they were is erased, and erased again wherever an older copy is put back.

The list of what was erased lies beside the record, or with what its benches share. It holds numbers of
jobs and days, nobody's name.
"""

from __future__ import annotations

import json
import os
from collections.abc import Iterator
from contextlib import suppress
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta
from pathlib import Path

import sqlalchemy as sa

from triage.domain.job.file import JobFile
from triage.domain.job.forgetting import forget_refusals, people_in
from triage.domain.job.records import PersonForgotten
from triage.errors import LedgerError
from triage.ledger.opening import folder_of_record, ledger_url, open_ledger
from triage.ledger.record import Ledger
from triage.workflows.jobs.record_keeper import RecordKeeper, refuse

# What an erasure does not reach, in the words of the bench.
NOT_REACHED = (
    "backups made before (of the daily ones the last 14 stay; put back here, they are erased again); "
    "tables exported before, letters printed or saved; photographs; what was typed into notes, names of "
    "devices and descriptions"
)
_SERVERS_OWN = (
    "the server's write-ahead files and its own backups hold it until they are overwritten: ask who runs it"
)
_APPLIED_AGAIN = "erased before; an older copy of the record was put back"


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
        note_erased(erasure_list(keeper.ledger.engine.url), change.file)
        change.writing.forget_people(job)
        change.append(PersonForgotten(on, why.strip()))
        now = change.now()
    sweep(keeper.ledger)
    own = (_SERVERS_OWN,) if keeper.ledger.engine.dialect.name == "postgresql" else ()
    return Forgotten(now, (NOT_REACHED, *own))


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
            if people_in(file) and not forget_refusals(file, "due") and file.moves[-1].record.on <= last
        )


def sweep(ledger: Ledger) -> None:
    """Overwrite what erased rows leave behind: on a server their tables are written anew."""
    if ledger.engine.dialect.name != "postgresql":
        return  # SQLite overwrites as it deletes, and its log was emptied
    with ledger.engine.connect().execution_options(isolation_level="AUTOCOMMIT") as connection:
        for table in ("personal", "passcode", "draft", "intake", "answer", "hand_over"):
            connection.execute(sa.text(f"VACUUM (FULL) {table}"))


# -- the list of what was erased ----------------------------------------------------
def erasure_list(url: sa.URL) -> Path:
    """Where the list of a record lies."""
    name = Path(url.database or "record").stem
    return folder_of_record(url) / f"{name}-forgotten.jsonl"


def note_erased(path: Path, file: JobFile) -> None:
    """Add a job to the list; raises LedgerError where it cannot be written: nothing is erased then."""
    told = {"job": file.id, "opened": _stamp(file.opened), "until": _stamp(datetime.now(UTC))}
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        with os.fdopen(os.open(path, os.O_CREAT | os.O_APPEND | os.O_WRONLY, 0o600), "a") as kept:
            kept.write(json.dumps(told) + "\n")
            kept.flush()
            os.fsync(kept.fileno())
    except OSError as problem:
        wrong = f"cannot be written: {problem.strerror}"
        raise LedgerError(f"{path}, the list of what was erased, {wrong}; nothing was erased") from problem


def forget_again(ledger: Ledger, listed: Path, on: date) -> int:
    """Erase in a record that was put back whatever was erased before; how many jobs that were."""
    erased = dict(_listed(listed))
    if not erased:
        return 0
    again = 0
    with ledger.writing("the list of what was erased") as writing:
        for file in writing.jobs():
            until = erased.get((file.id, _stamp(file.opened)))
            if until is not None and writing.forget_people(file.id, until):
                writing.append(file.id, PersonForgotten(on, _APPLIED_AGAIN))
                again += 1
    if again:
        sweep(ledger)
    return again


def forget_in_copy(copy: Path, where: str | Path | None) -> int:
    """Do so in a copy that is about to become the record at an address; how many jobs that were."""
    opened = open_ledger(copy, create=False)
    try:
        return forget_again(opened, erasure_list(ledger_url(where)), date.today())
    finally:
        opened.close()


def _listed(path: Path) -> Iterator[tuple[tuple[int, str], datetime]]:
    """Jobs by number and opening, and until when what was written was erased; the last line stands."""
    try:
        lines = path.read_text(encoding="utf-8").splitlines()
    except FileNotFoundError:
        return
    except (OSError, UnicodeDecodeError) as problem:
        raise LedgerError(f"{path}, the list of what was erased, cannot be read: {problem}") from problem
    for line in lines:
        with suppress(ValueError, KeyError, TypeError):  # the last line of a write that was cut short
            told = json.loads(line)
            yield (int(told["job"]), str(told["opened"])), datetime.fromisoformat(told["until"])


def _stamp(at: datetime) -> str:
    return at.astimezone(UTC).isoformat()
