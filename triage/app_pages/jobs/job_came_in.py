"""How a job came in: whose it is, what was agreed, what came with it; its label and photographs."""

from __future__ import annotations

from dataclasses import fields
from typing import Any

import streamlit as st

from triage.app_pages.device.intake import BATTERY, IDENTITY, LOCK
from triage.app_pages.jobs.job_in_hand import JobInHand
from triage.app_pages.jobs.job_photos import photos_part
from triage.app_pages.shared.current_device import listed
from triage.app_pages.shared.literal import literal
from triage.domain.job.forgetting import forget_refusals, people_in
from triage.domain.job.records import Intake
from triage.errors import TriageError
from triage.reports.job_label import JobLabel, job_label_pdf
from triage.workflows.jobs.forget import NOT_REACHED, forget_person
from triage.workflows.jobs.intake import described
from triage.workflows.jobs.record_keeper import RecordKeeper, correct

_DATA = {"wanted": "wanted", "not-wanted": "not wanted", "not-asked": "not asked yet"}
_BACKED_UP = {"yes": "yes", "no": "no", "not-known": "not known"}
_AGREED = (
    "Data may be lost. Opening can do further damage. No seal against water is promised afterwards. "
    "Nothing dearer than agreed is done without asking."
)


def came_in_part(job: JobInHand) -> None:
    """Draw the intake, the passcode, the label and the photographs."""
    told = job.file.intake.record
    rows = [f"Came in {told.on:%d %b %Y}, {'an owner’s' if job.file.route == 'walk-in' else 'ours'}"]
    rows += _described(job)
    st.markdown("\n".join(f"- {row}" for row in rows))
    _label(job)
    _details(job)
    _passcode(job)
    photos_part(job)
    _forget(job)


def _described(job: JobInHand) -> list[str]:
    """What the description says of battery, lock and numbers; it stays as it was judged."""
    try:
        unit = described(job.file.intake.record.description, job.shop)
    except TriageError as problem:
        return [f"Its description cannot be read with this catalogue and price book: {literal(str(problem))}"]
    held = unit.ownership
    return [
        f"Battery at intake: {BATTERY[unit.battery]}",
        f"Lock: {LOCK[held.lock]}; numbers: {IDENTITY[held.identity]}"
        + ("; on a block list" if held.listed else "")
        + ("; locked to a carrier" if held.carrier_locked else ""),
    ]


def _details(job: JobInHand) -> None:
    told = job.file.intake.record
    walk_in = job.file.route == "walk-in"
    with st.form(job.key("details")):
        st.markdown("**Whose, and what was agreed**")
        with st.grid(2, min_column_width=150, gap="xsmall"):
            new: dict[str, Any] = {
                "person": _text(job, "Owner" if walk_in else "Seller", told.person, "person"),
                "contact": _text(job, "How to reach them", told.contact, "contact"),
                "identity_shown": _text(job, "Proof of identity shown", told.identity_shown, "identity"),
                "serial_numbers": _text(job, "Serial number, IMEI", told.serial_numbers, "serial"),
                "came_with": _text(job, "What came in with it", told.came_with, "came-with"),
                "promised_for": st.date_input(
                    "Promised for", told.promised_for, format="YYYY-MM-DD", key=job.key("promised")
                ),
                "backed_up": st.selectbox(
                    "Is there a copy of the data?", list(_BACKED_UP),
                    list(_BACKED_UP).index(told.backed_up), format_func=_BACKED_UP.__getitem__,
                    key=job.key("backed-up"),
                ),
            }  # fmt: skip
        st.caption(f"Data on it: {_DATA[told.data]}.")
        new["consents"] = st.text_area(
            "What they agreed to", told.consents or (_AGREED if walk_in else ""), max_chars=2000,
            key=job.key("consents"), height=110,
        )  # fmt: skip
        if st.form_submit_button("Keep these", type="primary", key=job.key("details-go")):
            changed = {name: value for name, value in new.items() if value != getattr(told, name)}
            job.do(correct, job.file.intake.id, _why(told, changed), **changed)


def _text(job: JobInHand, label: str, value: str, name: str) -> str:
    return (st.text_input(label, value, max_chars=200, key=job.key(name)) or "").strip()


