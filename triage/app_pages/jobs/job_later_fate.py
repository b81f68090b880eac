"""The later result of a declined device, which tells whether declining it was right."""

from __future__ import annotations

import streamlit as st

from triage.app_pages.jobs.job_in_hand import JobInHand
from triage.app_pages.shared.literal import literal
from triage.workflows.jobs.intake import later_fate


def later_fate_part(job: JobInHand) -> None:
    """Draw the known results of a declined device, and the form that adds one."""
    file = job.file
    st.subheader("Result elsewhere", anchor=False)
    if file.decisions and file.decisions[-1].record.margin_minor is not None:
        told = file.decisions[-1].record
        at = f" at {job.money(told.price_minor)}" if told.price_minor is not None else ""
        st.markdown(f"Expected margin when it was declined: {job.money(told.margin_minor)}{at}.")
    for kept in file.later_fates:
        fate = kept.record
        st.markdown(f"- margin {job.money(fate.margin_minor)}: {literal(fate.source)}")
    st.caption(
        "If you learn what somebody else made on it, enter it here. The track record then shows what "
        "declining devices saved or cost. The latest entry counts."
    )
    with st.form(job.key("fate")):
        with st.grid(2, min_column_width=150, gap="xsmall"):
            margin = st.number_input(
                f"Margin it would have made ({file.currency}; below 0 for a loss)", -1e7, 1e7, None, 5.0,
                "%.2f", key=job.key("fate-margin"),
            )  # fmt: skip
            source = st.text_input(
                "Source", max_chars=300, placeholder="sold repaired at the market for 120",
                key=job.key("fate-source"),
            )  # fmt: skip
        if st.form_submit_button("Save result", key=job.key("fate-go")):
            if margin is None:
                st.error("Enter the margin: the sale less all costs.")
            else:
                job.do(later_fate, job.minor(margin), (source or "").strip())
