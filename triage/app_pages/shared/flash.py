"""The result of the last act, shown once on the page that is drawn next."""

from __future__ import annotations

import streamlit as st

from triage.app_pages.shared.literal import literal


def say_what_happened() -> None:
    """Draw the result of the last act, once."""
    kind, words = st.session_state.pop("job-flash", ("", ""))
    if kind:
        {"success": st.success, "warning": st.warning, "error": st.error}[kind](words)


def flash_refusals(refusals: tuple[str, ...], before: str) -> None:
    """Keep refusals for the page that comes next."""
    flash("warning", before + "\n" + "\n".join(f"- {literal(words)}" for words in refusals))


def flash(kind: str, words: str) -> None:
    """Keep a message for the page that comes next. kind : success, warning or error."""
    st.session_state["job-flash"] = (kind, words)
