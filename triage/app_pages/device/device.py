"""The device page, which answers one question about one device: what to do with it."""

from __future__ import annotations

import streamlit as st

from triage.app_pages.device import intake
from triage.app_pages.device.answer import show_answer
from triage.app_pages.device.first_steps import first_steps
from triage.app_pages.device.take_it import decide_part, figures
from triage.app_pages.device.what_if import what_if
from triage.app_pages.shared.current_device import (
    BLANK,
    address,
    begin,
    current_draft,
    finished,
    listed,
    read,
    unkept_words,
)
from triage.app_pages.shared.draft import DEMO, EMPTY, Draft
from triage.app_pages.shared.literal import literal
from triage.app_pages.shared.next_step import next_step
from triage.app_pages.shared.page_head import page_head
from triage.app_pages.shared.pages import PAGES
from triage.app_pages.shared.shop_counter import answer, part_prices, shop_files, turning_points
from triage.errors import TriageError
from triage.workflows.shop.shop import Shop


def page() -> None:
    """Draw the page: the description, folded once it is answered, then the answer."""
    shop = page_head("Device")
    if shop is None:
        return
    draft = current_draft()
    unit, refusal = read(draft, shop)
    ready = unit if unit is not None and finished(unit) else None
    _which(draft, shop)
    with st.expander(
        intake.summary(ready, draft, shop) if ready else "Describe the device",
        expanded=not ready,
        icon=":material/edit:",
        key=f"device-intake-{st.session_state['device-turn']}",
    ):
        if refusal:
            st.error(listed(refusal))
        intake.intake(unit or BLANK, draft, shop)
    if ready is None:
        if not refusal:
            st.info(
                "Choose the price class and enter the damage or symptoms. Then press **Get the verdict**."
            )
        return
    try:
        assessment = answer(draft.toml, draft.ask, draft.walk_in)
    except TriageError as refusal:
        st.error(listed(refusal))
        return
    shown, st.session_state["device-answered"] = (
        st.session_state.get("device-answered"),
        figures(assessment, draft),
    )
    if draft.walk_in:
        st.page_link(
            PAGES["quote"],
            label="Open the quote",
            icon=":material/request_quote:",
            query_params=address(),
        )
    show_answer(
        assessment,
        shop,
        shop_files().invented,
        lambda: part_prices(draft.toml, draft.ask, draft.walk_in),
        lambda: turning_points(draft.toml, draft.ask, draft.walk_in),
        lambda: decide_part(assessment, draft, shop, shown),
        lambda: what_if(assessment, ready, draft, shop),
    )


def _which(draft: Draft, shop: Shop) -> None:
    """Another device, and the first steps of a newcomer."""
    with st.container(horizontal=True, gap="small"):
        if draft != EMPTY:
            st.button(
                "Start new device", icon=":material/add:", key="device-new", on_click=begin, args=(EMPTY,)
            )
        if draft != DEMO:
            st.button("Load demo device", key="device-demo", on_click=begin, args=(DEMO,))
        first_steps(shop)
    if words := unkept_words():
        st.caption(f":material/warning: {literal(words)}")


if __name__ == "__main__":
    page()
    next_step("device")
