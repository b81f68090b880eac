"""The jobs page: what is on the bench, when it was promised, and what each job waits for."""

from __future__ import annotations

import re
from datetime import date
from typing import Any

import streamlit as st

from triage.app_pages.jobs.saving.copies import copies_part
from triage.app_pages.shared.current_device import listed
from triage.app_pages.shared.literal import literal
from triage.app_pages.shared.next_step import next_step
from triage.app_pages.shared.page_head import page_head
from triage.app_pages.shared.pages import PAGES
from triage.app_pages.shared.shop_record import shop_record
from triage.domain.job.file import JobFile
from triage.domain.job.life import ENDED, OPEN, STATE_WORDS
from triage.errors import LedgerError, TriageError
from triage.workflows.jobs.words import day, job_words
from triage.workflows.shop.shop import Shop

_WHICH = {
    "open": ("Open", (*OPEN, "considered")),
    "ended": ("Closed", ENDED),
    "declined": ("Declined", ("declined",)),
}
_A_PAGE = 40
_SHORT = 5
# Ended jobs that are listed: a record of years is not read whole at every tap.
_LISTED = 400


def page() -> None:
    """Draw the list, or what a first job looks like."""
    shop = page_head("Jobs")
    if shop is None:
        return
    ledger, _ = shop_record()
    if ledger is None:
        return
    which = st.segmented_control(
        "Jobs", list(_WHICH), default="open", required=True, format_func=lambda name: _WHICH[name][0],
        key="jobs-which", bind="query-params", label_visibility="collapsed",
    )  # fmt: skip
    try:
        files = _files(ledger, which or "open")
    except TriageError as refusal:
        st.error(listed(refusal))
        return
    copies_part(ledger, shop)
    if not files:
        _nothing_yet(which or "open")
        return
    if len(files) > _SHORT:  # the same link at the foot is far below
        st.page_link(PAGES["device"], label="Assess a device", icon=":material/add:")
    typed = st.text_input(
        "Search jobs", placeholder="job, device, person, serial number or place", key="jobs-find"
    ).strip()
    found = [file for file in files if typed.casefold() in _text(file)] or _labelled(ledger, typed)
    if len(files) == _LISTED:
        st.caption(f"The {_LISTED} most recent jobs. Search for an older job by its full number.")
    pages = -(-len(found) // _A_PAGE)
    at = st.pagination(pages, key="jobs-page") if pages > 1 else 1
    for file in found[(at - 1) * _A_PAGE : at * _A_PAGE]:
        _line(file, shop)
    if not found:
        st.info("No job matches your search.")


def _files(ledger: Any, which: str) -> list[JobFile]:
    """Open jobs by promise, those without one after them; ended ones newest first."""
    with ledger.reading() as reading:
        files = reading.jobs(_WHICH[which][1], newest=None if which == "open" else _LISTED)
    if which != "open":
        return sorted(files, key=lambda file: (file.moves[-1].record.on, file.id), reverse=True)
    return sorted(files, key=lambda file: (file.intake.record.promised_for or date.max, file.id))


def _labelled(ledger: Any, label: str) -> list[JobFile]:
    """The one job of this label, whatever is listed; none where there is no such job."""
    try:
        with ledger.reading() as reading:
            return [reading.job_labelled(label)]
    except LedgerError:
        return []


def _text(file: JobFile) -> str:
    told = file.intake.record
    where = file.places[-1].record.where if file.places else ""
    words = f"{file.label} {told.name} {told.model} {told.person} {told.serial_numbers} {where}"
    # A number is found however its digits are grouped.
    return f"{words} {re.sub('[ ./-]', '', told.serial_numbers)}".casefold()


def _line(file: JobFile, shop: Shop) -> None:
    words = job_words(file, shop.catalogue, shop.today, shop.settings)
    told = file.intake.record
    owner = "walk-in" if file.route == "walk-in" else "bought"
    where = f", {literal(file.places[-1].record.where)}" if file.places else ""
    promised = "no date promised"
    if words.promised:
        promised = f"promised for {day(words.promised, shop.today)}"
    late = ""
    if words.days_late:  # not in the caption: its letters are pale
        late = f":red[**{words.days_late} day{'s' if words.days_late > 1 else ''} late**]. "
    doing = [literal(said) for said in (words.waits_for, words.next_act) if said]
    with st.container(gap=None, key=f"jobs-line-{file.id}"):
        st.page_link(
            PAGES["job"],
            label=f"**{literal(file.label)}** {literal(told.name or told.model or 'unnamed device')}",
            icon=":material/chevron_right:", query_params={"job": str(file.id)},
        )  # fmt: skip
        said = "; ".join(doing) or STATE_WORDS[file.state]
        st.markdown(f"{late}{said[:1].upper()}{said[1:]}")
        st.caption(f"{promised} · {STATE_WORDS[file.state]}, {owner}{where}")


def _nothing_yet(which: str) -> None:
    if which != "open":
        st.info("No jobs here yet.")
        return
    st.info(
        "No open jobs. To open one, describe a device on the **Device** page. Then press **Buy it**, "
        "**Decline it** or **Open a job and quote**. Open jobs are sorted by promised date and show what "
        "they wait for. Declined devices are kept too, so that you can review the decision later."
    )


if __name__ == "__main__":
    page()
    next_step("jobs")
