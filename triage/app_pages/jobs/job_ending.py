"""How a job ends: sold or collected with its written disclosure, stripped, disposed of; and comebacks."""

from __future__ import annotations

from collections.abc import Callable

import streamlit as st

from triage.app_pages.jobs.job_cautions import step_cautions
from triage.app_pages.jobs.job_in_hand import JobInHand
from triage.app_pages.jobs.job_strip import strip_part
from triage.app_pages.shared.cautions import show_cautions
from triage.app_pages.shared.literal import literal
from triage.domain.job.data.rules import due_minor
from triage.domain.job.ending import GRADE_WORDS, disclosure_text
from triage.domain.job.final_check import standing
from triage.domain.job.life import MOVE_WORDS, STATE_WORDS, JobMove, moves_from
from triage.domain.job.records import Comeback, ComebackKind, Grade, HandOver, Remedy
from triage.workflows.jobs.comeback import come_back, settle_comeback
from triage.workflows.jobs.ending import dispose, give_back, leave_uncollected, sell
from triage.workflows.jobs.words import day

_KINDS: dict[ComebackKind, str] = {
    "same-fault": "the same fault",
    "our-damage": "damage we caused",
    "dead-part": "a part failed",
    "new-damage": "new damage",
    "no-fault-found": "no fault found",
}
_REMEDIES: dict[Remedy, tuple[str, JobMove]] = {
    "rework": ("rework", "rework"),
    "refund": ("refund, device taken back", "take-back"),
    "replacement": ("replacement, device taken back", "take-back"),
    "declined": ("declined, returned as it is", "send-back"),
}


def ending_part(job: JobInHand) -> None:
    """Draw the endings that the table of a job's life has from here, one form each."""
    _handed_over(job)
    allowed = moves_from(job.file.state, job.file.route)
    drawn = [draw for move, draw in _FORMS.items() if move in allowed]
    for draw in dict.fromkeys(drawn):
        draw(job)
    if job.file.state == "came-back":
        _settle(job)
    elif not drawn:
        st.markdown(f"This job is {STATE_WORDS[job.file.state]}. It cannot be sold or collected now.")


def _handed_over(job: JobInHand) -> None:
    for kept in job.file.handovers:
        told = kept.record
        said = f" Disclosed: {literal(told.disclosure)}" if told.disclosure else ""
        st.markdown(
            f"- {day(told.on, job.today)}: left as {GRADE_WORDS[told.grade]}, "
            f"given to {literal(told.person or 'a person not named')}, "
            f"{told.warranty_days} days of warranty.{said}"
        )
    for back in (kept.record for kept in job.file.comebacks):
        remedy = "not decided yet" if back.remedy == "open" else _REMEDIES[back.remedy][0]
        st.markdown(f"- {day(back.on, job.today)}: comeback, {_KINDS[back.kind]}; {remedy}")


def _hand_over(job: JobInHand) -> None:
    """Sale or return, with the disclosure that the final check makes due."""
    file, catalogue = job.file, job.shop.catalogue
    allowed = moves_from(file.state, file.route)
    endings: tuple[JobMove, ...] = ("sell", "return-fixed", "return-unfixed")
    if file.data_job is not None and file.state != "uncollected":
        endings = ("return-unfixed",)
    ways = {move: MOVE_WORDS[move] for move in endings if move in allowed}
    st.subheader("Sale or collection", anchor=False)
    way = next(iter(ways))
    if len(ways) > 1:
        way = st.pills(
            "How the device leaves", list(ways), default=way, required=True, format_func=ways.__getitem__,
            key=job.key("way"),
        )  # fmt: skip
    way = way or next(iter(ways))
    step_cautions(job, {"sell": "sell", "return-fixed": "hand-back"}.get(way, "return-unfixed"))
    if (owed := due_minor(file)) is not None:
        st.markdown(f"Due from the owner for the data: {job.money(owed)}.")
    grade = standing(file, catalogue).grade
    grades: list[Grade] = ["unfixed"] if way == "return-unfixed" else ["working", "downgraded"]
    grades += ["unfixed", "parts"] if way == "sell" else []
    with st.form(job.key(f"hand-over-{way}")):
        called = st.pills(
            f"Grade (final check suggests: {GRADE_WORDS[grade]})", grades,
            format_func=GRADE_WORDS.__getitem__, default=grades[0] if len(grades) == 1 else None,
            key=job.key(f"{way}-grade"),
        )  # fmt: skip
        disclosure = st.text_area(
            "Written disclosure", disclosure_text(file, catalogue), max_chars=4000, height=110,
            key=job.key(f"{way}-disclosure"),
        )  # fmt: skip
        with st.grid(2, min_column_width=150, gap="xsmall"):
            person = st.text_input(
                "Buyer" if way == "sell" else "Returned to",
                "" if way == "sell" else file.intake.record.person, max_chars=100,
                key=job.key(f"{way}-person"),
            )  # fmt: skip
            money = st.number_input(
                f"{'Price' if way == 'sell' else 'Paid now'} ({file.currency})", 0.0, 1e7, None, 5.0, "%.2f",
                key=job.key(f"{way}-money"),
            )  # fmt: skip
            warranty = st.number_input(
                "Warranty (days)", 0, 3650, job.shop.settings.warranty_days if way != "return-unfixed" else 0,
                key=job.key(f"{way}-warranty"),
            )  # fmt: skip
            wiped = ""
            if file.data_job is None or way == "sell":
                wiped = st.text_input(
                    "Data wipe: method and proof", max_chars=200, key=job.key(f"{way}-wiped")
                )
        notice = ""
        if file.state == "uncollected":
            notice = st.text_input(
                "Legal notice to the owner: which, and when",
                max_chars=300,
                key=job.key(f"{way}-notice"),
            )
        sure = st.form_submit_button(ways[way], type="primary", key=job.key(f"{way}-go"))
    if not sure:
        return
    if called is None:
        st.error("Choose a grade.")
        return
    over = HandOver(
        job.today, called, (disclosure or "").strip(), int(warranty or 0), (person or "").strip(),
        (wiped or "").strip(),
    )  # fmt: skip
    if way == "sell" and money is None:
        st.error("Enter the price.")
    elif way == "sell":
        job.do(sell, over, job.minor(money), (notice or "").strip(), said="Sale recorded.")
    else:
        job.do(give_back, over, way == "return-fixed", job.minor(money), said="Return recorded.")


