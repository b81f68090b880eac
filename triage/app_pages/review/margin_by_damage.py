"""The page of margin by damage: margins of the shop's past jobs, and what price would break even."""

from __future__ import annotations

from typing import Any, get_args

import pandas as pd
import streamlit as st

from triage.app_pages.fitting.past_jobs import past_jobs
from triage.app_pages.review.declined_devices import passed_by
from triage.app_pages.review.margin_jobs import jobs_of_group
from triage.app_pages.shared.current_device import listed
from triage.app_pages.shared.literal import literal
from triage.app_pages.shared.next_step import next_step
from triage.app_pages.shared.page_head import page_head
from triage.app_pages.shared.shop_record import newest_entry, record_url, shop_record
from triage.domain.counts import in_twenty
from triage.domain.money import money_text
from triage.errors import TriageError
from triage.reports.charts.review import mean_intervals, review_words
from triage.reports.wording.review import (
    CHANGE_WORDS,
    ONE,
    TWO_MEANS,
    change_words,
    lead_words,
    missing_words,
)
from triage.review.money.money_review import By, MeanMargin, MoneyGroup, MoneyReview
from triage.workflows.looking_back.losses import margin_by_damage
from triage.workflows.shop.shop import Shop
from triage.workflows.shop.shop_history import ShopHistory

_MOST_IN_CHART = 14
# Columns of text.
_LOSES, _SURE, _TO_ZERO, _NOTE = (
    "chance that the mean is below 0",
    "90 % interval",
    "break-even change",
    "note",
)
# What a mean is of, where it is not of whole margins.
_MEANS = {"kind": "Attributed", "family": "Attributed", "technician": "Adjusted mean"}
_POOLED = (
    "Partial pooling: a mean is moved towards the other groups, most where there are few jobs, because "
    "these may be good or bad by chance. The note gives the number of jobs where the move is large."
)


def page() -> None:
    """Draw the answer by what is chosen: a sentence, a chart, a table, and the jobs of one row."""
    shop = page_head("Margin by damage", "Margin of past jobs, before unrecorded work; lowest total first.")
    past = past_jobs(shop) if shop else None
    if shop is None or past is None:
        return
    by = st.segmented_control(
        "Group by", list(get_args(By)), default="kind", required=True, format_func=ONE.__getitem__,
        key="margin-by", bind="query-params",
    )  # fmt: skip
    try:
        review = _review(
            by or "kind", past.history.digest, _books(shop), record_url(), newest_entry(), past, shop
        )
    except TriageError as refusal:
        st.error(listed(refusal))
        return
    st.markdown(f"**{literal(lead_words(review))}**")
    if review.jobs and review.groups:
        _chart(review)
    if review.groups:
        _table(review)
    for words in missing_words(review):
        st.caption(literal(words))
    if review.groups:
        jobs_of_group(review, past, shop)
    passed_by(review, past)


@st.cache_resource(max_entries=24, show_spinner="Dividing the margins…")
def _review(
    by: By, history: str, books: str, url: str, newest: int, _past: ShopHistory, _shop: Shop
) -> MoneyReview:
    ledger, _ = shop_record()
    return margin_by_damage(_past, _shop, ledger, by)


def _books(shop: Shop) -> str:
    """What a review depends on besides the jobs."""
    return f"{shop.catalogue.digest} {shop.settings}"


def _chart(review: MoneyReview) -> None:
    words = review_words(review, _MOST_IN_CHART)
    st.altair_chart(mean_intervals(review, _MOST_IN_CHART), width="stretch", alt=words)
    shown = "" if len(review.groups) <= _MOST_IN_CHART else (
        f" The chart shows the {_MOST_IN_CHART // 2} lowest and {_MOST_IN_CHART // 2} highest totals; the "
        f"table has all {len(review.groups)}."
    )  # fmt: skip
    if review.by == "technician":
        st.caption(literal(" ".join(review.explained)))
    st.caption(
        f"{_MEANS.get(review.by, 'Mean')} margin a job, moved towards the other groups if there are few jobs "
        "(partial pooling): a diamond for a loss, a circle for a gain. The line is the 90 % credible "
        "interval: it holds the true mean with a chance of 18 in 20. If it crosses zero, the sign is not "
        "certain."
        f"{shown}"
    )


def _table(review: MoneyReview) -> None:
    """Every group in the order of the review; a row that is picked is the one whose jobs are shown."""
    key = f"margin-{review.by}-rows"

    def pick() -> None:
        rows = st.session_state[key].selection.rows
        if rows:
            st.session_state[f"margin-{review.by}"] = review.groups[rows[0]].slug

    rows = [_row(group, review) for group in review.groups]
    st.dataframe(
        pd.DataFrame(rows), hide_index=True, key=key, on_select=pick, selection_mode="single-row",
        alt=f"Margins by {ONE[review.by]}, the lowest total first",
        column_config={name: _column(name) for name in rows[0]},
    )  # fmt: skip
    if not review.jobs:
        return
    if review.by in ("kind", "family"):
        st.caption(TWO_MEANS)
    if review.by != "technician":
        st.caption(literal(f"{CHANGE_WORDS}."))
    with st.expander("How we get this"):
        said = () if review.by == "technician" else review.explained
        st.markdown("\n".join(f"- {literal(words)}" for words in (*said, _POOLED)))


def _row(group: MoneyGroup, review: MoneyReview) -> dict[str, object]:
    """One row of the table; amounts are numbers where a click on the column's head sorts by them."""
    currency, one = review.currency, ONE[review.by]
    if not review.jobs:
        return {
            one: group.name, "jobs": group.counted, "attempts": group.attempts, "fixed": group.fixed,
        }  # fmt: skip
    mean = group.mean
    if mean is None:
        return {one: group.name, "jobs": group.jobs}
    shared = group.had_it is not None
    name = "attributed margin a job" if shared else "adjusted mean" if review.by == "technician" else "mean"
    middle = {f"{name}, {currency}": round(mean.mean), _SURE: _interval(mean, currency)}
    if review.by == "technician":
        return {one: group.name, "jobs": group.jobs, **middle, _NOTE: group.pulled_words}
    if group.had_it is not None:
        middle[f"raw mean, {currency}"] = round(group.had_it.mean)
    return {
        one: group.name, f"total, {currency}": round(group.total or 0.0), "jobs": group.jobs, **middle,
        _LOSES: in_twenty(mean.loss_chance), _TO_ZERO: change_words(group, currency),
        _NOTE: group.pulled_words,
    }  # fmt: skip


def _column(name: str) -> Any:
    """How a column is shown: the name stays in sight, and what matters first fits a small window."""
    if name in ONE.values():
        return st.column_config.TextColumn(pinned=True, width=190)
    if name == _LOSES:
        return st.column_config.TextColumn(width=220)
    if name in (_NOTE, _SURE):
        return st.column_config.TextColumn(width=110)
    if name == _TO_ZERO:
        return st.column_config.TextColumn(width=290)
    return st.column_config.NumberColumn(
        format="localized", width=125 if "mean" in name or "attributed" in name else 75
    )


def _interval(mean: MeanMargin, currency: str) -> str:
    low, high = (money_text(amount, currency, whole=True) for amount in (mean.low, mean.high))
    return f"{low} to {high}"


if __name__ == "__main__":
    page()
    next_step("margin_by_damage")
