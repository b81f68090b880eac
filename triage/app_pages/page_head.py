"""What stands at the head of every page: its question, and in one line what its figures rest on."""

from __future__ import annotations

import streamlit as st

from triage.app_pages.kept_device import listed
from triage.app_pages.literal import literal
from triage.app_pages.print_view import print_view
from triage.app_pages.shop_counter import open_shop, standing_words
from triage.app_pages.shop_record import shop_record
from triage.errors import TriageError
from triage.workflows.shop import Shop


def page_head(question: str) -> Shop | None:
    """Draw the head; the shop, or None (and why, on the page) when its files cannot be used."""
    st.title(question, anchor=False)
    print_view()
    try:
        shop = open_shop()
        words = standing_words()
    except TriageError as refusal:
        st.error(f"The shop's files cannot be used.\n\n{listed(refusal)}")
        return None
    if words:
        st.caption(f":material/info: {literal(words)}")
    _, why_not = shop_record()
    if why_not:
        st.caption(f":material/warning: Nothing is kept: {literal(why_not)}")
    return shop