def _why(told: Intake, changed: dict[str, Any]) -> str:
    """Filling in what was blank needs no other reason; changing what was said names what."""
    blank = {item.name: item.default for item in fields(Intake)}
    if all(getattr(told, name) == blank[name] for name in changed):
        return "filled in at the desk"
    return f"changed at the desk: {', '.join(name.replace('_', ' ') for name in changed)}"


def _passcode(job: JobInHand) -> None:
    """A code is kept only while the job needs it, shown on request, and forgotten at hand-over."""
    with st.form(job.key("passcode")):
        if job.file.has_passcode:
            st.markdown("A passcode is kept. It is forgotten at hand-over.")
            with st.container(horizontal=True):
                show = st.form_submit_button("Show it", key=job.key("passcode-show"))
                forget = st.form_submit_button("Forget it now", key=job.key("passcode-forget"))
            if show:
                with job.keeper.ledger.reading() as reading:
                    st.code(reading.passcode(job.file.id), language=None)
            if forget:
                job.do(_forget_passcode, said="The passcode is forgotten.")
            return
        code = st.text_input(
            "Passcode, only if a test needs it", type="password", max_chars=80, key=job.key("passcode-code"),
            autocomplete="off",
        )  # fmt: skip
        if st.form_submit_button("Keep the passcode", key=job.key("passcode-go")):
            if code:
                job.do(_keep_passcode, code, said="Kept until hand-over.")
            else:
                st.error("No passcode was typed.")


def _forget(job: JobInHand) -> None:
    """Who its people were, erased once the device is gone."""
    for done in job.file.forgotten:
        why = f": {literal(done.record.why)}" if done.record.why else ""
        st.caption(f"Who the people of this job were was erased on {done.record.on:%d %b %Y}{why}.")
    if not people_in(job.file):
        return
    refused = forget_refusals(job.file, "asked for")
    with st.expander("Forget whose it was", key=job.key("forget-fold"), on_change="rerun") as fold:
        if not fold.open:
            return
        if refused:
            st.markdown("Not yet:\n" + "\n".join(f"- {literal(words)}" for words in refused))
            return
        st.markdown(
            "Names, contacts, proof of identity, serial numbers and the passcode are erased for good, in "
            "notes too. The job itself stays. First keep elsewhere what local law requires, such as a "
            "dealer's register or an invoice."
        )
        st.caption(f"Not reached: {literal(NOT_REACHED)}.")
        with st.form(job.key("forget"), border=False):
            why = st.text_input("Why?", "asked for", max_chars=200, key=job.key("forget-why"))
            if st.form_submit_button("Erase for good", key=job.key("forget-go")):
                job.do(forget_person, job.today, why or "", said="Erased.")


def _keep_passcode(keeper: RecordKeeper, job: int, version: int, code: str) -> None:
    with keeper.changing(job, version) as change:
        change.writing.keep_passcode(job, code)


def _forget_passcode(keeper: RecordKeeper, job: int, version: int) -> None:
    with keeper.changing(job, version) as change:
        change.writing.erase_passcode(job)


def _label(job: JobInHand) -> None:
    """A label to print; the cautions of its battery stand on it."""
    file, catalogue = job.file, job.shop.catalogue
    told = file.intake.record
    kinds = [catalogue.kinds[k.record.kind] for k in file.findings if k.record.kind in catalogue.kinds]
    lines = [f"Where: {file.places[-1].record.where}"] if file.places else []
    lines += [f"Promised for {told.promised_for}"] if told.promised_for else []
    lines += [f"Came with: {told.came_with}"] if told.came_with else []
    cautions: list[str] = []
    caution = catalogue.cautions.get("damaged-cell")
    if caution and any(kind.battery != "none" for kind in kinds):
        cautions = [f"{caution.title}.", caution.lines[0]]
    if not told.battery_looked_at:
        cautions.append("Battery not looked at yet.")
    if any(kind.liquid for kind in kinds):
        cautions.append("Liquid inside: no power.")
    label = JobLabel(
        file.label, told.name or told.model or "unnamed device", job.shop.settings.shop, f"{told.on}",
        tuple(lines), tuple(cautions),
    )  # fmt: skip
    try:
        pdf = job_label_pdf(label)
    except TriageError as refusal:
        st.error(listed(refusal))
        return
    st.download_button(
        "Label to print", pdf, f"label-{file.id}.pdf", "application/pdf", icon=":material/label:",
        on_click="ignore", key=job.key("label"),
    )  # fmt: skip
    if cautions:
        st.caption(f"On the label: {literal(' '.join(cautions))}")
