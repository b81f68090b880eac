"""The history of a job: every entry, by whom, when, and what it replaced."""

from __future__ import annotations

from dataclasses import fields, is_dataclass
from datetime import date
from typing import Any

import streamlit as st

from triage.app_pages.jobs.job_in_hand import JobInHand
from triage.app_pages.shared.literal import literal
from triage.domain.money import from_minor, money_text

_MOST_LETTERS = 120
# Long texts that a line of history need not repeat.
_QUIET = ("description", "chances", "dots", "forecast", "posterior", "priors", "program", "letter", "sha256")
# Fields that hold a slug, and where its name stands.
_NAMED = {
    "kind": lambda catalogue: catalogue.kinds,
    "finding": lambda catalogue: catalogue.kinds,
    "check": lambda catalogue: catalogue.checks,
    "part": lambda catalogue: catalogue.parts,
    "method": lambda catalogue: catalogue.repairs,
}
_WORDS = {
    "losses_in_20": "risk of loss in 20", "on": "date", "tier": "price class", "finding": "damage",
    "findings": "damage", "battery_looked_at": "battery inspected",
}  # fmt: skip


def history_part(job: JobInHand) -> None:
    """Draw the history of changes, newest first; nothing was ever deleted."""
    with job.keeper.ledger.reading() as reading:
        lines = reading.audit(job.file.id)
    st.caption(
        f"{len(lines)} entries, newest first. Nothing is deleted; a correction shows what it replaced."
    )
    said = []
    for line in reversed(lines):
        what = _word(line.what)
        words = f"- **{line.at:%d %b %Y %H:%M}** UTC, {literal(line.by)}: {literal(what)}"
        said.append(
            f"{words}, {_changed(line.was, line.now, job)}" + (f" ({literal(line.why)})" if line.why else "")
        )
    st.markdown("\n".join(said))


def _changed(was: Any, now: Any, job: JobInHand) -> str:
    if now is None:
        return "removed"
    if not is_dataclass(now):
        return literal(str(now))

    def said(record: Any, name: str) -> str:
        value = getattr(record, name)
        if value in ("", None):
            return "blank"
        if name.endswith("_minor"):
            return money_text(from_minor(value, job.file.currency), job.file.currency)
        if isinstance(value, date):
            return f"{value.day} {value:%b %Y}"
        if isinstance(value, bool):
            return "yes" if value else "no"
        named = _NAMED[name](job.shop.catalogue).get(value) if name in _NAMED else None
        text = f"{value:.0f}" if name == "minutes" else named.name if named else str(value)
        return text if len(text) <= _MOST_LETTERS else f"{text[:_MOST_LETTERS]}…"

    names = [item.name for item in fields(now) if item.name not in _QUIET]
    if was is None:
        told = [item.name for item in fields(now) if getattr(now, item.name) != item.default]
        return literal(", ".join(f"{_word(name)}: {said(now, name)}" for name in told if name in names))
    turned = [name for name in names if getattr(was, name) != getattr(now, name)]
    changes = (f"{_word(name)} changed from {said(was, name)} to {said(now, name)}" for name in turned)
    return literal("; ".join(changes) or "unchanged")


def _word(name: str) -> str:
    return _WORDS.get(name) or name.replace("_minor", "").replace("_", " ")
