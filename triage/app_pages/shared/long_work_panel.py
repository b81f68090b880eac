"""Long work on a page: the button that begins it, how far it is, the button that stops it."""

from __future__ import annotations

from typing import Any

import streamlit as st

from triage.app_pages.shared.literal import literal
from triage.errors import LongWorkError
from triage.workflows.background.runner import LongWork, look, newest_done, start, stop

EVERY = "0.5s"  # how often a running work is looked at


def long_work_panel(kind: str, arguments: dict[str, Any], start_label: str, explain: str) -> LongWork | None:
    """Draw a kind of long work; the newest one that is finished, or None.

    Parameters
    ----------
    arguments : what the work is given, should it be started here.
    explain : what it does and how long it takes, as markdown of the program's own.
    """
    work = look(kind)
    running = work is not None and work.state == "running"
    st.caption(explain)
    # Looked at again and again only while something runs; the other pages do not notice.
    panel = st.fragment(_panel, run_every=EVERY if running else None)
    panel(kind, arguments, start_label, running)
    return newest_done(kind)


def _panel(kind: str, arguments: dict[str, Any], start_label: str, was_running: bool) -> None:
    work = look(kind)
    running = work is not None and work.state == "running"
    if running != was_running:
        st.rerun()  # it began or ended elsewhere: the whole page shows what came of it
    if running and work is not None:
        _progress(work)
        if st.button("Stop", icon=":material/stop:", key=f"long-{kind}-stop"):
            stop(kind)
            st.rerun()
        return
    if work is not None and work.state == "failed":
        st.error(f"The last run failed: {literal(work.problem)}")
    elif work is not None and work.state == "stopped":
        st.info("The last run was stopped. Earlier results are unchanged.")
    if st.button(start_label, icon=":material/play_arrow:", key=f"long-{kind}-start"):
        try:
            start(kind, arguments)
        except LongWorkError as refusal:
            st.error(literal(str(refusal)))
            return
        st.rerun()


def _progress(work: LongWork) -> None:
    """How far it is: a bar only where something is truly counted."""
    if work.done is not None and work.total:
        st.progress(min(work.done / work.total, 1.0), text=literal(work.words))
    else:
        st.markdown(f":material/hourglass_top: {literal(work.words)}")
    st.caption("It continues while you work on other pages or close this one.")
