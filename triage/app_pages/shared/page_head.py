"""What stands at the head of every page: its question, and in one line what its figures rest on."""

from __future__ import annotations

import streamlit as st

from triage.app_pages.shared.current_device import listed
from triage.app_pages.shared.literal import literal
from triage.app_pages.shared.print_view import print_view
from triage.app_pages.shared.shop_counter import open_shop, standing_words
from triage.app_pages.shared.shop_record import shop_record
from triage.errors import PosteriorError, TriageError
from triage.workflows.backup.daily_in_background import start_daily_copy
from triage.workflows.shop.shop import Shop

_NO_CHANCES = (
    "Nothing is answered without chances. What to do: **Fit health** goes back to an earlier fit, where one "
    "is kept; `triage fit --ledger RECORD --out FOLDER` learns anew; the demo's chances stand in where no "
    "folder is named and none lies beside the record. Your jobs are as they were."
)


def page_head(question: str) -> Shop | None:
    """Draw the head; the shop, or None (and why, on the page) when its files cannot be used."""
    st.title(question, anchor=False)
    print_view()
    try:
        shop = open_shop()
        words = standing_words()
    except TriageError as refusal:
        st.error(f"The shop's files cannot be used.\n\n{listed(refusal)}")
        if isinstance(refusal, PosteriorError):
            st.markdown(_NO_CHANCES)
        return None
    start_daily_copy(shop.settings)
    if words:
        st.caption(f":material/info: {literal(words)}")
    _, why_not = shop_record()
    if why_not:
        st.caption(f":material/warning: Nothing is kept: {literal(why_not)}")
    return shop
