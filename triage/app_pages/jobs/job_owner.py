"""The owner and the money of a job: quotes in versions, answers, payments."""

from __future__ import annotations

import pandas as pd
import streamlit as st

from triage.app_pages.jobs.job_in_hand import JobInHand
from triage.app_pages.shared.literal import literal
from triage.domain.job.owner_consent import covered_kinds, standing_consent
from triage.domain.job.records import Kept, Payment, Purpose, QuoteGiven
from triage.domain.money import from_minor, money_text
from triage.policy.answer.assessment import Route, Verdict
from triage.reports.wording.step import LIMIT_LABELS
from triage.reports.wording.verdict import verdict_words
from triage.review.money.job_money import Line, job_money
from triage.workflows.jobs.quotes import give_quote, pay, take_answer
from triage.workflows.jobs.words import day

_ASKING = ("considered", "taken", "in-work", "waiting", "came-back")
_PURPOSES: dict[Purpose, str] = {
    "deposit": "deposit",
    "diagnostic-fee": "diagnostic fee",
    "repair": "repair",
    "sale": "sale",
    "purchase": "purchase",
    "refund": "refund",
    "fee": "fee",
    "other": "other",
}


_LINES: dict[Line, str] = {
    "parts-bought": "parts bought",
    "input-tax": "tax on parts, recovered",
    "shelf-parts-used": "parts from the shelf, at cost",
    "parts-sold": "parts sold",
    "part-fees": "fees and postage of parts sold",
    "shelf-parts-left": "parts on the shelf or in other jobs, at cost",
    "tax": "tax on sales",
}


def owner_part(job: JobInHand) -> None:
    """Draw the quotes and the owner's answers, then the decisions and payments."""
    if job.file.route == "walk-in":
        _quotes(job)
    _decisions(job)
    _payments(job)


def _quotes(job: JobInHand) -> None:
    file = job.file
    consent = standing_consent(file)
    if consent:
        st.markdown(
            f"**The owner accepted** quote {consent.quote.number}, up to "
            f"{job.money(consent.ceiling_minor)} "
            f"({literal(consent.answer.who)}, {literal(consent.answer.how)})."
        )
    else:
        st.markdown("**The owner has not accepted a quote.** Work waits for a yes; no reply is not a yes.")
    for kept in file.quotes:
        quote = kept.record
        answers = [k.record for k in file.answers if k.record.quote == kept.id]
        said = "; ".join(
            f"{'yes' if answer.yes else 'no'} on {day(answer.on, job.today)} ({literal(answer.how)})"
            for answer in answers
        )
        st.markdown(
            f"- Quote {quote.number}: {job.money(quote.price_minor)}, "
            f"limit {job.money(quote.ceiling_minor)}, valid until {day(quote.valid_until, job.today)}, "
            f"{_covers(job, kept)}: "
            f"{said or 'not answered'}"
        )
    if file.state not in _ASKING:
        return
    if file.quotes:
        _answer(job)
    _quote(job)


def _covers(job: JobInHand, quote: Kept[QuoteGiven]) -> str:
    if any(kept.record.quote == quote.id for kept in job.file.data_asked):
        return "for saving data"
    kinds = job.shop.catalogue.kinds
    names = [literal(kinds[slug].name if slug in kinds else slug) for slug in covered_kinds(quote.record)]
    return f"for {', '.join(names)}" if names else "for opening and checks only"


def _answer(job: JobInHand) -> None:
    last = job.file.quotes[-1].record
    st.subheader(f"Owner's answer to quote {last.number}", anchor=False)
    with st.form(job.key("answer")):
        yes = st.pills(
            "Answer",
            [True, False],
            format_func=lambda said: "Yes" if said else "No",
            key=job.key("answer-yes"),
        )
        with st.grid(2, min_column_width=150, gap="xsmall"):
            who = st.text_input(
                "Who answered", job.file.intake.record.person, max_chars=100, key=job.key("answer-who")
            )
            how = st.text_input(
                "How they answered",
                max_chars=100,
                placeholder="signed, by phone, by letter",
                key=job.key("answer-how"),
            )
            ceiling = st.number_input(
                f"Agreed up to ({job.file.currency})", 0.0, 1e7, job.major(last.ceiling_minor), 5.0, "%.2f",
                key=job.key("answer-ceiling"),
            )  # fmt: skip
        if st.form_submit_button("Save answer", type="primary", key=job.key("answer-go")):
            if yes is None:
                st.error("Choose yes or no.")
            else:
                top = job.minor(ceiling) if yes else None
                job.do(take_answer, job.today, yes, (who or "").strip(), (how or "").strip(), top)


