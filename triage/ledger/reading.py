"""Reading the shop's record: whole job files, the history of changes, the shelf."""

from __future__ import annotations

import re
from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass, fields
from datetime import UTC, datetime
from typing import Any, TypeVar

import sqlalchemy as sa

from triage.domain.job.file import JobFile
from triage.domain.job.life import JobState
from triage.domain.job.records import Kept, Photo
from triage.domain.shop.shelf import PartLeft, PartReturned, PriceFound, ShelfMoved, ShelfPart
from triage.errors import LedgerError
from triage.ledger import tables
from triage.ledger.tables import BY_NAME, OF_A_JOB, PERSONAL, TABLES

Record = TypeVar("Record")
# What a mistaken record is followed by when it is taken out.
WITHDRAWN = "withdrawn"
# Ids in one query: below every database's limit on parameters.
_AT_ONCE = 500


@dataclass(frozen=True)
class AuditLine:
    """One line of the history of changes: what was written, what it was before, and why.

    was : None for a first writing. now : None for a record taken out.
    """

    at: datetime
    by: str
    what: str
    was: Any
    now: Any
    why: str


class RecordReader:
    """One consistent view of the record."""

    def __init__(self, connection: sa.Connection):
        self.connection = connection

    def _before_reading(self) -> None:
        """A transaction that writes sends its rows first."""

    # -- jobs ----------------------------------------------------------------------
    def job(self, job: int) -> JobFile:
        """Everything that stands about one job.

        Raises
        ------
        LedgerError : there is no such job.
        """
        return self._one(tables.job.c.id == job, f"the record has no job with id {job}")

    def job_labelled(self, label: str) -> JobFile:
        """The job with this label; LedgerError when there is none."""
        return self._one(tables.job.c.label == label, f"the record has no job {label!r}")

    def jobs(
        self, states: Iterable[JobState] | None = None, newest: int | None = None, having: type | None = None
    ) -> tuple[JobFile, ...]:
        """All jobs, or those in the states given, oldest first.

        newest : of those in the states given, only so many that moved last.
        having : only those with a record of this class.
        """
        self._before_reading()
        wanted = None if states is None else set(states)
        query = sa.select(tables.job).order_by(tables.job.c.id)
        if wanted is not None:
            query = query.where(tables.job.c.id.in_(self._in_states(wanted, newest)))
        if having is not None:
            told = sa.select(tables.entry.c.job_id).where(tables.entry.c.what == TABLES[having].name)
            query = query.where(tables.job.c.id.in_(told))
        return self._files(self.connection.execute(query).all())

    def import_keys(self) -> dict[str, str]:
        """Label of every imported job by its import key."""
        self._before_reading()
        query = sa.select(tables.job.c.import_key, tables.job.c.label)
        return {row[0]: row[1] for row in self.connection.execute(query) if row[0]}

    def labels(self) -> frozenset[str]:
        """Labels of all jobs."""
        self._before_reading()
        return frozenset(self.connection.execute(sa.select(tables.job.c.label)).scalars())

    def labels_by_id(self) -> dict[int, str]:
        """Label of every job by its id."""
        self._before_reading()
        query = sa.select(tables.job.c.id, tables.job.c.label)
        return {row.id: row.label for row in self.connection.execute(query)}

    def next_label(self, prefix: str) -> str:
        """Next free label, such as SL-0042 after SL-0041."""
        pattern = re.compile(re.escape(prefix) + r"-(\d{1,9})")
        numbers = [int(found[1]) for label in self.labels() if (found := pattern.fullmatch(label))]
        return f"{prefix}-{max(numbers, default=0) + 1:04d}"

    def newest_entry(self) -> int:
        """Number of the last entry; 0 for an empty record. It grows with whatever is written."""
        self._before_reading()
        return self.connection.execute(sa.select(sa.func.max(tables.entry.c.id))).scalar() or 0

    def photos(self) -> tuple[tuple[str, Photo], ...]:
        """Every photograph that stands, with the label of its job."""
        labels = self.labels_by_id()
        standing = self._standing(Photo, list(labels))
        return tuple((labels[job], kept.record) for job in sorted(standing) for kept in standing[job])

    def passcode(self, job: int) -> str:
        """The passcode kept for a job; "" when none is."""
        query = sa.select(tables.passcode.c.code).where(tables.passcode.c.job_id == job)
        return self.connection.execute(query).scalar() or ""

    def audit(self, job: int) -> tuple[AuditLine, ...]:
        """Every entry about a job, oldest first: who wrote what, and what it was before."""
        self._before_reading()
        entry = tables.entry
        rows = self.connection.execute(
            sa.select(entry).where(entry.c.job_id == job).order_by(entry.c.id)
        ).all()
        written: dict[int, Any] = {}
        told = self._people(entry.c.job_id == job)
        for what in {row.what for row in rows} & BY_NAME.keys():
            for found in self.connection.execute(_with_entry(BY_NAME[what]).where(entry.c.job_id == job)):
                written[found.id] = _record(BY_NAME[what], found, told.get(found.id, {}))
        lines: list[AuditLine] = []
        standing: dict[int, Any] = {}
        for row in rows:
            now = written.get(row.id)
            lines.append(AuditLine(_utc(row.at), row.by, row.what, standing.get(row.root), now, row.why))
            standing[row.root] = now
        return tuple(lines)

    def jobs_with_people(self) -> frozenset[int | None]:
        """Numbers of the jobs that say anything of people; None stands for parts that came from no job."""
        personal, entry = tables.personal, tables.entry
        query = sa.select(entry.c.job_id).join(personal, entry.c.id == personal.c.entry_id).distinct()
        return frozenset(self.connection.execute(query).scalars())

    # -- parts outside any job --------------------------------------------------------
    def shelf(self) -> tuple[Kept[ShelfPart], ...]:
        """Every shelf part ever, oldest first; `shelf_moves` says what became of it."""
        return self._of_the_shop(ShelfPart)

    def shelf_moves(self) -> tuple[Kept[ShelfMoved], ...]:
        """Every move of a shelf part, oldest first."""
        return self._of_the_shop(ShelfMoved)

    def parts_left(self) -> tuple[Kept[PartLeft], ...]:
        """Every shelf part that was sold or scrapped, those of no job too, oldest first."""
        return self._of_the_shop(PartLeft)

    def parts_returned(self) -> tuple[Kept[PartReturned], ...]:
        """Every sold part that was returned, oldest first."""
        return self._of_the_shop(PartReturned)

    def prices_found(self) -> tuple[Kept[PriceFound], ...]:
        """Every price noted, oldest first."""
        return self._of_the_shop(PriceFound)

    # -- how it is read ----------------------------------------------------------------
    def _in_states(self, states: set[JobState], most: int | None) -> sa.Select[Any]:
        """Ids of the jobs whose last move led to one of these states; those that moved last, if not all."""
        moved, entry = TABLES[OF_A_JOB["moves"]], tables.entry
        withdrawn = sa.select(entry.c.root).where(entry.c.what == WITHDRAWN)
        last = (
            sa.select(entry.c.job_id, sa.func.max(entry.c.root).label("root"))
            .where(entry.c.what == moved.name, entry.c.root.not_in(withdrawn))
            .group_by(entry.c.job_id)
            .subquery()
        )
        newest = (
            sa.select(last.c.job_id, sa.func.max(entry.c.id).label("id"))
            .join(entry, entry.c.root == last.c.root)
            .group_by(last.c.job_id)
            .subquery()
        )
        query = (
            sa.select(tables.job.c.id)
            .outerjoin(newest, newest.c.job_id == tables.job.c.id)
            .outerjoin(moved, moved.c.entry_id == newest.c.id)
        )
        allowed: Any = moved.c.state.in_(states)
        if "considered" in states:
            allowed |= moved.c.state.is_(None)
        return query.where(allowed).order_by(newest.c.id.desc()).limit(most)

    def _one(self, condition: Any, missing: str) -> JobFile:
        self._before_reading()
        rows = self.connection.execute(sa.select(tables.job).where(condition)).all()
        if not rows:
            raise LedgerError(missing)
        return self._files(rows)[0]

    def _files(self, rows: Iterable[Any]) -> tuple[JobFile, ...]:
        rows = list(rows)
        ids = [row.id for row in rows]
        kept: dict[str, dict[int, list[Kept[Any]]]] = {}
        for name, record in OF_A_JOB.items():
            kept[name] = self._standing(record, ids)
        coded = set(self.connection.execute(sa.select(tables.passcode.c.job_id)).scalars())
        return tuple(
            JobFile(
                id=row.id, label=row.label, route=row.route, currency=row.currency, opened=_utc(row.opened),
                version=row.version, intake=kept["intake"][row.id][0], has_passcode=row.id in coded,
                **{name: tuple(kept[name].get(row.id, ())) for name in OF_A_JOB if name != "intake"},
            )
            for row in rows
        )  # fmt: skip

    def _standing(self, record: type[Record], ids: list[int]) -> dict[int, list[Kept[Record]]]:
        """Standing records of one kind by job, in order of first writing."""
        by_root: dict[int, dict[int, Kept[Record]]] = defaultdict(dict)
        entry = tables.entry
        for start in range(0, len(ids), _AT_ONCE):
            some = entry.c.job_id.in_(ids[start : start + _AT_ONCE])
            withdrawn = sa.select(entry.c.root).where(some, entry.c.what == WITHDRAWN)
            query = _with_entry(record).where(some, entry.c.root.not_in(withdrawn)).order_by(entry.c.id)
            told = self._people(some) if record in PERSONAL else {}
            for row in self.connection.execute(query):
                by_root[row.job_id][row.root] = _kept(record, row, told.get(row.id))
        return {job: [kept for _, kept in sorted(found.items())] for job, found in by_root.items()}

    def _people(self, wanted: Any) -> dict[int, dict[str, str]]:
        """What entries say of people, by entry and field; nothing where it was erased."""
        personal, entry = tables.personal, tables.entry
        query = sa.select(personal).join(entry, entry.c.id == personal.c.entry_id).where(wanted)
        told: dict[int, dict[str, str]] = defaultdict(dict)
        for row in self.connection.execute(query):
            told[row.entry_id][row.field] = row.value
        return told

    def _of_the_shop(self, record: type[Record]) -> tuple[Kept[Record], ...]:
        self._before_reading()
        entry = tables.entry
        withdrawn = sa.select(entry.c.root).where(entry.c.what == WITHDRAWN)
        query = _with_entry(record).where(entry.c.root.not_in(withdrawn)).order_by(entry.c.id)
        told = self._people(entry.c.what == TABLES[record].name) if record in PERSONAL else {}
        found = {row.root: _kept(record, row, told.get(row.id)) for row in self.connection.execute(query)}
        return tuple(kept for _, kept in sorted(found.items()))


def _with_entry(record: type) -> sa.Select[*tuple[Any, ...]]:
    table, entry = TABLES[record], tables.entry
    # "entry_" keeps a record's own columns (by, at) apart from the entry's.
    columns = [column.label(f"record_{column.name}") for column in table.c if column.name != "entry_id"]
    return sa.select(entry, *columns).join(table, table.c.entry_id == entry.c.id)


def _record(record: type[Record], row: Any, told: dict[str, str] | None = None) -> Record:
    values = row._mapping
    # Every record class is a dataclass, which a type variable cannot say.
    held = {item.name: values[f"record_{item.name}"] for item in fields(record)}  # type: ignore[arg-type]
    return record(**held | (told or {}))


def _kept(record: type[Record], row: Any, told: dict[str, str] | None = None) -> Kept[Record]:
    return Kept(row.root, _utc(row.at), row.by, _record(record, row, told), row.id, row.why)


def _utc(at: datetime) -> datetime:
    return at.replace(tzinfo=UTC)
