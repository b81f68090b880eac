"""Drafts: what is being typed before it becomes a job, kept at every change.

A draft is named by a short random token, which is all that an address carries. It becomes a
job once, whoever asks for it, from however many tabs.
"""

from __future__ import annotations

import secrets
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import Any

import sqlalchemy as sa

from triage.domain.money import from_minor, to_minor
from triage.errors import DraftTakenError, LedgerConflictError
from triage.ledger.record import Ledger, Writing
from triage.ledger.tables import draft

# Letters that are not taken for one another when read aloud.
_LETTERS = "abcdefghjkmnpqrstuvwxyz23456789"
_LENGTH = 10
# Of more than these the ones saved longest ago are forgotten; by number, for a clock may be wrong.
_MOST_KEPT = 2_000


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


def save_draft(ledger: Ledger, token: str, stored: StoredDraft) -> int | None:
    """Keep a draft under its token, over what was there; one that became a job stays as it was.

    Returns
    -------
    The job that it became before, or None.
    """
    with ledger.writing("draft") as writing:
        connection = writing.connection
        same = draft.c.token == token
        done = connection.execute(
            draft.update().where(same, draft.c.job_id.is_(None)).values(**_row(stored), saved_at=_now())
        )
        if done.rowcount:
            return None
        job: int | None = connection.execute(sa.select(draft.c.job_id).where(same)).scalar()
        if job is None:
            newest = sa.select(draft.c.token).order_by(draft.c.saved_at.desc()).limit(_MOST_KEPT)
            connection.execute(draft.delete().where(draft.c.token.not_in(newest)))
            row = {"token": token, **_row(stored), "saved_at": _now(), "job_id": stored.job}
            connection.execute(draft.insert(), row)
        return job


def claim_draft(writing: Writing, token: str, stored: StoredDraft, job: int) -> None:
    """Make a draft a job's, in the transaction that opens the job.

    Parameters
    ----------
    stored : the draft as the person saw it who decided.

    Raises
    ------
    DraftTakenError : it became a job before.
    LedgerConflictError : it was described otherwise since, in another tab.
    """
    connection, same = writing.connection, draft.c.token == token
    # Two that claim at once: the second waits here for the first, and then finds no such row.
    done = connection.execute(draft.update().where(same, draft.c.job_id.is_(None)).values(job_id=job))
    kept = connection.execute(sa.select(draft).where(same)).first()
    if kept is None:
        row = {"token": token, **_row(stored), "saved_at": _now(), "job_id": job}
        connection.execute(draft.insert(), row)
    elif not done.rowcount:
        raise DraftTakenError(kept.job_id)
    elif (kept.toml, kept.ask_minor, kept.walk_in) != tuple(
        _row(stored)[name] for name in ("toml", "ask_minor", "walk_in")
    ):
        raise LedgerConflictError("the device was changed in the meantime; check it, then decide")


def _row(stored: StoredDraft) -> dict[str, Any]:
    ask = None if stored.ask is None else to_minor(stored.ask, stored.currency)
    return {"toml": stored.toml, "ask_minor": ask, "currency": stored.currency, "walk_in": stored.walk_in}


def _now() -> datetime:
    return datetime.now(UTC).replace(tzinfo=None)


def read_draft(ledger: Ledger, token: str) -> StoredDraft | None:
    """The draft of this name, or None."""
    with ledger.reading() as reading:
        row = reading.connection.execute(sa.select(draft).where(draft.c.token == token)).first()
    if row is None:
        return None
    ask = None if row.ask_minor is None else from_minor(row.ask_minor, row.currency)
    return StoredDraft(row.toml, ask, row.walk_in, row.currency, row.job_id)
