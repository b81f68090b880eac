"""The list of what was erased: by it a person is erased again wherever an older copy is put back.

It lies beside the record, or with what its benches share, and a copy of it beside the daily backups. It names
nobody: it holds job numbers and days. Two shops never share a line, because the moment of opening is in it.
"""

from __future__ import annotations

import json
import os
from collections.abc import Iterable, Iterator, Mapping
from contextlib import suppress
from datetime import UTC, date, datetime
from pathlib import Path

import sqlalchemy as sa

from triage.domain.job.file import JobFile
from triage.domain.job.records import Kept, PersonForgotten
from triage.domain.shop.shelf import PartLeft
from triage.errors import LedgerError
from triage.ledger.opening import folder_of_record, ledger_url, open_ledger
from triage.ledger.record import Ledger

_SUFFIX = "-forgotten.jsonl"
_NO_JOB = 0
_APPLIED_AGAIN = "erased before; an older copy of the record was restored"
# A job by its number and opening, and until when what was written about it was erased. The sale of a part
# that came from no job has the number 0 and the moment of its sale.
Erased = Mapping[tuple[int, str], datetime]


def erasure_list(url: sa.URL) -> Path:
    """Where the list of a record lies."""
    return folder_of_record(url) / f"{Path(url.database or 'record').stem}{_SUFFIX}"


def note_erased(path: Path, file: JobFile) -> None:
    """Add a job to the list; raises LedgerError where it cannot be written: nothing is erased then."""
    _add(path, {(file.id, _stamp(file.opened)): datetime.now(UTC)})


def note_buyer_erased(path: Path, sale: Kept[PartLeft]) -> None:
    """Add the sale of a part that came from no job to the list."""
    _add(path, {(_NO_JOB, _stamp(sale.at)): datetime.now(UTC)})


def copy_list(listed: Path, folder: Path) -> None:
    """Bring the copy of a list in a folder of backups up to date; LedgerError where the folder is missing."""
    if not folder.is_dir():
        raise LedgerError(f"{folder}, the folder for daily backups, does not exist")
    copy = folder / listed.name
    known = _read([copy])
    _add(copy, {job: until for job, until in _read([listed]).items() if known.get(job) != until})


def forget_again(ledger: Ledger, lists: Iterable[Path], on: date) -> int:
    """Erase in a record that was put back whatever was erased before; how many jobs that were."""
    erased = _read(lists)
    again: set[str] = set()
    jobs = 0
    if not erased or not _any_people(ledger, erased):
        return 0
    with ledger.writing("erasure list") as writing:
        for file in writing.jobs():
            until = erased.get((file.id, _stamp(file.opened)))
            if until is not None and (tables := writing.forget_people(file.id, until)):
                writing.append(file.id, PersonForgotten(on, _APPLIED_AGAIN))
                again |= tables
                jobs += 1
        for sale in writing.parts_left():
            if sale.record.person and (_NO_JOB, _stamp(sale.at)) in erased:
                again |= writing.forget_buyer(sale.id)
                jobs += 1
    sweep(ledger, again)
    return jobs


def forget_in_copy(copy: Path, where: str | Path | None, backup: Path) -> int:
    """Do so in a copy that is about to become the record at an address.

    Lists beside that record and beside the backup count, and all of them stand beside the record afterwards.

    Parameters
    ----------
    backup : the file that the copy was made from.

    Returns
    -------
    Jobs that were erased again.
    """
    own = erasure_list(ledger_url(where))
    opened = open_ledger(copy, create=False)
    try:
        again = forget_again(opened, (own, *sorted(backup.parent.glob(f"*{_SUFFIX}"))), date.today())
        with opened.reading() as reading:
            forgotten = [file for file in reading.jobs() if file.forgotten]
    finally:
        opened.close()
    known = _read([own])
    told = {(file.id, _stamp(file.opened)): file.forgotten[-1].at for file in forgotten}
    _add(own, {job: until for job, until in told.items() if job not in known})
    return again


def sweep(ledger: Ledger, tables: Iterable[str]) -> None:
    """Overwrite what erased rows leave behind: on a server their tables are written anew."""
    names = sorted(tables)
    if ledger.engine.dialect.name != "postgresql" or not names:
        return  # SQLite overwrites as it deletes, and its log was emptied
    with ledger.engine.connect().execution_options(isolation_level="AUTOCOMMIT") as connection:
        for table in ("passcode", "draft", *names):
            connection.execute(sa.text(f'VACUUM (FULL) "{table}"'))


def _any_people(ledger: Ledger, erased: Erased) -> bool:
    """Whether the record says anything of people of the jobs listed: a look that costs little."""
    with ledger.reading() as reading:
        # The job of the sale of a part that came from no job is None.
        return bool({job or None for job, _ in erased} & reading.jobs_with_people())


def _add(path: Path, erased: Erased) -> None:
    if not erased:
        return
    lines = [
        json.dumps({"job": job, "opened": opened, "until": _stamp(until)}) + "\n"
        for (job, opened), until in erased.items()
    ]
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        with os.fdopen(os.open(path, os.O_CREAT | os.O_APPEND | os.O_WRONLY, 0o600), "a") as kept:
            kept.write("".join(lines))
            kept.flush()
            os.fsync(kept.fileno())
    except OSError as problem:
        wrong = f"cannot be written: {problem.strerror}"
        raise LedgerError(f"{path}, the erasure list, {wrong}; nothing was erased") from problem


def _read(paths: Iterable[Path]) -> Erased:
    """Of each job in any list the latest day."""
    found: dict[tuple[int, str], datetime] = {}
    for path in paths:
        for job, until in _lines(path):
            found[job] = max(until, found.get(job, until))
    return found


def _lines(path: Path) -> Iterator[tuple[tuple[int, str], datetime]]:
    try:
        lines = path.read_text(encoding="utf-8").splitlines()
    except FileNotFoundError:
        return
    except (OSError, UnicodeDecodeError) as problem:
        raise LedgerError(f"{path}, the erasure list, cannot be read: {problem}") from problem
    for line in lines:
        with suppress(ValueError, KeyError, TypeError):  # the last line of a write that was cut short
            told = json.loads(line)
            yield (int(told["job"]), str(told["opened"])), datetime.fromisoformat(told["until"])


def _stamp(at: datetime) -> str:
    return at.astimezone(UTC).isoformat()
