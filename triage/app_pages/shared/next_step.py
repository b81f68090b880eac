"""The way on from each page: where a bench or an office most likely goes next."""

from __future__ import annotations

import streamlit as st

from triage.app_pages.shared.current_device import address
from triage.app_pages.shared.pages import PAGES

# Of a page: which pages come next, and what one goes there for.
_NEXT = {
    "device": (("quote", "What to quote an owner for it"), ("jobs", "What is on the bench")),
    "quote": (("jobs", "What is on the bench"),),
    "jobs": (("device", "Judge a device"),),
    "job": (("parts", "Prices and the shelf"), ("profit_by_damage", "Which damage loses money")),
    "lot": (("device", "Judge one device of it"),),
    "parts": (("device", "Judge a device with these prices"),),
    "profit_by_damage": (("assumptions", "What is believed of such damage"),),
    "track_record": (("model_check", "Whether the fit can be trusted"),),
    "assumptions": (("model_check", "Whether the fit can be trusted"),),
    "model_check": (("track_record", "Whether what was said came true"),),
    "settings": (("device", "Judge a device by these rules"),),
}
_OF_ONE_DEVICE = ("device", "quote")


def next_step(page: str) -> None:
    """Draw the links at the foot of a page; the device in hand goes with them.

    page : name of the page's file, without its ending.
    """
    with st.container(horizontal=True, key=f"next-{page}"):
        for name, label in _NEXT[page]:
            st.page_link(
                PAGES[name], label=label, icon=":material/arrow_forward:",
                query_params=address() if name in _OF_ONE_DEVICE else None,
            )  # fmt: skip
