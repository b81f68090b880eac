"""What is open of the right to sell a device: one short table."""

from __future__ import annotations

import streamlit as st

from triage.app_pages.shared.literal import literal
from triage.policy.answer.assessment import Assessment
from triage.reports.wording.right_to_sell import HEADINGS, TITLE, question_rows, right_words

_NO_BREAK = "\N{NO-BREAK SPACE}"
_FIGURE = 9  # characters, such as "18 in 20"


def show_right(assessment: Assessment) -> None:
    """Draw the open questions, what a refusal leaves and what may not be done until they are settled."""
    rows = question_rows(assessment)
    if not rows:
        return
    with st.container(key="device-right", gap="xsmall"):
        st.subheader(TITLE, anchor=False)
        # How it is settled stands beneath the question: a phone has no room for a column more.
        *figures, _ = HEADINGS
        lines = [figures, ["---"] * len(figures), *([_asked(row), *map(_figure, row[1:-1])] for row in rows)]
        st.markdown("\n".join(f"| {' | '.join(line)} |" for line in lines))
        st.caption(literal(right_words(assessment)))


def _asked(row: tuple[str, ...]) -> str:
    return f"**{literal(row[0])}**: {literal(row[-1])}"


def _figure(text: str) -> str:
    """A figure on one line, where it is short."""
    return literal(text).replace(" ", _NO_BREAK) if len(text) <= _FIGURE else literal(text)