def _dispose(job: JobInHand) -> None:
    with st.expander("Dispose of device", key=job.key("dispose-fold"), on_change="rerun") as fold:
        if not fold.open:
            return
        catalogue = job.shop.catalogue
        show_cautions(tuple(catalogue.cautions[s] for s in ("cell-waste",) if s in catalogue.cautions))
        with st.form(job.key("dispose"), border=False):
            note = st.text_input(
                "How, and under which local rule", max_chars=300, key=job.key("dispose-note")
            )
            notice = ""
            if job.file.state == "uncollected":
                notice = st.text_input(
                    "Legal notice to the owner: which, and when", max_chars=300,
                    key=job.key("dispose-notice"),
                )  # fmt: skip
            if st.form_submit_button("Record disposal", key=job.key("dispose-go")):
                job.do(
                    dispose,
                    job.today,
                    (note or "").strip(),
                    (notice or "").strip(),
                    said="Disposal recorded.",
                )


def _uncollected(job: JobInHand) -> None:
    with st.expander("Uncollected device", key=job.key("uncollected-fold"), on_change="rerun") as fold:
        if not fold.open:
            return
        with st.form(job.key("uncollected"), border=False):
            note = st.text_input(
                "How and when the owner was asked to collect it",
                max_chars=300,
                key=job.key("uncollected-note"),
            )
            if st.form_submit_button("Mark as uncollected", key=job.key("uncollected-go")):
                job.do(leave_uncollected, job.today, (note or "").strip())


def _come_back(job: JobInHand) -> None:
    st.subheader("Comeback", anchor=False)
    with st.form(job.key("come-back")):
        kind = st.pills("Reason", list(_KINDS), format_func=_KINDS.__getitem__, key=job.key("back-kind"))
        note = st.text_input("Customer's complaint", max_chars=300, key=job.key("back-note"))
        if st.form_submit_button("Record comeback", key=job.key("back-go")):
            if kind is None:
                st.error("Choose the reason.")
            else:
                job.do(come_back, Comeback(job.today, kind, note=(note or "").strip()))


def _settle(job: JobInHand) -> None:
    st.subheader("Remedy for the comeback", anchor=False)
    with st.form(job.key("settle")):
        remedy = st.pills(
            "Remedy", list(_REMEDIES), format_func=lambda slug: _REMEDIES[slug][0].capitalize(),
            key=job.key("settle-remedy"),
        )  # fmt: skip
        with st.grid(2, min_column_width=150, gap="xsmall"):
            refund = st.number_input(
                f"Refund ({job.file.currency})", 0.0, 1e7, None, 5.0, "%.2f",
                key=job.key("settle-refund"),
            )  # fmt: skip
            cost = st.number_input(
                f"Other cost to the shop ({job.file.currency})", 0.0, 1e7, None, 5.0, "%.2f",
                key=job.key("settle-cost"),
            )  # fmt: skip
        if st.form_submit_button("Save remedy", type="primary", key=job.key("settle-go")):
            if remedy is None:
                st.error("Choose a remedy.")
            else:
                spent = None if cost is None else job.minor(cost)
                job.do(settle_comeback, job.today, remedy, _REMEDIES[remedy][1], job.minor(refund), spent)


_FORMS: dict[JobMove, Callable[[JobInHand], None]] = {
    "sell": _hand_over,
    "return-fixed": _hand_over,
    "return-unfixed": _hand_over,
    "strip": strip_part,
    "leave-uncollected": _uncollected,
    "dispose": _dispose,
    "come-back": _come_back,
}
