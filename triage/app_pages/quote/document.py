"""The document of a quote as files to download: its owner's name, its number, PDF and web page."""

from __future__ import annotations

import re
from collections.abc import Callable

import streamlit as st

from triage.app_pages.shared.current_device import listed
from triage.errors import TriageError
from triage.reports.quote.document import quote_html, quote_pdf
from triage.reports.quote.letter import Letter

_MOST_LETTERS = 200


def name_and_number(number: str, key: Callable[[str], str]) -> tuple[str, str]:
    """Ask for the owner's name and the number of the quote; the number given where none is typed."""
    st.header("Document for the owner", anchor=False)
    with st.grid(2, min_column_width=150, gap="xsmall"):
        customer = st.text_input(
            "Owner's name", max_chars=_MOST_LETTERS, key=key("customer"), persist_state="session"
        )
        typed = st.text_input(
            "Quote number", max_chars=_MOST_LETTERS, placeholder=number, key=key("number"),
            persist_state="session",
        )  # fmt: skip
    return (customer or "").strip(), (typed or "").strip() or number


def document_part(letter: Letter, key: Callable[[str], str]) -> bytes | None:
    """Draw the buttons that download the document; the PDF, if it can be set."""
    name = f"quote-{re.sub(r'[^0-9A-Za-z-]+', '-', letter.number)}"
    pdf = None
    with st.container(horizontal=True):
        try:
            pdf = quote_pdf(letter)
        except TriageError as refusal:
            st.error(listed(refusal))
        else:
            st.download_button(
                "Download PDF", pdf, f"{name}.pdf", "application/pdf", type="primary",
                icon=":material/picture_as_pdf:", on_click="ignore", key=key("pdf"),
            )  # fmt: skip
        st.download_button(
            "Download web page", quote_html(letter), f"{name}.html", "text/html", on_click="ignore",
            icon=":material/language:", key=key("html"),
        )  # fmt: skip
    return pdf
