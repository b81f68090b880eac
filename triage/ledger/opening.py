"""Opening the shop's record: a SQLite file by default, any PostgreSQL by address.

A file is created on first use, readable by its owner only. It is checked for
damage and brought up to this program's version; one written by a newer program
is refused. SQLite runs with a write-ahead log, full synchronisation, foreign
keys, and overwrites what it erases.
"""

from __future__ import annotations

import os
import re
import sqlite3
from pathlib import Path
from typing import Any

import sqlalchemy as sa
from platformdirs import user_data_path
from sqlalchemy.engine import URL, make_url
from sqlalchemy.exc import ArgumentError, DatabaseError, NoSuchModuleError

from triage.errors import LedgerError
from triage.ledger.migrating import migrate
from triage.ledger.record import Ledger, said

# How long a writer waits for another before it gives up.
BUSY_SECONDS = 10
# Marks a SQLite file as a record of this program ("trge"); the first step sets it.
APPLICATION_ID = 0x74726765


def default_ledger_url() -> str:
    """`$TRIAGE_RECORD` (earlier: `$TRIAGE_LEDGER`), else a file in the user's data folder."""
    named = os.environ.get("TRIAGE_RECORD") or os.environ.get("TRIAGE_LEDGER")
    return named or str(data_folder() / "record.sqlite")


def data_folder() -> Path:
    """Folder of this program among the user's data, wherever the desktop system keeps such folders."""
    return user_data_path("bench-triage", appauthor=False)


def shared_folder() -> Path | None:
    """The folder that every bench of a record on a server reaches, `$TRIAGE_SHARED`; None without one."""
    given = os.environ.get("TRIAGE_SHARED", "")
    return Path(given) if given else None


def folder_of_record(url: URL) -> Path:
    """Folder for what belongs to a record: that of its file; for one on a server the shared folder.

    Where none is named that is the data folder of this machine, and each bench has its own.
    """
    if url.get_backend_name() == "sqlite":
        return Path(url.database or "").absolute().parent
    return shared_folder() or data_folder()


def ledger_url(where: str | Path | None) -> URL:
    """Address of a record from a file path, an address, or None for the default.

    Raises
    ------
    LedgerError : for an address of a kind that this program does not keep records in.
    """
    text = str(where) if where else default_ledger_url()
    if "://" not in text:
        return URL.create("sqlite", database=str(Path(text).expanduser()))
    try:
        url = make_url(text)
    except (ArgumentError, ValueError) as problem:
        shown = re.sub(r"(://[^:/@]*:).*(?=@)", r"\1***", text)
        raise LedgerError(f"{shown!r} is not a valid address of a record; {_ALLOWED}") from problem
    kind = url.get_backend_name()
    if kind not in ("sqlite", "postgresql"):
        raise LedgerError(f"{kind!r} databases are not supported; {_ALLOWED}")
    if kind == "sqlite" and url.database in (None, "", ":memory:"):
        raise LedgerError(f"a record needs a file; {_ALLOWED}")
    if kind == "sqlite" and (url.host or url.query):
        raise LedgerError(f"a file needs no machine and no options; {_ALLOWED}")
    return url.set(drivername="sqlite" if kind == "sqlite" else "postgresql+psycopg")


_ANOTHER = "is a database of another program, not a record"
_ALLOWED = "allowed: a file, sqlite:///FILE, or postgresql://USER@HOST/DATABASE"


def open_ledger(where: str | Path | None = None, create: bool = True) -> Ledger:
    """Open the shop's record, creating or upgrading it as needed.

    Parameters
    ----------
    where : file path or address; None for `default_ledger_url()`.
    create : make a SQLite file that is not there; else that is an error.

    Raises
    ------
    LedgerError : it cannot be opened, is damaged, or is no record.
    LedgerVersionError : it was written by a newer program.
    """
    url = ledger_url(where)
    engine = _sqlite(url, create) if url.get_backend_name() == "sqlite" else _postgres(url)
    ledger = Ledger(engine)
    try:
        if engine.dialect.name == "sqlite":
            _check_file(engine, url.database or "")
        migrate(engine)
    except DatabaseError as problem:
        engine.dispose()
        raise LedgerError(f"{ledger.name} cannot be opened: {said(problem)}") from problem
    except LedgerError:
        engine.dispose()
        raise
    return ledger


