"""What is open of the right to sell a device: one short table."""

from __future__ import annotations

import streamlit as st

from triage.app_pages.shared.literal import literal
from triage.policy.answer.assessment import Assessment
from triage.reports.wording.right_to_sell import HEADINGS, TITLE, question_rows, right_words


def show_right(assessment: Assessment) -> None:
    """Draw the open questions, what a refusal leaves and what may not be done until they are settled."""
    rows = question_rows(assessment)
    if not rows:
        return
    with st.container(key="device-right", gap="xsmall"):
        st.subheader(TITLE, anchor=False)
        lines = [HEADINGS, ("---",) * len(HEADINGS), *(tuple(map(literal, row)) for row in rows)]
        st.markdown("\n".join(f"| {' | '.join(line)} |" for line in lines))
        st.caption(literal(right_words(assessment)))
