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
from triage.domain.units.unit import Unit
from triage.errors import TriageError
from triage.workflows.shop.shop import Shop

# A desktop shows description and answer side by side; on less width one follows the other.
_WIDTHS = """<style>
[data-testid=stMainBlockContainer] {max-width: 84rem}
@media (max-width: 1000px) {
  .st-key-device-described {display: none}
  [data-testid=stHorizontalBlock]:has(> [data-testid=stColumn] .st-key-device-answer) {
    flex-direction: column; gap: 0;
  }
  [data-testid=stColumn]:has(> div > .st-key-device-answer),
  [data-testid=stHorizontalBlock]:has(> [data-testid=stColumn] .st-key-device-answer) > * {width: 100%}
}
</style>"""


def page() -> None:
    """Draw the page: the description, folded once it is answered, and the answer beside or below it."""
    st.set_page_config(layout="wide")
    shop = page_head("Device")
    if shop is None:
        return
    draft = current_draft()
    unit, refusal = read(draft, shop)
    ready = unit if unit is not None and finished(unit) else None
    st.html(_WIDTHS)
    left, right = st.columns([5, 7], gap="large")
    with left:
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
        if ready is not None:
            with st.container(key="device-described"):
                st.markdown("\n".join(f"- {line}" for line in intake.in_words(ready, shop.catalogue)))
    with right, st.container(key="device-answer"):
        if ready is not None:
            _answered(draft, ready, shop)
        elif not refusal:
            st.info(
                "Choose the price class and enter the damage or symptoms. Then press **Get the verdict**."
            )


def _answered(draft: Draft, ready: Unit, shop: Shop) -> None:
    """Draw the answer to a device that is described."""
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
