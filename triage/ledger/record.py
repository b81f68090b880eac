"""Reading and writing the shop's record, a transaction at a time."""

from __future__ import annotations

import sqlite3
from collections import defaultdict
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import asdict, dataclass
from datetime import UTC, datetime
from typing import Any

import sqlalchemy as sa
from sqlalchemy.exc import DBAPIError, IntegrityError

from triage.domain.job.life import JobRoute
from triage.domain.job.records import Intake
from triage.errors import LedgerBusyError, LedgerConflictError, LedgerError
from triage.ledger import tables
from triage.ledger.reading import WITHDRAWN, RecordReader
from triage.ledger.redaction import redact, words_to_erase
from triage.ledger.tables import PERSONAL, TABLES

# Rows sent to the database at once.
_BATCH = 5_000
# Any number will do, so long as all benches ask for the same lock.
_LABELS = 7475
# SQLSTATE of PostgreSQL: lock not available, deadlock, serialisation failure.
_BUSY_STATES = ("55P03", "40P01", "40001")


@dataclass(frozen=True)
class Ledger:
    """A shop's record that is open."""

    engine: sa.Engine

    @property
    def name(self) -> str:
        """What the record is called in messages; no password."""
        url = self.engine.url
        return str(url.database) if url.get_backend_name() == "sqlite" else url.render_as_string()

    @contextmanager
    def reading(self) -> Iterator[RecordReader]:
        """One consistent view of the record."""
        options = {} if self.engine.dialect.name == "sqlite" else {"isolation_level": "REPEATABLE READ"}
        with self._plainly("read"), self.engine.connect().execution_options(**options) as connection:
            with connection.begin():
                yield RecordReader(connection)

    @contextmanager
    def writing(self, by: str) -> Iterator[Writing]:
        """One transaction: everything in it is kept, or nothing.

        Parameters
        ----------
        by : who writes; stands beside every entry.

        Raises
        ------
        LedgerBusyError : another writer holds the record for too long.
        LedgerError : the disk is full, the server went away, a value is refused.
        """
        with (
            self._plainly("written"),
            self.engine.connect().execution_options(triage_writes=True) as connection,
        ):
            with connection.begin():
                writing = Writing(connection, by)
                yield writing
                writing.flush()
            if writing.erased and self.engine.dialect.name == "sqlite":
                # What was erased would live on in the write-ahead log.
                connection.connection.cursor().execute("PRAGMA wal_checkpoint(TRUNCATE)")

    def close(self) -> None:
        """Let go of every connection."""
        self.engine.dispose()

    @contextmanager
    def _plainly(self, what: str) -> Iterator[None]:
        """Turn what a database says into what a user can act on."""
        try:
            yield
        except IntegrityError as problem:
            raise LedgerError(f"the record refuses this: {said(problem)}; nothing was saved") from problem
        except DBAPIError as problem:
            if _is_busy(problem):
                raise LedgerBusyError(
                    f"{self.name} is in use by somebody else; nothing was saved, try again"
                ) from problem
            raise LedgerError(
                f"{self.name} cannot be {what}: {said(problem)}; nothing was saved"
            ) from problem
        except ValueError as problem:
            if what != "read":
                raise
            # Another program put into a column what it cannot hold.
            raise LedgerError(f"{self.name} cannot be read: {problem}; restore a backup") from problem


def said(problem: DBAPIError) -> str:
    """First line of what the database itself said."""
    return (str(problem.orig).strip() or type(problem.orig).__name__).splitlines()[0]


def _is_busy(problem: DBAPIError) -> bool:
    if getattr(problem.orig, "sqlstate", None) in _BUSY_STATES:
        return True
    # The low byte is the kind of error, the rest says more of it.
    code = getattr(problem.orig, "sqlite_errorcode", None)
    return code is not None and code & 0xFF in (sqlite3.SQLITE_BUSY, sqlite3.SQLITE_LOCKED)


