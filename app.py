"""Router of the pages: which there are, in which group, in which order."""

from pathlib import Path

import streamlit as st

import triage.app_pages

PAGES = Path(triage.app_pages.__path__[0])

st.set_page_config(page_title="Bench triage", page_icon="🔧", layout="centered")
st.navigation(
    {
        "Bench": [
            st.Page(PAGES / "device.py", title="Device", default=True),
            st.Page(PAGES / "jobs.py", title="Jobs"),
            st.Page(PAGES / "job.py", title="Job", visibility="hidden"),
            st.Page(PAGES / "quote.py", title="Quote"),
        ],
        "Office": [
            st.Page(PAGES / "lot.py", title="Lot"),
            st.Page(PAGES / "parts.py", title="Parts"),
            st.Page(PAGES / "what_loses_money.py", title="What loses money"),
            st.Page(PAGES / "were_we_right.py", title="Were we right"),
            st.Page(PAGES / "what_we_believe.py", title="What we believe"),
            st.Page(PAGES / "fit_health.py", title="Fit health"),
            st.Page(PAGES / "settings.py", title="Settings"),
        ],
    },
    position="top",
).run()
