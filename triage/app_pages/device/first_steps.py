"""First steps on the invented shop, for a newcomer, until the record holds anything."""

from __future__ import annotations

import streamlit as st

from triage.app_pages.shared.current_device import begin
from triage.app_pages.shared.draft import Draft
from triage.app_pages.shared.pages import PAGES
from triage.app_pages.shared.shop_record import newest_entry, shop_record
from triage.shipped import shipped
from triage.workflows.shop.shop import Shop

_DEVICES = "synthetic_cases/devices"


def first_steps(shop: Shop) -> None:
    """Draw the steps, folded into one button; nothing once somebody has begun."""
    if not shop.demo or shop_record()[0] is None or newest_entry():
        return
    with st.popover("First steps", icon=":material/flag:", key="first-steps"):
        st.markdown(
            "**Try it with the invented shop.** Nothing is bought, and you can start again at any time."
        )
        st.markdown(
            "1. A seller asks 40 for a broken console. See the highest price to pay and when to stop."
        )
        _begins("Assess console without picture", "dropped-console", 40.0)
        st.markdown(
            "2. An owner brings a wet handset. Read the verdict, then press **Open a job and quote**."
        )
        _begins("Assess rain-damaged handset", "rain-handset", None)
        st.markdown("3. Choose from hundreds of broken devices within a cash limit.")
        st.page_link(PAGES["lot"], label="Choose from the invented lot", icon=":material/inventory_2:")
        st.markdown("4. See the margins of past jobs.")
        st.page_link(
            PAGES["margin_by_damage"], label="See which damage loses money", icon=":material/trending_down:"
        )


def _begins(label: str, device: str, ask: float | None) -> None:
    """A button that makes an invented device the one in hand; without a price it is an owner's."""
    st.button(label, key=f"first-steps-{device}", on_click=_take_up, args=(device, ask))


def _take_up(device: str, ask: float | None) -> None:
    description = shipped(f"{_DEVICES}/{device}.toml").read_text(encoding="utf-8")
    begin(Draft(description, ask, ask is None))
