"""What became of a device that was left: learned later, and what tells whether leaving it was right."""

from __future__ import annotations

import streamlit as st

from triage.app_pages.jobs.job_in_hand import JobInHand
from triage.app_pages.shared.literal import literal
from triage.workflows.jobs.intake import later_fate


def later_fate_part(job: JobInHand) -> None:
    """Draw what is known of a left device's later life, and the form that adds to it."""
    file = job.file
    st.subheader("What became of it?", anchor=False)
    if file.decisions and file.decisions[-1].record.margin_minor is not None:
        told = file.decisions[-1].record
        at = f" at {job.money(told.price_minor)}" if told.price_minor is not None else ""
        st.markdown(f"When it was left we reckoned with a margin of {job.money(told.margin_minor)}{at}.")
    for kept in file.later_fates:
        fate = kept.record
        st.markdown(f"- came to {job.money(fate.margin_minor)}: {literal(fate.source)}")
    st.caption(
        "If you hear what it came to with somebody else, write it down: the office sees what leaving "
        "devices saved, and what it cost. What was heard last counts."
    )
    with st.form(job.key("fate")):
        with st.grid(2, min_column_width=150, gap="xsmall"):
            margin = st.number_input(
                f"What it would have kept for us ({file.currency}; below 0 for a loss)", -1e7, 1e7, None, 5.0,
                "%.2f", key=job.key("fate-margin"),
            )  # fmt: skip
            source = st.text_input(
                "Where that is known from", max_chars=300, placeholder="sold mended at the market for 120",
                key=job.key("fate-source"),
            )  # fmt: skip
        if st.form_submit_button("Write it down", key=job.key("fate-go")):
            if margin is None:
                st.error("Say what it would have kept: its sale less everything it would have cost.")
            else:
                job.do(later_fate, job.minor(margin), (source or "").strip())
