"""The jobs of one row of the money review: the worst first, each with how its margin adds up."""

from __future__ import annotations

import streamlit as st

from triage.app_pages.shared.literal import literal
from triage.app_pages.shared.pages import PAGES
from triage.app_pages.shared.shop_record import shop_record
from triage.reports.wording.review import ONE, group_words, job_detail, job_head, unpriced_words
from triage.review.money.job_lines import JobLine, job_lines
from triage.review.money.money_review import MoneyReview
from triage.workflows.shop.shop import Shop
from triage.workflows.shop.shop_history import ShopHistory

_A_PAGE = 8


def jobs_of_group(review: MoneyReview, past: ShopHistory, shop: Shop) -> None:
    """Draw the choice of a row, and its jobs a page at a time."""
    groups = {group.slug: group for group in review.groups}
    st.header("Jobs of one row", anchor=False)
    chosen = st.selectbox(
        f"Which {ONE[review.by]}?", list(groups), key=f"margin-{review.by}", bind="query-params",
        format_func=lambda slug: groups[slug].name,
    )  # fmt: skip
    group = groups.get(chosen or "")
    if group is None:
        return
    if words := group_words(group, review):
        st.markdown(literal(words))
    order = "by label" if review.by == "technician" else "lowest margin first"
    st.caption(f"{group.counted} job{'' if group.counted == 1 else 's'}{unpriced_words(group)}, {order}.")
    lines = _lines(review.by, group.slug, past.history.digest, review, past, shop)
    pages = -(-len(lines) // _A_PAGE)
    at = st.pagination(pages, key=f"margin-{review.by}-{group.slug}-page") if pages > 1 else 1
    ids = {} if past.invented else job_numbers()
    for line in lines[(at - 1) * _A_PAGE : at * _A_PAGE]:
        _draw(line, review.currency, ids.get(line.label))


def link_to_job(label: str, words: str, job: int | None) -> None:
    """One line about a job, a link where the record holds it."""
    said = f"**{literal(label)}** {literal(words)}"
    if job is None:
        st.markdown(said)
    else:
        st.page_link(
            PAGES["job"], label=said, icon=":material/chevron_right:", query_params={"job": str(job)}
        )


def job_numbers() -> dict[str, int]:
    """Number of every job of the record by its label."""
    ledger, _ = shop_record()
    if ledger is None:
        return {}
    with ledger.reading() as reading:
        return {label: id for id, label in reading.labels_by_id().items()}


def _draw(line: JobLine, currency: str, job: int | None) -> None:
    with st.container(gap=None):
        link_to_job(line.label, job_head(line, currency), job)
        st.caption(literal(job_detail(line, currency)))


@st.cache_resource(max_entries=24, show_spinner=False)
def _lines(
    by: str, slug: str, history: str, _review: MoneyReview, _past: ShopHistory, _shop: Shop
) -> tuple[JobLine, ...]:
    (group,) = (group for group in _review.groups if group.slug == slug)
    return job_lines(group, _past.history, _shop.catalogue, _shop.settings)
