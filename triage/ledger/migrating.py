"""Bringing a record up to this program's version, one step a transaction.

A step is a file of SQL for each database (`migrations/0001-first.sqlite.sql`),
statements parted by blank lines. Each is applied in one transaction together
with its own row in `migration`: it is there whole or not at all.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from datetime import UTC, datetime
from functools import lru_cache
from pathlib import Path

import sqlalchemy as sa

from triage.errors import LedgerVersionError
from triage.ledger.tables import migration
from triage.shipped import program_version

FOLDER = Path(__file__).parent / "migrations"
# Any number will do, so long as all benches ask for the same lock.
_LOCK = 7474


@dataclass(frozen=True)
class Step:
    """One step: its number, its name, the statements for one database."""

    number: int
    name: str
    statements: tuple[str, ...]


@lru_cache
def steps(database: str) -> tuple[Step, ...]:
    """Steps for "sqlite" or "postgresql", in order of their numbers."""
    found = []
    for file in sorted(FOLDER.glob(f"*.{database}.sql")):
        number, name = file.name.removesuffix(f".{database}.sql").split("-", 1)
        statements = (part.strip() for part in re.split(r"\n\s*\n", file.read_text(encoding="utf-8")))
        found.append(Step(int(number), name, tuple(part for part in statements if part)))
    return tuple(found)


def applied(connection: sa.Connection) -> int:
    """Number of the last step that a record has had; 0 for an empty database."""
    if not sa.inspect(connection).has_table("migration"):
        return 0
    query = sa.select(sa.func.coalesce(sa.func.max(migration.c.number), 0))
    last: int = connection.execute(query).scalar_one()
    return last


def migrate(engine: sa.Engine) -> int:
    """Apply the steps that a record lacks; return how many there were.

    Raises
    ------
    LedgerVersionError : the record has had steps that this program does not know.
    """
    todo = steps(engine.dialect.name)
    done = 0
    with engine.connect() as connection:
        have = applied(connection)
    if have > todo[-1].number:
        raise LedgerVersionError(
            f"the record has version {have}, but this program reads versions up to {todo[-1].number}: "
            "install the newer program that wrote it"
        )
    for step in todo:
        if step.number <= have:
            continue
        with engine.connect().execution_options(triage_writes=True) as connection, connection.begin():
            if connection.dialect.name == "postgresql":
                connection.execute(sa.select(sa.func.pg_advisory_xact_lock(_LOCK)))
            if applied(connection) >= step.number:  # another program was faster
                continue
            for statement in step.statements:
                connection.exec_driver_sql(statement)
            row = {
                "number": step.number,
                "name": step.name,
                "applied_at": datetime.now(UTC).replace(tzinfo=None),
                "program": program_version(),
            }
            connection.execute(migration.insert(), row)
            done += 1
    return done