def _quote(job: JobInHand) -> None:
    """A quote made elsewhere and given to the owner; the quote page records its own."""
    file, catalogue = job.file, job.shop.catalogue
    kinds = [k.record.kind for k in file.findings if catalogue.repairs_for(k.record.kind)]
    st.subheader("Record another quote" if file.quotes else "Record a quote", anchor=False)
    with st.form(job.key("quote")):
        covers = st.pills(
            "Damage covered (none: a fee for opening and checks only)", kinds, selection_mode="multi",
            format_func=lambda slug: catalogue.kinds[slug].name, key=job.key("quote-covers"),
        )  # fmt: skip
        with st.grid(2, min_column_width=150, gap="xsmall"):
            price = st.number_input(
                f"Price ({file.currency})", 0.0, 1e7, None, 5.0, "%.2f", key=job.key("quote-price")
            )
            most = st.number_input(
                f"Price limit ({file.currency})", 0.0, 1e7, None, 5.0, "%.2f", placeholder="same as price",
                key=job.key("quote-most"),
            )  # fmt: skip
        if st.form_submit_button("Record quote", key=job.key("quote-go")):
            if price is None:
                st.error("Enter the price.")
            else:
                top = job.minor(price if most is None else most)
                job.do(give_quote, job.today, job.minor(price), top, covers)


def _decisions(job: JobInHand) -> None:
    if job.file.decisions:
        st.subheader("Decisions", anchor=False)
    for kept in job.file.decisions:
        told = kept.record
        route: Route = "buy" if job.file.route == "bought" else "walk-in"
        limit, verdict = LIMIT_LABELS[route], verdict_words(Verdict(told.verdict), route)
        least = "no price" if told.limit_minor is None else job.money(told.limit_minor)
        st.markdown(
            f"- {kept.at:%d %b %Y} ({literal(kept.by)}): "
            f"**{verdict}**, price {job.money(told.price_minor)}, {limit.lower()} {least}, "
            f"expected margin {job.money(told.margin_minor)}"
        )


def _payments(job: JobInHand) -> None:
    file = job.file
    st.subheader("Payments", anchor=False)
    rows = [
        f"- {day(kept.record.on, job.today)}: {_PURPOSES[kept.record.purpose]} "
        f"{job.money(kept.record.amount_minor)} {literal(kept.record.note)}"
        for kept in file.payments
    ]
    st.markdown("\n".join(rows) or "No payments yet.")
    _money(job)
    with st.form(job.key("pay")):
        with st.grid(2, min_column_width=150, gap="xsmall"):
            purpose = st.selectbox(
                "Purpose", list(_PURPOSES), index=None, format_func=_PURPOSES.__getitem__,
                placeholder="choose", key=job.key("pay-for"),
            )  # fmt: skip
            amount = st.number_input(
                f"Amount ({file.currency})", 0.0, 1e7, None, 5.0, "%.2f", key=job.key("pay-amount")
            )
            note = st.text_input("Note", max_chars=200, key=job.key("pay-note"))
        way = st.pills(
            "Direction", ["in", "out"], format_func={"in": "received", "out": "paid out"}.__getitem__,
            key=job.key("pay-way"),
        )  # fmt: skip
        if st.form_submit_button("Record payment", key=job.key("pay-go")):
            if purpose is None or amount is None or way is None:
                st.error("Enter purpose, amount and direction.")
            else:
                minor = job.minor(amount) * (1 if way == "in" else -1)
                job.do(pay, Payment(purpose, minor, job.today, (note or "").strip()))


def _money(job: JobInHand) -> None:
    """What is left of the job so far, line by line, to the cent."""
    with job.keeper.ledger.reading() as reading:
        ours = (kept.record.cost_minor for kept in reading.shelf() if kept.record.donor == job.file.id)
        shelved = sum(ours)
    money = job_money(job.file, shelved, job.shop.settings.tax)
    if not money.lines:
        return
    currency = job.file.currency
    lines = [
        (_PURPOSES[line.purpose] if line.purpose else _LINES[line.what], line.amount) for line in money.lines
    ]
    rows = [
        {"line": name.capitalize(), "amount": money_text(from_minor(amount, currency), currency)}
        for name, amount in (*lines, ("left before bench time", money.total))
    ]
    st.dataframe(pd.DataFrame(rows), hide_index=True, alt="Money of this job, line by line")
    st.caption(
        "Parts from the shelf count at their share of what their device cost. Margin by damage counts them "
        "at their worth, and charges bench time."
    )
