"""The shop's record as this server opens it, or why nothing is kept."""

from __future__ import annotations

from datetime import date
from typing import Any

import streamlit as st

from triage.errors import LedgerError
from triage.ledger.opening import default_ledger_url, open_ledger
from triage.workflows.jobs.erasure_list import erasure_list, forget_again


def record_url() -> str:
    """Where the record is: the place this server was started with, else the user's own."""
    return default_ledger_url()


def shop_record() -> tuple[Any | None, str]:
    """The open record and ""; or None and the reason why nothing can be kept."""
    try:
        return _open(record_url()), ""
    except LedgerError as refusal:
        return None, str(refusal)


def newest_entry() -> int:
    """Number of the record's newest entry, which grows with whatever is written; 0 where nothing was."""
    ledger, _ = shop_record()
    if ledger is None:
        return 0
    with ledger.reading() as reading:
        return reading.newest_entry()


@st.cache_resource(max_entries=2, show_spinner=False)
def _open(url: str) -> Any:
    ledger = open_ledger(url)
    # Somebody may have put an older file in the record's place by hand.
    forget_again(ledger, [erasure_list(ledger.engine.url)], date.today())
    return ledger
