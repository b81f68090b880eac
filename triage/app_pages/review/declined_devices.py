"""Devices that were left, and whether leaving them was right as far as anybody has learned."""

from __future__ import annotations

from functools import partial

import streamlit as st

from triage.app_pages.review.profit_jobs import job_numbers, link_to_job
from triage.app_pages.shared.literal import literal
from triage.domain.money import is_loss, money_text
from triage.reports.wording.review import regret_words
from triage.review.money.money_review import MoneyReview
from triage.review.money.regret import PassedUnit
from triage.workflows.shop.shop_history import ShopHistory

_MOST = 12
TEACH = (
    "When you hear the result of a device that you left, enter it on its job page "
    "(**Jobs**, **Declined**): then it counts here."
)


def passed_by(review: MoneyReview, past: ShopHistory) -> None:
    """Draw what passing devices by cost and saved, those whose fate is known one by one."""
    if review.regret is None:
        return
    st.header("Devices you left", anchor=False)
    said = regret_words(review)
    for words in said:
        st.markdown(literal(words))
    if not said:
        st.markdown("No device was left so far.")
    elif past.invented:
        st.caption("These are from your own record, not from the invented jobs.")
    if not review.regret.known:
        st.caption(TEACH)
    ids = job_numbers() if review.regret.units else {}
    for unit in review.regret.units[:_MOST]:
        with st.container(gap=None):
            link_to_job(unit.label, _came_to(unit, review.currency), ids.get(unit.label))
            st.caption(literal(_behind(unit, review.currency)))
    if len(review.regret.units) > _MOST:
        st.caption(f"The {_MOST} that it would have paid most to take; all are in `triage review --json`.")


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
        said.append(f"reckoned with {money(unit.expected_margin)} then")
    return "; ".join([*said, f"known from: {unit.source}"])
