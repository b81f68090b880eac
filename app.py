"""Router of the pages: which there are, in which group, in which order."""

import streamlit as st

from triage.app_pages.shared.pages import PAGES, WIDE

st.set_page_config(page_title="Bench triage", page_icon="🔧")
# One list, so that every page is one tap away where there is room; a phone folds it into a menu.
page = st.navigation(
    [
        st.Page(PAGES["device"], title="Device", default=True),
        st.Page(PAGES["jobs"], title="Jobs"),
        st.Page(PAGES["job"], title="Job", visibility="hidden"),
        st.Page(PAGES["quote"], title="Quote"),
        st.Page(PAGES["lot"], title="Lot"),
        st.Page(PAGES["parts"], title="Parts"),
        st.Page(PAGES["model_prices"], title="Model prices"),
        st.Page(PAGES["margin_by_damage"], title="Margin by damage"),
        st.Page(PAGES["track_record"], title="Track record"),
        st.Page(PAGES["assumptions"], title="Assumptions"),
        st.Page(PAGES["model_check"], title="Model check"),
        st.Page(PAGES["past_jobs"], title="Past jobs"),
        st.Page(PAGES["settings"], title="Settings"),
    ],
    position="top",
)
# Said once a run: a second layout in the same run would make the page jump.
st.set_page_config(layout="wide" if page.url_path in WIDE else "centered")
page.run()
