"""The tables of the shop's record: a journal of entries, and one table a kind of record.

Every record has an entry: who wrote it, when, about which job. A correction is
a new entry with the same `root`; the newest entry of a root stands. Entries and
records are never updated or deleted: triggers in the database refuse it.
"""

from __future__ import annotations

import re
from dataclasses import fields
from datetime import date
from types import NoneType, UnionType
from typing import Any, Literal, Union, get_args, get_origin, get_type_hints

import sqlalchemy as sa

from triage.domain import data_job
from triage.domain.job import records
from triage.domain.shop import shelf

Id = sa.BigInteger().with_variant(sa.Integer, "sqlite")
metadata = sa.MetaData()

migration = sa.Table(
    "migration",
    metadata,
    sa.Column("number", sa.Integer, primary_key=True, autoincrement=False),
    sa.Column("name", sa.Text, nullable=False),
    sa.Column("applied_at", sa.DateTime, nullable=False),
    sa.Column("program", sa.Text, nullable=False),
)

job = sa.Table(
    "job",
    metadata,
    sa.Column("id", Id, primary_key=True),
    sa.Column("label", sa.Text, nullable=False, unique=True),
    sa.Column("route", sa.Text, sa.CheckConstraint("route IN ('bought', 'walk-in')"), nullable=False),
    sa.Column("currency", sa.Text, nullable=False),
    sa.Column("opened", sa.DateTime, nullable=False),
    # What an imported job is known by; two imports of one row make one job.
    sa.Column("import_key", sa.Text, unique=True),
    # The one number that is updated: a writer that read an older one is refused.
    sa.Column("version", sa.Integer, nullable=False),
    sqlite_autoincrement=True,
)

entry = sa.Table(
    "entry",
    metadata,
    sa.Column("id", Id, primary_key=True, autoincrement=False),
    sa.Column("job_id", Id, sa.ForeignKey("job.id"), index=True),
    sa.Column("root", Id, sa.ForeignKey("entry.id"), nullable=False, index=True),
    sa.Column("at", sa.DateTime, nullable=False),
    sa.Column("by", sa.Text, nullable=False),
    sa.Column("what", sa.Text, nullable=False),
    sa.Column("why", sa.Text, nullable=False),
)

# A code that opens an owner's device: erased at handover, so not an entry.
passcode = sa.Table(
    "passcode",
    metadata,
    sa.Column("job_id", Id, sa.ForeignKey("job.id"), primary_key=True),
    sa.Column("code", sa.Text, nullable=False),
    sa.Column("kept_at", sa.DateTime, nullable=False),
)

# Who people are and how they are reached: erased when that is asked for, so not in the entries, which hold
# "" there. The number of the entry is all that ties the two together.
personal = sa.Table(
    "personal",
    metadata,
    sa.Column("entry_id", Id, sa.ForeignKey("entry.id"), primary_key=True, autoincrement=False),
    sa.Column("field", sa.Text, primary_key=True),
    sa.Column("value", sa.Text, nullable=False),
)
# Fields of each kind of record that say so.
PERSONAL: dict[type, tuple[str, ...]] = {
    records.Intake: ("person", "contact", "identity_shown", "serial_numbers"),
    records.Answer: ("who",),
    records.HandOver: ("person",),
    shelf.PartLeft: ("person",),
    data_job.DataAsked: ("proof", "matters"),
    data_job.DataEnded: ("saved",),
}

# What is being typed before it becomes a job; overwritten as it changes.
draft = sa.Table(
    "draft",
    metadata,
    sa.Column("token", sa.Text, primary_key=True),
    sa.Column("saved_at", sa.DateTime, nullable=False),
    sa.Column("toml", sa.Text, nullable=False),
    sa.Column("ask_minor", sa.BigInteger),
    sa.Column("currency", sa.Text, nullable=False),
    sa.Column("walk_in", sa.Boolean, nullable=False),
    sa.Column("job_id", Id, sa.ForeignKey("job.id")),
)

# What a record's field refers to, where it refers to something.
_REFERS = {
    ("StopResolved", "stop"): "entry.id",
    ("Answer", "quote"): "entry.id",
    ("DataAsked", "quote"): "entry.id",
    ("PartFate", "order"): "entry.id",
    ("PartOrdered", "shelf"): "entry.id",
    ("ShelfPart", "donor"): "job.id",
    ("ShelfMoved", "shelf"): "entry.id",
    ("ShelfMoved", "job"): "job.id",
    ("PartLeft", "shelf"): "entry.id",
    ("PartReturned", "left"): "entry.id",
}
_TYPES: dict[type, Any] = {str: sa.Text, float: sa.Double, bool: sa.Boolean, date: sa.Date}


def _name(record: type) -> str:
    """Table name of a record class: `FoundDamage` is kept in `found_damage`."""
    return re.sub(r"(?<!^)(?=[A-Z])", "_", record.__name__).lower()


def _column(record: type, name: str, hint: Any) -> sa.Column[Any]:
    kinds = [kind for kind in get_args(hint) if kind is not NoneType]
    optional = get_origin(hint) in (Union, UnionType)
    kind = kinds[0] if optional else hint
    about: list[Any] = []
    if get_origin(kind) is Literal:
        words = get_args(kind)
        quoted = ", ".join(f"'{word}'" for word in words)
        about.append(sa.CheckConstraint(f'"{name}" IN ({quoted})'))
        kind = type(words[0])
    refers = _REFERS.get((record.__name__, name))
    if refers:
        about.append(sa.ForeignKey(refers))
    type_ = Id if refers else sa.BigInteger if kind is int else _TYPES[kind]
    return sa.Column(name, type_, *about, nullable=optional)


def _record_table(record: type) -> sa.Table:
    hints = get_type_hints(record)
    columns = [_column(record, item.name, hints[item.name]) for item in fields(record)]
    return sa.Table(
        _name(record),
        metadata,
        sa.Column("entry_id", Id, sa.ForeignKey("entry.id"), primary_key=True, autoincrement=False),
        *columns,
    )


# Kinds of record about one job, by the field of JobFile that holds them.
OF_A_JOB: dict[str, type] = {
    "moves": records.Moved,
    "intake": records.Intake,
    "findings": records.FoundDamage,
    "checks": records.CheckMade,
    "looks": records.LookedInside,
    "stops": records.Stop,
    "resolved": records.StopResolved,
    "places": records.Place,
    "photos": records.Photo,
    "decisions": records.Decision,
    "quotes": records.QuoteGiven,
    "answers": records.Answer,
    "attempts": records.Attempt,
    "lines": records.LineChecked,
    "orders": records.PartOrdered,
    "fates": records.PartFate,
    "payments": records.Payment,
    "handovers": records.HandOver,
    "comebacks": records.Comeback,
    "later_fates": records.LaterFate,
    "forgotten": records.PersonForgotten,
    # Of a part bought to stock they belong to no job.
    "parts_left": shelf.PartLeft,
    "parts_returned": shelf.PartReturned,
    "data_asked": data_job.DataAsked,
    "data_ended": data_job.DataEnded,
    "copies_erased": data_job.CopyErased,
}
OF_THE_SHOP: tuple[type, ...] = (shelf.PriceFound, shelf.ShelfPart, shelf.ShelfMoved)
TABLES: dict[type, sa.Table] = {
    record: _record_table(record) for record in (*OF_A_JOB.values(), *OF_THE_SHOP)
}
BY_NAME: dict[str, type] = {table.name: record for record, table in TABLES.items()}
# Tables whose rows may be neither changed nor removed.
KEPT: tuple[sa.Table, ...] = (entry, *TABLES.values())
