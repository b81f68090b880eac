"""The device page, which answers one question about one device: what to do with it."""

from __future__ import annotations

from pathlib import Path

import streamlit as st

from triage.app_pages import intake
from triage.app_pages.answer import show_answer
from triage.app_pages.draft import EMPTY
from triage.app_pages.kept_device import address, current_draft, keep, listed, read
from triage.app_pages.shop_counter import answer, open_shop, shop_files, turning_points
from triage.domain.units import Ownership, Unit
from triage.errors import TriageError

# Nobody has looked yet: ownership is in doubt until somebody says otherwise.
_NOTHING = Unit(name="", tier="", ownership=Ownership(lock="cannot-tell", identity="not-checked"))
_QUOTE = Path(__file__).with_name("quote.py")


def page() -> None:
    """Draw the page: the description, folded once it is answered, then the answer."""
    st.title("What should I do with this one?", anchor=False)
    try:
        shop = open_shop()
    except TriageError as refusal:
        st.error(f"The shop's files cannot be used.\n\n{listed(refusal)}")
        return
    draft = current_draft()
    unit, refusal = read(draft, shop)
    asked = draft != EMPTY
    with st.expander(
        intake.summary(unit, draft, shop) if unit else "Describe the device",
        expanded=unit is None,
        icon=":material/edit:",
        key=f"device-intake-{st.session_state['device-turn']}",
    ):
        if refusal:
            st.error(listed(refusal))
        intake.intake(unit or _NOTHING, draft, shop, keep)
    if unit is None:
        if not asked:
            st.info("Say which tier it is and what is wrong with it, then press **Work it out**.")
        return
    try:
        assessment = answer(draft.toml, draft.ask, draft.walk_in)
    except TriageError as refusal:
        st.error(listed(refusal))
        return
    if draft.walk_in:
        st.page_link(
            _QUOTE, label="Quote for the owner", icon=":material/request_quote:", query_params=address()
        )
    show_answer(
        assessment,
        shop,
        shop_files().invented,
        lambda: turning_points(draft.toml, draft.ask, draft.walk_in),
    )


if __name__ == "__main__":
    page()
