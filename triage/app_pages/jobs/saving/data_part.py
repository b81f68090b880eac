"""A data job at the bench: what was agreed, its steps, what was saved, and the erasure of our copy."""

from __future__ import annotations

from datetime import timedelta

import streamlit as st

from triage.app_pages.jobs.job_in_hand import JobInHand
from triage.app_pages.shared.data_steps import show_data_steps
from triage.app_pages.shared.literal import literal
from triage.domain.counts import in_twenty
from triage.domain.data_job import DATA_OUTCOMES, CopyErased, DataAsked, DataEnded
from triage.domain.job.data.rules import copy_due, due_minor
from triage.domain.job.owner_consent import covered_kinds
from triage.errors import TriageError
from triage.policy.data_job.steps import DataStep, data_steps
from triage.reports.quote.data_words import AUTHORITY, BACKUP, FAILED, KNOWN, OUTCOME, REFERRAL, TOUCH
from triage.workflows.jobs.data_job import end_data_job, erase_copy
from triage.workflows.jobs.intake import described
from triage.workflows.jobs.words import day


def data_part(job: JobInHand) -> None:
    """Draw what is known of the data, the steps, and the forms for outcome and erasure."""
    asked = job.file.data_job
    if asked is None:
        st.markdown("This is no data job. To quote one, choose **Save the data** on the Quote page.")
        return
    _agreed(job, asked)
    _outcome(job, asked)
    if not job.file.data_ended:
        st.subheader("Steps", anchor=False)
        show_data_steps(_steps(job, asked))


def _agreed(job: JobInHand, asked: DataAsked) -> None:
    """What was asked, and what was forecast."""
    lines = [
        f"asked for by {AUTHORITY[asked.authority]}" + (f" ({literal(asked.proof)})" if asked.proof else ""),
        f"backup: {BACKUP[asked.backup]}",
        f"processor and storage together: {KNOWN[asked.chips]}",
        f"code known: {KNOWN[asked.code]}; touch: {TOUCH[asked.touch]}",
        f"forecast: all {in_twenty(asked.all_chance)}, a part {in_twenty(asked.part_chance)}",
    ]
    if asked.irreplaceable:
        lines.append(f"**irreplaceable**; referral to a data recovery practice: {REFERRAL[asked.referral]}")
    order = [f"{number}. {literal(what)}" for number, what in enumerate(asked.in_order, 1)]
    st.markdown("\n".join(f"- {line}" for line in lines))
    if order:
        st.markdown("What matters most, in order:\n" + "\n".join(order))


def _steps(job: JobInHand, asked: DataAsked) -> tuple[DataStep, ...]:
    catalogue = job.shop.catalogue
    quote = next(kept.record for kept in job.file.quotes if kept.id == asked.quote)
    repairs = [catalogue.repairs_for(kind)[0] for kind in covered_kinds(quote) if catalogue.repairs_for(kind)]
    try:
        unit = described(job.file.intake.record.description, job.shop)
    except TriageError:  # described in words that the catalogue has lost since
        return ()
    return data_steps(unit, catalogue, asked, repairs)


def _outcome(job: JobInHand, asked: DataAsked) -> None:
    """The outcome, once it is recorded, or the form for it."""
    file = job.file
    if not file.data_ended:
        if file.state == "in-work":
            _end(job)
        else:
            st.caption("Start work first. The outcome is recorded while the job is in progress.")
        return
    ended = file.data_ended[-1].record
    words = OUTCOME[ended.outcome] + (f", {FAILED[ended.failed_at]}" if ended.failed_at else "")
    what = f": {literal(ended.saved)}" if ended.saved else ""
    st.markdown(f"**{words.capitalize()}** on {day(ended.on, job.today)}{what}. "
                f"Due from the owner: {job.money(due_minor(file))}.")  # fmt: skip
    due = copy_due(file)
    if due:
        late = due < job.today
        by = f"**Erase our copy by {day(due, job.today)}**"
        st.markdown(f":red[{by}: overdue]" if late else by)
        _erase(job)
    for kept in file.copies_erased:
        st.markdown(f"Our copy was erased on {day(kept.record.on, job.today)}: {literal(kept.record.how)}.")


def _end(job: JobInHand) -> None:
    days = job.shop.settings.data.copy_days
    st.subheader("Outcome", anchor=False)
    with st.form(job.key("data-end")):
        outcome = st.pills(
            "Data saved, by the owner's list", list(DATA_OUTCOMES),
            format_func=lambda slug: OUTCOME[slug].capitalize(), key=job.key("data-outcome"),
        )  # fmt: skip
        failed = st.selectbox(
            "If none: what failed", list(FAILED), index=None, placeholder="choose",
            format_func=lambda slug: FAILED[slug].capitalize(), key=job.key("data-failed"),
        )  # fmt: skip
        saved = st.text_input("What was saved", max_chars=300, key=job.key("data-saved"))
        with st.grid(2, min_column_width=150, gap="xsmall"):
            minutes = st.number_input(
                "Minutes of copying and checking", 0.0, 10_000.0, None, 5.0, "%g", key=job.key("data-minutes")
            )
            erase_by = st.date_input(
                "Erase our copy by", job.today + timedelta(days=days), min_value=job.today,
                max_value=job.today + timedelta(days=days), key=job.key("data-erase-by"),
            )  # fmt: skip
        held = st.checkbox("We hold a copy of our own", True, key=job.key("data-held"))
        if st.form_submit_button("Record outcome", type="primary", key=job.key("data-end-go")):
            if outcome is None:
                st.error("Choose what was saved: all, part or none.")
                return
            by = erase_by if held and outcome != "none" else None
            ended = DataEnded(job.today, outcome, failed or "", minutes, (saved or "").strip(), by)
            job.do(end_data_job, ended, said="Outcome recorded. The final check comes next.")


def _erase(job: JobInHand) -> None:
    with st.form(job.key("data-erase")):
        how = st.text_input("How our copy was erased, and proof", max_chars=300, key=job.key("erase-how"))
        if st.form_submit_button("Record erasure", key=job.key("erase-go")):
            erased = CopyErased(job.today, (how or "").strip())
            job.do(erase_copy, erased, said="Erasure of our copy recorded.")
