"""The quote page: a price for an owner, what it means for the shop, and the document to hand over."""

from __future__ import annotations

from dataclasses import replace

import streamlit as st

from triage.app_pages.device import intake
from triage.app_pages.quote.data_quote import data_quote_part
from triage.app_pages.quote.document import document_part, name_and_number
from triage.app_pages.quote.quote_given import repair_given_part
from triage.app_pages.shared.current_device import address, current_draft, finished, listed, read
from triage.app_pages.shared.literal import literal
from triage.app_pages.shared.next_step import next_step
from triage.app_pages.shared.page_head import page_head
from triage.app_pages.shared.pages import PAGES
from triage.app_pages.shared.shop_counter import quoted, shop_files
from triage.domain.counts import forecast_in_twenty, with_signs
from triage.domain.money import money_text
from triage.errors import TriageError
from triage.policy.answer.quote import QUOTE_KINDS, Quote, QuoteKind
from triage.reports.quote.compose import quote_letter
from triage.reports.quote.figures import (
    KIND_WORDS,
    below_cost_words,
    best_words,
    least_words,
    stage_lines,
)
from triage.workflows.shop.shop import Shop

_WHAT = {"repair": "Repair", "data": "Save the data"}
_HOW = """\
- Every outcome counts with its chance: repaired and paid; not repaired, and paid as the kind of quote says
  or not at all; stopped where it no longer pays to go on.
- Costs are parts, bench time at your rate, fees, tax, mishaps and comebacks, as under Settings.
- **Quote** is the lowest quote at which your rule holds over all outcomes, unless you enter your own price.
- **Risk of loss** counts, of 20 equally likely outcomes of one such job, those that lose money.
"""


def page() -> None:
    """Draw the page: the kind of quote and the price, what they mean, then the document."""
    shop = page_head("Quote")
    if shop is None:
        return
    draft = current_draft()
    st.page_link(
        PAGES["device"], label="Back to the device", icon=":material/arrow_back:", query_params=address()
    )
    unit, refusal = read(draft, shop)
    if unit is None or not finished(unit):
        st.info(
            listed(refusal) if refusal else "No device is described. Describe it on the Device page first."
        )
        return
    st.caption(intake.summary(unit, replace(draft, walk_in=True), shop))
    what = st.segmented_control(
        "What is quoted", list(_WHAT), default="repair", required=True, format_func=_WHAT.__getitem__,
        key=_key("what"), persist_state="session",
    )  # fmt: skip
    if what == "data":
        data_quote_part(draft.toml, shop, _key)
        return
    kind, by_hand = _asked(shop)
    try:
        quote = quoted(draft.toml, kind, by_hand)
    except TriageError as refusal:
        st.error(listed(refusal))
        return
    _figures(quote)
    with_words, pdf = _document(quote)
    repair_given_part(with_words, pdf, shop)


def _key(name: str) -> str:
    """Key of a widget: a new device starts a new quote."""
    return f"quote-{st.session_state['device-turn']}-{name}"


def _asked(shop: Shop) -> tuple[QuoteKind, float | None]:
    """The kind of quote, and the shop's own price or None."""
    with st.grid(2, min_column_width=230, gap="xsmall"):
        kind = st.selectbox(
            "Kind of quote", QUOTE_KINDS, format_func=lambda slug: KIND_WORDS[slug].capitalize(),
            key=_key("kind"), persist_state="session",
        )  # fmt: skip
        by_hand = st.number_input(
            f"Your price ({shop.settings.currency})", 0.0, 1e7, None, 5.0, "%.2f",
            placeholder="lowest quote", key=_key("price"), persist_state="session",
        )  # fmt: skip
    return kind, by_hand


def _figures(quote: Quote) -> None:
    """What the price means for the shop; none of it goes into the document."""
    bench, currency = quote.bench, quote.currency
    with st.grid(3, min_column_width=105, gap="xsmall"):
        st.metric("Quote", money_text(quote.offer.price, currency).replace("$", r"\$"))
        margin = money_text(bench.expected_margin, currency, whole=True)
        st.metric("Expected margin", margin.replace("$", r"\$"))
        st.metric("Risk of loss", with_signs(forecast_in_twenty(bench.losses_in_20 / 20)))
    if bench.below_cost:
        st.error(literal(below_cost_words(quote)), icon=":material/trending_down:")
    lines = [*stage_lines(quote), least_words(quote)]
    if bench.priced_by:
        lines.append(f"Prices used: {bench.priced_by}")
    if bench.best is not None:
        lines.append(best_words(bench.best, quote))
    st.markdown("\n".join(f"- {literal(line)}" for line in (*lines, *bench.notes)))
    st.caption(
        "Quotes include tax. These figures are for the shop: the document shows prices, but no margin and "
        "no risk."
    )
    with st.expander("How this is calculated"):
        st.markdown(_HOW)


def _document(quote: Quote) -> tuple[Quote, bytes | None]:
    """The quote with its owner's name and number, and its PDF, if it can be set."""
    customer, number = name_and_number(quote.number, _key)
    quote = replace(quote, customer=customer, number=number)
    return quote, document_part(quote_letter(quote, sample=shop_files().settings is None), _key)


if __name__ == "__main__":
    page()
    next_step("quote")
