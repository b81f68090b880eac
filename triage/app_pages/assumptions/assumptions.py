"""The page of assumptions (priors): what the shop assumes, and whether its record agrees."""

from __future__ import annotations

import streamlit as st

from triage.app_pages.assumptions.assumption_keeping import go_back
from triage.app_pages.assumptions.assumption_proposals import proposals_part
from triage.app_pages.assumptions.assumption_sets import sets_part
from triage.app_pages.assumptions.assumption_standing import standing_part
from triage.app_pages.assumptions.assumption_stated import state_part
from triage.app_pages.fitting.past_jobs import past_jobs
from triage.app_pages.shared.next_step import next_step
from triage.app_pages.shared.page_head import page_head
from triage.workflows.shop.own_sets import chosen_set

_PARTS = {
    "stand": "Compare with the record",
    "state": "State an assumption",
    "propose": "Propose from past jobs",
    "sets": "Saved sets",
}


def page() -> None:
    """Draw the one part that is asked for: the others are not worked out."""
    shop = page_head(
        "Assumptions",
        "What you expect of each repair before any job is counted (the prior), beside your record.",
    )
    if shop is None:
        if chosen_set() is not None:  # it may be what cannot be used
            go_back()
        return
    part = st.segmented_control(
        "Part", list(_PARTS), default="stand", required=True, format_func=lambda name: _PARTS[name],
        key="assumption-part", bind="query-params", label_visibility="collapsed",
    )  # fmt: skip
    if part == "state":
        state_part(shop)
        return
    if part != "sets" and shop.posterior.manifest.failed:
        st.warning(
            "The fit failed its checks, so this page shows nothing from it. Under **Model check**, go back "
            "to an earlier fit or run a new one."
        )
        return
    found = past_jobs(shop)
    if part == "propose":
        proposals_part(shop, found)
    elif part == "sets":
        sets_part(shop, found)
    else:
        standing_part(shop, found)


if __name__ == "__main__":
    page()
    next_step("assumptions")
