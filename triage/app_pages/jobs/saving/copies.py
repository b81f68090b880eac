"""Our copies of owners' data that must still be erased, on the jobs page."""

from __future__ import annotations

import streamlit as st

from triage.app_pages.shared.literal import literal
from triage.app_pages.shared.pages import PAGES
from triage.domain.data_job import DataEnded
from triage.domain.job.data.rules import copy_due
from triage.ledger.record import Ledger
from triage.workflows.jobs.words import day
from triage.workflows.shop.shop import Shop


def copies_part(ledger: Ledger, shop: Shop) -> None:
    """Copies of owners' data that the shop still holds, the first due first, whatever the jobs' state."""
    with ledger.reading() as reading:
        held = [(due, file) for file in reading.jobs(having=DataEnded) if (due := copy_due(file))]
    if not held:
        return
    st.markdown("**Our copies of owners' data to erase**")
    for due, file in sorted(held, key=lambda one: one[0]):
        late = ":red[**overdue**], " if due < shop.today else ""
        st.page_link(
            PAGES["job"], label=f"{literal(file.label)}: {late}by {day(due, shop.today)}",
            icon=":material/delete:",
            query_params={"job": str(file.id), "job-part": "Data"},
        )  # fmt: skip
