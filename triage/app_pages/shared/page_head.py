"""The head of every page: its title, and in one line what its figures rest on."""

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
    "Without chances there is no answer. Go back to an earlier fit under **Model check**, or run "
    "`triage fit --record RECORD --out FOLDER`. Without a folder of fits beside the record, the pages use "
    "the demo's chances. Your jobs are unchanged."
)


def page_head(title: str, explained: str = "") -> Shop | None:
    """Draw the head; the shop, or None (and why, on the page) when its files cannot be used.

    explained : half a line beneath the title, where it helps.
    """
    st.title(title, anchor=False)
    if explained:
        st.markdown(explained)
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
        st.caption(f":material/warning: Nothing is saved: {literal(why_not)}")
    return shop
