"""Router of the pages: which there are, in which group, in which order."""

import streamlit as st

from triage.app_pages.shared.pages import PAGES

st.set_page_config(page_title="Bench triage", page_icon="🔧", layout="centered")
# One list, so that every page is one tap away where there is room; a phone folds it into a menu.
st.navigation(
    [
        st.Page(PAGES["device"], title="Device", default=True),
        st.Page(PAGES["jobs"], title="Jobs"),
        st.Page(PAGES["job"], title="Job", visibility="hidden"),
        st.Page(PAGES["quote"], title="Quote"),
        st.Page(PAGES["lot"], title="Lot"),
        st.Page(PAGES["parts"], title="Parts"),
        st.Page(PAGES["margin_by_damage"], title="Margin by damage"),
        st.Page(PAGES["track_record"], title="Track record"),
        st.Page(PAGES["assumptions"], title="Assumptions"),
        st.Page(PAGES["model_check"], title="Model check"),
        st.Page(PAGES["past_jobs"], title="Past jobs"),
        st.Page(PAGES["settings"], title="Settings"),
    ],
    position="top",
).run()
