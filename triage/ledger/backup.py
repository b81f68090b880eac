"""A copy of the record while it is in use, and a record made from such a copy.

A copy is taken page by page by SQLite itself: writers go on, and it holds what
was kept when it began. It is checked before it counts. A record on a
PostgreSQL server is that server's to copy.
"""

from __future__ import annotations

import os
import sqlite3
from collections.abc import Callable
from contextlib import closing, suppress
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path

from triage.errors import LedgerError
from triage.ledger.export import whole_or_not_at_all
from triage.ledger.opening import APPLICATION_ID, ledger_url, open_ledger
from triage.ledger.record import Ledger

_TOOLS = "is on a PostgreSQL server; use that server's own tools (pg_dump, pg_restore)"


@dataclass(frozen=True)
class Copied:
    """A checked copy of a record. aside : where the record that was there before has been put."""

    file: Path
    jobs: int
    entries: int
    aside: Path | None = None


def back_up(ledger: Ledger, path: Path, force: bool = False) -> Copied:
    """Copy a record to a file, readable by its owner only.

    Raises
    ------
    LedgerError : it is kept by a server, the file is there already, the disk is full, the copy is damaged.
    """
    if ledger.engine.dialect.name != "sqlite":
        raise LedgerError(f"{ledger.name} {_TOOLS}")
    source = str(ledger.engine.url.database)
    if path.exists() and path.samefile(source):
        raise LedgerError(f"{path} is the record itself; choose another name")
    counts: list[tuple[int, int]] = []

    def write(temporary: Path) -> None:
        _copy(Path(source), temporary)
        counts.append(_checked(temporary))

    whole_or_not_at_all(path, force, write)
    return Copied(path, *counts[0])


def restore(
    path: Path,
    where: str | Path | None,
    force: bool = False,
    before: Callable[[Path], object] | None = None,
) -> Copied:
    """Make a record from a backup.

    Parameters
    ----------
    where : address of the record to make; None for the default one.
    force : where a record is already, put it aside under another name first.
    before : what is done to the copy before it becomes the record, such as erasing again.

    Raises
    ------
    LedgerError : the backup is no record or damaged; a record is there already,
        or is in use.
    LedgerVersionError : the backup was written by a newer program.
    """
    url = ledger_url(where)
    if url.get_backend_name() != "sqlite":
        raise LedgerError(f"{url.render_as_string()} {_TOOLS}")
    file = Path(url.database or "")
    if not path.is_file():
        raise LedgerError(f"there is no backup at {path}")
    if file.exists() and (not force or file.samefile(path)):
        said = "is the backup itself" if file.samefile(path) else "already exists"
        raise LedgerError(f"{file} {said}; choose another place, or use --force to rename it first")
    temporary = file.with_name(f".{file.name}.{os.getpid()}.tmp")
    try:
        file.parent.mkdir(parents=True, exist_ok=True)
        _copy(path, temporary)
        counts = _checked(temporary)
        open_ledger(temporary, create=False).close()  # brings an older one up to date
        if _checked(temporary) != counts:
            raise LedgerError(f"the copy of {path} is incomplete; nothing was changed")
        if before is not None:
            before(temporary)
        _alone(temporary)
        aside = _put_aside(file) if file.exists() else None
        os.replace(temporary, file)
    except OSError as problem:
        raise LedgerError(f"{file} cannot be written: {problem.strerror or problem}") from problem
    finally:
        for rest in ("", "-wal", "-shm"):
            with suppress(OSError):
                temporary.with_name(temporary.name + rest).unlink(missing_ok=True)
    return Copied(file, *counts, aside)


def erase_passcodes(file: Path) -> int:
    """Take every passcode out of a copy, and write it anew so that none stays in what is unused of it.

    Returns
    -------
    How many there were.

    Raises
    ------
    LedgerError : the copy cannot be written.
    """
    before = _checked(file)
    try:
        with closing(sqlite3.connect(file, isolation_level=None)) as connection:
            connection.execute("PRAGMA secure_delete = ON")
            erased = connection.execute("DELETE FROM passcode").rowcount
            # Codes erased before may lie in pages that are free: VACUUM leaves those behind.
            connection.execute("VACUUM")
    except sqlite3.Error as problem:
        raise LedgerError(f"the copy cannot be written: {problem}") from problem
    if _checked(file) != before:
        raise LedgerError("the copy lost entries when its passcodes were erased; no backup was made")
    return erased


def refuse_if_in_use(file: Path) -> None:
    """Raise LedgerError where something has a record open just now."""
    _alone(file)


def _checked(file: Path) -> tuple[int, int]:
    """Jobs and entries of a copy, once it is known to be a whole record; raises LedgerError."""
    try:
        with closing(sqlite3.connect(file)) as connection:
            wrong = connection.execute("PRAGMA integrity_check(1)").fetchone()[0]
            astray = connection.execute("PRAGMA foreign_key_check").fetchone()
            marked = connection.execute("PRAGMA application_id").fetchone()[0]
            if wrong != "ok" or astray:
                raise LedgerError(f"the copy is damaged ({astray or wrong}); nothing was changed")
            if marked != APPLICATION_ID:
                raise LedgerError("that file is not a record of this program; nothing was changed")
            count = "SELECT (SELECT count(*) FROM job), (SELECT count(*) FROM entry)"
            jobs, entries = connection.execute(count).fetchone()
            return jobs, entries
    except sqlite3.Error as problem:
        raise LedgerError(f"the copy cannot be read ({problem}); nothing was changed") from problem


def _copy(source: Path, target: Path) -> None:
    """Copy a database as it stands now, its write-ahead log included, and see it onto the disk."""
    os.close(os.open(target, os.O_CREAT | os.O_RDWR | os.O_TRUNC, 0o600))
    try:
        with (
            closing(sqlite3.connect(f"{source.resolve().as_uri()}?mode=ro", uri=True)) as old,
            closing(sqlite3.connect(target)) as new,
        ):
            old.backup(new)
    except sqlite3.Error as problem:
        raise LedgerError(f"{source} cannot be copied: {problem}") from problem
    _alone(target)
    with target.open("r+b") as file:  # Windows flushes only what may be written
        os.fsync(file.fileno())


def _alone(file: Path) -> None:
    """Fold the write-ahead log into the file, so that the file is all there is."""
    try:
        with closing(sqlite3.connect(file, timeout=1)) as connection:
            connection.execute("PRAGMA journal_mode = DELETE")
    except sqlite3.OperationalError as problem:
        raise LedgerError(f"{file} is in use ({problem}); close the program that uses it") from problem
    except sqlite3.DatabaseError:
        pass  # damaged, or no database: there is no log to fold in


def _put_aside(file: Path) -> Path:
    _alone(file)
    stamp = datetime.now(UTC).strftime("%Y%m%dT%H%M%S")
    aside = file.with_name(f"{file.name}.before-{stamp}")
    os.replace(file, aside)
    for rest in ("-wal", "-shm"):
        file.with_name(file.name + rest).unlink(missing_ok=True)
    return aside
