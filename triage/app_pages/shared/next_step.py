"""The way on from each page: where a bench or an office most likely goes next."""

from __future__ import annotations

import streamlit as st

from triage.app_pages.shared.current_device import address
from triage.app_pages.shared.pages import PAGES

# Of a page: which pages come next, and what one does there.
_NEXT = {
    "device": (("quote", "See the quote page"), ("jobs", "See all jobs")),
    "quote": (("jobs", "See all jobs"),),
    "jobs": (("device", "Assess a device"),),
    "job": (("parts", "See parts and stock"), ("margin_by_damage", "See margin by damage")),
    "lot": (("device", "Assess one device"),),
    "parts": (("model_prices", "See model prices"), ("device", "Assess a device")),
    "model_prices": (("parts", "See parts and stock"), ("device", "Assess a device")),
    "margin_by_damage": (("assumptions", "See the assumptions"),),
    "track_record": (("model_check", "Check the model"),),
    "assumptions": (("model_check", "Check the model"),),
    "model_check": (("track_record", "See the track record"),),
    "past_jobs": (("model_check", "Check the model"), ("margin_by_damage", "See margin by damage")),
    "settings": (("device", "Assess a device"),),
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