def _sqlite(url: URL, create: bool) -> sa.Engine:
    file = Path(url.database or "")
    if not file.exists():
        if not create:
            raise LedgerError(f"no record exists at {file}")
        try:
            file.parent.mkdir(parents=True, exist_ok=True)
            os.close(os.open(file, os.O_CREAT | os.O_RDWR, 0o600))
        except OSError as problem:
            raise LedgerError(f"{file} cannot be created: {problem.strerror}") from problem
    if not file.is_file():
        raise LedgerError(f"{file} cannot be opened: it is not a file")
    if not create and not file.stat().st_size:
        raise LedgerError(f"no record exists at {file}: it is empty")
    _refuse_someone_elses(file)
    # A connection a transaction, none kept open: a page that is left behind leaves no file behind it.
    engine = sa.create_engine(url, poolclass=sa.NullPool, connect_args={"timeout": BUSY_SECONDS})

    @sa.event.listens_for(engine, "connect")
    def _prepare(connection: sqlite3.Connection, _: Any) -> None:
        # The driver's own transactions begin late and leave schema changes out.
        connection.isolation_level = None
        for pragma in (
            "foreign_keys = ON", "journal_mode = WAL", "synchronous = FULL", "secure_delete = ON",
            f"busy_timeout = {BUSY_SECONDS * 1000}",
        ):  # fmt: skip
            connection.execute(f"PRAGMA {pragma}")

    @sa.event.listens_for(engine, "begin")
    def _begin(connection: sa.Connection) -> None:
        # A writer takes the lock at once: to ask for it later could end in a deadlock.
        writes = connection.get_execution_options().get("triage_writes", False)
        connection.exec_driver_sql("BEGIN IMMEDIATE" if writes else "BEGIN")

    return engine


def _refuse_someone_elses(file: Path) -> None:
    """Refuse another program's database by its first bytes: to open it would already change it."""
    try:
        with file.open("rb") as raw:
            head = raw.read(105)
    except OSError as problem:
        raise LedgerError(f"{file} cannot be opened: {problem.strerror}") from problem
    is_database = head.startswith(b"SQLite format 3\0")
    no_table_yet = head[100:101] == b"\x0d" and head[103:105] == bytes(2)
    if is_database and int.from_bytes(head[68:72], "big") != APPLICATION_ID and not no_table_yet:
        raise LedgerError(f"{file} {_ANOTHER}")


def _check_file(engine: sa.Engine, file: str) -> None:
    """Refuse a damaged file, and one that holds something else."""
    with engine.connect() as connection:
        found = connection.exec_driver_sql("PRAGMA quick_check(1)").scalar()
        if found != "ok":
            raise LedgerError(f"{file} is damaged ({found}); restore a backup")
        marked = connection.exec_driver_sql("PRAGMA application_id").scalar()
        tables = connection.exec_driver_sql("SELECT count(*) FROM sqlite_master").scalar()
        if tables and marked != APPLICATION_ID:
            raise LedgerError(f"{file} {_ANOTHER}")


def _postgres(url: URL) -> sa.Engine:
    try:
        # No ledger at all is better than one that waits for ever.
        limits = f"-c lock_timeout={BUSY_SECONDS}s -c idle_in_transaction_session_timeout=60s"
        return sa.create_engine(
            url, connect_args={"options": limits, "connect_timeout": BUSY_SECONDS}, pool_pre_ping=True
        )
    except (NoSuchModuleError, ModuleNotFoundError) as problem:
        raise LedgerError("PostgreSQL needs its driver: pip install 'bench-triage[postgres]'") from problem
