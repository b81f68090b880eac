"""The limits of a choice from a lot, as the page asks for them."""

from __future__ import annotations

import streamlit as st

from triage.lot_selection.lot_choice import Goal, Wanted
from triage.lot_selection.scored_lot import ScoredLot

_GOALS: dict[Goal, str] = {"expected": "highest expected margin", "worst": "best worst 2 in 20"}


def wanted_of(lot: ScoredLot) -> Wanted:
    """Draw the limits; what is asked of the choice."""
    with st.grid(2, min_column_width=150, gap="xsmall"):
        cash = st.number_input(
            f"Cash limit ({lot.currency})", 0.0, 1e7, None, 50.0, "%.0f", key="lot-cash",
            placeholder="no limit", bind="query-params",
        )  # fmt: skip
        hours = st.number_input(
            "Bench hours limit", 0.0, 1e5, None, 1.0, "%.1f", key="lot-hours", placeholder="no limit",
            bind="query-params",
        )  # fmt: skip
    goal = st.segmented_control(
        "Choose for", list(_GOALS), default="expected", key="lot-goal",
        format_func=_GOALS.__getitem__, required=True,
    )  # fmt: skip
    with st.expander("More limits"):
        most = _most(lot)
        must = st.multiselect(
            "Always buy", lot.labels, key="lot-must", placeholder="none", persist_state="session"
        )
        never = st.multiselect(
            "Never buy", lot.labels, key="lot-never", placeholder="none", persist_state="session"
        )
    return Wanted(cash, hours, most, tuple(must), tuple(never), goal or "expected")


def _most(lot: ScoredLot) -> dict[str, int]:
    """The most devices of each price class; blank is no limit."""
    given = {}
    with st.grid(4, min_column_width=105, gap="xsmall"):
        for tier in dict.fromkeys(lot.tiers):
            given[tier] = st.number_input(
                f"Most of price class {tier}", 0, 100_000, None, 1, key=f"lot-most-{tier}", placeholder="any"
            )
    return {tier: int(count) for tier, count in given.items() if count is not None}