class Writing(RecordReader):
    """One transaction that writes. Entries are numbered at once and sent in batches."""

    def __init__(self, connection: sa.Connection, by: str):
        super().__init__(connection)
        self._by = by
        self.erased = False
        self._numbers: Iterator[int] = iter(())
        self._claimed: set[int] = set()
        self._entries: list[dict[str, Any]] = []
        self._rows: dict[sa.Table, list[dict[str, Any]]] = defaultdict(list)

    # -- jobs ----------------------------------------------------------------------
    def open_job(self, label: str, route: JobRoute, currency: str, intake: Intake, key: str = "") -> int:
        """Open a job with its intake; return its id.

        key : what an imported job is known by; "" for one that was not imported.

        Raises
        ------
        LedgerError : the label, or the key, is taken.
        """
        row = {
            "label": label, "route": route, "currency": currency, "opened": _now(), "import_key": key or None,
            "version": 1,
        }  # fmt: skip
        job: int = self.connection.execute(tables.job.insert().returning(tables.job.c.id), row).scalar_one()
        self._claimed.add(job)
        self.append(job, intake)
        return job

    def next_label(self, prefix: str) -> str:
        """Label for a job opened now; two that ask at once get two."""
        if self.connection.dialect.name == "postgresql":  # SQLite has one writer at a time
            self.connection.execute(sa.select(sa.func.pg_advisory_xact_lock(_LABELS)))
        return super().next_label(prefix)

    def expect(self, job: int, version: int) -> None:
        """Claim a job for this transaction, if it is still as it was when it was read.

        Raises
        ------
        LedgerConflictError : somebody changed it since.
        """
        if job not in self._claimed and not self._raise_version(job, tables.job.c.version == version):
            raise LedgerConflictError(
                "somebody else changed this job in the meantime; nothing was saved. "
                "Check the job, then try again"
            )
        self._claimed.add(job)

    def claim_shelf(self, shelf: int) -> None:
        """Keep other writers from moving a shelf part until this transaction ends."""
        if self.connection.dialect.name == "postgresql":  # SQLite has one writer at a time
            self.connection.execute(sa.select(sa.func.pg_advisory_xact_lock(shelf)))

    # -- entries ---------------------------------------------------------------------
    def append(self, job: int, record: Any, replaces: int | None = None, why: str = "") -> int:
        """Write a record about a job; return its id, which stays through corrections.

        replaces : id of the record that this one corrects. why : the reason.
        """
        self._claim(job)
        return self._append(job, record, replaces, why)

    def shelf_append(self, record: Any, replaces: int | None = None, why: str = "") -> int:
        """Write a record that belongs to no job: a price found, a shelf part, its move."""
        return self._append(None, record, replaces, why)

    def withdraw(self, job: int | None, id: int, why: str) -> None:
        """Take a mistaken record out of what stands; it stays in the history of changes."""
        if job is not None:
            self._claim(job)
        self._enter(job, WITHDRAWN, id, why)

    def _append(self, job: int | None, record: Any, replaces: int | None, why: str) -> int:
        table = TABLES[type(record)]
        number = self._enter(job, table.name, replaces, why)
        row = asdict(record)
        for name in PERSONAL.get(type(record), ()):
            if row[name]:
                told = {"entry_id": number, "field": name, "value": row[name]}
                self._rows[tables.personal].append(told)
                row[name] = ""
        self._rows[table].append({"entry_id": number, **row})
        if len(self._entries) >= _BATCH:
            self.flush()
        return number if replaces is None else replaces

    def _enter(self, job: int | None, what: str, root: int | None, why: str) -> int:
        if root is not None:
            self._check_root(job, what, root)
        number = self._next_number()
        self._entries.append({
            "id": number, "job_id": job, "root": number if root is None else root, "at": _now(),
            "by": self._by, "what": what, "why": why,
        })  # fmt: skip
        return number

    def _check_root(self, job: int | None, what: str, root: int) -> None:
        """A correction stays with the job and the kind of record that it corrects."""
        self.flush()
        entry = tables.entry
        query = sa.select(entry.c.job_id, entry.c.what).where(entry.c.root == root).order_by(entry.c.id)
        found = self.connection.execute(query).all()
        fits = found and found[0].job_id == job and what in (found[0].what, WITHDRAWN)
        if not fits or found[-1].what == WITHDRAWN:
            raise LedgerError(f"this job has no entry {root} to correct; nothing was saved")

    def _claim(self, job: int) -> None:
        if job not in self._claimed:
            if not self._raise_version(job):
                raise LedgerError(f"the record has no job with id {job}")
            self._claimed.add(job)

    def _raise_version(self, job: int, *conditions: Any) -> bool:
        raised = tables.job.update().where(tables.job.c.id == job, *conditions)
        done = self.connection.execute(raised.values(version=tables.job.c.version + 1))
        return done.rowcount == 1

    def _next_number(self) -> int:
        number = next(self._numbers, None)
        if number is None:
            self.reserve(1)
            number = next(self._numbers)
        return number

    def reserve(self, count: int) -> None:
        """Take the next `count` entry numbers at once; an import asks for many."""
        if self.connection.dialect.name == "postgresql":
            numbers = self.connection.execute(
                sa.text("SELECT nextval('entry_number') FROM generate_series(1, :count)"), {"count": count}
            )
            self._numbers = iter([*self._numbers, *numbers.scalars()])
        elif self._entries or next(self._numbers, None) is None:
            # The one writer of a SQLite file may count by itself.
            last = self.connection.execute(sa.select(sa.func.max(tables.entry.c.id))).scalar() or 0
            waiting = self._entries[-1]["id"] if self._entries else 0
            self._numbers = iter(range(max(last, waiting) + 1, 2**62))

    def flush(self) -> None:
        """Send what was appended so far."""
        if not self._entries:
            return
        self.connection.execute(tables.entry.insert(), self._entries)
        self._entries = []
        for table, rows in self._rows.items():
            self.connection.execute(table.insert(), rows)
        self._rows.clear()

    # -- a code that opens an owner's device -------------------------------------------
    def keep_passcode(self, job: int, code: str) -> None:
        """Keep a passcode until it is erased; an earlier one is overwritten."""
        self.erase_passcode(job)
        row = {"job_id": job, "code": code, "kept_at": _now()}
        self.connection.execute(tables.passcode.insert(), row)

    def erase_passcode(self, job: int) -> None:
        """Erase a passcode."""
        self._claim(job)
        self.connection.execute(tables.passcode.delete().where(tables.passcode.c.job_id == job))
        self.erased = True

    def forget_people(self, job: int, until: datetime | None = None) -> frozenset[str]:
        """Erase who the people of a job were, its passcode, and what was typed before it was one.

        Their names and numbers are taken out of notes and descriptions of the job too.

        Parameters
        ----------
        until : only what was written by then, UTC.

        Returns
        -------
        Names of the tables that lost something; empty where nothing was said of people.
        """
        entry = tables.entry
        of_job = sa.select(entry.c.id).where(entry.c.job_id == job)
        if until is not None:
            of_job = of_job.where(entry.c.at <= until.astimezone(UTC).replace(tzinfo=None))
        lost = self._forget(of_job)
        self.connection.execute(tables.draft.delete().where(tables.draft.c.job_id == job))
        self.erase_passcode(job)
        return lost

    def forget_buyer(self, sale: int) -> frozenset[str]:
        """Erase who bought a part that belongs to no job; returns as `forget_people` does."""
        return self._forget(sa.select(tables.entry.c.id).where(tables.entry.c.root == sale))

    def _forget(self, entries: sa.Select[Any]) -> frozenset[str]:
        self.flush()
        personal = tables.personal
        told = sa.select(personal.c.field, personal.c.value).where(personal.c.entry_id.in_(entries))
        people = [(row.field, row.value) for row in self.connection.execute(told)]
        self.connection.execute(personal.delete().where(personal.c.entry_id.in_(entries)))
        self.erased = True
        redacted = redact(self.connection, entries, words_to_erase(people))
        return redacted | {"personal"} if people else frozenset()

    # A transaction sees what it wrote.
    def _before_reading(self) -> None:
        self.flush()


def _now() -> datetime:
    return datetime.now(UTC).replace(tzinfo=None)
