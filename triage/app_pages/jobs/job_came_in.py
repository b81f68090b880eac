"""The intake of a job: whose it is, what was agreed, what came with it; its label and photographs."""

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
from triage.domain.units.imei import imei_slips
from triage.errors import TriageError
from triage.reports.job_label import JobLabel, job_label_pdf
from triage.workflows.jobs.forget import NOT_REACHED, forget_person
from triage.workflows.jobs.intake import described
from triage.workflows.jobs.record_keeper import RecordKeeper, correct

_DATA = {"wanted": "wanted", "not-wanted": "not wanted", "not-asked": "not asked yet"}
_BACKED_UP = {"yes": "yes", "no": "no", "not-known": "not known"}
_AGREED = (
    "Data may be lost. Opening can cause further damage. Water resistance is not promised afterwards. "
    "Nothing above the agreed price is done without asking."
)


def came_in_part(job: JobInHand) -> None:
    """Draw the intake, the passcode, the label and the photographs."""
    told = job.file.intake.record
    rows = [f"Received {told.on:%d %b %Y}, {'walk-in' if job.file.route == 'walk-in' else 'bought'}"]
    rows += _described(job)
    st.markdown("\n".join(f"- {row}" for row in rows))
    _label(job)
    _details(job)
    _passcode(job)
    photos_part(job)
    _forget(job)


def _described(job: JobInHand) -> list[str]:
    """What the description says of battery, lock and numbers; it stays as it was assessed."""
    try:
        unit = described(job.file.intake.record.description, job.shop)
    except TriageError as problem:
        return [f"The description does not match this catalogue and price book: {literal(str(problem))}"]
    held = unit.ownership
    return [
        f"Battery at intake: {BATTERY[unit.battery]}",
        f"Activation lock: {LOCK[held.lock]}; serial and IMEI: {IDENTITY[held.identity]}"
        + ("; on a block list" if held.listed else "")
        + ("; locked to a carrier" if held.carrier_locked else ""),
    ]


def _details(job: JobInHand) -> None:
    told = job.file.intake.record
    walk_in = job.file.route == "walk-in"
    with st.form(job.key("details")):
        st.markdown("**Owner and terms**" if walk_in else "**Seller and terms**")
        with st.grid(2, min_column_width=150, gap="xsmall"):
            new: dict[str, Any] = {
                "person": _text(job, "Owner" if walk_in else "Seller", told.person, "person"),
                "contact": _text(job, "Contact", told.contact, "contact"),
                "identity_shown": _text(job, "Proof of identity seen", told.identity_shown, "identity"),
                "serial_numbers": _text(job, "Serial number / IMEI", told.serial_numbers, "serial"),
                "came_with": _text(job, "Accessories received", told.came_with, "came-with"),
                "promised_for": st.date_input(
                    "Promised for", told.promised_for, format="YYYY-MM-DD", key=job.key("promised")
                ),
                "backed_up": st.selectbox(
                    "Data backed up?", list(_BACKED_UP),
                    list(_BACKED_UP).index(told.backed_up), format_func=_BACKED_UP.__getitem__,
                    key=job.key("backed-up"),
                ),
            }  # fmt: skip
        for slip in imei_slips(told.serial_numbers):
            st.warning(literal(slip), icon=":material/pin:")
        st.caption(f"Data on the device: {_DATA[told.data]}.")
        new["consents"] = st.text_area(
            "Terms agreed", told.consents or (_AGREED if walk_in else ""), max_chars=2000,
            key=job.key("consents"), height=110,
        )  # fmt: skip
        if st.form_submit_button("Save intake", type="primary", key=job.key("details-go")):
            changed = {name: value for name, value in new.items() if value != getattr(told, name)}
            job.do(correct, job.file.intake.id, _why(told, changed), **changed)


def _text(job: JobInHand, label: str, value: str, name: str) -> str:
    return (st.text_input(label, value, max_chars=200, key=job.key(name)) or "").strip()


def _why(told: Intake, changed: dict[str, Any]) -> str:
    """Filling in what was blank needs no other reason; changing what was said names what."""
    blank = {item.name: item.default for item in fields(Intake)}
    if all(getattr(told, name) == blank[name] for name in changed):
        return "added on the job page"
    return f"changed on the job page: {', '.join(name.replace('_', ' ') for name in changed)}"


def _passcode(job: JobInHand) -> None:
    """A passcode: kept while the job needs it, shown on request, deleted when the device leaves."""
    with st.form(job.key("passcode")):
        if job.file.has_passcode:
            st.markdown("A passcode is stored. It is deleted when the device leaves.")
            with st.container(horizontal=True):
                show = st.form_submit_button("Show passcode", key=job.key("passcode-show"))
                forget = st.form_submit_button("Delete passcode", key=job.key("passcode-forget"))
            if show:
                with job.keeper.ledger.reading() as reading:
                    st.code(reading.passcode(job.file.id), language=None)
            if forget:
                job.do(_forget_passcode, said="Passcode deleted.")
            return
        code = st.text_input(
            "Passcode, only if a test needs it", type="password", max_chars=80, key=job.key("passcode-code"),
            autocomplete="off",
        )  # fmt: skip
        if st.form_submit_button("Save passcode", key=job.key("passcode-go")):
            if code:
                job.do(_keep_passcode, code, said="Passcode saved until the device leaves.")
            else:
                st.error("Enter the passcode.")


def _forget(job: JobInHand) -> None:
    """Who its people were, erased once the device is gone."""
    for done in job.file.forgotten:
        why = f": {literal(done.record.why)}" if done.record.why else ""
        st.caption(f"Personal data of this job was erased on {done.record.on:%d %b %Y}{why}.")
    if not people_in(job.file):
        return
    refused = forget_refusals(job.file, "on request")
    with st.expander("Erase personal data", key=job.key("forget-fold"), on_change="rerun") as fold:
        if not fold.open:
            return
        if refused:
            st.markdown("Not possible yet:\n" + "\n".join(f"- {literal(words)}" for words in refused))
            return
        st.markdown(
            "This permanently erases names, contacts, proof of identity, serial numbers and the passcode, "
            "also in notes. The job itself stays. Before you erase, keep elsewhere what local law requires, "
            "such as a dealer's register or an invoice."
        )
        st.caption(f"Not erased: {literal(NOT_REACHED)}.")
        with st.form(job.key("forget"), border=False):
            why = st.text_input("Reason", "on request", max_chars=200, key=job.key("forget-why"))
            if st.form_submit_button("Erase permanently", key=job.key("forget-go")):
                job.do(forget_person, job.today, why or "", said="Personal data erased.")


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
    lines = [f"Location: {file.places[-1].record.where}"] if file.places else []
    lines += [f"Promised for {told.promised_for}"] if told.promised_for else []
    lines += [f"Accessories: {told.came_with}"] if told.came_with else []
    cautions: list[str] = []
    caution = catalogue.cautions.get("damaged-cell")
    if caution and any(kind.battery != "none" for kind in kinds):
        cautions = [f"{caution.title}.", caution.lines[0]]
    if not told.battery_looked_at:
        cautions.append("Battery not inspected yet.")
    if any(kind.liquid for kind in kinds):
        cautions.append("Liquid inside: do not power on.")
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
        "Download label", pdf, f"label-{file.id}.pdf", "application/pdf", icon=":material/label:",
        on_click="ignore", key=job.key("label"),
    )  # fmt: skip
    if cautions:
        st.caption(f"On the label: {literal(' '.join(cautions))}")
