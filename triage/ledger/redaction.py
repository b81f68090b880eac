"""What notes and other texts of a job say of a person, taken out of them.

The one exception to "a record is never changed": an erasure overwrites the erased words where somebody
typed them into a note, a description or a reason. The entry itself stays, with who wrote it and when.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from typing import Any

import sqlalchemy as sa

from triage.ledger import tables

ERASED = "[erased]"
# Shorter words, such as "Bo", stand inside too many others.
_SHORTEST = 4
# The others may say any word ("passport", "phone"): they tell who somebody is by a digit or an address.
_NAMES = ("person", "who")
# Fields that hold what somebody typed, and not a word of the catalogue or a number in writing.
_TYPED = {
    "note", "why", "why_not", "description", "name", "model", "came_with", "consents", "reason", "how",
    "where", "caption", "letter", "disclosure", "wiped",
}  # fmt: skip


def words_to_erase(told: Iterable[tuple[str, str]]) -> tuple[str, ...]:
    """Of personal fields and their values, the words to look for in texts, the longest first."""
    words = {value.strip() for field, value in told if field in _NAMES or re.search(r"[\d@]", value)}
    return tuple(sorted((word for word in words if len(word) >= _SHORTEST), key=len, reverse=True))


def redact(connection: sa.Connection, entries: sa.Select[Any], words: tuple[str, ...]) -> frozenset[str]:
    """Overwrite words in every text of some entries, however they are capitalised.

    Parameters
    ----------
    entries : selects the numbers of the entries.

    Returns
    -------
    Names of the tables that were changed.
    """
    if not words:
        return frozenset()
    # Whole words: "Frame" is not taken out of "frame-bent".
    wanted = re.compile(rf"(?<![\w-])(?:{'|'.join(map(re.escape, words))})(?![\w-])", re.IGNORECASE)
    return frozenset(
        table.name
        for table in (tables.entry, *tables.TABLES.values())
        if _redact_table(connection, table, entries, wanted)
    )


def _redact_table(
    connection: sa.Connection, table: sa.Table, entries: sa.Select[Any], wanted: re.Pattern[str]
) -> bool:
    number = table.c.id if table is tables.entry else table.c.entry_id
    texts = [column for column in table.c if column.name in _TYPED]
    if not texts:
        return False
    changed = {}
    for row in connection.execute(sa.select(number.label("number"), *texts).where(number.in_(entries))):
        told = {column.name: getattr(row, column.name) for column in texts}
        new = {name: wanted.sub(ERASED, text) for name, text in told.items() if text and wanted.search(text)}
        if new:
            changed[row.number] = new
    if changed:
        with _unlocked(connection, table.name):
            for entry, new in changed.items():
                connection.execute(table.update().where(number == entry).values(**new))
    return bool(changed)


@contextmanager
def _unlocked(connection: sa.Connection, table: str) -> Iterator[None]:
    """Let a table be updated until the block ends; both databases undo this with the transaction."""
    if connection.dialect.name == "postgresql":
        connection.exec_driver_sql(f'ALTER TABLE "{table}" DISABLE TRIGGER "{table}_kept"')
        yield
        connection.exec_driver_sql(f'ALTER TABLE "{table}" ENABLE TRIGGER "{table}_kept"')
        return
    trigger = f"{table}_no_update"
    query = sa.text("SELECT sql FROM sqlite_master WHERE type = 'trigger' AND name = :name")
    made_by: str = connection.execute(query, {"name": trigger}).scalar_one()
    connection.exec_driver_sql(f'DROP TRIGGER "{trigger}"')
    yield
    connection.exec_driver_sql(made_by)
