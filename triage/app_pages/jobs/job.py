"""The job page: one job, one subject at a time, and the acts that its rules allow now."""

from __future__ import annotations

import streamlit as st

from triage.app_pages.jobs.job_came_in import came_in_part
from triage.app_pages.jobs.job_ending import ending_part
from triage.app_pages.jobs.job_final_check import final_check_part
from triage.app_pages.jobs.job_history import history_part
from triage.app_pages.jobs.job_in_hand import JobInHand, shown, version_seen
from triage.app_pages.jobs.job_now import now_part
from triage.app_pages.jobs.job_owner import owner_part
from triage.app_pages.jobs.job_parts import parts_part
from triage.app_pages.jobs.job_work import work_part
from triage.app_pages.jobs.saving.data_part import data_part
from triage.app_pages.shared.at_the_bench import at_the_bench
from triage.app_pages.shared.current_device import listed
from triage.app_pages.shared.flash import say_what_happened
from triage.app_pages.shared.literal import literal
from triage.app_pages.shared.next_step import next_step
from triage.app_pages.shared.page_head import page_head
from triage.app_pages.shared.pages import PAGES
from triage.app_pages.shared.shop_record import shop_record
from triage.errors import TriageError
from triage.workflows.jobs.record_keeper import RecordKeeper

_PARTS = {
    "now": ("Next step", now_part),
    "came-in": ("Intake", came_in_part),
    "work": ("Damage and repairs", work_part),
    "data": ("Data", data_part),
    "parts": ("Parts", parts_part),
    "check": ("Final check", final_check_part),
    "money": ("Quotes and payments", owner_part),
    "end": ("Sale or collection", ending_part),
    "history": ("History", history_part),
}


def page() -> None:
    """Draw the job that the address names, or where to find one."""
    shop = page_head("Job")
    if shop is None:
        return
    ledger, _ = shop_record()
    if ledger is None:
        return
    st.page_link(PAGES["jobs"], label="All jobs", icon=":material/arrow_back:")
    number = st.query_params.get("job", "")
    if not number.isdecimal() or len(number) > 15:
        st.info("No job is selected. Choose one under **All jobs**.")
        return
    try:
        with ledger.reading() as reading:
            file = reading.job(int(number))
    except TriageError as refusal:
        st.error(listed(refusal))
        return
    name = file.intake.record.name or file.intake.record.model or "unnamed device"
    st.header(f"{literal(file.label)} {literal(name)}", anchor=False)
    say_what_happened()
    job = JobInHand(RecordKeeper(ledger, shop, at_the_bench(ledger)), file, version_seen(file))
    parts = [name for name in _PARTS if name != "data" or file.data_job is not None]
    part = st.pills(
        "Section", parts, default="now", required=True, key="job-part", bind="query-params",
        format_func=lambda name: _PARTS[name][0],
    )  # fmt: skip
    with st.container(key=f"job-{file.id}-part-{part}"):
        _PARTS[part or "now"][1](job)
    shown(file)


if __name__ == "__main__":
    page()
    next_step("job")
