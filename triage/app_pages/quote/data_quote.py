"""A quote to save data: what is asked first, the price, what it means for the shop, and the document."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import replace
from typing import Any

import streamlit as st

from triage.app_pages.jobs.job_in_hand import JobInHand
from triage.app_pages.quote.document import document_part, name_and_number
from triage.app_pages.quote.quote_given import SAID, covered, given_part
from triage.app_pages.shared.current_device import listed
from triage.app_pages.shared.data_steps import show_data_steps
from triage.app_pages.shared.literal import literal
from triage.app_pages.shared.shop_counter import data_quoted, shop_files
from triage.domain.data_job import DataFacts, Referral
from triage.domain.money import money_text
from triage.errors import TriageError
from triage.policy.data_job.quote import DataQuote
from triage.reports.quote.data_figures import money_lines
from triage.reports.quote.data_letter import data_letter
from triage.reports.quote.data_words import AUTHORITY, BACKUP, KNOWN, REFERRAL, TOUCH
from triage.workflows.jobs.data_job import give_data_quote
from triage.workflows.shop.shop import Shop

_HOW = """\
- Four things must hold before anything can be read: processor and storage together, a board that runs, a
  touch or a donor display, and the code. The board's chance is that of its repairs. The others are
  assumptions in your settings, and your own ended data jobs are counted beside them.
- **Quote** is the lowest price for all of the data at which your rule holds, unless you enter your own.
- A fee for trying is due whatever comes of it. It never pays for giving up: the work stays the same.
"""


def data_quote_part(toml: str, shop: Shop, key: Callable[[str], str]) -> None:
    """Draw the questions, then the price and its document.

    Parameters
    ----------
    key : key of a widget from its name; a new device starts anew.
    """
    facts = _facts(key)
    with st.grid(2, min_column_width=230, gap="xsmall"):
        fee = st.number_input(
            f"Fee for trying ({shop.settings.currency})", 0.0, 1e7, None, 5.0, "%.2f",
            placeholder="no data, no fee", key=key("fee"), persist_state="session",
        )  # fmt: skip
        by_hand = st.number_input(
            f"Your price ({shop.settings.currency})", 0.0, 1e7, None, 5.0, "%.2f",
            placeholder="lowest quote", key=key("data-price"), persist_state="session",
        )  # fmt: skip
    try:
        quote = data_quoted(toml, facts, fee or 0.0, by_hand)
    except TriageError as refusal:
        st.error(listed(refusal))
        return
    _figures(quote)
    with st.expander("Steps and cautions"):
        show_data_steps(quote.steps)
    customer, number = name_and_number(quote.number, key)
    quote = replace(quote, customer=customer, number=number)
    pdf = document_part(data_letter(quote, sample=shop_files().settings is None), key)

    def record(job: JobInHand, letter: str) -> None:
        kinds = shop.catalogue.kinds
        covers = [kind for kind in covered(job.file, shop) if kinds[kind].blocks_data]
        offer, chances = quote.offer, (quote.chances.of("all"), quote.chances.of("part"))
        job.do(
            give_data_quote, job.today, job.minor(offer.price), covers, facts, job.minor(offer.fee),
            job.minor(offer.part_price), chances, letter, offer.valid_until, said=SAID,
        )  # fmt: skip

    given_part(quote.number, pdf, shop, record)


def _facts(key: Callable[[str], str]) -> DataFacts:
    """What is asked before the data are touched."""
    st.subheader("Ask first", anchor=False)

    def choice(label: str, words: Mapping[Any, str], name: str, default: str) -> Any:
        options = list(words)
        return st.selectbox(
            label, options, options.index(default), format_func=lambda slug: words[slug].capitalize(),
            key=key(name), persist_state="session",
        )  # fmt: skip

    with st.grid(2, min_column_width=230, gap="xsmall"):
        backup = choice("Backup exists", BACKUP, "backup", "not-known")
        authority = choice("Who asks for the data", AUTHORITY, "authority", "owner")
        chips = choice("Original processor and storage together", KNOWN, "chips", "not-known")
        code = choice("Unlock code known to the owner", KNOWN, "code", "not-known")
        touch = choice("Touch", TOUCH, "touch", "not-known")
        proof = ""
        if authority != "owner":
            proof = st.text_input(
                "Proof of the right to the data", max_chars=300, key=key("proof"), persist_state="session",
                help="Local law decides who may receive the data. In doubt, ask a lawyer first.",
            )  # fmt: skip
    matters = st.text_area(
        "What matters most, one thing a line, first things first", max_chars=2000, height=90,
        key=key("matters"), persist_state="session",
    )  # fmt: skip
    irreplaceable = st.checkbox(
        "The data cannot be replaced", key=key("irreplaceable"), persist_state="session"
    )
    referral: Referral = "not-advised"
    if irreplaceable:
        st.warning(
            "Before you touch the device, advise a licensed data recovery practice. Every attempt here can "
            "lower the chance that others have.", icon=":material/warning:",
        )  # fmt: skip
        referral = choice("Referral to a data recovery practice", REFERRAL, "referral", "not-advised")
    return DataFacts(
        backup, authority, (proof or "").strip(), (matters or "").strip(), bool(irreplaceable), referral,
        chips, code, touch,
    )  # fmt: skip


def _figures(quote: DataQuote) -> None:
    """What the price means for the shop; none of it goes into the document."""
    bench, currency = quote.bench, quote.currency
    with st.grid(3, min_column_width=105, gap="xsmall"):
        st.metric("Quote", money_text(quote.offer.price, currency).replace("$", r"\$"))
        margin = money_text(bench.expected_margin, currency, whole=True)
        st.metric("Expected margin", margin.replace("$", r"\$"))
        st.metric("Risk of loss", f"{bench.losses_in_20} in 20")
    if bench.below_cost:
        st.error("The price is below cost.", icon=":material/trending_down:")
    part = f"Price for a part of the data: {money_text(quote.offer.part_price, currency)}"
    st.markdown("\n".join(f"- {literal(line)}" for line in (part, *money_lines(quote))))
    st.caption("These figures are for the shop. The document shows prices and chances, but no margin.")
    with st.expander("How this is calculated"):
        st.markdown(_HOW)
