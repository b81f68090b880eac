"""What a record holds, in counts."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass
from datetime import date, datetime

import sqlalchemy as sa

from triage.domain.job.life import ENDED, STATES, JobState
from triage.domain.job.records import Moved
from triage.ledger import tables
from triage.ledger.reading import WITHDRAWN, RecordReader
from triage.ledger.record import Ledger


@dataclass(frozen=True)
class Summary:
    """Counts of a record.

    version : number of the last migration. last_entry : UTC, None for an empty
    record. states : jobs by state, in the order of a job's life.
    """

    name: str
    version: int
    jobs: int
    entries: int
    last_entry: datetime | None
    states: dict[JobState, int]


def summary(ledger: Ledger) -> Summary:
    """Count what a record holds."""
    with ledger.reading() as reading:
        one = reading.connection.scalar
        return Summary(
            name=ledger.name,
            version=one(sa.select(sa.func.max(tables.migration.c.number))) or 0,
            jobs=one(sa.select(sa.func.count()).select_from(tables.job)) or 0,
            entries=one(sa.select(sa.func.count()).select_from(tables.entry)) or 0,
            last_entry=one(sa.select(sa.func.max(tables.entry.c.at))),
            states=_by_state(reading),
        )


def closed_since(reading: RecordReader, day: date) -> int:
    """Jobs closed after a day: those whose first move to ready or to an end lies after it."""
    closed = 0
    for moves in _moves(reading).values():
        done = (on for state, on in moves if state in ("ready", *ENDED))
        closed += next(done, day) > day
    return closed


def _by_state(reading: RecordReader) -> dict[JobState, int]:
    jobs = reading.connection.scalar(sa.select(sa.func.count()).select_from(tables.job)) or 0
    last = Counter(moves[-1][0] for moves in _moves(reading).values())
    last["considered"] += jobs - last.total()
    return {state: last[state] for state in STATES if last[state]}


def _moves(reading: RecordReader) -> dict[int, list[tuple[JobState, date]]]:
    """By job: state and day of its standing moves, in order."""
    moved, entry = tables.TABLES[Moved], tables.entry
    gone = sa.select(entry.c.root).where(entry.c.what == WITHDRAWN)
    query = (
        sa.select(entry.c.job_id, entry.c.root, moved.c.state, moved.c.on)
        .join(moved, moved.c.entry_id == entry.c.id)
        .where(entry.c.root.not_in(gone))
        .order_by(entry.c.id)
    )
    found: dict[int, dict[int, tuple[JobState, date]]] = {}
    for row in reading.connection.execute(query):
        found.setdefault(row.job_id, {})[row.root] = (row.state, row.on)  # a correction keeps its place
    return {job: list(moves.values()) for job, moves in found.items()}
