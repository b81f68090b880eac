"""The past jobs that an office page uses: which they are, in a line, or how to begin a record."""

from __future__ import annotations

from datetime import date

import streamlit as st

from triage.app_pages.shared.current_device import listed
from triage.app_pages.shared.literal import literal
from triage.app_pages.shared.shop_counter import open_shop
from triage.app_pages.shared.shop_record import newest_entry, record_url, shop_record
from triage.errors import TriageError
from triage.workflows.shop.shop import Shop
from triage.workflows.shop.shop_history import ShopHistory, shop_history

NO_JOBS_YET = (
    "There are no past jobs yet. Jobs that you finish under **Jobs** count from then on. "
    "To import older jobs from a spreadsheet, open **Past jobs**."
)


def past_jobs(shop: Shop) -> ShopHistory | None:
    """The past jobs, after a line that says which they are; None once the page says why there are none."""
    try:
        found = _past_jobs(shop.catalogue.digest, shop.demo, date.today(), record_url(), newest_entry())
    except TriageError as refusal:
        st.error(f"The past jobs cannot be used.\n\n{listed(refusal)}")
        return None
    if found is None:
        st.info(NO_JOBS_YET)
        return None
    st.caption(literal(found.words))
    return found


@st.cache_resource(max_entries=4, show_spinner="Reading the past jobs…")
def _past_jobs(catalogue: str, demo: bool, today: date, url: str, newest: int) -> ShopHistory | None:
    ledger, _ = shop_record()
    return shop_history(open_shop(), ledger, url)
