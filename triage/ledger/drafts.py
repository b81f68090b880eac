"""Drafts: what is being typed before it becomes a job, kept at every change.

A draft is named by a short random token, which is all that an address carries.
"""

from __future__ import annotations

import secrets
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta

import sqlalchemy as sa

from triage.domain.money import from_minor, to_minor
from triage.ledger.record import Ledger
from triage.ledger.tables import draft

# Letters that are not taken for one another when read aloud.
_LETTERS = "abcdefghjkmnpqrstuvwxyz23456789"
_LENGTH = 10
# A draft that nobody touched for this long is forgotten.
_KEPT_FOR = timedelta(days=180)


@dataclass(frozen=True)
class StoredDraft:
    """A question as it is being put: description (UNIT.toml text), price in major units, route.

    job : the job that it became, or None.
    """

    toml: str
    ask: float | None = None
    walk_in: bool = False
    currency: str = "EUR"
    job: int | None = None


def new_token() -> str:
    """A random name for a draft."""
    return "".join(secrets.choice(_LETTERS) for _ in range(_LENGTH))


def save_draft(ledger: Ledger, token: str, stored: StoredDraft) -> None:
    """Keep a draft under its token, over what was there."""
    now = datetime.now(UTC).replace(tzinfo=None)
    row = {
        "saved_at": now,
        "toml": stored.toml,
        "ask_minor": None if stored.ask is None else to_minor(stored.ask, stored.currency),
        "currency": stored.currency,
        "walk_in": stored.walk_in,
        "job_id": stored.job,
    }
    with ledger.writing("draft") as writing:
        connection = writing.connection
        done = connection.execute(draft.update().where(draft.c.token == token).values(**row))
        if not done.rowcount:
            connection.execute(draft.delete().where(draft.c.saved_at < now - _KEPT_FOR))
            connection.execute(draft.insert(), {"token": token, **row})


def read_draft(ledger: Ledger, token: str) -> StoredDraft | None:
    """The draft of this name, or None."""
    with ledger.reading() as reading:
        row = reading.connection.execute(sa.select(draft).where(draft.c.token == token)).first()
    if row is None:
        return None
    ask = None if row.ask_minor is None else from_minor(row.ask_minor, row.currency)
    return StoredDraft(row.toml, ask, row.walk_in, row.currency, row.job_id)
