"""Declined devices, and what became of those whose outcome is known."""

from __future__ import annotations

from functools import partial

import streamlit as st

from triage.app_pages.review.margin_jobs import job_numbers, link_to_job
from triage.app_pages.shared.literal import literal
from triage.domain.money import is_loss, money_text
from triage.reports.wording.review import regret_words
from triage.review.money.money_review import MoneyReview
from triage.review.money.regret import PassedUnit
from triage.workflows.shop.shop_history import ShopHistory

_MOST = 12
TEACH = (
    "When you hear what became of a declined device, record it on its job page (**Jobs**). It then counts "
    "here."
)


def passed_by(review: MoneyReview, past: ShopHistory) -> None:
    """Draw what declining devices cost and saved, those whose outcome is known one by one."""
    if review.regret is None:
        return
    st.header("Declined devices", anchor=False)
    said = regret_words(review)
    for words in said:
        st.markdown(literal(words))
    if not said:
        st.markdown("You have not declined a device yet.")
    elif past.invented:
        st.caption("This section uses your own record, not the invented jobs.")
    if not review.regret.known:
        st.caption(TEACH)
    ids = job_numbers() if review.regret.units else {}
    for unit in review.regret.units[:_MOST]:
        with st.container(gap=None):
            link_to_job(unit.label, _came_to(unit, review.currency), ids.get(unit.label))
            st.caption(literal(_behind(unit, review.currency)))
    if len(review.regret.units) > _MOST:
        st.caption(f"The {_MOST} with the highest margin. `triage review --json` lists all.")


def _came_to(unit: PassedUnit, currency: str) -> str:
    fate = unit.fate_margin or 0.0
    if is_loss(fate):
        return f"would have lost {money_text(-fate, currency)}"
    return f"would have earned {money_text(fate, currency)}"


def _behind(unit: PassedUnit, currency: str) -> str:
    money = partial(money_text, currency=currency)
    said = []
    if unit.ask is not None:
        said.append(f"asked {money(unit.ask)}")
    if unit.expected_margin is not None:
        said.append(f"expected margin then {money(unit.expected_margin)}")
    return "; ".join([*said, f"source: {unit.source}"])
