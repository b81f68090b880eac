"""The way on from each page: where a bench or an office most likely goes next."""

from __future__ import annotations

import streamlit as st

from triage.app_pages.shared.current_device import address
from triage.app_pages.shared.pages import PAGES

# Of a page: which pages come next, and what one goes there for.
_NEXT = {
    "device": (("quote", "Quote the owner"), ("jobs", "Open jobs")),
    "quote": (("jobs", "Open jobs"),),
    "jobs": (("device", "Assess a device"),),
    "job": (("parts", "Part prices and shelf"), ("profit_by_damage", "Profit by damage")),
    "lot": (("device", "Judge one device of it"),),
    "parts": (("device", "Assess a device with these prices"),),
    "profit_by_damage": (("assumptions", "Assumptions on such damage"),),
    "track_record": (("model_check", "Whether the fit can be trusted"),),
    "assumptions": (("model_check", "Whether the fit can be trusted"),),
    "model_check": (("track_record", "Whether what was said came true"),),
    "settings": (("device", "Assess a device with these settings"),),
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
