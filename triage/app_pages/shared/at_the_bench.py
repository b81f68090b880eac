"""The name of whoever acts: chosen once a session, and stored with every entry."""

from __future__ import annotations

from typing import Any

import streamlit as st

from triage.app_pages.shared.shop_record import record_url
from triage.domain.job.life import OPEN


def at_the_bench(ledger: Any) -> str:
    """Draw the choice of a name; "" while none is chosen."""
    known = {*_names(ledger, record_url()), st.session_state.get("bench-hand") or ""} - {""}
    chosen = st.selectbox(
        "Your name", sorted(known), index=None, accept_new_options=True,
        placeholder="choose or enter", key="bench-hand", persist_state="session",
    )  # fmt: skip
    return (chosen or "").strip()[:80]


@st.cache_data(ttl=60, max_entries=4, show_spinner=False)
def _names(_ledger: Any, url: str) -> frozenset[str]:
    """Names in the entries of open jobs."""
    with _ledger.reading() as reading:
        files = reading.jobs((*OPEN, "considered"))
    return frozenset(kept.by for file in files for kept in (file.intake, *file.moves, *file.attempts))
