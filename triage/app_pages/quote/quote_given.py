"""A quote handed to the owner of a job, recorded with what it covers and the document's hash."""

from __future__ import annotations

import hashlib
from collections.abc import Callable

import streamlit as st

from triage.app_pages.jobs.job_in_hand import JobInHand, shown, version_seen
from triage.app_pages.shared.at_the_bench import at_the_bench
from triage.app_pages.shared.current_device import current_job, listed
from triage.app_pages.shared.flash import say_what_happened
from triage.app_pages.shared.literal import literal
from triage.app_pages.shared.pages import PAGES
from triage.app_pages.shared.shop_record import shop_record
from triage.domain.job.file import JobFile
from triage.domain.money import from_minor, money_text
from triage.errors import TriageError
from triage.policy.answer.quote import Quote
from triage.workflows.jobs.quotes import give_quote
from triage.workflows.jobs.record_keeper import RecordKeeper
from triage.workflows.jobs.words import day
from triage.workflows.shop.shop import Shop

SAID = "Quote recorded. Enter the owner's answer on the job page."


def repair_given_part(quote: Quote, pdf: bytes | None, shop: Shop) -> None:
    """Draw the button that records a quote for a repair."""

    def record(job: JobInHand, letter: str) -> None:
        price, most = job.minor(quote.offer.price), job.minor(quote.offer.ceiling)
        covers, until = covered(job.file, shop), quote.offer.valid_until
        job.do(give_quote, job.today, price, most, covers, letter, until, said=SAID)

    given_part(quote.number, pdf, shop, record)


def given_part(
    quote_number: str, pdf: bytes | None, shop: Shop, record: Callable[[JobInHand, str], None]
) -> None:
    """Draw the button that records a quote, where the device is an owner's job.

    Parameters
    ----------
    record : writes it, given the job and what names the document.
    """
    ledger, _ = shop_record()
    number = current_job()
    if ledger is None:
        return
    if number is None:
        st.caption(
            "This page does not save the quote: download the document to keep it. To save it in your "
            "record, first press **Open a job and quote** on the Device page. The owner's answer goes on the "
            "job page."
        )
        return
    try:
        with ledger.reading() as reading:
            file = reading.job(number)
    except TriageError as refusal:
        st.error(listed(refusal))
        return
    st.page_link(
        PAGES["job"],
        label=f"Job {literal(file.label)}",
        icon=":material/work:",
        query_params={"job": str(number)},
    )
    say_what_happened()
    for kept in file.quotes:
        told, today = kept.record, shop.today
        most = from_minor(told.ceiling_minor, file.currency)
        st.caption(
            f"Quote {told.number} given on {day(told.on, today)}, limit "
            f"{literal(money_text(most, file.currency))}."
        )
    with st.form("quote-given"):
        st.caption("When you hand over the document, save the quote in the job.")
        hand = at_the_bench(ledger)
        given = st.form_submit_button("Record quote as given", key="quote-given-go")
    if given:
        job = JobInHand(RecordKeeper(ledger, shop, hand), file, version_seen(file))
        record(job, "" if pdf is None else f"{quote_number}, PDF SHA-256 {hashlib.sha256(pdf).hexdigest()}")
    shown(file)  # a second press is about a job that it has not seen, and is refused


def covered(file: JobFile, shop: Shop) -> list[str]:
    """Damage kinds of a job that a repair can be quoted for."""
    kinds = (kept.record.kind for kept in file.findings)
    return [kind for kind in kinds if kind in shop.catalogue.kinds and shop.catalogue.repairs_for(kind)]
